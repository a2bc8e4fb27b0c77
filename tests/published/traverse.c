/* Traverses by the compass rule, against worked examples (../shared/references/01-traverse): T01-A Wolf and Ghilani,
 * Elementary Surveying, chapter 10 and 12, from memory; T01-C an end-of-chapter problem of the same book with its
 * answers on a public page, read; T01-D and T01-E read (T01-E: US Navy Engineering Aid manual, NAVEDTRA 14071, chapter
 * 7). Tolerances as given there: the last printed digit and the source's running rounding. Lengths in feet: the rule
 * does not mind. */
#include "../survey/site_from_text.h"

static const double SECOND = MST_PI / 180 / 3600;
static double dms(double d, double m, double s) { return (d * 3600 + m * 60 + s) * SECOND; }
static mst_traverse compute(const mst_traverse_leg legs[], size_t count, mst_point start) {
    mst_traverse t;
    assert_int_equal(mst_traverse_compass(legs, count, start, NULL, arena, &t, &error), MST_OK);
    return t;
}

static void five_courses(void **state) { /* T01-A */
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 647.25, .bearing_rad = dms(126, 55, 17)},
                                     {.distance_m = 203.03, .bearing_rad = dms(178, 18, 58)},
                                     {.distance_m = 720.35, .bearing_rad = dms(15, 31, 54)},
                                     {.distance_m = 610.24, .bearing_rad = dms(284, 35, 20)},
                                     {.distance_m = 285.13, .bearing_rad = dms(206, 9, 41)}};
    static const double PRINTED[5][4] = {{517.451, -388.815, 517.444, -388.835},
                                         {5.966, -202.942, 5.964, -202.948},
                                         {192.889, 694.045, 192.881, 694.022},
                                         {-590.565, 153.708, -590.571, 153.689},
                                         {-125.715, -255.919, -125.718, -255.928}};
    mst_traverse t = compute(legs, 5, (mst_point){10000, 5000});
    for (int i = 0; i < 5; i++) {
        NEAR(t.legs[i].departure_m, PRINTED[i][0], 0.0015);
        NEAR(t.legs[i].latitude_m, PRINTED[i][1], 0.0015);
        NEAR(t.legs[i].balanced_departure_m, PRINTED[i][2], 0.0015);
        NEAR(t.legs[i].balanced_latitude_m, PRINTED[i][3], 0.0015);
    }
    NEAR(t.departure_misclosure_m, 0.026, 0.0015);
    NEAR(t.latitude_misclosure_m, 0.077, 0.002);
    NEAR(t.length_m, 2466, 0.005);
    NEAR(t.linear_misclosure_m, 0.08, 0.005);
    NEAR(t.ratio, 30000, 1000);
    NEAR(t.area_m2, 272600, 50);
    NEAR(t.area_m2 / 43560, 6.258, 0.0006); /* acres */
    NEAR(t.legs[4].end.easting_m, 10000, 1e-9);
}

static void four_courses(void **state) { /* T01-C */
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 314.02, .bearing_rad = -dms(22, 36, 40)},
                                     {.distance_m = 264.49, .bearing_rad = MST_PI + dms(60, 39, 24)},
                                     {.distance_m = 213.50, .bearing_rad = MST_PI - dms(38, 46, 10)},
                                     {.distance_m = 217.69, .bearing_rad = dms(88, 22, 58)}};
    static const double PRINTED[4][2] = {
        {-120.733, 289.883}, {-230.556, -129.611}, {133.691, -166.460}, {217.603, 6.144}};
    mst_traverse t = compute(legs, 4, (mst_point){10000, 5000});
    for (int i = 0; i < 4; i++) {
        NEAR(t.legs[i].departure_m, PRINTED[i][0], 0.001);
        NEAR(t.legs[i].latitude_m, PRINTED[i][1], 0.001);
    }
    NEAR(t.linear_misclosure_m, 0.045, 0.0005);
    NEAR(t.ratio, 22500, 50);
    NEAR(10000 + t.legs[0].departure_m, 9879.266, 0.0015); /* preliminary places; B printed, C and D recomputed only */
    NEAR(5000 + t.legs[0].latitude_m, 5289.883, 0.0015);
    NEAR(10000 + t.legs[0].departure_m + t.legs[1].departure_m, 9648.712, 0.002);
    NEAR(5000 + t.legs[0].latitude_m + t.legs[1].latitude_m, 5160.272, 0.002);
    NEAR(10000 + t.legs[0].departure_m + t.legs[1].departure_m + t.legs[2].departure_m, 9782.403, 0.002);
    NEAR(5000 + t.legs[0].latitude_m + t.legs[1].latitude_m + t.legs[2].latitude_m, 4993.812, 0.002);
    NEAR(t.legs[0].end.easting_m, 9879.265, 0.002);
    NEAR(t.legs[0].end.northing_m, 5289.897, 0.002);
    NEAR(t.legs[1].end.easting_m, 9648.708, 0.002);
    NEAR(t.legs[1].end.northing_m, 5160.297, 0.002);
    NEAR(t.legs[2].end.easting_m, 9782.398, 0.002);
    NEAR(t.legs[2].end.northing_m, 4993.847, 0.002);
}

