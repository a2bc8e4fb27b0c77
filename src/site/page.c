/* Field pages: which columns each has, and the reading of a page from CSV. All rows or none. */
#include "merestone/site.h"
#include "site/csv.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

typedef enum cell_type {
    NAME,
    TEXT,
    LENGTH,
    ANGLE,
    TIME,
    NUMBER,
    FIGURE,
    YES_NO,
    CHOICE
} cell_type; /* FIGURE: a number in the one unit of the hint */
enum { REQUIRED = 1, POSITIVE = 2, PLACE = 4, UP = 8, NOT_NEGATIVE = 16, UNIQUE = 32, SHORT = 64 };
typedef struct column {
    const char *name;
    cell_type type;
    unsigned rules;
    const char *hint; /**< units or choices, for the sentence */
} column;

static const column CONTROL[] = {{"point", NAME, REQUIRED | UNIQUE, 0},
                                 {"easting", LENGTH, PLACE, "m"},
                                 {"northing", LENGTH, PLACE, "m"},
                                 {"elevation", LENGTH, UP, "m"},
                                 {"sd plan", LENGTH, POSITIVE, "m"},
                                 {"sd height", LENGTH, POSITIVE, "m"},
                                 {0}};
static const column POINTS[] = {{"point", NAME, REQUIRED | UNIQUE, 0},
                                {"easting", LENGTH, REQUIRED | PLACE, "m"},
                                {"northing", LENGTH, REQUIRED | PLACE, "m"},
                                {"elevation", LENGTH, UP, "m"},
                                {"code", TEXT, 0, 0},
                                {"sd plan", LENGTH, POSITIVE, "m"},
                                {"sd height", LENGTH, POSITIVE, "m"},
                                {0}};
static const column TAPE[] = {{"from", NAME, REQUIRED, 0},
                              {"to", NAME, REQUIRED, 0},
                              {"distance", LENGTH, REQUIRED | POSITIVE | SHORT, "m"},
                              {"slope", YES_NO, 0, 0},
                              {"sd", LENGTH, POSITIVE, "m"},
                              {"scale", FIGURE, 0, "ppm"},
                              {"temperature", FIGURE, 0, "C"},
                              {"expansion", FIGURE, NOT_NEGATIVE, "ppm/C"},
                              {"weight", FIGURE, POSITIVE, "N/m"},
                              {"pull", FIGURE, POSITIVE, "N"},
                              {"span", LENGTH, POSITIVE | SHORT, "m"},
                              {0}};
static const column BEARINGS[] = {{"from", NAME, REQUIRED, 0},
                                  {"to", NAME, REQUIRED, 0},
                                  {"bearing", ANGLE, REQUIRED, "dms"},
                                  {"distance", LENGTH, POSITIVE | SHORT, "m"},
                                  {"sd", ANGLE, POSITIVE, "dms"},
                                  {"sd distance", LENGTH, POSITIVE, "m"},
                                  {0}};
static const column ANGLES[] = {{"at", NAME, REQUIRED, 0},
                                {"to", NAME, REQUIRED, 0},
                                {"circle", ANGLE, REQUIRED, "dms"},
                                {"zenith", ANGLE, POSITIVE, "dms"},
                                {"slope distance", LENGTH, POSITIVE | SHORT, "m"},
                                {"instrument height", LENGTH, UP, "m"},
                                {"target height", LENGTH, UP, "m"},
                                {"round", NUMBER, 0, 0},
                                {"sd circle", ANGLE, POSITIVE, "dms"},
                                {"sd zenith", ANGLE, POSITIVE, "dms"},
                                {"sd distance", LENGTH, POSITIVE, "m"},
                                {0}};
static const column LEVELS[] = {{"point", NAME, REQUIRED, 0},
                                {"backsight", LENGTH, UP, "m"},
                                {"intermediate", LENGTH, UP, "m"},
                                {"foresight", LENGTH, UP, "m"},
                                {"distance", LENGTH, NOT_NEGATIVE | SHORT, "m"},
                                {0}};
static const column HEIGHTS[] = {
    {"from", NAME, REQUIRED, 0},       {"to", NAME, REQUIRED, 0},     {"difference", LENGTH, REQUIRED | UP, "m"},
    {"length", LENGTH, POSITIVE, "m"}, {"sd", LENGTH, POSITIVE, "m"}, {0}};
