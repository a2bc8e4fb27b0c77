/* Sites that are poor, contradictory or strange: each must end, in a right answer or in a clear sentence. */
#include "site_from_text.h"
#include <time.h>

static bool said_undetermined(const mst_adjustment *a, const char *name) {
    for (size_t i = 0; i < a->undetermined_count; i++)
        if (strcmp(a->undetermined[i], name) == 0) return strlen(a->undetermined_why[i]) > 10;
    return false;
}
static mst_status refused(const text_page pages[], size_t count) {
    mst_adjustment *out = NULL;
    error = (mst_error){0};
    mst_status status = mst_adjust(site_of(pages, count), NULL, arena, &out, &error);
    assert_null(out);
    assert_true(strlen(error.sentence) > 10);
    return status;
}

/* What must hold of any result. */
static void is_sound(const mst_adjustment *a) {
    for (size_t i = 0; i < a->point_count; i++) {
        const mst_adjusted_point *p = &a->points[i];
        assert_true(p->has_plan == (isfinite(p->easting_m) && isfinite(p->northing_m)));
        assert_true(p->has_plan == (isfinite(p->sd_easting_m) && isfinite(p->sd_northing_m) && isfinite(p->cov_en_m2)));
        assert_true(p->has_plan == (isfinite(p->semi_major_m) && isfinite(p->semi_minor_m) &&
                                    p->semi_minor_m <= p->semi_major_m * (1 + 1e-9)));
        assert_true(p->has_height == (isfinite(p->elevation_m) && isfinite(p->sd_elevation_m)));
        assert_true(p->has_plan || p->has_height || said_undetermined(a, p->name) || p->readings == 0);
        assert_true(!p->has_plan || (p->sd_easting_m >= 0 && p->sd_northing_m >= 0));
    }
    for (size_t i = 0; i < a->observation_count; i++) {
        const mst_observation_result *o = &a->observations[i];
        assert_true(isfinite(o->adjusted) && isfinite(o->residual) && isfinite(o->standardized) && o->sd > 0);
        assert_true(o->redundancy >= 0 && o->redundancy <= 1 && o->smallest_error > 0);
    }
    for (size_t i = 0; i < a->suspect_count; i++)
        assert_true(a->suspects[i].observation < a->observation_count && isfinite(a->suspects[i].estimated_error));
    assert_true(isfinite(a->sigma0) && a->scale >= 1 && a->datum && *a->datum);
}

static void nothing_to_adjust(void **state) {
    (void)state;
    mst_site empty = {0};
    mst_adjustment *out = NULL;
    assert_int_equal(mst_adjust(&empty, NULL, arena, &out, &error), MST_TOO_FEW);
    mst_site *site = site_of((text_page[]){{MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,3\n"}}, 1);
    site->pages[0].rows[0].set_aside = "wrong tape";
    assert_int_equal(mst_adjust(site, NULL, arena, &out, &error), MST_TOO_FEW);
    assert_null(out);
}

static void control_alone_is_an_answer(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,1,2\n"});
    is_sound(a);
    NEAR(point_of(a, "A")->easting_m, 1, 0);
}

static void held_at_two_places_is_refused(void **state) {
    (void)state;
    const text_page pages[] = {{MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,1,2\n"},
                               {MST_PAGE_CONTROL, "d.csv", "2", "point,easting (m),northing (m)\nA,1,2.5\n"}};
    assert_int_equal(refused(pages, 2), MST_INVALID);
    assert_string_equal(error.page, "d.csv");
    assert_int_equal(error.row, 2);
    assert_non_null(strstr(error.sentence, "0.500 m"));
}

static void satellites_without_a_projection_are_refused(void **state) {
    (void)state;
    const text_page pages[] = {
        {MST_PAGE_GNSS, "g.csv", "1", "point,latitude (deg),longitude (deg),height (m)\nA,50,4,100\n"}};
    assert_int_equal(refused(pages, 1), MST_INVALID);
}

static bool to_plane(void *self, double latitude, double longitude, double height, mst_point3 *local) {
    *local = (mst_point3){6.4e6 * longitude + *(double *)self, 6.4e6 * latitude, height};
    return latitude < 1.5;
}
static void satellites_through_a_projector(void **state) {
    (void)state;
    double shift = 1e6;
    mst_projector projector = {to_plane, &shift};
    mst_adjust_options options = {.projector = &projector};
    const text_page pages[] = {
        {MST_PAGE_GNSS, "g.csv", "1", "point,latitude (deg),longitude (deg),height (m)\nA,50,4,100\nB,50.001,4,101\n"}};
    mst_adjustment *a;
    assert_int_equal(mst_adjust(site_of(pages, 1), &options, arena, &a, &error), MST_OK);
    NEAR(point_of(a, "B")->northing_m - point_of(a, "A")->northing_m, 6.4e6 * 0.001 * MST_PI / 180, 1e-6);
    const text_page far[] = {
        {MST_PAGE_GNSS, "g.csv", "1", "point,latitude (deg),longitude (deg),height (m)\nA,89,4,100\n"}};
    assert_int_equal(mst_adjust(site_of(far, 1), &options, arena, &a, &error), MST_INVALID);
    assert_int_equal(error.row, 2);
}

static void two_parts_that_nothing_joins(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_POINTS, "a.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,1\nB,9,0,1\n"},
        {MST_PAGE_POINTS, "b.csv", "2", "point,easting (m),northing (m),elevation (m)\nC,0,0,1\nD,9,0,1\nE,9,9,1\n"});
    is_sound(a);
    assert_true(said_undetermined(a, "C") && said_undetermined(a, "D") && said_undetermined(a, "E"));
    assert_true(point_of(a, "A")->has_plan && !point_of(a, "C")->has_plan && !point_of(a, "C")->has_height);
    assert_int_equal(a->left_out_count, 3);
    assert_false(a->frames[1].determined);
}

static void one_common_point_is_not_enough_in_plan(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_POINTS, "a.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,1\nB,9,0,1\n"},
                 {MST_PAGE_POINTS, "b.csv", "2", "point,easting (m),northing (m),elevation (m)\nB,0,0,5\nD,9,0,6\n"});
    is_sound(a);
    assert_true(said_undetermined(a, "D") && !point_of(a, "D")->has_plan);
    NEAR(point_of(a, "D")->elevation_m, 2, 1e-9); /* in height it is */
}

