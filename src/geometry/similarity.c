/* The plane similarity by least squares, in closed form about the two centroids (Ghilani, Adjustment Computations,
 * chapter 18; the fixed-scale case after Schoenemann, Psychometrika 31 (1966) 1-10). */
#include "merestone/geometry.h"
#include <math.h>

static const double ONE_PLACE_M = 1e-6; /* a frame that spans less carries no direction */

static mst_point centroid(const mst_point p[], size_t count) {
    mst_point c = {0, 0};
    for (size_t i = 0; i < count; i++) {
        c.easting_m += (p[i].easting_m - p[0].easting_m) / (double)count;
        c.northing_m += (p[i].northing_m - p[0].northing_m) / (double)count;
    }
    return (mst_point){p[0].easting_m + c.easting_m, p[0].northing_m + c.northing_m};
}

/* a = scale cos t and b = scale sin t about the centroids. @return false when either side is one place. */
static bool turn_and_scale(const mst_point from[], const mst_point to[], size_t count, mst_point f, mst_point t,
                           double *a, double *b) {
    double square = 0, along = 0, aside = 0;
    for (size_t i = 0; i < count; i++) {
        double x = from[i].easting_m - f.easting_m, y = from[i].northing_m - f.northing_m;
        double e = to[i].easting_m - t.easting_m, n = to[i].northing_m - t.northing_m;
        square += x * x + y * y;
        along += x * e + y * n;
        aside += y * e - x * n;
    }
    if (!(square > ONE_PLACE_M * ONE_PLACE_M) || !(hypot(along, aside) > ONE_PLACE_M * sqrt(square))) return false;
    *a = along / square;
    *b = aside / square;
    return true;
}

mst_point mst_similarity_apply(const mst_similarity *t, mst_point p) {
    double a = t->scale * cos(t->turn_rad), b = t->scale * sin(t->turn_rad);
    return (mst_point){t->e0_m + a * p.easting_m + b * p.northing_m, t->n0_m + a * p.northing_m - b * p.easting_m};
}

mst_status mst_similarity_fit(const mst_point from[], const mst_point to[], size_t count, bool with_scale,
                              mst_similarity *fit, mst_point residuals[], mst_error *error) {
    if (count < 2) return mst_fail(error, MST_TOO_FEW, "Two frames need 2 common points, not %zu.", count);
    for (size_t i = 0; i < count; i++)
        if (!isfinite(from[i].easting_m + from[i].northing_m + to[i].easting_m + to[i].northing_m))
            return mst_fail(error, MST_INVALID, "Common point %zu has no place in one of the frames.", i + 1);
    mst_point f = centroid(from, count), t = centroid(to, count);
    double a, b, squares = 0;
    if (!turn_and_scale(from, to, count, f, t, &a, &b))
        return mst_fail(error, MST_UNDETERMINED, "The common points are all at one place; add one farther off.");
    mst_similarity s = {0, 0, atan2(b, a), with_scale ? hypot(a, b) : 1, 0};
    a = s.scale * cos(s.turn_rad);
    b = s.scale * sin(s.turn_rad);
    s.e0_m = t.easting_m - (a * f.easting_m + b * f.northing_m);
    s.n0_m = t.northing_m - (a * f.northing_m - b * f.easting_m);
    for (size_t i = 0; i < count; i++) {
        double x = from[i].easting_m - f.easting_m, y = from[i].northing_m - f.northing_m;
        double e = to[i].easting_m - t.easting_m - (a * x + b * y),
               n = to[i].northing_m - t.northing_m - (a * y - b * x);
        squares += e * e + n * n;
        if (residuals) residuals[i] = (mst_point){e, n};
    }
    s.rms_m = sqrt(squares / (double)count);
    *fit = s;
    return MST_OK;
}
