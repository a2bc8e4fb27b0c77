/* Shares a sheet between the plan and the words beside it, and finds the scale that its share of the sheet allows. */
#include "drawing/arrange.h"
#include "drawing/figures.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double INSET_MM = 4;     /* of words from the frame */
static const double MARGIN_MM = 9;    /* round the plan, for labels */
static const double TIGHT_MM = 2;     /* round the plan at a scale that was asked for and would not fit otherwise */
static const double SMALL_NOTE = 1.8; /* the least height of capitals */
enum { WAYS = 4 };

/* ---- sharing the sheet ---- */

static double ledger_width(const mst_paper *p) {
    if (p->long_mm < 300) return 76;
    if (p->long_mm < 440) return 98;
    return p->long_mm < 600 ? 126 : p->long_mm < 850 ? 150 : 184;
}

/* The foot of the plan holds the two bars: side by side, or one over the other on a narrow plan. */
static void take_bars(mst_arrangement *a, bool imperial) {
    double high = a->area.w > mst_check_bar_mm(imperial) + 64 ? 13 : 24;
    a->area.h -= high;
    a->bars = (mst_rect){a->area.x, a->area.y + a->area.h, a->area.w, high};
}

static mst_arrangement beside(mst_rect frame, double width, int count, double note_mm, bool imperial) {
    mst_arrangement a = {.note_mm = note_mm, .columns = {.count = count, .title = count - 1}};
    double left = frame.x + frame.w - count * width;
    for (int i = 0; i < count; i++)
        a.columns.at[i] =
            (mst_rect){left + i * width + INSET_MM, frame.y + INSET_MM, width - 2 * INSET_MM, frame.h - 2 * INSET_MM};
    a.area = (mst_rect){frame.x, frame.y, frame.w - count * width, frame.h};
    take_bars(&a, imperial);
    return a;
}

/* What a column of words under the plan is made from, for a height still to be found. */
typedef struct shape {
    mst_arrangement (*make)(const struct shape *s, double height);
    mst_rect frame;
    double width, note_mm;
    int count;
    bool imperial;
} shape;

static mst_arrangement below(const shape *s, double height) {
    mst_rect frame = s->frame;
    int count = s->count;
    mst_arrangement a = {.note_mm = s->note_mm, .columns = {.count = count, .title = count - 1}};
    double width = frame.w / count, top = frame.y + frame.h - height;
    for (int i = 0; i < count; i++)
        a.columns.at[i] =
            (mst_rect){frame.x + i * width + INSET_MM, top + INSET_MM, width - 2 * INSET_MM, height - 2 * INSET_MM};
    a.area = (mst_rect){frame.x, frame.y, frame.w, frame.h - height};
    take_bars(&a, s->imperial);
    return a;
}

/* A ledger beside the plan that goes on in columns below it. */
static mst_arrangement around(const shape *s, double height) {
    mst_rect frame = s->frame;
    double width = s->width;
    mst_arrangement a = beside(frame, width, 1, s->note_mm, s->imperial);
    int more = (int)fmax(1, fmin(MST_COLUMNS_MOST - 1, floor(a.area.w / width)));
    double column = a.area.w / more, top = frame.y + frame.h - height;
    for (int i = 0; i < more; i++)
        a.columns.at[1 + i] =
            (mst_rect){frame.x + i * column + INSET_MM, top + INSET_MM, column - 2 * INSET_MM, height - 2 * INSET_MM};
    a.columns.count = 1 + more;
    a.area = (mst_rect){frame.x, frame.y, frame.w - width, frame.h - height};
    take_bars(&a, s->imperial);
    return a;
}

/* The narrowest ledger of that many columns beside the plan that holds all words. */
static bool narrowest(const mst_ledger *l, mst_pen *pen, mst_rect frame, int count, double note_mm,
                      mst_arrangement *out) {
    double base = ledger_width(l->paper);
    for (double width = base; width <= base * 1.4 && count * width <= frame.w * 0.62; width += 4) {
        *out = beside(frame, width, count, note_mm, l->plan->imperial);
        if (mst_ledger_fits(l, pen, &out->columns, note_mm)) return true;
    }
    return false;
}