static const column OFFSETS[] = {{"from", NAME, REQUIRED, 0},
                                 {"to", NAME, REQUIRED, 0},
                                 {"chainage", LENGTH, REQUIRED | SHORT, "m"},
                                 {"offset", LENGTH, REQUIRED | SHORT, "m"},
                                 {"point", NAME, REQUIRED, 0},
                                 {"code", TEXT, 0, 0},
                                 {0}};
static const column LEGS[] = {{"from", NAME, REQUIRED, 0},
                              {"to", NAME, REQUIRED, 0},
                              {"dx", LENGTH, REQUIRED | SHORT, "m"},
                              {"dy", LENGTH, REQUIRED | SHORT, "m"},
                              {"dz", LENGTH, REQUIRED | UP, "m"},
                              {"time", TIME, REQUIRED | POSITIVE, "s"},
                              {0}};
static const column GNSS[] = {{"point", NAME, REQUIRED, 0},
                              {"latitude", ANGLE, REQUIRED, "deg"},
                              {"longitude", ANGLE, REQUIRED, "deg"},
                              {"height", LENGTH, REQUIRED | UP, "m"},
                              {"sd plan", LENGTH, POSITIVE, "m"},
                              {"sd height", LENGTH, POSITIVE, "m"},
                              {0}};
static const column FEATURES[] = {{"feature", NAME, REQUIRED, 0},
                                  {"kind", CHOICE, REQUIRED, "line/area/spot"},
                                  {"code", TEXT, 0, 0},
                                  {"point", NAME, REQUIRED, 0},
                                  {"edge", CHOICE, 0, "straight/arc/circle/curve"},
                                  {"role", CHOICE, 0, "boundary/breakline/hole/none"},
                                  {0}};
static const column STAKES[] = {{"stake", NAME, REQUIRED | UNIQUE, 0},
                                {"easting", LENGTH, REQUIRED | PLACE, "m"},
                                {"northing", LENGTH, REQUIRED | PLACE, "m"},
                                {"elevation", LENGTH, UP, "m"},
                                {"code", TEXT, 0, 0},
                                {0}};
static const column BUILT[] = {{"point", NAME, REQUIRED | UNIQUE, 0},
                               {"easting", LENGTH, REQUIRED | PLACE, "m"},
                               {"northing", LENGTH, REQUIRED | PLACE, "m"},
                               {"elevation", LENGTH, UP, "m"},
                               {"sd plan", LENGTH, POSITIVE, "m"},
                               {"sd height", LENGTH, POSITIVE, "m"},
                               {0}};
static const column PRICES[] = {
    {"item", NAME, REQUIRED, 0},
    {"unit", TEXT, REQUIRED, 0},
    {"code", TEXT, REQUIRED, 0},
    {"measure", CHOICE, REQUIRED,
     "length/area/slope area/count/cut/fill/strip/loose/loads/layer/surplus/surplus loads/import/laid length"},
    {"depth", LENGTH, POSITIVE, "m"},
    {"factor", NUMBER, POSITIVE, 0},
    {"waste", NUMBER, NOT_NEGATIVE, 0},
    {"pack", NUMBER, POSITIVE, 0},
    {"pack unit", TEXT, 0, 0},
    {"rate", NUMBER, NOT_NEGATIVE, 0},
    {0}};

static const column CONDITIONS[] = {{"condition", CHOICE, REQUIRED, "right angle/straight/parallel/length/equal level"},
                                    {"first", NAME, REQUIRED, 0},
                                    {"second", NAME, REQUIRED, 0},
                                    {"third", NAME, 0, 0},
                                    {"fourth", NAME, 0, 0},
                                    {"value", LENGTH, POSITIVE | SHORT, "m"},
                                    {"sd", LENGTH, REQUIRED | POSITIVE, "m"},
                                    {0}};

static const column PLAN[] = {{"reading", CHOICE, REQUIRED, "point/held/tape/bearing/sight/direction/level/place/leg"},
                              {"from", NAME, REQUIRED, 0},
                              {"to", NAME, 0, 0},
                              {"easting", LENGTH, PLACE, "m"},
                              {"northing", LENGTH, PLACE, "m"},
                              {"elevation", LENGTH, UP, "m"},
                              {"gear", TEXT, 0, 0},
                              {"minutes", NUMBER, POSITIVE, 0},
                              {0}};

