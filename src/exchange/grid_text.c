/* A grid of levels in ESRI ASCII form: six words with their values, then the rows from north to south. A level stands
 * at the middle of its cell. */
#include "exchange/cloud_file.h"
#include "exchange/cloud_number.h"
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { WORD_MOST = 64, SIDE_MOST = 1000000 };
enum { COLUMNS, ROWS, WEST, SOUTH, WEST_MIDDLE, SOUTH_MIDDLE, CELL, NOTHING, WORDS };
static const char *const NAMES[WORDS] = {"ncols",     "nrows",     "xllcorner", "yllcorner",
                                         "xllcenter", "yllcenter", "cellsize",  "nodata_value"};
static const double NOTHING_VALUE = -9999; /* where the file names none */

typedef struct grid {
    uint64_t columns, rows, column, row;
    double west, south, cell, nothing; /* of the middle of the south-west cell */
    uint64_t start;
} grid;

static bool is_blank(unsigned char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; }

bool mst_grid_text_starts(const char *start) {
    while (is_blank((unsigned char)*start)) start++;
    for (int k = 0; k < WORDS; k++) {
        size_t i = 0;
        while (NAMES[k][i] && tolower((unsigned char)start[i]) == NAMES[k][i]) i++;
        if (!NAMES[k][i] && is_blank((unsigned char)start[i])) return true;
    }
    return false;
}

/* ---- words ---- */

/* Brings a whole word to the buffer's `at`. @return its length, 0 at the end of the file or on a failure */
static size_t next_word(mst_cloud_file *file, mst_error *machine) {
    for (;;) {
        while (file->at < file->filled && is_blank(file->buffer[file->at])) file->at++;
        size_t end = file->at;
        while (end < file->filled && !is_blank(file->buffer[end])) end++;
        if (end < file->filled || end - file->at > WORD_MOST) return end - file->at;
        if (!mst_cloud_refill(file, machine)) return machine->status ? 0 : file->filled - file->at;
    }
}

static bool read_number(const mst_cloud_file *file, size_t length, double *value) {
    const char *p = (const char *)file->buffer + file->at, *start = p;
    if (mst_decimal(&p, value) && p == start + length) return true;
    char word[WORD_MOST];
    if (length >= WORD_MOST) return false;
    memcpy(word, start, length);
    word[length] = '\0';
    return mst_number_read(word, value);
}

static int named(const mst_cloud_file *file, size_t length) {
    for (int k = 0; k < WORDS; k++) {
        if (strlen(NAMES[k]) != length) continue;
        size_t i = 0;
        while (i < length && tolower(file->buffer[file->at + i]) == NAMES[k][i]) i++;
        if (i == length) return k;
    }
    return WORDS;
}

/* ---- the header ---- */

static mst_status take_values(mst_cloud_file *file, double values[WORDS], mst_error *error) {
    mst_error machine = {0};
    for (;;) {
        size_t length = next_word(file, &machine);
        if (length && !isalpha(file->buffer[file->at])) return MST_OK;
        int k = named(file, length);
        if (!length || k == WORDS)
            return MST_CLOUD_REFUSE(file, error,
                                    length ? "The grid's header has a word that is not known: '%.20s'."
                                           : "The grid ends within its header%.0s.",
                                    length ? (const char *)file->buffer + file->at : "");
        if (!isnan(values[k])) return MST_CLOUD_REFUSE(file, error, "The grid's header gives %s twice.", NAMES[k]);
        file->at += length;
        length = next_word(file, &machine);
        if (!length || !read_number(file, length, &values[k]))
            return MST_CLOUD_REFUSE(file, error, "The grid's %s is not a number.", NAMES[k]);
        file->at += length;
    }
}

static bool is_count(double v) { return v >= 1 && v <= SIDE_MOST && v == floor(v); }

