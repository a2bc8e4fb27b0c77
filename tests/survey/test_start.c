/* First places where no single reading gives them: nets of tapes that meet the given points far apart, shapes of angles
 * without a length, visits that hang on each other by single points. The readings are computed from the places. */
#include "site_from_text.h"

static const double DEGREE = MST_PI / 180;
static const double P[9][2] = {{100, 200}, {131, 207}, {158, 199}, {104, 232}, {129, 236},
                               {163, 230}, {99, 262},  {133, 259}, {161, 266}};

static void at_truth(const mst_adjustment *a, int count, double by) {
    for (int i = 0; i < count; i++) {
        char name[] = {(char)('A' + i), 0};
        const mst_adjusted_point *p = point_of(a, name);
        if (!p->has_plan) show(a);
        assert_true(p->has_plan);
        NEAR(p->easting_m, P[i][0], by);
        NEAR(p->northing_m, P[i][1], by);
    }
}
static void add_tape(mst_text *t, int i, int j) {
    mst_text_printf(t, "%c,%c,%.5f\n", 'A' + i, 'A' + j, hypot(P[i][0] - P[j][0], P[i][1] - P[j][1]));
}

/* Nine points braced by tapes; A, C and H are given and no tape joins any two of them. */
static const int BRACED[][2] = {{0, 1}, {1, 2}, {0, 3}, {0, 4}, {1, 3}, {1, 4}, {1, 5}, {2, 4}, {2, 5}, {3, 4},
                                {4, 5}, {3, 6}, {3, 7}, {4, 6}, {4, 7}, {4, 8}, {5, 7}, {5, 8}, {6, 7}, {7, 8}};

static void tapes_that_join_no_two_given_points(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (size_t i = 0; i < sizeof BRACED / sizeof *BRACED; i++) add_tape(&t, BRACED[i][0], BRACED[i][1]);
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\nC,158,199\nH,133,259\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", t.data});
    at_truth(a, 9, 1e-3);
    /* with A and C alone the whole net may lie on either side of A-C: nobody can tell, and nothing is made up */
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\nC,158,199\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", t.data});
    assert_false(point_of(a, "E")->has_plan);
    assert_int_equal(a->undetermined_count, 7);
    assert_non_null(strstr(a->undetermined_why[0], "mirror"));
    /* one rough bearing is enough to tell */
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\nC,158,199\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", t.data},
                 {MST_PAGE_BEARINGS, "b.csv", "1", "from,to,bearing (deg),sd (deg)\nA,E,38.9,2\n"});
    at_truth(a, 9, 0.02);
    mst_text_free(&t);
}

static void add_round(mst_text *t, int at, const int to[], int count) {
    for (int k = 0; k < count; k++)
        mst_text_printf(t, "%c,%c,%.8f\n", 'A' + at, 'A' + to[k],
                        mst_angle_turn(atan2(P[to[k]][0] - P[at][0], P[to[k]][1] - P[at][1]) - 1 - at) / DEGREE);
}

/* Angles at five stations; A and I are given, and no sight joins them. */
static mst_adjustment *triangulated(const char *control) {
    mst_text t = {0};
    mst_text_string(&t, "at,to,circle (deg)\n");
    add_round(&t, 1, (int[]){0, 3, 4, 2}, 4);
    add_round(&t, 3, (int[]){0, 1, 4, 7, 6}, 5);
    add_round(&t, 4, (int[]){1, 2, 3, 5, 6, 7, 8}, 7);
    add_round(&t, 5, (int[]){2, 4, 7, 8}, 4);
    add_round(&t, 7, (int[]){3, 4, 5, 6, 8}, 5);
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", control}, {MST_PAGE_ANGLES, "a.csv", "1", t.data});
    mst_text_free(&t);
    return a;
}

static void angles_without_a_length(void **state) {
    (void)state;
    at_truth(triangulated("point,easting (m),northing (m)\nA,100,200\nI,161,266\n"), 9, 1e-4);
    mst_adjustment *a = triangulated("point,easting (m),northing (m)\nA,100,200\n");
    assert_false(point_of(a, "E")->has_plan);
    bool size = false;
    for (size_t i = 0; i < a->undetermined_count; i++) size |= strstr(a->undetermined_why[i], "how large") != NULL;
    if (!size) show(a);
    assert_true(size);
}

