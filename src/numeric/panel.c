/* All heavy work is one product of an 8-row strip with a 4-column strip, held in registers (Goto, van de Geijn, ACM
 * TOMS 34 (2008) 12). Blocks are halved until they are four columns wide (recursive Cholesky: Gustavson, IBM J. Res.
 * Dev. 41 (1997) 737-755). */
#include "numeric/panel.h"
#include <math.h>
#include <string.h>

/* The same code for wider vectors where the machine has them. The bits are the same: nothing is contracted and no sum
 * is reordered. Not with sanitizers, whose start comes later than the choice. */
#if defined(__x86_64__) && defined(__linux__) && defined(__GNUC__) && !defined(__clang__) &&                           \
    !defined(__SANITIZE_ADDRESS__)
#define FOR_EACH_MACHINE __attribute__((target_clones("avx2", "default")))
#else
#define FOR_EACH_MACHINE
#endif

enum {
    ROWS = MST_TILE_ROWS,
    COLUMNS = MST_TILE_COLUMNS,
    DEPTH_MAX = 128, /* of a strip that should stay in the first cache */
    NARROW = 4,
    BLOCK = MST_INVERSE_COLUMNS,
    MANY_TILES = 16 /* from here on an odd number of lines, so that columns spread over the cache */
};

size_t mst_panel_stride(size_t rows) {
    size_t tiles = (rows + ROWS - 1) / ROWS; /* a tile's column is one cache line */
    return (tiles >= MANY_TILES && tiles % 2 == 0 ? tiles + 1 : tiles) * ROWS;
}

/* sum[j][i] = sum over k of a[i at k] b[j at k] */
static inline void multiply(size_t depth, const double *a, size_t a_stride, const double *b, size_t b_stride,
                            double sum[COLUMNS][ROWS]) {
    double s[COLUMNS][ROWS];
    for (int j = 0; j < COLUMNS; j++)
        for (int i = 0; i < ROWS; i++) s[j][i] = 0;
    for (size_t k = 0; k < depth; k++, a += a_stride, b += b_stride)
        for (int j = 0; j < COLUMNS; j++)
            for (int i = 0; i < ROWS; i++) s[j][i] += a[i] * b[j];
    for (int j = 0; j < COLUMNS; j++)
        for (int i = 0; i < ROWS; i++) sum[j][i] = s[j][i];
}

/* C -= A B' on whole tiles of rows; of columns just those that are there. Tiles that lie wholly above the diagonal are
 * left out; the diagonal of C starts in row `skew`. */
typedef struct product {
    double *c;
    const double *a, *b;
    size_t c_stride, a_stride, b_stride, rows, columns, depth, skew;
} product;

FOR_EACH_MACHINE static void subtract_product(const product *p) {
    for (size_t j = 0; j < p->columns; j += COLUMNS)
        for (size_t i = (j + p->skew) / ROWS * ROWS; i < p->rows; i += ROWS) {
            double sum[COLUMNS][ROWS];
            multiply(p->depth, p->a + i, p->a_stride, p->b + j, p->b_stride, sum);
            size_t count = p->columns - j < COLUMNS ? p->columns - j : COLUMNS;
            double *c = p->c + j * p->c_stride + i;
            for (size_t k = 0; k < count; k++, c += p->c_stride)
                for (int r = 0; r < ROWS; r++) c[r] -= sum[k][r];
        }
}

static void subtract_deep_product(product p) {
    for (size_t left = p.depth; left > 0; left -= p.depth) {
        p.depth = left < DEPTH_MAX ? left : DEPTH_MAX;
        subtract_product(&p);
        p.a += p.depth * p.a_stride;
        p.b += p.depth * p.b_stride;
    }
}

void mst_panel_downdate(double *c, size_t c_stride, size_t count, const double *a, size_t a_stride, size_t depth) {
    subtract_deep_product((product){c, a, a, c_stride, a_stride, a_stride, count, count, depth, 0});
}

