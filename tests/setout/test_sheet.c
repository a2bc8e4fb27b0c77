/* Ties, polar figures, chainage and the walk. What a tie sheet must do is replayed: from its two distances alone (and
 * the side it names) each stake is found again, and the third distance agrees. The sd is checked against what ten
 * thousand replays with tapes in error give; the walk against the best of all orders. */
#include "merestone/setout.h"
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <cmocka.h>
#include "setout/control_helper.c"

static mst_arena *arena;
static int open_arena(void **state) {
    (void)state;
    arena = mst_arena_new();
    return !arena;
}
static int close_arena(void **state) {
    (void)state;
    mst_arena_free(arena);
    return 0;
}
static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.9f is not %.9f within %g", a, b, by);
}

static const known YARD[] = {{"C1", "", 0, 0, 10, 0, true},
                             {"C2", "", 20, 0, 10, 0, true},
                             {"C3", "", 10, 18, 10, 0, true},
                             {"C4", "", -5, 15, 10, 0.004, false},
                             {"grass", "", 9, 6, 10, 0.030, false},
                             {"far", "", 400, 0, 10, 0, true},
                             {"height only", "", NAN, NAN, 9, 0.001, false}};
enum { YARD_COUNT = sizeof YARD / sizeof *YARD };
static const mst_setout_options AS_IT_IS = {.fit = {.site_frame = true}};

static const known *yard_point(const char *name) {
    for (int i = 0; i < YARD_COUNT; i++)
        if (strcmp(YARD[i].name, name) == 0) return &YARD[i];
    fail_msg("%s is no point of the yard", name);
    return NULL;
}
static mst_setout_sheet sheet_of(const mst_stake stakes[], size_t count, const mst_setout_options *options) {
    mst_setout_sheet sheet;
    mst_error error = {0};
    if (mst_setout(stakes, count, control_of(YARD, YARD_COUNT, arena), NULL, options, arena, &sheet, &error))
        fail_msg("%s", error.sentence);
    return sheet;
}
static mst_point taped(const mst_setout_line *l, double error_a, double error_b) {
    const known *a = yard_point(l->ties[0].from), *b = yard_point(l->ties[1].from);
    mst_point p;
    assert_int_equal(mst_intersect_distances((mst_point){a->e, a->n}, l->ties[0].distance_m + error_a,
                                             (mst_point){b->e, b->n}, l->ties[1].distance_m + error_b,
                                             strncmp(l->side, "left", 4) == 0, &p, NULL),
                     MST_OK);
    return p;
}

