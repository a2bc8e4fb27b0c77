/* Planted slips on small networks whose truth is known: each must be named for what it is, with its row, and with what
 * the reading would be without it. The bench survey_truth does the same on thousands of random networks. */
#include "site_from_text.h"

static const mst_suspect *suspect_at(const mst_adjustment *a, const char *page, int row) {
    for (size_t i = 0; i < a->suspect_count; i++) {
        const mst_observation_result *o = &a->observations[a->suspects[i].observation];
        if (strcmp(o->page, page) == 0 && o->row == row) return &a->suspects[i];
    }
    show(a);
    fail_msg("row %d of %s is not suspected", row, page);
    return NULL;
}
static void slipped(const mst_adjustment *a, const char *page, int row, const char *slip, double corrected, double by,
                    const char *words) {
    const mst_suspect *s = suspect_at(a, page, row);
    if (!s->slip || strcmp(s->slip, slip) != 0 || !strstr(s->sentence, words)) show(a);
    assert_non_null(s->slip);
    assert_string_equal(s->slip, slip);
    NEAR(s->corrected, corrected, by);
    assert_non_null(strstr(s->sentence, words));
    assert_non_null(strstr(s->sentence, page));
}

static const double SQUARE[6][2] = {{0, 0}, {0, 30.25}, {41.3, 33.1}, {38.9, 2.4}, {15.72, 12.57}, {27.44, 21.03}};
static double between(int i, int j) { return hypot(SQUARE[i][0] - SQUARE[j][0], SQUARE[i][1] - SQUARE[j][1]); }

/* Every tape between six points, A to F; the one booked as given. */
static mst_adjustment *taped(int from, int to, const char *booked) {
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (int i = 0; i < 6; i++)
        for (int j = i + 1; j < 6; j++)
            if (i == from && j == to) mst_text_printf(&t, "%s\n", booked);
            else mst_text_printf(&t, "%c,%c,%.3f\n", 'A' + i, 'A' + j, between(i, j));
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,0,30.25\nC,41.3,33.1\n"},
                 {MST_PAGE_TAPE, "tape.csv", "1", t.data});
    mst_text_free(&t);
    return a;
}

static void slips_of_a_tape(void **state) {
    (void)state;
    char booked[40];
    double true_length = between(1, 3); /* B-D, row 8: 47.909 m */
    assert_int_equal(taped(9, 9, "")->suspect_count, 0);
    snprintf(booked, sizeof booked, "B,D,%.3f", true_length + 1);
    slipped(taped(1, 3, booked), "tape.csv", 8, "metres", true_length, 1e-3, "a whole metre is the usual slip");
    snprintf(booked, sizeof booked, "B,D,%.3f", true_length - MST_FOOT_M);
    slipped(taped(1, 3, booked), "tape.csv", 8, "foot", true_length, 1e-3, "a whole foot");
    snprintf(booked, sizeof booked, "B,D,%.3f", true_length / MST_FOOT_M);
    slipped(taped(1, 3, booked), "tape.csv", 8, "feet for metres", true_length, 1e-3, "feet were read");
    slipped(taped(1, 3, "B,D,74.909"), "tape.csv", 8, "digits", 47.909, 1e-9, "74.909 for 47.909");
    snprintf(booked, sizeof booked, "B,D,%.3f", between(1, 2));
    slipped(taped(1, 3, booked), "tape.csv", 8, "point", between(1, 2), 1e-3, "the point was C, not D");
}

/* S1 and S2 see each other and four more points, with zenith angles and distances. */
static mst_adjustment *sighted(const char *swap_from, const char *swap_to) {
    const double p[6][3] = {{0, 0, 10}, {50, 4, 11}, {12, 31, 12.4}, {44, 29, 9.1}, {25, -22, 10.8}, {31, 47, 13.3}};
    const char *name[] = {"S1", "S2", "K", "L", "M", "N"};
    mst_text t = {0};
    mst_text_string(&t, "at,to,circle (dms),zenith (dms),slope distance (m),instrument height (m),target height (m)\n");
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < 6; i++) {
            if (i == s) continue;
            double e = p[i][0] - p[s][0], n = p[i][1] - p[s][1], d = hypot(e, n), rise = p[i][2] - p[s][2];
            char circle[32], zenith[32];
            mst_angle_dms(mst_angle_turn(atan2(e, n) - 0.3 - s), 0, circle, sizeof circle);
            mst_angle_dms(atan2(d, rise), 0, zenith, sizeof zenith);
            mst_text_printf(&t, "%s,%s,%s,%s,%.3f,1.5,1.5\n", name[s], name[i], circle, zenith, hypot(d, rise));
        }
    char *at = swap_from ? strstr(t.data, swap_from) : NULL;
    if (swap_from) {
        assert_non_null(at);
        assert_int_equal(strlen(swap_from), strlen(swap_to));
        memcpy(at, swap_to, strlen(swap_to));
    }
    if (getenv("SHOW")) print_message("%s", t.data);
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nS1,0,0,10\nN,31,47,\n"},
        {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nK,L,32.062\nK,M,54.571\nL,N,22.204\n"},
        {MST_PAGE_ANGLES, "a.csv", "1", t.data});
    mst_text_free(&t);
    return a;
}

