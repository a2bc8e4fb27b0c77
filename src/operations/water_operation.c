/* Water: falls, low spots, the ground beside buildings, where it all leaves; on the ground as it is or as designed. */
#include "numeric/statistics.h"
#include "operations/flows.h"
#include "operations/operation.h"
#include "works/dig.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { SPOTS_MOST = 200, OUTFALLS_MOST = 20, WAYS_MOST = 60, PONDS_DRAWN = 40 };
static const double SHALLOWEST_M = 0.0005;     /* a film of water is no low spot */
static const double OUTFALL_APART_M = 2;       /* places nearer on the rim are one */
static const double BESIDE_M = 0.05;           /* off the wall: clear of a plinth, on measured ground */
static const double REACH_M = 10 * MST_FOOT_M; /* FAL01: the first 10 ft */
static const double SHORTEST_M = 0.5;          /* over less than that a fall says nothing */
static const double EXACT = 1e-6;              /* percent: a design that meets the least fall meets it */
static const double LEVEL = 1e-9;              /* a fall below this is rounding */
static const double AGAINST_M2 = 1;            /* less ground than this is rounding at a corner */
static const double OUTFALL_SHARE = 0.005;     /* of the ground: smaller ones are not listed */
static const double AT_WALL_M = 0.05;          /* a rim this near the wall is the wall's */

typedef struct drainer {
    mst_session *session;
    mst_derived *d;
    const mst_ground *ground;
    bool finished, drawn;     /* drawn: with the ponds' shapes and the ways, for a plan */
    const json_t *definition; /* an element that is not stored, or NULL */
    mst_water *water;
    mst_works *works;            /* NULL for the ground as it is */
    const mst_element *elements; /* what they are made of */
    size_t element_count;
    json_t *result, *warnings;
    double *wall_m2;
    mst_error *error;
} drainer;

/* ---- least falls ---- */

/* The usual least fall by a feature's code. Rows FAL.. of the trade tables; a site's setting `fall.CODE` replaces one.
 */
typedef struct least_fall {
    const char *codes; /* words between commas, found in the feature's code */
    double percent;
    const char *source;
} least_fall;
/* The usual steepest fall; a site's setting `steepest.CODE` replaces one. */
static const least_fall STEEPEST[] = {
    {"path", 5, "ACC03, steeper than 1:20 a walk becomes a ramp, US and UK, from memory"},
    {"ramp", 100.0 / 12, "ACC01, 1:12, ADA 2010 s.405 (US); landings and limits of rise come on top"},
    {"drive,asphalt,blacktop", 15, "FAL27, highway design guides, from memory"},
    {"swale,ditch", 5, "FAL17, before erosion lining, conservation handbooks, from memory"},
    {"lawn,grass,turf", 100.0 / 3, "FAL20, 1:3, municipal grading checklist (US)"},
    {"patio,terrace,flags,paving,block", 5, "common practice, no source: tables and chairs stand on it"},
};
static const least_fall LEAST[] = {
    {"patio,terrace,flags,paving", 100.0 / 60, "FAL11, 1:60, UK trade advice"},
    {"block", 1.25, "FAL12, 1:80 along, UK trade practice, from memory"},
    {"path", 1.25, "FAL08, 1:80 across, BS 7533 as quoted"},
    {"drive,asphalt,blacktop", 1, "FAL13, county code as read (US)"},
    {"slab,concrete,base", 1, "FAL14, 1/8 in per ft, US trade practice, from memory"},
    {"lawn,grass,turf", 2, "FAL15, local grading standards (US)"},
    {"swale,ditch", 1, "FAL16, county code as read (US)"},
};
static const least_fall BY_BUILDING = {
    "building", 5, "FAL01, 6 in in the first 10 ft, IRC R401.3 (US); defer to local code and licensed practice"};
static const least_fall HARD_BY_BUILDING = {
    "building.hard", 2, "FAL03, hard surface within 10 ft, IRC R401.3 (US); defer to local code and licensed practice"};
