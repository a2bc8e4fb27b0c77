/* Which settings there are and what each may say. A setting that nothing reads, or that its reader cannot read, would
 * be kept and quietly do nothing. */
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

typedef enum kind {
    TEXT,
    UNITS,
    WORD,      /* `says` and nothing else */
    LENGTH,    /* above 0 */
    POSITIVE,  /* a number above 0 */
    SHARE,     /* above 0, up to 1 */
    NOT_BELOW, /* a number of 0 or more */
    LATITUDE,
    LONGITUDE,
    NUMBER,
    FALL,
    SOIL,
    VISIT
} kind;

/* A name that ends in a dot is a family: soil.clay, soil.loam ... */
static const struct {
    const char *name;
    kind kind;
    const char *says; /* what it is, for the refusal */
} SETTINGS[] = {{"title", TEXT, ""},
                {"units", UNITS, ""},
                {"currency", TEXT, ""},
                {"load", POSITIVE, "what a lorry holds, in m3 loose"},
                {"load weight", POSITIVE, "what a lorry carries, in tonnes"},
                {"tolerance plan", LENGTH, "a length above 0 such as 25mm"},
                {"tolerance height", LENGTH, "a length above 0 such as 10mm"},
                {"datum", WORD, "free"},
                {"gear-factors", WORD, "apply"},
                {"legs-drift", NOT_BELOW, "degrees a minute, 0 or more"},
                {"origin.latitude", LATITUDE, "degrees, -90 to 90"},
                {"origin.longitude", LONGITUDE, "degrees, -180 to 180"},
                {"origin.height", NUMBER, "a height in metres"},
                {"ground.visit", VISIT, "the visit whose points make the ground, or several between commas"},
                {"roughness.swale", POSITIVE, "Manning's n, a number above 0"},
                {"roughness.pipe", POSITIVE, "Manning's n, a number above 0"},
                {"rainfall", POSITIVE, "the rain to design for, in mm an hour"},
                {"runoff", SHARE, "the share of the rain that runs off, above 0 and up to 1"},
                {"soil.", SOIL, "loose and compacted volume per 1 in the bank, as 1.35/0.88"},
                {"stem.", LENGTH, "the stem's diameter, as 350mm"},
                {"bore.", LENGTH, "the pipe's inside diameter, as 103mm"},
                {"fall.", FALL, "the least fall, as 1:60 or 1.7"},
                {"steepest.", FALL, "the steepest fall, as 1:20 or 5"},
                {"sheet-title", TEXT, ""},
                {"number", TEXT, ""},
                {"revision", TEXT, ""},
                {"revision-note", TEXT, ""},
                {"date", TEXT, ""},
                {"status", TEXT, ""},
                {"owner", TEXT, ""},
                {"creator", TEXT, ""},
                {"approved", TEXT, ""},
                {"client", TEXT, ""},
                {"north", TEXT, ""},
                {"services", TEXT, ""}};
enum { SETTING_COUNT = sizeof SETTINGS / sizeof *SETTINGS, NAME_MOST = 60 };
static const size_t NEAR = 2; /* slips of the key that still name a setting */

/* ---- which ---- */

static size_t least(size_t a, size_t b) { return a < b ? a : b; }

/* Letters to change, add or drop to make one name of another (Levenshtein 1966), of the first @p length of each. */
static size_t slips(const char *a, size_t a_length, const char *b, size_t b_length) {
    size_t row[NAME_MOST + 1];
    if (a_length > NAME_MOST || b_length > NAME_MOST) return SIZE_MAX;
    for (size_t k = 0; k <= b_length; k++) row[k] = k;
    for (size_t i = 1; i <= a_length; i++) {
        size_t corner = row[0];
        row[0] = i;
        for (size_t k = 1; k <= b_length; k++) {
            size_t swap = corner + (a[i - 1] != b[k - 1]);
            corner = row[k];
            row[k] = least(swap, least(row[k], row[k - 1]) + 1);
        }
    }
    return row[b_length];
}

static bool is_family(size_t s) { return SETTINGS[s].name[strlen(SETTINGS[s].name) - 1] == '.'; }

static bool names(size_t s, const char *key) {
    size_t length = strlen(SETTINGS[s].name);
    return is_family(s) ? strncmp(key, SETTINGS[s].name, length) == 0 && key[length]
                        : strcmp(key, SETTINGS[s].name) == 0;
}

