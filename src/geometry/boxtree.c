#include "geometry/boxtree.h"
#include <math.h>
#include <stdlib.h>

static const mst_box NOTHING = {HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL};

static mst_box both(const mst_box *a, const mst_box *b) {
    return (mst_box){fmin(a->w, b->w), fmin(a->s, b->s), fmax(a->e, b->e), fmax(a->n, b->n)};
}

typedef struct keyed {
    uint64_t key;
    uint32_t item;
} keyed;

static int by_key(const void *a, const void *b) {
    const keyed *x = a, *y = b;
    if (x->key != y->key) return x->key < y->key ? -1 : 1;
    return x->item < y->item ? -1 : 1;
}

/* Bits of x apart, so that those of y fit between. */
static uint64_t spread(uint32_t x) {
    uint64_t v = x;
    v = (v | v << 16) & 0x0000ffff0000ffffu;
    v = (v | v << 8) & 0x00ff00ff00ff00ffu;
    v = (v | v << 4) & 0x0f0f0f0f0f0f0f0fu;
    v = (v | v << 2) & 0x3333333333333333u;
    return (v | v << 1) & 0x5555555555555555u;
}

static uint32_t step_of(double at, double low, double high) {
    double share = high > low ? (at - low) / (high - low) : 0;
    return (uint32_t)(fmin(fmax(share, 0), 1) * 4294967295.0);
}

static mst_status sort_items(const mst_box boxes[], mst_arena *arena, mst_boxtree *tree) {
    keyed *keys = mst_arena_array(arena, tree->count + 1, sizeof *keys);
    tree->items = mst_arena_array(arena, tree->count + 1, sizeof *tree->items);
    if (!keys || !tree->items) return MST_NO_MEMORY;
    mst_box all = NOTHING;
    for (size_t i = 0; i < tree->count; i++) all = both(&all, &boxes[i]);
    for (size_t i = 0; i < tree->count; i++) {
        const mst_box *b = &boxes[i];
        uint32_t e = step_of(b->w + (b->e - b->w) / 2, all.w, all.e),
                 n = step_of(b->s + (b->n - b->s) / 2, all.s, all.n);
        keys[i] = (keyed){spread(e) | spread(n) << 1, (uint32_t)i};
    }
    qsort(keys, tree->count, sizeof *keys, by_key);
    for (size_t i = 0; i < tree->count; i++) tree->items[i] = keys[i].item;
    return MST_OK;
}

mst_status mst_boxtree_build(const mst_box boxes[], size_t count, bool spatial, mst_arena *arena, mst_boxtree *tree) {
    *tree = (mst_boxtree){NULL, NULL, 1, count};
    if (count >= UINT32_MAX) return MST_NO_MEMORY;
    while (tree->leaves < count) tree->leaves *= 2;
    tree->nodes = mst_arena_array(arena, 2 * tree->leaves, sizeof *tree->nodes);
    if (!tree->nodes || (spatial && sort_items(boxes, arena, tree) != MST_OK)) return MST_NO_MEMORY;
    for (size_t k = 0; k < tree->leaves; k++)
        tree->nodes[tree->leaves + k] = k < count ? boxes[spatial ? tree->items[k] : k] : NOTHING;
    for (size_t i = tree->leaves; i-- > 1;) tree->nodes[i] = both(&tree->nodes[2 * i], &tree->nodes[2 * i + 1]);
    return MST_OK;
}

mst_boxtree_walk mst_boxtree_window(const mst_boxtree *tree, mst_box window) {
    return (mst_boxtree_walk){tree, window, tree->count ? 1 : 0};
}

/* The next node in depth-first order that is not below i: up while a right child, then to the sibling. */
static size_t past(size_t i) {
    while (i & 1) i /= 2;
    return i ? i + 1 : 0;
}

bool mst_boxtree_next(mst_boxtree_walk *walk, uint32_t *item) {
    const mst_boxtree *t = walk->tree;
    while (walk->node) {
        size_t i = walk->node;
        bool meets = mst_boxes_meet(&t->nodes[i], &walk->window);
        if (meets && i < t->leaves) {
            walk->node = 2 * i;
            continue;
        }
        walk->node = past(i);
        if (!meets) continue;
        *item = t->items ? t->items[i - t->leaves] : (uint32_t)(i - t->leaves);
        return true;
    }
    return false;
}
