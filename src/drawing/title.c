/* The title block and the table of revisions. Fields after ISO 7200:2004; their order and look are ours. */
#include "drawing/figures.h"
#include "drawing/ledger.h"
#include <math.h>
#include <stdio.h>

typedef struct block {
    const mst_ledger *l;
    mst_pen *pen;
    double x, y, w;
} block;

static const char *or_empty(const char *text) { return text ? text : ""; }
static const char *or_dash(const char *text) { return text && *text ? text : "\xE2\x80\x93"; }

static void rule(const block *b, double width) {
    mst_pen_tone(b->pen, MST_TONE_INK);
    mst_pen_line(b->pen, b->x, b->y, b->x + b->w, b->y, width);
}

static void field(const block *b, double x, double width, const char *caption, const char *value, bool strong) {
    const mst_sizes *s = b->l->sizes;
    double small = s->note * 0.86;
    mst_pen_tone(b->pen, MST_TONE_QUIET);
    mst_text_in(b->pen, x, b->y + 1.4 + small, width - 1.5, caption, (mst_type){small, false});
    mst_pen_tone(b->pen, MST_TONE_INK);
    mst_text_in(b->pen, x, b->y + 2.9 + small + s->figure, width - 1.5, value, (mst_type){s->figure, strong});
}

static double field_height(const mst_sizes *s) { return 4.6 + s->note * 0.86 + s->figure; }

typedef struct cell {
    const char *caption, *value;
    double share;
    bool strong;
} cell;

/* One row of fields, a hairline under it. */
static void row(block *b, const cell cells[], int count) {
    double x = b->x;
    for (int i = 0; i < count; i++) {
        field(b, x, b->w * cells[i].share, cells[i].caption, cells[i].value, cells[i].strong);
        x += b->w * cells[i].share;
    }
    b->y += field_height(b->l->sizes);
    rule(b, b->l->sizes->fine);
}

static void headline(block *b) {
    const mst_sheet_text *t = b->l->text;
    const mst_sizes *s = b->l->sizes;
    const char *title = t->title && *t->title ? t->title : "Plan";
    b->y += 2.4 + s->title;
    mst_text_in(b->pen, b->x, b->y, b->w, title, (mst_type){s->title, true});
    if (t->supplement && *t->supplement) {
        b->y += 2.2 + s->figure;
        mst_text_in(b->pen, b->x, b->y, b->w, t->supplement, (mst_type){s->figure, false});
    }
    b->y += 3;
    rule(b, s->fine);
}

static void rows(block *b) {
    const mst_sheet_text *t = b->l->text;
    char scale[MST_FIGURE_SIZE], sheet[32], at[MST_FIGURE_SIZE + 32];
    mst_write_scale(b->l->scale, b->l->plan->imperial, scale);
    snprintf(at, sizeof at, "%s at %s", scale, b->l->paper->name);
    snprintf(sheet, sizeof sheet, "%d of %d", t->sheet > 0 ? t->sheet : 1, t->sheets > 0 ? t->sheets : 1);
    row(b, (cell[]){{"Legal owner", or_dash(t->owner), 0.5, false}, {"Client", or_dash(t->client), 0.5, false}}, 2);
    row(b,
        (cell[]){{"Created by", or_dash(t->creator), 0.34, false},
                 {"Approved by", or_dash(t->approved), 0.34, false},
                 {"Date of issue", or_dash(t->date), 0.32, false}},
        3);
    row(b, (cell[]){{"Document", b->l->document, 0.34, false}, {"Scale", at, 0.66, true}}, 2);
    row(b,
        (cell[]){{"Number", or_dash(t->number), 0.5, true},
                 {"Revision", or_dash(t->revision), 0.22, true},
                 {"Sheet", sheet, 0.28, true}},
        3);
}

/* One entry of the revision table; a long note goes on under it. */
static void revision_line(block *b, const mst_revision *r) {
    mst_type type = {b->l->sizes->note, false};
    char who[96];
    snprintf(who, sizeof who, "%s%s%s", or_empty(r->by), r->checked && *r->checked ? " / " : "", or_empty(r->checked));
    mst_pen_tone(b->pen, MST_TONE_INK);
    double base = b->y + type.cap_mm * 1.25;
    mst_text_at(b->pen, b->x, base, or_dash(r->index), (mst_type){type.cap_mm, true}, MST_LEFT);
    mst_text_at(b->pen, b->x + b->w * 0.08, base, or_empty(r->date), type, MST_LEFT);
    double note = b->w * 0.31, right = mst_text_width(b->pen, who, type), room = b->w - note - right - 2;
    const char *words = or_empty(r->note);
    bool beside = mst_text_width(b->pen, words, type) <= room;
    mst_text_at(b->pen, b->x + b->w, base, who, type, MST_RIGHT);
    if (beside) mst_text_at(b->pen, b->x + note, base, words, type, MST_LEFT);
    b->y += type.cap_mm * 1.8;
    if (!beside) b->y += mst_text_block(b->pen, b->x + b->w * 0.08, b->y, b->w * 0.92, words, type);
}

static void revisions(block *b) {
    enum { SHOWN = 5 };
    const mst_sheet_text *t = b->l->text;
    mst_pen_tone(b->pen, MST_TONE_QUIET);
    mst_text_at(b->pen, b->x, b->y + b->l->sizes->note * 1.2, "Revision, date, what changed, by / checked",
                (mst_type){b->l->sizes->note * 0.86, false}, MST_LEFT);
    b->y += b->l->sizes->note * 2;
    mst_revision now = {t->revision, t->date, t->revision_note && *t->revision_note ? t->revision_note : "issued",
                        t->creator, t->approved};
    revision_line(b, &now);
    for (size_t i = 0; i < t->revision_count && i < SHOWN; i++)
        revision_line(b, &t->revisions[t->revision_count - 1 - i]);
    b->y += 1.2;
}

static double run(const mst_ledger *l, mst_pen *pen, double x, double top, double width) {
    block b = {l, pen, x, top, width};
    revisions(&b);
    rule(&b, l->sizes->medium);
    headline(&b);
    rows(&b);
    return b.y - top;
}

double mst_title_block(const mst_ledger *l, mst_pen *pen, double x, double bottom, double width) {
    mst_pen measuring = *pen;
    measuring.cairo = NULL;
    double height = run(l, &measuring, x, 0, width);
    if (pen->cairo) run(l, pen, x, bottom - height, width);
    return height;
}
