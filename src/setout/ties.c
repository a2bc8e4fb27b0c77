/* Ties: a stake lies where two tapes cross. Of the points within reach, the pair is taken whose crossing is least in
 * error, and a third whose tape would come out wrong if either of the two were. */
#include "setout/ties.h"
#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* common practice, no source: arcs should cut at 60 to 120 degrees and must cut at 30 to 150 */
static const double CUT_MUST = 0.5, CUT_AIM = 0.86602540378443865; /* sines of 30 and 60 degrees */
static const double CUT_COST_M = 0.005;                            /* how much a cut outside the aim is disliked */
static const double RANK_COST_M = 0.004;  /* an unmarked point is disliked as much as 4 mm of error */
static const double LENGTH_COST = 0.0001; /* a tape 10 m longer, as much as 1 mm */
static const double NEAREST_M = 0.5;      /* nearer points are lost with the first spade */
static const double CHECK_CUT =
    0.34202014332566873; /* sine of 20 degrees: a check along a tie's own line shows nothing of the other */
enum { CANDIDATES = 48 };

/* ---- which points can be found again ---- */

static void mark_sources(const mst_adjustment *a, bool stood_at[]) {
    for (size_t i = 0; i < a->observation_count; i++) {
        const char *from = a->observations[i].from;
        uint32_t p = from && *from ? mst_index_get(&a->index, from) : UINT32_MAX;
        if (p < a->point_count) stood_at[p] = true;
    }
}

typedef struct ranked {
    double cost;
    uint32_t point;
} ranked;

static int by_cost(const void *left, const void *right) {
    const ranked *a = left, *b = right;
    if (a->cost != b->cost) return a->cost < b->cost ? -1 : 1;
    return a->point < b->point ? -1 : a->point > b->point;
}

mst_status mst_marks_of(const mst_adjustment *adjustment, mst_arena *arena, mst_marks *marks, mst_error *error) {
    size_t n = adjustment->point_count, count = 0;
    bool *stood_at = mst_arena_array(arena, n, sizeof *stood_at);
    ranked *list = mst_arena_array(arena, n, sizeof *list);
    uint32_t *points = mst_arena_array(arena, n, sizeof *points);
    double *cost = mst_arena_array(arena, n, sizeof *cost);
    if (!stood_at || !list || !points || !cost) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    mark_sources(adjustment, stood_at);
    for (size_t i = 0; i < n; i++) {
        const mst_adjusted_point *p = &adjustment->points[i];
        if (!p->has_plan) continue;
        double sd = p->held_plan || !isfinite(p->semi_major_m) ? 0 : p->semi_major_m;
        int rank = p->held_plan ? 0 : stood_at[i] ? 1 : p->readings > 2 ? 2 : 3;
        list[count++] = (ranked){sd + RANK_COST_M * rank, (uint32_t)i};
    }
    if (count) qsort(list, count, sizeof *list, by_cost);
    for (size_t i = 0; i < count; i++) {
        points[i] = list[i].point;
        cost[i] = list[i].cost;
    }
    *marks = (mst_marks){adjustment, points, cost, count};
    return MST_OK;
}

/* ---- error of a place from two tapes ---- */

typedef struct candidate {
    const mst_adjusted_point *point;
    uint32_t index;
    double e, n, distance, cost;
} candidate; /* e, n: unit vector to the stake */

/* The stake P keeps |P - A| and |P - B|. With the unit vectors u (A to P) and v (B to P), an error x of A moves P by M
 * (u.x, 0) and a tape's own error by M (d, 0), where M is the inverse of the matrix with rows u and v. */
typedef struct crossing {
    double m[2][2];
} crossing;

static bool crossing_of(const candidate *a, const candidate *b, crossing *c) {
    double det = a->e * b->n - a->n * b->e;
    if (fabs(det) < CUT_MUST) return false;
    *c = (crossing){{{b->n / det, -a->n / det}, {-b->e / det, a->e / det}}};
    return true;
}

static double variance_along(const candidate *c) {
    const mst_adjusted_point *p = c->point;
    if (p->held_plan || !isfinite(p->sd_easting_m)) return 0;
    double en = isfinite(p->cov_en_m2) ? p->cov_en_m2 : 0;
    return c->e * c->e * p->sd_easting_m * p->sd_easting_m + 2 * c->e * c->n * en +
           c->n * c->n * p->sd_northing_m * p->sd_northing_m;
}

static double larger_half_axis(double ee, double en, double nn) {
    double middle = (ee + nn) / 2, reach = hypot((ee - nn) / 2, en);
    return sqrt(fmax(0, middle + reach));
}

static double crossing_sd(const crossing *c, const candidate *a, const candidate *b, double tape_sd) {
    double va = variance_along(a) + tape_sd * tape_sd, vb = variance_along(b) + tape_sd * tape_sd;
    double ee = c->m[0][0] * c->m[0][0] * va + c->m[0][1] * c->m[0][1] * vb;
    double nn = c->m[1][0] * c->m[1][0] * va + c->m[1][1] * c->m[1][1] * vb;
    double en = c->m[0][0] * c->m[1][0] * va + c->m[0][1] * c->m[1][1] * vb;
    return larger_half_axis(ee, en, nn);
}

/* With the adjustment's covariances at hand, the two points' common error is counted once: three solves for the chosen
 * pair. */
