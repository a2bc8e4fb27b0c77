/* Manning's formula against worked answers of a university's examinations in open-channel hydraulics: CIVE 530, San
 * Diego State University, midterm 1 of fall 2008, problem 4, and midterm 2 of spring 2007, problem 1 (read on the web).
 * Rectangular channels, bottom slope 0.0025, n = 0.015. */
#include "geometry/near.h"
#include "merestone/works.h"

static void flows(double width, double depth, double velocity, double discharge) {
    mst_element channel = {.kind = MST_WORK_TRENCH, .width_m = width, .side = INFINITY};
    double area, wetted;
    mst_ditch_section(&channel, depth, &area, &wetted);
    NEAR(area, width * depth, 1e-12);
    NEAR(wetted, width + 2 * depth, 1e-12);
    double q = mst_manning(area, wetted, 0.0025, 0.015);
    NEAR(q, discharge, 0.015); /* the answers are worked from figures cut to four digits */
    NEAR(q / area, velocity, 0.0015);
}

static void rectangular_channels(void **state) {
    (void)state;
    flows(6, 1.6, 3.428, 32.91);
    flows(5, 0.8, 2.387, 9.548);
}

/* Closed forms: sections by geometry, a full pipe's radius a quarter of its bore, a parabola's arc by its series. */
static void sections_by_geometry(void **state) {
    (void)state;
    double area, wetted;
    mst_element v = {.kind = MST_WORK_SWALE, .shape = MST_SWALE_V, .side = 1 / 3.0, .width_m = 0};
    mst_ditch_section(&v, 0.4, &area, &wetted);
    NEAR(area, 3 * 0.16, 1e-12);
    NEAR(wetted, 2 * 0.4 * sqrt(10), 1e-12);
    mst_element t = {.kind = MST_WORK_SWALE, .shape = MST_SWALE_TRAPEZOID, .side = 0.5, .width_m = 0.6};
    mst_ditch_section(&t, 0.3, &area, &wetted);
    NEAR(area, (0.6 + 1.2 + 0.6) / 2 * 0.3, 1e-12);
    NEAR(wetted, 0.6 + 2 * 0.3 * sqrt(5), 1e-12);
    mst_element p = {.kind = MST_WORK_SWALE, .shape = MST_SWALE_PARABOLA, .width_m = 4, .depth_m = 0.1, .side = 0.1};
    mst_ditch_section(&p, 0.1, &area, &wetted);
    NEAR(area, 4 * 0.1 * 2 / 3, 1e-12);
    NEAR(wetted, 4 * (1 + 8 * 0.01 / (3 * 16)), 1e-5); /* T + 8 y2 / 3 T for shallow ones */
    mst_ditch_section(&p, 0.025, &area, &wetted);
    NEAR(area, 2 * 0.025 * 2 / 3, 1e-12); /* a quarter of the depth, half of the width */
    NEAR(mst_pipe_full(0.1, 0.01, 0.012), MST_PI * 0.0025 * pow(0.025, 2.0 / 3) * 0.1 / 0.012, 1e-15);
    NEAR(mst_pipe_full(0.1, 0, 0.012), 0, 0);
}

static void falls_along_a_line(void **state) {
    (void)state;
    mst_work_bend bends[] = {{0, 10, 0}, {10, 9.8, 0}, {30, 10.0, 0}};
    mst_element drive = {.kind = MST_WORK_PATH, .profile = bends, .profile_count = 3};
    mst_line_falls f;
    assert_true(mst_line_falls_of(&drive, 30, &f));
    NEAR(f.least, 0.01, 1e-12);
    NEAR(f.steepest, 0.02, 1e-12);
    assert_true(f.up && f.down);
    mst_element ramp = {.kind = MST_WORK_RAMP, .from_m = 10, .to_m = 10.5};
    assert_true(mst_line_falls_of(&ramp, 6, &f));
    NEAR(f.steepest, 0.5 / 6, 1e-12);
    assert_false(f.down);
    mst_element pad = {.kind = MST_WORK_PAD};
    assert_false(mst_line_falls_of(&pad, 6, &f));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(rectangular_channels), cmocka_unit_test(sections_by_geometry),
                                       cmocka_unit_test(falls_along_a_line)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
