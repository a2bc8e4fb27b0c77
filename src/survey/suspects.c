/* Data snooping. The reading with the largest standardized residual is given a free error of its own, which by a
 * rank-one update changes every other residual; then the next. Since a gross error bends a network more than a linear
 * step tells, the rest is solved anew without the suspects, and each suspect is judged by what the others say. */
#include "survey/suspects.h"
#include "survey/slips.h"
#include "survey/words.h"
#include "numeric/statistics.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { SUSPECTS_MAX = 100, ROUNDS_MAX = 5, SOLVE_AGAIN_ROWS = 5000 };
static const double SIGNIFICANCE = 0.001; /* Baarda 1968 */
static const double NO_CHECK = 1e-6;      /* a redundancy below this is rounding */
static const double SAME_TEST = 1e-4;     /* relative; readings that share one condition have equal statistics */
static const double TOLD_APART = 1e-6;    /* 1 - correlation of two statistics below which nothing can part them */

typedef struct suspicion {
    size_t row;
    double error, sd; /* of the reading, by the others */
    size_t group;     /* how many cannot be told apart, itself included */
    double update;    /* weight / redundancy when it was freed */
    bool freed;       /* has a free error; others of its group follow from it */
    bool dismissed;
    double *solved; /* Q a' when it was freed */
} suspicion;

typedef struct snooping {
    mst_system *s;
    mst_arena *scratch;
    double *residual, *redundancy, *weight;
    suspicion list[SUSPECTS_MAX];
    size_t count;
    double critical;
} snooping;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for finding suspects.");
}

static double standardized(const snooping *n, size_t row) {
    if (!(n->redundancy[row] > NO_CHECK)) return 0;
    return n->residual[row] * sqrt(n->weight[row] / n->redundancy[row]);
}

static double row_times(const mst_system *s, size_t row, const double x[]) {
    double sum = 0;
    for (uint32_t k = s->row_start[row]; k < s->row_start[row + 1]; k++) sum += s->coefficients[k] * x[s->columns[k]];
    return sum;
}

static size_t worst_row(const snooping *n) {
    size_t worst = SIZE_MAX;
    double most = n->critical;
    for (size_t row = 0; row < n->s->used; row++)
        if (fabs(standardized(n, row)) > most) most = fabs(standardized(n, row)), worst = row;
    return worst;
}

/* Q a' with the suspects so far freed: each has added z z' weight / redundancy to Q. */
static double *solve_for(snooping *n, size_t row) {
    const mst_system *s = n->s;
    double *z = mst_arena_array(n->scratch, s->unknowns + 1, sizeof *z);
    if (!z) return NULL;
    mst_system_row(s, row, z);
    mst_sparse_solve(s->matrix, z);
    for (size_t k = 0; k < n->count; k++) {
        const suspicion *before = &n->list[k];
        if (!before->solved) continue;
        double share = row_times(s, row, before->solved) * before->update;
        for (size_t i = 0; i < s->unknowns; i++) z[i] += share * before->solved[i];
    }
    return z;
}

static suspicion *suspect(snooping *n, size_t row) {
    suspicion *made = &n->list[n->count++];
    double r = n->redundancy[row];
    *made = (suspicion){.row = row, .error = -n->residual[row] / r, .sd = 1 / sqrt(n->weight[row] * r), .group = 1};
    return made;
}

/* Others whose statistic is the same, up to sign, whatever the readings say. */
static void suspect_the_like(snooping *n, size_t row, const double z[]) {
    size_t first = n->count - 1;
    double w = fabs(standardized(n, row)), own = n->redundancy[row] / n->weight[row];
    for (size_t other = 0; other < n->s->used && n->count < SUSPECTS_MAX; other++) {
        if (other == row || fabs(standardized(n, other)) < w * (1 - SAME_TEST)) continue;
        double shared = fabs(row_times(n->s, other, z));
        if (shared < (1 - TOLD_APART) * sqrt(own * n->redundancy[other] / n->weight[other])) continue;
        suspect(n, other);
    }
    for (size_t k = first; k < n->count; k++) n->list[k].group = n->count - first;
}

