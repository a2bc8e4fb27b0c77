/** @file src/drawing/marks.h  Small signs: points, stakes, trees, arrows, bars. All in mm of paper. */
#ifndef DRAWING_MARKS_H
#define DRAWING_MARKS_H
#include "drawing/pen.h"
#include "drawing/style.h"

/** Half the side of the square that a point's sign takes. */
static const double MST_MARK_HALF_MM = 1.1;

typedef enum mst_point_sign { MST_SIGN_SPOT, MST_SIGN_UNPROVEN, MST_SIGN_CONTROL } mst_point_sign;
void mst_draw_point(mst_pen *pen, const mst_sizes *sizes, double x, double y, mst_point_sign sign);
void mst_draw_stake(mst_pen *pen, const mst_sizes *sizes, double x, double y);
void mst_draw_mark(mst_pen *pen, const mst_sizes *sizes, double x, double y, mst_mark mark);
/** A number in a ring: the key to the list beside the plan. */
enum { MST_NEXT_HALF_MM = 2 };
/** Where to take one more level: A for the best place, B ... */
void mst_draw_next(mst_pen *pen, double x, double y, size_t rank);
void mst_draw_key(mst_pen *pen, const mst_sizes *sizes, double x, double y, const char *number, double cap_mm);
/** An arrow @p length long with its middle at x, y, pointing along @p turn_rad. */
void mst_draw_arrow(mst_pen *pen, const mst_sizes *sizes, double x, double y, double turn_rad, double length);
/** The north arrow in a circle of @p radius about x, y; north is @p turn_rad clockwise from up. */
void mst_draw_north(mst_pen *pen, const mst_sizes *sizes, double x, double y, double radius, double turn_rad);

typedef struct mst_scale_bar {
    int parts;
    double part_m;
    const char *unit;
    double unit_m;
} mst_scale_bar;
/** The bar with round figures that comes nearest to, and is not longer than, @p longest_mm. */
mst_scale_bar mst_scale_bar_for(double scale, bool imperial, double longest_mm);
void mst_draw_scale_bar(mst_pen *pen, const mst_sizes *sizes, double x, double y, const mst_scale_bar *bar,
                        double scale);
/** The bar to lay a rule on: 100 mm, or 4 inches. */
double mst_check_bar_mm(bool imperial);
void mst_draw_check_bar(mst_pen *pen, const mst_sizes *sizes, double x, double y, bool imperial);
#endif
