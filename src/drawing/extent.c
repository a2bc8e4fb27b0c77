/* Plain arithmetic on plans, apart from plan.c so that a page needs neither survey nor ground. */
#include "drawing/plan.h"
#include <math.h>
#include <stdlib.h>

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double mst_median(double values[], size_t count) {
    if (!count) return NAN;
    qsort(values, count, sizeof *values, by_value);
    return values[count / 2];
}

typedef struct extent {
    double cos_t, sin_t;
    mst_point low, high;
    bool any;
} extent;

static void widen(extent *x, double e, double n) {
    mst_point p = {e * x->cos_t + n * x->sin_t, n * x->cos_t - e * x->sin_t};
    if (!isfinite(p.easting_m) || !isfinite(p.northing_m)) return;
    if (!x->any) x->low = x->high = p;
    x->any = true;
    x->low = (mst_point){fmin(x->low.easting_m, p.easting_m), fmin(x->low.northing_m, p.northing_m)};
    x->high = (mst_point){fmax(x->high.easting_m, p.easting_m), fmax(x->high.northing_m, p.northing_m)};
}

void mst_plan_arc(const mst_path_vertex *a, const mst_path_vertex *b, mst_point *centre, double *radius_m,
                  double *from_rad, double *sweep_rad) {
    double de = b->easting_m - a->easting_m, dn = b->northing_m - a->northing_m;
    double rise = (1 - a->bulge * a->bulge) / (4 * a->bulge); /* from the chord's middle to the centre, in chords */
    *centre = (mst_point){a->easting_m + de / 2 - dn * rise, a->northing_m + dn / 2 + de * rise};
    *radius_m = hypot(a->easting_m - centre->easting_m, a->northing_m - centre->northing_m);
    *from_rad = atan2(a->northing_m - centre->northing_m, a->easting_m - centre->easting_m);
    *sweep_rad = 4 * atan(a->bulge);
}

/* Sixteen places along an arc miss its furthest reach by less than 0.5 % of the radius on a semicircle. */
static void widen_by_arc(extent *x, const mst_path_vertex *a, const mst_path_vertex *b) {
    mst_point c;
    double r, from, sweep;
    mst_plan_arc(a, b, &c, &r, &from, &sweep);
    for (int i = 1; i < 16; i++)
        widen(x, c.easting_m + r * cos(from + sweep * i / 16), c.northing_m + r * sin(from + sweep * i / 16));
}

static void widen_by_path(extent *x, const mst_path *path) {
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *v = &path->vertices[i];
        widen(x, v->easting_m, v->northing_m);
        if (v->bulge != 0 && (path->closed || i + 1 < path->count))
            widen_by_arc(x, v, &path->vertices[(i + 1) % path->count]);
    }
}

bool mst_plan_extent(const mst_plan *plan, double turn_rad, mst_point *low, mst_point *high) {
    extent x = {.cos_t = cos(turn_rad), .sin_t = sin(turn_rad)};
    for (size_t i = 0; i < plan->point_count; i++)
        widen(&x, plan->points[i].at.easting_m, plan->points[i].at.northing_m);
    for (size_t i = 0; i < plan->stake_count; i++)
        widen(&x, plan->stakes[i].at.easting_m, plan->stakes[i].at.northing_m);
    for (size_t i = 0; i < plan->rim_count; i++) widen_by_path(&x, &plan->rims[i]);
    for (size_t i = 0; i < plan->feature_count; i++)
        for (size_t k = 0; k < plan->features[i].shape.count; k++) widen_by_path(&x, &plan->features[i].shape.paths[k]);
    *low = x.low;
    *high = x.high;
    return x.any;
}
