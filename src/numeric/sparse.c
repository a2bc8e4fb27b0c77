/* Rows are scattered into the upper triangle of the reordered matrix through places found once; the factor is built
 * row by row along the elimination tree (Davis, ACM TOMS 31 (2005) 587-591), which visits nothing that is zero. */
#include "numeric/sparse.h"
#include <amd.h>
#include <ldl.h>
#include <limits.h>
#include <math.h>
#include <string.h>

struct mst_sparse {
    size_t unknowns, rows;
    const uint32_t *row_start, *columns;
    int *order, *place_of; /* unknown at a place; place of an unknown */
    int *start, *index;    /* upper triangle by columns, diagonal included, in the new order */
    double *value;
    size_t *pair_start; /* of each row: where its pairs begin in pair */
    int *pair;          /* of each pair of a row's columns: its place in value */
    int *factor_start, *factor_index, *parent;
    double *factor, *pivot, *scale;
    double *inverse, *inverse_pivot;
    int *inverse_place;         /* of each entry of the upper triangle: its place in inverse, -1 the diagonal */
    int *mark, *stack, *filled; /* work, [unknowns] */
    double *work, *second;
    double weakest;
    mst_arena *arena;
};

static size_t pair_of(size_t a, size_t b) { return a <= b ? b * (b + 1) / 2 + a : a * (a + 1) / 2 + b; }

/* The rows that touch each unknown. */
typedef struct touching {
    size_t *start;
    uint32_t *row;
} touching;

static bool find_touching(const mst_sparse *m, mst_arena *arena, touching *of) {
    of->start = mst_arena_array(arena, m->unknowns + 2, sizeof *of->start);
    of->row = mst_arena_array(arena, m->row_start[m->rows] + 1, sizeof *of->row);
    if (!of->start || !of->row) return false;
    for (size_t k = 0; k < m->row_start[m->rows]; k++) of->start[m->columns[k] + 2]++;
    for (size_t j = 0; j < m->unknowns; j++) of->start[j + 2] += of->start[j + 1];
    for (size_t r = 0; r < m->rows; r++)
        for (size_t k = m->row_start[r]; k < m->row_start[r + 1]; k++)
            of->row[of->start[m->columns[k] + 1]++] = (uint32_t)r;
    return true;
}

/* Visits the neighbours of unknown j once each, j itself not among them; writes them when out is there. */
static size_t neighbours(const mst_sparse *m, const touching *of, size_t j, int *out) {
    size_t count = 0;
    m->mark[j] = (int)j;
    for (size_t t = of->start[j]; t < of->start[j + 1]; t++)
        for (size_t k = m->row_start[of->row[t]]; k < m->row_start[of->row[t] + 1]; k++) {
            size_t other = m->columns[k];
            if (m->mark[other] == (int)j) continue;
            m->mark[other] = (int)j;
            if (out) out[count] = (int)other;
            count++;
        }
    return count;
}

static void forget_marks(const mst_sparse *m) {
    for (size_t j = 0; j < m->unknowns; j++) m->mark[j] = -1;
}

static mst_status find_order(mst_sparse *m, const touching *of, mst_arena *scratch, mst_error *error) {
    int *start = mst_arena_array(scratch, m->unknowns + 1, sizeof *start);
    if (!start) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the pattern of the adjustment.");
    size_t total = 0;
    forget_marks(m);
    for (size_t j = 0; j < m->unknowns; j++) {
        start[j] = (int)total;
        total += neighbours(m, of, j, NULL);
        if (total > INT_MAX / 2) return mst_fail(error, MST_INVALID, "The adjustment is too large: split the site.");
    }
    start[m->unknowns] = (int)total;
    int *index = mst_arena_array(scratch, total + 1, sizeof *index);
    if (!index) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the pattern of the adjustment.");
    forget_marks(m);
    for (size_t j = 0; j < m->unknowns; j++) neighbours(m, of, j, index + start[j]);
    if (amd_order((int)m->unknowns, start, index, m->order, NULL, NULL) < AMD_OK)
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for ordering the adjustment.");
    for (size_t k = 0; k < m->unknowns; k++) m->place_of[m->order[k]] = (int)k;
    return MST_OK;
}

