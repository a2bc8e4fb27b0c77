/* The adjustment on small sites of every kind. Expected places are those that the readings were computed from, by hand
 * or here with plain trigonometry; published examples stand in tests/published. */
#include "site_from_text.h"

static const double DEGREE = MST_PI / 180;

static bool is_undetermined(const mst_adjustment *a, const char *name, const char *part) {
    for (size_t i = 0; i < a->undetermined_count; i++)
        if (strcmp(a->undetermined[i], name) == 0) {
            if (!strstr(a->undetermined_why[i], part)) print_message("%s: %s\n", name, a->undetermined_why[i]);
            return strstr(a->undetermined_why[i], part) != NULL;
        }
    return false;
}
static void at(const mst_adjustment *a, const char *name, double e, double n, double by) {
    const mst_adjusted_point *p = point_of(a, name);
    NEAR(p->easting_m, e, by);
    NEAR(p->northing_m, n, by);
}

/* ---- frames and visits ---- */

static void nothing_held_the_first_visits_frame_is_the_sites(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_POINTS, "p.csv", "1",
                                  "point,easting (m),northing (m),elevation (m)\nA,500100,200,10\nB,500150,240,11\n"});
    at(a, "A", 500100, 200, 1e-9);
    at(a, "B", 500150, 240, 1e-9);
    NEAR(point_of(a, "B")->elevation_m, 11, 1e-12);
    assert_int_equal(a->degrees_of_freedom, 0);
    assert_true(a->sigma0 == 1 && a->global_test.passed);
    NEAR(point_of(a, "A")->sd_easting_m, 0.010, 1e-12);
    assert_non_null(strstr(a->datum, "visit '1'"));
    assert_int_equal(point_of(a, "A")->readings, 1);
}

/* The second visit is turned by 30 degrees and shifted; it shares B and C. (E, N) = shift + turn of (x, y). */
static void two_visits_tied_by_two_points(void **state) {
    (void)state;
    const double p[4][2] = {{0, 0}, {40, 0}, {40, 30}, {10, 55}};
    const char *names[] = {"A", "B", "C", "D"};
    mst_text second = {0};
    mst_text_string(&second, "point,easting (m),northing (m),elevation (m)\n");
    double turn = 30 * DEGREE, c = cos(turn), s = sin(turn);
    for (int i = 1; i < 4; i++) {
        double e = p[i][0] - 1000, n = p[i][1] + 2000; /* x such that turning clockwise by 30 degrees gives e, n */
        mst_text_printf(&second, "%s,%.9f,%.9f,%.4f\n", names[i], e * c - n * s, e * s + n * c, i + 5.0);
    }
    mst_adjustment *a = ADJUSTED({MST_PAGE_POINTS, "b.csv", "2", second.data},
                                 {MST_PAGE_POINTS, "a.csv", "1",
                                  "point,easting (m),northing (m),elevation (m)\nA,0,0,1\nB,40,0,2\nC,40,30,3\n"});
    mst_text_free(&second);
    /* without a list of visits the pages' own order counts: visit 2 came first and gives the frame */
    assert_non_null(strstr(a->datum, "visit '2'"));
    const mst_adjusted_point *A = point_of(a, "A"), *D = point_of(a, "D");
    NEAR(hypot(A->easting_m - D->easting_m, A->northing_m - D->northing_m), hypot(10, 55), 1e-6);
    NEAR(A->elevation_m, 5, 1e-9);
    assert_int_equal(a->degrees_of_freedom, 1 + 1);
    assert_int_equal(a->frame_count, 2);
    NEAR(fabs(mst_angle_signed(a->frames[1].turn_rad - a->frames[0].turn_rad)), turn, 1e-7);
}

/* A chain: visit 3 knows visit 1 only through visit 2, which hangs on a free set-up that saw the control. Truth: A
 * 100,100; B 120,100; S 110,90; C 100,80; D 120,80; E 100,50; F 120,50; G 110,50. */
static void a_chain_of_visits_in_any_order(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_POINTS, "3.csv", "3", "point,easting (m),northing (m)\nE,0,0\nF,-20,0\nG,-10,0\n"}, /* half a turn */
        {MST_PAGE_POINTS, "2.csv", "2",
         "point,easting (m),northing (m)\nC,0,0\nD,0,20\nE,30,0\nF,30,20\n"}, /* a quarter turn */
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,100\nB,120,100\n"},
        {MST_PAGE_ANGLES, "s.csv", "1",
         "at,to,circle (deg),zenith (deg),slope distance (m)\nS,A,315,90,14.142135624\nS,B,45,90,14.142135624\n"
         "S,C,225,90,14.142135624\nS,D,135,90,14.142135624\n"});
    at(a, "S", 110, 90, 1e-6);
    at(a, "F", 120, 50, 1e-6);
    at(a, "G", 110, 50, 1e-6);
    assert_int_equal(a->undetermined_count, 0);
}

