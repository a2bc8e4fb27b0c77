/* Rows with a history. A row's image is one JSON object, its columns in the order of the table; undo and redo compare
 * and restore images and know nothing else of the tables. */
#include "site/file_rows.h"
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

/* The statements of a table, from its name, its key and its other columns with their places. */
typedef struct table {
    const char *name, *select, *insert, *update, *remove;
} table;
#define TABLE(name, key, columns, places)                                                                              \
    {                                                                                                                  \
        name, "SELECT " key ", " columns " FROM " name " WHERE " key " = ?1",                                          \
            "INSERT INTO " name " (" key ", " columns ") VALUES (?1, " places ")",                                     \
            "UPDATE " name " SET (" columns ") = (" places ") WHERE " key " = ?1",                                     \
            "DELETE FROM " name " WHERE " key " = ?1"                                                                  \
    }

static const table TABLES[MST_TABLES] = {
    [MST_TABLE_SETTING] = TABLE("site_setting", "id", "name, value", "?2, ?3"),
    [MST_TABLE_VISIT] = {"site_visit", "SELECT id, name FROM site_visit WHERE id = ?1",
                         "INSERT INTO site_visit (id, name) VALUES (?1, ?2)",
                         "UPDATE site_visit SET name = ?2 WHERE id = ?1", "DELETE FROM site_visit WHERE id = ?1"},
    [MST_TABLE_GEAR] = TABLE("site_gear", "id",
                             "name, source, distance_m, distance_ppm, angle_rad, zenith_rad, centring_m, plan_m, "
                             "height_m, staff_m, levelled_km_m, leg_m, leg_rate, leg_power, leg_height_ratio",
                             "?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16"),
    [MST_TABLE_PAGE] = TABLE("site_page", "id", "kind, name, visit, gear, site_frame, header, notes, withdrawn",
                             "?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9"),
    [MST_TABLE_SET_ASIDE] = {"site_set_aside", "SELECT reading, reason FROM site_set_aside WHERE reading = ?1",
                             "INSERT INTO site_set_aside (reading, reason) VALUES (?1, ?2)",
                             "UPDATE site_set_aside SET reason = ?2 WHERE reading = ?1",
                             "DELETE FROM site_set_aside WHERE reading = ?1"},
    [MST_TABLE_FEATURE] = TABLE("site_feature", "id", "name, code, kind, role, page", "?2, ?3, ?4, ?5, ?6"),
    [MST_TABLE_VERTEX] =
        TABLE("site_feature_vertex", "id", "feature, position, point, edge, ring, line", "?2, ?3, ?4, ?5, ?6, ?7"),
    [MST_TABLE_WORK] = TABLE("site_work", "id", "name, position, definition", "?2, ?3, ?4"),
    [MST_TABLE_SHEET] = TABLE("site_sheet", "id", "name, definition", "?2, ?3"),
};
enum { COLUMNS_MAX = 16 };

static mst_status spoil(mst_file *file, mst_status status) {
    file->spoiled = true;
    return status;
}

/* ---- images ---- */

static json_t *image_value(sqlite3_stmt *query, int column) {
    switch (sqlite3_column_type(query, column)) {
    case SQLITE_INTEGER:
        return json_integer(sqlite3_column_int64(query, column));
    case SQLITE_FLOAT:
        return json_real(sqlite3_column_double(query, column));
    case SQLITE_NULL:
        return json_null();
    default: {
        const char *text = (const char *)sqlite3_column_text(query, column);
        return text ? json_stringn(text, (size_t)sqlite3_column_bytes(query, column)) : NULL;
    }
    }
}

/* The row under the query as text; the caller frees it. Seventeen digits bring a double back to the bit. */
static char *image_text(sqlite3_stmt *query) {
    json_t *image = json_object();
    bool whole = image != NULL;
    for (int i = 0; whole && i < sqlite3_column_count(query); i++)
        whole = json_object_set_new(image, sqlite3_column_name(query, i), image_value(query, i)) == 0;
    char *text = whole ? json_dumps(image, JSON_COMPACT | JSON_REAL_PRECISION(17)) : NULL;
    json_decref(image);
    return text;
}

