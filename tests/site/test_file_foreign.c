/* Whatever is not a site file of this program is refused with a sentence and stays as it is, to the byte.
 * Files: GeoPackages of other programs (geopandas/pyogrio and ngageoint/geopackage-js, MIT) and malformed databases
 * (SQLite 3.40.1 source, test/fuzzdata3.db and fuzzdata7.db, public domain) in shared/data. */
#include "site/file_helper.h"
#include <dirent.h>

static bool is_there(const char *name) {
    FILE *f = fopen(name, "rb");
    if (f) fclose(f);
    return f != NULL;
}

/* Refused, with a sentence, the file as before and nothing left beside it. */
static void stays_as_it_is(const char *part) {
    size_t before, after;
    char *was = bytes_of(path, &before), *is;
    mst_file *file = NULL;
    error = (mst_error){0};
    refused(mst_file_open(path, &file, &error), MST_INVALID, part);
    assert_null(file);
    assert_true(strlen(error.sentence) > 30);
    assert_string_equal(error.page, path);
    is = bytes_of(path, &after);
    assert_int_equal(before, after);
    assert_memory_equal(was, is, before);
    free(was);
    free(is);
    static const char *const beside[] = {"-journal", "-wal", "-shm"};
    for (int i = 0; i < 3; i++) assert_false(is_there(mst_arena_printf(arena, "%s%s", path, beside[i])));
}

/* Refuses every file of a shared folder. @return how many, 0 when the folder is not there */
static int refuse_folder(const char *name, const char *part) {
    DIR *all = opendir(name);
    int count = 0;
    if (!all) return 0;
    for (struct dirent *entry; (entry = readdir(all));) {
        const char *dot = strrchr(entry->d_name, '.');
        if (!dot || (strcmp(dot, ".gpkg") != 0 && strcmp(dot, ".db") != 0)) continue;
        size_t length;
        char *bytes = bytes_of(mst_arena_printf(arena, "%s/%s", name, entry->d_name), &length);
        write_bytes(path, bytes, length);
        free(bytes);
        stays_as_it_is(part);
        count++;
    }
    closedir(all);
    return count;
}

static void geopackages_of_others(void **state) {
    (void)state;
    int count = refuse_folder(SHARED_DATA "/geopackage-a", "not a site file");
    if (!count) skip();
    assert_int_equal(count, 10);
}

static void malformed_databases(void **state) {
    (void)state;
    int count = refuse_folder(SHARED_DATA "/sqlite-malformed-a", "");
    if (!count) skip();
    assert_int_equal(count, 46);
}

/* The same malformed databases, dressed as GeoPackages, so that they get past the first look. */
static void malformed_databases_in_disguise(void **state) {
    (void)state;
    DIR *all = opendir(SHARED_DATA "/sqlite-malformed-a");
    if (!all) skip();
    for (struct dirent *entry; (entry = readdir(all));) {
        if (!strstr(entry->d_name, ".db")) continue;
        size_t length;
        char *bytes = bytes_of(mst_arena_printf(arena, SHARED_DATA "/sqlite-malformed-a/%s", entry->d_name), &length);
        memcpy(bytes, "SQLite format 3", 16);
        memcpy(bytes + 68, "GPKG", 4);
        write_bytes(path, bytes, length);
        free(bytes);
        stays_as_it_is("");
    }
    closedir(all);
}

