#include "drawing/grid.h"
#include <math.h>
#include <stdio.h>

static const double LEAST_SPACING_MM = 45, EDGE_MM = 4;

typedef struct maker {
    const mst_plan *plan;
    const mst_view *view;
    mst_rect area;
    mst_pen *pen;
    mst_arena *arena;
    mst_grid *grid;
    double step_m, unit_m;
    bool failed;
} maker;

static double spacing(double mm_per_m, double unit_m) {
    static const double steps[] = {1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (steps[i] * unit_m * mm_per_m >= LEAST_SPACING_MM) return steps[i] * unit_m;
    return 10000 * unit_m;
}

static bool inside(mst_rect r, double x, double y) { return x > r.x && x < r.x + r.w && y > r.y && y < r.y + r.h; }

static void add_cross(maker *m, double x, double y) {
    double(*slot)[2] = MST_PUSH(m->arena, m->grid->crosses, m->grid->cross_count, m->grid->cross_capacity);
    m->failed |= !slot;
    if (slot) (*slot)[0] = x, (*slot)[1] = y;
}

static void add_figure(maker *m, char axis, double value_m, double x, double y, bool upright) {
    char *text = mst_arena_printf(m->arena, "%c %.0f", axis, round(value_m / m->unit_m) + 0.0); /* -0 + 0 = 0 */
    mst_grid_figure *slot =
        text ? MST_PUSH(m->arena, m->grid->figures, m->grid->figure_count, m->grid->figure_capacity) : NULL;
    m->failed |= !slot;
    if (!slot) return;
    double half = mst_text_width(m->pen, text, (mst_type){m->grid->cap_mm, false}) / 2 + 0.6,
           high = m->grid->cap_mm / 2 + 0.5;
    *slot =
        (mst_grid_figure){text, x, y, upright ? -MST_PI / 2 : 0, upright ? high : half, upright ? half : high, x, y};
}

/* Where a line of constant easting (or northing) leaves through the edge of the plan, at its foot or at its left. */
static void edge_figure(maker *m, bool easting, double value_m) {
    const mst_view *v = m->view;
    double local = value_m - (easting ? m->plan->origin.easting_m : m->plan->origin.northing_m), x, y;
    double along[2] = {easting ? v->sin_t : v->cos_t, easting ? -v->cos_t : v->sin_t}; /* of the line, on paper */
    mst_to_paper(v, easting ? (mst_point){local, 0} : (mst_point){0, local}, &x, &y);
    bool foot = fabs(along[1]) >= fabs(along[0]);
    double foot_y = m->area.y + m->area.h - EDGE_MM / 2, left_x = m->area.x + EDGE_MM / 2;
    if (foot) x += (foot_y - y) * along[0] / along[1], y = foot_y;
    else y += (left_x - x) * along[1] / along[0], x = left_x;
    mst_rect r = mst_rect_inset(m->area, 1);
    if (foot ? x > r.x + 14 && x < r.x + r.w - 10 : y > r.y + 10 && y < r.y + r.h - 10)
        add_figure(m, easting ? 'E' : 'N', value_m, x, y, !foot);
}

static void extent(const maker *m, double low[2], double high[2]) {
    low[0] = low[1] = HUGE_VAL;
    high[0] = high[1] = -HUGE_VAL;
    for (int i = 0; i < 4; i++) {
        mst_point p = mst_to_plan(m->view, m->area.x + (i & 1 ? m->area.w : 0), m->area.y + (i & 2 ? m->area.h : 0));
        double e = p.easting_m + m->plan->origin.easting_m, n = p.northing_m + m->plan->origin.northing_m;
        low[0] = fmin(low[0], e), high[0] = fmax(high[0], e);
        low[1] = fmin(low[1], n), high[1] = fmax(high[1], n);
    }
}

static void add_crosses(maker *m, const double low[2], const double high[2]) {
    mst_rect r = mst_rect_inset(m->area, EDGE_MM + 2);
    for (double e = ceil(low[0] / m->step_m); e * m->step_m <= high[0]; e++)
        for (double n = ceil(low[1] / m->step_m); n * m->step_m <= high[1]; n++) {
            double x, y;
            mst_to_paper(
                m->view,
                (mst_point){e * m->step_m - m->plan->origin.easting_m, n * m->step_m - m->plan->origin.northing_m}, &x,
                &y);
            if (inside(r, x, y)) add_cross(m, x, y);
        }
}

bool mst_grid_make(const mst_plan *plan, const mst_view *view, const mst_sizes *sizes, mst_rect area, mst_pen *pen,
                   mst_arena *arena, mst_grid *grid) {
    double unit = plan->imperial ? MST_FOOT_M : 1, low[2], high[2];
    *grid = (mst_grid){.turn_rad = view->turn_rad, .cap_mm = sizes->note * 0.86};
    maker m = {plan, view, area, pen, arena, grid, spacing(view->mm_per_m, unit), unit, false};
    extent(&m, low, high);
    add_crosses(&m, low, high);
    for (int axis = 0; axis < 2; axis++)
        for (double i = ceil(low[axis] / m.step_m); i * m.step_m <= high[axis]; i++)
            edge_figure(&m, axis == 0, i * m.step_m);
    return !m.failed;
}

void mst_grid_draw(const mst_grid *grid, mst_pen *pen, const mst_sizes *sizes) {
    double c = 1.4 * cos(grid->turn_rad), s = 1.4 * sin(grid->turn_rad);
    mst_pen_tone(pen, MST_TONE_QUIET);
    for (size_t i = 0; i < grid->cross_count; i++) {
        double x = grid->crosses[i][0], y = grid->crosses[i][1];
        mst_pen_line(pen, x - c, y - s, x + c, y + s, sizes->fine);
        mst_pen_line(pen, x + s, y - c, x - s, y + c, sizes->fine);
    }
    for (size_t i = 0; i < grid->figure_count; i++) {
        const mst_grid_figure *f = &grid->figures[i];
        mst_text_turned(pen, f->x, f->y, f->turn_rad, f->text, (mst_type){grid->cap_mm, false});
    }
}