static mst_status settle(mst_cloud_file *file, grid *g, const double v[WORDS], mst_error *error) {
    if (!is_count(v[COLUMNS]) || !is_count(v[ROWS]))
        return MST_CLOUD_REFUSE(file, error, "The grid needs ncols and nrows, whole numbers from 1 to %d.", SIDE_MOST);
    if (!(v[CELL] > 0)) return MST_CLOUD_REFUSE(file, error, "The grid needs a cellsize over zero.");
    bool corner = !isnan(v[WEST]) && !isnan(v[SOUTH]), middle = !isnan(v[WEST_MIDDLE]) && !isnan(v[SOUTH_MIDDLE]);
    if (corner == middle)
        return MST_CLOUD_REFUSE(file, error,
                                "The grid needs the place of its south-west cell once: xllcorner and yllcorner, or "
                                "xllcenter and yllcenter.");
    g->columns = (uint64_t)v[COLUMNS], g->rows = (uint64_t)v[ROWS];
    g->cell = v[CELL];
    g->west = corner ? v[WEST] + g->cell / 2 : v[WEST_MIDDLE];
    g->south = corner ? v[SOUTH] + g->cell / 2 : v[SOUTH_MIDDLE];
    g->nothing = isnan(v[NOTHING]) ? NOTHING_VALUE : v[NOTHING];
    if (g->columns * g->rows * 2 - 1 > file->size)
        return MST_CLOUD_REFUSE(file, error,
                                "The grid promises %llu x %llu levels, more than the file can hold; it is cut short.",
                                (unsigned long long)g->columns, (unsigned long long)g->rows);
    return MST_OK;
}

/* ---- the levels ---- */

static mst_status rewind_grid(mst_cloud_file *file, mst_error *error) {
    (void)error;
    grid *g = file->state;
    mst_cloud_seek(file, g->start);
    g->row = g->column = 0;
    return MST_OK;
}

static mst_status bad_level(const mst_cloud_file *file, const grid *g, size_t length, mst_error *error) {
    if (length == 0)
        return MST_CLOUD_REFUSE(file, error, "The grid ends in row %llu of %llu; it is cut short.",
                                (unsigned long long)g->row + 1, (unsigned long long)g->rows);
    return MST_CLOUD_REFUSE(file, error, "The level in row %llu, column %llu of the grid is not a number.",
                            (unsigned long long)g->row + 1, (unsigned long long)g->column + 1);
}

static mst_status read_grid(mst_cloud_file *file, mst_cloud_point points[], size_t room, size_t *count,
                            mst_error *error) {
    grid *g = file->state;
    mst_error machine = {0};
    size_t kept = 0;
    while (kept < room && g->row < g->rows) {
        double level = NAN;
        size_t length = next_word(file, &machine);
        if (machine.status) {
            if (error) *error = machine;
            return machine.status;
        }
        if (!length || !read_number(file, length, &level)) return bad_level(file, g, length, error);
        file->at += length;
        if (level != g->nothing)
            points[kept++] = (mst_cloud_point){g->west + (double)g->column * g->cell,
                                               g->south + (double)(g->rows - 1 - g->row) * g->cell, level, 0};
        if (++g->column == g->columns) g->column = 0, g->row++;
    }
    if (g->row == g->rows && next_word(file, &machine))
        return MST_CLOUD_REFUSE(file, error, "The grid has more levels than its header says.");
    *count = kept;
    return MST_OK;
}

static void close_grid(mst_cloud_file *file) { free(file->state); }

mst_status mst_grid_text_open(mst_cloud_file *file, mst_error *error) {
    grid *g = file->state = calloc(1, sizeof *g);
    if (!g) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the grid.");
    file->reader = (mst_cloud_reader){rewind_grid, read_grid, close_grid};
    double values[WORDS];
    for (int k = 0; k < WORDS; k++) values[k] = NAN;
    mst_cloud_seek(file, 0);
    mst_status status = take_values(file, values, error);
    if (status) return status;
    g->start = file->next - (file->filled - file->at);
    status = settle(file, g, values, error);
    if (status) return status;
    file->facts.points = g->columns * g->rows;
    snprintf(file->facts.kind, sizeof file->facts.kind, "ASCII grid of %llu x %llu cells",
             (unsigned long long)g->columns, (unsigned long long)g->rows);
    return MST_OK;
}
