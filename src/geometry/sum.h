/** @file src/geometry/sum.h  Compensated sums: areas and volumes add many terms of both signs.
 *
 * Neumaier's variant of Kahan's sum (ZAMM 54 (1974) 39-51): the rounding of each addition is kept apart. */
#ifndef GEOMETRY_SUM_H
#define GEOMETRY_SUM_H
#include <math.h>

typedef struct mst_sum {
    double total, rest;
} mst_sum; /**< start from {0} */

static inline void mst_sum_add(mst_sum *s, double term) {
    double t = s->total + term;
    s->rest += fabs(s->total) >= fabs(term) ? (s->total - t) + term : (term - t) + s->total;
    s->total = t;
}
static inline double mst_sum_value(const mst_sum *s) { return s->total + s->rest; }
#endif