static void one_held_point_keeps_the_circle_as_bearings(void **state) {
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nS,100,100\n"},
                                 {MST_PAGE_ANGLES, "a.csv", "1",
                                  "at,to,circle (deg),zenith (deg),slope distance "
                                  "(m)\nS,A,90,90,10\nS,B,180,90,10\nB,S,0,90,10\nB,C,90,90,5\n"});
    is_sound(a);
    NEAR(point_of(a, "A")->easting_m, 110, 1e-9);
    NEAR(point_of(a, "C")->northing_m, 90, 1e-6);
    assert_non_null(strstr(a->datum, "circle"));
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nB,100,100\n"},
                 {MST_PAGE_POINTS, "p.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,9,0\n"});
    NEAR(point_of(a, "A")->easting_m, 91, 1e-9);
    assert_non_null(strstr(a->datum, "heading of visit '1'"));
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nB,100,100\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,3\nA,C,4\nB,C,5\n"});
    NEAR(point_of(a, "A")->northing_m, 103, 1e-6);
    NEAR(fabs(point_of(a, "C")->easting_m - 100), 4, 1e-6);
    is_sound(a);
}

static void all_on_one_line(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,10\nB,C,10\nA,C,20\nC,D,10\nB,D,20\n"});
    is_sound(a);
    assert_true(point_of(a, "A")->has_plan && point_of(a, "B")->has_plan);
    assert_true(said_undetermined(a, "C") && said_undetermined(a, "D")); /* across the line nothing holds them */
    a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,0,50\n"},
                 {MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,P,20\nB,P,30\n"});
    is_sound(a);
    assert_true(said_undetermined(a, "P"));
}

static void points_at_one_place(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_POINTS, "p.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,0,0\nC,9,9\n"},
                 {MST_PAGE_BEARINGS, "b.csv", "1", "from,to,bearing (deg)\nA,B,50\nA,C,45\n"},
                 {MST_PAGE_OFFSETS, "o.csv", "1", "from,to,chainage (m),offset (m),point\nA,B,1,1,X\n"},
                 {MST_PAGE_POINTS, "q.csv", "2", "point,easting (m),northing (m)\nA,0,0\nB,0,0\nE,1,1\n"});
    is_sound(a);
    NEAR(point_of(a, "B")->easting_m, 0, 1e-6);
    assert_true(said_undetermined(a, "E"));
    assert_true(a->left_out_count >= 3);
}

