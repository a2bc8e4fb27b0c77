/** @file src/ground/model.h  What a ground model holds, and the steps that make one.
 *
 * Facets are the triangles between measured points (and crossings of breaklines): each is a plane whose level hangs on
 * its corners. Triangles are what is left of the facets inside the boundary; a triangle cut by the boundary has
 * corners of its own, but still lies on its facet. So every level and volume leads back to measured points. */
#ifndef GROUND_MODEL_H
#define GROUND_MODEL_H
#include "geometry/boxtree.h"
#include "merestone/ground.h"

enum { MST_NOWHERE = UINT32_MAX };

/** How much of a measured point is in a level. */
typedef struct mst_weight {
    uint32_t source;
    double share;
} mst_weight;

/** Corners of the facets: a measured point, several merged ones, or a place between some. */
typedef struct mst_corner {
    double at[2], elevation_m;
    uint32_t weight_first, weight_count; /**< into the model's weights; none where nothing measured stands behind it */
    uint32_t source;                     /**< the measured point that it is, or MST_NOWHERE */
} mst_corner;

typedef struct mst_notes {
    const char **items;
    size_t count, capacity, unsaid;
} mst_notes; /**< warnings */
/** Adds a warning; beyond a hundred they are only counted. @return false when memory is short */
bool mst_note(mst_notes *notes, mst_arena *arena, const char *format, ...) MST_PRINTF(3, 4);

/** A vertex's level less the level there of the ground drawn without it. */
typedef struct mst_check {
    uint32_t corner[4]; /**< itself, then the triangle that would cover it */
    double share[4];    /**< 1, then the triangle's shares, negative */
    double rest_m;
    double scale; /**< of the roughness there, mean 1 */
} mst_check;

/** Lowest and highest level of so many triangles in a row. */
enum { MST_BAND_TRIANGLES = 32 };
typedef struct mst_band {
    double lowest_m, highest_m;
} mst_band;
/** What the checks say of the ground inside a facet. */
typedef struct mst_inside {
    double
        rest_m[4]; /**< expected over the triangle in the middles of the edges (k opposite corner k), in the centre */
    double left;   /**< share of the variance that stays */
} mst_inside;

struct mst_ground {
    mst_corner *corners;
    size_t corner_count;
    mst_weight *weights;
    size_t weight_count;
    uint32_t (*facets)[3];
    size_t facet_count;
    uint32_t (*facet_neighbours)[3]; /**< across the edge opposite each corner; MST_NOWHERE at the hull */
    uint8_t *fixed;                  /**< [facet_count] bit c: the edge opposite corner c is a breakline */
    mst_ground_point *vertices;
    size_t vertex_count;
    uint32_t (*triangles)[3];
    size_t triangle_count;     /**< of vertices, counter-clockwise */
    uint32_t (*neighbours)[3]; /**< across the edge opposite each corner; MST_NOWHERE at the rim */
    uint32_t *facet_of;        /**< [triangle_count] */
    mst_band *bands;           /**< [triangle_count / MST_BAND_TRIANGLES, rounded up] */
    int threads;               /**< for what is done on the whole of it */
    bool whole;                /**< no facet is cut: triangles are facets */
    bool along_curve;          /**< triangles follow a curve, vertices stand in the order of the triangles */
    mst_boxtree tree;          /**< of the triangles */
    struct {
        double west, south, cell;
        uint32_t columns, rows, *triangle; /**< a triangle in or near each cell, to begin a walk from */
    } starts;
    double plan_area_m2, slope_area_m2, lowest_m, highest_m;
    mst_roughness roughness; /**< with what follows, once mst_ground_trust was asked */
    mst_check *checks;
    size_t check_count;
    double *corner_scale;   /**< of the roughness at each corner, mean 1 */
    double *level_variance; /**< by corner, from the readings; NULL: none */
    mst_inside *inside;     /**< by facet; NULL: not looked at */
    mst_notes notes;
};

/** A point on its way into the model. */
typedef struct mst_part_point {
    double at[2], elevation_m;
    mst_weight weights[4]; /**< shares of measured points; weight_count 0 where none stands behind it */
    int weight_count;
    const char *name; /**< for sentences; NULL: said by number */
} mst_part_point;

/** A line whose level is that of its points. */
typedef struct mst_part_line {
    const char *name;
    const uint32_t *points;
    size_t count;
    bool closed;
} mst_part_line;

/** Everything a model is made from. */
typedef struct mst_parts {
    const mst_part_point *points;
    size_t point_count;
    const mst_part_line *lines;
    size_t line_count;
    const mst_shape *boundaries;
    size_t boundary_count; /**< ground inside any of them */
    const mst_shape *holes;
    size_t hole_count;
    double merge_m, merge_height_m;
    int threads;
    mst_notes notes;
} mst_parts;

mst_status mst_ground_make(const mst_parts *parts, mst_arena *arena, mst_ground **ground, mst_error *error) MST_CHECKED;

/* ---- merge.c ---- */

/** Points near each other taken as one: vertex k stands for the points whose of_point is k. */
typedef struct mst_merged {
    uint32_t *of_point;  /**< [point_count] vertex, or MST_NOWHERE for a point without a level */
    uint32_t *first;     /**< [count] the point that gives the vertex its place */
    double *elevation_m; /**< [count] mean level */
    uint32_t *members;   /**< [count] how many points */
    size_t count;
    double cell_m, origin[2];
    uint32_t *table;
    size_t table_size; /**< open hash of cells to vertices; next in the cell below */
    uint32_t *next;
} mst_merged;
mst_status mst_merge_points(const mst_parts *parts, mst_arena *arena, mst_merged *merged, mst_error *error) MST_CHECKED;
/** @return the vertex within the merging distance of a place, or MST_NOWHERE. */
uint32_t mst_merged_at(const mst_merged *merged, const mst_part_point points[], const double at[2]);

