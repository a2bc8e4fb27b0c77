/* Levels by a walk, the nearest breakline and the volume over any level, each beside the plain way: the tree, all
 * edges, exact prisms (which tests/ground/test_prisms.c checks against solids). */
#include "ground/ground_test.h"
#include "ground/model.h"
#include "ground/twofold.h"

static double uniform(uint64_t *s) {
    *s ^= *s << 13;
    *s ^= *s >> 7;
    *s ^= *s << 17;
    return (double)(*s >> 11) * 0x1p-53;
}

/* Random hills, with steps where several points share a level, on a national grid. */
static mst_ground *hills(size_t count, uint64_t seed, const mst_shape *hole, mst_arena *arena) {
    mst_ground_point *p = mst_arena_array(arena, count, sizeof *p);
    for (size_t i = 0; i < count; i++) {
        double e = 100 * uniform(&seed), n = 80 * uniform(&seed),
               z = 4 * sin(e / 9) + 3 * cos(n / 7) + 0.3 * uniform(&seed);
        if (i % 5 == 0) z = floor(z);
        p[i] = (mst_ground_point){452000 + e, 4987000 + n, 30 + z, (uint32_t)i};
    }
    return ground_of(&(mst_ground_input){.points = p, .point_count = count, .holes = hole, .hole_count = hole ? 1 : 0},
                     arena);
}

static void the_walk_finds_what_the_tree_finds(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_shape pond = rectangle(452040, 4987030, 452055, 4987050, arena);
    mst_ground *g = hills(3000, 42, &pond, arena);
    uint64_t s = 77;
    uint32_t hint = 4000000000u; /* any number will do */
    int inside = 0, outside = 0;
    for (int i = 0; i < 20000; i++) {
        mst_point p = {452000 - 5 + 110 * uniform(&s), 4987000 - 5 + 90 * uniform(&s)};
        if (i % 2)
            p.easting_m = 452000 + 0.3 * (i % 300), p.northing_m = 4987000 + 0.01 * (i % 7000); /* near the last one */
        mst_ground_level l;
        double z = mst_ground_elevation(g, p, &hint);
        bool there = mst_ground_level_at(g, p, &l);
        assert_true(there == !isnan(z));
        if (there) NEAR(z, l.elevation_m, 1e-9);
        inside += there, outside += !there;
    }
    assert_true(inside > 10000 && outside > 500);
    assert_true(isnan(mst_ground_elevation(g, (mst_point){NAN, 0}, &hint)));
    mst_arena_free(arena);
}

/* Side by side as one by one: to the bit where the walk begins at the same place. */
static void many_places_at_once(void **state) {
    (void)state;
    enum { PLACES = 50001 };
    static mst_point p[PLACES];
    static double z[PLACES];
    mst_arena *arena = mst_arena_new();
    mst_shape pond = rectangle(452040, 4987030, 452055, 4987050, arena);
    mst_ground *grounds[] = {hills(3000, 42, &pond, arena), hills(3000, 42, NULL, arena), hills(20000, 5, NULL, arena)};
    uint64_t s = 12;
    for (int i = 0; i < PLACES; i++) p[i] = (mst_point){452000 - 5 + 110 * uniform(&s), 4987000 - 5 + 90 * uniform(&s)};
    p[7].easting_m = NAN, p[8].northing_m = INFINITY, p[9] = (mst_point){0, 0};
    for (int k = 0; k < 3; k++) {
        size_t count;
        const mst_ground_point *v = mst_ground_vertices(grounds[k], &count);
        p[10] = (mst_point){v[5].easting_m, v[5].northing_m}; /* at a corner of several triangles */
        for (int threads = 1; threads <= 3; threads += 2) {
            int inside = 0;
            grounds[k]->threads = threads;
            mst_ground_elevations(grounds[k], p, PLACES, z);
            for (int i = 0; i < PLACES; i++) {
                uint32_t hint = UINT32_MAX;
                double alone = mst_ground_elevation(grounds[k], p[i], &hint);
                assert_true(z[i] == alone || (isnan(z[i]) && isnan(alone)));
                inside += !isnan(z[i]);
            }
            assert_true(inside > 30000 && isnan(z[7]) && isnan(z[8]) && isnan(z[9]));
            NEAR(z[10], v[5].elevation_m, 1e-9);
        }
    }
    mst_ground_elevations(grounds[0], NULL, 0, NULL);
    mst_arena_free(arena);
}

static void the_curve_is_the_volume(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground *g = hills(2000, 9, NULL, arena);
    mst_ground_figures f;
    mst_ground_describe(g, &f);
    mst_volume_curve *curve;
    IS_OK(mst_ground_volume_curve(g, arena, &curve, &error));
    mst_shape all = rectangle(451990, 4986990, 452110, 4987090, arena);
    uint64_t s = 3;
    for (int i = 0; i < 60; i++) {
        double z = i < 20 ? 23 + (double)i
                          : f.lowest_m - 1 + (f.highest_m - f.lowest_m + 2) * uniform(&s); /* also at joints */
        mst_prism_sum sum = to_plane(g, all, level_plane(z), 0, arena);
        mst_level_volume v = mst_volume_at(curve, z);
        double size = sum.cut_m3 + sum.fill_m3;
        NEAR(v.cut_m3, sum.cut_m3, 1e-12 * size);
        NEAR(v.fill_m3, sum.fill_m3, 1e-12 * size);
        NEAR(v.cut_area_m2, sum.cut_area_m2,
             1e-10 * f.plan_area_m2 + (i < 20 ? f.plan_area_m2 : 0)); /* flats at a joint count either way */
    }
    mst_arena_free(arena);
}

