/* The survey: adjusted points, what could be wrong with them, one feature's measures. */
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static json_t *point_json(const mst_adjusted_point *p) {
    json_t *o = json_pack("{s:s}", "point", p->name);
    json_object_set_new(o, "easting_m", mst_json_number(p->has_plan ? p->easting_m : NAN));
    json_object_set_new(o, "northing_m", mst_json_number(p->has_plan ? p->northing_m : NAN));
    json_object_set_new(o, "elevation_m", mst_json_number(p->has_height ? p->elevation_m : NAN));
    json_object_set_new(o, "sd_easting_m", mst_json_number(p->has_plan ? p->sd_easting_m : NAN));
    json_object_set_new(o, "sd_northing_m", mst_json_number(p->has_plan ? p->sd_northing_m : NAN));
    json_object_set_new(o, "sd_elevation_m", mst_json_number(p->has_height ? p->sd_elevation_m : NAN));
    json_object_set_new(o, "ellipse",
                        p->has_plan ? json_pack("{s:o,s:o,s:o}", "semi_major_m", mst_json_number(p->semi_major_m),
                                                "semi_minor_m", mst_json_number(p->semi_minor_m), "bearing_deg",
                                                mst_json_number(p->ellipse_bearing_rad * 180 / MST_PI))
                                    : json_null());
    json_object_set_new(o, "code", mst_json_text(p->code));
    json_object_set_new(o, "held_plan", json_boolean(p->held_plan));
    json_object_set_new(o, "held_height", json_boolean(p->held_height));
    json_object_set_new(o, "readings", json_integer(p->readings));
    return o;
}

/* Angular readings are given in degrees, lengths in metres; "unit" says which. */
static json_t *observation_json(const mst_observation_result *r) {
    double by = r->angular ? 180 / MST_PI : 1;
    json_t *o = json_pack("{s:s,s:s,s:i,s:s,s:s,s:s,s:s}", "visit", r->visit, "page", r->page, "row", r->row, "kind",
                          r->kind, "from", r->from, "to", r->to, "unit", r->angular ? "deg" : "m");
    json_object_set_new(o, "observed", mst_json_number(r->observed * by));
    json_object_set_new(o, "adjusted", mst_json_number(r->adjusted * by));
    json_object_set_new(o, "residual", mst_json_number(r->residual * by));
    json_object_set_new(o, "sd", mst_json_number(r->sd * by));
    json_object_set_new(o, "redundancy", mst_json_number(r->redundancy));
    json_object_set_new(o, "standardized", mst_json_number(r->standardized));
    json_object_set_new(o, "smallest_error", mst_json_number(r->smallest_error * by));
    json_object_set_new(o, "reading_id", json_integer((json_int_t)r->reading_id));
    return o;
}

static json_t *suspect_json(const mst_adjustment *a, const mst_suspect *s) {
    const mst_observation_result *r = &a->observations[s->observation];
    json_t *o = json_pack("{s:s,s:s,s:i,s:s,s:s,s:s,s:s,s:b}", "visit", r->visit, "page", r->page, "row", r->row,
                          "kind", r->kind, "from", r->from, "to", r->to, "sentence", s->sentence, "alone", s->alone);
    json_object_set_new(o, "estimated_error", mst_json_number(s->estimated_error * (r->angular ? 180 / MST_PI : 1)));
    json_object_set_new(o, "unit", json_string(r->angular ? "deg" : "m"));
    json_object_set_new(o, "slip", mst_json_text(s->slip));
    json_object_set_new(o, "corrected", mst_json_number(s->corrected * (r->angular ? 180 / MST_PI : 1)));
    json_object_set_new(o, "reading_id", json_integer((json_int_t)r->reading_id));
    return o;
}

static json_t *left_out_json(const mst_left_out *l) {
    json_t *o = json_pack("{s:s,s:i,s:s}", "page", l->page, "row", l->row, "sentence", l->sentence);
    json_object_set_new(o, "reading_id", json_integer((json_int_t)l->reading_id));
    return o;
}

