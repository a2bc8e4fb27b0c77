#include "drawing/marks.h"
#include "drawing/figures.h"
#include <math.h>
#include <stdio.h>

static void polygon(mst_pen *pen, const double (*xy)[2], int count) {
    cairo_move_to(pen->cairo, xy[0][0], xy[0][1]);
    for (int i = 1; i < count; i++) cairo_line_to(pen->cairo, xy[i][0], xy[i][1]);
    cairo_close_path(pen->cairo);
}

static void triangle(mst_pen *pen, double x, double y, double half, bool filled, double width) {
    polygon(pen, (const double[][2]){{x, y - half * 1.15}, {x + half, y + half * 0.6}, {x - half, y + half * 0.6}}, 3);
    cairo_set_line_width(pen->cairo, width);
    if (filled) cairo_fill(pen->cairo);
    else cairo_stroke(pen->cairo);
}

static void clear_disc(mst_pen *pen, double x, double y, double radius) {
    mst_pen_tone(pen, MST_TONE_PAPER);
    mst_pen_circle(pen, x, y, radius, 0, true);
    mst_pen_tone(pen, MST_TONE_INK);
}

void mst_draw_point(mst_pen *pen, const mst_sizes *sizes, double x, double y, mst_point_sign sign) {
    const double arm = 0.85;
    if (!pen->cairo) return;
    mst_pen_tone(pen, MST_TONE_INK);
    if (sign == MST_SIGN_SPOT) {
        mst_pen_line(pen, x - arm, y - arm, x + arm, y + arm, sizes->fine);
        mst_pen_line(pen, x - arm, y + arm, x + arm, y - arm, sizes->fine);
        return;
    }
    if (sign == MST_SIGN_UNPROVEN) {
        clear_disc(pen, x, y, 0.8);
        mst_pen_circle(pen, x, y, 0.8, sizes->fine, false);
        return;
    }
    clear_disc(pen, x, y, 1.3);
    triangle(pen, x, y, 1.9, false, sizes->medium);
    mst_pen_circle(pen, x, y, 0.3, 0, true);
}

void mst_draw_stake(mst_pen *pen, const mst_sizes *sizes, double x, double y) {
    if (!pen->cairo) return;
    clear_disc(pen, x, y, 1.1);
    mst_pen_circle(pen, x, y, 1.1, sizes->medium, false);
    mst_pen_line(pen, x - 1.9, y, x + 1.9, y, sizes->fine);
    mst_pen_line(pen, x, y - 1.9, x, y + 1.9, sizes->fine);
}

static void tree(mst_pen *pen, const mst_sizes *sizes, double x, double y) {
    for (int i = 0; i < 10; i++) {
        double a = 2 * MST_PI * i / 10, from = 1.1, to = i % 2 ? 2.0 : 2.5;
        mst_pen_line(pen, x + from * cos(a), y + from * sin(a), x + to * cos(a), y + to * sin(a), sizes->fine);
    }
    mst_pen_circle(pen, x, y, 0.55, 0, true);
}

static void cover(mst_pen *pen, const mst_sizes *sizes, double x, double y) {
    mst_pen_tone(pen, MST_TONE_PAPER);
    mst_pen_fill_rect(pen, (mst_rect){x - 1.1, y - 1.1, 2.2, 2.2});
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_rect(pen, (mst_rect){x - 1.1, y - 1.1, 2.2, 2.2}, sizes->medium);
    mst_pen_line(pen, x - 1.1, y + 1.1, x + 1.1, y - 1.1, sizes->fine);
}

void mst_draw_mark(mst_pen *pen, const mst_sizes *sizes, double x, double y, mst_mark mark) {
    if (!pen->cairo) return;
    mst_pen_tone(pen, MST_TONE_INK);
    switch (mark) {
    case MST_MARK_TREE:
        tree(pen, sizes, x, y);
        break;
    case MST_MARK_COVER:
        cover(pen, sizes, x, y);
        break;
    case MST_MARK_POST:
        mst_pen_circle(pen, x, y, 0.6, 0, true);
        break;
    case MST_MARK_DOOR:
        triangle(pen, x, y, 1.3, true, 0);
        break;
    case MST_MARK_STONE:
        polygon(pen, (const double[][2]){{x - 1.3, y + 0.8}, {x - 0.7, y - 0.8}, {x + 0.6, y - 1}, {x + 1.3, y + 0.8}},
                4);
        cairo_set_line_width(pen->cairo, sizes->medium);
        cairo_stroke(pen->cairo);
        break;
    default:
        clear_disc(pen, x, y, 0.7), mst_pen_circle(pen, x, y, 0.7, sizes->medium, false);
    }
}

void mst_draw_key(mst_pen *pen, const mst_sizes *sizes, double x, double y, const char *number, double cap_mm) {
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_circle(pen, x, y, cap_mm * 1.15, sizes->fine, false);
    mst_text_turned(pen, x, y, 0, number, (mst_type){cap_mm * 0.78, false});
}

