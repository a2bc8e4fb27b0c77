/* Where water stands and runs. Ponds beside an independent flood of the same grids, written here after R. Barnes,
 * C. Lehman, D. Mulla, Computers & Geosciences 62 (2014) 117-127 (with 8 and with 4 neighbours: the triangles have one
 * diagonal of each cell, so the truth lies between) and after O. Planchon, F. Darboux, Catena 46 (2002) 159-176 (on the
 * triangles' own edges, exactly). Pyramids and cones by plane geometry. */
#include "ground/ground_test.h"
#include "ground/model.h"
#include <string.h>

static mst_water *water_of(const mst_ground *g, mst_arena *arena) {
    mst_error error = {0};
    mst_water *w = NULL;
    IS_OK(mst_water_build(g, arena, &w, &error));
    return w;
}

/* Fills a grid: the rim is open. Picks the lowest open cell by searching all: slow and plain. */
static void fill_grid(const double z[], int rows, int columns, int neighbours, double w[]) {
    static const int STEP[8][2] = {{0, 1}, {1, 0}, {0, -1}, {-1, 0}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}};
    int count = rows * columns;
    char *state = calloc((size_t)count, 1); /* 1 open, 2 done */
    for (int i = 0; i < count; i++) {
        int r = i / columns, c = i % columns;
        if (r > 0 && c > 0 && r < rows - 1 && c < columns - 1) continue;
        w[i] = z[i], state[i] = 1;
    }
    for (;;) {
        int best = -1;
        for (int i = 0; i < count; i++)
            if (state[i] == 1 && (best < 0 || w[i] < w[best])) best = i;
        if (best < 0) break;
        state[best] = 2;
        for (int k = 0; k < neighbours; k++) {
            int r = best / columns + STEP[k][0], c = best % columns + STEP[k][1], at = r * columns + c;
            if (r < 0 || c < 0 || r >= rows || c >= columns || state[at]) continue;
            w[at] = fmax(z[at], w[best]);
            state[at] = 1;
        }
    }
    free(state);
}

typedef struct grid {
    int rows, columns;
    double cell, *z;
} grid;

static bool read_grid(const char *path, grid *g, mst_arena *arena) {
    FILE *file = fopen(path, "r");
    char key[64];
    double value;
    if (!file) return false;
    *g = (grid){0, 0, 1, NULL};
    for (int line = 0; line < 6 && fscanf(file, "%63s %lf", key, &value) == 2; line++) {
        if (!strcmp(key, "ncols")) g->columns = (int)value;
        if (!strcmp(key, "nrows")) g->rows = (int)value;
        if (!strcmp(key, "cellsize")) g->cell = value;
    }
    g->z = mst_arena_array(arena, (size_t)(g->rows * g->columns), sizeof *g->z);
    for (int i = 0; i < g->rows * g->columns; i++) assert_int_equal(fscanf(file, "%lf", &g->z[i]), 1);
    fclose(file);
    return true;
}

static mst_ground *ground_of_grid(const grid *g, mst_arena *arena) {
    size_t count = (size_t)(g->rows * g->columns);
    mst_ground_point *p = mst_arena_array(arena, count, sizeof *p);
    for (int i = 0; i < (int)count; i++)
        p[i] = (mst_ground_point){i % g->columns * g->cell, (g->rows - 1 - i / g->columns) * g->cell, g->z[i],
                                  (uint32_t)i};
    return ground_of(&(mst_ground_input){.points = p, .point_count = count}, arena);
}

/* Levels sink from above until nothing changes. */
static void planchon_darboux(const mst_ground *g, const bool open[], double w[]) {
    size_t vertices, triangles;
    const mst_ground_point *v = mst_ground_vertices(g, &vertices);
    const uint32_t(*t)[3] = mst_ground_triangles(g, &triangles);
    for (size_t i = 0; i < vertices; i++) w[i] = open[i] ? v[i].elevation_m : 1e9;
    for (bool changed = true; changed;) {
        changed = false;
        for (size_t i = 0; i < triangles; i++)
            for (int a = 0; a < 3; a++)
                for (int b = 0; b < 3; b++) {
                    double level = fmax(v[t[i][a]].elevation_m, w[t[i][b]]);
                    if (level < w[t[i][a]]) w[t[i][a]] = level, changed = true;
                }
    }
}

