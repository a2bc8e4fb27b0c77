/* Error of a stake that hangs on two points: from one of them at an angle to the other, or along and beside the line
 * between them. Both points' common error is counted once. */
#include "setout/ties.h"
#include <math.h>

/* With the turn of the base b (from A to B) and the place P at distance d in the direction u from A: dP = dA + d w
 * (wb . (dB - dA)) / |b|, where w and wb lie across u and b, to the right. @p share: of easting and northing */
static double variance_of(const mst_hung *h, const double share[2], mst_status *status, mst_error *error) {
    const mst_adjusted_point *a = h->from, *b = h->towards;
    double turn = mst_bearing((mst_point){a->easting_m, a->northing_m}, (mst_point){b->easting_m, b->northing_m});
    double base = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    double by = h->distance_m * (share[0] * cos(h->bearing_rad) - share[1] * sin(h->bearing_rad)) / base;
    double e = by * cos(turn), n = -by * sin(turn), variance = 0;
    const mst_adjustment *j = h->adjustment;
    mst_gradient_term terms[] = {{mst_index_get(&j->index, a->name), share[0] - e, share[1] - n, 0},
                                 {mst_index_get(&j->index, b->name), e, n, 0}};
    if (j->covariances) {
        *status = mst_adjustment_variance(j, terms, 2, &variance, error);
        return variance;
    }
    for (int i = 0; i < 2; i++) { /* without covariances: each point by its own ellipse */
        const mst_adjusted_point *p = i ? b : a;
        double sd = p->held_plan || !isfinite(p->semi_major_m) ? 0 : p->semi_major_m;
        variance += sd * sd * (terms[i].easting * terms[i].easting + terms[i].northing * terms[i].northing);
    }
    return variance;
}

mst_status mst_hung_sd(const mst_hung *h, double *sd_m, mst_error *error) {
    static const double EACH[3][2] = {{1, 0}, {0, 1}, {1, 1}};
    double v[3], u[2] = {sin(h->own_bearing_rad), cos(h->own_bearing_rad)};
    mst_status status = MST_OK;
    for (int k = 0; k < 3 && !status; k++) {
        double along = EACH[k][0] * u[0] + EACH[k][1] * u[1], across = EACH[k][0] * u[1] - EACH[k][1] * u[0];
        v[k] = variance_of(h, EACH[k], &status, error) + along * along * h->along_m * h->along_m +
               across * across * h->across_m * h->across_m;
    }
    if (status) return status;
    double en = (v[2] - v[0] - v[1]) / 2;
    *sd_m = sqrt(fmax(0, (v[0] + v[1]) / 2 + hypot((v[0] - v[1]) / 2, en)));
    return MST_OK;
}
