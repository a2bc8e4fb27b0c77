/* Edges turn until every one is locally Delaunay or a breakline. The gap that a piece of a segment leaves where it runs
 * is filled on either side: over each base comes the vertex whose circle holds no other one (M. V. Anglada, An improved
 * incremental algorithm for constructing restricted Delaunay triangulations, Computers & Graphics 21 (1997) 215-223).
 */
#include "ground/triangulation_fixer.h"

bool mst_doubt(mst_fixer *f, uint32_t edge) {
    uint32_t *e = MST_PUSH(f->scratch, f->doubtful, f->doubtful_count, f->doubtful_capacity);
    if (e) *e = edge;
    return e;
}

/* The hull turns left at every vertex or goes straight; before, p and behind follow each other clockwise round it. */
static bool hull_bends_in(const mst_mesh *m, uint32_t before, uint32_t p, uint32_t behind) {
    return mst_turn(m, before, p, behind) > 0;
}

static bool must_turn(const mst_mesh *m, uint32_t edge) {
    if (mst_is_fixed(m, edge)) return false;
    uint32_t a = mst_apex(m, edge), b = mst_apex(m, mst_across(m, edge)), p = mst_from(m, edge), q = mst_to(m, edge);
    if (a == MST_OUTSIDE || b == MST_OUTSIDE) return false;
    if (p == MST_OUTSIDE) return hull_bends_in(m, b, q, a);
    if (q == MST_OUTSIDE) return hull_bends_in(m, a, p, b);
    return mst_in_circle(m, a, p, q, b);
}

void mst_turn_edge(mst_fixer *f, uint32_t edge) {
    mst_mesh *m = f->m;
    uint32_t other = mst_across(m, edge), a = mst_apex(m, edge), b = mst_apex(m, other);
    uint32_t beyond_qa = mst_twin(m, mst_next(edge)), beyond_pb = mst_twin(m, mst_next(other));
    mst_set_spoke(f, mst_from(m, edge), mst_next(edge));
    mst_set_spoke(f, mst_to(m, edge), mst_next(other));
    m->corner[mst_slot(mst_prev(edge))] = b;
    m->corner[mst_slot(mst_prev(other))] = a;
    mst_set_spoke(f, a, edge);
    mst_set_spoke(f, b, other);
    mst_tie(m, edge, beyond_pb);
    mst_tie(m, other, beyond_qa);
    mst_tie(m, mst_next(edge), mst_next(other));
}

bool mst_settle(mst_fixer *f) {
    while (f->doubtful_count) {
        uint32_t edge = f->doubtful[--f->doubtful_count];
        if (!must_turn(f->m, edge)) continue;
        uint32_t other = mst_across(f->m, edge);
        mst_turn_edge(f, edge);
        if (!mst_doubt(f, edge) || !mst_doubt(f, mst_prev(edge)) || !mst_doubt(f, other) ||
            !mst_doubt(f, mst_prev(other)))
            return false;
    }
    return true;
}

/* ---- the gap and its filling ---- */

bool mst_add_link(mst_fixer *f, mst_chain *c, uint32_t vertex, uint32_t edge) {
    mst_link *l = MST_PUSH(f->scratch, c->items, c->count, c->capacity);
    if (l) *l = (mst_link){vertex, edge, 0, UINT32_MAX};
    return l;
}

/* Notes what lies beyond each edge of the rim. An edge with the gap on both sides finds its own partner there: each
 * writes its number, negated so that it is no half-edge, where the other one looks. */
static void look_beyond(mst_mesh *m, mst_chain *c) {
    for (uint32_t i = 1; i < c->count; i++) c->items[i].beyond = mst_twin(m, c->items[i].edge);
    for (uint32_t i = 1; i < c->count; i++) m->twin[mst_slot(c->items[i].beyond & ~MST_FIXED)] = ~i;
    for (uint32_t i = 1; i < c->count; i++) {
        uint32_t seen = mst_twin(m, c->items[i].edge);
        if (seen != c->items[i].beyond) c->items[i].partner = ~seen;
    }
}

/* Sews half-edge edge to the rim's link i. The first of two partners leaves its half-edge in beyond of the second. */
static void sew(mst_mesh *m, mst_chain *c, uint32_t i, uint32_t edge) {
    mst_link *l = &c->items[i];
    if (l->partner == UINT32_MAX) {
        mst_tie(m, edge, l->beyond);
        return;
    }
    mst_link *other = &c->items[l->partner];
    if (other->edge == UINT32_MAX) mst_tie(m, edge, l->beyond);
    else other->beyond = edge | (l->beyond & MST_FIXED);
    l->edge = UINT32_MAX;
}

static uint32_t best_apex(const mst_mesh *m, const mst_chain *c, uint32_t low, uint32_t high) {
    uint32_t from = c->items[low].vertex, to = c->items[high].vertex, best = low + 1;
    for (uint32_t i = low + 2; i < high; i++)
        if (mst_in_circle(m, from, to, c->items[best].vertex, c->items[i].vertex)) best = i;
    return best;
}

static bool push_span(mst_fixer *f, uint32_t low, uint32_t high, uint32_t edge) {
    mst_span *s = MST_PUSH(f->scratch, f->spans, f->span_count, f->span_capacity);
    if (s) *s = (mst_span){low, high, edge};
    return s;
}

/* Fills the polygon between the chain's first and last vertex, which lies to the left of the base between them.
 * @param base the half-edge of that base, out of a triangle of the gap */
static bool fill(mst_fixer *f, mst_chain *c, uint32_t *base) {
    mst_mesh *m = f->m;
    *base = UINT32_MAX;
    if (!push_span(f, 0, (uint32_t)c->count - 1, UINT32_MAX)) return false;
    while (f->span_count) {
        mst_span s = f->spans[--f->span_count];
        if (s.high == s.low + 1) {
            sew(m, c, s.high, s.edge);
            continue;
        }
        uint32_t best = best_apex(m, c, s.low, s.high), t = f->gap[--f->gap_count];
        mst_write_triangle(f, t, c->items[best].vertex, c->items[s.low].vertex, c->items[s.high].vertex);
        if (s.edge == UINT32_MAX) *base = 4 * t;
        else mst_tie(m, 4 * t, s.edge);
        if (!push_span(f, s.low, best, 4 * t + 2) || !push_span(f, best, s.high, 4 * t + 1)) return false;
    }
    return true;
}

/* Turns the right side round, so that it runs from the end to the start: each edge then belongs to the link before. */
static void reverse(mst_chain *c) {
    for (size_t i = 0, j = c->count - 1; i < j; i++, j--) {
        uint32_t v = c->items[i].vertex;
        c->items[i].vertex = c->items[j].vertex;
        c->items[j].vertex = v;
    }
    for (size_t i = 1, j = c->count - 1; i < j; i++, j--) {
        uint32_t e = c->items[i].edge;
        c->items[i].edge = c->items[j].edge;
        c->items[j].edge = e;
    }
}

bool mst_fill_gap(mst_fixer *f, uint32_t segment) {
    uint32_t from = f->left.items[0].vertex, to = f->left.items[f->left.count - 1].vertex, left, right;
    reverse(&f->right);
    look_beyond(f->m, &f->left);
    look_beyond(f->m, &f->right);
    if (!fill(f, &f->left, &left) || !fill(f, &f->right, &right)) return false;
    mst_tie(f->m, left, right | MST_FIXED);
    return mst_own(f, from, to, segment);
}
