/* Source: C. D. Ghilani, Adjustment Computations, coordinate-transformations chapter (ch. 18), first example (from
 * memory; residuals recomputed only). Collected in the project's reference page 06. */
#include "geometry/near.h"
#include "merestone/geometry.h"

static const mst_point FROM[] = {{121.622, -128.066}, {141.228, 187.718}, {175.802, 135.728}, {174.148, -120.262}};
static const mst_point TO[] = {{1049422.40, 51089.20}, {1049413.95, 49659.30}, {1049244.95, 49884.95}};

static void the_four_parameter_fit(void **state) {
    (void)state;
    mst_error error = {0};
    mst_similarity t;
    mst_point r[3];
    IS_OK(mst_similarity_fit(FROM, TO, 3, true, &t, r, &error));
    NEAR(t.scale * cos(t.turn_rad), -4.51249, 1e-5);
    NEAR(-t.scale * sin(t.turn_rad), -0.25371, 1e-5); /* the book turns counter-clockwise */
    NEAR(t.e0_m, 1050003.715, 0.001);
    NEAR(t.n0_m, 50542.131, 0.001);
    mst_point d = mst_similarity_apply(&t, FROM[3]);
    NEAR(d.easting_m, 1049187.361, 0.001);
    NEAR(d.northing_m, 51040.629, 0.001);
    const double computed_less_control[][2] = {{0.004, -0.029}, {0.101, -0.077}, {-0.105, 0.106}};
    for (int i = 0; i < 3; i++) {
        NEAR(-r[i].easting_m, computed_less_control[i][0], 0.001);
        NEAR(-r[i].northing_m, computed_less_control[i][1], 0.001);
    }
    NEAR(t.rms_m * sqrt(3.0 / 2), 0.14, 0.001); /* S0 with 2 degrees of freedom */
    NEAR(t.scale, 4.51962, 1e-5);
    NEAR(degrees(t.turn_rad), 176.782, 0.001);
}

/* Property: any turn, shift and scale is found again, and holding the scale gives the best turn there is. */
static void a_known_frame_comes_back(void **state) {
    (void)state;
    uint64_t seed = 6;
    for (int i = 0; i < 500; i++) {
        mst_similarity truth = {draw_between(&seed, -1e5, 1e5), draw_between(&seed, -1e5, 1e5),
                                draw_between(&seed, -3.1, 3.1), draw_between(&seed, 0.5, 2), 0},
                       t, held;
        mst_point from[6], to[6];
        mst_error error = {0};
        for (int k = 0; k < 6; k++) {
            from[k] = (mst_point){draw_between(&seed, 0, 60), draw_between(&seed, 0, 60)};
            to[k] = mst_similarity_apply(&truth, from[k]);
        }
        IS_OK(mst_similarity_fit(from, to, 6, true, &t, NULL, &error));
        NEAR(mst_angle_signed(t.turn_rad - truth.turn_rad), 0, 1e-9);
        NEAR(t.scale, truth.scale, 1e-9);
        NEAR(t.rms_m, 0, 1e-9);
        IS_OK(mst_similarity_fit(from, to, 6, false, &held, NULL, &error));
        assert_true(held.scale == 1);
        double squares[3] = {0};
        for (int d = 0; d < 3; d++) {
            mst_similarity near_by = held;
            near_by.turn_rad += (d - 1) * 1e-4;
            mst_point f = {0, 0}, at = {0, 0};
            for (int k = 0; k < 6; k++) {
                mst_point q = mst_similarity_apply(&near_by, from[k]);
                f.easting_m += q.easting_m / 6, f.northing_m += q.northing_m / 6;
                at.easting_m += to[k].easting_m / 6, at.northing_m += to[k].northing_m / 6;
            }
            for (int k = 0; k < 6; k++) {
                mst_point q = mst_similarity_apply(&near_by, from[k]);
                squares[d] += pow(mst_distance((mst_point){q.easting_m - f.easting_m + at.easting_m,
                                                           q.northing_m - f.northing_m + at.northing_m},
                                               to[k]),
                                  2);
            }
        }
        assert_true(squares[1] <= squares[0] + 1e-9 && squares[1] <= squares[2] + 1e-9);
    }
}

static void what_carries_no_direction_is_refused(void **state) {
    (void)state;
    mst_error error = {0};
    mst_similarity t = {0, 0, 0, -1, 0};
    const mst_point one[] = {{5, 5}, {5, 5}}, gap[] = {{0, 0}, {1, NAN}};
    assert_int_equal(mst_similarity_fit(FROM, TO, 1, true, &t, NULL, &error), MST_TOO_FEW);
    assert_int_equal(mst_similarity_fit(one, TO, 2, true, &t, NULL, &error), MST_UNDETERMINED);
    assert_int_equal(mst_similarity_fit(FROM, one, 2, false, &t, NULL, &error), MST_UNDETERMINED);
    assert_int_equal(mst_similarity_fit(FROM, gap, 2, false, &t, NULL, &error), MST_INVALID);
    assert_true(t.scale == -1);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_four_parameter_fit),
                                       cmocka_unit_test(a_known_frame_comes_back),
                                       cmocka_unit_test(what_carries_no_direction_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
