/* Levelling, against worked examples (../shared/references/02-levelling): T02-A B. C. Punmia, Surveying vol. 1, from
 * memory; T02-C read; T02-D C. D. Ghilani, Adjustment Computations, chapter 12, from memory; T02-F Uren and Price
 * (attribution from memory), read; T02-H J. Mahun, Least Squares Lite, chapter B, read; T02-I Ghilani and Wolf,
 * problem 5.24, read. Tolerances as given there. */
#include "../survey/site_from_text.h"

static mst_level_book reduced(const mst_site *site, size_t page, const mst_adjustment *a) {
    mst_level_book book;
    assert_int_equal(mst_level_book_reduce(&site->pages[page], a, arena, &book, &error), MST_OK);
    return book;
}

static void three_change_points(void **state) { /* T02-A */
    (void)state;
    const text_page pages[] = {{MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (m)\nBM,432.384\n"},
                               {MST_PAGE_LEVELS, "l.csv", "1",
                                "point,backsight (m),intermediate (m),foresight "
                                "(m)\nBM,2.228,,\n2,,1.606,\n3,2.090,,0.988\n4,,2.864,\n5,0.602,,1.262\n"
                                "6,1.044,,1.982\n7,,,2.684\n"}};
    mst_site *site = site_of(pages, 2);
    mst_adjustment *a = adjusted_site(site);
    mst_level_book book = reduced(site, 1, a);
    static const double PRINTED[] = {432.384, 433.006, 433.624, 432.850, 434.452, 433.072, 431.432};
    assert_int_equal(book.count, 7);
    for (int i = 0; i < 7; i++) {
        NEAR(book.lines[i].level_m, PRINTED[i], 0.0005);
        NEAR(point_of(a, book.lines[i].point)->elevation_m, PRINTED[i], 0.0005); /* no redundancy: both ways the same */
    }
    NEAR(book.sum_backsight_m - book.sum_foresight_m, -0.952, 0.0005);
    NEAR(book.sum_rise_m, 2.842, 0.0005);
    NEAR(book.sum_fall_m, 3.794, 0.0005);
    assert_int_equal(book.set_ups, 4);
    assert_true(book.arithmetic_ok && isnan(book.misclosure_m));
    NEAR(book.lines[2].collimation_m, 433.624 + 2.090, 0.0005);
    assert_true(isnan(book.lines[0].rise_m) && isnan(book.lines[0].fall_m));
    NEAR(book.allowable_m, 0.010, 1e-12); /* 5 mm root 4 */
}

static void a_section_between_benchmarks(void **state) { /* T02-C; feet */
    (void)state;
    const text_page pages[] = {
        {MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (ft)\nA,100\nB,94.91\n"},
        {MST_PAGE_LEVELS, "l.csv", "1",
         "point,backsight (ft),foresight (ft)\nA,3.10,\nTP1,6.44,9.82\nTP2,8.76,6.96\nTP3,7.12,3.27\nB,,10.42\n"}};
    mst_site *site = site_of(pages, 2);
    mst_adjustment *a = adjusted_site(site);
    mst_level_book book = reduced(site, 1, a);
    static const double PRINTED[] = {100, 93.28, 92.76, 98.25, 94.95};
    for (int i = 0; i < 5; i++) NEAR(book.lines[i].level_m / MST_FOOT_M, PRINTED[i], 0.005);
    NEAR(book.sum_backsight_m / MST_FOOT_M, 25.42, 0.005);
    NEAR(book.sum_foresight_m / MST_FOOT_M, 30.47, 0.005);
    NEAR(book.misclosure_m / MST_FOOT_M, 0.04, 0.005);
    NEAR(book.lines[4].adjusted_m / MST_FOOT_M, 94.91, 1e-9);
    NEAR(book.lines[2].adjusted_m / MST_FOOT_M, 92.76 - 0.02, 1e-9);  /* half of the set-ups, half of it */
    NEAR(point_of(a, "TP2")->elevation_m / MST_FOOT_M, 92.74, 0.005); /* equal sights: least squares does the same */
    NEAR(result_of(a, "l.csv", 2, "backsight")->standardized, result_of(a, "l.csv", 6, "foresight")->standardized * -1,
         1e-6);
}

static mst_adjustment *interlocking(bool weighted) {
    static const double MILES[] = {4, 3, 2, 3, 2, 2, 2};
    static const char *const LINES[] = {"X,A,5.10",  "A,Y,2.34",  "Y,C,-1.25", "C,X,-6.13",
                                        "A,B,-0.68", "Y,B,-3.00", "B,C,1.70"};
    mst_text text = {0};
    mst_text_string(&text, "from,to,difference (ft),sd (ft)\n");
    for (int i = 0; i < 7; i++)
        mst_text_printf(&text, "%s,%.12f\n", LINES[i], weighted ? sqrt(MILES[i] / 12) : 1.0); /* weight 12 / length */
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (ft)\nX,100\nY,107.5\n"},
                                 {MST_PAGE_HEIGHTS, "h.csv", "1", text.data});
    mst_text_free(&text);
    return a;
}

static void an_interlocking_network(
    void **state) { /* T02-D; feet. S0 here is below 1, so sd are not widened: sd * S0 is the printed one */
    (void)state;
    mst_adjustment *a = interlocking(false);
    static const double UNWEIGHTED[] = {105.141, 104.483, 106.188}, WEIGHTED[] = {105.150, 104.489, 106.197},
                        SD[] = {0.033, 0.030, 0.029};
    const char *names[] = {"A", "B", "C"};
    for (int i = 0; i < 3; i++) NEAR(point_of(a, names[i])->elevation_m / MST_FOOT_M, UNWEIGHTED[i], 0.0006);
    NEAR(a->sigma0, 0.050, 0.0006);
    a = interlocking(true);
    for (int i = 0; i < 3; i++) {
        NEAR(point_of(a, names[i])->elevation_m / MST_FOOT_M, WEIGHTED[i], 0.0006);
        NEAR(point_of(a, names[i])->sd_elevation_m / MST_FOOT_M * a->sigma0, SD[i], 0.0006);
    }
    NEAR(a->sigma0, 0.107, 0.0006);
    assert_true(a->scale == 1 && !a->global_test.passed); /* these sd are far too large, and the test says so */
    static const double RESIDUAL[] = {0.0504, 0.0096, -0.0528, -0.0672, 0.0188, -0.0108, 0.0080};
    for (int i = 0; i < 7; i++) NEAR(a->observations[i].residual / MST_FOOT_M, RESIDUAL[i], 0.0005);
}

static void
two_pegs(void **state) { /* T02-F: the far set-up's difference less the true one is the collimation over 50 m */
    (void)state;
    mst_site *site = site_of(
        (text_page[]){{MST_PAGE_LEVELS, "mid.csv", "1", "point,backsight (m),foresight (m)\nA,1.283,\nB,,0.860\n"},
                      {MST_PAGE_LEVELS, "far.csv", "1", "point,backsight (m),foresight (m)\nA,1.612,\nB,,1.219\n"}},
        2);
    mst_level_book mid = reduced(site, 0, NULL), far = reduced(site, 1, NULL);
    double truth = mid.lines[1].level_m - mid.lines[0].level_m, seen = far.lines[1].level_m - far.lines[0].level_m;
    NEAR(seen - truth, -0.030, 0.0005);
    NEAR(1.612 - (seen - truth) * 55 / 50, 1.645, 0.0005); /* A stands 55 m off */
    NEAR(mid.lines[0].level_m, 100, 0);                    /* nothing known: 100 */
}

static void two_unconnected_unknowns(void **state) { /* T02-H: differences only, so benchmarks at 0 */
    (void)state;
    static const double Q[] = {0.015, -0.015, 0.035, -0.035}, R[] = {-0.007, 0.033, -0.027};
    mst_text control = {0}, heights = {0};
    mst_text_string(&control, "point,elevation (ft)\n");
    mst_text_string(&heights, "from,to,difference (ft),sd (ft)\n");
    for (int i = 0; i < 7; i++) {
        mst_text_printf(&control, "BM%d,10\n", i);
        mst_text_printf(&heights, "BM%d,%c,%.3f,0.01\n", i, i < 4 ? 'Q' : 'R', i < 4 ? Q[i] : R[i - 4]);
    }
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", control.data}, {MST_PAGE_HEIGHTS, "h.csv", "1", heights.data});
    mst_text_free(&control);
    mst_text_free(&heights);
    double q = 0, r = 0;
    for (int i = 0; i < 7; i++) *(i < 4 ? &q : &r) += pow(a->observations[i].residual / MST_FOOT_M, 2);
    NEAR(q, 0.0029, 1e-6);
    NEAR(r, 0.001867, 1e-6);
    assert_int_equal(a->degrees_of_freedom, 5);
    NEAR(a->sigma0 * 0.01, 0.0309, 0.0001);
    NEAR(point_of(a, "Q")->sd_elevation_m / MST_FOOT_M, 0.0154, 0.0001);
    NEAR(point_of(a, "R")->sd_elevation_m / MST_FOOT_M, 0.0178, 0.0001);
}

static void three_wires(void **state) { /* T02-I: the means of the wires go into the book */
    (void)state;
    mst_text text = {0};
    static const double WIRES[4][3] = {
        {1.076, 0.829, 0.573}, {1.131, 0.858, 0.586}, {0.989, 0.767, 0.555}, {1.089, 0.851, 0.611}};
    double mean[4];
    for (int i = 0; i < 4; i++) {
        mean[i] = (WIRES[i][0] + WIRES[i][1] + WIRES[i][2]) / 3;
        assert_true(fabs(mean[i] - WIRES[i][1]) <= 0.0033 + 0.0001);
    }
    mst_text_printf(&text, "point,backsight (m),foresight (m)\nX,%.9f,\nTP1,%.9f,%.9f\nY,,%.9f\n", mean[0], mean[2],
                    mean[1], mean[3]);
    const text_page pages[] = {{MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (m)\nX,83.097\n"},
                               {MST_PAGE_LEVELS, "l.csv", "1", text.data}};
    mst_site *site = site_of(pages, 2);
    mst_adjustment *a = adjusted_site(site);
    mst_level_book book = reduced(site, 1, a);
    NEAR(book.sum_backsight_m, 1.5963, 5e-5);
    NEAR(book.sum_foresight_m, 1.7087, 5e-5);
    NEAR(book.lines[2].level_m, 82.9847, 1e-4);
    NEAR(point_of(a, "Y")->elevation_m, 82.9847, 1e-4);
    mst_text_free(&text);
}

static void another_page_is_no_level_book(void **state) {
    (void)state;
    mst_site *site = site_of((text_page[]){{MST_PAGE_HEIGHTS, "h.csv", "1", "from,to,difference (m)\nA,B,1\n"}}, 1);
    mst_level_book book = {.count = 77};
    assert_int_equal(mst_level_book_reduce(&site->pages[0], NULL, arena, &book, &error), MST_INVALID);
    assert_int_equal(book.count, 77);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(three_change_points, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_section_between_benchmarks, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(an_interlocking_network, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_pegs, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_unconnected_unknowns, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(three_wires, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(another_page_is_no_level_book, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
