/** @file src/ground/roughness.h  How the ground between the points differs from the triangles, as a random function.
 *
 * The ground's level is taken as an intrinsic random function of order 1 (G. Matheron, The intrinsic random functions
 * and their applications, Advances in Applied Probability 5 (1973) 439-468; J.-P. Chiles and P. Delfiner,
 * Geostatistics, chapter 4): nothing is said of its level and slope, only of what is left when both are taken out.
 * Every error of a triangle is such a rest, because a triangle carries levels and slopes through unharmed. */
#ifndef GROUND_ROUGHNESS_H
#define GROUND_ROUGHNESS_H
#include "ground/model.h"
#include <math.h>

/** A generalised covariance: the sum of kernel[k] h^(k/2), for the square of the distance h. Its value at 0 is 0. */
static inline double mst_covariance_at(const double kernel[MST_KERNEL_TERMS], double square) {
    double h = sqrt(square), s = sqrt(h);
    double low = s * (kernel[1] + s * (kernel[2] + s * kernel[3]));
    double high = square * s * (kernel[5] + s * (kernel[6] + s * kernel[7]));
    return low + high;
}

/** The sum of products of shares and covariances of two checks. */
double mst_checks_covary(const mst_ground *ground, const mst_check *a, const mst_check *b,
                         const double kernel[MST_KERNEL_TERMS]);
/** The same for the readings' errors. @param variance by corner, of its level */
double mst_checks_share(const mst_check *a, const mst_check *b, const double variance[]);
/** Checks at every measured point that no breakline, rim or hole touches, along a Z-order curve. */
mst_status mst_leave_one_out(const mst_ground *ground, mst_arena *scratch, mst_arena *arena, mst_check **checks,
                             size_t *count) MST_CHECKED;
double mst_expected_above(double u);
/** Sets the checks' and corners' scales from the roughness as it stands; all 1 where place explains nothing. */
mst_status mst_scale_locally(mst_ground *ground, mst_arena *scratch) MST_CHECKED;
/** The scale inside a facet: that of its corners together. */
double mst_facet_scale(const mst_ground *ground, uint32_t facet);

/** Predicts the ground inside the facets, where there are few enough. @param arena the ground's own */
mst_status mst_look_inside(mst_ground *ground, mst_arena *scratch, mst_arena *arena);

/* ---- dense.c: small symmetric positive matrices, lower triangles, rows of @p stride ---- */

/** Cholesky factor in place. @return false when the matrix is not positive */
bool mst_dense_factor(double *a, size_t count, size_t stride);
/** x = L^-1 x. */
void mst_dense_forward(const double *l, size_t count, size_t stride, double x[]);
/** x = L'^-1 x. */
void mst_dense_back(const double *l, size_t count, size_t stride, double x[]);
#endif
