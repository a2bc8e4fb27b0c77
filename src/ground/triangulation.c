/* From points and segments to the finished arrays: order, Delaunay triangles, segments, then the outside triangles go
 * and the input's numbers come back. Corners and neighbours are built in place, in the arrays that the caller gets. */
#include "base/parallel.h"
#include "ground/triangulation.h"
#include <string.h>

struct mst_triangulation {
    uint32_t *corners, *neighbours; /* [3 * triangle_count] */
    uint8_t *fixed;                 /* [triangle_count] bit k: edge k is a breakline; NULL without segments */
    double (*vertices)[2];
    size_t triangle_count, vertex_count, crossing_count;
    mst_crossing *crossings;
    uint32_t *representative; /* NULL: every point stands for itself */
};

mst_status mst_triangulation_check(const mst_triangulation_input *input, mst_error *error) {
    if (input->point_count > MST_MOST_POINTS)
        return mst_fail(error, MST_INVALID, "%zu points are more than the %zu of one ground model; thin them out.",
                        input->point_count, MST_MOST_POINTS);
    for (size_t i = 0; i < input->segment_count; i++)
        for (int k = 0; k < 2; k++)
            if (input->segments[i][k] >= input->point_count)
                return mst_fail(error, MST_INVALID, "Breakline segment %zu asks for point %zu of %zu.", i + 1,
                                (size_t)input->segments[i][k] + 1, input->point_count);
    return MST_OK;
}

/* Room for the crossings of an ordinary site; pages that are not touched cost nothing. */
static bool make_room(const mst_triangulation_input *input, mst_arena *arena, mst_mesh *m) {
    m->vertex_room = input->point_count + 2 * input->segment_count + 16;
    m->triangle_room = 2 * m->vertex_room;
    m->at = mst_arena_array(arena, m->vertex_room, sizeof *m->at);
    m->corner = mst_arena_array(arena, m->triangle_room, 3 * sizeof *m->corner);
    m->twin = mst_arena_array(arena, m->triangle_room, 3 * sizeof *m->twin);
    return m->at && m->corner && m->twin;
}

/* ---- the outside triangles go ---- */

static const uint32_t NOWHERE = ~MST_FIXED; /* in twin[]: no triangle beyond; the breakline bit stands beside it */

static bool is_outside(const mst_mesh *m, size_t t) {
    const uint32_t *c = m->corner + 3 * t;
    return c[0] == MST_OUTSIDE || c[1] == MST_OUTSIDE || c[2] == MST_OUTSIDE;
}

static void move_triangle(mst_mesh *m, size_t from, size_t to) {
    for (size_t k = 0; k < 3; k++) {
        uint32_t twin = m->twin[3 * from + k];
        m->corner[3 * to + k] = m->corner[3 * from + k];
        m->twin[3 * to + k] = twin;
        if ((twin & ~MST_FIXED) != NOWHERE)
            m->twin[mst_slot(twin & ~MST_FIXED)] = (uint32_t)(4 * to + k) | (twin & MST_FIXED);
    }
}

/* Walks round the hull and cuts the triangles there off from those outside.
 * @return the outside triangles, NULL when memory is short */
static uint32_t *cut_off(mst_mesh *m, mst_arena *scratch, size_t *count) {
    uint32_t *outside = NULL, out = m->outside;
    size_t capacity = 0;
    *count = 0;
    do {
        uint32_t *t = MST_PUSH(scratch, outside, *count, capacity), inside = mst_twin(m, out) & ~MST_FIXED;
        if (!t) return NULL;
        *t = out >> 2;
        out = mst_onward(m, out);
        uint32_t *seen = &m->twin[mst_slot(inside)];
        if (!is_outside(m, inside >> 2)) *seen = NOWHERE | (*seen & MST_FIXED); /* on one line both sides are outside */
    } while (out != m->outside);
    return outside;
}

