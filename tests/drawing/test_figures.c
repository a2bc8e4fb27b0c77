/* Figures on sheets, sheet sizes and scales.
 * Sources: T14-I and 14-sheets.csv of the shared reference page 14 (ISO 216, ISO 5455, ISO 5457: from memory there);
 * decimals of levels in feet after the trade page on drawings (0.1 ft ground, 0.01 ft structures and paving). */
#include "drawing/figures.h"
#include "drawing/paper.h"
#include "drawing/style.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static void says(const char *written, const char *expected) { assert_string_equal(written, expected); }

static void sheets_are_those_of_the_standard(void **state) {
    (void)state;
    static const struct {
        const char *name;
        double w, h, frame_w, frame_h;
    } iso[] = {{"A0", 1189, 841, 1159, 821},
               {"A1", 841, 594, 811, 574},
               {"A2", 594, 420, 564, 400},
               {"A3", 420, 297, 390, 277},
               {"A4", 297, 210, 267, 190}};
    for (size_t i = 0; i < 5; i++) {
        const mst_paper *p = mst_paper_named(iso[i].name);
        mst_rect frame = mst_paper_frame(p, false);
        assert_true(mst_paper_width(p, false) == iso[i].w && mst_paper_height(p, false) == iso[i].h);
        assert_true(frame.w == iso[i].frame_w && frame.h == iso[i].frame_h && frame.x == 20 && frame.y == 10);
    }
    mst_rect upright = mst_paper_frame(mst_paper_named("a4"), true); /* ISO 5457: A4 upright has 180 x 277 */
    assert_true(upright.w == 180 && upright.h == 277);
    assert_true(fabs(mst_paper_width(mst_paper_named("Tabloid"), false) - 17 * 25.4) < 1e-9);
    assert_null(mst_paper_named("A7"));
    assert_null(mst_paper_named("A33"));
    assert_ptr_equal(mst_paper_named(NULL), mst_paper_named("A3"));
}

static bool among(double scale, bool imperial) {
    size_t count;
    const double *scales = mst_scales(imperial, &count);
    for (size_t i = 0; i < count; i++)
        if (scales[i] == scale) return true;
    return false;
}

static void scales_are_the_usual_ones_and_grow(void **state) {
    (void)state;
    static const double iso5455[] = {5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000}; /* ISO 5455 reductions */
    for (size_t i = 0; i < sizeof iso5455 / sizeof *iso5455; i++) assert_true(among(iso5455[i], false));
    assert_true(among(125, false) && among(250, false));                             /* common practice, no source */
    for (int feet = 10; feet <= 50; feet += 10) assert_true(among(12 * feet, true)); /* 1 in = 10 ... 50 ft */
    for (int imperial = 0; imperial < 2; imperial++) {
        size_t count;
        const double *scales = mst_scales(imperial, &count);
        for (size_t i = 1; i < count; i++) assert_true(scales[i] > scales[i - 1]);
    }
}

static void scales_in_words(void **state) {
    (void)state;
    char out[MST_FIGURE_SIZE];
    mst_write_scale(200, false, out), says(out, "1:200");
    mst_write_scale(240, true, out), says(out, "1 in = 20 ft (1:240)"); /* T14-I: 1 inch = 20 ft is 1:240 */
    mst_write_scale(48, true, out), says(out, "1/4 in = 1 ft (1:48)");  /* T14-I */
    mst_write_scale(96, true, out), says(out, "1/8 in = 1 ft (1:96)");  /* T14-I */
    mst_write_scale(125, true, out), says(out, "1:125");
}

static void levels_are_no_finer_than_the_survey(void **state) {
    (void)state;
    char out[MST_FIGURE_SIZE];
    assert_int_equal(mst_level_decimals(0.006, false, false), 2);
    assert_int_equal(mst_level_decimals(0.004, true, false), 3);
    assert_int_equal(mst_level_decimals(0.006, true, false), 2);
    assert_int_equal(mst_level_decimals(0.08, true, false), 1);
    assert_int_equal(mst_level_decimals(NAN, false, false), 2);
    assert_int_equal(mst_level_decimals(0.004, false, true), 1);
    assert_int_equal(mst_level_decimals(0.004, true, true), 2);
    mst_write_level(-0.0004, 2, false, out), says(out, "0.00");
    mst_write_level(99.416, 2, false, out), says(out, "99.42");
    mst_write_level(30.48, 1, true, out), says(out, "100.0'"); /* 30.48 m = 100 ft exactly */
}

static void lengths_areas_falls(void **state) {
    (void)state;
    char out[MST_FIGURE_SIZE];
    mst_write_length(3.81, 2, true, out), says(out, "12'-6\""); /* the trade page's own example, 150 in */
    mst_write_length(12.3456, 2, false, out), says(out, "12.35");
    mst_write_area(92.90304, true, out), says(out, "1000 ft\xC2\xB2"); /* 1 ft2 = 0.09290304 m2, exact */
    mst_write_area(48.21, false, out), says(out, "48.2 m\xC2\xB2");
    mst_write_volume(0.764554857984 * 10, true, out), says(out, "10.0 yd\xC2\xB3"); /* 1 yd3, exact */
    mst_write_fall(1.0 / 60, out), says(out, "1:60");
    mst_write_fall(-1.0 / 2.5, out), says(out, "1:2.5");
    mst_write_fall(0, out), says(out, "level");
}

static void styles_follow_the_words_of_a_code(void **state) {
    (void)state;
    const mst_style *fence = mst_style_for("Timber FENCE 1.8", MST_FEATURE_LINE, MST_ROLE_DEFAULT);
    says(fence->legend, "fence");
    says(mst_style_for("house", MST_FEATURE_AREA, MST_ROLE_HOLE)->legend, "building");
    says(mst_style_for("water main", MST_FEATURE_LINE, MST_ROLE_DEFAULT)->letter, "W");
    says(mst_style_for("water", MST_FEATURE_AREA, MST_ROLE_DEFAULT)->legend, "water");
    says(mst_style_for("x", MST_FEATURE_LINE, MST_ROLE_BREAKLINE)->legend, "change of slope");
    says(mst_style_for("", MST_FEATURE_AREA, MST_ROLE_DEFAULT)->legend, "other area");
    says(mst_style_for(NULL, MST_FEATURE_SPOT, MST_ROLE_DEFAULT)->legend, "other detail");
    assert_true(mst_style_for("paving", MST_FEATURE_AREA, MST_ROLE_DEFAULT)->hard);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(sheets_are_those_of_the_standard),
                                       cmocka_unit_test(scales_are_the_usual_ones_and_grow),
                                       cmocka_unit_test(scales_in_words),
                                       cmocka_unit_test(levels_are_no_finer_than_the_survey),
                                       cmocka_unit_test(lengths_areas_falls),
                                       cmocka_unit_test(styles_follow_the_words_of_a_code)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
