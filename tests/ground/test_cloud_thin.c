/* Thinning a cloud: whatever comes in, every point lies within the tolerance of the triangulated surface of the points
 * that stay. The surface is built anew by mst_triangulation_build and looked up without the walk of the code under
 * test: by trying the triangles of a coarse bin (own independent check). Clouds are made from a seed. */
#include "ground/cloud.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static const double ROUNDING_M = 1e-6; /* between two ways to compute a plane */

static uint64_t random_state;
static double random_share(void) {
    random_state ^= random_state << 13, random_state ^= random_state >> 7, random_state ^= random_state << 17;
    return (double)(random_state >> 11) * 0x1p-53;
}

static double terrain(double e, double n) {
    return 100 + 3 * sin(e / 17) + 2 * cos(n / 11) + 0.02 * e + (n > 40 && n < 45 ? 0.8 * (n - 40) : n >= 45 ? 4 : 0);
}
static double to_grid(double v) { return nearbyint(v * 1e4) / 1e4; }

enum shape { UNIFORM, LATTICE, STRIP, DISC, STACKED, CROWDED };

/* @p noise_m: half of the range of even noise in the levels */
static mst_cloud_point *make_cloud(enum shape shape, size_t count, double side_m, double noise_m, uint64_t seed) {
    mst_cloud_point *p = malloc(count * sizeof *p);
    assert_non_null(p);
    random_state = seed;
    size_t columns = (size_t)sqrt((double)count);
    for (size_t i = 0; i < count; i++) {
        double x = random_share() * side_m, y = random_share() * side_m;
        if (shape == LATTICE)
            x = (double)(i % columns) * side_m / (double)columns, y = (double)(i / columns) * side_m / (double)columns;
        if (shape == STRIP) x /= 50;
        if (shape == CROWDED) x *= pow(x / side_m, 5), y *= pow(y / side_m, 5); /* as a scanner on a tripod sees */
        if (shape == DISC) {
            double angle = 2 * MST_PI * random_share(), radius = side_m * sqrt(random_share());
            x = radius * cos(angle), y = radius * sin(angle);
        }
        if (shape == STACKED && i % 3 == 2) x = p[i - 1].easting_m - 452000, y = p[i - 1].northing_m - 4987000;
        x = to_grid(x + 452000), y = to_grid(y + 4987000);
        p[i] = (mst_cloud_point){x, y, terrain(x - 452000, y - 4987000) + noise_m * (2 * random_share() - 1), 2};
    }
    return p;
}

/* ---- the independent check ---- */

typedef struct bins {
    double least[2], per_m;
    size_t side, *start;
    uint32_t *item;
} bins;

static size_t bin(const bins *b, double v, int k) {
    double x = (v - b->least[k]) * b->per_m;
    return x < 0 ? 0 : x >= (double)b->side ? b->side - 1 : (size_t)x;
}

/* Every bin lists the triangles whose box touches it. */
static bins make_bins(const double (*at)[2], size_t points, const uint32_t (*corner)[3], size_t triangles) {
    bins b = {{at[0][0], at[0][1]}, 0, (size_t)sqrt((double)triangles) / 2 + 1, NULL, NULL};
    double greatest[2] = {at[0][0], at[0][1]};
    for (size_t i = 0; i < points; i++)
        for (int k = 0; k < 2; k++) b.least[k] = fmin(b.least[k], at[i][k]), greatest[k] = fmax(greatest[k], at[i][k]);
    b.per_m = (double)b.side / fmax(greatest[0] - b.least[0], greatest[1] - b.least[1]);
    b.start = calloc(b.side * b.side + 1, sizeof *b.start);
    for (int pass = 0; pass < 2; pass++) {
        for (size_t t = 0; t < triangles; t++) {
            const double *p = at[corner[t][0]], *q = at[corner[t][1]], *r = at[corner[t][2]];
            for (size_t y = bin(&b, fmin(fmin(p[1], q[1]), r[1]), 1); y <= bin(&b, fmax(fmax(p[1], q[1]), r[1]), 1);
                 y++)
                for (size_t x = bin(&b, fmin(fmin(p[0], q[0]), r[0]), 0); x <= bin(&b, fmax(fmax(p[0], q[0]), r[0]), 0);
                     x++) {
                    if (pass == 0) b.start[y * b.side + x]++;
                    else b.item[--b.start[y * b.side + x]] = (uint32_t)t;
                }
        }
        if (pass) break;
        for (size_t i = 1; i <= b.side * b.side; i++) b.start[i] += b.start[i - 1];
        b.item = malloc((b.start[b.side * b.side] + 1) * sizeof *b.item);
    }
    return b;
}

