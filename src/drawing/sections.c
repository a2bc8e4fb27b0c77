/* The sheet of sections: long section over its table of levels, cross sections, mass haul, a strip with the title. */
#include "drawing/figures.h"
#include "drawing/linework.h"
#include "drawing/surface.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LINES = 4, SECTION_ROWS = 4 };
static const double STRIP_MM = 24, CAPTION_MM = 26, ROW_MM = 12.5, GAP_MM = 7, CROSS_MM = 90, HAUL_SHARE = 0.2;
static const double EXAGGERATIONS[] = {1, 2, 5, 10, 20, 50};

/* A part of the sheet on which metres are drawn: x along, y up. */
typedef struct chart {
    mst_rect r;
    double x0, y0, mm_per_x, mm_per_y; /* x0 at the left edge, y0 at the foot */
} chart;

typedef struct sheet {
    const mst_sections_input *in;
    const mst_paper *paper;
    bool portrait;
    mst_sizes sizes;
    mst_rect frame, along, cross, haul, strip;
    chart long_chart;
    double scale, exaggeration, cross_scale, cross_up;
} sheet;

typedef struct look {
    const char *name;
    mst_dash dash;
    double width; /* of fine */
    mst_tone tone;
} look;
static const look LOOKS[LINES] = {{"existing ground", MST_DASH_NONE, 1, MST_TONE_INK},
                                  {"stripped", MST_DASH_DOT, 1, MST_TONE_QUIET},
                                  {"formation", MST_DASH_LONG, 1.6, MST_TONE_INK},
                                  {"finished", MST_DASH_NONE, 2.8, MST_TONE_INK}};

static double level_of(const mst_works_level *l, int line) {
    const double levels[LINES] = {l->existing_m, l->stripped_m, l->formation_m, l->finished_m};
    return levels[line];
}

static double px(const chart *c, double x) { return c->r.x + (x - c->x0) * c->mm_per_x; }
static double py(const chart *c, double y) { return c->r.y + c->r.h - (y - c->y0) * c->mm_per_y; }

static void range_of(const mst_section *s, double *low, double *high) {
    for (size_t i = 0; i < s->count; i++)
        for (int k = 0; k < LINES; k++) {
            double z = level_of(&s->points[i].level, k);
            if (isfinite(z)) *low = fmin(*low, z), *high = fmax(*high, z);
        }
}

/* ---- scales ---- */

static double scale_that_fits(double metres, double mm, bool imperial) {
    size_t count;
    const double *scales = mst_scales(imperial, &count);
    for (size_t i = 0; i < count; i++)
        if (metres * 1000 / scales[i] <= mm) return scales[i];
    return metres * 1000 / mm;
}

static double exaggeration_that_fits(double metres, double mm, double scale) {
    double best = 1;
    for (size_t i = 0; i < sizeof EXAGGERATIONS / sizeof *EXAGGERATIONS; i++)
        if (metres * 1000 / scale * EXAGGERATIONS[i] <= mm) best = EXAGGERATIONS[i];
    return best;
}

static chart chart_on(mst_rect r, double x0, double low, double high, double scale, double exaggeration) {
    chart c = {r, x0, 0, 1000 / scale, 1000 / scale * exaggeration};
    double middle = (low + high) / 2;
    c.y0 = middle - r.h / 2 / c.mm_per_y;
    return c;
}

/* ---- lines and areas ---- */

static void draw_line(mst_pen *pen, const sheet *s, const chart *c, const mst_section *section, int line) {
    bool down = false;
    for (size_t i = 0; i < section->count; i++) {
        double z = level_of(&section->points[i].level, line), x = px(c, section->points[i].chainage_m);
        if (!isfinite(z)) {
            down = false;
            continue;
        }
        if (down) cairo_line_to(pen->cairo, x, py(c, z));
        else cairo_move_to(pen->cairo, x, py(c, z));
        down = true;
    }
    mst_pen_tone(pen, LOOKS[line].tone);
    mst_set_dash(pen->cairo, LOOKS[line].dash);
    cairo_set_line_width(pen->cairo, s->sizes.fine * LOOKS[line].width);
    cairo_stroke(pen->cairo);
    mst_set_dash(pen->cairo, MST_DASH_NONE);
}

