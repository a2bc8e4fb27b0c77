/* What must hold of contours on any ground, on random ones: each edge is crossed once by each level between its ends;
 * lines close or end on the rim; none meets another; higher ground lies on the left. Half of the grounds have levels in
 * whole steps, so that contours run through points, saddles and flats. Properties, no source. */
#include "ground/ground_test.h"
#include <string.h>

static uint64_t seed;
static double uniform(void) {
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return (double)(seed >> 11) * 0x1p-53;
}

enum { POINTS = 220, SIDE = 40 };
static const double INTERVAL = 0.5;

/* @param steps levels are rounded to this; 0: not */
static mst_ground *random_ground(double steps, bool hole, mst_arena *arena) {
    mst_ground_point *p = mst_arena_array(arena, POINTS, sizeof *p);
    mst_shape pond = rectangle(1015, 2015, 1024, 2022, arena);
    for (uint32_t i = 0; i < POINTS; i++) {
        double e = SIDE * uniform(), n = SIDE * uniform(), z = 10 + 2 * sin(e / 4) + 2 * cos(n / 5) + 0.4 * uniform();
        p[i] = (mst_ground_point){1000 + e, 2000 + n, steps > 0 ? round(z / steps) * steps : z, i};
    }
    return ground_of(
        &(mst_ground_input){
            .points = p, .point_count = POINTS, .holes = &pond, .hole_count = hole ? 1 : 0, .merge_height_m = 10},
        arena);
}

typedef struct edge {
    uint32_t a, b;
    int triangles;
} edge;

static int by_ends(const void *x, const void *y) {
    const edge *a = x, *b = y;
    if (a->a != b->a) return a->a < b->a ? -1 : 1;
    return a->b < b->b ? -1 : a->b > b->b;
}

static edge *edges_of(const mst_ground *g, size_t *count, mst_arena *arena) {
    size_t triangles, kept = 0;
    const uint32_t(*t)[3] = mst_ground_triangles(g, &triangles);
    edge *e = mst_arena_array(arena, 3 * triangles, sizeof *e);
    for (size_t i = 0; i < triangles; i++)
        for (int k = 0; k < 3; k++) {
            uint32_t a = t[i][k], b = t[i][(k + 1) % 3];
            e[3 * i + (size_t)k] = (edge){a < b ? a : b, a < b ? b : a, 1};
        }
    qsort(e, 3 * triangles, sizeof *e, by_ends);
    for (size_t i = 0; i < 3 * triangles; i++) {
        if (kept && by_ends(&e[kept - 1], &e[i]) == 0) e[kept - 1].triangles++;
        else e[kept++] = e[i];
    }
    *count = kept;
    return e;
}

static double off_segment(const double p[2], const mst_ground_point *a, const mst_ground_point *b) {
    double de = b->easting_m - a->easting_m, dn = b->northing_m - a->northing_m;
    double s = ((p[0] - a->easting_m) * de + (p[1] - a->northing_m) * dn) / (de * de + dn * dn);
    s = fmin(fmax(s, 0), 1);
    return hypot(p[0] - a->easting_m - s * de, p[1] - a->northing_m - s * dn);
}

static void ends_on_the_rim(const mst_ground *g, const edge *e, size_t count, const double p[2]) {
    size_t n;
    const mst_ground_point *v = mst_ground_vertices(g, &n);
    double least = HUGE_VAL;
    for (size_t i = 0; i < count; i++)
        if (e[i].triangles == 1) least = fmin(least, off_segment(p, &v[e[i].a], &v[e[i].b]));
    NEAR(least, 0, 1e-9);
}

/* Crossings of edges and levels, a level at a vertex counting as under it. */
static size_t crossings(const mst_ground *g, const edge *e, size_t count) {
    size_t n, sum = 0;
    const mst_ground_point *v = mst_ground_vertices(g, &n);
    for (size_t i = 0; i < count; i++)
        sum += (size_t)fabs(floor(v[e[i].a].elevation_m / INTERVAL) - floor(v[e[i].b].elevation_m / INTERVAL));
    return sum;
}

static bool cross(const double a[2], const double b[2], const double c[2], const double d[2]) {
    double abc = mst_orient2d(a, b, c), abd = mst_orient2d(a, b, d), cda = mst_orient2d(c, d, a),
           cdb = mst_orient2d(c, d, b);
    return ((abc > 0 && abd < 0) || (abc < 0 && abd > 0)) && ((cda > 0 && cdb < 0) || (cda < 0 && cdb > 0));
}

typedef struct piece {
    const double *a, *b;
} piece;

