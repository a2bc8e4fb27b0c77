/* A design carried onto the site. Outside figures: the trade's own sentence (two common points 18.012 m apart on
 * site, 18.000 m in the design: 12 mm) and the rule that a misfit of 60 mm is refused with its number; both from the
 * working notes of the trade, common practice, no source. Geometry is checked against what it must be. */
#include "merestone/setout.h"
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>
#include "setout/control_helper.c"

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
    if (!(fabs(a - b) <= by)) fail_msg("%.9f is not %.9f within %g", a, b, by);
}

/* The design turned by 30 degrees clockwise and shifted; 18 m apart in the design, longer on site by `stretch`. */
static mst_adjustment *two_posts(double stretch) {
    double t = MST_PI / 6, d = 18 + stretch;
    const known posts[] = {{"A", "", 100, 200, 50.3, 0.001, false},
                           {"B", "", 100 + d * sin(t), 200 + d * cos(t), 50.3, 0.001, false}};
    return control_of(posts, 2, arena);
}
static const mst_stake PLAN[] = {{"A", "", 0, 0, 0, 2}, {"B", "", 0, 18, 0, 3}, {"S", "corner", 5, 9, 0.1, 4}};

static void two_common_points_say_their_misfit(void **state) {
    (void)state;
    mst_stake_fit fit;
    mst_error error = {0};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.012), NULL, arena, &fit, &error), MST_OK);
    assert_non_null(strstr(fit.sentence,
                           "the two common points A and B are 18.012 m apart on site, 18.000 m in the design: 12 mm"));
    near(fit.transform.turn_rad, MST_PI / 6, 1e-12);
    near(fit.transform.scale, 1, 0);
    near(fit.height_shift_m, 50.3, 1e-12);
    assert_int_equal(fit.common_count, 2);
    /* half of the misfit at each end, along the line */
    near(hypot(fit.residuals[0].easting_m, fit.residuals[0].northing_m), 0.006, 1e-9);
    near(fit.residuals[0].easting_m + fit.residuals[1].easting_m, 0, 1e-12);
}
static void sixty_millimetres_are_refused_with_the_number(void **state) {
    (void)state;
    mst_stake_fit fit = {.common_count = 77};
    mst_error error = {0};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.060), NULL, arena, &fit, &error), MST_NO);
    assert_non_null(strstr(error.sentence, "18.060 m apart on site, 18.000 m in the design: 60 mm"));
    assert_int_equal(fit.common_count, 2); /* what is left at each, to find the mistake by */
    near(hypot(fit.residuals[0].easting_m, fit.residuals[0].northing_m), 0.030, 1e-9);
    const mst_fit_options allow = {.misfit_m = 0.050};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.060), &allow, arena, &fit, &error), MST_OK);
    const mst_fit_options stretch = {.with_scale = true};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.060), &stretch, arena, &fit, &error), MST_OK);
    near(fit.transform.scale, 18.06 / 18, 1e-12);
}
static void one_point_and_a_direction(void **state) {
    (void)state;
    mst_stake_fit fit;
    const mst_fit_options by = {.origin = "A", .direction = "B"};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.012), &by, arena, &fit, NULL), MST_OK);
    near(fit.residuals[0].easting_m, 0, 0);
    near(hypot(fit.residuals[1].easting_m, fit.residuals[1].northing_m), 0.012, 1e-9);
    mst_point a = mst_similarity_apply(&fit.transform, (mst_point){0, 0});
    near(a.easting_m, 100, 1e-12);
    near(a.northing_m, 200, 1e-12);
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0.060), &by, arena, &fit, NULL), MST_NO);
}
static void what_cannot_be_fitted_is_refused(void **state) {
    (void)state;
    mst_stake_fit fit = {.common_count = 77};
    mst_error error = {0};
    const known one[] = {{"A", "", 1, 1, 1, 0.001, false}}, none[] = {{"X", "", 1, 1, 1, 0.001, false}};
    const known same[] = {{"A", "", 1, 1, 1, 0.001, false}, {"B", "", 1, 1, 1, 0.001, false}};
    const known half[] = {{"A", "", 1, 1, 1, 0.001, false}, {"B", "", NAN, NAN, 1, 0.001, false}};
    assert_int_equal(mst_stakes_fit(PLAN, 3, control_of(one, 1, arena), NULL, arena, &fit, &error), MST_TOO_FEW);
    assert_non_null(strstr(error.sentence, "Only stake A"));
    assert_int_equal(mst_stakes_fit(PLAN, 3, control_of(none, 1, arena), NULL, arena, &fit, &error), MST_TOO_FEW);
    assert_int_equal(mst_stakes_fit(PLAN, 3, control_of(half, 2, arena), NULL, arena, &fit, &error), MST_TOO_FEW);
    assert_int_equal(mst_stakes_fit(PLAN, 0, control_of(one, 1, arena), NULL, arena, &fit, &error), MST_TOO_FEW);
    assert_int_not_equal(mst_stakes_fit(PLAN, 3, control_of(same, 2, arena), NULL, arena, &fit, &error), MST_OK);
    const mst_fit_options wrong = {.origin = "A", .direction = "S"}, lone = {.origin = "A"},
                          no = {.origin = "Q", .direction = "A"};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0), &wrong, arena, &fit, &error), MST_NOT_FOUND);
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0), &lone, arena, &fit, &error), MST_TOO_FEW);
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(0), &no, arena, &fit, &error), MST_NOT_FOUND);
    const mst_stake twice[] = {{"A", "", 0, 0, 0, 2}, {"A", "", 1, 0, 0, 3}}, nowhere[] = {{"A", "", NAN, 0, 0, 2}};
    assert_int_equal(mst_stakes_fit(twice, 2, two_posts(0), NULL, arena, &fit, &error), MST_INVALID);
    assert_int_equal(error.row, 3);
    assert_int_equal(mst_stakes_fit(nowhere, 1, two_posts(0), NULL, arena, &fit, &error), MST_INVALID);
    assert_int_equal(fit.common_count, 77);
}
static void as_it_is_when_told_so(void **state) {
    (void)state;
    mst_stake_fit fit;
    const mst_fit_options site = {.site_frame = true};
    assert_int_equal(mst_stakes_fit(PLAN, 3, two_posts(5), &site, arena, &fit, NULL), MST_OK);
    mst_point p = mst_similarity_apply(&fit.transform, (mst_point){5, 9});
    near(p.easting_m, 5, 0);
    near(p.northing_m, 9, 0);
    near(fit.height_shift_m, 0, 0);
}
static void a_short_tie_and_levels_that_disagree_are_said(void **state) {
    (void)state;
    mst_stake_fit fit;
    const mst_stake far[] = {{"A", "", 0, 0, 10, 2}, {"B", "", 0, 3, 10, 3}, {"S", "", 0, 30, NAN, 4}};
    const known posts[] = {{"A", "", 0, 0, 10.000, 0.001, false}, {"B", "", 0, 3, 10.090, 0.001, false}};
    assert_int_equal(mst_stakes_fit(far, 3, control_of(posts, 2, arena), NULL, arena, &fit, NULL), MST_OK);
    assert_non_null(strstr(fit.sentence, "only 3.0 m apart"));
    assert_non_null(strstr(fit.sentence, "agree to 90 mm; check which mark"));
    near(fit.height_shift_m, 0.045, 1e-12);
}
static void many_points_name_the_worst(void **state) {
    (void)state;
    mst_stake_fit fit;
    const mst_stake design[] = {
        {"A", "", 0, 0, NAN, 2}, {"B", "", 0, 10, NAN, 3}, {"C", "", 10, 10, NAN, 4}, {"D", "", 10, 0, NAN, 5}};
    const known posts[] = {{"A", "", 0, 0, NAN, 0.001, false},
                           {"B", "", 0, 10, NAN, 0.001, false},
                           {"C", "", 10.02, 10, NAN, 0.001, false},
                           {"D", "", 10, 0, NAN, 0.001, false}};
    assert_int_equal(mst_stakes_fit(design, 4, control_of(posts, 4, arena), NULL, arena, &fit, NULL), MST_OK);
    assert_non_null(strstr(fit.sentence, "4 common points"));
    assert_non_null(strstr(fit.sentence, "(C)"));
    assert_non_null(strstr(fit.sentence, "No common point has a level in both"));
}
int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(two_common_points_say_their_misfit, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(sixty_millimetres_are_refused_with_the_number, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(one_point_and_a_direction, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_cannot_be_fitted_is_refused, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(as_it_is_when_told_so, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_short_tie_and_levels_that_disagree_are_said, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_points_name_the_worst, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
