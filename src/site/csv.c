/* RFC 4180, with LF, CRLF or CR line ends. Cells lose the spaces around them: RFC 4180 keeps spaces, but a space typed
 * before a name must not make it another name. The record as it came is kept beside. */
#include "site/csv.h"
#include "site/compose.h"
#include <string.h>

static mst_status check_bytes(const char *name, const char *text, size_t length, mst_error *error) {
    int line = 1;
    for (size_t i = 0; i < length;) {
        unsigned char c = (unsigned char)text[i];
        if (c < 0x20 && c != '\n' && c != '\r' && c != '\t')
            return mst_fail_at(error, MST_INVALID, name, line, 0,
                               "This is not a text file (byte %d at position %zu); export the page as CSV, UTF-8.", c,
                               i + 1);
        size_t step = mst_utf8_length(text + i, length - i);
        if (!step)
            return mst_fail_at(error, MST_INVALID, name, line, 0,
                               "Byte %zu is not UTF-8 text; save the page as CSV with UTF-8 encoding.", i + 1);
        if (c == '\n') line++;
        i += step;
    }
    return MST_OK;
}

mst_status mst_csv_start(mst_csv *csv, const char *name, const char *text, size_t length, bool *had_mark,
                         mst_error *error) {
    bool mark = had_mark && length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0;
    if (had_mark) *had_mark = mark;
    if (length >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0))
        return mst_fail_at(error, MST_INVALID, name, 1, 0,
                           "The file is UTF-16 text; save it as CSV with UTF-8 encoding.");
    if (mark) text += 3, length -= 3;
    if (length == 0)
        return mst_fail_at(error, MST_INVALID, name, 0, 0,
                           "The file is empty; it needs a header row and its readings.");
    mst_status status = check_bytes(name, text, length, error);
    if (status) return status;
    *csv = (mst_csv){.name = name, .at = text, .end = text + length, .line = 1};
    return MST_OK;
}

/* Moves behind a line end, if one stands here. */
static bool take_line_end(mst_csv *csv, const char **at) {
    if (*at == csv->end) return true;
    if (**at == '\n') {
        csv->lf = true;
        (*at)++;
        return true;
    }
    if (**at != '\r') return false;
    (*at)++;
    if (*at < csv->end && **at == '\n') {
        csv->crlf = true;
        (*at)++;
    } else csv->cr = true;
    return true;
}

static void trim(const char **start, const char **end) {
    while (*start < *end && (**start == ' ' || **start == '\t')) (*start)++;
    while (*end > *start && ((*end)[-1] == ' ' || (*end)[-1] == '\t')) (*end)--;
}

/* A cell that begins with a quote: copies it unquoted, leaves *at behind the closing quote. */
static mst_status quoted_cell(mst_csv *csv, const char **at, mst_arena *arena, const char **cell, int *lines,
                              mst_error *error) {
    const char *start = *at + 1, *c = start;
    size_t length = 0;
    for (;; c++, length++) {
        if (c == csv->end)
            return mst_fail_at(error, MST_INVALID, csv->name, csv->record_line, (int)csv->count + 1,
                               "A quote is opened and never closed.");
        if (*c != '"') continue;
        if (c + 1 < csv->end && c[1] == '"') {
            c++;
            continue;
        }
        break;
    }
    char *copy = mst_arena_alloc(arena, length + 1);
    if (!copy) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
    size_t n = 0;
    for (const char *p = start; p < c; p++) {
        if (*p == '\n') (*lines)++;
        copy[n++] = *p;
        if (*p == '"') p++;
    }
    const char *first = copy, *last = copy + n;
    trim(&first, &last);
    copy[last - copy] = '\0';
    *cell = first;
    c++;
    while (c < csv->end && (*c == ' ' || *c == '\t')) c++;
    *at = c;
    return MST_OK;
}

