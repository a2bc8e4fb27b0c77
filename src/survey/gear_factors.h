/** @file survey/gear_factors.h  How much each gear of each visit scatters beside what its preset says. */
#ifndef SURVEY_GEAR_FACTORS_H
#define SURVEY_GEAR_FACTORS_H
#include "survey/suspects.h"

/** Variance components by groups of visit, gear and kind of reading, from the readings without the doubted ones.
 * Leaves the system as it was. The groups stand in the order of their first readings. */
mst_status mst_gear_factors_estimate(mst_system *system, const mst_doubts *doubts, mst_adjustment *adjustment,
                                     mst_error *error) MST_CHECKED;
/** Widens or narrows the sd of the network's readings by their group's factor. */
void mst_gear_factors_apply(mst_network *network, const mst_adjustment *adjustment);

#endif
