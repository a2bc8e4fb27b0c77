/* A real survey from four stations, 243 sights, and the places that the instrument worked out itself
 * (tests/data/total-station-survey/SOURCE.md: OSGeoLabBp, CC0). The source says that orientations found from the seven
 * sights between stations move points by up to 5 mm beside the instrument's own; sums are rounded to 1 mm. */
#include "../survey/site_from_text.h"

static char *file_text(const char *path) {
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    fseek(file, 0, SEEK_END);
    long size = ftell(file);
    rewind(file);
    char *text = mst_arena_alloc(arena, (size_t)size + 1);
    assert_int_equal(fread(text, 1, (size_t)size, file), size);
    fclose(file);
    return text;
}

/* Every point within so much in each axis; @return the largest difference */
static double compare(const mst_adjustment *a, double within_m) {
    mst_page expected;
    char *text = file_text(TEST_DATA "/total-station-survey/expected_points.csv");
    assert_int_equal(
        mst_page_read(MST_PAGE_POINTS, "expected_points.csv", text, strlen(text), NULL, arena, &expected, &error),
        MST_OK);
    assert_int_equal(expected.row_count, 236);
    double worst = 0;
    for (size_t i = 0; i < expected.row_count; i++) {
        const mst_row *row = &expected.rows[i];
        const mst_adjusted_point *p = point_of(a, row->text[MST_POINTS_POINT]);
        double off[] = {p->easting_m - row->value[MST_POINTS_EASTING], p->northing_m - row->value[MST_POINTS_NORTHING],
                        p->elevation_m - row->value[MST_POINTS_ELEVATION]};
        for (int k = 0; k < 3; k++) {
            worst = fmax(worst, fabs(off[k]));
            NEAR(off[k], 0, within_m);
        }
        assert_true(p->sd_easting_m > 0 && p->sd_northing_m > 0 && p->sd_elevation_m > 0);
    }
    return worst;
}

static mst_site *survey(void) {
    const text_page pages[] = {
        {MST_PAGE_CONTROL, "control.csv", "1", file_text(TEST_DATA "/total-station-survey/control.csv")},
        {MST_PAGE_ANGLES, "angles.csv", "1", file_text(TEST_DATA "/total-station-survey/angles.csv")}};
    return site_of(pages, 2);
}

static void every_point_lies_where_the_instrument_put_it(void **state) {
    (void)state;
    mst_adjustment *a = adjusted_site(survey());
    print_message("largest difference %.1f mm\n", compare(a, 0.008) * 1000);
    assert_int_equal(a->undetermined_count, 0);
    assert_int_equal(a->left_out_count, 0);
}

/* The file's own checks: S4-S1 is booked 63 mm longer than the stations lie apart. */
static void the_worst_sight_between_stations_is_named(void **state) {
    (void)state;
    mst_adjustment *a = adjusted_site(survey());
    assert_true(a->suspect_count >= 1 && !a->global_test.passed);
    const mst_observation_result *o = &a->observations[a->suspects[0].observation];
    assert_int_equal(o->row, 170);
    assert_string_equal(o->kind, "slope distance");
    NEAR(a->suspects[0].estimated_error, 0.0633, 5e-4);
    assert_true(a->suspects[0].alone);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_point_lies_where_the_instrument_put_it, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_worst_sight_between_stations_is_named, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