static void held_control_and_sights(void **state) {
    (void)state;
    /* S at 1000, 2000, 50; target T 100 m off at bearing 60, 2 m higher; circle zero at bearing 10 */
    mst_text sights = {0};
    double slope = hypot(100, 2.5), zenith = atan2(100, 2.5) / DEGREE;
    mst_text_printf(&sights,
                    "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n"
                    "S,R,350,90,200,1.5,1.5\nS,T,50,%.10f,%.9f,1.5,2.0\nS,T,230,%.10f,%.9f,1.5,2.0\n",
                    zenith, slope, 360 - zenith, slope);
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1",
                                  "point,easting (m),northing (m),elevation (m)\nS,1000,2000,50\nR,1000,2200,\n"},
                                 {MST_PAGE_ANGLES, "a.csv", "1", sights.data});
    mst_text_free(&sights);
    const mst_adjusted_point *t = point_of(a, "T");
    at(a, "T", 1000 + 100 * sin(60 * DEGREE), 2000 + 100 * cos(60 * DEGREE), 2e-5); /* curvature tilts the slope */
    NEAR(t->elevation_m, 52 + 0.86 * 100 * 100 / (2 * 6371000.0), 1e-6); /* curvature less refraction, 0.7 mm */
    NEAR(point_of(a, "R")->elevation_m, 50 + 0.86 * 200 * 200 / (2 * 6371000.0), 1e-6);
    assert_int_equal(t->readings, 2);
    assert_true(point_of(a, "S")->held_plan && point_of(a, "S")->sd_easting_m == 0);
    assert_string_equal(result_of(a, "a.csv", 4, "zenith")->kind, "zenith");
    NEAR(result_of(a, "a.csv", 4, "direction")->observed, 50 * DEGREE, 1e-12); /* face right brought to face left */
}

static void free_station_between_two_known_points(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,100\nB,130,100\n"},
                 {MST_PAGE_ANGLES, "s.csv", "1",
                  "at,to,circle (deg),zenith (deg),slope distance (m)\nS,A,10,90,30\nS,B,100,90,40\nS,P,190,90,10\n"});
    (void)a; /* 30-40-50 does not fit 30: the adjustment must still end, and say so */
    assert_false(a->global_test.passed);
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,100\nB,150,100\n"},
                 {MST_PAGE_ANGLES, "s.csv", "1",
                  "at,to,circle (deg),zenith (deg),slope distance (m)\nS,A,10,90,30\nS,B,100,90,40\nS,P,190,90,10\n"});
    /* S is south of the line, since the circle runs clockwise from A to B: 18 m along, 24 m aside */
    at(a, "S", 118, 76, 1e-6);
    at(a, "P", 118 + 10 * 18 / 30.0, 76 - 10 * 24 / 30.0, 1e-6); /* opposite of A */
    assert_int_equal(a->degrees_of_freedom, 1);
}

static void three_directions_resect(void **state) {
    (void)state;
    const double known[3][2] = {{0, 0}, {80, 60}, {100, -20}};
    mst_text sights = {0};
    mst_text_string(&sights, "at,to,circle (deg)\n");
    for (int i = 0; i < 3; i++)
        mst_text_printf(&sights, "S,%c,%.10f\n", 'A' + i,
                        mst_angle_turn(atan2(known[i][0] - 30, known[i][1] + 70) + 2) / DEGREE);
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,80,60\nC,100,-20\n"},
                 {MST_PAGE_ANGLES, "s.csv", "1", sights.data});
    mst_text_free(&sights);
    at(a, "S", 30, -70, 1e-5);
}

static void legs_have_a_heading_of_their_own(void **state) {
    (void)state;
    /* a square of 20 m walked with x forward; control says that x points east */
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,5\nC,20,-20,\n"},
        {MST_PAGE_LEGS, "l.csv", "2",
         "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,20,0.5,10\nB,C,20,0,0.5,10\nC,D,0,-20,0,10\nD,A,-20,0,-1,10\n"});
    at(a, "B", 20, 0, 1e-6);
    at(a, "D", 0, -20, 1e-6);
    NEAR(point_of(a, "C")->elevation_m, 6, 1e-9);
    NEAR(a->frames[0].turn_rad, MST_PI / 2, 1e-7);
    a = ADJUSTED({MST_PAGE_LEGS, "l.csv", "2",
                  "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,20,0.5,10\nB,C,20,0,0.5,10\nC,A,-20,-20,-1,10\n"});
    at(a, "A", 0, 0, 0);
    at(a, "C", 20, 20, 1e-9);
    NEAR(point_of(a, "C")->elevation_m, 1, 1e-9);
    assert_int_equal(a->degrees_of_freedom, 3);
}