/* A few columns, each taken off those behind it at once. */
FOR_EACH_MACHINE static void factor_narrow(double *panel, size_t stride, size_t rows, size_t first, size_t end,
                                           double reciprocal[], mst_pivots *pivots) {
    for (size_t k = first; k < end; k++) {
        double *column = panel + k * stride, pivot = column[k];
        if (!(pivot > pivots->tolerance)) {
            pivots->missing++;
            reciprocal[k] = 0;
            memset(column + k, 0, (rows - k) * sizeof *column);
            continue;
        }
        if (pivot < pivots->weakest) pivots->weakest = pivot;
        double by = 1 / sqrt(pivot);
        reciprocal[k] = by;
        for (size_t i = k; i < rows; i++) column[i] *= by;
        for (size_t j = k + 1; j < end; j++) {
            double *other = panel + j * stride, share = column[j];
            for (size_t i = j; i < rows; i++) other[i] -= column[i] * share;
        }
    }
}

static void factor_range(double *panel, size_t stride, size_t rows, size_t first, size_t end, double reciprocal[],
                         mst_pivots *pivots) {
    size_t width = end - first;
    if (width <= NARROW) {
        factor_narrow(panel, stride, rows, first, end, reciprocal, pivots);
        return;
    }
    size_t middle = first + (width / 2 + NARROW - 1) / NARROW * NARROW, top = middle / ROWS * ROWS;
    factor_range(panel, stride, rows, first, middle, reciprocal, pivots);
    const double *left = panel + first * stride;
    subtract_deep_product((product){panel + middle * stride + top, left + top, left + middle, stride, stride, stride,
                                    rows - top, end - middle, middle - first, middle - top});
    factor_range(panel, stride, rows, middle, end, reciprocal, pivots);
}

void mst_panel_factor(double *panel, size_t stride, size_t rows, size_t columns, double reciprocal[],
                      mst_pivots *pivots) {
    factor_range(panel, stride, rows, 0, columns, reciprocal, pivots);
}

FOR_EACH_MACHINE void mst_panel_add_columns(double to[], const double *a, size_t stride, size_t rows, size_t columns,
                                            const double x[]) {
    for (size_t j = 0; j < columns; j++, a += stride) {
        double by = x[j];
        for (size_t i = 0; i < rows; i++) to[i] += a[i] * by;
    }
}