/* The least height, from @p least in steps of 2 mm, at which the words fit; they fit at every greater one. */
static bool lowest(const mst_ledger *l, mst_pen *pen, const shape *s, double least, double most, mst_arrangement *out) {
    const double step = 2;
    int fits = (int)floor((most - least) / step), fails = -1;
    *out = s->make(s, least + fits * step);
    if (fits < 0 || !mst_ledger_fits(l, pen, &out->columns, s->note_mm)) return false;
    while (fits - fails > 1) {
        int middle = (fits + fails) / 2;
        mst_arrangement try = s->make(s, least + middle * step);
        if (mst_ledger_fits(l, pen, &try.columns, s->note_mm)) fits = middle, *out = try;
        else fails = middle;
    }
    return true;
}

/* All ways that hold the words at one height, the quietest first. */
static int ways_at(const mst_ledger *l, mst_pen *pen, bool portrait, double note, mst_arrangement out[WAYS]) {
    mst_rect frame = mst_paper_frame(l->paper, portrait);
    int count = 0;
    count += narrowest(l, pen, frame, 1, note, &out[count]);
    double width = ledger_width(l->paper);
    int columns = (int)fmax(2, fmin(4, floor(frame.w / (0.85 * width))));
    shape corner = {around, frame, width, note, 0, l->plan->imperial},
          foot = {below, frame, 0, note, columns, l->plan->imperial};
    if (width <= frame.w * 0.5) count += lowest(l, pen, &corner, 16, frame.h * 0.5, &out[count]);
    count += lowest(l, pen, &foot, 60, frame.h * 0.62, &out[count]);
    if (!portrait) count += narrowest(l, pen, frame, 2, note, &out[count]);
    return count;
}

/* What is given up for a scale, in this order: the length of the list, then the height of the notes. */
typedef struct level {
    bool small;
    size_t rows;
} level;
static const level LEVELS[] = {{false, 14}, {false, 4}, {false, 0}, {true, 14}, {true, 0}};
enum { LEVEL_COUNT = sizeof LEVELS / sizeof *LEVELS };

/* Every way at every level. */
typedef struct choice {
    mst_arrangement ways[LEVEL_COUNT][WAYS];
    int count[LEVEL_COUNT];
} choice;

static bool all_ways(const mst_ledger *asked, mst_pen *pen, bool portrait, choice *out) {
    bool any = false;
    *out = (choice){0};
    for (int i = 0; i < LEVEL_COUNT; i++) {
        mst_ledger l = *asked;
        l.list_rows = LEVELS[i].rows;
        if (LEVELS[i].small && l.sizes->note <= SMALL_NOTE) continue;
        out->count[i] = ways_at(&l, pen, portrait, LEVELS[i].small ? SMALL_NOTE : l.sizes->note, out->ways[i]);
        for (int k = 0; k < out->count[i]; k++) out->ways[i][k].list_rows = LEVELS[i].rows;
        any |= out->count[i] > 0;
    }
    return any;
}

/* ---- scale ---- */

static bool holds(const mst_arrangement *a, mst_extent site, double scale, double margin) {
    double mm = 1000 / scale;
    return site.w_m * mm + 2 * margin <= a->area.w && site.h_m * mm + 2 * margin <= a->area.h;
}

/* The first way, giving up as little as can be, at which the scale fits; NULL if none. */
static const mst_arrangement *way_for(const choice *c, bool small, mst_extent site, double scale, double margin) {
    for (int i = 0; i < LEVEL_COUNT; i++)
        for (int k = 0; k < c->count[i]; k++)
            if (LEVELS[i].small <= small && holds(&c->ways[i][k], site, scale, margin)) return &c->ways[i][k];
    return NULL;
}

/* The largest usual scale that is not larger than @p largest; notes stay at their height if any scale lets them. */
static const mst_arrangement *automatic(const choice *c, mst_extent site, bool imperial, double largest, double margin,
                                        double *scale) {
    size_t scales;
    const double *usual = mst_scales(imperial, &scales);
    for (int small = 0; small < 2; small++)
        for (size_t i = 0; i < scales; i++) {
            const mst_arrangement *way = usual[i] < largest ? NULL : way_for(c, small, site, usual[i], margin);
            if (way) *scale = usual[i];
            if (way) return way;
        }
    return NULL;
}

