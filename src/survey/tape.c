/* Corrections of a taped length: the tape's own length, its temperature, its sag between supports. */
#include "survey/tape.h"
#include <math.h>

static const double STANDARD_C = 20, STEEL_PPM = 11.6; /* Wolf and Ghilani, Elementary Surveying, chapter 6 */

static double or_else(double cell, double usual) { return isnan(cell) ? usual : cell; }

/* By how much a catenary is longer than the line below it, taken as a parabola. */
static double sag_of(double weight, double pull, double span) {
    double heavy = weight * span / pull;
    return heavy * heavy * span / 24;
}

double mst_tape_corrected(const double v[]) {
    double read = v[MST_TAPE_DISTANCE], warmth = or_else(v[MST_TAPE_TEMPERATURE], STANDARD_C) - STANDARD_C;
    double ppm = or_else(v[MST_TAPE_SCALE], 0) + or_else(v[MST_TAPE_EXPANSION], STEEL_PPM) * warmth;
    double length = read * (1 + ppm * 1e-6), weight = v[MST_TAPE_WEIGHT], pull = v[MST_TAPE_PULL];
    if (isnan(weight) || isnan(pull)) return length;
    double span = fmin(or_else(v[MST_TAPE_SPAN], read), read), whole = floor(read / span + 1e-9);
    return length - whole * sag_of(weight, pull, span) - sag_of(weight, pull, fmax(read - whole * span, 0));
}
