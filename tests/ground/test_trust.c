/* What the ground between the points may do. Terrains are made up by midpoint displacement (A. Fournier, D. Fussell,
 * L. Carpenter, CACM 25 (1982) 371-384) and sampled; formulas of the linear variogram from J.-P. Chiles, P. Delfiner,
 * Geostatistics, chapters 2 and 4. bench/trust does the same at length, on open terrain too. */
#include "ground/ground_test.h"
#include "ground/spread.h"
#include "merestone/works.h"

enum { SIDE = 65 };

typedef struct source {
    uint64_t state;
} source;
static double uniform(source *s) {
    s->state ^= s->state << 13;
    s->state ^= s->state >> 7;
    s->state ^= s->state << 17;
    return (double)(s->state >> 11) * 0x1p-53;
}
static double normal(source *s) { return sqrt(-2 * log(1 - uniform(s))) * cos(2 * MST_PI * uniform(s)); }

static void displace(double z[SIDE][SIDE], double h, source *s) {
    double sd = 4;
    for (int step = SIDE - 1; step > 1; step /= 2) {
        int half = step / 2;
        sd *= pow(0.5, h / 2);
        for (int i = half; i < SIDE; i += step)
            for (int j = half; j < SIDE; j += step)
                z[i][j] =
                    (z[i - half][j - half] + z[i - half][j + half] + z[i + half][j - half] + z[i + half][j + half]) /
                        4 +
                    sd * normal(s);
        sd *= pow(0.5, h / 2);
        for (int i = 0; i < SIDE; i += half)
            for (int j = (i / half) % 2 ? 0 : half; j < SIDE; j += step) {
                double sum = 0, n = 0;
                if (i >= half) sum += z[i - half][j], n++;
                if (i + half < SIDE) sum += z[i + half][j], n++;
                if (j >= half) sum += z[i][j - half], n++;
                if (j + half < SIDE) sum += z[i][j + half], n++;
                z[i][j] = sum / n + sd * normal(s);
            }
    }
}

static mst_ground_point *terrain(double h, source *s, mst_arena *arena) {
    static const double METRES = 1.5;
    mst_ground_point *p = mst_arena_array(arena, SIDE * SIDE, sizeof *p);
    double(*z)[SIDE] = mst_arena_array(arena, SIDE, sizeof *z);
    displace(z, h, s);
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++) {
            bool inner = i > 0 && j > 0 && i < SIDE - 1 && j < SIDE - 1;
            double e = (j + inner * 0.3 * uniform(s)) * METRES, n = (i + inner * 0.3 * uniform(s)) * METRES;
            p[SIDE * i + j] = (mst_ground_point){452000 + e, 4987000 + n, 30 + z[i][j], MST_NOWHERE};
        }
    return p;
}

static mst_ground *trusted(const mst_ground_point p[], size_t count, mst_arena *arena) {
    mst_error error = {0};
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = count, .merge_height_m = 9}, arena);
    IS_OK(mst_ground_trust(g, NULL, arena, &error));
    return g;
}

