/* The reductions of the hand: rounds, traverses of angles, the transit rule, the two-peg test, the similarity in space.
 * Sources stand beside each check; the rest is plain arithmetic. */
#include "site_from_text.h"

static const double DEGREE = MST_PI / 180, SECOND = MST_PI / 180 / 3600;

static mst_page page_of(mst_page_kind kind, const char *text) {
    mst_page page;
    error = (mst_error){0};
    mst_status status = mst_page_read(kind, "p.csv", text, strlen(text), NULL, arena, &page, &error);
    if (status) print_message("%s\n", error.sentence);
    assert_int_equal(status, MST_OK);
    return page;
}

/* T02-F, ../shared/references/02-levelling (Uren and Price, levelling chapter, attribution from memory; read): pegs 50
 * m apart; midway 1.283 and 0.860; 5 m beyond B 1.612 and 1.219: error -0.030 m in 50 m, A should read 1.645, B 1.222.
 */
static void two_peg_test(void **state) {
    (void)state;
    mst_two_peg t;
    assert_int_equal(mst_two_peg_test(&(mst_two_peg_readings){1.283, 0.860, 1.612, 1.219, 55, 5}, &t, &error), MST_OK);
    NEAR(t.error_m_per_m * 50, -0.030, 0.0005);
    NEAR(t.true_a_m, 1.645, 0.0005);
    NEAR(t.true_b_m, 1.222, 0.0005);
    NEAR(t.difference_m, 0.423, 1e-12);
    assert_int_equal(mst_two_peg_test(&(mst_two_peg_readings){1, 1, 1, 1, 20, 20.5}, &t, &error), MST_UNDETERMINED);
    assert_int_equal(mst_two_peg_test(&(mst_two_peg_readings){1, 1, NAN, 1, 20, 2}, &t, &error), MST_INVALID);
}

/* T06-H, ../shared/references/06-coordinate-transformations (GDA2020 Technical Manual v1.0, ICSM): the seven parameters
 * between two earth-fixed frames, coordinate-frame turns. Points moved by the formula give the parameters back, and the
 * station its printed coordinates. */
