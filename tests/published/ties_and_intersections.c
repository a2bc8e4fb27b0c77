/* Sources: named at each check; collected with their tolerances in the project's reference page 04. */
#include "geometry/near.h"
#include "merestone/geometry.h"

/* Wolf and Ghilani, Elementary Surveying, ch. 11, two-line intersection (from memory); feet. */
static void two_directions_meet(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point a = {1425.07, 1971.28}, b = {7484.80, 5209.64}, p;
    IS_OK(mst_intersect_bearings(a, dms(76, 4, 24), b, dms(141, 30, 16), &p, &error));
    NEAR(mst_distance(a, b), 6870.757, 0.002);
    NEAR(degrees(mst_bearing(a, b)) * 3600, 61 * 3600 + 52 * 60 + 47, 0.6);
    NEAR(mst_distance(a, p), 7431.224, 0.003);
    NEAR(p.easting_m, 8637.85, 0.006);
    NEAR(p.northing_m, 3759.83, 0.006);
}

/* J. Mahun, open-access surveying chapters, COGO, chapter B: inputs read, answer recomputed only; feet. */
static void two_directions_meet_on_short_lines(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point l = {2255.90, 614.80}, m = {2517.03, 791.53}, p;
    IS_OK(mst_intersect_bearings(l, dms(117, 22, 40), m, dms(198, 10, 30), &p, &error));
    NEAR(p.northing_m, 524.902, 0.005);
    NEAR(p.easting_m, 2429.496, 0.005);
    NEAR(mst_distance(l, p), 195.492, 0.005);
    NEAR(mst_distance(m, p), 280.629, 0.005);
}

/* Wolf and Ghilani, Elementary Surveying, ch. 11, three-point resection (from memory; P recomputed only); feet. */
static void three_points_give_the_set_up(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point known[] = {{5721.25, 21802.48}, {12963.71, 27002.38}, {20350.09, 24861.22}}, p;
    double apb = dms(48, 53, 12), bpc = dms(41, 20, 35);
    for (int start = 0; start < 360; start += 45) { /* the circle's zero may point anywhere */
        double zero = start * MST_PI / 180;
        IS_OK(mst_resection(known, (double[]){zero, zero + apb, zero + apb + bpc}, &p, &error));
        NEAR(p.easting_m, 14377.21, 0.01);
        NEAR(p.northing_m, 16011.05, 0.01);
    }
    NEAR(mst_distance(known[0], known[1]), 8915.84, 0.006);
    NEAR(mst_distance(known[1], known[2]), 7690.46, 0.006);
    NEAR(degrees(mst_bearing(known[0], known[1])), 54.32263889, 3e-5);
    NEAR(degrees(mst_bearing(known[1], known[2])) * 3600, 106 * 3600 + 9 * 60 + 57, 0.6);
    double at_a = mst_bearing(known[0], p) - mst_bearing(known[0], known[1]);
    double at_c = mst_bearing(known[2], known[1]) - mst_bearing(known[2], p);
    NEAR(degrees(at_a), 69.4626, 3e-4);
    NEAR(degrees(at_c), 72.1508, 3e-4);
    NEAR(degrees(at_a + at_c) * 3600, 141 * 3600 + 36 * 60 + 48, 0.6);
}

/* GeodePy (Geoscience Australia), test cases of its survey module (read). */
static void joins(void **state) {
    (void)state;
    mst_point a = {500, 500}, b = {460.529, 493.218}, c = {562.677, 548.598}, d = {580.905, 569.481};
    NEAR(mst_distance(a, b), 40.049, 0.0006);
    NEAR(degrees(mst_bearing(a, b)), 260.2505, 6e-5);
    NEAR(mst_distance(c, d), 27.719, 0.0006);
    NEAR(degrees(mst_bearing(c, d)), 41.1165, 6e-5);
}

/* A 3-4-5 line: plane geometry, no source. */
static void chainage_and_offset_both_ways(void **state) {
    (void)state;
    mst_point a = {0, 0}, b = {40, 30}, x = mst_from_chainage_offset(a, b, 25, 10);
    NEAR(x.easting_m, 26, 1e-9);
    NEAR(x.northing_m, 7, 1e-9);
    double chainage, offset;
    mst_chainage_offset(a, b, x, &chainage, &offset);
    NEAR(chainage, 25, 1e-9);
    NEAR(offset, 10, 1e-9);
}

/* The cosine rule; the mirror point fits the tapes as well, so the side must be told. */
static void two_ties(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point a = {0, 0}, b = {50, 0}, p;
    IS_OK(mst_intersect_distances(a, 30, b, 40, true, &p, &error));
    NEAR(p.easting_m, 18, 1e-9);
    NEAR(p.northing_m, 24, 1e-9);
    IS_OK(mst_intersect_distances(a, 30, b, 40, false, &p, &error));
    NEAR(p.northing_m, -24, 1e-9);
    NEAR(degrees(mst_bearing(p, a) - mst_bearing(p, b)) - 360, -90, 1e-9);
}

