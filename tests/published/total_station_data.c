/* A real survey from four stations, 243 sights, and the places that the instrument worked out itself
 * (tests/data/total-station-survey/SOURCE.md: OSGeoLabBp, CC0). The source says that orientations found from the seven
 * sights between stations move points by up to 5 mm beside the instrument's own; sums are rounded to 1 mm. */
#include "../survey/site_from_text.h"

static const double WITHIN_M = 0.008;

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

static void every_point_lies_where_the_instrument_put_it(void **state) {
    (void)state;
    const text_page pages[] = {
        {MST_PAGE_CONTROL, "control.csv", "1", file_text(TEST_DATA "/total-station-survey/control.csv"), false, NULL},
        {MST_PAGE_ANGLES, "angles.csv", "1", file_text(TEST_DATA "/total-station-survey/angles.csv"), false, NULL}};
    mst_adjustment *a = adjusted_site(site_of(pages, 2));
    mst_page expected;
    char *text = file_text(TEST_DATA "/total-station-survey/expected_points.csv");
    assert_int_equal(mst_page_read(MST_PAGE_POINTS, "expected_points.csv", text, strlen(text), NULL, arena, &expected, &error), MST_OK);
    assert_int_equal(expected.row_count, 236);
    double worst = 0;
    for (size_t i = 0; i < expected.row_count; i++) {
        const mst_row *row = &expected.rows[i];
        const mst_adjusted_point *p = point_of(a, row->text[MST_POINTS_POINT]);
        double off[] = {p->easting_m - row->value[MST_POINTS_EASTING], p->northing_m - row->value[MST_POINTS_NORTHING],
                        p->elevation_m - row->value[MST_POINTS_ELEVATION]};
        for (int k = 0; k < 3; k++) {
            worst = fmax(worst, fabs(off[k]));
            if (!(fabs(off[k]) <= WITHIN_M)) print_message("%s axis %d off %.4f\n", p->name, k, off[k]);
            assert_true(fabs(off[k]) <= WITHIN_M);
        }
        assert_true(p->sd_easting_m > 0 && p->sd_easting_m < 0.02 && p->sd_elevation_m < 0.02);
    }
    print_message("largest difference %.1f mm\n", worst * 1000);
    assert_int_equal(a->undetermined_count, 0);
    assert_int_equal(a->left_out_count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(every_point_lies_where_the_instrument_put_it, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
