/* A Delaunay triangulation that takes points one by one: the triangles whose circle holds the new point go, and the
 * hole is joined to it (A. Bowyer, D. F. Watson, both in The Computer Journal 24, 1981). Ties are broken as everywhere
 * in the mesh, so that the triangles are those that mst_triangulation_build makes of the same points. */
#include "ground/cloud.h"
#include <stdlib.h>

/* ---- walking ---- */

static double turn(const double p[2], const double q[2], const double r[2]) {
    double left = (p[0] - r[0]) * (q[1] - r[1]), right = (p[1] - r[1]) * (q[0] - r[0]);
    double det = left - right;
    return fabs(det) > MST_ORIENT_BOUND * (fabs(left) + fabs(right)) ? det : mst_orient2d_exact(p, q, r);
}

static bool is_beyond(const mst_walk *w, uint32_t across) {
    if (across == MST_CLOUD_NONE) return true;
    const uint32_t *c = w->corner + 3 * (size_t)(across >> w->shift);
    return c[0] == MST_OUTSIDE || c[1] == MST_OUTSIDE || c[2] == MST_OUTSIDE;
}

/* Over edges that have the place on their far side; in a Delaunay triangulation that never goes round (L. De Floriani
 * et al., On sorting triangles in a Delaunay tessellation, Algorithmica 6, 1991). */
uint32_t mst_walk_to(const mst_walk *w, uint32_t from, const double p[2], bool *outside) {
    uint32_t t = from, came = MST_CLOUD_NONE;
    *outside = false;
    for (;;) {
        const uint32_t *c = w->corner + 3 * (size_t)t;
        int k = 0;
        bool rim = false;
        for (; k < 3; k++) {
            uint32_t across = w->across[3 * (size_t)t + (size_t)k];
            if (across != MST_CLOUD_NONE && across >> w->shift == came) continue;
            if (turn(w->at[c[(k + 1) % 3]], w->at[c[(k + 2) % 3]], p) >= 0) continue;
            if (!is_beyond(w, across)) break;
            rim = true; /* another edge may lead along the rim to where the place is */
        }
        if (k == 3) {
            *outside = rim;
            return t;
        }
        came = t;
        t = w->across[3 * (size_t)t + (size_t)k] >> w->shift;
    }
}

mst_sloped mst_sloped_of(const double *const at[3], const double z[3]) {
    double be = at[1][0] - at[0][0], bn = at[1][1] - at[0][1], ce = at[2][0] - at[0][0], cn = at[2][1] - at[0][1];
    double bz = z[1] - z[0], cz = z[2] - z[0], det = be * cn - bn * ce;
    mst_sloped s = {at[0][0], at[0][1], z[0], 0, 0, fmin(fmin(z[0], z[1]), z[2]), fmax(fmax(z[0], z[1]), z[2])};
    if (det > 0) s.per_e = (bz * cn - cz * bn) / det, s.per_n = (be * cz - ce * bz) / det;
    return s;
}

mst_sloped mst_growing_plane(const mst_growing *g, uint32_t triangle) {
    const uint32_t *c = g->m.corner + 3 * (size_t)triangle;
    return mst_sloped_of((const double *const[3]){g->m.at[c[0]], g->m.at[c[1]], g->m.at[c[2]]},
                         (const double[3]){g->z[c[0]], g->z[c[1]], g->z[c[2]]});
}

static int by_length(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

double mst_growing_median_edge(const mst_growing *g) {
    enum { TRIANGLES = 1 << 17 };
    mst_arena *scratch = mst_arena_new();
    double *length = scratch ? mst_arena_array(scratch, 3 * TRIANGLES, sizeof *length) : NULL, median = INFINITY;
    size_t count = 0, step = g->m.triangle_count / TRIANGLES + 1;
    for (size_t t = 0; length && t < g->m.triangle_count; t += step) {
        if (!mst_growing_real(g, (uint32_t)t)) continue;
        for (uint32_t k = 0; k < 3; k++) {
            const double *p = g->m.at[mst_from(&g->m, 4 * (uint32_t)t + k)],
                         *q = g->m.at[mst_to(&g->m, 4 * (uint32_t)t + k)];
            length[count++] = hypot(p[0] - q[0], p[1] - q[1]);
        }
    }
    if (count) {
        qsort(length, count, sizeof *length, by_length);
        median = length[count / 2];
    }
    mst_arena_free(scratch);
    return median;
}

/* ---- growing ---- */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the thinned surface.");
}

