/* The works: design elements, cut and fill, the balance level. */
#include "operations/drag.h"
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- design elements ---- */

static json_t *element_json(const mst_element *e, const mst_work *w) {
    json_t *layers = json_array();
    for (size_t i = 0; i < e->layer_count; i++)
        json_array_append_new(
            layers, json_pack("{s:s,s:f}", "material", e->layers[i].material, "thickness_m", e->layers[i].thickness_m));
    bool pad = e->in && e->kind != MST_WORK_DEPTH;
    double slope = hypot(e->finish.slope_e, e->finish.slope_n);
    json_t *o = json_pack("{s:s,s:s,s:s,s:o,s:f,s:f,s:s,s:i}", "name", w->name, "kind", mst_work_kind_name(e->kind),
                          "in", e->where ? e->where : "", "layers", layers, "strip_m", e->strip_m, "build_up_m",
                          e->build_up_m, "soil", e->soil ? e->soil : "", "position", w->position);
    json_object_set_new(o, "level_m", mst_json_number(pad ? e->finish.level_m : NAN));
    json_object_set_new(o, "formation_m", mst_json_number(pad ? e->finish.level_m - e->build_up_m : NAN));
    json_object_set_new(o, "depth_m", mst_json_number(e->kind == MST_WORK_DEPTH ? e->depth_m : NAN));
    json_object_set_new(o, "fall_percent", mst_json_number(pad ? slope * 100 : NAN));
    json_object_set_new(
        o, "fall_bearing_deg",
        mst_json_number(pad && slope > 0 ? mst_angle_turn(atan2(-e->finish.slope_e, -e->finish.slope_n)) * 180 / MST_PI
                                         : NAN));
    json_t *definition = json_loads(w->definition, 0, NULL);
    json_object_set_new(o, "definition", definition ? definition : json_null());
    return o;
}

static mst_status list_works(mst_session *session, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    json_t *list = json_array();
    mst_status status = d->site->work_count ? mst_derive_elements(d, error) : MST_OK;
    if (status) {
        json_decref(list);
        return status;
    }
    for (size_t i = 0; i < d->element_count; i++)
        json_array_append_new(list, element_json(&d->elements[i], &d->site->works[i]));
    *result = json_pack("{s:o,s:I}", "works", list, "revision", (json_int_t)d->revision);
    return MST_OK;
}

enum { ELEMENT_NAME_SIZE = 101 }; /* an element's name has at most 100 characters */

/* @param context receives the name of the element that cannot be; may be NULL */
static mst_status readable(mst_derived *changed, void *context, mst_error *error) {
    char *name = context;
    mst_status status = mst_derive_elements(changed, error);
    if (status && name && changed->element_count < changed->site->work_count)
        snprintf(name, ELEMENT_NAME_SIZE, "%s", changed->site->works[changed->element_count].name);
    return status;
}

/* The line on which the element of a works file starts: its brace is the (i + 1)-th that opens in the list. */
static int line_of(const char *text, bool in_object, size_t i) {
    int line = 1, depth = 0, list = in_object ? 2 : 1;
    bool quoted = false;
    for (const char *c = text; *c; c++) {
        if (*c == '\n') line++;
        if (*c == '"') quoted = !quoted;
        if (quoted && *c == '\\' && c[1]) c++;
        if (quoted) continue;
        if (*c == '{' && depth == list && i-- == 0) return line;
        depth += (*c == '{' || *c == '[') - (*c == '}' || *c == ']');
    }
    return 1;
}

/* A list of elements, {"works": [...]}, or one element. @return borrowed, or new in *own */
static json_t *works_list(json_t *given, json_t **own) {
    json_t *list = json_is_object(given) ? json_object_get(given, "works") : given;
    *own = json_is_object(given) && !list && json_object_get(given, "kind") ? json_pack("[O]", given) : NULL;
    return *own ? *own : list;
}

