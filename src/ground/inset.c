/* A plane let into the ground. The old triangles are cut along a ring just outside of the outline (clip.c, as a hole);
 * the outline with its own levels is joined to that ring by a narrow step, which stands for a kerb or an edge. */
#include "ground/cover.h"
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

static const double STEP_M = 0.010;    /* no wider than a joint, far above the merging distance */
static const double SAGITTA_M = 0.005; /* arcs of the outline */
static const double ON_RING_M = 1e-6;  /* rounding of a cut */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* The ring STEP_M outside of a counter-clockwise outline: each corner along the mean of its edges' normals. */
static bool step_out(const mst_path *line, mst_arena *arena, mst_path *ring) {
    *ring = (mst_path){mst_arena_array(arena, line->count + 1, sizeof(mst_path_vertex)), line->count, true};
    if (!ring->vertices) return false;
    for (size_t i = 0; i < line->count; i++) {
        const mst_path_vertex *a = &line->vertices[(i + line->count - 1) % line->count], *b = &line->vertices[i],
                              *c = &line->vertices[(i + 1) % line->count];
        double ue = b->easting_m - a->easting_m, un = b->northing_m - a->northing_m, u = hypot(ue, un);
        double ve = c->easting_m - b->easting_m, vn = c->northing_m - b->northing_m, v = hypot(ve, vn);
        double ne = un / u + vn / v, nn = -ue / u - ve / v, square = ne * ne + nn * nn;
        double reach = 2 * STEP_M / fmax(square, 0.1); /* a needle's tip stays near */
        ring->vertices[i] = (mst_path_vertex){b->easting_m + reach * ne, b->northing_m + reach * nn, NAN, 0};
    }
    return true;
}

/* The outline, straight pieces only, counter-clockwise, without vertices that repeat. */
static mst_status flat_outline(const mst_shape *shape, mst_arena *arena, mst_path *out, mst_error *error) {
    mst_status status = mst_path_flatten(&shape->paths[0], SAGITTA_M, arena, out, error);
    if (status) return status;
    size_t kept = 0;
    for (size_t i = 0; i < out->count; i++) {
        mst_path_vertex v = out->vertices[i], *last = kept ? &out->vertices[kept - 1] : NULL;
        if (!last || hypot(v.easting_m - last->easting_m, v.northing_m - last->northing_m) > 1e-9)
            out->vertices[kept++] = v;
    }
    out->count = kept;
    if (mst_path_area(out) > 0) return MST_OK;
    for (size_t i = 0, k = kept; i + 1 < k--; i++) {
        mst_path_vertex swap = out->vertices[i];
        out->vertices[i] = out->vertices[k], out->vertices[k] = swap;
    }
    return MST_OK;
}

/* The ground's own triangles as facets to be cut. */
static mst_status take_triangles(const mst_ground *g, mst_arena *arena, mst_facets *f) {
    f->corners = mst_arena_array(arena, g->vertex_count + 1, sizeof *f->corners);
    f->fixed = mst_arena_array(arena, g->triangle_count + 1, 1);
    if (!f->corners || !f->fixed) return MST_NO_MEMORY;
    for (size_t v = 0; v < g->vertex_count; v++) {
        const mst_ground_point *p = &g->vertices[v];
        f->corners[v] = (mst_corner){{p->easting_m, p->northing_m}, p->elevation_m, 0, 0, p->source};
    }
    f->corner_count = g->vertex_count;
    f->triangles = g->triangles, f->count = g->triangle_count, f->neighbours = g->neighbours;
    return MST_OK;
}

static mst_status cut_hole(const mst_ground *g, mst_path *ring, mst_arena *arena, mst_ground *out, mst_error *error) {
    mst_facets f = {0};
    mst_shape hole = {ring, 1};
    mst_rings rings = {&hole, 1, 0};
    if (take_triangles(g, arena, &f)) return no_memory(error);
    bool *keep = mst_arena_array(arena, f.count + 1, 1);
    if (!keep) return no_memory(error);
    for (size_t i = 0; i < f.count; i++) keep[i] = true;
    return mst_clip_facets(&f, keep, &rings, true, 1, arena, out, error);
}

