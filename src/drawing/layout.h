/** @file src/drawing/layout.h  One page: where everything lies, and the function that draws it on any surface. */
#ifndef DRAWING_LAYOUT_H
#define DRAWING_LAYOUT_H
#include "drawing/grid.h"
#include "drawing/ledger.h"

typedef struct mst_layout_request {
    const mst_plan *plan;
    const mst_sheet_text *text;
    const mst_drawing_options *options;
    const mst_paper *paper;
    const char *document;
} mst_layout_request;

typedef struct mst_layout {
    const mst_plan *plan;
    const mst_paper *paper;
    bool portrait;
    mst_sizes sizes;
    mst_rect frame, area, bars; /**< of the drawing space; of the plan; of the two bars */
    mst_columns columns;
    double note_mm, scale;
    mst_view view;
    mst_grid grid;
    mst_annotation annotation;
    mst_ledger ledger;
    mst_scale_bar scale_bar;
    double scale_bar_at[2], check_bar_at[2]; /**< left end of their base lines */
} mst_layout;

/** Arranges the page. @param pen measures only; it must be open while the layout is drawn.
 * @retval MST_INVALID does not fit, with what does; MST_NO_MEMORY */
mst_status mst_layout_make(const mst_layout_request *request, mst_pen *pen, mst_arena *arena, mst_layout *layout,
                           mst_error *error) MST_CHECKED;
/** Draws the page; the user unit of @p pen is 1 mm. @return false when memory is short */
bool mst_layout_draw(const mst_layout *layout, mst_pen *pen, mst_arena *arena);
#endif
