/** @file src/ground/contour_crossings.h  Where levels cross the triangles: the first of two steps to contours.
 *
 * With the higher ground on its left a level comes into a triangle over one edge and leaves it over another. That is a
 * crossing; it has a number, the place where it leaves, and the number of the crossing behind that edge. */
#ifndef GROUND_CONTOUR_CROSSINGS_H
#define GROUND_CONTOUR_CROSSINGS_H
#include "ground/contours.h"

typedef struct mst_levels {
    double interval;
    int64_t first, count;
} mst_levels;

/** Level @p k, from 1. */
static inline double mst_level(const mst_levels *l, uint32_t k) {
    return (double)(l->first + (int64_t)k - 1) * l->interval;
}

/** The levels of one block of triangles: slices[first ..] for the levels above `low`. */
typedef struct mst_level_block {
    uint32_t first, low;
} mst_level_block;
/** What a level crosses of a block: bit t for its triangle t; their crossings are numbered on from `first`. */
typedef struct mst_level_slice {
    uint32_t triangles, first;
} mst_level_slice;

/** Where a line comes in over the rim. */
typedef struct mst_contour_head {
    double at[2];
    mst_contour_edge edge;
    uint32_t first, level;
} mst_contour_head;

typedef struct mst_crossings {
    mst_levels levels;
    mst_level_block *blocks; /**< [block_count + 1] */
    size_t block_count;
    uint32_t *crossed; /**< [crossed_count] the blocks that have slices, in their order */
    size_t crossed_count;
    mst_level_slice *slices; /**< [slice_count], block by block, level by level */
    size_t slice_count;
    double (*at)[2];          /**< by number; numbers have gaps */
    uint32_t *next;           /**< by number: the crossing that follows, or MST_NOWHERE at the rim */
    mst_contour_edge *leaves; /**< by number: the edge; NULL unless asked for */
    mst_contour_head *heads;  /**< in the order of the triangles */
    size_t head_count;
} mst_crossings;

static inline uint32_t mst_bit_count(uint32_t bits) {
    bits -= bits >> 1 & 0x55555555u;
    bits = (bits & 0x33333333u) + (bits >> 2 & 0x33333333u);
    return ((bits + (bits >> 4)) & 0x0f0f0f0fu) * 0x01010101u >> 24;
}

/** On the ground's threads; the same at every number of them.
 * @param arena for all that @p crossings holds. @return false when memory is short */
bool mst_find_crossings(const mst_ground *ground, const mst_levels *levels, bool keep_edges, mst_arena *arena,
                        mst_crossings *crossings);
#endif
