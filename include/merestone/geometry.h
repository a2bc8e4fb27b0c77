/** @file merestone/geometry.h  Points, paths of lines and true arcs, polygons, fits and exact predicates. */
#ifndef MERESTONE_GEOMETRY_H
#define MERESTONE_GEOMETRY_H
#include "merestone/base.h"
#ifdef __cplusplus
extern "C" {
#endif

/** A position in plan. */
typedef struct mst_point {
    double easting_m, northing_m;
} mst_point;
/** A position with its level; elevation NaN where it has none. */
typedef struct mst_point3 {
    double easting_m, northing_m, elevation_m;
} mst_point3;

/* ---- exact predicates (own code after Shewchuk, Adaptive Precision Floating-Point Arithmetic, 1997) ---- */

/** > 0 when a, b, c turn counter-clockwise, < 0 clockwise, 0 exactly on one line. The sign is exact; 0 where a
 * coordinate is not a number or beyond 2^250. Coordinates are 0 or at least 2^-180 m: below, products run out of
 * exponent. */
double mst_orient2d(const double a[2], const double b[2], const double c[2]);
/** > 0 when d lies inside the circle through a, b, c (counter-clockwise). The sign is exact; 0 as above. */
double mst_incircle(const double a[2], const double b[2], const double c[2], const double d[2]);

/* ---- circles ---- */

typedef struct mst_circle {
    mst_point centre;
    double radius_m, rms_m;
} mst_circle;
/** The circle through three points. @retval MST_UNDETERMINED they lie on one line */
mst_status mst_circle_through(mst_point a, mst_point b, mst_point c, mst_circle *circle, mst_error *error) MST_CHECKED;
/** The circle with the least sum of squared radial distances (geometric fit; Gander, Golub, Strebel, BIT 34 (1994)).
 * @param points [count >= 3]. @retval MST_TOO_FEW, MST_UNDETERMINED on one line, MST_NOT_CONVERGED no arc, MST_INVALID
 */
mst_status mst_circle_fit(const mst_point points[], size_t count, mst_circle *fit, mst_error *error) MST_CHECKED;
/** Radius from chord and rise at mid-chord. */
double mst_arc_radius(double chord_m, double rise_m);

/* ---- paths: vertices joined by straight lines and circular arcs ---- */

/** A vertex and the way on to the next one: bulge = tan(angle / 4), > 0 counter-clockwise, 0 straight. */
typedef struct mst_path_vertex {
    double easting_m, northing_m, elevation_m, bulge;
} mst_path_vertex;
/** One run of vertices. A closed path joins its last vertex to its first, which is not repeated. */
typedef struct mst_path {
    mst_path_vertex *vertices;
    size_t count;
    bool closed;
} mst_path;
/** An outline and its holes: paths[0] the outline, the rest holes (any direction). */
typedef struct mst_shape {
    mst_path *paths;
    size_t count;
} mst_shape;

double mst_path_length(const mst_path *path); /**< plan length, m; arcs exactly */
double
mst_path_slope_length(const mst_path *path); /**< along the ground between levels, m; NaN where a level is missing */
/** Signed plan area of a closed path, m2; > 0 counter-clockwise; arcs exactly. */
double mst_path_area(const mst_path *path);
double mst_shape_area(const mst_shape *shape);   /**< outline less holes, m2, >= 0 */
double mst_shape_length(const mst_shape *shape); /**< length of the outline, m */
/** Straight pieces that leave the path by at most @p sagitta_m. Elevations run linearly along an arc.
 * @param out in @p arena, bulge 0 everywhere; the original vertices stay among them, exactly */
mst_status mst_path_flatten(const mst_path *path, double sagitta_m, mst_arena *arena, mst_path *out,
                            mst_error *error) MST_CHECKED;
/** The same with the corners between the ends of each arc moved out a little, so that its pieces enclose what the arc
 * does: areas and volumes inside the flattened path are those inside the path. */
mst_status mst_path_flatten_even(const mst_path *path, double sagitta_m, mst_arena *arena, mst_path *out,
                                 mst_error *error) MST_CHECKED;
/** A smooth curve through points as tangent arcs (two to a span), so that it stays arcs everywhere.
 * Tangents from the circle through each point and its neighbours. @param out in @p arena
 * @retval MST_TOO_FEW; MST_INVALID two points that follow at one place; MST_UNDETERMINED it turns straight back */
mst_status mst_path_curve(const mst_point3 points[], size_t count, bool closed, mst_arena *arena, mst_path *out,
                          mst_error *error) MST_CHECKED;
/** @return true and the place where a path (arcs flattened to 1 mm) crosses or touches itself other than at its joints.
 * Repeated vertices do not count. True with a place of NaN when a vertex has no place or memory is short. O(n log n) on
 * paths of the field. @param where may be NULL */
bool mst_path_crosses_itself(const mst_path *path, mst_point *where);
/** Inside or on the outline (arcs to 1 nm) and not inside a hole; a hole's edge belongs to the shape. Arcs exactly. */
bool mst_shape_contains(const mst_shape *shape, mst_point p);
/** The point at @p chainage_m along the path, with the direction of travel there (bearing, rad). @return false outside.
 */
bool mst_path_at(const mst_path *path, double chainage_m, mst_point3 *point, double *bearing_rad);
/** Centre, radius and angles of the arc that leaves @p a with its bulge towards @p b. The start is counted
 * counter-clockwise from east; the sweep is > 0 counter-clockwise. Straight: radius and angles 0, centre @p a. */
void mst_arc_of(const mst_path_vertex *a, const mst_path_vertex *b, mst_point *centre, double *radius_m,
                double *start_rad, double *sweep_rad);

/* ---- little things of plane surveying ---- */

double mst_distance(mst_point a, mst_point b);
double mst_bearing(mst_point from, mst_point to); /**< clockwise from north, [0, 2 pi) */
/** The point where two bearings meet. @retval MST_UNDETERMINED parallel */
mst_status mst_intersect_bearings(mst_point a, double bearing_a, mst_point b, double bearing_b, mst_point *p,
                                  mst_error *error) MST_CHECKED;
/** The point at two distances, to the left of the line a-b (or to the right). @retval MST_UNDETERMINED they do not meet
 */
mst_status mst_intersect_distances(mst_point a, double from_a, mst_point b, double from_b, bool left, mst_point *p,
                                   mst_error *error) MST_CHECKED;
/** Position from the directions (circle readings, clockwise) to three known points. @retval MST_UNDETERMINED danger
 * circle */
mst_status mst_resection(const mst_point known[3], const double circle_rad[3], mst_point *p,
                         mst_error *error) MST_CHECKED;
/** Chainage along a-b and offset from it (right +) of p. */
void mst_chainage_offset(mst_point a, mst_point b, mst_point p, double *chainage_m, double *offset_m);
mst_point mst_from_chainage_offset(mst_point a, mst_point b, double chainage_m, double offset_m);

/** Shift, turn and scale that carry one frame onto another: E = e0 + scale (x cos t + y sin t),
 * N = n0 + scale (y cos t - x sin t), t clockwise. */
typedef struct mst_similarity {
    double e0_m, n0_m, turn_rad, scale, rms_m;
} mst_similarity;
/** Least squares over common points. @param with_scale false holds scale at 1.
 * rms_m is the root of the mean square of the residual distances.
 * @param residuals [count] to - transformed, or NULL. @retval MST_TOO_FEW count < 2, MST_UNDETERMINED all at one place
 */
mst_status mst_similarity_fit(const mst_point from[], const mst_point to[], size_t count, bool with_scale,
                              mst_similarity *fit, mst_point residuals[], mst_error *error) MST_CHECKED;
mst_point mst_similarity_apply(const mst_similarity *t, mst_point p);
#ifdef __cplusplus
}
#endif
#endif
