#include "works/element_values.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double STEEPEST = 1;   /* a pad steeper than 1:1 is a batter, or a slip in the fall */
static const double DEEPEST_M = 20; /* a strip, layer or depth beyond this is a slip in the unit */
static const double WIDEST_M = 1000;
static const double FLATTEST_BATTER = 0.05; /* flatter than 1:20 a bank runs on for ever: it is a pad */

mst_status mst_read_known_keys(const mst_reader *r, const json_t *object, const char *const keys[], const char *what) {
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        int i = 0;
        while (keys[i] && strcmp(keys[i], key) != 0) i++;
        if (!keys[i])
            return mst_fail(r->error, MST_INVALID, "Element '%s': '%.40s' is not a key of %s.", r->name, key, what);
    }
    return MST_OK;
}

/* A text value, or NULL with *status set. */
const char *mst_read_text(const mst_reader *r, const char *key, mst_status *status) {
    const json_t *value = json_object_get(r->object, key);
    if (json_is_string(value) && *json_string_value(value)) return json_string_value(value);
    *status = mst_fail(r->error, MST_INVALID, "Element '%s' needs '%s' as text.", r->name, key);
    return NULL;
}

enum { WORDS_SIZE = 80 };

/* Without the spaces around it; what does not fit is no length. */
static const char *bare(const char *text, char words[WORDS_SIZE]) {
    text += strspn(text, " ");
    snprintf(words, WORDS_SIZE, "%s", text);
    for (size_t n = strlen(words); n && words[n - 1] == ' ';) words[--n] = '\0';
    return words;
}

mst_status mst_read_length(const mst_reader *r, const json_t *object, const char *key, double *metres) {
    const json_t *value = json_object_get(object, key);
    char words[WORDS_SIZE];
    mst_error why = {0};
    if (json_is_number(value)) *metres = json_number_value(value);
    else if (!json_is_string(value))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' needs '%s': a length with its unit, or a number in metres.", r->name, key);
    else if (mst_length_read(bare(json_string_value(value), words), MST_UNIT_M, metres, &why))
        return mst_fail(r->error, MST_INVALID, "Element '%s', '%s': %s", r->name, key, why.sentence);
    if (!isfinite(*metres)) return mst_fail(r->error, MST_INVALID, "Element '%s': '%s' is not a length.", r->name, key);
    if (fabs(*metres) > MST_PLACE_MOST_M)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s': '%s' of %g m is farther than the earth is round; check its unit.", r->name, key,
                        *metres);
    return MST_OK;
}

mst_status mst_read_thickness(const mst_reader *r, const json_t *object, const char *key, double *metres) {
    mst_status status = mst_read_length(r, object, key, metres);
    if (!status && (*metres < 0 || *metres > DEEPEST_M))
        return mst_fail(r->error, MST_INVALID, "Element '%s': '%s' of %g m cannot be; check its unit.", r->name, key,
                        *metres);
    return status;
}

mst_status mst_read_width(const mst_reader *r, const json_t *object, const char *key, double *metres) {
    mst_status status = mst_read_length(r, object, key, metres);
    if (!status && !(*metres > 0 && *metres <= WIDEST_M))
        return mst_fail(r->error, MST_INVALID, "Element '%s': '%s' of %g m cannot be; check its unit.", r->name, key,
                        *metres);
    return status;
}

static mst_status point_named(const mst_reader *r, const char *key, const char *name, mst_point *p) {
    const mst_adjusted_point *found = mst_adjustment_point(r->adjustment, name);
    if (!found)
        return mst_fail(r->error, MST_NOT_FOUND, "Element '%s', '%s': there is no point '%.40s'.", r->name, key, name);
    if (!found->has_plan)
        return mst_fail(r->error, MST_UNDETERMINED, "Element '%s', '%s': point '%.40s' has no place yet.", r->name, key,
                        name);
    *p = (mst_point){found->easting_m, found->northing_m};
    return MST_OK;
}

mst_status mst_read_place(const mst_reader *r, const json_t *at, mst_point *p) {
    if (json_is_string(at)) return point_named(r, "at", json_string_value(at), p);
    const json_t *e = json_array_get(at, 0), *n = json_array_get(at, 1);
    if (json_array_size(at) != 2 || !json_is_number(e) || !json_is_number(n))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' needs a place as 'at': a point's name or [easting, northing].", r->name);
    *p = (mst_point){json_number_value(e), json_number_value(n)};
    return MST_OK;
}

/* "1:60", "1 in 60", "2%", "2 %", or a number in percent. */
static bool slope_from(const char *text, double *slope) {
    char copy[40];
    const size_t length = strlen(text);
    if (length >= sizeof copy) return false;
    memcpy(copy, text, length + 1);
    char *percent = strchr(copy, '%'), *ratio = strchr(copy, ':'), *in = strstr(copy, " in ");
    double rise, run;
    if (percent) {
        if (percent[1]) return false;
        while (percent > copy && percent[-1] == ' ') percent--;
        *percent = 0;
        if (!mst_number_read(copy, &rise)) return false;
        *slope = rise / 100;
        return true;
    }
    if (!ratio && !in) return false;
    const char *second = ratio ? ratio + 1 : in + 4;
    *(ratio ? ratio : in) = 0;
    if (!mst_number_read(copy, &rise) || !mst_number_read(second, &run) || !(run > 0)) return false;
    *slope = rise / run;
    return true;
}

mst_status mst_read_fall(const mst_reader *r, const char *key, double least, double *slope) {
    const json_t *fall = json_object_get(r->object, key);
    bool good = json_is_number(fall);
    if (good) *slope = json_number_value(fall) / 100;
    else if (json_is_string(fall)) good = slope_from(json_string_value(fall), slope);
    if (!good)
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs '%s' as \"1:60\", \"2%%\" or a number in percent.",
                        r->name, key);
    if (!(*slope >= least && *slope <= STEEPEST))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s', '%s': a fall of %g %% cannot be; give it from %g to 100 %%.", r->name, key,
                        *slope * 100, least * 100);
    return MST_OK;
}

mst_status mst_read_batter(const mst_reader *r, const char *key, double *slope) {
    const json_t *batter = json_object_get(r->object, key);
    if (!json_is_string(batter) || !slope_from(json_string_value(batter), slope))
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs '%s' as \"1:2\": one up for two along.", r->name,
                        key);
    if (!(*slope >= FLATTEST_BATTER && *slope <= 1 / FLATTEST_BATTER))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s', '%s': a batter is given from \"1:20\" to \"20:1\", one up for two along as "
                        "\"1:2\".",
                        r->name, key);
    return MST_OK;
}

mst_status mst_read_towards(const mst_reader *r, mst_point at, double *bearing) {
    const json_t *towards = json_object_get(r->object, "towards");
    double degrees;
    if (json_is_number(towards)) degrees = json_number_value(towards);
    else if (!json_is_string(towards))
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs 'towards': a bearing in degrees, or a point's name.",
                        r->name);
    else if (mst_adjustment_point(r->adjustment, json_string_value(towards)) ||
             !mst_number_read(json_string_value(towards), &degrees)) {
        mst_point to;
        mst_status status = point_named(r, "towards", json_string_value(towards), &to);
        if (status) return status;
        if (!(mst_distance(at, to) > 0))
            return mst_fail(r->error, MST_UNDETERMINED, "Element '%s' falls from a point towards the same point.",
                            r->name);
        *bearing = mst_bearing(at, to);
        return MST_OK;
    }
    *bearing = degrees * MST_PI / 180;
    return MST_OK;
}
