/** @file src/site/file_rows.h  The only way to change a stored row: what it was and what it became go into the change.
 */
#ifndef SITE_FILE_ROWS_H
#define SITE_FILE_ROWS_H
#include "site/file_sql.h"

typedef enum mst_table {
    MST_TABLE_SETTING,
    MST_TABLE_VISIT,
    MST_TABLE_GEAR,
    MST_TABLE_PAGE,
    MST_TABLE_SET_ASIDE,
    MST_TABLE_FEATURE,
    MST_TABLE_VERTEX,
    MST_TABLE_WORK,
    MST_TABLE_SHEET,
    MST_TABLES,
    MST_TABLE_READING = MST_TABLES /**< touched, but only ever added to: not through here */
} mst_table;

/** Stores a row; does nothing when it is there with the same values.
 * @param id     0: a new row, whose id it receives; else the row to replace, or to add under this id
 * @param cells  the columns behind the id, in the order of the table, all of them */
mst_status mst_row_put(mst_file *file, mst_table table, int64_t *id, const mst_cell cells[], size_t count,
                       mst_error *error) MST_CHECKED;
/** Runs @p sql, a literal that updates the one row whose id is its only parameter. @retval MST_NOT_FOUND it is not
 * there */
mst_status mst_row_alter(mst_file *file, mst_table table, int64_t id, const char *sql, mst_error *error) MST_CHECKED;
/** Removes a row. @retval MST_NOT_FOUND it is not there */
mst_status mst_row_remove(mst_file *file, mst_table table, int64_t id, mst_error *error) MST_CHECKED;
/** Puts every row of @p change back to what it was before it, last first, or with @p forward to what it was after it.
 * @retval MST_INVALID  a row is not as the history left it: another program has edited the file */
mst_status mst_rows_replay(mst_file *file, int64_t change, bool forward, mst_error *error) MST_CHECKED;
/** Dates the touched tables in gpkg_contents. */
mst_status mst_rows_date(mst_file *file, mst_error *error) MST_CHECKED;
#endif
