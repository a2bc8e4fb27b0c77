/* Whatever stops a change, the file is as it was before it: a killed process, a full or failing disk, no memory.
 * And two programs at once lose nothing. */
#include "site/file_helper.h"
#include <errno.h>
#include <jansson.h>
#include <signal.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>

/* ---- a machine that fails on demand ---- */

static long disk_steps_left = -1, memory_left = -1; /* how many still go well; -1: all */
static bool disk_stays_bad;
static int disk_code;

static bool disk_fails(void) {
    if (disk_steps_left < 0) return false;
    if (disk_steps_left > 0) return disk_steps_left--, false;
    if (!disk_stays_bad) disk_steps_left = -1;
    return true;
}
static bool memory_fails(void) {
    if (memory_left < 0) return false;
    if (memory_left > 0) return memory_left--, false;
    return true; /* and stays short until told otherwise */
}

/* An SQLite file system that hands on to the real one. */
typedef struct shim {
    sqlite3_file base;
    sqlite3_file *real;
} shim;
static sqlite3_vfs *real_vfs, shim_vfs;
static sqlite3_file *real_of(sqlite3_file *f) { return ((shim *)f)->real; }
static int shim_close(sqlite3_file *f) { return real_of(f)->pMethods->xClose(real_of(f)); }
static int shim_read(sqlite3_file *f, void *b, int n, sqlite3_int64 at) {
    return real_of(f)->pMethods->xRead(real_of(f), b, n, at);
}
static int shim_write(sqlite3_file *f, const void *b, int n, sqlite3_int64 at) {
    return disk_fails() ? disk_code : real_of(f)->pMethods->xWrite(real_of(f), b, n, at);
}
static int shim_truncate(sqlite3_file *f, sqlite3_int64 n) {
    return disk_fails() ? SQLITE_IOERR_TRUNCATE : real_of(f)->pMethods->xTruncate(real_of(f), n);
}
static int shim_sync(sqlite3_file *f, int flags) {
    return disk_fails() ? SQLITE_IOERR_FSYNC : real_of(f)->pMethods->xSync(real_of(f), flags);
}
static int shim_size(sqlite3_file *f, sqlite3_int64 *n) { return real_of(f)->pMethods->xFileSize(real_of(f), n); }
static int shim_lock(sqlite3_file *f, int l) { return real_of(f)->pMethods->xLock(real_of(f), l); }
static int shim_unlock(sqlite3_file *f, int l) { return real_of(f)->pMethods->xUnlock(real_of(f), l); }
static int shim_reserved(sqlite3_file *f, int *out) {
    return real_of(f)->pMethods->xCheckReservedLock(real_of(f), out);
}
static int shim_control(sqlite3_file *f, int op, void *arg) {
    return real_of(f)->pMethods->xFileControl(real_of(f), op, arg);
}
static int shim_sector(sqlite3_file *f) { return real_of(f)->pMethods->xSectorSize(real_of(f)); }
static int shim_traits(sqlite3_file *f) { return real_of(f)->pMethods->xDeviceCharacteristics(real_of(f)); }
static const sqlite3_io_methods SHIM = {.iVersion = 1,
                                        .xClose = shim_close,
                                        .xRead = shim_read,
                                        .xWrite = shim_write,
                                        .xTruncate = shim_truncate,
                                        .xSync = shim_sync,
                                        .xFileSize = shim_size,
                                        .xLock = shim_lock,
                                        .xUnlock = shim_unlock,
                                        .xCheckReservedLock = shim_reserved,
                                        .xFileControl = shim_control,
                                        .xSectorSize = shim_sector,
                                        .xDeviceCharacteristics = shim_traits};
static int shim_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *f, int flags, int *out) {
    (void)vfs;
    shim *s = (shim *)f;
    s->real = (sqlite3_file *)(s + 1);
    int code = real_vfs->xOpen(real_vfs, name, s->real, flags, out);
    s->base.pMethods = s->real->pMethods ? &SHIM : NULL;
    return code;
}
static int shim_delete(sqlite3_vfs *vfs, const char *name, int sync) {
    (void)vfs;
    return disk_fails() ? SQLITE_IOERR_DELETE : real_vfs->xDelete(real_vfs, name, sync);
}

static sqlite3_mem_methods real_memory;
static void *short_malloc(int n) { return memory_fails() ? NULL : real_memory.xMalloc(n); }
static void *short_realloc(void *p, int n) { return memory_fails() ? NULL : real_memory.xRealloc(p, n); }
static void *short_json(size_t n) { return memory_fails() ? NULL : malloc(n); }

