/* Shade in steps of grey, slopes in hatches that black ink alone tells apart, levels in greys between contours. All
 * triangles of one step are one path, so that no seams show between them. */
#include "drawing/look.h"
#include <math.h>

enum { SHADES = 24 };
static const double DARKEST_SHADE = 0.62, DARKEST_TINT = 0.62, LIGHTEST = 0.98; /* figures on them stay legible */
static const double SEAM_MM = 0.04; /* surfaces that smooth edges would show the paper between two greys */

/* ---- hatches ---- */

/* Dots where water stands; lines across the sheet, the closer the steeper; then a mesh, the finer the steeper. */
static const struct {
    double apart_mm;
    bool dots, mesh;
} HATCHES[MST_SLOPE_BANDS] = {{3.0, true, false}, {5.0, false, false}, {2.6, false, false}, {1.4, false, false},
                              {5.0, false, true}, {3.2, false, true},  {2.0, false, true},  {1.2, false, true}};

static void rows(cairo_t *cairo, mst_rect r, double apart) {
    for (double y = ceil(r.y / apart) * apart; y < r.y + r.h; y += apart)
        cairo_move_to(cairo, r.x, y), cairo_line_to(cairo, r.x + r.w, y);
}

static void columns(cairo_t *cairo, mst_rect r, double apart) {
    for (double x = ceil(r.x / apart) * apart; x < r.x + r.w; x += apart)
        cairo_move_to(cairo, x, r.y), cairo_line_to(cairo, x, r.y + r.h);
}

static void dots(mst_pen *pen, mst_rect r, double apart) {
    for (double row = floor(r.y / apart); row * apart < r.y + r.h; row++)
        for (double x = (floor(r.x / apart) + (fmod(row, 2) != 0 ? 0.5 : 0)) * apart; x < r.x + r.w; x += apart)
            mst_pen_circle(pen, x, row * apart, 0.2, 0, true);
}

/* Over what is clipped to; all on one lattice of the paper. */
static void hatch(mst_pen *pen, const mst_sizes *sizes, mst_rect r, int band) {
    mst_pen_tone(pen, MST_TONE_QUIET);
    if (HATCHES[band].dots) dots(pen, r, HATCHES[band].apart_mm);
    else rows(pen->cairo, r, HATCHES[band].apart_mm);
    if (HATCHES[band].mesh) columns(pen->cairo, r, HATCHES[band].apart_mm);
    cairo_set_line_width(pen->cairo, sizes->fine * 0.7);
    cairo_stroke(pen->cairo);
}

static void grey(mst_pen *pen, double darkest, double share) {
    double g = darkest + (LIGHTEST - darkest) * share;
    cairo_set_source_rgb(pen->cairo, g, g, g);
}

static void fill_seamless(mst_pen *pen) {
    cairo_fill_preserve(pen->cairo);
    cairo_set_line_width(pen->cairo, SEAM_MM);
    cairo_stroke(pen->cairo);
}

/* ---- paths of triangles ---- */

static void polygon(cairo_t *cairo, const mst_view *view, const mst_point at[], int count) {
    for (int i = 0; i < count; i++) {
        double x, y;
        mst_to_paper(view, at[i], &x, &y);
        if (i) cairo_line_to(cairo, x, y);
        else cairo_move_to(cairo, x, y);
    }
    if (count) cairo_close_path(cairo);
}

/* The part of a convex polygon above a level (below: sign -1). @return its corners */
static int cut_off(const mst_point at[], const double z[], int count, double level, double sign, mst_point out[],
                   double out_z[]) {
    int n = 0;
    for (int i = 0; i < count; i++) {
        int k = (i + 1) % count;
        double a = sign * (z[i] - level), b = sign * (z[k] - level);
        if (a >= 0) out[n] = at[i], out_z[n++] = z[i];
        if ((a >= 0) == (b >= 0) || a == 0 || b == 0) continue;
        double s = a / (a - b);
        out[n] = (mst_point){at[i].easting_m + s * (at[k].easting_m - at[i].easting_m),
                             at[i].northing_m + s * (at[k].northing_m - at[i].northing_m)};
        out_z[n++] = level;
    }
    return n;
}

static double lowest(const mst_plan_face *f) { return fmin(fmin(f->level_m[0], f->level_m[1]), f->level_m[2]); }
static double highest(const mst_plan_face *f) { return fmax(fmax(f->level_m[0], f->level_m[1]), f->level_m[2]); }

/* The part of a triangle in one tint; the highest tint holds its upper end. */
static int part_in(const mst_plan *plan, const mst_plan_face *f, int tint, mst_point out[8]) {
    double from = plan->tint_first_m + tint * plan->tint_step_m, to = from + plan->tint_step_m, z[8], spare[8];
    mst_point between[8];
    if (highest(f) < from || lowest(f) > to) return 0;
    int count = cut_off(f->at, f->level_m, 3, from, 1, between, z);
    return cut_off(between, z, count, to, -1, out, spare);
}

/* ---- looks ---- */

static int shade_of(const mst_plan_face *f) {
    int s = (int)(f->shade * SHADES);
    return s < SHADES ? s : SHADES - 1;
}

static void draw_shades(mst_pen *pen, const mst_view *view, const mst_plan *plan) {
    for (int s = 0; s < SHADES; s++) {
        for (size_t i = 0; i < plan->face_count; i++)
            if (shade_of(&plan->faces[i]) == s) polygon(pen->cairo, view, plan->faces[i].at, 3);
        grey(pen, DARKEST_SHADE, (s + 0.5) / SHADES);
        fill_seamless(pen);
    }
}

