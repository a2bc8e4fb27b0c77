/* Grids of levels. Sources: the open files of the shared data folder, with the figures of their SOURCE.md (volcano:
 * 5,307 posts, sum 690,907; elev.tif: 4,608 valid cells, 141 to 547 m, mean 348.3366, in degrees; meuse.tif: cells of
 * 40 m). */
#include "exchange/cloud_test.h"

/* ---- ASCII ---- */

static void the_volcano_agrees_with_its_points(void **state) {
    (void)state;
    mst_cloud_file *grid, *text;
    size_t a, b, found = 0;
    assert_int_equal(mst_cloud_open(data_file("terrain-volcano-grid/volcano_10m.asc"), NULL, &grid, NULL), MST_OK);
    assert_int_equal(mst_cloud_open(data_file("terrain-volcano-grid/volcano_points_pnezd.csv"), NULL, &text, NULL),
                     MST_OK);
    assert_int_equal(mst_cloud_file_facts(grid)->points, 5307);
    mst_cloud_point *p = all_points(grid, 1, 1, &a), *q = all_points(text, 1, 1, &b);
    assert_int_equal(a, 5307);
    assert_int_equal(b, 5307);
    double sum = 0, level[87][61];
    for (size_t i = 0; i < b; i++) level[(int)q[i].easting_m / 10][(int)q[i].northing_m / 10] = q[i].elevation_m;
    for (size_t i = 0; i < a; i++) {
        sum += p[i].elevation_m;
        found += level[(int)p[i].easting_m / 10][(int)p[i].northing_m / 10] == p[i].elevation_m;
    }
    assert_true(sum == 690907);
    assert_int_equal(found, 5307);
    free(p), free(q);
    mst_cloud_close(grid), mst_cloud_close(text);
}

static void corners_and_middles_are_told_apart(void **state) {
    (void)state;
    const char *const heads[2] = {"NCOLS 2\nNROWS 2\nXLLCORNER 100\nYLLCORNER 200\nCELLSIZE 4\nNODATA_VALUE -1\n",
                                  "ncols 2 nrows 2 xllcenter 102 yllcenter 202 cellsize 4 nodata_value -1 "};
    for (int i = 0; i < 2; i++) {
        char all[200];
        snprintf(all, sizeof all, "%s1 2\n-1 4.5e0\n", heads[i]);
        const char *path = write_file("grid.asc", all, strlen(all));
        mst_cloud_file *file;
        size_t count;
        assert_int_equal(mst_cloud_open(path, NULL, &file, NULL), MST_OK);
        mst_cloud_point *p = all_points(file, 1, 1, &count);
        assert_int_equal(count, 3);                                                            /* one has no level */
        assert_true(p[0].easting_m == 102 && p[0].northing_m == 206 && p[0].elevation_m == 1); /* north row first */
        assert_true(p[2].easting_m == 106 && p[2].northing_m == 202 && p[2].elevation_m == 4.5);
        free(p);
        mst_cloud_close(file);
        unlink(path);
    }
}

static void grids_that_lie_are_refused(void **state) {
    (void)state;
    const struct {
        const char *text, *says;
    } lies[] = {
        {"ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3\n", "ends in row 2 of 2"},
        {"ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 3 4 5\n", "more levels"},
        {"ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2 x3 4\n", "row 2, column 1"},
        {"ncols 999999\nnrows 999999\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n", "more than the file can hold"},
        {"ncols 1e30\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n", "whole numbers"},
        {"ncols -2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n", "whole numbers"},
        {"ncols 2\nnrows 1\nxllcorner 0\nyllcorner 0\ncellsize 0\n1 2\n", "cellsize over zero"},
        {"ncols 2\nnrows 1\nxllcorner 0\nyllcorner 0\n1 2\n", "cellsize over zero"},
        {"ncols 2\nnrows 1\ncellsize 1\n1 2\n", "south-west cell once"},
        {"ncols 2\nnrows 1\nxllcorner 0\nyllcenter 0\ncellsize 1\n1 2\n", "south-west cell once"},
        {"ncols 2\nncols 1\n", "twice"},
        {"ncols two\n", "not a number"},
        {"ncols 2\nwhat 7\n", "not known: 'what"},
        {"ncols 2\n", "ends within its header"}};
    for (size_t i = 0; i < sizeof lies / sizeof *lies; i++) {
        size_t count;
        mst_error error = {0};
        mst_status status = read_text_through(lies[i].text, NULL, &count, &error);
        if (status != MST_INVALID || !strstr(error.sentence, lies[i].says))
            fail_msg("%zu: %d '%s'", i, (int)status, error.sentence);
    }
}

