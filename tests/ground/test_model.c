/* The ground model: merging, breaklines, boundary, holes, natural rim, levels and where they come from. Plane and solid
 * geometry, no source. */
#include "ground/ground_test.h"

static mst_ground_figures figures_of(const mst_ground *g) {
    mst_ground_figures f;
    mst_ground_describe(g, &f);
    return f;
}

/* A gently waved surface, points scattered from a seed over 0..100 x 0..100. */
static mst_ground_point *scattered(size_t count, uint64_t seed, mst_arena *arena) {
    mst_ground_point *p = mst_arena_array(arena, count, sizeof *p);
    for (size_t i = 0; i < count; i++) {
        double e = draw_between(&seed, 0, 100), n = draw_between(&seed, 0, 100);
        p[i] =
            (mst_ground_point){400000 + e, 300000 + n, 50 + 3 * sin(e / 15) + 2 * cos(n / 11) + 0.02 * e, (uint32_t)i};
    }
    return p;
}

static void levels_slope_and_fall(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 10}, {20, 0, 10.4}, {20, 10, 10.3}, {0, 10, 9.9}};
    mst_ground *g = ground_of_points(at, 4, arena); /* z = 10 + 0.02 e - 0.01 n */
    mst_ground_level l;
    assert_true(mst_ground_level_at(g, (mst_point){7, 3}, &l));
    NEAR(l.elevation_m, 10.11, 1e-12);
    NEAR(l.slope, hypot(0.02, 0.01), 1e-12);
    NEAR(degrees(l.fall_bearing_rad), 360 - 63.43494882, 1e-6); /* down to the west-north-west */
    double sum = 0, east = 0;
    for (size_t i = 0; i < l.term_count; i++) sum += l.terms[i].elevation, east += l.terms[i].easting;
    NEAR(sum, 1, 1e-12);
    NEAR(east, -0.02, 1e-12);
    for (int i = 0; i < 4; i++) {
        assert_true(mst_ground_level_at(g, (mst_point){at[i][0], at[i][1]}, &l));
        assert_true(l.elevation_m == at[i][2]);
        assert_int_equal(l.term_count, 1);
    }
    assert_true(mst_ground_level_at(g, (mst_point){20, 5}, &l)); /* on the rim */
    assert_false(mst_ground_level_at(g, (mst_point){20.000001, 5}, &l));
    assert_false(mst_ground_level_at(g, (mst_point){NAN, 5}, &l));
    mst_arena_free(arena);
}

/* The terms are the derivatives: move a measured point by a millimetre and see. */
static void terms_are_derivatives(void **state) {
    (void)state;
    enum { COUNT = 60 };
    mst_arena *arena = mst_arena_new();
    mst_ground_point *p = scattered(COUNT, 1, arena);
    const uint32_t fence[] = {0, 7, 12};
    mst_ground_line line = {"fence", fence, 3, false};
    mst_ground_input input = {.points = p, .point_count = COUNT, .breaklines = &line, .breakline_count = 1};
    uint64_t seed = 2;
    for (int k = 0; k < 40; k++) {
        mst_point at = {400000 + draw_between(&seed, 20, 80), 300000 + draw_between(&seed, 20, 80)};
        mst_ground_level l, up, down;
        assert_true(mst_ground_level_at(ground_of(&input, arena), at, &l));
        for (size_t t = 0; t < l.term_count; t++) {
            mst_ground_point *moved = &p[l.terms[t].point], keep = *moved;
            double *axis[] = {&moved->easting_m, &moved->northing_m, &moved->elevation_m};
            const double expected[] = {l.terms[t].easting, l.terms[t].northing, l.terms[t].elevation};
            for (int a = 0; a < 3; a++) {
                const double step = 1e-5;
                *axis[a] += step;
                assert_true(mst_ground_level_at(ground_of(&input, arena), at, &up));
                *moved = keep;
                *axis[a] -= step;
                assert_true(mst_ground_level_at(ground_of(&input, arena), at, &down));
                *moved = keep;
                NEAR((up.elevation_m - down.elevation_m) / (2 * step), expected[a], 2e-4);
            }
        }
    }
    mst_arena_free(arena);
}