static const char *const HARD = "patio,terrace,flags,paving,block,path,drive,asphalt,blacktop,slab,concrete,base";

static bool has_word(const char *code, const char *words) {
    char lower[64], word[32];
    size_t n = 0;
    for (; code && code[n] && n + 1 < sizeof lower; n++)
        lower[n] = code[n] >= 'A' && code[n] <= 'Z' ? (char)(code[n] + 32) : code[n];
    lower[n] = 0;
    for (const char *w = words; *w;) {
        size_t length = strcspn(w, ",");
        snprintf(word, sizeof word, "%.*s", (int)length, w);
        if (strstr(lower, word)) return true;
        w += length + (w[length] == ',');
    }
    return false;
}

/* "1:60", "1.7 %" or "1.7". */
bool mst_fall_read(const char *text, double *percent) {
    char number[32];
    bool ratio = strncmp(text, "1:", 2) == 0;
    snprintf(number, sizeof number, "%s", ratio ? text + 2 : text);
    size_t end = strlen(number);
    while (end && (number[end - 1] == '%' || number[end - 1] == ' ')) number[--end] = 0;
    if (!mst_number_read(number, percent) || !(*percent > 0)) return false;
    if (ratio) *percent = 100 / *percent;
    return true;
}

static void warn(drainer *r, const char *format, const char *name, const char *why) {
    char sentence[600];
    snprintf(sentence, sizeof sentence, format, name, why);
    json_array_append_new(r->warnings, json_string(sentence));
}

static const least_fall *row_for(const least_fall table[], size_t count, const char *code) {
    for (size_t i = 0; i < count; i++)
        if (has_word(code, table[i].codes)) return &table[i];
    return NULL;
}

/* The site's own limit, setting WHAT.CODE, before the @p usual one (NULL: none is usual, percent NaN). */
static least_fall own_or(drainer *r, const char *what, const char *code, const least_fall *usual) {
    least_fall found = usual ? *usual : (least_fall){code, NAN, ""};
    char key[80];
    snprintf(key, sizeof key, "%s.%s", what, code ? code : "");
    const char *own = mst_site_setting(r->d->site, key, NULL);
    if (!own || !*own) return found;
    if (mst_fall_read(own, &found.percent)) found.source = "the site's own setting";
    else warn(r, "The setting %s is '%s', which is no fall; write 1:60 or 1.7.", key, own);
    return found;
}

/* The least fall that a code asks for. */
static least_fall least_for(drainer *r, const char *code) {
    const least_fall *usual = row_for(LEAST, sizeof LEAST / sizeof *LEAST, code);
    if (code && strcmp(code, BY_BUILDING.codes) == 0) usual = &BY_BUILDING;
    if (code && strcmp(code, HARD_BY_BUILDING.codes) == 0) usual = &HARD_BY_BUILDING;
    return own_or(r, "fall", code, usual);
}

/* The steepest fall that a code allows. */
static least_fall steepest_for(drainer *r, const char *code) {
    return own_or(r, "steepest", code, row_for(STEEPEST, sizeof STEEPEST / sizeof *STEEPEST, code));
}

/* What a fall with its interval says of the steepest one; nothing where it keeps to it. */
static void judge_steepest(char *out, size_t size, double fall, double half, const least_fall *most) {
    size_t used = strlen(out);
    if (isnan(most->percent) || fall + half <= most->percent + EXACT) return;
    snprintf(out + used, size - used, "; it %s the usual most of %.2f %% (%s)",
             fall - half > most->percent ? "is steeper than" : "is not proven to keep to", most->percent, most->source);
}

/* Whether it is proven to reach the least one; by the rule of mst_proof_of. All in percent. */
static mst_proof proof_of(double fall, double half, const least_fall *least) {
    double probability;
    return mst_proof_of((fall + EXACT) / 100, half / mst_normal_quantile(0.975) / 100, least->percent / 100,
                        &probability);
}

