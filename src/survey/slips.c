/* Slips that every booker knows: a whole metre, a foot, feet for metres, two digits swapped, left for right, a whole
 * degree. Common practice, no source. */
#include "survey/slips.h"
#include <math.h>

static const double WITHIN_SD = 3;        /* the error may be this many of its sd away from the slip */
static const double LEAST_WITHIN = 0.002; /* m; books are kept to the millimetre or two */
static const double SWAP_SD = 30; /* swaps come in every multiple of 9, so chance finds one unless the error is sure */
static const double TELLS = 0.25; /* a slip is recognised when the doubt is below this part of it */

static bool is_about(double error, double slip, double sd) {
    double within = fmax(WITHIN_SD * sd, LEAST_WITHIN);
    return slip != 0 && within < TELLS * fabs(slip) && fabs(error - slip) <= within;
}

static bool is_whole(double error, double unit, double sd) {
    return is_about(error, unit * round(error / unit), fmin(sd, unit / 12)) && sd < unit / 12;
}

/* True when swapping two neighbouring digits of what was booked, to the millimetre, gives what the others say. */
static bool is_swapped(double booked, double error, double sd) {
    double truth = fabs(booked) - (booked < 0 ? -error : error);
    for (double place = 0.001; place < 1000; place *= 10) {
        double low = fmod(floor(fabs(booked) / place + 0.5 * 0.001 / place), 10);
        double high = fmod(floor(fabs(booked) / (place * 10) + 0.5 * 0.001 / (place * 10)), 10);
        double change = (low - high) * place * 9; /* swapped minus booked */
        if (SWAP_SD * sd < fabs(change) && is_about(truth - fabs(booked), change, sd)) return true;
    }
    return false;
}

static const char *slip_of_length(const mst_reading *r, double error, double sd) {
    if (is_whole(error, 1, sd))
        return fabs(error) < 1.5 ? "a whole metre is the usual slip" : "whole metres are the usual slip";
    if (is_about(error, r->value - r->value * MST_FOOT_M, sd)) return "it fits if feet were read and metres booked";
    if (is_about(fabs(error), MST_FOOT_M, sd)) return "a whole foot is a usual slip";
    if (r->kind == MST_READ_OFFSET && is_about(error, 2 * r->value, sd))
        return "it fits if left and right were swapped";
    if (r->kind == MST_READ_HEIGHT_DIFFERENCE && is_about(error, 2 * r->value, sd))
        return "it fits if rise and fall were swapped";
    if (is_swapped(r->value, error, sd)) return "two digits swapped would give that";
    if (is_about(fabs(error), 0.1, sd)) return "a tenth of a metre is a usual slip";
    return NULL;
}

static const char *slip_of_angle(double error, double sd) {
    const double degree = MST_PI / 180;
    if (is_about(fabs(error), MST_PI, sd / 10))
        return "half a turn is the usual slip: the other face, or the line seen from its far end";
    if (is_whole(error, 10 * degree, sd)) return "whole tens of degrees are a usual slip";
    if (is_whole(error, degree, sd)) return "a whole degree is a usual slip";
    if (is_whole(error, degree / 6, sd)) return "whole tens of minutes are a usual slip";
    return NULL;
}

const char *mst_slip_named(const mst_reading *r, double error, double sd) {
    switch (r->kind) {
    case MST_READ_BEARING:
    case MST_READ_DIRECTION:
    case MST_READ_ZENITH:
        return slip_of_angle(error, sd);
    case MST_READ_DX:
    case MST_READ_DY:
    case MST_READ_DZ:
        return NULL;
    default:
        return slip_of_length(r, error, sd);
    }
}
