/** @file src/drawing/look.h  The ground's triangles under everything else: shade, bands of slope, tints of level. */
#ifndef DRAWING_LOOK_H
#define DRAWING_LOOK_H
#include "drawing/linework.h"

enum { MST_DOUBT_BANDS = 10 };

void mst_draw_look(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_plan *plan);
/** Samples for the legend, MST_LEGEND_SIGN_W wide as @p box is. */
void mst_draw_slope_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, int band);
void mst_draw_tint_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, int tint, int count);
/** Upper end of a band of doubt in m, a half 95 % interval; INFINITY for the last. */
double mst_doubt_band_end(int band);
int mst_doubt_band(double half_m); /**< 0 .. MST_DOUBT_BANDS - 1 */
void mst_draw_doubt_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, const mst_plan *plan, int band);
void mst_draw_shade_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box);
/** Does any triangle lie in it? */
bool mst_plan_has_band(const mst_plan *plan, int band);
bool mst_plan_has_tint(const mst_plan *plan, int tint);
#endif
