/* Lengths, areas, places and flattening along paths: plane geometry, no source. */
#include "geometry/near.h"
#include "merestone/geometry.h"

/* A stadium: two straights of 10 and two half circles of radius 3. */
static mst_path_vertex STADIUM[] = {{0, 0, 1, 0}, {10, 0, 2, 1}, {10, 6, 3, 0}, {0, 6, 2, 1}};
static const mst_path RING = {STADIUM, 4, true};

static void a_stadium(void **state) {
    (void)state;
    NEAR(mst_path_length(&RING), 20 + 6 * MST_PI, 1e-12);
    NEAR(mst_path_area(&RING), 60 + 9 * MST_PI, 1e-12);
    double arc = 3 * MST_PI;
    NEAR(mst_path_slope_length(&RING), 2 * hypot(10, 1) + 2 * hypot(arc, 1), 1e-12);
    STADIUM[2].elevation_m = NAN;
    assert_true(isnan(mst_path_slope_length(&RING)));
    STADIUM[2].elevation_m = 3;
    mst_path paths[] = {RING, {(mst_path_vertex[]){{4, 3, NAN, -1}, {6, 3, NAN, -1}}, 2, true}};
    NEAR(mst_shape_area(&(mst_shape){paths, 2}), 60 + 8 * MST_PI, 1e-12);
    NEAR(mst_shape_length(&(mst_shape){paths, 2}), 20 + 6 * MST_PI, 1e-12);
    assert_true(mst_shape_area(&(mst_shape){paths, 0}) == 0);
}

/* A bulge from one end of its range to the other: area and length stay smooth across the series' limit. */
static void flat_and_full_arcs(void **state) {
    (void)state;
    for (double bulge = 1e-12; bulge < 20; bulge *= 1.37) {
        mst_path_vertex v[] = {{500000, 200000, NAN, bulge}, {500007, 200000, NAN, 0}};
        double angle = 4 * atan(bulge), r = 7 * (1 + bulge * bulge) / (4 * bulge);
        double area = mst_path_area(&(mst_path){v, 2, true}), length = mst_path_length(&(mst_path){v, 2, false});
        NEAR(length, r * angle, 1e-12 * length + 1e-15);
        if (bulge > 1e-3) NEAR(area, r * r / 2 * (angle - sin(angle)), 1e-8 * area + 1e-12);
        else NEAR(area, 49 * bulge / 3, 1e-5 * area);
    }
}

static void places_along_the_way(void **state) {
    (void)state;
    mst_point3 p;
    double bearing;
    assert_true(mst_path_at(&RING, 0, &p, &bearing));
    NEAR(bearing, MST_PI / 2, 1e-12);
    assert_true(mst_path_at(&RING, 10 + 1.5 * MST_PI, &p, &bearing));
    NEAR(p.easting_m, 13, 1e-12);
    NEAR(p.northing_m, 3, 1e-12);
    NEAR(p.elevation_m, 2.5, 1e-12);
    NEAR(mst_angle_signed(bearing), 0, 1e-12);
    assert_true(mst_path_at(&RING, mst_path_length(&RING), &p, &bearing));
    NEAR(p.easting_m, 0, 1e-12);
    NEAR(bearing, MST_PI / 2, 1e-12); /* the second half circle comes in eastwards */
    assert_false(mst_path_at(&RING, -1e-9, &p, &bearing));
    assert_false(mst_path_at(&RING, mst_path_length(&RING) + 1e-9, &p, &bearing));
    assert_false(mst_path_at(&RING, NAN, &p, &bearing));
    mst_path one = {STADIUM, 1, false};
    assert_false(mst_path_at(&one, 0, &p, &bearing));
    mst_path_vertex twice[] = {{0, 0, 0, 0}, {3, 4, 0, 0}, {3, 4, 0, 0}};
    mst_path repeat = {twice, 3, false};
    assert_true(mst_path_at(&repeat, 5, &p, &bearing));
    NEAR(p.northing_m, 4, 0);
}

static void flattening_keeps_the_vertices_and_the_promise(void **state) {
    (void)state;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    uint64_t seed = 3;
    for (int round = 0; round < 50; round++) {
        mst_path_vertex v[8];
        for (int i = 0; i < 8; i++)
            v[i] = (mst_path_vertex){draw_between(&seed, 4e5, 4e5 + 50), draw_between(&seed, 0, 50), draw(&seed),
                                     draw_between(&seed, -2, 2)};
        mst_path path = {v, 8, round % 2 == 0}, flat;
        double sagitta = round % 3 ? 0.001 : 0.05;
        IS_OK(mst_path_flatten(&path, sagitta, arena, &flat, &error));
        size_t at = 0;
        for (size_t i = 0; i < 8; i++) {
            while (memcmp(&v[i], &flat.vertices[at], 3 * sizeof(double)) != 0) assert_true(++at < flat.count);
            mst_point centre;
            double r, start, sweep;
            mst_arc_of(&v[i], &v[(i + 1) % 8], &centre, &r, &start, &sweep);
            for (size_t k = at; i < 7 && memcmp(&v[i + 1], &flat.vertices[k], 3 * sizeof(double)) != 0; k++) {
                mst_path_vertex a = flat.vertices[k], b = flat.vertices[k + 1];
                assert_true(a.bulge == 0);
                NEAR(mst_distance(centre, (mst_point){a.easting_m, a.northing_m}), r, 1e-8);
                mst_point middle = {(a.easting_m + b.easting_m) / 2, (a.northing_m + b.northing_m) / 2};
                assert_true(fabs(mst_distance(centre, middle) - r) <= sagitta * 1.0001 + 1e-8 || fabs(sweep) > MST_PI);
            }
        }
        assert_true(flat.closed == path.closed);
        NEAR(mst_path_length(&flat), mst_path_length(&path), 0.02 * mst_path_length(&path));
    }
    mst_path out = {NULL, 77, false};
    assert_int_equal(mst_path_flatten(&RING, 0, arena, &out, &error), MST_INVALID);
    assert_int_equal(mst_path_flatten(&RING, NAN, arena, &out, &error), MST_INVALID);
    assert_int_equal(mst_path_flatten(&RING, 1e-300, arena, &out, &error), MST_INVALID);
    mst_path_vertex bad[] = {{0, 0, 0, 0}, {NAN, 0, 0, 0}};
    assert_int_equal(mst_path_flatten(&(mst_path){bad, 2, false}, 0.1, arena, &out, &error), MST_INVALID);
    assert_true(out.count == 77);
    IS_OK(mst_path_flatten(&(mst_path){STADIUM, 0, false}, 0.1, arena, &out, &error));
    assert_true(out.count == 0);
    mst_arena_free(arena);
}

