/* Does a path cross itself? The flattened path's pieces stand in a binary tree of boxes in their own order (neighbours
 * along a path are neighbours in space), and only pairs whose boxes meet are compared. Signs are exact. */
#include "geometry/arc.h"
#include "geometry/boxtree.h"
#include <math.h>

static const double SAGITTA_M = 0.001; /* as the header says */

typedef struct pieces {
    const double (*at)[2]; /* vertices; piece i runs from i to the next */
    size_t count;          /* pieces */
    size_t vertices;
    bool closed;
    mst_boxtree tree;
} pieces;

static const double *end_of(const pieces *p, size_t i) { return p->at[i + 1 < p->vertices ? i + 1 : 0]; }
static bool same(const double a[2], const double b[2]) { return a[0] == b[0] && a[1] == b[1]; }

static bool within(const double a[2], const double b[2], const double p[2]) {
    return fmin(a[0], b[0]) <= p[0] && p[0] <= fmax(a[0], b[0]) && fmin(a[1], b[1]) <= p[1] && p[1] <= fmax(a[1], b[1]);
}

/* Neighbours share b; they touch elsewhere only when the second doubles back over the first. */
static bool doubles_back(const double a[2], const double b[2], const double c[2], mst_point *where) {
    if (mst_orient2d(a, b, c) != 0) return false;
    if (!((a[0] - b[0]) * (c[0] - b[0]) + (a[1] - b[1]) * (c[1] - b[1]) > 0)) return false;
    const double *nearer = within(a, b, c) ? c : a;
    *where = (mst_point){nearer[0], nearer[1]};
    return true;
}

static bool segments_meet(const double a[2], const double b[2], const double c[2], const double d[2],
                          mst_point *where) {
    double abc = mst_orient2d(a, b, c), abd = mst_orient2d(a, b, d);
    double cda = mst_orient2d(c, d, a), cdb = mst_orient2d(c, d, b);
    const double *touch = NULL;
    if (abc == 0 && within(a, b, c)) touch = c;
    else if (abd == 0 && within(a, b, d)) touch = d;
    else if (cda == 0 && within(c, d, a)) touch = a;
    else if (cdb == 0 && within(c, d, b)) touch = b;
    if (touch) {
        *where = (mst_point){touch[0], touch[1]};
        return true;
    }
    if ((abc > 0) == (abd > 0) || (cda > 0) == (cdb > 0) || abc == 0 || abd == 0 || cda == 0 || cdb == 0) return false;
    double t = abc / (abc - abd);
    *where = (mst_point){c[0] + t * (d[0] - c[0]), c[1] + t * (d[1] - c[1])};
    return true;
}

static bool pair_meets(const pieces *p, size_t i, size_t j, mst_point *where) {
    if (j == i + 1 && doubles_back(p->at[i], p->at[j], end_of(p, j), where)) return true;
    bool wraps = p->closed && i == 0 && j + 1 == p->count;
    if (wraps && doubles_back(p->at[j], p->at[0], end_of(p, 0), where)) return true;
    if (j == i + 1 || wraps) return false;
    return segments_meet(p->at[i], end_of(p, i), p->at[j], end_of(p, j), where);
}

static mst_status grow_tree(pieces *p, mst_arena *arena) {
    mst_box *boxes = mst_arena_array(arena, p->count, sizeof *boxes);
    if (!boxes) return MST_NO_MEMORY;
    for (size_t i = 0; i < p->count; i++) {
        const double *from = p->at[i], *to = end_of(p, i);
        boxes[i] = (mst_box){fmin(from[0], to[0]), fmin(from[1], to[1]), fmax(from[0], to[0]), fmax(from[1], to[1])};
    }
    return mst_boxtree_build(boxes, p->count, false, arena, &p->tree);
}

/* Pairs of equal-depth nodes, left one first; each pair leaves at most four, so 4 x 64 deep is never reached. */
static bool search(const pieces *p, mst_point *where) {
    const mst_boxtree *t = &p->tree;
    struct {
        size_t a, b;
    } stack[256] = {{1, 1}};
    for (size_t top = 1; top > 0;) {
        size_t a = stack[--top].a, b = stack[top].b;
        if (!mst_boxes_meet(&t->nodes[a], &t->nodes[b])) continue;
        if (a >= t->leaves) {
            if (a != b && pair_meets(p, a - t->leaves, b - t->leaves, where)) return true;
            continue;
        }
        for (int k = 3; k >= 0; k--) {
            size_t left = 2 * a + (size_t)(k / 2), right = 2 * b + (size_t)(k % 2);
            if (left <= right) stack[top].a = left, stack[top++].b = right;
        }
    }
    return false;
}

/* Without repeats: a vertex measured twice is not a crossing. */
static mst_status take_pieces(const mst_path *path, mst_arena *arena, pieces *p) {
    mst_path flat;
    mst_status status = mst_path_flatten(path, SAGITTA_M, arena, &flat, NULL);
    if (status) return status;
    double(*at)[2] = mst_arena_array(arena, flat.count + 1, sizeof *at);
    if (!at) return MST_NO_MEMORY;
    size_t count = 0;
    for (size_t i = 0; i < flat.count; i++) {
        const double here[2] = {flat.vertices[i].easting_m, flat.vertices[i].northing_m};
        if (count && same(at[count - 1], here)) continue;
        at[count][0] = here[0];
        at[count++][1] = here[1];
    }
    if (path->closed && count > 1 && same(at[count - 1], at[0])) count--;
    size_t edges = count < 2 ? 0 : path->closed ? count : count - 1;
    *p = (pieces){(const double(*)[2])at, edges, count, path->closed, {0}};
    return MST_OK;
}

bool mst_path_crosses_itself(const mst_path *path, mst_point *where) {
    pieces p = {0};
    mst_point at = {NAN, NAN};
    mst_arena *arena = mst_arena_new();
    bool crosses = true; /* what cannot be looked at is not called clean */
    if (arena && take_pieces(path, arena, &p) == MST_OK) {
        if (p.count < 2) crosses = false;
        else if (grow_tree(&p, arena) == MST_OK) crosses = search(&p, &at);
    }
    mst_arena_free(arena);
    if (crosses && where) *where = at;
    return crosses;
}
