/* Vertices come and go one at a time. A new one splits the triangle or edge that it falls on (beyond the hull: an
 * outside triangle that it sees), then edges turn (C. L. Lawson, Software for C1 surface interpolation, in Mathematical
 * Software III, 1977). For one that goes, the edges to its neighbours turn away until three are left, or on the hull
 * only those that stay on it (after O. Devillers, On deletion in Delaunay triangulations, International Journal of
 * Computational Geometry and Applications 12 (2002) 193-205). */
#include "ground/triangulation_fixer.h"
#include <string.h>

/* A half-edge and its breakline bit share 32 bits. */
static const uint32_t MOST_VERTICES = (uint32_t)1 << 28;

static bool grow(mst_fixer *f) {
    mst_mesh *m = f->m;
    size_t room = m->vertex_room + m->vertex_room / 2;
    double(*at)[2] = mst_arena_array(f->arena, room, sizeof *at);
    uint32_t *corner = mst_arena_array(f->arena, 2 * room, 3 * sizeof *corner);
    uint32_t *twin = mst_arena_array(f->arena, 2 * room, 3 * sizeof *twin);
    uint32_t *spoke = mst_arena_array(f->scratch, room, sizeof *spoke);
    if (!at || !corner || !twin || !spoke) return false;
    memcpy(at, m->at, m->vertex_count * sizeof *at);
    memcpy(corner, m->corner, m->triangle_count * 3 * sizeof *corner);
    memcpy(twin, m->twin, m->triangle_count * 3 * sizeof *twin);
    memcpy(spoke, f->spoke, m->vertex_count * sizeof *spoke);
    m->at = at, m->corner = corner, m->twin = twin, f->spoke = spoke;
    m->vertex_room = f->spoke_room = room, m->triangle_room = 2 * room;
    return true;
}

bool mst_fresh_vertex(mst_fixer *f, uint32_t *vertex) {
    mst_mesh *m = f->m;
    if (f->unused_count) {
        *vertex = f->unused[f->unused_count - 1];
        return true;
    }
    if (m->vertex_count >= MOST_VERTICES) return false;
    if (m->vertex_count >= m->vertex_room && !grow(f)) return false;
    *vertex = m->vertex_count;
    return true;
}

void mst_claim_vertex(mst_fixer *f, uint32_t vertex) {
    if (vertex == f->m->vertex_count) f->m->vertex_count++;
    else f->unused_count--;
}

/* ---- a vertex comes ---- */

bool mst_split_edge(mst_fixer *f, uint32_t edge, uint32_t v) {
    mst_mesh *m = f->m;
    uint32_t other = mst_across(m, edge), a = mst_apex(m, edge), b = mst_apex(m, other), p = mst_from(m, edge),
             q = mst_to(m, edge), bit = mst_twin(m, edge) & MST_FIXED;
    uint32_t pa = mst_twin(m, mst_prev(edge)), qa = mst_twin(m, mst_next(edge));
    uint32_t pb = mst_twin(m, mst_next(other)), qb = mst_twin(m, mst_prev(other));
    uint32_t t[4] = {edge >> 2, m->triangle_count, other >> 2, m->triangle_count + 1};
    m->triangle_count += 2;
    mst_write_triangle(f, t[0], v, a, p);
    mst_write_triangle(f, t[1], v, q, a);
    mst_write_triangle(f, t[2], v, b, q);
    mst_write_triangle(f, t[3], v, p, b);
    const uint32_t beyond[4] = {pa, qa, qb, pb};
    for (int i = 0; i < 4; i++) mst_tie(m, 4 * t[i], beyond[i]);
    mst_tie(m, 4 * t[0] + 2, 4 * t[1] + 1);         /* v a */
    mst_tie(m, 4 * t[1] + 2, (4 * t[2] + 1) | bit); /* v q */
    mst_tie(m, 4 * t[2] + 2, 4 * t[3] + 1);         /* v b */
    mst_tie(m, 4 * t[3] + 2, (4 * t[0] + 1) | bit); /* v p */
    for (int i = 0; i < 4; i++)
        if (!mst_doubt(f, 4 * t[i]) || !mst_doubt(f, 4 * t[i] + 2)) return false;
    if (bit) {
        if (!mst_own_alike(f, p, q, p, v) || !mst_own_alike(f, p, q, v, q)) return false;
        mst_disown_all(f, p, q);
    }
    return mst_settle(f);
}

