/* The survey's sheets: what the adjustment says, and traverse and level book as they are ruled on paper. A place
 * without a value stays empty, as in a book. */
#include "cli/sheets.h"
#include "cli/result.h"
#include "merestone/base.h"

enum { LINES_SHOWN = 12 }; /* of a list that only explains; the rest is in --json */

/* ---- adjust ---- */

static void print_point(const cli_printer *p, const json_t *o) {
    static const char *const KEYS[] = {"easting_m",    "northing_m",    "elevation_m",
                                       "sd_easting_m", "sd_northing_m", "sd_elevation_m"};
    static const int WIDTH[] = {13, 13, 11, 8, 7, 7};
    fprintf(p->out, "%-12s", text(o, "point"));
    for (int k = 0; k < 6; k++) cell(p->out, WIDTH[k], 3, length_in(p, number(o, KEYS[k])));
    long long n = whole(o, "readings");
    bool held = json_is_true(at(o, "held_plan"));
    fprintf(p->out, "  %lld%s\n", n, held ? "  held" : n == 1 ? "  unproven" : "");
}

static void print_tests(const cli_printer *p, const json_t *r) {
    const json_t *t = at(r, "global_test");
    fprintf(p->out, "\n%zu readings, %lld more than needed; sigma0 %.2f.\n", json_array_size(at(r, "observations")),
            whole(r, "degrees_of_freedom"), number(r, "sigma0"));
    if (whole(r, "degrees_of_freedom") == 0)
        fprintf(p->out, "Nothing checks these readings: every point is unproven.\n");
    else
        fprintf(p->out, "Global test at 5 %%: %.1f, wanted between %.1f and %.1f: %s.\n", number(t, "statistic"),
                number(t, "lower"), number(t, "upper"),
                json_is_true(at(t, "passed"))                 ? "passed"
                : number(t, "statistic") < number(t, "lower") ? "failed, for they fit better than the gear should"
                                                              : "failed");
    if (number(r, "sd_scale") > 1)
        fprintf(p->out, "The readings scatter more than their gear should; every sd was widened by %.2f.\n",
                number(r, "sd_scale"));
}

static const char *why_of(const json_t *r, size_t i) {
    const char *why = json_string_value(json_array_get(at(r, "undetermined_why"), i));
    return why ? why : "";
}

/* Points that lack the same thing stand on one line. */
static void print_undetermined(const cli_printer *p, const json_t *r) {
    const json_t *names = at(r, "undetermined");
    size_t count = json_array_size(names);
    for (size_t i = 0; i < count; i++) {
        bool again = false;
        for (size_t k = 0; k < i; k++) again |= strcmp(why_of(r, k), why_of(r, i)) == 0;
        if (again) continue;
        fprintf(p->out, "%s? %s", i ? "" : "\nNot determined:\n", json_string_value(json_array_get(names, i)));
        for (size_t k = i + 1; k < count; k++)
            if (strcmp(why_of(r, k), why_of(r, i)) == 0)
                fprintf(p->out, ", %s", json_string_value(json_array_get(names, k)));
        fprintf(p->out, ": %s\n", why_of(r, i));
    }
}

static void print_left_out(const cli_printer *p, const json_t *r) {
    size_t i, count = json_array_size(at(r, "left_out"));
    json_t *o;
    json_array_foreach(at(r, "left_out"), i, o) if (i < LINES_SHOWN)
        fprintf(p->out, "%s- %s\n", i ? "" : "\nReadings that did not count:\n", text(o, "sentence"));
    if (count > LINES_SHOWN) fprintf(p->out, "- and %zu more; see --json.\n", count - LINES_SHOWN);
}

static void print_reliability(const cli_printer *p, const json_t *r) {
    const json_t *reliability = at(r, "reliability");
    long long unchecked = whole(reliability, "unchecked");
    size_t i;
    json_t *o;
    json_array_foreach(at(reliability, "weakest"), i, o)
        fprintf(p->out, "%s. %s\n", i ? "" : "\nLeast checked, by what it could do:\n", text(o, "sentence"));
    if (unchecked > 0 && whole(r, "degrees_of_freedom") > 0)
        fprintf(p->out,
                "%s. Nothing, or hardly anything, checks %lld of the readings: an error in one goes into its point "
                "unseen.\n",
                json_array_size(at(reliability, "weakest")) ? "" : "\n", unchecked);
}

static bool said_before(const json_t *list, size_t i) {
    const char *sentence = text(json_array_get(list, i), "sentence");
    for (size_t k = 0; k < i; k++)
        if (strcmp(text(json_array_get(list, k), "sentence"), sentence) == 0) return true;
    return false;
}

