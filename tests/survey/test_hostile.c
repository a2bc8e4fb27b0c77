/* Networks that nobody would measure on purpose. Each gets a clear sentence or a right answer, never a hang, a crash or
 * a figure that is no number. What is right follows from the geometry alone. */
#include "site_from_text.h"
#include <time.h>

static const double SECONDS_MAX = 20; /* processor time; they take under one each, also with sanitizers under ten */

static void all_is_number_or_said(const mst_adjustment *a) {
    for (size_t i = 0; i < a->point_count; i++) {
        const mst_adjusted_point *p = &a->points[i];
        if (p->has_plan) {
            assert_true(isfinite(p->easting_m) && isfinite(p->northing_m));
            assert_true(isfinite(p->sd_easting_m) && isfinite(p->sd_northing_m) && isfinite(p->cov_en_m2));
            assert_true(isfinite(p->semi_major_m) && isfinite(p->semi_minor_m));
        }
        if (p->has_height) assert_true(isfinite(p->elevation_m) && isfinite(p->sd_elevation_m));
    }
    for (size_t i = 0; i < a->observation_count; i++) {
        assert_true(isfinite(a->observations[i].residual) && isfinite(a->observations[i].redundancy));
        assert_true(a->observations[i].redundancy >= 0 && a->observations[i].redundancy <= 1);
    }
    for (size_t i = 0; i < a->undetermined_count; i++) assert_true(strlen(a->undetermined_why[i]) > 10);
    for (size_t i = 0; i < a->left_out_count; i++) assert_true(strlen(a->left_out[i].sentence) > 10);
    assert_true(isfinite(a->sigma0));
}

/* Reads and adjusts; NULL when it was refused, with a sentence. */
static mst_adjustment *tried(const text_page pages[], size_t count) {
    clock_t begin = clock();
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    mst_adjustment *a = NULL;
    mst_status status = MST_OK;
    error = (mst_error){0};
    site->arena = arena;
    site->pages = mst_arena_array(arena, count, sizeof *site->pages);
    site->page_count = count;
    for (size_t i = 0; !status && i < count; i++) {
        status = mst_page_read(pages[i].kind, pages[i].name, pages[i].text, strlen(pages[i].text), NULL, arena,
                               &site->pages[i], &error);
        site->pages[i].visit = pages[i].visit ? pages[i].visit : "1";
        site->pages[i].gear = "";
    }
    if (!status) status = mst_adjust(site, NULL, arena, &a, &error);
    assert_true((double)(clock() - begin) / CLOCKS_PER_SEC < SECONDS_MAX);
    if (status) assert_true(strlen(error.sentence) > 20);
    else all_is_number_or_said(a);
    return status ? NULL : a;
}
#define TRIED(...) tried((text_page[]){__VA_ARGS__}, sizeof((text_page[]){__VA_ARGS__}) / sizeof(text_page))

static bool is_undetermined(const mst_adjustment *a, const char *name) {
    for (size_t i = 0; i < a->undetermined_count; i++)
        if (strcmp(a->undetermined[i], name) == 0) return true;
    return false;
}

static const char HELD[] = "point,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,30,0,10\nD,10,-15,10\n";

static void two_parts_that_nothing_joins(void **state) {
    (void)state;
    mst_adjustment *a =
        TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
              {MST_PAGE_TAPE, "t.csv", NULL,
               "from,to,distance (m)\nA,C,50\nB,C,40\nD,C,58.5235\nX,Y,10\nY,Z,10\nZ,X,10\nX,W,7\nY,W,8\nZ,W,9\n"});
    assert_non_null(a);
    NEAR(point_of(a, "C")->easting_m, 30, 1e-4);
    NEAR(point_of(a, "C")->northing_m, 40, 1e-4);
    for (int i = 0; i < 4; i++) assert_true(is_undetermined(a, (const char *[]){"X", "Y", "Z", "W"}[i]));
}

/* Along the line the lengths say all, across it nothing to first order. */
static void all_points_on_a_line(void **state) {
    (void)state;
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
                              {MST_PAGE_TAPE, "t.csv", NULL,
                               "from,to,distance (m)\nA,C,10\nC,B,20\nC,F,5\nF,B,15\nA,F,15\nA,E,45\nB,E,15\n"});
    for (int i = 0; a && i < 3; i++) {
        const mst_adjusted_point *p = point_of(a, (const char *[]){"C", "F", "E"}[i]);
        if (p->has_plan) NEAR(p->easting_m, ((double[]){10, 15, 45})[i], 0.01);
        else assert_true(is_undetermined(a, p->name));
    }
    a = TRIED(
        {MST_PAGE_CONTROL, "c.csv", NULL, HELD},
        {MST_PAGE_POINTS, "p.csv", "2", "point,easting (m),northing (m),elevation (m)\nA,5,5,1\nB,5,35,1\nC,5,15,1\n"});
    assert_non_null(a); /* a frame of two points in a line is a line, and that is enough */
    NEAR(point_of(a, "C")->easting_m, 10, 1e-6);
    NEAR(point_of(a, "C")->northing_m, 0, 1e-6);
}

