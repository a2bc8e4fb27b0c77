/* The published layers. Sources: OGC 12-128 GeoPackage 1.3 (blob header, core tables) and ISO WKB; the point blob is
 * the hand-made T14-G of the references, the rest is read back field by field with a reader of its own. With the words
 * `write FILE` (then `again FILE`) it makes the sample that tests/site/layers_read_by_others.sh shows to independent
 * programs. */
#include "site/file_helper.h"
#include "site/geopackage.h"
#include <math.h>
#include <time.h>

/* ---- a sample with one of everything ---- */

/* A bed 10 wide with a half-round end: (0,0) (10,0), arc to (10,20) through (20,10), (0,20). Plan area 200 + 50 pi. */
static const double BED[4][4] = {{0, 0, 1, 0}, {10, 0, 1, 1}, {10, 20, 2, 0}, {0, 20, 2, 0}};
/* A pond: a full circle of radius 2 about (5,10), as two half circles, and a square hole beside it, no levels. */
static const double LAWN[11][4] = {{-50, -50, NAN, 0}, {60, -50, NAN, 0}, {60, 70, NAN, 0},   {-50, 70, NAN, 0},
                                   {3, 10, NAN, -1},   {7, 10, NAN, -1},  {-10, -10, NAN, 0}, {-10, -6, NAN, 0},
                                   {-6, -6, NAN, 0},   {-6, -10, NAN, 0}, {0, 0, 0, 0}};
static const double EDGE[3][4] = {{0, 0, 1, 0}, {5, 0, 1, -0.41421356237309503}, {10, 5, 1, 0}};
static const double TREES[2][4] = {{100, 200, 3, 0}, {110, 210, NAN, 0}};
static const double CONTOUR[4][2] = {{0, 0}, {30, 0}, {30, -40}, {0, -40}};
static const double TRIANGLES[2][3][3] = {{{0, 0, 1}, {10, 0, 2}, {0, 10, 3}}, {{10, 0, 2}, {10, 10, 4}, {0, 10, 3}}};
static const mst_published_point POINTS[3] = {{"P1", "TREE", 1000.5, 2000.25, 3.125, 0.004, 0.006},
                                              {"P2", "", 1010.5, 1990.25, NAN, 0.004, NAN},
                                              {"P3", "KERB", 990, 2010, -1, NAN, NAN}};

static mst_published sample(void) {
    static const size_t four[] = {4}, three[] = {3}, two[] = {2}, lawn[] = {4, 2, 4};
    static const mst_published_path paths[] = {
        {"bed", "BED", "area", BED, four, 1, true, 40 + 31.41592653589793, 200 + 157.07963267948966},
        {"edge", "KERB", "line", EDGE, three, 1, false, 12.853981633974483, NAN},
        {"round", "FENCE", "line", BED, four, 1, true, 71.41592653589793, NAN},
        {"lawn", "LAWN", "area", LAWN, lawn, 3, true, 460, 13200 - 12.566370614359172 - 16},
        {"trees", "TREE", "spot", TREES, two, 1, false, NAN, NAN}};
    static const mst_published_contour contours[] = {{1.5, true, CONTOUR, 4}, {2, false, CONTOUR, 3}};
    return (mst_published){POINTS, 3, paths, 5, contours, 2, TRIANGLES, 2};
}

/* ---- reading blobs back ---- */