static json_t *gear_factor_json(const mst_gear_factor *f) {
    json_t *o = json_pack("{s:s,s:s,s:s}", "visit", f->visit, "gear", f->gear, "kind", f->kind);
    json_object_set_new(o, "factor", mst_json_number(f->factor));
    json_object_set_new(o, "redundancy", mst_json_number(f->redundancy));
    json_object_set_new(o, "sentence", mst_json_text(f->sentence));
    return o;
}

static json_t *frame_json(const mst_visit_frame *f) {
    json_t *o = json_pack("{s:s,s:b}", "visit", f->visit, "determined", f->determined);
    json_object_set_new(o, "shift_e_m", mst_json_number(f->shift_e_m));
    json_object_set_new(o, "shift_n_m", mst_json_number(f->shift_n_m));
    json_object_set_new(o, "shift_h_m", mst_json_number(f->shift_h_m));
    json_object_set_new(o, "turn_deg", mst_json_number(f->turn_rad * 180 / MST_PI));
    json_object_set_new(o, "drift_deg_per_minute", mst_json_number(f->drift_rad_per_s * 180 / MST_PI * 60));
    json_object_set_new(o, "sd_turn_deg", mst_json_number(f->sd_turn_rad * 180 / MST_PI));
    return o;
}

/* Which readings are wanted: all of them; none, for a page that looks at 1e5 points; or those of one point. */
typedef struct wanted {
    bool none;
    const char *touching;
} wanted;

static bool is_wanted(const wanted *w, const mst_observation_result *r) {
    return !w->none && (!w->touching || strcmp(r->from, w->touching) == 0 || strcmp(r->to, w->touching) == 0);
}

static json_t *adjustment_json(const mst_adjustment *a, const wanted *w) {
    json_t *points = json_array(), *observations = json_array(), *suspects = json_array(), *undetermined = json_array(),
           *why = json_array(), *frames = json_array();
    for (size_t i = 0; i < a->point_count; i++) json_array_append_new(points, point_json(&a->points[i]));
    for (size_t i = 0; i < a->observation_count; i++)
        if (is_wanted(w, &a->observations[i]))
            json_array_append_new(observations, observation_json(&a->observations[i]));
    for (size_t i = 0; i < a->suspect_count; i++) json_array_append_new(suspects, suspect_json(a, &a->suspects[i]));
    for (size_t i = 0; i < a->undetermined_count; i++) {
        json_array_append_new(undetermined, json_string(a->undetermined[i]));
        json_array_append_new(why, mst_json_text(a->undetermined_why[i]));
    }
    for (size_t i = 0; i < a->frame_count; i++) json_array_append_new(frames, frame_json(&a->frames[i]));
    json_t *left_out = json_array(), *factors = json_array();
    for (size_t i = 0; i < a->left_out_count; i++) json_array_append_new(left_out, left_out_json(&a->left_out[i]));
    for (size_t i = 0; i < a->gear_factor_count; i++)
        json_array_append_new(factors, gear_factor_json(&a->gear_factors[i]));
    json_t *test = json_pack("{s:o,s:o,s:o,s:b}", "statistic", mst_json_number(a->global_test.statistic), "lower",
                             mst_json_number(a->global_test.lower), "upper", mst_json_number(a->global_test.upper),
                             "passed", a->global_test.passed);
    json_t *o = json_pack("{s:o,s:o,s:i,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:s,s:i}", "points", points, "observations",
                          observations, "degrees_of_freedom", a->degrees_of_freedom, "sigma0",
                          mst_json_number(a->sigma0), "global_test", test, "suspects", suspects, "undetermined",
                          undetermined, "undetermined_why", why, "frames", frames, "sd_scale",
                          mst_json_number(a->scale), "datum", a->datum ? a->datum : "", "iterations", a->iterations);
    json_object_set_new(o, "observation_count", json_integer((json_int_t)a->observation_count));
    json_object_set_new(o, "grid_scale", mst_json_number(a->grid_scale));
    json_object_set_new(o, "critical", mst_json_number(a->critical));
    json_object_set_new(o, "left_out", left_out);
    json_object_set_new(o, "gear_factors", factors);
    json_object_set_new(o, "gear_factors_applied", json_boolean(a->gear_factors_applied));
    return o;
}