/* The smallest error over the triangles that hold the place: on an edge or a corner there are several. NaN outside. */
static double error_of(const mst_cloud_point *c, const bins *b, const double (*at)[2], const uint32_t (*corner)[3],
                       const mst_point3 *z) {
    double best = NAN, p[2] = {c->easting_m, c->northing_m};
    size_t cell = bin(b, p[1], 1) * b->side + bin(b, p[0], 0);
    for (size_t i = b->start[cell]; i < b->start[cell + 1]; i++) {
        const uint32_t *v = corner[b->item[i]];
        double w[3], sum = 0, level = 0;
        for (int k = 0; k < 3; k++) w[k] = mst_orient2d(at[v[(k + 1) % 3]], at[v[(k + 2) % 3]], p), sum += w[k];
        if (w[0] < 0 || w[1] < 0 || w[2] < 0 || !(sum > 0)) continue;
        for (int k = 0; k < 3; k++) level += w[k] / sum * z[v[k]].elevation_m;
        double error_m = fabs(level - c->elevation_m);
        if (!(error_m >= best)) best = error_m;
    }
    return best;
}

typedef struct truth {
    double largest_m, squares;
    size_t outside, beyond;
} truth;

static truth check(const mst_cloud_point *cloud, size_t count, const mst_cloud_thinned *thin, double tolerance_m) {
    mst_arena *arena = mst_arena_new();
    double(*at)[2] = malloc(thin->count * sizeof *at);
    for (size_t i = 0; i < thin->count; i++)
        at[i][0] = thin->points[i].easting_m, at[i][1] = thin->points[i].northing_m;
    mst_triangulation_input input = {.points = (const double(*)[2])at, .point_count = thin->count};
    mst_triangulation *t;
    size_t triangles;
    assert_int_equal(mst_triangulation_build(&input, arena, &t, NULL), MST_OK);
    const uint32_t(*corner)[3] = mst_triangulation_corners(t, &triangles);
    bins b = make_bins((const double(*)[2])at, thin->count, corner, triangles);
    truth found = {0};
    for (size_t i = 0; i < count; i++) {
        double error_m = error_of(&cloud[i], &b, (const double(*)[2])at, corner, thin->points);
        if (isnan(error_m)) {
            found.outside++;
            continue;
        }
        found.largest_m = fmax(found.largest_m, error_m);
        found.squares += error_m * error_m;
        found.beyond += error_m > tolerance_m + ROUNDING_M;
    }
    free(b.start), free(b.item), free(at);
    mst_arena_free(arena);
    return found;
}

static void is_part_of_the_cloud(const mst_cloud_point *cloud, size_t count, const mst_cloud_thinned *thin) {
    for (size_t i = 0; i < thin->count && i < 50; i++) {
        const mst_point3 *p = &thin->points[i * thin->count / (thin->count < 50 ? thin->count : 50)];
        size_t k = 0;
        while (k < count && (cloud[k].easting_m != p->easting_m || cloud[k].northing_m != p->northing_m ||
                             cloud[k].elevation_m != p->elevation_m))
            k++;
        assert_true(k < count);
    }
}

/* ---- properties ---- */

