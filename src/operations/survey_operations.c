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

static json_t *adjustment_json(const mst_adjustment *a) {
    json_t *points = json_array(), *observations = json_array(), *suspects = json_array(), *undetermined = json_array(),
           *why = json_array(), *frames = json_array();
    for (size_t i = 0; i < a->point_count; i++) json_array_append_new(points, point_json(&a->points[i]));
    for (size_t i = 0; i < a->observation_count; i++)
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
    json_object_set_new(o, "grid_scale", mst_json_number(a->grid_scale));
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
    return mst_fail(error, MST_NO, "The readings do not fit together within their errors (sigma0 %.2f)%s%s", a->sigma0,
                    a->suspect_count ? ": " : ".", a->suspect_count ? a->suspects[0].sentence : "");
}

/* ---- the classic hand methods ---- */

static mst_status place_of(const mst_adjustment *a, const char *name, mst_point *place) {
    const mst_adjusted_point *p = mst_adjustment_point(a, name);
    if (!p || !p->has_plan) return MST_NOT_FOUND;
    *place = (mst_point){p->easting_m, p->northing_m};
    return MST_OK;
}

static mst_status legs_of_page(const mst_page *page, mst_arena *arena, mst_traverse_leg **legs, size_t *count,
                               mst_error *error) {
    size_t capacity = 0;
    *legs = NULL;
    *count = 0;
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *r = &page->rows[i];
        if (r->set_aside || isnan(r->value[MST_BEARINGS_DISTANCE])) continue;
        if (*count && strcmp((*legs)[*count - 1].to, r->text[MST_BEARINGS_FROM]) != 0)
            return mst_fail_at(error, MST_INVALID, page->name, r->line, 1,
                               "A traverse goes on from where it came to: '%s', not '%s'.", (*legs)[*count - 1].to,
                               r->text[MST_BEARINGS_FROM]);
        mst_traverse_leg *leg = MST_PUSH(arena, *legs, *count, capacity);
        if (!leg) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the traverse.");
        *leg = (mst_traverse_leg){.from = r->text[MST_BEARINGS_FROM],
                                  .to = r->text[MST_BEARINGS_TO],
                                  .distance_m = r->value[MST_BEARINGS_DISTANCE],
                                  .bearing_rad = r->value[MST_BEARINGS_BEARING]};
    }
    if (*count < 2)
        return mst_fail_at(error, MST_TOO_FEW, page->name, 0, 0,
                           "A traverse needs at least two legs with bearing and distance.");
    return MST_OK;
}

static json_t *leg_json(const mst_traverse_leg *l) {
    return json_pack("{s:s,s:s,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f}", "from", l->from, "to", l->to, "distance_m",
                     l->distance_m, "bearing_deg", l->bearing_rad * 180 / MST_PI, "departure_m", l->departure_m,
                     "latitude_m", l->latitude_m, "balanced_departure_m", l->balanced_departure_m,
                     "balanced_latitude_m", l->balanced_latitude_m, "easting_m", l->end.easting_m, "northing_m",
                     l->end.northing_m);
}

/* The way of the first leg as adjusted, north where its ends have no places. */
static double first_bearing(const mst_adjustment *a, const mst_page *page) {
    mst_point from = {0, 0}, to = {0, 0};
    const char *at = page->row_count ? page->rows[0].text[MST_ANGLES_AT] : "", *next = NULL;
    for (size_t i = 0; i < page->row_count && !next; i++)
        if (strcmp(page->rows[i].text[MST_ANGLES_AT], at) != 0) next = page->rows[i].text[MST_ANGLES_AT];
    if (!next || place_of(a, at, &from) || place_of(a, next, &to)) return 0;
    return atan2(to.easting_m - from.easting_m, to.northing_m - from.northing_m);
}

static json_t *stations_json(const mst_angle_traverse *t) {
    json_t *list = json_array();
    for (size_t i = 0; i < t->count; i++)
        json_array_append_new(list, json_pack("{s:s,s:f,s:f}", "station", t->stations[i].name, "angle_deg",
                                              t->stations[i].angle_rad * 180 / MST_PI, "balanced_deg",
                                              t->stations[i].balanced_rad * 180 / MST_PI));
    return list;
}

