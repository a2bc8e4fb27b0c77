/* Inside or not, and paths that cross themselves: plane geometry, no source. */
#include "geometry/near.h"
#include "merestone/geometry.h"

static bool inside(const mst_shape *s, double e, double n) { return mst_shape_contains(s, (mst_point){e, n}); }

static void a_round_bed_in_a_lawn(void **state) {
    (void)state;
    mst_path_vertex lawn[] = {{0, 0, NAN, 0}, {20, 0, NAN, 0}, {20, 10, NAN, 0}, {0, 10, NAN, 0}};
    mst_path_vertex bed[] = {{8, 5, NAN, 1}, {12, 5, NAN, 1}};
    mst_shape s = {(mst_path[]){{lawn, 4, true}, {bed, 2, true}}, 2};
    assert_true(inside(&s, 1, 1) && inside(&s, 0, 0) && inside(&s, 20, 5) && inside(&s, 10, 7) && inside(&s, 8, 5));
    assert_false(inside(&s, 10, 5) || inside(&s, 10, 6.999999) || inside(&s, 20.0000001, 5) || inside(&s, NAN, 5));
    assert_true(inside(&s, 10, 7.000001));
    assert_false(mst_shape_contains(&(mst_shape){NULL, 0}, (mst_point){0, 0}));
}

/* The same answer as the finely flattened ring, away from its edge. */
static void arcs_agree_with_their_chords(void **state) {
    (void)state;
    mst_error error = {0};
    uint64_t seed = 8;
    for (int round = 0; round < 60; round++) {
        mst_path_vertex v[9];
        for (int i = 0; i < 9; i++) {
            double a = i * MST_PI * 2 / 9, r = draw_between(&seed, 8, 12);
            double bulge = i % 3 == 0 ? 0 : draw_between(&seed, -0.4, i == 4 ? 3 : 0.6);
            v[i] = (mst_path_vertex){round % 2 ? r * cos(a) : round + 0.0 + floor(r * cos(a)),
                                     round % 2 ? r * sin(a) : floor(r * sin(a)), NAN, bulge};
        }
        mst_arena *arena = mst_arena_new();
        mst_path ring = {v, 9, true}, flat;
        IS_OK(mst_path_flatten(&ring, 1e-5, arena, &flat, &error));
        mst_shape arcs = {&ring, 1}, chords = {&flat, 1};
        for (int k = 0; k < 400; k++) { /* whole numbers hit chords and corners exactly */
            mst_point p = {floor(draw_between(&seed, -20, 20)) + (round % 2 ? 0.5 : round),
                           floor(draw_between(&seed, -20, 20))};
            double nearest = HUGE_VAL;
            for (size_t i = 0; i < flat.count; i++) {
                mst_point a = {flat.vertices[i].easting_m, flat.vertices[i].northing_m};
                nearest = fmin(nearest, mst_distance(a, p));
                const mst_path_vertex *n = &flat.vertices[(i + 1) % flat.count];
                double chainage, offset;
                mst_chainage_offset(a, (mst_point){n->easting_m, n->northing_m}, p, &chainage, &offset);
                if (chainage > 0 && chainage < mst_distance(a, (mst_point){n->easting_m, n->northing_m}))
                    nearest = fmin(nearest, fabs(offset));
            }
            if (nearest > 1e-4) assert_int_equal(mst_shape_contains(&arcs, p), mst_shape_contains(&chords, p));
        }
        mst_arena_free(arena);
    }
}

static bool crosses(const double at[][2], size_t count, bool closed, mst_point *where) {
    mst_path_vertex v[16];
    for (size_t i = 0; i < count; i++) v[i] = (mst_path_vertex){at[i][0], at[i][1], NAN, 0};
    return mst_path_crosses_itself(&(mst_path){v, count, closed}, where);
}

static void small_crossings(void **state) {
    (void)state;
    mst_point p;
    const double bow[][2] = {{0, 0}, {2, 2}, {2, 0}, {0, 2}}, square[][2] = {{0, 0}, {2, 0}, {2, 2}, {0, 2}};
    assert_true(crosses(bow, 4, true, &p));
    NEAR(p.easting_m, 1, 1e-15);
    NEAR(p.northing_m, 1, 1e-15);
    assert_false(crosses(square, 4, true, &p));
    const double spike[][2] = {{0, 0}, {4, 0}, {2, 0}, {2, 3}}, touch[][2] = {{0, 0}, {4, 0}, {4, 2}, {2, 0}, {0, 2}};
    assert_true(crosses(spike, 4, false, &p));
    assert_true(crosses(touch, 5, true, &p));
    NEAR(p.easting_m, 2, 0);
    const double repeat[][2] = {{0, 0}, {0, 0}, {2, 0}, {2, 2}, {2, 2}, {0, 2}, {0, 0}};
    assert_false(crosses(repeat, 7, true, &p));
    assert_true(crosses(repeat, 7, false, &p)); /* as an open line its end touches its start */
    assert_false(crosses(square, 1, false, &p) || crosses(square, 0, false, &p) || crosses(square, 2, false, &p));
    assert_true(crosses(square, 2, true, &p));
    const double gap[][2] = {{0, 0}, {NAN, 1}};
    assert_true(crosses(gap, 2, false, &p));
    assert_true(isnan(p.easting_m));
    mst_path_vertex loop[] = {{0, 0, NAN, 0}, {10, 0, NAN, -5}, {10, 1, NAN, 0}, {0, 1, NAN, 0}};
    assert_true(mst_path_crosses_itself(&(mst_path){loop, 4, true}, NULL));
    loop[1].bulge = 5;
    assert_false(mst_path_crosses_itself(&(mst_path){loop, 4, true}, NULL));
}

/* A star of 10,000 corners does not cross itself; with two corners swapped it does, near the swap. */
static void ten_thousand_corners(void **state) {
    (void)state;
    enum { N = 10000 };
    static mst_path_vertex v[N];
    uint64_t seed = 9;
    for (int i = 0; i < N; i++) {
        double a = i * 2 * MST_PI / N, r = draw_between(&seed, 50, 100);
        v[i] = (mst_path_vertex){r * cos(a), r * sin(a), NAN, 0};
    }
    mst_path ring = {v, N, true};
    mst_point p;
    assert_false(mst_path_crosses_itself(&ring, &p));
    mst_path_vertex keep = v[5000];
    v[5000] = v[5003];
    v[5003] = keep;
    assert_true(mst_path_crosses_itself(&ring, &p));
    double a = atan2(p.northing_m, p.easting_m);
    NEAR(fabs(a), MST_PI, 0.01);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_round_bed_in_a_lawn),
                                       cmocka_unit_test(arcs_agree_with_their_chords),
                                       cmocka_unit_test(small_crossings), cmocka_unit_test(ten_thousand_corners)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
