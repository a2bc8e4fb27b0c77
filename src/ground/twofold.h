/** @file src/ground/twofold.h  Numbers of twice the digits, as unevaluated sums of two doubles, where terms of a sum
 * are far larger than the sum.
 *
 * T. J. Dekker, A floating-point technique for extending the available precision, Numerische Mathematik 18 (1971)
 * 224-242; D. E. Knuth, The Art of Computer Programming 2, 4.2.2. */
#ifndef GROUND_TWOFOLD_H
#define GROUND_TWOFOLD_H

typedef struct mst_twofold {
    double high, low;
} mst_twofold;

/** a + b, exactly. */
static inline mst_twofold mst_two_sum(double a, double b) {
    double s = a + b, v = s - a;
    return (mst_twofold){s, (a - (s - v)) + (b - v)};
}
/** a b, exactly but at the ends of the range. */
static inline mst_twofold mst_two_product(double a, double b) {
    const double split = 134217729; /* 2^27 + 1 */
    double p = a * b, ca = split * a, cb = split * b;
    double ah = ca - (ca - a), al = a - ah, bh = cb - (cb - b), bl = b - bh;
    return (mst_twofold){p, ((ah * bh - p) + ah * bl + al * bh) + al * bl};
}
static inline mst_twofold mst_twofold_add(mst_twofold a, mst_twofold b) {
    mst_twofold s = mst_two_sum(a.high, b.high), t = mst_two_sum(a.low, b.low);
    s = mst_two_sum(s.high, s.low + t.high);
    return mst_two_sum(s.high, s.low + t.low);
}
static inline mst_twofold mst_twofold_times(mst_twofold a, mst_twofold b) {
    mst_twofold p = mst_two_product(a.high, b.high);
    return mst_two_sum(p.high, p.low + (a.high * b.low + a.low * b.high));
}
static inline mst_twofold mst_twofold_scale(mst_twofold a, double b) {
    mst_twofold p = mst_two_product(a.high, b);
    return mst_two_sum(p.high, p.low + a.low * b);
}
static inline mst_twofold mst_twofold_of(double a) { return (mst_twofold){a, 0}; }
static inline mst_twofold mst_twofold_less(mst_twofold a) { return (mst_twofold){-a.high, -a.low}; }
#endif