static void a_grid_without_a_stated_unit_asks_for_it(void **state) {
    (void)state;
    const char *path = data_file("terrain-volcano-grid/volcano_10m.asc");
    mst_arena *arena = mst_arena_new();
    mst_cloud_report report;
    mst_cloud_import import = {.tolerance_m = 0.5};
    mst_error error = {0};
    assert_int_equal(mst_cloud_to_points(path, &import, arena, &report, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "unit of length"));
    import.plan_m = 1;
    assert_int_equal(mst_cloud_to_points(path, &import, arena, &report, &error), MST_OK);
    assert_true(report.thinned.fit.count == 5307 && report.thinned.fit.beyond == 0 &&
                report.thinned.fit.largest_m <= 0.5 + 1e-6);
    assert_true(report.thinned.count < 5307);
    import.classes[0] = 4;
    assert_int_equal(mst_cloud_to_points(path, &import, arena, &report, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "Classes"));
    mst_arena_free(arena);
}

/* ---- GeoTIFF ---- */

static void a_geotiff_in_degrees_is_read_but_not_used(void **state) {
    (void)state;
    const char *path = data_file("terrain-geotiff-small/elev.tif");
    mst_cloud_file *file;
    size_t count;
    assert_int_equal(mst_cloud_open(path, NULL, &file, NULL), MST_OK);
    assert_true(mst_cloud_file_facts(file)->degrees);
    mst_cloud_point *p = all_points(file, 1, 1, &count);
    double sum = 0, least = INFINITY, greatest = -INFINITY;
    for (size_t i = 0; i < count; i++)
        sum += p[i].elevation_m, least = fmin(least, p[i].elevation_m), greatest = fmax(greatest, p[i].elevation_m);
    assert_int_equal(count, 4608);
    assert_true(least == 141 && greatest == 547 && fabs(sum / 4608 - 348.3366) < 5e-5);
    free(p);
    mst_cloud_close(file);
    mst_arena *arena = mst_arena_new();
    mst_cloud_report report;
    mst_error error = {0};
    assert_int_equal(
        mst_cloud_to_points(path, &(mst_cloud_import){.tolerance_m = 1, .plan_m = 1}, arena, &report, &error),
        MST_INVALID);
    assert_non_null(strstr(error.sentence, "degrees"));
    mst_arena_free(arena);
}

static void a_geotiff_in_metres_has_its_cells(void **state) {
    (void)state;
    mst_cloud_file *file;
    size_t count;
    assert_int_equal(mst_cloud_open(data_file("terrain-geotiff-small/meuse.tif"), NULL, &file, NULL), MST_OK);
    assert_true(mst_cloud_file_facts(file)->plan_m == 1 && !mst_cloud_file_facts(file)->degrees);
    assert_int_equal(mst_cloud_file_facts(file)->points, 80 * 115);
    mst_cloud_point *p = all_points(file, 1, 1, &count);
    for (size_t i = 1; i < count; i++)
        assert_true(fmod(fabs(p[i].easting_m - p[0].easting_m), 40) == 0 &&
                    fmod(fabs(p[i].northing_m - p[0].northing_m), 40) == 0);
    free(p);
    mst_cloud_close(file);
}

static void damaged_geotiffs_give_a_sentence(void **state) {
    (void)state;
    size_t size, count;
    unsigned char *data = read_file(data_file("terrain-geotiff-small/meuse.tif"), &size);
    uint32_t random = 99;
    int refused = 0;
    for (int round = 0; round < 1500; round++) {
        mst_error error = {0};
        random = random * 1664525u + 1013904223u;
        size_t at = (random >> 8) % size, cut = round % 5 == 0 ? at : size;
        unsigned char was = data[at];
        data[at] = (unsigned char)(round % 2 ? 0xFF : random >> 24);
        const char *path = write_file("made.tif", data, cut);
        if (read_through(path, NULL, &count, &error)) {
            refused++;
            assert_true(strlen(error.sentence) > 10);
        }
        unlink(path);
        data[at] = was;
    }
    assert_true(refused > 300);
    free(data);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_volcano_agrees_with_its_points),
                                       cmocka_unit_test(corners_and_middles_are_told_apart),
                                       cmocka_unit_test(grids_that_lie_are_refused),
                                       cmocka_unit_test(a_grid_without_a_stated_unit_asks_for_it),
                                       cmocka_unit_test(a_geotiff_in_degrees_is_read_but_not_used),
                                       cmocka_unit_test(a_geotiff_in_metres_has_its_cells),
                                       cmocka_unit_test(damaged_geotiffs_give_a_sentence)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