static void slips_of_a_sight(void **state) {
    (void)state;
    assert_int_equal(sighted(NULL, NULL)->suspect_count, 0);
    /* S2-K, row 8 of the page, is booked at K; the sight really went to L */
    mst_adjustment *a = sighted("S2,K", "S2,M");
    const mst_suspect *s = suspect_at(a, "a.csv", 8);
    assert_non_null(strstr(s->sentence, "the point was K, not M"));
    assert_string_equal(s->slip, "point");
    /* half a turn too much: what it should be lies within one turn */
    slipped(sighted("S1,M,114", "S1,M,294"), "a.csv", 5, "face", mst_angle_turn(atan2(25, -22) - 0.3), 1e-4,
            "other face");
}

/* Two lines of levels that share P2 and P4, so that each set-up is checked. Levels: BM 50, P1 50.6, P2 50.75, P3 51,
 * P4 50, P5 51.45. */
static mst_adjustment *levelled(const char *booked) {
    mst_text t = {0};
    mst_text_printf(&t,
                    "point,backsight (m),intermediate (m),foresight (m)\n"
                    "BM,1.512,,\nP1,1.733,,0.912\n%s\nP3,0.871,,1.990\nP4,1.377,,1.871\nBM,,,1.377\n"
                    "BM,1.624,,\nP2,1.120,,0.874\nP4,2.105,,1.870\nP5,1.003,,0.655\nP1,,,1.853\n",
                    booked);
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nBM,1,1,50\n"},
                 {MST_PAGE_LEVELS, "book.csv", "1", t.data});
    mst_text_free(&t);
    return a;
}

static void backsight_and_foresight_swapped(void **state) {
    (void)state;
    mst_adjustment *honest = levelled("P2,2.240,,1.583");
    assert_int_equal(honest->suspect_count, 0);
    NEAR(point_of(honest, "P3")->elevation_m, 51, 1e-3);
    mst_adjustment *a = levelled("P2,1.583,,2.240");
    const mst_suspect *s = suspect_at(a, "book.csv", 4);
    assert_string_equal(s->slip, "backsight and foresight");
    assert_non_null(strstr(s->sentence, "backsight and foresight of the row were swapped"));
}

/* Two pages in the site's frame that put one name at two places: one sentence names both. */
static void one_name_at_two_places(void **state) {
    (void)state;
    mst_site *site = site_of(
        (text_page[]){
            {MST_PAGE_POINTS, "a.csv", "spring", "point,easting (m),northing (m)\nA,0,0\nB,30,0\nC,30,40\n"},
            {MST_PAGE_POINTS, "b.csv", "autumn", "point,easting (m),northing (m)\nA,0,0\nB,30,0\nC,32.63,43.17\n"}},
        2);
    site->pages[0].site_frame = site->pages[1].site_frame = true;
    mst_adjustment *a = adjusted_site(site);
    const char *words = suspect_at(a, "b.csv", 4)->sentence;
    assert_non_null(
        strstr(words, "C of visit spring (a.csv row 4) and C of visit autumn (b.csv row 4) lie 4.12 m apart"));
    assert_string_equal(words, suspect_at(a, "a.csv", 4)->sentence);
    const text_page held = {MST_PAGE_CONTROL, "a.csv", "spring",
                            "point,easting (m),northing (m)\nA,0,0\nB,30,0\nC,30,40\n"};
    site->pages[0] = site_of(&held, 1)->pages[0];
    words = suspect_at(adjusted_site(site), "b.csv", 4)->sentence;
    assert_non_null(strstr(words, "beside where a.csv row 4 holds C"));
}

