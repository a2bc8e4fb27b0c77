/** @file merestone/drawing.h  Sheets true to scale: PDF, SVG and PNG of one page. */
#ifndef MERESTONE_DRAWING_H
#define MERESTONE_DRAWING_H
#include "merestone/setout.h"
#include "merestone/works.h"
#ifdef __cplusplus
extern "C" {
#endif

/** What a sheet says, beyond the site itself. All strings borrowed; "" or NULL where not given. */
typedef struct mst_sheet_text { const char *title, *supplement, *number, *revision, *revision_note, *date, *status, *owner, *creator, *approved,
    *client; int sheet, sheets; const char *datum; } mst_sheet_text;

typedef struct mst_drawing_input {
    const mst_site *site;
    const mst_adjustment *adjustment;
    const mst_ground *ground;               /**< may be NULL */
    const mst_earthwork_report *earthwork;  /**< may be NULL */
    const mst_element *elements; size_t element_count;
    const mst_setout_sheet *setout;         /**< may be NULL; stakes are drawn where given */
    mst_sheet_text text;
    double contour_interval_m;              /**< 0: chosen from the range of levels */
    bool imperial;
} mst_drawing_input;

typedef struct mst_drawing_options { const char *paper; /**< A4, A3, A2, A1, A0, letter, tabloid */ double scale; /**< 200 for 1:200; 0: the largest usual scale that fits */
    double north_up_turn_rad; /**< turn of the plan on the sheet, clockwise */ bool portrait; double png_dots_per_mm; /**< 0 = 8 */ } mst_drawing_options;

/** Draws the plan of the site into a file; its ending (.pdf, .svg, .png) says which. Written atomically.
 * The same input gives the same bytes. @param scale_used receives the scale. @retval MST_INVALID does not fit at that scale
 * (the sentence says which scale or paper does); MST_IO */
mst_status mst_draw_plan(const mst_drawing_input *input, const mst_drawing_options *options, const char *path, double *scale_used,
                         mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
