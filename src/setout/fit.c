/* How the design's frame lies on the site. Names that are both stakes and site points carry the design over: two or
 * more by least squares with the scale held, or one as the place and another as the direction. The misfit is always
 * said, and a misfit that is more than the points' own error is refused, because every stake would inherit it. */
#include "merestone/setout.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double MISFIT_M =
    0.025; /* largest residual let through: a tie residual of 15 to 30 mm is common practice, no source */
static const double MISFIT_SD = 3; /* or this many sd of the point, if that is more */
static const double LEVELS_AGREE_M =
    0.02; /* levels of common points that differ by more are said: staff work is within 10 mm */

typedef struct common {
    const char **names;
    mst_point *design, *site, *residuals;
    double *rise; /* site level less design level; NaN without both */
    double worst_sd_m;
    size_t count;
} common;

static mst_point stake_place(const mst_stake *s) { return (mst_point){s->easting_m, s->northing_m}; }

static mst_status check_stakes(const mst_stake stakes[], size_t count, mst_arena *arena, mst_index *index,
                               mst_error *error) {
    for (size_t i = 0; i < count; i++) {
        const mst_stake *s = &stakes[i];
        if (!isfinite(s->easting_m) || !isfinite(s->northing_m))
            return mst_fail_at(error, MST_INVALID, NULL, s->row, 0,
                               "Stake %s has no place; give its easting and northing.", s->name);
        if (mst_index_get(index, s->name) != UINT32_MAX)
            return mst_fail_at(error, MST_INVALID, NULL, s->row, 0,
                               "Stake %s comes twice; give each stake its own name.", s->name);
        if (!mst_index_put(index, arena, s->name, (uint32_t)i)) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    }
    return MST_OK;
}

static const mst_adjusted_point *site_point(const mst_adjustment *adjustment, const char *name) {
    const mst_adjusted_point *p = mst_adjustment_point(adjustment, name);
    return p && p->has_plan ? p : NULL;
}

static bool common_room(common *c, size_t count, mst_arena *arena) {
    c->names = mst_arena_array(arena, count, sizeof *c->names);
    c->design = mst_arena_array(arena, count, sizeof *c->design);
    c->site = mst_arena_array(arena, count, sizeof *c->site);
    c->residuals = mst_arena_array(arena, count, sizeof *c->residuals);
    c->rise = mst_arena_array(arena, count, sizeof *c->rise);
    return c->names && c->design && c->site && c->residuals && c->rise;
}

static void common_add(common *c, const mst_stake *s, const mst_adjusted_point *p) {
    c->names[c->count] = s->name;
    c->design[c->count] = stake_place(s);
    c->site[c->count] = (mst_point){p->easting_m, p->northing_m};
    c->rise[c->count] = p->has_height ? p->elevation_m - s->elevation_m : NAN;
    if (p->semi_major_m > c->worst_sd_m) c->worst_sd_m = p->semi_major_m;
    c->count++;
}

/* ---- sentences ---- */

static double pair_misfit(const common *c, size_t a, size_t b, double scale, double *on_site, double *in_design) {
    *on_site = mst_distance(c->site[a], c->site[b]);
    *in_design = mst_distance(c->design[a], c->design[b]);
    return fabs(*on_site - scale * *in_design);
}

/* The pair whose length differs most says best what is wrong; among many points only pairs with the worst one are
 * tried. */
static size_t worst_residual(const common *c) {
    size_t worst = 0;
    for (size_t i = 1; i < c->count; i++)
        if (hypot(c->residuals[i].easting_m, c->residuals[i].northing_m) >
            hypot(c->residuals[worst].easting_m, c->residuals[worst].northing_m))
            worst = i;
    return worst;
}

static const char *pair_words(const common *c, double scale, mst_arena *arena) {
    size_t a = worst_residual(c), b = a == 0 ? 1 : 0;
    double site, design, most = -1;
    for (size_t i = 0; i < c->count; i++) {
        if (i == a) continue;
        double misfit = pair_misfit(c, a, i, scale, &site, &design);
        if (misfit > most) {
            most = misfit;
            b = i;
        }
    }
    if (b < a) {
        size_t t = a;
        a = b;
        b = t;
    }
    double misfit = pair_misfit(c, a, b, 1, &site, &design);
    return mst_arena_printf(arena, "%s%s and %s are %.3f m apart on site, %.3f m in the design: %.0f mm",
                            c->count == 2 ? "the two common points " : "", c->names[a], c->names[b], site, design,
                            misfit * 1000);
}