typedef struct reader {
    const unsigned char *at, *end;
} reader;
static uint32_t take_u32(reader *r) {
    assert_true(r->end - r->at >= 4);
    uint32_t v = r->at[0] | (uint32_t)r->at[1] << 8 | (uint32_t)r->at[2] << 16 | (uint32_t)r->at[3] << 24;
    r->at += 4;
    return v;
}
static double take_double(reader *r) {
    uint64_t low = take_u32(r), bits = low | (uint64_t)take_u32(r) << 32;
    double v;
    memcpy(&v, &bits, 8);
    return v;
}
static uint32_t take_kind(reader *r) {
    assert_true(r->at < r->end && *r->at == 1);
    r->at++;
    return take_u32(r);
}
static void is_point(reader *r, double e, double n) {
    assert_true(take_double(r) == e);
    assert_true(take_double(r) == n);
}
static void is_point_3d(reader *r, double e, double n, double z) {
    is_point(r, e, n);
    assert_true(take_double(r) == z);
}
static reader body(const mst_text *blob, int32_t srs, bool with_box) {
    reader r = {(const unsigned char *)blob->data, (const unsigned char *)blob->data + blob->length};
    assert_memory_equal(r.at, "GP\0", 3);
    assert_int_equal(r.at[3], with_box ? 3 : 1);
    r.at += 4;
    assert_int_equal((int32_t)take_u32(&r), srs);
    return r;
}
static void is_box(reader *r, double min_e, double max_e, double min_n, double max_n) {
    assert_true(fabs(take_double(r) - min_e) < 1e-12);
    assert_true(fabs(take_double(r) - max_e) < 1e-12);
    assert_true(fabs(take_double(r) - min_n) < 1e-12);
    assert_true(fabs(take_double(r) - max_n) < 1e-12);
}

/* T14-G: POINT 400000.5 5800000.25, srs 32631, little-endian, no box: 29 bytes. */
static void the_point_blob_of_the_references(void **state) {
    (void)state;
    mst_text blob = {0};
    char hex[80] = "";
    mst_blob_point(&blob, 32631, 400000.5, 5800000.25, NAN);
    assert_int_equal(blob.length, 29);
    for (size_t i = 0; i < blob.length; i++) snprintf(hex + 2 * i, 3, "%02X", (unsigned char)blob.data[i]);
    assert_string_equal(hex, "47500001777F0000010100000000000000026A18410000001010205641");
    mst_text_free(&blob);
}

static void a_point_with_a_level(void **state) {
    (void)state;
    mst_text blob = {0};
    mst_blob_point(&blob, -1, 1.5, -2.5, 3.25);
    reader r = body(&blob, -1, false);
    assert_int_equal(take_kind(&r), 1001);
    is_point_3d(&r, 1.5, -2.5, 3.25);
    assert_ptr_equal(r.at, r.end);
    mst_text_free(&blob);
}

static void an_outline_keeps_its_arc(void **state) {
    (void)state;
    mst_text blob = {0};
    mst_extent extent = {0};
    mst_ring ring = {BED, 4, true};
    mst_blob_area(&blob, -1, &ring, 1, &extent);
    reader r = body(&blob, -1, true);
    is_box(&r, 0, 20, 0, 20); /* the crown of the half circle at (20,10) counts */
    assert_int_equal(take_kind(&r), 1010);
    assert_int_equal(take_u32(&r), 1);
    assert_int_equal(take_kind(&r), 1009);
    assert_int_equal(take_u32(&r), 3);
    assert_int_equal(take_kind(&r), 1002);
    assert_int_equal(take_u32(&r), 2);
    is_point_3d(&r, 0, 0, 1);
    is_point_3d(&r, 10, 0, 1);
    assert_int_equal(take_kind(&r), 1008);
    assert_int_equal(take_u32(&r), 3);
    is_point_3d(&r, 10, 0, 1);
    is_point_3d(&r, 20, 10, 1.5);
    is_point_3d(&r, 10, 20, 2);
    assert_int_equal(take_kind(&r), 1002);
    assert_int_equal(take_u32(&r), 3);
    is_point_3d(&r, 10, 20, 2);
    is_point_3d(&r, 0, 20, 2);
    is_point_3d(&r, 0, 0, 1); /* closed explicitly */
    assert_ptr_equal(r.at, r.end);
    assert_true(extent.any && extent.max_e == 20);
    mst_text_free(&blob);
}

