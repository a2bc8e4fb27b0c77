/* One design element from its JSON definition. Every key is known or refused by name: a slip in a key would otherwise
 * be a metre in the ground. */
#include "works/element_values.h"
#include <stdio.h>
#include <string.h>

static const char *const COMMON_EARTH = "common earth";
static const char *const LAYER_KEYS[] = {"material", "thickness", NULL};

static mst_status read_layers(const mst_reader *r, mst_element *e) {
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
        mst_status status = mst_read_known_keys(r, layer, LAYER_KEYS, "a layer");
        if (!status) status = mst_read_thickness(r, layer, "thickness", &out->thickness_m);
        if (status) return status;
        out->material = mst_arena_string(r->arena, json_string_value(material));
        if (!out->material) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
        e->build_up_m += out->thickness_m;
    }
    return MST_OK;
}

/* "pad, falling pad, depth ..." */
static mst_status unknown_kind(const mst_reader *r, const char *text) {
    char kinds[200] = "";
    for (int i = 0, at = 0; i < MST_WORK_KINDS; i++)
        at += snprintf(kinds + at, sizeof kinds - (size_t)at, "%s%s", i ? ", " : "",
                       mst_work_kind_name((mst_work_kind)i));
    return mst_fail(r->error, MST_INVALID, "Element '%s': there is no 'kind' '%.40s'; there are %s.", r->name, text,
                    kinds);
}

static mst_status read_kind(const mst_reader *r, mst_work_kind *kind) {
    mst_status status = MST_OK;
    const char *text = mst_read_text(r, "kind", &status);
    if (status) return status;
    for (int i = 0; i < MST_WORK_KINDS; i++) {
        const char *name = mst_work_kind_name((mst_work_kind)i);
        if (strcmp(text, name) != 0) continue;
        char what[40];
        snprintf(what, sizeof what, "a %s", name);
        *kind = (mst_work_kind)i;
        return mst_read_known_keys(r, r->object, mst_keys_of_kind(*kind), what);
    }
    return unknown_kind(r, text);
}

static mst_status read_soil(const mst_reader *r, mst_element *e) {
    mst_status status = MST_OK;
    mst_soil soil;
    if (!json_object_get(r->object, "soil")) {
        e->soil = COMMON_EARTH;
        return MST_OK;
    }
    const char *name = mst_read_text(r, "soil", &status);
    if (!status) status = mst_soil_of(r->site, name, &soil, r->error);
    if (status) return status;
    e->soil = mst_arena_string(r->arena, name);
    return e->soil ? MST_OK : mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status read_all(const mst_reader *r, mst_element *e) {
    mst_status status = read_kind(r, &e->kind);
    e->name = mst_arena_string(r->arena, r->name);
    if (!status && !e->name) status = mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    if (!status && json_object_get(r->object, "strip")) {
        e->strip_given = true;
        status = mst_read_thickness(r, r->object, "strip", &e->strip_m);
    }
    if (!status) status = mst_read_of_kind(r, e);
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
    mst_reader r = {root, shown, site, adjustment, arena, error};
    mst_element e = {0};
    mst_status status = json_is_object(root)
                            ? read_all(&r, &e)
                            : mst_fail(error, MST_INVALID, "Element '%.60s' is not a JSON object.", given);
    json_decref(root);
    if (!status) *element = e;
    return status;
}
