/* Swales and pipes by Manning's formula against the rain that the user gives (Q = share x rain x area, the rational
 * method). A swale is taken as full where it is dug least deep, at its least fall; the ground that runs to it is found
 * by following drops. A pipe runs full; what drains into it is not known to the model, so it is told how much ground it
 * serves. */
#include "operations/flows.h"
#include "operations/arguments.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MOST_DROPS = 4000 };
static const double GRASS = 0.030;   /* Manning's n, mown grass; from memory after V. T. Chow, Open-Channel Hydraulics
                                        (1959), table 5-6: 0.025 to 0.035. Setting roughness.swale */
static const double PLASTIC = 0.012; /* smooth pipe in service; the same, 0.009 to 0.015. Setting roughness.pipe */
static const double BORE = 0.94;     /* of the outer diameter: 110 mm solid-wall plastic is 103.6 inside (EN 1401-1 SN4,
                                        from memory). Setting bore.ELEMENT */

typedef struct job {
    mst_session *session;
    const mst_flow_ground *on;
    const mst_rain *rain;
    double *caught_m2; /* by element */
    mst_error *error;
} job;

static mst_status positive(const job *j, const char *key, double *value) {
    const char *text = mst_site_setting(j->session->derived.site, key, NULL);
    if (!text || !*text) return MST_OK;
    if (mst_number_read(text, value) && *value > 0) return MST_OK;
    return mst_fail(j->error, MST_INVALID, "The setting '%s' is a number above 0, not '%.40s'.", key, text);
}

/* ---- the ground that runs to each ditch ---- */

static bool is_ditch(const mst_element *e) {
    return e->kind == MST_WORK_SWALE || (e->kind == MST_WORK_TRENCH && !e->backfilled);
}

/* A drop belongs to the first ditch that its way comes to. */
static mst_status follow(const job *j, mst_point from, double area) {
    mst_path path;
    mst_arena *own = mst_arena_new();
    if (!own) return mst_fail(j->error, MST_NO_MEMORY, "Not enough memory.");
    mst_status status = mst_water_path(j->on->water, from, own, &path, j->error);
    bool caught = false;
    for (size_t i = 0; !status && !caught && i < path.count; i++) {
        mst_works_level level;
        mst_point at = {path.vertices[i].easting_m, path.vertices[i].northing_m};
        if (!mst_works_level_at(j->on->works, at, &level) || level.owner >= j->on->element_count) continue;
        if (!is_ditch(&j->on->elements[level.owner])) continue;
        j->caught_m2[level.owner] += area;
        caught = true;
    }
    mst_arena_free(own);
    return status == MST_NO ? MST_OK : status;
}

/* The whole ground by its triangles' middles; on a large one every so many, each for its neighbours too. */
static mst_status catch_all(const job *j) {
    size_t count, vertices;
    const uint32_t(*t)[3] = mst_ground_triangles(j->on->ground, &count);
    const mst_ground_point *v = mst_ground_vertices(j->on->ground, &vertices);
    size_t every = count / MOST_DROPS + 1;
    double area = 0;
    for (size_t i = 0; i < count; i++) {
        const mst_ground_point *a = &v[t[i][0]], *b = &v[t[i][1]], *c = &v[t[i][2]];
        area += ((b->easting_m - a->easting_m) * (c->northing_m - a->northing_m) -
                 (b->northing_m - a->northing_m) * (c->easting_m - a->easting_m)) /
                2;
        if (i % every != every / 2 && i + 1 < count) continue;
        mst_point middle = {(a->easting_m + b->easting_m + c->easting_m) / 3,
                            (a->northing_m + b->northing_m + c->northing_m) / 3};
        mst_status status = follow(j, middle, area);
        if (status) return status;
        area = 0;
    }
    return MST_OK;
}

/* ---- one ditch, one pipe ---- */

/* How deep it is dug where that is least, leaving out its run-out at the ends. */
static mst_status least_depth(const job *j, uint32_t element, const mst_path *line, double *depth) {
    mst_section s;
    mst_status status = mst_works_section(j->on->works, line, j->session->scratch, &s, j->error);
    *depth = INFINITY;
    for (size_t i = 0; !status && i < s.count; i++) {
        const mst_works_level *l = &s.points[i].level;
        if (l->owner == element) *depth = fmin(*depth, l->existing_m - l->finished_m);
    }
    if (!isfinite(*depth)) *depth = 0;
    return status == MST_TOO_FEW ? MST_OK : status;
}

