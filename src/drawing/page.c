/* Draws a page that layout.c has arranged. Order of ink: fills and hatches, contours, fine and medium lines, the ground
 * of the labels, heavy lines, signs, labels, then the frame and the words beside the plan. */
#include "drawing/figures.h"
#include "drawing/layout.h"
#include "drawing/look.h"
#include <math.h>
#include <stdio.h>

/* ---- the plan ---- */

/* Buildings come after the contours and hide them: there is no ground to see under a house. */
static void draw_fills(const mst_layout *l, mst_pen *pen, bool buildings) {
    for (size_t i = 0; i < l->plan->feature_count; i++) {
        const mst_plan_feature *f = &l->plan->features[i];
        if (f->kind == MST_FEATURE_AREA && (f->style->fill == MST_FILL_BUILDING) == buildings)
            mst_draw_fill(pen, &l->sizes, f->style->fill, &l->view, &f->shape);
    }
}

static void draw_hatches(const mst_layout *l, mst_pen *pen) {
    for (size_t i = 0; i < l->plan->pad_count; i++) mst_draw_hatch(pen, &l->sizes, &l->view, &l->plan->pads[i]);
}

static int by_start(const double a[2], const double b[2]) { return a[0] < b[0] ? -1 : a[0] > b[0]; }

/* The breaks that the placed figures make in contour i, in order along it. */
static size_t gaps_of(const mst_layout *l, size_t contour, double gaps[][2], size_t room) {
    const mst_labels *labels = &l->annotation.labels;
    size_t count = 0;
    for (size_t i = 0; i < labels->count && count < room; i++) {
        const mst_label *label = &labels->items[i];
        int chosen = labels->placings[i].chosen;
        if (label->kind != MST_LABEL_CONTOUR || label->track != contour || chosen < 0) continue;
        double at = label->stations[chosen], gap[2] = {at - label->w / 2, at + label->w / 2};
        size_t k = count++;
        for (; k > 0 && by_start(gap, gaps[k - 1]) < 0; k--) gaps[k][0] = gaps[k - 1][0], gaps[k][1] = gaps[k - 1][1];
        gaps[k][0] = gap[0], gaps[k][1] = gap[1];
    }
    return count;
}

static void draw_contours(const mst_layout *l, mst_pen *pen) {
    enum { GAPS_MOST = 8 };
    for (size_t i = 0; i < l->plan->contour_count; i++) {
        double gaps[GAPS_MOST][2];
        size_t count = gaps_of(l, i, gaps, GAPS_MOST);
        mst_draw_contour(pen, &l->sizes, &l->annotation.contour_tracks[i], l->plan->contours[i].index,
                         (const double(*)[2])gaps, count);
    }
}

static void draw_rims(const mst_layout *l, mst_pen *pen) {
    mst_pen_tone(pen, MST_TONE_INK);
    cairo_set_line_width(pen->cairo, l->sizes.fine);
    mst_set_dash(pen->cairo, MST_DASH_SHORT);
    for (size_t i = 0; i < l->plan->rim_count; i++) mst_trace(pen->cairo, &l->view, &l->plan->rims[i]);
    cairo_stroke(pen->cairo);
    mst_set_dash(pen->cairo, MST_DASH_NONE);
}

static bool draw_features(const mst_layout *l, mst_pen *pen, mst_ink ink, mst_arena *arena) {
    for (size_t i = 0; i < l->plan->feature_count; i++) {
        const mst_plan_feature *f = &l->plan->features[i];
        if (f->kind == MST_FEATURE_SPOT || f->style->ink != ink) continue;
        for (size_t k = 0; k < f->shape.count; k++)
            if (!mst_draw_styled(pen, &l->sizes, f->style, &l->view, &f->shape.paths[k], arena)) return false;
    }
    return true;
}

static void draw_pad_outlines(const mst_layout *l, mst_pen *pen) {
    mst_pen_tone(pen, MST_TONE_INK);
    for (int light = 0; light < 2; light++) {
        cairo_set_line_width(pen->cairo, light ? l->sizes.fine : l->sizes.medium);
        mst_set_dash(pen->cairo, light ? MST_DASH_SHORT : MST_DASH_NONE);
        for (size_t i = 0; i < l->plan->pad_count; i++)
            for (size_t k = 0; l->plan->pads[i].light == (light == 1) && k < l->plan->pads[i].shape.count; k++)
                mst_trace(pen->cairo, &l->view, &l->plan->pads[i].shape.paths[k]);
        cairo_stroke(pen->cairo);
    }
    mst_set_dash(pen->cairo, MST_DASH_NONE);
}