static void ties_find_each_stake_again(void **state) {
    (void)state;
    mst_stake stakes[25];
    char names[25][8];
    for (int i = 0; i < 25; i++) {
        snprintf(names[i], sizeof names[i], "S%d", i);
        stakes[i] = (mst_stake){names[i], "", 1.7 + 4 * (i % 5), 2.3 + 3 * (i / 5), NAN, i + 2};
    }
    mst_setout_sheet s = sheet_of(stakes, 25, &AS_IT_IS);
    for (size_t i = 0; i < s.count; i++) {
        const mst_setout_line *l = &s.lines[i];
        if (l->tie_count != 3)
            fail_msg("stake %s has %zu ties: %s, %s", l->stake, l->tie_count, l->ties[0].from, l->ties[1].from);
        mst_point p = taped(l, 0, 0);
        near(p.easting_m, stakes[i].easting_m, 1e-9);
        near(p.northing_m, stakes[i].northing_m, 1e-9);
        const known *c = yard_point(l->ties[2].from);
        near(hypot(p.easting_m - c->e, p.northing_m - c->n), l->ties[2].distance_m, 1e-9);
        if (strcmp(l->stake, "S11") == 0)
            assert_non_null(strstr(l->caution, "would show a slip of")); /* all marks lie in two lines with it */
        for (size_t k = 0; k < 3; k++) assert_true(l->ties[k].distance_m <= 30);
    }
}
static void the_two_ties_cut_between_30_and_150_degrees(void **state) {
    (void)state;
    for (double e = -10; e <= 30; e += 1.37) {
        const mst_stake stake = {"S", "", e, 8.1, NAN, 2};
        mst_setout_sheet s = sheet_of(&stake, 1, &AS_IT_IS);
        if (s.lines[0].tie_count < 2) continue;
        const known *a = yard_point(s.lines[0].ties[0].from), *b = yard_point(s.lines[0].ties[1].from);
        double cut = fabs(mst_angle_signed(atan2(a->e - e, a->n - 8.1) - atan2(b->e - e, b->n - 8.1))) * 180 / MST_PI;
        assert_true(cut >= 30 - 1e-9 && cut <= 150 + 1e-9);
    }
}
/* A small linear congruential generator and Box and Muller's transformation: the same numbers on every run. */
static double gauss(uint64_t *seed) {
    double u[2];
    for (int i = 0; i < 2; i++) {
        *seed = *seed * 6364136223846793005u + 1442695040888963407u;
        u[i] = ((double)(*seed >> 11) + 0.5) / 9007199254740992.0;
    }
    return sqrt(-2 * log(u[0])) * cos(2 * MST_PI * u[1]);
}
static void sd_is_what_replays_give(void **state) {
    (void)state;
    const mst_stake stake = {"S", "", 6, 7, NAN, 2};
    mst_setout_sheet s = sheet_of(&stake, 1, &AS_IT_IS);
    uint64_t seed = 1;
    double ee = 0, en = 0, nn = 0;
    enum { TIMES = 20000 };
    for (int i = 0; i < TIMES; i++) {
        mst_point p = taped(&s.lines[0], 0.005 * gauss(&seed), 0.005 * gauss(&seed));
        double e = p.easting_m - 6, n = p.northing_m - 7;
        ee += e * e / TIMES;
        en += e * n / TIMES;
        nn += n * n / TIMES;
    }
    double major = sqrt((ee + nn) / 2 + hypot((ee - nn) / 2, en));
    near(s.lines[0].sd_m, major, 0.02 * major); /* 20000 replays know an sd to half a percent */
}
/* With the adjustment's covariances the figure is the same where points are independent. */
static void sd_with_covariances(void **state) {
    (void)state;
    const known yard[] = {
        {"A", "", 0, 0, 10, 0.004, false}, {"B", "", 20, 0, 10, 0.003, false}, {"C", "", 10, 18, 10, 0.006, false}};
    const mst_stake stake = {"S", "", 6, 7, NAN, 2};
    mst_setout_sheet by_hand, by_survey;
    assert_int_equal(mst_setout(&stake, 1, control_of(yard, 3, arena), NULL, &AS_IT_IS, arena, &by_hand, NULL), MST_OK);
    mst_adjustment *a = adjusted(measured_site(yard, 3, arena), arena);
    assert_non_null(a->covariances);
    assert_int_equal(mst_setout(&stake, 1, a, NULL, &AS_IT_IS, arena, &by_survey, NULL), MST_OK);
    assert_string_equal(by_hand.lines[0].ties[0].from, by_survey.lines[0].ties[0].from);
    assert_string_equal(by_hand.lines[0].ties[1].from, by_survey.lines[0].ties[1].from);
    near(by_survey.lines[0].sd_m, by_hand.lines[0].sd_m, 1e-9);
}
static void held_marks_are_liked_better_than_shots_on_grass(void **state) {
    (void)state;
    const mst_stake stake = {"S", "", 8, 7, NAN, 2};
    mst_setout_sheet s = sheet_of(&stake, 1, &AS_IT_IS);
    for (size_t i = 0; i < s.lines[0].tie_count; i++) assert_string_not_equal(s.lines[0].ties[i].from, "grass");
}
static void without_marks_in_reach_it_says_so(void **state) {
    (void)state;
    const mst_stake stakes[] = {{"S", "", 200, 0, NAN, 2}, {"C1", "", 0, 0, 10, 3}};
    mst_setout_sheet s = sheet_of(stakes, 2, &AS_IT_IS);
    assert_int_equal(s.lines[0].tie_count, 0);
    assert_true(isnan(s.lines[0].sd_m));
    assert_non_null(strstr(s.lines[0].caution, "No two known points"));
    for (size_t i = 0; i < s.lines[1].tie_count; i++) assert_string_not_equal(s.lines[1].ties[i].from, "C1");
}
static void polar_and_chainage_lead_back(void **state) {
    (void)state;
    const mst_stake stake = {"S", "", 7, 11, NAN, 2};
    const mst_setout_options named = {
        .fit = {.site_frame = true}, .at = "C1", .backsight = "C2", .from = "C1", .to = "C3"};
    mst_setout_line l = sheet_of(&stake, 1, &named).lines[0];
    double turn = mst_bearing((mst_point){0, 0}, (mst_point){20, 0}) + l.polar.circle_rad;
    near(l.polar.distance_m * sin(turn), 7, 1e-9);
    near(l.polar.distance_m * cos(turn), 11, 1e-9);
    near(l.polar.bearing_rad, atan2(7, 11), 1e-12);
    mst_point p =
        mst_from_chainage_offset((mst_point){0, 0}, (mst_point){10, 18}, l.offset.chainage_m, l.offset.offset_m);
    near(p.easting_m, 7, 1e-9);
    near(p.northing_m, 11, 1e-9);
    const mst_stake station = {"S", "", 0, 0, NAN, 2}; /* C1 itself: nothing is turned off from there to there */
    l = sheet_of(&station, 1, &named).lines[0];
    assert_null(l.polar.at);
    assert_true(isnan(l.polar.sd_m));
    assert_false(signbit(l.offset.chainage_m));
    l = sheet_of(&stake, 1, &AS_IT_IS).lines[0];
    assert_non_null(l.polar.at);
    assert_string_not_equal(l.polar.at, l.polar.backsight);
    assert_string_not_equal(l.offset.from, l.offset.to);
}
static void unknown_names_are_refused(void **state) {
    (void)state;
    const mst_stake stake = {"S", "", 7, 11, NAN, 2};
    const mst_setout_options wrong[] = {{.fit = {.site_frame = true}, .at = "Q"},
                                        {.fit = {.site_frame = true}, .backsight = "height only"},
                                        {.fit = {.site_frame = true}, .from = "Q"},
                                        {.fit = {.site_frame = true}, .to = "Q"}};
    for (int i = 0; i < 4; i++) {
        mst_setout_sheet s = {.count = 77};
        mst_error error = {0};
        assert_int_equal(mst_setout(&stake, 1, control_of(YARD, YARD_COUNT, arena), NULL, &wrong[i], arena, &s, &error),
                         MST_NOT_FOUND);
        assert_int_equal(s.count, 77);
    }
    const mst_setout_options same = {.fit = {.site_frame = true}, .at = "C1", .backsight = "C1"};
    mst_setout_sheet s;
    assert_int_equal(mst_setout(&stake, 1, control_of(YARD, YARD_COUNT, arena), NULL, &same, arena, &s, NULL),
                     MST_UNDETERMINED);
    assert_int_equal(mst_setout(&stake, 1, control_of(YARD, YARD_COUNT, arena), NULL, NULL, arena, &s, NULL),
                     MST_TOO_FEW);
}
static void without_ground_no_cut_is_invented(void **state) {
    (void)state;
    const mst_stake stakes[] = {{"S", "", 7, 11, 9.9, 2}, {"T", "", 8, 11, NAN, 3}};
    mst_setout_sheet s = sheet_of(stakes, 2, &AS_IT_IS);
    assert_true(isnan(s.lines[0].ground_m) && isnan(s.lines[0].cut_m));
    assert_non_null(strstr(s.lines[0].words, "no ground level"));
    assert_string_equal(s.lines[1].words, "no design level");
}