static void say(const job *j, const mst_element *e, const char *what, double capacity, double caught, json_t *o) {
    char sentence[500], served[160] = "";
    double rate = j->rain->mm_h / 3.6e6 * j->rain->share, comes = rate * caught;
    bool ditch = !isnan(caught), known = rate > 0;
    if (!known) snprintf(served, sizeof served, "; give --rainfall (mm an hour) to hold it against rain");
    else if (ditch)
        snprintf(served, sizeof served, "; %.1f m2 run to it, at %g mm an hour %.2f l/s: it %s", caught, j->rain->mm_h,
                 comes * 1000, comes <= capacity ? "carries them" : "OVERFLOWS");
    else
        snprintf(served, sizeof served, "; at %g mm an hour that is the rain of %.0f m2", j->rain->mm_h,
                 capacity / rate);
    snprintf(sentence, sizeof sentence, "%.60s carries %.2f l/s, %s%s.", e->name, capacity * 1000, what, served);
    json_object_set_new(o, "capacity_l_s", json_real(capacity * 1000));
    json_object_set_new(o, "catchment_m2", ditch ? json_real(caught) : json_null());
    json_object_set_new(o, "inflow_l_s", ditch && known ? json_real(comes * 1000) : json_null());
    json_object_set_new(o, "serves_m2", known ? json_real(capacity / rate) : json_null());
    json_object_set_new(o, "enough", ditch && known ? json_boolean(comes <= capacity) : json_null());
    json_object_set_new(o, "sentence", json_string(sentence));
}

static mst_status ditch_json(const job *j, uint32_t i, const mst_path *line, double fall, json_t *o) {
    const mst_element *e = &j->on->elements[i];
    double depth, area, wetted, roughness = GRASS;
    char what[160];
    mst_status status = positive(j, "roughness.swale", &roughness);
    if (!status) status = least_depth(j, i, line, &depth);
    if (status) return status;
    mst_ditch_section(e, fmax(depth, 0), &area, &wetted);
    snprintf(what, sizeof what, "full at its least depth of %.2f m and fall of %.2f %%, Manning's n %.3f", depth,
             100 * fall, roughness);
    json_object_set_new(o, "depth_m", json_real(depth));
    json_object_set_new(o, "roughness", json_real(roughness));
    say(j, e, what, mst_manning(area, wetted, fall, roughness), j->caught_m2[i], o);
    return MST_OK;
}

static mst_status pipe_json(const job *j, uint32_t i, double fall, json_t *o) {
    const mst_element *e = &j->on->elements[i];
    double roughness = PLASTIC, bore = BORE * e->pipe_m;
    char key[120], what[200];
    snprintf(key, sizeof key, "bore.%.100s", e->name);
    const char *given = mst_site_setting(j->session->derived.site, key, NULL);
    mst_status status = positive(j, "roughness.pipe", &roughness);
    if (given && !*given) given = NULL;
    if (!status && given && (mst_length_read(given, MST_UNIT_M, &bore, NULL) || !(bore > 0)))
        status = mst_fail(j->error, MST_INVALID, "The setting '%s' is the pipe's inside diameter, as 103mm.", key);
    if (status) return status;
    snprintf(what, sizeof what, "running full at its least fall of %.2f %%, %.0f mm inside%s, Manning's n %.3f",
             100 * fall, bore * 1000, given ? "" : " (94 % of outside is taken)", roughness);
    json_object_set_new(o, "bore_m", json_real(bore));
    json_object_set_new(o, "roughness", json_real(roughness));
    say(j, e, what, mst_pipe_full(bore, fall, roughness), NAN, o);
    return MST_OK;
}

static mst_status flow_json(const job *j, uint32_t i, json_t *list) {
    const mst_derived *d = &j->session->derived;
    const mst_element *e = &j->on->elements[i];
    const mst_feature *f = e->where ? mst_site_feature(d->site, e->where) : NULL;
    mst_shape shape;
    mst_line_falls falls;
    if (!f || f->kind != MST_FEATURE_LINE || !(is_ditch(e) || (e->kind == MST_WORK_TRENCH && e->pipe_m > 0)))
        return MST_OK;
    mst_status status = mst_feature_shape(f, d->adjustment, j->session->scratch, &shape, j->error);
    if (status || !mst_line_falls_of(e, mst_shape_length(&shape), &falls)) return status;
    json_t *o = json_pack("{s:s,s:s,s:f}", "element", e->name, "kind", mst_work_kind_name(e->kind),
                          "least_fall_percent", 100 * falls.least);
    json_array_append_new(list, o);
    return is_ditch(e) ? ditch_json(j, i, &shape.paths[0], falls.least, o) : pipe_json(j, i, falls.least, o);
}

mst_status mst_flows_json(mst_session *session, const mst_flow_ground *on, const mst_rain *rain, json_t *result,
                          mst_error *error) {
    job j = {session, on, rain, NULL, error};
    json_t *list = json_array();
    json_object_set_new(result, "flows", list);
    j.caught_m2 = mst_arena_array(session->scratch, on->element_count + 1, sizeof *j.caught_m2);
    if (!j.caught_m2) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    bool any = false;
    for (size_t i = 0; i < on->element_count; i++) any |= is_ditch(&on->elements[i]);
    mst_status status = any ? catch_all(&j) : MST_OK;
    for (uint32_t i = 0; i < on->element_count && !status; i++) status = flow_json(&j, i, list);
    return status;
}

