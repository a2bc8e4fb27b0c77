/* Grades, sight rails, grade stakes, slope stakes. Sources beside each check; tolerance: half of the last printed
 * digit. */
#include "merestone/setout.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>

static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.9f is not %.9f within %g", a, b, by);
}

/* Level page and sight rails for a trench falling 1 in 200: a classical engineering-surveying exercise printed with its
 * answers on a public page. Pegs 100 apart, formation at A 26.50, traveller 3.0. */
static void sight_rails_of_a_trench_falling_1_in_200(void **state) {
    (void)state;
    const double peg[] = {28.00, 27.34, 27.56, 26.90, 26.20}, rail[] = {1.50, 1.66, 0.94, 1.10, 1.30};
    for (int i = 0; i < 5; i++)
        near(mst_sight_rail(mst_graded_level(26.50, 1.0 / 200, 100 * i), 3.0, peg[i]), rail[i], 0.005);
}
/* US Navy, Engineering Aid training manual NAVEDTRA 14070, chapter 10, figure 10-19: invert out 122.87 ft at 9+00, 2.18
 * %; the pipe falls from 9+00 to 8+50. */
static void sewer_grade_stakes(void **state) {
    (void)state;
    double invert = mst_graded_level(122.87, 0.0218, 50);
    near(invert, 121.78, 0.005);
    near(mst_grade_stake(126.94, 122.87), 4.07, 0.005);
    near(mst_grade_stake(127.33, invert), 5.55, 0.005);
}
/* A printed field table of slope-stake distances (public record scan): distance out from the shoulder stake = 1.5 x cut
 * or fill, rounded half up to 0.1 ft. */
static void slope_stake_table(void **state) {
    (void)state;
    const double printed[][2] = {{7.3, 11}, {11.1, 16.7}, {2.5, 3.8}, {4.7, 7.1}, {9.9, 14.9}};
    for (int i = 0; i < 5; i++) {
        const mst_slope_stake at = {0, 1.5, printed[i][0], 0};
        double distance, height;
        assert_int_equal(mst_slope_stake_catch(&at, &distance, &height, NULL), MST_OK);
        near(distance, printed[i][1], 0.051);
        near(height, printed[i][0], 1e-12);
    }
}
/* The trial procedure of NAVEDTRA 14069 chapter 14 (d = W/2 + s h, move, read, compare) and the two-level section
 * formula; numbers of the reference page T10-F, constructed there: w 6, s 2, h 3, ground rising 0.1 per 1. */
static void catch_point_and_trials(void **state) {
    (void)state;
    const mst_slope_stake at = {6, 2, 3, 0.1};
    double distance, height, trial = 0;
    assert_int_equal(mst_slope_stake_catch(&at, &distance, &height, NULL), MST_OK);
    near(distance, 15, 1e-9);
    near(height, 4.5, 1e-9);
    const double trials[] = {12, 14.4, 14.88, 14.976};
    for (int i = 0; i < 4; i++) near(trial = mst_slope_stake_trial(&at, trial), trials[i], 1e-9);
}
static void a_slope_that_never_meets_the_ground_is_refused(void **state) {
    (void)state;
    double distance = 77, height = 77;
    mst_error error = {0};
    assert_int_equal(mst_slope_stake_catch(&(mst_slope_stake){6, 2, 3, 0.5}, &distance, &height, &error), MST_NO);
    assert_int_equal(mst_slope_stake_catch(&(mst_slope_stake){6, 2, -3, 0}, &distance, &height, &error), MST_NO);
    assert_int_equal(mst_slope_stake_catch(&(mst_slope_stake){-1, 2, 3, 0}, &distance, &height, &error), MST_INVALID);
    assert_int_equal(mst_slope_stake_catch(&(mst_slope_stake){1, 2, NAN, 0}, &distance, &height, &error), MST_INVALID);
    assert_true(distance == 77 && height == 77);
}
int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(sight_rails_of_a_trench_falling_1_in_200),
                                       cmocka_unit_test(sewer_grade_stakes), cmocka_unit_test(slope_stake_table),
                                       cmocka_unit_test(catch_point_and_trials),
                                       cmocka_unit_test(a_slope_that_never_meets_the_ground_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
