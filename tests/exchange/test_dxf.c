/* DXF: a strict lint (tests/exchange/dxf_lint.py), a clean audit and reading back with ezdxf, an open library. Group
 * codes and bulges: DXF reference and the open library's documentation; layer words: the open layer naming guideline.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/dxf.h"
#include "exchange/sample_helper.c"

static char *written(const mst_handover *h) {
    const char *path = file_named("t.dxf");
    mst_error error = {0};
    if (mst_write_dxf(h, path, &error)) fail_msg("%s", error.sentence);
    assert_non_null(strstr(script("dxf_lint.py", path), "OK"));
    return script("dxf_list.py", path);
}

static void arcs_come_back_as_arcs(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    char *list = written(&h);
    double e, n, r;
    size_t arcs = count_of(list, "ARC V-AREA-PAVE-E"); /* the arc's middle point may stay a vertex, and so give two */
    assert_true(arcs == 1 || arcs == 2);
    for (const char *at = strstr(list, "ARC V-AREA-PAVE-E"); at; at = strstr(at + 1, "ARC V-AREA-PAVE-E")) {
        assert_int_equal(sscanf(at, "ARC V-AREA-PAVE-E %lf %lf %lf", &e, &n, &r), 3);
        near(e, E0 + 10, 2e-9); /* the northing's last bit is 1e-9 m */
        near(n, N0 + 4, 2e-9);
        near(r, 4, 2e-9);
    }
    assert_non_null(strstr(list, "INSUNITS 6"));
}
/* Near the origin nothing is lost in the grid's digits: 1e-9 and better. */
static void bulges_keep_every_digit(void **state) {
    (void)state;
    for (int i = 1; i < 40; i++) {
        double sweep = (i % 2 ? 1 : -1) * i * 0.15, radius = 0.3 + i * 1.7, bulge = tan(sweep / 4);
        mst_path_vertex v[] = {{radius, 0, NAN, bulge}, {radius * cos(sweep), radius * sin(sweep), NAN, 0}};
        mst_dxf dxf;
        mst_text out = {0};
        mst_dxf_start(&dxf, arena, false);
        mst_dxf_polyline(&dxf, mst_dxf_layer_of(&dxf, "V-LINE-KERB-E", 7, -3), &(mst_path){v, 2, false}, 3.25);
        mst_dxf_finish(&dxf, &out);
        const char *path = file_named("arc.dxf");
        FILE *f = fopen(path, "wb");
        assert_int_equal(fwrite(out.data, 1, out.length, f), out.length);
        fclose(f);
        mst_text_free(&out);
        char *list = script("dxf_list.py", path);
        double e, n, r;
        assert_int_equal(sscanf(strstr(list, "ARC"), "ARC V-LINE-KERB-E %lf %lf %lf", &e, &n, &r), 3);
        near(e, 0, 1e-9);
        near(n, 0, 1e-9);
        near(r, radius, 1e-9);
        assert_non_null(strstr(list, "open 2 3.25"));
        i += 6;
    }
}
static void levels_decide_what_kind_of_line(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    char *list = written(&h);
    assert_non_null(strstr(list, "POLYLINE V-TOPO-BRKL-E open AcDb3dPolyline 3 99.5 99.6 99.7"));
    assert_int_equal(count_of(list, "AcDb3dPolyline"), 1);
    assert_non_null(strstr(list, "LWPOLYLINE V-LINE-PATH-E open 2 99.8"));
    assert_int_equal(count_of(list, "LWPOLYLINE V-AREA-PAVE-E closed"), 2); /* the outline and the pond */
    assert_non_null(strstr(list, "LWPOLYLINE V-LINE-KERB-E open 3"));
}
static void points_carry_name_level_and_code_on_layers(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    char *list = written(&h);
    assert_int_equal(count_of(list, "POINT V-CTRL-PNTS-E"), 1);
    assert_int_equal(count_of(list, "POINT V-NODE-PNTS-E"), 6);
    assert_int_equal(count_of(list, "POINT V-NODE-PLAN-E"), 8);
    assert_non_null(strstr(list, "TEXT V-NODE-NAME-E k1\n"));
    assert_non_null(strstr(list, "TEXT V-NODE-LEVL-E 99.500\n"));
    assert_non_null(strstr(list, "TEXT V-NODE-CODE-E KERB\n"));
    assert_non_null(strstr(list, "POINT V-SPOT-TREE_O-E"));
    assert_null(strstr(list, "high"));
}
/* The code page's own characters as bytes, others as \U+ with four digits, control codes of the format made harmless.
 */
