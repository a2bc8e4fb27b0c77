/** @file src/geometry/boxtree.h  Which boxes meet this window? A binary tree of boxes in an arena.
 *
 * A tree rather than a grid: long thin triangles would fill a grid's cells, here each stands once. */
#ifndef GEOMETRY_BOXTREE_H
#define GEOMETRY_BOXTREE_H
#include "merestone/base.h"

typedef struct mst_box {
    double w, s, e, n;
} mst_box;

/** Heap order: node i has children 2i and 2i + 1; the leaves start at `leaves`; leaf k holds item items[k]. */
typedef struct mst_boxtree {
    mst_box *nodes;
    uint32_t *items; /**< NULL: leaf k holds item k */
    size_t leaves, count;
} mst_boxtree;

static inline bool mst_boxes_meet(const mst_box *a, const mst_box *b) {
    return a->w <= b->e && b->w <= a->e && a->s <= b->n && b->s <= a->n;
}

/** Builds over boxes[count]. @param spatial false keeps the items in their own order (pieces of a path); true sorts
 * them along a Z-order curve. O(count log count). @retval MST_NO_MEMORY */
mst_status mst_boxtree_build(const mst_box boxes[], size_t count, bool spatial, mst_arena *arena,
                             mst_boxtree *tree) MST_CHECKED;

/** A walk through the items whose boxes meet a window, in the tree's order. */
typedef struct mst_boxtree_walk {
    const mst_boxtree *tree;
    mst_box window;
    size_t node; /**< next node to look at; 0 = done */
} mst_boxtree_walk;
mst_boxtree_walk mst_boxtree_window(const mst_boxtree *tree, mst_box window);
bool mst_boxtree_next(mst_boxtree_walk *walk, uint32_t *item); /**< @return false when there are no more */
#endif