static const struct {
    const char *name;
    const column *columns;
} PAGES[MST_PAGE_KINDS] = {[MST_PAGE_CONTROL] = {"control", CONTROL},
                           [MST_PAGE_POINTS] = {"points", POINTS},
                           [MST_PAGE_TAPE] = {"tape", TAPE},
                           [MST_PAGE_BEARINGS] = {"bearings", BEARINGS},
                           [MST_PAGE_ANGLES] = {"angles", ANGLES},
                           [MST_PAGE_LEVELS] = {"levels", LEVELS},
                           [MST_PAGE_HEIGHTS] = {"heights", HEIGHTS},
                           [MST_PAGE_OFFSETS] = {"offsets", OFFSETS},
                           [MST_PAGE_LEGS] = {"legs", LEGS},
                           [MST_PAGE_GNSS] = {"gnss", GNSS},
                           [MST_PAGE_FEATURES] = {"features", FEATURES},
                           [MST_PAGE_STAKES] = {"stakes", STAKES},
                           [MST_PAGE_BUILT] = {"built", BUILT},
                           [MST_PAGE_PRICES] = {"prices", PRICES},
                           [MST_PAGE_CONDITIONS] = {"conditions", CONDITIONS},
                           [MST_PAGE_PLAN] = {"plan", PLAN}};

/* Farther than half the earth's circumference is no place on a site; no level is above its mountains or below its
 * trenches; no reading spans more than 100 km. */
static const double LEVEL_LIMIT_M = 1.2e4, READING_LIMIT_M = 1e5;

const char *mst_page_kind_name(mst_page_kind kind) { return kind < MST_PAGE_KINDS ? PAGES[kind].name : NULL; }

bool mst_page_kind_named(const char *name, mst_page_kind *kind) {
    for (int k = 0; k < MST_PAGE_KINDS; k++)
        if (strcmp(name, PAGES[k].name) == 0) {
            *kind = (mst_page_kind)k;
            return true;
        }
    return false;
}

static int column_count(mst_page_kind kind) {
    int n = 0;
    while (PAGES[kind].columns[n].name) n++;
    return n;
}

const char *mst_page_column_name(mst_page_kind kind, int c) {
    return c >= 0 && c < column_count(kind) ? PAGES[kind].columns[c].name : NULL;
}

bool mst_page_column_is_number(mst_page_kind kind, int c) {
    if (c < 0 || c >= column_count(kind)) return false;
    cell_type type = PAGES[kind].columns[c].type;
    return type == LENGTH || type == ANGLE || type == TIME || type == NUMBER || type == FIGURE;
}

static bool has_unit(const column *c) {
    return c->type == LENGTH || c->type == ANGLE || c->type == TIME || c->type == FIGURE;
}

/* ---- the header ---- */

/* Where each of the page's columns stands in the file, and in which unit. */
typedef struct layout {
    int at[MST_COLUMNS_MAX]; /**< cell index, -1 where absent */
    mst_unit unit[MST_COLUMNS_MAX];
    size_t width; /**< cells in the header */
} layout;

/* "easting_m" as many programs write it: the unit behind the last bar, and bars for spaces. */
static void unit_behind_bar(char name[64], char unit[64]) {
    char *bar = strrchr(name, '_');
    if (!bar || mst_unit_named(bar + 1) == MST_UNIT_NONE) return;
    snprintf(unit, 64, "%s", bar + 1);
    *bar = '\0';
    for (char *c = name; *c; c++)
        if (*c == '_') *c = ' ';
}

/* "easting (m)", also "easting [m]" and "easting_m". */
static void name_and_unit(const char *cell, char name[64], char unit[64]) {
    const char *open = strrchr(cell, '('), *close = open ? strchr(open, ')') : NULL;
    if (!open) open = strrchr(cell, '['), close = open ? strchr(open, ']') : NULL;
    unit[0] = '\0';
    size_t length = strlen(cell);
    if (open && close && close[1] == '\0') {
        snprintf(unit, 64, "%.*s", (int)(close - open - 1), open + 1);
        length = (size_t)(open - cell);
        while (length && cell[length - 1] == ' ') length--;
    }
    snprintf(name, 64, "%.*s", (int)length, cell);
    if (!*unit) unit_behind_bar(name, unit);
}

static void list_columns(mst_page_kind kind, char *out, size_t size) {
    size_t n = 0;
    out[0] = '\0';
    for (const column *c = PAGES[kind].columns; c->name && n < size; c++) {
        bool with_unit = has_unit(c);
        n += (size_t)snprintf(out + n, size - n, "%s%s%s%s%s", n ? ", " : "", c->name, with_unit ? " (" : "",
                              with_unit ? c->hint : "", with_unit ? ")" : "");
    }
}

