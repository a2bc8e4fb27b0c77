/* The survey: adjusted points, the classic hand methods, one feature's measures. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

static json_t *point_json(const mst_adjusted_point *p) {
    json_t *o = json_pack("{s:s}", "point", p->name);
    json_object_set_new(o, "easting_m", mst_json_number(p->has_plan ? p->easting_m : NAN));
    json_object_set_new(o, "northing_m", mst_json_number(p->has_plan ? p->northing_m : NAN));
    json_object_set_new(o, "elevation_m", mst_json_number(p->has_height ? p->elevation_m : NAN));
    json_object_set_new(o, "sd_easting_m", mst_json_number(p->has_plan ? p->sd_easting_m : NAN));
    json_object_set_new(o, "sd_northing_m", mst_json_number(p->has_plan ? p->sd_northing_m : NAN));
    json_object_set_new(o, "sd_elevation_m", mst_json_number(p->has_height ? p->sd_elevation_m : NAN));
    json_object_set_new(o, "ellipse", p->has_plan ? json_pack("{s:o,s:o,s:o}", "semi_major_m", mst_json_number(p->semi_major_m), "semi_minor_m",
                                                              mst_json_number(p->semi_minor_m), "bearing_deg", mst_json_number(p->ellipse_bearing_rad * 180 / MST_PI))
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
    json_t *o = json_pack("{s:s,s:s,s:i,s:s,s:s,s:s,s:s}", "visit", r->visit, "page", r->page, "row", r->row, "kind", r->kind, "from", r->from, "to", r->to,
                          "unit", r->angular ? "deg" : "m");
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
    json_t *o = json_pack("{s:s,s:s,s:i,s:s,s:s,s:s,s:s,s:b}", "visit", r->visit, "page", r->page, "row", r->row, "kind", r->kind, "from", r->from, "to",
                          r->to, "sentence", s->sentence, "alone", s->alone);
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
    json_object_set_new(o, "sd_turn_deg", mst_json_number(f->sd_turn_rad * 180 / MST_PI));
    return o;
}

static json_t *adjustment_json(const mst_adjustment *a) {
    json_t *points = json_array(), *observations = json_array(), *suspects = json_array(), *undetermined = json_array(), *why = json_array(),
           *frames = json_array();
    for (size_t i = 0; i < a->point_count; i++) json_array_append_new(points, point_json(&a->points[i]));
    for (size_t i = 0; i < a->observation_count; i++) json_array_append_new(observations, observation_json(&a->observations[i]));
    for (size_t i = 0; i < a->suspect_count; i++) json_array_append_new(suspects, suspect_json(a, &a->suspects[i]));
    for (size_t i = 0; i < a->undetermined_count; i++) {
        json_array_append_new(undetermined, json_string(a->undetermined[i]));
        json_array_append_new(why, mst_json_text(a->undetermined_why[i]));
    }
    for (size_t i = 0; i < a->frame_count; i++) json_array_append_new(frames, frame_json(&a->frames[i]));
    json_t *left_out = json_array(), *factors = json_array();
    for (size_t i = 0; i < a->left_out_count; i++) json_array_append_new(left_out, left_out_json(&a->left_out[i]));
    for (size_t i = 0; i < a->gear_factor_count; i++) json_array_append_new(factors, gear_factor_json(&a->gear_factors[i]));
    json_t *test = json_pack("{s:o,s:o,s:o,s:b}", "statistic", mst_json_number(a->global_test.statistic), "lower", mst_json_number(a->global_test.lower),
                             "upper", mst_json_number(a->global_test.upper), "passed", a->global_test.passed);
    json_t *o = json_pack("{s:o,s:o,s:i,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:s,s:i}", "points", points, "observations", observations, "degrees_of_freedom",
                     a->degrees_of_freedom, "sigma0", mst_json_number(a->sigma0), "global_test", test, "suspects", suspects, "undetermined", undetermined,
                     "undetermined_why", why, "frames", frames, "sd_scale", mst_json_number(a->scale), "datum", a->datum ? a->datum : "", "iterations",
                     a->iterations);
    json_object_set_new(o, "critical", mst_json_number(a->critical));
    json_object_set_new(o, "left_out", left_out);
    json_object_set_new(o, "gear_factors", factors);
    json_object_set_new(o, "gear_factors_applied", json_boolean(a->gear_factors_applied));
    return o;
}

MST_OPERATION(mst_op_adjust) {
    static const char *const KNOWN[] = {NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_adjustment(&session->derived, error);
    if (status) return status;
    const mst_adjustment *a = session->derived.adjustment;
    *result = adjustment_json(a);
    if (a->global_test.passed) return MST_OK;
    return mst_fail(error, MST_NO, "The readings do not fit together within their errors (sigma0 %.2f)%s%s", a->sigma0, a->suspect_count ? ": " : ".",
                    a->suspect_count ? a->suspects[0].sentence : "");
}

/* ---- the classic hand methods ---- */