static void check_grid(const char *path) {
    mst_arena *arena = mst_arena_new();
    grid d;
    if (!read_grid(path, &d, arena)) {
        mst_arena_free(arena);
        skip();
    }
    mst_ground *g = ground_of_grid(&d, arena);
    mst_water *w = water_of(g, arena);
    size_t count, spots, triangles;
    const mst_ground_point *v = mst_ground_vertices(g, &count);
    const uint32_t(*t)[3] = mst_ground_triangles(g, &triangles);
    assert_int_equal(count, d.rows * d.columns);
    double *eight = mst_arena_array(arena, count, sizeof *eight), *four = mst_arena_array(arena, count, sizeof *four),
           *exact = mst_arena_array(arena, count, sizeof *exact);
    bool *open = mst_arena_array(arena, count, 1);
    fill_grid(d.z, d.rows, d.columns, 8, eight);
    fill_grid(d.z, d.rows, d.columns, 4, four);
    for (size_t i = 0; i < count; i++) {
        int r = (int)v[i].source / d.columns, c = (int)v[i].source % d.columns;
        open[i] = r == 0 || c == 0 || r == d.rows - 1 || c == d.columns - 1;
    }
    planchon_darboux(g, open, exact);
    double volume = 0, deepest = 0;
    for (size_t i = 0; i < count; i++) {
        double level = mst_water_level(w, (uint32_t)i);
        assert_true(level >= eight[v[i].source] && level <= four[v[i].source]);
        NEAR(level, exact[i], 0);
        deepest = fmax(deepest, level - v[i].elevation_m);
    }
    /* ponded volume triangle by triangle, from the levels alone: a finely cut grid of each */
    const mst_low_spot *s = mst_water_low_spots(w, &spots);
    assert_true((spots > 0) == (deepest > 0));
    for (size_t i = 0; i < triangles; i++) {
        double level = -1e9;
        for (int k = 0; k < 3; k++)
            if (mst_water_level(w, t[i][k]) > v[t[i][k]].elevation_m) level = mst_water_level(w, t[i][k]);
        const int n = 40;
        for (int a = 0; a < n && level > -1e9; a++)
            for (int b = 0; b < 2 * (n - a) - 1; b++) {
                double x = (b / 2 + (b & 1 ? 2 : 1) / 3.0) / n, y = (a + (b & 1 ? 2 : 1) / 3.0) / n;
                double z =
                    (1 - x - y) * v[t[i][0]].elevation_m + x * v[t[i][1]].elevation_m + y * v[t[i][2]].elevation_m;
                volume += fmax(level - z, 0) * d.cell * d.cell / 2 / (n * n);
            }
    }
    double sum = 0;
    for (size_t i = 0; i < spots; i++) {
        sum += s[i].volume_m3;
        assert_true(s[i].depth_m > 0 && s[i].area_m2 > 0 && s[i].volume_m3 <= s[i].depth_m * s[i].area_m2);
        if (i) assert_true(s[i].depth_m <= s[i - 1].depth_m);
    }
    if (spots) NEAR(s[0].depth_m, deepest, 1e-12);
    NEAR(sum, volume, 1e-3 * volume + 1e-9);
    mst_arena_free(arena);
}

static void ponds_of_the_volcano(void **state) {
    (void)state;
    check_grid(SHARED_DATA "/terrain-volcano-grid/volcano_10m.asc");
}
static void ponds_of_small_grids(void **state) {
    (void)state;
    check_grid(SHARED_DATA "/terrain-geotiff-small/multi_flat.asc");
    check_grid(SHARED_DATA "/terrain-geotiff-small/pit.asc"); /* it opens to the rim */
    check_grid(SHARED_DATA "/terrain-geotiff-small/garbrecht_valley.asc");
}

/* A pit of a square pyramid, 3 m deep below a level lawn with one low corner. */
static void a_pyramid_pit(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 10},  {20, 0, 10},  {20, 20, 10}, {0, 20, 9.7}, {6, 6, 10},
                            {14, 6, 10}, {14, 14, 10}, {6, 14, 10},  {10, 10, 7}};
    mst_water *w = water_of(ground_of_points(at, 9, arena), arena);
    size_t count;
    const mst_low_spot *s = mst_water_low_spots(w, &count);
    assert_int_equal(count, 1);
    NEAR(s[0].depth_m, 3, 1e-12);
    NEAR(s[0].area_m2, 64, 1e-12);
    NEAR(s[0].volume_m3, 64, 1e-12); /* a third of 8 x 8 x 3 */
    NEAR(s[0].bottom.easting_m, 10, 0);
    NEAR(s[0].spill_m, 10, 0);
    mst_arena_free(arena);
}