static mst_status plain_cell(mst_csv *csv, const char **at, mst_arena *arena, const char **cell, mst_error *error) {
    const char *start = *at, *c = start;
    while (c < csv->end && *c != ',' && *c != '\n' && *c != '\r') {
        if (*c == '"')
            return mst_fail_at(error, MST_INVALID, csv->name, csv->record_line, (int)csv->count + 1,
                               "A quote stands inside a cell; put the whole cell in quotes and double the quote in it, "
                               "like \"12'-6\"\"\".");
        c++;
    }
    *at = c;
    trim(&start, &c);
    *cell = mst_arena_text(arena, start, (size_t)(c - start));
    return *cell ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
}

/* An inch mark is a quote, and people write 12'-6" without quoting the cell: that is let through where the cell does
 * not begin with a quote and the quote is its last character. */
static bool ends_with_inch_mark(const mst_csv *csv, const char *at) {
    const char *c = at;
    while (c < csv->end && *c != ',' && *c != '\n' && *c != '\r' && *c != '"') c++;
    if (c == at || c == csv->end || *c != '"') return false;
    c++;
    while (c < csv->end && (*c == ' ' || *c == '\t')) c++;
    return c == csv->end || *c == ',' || *c == '\n' || *c == '\r';
}

static mst_status inch_cell(mst_csv *csv, const char **at, mst_arena *arena, const char **cell, mst_error *error) {
    const char *start = *at, *c = start;
    while (c < csv->end && *c != ',' && *c != '\n' && *c != '\r') c++;
    *at = c;
    trim(&start, &c);
    *cell = mst_arena_text(arena, start, (size_t)(c - start));
    return *cell ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
}

static mst_status read_record(mst_csv *csv, mst_arena *arena, mst_error *error) {
    const char *start = csv->at, *c = start;
    int lines = 0;
    csv->count = 0;
    csv->record_line = csv->line;
    for (;;) {
        if (csv->count == MST_CSV_CELLS_MAX)
            return mst_fail_at(error, MST_INVALID, csv->name, csv->record_line, MST_CSV_CELLS_MAX,
                               "A row has more than %d cells.", MST_CSV_CELLS_MAX);
        while (c < csv->end && (*c == ' ' || *c == '\t')) c++;
        const char *cell = "";
        mst_status status = c < csv->end && *c == '"'     ? quoted_cell(csv, &c, arena, &cell, &lines, error)
                            : ends_with_inch_mark(csv, c) ? inch_cell(csv, &c, arena, &cell, error)
                                                          : plain_cell(csv, &c, arena, &cell, error);
        if (!status && !(cell = mst_compose(cell, arena)))
            status = mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
        if (status) return status;
        if (strlen(cell) > MST_CSV_CELL_BYTES_MAX)
            return mst_fail_at(error, MST_INVALID, csv->name, csv->record_line, (int)csv->count + 1,
                               "A cell is longer than %d characters.", MST_CSV_CELL_BYTES_MAX);
        csv->cells[csv->count++] = cell;
        if (c < csv->end && *c == ',') {
            c++;
            continue;
        }
        const char *raw_end = c;
        if (!take_line_end(csv, &c))
            return mst_fail_at(error, MST_INVALID, csv->name, csv->record_line, (int)csv->count,
                               "Text follows a closing quote; a comma is missing.");
        csv->raw = mst_arena_text(arena, start, (size_t)(raw_end - start));
        if (!csv->raw) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
        csv->at = c;
        csv->line += lines + 1;
        return MST_OK;
    }
}

static bool is_blank(const mst_csv *csv) {
    for (size_t i = 0; i < csv->count; i++)
        if (*csv->cells[i]) return false;
    return true;
}

mst_status mst_csv_next(mst_csv *csv, mst_arena *arena, bool *more, mst_error *error) {
    *more = false;
    while (csv->at < csv->end) {
        mst_status status = read_record(csv, arena, error);
        if (status) return status;
        if (!is_blank(csv)) {
            *more = true;
            return MST_OK;
        }
    }
    return MST_OK;
}
