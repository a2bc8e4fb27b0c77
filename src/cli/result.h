/** @file src/cli/result.h  Reading a result's JSON and writing its figures, for everything that prints for people. */
#ifndef CLI_RESULT_H
#define CLI_RESULT_H
#include "cli/cli.h"
#include <math.h>
#include <string.h>

static inline const json_t *at(const json_t *o, const char *key) { return json_object_get(o, key); }
static inline double number(const json_t *o, const char *key) {
    const json_t *v = at(o, key);
    return json_is_number(v) ? json_number_value(v) : NAN;
}
static inline const char *text(const json_t *o, const char *key) {
    const char *t = json_string_value(at(o, key));
    return t ? t : "";
}
static inline long long whole(const json_t *o, const char *key) {
    return json_is_number(at(o, key)) ? llround(json_number_value(at(o, key))) : 0;
}

static const double FOOT2 = MST_SQUARE_FOOT_M2, YARD3 = MST_CUBIC_YARD_M3;

static inline double length_in(const cli_printer *p, double m) { return p->imperial ? m / MST_FOOT_M : m; }
static inline const char *length_unit(const cli_printer *p) { return p->imperial ? "ft" : "m"; }
static inline double small_in(const cli_printer *p, double m) { return p->imperial ? m / MST_FOOT_M * 12 : m * 1000; }
static inline const char *small_unit(const cli_printer *p) { return p->imperial ? "in" : "mm"; }
static inline int small_decimals(const cli_printer *p) { return p->imperial ? 3 : 1; }
static inline const char *area_unit(const cli_printer *p) { return p->imperial ? "ft2" : "m2"; }
static inline const char *volume_unit(const cli_printer *p) { return p->imperial ? "yd3" : "m3"; }

/* A number or a dash, right-aligned. */
static inline void cell(FILE *out, int width, int decimals, double v) {
    if (isfinite(v)) fprintf(out, " %*.*f", width, decimals, v);
    else fprintf(out, " %*s", width, "-");
}

/* Money from minor units with the currency's digits, or with as many more as it has: a rate of 1.005 stays 1.005. */
static inline const char *money(double minor, int decimals, char out[40]) {
    double major = minor / (decimals == 0 ? 1 : decimals == 3 ? 1000 : 100), by = pow(10, decimals);
    int shown = decimals;
    for (; shown < 8 && fabs(round(major * by) / by - major) > 1e-9 * fabs(major); shown++) by *= 10;
    snprintf(out, 40, "%.*f", shown, major);
    return out;
}

static inline double interval_end(const json_t *o, const char *key, size_t end) {
    const json_t *v = json_array_get(at(o, key), end);
    return json_is_number(v) ? json_number_value(v) : NAN;
}

/* "label   12.345 m  (95 %: 12.340 to 12.350)" */
static inline void figure(const cli_printer *p, const char *label, const json_t *o, const char *key,
                          const char *interval, double unit, const char *name, int decimals) {
    double v = number(o, key), low = interval_end(o, interval, 0), high = interval_end(o, interval, 1);
    if (!isfinite(v)) return;
    fprintf(p->out, "%-18s %12.*f %s", label, decimals, v / unit, name);
    if (isfinite(low) && isfinite(high))
        fprintf(p->out, "   (95 %%: %.*f to %.*f)", decimals, low / unit, decimals, high / unit);
    fputc('\n', p->out);
}

static inline void sentences(const cli_printer *p, const json_t *o, const char *key, const char *mark) {
    size_t i;
    json_t *s;
    json_array_foreach(at(o, key), i, s) fprintf(p->out, "%s%s\n", mark, json_string_value(s));
}

#endif
