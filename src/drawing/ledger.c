#include "drawing/ledger.h"
#include "drawing/figures.h"
#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double GAP_OF_NOTE = 1.6;                      /* between blocks, of the capitals of the notes */
static const double LEGEND_COLUMN = 18.5, LIST_COLUMN = 21; /* least widths, of the same */

typedef struct spot {
    const mst_ledger *l;
    mst_pen *pen;
    double x, y, w, note;
} spot;

static double heading(const spot *s, double y, const char *text) {
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_at(s->pen, s->x, y + s->note * 1.15, text, (mst_type){s->note, true}, MST_LEFT);
    return y + s->note * 1.75;
}

/* ---- blocks: each draws itself at s->x, s->y and returns its height ---- */

/* The status over the width; under it the scale on the left and the needle on the right. */
static double head(const spot *s, size_t i) {
    (void)i;
    const mst_sheet_text *t = s->l->text;
    const mst_sizes *z = s->l->sizes;
    const char *words = t->status && *t->status ? t->status : "PRELIMINARY";
    const char *north = t->north && *t->north ? t->north : "site north";
    bool build = !strcmp(words, "FOR CONSTRUCTION") || !strcmp(words, "AS-BUILT");
    double radius = fmin(10, s->w * 0.115), needle = 2 * radius + z->key * 2.3;
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_in(s->pen, s->x, s->y + z->status, s->w, words, (mst_type){z->status, true});
    double y = s->y + z->status + 1.4, foot = y + needle;
    mst_draw_north(s->pen, z, s->x + s->w - radius - z->key * 1.2, foot - radius, radius, s->l->turn_rad);
    mst_pen_tone(s->pen, MST_TONE_QUIET);
    if (!build) mst_text_block(s->pen, s->x, y, s->w / 2, "Not for construction.", (mst_type){s->note, false});
    char scale[MST_FIGURE_SIZE], at[96];
    mst_write_scale(s->l->scale, s->l->plan->imperial, scale);
    snprintf(at, sizeof at, "at %s", s->l->paper->name);
    double room = s->w - 2 * radius - z->key * 2.4 - 2, base = foot - s->note * 1.9 - z->figure * 1.9;
    mst_pen_tone(s->pen, MST_TONE_INK);
    mst_text_in(s->pen, s->x, base, room, scale, (mst_type){z->title, true});
    mst_text_in(s->pen, s->x, base + z->figure * 1.9, room, at, (mst_type){z->figure, false});
    mst_pen_tone(s->pen, MST_TONE_QUIET);
    mst_text_in(s->pen, s->x, foot, room, north, (mst_type){s->note, false});
    return foot - s->y + 0.6;
}

