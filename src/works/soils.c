/* Bank, loose, compacted. The factors are averages that sources quote as if they were exact; each carries its source,
 * and a site's own trial load beats them all. */
#include "merestone/works.h"
#include <stdio.h>
#include <string.h>

#define FIELD_MANUAL "US Army FM 5-434, soil conversion table (from memory)"
#define RANGE(text) "mean of the range " text " (trade ranges, from memory)"

static const mst_soil SOILS[] = {
    {"common earth", FIELD_MANUAL, 1.25, 0.90, 1.5},
    {"loam", FIELD_MANUAL, 1.25, 0.90, 1.5},
    {"sand", "US Army FM 5-434, soil conversion table; sand row read in a US Navy manual", 1.11, 0.95, 1.6},
    {"clay", FIELD_MANUAL, 1.43, 0.90, 1.6},
    {"rock", FIELD_MANUAL, 1.50, 1.30, 2.4},
    {"coral", FIELD_MANUAL, 1.50, 1.30, 2.0},
    {"gravel", RANGE("1.05-1.15 loose, 0.90-0.97 compacted"), 1.10, 0.935, 1.9},
    {"topsoil", RANGE("1.25-1.55 loose, 0.75-0.90 compacted"), 1.40, 0.825, 1.44},
    {"chalk", RANGE("1.30-1.50 loose, 0.90-1.00 compacted"), 1.40, 0.95, 1.8},
    {"hardcore", RANGE("1.40-1.60 loose, 1.05-1.15 compacted"), 1.50, 1.10, 2.2},
};
enum { SOIL_COUNT = sizeof SOILS / sizeof *SOILS };

const mst_soil *mst_soils(size_t *count) {
    *count = SOIL_COUNT;
    return SOILS;
}

const mst_soil *mst_soil_named(const char *name) {
    for (size_t i = 0; i < SOIL_COUNT; i++)
        if (strcmp(SOILS[i].name, name) == 0) return &SOILS[i];
    return NULL;
}

/* "loose/compacted" or "loose/compacted/tonnes". */
static bool factors_of(const char *text, mst_soil *soil) {
    double value[3];
    int count = 0;
    char part[32];
    for (const char *at = text; count < 3; at++) {
        size_t length = strcspn(at, "/");
        if (length >= sizeof part) return false;
        memcpy(part, at, length);
        part[length] = 0;
        if (!mst_number_read(part, &value[count++])) return false;
        at += length;
        if (!*at) break;
        if (count == 3) return false;
    }
    if (count < 2 || value[0] < 1 || value[0] > 3 || value[1] < 0.3 || value[1] > value[0]) return false;
    soil->loose = value[0];
    soil->compacted = value[1];
    if (count == 3) soil->bank_t_m3 = value[2];
    return true;
}

static mst_status unknown_soil(const char *name, mst_error *error) {
    char names[200] = "";
    for (size_t i = 0, at = 0; i < SOIL_COUNT && at < sizeof names; i++)
        at += (size_t)snprintf(names + at, sizeof names - at, "%s%s", i ? ", " : "", SOILS[i].name);
    return mst_fail(error, MST_NOT_FOUND,
                    "There is no soil '%.40s'; there are %s, or set soil.%.40s to loose/compacted.", name, names, name);
}

mst_status mst_soil_of(const mst_site *site, const char *name, mst_soil *soil, mst_error *error) {
    char key[120];
    const mst_soil *built_in = mst_soil_named(name);
    mst_soil found = built_in ? *built_in : (mst_soil){0};
    int length = snprintf(key, sizeof key, "soil.%s", name);
    const char *own = length > 0 && (size_t)length < sizeof key ? mst_site_setting(site, key, "") : "";
    if (!*own && !built_in) return unknown_soil(name, error);
    if (*own && !factors_of(own, &found))
        return mst_fail(error, MST_INVALID,
                        "Setting %.60s is '%.40s'; give loose and compacted volume per 1 in the bank, as 1.35/0.88.",
                        key, own);
    found.name = name;
    if (*own) found.source = "the site's own setting";
    *soil = found;
    return MST_OK;
}

mst_status mst_lorry_of(const mst_site *site, const char *key, double *holds, mst_error *error) {
    const char *text = mst_site_setting(site, key, "");
    *holds = 0;
    if (*text && (!mst_number_read(text, holds) || !(*holds > 0)))
        return mst_fail(error, MST_INVALID, "The setting '%s' is what a lorry holds, above 0, not '%.40s'.", key, text);
    return MST_OK;
}
