/** @file survey/covariances.h  What is kept of a solution so that the variance of any figure can be had later. */
#ifndef SURVEY_COVARIANCES_H
#define SURVEY_COVARIANCES_H
#include "survey/system.h"

mst_status mst_covariances_keep(const mst_system *system, mst_adjustment *adjustment, mst_error *error) MST_CHECKED;

#endif
