/* The nearest breakline. */
#include "ground/model.h"
#include <math.h>

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