/* Frees one row's error and carries that through all residuals and redundancies. */
static bool free_row(snooping *n, size_t row) {
    double *z = solve_for(n, row);
    if (!z) return false;
    size_t first = n->count;
    suspicion *made = suspect(n, row);
    made->freed = true;
    suspect_the_like(n, row, z);
    double update = n->weight[row] / n->redundancy[row], pull = update * n->residual[row];
    n->list[first].solved = z;
    n->list[first].update = update;
    for (size_t other = 0; other < n->s->used; other++) {
        double shared = row_times(n->s, other, z);
        n->residual[other] += shared * pull;
        n->redundancy[other] -= n->weight[other] * shared * shared * update;
    }
    n->redundancy[row] = 0;
    return true;
}

/* Frees the worst until none stands out. @return how many were freed, SIZE_MAX when memory is short */
static size_t snoop(snooping *n) {
    size_t freed = 0;
    for (size_t row; n->count < SUSPECTS_MAX && (row = worst_row(n)) != SIZE_MAX; freed++)
        if (!free_row(n, row)) return SIZE_MAX;
    return freed;
}

/* ---- the rest, solved without them ---- */

static mst_status solve_without(snooping *n, mst_error *error) {
    mst_system *s = n->s;
    int iterations;
    for (size_t k = 0; k < n->count; k++)
        s->weight[n->list[k].row] = n->list[k].freed && !n->list[k].dismissed ? 0 : n->weight[n->list[k].row];
    mst_status status = mst_system_solve(s, 0, &iterations, error);
    if (!status) status = mst_sparse_invert(s->matrix, error);
    if (status) return status;
    for (size_t k = 0; k < n->count; k++) n->list[k].solved = NULL; /* their freedom is in the factor now */
    for (size_t row = 0; row < s->used; row++) {
        double explained = mst_sparse_variance(s->matrix, row, s->coefficients + s->row_start[row]);
        n->residual[row] = s->residual[row];
        n->redundancy[row] = s->weight[row] > 0 ? 1 - s->weight[row] * explained : 0;
    }
    return MST_OK;
}

/* What the others say of each suspect by itself. One that they no longer contradict is dismissed. */
static bool judge(snooping *n) {
    mst_system *s = n->s;
    bool changed = false;
    for (size_t k = 0; k < n->count; k++) {
        suspicion *one = &n->list[k];
        if (!one->freed || one->dismissed) continue;
        double explained = mst_sparse_variance(s->matrix, one->row, s->coefficients + s->row_start[one->row]);
        one->error = -s->residual[one->row];
        one->sd = sqrt(1 / n->weight[one->row] + fmax(explained, 0));
        if (fabs(one->error) > n->critical * one->sd) continue;
        changed = true;
        for (size_t j = k; j < k + one->group; j++) n->list[j].dismissed = true;
    }
    return changed;
}

static mst_status refine(snooping *n, mst_error *error) {
    for (int round = 0; round < ROUNDS_MAX; round++) {
        mst_status status = solve_without(n, error);
        if (status == MST_NOT_CONVERGED) return MST_OK; /* the linear answer stands */
        if (status) return status;
        bool dismissed = judge(n);
        size_t freed = snoop(n);
        if (freed == SIZE_MAX) return no_memory(error);
        if (freed == 0 && !dismissed) break;
    }
    return MST_OK;
}

/* ---- sentences ---- */

static void size_words(const mst_reading *r, double error, char *out, size_t size) {
    char angle[40];
    mst_angle_dms(fabs(error), 0, angle, sizeof angle);
    const char *way = error > 0 ? "large" : "small";
    if (mst_reading_is_angular(r->kind)) snprintf(out, size, "%s too %s", angle, way);
    else if (r->kind == MST_READ_DISTANCE || r->kind == MST_READ_SLOPE)
        snprintf(out, size, "%.*f m %s", fabs(error) < 0.1 ? 3 : 2, fabs(error), error > 0 ? "long" : "short");
    else snprintf(out, size, "%.*f m too %s", fabs(error) < 0.1 ? 3 : 2, fabs(error), way);
}

