/* The mesh is kept with its outside triangles and with the segments of every breakline edge, so that each change is a
 * few edges that turn. A vertex stays while a point is there or breaklines part from one another there. A change that
 * the rounding of crossings forbids is undone by building anew; that is the one case that looks at all points. */
#include "ground/triangulation_fixer.h"
#include <string.h>

static const uint32_t NONE = UINT32_MAX;

typedef struct live_point {
    uint32_t vertex, next, ends; /* NONE when gone; the next point at that vertex; segments that end here */
} live_point;

struct mst_live {
    mst_mesh mesh;
    mst_fixer fixer;
    mst_arena *arena;
    mst_triangulation_input input; /* all that ever were; a segment that is gone runs from NONE to NONE */
    double (*places)[2];
    uint32_t (*segments)[2];
    live_point *points;
    uint32_t *first_at; /* [first_room] the first point at each vertex, NONE at crossings */
    uint32_t *stack;
    size_t place_capacity, segment_capacity, point_count, point_capacity, first_room, stack_count, stack_capacity;
    uint32_t last; /* the vertex of the last change: where the next walk may start */
    bool broken;   /* memory ran out half way */
};

static mst_status no_memory(mst_live *live, mst_error *error) {
    live->broken = true;
    return mst_fail(error, MST_NO_MEMORY, "Memory ran out on a ground model of %zu points.", live->point_count);
}
static mst_status check_whole(const mst_live *live, mst_error *error) {
    return live->broken ? mst_fail(error, MST_NO_MEMORY, "Memory ran out on this ground model; build it anew.")
                        : MST_OK;
}

static bool is_there(const mst_live *live, uint32_t point) {
    return point < live->point_count && live->points[point].vertex != NONE;
}

/* ---- the lists, and the mesh from all that is there ---- */

static bool add_place(mst_live *live, const double at[2]) {
    double(*place)[2] = MST_PUSH(live->arena, live->places, live->input.point_count, live->place_capacity);
    live_point *p = place ? MST_PUSH(live->arena, live->points, live->point_count, live->point_capacity) : NULL;
    live->input.points = (const double(*)[2])live->places;
    if (!p) return false;
    (*place)[0] = at[0], (*place)[1] = at[1];
    *p = (live_point){NONE, NONE, 0};
    return true;
}

static bool list_segment(mst_live *live, uint32_t from, uint32_t to) {
    uint32_t(*s)[2] = MST_PUSH(live->arena, live->segments, live->input.segment_count, live->segment_capacity);
    live->input.segments = (const uint32_t(*)[2])live->segments;
    if (!s) return false;
    (*s)[0] = from, (*s)[1] = to;
    live->points[from].ends++, live->points[to].ends++;
    return true;
}

/* Every vertex of the mesh has its entry; new ones are crossings until a point says otherwise. */
static bool cover_vertices(mst_live *live) {
    size_t room = live->mesh.vertex_room;
    if (live->first_room >= room) return true;
    uint32_t *first = mst_arena_array(live->arena, room, sizeof *first);
    if (!first) return false;
    memset(first, 0xFF, room * sizeof *first);
    if (live->first_room) memcpy(first, live->first_at, live->first_room * sizeof *first);
    live->first_at = first;
    live->first_room = room;
    return true;
}

/* Points of one vertex stand in the order of their numbers. */
static void settle_point(mst_live *live, uint32_t point, uint32_t vertex) {
    uint32_t *slot = &live->first_at[vertex];
    while (*slot != NONE && *slot < point) slot = &live->points[*slot].next;
    live->points[point].vertex = vertex;
    live->points[point].next = *slot;
    *slot = point;
}

static mst_status insert_segments(mst_live *live, mst_error *error) {
    live->fixer.error = error;
    for (uint32_t i = 0; i < live->input.segment_count; i++) {
        const uint32_t *ends = live->segments[i];
        if (ends[0] == NONE) continue;
        live->fixer.detours = 0;
        uint32_t from = live->points[ends[0]].vertex, to = live->points[ends[1]].vertex;
        if (!mst_push_piece(&live->fixer, from, to, i)) return no_memory(live, error);
        mst_status status = mst_insert_pieces(&live->fixer);
        if (status) return status;
    }
    return cover_vertices(live) ? MST_OK : no_memory(live, error);
}

