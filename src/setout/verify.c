/* Built against design: three verdicts. A measurement proves conformance only when the probability that the true place
 * or level lies within the tolerance reaches the confidence; in one dimension and far from the other limit this is the
 * guard band of 1.645 sd (JCGM 106:2012 clause 8), and in plan the circle's own probability, which is a little
 * stricter. */
#include "merestone/setout.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double PLAN_M = 0.025, HEIGHT_M = 0.010; /* hard features; common practice, no source */
static const double CONFIDENCE = 0.95, SEARCH_M = 1.0;
static const double FAR_SD = 9; /* beyond 9 sd the normal density is below 1e-18 */
enum { STEPS = 512 };           /* Simpson's rule; even. Error below 1e-9 for any ratio of radius and sd */

const char *mst_verdict_name(mst_verdict verdict) {
    return verdict == MST_PASS ? "pass" : verdict == MST_FAIL ? "fail" : "cannot tell";
}

static double normal_below(double z) { return erfc(-z / sqrt(2)) / 2; }

double mst_conformance(double deviation, double tolerance, double sd) {
    if (sd <= 0) return fabs(deviation) <= tolerance ? 1 : 0;
    return normal_below((tolerance - deviation) / sd) - normal_below((-tolerance - deviation) / sd);
}

/* Density of the coordinate along the deviation, times the probability that the one across it is still inside the
 * circle. With x = tolerance sin(a) the integrand has no edge at the circle's rim. */
static double plan_density(double a, double distance, double tolerance, double sd) {
    double x = tolerance * sin(a), half = tolerance * cos(a), z = (x - distance) / sd;
    return exp(-z * z / 2) / (sd * sqrt(2 * MST_PI)) * erf(half / (sd * sqrt(2))) * half;
}

double mst_conformance_plan(double distance, double tolerance, double sd) {
    if (sd <= 0 || tolerance <= 0) return distance <= tolerance ? 1 : 0;
    double low = fmax(-tolerance, distance - FAR_SD * sd), high = fmin(tolerance, distance + FAR_SD * sd);
    if (low >= high) return 0;
    double from = asin(low / tolerance), step = (asin(high / tolerance) - from) / STEPS, sum = 0;
    for (int i = 0; i <= STEPS; i++)
        sum += plan_density(from + i * step, distance, tolerance, sd) * (i == 0 || i == STEPS ? 1 : i % 2 ? 4 : 2);
    return fmin(1, sum * step / 3);
}

static mst_verdict decide(double conformance, double confidence) {
    if (conformance >= confidence) return MST_PASS;
    return conformance <= 1 - confidence ? MST_FAIL : MST_CANNOT_TELL; /* NaN, an unknown sd, is neither */
}

/* ---- which stake ---- */

static const mst_setout_line *nearest(const mst_built *b, const mst_setout_line stakes[], size_t count, double search) {
    const mst_setout_line *best = NULL;
    double least = search;
    for (size_t i = 0; i < count; i++) {
        double d = hypot(b->easting_m - stakes[i].easting_m, b->northing_m - stakes[i].northing_m);
        if (d > least || (best && d == least)) continue;
        least = d;
        best = &stakes[i];
    }
    return best;
}

/* ---- sentences ---- */

/* One decimal of a millimetre where it decides, none where it is noise. */
static const char *millimetres(double metres, mst_arena *arena) {
    double mm = fabs(metres) * 1000;
    return mst_arena_printf(arena, fabs(mm - round(mm)) < 0.05 || mm >= 100 ? "%.0f" : "%.1f", mm);
}

static const char *measured_words(double sd, mst_arena *arena) {
    if (isnan(sd)) return "measured with unknown error";
    const char *mm = millimetres(sd, arena);
    return mm ? mst_arena_printf(arena, "measured to %s mm", mm) : NULL;
}

static const char *part_words(const char *what, double off, const char *way, double tolerance, double sd,
                              mst_verdict verdict, mst_arena *arena) {
    const char *measured = measured_words(sd, arena), *mm = millimetres(off, arena),
               *limit = millimetres(tolerance, arena);
    if (!measured || !mm || !limit) return NULL;
    return mst_arena_printf(arena, "%s %s mm %s, tolerance %s mm, %s: %s", what, mm, way, limit, measured,
                            mst_verdict_name(verdict));
}

static const char *compass(double de, double dn) {
    static const char *const WINDS[] = {"north", "north-east", "east", "south-east",
                                        "south", "south-west", "west", "north-west"};
    double turn = mst_angle_turn(atan2(de, dn)) / (MST_PI / 4);
    return WINDS[(int)floor(turn + 0.5) % 8];
}

static const char *advice(mst_verdict plan, mst_verdict height, bool judged) {
    if (judged && height == MST_CANNOT_TELL && plan != MST_FAIL) return "; measure again with a level";
    if (plan == MST_CANNOT_TELL && (!judged || height != MST_FAIL))
        return "; measure again with finer gear or twice more";
    return "";
}

static const char *sentence(const mst_check *c, mst_verdict plan, mst_verdict height, mst_arena *arena) {
    char way[64];
    snprintf(way, sizeof way, "off to the %s", compass(c->de_m, c->dn_m));
    const char *p =
        part_words("plan", c->distance_m, c->distance_m > 0 ? way : "off", c->tolerance_m, c->sd_m, plan, arena);
    const char *h = c->height_judged ? part_words("level", c->dz_m, c->dz_m >= 0 ? "high" : "low",
                                                  c->height_tolerance_m, c->height_sd_m, height, arena)
                                     : "level not checked, it is missing on one side";
    if (!p || !h) return NULL;
    return mst_arena_printf(arena, "%s; %s%s", p, h, advice(plan, height, c->height_judged));
}

