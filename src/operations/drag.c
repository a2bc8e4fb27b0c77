#include "operations/drag.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double SPAN_M = 2; /* how far a level is dragged before its banks are traced anew */

/* A bank of the pad that is dragged. */
typedef struct hanging {
    mst_element element;
    mst_soil soil;
    mst_bank_curve *curve;
} hanging;

struct mst_drag {
    mst_arena *arena;
    int64_t revision;
    char *key; /* the definition without its level */
    mst_element element;
    mst_volume_curve *curve;
    mst_soil soil, topsoil;
    double load_m3;
    hanging *banks;
    size_t bank_count;
};

void mst_drag_forget(mst_session *session) {
    if (!session->drag) return;
    mst_arena_free(session->drag->arena);
    free(session->drag->key);
    free(session->drag);
    session->drag = NULL;
}

static char *key_of(const json_t *definition) {
    json_t *copy = json_copy((json_t *)definition);
    json_object_del(copy, "level");
    char *key = json_dumps(copy, JSON_COMPACT | JSON_SORT_KEYS | JSON_REAL_PRECISION(15));
    json_decref(copy);
    return key;
}

/* ---- its banks ---- */

static mst_status trace_banks(mst_session *session, double level, mst_error *error) {
    mst_derived *d = &session->derived;
    struct mst_drag *drag = session->drag;
    mst_status status = MST_OK;
    for (size_t i = 0; i < drag->bank_count && !status; i++) {
        hanging *b = &drag->banks[i];
        b->element.finish.level_m = level;
        status =
            mst_bank_curve_of(&b->element, d->site, d->adjustment, d->ground, SPAN_M, drag->arena, &b->curve, error);
    }
    return status;
}

/* The stored banks of that pad, with the pad as it is dragged. */
static mst_status find_banks(mst_session *session, const json_t *definition, mst_error *error) {
    mst_derived *d = &session->derived;
    struct mst_drag *drag = session->drag;
    mst_element *elements;
    size_t count;
    bool any = false;
    /* Most pads have none, and then no element need be read. */
    for (size_t i = 0; i < d->site->work_count; i++) any |= strstr(d->site->works[i].definition, "bank") != NULL;
    if (!any) return MST_OK;
    mst_status status = mst_elements_with(session, definition, &elements, &count, error);
    if (status) return status;
    drag->banks = mst_arena_array(drag->arena, count + 1, sizeof *drag->banks);
    if (!drag->banks) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    for (size_t i = 0; i < count && !status; i++) {
        if (elements[i].kind != MST_WORK_BANK || strcmp(elements[i].of, drag->element.name) != 0) continue;
        hanging *b = &drag->banks[drag->bank_count++];
        for (size_t k = 0; k < d->site->work_count && !status; k++)
            if (strcmp(d->site->works[k].name, elements[i].name) == 0) /* again, into the memory that stays */
                status = mst_element_read(&d->site->works[k], d->site, d->adjustment, drag->arena, &b->element, error);
        b->element.finish = drag->element.finish, b->element.where = drag->element.where;
        if (!status) status = mst_soil_of(d->site, b->element.soil, &b->soil, error);
    }
    return status ? status : trace_banks(session, drag->element.finish.level_m, error);
}

/* Takes the key over, also when it fails. */
static mst_status begin(mst_session *session, const json_t *definition, char *key, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_drag_forget(session);
    struct mst_drag *drag = calloc(1, sizeof *drag);
    mst_arena *arena = drag ? mst_arena_new() : NULL;
    if (!arena) {
        free(drag), free(key);
        return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    }
    *drag = (struct mst_drag){.arena = arena, .revision = d->revision, .key = key};
    session->drag = drag;
    mst_status status = mst_definition_read(session, definition, arena, &drag->element, error);
    if (!status)
        status = mst_volume_curve_of(&drag->element, d->site, d->adjustment, d->ground, arena, &drag->curve, error);
    if (!status) status = mst_soil_of(d->site, drag->element.soil, &drag->soil, error);
    if (!status) status = mst_soil_of(d->site, "topsoil", &drag->topsoil, error);
    if (!status) status = mst_lorry_of(d->site, "load", &drag->load_m3, error);
    if (!status) status = find_banks(session, definition, error);
    if (status) mst_drag_forget(session);
    return status;
}