/* Ground falling 1 in 10 to the north from level 10: cut and fill in words, and the caution from 1.2 m on. */
static const mst_ground *sloping(void) {
    static const mst_ground_point p[] = {
        {-50, -50, 15, UINT32_MAX}, {50, -50, 15, UINT32_MAX}, {50, 50, 5, UINT32_MAX}, {-50, 50, 5, UINT32_MAX}};
    const mst_ground_input input = {.points = p, .point_count = 4};
    mst_ground *ground;
    mst_error error = {0};
    if (mst_ground_build(&input, arena, &ground, &error)) fail_msg("%s", error.sentence);
    return ground;
}
static void cut_and_fill_in_words(void **state) {
    (void)state;
    const mst_stake stakes[] = {{"cut", "", 3, 10, 8.855, 2},
                                {"fill", "", 4, 10, 9.080, 3},
                                {"flush", "", 5, 10, 9, 4},
                                {"deep", "", 6, 10, 7.75, 5},
                                {"out", "", 90, 10, 9, 6}};
    mst_setout_sheet s;
    assert_int_equal(mst_setout(stakes, 5, control_of(YARD, YARD_COUNT, arena), sloping(), &AS_IT_IS, arena, &s, NULL),
                     MST_OK);
    near(s.lines[0].ground_m, 9, 1e-12);
    near(s.lines[0].cut_m, 0.145, 1e-12);
    assert_string_equal(s.lines[0].words, "cut 0.145 m down from the ground");
    near(s.lines[1].cut_m, -0.080, 1e-12);
    assert_string_equal(s.lines[1].words, "fill 0.080 m up from the ground");
    assert_string_equal(s.lines[2].words, "at ground level");
    assert_true(isnan(s.lines[4].cut_m));
    assert_null(strstr(s.lines[0].caution, "competent person"));
    assert_non_null(strstr(s.lines[3].caution, "A competent person on site decides"));
    assert_non_null(strstr(s.lines[3].caution, "1.25 m out"));
}
/* On the plane z = 10 - N / 10 a side slope of 1 in 2 from (0, 0) at level 9 going north rises to meet ground that
 * falls: 9 + d/2 = 10 - d/10 at d = 1/0.6. Going south from (0, -20) at 13 in fill: 13 - d/2 below ground at 12 + d/10.
 */