void cli_print_adjust(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "%s\n\n%-12s %13s %13s %11s   sd E %s   sd N    sd H  readings\n", text(r, "datum"), "point",
            "easting", "northing", "elevation", length_unit(p));
    size_t i;
    json_t *o;
    json_array_foreach(at(r, "points"), i, o) print_point(p, o);
    print_tests(p, r);
    if (*text(r, "unit_doubt")) fprintf(p->out, "\n! %s\n", text(r, "unit_doubt"));
    json_array_foreach(at(r, "suspects"), i, o) if (!said_before(at(r, "suspects"), i))
        fprintf(p->out, "%s! %s\n", i ? "" : "\nSuspects:\n", text(o, "sentence"));
    print_undetermined(p, r);
    if (isfinite(number(r, "grid_scale")))
        fprintf(p->out,
                "The map grid draws lengths here %.6f times as long as they are on the ellipsoid; tapes and sights are "
                "not scaled by it.\n",
                number(r, "grid_scale"));
    if (*text(r, "fit")) fprintf(p->out, "%s\n", text(r, "fit"));
    print_left_out(p, r);
    print_reliability(p, r);
    json_array_foreach(at(r, "gear_factors"), i, o) if (*text(o, "sentence"))
        fprintf(p->out, "~ %s\n", text(o, "sentence"));
    if (json_is_true(at(r, "gear_factors_applied")))
        fprintf(p->out,
                "The gear's figures were multiplied by these factors, as the site's setting gear-factors says.\n");
}

/* ---- rounds, pegs, frames ---- */

static void dms_cell(FILE *out, int width, double degrees, int decimals) {
    char angle[40];
    if (isfinite(degrees)) mst_angle_dms(degrees * MST_PI / 180, decimals, angle, sizeof angle);
    fprintf(out, " %*s", width, isfinite(degrees) ? angle : "-");
}

void cli_print_rounds(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *m;
    fprintf(p->out, "%-10s %-10s %4s %4s %14s %8s %12s %8s %8s %10s\n", "at", "to", "left", "right", "circle",
            "spread\"", "zenith", "2c\"", "index\"", "slope");
    json_array_foreach(at(r, "means"), i, m) {
        fprintf(p->out, "%-10s %-10s %4lld %4lld", text(m, "at"), text(m, "to"), whole(m, "faces_left"),
                whole(m, "faces_right"));
        dms_cell(p->out, 14, number(m, "circle_deg"), 1);
        cell(p->out, 8, 1, number(m, "spread_deg") * 3600);
        dms_cell(p->out, 12, number(m, "zenith_deg"), 1);
        cell(p->out, 8, 1, number(m, "two_c_deg") * 3600);
        cell(p->out, 8, 1, number(m, "index_deg") * 3600);
        cell(p->out, 10, 3, length_in(p, number(m, "slope_distance_m")));
        fputc('\n', p->out);
    }
}

void cli_print_two_peg(const cli_printer *p, const json_t *r) {
    fprintf(p->out,
            "True difference %.3f %s; line of sight %+.*f %s in %s; the second set-up should read %.3f on A and %.3f "
            "on B\n",
            length_in(p, number(r, "difference_m")), length_unit(p), small_decimals(p),
            small_in(p, number(r, "error_mm_per_30_m") / 1000), small_unit(p), p->imperial ? "98.4 ft" : "30 m",
            length_in(p, number(r, "true_a_m")), length_in(p, number(r, "true_b_m")));
}

void cli_print_fit_visits(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *o;
    fprintf(p->out, "%s laid on %s: shift %.3f E %.3f N", text(r, "from"), text(r, "to"),
            length_in(p, number(r, "shift_e_m")), length_in(p, number(r, "shift_n_m")));
    if (isfinite(number(r, "shift_h_m"))) fprintf(p->out, " %.3f H", length_in(p, number(r, "shift_h_m")));
    fprintf(p->out, " %s, turn %.5f deg, scale %.6f; rms %.3f %s\n%-12s %8s %8s %8s\n", length_unit(p),
            number(r, "turn_deg"), number(r, "scale"), length_in(p, number(r, "rms_m")), length_unit(p), "left at",
            "dE", "dN", "dH");
    json_array_foreach(at(r, "residuals"), i, o) {
        fprintf(p->out, "%-12s", text(o, "point"));
        cell(p->out, 8, 3, length_in(p, number(o, "de_m")));
        cell(p->out, 8, 3, length_in(p, number(o, "dn_m")));
        cell(p->out, 8, 3, length_in(p, number(o, "dh_m")));
        fputc('\n', p->out);
    }
    if (number(r, "scale") == 1 && isfinite(number(r, "scale_if_free")))
        fprintf(p->out, "The scale is held; left free it would be %.6f.\n", number(r, "scale_if_free"));
    sentences(p, r, "warnings", "! ");
}

