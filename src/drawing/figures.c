#include "drawing/figures.h"
#include "merestone/base.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double LEVEL_SLOPE = 1.0 / 5000; /* flatter than anyone can lay or measure */

/* "-0.00" would read as a level below the datum. */
static void write_decimal(double value, int decimals, char out[MST_FIGURE_SIZE]) {
    double step = pow(10, -decimals);
    if (fabs(value) < step / 2) value = 0;
    snprintf(out, MST_FIGURE_SIZE, "%.*f", decimals, value);
}

int mst_level_decimals(double sd_m, bool hard, bool imperial) {
    if (imperial) return hard && !(sd_m > 0.01) ? 2 : 1;
    if (sd_m > 0.05) return 1;
    return hard && !(sd_m > 0.005) ? 3 : 2;
}

void mst_write_level(double level_m, int decimals, bool imperial, char out[MST_FIGURE_SIZE]) {
    write_decimal(imperial ? level_m / MST_FOOT_M : level_m, decimals, out);
    if (imperial) strncat(out, "'", MST_FIGURE_SIZE - strlen(out) - 1);
}

int mst_length_decimals(double sd_m, bool hard) {
    if (sd_m > 0.05) return 1;
    return hard && !(sd_m > 0.003) ? 3 : 2;
}

void mst_write_length(double length_m, int decimals, bool imperial, char out[MST_FIGURE_SIZE]) {
    if (imperial) mst_feet_inches(length_m, out, MST_FIGURE_SIZE);
    else write_decimal(length_m, decimals, out);
}

void mst_write_area(double area_m2, bool imperial, char out[MST_FIGURE_SIZE]) {
    if (imperial) snprintf(out, MST_FIGURE_SIZE, "%.0f ft\xC2\xB2", area_m2 / MST_SQUARE_FOOT_M2);
    else snprintf(out, MST_FIGURE_SIZE, "%.1f m\xC2\xB2", area_m2);
}

void mst_write_volume(double volume_m3, bool imperial, char out[MST_FIGURE_SIZE]) {
    if (imperial) snprintf(out, MST_FIGURE_SIZE, "%.1f yd\xC2\xB3", volume_m3 / MST_CUBIC_YARD_M3);
    else snprintf(out, MST_FIGURE_SIZE, "%.1f m\xC2\xB3", volume_m3);
}

void mst_write_fall(double slope, char out[MST_FIGURE_SIZE]) {
    double run = 1 / fabs(slope);
    if (!(fabs(slope) >= LEVEL_SLOPE)) snprintf(out, MST_FIGURE_SIZE, "level");
    else if (run < 10 && fabs(run - round(run)) > 0.02) snprintf(out, MST_FIGURE_SIZE, "1:%.1f", run);
    else snprintf(out, MST_FIGURE_SIZE, "1:%.0f", run);
}

static bool whole(double value) { return fabs(value - round(value)) < 1e-9 && value >= 1; }

void mst_write_scale(double scale, bool imperial, char out[MST_FIGURE_SIZE]) {
    if (imperial && whole(scale / 12)) snprintf(out, MST_FIGURE_SIZE, "1 in = %.0f ft (1:%.0f)", scale / 12, scale);
    else snprintf(out, MST_FIGURE_SIZE, "1:%.10g", scale);
    if (!imperial) return;
    if (scale == 24) snprintf(out, MST_FIGURE_SIZE, "1/2 in = 1 ft (1:24)");
    if (scale == 48) snprintf(out, MST_FIGURE_SIZE, "1/4 in = 1 ft (1:48)");
    if (scale == 96) snprintf(out, MST_FIGURE_SIZE, "1/8 in = 1 ft (1:96)");
}
