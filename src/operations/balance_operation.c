/* The level, the fall or the raise at which cut meets fill, for one pad or for several together. */
#include "operations/drag.h"
#include "operations/operation.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- which pad ---- */

static const mst_work *work_named(const mst_site *site, const char *name) {
    for (size_t i = 0; i < site->work_count; i++)
        if (strcmp(site->works[i].name, name) == 0) return &site->works[i];
    return NULL;
}

/* A stored element, one that is given, or a level pad in an area. */
static mst_status take_element(mst_session *session, const json_t *arguments, mst_element *element, mst_error *error) {
    mst_derived *d = &session->derived;
    const char *name = mst_arg_text(arguments, "element", ""), *in = mst_arg_text(arguments, "in", "");
    json_t *given = json_object_get(arguments, "definition");
    const mst_work *found = work_named(d->site, name);
    if (!found && !*name && !*in && !given && d->site->work_count == 1) found = &d->site->works[0];
    if (found) return mst_element_read(found, d->site, d->adjustment, session->scratch, element, error);
    if (json_is_object(given)) return mst_definition_read(session, given, session->scratch, element, error);
    if (*name) return mst_fail(error, MST_NOT_FOUND, "There is no element '%.60s' to balance.", name);
    if (!*in)
        return mst_fail(error, MST_NOT_FOUND,
                        "Name the element whose level is to balance: --element NAME, or an area: --in FEATURE.");
    json_t *own = json_pack("{s:s,s:s,s:s,s:f}", "name", in, "kind", "pad", "in", in, "level", 0.0);
    mst_status status = mst_definition_read(session, own, session->scratch, element, error);
    json_decref(own);
    return status;
}

static mst_status balance_level(mst_session *session, const mst_element *e, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    double level, cut, fill;
    mst_status status =
        mst_balance_level(e, d->site, d->adjustment, d->ground, session->scratch, &level, &cut, &fill, error);
    if (!status)
        *result = json_pack("{s:s,s:f,s:f,s:f}", "element", e->name ? e->name : "", "level_m", level, "cut_m3", cut,
                            "fill_m3", fill);
    return status;
}

/* With the banks that hang on the pad, where it has any: another level, since they are cut and filled too. */
static mst_status add_banks(mst_session *session, const json_t *arguments, const mst_element *e, json_t *result,
                            mst_error *error) {
    const mst_work *stored = work_named(session->derived.site, e->name ? e->name : "");
    const json_t *given = json_object_get(arguments, "definition");
    json_t *definition = json_is_object(given) ? json_deep_copy(given)
                         : stored              ? json_loads(stored->definition, 0, NULL)
                                               : NULL;
    mst_drag_balance b;
    mst_error why = {0};
    if (!definition || !json_object_get(definition, "level")) {
        json_decref(definition);
        return MST_OK; /* an area, or a pad through levels: nothing hangs on it that could be moved with it */
    }
    mst_status status = mst_drag_balance_of(session, definition, &b, &why);
    json_decref(definition);
    if (!status)
        json_object_set_new(result, "with_banks",
                            json_pack("{s:f,s:f,s:f}", "level_m", b.level_m, "cut_m3", b.cut_m3, "fill_m3", b.fill_m3));
    else if (why.sentence[0]) json_object_set_new(result, "warnings", json_pack("[s]", why.sentence));
    return status == MST_NO_MEMORY ? mst_fail(error, status, "%s", why.sentence) : MST_OK;
}

static mst_status balance_fall(mst_session *session, const mst_element *e, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    double fall, cut, fill;
    mst_status status =
        mst_balance_fall(e, d->site, d->adjustment, d->ground, session->scratch, &fall, &cut, &fill, error);
    if (!status)
        *result = json_pack("{s:s,s:f,s:f,s:f,s:f}", "element", e->name ? e->name : "", "level_m", e->finish.level_m,
                            "fall_percent", 100 * fall, "cut_m3", cut, "fill_m3", fill);
    return status;
}

/* ---- several ---- */

typedef struct group {
    mst_element *elements;
    const mst_volume_curve **curves;
    double *levels, *compacted;
    size_t count;
} group;

