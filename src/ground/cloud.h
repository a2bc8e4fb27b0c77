/** @file src/ground/cloud.h  Shared by the steps that thin a point cloud. */
#ifndef GROUND_CLOUD_H
#define GROUND_CLOUD_H
#include "ground/triangulation.h"

enum { MST_CLOUD_BLOCK = 4096 }; /* points read from a source at a time */
#define MST_CLOUD_NONE UINT32_MAX

/** What rounding may add between two ways to compute one error; a hundredth of the 0.1 mm that pages keep. */
#define MST_CLOUD_ROUNDING_M 1e-6

/** A point where it is finite and on this earth. */
bool mst_cloud_has_place(const mst_cloud_point *p);

/* ---- progress ---- */

/** One stage of the whole, from `from` to `to`, of `all` steps. */
typedef struct mst_stage {
    const mst_progress *progress;
    double from, to;
    const char *sentence;
    uint64_t all, next;
} mst_stage;
void mst_stage_tell(mst_stage *stage, uint64_t done); /**< at every hundredth */

/* ---- square cells over a rectangle ---- */

typedef struct mst_cells {
    double least[2], per_m;
    uint32_t columns, rows;
} mst_cells;
/** About @p most cells or fewer, none smaller than @p smallest_m. */
mst_cells mst_cells_over(const double least[2], const double greatest[2], double smallest_m, size_t most);
static inline uint32_t mst_cell_column(const mst_cells *c, double easting) {
    double x = (easting - c->least[0]) * c->per_m;
    return x < 1 ? 0 : x >= c->columns ? c->columns - 1 : (uint32_t)x;
}
static inline uint32_t mst_cell_row(const mst_cells *c, double northing) {
    double y = (northing - c->least[1]) * c->per_m;
    return y < 1 ? 0 : y >= c->rows ? c->rows - 1 : (uint32_t)y;
}
static inline uint32_t mst_cell_of(const mst_cells *c, double easting, double northing) {
    return mst_cell_row(c, northing) * c->columns + mst_cell_column(c, easting);
}
/** Interleaves the bits of two numbers below 2^16: cells close in this order are close on the ground. */
uint32_t mst_morton(uint32_t column, uint32_t row);

/* ---- the hull of a stream ---- */

typedef struct mst_stream_hull {
    mst_point3 *ring; /* [ring_count] counter-clockwise, no three on a line */
    size_t ring_count, capacity, most;
    double least[2], greatest[2];
    mst_arena *arena;
} mst_stream_hull;
/** @retval MST_INVALID over hull->most corners */
mst_status mst_stream_hull_add(mst_stream_hull *hull, const mst_cloud_point points[], size_t count, mst_error *error);
/** Drops corners closer than @p closest_m to the one before. @retval MST_UNDETERMINED no area */
mst_status mst_stream_hull_finish(mst_stream_hull *hull, double closest_m, mst_error *error);

/* ---- the rim of a stream, hollow or not ---- */

/** The points farthest west and east in each row of cells, farthest south and north in each column. */
typedef struct mst_outline {
    mst_cells cells;
    double (*farthest[4])[3]; /* [row], [row], [column], [column]; easting NaN where there is none */
} mst_outline;
bool mst_outline_begin(mst_outline *outline, const mst_cells *cells, mst_arena *arena);
void mst_outline_add(mst_outline *outline, const mst_cloud_point *p);
/** The farthest of every run of cells @p apart_m long; @p k counts on from 0. @return false at the end */
bool mst_outline_next(const mst_outline *outline, double apart_m, uint32_t *k, double p[3]);

/* ---- triangles to walk over ---- */

/** Triangles with their neighbours, as a mesh has them (shift 2) or a triangulation (shift 0). */
typedef struct mst_walk {
    const double (*at)[2];
    const uint32_t *corner, *across;
    int shift;
} mst_walk;
/** @return the triangle that holds p, or the last one before the rim when @p outside becomes true */
uint32_t mst_walk_to(const mst_walk *w, uint32_t from, const double p[2], bool *outside);

