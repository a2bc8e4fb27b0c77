/* The classic hand methods, for the file: traverse, level book, rounds, two pegs, one frame laid on another. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

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
    return json_pack("{s:s,s:s,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f}", "from", l->from, "to", l->to, "distance_m",
                     l->distance_m, "bearing_deg", l->bearing_rad * 180 / MST_PI, "departure_m", l->departure_m,
                     "latitude_m", l->latitude_m, "balanced_departure_m", l->balanced_departure_m,
                     "balanced_latitude_m", l->balanced_latitude_m, "double_meridian_m", l->double_meridian_m,
                     "easting_m", l->end.easting_m, "northing_m", l->end.northing_m);
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

static const double RATIO_ALLOWED = 1000; /* what a rough tape traverse should hold (common practice, no source) */

static void set_traverse(json_t *result, const mst_traverse *t, bool transit, mst_point start) {
    json_t *list = json_array();
    for (size_t i = 0; i < t->count; i++) json_array_append_new(list, leg_json(&t->legs[i]));
    json_object_set_new(result, "start",
                        json_pack("{s:s,s:f,s:f}", "point", t->legs[0].from, "easting_m", start.easting_m, "northing_m",
                                  start.northing_m));
    json_object_set_new(result, "legs", list);
    json_object_set_new(result, "rule", json_string(transit ? "transit" : "compass"));
    json_object_set_new(result, "departure_misclosure_m", mst_json_number(t->departure_misclosure_m));
    json_object_set_new(result, "latitude_misclosure_m", mst_json_number(t->latitude_misclosure_m));
    json_object_set_new(result, "linear_misclosure_m", mst_json_number(t->linear_misclosure_m));
    json_object_set_new(result, "length_m", mst_json_number(t->length_m));
    json_object_set_new(result, "ratio", mst_json_number(t->ratio));
    json_object_set_new(result, "allowable_ratio", json_real(RATIO_ALLOWED));
    json_object_set_new(result, "allowable_m", mst_json_number(t->length_m / RATIO_ALLOWED));
    json_object_set_new(result, "area_m2", mst_json_number(t->area_m2));
}

static mst_status judge_traverse(const mst_page *page, const mst_traverse *t, mst_error *error) {
    if (t->ratio >= RATIO_ALLOWED) return MST_OK;
    return mst_fail_at(error, MST_NO, page->name, 0, 0,
                       "The traverse misses by %.3f m in %.1f m, 1:%.0f; 1:%.0f, %.3f m, is allowed. Find the mistake "
                       "before it is shared out.",
                       t->linear_misclosure_m, t->length_m, t->ratio, RATIO_ALLOWED, t->length_m / RATIO_ALLOWED);
}

/* A point outside the traverse with a given place that a station sights. */
static const char *known_line(const mst_adjustment *a, const mst_page *page, const char *station) {
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *r = &page->rows[i];
        const char *to = r->text[MST_ANGLES_TO];
        const mst_adjusted_point *p = mst_adjustment_point(a, to);
        bool stood_on = false;
        if (r->set_aside || strcmp(r->text[MST_ANGLES_AT], station) != 0 || !p || !p->held_plan) continue;
        for (size_t k = 0; k < page->row_count; k++) stood_on |= strcmp(page->rows[k].text[MST_ANGLES_AT], to) == 0;
        if (!stood_on) return to;
    }
    return NULL;
}

static bool sights(const mst_page *page, const char *at, const char *to) {
    for (size_t i = 0; i < page->row_count; i++)
        if (!page->rows[i].set_aside && strcmp(page->rows[i].text[MST_ANGLES_AT], at) == 0 &&
            strcmp(page->rows[i].text[MST_ANGLES_TO], to) == 0)
            return true;
    return false;
}

/* The known lines that an open traverse runs between; false where it comes back to its start or hangs in the air. */
static bool find_ends(const mst_adjustment *a, const mst_page *page, mst_traverse_ends *ends, mst_point *start,
                      mst_point *end) {
    const char *first = page->row_count ? page->rows[0].text[MST_ANGLES_AT] : "", *last = first;
    mst_point back, fore;
    for (size_t i = 0; i < page->row_count; i++) last = page->rows[i].text[MST_ANGLES_AT];
    if (strcmp(first, last) == 0 || sights(page, last, first) || sights(page, first, last)) return false;
    *ends = (mst_traverse_ends){.back = known_line(a, page, first), .fore = known_line(a, page, last)};
    const mst_adjusted_point *p = mst_adjustment_point(a, first), *q = mst_adjustment_point(a, last);
    if (!ends->back || !ends->fore || !p || !q || !p->held_plan || !q->held_plan) return false;
    if (place_of(a, first, start) || place_of(a, last, end) || place_of(a, ends->back, &back) ||
        place_of(a, ends->fore, &fore))
        return false;
    ends->back_bearing_rad = atan2(start->easting_m - back.easting_m, start->northing_m - back.northing_m);
    ends->fore_bearing_rad = atan2(fore.easting_m - end->easting_m, fore.northing_m - end->northing_m);
    return true;
}