/* Visit 1 has A, C and B; visit 2 has A, D and H; visit 3 has H, I and C: a gate on three hinges. */
static void add_frame(mst_text *t, const int points[], int count, double turn) {
    mst_text_string(t, "point,easting (m),northing (m)\n");
    for (int k = 0; k < count; k++) {
        double e = P[points[k]][0] - 110, n = P[points[k]][1] - 190;
        mst_text_printf(t, "%c,%.5f,%.5f\n", 'A' + points[k], e * cos(turn) - n * sin(turn),
                        e * sin(turn) + n * cos(turn));
    }
}

static void three_visits_on_single_hinges(void **state) {
    (void)state;
    mst_text one = {0}, two = {0}, three = {0}, tape = {0};
    add_frame(&one, (int[]){0, 1, 2}, 3, 0);
    add_frame(&two, (int[]){0, 3, 7}, 3, 1);
    add_frame(&three, (int[]){7, 8, 2}, 3, 4);
    mst_text_string(&tape, "from,to,distance (m)\n");
    add_tape(&tape, 1, 3);
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\nB,131,207\n"},
                 {MST_PAGE_POINTS, "1.csv", "1", one.data}, {MST_PAGE_POINTS, "2.csv", "2", two.data},
                 {MST_PAGE_POINTS, "3.csv", "3", three.data}, {MST_PAGE_TAPE, "t.csv", "3", tape.data});
    for (int i = 0; i < 4; i++) {
        static const int WHICH[] = {2, 3, 7, 8};
        char name[] = {(char)('A' + WHICH[i]), 0};
        assert_true(point_of(a, name)->has_plan);
        NEAR(point_of(a, name)->easting_m, P[WHICH[i]][0], 1e-3);
        NEAR(point_of(a, name)->northing_m, P[WHICH[i]][1], 1e-3);
    }
    /* without the tape the gate may stand on either side of A-C */
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,100,200\nB,131,207\n"},
                 {MST_PAGE_POINTS, "1.csv", "1", one.data}, {MST_PAGE_POINTS, "2.csv", "2", two.data},
                 {MST_PAGE_POINTS, "3.csv", "3", three.data});
    assert_false(point_of(a, "H")->has_plan);
    mst_text_free(&one);
    mst_text_free(&two);
    mst_text_free(&three);
    mst_text_free(&tape);
}

/* ---- nothing held ---- */

static mst_adjustment *with_options(const mst_site *site, bool free_datum) {
    mst_adjust_options options = {.free_datum = free_datum};
    mst_adjustment *a = NULL;
    assert_int_equal(mst_adjust(site, &options, arena, &a, &error), MST_OK);
    return a;
}

/* The sum of all variances is the least that any datum gives, and the same whichever point came first; what does not
 * depend on the datum, a length or an area, keeps its variance (Mikhail and Gracie 1981, inner constraints). */
static void a_free_network_counts_from_its_middle(void **state) {
    (void)state;
    double trace[2], held[2], length[2];
    for (int order = 0; order < 2; order++) {
        mst_text t = {0};
        mst_text_string(&t, "from,to,distance (m)\n");
        size_t count = sizeof BRACED / sizeof *BRACED;
        for (size_t i = 0; i < count; i++) {
            const int *pair = BRACED[order ? count - 1 - i : i];
            add_tape(&t, pair[0], pair[1]);
        }
        const text_page page = {MST_PAGE_TAPE, "t.csv", "1", t.data};
        const mst_site *site = site_of(&page, 1);
        mst_adjustment *minimal = with_options(site, false), *a = with_options(site, true);
        mst_text_free(&t);
        assert_non_null(strstr(a->datum, "middle of the network"));
        trace[order] = held[order] = 0;
        for (size_t i = 0; i < a->point_count; i++) {
            const mst_adjusted_point *p = &a->points[i], *m = &minimal->points[i];
            trace[order] += p->sd_easting_m * p->sd_easting_m + p->sd_northing_m * p->sd_northing_m;
            held[order] += m->sd_easting_m * m->sd_easting_m + m->sd_northing_m * m->sd_northing_m;
            NEAR(p->easting_m, m->easting_m, 0);
            assert_true(p->sd_easting_m > 0 && p->sd_northing_m > 0);
        }
        mst_vertex v[] = {{.point = "A"}, {.point = "E"}, {.point = "I"}, {.point = "C"}};
        mst_feature lot = {
            .name = "lot", .code = "", .page = "", .kind = MST_FEATURE_AREA, .vertices = v, .vertex_count = 4};
        mst_measure m[2];
        assert_int_equal(mst_feature_measure(&lot, minimal, arena, &m[0], &error), MST_OK);
        assert_int_equal(mst_feature_measure(&lot, a, arena, &m[1], &error), MST_OK);
        NEAR(m[1].area_m2.high, m[0].area_m2.high, 1e-6);
        NEAR(m[1].length_m.high, m[0].length_m.high, 1e-9);
        length[order] = m[1].length_m.high;
    }
    NEAR(trace[0], trace[1], 1e-9);
    NEAR(length[0], length[1], 1e-7);
    assert_true(trace[0] < held[0] && trace[0] < held[1]);
}