/* The places of the hull in their order, and its first triangles. */
static mst_status triangulate_hull(mst_growing *g, const mst_point3 hull[], size_t count, mst_arena *scratch,
                                   mst_error *error) {
    mst_order order = {0};
    double(*places)[2] = mst_arena_array(scratch, count, sizeof *places);
    const mst_order_room room = {mst_arena_array(scratch, count, 24), mst_arena_array(scratch, count, 16), g->m.at};
    order.input_index = mst_arena_array(scratch, count, sizeof *order.input_index);
    order.level = mst_arena_array(scratch, count, 1);
    if (!places || !room.records || !room.items || !order.input_index || !order.level) return no_memory(error);
    for (size_t i = 0; i < count; i++) places[i][0] = hull[i].easting_m, places[i][1] = hull[i].northing_m;
    mst_triangulation_input input = {.points = (const double(*)[2])places, .point_count = count};
    mst_status status = mst_order_places(&input, &room, scratch, scratch, &order, error);
    if (status) return status;
    g->m.vertex_count = order.place_count;
    g->m.exact_size = 0x1p25 * order.unit * order.unit;
    for (uint32_t v = 0; v < order.place_count; v++) g->z[v] = hull[order.input_index[v]].elevation_m;
    mst_delaunay(&g->m, &order, 1);
    return MST_OK;
}

/* Pages of memory that no triangle reaches are never touched, so room for the most costs nothing. */
mst_status mst_growing_begin(mst_growing *g, const mst_point3 hull[], size_t count, size_t vertex_room,
                             mst_arena *arena, mst_error *error) {
    g->arena = arena;
    g->m.vertex_room = vertex_room + count + 1;
    g->m.triangle_room = 2 * g->m.vertex_room;
    g->m.at = mst_arena_array(arena, g->m.vertex_room, sizeof *g->m.at);
    g->z = mst_arena_array(arena, g->m.vertex_room, sizeof *g->z);
    g->m.corner = mst_arena_array(arena, g->m.triangle_room, 3 * sizeof *g->m.corner);
    g->m.twin = mst_arena_array(arena, g->m.triangle_room, 3 * sizeof *g->m.twin);
    g->mark = mst_arena_array(arena, g->m.triangle_room, sizeof *g->mark);
    g->born = mst_arena_array(arena, g->m.triangle_room, sizeof *g->born);
    mst_arena *scratch = mst_arena_new();
    bool room = scratch && g->m.at && g->z && g->m.corner && g->m.twin && g->mark && g->born;
    mst_status status = room ? triangulate_hull(g, hull, count, scratch, error) : no_memory(error);
    mst_arena_free(scratch);
    return status;
}

static bool is_between(const double a[2], const double b[2], const double p[2]) {
    int k = a[0] != b[0] ? 0 : 1;
    return a[k] < b[k] ? a[k] < p[k] && p[k] < b[k] : b[k] < p[k] && p[k] < a[k];
}

/* Whether vertex v spoils triangle t. The circle of an outside triangle is all that lies beyond its edge, and the edge.
 */
static bool spoils(const mst_mesh *m, uint32_t t, uint32_t v) {
    const uint32_t *c = m->corner + 3 * (size_t)t;
    for (int k = 0; k < 3; k++) {
        if (c[k] != MST_OUTSIDE) continue;
        uint32_t from = c[(k + 1) % 3], to = c[(k + 2) % 3];
        double side = mst_turn(m, from, to, v);
        return side > 0 || (side == 0 && is_between(m->at[from], m->at[to], m->at[v]));
    }
    return mst_in_circle(m, c[0], c[1], c[2], v);
}

