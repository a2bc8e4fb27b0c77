#include "drawing/pen.h"
#include "merestone/base.h"
#include <math.h>
#include <string.h>

/* DejaVu Sans 2.37: capitals are 1493 of 2048 units high. */
static const double CAP_OF_EM = 1493.0 / 2048.0;
static const double LINE_OF_CAP =
    1.72; /* from one baseline to the next; ISO 3098 asks for at least 1.4 and 1.9 with accents */

static cairo_font_options_t *plain_options(void) {
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    return options;
}

bool mst_pen_open(mst_pen *pen) {
    *pen = (mst_pen){.map = pango_cairo_font_map_new()};
    if (!pen->map) return false;
    cairo_font_options_t *options = plain_options();
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(pen->map), 72);
    pen->context = pango_font_map_create_context(pen->map);
    pango_cairo_context_set_font_options(pen->context, options);
    cairo_font_options_destroy(options);
    pango_context_set_round_glyph_positions(pen->context, FALSE);
    pen->layout = pango_layout_new(pen->context);
    pen->font = pango_font_description_from_string("DejaVu Sans");
    return true;
}

void mst_pen_close(mst_pen *pen) {
    pango_font_description_free(pen->font);
    g_object_unref(pen->layout);
    g_object_unref(pen->context);
    g_object_unref(pen->map);
    *pen = (mst_pen){0};
}

static void set_text(mst_pen *pen, const char *text, mst_type type, double width_mm) {
    pango_font_description_set_absolute_size(pen->font, type.cap_mm / CAP_OF_EM * PANGO_SCALE);
    pango_font_description_set_weight(pen->font, type.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_layout_set_font_description(pen->layout, pen->font);
    pango_layout_set_width(pen->layout, width_mm > 0 ? (int)(width_mm * PANGO_SCALE) : -1);
    pango_layout_set_wrap(pen->layout, PANGO_WRAP_WORD_CHAR);
    if (g_utf8_validate(text, -1, NULL)) {
        pango_layout_set_text(pen->layout, text, -1);
        return;
    }
    char *valid = g_utf8_make_valid(text, -1);
    pango_layout_set_text(pen->layout, valid, -1);
    g_free(valid);
}

double mst_text_width(mst_pen *pen, const char *text, mst_type type) {
    int width, height;
    set_text(pen, text, type, 0);
    pango_layout_get_size(pen->layout, &width, &height);
    return width / (double)PANGO_SCALE;
}

/* One line of the layout that set_text filled, its baseline at x, y. */
static void show_line(mst_pen *pen, double x, double y, PangoLayoutLine *line) {
    cairo_move_to(pen->cairo, x, y);
    pango_cairo_show_layout_line(pen->cairo, line);
}

void mst_text_at(mst_pen *pen, double x, double y, const char *text, mst_type type, mst_align align) {
    if (!pen->cairo || !*text) return;
    double width = mst_text_width(pen, text, type);
    double left = align == MST_LEFT ? x : align == MST_CENTRE ? x - width / 2 : x - width;
    show_line(pen, left, y, pango_layout_get_line_readonly(pen->layout, 0));
}

void mst_text_in(mst_pen *pen, double x, double y, double room, const char *text, mst_type type) {
    const double least = 0.75;
    if (!pen->cairo || !*text || !(room > type.cap_mm)) return;
    double wide = mst_text_width(pen, text, type);
    if (wide > room) type.cap_mm *= fmax(least, room / wide);
    set_text(pen, text, type, room + 0.1);
    pango_layout_set_ellipsize(pen->layout, PANGO_ELLIPSIZE_END);
    show_line(pen, x, y, pango_layout_get_line_readonly(pen->layout, 0));
    pango_layout_set_ellipsize(pen->layout, PANGO_ELLIPSIZE_NONE);
}

void mst_text_turned(mst_pen *pen, double x, double y, double turn_rad, const char *text, mst_type type) {
    if (!pen->cairo) return;
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, x, y);
    cairo_rotate(pen->cairo, turn_rad);
    mst_text_at(pen, 0, type.cap_mm / 2, text, type, MST_CENTRE);
    cairo_restore(pen->cairo);
}

double mst_text_block(mst_pen *pen, double x, double top, double width_mm, const char *text, mst_type type) {
    set_text(pen, text, type, width_mm);
    int lines = pango_layout_get_line_count(pen->layout);
    double y = top + type.cap_mm * (LINE_OF_CAP + 1) / 2;
    for (int i = 0; pen->cairo && i < lines; i++, y += type.cap_mm * LINE_OF_CAP)
        show_line(pen, x, y, pango_layout_get_line_readonly(pen->layout, i));
    return lines * type.cap_mm * LINE_OF_CAP;
}

void mst_pen_tone(mst_pen *pen, mst_tone tone) {
    static const double tones[][3] = {{0.07, 0.07, 0.08}, {0.34, 0.34, 0.35}, {0.44, 0.28, 0.13},
                                      {1, 1, 1},          {0.87, 0.87, 0.87}, {0.95, 0.95, 0.95}};
    if (pen->cairo) cairo_set_source_rgb(pen->cairo, tones[tone][0], tones[tone][1], tones[tone][2]);
}

void mst_pen_line(mst_pen *pen, double x0, double y0, double x1, double y1, double width) {
    if (!pen->cairo) return;
    cairo_set_line_width(pen->cairo, width);
    cairo_move_to(pen->cairo, x0, y0);
    cairo_line_to(pen->cairo, x1, y1);
    cairo_stroke(pen->cairo);
}

void mst_pen_rect(mst_pen *pen, mst_rect r, double width) {
    if (!pen->cairo) return;
    cairo_set_line_width(pen->cairo, width);
    cairo_rectangle(pen->cairo, r.x, r.y, r.w, r.h);
    cairo_stroke(pen->cairo);
}

void mst_pen_fill_rect(mst_pen *pen, mst_rect r) {
    if (!pen->cairo) return;
    cairo_rectangle(pen->cairo, r.x, r.y, r.w, r.h);
    cairo_fill(pen->cairo);
}

void mst_pen_circle(mst_pen *pen, double x, double y, double radius, double width, bool filled) {
    if (!pen->cairo) return;
    cairo_new_sub_path(pen->cairo);
    cairo_arc(pen->cairo, x, y, radius, 0, 2 * MST_PI);
    cairo_set_line_width(pen->cairo, width);
    if (filled) cairo_fill(pen->cairo);
    else cairo_stroke(pen->cairo);
}
