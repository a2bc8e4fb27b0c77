/* A site file in a folder of its own, and short ways to fill and to compare it. */
#ifndef TESTS_SITE_FILE_HELPER_H
#define TESTS_SITE_FILE_HELPER_H
#include "merestone/site.h"
#include "site/file.h"
#include <setjmp.h>
#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

static mst_arena *arena;
static mst_error error;
static char folder[64], path[96];

static inline int make(void **state) {
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/merestone-XXXXXX");
    if (!mkdtemp(folder)) return 1;
    snprintf(path, sizeof path, "%s/garden.gpkg", folder);
    arena = mst_arena_new();
    error = (mst_error){0};
    return !arena;
}

static inline int drop(void **state) {
    (void)state;
    char command[128];
    mst_arena_free(arena);
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    return system(command);
}

/* Says the sentence of a call that should have gone well. */
static inline void went_well(mst_status status) {
    if (status) print_message("status %d, %s:%d:%d: %s\n", status, error.page, error.row, error.column, error.sentence);
    assert_int_equal(status, MST_OK);
}

static inline void refused(mst_status status, mst_status with, const char *part) {
    if (status != with || !strstr(error.sentence, part)) print_message("status %d: %s\n", status, error.sentence);
    assert_int_equal(status, with);
    assert_non_null(strstr(error.sentence, part));
}

static inline mst_file *open_site(void) {
    mst_file *file = NULL;
    went_well(mst_file_open(path, &file, &error));
    return file;
}

static inline mst_file *new_site(void) {
    went_well(mst_file_create(path, "Garden at the mill", "metric", "Ann", &error));
    return open_site();
}

static inline void begin(mst_file *file, const char *why) { went_well(mst_file_begin(file, -1, "Ann", why, &error)); }
static inline void commit(mst_file *file) { went_well(mst_file_commit(file, &error)); }

static inline mst_page page_of(mst_page_kind kind, const char *name, const char *text) {
    mst_page page = {0};
    went_well(mst_page_read(kind, name, text, strlen(text), NULL, arena, &page, &error));
    page.visit = "first day";
    page.gear = "tape";
    return page;
}

static inline void import(mst_file *file, mst_page_kind kind, const char *name, const char *text) {
    mst_page page = page_of(kind, name, text);
    begin(file, name);
    went_well(mst_file_add_page(file, &page, &error));
    commit(file);
}

static inline mst_site *load(mst_file *file) {
    mst_site *site = NULL;
    went_well(mst_file_load(file, arena, &site, &error));
    return site;
}

static inline int64_t revision(mst_file *file) {
    int64_t r = -1;
    went_well(mst_file_revision(file, &r, &error));
    return r;
}

static inline void put_setting(mst_file *file, const char *key, const char *value) {
    begin(file, key);
    went_well(mst_file_put_setting(file, key, value, &error));
    commit(file);
}

/* Every row of a query as one text, through a connection of its own: what is in the file, not what we believe. */
static inline char *rows_of(const char *sql) {
    sqlite3 *db;
    sqlite3_stmt *query;
    mst_text text = {0};
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(db, sql, -1, &query, NULL) != SQLITE_OK) fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    while (sqlite3_step(query) == SQLITE_ROW) {
        for (int i = 0; i < sqlite3_column_count(query); i++) {
            const char *cell = (const char *)sqlite3_column_text(query, i);
            if (sqlite3_column_type(query, i) == SQLITE_FLOAT)
                mst_text_printf(&text, "%a", sqlite3_column_double(query, i));
            else mst_text_string(&text, cell ? cell : "NULL");
            mst_text_string(&text, i + 1 < sqlite3_column_count(query) ? "|" : "\n");
        }
    }
    sqlite3_finalize(query);
    sqlite3_close(db);
    char *copy = mst_arena_text(arena, text.data ? text.data : "", text.length);
    mst_text_free(&text);
    return copy;
}

/* The state of the site: every table that undo and redo answer for, to the bit, and the readings that stand. */
static inline char *state_of_site(void) {
    static const char *const tables[] = {"site_setting",        "site_visit",     "site_gear",
                                         "site_page",           "site_set_aside", "site_feature",
                                         "site_feature_vertex", "site_work",      "site_sheet"};
    char *all = mst_arena_string(arena, "");
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        all = mst_arena_printf(arena, "%s[%s]\n%s", all, tables[i],
                               rows_of(mst_arena_printf(arena, "SELECT * FROM %s ORDER BY 1", tables[i])));
    return mst_arena_printf(arena, "%s[readings]\n%s", all, rows_of("SELECT * FROM site_standing_reading ORDER BY id"));
}

static inline void is_sound(void) {
    assert_string_equal(rows_of("PRAGMA integrity_check"), "ok\n");
    assert_string_equal(rows_of("PRAGMA foreign_key_check"), "");
}

/* The whole of a file; the caller frees it. */
static inline char *bytes_of(const char *name, size_t *length) {
    FILE *f = fopen(name, "rb");
    assert_non_null(f);
    fseek(f, 0, SEEK_END);
    *length = (size_t)ftell(f);
    rewind(f);
    char *bytes = malloc(*length + 1);
    assert_non_null(bytes);
    assert_int_equal(fread(bytes, 1, *length, f), *length);
    fclose(f);
    return bytes;
}

static inline void write_bytes(const char *name, const char *bytes, size_t length) {
    FILE *f = fopen(name, "wb");
    assert_non_null(f);
    if (length) assert_int_equal(fwrite(bytes, 1, length, f), length);
    assert_int_equal(fclose(f), 0);
}
#endif
