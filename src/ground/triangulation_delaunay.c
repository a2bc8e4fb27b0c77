/* Divide and conquer after L. Guibas, J. Stolfi, Primitives for the manipulation of general subdivisions and the
 * computation of Voronoi diagrams, ACM Transactions on Graphics 4 (1985) 74-123, with alternating cuts (R. Dwyer, 1987)
 * taken from the order of the places. Blocks of neighbouring places are joined across the cut between them, finest cut
 * first, each in its own stretch of the triangle arrays: places [first, first + count) own the triangles
 * [2 first, 2 first + 2 count - 2), and the two that follow serve the next join. */
#include "base/parallel.h"
#include "ground/triangulation.h"

/* A finished stretch of places. low and high are half-edges of outside triangles, opposite to OUTSIDE, near the ends of
 * the last cut; unset while count is 1. */
typedef struct block {
    uint32_t first, count, low, high;
} block;

/* Order across a cut: eastings for a cut that runs north; else northings, and westings where they are equal, which is
 * the same turned by a quarter. */
static inline bool before(const mst_mesh *m, int axis, uint32_t u, uint32_t v) {
    const double *p = m->at[u], *q = m->at[v];
    if (p[axis] != q[axis]) return p[axis] < q[axis];
    return axis == 0 ? p[1] < q[1] : p[0] > q[0];
}

/* @return the outside half-edge that starts at the last vertex across the cut. */
static uint32_t last_of(const mst_mesh *m, int axis, uint32_t out) {
    uint32_t here = mst_from(m, out), beside;
    while (before(m, axis, here, beside = mst_from(m, mst_onward(m, out)))) out = mst_onward(m, out), here = beside;
    while (before(m, axis, here, beside = mst_to(m, out))) out = mst_back(m, out), here = beside;
    return out;
}
/* @return the outside half-edge that ends at the first vertex across the cut. */
static uint32_t first_of(const mst_mesh *m, int axis, uint32_t out) {
    uint32_t here = mst_to(m, out), beside;
    while (before(m, axis, beside = mst_from(m, out), here)) out = mst_onward(m, out), here = beside;
    while (before(m, axis, beside = mst_to(m, mst_back(m, out)), here)) out = mst_back(m, out), here = beside;
    return out;
}

/* The zip between two blocks. left .. right is the top edge so far; above_left and above_right are the outside
 * half-edges of the hulls' next edges up, left_out and right_out those below the first edge. */
typedef struct zip {
    mst_mesh *m;
    bool has_left, has_right; /* a block of one place has no edges */
    uint32_t left, right, base, left_out, right_out, above_left, above_right;
} zip;

/* Finds the edge between the hulls that has both blocks above it. */
static void drop_to_bottom(zip *z, const block *a, const block *b, int axis) {
    mst_mesh *m = z->m;
    z->left = a->first, z->right = b->first;
    if (z->has_left) z->left_out = last_of(m, axis, a->high), z->left = mst_from(m, z->left_out);
    if (z->has_right) z->right_out = first_of(m, axis, b->low), z->right = mst_to(m, z->right_out);
    for (bool moved = true; moved;) {
        moved = false;
        uint32_t below;
        if (z->has_left && mst_turn(m, z->left, z->right, below = mst_to(m, z->left_out)) < 0)
            z->left_out = mst_back(m, z->left_out), z->left = below, moved = true;
        if (z->has_right && mst_turn(m, z->left, z->right, below = mst_from(m, z->right_out)) < 0)
            z->right_out = mst_onward(m, z->right_out), z->right = below, moved = true;
    }
    if (z->has_left) z->above_left = mst_onward(m, z->left_out);
    if (z->has_right) z->above_right = mst_back(m, z->right_out);
}

/* Writes the outside triangle of the hull's edge to -> from at t. @return its half-edge opposite to OUTSIDE */
static uint32_t outside_triangle(mst_mesh *m, uint32_t t, uint32_t from, uint32_t to) {
    m->corner[3 * (size_t)t] = MST_OUTSIDE;
    m->corner[3 * (size_t)t + 1] = from;
    m->corner[3 * (size_t)t + 2] = to;
    return 4 * t;
}

/* Drops the edges at the left end whose triangles the new one would spoil: the edge turns to join the apex behind it
 * with OUTSIDE. On return up is the next vertex up. */
