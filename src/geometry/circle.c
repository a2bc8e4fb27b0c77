/* Circles through points. A linear fit gives a start, Gauss-Newton the answer. Positions count from the points'
 * mean: on a national grid, squared coordinates would cost half of the digits. */
#include "merestone/geometry.h"
#include <float.h>
#include <math.h>

enum { MAX_STEPS = 100 };
static const double STEP_LIMIT = 1e-9; /* of the radius: 10 nm on a 10 m bed, above rounding */
static const double FLAT = 1e-14;      /* square of width over length: 0.1 um on a metre counts as one line */
static const double SINGULAR = 1e-15;  /* of the largest pivot: what is left is rounding */

typedef struct local {
    double e, n, r;
} local; /* centre and radius, m, from the points' mean */
typedef struct normal {
    double a[3][3], b[3];
} normal;

static void normal_add(normal *sums, const double row[3], double value) {
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++) sums->a[i][j] += row[i] * row[j];
        sums->b[i] += row[i] * value;
    }
}

static void swap_rows(normal *s, int i, int j) {
    for (int k = 0; k < 3; k++) {
        double t = s->a[i][k];
        s->a[i][k] = s->a[j][k];
        s->a[j][k] = t;
    }
    double t = s->b[i];
    s->b[i] = s->b[j];
    s->b[j] = t;
}

/* Elimination with row pivots; false if singular or not finite. */
static bool normal_solve(normal s, double x[3]) {
    double largest = 0;
    for (int k = 0; k < 3; k++) {
        int pivot = k;
        for (int i = k + 1; i < 3; i++)
            if (fabs(s.a[i][k]) > fabs(s.a[pivot][k])) pivot = i;
        swap_rows(&s, k, pivot);
        largest = fmax(largest, fabs(s.a[k][k]));
        if (!(fabs(s.a[k][k]) > SINGULAR * largest)) return false;
        for (int i = k + 1; i < 3; i++) {
            double factor = s.a[i][k] / s.a[k][k];
            for (int j = k; j < 3; j++) s.a[i][j] -= factor * s.a[k][j];
            s.b[i] -= factor * s.b[k];
        }
    }
    for (int k = 2; k >= 0; k--) {
        x[k] = s.b[k];
        for (int j = k + 1; j < 3; j++) x[k] -= s.a[k][j] * x[j];
        x[k] /= s.a[k][k];
    }
    return isfinite(x[0]) && isfinite(x[1]) && isfinite(x[2]);
}

static mst_point mean_of(const mst_point p[], size_t count) {
    mst_point sum = {0, 0};
    for (size_t i = 0; i < count; i++) {
        sum.easting_m += (p[i].easting_m - p[0].easting_m) / (double)count;
        sum.northing_m += (p[i].northing_m - p[0].northing_m) / (double)count;
    }
    return (mst_point){p[0].easting_m + sum.easting_m, p[0].northing_m + sum.northing_m};
}

/* Fits e^2 + n^2 linearly: biased on short arcs, but a sound start. In positions from the mean the constant falls out.
 */
static bool first_circle(const mst_point p[], size_t count, mst_point mean, local *c) {
    double ee = 0, en = 0, nn = 0, es = 0, ns = 0;
    for (size_t i = 0; i < count; i++) {
        double e = p[i].easting_m - mean.easting_m, n = p[i].northing_m - mean.northing_m, s = (e * e + n * n) / 2;
        ee += e * e;
        en += e * n;
        nn += n * n;
        es += e * s;
        ns += n * s;
    }
    double determinant = ee * nn - en * en, spread = ee + nn;
    if (!(determinant > FLAT * spread * spread)) return false;
    double e = (es * nn - ns * en) / determinant, n = (ns * ee - es * en) / determinant;
    *c = (local){e, n, sqrt(spread / (double)count + e * e + n * n)};
    return isfinite(c->r);
}

/* Moves c by one step; rms_m is that of the circle before it. */
static bool improve(const mst_point p[], size_t count, mst_point mean, local *c, double *rms_m, double *moved_m) {
    normal sums = {0};
    double squares = 0, x[3];
    for (size_t i = 0; i < count; i++) {
        double e = p[i].easting_m - mean.easting_m - c->e, n = p[i].northing_m - mean.northing_m - c->n;
        double d = fmax(hypot(e, n), DBL_MIN); /* a point on the centre has no direction */
        normal_add(&sums, (double[]){e / d, n / d, 1}, d - c->r);
        squares += (d - c->r) * (d - c->r);
    }
    if (!normal_solve(sums, x)) return false;
    *rms_m = sqrt(squares / (double)count);
    *moved_m = hypot(x[0], x[1]);
    *c = (local){c->e + x[0], c->n + x[1], c->r + x[2]};
    return true;
}

mst_status mst_circle_fit(const mst_point points[], size_t count, mst_circle *fit, mst_error *error) {
    if (count < 3) return mst_fail(error, MST_TOO_FEW, "A circle needs 3 points, not %zu.", count);
    for (size_t i = 0; i < count; i++)
        if (!isfinite(points[i].easting_m) || !isfinite(points[i].northing_m))
            return mst_fail(error, MST_INVALID, "Point %zu of the arc has no position.", i + 1);
    mst_point mean = mean_of(points, count);
    local c;
    double rms_m, moved_m;
    if (!first_circle(points, count, mean, &c))
        return mst_fail(error, MST_UNDETERMINED, "The points lie on one line; add one beside it.");
    for (int i = 0; i < MAX_STEPS && improve(points, count, mean, &c, &rms_m, &moved_m); i++)
        if (moved_m <= STEP_LIMIT * c.r) {
            *fit = (mst_circle){{mean.easting_m + c.e, mean.northing_m + c.n}, c.r, rms_m};
            return MST_OK;
        }
    return mst_fail(error, MST_NOT_CONVERGED, "The points do not resemble an arc.");
}

mst_status mst_circle_through(mst_point a, mst_point b, mst_point c, mst_circle *circle, mst_error *error) {
    double be = b.easting_m - a.easting_m, bn = b.northing_m - a.northing_m;
    double ce = c.easting_m - a.easting_m, cn = c.northing_m - a.northing_m;
    double twice = 2 * (be * cn - bn * ce), b2 = be * be + bn * bn, c2 = ce * ce + cn * cn;
    if (!isfinite(b2) || !isfinite(c2)) return mst_fail(error, MST_INVALID, "A point of the circle has no position.");
    double e = (cn * b2 - bn * c2) / twice, n = (be * c2 - ce * b2) / twice;
    /* The height of the flattest triangle that counts, as a share of its sides, is the fit's own limit. */
    if (!(twice * twice > FLAT * 4 * b2 * c2) || !isfinite(e) || !isfinite(n))
        return mst_fail(error, MST_UNDETERMINED, "The three points lie on one line; no circle runs through them.");
    *circle = (mst_circle){{a.easting_m + e, a.northing_m + n}, hypot(e, n), 0};
    return MST_OK;
}

double mst_arc_radius(double chord_m, double rise_m) { return chord_m * chord_m / (8 * rise_m) + rise_m / 2; }
