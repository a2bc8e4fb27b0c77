/** @file src/ground/convex.h  Small convex polygons in plan: cut, and integrated exactly.
 *
 * Places count from a nearby origin, so that no digits go to the grid's size. */
#ifndef GROUND_CONVEX_H
#define GROUND_CONVEX_H
#include <stdbool.h>

enum { MST_CONVEX_MOST = 16 }; /* three triangles cut by each other have 9 corners; a plane adds one */

typedef struct mst_convex {
    double at[MST_CONVEX_MOST][2];
    int count;
} mst_convex;

/** A part of a polygon: its area, its centre of area, and the integral of a linear function over it. */
typedef struct mst_part {
    double area, centre[2], integral;
} mst_part;

/** The polygon of a counter-clockwise triangle, counted from @p origin. */
mst_convex mst_convex_triangle(const double *const corner[3], const double origin[2]);
/** What of @p p lies inside the counter-clockwise triangle @p t. @return false when nothing with an area does */
bool mst_convex_cut(const mst_convex *p, const mst_convex *t, mst_convex *out);
/** Area, centre and integral of the linear function with values d[] at the corners. */
mst_part mst_convex_part(const mst_convex *p, const double d[]);
/** Splits at d = 0; the new corners have d = 0 exactly. Either side may come out with count 0. */
void mst_convex_split(const mst_convex *p, const double d[], mst_convex *above, double d_above[], mst_convex *below,
                      double d_below[]);
#endif
