/* Undo and redo bring every stored row back to the bit; nobody's change is lost over another's. */
#include "site/file_helper.h"

static mst_vertex corners[] = {{"A", MST_EDGE_STRAIGHT, 0, 2}, {"B", MST_EDGE_ARC, 0, 3}, {"C", MST_EDGE_ARC, 0, 4}};

/* One change of each kind, made of numbers so that a random walk can take any of them at any time. */
static void some_change(mst_file *file, int kind, int number) {
    char name[40];
    snprintf(name, sizeof name, "n%d", number);
    mst_site *site = load(file);
    begin(file, name);
    if (kind == 0) {
        mst_page page = page_of(MST_PAGE_TAPE, name, "from,to,distance (m)\nA,B,12.50\nB,C,\"6\"\nC,D,1\n");
        page.visit = name;
        went_well(mst_file_add_page(file, &page, &error));
    } else if (kind == 1 && site->page_count) {
        mst_page *page = &site->pages[(size_t)number % site->page_count];
        went_well(mst_file_set_aside(file, page->rows[0].id, page->rows[0].set_aside ? NULL : name, &error));
    } else if (kind == 2 && site->page_count) {
        went_well(mst_file_remove_page(file, site->pages[(size_t)number % site->page_count].id, &error));
    } else if (kind == 3 && site->page_count) {
        went_well(mst_file_add_reading(file, site->pages[(size_t)number % site->page_count].id, "X,Y,3.75", &error));
    } else if (kind == 4) {
        mst_feature f = {.name = number % 2 ? "bed" : "path",
                         .code = name,
                         .kind = MST_FEATURE_LINE,
                         .page = "",
                         .vertices = corners,
                         .vertex_count = 1 + (size_t)number % 3};
        went_well(mst_file_put_feature(file, &f, &error));
    } else if (kind == 5 && site->feature_count) {
        went_well(mst_file_remove_feature(file, site->features[0].name, &error));
    } else if (kind == 6) {
        mst_gear g = {.name = number % 3 ? "tape" : name,
                      .source = name,
                      .distance_m = 0.001 / (number + 1),
                      .leg_rate = number / 7.0};
        went_well(mst_file_put_gear(file, &g, &error));
    } else if (kind == 7) {
        went_well(mst_file_put_work(
            file, &(mst_work){.name = number % 2 ? "pad" : "bank", .position = number, .definition = "{}"}, &error));
    } else if (kind == 8 && site->work_count) {
        went_well(mst_file_remove_work(file, site->works[0].name, &error));
    } else if (kind == 9) {
        went_well(mst_file_put_sheet(file, &(mst_sheet){.name = "plan", .definition = name}, &error));
    } else {
        went_well(mst_file_put_setting(file, number % 2 ? "title" : "currency", name, &error));
    }
    commit(file);
}
enum { KINDS = 11 };

static void each_kind_of_change_is_undone_and_redone_to_the_bit(void **state) {
    (void)state;
    mst_file *file = new_site();
    const char *why = NULL;
    for (int kind = 0; kind < KINDS; kind++)
        some_change(file, kind == 2 || kind == 5 || kind == 8 ? 10 : kind, 1); /* something to work on */
    for (int kind = 0; kind < KINDS; kind++) {
        char *before = state_of_site();
        some_change(file, kind, 2);
        char *after = state_of_site();
        assert_string_not_equal(before, after);
        went_well(mst_file_undo(file, "Ann", arena, &why, &error));
        assert_string_equal(why, "n2");
        assert_string_equal(state_of_site(), before);
        went_well(mst_file_redo(file, "Ann", arena, &why, &error));
        assert_string_equal(why, "n2");
        assert_string_equal(state_of_site(), after);
    }
    mst_file_close(file);
    is_sound();
}

