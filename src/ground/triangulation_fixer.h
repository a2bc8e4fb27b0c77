/** @file src/ground/triangulation_fixer.h  A mesh in which segments become edges and vertices come and go.
 *
 * Half-edges carry the breakline bit MST_FIXED in twin[]; both halves of an edge have it. Every edge without it is
 * locally Delaunay once mst_settle is through. */
#ifndef GROUND_TRIANGULATION_FIXER_H
#define GROUND_TRIANGULATION_FIXER_H
#include "ground/triangulation.h"

/** A stretch of a segment, from vertex to vertex, that has yet to become edges. */
typedef struct mst_piece {
    uint32_t from, to, segment;
} mst_piece;
/** One side of a gap, from the start of a piece to its end: vertex i and the half-edge that ended at it. */
typedef struct mst_link {
    uint32_t vertex, edge, beyond, partner;
} mst_link;
typedef struct mst_chain {
    mst_link *items;
    size_t count, capacity;
} mst_chain;
typedef struct mst_span {
    uint32_t low, high, edge;
} mst_span;
/** An edge's ends (low = high: a free place in the table) and the first of its segments in names[], 0 for none. */
typedef struct mst_owner {
    uint32_t low, high, first;
} mst_owner;
typedef struct mst_name {
    uint32_t segment, next;
} mst_name;

typedef struct mst_fixer {
    mst_mesh *m;
    const mst_triangulation_input *input;
    mst_arena *arena, *scratch;
    mst_error *error;
    uint32_t *spoke; /* [vertex_room] a half-edge whose corner is the vertex; MST_NO_SPOKE for a free place */
    size_t spoke_room;
    uint32_t *unused;
    size_t unused_count, unused_capacity; /* places of vertices that are gone */
    mst_piece *pieces;
    size_t piece_count, piece_capacity;
    uint32_t *gap;
    size_t gap_count, gap_capacity; /* triangles taken out, or made anew */
    uint32_t *doubtful;
    size_t doubtful_count, doubtful_capacity; /* edges that may have to turn */
    mst_span *spans;
    size_t span_count, span_capacity;
    mst_chain left, right;
    mst_owner *owners;
    size_t owner_count, owner_room;
    mst_name *names;
    size_t name_count, name_capacity;
    uint32_t spare_name; /* the first of a list of names that are free again */
    mst_crossing *crossings;
    size_t crossing_count, crossing_capacity;
    double close_m; /* what counts as the same place in the crossing at hand */
    size_t detours; /* pieces led over another vertex; a limit keeps a hopeless knot from going on for ever */
} mst_fixer;

#define MST_NO_SPOKE UINT32_MAX

/* ---- half-edges that carry the breakline bit ---- */

static inline uint32_t mst_across(const mst_mesh *m, uint32_t edge) { return mst_twin(m, edge) & ~MST_FIXED; }
static inline bool mst_is_fixed(const mst_mesh *m, uint32_t edge) { return mst_twin(m, edge) & MST_FIXED; }
/** Ties edge to beyond, which carries the bit of both. */
static inline void mst_tie(mst_mesh *m, uint32_t edge, uint32_t beyond) {
    m->twin[mst_slot(edge)] = beyond;
    m->twin[mst_slot(beyond & ~MST_FIXED)] = edge | (beyond & MST_FIXED);
}
static inline void mst_set_spoke(mst_fixer *f, uint32_t vertex, uint32_t edge) {
    if (vertex != MST_OUTSIDE) f->spoke[vertex] = edge;
}
static inline void mst_write_triangle(mst_fixer *f, uint32_t t, uint32_t a, uint32_t b, uint32_t c) {
    const uint32_t corners[3] = {a, b, c};
    for (uint32_t k = 0; k < 3; k++) {
        f->m->corner[3 * (size_t)t + k] = corners[k];
        mst_set_spoke(f, corners[k], 4 * t + k);
    }
}
/** The next half-edge opposite to the same corner, counter-clockwise round it. */
static inline uint32_t mst_round(const mst_mesh *m, uint32_t edge) { return mst_next(mst_across(m, mst_next(edge))); }

