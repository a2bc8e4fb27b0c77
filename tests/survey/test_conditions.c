/* What the builder knows of the shape, as readings: a square corner, a straight edge, parallel edges, a slab's length,
 * a water level. Each is weighed, shown and tested like a tape. Expected places by hand. */
#include "site_from_text.h"

static const char CONTROL[] =
    "point,easting (m),northing (m),elevation (m)\nA,10,10,5\nB,13,14,\n"; /* A-B: 5 m, 3-4-5 */

/* C: 2 m from B, square to B-A; the square line runs both ways, and a rough tape from A to C cannot tell; D can. */
static void a_corner_places_what_one_tape_leaves_open(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", CONTROL}, {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nB,C,2\n"},
        {MST_PAGE_CONDITIONS, "k.csv", "1", "condition,first,second,third,sd (m)\nright angle,A,B,C,0.005\n"});
    assert_false(point_of(a, "C")->has_plan); /* left or right of A-B: not said */
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1",
                  "point,easting (m),northing (m),elevation (m)\nA,10,10,5\nB,13,14,\nK,20,10,\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nB,C,2\nK,C,6.083\n"},
                 {MST_PAGE_CONDITIONS, "k.csv", "1", "condition,first,second,third,sd (m)\nright angle,A,B,C,0.005\n"});
    NEAR(point_of(a, "C")->easting_m, 14.6, 2e-3); /* B + 2 (4, -3) / 5 */
    NEAR(point_of(a, "C")->northing_m, 12.8, 2e-3);
    assert_int_equal(a->degrees_of_freedom, 1);
    const mst_observation_result *o = result_of(a, "k.csv", 2, "right angle");
    assert_true(o->redundancy > 0 && o->redundancy < 1 && o->sd == 0.005);
}

/* A slab of 3 m by 2 m set square, straight and parallel, with one tape wrong by the condition's own words. */
static void a_slab_is_held_together(void **state) {
    (void)state;
    const text_page pages[] = {
        {MST_PAGE_POINTS, "p.csv", "1",
         "point,easting (m),northing (m),elevation (m),sd plan "
         "(m)\nP,0,0.01,1,0.02\nQ,3.01,0,1.02,0.02\nR,2.98,2.02,1,0.02\n"
         "S,0,1.97,1.01,0.02\nM,1.5,0.03,1,0.02\n"},
        {MST_PAGE_CONDITIONS, "k.csv", "1",
         "condition,first,second,third,fourth,value (m),sd (m)\nlength,P,Q,,,3,0.001\nlength,Q,R,,,2,0.001\n"
         "right angle,P,Q,R,,,0.001\nstraight,P,M,Q,,,0.001\nparallel,P,Q,S,R,,0.001\nequal level,P,Q,,,,0.001\n"}};
    mst_adjustment *a = adjusted_site(site_of(pages, 2));
    const mst_adjusted_point *p = point_of(a, "P"), *q = point_of(a, "Q"), *r = point_of(a, "R"), *s = point_of(a, "S"),
                             *m = point_of(a, "M");
    NEAR(hypot(q->easting_m - p->easting_m, q->northing_m - p->northing_m), 3, 1e-3);
    NEAR(hypot(q->easting_m - r->easting_m, q->northing_m - r->northing_m), 2, 1e-3);
    double along = (q->easting_m - p->easting_m) / 3, up = (q->northing_m - p->northing_m) / 3;
    NEAR((r->easting_m - q->easting_m) * along + (r->northing_m - q->northing_m) * up, 0, 1e-3);
    NEAR((m->easting_m - p->easting_m) * up - (m->northing_m - p->northing_m) * along, 0, 1e-3);
    NEAR((r->easting_m - s->easting_m) * up - (r->northing_m - s->northing_m) * along, 0, 1e-3);
    NEAR(q->elevation_m, p->elevation_m, 1e-3);
    assert_int_equal(a->suspect_count, 0);
    assert_non_null(result_of(a, "k.csv", 7, "equal level"));
    assert_non_null(result_of(a, "k.csv", 2, "length"));
    assert_string_equal(result_of(a, "k.csv", 6, "parallel")->to, "R");
}