static void rings_without_levels_are_plane(void **state) {
    (void)state;
    mst_text blob = {0};
    mst_extent extent = {0};
    const mst_ring rings[] = {{LAWN, 4, true}, {LAWN + 4, 2, true}, {LAWN + 6, 4, true}};
    mst_blob_area(&blob, -1, rings, 3, &extent);
    reader r = body(&blob, -1, true);
    is_box(&r, -50, 60, -50, 70);
    assert_int_equal(take_kind(&r), 10);
    assert_int_equal(take_u32(&r), 3);
    assert_int_equal(take_kind(&r), 2);
    assert_int_equal(take_u32(&r), 5);
    for (int i = 0; i < 5; i++) is_point(&r, LAWN[i % 4][0], LAWN[i % 4][1]);
    assert_int_equal(take_kind(&r), 9);
    assert_int_equal(take_u32(&r), 2);
    assert_int_equal(take_kind(&r), 8);
    assert_int_equal(take_u32(&r), 3);
    is_point(&r, 3, 10);
    is_point(&r, 5, 12); /* clockwise: over the north */
    is_point(&r, 7, 10);
    assert_int_equal(take_kind(&r), 8);
    assert_int_equal(take_u32(&r), 3);
    is_point(&r, 7, 10);
    is_point(&r, 5, 8);
    is_point(&r, 3, 10);
    mst_text_free(&blob);
}

static void a_line_is_a_compound_curve_even_when_straight(void **state) {
    (void)state;
    mst_text blob = {0};
    mst_extent extent = {0};
    const double straight[2][4] = {{0, 0, 1, 0}, {3, 4, NAN, 5}}; /* the last bulge leads nowhere */
    mst_blob_curve(&blob, -1, &(mst_ring){straight, 2, false}, &extent);
    reader r = body(&blob, -1, true);
    is_box(&r, 0, 3, 0, 4);
    assert_int_equal(take_kind(&r), 9); /* one level missing: a line in plan */
    assert_int_equal(take_u32(&r), 1);
    assert_int_equal(take_kind(&r), 2);
    assert_int_equal(take_u32(&r), 2);
    is_point(&r, 0, 0);
    is_point(&r, 3, 4);
    assert_ptr_equal(r.at, r.end);
    mst_text_free(&blob);
}

/* The box of an arc against many points of the arc itself. */
static void the_box_of_an_arc_is_that_of_its_points(void **state) {
    (void)state;
    for (int k = 0; k < 200; k++) {
        double start = k * 0.37, sweep = (k % 2 ? 1 : -1) * (0.05 + 6.1 * (k % 17) / 17), radius = 1 + k % 5;
        mst_extent want = {0}, got = {0};
        for (int i = 0; i <= 20000; i++) {
            double a = start + sweep * i / 20000;
            mst_extent_add(&want, 7 + radius * cos(a), -3 + radius * sin(a));
        }
        const double ends[2][4] = {{7 + radius * cos(start), -3 + radius * sin(start), 0, tan(sweep / 4)},
                                   {7 + radius * cos(start + sweep), -3 + radius * sin(start + sweep), 0, 0}};
        mst_text blob = {0};
        mst_blob_curve(&blob, -1, &(mst_ring){ends, 2, false}, &got);
        mst_text_free(&blob);
        assert_true(fabs(want.min_e - got.min_e) < 1e-6 && fabs(want.max_e - got.max_e) < 1e-6);
        assert_true(fabs(want.min_n - got.min_n) < 1e-6 && fabs(want.max_n - got.max_n) < 1e-6);
    }
}

/* ---- the file ---- */

static void the_header_says_geopackage(void **state) {
    (void)state;
    mst_file_close(new_site());
    size_t length;
    char *bytes = bytes_of(path, &length);
    assert_memory_equal(bytes, "SQLite format 3", 16);
    assert_memory_equal(bytes + 68, "GPKG", 4);
    assert_memory_equal(bytes + 60, "\0\0\x28\x3C", 4); /* 10300 */
    free(bytes);
    assert_string_equal(rows_of("SELECT srs_id FROM gpkg_spatial_ref_sys ORDER BY 1"), "-1\n0\n4326\n");
}