/* A valley that falls south between two slopes: every drop ends at its mouth, and the catchment is the whole. */
static void a_valley(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[6];
    const double at[][3] = {{0, 0, 5}, {10, 0, 2}, {20, 0, 5}, {0, 30, 8}, {10, 30, 5}, {20, 30, 8}};
    for (uint32_t i = 0; i < 6; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], i};
    const uint32_t bed[] = {4, 1};
    mst_ground_line line = {"bed", bed, 2, false};
    mst_ground *g =
        ground_of(&(mst_ground_input){.points = p, .point_count = 6, .breaklines = &line, .breakline_count = 1}, arena);
    mst_water *w = water_of(g, arena);
    mst_path path;
    mst_outfall *out;
    size_t count;
    IS_OK(mst_water_path(w, (mst_point){4, 20}, arena, &path, &error));
    /* its plane falls 3 in 10 east and 1 in 10 south: it meets the bed 2 m farther south */
    NEAR(path.vertices[path.count - 2].easting_m, 10, 1e-12);
    NEAR(path.vertices[path.count - 2].northing_m, 18, 1e-12);
    NEAR(path.vertices[path.count - 1].northing_m, 0, 0);
    NEAR(path.vertices[path.count - 1].elevation_m, 2, 0);
    IS_OK(mst_water_outfalls(w, 1, arena, &out, &count, NULL, &error));
    assert_true(count >= 1 && count <= 3); /* the triangles by the mouth may leave over the rim beside it */
    double sum = 0;
    for (size_t i = 0; i < count; i++) sum += out[i].catchment_m2;
    NEAR(sum, 600, 1e-9);
    NEAR(out[0].at.easting_m, 10, 1);
    assert_int_equal(mst_water_path(w, (mst_point){40, 20}, arena, &path, &error), MST_NO);
    mst_arena_free(arena);
}

/* On open ground: every drop ends on the rim, goes down all the way but through ponds, and no area is lost. */
static void drops_on_the_volcano(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    grid d;
    if (!read_grid(SHARED_DATA "/terrain-volcano-grid/volcano_10m.asc", &d, arena)) {
        mst_arena_free(arena);
        skip();
    }
    mst_ground *g = ground_of_grid(&d, arena);
    mst_water *w = water_of(g, arena);
    mst_ground_figures figures;
    mst_ground_describe(g, &figures);
    mst_outfall *out;
    size_t count;
    IS_OK(mst_water_outfalls(w, 15, arena, &out, &count, NULL, &error));
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += out[i].catchment_m2;
        double inside = fmin(fmin(out[i].at.easting_m, 860 - out[i].at.easting_m),
                             fmin(out[i].at.northing_m, 600 - out[i].at.northing_m));
        NEAR(inside, 0, 1e-9);
    }
    NEAR(sum, figures.plan_area_m2, 1e-6);
    size_t spots;
    const mst_low_spot *s = mst_water_low_spots(w, &spots);
    for (int i = 0; i < 300; i++) {
        mst_path path;
        IS_OK(mst_water_path(w, (mst_point){3.7 + (i * 37) % 850, 2.9 + (i * 53) % 590}, arena, &path, &error));
        double lowest = path.vertices[0].elevation_m, highest_spill = 0;
        for (size_t k = 0; k < spots; k++) highest_spill = fmax(highest_spill, s[k].spill_m);
        for (size_t k = 1; k < path.count; k++) {
            double z = path.vertices[k].elevation_m;
            assert_true(z <= lowest + 1e-9 || z <= highest_spill + 1e-9);
            lowest = fmin(lowest, z);
        }
    }
    mst_arena_free(arena);
}

/* A house on a slope stops what comes from above: nothing goes through, what comes against its upper wall is counted.
 */
static void a_house_is_a_wall(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[200];
    size_t n = 0, count, triangles;
    for (uint32_t i = 0; i < 11; i++)
        for (uint32_t k = 0; k < 11; k++)
            p[n] = (mst_ground_point){2 * i, 2 * k, 10 + 0.1 * (2 * k) + 0.01 * (2 * i), (uint32_t)n}, n++;
    mst_shape house = rectangle(7, 8, 13, 12, arena);
    mst_ground *g =
        ground_of(&(mst_ground_input){.points = p, .point_count = n, .holes = &house, .hole_count = 1}, arena);
    mst_water *w = water_of(g, arena);
    mst_path path;
    IS_OK(mst_water_path(w, (mst_point){10.1, 17}, arena, &path, &error));
    for (size_t i = 0; i < path.count; i++) {
        double e = path.vertices[i].easting_m, v = path.vertices[i].northing_m;
        assert_false(e > 7.001 && e < 12.999 && v > 8.001 && v < 11.999);
    }
    NEAR(path.vertices[path.count - 1].northing_m, 0, 1e-9);
    mst_ground_triangles(g, &triangles);
    double *wall = mst_arena_array(arena, 3 * triangles, sizeof *wall), sum = 0;
    mst_outfall *out;
    IS_OK(mst_water_outfalls(w, 1, arena, &out, &count, wall, &error));
    for (size_t i = 0; i < 3 * triangles; i++) sum += wall[i];
    assert_true(sum > 30 && sum < 70); /* the 6 m strip above it is 48 m2; triangles go as a whole */
    double all = 0;
    for (size_t i = 0; i < count; i++) all += out[i].catchment_m2;
    NEAR(all, 400 - 24, 1e-9);
    mst_arena_free(arena);
}

