/* The sparse solver against CHOLMOD (Chen, Davis, Hager, Rajamanickam, ACM TOMS 35 (2008) 22) on random patterns: the
 * solution, the inverse's entries, damping; and properties that hold whatever the numbers. */
#include "numeric/sparse.h"
#include <cholmod.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { WIDTH_MAX = 8 };
static const double TOLERANCE = 1e-11; /* relative pivot that counts as none */
static const double AGREE = 1e-9;      /* relative to the largest; the matrices' condition is under 1e5 */

static uint64_t state_of_chance = 20261125;
static double chance(void) { /* xorshift64*, in (0, 1) */
    state_of_chance ^= state_of_chance >> 12;
    state_of_chance ^= state_of_chance << 25;
    state_of_chance ^= state_of_chance >> 27;
    return ((double)((state_of_chance * 2685821657736338717u) >> 11) + 0.5) / 9007199254740992.0;
}
static uint32_t below(uint32_t count) { return (uint32_t)(chance() * count) % count; }

typedef struct problem {
    uint32_t unknowns, rows, *start, *columns;
    double *coefficients, *weight, (*place)[2];
} problem;

static problem empty(uint32_t unknowns, uint32_t rows_max) {
    problem p = {.unknowns = unknowns,
                 .start = calloc(rows_max + 1, sizeof *p.start),
                 .columns = calloc((size_t)rows_max * WIDTH_MAX + 1, sizeof *p.columns),
                 .coefficients = calloc((size_t)rows_max * WIDTH_MAX + 1, sizeof *p.coefficients),
                 .weight = calloc(rows_max + 1, sizeof *p.weight)};
    assert_true(p.start && p.columns && p.coefficients && p.weight);
    return p;
}

static void forget(problem *p) {
    free(p->start);
    free(p->columns);
    free(p->coefficients);
    free(p->weight);
    free(p->place);
}

/* Adds a row; a column named twice counts once. */
static void add_row(problem *p, const uint32_t columns[], uint32_t count) {
    uint32_t end = p->start[p->rows];
    for (uint32_t c = 0; c < count; c++) {
        bool again = false;
        for (uint32_t k = p->start[p->rows]; k < end; k++) again |= p->columns[k] == columns[c];
        if (again) continue;
        p->columns[end] = columns[c];
        p->coefficients[end++] = 2 * chance() - 1;
    }
    p->weight[p->rows] = 0.5 + chance();
    p->start[++p->rows] = end;
}

/* Every unknown by itself, then rows among near ones, now and then among far ones, and some that share one. */
static problem random_problem(uint32_t unknowns, uint32_t rows, uint32_t reach, bool hub) {
    problem p = empty(unknowns, unknowns + rows);
    for (uint32_t j = 0; j < unknowns; j++) add_row(&p, &j, 1);
    for (uint32_t r = 0; r < rows; r++) {
        uint32_t columns[WIDTH_MAX], count = 1 + below(WIDTH_MAX - 1), base = below(unknowns);
        for (uint32_t c = 0; c < count; c++)
            columns[c] = chance() < 0.02 ? below(unknowns) : (base + below(reach)) % unknowns;
        if (hub && r % 3 == 0) columns[0] = unknowns / 2;
        add_row(&p, columns, count);
    }
    return p;
}

/* A square grid of points with two unknowns each and rows between neighbours, with places. */
static problem grid_problem(uint32_t side) {
    uint32_t points = side * side;
    problem p = empty(2 * points, 2 * points + 3 * points);
    p.place = calloc(2 * points, sizeof *p.place);
    assert_non_null(p.place);
    for (uint32_t j = 0; j < 2 * points; j++) {
        add_row(&p, &j, 1);
        p.place[j][0] = j % 7 == 3 ? NAN : j / 2 % side + 0.1 * chance();
        p.place[j][1] = j / 2 / side + 0.1 * chance();
    }
    static const uint32_t WAY[3][2] = {{1, 0}, {0, 1}, {1, 1}};
    for (uint32_t i = 0; i < side; i++)
        for (uint32_t j = 0; j < side; j++)
            for (int w = 0; w < 3; w++) {
                uint32_t a = i * side + j, b = (i + WAY[w][0]) * side + j + WAY[w][1];
                if (i + WAY[w][0] < side && j + WAY[w][1] < side)
                    add_row(&p, (uint32_t[]){2 * a, 2 * a + 1, 2 * b, 2 * b + 1}, 4);
            }
    return p;
}

