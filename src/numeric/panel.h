/** @file numeric/panel.h  Kernels on small dense blocks, by columns. A block's columns stand `stride` numbers apart.
 *
 * Every sum runs in a fixed order whatever the machine's vectors are, so the bits are the same on all of them. The
 * kernels may read up to MST_PANEL_SLACK numbers behind a block, and use nothing of what they read there. */
#ifndef NUMERIC_PANEL_H
#define NUMERIC_PANEL_H
#include <stddef.h>

enum {
    MST_TILE_ROWS = 8,
    MST_TILE_COLUMNS = 4,
    MST_PANEL_SLACK = 16,
    MST_INVERSE_COLUMNS = 32 /* that are inverted at a time */
};

/* How pivots fared. */
typedef struct mst_pivots {
    double tolerance; /* a pivot at most this is none: its column becomes 0 */
    double weakest;
    size_t missing;
} mst_pivots;

/** @return the stride for that many rows: whole tiles, and not such that columns fall on each other in the cache */
size_t mst_panel_stride(size_t rows);
/** Cholesky factor of the first @p columns columns of a symmetric matrix of @p rows rows, in place, lower part.
 * @param stride     as mst_panel_stride gives it
 * @param reciprocal [columns] 1 over the factor's diagonal; 0 where the pivot is missing */
void mst_panel_factor(double *panel, size_t stride, size_t rows, size_t columns, double reciprocal[],
                      mst_pivots *pivots);
/** C -= A A', lower part, above it is left in disorder. C's columns and rows are filled up to whole tiles. */
void mst_panel_downdate(double *c, size_t c_stride, size_t count, const double *a, size_t a_stride, size_t depth);
/** to[i] += sum over the columns of a[i][j] x[j]. */
void mst_panel_add_columns(double to[], const double *a, size_t stride, size_t rows, size_t columns, const double x[]);
/** @return the sum of a[i] b[i], in four interleaved sums */
double mst_panel_dot(const double a[], const double b[], size_t count);
/** Completes the inverse of a symmetric matrix whose first columns are factored as in @p panel.
 * @param z    [rows x rows] with the panel's stride, both triangles; given behind the first columns
 * @param work [mst_panel_invert_work(rows)] */
void mst_panel_invert(double *z, const double *panel, size_t stride, size_t rows, size_t columns,
                      const double reciprocal[], double work[]);
size_t mst_panel_invert_work(size_t rows);

#endif