static const char *fit_words(const common *c, const mst_similarity *t, bool with_scale, mst_arena *arena) {
    const char *pair = pair_words(c, 1, arena);
    if (!pair) return NULL;
    size_t w = worst_residual(c);
    double worst = hypot(c->residuals[w].easting_m, c->residuals[w].northing_m);
    char scale[64] = "";
    if (with_scale) snprintf(scale, sizeof scale, " with the scale stretched to %.6f", t->scale);
    if (c->count == 2) return mst_arena_printf(arena, "By %s%s.", pair, scale);
    return mst_arena_printf(arena, "The design lies on %zu common points%s, %.0f mm off at worst (%s); %s.", c->count,
                            scale, worst * 1000, c->names[w], pair);
}

/* A short tie carries far: the misfit at the farthest stake grows with distance over the tie's length. */
static const char *reach_words(const common *c, const mst_stake stakes[], size_t count, mst_arena *arena) {
    double tie = 0, reach = 0;
    mst_point middle = {0, 0};
    for (size_t i = 0; i < c->count; i++) {
        tie = fmax(tie, mst_distance(c->design[0], c->design[i]));
        middle.easting_m += c->design[i].easting_m / (double)c->count;
        middle.northing_m += c->design[i].northing_m / (double)c->count;
    }
    for (size_t i = 0; i < count; i++) reach = fmax(reach, mst_distance(middle, stake_place(&stakes[i])));
    if (reach <= tie) return "";
    return mst_arena_printf(arena,
                            " The common points are only %.1f m apart but the work reaches %.1f m from them: a small "
                            "misfit grows %.1f times there, so check a far stake before you dig.",
                            tie, reach, reach / tie);
}

static const char *level_words(double shift, size_t levels, double spread, mst_arena *arena) {
    if (levels == 0) return " No common point has a level in both, so levels are taken as the design gives them.";
    const char *check = levels > 1 && spread > LEVELS_AGREE_M ? "; check which mark each counts from" : "";
    if (levels == 1)
        return mst_arena_printf(arena, " Levels are shifted by %+.3f m at one common point, without a check.", shift);
    return mst_arena_printf(arena, " Levels are shifted by %+.3f m, by %zu common points that agree to %.0f mm%s.",
                            shift, levels, spread * 1000, check);
}

/* ---- fits ---- */

static double mean_rise(const common *c, size_t *levels, double *spread) {
    double sum = 0, low = INFINITY, high = -INFINITY;
    *levels = 0;
    for (size_t i = 0; i < c->count; i++) {
        if (isnan(c->rise[i])) continue;
        sum += c->rise[i];
        low = fmin(low, c->rise[i]);
        high = fmax(high, c->rise[i]);
        (*levels)++;
    }
    *spread = *levels ? high - low : 0;
    return *levels ? sum / (double)*levels : 0;
}

static mst_status refuse_misfit(const common *c, double misfit_m, mst_arena *arena, mst_error *error) {
    size_t w = worst_residual(c);
    double worst = hypot(c->residuals[w].easting_m, c->residuals[w].northing_m);
    double limit = fmax(misfit_m > 0 ? misfit_m : MISFIT_M, MISFIT_SD * c->worst_sd_m);
    if (worst <= limit) return MST_OK;
    const char *pair = pair_words(c, 1, arena);
    return mst_fail(error, MST_NO,
                    "The design does not fit: %s; at %s it is %.0f mm off, more than %.0f mm. Check the names and the "
                    "lengths, or allow it: --misfit.",
                    pair ? pair : "", c->names[w], worst * 1000, limit * 1000);
}

static mst_status finish(const common *c, const mst_similarity *t, const mst_stake stakes[], size_t count,
                         bool with_scale, mst_arena *arena, mst_stake_fit *fit, mst_error *error) {
    size_t levels;
    double spread, shift = mean_rise(c, &levels, &spread);
    const char *how = fit_words(c, t, with_scale, arena), *reach = reach_words(c, stakes, count, arena);
    const char *level = level_words(shift, levels, spread, arena);
    const char *all = how && reach && level ? mst_arena_printf(arena, "%s%s%s", how, reach, level) : NULL;
    if (!all) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    *fit = (mst_stake_fit){*t, shift, c->names, c->residuals, c->count, all};
    return MST_OK;
}

