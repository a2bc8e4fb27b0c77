/* Plane networks and their tests (../shared/references/03-plane-network and 04-ties-and-intersections): T03-A C. D.
 * Ghilani, Adjustment Computations, trilateration and error ellipses, from memory; T03-D J. Mahun, Least Squares Lite,
 * read; T03-E NIST/SEMATECH e-Handbook 1.3.5.17.1, from memory; T03-F Baarda 1968, from memory; T03-G closed form of
 * one condition (Teunissen, Testing Theory); T04-F GeodePy, read; T04-A, T04-C Wolf and Ghilani, from memory; T04-J
 * cosine rule (Schofield).
 */
#include "numeric/statistics.h"
#include "survey/covariances.h"
#include "survey/start.h"
#include "../survey/site_from_text.h"

static void one_point_from_three_distances(void **state) { /* T03-A; feet, sd 1 ft each */
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1",
         "point,easting (ft),northing (ft)\nA,865.40,4527.15\nB,2432.55,2047.25\nC,2865.22,27.15\n"},
        {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (ft),sd (ft)\nA,U,6049.00,1\nB,U,4736.83,1\nC,U,5446.49,1\n"});
    const mst_adjusted_point *u = point_of(a, "U");
    NEAR(u->easting_m / MST_FOOT_M, 6861.32, 0.006);
    NEAR(u->northing_m / MST_FOOT_M, 3727.82, 0.006);
    static const double RESIDUAL[] = {-0.037, 0.077, -0.047};
    for (int i = 0; i < 3; i++) NEAR(a->observations[i].residual / MST_FOOT_M, RESIDUAL[i], 0.0006);
    NEAR(a->sigma0, 0.10, 0.005);
    assert_int_equal(a->degrees_of_freedom, 1);
    double ft2 = MST_FOOT_M * MST_FOOT_M; /* S0 < 1, so sd are the cofactors */
    NEAR(u->sd_easting_m * u->sd_easting_m / ft2, 0.6302, 0.0002);
    NEAR(u->sd_northing_m * u->sd_northing_m / ft2, 2.4947, 0.0002);
    NEAR(u->cov_en_m2 / ft2, -0.7284, 0.0002);
    NEAR(u->sd_easting_m / MST_FOOT_M * a->sigma0, 0.078, 0.001);
    NEAR(u->sd_northing_m / MST_FOOT_M * a->sigma0, 0.154, 0.001);
    NEAR(u->ellipse_bearing_rad * 180 / MST_PI, 161, 0.1);
    NEAR(u->semi_major_m / MST_FOOT_M * a->sigma0, 0.1618, 0.0005);
    NEAR(u->semi_minor_m / MST_FOOT_M * a->sigma0, 0.0602, 0.0005);
}

static void
an_ellipse_from_a_covariance_matrix(void **state) { /* T03-C: a test case of GeodePy (Geoscience Australia), read */
    (void)state;
    mst_ellipse e = mst_ellipse_of(1.44, -1.32, 1.22);
    NEAR(e.semi_major_m, 1.629286778, 1e-9);
    NEAR(e.semi_minor_m, 0.07365185899, 1e-9);
    NEAR(e.bearing_rad * 180 / MST_PI, 132.6181792, 1e-7);
    e = mst_ellipse_of(4, 0, 4);
    assert_true(e.semi_major_m == 2 && e.semi_minor_m == 2 && e.bearing_rad == 0);
}

static void an_ellipse_at_95_percent(void **state) { /* T03-D: 3 degrees of freedom, axes scaled by S0 */
    (void)state;
    double multiplier = sqrt(2 * mst_f_quantile(0.95, 2, 3));
    NEAR(multiplier, 4.37, 0.005);
    NEAR(0.0075 * multiplier, 0.033, 0.0006);
    NEAR(0.0066 * multiplier, 0.029, 0.0006);
    NEAR(0.0145 * multiplier, 0.0634, 0.0003);
    NEAR(0.0084 * multiplier, 0.037, 0.0006);
}

