/* The site file: what goes in comes out again, as typed; what cannot go in changes nothing. */
#include "site/file_helper.h"
#include <math.h>
#include <sys/stat.h>
#include <time.h>

static void a_new_file_is_a_site_with_nothing_in_it(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_site *site = load(file);
    assert_string_equal(mst_site_setting(site, "title", ""), "Garden at the mill");
    assert_string_equal(mst_site_setting(site, "units", ""), "metric");
    assert_int_equal(site->setting_count, 2);
    assert_int_equal(site->revision, 1);
    assert_int_equal(site->page_count + site->visit_count + site->feature_count + site->work_count + site->sheet_count,
                     0);
    assert_string_equal(mst_file_path(file), path);
    mst_file_close(file);
    is_sound();
}

static void a_file_is_never_made_over_another(void **state) {
    (void)state;
    mst_file_close(new_site());
    size_t before, after;
    char *was = bytes_of(path, &before);
    refused(mst_file_create(path, "Other", "metric", "", &error), MST_INVALID, "exists already");
    char *is = bytes_of(path, &after);
    assert_int_equal(before, after);
    assert_memory_equal(was, is, before);
    free(was);
    free(is);
    snprintf(path, sizeof path, "%s/no such folder/a.gpkg", folder);
    assert_int_equal(mst_file_create(path, "Other", "metric", "", &error), MST_IO);
    assert_string_equal(error.page, path);
}

static void readings_come_back_as_typed(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(
        file, MST_PAGE_TAPE, "tape.csv",
        "from,to,distance (ftin),remark\nA,B,\"12'-6 1/2\"\"\",\"on, the\nkerb\"\n\nB,C,6'-0\", \xC3\xA9t\xC3\xA9 \n");
    mst_page other = page_of(MST_PAGE_POINTS, "points.csv", "point,easting (m),northing (m)\nP,1.10,2.20\n");
    other.visit = "second day";
    other.gear = "staff";
    other.site_frame = true;
    begin(file, "second day");
    went_well(mst_file_add_page(file, &other, &error));
    commit(file);
    mst_file_close(file);

    file = open_site();
    mst_site *site = load(file);
    assert_int_equal(site->page_count, 2);
    mst_page *tape = &site->pages[0];
    assert_string_equal(tape->name, "tape.csv");
    assert_int_equal(tape->kind, MST_PAGE_TAPE);
    assert_string_equal(tape->visit, "first day");
    assert_string_equal(tape->header, "from,to,distance (ftin),remark");
    assert_string_equal(tape->rows[0].raw, "A,B,\"12'-6 1/2\"\"\",\"on, the\nkerb\"");
    assert_string_equal(tape->rows[1].raw, "B,C,6'-0\", \xC3\xA9t\xC3\xA9 ");
    assert_int_equal(tape->rows[1].line, 5);
    assert_true(fabs(tape->rows[0].value[MST_TAPE_DISTANCE] - 150.5 * 0.0254) < 1e-12);
    assert_true(site->pages[1].site_frame);
    assert_string_equal(site->pages[1].gear, "staff");
    assert_string_equal(site->visits[0].name, "first day");
    assert_string_equal(site->visits[1].name, "second day");
    mst_file_close(file);
}

static void a_reading_is_neither_altered_nor_deleted(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    int64_t page = load(file)->pages[0].id;
    begin(file, "no good");
    went_well(mst_file_remove_page(file, page, &error));
    commit(file);
    assert_int_equal(load(file)->page_count, 0);
    assert_int_equal(load(file)->visit_count, 0);
    begin(file, "again");
    refused(mst_file_remove_page(file, page, &error), MST_NOT_FOUND, "no page");
    refused(mst_file_add_reading(file, page, "C,D,1", &error), MST_NOT_FOUND, "no page");
    mst_file_rollback(file);
    mst_file_close(file);
    assert_string_equal(rows_of("SELECT line, record FROM site_reading"), "2|A,B,12.5\n3|B,C,6\n");
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "UPDATE site_reading SET record = ''", NULL, NULL, NULL), SQLITE_CONSTRAINT);
    assert_int_equal(sqlite3_exec(db, "DELETE FROM site_reading", NULL, NULL, NULL), SQLITE_CONSTRAINT);
    sqlite3_close(db);
}

