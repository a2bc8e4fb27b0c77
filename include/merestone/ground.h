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
    const double (*points)[2];           /**< [point_count] easting, northing */
    size_t point_count;
    const uint32_t (*segments)[2];       /**< [segment_count] breaklines as point indices; may cross, touch and overlap */
    size_t segment_count;
    int threads;                         /**< 0 or 1: one; same triangles at every count */
} mst_triangulation_input;

/** Builds in @p arena, which also frees it. Same input, same bits, whatever the number of threads.
 *
 * Exact: every triangle is counter-clockwise and every edge that is no breakline is locally Delaunay, by mst_orient2d and
 * mst_incircle. Where four places lie on one circle the diagonal starts at the westernmost of them, of two at the
 * southernmost; so the triangles do not depend on the order of the points either.
 * Points at one place are merged (mst_triangulation_representative), segments between merged points are left out.
 * A segment is split at the vertices on it. Segments that cross get a new vertex; it is rounded to doubles, so their halves
 * may lie off the segment by some units in the last place of the coordinates. A crossing within 8 such units of an end, or
 * with no room for a vertex between its neighbours, goes through the vertex there instead.
 *
 * @retval MST_TOO_FEW       fewer than three places
 * @retval MST_UNDETERMINED  all on one line
 * @retval MST_INVALID       not finite, beyond 2^240 m or closer to zero than 2^-180 m but not zero; more than 2^27 points;
 *                           index out of range; two segments cross so close to a point that doubles cannot tell the sides,
 *                           naming both
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
typedef struct mst_crossing { uint32_t vertex, segment_a, segment_b; double along_a, along_b; } mst_crossing;
const mst_crossing *mst_triangulation_crossings(const mst_triangulation *t, size_t *count);
/** @return the index of the point that stands for point @p i (itself unless it was merged into an earlier one). */
uint32_t mst_triangulation_representative(const mst_triangulation *t, uint32_t i);

/* ---- the ground model ---- */

typedef struct mst_ground_point { double easting_m, northing_m, elevation_m; uint32_t source; /**< adjusted point index or UINT32_MAX */ } mst_ground_point;
typedef struct mst_ground_line { const char *name; const uint32_t *points; size_t count; bool closed; } mst_ground_line;
typedef struct mst_ground_input {
    const mst_ground_point *points; size_t point_count;
    const mst_ground_line *breaklines; size_t breakline_count;
    const mst_shape *boundary;              /**< NULL: the hull, less long outer triangles */
    const mst_shape *holes; size_t hole_count;
    double merge_m;                         /**< points closer than this count as one; 0 = 0.001 */
    double merge_height_m;                  /**< their levels may differ by this much, else refused; 0 = 0.05 */
    int threads;
} mst_ground_input;

typedef struct mst_ground mst_ground; /**< opaque; triangles with levels, search structure */

/** Points without a level (NaN) are left out; a breakline does not count beside them (with a warning).
 * Points within merge_m count as one with their mean level. Where two breaklines cross, the mean of their levels counts
 * (with a warning when they differ by over 20 mm). Boundary and holes: edges between ground points are breaklines; others
 * cut the triangles and take their level from the ground (arcs flattened to 5 mm).
 * Without a boundary the hull counts, less long thin triangles on the outside, longest edge first: those whose outer
 * edge is no breakline, is longer than 12 times the median edge, and is seen from the corner opposite under 120 degrees
 * or more; the corner opposite must lie inside.
 * @retval MST_TOO_FEW fewer than 3 points with a level; MST_UNDETERMINED all on one line, or none inside the boundary;
 *         MST_INVALID two levels at one place, naming both; a point without a place; a breakline without its point */
mst_status mst_ground_build(const mst_ground_input *input, mst_arena *arena, mst_ground **ground, mst_error *error) MST_CHECKED;
/** A surface that comes as triangles (out of a file) as it is: no boundary, no merging. Faces may turn either way;
 * those without area in plan are left out with a warning.
 * @param faces [face_count][3] indices into points. @retval MST_INVALID a point without place or level, an index out of
 * range, faces over each other at an edge; MST_TOO_FEW no face */
mst_status mst_ground_from_triangles(const mst_ground_point points[], size_t point_count, const uint32_t (*faces)[3],
                                     size_t face_count, mst_arena *arena, mst_ground **ground, mst_error *error) MST_CHECKED;
/** The ground of a site: every point with plan and level, less those that only features of role `none` use.
 * Features of role `breakline` force their edges, of role `boundary` limit the ground (a line closes on itself; with
 * several, ground inside any of them counts), areas of role `hole` are cut out. Arcs flattened to 5 mm, with levels
 * between the measured points in proportion to the way. A feature without a place is named in the warnings.
 * @retval as mst_ground_build */
mst_status mst_ground_from_site(const mst_site *site, const mst_adjustment *adjustment, mst_arena *arena,
                                mst_ground **ground, mst_error *error) MST_CHECKED;

