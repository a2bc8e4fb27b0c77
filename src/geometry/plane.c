/* Joins, intersections, resection, chainage and offset: the small computations of plane surveying.
 * All work from differences to a nearby point, so that a national grid costs no digits. */
#include "merestone/geometry.h"
#include <math.h>

static const double PARALLEL_RAD = 1e-9; /* under 0.0002": two bearings that no instrument can tell apart */
static const double TOUCH_M = 1e-9;      /* two distances that just meet, missed by rounding only */
static const double DANGER =
    1e-8; /* of the figure's size: nearer to the danger circle a second moves the point by its size */

static bool finite_point(mst_point p) { return isfinite(p.easting_m) && isfinite(p.northing_m); }
static mst_point less(mst_point a, mst_point b) {
    return (mst_point){a.easting_m - b.easting_m, a.northing_m - b.northing_m};
}

double mst_distance(mst_point a, mst_point b) { return hypot(b.easting_m - a.easting_m, b.northing_m - a.northing_m); }

double mst_bearing(mst_point from, mst_point to) {
    return mst_angle_turn(atan2(to.easting_m - from.easting_m, to.northing_m - from.northing_m));
}

mst_status mst_intersect_bearings(mst_point a, double bearing_a, mst_point b, double bearing_b, mst_point *p,
                                  mst_error *error) {
    if (!finite_point(a) || !finite_point(b) || !isfinite(bearing_a) || !isfinite(bearing_b))
        return mst_fail(error, MST_INVALID, "A place or a bearing of the intersection is missing.");
    double crossing = sin(bearing_b - bearing_a);
    if (fabs(crossing) <= PARALLEL_RAD)
        return mst_fail(error, MST_UNDETERMINED,
                        "The two bearings are parallel and never meet; sight from another place.");
    mst_point d = less(b, a);
    double along = (d.northing_m * sin(bearing_b) - d.easting_m * cos(bearing_b)) / crossing;
    *p = (mst_point){a.easting_m + along * sin(bearing_a), a.northing_m + along * cos(bearing_a)};
    return MST_OK;
}

mst_status mst_intersect_distances(mst_point a, double from_a, mst_point b, double from_b, bool left, mst_point *p,
                                   mst_error *error) {
    if (!finite_point(a) || !finite_point(b) || !(from_a >= 0) || !(from_b >= 0) || isinf(from_a) || isinf(from_b))
        return mst_fail(error, MST_INVALID, "A place or a distance of the tie is missing or negative.");
    mst_point d = less(b, a);
    double base = hypot(d.easting_m, d.northing_m);
    if (!(base > 0)) return mst_fail(error, MST_UNDETERMINED, "Both ties start from one place; tie from two places.");
    /* Heron's product keeps its digits where the triangle is flat. */
    double short_by = base - from_a - from_b, long_by = fabs(from_a - from_b) - base;
    double product = (from_a + from_b + base) * -short_by * (base - (from_a - from_b)) * (base + (from_a - from_b));
    if (short_by > TOUCH_M)
        return mst_fail(error, MST_UNDETERMINED, "The two ties are %.3f m too short to meet; check both tapes.",
                        short_by);
    if (long_by > TOUCH_M)
        return mst_fail(error, MST_UNDETERMINED, "One tie is %.3f m too long to meet the other; check both tapes.",
                        long_by);
    double along = ((from_a - from_b) * (from_a + from_b) / base + base) / 2;
    double aside = (left ? 1 : -1) * sqrt(fmax(product, 0)) / (2 * base);
    double e = d.easting_m / base, n = d.northing_m / base;
    *p = (mst_point){a.easting_m + along * e - aside * n, a.northing_m + along * n + aside * e};
    return MST_OK;
}

/* Turn the known points by the unknown orientation w and every direction's condition is linear in
 * (cos w, sin w, place turned by w). Weights that cancel the place leave a cos w + b sin w = 0; a = b = 0 is the
 * danger circle. No cotangents, so that no direction is special. */