static mst_sparse *analysed(const problem *p, bool placed, mst_arena *arena) {
    mst_sparse *m = NULL;
    assert_int_equal(mst_sparse_analyse_placed(p->unknowns, p->rows, p->start, p->columns, placed ? p->place : NULL,
                                               arena, &m, NULL),
                     MST_OK);
    mst_sparse_clear(m);
    for (uint32_t r = 0; r < p->rows; r++) mst_sparse_add(m, r, p->coefficients + p->start[r], p->weight[r]);
    return m;
}

/* ---- the other side ---- */

typedef struct oracle {
    cholmod_common common;
    cholmod_factor *factor;
    cholmod_dense *right;
    uint32_t unknowns;
} oracle;

static void open_oracle(oracle *o, const problem *p, double damping) {
    cholmod_start(&o->common);
    o->unknowns = p->unknowns;
    size_t most = 0;
    for (uint32_t r = 0; r < p->rows; r++) {
        size_t c = p->start[r + 1] - p->start[r];
        most += c * (c + 1) / 2;
    }
    cholmod_triplet *t = cholmod_allocate_triplet(p->unknowns, p->unknowns, 2 * most, -1, CHOLMOD_REAL, &o->common);
    for (uint32_t r = 0; r < p->rows; r++)
        for (uint32_t a = p->start[r]; a < p->start[r + 1]; a++)
            for (uint32_t b = p->start[r]; b < p->start[r + 1]; b++) {
                double value = p->weight[r] * p->coefficients[a] * p->coefficients[b] * (a == b ? 1 + damping : 1);
                if (p->columns[a] < p->columns[b]) continue;
                ((int *)t->i)[t->nnz] = (int)p->columns[a];
                ((int *)t->j)[t->nnz] = (int)p->columns[b];
                ((double *)t->x)[t->nnz++] = value;
            }
    cholmod_sparse *a = cholmod_triplet_to_sparse(t, 0, &o->common);
    o->factor = cholmod_analyze(a, &o->common);
    cholmod_factorize(a, o->factor, &o->common);
    assert_int_equal(o->common.status, CHOLMOD_OK);
    o->right = cholmod_zeros(p->unknowns, 1, CHOLMOD_REAL, &o->common);
    cholmod_free_triplet(&t, &o->common);
    cholmod_free_sparse(&a, &o->common);
}

static void ask(oracle *o, const double b[], double x[]) {
    memcpy(o->right->x, b, o->unknowns * sizeof *b);
    cholmod_dense *solved = cholmod_solve(CHOLMOD_A, o->factor, o->right, &o->common);
    assert_non_null(solved);
    memcpy(x, solved->x, o->unknowns * sizeof *x);
    cholmod_free_dense(&solved, &o->common);
}

static void close_oracle(oracle *o) {
    cholmod_free_dense(&o->right, &o->common);
    cholmod_free_factor(&o->factor, &o->common);
    cholmod_finish(&o->common);
}

static double largest(const double x[], size_t count) {
    double most = 0;
    for (size_t i = 0; i < count; i++) most = fmax(most, fabs(x[i]));
    return most;
}

static void agree(const double a[], const double b[], size_t count) {
    double most = largest(b, count);
    for (size_t i = 0; i < count; i++) assert_true(fabs(a[i] - b[i]) <= AGREE * most);
}

