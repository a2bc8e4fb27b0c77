/* Files and streams for the tests of the readers. */
#ifndef TESTS_CLOUD_TEST_H
#define TESTS_CLOUD_TEST_H
#include "merestone/exchange.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

/* A file of the data folder of the repository, else of the shared one, which not everybody has: then the test is
 * skipped. */
static inline const char *data_file(const char *name) {
    static char path[4][400];
    static int turn;
    char *p = path[turn++ % 4];
    snprintf(p, sizeof path[0], "%s/%s", TEST_DATA, name);
    if (access(p, R_OK) == 0) return p;
    snprintf(p, sizeof path[0], "%s/%s", SHARED_DATA, name);
    if (access(p, R_OK) == 0) return p;
    skip();
    return NULL;
}

/* A file of the test's own, gone with the program's end at the latest. */
static inline const char *write_file(const char *name, const void *data, size_t size) {
    static char path[8][300];
    static int turn;
    char *p = path[turn++ % 8];
    const char *folder = getenv("TMPDIR");
    snprintf(p, sizeof path[0], "%s/merestone-%d-%s", folder && *folder ? folder : "/tmp", (int)getpid(), name);
    FILE *f = fopen(p, "wb");
    assert_non_null(f);
    if (size) assert_int_equal(fwrite(data, 1, size, f), size);
    assert_int_equal(fclose(f), 0);
    return p;
}

static inline unsigned char *read_file(const char *path, size_t *size) {
    FILE *f = fopen(path, "rb");
    if (!f) fail_msg("%s is not there", path);
    unsigned char *data = malloc(8 << 20);
    *size = fread(data, 1, 8 << 20, f);
    fclose(f);
    return data;
}

/* All points of a file in metres; the caller frees them. */
static inline mst_cloud_point *all_points(mst_cloud_file *file, double plan_m, double height_m, size_t *count) {
    mst_cloud_source source = mst_cloud_file_points(file, plan_m, height_m);
    mst_error error = {0};
    size_t room = 1 << 20, came = 1;
    mst_cloud_point *points = malloc(room * sizeof *points);
    assert_int_equal(source.rewind(source.self, &error), MST_OK);
    for (*count = 0; came; *count += came) {
        if (source.read(source.self, points + *count, room - *count < 777 ? room - *count : 777, &came, &error))
            fail_msg("%s", error.sentence);
    }
    return points;
}

/* Opens and reads a file to its end; the first failure, with its sentence. */
static inline mst_status read_through(const char *path, const char *columns, size_t *count, mst_error *error) {
    mst_cloud_file *file = NULL;
    mst_cloud_point block[100];
    size_t came = 1;
    *count = 0;
    mst_status status = mst_cloud_open(path, columns, &file, error);
    if (status) return status;
    mst_cloud_source source = mst_cloud_file_points(file, 1, 1);
    status = source.rewind(source.self, error);
    for (; !status && came; *count += came) {
        status = source.read(source.self, block, 100, &came, error);
        if (status) break;
    }
    mst_cloud_close(file);
    return status;
}

static inline mst_status read_text_through(const char *text, const char *columns, size_t *count, mst_error *error) {
    const char *path = write_file("cloud.txt", text, strlen(text));
    mst_status status = read_through(path, columns, count, error);
    unlink(path);
    return status;
}
#endif
