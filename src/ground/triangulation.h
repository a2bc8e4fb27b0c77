/** @file src/ground/triangulation.h  The triangles while they are being built, shared by the steps of the building.
 *
 * A triangle t has three corners, counter-clockwise, and three edges; edge k lies opposite to corner k. The half-edge
 * 4 t + k is edge k as seen from t; corner[] and twin[] are kept at 3 t + k. Vertices are numbered in the order of
 * places (triangulation_order.c). Every edge of the hull has a triangle outside of it whose third corner is OUTSIDE, so
 * there are no borders: m points have exactly 2 m - 2 triangles. */
#ifndef GROUND_TRIANGULATION_H
#define GROUND_TRIANGULATION_H
#include "geometry/predicates.h"
#include "merestone/ground.h"
#include <math.h>

#define MST_OUTSIDE UINT32_MAX
#define MST_FIXED 0x80000000u             /* a bit of twin[]: the edge is part of a breakline */
#define MST_MOST_POINTS ((size_t)1 << 27) /* a half-edge and its breakline bit share 32 bits */

typedef struct mst_mesh {
    double (*at)[2];         /* [vertex_count] places of the vertices */
    uint32_t *corner, *twin; /* [3 * triangle_count] */
    uint32_t vertex_count, triangle_count;
    size_t vertex_room, triangle_room;
    uint32_t outside; /* a half-edge opposite to OUTSIDE */
    /* 2^25 u^2 where u, a power of two, divides every coordinate; 0 without a useful u. A cross or dot whose terms add
     * up to less is a whole number of u^2 below 2^25, and the product of two of them one of u^4 below 2^50: exact. */
    double exact_size;
} mst_mesh;

/** The places in the order in which neighbours follow each other, each once. */
typedef struct mst_order {
    uint32_t place_count;
    uint32_t *input_index;    /* [place_count] the first point at that place */
    uint8_t *level;           /* [place_count] of the cut between a place and the one before it; larger is coarser */
    uint32_t *representative; /* [point_count], NULL when no two points share a place */
    double unit;              /* a power of two that divides every coordinate; 0 without one */
} mst_order;

enum { MST_LEVELS = 256, MST_LEVEL_SORTED = 32 };
/** Cuts in a list sorted by easting run north, the other ones alternate. @return 0 for a cut between eastings, 1
 * between northings */
static inline int mst_cut_axis(uint8_t level) { return level < MST_LEVEL_SORTED ? 0 : level & 1; }

/* ---- half-edges ---- */

static inline uint32_t mst_slot(uint32_t edge) { return edge - (edge >> 2); }
static inline uint32_t mst_next(uint32_t edge) { return edge & 2 ? edge - 2 : edge + 1; }
static inline uint32_t mst_prev(uint32_t edge) { return edge & 3 ? edge - 1 : edge + 2; }
/** The corner opposite to the edge. */
static inline uint32_t mst_apex(const mst_mesh *m, uint32_t edge) { return m->corner[mst_slot(edge)]; }
static inline uint32_t mst_from(const mst_mesh *m, uint32_t edge) { return mst_apex(m, mst_next(edge)); }
static inline uint32_t mst_to(const mst_mesh *m, uint32_t edge) { return mst_apex(m, mst_prev(edge)); }
static inline uint32_t mst_twin(const mst_mesh *m, uint32_t edge) { return m->twin[mst_slot(edge)]; }
static inline void mst_bond(mst_mesh *m, uint32_t e, uint32_t f) {
    m->twin[mst_slot(e)] = f;
    m->twin[mst_slot(f)] = e;
}

/** Outside triangles in the order of the hull, counter-clockwise and clockwise: half-edges opposite to OUTSIDE. The
 * hull's edge runs from mst_to to mst_from of the outside one. */
static inline uint32_t mst_onward(const mst_mesh *m, uint32_t out) { return mst_prev(mst_twin(m, mst_prev(out))); }
static inline uint32_t mst_back(const mst_mesh *m, uint32_t out) { return mst_next(mst_twin(m, mst_next(out))); }

/* ---- predicates on vertices ---- */

/** As mst_orient2d. */
static inline double mst_turn(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c) {
    const double *p = m->at[a], *q = m->at[b], *r = m->at[c];
    double left = (p[0] - r[0]) * (q[1] - r[1]), right = (p[1] - r[1]) * (q[0] - r[0]);
    double det = left - right;
    double bound = MST_ORIENT_BOUND * (fabs(left) + fabs(right));
    return fabs(det) > bound ? det : mst_orient2d_exact(p, q, r);
}

/** True when d is inside the circle through a, b, c (counter-clockwise). Where all four lie on one circle the two
 * triangles meet along the diagonal from the vertex with the least easting, then the least northing: that is the
 * Delaunay triangulation of the lifted points with that vertex lowered by an infinitesimal more than the next one. */
bool mst_in_circle_close(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d);
static inline bool mst_in_circle(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d) {
    const double *p = m->at[a], *q = m->at[b], *r = m->at[c], *s = m->at[d];
    double px = p[0] - s[0], py = p[1] - s[1], qx = q[0] - s[0], qy = q[1] - s[1], rx = r[0] - s[0], ry = r[1] - s[1];
    double qr = qx * ry, rq = rx * qy, rp = rx * py, pr = px * ry, pq = px * qy, qp = qx * py;
    double lp = px * px + py * py, lq = qx * qx + qy * qy, lr = rx * rx + ry * ry;
    double det = lp * (qr - rq) + lq * (rp - pr) + lr * (pq - qp);
    double bound =
        MST_INCIRCLE_BOUND * ((fabs(qr) + fabs(rq)) * lp + (fabs(rp) + fabs(pr)) * lq + (fabs(pq) + fabs(qp)) * lr);
    return fabs(det) > bound ? det > 0 : mst_in_circle_close(m, a, b, c, d);
}