static void points_at_one_place(void **state) {
    (void)state;
    static const char ONE_PLACE[] = "point,easting (m),northing (m)\nA,0,0\nB,0,0\nC,20,0\n";
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, ONE_PLACE},
          {MST_PAGE_TAPE, "t.csv", NULL, "from,to,distance (m)\nA,P,10\nB,P,10\nC,P,15\nA,B,0.001\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, ONE_PLACE},
          {MST_PAGE_ANGLES, "a.csv", NULL,
           "at,to,circle (deg),zenith (deg),slope distance "
           "(m)\nA,B,10,90,0.001\nA,C,90,90,20\nA,P,30,90,12\nB,P,30,90,12\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, ONE_PLACE},
          {MST_PAGE_OFFSETS, "o.csv", NULL, "from,to,chainage (m),offset (m),point\nA,B,1,2,P\nA,C,1,2,P\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, ONE_PLACE},
          {MST_PAGE_BEARINGS, "b.csv", NULL, "from,to,bearing (deg),distance (m)\nA,B,5,0.002\nA,P,45,9\nB,P,45,9\n"});
    TRIED({MST_PAGE_POINTS, "p.csv", NULL, "point,easting (m),northing (m),elevation (m)\nA,7,7,1\nB,7,7,1\nC,7,7,1\n"},
          {MST_PAGE_POINTS, "q.csv", "2",
           "point,easting (m),northing (m),elevation (m)\nA,1,1,1\nB,1,1,1\nC,1,1,1\nD,2,2,1\n"});
}

static void a_length_of_nothing(void **state) {
    (void)state;
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_TAPE, "t.csv", NULL, "from,to,distance (m)\nA,P,0\nB,P,30\nA,P,0.0\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_ANGLES, "a.csv", NULL,
           "at,to,circle (deg),zenith (deg),slope distance (m)\nA,B,0,90,30\nA,P,50,90,0\nA,Q,50,0,3\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_LEGS, "l.csv", "2",
           "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,0,0,0\nB,P,0,0,0,1\nP,A,0,0,0,1\n"});
}

static void sd_of_nothing_and_of_kilometres(void **state) {
    (void)state;
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_TAPE, "t.csv", NULL, "from,to,distance (m),sd (m)\nA,P,40,0\nB,P,50,0.01\nA,P,40.01,0\n"});
    mst_adjustment *a =
        TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
              {MST_PAGE_TAPE, "t.csv", NULL,
               "from,to,distance (m),sd (m)\nA,P,40,1e-12\nB,P,50,1e-12\nD,P,55.9017,1\nA,P,43,1000\nB,P,51,1000\n"});
    assert_non_null(a);
    NEAR(point_of(a, "P")->northing_m, 40, 1e-3);
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_TAPE, "t.csv", NULL,
           "from,to,distance (m),sd (m)\nA,P,40,1e-12\nB,P,50,1000\nP,Q,30,1000\nA,Q,50,1e-12\nB,Q,40,1000\n"},
          {MST_PAGE_HEIGHTS, "h.csv", NULL, "from,to,difference (m),sd (m)\nA,P,1,1e-12\nP,Q,1,1000\nQ,B,-2,1000\n"});
}

static void from_a_point_to_itself(void **state) {
    (void)state;
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_TAPE, "t.csv", NULL, "from,to,distance (m)\nA,P,40\nB,P,50\nP,P,3\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_ANGLES, "a.csv", NULL,
           "at,to,circle (deg),zenith (deg),slope distance (m)\nA,A,0,90,30\nA,B,50,90,30\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_HEIGHTS, "h.csv", NULL, "from,to,difference (m)\nA,A,1\nA,P,1\nP,P,0\n"});
    TRIED(
        {MST_PAGE_CONTROL, "c.csv", NULL, HELD},
        {MST_PAGE_OFFSETS, "o.csv", NULL, "from,to,chainage (m),offset (m),point\nA,A,1,2,P\nA,B,1,2,A\nP,P,1,1,P\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_LEGS, "l.csv", "2",
           "from,to,dx (m),dy (m),dz (m),time (s)\nA,A,1,0,0,3\nA,B,30,0,0,20\nB,P,5,5,0,4\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_LEVELS, "v.csv", NULL,
           "point,backsight (m),intermediate (m),foresight (m)\nA,1,,\nA,,2,\nA,,,1.5\n"});
    TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD},
          {MST_PAGE_BEARINGS, "b.csv", NULL, "from,to,bearing (deg),distance (m)\nP,P,5,2\nA,P,45,9\n"});
}

