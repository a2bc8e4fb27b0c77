/* A cloud as text: x, y, z and perhaps a class on each line, apart by commas, semicolons, tabs or blanks. Lines are
 * read where they lie in the buffer; only a number that is not a plain decimal is copied and read the slow way. */
#include "exchange/cloud_file.h"
#include "exchange/cloud_number.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { COLUMNS_MOST = 64, SLOTS = 4, NO_SLOT = SLOTS, WORD_MOST = 64 };
enum { EASTING, NORTHING, ELEVATION, CLASS };

typedef struct text {
    char separator;             /* ' ' stands for any run of blanks and tabs */
    uint8_t slot[COLUMNS_MOST]; /* what a column holds */
    int last;                   /* the last column that counts */
    int class_column;           /* -1 without one */
    uint64_t start;             /* behind the header */
    uint64_t first_line, line;  /* from 1: of the byte at `start`; of the one that is read next */
    size_t safe;                /* the buffer is whole lines up to here */
} text;

static mst_status refuse(const mst_cloud_file *file, uint64_t line, int column, mst_error *error,
                         const char *sentence) {
    return mst_fail_at(error, MST_INVALID, file->name, line > INT32_MAX ? INT32_MAX : (int)line, column, "%s",
                       sentence);
}

/* ---- the header ---- */

static const struct {
    const char *name;
    int slot;
} NAMES[] = {{"x", EASTING},           {"easting", EASTING},  {"e", EASTING},   {"y", NORTHING},
             {"northing", NORTHING},   {"n", NORTHING},       {"z", ELEVATION}, {"elevation", ELEVATION},
             {"level", ELEVATION},     {"height", ELEVATION}, {"h", ELEVATION}, {"class", CLASS},
             {"classification", CLASS}};

/* The name without quotes and blanks, in small letters, and the unit behind it: "Easting (ft)", "easting_ft". */
static void split_name(const char *cell, size_t length, char name[WORD_MOST], char unit[WORD_MOST]) {
    size_t n = 0;
    for (size_t i = 0; i < length && n < WORD_MOST - 1; i++)
        if (!strchr("\"' \t\r)", cell[i]) && cell[i]) name[n++] = (char)tolower((unsigned char)cell[i]);
    name[n] = unit[0] = '\0';
    size_t cut = strcspn(name, "(_[");
    if (name[cut]) {
        snprintf(unit, WORD_MOST, "%.*s", (int)strcspn(name + cut + 1, "]"), name + cut + 1);
        name[cut] = '\0';
    }
}

static double metres_of(const char *unit) {
    switch (mst_unit_named(unit)) {
    case MST_UNIT_M:
        return 1;
    case MST_UNIT_MM:
        return 0.001;
    case MST_UNIT_FT:
        return MST_FOOT_M;
    case MST_UNIT_FTUS:
        return MST_FOOT_US_M;
    default:
        return 0;
    }
}

static mst_status take_unit(mst_cloud_file *file, int slot, const char *unit, uint64_t line, int column,
                            mst_error *error) {
    double metres = metres_of(unit);
    if (!unit[0] || slot == CLASS) return MST_OK;
    if (metres == 0)
        return refuse(file, line, column, error, "The unit of this column is not known; m, mm, ft and ftus are.");
    double *known = slot == ELEVATION ? &file->facts.height_m : &file->facts.plan_m;
    if (*known > 0 && *known != metres)
        return refuse(file, line, column, error, "Easting and northing have different units.");
    *known = metres;
    return MST_OK;
}

static mst_status take_name(mst_cloud_file *file, text *t, const char *cell, size_t length, int column, bool had[SLOTS],
                            mst_error *error) {
    char name[WORD_MOST], unit[WORD_MOST];
    split_name(cell, length, name, unit);
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) {
        if (strcmp(name, NAMES[i].name) != 0) continue;
        int slot = NAMES[i].slot;
        if (had[slot]) return refuse(file, t->line, column + 1, error, "Two columns of the header mean the same.");
        had[slot] = true;
        t->slot[column] = (uint8_t)slot;
        t->last = column;
        if (slot == CLASS) t->class_column = column;
        return take_unit(file, slot, unit, t->line, column + 1, error);
    }
    return MST_OK;
}

/* The end of the cell that begins at @p p. */
static const char *cell_end(const text *t, const char *p, const char *end) {
    while (p < end && (t->separator == ' ' ? *p != ' ' && *p != '\t' : *p != t->separator)) p++;
    return p;
}
static const char *next_cell(const text *t, const char *p, const char *end) {
    if (p < end) p++;
    while (t->separator == ' ' && p < end && (*p == ' ' || *p == '\t')) p++;
    return p;
}