/* Lays out the upper triangle in the new order and finds where every pair of every row goes in it. */
static bool lay_out(mst_sparse *m, const touching *of, mst_arena *arena) {
    int *list = mst_arena_array(arena, m->unknowns + 1, sizeof *list);
    m->pair_start = mst_arena_array(arena, m->rows + 1, sizeof *m->pair_start);
    if (!list || !m->pair_start) return false;
    for (size_t r = 0; r < m->rows; r++) {
        size_t c = m->row_start[r + 1] - m->row_start[r];
        m->pair_start[r + 1] = m->pair_start[r] + c * (c + 1) / 2;
    }
    m->pair = mst_arena_array(arena, m->pair_start[m->rows] + 1, sizeof *m->pair);
    size_t total = 0;
    forget_marks(m);
    for (size_t k = 0; k < m->unknowns; k++) {
        size_t count = neighbours(m, of, (size_t)m->order[k], list);
        m->start[k] = (int)total++;
        for (size_t i = 0; i < count; i++) total += m->place_of[list[i]] < (int)k;
    }
    m->start[m->unknowns] = (int)total;
    m->index = mst_arena_array(arena, total + 1, sizeof *m->index);
    m->value = mst_arena_array(arena, total + 1, sizeof *m->value);
    if (!m->pair || !m->index || !m->value) return false;
    int *position = m->stack;
    forget_marks(m);
    for (size_t k = 0; k < m->unknowns; k++) {
        size_t unknown = (size_t)m->order[k], count = neighbours(m, of, unknown, list);
        int at = m->start[k];
        for (size_t i = 0; i < count; i++)
            if (m->place_of[list[i]] < (int)k) {
                position[list[i]] = at;
                m->index[at++] = m->place_of[list[i]];
            }
        position[unknown] = at;
        m->index[at] = (int)k;
        for (size_t t = of->start[unknown]; t < of->start[unknown + 1]; t++) {
            size_t r = of->row[t], first = m->row_start[r], self = 0;
            while (m->columns[first + self] != unknown) self++;
            for (size_t c = first; c < m->row_start[r + 1]; c++)
                if (m->place_of[m->columns[c]] <= (int)k)
                    m->pair[m->pair_start[r] + pair_of(self, c - first)] = position[m->columns[c]];
        }
    }
    return true;
}

/* The elimination tree and the room that the factor needs. */
static bool shape_factor(mst_sparse *m, mst_arena *arena) {
    size_t n = m->unknowns;
    m->factor_start = mst_arena_array(arena, n + 1, sizeof(int));
    m->parent = mst_arena_array(arena, n + 1, sizeof(int));
    if (!m->factor_start || !m->parent) return false;
    ldl_symbolic((int)n, m->start, m->index, m->factor_start, m->parent, m->filled, m->mark, NULL, NULL);
    size_t entries = (size_t)m->factor_start[n];
    m->factor_index = mst_arena_array(arena, entries + 1, sizeof(int));
    m->factor = mst_arena_array(arena, entries + 1, sizeof(double));
    m->pivot = mst_arena_array(arena, n + 1, sizeof(double));
    m->scale = mst_arena_array(arena, n + 1, sizeof(double));
    return m->factor_index && m->factor && m->pivot && m->scale;
}

static mst_status analyse(mst_sparse *m, mst_arena *arena, mst_arena *scratch, mst_error *error) {
    size_t n = m->unknowns + 1;
    m->order = mst_arena_array(arena, n, sizeof(int));
    m->place_of = mst_arena_array(arena, n, sizeof(int));
    m->start = mst_arena_array(arena, n + 1, sizeof(int));
    m->mark = mst_arena_array(arena, n, sizeof(int));
    m->stack = mst_arena_array(arena, n, sizeof(int));
    m->filled = mst_arena_array(arena, n, sizeof(int));
    m->work = mst_arena_array(arena, n, sizeof(double));
    touching of = {0};
    if (!m->order || !m->place_of || !m->start || !m->mark || !m->stack || !m->filled || !m->work ||
        !find_touching(m, scratch, &of))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for an adjustment of %zu unknowns.", m->unknowns);
    mst_status status = find_order(m, &of, scratch, error);
    if (status) return status;
    if (!lay_out(m, &of, arena) || !shape_factor(m, arena))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for an adjustment of %zu unknowns.", m->unknowns);
    return MST_OK;
}

mst_status mst_sparse_analyse(size_t unknowns, size_t rows, const uint32_t row_start[], const uint32_t columns[],
                              mst_arena *arena, mst_sparse **matrix, mst_error *error) {
    if (unknowns > INT_MAX / 4) return mst_fail(error, MST_INVALID, "The adjustment is too large: split the site.");
    for (size_t r = 0; r < rows; r++)
        if (row_start[r + 1] - row_start[r] > MST_SPARSE_ROW_MAX)
            return mst_fail(error, MST_INVALID, "A reading touches more than %d unknowns.", MST_SPARSE_ROW_MAX);
    mst_sparse *m = mst_arena_alloc(arena, sizeof *m);
    mst_arena *scratch = mst_arena_new();
    if (!m || !scratch) {
        mst_arena_free(scratch);
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for the adjustment.");
    }
    *m = (mst_sparse){.unknowns = unknowns, .rows = rows, .row_start = row_start, .columns = columns, .arena = arena};
    mst_status status = analyse(m, arena, scratch, error);
    mst_arena_free(scratch);
    if (!status) *matrix = m;
    return status;
}