static void sd_of_every_size(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nB,100,0\nC,0,100\n"},
                 {MST_PAGE_TAPE, "t.csv", "1",
                  "from,to,distance (m),sd (m)\nA,P,50,1e-12\nB,P,80.622577,1e3\nC,P,80.622577,1e3\n"});
    is_sound(a);
    if (point_of(a, "P")->has_plan) NEAR(hypot(point_of(a, "P")->easting_m, point_of(a, "P")->northing_m), 50, 1e-4);
    else assert_true(said_undetermined(a, "P"));
    a = ADJUSTED(
        {MST_PAGE_HEIGHTS, "h.csv", "1", "from,to,difference (m),sd (m)\nA,B,1,1e-12\nB,C,1,1e3\nA,C,2.5,1e-12\n"});
    is_sound(a);
    NEAR(point_of(a, "C")->elevation_m, 102.5, 1e-9);
    NEAR(point_of(a, "B")->elevation_m, 101, 1e-9);
}

static void a_hundred_thousand_readings_of_one_point(void **state) {
    (void)state;
    mst_text tape = {0}, points = {0}, levels = {0};
    mst_text_string(&tape, "from,to,distance (m),sd (m)\n");
    mst_text_string(&levels, "point,backsight (m),intermediate (m),foresight (m)\nA,1,,\n");
    for (int i = 0; i < 100000; i++) {
        mst_text_printf(&tape, "%s,P,50.0%d,0.1\n", (const char *[]){"A", "B", "C"}[i % 3], i % 3);
        mst_text_string(&levels, i % 2 ? "P,,1.1,\n" : "P,,1.3,\n");
    }
    clock_t start = clock();
    mst_adjustment *a = ADJUSTED(
        {MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m),elevation (m)\nA,0,0,9\nB,80,0,\nC,30,80,\n"},
        {MST_PAGE_TAPE, "t.csv", "1", tape.data}, {MST_PAGE_LEVELS, "l.csv", "1", levels.data});
    print_message("%.2f s with reading the pages\n", (double)(clock() - start) / CLOCKS_PER_SEC);
    NEAR(point_of(a, "P")->elevation_m, 8.8, 1e-6);
    NEAR(point_of(a, "P")->sd_elevation_m, 0.0015 * a->scale, 1e-5); /* the backsight's alone */
    assert_int_equal(point_of(a, "P")->readings, 200000);
    assert_int_equal(a->observation_count, 200001);
    mst_text_free(&tape);
    mst_text_free(&points);
    mst_text_free(&levels);
}

static void a_long_chain_takes_no_deep_stack(void **state) {
    (void)state;
    mst_text legs = {0}, heights = {0};
    mst_text_string(&legs, "from,to,dx (m),dy (m),dz (m),time (s)\n");
    mst_text_string(&heights, "from,to,difference (m)\n");
    for (int i = 0; i < 20000; i++) {
        mst_text_printf(&legs, "P%d,P%d,%d,1,0.1,5\n", i, i + 1, i % 2);
        mst_text_printf(&heights, "P%d,P%d,0.1\n", i, i + 1);
    }
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_LEGS, "l.csv", "1", legs.data}, {MST_PAGE_HEIGHTS, "h.csv", "1", heights.data});
    NEAR(point_of(a, "P20000")->northing_m, 20000, 1e-5);
    assert_int_equal(a->undetermined_count, 0);
    mst_text_free(&legs);
    mst_text_free(&heights);
}

