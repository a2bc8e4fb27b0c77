/* Fills of areas and hatches of earthworks. All lie on one lattice of the paper, so that neighbours match. */
#include "drawing/linework.h"
#include <math.h>

static const double LEAST_CUT_M = 0.003; /* less than a level can tell is neither cut nor fill */

typedef struct lattice {
    mst_pen *pen;
    const mst_sizes *sizes;
    mst_rect area;
} lattice;

/* Clips to the shape; the lattice covers what is left. */
static lattice clip_to(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_shape *shape) {
    double x0, y0, x1, y1;
    cairo_new_path(pen->cairo);
    for (size_t i = 0; i < shape->count; i++) mst_trace(pen->cairo, view, &shape->paths[i]);
    cairo_set_fill_rule(pen->cairo, CAIRO_FILL_RULE_EVEN_ODD);
    cairo_clip(pen->cairo);
    cairo_clip_extents(pen->cairo, &x0, &y0, &x1, &y1);
    return (lattice){pen, sizes, {x0, y0, x1 - x0, y1 - y0}};
}

/* A fixed scatter in [-1, 1] for cell (i, k): stipple by rule looks like a screen, by clock it would not repeat. */
static double scatter(int64_t i, int64_t k, uint32_t salt) {
    uint32_t h = (uint32_t)i * 2654435761u ^ (uint32_t)k * 2246822519u ^ salt * 3266489917u;
    h ^= h >> 15;
    h *= 2246822519u;
    h ^= h >> 13;
    return (double)(h & 0xffff) / 32767.5 - 1;
}

typedef void stamp(const lattice *l, double x, double y);

/* Stamps on staggered rows @p step apart, moved by up to @p loose of a step. */
static void scatter_stamps(const lattice *l, double step, double loose, stamp *draw) {
    int64_t r0 = (int64_t)floor(l->area.y / step) - 1, r1 = (int64_t)ceil((l->area.y + l->area.h) / step) + 1;
    int64_t c0 = (int64_t)floor(l->area.x / step) - 1, c1 = (int64_t)ceil((l->area.x + l->area.w) / step) + 1;
    for (int64_t r = r0; r <= r1; r++)
        for (int64_t c = c0; c <= c1; c++)
            draw(l, step * ((double)c + (r % 2 ? 0.5 : 0) + loose * scatter(c, r, 1)),
                 step * ((double)r + loose * scatter(c, r, 2)));
}

static void stone(const lattice *l, double x, double y) { mst_pen_circle(l->pen, x, y, 0.17, 0, true); }

static void tuft(const lattice *l, double x, double y) {
    mst_pen_line(l->pen, x, y, x, y - 1.3, l->sizes->fine);
    mst_pen_line(l->pen, x, y, x - 0.7, y - 0.9, l->sizes->fine);
    mst_pen_line(l->pen, x, y, x + 0.7, y - 0.9, l->sizes->fine);
}

static void ripple(const lattice *l, double x, double y) { mst_pen_line(l->pen, x - 2, y, x + 2, y, l->sizes->fine); }

static void paint_tone(mst_pen *pen, mst_tone tone) {
    mst_pen_tone(pen, tone);
    cairo_paint(pen->cairo);
}

void mst_draw_fill(mst_pen *pen, const mst_sizes *sizes, mst_fill fill, const mst_view *view, const mst_shape *shape) {
    if (!pen->cairo || fill == MST_FILL_NONE) return;
    cairo_save(pen->cairo);
    lattice l = clip_to(pen, sizes, view, shape);
    mst_pen_tone(pen, MST_TONE_QUIET);
    switch (fill) {
    case MST_FILL_BUILDING:
        paint_tone(pen, MST_TONE_SHADE);
        break;
    case MST_FILL_PAVING:
        paint_tone(pen, MST_TONE_TINT);
        break;
    case MST_FILL_GRAVEL:
        scatter_stamps(&l, 2.3, 0.3, stone);
        break;
    case MST_FILL_PLANTS:
        scatter_stamps(&l, 6.5, 0.15, tuft);
        break;
    case MST_FILL_WATER:
        scatter_stamps(&l, 6, 0.1, ripple);
        break;
    default:
        break;
    }
    cairo_restore(pen->cairo);
}

/* ---- earthworks ---- */

static bool covers(const mst_plan_pad *pad, const mst_view *view, double x, double y) {
    return mst_shape_contains(&pad->shape, mst_to_plan(view, x, y));
}

static double cut_here(const mst_plan_pad *pad, const mst_view *view, double x, double y) {
    double cut;
    return pad->cut_at(pad->self, mst_to_plan(view, x, y), &cut) ? cut : 0;
}