static void draw_strokes(const mst_layout *l, mst_pen *pen) {
    for (size_t i = 0; i < l->plan->stroke_count; i++) {
        const mst_plan_stroke *s = &l->plan->strokes[i];
        double a[2], b[2];
        mst_to_paper(&l->view, s->from, &a[0], &a[1]);
        mst_to_paper(&l->view, s->to, &b[0], &b[1]);
        mst_pen_tone(pen, s->ink == MST_INK_FINE ? MST_TONE_QUIET : MST_TONE_INK);
        mst_set_dash(pen->cairo, s->dashed ? MST_DASH_SHORT : MST_DASH_NONE);
        mst_pen_line(pen, a[0], a[1], b[0], b[1], mst_ink_width(&l->sizes, s->ink));
    }
    mst_set_dash(pen->cairo, MST_DASH_NONE);
}

static void draw_ellipse(const mst_layout *l, mst_pen *pen, const mst_plan_point *p, double x, double y) {
    double k = l->ledger.ellipse_factor * l->view.mm_per_m;
    if (!(k > 0) || !(p->semi_major_m > 0)) return;
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, x, y);
    cairo_rotate(pen->cairo, p->ellipse_bearing_rad + l->view.turn_rad);
    cairo_scale(pen->cairo, fmax(p->semi_minor_m * k, 0.05), p->semi_major_m * k);
    cairo_new_sub_path(pen->cairo);
    cairo_arc(pen->cairo, 0, 0, 1, 0, 2 * MST_PI);
    cairo_restore(pen->cairo);
    mst_pen_tone(pen, MST_TONE_QUIET);
    cairo_set_line_width(pen->cairo, l->sizes.fine);
    cairo_stroke(pen->cairo);
}

static void draw_signs(const mst_layout *l, mst_pen *pen) {
    double x, y;
    for (size_t i = 0; i < l->plan->point_count; i++) {
        const mst_plan_point *p = &l->plan->points[i];
        mst_to_paper(&l->view, p->at, &x, &y);
        draw_ellipse(l, pen, p, x, y);
        if (p->marked && !p->held) continue;
        mst_draw_point(pen, &l->sizes, x, y,
                       p->held       ? MST_SIGN_CONTROL
                       : p->unproven ? MST_SIGN_UNPROVEN
                                     : MST_SIGN_SPOT);
    }
    for (size_t i = 0; i < l->plan->feature_count; i++) {
        const mst_plan_feature *f = &l->plan->features[i];
        for (size_t k = 0; f->kind == MST_FEATURE_SPOT && k < f->shape.count; k++)
            for (size_t v = 0; v < f->shape.paths[k].count; v++) {
                const mst_path_vertex *at = &f->shape.paths[k].vertices[v];
                mst_to_paper(&l->view, (mst_point){at->easting_m, at->northing_m}, &x, &y);
                mst_draw_mark(pen, &l->sizes, x, y, f->style->mark);
            }
    }
    for (size_t i = 0; i < l->plan->stake_count; i++) {
        mst_to_paper(&l->view, l->plan->stakes[i].at, &x, &y);
        mst_draw_stake(pen, &l->sizes, x, y);
    }
    for (size_t i = l->plan->next_count; i-- > 0;) { /* the best on top */
        mst_to_paper(&l->view, l->plan->next[i], &x, &y);
        mst_draw_next(pen, x, y, i);
    }
}

static bool draw_plan(const mst_layout *l, mst_pen *pen, mst_arena *arena) {
    const mst_labels *labels = &l->annotation.labels;
    cairo_save(pen->cairo);
    cairo_rectangle(pen->cairo, l->area.x, l->area.y, l->area.w, l->area.h);
    cairo_clip(pen->cairo);
    mst_draw_look(pen, &l->sizes, &l->view, l->plan);
    draw_fills(l, pen, false);
    draw_hatches(l, pen);
    mst_grid_draw(&l->grid, pen, &l->sizes);
    draw_contours(l, pen);
    draw_fills(l, pen, true);
    draw_rims(l, pen);
    bool ok = draw_features(l, pen, MST_INK_FINE, arena) && draw_features(l, pen, MST_INK_MEDIUM, arena);
    draw_strokes(l, pen);
    draw_pad_outlines(l, pen);
    for (size_t i = 0; i < labels->count; i++) mst_draw_label_ground(pen, &labels->items[i], &labels->placings[i]);
    ok = ok && draw_features(l, pen, MST_INK_HEAVY, arena);
    draw_signs(l, pen);
    for (size_t i = 0; i < labels->count; i++) mst_draw_label(pen, &l->sizes, &labels->items[i], &labels->placings[i]);
    cairo_restore(pen->cairo);
    return ok;
}

/* ---- the sheet ---- */

static const double BORDER_MM = 5, FIELD_MM = 50; /* ISO 5457: grid reference border and the length of its fields */