/* Between stripped ground and formation: cut one way, fill the other. */
static void shade(mst_pen *pen, const chart *c, const mst_section *section, bool cut) {
    for (size_t i = 0; i + 1 < section->count; i++) {
        const mst_section_point *p = &section->points[i], *q = p + 1;
        double a[2] = {p->level.stripped_m, q->level.stripped_m}, b[2] = {p->level.formation_m, q->level.formation_m};
        double da = a[0] - b[0], db = a[1] - b[1];
        if (!isfinite(da) || !isfinite(db) || q->chainage_m <= p->chainage_m) continue;
        if (p->level.owner == UINT32_MAX && q->level.owner == UINT32_MAX) continue;
        if (cut ? da + db <= 0 : da + db >= 0) continue;
        cairo_move_to(pen->cairo, px(c, p->chainage_m), py(c, a[0]));
        cairo_line_to(pen->cairo, px(c, q->chainage_m), py(c, a[1]));
        cairo_line_to(pen->cairo, px(c, q->chainage_m), py(c, b[1]));
        cairo_line_to(pen->cairo, px(c, p->chainage_m), py(c, b[0]));
        cairo_close_path(pen->cairo);
    }
    mst_pen_tone(pen, cut ? MST_TONE_SHADE : MST_TONE_TINT);
    cairo_fill(pen->cairo);
}

static void draw_section(mst_pen *pen, const sheet *s, const chart *c, const mst_section *section) {
    cairo_save(pen->cairo);
    cairo_rectangle(pen->cairo, c->r.x, c->r.y, c->r.w, c->r.h);
    cairo_clip(pen->cairo);
    shade(pen, c, section, true), shade(pen, c, section, false);
    for (int k = 0; k < LINES; k++) draw_line(pen, s, c, section, k);
    cairo_restore(pen->cairo);
}

/* A step of 1, 2 or 5 that leaves at least @p mm between lines. */
static double step_for(double mm_per_unit, double mm) {
    double step = pow(10, floor(log10(mm / mm_per_unit)));
    static const double of[] = {1, 2, 5, 10};
    for (int i = 0; i < 4; i++)
        if (of[i] * step * mm_per_unit >= mm) return of[i] * step;
    return 10 * step;
}

static void level_axis(mst_pen *pen, const sheet *s, const chart *c, double apart_mm) {
    double step = step_for(c->mm_per_y, apart_mm);
    char figure[MST_FIGURE_SIZE];
    for (double y = ceil(c->y0 / step - 1e-9) * step; py(c, y) > c->r.y - 1e-6; y += step) {
        mst_pen_tone(pen, MST_TONE_QUIET);
        mst_pen_line(pen, c->r.x, py(c, y), c->r.x + c->r.w, py(c, y), s->sizes.fine * 0.4);
        mst_write_level(y, step < 0.1 ? 2 : step < 1 ? 1 : 0, s->in->imperial, figure);
        mst_pen_tone(pen, MST_TONE_INK);
        mst_text_at(pen, c->r.x - 1.2, py(c, y) + s->sizes.note / 2, figure, (mst_type){s->sizes.note, false},
                    MST_RIGHT);
    }
}

/* ---- the long section ---- */

/* Where the long section crosses a chainage: the mean of what stands on both sides of a break. */
static bool level_at(const mst_section *s, double chainage, int line, double *z) {
    for (size_t i = 0; i + 1 < s->count; i++) {
        const mst_section_point *p = &s->points[i], *q = p + 1;
        if (chainage < p->chainage_m || chainage > q->chainage_m || !(q->chainage_m > p->chainage_m)) continue;
        double t = (chainage - p->chainage_m) / (q->chainage_m - p->chainage_m);
        *z = level_of(&p->level, line) * (1 - t) + level_of(&q->level, line) * t;
        return isfinite(*z);
    }
    return false;
}

