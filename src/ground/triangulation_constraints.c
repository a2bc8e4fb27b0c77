/* Segments become edges one by one. The triangles that a segment crosses are taken out and the two polygons beside it
 * filled again: over each base comes the vertex whose circle holds no other one (M. V. Anglada, An improved incremental
 * algorithm for constructing restricted Delaunay triangulations, Computers & Graphics 21 (1997) 215-223).
 *
 * Where a segment meets a vertex it goes on from there. Where it meets an earlier segment the crossing, rounded to
 * doubles, becomes a vertex of both, but only where that leaves every triangle counter-clockwise by the exact
 * predicate. A crossing that falls on an end within CLOSE_UNITS of the last place takes the end instead. */
#include "ground/triangulation.h"
#include <string.h>

typedef struct piece {
    uint32_t from, to, segment;
} piece;
/* One side of the gap, from the start of the segment to its end: vertex i and the half-edge that ended at it. */
typedef struct link {
    uint32_t vertex, edge, beyond, partner;
} link;
typedef struct chain {
    link *items;
    size_t count, capacity;
} chain;
typedef struct span {
    uint32_t low, high, edge;
} span;
typedef struct owner {
    uint32_t low, high, segment;
} owner; /* an edge's ends and its segment; low = high: free */

typedef struct fixer {
    mst_mesh *m;
    const mst_triangulation_input *input;
    const mst_order *order;
    mst_arena *arena, *scratch;
    mst_error *error;
    uint32_t *spoke; /* [vertex_room] a half-edge whose corner is the vertex */
    size_t spoke_room;
    piece *pieces;
    size_t piece_count, piece_capacity;
    uint32_t *gap;
    size_t gap_count, gap_capacity; /* triangles taken out */
    uint32_t *doubtful;
    size_t doubtful_count, doubtful_capacity; /* edges that may have to turn */
    span *spans;
    size_t span_count, span_capacity;
    chain left, right;
    owner *owners;
    size_t owner_count, owner_room;
    mst_crossing *crossings;
    size_t crossing_count, crossing_capacity;
    double close_m; /* what counts as the same place in the crossing at hand */
    size_t detours; /* pieces led over another vertex; a limit keeps a hopeless knot from going on for ever */
} fixer;

/* A crossing is computed to 2 or 3 units in the last place of the largest coordinate. */
static const double CLOSE_UNITS = 8;

static mst_status no_memory(fixer *f) { return mst_fail(f->error, MST_NO_MEMORY, "Memory ran out on the breaklines."); }

/* ---- half-edges that carry the breakline bit ---- */

static inline uint32_t across(const mst_mesh *m, uint32_t edge) { return mst_twin(m, edge) & ~MST_FIXED; }
static inline bool is_fixed(const mst_mesh *m, uint32_t edge) { return mst_twin(m, edge) & MST_FIXED; }
/* Ties edge to beyond, which carries the bit of both. */
static inline void tie(mst_mesh *m, uint32_t edge, uint32_t beyond) {
    m->twin[mst_slot(edge)] = beyond;
    m->twin[mst_slot(beyond & ~MST_FIXED)] = edge | (beyond & MST_FIXED);
}

static void write_triangle(fixer *f, uint32_t t, uint32_t a, uint32_t b, uint32_t c) {
    const uint32_t corners[3] = {a, b, c};
    for (uint32_t k = 0; k < 3; k++) {
        f->m->corner[3 * (size_t)t + k] = corners[k];
        if (corners[k] != MST_OUTSIDE) f->spoke[corners[k]] = 4 * t + k;
    }
}

/* ---- which segment an edge belongs to ---- */

static owner *owner_of(const fixer *f, uint32_t a, uint32_t b) {
    uint32_t low = a < b ? a : b, high = a < b ? b : a;
    size_t at = (low * (size_t)0x9E3779B97F4A7C15u ^ high * (size_t)0xC2B2AE3D27D4EB4Fu) >> 20;
    for (;; at++) {
        owner *o = &f->owners[at & (f->owner_room - 1)];
        if (o->low == o->high || (o->low == low && o->high == high)) return o;
    }
}