static const char *sentence_for(const snooping *n, const suspicion *one, mst_arena *arena) {
    const mst_reading *r = &n->s->net->readings[n->s->reading[one->row]];
    const char *words = mst_words_for(n->s->net, r, arena), *slip = mst_slip_named(r, one->error, one->sd);
    char size[80];
    size_words(r, one->error, size, sizeof size);
    if (one->group > 1)
        return mst_arena_printf(
            arena,
            "Either the %s is about %s, or one of %zu other readings is wrong that cannot be told apart from it; "
            "measure one of them again.",
            words, size, one->group - 1);
    return mst_arena_printf(arena, "The %s is about %s%s%s.", words, size, slip ? "; " : "", slip ? slip : "");
}

static mst_status report(const snooping *n, mst_adjustment *out, mst_error *error) {
    mst_arena *arena = n->s->net->arena;
    out->suspects = mst_arena_array(arena, n->count + 1, sizeof *out->suspects);
    if (!out->suspects) return no_memory(error);
    for (size_t k = 0; k < n->count; k++) {
        const suspicion *one = &n->list[k];
        if (one->dismissed) continue;
        const char *sentence = sentence_for(n, one, arena);
        if (!sentence) return no_memory(error);
        out->suspects[out->suspect_count++] = (mst_suspect){one->row, one->error, one->group == 1, sentence};
    }
    return MST_OK;
}

/* ---- the whole ---- */

static bool prepare(snooping *n, const mst_adjustment *out) {
    size_t used = n->s->used;
    n->residual = mst_arena_array(n->scratch, used + 1, sizeof *n->residual);
    n->redundancy = mst_arena_array(n->scratch, used + 1, sizeof *n->redundancy);
    n->weight = mst_arena_array(n->scratch, used + 1, sizeof *n->weight);
    if (!n->residual || !n->redundancy || !n->weight) return false;
    for (size_t row = 0; row < used; row++) {
        n->residual[row] = n->s->residual[row];
        n->redundancy[row] = out->observations[row].redundancy;
        n->weight[row] = n->s->weight[row];
    }
    return true;
}

/* Solves without the suspects for a better look at them, then puts everything back as it was. */
static mst_status refine_and_restore(snooping *n, mst_error *error) {
    mst_system *s = n->s;
    double *kept = mst_arena_array(n->scratch, s->unknowns + 1, sizeof *kept);
    if (!kept) return no_memory(error);
    for (size_t i = 0; i < s->unknowns; i++) kept[i] = *s->value[i];
    mst_status status = refine(n, error);
    for (size_t i = 0; i < s->unknowns; i++) *s->value[i] = kept[i];
    memcpy(s->weight, n->weight, s->used * sizeof *s->weight);
    mst_system_evaluate(s);
    mst_system_factor(s);
    return status;
}

mst_status mst_suspects_find(mst_system *s, const mst_adjust_options *options, mst_adjustment *out, mst_error *error) {
    if (out->degrees_of_freedom <= 0) return MST_OK;
    double alpha = options->suspect_significance > 0 ? options->suspect_significance : SIGNIFICANCE;
    snooping *n = mst_arena_alloc(s->net->arena, sizeof *n);
    mst_arena *scratch = mst_arena_new();
    if (!n || !scratch) {
        mst_arena_free(scratch);
        return no_memory(error);
    }
    *n = (snooping){.s = s, .scratch = scratch, .critical = mst_normal_quantile(1 - alpha / 2)};
    mst_status status = prepare(n, out) && snoop(n) != SIZE_MAX ? MST_OK : no_memory(error);
    if (!status && n->count > 0 && s->used <= SOLVE_AGAIN_ROWS) status = refine_and_restore(n, error);
    if (!status) status = report(n, out, error);
    mst_arena_free(scratch);
    return status;
}