static void seven_parameters(void **state) {
    (void)state;
    const double rx = -0.0394924 * SECOND, ry = -0.0327221 * SECOND, rz = -0.0328979 * SECOND, scale = 1 - 0.009994e-6;
    const mst_point3 from[] = {{-4052051.7643, 4212836.2017, -2545106.0245},
                               {-4130636.759, 2894953.142, -2890530.281},
                               {-5102913.482, 2520764.337, -2861010.912},
                               {-2389025.331, 5043317.020, -3078530.928}};
    mst_point3 to[4], residuals[4];
    for (int i = 0; i < 4; i++) {
        double x = from[i].easting_m, y = from[i].northing_m, z = from[i].elevation_m;
        to[i] = (mst_point3){0.06155 + scale * (x + rz * y - ry * z), -0.01087 + scale * (-rz * x + y + rx * z),
                             -0.04019 + scale * (ry * x - rx * y + z)};
    }
    mst_similarity3 t;
    assert_int_equal(mst_similarity3_fit(from, to, 4, true, &t, residuals, &error), MST_OK);
    NEAR((t.scale - 1) * 1e6, -0.009994, 2e-6);
    NEAR(t.turn[0][1] / SECOND, -0.0328979, 1e-6);
    NEAR(t.turn[1][2] / SECOND, -0.0394924, 1e-6);
    NEAR(t.turn[2][0] / SECOND, -0.0327221, 1e-6);
    mst_point3 alice = mst_similarity3_apply(&t, from[0]);
    NEAR(alice.easting_m, -4052052.7379, 1e-4);
    NEAR(alice.northing_m, 4212835.9897, 1e-4);
    NEAR(alice.elevation_m, -2545104.5898, 1e-4);
    NEAR(t.rms_m, 0, 1e-6);
    /* held scale leaves what the scale would have taken up */
    assert_int_equal(mst_similarity3_fit(from, to, 4, false, &t, residuals, &error), MST_OK);
    assert_true(t.scale == 1 && t.rms_m > 1e-3);
    /* any large turn comes back exactly: a quarter turn about the vertical, shift and double size */
    const mst_point3 a[] = {{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
                     b[] = {{5, 6, 7}, {5, 4, 7}, {7, 6, 7}, {5, 6, 9}};
    assert_int_equal(mst_similarity3_fit(a, b, 4, true, &t, NULL, &error), MST_OK);
    NEAR(t.scale, 2, 1e-12);
    NEAR(t.rms_m, 0, 1e-12);
    const mst_point3 line[] = {{0, 0, 0}, {1, 1, 1}, {2, 2, 2}};
    assert_int_equal(mst_similarity3_fit(line, line, 3, true, &t, NULL, &error), MST_UNDETERMINED);
    assert_int_equal(mst_similarity3_fit(line, line, 2, true, &t, NULL, &error), MST_TOO_FEW);
}

/* Two rounds on two faces. The instrument's circle turns 10" too far left to right (2c) and its zenith's zero is 15"
 * off; the second round starts at 60 degrees. By hand: K counts 0, L 45-00-00 and 45-00-04 in the two rounds. */
static void rounds_on_two_faces(void **state) {
    (void)state;
    mst_page page = page_of(MST_PAGE_ANGLES, "at,to,circle (dms),zenith (dms),slope distance (m),round\n"
                                             "S,K,0-00-05,90-00-15,20.000,1\nS,L,45-00-05,80-00-15,30.000,1\n"
                                             "S,L,224-59-55,280-00-15,30.002,1\nS,K,179-59-55,270-00-15,20.000,1\n"
                                             "S,K,60-00-05,90-00-15,20.002,2\nS,L,105-00-09,80-00-15,30.000,2\n"
                                             "S,L,284-59-59,280-00-15,30.002,2\nS,K,239-59-55,270-00-15,20.002,2\n");
    mst_round_mean *m;
    size_t count;
    assert_int_equal(mst_rounds_reduce(&page, arena, &m, &count, &error), MST_OK);
    assert_int_equal(count, 2);
    assert_string_equal(m[1].to, "L");
    NEAR(m[0].circle_rad, 0, 1e-12);
    NEAR(m[1].circle_rad / SECOND, 45 * 3600 + 2, 1e-6);
    NEAR(m[1].spread_rad / SECOND, 2, 1e-6);
    NEAR(m[0].two_c_rad / SECOND, 10, 1e-6);
    NEAR(m[1].index_rad / SECOND, 15, 1e-6);
    NEAR(m[1].zenith_rad / DEGREE, 80, 1e-9);
    NEAR(m[1].slope_m, 30.001, 1e-9);
    assert_true(m[1].faces_left == 2 && m[1].faces_right == 2);
    mst_page tape = page_of(MST_PAGE_TAPE, "from,to,distance (m)\nA,B,3\n");
    assert_int_equal(mst_rounds_reduce(&tape, arena, &m, &count, &error), MST_INVALID);
}

/* Another station in between changes nothing: the rows of one round count from its first target. */
static void a_round_goes_on_behind_another_station(void **state) {
    (void)state;
    mst_site *site = site_of(
        (text_page[]){{MST_PAGE_ANGLES, "a.csv", "1",
                       "at,to,circle (deg),round\nA,B,10,1\nB,A,0,1\nA,P,325,1\nA,B,100,2\nA,P,55,2\nB,C,40,1\n"}},
        1);
    mst_round_mean *m;
    size_t count;
    assert_int_equal(mst_rounds_reduce(&site->pages[0], arena, &m, &count, &error), MST_OK);
    assert_int_equal(count, 4);
    assert_string_equal(m[1].to, "P");
    NEAR(m[1].circle_rad, 315 * MST_PI / 180, 1e-12);
    assert_int_equal(m[1].faces_left, 2);
    assert_string_equal(m[3].at, "B");
    NEAR(m[3].circle_rad, 40 * MST_PI / 180, 1e-12);
}

/* A triangle of 30, 40 and 50 m, angles read 20", 10" and 30" too large: 60" in all, a third of it off each. */
static void a_traverse_of_angles(void **state) {
    (void)state;
    mst_text t = {0};
    double b = atan2(40, 30) / DEGREE, c = 90 - b; /* at A 90, at B 53.13, at C 36.87 degrees; A-B 30, B-C 50, C-A 40 */
    mst_text_printf(&t,
                    "at,to,circle (deg),slope distance "
                    "(m)\nA,C,10,40\nA,B,%.10f,30\nB,A,0,30.002\nB,C,%.10f,50\nC,B,300,50\nC,A,%.10f,40\n",
                    100 + 20.0 / 3600, b + 10.0 / 3600, 300 + c + 30.0 / 3600);
    mst_page page = page_of(MST_PAGE_ANGLES, t.data);
    mst_text_free(&t);
    mst_angle_traverse a;
    assert_int_equal(mst_traverse_from_angles(&page, 0, arena, &a, &error), MST_OK);
    assert_int_equal(a.count, 3);
    NEAR(a.misclosure_rad / SECOND, 60, 1e-4);
    NEAR(a.allowable_rad / SECOND, 60 * sqrt(3), 1e-6);
    NEAR(a.stations[1].balanced_rad / DEGREE, b + 10.0 / 3600 - 20.0 / 3600, 1e-8);
    NEAR(a.legs[0].distance_m, 30.001, 1e-9);
    NEAR(a.legs[1].bearing_rad / DEGREE, 180 + b - 10.0 / 3600, 1e-7);
    double sum = 0;
    for (int i = 0; i < 3; i++) sum += a.stations[i].balanced_rad;
    NEAR(sum, MST_PI, 1e-12);
    mst_traverse closed;
    assert_int_equal(mst_traverse_compass(a.legs, 3, (mst_point){0, 0}, NULL, arena, &closed, &error), MST_OK);
    NEAR(closed.linear_misclosure_m, 0, 0.006);
    mst_page open =
        page_of(MST_PAGE_ANGLES, "at,to,circle (deg),slope distance (m)\nA,B,0,3\nB,A,0,3\nB,C,90,3\nC,B,0,3\n");
    assert_int_equal(mst_traverse_from_angles(&open, 0, arena, &a, &error), MST_UNDETERMINED);
    assert_non_null(strstr(error.sentence, "At A"));
}

/* Between two known lines, by hand: Z-A runs due east, C-Y due north; angles 90, 270 and 90 would turn one into the
 * other by way of legs due south, due west ... The last is read 30" too large: 10" off each. */
static void a_traverse_between_known_lines(void **state) {
    (void)state;
    mst_page page = page_of(MST_PAGE_ANGLES,
                            "at,to,circle (dms),slope distance (m)\nA,Z,0-00-00,\nA,B,90-00-00,30\nB,A,10-00-00,30\n"
                            "B,C,280-00-00,40\nC,B,0-00-00,40\nC,Y,90-00-30,\n");
    const mst_traverse_ends ends = {"Z", "Y", 90 * DEGREE,
                                    0}; /* bearing 90; +180+90 = 0 N; +180+270 = 90 E; +180+90 = 0 */
    mst_angle_traverse a;
    assert_int_equal(mst_traverse_between(&page, &ends, arena, &a, &error), MST_OK);
    assert_true(a.count == 3 && a.leg_count == 2);
    NEAR(mst_angle_signed(a.misclosure_rad) / SECOND, 30, 1e-6);
    NEAR(a.stations[0].balanced_rad / DEGREE, 90 - 10.0 / 3600, 1e-9);
    NEAR(mst_angle_signed(a.legs[0].bearing_rad) / SECOND, -10, 1e-6); /* due north less 10" */
    NEAR(a.legs[1].bearing_rad / DEGREE, 90 - 20.0 / 3600, 1e-9);
    mst_traverse t;
    mst_point end = {40, 30};
    assert_int_equal(mst_traverse_compass(a.legs, 2, (mst_point){0, 0}, &end, arena, &t, &error), MST_OK);
    NEAR(t.linear_misclosure_m, 0, 0.006);
    NEAR(t.legs[1].end.easting_m, 40, 1e-12);
    NEAR(t.legs[1].double_meridian_m, 2 * t.legs[0].balanced_departure_m + t.legs[1].balanced_departure_m, 1e-12);
}

/* The transit rule by hand: a departure takes |departure| / sum of |departures| of the misclosure, a latitude likewise.
 * T01-A's courses (Wolf and Ghilani, from memory): departures in all 1432.586 ft, misclosure 0.026; latitudes 1695.429,
 * misclosure 0.077. */
static void the_transit_rule(void **state) {
    (void)state;
    const mst_traverse_leg legs[] = {{.distance_m = 647.25, .bearing_rad = (126 + 55 / 60.0 + 17 / 3600.0) * DEGREE},
                                     {.distance_m = 203.03, .bearing_rad = (178 + 18 / 60.0 + 58 / 3600.0) * DEGREE},
                                     {.distance_m = 720.35, .bearing_rad = (15 + 31 / 60.0 + 54 / 3600.0) * DEGREE},
                                     {.distance_m = 610.24, .bearing_rad = (284 + 35 / 60.0 + 20 / 3600.0) * DEGREE},
                                     {.distance_m = 285.13, .bearing_rad = (206 + 9 / 60.0 + 41 / 3600.0) * DEGREE}};
    mst_traverse t;
    assert_int_equal(mst_traverse_transit(legs, 5, (mst_point){10000, 5000}, NULL, arena, &t, &error), MST_OK);
    NEAR(t.legs[0].balanced_departure_m, 517.451 - 0.026 * 517.451 / 1432.586, 0.0015);
    NEAR(t.legs[1].balanced_departure_m, 5.966 - 0.026 * 5.966 / 1432.586, 0.0015);
    NEAR(t.legs[2].balanced_latitude_m, 694.045 - 0.077 * 694.045 / 1695.429, 0.0015);
    NEAR(t.legs[4].end.easting_m, 10000, 1e-9);
    NEAR(t.legs[4].end.northing_m, 5000, 1e-9);
    mst_traverse compass;
    assert_int_equal(mst_traverse_compass(legs, 5, (mst_point){10000, 5000}, NULL, arena, &compass, &error), MST_OK);
    NEAR(t.linear_misclosure_m, compass.linear_misclosure_m, 0);
    assert_true(t.legs[1].balanced_departure_m != compass.legs[1].balanced_departure_m);
}

/* ---- a heading that drifts, a grid that scales ---- */

static mst_site *walked(double drift_degrees_a_minute) {
    static const double P[6][2] = {{0, 0}, {12, 3}, {20, 14}, {15, 27}, {3, 25}, {-6, 12}};
    mst_text t = {0};
    double time = 0;
    mst_text_string(&t, "from,to,dx (m),dy (m),dz (m),time (s)\n");
    for (int lap = 0; lap < 3; lap++)
        for (int i = 0; i < 6; i++) {
            int k = (i + 1) % 6;
            double e = P[k][0] - P[i][0], n = P[k][1] - P[i][1],
                   turn = 0.4 + drift_degrees_a_minute * DEGREE / 60 * (time + 5);
            mst_text_printf(&t, "P%d,P%d,%.6f,%.6f,0,10\n", i, k, e * cos(turn) - n * sin(turn),
                            e * sin(turn) + n * cos(turn));
            time += 10;
        }
    mst_site *site =
        site_of((text_page[]){{MST_PAGE_CONTROL, "c.csv", "1", "point,easting (m),northing (m)\nP0,0,0\nP3,15,27\n"},
                              {MST_PAGE_LEGS, "l.csv", "2", t.data}},
                2);
    mst_text_free(&t);
    return site;
}

/* 1.2 degrees a minute over three minutes: found to a thousandth of a degree a minute, and the points with it. */
static void a_heading_that_drifts(void **state) {
    (void)state;
    mst_site *site = walked(1.2);
    mst_adjustment *fixed = adjusted_site(site);
    assert_true(isnan(fixed->frames[0].drift_rad_per_s));
    static mst_setting setting = {"legs-drift", "5"};
    site->settings = &setting;
    site->setting_count = 1;
    mst_adjustment *a = adjusted_site(site);
    NEAR(a->frames[0].drift_rad_per_s / DEGREE * 60, 1.2, 0.01);
    NEAR(a->frames[0].turn_rad, 0.4, 1e-3);
    NEAR(point_of(a, "P1")->easting_m, 12, 2e-3);
    NEAR(point_of(a, "P5")->northing_m, 12, 2e-3);
    assert_true(a->sigma0 < 0.1 * fixed->sigma0);
    assert_int_equal(a->degrees_of_freedom, fixed->degrees_of_freedom); /* one unknown and one reading more */
    assert_non_null(result_of(a, "l.csv", 2, "heading drift"));
    assert_int_equal(a->suspect_count, 0);
    setting.value = "0.001"; /* held near nought: then the drift stays in the residuals */
    a = adjusted_site(site);
    assert_true(fabs(a->frames[0].drift_rad_per_s) / DEGREE * 60 < 0.1);
}

/* The preset's claim of docs/method.md, by hand: hypot(8 mm, 2 mm 7^1.5) = 37.9 mm, hypot(8 mm, 2 mm 14^1.5) = 105.1
 * mm. */
static void the_longer_leg_is_the_less_sure(void **state) {
    (void)state;
    mst_adjustment *a =
        ADJUSTED({MST_PAGE_LEGS, "l.csv", "1", "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,12,0,7\nB,C,0,28,0,14\n"});
    NEAR(result_of(a, "l.csv", 2, "dx")->sd, 0.0379, 1e-4);
    NEAR(result_of(a, "l.csv", 3, "dx")->sd, 0.1051, 1e-4);
}

/* T12-A, ../shared/references/12-inertial-legs (Woodman 2007, Titterton and Weston; constructed): one leg of 10 s.
 * White noise of an accelerometer grows as time^1.5, a bias random walk as time^2.5: the gear's power law holds either.
 */
static void the_power_laws_of_a_leg(void **state) {
    (void)state;
    const double n = 0.001, k = 0.0001;
    const struct {
        double rate, power, printed;
    } LAW[] = {{n / sqrt(3), 1.5, 0.018257},
               {n / sqrt(12), 1.5, 0.009129},
               {k / sqrt(20), 2.5, 0.007071},
               {k / sqrt(120), 2.5, 0.002887}};
    for (int i = 0; i < 4; i++) {
        mst_gear gear = {.name = "sensor", .leg_rate = LAW[i].rate, .leg_power = LAW[i].power, .leg_height_ratio = 1};
        mst_site *site = site_of(
            (text_page[]){{MST_PAGE_LEGS, "l.csv", "1", "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,12,0,10\n"}}, 1);
        site->gear = &gear;
        site->gear_count = 1;
        site->pages[0].gear = "sensor";
        NEAR(result_of(adjusted_site(site), "l.csv", 2, "dx")->sd, LAW[i].printed, 1e-6);
    }
}

/* T12-C, ../shared/references/12-inertial-legs (O. J. Woodman, UCAM-CL-TR-696, 2007, white noise twice integrated;
 * constructed): samples of sd 0.05 m/s2 at 100 Hz, N = sigma root(dt) = 0.005, a leg of 4 s: velocity to 0.01 m/s,
 * position to sigma t^1.5 root(dt / 3) = 0.023094 m. The gear's law carries the position; a velocity is the law of
 * power one half, which the program may be given just as well. The line on a tilt of 0.05 degrees (0.0086 m/s2) stays
 * out: the program takes displacements, and works out no acceleration. */
static void white_noise_from_samples(void **state) {
    (void)state;
    const double sigma = 0.05, dt = 1 / 100.0, n = sigma * sqrt(dt);
    NEAR(n, 0.005, 1e-12);
    const struct {
        double rate, power, printed, by;
    } LAW[] = {{n / sqrt(3), 1.5, 0.023094, 1e-6}, {n, 0.5, 0.01, 1e-12}};
    for (int i = 0; i < 2; i++) {
        mst_gear gear = {.name = "sensor", .leg_rate = LAW[i].rate, .leg_power = LAW[i].power, .leg_height_ratio = 1};
        mst_site *site = site_of(
            (text_page[]){{MST_PAGE_LEGS, "l.csv", "1", "from,to,dx (m),dy (m),dz (m),time (s)\nA,B,0,6,0,4\n"}}, 1);
        site->gear = &gear;
        site->gear_count = 1;
        site->pages[0].gear = "sensor";
        mst_adjustment *a = adjusted_site(site);
        NEAR(result_of(a, "l.csv", 2, "dx")->sd, LAW[i].printed, LAW[i].by);
        NEAR(result_of(a, "l.csv", 2, "dy")->sd, LAW[i].printed, LAW[i].by);
    }
}

/* A Mercator projection on the sphere of the axis would draw 1 / cos; here a plane that stretches north by 2 % and
 * east by 2 % of the ellipsoid's own radii at 50 degrees: scale 1.02. */
static bool stretched(void *self, double latitude, double longitude, double height, mst_point3 *local) {
    (void)self;
    const double f = 1 / 298.257223563, square = f * (2 - f), at = 50 * DEGREE, w = 1 - square * sin(at) * sin(at);
    *local = (mst_point3){1.02 * 6378137 / sqrt(w) * cos(at) * longitude,
                          1.02 * 6378137 * (1 - square) / (w * sqrt(w)) * (latitude - at), height};
    return true;
}
static void the_grids_scale_is_said(void **state) {
    (void)state;
    mst_projector projector = {stretched, NULL};
    mst_adjust_options options = {.projector = &projector};
    const text_page page = {MST_PAGE_GNSS, "g.csv", "1",
                            "point,latitude (deg),longitude (deg),height (m)\nA,50,4,100\nB,50.0005,4.0005,100\n"};
    mst_adjustment *a = NULL;
    assert_int_equal(mst_adjust(site_of(&page, 1), &options, arena, &a, &error), MST_OK);
    NEAR(a->grid_scale, 1.02, 1e-9);
    assert_true(isnan(ADJUSTED({MST_PAGE_TAPE, "t.csv", "1", "from,to,distance (m)\nA,B,3\n"})->grid_scale));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(two_peg_test, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(seven_parameters, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(rounds_on_two_faces, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_round_goes_on_behind_another_station, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_traverse_of_angles, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_traverse_between_known_lines, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_transit_rule, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(a_heading_that_drifts, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_power_laws_of_a_leg, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(white_noise_from_samples, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_longer_leg_is_the_less_sure, open_arena, close_arena),
        cmocka_unit_test_setup_teardown(the_grids_scale_is_said, open_arena, close_arena),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
