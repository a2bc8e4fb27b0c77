/* The sparse solver against a dense one written here the plain way (Gauss-Jordan with pivoting), on random rows:
 * solution, inverse, and which unknowns nothing fixes. */
#include "numeric/sparse.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

enum { N = 40, ROWS = 140, WIDTH = 3 };
static const double FREE_PIVOT = 1e-11; /* relative; far above rounding, far below any geometry here */

static uint64_t state_of_chance = 12345;
static double chance(void) { /* xorshift64*, in (-1, 1) */
    state_of_chance ^= state_of_chance >> 12;
    state_of_chance ^= state_of_chance << 25;
    state_of_chance ^= state_of_chance >> 27;
    return (double)(int64_t)(state_of_chance * 2685821657736338717u) / 9.3e18;
}

typedef struct problem {
    uint32_t start[ROWS + 1], columns[ROWS * WIDTH];
    double coefficients[ROWS][WIDTH], dense[N][N], inverse[N][N];
} problem;

/* Rows between neighbours; within each half only when `split`. Differences only when `floating`. */
static void make(problem *p, bool split, bool floating) {
    memset(p, 0, sizeof *p);
    for (uint32_t r = 0; r < ROWS; r++) {
        uint32_t base = r % (N - 3), far = (base + 1 + r % 3), third = (far + 1) % N;
        if (split && base < N / 2) far = far % (N / 2), third = third % (N / 2);
        if (split && base >= N / 2) far = N / 2 + far % (N / 2), third = N / 2 + third % (N / 2);
        uint32_t count = 0, cells[WIDTH] = {base, far, third};
        p->start[r + 1] = p->start[r];
        for (int c = 0; c < (floating ? 2 : WIDTH); c++) {
            bool again = false;
            for (uint32_t d = 0; d < count; d++) again |= p->columns[p->start[r] + d] == cells[c];
            if (again) continue;
            p->columns[p->start[r] + count] = cells[c];
            p->coefficients[r][count] = floating ? (count == 0 ? -1 : 1) : chance();
            count++;
        }
        if (count == 1 && floating) p->coefficients[r][0] = 0;
        p->start[r + 1] += count;
    }
    for (uint32_t r = 0; r < ROWS; r++)
        for (uint32_t a = p->start[r]; a < p->start[r + 1]; a++)
            for (uint32_t b = p->start[r]; b < p->start[r + 1]; b++)
                p->dense[p->columns[a]][p->columns[b]] +=
                    (1 + r % 5) * p->coefficients[r][a - p->start[r]] * p->coefficients[r][b - p->start[r]];
}

static void invert_densely(problem *p) {
    double a[N][2 * N] = {{0}};
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) a[i][j] = p->dense[i][j], a[i][N + j] = i == j;
    for (int c = 0; c < N; c++) {
        int best = c;
        for (int i = c; i < N; i++)
            if (fabs(a[i][c]) > fabs(a[best][c])) best = i;
        for (int j = 0; j < 2 * N; j++) {
            double swap = a[c][j];
            a[c][j] = a[best][j];
            a[best][j] = swap;
        }
        double pivot = a[c][c];
        for (int j = 0; j < 2 * N; j++) a[c][j] /= pivot;
        for (int i = 0; i < N; i++) {
            double factor = a[i][c];
            for (int j = 0; i != c && j < 2 * N; j++) a[i][j] -= factor * a[c][j];
        }
    }
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) p->inverse[i][j] = a[i][N + j];
}

static mst_sparse *factored(const problem *p, mst_arena *arena, size_t *free_count) {
    mst_sparse *m;
    assert_int_equal(mst_sparse_analyse(N, ROWS, p->start, p->columns, arena, &m, NULL), MST_OK);
    mst_sparse_clear(m);
    for (size_t r = 0; r < ROWS; r++) mst_sparse_add(m, r, p->coefficients[r], 1 + r % 5);
    *free_count = mst_sparse_factor(m, 0, FREE_PIVOT);
    return m;
}