static void make_a_failing_machine(void) {
    sqlite3_config(SQLITE_CONFIG_GETMALLOC, &real_memory);
    sqlite3_mem_methods memory = real_memory;
    memory.xMalloc = short_malloc;
    memory.xRealloc = short_realloc;
    sqlite3_config(SQLITE_CONFIG_MALLOC, &memory);
    json_set_alloc_funcs(short_json, free);
    real_vfs = sqlite3_vfs_find(NULL);
    shim_vfs = *real_vfs;
    shim_vfs.zName = "failing";
    shim_vfs.szOsFile = (int)sizeof(shim) + real_vfs->szOsFile;
    shim_vfs.xOpen = shim_open;
    shim_vfs.xDelete = shim_delete;
    sqlite3_vfs_register(&shim_vfs, 1);
}

/* ---- a change with everything in it ---- */

static const double TRIANGLE[1][3][3] = {{{0, 0, 1}, {1, 0, 1}, {0, 1, 2}}};

static mst_status everything(mst_file *file, const mst_page *page) {
    mst_vertex v[] = {{"A", MST_EDGE_STRAIGHT, 0, 2}, {"B", MST_EDGE_ARC, 0, 3}};
    mst_status status = mst_file_begin(file, -1, "Ann", "everything", &error);
    if (!status) status = mst_file_add_page(file, page, &error);
    if (!status) status = mst_file_add_reading(file, 1, "C,D,1", &error);
    if (!status) status = mst_file_set_aside(file, 1, "slip", &error);
    if (!status)
        status = mst_file_put_feature(
            file, &(mst_feature){.name = "f", .code = "", .page = "", .vertices = v, .vertex_count = 2}, &error);
    if (!status) status = mst_file_put_gear(file, &(mst_gear){.name = "g", .source = "s", .plan_m = 0.25}, &error);
    if (!status) status = mst_file_publish(file, &(mst_published){.triangles = TRIANGLE, .triangle_count = 1}, &error);
    if (!status) return mst_file_commit(file, &error);
    mst_file_rollback(file);
    return status;
}

/* Old or new, nothing between, and sound. */
static bool is_new(const char *old) {
    const char *state = state_of_site();
    is_sound();
    bool changed = strcmp(state, old) != 0;
    assert_string_equal(rows_of("SELECT max(id) FROM site_change"), changed ? "3\n" : "2\n");
    if (changed) assert_string_equal(rows_of("SELECT count(*) FROM site_standing_reading"), "403\n");
    assert_string_equal(rows_of("SELECT count(*) FROM triangles"), changed ? "1\n" : "0\n");
    return changed;
}

static mst_page long_page(int rows) {
    mst_text text = {0};
    mst_text_string(&text, "from,to,distance (m)\n");
    for (int i = 0; i < rows; i++) mst_text_printf(&text, "station %d,station %d,12.%03d\n", i, i + 1, i % 1000);
    mst_page page = page_of(MST_PAGE_TAPE, "long.csv", text.data);
    mst_text_free(&text);
    return page;
}