/* The points that are there, and where each of them stands among all. */
static uint32_t *list_points(const mst_live *live, mst_arena *scratch, double (**places)[2], size_t *count) {
    uint32_t *number = mst_arena_array(scratch, live->point_count + 1, sizeof *number);
    double(*at)[2] = mst_arena_array(scratch, live->point_count + 1, sizeof *at);
    *count = 0;
    for (uint32_t i = 0; number && at && i < live->point_count; i++) {
        if (!is_there(live, i)) continue;
        memcpy(at[*count], live->places[i], sizeof *at);
        number[(*count)++] = i;
    }
    *places = at;
    return at ? number : NULL;
}

/* A mesh of all points that are there, then their segments. */
static mst_status build_anew(mst_live *live, int threads, mst_arena *scratch, mst_error *error) {
    double(*places)[2];
    mst_order order = {0};
    mst_triangulation_input input = {.segment_count = live->input.segment_count, .threads = threads};
    uint32_t *number = list_points(live, scratch, &places, &input.point_count);
    input.points = (const double(*)[2])places;
    live->mesh = (mst_mesh){0};
    live->fixer = (mst_fixer){.m = &live->mesh, .input = &live->input, .arena = live->arena, .scratch = live->arena};
    if (!number) return no_memory(live, error);
    mst_status status = mst_mesh_begin(&input, live->arena, scratch, &live->mesh, &order, error);
    if (status) return status;
    if (mst_apex(&live->mesh, mst_twin(&live->mesh, live->mesh.outside)) == MST_OUTSIDE) /* outside on both sides */
        return mst_fail(error, MST_UNDETERMINED, "All points lie on one line; add a point beside it.");
    live->first_room = 0;
    live->last = 0;
    if (!mst_fixer_begin(&live->fixer) || !cover_vertices(live)) return no_memory(live, error);
    for (uint32_t v = 0; v < order.place_count; v++) {
        uint32_t stands_for = order.input_index[v];
        settle_point(live, number[stands_for], v);
    }
    for (uint32_t i = 0; order.representative && i < input.point_count; i++)
        if (order.representative[i] != i)
            settle_point(live, number[i], live->points[number[order.representative[i]]].vertex);
    return insert_segments(live, error);
}

static mst_status build_mesh(mst_live *live, int threads, mst_error *error) {
    mst_arena *scratch = mst_arena_new();
    mst_status status = scratch ? build_anew(live, threads, scratch, error) : no_memory(live, error);
    mst_arena_free(scratch);
    return status;
}

/* After a change that was refused half way: what was before. */
static mst_status restore(mst_live *live, mst_status refused) {
    if (refused == MST_NO_MEMORY || build_mesh(live, 1, NULL)) live->broken = true;
    return refused;
}

static bool copy_input(mst_live *live, const mst_triangulation_input *input) {
    for (size_t i = 0; i < input->point_count; i++) {
        if (!add_place(live, input->points[i])) return false;
        live->points[i].vertex = 0; /* it is there; which vertex shows later */
    }
    for (size_t i = 0; i < input->segment_count; i++)
        if (!list_segment(live, input->segments[i][0], input->segments[i][1])) return false;
    return true;
}

mst_status mst_live_begin(const mst_triangulation_input *input, mst_arena *arena, mst_live **result, mst_error *error) {
    mst_status status = mst_triangulation_check(input, error);
    if (status) return status;
    mst_live *live = mst_arena_alloc(arena, sizeof *live);
    if (!live) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    live->arena = arena;
    status = copy_input(live, input) ? build_mesh(live, input->threads, error) : no_memory(live, error);
    if (status == MST_OK) *result = live;
    return status;
}

/* ---- a point comes ---- */

static double distance2(const double a[2], const double b[2]) {
    return (a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1]);
}

/* The nearest of the last change and a sample of vertices (E. Mücke, I. Saias, B. Zhu, Fast randomized point location
 * without preprocessing, Computational Geometry 12 (1999) 63-83). */
static uint32_t start_near(const mst_live *live, const double at[2]) {
    const mst_mesh *m = &live->mesh;
    const uint32_t *spoke = live->fixer.spoke;
    uint32_t best = spoke[live->last] != MST_NO_SPOKE ? live->last : NONE, samples = 1;
    while ((uint64_t)samples * samples * samples < m->vertex_count) samples++;
    uint32_t step = m->vertex_count / samples + 1;
    for (uint32_t v = step / 2; v < m->vertex_count; v += step)
        if (spoke[v] != MST_NO_SPOKE && (best == NONE || distance2(m->at[v], at) < distance2(m->at[best], at)))
            best = v;
    for (uint32_t v = 0; best == NONE; v++)
        if (spoke[v] != MST_NO_SPOKE) best = v;
    return spoke[best];
}