typedef struct mst_ground_figures { size_t points, triangles; double plan_area_m2, slope_area_m2, lowest_m, highest_m;
    const char **warnings; size_t warning_count; } mst_ground_figures;
void mst_ground_describe(const mst_ground *ground, mst_ground_figures *figures);
/** Triangles of the model (inside the boundary, outside holes): [*count][3] indices into the vertices. */
const uint32_t (*mst_ground_triangles(const mst_ground *ground, size_t *count))[3];
/** [*count] vertices; `source` UINT32_MAX where a vertex is not a measured point. */
const mst_ground_point *mst_ground_vertices(const mst_ground *ground, size_t *count);
/** Outer and inner rims of the model as closed rings, for drawing. */
mst_status mst_ground_rims(const mst_ground *ground, mst_arena *arena, mst_path **rims, size_t *count, mst_error *error) MST_CHECKED;

enum { MST_GROUND_TERMS = 36 }; /**< three corners, each between at most a dozen measured points */
/** A level on the ground, with the weights of the measured points in it (by adjusted point index). */
typedef struct mst_ground_level { double elevation_m, slope, /**< rise over run */ fall_bearing_rad; mst_gradient_term terms[MST_GROUND_TERMS]; size_t term_count; } mst_ground_level;
/** @return false outside the model. */
bool mst_ground_level_at(const mst_ground *ground, mst_point p, mst_ground_level *level);

typedef struct mst_contour { double level_m; bool closed, index; const double (*points)[2]; size_t count; } mst_contour;
/** Contours at every multiple of @p interval_m, exact on the triangles, never crossing. Every fifth is an index contour.
 * A contour is the edge of the ground at or above its level (a vertex at the level counts as above, so saddles and flats need
 * no other rule); higher ground is on its left. Closed, or from rim to rim.
 * @retval MST_INVALID interval not > 0, or more than 10,000 levels */
mst_status mst_ground_contours(const mst_ground *ground, double interval_m, mst_arena *arena, mst_contour **contours,
                               size_t *count, mst_error *error) MST_CHECKED;

typedef struct mst_profile_point { double chainage_m, elevation_m; mst_point at; } mst_profile_point; /**< elevation NaN in a gap */
/** Ground along a path (arcs flattened to 5 mm): a point wherever it crosses a triangle's edge, and at its vertices.
 * A gap begins and ends with a point of NaN at its chainage. @retval MST_TOO_FEW no two different places */
mst_status mst_ground_profile(const mst_ground *ground, const mst_path *path, mst_arena *arena, mst_profile_point **points,
                              size_t *count, mst_error *error) MST_CHECKED;

/* ---- volumes between the ground and a surface, by exact prisms ---- */

/** A surface over part of the plan: z = a + b (E - e0) + c (N - n0) on a shape. */
typedef struct mst_plane { double e0_m, n0_m, level_m, slope_e, slope_n; } mst_plane;
typedef struct mst_prism_sum {
    double cut_m3, fill_m3, area_m2;        /**< area over which both surfaces exist */
    double uncovered_m2;                    /**< of the shape, where there is no ground */
    double cut_area_m2, fill_area_m2;
    double highest_m, lowest_m;             /**< ground less strip, minus the surface, where it is greatest and least; NaN without area */
    mst_gradient_term *cut_terms, *fill_terms; size_t term_count; /**< derivative by each measured point, same order in both */
} mst_prism_sum;
/** Cut and fill between the ground (less @p strip_m taken off it) and a plane inside a shape. Exact on the triangles
 * (arcs of the shape flattened to 1 mm). Cut where the ground is above. */
mst_status mst_ground_to_plane(const mst_ground *ground, const mst_shape *shape, const mst_plane *plane, double strip_m,
                               mst_arena *arena, mst_prism_sum *sum, mst_error *error) MST_CHECKED;
/** Cut and fill between two grounds over their common area: cut where @p before is above @p after.
 * Without a shape, uncovered is what of @p before has no @p after.
 * @param after_terms as cut_terms and fill_terms of @p sum but for the points of @p after; may be NULL */
mst_status mst_ground_to_ground(const mst_ground *before, const mst_ground *after, const mst_shape *within, /**< NULL = all */
                                mst_arena *arena, mst_prism_sum *sum, mst_prism_sum *after_terms, mst_error *error) MST_CHECKED;
/** Slope area of the ground inside a shape, and its plan area there. */
mst_status mst_ground_slope_area(const mst_ground *ground, const mst_shape *shape, mst_arena *arena, double *slope_area_m2,
                                 double *covered_m2, mst_error *error) MST_CHECKED;

/* ---- point clouds: thinned to a stated tolerance in bounded memory ---- */

typedef struct mst_cloud_point { double easting_m, northing_m, elevation_m; uint8_t class_code; /**< as in LAS: 0, 1 unclassified, 2 ground */ } mst_cloud_point;
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
typedef struct mst_progress { void *self; void (*tell)(void *self, double fraction, const char *sentence); } mst_progress;