static mst_status column_unit(const column *c, const char *unit, const char *cell, mst_unit *out, const char *page,
                              int at, mst_error *error) {
    *out = MST_UNIT_NONE;
    if (!has_unit(c)) {
        if (c->type == NUMBER || !*unit) return MST_OK;
        return mst_fail_at(error, MST_INVALID, page, 1, at, "Column '%s' takes no unit.", c->name);
    }
    if (!*unit)
        return mst_fail_at(error, MST_INVALID, page, 1, at, "Column '%s' has no unit; write it like '%s (%s)'.", cell,
                           c->name, c->hint);
    if (c->type == FIGURE) {
        if (strcasecmp(unit, c->hint) == 0) return MST_OK;
        return mst_fail_at(error, MST_INVALID, page, 1, at, "'%s' is not a unit for column '%s'; use %s.", unit,
                           c->name, c->hint);
    }
    *out = mst_unit_named(unit);
    bool fits = c->type == LENGTH  ? mst_unit_is_length(*out)
                : c->type == ANGLE ? mst_unit_is_angle(*out)
                                   : *out == MST_UNIT_S;
    if (fits) return MST_OK;
    return mst_fail_at(error, MST_INVALID, page, 1, at, "'%s' is not a unit for column '%s'; use %s.", unit, c->name,
                       c->type == LENGTH  ? "m, mm, ft, ftUS or ftin"
                       : c->type == ANGLE ? "deg, dms or gon"
                                          : "s");
}

static mst_status read_header(mst_page_kind kind, const mst_csv *csv, layout *out, mst_error *error) {
    for (int c = 0; c < MST_COLUMNS_MAX; c++) out->at[c] = -1;
    out->width = csv->count;
    for (size_t i = 0; i < csv->count; i++) {
        const char *cell = csv->cells[i];
        char name[64], unit[64];
        name_and_unit(cell, name, unit);
        int at = (int)i + 1, found = -1;
        for (int c = 0; c < column_count(kind); c++)
            if (strcasecmp(name, PAGES[kind].columns[c].name) == 0) found = c;
        if (found < 0) {
            if (strcasecmp(name, "remark") == 0 || !*cell) continue;
            if (csv->count == 1 && (strchr(cell, ';') || strchr(cell, '\t')))
                return mst_fail_at(error, MST_INVALID, csv->name, 1, 1,
                                   "The cells are not separated by commas; save the page as comma-separated CSV.");
            char known[300];
            list_columns(kind, known, sizeof known);
            return mst_fail_at(error, MST_INVALID, csv->name, 1, at,
                               "Column '%.60s' is not known on a %s page; it takes %s, and remark.", cell,
                               PAGES[kind].name, known);
        }
        if (out->at[found] >= 0)
            return mst_fail_at(error, MST_INVALID, csv->name, 1, at, "Column '%s' stands twice.", name);
        mst_status status =
            column_unit(&PAGES[kind].columns[found], unit, cell, &out->unit[found], csv->name, at, error);
        if (status) return status;
        out->at[found] = (int)i;
    }
    for (int c = 0; c < column_count(kind); c++)
        if (out->at[c] < 0 && (PAGES[kind].columns[c].rules & REQUIRED)) {
            char known[300];
            list_columns(kind, known, sizeof known);
            return mst_fail_at(error, MST_INVALID, csv->name, 1, 0, "A %s page needs a column '%s'; it takes %s.",
                               PAGES[kind].name, PAGES[kind].columns[c].name, known);
        }
    return MST_OK;
}

/* ---- one row ---- */

static bool in_choices(const char *text, const char *choices) {
    size_t length = strlen(text);
    for (const char *c = choices; c;) {
        const char *slash = strchr(c, '/');
        size_t n = slash ? (size_t)(slash - c) : strlen(c);
        if (n == length && strncasecmp(c, text, n) == 0) return true;
        c = slash ? slash + 1 : NULL;
    }
    return false;
}