static void near_points_count_once(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[] = {{0, 0, 1, 0},  {10, 0, 1, 1},          {10, 10, 1, 2},
                            {0, 10, 1, 3}, {10.0005, 10, 1.04, 4}, {5, 5, NAN, 5}};
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = 6}, arena);
    assert_int_equal(figures_of(g).points, 4);
    mst_ground_level l;
    assert_true(mst_ground_level_at(g, (mst_point){10, 10}, &l));
    NEAR(l.elevation_m, 1.02, 1e-12);
    assert_int_equal(l.term_count, 2);
    NEAR(l.terms[0].elevation, 0.5, 1e-12);
    p[4].elevation_m = 1.3;
    mst_ground *none = NULL;
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = p, .point_count = 6}, arena, &none, &error),
                     MST_INVALID);
    assert_non_null(strstr(error.sentence, "Points 3 and 5 lie at one place (10.000 E, 10.000 N)"));
    assert_non_null(strstr(error.sentence, "0.300 m"));
    assert_null(none);
    mst_ground_input loose = {.points = p, .point_count = 6, .merge_height_m = 0.5};
    assert_int_equal(figures_of(ground_of(&loose, arena)).points, 4);
    mst_arena_free(arena);
}

static int by_words(const void *a, const void *b) { return memcmp(a, b, 9 * sizeof(double)); }

/* All triangles with their levels, from the westernmost corner on, in an order of their own. */
static double (*corners_in_order(const mst_ground *g, size_t *count))[9] {
    size_t vertices;
    const mst_ground_point *v = mst_ground_vertices(g, &vertices);
    const uint32_t(*t)[3] = mst_ground_triangles(g, count);
    double(*out)[9] = calloc(*count, sizeof *out);
    for (size_t i = 0; i < *count; i++) {
        int first = 0;
        for (int k = 1; k < 3; k++) {
            const mst_ground_point *p = &v[t[i][k]], *q = &v[t[i][first]];
            if (p->easting_m < q->easting_m || (p->easting_m == q->easting_m && p->northing_m < q->northing_m))
                first = k;
        }
        for (int k = 0; k < 3; k++) {
            const mst_ground_point *p = &v[t[i][(first + k) % 3]];
            out[i][3 * k] = p->easting_m, out[i][3 * k + 1] = p->northing_m, out[i][3 * k + 2] = p->elevation_m;
        }
    }
    qsort(out, *count, sizeof *out, by_words);
    return out;
}

/* Near points, points at one place and a breakline: whatever the order, the same places, levels and triangles. */
static void the_order_of_points_does_not_matter(void **state) {
    (void)state;
    enum { COUNT = 300 };
    uint64_t seed = 20261125;
    mst_arena *arena = mst_arena_new();
    mst_ground_point p[COUNT], q[COUNT];
    uint32_t to[COUNT], ends[2] = {0, 7}, moved[2];
    for (uint32_t i = 0; i < COUNT; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        double e = (double)(seed >> 40 & 1023) * 0.1, n = (double)(seed >> 50 & 1023) * 0.1;
        p[i] = (mst_ground_point){e, n, 100 + 0.02 * e, i};
        if (i % 3 == 2) /* beside the one before, in a chain of near ones */
            p[i] = (mst_ground_point){p[i - 1].easting_m + 0.0004 * (double)(i % 5), p[i - 1].northing_m,
                                      p[i - 1].elevation_m + 0.01, i};
        if (i % 7 == 3) p[i] = p[i - 1], p[i].elevation_m += 0.003;
        to[i] = i;
    }
    for (int round = 0; round < 40; round++) {
        for (uint32_t i = COUNT - 1; i > 0; i--) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            uint32_t j = (uint32_t)(seed >> 33) % (i + 1), swap = to[i];
            to[i] = to[j], to[j] = swap;
        }
        for (uint32_t i = 0; i < COUNT; i++) q[to[i]] = p[i];
        for (int k = 0; k < 2; k++) moved[k] = to[ends[k]];
        mst_ground_line was = {"kerb", ends, 2, false}, is = {"kerb", moved, 2, false};
        size_t count, other;
        double(*one)[9] = corners_in_order(
            ground_of(&(mst_ground_input){.points = p, .point_count = COUNT, .breaklines = &was, .breakline_count = 1},
                      arena),
            &count);
        double(*two)[9] = corners_in_order(
            ground_of(&(mst_ground_input){.points = q, .point_count = COUNT, .breaklines = &is, .breakline_count = 1},
                      arena),
            &other);
        assert_int_equal(count, other);
        assert_memory_equal(one, two, count * sizeof *one);
        free(one);
        free(two);
    }
    mst_arena_free(arena);
}

