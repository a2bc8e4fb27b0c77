/* Features on adjusted points: shapes, figures and their intervals. Expected figures from plane geometry by hand. */
#include "site_from_text.h"

/* Eight points on a circle of radius 5 about 100, 200 with levels, and a square of 10 m; sd 10 mm each axis. */
static mst_adjustment *places(void) {
    mst_text text = {0};
    mst_text_string(&text, "point,easting (m),northing (m),elevation (m)\n");
    for (int i = 0; i < 8; i++)
        mst_text_printf(&text, "C%d,%.12f,%.12f,%d\n", i, 100 + 5 * sin(i * MST_PI / 4), 200 + 5 * cos(i * MST_PI / 4),
                        i);
    mst_text_string(&text, "A,0,0,0\nB,10,0,0\nC,10,10,7.5\nD,0,10,\nM,5,-5,\nH1,2,2,\nH2,4,2,\nH3,4,4,\nH4,2,4,\n");
    mst_adjustment *a = ADJUSTED({MST_PAGE_POINTS, "p.csv", "1", text.data},
                                 {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,Q,3\n"});
    mst_text_free(&text);
    return a;
}

static mst_feature feature_of(const char *text) {
    char csv[1000];
    snprintf(csv, sizeof csv, "feature,kind,code,point,edge,role\n%s", text);
    mst_page page;
    mst_feature *features;
    size_t count;
    error = (mst_error){0};
    mst_status status = mst_page_read(MST_PAGE_FEATURES, "f.csv", csv, strlen(csv), NULL, arena, &page, &error);
    if (!status) status = mst_features_from_page(&page, arena, &features, &count, &error);
    if (status) print_message("%s:%d %s\n", error.page, error.row, error.sentence);
    assert_int_equal(status, MST_OK);
    return features[0];
}
static mst_shape shape_of(const mst_adjustment *a, const char *text) {
    mst_feature f = feature_of(text);
    mst_shape shape;
    mst_status status = mst_feature_shape(&f, a, arena, &shape, &error);
    if (status) print_message("%s\n", error.sentence);
    assert_int_equal(status, MST_OK);
    return shape;
}
static mst_measure measure_of(const mst_adjustment *a, const char *text) {
    mst_feature f = feature_of(text);
    mst_measure m;
    assert_int_equal(mst_feature_measure(&f, a, arena, &m, &error), MST_OK);
    return m;
}

static void straight_lines_and_areas(void **state) {
    (void)state;
    mst_adjustment *a = places();
    mst_shape line = shape_of(a, "L,line,kerb,A,,\nL,line,kerb,B,,\nL,line,kerb,C,,\n");
    assert_int_equal(line.count, 1);
    assert_int_equal(line.paths[0].count, 3);
    assert_false(line.paths[0].closed);
    NEAR(mst_shape_length(&line), 20, 1e-12);
    NEAR(mst_path_slope_length(&line.paths[0]), 10 + 12.5, 1e-12);
    mst_measure m = measure_of(a, "L,line,kerb,A,,\nL,line,kerb,B,,\nL,line,kerb,C,,\n");
    NEAR(m.length_m.value, 20, 1e-12);
    assert_true(isnan(m.area_m2.value));
    /* A and C each one axis, B both: variance 4 sd^2 */
    NEAR(m.length_m.high - m.length_m.value, 1.959964 * 0.010 * 2, 1e-7);
    NEAR(m.slope_length_m.value, 22.5, 1e-12);
    /* A: 1; B: (1, 0.8, 0.6 of level); C: (0.8, 0.6): 1 + 1 + 0.64 + 0.36 + 0.64 + 0.36 */
    NEAR(m.slope_length_m.high - m.slope_length_m.value, 1.959964 * 0.010 * 2, 1e-7);
    mst_shape back = shape_of(a, "L,line,,A,,\nL,line,,B,,\nL,line,,C,,\nL,line,,A,,\n");
    assert_true(back.paths[0].closed && back.paths[0].count == 3);
}

static void an_area_with_a_hole(void **state) {
    (void)state;
    mst_adjustment *a = places();
    const char *text = "P,area,,A,,\nP,area,,B,,\nP,area,,C,,\nP,area,,D,,\nP,area,,H1,,hole\nP,area,,H2,,hole\nP,area,"
                       ",H3,,hole\nP,area,,H4,,hole\n";
    mst_shape shape = shape_of(a, text);
    assert_int_equal(shape.count, 2);
    NEAR(mst_shape_area(&shape), 96, 1e-12);
    mst_measure m = measure_of(a, text);
    NEAR(m.area_m2.value, 96, 1e-12);
    /* each corner: half of the diagonal between its neighbours, either axis the same: (10^2 2 / 4) 4 + (2^2 2 / 4) 4 */
    NEAR(m.area_m2.high - m.area_m2.value, 1.959964 * 0.010 * sqrt(200 + 8), 1e-6);
    NEAR(m.length_m.value, 40, 1e-12);
    assert_true(isnan(m.slope_length_m.value)); /* D has no level */
}

static void arcs_in_pairs_also_across_the_closing_edge(void **state) {
    (void)state;
    mst_adjustment *a = places();
    mst_shape arc = shape_of(a, "L,line,,C0,,\nL,line,,C1,arc,\nL,line,,C3,arc,\n");
    NEAR(mst_shape_length(&arc), 5 * 3 * MST_PI / 4, 1e-9);
    assert_int_equal(arc.paths[0].count, 3); /* the middle stays, with its level */
    NEAR(arc.paths[0].vertices[1].elevation_m, 1, 1e-12);
    assert_true(arc.paths[0].vertices[0].bulge < 0); /* clockwise */
    /* half a disc on a square: the closing arc runs from A through M to B, B being the first */
    mst_shape area =
        shape_of(a, "P,area,,B,,\nP,area,,C,,\nP,area,,D,,\nP,area,,A,,\nP,area,,M,arc,\nP,area,,B,arc,\n");
    NEAR(mst_shape_area(&area), 100 + MST_PI * 25 / 2, 1e-9);
    NEAR(mst_shape_length(&area), 30 + MST_PI * 5, 1e-9);
}

static void a_circle_and_a_curve(void **state) {
    (void)state;
    mst_adjustment *a = places();
    mst_shape circle = shape_of(a, "P,area,tree,C0,circle,\nP,area,tree,C3,circle,\nP,area,tree,C5,circle,\n");
    NEAR(mst_shape_area(&circle), MST_PI * 25, 1e-7);
    assert_int_equal(circle.paths[0].count, 2);
    NEAR(circle.paths[0].vertices[0].elevation_m, (0 + 3 + 5) / 3.0, 1e-12);
    mst_measure m = measure_of(
        a, "P,area,tree,C0,circle,\nP,area,tree,C2,circle,\nP,area,tree,C4,circle,\nP,area,tree,C6,circle,\n");
    /* mean of four radial errors: sd of the radius is 10 mm / 2 */
    NEAR(m.length_m.high - m.length_m.value, 1.959964 * 2 * MST_PI * 0.005, 1e-5);
    NEAR(m.area_m2.high - m.area_m2.value, 1.959964 * 2 * MST_PI * 5 * 0.005, 1e-4);
    mst_shape curve = shape_of(a, "L,line,,C0,,\nL,line,,C1,curve,\nL,line,,C2,curve,\nL,line,,C3,curve,\n");
    NEAR(mst_shape_length(&curve), 5 * 3 * MST_PI / 4, 1e-9); /* points of a circle give the circle */
    mst_shape ring = shape_of(a, "P,area,,C0,curve,\nP,area,,C1,curve,\nP,area,,C2,curve,\nP,area,,C3,curve,\nP,area,,"
                                 "C4,curve,\nP,area,,C5,curve,\n"
                                 "P,area,,C6,curve,\nP,area,,C7,curve,\n");
    NEAR(mst_shape_area(&ring), MST_PI * 25, 1e-7);
    /* straight from C4 to C0, curved round through C6: the run of curves crosses the closing edge */
    mst_shape half = shape_of(a, "P,area,,C6,,\nP,area,,C7,curve,\nP,area,,C0,curve,\nP,area,,C4,straight,\nP,area,,C5,"
                                 "curve,\nP,area,,C6,curve,\n");
    NEAR(mst_shape_area(&half), MST_PI * 25 / 2, 1e-7);
}

static void spots(void **state) {
    (void)state;
    mst_shape shape = shape_of(places(), "S,spot,,A,,\nS,spot,,B,,\n");
    assert_int_equal(shape.paths[0].count, 2);
    mst_measure m = measure_of(places(), "S,spot,,A,,\nS,spot,,B,,\n");
    assert_true(isnan(m.length_m.value) && isnan(m.area_m2.value));
}

static void what_has_no_shape_says_why(void **state) {
    (void)state;
    mst_adjustment *a = places();
    mst_feature f = feature_of("L,line,,A,,\nL,line,,Z,,\n");
    mst_shape shape = {.count = 77};
    mst_measure measure;
    assert_int_equal(mst_feature_shape(&f, a, arena, &shape, &error), MST_UNDETERMINED);
    assert_string_equal(error.sentence, "Point 'Z' of feature 'L' has not been measured.");
    f = feature_of("L,line,,A,,\nL,line,,Q,,\n");
    assert_int_equal(mst_feature_shape(&f, a, arena, &shape, &error), MST_UNDETERMINED);
    assert_non_null(strstr(error.sentence, "has no place: only the tape A-Q"));
    assert_int_equal(mst_feature_measure(&f, a, arena, &measure, &error), MST_UNDETERMINED);
    f = feature_of("L,line,,D,,\nL,line,,A,arc,\nL,line,,M,arc,\n");
    f.vertices[1].point = "H1"; /* D, H1, ... never in line; now a point on the line D-B */
    f.vertices[0].point = "H1";
    f.vertices[1].point = "H3";
    f.vertices[2].point = "C";
    assert_int_equal(mst_feature_shape(&f, a, arena, &shape, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "one line"));
    assert_int_equal(shape.count, 77);
    f.vertex_count = 0;
    assert_int_equal(mst_feature_shape(&f, a, arena, &shape, &error), MST_TOO_FEW);
}

/* What points have in common cancels: two points of one visit are known to each other better than to the control. */
static void a_common_error_cancels(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),sd plan (m)\nA,0,0,0.05\nB,100,0,0.05\n"},
        {MST_PAGE_POINTS, "p.csv", "1",
         "point,easting (m),northing (m),sd plan (m)\nA,0,0,0.001\nB,100,0,0.001\nC,50,10,0.001\nD,50,20,0.001\n"});
    mst_feature f = feature_of("L,line,,C,,\nL,line,,D,,\n");
    mst_measure m;
    assert_int_equal(mst_feature_measure(&f, a, arena, &m, &error), MST_OK);
    assert_true(point_of(a, "C")->sd_northing_m > 0.03);
    NEAR(m.length_m.high - m.length_m.value, 1.959964 * 0.001 * sqrt(2), 1e-6);
    double variance = -7;
    assert_int_equal(mst_adjustment_variance(a, (mst_gradient_term[]){{9999, 1, 1, 0}}, 1, &variance, &error),
                     MST_INVALID);
    assert_int_equal(mst_adjustment_variance(a, (mst_gradient_term[]){{0, NAN, 1, 0}}, 1, &variance, &error),
                     MST_INVALID);
    assert_true(variance == -7);
    const mst_adjusted_point *c = point_of(a, "C"); /* the covariances agree with the printed sd and ellipse */
    uint32_t at = mst_index_get(&a->index, "C");
    assert_int_equal(mst_adjustment_variance(a, (mst_gradient_term[]){{at, 1, 1, 0}}, 1, &variance, &error), MST_OK);
    NEAR(variance, c->sd_easting_m * c->sd_easting_m + c->sd_northing_m * c->sd_northing_m + 2 * c->cov_en_m2, 1e-12);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(straight_lines_and_areas, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(an_area_with_a_hole, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(arcs_in_pairs_also_across_the_closing_edge, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_circle_and_a_curve, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(spots, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_has_no_shape_says_why, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_common_error_cancels, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
