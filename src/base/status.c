/* What a failing call says: a status, one sentence, and where its input came from. */
#include "merestone/base.h"
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static mst_status fail(mst_error *error, mst_status status, const char *page, int row, int column, const char *format,
                       va_list arguments) {
    if (!error) return status;
    /* The page may be the error's own text, handed on by a caller. */
    char name[sizeof error->page];
    snprintf(name, sizeof name, "%s", page ? page : "");
    memcpy(error->page, name, sizeof name);
    vsnprintf(error->sentence, sizeof error->sentence, format, arguments);
    /* Cells and names are quoted as they came, cut to fit. */
    mst_text_tidy(error->page);
    mst_text_tidy(error->sentence);
    error->status = status;
    error->row = row;
    error->column = column;
    return status;
}

mst_status mst_fail(mst_error *error, mst_status status, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    fail(error, status, NULL, 0, 0, format, arguments);
    va_end(arguments);
    return status;
}

mst_status mst_fail_at(mst_error *error, mst_status status, const char *page, int row, int column, const char *format,
                       ...) {
    va_list arguments;
    va_start(arguments, format);
    fail(error, status, page, row, column, format, arguments);
    va_end(arguments);
    return status;
}

int mst_exit_code(mst_status status) {
    switch (status) {
    case MST_OK:
        return 0;
    case MST_NO:
        return 1;
    case MST_NO_MEMORY:
    case MST_IO:
        return 3;
    default:
        return 2;
    }
}