/* What a fall with its interval says of the least one. */
static void judge(char *out, size_t size, double fall, double half, const least_fall *least, bool finished) {
    double low = fall - half, high = fall + half;
    if (finished && half <= EXACT) snprintf(out, size, "as designed");
    else if (low <= 0 && high >= 0)
        snprintf(out, size, "not proven at this gear: it may lie flat or fall the other way");
    else snprintf(out, size, "95 %%: %.2f to %.2f %%", low, high);
    if (isnan(least->percent) || (low <= 0 && high >= 0 && half > EXACT)) return;
    size_t used = strlen(out);
    static const char *const SAYS[] = {[MST_PROVEN] = "reaches",
                                       [MST_LIKELY] = "likely reaches, but is not proven at this gear to reach,",
                                       [MST_OPEN] = "is not proven at this gear to reach",
                                       [MST_MISSED] = "stays below"};
    snprintf(out + used, size - used, "; it %s the usual least of %.2f %% (%s)", SAYS[proof_of(fall, half, least)],
             least->percent, least->source);
}

static json_t *limit_json(const least_fall *least) {
    if (isnan(least->percent)) return json_null();
    return json_pack("{s:f,s:s,s:s}", "least_percent", least->percent, "source", least->source, "setting", "fall.CODE");
}

static json_t *steepest_json(const least_fall *most) {
    if (isnan(most->percent)) return json_null();
    return json_pack("{s:f,s:s,s:s}", "most_percent", most->percent, "source", most->source, "setting",
                     "steepest.CODE");
}

/* ---- low spots ---- */

static mst_status spot_json(drainer *r, const mst_low_spot *s, json_t *list) {
    mst_ground_level bottom = {0}, spill = {0};
    double variance = NAN;
    if (mst_ground_level_at(r->ground, s->bottom, &bottom) && mst_ground_level_at(r->ground, s->spill, &spill)) {
        mst_status status = mst_level_difference_variance(r->d->adjustment, &spill, &bottom, &variance, r->error);
        if (status) return status;
    }
    double half = mst_half_interval(r->ground, variance, s->between_m2);
    bool proven = s->depth_m > half;
    char sentence[400];
    snprintf(
        sentence, sizeof sentence,
        "Water stands at %.2f E, %.2f N: %.0f mm deep, %.1f m2, %.2f m3, and spills at level %.3f by %.2f E, %.2f N%s",
        s->bottom.easting_m, s->bottom.northing_m, s->depth_m * 1000, s->area_m2, s->volume_m3, s->spill_m,
        s->spill.easting_m, s->spill.northing_m, proven ? "." : "");
    size_t used = strlen(sentence);
    if (!proven)
        snprintf(sentence + used, sizeof sentence - used,
                 "; shallower than its 95 %% interval of %.0f mm either way: not proven.", half * 1000);
    json_t *o = json_pack("{s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:f}", "easting_m", s->bottom.easting_m, "northing_m",
                          s->bottom.northing_m, "bottom_m", s->bottom_m, "spill_m", s->spill_m, "depth_m", s->depth_m,
                          "area_m2", s->area_m2, "volume_m3", s->volume_m3, "spill_easting_m", s->spill.easting_m,
                          "spill_northing_m", s->spill.northing_m);
    json_object_set_new(o, "depth_interval_m",
                        json_pack("[o,o]", mst_json_number(s->depth_m - half), mst_json_number(s->depth_m + half)));
    json_object_set_new(o, "proven", json_boolean(proven));
    json_object_set_new(o, "sentence", json_string(sentence));
    json_array_append_new(list, o);
    return MST_OK;
}

static mst_status low_spots(drainer *r) {
    size_t count;
    const mst_low_spot *s = mst_water_low_spots(r->water, &count);
    json_t *list = json_array();
    json_object_set_new(r->result, "low_spots", list);
    for (size_t i = 0; i < count && i < SPOTS_MOST && s[i].depth_m >= SHALLOWEST_M; i++) {
        mst_status status = spot_json(r, &s[i], list);
        if (!status && r->drawn && i < PONDS_DRAWN)
            status = mst_pond_json(r->ground, &s[i], r->session->scratch, json_array_get(list, i), r->error);
        if (status) return status;
    }
    if (count > SPOTS_MOST && s[SPOTS_MOST].depth_m >= SHALLOWEST_M)
        warn(r, "Only the deepest low spots are listed%s%s.", "", "");
    return MST_OK;
}