/* ---- reliability ---- */

enum { EFFECTS_OF_ALL = 3000, WEAKEST = 5 }; /* beyond so many readings the effects would cost more than they tell */
static const double HARDLY_CHECKED = 0.05;   /* redundancy; common practice, no source */

/* Readings that nothing or hardly anything checks are counted, not ranked. */
static bool is_weaker(const mst_effect *a, const mst_effect *b) { return a->moved_m > b->moved_m; }

static void keep_weakest(mst_effect list[], size_t *count, const mst_effect *e) {
    if (!isfinite(e->moved_m) || !(e->moved_m > 0)) return;
    if (*count == WEAKEST && !is_weaker(e, &list[WEAKEST - 1])) return;
    size_t at = *count < WEAKEST ? (*count)++ : WEAKEST - 1;
    for (; at > 0 && is_weaker(e, &list[at - 1]); at--) list[at] = list[at - 1];
    list[at] = *e;
}

static json_t *effect_json(const mst_adjustment *a, const mst_effect *e, mst_arena *arena) {
    const mst_observation_result *o = &a->observations[e->observation];
    json_t *j = json_pack("{s:s,s:i,s:s,s:s,s:s,s:s}", "page", o->page, "row", o->row, "kind", o->kind, "from", o->from,
                          "to", o->to, "unit", o->angular ? "deg" : "m");
    json_object_set_new(j, "smallest_error", mst_json_number(o->smallest_error * (o->angular ? 180 / MST_PI : 1)));
    json_object_set_new(j, "moves", json_string(a->points[e->point].name));
    json_object_set_new(j, "by_m", mst_json_number(e->moved_m));
    json_object_set_new(j, "sentence", mst_json_text(mst_effect_sentence(a, e, arena)));
    return j;
}

/* What an unnoticed error could do: told of every reading that is wanted, and of the weakest in sentences. */
static mst_status set_reliability(json_t *result, const mst_adjustment *a, const wanted *w, mst_arena *arena,
                                  mst_error *error) {
    size_t count = a->observation_count, weak = 0, listed = 0;
    long long unchecked = 0;
    for (size_t i = 0; i < count; i++) unchecked += !(a->observations[i].redundancy > HARDLY_CHECKED);
    mst_effect weakest[WEAKEST], *all = mst_arena_array(arena, count + 1, sizeof *all);
    if (!all) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the reliability.");
    if (count > EFFECTS_OF_ALL) count = 0;
    mst_status status = mst_adjustment_effects(a, NULL, count, arena, all, error);
    if (status) return status;
    json_t *readings = json_object_get(result, "observations"), *list = json_array();
    for (size_t i = 0; i < count; i++) {
        if (a->observations[i].redundancy > HARDLY_CHECKED) keep_weakest(weakest, &weak, &all[i]);
        if (!is_wanted(w, &a->observations[i])) continue;
        json_t *o = json_array_get(readings, listed++);
        json_object_set_new(o, "moves", all[i].by_one > 0 ? json_string(a->points[all[i].point].name) : json_null());
        json_object_set_new(o, "moves_by_m", mst_json_number(all[i].by_one > 0 ? all[i].moved_m : 0));
    }
    for (size_t i = 0; i < weak; i++) json_array_append_new(list, effect_json(a, &weakest[i], arena));
    json_object_set_new(result, "reliability",
                        json_pack("{s:I,s:o}", "unchecked", (json_int_t)unchecked, "weakest", list));
    return MST_OK;
}

