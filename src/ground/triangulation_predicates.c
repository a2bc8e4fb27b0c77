/* The in-circle question where rounding cannot answer it. */
#include "ground/triangulation.h"

static bool west_of(const mst_mesh *m, uint32_t u, uint32_t v) {
    const double *p = m->at[u], *q = m->at[v];
    return p[0] != q[0] ? p[0] < q[0] : p[1] < q[1];
}

bool mst_in_circle_close(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d) {
    double det = mst_incircle_exact(m->at[a], m->at[b], m->at[c], m->at[d]);
    if (det != 0) return det > 0;
    uint32_t least = a, p = b, q = c; /* the corner and the two others, counter-clockwise */
    if (west_of(m, b, least)) least = b, p = c, q = a;
    if (west_of(m, c, least)) least = c, p = a, q = b;
    /* Lowering d itself puts it inside; lowering a corner tilts the plane down where the other side of p q is not. */
    return west_of(m, d, least) || mst_turn(m, p, q, d) < 0;
}