/* @param text  the row's image, or NULL when it is not there; the caller frees it */
static mst_status image_of(mst_file *file, const table *t, int64_t id, char **text, mst_error *error) {
    sqlite3_stmt *query;
    *text = NULL;
    mst_status status = mst_sql_open(file, t->select, MST_CELLS(mst_cell_integer(id)), &query, error);
    if (status) return status;
    bool there = false;
    while (mst_sql_next(file, query, &status, error)) {
        there = true;
        *text = image_text(query);
    }
    if (status || !there || *text) return status;
    return spoil(file, mst_file_no_memory(file, error));
}

/* Names and texts go into images, so they are held to what JSON can carry before they are stored. */
static mst_status check_texts(const mst_file *file, const mst_cell cells[], size_t count, mst_error *error) {
    for (size_t i = 0; i < count; i++)
        if (cells[i].kind == MST_CELL_TEXT && !mst_is_utf8(cells[i].text))
            return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                               "A name or text is not UTF-8; save it as UTF-8 or type it again.");
    return MST_OK;
}

static mst_status log_row(mst_file *file, mst_table which, int64_t id, const char *before, const char *after,
                          mst_error *error) {
    file->rows++;
    file->touched |= 1u << which;
    return mst_sql_run(
        file, "INSERT INTO site_change_row (change, table_name, row_id, before, after) VALUES (?1, ?2, ?3, ?4, ?5)",
        MST_CELLS(mst_cell_integer(file->change), mst_cell_text(TABLES[which].name), mst_cell_integer(id),
                  mst_cell_text(before), mst_cell_text(after)),
        error);
}

/* ---- one row ---- */

/* Runs a statement on one row and keeps what the row was before it and is after it. */
static mst_status alter(mst_file *file, mst_table which, int64_t *id, const char *sql, const mst_cell cells[],
                        size_t count, const char *before, mst_error *error) {
    char *after = NULL;
    mst_status status = mst_sql_run(file, sql, cells, count, error);
    if (!status && !*id) *id = sqlite3_last_insert_rowid(file->db);
    if (!status) status = image_of(file, &TABLES[which], *id, &after, error);
    bool same = before && after && strcmp(before, after) == 0;
    if (!status && !same) status = log_row(file, which, *id, before, after, error);
    free(after);
    return status;
}

mst_status mst_row_put(mst_file *file, mst_table which, int64_t *id, const mst_cell cells[], size_t count,
                       mst_error *error) {
    const table *t = &TABLES[which];
    mst_cell all[COLUMNS_MAX] = {*id ? mst_cell_integer(*id) : mst_cell_text(NULL)}; /* NULL: the next free one */
    memcpy(all + 1, cells, count * sizeof *cells);
    char *before = NULL;
    mst_status status = check_texts(file, cells, count, error);
    if (!status && *id) status = image_of(file, t, *id, &before, error);
    if (!status) status = alter(file, which, id, before ? t->update : t->insert, all, count + 1, before, error);
    free(before);
    return status;
}

mst_status mst_row_alter(mst_file *file, mst_table which, int64_t id, const char *sql, mst_error *error) {
    char *before = NULL;
    mst_status status = image_of(file, &TABLES[which], id, &before, error);
    if (!status && !before)
        status = mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "There is no such row to alter.");
    if (!status) status = alter(file, which, &id, sql, MST_CELLS(mst_cell_integer(id)), before, error);
    free(before);
    return status;
}

mst_status mst_row_remove(mst_file *file, mst_table which, int64_t id, mst_error *error) {
    char *before = NULL;
    mst_status status = image_of(file, &TABLES[which], id, &before, error);
    if (!status && !before)
        status = mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "There is no such row to remove.");
    if (!status) status = mst_sql_run(file, TABLES[which].remove, MST_CELLS(mst_cell_integer(id)), error);
    if (!status) status = log_row(file, which, id, before, NULL, error);
    free(before);
    return status;
}

/* ---- replay ---- */

/* One row of a change: from what it should be now to what it becomes. */
typedef struct step {
    mst_table which;
    int64_t id;
    const char *now, *then;
} step;

static mst_status odd_history(mst_file *file, mst_error *error) {
    if (sqlite3_errcode(file->db) == SQLITE_NOMEM)
        return mst_sql_failed(file, error); /* a text that could not be fetched */
    return spoil(file, mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                                   "The history of this site file is damaged; nothing was changed."));
}

