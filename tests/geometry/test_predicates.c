/* Sources: 2,000 orientation and in-circle cases with their exact signs, that accompany Nanevski, Blelloch, Harper,
 * Automatic Generation of Staged Geometric Predicates (2001), in the shared data; the rest are properties that hold
 * exactly: the sign of a small integer determinant, antisymmetry, and agreement under shifts by whole units. */
#include "merestone/geometry.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <cmocka.h>

static int sign_of(double x) { return (x > 0) - (x < 0); }

static void published_orientations(void **state) {
    (void)state;
    FILE *file = fopen(SHARED_DATA "/orientation-predicate-cases/orient2d.txt", "r");
    if (!file) skip();
    int n, expected, lines = 0;
    double a[2], b[2], c[2];
    while (fscanf(file, "%d %lf %lf %lf %lf %lf %lf %d", &n, &a[0], &a[1], &b[0], &b[1], &c[0], &c[1], &expected) ==
           8) {
        assert_int_equal(sign_of(mst_orient2d(a, b, c)), expected);
        assert_int_equal(sign_of(mst_orient2d(b, a, c)), -expected);
        assert_int_equal(sign_of(mst_orient2d(b, c, a)), expected);
        lines++;
    }
    fclose(file);
    assert_int_equal(lines, 1000);
}

static void published_circles(void **state) {
    (void)state;
    FILE *file = fopen(SHARED_DATA "/orientation-predicate-cases/incircle.txt", "r");
    if (!file) skip();
    int n, expected, lines = 0;
    double a[2], b[2], c[2], d[2];
    while (fscanf(file, "%d %lf %lf %lf %lf %lf %lf %lf %lf %d", &n, &a[0], &a[1], &b[0], &b[1], &c[0], &c[1], &d[0],
                  &d[1], &expected) == 10) {
        assert_int_equal(sign_of(mst_incircle(a, b, c, d)), expected);
        assert_int_equal(sign_of(mst_incircle(b, a, c, d)), -expected);
        assert_int_equal(sign_of(mst_incircle(b, c, a, d)), expected);
        assert_int_equal(sign_of(mst_incircle(d, a, b, c)), -expected);
        lines++;
    }
    fclose(file);
    assert_int_equal(lines, 1000);
}

static uint64_t seed = 20261125;
static uint64_t next_random(void) {
    seed ^= seed << 13;
    seed ^= seed >> 7;
    return seed ^= seed << 17;
}
static int64_t within(int64_t limit) { return (int64_t)(next_random() % (uint64_t)(2 * limit + 1)) - limit; }

/* Whole multiples of 2^-30 m near a national grid's coordinates: 30-bit differences have an exact determinant in 64
 * bits. */
static void orientation_of_whole_units(void **state) {
    (void)state;
    for (int i = 0; i < 200000; i++) {
        int64_t step = i % 3 == 0 ? 4 : (int64_t)1 << (i % 29), x[3], y[3];
        double p[3][2];
        for (int k = 0; k < 3; k++) {
            x[k] = within(step), y[k] = within(step);
            if (k == 2 && i % 2) x[2] = 2 * x[1] - x[0] + within(1), y[2] = 2 * y[1] - y[0] + within(1);
            p[k][0] = 4521234.0 + (double)x[k] * 0x1p-30;
            p[k][1] = 4987654.0 + (double)y[k] * 0x1p-30;
        }
        int64_t det = (x[0] - x[2]) * (y[1] - y[2]) - (y[0] - y[2]) * (x[1] - x[2]);
        assert_int_equal(sign_of(mst_orient2d(p[0], p[1], p[2])), (det > 0) - (det < 0));
    }
}

/* 13-bit differences have an exact in-circle determinant in 64 bits. */
static void circles_of_whole_units(void **state) {
    (void)state;
    int ties = 0;
    for (int i = 0; i < 200000; i++) {
        int64_t step = i % 3 == 0 ? 3 : (int64_t)1 << (i % 13), x[4], y[4], l[4];
        double p[4][2];
        for (int k = 0; k < 4; k++) {
            x[k] = within(step), y[k] = within(step);
            p[k][0] = 4521234.0 + (double)x[k] * 0x1p-30;
            p[k][1] = 4987654.0 + (double)y[k] * 0x1p-30;
        }
        for (int k = 0; k < 3; k++) {
            x[k] -= x[3], y[k] -= y[3];
            l[k] = x[k] * x[k] + y[k] * y[k];
        }
        int64_t det = l[0] * (x[1] * y[2] - x[2] * y[1]) + l[1] * (x[2] * y[0] - x[0] * y[2]) +
                      l[2] * (x[0] * y[1] - x[1] * y[0]);
        assert_int_equal(sign_of(mst_incircle(p[0], p[1], p[2], p[3])), (det > 0) - (det < 0));
        ties += det == 0;
    }
    assert_true(ties > 1000);
}

/* The points of a plane near a line, one unit in the last place apart: a rounded determinant gets thousands of these
 * wrong (Kettner, Mehlhorn, Pion, Schirra, Yap, Classroom examples of robustness problems, 2008, figure 2). */
static void a_window_beside_a_line(void **state) {
    (void)state;
    const double q[2] = {12, 12}, r[2] = {24, 24};
    for (int i = 0; i < 256; i++)
        for (int j = 0; j < 256; j++) {
            double p[2] = {0.5 + i * 0x1p-53, 0.5 + j * 0x1p-53};
            int expected = (j > i) - (j < i); /* left of the diagonal; doubles in [0.5, 1) are 2^-53 apart */
            assert_int_equal(sign_of(mst_orient2d(q, r, p)), expected);
            assert_int_equal(sign_of(mst_orient2d(r, p, q)), expected);
            assert_int_equal(sign_of(mst_orient2d(p, r, q)), -expected);
        }
}

/* Moving one point of a cocircular four off by one unit in the last place must be seen, and every even permutation of
 * a, b, c must agree. */
static void one_ulp_off_a_circle(void **state) {
    (void)state;
    const double a[2] = {5, 0}, b[2] = {0, 5}, c[2] = {-5, 0}, on[2] = {3, -4};
    assert_true(mst_incircle(a, b, c, on) == 0);
    for (int i = 0; i < 2; i++) {
        double in[2] = {3, -4}, out[2] = {3, -4};
        in[i] = nextafter(in[i], 0);
        out[i] = nextafter(out[i], 10 * out[i]);
        assert_true(mst_incircle(a, b, c, in) > 0 && mst_incircle(b, c, a, in) > 0 && mst_incircle(c, a, b, in) > 0);
        assert_true(mst_incircle(a, b, c, out) < 0 && mst_incircle(b, c, a, out) < 0 && mst_incircle(c, a, b, out) < 0);
    }
    assert_true(mst_incircle(a, a, c, on) == 0 && mst_incircle(a, b, c, b) == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_orientations),     cmocka_unit_test(published_circles),
        cmocka_unit_test(orientation_of_whole_units), cmocka_unit_test(circles_of_whole_units),
        cmocka_unit_test(a_window_beside_a_line),     cmocka_unit_test(one_ulp_off_a_circle)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