static void grubbs_critical_value(void **state) { /* T03-E: (n - 1) / root n * root(t2 / (n - 2 + t2)), t at 5 % / n */
    (void)state;
    static const double SAMPLE[] = {199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57};
    double mean = 0, squares = 0, n = 8;
    for (int i = 0; i < 8; i++) mean += SAMPLE[i] / n;
    for (int i = 0; i < 8; i++) squares += pow(SAMPLE[i] - mean, 2);
    double s = sqrt(squares / (n - 1)), t = mst_student_quantile(1 - 0.05 / n, n - 2);
    NEAR(mean, 206.43375, 1e-5);
    NEAR(s, 15.8526, 1e-4);
    NEAR((245.57 - mean) / s, 2.4688, 1e-4);
    NEAR((n - 1) / sqrt(n) * sqrt(t * t / (n - 2 + t * t)), 2.032, 0.0006);
}

static mst_adjustment *level_loop(double misclosure) { /* four sections of 2 mm */
    mst_text text = {0};
    mst_text_printf(&text, "from,to,difference (m),sd (mm)\nA,B,1,2\nB,C,1,2\nC,D,-1,2\nD,A,%.6f,2\n", -1 + misclosure);
    mst_adjust_options options = {.suspect_significance = 0.001}; /* the source's own level for one reading */
    mst_adjustment *a = NULL;
    const text_page page = {MST_PAGE_HEIGHTS, "h.csv", "1", text.data};
    assert_int_equal(mst_adjust(site_of(&page, 1), &options, arena, &a, &error), MST_OK);
    mst_text_free(&text);
    return a;
}

static void one_loop_cannot_name_its_culprit(void **state) { /* T03-G */
    (void)state;
    mst_adjustment *a = level_loop(0.012);
    for (int i = 0; i < 4; i++) {
        NEAR(a->observations[i].residual, -0.003, 1e-9);
        NEAR(a->observations[i].redundancy, 0.25, 1e-9);
        NEAR(fabs(a->observations[i].standardized), 3, 1e-8);
        NEAR(a->observations[i].smallest_error, 0.01652859186, 1e-6);
    }
    NEAR(a->global_test.statistic, 9, 1e-7);
    assert_false(a->global_test.passed);
    assert_int_equal(a->suspect_count, 0); /* 3 is below 3.29 */
    a = level_loop(0.100);
    assert_int_equal(a->suspect_count, 4); /* all four, none alone */
    for (int i = 0; i < 4; i++) {
        assert_false(a->suspects[i].alone);
        NEAR(a->suspects[i].estimated_error, 0.100, 1e-9);
        assert_non_null(strstr(a->suspects[i].sentence, "cannot be told apart"));
    }
}

static void intersection_of_two_bearings(void **state) { /* T04-A; feet */
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (ft),northing (ft)\nA,1425.07,1971.28\nB,7484.80,5209.64\n"},
        {MST_PAGE_BEARINGS, "b.csv", "1", "from,to,bearing (dms)\nA,P,76-04-24\nB,P,141-30-16\n"});
    NEAR(point_of(a, "P")->easting_m / MST_FOOT_M, 8637.85, 0.006);
    NEAR(point_of(a, "P")->northing_m / MST_FOOT_M, 3759.83, 0.006);
}

static void resection_from_three(void **state) { /* T04-C; feet, an arbitrary circle */
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1",
                  "point,easting (ft),northing (ft)\nA,5721.25,21802.48\nB,12963.71,27002.38\nC,20350.09,24861.22\n"},
                 {MST_PAGE_ANGLES, "a.csv", "1", "at,to,circle (dms)\nP,A,350-00-00\nP,B,38-53-12\nP,C,80-13-47\n"});
    NEAR(point_of(a, "P")->easting_m / MST_FOOT_M, 14377.21, 0.01);
    NEAR(point_of(a, "P")->northing_m / MST_FOOT_M, 16011.05, 0.01);
}