static void table_of_levels(mst_pen *pen, const sheet *s) {
    static const char *const names[SECTION_ROWS] = {"chainage", "existing", "formation", "finished"};
    static const int of[SECTION_ROWS] = {-1, 0, 2, 3};
    const chart *c = &s->long_chart;
    double top = c->r.y + c->r.h + 1.5, last = -HUGE_VAL;
    mst_type type = {s->sizes.note, false};
    for (int r = 0; r <= SECTION_ROWS; r++) {
        mst_pen_tone(pen, MST_TONE_INK);
        mst_pen_line(pen, s->along.x, top + r * ROW_MM, c->r.x + c->r.w, top + r * ROW_MM, s->sizes.fine);
        if (r < SECTION_ROWS) mst_text_at(pen, s->along.x, top + (r + 0.5) * ROW_MM + 0.9, names[r], type, MST_LEFT);
    }
    for (size_t i = 0; i < s->in->station_count; i++) {
        double chainage = s->in->stations[i].chainage_m, x = px(c, chainage);
        if (x - last < 2.2 * s->sizes.note) continue;
        last = x;
        mst_pen_tone(pen, MST_TONE_QUIET);
        mst_pen_line(pen, x, c->r.y, x, top, s->sizes.fine * 0.4);
        mst_pen_tone(pen, MST_TONE_INK);
        for (int r = 0; r < SECTION_ROWS; r++) {
            char figure[MST_FIGURE_SIZE];
            double z = chainage;
            if (of[r] >= 0 && !level_at(s->in->long_section, chainage, of[r], &z)) continue;
            if (of[r] < 0) mst_write_length(z, 2, s->in->imperial, figure);
            else mst_write_level(z, 3, s->in->imperial, figure);
            mst_text_turned(pen, x, top + (r + 0.5) * ROW_MM, -MST_PI / 2, figure, type);
        }
    }
}

static void heading(mst_pen *pen, const sheet *s, double x, double y, const char *text) {
    mst_pen_tone(pen, MST_TONE_INK);
    mst_text_at(pen, x, y, text, (mst_type){s->sizes.key, true}, MST_LEFT);
}

static void scale_text(const sheet *s, double scale, double exaggeration, char out[160]) {
    char along[MST_FIGURE_SIZE], up[MST_FIGURE_SIZE];
    mst_write_scale(scale, s->in->imperial, along);
    mst_write_scale(scale / exaggeration, s->in->imperial, up);
    if (exaggeration == 1) snprintf(out, 160, "%s", along);
    else snprintf(out, 160, "%s along, %s up", along, up);
}

static void draw_legend(mst_pen *pen, const sheet *s, double right, double y) {
    double x = right;
    mst_type type = {s->sizes.note, false};
    static const char *const areas[] = {"fill", "cut"};
    for (int k = 0; k < 2; k++) {
        x -= mst_text_width(pen, areas[k], type) + 9;
        mst_pen_tone(pen, k ? MST_TONE_SHADE : MST_TONE_TINT);
        mst_pen_fill_rect(pen, (mst_rect){x, y - 2.4, 6, 2.8});
        mst_pen_tone(pen, MST_TONE_INK);
        mst_pen_rect(pen, (mst_rect){x, y - 2.4, 6, 2.8}, s->sizes.fine * 0.5);
        mst_text_at(pen, x + 7, y, areas[k], type, MST_LEFT);
        x -= 4;
    }
    for (int k = LINES - 1; k >= 0; k--) {
        x -= mst_text_width(pen, LOOKS[k].name, type) + 14;
        mst_pen_tone(pen, LOOKS[k].tone);
        mst_set_dash(pen->cairo, LOOKS[k].dash);
        mst_pen_line(pen, x, y - 1, x + 11, y - 1, s->sizes.fine * LOOKS[k].width);
        mst_set_dash(pen->cairo, MST_DASH_NONE);
        mst_pen_tone(pen, MST_TONE_INK);
        mst_text_at(pen, x + 12, y, LOOKS[k].name, type, MST_LEFT);
        x -= 4;
    }
}

