/* Sources: named at each check; collected with their tolerances in the project's reference page 05. */
#include "geometry/near.h"
#include "merestone/geometry.h"

/* Gander, Golub, Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994) 558-578 (from memory). */
static void the_geometric_circle(void **state) {
    (void)state;
    mst_error error = {0};
    mst_point p[] = {{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}};
    mst_circle fit;
    IS_OK(mst_circle_fit(p, 6, &fit, &error));
    NEAR(fit.centre.easting_m, 4.7398, 6e-5);
    NEAR(fit.centre.northing_m, 2.9835, 6e-5);
    NEAR(fit.radius_m, 4.7142, 6e-5);
    NEAR(fit.rms_m * sqrt(6), 1.108, 1e-4); /* recomputed only */
    for (int i = 0; i < 6; i++) p[i].easting_m += 600000, p[i].northing_m += 5000000;
    IS_OK(mst_circle_fit(p, 6, &fit, &error)); /* property: a national grid changes nothing */
    NEAR(fit.centre.easting_m - 600000, 4.739782419, 1e-6);
    NEAR(fit.radius_m, 4.714226001, 1e-6);
}

/* Plane geometry, no source. */
static void circles_through_three_points(void **state) {
    (void)state;
    mst_error error = {0};
    mst_circle c;
    IS_OK(mst_circle_through((mst_point){0, 0}, (mst_point){4, 0}, (mst_point){0, 3}, &c, &error));
    NEAR(c.centre.easting_m, 2, 1e-12);
    NEAR(c.centre.northing_m, 1.5, 1e-12);
    NEAR(c.radius_m, 2.5, 1e-12);
    IS_OK(mst_circle_through((mst_point){1, 1}, (mst_point){2, 4}, (mst_point){5, 3}, &c, &error));
    NEAR(c.centre.easting_m, 3, 1e-12);
    NEAR(c.centre.northing_m, 2, 1e-12);
    NEAR(c.radius_m, 2.236067977, 1e-9);
    c.radius_m = -1;
    assert_int_equal(mst_circle_through((mst_point){0, 0}, (mst_point){1, 1}, (mst_point){2, 2}, &c, &error),
                     MST_UNDETERMINED);
    assert_int_equal(mst_circle_through((mst_point){0, 0}, (mst_point){0, 0}, (mst_point){2, 2}, &c, &error),
                     MST_UNDETERMINED);
    assert_int_equal(mst_circle_through((mst_point){0, NAN}, (mst_point){1, 1}, (mst_point){2, 2}, &c, &error),
                     MST_INVALID);
    assert_true(c.radius_m == -1);
}

/* Wolf and Ghilani, Elementary Surveying, ch. 24, first example (from memory); feet. The curve's elements are read off
 * a path of one arc, so that they prove length, chord, rise, place and direction along it. */
static void a_circular_curve(void **state) {
    (void)state;
    double turn = dms(8, 24, 0), radius = 5729.57795 / 2, chord = 2 * radius * sin(turn / 2);
    mst_path_vertex v[] = {{0, 0, NAN, tan(turn / 4)}, {0, chord, NAN, 0}};
    mst_path path = {v, 2, false};
    mst_point centre;
    double r, start, sweep;
    mst_arc_of(&v[0], &v[1], &centre, &r, &start, &sweep);
    NEAR(r, 2864.79, 0.006);
    NEAR(sweep, turn, 1e-12);
    NEAR(mst_path_length(&path), 420, 0.006);
    NEAR(chord, 419.62, 0.006);
    NEAR(r * tan(sweep / 2), 210.38, 0.006);
    mst_point3 middle;
    double bearing;
    assert_true(mst_path_at(&path, mst_path_length(&path) / 2, &middle, &bearing));
    NEAR(middle.easting_m, 7.69, 0.006); /* middle ordinate: a counter-clockwise arc northwards bulges east */
    NEAR(mst_angle_signed(bearing), 0, 1e-12);
    NEAR(mst_distance(centre, (mst_point){middle.easting_m, middle.northing_m}), r, 1e-8);
    NEAR(r / cos(sweep / 2) - r, 7.71, 0.006);
    /* Deflections from the tangent at PC = 62+17.08 */
    const struct {
        double station, deflection;
    } row[] = {{6300, dms(0, 49, 45)}, {6400, dms(1, 49, 45)}, {6600, dms(3, 49, 45)}, {6637.08, dms(4, 12, 0)}};
    double tangent;
    assert_true(mst_path_at(&path, 0, &middle, &tangent));
    for (int i = 0; i < 4; i++) {
        mst_point3 p;
        assert_true(mst_path_at(&path, fmin(row[i].station - 6217.083, mst_path_length(&path)), &p, &bearing));
        double deflection =
            mst_angle_signed(tangent - mst_bearing((mst_point){0, 0}, (mst_point){p.easting_m, p.northing_m}));
        NEAR(degrees(deflection) * 3600, degrees(row[i].deflection) * 3600, 0.6);
    }
}

/* Versed sine: chord 24, rise 4. */
static void chord_and_rise(void **state) {
    (void)state;
    NEAR(mst_arc_radius(24, 4), 20, 1e-9);
    mst_path_vertex v[] = {{0, 0, NAN, 2 * 4.0 / 24}, {24, 0, NAN, 0}};
    mst_path path = {v, 2, false}, ring = {v, 2, true};
    mst_point centre;
    double r, start, sweep;
    mst_arc_of(&v[0], &v[1], &centre, &r, &start, &sweep);
    NEAR(r, 20, 1e-12);
    NEAR(degrees(sweep), 73.739795, 1e-6);
    NEAR(mst_path_length(&path), 25.740044, 1e-6);
    NEAR(mst_path_area(&ring), 65.400444, 1e-6);
}

static void what_is_no_circle_is_refused(void **state) {
    (void)state;
    mst_error error = {0};
    mst_circle fit = {{0, 0}, -1, -1};
    const mst_point line[] = {{0, 0}, {1, 1}, {2, 2}, {3, 3}}, hole[] = {{0, 0}, {1, NAN}, {2, 0}};
    assert_int_equal(mst_circle_fit(line, 2, &fit, &error), MST_TOO_FEW);
    assert_int_equal(mst_circle_fit(line, 4, &fit, &error), MST_UNDETERMINED);
    assert_int_equal(mst_circle_fit(hole, 3, &fit, &error), MST_INVALID);
    const mst_point zigzag[] = {{0, 0}, {1, 1}, {2, 0}, {3, 1}, {4, 0}, {5, 1}, {6, 0.001}};
    mst_status status = mst_circle_fit(zigzag, 7, &fit, &error);
    assert_true(status == MST_OK || (status == MST_NOT_CONVERGED && fit.radius_m == -1));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_geometric_circle),
                                       cmocka_unit_test(circles_through_three_points),
                                       cmocka_unit_test(a_circular_curve), cmocka_unit_test(chord_and_rise),
                                       cmocka_unit_test(what_is_no_circle_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