/* The last triangles fill the places of those outside. */
static bool drop_outside(mst_mesh *m, mst_arena *scratch) {
    size_t outside_count, count = m->triangle_count;
    uint32_t *outside = cut_off(m, scratch, &outside_count);
    if (!outside) return false;
    for (size_t i = 0; i < outside_count; i++) {
        while (count && is_outside(m, count - 1)) count--;
        if (outside[i] >= count) continue;
        move_triangle(m, --count, outside[i]);
    }
    m->triangle_count = (uint32_t)count;
    return true;
}

/* ---- the input's numbers come back ---- */

enum { CHUNKS = 64 };
typedef struct finishing {
    mst_mesh *m;
    const mst_numbering *numbers;
    uint8_t *fixed;
} finishing;

/* From half-edges to triangles and from vertices to their numbers. */
static void renumber_chunk(void *context, int index) {
    const finishing *f = context;
    mst_mesh *m = f->m;
    const mst_numbering *n = f->numbers;
    size_t from = (size_t)m->triangle_count * (size_t)index / CHUNKS,
           to = (size_t)m->triangle_count * (size_t)(index + 1) / CHUNKS;
    for (size_t t = from; f->fixed && t < to; t++) {
        const uint32_t *twin = m->twin + 3 * t;
        f->fixed[t] = (uint8_t)(twin[0] >> 31 | twin[1] >> 31 << 1 | twin[2] >> 31 << 2);
    }
    for (size_t s = 3 * from; s < 3 * to; s++) {
        uint32_t v = m->corner[s], twin = m->twin[s] & ~MST_FIXED;
        m->corner[s] = v < n->listed ? n->number[v] : v + n->shift;
        m->twin[s] = twin == NOWHERE ? UINT32_MAX : twin >> 2;
    }
}

static mst_status no_memory(size_t point_count, mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory ran out on a ground model of %zu points.", point_count);
}

mst_status mst_mesh_finish(mst_mesh *m, const mst_numbering *numbers, bool with_fixed, mst_arena *arena,
                           mst_triangulation **result, mst_error *error) {
    mst_triangulation *t = mst_arena_alloc(arena, sizeof *t);
    mst_arena *scratch = mst_arena_new();
    bool done = t && scratch && drop_outside(m, scratch);
    mst_arena_free(scratch);
    if (!done) return no_memory(m->vertex_count, error);
    if (m->triangle_count == 0)
        return mst_fail(error, MST_UNDETERMINED, "All points lie on one line; add a point beside it.");
    if (with_fixed && !(t->fixed = mst_arena_array(arena, m->triangle_count, 1)))
        return no_memory(m->vertex_count, error);
    finishing f = {m, numbers, t->fixed};
    mst_parallel(numbers->threads, CHUNKS, renumber_chunk, &f);
    t->corners = m->corner, t->neighbours = m->twin;
    t->triangle_count = m->triangle_count;
    *result = t;
    return MST_OK;
}

void mst_triangulation_complete(mst_triangulation *t, const mst_triangulation_parts *parts) {
    t->vertices = parts->vertices;
    t->vertex_count = parts->vertex_count;
    t->crossings = parts->crossings;
    t->crossing_count = parts->crossing_count;
    t->representative = parts->representative;
}

/* ---- the input's places come back, and the crossings behind them ---- */

typedef struct restoring {
    double (*at)[2];
    const mst_triangulation_input *input;
} restoring;
static void restore_chunk(void *context, int index) {
    const restoring *r = context;
    size_t count = r->input->point_count, from = count * (size_t)index / CHUNKS,
           to = count * (size_t)(index + 1) / CHUNKS;
    memcpy(r->at + from, r->input->points + from, (to - from) * sizeof *r->at);
}

static bool restore_places(const mst_mesh *m, const mst_triangulation_input *input, uint32_t place_count,
                           mst_arena *arena, mst_triangulation_parts *parts) {
    size_t crossings = m->vertex_count - place_count, all = input->point_count + crossings;
    parts->vertices = all > m->vertex_room ? mst_arena_array(arena, all, sizeof *m->at) : m->at;
    if (!parts->vertices) return false;
    memmove(parts->vertices + input->point_count, m->at + place_count, crossings * sizeof *m->at);
    restoring r = {parts->vertices, input};
    mst_parallel(input->threads, CHUNKS, restore_chunk, &r);
    parts->vertex_count = all;
    return true;
}

