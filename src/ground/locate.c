/* Which triangle holds a place, and the shares of its corners there. */
#include "ground/model.h"
#include <math.h>

static const double *place(const void *vertices, size_t stride, uint32_t i) {
    return (const double *)(const void *)((const unsigned char *)vertices + (size_t)i * stride);
}

void mst_corners_of(const uint32_t triangle[3], const void *vertices, size_t stride, const double *corner[3]) {
    for (int i = 0; i < 3; i++) corner[i] = place(vertices, stride, triangle[i]);
}

static mst_status make_tree(const uint32_t (*triangles)[3], size_t count, const void *vertices, size_t stride,
                            bool in_order, mst_arena *arena, mst_boxtree *tree) {
    mst_box *boxes = mst_arena_array(arena, count + 1, sizeof *boxes);
    if (!boxes) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const double *c[3];
        mst_corners_of(triangles[i], vertices, stride, c);
        boxes[i] = (mst_box){fmin(fmin(c[0][0], c[1][0]), c[2][0]), fmin(fmin(c[0][1], c[1][1]), c[2][1]),
                             fmax(fmax(c[0][0], c[1][0]), c[2][0]), fmax(fmax(c[0][1], c[1][1]), c[2][1])};
    }
    return mst_boxtree_build(boxes, count, !in_order, arena, tree);
}

mst_status mst_triangle_tree(const uint32_t (*triangles)[3], size_t count, const void *vertices, size_t stride,
                             mst_arena *arena, mst_boxtree *tree) {
    return make_tree(triangles, count, vertices, stride, false, arena, tree);
}

mst_status mst_ground_make_tree(mst_ground *g, mst_arena *arena) {
    return make_tree((const uint32_t(*)[3])g->triangles, g->triangle_count, g->vertices, sizeof *g->vertices,
                     g->along_curve, arena, &g->tree);
}

uint32_t mst_triangle_at(const mst_boxtree *tree, const uint32_t (*triangles)[3], const void *vertices, size_t stride,
                         const double p[2]) {
    uint32_t item, found = MST_NOWHERE;
    mst_boxtree_walk walk = mst_boxtree_window(tree, (mst_box){p[0], p[1], p[0], p[1]});
    while (mst_boxtree_next(&walk, &item)) {
        const double *c[3];
        mst_corners_of(triangles[item], vertices, stride, c);
        if (mst_orient2d(c[0], c[1], p) < 0 || mst_orient2d(c[1], c[2], p) < 0 || mst_orient2d(c[2], c[0], p) < 0)
            continue;
        if (item < found) found = item; /* on a shared edge the first triangle answers, whatever the tree's order */
    }
    return found;
}

void mst_shares_at(const double *const c[3], const double p[2], double share[3]) {
    double sum = 0;
    for (int i = 0; i < 3; i++) {
        share[i] = mst_orient2d(c[(i + 1) % 3], c[(i + 2) % 3], p);
        sum += share[i];
    }
    for (int i = 0; i < 3; i++) share[i] /= sum;
}