/* Solution, some columns of the inverse, and the variances of some rows. */
static void check(const problem *p, bool placed, double damping) {
    mst_arena *arena = mst_arena_new();
    mst_sparse *m = analysed(p, placed, arena);
    oracle o;
    open_oracle(&o, p, damping);
    size_t n = p->unknowns;
    double *x = malloc(n * sizeof *x), *b = malloc(n * sizeof *b), *y = malloc(n * sizeof *y);
    assert_true(x && b && y);
    assert_int_equal(mst_sparse_factor(m, damping, TOLERANCE), 0);
    assert_true(mst_sparse_weakest(m) > TOLERANCE && mst_sparse_weakest(m) <= 1 + damping);
    for (size_t i = 0; i < n; i++) x[i] = b[i] = 2 * chance() - 1;
    mst_sparse_solve(m, x);
    ask(&o, b, y);
    agree(x, y, n);
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    for (uint32_t r = 0; r < p->rows; r += 1 + p->rows / 25) {
        memset(b, 0, n * sizeof *b);
        for (uint32_t k = p->start[r]; k < p->start[r + 1]; k++) b[p->columns[k]] = p->coefficients[k];
        ask(&o, b, y);
        double variance = 0;
        for (size_t i = 0; i < n; i++) variance += b[i] * y[i];
        assert_true(fabs(mst_sparse_variance(m, r, p->coefficients + p->start[r]) - variance) <= AGREE * variance);
        uint32_t first = p->columns[p->start[r]];
        memset(b, 0, n * sizeof *b);
        b[first] = 1;
        ask(&o, b, y);
        assert_true(fabs(mst_sparse_diagonal(m, first) - y[first]) <= AGREE * y[first]);
        for (uint32_t k = p->start[r]; k < p->start[r + 1]; k++)
            assert_true(fabs(mst_sparse_covariance(m, r, 0, k - p->start[r]) - y[p->columns[k]]) <= AGREE * largest(y, n));
    }
    free(x);
    free(b);
    free(y);
    close_oracle(&o);
    mst_arena_free(arena);
}

static void random_patterns(void **state) {
    (void)state;
    for (uint32_t trial = 0; trial < 120; trial++) {
        uint32_t n = 1 + below(trial < 60 ? 40 : 600);
        problem p = random_problem(n, below(3 * n) + 1, 1 + below(trial % 2 ? n : 12), trial % 5 == 0);
        check(&p, false, trial % 4 == 0 ? 0.3 * chance() : 0);
        forget(&p);
    }
}

/* Full matrices of every size around the kernels' block sizes. */
static void full_matrices(void **state) {
    (void)state;
    for (uint32_t n = 1; n <= 400; n += n < 70 ? 1 : 29) {
        problem p = random_problem(n, 40, n, false);
        forget(&p);
        p = empty(n, n + n * n / 3 + 1);
        for (uint32_t j = 0; j < n; j++) add_row(&p, &j, 1);
        for (uint32_t r = 0; r < n * n / 3; r++) {
            uint32_t columns[WIDTH_MAX];
            for (int c = 0; c < WIDTH_MAX; c++) columns[c] = below(n);
            add_row(&p, columns, WIDTH_MAX);
        }
        check(&p, false, 0);
        forget(&p);
    }
}

static void grids_with_places(void **state) {
    (void)state;
    for (uint32_t side = 2; side <= 47; side += 15) {
        problem p = grid_problem(side);
        check(&p, true, 0);
        check(&p, false, 0);
        forget(&p);
    }
}

/* Places that say nothing of who meets whom, and places all alike, do no harm. */
static void misleading_places(void **state) {
    (void)state;
    problem p = random_problem(700, 1500, 12, true);
    p.place = calloc(700, sizeof *p.place);
    check(&p, true, 0);
    for (uint32_t j = 0; j < 700; j++) p.place[j][0] = chance(), p.place[j][1] = j % 5 ? chance() : NAN;
    check(&p, true, 0);
    for (uint32_t j = 0; j < 700; j++) p.place[j][0] = p.place[j][1] = NAN;
    check(&p, true, 0);
    forget(&p);
}