/* ---- falls of areas ---- */

static mst_status fall_variance(drainer *r, const mst_fall *f, double ge, double gn, double *readings,
                                double *between) {
    mst_gradient_term *terms = mst_arena_array(r->session->scratch, f->term_count + 1, sizeof *terms);
    if (!terms) return mst_fail(r->error, MST_NO_MEMORY, "Not enough memory.");
    for (size_t i = 0; i < f->term_count; i++) {
        const mst_gradient_term *e = &f->e_terms[i], *n = &f->n_terms[i];
        terms[i] = (mst_gradient_term){e->point, ge * e->easting + gn * n->easting, ge * e->northing + gn * n->northing,
                                       ge * e->elevation + gn * n->elevation};
    }
    *between = ge * ge * f->between[0] + 2 * ge * gn * f->between[1] + gn * gn * f->between[2];
    *readings = 0;
    return f->term_count ? mst_adjustment_variance(r->d->adjustment, terms, f->term_count, readings, r->error) : MST_OK;
}

static mst_status fall_json(drainer *r, const mst_feature *feature, const mst_fall *f, json_t *list) {
    double slope = hypot(f->slope_e, f->slope_n), readings = 0, between = 0;
    double ge = slope > 0 ? f->slope_e / slope : 1, gn = slope > 0 ? f->slope_n / slope : 0;
    mst_status status = fall_variance(r, f, ge, gn, &readings, &between);
    if (status) return status;
    double fall = 100 * slope, half = 100 * mst_half_interval(r->ground, readings, between);
    double bearing = slope > LEVEL ? mst_angle_turn(atan2(-f->slope_e, -f->slope_n)) * 180 / MST_PI : NAN;
    least_fall least = least_for(r, feature->code);
    least_fall most = steepest_for(r, feature->code);
    mst_proof proof = proof_of(fall, half, &least);
    char verdict[500], sentence[700];
    judge(verdict, sizeof verdict, fall, half, &least, r->finished);
    judge_steepest(verdict, sizeof verdict, fall, half, &most);
    if (slope > LEVEL)
        snprintf(sentence, sizeof sentence, "%.60s falls %.2f %% (1:%.0f) towards %.0f deg on the whole: %s.",
                 feature->name, fall, 1 / slope, bearing, verdict);
    else snprintf(sentence, sizeof sentence, "%.60s lies level on the whole: %s.", feature->name, verdict);
    json_t *o = json_pack("{s:s,s:s,s:f,s:[f,f],s:o,s:f,s:o,s:b,s:s}", "feature", feature->name, "code",
                          feature->code ? feature->code : "", "fall_percent", fall, "interval_percent", fall - half,
                          fall + half, "bearing_deg", mst_json_number(bearing), "covered_m2", f->covered_m2, "limit",
                          limit_json(&least), "proven",
                          !(fall - half <= 0) && (isnan(least.percent) || proof == MST_PROVEN || proof == MST_MISSED),
                          "sentence", sentence);
    json_object_set_new(o, "verdict", isnan(least.percent) ? json_null() : json_string(mst_proof_name(proof)));
    json_object_set_new(o, "steepest", steepest_json(&most));
    json_array_append_new(list, o);
    return MST_OK;
}

static bool is_building(const mst_feature *f) {
    return f->kind == MST_FEATURE_AREA && has_word(f->code, "building,house");
}