static int by_level(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Of 150 samples of 50 to 300 points, how many 95 % intervals of a volume above a level hold the truth.
 * @param p is reordered */
static double share_held(mst_ground_point p[], size_t count, uint64_t seed) {
    source s = {seed};
    mst_arena *whole = mst_arena_new();
    mst_error error = {0};
    mst_ground *truth = ground_of(&(mst_ground_input){.points = p, .point_count = count}, whole);
    double *levels = mst_arena_array(whole, count, sizeof *levels);
    for (size_t i = 0; i < count; i++) levels[i] = p[i].elevation_m;
    qsort(levels, count, sizeof *levels, by_level);
    int held = 0, all = 0;
    for (int sampling = 0; sampling < 150; sampling++) {
        mst_arena *arena = mst_arena_new();
        size_t n = 50 + (size_t)(250 * uniform(&s)), rims;
        for (size_t i = 0; i < n; i++) {
            size_t k = i + (size_t)(uniform(&s) * (double)(count - i));
            mst_ground_point swap = p[i];
            p[i] = p[k], p[k] = swap;
        }
        mst_ground *g = trusted(p, n, arena);
        mst_path *rim;
        mst_prism_sum said, real;
        mst_figure cut, fill, net;
        mst_plane plane = level_plane(levels[(size_t)((0.1 + 0.8 * uniform(&s)) * (double)count)]);
        IS_OK(mst_ground_rims(g, arena, &rim, &rims, &error));
        mst_shape shape = {rim, 1};
        IS_OK(mst_ground_to_plane(g, &shape, &plane, 0, arena, &said, &error));
        IS_OK(mst_ground_to_plane(truth, &shape, &plane, 0, arena, &real, &error));
        IS_OK(mst_volume_figures(&said, NULL, &(mst_adjustment){0}, arena, &cut, &fill, &net, &error));
        assert_true(cut.low <= cut.value && cut.value <= cut.high && net.low <= net.value && net.value <= net.high);
        if (fabs(real.area_m2 - said.area_m2) < 1e-6 * said.area_m2) {
            held += cut.low <= real.cut_m3 && real.cut_m3 <= cut.high;
            all++;
        }
        mst_arena_free(arena);
    }
    mst_arena_free(whole);
    assert_true(all > 100);
    return (double)held / all;
}

static void intervals_hold_the_truth(void **state) {
    (void)state;
    const double powers[] = {0.5, 0.8};
    for (int i = 0; i < 2; i++) {
        mst_arena *arena = mst_arena_new();
        source s = {20261125u + (uint64_t)i};
        mst_ground_point *p = terrain(powers[i], &s, arena);
        double share = share_held(p, SIDE * SIDE, 42 + (uint64_t)i);
        mst_arena_free(arena);
        print_message("H = %.1f: %.1f %% of the intervals hold the truth\n", powers[i], 100 * share);
        assert_in_range((int)(100 * share), 88, 99);
    }
}

/* The same on a real grid, Maunga Whau (tests share it as open data); bench/trust takes more of both. */
static void intervals_hold_on_a_volcano(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    size_t count;
    mst_ground_point *p =
        points_from(SHARED_DATA "/terrain-volcano-grid/volcano_points_pnezd.csv", 2, 1, 3, 1, &count, arena);
    if (!p) {
        mst_arena_free(arena);
        skip();
    }
    double share = share_held(p, count, 7);
    print_message("volcano: %.1f %% of the intervals hold the truth\n", 100 * share);
    assert_in_range((int)(100 * share), 87,
                    99); /* 150 samples: 95 % less 3 standard deviations of the share, rounded */
    mst_arena_free(arena);
}

/* Half-way between two points of a Brownian line of variance 2 c a metre, the bridge has the variance c L / 2. */
static void the_middle_of_a_bridge(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 1}, {8, 0, 2}, {0, 6, 3}};
    mst_ground *g = ground_of_points(at, 3, arena);
    mst_error error = {0};
    IS_OK(mst_ground_trust(g, NULL, arena, &error));
    assert_false(mst_ground_roughness(g)->known);
    assert_true(isnan(mst_ground_between(g, (mst_point){1, 1})));
    g->roughness = (mst_roughness){.known = true, .kernel = {[2] = -0.03}};
    NEAR(mst_ground_between(g, (mst_point){4, 0}), 0.03 * 8 / 2, 1e-12);
    NEAR(mst_ground_between(g, (mst_point){4, 3}), 0.03 * 10 / 2, 1e-12);
    NEAR(mst_ground_between(g, (mst_point){8, 0}), 0, 1e-12);
    assert_true(isnan(mst_ground_between(g, (mst_point){9, 9})));
    mst_arena_free(arena);
}