/* ---- many ---- */

enum { MANY = 100000 };

static void many_tapes_to_one_point(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m),sd (m)\nD,P,55.9017,0.005\n");
    for (int i = 0; i < MANY / 2; i++) { /* half a millimetre too long, then too short: the mean is 40 and 50 */
        double off = i % 2 ? 0.0005 : -0.0005;
        mst_text_printf(&t, "A,P,%.4f,0.005\nB,P,%.4f,0.005\n", 40 + off, 50 - off);
    }
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_TAPE, "t.csv", NULL, t.data});
    assert_non_null(a);
    NEAR(point_of(a, "P")->northing_m, 40, 1e-5);
    NEAR(point_of(a, "P")->easting_m, 0, 1e-5);
    mst_text_free(&t);
}

static void many_points_seen_from_one(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "at,to,circle (deg),zenith (deg),slope distance (m)\nA,B,90,90,30\n");
    for (int i = 0; i < MANY / 5; i++) mst_text_printf(&t, "A,P%d,%.5f,90,%.3f\n", i, i * 0.01, 10 + i * 0.001);
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_ANGLES, "a.csv", NULL, t.data});
    assert_non_null(a);
    NEAR(point_of(a, "P9000")->easting_m, 19, 1e-4); /* a quarter turn: due east, 19 m away */
    mst_text_free(&t);
}

/* Every point hangs on one tape alone, so every one is free to swing. */
static void many_points_that_hang_loose(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (int i = 0; i < MANY / 5; i++) mst_text_printf(&t, "A,P%d,%.3f\n", i, 10 + i * 0.001);
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_TAPE, "t.csv", NULL, t.data});
    if (a) assert_true(a->undetermined_count >= MANY / 5);
    mst_text_free(&t);
}

/* Every point lies on the line between the two that it is taped from: free to move across it. */
static void many_points_free_across_a_line(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,distance (m)\n");
    for (int i = 0; i < MANY / 2; i++) {
        double along = 1 + i * (28.0 / MANY);
        mst_text_printf(&t, "A,P%d,%.6f\nB,P%d,%.6f\n", i, along, i, 30 - along);
    }
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_TAPE, "t.csv", NULL, t.data});
    for (int i = 0; a && i < MANY / 2; i += 1000) {
        char name[20];
        snprintf(name, sizeof name, "P%d", i);
        if (point_of(a, name)->has_plan) NEAR(point_of(a, name)->easting_m, 1 + i * (28.0 / MANY), 0.01);
        else assert_true(is_undetermined(a, name));
    }
    mst_text_free(&t);
}

/* A line of legs, nothing else: one long chain that hangs on its first point. */
static void a_chain_of_many_legs(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,30,0,0,15\nB,P0,5,0,0,3\n");
    for (int i = 0; i < MANY / 5; i++) mst_text_printf(&t, "P%d,P%d,5,%d,0.01,4\n", i, i + 1, i % 2 ? 1 : -1);
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_LEGS, "l.csv", "2", t.data});
    assert_non_null(a);
    NEAR(point_of(a, "P20000")->easting_m, 35 + 100000, 1);
    mst_text_free(&t);
}

/* Loose heights: each pair of points is joined, no pair to another. */
static void many_small_parts(void **state) {
    (void)state;
    mst_text t = {0};
    mst_text_string(&t, "from,to,difference (m)\nA,C,1\n");
    for (int i = 0; i < MANY / 10; i++) mst_text_printf(&t, "P%d,Q%d,1\n", i, i);
    mst_adjustment *a = TRIED({MST_PAGE_CONTROL, "c.csv", NULL, HELD}, {MST_PAGE_HEIGHTS, "h.csv", NULL, t.data});
    assert_non_null(a);
    NEAR(point_of(a, "C")->elevation_m, 11, 1e-9);
    assert_true(is_undetermined(a, "P77") && is_undetermined(a, "Q77"));
    mst_text_free(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(two_parts_that_nothing_joins, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(all_points_on_a_line, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(points_at_one_place, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_length_of_nothing, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(sd_of_nothing_and_of_kilometres, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(from_a_point_to_itself, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_tapes_to_one_point, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_points_seen_from_one, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_points_that_hang_loose, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_points_free_across_a_line, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_chain_of_many_legs, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(many_small_parts, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