double mst_panel_dot(const double a[], const double b[], size_t count) {
    double sum[4] = {0};
    size_t i = 0;
    for (; i + 4 <= count; i += 4)
        for (int k = 0; k < 4; k++) sum[k] += a[i + k] * b[i + k];
    for (; i < count; i++) sum[0] += a[i] * b[i];
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

/* ---- the inverse ---- */

/* Columns [first, first + width) of a front; `below` rows stand under them. */
typedef struct piece {
    double *z;
    const double *panel, *reciprocal;
    size_t stride, first, width, below;
    double *y, *strips; /* work */
} piece;

size_t mst_panel_invert_work(size_t rows) { return 2 * (rows + ROWS) * BLOCK; }

/* y = L21 / L11, by columns, [below x width] */
FOR_EACH_MACHINE static void divide_by_triangle(const piece *p) {
    size_t below = p->below, under = p->first + p->width;
    for (size_t j = p->width; j-- > 0;) {
        const double *column = p->panel + (p->first + j) * p->stride;
        double *y = p->y + j * below, by = p->reciprocal[p->first + j];
        memcpy(y, column + under, below * sizeof *y);
        for (size_t k = j + 1; k < p->width; k++) {
            const double *other = p->y + k * below;
            double share = column[p->first + k];
            for (size_t i = 0; i < below; i++) y[i] -= other[i] * share;
        }
        for (size_t i = 0; i < below; i++) y[i] *= by;
    }
}

/* Lays y out in strips of four columns, filled up with zeros. */
static void cut_into_strips(const piece *p) {
    for (size_t j = 0; j < p->width; j += COLUMNS) {
        double *strip = p->strips + j * p->below;
        for (size_t c = 0; c < COLUMNS; c++)
            for (size_t k = 0; k < p->below; k++)
                strip[k * COLUMNS + c] = j + c < p->width ? p->y[(j + c) * p->below + k] : 0;
    }
}

/* Z21 -= Z22 y for some of the rows of y */
FOR_EACH_MACHINE static void subtract_below(const piece *p, size_t from, size_t depth) {
    size_t under = p->first + p->width;
    for (size_t i = 0; i < p->below; i += ROWS)
        for (size_t j = 0; j < p->width; j += COLUMNS) {
            double sum[COLUMNS][ROWS];
            multiply(depth, p->z + (under + from) * p->stride + under + i, p->stride,
                     p->strips + j * p->below + from * COLUMNS, COLUMNS, sum);
            size_t columns = p->width - j < COLUMNS ? p->width - j : COLUMNS;
            size_t rows = p->below - i < ROWS ? p->below - i : ROWS;
            double *to = p->z + (p->first + j) * p->stride + under + i;
            for (size_t c = 0; c < columns; c++, to += p->stride)
                for (size_t r = 0; r < rows; r++) to[r] -= sum[c][r];
        }
}

/* Z21 = -Z22 y, and Z12 as its mirror image */
static void fill_below(const piece *p) {
    size_t under = p->first + p->width;
    for (size_t j = 0; j < p->width; j++) memset(p->z + (p->first + j) * p->stride + under, 0, p->below * sizeof *p->z);
    for (size_t from = 0; from < p->below; from += DEPTH_MAX)
        subtract_below(p, from, p->below - from < DEPTH_MAX ? p->below - from : DEPTH_MAX);
    for (size_t i = under; i < under + p->below; i++)
        for (size_t j = p->first; j < under; j++) p->z[i * p->stride + j] = p->z[j * p->stride + i];
}

/* w = 1 / L11, by columns, lower */
static void invert_triangle(const piece *p, double w[BLOCK][BLOCK]) {
    for (size_t j = 0; j < p->width; j++) {
        for (size_t i = 0; i < p->width; i++) w[j][i] = i == j;
        for (size_t k = j; k < p->width; k++) {
            const double *column = p->panel + (p->first + k) * p->stride + p->first;
            w[j][k] *= p->reciprocal[p->first + k];
            for (size_t i = k + 1; i < p->width; i++) w[j][i] -= column[i] * w[j][k];
        }
    }
}

/* Z11 = w' w - y' Z21 */
FOR_EACH_MACHINE static void fill_diagonal(const piece *p) {
    double w[BLOCK][BLOCK];
    invert_triangle(p, w);
    size_t under = p->first + p->width;
    for (size_t j = 0; j < p->width; j += COLUMNS)
        for (size_t i = j / ROWS * ROWS; i < p->width; i += ROWS) {
            double sum[COLUMNS][ROWS];
            multiply(p->below, p->z + under * p->stride + p->first + i, p->stride, p->strips + j * p->below, COLUMNS,
                     sum);
            for (size_t c = 0; c < COLUMNS && j + c < p->width; c++)
                for (size_t r = 0; r < ROWS && i + r < p->width; r++) {
                    size_t a = i + r, b = j + c;
                    if (a < b) continue;
                    double own = mst_panel_dot(w[a] + a, w[b] + a, p->width - a) - sum[c][r];
                    p->z[(p->first + b) * p->stride + p->first + a] = own;
                    p->z[(p->first + a) * p->stride + p->first + b] = own;
                }
        }
}

void mst_panel_invert(double *z, const double *panel, size_t stride, size_t rows, size_t columns,
                      const double reciprocal[], double work[]) {
    for (size_t end = columns; end > 0;) {
        size_t first = (end - 1) / BLOCK * BLOCK;
        piece p = {z, panel, reciprocal, stride, first, end - first, rows - end, work, work + (rows + ROWS) * BLOCK};
        divide_by_triangle(&p);
        cut_into_strips(&p);
        fill_below(&p);
        fill_diagonal(&p);
        end = first;
    }
}