/** Points in memory as a source; both borrowed. */
typedef struct mst_cloud_list { const mst_cloud_point *points; size_t count, at; } mst_cloud_list;
mst_cloud_source mst_cloud_from_list(mst_cloud_list *list);
/** Lets the classes with their bit set pass (bit c of wanted[c / 64]). Borrows; @p filter must outlive the source. */
typedef struct mst_cloud_classes { mst_cloud_source from; uint64_t wanted[4]; uint64_t seen[256]; /**< in the newest pass */ } mst_cloud_classes;
mst_cloud_source mst_cloud_of_classes(mst_cloud_classes *filter);

typedef struct mst_cloud_thin_options {
    double tolerance_m;             /**< > 0: the surface stays within it of every point, up or down */
    double closest_m;               /**< no two kept points are closer in plan; 0 = a tenth of the tolerance, 5 mm at least */
    size_t points_most;             /**< refuses to keep more; 0 = 2,000,000 */
    const mst_cloud_store *store;   /**< for what goes beyond `memory_points`; NULL: all in memory */
    size_t memory_points;           /**< points held in memory before the store is used; 0 = 4,000,000 (96 MB) */
    mst_progress progress;
} mst_cloud_thin_options;
/** How a cloud lies to a surface; surface less point. */
typedef struct mst_cloud_fit {
    uint64_t count;                 /**< points of the cloud */
    double largest_m, rms_m;        /**< vertical error over all of them */
    mst_point3 worst;               /**< the point with the largest error */
    uint64_t beyond;                /**< points with an error over the tolerance: another level at a place that is taken */
    uint64_t outside;               /**< points outside of the surface in plan, less than closest_m; compared with its rim */
} mst_cloud_fit;
typedef struct mst_cloud_thinned { mst_point3 *points; size_t count; mst_cloud_fit fit; int sweeps; } mst_cloud_thinned;

/** Chooses points whose Delaunay triangulation stays within the tolerance of every point of the cloud.
 *
 * Greedy insertion of the worst point (M. Garland, P. Heckbert, Fast polygonal approximation of terrains and height
 * fields, CMU-CS-95-181, 1995) into one triangulation of the whole, group of neighbouring points by group, until no
 * group has a point beyond the tolerance; begun from a sample of one point a cell, and from the hull. Two passes through
 * the source; a third one measures the error on a triangulation built anew. Memory: 100 bytes for each kept point, the
 * share of the cloud that the options allow, and 60 MB; O(log n) a point.
 * The surface goes through points as they are, so noise keeps many: choose the tolerance four times its sd or more.
 * @param thinned  points in @p arena, in no particular order
 * @retval MST_INVALID a point without a place, a tolerance that is not > 0, or more points to keep than points_most;
 *         MST_TOO_FEW fewer than three points; MST_UNDETERMINED all on one line; as the source and the store */
mst_status mst_cloud_thin(const mst_cloud_source *source, const mst_cloud_thin_options *options, mst_arena *arena,
                          mst_cloud_thinned *thinned, mst_error *error) MST_CHECKED;
/** Measures the cloud against the Delaunay triangulation of @p points. One pass; nothing is kept in @p arena. */
mst_status mst_cloud_measure(const mst_cloud_source *source, const mst_point3 points[], size_t count, double tolerance_m,
                             const mst_progress *progress, mst_cloud_fit *fit, mst_error *error) MST_CHECKED;

/** What grows and stands is told from the ground by its height over the surroundings. Zeros: the values in brackets. */
typedef struct mst_cloud_ground_options {
    double cell_m;              /**< cells of lowest points [1; larger where the cloud has over 8 million of them] */
    double window_m;            /**< widest thing to take out, a building [20] */
    double slope;               /**< steepest ground, rise over run [0.3] */
    double near_m;              /**< how far a ground point may be off the surface [0.15] */
    double step_m;              /**< largest height that still counts as ground's own in one step [2.5] */
    mst_progress progress;
} mst_cloud_ground_options;
/** A filter that lets the ground of a cloud pass. Made by mst_cloud_find_ground, in its arena. */
typedef struct mst_cloud_ground mst_cloud_ground;
/** Progressive morphological filter (K. Zhang et al., IEEE Transactions on Geoscience and Remote Sensing 41 (2003)
 * 872-882) on a grid of lowest points: two passes, memory by the grid alone. A point is ground where it lies within
 * `near_m`, and the rise of the surface over half a cell, of the surface through the lowest points that remain.
 * @retval MST_INVALID an option out of range, a point without a place; MST_TOO_FEW no point */
mst_status mst_cloud_find_ground(const mst_cloud_source *source, const mst_cloud_ground_options *options, mst_arena *arena,
                                 mst_cloud_ground **ground, mst_error *error) MST_CHECKED;
/** The points of the same source that are ground, with class_code 2. */
mst_cloud_source mst_cloud_ground_points(mst_cloud_ground *ground);
#ifdef __cplusplus
}
#endif
#endif
