/* Sentences in feet. The core says every measured figure in metres, with the unit right behind the number; a site whose
 * people read feet has them rewritten here, once, on their way out. A figure that quotes a code or a handbook keeps its
 * own unit: a no-break space stands between the two. */
#include "merestone/base.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LONGEST = 24 }; /* characters of a figure; nothing measured has more */

typedef struct unit {
    const char *metric, *imperial;
    double size;      /* of one imperial unit in the metric one */
    int fewer, least; /* decimals: fewer than in the metric one, and at the least */
} unit;

/* Longest first. Small lengths go to inches and earth to cubic yards, as on the page and in the tables. */
static const unit UNITS[] = {{"mm", "in", MST_FOOT_M / 12 * 1000, 0, 2},
                             {"m\xC2\xB2", "ft\xC2\xB2", MST_SQUARE_FOOT_M2, 1, 0},
                             {"m\xC2\xB3", "yd\xC2\xB3", MST_CUBIC_YARD_M3, 0, 0},
                             {"m2", "ft2", MST_SQUARE_FOOT_M2, 1, 0},
                             {"m3", "yd3", MST_CUBIC_YARD_M3, 0, 0},
                             {"m", "ft", MST_FOOT_M, 0, 0}};
static const unit BARE = {"", "", MST_FOOT_M, 0, 0}; /* a level or a coordinate */

static bool digit(char c) { return c >= '0' && c <= '9'; }
static bool letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (unsigned char)c >= 0x80; }

typedef struct figure {
    const char *end;
    int decimals;
    double value;
} figure;

static bool take_figure(const char *at, figure *f) {
    const char *c = at;
    if (*c == '+' || *c == '-') c++;
    if (!digit(*c)) return false;
    while (digit(*c)) c++;
    *f = (figure){c, 0, 0};
    if (*c == '.' && digit(c[1])) {
        for (c++; digit(*c); c++) f->decimals++;
        f->end = c;
    }
    if ((size_t)(f->end - at) >= LONGEST) return false;
    char copy[LONGEST] = {0};
    memcpy(copy, at, (size_t)(f->end - at));
    f->value = strtod(copy, NULL);
    return true;
}

static const unit *unit_behind(const char *at) {
    if (*at == ' ') at++;
    for (size_t i = 0; i < sizeof UNITS / sizeof *UNITS; i++) {
        size_t length = strlen(UNITS[i].metric);
        const char *end = at + length;
        if (strncmp(at, UNITS[i].metric, length) == 0 && !letter(*end) && !digit(*end)) return &UNITS[i];
    }
    return NULL;
}

static bool follows(const char *sentence, const char *at, const char *word) {
    size_t length = strlen(word);
    return (size_t)(at - sentence) >= length && memcmp(at - length, word, length) == 0;
}

/* "level 98.027", "101.39 E, 205.69 N" */
static bool bare(const char *sentence, const char *at, const figure *f) {
    if (f->decimals < 2) return false;
    if (f->end[0] == ' ' && (f->end[1] == 'E' || f->end[1] == 'N') && !letter(f->end[2])) return true;
    return follows(sentence, at, "level ") || follows(sentence, at, "levels ");
}

static void write_figure(mst_text *out, const char *at, const figure *f, const unit *u) {
    double value = f->value / u->size;
    int decimals = f->decimals - u->fewer;
    if (decimals < u->least) decimals = u->least;
    if (decimals == 0 && fabs(value) < 100 && u->size < 1) decimals = 1;
    if (fabs(value) < 0.5 * pow(10, -decimals)) value = 0;
    mst_text_printf(out, *at == '+' ? "%+.*f" : "%.*f", decimals, value);
}

/* A figure starts where no word runs into it: the 4 of "H4", the 40 of "1:40" and the 50 of "2021-50" are none. */
static bool may_start(const char *sentence, const char *at) {
    if (at == sentence) return true;
    char before = at[-1];
    bool joined = before == ':' || before == '.' || before == '/' || before == '-' || before == '_' || before == '+';
    return !digit(before) && !letter(before) && !joined;
}

/* The end of the name between quotes that starts at @p at, or NULL: an apostrophe is not a quote. */
static const char *quoted(const char *sentence, const char *at) {
    if (*at != '\'' || (at > sentence && (letter(at[-1]) || digit(at[-1])))) return NULL;
    const char *end = strchr(at + 1, '\'');
    while (end && letter(end[1])) end = strchr(end + 1, '\'');
    return end ? end + 1 : NULL;
}

void mst_words_in_feet(const char *sentence, mst_text *out) {
    for (const char *at = sentence; *at;) {
        const char *end = quoted(sentence, at);
        figure f;
        if (!end && may_start(sentence, at) && take_figure(at, &f)) {
            const unit *u = unit_behind(f.end);
            end = f.end;
            if (u || bare(sentence, at, &f)) {
                write_figure(out, at, &f, u ? u : &BARE);
                if (u) {
                    bool spaced = *end == ' ';
                    mst_text_printf(out, "%s%s", spaced ? " " : "", u->imperial);
                    end += strlen(u->metric) + spaced;
                }
                at = end;
                continue;
            }
        }
        if (!end) end = at + 1;
        mst_text_add(out, at, (size_t)(end - at));
        at = end;
    }
}