static void what_makes_no_ground_is_refused(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground *g = NULL;
    mst_ground_point line[] = {{0, 0, 1, 0}, {1, 1, 1, 1}, {2, 2, 1, 2}, {0, 0.0001, 1, 3}};
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = line, .point_count = 2}, arena, &g, &error),
                     MST_TOO_FEW);
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = line, .point_count = 3}, arena, &g, &error),
                     MST_UNDETERMINED);
    assert_non_null(strstr(error.sentence, "one line"));
    line[1].elevation_m = NAN;
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = line, .point_count = 3}, arena, &g, &error),
                     MST_TOO_FEW);
    line[1] = (mst_ground_point){NAN, 1, 1, 1};
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = line, .point_count = 4}, arena, &g, &error),
                     MST_INVALID);
    line[1] = (mst_ground_point){5, 1, 1, 1};
    const uint32_t wrong[] = {0, 9};
    mst_ground_line l = {"wall", wrong, 2, false};
    assert_int_equal(
        mst_ground_build(&(mst_ground_input){.points = line, .point_count = 4, .breaklines = &l, .breakline_count = 1},
                         arena, &g, &error),
        MST_INVALID);
    assert_non_null(strstr(error.sentence, "wall"));
    mst_shape elsewhere = rectangle(100, 100, 110, 110, arena);
    assert_int_equal(mst_ground_build(&(mst_ground_input){.points = line, .point_count = 4, .boundary = &elsewhere},
                                      arena, &g, &error),
                     MST_UNDETERMINED);
    assert_null(g);
    mst_arena_free(arena);
}

static void breaklines_that_cross(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_ground_point p[] = {{0, 0, 1, 0}, {10, 10, 2, 1}, {10, 0, 1.5, 2}, {0, 10, 1.7, 3}};
    const uint32_t a[] = {0, 1}, b[] = {2, 3};
    mst_ground_line lines[] = {{"kerb", a, 2, false}, {"wall", b, 2, false}};
    mst_ground_input input = {.points = p, .point_count = 4, .breaklines = lines, .breakline_count = 2};
    mst_ground *g = ground_of(&input, arena);
    mst_ground_figures f = figures_of(g);
    assert_int_equal(f.points, 5);
    assert_int_equal(f.warning_count, 1);
    assert_non_null(strstr(f.warnings[0], "kerb and wall cross at 5.000 E, 5.000 N with levels 0.100 m apart"));
    mst_ground_level l;
    assert_true(mst_ground_level_at(g, (mst_point){5, 5}, &l));
    NEAR(l.elevation_m, 1.55, 1e-12);
    assert_int_equal(l.term_count, 4);
    for (int i = 0; i < 4; i++) NEAR(l.terms[i].elevation, 0.25, 1e-12);
    p[2].elevation_m = 1.31; /* 20 mm or less is not worth a word */
    assert_int_equal(figures_of(ground_of(&input, arena)).warning_count, 0);
    p[3].elevation_m = NAN; /* a line without a level at one end does not count, and says so */
    p[3].northing_m = 11;
    mst_ground_point q[] = {p[0], p[1], p[2], p[3], {0, 10, 1.7, 4}};
    f = figures_of(ground_of(
        &(mst_ground_input){.points = q, .point_count = 5, .breaklines = lines, .breakline_count = 2}, arena));
    assert_int_equal(f.warning_count, 1);
    assert_non_null(strstr(f.warnings[0], "wall"));
    mst_arena_free(arena);
}

