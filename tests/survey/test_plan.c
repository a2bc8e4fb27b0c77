/* A planned visit: what it promises must be what the same readings, taken, would give; what is advised must reach the
 * aim and hold nothing needless. */
#include "site_from_text.h"

static mst_site *empty_site(void) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    site->arena = arena;
    return site;
}
static mst_visit_plan plan_of(const mst_site *site, const mst_adjustment *known, const char *text) {
    mst_page page;
    mst_visit_plan plan;
    error = (mst_error){0};
    assert_int_equal(mst_page_read(MST_PAGE_PLAN, "plan.csv", text, strlen(text), NULL, arena, &page, &error), MST_OK);
    assert_int_equal(mst_plan_read(&page, site, known, arena, &plan, &error), MST_OK);
    return plan;
}
static mst_adjustment *expected_of(const mst_visit_plan *plan) {
    mst_adjustment *a = NULL;
    error = (mst_error){0};
    mst_status status = mst_plan_adjust(plan, NULL, arena, &a, &error);
    if (status) print_message("%s:%d %s\n", error.page, error.row, error.sentence);
    assert_int_equal(status, MST_OK);
    return a;
}

static const char SKETCH[] = "reading,from,to,easting (m),northing (m),elevation (m),gear,minutes\n"
                             "held,A,,0,0,10,,\nheld,B,,50,0,,,\nheld,K,,20,50,,,\npoint,P,,18,24,11,,\n";

/* Two ties of 30 m and 40 m that cut squarely: each alone fixes one direction of P, so the ellipse's axes are the two
 * sd, hypot(5 mm, 500 ppm) of the fibreglass tape: 15.8 mm and 20.6 mm. The third, rough tie only tells the side. */
static void two_square_ties(void **state) {
    (void)state;
    mst_visit_plan plan =
        plan_of(empty_site(), NULL,
                mst_arena_printf(arena, "%stape,A,P,,,,,\ntape,B,P,,,,,\ntape,K,P,,,,measuring-wheel,\n", SKETCH));
    const mst_adjustment *a = expected_of(&plan);
    const mst_adjusted_point *p = point_of(a, "P");
    NEAR(p->easting_m, 18, 1e-6);
    NEAR(p->northing_m, 24, 1e-6);
    double s30 = hypot(0.005, 30 * 500e-6), s40 = hypot(0.005, 40 * 500e-6),
           third = hypot(0.02, 3000e-6 * hypot(2, 26));
    assert_true(third > 3 * s40);
    NEAR(p->semi_major_m, s40, 0.05 * s40);
    NEAR(p->semi_minor_m, s30, 0.05 * s30);
    NEAR(mst_plan_precision(a, &(mst_sketched){.name = "P", .elevation_m = NAN}), 2.4477 * p->semi_major_m, 1e-5);
    assert_true(
        isinf(mst_plan_precision(a, &plan.points[3]))); /* the sketch wants a level, and no reading brings one */
    assert_int_equal(a->suspect_count, 0);
}

/* The same two ties without the third: the sketch tells the side and nothing else, so the precision is that of the
 * ties, and what one tie leaves open stays open. */
static void the_sketch_tells_the_side(void **state) {
    (void)state;
    mst_visit_plan plan =
        plan_of(empty_site(), NULL,
                mst_arena_printf(arena, "%spoint,Q,,10,30,,,\ntape,A,P,,,,,\ntape,B,P,,,,,\ntape,A,Q,,,,,\n", SKETCH));
    const mst_adjustment *a = expected_of(&plan);
    const mst_adjusted_point *p = point_of(a, "P");
    NEAR(p->easting_m, 18, 1e-6);
    NEAR(p->northing_m, 24, 1e-6);
    NEAR(p->semi_major_m, hypot(0.005, 40 * 500e-6), 1e-6);
    NEAR(p->semi_minor_m, hypot(0.005, 30 * 500e-6), 1e-6);
    assert_int_equal(p->readings, 2);
    assert_int_equal(a->by_sketch_count, 1);
    assert_string_equal(a->by_sketch[0], "P");
    assert_int_equal(a->undetermined_count, 1);
    assert_string_equal(a->undetermined[0], "Q");
    assert_false(point_of(a, "Q")->has_plan);
}