/** How a base l r looks from vertex p: its angle there has the cotangent dot / cross. Of two vertices above the base
 * the one that sees it under the larger angle is inside the circle through the other one. */
typedef struct mst_sight {
    double cross, dot, size;
} mst_sight; /* size bounds the magnitude of both sums' terms */
static inline mst_sight mst_look(const mst_mesh *m, uint32_t l, uint32_t r, uint32_t p) {
    const double *a = m->at[l], *b = m->at[r], *c = m->at[p];
    double ax = a[0] - c[0], ay = a[1] - c[1], bx = b[0] - c[0], by = b[1] - c[1];
    return (mst_sight){ax * by - ay * bx, ax * bx + ay * by, (fabs(ax) + fabs(ay)) * (fabs(bx) + fabs(by))};
}
/* Four roundings go into a cross or dot, nine into each product of two of them, one into the difference; see the header
 * of triangulation_predicates.c. */
#define MST_CROSS_BOUND (4.5 * MST_HALF_ULP)
#define MST_SIGHT_BOUND (10.5 * MST_HALF_ULP)
/** True when p is above the base, strictly. */
static inline bool mst_sees_above(const mst_mesh *m, uint32_t l, uint32_t r, uint32_t p, const mst_sight *from_p) {
    if (fabs(from_p->cross) > MST_CROSS_BOUND * from_p->size) return from_p->cross > 0;
    return mst_orient2d_exact(m->at[l], m->at[r], m->at[p]) > 0;
}
bool mst_sees_inside_close(const mst_mesh *m, const uint32_t at[4], double det, double size);
/** As mst_in_circle(l, r, p, q). */
static inline bool mst_sees_inside(const mst_mesh *m, uint32_t l, uint32_t r, uint32_t p, const mst_sight *from_p,
                                   uint32_t q, const mst_sight *from_q) {
    double det = from_p->dot * from_q->cross - from_q->dot * from_p->cross;
    if (fabs(det) > MST_SIGHT_BOUND * (from_p->size * from_q->size)) return det > 0;
    double size = from_p->size > from_q->size ? from_p->size : from_q->size;
    return mst_sees_inside_close(m, (const uint32_t[4]){l, r, p, q}, det, size);
}

/* ---- the steps ---- */

/** @return the largest power of two, from 1/16384 to 1024, that divides every coordinate of the places; 0 without one.
 */
double mst_common_unit(const double (*at)[2], size_t count);
/** Memory for the ordering. */
typedef struct mst_order_room {
    void *records;   /* 24 bytes a point, aligned as double, for the time of the call */
    void *items;     /* 16 bytes a point, aligned as uint32_t, likewise */
    double (*at)[2]; /* [point_count] gets the places in their order */
} mst_order_room;
/** Orders the places of @p input; checks its coordinates. The lists of @p order are there; representative is made in
 * @p arena if there is need. */
mst_status mst_order_places(const mst_triangulation_input *input, const mst_order_room *room, mst_arena *arena,
                            mst_arena *scratch, mst_order *order, mst_error *error);
/** Whether a coordinate is finite and in the range of the predicates. */
bool mst_usable(double x);
/** Fills the mesh with the Delaunay triangles of its vertices and those outside of the hull. */
void mst_delaunay(mst_mesh *m, const mst_order *order, int threads);
/** Makes the segments edges of the mesh. Vertices behind order->place_count are crossings. */
mst_status mst_constrain(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order, mst_arena *arena,
                         mst_crossing **crossings, size_t *crossing_count, mst_error *error);

/** Too many points, or a segment of a point that is not there. */
mst_status mst_triangulation_check(const mst_triangulation_input *input, mst_error *error);
/** The places of checked @p input in their order, and the Delaunay triangles on them, with room for the crossings of an
 * ordinary site; without the segments. The order's lists are made in @p scratch. */
mst_status mst_mesh_begin(const mst_triangulation_input *input, mst_arena *arena, mst_arena *scratch, mst_mesh *m,
                          mst_order *order, mst_error *error);
/** The numbers that a caller sees: number[v] of the first vertices, v + shift of those behind. */
typedef struct mst_numbering {
    const uint32_t *number;
    uint32_t listed, shift;
    int threads;
} mst_numbering;
/** Turns the mesh's own arrays into those of a triangulation, without the outside triangles. */
mst_status mst_mesh_finish(mst_mesh *m, const mst_numbering *numbers, bool with_fixed, mst_arena *arena,
                           mst_triangulation **result, mst_error *error);
/** What a triangulation has beside its triangles. */
typedef struct mst_triangulation_parts {
    double (*vertices)[2];
    size_t vertex_count, crossing_count;
    mst_crossing *crossings;
    uint32_t *representative; /* NULL: every point stands for itself */
} mst_triangulation_parts;
void mst_triangulation_complete(mst_triangulation *t, const mst_triangulation_parts *parts);
#endif