static void two_mistakes_at_once(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (int i = 0; i < 6; i++)
        for (int j = i + 1; j < 6; j++)
            mst_text_printf(&t, "%c,%c,%.3f\n", 'A' + i, 'A' + j,
                            between(i, j) + (i == 0 && j == 4 ? 1 : 0) - (i == 2 && j == 5 ? 0.5 : 0));
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,0,30.25\nC,41.3,33.1\n"},
                 {MST_PAGE_TAPE, "tape.csv", "1", t.data});
    mst_text_free(&t);
    assert_int_equal(a->suspect_count, 2);
    NEAR(suspect_at(a, "tape.csv", 5)->estimated_error, 1, 0.01);
    NEAR(suspect_at(a, "tape.csv", 13)->estimated_error, -0.5, 0.01);
    assert_null(suspect_at(a, "tape.csv", 13)->slip); /* half a metre is no slip that one could know */
}

/* Gear that scatters three times as much as stated: no reading is accused, but the gear is. */
static void poor_gear_is_not_a_mistake(void **state) {
    (void)state;
    static const double OFF[] = {1.2, -0.4, 0.8, -1.5, 0.3, -0.9, 1.6, -0.2, -1.1, 0.6, 1.0, -0.7, 0.1, -1.4, 0.5};
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m),sd (m)\n");
    for (int round = 0, k = 0; round < 3; round++)
        for (int i = 0; i < 6; i++)
            for (int j = i + 1; j < 6; j++, k++)
                mst_text_printf(&t, "%c,%c,%.3f,0.005\n", 'A' + i, 'A' + j,
                                between(i, j) + 0.015 * OFF[(k + round * 4) % 15]);
    const text_page pages[] = {
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,0,30.25\nC,41.3,33.1\n"},
        {MST_PAGE_TAPE, "tape.csv", "1", t.data}};
    mst_adjustment *a = adjusted_site(site_of(pages, 2));
    assert_false(a->global_test.passed);
    assert_int_equal(a->suspect_count, 0);
    assert_int_equal(a->gear_factor_count, 1);
    const mst_gear_factor *f = &a->gear_factors[0];
    assert_string_equal(f->gear, "fibreglass-tape");
    assert_string_equal(f->kind, "distance");
    NEAR(f->factor, a->sigma0, 1e-2); /* one group: its factor is the root of the sum of squares over the freedom */
    NEAR(f->redundancy, a->degrees_of_freedom, 1e-6);
    assert_non_null(f->sentence);
    assert_false(a->gear_factors_applied);
    /* applied: the same places, as all weights change alike, and a test that is passed */
    mst_adjust_options options = {.apply_gear_factors = true};
    mst_adjustment *b = NULL;
    assert_int_equal(mst_adjust(site_of(pages, 2), &options, arena, &b, &error), MST_OK);
    assert_true(b->gear_factors_applied && b->global_test.passed);
    NEAR(b->sigma0, 1, 0.02);
    NEAR(point_of(b, "E")->easting_m, point_of(a, "E")->easting_m, 1e-6);
    NEAR(point_of(b, "E")->sd_easting_m, point_of(a, "E")->sd_easting_m, 2e-4);
    mst_text_free(&t);
}

/* A book of a few hundred readings with normal errors is seldom accused: the level is that of the set. */
static void the_critical_value_grows_with_the_set(void **state) {
    (void)state;
    mst_adjustment *small = taped(9, 9, "");
    mst_text t = {0};
    mst_text_string(&t, "from,to,difference (m)\n");
    for (int i = 0; i < 450; i++) mst_text_printf(&t, "P%d,P%d,0\n", i % 60, (i + 1 + i / 60) % 60);
    mst_adjustment *large = ADJUSTED({MST_PAGE_HEIGHTS, "h.csv", "1", t.data});
    mst_text_free(&t);
    /* Sidak's bound by hand: 1 - (1 - 0.006)^(1/15) = 4.012e-4, two-sided normal 3.540; 450: 1.337e-5, 4.354 */
    NEAR(small->critical, 3.540, 0.02);
    NEAR(large->critical, 4.354, 0.02);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(slips_of_a_tape, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(slips_of_a_sight, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(backsight_and_foresight_swapped, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(one_name_at_two_places, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_mistakes_at_once, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(poor_gear_is_not_a_mistake, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_critical_value_grows_with_the_set, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
