/* Where a segment meets an earlier one the crossing, rounded to doubles, becomes a vertex of both, but only where that
 * leaves every triangle counter-clockwise by the exact predicate. A crossing that falls on an end within CLOSE_UNITS of
 * the last place takes the end instead. */
#include "ground/triangulation_fixer.h"

/* A crossing is computed to 2 or 3 units in the last place of the largest coordinate. */
static const double CLOSE_UNITS = 8;
/* Where doubles have no room for a vertex of its own: 8,192 units, 8 micrometres on a national grid. */
static const double FAR_STEPS = 1024;

typedef struct meeting {
    uint32_t edge, low, high, owner;
    mst_piece by;
    double at[2];
} meeting; /* of a fixed edge and a piece */

static mst_status refuse(mst_fixer *f, const meeting *x) {
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

static bool near(const mst_fixer *f, uint32_t v, const double at[2]) {
    return fabs(f->m->at[v][0] - at[0]) <= f->close_m && fabs(f->m->at[v][1] - at[1]) <= f->close_m;
}

/* Whether vertex v lies on the line through two others within rounding: no farther off than close_m. */
static bool is_on_line(const mst_fixer *f, uint32_t v, uint32_t low, uint32_t high) {
    const double *p = f->m->at[low], *q = f->m->at[high];
    double dx = fabs(q[0] - p[0]), dy = fabs(q[1] - p[1]);
    return fabs(mst_turn(f->m, low, high, v)) <= f->close_m * (dx > dy ? dx : dy);
}

/* Whether it lies between them, too. */
static bool touches(const mst_fixer *f, uint32_t v, uint32_t low, uint32_t high) {
    if (v == MST_OUTSIDE) return false;
    const double *p = f->m->at[low], *q = f->m->at[high], *r = f->m->at[v];
    double dx = q[0] - p[0], dy = q[1] - p[1], along = dx * (r[0] - p[0]) + dy * (r[1] - p[1]);
    return along > 0 && along < dx * dx + dy * dy && is_on_line(f, v, low, high);
}

static bool detour(mst_fixer *f, uint32_t from, uint32_t over, uint32_t to, uint32_t segment) {
    return mst_push_piece(f, over, to, segment) && mst_push_piece(f, from, over, segment);
}

/* Frees a fixed edge and leads its segments over vertex v instead. */
static bool reroute(mst_fixer *f, uint32_t edge, uint32_t v) {
    uint32_t from = mst_from(f->m, edge), to = mst_to(f->m, edge);
    for (uint32_t i = mst_owner_of(f, from, to)->first; i; i = f->names[i].next)
        if (!detour(f, from, v, to, f->names[i].segment)) return false;
    mst_free_edge(f, edge);
    return mst_doubt(f, edge) && mst_settle(f);
}

/* Whether a point strictly left of both free edges of the triangle at half-edge e stays on this side of them. */
static bool inside_corner(const mst_mesh *m, uint32_t e, uint32_t v) {
    uint32_t apex = mst_apex(m, e);
    return apex != MST_OUTSIDE && mst_turn(m, apex, mst_from(m, e), v) > 0 && mst_turn(m, mst_to(m, e), apex, v) > 0;
}

/* Tries the rounded crossing and the doubles around it for a place between the two triangles at the edge. */
static bool place_crossing(mst_fixer *f, const meeting *x, uint32_t v) {
    static const int STEPS[] = {0, 1, -1, 2, -2};
    mst_mesh *m = f->m;
    double *at = m->at[v], unit = f->close_m / CLOSE_UNITS;
    for (int i = 0; i < 5; i++)
        for (int j = 0; j < 5; j++) {
            at[0] = x->at[0] + STEPS[i] * unit, at[1] = x->at[1] + STEPS[j] * unit;
            if (inside_corner(m, x->edge, v) && inside_corner(m, mst_across(m, x->edge), v)) return true;
        }
    return false;
}

static mst_status cross(mst_fixer *f, const meeting *x, uint32_t v) {
    mst_claim_vertex(f, v);
    if (!mst_split_edge(f, x->edge, v)) return mst_fixer_no_memory(f);
    mst_crossing *c = MST_PUSH(f->arena, f->crossings, f->crossing_count, f->crossing_capacity);
    if (!c) return mst_fixer_no_memory(f);
    const double *at = f->m->at[v];
    *c = (mst_crossing){v, x->owner, x->by.segment, mst_along_segment(f, x->owner, at),
                        mst_along_segment(f, x->by.segment, at)};
    return detour(f, x->by.from, v, x->by.to, x->by.segment) ? MST_OK : mst_fixer_no_memory(f);
}

/* Leads the piece over vertex v, or the fixed edge over it and the piece on its way as before. */
static mst_status piece_over(mst_fixer *f, const meeting *x, uint32_t v) {
    f->detours++;
    return detour(f, x->by.from, v, x->by.to, x->by.segment) ? MST_OK : mst_fixer_no_memory(f);
}
static mst_status edge_over(mst_fixer *f, const meeting *x, uint32_t edge, uint32_t v) {
    f->detours++;
    return mst_push_piece(f, x->by.from, x->by.to, x->by.segment) && reroute(f, edge, v) ? MST_OK
                                                                                         : mst_fixer_no_memory(f);
}

/* The end of either that lies where they cross. @return false when there is none, or memory is short (*status) */
static bool take_end(mst_fixer *f, const meeting *x, mst_status *status) {
    if (near(f, x->low, x->at)) *status = piece_over(f, x, x->low);
    else if (near(f, x->high, x->at)) *status = piece_over(f, x, x->high);
    else if (near(f, x->by.from, x->at)) *status = edge_over(f, x, x->edge, x->by.from);
    else if (near(f, x->by.to, x->at)) *status = edge_over(f, x, x->edge, x->by.to);
    else return false;
    return true;
}

/* Two lines that run along each other within rounding cross anywhere: the end of one that lies on the other. */
static bool take_overlap(mst_fixer *f, const meeting *x, mst_status *status) {
    uint32_t from = x->by.from, to = x->by.to;
    bool along = (is_on_line(f, x->low, from, to) && is_on_line(f, x->high, from, to)) ||
                 (is_on_line(f, from, x->low, x->high) && is_on_line(f, to, x->low, x->high));
    if (!along) return false;
    if (touches(f, x->low, from, to)) *status = piece_over(f, x, x->low);
    else if (touches(f, x->high, from, to)) *status = piece_over(f, x, x->high);
    else if (touches(f, from, x->low, x->high)) *status = edge_over(f, x, x->edge, from);
    else if (touches(f, to, x->low, x->high)) *status = edge_over(f, x, x->edge, to);
    else return false;
    return true;
}

/* A vertex beside one of the two within rounding. */
static bool take_beside(mst_fixer *f, const meeting *x, mst_status *status) {
    uint32_t near_apex = mst_apex(f->m, x->edge), far_apex = mst_apex(f->m, mst_across(f->m, x->edge));
    if (touches(f, x->low, x->by.from, x->by.to)) *status = piece_over(f, x, x->low);
    else if (touches(f, x->high, x->by.from, x->by.to)) *status = piece_over(f, x, x->high);
    else if (touches(f, near_apex, x->low, x->high)) *status = edge_over(f, x, x->edge, near_apex);
    else if (touches(f, far_apex, x->low, x->high)) *status = edge_over(f, x, x->edge, far_apex);
    else return false;
    return true;
}

/* Another breakline so close beside the edge that the crossing would have to be on both: it is led over the edge's end.
 */
static bool take_side(mst_fixer *f, const meeting *x, mst_status *status) {
    const uint32_t halves[2] = {x->edge, mst_across(f->m, x->edge)};
    for (int i = 0; i < 2; i++) {
        const uint32_t sides[2] = {mst_next(halves[i]), mst_prev(halves[i])};
        for (int k = 0; k < 2; k++) {
            uint32_t end = mst_apex(f->m, sides[k]), apex = mst_apex(f->m, halves[i]);
            if (apex == MST_OUTSIDE || !mst_is_fixed(f->m, sides[k])) continue;
            if (!touches(f, end, mst_from(f->m, sides[k]), mst_to(f->m, sides[k]))) continue;
            *status = edge_over(f, x, sides[k], end);
            return true;
        }
    }
    return false;
}

/* No place for a vertex of its own: the nearest old one takes the crossing, from ever farther off. */
static mst_status share_vertex(mst_fixer *f, const meeting *x) {
    mst_status status = MST_OK;
    for (double step = 1; step <= FAR_STEPS; step *= 2, f->close_m *= 2)
        if ((step > 1 && take_end(f, x, &status)) || take_beside(f, x, &status) || take_side(f, x, &status))
            return status;
    return refuse(f, x);
}

/* The piece runs into a fixed edge: both are led over one vertex, an old one where rounding cannot tell it from the
 * crossing. */
mst_status mst_meet(mst_fixer *f, uint32_t edge, const mst_piece *by) {
    mst_mesh *m = f->m;
    uint32_t v;
    mst_status status;
    meeting x = {.edge = edge, .low = mst_from(m, edge), .high = mst_to(m, edge), .by = *by};
    x.owner = f->names[mst_owner_of(f, x.low, x.high)->first].segment;
    if (f->detours > 64 + 16 * f->input->segment_count) return refuse(f, &x);
    locate_crossing(m, &x);
    f->close_m = close_to(m, &x);
    if (take_overlap(f, &x, &status) || take_end(f, &x, &status)) return status;
    if (!mst_fresh_vertex(f, &v)) return mst_fixer_no_memory(f);
    return place_crossing(f, &x, v) ? cross(f, &x, v) : share_vertex(f, &x);
}
