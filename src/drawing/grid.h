/** @file src/drawing/grid.h  Crosses at round coordinates, and their figures along the edge of the plan. */
#ifndef DRAWING_GRID_H
#define DRAWING_GRID_H
#include "drawing/linework.h"
#include "drawing/place.h"

typedef struct mst_grid_figure {
    const char *text;
    double x, y, turn_rad;
    double half_w, half_h;
    double tick_x, tick_y;
} mst_grid_figure;
typedef struct mst_grid {
    double (*crosses)[2];
    size_t cross_count, cross_capacity;
    mst_grid_figure *figures;
    size_t figure_count, figure_capacity;
    double turn_rad, cap_mm;
} mst_grid;

/** @return false when memory is short */
bool mst_grid_make(const mst_plan *plan, const mst_view *view, const mst_sizes *sizes, mst_rect area, mst_pen *pen,
                   mst_arena *arena, mst_grid *grid);
void mst_grid_draw(const mst_grid *grid, mst_pen *pen, const mst_sizes *sizes);
#endif
