/* Ground from what stands on it. Made scenes know which point is what. The figures by which a ground filter is judged
 * (shares of ground refused, of other things let through) are those of G. Sithole, G. Vosselman, ISPRS Journal of
 * Photogrammetry and Remote Sensing 59 (2004) 85-101, where filters are 3 to 20 % wrong in all on hard samples. */
#include "merestone/ground.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static uint64_t random_state;
static double random_share(void) {
    random_state ^= random_state << 13, random_state ^= random_state >> 7, random_state ^= random_state << 17;
    return (double)(random_state >> 11) * 0x1p-53;
}

typedef struct scene {
    double slope, noise_m;
    bool trees, house, strays;
} scene;
enum { GROUND = 2, TREE = 5, HOUSE = 6, STRAY = 7 };

static double earth(const scene *s, double e, double n) { return 50 + s->slope * e + 1.5 * sin(n / 15); }

/* 100 m x 100 m at four points a square metre; the true class is in `truth`, the points have none. */
static size_t make_scene(const scene *s, uint64_t seed, mst_cloud_point **points, uint8_t **truth) {
    enum { COUNT = 40000 };
    *points = malloc(COUNT * sizeof **points);
    *truth = malloc(COUNT);
    random_state = seed;
    for (size_t i = 0; i < COUNT; i++) {
        double e = random_share() * 100, n = random_share() * 100,
               z = earth(s, e, n) + s->noise_m * (2 * random_share() - 1);
        uint8_t what = GROUND;
        bool in_tree = s->trees && hypot(fmod(e, 20) - 10, fmod(n, 20) - 10) < 4,
             in_house = s->house && e > 30 && e < 44 && n > 62 && n < 78;
        if (in_tree && random_share() < 0.6) what = TREE, z += 2 + 6 * random_share();
        if (in_house) what = HOUSE, z = earth(s, 37, 70) + 5 + 0.3 * (e - 30);
        if (s->strays && random_share() < 0.0005) what = STRAY, z -= 8;
        (*points)[i] = (mst_cloud_point){e, n, z, 0};
        (*truth)[i] = what;
    }
    return COUNT;
}

typedef struct judged {
    double refused_ground, passed_other;
    size_t count;
} judged;

/* The filter keeps the order, so the two lists are gone through side by side. */
static judged judge(const mst_cloud_point *all, const uint8_t *truth, size_t count,
                    const mst_cloud_ground_options *options) {
    mst_cloud_list list = {all, count, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_ground *ground;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    if (mst_cloud_find_ground(&source, options, arena, &ground, &error)) fail_msg("%s", error.sentence);
    mst_cloud_source passed = mst_cloud_ground_points(ground);
    assert_int_equal(passed.rewind(passed.self, NULL), MST_OK);
    mst_cloud_point block[100];
    size_t came = 1, at = 0, grounds = 0, others = 0, kept_ground = 0, kept_other = 0;
    while (came) {
        assert_int_equal(passed.read(passed.self, block, 100, &came, NULL), MST_OK);
        for (size_t i = 0; i < came; i++, at++) {
            for (; all[at].easting_m != block[i].easting_m || all[at].elevation_m != block[i].elevation_m; at++)
                assert_true(at < count);
            assert_int_equal(block[i].class_code, 2);
            if (truth[at] == GROUND) kept_ground++;
            else kept_other++;
        }
    }
    for (size_t i = 0; i < count; i++) truth[i] == GROUND ? grounds++ : others++;
    mst_arena_free(arena);
    return (judged){1 - (double)kept_ground / (double)grounds, others ? (double)kept_other / (double)others : 0,
                    kept_ground + kept_other};
}

static judged judge_scene(scene s, uint64_t seed) {
    mst_cloud_point *points;
    uint8_t *truth;
    size_t count = make_scene(&s, seed, &points, &truth);
    judged j = judge(points, truth, count, &(mst_cloud_ground_options){0});
    free(points), free(truth);
    return j;
}

static void bare_ground_passes_nearly_whole(void **state) {
    (void)state;
    assert_true(judge_scene((scene){0, 0.02, false, false, false}, 1).refused_ground < 0.001);
    assert_true(judge_scene((scene){0.1, 0.03, false, false, false}, 2).refused_ground < 0.005);
    assert_true(judge_scene((scene){0.18, 0.03, false, false, false}, 3).refused_ground < 0.02);
}

static void trees_and_a_house_are_taken_out(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 4; seed++) {
        judged j = judge_scene((scene){0.08, 0.03, true, true, false}, seed);
        assert_true(j.refused_ground < 0.05);
        assert_true(j.passed_other < 0.02);
    }
}

