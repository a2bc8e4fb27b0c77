/* External reliability against closed forms, and the corrections of a tape. Sources stand beside each check. */
#include "site_from_text.h"

static mst_effect effect_of(const mst_adjustment *a, size_t observation) {
    mst_effect e;
    assert_int_equal(mst_adjustment_effects(a, &observation, 1, arena, &e, &error), MST_OK);
    return e;
}

/* One level loop of n equal sections (closed form of one condition; ../shared/references/03-plane-network, T03-G): an
 * error d in a section is shared alike, so the point behind it moves by d (n - 1) / n. */
static void an_error_in_a_loop_of_levels(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,elevation (m)\nA,10\n"},
        {MST_PAGE_HEIGHTS, "h.csv", "1", "from,to,difference (m),sd (mm)\nA,B,1,2\nB,C,1,2\nC,D,-1,2\nD,A,-1,2\n"});
    mst_effect e = effect_of(a, 0);
    assert_string_equal(a->points[e.point].name, "B");
    assert_true(e.in_level);
    NEAR(e.by_one, 0.75, 1e-12);
    NEAR(e.moved_m, 0.75 * a->observations[0].smallest_error, 1e-12);
    e = effect_of(a, 1); /* B moves a quarter back, C and D half */
    NEAR(e.by_one, 0.5, 1e-12);
    const char *sentence = mst_effect_sentence(a, &e, arena);
    assert_non_null(strstr(sentence, "could pass unnoticed; it would move the level of"));
    assert_non_null(strstr(sentence, "h.csv row 3"));
}

/* Two square tapes and nothing else: an error goes whole into the point, and nothing notices it. */
static void what_nothing_checks(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,50,0\n"},
                 {MST_PAGE_OFFSETS, "o.csv", "1", "from,to,chainage (m),offset (m),point\nA,B,18,-24,P\n"});
    mst_effect e = effect_of(a, 0);
    assert_string_equal(a->points[e.point].name, "P");
    NEAR(e.by_one, 1, 1e-9);
    assert_true(!e.in_level && isinf(e.moved_m));
    assert_non_null(strstr(mst_effect_sentence(a, &e, arena), "Nothing checks the"));
    size_t none = 99;
    assert_int_equal(mst_adjustment_effects(a, &none, 1, arena, &e, &error), MST_INVALID);
}

/* What it foretells is what happens: the same site with the error in it moves by so much. */
static void the_effect_is_what_happens(void **state) {
    (void)state;
    const char *control = "point,easting (m),northing (m)\nA,0,0\nB,40,0\nC,40,30\nD,0,30\n";
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", control},
                 {MST_PAGE_TAPE, "t.csv", "1",
                  "from,to,distance (m),sd (m)\nA,P,25.000,0.01\nB,P,25.000,0.01\nC,P,25.000,0.01\nD,P,25.0,0.01\n"});
    mst_adjustment *b =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", control},
                 {MST_PAGE_TAPE, "t.csv", "1",
                  "from,to,distance (m),sd (m)\nA,P,25.005,0.01\nB,P,25.000,0.01\nC,P,25.000,0.01\nD,P,25.0,0.01\n"});
    mst_effect e = effect_of(a, 0);
    const mst_adjusted_point *p = point_of(a, "P"), *q = point_of(b, "P");
    NEAR(hypot(q->easting_m - p->easting_m, q->northing_m - p->northing_m), 0.005 * e.by_one, 1e-6);
}

/* With a free datum no point is the fixed one: in a symmetric loop every point moves, and the sum of moves is nought.
 */
static void a_free_network_moves_about_its_middle(void **state) {
    (void)state;
    const text_page page = {MST_PAGE_HEIGHTS, "h.csv", "1",
                            "from,to,difference (m),sd (mm)\nA,B,1,2\nB,C,1,2\nC,D,-1,2\nD,A,-1,2\n"};
    mst_adjust_options options = {.free_datum = true};
    mst_adjustment *a = NULL;
    assert_int_equal(mst_adjust(site_of(&page, 1), &options, arena, &a, &error), MST_OK);
    /* the moves of A, B, C, D are 0, 3/4, 1/2, 1/4 from A; less their mean 3/8 the largest is 3/8 */
    NEAR(effect_of(a, 0).by_one, 0.375, 1e-9);
}

static double taped(const char *header, const char *cells) {
    mst_text t = {0};
    mst_text_printf(&t, "from,to,distance (m)%s\nA,B,%s\n", header, cells);
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\n"},
                                 {MST_PAGE_TAPE, "t.csv", "1", t.data});
    mst_text_free(&t);
    return a->observations[0].observed;
}

/* Wolf and Ghilani, Elementary Surveying, chapter 6, the worked example of taping corrections, from memory: a 30 m
 * steel tape that is 30.012 m long at 20 C, weighs 0.03967 kg/m and hangs from its ends at 9.09 kg; sections
 * of 30.000, 30.000 and 21.151 m at 14, 15 and 16 C. Length +0.0325 m, temperature -0.0048 m, sag -0.0504 m in all. */
static void corrections_of_a_steel_tape(void **state) {
    (void)state;
    const double g = 9.80665, weight = 0.03967 * g, pull = 9.09 * g;
    const char *READ[] = {"30.000", "30.000", "21.151"}, *WARMTH[] = {"14", "15", "16"};
    double scale = 0, warm = 0, sag = 0;
    for (int i = 0; i < 3; i++) {
        char cells[80];
        double read = strtod(READ[i], NULL);
        snprintf(cells, sizeof cells, "%s,400", READ[i]);
        scale += taped(",scale (ppm)", cells) - read;
        snprintf(cells, sizeof cells, "%s,%s", READ[i], WARMTH[i]);
        warm += taped(",temperature (C)", cells) - read;
        snprintf(cells, sizeof cells, "%s,%.8f,%.8f", READ[i], weight, pull);
        sag += taped(",weight (N/m),pull (N)", cells) - read;
    }
    NEAR(scale, 0.0325, 5e-5);
    NEAR(warm, -0.0048, 5e-5);
    NEAR(sag, -0.0504, 5e-5);
    char cells[80];
    snprintf(cells, sizeof cells, "30.000,%.8f,%.8f,15", weight,
             pull); /* propped in the middle: a quarter of the sag */
    NEAR(taped(",weight (N/m),pull (N),span (m)", cells), 30 - 0.021427 / 4, 1e-6);
    NEAR(taped(",temperature (C),expansion (ppm/C)", "30.000,30,0"), 30, 1e-12);
}

static void a_tape_that_makes_no_sense_is_refused(void **state) {
    (void)state;
    mst_page page;
    const char *half = "from,to,distance (m),pull (N)\nA,B,30,50\n";
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "t.csv", half, strlen(half), NULL, arena, &page, &error),
                     MST_INVALID);
    assert_non_null(strstr(error.sentence, "'weight' is missing"));
    const char *warm = "from,to,distance (m),temperature (F)\nA,B,30,50\n";
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "t.csv", warm, strlen(warm), NULL, arena, &page, &error),
                     MST_INVALID);
    assert_non_null(strstr(error.sentence, "'F' is not a unit"));
    const text_page slack = {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m),weight (N/m),pull (N)\nA,B,30,50,1\n"};
    mst_adjustment *a;
    assert_int_equal(mst_adjust(site_of(&slack, 1), NULL, arena, &a, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "leave nothing of the tape"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(an_error_in_a_loop_of_levels, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_nothing_checks, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_effect_is_what_happens, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_free_network_moves_about_its_middle, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(corrections_of_a_steel_tape, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_tape_that_makes_no_sense_is_refused, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
