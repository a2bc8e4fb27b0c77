/* Simplified estimation of variance components (W. Foerstner, Ein Verfahren zur Schaetzung von Varianz- und
 * Kovarianzkomponenten, AVN 86 (1979) 446-453, from memory): the factor of a group is the root of its weighted squares
 * over its own redundancy, with the weights so changed until it stays. */
#include "survey/gear_factors.h"
#include "survey/words.h"
#include "numeric/statistics.h"
#include <math.h>
#include <string.h>

enum { GROUPS_MAX = 64, STEPS_MAX = 12, STEP_READINGS = 5000 };
static const double LEAST_FACTOR = 0.2;   /* the floor: below it the estimate feeds on itself */
static const double LEAST_REDUNDANCY = 3; /* a group with less says nothing of its scatter */
static const double SETTLED = 1e-3;       /* relative change of a factor that ends the steps */
static const double CHANCE = 0.01;        /* groups within these bounds are taken as they are after one step */
static const double SIGNIFICANCE = 0.001, WORTH_SAYING = 1.25; /* both must hold for a sentence */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the gear's factors.");
}

static const char *kind_of(mst_reading_kind kind) {
    switch (kind) {
    case MST_READ_DISTANCE:
    case MST_READ_SLOPE:
        return "distance";
    case MST_READ_BEARING:
    case MST_READ_DIRECTION:
        return "direction";
    case MST_READ_BACKSIGHT:
    case MST_READ_INTERMEDIATE:
    case MST_READ_FORESIGHT:
        return "staff";
    case MST_READ_EASTING:
    case MST_READ_NORTHING:
        return "place";
    case MST_READ_CHAINAGE:
    case MST_READ_OFFSET:
        return "offset";
    case MST_READ_DX:
    case MST_READ_DY:
        return "leg";
    case MST_READ_DZ:
        return "rise of leg";
    default:
        return mst_reading_kind_name(kind);
    }
}

static const char *gear_of(const mst_reading *r) {
    return r->page->gear && *r->page->gear ? r->page->gear : mst_gear_default(r->page->kind);
}

static uint32_t group_of(const mst_adjustment *a, const mst_reading *r) {
    for (uint32_t g = 0; g < a->gear_factor_count; g++) {
        const mst_gear_factor *f = &a->gear_factors[g];
        if (strcmp(f->kind, kind_of(r->kind)) == 0 && strcmp(f->gear, gear_of(r)) == 0 &&
            strcmp(f->visit, r->page->visit) == 0)
            return g;
    }
    return MST_NONE;
}

typedef struct estimating {
    mst_system *s;
    mst_adjustment *out;
    uint32_t *group; /* [used] */
    double *weight;  /* [used] as they were */
    bool *doubted;   /* [used] */
    double squares[GROUPS_MAX], redundancy[GROUPS_MAX];
} estimating;

static void find_groups(estimating *e) {
    mst_adjustment *out = e->out;
    for (size_t row = 0; row < e->s->used; row++) {
        const mst_reading *r = &e->s->net->readings[e->s->reading[row]];
        e->group[row] = group_of(out, r);
        if (e->group[row] != MST_NONE || out->gear_factor_count == GROUPS_MAX) continue;
        e->group[row] = (uint32_t)out->gear_factor_count;
        out->gear_factors[out->gear_factor_count++] = (mst_gear_factor){
            .visit = r->page->visit, .gear = gear_of(r), .kind = kind_of(r->kind), .factor = 1, .sentence = NULL};
    }
}

static void weigh(estimating *e) {
    for (size_t row = 0; row < e->s->used; row++) {
        double factor = e->group[row] == MST_NONE ? 1 : e->out->gear_factors[e->group[row]].factor;
        e->s->weight[row] = e->doubted[row] ? 0 : e->weight[row] / (factor * factor);
    }
}

/* Squares and redundancy of each group with the weights as they are. */
static void sum_up(estimating *e) {
    mst_system *s = e->s;
    memset(e->squares, 0, sizeof e->squares);
    memset(e->redundancy, 0, sizeof e->redundancy);
    for (size_t row = 0; row < s->used; row++) {
        if (e->group[row] == MST_NONE || e->doubted[row]) continue;
        double explained = s->weight[row] * mst_sparse_variance(s->matrix, row, s->coefficients + s->row_start[row]);
        e->squares[e->group[row]] += s->weight[row] * s->residual[row] * s->residual[row];
        e->redundancy[e->group[row]] += fmax(1 - explained, 0);
    }
}

/* @return by how much the factors still change, relative */
static double take_step(estimating *e) {
    double most = 0;
    for (size_t g = 0; g < e->out->gear_factor_count; g++) {
        mst_gear_factor *f = &e->out->gear_factors[g];
        f->redundancy = e->redundancy[g];
        if (e->redundancy[g] < LEAST_REDUNDANCY) continue;
        double before = f->factor;
        f->factor = fmax(before * sqrt(e->squares[g] / e->redundancy[g]), LEAST_FACTOR);
        most = fmax(most, fabs(f->factor / before - 1));
    }
    return most;
}