/* Differences alone, in parts that nothing joins: one unknown of each part is free, and all of it moves as one. */
static void floating_parts(void **state) {
    (void)state;
    for (uint32_t parts = 1; parts <= 40; parts += 13) {
        enum { EACH = 60 };
        uint32_t n = parts * EACH;
        problem p = empty(n, 4 * n);
        for (uint32_t j = 0; j < 4 * n; j++) { /* a chain through each part, then across it */
            uint32_t part = j % n / EACH, i = j % EACH, k = j < n ? i + 1 : below(EACH);
            if (k >= EACH || k == i) continue;
            add_row(&p, (uint32_t[]){part * EACH + i, part * EACH + k}, 2);
            p.coefficients[p.start[p.rows - 1]] = -1;
            p.coefficients[p.start[p.rows - 1] + 1] = 1;
        }
        mst_arena *arena = mst_arena_new();
        mst_sparse *m = analysed(&p, false, arena);
        assert_int_equal(mst_sparse_factor(m, 0, TOLERANCE), parts);
        double *motion = mst_arena_array(arena, n, sizeof *motion), *most = mst_arena_array(arena, n, sizeof *most);
        for (uint32_t j = 0; j < n; j++) {
            if (!mst_sparse_is_free(m, j)) continue;
            mst_sparse_motion(m, j, motion);
            for (uint32_t i = 0; i < n; i++)
                assert_true(i / EACH == j / EACH ? fabs(motion[i]) > 1e-3 : motion[i] == 0);
        }
        mst_sparse_motions(m, most);
        for (uint32_t i = 0; i < n; i++) assert_true(most[i] > 1e-3 && most[i] <= 1);
        for (uint32_t i = 0; i < n; i++) motion[i] = chance();
        mst_sparse_solve(m, motion);
        assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
        for (uint32_t i = 0; i < n; i++) {
            assert_true(isfinite(motion[i]) && isfinite(mst_sparse_diagonal(m, i)) && mst_sparse_diagonal(m, i) >= 0);
            if (mst_sparse_is_free(m, i)) assert_true(motion[i] == 0 && mst_sparse_diagonal(m, i) == 0);
        }
        mst_arena_free(arena);
        forget(&p);
    }
}

/* A row's redundancy numbers sum to rows less unknowns, whatever the numbers (trace of a projection). */
static void redundancies_sum_up(void **state) {
    (void)state;
    for (int trial = 0; trial < 10; trial++) {
        problem p = random_problem(300 + below(300), 900, 30, trial % 2);
        mst_arena *arena = mst_arena_new();
        mst_sparse *m = analysed(&p, false, arena);
        assert_int_equal(mst_sparse_factor(m, 0, TOLERANCE), 0);
        assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
        double sum = 0;
        for (uint32_t r = 0; r < p.rows; r++)
            sum += 1 - p.weight[r] * mst_sparse_variance(m, r, p.coefficients + p.start[r]);
        assert_true(fabs(sum - (p.rows - p.unknowns)) < 1e-7 * p.rows);
        mst_arena_free(arena);
        forget(&p);
    }
}

/* The same input gives the same bits, also when the matrix has held other numbers before. */
static void same_bits_again(void **state) {
    (void)state;
    problem p = grid_problem(30);
    mst_arena *arena = mst_arena_new();
    double *x[2];
    for (int run = 0; run < 2; run++) {
        mst_sparse *m = analysed(&p, true, arena);
        if (run == 1) {
            mst_sparse_factor(m, 0.7, TOLERANCE);
            mst_sparse_clear(m);
            for (uint32_t r = 0; r < p.rows; r++) mst_sparse_add(m, r, p.coefficients + p.start[r], p.weight[r]);
        }
        mst_sparse_factor(m, 0, TOLERANCE);
        x[run] = mst_arena_array(arena, 2 * p.unknowns, sizeof *x[run]);
        for (uint32_t i = 0; i < p.unknowns; i++) x[run][i] = i % 9 - 4.0;
        mst_sparse_solve(m, x[run]);
        assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
        for (uint32_t i = 0; i < p.unknowns; i++) x[run][p.unknowns + i] = mst_sparse_diagonal(m, i);
    }
    assert_memory_equal(x[0], x[1], 2 * p.unknowns * sizeof *x[0]);
    mst_arena_free(arena);
    forget(&p);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_patterns),     cmocka_unit_test(full_matrices),
                                       cmocka_unit_test(grids_with_places),   cmocka_unit_test(misleading_places),
                                       cmocka_unit_test(floating_parts),      cmocka_unit_test(redundancies_sum_up),
                                       cmocka_unit_test(same_bits_again)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
