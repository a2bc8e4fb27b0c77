/** @file survey/slips.h  The usual slips of the pen and the eye, each tried on the network as if it had been made. */
#ifndef SURVEY_SLIPS_H
#define SURVEY_SLIPS_H
#include "survey/suspects.h"

enum { MST_SLIP_READINGS = 8 };

/* The likeliest slip; all NULL when none is clearly likelier than a plain misreading. */
typedef struct mst_slip {
    const char *name;  /* for machines: "metres", "foot", "feet for metres", "digits", "point", "face" ... */
    const char *words; /* "a whole metre is the usual slip" */
    bool pinned;       /* on the readings below; else on any of the group */
    uint32_t reading[MST_SLIP_READINGS];
    double corrected[MST_SLIP_READINGS]; /* what they would be without it, m or rad */
    size_t count;
} mst_slip;

/** The value without the slip; NaN when it is not pinned on that reading. */
double mst_slip_corrected(const mst_slip *slip, uint32_t reading);

/** Tries the usual slips on a doubt and its like: for each the network is solved with the corrected reading, and the
 * slip is named when its gain, weighed by how usual it is, leaves no other explanation standing.
 * @param leader index into the doubts' list */
mst_status mst_slip_find(const mst_network *fresh, const mst_doubts *doubts, size_t leader, mst_slip *slip,
                         mst_error *error) MST_CHECKED;

#endif
