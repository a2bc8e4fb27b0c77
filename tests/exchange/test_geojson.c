/* GeoJSON against RFC 7946 (tests/exchange/geojson_check.py: closed rings, right-hand rule, longitude first, no crs
 * member) and GDAL, an open library, which must open it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static char *written(const mst_handover *h) {
    const char *path = file_named("t.geojson");
    mst_error error = {0};
    if (mst_write_geojson(h, path, &error)) fail_msg("%s", error.sentence);
    return script("geojson_check.py", path);
}
static void a_local_site_says_so(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    char *list = written(&h), *text = contents(file_named("t.geojson"), NULL);
    assert_non_null(strstr(text, "\"frame\":\"local plane, metres\""));
    assert_non_null(strstr(list, "Point control \"C1\" 412340.678 5623451.789 100.0"));
    assert_non_null(strstr(list, "Polygon area \"terrace\" 412345.678 5623456.789"));
    assert_non_null(strstr(list, "LineString line \"kerb \\\"A\\\" & <B>\""));
    assert_non_null(strstr(list, "Point spot \"tree\""));
    assert_null(strstr(list, "lost"));
    assert_false(mst_handover_is_geographic(&h));
    const char **notes;
    size_t count;
    assert_int_equal(mst_handover_notes(&h, MST_FORMAT_GEOJSON, arena, &notes, &count, NULL), MST_OK);
    const char *all = "";
    for (size_t i = 0; i < count; i++) all = mst_arena_printf(arena, "%s%s\n", all, notes[i]);
    assert_non_null(strstr(all, "eastings and northings in metres"));
    assert_non_null(strstr(all, "Points without a place are left out: high."));
    assert_non_null(strstr(all, "Feature lost is left out"));
}
static void areas_and_intervals_are_properties(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    written(&h);
    char *text = contents(file_named("t.geojson"), NULL), *at = strstr(text, "\"name\":\"terrace\"");
    assert_non_null(at);
    assert_non_null(strstr(at, "\"area_m2\":"));
    assert_non_null(strstr(at, "\"area_interval_m2\":["));
    assert_non_null(strstr(at, "\"length_m\":"));
}
/* A gnss visit gives the frame: the site is its plane turned by 30 degrees and shifted, so both must be taken back. */
static void a_site_with_an_origin_is_on_the_earth(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_setting settings[] = {{"units", "metric"}, {"origin.latitude", "52.5"}, {"origin.longitude", "-1.25"}};
    mst_page gnss = {.kind = MST_PAGE_GNSS, .name = "rover.csv", .visit = "rover"};
    mst_visit_frame frame = {.visit = "rover",
                             .shift_e_m = E0,
                             .shift_n_m = N0,
                             .turn_rad = MST_PI / 6,
                             .sd_turn_rad = 0.001,
                             .determined = true};
    mst_site site = *h.site;
    mst_adjustment adjustment = *h.adjustment;
    site.settings = settings, site.setting_count = 3, site.pages = &gnss, site.page_count = 1;
    adjustment.frames = &frame, adjustment.frame_count = 1;
    h.site = &site, h.adjustment = &adjustment;
    assert_true(mst_handover_is_geographic(&h));
    char *list = written(&h);
    double longitude, latitude;
    const char *a = strstr(list, "Point point \"a\"");
    assert_int_equal(sscanf(a, "Point point \"a\" %lf %lf", &longitude, &latitude),
                     2); /* a lies on the frame's shift: the origin */
    near(longitude, -1.25, 1e-9);
    near(latitude, 52.5, 1e-9);
    /* d lies 12 m north of it on site; the plane's north is turned clockwise onto the site's, so d bears -30 degrees
     * there */
    a = strstr(list, "Point point \"d\"");
    assert_int_equal(sscanf(a, "Point point \"d\" %lf %lf", &longitude, &latitude), 2);
    double n = 6378137 * (1 - 0.00669437999014) / pow(1 - 0.00669437999014 * pow(sin(52.5 * MST_PI / 180), 2), 1.5);
    double e = 6378137 / sqrt(1 - 0.00669437999014 * pow(sin(52.5 * MST_PI / 180), 2)) * cos(52.5 * MST_PI / 180);
    near((latitude - 52.5) * MST_PI / 180 * n, 12 * cos(MST_PI / 6), 1e-3);
    near((longitude + 1.25) * MST_PI / 180 * e, -12 * sin(MST_PI / 6), 1e-3);
    frame.determined = false;
    assert_false(mst_handover_is_geographic(&h));
}
static void names_with_controls_and_quotes(void **state) {
    (void)state;
    const known odd[] = {{"a\"b\\c\td\x01", "<&>", 1, 2, 3, 0.01, false}};
    mst_handover h = {.adjustment = control_of(odd, 1, arena)};
    char *list = written(&h);
    assert_non_null(strstr(list, "\"a\\\"b\\\\c\\td\\u0001\""));
}
static void contours_close_when_they_do(void **state) {
    (void)state;
    static const double ring[][2] = {{0, 0}, {1, 0}, {1, 1}};
    const mst_contour contours[] = {{10.5, true, true, ring, 3}, {10.6, false, false, ring, 3}};
    mst_handover h = {.contours = contours, .contour_count = 2};
    assert_non_null(strstr(written(&h), "GDAL 2"));
    char *text = contents(file_named("t.geojson"), NULL);
    assert_non_null(strstr(
        text, "[[0.0000,0.0000,10.5000],[1.0000,0.0000,10.5000],[1.0000,1.0000,10.5000],[0.0000,0.0000,10.5000]]"));
    assert_non_null(strstr(text, "[[0.0000,0.0000,10.6000],[1.0000,0.0000,10.6000],[1.0000,1.0000,10.6000]]"));
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(a_local_site_says_so), TEST(areas_and_intervals_are_properties),
                                       TEST(a_site_with_an_origin_is_on_the_earth),
                                       TEST(names_with_controls_and_quotes), TEST(contours_close_when_they_do)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