static void draw_along(mst_pen *pen, const sheet *s) {
    char scale[160], title[320];
    scale_text(s, s->scale, s->exaggeration, scale);
    snprintf(title, sizeof title, "Long section along %.60s, %s", s->in->along, scale);
    heading(pen, s, s->along.x, s->along.y + 3.5, title);
    draw_legend(pen, s, s->along.x + s->along.w, s->along.y + 3.5);
    level_axis(pen, s, &s->long_chart, 8);
    draw_section(pen, s, &s->long_chart, s->in->long_section);
    table_of_levels(pen, s);
}

/* ---- cross sections ---- */

static void draw_cross(mst_pen *pen, const sheet *s, const mst_station *st, mst_rect cell, double low, double high) {
    char title[200], chainage[MST_FIGURE_SIZE];
    mst_type type = {s->sizes.note, false};
    mst_rect r = {cell.x + 9, cell.y + 9, cell.w - 11, cell.h - 10};
    const mst_section *x = &st->section;
    if (x->count == 0) return;
    double width = x->points[x->count - 1].chainage_m, middle = (low + high) / 2;
    chart c = chart_on(r, width / 2 - r.w / 2 * s->cross_scale / 1000, middle, middle, s->cross_scale, s->cross_up);
    mst_write_length(st->chainage_m, 2, s->in->imperial, chainage);
    snprintf(title, sizeof title, "%s", chainage);
    mst_pen_tone(pen, MST_TONE_INK);
    mst_text_at(pen, cell.x + 9, cell.y + 3.4, title, (mst_type){s->sizes.note, true}, MST_LEFT);
    char cut[MST_FIGURE_SIZE], fill[MST_FIGURE_SIZE];
    mst_write_area(x->cut_m2, s->in->imperial, cut), mst_write_area(x->fill_m2, s->in->imperial, fill);
    if (!s->in->imperial) {
        snprintf(cut, sizeof cut, "%.2f m\xC2\xB2", x->cut_m2);
        snprintf(fill, sizeof fill, "%.2f m\xC2\xB2", x->fill_m2);
    }
    snprintf(title, sizeof title, "cut %s, fill %s", cut, fill);
    mst_text_at(pen, cell.x + 9, cell.y + 6.8, title, type, MST_LEFT);
    level_axis(pen, s, &c, 7);
    draw_section(pen, s, &c, x);
    mst_pen_tone(pen, MST_TONE_QUIET);
    mst_pen_line(pen, px(&c, width / 2), r.y, px(&c, width / 2), r.y + r.h, s->sizes.fine * 0.4);
}

/* As many as have room, evenly taken, the first and the last among them. */
static void draw_crosses(mst_pen *pen, const sheet *s) {
    size_t n = s->in->station_count;
    double widest = 0, tallest = 0;
    for (size_t i = 0; i < n; i++) {
        const mst_section *x = &s->in->stations[i].section;
        double low = HUGE_VAL, high = -HUGE_VAL;
        range_of(x, &low, &high);
        if (x->count) widest = fmax(widest, x->points[x->count - 1].chainage_m);
        if (high > low) tallest = fmax(tallest, high - low);
    }
    size_t columns = (size_t)fmax(1, floor(s->cross.w / CROSS_MM)), rows = (size_t)fmax(1, floor(s->cross.h / 34));
    size_t shown = columns * rows < n ? columns * rows : n;
    sheet own = *s;
    double w = s->cross.w / (double)columns, h = (s->cross.h - 6) / (double)rows;
    own.cross_scale =
        fmax(scale_that_fits(widest, w - 12, s->in->imperial), scale_that_fits(tallest, h - 14, s->in->imperial));
    own.cross_up = fmin(exaggeration_that_fits(fmax(tallest, 0.1), h - 16, own.cross_scale), 2);
    char scale[160], title[320];
    scale_text(s, own.cross_scale, own.cross_up, scale);
    snprintf(title, sizeof title, "Cross sections, %s%s", scale, shown < n ? "" : ", all of them");
    if (shown < n)
        snprintf(title, sizeof title, "Cross sections, %s; %zu of %zu, the rest with --json", scale, shown, n);
    heading(pen, s, s->cross.x, s->cross.y + 3.5, title);
    for (size_t k = 0; k < shown; k++) {
        size_t i = shown > 1 ? k * (n - 1) / (shown - 1) : 0;
        double low = HUGE_VAL, high = -HUGE_VAL;
        range_of(&s->in->stations[i].section, &low, &high);
        const size_t column = k % columns, row = k / columns;
        mst_rect cell = {s->cross.x + w * (double)column, s->cross.y + 6 + h * (double)row, w, h};
        if (high >= low) draw_cross(pen, &own, &s->in->stations[i], cell, low, high);
    }
}

