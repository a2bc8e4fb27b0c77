/* Quick answers: a level by walking from the last place, the nearest breakline. */
#include "ground/model.h"
#include <math.h>

enum { STEPS = 40, TRIANGLES_A_CELL = 2, CELLS_MOST = 1 << 24 }; /* beyond so many steps the tree is quicker */

/* The plane of a triangle at p, from its own corners (facets answer where a rim has cut it, see mst_ground_level_at).
 */
static double level_in(const mst_ground *g, uint32_t t, const double p[2]) {
    const uint32_t *f = g->facets[g->facet_of[t]];
    const mst_corner *a = &g->corners[f[0]], *b = &g->corners[f[1]], *c = &g->corners[f[2]];
    double be = b->at[0] - a->at[0], bn = b->at[1] - a->at[1], ce = c->at[0] - a->at[0], cn = c->at[1] - a->at[1];
    double e = p[0] - a->at[0], n = p[1] - a->at[1], twice = be * cn - bn * ce;
    double share_b = (e * cn - n * ce) / twice, share_c = (be * n - bn * e) / twice;
    return a->elevation_m + share_b * (b->elevation_m - a->elevation_m) + share_c * (c->elevation_m - a->elevation_m);
}

/* The first edge that p lies beyond, begun from @p from so that the walk does not circle; -1: inside. */
static int way_out(const mst_ground *g, uint32_t t, const double p[2], int from) {
    for (int i = 0; i < 3; i++) {
        int k = (from + i) % 3;
        const mst_ground_point *a = &g->vertices[g->triangles[t][(k + 1) % 3]],
                               *b = &g->vertices[g->triangles[t][(k + 2) % 3]];
        const double pa[2] = {a->easting_m, a->northing_m}, pb[2] = {b->easting_m, b->northing_m};
        if (mst_orient2d(pa, pb, p) < 0) return k;
    }
    return -1;
}

mst_status mst_ground_make_starts(mst_ground *g, mst_arena *arena) {
    const mst_box *all = &g->tree.nodes[1];
    double wide = all->e - all->w, high = all->n - all->s;
    const size_t wanted = g->triangle_count / TRIANGLES_A_CELL + 1;
    double cells = fmin((double)wanted, CELLS_MOST);
    double cell = fmax(sqrt(wide * high / cells), fmax(wide, high) / 30000);
    g->starts.west = all->w, g->starts.south = all->s, g->starts.cell = cell;
    g->starts.columns = (uint32_t)(wide / cell) + 1, g->starts.rows = (uint32_t)(high / cell) + 1;
    size_t count = (size_t)g->starts.columns * g->starts.rows;
    uint32_t *at = g->starts.triangle = mst_arena_array(arena, count + 1, sizeof *at), last = 0;
    if (!at) return MST_NO_MEMORY;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        const mst_ground_point *v = &g->vertices[g->triangles[t][0]];
        uint32_t column = (uint32_t)((v->easting_m - all->w) / cell), row = (uint32_t)((v->northing_m - all->s) / cell);
        if (column < g->starts.columns && row < g->starts.rows) at[(size_t)row * g->starts.columns + column] = t + 1;
    }
    for (size_t i = 0; i < count; i++) { /* an empty cell begins where the one before it does */
        last = at[i] ? at[i] - 1 : last;
        at[i] = last;
    }
    return MST_OK;
}

static uint32_t start_at(const mst_ground *g, const double p[2]) {
    double column = (p[0] - g->starts.west) / g->starts.cell, row = (p[1] - g->starts.south) / g->starts.cell;
    if (!(column >= 0 && row >= 0 && column < g->starts.columns && row < g->starts.rows)) return MST_NOWHERE;
    return g->starts.triangle[(size_t)(uint32_t)row * g->starts.columns + (uint32_t)column];
}

static bool is_near(const mst_ground *g, uint32_t t, const double p[2]) {
    const mst_ground_point *v = &g->vertices[g->triangles[t][0]];
    return fabs(v->easting_m - p[0]) + fabs(v->northing_m - p[1]) < 4 * g->starts.cell;
}

double mst_ground_elevation(const mst_ground *g, mst_point p, uint32_t *hint) {
    const double at[2] = {p.easting_m, p.northing_m};
    if (!isfinite(at[0]) || !isfinite(at[1])) return NAN;
    uint32_t t = *hint < g->triangle_count && is_near(g, *hint, at) ? *hint : start_at(g, at);
    if (t == MST_NOWHERE) return NAN;
    for (int step = 0; step < STEPS; step++) {
        int k = way_out(g, t, at, step % 3);
        if (k < 0) return *hint = t, level_in(g, t, at);
        if (g->neighbours[t][k] == MST_NOWHERE) break; /* a hole may lie in between */
        t = g->neighbours[t][k];
    }
    t = mst_triangle_at(&g->tree, (const uint32_t(*)[3])g->triangles, g->vertices, sizeof *g->vertices, at);
    if (t == MST_NOWHERE) return NAN;
    *hint = t;
    return level_in(g, t, at);
}

/* Nearest place on a fixed edge of facet f. */
static void try_edges(const mst_ground *g, uint32_t f, const double p[2], double *nearest, double at[3]) {
    for (int k = 0; k < 3; k++) {
        if (!(g->fixed[f] >> k & 1)) continue;
        const mst_corner *a = &g->corners[g->facets[f][(k + 1) % 3]], *b = &g->corners[g->facets[f][(k + 2) % 3]];
        double de = b->at[0] - a->at[0], dn = b->at[1] - a->at[1];
        double along = ((p[0] - a->at[0]) * de + (p[1] - a->at[1]) * dn) / (de * de + dn * dn);
        along = fmin(fmax(along, 0), 1);
        double e = a->at[0] + along * de, n = a->at[1] + along * dn, distance = hypot(p[0] - e, p[1] - n);
        if (distance >= *nearest) continue;
        *nearest = distance;
        at[0] = e, at[1] = n, at[2] = a->elevation_m + along * (b->elevation_m - a->elevation_m);
    }
}

/* In windows that double until the nearest is sure to be in one. */
bool mst_ground_nearest_breakline(const mst_ground *g, mst_point p, mst_point3 *at, double *distance_m) {
    const double from[2] = {p.easting_m, p.northing_m};
    if (!isfinite(from[0]) || !isfinite(from[1])) return false;
    const mst_box *all = &g->tree.nodes[1];
    double farthest = fmax(fmax(fabs(from[0] - all->w), fabs(from[0] - all->e)),
                           fmax(fabs(from[1] - all->s), fabs(from[1] - all->n)));
    double reach = sqrt(g->plan_area_m2 / (double)g->triangle_count), nearest = HUGE_VAL, found[3] = {0, 0, 0};
    for (bool last = false; !last && !(nearest <= reach);) {
        reach *= 2;
        last = reach >= farthest;
        mst_boxtree_walk walk =
            mst_boxtree_window(&g->tree, (mst_box){from[0] - reach, from[1] - reach, from[0] + reach, from[1] + reach});
        for (uint32_t t; mst_boxtree_next(&walk, &t);) try_edges(g, g->facet_of[t], from, &nearest, found);
    }
    if (nearest == HUGE_VAL) return false;
    if (at) *at = (mst_point3){found[0], found[1], found[2]};
    if (distance_m) *distance_m = nearest;
    return true;
}
