/* Contours and profiles: plane geometry, no source; and contours of open terrain whose levels run exactly through
 * posts. */
#include "ground/ground_test.h"

static mst_contour *contours_of(const mst_ground *g, double interval, size_t *count, mst_arena *arena) {
    mst_error error = {0};
    mst_contour *c = NULL;
    *count = 0;
    IS_OK(mst_ground_contours(g, interval, arena, &c, count, &error));
    return c;
}

static void a_pyramid(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 0}, {8, 0, 0}, {8, 8, 0}, {0, 8, 0}, {4, 4, 8}};
    mst_ground *g = ground_of_points(at, 5, arena);
    size_t count;
    mst_contour *c = contours_of(g, 1, &count, arena);
    assert_int_equal(count, 7); /* 1 to 7: the foot is nowhere below 0, the summit only touches 8 */
    for (size_t i = 0; i < count; i++) {
        double half = (8 - c[i].level_m) / 2;
        assert_true(c[i].closed && c[i].index == (c[i].level_m == 5));
        assert_int_equal(c[i].count, 4);
        double area = 0;
        for (size_t k = 0; k < 4; k++) {
            NEAR(fmax(fabs(c[i].points[k][0] - 4), fabs(c[i].points[k][1] - 4)), half, 1e-12);
            const double *a = c[i].points[k], *b = c[i].points[(k + 1) % 4];
            area += (a[0] * b[1] - b[0] * a[1]) / 2;
        }
        NEAR(area, 4 * half * half, 1e-12); /* counter-clockwise: higher ground on the left */
    }
    mst_arena_free(arena);
}

static void open_ones_end_on_the_rim(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, -1.3}, {10, 0, 1.2}, {10, 6, 1.2}, {0, 6, -1.3}};
    size_t count;
    mst_contour *c = contours_of(ground_of_points(at, 4, arena), 0.5, &count, arena);
    assert_int_equal(count, 5); /* -1 -0.5 0 0.5 1 */
    for (size_t i = 0; i < count; i++) {
        assert_false(c[i].closed);
        assert_true(c[i].index == (fabs(c[i].level_m) == 0));
        NEAR(c[i].points[0][1], 6, 1e-12); /* higher ground, east, on the left: from north to south */
        NEAR(c[i].points[c[i].count - 1][1], 0, 1e-12);
        for (size_t k = 0; k < c[i].count; k++) NEAR(c[i].points[k][0], (c[i].level_m + 1.3) * 4, 1e-12);
    }
    mst_arena_free(arena);
}

static bool cross(const double a[2], const double b[2], const double c[2], const double d[2]) {
    double abc = mst_orient2d(a, b, c), abd = mst_orient2d(a, b, d), cda = mst_orient2d(c, d, a),
           cdb = mst_orient2d(c, d, b);
    return ((abc > 0 && abd < 0) || (abc < 0 && abd > 0)) && ((cda > 0 && cdb < 0) || (cda < 0 && cdb > 0));
}

/* No two pieces of any lines cross. */
static void check_apart(const mst_contour c[], size_t count, size_t pieces, mst_arena *arena) {
    double(*boxes)[4] = mst_arena_array(arena, pieces, sizeof *boxes);
    size_t n = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k + 1 < c[i].count; k++, n++)
            boxes[n][0] = c[i].points[k][0], boxes[n][1] = c[i].points[k][1], boxes[n][2] = c[i].points[k + 1][0],
            boxes[n][3] = c[i].points[k + 1][1];
    for (size_t i = 0; i < n; i++)
        for (size_t k = i + 1; k < n; k++) {
            if (fmin(boxes[i][0], boxes[i][2]) > fmax(boxes[k][0], boxes[k][2]) ||
                fmax(boxes[i][0], boxes[i][2]) < fmin(boxes[k][0], boxes[k][2]))
                continue;
            assert_false(cross(boxes[i], boxes[i] + 2, boxes[k], boxes[k] + 2));
        }
}

