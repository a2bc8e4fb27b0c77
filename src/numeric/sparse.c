/* Multifrontal (Duff, Reid, ACM TOMS 9 (1983) 302-325; Liu, SIAM Review 34 (1992) 82-109): every front gathers its
 * entries and what its children pass on in one dense block, eliminates its columns there and passes the rest to its
 * parent on a stack. Nothing is allocated after the analysis but the room for an inverse. */
#include "numeric/sparse.h"
#include "numeric/panel.h"
#include "numeric/sparse_shape.h"
#include <limits.h>
#include <math.h>
#include <string.h>

struct mst_sparse {
    size_t unknowns, rows;
    const uint32_t *row_start, *columns;
    mst_shape shape;
    /* the lower triangle in the new order, by columns, each diagonal first */
    uint32_t *start, *cell_row; /* [places + 1], place of the entry's row */
    uint32_t *at;               /* where it stands in its front's panel */
    double *value, *inverse;    /* inverse: NULL until asked for */
    size_t *pair_start;         /* of each row: where its pairs begin in pair */
    uint32_t *pair;             /* of each pair of a row's columns: its entry */
    double *scale, *reciprocal; /* [places] 1 / root of the diagonal; 1 / the factor's diagonal, 0: free */
    double *factor, *stack, *room;
    size_t *passed_at; /* [fronts] where on the stack it left what it passed on */
    double *work;      /* [unknowns] zero between calls */
    double *gathered;  /* [rows of the largest front] */
    double weakest;
    mst_arena *arena;
};

static size_t pair_of(size_t a, size_t b) { return a <= b ? b * (b + 1) / 2 + a : a * (a + 1) / 2 + b; }

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the adjustment.");
}

/* ---- analysis ---- */

/* The rows that touch each unknown, and where in the row it stands. */
typedef struct touching {
    size_t *start;
    uint32_t *row;
    unsigned char *self;
} touching;

static bool find_touching(const mst_sparse *m, mst_arena *arena, touching *of) {
    size_t cells = m->row_start[m->rows];
    of->start = mst_arena_array(arena, m->unknowns + 2, sizeof *of->start);
    of->row = mst_arena_array(arena, cells + 1, sizeof *of->row);
    of->self = mst_arena_array(arena, cells + 1, sizeof *of->self);
    if (!of->start || !of->row || !of->self) return false;
    for (size_t k = 0; k < cells; k++) of->start[m->columns[k] + 2]++;
    for (size_t j = 0; j < m->unknowns; j++) of->start[j + 2] += of->start[j + 1];
    for (size_t r = 0; r < m->rows; r++)
        for (uint32_t k = m->row_start[r]; k < m->row_start[r + 1]; k++) {
            size_t to = of->start[m->columns[k] + 1]++;
            of->row[to] = (uint32_t)r;
            of->self[to] = (unsigned char)(k - m->row_start[r]);
        }
    return true;
}

/* Lists each unknown's neighbours once. @param mark [unknowns] all UINT32_MAX */
static mst_status find_pattern(const mst_sparse *m, const touching *of, uint32_t mark[], mst_arena *scratch,
                               mst_pattern *pattern, mst_error *error) {
    size_t most = 0, total = 0;
    for (size_t r = 0; r < m->rows; r++) {
        size_t c = m->row_start[r + 1] - m->row_start[r];
        most += c * c - c;
    }
    *pattern = (mst_pattern){m->unknowns, mst_arena_array(scratch, m->unknowns + 1, sizeof *pattern->start),
                             mst_arena_array(scratch, most + 1, sizeof *pattern->other)};
    if (!pattern->start || !pattern->other) return no_memory(error);
    for (uint32_t j = 0; j < m->unknowns; j++) {
        mark[j] = j;
        for (size_t t = of->start[j]; t < of->start[j + 1]; t++)
            for (uint32_t k = m->row_start[of->row[t]]; k < m->row_start[of->row[t] + 1]; k++) {
                uint32_t other = m->columns[k];
                if (mark[other] == j) continue;
                mark[other] = j;
                pattern->other[total++] = other;
            }
        if (total > INT_MAX / 2) return mst_fail(error, MST_INVALID, "The adjustment is too large: split the site.");
        pattern->start[j + 1] = (uint32_t)total;
    }
    return MST_OK;
}

static uint32_t front_at(const mst_shape *shape, uint32_t front, uint32_t place) {
    while (place >= shape->fronts[front].first + shape->fronts[front].columns) front++;
    return front;
}