static void thin_and_check(enum shape shape, size_t count, double side_m, double noise_m, double tolerance_m,
                           uint64_t seed) {
    mst_cloud_point *cloud = make_cloud(shape, count, side_m, noise_m, seed);
    mst_cloud_list list = {cloud, count, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thin_options options = {.tolerance_m = tolerance_m};
    mst_cloud_thinned thin;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    mst_status status = mst_cloud_thin(&source, &options, arena, &thin, &error);
    if (status) fail_msg("shape %d seed %d: %s", shape, (int)seed, error.sentence);
    truth found = check(cloud, count, &thin, tolerance_m);
    assert_true(thin.fit.count == count);
    is_part_of_the_cloud(cloud, count, &thin);
    if (thin.fit.beyond == 0) assert_true(found.beyond == 0 && found.largest_m <= tolerance_m + ROUNDING_M);
    assert_true(found.beyond <= thin.fit.beyond);
    assert_true(found.largest_m <= thin.fit.largest_m + ROUNDING_M);
    assert_int_equal(found.outside, thin.fit.outside);
    if (noise_m < tolerance_m / 2) assert_int_equal(thin.fit.beyond, 0);
    assert_true(thin.count < count / 2);
    mst_arena_free(arena);
    free(cloud);
}

static void every_point_is_within_the_tolerance(void **state) {
    (void)state;
    for (uint64_t seed = 1; seed <= 6; seed++) {
        thin_and_check(UNIFORM, 20000, 100, 0, 0.05, seed);
        thin_and_check(UNIFORM, 20000, 100, 0.02, 0.05, seed);
        thin_and_check(LATTICE, 20000, 100, 0, 0.02, seed);
        thin_and_check(LATTICE, 20000, 100, 0.009, 0.02, seed);
        thin_and_check(STRIP, 20000, 300, 0.01, 0.05, seed);
        thin_and_check(DISC, 20000, 60, 0.01, 0.1, seed);
        thin_and_check(CROWDED, 20000, 100, 0.01, 0.05, seed);
        thin_and_check(STACKED, 20000, 100, 0.02, 0.05, seed);
    }
}

/* More than one group of points, with seams between them. */
static void seams_between_groups_hold_too(void **state) {
    (void)state;
    thin_and_check(UNIFORM, 900000, 300, 0.005, 0.05, 7);
    thin_and_check(LATTICE, 810000, 300, 0.005, 0.05, 8);
}

static void a_plane_needs_its_corners_only(void **state) {
    (void)state;
    enum { SIDE = 300 };
    mst_cloud_point *cloud = malloc((size_t)SIDE * SIDE * sizeof *cloud);
    for (int i = 0; i < SIDE * SIDE; i++) {
        double e = i % SIDE, n = (double)(i / SIDE);
        cloud[i] = (mst_cloud_point){e, n, 5 + e / 64 - n / 128, 2};
    }
    mst_cloud_list list = {cloud, (size_t)SIDE * SIDE, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thin_options options = {.tolerance_m = 0.001};
    mst_cloud_thinned thin;
    mst_arena *arena = mst_arena_new();
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &thin, NULL), MST_OK);
    assert_int_equal(thin.count, 4);
    assert_true(thin.fit.largest_m < 1e-9);
    mst_arena_free(arena);
    free(cloud);
}

/* Flat to its rim, rough in one place: the ground model that is made without a boundary takes long edges at the rim for
 * bays, so points must stay there that the tolerance alone would not ask for. */
static void the_rim_of_a_flat_cloud_stays(void **state) {
    (void)state;
    enum { COUNT = 200000 };
    mst_cloud_point *cloud = malloc(COUNT * sizeof *cloud);
    random_state = 21;
    for (int i = 0; i < COUNT; i++) {
        double e = to_grid(100 * random_share()), n = to_grid(100 * random_share());
        bool rough = fabs(e - 50) < 12 && fabs(n - 16) < 12;
        cloud[i] = (mst_cloud_point){e, n, 10 + (rough ? 0.4 * sin(3 * e) * sin(3 * n) : 0), 2};
    }
    mst_cloud_list list = {cloud, COUNT, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thin_options options = {.tolerance_m = 0.05};
    mst_cloud_thinned thin;
    mst_arena *arena = mst_arena_new();
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &thin, NULL), MST_OK);
    mst_ground_point *points = mst_arena_array(arena, thin.count, sizeof *points);
    for (size_t i = 0; i < thin.count; i++)
        points[i] = (mst_ground_point){thin.points[i].easting_m, thin.points[i].northing_m, thin.points[i].elevation_m,
                                       (uint32_t)i};
    mst_ground *ground;
    mst_ground_figures figures;
    assert_int_equal(
        mst_ground_build(&(mst_ground_input){.points = points, .point_count = thin.count}, arena, &ground, NULL),
        MST_OK);
    mst_ground_describe(ground, &figures);
    if (!(figures.plan_area_m2 > 9950 && figures.plan_area_m2 <= 10000))
        fail_msg("%g m2, %zu points", figures.plan_area_m2, thin.count);
    mst_arena_free(arena);
    free(cloud);
}