mst_status mst_live_add_point(mst_live *live, const double at[2], uint32_t *point, mst_error *error) {
    mst_status status = check_whole(live, error);
    uint32_t vertex, taken, number = (uint32_t)live->point_count;
    if (status) return status;
    if (!mst_usable(at[0]) || !mst_usable(at[1]))
        return mst_fail(error, MST_INVALID, "The new point has no usable %s; correct it or leave it out.",
                        mst_usable(at[0]) ? "northing" : "easting");
    if (live->point_count >= MST_MOST_POINTS)
        return mst_fail(error, MST_INVALID, "%zu points are all that one ground model takes; build it anew.",
                        MST_MOST_POINTS);
    if (!mst_fresh_vertex(&live->fixer, &vertex) || !add_place(live, at)) return no_memory(live, error);
    memcpy(live->mesh.at[vertex], at, sizeof live->mesh.at[vertex]);
    if (!mst_put_vertex(&live->fixer, vertex, start_near(live, at), &taken) || !cover_vertices(live))
        return no_memory(live, error);
    live->last = taken != MST_OUTSIDE ? taken : vertex;
    settle_point(live, number, live->last);
    if (point) *point = number;
    return MST_OK;
}

/* ---- breaklines at a vertex ---- */

/* The half-edge from the vertex that the spoke belongs to, to the first of its other two corners. */
static uint32_t edge_out(uint32_t spoke) { return mst_prev(spoke); }

static uint32_t fixed_edges_at(const mst_live *live, uint32_t vertex) {
    uint32_t e = live->fixer.spoke[vertex], count = 0;
    do count += mst_is_fixed(&live->mesh, edge_out(e));
    while ((e = mst_round(&live->mesh, e)) != live->fixer.spoke[vertex]);
    return count;
}

/* A vertex on breaklines that all go the same way through it needs not be there. */
static bool is_needed(const mst_live *live, uint32_t vertex) {
    return live->first_at[vertex] != NONE || fixed_edges_at(live, vertex) > 2;
}

/* Frees the breaklines at the vertex; their segments wait to be led on from neighbour to neighbour without it. */
static bool part_segments(mst_live *live, uint32_t vertex) {
    mst_fixer *f = &live->fixer;
    mst_mesh *m = &live->mesh;
    uint32_t e = f->spoke[vertex], start = e;
    size_t first = f->piece_count;
    do {
        uint32_t side = edge_out(e), other = mst_from(m, e);
        if (!mst_is_fixed(m, side)) continue;
        for (uint32_t i = mst_owner_of(f, vertex, other)->first; i; i = f->names[i].next) {
            uint32_t segment = f->names[i].segment;
            size_t k = first;
            while (k < f->piece_count && (f->pieces[k].segment != segment || f->pieces[k].to != vertex)) k++;
            if (k < f->piece_count) f->pieces[k].to = other;
            else if (!mst_push_piece(f, other, vertex, segment)) return false;
        }
        mst_free_edge(f, side);
    } while ((e = mst_round(m, e)) != start);
    size_t kept = first;
    for (size_t k = first; k < f->piece_count; k++)
        if (f->pieces[k].to != vertex) f->pieces[kept++] = f->pieces[k];
    f->piece_count = kept;
    return true;
}

static mst_status take_out(mst_live *live, uint32_t vertex, mst_error *error) {
    mst_fixer *f = &live->fixer;
    f->error = error;
    f->detours = 0;
    uint32_t e = f->spoke[vertex], neighbour = mst_from(&live->mesh, e);
    if (neighbour == MST_OUTSIDE) neighbour = mst_to(&live->mesh, e);
    if (!part_segments(live, vertex) || !mst_take_vertex(f, vertex)) return no_memory(live, error);
    live->last = neighbour;
    mst_status status = mst_insert_pieces(f);
    if (status) return status;
    return cover_vertices(live) ? MST_OK : no_memory(live, error);
}

/* ---- a point goes ---- */

static mst_status check_removal(const mst_live *live, uint32_t point, mst_error *error) {
    mst_status status = check_whole(live, error);
    if (status) return status;
    if (!is_there(live, point))
        return mst_fail(error, MST_NOT_FOUND, "There is no point %zu to take out.", (size_t)point + 1);
    if (live->points[point].ends == 0) return MST_OK;
    uint32_t segment = 0;
    while (live->segments[segment][0] != point && live->segments[segment][1] != point) segment++;
    return mst_fail(error, MST_INVALID, "Breakline segment %zu ends at point %zu; take the segment out first.",
                    (size_t)segment + 1, (size_t)point + 1);
}