static mst_status falls(drainer *r) {
    json_t *list = json_array();
    json_object_set_new(r->result, "falls", list);
    for (size_t i = 0; i < r->d->site->feature_count; i++) {
        const mst_feature *f = &r->d->site->features[i];
        mst_shape shape;
        mst_fall fall;
        mst_error why = {0};
        if (f->kind != MST_FEATURE_AREA || f->role == MST_ROLE_BOUNDARY || f->role == MST_ROLE_HOLE || is_building(f))
            continue;
        mst_status status = mst_feature_shape(f, r->d->adjustment, r->session->scratch, &shape, &why);
        if (!status) status = mst_ground_fall(r->ground, &shape, r->session->scratch, &fall, &why);
        if (status == MST_NO_MEMORY) return mst_fail(r->error, status, "%s", why.sentence);
        if (status) warn(r, "The fall of %.60s is not known: %.400s", f->name, why.sentence);
        else if ((status = fall_json(r, f, &fall, list))) return status;
    }
    return MST_OK;
}

/* ---- beside buildings ---- */

/* A place out from a wall with its level. */
typedef struct reading {
    mst_ground_level near, far;
    double run, between, fall; /* fall: rise over run, > 0 away from the wall */
    mst_point at;              /* half a metre out: there the surface shows what it is */
} reading;

static bool read_square(const drainer *r, mst_point at, double e, double n, reading *out) {
    mst_point near = {at.easting_m + BESIDE_M * e, at.northing_m + BESIDE_M * n};
    if (!mst_ground_level_at(r->ground, near, &out->near)) return false;
    out->at = (mst_point){at.easting_m + SHORTEST_M * e, at.northing_m + SHORTEST_M * n};
    for (out->run = REACH_M; out->run >= SHORTEST_M; out->run -= 0.25) {
        mst_point far = {near.easting_m + out->run * e, near.northing_m + out->run * n};
        if (!mst_ground_level_at(r->ground, far, &out->far)) continue;
        out->between = mst_ground_between(r->ground, near) + mst_ground_between(r->ground, far);
        out->fall = (out->near.elevation_m - out->far.elevation_m) / out->run;
        return true;
    }
    return false;
}

static bool is_hard(const drainer *r, mst_point at) {
    for (size_t i = 0; i < r->d->site->feature_count; i++) {
        const mst_feature *f = &r->d->site->features[i];
        mst_shape shape;
        if (f->kind != MST_FEATURE_AREA || f->role == MST_ROLE_BOUNDARY || !has_word(f->code, HARD)) continue;
        if (mst_feature_shape(f, r->d->adjustment, r->session->scratch, &shape, NULL) == MST_OK &&
            mst_shape_contains(&shape, at))
            return true;
    }
    return false;
}

/* The least of three readings square to an edge. */
static bool worst_beside(const drainer *r, const mst_path_vertex *a, const mst_path_vertex *b, bool left,
                         reading *worst) {
    double length = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    double e = (b->northing_m - a->northing_m) / length, n = -(b->easting_m - a->easting_m) / length;
    if (left) e = -e, n = -n;
    bool found = false;
    for (int k = 1; k <= 3; k++) {
        mst_point at = {a->easting_m + k / 4.0 * (b->easting_m - a->easting_m),
                        a->northing_m + k / 4.0 * (b->northing_m - a->northing_m)};
        reading one;
        if (!read_square(r, at, e, n, &one) || (found && one.fall >= worst->fall)) continue;
        *worst = one;
        found = true;
    }
    return found;
}

/* Area of the ground that runs against a wall. */
static double area_against(const drainer *r, const mst_path_vertex *a, const mst_path_vertex *b) {
    size_t count, vertices;
    const uint32_t(*t)[3] = mst_ground_triangles(r->ground, &count);
    const mst_ground_point *v = mst_ground_vertices(r->ground, &vertices);
    double sum = 0, length = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    for (size_t i = 0; i < 3 * count; i++) {
        if (!(r->wall_m2[i] > 0)) continue;
        const mst_ground_point *p = &v[t[i / 3][(i + 1) % 3]], *q = &v[t[i / 3][(i + 2) % 3]];
        double along, off;
        mst_point middle = {p->easting_m + (q->easting_m - p->easting_m) / 2,
                            p->northing_m + (q->northing_m - p->northing_m) / 2};
        mst_chainage_offset((mst_point){a->easting_m, a->northing_m}, (mst_point){b->easting_m, b->northing_m}, middle,
                            &along, &off);
        if (fabs(off) < AT_WALL_M && along > 0 && along < length) sum += r->wall_m2[i];
    }
    return sum;
}

