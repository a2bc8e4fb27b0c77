/** @file src/site/file_sql.h  SQLite behind one small seam: cached statements, typed values, one sentence per failure.
 */
#ifndef SITE_FILE_SQL_H
#define SITE_FILE_SQL_H
#include <sqlite3.h>
#include "merestone/base.h"
#include "site/file.h"

enum { MST_STATEMENTS_MAX = 160 };

struct mst_file {
    sqlite3 *db;
    char *path;
    struct mst_statement {
        const char *sql;
        sqlite3_stmt *prepared;
    } statements[MST_STATEMENTS_MAX];
    size_t statement_count;
    int64_t change;   /**< the change in flight; 0 when there is none */
    int64_t rows;     /**< stored rows that it has touched */
    unsigned touched; /**< bit per mst_table whose rows it has touched */
    bool spoiled;     /**< a statement of it failed: it can only be rolled back */
};

/** A value on its way into a statement. */
typedef struct mst_cell {
    enum { MST_CELL_NULL, MST_CELL_INTEGER, MST_CELL_REAL, MST_CELL_TEXT, MST_CELL_BLOB } kind;
    int64_t integer;
    double real;
    const char *text; /**< borrowed until the statement has run */
    size_t size;      /**< of a blob */
} mst_cell;
static inline mst_cell mst_cell_integer(int64_t v) { return (mst_cell){.kind = MST_CELL_INTEGER, .integer = v}; }
static inline mst_cell mst_cell_real(double v) {
    return (mst_cell){.kind = MST_CELL_REAL, .real = v};
} /**< NaN: NULL */
static inline mst_cell mst_cell_text(const char *v) {
    return (mst_cell){.kind = v ? MST_CELL_TEXT : MST_CELL_NULL, .text = v};
}
static inline mst_cell mst_cell_blob(const mst_text *v) {
    return (mst_cell){.kind = MST_CELL_BLOB, .text = v->data, .size = v->length};
}
/** An array of cells and its length, for the calls below. */
#define MST_CELLS(...) (const mst_cell[]){__VA_ARGS__}, sizeof((const mst_cell[]){__VA_ARGS__}) / sizeof(mst_cell)

/** Runs @p sql to its end. @p sql is a text that outlives the file (a literal): its statement is kept for the next
 * time. */
mst_status mst_sql_run(mst_file *file, const char *sql, const mst_cell cells[], size_t count,
                       mst_error *error) MST_CHECKED;
/** Starts a query; read it with mst_sql_next to its end, or leave it early with mst_sql_leave. */
mst_status mst_sql_open(mst_file *file, const char *sql, const mst_cell cells[], size_t count, sqlite3_stmt **query,
                        mst_error *error) MST_CHECKED;
/** @return true while there is a row; at the end @p status says whether all went well. */
bool mst_sql_next(mst_file *file, sqlite3_stmt *query, mst_status *status, mst_error *error);
void mst_sql_leave(sqlite3_stmt *query);
/** Runs a query for one integer. @p value stays as it is when there is no row or a NULL in it. */
mst_status mst_sql_integer(mst_file *file, const char *sql, const mst_cell cells[], size_t count, int64_t *value,
                           mst_error *error) MST_CHECKED;
/** Runs fixed statements without values, kept nowhere. */
mst_status mst_sql_script(mst_file *file, const char *sql, mst_error *error) MST_CHECKED;

/** A column as terminated text in @p arena, "" for NULL; NULL when memory is short. */
const char *mst_sql_text(sqlite3_stmt *query, int column, mst_arena *arena);
bool mst_sql_is_null(sqlite3_stmt *query, int column);

/** What SQLite said last, as a status and a sentence about the file. */
mst_status mst_sql_failed(mst_file *file, mst_error *error);
/** True for text that JSON can carry: well-formed UTF-8 (RFC 3629). */
bool mst_is_utf8(const char *text);
mst_status mst_file_no_memory(const mst_file *file, mst_error *error);
#endif
