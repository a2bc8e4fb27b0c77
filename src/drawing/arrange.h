/** @file src/drawing/arrange.h  How plan and words share a sheet, and at which scale. */
#ifndef DRAWING_ARRANGE_H
#define DRAWING_ARRANGE_H
#include "drawing/ledger.h"

/** One way to share the drawing space: the columns of words, the plan, the two bars under it. `list_rows`
 * are the rows of the list that it keeps room for. */
typedef struct mst_arrangement {
    mst_columns columns;
    mst_rect area, bars;
    double note_mm;
    size_t list_rows;
} mst_arrangement;
typedef struct mst_extent {
    double w_m, h_m;
} mst_extent; /**< of the site as it lies on the sheet */

/** Takes the largest usual scale that is not larger than @p scale (0: no bound), and says which. @retval MST_INVALID no
 * room for a plan, or a site too large for any scale */
mst_status mst_arrange_automatically(const mst_ledger *ledger, mst_pen *pen, bool portrait, mst_extent site,
                                     double *scale, mst_arrangement *way, mst_error *error) MST_CHECKED;
/** Takes that scale, if need be with a shorter list and smaller notes. @retval MST_INVALID with what would fit */
mst_status mst_arrange_at(const mst_ledger *ledger, mst_pen *pen, bool portrait, mst_extent site, double scale,
                          mst_arrangement *way, mst_error *error) MST_CHECKED;
#endif