void mst_sparse_clear(mst_sparse *m) { memset(m->value, 0, (size_t)m->start[m->unknowns] * sizeof *m->value); }

void mst_sparse_add(mst_sparse *m, size_t row, const double coefficients[], double weight) {
    size_t count = m->row_start[row + 1] - m->row_start[row];
    const int *pair = m->pair + m->pair_start[row];
    for (size_t b = 0; b < count; b++) {
        double weighted = weight * coefficients[b];
        for (size_t a = 0; a <= b; a++) m->value[*pair++] += weighted * coefficients[a];
    }
}

/* The entries of row k of the factor that are not zero, in the order in which they can be eliminated; they stand in
 * stack[top .. unknowns). Loads column k of the scaled matrix into work on the way. */
static size_t reach(mst_sparse *m, size_t k) {
    size_t top = m->unknowns;
    m->mark[k] = (int)k;
    for (int p = m->start[k]; p < m->start[k + 1] - 1; p++) {
        int i = m->index[p];
        m->work[i] = m->value[p] * m->scale[i] * m->scale[k];
        size_t length = 0;
        for (; m->mark[i] != (int)k; i = m->parent[i]) {
            m->stack[length++] = i;
            m->mark[i] = (int)k;
        }
        while (length > 0) m->stack[--top] = m->stack[--length];
    }
    return top;
}

/* Eliminates row k; returns its pivot. A free unknown has an infinite pivot, so it takes no part in later rows. */
static double eliminate(mst_sparse *m, size_t k, double pivot) {
    for (size_t top = reach(m, k); top < m->unknowns; top++) {
        int i = m->stack[top];
        double y = m->work[i];
        m->work[i] = 0;
        int p = m->factor_start[i], end = p + m->filled[i];
        for (; p < end; p++) m->work[m->factor_index[p]] -= m->factor[p] * y;
        double l = y / m->pivot[i];
        pivot -= l * y;
        m->factor_index[end] = (int)k;
        m->factor[end] = l;
        m->filled[i]++;
    }
    return pivot;
}

size_t mst_sparse_factor(mst_sparse *m, double damping, double tolerance) {
    size_t n = m->unknowns, free_count = 0;
    m->weakest = 1;
    for (size_t k = 0; k < n; k++) {
        double diagonal = m->value[m->start[k + 1] - 1];
        m->scale[k] = diagonal > 0 ? 1 / sqrt(diagonal) : 0;
        m->filled[k] = 0;
        m->work[k] = 0;
        m->mark[k] = -1;
    }
    for (size_t k = 0; k < n; k++) {
        double pivot = m->scale[k] > 0 ? eliminate(m, k, 1 + damping) : 0;
        if (m->scale[k] > 0 && pivot > tolerance) {
            m->pivot[k] = pivot;
            m->weakest = fmin(m->weakest, pivot);
        } else {
            if (!(m->scale[k] > 0)) eliminate(m, k, 1); /* keeps the pattern of the columns */
            m->pivot[k] = INFINITY;
            free_count++;
        }
    }
    return free_count;
}

double mst_sparse_weakest(const mst_sparse *m) { return m->weakest; }
bool mst_sparse_is_free(const mst_sparse *m, size_t unknown) { return isinf(m->pivot[m->place_of[unknown]]); }
size_t mst_sparse_size(const mst_sparse *m) { return (size_t)m->factor_start[m->unknowns]; }

static void lower_transposed_solve(const mst_sparse *m, double x[]) {
    for (size_t k = m->unknowns; k-- > 0;)
        for (int p = m->factor_start[k]; p < m->factor_start[k + 1]; p++) x[k] -= m->factor[p] * x[m->factor_index[p]];
}

void mst_sparse_motion(const mst_sparse *m, size_t which, double motion[]) {
    double *x = m->work, largest = 0;
    memset(x, 0, m->unknowns * sizeof *x);
    x[m->place_of[which]] = 1;
    lower_transposed_solve(m, x);
    for (size_t k = 0; k < m->unknowns; k++) largest = fmax(largest, fabs(x[k]));
    for (size_t k = 0; k < m->unknowns; k++) motion[m->order[k]] = x[k] / largest;
    memset(x, 0, m->unknowns * sizeof *x);
}

