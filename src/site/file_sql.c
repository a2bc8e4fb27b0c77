/* SQLite behind one small seam. Values only ever travel as bound parameters. */
#include "site/file_sql.h"
#include <math.h>
#include <string.h>

mst_status mst_file_no_memory(const mst_file *file, mst_error *error) {
    return mst_fail_at(error, MST_NO_MEMORY, file->path, 0, 0, "There is not enough memory for this site.");
}

/* What the codes of SQLite mean to somebody who only wants his site stored. */
static mst_status say(const mst_file *file, int code, const char *detail, mst_error *error) {
    const char *path = file->path;
    switch (code & 0xff) {
    case SQLITE_NOMEM:
        return mst_file_no_memory(file, error);
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return mst_fail_at(error, MST_IO, path, 0, 0,
                           "Another program is writing to this site; try again in a moment.");
    case SQLITE_FULL:
        return mst_fail_at(error, MST_IO, path, 0, 0,
                           "The disk is full; nothing was changed. Make room, then repeat the change.");
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return mst_fail_at(error, MST_IO, path, 0, 0,
                           "This site cannot be written; check who may write to the file and to its folder.");
    case SQLITE_CANTOPEN:
        return mst_fail_at(error, MST_IO, path, 0, 0,
                           "The file or its folder cannot be opened; check who may read and write there.");
    case SQLITE_IOERR:
        return mst_fail_at(error, MST_IO, path, 0, 0,
                           "The disk failed while the site was read or written (%s); nothing was changed.", detail);
    case SQLITE_CONSTRAINT:
        return mst_fail_at(error, MST_INVALID, path, 0, 0, "This change does not fit the site as it is stored (%s).",
                           detail);
    case SQLITE_TOOBIG:
        return mst_fail_at(error, MST_INVALID, path, 0, 0, "A text is too large to be stored.");
    default:
        return mst_fail_at(error, MST_INVALID, path, 0, 0, "This site file is damaged (%s); go back to a copy of it.",
                           detail);
    }
}

mst_status mst_sql_failed(mst_file *file, mst_error *error) {
    if (file->change) file->spoiled = true;
    return say(file, sqlite3_extended_errcode(file->db), sqlite3_errmsg(file->db), error);
}

/* ---- statements ---- */

/* Drops the statements that nobody is reading from. */
static void forget_idle(mst_file *file) {
    size_t busy = 0;
    for (size_t i = 0; i < file->statement_count; i++) {
        struct mst_statement s = file->statements[i];
        if (sqlite3_stmt_busy(s.prepared)) file->statements[busy++] = s;
        else sqlite3_finalize(s.prepared);
    }
    file->statement_count = busy;
}

static sqlite3_stmt *kept(mst_file *file, const char *sql) {
    for (size_t i = 0; i < file->statement_count; i++)
        if (file->statements[i].sql == sql) return file->statements[i].prepared;
    if (file->statement_count == MST_STATEMENTS_MAX) forget_idle(file);
    sqlite3_stmt *prepared = NULL;
    if (sqlite3_prepare_v3(file->db, sql, -1, SQLITE_PREPARE_PERSISTENT, &prepared, NULL) != SQLITE_OK) return NULL;
    file->statements[file->statement_count++] = (struct mst_statement){sql, prepared};
    return prepared;
}

static int bind(sqlite3_stmt *statement, int at, const mst_cell *cell) {
    switch (cell->kind) {
    case MST_CELL_INTEGER:
        return sqlite3_bind_int64(statement, at, cell->integer);
    case MST_CELL_REAL:
        return isnan(cell->real) ? sqlite3_bind_null(statement, at) : sqlite3_bind_double(statement, at, cell->real);
    case MST_CELL_TEXT:
        return sqlite3_bind_text(statement, at, cell->text, -1, SQLITE_STATIC);
    case MST_CELL_BLOB:
        return sqlite3_bind_blob64(statement, at, cell->text, cell->size, SQLITE_STATIC);
    default:
        return sqlite3_bind_null(statement, at);
    }
}

void mst_sql_leave(sqlite3_stmt *query) {
    sqlite3_reset(query);
    sqlite3_clear_bindings(query); /* they are borrowed */
}

mst_status mst_sql_open(mst_file *file, const char *sql, const mst_cell cells[], size_t count, sqlite3_stmt **query,
                        mst_error *error) {
    sqlite3_stmt *statement = kept(file, sql);
    if (!statement) return mst_sql_failed(file, error);
    for (size_t i = 0; i < count; i++)
        if (bind(statement, (int)i + 1, &cells[i]) != SQLITE_OK) {
            mst_status status = mst_sql_failed(file, error);
            mst_sql_leave(statement);
            return status;
        }
    *query = statement;
    return MST_OK;
}

bool mst_sql_next(mst_file *file, sqlite3_stmt *query, mst_status *status, mst_error *error) {
    int code = sqlite3_step(query);
    if (code == SQLITE_ROW) return true;
    *status = code == SQLITE_DONE ? MST_OK : mst_sql_failed(file, error);
    mst_sql_leave(query);
    return false;
}

mst_status mst_sql_run(mst_file *file, const char *sql, const mst_cell cells[], size_t count, mst_error *error) {
    sqlite3_stmt *statement;
    mst_status status = mst_sql_open(file, sql, cells, count, &statement, error);
    if (status) return status;
    while (mst_sql_next(file, statement, &status, error)) {}
    return status;
}

mst_status mst_sql_integer(mst_file *file, const char *sql, const mst_cell cells[], size_t count, int64_t *value,
                           mst_error *error) {
    sqlite3_stmt *query;
    mst_status status = mst_sql_open(file, sql, cells, count, &query, error);
    if (status) return status;
    while (mst_sql_next(file, query, &status, error))
        if (!mst_sql_is_null(query, 0)) *value = sqlite3_column_int64(query, 0);
    return status;
}

mst_status mst_sql_script(mst_file *file, const char *sql, mst_error *error) {
    return sqlite3_exec(file->db, sql, NULL, NULL, NULL) == SQLITE_OK ? MST_OK : mst_sql_failed(file, error);
}

const char *mst_sql_text(sqlite3_stmt *query, int column, mst_arena *arena) {
    const char *text = (const char *)sqlite3_column_text(query, column);
    if (!text) return sqlite3_column_type(query, column) == SQLITE_NULL ? "" : NULL;
    return mst_arena_text(arena, text, (size_t)sqlite3_column_bytes(query, column));
}

bool mst_sql_is_null(sqlite3_stmt *query, int column) { return sqlite3_column_type(query, column) == SQLITE_NULL; }

/* How many bytes follow the first of a character, and the least code point that so many may carry; -1 for no first
 * byte. */
static int followers(unsigned char first, uint32_t *code, uint32_t *least) {
    static const uint32_t LEAST[4] = {0, 0x80, 0x800, 0x10000};
    int n = first < 0x80 ? 0 : first >> 5 == 6 ? 1 : first >> 4 == 14 ? 2 : first >> 3 == 30 ? 3 : -1;
    if (n < 0) return n;
    *code = n == 0 ? first : first & (0x3fu >> n);
    *least = LEAST[n];
    return n;
}

bool mst_is_utf8(const char *text) {
    for (const unsigned char *c = (const unsigned char *)text; *c;) {
        uint32_t code, least;
        int n = followers(*c++, &code, &least);
        if (n < 0) return false;
        for (; n > 0; n--, c++) {
            if (*c >> 6 != 2) return false;
            code = code << 6 | (*c & 0x3f);
        }
        if (code < least || code > 0x10ffff || (code >= 0xd800 && code <= 0xdfff)) return false;
    }
    return true;
}