/* How far a place is from the ring, and how far along it. */
static double distance_to(const mst_path *ring, double e, double n, double *chainage) {
    double nearest = HUGE_VAL, before = 0;
    for (size_t i = 0; i < ring->count; i++) {
        const mst_path_vertex *a = &ring->vertices[i], *b = &ring->vertices[(i + 1) % ring->count];
        double de = b->easting_m - a->easting_m, dn = b->northing_m - a->northing_m;
        double along = ((e - a->easting_m) * de + (n - a->northing_m) * dn) / (de * de + dn * dn);
        along = fmin(fmax(along, 0), 1);
        double off = hypot(e - a->easting_m - along * de, n - a->northing_m - along * dn), length = hypot(de, dn);
        if (off < nearest) nearest = off, *chainage = before + along * length;
        before += length;
    }
    return nearest;
}

/* The new surface: the cut ground's vertices and triangles, then the outline's and what joins them. */
typedef struct joiner {
    const mst_ground *cut;
    const mst_path *line, *ring;
    mst_arena *arena;
    mst_ground_point *points;
    size_t point_count;
    uint32_t (*faces)[3];
    size_t face_count;
    double (*places)[2]; /* of the piece in between: vertices on the ring, then the outline */
    uint32_t *point_of;
    size_t place_count;
    uint32_t (*segments)[2];
    size_t segment_count;
} joiner;

static mst_status make_room(joiner *j) {
    size_t vertices = j->cut->vertex_count + j->line->count + 1, places = j->cut->vertex_count + 2 * j->line->count + 1;
    j->points = mst_arena_array(j->arena, vertices, sizeof *j->points);
    j->faces = mst_arena_array(j->arena, j->cut->triangle_count + 4 * places, sizeof *j->faces);
    j->places = mst_arena_array(j->arena, places, sizeof *j->places);
    j->point_of = mst_arena_array(j->arena, places, sizeof *j->point_of);
    j->segments = mst_arena_array(j->arena, 4 * places, sizeof *j->segments);
    return j->points && j->faces && j->places && j->point_of && j->segments ? MST_OK : MST_NO_MEMORY;
}

static uint32_t add_place(joiner *j, uint32_t point) {
    size_t i = j->place_count++;
    j->places[i][0] = j->points[point].easting_m, j->places[i][1] = j->points[point].northing_m;
    j->point_of[i] = point;
    return (uint32_t)i;
}

static mst_status take_cut(joiner *j) {
    const mst_ground *g = j->cut;
    uint32_t *place_of = mst_arena_array(j->arena, g->vertex_count + 1, sizeof *place_of); /* + 1 */
    if (!place_of) return MST_NO_MEMORY;
    for (size_t v = 0; v < g->vertex_count; v++) j->points[j->point_count++] = g->vertices[v];
    for (size_t t = 0; t < g->triangle_count; t++) {
        for (int k = 0; k < 3; k++) j->faces[j->face_count][k] = g->triangles[t][k];
        j->face_count++;
        for (int k = 0; k < 3; k++) {
            if (g->neighbours[t][k] != MST_NOWHERE) continue;
            uint32_t ends[2] = {g->triangles[t][(k + 1) % 3], g->triangles[t][(k + 2) % 3]};
            const mst_ground_point *a = &g->vertices[ends[0]], *b = &g->vertices[ends[1]];
            double e = a->easting_m + (b->easting_m - a->easting_m) / 2,
                   n = a->northing_m + (b->northing_m - a->northing_m) / 2;
            double chainage;
            if (distance_to(j->ring, e, n, &chainage) > ON_RING_M) continue;
            for (int i = 0; i < 2; i++) {
                if (!place_of[ends[i]]) place_of[ends[i]] = add_place(j, ends[i]) + 1;
                j->segments[j->segment_count][i] = place_of[ends[i]] - 1;
            }
            j->segment_count++;
        }
    }
    return MST_OK;
}

typedef struct stop {
    double chainage;
    uint32_t place;
} stop;

static int by_chainage(const void *a, const void *b) {
    const stop *x = a, *y = b;
    if (x->chainage != y->chainage) return x->chainage < y->chainage ? -1 : 1;
    return x->place < y->place ? -1 : x->place > y->place;
}

