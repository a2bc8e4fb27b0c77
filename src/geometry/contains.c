/* Is a point inside? A ring of arcs is the ring of its chords, with the piece between each chord and its arc added or
 * taken away: parity of both decides. A point exactly on a chord is taken as a hair to the east (on a level chord: to
 * the north) in both, so that they agree. */
#include "geometry/arc.h"
#include <math.h>

static const double ON_ARC_M = 1e-9; /* a nanometre: above the rounding of a 1,000 km grid, under any reading */

typedef enum side { OUTSIDE, INSIDE, ON } side;

/* On which side of a -> b the point lies once it is moved by that hair: > 0 left. */
static double hair_side(const double a[2], const double b[2], double orient) {
    if (orient != 0) return orient;
    if (a[1] != b[1]) return a[1] < b[1] ? -1 : 1;
    return a[0] < b[0] ? 1 : -1;
}

/* How far the point lies outside the arc's circle, m (first order). */
static double outside_circle(const mst_path_vertex *v, const double a[2], const double b[2], const double p[2]) {
    double ue = a[0] - p[0], un = a[1] - p[1], we = b[0] - p[0], wn = b[1] - p[1], bulge = fabs(v->bulge);
    double power = 2 * bulge * (ue * we + un * wn) + (1 - bulge * bulge) * fabs(ue * wn - un * we);
    return power / (hypot(b[0] - a[0], b[1] - a[1]) * (1 + bulge * bulge));
}

static bool between(double a, double b, double x) { return fmin(a, b) <= x && x <= fmax(a, b); }

/* Flips *inside for each boundary between the point and the far east; ON ends the search. */
static side edge_side(const mst_path_vertex *v, const mst_path_vertex *next, const double p[2], bool *inside) {
    const double a[2] = {v->easting_m, v->northing_m}, b[2] = {next->easting_m, next->northing_m};
    if (p[0] == a[0] && p[1] == a[1]) return ON;
    if (a[0] == b[0] && a[1] == b[1]) return OUTSIDE;
    double orient = mst_orient2d(a, b, p);
    if (v->bulge == 0 && orient == 0 && between(a[0], b[0], p[0]) && between(a[1], b[1], p[1])) return ON;
    double moved = hair_side(a, b, orient);
    if ((a[1] <= p[1]) != (b[1] <= p[1]) && (moved > 0) == (a[1] < b[1])) *inside = !*inside;
    if (v->bulge == 0) return OUTSIDE;
    double beyond = outside_circle(v, a, b, p);
    bool arc_side = (moved < 0) == (v->bulge > 0);
    if (fabs(beyond) <= ON_ARC_M && (arc_side || orient == 0)) return ON;
    if (arc_side && beyond < 0) *inside = !*inside;
    return OUTSIDE;
}

static side ring_side(const mst_path *ring, const double p[2]) {
    bool inside = false;
    for (size_t i = 0; i < ring->count; i++)
        if (edge_side(&ring->vertices[i], mst_path_edge_end(ring, i), p, &inside) == ON) return ON;
    return inside ? INSIDE : OUTSIDE;
}

bool mst_shape_contains(const mst_shape *shape, mst_point point) {
    const double p[2] = {point.easting_m, point.northing_m};
    if (!isfinite(p[0]) || !isfinite(p[1])) return false;
    for (size_t i = 0; i < shape->count; i++) {
        side at = ring_side(&shape->paths[i], p);
        if (at == ON) return true;
        if (at == (i == 0 ? OUTSIDE : INSIDE)) return false;
    }
    return shape->count > 0;
}
