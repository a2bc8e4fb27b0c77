/* Changes: one transaction each, with who, when and why; undo, redo and the list of them all.
 *
 * An undo is itself a change that names its target, and marks the target as undone by it. What can be redone follows
 * from these marks alone: an undone change, as long as no ordinary change came after the undo. */
#include "site/file_rows.h"
#include <stdio.h>
#include <string.h>

mst_status mst_file_revision(mst_file *file, int64_t *revision, mst_error *error) {
    return mst_sql_integer(file, "SELECT max(id) FROM site_change", NULL, 0, revision, error);
}

/* ---- begin ---- */

/* Who moved the site on since the caller looked, in one sentence. */
static mst_status say_conflict(mst_file *file, int64_t expected, int64_t revision, mst_error *error) {
    if (expected > revision)
        return mst_fail_at(
            error, MST_CONFLICT, file->path, 0, 0,
            "The site is at revision %lld and has no %lld yet; look at it again, then repeat your change.",
            (long long)revision, (long long)expected);
    sqlite3_stmt *query;
    char list[260] = "";
    int named = 0;
    mst_status status =
        mst_sql_open(file, "SELECT who, why, at FROM site_change WHERE id > ?1 ORDER BY id DESC LIMIT 2",
                     MST_CELLS(mst_cell_integer(expected)), &query, error);
    if (status) return status;
    while (mst_sql_next(file, query, &status, error)) {
        const char *who = (const char *)sqlite3_column_text(query, 0),
                   *why = (const char *)sqlite3_column_text(query, 1);
        const char *at = (const char *)sqlite3_column_text(query, 2);
        size_t used = strlen(list);
        snprintf(list + used, sizeof list - used, "%s%.30s did '%.60s' at %.16s", named++ ? ", before that " : "",
                 who && *who ? who : "somebody", why ? why : "", at ? at : "");
    }
    if (status) return status;
    return mst_fail_at(
        error, MST_CONFLICT, file->path, 0, 0,
        "The site has changed since you looked (revision %lld, now %lld): %s UTC; look again, then repeat your change.",
        (long long)expected, (long long)revision, list);
}

static mst_status check_revision(mst_file *file, int64_t expected, mst_error *error) {
    int64_t revision = 0;
    mst_status status = mst_file_revision(file, &revision, error);
    if (status || expected < 0 || expected == revision) return status;
    return say_conflict(file, expected, revision, error);
}

mst_status mst_file_begin(mst_file *file, int64_t expected, const char *who, const char *why, mst_error *error) {
    if (file->change)
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0, "A change is under way already; finish it first.");
    if (!mst_is_utf8(who) || !mst_is_utf8(why))
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                           "The name or the reason for the history is not UTF-8 text.");
    if (sqlite3_db_readonly(file->db, "main") == 1)
        return mst_fail_at(error, MST_IO, file->path, 0, 0,
                           "This site cannot be written; check who may write to the file.");
    mst_status status = mst_sql_script(file, "BEGIN IMMEDIATE", error);
    if (status) return status;
    status = check_revision(file, expected, error);
    if (!status)
        status = mst_sql_run(file, "INSERT INTO site_change (who, why, kind) VALUES (?1, ?2, 'change')",
                             MST_CELLS(mst_cell_text(who), mst_cell_text(why)), error);
    file->change = sqlite3_last_insert_rowid(file->db);
    file->rows = 0;
    file->touched = 0;
    file->spoiled = false;
    if (status) mst_file_rollback(file);
    return status;
}

/* ---- commit, rollback ---- */

void mst_file_rollback(mst_file *file) {
    if (!sqlite3_get_autocommit(file->db))
        sqlite3_exec(file->db, "ROLLBACK", NULL, NULL, NULL); /* else it has rolled back itself */
    file->change = 0;
    file->spoiled = false;
}

/* A change that changed nothing leaves no revision behind. */
static mst_status close_change(mst_file *file, mst_error *error) {
    if (file->rows == 0)
        return mst_sql_run(file, "DELETE FROM site_change WHERE id = ?1", MST_CELLS(mst_cell_integer(file->change)),
                           error);
    mst_status status = mst_sql_run(file, "UPDATE site_change SET row_count = ?2 WHERE id = ?1",
                                    MST_CELLS(mst_cell_integer(file->change), mst_cell_integer(file->rows)), error);
    return status ? status : mst_rows_date(file, error);
}

mst_status mst_file_commit(mst_file *file, mst_error *error) {
    if (!file->change)
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0, "There is no change under way to finish.");
    mst_status status = MST_OK;
    if (file->spoiled)
        status = mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                             "A step of this change failed, so none of it was stored.");
    if (!status) status = close_change(file, error);
    if (!status) status = mst_sql_script(file, "COMMIT", error);
    if (status) mst_file_rollback(file);
    file->change = 0;
    return status;
}

/* ---- undo, redo ---- */