/* ---- facets.c ---- */

/** The facets: triangles over points, lines and rim rings; crossings have their levels. */
typedef struct mst_facets {
    mst_corner *corners;
    size_t corner_count;
    mst_weight *weights;
    size_t weight_count;
    uint32_t (*triangles)[3];
    size_t count;
    uint32_t (*neighbours)[3];
    uint8_t *fixed; /**< [count] bit c: the edge opposite corner c is a breakline */
} mst_facets;
/** Two corners joined by a line: the breakline's number, or MST_NOWHERE for a piece of a boundary or hole. */
typedef struct mst_edge {
    uint32_t a, b, line;
} mst_edge;
mst_status mst_make_facets(const mst_parts *parts, const mst_merged *merged, const mst_edge rim[], size_t rim_count,
                           mst_notes *notes, mst_arena *arena, mst_facets *facets, mst_error *error) MST_CHECKED;

/* ---- natural_rim.c ---- */

/** Clears keep[] for the long thin triangles on the outside, as the header of mst_ground_build says. */
mst_status mst_natural_rim(const mst_facets *facets, mst_arena *arena, bool keep[], mst_error *error) MST_CHECKED;

/* ---- clip.c ---- */

/** Boundary and holes as straight rings: boundaries first. */
typedef struct mst_rings {
    mst_shape *shapes;
    size_t count, boundaries;
} mst_rings;
mst_status mst_flat_rings(const mst_parts *parts, mst_arena *arena, mst_rings *rings, mst_error *error) MST_CHECKED;
/** Pieces of the rings whose ends are both vertices. @param all set when every piece is. */
mst_status mst_ring_edges(const mst_rings *rings, const mst_parts *parts, const mst_merged *merged, mst_arena *arena,
                          mst_edge **edges, size_t *count, bool *all, mst_error *error) MST_CHECKED;
/** Fills the ground's vertices, triangles, neighbours and facet_of from its facets, less what keep[] drops and what
 * lies outside the rings. @param split the rings' own corners are not all corners of facets, so facets must be cut */
mst_status mst_clip_facets(const mst_facets *facets, const bool keep[], const mst_rings *rings, bool split, int threads,
                           mst_arena *arena, mst_ground *ground, mst_error *error) MST_CHECKED;
/** Takes all facets as the ground's triangles. */
mst_status mst_take_all_facets(const mst_facets *facets, mst_arena *arena, mst_ground *ground,
                               mst_error *error) MST_CHECKED;

/* ---- along_curve.c ---- */

/** Puts the triangles named in @p list into an order in which neighbours are near each other. @retval MST_NO_MEMORY */
mst_status mst_order_along_curve(const double (*places)[2], const uint32_t (*triangles)[3], uint32_t list[],
                                 size_t count) MST_CHECKED;

/* ---- locate.c ---- */

/** Boxes of triangles over plain places. @retval MST_NO_MEMORY */
mst_status mst_triangle_tree(const uint32_t (*triangles)[3], size_t count, const void *vertices, size_t stride,
                             mst_arena *arena, mst_boxtree *tree) MST_CHECKED;
/** Places of a triangle's corners in a strided array that begins with easting and northing. */
void mst_corners_of(const uint32_t triangle[3], const void *vertices, size_t stride, const double *corner[3]);
/** @return the triangle that holds p (its edge counts), or MST_NOWHERE. Without a tolerance: signs are exact. */
uint32_t mst_triangle_at(const mst_boxtree *tree, const uint32_t (*triangles)[3], const void *vertices, size_t stride,
                         const double p[2]);
/** Shares of a triangle's corners at p; they sum to 1. */
void mst_shares_at(const double *const corner[3], const double p[2], double share[3]);

/* ---- rims.c ---- */

typedef enum mst_rim_kind { MST_RIM_NONE, MST_RIM_OUTER, MST_RIM_HOLE } mst_rim_kind;
/** @return [3 * triangle_count] of the edge opposite each corner; NULL when memory is short */
mst_rim_kind *mst_rim_kinds(const mst_ground *ground, mst_arena *arena);

/* ---- planes ---- */

/** z = level + slope_e (E - at E) + slope_n (N - at N). */
typedef struct mst_facet_plane {
    double at[2], level_m, slope_e, slope_n;
} mst_facet_plane;
mst_facet_plane mst_plane_of_facet(const mst_ground *ground, uint32_t facet);
/** Makes the search tree of the triangles. @retval MST_NO_MEMORY */
mst_status mst_ground_make_tree(mst_ground *ground, mst_arena *arena) MST_CHECKED;
/** Makes the grid of places to begin a walk. @retval MST_NO_MEMORY */
mst_status mst_ground_make_starts(mst_ground *ground, mst_arena *arena) MST_CHECKED;
/** Areas, lowest and highest, and the search tree, once the triangles stand. @retval MST_NO_MEMORY */
mst_status mst_ground_finish(mst_ground *ground, mst_arena *arena, mst_error *error) MST_CHECKED;

/** Derivatives gathered corner by corner, then handed on to the measured points behind the corners. */
typedef struct mst_gather {
    double easting, northing, elevation;
} mst_gather;
/** Sums of corners to terms by measured point, in order of the points. Two columns share one list of points.
 * @param second may be NULL. @retval MST_NO_MEMORY */
mst_status mst_gather_terms(const mst_ground *ground, const mst_gather first[], const mst_gather second[],
                            mst_arena *arena, mst_gradient_term **first_terms, mst_gradient_term **second_terms,
                            size_t *count) MST_CHECKED;
#endif
