/* Circles, similarity, intersections, resection, chainage and offset, and the exact predicates' symmetries. */
#include "fuzz_helper.h"
#include "merestone/geometry.h"

enum { POINTS_MAX = 40 };

static bool is_plausible(const mst_point points[], size_t count) {
    for (size_t i = 0; i < count; i++)
        if (!(fabs(points[i].easting_m) < 2.1e7 && fabs(points[i].northing_m) < 2.1e7)) return false;
    return true;
}

static void fits_a_circle(const mst_point points[], size_t count) {
    mst_circle fit;
    mst_error error = {0};
    mst_status status = mst_circle_fit(points, count, &fit, &error);
    must_say_why(status, &error);
    if (!status)
        MUST(isfinite(fit.centre.easting_m) && isfinite(fit.centre.northing_m) && fit.radius_m > 0 && fit.rms_m >= 0);
    if (count < 3) return;
    status = mst_circle_through(points[0], points[1], points[2], &fit, &error);
    must_say_why(status, &error);
    if (!status) MUST(isfinite(fit.centre.easting_m) && isfinite(fit.centre.northing_m) && fit.radius_m > 0);
}

/* Carried there and measured again: the residuals are what they say, and their root mean square too. */
static void fits_a_similarity(const mst_point from[], const mst_point to[], size_t count, bool with_scale) {
    mst_similarity fit;
    mst_point residuals[POINTS_MAX];
    mst_error error = {0};
    mst_status status = mst_similarity_fit(from, to, count, with_scale, &fit, residuals, &error);
    must_say_why(status, &error);
    if (status || !is_plausible(from, count) || !is_plausible(to, count)) return;
    MUST(isfinite(fit.e0_m) && isfinite(fit.n0_m) && isfinite(fit.turn_rad) && isfinite(fit.scale) && fit.rms_m >= 0);
    if (!with_scale) MUST(fit.scale == 1);
    for (size_t i = 0; i < count; i++) {
        mst_point p = mst_similarity_apply(&fit, from[i]);
        double size = fabs(p.easting_m) + fabs(p.northing_m) + fabs(fit.e0_m) + fabs(fit.n0_m);
        MUST(fabs(to[i].easting_m - p.easting_m - residuals[i].easting_m) <= 1e-6 + 1e-9 * size);
        MUST(fabs(to[i].northing_m - p.northing_m - residuals[i].northing_m) <= 1e-6 + 1e-9 * size);
    }
}

/* @param near  the places are such as a page lets in; elsewhere figures may overflow */
static void meets(mst_status status, const mst_point *at, bool near, const mst_error *error) {
    must_say_why(status, error);
    if (!status && near) MUST(isfinite(at->easting_m) && isfinite(at->northing_m));
}

static void intersects(bytes *b, const mst_point p[4]) {
    mst_point at;
    mst_error error = {0};
    double first = take_number(b), second = take_number(b), third = take_number(b), chainage, offset;
    bool near = is_plausible(p, 4) && fabs(first) < 1e5 && fabs(second) < 1e5;
    meets(mst_intersect_bearings(p[0], first, p[1], second, &at, &error), &at, near, &error);
    meets(mst_intersect_distances(p[0], first, p[1], second, third > 0, &at, &error), &at, near, &error);
    meets(mst_resection(p, (double[]){first, second, third}, &at, &error), &at, near, &error);
    mst_chainage_offset(p[0], p[1], p[2], &chainage, &offset);
    if (near && mst_distance(p[0], p[1]) > 0) MUST(isfinite(chainage) && isfinite(offset));
}

static int sign(double value) { return (value > 0) - (value < 0); }

/* Turned around or shifted by one place, the answer stays; swapped, it changes sign: exactly. */
static void predicates_agree(const mst_point p[4]) {
    double q[4][2];
    if (!is_plausible(p, 4)) return;
    /* Below 2^-180 m products run out of exponent; geometry.h says so. */
    for (int i = 0; i < 4; i++)
        if ((p[i].easting_m != 0 && fabs(p[i].easting_m) < 0x1p-180) ||
            (p[i].northing_m != 0 && fabs(p[i].northing_m) < 0x1p-180))
            return;
    for (int i = 0; i < 4; i++) q[i][0] = p[i].easting_m, q[i][1] = p[i].northing_m;
    int turn = sign(mst_orient2d(q[0], q[1], q[2]));
    MUST(sign(mst_orient2d(q[1], q[2], q[0])) == turn && sign(mst_orient2d(q[1], q[0], q[2])) == -turn);
    int inside = sign(mst_incircle(q[0], q[1], q[2], q[3]));
    MUST(sign(mst_incircle(q[1], q[2], q[0], q[3])) == inside && sign(mst_incircle(q[1], q[0], q[2], q[3])) == -inside);
    MUST(mst_incircle(q[0], q[1], q[2], q[0]) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_point from[POINTS_MAX] = {0}, to[POINTS_MAX] = {0};
    size_t count = take(&b) % POINTS_MAX;
    bool with_scale = take(&b) % 2;
    for (size_t i = 0; i < count; i++) {
        from[i] = (mst_point){take_number(&b), take_number(&b)};
        to[i] = (mst_point){take_number(&b), take_number(&b)};
    }
    fits_a_circle(from, count);
    fits_a_similarity(from, to, count, with_scale);
    intersects(&b, from);
    predicates_agree(from);
    return 0;
}
