/* The workbook: its formulas are worked out again by tests/exchange/xlsx_check.py and must come to what the bill says.
 */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static mst_bill bill(const char *currency) {
    static const mst_quantity q[] = {{"patio", "PAVE", "area", {23.4, 23.1, 23.7}},
                                     {"edge", "EDGE", "length", {12.345, 12.3, 12.4}},
                                     {"pad", "stone", "layer", {4.8, 4.7, 4.9}}};
    const mst_price_line p[] = {{"=1+1", "m2", "PAVE", "area", "pallet", NAN, NAN, 10, 8.64, 3250, 2},
                                {"edging", "m", "EDGE", "length", "", NAN, NAN, 5, NAN, 1212.5, 3},
                                {"stone", "t", "stone", "layer", "bag", NAN, 2.15, 5, 0.85, 3800, 4},
                                {"bed", "m2", "PAVE", "area", "", NAN, NAN, 0, NAN, NAN, 5}};
    mst_bill b;
    mst_error error = {0};
    if (mst_bill_of(q, 3, p, 4, currency, arena, &b, &error)) fail_msg("%s", error.sentence);
    return b;
}
static void formulas_come_to_what_the_bill_says(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_bill b = bill("EUR");
    h.bill = &b;
    mst_error error = {0};
    if (mst_write_xlsx(&h, file_named("t.xlsx"), &error)) fail_msg("%s", error.sentence);
    char *list = script("xlsx_check.py", file_named("t.xlsx"));
    assert_non_null(strstr(list, "sheets Takeoff Estimate Notes"));
    assert_non_null(strstr(
        list,
        "line =1+1 | 32.5 | 842.4")); /* a name that looks like a formula stays a name; 3 pallets x 8.64 x 32.50 */
    assert_non_null(strstr(list, "line edging | 12.125 | 157.17"));
    assert_non_null(strstr(list, "line bed | no rate | None"));
    char total[60];
    snprintf(total, sizeof total, "line Total EUR (not whole, see Notes) | None | %.2f", b.total_minor / 100);
    assert_non_null(strstr(list, total));
}
static void a_currency_without_cents(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_bill b = bill("JPY");
    h.bill = &b;
    assert_int_equal(mst_write_xlsx(&h, file_named("t.xlsx"), NULL), MST_OK);
    assert_non_null(strstr(script("xlsx_check.py", file_named("t.xlsx")), "line =1+1 | 3250.0 | 84240.0"));
}
static void same_bytes_for_the_same_bill(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    mst_bill b = bill("EUR");
    size_t first, second;
    h.bill = &b;
    assert_int_equal(mst_write_xlsx(&h, file_named("a.xlsx"), NULL), MST_OK);
    char *one = contents(file_named("a.xlsx"), &first);
    sleep(2); /* a zip keeps times to two seconds */
    assert_int_equal(mst_write_xlsx(&h, file_named("b.xlsx"), NULL), MST_OK);
    char *two = contents(file_named("b.xlsx"), &second);
    assert_int_equal(first, second);
    assert_memory_equal(one, two, first);
}
static void without_a_bill_or_a_folder(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    assert_int_equal(mst_write_xlsx(&h, file_named("t.xlsx"), NULL), MST_TOO_FEW);
    mst_bill b = bill("EUR");
    h.bill = &b;
    assert_int_equal(mst_write_xlsx(&h, file_named("none/t.xlsx"), NULL), MST_IO);
    assert_int_not_equal(access(file_named("t.xlsx"), F_OK), 0);
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(formulas_come_to_what_the_bill_says), TEST(a_currency_without_cents),
                                       TEST(same_bytes_for_the_same_bill), TEST(without_a_bill_or_a_folder)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