static mst_status balance_legs(bool transit, const mst_traverse_leg legs[], size_t count, mst_point start,
                               const mst_point *end, mst_arena *arena, mst_traverse *t, mst_error *error) {
    return transit ? mst_traverse_transit(legs, count, start, end, arena, t, error)
                   : mst_traverse_compass(legs, count, start, end, arena, t, error);
}

static void set_traverse(json_t *result, const mst_traverse *t, bool transit) {
    json_t *list = json_array();
    for (size_t i = 0; i < t->count; i++) json_array_append_new(list, leg_json(&t->legs[i]));
    json_object_set_new(result, "legs", list);
    json_object_set_new(result, "rule", json_string(transit ? "transit" : "compass"));
    json_object_set_new(result, "departure_misclosure_m", mst_json_number(t->departure_misclosure_m));
    json_object_set_new(result, "latitude_misclosure_m", mst_json_number(t->latitude_misclosure_m));
    json_object_set_new(result, "linear_misclosure_m", mst_json_number(t->linear_misclosure_m));
    json_object_set_new(result, "length_m", mst_json_number(t->length_m));
    json_object_set_new(result, "ratio", mst_json_number(t->ratio));
    json_object_set_new(result, "area_m2", mst_json_number(t->area_m2));
}

/* 1:1000 is what a rough tape traverse should hold (common practice, no source) */
static mst_status judge_traverse(const mst_page *page, const mst_traverse *t, mst_error *error) {
    if (t->ratio >= 1000) return MST_OK;
    return mst_fail_at(error, MST_NO, page->name, 0, 0,
                       "The traverse misses by %.3f m in %.1f m, 1:%.0f; find the mistake before it is shared out.",
                       t->linear_misclosure_m, t->length_m, t->ratio);
}

static mst_status traverse_of_angles(mst_session *session, const mst_page *page, bool transit, json_t **result,
                                     mst_error *error) {
    mst_angle_traverse a;
    mst_traverse t;
    mst_point start = {0, 0};
    const mst_adjustment *adjustment = session->derived.adjustment;
    mst_status status = mst_traverse_from_angles(page, first_bearing(adjustment, page), session->scratch, &a, error);
    if (status) return status;
    (void)!place_of(adjustment, a.legs[0].from, &start);
    status = balance_legs(transit, a.legs, a.count, start, NULL, session->scratch, &t, error);
    if (status) return status;
    *result =
        json_pack("{s:s,s:o,s:f,s:f}", "page", page->name, "stations", stations_json(&a), "angular_misclosure_deg",
                  a.misclosure_rad * 180 / MST_PI, "angular_allowable_deg", a.allowable_rad * 180 / MST_PI);
    set_traverse(*result, &t, transit);
    if (fabs(a.misclosure_rad) > a.allowable_rad)
        return mst_fail_at(
            error, MST_NO, page->name, 0, 0,
            "The angles miss by %.0f\"; 1' by root of the stations, %.0f\", is allowed. Read the worst again.",
            a.misclosure_rad * 180 * 3600 / MST_PI, a.allowable_rad * 180 * 3600 / MST_PI);
    return judge_traverse(page, &t, error);
}

static mst_status traverse_of_bearings(mst_session *session, const mst_page *page, bool transit, json_t **result,
                                       mst_error *error) {
    const mst_adjustment *adjustment = session->derived.adjustment;
    mst_traverse_leg *legs;
    size_t count;
    mst_point start = {0, 0}, end;
    mst_traverse t;
    mst_status status = legs_of_page(page, session->scratch, &legs, &count, error);
    if (status) return status;
    (void)!place_of(adjustment, legs[0].from, &start);
    bool closes = strcmp(legs[0].from, legs[count - 1].to) == 0;
    const mst_adjusted_point *last = mst_adjustment_point(adjustment, legs[count - 1].to);
    bool known_end = !closes && last && last->held_plan && place_of(adjustment, last->name, &end) == MST_OK;
    if (!closes && !known_end)
        return mst_fail_at(error, MST_UNDETERMINED, page->name, 0, 0,
                           "The traverse neither returns to '%s' nor ends on a held point, so nothing checks it.",
                           legs[0].from);
    status = balance_legs(transit, legs, count, start, known_end ? &end : NULL, session->scratch, &t, error);
    if (status) return status;
    *result = json_pack("{s:s}", "page", page->name);
    set_traverse(*result, &t, transit);
    return judge_traverse(page, &t, error);
}