static size_t place_of(const json_t *list, const char *name) {
    for (size_t i = json_array_size(list); i-- > 0;) {
        const char *own = json_string_value(json_object_get(json_array_get(list, i), "name"));
        if (own && strcmp(own, name) == 0) return i;
    }
    return SIZE_MAX;
}

static mst_status put_one(mst_session *session, const json_t *definition, int position, mst_error *error) {
    const char *name = json_string_value(json_object_get(definition, "name"));
    if (!json_is_object(definition) || !name || !*name)
        return mst_fail(error, MST_INVALID, "A design element is a JSON object with a 'name'.");
    if (strlen(name) > 100) return mst_fail(error, MST_INVALID, "An element's name has at most 100 characters.");
    char *text = json_dumps(definition, JSON_COMPACT | JSON_REAL_PRECISION(15));
    if (!text) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the works.");
    mst_work work = {.name = name, .position = position, .definition = text};
    mst_status status = mst_file_put_work(session->file, &work, error);
    free(text);
    return status;
}

static int position_of(const mst_site *site, const char *name) {
    int next = 0;
    for (size_t i = 0; i < site->work_count; i++) {
        if (name && strcmp(site->works[i].name, name) == 0) return site->works[i].position;
        if (site->works[i].position >= next) next = site->works[i].position + 1;
    }
    return next;
}

/* @param bad receives which element cannot be */
static mst_status take_works(mst_session *session, const json_t *arguments, const json_t *list, size_t *bad,
                             mst_error *error) {
    char line[160], name[ELEMENT_NAME_SIZE] = "";
    snprintf(line, sizeof line, "Take in the works of %.120s", mst_arg_text(arguments, "name", "works"));
    mst_status status = mst_change_begin(session, arguments, line, error);
    if (status) return status;
    int next = position_of(session->derived.site, NULL);
    size_t i;
    json_t *definition;
    json_array_foreach(list, i, definition) {
        const char *element = json_string_value(json_object_get(definition, "name"));
        int position = element ? position_of(session->derived.site, element) : next;
        bool is_new = position >= position_of(session->derived.site, NULL);
        status = put_one(session, definition, is_new ? next++ : position, error);
        if (!status) continue;
        *bad = i;
        mst_file_rollback(session->file);
        return status;
    }
    status = mst_change_finish(session, readable, name, error);
    if (status && *name) *bad = place_of(list, name);
    return status;
}

