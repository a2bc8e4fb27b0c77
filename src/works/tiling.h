/** @file src/works/tiling.h  The ground under the works, cut into triangles on which every surface is a plane.
 *
 * A tile lies in one triangle of the ground and belongs to one part of one element, so existing, finished and
 * formation level are linear on it: volumes are sums over tiles, and the tiles of all elements add up to the whole.
 * Places count from an origin far off to the south-west, so that they all lie on a lattice of 2^-35 m (0.03 nm): what
 * the triangulation takes for one place is then well above the rounding of levels and crossings that meet there. */
#ifndef WORKS_TILING_H
#define WORKS_TILING_H
#include "geometry/boxtree.h"
#include "merestone/works.h"
#include "works/sketch.h"

enum { MST_NO_OWNER = UINT32_MAX };
#define MST_TILING_OFFSET_M 131072.0 /* 2^17 */
/** The origin for a ground that has a vertex there. */
void mst_tiling_origin(const mst_ground *ground, double origin[2]);
typedef enum mst_tile_part { MST_PART_NONE, MST_PART_BASE, MST_PART_BANK, MST_PART_STRIP } mst_tile_part;
enum { MST_EXISTING, MST_FINISH, MST_FORMATION, MST_LEVELS_OF_TILE };

typedef struct mst_tile {
    uint32_t ground; /**< triangle of the ground */
    uint32_t owner;  /**< element that has the last word here */
    mst_tile_part part;
    double strip_m;
    double level[MST_LEVELS_OF_TILE][3]; /**< at the corners */
} mst_tile;

typedef struct mst_tiling {
    double origin[2];
    double (*at)[2];
    size_t place_count;
    uint32_t (*corners)[3], (*neighbours)[3]; /**< as of a triangulation; neighbours are tiles */
    mst_tile *tiles;
    uint32_t *parent; /**< tile of the tiling that this one was cut from */
    size_t count;
    mst_boxtree tree;
} mst_tiling;

/** The triangles of the ground that meet any of the windows (in the site's coordinates). */
mst_status mst_tiling_of_ground(const mst_ground *ground, const mst_box windows[], size_t count, mst_arena *arena,
                                mst_tiling *tiling, mst_error *error) MST_CHECKED;
/** Every edge of the tiling once. @param split  [3 * count] or NULL: lists of places on the edge opposite a corner */
typedef struct mst_edge_point {
    double along;         /**< from the edge's place with the lower number, 0..1 */
    uint32_t place, next; /**< next in the list + 1; 0 ends it */
} mst_edge_point;
typedef struct mst_edge_points {
    uint32_t *first; /**< [3 * count] into items + 1 */
    mst_edge_point *items;
    size_t count, capacity;
} mst_edge_points;
void mst_tiling_draw_edges(const mst_tiling *tiling, mst_edge_points *points, mst_sketch *sketch);
/** Cuts the tiling along the sketch, which has its edges in it and is settled. Levels are carried over. */
mst_status mst_tiling_cut(const mst_tiling *tiling, mst_sketch *sketch, mst_arena *arena, mst_tiling *cut,
                          mst_error *error) MST_CHECKED;
/** Where the edge opposite corner @p c of tile @p t runs: lower numbered place first. */
void mst_tile_edge(const mst_tiling *tiling, uint32_t t, int c, uint32_t ends[2]);
void mst_tile_middle(const mst_tiling *tiling, uint32_t t, double middle[2]);
/** Whether the edge opposite corner @p c lies along the line from a to b, to 0.1 um. */
bool mst_tile_edge_on(const mst_tiling *tiling, uint32_t t, int c, const double a[2], const double b[2]);
double mst_tile_area(const mst_tiling *tiling, uint32_t t);
#endif
