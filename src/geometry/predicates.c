/* Orientation and in-circle with the right sign: a rounded determinant when it stands clear of its own error, else the
 * determinant as an exact sum of doubles. Own code after J. R. Shewchuk, Adaptive Precision Floating-Point Arithmetic
 * and Fast Robust Geometric Predicates, Discrete & Computational Geometry 18 (1997) 305-363.
 *
 * An expansion is an array of doubles, smallest first, that do not overlap; its value is their exact sum and its sign
 * that of the last. Zero components are dropped, so short inputs stay short. Only + - * in double, without contraction.
 */
#include "geometry/predicates.h"
#include "merestone/geometry.h"
#include <math.h>

static const double SPLITTER = 0x1p27 + 1; /* cuts 53 bits in two halves whose products are exact */

/* The largest coordinate at which no step of either determinant overflows; it also keeps the lengths of the expansions.
 */
static const double LARGEST = 0x1p250;

static bool in_range(const double p[2]) {
    return p[0] < LARGEST && p[0] > -LARGEST && p[1] < LARGEST && p[1] > -LARGEST;
}

typedef struct pair {
    double high, low;
} pair; /* high + low exactly */

static inline pair two_sum(double a, double b) {
    double sum = a + b, b_part = sum - a, a_part = sum - b_part;
    return (pair){sum, (a - a_part) + (b - b_part)};
}
/* As two_sum where |a| >= |b|. */
static inline pair quick_sum(double a, double b) {
    double sum = a + b;
    return (pair){sum, b - (sum - a)};
}
static inline pair split(double a) {
    double c = SPLITTER * a, high = c - (c - a);
    return (pair){high, a - high};
}
static inline pair two_product(double a, double b) {
    double product = a * b;
    pair s = split(a), t = split(b);
    double error = ((product - s.high * t.high) - s.low * t.high) - s.high * t.low;
    return (pair){product, s.low * t.low - error};
}

/* h = e + f; h has room for both. */
static int sum(int e_count, const double e[], int f_count, const double f[], double h[]) {
    int i = 0, j = 0, count = 0;
    double carried = 0;
    while (i < e_count || j < f_count) {
        bool from_e = j == f_count || (i < e_count && (f[j] > e[i]) == (f[j] > -e[i]));
        pair s = two_sum(carried, from_e ? e[i++] : f[j++]);
        if (s.low != 0) h[count++] = s.low;
        carried = s.high;
    }
    if (carried != 0) h[count++] = carried;
    return count;
}

/* h = e * b; h has room for twice e. */
static int scale(int e_count, const double e[], double b, double h[]) {
    int count = 0;
    double carried = 0;
    for (int i = 0; i < e_count; i++) {
        pair product = two_product(e[i], b), s = two_sum(carried, product.low);
        if (s.low != 0) h[count++] = s.low;
        pair t = quick_sum(product.high, s.high);
        if (t.low != 0) h[count++] = t.low;
        carried = t.high;
    }
    if (carried != 0) h[count++] = carried;
    return count;
}

enum { DIFFERENCE = 2, PRODUCT = 8, CROSS = 16, TERM = 512, DETERMINANT = 3 * TERM };

/* h = e * f; h has room for 2 e f, spare for as much, row for 2 e. */
static int multiply(int e_count, const double e[], int f_count, const double f[], double h[], double spare[],
                    double row[]) {
    double *from = spare, *to = h;
    int count = 0;
    for (int j = 0; j < f_count; j++) {
        int row_count = scale(e_count, e, f[j], row);
        double *swap = from;
        from = to, to = swap; /* the sum so far is in from */
        count = sum(count, from, row_count, row, to);
    }
    if (to != h)
        for (int i = 0; i < count; i++) h[i] = to[i];
    return count;
}

typedef struct difference {
    int count;
    double part[DIFFERENCE];
} difference;
typedef struct cross {
    int count;
    double part[CROSS];
} cross;

static difference subtract(double a, double b) {
    pair s = two_sum(a, -b);
    difference d = {0, {0}};
    if (s.low != 0) d.part[d.count++] = s.low;
    if (s.high != 0) d.part[d.count++] = s.high;
    return d;
}

/* p q + sign r s. */
static cross two_by_two(const difference *p, const difference *q, double sign, const difference *r,
                        const difference *s) {
    double first[PRODUCT], second[PRODUCT], spare[PRODUCT], row[2 * DIFFERENCE];
    int first_count = multiply(p->count, p->part, q->count, q->part, first, spare, row);
    int second_count = multiply(r->count, r->part, s->count, s->part, second, spare, row);
    for (int i = 0; i < second_count; i++) second[i] *= sign;
    cross c;
    c.count = sum(first_count, first, second_count, second, c.part);
    return c;
}

double mst_orient2d_exact(const double a[2], const double b[2], const double c[2]) {
    if (!in_range(a) || !in_range(b) || !in_range(c)) return 0;
    difference acx = subtract(a[0], c[0]), acy = subtract(a[1], c[1]);
    difference bcx = subtract(b[0], c[0]), bcy = subtract(b[1], c[1]);
    cross det = two_by_two(&acx, &bcy, -1, &acy, &bcx);
    return det.count ? det.part[det.count - 1] : 0;
}