static bool paper_holds(const mst_ledger *like, mst_pen *pen, const mst_paper *paper, bool portrait, mst_extent site,
                        double scale) {
    choice c;
    mst_sizes sizes = mst_sizes_for(paper);
    mst_ledger l = *like;
    l.paper = paper;
    l.sizes = &sizes;
    double mm = 1000 / scale; /* no need to measure words where the bare sheet is too small */
    if (site.w_m * mm > mst_paper_width(paper, portrait) || site.h_m * mm > mst_paper_height(paper, portrait))
        return false;
    return all_ways(&l, pen, portrait, &c) && way_for(&c, true, site, scale, TIGHT_MM);
}

static bool metric_sheet(const mst_paper *p) { return p->name[0] == 'A'; }

/* The smallest larger sheet, of the same family first, that holds the site at that scale; NULL if none does. */
static const mst_paper *larger_paper(const mst_ledger *l, mst_pen *pen, mst_extent site, double scale, bool *portrait) {
    size_t count;
    const mst_paper *papers = mst_papers(&count);
    for (int other = 0; other < 2; other++)
        for (size_t i = 0; i < count; i++)
            for (int upright = 0; upright < 2; upright++) {
                *portrait = upright;
                bool family = metric_sheet(&papers[i]) == metric_sheet(l->paper);
                if (family != other && papers[i].short_mm >= l->paper->short_mm &&
                    paper_holds(l, pen, &papers[i], upright, site, scale))
                    return &papers[i];
            }
    return NULL;
}

static mst_status does_not_fit(const mst_ledger *l, mst_pen *pen, const choice *c, mst_extent site, double scale,
                               mst_error *error) {
    char asked[MST_FIGURE_SIZE], fits[MST_FIGURE_SIZE], w[MST_FIGURE_SIZE], h[MST_FIGURE_SIZE], advice[256] = "";
    bool imperial = l->plan->imperial, upright = false;
    double usual = 0;
    const char *unit = imperial ? "" : " m", *name = l->paper->name;
    mst_write_scale(scale, imperial, asked);
    mst_write_length(site.w_m, 1, imperial, w);
    mst_write_length(site.h_m, 1, imperial, h);
    (void)automatic(c, site, imperial, 0, TIGHT_MM, &usual);
    const mst_paper *paper = larger_paper(l, pen, site, scale, &upright);
    if (usual > 0) mst_write_scale(usual, imperial, fits);
    if (usual > 0) snprintf(advice, sizeof advice, "take %s on %s", fits, name);
    if (paper)
        snprintf(advice + strlen(advice), sizeof advice - strlen(advice), "%s%s %s at %s",
                 usual > 0 ? ", or " : "take ", paper->name, upright ? "portrait" : "landscape", asked);
    if (!*advice) snprintf(advice, sizeof advice, "draw it in parts");
    return mst_fail(error, MST_INVALID, "The site is %s%s by %s%s and does not fit on %s at %s: %s.", w, unit, h, unit,
                    name, asked, advice);
}

static mst_status no_room(const mst_ledger *l, mst_error *error) {
    return mst_fail(error, MST_INVALID,
                    "The notes and the title block leave no room for a plan on %s: take a larger sheet.",
                    l->paper->name);
}

mst_status mst_arrange_automatically(const mst_ledger *l, mst_pen *pen, bool portrait, mst_extent site, double *scale,
                                     mst_arrangement *way, mst_error *error) {
    choice c;
    if (!all_ways(l, pen, portrait, &c)) return no_room(l, error);
    const mst_arrangement *found = automatic(&c, site, l->plan->imperial, *scale, MARGIN_MM, scale);
    if (!found)
        return mst_fail(
            error, MST_INVALID,
            "The site is %.0f m by %.0f m, too large for any usual scale on %s; is one point far away by mistake?",
            site.w_m, site.h_m, l->paper->name);
    *way = *found;
    return MST_OK;
}

mst_status mst_arrange_at(const mst_ledger *l, mst_pen *pen, bool portrait, mst_extent site, double scale,
                          mst_arrangement *way, mst_error *error) {
    choice c;
    if (!all_ways(l, pen, portrait, &c)) return no_room(l, error);
    const mst_arrangement *found = way_for(&c, true, site, scale, MARGIN_MM);
    if (!found) found = way_for(&c, true, site, scale, TIGHT_MM);
    if (!found) return does_not_fit(l, pen, &c, site, scale, error);
    *way = *found;
    return MST_OK;
}
