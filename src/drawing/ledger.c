#include "drawing/ledger.h"
#include "drawing/figures.h"
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double GAP_MM = 3.2;        /* between blocks */
static const double LEGEND_COLUMN_MM = 44, SIGN_W_MM = 12, LIST_COLUMN_MM = 40;

typedef struct spot { const mst_ledger *l; mst_pen *pen; double x, y, w, note; } spot;

static double heading(const spot *s, double y, const char *text) {
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_at(s->pen, s->x, y + s->note * 1.15, text, (mst_type){s->note, true}, MST_LEFT);
    return y + s->note * 1.75;
}

/* ---- blocks: each draws itself at s->x, s->y and returns its height ---- */

static double status(const spot *s, size_t i) {
    (void)i;
    const char *given = s->l->text->status, *words = given && *given ? given : "PRELIMINARY";
    mst_type type = {s->l->sizes->status, true};
    double wide = mst_text_width(s->pen, words, type);
    if (wide > s->w) type.cap_mm *= s->w / wide;
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_at(s->pen, s->x, s->y + s->l->sizes->status, words, type, MST_LEFT);
    double y = s->y + s->l->sizes->status + 1.4;
    bool build = !strcmp(words, "FOR CONSTRUCTION") || !strcmp(words, "AS-BUILT");
    if (build) return y - s->y;
    mst_pen_tone(s->pen, MST_TONE_QUIET);
    return y - s->y + mst_text_block(s->pen, s->x, y, s->w, "Not for construction.", (mst_type){s->note, false});
}

static double north_and_scale(const spot *s, size_t i) {
    (void)i;
    const mst_sizes *z = s->l->sizes;
    double radius = fmin(9.5, s->w * 0.12), top = z->key * 1.9, x = s->x + radius + z->key * 1.5;
    const char *north = s->l->text->north && *s->l->text->north ? s->l->text->north : "site north";
    char scale[MST_FIGURE_SIZE], at[48];
    mst_draw_north(s->pen, z, x, s->y + top + radius, radius, s->l->turn_rad);
    mst_write_scale(s->l->scale, s->l->plan->imperial, scale);
    snprintf(at, sizeof at, "at %s", s->l->paper->name);
    double left = x + radius + z->key * 1.6 + 2, y = s->y + top + radius * 0.55;
    mst_type large = {z->title, true};
    double wide = mst_text_width(s->pen, scale, large);
    if (wide > s->x + s->w - left) large.cap_mm *= (s->x + s->w - left) / wide;
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_at(s->pen, left, y, scale, large, MST_LEFT);
    mst_text_at(s->pen, left, y + z->figure * 1.9, at, (mst_type){z->figure, false}, MST_LEFT);
    mst_pen_tone(s->pen, MST_TONE_QUIET);
    mst_text_at(s->pen, left, y + z->figure * 1.9 + s->note * 1.9, north, (mst_type){s->note, false}, MST_LEFT);
    return top + 2 * radius;
}

static double legend(const spot *s, size_t i) {
    (void)i;
    const mst_ledger *l = s->l;
    int columns = (int)fmax(1, floor(s->w / LEGEND_COLUMN_MM));
    size_t rows = (l->legend_count + (size_t)columns - 1) / (size_t)columns;
    double top = heading(s, s->y, "Legend"), pitch = fmax(4.9, s->note * 2.3), w = s->w / columns;
    for (size_t k = 0; k < l->legend_count; k++) {
        double x = s->x + (double)(k / rows) * w, y = top + (double)(k % rows) * pitch;
        mst_draw_legend_sign(l, s->pen, &l->legend[k], x, y);
        mst_type type = {s->note, false};
        double wide = mst_text_width(s->pen, l->legend[k].words, type);
        if (wide > w - SIGN_W_MM - 3) type.cap_mm *= fmax(0.7, (w - SIGN_W_MM - 3) / wide);
        mst_pen_tone(s->pen, MST_TONE_INK);
        mst_text_at(s->pen, x + SIGN_W_MM + 2, y + pitch / 2 + s->note / 2, l->legend[k].words, type, MST_LEFT);
    }
    return top - s->y + (double)rows * pitch;
}

static double note(const spot *s, size_t i) {
    const mst_plan_note *n = &s->l->plan->notes[i];
    double y = heading(s, s->y, n->heading);
    mst_pen_tone(s->pen, MST_TONE_INK);
    return y - s->y + mst_text_block(s->pen, s->x, y, s->w, n->text, (mst_type){s->note, false});
}

/* ---- the list of what found no room ---- */

static double list_pitch(const spot *s) { return s->note * 1.75; }
static int list_columns(const spot *s) { return (int)fmax(1, floor(s->w / LIST_COLUMN_MM)); }

static void list_entry(const spot *s, const mst_listed *e, double x, double y, double w) {
    mst_type type = {s->note, false};
    char number[16];
    snprintf(number, sizeof number, e->number ? "%d" : "\xC2\xB7", e->number);
    double base = y + s->note * 1.25, value = mst_text_width(s->pen, e->value, type);
    mst_text_at(s->pen, x + 5, base, number, type, MST_RIGHT);
    mst_type name = type;
    double room = w - 6.5 - value - 3, wide = mst_text_width(s->pen, e->name, type);
    if (wide > room) name.cap_mm *= fmax(0.5, room / wide);
    mst_text_at(s->pen, x + 6.5, base, e->name, name, MST_LEFT);
    mst_text_at(s->pen, x + w - 3, base, e->value, type, MST_RIGHT);
}