static mst_status edge_json(drainer *r, const mst_feature *f, size_t edge, const mst_path_vertex *a,
                            const mst_path_vertex *b, bool left, json_t *list) {
    reading worst;
    double variance;
    char sentence[600], verdict[300];
    if (!worst_beside(r, a, b, left, &worst)) {
        snprintf(sentence, sizeof sentence, "%.60s, edge %zu: nothing was measured beside it.", f->name, edge);
        json_array_append_new(list, json_pack("{s:s,s:I,s:n,s:s,s:s}", "feature", f->name, "edge", (json_int_t)edge,
                                              "fall_percent", "towards", "unknown", "sentence", sentence));
        return MST_OK;
    }
    mst_status status = mst_level_difference_variance(r->d->adjustment, &worst.near, &worst.far, &variance, r->error);
    if (status) return status;
    double fall = 100 * worst.fall, half = 100 * mst_half_interval(r->ground, variance, worst.between) / worst.run,
           against = area_against(r, a, b);
    const char *beside = is_hard(r, worst.at) ? HARD_BY_BUILDING.codes : BY_BUILDING.codes;
    least_fall least = least_for(r, beside);
    bool proven = !(fall - half <= 0 && fall + half >= 0) || half <= EXACT;
    const char *towards = !proven ? "not proven" : fall < 0 ? "building" : fall > 0 ? "away" : "level";
    if (fall < 0) least.percent = NAN; /* towards the wall is said plainly */
    judge(verdict, sizeof verdict, fall, half, &least, r->finished);
    snprintf(sentence, sizeof sentence, "%.60s, edge %zu: the ground falls %.2f %% %s over %.2f m: %s%s.", f->name,
             edge, fabs(fall), fall < 0 ? "TOWARDS the building" : "away from it", worst.run, verdict,
             against >= AGAINST_M2 ? "; water runs against it" : "");
    least = least_for(r, beside);
    json_array_append_new(list, json_pack("{s:s,s:I,s:f,s:[f,f],s:f,s:s,s:f,s:o,s:s}", "feature", f->name, "edge",
                                          (json_int_t)edge, "fall_percent", fall, "interval_percent", fall - half,
                                          fall + half, "run_m", worst.run, "towards", towards, "water_against_m2",
                                          against, "limit", limit_json(&least), "sentence", sentence));
    return MST_OK;
}

static mst_status buildings(drainer *r) {
    json_t *list = json_array();
    json_object_set_new(r->result, "buildings", list);
    for (size_t i = 0; i < r->d->site->feature_count; i++) {
        const mst_feature *f = &r->d->site->features[i];
        mst_shape shape;
        mst_error why = {0};
        if (!is_building(f)) continue;
        if (mst_feature_shape(f, r->d->adjustment, r->session->scratch, &shape, &why)) {
            warn(r, "The ground beside %.60s is not known: %.400s", f->name, why.sentence);
            continue;
        }
        const mst_path *p = &shape.paths[0];
        bool left = mst_path_area(p) < 0; /* clockwise: outside is on the left */
        for (size_t k = 0; k < p->count; k++) {
            if (p->vertices[k].bulge != 0) continue; /* a bay; its neighbours tell */
            mst_status status = edge_json(r, f, k + 1, &p->vertices[k], &p->vertices[(k + 1) % p->count], left, list);
            if (status) return status;
        }
    }
    return MST_OK;
}

/* ---- where it leaves ---- */