static mst_status traverse_of_angles(mst_session *session, const mst_page *page, bool transit, json_t **result,
                                     mst_error *error) {
    mst_angle_traverse a;
    mst_traverse t;
    mst_traverse_ends ends;
    mst_point start = {0, 0}, end;
    const mst_adjustment *adjustment = session->derived.adjustment;
    mst_arena *arena = session->scratch;
    bool between = find_ends(adjustment, page, &ends, &start, &end);
    mst_status status = between ? mst_traverse_between(page, &ends, arena, &a, error)
                                : mst_traverse_from_angles(page, first_bearing(adjustment, page), arena, &a, error);
    if (status) return status;
    if (!between) (void)!place_of(adjustment, a.legs[0].from, &start);
    status = balance_legs(transit, a.legs, a.leg_count, start, between ? &end : NULL, arena, &t, error);
    if (status) return status;
    *result =
        json_pack("{s:s,s:o,s:f,s:f}", "page", page->name, "stations", stations_json(&a), "angular_misclosure_deg",
                  a.misclosure_rad * 180 / MST_PI, "angular_allowable_deg", a.allowable_rad * 180 / MST_PI);
    set_traverse(*result, &t, transit, start);
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
    set_traverse(*result, &t, transit, start);
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
    if (*name) return mst_fail(error, MST_NOT_FOUND, "There is no bearings or angles page '%.60s'.", name);
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

typedef struct places {
    mst_point3 *at;
    const char **name;
    size_t count;
} places;

static void add_place(places *p, const char *name, double e, double n, double h) {
    p->name[p->count] = name;
    p->at[p->count++] = (mst_point3){e, n, h};
}

/* The coordinates of a visit's points pages or, with another kind, of every page of that kind. */
static void places_of_pages(const mst_site *site, mst_page_kind kind, const char *visit, places *p) {
    for (size_t i = 0; i < site->page_count; i++) {
        const mst_page *page = &site->pages[i];
        if (page->kind != kind || (visit && strcmp(page->visit, visit) != 0)) continue;
        for (size_t k = 0; k < page->row_count; k++) {
            const mst_row *r = &page->rows[k]; /* the columns of points and of stakes stand in the same order */
            if (!r->set_aside)
                add_place(p, r->text[MST_POINTS_POINT], r->value[MST_POINTS_EASTING], r->value[MST_POINTS_NORTHING],
                          r->value[MST_POINTS_ELEVATION]);
        }
    }
}

static bool make_places(places *p, size_t most, mst_arena *arena) {
    *p = (places){mst_arena_array(arena, most, sizeof *p->at), mst_arena_array(arena, most, sizeof *p->name), 0};
    return p->at && p->name;
}

/* A visit by its name; "design" are the stakes, "site" the adjusted points. */
static mst_status find_places(mst_session *session, const char *of, places *p, mst_error *error) {
    const mst_site *site = session->derived.site;
    size_t most = 1;
    for (size_t i = 0; i < site->page_count; i++) most += site->pages[i].row_count;
    bool adjusted = strcmp(of, "site") == 0;
    mst_status status = adjusted ? mst_derive_adjustment(&session->derived, error) : MST_OK;
    const mst_adjustment *a = session->derived.adjustment;
    if (status) return status;
    if (!make_places(p, adjusted ? a->point_count + 1 : most, session->scratch))
        return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the fit.");
    for (size_t i = 0; adjusted && i < a->point_count; i++)
        if (a->points[i].has_plan)
            add_place(p, a->points[i].name, a->points[i].easting_m, a->points[i].northing_m,
                      a->points[i].has_height ? a->points[i].elevation_m : NAN);
    if (!adjusted) places_of_pages(site, MST_PAGE_POINTS, of, p);
    if (!adjusted && p->count == 0 && strcmp(of, "design") == 0) places_of_pages(site, MST_PAGE_STAKES, NULL, p);
    if (p->count) return MST_OK;
    return mst_fail(error, MST_NOT_FOUND,
                    "There are no coordinates of '%.60s'; name a visit with a points page, 'design' for the stakes or "
                    "'site' for the adjusted points.",
                    of);
}

typedef struct common_points {
    mst_point3 *from, *to, *residuals;
    const char **names;
    size_t count;
} common_points;

static mst_status find_common(mst_session *session, const char *from, const char *to, bool space, common_points *c,
                              mst_error *error) {
    places one, other;
    mst_arena *arena = session->scratch;
    mst_status status = find_places(session, from, &one, error);
    if (!status) status = find_places(session, to, &other, error);
    if (status) return status;
    mst_index index = {0};
    for (size_t k = 0; k < other.count; k++)
        if (mst_index_get(&index, other.name[k]) == UINT32_MAX &&
            !mst_index_put(&index, arena, other.name[k], (uint32_t)k))
            return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the fit.");
    *c = (common_points){mst_arena_array(arena, one.count, sizeof *c->from),
                         mst_arena_array(arena, one.count, sizeof *c->to),
                         mst_arena_array(arena, one.count, sizeof *c->residuals),
                         mst_arena_array(arena, one.count, sizeof *c->names), 0};
    if (!c->from || !c->to || !c->residuals || !c->names)
        return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the fit.");
    for (size_t i = 0; i < one.count; i++) {
        uint32_t k = mst_index_get(&index, one.name[i]);
        if (k == UINT32_MAX || (space && (isnan(one.at[i].elevation_m) || isnan(other.at[k].elevation_m)))) continue;
        c->names[c->count] = one.name[i];
        c->from[c->count] = one.at[i];
        c->to[c->count++] = other.at[k];
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

static mst_status fit_common(const common_points *c, bool scale, bool space, mst_arena *arena, mst_similarity3 *fit,
                             double *turn, mst_error *error) {
    if (!space) return fit_in_plan(c, scale, arena, fit, turn, error);
    mst_status status = mst_similarity3_fit(c->from, c->to, c->count, scale, fit, c->residuals, error);
    if (!status) *turn = atan2(fit->turn[0][1] - fit->turn[1][0], fit->turn[0][0] + fit->turn[1][1]);
    return status;
}

static json_t *scale_warnings(double scale) {
    json_t *warnings = json_array();
    if (fabs(scale - 1) > SCALE_WARNED)
        json_array_append_new(warnings,
                              json_sprintf("The scale is %.0f ppm off 1, %.0f mm in 100 m: one of the two has "
                                           "a long or short measure, or another unit.",
                                           (scale - 1) * 1e6, fabs(scale - 1) * 1e5));
    return warnings;
}

MST_OPERATION(mst_op_fit_visits) {
    static const char *const KNOWN[] = {"from", "to", "free-scale", "in-space", NULL};
    const char *from, *to;
    common_points c;
    mst_similarity3 fit, loose;
    double turn = NAN, unused;
    bool scale = mst_arg_flag(arguments, "free-scale"), space = mst_arg_flag(arguments, "in-space");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "from", &from, error);
    if (!status) status = mst_arg_required(arguments, "to", &to, error);
    if (!status) status = find_common(session, from, to, space, &c, error);
    if (!status) status = fit_common(&c, true, space, session->scratch, &loose, &unused, error);
    if (!status) status = fit_common(&c, scale, space, session->scratch, &fit, &turn, error);
    if (status) return status;
    *result = json_pack("{s:s,s:s,s:o,s:f,s:f,s:f,s:f}", "from", from, "to", to, "residuals", residuals_json(&c, space),
                        "turn_deg", turn * 180 / MST_PI, "scale", fit.scale, "scale_if_free", loose.scale, "rms_m",
                        fit.rms_m);
    static const char *const SHIFTS[] = {"shift_e_m", "shift_n_m", "shift_h_m"};
    for (int i = 0; i < 3; i++) json_object_set_new(*result, SHIFTS[i], mst_json_number(fit.shift_m[i]));
    json_object_set_new(*result, "warnings", scale_warnings(loose.scale));
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

/* A book that starts from nothing known is told as such: its levels are right among themselves only. */
static json_t *assumed_level(const mst_level_book *b, mst_arena *arena) {
    if (!b->assumed) return json_string("");
    return mst_json_text(mst_arena_printf(
        arena,
        "No level is known: %s = 100.000 m is assumed, and all levels count from it. Give its level on a control page.",
        b->assumed));
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
    json_object_set_new(*result, "last_less_first_m", mst_json_number(b.change_m));
    json_object_set_new(*result, "assumed", assumed_level(&b, session->scratch));
    if (fabs(b.misclosure_m) > b.allowable_m)
        return mst_fail_at(error, MST_NO, page->name, 0, 0,
                           "The level book misses by %.0f mm; %.0f mm is allowed over %d set-up%s.",
                           b.misclosure_m * 1000, b.allowable_m * 1000, b.set_ups, b.set_ups == 1 ? "" : "s");
    return MST_OK;
}
