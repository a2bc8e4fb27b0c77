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

#define MST_OUTSIDE UINT32_MAX
#define MST_FIXED 0x80000000u /* a bit of twin[]: the edge is part of a breakline */

typedef struct mst_mesh {
    double (*at)[2];         /* [vertex_count] places of the vertices */
    uint32_t *corner, *twin; /* [3 * triangle_count] */
    uint32_t vertex_count, triangle_count;
    size_t vertex_room, triangle_room;
} mst_mesh;

/** The places in the order in which neighbours follow each other, each once. */
typedef struct mst_order {
    uint32_t place_count;
    uint32_t *input_index;    /* [place_count] the first point at that place */
    uint8_t *level;           /* [place_count] of the cut between a place and the one before it; larger is coarser */
    uint32_t *representative; /* [point_count], NULL when no two points share a place */
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

/* ---- predicates on vertices ---- */

/** As mst_orient2d. */
static inline double mst_turn(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c) {
    const double *p = m->at[a], *q = m->at[b], *r = m->at[c];
    double left = (p[0] - r[0]) * (q[1] - r[1]), right = (p[1] - r[1]) * (q[0] - r[0]);
    double det = left - right;
    double bound = MST_ORIENT_BOUND * ((left < 0 ? -left : left) + (right < 0 ? -right : right));
    if (det > bound || -det > bound) return det;
    return mst_orient2d_exact(p, q, r);
}

/** True when d is inside the circle through a, b, c (counter-clockwise). Where all four lie on one circle the two
 * triangles meet along the diagonal from the vertex with the least easting, then the least northing: that is the
 * Delaunay triangulation of the lifted points with that vertex lowered by an infinitesimal more than the next one. */
bool mst_in_circle_close(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d);
static inline double mst_size(double x) { return x < 0 ? -x : x; }
static inline bool mst_in_circle(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d) {
    const double *p = m->at[a], *q = m->at[b], *r = m->at[c], *s = m->at[d];
    double px = p[0] - s[0], py = p[1] - s[1], qx = q[0] - s[0], qy = q[1] - s[1], rx = r[0] - s[0], ry = r[1] - s[1];
    double qr = qx * ry, rq = rx * qy, rp = rx * py, pr = px * ry, pq = px * qy, qp = qx * py;
    double lp = px * px + py * py, lq = qx * qx + qy * qy, lr = rx * rx + ry * ry;
    double det = lp * (qr - rq) + lq * (rp - pr) + lr * (pq - qp);
    double bound = MST_INCIRCLE_BOUND * ((mst_size(qr) + mst_size(rq)) * lp + (mst_size(rp) + mst_size(pr)) * lq +
                                         (mst_size(pq) + mst_size(qp)) * lr);
    if (det > bound) return true;
    if (-det > bound) return false;
    return mst_in_circle_close(m, a, b, c, d);
}

/* ---- the steps ---- */

/** Orders the places of @p input; checks its coordinates. @param scratch 16 bytes a point, aligned as uint32_t
 * @param at [point_count] the places in their order */
mst_status mst_order_places(const mst_triangulation_input *input, void *scratch, double (*at)[2], mst_arena *arena,
                            mst_order *order, mst_error *error);
/** Fills the mesh with the Delaunay triangles of its vertices and those outside of the hull. */
void mst_delaunay(mst_mesh *m, const mst_order *order);
/** Makes the segments edges of the mesh. Vertices behind order->place_count are crossings. */
mst_status mst_constrain(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order, mst_arena *arena,
                         mst_crossing **crossings, size_t *crossing_count, mst_error *error);
#endif