static mst_status finish(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order,
                         mst_triangulation_parts *parts, mst_arena *arena, mst_triangulation **result,
                         mst_error *error) {
    const mst_numbering numbers = {order->input_index, order->place_count,
                                   (uint32_t)input->point_count - order->place_count, input->threads};
    mst_triangulation *t = NULL;
    mst_status status = mst_mesh_finish(m, &numbers, input->segment_count > 0, arena, &t, error);
    if (status) return status;
    if (!restore_places(m, input, order->place_count, arena, parts)) return no_memory(input->point_count, error);
    for (size_t i = 0; i < parts->crossing_count; i++) parts->crossings[i].vertex += numbers.shift;
    parts->representative = order->representative;
    mst_triangulation_complete(t, parts);
    *result = t;
    return MST_OK;
}

/* ---- from points to triangles ---- */

/* The lists of the order live in the scratch arena, the mesh in the caller's. */
mst_status mst_mesh_begin(const mst_triangulation_input *input, mst_arena *arena, mst_arena *scratch, mst_mesh *m,
                          mst_order *order, mst_error *error) {
    order->input_index = mst_arena_array(scratch, input->point_count, sizeof *order->input_index);
    order->level = mst_arena_array(scratch, input->point_count, 1);
    if (!order->input_index || !order->level || !make_room(input, arena, m))
        return no_memory(input->point_count, error);
    /* corners and twins are not needed yet: 24 bytes a point each */
    const mst_order_room room = {m->twin, m->corner, m->at};
    mst_status status = mst_order_places(input, &room, arena, scratch, order, error);
    if (status) return status;
    if (order->place_count < 3)
        return mst_fail(error, MST_TOO_FEW, "A ground model needs points at 3 places or more, not %u.",
                        (unsigned)order->place_count);
    m->vertex_count = order->place_count;
    m->exact_size = 0x1p25 * order->unit * order->unit;
    mst_delaunay(m, order, input->threads);
    return MST_OK;
}

static mst_status build(const mst_triangulation_input *input, mst_arena *arena, mst_arena *scratch,
                        mst_triangulation **result, mst_error *error) {
    mst_mesh m = {0};
    mst_order order = {0};
    mst_triangulation_parts parts = {0};
    mst_status status = mst_mesh_begin(input, arena, scratch, &m, &order, error);
    if (!status && input->segment_count)
        status = mst_constrain(&m, input, &order, arena, &parts.crossings, &parts.crossing_count, error);
    return status ? status : finish(&m, input, &order, &parts, arena, result, error);
}

mst_status mst_triangulation_build(const mst_triangulation_input *input, mst_arena *arena, mst_triangulation **result,
                                   mst_error *error) {
    mst_status status = mst_triangulation_check(input, error);
    if (status) return status;
    mst_arena *scratch = mst_arena_new();
    mst_triangulation *t = NULL;
    status = scratch ? build(input, arena, scratch, &t, error) : no_memory(input->point_count, error);
    mst_arena_free(scratch);
    if (status == MST_OK) *result = t;
    return status;
}

const uint32_t (*mst_triangulation_corners(const mst_triangulation *t, size_t *count))[3] {
    *count = t->triangle_count;
    return (const uint32_t(*)[3])t->corners;
}
const uint32_t (*mst_triangulation_neighbours(const mst_triangulation *t))[3] {
    return (const uint32_t(*)[3])t->neighbours;
}
bool mst_triangulation_edge_fixed(const mst_triangulation *t, uint32_t triangle, int corner) {
    return t->fixed && t->fixed[triangle] >> corner & 1;
}
const double (*mst_triangulation_vertices(const mst_triangulation *t, size_t *count))[2] {
    *count = t->vertex_count;
    return (const double(*)[2])t->vertices;
}
const mst_crossing *mst_triangulation_crossings(const mst_triangulation *t, size_t *count) {
    *count = t->crossing_count;
    return t->crossings;
}
uint32_t mst_triangulation_representative(const mst_triangulation *t, uint32_t i) {
    return t->representative ? t->representative[i] : i;
}