double mst_orient2d(const double a[2], const double b[2], const double c[2]) {
    double left = (a[0] - c[0]) * (b[1] - c[1]), right = (a[1] - c[1]) * (b[0] - c[0]);
    double det = left - right;
    double bound = MST_ORIENT_BOUND * (fabs(left) + fabs(right));
    if (det > bound || -det > bound) return det;
    return mst_orient2d_exact(a, b, c);
}

/* h = lift of (x, y) times the cross of the other two. */
static int lifted(const difference *x, const difference *y, const cross *others, double h[TERM]) {
    double spare[TERM], row[2 * CROSS];
    cross lift = two_by_two(x, x, 1, y, y);
    return multiply(lift.count, lift.part, others->count, others->part, h, spare, row);
}

/* ---- the second try: twice the digits ---- */

/* a + b with an error below 3 2^-106 of it (J.-M. Muller et al., Handbook of Floating-Point Arithmetic, section 14.1).
 */
static inline pair add(pair a, pair b) {
    pair high = two_sum(a.high, b.high), low = two_sum(a.low, b.low);
    high = quick_sum(high.high, high.low + low.high);
    return quick_sum(high.high, high.low + low.low);
}
/* a b with an error below 7 2^-106 of it. */
static inline pair times(pair a, pair b) {
    pair p = two_product(a.high, b.high);
    return quick_sum(p.high, p.low + (a.high * b.low + a.low * b.high));
}
static inline pair negative(pair a) { return (pair){-a.high, -a.low}; }

/* How the base a b looks from p; false when a difference of coordinates is not exact. */
static bool look(const double a[2], const double b[2], const double p[2], pair *across, pair *dot) {
    pair ax = two_sum(a[0], -p[0]), ay = two_sum(a[1], -p[1]), bx = two_sum(b[0], -p[0]), by = two_sum(b[1], -p[1]);
    if (ax.low != 0 || ay.low != 0 || bx.low != 0 || by.low != 0) return false;
    *across = add(two_product(ax.high, by.high), negative(two_product(ay.high, bx.high)));
    *dot = add(two_product(ax.high, bx.high), two_product(ay.high, by.high));
    return true;
}

/* The in-circle determinant as cotangents seen from c and d. The products are off by 13 and their sum by 16 times
 * 2^-106 of their sizes; the bound is twice that. @return 0 when that does not settle the sign */
static double incircle_in_pairs(const double a[2], const double b[2], const double c[2], const double d[2]) {
    pair c_across, c_dot, d_across, d_dot;
    if (!look(a, b, c, &c_across, &c_dot) || !look(a, b, d, &d_across, &d_dot)) return 0;
    pair first = times(c_dot, d_across), second = times(d_dot, c_across), det = add(first, negative(second));
    return fabs(det.high) > 0x1p-101 * (fabs(first.high) + fabs(second.high)) ? det.high : 0;
}

static double incircle_in_full(const double a[2], const double b[2], const double c[2], const double d[2]) {
    difference adx = subtract(a[0], d[0]), ady = subtract(a[1], d[1]);
    difference bdx = subtract(b[0], d[0]), bdy = subtract(b[1], d[1]);
    difference cdx = subtract(c[0], d[0]), cdy = subtract(c[1], d[1]);
    cross bc = two_by_two(&bdx, &cdy, -1, &cdx, &bdy);
    cross ca = two_by_two(&cdx, &ady, -1, &adx, &cdy);
    cross ab = two_by_two(&adx, &bdy, -1, &bdx, &ady);
    double at_a[TERM], at_b[TERM], at_c[TERM], two[2 * TERM], det[DETERMINANT];
    int a_count = lifted(&adx, &ady, &bc, at_a), b_count = lifted(&bdx, &bdy, &ca, at_b);
    int c_count = lifted(&cdx, &cdy, &ab, at_c);
    int two_count = sum(a_count, at_a, b_count, at_b, two);
    int count = sum(two_count, two, c_count, at_c, det);
    return count ? det[count - 1] : 0;
}

double mst_incircle_exact(const double a[2], const double b[2], const double c[2], const double d[2]) {
    if (!in_range(a) || !in_range(b) || !in_range(c) || !in_range(d)) return 0;
    double det = incircle_in_pairs(a, b, c, d);
    return det != 0 ? det : incircle_in_full(a, b, c, d);
}

double mst_incircle(const double a[2], const double b[2], const double c[2], const double d[2]) {
    double adx = a[0] - d[0], ady = a[1] - d[1], bdx = b[0] - d[0], bdy = b[1] - d[1], cdx = c[0] - d[0],
           cdy = c[1] - d[1];
    double bc = bdx * cdy, cb = cdx * bdy, ca = cdx * ady, ac = adx * cdy, ab = adx * bdy, ba = bdx * ady;
    double a_lift = adx * adx + ady * ady, b_lift = bdx * bdx + bdy * bdy, c_lift = cdx * cdx + cdy * cdy;
    double det = a_lift * (bc - cb) + b_lift * (ca - ac) + c_lift * (ab - ba);
    double bound = MST_INCIRCLE_BOUND *
                   ((fabs(bc) + fabs(cb)) * a_lift + (fabs(ca) + fabs(ac)) * b_lift + (fabs(ab) + fabs(ba)) * c_lift);
    if (det > bound || -det > bound) return det;
    return mst_incircle_exact(a, b, c, d);
}