/* Lays out the lower triangle. */
static bool lay_out_cells(mst_sparse *m, const mst_pattern *pattern, mst_arena *arena) {
    const mst_shape *shape = &m->shape;
    size_t n = m->unknowns, cells = n + pattern->start[n] / 2;
    m->start = mst_arena_array(arena, n + 1, sizeof *m->start);
    m->cell_row = mst_arena_array(arena, cells + 1, sizeof *m->cell_row);
    m->at = mst_arena_array(arena, cells + 1, sizeof *m->at);
    m->value = mst_arena_array(arena, cells + 1, sizeof *m->value);
    if (!m->start || !m->cell_row || !m->at || !m->value) return false;
    uint32_t to = 0, front = 0;
    for (uint32_t k = 0; k < n; k++) {
        uint32_t unknown = shape->order[k];
        front = front_at(shape, front, k);
        const mst_front *f = &shape->fronts[front];
        uint32_t column = (k - f->first) * f->stride;
        m->start[k] = to;
        m->cell_row[to] = k;
        m->at[to++] = column + k - f->first;
        for (uint32_t i = pattern->start[unknown]; i < pattern->start[unknown + 1]; i++) {
            uint32_t place = shape->place_of[pattern->other[i]];
            if (place < k) continue;
            m->cell_row[to] = place;
            m->at[to++] = column + mst_shape_local(shape, front, place);
        }
    }
    m->start[n] = to;
    return true;
}

/* Finds where every pair of every row goes. @param position [unknowns] work */
static bool lay_out_pairs(mst_sparse *m, const touching *of, uint32_t position[], mst_arena *arena) {
    const mst_shape *shape = &m->shape;
    m->pair_start = mst_arena_array(arena, m->rows + 1, sizeof *m->pair_start);
    if (!m->pair_start) return false;
    for (size_t r = 0; r < m->rows; r++) {
        size_t c = m->row_start[r + 1] - m->row_start[r];
        m->pair_start[r + 1] = m->pair_start[r] + c * (c + 1) / 2;
    }
    m->pair = mst_arena_array(arena, m->pair_start[m->rows] + 1, sizeof *m->pair);
    if (!m->pair) return false;
    for (uint32_t k = 0; k < m->unknowns; k++) {
        uint32_t unknown = shape->order[k];
        for (uint32_t i = m->start[k]; i < m->start[k + 1]; i++) position[m->cell_row[i]] = i;
        for (size_t t = of->start[unknown]; t < of->start[unknown + 1]; t++) {
            uint32_t first = m->row_start[of->row[t]], count = m->row_start[of->row[t] + 1] - first;
            uint32_t *pair = m->pair + m->pair_start[of->row[t]];
            for (uint32_t c = 0; c < count; c++) {
                uint32_t place = shape->place_of[m->columns[first + c]];
                if (place >= k) pair[pair_of(of->self[t], c)] = position[place];
            }
        }
    }
    return true;
}

static bool make_room(mst_sparse *m, mst_arena *arena) {
    const mst_shape *shape = &m->shape;
    m->scale = mst_arena_array(arena, m->unknowns + 1, sizeof *m->scale);
    m->reciprocal = mst_arena_array(arena, m->unknowns + 1, sizeof *m->reciprocal);
    m->work = mst_arena_array(arena, m->unknowns + 1, sizeof *m->work);
    m->gathered = mst_arena_array(arena, shape->rows_max + 1, sizeof *m->gathered);
    m->passed_at = mst_arena_array(arena, shape->front_count + 1, sizeof *m->passed_at);
    m->factor = mst_arena_array(arena, shape->panel_size + MST_PANEL_SLACK, sizeof *m->factor);
    m->stack = mst_arena_array(arena, shape->stack_size + MST_PANEL_SLACK, sizeof *m->stack);
    return m->scale && m->reciprocal && m->work && m->gathered && m->passed_at && m->factor && m->stack;
}

static mst_status analyse(mst_sparse *m, const double (*place)[2], mst_arena *arena, mst_arena *scratch,
                          mst_error *error) {
    touching of;
    mst_pattern pattern;
    uint32_t *mark = mst_arena_array(scratch, m->unknowns + 1, sizeof *mark);
    if (!mark || !find_touching(m, scratch, &of)) return no_memory(error);
    memset(mark, 0xff, m->unknowns * sizeof *mark);
    mst_status status = find_pattern(m, &of, mark, scratch, &pattern, error);
    if (status) return status;
    if (!mst_shape_find(&pattern, place, arena, scratch, &m->shape) || !lay_out_cells(m, &pattern, arena) ||
        !lay_out_pairs(m, &of, mark, arena) || !make_room(m, arena))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for an adjustment of %zu unknowns.", m->unknowns);
    return MST_OK;
}