static void all_is_undone_back_to_the_empty_site_and_redone(void **state) {
    (void)state;
    enum { STEPS = 40 };
    mst_file *file = new_site();
    char *states[STEPS + 1] = {state_of_site()};
    unsigned random = 7;
    int made = 0;
    for (int i = 0; made < STEPS && i < 1000; i++) {
        int64_t was = revision(file);
        random = random * 1103515245u + 12345u;
        some_change(file, (int)(random >> 16) % KINDS, i);
        if (revision(file) > was) states[++made] = state_of_site();
    }
    assert_int_equal(made, STEPS);
    const char *why;
    for (int i = STEPS; i > 0; i--) {
        went_well(mst_file_undo(file, "Ann", arena, &why, &error));
        assert_string_equal(state_of_site(), states[i - 1]);
    }
    refused(mst_file_undo(file, "Ann", arena, &why, &error), MST_NO,
            "nothing to undo"); /* the making of the site stays */
    for (int i = 1; i <= STEPS; i++) {
        went_well(mst_file_redo(file, "Ann", arena, &why, &error));
        assert_string_equal(state_of_site(), states[i]);
        load(file);
    }
    refused(mst_file_redo(file, "Ann", arena, &why, &error), MST_NO, "nothing to redo");
    assert_int_equal(revision(file), 1 + 3 * STEPS);
    mst_file_close(file);
    is_sound();
}

/* Beside the file, a plain list of states with a hand in it: what anybody expects of undo and redo. */
static void a_random_walk_agrees_with_a_plain_list(void **state) {
    (void)state;
    enum { STEPS = 120 };
    mst_file *file = new_site();
    char *list[STEPS + 1] = {state_of_site()};
    int at = 0, last = 0;
    unsigned random = 99;
    const char *why;
    for (int i = 0; i < STEPS; i++) {
        random = random * 1103515245u + 12345u;
        int roll = (int)(random >> 16) % 10, kind = (int)(random >> 8) % KINDS;
        if (roll < 3) {
            mst_status status = mst_file_undo(file, "Bob", arena, &why, &error);
            assert_int_equal(status, at > 0 ? MST_OK : MST_NO);
            if (!status) at--;
        } else if (roll < 6) {
            mst_status status = mst_file_redo(file, "Bob", arena, &why, &error);
            assert_int_equal(status, at < last ? MST_OK : MST_NO);
            if (!status) at++;
        } else {
            int64_t was = revision(file);
            some_change(file, kind, i);
            if (revision(file) == was) continue;
            list[++at] = state_of_site();
            last = at;
        }
        assert_string_equal(state_of_site(), list[at]);
    }
    mst_file_close(file);
    is_sound();
}

static void the_history_names_who_when_and_why(void **state) {
    (void)state;
    mst_file *file = new_site();
    const char *why;
    put_setting(file, "currency", "EUR");
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,1\nB,C,2\n");
    went_well(mst_file_undo(file, "Bob", arena, &why, &error));
    went_well(mst_file_undo(file, "Bob", arena, &why, &error));
    went_well(mst_file_redo(file, "", arena, &why, &error));
    put_setting(file, "scale", "200");
    refused(mst_file_redo(file, "", arena, &why, &error), MST_NO,
            "nothing to redo"); /* the page is gone for good, but listed */
    mst_change *changes;
    size_t count;
    went_well(mst_file_history(file, arena, &changes, &count, &error));
    static const struct {
        const char *who, *why;
        bool undone;
        int rows;
    } want[] = {{"Ann", "Made the site", false, 2},
                {"Ann", "currency", false, 1},
                {"Ann", "tape.csv", true, 4}, /* visit, page, two readings */
                {"Bob", "Undo revision 3: tape.csv", false, 4},
                {"Bob", "Undo revision 2: currency", false, 1},
                {"", "Redo revision 2: currency", false, 1},
                {"Ann", "scale", false, 1}};
    assert_int_equal(count, sizeof want / sizeof *want);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(changes[i].id, i + 1);
        assert_string_equal(changes[i].who, want[i].who);
        assert_string_equal(changes[i].why, want[i].why);
        assert_int_equal(changes[i].undone, want[i].undone);
        assert_int_equal(changes[i].rows, want[i].rows);
        assert_int_equal(strlen(changes[i].at), strlen("2024-05-06T07:08:09.123Z"));
        assert_true(changes[i].at[10] == 'T' && changes[i].at[23] == 'Z');
        if (i) assert_true(strcmp(changes[i - 1].at, changes[i].at) <= 0);
    }
    mst_file_close(file);
}

