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
        if (!last || hypot(v.easting_m - last->easting_m, v.northing_m - last->northing_m) > 1e-9) out->vertices[kept++] = v;
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
        f->corners[v] = (mst_corner){{p->easting_m, p->northing_m}, p->elevation_m, 0, 0, MST_NOWHERE};
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

static double distance_to(const mst_path *ring, double e, double n) {
    double nearest = HUGE_VAL;
    for (size_t i = 0; i < ring->count; i++) {
        const mst_path_vertex *a = &ring->vertices[i], *b = &ring->vertices[(i + 1) % ring->count];
        double de = b->easting_m - a->easting_m, dn = b->northing_m - a->northing_m;
        double along = ((e - a->easting_m) * de + (n - a->northing_m) * dn) / (de * de + dn * dn);
        along = fmin(fmax(along, 0), 1);
        nearest = fmin(nearest, hypot(e - a->easting_m - along * de, n - a->northing_m - along * dn));
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
    size_t vertices = j->cut->vertex_count + j->line->count + 1, places = j->cut->vertex_count + j->line->count + 1;
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
            double e = a->easting_m + (b->easting_m - a->easting_m) / 2, n = a->northing_m + (b->northing_m - a->northing_m) / 2;
            if (distance_to(j->ring, e, n) > ON_RING_M) continue;
            for (int i = 0; i < 2; i++) {
                if (!place_of[ends[i]]) place_of[ends[i]] = add_place(j, ends[i]) + 1;
                j->segments[j->segment_count][i] = place_of[ends[i]] - 1;
            }
            j->segment_count++;
        }
    }
    return MST_OK;
}

static void take_outline(joiner *j, const mst_plane *plane) {
    uint32_t first = (uint32_t)j->place_count;
    for (size_t i = 0; i < j->line->count; i++) {
        const mst_path_vertex *v = &j->line->vertices[i];
        double z = plane->level_m + plane->slope_e * (v->easting_m - plane->e0_m) + plane->slope_n * (v->northing_m - plane->n0_m);
        j->points[j->point_count] = (mst_ground_point){v->easting_m, v->northing_m, z, MST_NOWHERE};
        uint32_t at = add_place(j, (uint32_t)j->point_count++);
        j->segments[j->segment_count][0] = at;
        j->segments[j->segment_count++][1] = first + (uint32_t)((i + 1) % j->line->count);
    }
}

static mst_status join(joiner *j, mst_error *error) {
    mst_triangulation_input input = {(const double(*)[2])j->places, j->place_count, (const uint32_t(*)[2])j->segments,
                                     j->segment_count, 1};
    mst_triangulation *t;
    mst_status status = mst_triangulation_build(&input, j->arena, &t, error);
    if (status) return status;
    size_t count, vertices;
    const uint32_t(*corners)[3] = mst_triangulation_corners(t, &count);
    const double(*at)[2] = mst_triangulation_vertices(t, &vertices);
    mst_shape ring = {(mst_path *)j->ring, 1};
    for (size_t i = 0; i < count; i++) {
        const double *a = at[corners[i][0]], *b = at[corners[i][1]], *c = at[corners[i][2]];
        bool known = true;
        for (int k = 0; k < 3; k++) known &= corners[i][k] < j->place_count; /* no crossings of ring and outline */
        mst_point middle = {a[0] + ((b[0] - a[0]) + (c[0] - a[0])) / 3, a[1] + ((b[1] - a[1]) + (c[1] - a[1])) / 3};
        if (!known || !mst_shape_contains(&ring, middle)) continue;
        for (int k = 0; k < 3; k++) j->faces[j->face_count][k] = j->point_of[corners[i][k]];
        j->face_count++;
    }
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
    if (!status && (make_room(&j) || take_cut(&j))) status = no_memory(error);
    if (!status) {
        take_outline(&j, plane);
        status = join(&j, error);
    }
    if (!status)
        status = mst_ground_from_triangles(j.points, j.point_count, (const uint32_t(*)[3])j.faces, j.face_count, arena,
                                           finished, error);
    mst_arena_free(own);
    return status;
}
