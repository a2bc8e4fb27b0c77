/** @file survey/slips.h  The usual slips of the pen and the eye, each tried on the network as if it had been made. */
#ifndef SURVEY_SLIPS_H
#define SURVEY_SLIPS_H
#include "survey/suspects.h"

/* The likeliest slip; all NULL when none is clearly likelier than a plain misreading. */
typedef struct mst_slip {
    const char *name;  /* for machines: "metres", "foot", "feet for metres", "digits", "point", "face" ... */
    const char *words; /* "a whole metre is the usual slip" */
    uint32_t reading;  /* on which reading of the group */
    double corrected;  /* what the reading would be without it, m or rad */
} mst_slip;

/** Tries the usual slips on a doubt and its like: for each the network is solved with the corrected reading, and the
 * slip is named when its gain, weighed by how usual it is, leaves no other explanation standing.
 * @param leader index into the doubts' list */
mst_status mst_slip_find(const mst_network *fresh, const mst_doubts *doubts, size_t leader, mst_slip *slip,
                         mst_error *error) MST_CHECKED;

#endif