static mst_status check_number(const column *columns, const column *c, const char *text, double v, const char *page,
                               int row, int at, mst_error *error) {
    if ((c->rules & POSITIVE) && !(v > 0)) {
        if (strncmp(c->name, "sd", 2) == 0)
            return mst_fail_at(error, MST_INVALID, page, row, at, "'%s' must be more than 0; leave the cell empty %s.",
                               c->name, columns == CONTROL ? "to hold the point fixed" : "for the gear's own");
        return mst_fail_at(error, MST_INVALID, page, row, at, "'%s' must be more than 0, not %.60s.", c->name, text);
    }
    if ((c->rules & NOT_NEGATIVE) && v < 0)
        return mst_fail_at(error, MST_INVALID, page, row, at, "'%s' cannot be negative.", c->name);
    if ((c->rules & PLACE) && fabs(v) > MST_PLACE_MOST_M)
        return mst_fail_at(error, MST_INVALID, page, row, at,
                           "%s %.60s is farther away than the earth is round; check the digits and the unit.", c->name,
                           text);
    if ((c->rules & UP) && fabs(v) > LEVEL_LIMIT_M)
        return mst_fail_at(error, MST_INVALID, page, row, at,
                           "%s %.60s is beyond any mountain or trench; check the digits and the unit.", c->name, text);
    if ((c->rules & SHORT) && fabs(v) > READING_LIMIT_M)
        return mst_fail_at(error, MST_INVALID, page, row, at,
                           "%s %.60s is longer than 100 km; check the digits and the unit.", c->name, text);
    return MST_OK;
}

static mst_status read_cell(const column *columns, const column *c, mst_unit unit, const char *text, double *value,
                            const char *page, int row, int at, mst_error *error) {
    *value = NAN;
    if (!text[strspn(text, " \t\r\n")]) {
        if (c->rules & REQUIRED) return mst_fail_at(error, MST_INVALID, page, row, at, "'%s' is empty.", c->name);
        return MST_OK;
    }
    if ((c->type == NAME || c->type == TEXT) && strpbrk(text, "\r\n\t"))
        return mst_fail_at(error, MST_INVALID, page, row, at,
                           "The text in '%s' has a line end or a tab in it; write it on one line.", c->name);
    if (c->type == CHOICE && !in_choices(text, c->hint))
        return mst_fail_at(error, MST_INVALID, page, row, at, "'%.60s' does not fit column '%s'; it is one of %s.",
                           text, c->name, c->hint);
    if (c->type == YES_NO && !in_choices(text, "yes/no"))
        return mst_fail_at(error, MST_INVALID, page, row, at, "'%.60s' is neither yes nor no.", text);
    if (c->type == YES_NO) *value = (text[0] | 32) == 'y';
    if (c->type == NAME && strlen(text) > 100)
        return mst_fail_at(error, MST_INVALID, page, row, at, "The name in '%s' is longer than 100 characters.",
                           c->name);
    if (c->type != LENGTH && c->type != ANGLE && c->type != TIME && c->type != NUMBER && c->type != FIGURE)
        return MST_OK;
    mst_error why = {0};
    if (mst_quantity_read(text, unit, value, &why)) {
        *value = NAN;
        return mst_fail_at(error, MST_INVALID, page, row, at, "%s: %s", c->name, why.sentence);
    }
    return check_number(columns, c, text, *value, page, row, at, error);
}

static mst_status read_row(const mst_page *page, const layout *where, const mst_csv *csv, mst_row *row,
                           mst_error *error) {
    const column *columns = PAGES[page->kind].columns;
    /* A decimal comma splits a number over two cells: the row is then longer than its header. */
    for (size_t i = where->width; i < csv->count; i++)
        if (*csv->cells[i])
            return mst_fail_at(error, MST_INVALID, page->name, row->line, (int)i + 1,
                               "The row has more cells than the header; write decimals with a point, and put a text "
                               "with commas in quotes.");
    for (int c = 0; c < MST_COLUMNS_MAX; c++) {
        row->text[c] = "";
        row->value[c] = NAN;
    }
    for (int c = 0; columns[c].name; c++) {
        int at = where->at[c];
        if (at < 0) continue;
        row->text[c] = at < (int)csv->count ? csv->cells[at] : "";
        mst_status status = read_cell(columns, &columns[c], where->unit[c], row->text[c], &row->value[c], page->name,
                                      row->line, at + 1, error);
        if (status) return status;
    }
    return MST_OK;
}

/* ---- what only the whole row can tell ---- */

static bool has(const mst_row *row, int c) { return *row->text[c] != '\0'; }