static void unlist(mst_live *live, uint32_t point) {
    uint32_t *slot = &live->first_at[live->points[point].vertex];
    while (*slot != point) slot = &live->points[*slot].next;
    *slot = live->points[point].next;
    live->points[point].vertex = NONE;
}

mst_status mst_live_remove_point(mst_live *live, uint32_t point, mst_error *error) {
    mst_status status = check_removal(live, point, error);
    if (status) return status;
    uint32_t vertex = live->points[point].vertex;
    bool last = live->first_at[vertex] == point && live->points[point].next == NONE;
    bool goes = last && fixed_edges_at(live, vertex) <= 2;
    if (goes && !mst_is_spare(&live->fixer, vertex)) {
        if (live->mesh.vertex_count - live->fixer.unused_count <= 3)
            return mst_fail(error, MST_TOO_FEW, "A ground model needs points at 3 places; this one has no more.");
        return mst_fail(error, MST_UNDETERMINED, "Without that point all others lie on one line; keep it.");
    }
    unlist(live, point);
    if (!goes) return MST_OK;
    status = take_out(live, vertex, error);
    if (status == MST_OK) return MST_OK;
    live->points[point].vertex = 0; /* it is there again */
    return restore(live, status);
}

/* ---- segments ---- */

mst_status mst_live_add_segment(mst_live *live, uint32_t from, uint32_t to, uint32_t *segment, mst_error *error) {
    mst_status status = check_whole(live, error);
    if (status) return status;
    if (!is_there(live, from) || !is_there(live, to))
        return mst_fail(error, MST_NOT_FOUND, "The breakline segment asks for point %zu, which is not there.",
                        (size_t)(is_there(live, from) ? to : from) + 1);
    uint32_t number = (uint32_t)live->input.segment_count;
    mst_fixer *f = &live->fixer;
    f->error = error;
    f->detours = 0;
    if (!list_segment(live, from, to)) return no_memory(live, error);
    if (!mst_push_piece(f, live->points[from].vertex, live->points[to].vertex, number)) return no_memory(live, error);
    status = mst_insert_pieces(f);
    if (status == MST_OK && !cover_vertices(live)) status = no_memory(live, error);
    if (status) {
        live->input.segment_count--;
        live->points[from].ends--, live->points[to].ends--;
        return restore(live, status);
    }
    live->last = live->points[to].vertex;
    if (segment) *segment = number;
    return MST_OK;
}

/* Notes the vertices that the segment leads to from this one, and takes it from the edges there. */
static bool unfasten(mst_live *live, uint32_t vertex, uint32_t segment) {
    mst_fixer *f = &live->fixer;
    mst_mesh *m = &live->mesh;
    uint32_t e = f->spoke[vertex], start = e;
    do {
        uint32_t side = edge_out(e), other = mst_from(m, e);
        if (!mst_is_fixed(m, side) || !mst_owns(f, vertex, other, segment)) continue;
        uint32_t *next = MST_PUSH(live->arena, live->stack, live->stack_count, live->stack_capacity);
        if (!next) return false;
        *next = other;
        if (mst_disown(f, vertex, other, segment)) continue;
        mst_free_edge(f, side);
        if (!mst_doubt(f, side)) return false;
    } while ((e = mst_round(m, e)) != start);
    return true;
}

/* Crossings that the segment leaves behind go, unless others still cross there. */
static mst_status clear_crossings(mst_live *live, mst_error *error) {
    for (size_t i = 0; i < live->stack_count; i++) {
        uint32_t v = live->stack[i];
        if (live->fixer.spoke[v] == MST_NO_SPOKE || is_needed(live, v) || !mst_is_spare(&live->fixer, v)) continue;
        mst_status status = take_out(live, v, error);
        if (status) return status;
    }
    return MST_OK;
}

mst_status mst_live_remove_segment(mst_live *live, uint32_t segment, mst_error *error) {
    mst_status status = check_whole(live, error);
    if (status) return status;
    if (segment >= live->input.segment_count || live->segments[segment][0] == NONE)
        return mst_fail(error, MST_NOT_FOUND, "There is no breakline segment %zu to take out.", (size_t)segment + 1);
    uint32_t *ends = live->segments[segment];
    live->points[ends[0]].ends--, live->points[ends[1]].ends--;
    live->last = live->points[ends[0]].vertex;
    live->stack_count = 0;
    bool done = unfasten(live, live->last, segment);
    for (size_t i = 0; done && i < live->stack_count; i++) done = unfasten(live, live->stack[i], segment);
    ends[0] = ends[1] = NONE;
    if (!done || !mst_settle(&live->fixer)) return no_memory(live, error);
    status = clear_crossings(live, error);
    return status == MST_OK ? MST_OK : restore(live, status);
}

