/* What the coordinates count from, and what a reading that was not taken must not count as. Expected places are worked
 * by hand beside each; the rules are the contract's (docs/pages.md). */
#include "site_from_text.h"

static void at(const mst_adjustment *a, const char *name, double e, double n, double by) {
    const mst_adjusted_point *p = point_of(a, name);
    if (!p->has_plan) show(a);
    assert_true(p->has_plan);
    NEAR(p->easting_m, e, by);
    NEAR(p->northing_m, n, by);
}

#define CONTROL_A_B                                                                                                    \
    { MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,100,0,10\n" }
static const char SIGHTS[] =
    "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n";

/* B lies due east of A, so the circle reads 90 less than bearings and 315 is north-east. */
static void an_empty_height_is_not_nought(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED(CONTROL_A_B,
                 {MST_PAGE_ANGLES, "a.csv", "1",
                  mst_arena_printf(arena, "%sA,B,0,90,100,1.5,1.5\nA,P,315,90,50,1.5,\nA,Q,315,90,60,,1.5\n", SIGHTS)});
    assert_true(point_of(a, "P")->has_plan);
    assert_false(point_of(a, "P")->has_height);     /* was 11.5 */
    NEAR(point_of(a, "Q")->elevation_m, 10, 0.002); /* was 8.5: the instrument stands where it stood */
    assert_int_equal(a->left_out_count, 1);
    assert_int_equal(a->left_out[0].row, 3);
    assert_non_null(strstr(a->left_out[0].sentence, "target's height"));
    assert_int_equal(a->suspect_count, 0);
}

static void a_set_up_without_the_instruments_height(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED(CONTROL_A_B, {MST_PAGE_ANGLES, "a.csv", "1",
                               mst_arena_printf(arena, "%sA,B,0,90,100,,1.5\nA,P,315,90,50,,1.5\n", SIGHTS)});
    assert_true(point_of(a, "P")->has_plan && !point_of(a, "P")->has_height);
    assert_int_equal(a->suspect_count, 0); /* no innocent zenith angle is blamed */
    assert_int_equal(a->left_out_count, 1);
    assert_non_null(strstr(a->left_out[0].sentence, "instrument's height"));
}

/* No column at all: the marks themselves were sighted, and the instrument's height is booked later than the first row.
 */
static void a_page_without_a_column_for_targets(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED(CONTROL_A_B, {MST_PAGE_ANGLES, "a.csv", "1",
                               "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m)\n"
                               "A,B,0,90.859295,100.011,\nA,P,315,90,50,1.5\n"});
    NEAR(point_of(a, "P")->elevation_m, 11.5, 0.002);
    assert_int_equal(a->left_out_count, 0);
}

/* Nothing says that the rows of a station stand together: those of one round share their zero. */
static void a_round_is_found_again_behind_another_station(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(CONTROL_A_B, {MST_PAGE_ANGLES, "a.csv", "1",
                                               "at,to,circle (deg),zenith (deg),slope distance (m),round\n"
                                               "A,B,0,90,,1\nB,A,0,90,,1\nA,P,315,90,50,1\n"});
    at(a, "P", 50 * sqrt(0.5), 50 * sqrt(0.5), 0.005);
    a = ADJUSTED(CONTROL_A_B, {MST_PAGE_ANGLES, "a.csv", "1",
                               "at,to,circle (deg),zenith (deg),slope distance (m)\n"
                               "A,B,0,90,\nB,A,0,90,\nA,P,315,90,50\n"});
    assert_false(point_of(a, "P")->has_plan);
    assert_int_equal(a->undetermined_count, 1);
    assert_non_null(strstr(a->undetermined_why[0], "same round"));
}

#define FRAME_2                                                                                                        \
    { MST_PAGE_POINTS, "p.csv", "2", "point,easting (m),northing (m),elevation (m)\nA,10,20,3\nB,30,20,4\nC,30,40,5\n" }

static void a_tape_page_has_no_frame_of_its_own(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m),sd (m)\nA,B,20.0,0.01\nB,C,20.01,0.01\n"}, FRAME_2);
    at(a, "A", 10, 20, 0.01);
    at(a, "B", 30, 20, 0.01);
    at(a, "C", 30, 40, 0.02);
    assert_non_null(strstr(a->datum, "visit '2'"));
    /* neither have a sensor's legs nor a book of levels from no known mark */
    a = ADJUSTED({MST_PAGE_LEGS, "l.csv", "1", "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,20,1,9\nB,C,-20,0,1,9\n"},
                 {MST_PAGE_LEVELS, "b.csv", "1", "point,backsight (m),foresight (m)\nA,2,\nB,,1\n"}, FRAME_2);
    at(a, "A", 10, 20, 0.02);
    at(a, "C", 30, 40, 0.02);
    NEAR(point_of(a, "A")->elevation_m, 3, 0.02);
    /* coordinates of something else are no frame for it */
    a = ADJUSTED({MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nX,Y,20\nY,Z,20\nX,Z,20\n"}, FRAME_2);
    at(a, "X", 0, 0, 1e-9);
    assert_true(point_of(a, "Z")->has_plan);
}

static void a_page_in_the_sites_frame_leaves_the_first_visit_its_own(void **state) {
    (void)state;
    const text_page pages[] = {
        {MST_PAGE_POINTS, "p.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,10,20,3\nB,30,20,4\n"},
        {MST_PAGE_POINTS, "z.csv", "2", "point,easting (m),northing (m),elevation (m)\nZ,1,2,3\n"}};
    mst_site *site = site_of(pages, 2);
    site->pages[1].site_frame = true;
    site->visits = (mst_visit[]){{1, "1"}, {2, "2"}};
    site->visit_count = 2;
    mst_adjustment *a = adjusted_site(site);
    at(a, "A", 10, 20, 1e-6);
    at(a, "B", 30, 20, 1e-6);
    at(a, "Z", 1, 2, 1e-6);
    NEAR(point_of(a, "B")->elevation_m, 4, 1e-6);
    assert_int_equal(a->undetermined_count, 0);
    assert_non_null(strstr(a->datum, "place of Z"));
    assert_non_null(strstr(a->datum, "visit '1'"));
}

/* 3, 4, 5: a right angle at B, so C lies at 4, 3 when it is to the right of the line from A due north to B. */
static void what_is_said_of_the_datum_is_so(void **state) {
    (void)state;
    static const char TAPES[] = "from,to,distance (m)\nA,B,3\nB,C,4\nA,C,5\n";
    mst_adjustment *a = ADJUSTED({MST_PAGE_TAPE, "t.csv", "1", TAPES});
    assert_non_null(strstr(a->datum, "A at 0, 0 with B due north of it and C to the right"));
    at(a, "B", 0, 3, 1e-6);
    at(a, "C", 4, 3, 1e-6);
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", TAPES});
    assert_non_null(strstr(a->datum, "C to the right"));
    at(a, "C", 104, 203, 1e-6);
    /* one point in common ties no frame: the legs count from their own first point, and that is at 0, 0 as said */
    a = ADJUSTED({MST_PAGE_LEGS, "l.csv", "1", "from,to,dx (m),dy (m),dz (m),time (s)\nA,Q,0,20,1,9\n"}, FRAME_2);
    assert_non_null(strstr(a->datum, "A at 0, 0"));
    at(a, "A", 0, 0, 1e-9);
}

static void an_assumed_level_is_said_to_be_one(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_LEVELS, "b.csv", "1", "point,backsight (m),foresight (m)\nBM1,2,\nP,,1\n"});
    assert_non_null(strstr(a->datum, "BM1 = 100.000 m, which is assumed"));
    assert_true(point_of(a, "BM1")->assumed_height && !point_of(a, "P")->assumed_height);
    NEAR(point_of(a, "P")->elevation_m, 101, 1e-9);
}

