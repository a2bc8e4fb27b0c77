/* Level books that stop before a foresight: common practice, no source. The check is on what is closed; the levels of
 * the sights behind it stand all the same. */
#include "site_from_text.h"

static mst_level_book reduced(const char *rows) {
    char text[300];
    snprintf(text, sizeof text, "point,backsight (m),intermediate (m),foresight (m)\n%s", rows);
    const text_page pages[] = {{MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (m)\nBM,10\n"},
                               {MST_PAGE_LEVELS, "l.csv", "1", text}};
    mst_site *site = site_of(pages, 2);
    mst_level_book book;
    assert_int_equal(mst_level_book_reduce(&site->pages[1], adjusted_site(site), arena, &book, &error), MST_OK);
    return book;
}

static void one_set_up_of_spot_levels(void **state) {
    (void)state;
    mst_level_book book = reduced("BM,1.200,,\nP1,,1.100,\nP2,,1.400,\n");
    NEAR(book.lines[1].level_m, 10.1, 1e-12);
    NEAR(book.lines[2].level_m, 9.8, 1e-12);
    NEAR(book.lines[2].adjusted_m, 9.8, 1e-12);
    assert_true(book.arithmetic_ok && isnan(book.misclosure_m));
    assert_int_equal(book.set_ups, 1);
}

static void sights_behind_the_closure_do_not_count_in_it(void **state) {
    (void)state;
    /* out and home, 4 mm off over two set-ups, then one more change point and a spot level beyond */
    mst_level_book book = reduced("BM,1.200,,\nT,1.500,,1.000\nBM,1.300,,1.704\nQ,,1.000,\n");
    NEAR(book.misclosure_m, -0.004, 1e-12);
    NEAR(book.allowable_m, 0.005 * sqrt(2), 1e-12);
    assert_true(book.arithmetic_ok);
    NEAR(book.sum_backsight_m, 2.7, 1e-12);
    NEAR(book.sum_foresight_m, 2.704, 1e-12);
    NEAR(book.lines[1].adjusted_m, 10.202, 1e-12);
    NEAR(book.lines[2].adjusted_m, 10.000, 1e-12);
    NEAR(book.lines[3].adjusted_m, 10.300, 1e-12); /* hangs on the closed end, and shares all of the correction */
}

/* The same loop booked with its change point in one row and in two is one loop, and misses by the same. */
static void a_change_point_may_stand_in_two_rows(void **state) {
    (void)state;
    const char *const BOOK[] = {"BM,1.200,,\nT,1.500,,1.000\nBM,,,1.704\n",
                                "BM,1.200,,\nT,,,1.000\nT,1.500,,\nBM,,,1.704\n"};
    for (int k = 0; k < 2; k++) {
        mst_level_book book = reduced(BOOK[k]);
        NEAR(book.misclosure_m, -0.004, 1e-12);
        NEAR(book.allowable_m, 0.005 * sqrt(2), 1e-12);
        NEAR(book.lines[book.count - 1].adjusted_m, 10.000, 1e-12);
        NEAR(book.lines[1].adjusted_m, 10.202, 1e-12);
        assert_true(book.arithmetic_ok);
    }
    /* a new start on the point that closed the loop is a run of its own, with the misclosure of the worse one */
    mst_level_book two = reduced("BM,1.200,,\nT,1.500,,1.000\nBM,,,1.704\nBM,1.000,,\nQ,1.000,,1.100\nBM,,,0.910\n");
    NEAR(two.misclosure_m, -0.010, 1e-12);
    assert_int_equal(two.set_ups, 4);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(one_set_up_of_spot_levels),
                                       cmocka_unit_test(a_change_point_may_stand_in_two_rows),
                                       cmocka_unit_test(sights_behind_the_closure_do_not_count_in_it)};
    return cmocka_run_group_tests(tests, open_arena, close_arena);
}