MST_OPERATION(mst_op_traverse) {
    static const char *const KNOWN[] = {"page", "rule", NULL};
    mst_derived *d = &session->derived;
    const char *rule = mst_arg_text(arguments, "rule", "compass"), *name = mst_arg_text(arguments, "page", "");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status && strcmp(rule, "compass") != 0 && strcmp(rule, "transit") != 0)
        status = mst_fail(error, MST_INVALID, "The rule is compass or transit, not '%.40s'.", rule);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const mst_page *page = mst_site_page(d->site, MST_PAGE_BEARINGS, name);
    bool transit = strcmp(rule, "transit") == 0;
    if (page) return traverse_of_bearings(session, page, transit, result, error);
    page = mst_site_page(d->site, MST_PAGE_ANGLES, name);
    if (page) return traverse_of_angles(session, page, transit, result, error);
    return mst_fail(
        error, MST_NOT_FOUND,
        "The site has no bearings page and no angles page; a traverse is read from bearings or angles with distances.");
}

/* ---- rounds, pegs, frames ---- */

static json_t *round_json(const mst_round_mean *m) {
    const double by = 180 / MST_PI;
    json_t *o = json_pack("{s:s,s:s,s:i,s:i}", "at", m->at, "to", m->to, "faces_left", m->faces_left, "faces_right",
                          m->faces_right);
    json_object_set_new(o, "circle_deg", mst_json_number(m->circle_rad * by));
    json_object_set_new(o, "spread_deg", mst_json_number(m->spread_rad * by));
    json_object_set_new(o, "zenith_deg", mst_json_number(m->zenith_rad * by));
    json_object_set_new(o, "two_c_deg", mst_json_number(m->two_c_rad * by));
    json_object_set_new(o, "index_deg", mst_json_number(m->index_rad * by));
    json_object_set_new(o, "slope_distance_m", mst_json_number(m->slope_m));
    return o;
}

MST_OPERATION(mst_op_rounds) {
    static const char *const KNOWN[] = {"page", NULL};
    mst_round_mean *means;
    size_t count;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    const mst_page *page = mst_site_page(session->derived.site, MST_PAGE_ANGLES, mst_arg_text(arguments, "page", ""));
    if (!page) return mst_fail(error, MST_NOT_FOUND, "The site has no such angles page.");
    status = mst_rounds_reduce(page, session->scratch, &means, &count, error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) json_array_append_new(list, round_json(&means[i]));
    *result = json_pack("{s:s,s:o}", "page", page->name, "means", list);
    return MST_OK;
}

/* What a level may tilt before it is adjusted: 3 mm in 30 m (common practice, no source) */
static const double TILT_ALLOWED = 0.0001;

MST_OPERATION(mst_op_two_peg) {
    static const char *const KNOWN[] = {"mid-a", "mid-b", "near-a", "near-b", "to-a", "to-b", NULL};
    double v[6];
    mst_two_peg t;
    (void)session;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    for (int i = 0; !status && i < 6; i++) {
        v[i] = NAN;
        status = mst_arg_length(arguments, KNOWN[i], &v[i], error);
        if (!status && isnan(v[i]))
            status = mst_fail(error, MST_INVALID,
                              "The two-peg test needs --%s; it takes readings from midway and from near one peg, and "
                              "the distances there.",
                              KNOWN[i]);
    }
    if (!status) status = mst_two_peg_test(&(mst_two_peg_readings){v[0], v[1], v[2], v[3], v[4], v[5]}, &t, error);
    if (status) return status;
    *result = json_pack("{s:f,s:f,s:f,s:f}", "difference_m", t.difference_m, "error_mm_per_30_m",
                        t.error_m_per_m * 30 * 1000, "true_a_m", t.true_a_m, "true_b_m", t.true_b_m);
    if (fabs(t.error_m_per_m) <= TILT_ALLOWED) return MST_OK;
    return mst_fail(error, MST_NO,
                    "The line of sight runs %s by %.1f mm in 30 m; 3 mm is allowed (common practice, no source). Keep "
                    "back and fore sights alike, and have it adjusted.",
                    t.error_m_per_m > 0 ? "up" : "down", fabs(t.error_m_per_m) * 30 * 1000);
}

