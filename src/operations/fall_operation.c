/* The fall from one point to another with its band, and whether it is proven to reach what it must. The points are
 * built ones, adjusted ones (with all that their readings share), or places on the ground. */
#include "numeric/statistics.h"
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double USUAL = 1.25; /* percent */
static const char *const USUAL_SOURCE =
    "usual least for paving: FAL08, 1:80 across, BS 7533 as quoted; local code first";

typedef struct ends {
    const char *from, *to, *measured;
    mst_fall_found found;
    double half; /* of the 95 % interval of the fall, rise over run */
    bool given;  /* levels that count as exact */
} ends;

/* ---- built points ---- */

static const mst_built *built_named(const mst_built *built, size_t count, const char *name) {
    for (size_t i = count; i-- > 0;)
        if (strcmp(built[i].point, name) == 0) return &built[i];
    return NULL;
}

/* @retval MST_NOT_FOUND not both are built points */
static mst_status of_built(mst_session *session, const json_t *arguments, ends *e, mst_error *error) {
    const mst_page *page;
    mst_built *built;
    size_t count;
    mst_status status = mst_built_page(session, arguments, &page, error);
    if (!status) status = mst_page_built(session->derived.site, page, session->scratch, &built, &count, error);
    if (status) return status;
    const mst_built *from = built_named(built, count, e->from), *to = built_named(built, count, e->to);
    if (!from || !to)
        return mst_fail(error, MST_NOT_FOUND, "%.60s has no point '%.60s'.", page->name, from ? e->to : e->from);
    e->measured = "built";
    return mst_fall_between(from, to, &e->found, error);
}

/* ---- adjusted points ---- */

static mst_status of_points(const mst_derived *d, uint32_t from, uint32_t to, ends *e, mst_error *error) {
    const mst_adjusted_point *a = &d->adjustment->points[from], *b = &d->adjustment->points[to];
    const mst_built first = {.point = a->name,
                             .easting_m = a->has_plan ? a->easting_m : NAN,
                             .northing_m = a->has_plan ? a->northing_m : NAN,
                             .elevation_m = a->has_height ? a->elevation_m : NAN,
                             .sd_plan_m = 0,
                             .sd_height_m = 0};
    const mst_built second = {.point = b->name,
                              .easting_m = b->has_plan ? b->easting_m : NAN,
                              .northing_m = b->has_plan ? b->northing_m : NAN,
                              .elevation_m = b->has_height ? b->elevation_m : NAN,
                              .sd_plan_m = 0,
                              .sd_height_m = 0};
    mst_status status = mst_fall_between(&first, &second, &e->found, error);
    if (status) return status;
    double run = e->found.run_m, fall = e->found.fall, variance;
    double de = (second.easting_m - first.easting_m) / run, dn = (second.northing_m - first.northing_m) / run;
    const mst_gradient_term terms[] = {{from, fall * de / run, fall * dn / run, 1 / run},
                                       {to, -fall * de / run, -fall * dn / run, -1 / run}};
    status = mst_adjustment_variance(d->adjustment, terms, 2, &variance, error);
    if (!status) e->found.sd = sqrt(fmax(variance, 0));
    e->given = a->held_height && b->held_height;
    e->measured = "survey";
    return status;
}

/* ---- places on the ground ---- */

static mst_status of_places(mst_derived *d, mst_point from, mst_point to, ends *e, mst_error *error) {
    mst_ground_level a, b;
    mst_status status = mst_derive_ground(d, error);
    if (status) return status;
    if (!mst_ground_level_at(d->ground, from, &a) || !mst_ground_level_at(d->ground, to, &b))
        return mst_fail(error, MST_NO, "%s lies outside the ground model; nothing was measured around it.",
                        mst_ground_level_at(d->ground, from, &a) ? e->to : e->from);
    const mst_built first = {e->from, from.easting_m, from.northing_m, a.elevation_m, 0, 0, 0},
                    second = {e->to, to.easting_m, to.northing_m, b.elevation_m, 0, 0, 0};
    double readings, between = mst_ground_between(d->ground, from) + mst_ground_between(d->ground, to);
    status = mst_fall_between(&first, &second, &e->found, error);
    if (!status) status = mst_level_difference_variance(d->adjustment, &a, &b, &readings, error);
    if (status) return status;
    e->found.sd = sqrt(fmax(readings, 0) + (between > 0 ? between : 0)) / e->found.run_m;
    e->half = mst_half_interval(d->ground, readings, between) / e->found.run_m;
    e->measured = "ground";
    return MST_OK;
}