static void solves_and_inverts_as_a_dense_solver(void **state) {
    (void)state;
    problem *p = malloc(sizeof *p);
    make(p, false, false);
    invert_densely(p);
    mst_arena *arena = mst_arena_new();
    size_t free_count;
    mst_sparse *m = factored(p, arena, &free_count);
    assert_int_equal(free_count, 0);
    double x[N], b[N];
    for (int i = 0; i < N; i++) x[i] = b[i] = chance();
    mst_sparse_solve(m, x);
    for (int i = 0; i < N; i++) {
        double expected = 0;
        for (int j = 0; j < N; j++) expected += p->inverse[i][j] * b[j];
        assert_true(fabs(x[i] - expected) < 1e-9 * (1 + fabs(expected)));
    }
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    for (size_t r = 0; r < ROWS; r++)
        for (uint32_t a = p->start[r]; a < p->start[r + 1]; a++)
            for (uint32_t c = p->start[r]; c < p->start[r + 1]; c++) {
                double expected = p->inverse[p->columns[a]][p->columns[c]];
                assert_true(fabs(mst_sparse_covariance(m, r, a - p->start[r], c - p->start[r]) - expected) <
                            1e-9 * (1 + fabs(expected)));
            }
    mst_arena_free(arena);
    free(p);
}

static void a_floating_half_moves_as_one_and_the_rest_stays(void **state) {
    (void)state;
    problem *p = malloc(sizeof *p);
    make(p, true, true);
    mst_arena *arena = mst_arena_new();
    size_t free_count;
    mst_sparse *m = factored(p, arena, &free_count);
    assert_int_equal(free_count, 2); /* one for each half: differences say nothing about the whole */
    for (size_t j = 0; j < N; j++) {
        if (!mst_sparse_is_free(m, j)) continue;
        double motion[N];
        mst_sparse_motion(m, j, motion);
        for (size_t i = 0; i < N; i++) /* in units of root diagonal, so divide by it: all alike within the half */
            if ((i < N / 2) == (j < N / 2)) assert_true(fabs(motion[i]) > 1e-3);
            else assert_true(fabs(motion[i]) < 1e-9);
    }
    double x[N] = {0};
    x[0] = 1;
    mst_sparse_solve(m, x);
    for (size_t i = 0; i < N; i++) assert_true(isfinite(x[i]) && (!mst_sparse_is_free(m, i) || x[i] == 0));
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    assert_true(isfinite(mst_sparse_covariance(m, 0, 0, 0)));
    mst_arena_free(arena);
    free(p);
}

static void an_unknown_without_readings_is_free(void **state) {
    (void)state;
    const uint32_t start[] = {0, 1}, columns[] = {1};
    mst_arena *arena = mst_arena_new();
    mst_sparse *m;
    assert_int_equal(mst_sparse_analyse(3, 1, start, columns, arena, &m, NULL), MST_OK);
    mst_sparse_clear(m);
    mst_sparse_add(m, 0, (double[]){2}, 1);
    assert_int_equal(mst_sparse_factor(m, 0, FREE_PIVOT), 2);
    double x[3] = {1, 8, 1};
    mst_sparse_solve(m, x);
    assert_true(x[0] == 0 && x[1] == 2 && x[2] == 0);
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    assert_true(mst_sparse_covariance(m, 0, 0, 0) == 0.25);
    mst_arena_free(arena);
}

static void a_row_that_is_too_long_is_refused(void **state) {
    (void)state;
    uint32_t start[] = {0, MST_SPARSE_ROW_MAX + 1}, columns[MST_SPARSE_ROW_MAX + 1];
    for (uint32_t i = 0; i <= MST_SPARSE_ROW_MAX; i++) columns[i] = i;
    mst_arena *arena = mst_arena_new();
    mst_sparse *m = NULL;
    mst_error error = {0};
    assert_int_equal(mst_sparse_analyse(MST_SPARSE_ROW_MAX + 1, 1, start, columns, arena, &m, &error), MST_INVALID);
    assert_null(m);
    assert_true(error.sentence[0] != '\0');
    mst_arena_free(arena);
}

static void none_at_all_is_no_crash(void **state) {
    (void)state;
    const uint32_t start[] = {0};
    mst_arena *arena = mst_arena_new();
    mst_sparse *m;
    assert_int_equal(mst_sparse_analyse(0, 0, start, NULL, arena, &m, NULL), MST_OK);
    mst_sparse_clear(m);
    assert_int_equal(mst_sparse_factor(m, 0, FREE_PIVOT), 0);
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(solves_and_inverts_as_a_dense_solver),
                                       cmocka_unit_test(a_floating_half_moves_as_one_and_the_rest_stays),
                                       cmocka_unit_test(an_unknown_without_readings_is_free),
                                       cmocka_unit_test(a_row_that_is_too_long_is_refused),
                                       cmocka_unit_test(none_at_all_is_no_crash)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