/* The triangle a b c becomes three around v. */
static bool split_triangle(mst_fixer *f, uint32_t triangle, uint32_t v) {
    mst_mesh *m = f->m;
    uint32_t t[3] = {triangle, m->triangle_count, m->triangle_count + 1}, corner[3], beyond[3];
    for (uint32_t k = 0; k < 3; k++)
        corner[k] = mst_apex(m, 4 * triangle + k), beyond[k] = mst_twin(m, 4 * triangle + k);
    m->triangle_count += 2;
    for (int k = 0; k < 3; k++) mst_write_triangle(f, t[k], v, corner[(k + 1) % 3], corner[(k + 2) % 3]);
    for (int k = 0; k < 3; k++) {
        mst_tie(m, 4 * t[k], beyond[k]);
        mst_tie(m, 4 * t[k] + 1, 4 * t[(k + 1) % 3] + 2); /* v and the corner after the next */
    }
    for (int k = 0; k < 3; k++)
        if (!mst_doubt(f, 4 * t[k])) return false;
    return mst_settle(f);
}

typedef struct spot {
    uint32_t triangle;
    int on_edges;     /* 0: inside, or beyond the hull; 1: on an edge; 2: at a corner */
    uint32_t edge[2]; /* those that it lies on */
} spot;

static bool is_outside(const mst_mesh *m, uint32_t edge) {
    return mst_apex(m, edge) == MST_OUTSIDE || mst_from(m, edge) == MST_OUTSIDE || mst_to(m, edge) == MST_OUTSIDE;
}

/* Walks to the place of vertex v. Which edge is tried first varies, so that among breaklines the walk cannot go round
 * for ever (O. Devillers, S. Pion, M. Teillaud, Walking in a triangulation, International Journal of Foundations of
 * Computer Science 13 (2002) 181-199). */
static spot walk_to(const mst_mesh *m, uint32_t v, uint32_t edge) {
    uint32_t dice = 2463534242u;
    while (is_outside(m, edge)) edge = mst_apex(m, edge) == MST_OUTSIDE ? mst_across(m, edge) : mst_next(edge);
    for (;;) {
        spot s = {.triangle = edge >> 2};
        dice ^= dice << 13, dice ^= dice >> 17, dice ^= dice << 5;
        uint32_t e = 4 * s.triangle + dice % 3, k = 0;
        for (; k < 3; k++, e = mst_next(e)) {
            double side = mst_turn(m, mst_from(m, e), mst_to(m, e), v);
            if (side < 0) break;
            if (side == 0) s.edge[s.on_edges++ & 1] = e;
        }
        if (k == 3) return s;
        edge = mst_across(m, e);
        if (mst_apex(m, edge) == MST_OUTSIDE) return (spot){.triangle = edge >> 2};
    }
}

/* The corner that two edges of a triangle share. */
static uint32_t shared_corner(const mst_mesh *m, const uint32_t edge[2]) {
    return mst_from(m, edge[0]) == mst_to(m, edge[1]) ? mst_from(m, edge[0]) : mst_to(m, edge[0]);
}

bool mst_put_vertex(mst_fixer *f, uint32_t vertex, uint32_t start, uint32_t *taken) {
    *taken = MST_OUTSIDE;
    spot s = walk_to(f->m, vertex, start);
    if (s.on_edges == 2) {
        *taken = shared_corner(f->m, s.edge);
        return true;
    }
    mst_claim_vertex(f, vertex);
    return s.on_edges ? mst_split_edge(f, s.edge[0], vertex) : split_triangle(f, s.triangle, vertex);
}

/* ---- a vertex goes ---- */

/* Turns edges away from v, whose neighbours p, q, r follow each other, where q is a corner of the ground that remains.
 * Edges straight through v go last: they leave v on the side of a triangle.
 * @return a half-edge opposite to v */
static bool shed(mst_fixer *f, uint32_t v, uint32_t *around, uint32_t *left) {
    mst_mesh *m = f->m;
    uint32_t e = f->spoke[v], degree = 0, missed = 0, least = 3;
    do {
        if (mst_from(m, e) == MST_OUTSIDE) least = 2; /* on the hull */
        degree++;
        e = mst_round(m, e);
    } while (e != f->spoke[v]);
    f->gap_count = 0;
    while (degree > least && missed <= 2 * degree) {
        uint32_t side = mst_next(e), p = mst_from(m, e), q = mst_to(m, e), r = mst_apex(m, mst_across(m, side));
        bool real = p != MST_OUTSIDE && q != MST_OUTSIDE && r != MST_OUTSIDE;
        double beyond = real && mst_turn(m, p, q, r) > 0 ? mst_turn(m, v, p, r) : -1;
        if (beyond > 0 || (beyond == 0 && missed > degree)) {
            uint32_t *made = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity), other = mst_across(m, side);
            if (!made) return false;
            mst_turn_edge(f, side);
            *made = side >> 2;
            e = mst_next(other);
            degree--;
            missed = 0;
        } else {
            e = mst_round(m, e);
            missed++;
        }
    }
    *around = e;
    *left = degree;
    return true;
}

