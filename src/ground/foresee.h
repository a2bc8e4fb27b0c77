/** @file src/ground/foresee.h  The checks in blocks along their curve, each with its covariance matrix. */
#ifndef GROUND_FORESEE_H
#define GROUND_FORESEE_H
#include "ground/spread.h"

enum { MST_SEER_BLOCK = 256 };

typedef struct mst_seer {
    const mst_ground *ground;
    uint32_t *block_of; /**< by corner: block + 1 of its check; 0: none */
    size_t blocks;
    double *v; /**< [MST_SEER_BLOCK][MST_SEER_BLOCK] the factor of the block last asked for */
} mst_seer;

mst_status mst_seer_make(mst_seer *seer, const mst_ground *ground, mst_arena *arena) MST_CHECKED;
/** The first check of a block. */
size_t mst_seer_first(const mst_seer *seer, size_t block);
/** The block of a facet's first corner that has one; with a single block all facets belong to it. blocks: none. */
size_t mst_seer_block(const mst_seer *seer, uint32_t facet);
/** Cholesky factor of the checks' covariance. @return false when the matrix is not positive */
bool mst_seer_factor(const mst_seer *seer, size_t first, size_t count);
#endif