static void layers_are_listed_with_true_extents(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_published p = sample();
    begin(file, "first");
    went_well(mst_file_put_setting(file, "a", "b", &error));
    went_well(mst_file_publish(file, &p, &error));
    commit(file);
    assert_string_equal(rows_of("SELECT table_name, min_x, min_y, max_x, max_y, srs_id, description FROM gpkg_contents "
                                "WHERE data_type = 'features' ORDER BY 1"),
                        mst_arena_printf(arena,
                                         "areas|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n"
                                         "contours|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n"
                                         "lines|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n"
                                         "points|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n"
                                         "spots|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n"
                                         "triangles|%a|%a|%a|%a|-1|derived at revision 2; do not edit\n",
                                         -50.0, -50.0, 60.0, 70.0, 0.0, -40.0, 30.0, 0.0, 0.0, 0.0, 20.0, 20.0, 990.0,
                                         1990.25, 1010.5, 2010.0, 100.0, 200.0, 110.0, 210.0, 0.0, 0.0, 10.0, 10.0));
    assert_string_equal(rows_of("SELECT name, code, elevation_m, sd_height_m FROM points WHERE fid = 2"),
                        "P2||NULL|NULL\n");
    assert_string_equal(rows_of("SELECT name, count(*) FROM spots"), "trees|2\n");
    assert_string_equal(rows_of("SELECT name, kind FROM lines"), "edge|line\nround|line\n");
    /* published again, alone and empty: no revision of its own, no rows, no extent */
    went_well(mst_file_publish(file, &(mst_published){0}, &error));
    assert_int_equal(revision(file), 2);
    assert_string_equal(rows_of("SELECT min_x, description FROM gpkg_contents WHERE table_name = 'lines'"),
                        "NULL|derived at revision 2; do not edit\n");
    assert_string_equal(rows_of("SELECT count(*) FROM lines"), "0\n");
    mst_file_close(file);
    is_sound();
}

static void what_has_no_place_is_refused_and_nothing_changes(void **state) {
    (void)state;
    static const size_t one[] = {1}, two[] = {2}, three[] = {3};
    static const double off[3][4] = {{0, 0, 0, 0}, {INFINITY, 0, 0, 0}, {1, 1, 0, 0}}, bare[2][2] = {{0, 0}, {NAN, 1}};
    static const double flat[1][3][3] = {{{0, 0, 0}, {1, 0, NAN}, {0, 1, 0}}};
    static const mst_published_path paths[] = {{"a", "", "line", off, three, 1, false, 0, 0},
                                               {"a", "", "line", BED, one, 1, false, 0, 0},
                                               {"a", "", "area", TREES, two, 1, true, 0, 0},
                                               {"a", "", "area", BED, three, 1, false, 0, 0},
                                               {"a", "", "spot", off + 1, one, 1, false, 0, 0}};
    mst_published all[8] = {0};
    for (int i = 0; i < 5; i++) all[i] = (mst_published){.paths = &paths[i], .path_count = 1};
    all[5] = (mst_published){.contours = &(mst_published_contour){1, false, bare, 2}, .contour_count = 1};
    all[6] = (mst_published){.triangles = flat, .triangle_count = 1};
    all[7] = (mst_published){.points = &(mst_published_point){"P", "", NAN, 0, 0, 0, 0}, .point_count = 1};
    mst_file *file = new_site();
    mst_published good = sample();
    went_well(mst_file_publish(file, &good, &error));
    for (int i = 0; i < 8; i++) {
        refused(mst_file_publish(file, &all[i], &error), MST_INVALID, "cannot be published");
        begin(file, "with a change");
        went_well(mst_file_put_setting(file, "a", "b", &error));
        assert_int_equal(mst_file_publish(file, &all[i], &error), MST_INVALID);
        refused(mst_file_commit(file, &error), MST_INVALID, "none of it");
    }
    assert_string_equal(
        rows_of(
            "SELECT (SELECT count(*) FROM points), (SELECT count(*) FROM areas), (SELECT max(id) FROM site_change)"),
        "3|2|1\n");
    mst_file_close(file);
}

