/* Built against design. Plan conformance is checked against the closed form at the centre (Rayleigh) and a plain double
 * sum over the circle; the job's own sentence (8 mm high, tolerance 10 mm, measured to 3 mm: cannot tell) is from the
 * trade notes. */
#include "merestone/setout.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static mst_arena *arena;
static int open_arena(void **state) {
    (void)state;
    arena = mst_arena_new();
    return !arena;
}
static int close_arena(void **state) {
    (void)state;
    mst_arena_free(arena);
    return 0;
}
static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.12f is not %.12f within %g", a, b, by);
}

static const mst_setout_line STAKES[] = {{.stake = "P1", .easting_m = 10, .northing_m = 20, .elevation_m = 5.000},
                                         {.stake = "P2", .easting_m = 14, .northing_m = 20, .elevation_m = NAN}};
static mst_check check_of(mst_built built) {
    mst_check *checks;
    size_t count;
    mst_error error = {0};
    if (mst_verify(&built, 1, STAKES, 2, NULL, arena, &checks, &count, &error)) fail_msg("%s", error.sentence);
    assert_int_equal(count, 1);
    return checks[0];
}

static void three_verdicts(void **state) {
    (void)state;
    mst_check c = check_of((mst_built){"P1", 10, 20, 5.008, 0.002, 0.003, 2});
    assert_int_equal(c.verdict, MST_CANNOT_TELL);
    assert_non_null(strstr(
        c.sentence, "level 8 mm high, tolerance 10 mm, measured to 3 mm: cannot tell; measure again with a level"));
    c = check_of((mst_built){"P1", 10, 20, 5.004, 0.002, 0.003, 2});
    assert_int_equal(c.verdict, MST_PASS);
    c = check_of((mst_built){"P1", 10, 20, 4.983, 0.002, 0.003, 2});
    assert_int_equal(c.verdict, MST_FAIL);
    assert_non_null(strstr(c.sentence, "level 17 mm low"));
    near(c.dz_m, -0.017, 1e-12);
    c = check_of((mst_built){"P1", 10.1, 20, 5, 0.002, 0.003, 2});
    assert_int_equal(c.verdict, MST_FAIL);
    assert_non_null(strstr(c.sentence, "plan 100 mm off to the east"));
}
/* With 20 mm gear nothing can be proven to 25 mm, wherever it lies; far off it can be disproven. */
static void coarse_gear_proves_nothing(void **state) {
    (void)state;
    assert_int_equal(check_of((mst_built){"P2", 14, 20, NAN, 0.020, NAN, 2}).verdict, MST_CANNOT_TELL);
    assert_int_equal(check_of((mst_built){"P2", 14.1, 20, NAN, 0.020, NAN, 2}).verdict, MST_FAIL);
    assert_int_equal(check_of((mst_built){"P2", 14, 20, NAN, NAN, NAN, 2}).verdict, MST_CANNOT_TELL);
}
static void nearest_stake_when_the_name_is_none(void **state) {
    (void)state;
    mst_check c = check_of((mst_built){"1001", 13.7, 20.1, NAN, 0.002, NAN, 2});
    assert_string_equal(c.stake, "P2");
    assert_int_equal(c.height_judged, 0);
    assert_non_null(strstr(c.sentence, "level not checked"));
    c = check_of((mst_built){"1001", 30, 20.1, NAN, 0.002, NAN, 2});
    assert_string_equal(c.stake, "");
    assert_int_equal(c.verdict, MST_CANNOT_TELL);
    assert_non_null(strstr(c.sentence, "none lies within 1.00 m"));
}
static double double_sum(double distance, double radius, double sd) {
    enum { N = 1200 };
    double sum = 0, h = 2 * radius / N;
    for (int i = 0; i < N; i++)
        for (int k = 0; k < N; k++) {
            double x = -radius + (i + 0.5) * h, y = -radius + (k + 0.5) * h;
            if (x * x + y * y > radius * radius) continue;
            sum += exp(-((x - distance) * (x - distance) + y * y) / (2 * sd * sd)) * h * h / (2 * MST_PI * sd * sd);
        }
    return sum;
}
static void plan_conformance_is_the_circles_probability(void **state) {
    (void)state;
    for (double sd = 0.3; sd < 4; sd *= 1.7) near(mst_conformance_plan(0, 2, sd), 1 - exp(-2 / (sd * sd)), 1e-9);
    for (double d = 0; d < 4; d += 0.7)
        for (double sd = 0.4; sd < 3; sd *= 2) near(mst_conformance_plan(d, 2, sd), double_sum(d, 2, sd), 2e-4);
    near(mst_conformance_plan(1, 2, 0), 1, 0);
    near(mst_conformance_plan(3, 2, 0), 0, 0);
    near(mst_conformance_plan(0.010, 0.025, 1e-7), 1, 1e-9);
    near(mst_conformance_plan(0.100, 0.025, 1e-4), 0, 1e-12);
}
static void bad_requests_are_refused(void **state) {
    (void)state;
    const mst_built one = {"P1", 10, 20, 5, 0.002, 0.003, 2}, nowhere = {"P1", NAN, 20, 5, 0.002, 0.003, 7},
                    odd = {"P1", 10, 20, 5, -1, 0, 9};
    mst_check *checks = NULL;
    size_t count = 77;
    mst_error error = {0};
    assert_int_equal(mst_verify(&one, 0, STAKES, 2, NULL, arena, &checks, &count, &error), MST_TOO_FEW);
    assert_int_equal(mst_verify(&one, 1, STAKES, 0, NULL, arena, &checks, &count, &error), MST_TOO_FEW);
    assert_int_equal(mst_verify(&nowhere, 1, STAKES, 2, NULL, arena, &checks, &count, &error), MST_INVALID);
    assert_int_equal(error.row, 7);
    assert_int_equal(mst_verify(&odd, 1, STAKES, 2, NULL, arena, &checks, &count, &error), MST_INVALID);
    const mst_verify_options wrong[] = {
        {.plan_m = -1}, {.height_m = NAN}, {.confidence = 0.4}, {.confidence = 1}, {.search_m = INFINITY}};
    for (int i = 0; i < 5; i++)
        assert_int_equal(mst_verify(&one, 1, STAKES, 2, &wrong[i], arena, &checks, &count, &error), MST_INVALID);
    assert_int_equal(count, 77);
}
#define TEST(f) cmocka_unit_test_setup_teardown(f, open_arena, close_arena)
int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(three_verdicts), TEST(coarse_gear_proves_nothing), TEST(nearest_stake_when_the_name_is_none),
        TEST(plan_conformance_is_the_circles_probability), TEST(bad_requests_are_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