static bool orientation(const mst_point known[3], const double circle[3], double *cos_w, double *sin_w) {
    double a = 0, b = 0, size = 0, heaviest = 0;
    for (int i = 0; i < 3; i++) {
        double weight = sin(circle[(i + 2) % 3] - circle[(i + 1) % 3]);
        double e = known[i].easting_m, n = known[i].northing_m, c = cos(circle[i]), s = sin(circle[i]);
        a += weight * (e * c - n * s);
        b -= weight * (n * c + e * s);
        size = fmax(size, hypot(e, n));
        heaviest = fmax(heaviest, fabs(weight));
    }
    double strength = hypot(a, b);
    if (!(heaviest > PARALLEL_RAD) || !(strength > DANGER * size * heaviest)) return false;
    *cos_w = b / strength;
    *sin_w = -a / strength;
    return true;
}

/* The place is where the two rays cut best. */
static mst_point best_cut(const mst_point known[3], const double bearing[3]) {
    int best = 0;
    for (int i = 1; i < 3; i++)
        if (fabs(sin(bearing[(i + 1) % 3] - bearing[i])) > fabs(sin(bearing[(best + 1) % 3] - bearing[best]))) best = i;
    int i = best, j = (best + 1) % 3;
    mst_point d = less(known[j], known[i]);
    double along = (d.northing_m * sin(bearing[j]) - d.easting_m * cos(bearing[j])) / sin(bearing[j] - bearing[i]);
    return (mst_point){known[i].easting_m + along * sin(bearing[i]), known[i].northing_m + along * cos(bearing[i])};
}

mst_status mst_resection(const mst_point known[3], const double circle_rad[3], mst_point *p, mst_error *error) {
    mst_point mean = {0, 0}, local[3];
    for (int i = 0; i < 3; i++) {
        if (!finite_point(known[i]) || !isfinite(circle_rad[i]))
            return mst_fail(error, MST_INVALID, "Known point %d of the resection has no place or no reading.", i + 1);
        mean.easting_m += known[i].easting_m / 3;
        mean.northing_m += known[i].northing_m / 3;
    }
    for (int i = 0; i < 3; i++) local[i] = less(known[i], mean);
    double c, s, bearing[3];
    if (!orientation(local, circle_rad, &c, &s))
        return mst_fail(
            error, MST_UNDETERMINED,
            "The set-up lies on the circle through the three points (or in line with them); sight a fourth.");
    for (int i = 0; i < 3; i++) bearing[i] = atan2(s, c) + circle_rad[i];
    mst_point found = best_cut(local, bearing);
    int ahead = 0;
    for (int i = 0; i < 3; i++) {
        mst_point to = less(local[i], found);
        ahead += to.easting_m * sin(bearing[i]) + to.northing_m * cos(bearing[i]) > 0;
    }
    if (ahead != 0 && ahead != 3)
        return mst_fail(error, MST_UNDETERMINED,
                        "No place sees the three points in these directions; check the order of the points.");
    *p = (mst_point){mean.easting_m + found.easting_m, mean.northing_m + found.northing_m};
    return MST_OK;
}

void mst_chainage_offset(mst_point a, mst_point b, mst_point p, double *chainage_m, double *offset_m) {
    mst_point line = less(b, a), to = less(p, a);
    double length = hypot(line.easting_m, line.northing_m);
    double e = line.easting_m / length, n = line.northing_m / length;
    *chainage_m = to.easting_m * e + to.northing_m * n;
    *offset_m = to.easting_m * n - to.northing_m * e;
}

mst_point mst_from_chainage_offset(mst_point a, mst_point b, double chainage_m, double offset_m) {
    mst_point line = less(b, a);
    double length = hypot(line.easting_m, line.northing_m);
    double e = line.easting_m / length, n = line.northing_m / length;
    return (mst_point){a.easting_m + chainage_m * e + offset_m * n, a.northing_m + chainage_m * n - offset_m * e};
}
