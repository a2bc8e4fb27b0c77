/** @file survey/free_datum.h  Errors counted from the middle of the network instead of from what was held. */
#ifndef SURVEY_FREE_DATUM_H
#define SURVEY_FREE_DATUM_H
#include "survey/system.h"

/** Inner constraints: shift, turn and level of the network as a whole are taken as known and all points alike share
 * what is left. Made from a solution with a minimal datum by an S-transformation (W. Baarda, S-Transformations and
 * Criterion Matrices, 1973; E. M. Mikhail and G. Gracie, Analysis and Adjustment of Survey Measurements, 1981, on inner
 * constraints). Places and residuals do not change. */
typedef struct mst_free_datum mst_free_datum;

/** @param turn whether the network's heading is free as well (not where bearings give it)
 * @param plan, height where nothing is given @retval MST_NO_MEMORY */
mst_status mst_free_datum_make(const mst_system *system, bool plan, bool turn, bool height, mst_free_datum **made,
                               mst_error *error) MST_CHECKED;
/** Covariances of a point's coordinates with those of the minimal datum given: e-e, e-n, n-n, h-h, m2. */
void mst_free_datum_point(const mst_free_datum *from, uint32_t node, double covariance[4]);
/** Turns a gradient by the points' coordinates into the one whose variance with the minimal datum is that without.
 * @param gradient [unknowns] by the unknowns; @param by [nodes][3] by every coordinate, held ones too */
void mst_free_datum_project(const mst_free_datum *from, double (*by)[3], double gradient[]);
/** Takes the common motion out of movements of all points. @param moved [nodes][3] east, north, up */
void mst_free_datum_settle(const mst_free_datum *from, double (*moved)[3]);

#endif