static void text_in_code_page_1252(void **state) {
    (void)state;
    mst_text out = {0};
    mst_dxf_cp1252(&out, "\xC3\x98 \xE2\x82\xAC \xCE\xB1 \xF0\x9F\x8C\xB3 ^ 50%%c 5% a\nb");
    assert_string_equal(out.data, "\xD8 \x80 \\U+03B1 ? ^  50%%%%%%c 5% a b");
    mst_text_free(&out);
}
static void feet_where_the_site_is_in_feet(void **state) {
    (void)state;
    mst_handover h = sample("imperial");
    char *list = written(&h);
    assert_non_null(strstr(list, "INSUNITS 2"));
    double e, n, z;
    assert_int_equal(sscanf(strstr(list, "POINT V-CTRL-PNTS-E"), "POINT V-CTRL-PNTS-E %lf %lf %lf", &e, &n, &z), 3);
    near(e * 0.3048, E0 - 5, 1e-8);
    near(n * 0.3048, N0 - 5, 1e-8);
    near(z * 0.3048, 100, 1e-12);
}
static void ground_contours_and_stakes(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    static const double ring[][2] = {{E0, N0}, {E0 + 1, N0}, {E0 + 1, N0 + 1}}, line[][2] = {{E0, N0}, {E0 + 1, N0}};
    const mst_contour contours[] = {{10.5, true, true, ring, 3}, {10.6, false, false, line, 2}};
    mst_setout_line lines[] = {
        {.stake = "S1", .code = "corner", .easting_m = E0, .northing_m = N0, .elevation_m = 99.123},
        {.stake = "S2", .code = "", .easting_m = E0 + 1, .northing_m = N0, .elevation_m = NAN}};
    mst_setout_sheet sheet = {.lines = lines, .count = 2};
    h.contours = contours;
    h.contour_count = 2;
    h.ground = small_ground();
    h.setout = &sheet;
    char *list = written(&h);
    size_t triangles;
    mst_ground_triangles(h.ground, &triangles);
    assert_int_equal(count_of(list, "3DFACE V-TOPO-TINN-E"), triangles);
    assert_non_null(strstr(list, "LWPOLYLINE V-TOPO-MAJR-E closed 3 10.5"));
    assert_non_null(strstr(list, "LWPOLYLINE V-TOPO-MINR-E open 2 10.6"));
    assert_int_equal(count_of(list, "POINT C-STKE-PNTS-N"), 2);
    assert_non_null(strstr(list, "TEXT C-STKE-LEVL-N 99.123"));
}
static void an_empty_site_is_still_a_file(void **state) {
    (void)state;
    mst_handover nothing = {0};
    assert_int_equal(count_of(written(&nothing), "\n"), 1);
}
static void same_bytes_for_the_same_site(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    size_t a, b;
    assert_int_equal(mst_write_dxf(&h, file_named("a.dxf"), NULL), MST_OK);
    assert_int_equal(mst_write_dxf(&h, file_named("b.dxf"), NULL), MST_OK);
    char *first = contents(file_named("a.dxf"), &a), *second = contents(file_named("b.dxf"), &b);
    assert_int_equal(a, b);
    assert_memory_equal(first, second, a);
}
static void a_folder_that_is_not_there(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_error error = {0};
    assert_int_equal(mst_write_dxf(&h, file_named("none/t.dxf"), &error), MST_IO);
    assert_int_equal(mst_write_dxf(&h, folder, &error), MST_INVALID);
}
int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(arcs_come_back_as_arcs),          TEST(bulges_keep_every_digit),
        TEST(levels_decide_what_kind_of_line), TEST(points_carry_name_level_and_code_on_layers),
        TEST(text_in_code_page_1252),          TEST(feet_where_the_site_is_in_feet),
        TEST(ground_contours_and_stakes),      TEST(an_empty_site_is_still_a_file),
        TEST(same_bytes_for_the_same_site),    TEST(a_folder_that_is_not_there)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
