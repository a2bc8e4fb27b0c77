/* Propagation of uncertainty (../shared/references/11-uncertainty): T11-A JCGM 100 (GUM) H.2, means and uncertainties
 * read; T11-C GUM H.1, inputs read; T11-D and T11-F Ghilani, Adjustment Computations, from memory; T11-G JCGM 101 9.2,
 * from memory; T11-I JCGM 106 with own numbers; T11-K closed form. What the library itself carries is checked through
 * it (T11-D, F, K); the rest checks the distributions it stands on. */
#include "numeric/statistics.h"
#include "../survey/site_from_text.h"

static void correlated_means(void **state) { /* T11-A: R = V/I cos phi, X = V/I sin phi, Z = V/I */
    (void)state;
    static const double DATA[3][5] = {{5.007, 4.994, 5.005, 4.990, 4.999},
                                      {19.663, 19.639, 19.640, 19.685, 19.678},
                                      {1.0456, 1.0438, 1.0468, 1.0428, 1.0433}};
    double mean[3] = {0}, cov[3][3] = {{0}};
    for (int k = 0; k < 3; k++)
        for (int i = 0; i < 5; i++) mean[k] += DATA[k][i] / 5;
    for (int a = 0; a < 3; a++)
        for (int b = 0; b < 3; b++)
            for (int i = 0; i < 5; i++) cov[a][b] += (DATA[a][i] - mean[a]) * (DATA[b][i] - mean[b]) / 20;
    double v = mean[0], c = mean[1] / 1000, z = v / c, r = z * cos(mean[2]), x = z * sin(mean[2]);
    NEAR(r, 127.732, 6e-4);
    NEAR(x, 219.847, 6e-4);
    NEAR(z, 254.260, 6e-4);
    const double by[3][3] = {{r / v, -r / mean[1], -x}, {x / v, -x / mean[1], r}, {z / v, -z / mean[1], 0}};
    double out[3][3] = {{0}};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            for (int a = 0; a < 3; a++)
                for (int b = 0; b < 3; b++) out[i][j] += by[i][a] * cov[a][b] * by[j][b];
    NEAR(sqrt(out[0][0]), 0.071, 6e-4);
    NEAR(sqrt(out[1][1]), 0.295, 7e-4);
    NEAR(sqrt(out[2][2]), 0.236, 6e-4);
    NEAR(out[0][1] / sqrt(out[0][0] * out[1][1]), -0.588, 6e-4);
    NEAR(out[0][2] / sqrt(out[0][0] * out[2][2]), -0.485, 6e-4);
    NEAR(out[1][2] / sqrt(out[1][1] * out[2][2]), 0.993, 6e-4);
}

static void coverage_factor_from_effective_degrees_of_freedom(void **state) { /* T11-C */
    (void)state;
    double t = mst_student_quantile(0.995, 16);
    NEAR(t, 2.92, 0.005);
    NEAR(t * 32, 93, 0.6);
}

static mst_feature area_named(const char *const names[], size_t count, mst_vertex vertices[]) {
    for (size_t i = 0; i < count; i++) vertices[i] = (mst_vertex){.point = names[i], .edge = MST_EDGE_STRAIGHT};
    return (mst_feature){.name = "lot",
                         .code = "",
                         .kind = MST_FEATURE_AREA,
                         .page = "f.csv",
                         .vertices = vertices,
                         .vertex_count = count};
}

/* T11-D: a rectangular lot from its two sides, 252.46 +- 0.053 by 605.08 +- 0.072 ft at 95 %. The corner stays square
 * (sides at right angles by bearings that are held firm), so the area's error is that of the sides alone. */
static void the_area_of_a_lot(void **state) {
    (void)state;
    mst_text legs = {0};
    double u_a = 0.053 / 1.959964, u_b = 0.072 / 1.959964;
    mst_text_printf(
        &legs,
        "from,to,bearing (dms),distance (ft),sd (dms),sd distance (ft)\nP,Q,0-00-00,252.46,0-00-00.01,%.9f\n"
        "P,R,90-00-00,605.08,0-00-00.01,%.9f\n",
        u_a, u_b);
    mst_adjustment *a = ADJUSTED({MST_PAGE_BEARINGS, "b.csv", "1", legs.data});
    mst_text_free(&legs);
    mst_vertex v[3];
    const char *names[] = {"P", "Q", "R"};
    mst_feature half = area_named(names, 3, v); /* the triangle is half of the lot, and so is its error */
    mst_measure m;
    assert_int_equal(mst_feature_measure(&half, a, arena, &m, &error), MST_OK);
    double ft2 = MST_FOOT_M * MST_FOOT_M;
    NEAR(2 * m.area_m2.value / ft2, 152760, 5);
    NEAR(2 * (m.area_m2.high - m.area_m2.value) / ft2, 36.9, 0.05);
}

static void a_line_in_three_sections(void **state) { /* T11-F */
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_BEARINGS, "b.csv", "1",
         "from,to,bearing (dms),distance (ft),sd (dms),sd distance (ft)\n"
         "A,B,0-00-00,753.81,0-00-01,0.012\nB,C,0-00-00,1238.40,0-00-01,0.028\nC,D,0-00-00,1062.95,0-00-01,0.020\n"});
    NEAR(point_of(a, "D")->northing_m / MST_FOOT_M, 3055.16, 0.005);
    NEAR(point_of(a, "D")->sd_northing_m / MST_FOOT_M, 0.036, 0.0006);
}

static void sums_of_normal_and_rectangular_inputs(void **state) { /* T11-G */
    (void)state;
    NEAR(mst_normal_quantile(0.975) * 2, 3.92, 0.005);
    NEAR(2 * sqrt(3) * (2 - pow(3.0 / 5, 0.25)), 3.88, 0.005);
}

static void conformance_of_a_level(void **state) { /* T11-I: 8 mm off, 10 allowed, u = 1.2 mm */
    (void)state;
    NEAR(mst_normal_below((10 - 8) / 1.2) - mst_normal_below((-10 - 8) / 1.2), 0.9522, 1e-4);
    NEAR(mst_normal_below(1.645), 0.9500, 5e-5);
    NEAR(mst_normal_below(3), 0.99865, 5e-6);
}

static void area_of_a_polygon_with_equal_errors(void **state) { /* T11-K */
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_POINTS, "p.csv", "1",
                  "point,easting (m),northing (m),sd plan (m)\nA,0,0,0.01\nB,50,0,0.01\nC,50,40,0.01\nD,0,40,0.01\n"});
    mst_vertex v[4];
    const char *names[] = {"A", "B", "C", "D"};
    mst_feature lot = area_named(names, 4, v);
    mst_measure m;
    assert_int_equal(mst_feature_measure(&lot, a, arena, &m, &error), MST_OK);
    NEAR(m.area_m2.value, 2000, 1e-9);
    NEAR((m.area_m2.high - m.area_m2.value) / 1.959963985, 0.640312, 1e-6);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(correlated_means),
        cmocka_unit_test(coverage_factor_from_effective_degrees_of_freedom),
        cmocka_unit_test_setup_teardown(the_area_of_a_lot, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_line_in_three_sections, open_arena, close_arena),
        cmocka_unit_test(sums_of_normal_and_rectangular_inputs),
        cmocka_unit_test(conformance_of_a_level),
        cmocka_unit_test_setup_teardown(area_of_a_polygon_with_equal_errors, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