static void none_cross(const mst_contour c[], size_t count, mst_arena *arena) {
    size_t n = 0, most = 0;
    for (size_t i = 0; i < count; i++) most += c[i].count;
    piece *p = mst_arena_array(arena, most + 1, sizeof *p);
    for (size_t i = 0; i < count; i++)
        for (size_t k = 0; k + 1 < c[i].count + c[i].closed; k++)
            p[n++] = (piece){c[i].points[k], c[i].points[(k + 1) % c[i].count]};
    for (size_t i = 0; i < n; i++)
        for (size_t k = i + 1; k < n; k++) {
            if (fmin(p[i].a[0], p[i].b[0]) > fmax(p[k].a[0], p[k].b[0]) ||
                fmax(p[i].a[0], p[i].b[0]) < fmin(p[k].a[0], p[k].b[0]))
                continue;
            assert_false(cross(p[i].a, p[i].b, p[k].a, p[k].b));
        }
}

static void higher_ground_is_on_the_left(const mst_ground *g, const mst_contour *c) {
    const double STEP = 1e-5; /* beside the line: wide of rounding, less than the ground's details */
    for (size_t k = 0; k + 1 < c->count; k++) {
        const double *a = c->points[k], *b = c->points[k + 1];
        double length = hypot(b[0] - a[0], b[1] - a[1]);
        if (length < 100 * STEP) continue;
        mst_point left = {(a[0] + b[0]) / 2 - (b[1] - a[1]) / length * STEP,
                          (a[1] + b[1]) / 2 + (b[0] - a[0]) / length * STEP};
        mst_ground_level l;
        if (mst_ground_level_at(g, left, &l)) assert_true(l.elevation_m > c->level_m - 1e-9);
    }
}

static size_t check(const mst_ground *g, bool exact_count, mst_arena *arena) {
    mst_error error = {0};
    mst_contour *c;
    size_t count, edge_count, places = 0;
    edge *e = edges_of(g, &edge_count, arena);
    IS_OK(mst_ground_contours(g, INTERVAL, arena, &c, &count, &error));
    for (size_t i = 0; i < count; i++) {
        assert_true(c[i].count >= 2 && (i == 0 || c[i].level_m >= c[i - 1].level_m));
        assert_true(c[i].index == (fmod(round(c[i].level_m / INTERVAL), 5) == 0));
        places += c[i].count;
        if (exact_count)
            higher_ground_is_on_the_left(g, &c[i]); /* a ridge at the very level is a line there and back */
        if (c[i].closed) continue;
        ends_on_the_rim(g, e, edge_count, c[i].points[0]);
        ends_on_the_rim(g, e, edge_count, c[i].points[c[i].count - 1]);
    }
    size_t expected = crossings(g, e, edge_count);
    if (exact_count) assert_int_equal(places, expected);
    else assert_true(places <= expected); /* places at a vertex are one */
    none_cross(c, count, arena);
    IS_OK(mst_ground_smooth_contours(g, INTERVAL, arena, &c, &count, &error));
    none_cross(c, count, arena);
    return count;
}

static void random_grounds(void **state) {
    (void)state;
    seed = 20261125;
    size_t lines = 0;
    for (int round = 0; round < 24; round++) {
        mst_arena *arena = mst_arena_new();
        bool whole = round % 2;
        lines += check(random_ground(whole ? INTERVAL / 2 : 0, round % 3 == 0, arena), !whole, arena);
        mst_arena_free(arena);
    }
    assert_true(lines > 1000);
}

/* A saddle at the very level: the level itself counts as above, so the two ridges join over it and each valley has a
 * line of its own. */
static void a_saddle(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_contour *c;
    size_t count;
    const double at[][3] = {{0, 0, 1.5}, {2, 0, 0.5}, {2, 2, 1.5}, {0, 2, 0.5}, {1, 1, 1}};
    IS_OK(mst_ground_contours(ground_of_points(at, 5, arena), 1, arena, &c, &count, &error));
    assert_int_equal(count, 2);
    for (size_t i = 0; i < 2; i++) {
        assert_false(c[i].closed);
        double side = (c[i].points[0][0] - 1) + (1 - c[i].points[0][1]); /* south-east or north-west */
        for (size_t k = 0; k < c[i].count; k++)
            assert_true(side * ((c[i].points[k][0] - 1) + (1 - c[i].points[k][1])) >= 0);
    }
    mst_arena_free(arena);
}

/* A table with a flat top at the level: the top belongs to the ground above, so its edge is the contour. */
static void a_flat_top(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_contour *c;
    size_t count;
    const double at[][3] = {{0, 0, 0.5}, {4, 0, 0.5}, {4, 4, 0.5}, {0, 4, 0.5},
                            {1, 1, 1},   {3, 1, 1},   {3, 3, 1},   {1, 3, 1}};
    IS_OK(mst_ground_contours(ground_of_points(at, 8, arena), 1, arena, &c, &count, &error));
    assert_int_equal(count, 1);
    assert_true(c[0].closed);
    double area = 0;
    for (size_t k = 0; k < c[0].count; k++) {
        const double *a = c[0].points[k], *b = c[0].points[(k + 1) % c[0].count];
        area += (a[0] * b[1] - b[0] * a[1]) / 2;
    }
    NEAR(area, 4, 1e-12);
    mst_arena_free(arena);
}