static bool owners_grow(fixer *f) {
    size_t room = f->owner_room ? 2 * f->owner_room : 64, old_room = f->owner_room;
    owner *old = f->owners;
    f->owners = mst_arena_array(f->scratch, room, sizeof *f->owners);
    if (!f->owners) return false;
    f->owner_room = room;
    for (size_t i = 0; i < old_room; i++)
        if (old[i].low != old[i].high) *owner_of(f, old[i].low, old[i].high) = old[i];
    return true;
}

static bool own(fixer *f, uint32_t a, uint32_t b, uint32_t segment) {
    if (3 * f->owner_count >= 2 * f->owner_room && !owners_grow(f)) return false;
    owner *o = owner_of(f, a, b);
    if (o->low == o->high) f->owner_count++;
    *o = (owner){a < b ? a : b, a < b ? b : a, segment};
    return true;
}

static bool fix(fixer *f, uint32_t edge, uint32_t segment) {
    if (is_fixed(f->m, edge)) return true;
    tie(f->m, edge, across(f->m, edge) | MST_FIXED);
    return own(f, mst_from(f->m, edge), mst_to(f->m, edge), segment);
}

static bool push_piece(fixer *f, uint32_t from, uint32_t to, uint32_t segment) {
    piece *p = MST_PUSH(f->scratch, f->pieces, f->piece_count, f->piece_capacity);
    if (p) *p = (piece){from, to, segment};
    return p;
}

/* ---- turning edges until every one is locally Delaunay or a breakline ---- */

static bool doubt(fixer *f, uint32_t edge) {
    uint32_t *e = MST_PUSH(f->scratch, f->doubtful, f->doubtful_count, f->doubtful_capacity);
    if (e) *e = edge;
    return e;
}

static bool must_turn(const mst_mesh *m, uint32_t edge) {
    if (is_fixed(m, edge)) return false;
    uint32_t a = mst_apex(m, edge), b = mst_apex(m, across(m, edge)), p = mst_from(m, edge), q = mst_to(m, edge);
    if (a == MST_OUTSIDE || b == MST_OUTSIDE || p == MST_OUTSIDE || q == MST_OUTSIDE) return false;
    return mst_in_circle(m, a, p, q, b);
}

/* Replaces edge p q of the triangles a p q and b q p by a b. */
static void turn(fixer *f, uint32_t edge) {
    mst_mesh *m = f->m;
    uint32_t other = across(m, edge), a = mst_apex(m, edge), b = mst_apex(m, other);
    uint32_t beyond_qa = mst_twin(m, mst_next(edge)), beyond_pb = mst_twin(m, mst_next(other));
    f->spoke[mst_from(m, edge)] = mst_next(edge);
    f->spoke[mst_to(m, edge)] = mst_next(other);
    m->corner[mst_slot(mst_prev(edge))] = b;
    m->corner[mst_slot(mst_prev(other))] = a;
    f->spoke[a] = edge, f->spoke[b] = other;
    tie(m, edge, beyond_pb);
    tie(m, other, beyond_qa);
    tie(m, mst_next(edge), mst_next(other));
}

static bool settle(fixer *f) {
    while (f->doubtful_count) {
        uint32_t edge = f->doubtful[--f->doubtful_count];
        if (!must_turn(f->m, edge)) continue;
        uint32_t other = across(f->m, edge);
        turn(f, edge);
        if (!doubt(f, edge) || !doubt(f, mst_prev(edge)) || !doubt(f, other) || !doubt(f, mst_prev(other)))
            return false;
    }
    return true;
}

/* ---- the gap and its filling ---- */

static bool add_link(fixer *f, chain *c, uint32_t vertex, uint32_t edge) {
    link *l = MST_PUSH(f->scratch, c->items, c->count, c->capacity);
    if (l) *l = (link){vertex, edge, 0, UINT32_MAX};
    return l;
}

