/** @file survey/suspects.h  Readings that the others contradict. */
#ifndef SURVEY_SUSPECTS_H
#define SURVEY_SUSPECTS_H
#include "survey/system.h"

/** Data snooping (Baarda, A Testing Procedure for Use in Geodetic Networks, 1968), the worst first. Changes nothing in
 * the solution: the network stands as before when it returns. */
mst_status mst_suspects_find(mst_system *system, const mst_adjust_options *options, mst_adjustment *adjustment,
                             mst_error *error) MST_CHECKED;

#endif