static void add_material(json_t *list, const char *name, double bank, const mst_soil *soil, double load) {
    if (!(bank > 1e-9)) return; /* as mst_earthwork_of: what rounding leaves is no material */
    json_array_append_new(list, json_pack("{s:s,s:f,s:f,s:f,s:i}", "material", name, "bank_m3", bank, "loose_m3",
                                          bank * soil->loose, "compacted_m3", bank * soil->compacted, "loads",
                                          mst_loads(bank * soil->loose, load)));
}

/* @return false when a bank ran beyond what was traced of it */
static bool ask_banks(const struct mst_drag *drag, double level, mst_bank_volumes volumes[]) {
    bool whole = true;
    for (size_t i = 0; i < drag->bank_count; i++) whole &= mst_bank_curve_at(drag->banks[i].curve, level, &volumes[i]);
    return whole;
}

static json_t *banks_json(const struct mst_drag *drag, const mst_bank_volumes v[]) {
    json_t *list = json_array();
    for (size_t i = 0; i < drag->bank_count; i++)
        json_array_append_new(list, json_pack("{s:s,s:f,s:f,s:f,s:f}", "element", drag->banks[i].element.name, "cut_m3",
                                              v[i].cut_m3, "fill_m3", v[i].fill_m3, "net_m3",
                                              v[i].cut_m3 - v[i].fill_m3, "area_m2", v[i].area_m2));
    return list;
}

/* The pad and its banks together. */
static void add_banks(const struct mst_drag *drag, const mst_bank_volumes v[], double cut, double fill, json_t *o) {
    for (size_t i = 0; i < drag->bank_count; i++) cut += v[i].cut_m3, fill += v[i].fill_m3;
    json_object_set_new(o, "banks", banks_json(drag, v));
    json_object_set_new(o, "with_banks",
                        json_pack("{s:f,s:f,s:f}", "cut_m3", cut, "fill_m3", fill, "net_m3", cut - fill));
}

static json_t *answer(mst_session *session, double level, const mst_bank_volumes banks[]) {
    const struct mst_drag *drag = session->drag;
    const mst_element *e = &drag->element;
    mst_curve_volumes v = mst_volume_curve_at(drag->curve, level);
    double area = v.cut_area_m2 + v.fill_area_m2, load = drag->load_m3;
    json_t *materials = json_array(), *layers = json_array();
    add_material(materials, e->soil, v.cut_m3, &drag->soil, load);
    add_material(materials, "fill", v.fill_m3 / drag->soil.compacted, &drag->soil, load);
    add_material(materials, "topsoil", e->strip_m * area, &drag->topsoil, load);
    for (size_t i = 0; i < e->layer_count; i++)
        json_array_append_new(layers, json_pack("{s:s,s:f,s:f}", "material", e->layers[i].material, "volume_m3",
                                                area * e->layers[i].thickness_m, "area_m2", area));
    json_t *o = json_pack("{s:s,s:f,s:f,s:f,s:f,s:f,s:f,s:o,s:o,s:b}", "element", e->name, "level_m", level, "cut_m3",
                          v.cut_m3, "fill_m3", v.fill_m3, "net_m3", v.cut_m3 - v.fill_m3, "area_m2", area, "strip_m3",
                          e->strip_m * area, "materials", materials, "layers", layers, "quick", 1);
    add_banks(drag, banks, v.cut_m3, v.fill_m3, o);
    return o;
}

