/* A visit before it is made, and the next best reading after it. */
#include "operations/operation.h"
#include "merestone/exchange.h"
#include <math.h>
#include <string.h>

enum { NEXT_READINGS = 8 };

/* ---- the plan's page ---- */

static void json_cell(const json_t *row, const char *key, mst_text *out) {
    const json_t *v = json_object_get(row, key);
    if (json_is_number(v)) mst_text_printf(out, "%.12g", json_number_value(v));
    else if (json_is_string(v)) mst_text_csv(out, json_string_value(v));
}

/* A plan as JSON is an array of rows with the columns of the page, lengths in m. */
static mst_status csv_of_json(const char *name, const char *text, mst_text *out, mst_error *error) {
    static const char *const KEYS[] = {"reading",    "from",        "to",   "easting_m",
                                       "northing_m", "elevation_m", "gear", "minutes"};
    json_error_t why;
    json_t *rows = json_loads(text, 0, &why), *row;
    size_t i;
    if (!json_is_array(rows)) {
        json_decref(rows);
        return mst_fail_at(error, MST_INVALID, name, rows ? 1 : why.line, 0,
                           "A plan as JSON is an array of rows, each an object with 'reading' and 'from'.");
    }
    mst_text_string(out, "reading,from,to,easting (m),northing (m),elevation (m),gear,minutes\n");
    json_array_foreach(rows, i, row) {
        for (size_t k = 0; k < sizeof KEYS / sizeof *KEYS; k++) {
            if (k) mst_text_string(out, ",");
            json_cell(row, KEYS[k], out);
        }
        mst_text_string(out, "\n");
    }
    json_decref(rows);
    return out->failed ? mst_fail(error, MST_NO_MEMORY, "Not enough memory for the plan.") : MST_OK;
}

static mst_status read_page(const json_t *arguments, mst_arena *arena, mst_page *page, mst_error *error) {
    const char *text, *name = mst_arg_text(arguments, "name", "plan.csv");
    mst_text csv = {0};
    mst_status status = mst_arg_required(arguments, "text", &text, error);
    if (status) return status;
    size_t length = strlen(name);
    bool json = length > 5 && strcmp(name + length - 5, ".json") == 0;
    if (json) status = csv_of_json(name, text, &csv, error);
    if (!status)
        status = mst_page_read(MST_PAGE_PLAN, name, json ? csv.data : text, json ? csv.length : strlen(text), NULL,
                               arena, page, error);
    mst_text_free(&csv);
    return status;
}

/* ---- results ---- */

static json_t *point_json(const mst_adjustment *a, const mst_sketched *s) {
    const mst_adjusted_point *p = mst_adjustment_point(a, s->name);
    double precision = mst_plan_precision(a, s);
    json_t *o = json_pack("{s:s}", "point", s->name);
    bool plan = p && p->has_plan, height = p && p->has_height;
    json_object_set_new(o, "sd_easting_m", mst_json_number(plan ? p->sd_easting_m / a->scale : NAN));
    json_object_set_new(o, "sd_northing_m", mst_json_number(plan ? p->sd_northing_m / a->scale : NAN));
    json_object_set_new(o, "sd_elevation_m", mst_json_number(height ? p->sd_elevation_m / a->scale : NAN));
    json_object_set_new(o, "ellipse",
                        plan ? json_pack("{s:o,s:o,s:o}", "semi_major_m", mst_json_number(p->semi_major_m / a->scale),
                                         "semi_minor_m", mst_json_number(p->semi_minor_m / a->scale), "bearing_deg",
                                         mst_json_number(p->ellipse_bearing_rad * 180 / MST_PI))
                             : json_null());
    json_object_set_new(o, "within_95_m", mst_json_number(isfinite(precision) ? precision : NAN));
    json_object_set_new(o, "readings", json_integer(p ? p->readings : 0));
    return o;
}

static void set_half(json_t *o, const char *value, const char *half, mst_figure f, double scale) {
    json_object_set_new(o, value, mst_json_number(f.value));
    json_object_set_new(o, half, mst_json_number((f.high - f.value) / scale));
}

