/* Points out and in again: CSV in the program's own page form (RFC 4180), GPX 1.1 for a hand-held receiver. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static void csv_comes_back_to_a_tenth_of_a_millimetre(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    const char *path = file_named("points.csv");
    mst_error error = {0};
    if (mst_write_points_csv(&h, path, &error)) fail_msg("%s", error.sentence);
    size_t length;
    char *text = contents(path, &length);
    mst_page page;
    if (mst_page_read(MST_PAGE_POINTS, "points.csv", text, length, NULL, arena, &page, &error))
        fail_msg("%s", error.sentence);
    assert_int_equal(page.row_count, POINT_COUNT - 1); /* the one without a place is left out */
    for (size_t i = 0; i < page.row_count; i++) {
        const mst_row *row = &page.rows[i];
        const mst_adjusted_point *p = mst_adjustment_point(h.adjustment, row->text[MST_POINTS_POINT]);
        assert_non_null(p);
        near(row->value[MST_POINTS_EASTING], p->easting_m, 5.1e-5);
        near(row->value[MST_POINTS_NORTHING], p->northing_m, 5.1e-5);
        assert_string_equal(row->text[MST_POINTS_CODE], p->code);
        assert_true(p->has_height ? fabs(row->value[MST_POINTS_ELEVATION] - p->elevation_m) <= 5.1e-5
                                  : isnan(row->value[MST_POINTS_ELEVATION]));
        near(row->value[MST_POINTS_SD_PLAN], p->held_plan ? 0.0001 : p->semi_major_m, 5.1e-5);
    }
    const char **notes;
    size_t count;
    assert_int_equal(mst_handover_notes(&h, MST_FORMAT_CSV, arena, &notes, &count, NULL), MST_OK);
    assert_int_equal(count, 1);
}
static void csv_quotes_what_must_be(void **state) {
    (void)state;
    const known odd[] = {{"a,b", "say \"x\"", -0.00001, 2, 3, 0.01, false}};
    mst_handover h = {.adjustment = control_of(odd, 1, arena)};
    assert_int_equal(mst_write_points_csv(&h, file_named("p.csv"), NULL), MST_OK);
    assert_non_null(strstr(contents(file_named("p.csv"), NULL),
                           "\r\n\"a,b\",0.0000,2.0000,3.0000,\"say \"\"x\"\"\",0.0100,0.0100\r\n"));
    mst_handover none = {0};
    assert_int_equal(mst_write_points_csv(&none, file_named("p.csv"), NULL), MST_TOO_FEW);
}
static void gpx_needs_the_earth(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_error error = {0};
    assert_int_equal(mst_write_gpx(&h, file_named("t.gpx"), &error), MST_NO);
    assert_non_null(strstr(error.sentence, "where on the earth"));
    assert_int_not_equal(access(file_named("t.gpx"), F_OK), 0);
}
static void gpx_is_valid(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    /* the first gnss reading that counts is the origin, and the site's frame is its plane */
    mst_row rows[2] = {{.set_aside = "bad fix"}, {0}};
    rows[0].value[MST_GNSS_LATITUDE] = 0.1, rows[1].value[MST_GNSS_LATITUDE] = 0.9,
    rows[1].value[MST_GNSS_LONGITUDE] = -0.02, rows[1].value[MST_GNSS_HEIGHT] = 120;
    mst_page gnss = {.kind = MST_PAGE_GNSS, .name = "rover.csv", .visit = "rover", .rows = rows, .row_count = 2};
    mst_visit_frame frame = {.visit = "rover", .shift_e_m = E0, .shift_n_m = N0, .determined = true};
    mst_site site = *h.site;
    mst_adjustment adjustment = *h.adjustment;
    site.pages = &gnss, site.page_count = 1;
    adjustment.frames = &frame, adjustment.frame_count = 1;
    h.site = &site, h.adjustment = &adjustment;
    mst_error error = {0};
    if (mst_write_gpx(&h, file_named("t.gpx"), &error)) fail_msg("%s", error.sentence);
    char *list = script("gpx_check.py", file_named("t.gpx"));
    double latitude, longitude;
    assert_int_equal(sscanf(strstr(list, "wpt a "), "wpt a %lf %lf", &latitude, &longitude), 2);
    near(latitude, 0.9 * 180 / MST_PI, 1e-9);
    near(longitude, -0.02 * 180 / MST_PI, 1e-9);
    assert_non_null(strstr(list, "trk kerb \"A\" & <B> 3"));
    assert_non_null(strstr(list, "GDAL 15"));
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(csv_comes_back_to_a_tenth_of_a_millimetre), TEST(csv_quotes_what_must_be),
                                       TEST(gpx_needs_the_earth), TEST(gpx_is_valid)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