/* Maunga Whau, whole metres on a 10 m grid: many levels run through posts and over plateaus. */
static void a_volcano_with_plateaus(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    size_t points = 0, count;
    mst_ground_point *p =
        points_from(SHARED_DATA "/terrain-volcano-grid/volcano_points_pnezd.csv", 2, 1, 3, 1, &points, arena);
    if (!p) {
        mst_arena_free(arena); /* skip() does not come back */
        skip();
    }
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = points}, arena);
    mst_contour *c = contours_of(g, 5, &count, arena);
    assert_true(count > 30);
    size_t pieces = 0;
    for (size_t i = 0; i < count; i++) {
        assert_true(c[i].count >= 2);
        pieces += c[i].count;
        for (size_t k = 0; k < c[i].count; k++) {
            mst_ground_level l;
            if (mst_ground_level_at(g, (mst_point){c[i].points[k][0], c[i].points[k][1]}, &l))
                NEAR(l.elevation_m, c[i].level_m, 1e-9);
        }
        if (!c[i].closed) { /* both ends on the rim of the grid */
            for (int end = 0; end < 2; end++) {
                const double *q = c[i].points[end ? c[i].count - 1 : 0];
                double inside = fmin(fmin(q[0], 860 - q[0]), fmin(q[1], 600 - q[1]));
                NEAR(inside, 0, 1e-9);
            }
        }
    }
    check_apart(c, count, pieces, arena);
    mst_arena_free(arena);
}

/* The same lines smoothed: none moves farther than 0.45 of the interval in level, none crosses, corners get rounder. */
static double turning(const mst_contour *c) {
    double sum = 0;
    for (size_t k = 1; k + 1 < c->count; k++) {
        const double *a = c->points[k - 1], *b = c->points[k], *d = c->points[k + 1];
        double u = atan2(b[0] - a[0], b[1] - a[1]), v = atan2(d[0] - b[0], d[1] - b[1]);
        sum += fabs(mst_angle_signed(v - u));
    }
    return sum;
}

static void smoothed_lines_stay_apart(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    size_t points = 0, count, exact_count, pieces = 0;
    mst_ground_point *p =
        points_from(SHARED_DATA "/terrain-volcano-grid/volcano_points_pnezd.csv", 2, 1, 3, 1, &points, arena);
    if (!p) {
        mst_arena_free(arena);
        skip();
    }
    for (size_t i = 0; i < points; i++) p[i].elevation_m += 0.3 * sin(0.7 * (double)i); /* off the whole metres */
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = points}, arena);
    mst_contour *c, *exact = contours_of(g, 3, &exact_count, arena);
    IS_OK(mst_ground_smooth_contours(g, 3, arena, &c, &count, &error));
    assert_int_equal(count, exact_count);
    double before = 0, after = 0;
    for (size_t i = 0; i < count; i++) {
        pieces += c[i].count;
        before += turning(&exact[i]), after += turning(&c[i]);
        for (size_t k = 0; k < c[i].count; k++) {
            mst_ground_level l;
            if (mst_ground_level_at(g, (mst_point){c[i].points[k][0], c[i].points[k][1]}, &l))
                NEAR(l.elevation_m, c[i].level_m, 0.45 * 3 + 1e-9);
        }
    }
    assert_true(after < 0.8 * before);
    check_apart(c, count, pieces, arena);
    mst_arena_free(arena);
}

static void labels_lie_on_straight_stretches(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    double square[40][2], zigzag[40][2];
    for (int i = 0; i < 40; i++) zigzag[i][0] = i, zigzag[i][1] = i < 20 ? i % 2 : 0; /* straight from 20 on */
    for (int i = 0; i < 4; i++) square[i][0] = i == 1 || i == 2 ? 3 : 0, square[i][1] = i > 1 ? 3 : 0;
    const mst_contour c[] = {{5, false, true, (const double(*)[2])zigzag, 40},
                             {6, true, false, (const double(*)[2])square, 4},
                             {10, true, true, (const double(*)[2])square, 4}};
    mst_contour_label *l;
    size_t count;
    IS_OK(mst_contour_labels(c, 3, 4, 100, arena, &l, &count, &error));
    assert_int_equal(count, 2);
    assert_int_equal(l[0].contour, 0);
    assert_true(l[0].at.easting_m > 21.9 && l[0].at.easting_m < 37.1);
    NEAR(l[0].at.northing_m, 0, 1e-9);
    NEAR(l[0].bearing_rad, MST_PI / 2, 1e-9);
    assert_int_equal(l[1].contour, 2);
    IS_OK(mst_contour_labels(c, 3, 4, 20, arena, &l, &count, &error));
    assert_true(count >= 3);
    IS_OK(mst_contour_labels(c, 3, 30, 100, arena, &l, &count, &error)); /* too short for such a text */
    assert_int_equal(count, 0);
    assert_int_equal(mst_contour_labels(c, 3, 0, 100, arena, &l, &count, &error), MST_INVALID);
    mst_arena_free(arena);
}