/* Another program may have hung an index on a layer, with triggers that call functions which only it has. */
static void an_index_of_another_program_does_not_stop_us(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_published p = sample();
    went_well(mst_file_publish(file, &p, &error));
    mst_file_close(file);
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(
            db,
            "CREATE VIRTUAL TABLE rtree_points_geom USING rtree(id, minx, maxx, miny, maxy);"
            "INSERT INTO rtree_points_geom VALUES (1, 0, 1, 0, 1);"
            "CREATE TRIGGER rtree_points_geom_insert AFTER INSERT ON points BEGIN SELECT ST_MinX(NEW.geom); END;"
            "CREATE TRIGGER \"odd \"\" name\" AFTER DELETE ON points BEGIN SELECT ST_MinX(OLD.geom); END;"
            "CREATE TABLE gpkg_ogr_contents (table_name TEXT PRIMARY KEY, feature_count INTEGER);"
            "INSERT INTO gpkg_ogr_contents VALUES ('points', 77);"
            "INSERT INTO gpkg_extensions VALUES ('points', 'geom', 'gpkg_rtree_index', 'x', 'write-only')",
            NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    file = open_site();
    went_well(mst_file_publish(file, &p, &error));
    mst_file_close(file);
    assert_string_equal(rows_of("SELECT count(*) FROM points"), "3\n");
    assert_string_equal(rows_of("SELECT count(*) FROM gpkg_ogr_contents"), "0\n");
    assert_string_equal(rows_of("SELECT count(*) FROM sqlite_master WHERE name LIKE 'rtree%'"), "0\n");
    assert_string_equal(rows_of("SELECT count(*) FROM gpkg_extensions"), "2\n");
    is_sound();
}

static void many_triangles_are_quick(void **state) {
    (void)state;
    enum { MANY = 20000 };
    double(*t)[3][3] = calloc(MANY, sizeof *t);
    assert_non_null(t);
    for (int i = 0; i < MANY; i++)
        for (int k = 0; k < 3; k++)
            memcpy(t[i][k], (const double[]){i % 100 + (k == 1), i / 100 + (k == 2), i % 7}, sizeof t[i][k]);
    mst_file *file = new_site();
    mst_published p = {.triangles = (const double(*)[3][3])t, .triangle_count = MANY};
    for (int round = 0; round < 2; round++) {
        struct timespec a, b;
        clock_gettime(CLOCK_MONOTONIC, &a);
        went_well(mst_file_publish(file, &p, &error));
        clock_gettime(CLOCK_MONOTONIC, &b);
        double took = (double)(b.tv_sec - a.tv_sec) + 1e-9 * (double)(b.tv_nsec - a.tv_nsec);
        print_message("%d triangles published in %.3f s\n", MANY, took);
        assert_true(took < 10); /* a wide net: the machine is shared, the sanitizers slow */
    }
    free(t);
    mst_file_close(file);
    assert_string_equal(rows_of("SELECT count(*), max(fid) FROM triangles"), "20000|20000\n");
}

/* Publishes the sample, into a new file or again into one that others have handled. */
static int write_sample(const char *name, bool again) {
    mst_file *file = NULL;
    mst_published p = sample();
    mst_status status = again ? MST_OK : mst_file_create(name, "Sample", "metric", "Ann", &error);
    if (!status) status = mst_file_open(name, &file, &error);
    if (!status) status = mst_file_begin(file, -1, "Ann", "sample", &error);
    if (!status) status = mst_file_put_setting(file, "currency", again ? "GBP" : "EUR", &error);
    if (!status) status = mst_file_publish(file, &p, &error);
    if (!status) status = mst_file_commit(file, &error);
    mst_file_close(file);
    if (status) fprintf(stderr, "%s\n", error.sentence);
    return status != MST_OK;
}

int main(int count, char *words[]) {
    if (count == 3) return write_sample(words[2], strcmp(words[1], "again") == 0);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_point_blob_of_the_references),
        cmocka_unit_test(a_point_with_a_level),
        cmocka_unit_test(an_outline_keeps_its_arc),
        cmocka_unit_test(rings_without_levels_are_plane),
        cmocka_unit_test(a_line_is_a_compound_curve_even_when_straight),
        cmocka_unit_test(the_box_of_an_arc_is_that_of_its_points),
        cmocka_unit_test_setup_teardown(the_header_says_geopackage, make, drop),
        cmocka_unit_test_setup_teardown(layers_are_listed_with_true_extents, make, drop),
        cmocka_unit_test_setup_teardown(what_has_no_place_is_refused_and_nothing_changes, make, drop),
        cmocka_unit_test_setup_teardown(an_index_of_another_program_does_not_stop_us, make, drop),
        cmocka_unit_test_setup_teardown(many_triangles_are_quick, make, drop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