mst_status mst_sparse_analyse(size_t unknowns, size_t rows, const uint32_t row_start[], const uint32_t columns[],
                              mst_arena *arena, mst_sparse **matrix, mst_error *error) {
    return mst_sparse_analyse_placed(unknowns, rows, row_start, columns, NULL, arena, matrix, error);
}

mst_status mst_sparse_analyse_placed(size_t unknowns, size_t rows, const uint32_t row_start[], const uint32_t columns[],
                                     const double (*place)[2], mst_arena *arena, mst_sparse **matrix,
                                     mst_error *error) {
    if (unknowns > INT_MAX / 4) return mst_fail(error, MST_INVALID, "The adjustment is too large: split the site.");
    for (size_t r = 0; r < rows; r++)
        if (row_start[r + 1] - row_start[r] > MST_SPARSE_ROW_MAX)
            return mst_fail(error, MST_INVALID, "A reading touches more than %d unknowns.", MST_SPARSE_ROW_MAX);
    mst_sparse *m = mst_arena_alloc(arena, sizeof *m);
    mst_arena *scratch = mst_arena_new();
    if (!m || !scratch) {
        mst_arena_free(scratch);
        return no_memory(error);
    }
    *m = (mst_sparse){.unknowns = unknowns, .rows = rows, .row_start = row_start, .columns = columns, .arena = arena};
    mst_status status = analyse(m, place, arena, scratch, error);
    mst_arena_free(scratch);
    if (!status) *matrix = m;
    return status;
}

/* ---- the sum of the rows ---- */

void mst_sparse_clear(mst_sparse *m) { memset(m->value, 0, m->start[m->unknowns] * sizeof *m->value); }

void mst_sparse_add(mst_sparse *m, size_t row, const double coefficients[], double weight) {
    size_t count = m->row_start[row + 1] - m->row_start[row];
    const uint32_t *pair = m->pair + m->pair_start[row];
    for (size_t b = 0; b < count; b++) {
        double weighted = weight * coefficients[b];
        for (size_t a = 0; a <= b; a++) m->value[*pair++] += weighted * coefficients[a];
    }
}

/* ---- the factor ---- */

static void find_scale(mst_sparse *m) {
    for (size_t k = 0; k < m->unknowns; k++) {
        double diagonal = m->value[m->start[k]];
        m->scale[k] = diagonal > 0 ? 1 / sqrt(diagonal) : 0;
    }
}

/* The front's own entries of the scaled matrix, whose diagonal is 1 and the damping. */
static void gather_cells(const mst_sparse *m, const mst_front *f, double damping, double *panel) {
    memset(panel, 0, (size_t)f->columns * f->stride * sizeof *panel);
    for (uint32_t k = f->first; k < f->first + f->columns; k++) {
        double scale = m->scale[k];
        for (uint32_t i = m->start[k] + 1; i < m->start[k + 1]; i++)
            panel[m->at[i]] = m->value[i] * m->scale[m->cell_row[i]] * scale;
        panel[m->at[m->start[k]]] = scale > 0 ? 1 + damping : 0;
    }
}

/* Adds what a child passed on to its parent's panel and, behind the panel's columns, to what that passes on. */
static void add_passed(const mst_sparse *m, const mst_front *child, const double *from, const mst_front *parent,
                       double *panel, double *passed) {
    const uint32_t *into = m->shape.into + child->list;
    size_t from_stride = mst_panel_stride(child->below), passed_stride = mst_panel_stride(parent->below);
    for (uint32_t j = 0; j < child->below; j++, from += from_stride) {
        uint32_t column = into[j], off = column < parent->columns ? 0 : parent->columns;
        double *to = off ? passed + (column - off) * passed_stride : panel + (size_t)column * parent->stride;
        for (uint32_t i = j; i < child->below; i++) to[into[i] - off] += from[i];
    }
}