static void contours_that_cannot_be(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_contour *c = NULL;
    size_t count = 7;
    const double at[][3] = {{0, 0, 10}, {10, 0, 10}, {10, 6, 10}, {0, 6, 10}},
                 steep[][3] = {{0, 0, 0}, {10, 0, 0}, {10, 6, 500}};
    mst_ground *flat = ground_of_points(at, 4, arena), *g = ground_of_points(steep, 3, arena);
    assert_int_equal(mst_ground_contours(g, 0, arena, &c, &count, &error), MST_INVALID);
    assert_int_equal(mst_ground_contours(g, NAN, arena, &c, &count, &error), MST_INVALID);
    assert_int_equal(mst_ground_contours(g, 0.01, arena, &c, &count, &error), MST_INVALID);
    assert_true(count == 7);
    IS_OK(mst_ground_contours(flat, 1, arena, &c, &count, &error)); /* flat at a level: no edge anywhere */
    assert_int_equal(count, 0);
    IS_OK(mst_ground_contours(flat, 3, arena, &c, &count, &error));
    assert_int_equal(count, 0);
    mst_arena_free(arena);
}

static void a_profile_over_a_ridge_and_a_gap(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    const double at[][3] = {{0, 0, 0}, {10, 0, 0}, {10, 10, 0}, {0, 10, 0}, {5, 0, 2}, {5, 10, 2}};
    mst_ground_point p[6];
    for (uint32_t i = 0; i < 6; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], i};
    const uint32_t ridge[] = {4, 5};
    mst_ground_line line = {"ridge", ridge, 2, false};
    mst_shape pond = rectangle(7, 3, 8, 8, arena);
    mst_ground *g = ground_of(
        &(mst_ground_input){
            .points = p, .point_count = 6, .breaklines = &line, .breakline_count = 1, .holes = &pond, .hole_count = 1},
        arena);
    mst_path_vertex way[] = {{-2, 5, NAN, 0}, {12, 5, NAN, 0}};
    mst_path path = {way, 2, false};
    mst_profile_point *q;
    size_t count;
    IS_OK(mst_ground_profile(g, &path, arena, &q, &count, &error));
    double last = -1;
    bool top = false;
    int gaps = 0;
    for (size_t i = 0; i < count; i++) {
        double e = q[i].at.easting_m;
        assert_true(q[i].chainage_m >= last - 1e-9);
        last = q[i].chainage_m;
        NEAR(e, q[i].chainage_m - 2, 1e-9);
        bool gap = isnan(q[i].elevation_m);
        gaps += gap;
        if (gap) assert_true(e <= 1e-9 || e >= 10 - 1e-9 || (e > 7 - 1e-9 && e < 8 + 1e-9));
        else NEAR(q[i].elevation_m, 2 - fabs(e - 5) * 0.4, 1e-9);
        top |= fabs(e - 5) < 1e-9;
    }
    assert_true(top);
    assert_int_equal(gaps, 6); /* before, over the pond, behind: two points each */
    NEAR(q[0].chainage_m, 0, 0);
    NEAR(q[count - 1].chainage_m, 14, 1e-12);
    /* along the ridge itself, and through the corners exactly */
    mst_path_vertex along[] = {{5, 0, NAN, 0}, {5, 10, NAN, 0}, {0, 10, NAN, 0}};
    path = (mst_path){along, 3, false};
    IS_OK(mst_ground_profile(g, &path, arena, &q, &count, &error));
    assert_int_equal(count, 3);
    NEAR(q[1].elevation_m, 2, 1e-12);
    NEAR(q[2].elevation_m, 0, 1e-12);
    path.count = 1;
    assert_int_equal(mst_ground_profile(g, &path, arena, &q, &count, &error), MST_TOO_FEW);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_pyramid),
                                       cmocka_unit_test(open_ones_end_on_the_rim),
                                       cmocka_unit_test(a_volcano_with_plateaus),
                                       cmocka_unit_test(smoothed_lines_stay_apart),
                                       cmocka_unit_test(labels_lie_on_straight_stretches),
                                       cmocka_unit_test(contours_that_cannot_be),
                                       cmocka_unit_test(a_profile_over_a_ridge_and_a_gap)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
