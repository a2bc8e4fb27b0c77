/* Double sums of the covariance over the nodes of many facets. Few facets: node by node. Many: facets in boxes; two
 * boxes far apart see each other by their second moments only (levels and slopes drop out of both), as a fast multipole
 * sum does with its first term (L. Greengard, V. Rokhlin, J. Comput. Phys. 73 (1987) 325-348). */
#include "ground/spread.h"
#include <stdlib.h>

enum { DIRECT_MOST = 1000, LEAF = 4 }; /* facets and checks */
static const double APART = 2.5;       /* distance of two boxes' middles over the sum of their half diagonals */

static int by_place(const void *a, const void *b) {
    const mst_node *x = a, *y = b;
    for (int k = 0; k < 2; k++)
        if (x->at[k] != y->at[k]) return x->at[k] < y->at[k] ? -1 : 1;
    return 0;
}

size_t mst_rest_nodes(const mst_rest rests[], const uint32_t chosen[], size_t count, mst_node nodes[]) {
    size_t n = 0, kept = 0;
    for (size_t i = 0; i < count; i++) {
        const mst_rest *r = &rests[chosen ? chosen[i] : i];
        for (int k = 0; k < MST_NODES; k++) {
            if (r->weight[0][k] == 0 && r->weight[1][k] == 0) continue;
            nodes[n++] = (mst_node){{r->at[k][0], r->at[k][1]}, {r->weight[0][k], r->weight[1][k]}};
        }
    }
    qsort(nodes, n, sizeof *nodes, by_place);
    for (size_t i = 0; i < n; i++) {
        if (kept && by_place(&nodes[kept - 1], &nodes[i]) == 0) {
            for (int s = 0; s < 2; s++) nodes[kept - 1].weight[s] += nodes[i].weight[s];
        } else nodes[kept++] = nodes[i];
    }
    return kept;
}

static mst_status directly(const mst_rest rests[], size_t count, const double kernel[], mst_arena *arena,
                           double variance[3]) {
    mst_node *nodes = mst_arena_array(arena, MST_NODES * count + 1, sizeof *nodes);
    if (!nodes) return MST_NO_MEMORY;
    size_t n = mst_rest_nodes(rests, NULL, count, nodes);
    for (size_t i = 0; i < n; i++) {
        double seen[2] = {0, 0};
        for (size_t j = 0; j < i; j++) {
            double de = nodes[i].at[0] - nodes[j].at[0], dn = nodes[i].at[1] - nodes[j].at[1];
            double k = mst_covariance_at(kernel, de * de + dn * dn);
            seen[0] += nodes[j].weight[0] * k, seen[1] += nodes[j].weight[1] * k;
        }
        variance[0] += 2 * nodes[i].weight[0] * seen[0];
        variance[1] += nodes[i].weight[0] * seen[1] + nodes[i].weight[1] * seen[0];
        variance[2] += 2 * nodes[i].weight[1] * seen[1];
    }
    return MST_OK;
}

/* ---- boxes ---- */

typedef struct box {
    size_t first, count, child; /* children at child and child + 1; 0: a leaf */
    double middle[2], half, moment[2][3];
} box;
typedef struct boxes {
    mst_rest *rests;
    box *items;
    size_t count, capacity;
} boxes;

static int by_easting(const void *a, const void *b) {
    const mst_rest *x = a, *y = b;
    return x->at[6][0] < y->at[6][0] ? -1 : x->at[6][0] > y->at[6][0];
}
static int by_northing(const void *a, const void *b) {
    const mst_rest *x = a, *y = b;
    return x->at[6][1] < y->at[6][1] ? -1 : x->at[6][1] > y->at[6][1];
}

static box box_of(const mst_rest rests[], size_t first, size_t count, double size[2]) {
    double low[2] = {HUGE_VAL, HUGE_VAL}, high[2] = {-HUGE_VAL, -HUGE_VAL};
    box b = {.first = first, .count = count};
    for (size_t i = first; i < first + count; i++) {
        for (int k = 0; k < 3; k++)
            for (int x = 0; x < 2; x++)
                low[x] = fmin(low[x], rests[i].at[k][x]), high[x] = fmax(high[x], rests[i].at[k][x]);
        for (int s = 0; s < 2; s++)
            for (int k = 0; k < 3; k++) b.moment[s][k] += rests[i].moment[s][k];
    }
    for (int x = 0; x < 2; x++) size[x] = high[x] - low[x], b.middle[x] = (low[x] + high[x]) / 2;
    b.half = hypot(size[0], size[1]) / 2;
    return b;
}

/* Halves the longer side until few facets are left; breadth first, so that children lie together. */
static mst_status build(boxes *t, size_t count, mst_arena *arena) {
    double size[2];
    box *root = MST_PUSH(arena, t->items, t->count, t->capacity);
    if (!root) return MST_NO_MEMORY;
    *root = box_of(t->rests, 0, count, size);
    for (size_t i = 0; i < t->count; i++) {
        box b = t->items[i];
        if (b.count <= LEAF) continue;
        box_of(t->rests, b.first, b.count, size);
        qsort(t->rests + b.first, b.count, sizeof *t->rests, size[0] > size[1] ? by_easting : by_northing);
        size_t half = b.count / 2;
        t->items[i].child = t->count;
        for (int side = 0; side < 2; side++) {
            box *child = MST_PUSH(arena, t->items, t->count, t->capacity);
            if (!child) return MST_NO_MEMORY;
            *child = box_of(t->rests, b.first + (side ? half : 0), side ? b.count - half : half, size);
        }
    }
    return MST_OK;
}