/* ---- tapes, bearings, offsets ---- */

static void tapes_alone_pick_a_side_and_say_so(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,40\nA,C,50\nB,C,30\nA,D,30\nB,D,50\nC,D,40\n"});
    at(a, "A", 0, 0, 0);
    at(a, "B", 0, 40, 1e-6);
    at(a, "C", 30, 40, 1e-6);
    at(a, "D", 30, 0, 1e-6);
    assert_int_equal(a->degrees_of_freedom, 1);
    assert_non_null(strstr(a->datum, "mirror"));
}

static void two_ties_leave_a_mirror_unless_a_third_tells(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,50,0\nK,20,40\n"},
        {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,P,30\nB,P,40\nA,Q,30\nB,Q,40\nK,Q,16.124515\n"});
    assert_true(is_undetermined(a, "P", "both sides"));
    assert_false(point_of(a, "P")->has_plan);
    assert_true(isnan(point_of(a, "P")->easting_m));
    at(a, "Q", 18, 24, 1e-5);
    assert_int_equal(a->left_out_count, 2);
}

static void mirrored_points_settle_each_other(void **state) {
    (void)state;
    /* P is mirrored over A-B, Q over B-C; the tape P-Q fits one of four ways */
    mst_text t = {0};
    mst_text_printf(&t, "from,to,distance (m)\nA,P,%.6f\nB,P,%.6f\nB,Q,%.6f\nC,Q,%.6f\nP,Q,%.6f\n", hypot(18, 24),
                    hypot(32, 24), hypot(10, 20), hypot(10, 40), hypot(42, 4));
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,50,0\nC,50,60\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", t.data});
    mst_text_free(&t);
    at(a, "P", 18, 24, 1e-5);
    at(a, "Q", 60, 20, 1e-5);
}

static void offsets_from_a_baseline(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,40,30\n"},
                                 {MST_PAGE_OFFSETS, "o.csv", "1",
                                  "from,to,chainage (m),offset (m),point,code\nA,B,25,10,X,tree\nA,B,50,0,B,\n"});
    at(a, "X", 26, 7, 1e-9); /* T04-H */
    assert_string_equal(point_of(a, "X")->code, "tree");
    assert_string_equal(result_of(a, "o.csv", 3, "distance")->from, "A");
    a = ADJUSTED({MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,50\n"},
                 {MST_PAGE_OFFSETS, "o.csv", "1", "from,to,chainage (m),offset (m),point\nA,B,25,10,X\nA,B,10,-4,Y\n"});
    at(a, "B", 0, 50, 1e-9);
    at(a, "X", 10, 25, 1e-9);
    at(a, "Y", -4, 10, 1e-9);
}

static void bearings_alone_and_with_a_swing(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_BEARINGS, "b.csv", "1",
                  "from,to,bearing (dms),distance (m)\nA,B,90-00-00,30\nB,C,0-00-00,40\nC,A,216-52-11.6,50\n"});
    at(a, "A", 0, 0, 0);
    at(a, "C", 30, 40, 1e-3);
    assert_int_equal(a->degrees_of_freedom, 2);
    /* a compass that is 5 degrees off, on a site whose heading the first visit gives */
    a = ADJUSTED({MST_PAGE_POINTS, "p.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,30,0\n"},
                 {MST_PAGE_BEARINGS, "b.csv", "2", "from,to,bearing (deg),distance (m)\nA,B,95,30\nB,C,5,40\n"});
    at(a, "C", 30, 40, 1e-6);
    NEAR(a->frames[1].turn_rad, -5 * DEGREE, 1e-7);
}

static void a_slope_tape_needs_both_levels(void **state) {
    (void)state;
    /* P at 18, 24, 5 m above A and B; R has no level */
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1",
                                  "point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,50,0,10\nK,18,60,15\n"},
                                 {MST_PAGE_HEIGHTS, "h.csv", "1", "from,to,difference (m)\nA,P,5\n"},
                                 {MST_PAGE_TAPE, "t.csv", "1",
                                  "from,to,distance (m),slope\nA,P,30.413812651,yes\nB,P,40.311288742,yes\nK,P,36,no\n"
                                  "B,R,20,yes\nA,R,30,yes\nA,K,5,no\n"});
    at(a, "P", 18, 24, 1e-6);
    NEAR(point_of(a, "P")->elevation_m, 15, 1e-6);
    assert_true(is_undetermined(a, "R", "nothing ties it in plan"));
    assert_int_equal(a->left_out_count, 2);
    assert_non_null(
        strstr(a->left_out[0].sentence, "slope tape B-R on visit 1 (t.csv row 5) did not count: R has no place"));
}