static mst_status check_ends(const mst_page *page, const mst_row *row, int from, int to, const layout *where,
                             mst_error *error) {
    if (strcmp(row->text[from], row->text[to]) != 0) return MST_OK;
    return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[to] + 1,
                       "A reading cannot go from '%s' to itself.", row->text[from]);
}

/* A tape that hangs needs its weight and the pull; what it hangs between is its whole length where no span is given. */
static mst_status check_tape(const mst_page *page, const mst_row *row, const layout *where, mst_error *error) {
    static const int SAG[] = {MST_TAPE_WEIGHT, MST_TAPE_PULL};
    bool hangs = has(row, MST_TAPE_WEIGHT) || has(row, MST_TAPE_PULL) || has(row, MST_TAPE_SPAN);
    for (int i = 0; hangs && i < 2; i++)
        if (!has(row, SAG[i]))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[SAG[i]] + 1,
                               "The sag of a hanging tape needs its weight (N/m) and the pull (N); '%s' is missing.",
                               PAGES[page->kind].columns[SAG[i]].name);
    return check_ends(page, row, MST_TAPE_FROM, MST_TAPE_TO, where, error);
}

static mst_status check_level_row(const mst_page *page, const mst_row *row, const mst_row *before, mst_error *error) {
    bool back = has(row, MST_LEVELS_BACKSIGHT), middle = has(row, MST_LEVELS_INTERMEDIATE),
         fore = has(row, MST_LEVELS_FORESIGHT);
    if (!back && !middle && !fore)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0, "The row has no staff reading.");
    if (middle && (back || fore))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "An intermediate sight stands beside another reading on '%s'; give each its own row.",
                           row->text[MST_LEVELS_POINT]);
    bool first = !before || (has(before, MST_LEVELS_FORESIGHT) && !has(before, MST_LEVELS_BACKSIGHT));
    if (first && (!back || fore))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "A set-up starts with a backsight alone on a known point.");
    if (!first && back && !fore)
        return mst_fail_at(
            error, MST_INVALID, page->name, row->line, 0,
            "The level moved without a foresight: a change point has a foresight and a backsight in one row.");
    return MST_OK;
}

static mst_status check_pair(const mst_page *page, const mst_row *row, int a, int b, const layout *where,
                             mst_error *error) {
    if (has(row, a) == has(row, b)) return MST_OK;
    int missing = has(row, a) ? b : a;
    return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[missing] + 1,
                       "'%s' has one coordinate without the other.", row->text[0]);
}

/* An end of the baseline on itself is its zero or its length and nothing else. What is stored already is only told of.
 */
static mst_status check_offset(const mst_page *page, const mst_row *row, const layout *where, mst_error *error) {
    const char *p = row->text[MST_OFFSETS_POINT];
    double along = row->value[MST_OFFSETS_CHAINAGE], aside = row->value[MST_OFFSETS_OFFSET];
    bool zero = strcmp(p, row->text[MST_OFFSETS_FROM]) == 0, end = strcmp(p, row->text[MST_OFFSETS_TO]) == 0;
    if (row->id == 0 && ((zero && (along != 0 || aside != 0)) || (end && (!(along > 0) || aside != 0))))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_OFFSETS_POINT] + 1,
                           "'%s' is an end of its own baseline, so it cannot stand beside it; name another point.", p);
    return check_ends(page, row, MST_OFFSETS_FROM, MST_OFFSETS_TO, where, error);
}

static mst_status check_plan(const mst_page *page, const mst_row *row, const layout *where, mst_error *error) {
    const char *reading = row->text[MST_PLAN_READING];
    bool point = strcasecmp(reading, "point") == 0 || strcasecmp(reading, "held") == 0,
         place = strcasecmp(reading, "place") == 0;
    if (point && (!has(row, MST_PLAN_EASTING) || !has(row, MST_PLAN_NORTHING)))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "'%s' needs its place by eye: easting and northing.", row->text[MST_PLAN_FROM]);
    if ((point || place) == has(row, MST_PLAN_TO))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_PLAN_TO] + 1,
                           point || place ? "A %s is about one point; leave 'to' empty."
                                          : "A %s goes from one point to another; 'to' is empty.",
                           reading);
    return point || place ? MST_OK : check_ends(page, row, MST_PLAN_FROM, MST_PLAN_TO, where, error);
}

/* How many points each condition is about: a corner and its two arms, a line with a point amid it, two lines, two ends.
 */
