/* Volumes: what must hold for any two surfaces. Solid geometry, no source. */
#include "ground/ground_test.h"

enum { COUNT = 150 };

static mst_ground *waved(uint64_t seed, double lift, mst_arena *arena) {
    mst_ground_point *p = mst_arena_array(arena, COUNT + 4, sizeof *p);
    for (uint32_t i = 0; i < COUNT + 4; i++) {
        double e = i < 4 ? 60.0 * (i % 2) : draw_between(&seed, 0, 60),
               n = i < 4 ? 40.0 * (i / 2) : draw_between(&seed, 0, 40);
        p[i] = (mst_ground_point){7e5 + e, 5e6 + n, 20 + lift + sin(e / 7) + cos(n / 9), i};
    }
    mst_shape rim = rectangle(7e5, 5e6, 7e5 + 60, 5e6 + 40, arena); /* else the long edges of its rim count as leaps */
    return ground_of(&(mst_ground_input){.points = p, .point_count = COUNT + 4, .boundary = &rim}, arena);
}

static mst_prism_sum between(const mst_ground *a, const mst_ground *b, const mst_shape *within, mst_arena *arena) {
    mst_error error = {0};
    mst_prism_sum sum = {0};
    IS_OK(mst_ground_to_ground(a, b, within, arena, &sum, NULL, &error));
    return sum;
}

static void identical_shifted_and_swapped(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_ground *a = waved(1, 0, arena), *b = waved(1, 0.25, arena), *c = waved(2, 0.1, arena);
    mst_prism_sum same = between(a, a, NULL, arena), up = between(a, b, NULL, arena);
    assert_true(same.cut_m3 == 0 && same.fill_m3 == 0 && same.uncovered_m2 == 0);
    NEAR(same.area_m2, 2400, 2400e-12);
    NEAR(up.fill_m3, 600, 600e-12);
    assert_true(up.cut_m3 == 0);
    mst_prism_sum to = between(a, c, NULL, arena), back = between(c, a, NULL, arena);
    assert_true(to.cut_m3 > 1 && to.fill_m3 > 1);
    NEAR(to.cut_m3, back.fill_m3, 1e-12 * 2400);
    NEAR(to.fill_m3, back.cut_m3, 1e-12 * 2400);
    NEAR(to.area_m2, 2400, 2400e-12);
    NEAR(to.cut_area_m2 + to.fill_area_m2, 2400, 2400e-9);
    mst_shape within = rectangle(7e5 + 10, 5e6 + 5, 7e5 + 80, 5e6 + 30, arena);
    mst_prism_sum part = between(a, c, &within, arena);
    NEAR(part.area_m2, 50 * 25, 1e-8);
    NEAR(part.uncovered_m2, 20 * 25, 1e-8);
    mst_arena_free(arena);
}

static void volumes_add_up_over_split_shapes(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_ground *g = waved(3, 0, arena);
    uint64_t seed = 4;
    for (int i = 0; i < 30; i++) {
        double w = 7e5 + draw_between(&seed, 1, 20), e = 7e5 + draw_between(&seed, 30, 59),
               s = 5e6 + draw_between(&seed, 1, 10), n = 5e6 + draw_between(&seed, 20, 39);
        double m1 = draw_between(&seed, w, e), m2 = draw_between(&seed, w, e);
        mst_plane plane = {w, s, draw_between(&seed, 19, 21), draw_between(&seed, -0.05, 0.05),
                           draw_between(&seed, -0.05, 0.05)};
        mst_path_vertex left[] = {{w, s, NAN, 0}, {m1, s, NAN, 0.2}, {m2, n, NAN, 0}, {w, n, NAN, 0}};
        mst_path_vertex right[] = {{m1, s, NAN, 0}, {e, s, NAN, 0}, {e, n, NAN, 0}, {m2, n, NAN, -0.2}};
        mst_path paths[] = {{left, 4, true}, {right, 4, true}};
        mst_prism_sum all = to_plane(g, rectangle(w, s, e, n, arena), plane, 0.15, arena);
        if (mst_path_crosses_itself(&paths[0], NULL) || mst_path_crosses_itself(&paths[1], NULL)) continue;
        mst_prism_sum a = to_plane(g, (mst_shape){&paths[0], 1}, plane, 0.15, arena),
                      b = to_plane(g, (mst_shape){&paths[1], 1}, plane, 0.15, arena);
        if (fabs(a.area_m2 + b.area_m2 - all.area_m2) > 1e-6) continue; /* the arc bulged past the rectangle */
        NEAR(a.cut_m3 + b.cut_m3, all.cut_m3, 1e-9);
        NEAR(a.fill_m3 + b.fill_m3, all.fill_m3, 1e-9);
        double net = all.cut_m3 - all.fill_m3;
        mst_prism_sum low = to_plane(g, rectangle(w, s, e, n, arena), level_plane(0), 0, arena);
        double plane_mean = plane.level_m + plane.slope_e * (e - w) / 2 + plane.slope_n * (n - s) / 2;
        NEAR(net, low.cut_m3 - (plane_mean + 0.15) * all.area_m2, 1e-6);
    }
    mst_arena_free(arena);
}