static void curves_are_smooth_and_keep_circles(void **state) {
    (void)state;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    mst_point3 round[7];
    for (int i = 0; i < 7; i++) {
        double a = i * i * 0.13;
        round[i] = (mst_point3){3e5 + 20 * cos(a), 1e5 + 20 * sin(a), a};
    }
    mst_path curve;
    IS_OK(mst_path_curve(round, 7, false, arena, &curve, &error));
    assert_int_equal(curve.count, 13);
    NEAR(mst_path_length(&curve), 20 * 36 * 0.13, 1e-7); /* points of a circle give that circle */
    for (int closed = 0; closed < 2; closed++) {
        uint64_t seed = 5;
        mst_point3 p[12];
        for (int i = 0; i < 12; i++) {
            double a = i * MST_PI / 6, r = draw_between(&seed, 10, 20);
            p[i] = (mst_point3){r * cos(a), r * sin(a), 2};
        }
        IS_OK(mst_path_curve(p, 12, closed, arena, &curve, &error));
        assert_true(curve.closed == (closed == 1));
        for (int i = 0; i < 12; i++)
            assert_true(curve.vertices[2 * i].easting_m == p[i].easting_m &&
                        curve.vertices[2 * i].northing_m == p[i].northing_m);
        double chainage = 0, bearing, before;
        for (size_t i = 0; i + 1 < curve.count; i++) { /* no kink at any joint */
            mst_path edge = {(mst_path_vertex[]){curve.vertices[i], curve.vertices[i + 1]}, 2, false};
            mst_point3 at;
            chainage += mst_path_length(&edge);
            assert_true(mst_path_at(&edge, mst_path_length(&edge), &at, &before));
            if (!mst_path_at(&curve, chainage + 1e-9, &at, &bearing)) continue;
            NEAR(mst_angle_signed(bearing - before), 0, 1e-7);
        }
        NEAR(curve.vertices[3].elevation_m, 2, 1e-12);
    }
    IS_OK(mst_path_curve(round, 2, false, arena, &curve, &error));
    NEAR(mst_path_length(&curve),
         hypot(round[1].easting_m - round[0].easting_m, round[1].northing_m - round[0].northing_m), 1e-9);
    mst_point3 line[] = {{0, 0, 0}, {1, 0, 0}, {5, 0, 4}};
    IS_OK(mst_path_curve(line, 3, false, arena, &curve, &error));
    NEAR(mst_path_length(&curve), 5, 1e-12);
    NEAR(curve.vertices[3].elevation_m, 2, 1e-12);
    mst_arena_free(arena);
}

static void curves_that_cannot_be_drawn(void **state) {
    (void)state;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    mst_path out = {NULL, 77, false};
    const mst_point3 back[] = {{0, 0, 0}, {1, 0, 0}, {0, 0, 0}}, twice[] = {{0, 0, 0}, {0, 0, 0}, {1, 0, 0}},
                     gap[] = {{0, 0, 0}, {NAN, 0, 0}};
    assert_int_equal(mst_path_curve(back, 1, false, arena, &out, &error), MST_TOO_FEW);
    assert_int_equal(mst_path_curve(back, 2, true, arena, &out, &error), MST_TOO_FEW);
    assert_int_equal(mst_path_curve(back, 3, false, arena, &out, &error), MST_UNDETERMINED);
    assert_int_equal(mst_path_curve(back, 3, true, arena, &out, &error), MST_INVALID);
    assert_int_equal(mst_path_curve(twice, 3, false, arena, &out, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "1 and 2"));
    assert_int_equal(mst_path_curve(gap, 2, false, arena, &out, &error), MST_INVALID);
    assert_true(out.count == 77);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_stadium),
                                       cmocka_unit_test(flat_and_full_arcs),
                                       cmocka_unit_test(places_along_the_way),
                                       cmocka_unit_test(flattening_keeps_the_vertices_and_the_promise),
                                       cmocka_unit_test(curves_are_smooth_and_keep_circles),
                                       cmocka_unit_test(curves_that_cannot_be_drawn)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