static void draw_slopes(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_plan *plan) {
    for (int b = 0; b < MST_SLOPE_BANDS; b++) {
        double x0, y0, x1, y1;
        if (!mst_plan_has_band(plan, b)) continue;
        cairo_save(pen->cairo);
        for (size_t i = 0; i < plan->face_count; i++)
            if (plan->faces[i].band == b) polygon(pen->cairo, view, plan->faces[i].at, 3);
        cairo_clip(pen->cairo);
        cairo_clip_extents(pen->cairo, &x0, &y0, &x1, &y1);
        hatch(pen, sizes, (mst_rect){x0, y0, x1 - x0, y1 - y0}, b);
        cairo_restore(pen->cairo);
    }
}

static const double DOUBT_ENDS_M[MST_DOUBT_BANDS] = {0.005, 0.01, 0.02, 0.03, 0.05, 0.07, 0.1, 0.15, 0.2, INFINITY};

double mst_doubt_band_end(int band) { return DOUBT_ENDS_M[band]; }

int mst_doubt_band(double half_m) {
    int band = 0;
    while (band + 1 < MST_DOUBT_BANDS && half_m > DOUBT_ENDS_M[band]) band++;
    return band;
}

/* The greys are spread over the bands that occur. */
static double doubt_share(const mst_plan *plan, int band) {
    int first = MST_DOUBT_BANDS, last = 0;
    for (size_t i = 0; i < plan->face_count; i++) {
        if (plan->faces[i].band < first) first = plan->faces[i].band;
        if (plan->faces[i].band > last) last = plan->faces[i].band;
    }
    return last > first ? 1 - (double)(band - first) / (last - first) : 1;
}

static void draw_doubts(mst_pen *pen, const mst_view *view, const mst_plan *plan) {
    for (int b = 0; b < MST_DOUBT_BANDS; b++) {
        for (size_t i = 0; i < plan->face_count; i++)
            if (plan->faces[i].band == b) polygon(pen->cairo, view, plan->faces[i].at, 3);
        grey(pen, DARKEST_TINT, doubt_share(plan, b));
        fill_seamless(pen);
    }
}

static double tint_share(int tint, int count) { return count > 1 ? 1 - (double)tint / (count - 1) : 1; }

static void draw_tints(mst_pen *pen, const mst_view *view, const mst_plan *plan) {
    for (int t = 0; t < plan->tint_count; t++) {
        for (size_t i = 0; i < plan->face_count; i++) {
            mst_point part[8];
            polygon(pen->cairo, view, part, part_in(plan, &plan->faces[i], t, part));
        }
        grey(pen, DARKEST_TINT, tint_share(t, plan->tint_count));
        fill_seamless(pen);
    }
}

void mst_draw_look(mst_pen *pen, const mst_sizes *sizes, const mst_view *view, const mst_plan *plan) {
    if (!pen->cairo || plan->look == MST_LOOK_NONE) return;
    cairo_save(pen->cairo);
    cairo_new_path(pen->cairo);
    if (plan->look == MST_LOOK_SHADE) draw_shades(pen, view, plan);
    if (plan->look == MST_LOOK_SLOPES) draw_slopes(pen, sizes, view, plan);
    if (plan->look == MST_LOOK_LEVELS) draw_tints(pen, view, plan);
    if (plan->look == MST_LOOK_DOUBT) draw_doubts(pen, view, plan);
    cairo_restore(pen->cairo);
}

/* ---- the legend ---- */

bool mst_plan_has_band(const mst_plan *plan, int band) {
    for (size_t i = 0; i < plan->face_count; i++)
        if (plan->faces[i].band == band) return true;
    return false;
}

bool mst_plan_has_tint(const mst_plan *plan, int tint) {
    mst_point part[8];
    for (size_t i = 0; i < plan->face_count; i++)
        if (part_in(plan, &plan->faces[i], tint, part) > 2) return true;
    return false;
}

static void outline(mst_pen *pen, const mst_sizes *sizes, mst_rect box) {
    mst_pen_tone(pen, MST_TONE_QUIET);
    mst_pen_rect(pen, box, sizes->fine);
}

void mst_draw_slope_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, int band) {
    cairo_save(pen->cairo);
    cairo_rectangle(pen->cairo, box.x, box.y, box.w, box.h);
    cairo_clip(pen->cairo);
    double apart = HATCHES[band].apart_mm,
           half = apart < box.h ? apart / 2 : 0; /* as many lines as there is room for */
    double x = box.x + box.w / 2, y = box.y + box.h / 2 - half;
    cairo_translate(pen->cairo, x, y);
    hatch(pen, sizes, (mst_rect){box.x - x, box.y - y, box.w, box.h}, band);
    cairo_restore(pen->cairo);
    outline(pen, sizes, box);
}

void mst_draw_tint_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, int tint, int count) {
    grey(pen, DARKEST_TINT, tint_share(tint, count));
    mst_pen_fill_rect(pen, box);
    outline(pen, sizes, box);
}

void mst_draw_doubt_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box, const mst_plan *plan, int band) {
    grey(pen, DARKEST_TINT, doubt_share(plan, band));
    mst_pen_fill_rect(pen, box);
    outline(pen, sizes, box);
}

void mst_draw_shade_sample(mst_pen *pen, const mst_sizes *sizes, mst_rect box) {
    enum { STEPS = 5 };
    for (int i = 0; i < STEPS; i++) {
        grey(pen, DARKEST_SHADE, i / (STEPS - 1.0));
        mst_pen_fill_rect(pen, (mst_rect){box.x + box.w * i / STEPS, box.y, box.w / STEPS, box.h});
    }
    outline(pen, sizes, box);
}