static inline void clear_left(zip *z, uint32_t *up, mst_sight *seen) {
    mst_mesh *m = z->m;
    for (;;) {
        uint32_t out = z->above_left, in = mst_twin(m, out), apex = mst_apex(m, in);
        if (apex == MST_OUTSIDE) return;
        mst_sight behind = mst_look(m, z->left, z->right, apex);
        if (!mst_sees_inside(m, z->left, z->right, *up, seen, apex, &behind)) return;
        uint32_t beyond = mst_twin(m, mst_prev(out)), side = mst_twin(m, mst_prev(in));
        mst_bond(m, in, beyond);
        mst_bond(m, out, side);
        mst_bond(m, mst_prev(out), mst_prev(in));
        m->corner[mst_slot(mst_next(out))] = apex;
        m->corner[mst_slot(mst_next(in))] = MST_OUTSIDE;
        *up = apex;
        *seen = behind;
    }
}
static inline void clear_right(zip *z, uint32_t *up, mst_sight *seen) {
    mst_mesh *m = z->m;
    for (;;) {
        uint32_t out = z->above_right, in = mst_twin(m, out), apex = mst_apex(m, in);
        if (apex == MST_OUTSIDE) return;
        mst_sight behind = mst_look(m, z->left, z->right, apex);
        if (!mst_sees_inside(m, z->left, z->right, *up, seen, apex, &behind)) return;
        uint32_t beyond = mst_twin(m, mst_next(out)), side = mst_twin(m, mst_next(in));
        mst_bond(m, in, beyond);
        mst_bond(m, out, side);
        mst_bond(m, mst_next(out), mst_next(in));
        m->corner[mst_slot(mst_prev(out))] = apex;
        m->corner[mst_slot(mst_prev(in))] = MST_OUTSIDE;
        *up = apex;
        *seen = behind;
    }
}

/* Turns the outside triangle above the base into one of the ground and makes its free side the base. */
static void close_left(zip *z, uint32_t up) {
    uint32_t out = z->above_left;
    z->above_left = mst_onward(z->m, out);
    z->m->corner[mst_slot(out)] = z->right;
    mst_bond(z->m, mst_next(out), z->base);
    z->base = mst_prev(out);
    z->left = up;
}
static void close_right(zip *z, uint32_t up) {
    uint32_t out = z->above_right;
    z->above_right = mst_back(z->m, out);
    z->m->corner[mst_slot(out)] = z->left;
    mst_bond(z->m, mst_prev(out), z->base);
    z->base = mst_next(out);
    z->right = up;
}

static void rise(zip *z) {
    mst_mesh *m = z->m;
    for (;;) {
        uint32_t up_left = z->has_left ? mst_from(m, z->above_left) : 0;
        uint32_t up_right = z->has_right ? mst_to(m, z->above_right) : 0;
        mst_sight from_left = {0}, from_right = {0};
        bool left_open = false, right_open = false;
        if (z->has_left) {
            from_left = mst_look(m, z->left, z->right, up_left);
            left_open = mst_sees_above(m, z->left, z->right, up_left, &from_left);
        }
        if (z->has_right) {
            from_right = mst_look(m, z->left, z->right, up_right);
            right_open = mst_sees_above(m, z->left, z->right, up_right, &from_right);
        }
        if (!left_open && !right_open) return;
        if (left_open) clear_left(z, &up_left, &from_left);
        if (right_open) clear_right(z, &up_right, &from_right);
        bool take_right = !left_open || (right_open && mst_sees_inside(m, z->left, z->right, up_left, &from_left,
                                                                       up_right, &from_right));
        if (take_right) close_right(z, up_right);
        else close_left(z, up_left);
    }
}

static block join_any(mst_mesh *m, const block *a, const block *b, int axis) {
    zip z = {.m = m, .has_left = a->count > 1, .has_right = b->count > 1};
    drop_to_bottom(&z, a, b, axis);
    uint32_t bottom = outside_triangle(m, 2 * b->first - 2, z.right, z.left);
    if (z.has_left) mst_bond(m, mst_next(bottom), mst_prev(z.left_out));
    if (z.has_right) mst_bond(m, mst_prev(bottom), mst_next(z.right_out));
    z.base = bottom;
    rise(&z);
    uint32_t top = outside_triangle(m, 2 * b->first - 1, z.left, z.right);
    mst_bond(m, top, z.base);
    mst_bond(m, mst_next(top), z.has_right ? mst_prev(z.above_right) : mst_prev(bottom));
    mst_bond(m, mst_prev(top), z.has_left ? mst_next(z.above_left) : mst_next(bottom));
    return (block){a->first, a->count + b->count, bottom, top};
}

/* ---- blocks of two and three places, written at once ---- */