/* ---- mass haul ---- */

static void haul_bars(mst_pen *pen, const sheet *s, const chart *c) {
    for (size_t i = 1; i < s->in->station_count; i++) {
        const mst_station *st = &s->in->stations[i];
        double x0 = px(c, st[-1].chainage_m), x1 = px(c, st->chainage_m), gap = fmin(0.3, (x1 - x0) * 0.1);
        double up = py(c, st->cut_m3), zero = py(c, 0), down = py(c, -st->fill_m3);
        mst_pen_tone(pen, MST_TONE_SHADE);
        mst_pen_fill_rect(pen, (mst_rect){x0 + gap, up, x1 - x0 - 2 * gap, zero - up});
        mst_pen_tone(pen, MST_TONE_TINT);
        mst_pen_fill_rect(pen, (mst_rect){x0 + gap, zero, x1 - x0 - 2 * gap, down - zero});
        mst_pen_tone(pen, MST_TONE_QUIET);
        mst_pen_rect(pen, (mst_rect){x0 + gap, up, x1 - x0 - 2 * gap, down - up}, s->sizes.fine * 0.4);
    }
}

static void draw_haul(mst_pen *pen, const sheet *s) {
    double low = 0, high = 0;
    for (size_t i = 0; i < s->in->station_count; i++) {
        const mst_station *st = &s->in->stations[i];
        low = fmin(low, fmin(st->mass_m3, -st->fill_m3)), high = fmax(high, fmax(st->mass_m3, st->cut_m3));
    }
    char title[200], end[MST_FIGURE_SIZE];
    double left = s->in->station_count ? s->in->stations[s->in->station_count - 1].mass_m3 : 0;
    mst_write_volume(fabs(left), s->in->imperial, end);
    snprintf(title, sizeof title,
             "Mass haul: running sum of cut x %.2f less fill; at its end %s %s. Bars: cut up (bank), fill down.",
             s->in->compacted, end, left < 0 ? "short" : "over");
    heading(pen, s, s->haul.x, s->haul.y + 3.5, title);
    chart c = s->long_chart;
    c.r = (mst_rect){s->long_chart.r.x, s->haul.y + 7, s->long_chart.r.w, s->haul.h - 9};
    c.mm_per_y = high > low ? c.r.h / (1.08 * (high - low)) : 1;
    c.y0 = low - 0.04 * (high - low);
    level_axis(pen, s, &c, 7);
    haul_bars(pen, s, &c);
    for (size_t i = 0; i < s->in->station_count; i++) {
        const mst_station *st = &s->in->stations[i];
        if (i) cairo_line_to(pen->cairo, px(&c, st->chainage_m), py(&c, st->mass_m3));
        else cairo_move_to(pen->cairo, px(&c, st->chainage_m), py(&c, st->mass_m3));
    }
    mst_pen_tone(pen, MST_TONE_INK);
    cairo_set_line_width(pen->cairo, s->sizes.heavy);
    cairo_stroke(pen->cairo);
    mst_pen_line(pen, c.r.x, py(&c, 0), c.r.x + c.r.w, py(&c, 0), s->sizes.fine);
}

/* ---- the strip with the title ---- */