static void
a_traverse_of_bearings_between_two_marks_with_a_slip(void **state) { /* a degree in one bearing; still an answer */
    (void)state;
    mst_adjustment *a = ADJUSTED({MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nA,0,0\nE,40,0\n"},
                                 {MST_PAGE_BEARINGS, "b.csv", "1",
                                  "from,to,bearing (deg),distance (m)\nA,B,90,10\nB,C,91,10\nC,D,90,10\nD,E,90,10\n"
                                  "A,C,90,20\nB,D,90,20\nC,E,90,20\n"});
    is_sound(a);
    assert_true(a->suspect_count >= 1);
    assert_int_equal(a->observations[a->suspects[0].observation].row, 3);
    assert_non_null(strstr(a->suspects[0].sentence, "a whole degree is a usual slip"));
}

/* ---- anything at all ---- */

static uint64_t seed = 4711;
static uint32_t chance(uint32_t below) {
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(seed >> 33) % below;
}

static void add_page(text_page *page, int kind, mst_text *text) {
    static const char *const HEADS[] = {
        "point,easting (m),northing (m),elevation (m),sd plan (m)\n",
        "point,easting (m),northing (m),elevation (m)\n",
        "from,to,distance (m),slope,sd (m)\n",
        "from,to,bearing (deg),distance (m)\n",
        "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n",
        "point,backsight (m),intermediate (m),foresight (m)\n",
        "from,to,difference (m),length (m)\n",
        "from,to,chainage (m),offset (m),point\n",
        "from,to,dx (m),dy (m),dz (m),time (s)\n"};
    mst_text_string(text, HEADS[kind]);
    int rows = 1 + (int)chance(7), start = (int)chance(8);
    for (int i = 0; i < rows; i++) {
        char a = (char)('A' + chance(8)), b = (char)('A' + (a - 'A' + 1 + (int)chance(7)) % 8),
             c = (char)('A' + (a - 'A' + 1 + (b - a + 8) % 8 + 7) % 8);
        if (c == a || c == b) c = 'Z';
        double x = chance(50), y = chance(50), z = chance(4);
        switch (kind) {
        case 0:
            mst_text_printf(text, "%c,%g,%g,%g,%s\n", 'A' + (start + i) % 8, x, y, z, chance(2) ? "0.1" : "");
            break;
        case 1:
            mst_text_printf(text, "%c,%g,%g,%g\n", 'A' + (start + i) % 8, x, y, z);
            break;
        case 2:
            mst_text_printf(text, "%c,%c,%g,%s,%s\n", a, b, x + 0.5, chance(4) ? "no" : "yes", chance(9) ? "" : "1e-9");
            break;
        case 3:
            mst_text_printf(text, "%c,%c,%g,%s\n", a, b, x * 7, chance(2) ? "12" : "");
            break;
        case 4:
            mst_text_printf(text, "%c,%c,%g,%s,%s,%s,1.3\n", 'A' + start, b == 'A' + start ? 'Z' : b, x * 7,
                            chance(2)   ? "88"
                            : chance(3) ? "272"
                                        : "",
                            chance(2) ? "20" : "", chance(2) ? "1.5" : "");
            break;
        case 5:
            mst_text_printf(text, i == 0 ? "%c,%g,,\n" : chance(2) ? "%c,,%g,\n" : "%c,1.2,,%g\n", a, z);
            break;
        case 6:
            mst_text_printf(text, "%c,%c,%g,%s\n", a, b, z - 2, chance(2) ? "30" : "");
            break;
        case 7:
            mst_text_printf(text, "%c,%c,%g,%g,%c\n", a, b, x, y - 20, c);
            break;
        default:
            mst_text_printf(text, "%c,%c,%g,%g,%g,%g\n", a, b, x, y, z, 1 + y);
        }
    }
    *page = (text_page){(mst_page_kind)kind, "page.csv", (const char *[]){"1", "2", "3"}[chance(3)], text->data};
}

static void anything_at_all_ends_in_an_answer_or_a_sentence(void **state) {
    (void)state;
    int answers = 0, sentences = 0;
    for (int k = 0; k < 2000; k++) {
        arena = mst_arena_new();
        text_page pages[7];
        mst_text texts[7] = {{0}};
        size_t count = 1 + chance(7);
        bool control = false;
        for (size_t i = 0; i < count; i++) {
            int kind = (int)chance(9);
            if (kind == 0 && control) kind = 1;
            control |= kind == 0;
            add_page(&pages[i], kind, &texts[i]);
        }
        mst_adjustment *a = NULL;
        error = (mst_error){0};
        mst_status status = mst_adjust(site_of(pages, count), NULL, arena, &a, &error);
        if (status == MST_OK) answers++, is_sound(a);
        else
            sentences++,
                assert_true(strlen(error.sentence) > 10 && (status == MST_NOT_CONVERGED || status == MST_INVALID));
        if (status && getenv("SHOW")) {
            print_message("%d: %s\n", k, error.sentence);
            for (size_t i = 0; i < count; i++) print_message("%s %s\n", pages[i].visit, pages[i].text);
        }
        for (size_t i = 0; i < count; i++) mst_text_free(&texts[i]);
        mst_arena_free(arena);
    }
    arena = NULL;
    print_message("%d answers, %d sentences\n", answers, sentences);
    assert_true(answers > 1500); /* the rest contradict themselves by tens of metres */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(nothing_to_adjust, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(control_alone_is_an_answer, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(held_at_two_places_is_refused, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(satellites_without_a_projection_are_refused, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(satellites_through_a_projector, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(two_parts_that_nothing_joins, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(one_common_point_is_not_enough_in_plan, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(one_held_point_keeps_the_circle_as_bearings, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(all_on_one_line, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(points_at_one_place, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(sd_of_every_size, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_hundred_thousand_readings_of_one_point, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_long_chain_takes_no_deep_stack, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_traverse_of_bearings_between_two_marks_with_a_slip, open_arena, close_arena),
        cmocka_unit_test(anything_at_all_ends_in_an_answer_or_a_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