static double legend(const spot *s, size_t i) {
    (void)i;
    const mst_ledger *l = s->l;
    int columns = (int)fmax(1, floor(s->w / (LEGEND_COLUMN * s->note)));
    size_t rows = (l->legend_count + (size_t)columns - 1) / (size_t)columns;
    double top = heading(s, s->y, "Legend"), pitch = fmax(4.4, s->note * 2.3), w = s->w / columns;
    for (size_t k = 0; k < l->legend_count; k++) {
        const size_t column = k / rows, row = k % rows;
        double x = s->x + (double)column * w, y = top + (double)row * pitch;
        mst_draw_legend_sign(l, s->pen, &l->legend[k], x, y + pitch / 2);
        mst_pen_tone(s->pen, MST_TONE_INK);
        mst_text_in(s->pen, x + MST_LEGEND_SIGN_W + 1.8, y + pitch / 2 + s->note / 2, w - MST_LEGEND_SIGN_W - 2.8,
                    l->legend[k].words, (mst_type){s->note, false});
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
static int list_columns(const spot *s) { return (int)fmax(1, floor(s->w / (LIST_COLUMN * s->note))); }

static void list_entry(const spot *s, const mst_listed *e, double x, double y, double w) {
    mst_type type = {s->note, false};
    char number[16];
    snprintf(number, sizeof number, e->number ? "%d" : "\xC2\xB7", e->number);
    double base = y + s->note * 1.25, value = mst_text_width(s->pen, e->value, type), left = s->note * 3.4;
    mst_text_at(s->pen, x + left - s->note * 0.8, base, number, type, MST_RIGHT);
    mst_text_in(s->pen, x + left, base, w - left - value - 4, e->name, type);
    mst_text_at(s->pen, x + w - 3, base, e->value, type, MST_RIGHT);
}

/* The line under a list that is cut short, or that leaves names out; "" if there is nothing to say. */
static void list_rest(const mst_ledger *l, size_t shown, char out[200]) {
    size_t more = l->listed_count - shown;
    out[0] = 0;
    if (more) snprintf(out, 200, "%s%zu more: take a larger sheet or the list of points.", shown ? "And " : "", more);
    if (l->names_left_out)
        snprintf(out + strlen(out), 200 - strlen(out), "%sNames of %zu points are left out.", more ? " " : "",
                 l->names_left_out);
}

/* Rows that fit into @p room; the last line says what does not. */
static double list(const spot *s, double room) {
    const mst_ledger *l = s->l;
    double top = heading(s, s->y, "Not shown on the plan for want of room"), pitch = list_pitch(s), used = top - s->y;
    size_t columns = (size_t)list_columns(s), needed = (l->listed_count + columns - 1) / columns;
    double lines = floor((room - used - 2 * pitch) / pitch);
    size_t rows = lines < 0 ? 0 : (size_t)lines < needed ? (size_t)lines : needed, shown = rows * columns;
    char rest[200];
    if (shown > l->listed_count) shown = l->listed_count;
    mst_pen_tone(s->pen, MST_TONE_INK);
    for (size_t k = 0; k < shown; k++) {
        const size_t column = k / rows, row = k % rows;
        list_entry(s, &l->listed[k], s->x + (double)column * s->w / (double)columns, top + (double)row * pitch,
                   s->w / (double)columns);
    }
    used += (double)rows * pitch;
    list_rest(l, shown, rest);
    return *rest ? used + mst_text_block(s->pen, s->x, s->y + used, s->w, rest, (mst_type){s->note, true}) : used;
}

/* ---- flow ---- */

typedef double block(const spot *s, size_t i);
typedef struct unit {
    block *run;
    size_t i;
} unit;

static size_t units_of(const mst_ledger *l, unit out[], size_t room) {
    size_t count = 0;
    out[count++] = (unit){head, 0};
    out[count++] = (unit){legend, 0};
    for (size_t i = 0; i < l->plan->note_count && count < room; i++) out[count++] = (unit){note, i};
    return count;
}

typedef struct flow {
    const mst_ledger *l;
    mst_pen *pen;
    const mst_columns *c;
    double note, title;
    int column;
    double y;
} flow;

static double foot(const flow *f) {
    const mst_rect *r = &f->c->at[f->column];
    return r->y + r->h - (f->column == f->c->title ? f->title + GAP_OF_NOTE * f->note : 0);
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
            f->y += height + GAP_OF_NOTE * f->note;
            return true;
        }
        if (!next_column(f)) return false;
    }
}

/* The list takes what is left of a column that holds as much of it as is asked for. */
static bool flow_list(flow *f) {
    if (!f->l->listed_count && !f->l->names_left_out) return true;
    for (;;) {
        spot s = here(f);
        size_t columns = (size_t)list_columns(&s), rows = (f->l->listed_count + columns - 1) / columns;
        double least = list_pitch(&s) * (double)(3 + (rows < f->l->list_rows ? rows : f->l->list_rows));
        if (f->y + least <= foot(f)) break;
        if (!next_column(f)) return false;
    }
    spot s = here(f);
    f->y += list(&s, foot(f) - f->y) + GAP_OF_NOTE * f->note;
    return true;
}

static bool run(const mst_ledger *l, mst_pen *pen, const mst_columns *columns, double note_mm) {
    enum { UNITS_MOST = 24 };
    unit units[UNITS_MOST];
    size_t count = units_of(l, units, UNITS_MOST);
    const mst_rect *last = &columns->at[columns->title];
    double width = fmin(180, last->w);
    flow f = {l,
              pen,
              columns,
              note_mm,
              mst_title_block(l, pen, last->x + last->w - width, last->y + last->h, width),
              0,
              columns->at[0].y};
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