static void six_courses_with_a_gross_misclosure(void **state) { /* T01-D: 1 in 200; the arithmetic holds all the same */
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 495.85, .bearing_rad = dms(5, 30, 0)},
                                     {.distance_m = 850.62, .bearing_rad = dms(46, 2, 0)},
                                     {.distance_m = 855.45, .bearing_rad = MST_PI - dms(67, 38, 0)},
                                     {.distance_m = 1020.87, .bearing_rad = MST_PI - dms(12, 25, 0)},
                                     {.distance_m = 1117.26, .bearing_rad = MST_PI + dms(83, 44, 0)},
                                     {.distance_m = 660.08, .bearing_rad = -dms(55, 9, 0)}};
    static const double PRINTED[6][4] = {
        {493.5672, 47.5251, 491.8995, 45.7328},         {590.5342, 612.2285, 587.6733, 609.1538},
        {-325.5265, 791.0924, -328.4036, 788.0003},     {-996.9916, 219.5069, -1000.4252, 215.8168},
        {-121.9557, -1110.5840, -125.7134, -1114.6225}, {377.1895, -541.6952, 374.9694, -544.0812}};
    static const double DOUBLE_MERIDIAN[6] = {45.7328, 700.6194, 2097.7734, 3101.5905, 2202.7848, 544.0812};
    mst_traverse t = compute(legs, 6, (mst_point){0, 0});
    for (int i = 0; i < 6; i++) {
        NEAR(t.legs[i].latitude_m, PRINTED[i][0], 1e-4);
        NEAR(t.legs[i].departure_m, PRINTED[i][1], 1e-4);
        NEAR(t.legs[i].balanced_latitude_m, PRINTED[i][2], 1.5e-4);
        NEAR(t.legs[i].balanced_departure_m, PRINTED[i][3], 1.5e-4);
        NEAR(t.legs[i].double_meridian_m, DOUBLE_MERIDIAN[i], 2e-4);
    }
    NEAR(t.latitude_misclosure_m, 16.8171, 1e-4);
    NEAR(t.departure_misclosure_m, 18.0737, 1e-4);
    NEAR(t.linear_misclosure_m, 24.6876, 1e-4);
    NEAR(t.ratio, 200, 5);
    NEAR(t.area_m2, 1715250.049, 0.5);
}

static mst_traverse_leg by_parts(double latitude, double departure) {
    return (mst_traverse_leg){.distance_m = hypot(latitude, departure), .bearing_rad = atan2(departure, latitude)};
}

static void
places_from_balanced_latitudes_and_departures(void **state) { /* T01-E; the legs close, so nothing is moved */
    (void)state;
    const mst_traverse_leg legs[] = {by_parts(255.96, 125.66), by_parts(-153.53, 590.65), by_parts(-694.07, -192.69),
                                     by_parts(591.64, -523.62)};
    static const double PRINTED[3][2] = {{125.66, 847.60}, {716.31, 694.07}, {523.62, 0}};
    mst_traverse t = compute(legs, 4, (mst_point){0, 591.64});
    for (int i = 0; i < 3; i++) {
        NEAR(t.legs[i].end.easting_m, PRINTED[i][0], 0.005);
        NEAR(t.legs[i].end.northing_m, PRINTED[i][1], 0.005);
    }
    NEAR(t.area_m2, 323953.6994, 1);
}

static void between_two_known_points(void **state) { /* no source: the end is reached, and there is no area */
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 10, .bearing_rad = 0},
                                     {.distance_m = 30, .bearing_rad = MST_PI / 2}};
    mst_point end = {30.04, 9.98};
    mst_traverse t;
    assert_int_equal(mst_traverse_compass(legs, 2, (mst_point){0, 0}, &end, arena, &t, &error), MST_OK);
    NEAR(t.legs[1].end.easting_m, 30.04, 1e-12);
    NEAR(t.legs[1].end.northing_m, 9.98, 1e-12);
    NEAR(t.departure_misclosure_m, -0.04, 1e-12);
    NEAR(t.legs[0].balanced_departure_m, 0.01, 1e-12);
    assert_true(isnan(t.area_m2));
}

static void what_is_no_traverse_is_refused(void **state) {
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 10, .bearing_rad = 0}, {.distance_m = 0, .bearing_rad = 1}};
    mst_traverse t = {.count = 77};
    assert_int_equal(mst_traverse_compass(legs, 1, (mst_point){0, 0}, NULL, arena, &t, &error), MST_TOO_FEW);
    assert_int_equal(mst_traverse_compass(legs, 2, (mst_point){0, 0}, NULL, arena, &t, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "Leg 2"));
    assert_int_equal(t.count, 77);
}

/* The same figure adjusted by least squares from bearings and tapes must lie within its misclosure of the compass rule.
 */
static void least_squares_agrees_with_the_compass_rule(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (ft),northing (ft)\nA,10000,5000\n"},
                                 {MST_PAGE_BEARINGS, "b.csv", "1",
                                  "from,to,bearing (dms),distance (ft)\nA,B,337-23-20,314.02\nB,C,240-39-24,264.49\n"
                                  "C,D,141-13-50,213.50\nD,A,88-22-58,217.69\n"});
    static const double COMPASS[3][2] = {{9879.265, 5289.897}, {9648.708, 5160.297}, {9782.398, 4993.847}};
    for (int i = 0; i < 3; i++) {
        const mst_adjusted_point *p = point_of(a, (const char *[]){"B", "C", "D"}[i]);
        NEAR(p->easting_m / MST_FOOT_M, COMPASS[i][0], 0.045);
        NEAR(p->northing_m / MST_FOOT_M, COMPASS[i][1], 0.045);
    }
    assert_int_equal(a->degrees_of_freedom, 2);
    assert_true(a->global_test.passed);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(five_courses, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(four_courses, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(six_courses_with_a_gross_misclosure, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(places_from_balanced_latitudes_and_departures, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(between_two_known_points, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_is_no_traverse_is_refused, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(least_squares_agrees_with_the_compass_rule, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
