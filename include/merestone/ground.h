/** @file merestone/ground.h  The ground as triangles that honour breaklines; levels, contours, profiles, volumes. */
#ifndef MERESTONE_GROUND_H
#define MERESTONE_GROUND_H
#include "merestone/geometry.h"
#include "merestone/survey.h"
#ifdef __cplusplus
extern "C" {
#endif

/* ---- constrained Delaunay triangulation: plain arrays in and out ---- */

typedef struct mst_triangulation mst_triangulation; /**< opaque: neighbours must stay consistent */

/** Points and segments as plain arrays, borrowed for the call. */
typedef struct mst_triangulation_input {
    const double (*points)[2]; /**< [point_count] easting, northing */
    size_t point_count;
    const uint32_t (*segments)[2]; /**< [segment_count] breaklines as point indices; may cross, touch and overlap */
    size_t segment_count;
    int threads; /**< 0 or 1: one; same triangles at every count */
} mst_triangulation_input;

/** Builds in @p arena, which also frees it. Same input, same bits, whatever the number of threads.
 *
 * Exact: every triangle is counter-clockwise and every edge that is no breakline is locally Delaunay, by mst_orient2d
 * and mst_incircle. Where four places lie on one circle the diagonal starts at the westernmost of them, of two at the
 * southernmost; so the triangles do not depend on the order of the points either.
 * Points at one place are merged (mst_triangulation_representative), segments between merged points are left out.
 * A segment is split at the vertices on it. Segments that cross get a new vertex; it is rounded to doubles, so their
 * halves may lie off the segment by some units in the last place of the coordinates. A crossing within 8 such units of
 * an end goes through the end instead. Where doubles leave no room for a vertex it goes through the nearest vertex
 * within 8,192 units (8 micrometres on a national grid), as do segments that run along each other but for rounding.
 *
 * @retval MST_TOO_FEW       fewer than three places
 * @retval MST_UNDETERMINED  all on one line
 * @retval MST_INVALID       not finite, beyond 2^240 m or closer to zero than 2^-180 m but not zero; more than 2^27
 * points; index out of range; two segments cross so close to a point that doubles cannot tell the sides, naming both
 * @retval MST_NO_MEMORY
 *
 * O(count log count), on ordinary data O(count); some 70 bytes a point at the peak beside the input's 16, 80 with
 * segments. Filling the gap of one segment across k edges takes O(k^2) at worst, O(k log k) as a rule. */
mst_status mst_triangulation_build(const mst_triangulation_input *input, mst_arena *arena, mst_triangulation **result,
                                   mst_error *error) MST_CHECKED;
/** @return [*count][3] vertex indices, counter-clockwise; indices >= point_count are crossing vertices. */
const uint32_t (*mst_triangulation_corners(const mst_triangulation *t, size_t *count))[3];
/** @return [count][3]: the triangle across the edge opposite to each corner, UINT32_MAX outside. */
const uint32_t (*mst_triangulation_neighbours(const mst_triangulation *t))[3];
/** True when the edge opposite to corner @p corner of triangle @p triangle is a breakline. */
bool mst_triangulation_edge_fixed(const mst_triangulation *t, uint32_t triangle, int corner);
/** All vertices: the input's points, then the crossings. */
const double (*mst_triangulation_vertices(const mst_triangulation *t, size_t *count))[2];
/** A crossing vertex: the two segments that cross (indices into the input's segments) and where along the first and
 * second (0..1). */
typedef struct mst_crossing {
    uint32_t vertex, segment_a, segment_b;
    double along_a, along_b;
} mst_crossing;
const mst_crossing *mst_triangulation_crossings(const mst_triangulation *t, size_t *count);
/** @return the index of the point that stands for point @p i (itself unless it was merged into an earlier one). */
uint32_t mst_triangulation_representative(const mst_triangulation *t, uint32_t i);

/* ---- a triangulation that changes in place ---- */

/** Points and breaklines that come and go; a change touches the triangles around it alone. */
typedef struct mst_live mst_live;

/** Builds as mst_triangulation_build, copies the input and keeps what changes need: some 150 bytes a point.
 *
 * Points and segments go by their numbers in the input; those that are added later count on. Triangles are those that
 * mst_triangulation_build would make of the points and segments at the time, but for crossings of breaklines, which may
 * differ by rounding. Not thread-safe. */
mst_status mst_live_begin(const mst_triangulation_input *input, mst_arena *arena, mst_live **live,
                          mst_error *error) MST_CHECKED;
/** Adds a point; at a place that is taken it is merged. O(cube root of all points) to find the place, less near the
 * change before; on ordinary data O(1) to change it.
 * @param point its number; may be NULL @retval MST_INVALID a coordinate out of range, more than 2^27 points */
mst_status mst_live_add_point(mst_live *live, const double at[2], uint32_t *point, mst_error *error) MST_CHECKED;
/** Takes a point out. Segments that only pass through it close up.
 * @retval MST_NOT_FOUND no such point (any more); MST_INVALID a segment ends there, naming it; MST_TOO_FEW,
 * MST_UNDETERMINED nothing but a line would be left. On any of these nothing changes. */
mst_status mst_live_remove_point(mst_live *live, uint32_t point, mst_error *error) MST_CHECKED;
/** Adds a breakline segment between two points, as in mst_triangulation_build.
 * @param segment its number; may be NULL @retval MST_NOT_FOUND no such point; MST_INVALID it crosses another one too
 * close to a point; nothing changes then, but for the rounding of crossings */
mst_status mst_live_add_segment(mst_live *live, uint32_t from, uint32_t to, uint32_t *segment,
                                mst_error *error) MST_CHECKED;
/** Takes a segment out, with the crossings on it. @retval MST_NOT_FOUND no such segment (any more) */
mst_status mst_live_remove_segment(mst_live *live, uint32_t segment, mst_error *error) MST_CHECKED;
/** The triangles as they are now, copied into @p arena. The crossings' numbers begin behind those of all points there
 * ever were; the representative of a removed point is UINT32_MAX. O(points). */
mst_status mst_live_triangles(const mst_live *live, mst_arena *arena, mst_triangulation **result,
                              mst_error *error) MST_CHECKED;

/* ---- the ground model ---- */

typedef struct mst_ground_point {
    double easting_m, northing_m, elevation_m;
    uint32_t source; /**< adjusted point index or UINT32_MAX */
} mst_ground_point;
typedef struct mst_ground_line {
    const char *name;
    const uint32_t *points;
    size_t count;
    bool closed;
} mst_ground_line;
typedef struct mst_ground_input {
    const mst_ground_point *points;
    size_t point_count;
    const mst_ground_line *breaklines;
    size_t breakline_count;
    const mst_shape *boundary; /**< NULL: the hull, less long outer triangles */
    const mst_shape *holes;
    size_t hole_count;
    double merge_m;        /**< points closer than this count as one; 0 = 0.001 */
    double merge_height_m; /**< their levels may differ by this much, else refused; 0 = 0.05 */
    int threads; /**< for the building and, later, for contours and levels at many places; same results at any number */
} mst_ground_input;

typedef struct mst_ground mst_ground; /**< opaque; triangles with levels, search structure */

/** Points without a level (NaN) are left out; a breakline does not count beside them (with a warning).
 * Points within merge_m count as one, at the westernmost of them (of two the southernmost), with their mean level;
 * neither depends on the order of the points. Where two breaklines cross, the mean of their levels counts
 * (with a warning when they differ by over 20 mm). Boundary and holes: edges between ground points are breaklines;
 * others cut the triangles and take their level from the ground (arcs flattened to 5 mm). Without a boundary the hull
 * counts, less long thin triangles on the outside, longest edge first: those whose outer edge is no breakline, is
 * longer than 12 times the median edge, and is seen from the corner opposite under 120 degrees or more; the corner
 * opposite must lie inside.
 * @retval MST_TOO_FEW fewer than 3 points with a level; MST_UNDETERMINED all on one line, or none inside the boundary;
 *         MST_INVALID two levels at one place, naming both; a point without a place; a breakline without its point */
mst_status mst_ground_build(const mst_ground_input *input, mst_arena *arena, mst_ground **ground,
                            mst_error *error) MST_CHECKED;
/** A surface that comes as triangles (out of a file) as it is: no boundary, no merging. Faces may turn either way;
 * those without area in plan are left out with a warning.
 * @param faces [face_count][3] indices into points. @retval MST_INVALID a point without place or level, an index out of
 * range, faces over each other at an edge; MST_TOO_FEW no face */
mst_status mst_ground_from_triangles(const mst_ground_point points[], size_t point_count, const uint32_t (*faces)[3],
                                     size_t face_count, mst_arena *arena, mst_ground **ground,
                                     mst_error *error) MST_CHECKED;
/** The ground of a site: every point with plan and level, less those that only features of role `none` use.
 * Features of role `breakline` force their edges, of role `boundary` limit the ground (a line closes on itself; with
 * several, ground inside any of them counts), areas of role `hole` are cut out. Arcs flattened to 5 mm, with levels
 * between the measured points in proportion to the way. A feature without a place is named in the warnings.
 * @retval as mst_ground_build */
mst_status mst_ground_from_site(const mst_site *site, const mst_adjustment *adjustment, mst_arena *arena,
                                mst_ground **ground, mst_error *error) MST_CHECKED;

typedef struct mst_ground_figures {
    size_t points, triangles;
    double plan_area_m2, slope_area_m2, lowest_m, highest_m;
    const char **warnings;
    size_t warning_count;
} mst_ground_figures;
void mst_ground_describe(const mst_ground *ground, mst_ground_figures *figures);
/** Triangles of the model (inside the boundary, outside holes): [*count][3] indices into the vertices. More than 10,000
 * triangles follow a curve, so that neighbours lie near each other in memory, and vertices stand in the order in which
 * the triangles use them; else vertices stand in the order of the points. */
const uint32_t (*mst_ground_triangles(const mst_ground *ground, size_t *count))[3];
/** [*count] vertices; `source` UINT32_MAX where a vertex is not a measured point. */
const mst_ground_point *mst_ground_vertices(const mst_ground *ground, size_t *count);
/** Outer and inner rims of the model as closed rings, for drawing. */
mst_status mst_ground_rims(const mst_ground *ground, mst_arena *arena, mst_path **rims, size_t *count,
                           mst_error *error) MST_CHECKED;

/** For views, one a triangle: rise over run, where it falls to (NaN on a level one), and its brightness 0..1 in a light
 * from the north-west, 45 degrees up. */
typedef struct mst_face {
    double slope, fall_bearing_rad, shade;
} mst_face;
/** @param exaggeration of heights for the shade alone (2 or 3 shows a garden's falls). @param faces [triangles].
 * @retval MST_NO_MEMORY */
mst_status mst_ground_faces(const mst_ground *ground, double exaggeration, mst_arena *arena, mst_face **faces,
                            mst_error *error) MST_CHECKED;

/** Bands of slope by what they mean on the job: water stands, paving, lawn, ... , too steep to mow, steep bank. */
enum { MST_SLOPE_BANDS = 8 };
/** @return the upper end of a band in percent; INFINITY for the last one */
double mst_slope_band_end(int band);
/** @param slope rise over run. @return 0 .. MST_SLOPE_BANDS - 1; a slope at the end of a band belongs to it */
int mst_slope_band(double slope);

enum { MST_GROUND_TERMS = 36 }; /**< three corners, each between at most a dozen measured points */
/** A level on the ground, with the weights of the measured points in it (by adjusted point index). */
typedef struct mst_ground_level {
    double elevation_m, slope, /**< rise over run */ fall_bearing_rad;
    mst_gradient_term terms[MST_GROUND_TERMS];
    size_t term_count;
} mst_ground_level;
/** The level alone, by a walk from a hint: a place near the last one costs a few triangles.
 * @param hint a triangle's number, from the call before; any number to begin with; updated. @return NaN outside the
 * model */
double mst_ground_elevation(const mst_ground *ground, mst_point p, uint32_t *hint);
/** Levels at many places at once, as mst_ground_elevation without a hint, on the ground's threads. Places in any order:
 * they are looked up side by side. @param levels_m [count] NaN outside the model */
void mst_ground_elevations(const mst_ground *ground, const mst_point places[], size_t count, double levels_m[]);
/** The nearest place on a breakline of the ground, or on a piece of its boundary that runs through measured points.
 * @param at, distance_m may be NULL. @return false without any breakline */
bool mst_ground_nearest_breakline(const mst_ground *ground, mst_point p, mst_point3 *at, double *distance_m);
/** @return false outside the model. */
bool mst_ground_level_at(const mst_ground *ground, mst_point p, mst_ground_level *level);

typedef struct mst_contour {
    double level_m;
    bool closed, index;
    const double (*points)[2];
    size_t count;
} mst_contour;
/** Contours at every multiple of @p interval_m, exact on the triangles, never crossing. Every fifth is an index
 * contour. A contour is the edge of the ground at or above its level (a vertex at the level counts as above, so saddles
 * and flats need no other rule); higher ground is on its left. Closed, or from rim to rim.
 * @retval MST_INVALID interval not > 0, or more than 10,000 levels */
mst_status mst_ground_contours(const mst_ground *ground, double interval_m, mst_arena *arena, mst_contour **contours,
                               size_t *count, mst_error *error) MST_CHECKED;

/** As mst_ground_contours, smoothed: the places slide along the triangles' edges by at most 0.45 of the interval in
 * level, so that no line crosses another or itself. For drawing; levels and volumes come from the exact ones. */
mst_status mst_ground_smooth_contours(const mst_ground *ground, double interval_m, mst_arena *arena,
                                      mst_contour **contours, size_t *count, mst_error *error) MST_CHECKED;
/** A place for a contour's level: the middle of the text, and the direction of the line there (higher ground on its
 * left, so text set along it reads from the lower side). */
typedef struct mst_contour_label {
    size_t contour;
    mst_point at;
    double bearing_rad;
} mst_contour_label;
/** Places on index contours, one in each stretch of about @p apart_m, where the line is straightest over @p width_m.
 * Lines shorter than two widths get none. @retval MST_INVALID a width or distance not above 0 */
mst_status mst_contour_labels(const mst_contour contours[], size_t count, double width_m, double apart_m,
                              mst_arena *arena, mst_contour_label **labels, size_t *label_count,
                              mst_error *error) MST_CHECKED;

typedef struct mst_profile_point {
    double chainage_m, elevation_m;
    mst_point at;
} mst_profile_point; /**< elevation NaN in a gap */
/** Ground along a path (arcs flattened to 5 mm): a point wherever it crosses a triangle's edge, and at its vertices.
 * A gap begins and ends with a point of NaN at its chainage. @retval MST_TOO_FEW no two different places */
mst_status mst_ground_profile(const mst_ground *ground, const mst_path *path, mst_arena *arena,
                              mst_profile_point **points, size_t *count, mst_error *error) MST_CHECKED;

/* ---- volumes between the ground and a surface, by exact prisms ---- */

/** A surface over part of the plan: z = a + b (E - e0) + c (N - n0) on a shape. */
typedef struct mst_plane {
    double e0_m, n0_m, level_m, slope_e, slope_n;
} mst_plane;
typedef struct mst_prism_parts mst_prism_parts; /**< opaque: where a volume lies on the triangles */
typedef struct mst_prism_sum {
    double cut_m3, fill_m3, area_m2; /**< area over which both surfaces exist */
    double uncovered_m2;             /**< of the shape, where there is no ground */
    double cut_area_m2, fill_area_m2;
    double highest_m,
        lowest_m; /**< ground less strip, minus the surface, where it is greatest and least; NaN without area */
    mst_gradient_term *cut_terms, *fill_terms;
    size_t term_count;            /**< derivative by each measured point, same order in both */
    const mst_prism_parts *parts; /**< for mst_parts_spread; NULL where no ground was measured */
} mst_prism_sum;
/** Cut and fill between the ground (less @p strip_m taken off it) and a plane inside a shape. Exact on the triangles
 * (arcs of the shape flattened to 1 mm). Cut where the ground is above. */
mst_status mst_ground_to_plane(const mst_ground *ground, const mst_shape *shape, const mst_plane *plane, double strip_m,
                               mst_arena *arena, mst_prism_sum *sum, mst_error *error) MST_CHECKED;
/** Cut and fill between two grounds over their common area: cut where @p before is above @p after.
 * Without a shape, uncovered is what of @p before has no @p after.
 * @param after_terms as cut_terms and fill_terms of @p sum but for the points of @p after; may be NULL */
mst_status mst_ground_to_ground(const mst_ground *before, const mst_ground *after,
                                const mst_shape *within, /**< NULL = all */
                                mst_arena *arena, mst_prism_sum *sum, mst_prism_sum *after_terms,
                                mst_error *error) MST_CHECKED;
/** Slope area of the ground inside a shape, and its plan area there. */
mst_status mst_ground_slope_area(const mst_ground *ground, const mst_shape *shape, mst_arena *arena,
                                 double *slope_area_m2, double *covered_m2, mst_error *error) MST_CHECKED;

/** Volumes over a level as a piecewise cubic, exact, for many levels of the whole ground. */
typedef struct mst_volume_curve mst_volume_curve;
typedef struct mst_level_volume {
    double cut_m3, fill_m3, cut_area_m2, fill_area_m2;
} mst_level_volume; /**< ground above, below the level */
/** O(triangles log triangles) once. @retval MST_NO_MEMORY */
mst_status mst_ground_volume_curve(const mst_ground *ground, mst_arena *arena, mst_volume_curve **curve,
                                   mst_error *error) MST_CHECKED;
/** O(log triangles). As mst_ground_to_plane with a level plane over the whole ground. */
mst_level_volume mst_volume_at(const mst_volume_curve *curve, double level_m);

/* ---- trust: the ground between the points ---- */

enum { MST_KERNEL_TERMS = 8 };
/** How rough the ground is between its points, as the points themselves tell: each is compared with the ground drawn
 * without it (points on breaklines are not). Levels and slopes are taken out; what is left has the generalised
 * covariance K(h) = sum of kernel[k] h^(k/2), which serves for any sum of levels whose weights carry no level and no
 * slope. See docs/method.md. */
typedef struct mst_roughness {
    bool known;    /**< false: not asked yet, or fewer than 5 points could be compared */
    size_t checks; /**< points compared */
    double rms_m;  /**< root mean square of level less that of the ground without it; NaN without any */
    double power;  /**< mean exponent of h: 1 rough, 3 smooth */
    double kernel[MST_KERNEL_TERMS]; /**< zero where the ground is exactly plane */
    double crossings;                /**< of what a normal law expects to lie unseen beyond a level; 1: as expected */
    double degrees_of_freedom;
} mst_roughness;
/** Estimates the roughness and keeps it in the ground. O(points). Never fails for want of points: see known.
 * @param adjustment gives the readings' own errors, which are no roughness; may be NULL
 * @param arena the ground's own. @retval MST_NO_MEMORY */
mst_status mst_ground_trust(mst_ground *ground, const mst_adjustment *adjustment, mst_arena *arena,
                            mst_error *error) MST_CHECKED;
/** What mst_ground_trust found; known is false before. */
const mst_roughness *mst_ground_roughness(const mst_ground *ground);
/** Variance of the ground's own level about the triangle's at a place, m2; 0 at the points. The readings' errors come
 * on top. NaN outside the model or where the roughness is not known. */
double mst_ground_between(const mst_ground *ground, mst_point p);

/** Variance of a volume from the ground between the points, over the whole area at once (neighbouring errors go
 * together); net is cut + fill - 2 cross. */
typedef struct mst_spread {
    bool known;
    double cut_m6, fill_m6, cross_m6;
    double cut_shift_m3,
        fill_shift_m3;         /**< by how much the true volume is expected to be larger: triangles cut off tops */
    double degrees_of_freedom; /**< behind the roughness */
} mst_spread;
/** Of several sums together, which may lie on several grounds (taken as independent). @param parts of the sums
 * @retval MST_NO_MEMORY */
mst_status mst_parts_spread(const mst_prism_parts *const parts[], size_t count, mst_spread *spread,
                            mst_error *error) MST_CHECKED;

/** A place where one more point would tell most of the ground. */
typedef struct mst_next_point {
    mst_point at;
    double sd_m; /**< of the ground's level there, with the points so far and those before it in the list */
    double left; /**< share of the whole ground's variance between its points that is left once it is taken */
} mst_next_point;
enum { MST_NEXT_MOST = 100 };
/** The @p wanted best places one after the other, middles of triangles. Fewer where the ground is exactly plane.
 * O(triangles) a point. @retval MST_UNDETERMINED the roughness is not known; MST_INVALID over MST_NEXT_MOST */
mst_status mst_ground_next_points(const mst_ground *ground, size_t wanted, mst_arena *arena, mst_next_point **points,
                                  size_t *count, mst_error *error) MST_CHECKED;

/* ---- water ---- */

/** Where water stands until it spills. A lake within a larger one is not listed by itself. */
typedef struct mst_low_spot {
    mst_point bottom, spill;                               /**< lowest place; where it runs over */
    double bottom_m, spill_m, depth_m, area_m2, volume_m3; /**< filled to the brim */
    uint32_t bottom_vertex, spill_vertex;
    double between_m2; /**< mean variance of the ground between the points in it; NaN where not known */
} mst_low_spot;
/** Where water leaves the model: the ground that runs to one stretch of the rim. */
typedef struct mst_outfall {
    mst_point at;
    double elevation_m, catchment_m2;
} mst_outfall;
typedef struct mst_water mst_water; /**< opaque: how high water stands everywhere, and which way it leaves */

/** Floods the ground from its outer rim inward, over which water leaves freely; holes (houses) are walls. On a
 * triangulated surface the lowest way out runs along edges, so this is exact: priority flood over the vertices (R.
 * Barnes, C. Lehman, D. Mulla, Computers & Geosciences 62 (2014) 117-127). O(n log n). Borrows the ground. */
mst_status mst_water_build(const mst_ground *ground, mst_arena *arena, mst_water **water, mst_error *error) MST_CHECKED;
/** @return the low spots, deepest first; [*count] */
const mst_low_spot *mst_water_low_spots(const mst_water *water, size_t *count);
/** Level to which water stands over a vertex: its own level where it runs off. */
double mst_water_level(const mst_water *water, uint32_t vertex);
/** The way of a drop from @p from to the rim: steepest descent over facets and along edges; out of a low spot over its
 * spill. @param path in @p arena, with levels. @retval MST_NO outside the model */
mst_status mst_water_path(const mst_water *water, mst_point from, mst_arena *arena, mst_path *path,
                          mst_error *error) MST_CHECKED;
/** Catchments: every triangle's area goes where the drop from its middle leaves. Places on the rim within @p apart_m of
 * each other count as one. Largest first. @param wall_m2 [3 * triangles] receives the area that runs against the edge
 * of a hole opposite each corner; may be NULL */
mst_status mst_water_outfalls(const mst_water *water, double apart_m, mst_arena *arena, mst_outfall **outfalls,
                              size_t *count, double wall_m2[], mst_error *error) MST_CHECKED;

/** Mean slope of the ground inside a shape, with the variances from the readings' terms and from the ground between. */
typedef struct mst_fall {
    double slope_e, slope_n, covered_m2; /**< rise over run towards east, north */
    mst_gradient_term *e_terms, *n_terms;
    size_t term_count;
    double between[3]; /**< variance of slope_e, covariance, variance of slope_n; NaN where not known */
} mst_fall;
/** @retval MST_NO no ground inside; as mst_ground_slope_area */
mst_status mst_ground_fall(const mst_ground *ground, const mst_shape *shape, mst_arena *arena, mst_fall *fall,
                           mst_error *error) MST_CHECKED;

/** The ground with a plane surface let into it: inside @p shape (holes of it are filled over) the plane, around it a
 * step 10 mm wide, elsewhere the ground as it was. Measured points outside keep their readings behind them, and the
 * ground between them its roughness; the plane is exact. Insets one after the other: earlier planes are ground to later
 * ones, exact.
 * @retval MST_INVALID an outline that crosses itself; MST_UNDETERMINED without area */
mst_status mst_ground_inset(const mst_ground *ground, const mst_shape *shape, const mst_plane *plane, mst_arena *arena,
                            mst_ground **finished, mst_error *error) MST_CHECKED;

/* ---- point clouds: thinned to a stated tolerance in bounded memory ---- */

typedef struct mst_cloud_point {
    double easting_m, northing_m, elevation_m;
    uint8_t class_code; /**< as in LAS: 0, 1 unclassified, 2 ground */
} mst_cloud_point;
/** A stream of points that can be read from its start again, always the same ones in the same order. */
typedef struct mst_cloud_source {
    void *self;
    mst_status (*rewind)(void *self, mst_error *error);
    /** Fills up to @p room points. @param count receives how many; 0 at the end */
    mst_status (*read)(void *self, mst_cloud_point points[], size_t room, size_t *count, mst_error *error);
    uint64_t expected; /**< points, as far as known, for the progress; 0 = unknown */
} mst_cloud_source;
/** Room outside of memory, written and read at byte places; what was not written is never read. */
typedef struct mst_cloud_store {
    void *self;
    mst_status (*write)(void *self, uint64_t at, const void *data, size_t size, mst_error *error);
    mst_status (*read)(void *self, uint64_t at, void *data, size_t size, mst_error *error);
} mst_cloud_store;
/** Told of the progress now and then: 0..1 and what is being done. `tell` may be NULL. */
typedef struct mst_progress {
    void *self;
    void (*tell)(void *self, double fraction, const char *sentence);
} mst_progress;

/** Points in memory as a source; both borrowed. */
typedef struct mst_cloud_list {
    const mst_cloud_point *points;
    size_t count, at;
} mst_cloud_list;
mst_cloud_source mst_cloud_from_list(mst_cloud_list *list);
/** Lets the classes with their bit set pass (bit c of wanted[c / 64]). Borrows; @p filter must outlive the source. */
typedef struct mst_cloud_classes {
    mst_cloud_source from;
    uint64_t wanted[4];
    uint64_t seen[256]; /**< in the newest pass */
} mst_cloud_classes;
mst_cloud_source mst_cloud_of_classes(mst_cloud_classes *filter);

typedef struct mst_cloud_thin_options {
    double tolerance_m; /**< > 0: the surface stays within it of every point, up or down */
    double closest_m;   /**< no two kept points are closer in plan; 0 = a tenth of the tolerance, 5 mm at least */
    size_t points_most; /**< refuses to keep more; 0 = 2,000,000 */
    const mst_cloud_store *store; /**< for what goes beyond `memory_points`; NULL: all in memory */
    size_t memory_points;         /**< points held in memory before the store is used; 0 = 4,000,000 (96 MB) */
    mst_progress progress;
} mst_cloud_thin_options;
/** How a cloud lies to a surface; surface less point. */
typedef struct mst_cloud_fit {
    uint64_t count;          /**< points of the cloud */
    double largest_m, rms_m; /**< vertical error over all of them */
    mst_point3 worst;        /**< the point with the largest error */
    uint64_t beyond;         /**< points with an error over the tolerance: another level at a place that is taken */
    uint64_t outside;        /**< points outside of the surface in plan, less than closest_m; compared with its rim */
} mst_cloud_fit;
typedef struct mst_cloud_thinned {
    mst_point3 *points;
    size_t count;
    mst_cloud_fit fit;
    int sweeps;
} mst_cloud_thinned;

/** Chooses points whose Delaunay triangulation stays within the tolerance of every point of the cloud.
 *
 * Greedy insertion of the worst point (M. Garland, P. Heckbert, Fast polygonal approximation of terrains and height
 * fields, CMU-CS-95-181, 1995) into one triangulation of the whole, group of neighbouring points by group, until no
 * group has a point beyond the tolerance; begun from a sample of one point a cell, and from the hull. Two passes
 * through the source; a third one measures the error on a triangulation built anew. Memory: 100 bytes for each kept
 * point, the share of the cloud that the options allow, and 60 MB; O(log n) a point. The surface goes through points as
 * they are, so noise keeps many: choose the tolerance four times its sd or more.
 * @param thinned  points in @p arena, in no particular order
 * @retval MST_INVALID a point without a place, a tolerance that is not > 0, or more points to keep than points_most;
 *         MST_TOO_FEW fewer than three points; MST_UNDETERMINED all on one line; as the source and the store */
mst_status mst_cloud_thin(const mst_cloud_source *source, const mst_cloud_thin_options *options, mst_arena *arena,
                          mst_cloud_thinned *thinned, mst_error *error) MST_CHECKED;
/** Measures the cloud against the Delaunay triangulation of @p points. One pass; nothing is kept in @p arena. */
mst_status mst_cloud_measure(const mst_cloud_source *source, const mst_point3 points[], size_t count,
                             double tolerance_m, const mst_progress *progress, mst_cloud_fit *fit,
                             mst_error *error) MST_CHECKED;

/** What grows and stands is told from the ground by its height over the surroundings. Zeros: the values in brackets. */
typedef struct mst_cloud_ground_options {
    double cell_m;   /**< cells of lowest points [1; larger where the cloud has over 8 million of them] */
    double window_m; /**< widest thing to take out, a building [20] */
    double slope;    /**< steepest ground, rise over run [0.3] */
    double near_m;   /**< how far a ground point may be off the surface [0.15] */
    double step_m;   /**< largest height that still counts as ground's own in one step [2.5] */
    mst_progress progress;
} mst_cloud_ground_options;
/** A filter that lets the ground of a cloud pass. Made by mst_cloud_find_ground, in its arena. */
typedef struct mst_cloud_ground mst_cloud_ground;
/** Progressive morphological filter (K. Zhang et al., IEEE Transactions on Geoscience and Remote Sensing 41 (2003)
 * 872-882) on a grid of lowest points: two passes, memory by the grid alone. A point is ground where it lies within
 * `near_m`, and the rise of the surface over half a cell, of the surface through the lowest points that remain.
 * @retval MST_INVALID an option out of range, a point without a place; MST_TOO_FEW no point */
mst_status mst_cloud_find_ground(const mst_cloud_source *source, const mst_cloud_ground_options *options,
                                 mst_arena *arena, mst_cloud_ground **ground, mst_error *error) MST_CHECKED;
/** The points of the same source that are ground, with class_code 2. */
mst_cloud_source mst_cloud_ground_points(mst_cloud_ground *ground);
#ifdef __cplusplus
}
#endif
#endif
