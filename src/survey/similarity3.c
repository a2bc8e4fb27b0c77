/* The turn that carries one set of points onto another best is the unit quaternion that is the eigenvector of the
 * largest eigenvalue of a symmetric 4 by 4 matrix made of the points' products (Horn 1987); found here by Jacobi's
 * turns. */
#include "merestone/survey.h"
#include <math.h>
#include <string.h>

enum { SWEEPS_MAX = 60 };
static const double SETTLED = 1e-30;    /* of the squares: off-diagonal entries that are rounding */
static const double ON_ONE_LINE = 1e-9; /* relative gap of the eigenvalues below which a turn about the line is free */

static void middle_of(const mst_point3 p[], size_t count, double c[3]) {
    memset(c, 0, 3 * sizeof *c);
    for (size_t i = 0; i < count; i++) {
        c[0] += (p[i].easting_m - p[0].easting_m) / (double)count;
        c[1] += (p[i].northing_m - p[0].northing_m) / (double)count;
        c[2] += (p[i].elevation_m - p[0].elevation_m) / (double)count;
    }
    c[0] += p[0].easting_m;
    c[1] += p[0].northing_m;
    c[2] += p[0].elevation_m;
}

static void less(mst_point3 p, const double c[3], double out[3]) {
    out[0] = p.easting_m - c[0];
    out[1] = p.northing_m - c[1];
    out[2] = p.elevation_m - c[2];
}

/* One of Jacobi's turns: makes a[p][q] nought and carries it through the vectors v. */
static void turn_pair(double a[4][4], double v[4][4], int p, int q) {
    if (a[p][q] == 0) return;
    double theta = (a[q][q] - a[p][p]) / (2 * a[p][q]);
    double t = copysign(1, theta) / (fabs(theta) + sqrt(theta * theta + 1)), c = 1 / sqrt(t * t + 1), s = t * c;
    for (int k = 0; k < 4; k++) {
        double x = a[k][p], y = a[k][q];
        a[k][p] = c * x - s * y;
        a[k][q] = s * x + c * y;
    }
    for (int k = 0; k < 4; k++) {
        double x = a[p][k], y = a[q][k], m = v[k][p], n = v[k][q];
        a[p][k] = c * x - s * y;
        a[q][k] = s * x + c * y;
        v[k][p] = c * m - s * n;
        v[k][q] = s * m + c * n;
    }
}

static void eigen(double a[4][4], double v[4][4]) {
    for (int i = 0; i < 4; i++)
        for (int k = 0; k < 4; k++) v[i][k] = i == k;
    for (int sweep = 0; sweep < SWEEPS_MAX; sweep++) {
        double off = 0, all = 0;
        for (int i = 0; i < 4; i++)
            for (int k = 0; k < 4; k++) *(i == k ? &all : &off) += a[i][k] * a[i][k];
        if (off <= SETTLED * all) return;
        for (int p = 0; p < 3; p++)
            for (int q = p + 1; q < 4; q++) turn_pair(a, v, p, q);
    }
}

static void turn_of(const double q[4], double r[3][3]) {
    double w = q[0], x = q[1], y = q[2], z = q[3];
    const double m[3][3] = {{w * w + x * x - y * y - z * z, 2 * (x * y - w * z), 2 * (x * z + w * y)},
                            {2 * (x * y + w * z), w * w - x * x + y * y - z * z, 2 * (y * z - w * x)},
                            {2 * (x * z - w * y), 2 * (y * z + w * x), w * w - x * x - y * y + z * z}};
    memcpy(r, m, sizeof m);
}

/* @return false when a turn about some line changes nothing */
static bool best_turn(double s[3][3], double r[3][3]) {
    double a[4][4] = {{s[0][0] + s[1][1] + s[2][2], s[1][2] - s[2][1], s[2][0] - s[0][2], s[0][1] - s[1][0]},
                      {s[1][2] - s[2][1], s[0][0] - s[1][1] - s[2][2], s[0][1] + s[1][0], s[2][0] + s[0][2]},
                      {s[2][0] - s[0][2], s[0][1] + s[1][0], s[1][1] - s[0][0] - s[2][2], s[1][2] + s[2][1]},
                      {s[0][1] - s[1][0], s[2][0] + s[0][2], s[1][2] + s[2][1], s[2][2] - s[0][0] - s[1][1]}};
    double v[4][4], q[4];
    int best = 0;
    eigen(a, v);
    for (int i = 1; i < 4; i++)
        if (a[i][i] > a[best][best]) best = i;
    double next = -HUGE_VAL;
    for (int i = 0; i < 4; i++)
        if (i != best) next = fmax(next, a[i][i]);
    for (int i = 0; i < 4; i++) q[i] = v[i][best];
    turn_of(q, r);
    return a[best][best] - next > ON_ONE_LINE * fabs(a[best][best]);
}

mst_point3 mst_similarity3_apply(const mst_similarity3 *t, mst_point3 p) {
    double in[3] = {p.easting_m, p.northing_m, p.elevation_m}, out[3];
    for (int i = 0; i < 3; i++) {
        out[i] = t->shift_m[i];
        for (int k = 0; k < 3; k++) out[i] += t->scale * t->turn[i][k] * in[k];
    }
    return (mst_point3){out[0], out[1], out[2]};
}

static mst_status check(const mst_point3 from[], const mst_point3 to[], size_t count, mst_error *error) {
    if (count < 3) return mst_fail(error, MST_TOO_FEW, "Two frames in space need 3 common points, not %zu.", count);
    for (size_t i = 0; i < count; i++)
        if (!isfinite(from[i].easting_m + from[i].northing_m + from[i].elevation_m + to[i].easting_m +
                      to[i].northing_m + to[i].elevation_m))
            return mst_fail(error, MST_INVALID, "Common point %zu has no place or no level in one of the frames.",
                            i + 1);
    return MST_OK;
}

mst_status mst_similarity3_fit(const mst_point3 from[], const mst_point3 to[], size_t count, bool with_scale,
                               mst_similarity3 *fit, mst_point3 residuals[], mst_error *error) {
    mst_status status = check(from, to, count, error);
    if (status) return status;
    double f[3], t[3], products[3][3] = {{0}}, square = 0, along = 0, squares = 0;
    middle_of(from, count, f);
    middle_of(to, count, t);
    for (size_t i = 0; i < count; i++) {
        double x[3], y[3];
        less(from[i], f, x);
        less(to[i], t, y);
        for (int a = 0; a < 3; a++) {
            square += x[a] * x[a];
            for (int b = 0; b < 3; b++) products[a][b] += x[a] * y[b];
        }
    }
    mst_similarity3 s = {.scale = 1};
    if (!(square > 0) || !best_turn(products, s.turn))
        return mst_fail(error, MST_UNDETERMINED, "The common points lie on one line; add one beside it.");
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++) along += s.turn[a][b] * products[b][a];
    if (with_scale) s.scale = along / square;
    for (int a = 0; a < 3; a++) {
        s.shift_m[a] = t[a];
        for (int b = 0; b < 3; b++) s.shift_m[a] -= s.scale * s.turn[a][b] * f[b];
    }
    for (size_t i = 0; i < count; i++) {
        double x[3], y[3];
        less(from[i], f, x);
        less(to[i], t, y);
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++) y[a] -= s.scale * s.turn[a][b] * x[b];
        squares += y[0] * y[0] + y[1] * y[1] + y[2] * y[2];
        if (residuals) residuals[i] = (mst_point3){y[0], y[1], y[2]};
    }
    s.rms_m = sqrt(squares / (double)count);
    *fit = s;
    return MST_OK;
}