static mst_status add_member(mst_session *session, const char *name, group *g, mst_error *error) {
    mst_derived *d = &session->derived;
    const mst_work *work = work_named(d->site, name);
    mst_volume_curve *curve;
    mst_soil soil;
    if (!work) return mst_fail(error, MST_NOT_FOUND, "There is no element '%.60s' to balance.", name);
    mst_element *e = &g->elements[g->count];
    mst_status status = mst_element_read(work, d->site, d->adjustment, session->scratch, e, error);
    if (!status) status = mst_volume_curve_of(e, d->site, d->adjustment, d->ground, session->scratch, &curve, error);
    if (!status) status = mst_soil_of(d->site, e->soil, &soil, error);
    if (status) return status;
    g->curves[g->count] = curve;
    g->levels[g->count] = e->finish.level_m, g->compacted[g->count++] = soil.compacted;
    return MST_OK;
}

/* Names as a JSON list, or as text between commas. */
static mst_status take_group(mst_session *session, const json_t *given, group *g, mst_error *error) {
    size_t most = json_is_string(given) ? strlen(json_string_value(given)) + 1 : json_array_size(given);
    g->elements = mst_arena_array(session->scratch, most + 1, sizeof *g->elements);
    g->curves = mst_arena_array(session->scratch, most + 1, sizeof(const mst_volume_curve *));
    g->levels = mst_arena_array(session->scratch, most + 1, sizeof *g->levels);
    g->compacted = mst_arena_array(session->scratch, most + 1, sizeof *g->compacted);
    if (!g->elements || !g->curves || !g->levels || !g->compacted)
        return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    mst_status status = MST_OK;
    for (size_t i = 0; i < json_array_size(given) && !status; i++) {
        const char *name = json_string_value(json_array_get(given, i));
        status = add_member(session, name ? name : "", g, error);
    }
    char *rest = json_is_string(given) ? mst_arena_string(session->scratch, json_string_value(given)) : NULL;
    while (rest && !status) {
        char *comma = strchr(rest, ',');
        if (comma) *comma = 0;
        status = add_member(session, rest, g, error);
        rest = comma ? comma + 1 : NULL;
    }
    return status;
}

static mst_status balance_group(mst_session *session, const json_t *given, json_t **result, mst_error *error) {
    group g = {0};
    double raise, cut = 0, fill = 0, value = 0;
    mst_status status = take_group(session, given, &g, error);
    if (!status) status = mst_balance_group(g.curves, g.levels, g.compacted, g.count, &raise, error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < g.count; i++) {
        mst_curve_volumes v = mst_volume_curve_at(g.curves[i], g.levels[i] + raise);
        cut += v.cut_m3, fill += v.fill_m3, value += v.cut_m3 * g.compacted[i];
        json_array_append_new(list, json_pack("{s:s,s:f,s:f,s:f}", "element", g.elements[i].name, "level_m",
                                              g.levels[i] + raise, "cut_m3", v.cut_m3, "fill_m3", v.fill_m3));
    }
    *result = json_pack("{s:f,s:f,s:f,s:f,s:o}", "raise_m", raise, "cut_m3", cut, "fill_m3", fill, "made_of_cut_m3",
                        value, "elements", list);
    return MST_OK;
}

MST_OPERATION(mst_op_balance) {
    static const char *const KNOWN[] = {"element", "in", "definition", "elements", "by", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_ground(&session->derived, error);
    if (status) return status;
    const char *by = mst_arg_text(arguments, "by", "level");
    const json_t *several = json_object_get(arguments, "elements");
    if (several) return balance_group(session, several, result, error);
    mst_element element;
    if ((status = take_element(session, arguments, &element, error))) return status;
    if (strcmp(by, "level") == 0) {
        status = balance_level(session, &element, result, error);
        return status ? status : add_banks(session, arguments, &element, *result, error);
    }
    if (strcmp(by, "fall") == 0) return balance_fall(session, &element, result, error);
    return mst_fail(error, MST_INVALID, "A pad is balanced --by level or --by fall, not by '%.40s'.", by);
}