/* Far boxes by their moments against every pair by itself. */
static void boxes_agree_with_pairs(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    source s = {7};
    mst_ground *g = trusted(terrain(0.6, &s, arena), SIDE * SIDE, arena);
    mst_shape shape = rectangle(452020, 4987020, 452075, 4987066.5, arena);
    mst_prism_sum sum = to_plane(g, shape, level_plane(30), 0, arena);
    mst_spread fast;
    mst_error error = {0};
    const double kernels[][MST_KERNEL_TERMS] = {{[1] = -1}, {[2] = -1}, {[3] = -1}, {[5] = 1}, {[6] = 1}, {[7] = 1}};
    size_t parts = sum.parts->count;
    assert_true(parts > 2000);
    mst_rest *rests = mst_arena_array(arena, parts, sizeof *rests);
    for (size_t i = 0; i < parts; i++) { /* one rest a part, by hand */
        const mst_prism_part *p = &sum.parts->items[i];
        const uint32_t *c = g->facets[p->facet];
        for (int x = 0; x < 2; x++) {
            for (int k = 0; k < 3; k++) rests[i].at[k][x] = g->corners[c[k]].at[x] - 452000 - x * 4535000;
            for (int k = 0; k < 3; k++)
                rests[i].at[3 + k][x] = (rests[i].at[(k + 1) % 3][x] + rests[i].at[(k + 2) % 3][x]) / 2;
            rests[i].at[6][x] = (rests[i].at[0][x] + rests[i].at[1][x] + rests[i].at[2][x]) / 3;
        }
        double *w = rests[i].weight[p->cut ? 0 : 1], sign = p->cut ? 1 : -1;
        for (int k = 0; k < 3; k++) {
            w[k] = sign * ((p->weight[3 + (k + 1) % 3] + p->weight[3 + (k + 2) % 3]) / 2 + p->weight[6] / 3);
            w[3 + k] = -sign * p->weight[3 + k];
        }
        w[6] = -sign * p->weight[6];
        for (int b = 0; b < 2; b++)
            for (int k = 0; k < 7; k++) {
                double e = rests[i].at[k][0] - rests[i].at[6][0], n = rests[i].at[k][1] - rests[i].at[6][1];
                double v = rests[i].weight[b][k];
                rests[i].moment[b][0] += v * e * e, rests[i].moment[b][1] += v * e * n,
                    rests[i].moment[b][2] += v * n * n;
            }
    }
    for (int k = 0; k < 6; k++) {
        double by_boxes[3], pairs[3] = {0, 0, 0};
        IS_OK(mst_rests_spread(rests, parts, kernels[k], arena, by_boxes));
        mst_node *nodes = mst_arena_array(arena, 7 * parts, sizeof *nodes);
        size_t n = mst_rest_nodes(rests, NULL, parts, nodes);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++) {
                double de = nodes[i].at[0] - nodes[j].at[0], dn = nodes[i].at[1] - nodes[j].at[1];
                double v = mst_covariance_at(kernels[k], de * de + dn * dn);
                pairs[0] += nodes[i].weight[0] * nodes[j].weight[0] * v;
                pairs[1] += nodes[i].weight[0] * nodes[j].weight[1] * v;
                pairs[2] += nodes[i].weight[1] * nodes[j].weight[1] * v;
            }
        assert_true(pairs[0] > 0 && pairs[2] > 0);
        for (int v = 0; v < 3; v++) NEAR(by_boxes[v], pairs[v], 0.02 * sqrt(pairs[0] * pairs[2]));
    }
    IS_OK(mst_parts_spread(&sum.parts, 1, &fast, &error));
    assert_true(fast.known && fast.cut_m6 > 0 && fast.fill_m6 > 0);
    mst_arena_free(arena);
}

/* The nodes' weights integrate cubics exactly, over whole facets and over pieces: fit of a volume under a plane. */
static void weights_are_areas_and_moments(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 0}, {9, 1, 0}, {2, 7, 0}};
    mst_ground *g = ground_of_points(at, 3, arena);
    mst_prism_sum sum = to_plane(g, rectangle(1, 1, 4, 3, arena), level_plane(-1), 0, arena);
    double total = 0, moment[2] = {0, 0}, square = 0;
    for (size_t i = 0; i < sum.parts->count; i++)
        for (int k = 0; k < MST_NODES; k++) {
            double e = 0, n = 0;
            for (int c = 0; c < 3; c++) {
                double share = k < 3 ? (c == k) : k < 6 ? (c != k - 3) / 2.0 : 1 / 3.0;
                const double *p = g->corners[g->facets[sum.parts->items[i].facet][c]].at;
                e += share * p[0], n += share * p[1];
            }
            double w = sum.parts->items[i].weight[k];
            total += w, moment[0] += w * e, moment[1] += w * n, square += w * e * e;
        }
    NEAR(sum.area_m2, 6, 1e-12);
    NEAR(total, 6, 1e-12); /* the rectangle lies inside the triangle */
    NEAR(moment[0], 6 * 2.5, 1e-12);
    NEAR(moment[1], 6 * 2, 1e-12);
    NEAR(square, 2 * (64 - 1) / 3.0, 1e-11);
    mst_arena_free(arena);
}