/* Nearly level triangles: a thousandth of a micron, beside a bank of 50 m; and one that is level. */
static void nearly_level_ground(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    double at[102][3];
    size_t n = 0;
    for (int i = 0; i < 10; i++)
        for (int k = 0; k < 10; k++, n++)
            at[n][0] = 3 * i, at[n][1] = 3 * k, at[n][2] = 20 + 1e-9 * ((i * 7 + k * 13) % 5);
    at[n][0] = 60, at[n][1] = 0, at[n++][2] = 70;
    at[n][0] = 60, at[n][1] = 27, at[n++][2] = -30;
    mst_ground *g = ground_of_points((const double(*)[3])at, n, arena);
    mst_volume_curve *curve;
    IS_OK(mst_ground_volume_curve(g, arena, &curve, &error));
    mst_shape all = rectangle(-1, -1, 61, 28, arena);
    const double levels[] = {-40, -30, -10, 19.999, 20, 20 + 1e-9, 20 + 2.5e-9, 20.001, 45, 69.9, 70, 80};
    for (size_t i = 0; i < sizeof levels / sizeof *levels; i++) {
        mst_prism_sum sum = to_plane(g, all, level_plane(levels[i]), 0, arena);
        mst_level_volume v = mst_volume_at(curve, levels[i]);
        NEAR(v.cut_m3, sum.cut_m3, 1e-12 * (sum.cut_m3 + sum.fill_m3));
        NEAR(v.fill_m3, sum.fill_m3, 1e-12 * (sum.cut_m3 + sum.fill_m3));
    }
    mst_arena_free(arena);
}

static void twofold_numbers(void **state) {
    (void)state;
    mst_twofold p = mst_two_product(1 + 0x1p-30, 1 - 0x1p-30); /* 1 - 2^-60 */
    assert_true(p.high == 1 && p.low == -0x1p-60);
    mst_twofold s = mst_twofold_add(mst_twofold_of(1e16), mst_twofold_of(1.25));
    s = mst_twofold_add(s, mst_twofold_of(-1e16));
    NEAR(s.high + s.low, 1.25, 0);
    s = mst_twofold_times(mst_twofold_of(3), (mst_twofold){1 / 3.0, 1.8503717077085943e-17});
    NEAR(s.high, 1, 0);
    assert_true(fabs(s.low) < 1e-31);
}

static void the_nearest_breakline(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_ground_point p[400];
    uint32_t ids[3][8];
    mst_ground_line lines[3];
    uint64_t s = 15;
    for (uint32_t i = 0; i < 400; i++) {
        double e = 60 * uniform(&s), n = 60 * uniform(&s);
        p[i] = (mst_ground_point){e, n, e / 10, i};
    }
    for (uint32_t l = 0; l < 3; l++) {
        for (uint32_t i = 0; i < 8; i++) {
            uint32_t k = ids[l][i] = 8 * l + i;
            p[k].easting_m = 5 + 7 * i, p[k].northing_m = 10 + 20 * l + 3 * sin(i),
            p[k].elevation_m = p[k].easting_m / 10;
        }
        lines[l] = (mst_ground_line){"line", ids[l], 8, false};
    }
    mst_ground *g = ground_of(
        &(mst_ground_input){.points = p, .point_count = 400, .breaklines = lines, .breakline_count = 3}, arena);
    for (int i = 0; i < 500; i++) {
        mst_point from = {-20 + 100 * uniform(&s), -20 + 100 * uniform(&s)};
        double least = HUGE_VAL, distance = 0;
        for (int l = 0; l < 3; l++)
            for (int k = 0; k < 7; k++) {
                const mst_ground_point *a = &p[ids[l][k]], *b = &p[ids[l][k + 1]];
                double de = b->easting_m - a->easting_m, dn = b->northing_m - a->northing_m;
                double t = ((from.easting_m - a->easting_m) * de + (from.northing_m - a->northing_m) * dn) /
                           (de * de + dn * dn);
                t = fmin(fmax(t, 0), 1);
                least = fmin(least,
                             hypot(from.easting_m - a->easting_m - t * de, from.northing_m - a->northing_m - t * dn));
            }
        mst_point3 at;
        assert_true(mst_ground_nearest_breakline(g, from, &at, &distance));
        NEAR(distance, least, 1e-9);
        NEAR(at.elevation_m, at.easting_m / 10, 1e-9);
    }
    mst_ground *none = hills(50, 4, NULL, arena);
    assert_false(mst_ground_nearest_breakline(none, (mst_point){452010, 4987010}, NULL, NULL));
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(twofold_numbers),
        cmocka_unit_test(many_places_at_once),
        cmocka_unit_test(the_walk_finds_what_the_tree_finds),
        cmocka_unit_test(the_curve_is_the_volume),
        cmocka_unit_test(nearly_level_ground),
        cmocka_unit_test(the_nearest_breakline),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