/* Two levels at one place: one of them cannot be met, and that is said. */
static void a_second_level_at_a_place_is_reported(void **state) {
    (void)state;
    mst_cloud_point *cloud = make_cloud(UNIFORM, 5000, 50, 0, 3);
    cloud[4000] = cloud[1000];
    cloud[4000].elevation_m += 2.5;
    mst_cloud_list list = {cloud, 5000, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thin_options options = {.tolerance_m = 0.05};
    mst_cloud_thinned thin;
    mst_arena *arena = mst_arena_new();
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &thin, NULL), MST_OK);
    assert_true(thin.fit.beyond >= 1);
    assert_true(thin.fit.worst.easting_m == cloud[1000].easting_m);
    assert_true(fabs(thin.fit.largest_m - 2.5) < 0.051);
    double closest = 1;
    for (size_t i = 0; i < thin.count; i++)
        for (size_t k = 0; k < i; k++)
            closest = fmin(closest, hypot(thin.points[i].easting_m - thin.points[k].easting_m,
                                          thin.points[i].northing_m - thin.points[k].northing_m));
    assert_true(closest >= 0.005); /* so that the ground model does not find two levels at one place */
    mst_arena_free(arena);
    free(cloud);
}

/* ---- the store ---- */

typedef struct memory_store {
    unsigned char *bytes;
    uint64_t size, room;
    bool broken;
} memory_store;

static mst_status store_write(void *self, uint64_t at, const void *data, size_t size, mst_error *error) {
    memory_store *s = self;
    if (s->broken) return mst_fail(error, MST_IO, "The disk is full.");
    assert_true(at + size <= s->room);
    memcpy(s->bytes + at, data, size);
    s->size = at + size > s->size ? at + size : s->size;
    return MST_OK;
}
static mst_status store_read(void *self, uint64_t at, void *data, size_t size, mst_error *error) {
    (void)error;
    memory_store *s = self;
    assert_true(at + size <= s->size);
    memcpy(data, s->bytes + at, size);
    return MST_OK;
}

static void the_store_changes_nothing(void **state) {
    (void)state;
    enum { COUNT = 400000 };
    mst_cloud_point *cloud = make_cloud(CROWDED, COUNT, 200, 0.005, 11);
    mst_cloud_list list = {cloud, COUNT, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    memory_store kept = {malloc(COUNT * 24), 0, COUNT * 24, false};
    mst_cloud_store store = {&kept, store_write, store_read};
    mst_cloud_thin_options options = {.tolerance_m = 0.05};
    mst_cloud_thinned in_memory, stored;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &in_memory, NULL), MST_OK);
    options.store = &store, options.memory_points = 1000;
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &stored, NULL), MST_OK);
    assert_true(kept.size > 0);
    assert_int_equal(in_memory.count, stored.count);
    assert_memory_equal(in_memory.points, stored.points, stored.count * sizeof *stored.points);
    kept.broken = true;
    stored.count = 77;
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &stored, &error), MST_IO);
    assert_string_equal(error.sentence, "The disk is full.");
    assert_int_equal(stored.count, 77);
    mst_arena_free(arena);
    free(kept.bytes), free(cloud);
}

/* ---- refusals ---- */