/* What the checks foresee inside the facets by the corners' weights is what they foresee of a sum: over a level below
 * all ground, cut is the whole volume, and its shift the integral of what is foreseen. And a bowl read at its points is
 * foreseen below its triangles, with less variance than before. */
static void the_ground_is_foreseen_inside(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    source s = {31};
    mst_ground_point p[160];
    for (uint32_t i = 0; i < 160; i++) {
        double e = 60 * uniform(&s), n = 60 * uniform(&s);
        p[i] = (mst_ground_point){e, n, 0.004 * ((e - 30) * (e - 30) + (n - 30) * (n - 30)), i};
    }
    mst_ground *g = trusted(p, 160, arena);
    assert_non_null(g->inside);
    double whole = 0, lower = 0, inner = 0;
    for (size_t f = 0; f < g->facet_count; f++) {
        const uint32_t *c = g->facets[f];
        double area = mst_orient2d(g->corners[c[0]].at, g->corners[c[1]].at, g->corners[c[2]].at) / 2;
        const double *rest = g->inside[f].rest_m;
        whole += area * (2 * (rest[0] + rest[1] + rest[2]) / 15 + 9 * rest[3] / 20); /* the cubics' formula */
        assert_true(g->inside[f].left >= 0 && g->inside[f].left <= 1);
        lower += rest[3] < 0, inner += 1;
    }
    assert_true(lower > 0.9 * inner); /* chords of a bowl lie above it */
    mst_prism_sum sum = to_plane(g, rectangle(-1, -1, 61, 61, arena), level_plane(-50), 0, arena);
    mst_spread spread;
    IS_OK(mst_parts_spread(&sum.parts, 1, &spread, &error));
    assert_true(whole < 0);
    NEAR(spread.cut_shift_m3, whole, 1e-6 * fabs(whole));
    NEAR(spread.fill_shift_m3, 0, 1e-9);
    mst_arena_free(arena);
}

/* A ground of 30,000 points is trusted in bounded time: nothing is looked at inside its facets, all else is there. */
static void dense_ground_is_left_to_its_triangles(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    source s = {77};
    enum { MANY = 30000 };
    mst_ground_point *p = mst_arena_array(arena, MANY, sizeof *p);
    for (uint32_t i = 0; i < MANY; i++)
        p[i] = (mst_ground_point){300 * uniform(&s), 300 * uniform(&s), 0.1 * normal(&s), i};
    mst_ground *g = trusted(p, MANY, arena);
    mst_error error = {0};
    mst_spread spread;
    assert_null(g->inside);
    mst_prism_sum sum = to_plane(g, rectangle(100, 100, 140, 140, arena), level_plane(0), 0, arena);
    IS_OK(mst_parts_spread(&sum.parts, 1, &spread, &error));
    assert_true(spread.known && spread.cut_m6 > 0 && isfinite(spread.cut_m6) && spread.cut_shift_m3 > 0);
    mst_arena_free(arena);
}