/* ---- sheets ---- */

/* As it will be shown, to a thousandth; rounding leaves no minus before a nought. */
static double shown(const cli_printer *p, double metres) {
    double rounded = round(length_in(p, metres) * 1000) / 1000;
    return rounded == 0 ? 0 : rounded;
}

/* A number, or nothing where there is none. */
static void entry(const cli_printer *p, int width, double metres) {
    if (isfinite(metres)) fprintf(p->out, " %*.3f", width, shown(p, metres));
    else fprintf(p->out, " %*s", width, "");
}

static void rule(const cli_printer *p, int width) {
    for (int i = 0; i < width; i++) fputc('-', p->out);
    fputc('\n', p->out);
}

static double sum_of(const json_t *list, const char *key) {
    double sum = 0;
    size_t i;
    json_t *o;
    json_array_foreach(list, i, o) sum += isfinite(number(o, key)) ? number(o, key) : 0;
    return sum;
}

/* ---- traverse ---- */

static void print_stations(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *s;
    double misclosure = number(r, "angular_misclosure_deg"), sum = sum_of(at(r, "stations"), "angle_deg");
    fprintf(p->out, "%-12s %12s %12s %12s\n", "station", "angle read", "correction", "balanced");
    rule(p, 51);
    json_array_foreach(at(r, "stations"), i, s) {
        fprintf(p->out, "%-12s", text(s, "station"));
        dms_cell(p->out, 12, number(s, "angle_deg"), 0);
        fprintf(p->out, " %+11.1f\"", (number(s, "balanced_deg") - number(s, "angle_deg")) * 3600);
        dms_cell(p->out, 12, number(s, "balanced_deg"), 0);
        fputc('\n', p->out);
    }
    rule(p, 51);
    fprintf(p->out, "%-12s", "sum");
    dms_cell(p->out, 12, sum, 0);
    fprintf(p->out, " %+11.1f\"", -misclosure * 3600);
    dms_cell(p->out, 12, sum - misclosure, 0);
    fprintf(
        p->out,
        "\nThe angles miss by %.0f\"; 1' x root of the stations, %.0f\", is allowed (common practice, no source)\n\n",
        misclosure * 3600, number(r, "angular_allowable_deg") * 3600);
}

static void print_leg(const cli_printer *p, const json_t *l) {
    double departure = number(l, "departure_m"), latitude = number(l, "latitude_m"),
           balanced_departure = number(l, "balanced_departure_m"), balanced_latitude = number(l, "balanced_latitude_m");
    fprintf(p->out, "%-10.10s %-10.10s", text(l, "from"), text(l, "to"));
    entry(p, 10, number(l, "distance_m"));
    dms_cell(p->out, 10, number(l, "bearing_deg"), 0);
    entry(p, 10, departure);
    entry(p, 10, latitude);
    entry(p, 8, balanced_departure - departure);
    entry(p, 8, balanced_latitude - latitude);
    entry(p, 10, balanced_departure);
    entry(p, 10, balanced_latitude);
    entry(p, 12, number(l, "easting_m"));
    entry(p, 12, number(l, "northing_m"));
    fputc('\n', p->out);
}

static void print_leg_sums(const cli_printer *p, const json_t *legs) {
    double departure = sum_of(legs, "departure_m"), latitude = sum_of(legs, "latitude_m"),
           balanced_departure = sum_of(legs, "balanced_departure_m"),
           balanced_latitude = sum_of(legs, "balanced_latitude_m");
    fprintf(p->out, "%-21s", "sum");
    entry(p, 10, sum_of(legs, "distance_m"));
    fprintf(p->out, " %10s", "");
    entry(p, 10, departure);
    entry(p, 10, latitude);
    entry(p, 8, balanced_departure - departure);
    entry(p, 8, balanced_latitude - latitude);
    entry(p, 10, balanced_departure);
    entry(p, 10, balanced_latitude);
    fputc('\n', p->out);
}