/* Letters without I and O down the sides, figures along the top and the foot, counted so that a mark is in the middle.
 */
static void field_name(bool letters, int i, char out[16]) {
    static const char names[] = "ABCDEFGHJKLMNPQRSTUVWXYZ";
    if (letters) snprintf(out, 16, "%c", names[i % 24]);
    else snprintf(out, 16, "%d", i + 1);
}

static void reference_row(const mst_layout *l, mst_pen *pen, bool down, double side) {
    double start = down ? l->frame.y : l->frame.x, length = down ? l->frame.h : l->frame.w;
    double middle = (down ? mst_paper_height(l->paper, l->portrait) : mst_paper_width(l->paper, l->portrait)) / 2;
    int before = (int)ceil((middle - start) / FIELD_MM), after = (int)ceil((start + length - middle) / FIELD_MM);
    mst_type type = {2.5, false};
    for (int i = -before; i < after; i++) {
        double from = fmax(start, middle + i * FIELD_MM), to = fmin(start + length, middle + (i + 1) * FIELD_MM);
        double near = side, far = side + (side < (down ? l->frame.x + 1 : l->frame.y + 1) ? -BORDER_MM : BORDER_MM),
               at = (near + far) / 2;
        char name[16];
        field_name(down, i + before, name);
        if (to - from > 6)
            mst_text_turned(pen, down ? at : (from + to) / 2, down ? (from + to) / 2 : at, 0, name, type);
        if (i == -before || i == 0) continue;
        if (down) mst_pen_line(pen, near, from, far, from, 0.35);
        else mst_pen_line(pen, from, near, from, far, 0.35);
    }
}

/* Marks of 0.7 mm on both axes of the sheet, from the frame outwards. */
static void centring_marks(const mst_layout *l, mst_pen *pen) {
    double w = mst_paper_width(l->paper, l->portrait), h = mst_paper_height(l->paper, l->portrait);
    double right = l->frame.x + l->frame.w, foot = l->frame.y + l->frame.h;
    mst_pen_line(pen, w / 2, 2, w / 2, l->frame.y, 0.7);
    mst_pen_line(pen, w / 2, foot, w / 2, h - 2, 0.7);
    mst_pen_line(pen, 2, h / 2, l->frame.x, h / 2, 0.7);
    mst_pen_line(pen, right, h / 2, w - 2, h / 2, 0.7);
}

static void draw_frame(const mst_layout *l, mst_pen *pen) {
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_rect(pen, l->frame, 0.7);
    centring_marks(l, pen);
    mst_pen_tone(pen, MST_TONE_QUIET);
    reference_row(l, pen, true, l->frame.x);
    reference_row(l, pen, true, l->frame.x + l->frame.w);
    reference_row(l, pen, false, l->frame.y);
    reference_row(l, pen, false, l->frame.y + l->frame.h);
    mst_pen_tone(pen, MST_TONE_INK);
    double right = l->area.x + l->area.w, foot = l->bars.y + l->bars.h;
    if (right < l->frame.x + l->frame.w - 1)
        mst_pen_line(pen, right, l->frame.y, right, l->frame.y + l->frame.h, l->sizes.fine);
    if (foot < l->frame.y + l->frame.h - 1) mst_pen_line(pen, l->frame.x, foot, right, foot, l->sizes.fine);
}

static void draw_bars(const mst_layout *l, mst_pen *pen) {
    bool imperial = l->plan->imperial;
    const char *words = imperial ? "If this bar is not 4 in long, the print is not to scale."
                                 : "If this bar is not 100 mm long, the print is not to scale.";
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_line(pen, l->bars.x, l->bars.y, l->bars.x + l->bars.w, l->bars.y, l->sizes.fine);
    mst_draw_scale_bar(pen, &l->sizes, l->scale_bar_at[0], l->scale_bar_at[1], &l->scale_bar, l->scale);
    mst_draw_check_bar(pen, &l->sizes, l->check_bar_at[0], l->check_bar_at[1], imperial);
    mst_text_at(pen, l->check_bar_at[0] + mst_check_bar_mm(imperial) / 2, l->check_bar_at[1] - 2.9, words,
                (mst_type){1.8, false}, MST_CENTRE);
}

bool mst_layout_draw(const mst_layout *l, mst_pen *pen, mst_arena *arena) {
    cairo_set_line_join(pen->cairo, CAIRO_LINE_JOIN_MITER);
    cairo_set_line_cap(pen->cairo, CAIRO_LINE_CAP_BUTT);
    bool ok = draw_plan(l, pen, arena);
    draw_frame(l, pen);
    draw_bars(l, pen);
    mst_ledger_draw(&l->ledger, pen, &l->columns, l->note_mm);
    return ok;
}