typedef struct turn {
    bool forward;
    const char *find, *word;
} turn;

static const turn UNDO = {
    false,
    "SELECT id, why, row_count FROM site_change WHERE kind = 'change' AND undone_by IS NULL AND id < ?1"
    " ORDER BY id DESC LIMIT 1",
    "undo"};
static const turn REDO = {true,
                          "SELECT id, why, row_count FROM site_change WHERE undone_by > (SELECT ifnull(max(id), 0)"
                          " FROM site_change WHERE kind = 'change' AND id < ?1) ORDER BY undone_by DESC LIMIT 1",
                          "redo"};

/* Finds what to turn; its id, its why and how many rows it touched. */
static mst_status find_target(mst_file *file, const turn *t, int64_t *target, int64_t *rows, mst_arena *arena,
                              const char **why, mst_error *error) {
    sqlite3_stmt *query;
    mst_status status = mst_sql_open(file, t->find, MST_CELLS(mst_cell_integer(file->change)), &query, error);
    if (status) return status;
    *target = 0;
    while (mst_sql_next(file, query, &status, error)) {
        *target = sqlite3_column_int64(query, 0);
        *why = mst_sql_text(query, 1, arena);
        *rows = sqlite3_column_int64(query, 2);
    }
    if (status) return status;
    if (!*target) return mst_fail_at(error, MST_NO, file->path, 0, 0, "There is nothing to %s.", t->word);
    return *why ? MST_OK : mst_file_no_memory(file, error);
}

/* Turns the change in flight into the undo or redo of its target. */
static mst_status turn_inside(mst_file *file, const turn *t, const char *who, mst_arena *arena, const char **why,
                              mst_error *error) {
    int64_t target, rows = 0;
    const char *what = NULL;
    mst_status status = find_target(file, t, &target, &rows, arena, &what, error);
    if (status) return status;
    const char *text =
        mst_arena_printf(arena, "%s revision %lld: %s", t->forward ? "Redo" : "Undo", (long long)target, what);
    if (!text) return mst_file_no_memory(file, error);
    mst_cell by = t->forward ? mst_cell_text(NULL) : mst_cell_integer(file->change);
    status = mst_rows_replay(file, target, t->forward, error);
    if (!status)
        status = mst_sql_run(file, "UPDATE site_change SET undone_by = ?2 WHERE id = ?1",
                             MST_CELLS(mst_cell_integer(target), by), error);
    if (!status)
        status = mst_sql_run(file, "UPDATE site_change SET kind = ?2, target = ?3, who = ?4, why = ?5 WHERE id = ?1",
                             MST_CELLS(mst_cell_integer(file->change), mst_cell_text(t->word), mst_cell_integer(target),
                                       mst_cell_text(who), mst_cell_text(text)),
                             error);
    file->rows = rows;
    if (!status) *why = what;
    return status;
}

static mst_status turn_over(mst_file *file, const turn *t, const char *who, mst_arena *arena, const char **why,
                            mst_error *error) {
    if (file->change && file->rows)
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                           "Undo and redo stand alone; finish the change under way first.");
    if (file->change) return turn_inside(file, t, who, arena, why, error);
    mst_status status = mst_file_begin(file, -1, who, "", error);
    if (status) return status;
    status = turn_inside(file, t, who, arena, why, error);
    if (!status) return mst_file_commit(file, error);
    mst_file_rollback(file);
    return status;
}

mst_status mst_file_undo(mst_file *file, const char *who, mst_arena *arena, const char **why, mst_error *error) {
    return turn_over(file, &UNDO, who, arena, why, error);
}

mst_status mst_file_redo(mst_file *file, const char *who, mst_arena *arena, const char **why, mst_error *error) {
    return turn_over(file, &REDO, who, arena, why, error);
}

/* ---- history ---- */

mst_status mst_file_history(mst_file *file, mst_arena *arena, mst_change **changes, size_t *count, mst_error *error) {
    mst_change *list = NULL;
    size_t used = 0, room = 0;
    sqlite3_stmt *query;
    mst_status status =
        mst_sql_open(file, "SELECT id, at, who, why, undone_by IS NOT NULL, row_count FROM site_change ORDER BY id",
                     NULL, 0, &query, error);
    if (status) return status;
    while (mst_sql_next(file, query, &status, error)) {
        mst_change *c = MST_PUSH(arena, list, used, room);
        if (c)
            *c = (mst_change){sqlite3_column_int64(query, 0),    mst_sql_text(query, 1, arena),
                              mst_sql_text(query, 2, arena),     mst_sql_text(query, 3, arena),
                              sqlite3_column_int(query, 4) != 0, sqlite3_column_int64(query, 5)};
        if (c && c->at && c->who && c->why) continue;
        mst_sql_leave(query);
        return mst_file_no_memory(file, error);
    }
    *changes = list;
    *count = used;
    return status;
}