static mst_cell cell_of(const json_t *value) {
    switch (json_typeof(value)) {
    case JSON_INTEGER:
        return mst_cell_integer(json_integer_value(value));
    case JSON_REAL:
        return mst_cell_real(json_real_value(value));
    case JSON_STRING:
        return mst_cell_text(json_string_value(value));
    default:
        return mst_cell_text(NULL);
    }
}

/* Why an image could not be read: the JSON reader does not tell a bad text from too little memory. */
static mst_status unread_image(mst_file *file, const char *text, mst_error *error) {
    int64_t valid = 0;
    mst_status status = mst_sql_integer(file, "SELECT json_valid(?1)", MST_CELLS(mst_cell_text(text)), &valid, error);
    if (status) return status;
    return valid ? spoil(file, mst_file_no_memory(file, error)) : odd_history(file, error);
}

/* Images list their columns in the order of the table, the key first, so that they are bound as they come. */
static mst_status restore(mst_file *file, const step *s, mst_error *error) {
    json_t *image = json_loads(s->then, JSON_REJECT_DUPLICATES, NULL);
    if (!image) return unread_image(file, s->then, error);
    mst_cell cells[COLUMNS_MAX];
    size_t count = 0;
    const char *name;
    json_t *value;
    json_object_foreach(image, name, value) {
        if (count < COLUMNS_MAX) cells[count] = cell_of(value);
        count++;
    }
    const table *t = &TABLES[s->which];
    bool fits = count > 0 && count <= COLUMNS_MAX && cells[0].kind == MST_CELL_INTEGER && cells[0].integer == s->id;
    mst_status status =
        fits ? mst_sql_run(file, s->now ? t->update : t->insert, cells, count, error) : odd_history(file, error);
    json_decref(image);
    return status;
}

static mst_status take_step(mst_file *file, const step *s, mst_error *error) {
    char *found = NULL;
    mst_status status = image_of(file, &TABLES[s->which], s->id, &found, error);
    bool as_left = !status && (s->now ? found && strcmp(found, s->now) == 0 : !found);
    free(found);
    if (status) return status;
    if (!as_left)
        return spoil(file,
                     mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                                 "Row %lld of %s was edited outside the history, so this step would overwrite that; "
                                 "nothing was changed.",
                                 (long long)s->id, TABLES[s->which].name));
    file->touched |= 1u << s->which;
    if (s->then) return restore(file, s, error);
    return mst_sql_run(file, TABLES[s->which].remove, MST_CELLS(mst_cell_integer(s->id)), error);
}

static bool table_named(const char *name, mst_table *which) {
    for (int i = 0; name && i < MST_TABLES; i++)
        if (strcmp(name, TABLES[i].name) == 0) return *which = (mst_table)i, true;
    return false;
}

mst_status mst_rows_replay(mst_file *file, int64_t change, bool forward, mst_error *error) {
    sqlite3_stmt *query;
    const char *sql =
        forward ? "SELECT table_name, row_id, before, after FROM site_change_row WHERE change = ?1 ORDER BY id"
                : "SELECT table_name, row_id, after, before FROM site_change_row WHERE change = ?1 ORDER BY id DESC";
    mst_status status = mst_sql_open(file, sql, MST_CELLS(mst_cell_integer(change)), &query, error), stepped = MST_OK;
    if (status) return status;
    while (!stepped && mst_sql_next(file, query, &status, error)) {
        step s = {.id = sqlite3_column_int64(query, 1),
                  .now = (const char *)sqlite3_column_text(query, 2),
                  .then = (const char *)sqlite3_column_text(query, 3)};
        bool known = table_named((const char *)sqlite3_column_text(query, 0), &s.which) && (s.now || s.then);
        stepped = known ? take_step(file, &s, error) : odd_history(file, error);
        if (stepped) mst_sql_leave(query);
    }
    return stepped ? stepped : status;
}

mst_status mst_rows_date(mst_file *file, mst_error *error) {
    mst_status status = MST_OK;
    for (int i = 0; !status && i <= MST_TABLES + 2; i++) {
        const char *name =
            i < MST_TABLES ? TABLES[i].name
                           : (const char *const[]){"site_reading", "site_change", "site_change_row"}[i - MST_TABLES];
        if (i <= MST_TABLES && !(file->touched >> i & 1)) continue;
        status = mst_sql_run(
            file, "UPDATE gpkg_contents SET last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now') WHERE table_name = ?1",
            MST_CELLS(mst_cell_text(name)), error);
    }
    return status;
}
