/* A levelling network of four points with its published adjustment (tests/data/network-levelling/SOURCE.md: public
 * tutorials of OSGeoLabBp, CC0). The source takes 0.7 mm a kilometre in proportion to the length, so each sd is given.
 * Tolerances: half of the last printed digit. */
#include "../survey/site_from_text.h"

static mst_adjustment *adjusted(void) {
    static const double KM[] = {1.1, 1.8, 1.4, 1.5, 1.9, 0.9};
    FILE *file = fopen(TEST_DATA "/network-levelling/level_observations.csv", "r");
    assert_non_null(file);
    mst_text text = {0};
    mst_text_string(&text, "from,to,difference (m),sd (mm)\n");
    char line[200];
    assert_non_null(fgets(line, sizeof line, file));
    for (int i = 0; fgets(line, sizeof line, file); i++) {
        char from[10], to[10];
        double difference, km;
        assert_int_equal(sscanf(line, "%9[^,],%9[^,],%lf,%lf", from, to, &difference, &km), 4);
        assert_true(km == KM[i]);
        mst_text_printf(&text, "%s,%s,%.4f,%.3f\n", from, to, difference, 0.7 * km);
    }
    fclose(file);
    const text_page pages[] = {{MST_PAGE_HEIGHTS, "heights.csv", "1", text.data},
                               {MST_PAGE_CONTROL, "control.csv", "1", "point,elevation (m)\n4,101.345\n"}};
    mst_adjustment *out = adjusted_site(site_of(pages, 2));
    mst_text_free(&text);
    return out;
}

static void heights_and_their_sd(void **state) {
    (void)state;
    mst_adjustment *a = adjusted();
    static const struct {
        const char *name;
        double height, sd_mm;
    } PRINTED[] = {{"1", 104.2350, 1.13}, {"2", 103.4868, 1.19}, {"3", 102.9588, 0.91}, {"4", 101.3450, 0}};
    for (int i = 0; i < 4; i++) {
        const mst_adjusted_point *p = point_of(a, PRINTED[i].name);
        NEAR(p->elevation_m, PRINTED[i].height, 5e-5);
        NEAR(p->sd_elevation_m * 1000, PRINTED[i].sd_mm, 5e-3);
        assert_true(p->has_height && !p->has_plan && isnan(p->easting_m) && p->held_height == (i == 3));
    }
    assert_int_equal(a->degrees_of_freedom, 3);
    NEAR(a->sigma0, 1.6550, 5e-5);
    NEAR(a->global_test.statistic, 8.217, 5e-4);
    assert_true(a->global_test.passed);
    NEAR(a->global_test.upper, 9.3484, 5e-5);
}

static void residuals_redundancies_and_tests(void **state) {
    (void)state;
    mst_adjustment *a = adjusted();
    /* correction mm, sd of the adjusted difference mm, t, normal, redundancy */
    static const double PRINTED[6][5] = {{0.81, 1.06, 1.1, 1.9, 0.3},  {-2.18, 1.17, 1.3, 2.1, 0.7},
                                         {0.00, 1.13, 0.0, 0.0, 0.5},  {2.01, 1.17, 1.6, 2.6, 0.5},
                                         {-0.81, 1.19, 0.4, 0.7, 0.7}, {0.18, 0.91, 0.4, 0.6, 0.2}};
    assert_int_equal(a->observation_count, 6);
    for (int i = 0; i < 6; i++) {
        const mst_observation_result *o = &a->observations[i];
        NEAR(o->residual * 1000, PRINTED[i][0], 5.1e-3);
        NEAR(a->sigma0 * o->sd * sqrt(1 - o->redundancy) * 1000, PRINTED[i][1], 5.1e-3);
        NEAR(fabs(o->standardized) / a->sigma0, PRINTED[i][2], 0.051);
        NEAR(fabs(o->standardized), PRINTED[i][3], 0.051);
        NEAR(o->redundancy, PRINTED[i][4], 0.051);
        NEAR(o->adjusted - o->observed, o->residual, 1e-12);
    }
    assert_int_equal(a->suspect_count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(heights_and_their_sd, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(residuals_redundancies_and_tests, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