/* Fails at every step of the disk in turn, once and for good. */
static void a_disk_that_fails_leaves_the_site_as_it_was(void **state) {
    (void)state;
    mst_file *made = new_site();
    import(made, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    mst_file_close(made);
    const char *old = state_of_site();
    mst_page page = long_page(400);
    size_t length;
    char *bytes = bytes_of(path, &length);
    static const int codes[] = {SQLITE_FULL, SQLITE_IOERR_WRITE, SQLITE_FULL};
    for (int mode = 0; mode < 3; mode++) {
        disk_code = codes[mode];
        disk_stays_bad = mode == 2;
        mst_status status = MST_IO;
        int failures = 0;
        for (long n = 0; status; n++) {
            write_bytes(path, bytes, length);
            mst_file *file = open_site();
            disk_steps_left = n;
            error = (mst_error){0};
            status = everything(file, &page);
            disk_steps_left = -1;
            if (status) {
                assert_int_equal(status, MST_IO);
                assert_non_null(strstr(error.sentence, "nothing was changed"));
                failures++;
                if (!disk_stays_bad) { /* the same program goes on once there is room */
                    assert_false(is_new(old));
                    went_well(everything(file, &page));
                    assert_true(is_new(old));
                    mst_file_close(file);
                    continue;
                }
            }
            mst_file_close(file);
            mst_file_close(open_site());
            assert_int_equal(is_new(old), status == MST_OK);
        }
        assert_true(failures > 10);
    }
    free(bytes);
}

/* The same with too little memory in SQLite or for the history, also while the file is opened, read and undone. */
static void too_little_memory_leaves_the_site_as_it_was(void **state) {
    (void)state;
    mst_file *made = new_site();
    import(made, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    mst_file_close(made);
    const char *old = state_of_site(), *why;
    mst_page page = long_page(400);
    size_t length;
    char *bytes = bytes_of(path, &length);
    mst_status status = MST_NO_MEMORY;
    int failures = 0;
    for (long n = 0; status; n += 1 + n / 25) {
        mst_file *file = NULL;
        mst_site *site;
        write_bytes(path, bytes, length);
        memory_left = n;
        error = (mst_error){0};
        status = mst_file_open(path, &file, &error);
        if (!status) status = mst_file_load(file, arena, &site, &error);
        if (!status) status = everything(file, &page);
        if (!status) status = mst_file_undo(file, "Ann", arena, &why, &error);
        if (!status) status = mst_file_redo(file, "Ann", arena, &why, &error);
        memory_left = -1;
        if (status) failures++;
        if (status && status != MST_NO_MEMORY) print_message("n %ld, status %d: %s\n", n, status, error.sentence);
        if (status) assert_int_equal(status, MST_NO_MEMORY);
        mst_file_close(file);
        is_sound();
        const char *now = state_of_site(), *revisions = rows_of("SELECT max(id) FROM site_change");
        assert_true(strcmp(now, old) == 0 || revisions[0] > '2');
    }
    assert_true(failures > 30);
    free(bytes);
    /* and a new file */
    unlink(path);
    for (long n = 0, done = 0; !done; n += 1 + n / 25) {
        memory_left = n;
        status = mst_file_create(path, "t", "metric", "Ann", &error);
        memory_left = -1;
        done = status == MST_OK;
        if (!done) assert_int_equal(status, MST_NO_MEMORY);
        assert_int_equal(access(path, F_OK) == 0, done);
    }
}

/* ---- kill -9 ---- */

static void pause_ms(int ms) { nanosleep(&(struct timespec){0, ms * 1000000L}, NULL); }

/* A child that has filled half of a large change and spilled it to the disk, and waits to be killed. */
static pid_t child_in_a_large_change(int *ready) {
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    if (child == 0) {
        mst_page page = long_page(60000);
        mst_file *file = open_site();
        begin(file, "large");
        went_well(mst_file_add_page(file, &page, &error));
        if (write(ends[1], "x", 1) != 1) _exit(1);
        for (;;) pause();
    }
    close(ends[1]);
    *ready = ends[0];
    return child;
}

static void killed_in_a_large_change(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\nB,C,6\n");
    mst_file_close(file);
    char *old = state_of_site();
    size_t small, large;
    free(bytes_of(path, &small));
    int ready;
    char byte;
    pid_t child = child_in_a_large_change(&ready);
    assert_int_equal(read(ready, &byte, 1), 1);
    kill(child, SIGKILL);
    assert_int_equal(waitpid(child, NULL, 0), child);
    close(ready);
    free(bytes_of(path, &large));
    struct stat journal;
    assert_true(large > small); /* half of the change is in the file already */
    assert_int_equal(stat(mst_arena_printf(arena, "%s-journal", path), &journal), 0);
    assert_true(journal.st_size > 0);
    file = open_site();
    assert_int_equal(revision(file), 2);
    assert_int_equal(load(file)->page_count, 1);
    mst_file_close(file);
    assert_string_equal(state_of_site(), old);
    is_sound();
    assert_int_equal(stat(mst_arena_printf(arena, "%s-journal", path), &journal), -1);
}

/* A child that makes changes as fast as it can and reports each revision once it is stored. */
static pid_t child_that_commits(int *reports) {
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    pid_t child = fork();
    if (child == 0) {
        mst_file *file = open_site();
        for (;;) {
            int64_t now = revision(file);
            begin(file, "step");
            went_well(mst_file_put_setting(file, "count", mst_arena_printf(arena, "%lld", (long long)now + 1), &error));
            went_well(mst_file_publish(file, &(mst_published){.triangles = TRIANGLE, .triangle_count = 1}, &error));
            commit(file);
            now++;
            if (write(ends[1], &now, sizeof now) != sizeof now) _exit(1);
        }
    }
    close(ends[1]);
    *reports = ends[0];
    return child;
}

static void killed_at_any_moment(void **state) {
    (void)state;
    mst_file_close(new_site());
    for (int round = 0; round < 30; round++) {
        int reports;
        int64_t told = 0;
        pid_t child = child_that_commits(&reports);
        pause_ms(5 + round * 7 % 45);
        kill(child, SIGKILL);
        assert_int_equal(waitpid(child, NULL, 0), child);
        while (read(reports, &told, sizeof told) == sizeof told) {}
        close(reports);
        mst_file *file = open_site();
        int64_t now = revision(file);
        if (told)
            assert_true(now == told || now == told + 1); /* what was reported is there; at most one more was stored */
        if (now > 1)
            assert_string_equal(mst_site_setting(load(file), "count", ""),
                                mst_arena_printf(arena, "%lld", (long long)now));
        mst_file_close(file);
        is_sound();
    }
}

/* ---- two at once ---- */

enum { CHANGES = 150, WRITERS = 2 };

/* Adds its own readings, every other one under the rule that nobody came between. */
static void write_changes(int writer) {
    mst_file *file = open_site();
    for (int i = 0; i < CHANGES; i++) {
        mst_status status = MST_CONFLICT;
        while (status == MST_CONFLICT) {
            int64_t seen = i % 2 ? revision(file) : -1;
            status = mst_file_begin(file, seen, writer ? "Ann" : "Bob", "one more", &error);
        }
        went_well(status);
        went_well(mst_file_add_reading(file, 1, mst_arena_printf(arena, "w%d,n%d,1", writer, i), &error));
        went_well(mst_file_put_setting(file, writer ? "ann" : "bob", mst_arena_printf(arena, "%d", i), &error));
        commit(file);
    }
    mst_file_close(file);
    _exit(0);
}

static void two_writers_lose_nothing(void **state) {
    (void)state;
    mst_file *file = new_site();
    import(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,B,12.5\n");
    mst_file_close(file);
    pid_t children[WRITERS];
    for (int w = 0; w < WRITERS; w++)
        if ((children[w] = fork()) == 0) write_changes(w);
    for (int w = 0; w < WRITERS; w++) {
        int how;
        assert_int_equal(waitpid(children[w], &how, 0), children[w]);
        assert_true(WIFEXITED(how) && WEXITSTATUS(how) == 0);
    }
    file = open_site();
    assert_int_equal(revision(file), 2 + WRITERS * CHANGES);
    mst_file_close(file);
    assert_string_equal(rows_of("SELECT count(*), count(DISTINCT record) FROM site_standing_reading"),
                        mst_arena_printf(arena, "%d|%d\n", 1 + WRITERS * CHANGES, 1 + WRITERS * CHANGES));
    assert_string_equal(rows_of("SELECT who, count(*) FROM site_change WHERE why = 'one more' GROUP BY who"),
                        mst_arena_printf(arena, "Ann|%d\nBob|%d\n", CHANGES, CHANGES));
    is_sound();
}

static void a_held_lock_is_waited_for_and_then_named(void **state) {
    (void)state;
    mst_file *mine = new_site(), *other = open_site();
    begin(other, "slow");
    struct timespec a, b;
    clock_gettime(CLOCK_MONOTONIC, &a);
    refused(mst_file_begin(mine, -1, "Ann", "x", &error), MST_IO, "Another program is writing");
    clock_gettime(CLOCK_MONOTONIC, &b);
    assert_in_range(b.tv_sec - a.tv_sec, 4, 30);
    assert_int_equal(load(mine)->revision, 1); /* reading goes on beside it */
    mst_file_rollback(other);
    begin(mine, "now");
    mst_file_rollback(mine);
    mst_file_close(mine);
    mst_file_close(other);
}

int main(void) {
    make_a_failing_machine();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_disk_that_fails_leaves_the_site_as_it_was, make, drop),
        cmocka_unit_test_setup_teardown(too_little_memory_leaves_the_site_as_it_was, make, drop),
        cmocka_unit_test_setup_teardown(killed_in_a_large_change, make, drop),
        cmocka_unit_test_setup_teardown(killed_at_any_moment, make, drop),
        cmocka_unit_test_setup_teardown(two_writers_lose_nothing, make, drop),
        cmocka_unit_test_setup_teardown(a_held_lock_is_waited_for_and_then_named, make, drop)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