/* Three levels in a triangle of differences of 1 mm. By hand: the pseudo-inverse of the triangle's normal matrix [2 -1
 * -1; -1 2 -1; -1 -1 2] has 2/9 on its diagonal. */
static void a_free_triangle_of_levels(void **state) {
    (void)state;
    const text_page page = {MST_PAGE_HEIGHTS, "h.csv", "1",
                            "from,to,difference (m),sd (mm)\nA,B,1,1\nB,C,1,1\nC,A,-2,1\n"};
    mst_adjustment *a = with_options(site_of(&page, 1), true);
    for (size_t i = 0; i < 3; i++) NEAR(a->points[i].sd_elevation_m, 0.001 * sqrt(2.0 / 9), 1e-9);
    const mst_gradient_term difference[] = {{0, 0, 0, -1}, {1, 0, 0, 1}};
    double variance;
    assert_int_equal(mst_adjustment_variance(a, difference, 2, &variance, &error), MST_OK);
    NEAR(sqrt(variance), 0.001 * sqrt(2.0 / 3), 1e-9); /* one direct, two round: 1 / (1 + 1/2) */
    NEAR(point_of(a, "A")->elevation_m, 100, 0);
}

static void stays_open(const char *rows, mst_page_kind kind, const char *name, const char *words) {
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,100,0\nC,100,100\nD,0,0\n"},
                 {kind, "r.csv", "1", rows});
    if (point_of(a, name)->has_plan) show(a);
    assert_false(point_of(a, name)->has_plan);
    assert_int_equal(a->undetermined_count, 1);
    if (!strstr(a->undetermined_why[0], words)) fail_msg("'%s' says nothing of '%s'", a->undetermined_why[0], words);
}

/* Readings enough in number and yet no place: plane geometry; the danger circle as in any text on resection (Ghilani
 * and Wolf, Elementary Surveying, from memory). Two sights that part meet only behind: once they ran off to infinity.
 */
static void what_readings_cannot_fix_is_said(void **state) {
    (void)state;
    stays_open("from,to,bearing (deg)\nA,P,350\nB,P,10\n", MST_PAGE_BEARINGS, "P", "half a turn");
    stays_open("from,to,bearing (deg)\nA,P,0\nB,P,0\n", MST_PAGE_BEARINGS, "P", "do not cross");
    stays_open("from,to,distance (m)\nA,P,30\nB,P,30\n", MST_PAGE_TAPE, "P", "too short to meet");
    stays_open("from,to,distance (m)\nA,P,130\nB,P,10\n", MST_PAGE_TAPE, "P", "so much longer");
    stays_open("from,to,distance (m)\nA,P,30\nD,P,30\n", MST_PAGE_TAPE, "P", "stand at one place");
    stays_open("from,to,distance (m)\nA,P,80\nB,P,70\n", MST_PAGE_TAPE, "P", "both sides");
    stays_open("at,to,circle (deg)\nP,A,0\nP,C,90\nP,B,45\n", MST_PAGE_ANGLES, "P", "circle with the points");
    stays_open("at,to,circle (deg)\nP,A,0\nP,C,90\n", MST_PAGE_ANGLES, "P", "sight a third");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(tapes_that_join_no_two_given_points, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(angles_without_a_length, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(three_visits_on_single_hinges, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_free_network_counts_from_its_middle, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(what_readings_cannot_fix_is_said, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_free_triangle_of_levels, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
