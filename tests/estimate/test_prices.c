/* The price list page, and what a site's features come to. ISO 4217 minor units: from memory. */
#include "merestone/estimate.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>
#include "setout/control_helper.c"

static mst_arena *arena;
static int open_arena(void **state) {
    (void)state;
    arena = mst_arena_new();
    return !arena;
}
static int close_arena(void **state) {
    (void)state;
    mst_arena_free(arena);
    return 0;
}
static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.12f is not %.12f within %g", a, b, by);
}

static mst_site site_with(const char *csv, const char *currency, mst_page *page) {
    mst_error error = {0};
    if (mst_page_read(MST_PAGE_PRICES, "prices.csv", csv, strlen(csv), NULL, arena, page, &error))
        fail_msg("%s", error.sentence);
    mst_setting *setting = mst_arena_alloc(arena, sizeof *setting);
    *setting = (mst_setting){"currency", currency};
    return (mst_site){.arena = arena, .pages = page, .page_count = 1, .settings = setting, .setting_count = 1};
}
#define HEADER "item,unit,code,measure,depth (m),factor,waste (percent),pack,pack unit,rate\n"

static void a_list_is_read_to_minor_units(void **state) {
    (void)state;
    mst_page page;
    mst_site site = site_with(
        HEADER
        "flags,m2,PAVE,area,,,10,8.64,pallet,32.35\nblock,each,POST,count,,,,,,0.125\ntopsoil,m3,LAWN,area,0.1,,,,,\n",
        "EUR", &page);
    mst_price_line *lines;
    size_t count;
    assert_int_equal(mst_prices_read(&site, arena, &lines, &count, NULL), MST_OK);
    assert_int_equal(count, 3);
    near(lines[0].rate_minor, 3235, 0);
    near(lines[0].pack, 8.64, 0);
    near(lines[0].waste_percent, 10, 0);
    near(lines[1].rate_minor, 12.5, 0);
    near(lines[1].waste_percent, 0, 0);
    assert_true(isnan(lines[1].pack) && isnan(lines[1].factor) && isnan(lines[2].rate_minor));
    near(lines[2].depth_m, 0.1, 0);
    assert_int_equal(lines[2].row, 4);
}
static void currencies_without_or_with_three_decimals(void **state) {
    (void)state;
    mst_page page;
    mst_price_line *lines;
    size_t count;
    mst_site yen = site_with(HEADER "flags,m2,PAVE,area,,,,,,3200\n", "JPY", &page);
    assert_int_equal(mst_prices_read(&yen, arena, &lines, &count, NULL), MST_OK);
    near(lines[0].rate_minor, 3200, 0);
    mst_site dinar = site_with(HEADER "flags,m2,PAVE,area,,,,,,3.2\n", "KWD", &page);
    assert_int_equal(mst_prices_read(&dinar, arena, &lines, &count, NULL), MST_OK);
    near(lines[0].rate_minor, 3200, 0);
}
static void the_newest_list_counts_and_rows_set_aside_do_not(void **state) {
    (void)state;
    mst_page pages[2];
    mst_site a = site_with(HEADER "old,m2,PAVE,area,,,,,,1\n", "EUR", &pages[0]);
    mst_site b = site_with(HEADER "new,m2,PAVE,area,,,,,,2\nwrong,m2,PAVE,area,,,,,,3\n", "EUR", &pages[1]);
    pages[1].rows[1].set_aside = "not offered";
    mst_site both = {.arena = arena, .pages = pages, .page_count = 2, .settings = a.settings, .setting_count = 1};
    (void)b;
    mst_price_line *lines;
    size_t count;
    assert_int_equal(mst_prices_read(&both, arena, &lines, &count, NULL), MST_OK);
    assert_int_equal(count, 1);
    assert_string_equal(lines[0].item, "new");
}
static void faults_name_their_row(void **state) {
    (void)state;
    const char *bad[] = {HEADER "ok,m2,PAVE,area,,,,,,1\nstone,t,PAVE,area,0.1,,,,,1\n",
                         HEADER "ok,m2,PAVE,area,,,,,,1\nstone,m3,PAVE,cut,0.1,,,,,1\n",
                         HEADER "ok,m2,PAVE,area,,,,,,1\nstone,m3,PAVE,area,,,,,,1\n",
                         HEADER "ok,m2,PAVE,area,,,,,,1\nstone,m2,PAVE,area,,,300,,,1\n"};
    for (int i = 0; i < 4; i++) {
        mst_page page;
        mst_site site = site_with(bad[i], "EUR", &page);
        mst_price_line *lines = NULL;
        size_t count = 77;
        mst_error error = {0};
        assert_int_equal(mst_prices_read(&site, arena, &lines, &count, &error), MST_INVALID);
        assert_int_equal(error.row, 3);
        assert_string_equal(error.page, "prices.csv");
        assert_int_equal(count, 77);
    }
    mst_site empty = {.arena = arena};
    mst_price_line *lines;
    size_t count;
    assert_int_equal(mst_prices_read(&empty, arena, &lines, &count, NULL), MST_NOT_FOUND);
}