static void one_shared_name_asks_for_a_second(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED(CONTROL_A_B, {MST_PAGE_POINTS, "p.csv", "2", "point,easting (m),northing (m)\nA,7,7\nC,9,9\n"});
    assert_int_equal(a->undetermined_count, 1);
    assert_non_null(strstr(a->undetermined_why[0], "measure a second one there"));
}

/* Held twice at different places: both rows are named. */
static void two_held_places_are_both_named(void **state) {
    (void)state;
    mst_site *site =
        site_of((text_page[]){CONTROL_A_B,
                              {MST_PAGE_CONTROL, "d.csv", "2", "point,easting (m),northing (m)\nC,1,1\nA,0.5,0\n"}},
                2);
    mst_adjustment *a;
    assert_int_equal(mst_adjust(site, NULL, arena, &a, &error), MST_INVALID);
    assert_string_equal(error.page, "d.csv");
    assert_int_equal(error.row, 3);
    assert_non_null(strstr(error.sentence, "c.csv row 2"));
}

#define CASE(f) cmocka_unit_test_setup_teardown(f, open_arena, close_arena)
int main(void) {
    const struct CMUnitTest tests[] = {
        CASE(an_empty_height_is_not_nought),       CASE(a_set_up_without_the_instruments_height),
        CASE(a_page_without_a_column_for_targets), CASE(a_round_is_found_again_behind_another_station),
        CASE(a_tape_page_has_no_frame_of_its_own), CASE(a_page_in_the_sites_frame_leaves_the_first_visit_its_own),
        CASE(what_is_said_of_the_datum_is_so),     CASE(an_assumed_level_is_said_to_be_one),
        CASE(one_shared_name_asks_for_a_second),   CASE(two_held_places_are_both_named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
