/** @file src/estimate/prices.h  Units, measures and money of a price list. */
#ifndef ESTIMATE_PRICES_H
#define ESTIMATE_PRICES_H
#include "merestone/estimate.h"

/** What a measure counts: 0 things, 1 metres, 2 square metres, 3 cubic metres; -1 when there is no such measure. */
int mst_measure_power(const char *measure);
/** Power of the metre that a unit stands for, and how many of the unit one such metre makes (m3 -> yd3: 1.308).
 * @return false for units that count things or mass (each, load, t, bag), where only a factor tells how many. */
bool mst_item_unit(const char *unit, int *power, double *per_si);
/** Checks one line: a unit that cannot come of its measure, a depth on a volume, a pack without its name ... Any page
 * may be NULL. */
mst_status mst_price_check(const mst_price_line *line, const char *page, mst_error *error) MST_CHECKED;
#endif