static void cell(mst_pen *pen, const sheet *s, double x, double w, const char *caption, const char *value) {
    double small = s->sizes.note * 0.86;
    mst_pen_tone(pen, MST_TONE_QUIET);
    mst_text_in(pen, x, s->strip.y + 2 + small, w - 2, caption, (mst_type){small, false});
    mst_pen_tone(pen, MST_TONE_INK);
    mst_text_in(pen, x, s->strip.y + 4 + small + s->sizes.figure, w - 2, value && *value ? value : "\xE2\x80\x93",
                (mst_type){s->sizes.figure, true});
    mst_pen_line(pen, x - 1.5, s->strip.y, x - 1.5, s->strip.y + 9.5, s->sizes.fine * 0.5);
}

static void add_cautions(const mst_sections_input *in, mst_text *text) {
    for (size_t i = 0; i < in->caution_count; i++) {
        if (i) mst_text_string(text, " ");
        if (in->imperial) mst_words_in_feet(in->cautions[i], text);
        else mst_text_string(text, in->cautions[i]);
    }
}

static void draw_strip(mst_pen *pen, const sheet *s) {
    const mst_sheet_text *t = &s->in->text;
    const char *caption[] = {"Sheet", "Job", "Status", "Number", "Revision", "Date"};
    const char *value[] = {"Sections", t->supplement, t->status, t->number, t->revision, t->date};
    static const double share[] = {0.2, 0.32, 0.16, 0.12, 0.08, 0.12};
    double x = s->strip.x + 2;
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_line(pen, s->strip.x, s->strip.y, s->strip.x + s->strip.w, s->strip.y, s->sizes.medium);
    for (int i = 0; i < 6; i++) {
        cell(pen, s, x, s->strip.w * share[i], caption[i], value[i]);
        x += s->strip.w * share[i];
    }
    mst_pen_line(pen, s->strip.x, s->strip.y + 9.5, s->strip.x + s->strip.w, s->strip.y + 9.5, s->sizes.fine);
    mst_text text = {0};
    add_cautions(s->in, &text);
    if (!s->in->caution_count)
        mst_text_string(&text, "Excavations, services, walls and slopes: local code and licensed practice come first.");
    if (text.data)
        (void)mst_text_block(pen, s->strip.x + 2, s->strip.y + 10.8, s->strip.w - 4, text.data,
                             (mst_type){s->sizes.note * 0.9, false});
    mst_text_free(&text);
}

/* ---- the sheet ---- */

static bool draw_sheet(const void *self, mst_pen *pen, mst_arena *arena) {
    const sheet *s = self;
    (void)arena;
    cairo_set_line_join(pen->cairo, CAIRO_LINE_JOIN_ROUND);
    mst_pen_tone(pen, MST_TONE_INK);
    mst_pen_rect(pen, s->frame, 0.7);
    draw_along(pen, s);
    draw_crosses(pen, s);
    draw_haul(pen, s);
    draw_strip(pen, s);
    return true;
}

/* Cautions take the room that they need, up to a quarter of the sheet. */
static double strip_height(mst_pen *pen, const sheet *s) {
    mst_text text = {0};
    add_cautions(s->in, &text);
    double h =
        text.data ? mst_text_block(pen, 0, 0, s->frame.w - 8, text.data, (mst_type){s->sizes.note * 0.9, false}) : 0;
    mst_text_free(&text);
    return fmin(fmax(STRIP_MM, 13 + h), s->frame.h / 4);
}