/* Notes what lies beyond each edge of the rim. An edge with the gap on both sides finds its own partner there: each
 * writes its number, negated so that it is no half-edge, where the other one looks. */
static void look_beyond(mst_mesh *m, chain *c) {
    for (uint32_t i = 1; i < c->count; i++) c->items[i].beyond = mst_twin(m, c->items[i].edge);
    for (uint32_t i = 1; i < c->count; i++) m->twin[mst_slot(c->items[i].beyond & ~MST_FIXED)] = ~i;
    for (uint32_t i = 1; i < c->count; i++) {
        uint32_t seen = mst_twin(m, c->items[i].edge);
        if (seen != c->items[i].beyond) c->items[i].partner = ~seen;
    }
}

/* Sews half-edge edge to the rim's link i. The first of two partners leaves its half-edge in beyond of the second. */
static void sew(mst_mesh *m, chain *c, uint32_t i, uint32_t edge) {
    link *l = &c->items[i];
    if (l->partner == UINT32_MAX) {
        tie(m, edge, l->beyond);
        return;
    }
    link *other = &c->items[l->partner];
    if (other->edge == UINT32_MAX) tie(m, edge, l->beyond);
    else other->beyond = edge | (l->beyond & MST_FIXED);
    l->edge = UINT32_MAX;
}

static uint32_t best_apex(const mst_mesh *m, const chain *c, uint32_t low, uint32_t high) {
    uint32_t from = c->items[low].vertex, to = c->items[high].vertex, best = low + 1;
    for (uint32_t i = low + 2; i < high; i++)
        if (mst_in_circle(m, from, to, c->items[best].vertex, c->items[i].vertex)) best = i;
    return best;
}

static bool push_span(fixer *f, uint32_t low, uint32_t high, uint32_t edge) {
    span *s = MST_PUSH(f->scratch, f->spans, f->span_count, f->span_capacity);
    if (s) *s = (span){low, high, edge};
    return s;
}

/* Fills the polygon between the chain's first and last vertex, which lies to the left of the base between them.
 * @param base the half-edge of that base, out of a triangle of the gap */
static bool fill(fixer *f, chain *c, uint32_t *base) {
    mst_mesh *m = f->m;
    *base = UINT32_MAX;
    if (!push_span(f, 0, (uint32_t)c->count - 1, UINT32_MAX)) return false;
    while (f->span_count) {
        span s = f->spans[--f->span_count];
        if (s.high == s.low + 1) {
            sew(m, c, s.high, s.edge);
            continue;
        }
        uint32_t best = best_apex(m, c, s.low, s.high), t = f->gap[--f->gap_count];
        write_triangle(f, t, c->items[best].vertex, c->items[s.low].vertex, c->items[s.high].vertex);
        if (s.edge == UINT32_MAX) *base = 4 * t;
        else tie(m, 4 * t, s.edge);
        if (!push_span(f, s.low, best, 4 * t + 2) || !push_span(f, best, s.high, 4 * t + 1)) return false;
    }
    return true;
}

