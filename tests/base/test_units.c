/* Lengths and angles as people type them. Values: ../shared/references page 13 (definitions of the units) and the
 * worked slips of the trade notes: 5'11" typed as 5.11 ft is 246 mm wrong. */
#include "merestone/base.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static double length_of(const char *text, mst_unit unit) {
    double v;
    mst_error error = {0};
    assert_int_equal(mst_quantity_read(text, unit, &v, &error), MST_OK);
    return v;
}
static void refused(const char *text, mst_unit unit) {
    double v = -7;
    mst_error error = {0};
    assert_int_equal(mst_quantity_read(text, unit, &v, &error), MST_INVALID);
    assert_true(v == -7);
    assert_true(strlen(error.sentence) > 10);
}
static void near(double a, double b, double by) { assert_true(fabs(a - b) <= by); }

static void lengths_in_every_unit(void **state) {
    (void)state;
    near(length_of("12.5", MST_UNIT_M), 12.5, 0);
    near(length_of("12500", MST_UNIT_MM), 12.5, 1e-15);
    near(length_of("1", MST_UNIT_FT), 0.3048, 0);
    near(length_of("3937", MST_UNIT_FTUS), 1200, 1e-9);
    near(length_of("12'-6 1/2\"", MST_UNIT_FTIN), 150.5 * 0.0254, 1e-12);
    near(length_of("12'", MST_UNIT_FTIN), 12 * 0.3048, 1e-12);
    near(length_of("6 1/2\"", MST_UNIT_FTIN), 6.5 * 0.0254, 1e-12);
    near(length_of("-1'-0\"", MST_UNIT_FTIN), -0.3048, 1e-12);
    near(length_of("12'-6\xC2\xBD\"", MST_UNIT_FTIN), 150.5 * 0.0254, 1e-12); /* one sign for the half */
    near(length_of("\xC2\xBE\"", MST_UNIT_FTIN), 0.75 * 0.0254, 1e-12);
    near(length_of("5'-11 \xE2\x85\x9B\"", MST_UNIT_FTIN), 71.125 * 0.0254, 1e-12);
    near(length_of("+1'-0\"", MST_UNIT_FTIN), 0.3048, 1e-12);
    near(length_of("\xE2\x88\x92"
                   "12.5",
                   MST_UNIT_M),
         -12.5, 0); /* U+2212 */
    near(length_of("5' 11\"", MST_UNIT_FTIN) - length_of("5.11", MST_UNIT_FT), 0.246, 5e-4);
}
static void slips_are_refused(void **state) {
    (void)state;
    refused("5'-12\"", MST_UNIT_FTIN);
    refused("5.5\xC2\xBD\"", MST_UNIT_FTIN);
    refused("\xE2\x88\x92-5", MST_UNIT_M);
    refused("+-5", MST_UNIT_M);
    refused("12.5", MST_UNIT_FTIN);
    near(length_of("0", MST_UNIT_FTIN), 0, 0); /* a zero needs no marks */
    refused("5'-11", MST_UNIT_FTIN);
    refused("nan", MST_UNIT_M);
    refused("inf", MST_UNIT_M);
    refused("0x10", MST_UNIT_M);
    refused("1,5", MST_UNIT_M);
    refused("1e400", MST_UNIT_M);
    refused("12.5 m", MST_UNIT_M);
    refused("", MST_UNIT_M);
    refused("12-60-00", MST_UNIT_DMS);
    refused("12-30-60", MST_UNIT_DMS);
    refused("12.5-30", MST_UNIT_DMS);
    refused("123.4556", MST_UNIT_DMS); /* 123-45-56 as many instruments write it, or decimals: nobody can tell */
}
static void angles_in_every_unit(void **state) {
    (void)state;
    double degree = MST_PI / 180;
    near(length_of("123-45-56.7", MST_UNIT_DMS), (123 + 45 / 60.0 + 56.7 / 3600) * degree, 1e-12);
    near(length_of("123\xC2\xB0"
                   "45'56.7\"",
                   MST_UNIT_DMS),
         (123 + 45 / 60.0 + 56.7 / 3600) * degree, 1e-12);
    near(length_of("123-45", MST_UNIT_DMS), (123.75) * degree, 1e-12);
    near(length_of("+12-30-00", MST_UNIT_DMS), 12.5 * degree, 1e-12);
    near(length_of("\xE2\x88\x92"
                   "12-30-00",
                   MST_UNIT_DMS),
         -12.5 * degree, 1e-12);
    near(length_of("123\xC2\xBA"
                   "45'56.7\"",
                   MST_UNIT_DMS),
         (123 + 45 / 60.0 + 56.7 / 3600) * degree, 1e-12); /* the ordinal sign for the degree's */
    near(length_of("123", MST_UNIT_DMS), 123 * degree, 1e-12);
    near(length_of("100", MST_UNIT_GON), MST_PI / 2, 1e-15);
    near(length_of("90", MST_UNIT_DEG), MST_PI / 2, 1e-15);
}
static void written_back_as_read(void **state) {
    (void)state;
    char out[40];
    mst_feet_inches(1.25, out, sizeof out);
    assert_string_equal(out, "4'-1 1/4\"");
    mst_feet_inches(0.3047999, out, sizeof out);
    assert_string_equal(out, "1'-0\"");
    mst_angle_dms(MST_PI / 180 * (29 + 59 / 60.0 + 59.99 / 3600), 1, out, sizeof out);
    assert_string_equal(out, "30-00-00.0");
}
static void a_length_that_names_its_unit(void **state) {
    (void)state;
    double v;
    assert_int_equal(mst_length_read("1250mm", MST_UNIT_M, &v, NULL), MST_OK);
    near(v, 1.25, 1e-15);
    assert_int_equal(mst_length_read("4'-1 1/4\"", MST_UNIT_M, &v, NULL), MST_OK);
    near(v, 49.25 * 0.0254, 1e-12);
    assert_int_equal(mst_length_read("2 ft", MST_UNIT_M, &v, NULL), MST_OK);
    near(v, 0.6096, 1e-15);
    assert_int_equal(mst_length_read("2 yards", MST_UNIT_M, &v, NULL), MST_INVALID);
}
int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(lengths_in_every_unit), cmocka_unit_test(slips_are_refused),
                                       cmocka_unit_test(angles_in_every_unit), cmocka_unit_test(written_back_as_read),
                                       cmocka_unit_test(a_length_that_names_its_unit)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