/* ---- the triangles as they are ---- */

/* Two segments of the vertex's breaklines. */
static void crossing_at(const mst_live *live, uint32_t vertex, mst_crossing *c) {
    const mst_fixer *f = &live->fixer;
    uint32_t e = f->spoke[vertex];
    c->segment_a = c->segment_b = NONE;
    do {
        if (!mst_is_fixed(&live->mesh, edge_out(e))) continue;
        for (uint32_t i = mst_owner_of(f, vertex, mst_from(&live->mesh, e))->first; i; i = f->names[i].next) {
            uint32_t s = f->names[i].segment;
            if (s < c->segment_a) c->segment_b = c->segment_a, c->segment_a = s;
            else if (s != c->segment_a && s < c->segment_b) c->segment_b = s;
        }
    } while ((e = mst_round(&live->mesh, e)) != f->spoke[vertex]);
    if (c->segment_b == NONE) c->segment_b = c->segment_a; /* rounding led one segment there and back */
    c->along_a = mst_along_segment(f, c->segment_a, live->mesh.at[vertex]);
    c->along_b = mst_along_segment(f, c->segment_b, live->mesh.at[vertex]);
}

static bool copy_mesh(const mst_live *live, mst_arena *arena, mst_mesh *copy) {
    const mst_mesh *m = &live->mesh;
    size_t size = 3 * (size_t)m->triangle_count;
    *copy = *m;
    copy->corner = mst_arena_array(arena, size, sizeof *copy->corner);
    copy->twin = mst_arena_array(arena, size, sizeof *copy->twin);
    if (!copy->corner || !copy->twin) return false;
    memcpy(copy->corner, m->corner, size * sizeof *copy->corner);
    memcpy(copy->twin, m->twin, size * sizeof *copy->twin);
    uint32_t slot = 0;
    while (copy->corner[slot] != MST_OUTSIDE) slot++;
    copy->outside = 4 * (slot / 3) + slot % 3;
    return true;
}

/* Numbers for the vertices, and what else the caller sees. @return NULL without memory */
static uint32_t *number_vertices(const mst_live *live, mst_arena *arena, mst_triangulation_parts *parts) {
    const mst_mesh *m = &live->mesh;
    size_t points = live->point_count, all = points + m->vertex_count;
    uint32_t *number = mst_arena_array(arena, m->vertex_count, sizeof *number);
    parts->vertices = mst_arena_array(arena, all, sizeof *parts->vertices);
    parts->representative = mst_arena_array(arena, points, sizeof *parts->representative);
    if (!number || !parts->vertices || !parts->representative) return NULL;
    memcpy(parts->vertices, live->places, points * sizeof *parts->vertices);
    size_t capacity = 0;
    for (uint32_t v = 0; v < m->vertex_count; v++) {
        if (live->fixer.spoke[v] == MST_NO_SPOKE) continue;
        number[v] = live->first_at[v];
        if (number[v] != NONE) continue;
        mst_crossing *c = MST_PUSH(arena, parts->crossings, parts->crossing_count, capacity);
        if (!c) return NULL;
        number[v] = (uint32_t)(points + parts->crossing_count - 1);
        c->vertex = number[v];
        memcpy(parts->vertices[number[v]], m->at[v], sizeof *parts->vertices);
        crossing_at(live, v, c);
    }
    parts->vertex_count = points + parts->crossing_count;
    for (size_t i = 0; i < points; i++)
        parts->representative[i] = live->points[i].vertex == NONE ? UINT32_MAX : live->first_at[live->points[i].vertex];
    return number;
}

mst_status mst_live_triangles(const mst_live *live, mst_arena *arena, mst_triangulation **result, mst_error *error) {
    mst_mesh copy;
    mst_triangulation_parts parts = {0};
    mst_triangulation *t = NULL;
    mst_status status = check_whole(live, error);
    if (status) return status;
    uint32_t *number = number_vertices(live, arena, &parts);
    if (!number || !copy_mesh(live, arena, &copy))
        return mst_fail(error, MST_NO_MEMORY, "Memory ran out on a ground model of %zu points.", live->point_count);
    const mst_numbering numbers = {number, live->mesh.vertex_count, 0, 1};
    status = mst_mesh_finish(&copy, &numbers, live->input.segment_count > 0, arena, &t, error);
    if (status) return status;
    mst_triangulation_complete(t, &parts);
    *result = t;
    return MST_OK;
}