/* A boundary through measured points, and one between them; the surface inside stays what it was. */
static void boundaries_cut_and_change_nothing(void **state) {
    (void)state;
    enum { COUNT = 200 };
    mst_arena *arena = mst_arena_new();
    mst_ground_point *p = scattered(COUNT, 5, arena);
    mst_ground *whole = ground_of(&(mst_ground_input){.points = p, .point_count = COUNT}, arena);
    mst_path_vertex ring[] = {
        {400020, 300020, NAN, 0}, {400080, 300025, NAN, 0.4}, {400070, 300080, NAN, 0}, {400025, 300070, NAN, 0}};
    mst_path outline = {ring, 4, true};
    mst_shape boundary = {&outline, 1}, hole = rectangle(400040, 300040, 400050, 300050, arena);
    mst_ground_input input = {
        .points = p, .point_count = COUNT, .boundary = &boundary, .holes = &hole, .hole_count = 1};
    mst_ground *cut = ground_of(&input, arena);
    mst_path flat;
    mst_error error = {0};
    IS_OK(mst_path_flatten(&outline, 0.005, arena, &flat, &error));
    NEAR(figures_of(cut).plan_area_m2, mst_path_area(&flat) - 100, 1e-7);
    uint64_t seed = 6;
    int inside = 0;
    for (int i = 0; i < 3000; i++) {
        mst_point at = {400000 + draw_between(&seed, 0, 100), 300000 + draw_between(&seed, 0, 100)};
        mst_ground_level a, b;
        bool in = mst_shape_contains(&boundary, at) && !mst_shape_contains(&hole, at);
        bool had = mst_ground_level_at(cut, at, &a);
        if (in != had) { /* only between the arc and its chords */
            mst_shape chords = {&flat, 1};
            assert_int_equal(had, mst_shape_contains(&chords, at) && !mst_shape_contains(&hole, at));
            continue;
        }
        if (!in) continue;
        inside++;
        assert_true(mst_ground_level_at(whole, at, &b));
        NEAR(a.elevation_m, b.elevation_m, 1e-9);
        assert_int_equal(a.term_count, b.term_count);
    }
    assert_true(inside > 500);
    mst_shape inner = rectangle(400055, 300035, 400065, 300060, arena);
    mst_prism_sum v1 = to_plane(whole, inner, level_plane(50), 0, arena),
                  v2 = to_plane(cut, inner, level_plane(50), 0, arena);
    NEAR(v1.cut_m3, v2.cut_m3, 1e-7);
    NEAR(v1.fill_m3, v2.fill_m3, 1e-7);
    mst_path *rims;
    size_t rim_count;
    IS_OK(mst_ground_rims(cut, arena, &rims, &rim_count, &error));
    assert_int_equal(rim_count, 2);
    NEAR(mst_path_area(&rims[0]), mst_path_area(&flat), 1e-7);
    NEAR(mst_path_area(&rims[1]), -100, 1e-7);
    mst_arena_free(arena);
}

static void a_measured_boundary_is_a_breakline(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    /* an L of six measured corners round a dip, and points outside that the boundary leaves out */
    const double at[][3] = {{0, 0, 1},  {20, 0, 1}, {20, 10, 1}, {10, 10, 1}, {10, 20, 1},
                            {0, 20, 1}, {5, 5, 0},  {18, 18, 5}, {30, 5, 3}};
    mst_ground_point p[9];
    mst_path_vertex ring[6];
    for (uint32_t i = 0; i < 9; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], i};
    for (int i = 0; i < 6; i++) ring[i] = (mst_path_vertex){at[i][0] + (i == 2 ? 0.0004 : 0), at[i][1], NAN, 0};
    mst_path outline = {ring, 6, true};
    mst_shape boundary = {&outline, 1};
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = 9, .boundary = &boundary}, arena);
    NEAR(figures_of(g).plan_area_m2, 300, 1e-9);
    assert_int_equal(figures_of(g).points, 7);
    NEAR(figures_of(g).highest_m, 1, 0);
    size_t count;
    const mst_ground_point *v = mst_ground_vertices(g, &count);
    for (size_t i = 0; i < count; i++) assert_int_equal(v[i].source, i);
    /* a boundary far outside the points limits nothing and adds no ground */
    mst_shape wide = rectangle(-50, -50, 90, 90, arena);
    mst_ground *all = ground_of(&(mst_ground_input){.points = p, .point_count = 9, .boundary = &wide}, arena);
    mst_ground *hull = ground_of(&(mst_ground_input){.points = p, .point_count = 9}, arena);
    NEAR(figures_of(all).plan_area_m2, figures_of(hull).plan_area_m2, 1e-9);
    /* half outside */
    mst_shape half = rectangle(-50, -50, 5, 90, arena);
    mst_ground *west = ground_of(&(mst_ground_input){.points = p, .point_count = 9, .boundary = &half}, arena);
    NEAR(figures_of(west).plan_area_m2, 100, 1e-9);
    mst_arena_free(arena);
}