/* Turns the right side round, so that it runs from the end to the start: each edge then belongs to the link before. */
static void reverse(chain *c) {
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

static bool fill_gap(fixer *f, uint32_t segment) {
    uint32_t from = f->left.items[0].vertex, to = f->left.items[f->left.count - 1].vertex, left, right;
    reverse(&f->right);
    look_beyond(f->m, &f->left);
    look_beyond(f->m, &f->right);
    if (!fill(f, &f->left, &left) || !fill(f, &f->right, &right)) return false;
    tie(f->m, left, right | MST_FIXED);
    return own(f, from, to, segment);
}

/* ---- crossings ---- */

typedef struct meeting {
    uint32_t edge, low, high, owner;
    piece by;
    double at[2];
} meeting; /* of a fixed edge and a piece */

static mst_status refuse(fixer *f, const meeting *x) {
    return mst_fail(
        f->error, MST_INVALID,
        "Breakline segments %u and %u cross too close to another point to tell sides; move or merge a point there.",
        (unsigned)x->owner + 1, (unsigned)x->by.segment + 1);
}

static double extent(const mst_mesh *m, uint32_t a, uint32_t b) {
    return fabs(m->at[a][0] - m->at[b][0]) + fabs(m->at[a][1] - m->at[b][1]);
}

/* On the shorter of the two, where rounding costs less. */
static void locate_crossing(const mst_mesh *m, meeting *x) {
    uint32_t from = x->low, to = x->high, c = x->by.from, d = x->by.to;
    if (extent(m, c, d) < extent(m, from, to)) from = c, to = d, c = x->low, d = x->high;
    double before = fabs(mst_turn(m, c, d, from)), behind = fabs(mst_turn(m, c, d, to));
    double along = before / (before + behind);
    for (int k = 0; k < 2; k++) {
        double a = m->at[from][k], b = m->at[to][k], at = a + along * (b - a);
        double least = a < b ? a : b, most = a < b ? b : a;
        x->at[k] = at < least ? least : at > most ? most : at;
    }
}

/* What counts as the same place: a few units in the last place of the largest coordinate that takes part. */
static double close_to(const mst_mesh *m, const meeting *x) {
    const uint32_t ends[4] = {x->low, x->high, x->by.from, x->by.to};
    double largest = 0;
    for (int i = 0; i < 8; i++) {
        double size = fabs(m->at[ends[i / 2]][i % 2]);
        if (size > largest) largest = size;
    }
    return CLOSE_UNITS * 2 * MST_HALF_ULP * largest;
}

static bool near(const fixer *f, uint32_t v, const double at[2]) {
    return fabs(f->m->at[v][0] - at[0]) <= f->close_m && fabs(f->m->at[v][1] - at[1]) <= f->close_m;
}

/* Whether vertex v lies on the edge within rounding: beside it, and no farther off than close_m. */
static bool touches(const fixer *f, uint32_t v, uint32_t low, uint32_t high) {
    if (v == MST_OUTSIDE) return false;
    const double *p = f->m->at[low], *q = f->m->at[high], *r = f->m->at[v];
    double dx = q[0] - p[0], dy = q[1] - p[1], along = dx * (r[0] - p[0]) + dy * (r[1] - p[1]),
           square = dx * dx + dy * dy;
    double off = fabs(mst_turn(f->m, low, high, v)), length = fabs(dx) > fabs(dy) ? fabs(dx) : fabs(dy);
    return along > 0 && along < square && off <= f->close_m * length;
}

static bool detour(fixer *f, uint32_t from, uint32_t over, uint32_t to, uint32_t segment) {
    f->detours++;
    return push_piece(f, over, to, segment) && push_piece(f, from, over, segment);
}

/* Frees the fixed edge and leads its segment over vertex v instead. */
static bool reroute(fixer *f, const meeting *x, uint32_t v) {
    tie(f->m, x->edge, across(f->m, x->edge));
    return doubt(f, x->edge) && settle(f) && detour(f, x->low, v, x->high, x->owner);
}

/* A half-edge and its breakline bit share 32 bits. */
static const uint32_t MOST_VERTICES = (uint32_t)1 << 28;

static bool has_room(fixer *f) {
    mst_mesh *m = f->m;
    if (m->vertex_count >= MOST_VERTICES) return false;
    if (m->vertex_count < m->vertex_room && m->vertex_count < f->spoke_room) return true;
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

/* Whether a point strictly left of both free edges of the triangle at half-edge e stays on this side of them. */
static bool inside_corner(const mst_mesh *m, uint32_t e, uint32_t v) {
    uint32_t apex = mst_apex(m, e);
    return apex != MST_OUTSIDE && mst_turn(m, apex, mst_from(m, e), v) > 0 && mst_turn(m, mst_to(m, e), apex, v) > 0;
}

/* Tries the rounded crossing and the doubles around it for a place between the two triangles at the edge. */
static bool place_crossing(fixer *f, meeting *x) {
    static const int STEPS[] = {0, 1, -1, 2, -2};
    mst_mesh *m = f->m;
    double *at = m->at[m->vertex_count], unit = f->close_m / CLOSE_UNITS;
    for (int i = 0; i < 5; i++)
        for (int j = 0; j < 5; j++) {
            at[0] = x->at[0] + STEPS[i] * unit, at[1] = x->at[1] + STEPS[j] * unit;
            if (inside_corner(m, x->edge, m->vertex_count) && inside_corner(m, across(m, x->edge), m->vertex_count))
                return true;
        }
    return false;
}

/* The two triangles at the edge p q, with apexes a and b, become four around v. */
static bool split_edge(fixer *f, uint32_t edge, uint32_t v, uint32_t segment) {
    mst_mesh *m = f->m;
    uint32_t other = across(m, edge), a = mst_apex(m, edge), b = mst_apex(m, other), p = mst_from(m, edge),
             q = mst_to(m, edge);
    uint32_t pa = mst_twin(m, mst_prev(edge)), qa = mst_twin(m, mst_next(edge));
    uint32_t pb = mst_twin(m, mst_next(other)), qb = mst_twin(m, mst_prev(other));
    uint32_t t[4] = {edge >> 2, m->triangle_count, other >> 2, m->triangle_count + 1};
    m->triangle_count += 2;
    write_triangle(f, t[0], v, a, p);
    write_triangle(f, t[1], v, q, a);
    write_triangle(f, t[2], v, b, q);
    write_triangle(f, t[3], v, p, b);
    const uint32_t beyond[4] = {pa, qa, qb, pb};
    for (int i = 0; i < 4; i++) tie(m, 4 * t[i], beyond[i]);
    tie(m, 4 * t[0] + 2, 4 * t[1] + 1);               /* v a */
    tie(m, 4 * t[1] + 2, (4 * t[2] + 1) | MST_FIXED); /* v q */
    tie(m, 4 * t[2] + 2, 4 * t[3] + 1);               /* v b */
    tie(m, 4 * t[3] + 2, (4 * t[0] + 1) | MST_FIXED); /* v p */
    for (int i = 0; i < 4; i++)
        if (!doubt(f, 4 * t[i]) || !doubt(f, 4 * t[i] + 2)) return false;
    return own(f, p, v, segment) && own(f, v, q, segment) && settle(f);
}

/* Where along the input's segment the place lies, 0 to 1. */
static double along_segment(const fixer *f, uint32_t segment, const double at[2]) {
    const double *p = f->input->points[f->input->segments[segment][0]],
                 *q = f->input->points[f->input->segments[segment][1]];
    double dx = q[0] - p[0], dy = q[1] - p[1];
    double along = ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy);
    return along < 0 ? 0 : along > 1 ? 1 : along;
}

static mst_status cross(fixer *f, meeting *x) {
    uint32_t v = f->m->vertex_count;
    if (!has_room(f) || !split_edge(f, x->edge, v, x->owner)) return no_memory(f);
    f->m->vertex_count++;
    mst_crossing *c = MST_PUSH(f->arena, f->crossings, f->crossing_count, f->crossing_capacity);
    if (!c) return no_memory(f);
    const double *at = f->m->at[v];
    *c =
        (mst_crossing){v, x->owner, x->by.segment, along_segment(f, x->owner, at), along_segment(f, x->by.segment, at)};
    return push_piece(f, v, x->by.to, x->by.segment) && push_piece(f, x->by.from, v, x->by.segment) ? MST_OK
                                                                                                    : no_memory(f);
}

/* Leads the piece over vertex v, or the fixed edge over it and the piece on its way as before. */
static mst_status piece_over(fixer *f, const meeting *x, uint32_t v) {
    return detour(f, x->by.from, v, x->by.to, x->by.segment) ? MST_OK : no_memory(f);
}
static mst_status edge_over(fixer *f, const meeting *x, uint32_t v) {
    return push_piece(f, x->by.from, x->by.to, x->by.segment) && reroute(f, x, v) ? MST_OK : no_memory(f);
}

/* No place for a vertex of its own: a vertex on one of the two within rounding takes the crossing. */
static mst_status share_vertex(fixer *f, const meeting *x) {
    uint32_t near_apex = mst_apex(f->m, x->edge), far_apex = mst_apex(f->m, across(f->m, x->edge));
    if (touches(f, x->low, x->by.from, x->by.to)) return piece_over(f, x, x->low);
    if (touches(f, x->high, x->by.from, x->by.to)) return piece_over(f, x, x->high);
    if (touches(f, near_apex, x->low, x->high)) return edge_over(f, x, near_apex);
    if (touches(f, far_apex, x->low, x->high)) return edge_over(f, x, far_apex);
    return refuse(f, x);
}

/* The piece runs into a fixed edge: both are led over one vertex, an old one where rounding cannot tell it from the
 * crossing. */
static mst_status meet(fixer *f, uint32_t edge, piece by) {
    mst_mesh *m = f->m;
    meeting x = {.edge = edge, .low = mst_from(m, edge), .high = mst_to(m, edge), .by = by};
    x.owner = owner_of(f, x.low, x.high)->segment;
    if (f->detours > 64 + 16 * f->input->segment_count) return refuse(f, &x);
    locate_crossing(m, &x);
    f->close_m = close_to(m, &x);
    if (near(f, x.low, x.at)) return piece_over(f, &x, x.low);
    if (near(f, x.high, x.at)) return piece_over(f, &x, x.high);
    if (near(f, by.from, x.at)) return edge_over(f, &x, by.from);
    if (near(f, by.to, x.at)) return edge_over(f, &x, by.to);
    if (!has_room(f)) return no_memory(f);
    return place_crossing(f, &x) ? cross(f, &x) : share_vertex(f, &x);
}

/* ---- one segment ---- */

/* Whether p, on the line through a and b, lies to b's side of a. */
static bool same_way(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t p) {
    const double *o = m->at[a], *q = m->at[b], *r = m->at[p];
    int k = o[0] != q[0] ? 0 : 1;
    return (q[k] > o[k]) == (r[k] > o[k]);
}

/* Looks round vertex from for the way to vertex to.
 * @return the half-edge opposite to from that the piece crosses; or, with *beside set, one that starts at from and lies
 * on the piece */
static uint32_t way_out(const fixer *f, uint32_t from, uint32_t to, bool *beside) {
    const mst_mesh *m = f->m;
    *beside = true;
    uint32_t start = f->spoke[from], e = start;
    do {
        uint32_t p = mst_from(m, e), q = mst_to(m, e);
        if (p == to) return mst_prev(e);
        if (p != MST_OUTSIDE) {
            double side = mst_turn(m, from, p, to);
            if (side == 0 && same_way(m, from, to, p)) return mst_prev(e);
            if (side > 0 && q != MST_OUTSIDE && mst_turn(m, from, q, to) < 0) {
                *beside = false;
                return e;
            }
        }
        e = mst_next(across(m, mst_next(e)));
    } while (e != start);
    return UINT32_MAX;
}

/* Walks from the way out to the first vertex on the piece, taking triangles out.
 * @return false when memory is short; *fixed_edge is set where a fixed edge is in the way */
static bool open_gap(fixer *f, const piece *p, uint32_t edge, uint32_t *end, uint32_t *fixed_edge) {
    const mst_mesh *m = f->m;
    f->left.count = f->right.count = f->gap_count = 0;
    *fixed_edge = UINT32_MAX;
    uint32_t *t = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity);
    if (!t || !add_link(f, &f->left, p->from, 0) || !add_link(f, &f->right, p->from, 0)) return false;
    *t = edge >> 2;
    if (!add_link(f, &f->left, mst_to(m, edge), mst_next(edge)) ||
        !add_link(f, &f->right, mst_from(m, edge), mst_prev(edge)))
        return false;
    for (;;) {
        if (is_fixed(m, edge)) {
            *fixed_edge = edge;
            return true;
        }
        uint32_t in = across(m, edge), v = mst_apex(m, in);
        if (!(t = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity))) return false;
        *t = in >> 2;
        double side = v == p->to ? 0 : mst_turn(m, p->from, p->to, v);
        if (side >= 0 && !add_link(f, &f->left, v, mst_prev(in))) return false;
        if (side <= 0 && !add_link(f, &f->right, v, mst_next(in))) return false;
        if (side == 0) {
            *end = v;
            return true;
        }
        edge = side > 0 ? mst_next(in) : mst_prev(in);
    }
}