static mst_status check_condition(const mst_page *page, const mst_row *row, const layout *where, mst_error *error) {
    const char *kind = row->text[MST_CONDITIONS_CONDITION];
    char first = (char)(kind[0] | 32);
    int points = first == 'r' || first == 's' ? 3 : first == 'p' ? 4 : 2;
    for (int c = 0; c < 4; c++) {
        int at = MST_CONDITIONS_FIRST + c;
        if (c < points && !has(row, at))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[at] + 1,
                               "'%s' is about %d points, and the %s one is missing.", kind, points,
                               c == 2 ? "third" : "fourth");
        if (c >= points && has(row, at))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[at] + 1,
                               "'%s' is about %d points only; leave this cell empty.", kind, points);
        for (int k = 0; k < c && c < points; k++)
            if (strcmp(row->text[at], row->text[MST_CONDITIONS_FIRST + k]) == 0)
                return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[at] + 1,
                                   "'%s' stands twice in the condition.", row->text[at]);
    }
    bool length = first == 'l';
    if (length != has(row, MST_CONDITIONS_VALUE))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_CONDITIONS_VALUE] + 1,
                           length ? "A length needs its value." : "Only a length has a value; leave this cell empty.");
    return MST_OK;
}

static mst_status check_row(const mst_page *page, const mst_row *row, const mst_row *before, const layout *where,
                            mst_error *error) {
    switch (page->kind) {
    case MST_PAGE_CONTROL:
        if (!has(row, MST_CONTROL_EASTING) && !has(row, MST_CONTROL_NORTHING) && !has(row, MST_CONTROL_ELEVATION))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, 0, "'%s' has neither a place nor a level.",
                               row->text[0]);
        return check_pair(page, row, MST_CONTROL_EASTING, MST_CONTROL_NORTHING, where, error);
    case MST_PAGE_TAPE:
        return check_tape(page, row, where, error);
    case MST_PAGE_BEARINGS:
        return check_ends(page, row, MST_BEARINGS_FROM, MST_BEARINGS_TO, where, error);
    case MST_PAGE_ANGLES:
        if (row->value[MST_ANGLES_ZENITH] >= 2 * MST_PI)
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_ANGLES_ZENITH] + 1,
                               "A zenith angle is less than a full turn.");
        return check_ends(page, row, MST_ANGLES_AT, MST_ANGLES_TO, where, error);
    case MST_PAGE_LEVELS:
        return check_level_row(page, row, before, error);
    case MST_PAGE_HEIGHTS:
        return check_ends(page, row, MST_HEIGHTS_FROM, MST_HEIGHTS_TO, where, error);
    case MST_PAGE_OFFSETS:
        return check_offset(page, row, where, error);
    case MST_PAGE_LEGS:
        return check_ends(page, row, MST_LEGS_FROM, MST_LEGS_TO, where, error);
    case MST_PAGE_GNSS:
        if (fabs(row->value[MST_GNSS_LATITUDE]) > MST_PI / 2)
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_GNSS_LATITUDE] + 1,
                               "A latitude lies between -90 and 90 degrees.");
        if (!(row->value[MST_GNSS_LONGITUDE] >= (row->id ? -2 : -1) * MST_PI &&
              row->value[MST_GNSS_LONGITUDE] <= 2 * MST_PI))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, where->at[MST_GNSS_LONGITUDE] + 1,
                               "A longitude lies between -180 and 360 degrees.");
        return MST_OK;
    case MST_PAGE_PLAN:
        return check_plan(page, row, where, error);
    case MST_PAGE_CONDITIONS:
        return check_condition(page, row, where, error);
    default:
        return MST_OK;
    }
}

/* Names that may stand only once on the page. */
static mst_status check_unique(const mst_page *page, mst_arena *arena, const layout *where, mst_error *error) {
    if (!(PAGES[page->kind].columns[0].rules & UNIQUE)) return MST_OK;
    mst_index seen = {0};
    for (size_t i = 0; i < page->row_count; i++) {
        const char *name = page->rows[i].text[0];
        uint32_t earlier = mst_index_get(&seen, name);
        if (earlier != UINT32_MAX)
            return mst_fail_at(error, MST_INVALID, page->name, page->rows[i].line, where->at[0] + 1,
                               "'%s' stands twice, here and in row %d; a second measurement of it is a second visit, a "
                               "slip of the pen another name.",
                               name, page->rows[earlier].line);
        if (!mst_index_put(&seen, arena, name, (uint32_t)i))
            return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
    }
    return MST_OK;
}

/* ---- the page ---- */