static bool add_to_hole(mst_growing *g, uint32_t t) {
    uint32_t *place = MST_PUSH(g->arena, g->hole, g->hole_count, g->hole_capacity);
    if (!place) return false;
    *place = t;
    g->mark[t] = g->attempt;
    return true;
}

static bool open_hole(mst_growing *g, uint32_t start, uint32_t v) {
    g->hole_count = 0;
    if (!add_to_hole(g, start)) return false;
    for (size_t i = 0; i < g->hole_count; i++)
        for (uint32_t k = 0; k < 3; k++) {
            uint32_t beside = mst_twin(&g->m, 4 * g->hole[i] + k) >> 2;
            if (g->mark[beside] == g->attempt || !spoils(&g->m, beside, v)) continue;
            if (!add_to_hole(g, beside)) return false;
        }
    return true;
}

static bool is_rim(const mst_growing *g, uint32_t edge) { return g->mark[mst_twin(&g->m, edge) >> 2] != g->attempt; }

static uint32_t first_rim_edge(const mst_growing *g) {
    for (size_t i = 0; i < g->hole_count; i++)
        for (uint32_t k = 0; k < 3; k++)
            if (is_rim(g, 4 * g->hole[i] + k)) return 4 * g->hole[i] + k;
    return 0; /* not reached: a hole of finite triangles has a rim */
}

/* The hole's rim, counter-clockwise. */
static bool list_rim(mst_growing *g) {
    uint32_t first = first_rim_edge(g), edge = first;
    g->ray_count = 0;
    do {
        mst_ray *ray = MST_PUSH(g->arena, g->rays, g->ray_count, g->ray_capacity);
        if (!ray) return false;
        *ray = (mst_ray){0, mst_from(&g->m, edge), mst_to(&g->m, edge), mst_twin(&g->m, edge)};
        edge = mst_next(edge);
        while (!is_rim(g, edge)) edge = mst_next(mst_twin(&g->m, edge));
    } while (edge != first);
    return true;
}

/* The nearest vertex of a new one becomes its neighbour in the triangulation, so the rim has it. */
static bool is_crowded(const mst_growing *g, const double p[2]) {
    for (size_t i = 0; i < g->ray_count; i++) {
        if (g->rays[i].from == MST_OUTSIDE) continue;
        const double *q = g->m.at[g->rays[i].from];
        double e = q[0] - p[0], n = q[1] - p[1];
        if (e * e + n * n < g->closest_m * g->closest_m) return true;
    }
    return false;
}

static void close_hole(mst_growing *g, uint32_t v) {
    mst_mesh *m = &g->m;
    for (size_t i = 0; i < g->ray_count; i++) {
        mst_ray *ray = &g->rays[i];
        ray->triangle = i < g->hole_count ? g->hole[i] : m->triangle_count++;
        uint32_t *c = m->corner + 3 * (size_t)ray->triangle;
        c[0] = v, c[1] = ray->from, c[2] = ray->to;
        g->born[ray->triangle] = g->attempt;
        mst_bond(m, 4 * ray->triangle, ray->outer);
    }
    for (size_t i = 0; i < g->ray_count; i++) {
        const mst_ray *onward = &g->rays[i + 1 < g->ray_count ? i + 1 : 0];
        mst_bond(m, 4 * g->rays[i].triangle + 1, 4 * onward->triangle + 2);
    }
}

mst_status mst_growing_put(mst_growing *g, uint32_t triangle, const double p[3], bool *put) {
    mst_mesh *m = &g->m;
    uint32_t v = m->vertex_count;
    *put = false;
    if (v + 1 >= m->vertex_room || g->attempt == UINT32_MAX) return MST_NO;
    m->at[v][0] = p[0], m->at[v][1] = p[1];
    g->z[v] = p[2];
    g->attempt++;
    if (!open_hole(g, triangle, v) || !list_rim(g)) return MST_NO_MEMORY;
    if (is_crowded(g, p)) return MST_OK;
    m->vertex_count++;
    close_hole(g, v);
    *put = true;
    return MST_OK;
}