static const mst_quantity *find(const mst_quantity *q, size_t count, const char *source, const char *measure) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(q[i].source, source) == 0 && strcmp(q[i].measure, measure) == 0) return &q[i];
    fail_msg("no %s of %s", measure, source);
    return NULL;
}
static void features_give_lengths_areas_and_counts(void **state) {
    (void)state;
    const known corners[] = {{"a", "", 0, 0, 1, 0.01, false},
                             {"b", "", 6, 0, 1, 0.01, false},
                             {"c", "", 6, 8, 1, 0.01, false},
                             {"d", "", 0, 8, 1, 0.01, false}};
    mst_vertex ring[] = {{"a", 0, 0, 2}, {"b", 0, 0, 3}, {"c", 0, 0, 4}, {"d", 0, 0, 5}},
               lost[] = {{"a", 0, 0, 6}, {"gone", 0, 0, 7}};
    mst_feature features[] = {
        {.name = "patio", .code = "PAVE", .kind = MST_FEATURE_AREA, .page = "", .vertices = ring, .vertex_count = 4},
        {.name = "edge", .code = "EDGE", .kind = MST_FEATURE_LINE, .page = "", .vertices = ring, .vertex_count = 2},
        {.name = "posts", .code = "POST", .kind = MST_FEATURE_SPOT, .page = "", .vertices = ring, .vertex_count = 3},
        {.name = "lost", .code = "EDGE", .kind = MST_FEATURE_LINE, .page = "", .vertices = lost, .vertex_count = 2}};
    mst_site *site = measured_site(corners, 4, arena);
    site->features = features, site->feature_count = 4;
    mst_quantity *q;
    size_t count;
    mst_error error = {0};
    if (mst_quantities(site, adjusted(site, arena), NULL, NULL, arena, &q, &count, &error))
        fail_msg("%s", error.sentence);
    near(find(q, count, "patio", "area")->amount.value, 48, 1e-9);
    near(find(q, count, "patio", "length")->amount.value, 28, 1e-9);
    near(find(q, count, "edge", "length")->amount.value, 6, 1e-9);
    near(find(q, count, "posts", "count")->amount.value, 3, 0);
    assert_true(isnan(find(q, count, "lost", "length")->amount.value));
    assert_string_equal(find(q, count, "patio", "area")->code, "PAVE");
}
#define TEST(f) cmocka_unit_test_setup_teardown(f, open_arena, close_arena)
int main(void) {
    const struct CMUnitTest tests[] = {TEST(a_list_is_read_to_minor_units),
                                       TEST(currencies_without_or_with_three_decimals),
                                       TEST(the_newest_list_counts_and_rows_set_aside_do_not),
                                       TEST(faults_name_their_row), TEST(features_give_lengths_areas_and_counts)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