/* Eliminates one front. @param top where the stack ends @return where it ends then */
static size_t eliminate(mst_sparse *m, uint32_t index, double damping, size_t top, mst_pivots *pivots) {
    const mst_front *f = &m->shape.fronts[index];
    double *panel = m->factor + f->panel, *passed = m->stack + top;
    size_t size = mst_shape_passed(f), base = top;
    gather_cells(m, f, damping, panel);
    memset(passed, 0, size * sizeof *passed);
    for (uint32_t c = f->child; c != MST_NO_FRONT; c = m->shape.fronts[c].sibling) {
        add_passed(m, &m->shape.fronts[c], m->stack + m->passed_at[c], f, panel, passed);
        if (m->passed_at[c] < base) base = m->passed_at[c];
    }
    mst_panel_factor(panel, f->stride, (size_t)f->columns + f->below, f->columns, m->reciprocal + f->first, pivots);
    if (f->below)
        mst_panel_downdate(passed, mst_panel_stride(f->below), f->below, panel + f->columns, f->stride, f->columns);
    m->passed_at[index] = base;
    if (base < top) memmove(m->stack + base, passed, size * sizeof *passed);
    return base + size;
}

size_t mst_sparse_factor(mst_sparse *m, double damping, double tolerance) {
    mst_pivots pivots = {tolerance, 1, 0};
    size_t top = 0;
    find_scale(m);
    for (uint32_t f = 0; f < m->shape.front_count; f++) top = eliminate(m, f, damping, top, &pivots);
    m->weakest = pivots.weakest;
    return pivots.missing;
}

double mst_sparse_weakest(const mst_sparse *m) { return m->weakest; }
bool mst_sparse_is_free(const mst_sparse *m, size_t unknown) { return m->reciprocal[m->shape.place_of[unknown]] == 0; }

size_t mst_sparse_size(const mst_sparse *m) {
    size_t entries = 0;
    for (size_t f = 0; f < m->shape.front_count; f++) {
        size_t columns = m->shape.fronts[f].columns;
        entries += columns * m->shape.fronts[f].below + columns * (columns - 1) / 2;
    }
    return entries;
}

/* ---- solving ---- */

static void solve_forward(const mst_sparse *m, const mst_front *f, double x[]) {
    const double *panel = m->factor + f->panel;
    const uint32_t *row = m->shape.row + f->list;
    double *own = x + f->first, *sum = m->gathered;
    for (uint32_t j = 0; j < f->columns; j++) {
        const double *column = panel + (size_t)j * f->stride;
        own[j] *= m->reciprocal[f->first + j];
        for (uint32_t i = j + 1; i < f->columns; i++) own[i] -= column[i] * own[j];
    }
    memset(sum, 0, f->below * sizeof *sum);
    mst_panel_add_columns(sum, panel + f->columns, f->stride, f->below, f->columns, own);
    for (uint32_t i = 0; i < f->below; i++) x[row[i]] -= sum[i];
}

/* @param kept a place whose value stands as it is, or MST_NO_FRONT */
static void solve_backward(const mst_sparse *m, const mst_front *f, double x[], uint32_t kept) {
    const double *panel = m->factor + f->panel;
    const uint32_t *row = m->shape.row + f->list;
    double *own = x + f->first, *others = m->gathered;
    for (uint32_t i = 0; i < f->below; i++) others[i] = x[row[i]];
    for (uint32_t j = f->columns; j-- > 0;) {
        if (f->first + j == kept) continue;
        const double *column = panel + (size_t)j * f->stride;
        double sum = mst_panel_dot(column + f->columns, others, f->below) +
                     mst_panel_dot(column + j + 1, own + j + 1, f->columns - j - 1);
        own[j] = (own[j] - sum) * m->reciprocal[f->first + j];
    }
}

static uint32_t front_of(const mst_shape *shape, uint32_t place) {
    uint32_t low = 0, high = (uint32_t)shape->front_count;
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (shape->fronts[middle].first <= place) low = middle;
        else high = middle;
    }
    return low;
}

/* Leaves the motion in work, at the places from the one returned to that of the unknown. @param largest of its entries
 */
static uint32_t find_motion(const mst_sparse *m, uint32_t place, double *largest) {
    const mst_shape *shape = &m->shape;
    uint32_t front = front_of(shape, place), lowest = shape->fronts[front].lowest;
    m->work[place] = 1;
    for (uint32_t f = front + 1; f-- > lowest;) solve_backward(m, &shape->fronts[f], m->work, place);
    *largest = 0;
    for (uint32_t k = shape->fronts[lowest].first; k <= place; k++) *largest = fmax(*largest, fabs(m->work[k]));
    return shape->fronts[lowest].first;
}