/* Draws along one stroke, from its start, what is cut of it. @return true if any is */
static bool cut_stroke(const lattice *l, const mst_view *view, const mst_plan_pad *pad, double x, double y,
                       double length) {
    const double step = 0.5, u = sqrt(0.5);
    bool down = false, any = false;
    for (double s = 0; s <= length; s += step) {
        bool cut = cut_here(pad, view, x + s * u, y - s * u) > LEAST_CUT_M;
        if (cut && !down) cairo_move_to(l->pen->cairo, x + s * u, y - s * u);
        if (!cut && down) cairo_line_to(l->pen->cairo, x + s * u, y - s * u);
        down = cut;
        any = any || (cut && covers(pad, view, x + s * u, y - s * u));
    }
    if (down) cairo_line_to(l->pen->cairo, x + length * u, y - length * u);
    return any;
}

static bool hatch_cut(const lattice *l, const mst_view *view, const mst_plan_pad *pad) {
    const double apart = 3.2; /* along x */
    double y = l->area.y + l->area.h, last = l->area.x + l->area.w;
    bool any = false;
    for (double x = apart * floor((l->area.x - l->area.h + y) / apart) - y; x < last; x += apart)
        any |= cut_stroke(l, view, pad, x, y, l->area.h * sqrt(2));
    cairo_set_line_width(l->pen->cairo, l->sizes->fine);
    cairo_stroke(l->pen->cairo);
    return any;
}

static bool hatch_fill(const lattice *l, const mst_view *view, const mst_plan_pad *pad) {
    const double step = 3.0, arm = 0.55;
    bool any = false;
    for (int64_t r = (int64_t)floor(l->area.y / step); (double)r * step < l->area.y + l->area.h; r++)
        for (int64_t c = (int64_t)floor(l->area.x / step) - 1; (double)c * step < l->area.x + l->area.w; c++) {
            double x = step * ((double)c + (r % 2 ? 0.5 : 0)), y = step * (double)r;
            if (!(cut_here(pad, view, x, y) < -LEAST_CUT_M)) continue;
            any = any || covers(pad, view, x, y);
            mst_pen_line(l->pen, x - arm, y, x + arm, y, l->sizes->fine);
            mst_pen_line(l->pen, x, y - arm, x, y + arm, l->sizes->fine);
        }
    return any;
}

/* Where the cut is zero on the side from a to b of a cell. */
static void zero_on(double ax, double ay, double a, double bx, double by, double b, double at[2]) {
    at[0] = ax + (bx - ax) * a / (a - b);
    at[1] = ay + (by - ay) * a / (a - b);
}

/* The line within one triangle of the lattice where cut meets fill. */
static void meet_in(cairo_t *cairo, const double x[3], const double y[3], const double cut[3]) {
    double ends[3][2];
    int count = 0;
    for (int i = 0; i < 3; i++) {
        int k = (i + 1) % 3;
        if ((cut[i] > 0) != (cut[k] > 0)) zero_on(x[i], y[i], cut[i], x[k], y[k], cut[k], ends[count++]);
    }
    if (count < 2) return;
    cairo_move_to(cairo, ends[0][0], ends[0][1]);
    cairo_line_to(cairo, ends[1][0], ends[1][1]);
}

static void meet_in_cell(const lattice *l, const mst_view *view, const mst_plan_pad *pad, double x, double y,
                         double step) {
    const double xs[4] = {x, x + step, x + step, x}, ys[4] = {y, y, y + step, y + step};
    double cut[4];
    for (int i = 0; i < 4; i++)
        if (!pad->cut_at(pad->self, mst_to_plan(view, xs[i], ys[i]), &cut[i])) return;
    meet_in(l->pen->cairo, xs, ys, cut);
    meet_in(l->pen->cairo, (double[]){x, x + step, x}, (double[]){y, y + step, y + step},
            (double[]){cut[0], cut[2], cut[3]});
}

static void daylight(const lattice *l, const mst_view *view, const mst_plan_pad *pad) {
    const double step = 0.8;
    for (double y = l->area.y; y < l->area.y + l->area.h; y += step)
        for (double x = l->area.x; x < l->area.x + l->area.w; x += step) meet_in_cell(l, view, pad, x, y, step);
    cairo_set_line_width(l->pen->cairo, l->sizes->medium);
    cairo_stroke(l->pen->cairo);
}

int mst_draw_hatch(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_plan_pad *pad) {
    if (!pen->cairo || !pad->cut_at) return 0;
    cairo_save(pen->cairo);
    lattice l = clip_to(pen, sizes, view, &pad->shape);
    mst_pen_tone(pen, MST_TONE_QUIET);
    int found = (hatch_cut(&l, view, pad) ? MST_EARTH_CUT : 0) + (hatch_fill(&l, view, pad) ? MST_EARTH_FILL : 0);
    mst_pen_tone(pen, MST_TONE_INK);
    if (found == MST_EARTH_CUT + MST_EARTH_FILL) daylight(&l, view, pad);
    cairo_restore(pen->cairo);
    return found;
}