static void the_rim_leaves_out_leaps(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    /* a drive of two close rows of points along a bent line: the hull would bridge the bend */
    mst_ground_point p[400];
    size_t count = 0;
    for (int i = 0; i < 100; i++)
        for (int side = 0; side < 2; side++)
            p[count] = (mst_ground_point){i, side + 0.001 * i * i * 3, 10, (uint32_t)count}, count++;
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = count}, arena);
    NEAR(figures_of(g).plan_area_m2, 99, 9.9); /* the hull is over 400 m2 */
    mst_path *rims;
    size_t rim_count;
    mst_error error = {0};
    IS_OK(mst_ground_rims(g, arena, &rims, &rim_count, &error));
    assert_int_equal(rim_count, 1);
    mst_arena_free(arena);
}

static void triangles_from_a_file(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground *g = NULL;
    /* Stated in the file: open data, public repository abrman/landxml, MIT: area 18, slope area 33.674916480965 */
    const mst_ground_point p[] = {{1, 2, 3, 0}, {4, 5, 6, 1}, {7, 8, 9, 2}, {7, 2, 0, 3}};
    const uint32_t faces[][3] = {{3, 1, 0}, {3, 2, 1}, {0, 1, 2}};
    IS_OK(mst_ground_from_triangles(p, 4, faces, 3, arena, &g, &error));
    mst_ground_figures f = figures_of(g);
    assert_int_equal(f.triangles, 2);
    NEAR(f.plan_area_m2, 18, 1e-12);
    NEAR(f.slope_area_m2, 33.674916480965, 5e-13);
    assert_int_equal(f.warning_count, 1); /* the third face stands upright */
    const uint32_t wrong[][3] = {{0, 1, 9}}, twice[][3] = {{3, 1, 0}, {0, 1, 3}};
    assert_int_equal(mst_ground_from_triangles(p, 4, wrong, 1, arena, &g, &error), MST_INVALID);
    assert_int_equal(mst_ground_from_triangles(p, 4, twice, 2, arena, &g, &error), MST_INVALID);
    assert_int_equal(mst_ground_from_triangles(p, 4, faces + 2, 1, arena, &g, &error), MST_TOO_FEW);
    const mst_ground_point gap[] = {{1, 2, NAN, 0}, {4, 5, 6, 1}, {7, 2, 0, 3}};
    assert_int_equal(mst_ground_from_triangles(gap, 3, faces, 0, arena, &g, &error), MST_INVALID);
    mst_arena_free(arena);
}

/* Two blocks of spot levels with a row of points between them, like a U without its middle: the hull bridges the bay,
 * the model does not, and says so. Constructed, no source. */
static void what_the_rim_leaves_out_is_said(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    double at[63][3];
    size_t count = 0;
    for (int e = 0; e <= 20; e++)
        for (int side = 0; side < 2; side++) at[count++][0] = e, at[count - 1][1] = side, at[count - 1][2] = 10;
    mst_ground_figures f = figures_of(ground_of_points((const double(*)[3])at, count, arena));
    assert_int_equal(f.warning_count, 0);
    for (int n = 0; n < 10; n++) /* a second leg, square to the first */
        at[count++][0] = 0, at[count - 1][1] = 2 + 2 * n, at[count - 1][2] = 10;
    f = figures_of(ground_of_points((const double(*)[3])at, count, arena));
    assert_int_equal(f.warning_count, 1);
    assert_non_null(strstr(f.warnings[0], "No boundary is given: "));
    assert_non_null(strstr(f.warnings[0], "% of what the points span"));
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(levels_slope_and_fall),
                                       cmocka_unit_test(terms_are_derivatives),
                                       cmocka_unit_test(near_points_count_once),
                                       cmocka_unit_test(the_order_of_points_does_not_matter),
                                       cmocka_unit_test(what_makes_no_ground_is_refused),
                                       cmocka_unit_test(breaklines_that_cross),
                                       cmocka_unit_test(boundaries_cut_and_change_nothing),
                                       cmocka_unit_test(what_the_rim_leaves_out_is_said),
                                       cmocka_unit_test(a_measured_boundary_is_a_breakline),
                                       cmocka_unit_test(the_rim_leaves_out_leaps),
                                       cmocka_unit_test(triangles_from_a_file)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