static bool linked(const joiner *j, size_t segments, uint32_t a, uint32_t b) {
    for (size_t i = 0; i < segments; i++)
        if ((j->segments[i][0] == a && j->segments[i][1] == b) || (j->segments[i][0] == b && j->segments[i][1] == a))
            return true;
    return false;
}

/* Where there is no ground along the ring, it is closed with places of no level, so that an end is known there too. */
static mst_status close_ring(joiner *j) {
    size_t on_rim = j->place_count, rim_segments = j->segment_count, count = 0;
    stop *stops = mst_arena_array(j->arena, on_rim + j->ring->count + 1, sizeof *stops);
    if (!stops) return MST_NO_MEMORY;
    for (size_t i = 0; i < on_rim; i++) {
        stops[count].place = (uint32_t)i;
        distance_to(j->ring, j->places[i][0], j->places[i][1], &stops[count++].chainage);
    }
    for (size_t i = 0; i < j->ring->count; i++) {
        const mst_path_vertex *v = &j->ring->vertices[i];
        double nearest = HUGE_VAL;
        for (size_t k = 0; k < on_rim; k++)
            nearest = fmin(nearest, hypot(j->places[k][0] - v->easting_m, j->places[k][1] - v->northing_m));
        if (nearest <= ON_RING_M) continue;
        size_t place = j->place_count++;
        j->places[place][0] = v->easting_m, j->places[place][1] = v->northing_m;
        j->point_of[place] = MST_NOWHERE;
        stops[count].place = (uint32_t)place;
        distance_to(j->ring, v->easting_m, v->northing_m, &stops[count++].chainage);
    }
    qsort(stops, count, sizeof *stops, by_chainage);
    for (size_t i = 0; i < count; i++) {
        uint32_t a = stops[i].place, b = stops[(i + 1) % count].place;
        if (linked(j, rim_segments, a, b)) continue;
        j->segments[j->segment_count][0] = a;
        j->segments[j->segment_count++][1] = b;
    }
    return MST_OK;
}

static void take_outline(joiner *j, const mst_plane *plane) {
    uint32_t first = (uint32_t)j->place_count;
    for (size_t i = 0; i < j->line->count; i++) {
        const mst_path_vertex *v = &j->line->vertices[i];
        double z = plane->level_m + plane->slope_e * (v->easting_m - plane->e0_m) +
                   plane->slope_n * (v->northing_m - plane->n0_m);
        j->points[j->point_count] = (mst_ground_point){v->easting_m, v->northing_m, z, MST_NOWHERE};
        uint32_t at = add_place(j, (uint32_t)j->point_count++);
        j->segments[j->segment_count][0] = at;
        j->segments[j->segment_count++][1] = first + (uint32_t)((i + 1) % j->line->count);
    }
}

/* The triangles inside the outline, and from there outward to the ring. Those at places without a level are left out.
 */
typedef struct filler {
    const mst_triangulation *t;
    const uint32_t (*corners)[3], (*neighbours)[3];
    const double (*at)[2];
    bool *seen;
    uint32_t *stack;
    size_t depth, outline; /* place of the outline's first vertex */
} filler;

static mst_point middle_of(const filler *f, uint32_t t) {
    const double *a = f->at[f->corners[t][0]], *b = f->at[f->corners[t][1]], *c = f->at[f->corners[t][2]];
    return (mst_point){a[0] + ((b[0] - a[0]) + (c[0] - a[0])) / 3, a[1] + ((b[1] - a[1]) + (c[1] - a[1])) / 3};
}

static void visit(filler *f, uint32_t t) {
    if (f->seen[t]) return;
    f->seen[t] = true;
    f->stack[f->depth++] = t;
}

static bool may_cross(const filler *f, uint32_t t, int k) {
    if (!mst_triangulation_edge_fixed(f->t, t, k)) return true;
    return f->corners[t][(k + 1) % 3] >= f->outline && f->corners[t][(k + 2) % 3] >= f->outline;
}

