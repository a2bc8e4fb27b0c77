/* One edge of a path. With b = tan(angle / 4) and chord c: radius c (1 + b^2) / (4 b), angle 4 atan b. */
#include "geometry/arc.h"
#include <math.h>

static const double SMALL_BULGE = 0.05; /* under it the closed form cancels; six terms of the series hold 1e-16 */

size_t mst_path_edges(const mst_path *path) {
    if (path->count < 2) return 0;
    return path->closed ? path->count : path->count - 1;
}

const mst_path_vertex *mst_path_edge_end(const mst_path *path, size_t edge) {
    return &path->vertices[edge + 1 < path->count ? edge + 1 : 0];
}

bool mst_path_finite(const mst_path *path) {
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *v = &path->vertices[i];
        if (!isfinite(v->easting_m) || !isfinite(v->northing_m) || !isfinite(v->bulge)) return false;
    }
    return true;
}

static double chord_of(const mst_path_vertex *a, const mst_path_vertex *b) {
    return hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
}

double mst_edge_length(const mst_path_vertex *a, const mst_path_vertex *b) {
    double bulge = a->bulge, chord = chord_of(a, b);
    return bulge == 0 ? chord : chord * (1 + bulge * bulge) * (atan(bulge) / bulge);
}

/* (angle - sin angle) r^2 / 2 over c^2. */
static double segment_share(double b) {
    double b2 = b * b;
    if (fabs(b) < SMALL_BULGE)
        return b * (1.0 / 3 + b2 * (1.0 / 15 + b2 * (-1.0 / 105 + b2 * (1.0 / 315 + b2 * (-1.0 / 693 + b2 / 1287)))));
    return ((1 + b2) * (1 + b2) * atan(b) - b * (1 - b2)) / (8 * b2);
}

double mst_edge_segment_area(const mst_path_vertex *a, const mst_path_vertex *b) {
    double chord = chord_of(a, b);
    return a->bulge == 0 ? 0 : chord * chord * segment_share(a->bulge);
}

/* The chord to the place is the whole chord, shortened and turned: no centre is needed. */
mst_path_vertex mst_edge_at(const mst_path_vertex *a, const mst_path_vertex *b, double t) {
    if (t <= 0) return *a;
    if (t >= 1) return *b;
    double e = b->easting_m - a->easting_m, n = b->northing_m - a->northing_m;
    double elevation = a->elevation_m + t * (b->elevation_m - a->elevation_m);
    double half = 2 * atan(a->bulge), turn = (t - 1) * half;
    if (sin(half) == 0) return (mst_path_vertex){a->easting_m + t * e, a->northing_m + t * n, elevation, 0};
    double shorter = sin(t * half) / sin(half), c = shorter * cos(turn), s = shorter * sin(turn);
    return (mst_path_vertex){a->easting_m + e * c - n * s, a->northing_m + e * s + n * c, elevation, 0};
}

void mst_arc_of(const mst_path_vertex *a, const mst_path_vertex *b, mst_point *centre, double *radius_m,
                double *start_rad, double *sweep_rad) {
    double bulge = a->bulge, e = b->easting_m - a->easting_m, n = b->northing_m - a->northing_m;
    *centre = (mst_point){a->easting_m, a->northing_m};
    *radius_m = *start_rad = *sweep_rad = 0;
    if (bulge == 0 || (e == 0 && n == 0)) return;
    double aside = (1 - bulge * bulge) / (4 * bulge);
    double ce = e / 2 - aside * n, cn = n / 2 + aside * e;
    *centre = (mst_point){a->easting_m + ce, a->northing_m + cn};
    *radius_m = hypot(e, n) * (1 + bulge * bulge) / (4 * fabs(bulge));
    *start_rad = atan2(-cn, -ce);
    *sweep_rad = 4 * atan(bulge);
}
