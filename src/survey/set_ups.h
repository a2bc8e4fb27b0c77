/** @file survey/set_ups.h  Which rows of an angles page share one zero of the circle and one height of the instrument.
 *
 * Rows that follow each other at one station do. So do rows that carry the same round at the same station, wherever
 * they stand on the page. A row that does not tell the instrument's height is of the set-up at hand. */
#ifndef SURVEY_SET_UPS_H
#define SURVEY_SET_UPS_H
#include "merestone/site.h"

typedef struct mst_set_up {
    double instrument_m; /* NaN where no row tells it */
    uint32_t turn;       /* for the caller; UINT32_MAX at first */
    bool said;           /* for the caller */
} mst_set_up;
typedef struct mst_set_ups {
    mst_set_up *list;
    size_t count, capacity;
    uint32_t *of_row; /* [rows of the page] */
} mst_set_ups;

/** @return false when memory is short */
bool mst_set_ups_find(const mst_page *page, mst_arena *arena, mst_set_ups *set_ups);

#endif
