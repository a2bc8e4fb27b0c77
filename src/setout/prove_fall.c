/* Is a fall proven? As in verify.c a figure is held against a limit by the probability that the true one keeps to it
 * (JCGM 106:2012 clause 8; far from the other limit the guard band of 1.645 sd). Between proof and its opposite lies
 * what is only likely: from two in three, as the IPCC's guidance note on uncertainties (Mastrandrea and others, 2010,
 * table 1) uses the word. */
#include "merestone/setout.h"
#include <math.h>

static const double PROVEN = 0.95, LIKELY = 0.66;
static const double ROUNDING = 1e-9; /* of a fall: a design that just reaches its limit reaches it */

const char *mst_proof_name(mst_proof proof) {
    static const char *const NAMES[] = {[MST_PROVEN] = "proven",
                                        [MST_LIKELY] = "likely, not proven",
                                        [MST_OPEN] = "cannot tell",
                                        [MST_MISSED] = "proven to miss"};
    return NAMES[proof];
}

mst_proof mst_proof_of(double fall, double sd, double least, double *probability) {
    double above = fall - least, p = sd > 0 ? erfc(-above / (sd * sqrt(2))) / 2 : above >= -ROUNDING;
    if (isnan(sd) || isnan(above)) p = NAN;
    *probability = p;
    if (p >= PROVEN) return MST_PROVEN;
    if (p <= 1 - PROVEN) return MST_MISSED;
    return p >= LIKELY ? MST_LIKELY : MST_OPEN;
}

mst_status mst_fall_between(const mst_built *from, const mst_built *to, mst_fall_found *found, mst_error *error) {
    double run = hypot(to->easting_m - from->easting_m, to->northing_m - from->northing_m);
    double drop = from->elevation_m - to->elevation_m, plan = hypot(from->sd_plan_m, to->sd_plan_m);
    if (!isfinite(run)) return mst_fail(error, MST_UNDETERMINED, "%s or %s has no place.", from->point, to->point);
    if (!isfinite(drop)) return mst_fail(error, MST_UNDETERMINED, "%s or %s has no level.", from->point, to->point);
    if (!(run > 0) || run < 3 * plan)
        return mst_fail(error, MST_UNDETERMINED,
                        "%s and %s lie %.3f m apart, no more than their places may be off; a fall needs a longer run.",
                        from->point, to->point, run);
    double fall = drop / run;
    *found = (mst_fall_found){run, drop, fall, hypot(hypot(from->sd_height_m, to->sd_height_m), fall * plan) / run};
    return MST_OK;
}
