/* Whole files or none. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <signal.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static size_t files_in_folder(void) {
    FILE *out = popen(mst_arena_printf(arena, "ls '%s' | wc -l", folder), "r");
    size_t n = 0;
    assert_int_equal(fscanf(out, "%zu", &n), 1);
    pclose(out);
    return n;
}
static void committed_as_a_whole(void **state) {
    (void)state;
    mst_atomic file = {0};
    const char *path = file_named("t");
    assert_int_equal(mst_atomic_open(&file, path, NULL), MST_OK);
    assert_true(fputs("new", file.stream) >= 0);
    assert_int_not_equal(access(path, F_OK), 0);
    assert_int_equal(mst_atomic_commit(&file, NULL), MST_OK);
    assert_string_equal(contents(path, NULL), "new");
    assert_int_equal(files_in_folder(), 1);
    mst_atomic_cancel(&file); /* after a commit: nothing */
    assert_string_equal(contents(path, NULL), "new");
}
static void cancelled_without_a_trace(void **state) {
    (void)state;
    mst_atomic file = {0};
    const char *path = file_named("t");
    FILE *old = fopen(path, "w");
    fputs("old", old);
    fclose(old);
    assert_int_equal(mst_atomic_open(&file, path, NULL), MST_OK);
    assert_true(fputs("new", file.stream) >= 0);
    mst_atomic_cancel(&file);
    assert_string_equal(contents(path, NULL), "old");
    assert_int_equal(files_in_folder(), 1);
}
/* A file size limit stands for a full disk. */
static void a_full_disk_leaves_the_old_file(void **state) {
    (void)state;
    mst_atomic file = {0};
    const char *path = file_named("t");
    FILE *old = fopen(path, "w");
    fputs("old", old);
    fclose(old);
    struct rlimit before, small;
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &before), 0);
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(mst_atomic_open(&file, path, NULL), MST_OK);
    small = before;
    small.rlim_cur = 1000;
    assert_int_equal(setrlimit(RLIMIT_FSIZE, &small), 0);
    for (int i = 0; i < 100000; i++) fputs("many words", file.stream);
    mst_error error = {0};
    mst_status status = mst_atomic_commit(&file, &error);
    setrlimit(RLIMIT_FSIZE, &before);
    assert_int_equal(status, MST_IO);
    assert_non_null(strstr(error.sentence, path));
    assert_string_equal(contents(path, NULL), "old");
    assert_int_equal(files_in_folder(), 1);
}
static void what_cannot_be_written_is_refused(void **state) {
    (void)state;
    mst_atomic file = {0};
    assert_int_equal(mst_atomic_open(&file, file_named("no/t"), NULL), MST_IO);
    assert_int_equal(mst_atomic_open(&file, folder, NULL), MST_INVALID);
    assert_null(file.stream);
}
static void two_writers_do_not_share_a_temporary(void **state) {
    (void)state;
    mst_atomic a = {0}, b = {0};
    assert_int_equal(mst_atomic_open(&a, file_named("t"), NULL), MST_OK);
    assert_int_equal(mst_atomic_open(&b, file_named("t"), NULL), MST_OK);
    assert_string_not_equal(a.temporary, b.temporary);
    assert_true(fputs("a", a.stream) >= 0 && fputs("b", b.stream) >= 0);
    assert_int_equal(mst_atomic_commit(&b, NULL), MST_OK);
    assert_int_equal(mst_atomic_commit(&a, NULL), MST_OK);
    assert_string_equal(contents(file_named("t"), NULL), "a");
    assert_int_equal(files_in_folder(), 1);
}
static void a_device_is_written_directly(void **state) {
    (void)state;
    mst_atomic file = {0};
    assert_int_equal(mst_atomic_open(&file, "/dev/null", NULL), MST_OK);
    assert_null(file.temporary);
    assert_true(fputs("x", file.stream) >= 0);
    assert_int_equal(mst_atomic_commit(&file, NULL), MST_OK);
    struct stat is;
    assert_int_equal(stat("/dev/null", &is), 0);
    assert_true(S_ISCHR(is.st_mode));
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(committed_as_a_whole),
                                       TEST(cancelled_without_a_trace),
                                       TEST(a_full_disk_leaves_the_old_file),
                                       TEST(what_cannot_be_written_is_refused),
                                       TEST(two_writers_do_not_share_a_temporary),
                                       TEST(a_device_is_written_directly)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