void mst_sparse_motion(const mst_sparse *m, size_t which, double motion[]) {
    double largest;
    uint32_t place = m->shape.place_of[which], first = find_motion(m, place, &largest);
    memset(motion, 0, m->unknowns * sizeof *motion);
    for (uint32_t k = first; k <= place; k++) {
        motion[m->shape.order[k]] = m->work[k] / largest;
        m->work[k] = 0;
    }
}

void mst_sparse_motions(const mst_sparse *m, double most[]) {
    memset(most, 0, m->unknowns * sizeof *most);
    for (uint32_t place = 0; place < m->unknowns; place++) {
        if (m->reciprocal[place] != 0) continue;
        double largest;
        for (uint32_t k = find_motion(m, place, &largest); k <= place; k++) {
            uint32_t unknown = m->shape.order[k];
            most[unknown] = fmax(most[unknown], fabs(m->work[k]) / largest);
            m->work[k] = 0;
        }
    }
}

void mst_sparse_solve(const mst_sparse *m, double x[]) {
    const mst_shape *shape = &m->shape;
    double *y = m->work;
    for (size_t k = 0; k < m->unknowns; k++) y[k] = x[shape->order[k]] * m->scale[k];
    for (size_t f = 0; f < shape->front_count; f++) solve_forward(m, &shape->fronts[f], y);
    for (size_t f = shape->front_count; f-- > 0;) solve_backward(m, &shape->fronts[f], y, MST_NO_FRONT);
    for (size_t k = 0; k < m->unknowns; k++) {
        x[shape->order[k]] = y[k] * m->scale[k];
        y[k] = 0;
    }
}

/* ---- the inverse on the pattern of the matrix ---- */

/* The inverse's rows and columns below a front are among those of its parent. */
static void take_from_parent(const mst_sparse *m, const mst_front *f, const double *from, double *z) {
    const uint32_t *into = m->shape.into + f->list;
    size_t from_stride = m->shape.fronts[f->parent].stride;
    for (uint32_t j = 0; j < f->below; j++) {
        const double *column = from + into[j] * from_stride;
        double *to = z + (size_t)(f->columns + j) * f->stride + f->columns;
        for (uint32_t i = 0; i < f->below; i++) to[i] = column[into[i]];
    }
}

static bool make_room_for_inverse(mst_sparse *m) {
    if (m->inverse) return true;
    m->room = mst_arena_array(m->arena,
                              m->shape.inverse_size + mst_panel_invert_work(m->shape.rows_max) + 2 * MST_PANEL_SLACK,
                              sizeof *m->room);
    if (m->room) m->inverse = mst_arena_array(m->arena, (size_t)m->start[m->unknowns] + 1, sizeof *m->inverse);
    return m->inverse;
}

mst_status mst_sparse_invert(mst_sparse *m, mst_error *error) {
    const mst_shape *shape = &m->shape;
    if (!make_room_for_inverse(m)) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the covariances.");
    double *work = m->room + shape->inverse_size + MST_PANEL_SLACK;
    for (uint32_t index = (uint32_t)shape->front_count; index-- > 0;) {
        const mst_front *f = &shape->fronts[index];
        size_t rows = (size_t)f->columns + f->below, begin = 0;
        if (f->parent != MST_NO_FRONT) begin = m->passed_at[f->parent];
        double *z = m->room + begin;
        if (f->parent != MST_NO_FRONT) {
            const mst_front *p = &shape->fronts[f->parent];
            take_from_parent(m, f, z - ((size_t)p->columns + p->below) * p->stride, z);
        }
        mst_panel_invert(z, m->factor + f->panel, f->stride, rows, f->columns, m->reciprocal + f->first, work);
        for (uint32_t i = m->start[f->first]; i < m->start[f->first + f->columns]; i++) m->inverse[i] = z[m->at[i]];
        m->passed_at[index] = begin + rows * f->stride; /* where its children's begin */
    }
    return MST_OK;
}

/* The entry of the unscaled inverse. */
static double inverse_at(const mst_sparse *m, uint32_t cell, uint32_t i, uint32_t k) {
    return m->inverse[cell] * m->scale[i] * m->scale[k];
}

double mst_sparse_covariance(const mst_sparse *m, size_t row, size_t a, size_t b) {
    const uint32_t *column = m->columns + m->row_start[row];
    return inverse_at(m, m->pair[m->pair_start[row] + pair_of(a, b)], m->shape.place_of[column[a]],
                      m->shape.place_of[column[b]]);
}

double mst_sparse_diagonal(const mst_sparse *m, size_t unknown) {
    uint32_t k = m->shape.place_of[unknown];
    return inverse_at(m, m->start[k], k, k);
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