static void two_tape_ties_and_their_error(void **state) { /* T04-J; a sight says on which side P lies */
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,50,0\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m),sd (m)\nA,P,30,0.01\nB,P,40,0.01\n"},
                 {MST_PAGE_BEARINGS, "b.csv", "1", "from,to,bearing (dms),sd (dms)\nA,P,36-52-12,10-00-00\n"});
    const mst_adjusted_point *p = point_of(a, "P");
    NEAR(p->easting_m, 18, 1e-3);
    NEAR(p->northing_m, 24, 1e-3);
    NEAR(hypot(p->sd_easting_m, p->sd_northing_m), 0.01414213562, 1e-6);
}

static mst_adjustment *shot_from_origin(const char *row) {
    mst_text t = {0};
    mst_text_printf(&t,
                    "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n"
                    "A,B,90,,,,\n%s\n",
                    row);
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,0\nB,9,0,\n"},
                 {MST_PAGE_ANGLES, "a.csv", "1", t.data});
    mst_text_free(&t);
    return a;
}

/* GeodePy (Geoscience Australia), test cases of its survey module, read (T04-F): slope distance and zenith angle to
 * plan distance and rise. Without heights of instrument and target a sight counts in plan by just that reduction; with
 * them the adjustment counts the earth's curvature on top, which the source leaves out: taken off, the slope is the
 * same. */
static void slope_distance_and_zenith_angle(void **state) {
    (void)state;
    const struct {
        const char *flat, *row;
        double distance, rise, up;
    } SHOT[] = {{"A,P,0,92.2430555556,2116.254,,", "A,P,0,92.2430555556,2116.254,0,0", 2114.6325, -82.82744, 0},
                {"A,P,0,83.1869444444,145.145,,", "A,P,0,83.1869444444,145.145,1.62,0.05", 144.12006, 18.78858, 1.57}};
    for (int i = 0; i < 2; i++) {
        NEAR(result_of(shot_from_origin(SHOT[i].flat), "a.csv", 3, "distance")->observed, SHOT[i].distance, 1e-5);
        const mst_adjusted_point *p = point_of(shot_from_origin(SHOT[i].row), "P");
        double d = hypot(p->easting_m, p->northing_m), slope = (SHOT[i].rise - SHOT[i].up) / SHOT[i].distance;
        NEAR((p->elevation_m - mst_curvature(d) - SHOT[i].up) / d, slope, 1e-5 / SHOT[i].distance);
    }
}

/* Earth curvature and refraction, standard textbook constants with k = 0.14, from memory: 0.0675 m at 1 km, 0.0206 ft
 * at 1000 ft, 0.574 ft at a mile. */
static void curvature_and_refraction(void **state) {
    (void)state;
    NEAR(mst_curvature(1000), 0.0675, 5e-5);
    NEAR(mst_curvature(1000 * MST_FOOT_M) / MST_FOOT_M, 0.0206, 5e-5);
    NEAR(mst_curvature(5280 * MST_FOOT_M) / MST_FOOT_M, 0.574, 5e-4);
    assert_true(mst_curvature(60) < 0.00025);
}

/* Probability content of an error ellipse (bivariate normal; Mikhail and Gracie), from memory. */
static void multipliers_of_the_ellipse(void **state) {
    (void)state;
    static const double PRINTED[][2] = {{0.3935, 1.000}, {0.50, 1.177}, {0.90, 2.146}, {0.95, 2.4477}, {0.99, 3.035}};
    for (int i = 0; i < 5; i++) NEAR(sqrt(mst_chi_square_quantile(PRINTED[i][0], 2)), PRINTED[i][1], 6e-4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_point_from_three_distances, open_arena, close_arena),
        cmocka_unit_test(an_ellipse_from_a_covariance_matrix),
        cmocka_unit_test(an_ellipse_at_95_percent),
        cmocka_unit_test(grubbs_critical_value),
        cmocka_unit_test(curvature_and_refraction),
        cmocka_unit_test(multipliers_of_the_ellipse),
        cmocka_unit_test_setup_teardown(slope_distance_and_zenith_angle, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(one_loop_cannot_name_its_culprit, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(intersection_of_two_bearings, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(resection_from_three, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_tape_ties_and_their_error, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