static mst_status insert_piece(fixer *f, piece p) {
    while (p.from != p.to) {
        bool beside;
        uint32_t edge = way_out(f, p.from, p.to, &beside), end, fixed_edge;
        if (edge == UINT32_MAX)
            return mst_fail(f->error, MST_INVALID,
                            "Breakline segment %u leaves the ground at a rounded crossing; move a point there.",
                            (unsigned)p.segment + 1);
        if (beside) {
            end = mst_to(f->m, edge);
            if (!fix(f, edge, p.segment)) return no_memory(f);
        } else {
            if (!open_gap(f, &p, edge, &end, &fixed_edge)) return no_memory(f);
            if (fixed_edge != UINT32_MAX) return meet(f, fixed_edge, p);
            if (!fill_gap(f, p.segment)) return no_memory(f);
        }
        p.from = end;
    }
    return MST_OK;
}

static mst_status insert_all(fixer *f, const uint32_t *place_of) {
    for (size_t i = 0; i < f->input->segment_count; i++) {
        uint32_t from = place_of[f->input->segments[i][0]], to = place_of[f->input->segments[i][1]];
        if (!push_piece(f, from, to, (uint32_t)i)) return no_memory(f);
        while (f->piece_count) {
            mst_status status = insert_piece(f, f->pieces[--f->piece_count]);
            if (status) return status;
        }
    }
    return MST_OK;
}