static mst_status full_sd(const mst_adjustment *adjustment, const crossing *c, const candidate *a, const candidate *b,
                          double tape_sd, double *sd, mst_error *error) {
    double v[3]; /* of easting, northing and their sum */
    for (int k = 0; k < 3; k++) {
        double wa = k < 2 ? c->m[k][0] : c->m[0][0] + c->m[1][0], wb = k < 2 ? c->m[k][1] : c->m[0][1] + c->m[1][1];
        mst_gradient_term terms[2] = {{a->index, wa * a->e, wa * a->n, 0}, {b->index, wb * b->e, wb * b->n, 0}};
        mst_status status = mst_adjustment_variance(adjustment, terms, 2, &v[k], error);
        if (status) return status;
        v[k] += (wa * wa + wb * wb) * tape_sd * tape_sd;
    }
    *sd = larger_half_axis(v[0], (v[2] - v[0] - v[1]) / 2, v[1]);
    return MST_OK;
}

/* ---- the choice ---- */

static size_t within_reach(const mst_marks *marks, const mst_setout_line *line, double reach,
                           candidate out[CANDIDATES]) {
    size_t count = 0;
    for (size_t i = 0; i < marks->count && count < CANDIDATES; i++) {
        const mst_adjusted_point *p = &marks->adjustment->points[marks->points[i]];
        double de = line->easting_m - p->easting_m, dn = line->northing_m - p->northing_m, d = hypot(de, dn);
        if (d < NEAREST_M || d > reach || strcmp(p->name, line->stake) == 0) continue;
        out[count++] = (candidate){p, marks->points[i], de / d, dn / d, d, marks->cost_m[i]};
    }
    return count;
}

static bool best_pair(const candidate list[], size_t count, double tape_sd, size_t *first, size_t *second,
                      crossing *best) {
    double least = DBL_MAX;
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            crossing c;
            if (!crossing_of(&list[i], &list[j], &c)) continue;
            double cut = fabs(list[i].e * list[j].n - list[i].n * list[j].e);
            double cost = crossing_sd(&c, &list[i], &list[j], tape_sd) + list[i].cost + list[j].cost +
                          LENGTH_COST * (list[i].distance + list[j].distance) + (cut < CUT_AIM ? CUT_COST_M : 0);
            if (cost >= least) continue;
            least = cost;
            *first = i;
            *second = j;
            *best = c;
        }
    return least < DBL_MAX;
}

static double cut_between(const candidate *a, const candidate *b) { return fabs(a->e * b->n - a->n * b->e); }

static double check_cut(const candidate *check, const candidate *a, const candidate *b) {
    return fmin(cut_between(check, a), cut_between(check, b));
}

/* A slip in one tie moves the stake along the other's arc; a check along the other's own line does not notice. A check
 * that notices both costs nothing extra, one that notices only one of them is taken when there is no better. */
static size_t best_check(const candidate list[], size_t count, size_t first, size_t second) {
    size_t best = count;
    double least = DBL_MAX;
    for (size_t i = 0; i < count; i++) {
        if (i == first || i == second) continue;
        double cut = check_cut(&list[i], &list[first], &list[second]);
        double cost =
            list[i].cost + LENGTH_COST * list[i].distance + CUT_COST_M * (1 - cut) + (cut < CHECK_CUT ? 1 : 0);
        if (cost < least) {
            least = cost;
            best = i;
        }
    }
    return best;
}

static const char *check_words(const candidate *check, const candidate *a, const candidate *b, mst_arena *arena) {
    if (!check) return "No third point gives a check; measure to a neighbouring stake as well.";
    if (check_cut(check, a, b) >= CHECK_CUT) return "";
    const candidate *noticed = cut_between(check, a) < cut_between(check, b) ? a : b;
    return mst_arena_printf(
        arena, "The tie from %s would show a slip of %s's tape only; measure to a neighbouring stake as well.",
        check->point->name, noticed->point->name);
}

static const char *side_words(const candidate *a, const candidate *b, mst_arena *arena) {
    double be = b->point->easting_m - a->point->easting_m, bn = b->point->northing_m - a->point->northing_m;
    bool left = be * a->n - bn * a->e > 0;
    return mst_arena_printf(arena, "%s of %s looking to %s", left ? "left" : "right", a->point->name, b->point->name);
}

static mst_status write_ties(const mst_marks *marks, const candidate list[], const size_t chosen[3], size_t count,
                             const crossing *c, double tape_sd, mst_arena *arena, mst_setout_line *line,
                             mst_error *error) {
    const candidate *a = &list[chosen[0]], *b = &list[chosen[1]];
    mst_tie *ties = mst_arena_array(arena, count, sizeof *ties);
    line->side = side_words(a, b, arena);
    line->caution = check_words(count > 2 ? &list[chosen[2]] : NULL, a, b, arena);
    if (!ties || !line->side || !line->caution) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < count; i++) ties[i] = (mst_tie){list[chosen[i]].point->name, list[chosen[i]].distance};
    line->ties = ties;
    line->tie_count = count;
    line->sd_m = crossing_sd(c, a, b, tape_sd);
    if (!marks->adjustment->covariances) return MST_OK;
    return full_sd(marks->adjustment, c, a, b, tape_sd, &line->sd_m, error);
}

mst_status mst_ties_choose(const mst_marks *marks, const mst_tie_options *options, mst_arena *arena,
                           mst_setout_line *line, mst_error *error) {
    candidate list[CANDIDATES];
    size_t count = within_reach(marks, line, options->reach_m, list), chosen[3];
    crossing c;
    line->sd_m = NAN;
    line->side = "";
    line->caution =
        "No two known points within the tape's reach cut well here; set out by angle and distance, and check.";
    if (!best_pair(list, count, options->sd_m, &chosen[0], &chosen[1], &c)) return MST_OK;
    chosen[2] = best_check(list, count, chosen[0], chosen[1]);
    return write_ties(marks, list, chosen, chosen[2] < count ? 3 : 2, &c, options->sd_m, arena, line, error);
}