static mst_status outfalls(drainer *r) {
    mst_outfall *o;
    size_t count, triangles;
    mst_ground_triangles(r->ground, &triangles);
    r->wall_m2 = mst_arena_array(r->session->scratch, 3 * triangles + 1, sizeof *r->wall_m2);
    if (!r->wall_m2) return mst_fail(r->error, MST_NO_MEMORY, "Not enough memory.");
    mst_status status =
        mst_water_outfalls(r->water, OUTFALL_APART_M, r->session->scratch, &o, &count, r->wall_m2, r->error);
    if (status) return status;
    json_t *list = json_array();
    json_object_set_new(r->result, "outfalls", list);
    double all = 0;
    for (size_t i = 0; i < count; i++) all += o[i].catchment_m2;
    for (size_t i = 0; i < count && i < OUTFALLS_MOST && (i == 0 || o[i].catchment_m2 >= OUTFALL_SHARE * all); i++) {
        char sentence[200];
        snprintf(sentence, sizeof sentence,
                 "Over the edge at %.2f E, %.2f N, level %.3f: from %.1f m2, %.0f %% of the ground.", o[i].at.easting_m,
                 o[i].at.northing_m, o[i].elevation_m, o[i].catchment_m2, 100 * o[i].catchment_m2 / all);
        json_array_append_new(list, json_pack("{s:f,s:f,s:f,s:f,s:s}", "easting_m", o[i].at.easting_m, "northing_m",
                                              o[i].at.northing_m, "elevation_m", o[i].elevation_m, "catchment_m2",
                                              o[i].catchment_m2, "sentence", sentence));
    }
    return MST_OK;
}

static mst_status way_of(drainer *r, mst_point from) {
    mst_path path;
    mst_status status = mst_water_path(r->water, from, r->session->scratch, &path, r->error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < path.count; i++)
        json_array_append_new(list, json_pack("[f,f,f]", path.vertices[i].easting_m, path.vertices[i].northing_m,
                                              path.vertices[i].elevation_m));
    json_object_set_new(r->result, "path", list);
    return MST_OK;
}

/* ---- lines of the works ---- */

static const char *code_of_kind(mst_work_kind kind) {
    return kind == MST_WORK_TRENCH ? "drain" : mst_work_kind_name(kind);
}
static const least_fall PIPE = {"drain", 1,
                                "FAL25, 1:100 usual for a surface water drain, UK trade practice, from memory"};

static void line_falls_json(drainer *r, const mst_element *e, const mst_line_falls *f, json_t *list) {
    least_fall least = e->kind == MST_WORK_TRENCH ? PIPE : least_for(r, code_of_kind(e->kind));
    least_fall most = steepest_for(r, code_of_kind(e->kind));
    if (e->kind == MST_WORK_PATH && e->crossfall != 0) least.percent = NAN; /* it sheds its water sideways */
    if (e->kind == MST_WORK_PATH && e->crown != 0) least.percent = NAN;
    bool wet = e->kind == MST_WORK_SWALE || e->kind == MST_WORK_TRENCH, both = wet && f->up && f->down;
    char said[400] = "";
    size_t used = 0;
    if (both) used += (size_t)snprintf(said, sizeof said, "; it falls both ways, so water stands in it");
    if (!isnan(least.percent) && 100 * f->least < least.percent - EXACT)
        used +=
            (size_t)snprintf(said + used, sizeof said - used, "; %.2f %% stays below the usual least of %.2f %% (%s)",
                             100 * f->least, least.percent, least.source);
    if (!isnan(most.percent) && 100 * f->steepest > most.percent + EXACT)
        snprintf(said + used, sizeof said - used, "; %.2f %% is steeper than the usual most of %.2f %% (%s)",
                 100 * f->steepest, most.percent, most.source);
    char sentence[600];
    snprintf(sentence, sizeof sentence, "%.60s, a %s, falls %.2f to %.2f %% along%s.", e->name,
             mst_work_kind_name(e->kind), 100 * f->least, 100 * f->steepest, said);
    json_array_append_new(list, json_pack("{s:s,s:s,s:f,s:f,s:b,s:o,s:o,s:s}", "element", e->name, "kind",
                                          mst_work_kind_name(e->kind), "least_percent", 100 * f->least,
                                          "steepest_percent", 100 * f->steepest, "stands", both, "limit",
                                          limit_json(&least), "steepest", steepest_json(&most), "sentence", sentence));
}