static void the_mean_fall_of_a_plane(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[64];
    for (uint32_t i = 0; i < 64; i++) {
        double e = 3 * (i % 8) + 0.7 * (i * 5 % 3), n = 2.2 * (i / 8) + 0.3 * (i * 7 % 4);
        p[i] = (mst_ground_point){e, n, 5 + 0.02 * e - 0.013 * n, i};
    }
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = 64}, arena);
    IS_OK(mst_ground_trust(g, NULL, arena, &error));
    mst_shape shape = rectangle(5, 4, 12, 9, arena);
    mst_fall fall;
    IS_OK(mst_ground_fall(g, &shape, arena, &fall, &error));
    NEAR(fall.slope_e, 0.02, 1e-12);
    NEAR(fall.slope_n, -0.013, 1e-12);
    NEAR(fall.covered_m2, 35, 1e-9);
    NEAR(fall.between[0], 0, 1e-12);
    /* terms: all levels up by one changes nothing; a tilt changes it by the tilt */
    double level = 0, tilt = 0, across = 0;
    for (size_t i = 0; i < fall.term_count; i++) {
        level += fall.e_terms[i].elevation;
        tilt += fall.e_terms[i].elevation * p[fall.e_terms[i].point].easting_m;
        across += fall.e_terms[i].elevation * p[fall.e_terms[i].point].northing_m;
    }
    NEAR(level, 0, 1e-12);
    NEAR(tilt, 1, 1e-12);
    NEAR(across, 0, 1e-12);
    g->roughness = (mst_roughness){.known = true, .kernel = {[2] = -1e-4}};
    IS_OK(mst_ground_fall(g, &shape, arena, &fall, &error));
    assert_true(fall.between[0] > 0 && fall.between[2] > 0 && fall.between[0] < 1e-4);
    mst_shape away = rectangle(500, 500, 510, 510, arena);
    assert_int_equal(mst_ground_fall(g, &away, arena, &fall, &error), MST_NO);
    mst_arena_free(arena);
}

static void a_terrace_let_in(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_error error = {0};
    mst_ground_point p[121];
    for (uint32_t i = 0; i < 121; i++)
        p[i] = (mst_ground_point){2 * (i % 11), 2 * (i / 11), 10 + 0.05 * (2 * (i / 11)), i};
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = 121}, arena), *done;
    mst_shape terrace = rectangle(5, 5, 11, 9, arena), beside = rectangle(11, 5, 15, 9, arena);
    IS_OK(mst_ground_inset(g, &terrace, &(mst_plane){5, 5, 10.2, 0, 0.02}, arena, &done, &error));
    mst_ground_level l;
    mst_ground_figures before, after;
    mst_ground_describe(g, &before);
    mst_ground_describe(done, &after);
    NEAR(after.plan_area_m2, before.plan_area_m2, 1e-9);
    assert_true(mst_ground_level_at(done, (mst_point){8, 8}, &l));
    NEAR(l.elevation_m, 10.26, 1e-9);
    assert_true(mst_ground_level_at(done, (mst_point){8, 9.5}, &l));
    NEAR(l.elevation_m, 10.475, 1e-9);
    IS_OK(mst_ground_inset(done, &beside, &(mst_plane){11, 5, 10.1, 0, 0}, arena, &done, &error));
    mst_ground_describe(done, &after);
    NEAR(after.plan_area_m2, before.plan_area_m2, 1e-9);
    assert_true(mst_ground_level_at(done, (mst_point){8, 8}, &l));
    NEAR(l.elevation_m, 10.26, 1e-9);
    assert_true(mst_ground_level_at(done, (mst_point){13, 6}, &l));
    NEAR(l.elevation_m, 10.1, 1e-9);
    /* half outside of the ground: the plane goes on, the step is only where there is ground */
    mst_shape over = rectangle(18, 18, 24, 24, arena);
    IS_OK(mst_ground_inset(g, &over, &(mst_plane){0, 0, 12, 0, 0}, arena, &done, &error));
    assert_true(mst_ground_level_at(done, (mst_point){23, 23}, &l));
    NEAR(l.elevation_m, 12, 1e-9);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pyramid_pit),
        cmocka_unit_test(ponds_of_the_volcano),
        cmocka_unit_test(ponds_of_small_grids),
        cmocka_unit_test(a_valley),
        cmocka_unit_test(drops_on_the_volcano),
        cmocka_unit_test(a_house_is_a_wall),
        cmocka_unit_test(the_mean_fall_of_a_plane),
        cmocka_unit_test(a_terrace_let_in),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