/* Second to fourth derivative of the kernel by the square of the distance. */
static void derivatives(const double kernel[MST_KERNEL_TERMS], double square, double g[3]) {
    g[0] = g[1] = g[2] = 0;
    for (int k = 1; k < MST_KERNEL_TERMS; k++) {
        if (kernel[k] == 0) continue;
        double e = k / 4.0, d = kernel[k] * e * (e - 1) * pow(square, e - 2);
        g[0] += d;
        g[1] += d * (e - 2) / square;
        g[2] += d * (e - 2) * (e - 3) / (square * square);
    }
}

static double far_pair(const double m[3], const double n[3], const double x[2], const double g[3]) {
    double mx[2] = {m[0] * x[0] + m[1] * x[1], m[1] * x[0] + m[2] * x[1]},
           nx[2] = {n[0] * x[0] + n[1] * x[1], n[1] * x[0] + n[2] * x[1]};
    double xmx = mx[0] * x[0] + mx[1] * x[1], xnx = nx[0] * x[0] + nx[1] * x[1], xmnx = mx[0] * nx[0] + mx[1] * nx[1];
    double tm = m[0] + m[2], tn = n[0] + n[2], tmn = m[0] * n[0] + 2 * m[1] * n[1] + m[2] * n[2];
    return 4 * g[2] * xmx * xnx + 2 * g[1] * (tm * xnx + tn * xmx + 4 * xmnx) + g[0] * (tm * tn + 2 * tmn);
}

static void near_pair(const mst_rest *a, const mst_rest *b, const double kernel[], double sum[3]) {
    for (int i = 0; i < MST_NODES; i++) {
        double seen[2] = {0, 0};
        for (int j = 0; j < MST_NODES; j++) {
            double de = a->at[i][0] - b->at[j][0], dn = a->at[i][1] - b->at[j][1];
            double k = mst_covariance_at(kernel, de * de + dn * dn);
            seen[0] += b->weight[0][j] * k, seen[1] += b->weight[1][j] * k;
        }
        sum[0] += a->weight[0][i] * seen[0];
        sum[1] += (a->weight[0][i] * seen[1] + a->weight[1][i] * seen[0]) / 2;
        sum[2] += a->weight[1][i] * seen[1];
    }
}

static void near_boxes(const boxes *t, const box *a, const box *b, const double kernel[], double sum[3]) {
    for (size_t i = a->first; i < a->first + a->count; i++)
        for (size_t j = b->first; j < b->first + b->count; j++) {
            if (a == b && j > i) break;
            double one[3] = {0, 0, 0}, times = a == b && i == j ? 1 : 2;
            near_pair(&t->rests[i], &t->rests[j], kernel, one);
            for (int k = 0; k < 3; k++) sum[k] += times * one[k];
        }
}

static void far_boxes(const box *a, const box *b, const double kernel[], double sum[3]) {
    double x[2] = {a->middle[0] - b->middle[0], a->middle[1] - b->middle[1]}, g[3];
    derivatives(kernel, x[0] * x[0] + x[1] * x[1], g);
    sum[0] += 2 * far_pair(a->moment[0], b->moment[0], x, g);
    sum[1] += far_pair(a->moment[0], b->moment[1], x, g) + far_pair(a->moment[1], b->moment[0], x, g);
    sum[2] += 2 * far_pair(a->moment[1], b->moment[1], x, g);
}

typedef struct two {
    size_t a, b;
} two;

/* Pairs still to be looked at stand on a stack; each is far, or near and small, or its larger box is opened. */
static mst_status by_boxes(const mst_rest rests[], size_t count, const double kernel[], mst_arena *arena,
                           double variance[3]) {
    boxes t = {.rests = mst_arena_array(arena, count, sizeof *t.rests)};
    if (!t.rests) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++) t.rests[i] = rests[i];
    if (build(&t, count, arena)) return MST_NO_MEMORY;
    two *stack = NULL;
    size_t depth = 0, room = 0;
    two *top = MST_PUSH(arena, stack, depth, room);
    if (!top) return MST_NO_MEMORY;
    *top = (two){0, 0};
    while (depth) {
        two p = stack[--depth];
        const box *a = &t.items[p.a], *b = &t.items[p.b];
        if (p.a != p.b &&
            hypot(a->middle[0] - b->middle[0], a->middle[1] - b->middle[1]) > APART * (a->half + b->half)) {
            far_boxes(a, b, kernel, variance);
            continue;
        }
        if (!a->child && !b->child) {
            near_boxes(&t, a, b, kernel, variance);
            continue;
        }
        bool open_a = a->child && (!b->child || a->half >= b->half);
        two next[3];
        int n = 0;
        if (p.a == p.b)
            next[n++] = (two){a->child, a->child}, next[n++] = (two){a->child + 1, a->child + 1},
            next[n++] = (two){a->child, a->child + 1};
        else if (open_a) next[n++] = (two){a->child, p.b}, next[n++] = (two){a->child + 1, p.b};
        else next[n++] = (two){p.a, b->child}, next[n++] = (two){p.a, b->child + 1};
        for (int i = 0; i < n; i++) {
            if (!(top = MST_PUSH(arena, stack, depth, room))) return MST_NO_MEMORY;
            *top = next[i];
        }
    }
    return MST_OK;
}

mst_status mst_rests_spread(const mst_rest rests[], size_t count, const double kernel[MST_KERNEL_TERMS],
                            mst_arena *arena, double variance[3]) {
    variance[0] = variance[1] = variance[2] = 0;
    mst_status status = count <= DIRECT_MOST ? directly(rests, count, kernel, arena, variance)
                                             : by_boxes(rests, count, kernel, arena, variance);
    for (int k = 0; k < 3; k += 2) variance[k] = fmax(variance[k], 0); /* rounding */
    return status;
}