/* A level as it stands in a definition: metres, or text with its unit. */
static mst_status level_of(const json_t *definition, double *level, mst_error *error) {
    const json_t *given = json_object_get(definition, "level");
    *level = json_is_number(given) ? json_number_value(given) : NAN;
    if (json_is_string(given) && mst_length_read(json_string_value(given), MST_UNIT_M, level, NULL)) *level = NAN;
    if (isfinite(*level)) return MST_OK;
    return mst_fail(error, MST_INVALID, "A pad that is dragged has a 'level', as \"100.05\".");
}

/* Makes what is kept that of this pad. @param level receives the definition's */
static mst_status take_up(mst_session *session, const json_t *definition, double *level, mst_error *error) {
    mst_status status = mst_derive_ground(&session->derived, error);
    if (!status) status = level_of(definition, level, error);
    if (status) return status;
    char *key = key_of(definition);
    if (!key) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    const struct mst_drag *kept = session->drag;
    if (kept && kept->revision == session->derived.revision && strcmp(kept->key, key) == 0) free(key);
    else status = begin(session, definition, key, error);
    return status;
}

/* The banks at a level; traced anew where it lies beyond their span. @param banks receives them, in the scratch */
static mst_status banks_at(mst_session *session, double level, mst_bank_volumes **banks, mst_error *error) {
    *banks = mst_arena_array(session->scratch, session->drag->bank_count + 1, sizeof **banks);
    if (!*banks) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    if (ask_banks(session->drag, level, *banks)) return MST_OK;
    mst_status status = trace_banks(session, level, error);
    if (!status) (void)ask_banks(session->drag, level, *banks);
    return status;
}

/* ---- where cut meets fill, banks and all ---- */

static const double BALANCED_M = 1e-6, FARTHEST_M = 50;

static mst_status surplus_at(mst_session *session, double level, double *surplus, mst_drag_balance *b,
                             mst_error *error) {
    mst_bank_volumes *banks;
    mst_status status = banks_at(session, level, &banks, error);
    if (status) return status;
    const struct mst_drag *drag = session->drag;
    mst_curve_volumes v = mst_volume_curve_at(drag->curve, level);
    *b = (mst_drag_balance){level, v.cut_m3, v.fill_m3};
    *surplus = v.cut_m3 * drag->soil.compacted - v.fill_m3;
    for (size_t i = 0; i < drag->bank_count; i++) {
        b->cut_m3 += banks[i].cut_m3, b->fill_m3 += banks[i].fill_m3;
        *surplus += banks[i].cut_m3 * drag->banks[i].soil.compacted - banks[i].fill_m3;
    }
    return MST_OK;
}

/* The surplus falls as the level rises: steps out until it changes sign, then halves. */
mst_status mst_drag_balance_of(mst_session *session, const json_t *definition, mst_drag_balance *balance,
                               mst_error *error) {
    double level, at, next = 0, step = 0.25;
    mst_status status = take_up(session, definition, &level, error);
    if (!status && session->drag->bank_count == 0) return MST_NO;
    if (!status) status = surplus_at(session, level, &at, balance, error);
    if (status || at == 0) return status;
    double low = level, high = level, way = at > 0 ? 1 : -1;
    for (; !status && fabs(high - level) < FARTHEST_M; step *= 2) {
        low = high, high += way * step;
        status = surplus_at(session, high, &next, balance, error);
        if (next * at <= 0) break;
    }
    if (!status && next * at > 0)
        return mst_fail(error, MST_NO, "Cut and fill cannot meet at any level of this pad with its banks.");
    while (!status && fabs(high - low) > BALANCED_M) {
        double middle = low + (high - low) / 2;
        status = surplus_at(session, middle, &next, balance, error);
        if (next * at > 0) low = middle;
        else high = middle;
    }
    return status;
}

mst_status mst_drag_volume(mst_session *session, const json_t *definition, json_t **result, mst_error *error) {
    double level;
    mst_bank_volumes *banks;
    mst_status status = take_up(session, definition, &level, error);
    if (!status) status = banks_at(session, level, &banks, error);
    if (status) return status;
    *result = answer(session, level, banks);
    return MST_OK;
}