/* A lawn with a fall, and a bank: with its crest and foot as breaklines nothing is left to be rough. */
static void breaklines_carry_the_shape(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[400];
    uint32_t crest[8], foot[8];
    size_t n = 0;
    for (uint32_t i = 0; i < 8; i++) {
        double x = 6 * i;
        p[n] = (mst_ground_point){x, 20, 2, MST_NOWHERE}, crest[i] = (uint32_t)n++;
        p[n] = (mst_ground_point){x, 22, 1, MST_NOWHERE}, foot[i] = (uint32_t)n++;
    }
    source s = {99};
    for (int i = 0; i < 80; i++) {
        double x = 42 * uniform(&s), y = 40 * uniform(&s);
        if (y > 19 && y < 23) continue;
        p[n++] = (mst_ground_point){x, y, y < 21 ? 2 : 1, i};
    }
    mst_ground_line lines[2] = {{"crest", crest, 8, false}, {"foot", foot, 8, false}};
    mst_ground *with =
        ground_of(&(mst_ground_input){.points = p, .point_count = n, .breaklines = lines, .breakline_count = 2}, arena);
    mst_ground *without = ground_of(&(mst_ground_input){.points = p, .point_count = n}, arena);
    IS_OK(mst_ground_trust(with, NULL, arena, &error));
    IS_OK(mst_ground_trust(without, NULL, arena, &error));
    assert_true(mst_ground_roughness(with)->checks >= 20);
    assert_true(mst_ground_roughness(with)->checks < mst_ground_roughness(without)->checks);
    assert_true(mst_ground_roughness(with)->known && mst_ground_roughness(with)->rms_m < 1e-9);
    assert_true(mst_ground_roughness(without)->rms_m > 0.1);
    mst_arena_free(arena);
}

/* Levels that scatter by what the readings are good for: then the ground itself is hardly rough. */
static void readings_are_no_roughness(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    source s = {5};
    mst_ground_point p[200];
    mst_adjusted_point a[200] = {0};
    for (uint32_t i = 0; i < 200; i++) {
        double e = 60 * uniform(&s), n = 40 * uniform(&s);
        p[i] = (mst_ground_point){e, n, 0.02 * e + 0.02 * normal(&s), i};
        a[i].sd_elevation_m = 0.02;
    }
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = 200}, arena);
    IS_OK(mst_ground_trust(g, NULL, arena, &error));
    double before = mst_ground_between(g, (mst_point){30.2, 20.2});
    IS_OK(mst_ground_trust(g, &(mst_adjustment){.points = a, .point_count = 200}, arena, &error));
    double after = mst_ground_between(g, (mst_point){30.2, 20.2});
    assert_true(sqrt(before) > 0.015);
    assert_true(after < before / 4);
    mst_arena_free(arena);
}

static void the_next_point_goes_into_the_gap(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    source s = {11};
    mst_ground_point p[500];
    size_t n = 0, count;
    while (n < 300) {
        double e = 60 * uniform(&s), v = 40 * uniform(&s);
        if (hypot(e - 40, v - 20) < 8) continue; /* nothing measured here */
        p[n] = (mst_ground_point){e, v, 0.3 * sin(e / 5) + 0.05 * normal(&s), (uint32_t)n};
        n++;
    }
    mst_ground *g = trusted(p, n, arena);
    mst_next_point *next;
    IS_OK(mst_ground_next_points(g, 6, arena, &next, &count, &error));
    assert_int_equal(count, 6);
    assert_true(hypot(next[0].at.easting_m - 40, next[0].at.northing_m - 20) < 8);
    for (size_t i = 0; i < count; i++) assert_true(next[i].sd_m > 0 && next[i].left < (i ? next[i - 1].left : 1));
    assert_int_equal(mst_ground_next_points(g, 1000, arena, &next, &count, &error), MST_INVALID);
    assert_int_equal(
        mst_ground_next_points(trusted((mst_ground_point[]){{0, 0, 0, 0}, {5, 0, 1, 1}, {5, 5, 1, 2}}, 3, arena), 1,
                               arena, &next, &count, &error),
        MST_UNDETERMINED);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_middle_of_a_bridge),        cmocka_unit_test(weights_are_areas_and_moments),
        cmocka_unit_test(boxes_agree_with_pairs),        cmocka_unit_test(breaklines_carry_the_shape),
        cmocka_unit_test(readings_are_no_roughness),     cmocka_unit_test(the_next_point_goes_into_the_gap),
        cmocka_unit_test(the_ground_is_foreseen_inside), cmocka_unit_test(dense_ground_is_left_to_its_triangles),
        cmocka_unit_test(intervals_hold_the_truth),      cmocka_unit_test(intervals_hold_on_a_volcano),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