static mst_status fill(joiner *j, const mst_triangulation *t) {
    size_t count, vertices;
    filler f = {.t = t, .outline = j->place_count - j->line->count};
    f.corners = mst_triangulation_corners(t, &count);
    f.neighbours = mst_triangulation_neighbours(t);
    f.at = mst_triangulation_vertices(t, &vertices);
    f.seen = mst_arena_array(j->arena, count + 1, 1);
    f.stack = mst_arena_array(j->arena, count + 1, sizeof *f.stack);
    if (!f.seen || !f.stack) return MST_NO_MEMORY;
    mst_shape outline = {(mst_path *)j->line, 1};
    for (uint32_t i = 0; i < count; i++)
        if (mst_shape_contains(&outline, middle_of(&f, i))) visit(&f, i);
    while (f.depth) {
        uint32_t i = f.stack[--f.depth];
        bool known = true;
        for (int k = 0; k < 3; k++) {
            known &= f.corners[i][k] < j->place_count && j->point_of[f.corners[i][k]] != MST_NOWHERE;
            if (f.neighbours[i][k] != MST_NOWHERE && may_cross(&f, i, k)) visit(&f, f.neighbours[i][k]);
        }
        for (int k = 0; k < 3 && known; k++) j->faces[j->face_count][k] = j->point_of[f.corners[i][k]];
        j->face_count += known;
    }
    return MST_OK;
}

static mst_status join(joiner *j, mst_error *error) {
    mst_triangulation_input input = {(const double(*)[2])j->places, j->place_count, (const uint32_t(*)[2])j->segments,
                                     j->segment_count, 1};
    mst_triangulation *t;
    mst_status status = mst_triangulation_build(&input, j->arena, &t, error);
    if (!status && fill(j, t)) status = no_memory(error);
    return status;
}

static int by_place(const void *a, const void *b) {
    const double *x = a, *y = b;
    for (int k = 0; k < 2; k++)
        if (x[k] != y[k]) return x[k] < y[k] ? -1 : 1;
    return 0;
}

/* Places that an earlier inset designed, in order. */
static size_t designed_places(const mst_ground *g, double places[][2]) {
    size_t count = 0;
    for (size_t c = 0; c < g->corner_count; c++) {
        if (g->corner_scale[c] > 0) continue;
        places[count][0] = g->corners[c].at[0], places[count++][1] = g->corners[c].at[1];
    }
    qsort(places, count, sizeof *places, by_place);
    return count;
}

/* The ground around is as rough as it was; what is designed is not rough at all. */
static mst_status take_roughness(const mst_ground *from, size_t old_points, mst_arena *own, mst_arena *arena,
                                 mst_ground *to) {
    if (!from->roughness.known) return MST_OK;
    double(*designed)[2] = mst_arena_array(own, from->corner_count + 1, sizeof *designed);
    to->corner_scale = mst_arena_array(arena, to->corner_count + 1, sizeof *to->corner_scale);
    if (!designed || !to->corner_scale) return MST_NO_MEMORY;
    size_t count = designed_places(from, designed);
    for (size_t c = 0; c < old_points; c++)
        to->corner_scale[c] = !bsearch(to->corners[c].at, designed, count, sizeof *designed, by_place);
    to->roughness = from->roughness;
    return MST_OK;
}

mst_status mst_ground_inset(const mst_ground *ground, const mst_shape *shape, const mst_plane *plane, mst_arena *arena,
                            mst_ground **finished, mst_error *error) {
    mst_path line, ring;
    mst_cover cover;
    mst_ground cut = {0};
    mst_arena *own = mst_arena_new();
    if (!own) return no_memory(error);
    mst_status status = mst_cover_shape(shape, own, &cover, error); /* refuses what is no area */
    if (!status) status = flat_outline(shape, own, &line, error);
    if (!status && !step_out(&line, own, &ring)) status = no_memory(error);
    if (!status) status = cut_hole(ground, &ring, own, &cut, error);
    joiner j = {.cut = &cut, .line = &line, .ring = &ring, .arena = own};
    if (!status && (make_room(&j) || take_cut(&j) || close_ring(&j))) status = no_memory(error);
    if (!status) {
        take_outline(&j, plane);
        status = join(&j, error);
    }
    if (!status)
        status = mst_ground_from_triangles(j.points, j.point_count, (const uint32_t(*)[3])j.faces, j.face_count, arena,
                                           finished, error);
    if (!status && take_roughness(ground, cut.vertex_count, own, arena, *finished)) status = no_memory(error);
    mst_arena_free(own);
    return status;
}