void cli_print_traverse(const cli_printer *p, const json_t *r) {
    const char *u = length_unit(p);
    const json_t *start = at(r, "start"), *legs = at(r, "legs");
    fprintf(p->out, "Traverse %s, balanced by the %s rule; lengths in %s\n\n", text(r, "page"), text(r, "rule"), u);
    if (at(r, "stations")) print_stations(p, r);
    fprintf(p->out, "%-10s %-10s %10s %10s %21s %17s %21s %25s\n", "", "", "", "", "as measured", "correction",
            "balanced", "place");
    fprintf(p->out, "%-10s %-10s %10s %10s %10s %10s %8s %8s %10s %10s %12s %12s\n", "from", "to", "distance",
            "bearing", "departure", "latitude", "dep.", "lat.", "departure", "latitude", "easting", "northing");
    rule(p, 133);
    fprintf(p->out, "%-10s %-10.10s %86s", "", text(start, "point"), "");
    entry(p, 12, number(start, "easting_m"));
    entry(p, 12, number(start, "northing_m"));
    fputc('\n', p->out);
    size_t i;
    json_t *l;
    json_array_foreach(legs, i, l) print_leg(p, l);
    rule(p, 133);
    print_leg_sums(p, legs);
    fprintf(p->out, "\nMisclosure %.3f %s east, %.3f %s north: %.3f %s in %.2f %s",
            shown(p, number(r, "departure_misclosure_m")), u, shown(p, number(r, "latitude_misclosure_m")), u,
            shown(p, number(r, "linear_misclosure_m")), u, length_in(p, number(r, "length_m")), u);
    if (isfinite(number(r, "ratio"))) fprintf(p->out, ", relative precision 1:%.0f", number(r, "ratio"));
    fprintf(p->out, " (%s rule)\n", text(r, "rule"));
    if (isfinite(number(r, "allowable_ratio")))
        fprintf(p->out, "Allowed 1:%.0f, %.3f %s in that length (common practice, no source)\n",
                number(r, "allowable_ratio"), length_in(p, number(r, "allowable_m")), u);
    if (isfinite(number(r, "area_m2")))
        fprintf(p->out, "Area %.2f %s\n", number(r, "area_m2") / (p->imperial ? FOOT2 : 1), area_unit(p));
}

/* ---- level book ---- */

typedef struct book_column {
    const char *title, *key;
    int width;
} book_column;

static const book_column RISE_AND_FALL[] = {{"BS", "backsight_m", 9}, {"IS", "intermediate_m", 9},
                                            {"FS", "foresight_m", 9}, {"rise", "rise_m", 9},
                                            {"fall", "fall_m", 9},    {"reduced level", "level_m", 14},
                                            {"corr.", NULL, 8},       {"adjusted", "adjusted_m", 11},
                                            {NULL, NULL, 0}},
                         COLLIMATION[] = {{"BS", "backsight_m", 9},         {"IS", "intermediate_m", 9},
                                          {"FS", "foresight_m", 9},         {"height coll.", "collimation_m", 13},
                                          {"reduced level", "level_m", 14}, {"corr.", NULL, 8},
                                          {"adjusted", "adjusted_m", 11},   {NULL, NULL, 0}};

static double in_column(const json_t *line, const char *key) {
    return key ? number(line, key) : number(line, "adjusted_m") - number(line, "level_m");
}

static void print_book(const cli_printer *p, const json_t *lines, const book_column columns[]) {
    int width = 12;
    fprintf(p->out, "%-12s", "point");
    for (const book_column *c = columns; c->title; c++) {
        fprintf(p->out, " %*s", c->width, c->title);
        width += 1 + c->width;
    }
    fputc('\n', p->out);
    rule(p, width);
    size_t i;
    json_t *line;
    json_array_foreach(lines, i, line) {
        fprintf(p->out, "%-12s", text(line, "point"));
        for (const book_column *c = columns; c->title; c++) entry(p, c->width, in_column(line, c->key));
        fputc('\n', p->out);
    }
    rule(p, width);
}

/* The three differences that must be the same, as they stand at the foot of a page. */
static void print_check(const cli_printer *p, const json_t *r, bool rises) {
    double back = number(r, "sum_backsight_m"), fore = number(r, "sum_foresight_m"), rise = number(r, "sum_rise_m"),
           fall = number(r, "sum_fall_m");
    fprintf(p->out, "%-12s", "sums");
    entry(p, 9, back);
    entry(p, 9, NAN);
    entry(p, 9, fore);
    if (rises) entry(p, 9, rise), entry(p, 9, fall);
    fprintf(p->out, "\nBS - FS = %.3f", shown(p, back - fore));
    if (rises) fprintf(p->out, "; rises - falls = %.3f", shown(p, rise - fall));
    fprintf(p->out, "; last - first level = %.3f: the arithmetic %s\n", shown(p, number(r, "last_less_first_m")),
            json_is_true(at(r, "arithmetic_ok")) ? "agrees" : "DISAGREES");
}

