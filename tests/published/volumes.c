/* Sources: named at each check; collected with their tolerances in the project's reference page 08. Surfaces of open
 * data: the SOURCE.md beside each set. Here the ground model answers; the pure formulas stand in tests/works. */
#include "ground/ground_test.h"
#include "merestone/works.h"

static const double YARD3 = 27;

static double cut_of(const double at[][3], size_t count, mst_shape shape, double level, mst_arena *arena) {
    return to_plane(ground_of_points(at, count, arena), shape, level_plane(level), 0, arena).cut_m3;
}

/* USDA NRCS Agriculture Handbook 590, excavated pond (from memory): 40 x 100 ft bottom, 12 ft deep, slopes 2:1; 3,612
 * yd3. The dug surface against the level ground: the formula is exact for it. */
static void an_excavated_pond(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{24, 24, -12}, {124, 24, -12}, {124, 64, -12}, {24, 64, -12},
                            {0, 0, 0},     {148, 0, 0},    {148, 88, 0},   {0, 88, 0}};
    mst_ground_point p[8];
    for (uint32_t i = 0; i < 8; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], i};
    const uint32_t bottom[] = {0, 1, 2, 3}, edges[4][2] = {{0, 4}, {1, 5}, {2, 6}, {3, 7}};
    mst_ground_line lines[] = {{"bottom", bottom, 4, true},
                               {"a", edges[0], 2, false},
                               {"b", edges[1], 2, false},
                               {"c", edges[2], 2, false},
                               {"d", edges[3], 2, false}};
    mst_ground *g =
        ground_of(&(mst_ground_input){.points = p, .point_count = 8, .breaklines = lines, .breakline_count = 5}, arena);
    mst_shape outline = rectangle(0, 0, 148, 88, arena);
    mst_prism_sum sum = to_plane(g, outline, level_plane(0), 0, arena);
    NEAR(sum.area_m2, 13024, 0.5);
    NEAR(sum.fill_m3 / YARD3, 3612, 0.5);
    NEAR(sum.fill_m3, 97536, 97536e-12);
    assert_true(sum.cut_m3 == 0);
    mst_shape floor_of = rectangle(24, 24, 124, 64, arena);
    NEAR(to_plane(g, floor_of, level_plane(0), 0, arena).area_m2, 4000, 4000e-12);
    mst_arena_free(arena);
}

/* G. L. Vose, Handbook of Railroad Construction (1857), comparison of methods (read): 20 ft base, slopes 1.5:1, cuts 0
 * 5 10 15 0 at every 50 ft. The ground's prisms are the true solid, 52,500 ft3; end areas make it 56,250. */
static void a_railway_cutting(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double cut[] = {0, 5, 10, 15, 0};
    /* the solid: cut by level ground on top (slopes run out to it), from the formation below; ground minus dug surface
     */
    double at[20][3];
    mst_ground_point p[20];
    for (int i = 0; i < 5; i++) {
        double half = 10 + 1.5 * cut[i];
        const double rows[4][2] = {{-half, cut[i]}, {-10, 0}, {10, 0}, {half, cut[i]}};
        for (int k = 0; k < 4; k++)
            at[4 * i + k][0] = 50.0 * i, at[4 * i + k][1] = rows[k][0], at[4 * i + k][2] = rows[k][1] - cut[i];
    }
    for (uint32_t i = 0; i < 20; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], i};
    uint32_t along[4][5];
    mst_ground_line lines[4];
    for (uint32_t k = 0; k < 4; k++) {
        for (uint32_t i = 0; i < 5; i++) along[k][i] = 4 * i + k;
        lines[k] = (mst_ground_line){"line", along[k], 5, false};
    }
    mst_ground *g = ground_of(
        &(mst_ground_input){.points = p, .point_count = 20, .breaklines = lines, .breakline_count = 4, .merge_m = 1e-6},
        arena);
    mst_shape all = rectangle(0, -40, 200, 40, arena);
    NEAR(to_plane(g, all, level_plane(0), 0, arena).fill_m3, 52500, 52500e-12);
    mst_arena_free(arena);
}

/* A textbook grid exercise on a public page (read): cells of 15 x 12 m, formation 50.00. The net is that of the four
 * corners; each cell's mean cut less mean fill. A Delaunay diagonal moves it within its two choices. */
