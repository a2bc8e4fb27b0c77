/* The in-circle question where rounding cannot answer it, and the bounds that tell.
 *
 * A base a b seen from p: x1 = a.x - p.x and so on have one rounding each, relative to their own size, so a product of
 * two of them has three and the sum of two products four: cross and dot are off by at most 4 half-ulps (first order) of
 * C = |x1 y2| + |y1 x2| and D = |x1 x2| + |y1 y2|. The product of a cross and a dot, of two vertices, is off by 9 of
 * C D', the difference of two by 10 of C D' + C' D <= (C + D) (C' + D') = size size'. The bounds in the header add half
 * a half-ulp for the terms of higher order and the rounding of the bound itself. */
#include "ground/triangulation.h"

static bool west_of(const mst_mesh *m, uint32_t u, uint32_t v) {
    const double *p = m->at[u], *q = m->at[v];
    return p[0] != q[0] ? p[0] < q[0] : p[1] < q[1];
}

/* The stated rule for four places on one circle. */
static bool tie_inside(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d) {
    uint32_t least = a, p = b, q = c; /* the corner and the two others, counter-clockwise */
    if (west_of(m, b, least)) least = b, p = c, q = a;
    if (west_of(m, c, least)) least = c, p = a, q = b;
    /* Lowering d itself puts it inside; lowering a corner tilts the plane down where the other side of p q is not. */
    return west_of(m, d, least) || mst_turn(m, p, q, d) < 0;
}

/* Four places with two eastings and two northings are the corners of a rectangle, so on one circle: with the steps of a
 * decimal grid the sums alone would take all digits to tell. */
static bool is_rectangle(const double a[2], const double b[2], const double c[2], const double d[2]) {
    for (int k = 0; k < 2; k++) {
        double other = b[k] != a[k] ? b[k] : c[k];
        if ((c[k] != a[k] && c[k] != other) || (d[k] != a[k] && d[k] != other)) return false;
    }
    return true;
}

bool mst_in_circle_close(const mst_mesh *m, uint32_t a, uint32_t b, uint32_t c, uint32_t d) {
    const double *p = m->at[a], *q = m->at[b], *r = m->at[c], *s = m->at[d];
    double det = is_rectangle(p, q, r, s) ? 0 : mst_incircle_exact(p, q, r, s);
    return det != 0 ? det > 0 : tie_inside(m, a, b, c, d);
}

bool mst_sees_inside_close(const mst_mesh *m, const uint32_t at[4], double det, double size) {
    if (size >= m->exact_size) return mst_in_circle_close(m, at[0], at[1], at[2], at[3]);
    return det != 0 ? det > 0 : tie_inside(m, at[0], at[1], at[2], at[3]);
}

/* Whether x is a whole number: adding 1.5 2^52 rounds to one. */
static bool is_whole(double x) {
    const double ROUND = 0x1.8p52;
    return fabs(x) < 0x1p51 && (x + ROUND) - ROUND == x;
}

double mst_common_unit(const double (*at)[2], size_t count) {
    static const double COARSEST_M = 0x1p10, FINEST_M = 0x1p-14; /* finer ones would not reach from point to point */
    double unit = COARSEST_M, units = 1 / COARSEST_M;            /* powers of two: exact */
    for (size_t i = 0; i < count; i++)
        while (!is_whole(at[i][0] * units) || !is_whole(at[i][1] * units)) {
            if (unit <= FINEST_M) return 0;
            unit /= 2, units *= 2;
        }
    return unit;
}