/** A triangle's plane; between its lowest and its highest corner, whatever rounding does to a sliver. */
typedef struct mst_sloped {
    double e, n, z, per_e, per_n, low, high;
} mst_sloped;
mst_sloped mst_sloped_of(const double *const at[3], const double z[3]);
static inline double mst_sloped_at(const mst_sloped *s, double e, double n) {
    double z = s->z + s->per_e * (e - s->e) + s->per_n * (n - s->n);
    if (!(z >= s->low)) return s->low;
    return z > s->high ? s->high : z;
}

/* ---- a Delaunay triangulation that grows ---- */

/** A triangle at the point put in last. */
typedef struct mst_ray {
    uint32_t triangle;
    uint32_t from, to; /* its other two corners, counter-clockwise */
    uint32_t outer;    /* the half-edge on the other side of from - to */
} mst_ray;
typedef struct mst_growing {
    mst_mesh m;
    double *z;
    uint32_t *mark, *born; /* [triangle_room] newest attempt that touched, newest one that made the triangle */
    uint32_t attempt;
    double closest_m;
    mst_arena *arena;
    uint32_t *hole; /* triangles that the newest point replaced: the first hole_count rays have their numbers */
    mst_ray *rays;
    size_t hole_count, hole_capacity, ray_count, ray_capacity;
} mst_growing;
mst_status mst_growing_begin(mst_growing *g, const mst_point3 hull[], size_t count, size_t vertex_room,
                             mst_arena *arena, mst_error *error);
/** Puts a point into the triangle that holds it. @param put false when a vertex is closer than closest_m
 * @retval MST_NO_MEMORY no room; MST_NO all vertices are used */
mst_status mst_growing_put(mst_growing *g, uint32_t triangle, const double p[3], bool *put);
static inline bool mst_growing_real(const mst_growing *g, uint32_t t) {
    const uint32_t *c = g->m.corner + 3 * (size_t)t;
    return c[0] != MST_OUTSIDE && c[1] != MST_OUTSIDE && c[2] != MST_OUTSIDE;
}
/** Of the edges of about a hundred thousand triangles. */
double mst_growing_median_edge(const mst_growing *g);
mst_sloped mst_growing_plane(const mst_growing *g, uint32_t triangle);

/* ---- the points by tiles ---- */

typedef struct mst_tile_block {
    uint32_t tile, count;
    const double (*memory)[3]; /* NULL: in the store */
    uint64_t stored_at;
} mst_tile_block;
/** A run of blocks of neighbouring tiles, small enough to be worked on at once. */
typedef struct mst_tile_group {
    size_t first_block, block_count, count;
    uint32_t first_rank, last_rank; /* of its tiles, in the order of the blocks */
    uint32_t settled;               /* attempt of the mesh at which all its points were within the tolerance */
} mst_tile_group;
typedef struct mst_tiles {
    mst_cells cells;
    double (**open)[3]; /* [tile] the block being filled, and below its fill */
    uint32_t *fill;
    uint32_t *tile_of_rank, *rank_of_tile;
    mst_tile_block *blocks;
    size_t block_count, block_capacity, memory_left;
    mst_tile_group *groups;
    size_t group_count, group_capacity, largest_group;
    const mst_cloud_store *store;
    uint64_t stored;
    mst_arena *arena;
} mst_tiles;
enum { MST_TILE_BLOCK = 512, MST_TILES = 4096, MST_GROUP_POINTS = 1 << 18 };
mst_status mst_tiles_begin(mst_tiles *tiles, const double least[2], const double greatest[2],
                           const mst_cloud_thin_options *options, mst_arena *arena, mst_error *error);
mst_status mst_tiles_add(mst_tiles *tiles, const mst_cloud_point *p, mst_error *error);
mst_status mst_tiles_finish(mst_tiles *tiles, mst_error *error);
/** Reads a group's points. @param points [largest_group] */
mst_status mst_tiles_load(const mst_tiles *tiles, const mst_tile_group *group, double (*points)[3], mst_error *error);
#endif
