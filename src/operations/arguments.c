#include "operations/arguments.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

const char *mst_arg_text(const json_t *arguments, const char *key, const char *fallback) {
    const char *text = json_string_value(json_object_get(arguments, key));
    return text ? text : fallback;
}

bool mst_arg_given(const json_t *arguments, const char *key) {
    const json_t *value = json_object_get(arguments, key);
    return value && !json_is_null(value);
}

bool mst_arg_flag(const json_t *arguments, const char *key) {
    const json_t *value = json_object_get(arguments, key);
    const char *text = json_string_value(value);
    return json_is_true(value) || (text && (strcmp(text, "yes") == 0 || strcmp(text, "true") == 0));
}

mst_status mst_arg_required(const json_t *arguments, const char *key, const char **text, mst_error *error) {
    *text = mst_arg_text(arguments, key, "");
    return **text ? MST_OK : mst_fail(error, MST_INVALID, "'%s' is needed.", key);
}

static mst_status within_the_earth(const char *key, double value, mst_error *error) {
    if (fabs(value) <= MST_PLACE_MOST_M) return MST_OK;
    return mst_fail(error, MST_INVALID, "%s: %g m is farther than the earth is round; check the digits and the unit.",
                    key, value);
}

mst_status mst_arg_length(const json_t *arguments, const char *key, double *value, mst_error *error) {
    const json_t *given = json_object_get(arguments, key);
    if (!given || json_is_null(given)) return MST_OK;
    if (json_is_number(given)) {
        *value = json_number_value(given);
        return within_the_earth(key, *value, error);
    }
    mst_error why = {0};
    if (json_is_string(given) && mst_length_read(json_string_value(given), MST_UNIT_M, value, &why) == MST_OK)
        return within_the_earth(key, *value, error);
    return mst_fail(error, MST_INVALID, "%s: %s", key,
                    why.sentence[0] ? why.sentence : "a length is a number in metres or text with its unit.");
}

mst_status mst_arg_positive(const json_t *arguments, const char *key, double *value, mst_error *error) {
    mst_status status = mst_arg_length(arguments, key, value, error);
    if (!status && mst_arg_given(arguments, key) && !(*value > 0))
        return mst_fail(error, MST_INVALID, "%s: it must be more than 0; leave it out for the usual one.", key);
    return status;
}

mst_status mst_arg_number(const json_t *arguments, const char *key, double *value, mst_error *error) {
    const json_t *given = json_object_get(arguments, key);
    if (!given || json_is_null(given)) return MST_OK;
    if (json_is_number(given)) {
        *value = json_number_value(given);
        return MST_OK;
    }
    if (json_is_string(given) && mst_number_read(json_string_value(given), value)) return MST_OK;
    return mst_fail(error, MST_INVALID, "%s: '%s' is not a number.", key,
                    json_is_string(given) ? json_string_value(given) : "it");
}

static bool place_from_text(const char *text, mst_point *place) {
    char first[40];
    const char *comma = strchr(text, ',');
    if (!comma || (size_t)(comma - text) >= sizeof first) return false;
    snprintf(first, sizeof first, "%.*s", (int)(comma - text), text);
    return mst_length_read(first, MST_UNIT_M, &place->easting_m, NULL) == MST_OK &&
           mst_length_read(comma + 1, MST_UNIT_M, &place->northing_m, NULL) == MST_OK;
}

mst_status mst_arg_place(const json_t *arguments, const char *key, mst_point *place, bool *given, mst_error *error) {
    const json_t *value = json_object_get(arguments, key);
    *given = value && !json_is_null(value);
    if (!*given) return MST_OK;
    if (json_is_array(value) && json_array_size(value) == 2 && json_is_number(json_array_get(value, 0)) &&
        json_is_number(json_array_get(value, 1))) {
        *place = (mst_point){json_number_value(json_array_get(value, 0)), json_number_value(json_array_get(value, 1))};
        return MST_OK;
    }
    if (json_is_string(value) && place_from_text(json_string_value(value), place)) return MST_OK;
    return mst_fail(error, MST_INVALID, "%s: a place is EASTING,NORTHING in metres.", key);
}

mst_status mst_arg_only(const json_t *arguments, const char *const known[], mst_error *error) {
    static const char *const EVERY_CHANGE[] = {"who", "why", "expected_revision", NULL};
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)arguments, key, value) {
        bool found = false;
        for (const char *const *k = known; *k && !found; k++) found = strcmp(*k, key) == 0;
        for (const char *const *k = EVERY_CHANGE; *k && !found; k++) found = strcmp(*k, key) == 0;
        if (!found) return mst_fail(error, MST_INVALID, "'%.60s' is not an argument here.", key);
    }
    return MST_OK;
}

json_t *mst_json_number(double value) { return isfinite(value) ? json_real(value) : json_null(); }
json_t *mst_json_text(const char *text) { return json_string(text ? text : ""); }

void mst_json_figure(json_t *object, const char *key, mst_figure figure) {
    char interval[64];
    snprintf(interval, sizeof interval, "%s_interval", key);
    json_object_set_new(object, key, mst_json_number(figure.value));
    json_object_set_new(object, interval,
                        json_pack("[o,o]", mst_json_number(figure.low), mst_json_number(figure.high)));
}