static mst_status say(estimating *e, mst_error *error) {
    for (size_t g = 0; g < e->out->gear_factor_count; g++) {
        mst_gear_factor *f = &e->out->gear_factors[g];
        if (f->redundancy < LEAST_REDUNDANCY || f->factor < WORTH_SAYING) continue;
        if (f->factor * f->factor * f->redundancy < mst_chi_square_quantile(1 - SIGNIFICANCE, f->redundancy)) continue;
        f->sentence = mst_arena_printf(e->s->net->arena,
                                       "On %s%s the %s readings of the %s scatter %.1f times as much as its "
                                       "figures say; check the gear, or give it "
                                       "figures of its own.",
                                       mst_words_visit(f->visit), f->visit, f->kind, f->gear, f->factor);
        if (!f->sentence) return no_memory(error);
    }
    return MST_OK;
}

/* True when no group scatters otherwise than chance allows: then more steps would only chase chance. */
static bool is_as_stated(const estimating *e) {
    for (size_t g = 0; g < e->out->gear_factor_count; g++) {
        double r = e->redundancy[g];
        if (r < LEAST_REDUNDANCY) continue;
        if (e->squares[g] < mst_chi_square_quantile(CHANCE / 2, r) ||
            e->squares[g] > mst_chi_square_quantile(1 - CHANCE / 2, r))
            return false;
    }
    return true;
}

static mst_status solve_anew(estimating *e, mst_error *error) {
    int iterations;
    weigh(e);
    mst_status status = mst_system_solve(e->s, 0, &iterations, error);
    return status ? status : mst_sparse_invert(e->s->matrix, error);
}

/* @param moved whether the system is no longer as it was */
static mst_status estimate(estimating *e, bool *moved, mst_error *error) {
    sum_up(e);
    bool enough = is_as_stated(e) || e->s->used > STEP_READINGS;
    take_step(e);
    mst_status status = MST_OK;
    for (int step = 0; !enough && !status && step < STEPS_MAX; step++) {
        *moved = true;
        status = solve_anew(e, error);
        if (status) break;
        sum_up(e);
        enough = take_step(e) < SETTLED;
    }
    if (status != MST_NOT_CONVERGED) return status;
    for (size_t g = 0; g < e->out->gear_factor_count; g++) e->out->gear_factors[g].factor = 1; /* nothing is known */
    return MST_OK;
}

/* Everything as it was: values, weights, the factor and the inverse. */
static mst_status restore(estimating *e, const double kept[], mst_error *error) {
    mst_system *s = e->s;
    for (size_t i = 0; i < s->unknowns; i++) *s->value[i] = kept[i];
    memcpy(s->weight, e->weight, s->used * sizeof *s->weight);
    mst_system_evaluate(s);
    mst_system_factor(s);
    return mst_sparse_invert(s->matrix, error);
}

mst_status mst_gear_factors_estimate(mst_system *s, const mst_doubts *doubts, mst_adjustment *out, mst_error *error) {
    mst_arena *arena = s->net->arena;
    estimating e = {.s = s, .out = out};
    double *kept = mst_arena_array(arena, s->unknowns + 1, sizeof *kept);
    e.group = mst_arena_array(arena, s->used + 1, sizeof *e.group);
    e.weight = mst_arena_array(arena, s->used + 1, sizeof *e.weight);
    e.doubted = mst_arena_array(arena, s->used + 1, sizeof *e.doubted);
    out->gear_factors = mst_arena_array(arena, GROUPS_MAX, sizeof *out->gear_factors);
    if (!kept || !e.group || !e.weight || !e.doubted || !out->gear_factors) return no_memory(error);
    out->gear_factor_count = 0;
    memcpy(e.weight, s->weight, s->used * sizeof *e.weight);
    for (size_t i = 0; i < s->unknowns; i++) kept[i] = *s->value[i];
    for (size_t row = 0; row < s->used; row++)
        for (size_t k = 0; k < doubts->count; k++)
            e.doubted[row] |= doubts->list[k].leader == k && doubts->list[k].reading == s->reading[row];
    find_groups(&e);
    bool moved = false;
    mst_status status = estimate(&e, &moved, error);
    if (!status) status = say(&e, error);
    mst_status restored = moved ? restore(&e, kept, error) : MST_OK;
    return status ? status : restored;
}

void mst_gear_factors_apply(mst_network *net, const mst_adjustment *a) {
    for (size_t i = 0; i < net->reading_count; i++) {
        uint32_t g = group_of(a, &net->readings[i]);
        if (g == MST_NONE) continue;
        net->readings[i].sd *= a->gear_factors[g].factor;
        net->readings[i].centring_m *= a->gear_factors[g].factor;
    }
}