static void spot_levels_on_a_grid(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double levels[3][3] = {{45.2, 48.5, 55.6}, {47.3, 51.2, 56.6}, {50.0, 53.2, 58.5}};
    double at[9][3], diagonal = 0;
    for (int r = 0; r < 3; r++)
        for (int c = 0; c < 3; c++)
            at[3 * r + c][0] = 15 * c, at[3 * r + c][1] = -12 * r, at[3 * r + c][2] = levels[r][c];
    for (int r = 0; r < 2; r++)
        for (int c = 0; c < 2; c++)
            diagonal += fabs(levels[r][c] + levels[r + 1][c + 1] - levels[r][c + 1] - levels[r + 1][c]) * 15 * 12 / 12;
    mst_prism_sum sum = to_plane(ground_of_points((const double(*)[3])at, 9, arena), rectangle(0, -24, 30, 0, arena),
                                 level_plane(50), 0, arena);
    NEAR(sum.cut_m3 - sum.fill_m3, 1138.5, 2 * diagonal + 0.05);
    assert_true(sum.cut_m3 < 1732.5 && sum.fill_m3 < 594); /* the corner rule overstates both in mixed cells */
    mst_arena_free(arena);
}

/* A public civil-engineering exercise page (read): a 50 ft square at 87.6 87.6 87.6 88.6 brought up to 90; 199 yd3. */
static void a_square_brought_up(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double at[][3] = {{0, 0, 87.6}, {50, 0, 87.6}, {50, 50, 87.6}, {0, 50, 88.6}};
    double fill =
        to_plane(ground_of_points(at, 4, arena), rectangle(0, 0, 50, 50, arena), level_plane(90), 0, arena).fill_m3;
    NEAR(fill / YARD3, 199.07, 1.0 * 2500 / 12 / YARD3 + 0.01); /* the diagonal may go either way */
    mst_arena_free(arena);
}

/* Solid geometry, no source. */
static void prisms_and_pyramids(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double triangle[][3] = {{0, 0, 1}, {4, 0, 2}, {0, 3, 6}};
    NEAR(cut_of(triangle, 3, rectangle(-1, -1, 5, 5, arena), 0, arena), 18, 1e-12);
    const double mixed[][3] = {{0, 0, 1}, {4, 0, -1}, {0, 3, -1}};
    mst_prism_sum sum =
        to_plane(ground_of_points(mixed, 3, arena), rectangle(-1, -1, 5, 5, arena), level_plane(0), 0, arena);
    NEAR(sum.cut_m3, 0.5, 1e-12);
    NEAR(sum.fill_m3, 2.5, 1e-12);
    NEAR(sum.uncovered_m2, 30, 1e-12);
    const double pyramid[][3] = {{0, 0, 0}, {6, 0, 0}, {6, 6, 0}, {0, 6, 0}, {3, 3, 9}};
    NEAR(cut_of(pyramid, 5, rectangle(0, 0, 6, 6, arena), 0, arena), 108, 108e-12);
    double plane[66][3];
    for (int i = 0; i < 66; i++) {
        double e = 5.0 * (i % 11), n = 4.0 * (i / 11);
        plane[i][0] = e, plane[i][1] = n, plane[i][2] = 10 + 0.02 * e - 0.01 * n;
    }
    mst_ground *g = ground_of_points((const double(*)[3])plane, 66, arena);
    mst_shape area = rectangle(0, 0, 50, 20, arena);
    NEAR(to_plane(g, area, level_plane(9), 0, arena).cut_m3, 1400, 1400e-12);
    double slope, covered;
    mst_error error = {0};
    IS_OK(mst_ground_slope_area(g, &area, arena, &slope, &covered, &error));
    NEAR(slope, 1000.249969, 1e-6);
    NEAR(slope, 1000 * sqrt(1 + 0.0004 + 0.0001), 1e-9);
    NEAR(covered, 1000, 1e-9);
    mst_arena_free(arena);
}

/* Two-level section by the formulas of a public earthwork page (constructed): 50.52083333 m2 over a unit length. */
static void sidelong_ground(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double lower = 10 * (5 + 2 * 3) / 12.0, upper = 10 * (5 + 2 * 3) / 8.0;
    double at[8][3];
    for (int i = 0; i < 2; i++) { /* the dug section: formation at 0, batters 2:1 up to ground 3 + n/10 */
        const double row[4][2] = {{-lower, 3 - lower / 10}, {-5, 0}, {5, 0}, {upper, 3 + upper / 10}};
        for (int k = 0; k < 4; k++)
            at[4 * i + k][0] = 100.0 * i, at[4 * i + k][1] = row[k][0], at[4 * i + k][2] = row[k][1];
    }
    mst_ground *dug = ground_of_points((const double(*)[3])at, 8, arena);
    mst_plane ground = {0, 0, 3, 0, 0.1};
    mst_prism_sum sum = to_plane(dug, rectangle(0, -20, 100, 20, arena), ground, 0, arena);
    NEAR(lower, 9.166667, 1e-6);
    NEAR(sum.fill_m3 / 100, 50.52083333, 1e-8);
    NEAR(sum.cut_m3, 0, 1e-9);
    mst_arena_free(arena);
}

