/** @file survey/tape.h  What a tape would have read at its standard: its scale, warmth and sag taken out. */
#ifndef SURVEY_TAPE_H
#define SURVEY_TAPE_H
#include "merestone/site.h"

/** The length of a row of a tape page, corrected for what the row states, m. Slope is left to the adjustment, which
 * knows the levels. Source: Wolf and Ghilani, Elementary Surveying, chapter 6. @param value [MST_COLUMNS_MAX] cells */
double mst_tape_corrected(const double value[]);

#endif