static void an_undo_can_be_part_of_a_begun_change(void **state) {
    (void)state;
    mst_file *file = new_site();
    const char *why;
    put_setting(file, "currency", "EUR");
    refused(mst_file_begin(file, 1, "Bob", "", &error), MST_CONFLICT, "currency");
    went_well(mst_file_begin(file, 2, "Bob", "", &error));
    went_well(mst_file_undo(file, "Bob", arena, &why, &error));
    assert_string_equal(mst_site_setting(load(file), "currency", "none"), "none");
    mst_file_rollback(file);
    assert_string_equal(mst_site_setting(load(file), "currency", "none"), "EUR");
    went_well(mst_file_begin(file, 2, "Bob", "", &error));
    went_well(mst_file_put_setting(file, "a", "b", &error));
    refused(mst_file_undo(file, "Bob", arena, &why, &error), MST_INVALID, "stand alone");
    mst_file_rollback(file);
    mst_file_close(file);
}

static void a_conflict_says_who_did_what(void **state) {
    (void)state;
    mst_file *mine = new_site(), *other = open_site();
    int64_t seen = revision(mine);
    went_well(mst_file_begin(other, seen, "Bob", "took in the levels", &error));
    went_well(mst_file_put_setting(other, "a", "b", &error));
    commit(other);
    refused(mst_file_begin(mine, seen, "Ann", "mine", &error), MST_CONFLICT, "Bob did 'took in the levels'");
    refused(mst_file_begin(mine, 77, "Ann", "mine", &error), MST_CONFLICT, "look at it again");
    went_well(mst_file_begin(mine, revision(mine), "Ann", "mine", &error));
    mst_file_rollback(mine);
    went_well(mst_file_begin(mine, -1, "Ann", "mine", &error));
    mst_file_rollback(mine);
    refused(mst_file_begin(mine, -1, "\xFF", "mine", &error), MST_INVALID, "UTF-8");
    mst_file_close(mine);
    mst_file_close(other);
}

static void a_change_that_changes_nothing_makes_no_revision(void **state) {
    (void)state;
    mst_file *file = new_site();
    put_setting(file, "currency", "EUR");
    put_setting(file, "currency", "EUR");
    assert_int_equal(revision(file), 2);
    mst_file_close(file);
}

static void edit_outside(const char *sql) {
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

static void an_undo_never_overwrites_what_another_program_wrote(void **state) {
    (void)state;
    mst_file *file = new_site();
    const char *why;
    put_setting(file, "currency", "EUR");
    edit_outside("UPDATE site_setting SET value = 'GBP' WHERE name = 'currency'");
    refused(mst_file_undo(file, "Ann", arena, &why, &error), MST_INVALID, "edited outside");
    assert_string_equal(mst_site_setting(load(file), "currency", ""), "GBP");
    assert_int_equal(revision(file), 2);
    mst_file_close(file);
}

static void a_damaged_history_is_refused(void **state) {
    (void)state;
    static const char *const harm[] = {"table_name = 'sqlite_master'",
                                       "before = NULL, after = NULL",
                                       "after = NULL, before = '[1,2]'",
                                       "after = NULL, before = 'no JSON'",
                                       "after = NULL, before = '{\"id\":\"x\"}'",
                                       "row_id = 99"};
    for (size_t i = 0; i < sizeof harm / sizeof *harm; i++) {
        mst_file *file = new_site();
        const char *why;
        put_setting(file, "currency", "EUR");
        edit_outside("DELETE FROM site_setting WHERE name = 'currency'");
        edit_outside(mst_arena_printf(arena, "UPDATE site_change_row SET %s", harm[i]));
        assert_int_equal(mst_file_undo(file, "Ann", arena, &why, &error), MST_INVALID);
        assert_int_equal(revision(file), 2);
        mst_file_close(file);
        unlink(path);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(each_kind_of_change_is_undone_and_redone_to_the_bit, make, drop),
        cmocka_unit_test_setup_teardown(all_is_undone_back_to_the_empty_site_and_redone, make, drop),
        cmocka_unit_test_setup_teardown(a_random_walk_agrees_with_a_plain_list, make, drop),
        cmocka_unit_test_setup_teardown(the_history_names_who_when_and_why, make, drop),
        cmocka_unit_test_setup_teardown(an_undo_can_be_part_of_a_begun_change, make, drop),
        cmocka_unit_test_setup_teardown(a_conflict_says_who_did_what, make, drop),
        cmocka_unit_test_setup_teardown(a_change_that_changes_nothing_makes_no_revision, make, drop),
        cmocka_unit_test_setup_teardown(an_undo_never_overwrites_what_another_program_wrote, make, drop),
        cmocka_unit_test_setup_teardown(a_damaged_history_is_refused, make, drop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