/* Open data, public repository OSGeoLabBp/tutorials, CC0: 32 spot levels; figures computed there with general
 * libraries. */
static void thirty_two_spot_levels(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    size_t count = 0;
    mst_ground_point *p = points_from(SHARED_DATA "/points-small/spot_levels_32.csv", 0, 1, 2, 1, &count, arena);
    if (!p) {
        mst_arena_free(arena); /* skip() does not come back */
        skip();
    }
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = count}, arena);
    mst_ground_figures f;
    mst_ground_describe(g, &f);
    assert_int_equal(f.points, 32);
    assert_int_equal(f.triangles, 52);
    NEAR(f.plan_area_m2, 14226.068, 0.0005);
    NEAR(f.slope_area_m2, 14970.793, 0.0005);
    NEAR(f.lowest_m, 100.597, 0);
    NEAR(f.highest_m, 109.988, 0);
    mst_prism_sum sum = to_plane(g, rectangle(649000, 239000, 651000, 241000, arena), level_plane(100), 0, arena);
    NEAR(sum.cut_m3, 64566.202, 0.0005);
    assert_true(sum.fill_m3 == 0);
    mst_arena_free(arena);
}

/* Maunga Whau (the `volcano` set of R), 10 m grid: between the figures of the two diagonals, as its SOURCE.md says. */
static void a_volcano(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    size_t count = 0;
    mst_ground_point *p =
        points_from(SHARED_DATA "/terrain-volcano-grid/volcano_points_pnezd.csv", 2, 1, 3, 1, &count, arena);
    if (!p) {
        mst_arena_free(arena); /* skip() does not come back */
        skip();
    }
    assert_int_equal(count, 5307);
    mst_ground *g = ground_of(&(mst_ground_input){.points = p, .point_count = count}, arena);
    mst_ground_figures f;
    mst_ground_describe(g, &f);
    NEAR(f.plan_area_m2, 516000, 1e-6);
    assert_true(f.slope_area_m2 > 544400 && f.slope_area_m2 < 544700);
    const double planes[][3] = {{94, 19049000, 0},
                                {120, 8509184.473, 2876134.473},
                                {130, 5899203.974, 5426153.974},
                                {150, 2255002.147, 12101952.147}};
    for (int i = 0; i < 4; i++) {
        mst_prism_sum sum = to_plane(g, rectangle(-10, -10, 900, 900, arena), level_plane(planes[i][0]), 0, arena);
        NEAR(sum.cut_m3, planes[i][1], 2000);
        NEAR(sum.fill_m3, planes[i][2], 2000);
        NEAR(sum.cut_m3 - sum.fill_m3, 19049000 - 516000 * (planes[i][0] - 94), 600);
        NEAR(sum.area_m2, 516000, 1e-6);
    }
    mst_arena_free(arena);
}

/* The same earth track in 2010 and 2023, public repository PDAL/PDAL, BSD: 475.56 m3 fill and 48.41 m3 cut over 1,002.8
 * m2 by interpolation on a 0.1 m grid; levels come in US survey feet. */
static void an_earth_track_then_and_now(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    size_t before_count = 0, after_count = 0;
    mst_ground_point *b = points_from(SHARED_DATA "/pointcloud-two-epochs/bmx_2010_ground_pnezd.csv", 2, 1, 3,
                                      MST_FOOT_US_M, &before_count, arena);
    mst_ground_point *a = points_from(SHARED_DATA "/pointcloud-two-epochs/bmx_2023_ground_pnezd.csv", 2, 1, 3,
                                      MST_FOOT_US_M, &after_count, arena);
    if (!a || !b) {
        mst_arena_free(arena); /* skip() does not come back */
        skip();
    }
    mst_ground *before = ground_of(&(mst_ground_input){.points = b, .point_count = before_count}, arena);
    mst_ground *after = ground_of(&(mst_ground_input){.points = a, .point_count = after_count}, arena);
    mst_ground_figures f;
    mst_ground_describe(before, &f);
    NEAR(f.plan_area_m2, 1012.58, 3);
    mst_error error = {0};
    mst_prism_sum sum;
    IS_OK(mst_ground_to_ground(before, after, NULL, arena, &sum, NULL, &error));
    NEAR(sum.fill_m3, 475.56, 1.0);
    NEAR(sum.cut_m3, 48.41, 0.5);
    NEAR(sum.area_m2, 1002.8, 3);
    mst_arena_free(arena);
}

