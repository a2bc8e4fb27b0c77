/* A site of one number and its history, in place of the real operations, so that the server is tested alone. */
#ifndef DOUBLE_HELPER_H
#define DOUBLE_HELPER_H
#include "merestone/operations.h"
#include <stdio.h>
#include <string.h>

struct mst_session {
    int64_t revision;
};
static struct mst_session the_site = {7};

mst_status mst_session_open(const char *path, mst_session **session, mst_error *error) {
    if (strcmp(path, "missing.gpkg") == 0) return mst_fail(error, MST_NOT_FOUND, "There is no file missing.gpkg.");
    *session = &the_site;
    return MST_OK;
}
void mst_session_close(mst_session *session) { (void)session; }
int64_t mst_session_revision(mst_session *session) { return __atomic_load_n(&session->revision, __ATOMIC_SEQ_CST); }

static mst_status echo(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    (void)s, (void)error;
    *result = json_deep_copy(arguments);
    return MST_OK;
}
static mst_status refuse(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    (void)s, (void)arguments, (void)result;
    return mst_fail_at(error, MST_INVALID, "tape.csv", 4, 3, "The distance \"1,5\" is not a number.");
}
static mst_status say_no(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    (void)s, (void)arguments;
    *result = json_pack("{s:[]}", "checks");
    return mst_fail(error, MST_NO, "A check failed.");
}
static mst_status history(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    (void)arguments, (void)error;
    json_t *changes = json_array();
    for (int64_t i = 1; i <= s->revision; i++)
        json_array_append_new(changes, json_pack("{s:I, s:s}", "revision", (json_int_t)i, "why", "typed a tape"));
    *result = json_pack("{s:o}", "changes", changes);
    return MST_OK;
}
static mst_status edit(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    const json_t *expected = json_object_get(arguments, "expected_revision");
    if (expected && json_integer_value(expected) != s->revision)
        return mst_fail(error, MST_CONFLICT, "The site has changed since you looked.");
    int64_t made = __atomic_add_fetch(&s->revision, 1, __ATOMIC_SEQ_CST);
    *result = json_pack("{s:I}", "revision", (json_int_t)made);
    return MST_OK;
}
static mst_status take_file(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    FILE *f = fopen(json_string_value(json_object_get(arguments, "path")), "r");
    if (!f) return mst_fail(error, MST_IO, "It cannot be read.");
    char first[16] = {0};
    size_t length = fread(first, 1, sizeof first - 1, f), more;
    char rest[4096];
    while ((more = fread(rest, 1, sizeof rest, f)) > 0) length += more;
    fclose(f);
    if (json_object_get(arguments, "tolerance") == NULL) return mst_fail(error, MST_INVALID, "No tolerance.");
    __atomic_add_fetch(&s->revision, 1, __ATOMIC_SEQ_CST);
    *result = json_pack("{s:s,s:I}", "first", first, "bytes", (json_int_t)length);
    return MST_OK;
}
static mst_status write_out(mst_session *s, const json_t *arguments, json_t **result, mst_error *error) {
    (void)s;
    const char *name = json_string_value(json_object_get(arguments, "output"));
    FILE *f = name ? fopen(name, "w") : NULL;
    if (!f) return mst_fail(error, MST_IO, "It cannot be written.");
    fprintf(f, "to:%s", json_string_value(json_object_get(arguments, "to")));
    fclose(f);
    *result = json_object();
    return MST_OK;
}

static const mst_operation TABLE[] = {
    {"echo", "gives back what it got", 0, false, echo},
    {"refuse", "says what is wrong", 0, false, refuse},
    {"no", "answers no", 0, false, say_no},
    {"history", "every change", 0, false, history},
    {"edit", "makes a revision", 0, true, edit},
    {"export", "writes a file", MST_NEEDS_FILES, false, write_out},
    {"cloud", "reads a file", MST_NEEDS_FILES, true, take_file},
};
const mst_operation *mst_operations(size_t *count) {
    *count = sizeof TABLE / sizeof *TABLE;
    return TABLE;
}
const mst_operation *mst_operation_named(const char *name) {
    for (size_t i = 0; i < sizeof TABLE / sizeof *TABLE; i++)
        if (strcmp(TABLE[i].name, name) == 0) return &TABLE[i];
    return NULL;
}
mst_status mst_operate(mst_session *session, const char *name, const json_t *arguments, json_t **result,
                       mst_error *error) {
    const mst_operation *operation = mst_operation_named(name);
    if (!operation) return mst_fail(error, MST_NOT_FOUND, "There is no operation %s.", name);
    return operation->run(session, arguments, result, error);
}
#endif