/* ---- the rain ---- */

mst_status mst_rain_of(const mst_site *site, const json_t *arguments, mst_rain *rain, mst_error *error) {
    *rain = (mst_rain){NAN, 1};
    const char *mm_h = mst_site_setting(site, "rainfall", ""), *share = mst_site_setting(site, "runoff", "");
    mst_status status = MST_OK;
    if (mst_arg_given(arguments, "rainfall")) status = mst_arg_number(arguments, "rainfall", &rain->mm_h, error);
    else if (*mm_h && !mst_number_read(mm_h, &rain->mm_h)) rain->mm_h = -1;
    if (status) return status;
    if (mst_arg_given(arguments, "runoff")) status = mst_arg_number(arguments, "runoff", &rain->share, error);
    else if (*share && !mst_number_read(share, &rain->share)) rain->share = -1;
    if (!status && (rain->mm_h <= 0 || !(rain->share > 0 && rain->share <= 1)))
        status = mst_fail(error, MST_INVALID,
                          "'rainfall' is in mm an hour, above 0, and 'runoff' the share of it that "
                          "runs off, up to 1.");
    return status;
}

/* ---- words for a plan ---- */

static const double GALLON_L = 3.785411784; /* US gallon, 231 in3 */

static const char *carried(mst_arena *arena, double l_s, bool imperial) {
    return imperial ? mst_arena_printf(arena, "%.0f gal/min", l_s * 60 / GALLON_L)
                    : mst_arena_printf(arena, "%.1f l/s", l_s);
}

static const char *rain_words(mst_arena *arena, double mm_h, bool imperial) {
    return imperial ? mst_arena_printf(arena, "%.2f in/h", mm_h / 25.4) : mst_arena_printf(arena, "%g mm/h", mm_h);
}

static const char *words_of(const json_t *flow, const mst_rain *rain, bool imperial, mst_arena *arena) {
    const json_t *inflow = json_object_get(flow, "inflow_l_s"), *served = json_object_get(flow, "serves_m2");
    double serves = json_number_value(served);
    const char *full = carried(arena, json_number_value(json_object_get(flow, "capacity_l_s")), imperial),
               *fallen = isnan(rain->mm_h) ? "" : rain_words(arena, rain->mm_h, imperial);
    if (json_is_number(inflow))
        return mst_arena_printf(arena, "full %s, %s come at %s%s", full,
                                carried(arena, json_number_value(inflow), imperial), fallen,
                                json_is_true(json_object_get(flow, "enough")) ? "" : ": OVERFLOWS");
    if (!json_is_number(served)) return mst_arena_printf(arena, "full %s", full);
    return imperial
               ? mst_arena_printf(arena, "full %s: %.0f ft\xC2\xB2 at %s", full, serves / MST_SQUARE_FOOT_M2, fallen)
               : mst_arena_printf(arena, "full %s: %.0f m\xC2\xB2 at %s", full, serves, fallen);
}

static mst_status flows_of_site(mst_session *session, const mst_rain *rain, json_t *holder, mst_error *error) {
    const mst_derived *d = &session->derived;
    mst_flow_ground on = {NULL, d->elements, d->element_count, NULL, NULL};
    mst_works *works;
    mst_ground *finished;
    mst_water *water;
    mst_status status = mst_derive_works(session, &works, error);
    if (!status) status = mst_works_ground(works, MST_SURFACE_FINISHED, session->scratch, &finished, error);
    if (!status) status = mst_water_build(finished, session->scratch, &water, error);
    if (status) return status;
    on.works = works, on.ground = finished, on.water = water;
    return mst_flows_json(session, &on, rain, holder, error);
}

mst_status mst_flow_words(mst_session *session, const char ***words, mst_error *error) {
    const mst_derived *d = &session->derived;
    mst_rain rain;
    bool any = false, imperial = mst_site_imperial(d->site);
    *words = mst_arena_array(session->scratch, d->element_count + 1, sizeof **words);
    if (!*words) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    for (size_t i = 0; i < d->element_count; i++) any |= is_ditch(&d->elements[i]) || d->elements[i].pipe_m > 0;
    if (!any) return MST_OK;
    json_t *holder = json_object(), *flow;
    mst_status status = mst_rain_of(d->site, NULL, &rain, error);
    if (!status) status = flows_of_site(session, &rain, holder, error);
    size_t k;
    json_array_foreach(json_object_get(holder, "flows"), k, flow) {
        const char *name = json_string_value(json_object_get(flow, "element"));
        for (size_t i = 0; !status && i < d->element_count; i++)
            if (strcmp(d->elements[i].name, name) == 0) (*words)[i] = words_of(flow, &rain, imperial, session->scratch);
    }
    json_decref(holder);
    return status;
}