static json_t *features_json(const mst_site *site, const mst_adjustment *a, mst_arena *scratch) {
    json_t *list = json_array();
    for (size_t i = 0; i < site->feature_count; i++) {
        mst_measure m;
        if (mst_feature_measure(&site->features[i], a, scratch, &m, NULL))
            continue; /* not all of its points are in the plan */
        json_t *o = json_pack("{s:s}", "feature", site->features[i].name);
        set_half(o, "length_m", "length_within_95_m", m.length_m, a->scale);
        set_half(o, "area_m2", "area_within_95_m2", m.area_m2, a->scale);
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *advice_json(const mst_advice *a) {
    json_t *o = json_pack("{s:s,s:s,s:s,s:s}", "reading", mst_planned_kind_name(a->reading.kind), "from",
                          a->reading.from, "to", a->reading.to, "gear", a->reading.gear ? a->reading.gear : "");
    json_object_set_new(o, "minutes", mst_json_number(a->minutes));
    json_object_set_new(o, "before", mst_json_number(a->before_m));
    json_object_set_new(o, "after", mst_json_number(a->after_m));
    json_object_set_new(o, "gain_per_minute", mst_json_number(a->gain_m_per_minute));
    return o;
}

static json_t *advices_json(const mst_advices *all) {
    json_t *list = json_array();
    for (size_t i = 0; i < all->count; i++) json_array_append_new(list, advice_json(&all->list[i]));
    return list;
}

static void set_undetermined(json_t *o, const mst_adjustment *a) {
    json_t *names = json_array(), *why = json_array();
    for (size_t i = 0; i < a->undetermined_count; i++) {
        json_array_append_new(names, json_string(a->undetermined[i]));
        json_array_append_new(why, mst_json_text(a->undetermined_why[i]));
    }
    json_object_set_new(o, "undetermined", names);
    json_object_set_new(o, "undetermined_why", why);
    json_t *sides = json_array();
    for (size_t i = 0; i < a->by_sketch_count; i++) json_array_append_new(sides, json_string(a->by_sketch[i]));
    json_object_set_new(o, "by_sketch", sides);
}

/* ---- the operations ---- */

/* Places that are there already, where the site has any. */
static mst_status known_places(mst_session *session, mst_adjustment **known, mst_error *error) {
    *known = NULL;
    if (session->derived.site->page_count == 0) return MST_OK;
    mst_status status = mst_derive_adjustment(&session->derived, error);
    if (status == MST_TOO_FEW) return MST_OK; /* pages, but no readings yet */
    *known = session->derived.adjustment;
    return status;
}

typedef struct planning {
    mst_visit_plan plan;
    mst_adjust_options options;
    mst_advices added;
    double aim_m;
} planning;

static mst_status extend(mst_session *session, planning *p, mst_error *error) {
    if (isnan(p->aim_m)) return MST_OK;
    return mst_plan_extend(&p->plan, p->aim_m, &p->options, session->scratch, &p->added, error);
}

/* A point whose level the sketch gives wants one, and tapes bring none. */
static const char *without_level(const mst_visit_plan *plan, const mst_adjustment *expected) {
    for (size_t i = 0; i < plan->point_count; i++) {
        const mst_adjusted_point *a = mst_adjustment_point(expected, plan->points[i].name);
        if (isfinite(plan->points[i].elevation_m) && (!a || !a->has_height)) return plan->points[i].name;
    }
    return NULL;
}

static mst_status not_reached(const planning *p, const mst_adjustment *expected, mst_error *error) {
    const char *open = without_level(&p->plan, expected);
    if (open)
        return mst_fail(error, MST_NO,
                        "No reading of the plan's kinds brings a level to %s: plan a sight or a level to it, or leave "
                        "its elevation out of the sketch.",
                        open);
    return mst_fail(
        error, MST_NO,
        "With the gear of the plan no further reading brings every point within %.3g mm; plan other gear or "
        "other stations.",
        p->aim_m * 1000);
}

static mst_status plan(mst_session *session, planning *p, json_t **result, mst_error *error) {
    mst_adjustment *expected;
    mst_status status = extend(session, p, error);
    if (!status) status = mst_plan_adjust(&p->plan, &p->options, session->scratch, &expected, error);
    if (status) return status;
    json_t *points = json_array();
    for (size_t i = 0; i < p->plan.point_count; i++)
        json_array_append_new(points, point_json(expected, &p->plan.points[i]));
    *result = json_pack("{s:s,s:o,s:o,s:o,s:s}", "page", p->plan.page, "points", points, "features",
                        features_json(session->derived.site, expected, session->scratch), "added",
                        advices_json(&p->added), "datum", expected->datum);
    set_undetermined(*result, expected);
    json_object_set_new(*result, "aim_m", mst_json_number(p->aim_m));
    json_object_set_new(*result, "reached", isnan(p->aim_m) ? json_null() : json_boolean(p->added.reached));
    return isnan(p->aim_m) || p->added.reached ? MST_OK : not_reached(p, expected, error);
}

MST_OPERATION(mst_op_plan_visit) {
    static const char *const KNOWN[] = {"text", "name", "aim", NULL};
    planning p = {.aim_m = NAN};
    mst_page page;
    mst_adjustment *known = NULL;
    mst_projection *projection = NULL;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_length(arguments, "aim", &p.aim_m, error);
    if (!status) status = read_page(arguments, session->scratch, &page, error);
    if (!status) status = known_places(session, &known, error);
    if (!status) status = mst_plan_read(&page, session->derived.site, known, session->scratch, &p.plan, error);
    if (!status) status = mst_projection_of_site(session->derived.site, &projection, error);
    if (status) return status;
    p.options.projector = projection ? mst_projection_projector(projection) : NULL;
    status = plan(session, &p, result, error);
    mst_projection_close(projection);
    return status;
}

static mst_status advise(mst_session *session, const mst_feature *feature, json_t **result, mst_error *error) {
    mst_projection *projection = NULL;
    mst_advices next = {0};
    mst_measure m;
    mst_status status = mst_feature_measure(feature, session->derived.adjustment, session->scratch, &m, error);
    if (!status) status = mst_projection_of_site(session->derived.site, &projection, error);
    if (status) return status;
    mst_adjust_options options = {.projector = projection ? mst_projection_projector(projection) : NULL};
    status = mst_plan_next(session->derived.site, session->derived.adjustment, feature, NEXT_READINGS, &options,
                           session->scratch, &next, error);
    mst_projection_close(projection);
    if (status) return status;
    *result = json_pack("{s:s,s:s,s:f,s:o}", "feature", feature->name, "figure",
                        isnan(m.area_m2.value) ? "length_within_95_m" : "area_within_95_m2", "now", next.before_m,
                        "readings", advices_json(&next));
    return MST_OK;
}

MST_OPERATION(mst_op_next) {
    static const char *const KNOWN[] = {"for", NULL};
    const char *name;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "for", &name, error);
    if (!status) status = mst_derive_adjustment(&session->derived, error);
    if (status) return status;
    const mst_feature *feature = mst_site_feature(session->derived.site, name);
    if (!feature) return mst_fail(error, MST_NOT_FOUND, "There is no feature '%.60s'.", name);
    return advise(session, feature, result, error);
}
