/** @file numeric/sparse.h  Normal equations of many unknowns, of which each reading touches a few.
 *
 * The pattern is analysed once; every iteration clears, adds its rows, factors and solves. Unknowns that nothing
 * fixes are found and left where they are. Memory grows with the entries of the factor, not with unknowns squared. */
#ifndef NUMERIC_SPARSE_H
#define NUMERIC_SPARSE_H
#include "merestone/base.h"

enum { MST_SPARSE_ROW_MAX = 12 }; /**< unknowns that one row may touch */

typedef struct mst_sparse mst_sparse; /**< opaque: pattern, values and factor must agree */

/** Analyses the pattern of a sum of row' row.
 * @param row_start  [rows + 1] where each row's columns start; columns of one row differ and are < @p unknowns
 * @param matrix     result in @p arena, which also frees it; borrows the two arrays for its whole life
 * Orders by approximate minimum degree (Amestoy, Davis, Duff, SIAM J. Matrix Anal. 17 (1996) 886-905).
 * @retval MST_INVALID a row touches too many unknowns; MST_NO_MEMORY */
mst_status mst_sparse_analyse(size_t unknowns, size_t rows, const uint32_t row_start[], const uint32_t columns[],
                              mst_arena *arena, mst_sparse **matrix, mst_error *error) MST_CHECKED;
/** As that, for unknowns that lie somewhere in a plane, so that mostly near ones meet: large systems are then ordered
 * by nested dissection (George, SIAM J. Numer. Anal. 10 (1973) 345-363), which keeps the factor smaller.
 * @param place [unknowns] easting and northing; NaN: anywhere. Read only now. */
mst_status mst_sparse_analyse_placed(size_t unknowns, size_t rows, const uint32_t row_start[], const uint32_t columns[],
                                     const double (*place)[2], mst_arena *arena, mst_sparse **matrix,
                                     mst_error *error) MST_CHECKED;
void mst_sparse_clear(mst_sparse *matrix);
/** Adds weight * row' row. @param coefficients one for each column of the row */
void mst_sparse_add(mst_sparse *matrix, size_t row, const double coefficients[], double weight);
/** Factors the matrix as it stands into L D L', scaled to a unit diagonal.
 * @param damping  added to the unit diagonal (Marquardt, SIAM J. 11 (1963) 431-441)
 * @param tolerance an unknown is free when its pivot is at most this part of its diagonal
 * @return how many unknowns are free; they keep a correction of 0 */
size_t mst_sparse_factor(mst_sparse *matrix, double damping, double tolerance);
/** The smallest pivot of the last factor, relative to its diagonal; free unknowns not counted. 1 is best. */
double mst_sparse_weakest(const mst_sparse *matrix);
/** @return true when the last factor left @p unknown free */
bool mst_sparse_is_free(const mst_sparse *matrix, size_t unknown);
/** Of each unknown: how far it moves in the motion that the readings leave open and that the free unknown @p which
 * stands for. Largest entry 1. @param motion [unknowns], in units in which each unknown's diagonal is 1 */
void mst_sparse_motion(const mst_sparse *matrix, size_t which, double motion[]);
/** Of each unknown: the most that it moves in any of these motions. @param most [unknowns] */
void mst_sparse_motions(const mst_sparse *matrix, double most[]);
/** Solves in place with the last factor; @p x [unknowns]. */
void mst_sparse_solve(const mst_sparse *matrix, double x[]);
/** Computes the entries of the inverse on the pattern of the factor (Takahashi, Fagan, Chen 1973; Erisman, Tinney,
 * Comm. ACM 18 (1975) 177-179), for mst_sparse_covariance and mst_sparse_variance. Spoils nothing. */
mst_status mst_sparse_invert(mst_sparse *matrix, mst_error *error) MST_CHECKED;
/** Entry of the inverse for the @p a-th and @p b-th column of @p row. */
double mst_sparse_covariance(const mst_sparse *matrix, size_t row, size_t a, size_t b);
/** Variance of one unknown: its entry on the diagonal of the inverse. */
double mst_sparse_diagonal(const mst_sparse *matrix, size_t unknown);
/** row Q row', Q being the inverse. */
double mst_sparse_variance(const mst_sparse *matrix, size_t row, const double coefficients[]);
/** Entries of the factor below its diagonal, for reports on size. */
size_t mst_sparse_size(const mst_sparse *matrix);

#endif