static void stray_low_readings_do_not_pull_the_ground_down(void **state) {
    (void)state;
    judged j = judge_scene((scene){0.05, 0.03, true, false, true}, 5);
    assert_true(j.refused_ground < 0.05);
    assert_true(j.passed_other < 0.02);
}

/* A roof wider than the window stays: said by the option, and seen here. */
static void a_house_wider_than_the_window_stays(void **state) {
    (void)state;
    mst_cloud_point *points;
    uint8_t *truth;
    size_t count = make_scene(&(scene){0, 0.02, false, true, false}, 6, &points, &truth);
    assert_true(judge(points, truth, count, &(mst_cloud_ground_options){.window_m = 3}).passed_other > 0.5);
    assert_true(judge(points, truth, count, &(mst_cloud_ground_options){.window_m = 20}).passed_other < 0.02);
    free(points), free(truth);
}

static void the_same_cloud_gives_the_same_ground(void **state) {
    (void)state;
    judged a = judge_scene((scene){0.08, 0.03, true, true, true}, 9),
           b = judge_scene((scene){0.08, 0.03, true, true, true}, 9);
    assert_int_equal(a.count, b.count);
}

static void small_clouds_and_odd_options(void **state) {
    (void)state;
    mst_cloud_point one = {5, 6, 7, 0};
    uint8_t truth = GROUND;
    assert_int_equal(judge(&one, &truth, 1, &(mst_cloud_ground_options){0}).count, 1);
    const mst_cloud_ground_options odd[] = {{.cell_m = -1},    {.cell_m = 1e-9},    {.cell_m = NAN}, {.window_m = 0.5},
                                            {.window_m = 1e9}, {.slope = -1},       {.slope = 1e9},  {.near_m = -1},
                                            {.step_m = 0.01},  {.step_m = INFINITY}};
    mst_arena *arena = mst_arena_new();
    mst_cloud_list list = {&one, 1, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_ground *ground;
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        mst_error error = {0};
        assert_int_equal(mst_cloud_find_ground(&source, &odd[i], arena, &ground, &error), MST_INVALID);
        assert_true(strlen(error.sentence) > 10);
    }
    list.count = 0;
    assert_int_equal(mst_cloud_find_ground(&source, &(mst_cloud_ground_options){0}, arena, &ground, NULL), MST_TOO_FEW);
    one.elevation_m = NAN, list.count = 1;
    assert_int_equal(mst_cloud_find_ground(&source, &(mst_cloud_ground_options){0}, arena, &ground, NULL), MST_INVALID);
    mst_arena_free(arena);
}

/* Two points at the ends of the earth: the cells grow, the memory does not. */
static void far_apart_points_do_not_take_all_memory(void **state) {
    (void)state;
    mst_cloud_point far[2] = {{-2e7, -2e7, 0, 0}, {2e7, 2e7, 0, 0}};
    uint8_t truth[2] = {GROUND, GROUND};
    assert_int_equal(judge(far, truth, 2, &(mst_cloud_ground_options){.cell_m = 0.01}).count, 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(bare_ground_passes_nearly_whole),
                                       cmocka_unit_test(trees_and_a_house_are_taken_out),
                                       cmocka_unit_test(stray_low_readings_do_not_pull_the_ground_down),
                                       cmocka_unit_test(a_house_wider_than_the_window_stays),
                                       cmocka_unit_test(the_same_cloud_gives_the_same_ground),
                                       cmocka_unit_test(small_clouds_and_odd_options),
                                       cmocka_unit_test(far_apart_points_do_not_take_all_memory)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