/* The places of the points that segments name. */
static uint32_t *places_of(const fixer *f) {
    uint32_t *place = mst_arena_array(f->scratch, f->input->point_count, sizeof *place);
    if (!place) return NULL;
    for (uint32_t i = 0; i < f->order->place_count; i++) place[f->order->input_index[i]] = i;
    if (f->order->representative)
        for (size_t i = 0; i < f->input->point_count; i++) place[i] = place[f->order->representative[i]];
    return place;
}

static mst_status run(fixer *f) {
    mst_mesh *m = f->m;
    f->spoke_room = m->vertex_room;
    f->spoke = mst_arena_array(f->scratch, f->spoke_room, sizeof *f->spoke);
    uint32_t *place_of = places_of(f);
    if (!f->spoke || !place_of) return no_memory(f);
    for (uint32_t t = 0; t < m->triangle_count; t++)
        for (uint32_t k = 0; k < 3; k++)
            if (m->corner[3 * (size_t)t + k] != MST_OUTSIDE) f->spoke[m->corner[3 * (size_t)t + k]] = 4 * t + k;
    return insert_all(f, place_of);
}

mst_status mst_constrain(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order, mst_arena *arena,
                         mst_crossing **crossings, size_t *crossing_count, mst_error *error) {
    fixer f = {.m = m, .input = input, .order = order, .arena = arena, .scratch = mst_arena_new(), .error = error};
    if (!f.scratch) return no_memory(&f);
    mst_status status = run(&f);
    mst_arena_free(f.scratch);
    *crossings = f.crossings;
    *crossing_count = f.crossing_count;
    return status;
}
