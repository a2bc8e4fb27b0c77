/* What views colour triangles by. Planes with known slopes; the cosine law (B. K. P. Horn, Proc. IEEE 69 (1981) 14-47)
 * worked by hand for a light from the north-west, 45 degrees up. */
#include "ground/ground_test.h"

static mst_face *faces_of(double slope_e, double slope_n, double exaggeration, mst_arena *arena) {
    const double size = 10;
    const double at[][3] = {{0, 0, 50},
                            {size, 0, 50 + slope_e * size},
                            {size, size, 50 + (slope_e + slope_n) * size},
                            {0, size, 50 + slope_n * size}};
    mst_error error = {0};
    mst_face *f;
    IS_OK(mst_ground_faces(ground_of_points(at, 4, arena), exaggeration, arena, &f, &error));
    NEAR(f[0].slope, f[1].slope, 1e-12);
    NEAR(f[0].shade, f[1].shade, 1e-12);
    return f;
}

static void slopes_and_where_they_fall(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_face *level = faces_of(0, 0, 3, arena), *north = faces_of(0, -0.02, 3, arena),
             *west = faces_of(0.3, 0, 1, arena), *south_east = faces_of(-0.1, 0.1, 1, arena);
    NEAR(level->slope, 0, 0);
    assert_true(isnan(level->fall_bearing_rad));
    NEAR(north->slope, 0.02, 1e-12);
    NEAR(north->fall_bearing_rad, 0, 1e-9);
    NEAR(west->fall_bearing_rad, 1.5 * MST_PI, 1e-9);
    NEAR(south_east->slope, 0.1 * sqrt(2), 1e-12);
    NEAR(south_east->fall_bearing_rad, 0.75 * MST_PI, 1e-9);
    mst_arena_free(arena);
}

static void light_from_the_north_west(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double r = sqrt(0.5);
    NEAR(faces_of(0, 0, 1, arena)->shade, r, 1e-12);
    NEAR(faces_of(r, -r, 1, arena)->shade, 1, 1e-12);               /* 45 degrees down towards the light */
    NEAR(faces_of(-r, r, 1, arena)->shade, 0, 1e-12);               /* 45 degrees away: the light grazes it */
    NEAR(faces_of(-2 * r, 2 * r, 1, arena)->shade, 0, 0);           /* steeper: in its own shadow */
    NEAR(faces_of(r / 3, -r / 3, 3, arena)->shade, 1, 1e-12);       /* a third of it, heights three times */
    NEAR(faces_of(r / 3, -r / 3, 3, arena)->slope, 1 / 3.0, 1e-12); /* the slope stays the true one */
    mst_arena_free(arena);
}

static void bands_meet_and_cover(void **state) {
    (void)state;
    assert_int_equal(mst_slope_band(0), 0);
    for (int b = 0; b + 1 < MST_SLOPE_BANDS; b++) {
        double end = mst_slope_band_end(b);
        assert_true(end < mst_slope_band_end(b + 1));
        assert_int_equal(mst_slope_band(end / 100 * (1 - 1e-9)), b);
        assert_int_equal(mst_slope_band(end / 100 * (1 + 1e-9)), b + 1);
    }
    assert_int_equal(mst_slope_band(1e9), MST_SLOPE_BANDS - 1);
    assert_true(isinf(mst_slope_band_end(MST_SLOPE_BANDS - 1)));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(slopes_and_where_they_fall),
                                       cmocka_unit_test(light_from_the_north_west),
                                       cmocka_unit_test(bands_meet_and_cover)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