static bool is_near(size_t s, const char *key) {
    size_t length = strlen(SETTINGS[s].name), family = is_family(s) ? strcspn(key, ".:_ -") : strlen(key);
    size_t own = length - is_family(s);
    return slips(key, family, SETTINGS[s].name, own) <= least(NEAR, own / 2) ||
           (!is_family(s) && strncmp(key, SETTINGS[s].name, strlen(key)) == 0);
}

static void list(mst_text *t, size_t s) {
    mst_text_printf(t, "%s%s%s", t->length ? ", " : "", SETTINGS[s].name, is_family(s) ? "NAME" : "");
}

static mst_status unknown(const char *key, mst_error *error) {
    mst_text near = {0}, all = {0};
    for (size_t s = 0; s < SETTING_COUNT; s++) {
        list(&all, s);
        if (is_near(s, key)) list(&near, s);
    }
    if (near.length) mst_fail(error, MST_INVALID, "There is no setting '%.60s'; did you mean %s?", key, near.data);
    else mst_fail(error, MST_INVALID, "There is no setting '%.60s'; there are %s.", key, all.data ? all.data : "none");
    mst_text_free(&near);
    mst_text_free(&all);
    return MST_INVALID;
}

/* ---- what it may say ---- */

static bool number_in(const char *value, double low, double high) {
    double v;
    return mst_number_read(value, &v) && v >= low && v <= high;
}

static bool positive(const char *value) {
    double v;
    return mst_number_read(value, &v) && v > 0;
}

static bool length_above(const char *value) {
    double v;
    return mst_length_read(value, MST_UNIT_M, &v, NULL) == MST_OK && v > 0;
}

/* The site with this one setting, for a reader that takes a site. */
static bool soil(const char *key, const char *value) {
    mst_setting one = {key, value};
    const mst_site site = {.settings = &one, .setting_count = 1};
    mst_soil read;
    mst_error why = {0};
    return mst_soil_of(&site, key + strlen("soil."), &read, &why) == MST_OK;
}

static bool visits(const mst_site *site, const char *value) {
    for (const char *at = value; *at;) {
        size_t length = strcspn(at, ",");
        bool found = false;
        while (length && *at == ' ') at++, length--;
        size_t own = length;
        while (own && at[own - 1] == ' ') own--;
        for (size_t p = 0; p < site->page_count && !found; p++)
            found = own && strlen(site->pages[p].visit) == own && strncmp(site->pages[p].visit, at, own) == 0;
        if (!found) return false;
        at += length + (at[length] == ',');
    }
    return true;
}

static bool may_say(const mst_site *site, size_t s, const char *key, const char *value) {
    double percent;
    switch (SETTINGS[s].kind) {
    case UNITS:
        return strcmp(value, "metric") == 0 || strcmp(value, "imperial") == 0;
    case WORD:
        return strcmp(value, SETTINGS[s].says) == 0;
    case LENGTH:
        return length_above(value);
    case POSITIVE:
        return positive(value);
    case SHARE:
        return positive(value) && number_in(value, 0, 1);
    case NOT_BELOW:
        return number_in(value, 0, HUGE_VAL);
    case LATITUDE:
        return number_in(value, -90, 90);
    case LONGITUDE:
        return number_in(value, -180, 180);
    case NUMBER:
        return number_in(value, -HUGE_VAL, HUGE_VAL);
    case FALL:
        return mst_fall_read(value, &percent);
    case SOIL:
        return soil(key, value);
    case VISIT:
        return visits(site, value);
    default:
        return true;
    }
}

mst_status mst_setting_check(const mst_site *site, const char *key, const char *value, mst_error *error) {
    size_t s = 0;
    while (s < SETTING_COUNT && !names(s, key)) s++;
    if (s == SETTING_COUNT) return unknown(key, error);
    if (SETTINGS[s].kind == UNITS && !may_say(site, s, key, value))
        return mst_fail(error, MST_INVALID, "Units are metric or imperial, not '%.40s'.", value);
    if (!*value || may_say(site, s, key, value)) return MST_OK;
    return mst_fail(error, MST_INVALID, "The setting '%.60s' is %s, not '%.40s'.", key, SETTINGS[s].says, value);
}
