/** @file operations/page_units.h  Pages whose lengths are in another unit than their header says. */
#ifndef OPERATIONS_PAGE_UNITS_H
#define OPERATIONS_PAGE_UNITS_H
#include "merestone/survey.h"

/** Finds the page that makes everything fit once its lengths are read in feet for metres, or the other way round. Cheap
 * where the readings fit: then nothing is tried.
 * @param adjustment  NULL where the readings settle on nothing
 * @param sentence  in @p arena: which page, and what to do; NULL where no page shows
 * @retval MST_NO_MEMORY  nothing else can go wrong */
mst_status mst_page_in_other_unit(const mst_site *site, const mst_adjustment *adjustment,
                                  const mst_adjust_options *options, mst_arena *arena,
                                  const char **sentence) MST_CHECKED;
#endif