static void other_databases(void **state) {
    (void)state;
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(db, "CREATE TABLE site_setting (name, value); INSERT INTO site_setting VALUES ('format', 1)", NULL,
                     NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    stays_as_it_is("another program");
}

/* Another program has a GeoPackage of its own open, in the mode that keeps its changes beside the file. */
static void a_foreign_file_in_use_in_another_mode(void **state) {
    (void)state;
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db,
                                  "PRAGMA application_id = 0x47504B47; PRAGMA journal_mode = WAL; CREATE TABLE a (b); "
                                  "INSERT INTO a VALUES (1)",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    size_t before, after;
    char *was = bytes_of(path, &before);
    mst_file *file = NULL;
    refused(mst_file_open(path, &file, &error), MST_INVALID, "another program");
    char *is = bytes_of(path, &after);
    assert_int_equal(before, after);
    assert_memory_equal(was, is, before);
    free(was);
    free(is);
    assert_int_equal(sqlite3_exec(db, "INSERT INTO a VALUES (2)", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* Another program has left one of ours in that mode: it is ours all the same, and a plain file again afterwards. */
static void our_file_left_in_another_mode(void **state) {
    (void)state;
    mst_file_close(new_site());
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(
        sqlite3_exec(db, "PRAGMA journal_mode = WAL; UPDATE site_setting SET value = 'Orchard' WHERE name = 'title'",
                     NULL, NULL, NULL),
        SQLITE_OK);
    sqlite3_close(db);
    mst_file *file = open_site();
    assert_string_equal(mst_site_setting(load(file), "title", ""), "Orchard");
    put_setting(file, "currency", "EUR");
    mst_file_close(file);
    assert_string_equal(rows_of("PRAGMA journal_mode"), "delete\n");
}

static void no_databases_at_all(void **state) {
    (void)state;
    mst_file *file = NULL;
    refused(mst_file_open(path, &file, &error), MST_NOT_FOUND, "no such file");
    refused(mst_file_open(folder, &file, &error), MST_INVALID, "folder");
    write_bytes(path, "", 0);
    stays_as_it_is("empty");
    write_bytes(path, "point,easting (m)\nA,1\n", 22);
    stays_as_it_is("another kind");
    write_bytes(path, "SQLite format 3", 16);
    stays_as_it_is("another kind");
}

static void a_newer_or_unknown_format(void **state) {
    (void)state;
    static const struct {
        const char *value, *part;
    } formats[] = {{"2", "newer version"}, {"0", "damaged"}, {"x", "damaged"}};
    for (int i = 0; i < 3; i++) {
        mst_file_close(new_site());
        sqlite3 *db;
        assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
        char *sql =
            mst_arena_printf(arena, "UPDATE site_setting SET value = '%s' WHERE name = 'format'", formats[i].value);
        assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
        sqlite3_close(db);
        stays_as_it_is(formats[i].part);
        unlink(path);
    }
}

/* A site with something of everything, as bytes. */
static char *sample(size_t *length) {
    mst_file *file = new_site();
    mst_vertex v[] = {{"A", MST_EDGE_STRAIGHT, 0, 2}, {"B", MST_EDGE_ARC, 0, 3}};
    const double triangle[1][3][3] = {{{0, 0, 1}, {1, 0, 1}, {0, 1, 2}}};
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    int64_t reading = load(file)->pages[0].rows[0].id;
    begin(file, "all");
    went_well(mst_file_put_feature(
        file, &(mst_feature){.name = "f", .code = "", .page = "", .vertices = v, .vertex_count = 2}, &error));
    went_well(mst_file_put_work(file, &(mst_work){.name = "w", .definition = "{}"}, &error));
    went_well(mst_file_put_sheet(file, &(mst_sheet){.name = "s", .definition = "{}"}, &error));
    went_well(mst_file_put_gear(file, &(mst_gear){.name = "g", .source = ""}, &error));
    went_well(mst_file_set_aside(file, reading, "slip", &error));
    went_well(mst_file_publish(file, &(mst_published){.triangles = triangle, .triangle_count = 1}, &error));
    commit(file);
    mst_file_close(file);
    return bytes_of(path, length);
}

static void files_cut_short(void **state) {
    (void)state;
    size_t length;
    char *bytes = sample(&length);
    for (size_t cut = 1; cut < length; cut = cut * 3 / 2 + 7) {
        write_bytes(path, bytes, cut);
        stays_as_it_is("");
    }
    free(bytes);
}

/* What must hold of a damaged file: a sentence, or a site that can be read and changed; never a crash, never a hang. */
static void survives(void) {
    mst_file *file = NULL;
    mst_site *site;
    const char *why;
    if (mst_file_open(path, &file, &error)) {
        assert_true(strlen(error.sentence) > 20);
        return;
    }
    mst_status status = mst_file_load(file, arena, &site, &error);
    if (!status) status = mst_file_begin(file, -1, "Ann", "x", &error);
    if (!status) status = mst_file_put_setting(file, "a", "b", &error);
    if (!status) status = mst_file_publish(file, &(mst_published){0}, &error);
    if (!status) status = mst_file_commit(file, &error);
    mst_file_rollback(file);
    for (int i = 0; !status && i < 3; i++) status = mst_file_undo(file, "Ann", arena, &why, &error);
    if (status) assert_true(strlen(error.sentence) > 10);
    mst_file_close(file);
}

static void our_own_file_damaged_anywhere(void **state) {
    (void)state;
    size_t length;
    char *bytes = sample(&length);
    unsigned random = 4711;
    for (int i = 0; i < 600; i++) {
        char *harmed = malloc(length);
        assert_non_null(harmed);
        memcpy(harmed, bytes, length);
        for (int k = 0; k < 1 + i % 8; k++) {
            random = random * 1103515245u + 12345u;
            size_t at = random % length;
            if (i % 3 == 0) at = at % 64 + (at / 4096) * 4096; /* the heads of pages, where the structure is */
            random = random * 1103515245u + 12345u;
            harmed[at] = (char)(random >> 16);
        }
        write_bytes(path, harmed, length);
        free(harmed);
        survives();
    }
    free(bytes);
}

/* Tables that lack, or hold what no program of ours writes. */
static void our_own_file_edited_badly(void **state) {
    (void)state;
    static const char *const harm[] = {"UPDATE site_page SET kind = 'scroll'",
                                       "UPDATE site_feature SET kind = 'blob'",
                                       "UPDATE site_feature SET role = 'x'",
                                       "UPDATE site_feature_vertex SET edge = 'zigzag'",
                                       "UPDATE site_page SET header = 'from,to,length'",
                                       "DROP TABLE site_sheet",
                                       "DROP VIEW site_standing_reading; DROP TABLE site_reading",
                                       "ALTER TABLE site_gear RENAME COLUMN leg_m TO leg"};
    for (size_t i = 0; i < sizeof harm / sizeof *harm; i++) {
        size_t length;
        free(sample(&length));
        sqlite3 *db;
        assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
        assert_int_equal(sqlite3_exec(db, harm[i], NULL, NULL, NULL), SQLITE_OK);
        sqlite3_close(db);
        mst_file *file = open_site();
        mst_site *site = NULL;
        error = (mst_error){0};
        assert_int_equal(mst_file_load(file, arena, &site, &error), MST_INVALID);
        assert_true(strlen(error.sentence) > 20);
        assert_null(site);
        mst_file_close(file);
        unlink(path);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(geopackages_of_others, make, drop),
        cmocka_unit_test_setup_teardown(malformed_databases, make, drop),
        cmocka_unit_test_setup_teardown(malformed_databases_in_disguise, make, drop),
        cmocka_unit_test_setup_teardown(other_databases, make, drop),
        cmocka_unit_test_setup_teardown(a_foreign_file_in_use_in_another_mode, make, drop),
        cmocka_unit_test_setup_teardown(our_file_left_in_another_mode, make, drop),
        cmocka_unit_test_setup_teardown(no_databases_at_all, make, drop),
        cmocka_unit_test_setup_teardown(a_newer_or_unknown_format, make, drop),
        cmocka_unit_test_setup_teardown(files_cut_short, make, drop),
        cmocka_unit_test_setup_teardown(our_own_file_damaged_anywhere, make, drop),
        cmocka_unit_test_setup_teardown(our_own_file_edited_badly, make, drop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