void cli_print_levels(const cli_printer *p, const json_t *r) {
    bool collimation = strcmp(text(r, "method"), "collimation") == 0;
    fprintf(p->out, "Level book %s, by %s; readings in %s\n\n", text(r, "page"),
            collimation ? "height of collimation" : "rise and fall", length_unit(p));
    print_book(p, at(r, "lines"), collimation ? COLLIMATION : RISE_AND_FALL);
    print_check(p, r, !collimation);
    if (*text(r, "assumed")) fprintf(p->out, "%s\n", text(r, "assumed"));
    if (isfinite(number(r, "misclosure_m")))
        fprintf(p->out,
                "Misclosure %.*f %s over %lld set-up%s; allowed 5 mm x root of the set-ups = %.*f %s (ordinary "
                "levelling, UK texts, from memory)\n",
                small_decimals(p), small_in(p, number(r, "misclosure_m")), small_unit(p), whole(r, "set_ups"),
                whole(r, "set_ups") == 1 ? "" : "s", small_decimals(p), small_in(p, number(r, "allowable_m")),
                small_unit(p));
    else fprintf(p->out, "The book closes on nothing known: the arithmetic is checked, the readings are not.\n");
}

/* ---- as CSV ---- */

typedef struct csv_column {
    const char *title, *key;
} csv_column;

static void write_text(const cli_printer *p, const char *value) {
    mst_text quoted = {0};
    mst_text_csv(&quoted, value);
    fputs(quoted.data ? quoted.data : "", p->out);
    mst_text_free(&quoted);
}

/* Columns whose key ends in _m are lengths, the rest as they stand. */
static void write_rows(const cli_printer *p, const json_t *list, const csv_column columns[]) {
    for (const csv_column *c = columns; c->title; c++) {
        size_t n = strlen(c->key);
        bool length = n > 2 && strcmp(c->key + n - 2, "_m") == 0;
        fprintf(p->out, "%s%s", c == columns ? "" : ",", c->title);
        if (length) fprintf(p->out, " (%s)", length_unit(p));
    }
    fputs("\r\n", p->out);
    size_t i;
    json_t *o;
    json_array_foreach(list, i, o) {
        for (const csv_column *c = columns; c->title; c++) {
            size_t n = strlen(c->key);
            double value = number(o, c->key);
            bool length = n > 2 && strcmp(c->key + n - 2, "_m") == 0;
            if (c != columns) fputc(',', p->out);
            if (json_is_string(at(o, c->key))) write_text(p, text(o, c->key));
            else if (isfinite(value)) fprintf(p->out, "%.*f", length ? 4 : 6, length ? length_in(p, value) : value);
        }
        fputs("\r\n", p->out);
    }
}

void cli_csv_traverse(const cli_printer *p, const json_t *r) {
    static const csv_column STATIONS[] = {
        {"station", "station"}, {"angle (deg)", "angle_deg"}, {"balanced (deg)", "balanced_deg"}, {NULL, NULL}};
    static const csv_column LEGS[] = {{"from", "from"},
                                      {"to", "to"},
                                      {"distance", "distance_m"},
                                      {"bearing (deg)", "bearing_deg"},
                                      {"departure", "departure_m"},
                                      {"latitude", "latitude_m"},
                                      {"balanced departure", "balanced_departure_m"},
                                      {"balanced latitude", "balanced_latitude_m"},
                                      {"double meridian distance", "double_meridian_m"},
                                      {"easting", "easting_m"},
                                      {"northing", "northing_m"},
                                      {NULL, NULL}};
    if (at(r, "stations")) {
        write_rows(p, at(r, "stations"), STATIONS);
        fputs("\r\n", p->out);
    }
    write_rows(p, at(r, "legs"), LEGS);
}

void cli_csv_levels(const cli_printer *p, const json_t *r) {
    static const csv_column BOOK[] = {{"point", "point"},
                                      {"backsight", "backsight_m"},
                                      {"intermediate", "intermediate_m"},
                                      {"foresight", "foresight_m"},
                                      {"rise", "rise_m"},
                                      {"fall", "fall_m"},
                                      {"collimation", "collimation_m"},
                                      {"level", "level_m"},
                                      {"adjusted", "adjusted_m"},
                                      {NULL, NULL}};
    write_rows(p, at(r, "lines"), BOOK);
}