/* Too little scatter is no fault of the readings: the sd are too large, or readings were computed from each other. */
static void say_too_good_a_fit(json_t *result, const mst_adjustment *a) {
    char sentence[300] = "";
    if (!a->global_test.passed && a->global_test.statistic < a->global_test.lower)
        snprintf(sentence, sizeof sentence,
                 "The readings fit better than their gear should let them (sigma0 %.2f): the gear is better than its "
                 "figures, or readings were computed from each other.%s",
                 a->sigma0, a->suspect_count ? "" : " No mistake shows.");
    json_object_set_new(result, "fit", json_string(sentence));
}

/* Why the global test says no: too much scatter is a mistake or poor gear. */
static mst_status judge_fit(const mst_adjustment *a, const char *unit_doubt, mst_error *error) {
    if (a->global_test.passed || a->global_test.statistic < a->global_test.lower) return MST_OK;
    return mst_fail(error, MST_NO, "The readings do not fit together within their errors (sigma0 %.2f)%s%s", a->sigma0,
                    unit_doubt || a->suspect_count ? ": " : ".",
                    unit_doubt         ? unit_doubt
                    : a->suspect_count ? a->suspects[0].sentence
                                       : "");
}

MST_OPERATION(mst_op_adjust) {
    static const char *const KNOWN[] = {"without-observations", "touching", NULL};
    const wanted w = {mst_arg_flag(arguments, "without-observations"), mst_arg_text(arguments, "touching", NULL)};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_adjustment(&session->derived, error);
    if (status) return status;
    const mst_adjustment *a = session->derived.adjustment;
    *result = adjustment_json(a, &w);
    say_too_good_a_fit(*result, a);
    status = set_reliability(*result, a, &w, session->scratch, error);
    json_object_set_new(*result, "unit_doubt", mst_json_text(session->derived.unit_doubt));
    return status ? status : judge_fit(a, session->derived.unit_doubt, error);
}

/* ---- one feature ---- */

MST_OPERATION(mst_op_measure) {
    static const char *const KNOWN[] = {"feature", NULL};
    mst_derived *d = &session->derived;
    const char *name;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "feature", &name, error);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const mst_feature *f = mst_site_feature(d->site, name);
    if (!f) return mst_fail(error, MST_NOT_FOUND, "There is no feature '%.60s'.", name);
    mst_measure m;
    mst_shape shape;
    status = mst_feature_measure(f, d->adjustment, session->scratch, &m, error);
    if (!status) status = mst_feature_shape(f, d->adjustment, session->scratch, &shape, error);
    if (status) return status;
    for (size_t r = 0; f->kind == MST_FEATURE_AREA && r < shape.count; r++) {
        mst_point where;
        if (mst_path_crosses_itself(&shape.paths[r], &where))
            return mst_fail_at(error, MST_INVALID, f->page, f->vertices[0].line, 0,
                               "Feature '%s' crosses itself near %.2f E, %.2f N, so it has no area.", f->name,
                               where.easting_m, where.northing_m);
    }
    *result = json_pack("{s:s,s:s,s:s}", "feature", f->name, "kind", mst_feature_kind_name(f->kind), "code",
                        f->code ? f->code : "");
    mst_json_figure(*result, "length_m", m.length_m);
    mst_json_figure(*result, "slope_length_m", m.slope_length_m);
    mst_json_figure(*result, "area_m2", m.area_m2);
    mst_figure slope = {NAN, NAN, NAN};
    double area, covered;
    if (f->kind == MST_FEATURE_AREA && mst_derive_ground(d, NULL) == MST_OK &&
        mst_ground_slope_area(d->ground, &shape, session->scratch, &area, &covered, NULL) == MST_OK &&
        covered > 0.999 * m.area_m2.value) {
        /* The slope scales the plan area, and its interval with it; the slope's own doubt is second order. */
        double ratio = area / m.area_m2.value;
        slope = (mst_figure){area, m.area_m2.low * ratio, m.area_m2.high * ratio};
    }
    mst_json_figure(*result, "slope_area_m2", slope);
    return MST_OK;
}