static mst_status place_of(const mst_adjustment *a, const char *name, mst_point *place) {
    const mst_adjusted_point *p = mst_adjustment_point(a, name);
    if (!p || !p->has_plan) return MST_NOT_FOUND;
    *place = (mst_point){p->easting_m, p->northing_m};
    return MST_OK;
}

static mst_status legs_of_page(const mst_page *page, mst_arena *arena, mst_traverse_leg **legs, size_t *count, mst_error *error) {
    size_t capacity = 0;
    *legs = NULL;
    *count = 0;
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *r = &page->rows[i];
        if (r->set_aside || isnan(r->value[MST_BEARINGS_DISTANCE])) continue;
        if (*count && strcmp((*legs)[*count - 1].to, r->text[MST_BEARINGS_FROM]) != 0)
            return mst_fail_at(error, MST_INVALID, page->name, r->line, 1, "A traverse goes on from where it came to: '%s', not '%s'.",
                               (*legs)[*count - 1].to, r->text[MST_BEARINGS_FROM]);
        mst_traverse_leg *leg = MST_PUSH(arena, *legs, *count, capacity);
        if (!leg) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the traverse.");
        *leg = (mst_traverse_leg){.from = r->text[MST_BEARINGS_FROM], .to = r->text[MST_BEARINGS_TO], .distance_m = r->value[MST_BEARINGS_DISTANCE],
                                  .bearing_rad = r->value[MST_BEARINGS_BEARING]};
    }
    if (*count < 2) return mst_fail_at(error, MST_TOO_FEW, page->name, 0, 0, "A traverse needs at least two legs with bearing and distance.");
    return MST_OK;
}

static json_t *leg_json(const mst_traverse_leg *l) {
    return json_pack("{s:s,s:s,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f}", "from", l->from, "to", l->to, "distance_m", l->distance_m, "bearing_deg",
                     l->bearing_rad * 180 / MST_PI, "departure_m", l->departure_m, "latitude_m", l->latitude_m, "balanced_departure_m",
                     l->balanced_departure_m, "balanced_latitude_m", l->balanced_latitude_m, "easting_m", l->end.easting_m, "northing_m", l->end.northing_m);
}

MST_OPERATION(mst_op_traverse) {
    static const char *const KNOWN[] = {"page", NULL};
    mst_derived *d = &session->derived;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const mst_page *page = mst_site_page(d->site, MST_PAGE_BEARINGS, mst_arg_text(arguments, "page", ""));
    if (!page) return mst_fail(error, MST_NOT_FOUND, "The site has no bearings page; a traverse is read from bearings with distances.");
    mst_traverse_leg *legs;
    size_t count;
    mst_point start = {0, 0}, end;
    mst_traverse t;
    status = legs_of_page(page, session->scratch, &legs, &count, error);
    if (status) return status;
    (void)!place_of(d->adjustment, legs[0].from, &start);
    bool closes = strcmp(legs[0].from, legs[count - 1].to) == 0;
    const mst_adjusted_point *last = mst_adjustment_point(d->adjustment, legs[count - 1].to);
    bool known_end = !closes && last && last->held_plan && place_of(d->adjustment, last->name, &end) == MST_OK;
    if (!closes && !known_end)
        return mst_fail_at(error, MST_UNDETERMINED, page->name, 0, 0, "The traverse neither returns to '%s' nor ends on a held point, so nothing checks it.",
                           legs[0].from);
    status = mst_traverse_compass(legs, count, start, known_end ? &end : NULL, session->scratch, &t, error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < t.count; i++) json_array_append_new(list, leg_json(&t.legs[i]));
    *result = json_pack("{s:s,s:o,s:f,s:f,s:f,s:f,s:o,s:o}", "page", page->name, "legs", list, "departure_misclosure_m", t.departure_misclosure_m,
                        "latitude_misclosure_m", t.latitude_misclosure_m, "linear_misclosure_m", t.linear_misclosure_m, "length_m", t.length_m, "ratio",
                        mst_json_number(t.ratio), "area_m2", mst_json_number(t.area_m2));
    /* 1:1000 is what a rough tape traverse should hold (common practice, no source) */
    if (t.ratio < 1000)
        return mst_fail_at(error, MST_NO, page->name, 0, 0, "The traverse misses by %.3f m in %.1f m, 1:%.0f; find the mistake before it is shared out.",
                           t.linear_misclosure_m, t.length_m, t.ratio);
    return MST_OK;
}

