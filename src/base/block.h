/** @file src/base/block.h  Large pieces of zeroed memory straight from the system. */
#ifndef BASE_BLOCK_H
#define BASE_BLOCK_H
#include <stddef.h>

/** @return @p size zeroed bytes aligned for any type, or NULL. */
void *mst_block_new(size_t size);
/** Gives back what mst_block_new returned for that size; NULL is allowed. */
void mst_block_free(void *block, size_t size);
#endif