/* Rows that fit into @p room; the last line says how many entries do not. */
static double list(const spot *s, double room) {
    const mst_ledger *l = s->l;
    double top = heading(s, s->y, "Not shown on the plan for want of room"), pitch = list_pitch(s), used = top - s->y;
    size_t columns = (size_t)list_columns(s), needed = (l->listed_count + columns - 1) / columns;
    double lines = floor((room - used - pitch) / pitch);
    size_t rows = lines < 0 ? 0 : (size_t)lines < needed ? (size_t)lines : needed, shown = rows * columns;
    if (shown > l->listed_count) shown = l->listed_count;
    mst_pen_tone(s->pen, MST_TONE_INK);
    for (size_t k = 0; k < shown; k++)
        list_entry(s, &l->listed[k], s->x + (double)(k / rows) * s->w / (double)columns, top + (double)(k % rows) * pitch,
                   s->w / (double)columns);
    if (shown == l->listed_count) return used + (double)rows * pitch;
    char more[160];
    snprintf(more, sizeof more, "%s%zu more: take a larger sheet or scale, or the list of points.", shown ? "and " : "",
             l->listed_count - shown);
    mst_text_at(s->pen, s->x, top + (double)rows * pitch + s->note * 1.25, more, (mst_type){s->note, true}, MST_LEFT);
    return used + (double)(rows + 1) * pitch;
}

/* ---- flow ---- */

typedef double block(const spot *s, size_t i);
typedef struct unit { block *run; size_t i; } unit;

static size_t units_of(const mst_ledger *l, unit out[], size_t room) {
    size_t count = 0;
    out[count++] = (unit){status, 0};
    out[count++] = (unit){north_and_scale, 0};
    out[count++] = (unit){legend, 0};
    for (size_t i = 0; i < l->plan->note_count && count < room; i++) out[count++] = (unit){note, i};
    return count;
}

typedef struct flow { const mst_ledger *l; mst_pen *pen; const mst_columns *c; double note, title; int column; double y; } flow;

static double foot(const flow *f) {
    const mst_rect *r = &f->c->at[f->column];
    return r->y + r->h - (f->column == f->c->title ? f->title + GAP_MM : 0);
}

static spot here(const flow *f) {
    const mst_rect *r = &f->c->at[f->column];
    return (spot){f->l, f->pen, r->x, f->y, r->w, f->note};
}

static bool next_column(flow *f) {
    if (f->column + 1 >= f->c->count) return false;
    f->column++;
    f->y = f->c->at[f->column].y;
    return true;
}

/* Places one block, in the next column where it does not fit into this one. */
static bool flow_unit(flow *f, const unit *u) {
    cairo_t *cairo = f->pen->cairo;
    for (;;) {
        spot s = here(f);
        f->pen->cairo = NULL;
        double height = u->run(&s, u->i);
        f->pen->cairo = cairo;
        if (f->y + height <= foot(f)) {
            if (cairo) u->run(&s, u->i);
            f->y += height + GAP_MM;
            return true;
        }
        if (!next_column(f)) return false;
    }
}

/* The list takes what is left of a column that holds as much of it as is asked for. */
static bool flow_list(flow *f) {
    if (!f->l->listed_count) return true;
    for (;; ) {
        spot s = here(f);
        size_t columns = (size_t)list_columns(&s), rows = (f->l->listed_count + columns - 1) / columns;
        double least = list_pitch(&s) * (double)(2 + (rows < f->l->list_rows ? rows : f->l->list_rows));
        if (f->y + least <= foot(f)) break;
        if (!next_column(f)) return false;
    }
    spot s = here(f);
    f->y += list(&s, foot(f) - f->y) + GAP_MM;
    return true;
}

static bool run(const mst_ledger *l, mst_pen *pen, const mst_columns *columns, double note_mm) {
    enum { UNITS_MOST = 24 };
    unit units[UNITS_MOST];
    size_t count = units_of(l, units, UNITS_MOST);
    const mst_rect *last = &columns->at[columns->title];
    double width = fmin(180, last->w);
    flow f = {l, pen, columns, note_mm, mst_title_block(l, pen, last->x + last->w - width, last->y + last->h, width), 0, columns->at[0].y};
    for (size_t i = 0; i < count; i++)
        if (!flow_unit(&f, &units[i])) return false;
    return flow_list(&f);
}

bool mst_ledger_fits(const mst_ledger *l, mst_pen *pen, const mst_columns *columns, double note_mm) {
    mst_pen measuring = *pen;
    measuring.cairo = NULL;
    return run(l, &measuring, columns, note_mm);
}

void mst_ledger_draw(const mst_ledger *l, mst_pen *pen, const mst_columns *columns, double note_mm) {
    (void)run(l, pen, columns, note_mm);
}