/* ---- levels ---- */

static void a_level_book_with_two_set_ups(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_LEVELS, "l.csv", "1",
         "point,backsight (m),intermediate (m),foresight (m)\nBM,1.500,,\nP,,1.200,\nTP,2.000,,1.000\nQ,,,0.500\n"});
    NEAR(point_of(a, "BM")->elevation_m, 100, 0);
    NEAR(point_of(a, "P")->elevation_m, 100.3, 1e-9);
    NEAR(point_of(a, "TP")->elevation_m, 100.5, 1e-9);
    NEAR(point_of(a, "Q")->elevation_m, 102, 1e-9);
    NEAR(point_of(a, "Q")->sd_elevation_m, 0.0015 * 2, 1e-9); /* four readings of 1.5 mm */
    assert_false(point_of(a, "Q")->has_plan);
    assert_non_null(strstr(a->datum, "BM = 100.000 m"));
}

static void a_row_set_aside_does_not_join_two_set_ups(void **state) {
    (void)state;
    mst_site *site = site_of(
        (text_page[]){{MST_PAGE_LEVELS, "l.csv", "1",
                       "point,backsight (m),intermediate (m),foresight (m)\nBM,1.500,,\nTP,2.000,,1.000\nQ,,,0.500\n"}},
        1);
    site->pages[0].rows[1].set_aside = "staff slipped";
    mst_adjustment *a = adjusted_site(site);
    assert_true(is_undetermined(a, "Q", "level"));
    assert_true(isnan(point_of(a, "Q")->elevation_m));
}

static void a_set_up_without_a_place_still_carries_levels(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nBM,0,0,10\nX,9,9,\n"},
                 {MST_PAGE_ANGLES, "a.csv", "1",
                  "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n"
                  "S,BM,0,90,20,1.5,1.5\nS,P,40,80,30,1.5,1.5\n"});
    assert_true(is_undetermined(a, "P", "free to turn about it; measure S from X"));
    NEAR(point_of(a, "P")->elevation_m, 10 + 30 * cos(80 * DEGREE), 1e-3);
}

/* ---- suspects ---- */

static mst_adjustment *braced_square(double slip) {
    mst_text t = {0};
    const double p[5][2] = {{0, 0}, {0, 30}, {40, 30}, {40, 0}, {15, 12}};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (int i = 0; i < 5; i++)
        for (int j = i + 1; j < 5; j++)
            mst_text_printf(&t, "%c,%c,%.4f\n", 'A' + i, 'A' + j,
                            hypot(p[i][0] - p[j][0], p[i][1] - p[j][1]) + (i == 1 && j == 3 ? slip : 0));
    mst_adjustment *a = ADJUSTED({MST_PAGE_TAPE, "tape.csv", "2", t.data});
    mst_text_free(&t);
    return a;
}

static void a_metre_too_long_is_named(void **state) {
    (void)state;
    mst_adjustment *a = braced_square(1.00);
    assert_int_equal(a->suspect_count, 1);
    assert_true(a->suspects[0].alone);
    NEAR(a->suspects[0].estimated_error, 1.00, 0.01);
    assert_int_equal(a->observations[a->suspects[0].observation].row, 7);
    assert_string_equal(
        a->suspects[0].sentence,
        "The tape B-D on visit 2 (tape.csv row 7) is about 1.00 m long; a whole metre is the usual slip.");
    assert_false(a->global_test.passed);
    assert_int_equal(a->observation_count, 10); /* it still counts: nothing is dropped */
    a = braced_square(-0.45);                   /* 50.00 booked as 49.55: short */
    assert_int_equal(a->suspect_count, 1);
    assert_non_null(strstr(a->suspects[0].sentence, "0.45 m short"));
    assert_int_equal(braced_square(0)->suspect_count, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(nothing_held_the_first_visits_frame_is_the_sites, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_visits_tied_by_two_points, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_chain_of_visits_in_any_order, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(held_control_and_sights, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(free_station_between_two_known_points, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(three_directions_resect, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(legs_have_a_heading_of_their_own, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(tapes_alone_pick_a_side_and_say_so, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_ties_leave_a_mirror_unless_a_third_tells, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(mirrored_points_settle_each_other, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(offsets_from_a_baseline, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(bearings_alone_and_with_a_swing, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_slope_tape_needs_both_levels, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_level_book_with_two_set_ups, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_row_set_aside_does_not_join_two_set_ups, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_set_up_without_a_place_still_carries_levels, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_metre_too_long_is_named, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
