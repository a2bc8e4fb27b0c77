/** @file survey/slips.h  The usual slips of the pen and the eye, recognised by their size. */
#ifndef SURVEY_SLIPS_H
#define SURVEY_SLIPS_H
#include "survey/network.h"

/** Names the slip that an error of that size in that reading usually is; NULL when it looks like none.
 * @param error  observed less what the others say, m or rad; @param sd of that error */
const char *mst_slip_named(const mst_reading *reading, double error, double sd);

#endif