MST_OPERATION(mst_op_works) {
    static const char *const KNOWN[] = {"text", "name", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    const char *text = mst_arg_text(arguments, "text", NULL);
    if (!text) return list_works(session, result, error);
    if (strncmp(text, "\xEF\xBB\xBF", 3) == 0) text += 3; /* a byte-order mark, as pages may have */
    json_error_t why;
    const char *name = mst_arg_text(arguments, "name", "works");
    json_t *given = json_loads(text, JSON_REJECT_DUPLICATES, &why), *own;
    if (!given) return mst_fail_at(error, MST_INVALID, name, why.line, why.column, "This is not JSON: %s.", why.text);
    json_t *list = works_list(given, &own);
    if (json_is_array(list) && json_array_size(list) == 0)
        status =
            mst_fail_at(error, MST_INVALID, name, 0, 0, "The list of works is empty; there is nothing to take in.");
    else if (!list || !json_is_array(list))
        status = mst_fail_at(error, MST_INVALID, name, 0, 0,
                             "A works file is a list of design elements, {\"works\": [...]}, or one element.");
    size_t bad = SIZE_MAX;
    mst_error reason = {0};
    if (!status) {
        status = take_works(session, arguments, list, &bad, &reason);
        if (status && !reason.page[0] && bad != SIZE_MAX)
            status =
                mst_fail_at(error, status, name, own ? 1 : line_of(text, list != given, bad), 1, "%s", reason.sentence);
        else if (status && error) *error = reason;
    }
    json_decref(own);
    json_decref(given);
    return status ? status : list_works(session, result, error);
}

MST_OPERATION(mst_op_put_work) {
    static const char *const KNOWN[] = {"definition", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    const json_t *definition = json_object_get(arguments, "definition");
    const char *name = json_string_value(json_object_get(definition, "name"));
    char why[160];
    snprintf(why, sizeof why, "Set element %.120s", name ? name : "");
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    status = put_one(session, definition, position_of(session->derived.site, name), error);
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    status = mst_change_finish(session, readable, NULL, error);
    return status ? status : list_works(session, result, error);
}

MST_OPERATION(mst_op_remove_work) {
    static const char *const KNOWN[] = {"name", NULL};
    const char *name;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "name", &name, error);
    if (status) return status;
    char why[160];
    snprintf(why, sizeof why, "Remove element %.120s", name);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    status = mst_file_remove_work(session->file, name, error);
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    status = mst_change_finish(session, NULL, NULL, error);
    return status ? status : list_works(session, result, error);
}

/* ---- cut and fill ---- */

static json_t *interval_json(double low, double high) {
    return json_pack("[o,o]", mst_json_number(low), mst_json_number(high));
}

static json_t *materials_json(const mst_earthwork *e) {
    json_t *list = json_array();
    for (size_t i = 0; i < e->material_count; i++) {
        const mst_soil_volume *v = &e->materials[i];
        json_t *o = json_pack("{s:s,s:o,s:o,s:o,s:i}", "material", v->material, "bank_m3", mst_json_number(v->bank_m3),
                              "loose_m3", mst_json_number(v->loose_m3), "compacted_m3",
                              mst_json_number(v->compacted_m3), "loads", v->loads);
        double loose = v->loose_m3 / v->bank_m3, compacted = v->compacted_m3 / v->bank_m3;
        json_object_set_new(o, "bank_interval_m3", interval_json(v->bank_low_m3, v->bank_high_m3));
        json_object_set_new(o, "loose_interval_m3", interval_json(v->bank_low_m3 * loose, v->bank_high_m3 * loose));
        json_object_set_new(o, "compacted_interval_m3",
                            interval_json(v->bank_low_m3 * compacted, v->bank_high_m3 * compacted));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *layers_json(const mst_earthwork *e) {
    json_t *list = json_array();
    for (size_t i = 0; i < e->layer_count; i++)
        json_array_append_new(list, json_pack("{s:s,s:f,s:o,s:f}", "material", e->layers[i].material, "volume_m3",
                                              e->layers[i].volume_m3, "volume_interval_m3",
                                              interval_json(e->layers[i].low_m3, e->layers[i].high_m3), "area_m2",
                                              e->layers[i].area_m2));
    return list;
}

static json_t *earthwork_json(const mst_earthwork *e) {
    json_t *o = json_object();
    if (e->element) json_object_set_new(o, "element", json_string(e->element));
    const struct {
        const char *key, *interval;
        mst_figure figure;
    } figures[] = {{"cut_m3", "cut_interval_m3", e->cut_m3},
                   {"fill_m3", "fill_interval_m3", e->fill_m3},
                   {"net_m3", "net_interval_m3", e->net_m3}};
    for (size_t i = 0; i < 3; i++) {
        json_object_set_new(o, figures[i].key, mst_json_number(figures[i].figure.value));
        json_object_set_new(
            o, figures[i].interval,
            json_pack("[o,o]", mst_json_number(figures[i].figure.low), mst_json_number(figures[i].figure.high)));
    }
    json_object_set_new(o, "area_m2", mst_json_number(e->area_m2));
    json_object_set_new(o, "uncovered_m2", mst_json_number(e->uncovered_m2));
    json_object_set_new(o, "strip_m3", mst_json_number(e->strip_m3));
    json_object_set_new(o, "strip_interval_m3", interval_json(e->strip.low, e->strip.high));
    json_object_set_new(o, "area_interval_m2", interval_json(e->area.low, e->area.high));
    json_object_set_new(o, "materials", materials_json(e));
    json_object_set_new(o, "layers", layers_json(e));
    return o;
}

static json_t *report_json(const mst_earthwork_report *r) {
    json_t *o = earthwork_json(&r->total), *elements = json_array(), *cautions = json_array();
    for (size_t i = 0; i < r->count; i++) json_array_append_new(elements, earthwork_json(&r->elements[i]));
    for (size_t i = 0; i < r->caution_count; i++) json_array_append_new(cautions, json_string(r->cautions[i]));
    json_object_set_new(o, "elements", elements);
    json_object_set_new(o, "cautions", cautions);
    return o;
}

/* One element that is not stored, measured as if it were. */
static mst_status measure_definition(mst_session *session, const json_t *definition, json_t **result,
                                     mst_error *error) {
    mst_derived *d = &session->derived;
    mst_status status = mst_derive_ground(d, error);
    mst_element element;
    mst_earthwork_report report;
    double load_m3;
    if (!status) status = mst_definition_read(session, definition, session->scratch, &element, error);
    if (!status) status = mst_lorry_of(d->site, "load", &load_m3, error);
    if (!status)
        status =
            mst_earthwork_of(&element, 1, d->site, d->adjustment, d->ground, load_m3, session->scratch, &report, error);
    if (!status) *result = report_json(&report);
    return status;
}

/* Volumes that no element made: soil as an element without a `soil` has it. */
static mst_status total_json(mst_session *session, const mst_prism_sum *sum, const mst_figure figures[3],
                             json_t **result, mst_error *error) {
    const mst_site *site = session->derived.site;
    mst_earthwork total = {.cut_m3 = figures[0],
                           .fill_m3 = figures[1],
                           .net_m3 = figures[2],
                           .area_m2 = sum->area_m2,
                           .area = {sum->area_m2, sum->area_m2, sum->area_m2}};
    double load_m3;
    mst_status status = mst_lorry_of(site, "load", &load_m3, error);
    if (!status) status = mst_earthwork_soils(&total, "common earth", site, load_m3, session->scratch, error);
    if (!status) *result = earthwork_json(&total);
    return status;
}

/* The whole ground against a level: a rectangle around it, of which only the covered part counts. */
static mst_status whole_to_level(mst_session *session, double level_m, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_status status = mst_derive_ground(d, error);
    if (status) return status;
    mst_shape shape;
    mst_plane plane = {0, 0, level_m, 0, 0};
    mst_prism_sum sum;
    if ((status = mst_ground_frame(d->ground, session->scratch, &shape, error))) return status;
    status = mst_ground_to_plane(d->ground, &shape, &plane, 0, session->scratch, &sum, error);
    mst_figure f[3];
    if (!status) status = mst_volume_figures(&sum, NULL, d->adjustment, session->scratch, &f[0], &f[1], &f[2], error);
    return status ? status : total_json(session, &sum, f, result, error);
}

static mst_status simple_volume(mst_session *session, const json_t *arguments, json_t **result, mst_error *error) {
    const char *in = mst_arg_text(arguments, "in", "");
    double level = NAN, depth = NAN;
    mst_status status = mst_arg_length(arguments, "level", &level, error);
    if (!status) status = mst_arg_length(arguments, "depth", &depth, error);
    if (status) return status;
    if (!isnan(level) && !isnan(depth)) return mst_fail(error, MST_INVALID, "Give a level or a depth, not both.");
    if (!isnan(depth) && !*in)
        return mst_fail(error, MST_INVALID, "A depth needs the feature in which to dig: --in FEATURE.");
    if (!isnan(level) && !*in) return whole_to_level(session, level, result, error);
    json_t *definition = json_pack("{s:s,s:s,s:s}", "name", in, "in", in, "kind", isnan(depth) ? "pad" : "depth");
    json_object_set_new(definition, isnan(depth) ? "level" : "depth", json_real(isnan(depth) ? level : depth));
    status = measure_definition(session, definition, result, error);
    json_decref(definition);
    return status;
}

/* ---- the ground then and now ---- */

/* The ground as one visit saw it: its own coordinates, carried into the site's frame, whatever other visits say of
 * points of the same names. */
static mst_status ground_of_visit(mst_session *session, const char *visit, mst_ground **ground, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_ground_point *points = NULL;
    size_t count = 0, capacity = 0;
    bool found = false;
    const mst_visit_frame *frame = NULL;
    for (size_t i = 0; i < d->adjustment->frame_count; i++)
        if (strcmp(d->adjustment->frames[i].visit, visit) == 0) frame = &d->adjustment->frames[i];
    for (size_t p = 0; p < d->site->page_count; p++) {
        const mst_page *page = &d->site->pages[p];
        if (strcmp(page->visit, visit) != 0) continue;
        found = true;
        if (page->kind != MST_PAGE_POINTS || (!page->site_frame && frame && !frame->determined)) continue;
        mst_similarity t = {.scale = 1};
        double up = 0;
        if (!page->site_frame && frame)
            t = (mst_similarity){frame->shift_e_m, frame->shift_n_m, frame->turn_rad, 1, 0}, up = frame->shift_h_m;
        for (size_t i = 0; i < page->row_count; i++) {
            const mst_row *r = &page->rows[i];
            if (r->set_aside || isnan(r->value[MST_POINTS_ELEVATION])) continue;
            mst_point at =
                mst_similarity_apply(&t, (mst_point){r->value[MST_POINTS_EASTING], r->value[MST_POINTS_NORTHING]});
            mst_ground_point *g = MST_PUSH(session->scratch, points, count, capacity);
            if (!g) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the ground of '%s'.", visit);
            *g = (mst_ground_point){at.easting_m, at.northing_m, r->value[MST_POINTS_ELEVATION] + up,
                                    mst_index_get(&d->adjustment->index, r->text[MST_POINTS_POINT])};
        }
    }
    if (!found) return mst_fail(error, MST_NOT_FOUND, "There is no visit '%.60s'.", visit);
    if (count < 3)
        return mst_fail(error, MST_TOO_FEW,
                        "Visit '%.60s' has %zu points with a level on its points pages; a ground needs three.", visit,
                        count);
    mst_ground_input input = {.points = points, .point_count = count};
    mst_status status = mst_ground_build(&input, session->scratch, ground, error);
    return status ? status : mst_ground_trust(*ground, d->adjustment, session->scratch, error);
}

/* What of the two grounds lies outside of their common area: no volume is known there. */
static double in_one_only(const mst_ground *before, const mst_ground *after, const mst_prism_sum *common) {
    static const double NOTHING = 1e-9; /* of the area: what rounding leaves over */
    mst_ground_figures b, a;
    mst_ground_describe(before, &b);
    mst_ground_describe(after, &a);
    double rest = b.plan_area_m2 + a.plan_area_m2 - 2 * common->area_m2;
    return rest > NOTHING * (b.plan_area_m2 + a.plan_area_m2) ? rest : 0;
}

static mst_status visit_to_visit(mst_session *session, const char *from, const char *to, json_t **result,
                                 mst_error *error) {
    mst_derived *d = &session->derived;
    mst_ground *before, *after;
    mst_prism_sum sum, after_terms;
    mst_status status = mst_derive_adjustment(d, error);
    if (!status) status = ground_of_visit(session, from, &before, error);
    if (!status) status = ground_of_visit(session, to, &after, error);
    if (!status) status = mst_ground_to_ground(before, after, NULL, session->scratch, &sum, &after_terms, error);
    mst_figure f[3];
    if (!status)
        status = mst_volume_figures(&sum, &after_terms, d->adjustment, session->scratch, &f[0], &f[1], &f[2], error);
    if (!status) status = total_json(session, &sum, f, result, error);
    if (status) return status;
    json_object_set_new(*result, "uncovered_m2", mst_json_number(in_one_only(before, after, &sum)));
    json_object_set_new(*result, "from", json_string(from));
    json_object_set_new(*result, "to", json_string(to));
    return MST_OK;
}

/* A pad of the works as if its level were another; nothing is stored. */
static mst_status stored_at_level(mst_session *session, const json_t *arguments, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    const char *name = mst_arg_text(arguments, "element", "");
    double level = NAN;
    mst_status status = mst_arg_length(arguments, "level", &level, error);
    if (status) return status;
    if (isnan(level)) return mst_fail(error, MST_INVALID, "Give the level to try: --element NAME --level Z.");
    for (size_t i = 0; i < d->site->work_count; i++) {
        if (strcmp(d->site->works[i].name, name) != 0) continue;
        json_t *definition = json_loads(d->site->works[i].definition, 0, NULL);
        if (!definition) return mst_fail(error, MST_INVALID, "Element '%.60s' cannot be read.", name);
        json_object_set_new(definition, "level", json_real(level));
        status = mst_drag_volume(session, definition, result, error);
        json_decref(definition);
        return status;
    }
    return mst_fail(error, MST_NOT_FOUND, "There is no element '%.60s'.", name);
}

MST_OPERATION(mst_op_volume) {
    static const char *const KNOWN[] = {"level", "depth", "in", "from", "to", "element", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    const char *from = mst_arg_text(arguments, "from", ""), *to = mst_arg_text(arguments, "to", "");
    if (*from || *to) {
        if (!*from || !*to)
            return mst_fail(error, MST_INVALID, "The ground then and now needs two visits: --from VISIT --to VISIT.");
        return visit_to_visit(session, from, to, result, error);
    }
    if (mst_arg_given(arguments, "element")) return stored_at_level(session, arguments, result, error);
    if (mst_arg_given(arguments, "level") || mst_arg_given(arguments, "depth"))
        return simple_volume(session, arguments, result, error);
    status = mst_derive_earthwork(&session->derived, error);
    if (!status) *result = report_json(session->derived.earthwork);
    return status;
}

/* All elements in their order, with the one that is not stored in its place. */
static mst_status measure_whole(mst_session *session, const json_t *definition, bool with_faces, json_t **result,
                                mst_error *error) {
    mst_derived *d = &session->derived;
    mst_element *elements;
    size_t count;
    mst_earthwork_report report;
    json_t *faces = NULL;
    double load_m3 = 0;
    mst_status status = mst_derive_ground(d, error);
    if (!status) status = mst_elements_with(session, definition, &elements, &count, error);
    if (!status && count == 0) status = mst_fail(error, MST_NO, "The site has no works yet.");
    if (!status) status = mst_lorry_of(d->site, "load", &load_m3, error);
    if (!status)
        status = mst_earthwork_of(elements, count, d->site, d->adjustment, d->ground, load_m3, session->scratch,
                                  &report, error);
    if (!status && with_faces) status = mst_works_faces_json(session, elements, count, &faces, error);
    if (status) return status;
    *result = report_json(&report);
    if (faces) json_object_set_new(*result, "shape", faces);
    return MST_OK;
}

MST_OPERATION(mst_op_preview_volume) {
    static const char *const KNOWN[] = {"definition", "whole", "with-faces", "quick", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    const json_t *definition = json_object_get(arguments, "definition");
    bool given = json_is_object(definition), whole = mst_arg_flag(arguments, "whole");
    if (!given && !whole) return mst_fail(error, MST_INVALID, "'definition' is needed: the design element.");
    if (given && !whole && mst_arg_flag(arguments, "quick")) return mst_drag_volume(session, definition, result, error);
    return whole
               ? measure_whole(session, given ? definition : NULL, mst_arg_flag(arguments, "with-faces"), result, error)
               : measure_definition(session, definition, result, error);
}