static void a_reading_is_added_behind_its_page(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_POINTS, "points.csv", "point,northing (mm),easting (m)\nP,1000,2\n");
    int64_t page = load(file)->pages[0].id;
    begin(file, "one more");
    went_well(mst_file_add_reading(file, page, "\"Q\",1500,3", &error));
    commit(file);
    mst_site *site = load(file);
    assert_int_equal(site->pages[0].row_count, 2);
    assert_string_equal(site->pages[0].rows[1].raw, "\"Q\",1500,3");
    assert_true(site->pages[0].rows[1].value[MST_POINTS_NORTHING] == 1.5);
    assert_int_equal(site->pages[0].rows[1].line, 3);
    assert_int_equal(site->revision, 3);

    static const struct {
        const char *record, *part;
    } bad[] = {
        {"R,x,1", "not a number"}, {"P,1,1", "twice"}, {"R,1,1\nS,1,1", "more than one"}, {"", "empty"}, {"R,\"1", ""},
        {"\xFF,1,1", ""}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        begin(file, "bad");
        refused(mst_file_add_reading(file, page, bad[i].record, &error), MST_INVALID, bad[i].part);
        assert_string_equal(error.page, "points.csv");
        if (i < 2) assert_int_equal(error.row, 4);
        mst_file_rollback(file);
    }
    assert_int_equal(load(file)->pages[0].row_count, 2);
    mst_file_close(file);
}

