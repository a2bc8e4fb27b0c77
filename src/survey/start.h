/** @file survey/start.h  The datum, and first values near enough for the adjustment to find the best. */
#ifndef SURVEY_START_H
#define SURVEY_START_H
#include "survey/network.h"

/** Chooses the datum of levels, if none is there yet, and gives a first level to all that the readings reach. May be
 * called again when more points have a place in plan: zenith angles then carry further. What is still without a level
 * the last time may then count from the first visit's own. */
mst_status mst_start_heights(mst_network *net, bool last, mst_arena *scratch, mst_error *error) MST_CHECKED;
/** Chooses the datum in plan and gives a first place to every point that the readings reach. */
mst_status mst_start_plan(mst_network *net, mst_arena *scratch, mst_error *error) MST_CHECKED;
/** Carried horizontal line over the curved earth, less refraction: by how much a sight of that length looks up, m. */
double mst_curvature(double distance_m);

#endif