static void side_slopes_meet_the_ground(void **state) {
    (void)state;
    const mst_ground *ground = sloping();
    mst_point3 at;
    mst_error error = {0};
    assert_int_equal(mst_slope_stake_on_ground(ground, (mst_point3){0, 0, 9}, 0, 2, 0, arena, &at, &error), MST_OK);
    near(at.northing_m, 1 / 0.6, 1e-9);
    near(at.elevation_m, 10 - 1 / 6.0, 1e-9);
    assert_int_equal(mst_slope_stake_on_ground(ground, (mst_point3){0, -20, 13}, MST_PI, 2, 0, arena, &at, &error),
                     MST_OK);
    near(at.northing_m, -20 - 1 / 0.6, 1e-9);
    assert_int_equal(mst_slope_stake_on_ground(ground, (mst_point3){0, 0, 9}, MST_PI, 10, 0, arena, &at, &error),
                     MST_NO); /* as steep as the ground */
    assert_int_equal(mst_slope_stake_on_ground(ground, (mst_point3){90, 0, 9}, 0, 2, 0, arena, &at, &error), MST_NO);
    assert_int_equal(mst_slope_stake_on_ground(ground, (mst_point3){0, 0, NAN}, 0, 2, 0, arena, &at, &error),
                     MST_INVALID);
}

static double walked(const mst_setout_sheet *s) {
    double sum = 0;
    for (size_t i = 1; i < s->count; i++) {
        const mst_setout_line *a = NULL, *b = NULL;
        for (size_t k = 0; k < s->count; k++) {
            if (strcmp(s->lines[k].stake, s->order[i - 1]) == 0) a = &s->lines[k];
            if (strcmp(s->lines[k].stake, s->order[i]) == 0) b = &s->lines[k];
        }
        assert_true(a && b);
        sum += hypot(a->easting_m - b->easting_m, a->northing_m - b->northing_m);
    }
    return sum;
}
static double shortest(const mst_stake stakes[], int count, unsigned left, int at) {
    double least = left ? INFINITY : 0;
    for (int i = 0; i < count; i++) {
        if (!(left >> i & 1)) continue;
        double d = hypot(stakes[at].easting_m - stakes[i].easting_m, stakes[at].northing_m - stakes[i].northing_m) +
                   shortest(stakes, count, left & ~(1u << i), i);
        if (d < least) least = d;
    }
    return least;
}
static void the_walk_is_short_and_starts_at_the_first(void **state) {
    (void)state;
    const mst_stake stakes[] = {{"a", "", 0, 0, NAN, 2}, {"b", "", 9, 1, NAN, 3}, {"c", "", 1, 8, NAN, 4},
                                {"d", "", 5, 5, NAN, 5}, {"e", "", 2, 2, NAN, 6}, {"f", "", 9, 9, NAN, 7},
                                {"g", "", 4, 9, NAN, 8}, {"h", "", 7, 3, NAN, 9}};
    mst_setout_sheet s = sheet_of(stakes, 8, &AS_IT_IS);
    assert_string_equal(s.order[0], "a");
    double best = shortest(stakes, 8, 0xFE, 0);
    assert_true(walked(&s) <=
                1.05 * best + 1e-9); /* 2-opt is usually within 5 % of the best (common knowledge, no source) */
}
static void a_walk_of_many_stakes_visits_each_once(void **state) {
    (void)state;
    enum { MANY = 3000 };
    mst_stake *stakes = mst_arena_array(arena, MANY, sizeof *stakes);
    for (int i = 0; i < MANY; i++)
        stakes[i] = (mst_stake){mst_arena_printf(arena, "S%d", i), "", (i * 7919) % 60, (i * 104729) % 53, NAN, i + 2};
    mst_setout_sheet s = sheet_of(stakes, MANY, &AS_IT_IS);
    mst_index seen = {0};
    for (int i = 0; i < MANY; i++) {
        assert_int_equal(mst_index_get(&seen, s.order[i]), UINT32_MAX);
        assert_true(mst_index_put(&seen, arena, s.order[i], 1));
    }
}
#define TEST(f) cmocka_unit_test_setup_teardown(f, open_arena, close_arena)
int main(void) {
    const struct CMUnitTest tests[] = {TEST(ties_find_each_stake_again),
                                       TEST(the_two_ties_cut_between_30_and_150_degrees),
                                       TEST(sd_is_what_replays_give),
                                       TEST(sd_with_covariances),
                                       TEST(held_marks_are_liked_better_than_shots_on_grass),
                                       TEST(without_marks_in_reach_it_says_so),
                                       TEST(polar_and_chainage_lead_back),
                                       TEST(unknown_names_are_refused),
                                       TEST(without_ground_no_cut_is_invented),
                                       TEST(cut_and_fill_in_words),
                                       TEST(side_slopes_meet_the_ground),
                                       TEST(the_walk_is_short_and_starts_at_the_first),
                                       TEST(a_walk_of_many_stakes_visits_each_once)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