static void a_page_comes_in_once(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\n");
    mst_page again = page_of(MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\n");
    begin(file, "again");
    refused(mst_file_add_page(file, &again, &error), MST_INVALID, "already");
    again.visit = "second day";
    went_well(mst_file_add_page(file, &again, &error));
    commit(file);
    assert_int_equal(load(file)->page_count, 2);
    mst_file_close(file);
}

static void a_page_that_cannot_be_read_again_is_not_stored(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_page page = page_of(MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\n");
    page.rows[0].raw = "A,B,twelve";
    begin(file, "bad");
    refused(mst_file_add_page(file, &page, &error), MST_INVALID, "not a number");
    assert_int_equal(error.row, 2);
    commit(file); /* nothing came in, so this makes no revision */
    assert_int_equal(revision(file), 1);
    mst_file_close(file);
}

static void a_reading_is_set_aside_and_taken_back(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    int64_t reading = load(file)->pages[0].rows[1].id;
    begin(file, "blunder");
    refused(mst_file_set_aside(file, reading, "", &error), MST_INVALID, "why");
    refused(mst_file_set_aside(file, 999, "why not", &error), MST_NOT_FOUND, "no reading");
    went_well(mst_file_set_aside(file, reading, "tape snagged", &error));
    assert_string_equal(load(file)->pages[0].rows[1].set_aside, "tape snagged"); /* inside the change */
    commit(file);
    assert_null(load(file)->pages[0].rows[0].set_aside);
    assert_string_equal(load(file)->pages[0].rows[1].set_aside, "tape snagged");
    begin(file, "it was right");
    went_well(mst_file_set_aside(file, reading, NULL, &error));
    commit(file);
    assert_null(load(file)->pages[0].rows[1].set_aside);
    mst_file_close(file);
}

static mst_feature bed(mst_vertex vertices[], size_t count) {
    return (mst_feature){.name = "bed",
                         .code = "BED",
                         .kind = MST_FEATURE_AREA,
                         .role = MST_ROLE_NONE,
                         .page = "",
                         .vertices = vertices,
                         .vertex_count = count};
}

static void features_keep_their_points_in_order(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_vertex four[] = {{"A", MST_EDGE_STRAIGHT, 0, 2},
                         {"B", MST_EDGE_ARC, 0, 3},
                         {"C", MST_EDGE_ARC, 0, 4},
                         {"D", MST_EDGE_CURVE, 1, 5}};
    mst_feature f = bed(four, 4);
    begin(file, "bed");
    went_well(mst_file_put_feature(file, &f, &error));
    commit(file);
    four[1].point = "Z";
    f = bed(four, 3);
    begin(file, "bed, smaller");
    went_well(mst_file_put_feature(file, &f, &error));
    commit(file);
    mst_site *site = load(file);
    assert_int_equal(site->feature_count, 1);
    assert_int_equal(site->features[0].vertex_count, 3);
    assert_string_equal(site->features[0].vertices[1].point, "Z");
    assert_int_equal(site->features[0].vertices[2].edge, MST_EDGE_ARC);
    assert_int_equal(site->features[0].role, MST_ROLE_NONE);
    assert_int_equal(site->features[0].kind, MST_FEATURE_AREA);
    /* one vertex altered, one removed: the history keeps two rows, not seven */
    assert_string_equal(rows_of("SELECT row_count FROM site_change WHERE id = 3"), "2\n");
    begin(file, "no bed");
    refused(mst_file_remove_feature(file, "pond", &error), MST_NOT_FOUND, "pond");
    went_well(mst_file_remove_feature(file, "bed", &error));
    commit(file);
    assert_int_equal(load(file)->feature_count, 0);
    mst_file_close(file);
}

static void works_sheets_gear_and_settings_replace_by_name(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_gear gear = {
        .name = "old tape", .source = "calibrated at home", .distance_m = 0.1 + 0.2, .angle_rad = MST_PI / 648000 * 5};
    begin(file, "all of it");
    went_well(
        mst_file_put_work(file, &(mst_work){.name = "pad", .position = 2, .definition = "{\"level_m\":1}"}, &error));
    went_well(mst_file_put_work(file, &(mst_work){.name = "path", .position = 1, .definition = "{}"}, &error));
    went_well(mst_file_put_sheet(file, &(mst_sheet){.name = "section", .definition = "{}"}, &error));
    went_well(mst_file_put_sheet(file, &(mst_sheet){.name = "plan", .definition = "{\"scale\":200}"}, &error));
    went_well(mst_file_put_gear(file, &gear, &error));
    went_well(mst_file_put_setting(file, "currency", "EUR", &error));
    commit(file);
    begin(file, "second thoughts");
    went_well(
        mst_file_put_work(file, &(mst_work){.name = "pad", .position = 0, .definition = "{\"level_m\":2}"}, &error));
    went_well(mst_file_put_setting(file, "currency", "GBP", &error));
    commit(file);
    mst_site *site = load(file);
    assert_int_equal(site->work_count, 2);
    assert_string_equal(site->works[0].name, "pad");
    assert_string_equal(site->works[0].definition, "{\"level_m\":2}");
    assert_string_equal(site->sheets[0].name, "plan");
    assert_string_equal(mst_site_setting(site, "currency", ""), "GBP");
    assert_true(site->gear[0].distance_m == gear.distance_m && site->gear[0].angle_rad == gear.angle_rad);
    assert_string_equal(mst_site_gear(site, "old tape")->source, "calibrated at home");
    begin(file, "odd");
    refused(mst_file_remove_work(file, "pond", &error), MST_NOT_FOUND, "pond");
    refused(mst_file_put_setting(file, "format", "2", &error), MST_INVALID, "format");
    refused(mst_file_put_setting(file, "", "2", &error), MST_INVALID, "name");
    mst_file_rollback(file);
    mst_file_close(file);
}

static void nothing_is_altered_outside_a_change(void **state) {
    (void)state;
    mst_file *file = new_site();
    mst_page page = page_of(MST_PAGE_TAPE, "t.csv", "from,to,distance (m)\nA,B,1\n");
    mst_feature f = bed(NULL, 0);
    assert_int_equal(mst_file_add_page(file, &page, &error), MST_INVALID);
    assert_int_equal(mst_file_add_reading(file, 1, "A,B,1", &error), MST_INVALID);
    assert_int_equal(mst_file_set_aside(file, 1, "x", &error), MST_INVALID);
    assert_int_equal(mst_file_remove_page(file, 1, &error), MST_INVALID);
    assert_int_equal(mst_file_put_feature(file, &f, &error), MST_INVALID);
    assert_int_equal(mst_file_remove_feature(file, "f", &error), MST_INVALID);
    assert_int_equal(mst_file_put_work(file, &(mst_work){.name = "w", .definition = "{}"}, &error), MST_INVALID);
    assert_int_equal(mst_file_remove_work(file, "w", &error), MST_INVALID);
    assert_int_equal(mst_file_put_sheet(file, &(mst_sheet){.name = "s", .definition = "{}"}, &error), MST_INVALID);
    assert_int_equal(mst_file_put_gear(file, &(mst_gear){.name = "g"}, &error), MST_INVALID);
    assert_int_equal(mst_file_put_setting(file, "a", "b", &error), MST_INVALID);
    refused(mst_file_commit(file, &error), MST_INVALID, "no change");
    begin(file, "one");
    refused(mst_file_begin(file, -1, "", "two", &error), MST_INVALID, "under way");
    mst_file_close(file); /* takes it back */
    assert_int_equal(revision(file = open_site()), 1);
    mst_file_close(file);
}

/* A step that fails halfway leaves a change that can only be taken back. */
static void a_spoiled_change_is_not_stored(void **state) {
    (void)state;
    mst_file *file = new_site();
    begin(file, "half");
    went_well(mst_file_put_setting(file, "currency", "EUR", &error));
    assert_int_equal(mst_file_put_setting(file, "currency", NULL, &error), MST_INVALID);
    refused(mst_file_commit(file, &error), MST_INVALID, "none of it");
    assert_string_equal(mst_site_setting(load(file), "currency", "none"), "none");
    static const char *const odd[] = {"\xE9t\xE9", "\xC0\x80", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xE2\x82", "\x80"};
    begin(file, "not UTF-8 (RFC 3629)");
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++)
        refused(mst_file_put_setting(file, "odd", odd[i], &error), MST_INVALID, "UTF-8");
    mst_file_rollback(file);
    assert_int_equal(revision(file), 1);
    mst_file_close(file);
    is_sound();
}

static void only_one_plain_file_is_left(void **state) {
    (void)state;
    mst_file *file = new_site();
    put_setting(file, "currency", "EUR");
    FILE *list = popen(mst_arena_printf(arena, "ls -A '%s'", folder), "r");
    char line[100] = "";
    assert_non_null(list);
    assert_non_null(fgets(line, sizeof line, list));
    assert_string_equal(line, "garden.gpkg\n");
    assert_null(fgets(line, sizeof line, list));
    pclose(list);
    mst_file_close(file);
}

static void a_file_that_may_not_be_written_can_be_read(void **state) {
    (void)state;
    mst_file_close(new_site());
    if (geteuid() == 0) skip(); /* root may write everything */
    assert_int_equal(chmod(path, 0444), 0);
    mst_file *file = open_site();
    assert_int_equal(load(file)->setting_count, 2);
    refused(mst_file_begin(file, -1, "Ann", "x", &error), MST_IO, "cannot be written");
    mst_file_close(file);
}

static double seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* A scan thinned to 100,000 points comes in and comes back while a person waits. Ours: no source. */
static void a_large_page_is_quick(void **state) {
    (void)state;
    enum { ROWS = 100000 };
    mst_text text = {0};
    mst_text_string(&text, "point,easting (m),northing (m),elevation (m)\n");
    for (int i = 0; i < ROWS; i++) mst_text_printf(&text, "p%d,%d.125,%d.25,%d.001\n", i, i % 317, i / 317, i % 7);
    mst_page page;
    went_well(mst_page_read(MST_PAGE_POINTS, "scan.csv", text.data, text.length, NULL, arena, &page, &error));
    mst_text_free(&text);
    mst_file *file = new_site();
    double t0 = seconds();
    begin(file, "scan");
    went_well(mst_file_add_page(file, &page, &error));
    commit(file);
    double t1 = seconds();
    mst_file_close(file);
    file = open_site();
    double t2 = seconds();
    mst_site *site = load(file);
    double t3 = seconds();
    print_message("100,000 rows: store %.3f s, open %.3f s, load %.3f s\n", t1 - t0, t2 - t1, t3 - t2);
    assert_int_equal(site->pages[0].row_count, ROWS);
    assert_string_equal(site->pages[0].rows[ROWS - 1].raw, page.rows[ROWS - 1].raw);
    assert_true(t1 - t0 < 10 && t3 - t2 < 10); /* a wide net: the machine is shared, the sanitizers slow */
    mst_file_close(file);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_new_file_is_a_site_with_nothing_in_it, make, drop),
        cmocka_unit_test_setup_teardown(a_file_is_never_made_over_another, make, drop),
        cmocka_unit_test_setup_teardown(readings_come_back_as_typed, make, drop),
        cmocka_unit_test_setup_teardown(a_reading_is_neither_altered_nor_deleted, make, drop),
        cmocka_unit_test_setup_teardown(a_reading_is_added_behind_its_page, make, drop),
        cmocka_unit_test_setup_teardown(a_page_comes_in_once, make, drop),
        cmocka_unit_test_setup_teardown(a_page_that_cannot_be_read_again_is_not_stored, make, drop),
        cmocka_unit_test_setup_teardown(a_reading_is_set_aside_and_taken_back, make, drop),
        cmocka_unit_test_setup_teardown(features_keep_their_points_in_order, make, drop),
        cmocka_unit_test_setup_teardown(works_sheets_gear_and_settings_replace_by_name, make, drop),
        cmocka_unit_test_setup_teardown(nothing_is_altered_outside_a_change, make, drop),
        cmocka_unit_test_setup_teardown(a_spoiled_change_is_not_stored, make, drop),
        cmocka_unit_test_setup_teardown(only_one_plain_file_is_left, make, drop),
        cmocka_unit_test_setup_teardown(a_file_that_may_not_be_written_can_be_read, make, drop),
        cmocka_unit_test_setup_teardown(a_large_page_is_quick, make, drop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