static mst_status take_header(mst_cloud_file *file, text *t, const char *p, const char *end, mst_error *error) {
    bool had[SLOTS] = {false};
    memset(t->slot, NO_SLOT, sizeof t->slot);
    t->last = t->class_column = -1;
    for (int column = 0; p < end && column < COLUMNS_MOST; column++) {
        const char *stop = cell_end(t, p, end);
        mst_status status = take_name(file, t, p, (size_t)(stop - p), column, had, error);
        if (status) return status;
        p = next_cell(t, stop, end);
    }
    if (!had[EASTING] || !had[NORTHING] || !had[ELEVATION])
        return refuse(file, t->line, 0, error,
                      "The header names no easting (x), northing (y) and elevation (z); give the columns, or a file "
                      "with x, y, z in this order.");
    file->facts.classed = had[CLASS];
    return MST_OK;
}

static const char *trimmed_end(const char *p, const char *end) {
    while (end > p && isspace((unsigned char)end[-1])) end--;
    return end;
}

static char separator_of(const char *p, const char *end) {
    static const char CANDIDATES[] = {';', ',', '\t'};
    for (size_t i = 0; i < sizeof CANDIDATES; i++)
        if (memchr(p, CANDIDATES[i], (size_t)(end - p))) return CANDIDATES[i];
    return ' ';
}

static bool starts_with_number(const char *p, const char *end) {
    p += p < end && (*p == '-' || *p == '+');
    p += p < end && *p == '.';
    return p < end && *p >= '0' && *p <= '9';
}

static int count_cells(const text *t, const char *p, const char *end) {
    int count = 0;
    for (; p < end; count++) p = next_cell(t, cell_end(t, p, end), end);
    return count;
}

/* Without a header: x, y, z, and a class where there are exactly four columns. */
static void take_plain(mst_cloud_file *file, text *t, const char *p, const char *end) {
    memset(t->slot, NO_SLOT, sizeof t->slot);
    for (int k = 0; k < 3; k++) t->slot[k] = (uint8_t)k;
    t->last = ELEVATION;
    t->class_column = -1;
    int cells = count_cells(t, p, end);
    if (cells == 4) {
        t->slot[3] = CLASS;
        t->last = t->class_column = 3;
        file->facts.classed = true;
    } else if (cells > 4)
        snprintf(file->facts.note, sizeof file->facts.note,
                 "The text has %d columns and no header; the first three were taken as x, y, z.", cells);
}

/* The first line that says something: a header, or the first point. */
static mst_status look_at_start(mst_cloud_file *file, text *t, const char *columns, mst_error *error) {
    const char *start = (const char *)file->buffer, *all = start + file->filled, *p = start;
    if (file->filled >= 3 && memcmp(p, "\xEF\xBB\xBF", 3) == 0) p += 3;
    for (t->line = 1; p < all; t->line++) {
        const char *newline = memchr(p, '\n', (size_t)(all - p)), *stop = newline ? newline : all;
        const char *end = trimmed_end(p, stop), *first = p;
        while (first < end && isspace((unsigned char)*first)) first++;
        bool is_point = starts_with_number(first, end);
        if (first < end && *first != '#') {
            t->separator = separator_of(first, end);
            t->start = (uint64_t)((is_point || columns ? p : newline ? newline + 1 : all) - start);
            t->first_line = is_point || columns ? t->line : t->line + 1;
            if (columns) {
                char separator = t->separator;
                t->separator = separator_of(columns, columns + strlen(columns));
                mst_status status = take_header(file, t, columns, columns + strlen(columns), error);
                t->separator = separator;
                return status;
            }
            if (!is_point) return take_header(file, t, first, end, error);
            take_plain(file, t, first, end);
            return MST_OK;
        }
        p = newline ? newline + 1 : all;
    }
    return refuse(file, 0, 0, error, "The file holds no line with a point.");
}

/* ---- lines ---- */

static inline const char *skip_blanks(const text *t, const char *p) {
    while (*p == ' ' || (*p == '\t' && t->separator != '\t')) p++;
    return p;
}

static inline bool ends_line(char c) { return c == '\n' || c == '\r'; }

/* Over a cell that does not count, with the separators between its quotes. */
static const char *skip_cell(const text *t, const char *p) {
    bool quoted = false;
    for (; !ends_line(*p) && (quoted || (t->separator == ' ' ? *p != ' ' && *p != '\t' : *p != t->separator)); p++)
        if (*p == '"') quoted = !quoted;
    return p;
}

/* A number that is no plain decimal: quoted, with an exponent, long. */
static bool slow_number(const text *t, const char **at, double *value) {
    const char *p = *at, *end = *at = skip_cell(t, p);
    char word[WORD_MOST];
    end = trimmed_end(p, end);
    if (end - p >= 2 && *p == '"' && end[-1] == '"') p++, end--;
    if (end - p >= WORD_MOST || end == p) return false;
    memcpy(word, p, (size_t)(end - p));
    word[end - p] = '\0';
    return mst_number_read(word, value);
}

static inline bool take_number(const text *t, const char **at, double *value) {
    const char *p = *at;
    if (!mst_decimal(&p, value) || (*p != t->separator && (unsigned char)*p > ' ')) return slow_number(t, at, value);
    *at = p;
    return true;
}