/* The hand methods on the same examples. */
static void by_hand(void **state) {
    (void)state;
    /* Agriculture Handbook 590 (from memory) */
    double a = 88 * 148, b = 64 * 124, c = 40 * 100;
    NEAR(a, 13024, 0.5);
    NEAR(4 * b, 31744, 0.5);
    NEAR(mst_volume_prismoidal(a, b, c, 12) / YARD3, 3612, 0.5);
    /* Wolf and Ghilani, Elementary Surveying, ch. 26, first example (from memory) */
    NEAR(mst_volume_end_areas(711, 515, 100) / YARD3, 2270, 1);
    /* a textbook reservoir exercise on a public page (read); frustum and prismoidal sums recomputed only */
    const double area[] = {1800, 7650, 25360, 57870, 85420, 123570, 172350},
                 layer[] = {9450, 33010, 83230, 143290, 208990, 295920};
    double ends = 0, frustum = 0, simpson = 0;
    for (int i = 0; i < 6; i++) {
        NEAR(mst_volume_end_areas(area[i], area[i + 1], 2), layer[i], 0.5);
        ends += mst_volume_end_areas(area[i], area[i + 1], 2);
        frustum += mst_volume_frustum(area[i], area[i + 1], 2);
    }
    for (int i = 0; i < 6; i += 2) simpson += mst_volume_prismoidal(area[i], area[i + 1], area[i + 2], 4);
    NEAR(ends, 773890, 0.5);
    NEAR(frustum, 765881.2, 1);
    NEAR(simpson, 768046.7, 1);
    /* G. L. Vose (1857) (read) */
    const double cut[] = {0, 5, 10, 15, 0};
    double strip = 0, prismoid = 0;
    for (int i = 0; i < 4; i++) {
        double x = cut[i], y = cut[i + 1], m = (x + y) / 2;
        strip += mst_volume_end_areas(20 * x + 1.5 * x * x, 20 * y + 1.5 * y * y, 50);
        prismoid += mst_volume_prismoidal(20 * x + 1.5 * x * x, 20 * m + 1.5 * m * m, 20 * y + 1.5 * y * y, 50);
    }
    NEAR(strip, 56200, 60);
    NEAR(strip, 56250, 0.5);
    NEAR(prismoid, 52500, 0.5);
    NEAR(mst_volume_end_areas(36, 0, 9) / 108, 1.5, 1e-9); /* a pyramid by end areas */
    /* a textbook grid exercise (read) */
    const double depth[] = {45.2 - 50, 48.5 - 50, 55.6 - 50, 47.3 - 50, 51.2 - 50, 56.6 - 50, 0, 53.2 - 50, 58.5 - 50};
    double cuts[9], fills[9];
    for (int i = 0; i < 9; i++) cuts[i] = fmax(depth[i], 0), fills[i] = fmax(-depth[i], 0);
    NEAR(mst_volume_grid(depth, 3, 3, 180), 1138.5, 0.05);
    NEAR(mst_volume_grid(cuts, 3, 3, 180), 1732.5, 0.05);
    NEAR(mst_volume_grid(fills, 3, 3, 180), 594, 0.05);
    NEAR(mst_volume_grid((double[]){cuts[0], cuts[1], cuts[3], cuts[4]}, 2, 2, 180), 54, 0.05);
    NEAR(mst_volume_grid((double[]){cuts[1], cuts[2], cuts[4], cuts[5]}, 2, 2, 180), 603, 0.05);
    NEAR(mst_volume_grid((double[]){cuts[3], cuts[4], cuts[6], cuts[7]}, 2, 2, 180), 198, 0.05);
    NEAR(mst_volume_grid((double[]){fills[0], fills[1], fills[3], fills[4]}, 2, 2, 180), 405, 0.05);
    NEAR(mst_volume_grid((double[]){90 - 87.6, 90 - 87.6, 90 - 87.6, 90 - 88.6}, 2, 2, 2500) / YARD3, 199, 0.5);
    NEAR(mst_volume_grid((double[]){1, NAN, 1, 1, 1, 1}, 2, 3, 4), 0, 0); /* cells without a corner stay out */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_excavated_pond),           cmocka_unit_test(a_railway_cutting),
        cmocka_unit_test(spot_levels_on_a_grid),       cmocka_unit_test(a_square_brought_up),
        cmocka_unit_test(prisms_and_pyramids),         cmocka_unit_test(sidelong_ground),
        cmocka_unit_test(thirty_two_spot_levels),      cmocka_unit_test(a_volcano),
        cmocka_unit_test(an_earth_track_then_and_now), cmocka_unit_test(by_hand)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
