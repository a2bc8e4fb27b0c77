/** @file src/geometry/predicates.h  The exact ends of the predicates, for callers that filter inline. */
#ifndef GEOMETRY_PREDICATES_H
#define GEOMETRY_PREDICATES_H

/* Error bounds of the rounded determinants over the sum of their terms' magnitudes (Shewchuk 1997, sections 4.3, 4.4);
 * HALF_ULP is half a unit in the last place of 1. */
#define MST_HALF_ULP 0x1p-53
#define MST_ORIENT_BOUND ((3 + 16 * MST_HALF_ULP) * MST_HALF_ULP)
#define MST_INCIRCLE_BOUND ((10 + 96 * MST_HALF_ULP) * MST_HALF_ULP)

/** As mst_orient2d and mst_incircle, without the quick way out. */
double mst_orient2d_exact(const double a[2], const double b[2], const double c[2]);
double mst_incircle_exact(const double a[2], const double b[2], const double c[2], const double d[2]);
#endif
