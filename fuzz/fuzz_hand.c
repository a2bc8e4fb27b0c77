/* The hand methods on arrays and figures out of bytes: end areas, borrow pits, mass haul, loads, slope stakes,
 * conformance. */
#include "fuzz_helper.h"
#include "merestone/estimate.h"
#include "merestone/setout.h"
#include "merestone/works.h"

enum { ROWS_MAX = 8, COUNT_MAX = ROWS_MAX * ROWS_MAX };

static void probability(double p) { MUST(isnan(p) || (p >= 0 && p <= 1)); }

static void slope_stakes(bytes *b) {
    const mst_slope_stake at = {take_number(b), take_number(b), take_number(b), take_number(b)};
    double distance, height;
    mst_error error = {0};
    mst_slope_stake_trial(&at, take_number(b));
    mst_status status = mst_slope_stake_catch(&at, &distance, &height, &error);
    must_say_why(status, &error);
    if (!status && at.half_width_m < 1e6 && at.slope < 1e6 && fabs(at.ground_rise) < 1e6 && fabs(at.height_m) < 1e6)
        MUST(distance >= 0 && height >= 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    double values[COUNT_MAX], sums[COUNT_MAX];
    size_t rows = take(&b) % (ROWS_MAX + 1), columns = take(&b) % (ROWS_MAX + 1), count = rows * columns;
    for (size_t i = 0; i < count; i++) values[i] = take(&b) % 16 ? take_number(&b) : NAN;
    mst_volume_grid(values, rows, columns, take_number(&b));
    if (count) MUST(mst_mass_haul(values, count, sums) < count);
    double a = fabs(take_number(&b)), c = fabs(take_number(&b)), m = fabs(take_number(&b)),
           length = fabs(take_number(&b));
    double ends = mst_volume_end_areas(a, c, length), prism = mst_volume_prismoidal(a, m, c, length),
           frustum = mst_volume_frustum(a, c, length);
    if (a < 1e6 && c < 1e6 && m < 1e6 && length < 1e6)
        MUST(ends >= 0 && prism >= 0 && frustum >= 0 && frustum <= ends * (1 + 1e-12));
    MUST(mst_loads(take_number(&b), take_number(&b)) >= 0);
    probability(mst_conformance(take_number(&b), fabs(take_number(&b)), take_number(&b)));
    probability(mst_conformance_plan(fabs(take_number(&b)), fabs(take_number(&b)), take_number(&b)));
    slope_stakes(&b);
    return 0;
}