/* The last triangle takes the place of the one at t. */
static void drop_triangle(mst_fixer *f, uint32_t t) {
    mst_mesh *m = f->m;
    uint32_t last = --m->triangle_count;
    for (size_t i = 0; i < f->gap_count; i++)
        if (f->gap[i] == last) f->gap[i] = t;
    if (t == last) return;
    uint32_t twin[3];
    for (uint32_t k = 0; k < 3; k++) twin[k] = mst_twin(m, 4 * last + k);
    mst_write_triangle(f, t, mst_apex(m, 4 * last), mst_apex(m, 4 * last + 1), mst_apex(m, 4 * last + 2));
    for (uint32_t k = 0; k < 3; k++) mst_tie(m, 4 * t + k, twin[k]);
}

static void drop_two(mst_fixer *f, uint32_t t, uint32_t u) {
    drop_triangle(f, t > u ? t : u); /* the larger one first, so that neither moves */
    drop_triangle(f, t > u ? u : t);
}

/* The three triangles around v become one. */
static bool close_inside(mst_fixer *f, uint32_t e) {
    mst_mesh *m = f->m;
    uint32_t second = mst_round(m, e), third = mst_round(m, second);
    uint32_t p = mst_from(m, e), q = mst_to(m, e), r = mst_to(m, second), t = e >> 2;
    const uint32_t beyond[3] = {mst_twin(m, e), mst_twin(m, second), mst_twin(m, third)};
    mst_write_triangle(f, t, r, p, q);
    for (uint32_t k = 0; k < 3; k++) mst_tie(m, 4 * t + k, beyond[k]);
    uint32_t *made = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity);
    if (!made) return false;
    *made = t;
    drop_two(f, second >> 2, third >> 2);
    return true;
}

/* The triangles around v on the hull become outside ones, those outside beside it go. */
static void close_on_hull(mst_fixer *f, uint32_t e) {
    mst_mesh *m = f->m;
    while (mst_from(m, e) != MST_OUTSIDE) e = mst_round(m, e);
    uint32_t after = e, first = mst_round(m, e), last = first, before;
    for (uint32_t next = first; mst_to(m, next) != MST_OUTSIDE; next = mst_round(m, next)) last = next;
    before = mst_round(m, last);
    for (uint32_t t = first;; t = mst_round(m, t)) {
        m->corner[mst_slot(t)] = MST_OUTSIDE;
        f->spoke[mst_from(m, t)] = mst_next(t);
        f->spoke[mst_to(m, t)] = mst_prev(t);
        if (t == last) break;
    }
    mst_tie(m, mst_prev(first), mst_twin(m, after));
    mst_tie(m, mst_next(last), mst_twin(m, before));
    drop_two(f, after >> 2, before >> 2);
}

static bool doubt_made(mst_fixer *f) {
    for (size_t i = 0; i < f->gap_count; i++)
        for (uint32_t k = 0; k < 3; k++)
            if (!mst_doubt(f, 4 * f->gap[i] + k)) return false;
    return mst_settle(f);
}

bool mst_take_vertex(mst_fixer *f, uint32_t vertex) {
    uint32_t e, left;
    uint32_t *unused = MST_PUSH(f->scratch, f->unused, f->unused_count, f->unused_capacity);
    if (!unused || !shed(f, vertex, &e, &left)) return false;
    *unused = vertex;
    bool hull = false;
    uint32_t start = e;
    do hull |= mst_from(f->m, e) == MST_OUTSIDE;
    while ((e = mst_round(f->m, e)) != start);
    if (hull) close_on_hull(f, e);
    else if (!close_inside(f, e)) return false;
    f->spoke[vertex] = MST_NO_SPOKE;
    return doubt_made(f);
}

/* Without the vertex all is on one line when it is a corner of every triangle, and what lies opposite is straight. */
bool mst_is_spare(const mst_fixer *f, uint32_t vertex) {
    const mst_mesh *m = f->m;
    uint32_t e = f->spoke[vertex], degree = 0, live = m->vertex_count - (uint32_t)f->unused_count;
    bool straight = true, hull = false;
    do {
        uint32_t p = mst_from(m, e), q = mst_to(m, e), r = mst_to(m, mst_round(m, e));
        degree++;
        hull |= p == MST_OUTSIDE;
        if (p != MST_OUTSIDE && q != MST_OUTSIDE && r != MST_OUTSIDE) straight &= mst_turn(m, p, q, r) == 0;
        e = mst_round(m, e);
    } while (e != f->spoke[vertex]);
    return live > 3 && !(hull && straight && degree == live); /* its neighbours and OUTSIDE */
}