/* The promise held against readings as taken, values off by some mm: the same sd before scaling. */
static void the_promise_is_kept(void **state) {
    (void)state;
    mst_visit_plan plan = plan_of(empty_site(), NULL,
                                  mst_arena_printf(arena,
                                                   "%ssight,A,P,,,,,\nsight,A,B,,,,,\nsight,A,K,,,,,\nlevel,A,P,,,,,\n"
                                                   "bearing,B,P,,,,,\n",
                                                   SKETCH));
    const mst_adjusted_point *promised = point_of(expected_of(&plan), "P");
    const mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,50,0,\nK,20,50,\n"},
        {MST_PAGE_ANGLES, "a.csv", "1",
         "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n"
         "A,P,36.872,88.09,30.013,1.5,1.5\nA,B,90.002,90.1,50.001,1.5,1.5\nA,K,21.803,90.05,53.853,1.5,1.5\n"},
        {MST_PAGE_HEIGHTS, "h.csv", "1", "from,to,difference (m)\nA,P,1.001\n"},
        {MST_PAGE_BEARINGS, "b.csv", "1", "from,to,bearing (deg)\nB,P,306.868\n"});
    const mst_adjusted_point *taken = point_of(a, "P");
    NEAR(promised->sd_easting_m, taken->sd_easting_m / a->scale, 1e-5);
    NEAR(promised->sd_northing_m, taken->sd_northing_m / a->scale, 1e-5);
    NEAR(promised->sd_elevation_m, taken->sd_elevation_m / a->scale, 1e-5);
}

static bool within(const mst_visit_plan *plan, double aim) {
    const mst_adjustment *a = expected_of(plan);
    for (size_t i = 0; i < plan->point_count; i++)
        if (!(mst_plan_precision(a, &plan->points[i]) <= aim)) return false;
    return true;
}

static void the_advice_reaches_its_aim(void **state) {
    (void)state;
    mst_visit_plan plan = plan_of(
        empty_site(), NULL,
        mst_arena_printf(arena, "%spoint,Q,,33,24,11,,\ntape,A,P,,,,,\ntape,B,P,,,,,\nlevel,A,P,,,,,\n", SKETCH));
    mst_advices advice;
    assert_false(within(&plan, 0.060));
    assert_int_equal(mst_plan_extend(&plan, 0.060, NULL, arena, &advice, &error), MST_OK);
    assert_true(advice.reached && advice.count > 0 && advice.after_m == 0 && advice.before_m > 0);
    assert_true(within(&plan, 0.060));
    for (size_t i = 0; i < advice.count; i++) {
        assert_true(advice.list[i].gain_m_per_minute > 0 && advice.list[i].minutes > 0);
        assert_true(advice.list[i].reading.kind == MST_PLAN_TAPE || advice.list[i].reading.kind == MST_PLAN_LEVEL);
    }
    for (size_t drop = plan.reading_count - advice.count; drop < plan.reading_count; drop++) { /* none is needless */
        mst_visit_plan less = plan;
        less.readings = mst_arena_array(arena, plan.reading_count, sizeof *less.readings);
        less.reading_count = 0;
        for (size_t i = 0; i < plan.reading_count; i++)
            if (i != drop) less.readings[less.reading_count++] = plan.readings[i];
        assert_false(within(&less, 0.060));
    }
    /* a tape of 5 mm at best, read again and again, reaches no tenth of a millimetre in forty readings */
    assert_int_equal(mst_plan_extend(&plan, 0.0001, NULL, arena, &advice, &error), MST_OK);
    assert_false(advice.reached);
    assert_int_equal(mst_plan_extend(&plan, 0, NULL, arena, &advice, &error), MST_INVALID);
}