/* Common practice (3-4-5 rule); diagonals by the cosine rule, no source. */
static void square_corners(void **state) {
    (void)state;
    const double triples[][3] = {{3, 4, 5}, {6, 8, 10}, {5, 12, 13}, {8, 15, 17}, {7, 24, 25}, {20, 21, 29}};
    for (size_t i = 0; i < 6; i++) {
        mst_error error = {0};
        mst_point p;
        IS_OK(mst_intersect_distances((mst_point){0, 0}, triples[i][1], (mst_point){triples[i][0], 0}, triples[i][2],
                                      true, &p, &error));
        NEAR(p.easting_m, 0, 1e-12);
        NEAR(p.northing_m, triples[i][1], 1e-12);
    }
    double off = dms(0, 10, 0);
    mst_point a = {0, 0}, b = {40, 0}, d = {30 * sin(off), 30 * cos(off)}, c = {40 + d.easting_m, d.northing_m};
    NEAR(mst_distance(b, d), 49.930138, 1e-6);
    NEAR(mst_distance(a, c), 50.069764, 1e-6);
    NEAR(mst_distance(a, c) - mst_distance(b, d), 0.139626, 1e-6);
}

static void what_has_no_answer_is_refused(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point a = {0, 0}, b = {50, 0}, p = {-1, -2};
    assert_int_equal(mst_intersect_bearings(a, 1, b, 1 + MST_PI, &p, &error), MST_UNDETERMINED);
    assert_int_equal(mst_intersect_bearings(a, NAN, b, 1, &p, &error), MST_INVALID);
    assert_int_equal(mst_intersect_distances(a, 20, b, 20, true, &p, &error), MST_UNDETERMINED);
    assert_non_null(strstr(error.sentence, "10.000 m too short"));
    assert_int_equal(mst_intersect_distances(a, 70, b, 10, true, &p, &error), MST_UNDETERMINED);
    assert_int_equal(mst_intersect_distances(a, 20, a, 20, true, &p, &error), MST_UNDETERMINED);
    assert_int_equal(mst_intersect_distances(a, -1, b, 20, true, &p, &error), MST_INVALID);
    mst_point known[] = {{10, 0}, {0, 10}, {-10, 0}}, set_up = {0, -10}; /* all on one circle */
    double circle[3];
    for (int i = 0; i < 3; i++) circle[i] = mst_bearing(set_up, known[i]);
    assert_int_equal(mst_resection(known, circle, &p, &error), MST_UNDETERMINED);
    assert_non_null(strstr(error.sentence, "circle"));
    assert_int_equal(mst_resection(known, (double[]){1, 1, 1}, &p, &error), MST_UNDETERMINED);
    assert_int_equal(mst_resection(known, (double[]){1, NAN, 1}, &p, &error), MST_INVALID);
    assert_true(p.easting_m == -1 && p.northing_m == -2);
    IS_OK(mst_intersect_distances(a, 20, b, 30, true, &p, &error)); /* they just meet */
    NEAR(p.easting_m, 20, 1e-12);
}

/* Property: wherever one stands off the circle, the directions lead back, also far away and in line with two points. */
static void any_set_up_is_found_again(void **state) {
    (void)state;
    uint64_t seed = 4;
    for (int i = 0; i < 2000; i++) {
        mst_point known[3], set_up = {600000 + draw_between(&seed, -300, 300), 200000 + draw_between(&seed, -300, 300)},
                            p;
        double circle[3], zero = draw_between(&seed, 0, 7);
        for (int k = 0; k < 3; k++)
            known[k] = (mst_point){600000 + draw_between(&seed, -100, 100), 200000 + draw_between(&seed, -100, 100)};
        if (i % 4 == 0) { /* between the first two, exactly in their line */
            set_up = (mst_point){(known[0].easting_m + known[1].easting_m) / 2,
                                 (known[0].northing_m + known[1].northing_m) / 2};
        }
        for (int k = 0; k < 3; k++) circle[k] = mst_bearing(set_up, known[k]) - zero;
        mst_circle round;
        mst_error error = {0};
        if (mst_circle_through(known[0], known[1], known[2], &round, &error)) continue;
        if (fabs(mst_distance(round.centre, set_up) - round.radius_m) < 0.05 * round.radius_m) continue;
        IS_OK(mst_resection(known, circle, &p, &error));
        NEAR(mst_distance(p, set_up), 0, 1e-5);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_directions_meet),
                                       cmocka_unit_test(two_directions_meet_on_short_lines),
                                       cmocka_unit_test(three_points_give_the_set_up),
                                       cmocka_unit_test(joins),
                                       cmocka_unit_test(chainage_and_offset_both_ways),
                                       cmocka_unit_test(two_ties),
                                       cmocka_unit_test(square_corners),
                                       cmocka_unit_test(what_has_no_answer_is_refused),
                                       cmocka_unit_test(any_set_up_is_found_again)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