static mst_status take_row(mst_page *page, const layout *where, const mst_csv *csv, mst_arena *arena,
                           mst_error *error) {
    mst_row *row = MST_PUSH(arena, page->rows, page->row_count, page->row_capacity);
    if (!row) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
    row->line = csv->record_line;
    row->raw = csv->raw;
    mst_status status = read_row(page, where, csv, row, error);
    if (status) return status;
    return check_row(page, row, page->row_count > 1 ? row - 1 : NULL, where, error);
}

static mst_status header_from(const char *name, const char *header, mst_page_kind kind, mst_arena *arena, layout *where,
                              mst_error *error) {
    mst_csv csv;
    bool more;
    mst_status status = mst_csv_start(&csv, name, header, strlen(header), NULL, error);
    if (!status) status = mst_csv_next(&csv, arena, &more, error);
    if (!status && !more) status = mst_fail_at(error, MST_INVALID, name, 1, 0, "The header row is empty.");
    return status ? status : read_header(kind, &csv, where, error);
}

static uint32_t columns_of(const layout *where) {
    uint32_t columns = 0;
    for (int c = 0; c < MST_COLUMNS_MAX; c++)
        if (where->at[c] >= 0) columns |= UINT32_C(1) << c;
    return columns;
}

static const char *notes_on(const mst_csv *csv, bool had_mark, mst_arena *arena) {
    bool mixed = (csv->lf + csv->crlf + csv->cr) > 1;
    if (!had_mark && !mixed) return "";
    return mst_arena_printf(arena, "%s%s%s", had_mark ? "Skipped a byte-order mark." : "", had_mark && mixed ? " " : "",
                            mixed ? "The line ends are mixed; each was taken as one." : "");
}

mst_status mst_page_read(mst_page_kind kind, const char *name, const char *text, size_t length, const char *columns,
                         mst_arena *arena, mst_page *result, mst_error *error) {
    if (length > MST_PAGE_BYTES_MAX)
        return mst_fail_at(error, MST_INVALID, name, 0, 0,
                           "The file has %zu MB; a field page holds at most %u MB. A scan comes in thinned, as points.",
                           length >> 20, MST_PAGE_BYTES_MAX >> 20);
    mst_page page = {.kind = kind, .name = mst_arena_string(arena, name), .visit = "", .gear = "", .notes = ""};
    layout where;
    mst_csv csv;
    bool more, had_mark;
    mst_status status = mst_csv_start(&csv, page.name, text, length, &had_mark, error);
    if (status) return status;
    if (columns) {
        page.header = mst_arena_string(arena, columns);
        status = header_from(page.name, columns, kind, arena, &where, error);
    } else {
        status = mst_csv_next(&csv, arena, &more, error);
        if (!status && !more)
            status = mst_fail_at(error, MST_INVALID, page.name, 0, 0,
                                 "The file is empty; it needs a header row and its readings.");
        page.header = csv.raw;
        if (!status) status = read_header(kind, &csv, &where, error);
    }
    while (!status) {
        status = mst_csv_next(&csv, arena, &more, error);
        if (status || !more) break;
        status = take_row(&page, &where, &csv, arena, error);
    }
    if (!status && page.row_count == 0)
        status = mst_fail_at(error, MST_INVALID, page.name, 0, 0, "The page has a header but no rows.");
    if (!status) status = check_unique(&page, arena, &where, error);
    if (status) return status;
    page.notes = notes_on(&csv, had_mark, arena);
    page.columns = columns_of(&where);
    *result = page;
    return MST_OK;
}

mst_status mst_page_reread(mst_page *page, mst_arena *arena, mst_error *error) {
    layout where;
    mst_status status = header_from(page->name, page->header, page->kind, arena, &where, error);
    if (!status) page->columns = columns_of(&where);
    for (size_t i = 0; !status && i < page->row_count; i++) {
        mst_row *row = &page->rows[i];
        mst_csv csv;
        bool more;
        status = mst_csv_start(&csv, page->name, row->raw, strlen(row->raw), NULL, error);
        if (!status) status = mst_csv_next(&csv, arena, &more, error);
        if (!status && !more)
            status = mst_fail_at(error, MST_INVALID, page->name, row->line, 0, "The reading is empty.");
        if (!status) status = read_row(page, &where, &csv, row, error);
        if (!status) status = check_row(page, row, i ? row - 1 : NULL, &where, error);
    }
    return status;
}