static void arrange(mst_pen *pen, sheet *s, double scale, double exaggeration) {
    mst_rect in = mst_rect_inset(s->frame, 4);
    double strip = strip_height(pen, s), length = 1, low = HUGE_VAL, high = -HUGE_VAL;
    const mst_section *l = s->in->long_section;
    if (l->count) length = fmax(l->points[l->count - 1].chainage_m, 1);
    range_of(l, &low, &high);
    if (!(high >= low)) low = 0, high = 1;
    s->strip = (mst_rect){s->frame.x, s->frame.y + s->frame.h - strip, s->frame.w, strip};
    double room = in.h - strip + 4 - 2 * GAP_MM, haul = room * HAUL_SHARE, along = room * 0.44;
    s->along = (mst_rect){in.x, in.y, in.w, along};
    s->cross = (mst_rect){in.x, in.y + along + GAP_MM, in.w, room - along - haul};
    s->haul = (mst_rect){in.x, s->cross.y + s->cross.h + GAP_MM, in.w, haul};
    mst_rect plot = {in.x + CAPTION_MM, in.y + 8, in.w - CAPTION_MM - 2, along - 8 - SECTION_ROWS * ROW_MM - 2};
    s->scale = scale > 0 ? scale : scale_that_fits(length, plot.w, s->in->imperial);
    s->exaggeration =
        exaggeration > 0 ? exaggeration : exaggeration_that_fits(fmax(high - low, 0.1), plot.h * 0.9, s->scale);
    plot.w = fmin(plot.w, length * 1000 / s->scale);
    s->long_chart = chart_on(plot, 0, low, high, s->scale, s->exaggeration);
}

static mst_status check(const mst_sections_input *in, const mst_drawing_options *o, double exaggeration,
                        const char *path, mst_file_form *form, mst_error *error) {
    mst_status status = mst_sheet_check(o, path, form, error);
    if (status) return status;
    if (!(exaggeration >= 0 && exaggeration <= 1000))
        return mst_fail(error, MST_INVALID, "Levels are drawn 1 to 1000 times higher, not %g.", exaggeration);
    if (in->station_count == 0 || in->long_section->count == 0)
        return mst_fail(error, MST_TOO_FEW, "There is no section along '%.60s' to draw.", in->along);
    return MST_OK;
}

static mst_status draw(sheet *s, const mst_drawing_options *o, double exaggeration, mst_file_form form,
                       const char *path, mst_pen *pen, mst_arena *arena, mst_error *error) {
    mst_text bytes = {0};
    arrange(pen, s, o->scale, exaggeration);
    const mst_section *l = s->in->long_section;
    double needs = l->points[l->count - 1].chainage_m * 1000 / s->scale;
    if (needs > s->along.w - CAPTION_MM)
        return mst_fail(
            error, MST_INVALID, "The section is %.0f mm long at 1:%g and has %.0f mm of room; take 1:%g.", needs,
            s->scale, s->along.w - CAPTION_MM - 2,
            scale_that_fits(l->points[l->count - 1].chainage_m, s->along.w - CAPTION_MM - 2, s->in->imperial));
    mst_page_form page = {mst_paper_width(s->paper, s->portrait), mst_paper_height(s->paper, s->portrait),
                          s->paper->name, draw_sheet, s};
    const mst_sheet_text *t = &s->in->text;
    mst_page_file file = {form, o->png_dots_per_mm > 0 ? o->png_dots_per_mm : 8, "Sections",
                          t->creator ? t->creator : "", t->date};
    mst_status status = mst_page_form_bytes(&page, &file, pen, arena, &bytes, error);
    if (!status) status = mst_write_whole(path, bytes.data, bytes.length, error);
    mst_text_free(&bytes);
    return status;
}

mst_status mst_draw_sections(const mst_sections_input *in, const mst_drawing_options *options, double exaggeration,
                             const char *path, mst_error *error) {
    mst_file_form form;
    mst_pen pen;
    mst_status status = check(in, options, exaggeration, path, &form, error);
    if (status) return status;
    mst_arena *arena = mst_arena_new();
    if (!arena || !mst_pen_open(&pen)) {
        mst_arena_free(arena);
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    sheet s = {.in = in, .paper = mst_paper_named(options->paper), .portrait = options->portrait};
    s.sizes = mst_sizes_for(s.paper);
    s.frame = mst_paper_frame(s.paper, s.portrait);
    status = draw(&s, options, exaggeration, form, path, &pen, arena, error);
    mst_pen_close(&pen);
    mst_arena_free(arena);
    return status;
}