/* The coordinates of a visit's points pages. */
static size_t places_of_visit(const mst_site *site, const char *visit, mst_point3 places[], const char *names[],
                              size_t most) {
    size_t count = 0;
    for (size_t i = 0; i < site->page_count; i++) {
        const mst_page *page = &site->pages[i];
        if (page->kind != MST_PAGE_POINTS || strcmp(page->visit, visit) != 0) continue;
        for (size_t k = 0; k < page->row_count && count < most; k++) {
            const double *v = page->rows[k].value;
            if (page->rows[k].set_aside) continue;
            names[count] = page->rows[k].text[MST_POINTS_POINT];
            places[count++] = (mst_point3){v[MST_POINTS_EASTING], v[MST_POINTS_NORTHING], v[MST_POINTS_ELEVATION]};
        }
    }
    return count;
}

typedef struct common_points {
    mst_point3 *from, *to, *residuals;
    const char **names;
    size_t count;
} common_points;

static mst_status find_common(mst_session *session, const char *from, const char *to, common_points *c,
                              mst_error *error) {
    const mst_site *site = session->derived.site;
    size_t rows = 1;
    for (size_t i = 0; i < site->page_count; i++) rows += site->pages[i].row_count;
    mst_arena *arena = session->scratch;
    mst_point3 *other = mst_arena_array(arena, rows, sizeof *other);
    const char **others = mst_arena_array(arena, rows, sizeof *others);
    *c = (common_points){mst_arena_array(arena, rows, sizeof *c->from), mst_arena_array(arena, rows, sizeof *c->to),
                         mst_arena_array(arena, rows, sizeof *c->residuals),
                         mst_arena_array(arena, rows, sizeof *c->names), 0};
    if (!other || !others || !c->from || !c->to || !c->residuals || !c->names)
        return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the fit.");
    size_t first = places_of_visit(site, from, c->from, c->names, rows),
           second = places_of_visit(site, to, other, others, rows);
    for (size_t i = 0; i < first; i++)
        for (size_t k = 0; k < second; k++) {
            if (strcmp(c->names[i], others[k]) != 0) continue;
            c->names[c->count] = c->names[i];
            c->from[c->count] = c->from[i];
            c->to[c->count++] = other[k];
            break;
        }
    return MST_OK;
}

static json_t *residuals_json(const common_points *c, bool levels) {
    json_t *list = json_array();
    for (size_t i = 0; i < c->count; i++) {
        json_t *o = json_pack("{s:s,s:f,s:f}", "point", c->names[i], "de_m", c->residuals[i].easting_m, "dn_m",
                              c->residuals[i].northing_m);
        json_object_set_new(o, "dh_m", mst_json_number(levels ? c->residuals[i].elevation_m : NAN));
        json_array_append_new(list, o);
    }
    return list;
}

static mst_status fit_in_plan(const common_points *c, bool scale, mst_arena *arena, mst_similarity3 *fit, double *turn,
                              mst_error *error) {
    mst_point *from = mst_arena_array(arena, c->count + 1, sizeof *from),
              *to = mst_arena_array(arena, c->count + 1, sizeof *to),
              *left = mst_arena_array(arena, c->count + 1, sizeof *left);
    if (!from || !to || !left) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the fit.");
    for (size_t i = 0; i < c->count; i++) {
        from[i] = (mst_point){c->from[i].easting_m, c->from[i].northing_m};
        to[i] = (mst_point){c->to[i].easting_m, c->to[i].northing_m};
    }
    mst_similarity s;
    mst_status status = mst_similarity_fit(from, to, c->count, scale, &s, left, error);
    if (status) return status;
    for (size_t i = 0; i < c->count; i++) c->residuals[i] = (mst_point3){left[i].easting_m, left[i].northing_m, 0};
    *fit = (mst_similarity3){.shift_m = {s.e0_m, s.n0_m, NAN}, .scale = s.scale, .rms_m = s.rms_m};
    *turn = s.turn_rad;
    return MST_OK;
}

/* A scale that differs by more than this is said: 50 mm in 100 m (common practice, no source) */
static const double SCALE_WARNED = 500e-6;