/* ---- one check ---- */

static mst_status without_stake(const mst_built *b, double search, mst_arena *arena, mst_check *c, mst_error *error) {
    *c = (mst_check){.point = b->point,
                     .stake = "",
                     .de_m = NAN,
                     .dn_m = NAN,
                     .dz_m = NAN,
                     .distance_m = NAN,
                     .tolerance_m = NAN,
                     .sd_m = b->sd_plan_m,
                     .verdict = MST_CANNOT_TELL,
                     .height_tolerance_m = NAN,
                     .height_sd_m = b->sd_height_m,
                     .plan_conformance = NAN,
                     .height_conformance = NAN};
    c->sentence = mst_arena_printf(arena, "no stake has this name and none lies within %.2f m: cannot tell", search);
    return c->sentence ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Out of memory.");
}

static mst_status check_one(const mst_built *b, const mst_setout_line *s, const mst_verify_options *o, mst_arena *arena,
                            mst_check *c, mst_error *error) {
    *c = (mst_check){.point = b->point,
                     .stake = s->stake,
                     .de_m = b->easting_m - s->easting_m,
                     .dn_m = b->northing_m - s->northing_m,
                     .dz_m = b->elevation_m - s->elevation_m,
                     .tolerance_m = o->plan_m,
                     .sd_m = b->sd_plan_m,
                     .height_tolerance_m = o->height_m,
                     .height_sd_m = b->sd_height_m,
                     .height_conformance = NAN};
    c->distance_m = hypot(c->de_m, c->dn_m);
    c->height_judged = isfinite(c->dz_m);
    c->plan_conformance = isnan(b->sd_plan_m) ? NAN : mst_conformance_plan(c->distance_m, o->plan_m, b->sd_plan_m);
    mst_verdict plan = decide(c->plan_conformance, o->confidence), height = MST_PASS;
    if (c->height_judged) {
        c->height_conformance = isnan(b->sd_height_m) ? NAN : mst_conformance(c->dz_m, o->height_m, b->sd_height_m);
        height = decide(c->height_conformance, o->confidence);
    }
    c->verdict = plan == MST_FAIL || height == MST_FAIL   ? MST_FAIL
                 : plan == MST_PASS && height == MST_PASS ? MST_PASS
                                                          : MST_CANNOT_TELL;
    c->sentence = sentence(c, plan, height, arena);
    return c->sentence ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Out of memory.");
}

static mst_status settle(const mst_verify_options *given, mst_verify_options *o, mst_error *error) {
    *o = given ? *given : (mst_verify_options){0};
    if (o->plan_m == 0) o->plan_m = PLAN_M;
    if (o->height_m == 0) o->height_m = HEIGHT_M;
    if (o->confidence == 0) o->confidence = CONFIDENCE;
    if (o->search_m == 0) o->search_m = SEARCH_M;
    if (!(o->plan_m > 0) || !(o->height_m > 0) || !(o->search_m > 0) ||
        !isfinite(o->plan_m + o->height_m + o->search_m))
        return mst_fail(error, MST_INVALID, "A tolerance and the search distance must be more than 0.");
    if (!(o->confidence > 0.5 && o->confidence < 1))
        return mst_fail(error, MST_INVALID, "The confidence must lie between 0.5 and 1, as 0.95.");
    return MST_OK;
}

static mst_status check_built(const mst_built *b, mst_error *error) {
    if (!isfinite(b->easting_m) || !isfinite(b->northing_m))
        return mst_fail_at(error, MST_INVALID, NULL, b->row, 0, "Built point %s has no place.", b->point);
    if (b->sd_plan_m < 0 || b->sd_height_m < 0)
        return mst_fail_at(error, MST_INVALID, NULL, b->row, 0, "The sd of built point %s is negative.", b->point);
    return MST_OK;
}

mst_status mst_verify(const mst_built built[], size_t built_count, const mst_setout_line stakes[], size_t stake_count,
                      const mst_verify_options *options, mst_arena *arena, mst_check **checks, size_t *count,
                      mst_error *error) {
    mst_verify_options o;
    mst_status status = settle(options, &o, error);
    if (status) return status;
    if (built_count == 0) return mst_fail(error, MST_TOO_FEW, "Nothing was built yet: the page has no point.");
    if (stake_count == 0)
        return mst_fail(error, MST_TOO_FEW, "There are no stakes to check against; import a stakes page first.");
    mst_index names = {0};
    mst_check *out = mst_arena_array(arena, built_count, sizeof *out);
    bool room = out != NULL;
    for (size_t i = stake_count; room && i-- > 0;) room = mst_index_put(&names, arena, stakes[i].stake, (uint32_t)i);
    if (!room) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < built_count && !status; i++) {
        if ((status = check_built(&built[i], error))) break;
        uint32_t at = mst_index_get(&names, built[i].point);
        const mst_setout_line *s = at != UINT32_MAX ? &stakes[at] : nearest(&built[i], stakes, stake_count, o.search_m);
        status = s ? check_one(&built[i], s, &o, arena, &out[i], error)
                   : without_stake(&built[i], o.search_m, arena, &out[i], error);
    }
    if (status) return status;
    *checks = out;
    *count = built_count;
    return MST_OK;
}