/* A lot taped loosely at one corner: the best next reading goes to that corner and does what it says. */
static void the_next_reading_goes_where_it_helps(void **state) {
    (void)state;
    mst_site *site = site_of(
        (text_page[]){
            {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,20,0\nC,20,15\nK,-8,18\n"},
            {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m),sd (m)\nA,D,15,0.2\nC,D,20,0.2\nK,D,8.544,0.2\n"}},
        2);
    mst_adjustment *a = adjusted_site(site);
    mst_vertex v[] = {{.point = "A"}, {.point = "B"}, {.point = "C"}, {.point = "D"}};
    mst_feature lot = {
        .name = "lot", .code = "", .page = "", .kind = MST_FEATURE_AREA, .vertices = v, .vertex_count = 4};
    mst_advices next;
    assert_int_equal(mst_plan_next(site, a, &lot, 3, NULL, arena, &next, &error), MST_OK);
    assert_int_equal(next.count, 3);
    mst_measure m;
    assert_int_equal(mst_feature_measure(&lot, a, arena, &m, &error), MST_OK);
    NEAR(next.before_m, (m.area_m2.high - m.area_m2.value) / a->scale, 1e-9);
    for (size_t i = 0; i < next.count; i++) {
        const mst_advice *one = &next.list[i];
        assert_true(strcmp(one->reading.from, "D") == 0 || strcmp(one->reading.to, "D") == 0);
        assert_true(one->after_m < one->before_m);
        assert_true(i == 0 || one->gain_m_per_minute <= next.list[i - 1].gain_m_per_minute);
    }
    mst_visit_plan plan = {
        .site = site, .adjustment = a, .page = "", .readings = &next.list[0].reading, .reading_count = 1};
    const mst_adjustment *b = expected_of(&plan);
    assert_int_equal(mst_feature_measure(&lot, b, arena, &m, &error), MST_OK);
    NEAR(next.list[0].after_m, (m.area_m2.high - m.area_m2.value) / b->scale, 1e-9);
}

/* What is planned is computed, so nobody looks for mistakes in it: a slip in the site's own book changes no promise. */
static void a_plan_looks_for_no_mistakes(void **state) {
    (void)state;
    static const char *const BOOKS[] = {"from,to,distance (m)\nA,D,15\nC,D,20\nK,D,8.544\nB,D,25\nA,C,25\n",
                                        "from,to,distance (m)\nA,D,15\nC,D,20\nK,D,8.544\nB,D,26\nA,C,25\n"};
    double axis[2];
    for (int slip = 0; slip < 2; slip++) {
        mst_site *site = site_of((text_page[]){{MST_PAGE_CONTROL, "c.csv", "1",
                                                "point,easting (m),northing (m)\nA,0,0\nB,20,0\nC,20,15\nK,-8,18\n"},
                                               {MST_PAGE_TAPE, "t.csv", "1", BOOKS[slip]}},
                                 2);
        mst_adjustment *known = adjusted_site(site);
        assert_int_equal(known->suspect_count, slip);
        mst_visit_plan plan =
            plan_of(site, known, "reading,from,to,easting (m),northing (m)\npoint,D,,0,15\ntape,C,D,,\n");
        const mst_adjustment *expected = expected_of(&plan);
        assert_int_equal(expected->suspect_count, 0);
        assert_int_equal(expected->gear_factor_count, 0);
        axis[slip] = point_of(expected, "D")->semi_major_m / expected->scale;
    }
    NEAR(axis[1], axis[0], 1e-4);
}

static void a_plan_without_a_place_is_refused(void **state) {
    (void)state;
    mst_visit_plan plan = plan_of(empty_site(), NULL, mst_arena_printf(arena, "%stape,A,X,,,,,\n", SKETCH));
    mst_adjustment *a = NULL;
    assert_int_equal(mst_plan_adjust(&plan, NULL, arena, &a, &error), MST_INVALID);
    assert_int_equal(error.row, 6);
    assert_non_null(strstr(error.sentence, "'X' has no place yet"));
    static const char *const ROWS[] = {"point,Z,,,,,,\n", "tape,A,,,,,,\n", "place,A,B,,,,,\n", "tape,A,A,,,,,\n",
                                       "rope,A,B,,,,,\n"};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        const char *text = mst_arena_printf(arena, "%s%s", SKETCH, ROWS[i]);
        mst_page page;
        assert_int_equal(mst_page_read(MST_PAGE_PLAN, "plan.csv", text, strlen(text), NULL, arena, &page, &error),
                         MST_INVALID);
        assert_int_equal(error.row, 6);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_sketch_tells_the_side, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_square_ties, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_promise_is_kept, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_advice_reaches_its_aim, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_next_reading_goes_where_it_helps, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_plan_looks_for_no_mistakes, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_plan_without_a_place_is_refused, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
