/* Volumes as they are worked by hand. */
#include "merestone/works.h"
#include "geometry/sum.h"
#include <limits.h>
#include <math.h>

static const double FULL_M3 = 0.001; /* a litre over a full lorry is no reason for another */

double mst_volume_end_areas(double area_1_m2, double area_2_m2, double length_m) {
    return (area_1_m2 + area_2_m2) / 2 * length_m;
}

double mst_volume_prismoidal(double area_1_m2, double area_middle_m2, double area_2_m2, double length_m) {
    return (area_1_m2 + 4 * area_middle_m2 + area_2_m2) / 6 * length_m;
}

double mst_volume_frustum(double area_1_m2, double area_2_m2, double height_m) {
    return (area_1_m2 + area_2_m2 + sqrt(area_1_m2 * area_2_m2)) / 3 * height_m;
}

double mst_volume_grid(const double depths_m[], size_t rows, size_t columns, double cell_area_m2) {
    mst_sum corners = {0};
    for (size_t r = 0; r + 1 < rows; r++)
        for (size_t c = 0; c + 1 < columns; c++) {
            const double *here = &depths_m[r * columns + c];
            double sum = here[0] + here[1] + here[columns] + here[columns + 1];
            if (!isnan(sum)) mst_sum_add(&corners, sum);
        }
    return mst_sum_value(&corners) * cell_area_m2 / 4;
}

size_t mst_mass_haul(const double volumes_m3[], size_t count, double cumulative_m3[]) {
    mst_sum sum = {0};
    size_t top = 0;
    for (size_t i = 0; i < count; i++) {
        mst_sum_add(&sum, volumes_m3[i]);
        cumulative_m3[i] = mst_sum_value(&sum);
        if (cumulative_m3[i] > cumulative_m3[top]) top = i;
    }
    return top;
}

static const double LOAD_M3 = 10; /* a grab lorry, loose: trade practice, from memory */

int mst_loads(double loose_m3, double load_m3) {
    if (!(load_m3 > 0)) load_m3 = LOAD_M3;
    double loads = ceil((loose_m3 - FULL_M3) / load_m3);
    return loads > 0 ? (int)fmin(loads, INT_MAX) : 0;
}
