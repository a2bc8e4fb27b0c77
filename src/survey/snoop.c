/* Data snooping (Baarda, A Testing Procedure for Use in Geodetic Networks, 1968). The reading with the largest
 * standardized residual is given a free error of its own, which by a rank-one update changes every other residual; then
 * the next. The system itself stays as it is. */
#include "survey/snoop.h"
#include "numeric/statistics.h"
#include <math.h>

static const double NO_CHECK = 1e-6;   /* a redundancy below this is rounding */
static const double SAME_TEST = 1e-4;  /* relative; readings that share one condition have equal statistics */
static const double TOLD_APART = 1e-6; /* 1 - correlation of two statistics below which nothing can part them */

bool mst_snoop_make(mst_snoop *n, mst_system *s, mst_arena *scratch, size_t most) {
    *n = (mst_snoop){.s = s, .scratch = scratch, .most = most};
    n->residual = mst_arena_array(scratch, s->used + 1, sizeof *n->residual);
    n->redundancy = mst_arena_array(scratch, s->used + 1, sizeof *n->redundancy);
    n->list = mst_arena_array(scratch, most + 1, sizeof *n->list);
    n->solved = mst_arena_array(scratch, most + 1, sizeof *n->solved);
    n->update = mst_arena_array(scratch, most + 1, sizeof *n->update);
    n->freed_row = mst_arena_array(scratch, most + 1, sizeof *n->freed_row);
    if (!n->residual || !n->redundancy || !n->list || !n->solved || !n->update || !n->freed_row) return false;
    for (size_t row = 0; row < s->used; row++) {
        double explained = s->weight[row] * mst_sparse_variance(s->matrix, row, s->coefficients + s->row_start[row]);
        n->residual[row] = s->residual[row];
        n->redundancy[row] = fmin(fmax(1 - explained, 0), 1);
    }
    return true;
}

double mst_snoop_statistic(const mst_snoop *n, size_t row) {
    if (!(n->redundancy[row] > NO_CHECK)) return 0;
    return n->residual[row] * sqrt(n->s->weight[row] / n->redundancy[row]);
}

double mst_snoop_critical(const mst_snoop *n, double significance, double dof) {
    double tests = 0;
    for (size_t row = 0; row < n->s->used; row++) tests += n->redundancy[row] > NO_CHECK;
    if (!(tests > 0) || !(dof > 0)) return HUGE_VAL;
    double each = -expm1(log1p(-significance) / tests);
    return fmin(-mst_normal_quantile(each / 2), sqrt(mst_chi_square_quantile(1 - significance, dof)));
}

static double row_times(const mst_system *s, size_t row, const double x[]) {
    double sum = 0;
    for (uint32_t k = s->row_start[row]; k < s->row_start[row + 1]; k++) sum += s->coefficients[k] * x[s->columns[k]];
    return sum;
}

static size_t worst_row(const mst_snoop *n) {
    size_t worst = SIZE_MAX;
    double most = n->critical;
    for (size_t row = 0; row < n->s->used; row++) {
        double size = fabs(mst_snoop_statistic(n, row));
        if (size > most) most = size, worst = row;
    }
    return worst;
}

/* Q a' with the rows so far freed: each has added z z' weight / redundancy to Q. */
static double *solve_for(mst_snoop *n, size_t row) {
    const mst_system *s = n->s;
    double *z = mst_arena_array(n->scratch, s->unknowns + 1, sizeof *z);
    if (!z) return NULL;
    mst_system_row(s, row, z);
    mst_sparse_solve(s->matrix, z);
    for (size_t k = 0; k < n->freed_count; k++) {
        double share = row_times(s, row, n->solved[k]) * n->update[k];
        for (size_t i = 0; i < s->unknowns; i++) z[i] += share * n->solved[k][i];
    }
    return z;
}

/* Others whose statistic is the same, up to sign, whatever the readings say. */
static void list_the_like(mst_snoop *n, size_t row, const double z[]) {
    double w = fabs(mst_snoop_statistic(n, row)), own = n->redundancy[row] / n->s->weight[row];
    for (size_t other = 0; other < n->s->used && n->count < n->most; other++) {
        if (other == row || fabs(mst_snoop_statistic(n, other)) < w * (1 - SAME_TEST)) continue;
        double shared = fabs(row_times(n->s, other, z));
        if (shared < (1 - TOLD_APART) * sqrt(own * n->redundancy[other] / n->s->weight[other])) continue;
        n->list[n->count++] = (mst_standout){other, mst_snoop_statistic(n, other), false};
    }
}

/* Frees one row's error and carries that through all residuals and redundancies. */
bool mst_snoop_free(mst_snoop *n, size_t row) {
    double *z = solve_for(n, row);
    if (!z) return false;
    n->list[n->count++] = (mst_standout){row, mst_snoop_statistic(n, row), true};
    list_the_like(n, row, z);
    double update = n->s->weight[row] / n->redundancy[row], pull = update * n->residual[row];
    n->solved[n->freed_count] = z;
    n->update[n->freed_count] = update;
    n->freed_row[n->freed_count++] = row;
    for (size_t other = 0; other < n->s->used; other++) {
        double shared = row_times(n->s, other, z);
        n->residual[other] += shared * pull;
        n->redundancy[other] -= n->s->weight[other] * shared * shared * update;
    }
    n->redundancy[row] = 0;
    return true;
}

bool mst_snoop_run(mst_snoop *n, double critical) {
    n->critical = critical;
    for (size_t row; n->count < n->most && (row = worst_row(n)) != SIZE_MAX;)
        if (!mst_snoop_free(n, row)) return false;
    return true;
}
