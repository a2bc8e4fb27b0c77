/* The seam to the system's memory. On Linux large blocks ask for large pages: the first touch of ordinary 4 KiB pages
 * can cost more than the work on them. */
#if defined(__linux__)
#define _DEFAULT_SOURCE
#endif
#include "base/block.h"
#include <stdint.h>
#include <stdlib.h>

#if defined(__linux__)
#include <sys/mman.h>

static const size_t LARGE_PAGE = 2 * 1024 * 1024; /* x86-64, and arm64 with 4 KiB pages */

static size_t mapped_size(size_t size) { return (size + LARGE_PAGE - 1) / LARGE_PAGE * LARGE_PAGE; }

/* A mapping that starts at a large page: one page too many is asked for, and the ends go back. */
static void *map_aligned(size_t size) {
    unsigned char *start = mmap(NULL, size + LARGE_PAGE, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    if (start == MAP_FAILED) return NULL;
    size_t before = (LARGE_PAGE - (uintptr_t)start % LARGE_PAGE) % LARGE_PAGE;
    if (before) munmap(start, before);
    if (before < LARGE_PAGE) munmap(start + before + size, LARGE_PAGE - before);
    return start + before;
}

void *mst_block_new(size_t size) {
    if (size < LARGE_PAGE) return calloc(1, size);
    if (size > SIZE_MAX - 2 * LARGE_PAGE) return NULL;
    void *block = map_aligned(mapped_size(size));
#ifdef MADV_HUGEPAGE
    if (block) madvise(block, mapped_size(size), MADV_HUGEPAGE); /* a wish: ordinary pages do as well */
#endif
    return block;
}

void mst_block_free(void *block, size_t size) {
    if (size < LARGE_PAGE) free(block);
    else if (block) munmap(block, mapped_size(size));
}

#else

void *mst_block_new(size_t size) { return calloc(1, size); }
void mst_block_free(void *block, size_t size) {
    (void)size;
    free(block);
}
#endif
