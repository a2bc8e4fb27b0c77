/** @file src/site/csv.h  RFC 4180 records from UTF-8 text, one after the other, with their lines. */
#ifndef SITE_CSV_H
#define SITE_CSV_H
#include "merestone/base.h"

enum { MST_CSV_CELLS_MAX = 256, MST_CSV_CELL_BYTES_MAX = 4000 };

typedef struct mst_csv {
    const char *name; /**< file name, for errors; borrowed */
    const char *at, *end;
    int line;                             /**< line on which the next record starts, from 1 */
    bool lf, crlf, cr;                    /**< line ends seen outside quotes */
    const char *cells[MST_CSV_CELLS_MAX]; /**< of the record read last; in the arena */
    size_t count;
    const char *raw; /**< the record as it came, without its line end; in the arena */
    int record_line; /**< line on which it starts */
} mst_csv;

/** Checks the whole text (not empty, no zero bytes, UTF-8) and starts at its first record behind a byte-order mark.
 * @param had_mark  receives whether there was one; NULL: no file but a piece of one, where a mark is text */
mst_status mst_csv_start(mst_csv *csv, const char *name, const char *text, size_t length, bool *had_mark,
                         mst_error *error) MST_CHECKED;
/** Reads the next record that is not blank. @param more false at the end. @retval MST_INVALID a quote out of place ...
 */
mst_status mst_csv_next(mst_csv *csv, mst_arena *arena, bool *more, mst_error *error) MST_CHECKED;
#endif