enum { LARGE_SIDE = 280 };

/* Large enough for several parts of triangles and shares of levels. */
static mst_ground *large_ground(int threads, bool shuffled, mst_arena *arena) {
    size_t count = LARGE_SIDE * LARGE_SIDE;
    mst_ground_point *p = mst_arena_array(arena, count, sizeof *p);
    seed = 7;
    for (uint32_t i = 0; i < count; i++) {
        double e = i % LARGE_SIDE + 0.6 * uniform(), n = i / LARGE_SIDE + 0.6 * uniform();
        p[i] = (mst_ground_point){1000 + e, 2000 + n, 10 + 5 * sin(e / 14) * cos(n / 15) + 0.2 * sin(e) * sin(n), i};
    }
    for (size_t i = count; shuffled && i-- > 1;) {
        size_t k = (size_t)(uniform() * (double)(i + 1));
        mst_ground_point swap = p[i];
        p[i] = p[k], p[k] = swap;
    }
    return ground_of(&(mst_ground_input){.points = p, .point_count = count, .threads = threads}, arena);
}

typedef struct drawn {
    mst_contour *c[2]; /* exact, smooth */
    size_t count[2];
} drawn;
static drawn draw_both(const mst_ground *g, mst_arena *arena) {
    mst_error error = {0};
    drawn d;
    IS_OK(mst_ground_contours(g, INTERVAL / 2, arena, &d.c[0], &d.count[0], &error));
    IS_OK(mst_ground_smooth_contours(g, INTERVAL / 2, arena, &d.c[1], &d.count[1], &error));
    return d;
}

static void the_same_on_several_threads(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    drawn one = draw_both(large_ground(1, false, arena), arena);
    for (int threads = 2; threads <= 5; threads++) {
        drawn several = draw_both(large_ground(threads, false, arena), arena);
        for (int smooth = 0; smooth < 2; smooth++) {
            assert_int_equal(several.count[smooth], one.count[smooth]);
            for (size_t i = 0; i < one.count[smooth]; i++) {
                const mst_contour *a = &one.c[smooth][i], *b = &several.c[smooth][i];
                assert_true(a->level_m == b->level_m && a->closed == b->closed && a->count == b->count);
                assert_memory_equal(a->points, b->points, a->count * sizeof *a->points);
            }
        }
    }
    mst_arena_free(arena);
}

static int by_east(const void *x, const void *y) {
    const double *a = x, *b = y;
    if (a[0] != b[0]) return a[0] < b[0] ? -1 : 1;
    return a[1] < b[1] ? -1 : a[1] > b[1];
}
static double (*places_of(const drawn *d, mst_arena *arena, size_t *count))[2] {
    *count = 0;
    for (size_t i = 0; i < d->count[0]; i++) *count += d->c[0][i].count;
    double(*p)[2] = mst_arena_array(arena, *count + 1, sizeof *p);
    size_t at = 0;
    for (size_t i = 0; i < d->count[0]; i++) {
        memcpy(p + at, d->c[0][i].points, d->c[0][i].count * sizeof *p);
        at += d->c[0][i].count;
    }
    qsort(p, *count, sizeof *p, by_east);
    return p;
}

/* On a large ground every edge is crossed once by each level between its ends, and the order of the points does not
 * matter. */
static void a_large_ground(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_ground *g = large_ground(3, false, arena);
    drawn rows = draw_both(g, arena), shuffled = draw_both(large_ground(2, true, arena), arena);
    size_t edge_count, vertex_count, expected = 0, counts[2];
    edge *e = edges_of(g, &edge_count, arena);
    const mst_ground_point *v = mst_ground_vertices(g, &vertex_count);
    for (size_t i = 0; i < edge_count; i++)
        expected +=
            (size_t)fabs(floor(v[e[i].a].elevation_m / INTERVAL * 2) - floor(v[e[i].b].elevation_m / INTERVAL * 2));
    double(*a)[2] = places_of(&rows, arena, &counts[0]), (*b)[2] = places_of(&shuffled, arena, &counts[1]);
    assert_int_equal(vertex_count, LARGE_SIDE * LARGE_SIDE);
    assert_int_equal(counts[0], expected);
    assert_int_equal(counts[1], expected);
    assert_int_equal(rows.count[0], shuffled.count[0]);
    assert_memory_equal(a, b, expected * sizeof *a);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_grounds), cmocka_unit_test(the_same_on_several_threads),
                                       cmocka_unit_test(a_large_ground), cmocka_unit_test(a_saddle),
                                       cmocka_unit_test(a_flat_top)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
