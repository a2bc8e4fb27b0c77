/* One design element from its JSON definition. Every key is known or refused by name: a slip in a key would otherwise
 * be a metre in the ground. */
#include "merestone/works.h"
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double STEEPEST = 1;   /* a pad steeper than 1:1 is a batter, or a slip in the fall */
static const double DEEPEST_M = 20; /* a strip, layer or depth beyond this is a slip in the unit */
static const char *const COMMON_EARTH = "common earth";

typedef struct reader {
    const json_t *object;
    const char *name;
    const mst_site *site;
    const mst_adjustment *adjustment;
    mst_arena *arena;
    mst_error *error;
} reader;

static const char *const KEYS_OF[][12] = {
    [MST_WORK_PAD] = {"name", "kind", "in", "level", "layers", "strip", "soil", NULL},
    [MST_WORK_FALLING_PAD] = {"name", "kind", "in", "level", "at", "fall", "towards", "layers", "strip", "soil", NULL},
    [MST_WORK_DEPTH] = {"name", "kind", "in", "depth", "layers", "strip", "soil", NULL},
};
static const char *const LAYER_KEYS[] = {"material", "thickness", NULL};

static mst_status known_keys(const reader *r, const json_t *object, const char *const keys[], const char *what) {
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
static const char *text_of(const reader *r, const char *key, mst_status *status) {
    const json_t *value = json_object_get(r->object, key);
    if (json_is_string(value) && *json_string_value(value)) return json_string_value(value);
    *status = mst_fail(r->error, MST_INVALID, "Element '%s' needs '%s' as text.", r->name, key);
    return NULL;
}

static mst_status length_in(const reader *r, const json_t *object, const char *key, double *metres) {
    const json_t *value = json_object_get(object, key);
    mst_error why = {0};
    if (json_is_number(value)) *metres = json_number_value(value);
    else if (!json_is_string(value))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' needs '%s': a length with its unit, or a number in metres.", r->name, key);
    else if (mst_length_read(json_string_value(value), MST_UNIT_M, metres, &why))
        return mst_fail(r->error, MST_INVALID, "Element '%s', '%s': %s", r->name, key, why.sentence);
    if (!isfinite(*metres)) return mst_fail(r->error, MST_INVALID, "Element '%s': '%s' is not a length.", r->name, key);
    return MST_OK;
}

static mst_status thickness_in(const reader *r, const json_t *object, const char *key, double *metres) {
    mst_status status = length_in(r, object, key, metres);
    if (!status && (*metres < 0 || *metres > DEEPEST_M))
        return mst_fail(r->error, MST_INVALID, "Element '%s': '%s' of %g m cannot be; check its unit.", r->name, key,
                        *metres);
    return status;
}

static mst_status point_named(const reader *r, const char *key, const char *name, mst_point *p) {
    const mst_adjusted_point *found = mst_adjustment_point(r->adjustment, name);
    if (!found)
        return mst_fail(r->error, MST_NOT_FOUND, "Element '%s', '%s': there is no point '%.40s'.", r->name, key, name);
    if (!found->has_plan)
        return mst_fail(r->error, MST_UNDETERMINED, "Element '%s', '%s': point '%.40s' has no place yet.", r->name, key,
                        name);
    *p = (mst_point){found->easting_m, found->northing_m};
    return MST_OK;
}

static mst_status read_at(const reader *r, mst_point *p) {
    const json_t *at = json_object_get(r->object, "at");
    if (json_is_string(at)) return point_named(r, "at", json_string_value(at), p);
    const json_t *e = json_array_get(at, 0), *n = json_array_get(at, 1);
    if (json_array_size(at) != 2 || !json_is_number(e) || !json_is_number(n))
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs 'at': a point's name or [easting, northing].",
                        r->name);
    *p = (mst_point){json_number_value(e), json_number_value(n)};
    return MST_OK;
}

/* "1:60", "1 in 60", "2%", "2 %", or a number in percent. */
static bool slope_from(const char *text, double *slope) {
    char copy[40];
    if (strlen(text) >= sizeof copy) return false;
    strcpy(copy, text);
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

static mst_status read_fall(const reader *r, double *slope) {
    const json_t *fall = json_object_get(r->object, "fall");
    bool good = json_is_number(fall);
    if (good) *slope = json_number_value(fall) / 100;
    else if (json_is_string(fall)) good = slope_from(json_string_value(fall), slope);
    if (!good)
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs 'fall' as \"1:60\", \"2%%\" or a number in percent.",
                        r->name);
    if (!(*slope >= 0 && *slope <= STEEPEST))
        return mst_fail(r->error, MST_INVALID, "Element '%s': a fall of %g %% cannot be; give it from 0 to 100 %%.",
                        r->name, *slope * 100);
    return MST_OK;
}

