/** @file src/works/lp.h  Linear programs: the least cost . x with row and column bounds. The seam to the LP library.
 *
 * lp_clp.c solves them with Clp; a build without it has lp_none.c instead, which says so. */
#ifndef WORKS_LP_H
#define WORKS_LP_H
#include "merestone/base.h"

typedef struct mst_lp_column {
    double lower, upper, cost;
} mst_lp_column;
typedef struct mst_lp_row {
    double lower, upper;
} mst_lp_row;
typedef struct mst_lp_term {
    int row, column;
    double factor;
} mst_lp_term;

/** Start from {.arena = ...}. A bound may be infinite. */
typedef struct mst_lp {
    mst_lp_column *columns;
    size_t column_count, column_capacity;
    mst_lp_row *rows;
    size_t row_count, row_capacity;
    mst_lp_term *terms;
    size_t term_count, term_capacity;
    mst_arena *arena;
    bool failed; /**< memory was short */
} mst_lp;
int mst_lp_column_add(mst_lp *lp, double lower, double upper, double cost);
int mst_lp_row_add(mst_lp *lp, double lower, double upper);
void mst_lp_term_add(mst_lp *lp, int row, int column, double factor);

/** The terms by column, rows in order within each: what solvers take. */
typedef struct mst_lp_matrix {
    int *start, *row;
    double *value;
} mst_lp_matrix;
bool mst_lp_matrix_of(const mst_lp *lp, mst_arena *arena, mst_lp_matrix *matrix);

bool mst_lp_available(void);
/** @param x  [columns]
 * @retval MST_NO nothing meets all bounds; MST_UNDETERMINED the cost has no least; MST_NOT_CONVERGED;
 *         MST_NOT_FOUND this build has no LP library */
mst_status mst_lp_solve(const mst_lp *lp, mst_arena *arena, double x[], double *cost, mst_error *error) MST_CHECKED;
#endif