static mst_status no_number(const mst_cloud_file *file, const text *t, const char *p, int column, mst_error *error) {
    static const char *const WHAT[] = {"easting", "northing", "elevation", "class", "column"};
    const char *what = WHAT[t->slot[column]];
    int line = t->line > INT32_MAX ? INT32_MAX : (int)t->line;
    char shown[24];
    snprintf(shown, sizeof shown, "%.*s", (int)strcspn(p, "\r\n,;\t "), p);
    mst_text_tidy(shown);
    if (ends_line(*p))
        return mst_fail_at(error, MST_INVALID, file->name, line, column + 1, "The line ends before its %s.", what);
    return mst_fail_at(error, MST_INVALID, file->name, line, column + 1,
                       "The %s '%s' is not a number; decimals are written with a point.", what, shown);
}

static mst_status take_class(const mst_cloud_file *file, const text *t, double value, mst_cloud_point *p,
                             mst_error *error) {
    if (!(value >= 0 && value <= 255) || value != (double)(int)value)
        return refuse(file, t->line, t->class_column + 1, error, "A class is a whole number from 0 to 255.");
    p->class_code = (uint8_t)value;
    return MST_OK;
}

/* Reads the cells of one line up to the last that counts; @p at ends behind it. */
static inline mst_status take_line(const mst_cloud_file *file, const text *t, const char **at, mst_cloud_point *point,
                                   mst_error *error) {
    double values[SLOTS] = {0};
    const char *p = *at, *cell;
    for (int column = 0;; column++) {
        int slot = t->slot[column];
        cell = p = skip_blanks(t, p);
        if (slot == NO_SLOT) p = skip_cell(t, p);
        else if (!take_number(t, &p, &values[slot])) return no_number(file, t, cell, column, error);
        p = skip_blanks(t, p);
        if (t->separator == ' ') {
            if (column == t->last) break;
            continue;
        }
        if (*p != t->separator && !ends_line(*p)) return no_number(file, t, cell, column, error);
        if (column == t->last) break;
        if (ends_line(*p)) return no_number(file, t, p, column + 1, error);
        p++;
    }
    *at = p;
    *point = (mst_cloud_point){values[EASTING], values[NORTHING], values[ELEVATION], 0};
    return t->class_column >= 0 ? take_class(file, t, values[CLASS], point, error) : MST_OK;
}

/* ---- the reader ---- */

/* Makes whole lines at file->at. @return false at the end of the file */
static bool next_lines(mst_cloud_file *file, text *t, mst_status *status, mst_error *error) {
    mst_error machine = {0};
    for (;;) {
        bool more = mst_cloud_refill(file, &machine);
        if (machine.status) {
            if (error) *error = machine;
            *status = machine.status;
            return false;
        }
        t->safe = file->filled;
        while (t->safe > 0 && file->buffer[t->safe - 1] != '\n') t->safe--;
        if (t->safe > 0) return true;
        if (!more && file->filled == MST_CLOUD_BUFFER) {
            *status = refuse(file, t->line, 0, error, "The line is over a megabyte long; this is no text of points.");
            return false;
        }
        if (!more) break;
    }
    if (file->filled == 0) return false;
    file->buffer[file->filled] = '\n'; /* the last line has no end: in the room behind the buffer's end */
    t->safe = ++file->filled;
    return true;
}

static mst_status rewind_text(mst_cloud_file *file, mst_error *error) {
    (void)error;
    text *t = file->state;
    mst_cloud_seek(file, t->start);
    t->line = t->first_line;
    t->safe = 0;
    return MST_OK;
}

static mst_status read_text(mst_cloud_file *file, mst_cloud_point points[], size_t room, size_t *count,
                            mst_error *error) {
    text *t = file->state;
    mst_status status = MST_OK;
    size_t kept = 0;
    while (kept < room) {
        if (file->at >= t->safe && !next_lines(file, t, &status, error)) break;
        const char *p = (const char *)file->buffer + file->at, *safe = (const char *)file->buffer + t->safe;
        for (; kept < room && p < safe; t->line++) {
            p = skip_blanks(t, p);
            if (*p != '\n' && *p != '\r' && *p != '#') {
                status = take_line(file, t, &p, &points[kept], error);
                if (status) return status;
                kept++;
            }
            if (*p != '\n') p = memchr(p, '\n', (size_t)(safe - p));
            p++;
        }
        file->at = (size_t)(p - (const char *)file->buffer);
    }
    *count = kept;
    return status;
}

static void close_text(mst_cloud_file *file) { free(file->state); }

mst_status mst_cloud_text_open(mst_cloud_file *file, const char *columns, mst_error *error) {
    text *t = file->state = calloc(1, sizeof *t);
    if (!t) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the cloud.");
    file->reader = (mst_cloud_reader){rewind_text, read_text, close_text};
    snprintf(file->facts.kind, sizeof file->facts.kind, "text");
    while (mst_cloud_refill(file, NULL)) {}
    return look_at_start(file, t, columns, error);
}