static mst_status lines(drainer *r) {
    json_t *list = json_array();
    json_object_set_new(r->result, "lines", list);
    for (size_t i = 0; r->works && i < r->element_count; i++) {
        const mst_element *e = &r->elements[i];
        const mst_feature *f = e->where ? mst_site_feature(r->d->site, e->where) : NULL;
        mst_shape shape;
        mst_line_falls falls;
        if (!f || f->kind != MST_FEATURE_LINE) continue;
        mst_status status = mst_feature_shape(f, r->d->adjustment, r->session->scratch, &shape, r->error);
        if (status) return status;
        if (mst_line_falls_of(e, mst_shape_length(&shape), &falls)) line_falls_json(r, e, &falls, list);
    }
    return MST_OK;
}

static mst_status ways(drainer *r) {
    json_t *list;
    mst_status status = mst_ways_json(r->ground, r->water, WAYS_MOST, r->session->scratch, &list, r->error);
    if (!status) json_object_set_new(r->result, "ways", list);
    return status;
}

/* ---- the ground as designed ---- */

static mst_status finish(drainer *r) {
    mst_derived *d = r->d;
    mst_element *elements;
    mst_ground *finished;
    size_t count = 0;
    mst_status status = mst_elements_with(r->session, r->definition, &elements, &count, r->error);
    if (status || count == 0) return status;
    r->elements = elements, r->element_count = count;
    status =
        mst_works_compose(elements, count, d->site, d->adjustment, d->ground, r->session->scratch, &r->works, r->error);
    if (!status) status = mst_works_ground(r->works, MST_SURFACE_FINISHED, r->session->scratch, &finished, r->error);
    if (!status) r->ground = finished;
    return status;
}

MST_OPERATION(mst_op_drain) {
    static const char *const KNOWN[] = {"finished", "from", "rainfall", "runoff", "drawn", "definition", NULL};
    mst_rain rain = {NAN, 1};
    mst_point from;
    bool has_from;
    const json_t *definition = json_object_get(arguments, "definition");
    drainer r = {.session = session,
                 .d = &session->derived,
                 .finished = mst_arg_flag(arguments, "finished"),
                 .drawn = mst_arg_flag(arguments, "drawn"),
                 .definition = json_is_object(definition) ? definition : NULL,
                 .error = error};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_place(arguments, "from", &from, &has_from, error);
    if (!status) status = mst_rain_of(r.d->site, arguments, &rain, error);
    if (!status) status = mst_derive_ground(r.d, error);
    if (status) return status;
    r.ground = r.d->ground;
    r.warnings = json_array();
    r.result = json_pack("{s:s,s:o}", "surface", r.finished ? "Finished" : "Existing", "warnings", r.warnings);
    json_object_set_new(r.result, "rainfall_mm_h", mst_json_number(rain.mm_h));
    *result = r.result;
    warn(&r,
         "Water is taken to leave freely over the outer edge of the model and to run off the surface: drains, gullies "
         "and soakage are not in it%s%s.",
         "", "");
    warn(&r, "Falls by buildings and drains: local code and licensed practice come first%s%s.", "", "");
    if (!r.finished && mst_arg_given(arguments, "rainfall"))
        warn(&r,
             "Rain is held against the swales and pipes of the works: ask for the finished ground (--finished) with "
             "it%s%s.",
             "", "");
    if (r.finished) status = finish(&r);
    if (!status) status = mst_water_build(r.ground, session->scratch, &r.water, error);
    if (!status) status = low_spots(&r);
    if (!status) status = falls(&r);
    if (!status) status = outfalls(&r);
    if (!status) status = buildings(&r);
    if (!status) status = lines(&r);
    const mst_flow_ground on = {r.works, r.elements, r.element_count, r.ground, r.water};
    if (!status && r.works) status = mst_flows_json(session, &on, &rain, r.result, error);
    if (!status && has_from) status = way_of(&r, from);
    if (!status && r.drawn) status = ways(&r);
    return status;
}