void mst_draw_next(mst_pen *pen, double x, double y, size_t rank) {
    if (!pen->cairo) return;
    char letter[2] = {(char)('A' + rank % 26), 0};
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_circle(pen, x, y, MST_NEXT_HALF_MM, 0, true);
    mst_pen_tone(pen, MST_TONE_PAPER);
    mst_text_turned(pen, x, y, 0, letter, (mst_type){1.7, true});
    mst_pen_tone(pen, MST_TONE_INK);
}

void mst_draw_arrow(mst_pen *pen, const mst_sizes *sizes, double x, double y, double turn, double length) {
    if (!pen->cairo) return;
    double c = cos(turn), s = sin(turn), half = length / 2, head = 2.6, wide = 0.75;
    double tx = x + c * half, ty = y + s * half, bx = tx - c * head, by = ty - s * head;
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_line(pen, x - c * half, y - s * half, bx, by, sizes->medium);
    polygon(pen, (const double[][2]){{tx, ty}, {bx - s * wide, by + c * wide}, {bx + s * wide, by - c * wide}}, 3);
    cairo_fill(pen->cairo);
}

/* A slim needle over a ring: dark on its east half, so that the fold reads as an edge. */
void mst_draw_north(mst_pen *pen, const mst_sizes *sizes, double x, double y, double radius, double turn) {
    if (!pen->cairo) return;
    const double wide = radius * 0.17;
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, x, y);
    cairo_rotate(pen->cairo, turn);
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_circle(pen, 0, 0, radius * 0.5, sizes->fine, false);
    polygon(pen, (const double[][2]){{0, -radius}, {wide, 0}, {0, radius * 0.62}}, 3);
    cairo_fill(pen->cairo);
    mst_pen_tone(pen, MST_TONE_PAPER);
    polygon(pen, (const double[][2]){{0, -radius}, {-wide, 0}, {0, radius * 0.62}}, 3);
    cairo_fill_preserve(pen->cairo);
    mst_pen_tone(pen, MST_TONE_INK);
    cairo_set_line_width(pen->cairo, sizes->fine);
    cairo_set_line_join(pen->cairo, CAIRO_LINE_JOIN_BEVEL);
    cairo_stroke(pen->cairo);
    cairo_set_line_join(pen->cairo, CAIRO_LINE_JOIN_MITER);
    cairo_translate(pen->cairo, 0, -radius - sizes->key * 0.9);
    cairo_rotate(pen->cairo, -turn);
    mst_text_turned(pen, 0, 0, 0, "N", (mst_type){sizes->key, true});
    cairo_restore(pen->cairo);
}

/* ---- bars ---- */

mst_scale_bar mst_scale_bar_for(double scale, bool imperial, double longest_mm) {
    static const double steps[] = {0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000};
    static const int parts[] = {4, 5};
    double unit_m = imperial ? MST_FOOT_M : 1, best = 0;
    mst_scale_bar bar = {4, 0.1 * unit_m, imperial ? "ft" : "m", unit_m};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        for (int k = 0; k < 2; k++) {
            double length = parts[k] * steps[i] * unit_m * 1000 / scale;
            if (length > longest_mm || length <= best) continue;
            best = length;
            bar.parts = parts[k];
            bar.part_m = steps[i] * unit_m;
        }
    return bar;
}

void mst_draw_scale_bar(mst_pen *pen, const mst_sizes *sizes, double x, double y, const mst_scale_bar *bar,
                        double scale) {
    if (!pen->cairo) return;
    double part = bar->part_m * 1000 / scale, high = 1.6;
    mst_type type = {sizes->note, false};
    mst_pen_tone(pen, MST_TONE_INK);
    for (int i = 0; i < bar->parts; i++) {
        mst_rect r = {x + i * part, y, part, high};
        if (i % 2 == 0) mst_pen_fill_rect(pen, (mst_rect){r.x, r.y + high / 2, r.w, high / 2});
        else mst_pen_fill_rect(pen, (mst_rect){r.x, r.y, r.w, high / 2});
    }
    mst_pen_rect(pen, (mst_rect){x, y, bar->parts * part, high}, sizes->fine);
    for (int i = 0; i <= bar->parts; i++) {
        char text[MST_FIGURE_SIZE];
        snprintf(text, sizeof text, i == bar->parts ? "%.10g %s" : "%.10g", i * bar->part_m / bar->unit_m, bar->unit);
        double half = i == bar->parts ? mst_text_width(pen, text, type) / 2 - sizes->note * 0.4 : 0;
        mst_text_at(pen, x + i * part + half, y - 1.2, text, type, MST_CENTRE);
    }
}

double mst_check_bar_mm(bool imperial) { return imperial ? 4 * 25.4 : 100; }

void mst_draw_check_bar(mst_pen *pen, const mst_sizes *sizes, double x, double y, bool imperial) {
    double length = mst_check_bar_mm(imperial);
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_line(pen, x, y, x + length, y, sizes->medium);
    for (int i = 0; i <= (imperial ? 4 : 10); i++) {
        double at = x + i * (imperial ? 25.4 : 10), tick = i == 0 || i == (imperial ? 4 : 10) ? 1.6
                                                           : i == 5                           ? 1.2
                                                                                              : 0.8;
        mst_pen_line(pen, at, y, at, y - tick, sizes->fine);
    }
}