static mst_status read_towards(const reader *r, mst_point at, double *bearing) {
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

static mst_status read_plane(const reader *r, mst_element *e) {
    mst_point at = {0, 0};
    double slope = 0, bearing = 0;
    mst_status status = length_in(r, r->object, "level", &e->finish.level_m);
    if (status || e->kind == MST_WORK_PAD) return status;
    if ((status = read_at(r, &at)) || (status = read_fall(r, &slope)) || (status = read_towards(r, at, &bearing)))
        return status;
    e->finish.e0_m = at.easting_m, e->finish.n0_m = at.northing_m;
    e->finish.slope_e = -slope * sin(bearing);
    e->finish.slope_n = -slope * cos(bearing);
    return MST_OK;
}

static mst_status read_depth(const reader *r, mst_element *e) {
    mst_status status = length_in(r, r->object, "depth", &e->depth_m);
    if (!status && fabs(e->depth_m) > DEEPEST_M)
        return mst_fail(r->error, MST_INVALID, "Element '%s': a depth of %g m cannot be; check its unit.", r->name,
                        e->depth_m);
    return status;
}

static mst_status read_layers(const reader *r, mst_element *e) {
    const json_t *layers = json_object_get(r->object, "layers");
    if (!layers) return MST_OK;
    if (!json_is_array(layers)) return mst_fail(r->error, MST_INVALID, "Element '%s': 'layers' is a list.", r->name);
    e->layers = mst_arena_array(r->arena, json_array_size(layers) + 1, sizeof *e->layers);
    if (!e->layers) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < json_array_size(layers); i++) {
        const json_t *layer = json_array_get(layers, i), *material = json_object_get(layer, "material");
        mst_work_layer *out = &e->layers[e->layer_count++];
        if (!json_is_object(layer) || !json_is_string(material))
            return mst_fail(r->error, MST_INVALID, "Element '%s': layer %zu needs a 'material' and a 'thickness'.",
                            r->name, i + 1);
        mst_status status = known_keys(r, layer, LAYER_KEYS, "a layer");
        if (!status) status = thickness_in(r, layer, "thickness", &out->thickness_m);
        if (status) return status;
        out->material = mst_arena_string(r->arena, json_string_value(material));
        if (!out->material) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
        e->build_up_m += out->thickness_m;
    }
    return MST_OK;
}

static mst_status read_kind(const reader *r, mst_work_kind *kind) {
    static const char *const names[] = {"pad", "falling pad", "depth"};
    mst_status status = MST_OK;
    const char *text = text_of(r, "kind", &status);
    for (int i = 0; text && i < 3; i++)
        if (strcmp(text, names[i]) == 0) {
            *kind = (mst_work_kind)i;
            return known_keys(r, r->object, KEYS_OF[i], i == 0 ? "a pad" : i == 1 ? "a falling pad" : "a depth");
        }
    return status ? status
                  : mst_fail(r->error, MST_INVALID, "Element '%s': the kind is pad, falling pad or depth, not '%.40s'.",
                             r->name, text);
}

static mst_status read_in(const reader *r, mst_element *e) {
    mst_status status = MST_OK;
    const char *in = text_of(r, "in", &status);
    if (status) return status;
    const mst_feature *feature = mst_site_feature(r->site, in);
    if (!feature)
        return mst_fail(r->error, MST_NOT_FOUND, "Element '%s' lies in '%.60s', but there is no such feature.", r->name,
                        in);
    if (feature->kind != MST_FEATURE_AREA)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' lies in '%.60s', which is no area; draw its outline as an area.", r->name, in);
    e->in = mst_arena_string(r->arena, in);
    return e->in ? MST_OK : mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status read_soil(const reader *r, mst_element *e) {
    mst_status status = MST_OK;
    mst_soil soil;
    if (!json_object_get(r->object, "soil")) {
        e->soil = COMMON_EARTH;
        return MST_OK;
    }
    const char *name = text_of(r, "soil", &status);
    if (!status) status = mst_soil_of(r->site, name, &soil, r->error);
    if (status) return status;
    e->soil = mst_arena_string(r->arena, name);
    return e->soil ? MST_OK : mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status read_all(const reader *r, mst_element *e) {
    mst_status status = read_kind(r, &e->kind);
    e->name = mst_arena_string(r->arena, r->name);
    if (!status && !e->name) status = mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    if (!status) status = read_in(r, e);
    if (!status) status = e->kind == MST_WORK_DEPTH ? read_depth(r, e) : read_plane(r, e);
    if (!status && json_object_get(r->object, "strip")) status = thickness_in(r, r->object, "strip", &e->strip_m);
    if (!status) status = read_layers(r, e);
    return status ? status : read_soil(r, e);
}

mst_status mst_element_read(const mst_work *work, const mst_site *site, const mst_adjustment *adjustment,
                            mst_arena *arena, mst_element *element, mst_error *error) {
    json_error_t why;
    const char *given = work->name ? work->name : "";
    json_t *root = json_loads(work->definition ? work->definition : "", JSON_REJECT_DUPLICATES, &why);
    if (!root)
        return mst_fail(error, MST_INVALID, "Element '%.60s' is not JSON (line %d): %s.", given, why.line, why.text);
    const char *name = json_string_value(json_object_get(root, "name"));
    char shown[101];
    snprintf(shown, sizeof shown, "%.100s", name && *name ? name : given);
    reader r = {root, shown, site, adjustment, arena, error};
    mst_element e = {0};
    mst_status status = json_is_object(root)
                            ? read_all(&r, &e)
                            : mst_fail(error, MST_INVALID, "Element '%.60s' is not a JSON object.", given);
    json_decref(root);
    if (!status) *element = e;
    return status;
}
