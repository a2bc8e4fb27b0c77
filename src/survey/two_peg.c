/* The two-peg test: from midway an inclined line of sight errs alike on both staffs, so their difference is true; from
 * elsewhere it errs by distance, and the change of the difference shows the inclination. */
#include "merestone/survey.h"
#include <math.h>

static const double SAME_DISTANCE_M = 1; /* a smaller difference of sights shows no inclination */

mst_status mst_two_peg_test(const mst_two_peg_readings *r, mst_two_peg *result, mst_error *error) {
    if (!isfinite(r->mid_a_m + r->mid_b_m + r->near_a_m + r->near_b_m + r->to_a_m + r->to_b_m) || r->to_a_m < 0 ||
        r->to_b_m < 0)
        return mst_fail(error, MST_INVALID,
                        "The two-peg test needs four staff readings and the two distances of the second set-up.");
    double sights = r->to_a_m - r->to_b_m;
    if (fabs(sights) < SAME_DISTANCE_M)
        return mst_fail(
            error, MST_UNDETERMINED,
            "The second set-up stands as far from A as from B, so it shows nothing; stand near one of them.");
    double difference = r->mid_a_m - r->mid_b_m;
    double slope = (r->near_a_m - r->near_b_m - difference) / sights;
    *result = (mst_two_peg){difference, slope, r->near_a_m - slope * r->to_a_m, r->near_b_m - slope * r->to_b_m};
    return MST_OK;
}