void mst_sparse_solve(const mst_sparse *m, double x[]) {
    double *y = m->work;
    for (size_t k = 0; k < m->unknowns; k++) y[k] = x[m->order[k]] * m->scale[k];
    for (size_t k = 0; k < m->unknowns; k++)
        for (int p = m->factor_start[k]; p < m->factor_start[k + 1]; p++) y[m->factor_index[p]] -= m->factor[p] * y[k];
    for (size_t k = 0; k < m->unknowns; k++) y[k] /= m->pivot[k];
    lower_transposed_solve(m, y);
    for (size_t k = 0; k < m->unknowns; k++) {
        x[m->order[k]] = y[k] * m->scale[k];
        y[k] = 0;
    }
}

/* ---- the inverse on the pattern of the factor ---- */

/* The entries of the scaled inverse in column j, from those of the columns behind it, all of which are there. */
static void invert_column(mst_sparse *m, size_t j, double l_of[]) {
    int first = m->factor_start[j], end = m->factor_start[j + 1];
    double *sum = m->work;
    for (int p = first; p < end; p++) {
        m->mark[m->factor_index[p]] = (int)j;
        l_of[m->factor_index[p]] = m->factor[p];
        sum[m->factor_index[p]] = 0;
    }
    for (int p = first; p < end; p++) {
        int k = m->factor_index[p];
        double l = m->factor[p], own = l * m->inverse_pivot[k];
        for (int q = m->factor_start[k]; q < m->factor_start[k + 1]; q++) {
            int i = m->factor_index[q];
            if (m->mark[i] != (int)j) continue;
            sum[i] += l * m->inverse[q];
            own += l_of[i] * m->inverse[q];
        }
        sum[k] += own;
    }
    double diagonal = 1 / m->pivot[j];
    for (int p = first; p < end; p++) {
        diagonal += m->factor[p] * sum[m->factor_index[p]];
        m->inverse[p] = -sum[m->factor_index[p]];
        sum[m->factor_index[p]] = 0;
    }
    m->inverse_pivot[j] = isinf(m->pivot[j]) ? 0 : diagonal;
}

/* Where the entry of the inverse for row k, column i < k stands. */
static int place_in_column(const mst_sparse *m, int i, int k) {
    int low = m->factor_start[i], high = m->factor_start[i + 1];
    while (low < high) {
        int middle = low + (high - low) / 2;
        if (m->factor_index[middle] < k) low = middle + 1;
        else high = middle;
    }
    return low;
}

static bool make_room_for_inverse(mst_sparse *m) {
    if (m->inverse) return true;
    size_t n = m->unknowns, entries = (size_t)m->factor_start[n];
    m->inverse_pivot = mst_arena_array(m->arena, n + 1, sizeof(double));
    m->inverse_place = mst_arena_array(m->arena, (size_t)m->start[n] + 1, sizeof(int));
    m->inverse = mst_arena_array(m->arena, entries + 1, sizeof(double));
    m->second = mst_arena_array(m->arena, n + 1, sizeof(double));
    if (!m->inverse_pivot || !m->inverse_place || !m->inverse || !m->second) return false;
    for (size_t k = 0; k < n; k++)
        for (int p = m->start[k]; p < m->start[k + 1]; p++)
            m->inverse_place[p] = m->index[p] == (int)k ? -1 : place_in_column(m, m->index[p], (int)k);
    return true;
}

mst_status mst_sparse_invert(mst_sparse *m, mst_error *error) {
    if (!make_room_for_inverse(m)) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the covariances.");
    forget_marks(m);
    for (size_t j = m->unknowns; j-- > 0;) invert_column(m, j, m->second);
    return MST_OK;
}

/* The entry of the unscaled inverse that belongs to the place of an entry of the upper triangle in column k. */
static double inverse_at(const mst_sparse *m, int place, int i, int k) {
    int at = m->inverse_place[place];
    return (at < 0 ? m->inverse_pivot[k] : m->inverse[at]) * m->scale[i] * m->scale[k];
}

double mst_sparse_covariance(const mst_sparse *m, size_t row, size_t a, size_t b) {
    const uint32_t *column = m->columns + m->row_start[row];
    int i = m->place_of[column[a]], k = m->place_of[column[b]];
    return inverse_at(m, m->pair[m->pair_start[row] + pair_of(a, b)], i < k ? i : k, i < k ? k : i);
}

double mst_sparse_diagonal(const mst_sparse *m, size_t unknown) {
    int k = m->place_of[unknown];
    return m->inverse_pivot[k] * m->scale[k] * m->scale[k];
}

double mst_sparse_variance(const mst_sparse *m, size_t row, const double coefficients[]) {
    size_t count = m->row_start[row + 1] - m->row_start[row];
    double sum = 0;
    for (size_t b = 0; b < count; b++) {
        double half = 0;
        for (size_t a = 0; a < b; a++) half += coefficients[a] * mst_sparse_covariance(m, row, a, b);
        sum += coefficients[b] * (2 * half + coefficients[b] * mst_sparse_covariance(m, row, b, b));
    }
    return sum;
}