mst_status mst_fixer_no_memory(mst_fixer *f);
/** Starts on the Delaunay triangles of @p m; @p f holds mesh, input, arenas and error. @return false without memory */
bool mst_fixer_begin(mst_fixer *f);
/** The vertices of the input's points, in the fixer's scratch arena; NULL without memory. */
uint32_t *mst_fixer_places(mst_fixer *f, const mst_order *order);

/* ---- triangulation_owners.c: which segments an edge belongs to ---- */

/** @return the entry of edge a b; its low equals its high when there is none yet. */
mst_owner *mst_owner_of(const mst_fixer *f, uint32_t a, uint32_t b);
/** Adds the segment to those of edge a b. @return false without memory */
bool mst_own(mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment);
/** Adds the segments of edge a b to those of edge p q. */
bool mst_own_alike(mst_fixer *f, uint32_t a, uint32_t b, uint32_t p, uint32_t q);
/** Takes the segment from edge a b. @return whether others are left */
bool mst_disown(mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment);
void mst_disown_all(mst_fixer *f, uint32_t a, uint32_t b);
/** Whether the segment runs along edge a b. */
bool mst_owns(const mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment);
/** The half-edge becomes a breakline of the segment; one that is already gets one more. */
bool mst_fix_edge(mst_fixer *f, uint32_t edge, uint32_t segment);
/** The half-edge is no breakline any more. */
void mst_free_edge(mst_fixer *f, uint32_t edge);

/* ---- triangulation_gap.c: edges turn, gaps are filled ---- */

bool mst_doubt(mst_fixer *f, uint32_t edge);
/** Replaces edge p q of the triangles a p q and b q p by a b. The triangles a p b (a opposite to the half-edge edge)
 * and b q a remain where they were. */
void mst_turn_edge(mst_fixer *f, uint32_t edge);
/** Turns doubtful edges until every one is locally Delaunay, a breakline, or the hull. @return false without memory */
bool mst_settle(mst_fixer *f);
bool mst_add_link(mst_fixer *f, mst_chain *c, uint32_t vertex, uint32_t edge);
/** Fills the two polygons beside the piece from chain to chain out of the triangles in gap[]. */
bool mst_fill_gap(mst_fixer *f, uint32_t segment);

/* ---- triangulation_crossings.c ---- */

/** Leads the piece that runs into a fixed edge, and that edge, over one vertex; pushes what is left to do. */
mst_status mst_meet(mst_fixer *f, uint32_t edge, const mst_piece *by);

/* ---- triangulation_constraints.c ---- */

bool mst_push_piece(mst_fixer *f, uint32_t from, uint32_t to, uint32_t segment);
/** Inserts all pieces that wait. @retval MST_INVALID a crossing without room, naming the segments */
mst_status mst_insert_pieces(mst_fixer *f);
/** Where along the input's segment the place lies, 0 to 1. */
double mst_along_segment(const mst_fixer *f, uint32_t segment, const double at[2]);

/* ---- triangulation_vertices.c ---- */

/** A free place for a vertex, and room for its two triangles. @return false without memory */
bool mst_fresh_vertex(mst_fixer *f, uint32_t *vertex);
/** The fresh vertex is in use from now on. */
void mst_claim_vertex(mst_fixer *f, uint32_t vertex);
/** The two triangles at the edge become four around @p vertex; a breakline stays one in two parts. */
bool mst_split_edge(mst_fixer *f, uint32_t edge, uint32_t vertex);
/** Puts the fresh vertex @p vertex, at[] set, into the mesh and settles it.
 * @param start a half-edge to walk from @param taken the vertex already at that place; the fresh one is free still */
bool mst_put_vertex(mst_fixer *f, uint32_t vertex, uint32_t start, uint32_t *taken);
/** Whether the mesh without the vertex has a triangle left. */
bool mst_is_spare(const mst_fixer *f, uint32_t vertex);
/** Takes a spare vertex without breaklines out of the mesh and settles its surroundings. */
bool mst_take_vertex(mst_fixer *f, uint32_t vertex);
#endif