static void frustums_and_holes(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    /* a square frustum 12 x 12 to 6 x 6, 3 high: h/3 (A + B + sqrt AB) = 252 */
    const double at[][3] = {{0, 0, 0}, {12, 0, 0}, {12, 12, 0}, {0, 12, 0}, {3, 3, 3}, {9, 3, 3}, {9, 9, 3}, {3, 9, 3}};
    mst_ground *g = ground_of_points(at, 8, arena);
    NEAR(to_plane(g, rectangle(0, 0, 12, 12, arena), level_plane(0), 0, arena).cut_m3, 252, 252e-12);
    mst_path paths[2];
    paths[0] = rectangle(0, 0, 12, 12, arena).paths[0];
    paths[1] = rectangle(3, 3, 9, 9, arena).paths[0];
    mst_shape ring = {paths, 2};
    mst_prism_sum sum = to_plane(g, ring, level_plane(0), 0, arena);
    NEAR(sum.cut_m3, 252 - 108, 144e-12);
    NEAR(sum.area_m2, 144 - 36, 144e-12);
    NEAR(sum.highest_m, 3, 1e-12);
    NEAR(sum.lowest_m, 0, 1e-12);
    /* a round pond on flat ground: arcs to 1 mm */
    mst_path_vertex pond[] = {{3, 6, NAN, 1}, {9, 6, NAN, 1}};
    mst_path round = {pond, 2, true};
    sum = to_plane(g, (mst_shape){&round, 1}, level_plane(2), 0, arena);
    assert_true(sum.area_m2 < 9 * MST_PI && sum.area_m2 > 9 * MST_PI * (1 - 1e-3));
    NEAR(sum.cut_m3, sum.area_m2, 1e-9);
    mst_arena_free(arena);
}