static mst_status thin_points(const mst_cloud_point *points, size_t count, mst_cloud_thin_options options,
                              mst_error *error) {
    mst_cloud_list list = {points, count, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thinned thin;
    mst_arena *arena = mst_arena_new();
    mst_status status = mst_cloud_thin(&source, &options, arena, &thin, error);
    mst_arena_free(arena);
    return status;
}

static void what_cannot_be_thinned_is_refused(void **state) {
    (void)state;
    mst_error error = {0};
    mst_cloud_point few[4] = {{0, 0, 1, 2}, {1, 1, 1, 2}, {2, 2, 1, 2}, {3, 3, 1, 2}};
    mst_cloud_thin_options options = {.tolerance_m = 0.05};
    assert_int_equal(thin_points(few, 0, options, &error), MST_TOO_FEW);
    assert_int_equal(thin_points(few, 2, options, &error), MST_TOO_FEW);
    assert_int_equal(thin_points(few, 4, options, &error), MST_UNDETERMINED);
    few[2].easting_m = NAN;
    assert_int_equal(thin_points(few, 4, options, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "Point 3"));
    few[2] = (mst_cloud_point){0, 5, INFINITY, 2};
    assert_int_equal(thin_points(few, 4, options, &error), MST_INVALID);
    few[2].elevation_m = 1;
    assert_int_equal(thin_points(few, 4, options, &error), MST_OK);
    for (int i = 0; i < 3; i++) {
        options.tolerance_m = (double[]){0, -1, NAN}[i];
        assert_int_equal(thin_points(few, 4, options, &error), MST_INVALID);
    }
}

static void too_much_noise_is_refused_with_advice(void **state) {
    (void)state;
    mst_error error = {0};
    mst_cloud_point *cloud = make_cloud(UNIFORM, 20000, 100, 0.5, 5);
    mst_cloud_thin_options options = {.tolerance_m = 0.02, .points_most = 3000};
    assert_int_equal(thin_points(cloud, 20000, options, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "3000 points"));
    free(cloud);
}

/* A source that loses points between its passes. */
static mst_status shrinking_rewind(void *self, mst_error *error) {
    (void)error;
    mst_cloud_list *list = self;
    list->at = 0;
    list->count--;
    return MST_OK;
}
static void a_cloud_that_changes_is_noticed(void **state) {
    (void)state;
    mst_cloud_point *cloud = make_cloud(UNIFORM, 5000, 50, 0, 5);
    mst_cloud_list list = {cloud, 5000, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    source.rewind = shrinking_rewind;
    mst_cloud_thin_options options = {.tolerance_m = 0.05};
    mst_cloud_thinned thin;
    mst_arena *arena = mst_arena_new();
    assert_int_equal(mst_cloud_thin(&source, &options, arena, &thin, NULL), MST_IO);
    mst_arena_free(arena);
    free(cloud);
}

/* ---- classes and progress ---- */

static void only_wanted_classes_pass_and_all_are_counted(void **state) {
    (void)state;
    mst_cloud_point *cloud = make_cloud(UNIFORM, 5000, 50, 0, 9);
    for (int i = 0; i < 5000; i++) cloud[i].class_code = (uint8_t)(i % 5 == 0 ? 200 : i % 2 ? 2 : 1);
    mst_cloud_list list = {cloud, 5000, 0};
    mst_cloud_classes filter = {.from = mst_cloud_from_list(&list), .wanted = {1u << 2, 0, 0, 1u << (200 - 192)}};
    mst_cloud_source source = mst_cloud_of_classes(&filter);
    mst_cloud_point block[64];
    size_t count, kept = 0;
    assert_int_equal(source.rewind(source.self, NULL), MST_OK);
    do {
        assert_int_equal(source.read(source.self, block, 64, &count, NULL), MST_OK);
        for (size_t i = 0; i < count; i++) assert_true(block[i].class_code == 2 || block[i].class_code == 200);
        kept += count;
    } while (count);
    assert_int_equal(kept, 3000);
    assert_int_equal(filter.seen[1], 2000);
    assert_int_equal(filter.seen[2], 2000);
    assert_int_equal(filter.seen[200], 1000);
    free(cloud);
}

typedef struct heard {
    double last;
    int times;
    bool fell;
} heard;
static void hear(void *self, double fraction, const char *sentence) {
    heard *h = self;
    h->fell |= fraction < h->last || fraction > 1 || !sentence[0];
    h->last = fraction;
    h->times++;
}
static void progress_rises(void **state) {
    (void)state;
    mst_cloud_point *cloud = make_cloud(UNIFORM, 50000, 100, 0, 9);
    heard h = {0};
    mst_cloud_thin_options options = {.tolerance_m = 0.05, .progress = {&h, hear}};
    assert_int_equal(thin_points(cloud, 50000, options, NULL), MST_OK);
    assert_false(h.fell);
    assert_true(h.times > 100 && h.last > 0.98);
    free(cloud);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_point_is_within_the_tolerance),
                                       cmocka_unit_test(seams_between_groups_hold_too),
                                       cmocka_unit_test(a_plane_needs_its_corners_only),
                                       cmocka_unit_test(the_rim_of_a_flat_cloud_stays),
                                       cmocka_unit_test(a_second_level_at_a_place_is_reported),
                                       cmocka_unit_test(the_store_changes_nothing),
                                       cmocka_unit_test(what_cannot_be_thinned_is_refused),
                                       cmocka_unit_test(too_much_noise_is_refused_with_advice),
                                       cmocka_unit_test(a_cloud_that_changes_is_noticed),
                                       cmocka_unit_test(only_wanted_classes_pass_and_all_are_counted),
                                       cmocka_unit_test(progress_rises)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
