/* Segments become edges one by one: from vertex to vertex, over the triangles between, and on from every vertex and
 * every crossing that they meet. */
#include "ground/triangulation_fixer.h"

bool mst_push_piece(mst_fixer *f, uint32_t from, uint32_t to, uint32_t segment) {
    mst_piece *p = MST_PUSH(f->scratch, f->pieces, f->piece_count, f->piece_capacity);
    if (p) *p = (mst_piece){from, to, segment};
    return p;
}

double mst_along_segment(const mst_fixer *f, uint32_t segment, const double at[2]) {
    const double *p = f->input->points[f->input->segments[segment][0]],
                 *q = f->input->points[f->input->segments[segment][1]];
    double dx = q[0] - p[0], dy = q[1] - p[1];
    double along = ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy);
    return along < 0 ? 0 : along > 1 ? 1 : along;
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
static uint32_t way_out(const mst_fixer *f, uint32_t from, uint32_t to, bool *beside) {
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
        e = mst_next(mst_across(m, mst_next(e)));
    } while (e != start);
    return UINT32_MAX;
}

/* Walks from the way out to the first vertex on the piece, taking triangles out.
 * @return false when memory is short; *fixed_edge is set where a fixed edge is in the way */
static bool open_gap(mst_fixer *f, const mst_piece *p, uint32_t edge, uint32_t *end, uint32_t *fixed_edge) {
    const mst_mesh *m = f->m;
    f->left.count = f->right.count = f->gap_count = 0;
    *fixed_edge = UINT32_MAX;
    uint32_t *t = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity);
    if (!t || !mst_add_link(f, &f->left, p->from, 0) || !mst_add_link(f, &f->right, p->from, 0)) return false;
    *t = edge >> 2;
    if (!mst_add_link(f, &f->left, mst_to(m, edge), mst_next(edge)) ||
        !mst_add_link(f, &f->right, mst_from(m, edge), mst_prev(edge)))
        return false;
    for (;;) {
        if (mst_is_fixed(m, edge)) {
            *fixed_edge = edge;
            return true;
        }
        uint32_t in = mst_across(m, edge), v = mst_apex(m, in);
        if (!(t = MST_PUSH(f->scratch, f->gap, f->gap_count, f->gap_capacity))) return false;
        *t = in >> 2;
        double side = v == p->to ? 0 : mst_turn(m, p->from, p->to, v);
        if (side >= 0 && !mst_add_link(f, &f->left, v, mst_prev(in))) return false;
        if (side <= 0 && !mst_add_link(f, &f->right, v, mst_next(in))) return false;
        if (side == 0) {
            *end = v;
            return true;
        }
        edge = side > 0 ? mst_next(in) : mst_prev(in);
    }
}

static mst_status insert_piece(mst_fixer *f, mst_piece p) {
    while (p.from != p.to) {
        bool beside;
        uint32_t edge = way_out(f, p.from, p.to, &beside), end, fixed_edge;
        if (edge == UINT32_MAX)
            return mst_fail(f->error, MST_INVALID,
                            "Breakline segment %u leaves the ground at a rounded crossing; move a point there.",
                            (unsigned)p.segment + 1);
        if (beside) {
            end = mst_to(f->m, edge);
            if (!mst_fix_edge(f, edge, p.segment)) return mst_fixer_no_memory(f);
        } else {
            if (!open_gap(f, &p, edge, &end, &fixed_edge)) return mst_fixer_no_memory(f);
            if (fixed_edge != UINT32_MAX) return mst_meet(f, fixed_edge, &p);
            if (!mst_fill_gap(f, p.segment)) return mst_fixer_no_memory(f);
        }
        p.from = end;
    }
    return MST_OK;
}

mst_status mst_insert_pieces(mst_fixer *f) {
    while (f->piece_count) {
        mst_status status = insert_piece(f, f->pieces[--f->piece_count]);
        if (status) return status;
    }
    return MST_OK;
}

static mst_status insert_all(mst_fixer *f, const uint32_t *place_of) {
    for (size_t i = 0; i < f->input->segment_count; i++) {
        const uint32_t *ends = f->input->segments[i];
        if (!mst_push_piece(f, place_of[ends[0]], place_of[ends[1]], (uint32_t)i)) return mst_fixer_no_memory(f);
        mst_status status = mst_insert_pieces(f);
        if (status) return status;
    }
    return MST_OK;
}

/* ---- the fixer ---- */

mst_status mst_fixer_no_memory(mst_fixer *f) {
    return mst_fail(f->error, MST_NO_MEMORY, "Memory ran out on the breaklines.");
}

uint32_t *mst_fixer_places(mst_fixer *f, const mst_order *order) {
    uint32_t *place = mst_arena_array(f->scratch, f->input->point_count, sizeof *place);
    if (!place) return NULL;
    for (uint32_t i = 0; i < order->place_count; i++) place[order->input_index[i]] = i;
    if (order->representative)
        for (size_t i = 0; i < f->input->point_count; i++) place[i] = place[order->representative[i]];
    return place;
}

bool mst_fixer_begin(mst_fixer *f) {
    mst_mesh *m = f->m;
    f->spoke_room = m->vertex_room;
    f->spoke = mst_arena_array(f->scratch, f->spoke_room, sizeof *f->spoke);
    if (!f->spoke) return false;
    for (uint32_t t = 0; t < m->triangle_count; t++)
        for (uint32_t k = 0; k < 3; k++) mst_set_spoke(f, m->corner[3 * (size_t)t + k], 4 * t + k);
    return true;
}

static mst_status run(mst_fixer *f, const mst_order *order) {
    uint32_t *place_of = mst_fixer_places(f, order);
    return place_of && mst_fixer_begin(f) ? insert_all(f, place_of) : mst_fixer_no_memory(f);
}

mst_status mst_constrain(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order, mst_arena *arena,
                         mst_crossing **crossings, size_t *crossing_count, mst_error *error) {
    mst_fixer f = {.m = m, .input = input, .arena = arena, .scratch = mst_arena_new(), .error = error};
    if (!f.scratch) return mst_fixer_no_memory(&f);
    mst_status status = run(&f, order);
    mst_arena_free(f.scratch);
    *crossings = f.crossings;
    *crossing_count = f.crossing_count;
    return status;
}