/* Terms against the volume of a ground with one point moved. */
static void terms_are_derivatives(void **state) {
    (void)state;
    enum { N = 30 };
    mst_arena *arena = mst_arena_new();
    mst_ground_point p[N + 4];
    uint64_t seed = 7;
    for (uint32_t i = 0; i < N + 4; i++) {
        double e = i < 4 ? 60.0 * (i % 2) : draw_between(&seed, 0, 60),
               n = i < 4 ? 40.0 * (i / 2) : draw_between(&seed, 0, 40);
        p[i] = (mst_ground_point){e, n, 20 + sin(e / 7) + cos(n / 9), i};
    }
    mst_ground_input input = {.points = p, .point_count = N + 4};
    mst_shape shape = rectangle(11, 7, 49, 31, arena);
    mst_plane plane = {30, 20, 20.2, 0.02, -0.01};
    mst_prism_sum sum = to_plane(ground_of(&input, arena), shape, plane, 0.1, arena);
    assert_true(sum.term_count > 10);
    double cut_sum = 0, fill_sum = 0;
    for (size_t t = 0; t < sum.term_count; t++) {
        mst_ground_point *moved = &p[sum.cut_terms[t].point], keep = *moved;
        assert_int_equal(sum.cut_terms[t].point, sum.fill_terms[t].point);
        double *axis[] = {&moved->easting_m, &moved->northing_m, &moved->elevation_m};
        const double cut[] = {sum.cut_terms[t].easting, sum.cut_terms[t].northing, sum.cut_terms[t].elevation};
        const double fill[] = {sum.fill_terms[t].easting, sum.fill_terms[t].northing, sum.fill_terms[t].elevation};
        for (int a = 0; a < 3; a++) {
            const double step = 1e-5;
            *axis[a] += step;
            mst_prism_sum up = to_plane(ground_of(&input, arena), shape, plane, 0.1, arena);
            *moved = keep;
            *axis[a] -= step;
            mst_prism_sum down = to_plane(ground_of(&input, arena), shape, plane, 0.1, arena);
            *moved = keep;
            NEAR((up.cut_m3 - down.cut_m3) / (2 * step), cut[a], 1e-4);
            NEAR((up.fill_m3 - down.fill_m3) / (2 * step), fill[a], 1e-4);
        }
        cut_sum += cut[2], fill_sum += fill[2];
    }
    NEAR(cut_sum, sum.cut_area_m2, 1e-9);
    NEAR(fill_sum, -sum.fill_area_m2, 1e-9);
    mst_arena_free(arena);
}

static void both_grounds_have_terms(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground *a = waved(1, 0, arena), *b = waved(2, 0.1, arena);
    mst_prism_sum sum, after;
    IS_OK(mst_ground_to_ground(a, b, NULL, arena, &sum, &after, &error));
    double before_cut = 0, after_cut = 0, after_fill = 0;
    for (size_t i = 0; i < sum.term_count; i++) before_cut += sum.cut_terms[i].elevation;
    for (size_t i = 0; i < after.term_count; i++)
        after_cut += after.cut_terms[i].elevation, after_fill += after.fill_terms[i].elevation;
    NEAR(before_cut, sum.cut_area_m2, 1e-8);
    NEAR(after_cut, -sum.cut_area_m2, 1e-8);
    NEAR(after_fill, sum.fill_area_m2, 1e-8);
    mst_arena_free(arena);
}

static void outlines_that_are_no_area(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground *g = waved(1, 0, arena);
    mst_prism_sum sum = {.cut_m3 = -1};
    mst_plane plane = level_plane(1);
    mst_path_vertex bow[] = {{0, 0, NAN, 0}, {5, 5, NAN, 0}, {5, 0, NAN, 0}, {0, 5, NAN, 0}};
    mst_path path = {bow, 4, true};
    mst_shape shape = {&path, 1}, empty = {NULL, 0};
    assert_int_equal(mst_ground_to_plane(g, &shape, &plane, 0, arena, &sum, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "crosses"));
    path.closed = false;
    assert_int_equal(mst_ground_to_plane(g, &shape, &plane, 0, arena, &sum, &error), MST_INVALID);
    assert_int_equal(mst_ground_to_plane(g, &empty, &plane, 0, arena, &sum, &error), MST_INVALID);
    plane.level_m = NAN;
    shape = rectangle(0, 0, 1, 1, arena);
    assert_int_equal(mst_ground_to_plane(g, &shape, &plane, 0, arena, &sum, &error), MST_INVALID);
    assert_true(sum.cut_m3 == -1);
    plane.level_m = 0;
    IS_OK(mst_ground_to_plane(g, &shape, &plane, 0, arena, &sum, &error)); /* nowhere near the ground */
    assert_true(sum.cut_m3 == 0 && sum.area_m2 == 0 && isnan(sum.highest_m));
    NEAR(sum.uncovered_m2, 1, 1e-12);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(identical_shifted_and_swapped),
                                       cmocka_unit_test(volumes_add_up_over_split_shapes),
                                       cmocka_unit_test(frustums_and_holes),
                                       cmocka_unit_test(terms_are_derivatives),
                                       cmocka_unit_test(both_grounds_have_terms),
                                       cmocka_unit_test(outlines_that_are_no_area)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