/* Built points before those of the survey, names before places. */
static mst_status measure(mst_session *session, const json_t *arguments, ends *e, mst_error *error) {
    mst_derived *d = &session->derived;
    bool file = mst_arg_given(arguments, "text");
    mst_error why = {0};
    mst_status status = of_built(session, arguments, e, &why);
    if (status != MST_NOT_FOUND || file) {
        if (status && error) *error = why;
        return status;
    }
    if ((status = mst_derive_adjustment(d, error))) return status;
    const char *const keys[] = {"from", "to"}, *const names[] = {e->from, e->to};
    uint32_t point[2];
    for (int i = 0; i < 2; i++) point[i] = mst_index_get(&d->adjustment->index, names[i]);
    if (point[0] != UINT32_MAX && point[1] != UINT32_MAX) return of_points(d, point[0], point[1], e, error);
    mst_point at[2];
    bool given[2];
    for (int i = 0; i < 2; i++)
        if (point[i] == UINT32_MAX &&
            (!strchr(names[i], ',') || mst_arg_place(arguments, keys[i], &at[i], &given[i], &why)))
            return mst_fail(error, MST_NOT_FOUND,
                            "'%.60s' is neither a built point, nor one of the survey, nor a place E,N.", names[i]);
    if (point[0] != UINT32_MAX || point[1] != UINT32_MAX)
        return mst_fail(error, MST_INVALID,
                        "Give both ends as points or both as places E,N: the errors of a point and of "
                        "a place on the ground are not told against each other.");
    return of_places(d, at[0], at[1], e, error);
}

static mst_status least_of(const json_t *arguments, double *percent, mst_error *error) {
    const char *given = mst_arg_text(arguments, "least", NULL);
    *percent = USUAL;
    const json_t *value = json_object_get(arguments, "least");
    if (json_is_number(value) && json_number_value(value) > 0) *percent = json_number_value(value);
    else if (value && !(given && mst_fall_read(given, percent)))
        return mst_fail(error, MST_INVALID, "'least' is a fall above 0, as 1:80 or 1.25.");
    return MST_OK;
}

static void say(const ends *e, double least, bool usual, mst_proof proof, char *out, size_t size) {
    double fall = 100 * e->found.fall, sd = 100 * e->found.sd, half = 100 * e->half;
    char band[120], limit[160], ratio[40] = "";
    if (isnan(sd)) snprintf(band, sizeof band, "with an error that is not known");
    else if (e->given) snprintf(band, sizeof band, "both levels as given, without an error");
    else snprintf(band, sizeof band, "+/- %.2f %% (1 sd; 95 %%: %.2f to %.2f %%)", sd, fall - half, fall + half);
    snprintf(limit, sizeof limit, "%.2f %% (1:%.0f%s%s)", least, 100 / least, usual ? "; " : "",
             usual ? USUAL_SOURCE : "");
    if (fabs(fall) > 1e-6) snprintf(ratio, sizeof ratio, " (1:%.0f)", 100 / fabs(fall));
    snprintf(out, size, "From %.60s to %.60s over %.3f m it %s %.2f %%%s %s; to fall at least %s: %s%s.", e->from,
             e->to, e->found.run_m, fall < 0 ? "RISES" : "falls", fabs(fall), ratio, band, limit, mst_proof_name(proof),
             proof == MST_LIKELY || proof == MST_OPEN ? "; measure with finer gear or over a longer run" : "");
}

MST_OPERATION(mst_op_fall) {
    static const char *const KNOWN[] = {"from", "to", "least", "gear", "text", "name", "columns", NULL};
    ends e = {.half = NAN};
    double least, probability;
    char sentence[800];
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "from", &e.from, error);
    if (!status) status = mst_arg_required(arguments, "to", &e.to, error);
    if (!status) status = least_of(arguments, &least, error);
    if (!status) status = measure(session, arguments, &e, error);
    if (status) return status;
    if (isnan(e.half)) e.half = mst_normal_quantile(0.975) * e.found.sd;
    mst_proof proof = mst_proof_of(e.found.fall, e.half / mst_normal_quantile(0.975), least / 100, &probability);
    say(&e, least, !mst_arg_given(arguments, "least"), proof, sentence, sizeof sentence);
    double fall = 100 * e.found.fall;
    *result =
        json_pack("{s:s,s:s,s:s,s:f,s:f,s:f,s:o,s:[o,o],s:f,s:o,s:s,s:s}", "from", e.from, "to", e.to, "measured",
                  e.measured, "run_m", e.found.run_m, "drop_m", e.found.drop_m, "fall_percent", fall, "sd_percent",
                  mst_json_number(100 * e.found.sd), "interval_percent", mst_json_number(fall - 100 * e.half),
                  mst_json_number(fall + 100 * e.half), "least_percent", least, "probability",
                  mst_json_number(probability), "verdict", mst_proof_name(proof), "sentence", sentence);
    return proof == MST_MISSED
               ? mst_fail(error, MST_NO, "The fall from %.60s to %.60s misses %.2f %%.", e.from, e.to, least)
               : MST_OK;
}