static void a_corner_that_is_not_square_is_named(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_POINTS, "p.csv", "1",
                  "point,easting (m),northing (m),sd plan (m)\nP,0,0,0.002\nQ,8,0,0.002\nR,8.4,5,0.002\nS,0,5,0.002\n"},
                 {MST_PAGE_TAPE, "t.csv", "1",
                  "from,to,distance (m),sd (m)\nP,R,9.776,0.002\nQ,R,5.016,0.002\nQ,S,9.434,0.002\n"},
                 {MST_PAGE_CONDITIONS, "k.csv", "1",
                  "condition,first,second,third,sd (m)\nright angle,P,Q,R,0.005\nright angle,Q,P,S,0.005\n"});
    assert_int_equal(a->suspect_count, 1);
    assert_null(a->suspects[0].slip);
    assert_string_equal(a->suspects[0].sentence,
                        "The condition 'right angle' of P-Q-R on visit 1 (k.csv row 2) is about 0.40 m off what the "
                        "readings say.");
}

/* A straight edge and a parallel one give first places too: U on the line A-B and on a circle, V by a parallel. */
static void conditions_help_the_start(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1",
                  "point,easting (m),northing (m),elevation (m)\nA,0,0,\nB,10,0,\nC,0,4,\nK,20,3,\n"},
                 {MST_PAGE_TAPE, "t.csv", "1",
                  "from,to,distance (m),sd (m)\nK,U,5,0.01\nB,U,6,0.01\nK,V,8.0623,0.01\nB,V,4.4721,0.01\n"},
                 {MST_PAGE_CONDITIONS, "k.csv", "1",
                  "condition,first,second,third,fourth,sd (m)\nstraight,A,B,U,,0.005\nparallel,A,B,C,V,0.005\n"});
    NEAR(point_of(a, "U")->easting_m, 16, 1e-2);
    NEAR(point_of(a, "U")->northing_m, 0, 1e-2);
    NEAR(point_of(a, "V")->easting_m, 12, 1e-2);
    NEAR(point_of(a, "V")->northing_m, 4, 1e-2);
}

static void refused(const char *text, int row, const char *part) {
    mst_page page;
    error = (mst_error){0};
    assert_int_equal(mst_page_read(MST_PAGE_CONDITIONS, "k.csv", text, strlen(text), NULL, arena, &page, &error),
                     MST_INVALID);
    assert_int_equal(error.row, row);
    if (!strstr(error.sentence, part)) print_message("%s\n", error.sentence);
    assert_non_null(strstr(error.sentence, part));
}

static void a_condition_that_makes_no_sense_is_refused(void **state) {
    (void)state;
    const char *head = "condition,first,second,third,fourth,value (m),sd (m)\n";
    static const char *const ROWS[][2] = {{"square,A,B,C,,,1\n", "does not fit"},
                                          {"right angle,A,B,,,,1\n", "the third one is missing"},
                                          {"parallel,A,B,C,,,1\n", "the fourth one is missing"},
                                          {"length,A,B,C,,3,1\n", "about 2 points only"},
                                          {"straight,A,B,A,,,1\n", "stands twice"},
                                          {"length,A,B,,,,1\n", "needs its value"},
                                          {"equal level,A,B,,,3,1\n", "Only a length has a value"},
                                          {"straight,A,B,C,,,\n", "'sd' is empty"}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        refused(mst_arena_printf(arena, "%s%s", head, ROWS[i][0]), 2, ROWS[i][1]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_corner_places_what_one_tape_leaves_open, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_slab_is_held_together, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_corner_that_is_not_square_is_named, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(conditions_help_the_start, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_condition_that_makes_no_sense_is_refused, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
