/** @file survey/covariances.h  What is kept of a solution so that the variance of any figure can be had later. */
#ifndef SURVEY_COVARIANCES_H
#define SURVEY_COVARIANCES_H
#include "survey/free_datum.h"

/** The standard ellipse: one in which a place lies with 39 %; bearing of its long axis in [0, pi). */
typedef struct mst_ellipse {
    double semi_major_m, semi_minor_m, bearing_rad;
} mst_ellipse;
/** From variances and covariance, m2. Mikhail and Gracie, Analysis and Adjustment of Survey Measurements (1981). */
mst_ellipse mst_ellipse_of(double east_east, double east_north, double north_north);

/** @param free NULL where errors count from what is held */
mst_status mst_covariances_keep(const mst_system *system, const mst_free_datum *free, mst_adjustment *adjustment,
                                mst_error *error) MST_CHECKED;
/** The solution that was kept; its rows stand in the order of the adjustment's observations. @param free NULL as above
 */
const mst_system *mst_covariances_system(const struct mst_covariances *kept, const mst_free_datum **free);

#endif