/* Two places are but noted by a join and written when the next one needs them: half of them become part of three. */
static void write_two(mst_mesh *m, block *b) {
    if (b->count != 2) return;
    uint32_t t = 2 * b->first;
    static const uint32_t TWINS[6] = {4, 6, 5, 0, 2, 1};
    b->low = outside_triangle(m, t, b->first + 1, b->first);
    b->high = outside_triangle(m, t + 1, b->first, b->first + 1);
    for (size_t k = 0; k < 6; k++) m->twin[3 * (size_t)t + k] = 4 * t + TWINS[k];
}

/* A triangle and the three outside of it. @return false when the places lie on one line */
static bool write_three(mst_mesh *m, block *b) {
    uint32_t first = b->first, second = first + 1, third = first + 2, t = 2 * first;
    double turn = mst_turn(m, first, second, third);
    if (turn == 0) return false;
    if (turn < 0) second = first + 2, third = first + 1;
    const uint32_t corners[12] = {first,       second, third, MST_OUTSIDE, third,  second,
                                  MST_OUTSIDE, first,  third, MST_OUTSIDE, second, first};
    static const uint32_t TWINS[12] = {4, 8, 12, 0, 14, 9, 1, 6, 13, 2, 10, 5};
    for (size_t k = 0; k < 12; k++) m->corner[3 * (size_t)t + k] = corners[k];
    for (size_t k = 0; k < 12; k++) m->twin[3 * (size_t)t + k] = 4 * t + TWINS[k];
    b->low = b->high = 4 * t + 4;
    return true;
}

static block join(mst_mesh *m, block *a, block *b, int axis) {
    block both = {a->first, a->count + b->count, 0, 0};
    if (both.count == 2) return both;
    if (both.count == 3 && write_three(m, &both)) return both;
    write_two(m, a);
    write_two(m, b);
    return join_any(m, a, b, axis);
}

/* ---- the order of the joins ---- */

/* Open blocks and the cut before each; the cuts are ever finer, so there are no more than levels. */
typedef struct stack {
    block open[MST_LEVELS + 1];
    uint8_t cut[MST_LEVELS + 1];
    int count;
} stack;

static void join_last(mst_mesh *m, stack *s) {
    s->count--;
    s->open[s->count - 1] = join(m, &s->open[s->count - 1], &s->open[s->count], mst_cut_axis(s->cut[s->count]));
}
static void push(mst_mesh *m, stack *s, uint8_t cut, const block *b) {
    while (s->count > 1 && s->cut[s->count - 1] < cut) join_last(m, s);
    s->cut[s->count] = cut;
    s->open[s->count++] = *b;
}

static block build_block(mst_mesh *m, const mst_order *order, uint32_t from, uint32_t to) {
    stack s = {.count = 0};
    for (uint32_t i = from; i < to; i++) push(m, &s, order->level[i], &(block){i, 1, 0, 0});
    while (s.count > 1) join_last(m, &s);
    return s.open[0];
}

/* ---- several threads: stretches between coarse cuts, then the joins of those ---- */

enum { STRETCHES = 256, STRETCH_LEAST = 4096 };
typedef struct share {
    mst_mesh *m;
    const mst_order *order;
    int count;
    uint32_t start[STRETCHES + 1];
    block done[STRETCHES];
} share;

static void build_stretch(void *context, int index) {
    share *s = context;
    s->done[index] = build_block(s->m, s->order, s->start[index], s->start[index + 1]);
}

/* The finest level such that its cuts and the coarser ones make no more stretches than there is room for. */
static int coarse_level(const mst_order *order) {
    size_t cuts[MST_LEVELS] = {0}, stretches = 1;
    for (uint32_t i = 1; i < order->place_count; i++) cuts[order->level[i]]++;
    int level = MST_LEVELS;
    while (level > 0 && stretches + cuts[level - 1] <= STRETCHES) stretches += cuts[--level];
    return level;
}

static block build_shared(mst_mesh *m, const mst_order *order, int threads) {
    share s = {.m = m, .order = order};
    int level = coarse_level(order);
    s.start[s.count++] = 0;
    for (uint32_t i = 1; i < order->place_count; i++)
        if (order->level[i] >= level) s.start[s.count++] = i;
    s.start[s.count] = order->place_count;
    mst_parallel(threads, s.count, build_stretch, &s);
    stack joins = {.count = 0};
    for (int i = 0; i < s.count; i++) push(m, &joins, order->level[s.start[i]], &s.done[i]);
    while (joins.count > 1) join_last(m, &joins);
    return joins.open[0];
}

void mst_delaunay(mst_mesh *m, const mst_order *order, int threads) {
    bool shared = threads > 1 && order->place_count > 2 * STRETCH_LEAST;
    block all = shared ? build_shared(m, order, threads) : build_block(m, order, 0, order->place_count);
    m->outside = all.low;
    m->triangle_count = 2 * order->place_count - 2;
}