static json_t *level_line_json(const mst_level_line *l) {
    const struct { const char *key; double value; } cells[] = {{"backsight_m", l->backsight_m}, {"intermediate_m", l->intermediate_m},
        {"foresight_m", l->foresight_m}, {"rise_m", l->rise_m}, {"fall_m", l->fall_m}, {"collimation_m", l->collimation_m}, {"level_m", l->level_m},
        {"adjusted_m", l->adjusted_m}};
    json_t *o = json_pack("{s:s,s:i}", "point", l->point, "row", l->row);
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++) json_object_set_new(o, cells[i].key, mst_json_number(cells[i].value));
    return o;
}

MST_OPERATION(mst_op_levels) {
    static const char *const KNOWN[] = {"page", NULL};
    mst_derived *d = &session->derived;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const mst_page *page = mst_site_page(d->site, MST_PAGE_LEVELS, mst_arg_text(arguments, "page", ""));
    if (!page) return mst_fail(error, MST_NOT_FOUND, "The site has no such levels page.");
    mst_level_book b;
    status = mst_level_book_reduce(page, d->adjustment, session->scratch, &b, error);
    if (status) return status;
    json_t *lines = json_array();
    for (size_t i = 0; i < b.count; i++) json_array_append_new(lines, level_line_json(&b.lines[i]));
    *result = json_pack("{s:s,s:o,s:f,s:f,s:f,s:f,s:o,s:o,s:i,s:b}", "page", page->name, "lines", lines, "sum_backsight_m", b.sum_backsight_m,
                        "sum_foresight_m", b.sum_foresight_m, "sum_rise_m", b.sum_rise_m, "sum_fall_m", b.sum_fall_m, "misclosure_m",
                        mst_json_number(b.misclosure_m), "allowable_m", mst_json_number(b.allowable_m), "set_ups", b.set_ups, "arithmetic_ok", b.arithmetic_ok);
    if (fabs(b.misclosure_m) > b.allowable_m)
        return mst_fail_at(error, MST_NO, page->name, 0, 0, "The level book misses by %.0f mm; %.0f mm is allowed over %d set-ups.", b.misclosure_m * 1000,
                           b.allowable_m * 1000, b.set_ups);
    return MST_OK;
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
            return mst_fail_at(error, MST_INVALID, f->page, f->vertices[0].line, 0, "Feature '%s' crosses itself near %.2f E, %.2f N, so it has no area.",
                               f->name, where.easting_m, where.northing_m);
    }
    *result = json_pack("{s:s,s:s,s:s}", "feature", f->name, "kind", mst_feature_kind_name(f->kind), "code", f->code ? f->code : "");
    mst_json_figure(*result, "length_m", m.length_m);
    mst_json_figure(*result, "slope_length_m", m.slope_length_m);
    mst_json_figure(*result, "area_m2", m.area_m2);
    mst_figure slope = {NAN, NAN, NAN};
    double area, covered;
    if (f->kind == MST_FEATURE_AREA && mst_derive_ground(d, NULL) == MST_OK &&
        mst_ground_slope_area(d->ground, &shape, session->scratch, &area, &covered, NULL) == MST_OK && covered > 0.999 * m.area_m2.value) {
        /* The slope scales the plan area, and its interval with it; the slope's own doubt is second order. */
        double ratio = area / m.area_m2.value;
        slope = (mst_figure){area, m.area_m2.low * ratio, m.area_m2.high * ratio};
    }
    mst_json_figure(*result, "slope_area_m2", slope);
    return MST_OK;
}