MST_OPERATION(mst_op_fit_visits) {
    static const char *const KNOWN[] = {"from", "to", "free-scale", "in-space", NULL};
    const char *from, *to;
    common_points c;
    mst_similarity3 fit;
    double turn = NAN;
    bool scale = mst_arg_flag(arguments, "free-scale"), space = mst_arg_flag(arguments, "in-space");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "from", &from, error);
    if (!status) status = mst_arg_required(arguments, "to", &to, error);
    if (!status) status = find_common(session, from, to, &c, error);
    if (status) return status;
    status = space ? mst_similarity3_fit(c.from, c.to, c.count, scale, &fit, c.residuals, error)
                   : fit_in_plan(&c, scale, session->scratch, &fit, &turn, error);
    if (status) return status;
    if (space) turn = atan2(fit.turn[0][1] - fit.turn[1][0], fit.turn[0][0] + fit.turn[1][1]);
    *result = json_pack("{s:s,s:s,s:o,s:f,s:f,s:f}", "from", from, "to", to, "residuals", residuals_json(&c, space),
                        "turn_deg", turn * 180 / MST_PI, "scale", fit.scale, "rms_m", fit.rms_m);
    static const char *const SHIFTS[] = {"shift_e_m", "shift_n_m", "shift_h_m"};
    for (int i = 0; i < 3; i++) json_object_set_new(*result, SHIFTS[i], mst_json_number(fit.shift_m[i]));
    json_t *warnings = json_array();
    if (fabs(fit.scale - 1) > SCALE_WARNED)
        json_array_append_new(warnings, json_sprintf("The scale is %.0f ppm off 1, %.0f mm in 100 m: one of the visits "
                                                     "has a long or short measure, or another unit.",
                                                     (fit.scale - 1) * 1e6, fabs(fit.scale - 1) * 1e5));
    json_object_set_new(*result, "warnings", warnings);
    return MST_OK;
}

static json_t *level_line_json(const mst_level_line *l) {
    const struct {
        const char *key;
        double value;
    } cells[] = {{"backsight_m", l->backsight_m}, {"intermediate_m", l->intermediate_m},
                 {"foresight_m", l->foresight_m}, {"rise_m", l->rise_m},
                 {"fall_m", l->fall_m},           {"collimation_m", l->collimation_m},
                 {"level_m", l->level_m},         {"adjusted_m", l->adjusted_m}};
    json_t *o = json_pack("{s:s,s:i}", "point", l->point, "row", l->row);
    for (size_t i = 0; i < sizeof cells / sizeof *cells; i++)
        json_object_set_new(o, cells[i].key, mst_json_number(cells[i].value));
    return o;
}

MST_OPERATION(mst_op_levels) {
    static const char *const KNOWN[] = {"page", "method", NULL};
    mst_derived *d = &session->derived;
    const char *method = mst_arg_text(arguments, "method", "rise-and-fall");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status && strcmp(method, "rise-and-fall") != 0 && strcmp(method, "collimation") != 0)
        status = mst_fail(error, MST_INVALID, "The method is rise-and-fall or collimation, not '%.40s'.", method);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const mst_page *page = mst_site_page(d->site, MST_PAGE_LEVELS, mst_arg_text(arguments, "page", ""));
    if (!page) return mst_fail(error, MST_NOT_FOUND, "The site has no such levels page.");
    mst_level_book b;
    status = mst_level_book_reduce(page, d->adjustment, session->scratch, &b, error);
    if (status) return status;
    json_t *lines = json_array();
    for (size_t i = 0; i < b.count; i++) json_array_append_new(lines, level_line_json(&b.lines[i]));
    *result =
        json_pack("{s:s,s:o,s:f,s:f,s:f,s:f,s:o,s:o,s:i,s:b}", "page", page->name, "lines", lines, "sum_backsight_m",
                  b.sum_backsight_m, "sum_foresight_m", b.sum_foresight_m, "sum_rise_m", b.sum_rise_m, "sum_fall_m",
                  b.sum_fall_m, "misclosure_m", mst_json_number(b.misclosure_m), "allowable_m",
                  mst_json_number(b.allowable_m), "set_ups", b.set_ups, "arithmetic_ok", b.arithmetic_ok);
    json_object_set_new(*result, "method", json_string(method));
    if (fabs(b.misclosure_m) > b.allowable_m)
        return mst_fail_at(error, MST_NO, page->name, 0, 0,
                           "The level book misses by %.0f mm; %.0f mm is allowed over %d set-ups.",
                           b.misclosure_m * 1000, b.allowable_m * 1000, b.set_ups);
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
