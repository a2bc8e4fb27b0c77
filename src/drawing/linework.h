/** @file src/drawing/linework.h  From metres on the plan to lines, fills and hatches on the paper. */
#ifndef DRAWING_LINEWORK_H
#define DRAWING_LINEWORK_H
#include "drawing/pen.h"
#include "drawing/plan.h"

/** How the plan lies on the paper: scale, clockwise turn, and where its origin comes to lie. */
typedef struct mst_view {
    double mm_per_m, cos_t, sin_t, turn_rad, x0, y0;
} mst_view;
mst_view mst_view_make(double scale, double turn_rad); /**< with the origin at 0, 0 */
/** Lays the middle of the plan's extent on the middle of @p area. */
void mst_view_centre(mst_view *view, mst_point low, mst_point high, mst_rect area);
void mst_to_paper(const mst_view *view, mst_point at, double *x, double *y);
mst_point mst_to_plan(const mst_view *view, double x, double y);

/** A path on the paper in short straight pieces, mm. A closed one repeats its first place at the end. */
typedef struct mst_track {
    double (*xy)[2];
    size_t count;
    bool closed;
} mst_track;
/** @return false when memory is short */
bool mst_track_of(const mst_view *view, const mst_path *path, mst_arena *arena, mst_track *track);
double mst_track_length(const mst_track *track);
/** The place at @p s mm along, and the direction of travel there. @return false beyond the end */
bool mst_track_at(const mst_track *track, double s, double *x, double *y, double *turn_rad);

/** The place of letter @p i of a line whose beat is a letter. @return false when there is none */
bool mst_letter_place(const mst_track *track, int i, double *x, double *y, double *turn_rad);

double mst_ink_width(const mst_sizes *sizes, mst_ink ink);
/** Adds the path to cairo's current path, arcs as true arcs. */
void mst_trace(cairo_t *cairo, const mst_view *view, const mst_path *path);
void mst_set_dash(cairo_t *cairo, mst_dash dash);
/** Draws a path in the manner of @p style. @return false when memory is short */
bool mst_draw_styled(mst_pen *pen, const mst_sizes *sizes, const mst_style *style, const mst_view *view,
                     const mst_path *path, mst_arena *arena);
void mst_draw_fill(mst_pen *pen, const mst_sizes *sizes, mst_fill fill, const mst_view *view, const mst_shape *shape);

typedef enum mst_earth { MST_EARTH_CUT = 1, MST_EARTH_FILL = 2 } mst_earth;
/** Hatches a pad: strokes where ground is cut, crosses where it is filled, a line where the two meet.
 * @return which of them there are, as a sum of mst_earth */
int mst_draw_hatch(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_plan_pad *pad);

/** Draws a contour with its gaps: [gap_count][2] from and to, mm along the track. */
void mst_draw_contour(mst_pen *pen, const mst_sizes *sizes, const mst_track *track, bool index, const double (*gaps)[2],
                      size_t gap_count);
#endif