static mst_status by_names(common *c, const mst_stake stakes[], size_t count, const mst_fit_options *o,
                           mst_arena *arena, mst_stake_fit *fit, mst_error *error) {
    if (c->count == 0)
        return mst_fail(
            error, MST_TOO_FEW,
            "No stake has the name of a site point; give two stakes the names of points they are the same as, or "
            "say that the stakes are in the site's frame.");
    if (c->count == 1)
        return mst_fail(
            error, MST_TOO_FEW,
            "Only stake %s has the name of a site point; a second one is needed to turn the design, or say that "
            "the stakes are in the site's frame.",
            c->names[0]);
    mst_similarity t;
    mst_status status = mst_similarity_fit(c->design, c->site, c->count, o->with_scale, &t, c->residuals, error);
    if (status) return status;
    status = finish(c, &t, stakes, count, o->with_scale, arena, fit, error);
    return status ? status : refuse_misfit(c, o->misfit_m, arena, error);
}

/* The place by the first point, the turn by the second; what is left over lies all in the second. */
static mst_status by_direction(common *c, const mst_stake stakes[], size_t count, const mst_fit_options *o,
                               mst_arena *arena, mst_stake_fit *fit, mst_error *error) {
    if (mst_distance(c->design[0], c->design[1]) == 0 || mst_distance(c->site[0], c->site[1]) == 0)
        return mst_fail(error, MST_UNDETERMINED, "%s and %s lie at one place, so they give no direction; name another.",
                        c->names[0], c->names[1]);
    double turn = mst_angle_signed(mst_bearing(c->site[0], c->site[1]) - mst_bearing(c->design[0], c->design[1]));
    double scale = o->with_scale ? mst_distance(c->site[0], c->site[1]) / mst_distance(c->design[0], c->design[1]) : 1;
    mst_similarity t = {0, 0, turn, scale, 0};
    mst_point turned = mst_similarity_apply(&t, c->design[0]);
    t.e0_m = c->site[0].easting_m - turned.easting_m;
    t.n0_m = c->site[0].northing_m - turned.northing_m;
    mst_point end = mst_similarity_apply(&t, c->design[1]);
    c->residuals[0] = (mst_point){0, 0};
    c->residuals[1] = (mst_point){c->site[1].easting_m - end.easting_m, c->site[1].northing_m - end.northing_m};
    t.rms_m = hypot(c->residuals[1].easting_m, c->residuals[1].northing_m) / sqrt(2);
    mst_fit_options twice = *o; /* the whole misfit lies in one point, where a fit would halve it */
    twice.misfit_m = 2 * (o->misfit_m > 0 ? o->misfit_m : MISFIT_M);
    mst_status status = finish(c, &t, stakes, count, o->with_scale, arena, fit, error);
    return status ? status : refuse_misfit(c, twice.misfit_m, arena, error);
}

static mst_status take_named(common *c, const char *name, const mst_stake stakes[], const mst_index *index,
                             const mst_adjustment *adjustment, mst_error *error) {
    uint32_t i = mst_index_get(index, name);
    const mst_adjusted_point *p = site_point(adjustment, name);
    if (i == UINT32_MAX) return mst_fail(error, MST_NOT_FOUND, "There is no stake %s in the design.", name);
    if (!p) return mst_fail(error, MST_NOT_FOUND, "Stake %s is not a site point with a place; measure it first.", name);
    common_add(c, &stakes[i], p);
    return MST_OK;
}

static mst_status as_it_is(mst_stake_fit *fit) {
    *fit = (mst_stake_fit){{0, 0, 0, 1, 0}, 0, NULL, NULL, 0, "The stakes are in the site's frame already."};
    return MST_OK;
}

mst_status mst_stakes_fit(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment,
                          const mst_fit_options *options, mst_arena *arena, mst_stake_fit *fit, mst_error *error) {
    static const mst_fit_options BY_NAMES = {0};
    const mst_fit_options *o = options ? options : &BY_NAMES;
    if (count == 0) return mst_fail(error, MST_TOO_FEW, "There are no stakes; import a stakes page first.");
    mst_index index = {0};
    mst_status status = check_stakes(stakes, count, arena, &index, error);
    if (status) return status;
    if (o->site_frame) return as_it_is(fit);
    common c = {0};
    if (!common_room(&c, count < 2 ? 2 : count, arena)) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    if (o->origin || o->direction) {
        if (!o->origin || !o->direction)
            return mst_fail(error, MST_TOO_FEW,
                            "Name both a common point and the point that gives the direction from it.");
        if ((status = take_named(&c, o->origin, stakes, &index, adjustment, error))) return status;
        if ((status = take_named(&c, o->direction, stakes, &index, adjustment, error))) return status;
        return by_direction(&c, stakes, count, o, arena, fit, error);
    }
    for (size_t i = 0; i < count; i++) {
        const mst_adjusted_point *p = site_point(adjustment, stakes[i].name);
        if (p) common_add(&c, &stakes[i], p);
    }
    return by_names(&c, stakes, count, o, arena, fit, error);
}
