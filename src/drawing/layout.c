#include "drawing/layout.h"
#include "drawing/figures.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double INSET_MM = 4;     /* of words from the frame */
static const double MARGIN_MM = 9;    /* round the plan at an automatic scale, for labels */
static const double TIGHT_MM = 2;     /* round the plan at a scale that was asked for */
static const double SMALL_NOTE = 1.8; /* the least height of capitals */
enum { ARRANGEMENTS = 4 };

/** One way to share the drawing space between the plan and the words. */
typedef struct arrangement {
    mst_columns columns;
    mst_rect area, bars;
    double note_mm;
} arrangement;

/* ---- sharing the sheet ---- */

static double ledger_width(const mst_paper *p) {
    if (p->long_mm < 300) return 76;
    if (p->long_mm < 440) return 98;
    return p->long_mm < 600 ? 126 : p->long_mm < 850 ? 150 : 184;
}

/* The foot of the plan holds the two bars: side by side, or one over the other on a narrow plan. */
static void take_bars(arrangement *a, bool imperial) {
    double high = a->area.w > mst_check_bar_mm(imperial) + 64 ? 13 : 24;
    a->area.h -= high;
    a->bars = (mst_rect){a->area.x, a->area.y + a->area.h, a->area.w, high};
}

static arrangement beside(mst_rect frame, double width, int count, double note_mm, bool imperial) {
    arrangement a = {.note_mm = note_mm, .columns = {.count = count, .title = count - 1}};
    double left = frame.x + frame.w - count * width;
    for (int i = 0; i < count; i++)
        a.columns.at[i] =
            (mst_rect){left + i * width + INSET_MM, frame.y + INSET_MM, width - 2 * INSET_MM, frame.h - 2 * INSET_MM};
    a.area = (mst_rect){frame.x, frame.y, frame.w - count * width, frame.h};
    take_bars(&a, imperial);
    return a;
}

static arrangement below(mst_rect frame, double height, int count, double note_mm, bool imperial) {
    arrangement a = {.note_mm = note_mm, .columns = {.count = count, .title = count - 1}};
    double width = frame.w / count, top = frame.y + frame.h - height;
    for (int i = 0; i < count; i++)
        a.columns.at[i] =
            (mst_rect){frame.x + i * width + INSET_MM, top + INSET_MM, width - 2 * INSET_MM, height - 2 * INSET_MM};
    a.area = (mst_rect){frame.x, frame.y, frame.w, frame.h - height};
    take_bars(&a, imperial);
    return a;
}

/* A ledger beside the plan that goes on in columns below it. */
static arrangement around(mst_rect frame, double width, double height, double note_mm, bool imperial) {
    arrangement a = beside(frame, width, 1, note_mm, imperial);
    int more = (int)fmax(1, fmin(MST_COLUMNS_MOST - 1, floor(a.area.w / width)));
    double column = a.area.w / more, top = frame.y + frame.h - height;
    for (int i = 0; i < more; i++)
        a.columns.at[1 + i] =
            (mst_rect){frame.x + i * column + INSET_MM, top + INSET_MM, column - 2 * INSET_MM, height - 2 * INSET_MM};
    a.columns.count = 1 + more;
    a.area = (mst_rect){frame.x, frame.y, frame.w - width, frame.h - height};
    take_bars(&a, imperial);
    return a;
}

/* The narrowest ledger of that many columns beside the plan that holds all words. */
static bool narrowest(const mst_ledger *l, mst_pen *pen, mst_rect frame, int count, double note_mm, arrangement *out) {
    double base = ledger_width(l->paper);
    for (double width = base; width <= base * 1.4 && count * width <= frame.w * 0.62; width += 4) {
        *out = beside(frame, width, count, note_mm, l->plan->imperial);
        if (mst_ledger_fits(l, pen, &out->columns, note_mm)) return true;
    }
    return false;
}

static bool lowest(const mst_ledger *l, mst_pen *pen, mst_rect frame, double note_mm, arrangement *out) {
    int count = (int)fmax(2, fmin(4, floor(frame.w / (0.85 * ledger_width(l->paper)))));
    for (double height = 60; height <= frame.h * 0.62; height += 2) {
        *out = below(frame, height, count, note_mm, l->plan->imperial);
        if (mst_ledger_fits(l, pen, &out->columns, note_mm)) return true;
    }
    return false;
}

static bool lowest_around(const mst_ledger *l, mst_pen *pen, mst_rect frame, double note_mm, arrangement *out) {
    double width = ledger_width(l->paper);
    for (double height = 16; height <= frame.h * 0.5 && width <= frame.w * 0.5; height += 2) {
        *out = around(frame, width, height, note_mm, l->plan->imperial);
        if (mst_ledger_fits(l, pen, &out->columns, note_mm)) return true;
    }
    return false;
}

/* All ways that hold the words at one height, the quietest first. */
static int ways_at(const mst_ledger *l, mst_pen *pen, bool portrait, double note, arrangement out[ARRANGEMENTS]) {
    mst_rect frame = mst_paper_frame(l->paper, portrait);
    int count = 0;
    count += narrowest(l, pen, frame, 1, note, &out[count]);
    count += lowest_around(l, pen, frame, note, &out[count]);
    count += lowest(l, pen, frame, note, &out[count]);
    if (!portrait) count += narrowest(l, pen, frame, 2, note, &out[count]);
    return count;
}

/* Gives up first the length of the list, then the height of the notes. */
static int arrangements(const mst_ledger *asked, mst_pen *pen, bool portrait, arrangement out[ARRANGEMENTS]) {
    static const size_t rows[] = {14, 1};
    mst_ledger l = *asked;
    for (int small = 0; small < 2; small++)
        for (int k = 0; k < 2; k++) {
            l.list_rows = rows[k];
            int count = ways_at(&l, pen, portrait, small ? SMALL_NOTE : l.sizes->note, out);
            if (count) return count;
        }
    return 0;
}

/* ---- scale ---- */

typedef struct size {
    double w, h;
} size; /* m */

static bool holds(const arrangement *a, size site, double scale, double margin) {
    double mm = 1000 / scale;
    return site.w * mm + 2 * margin <= a->area.w && site.h * mm + 2 * margin <= a->area.h;
}

/* @return the first of the ways at which the scale fits, NULL if none */
static const arrangement *way_for(const arrangement ways[], int count, size site, double scale, double margin) {
    for (int i = 0; i < count; i++)
        if (holds(&ways[i], site, scale, margin)) return &ways[i];
    return NULL;
}

/* The largest usual scale at which the site fits; 0 if none does. */
static double largest_scale(const arrangement ways[], int count, size site, bool imperial, double margin) {
    size_t scales;
    const double *scale = mst_scales(imperial, &scales);
    for (size_t i = 0; i < scales; i++)
        if (way_for(ways, count, site, scale[i], margin)) return scale[i];
    return 0;
}

static bool paper_holds(const mst_ledger *like, mst_pen *pen, const mst_paper *paper, bool portrait, size site) {
    arrangement ways[ARRANGEMENTS];
    mst_sizes sizes = mst_sizes_for(paper);
    mst_ledger l = *like;
    l.paper = paper;
    l.sizes = &sizes;
    return way_for(ways, arrangements(&l, pen, portrait, ways), site, l.scale, TIGHT_MM) != NULL;
}

/* The smallest sheet of the A series that holds the site at the scale asked for; "" if none does. */
static const char *larger_paper(const mst_ledger *l, mst_pen *pen, size site, bool *portrait) {
    size_t count;
    const mst_paper *papers = mst_papers(&count);
    for (size_t i = 0; i < count; i++)
        for (int upright = 0; upright < 2; upright++) {
            *portrait = upright;
            if (papers[i].short_mm >= l->paper->short_mm && paper_holds(l, pen, &papers[i], upright, site))
                return papers[i].name;
        }
    return "";
}

static mst_status does_not_fit(const mst_ledger *l, mst_pen *pen, const arrangement ways[], int count, size site,
                               mst_error *error) {
    char asked[MST_FIGURE_SIZE], fits[MST_FIGURE_SIZE], w[MST_FIGURE_SIZE], h[MST_FIGURE_SIZE], advice[256] = "";
    bool imperial = l->plan->imperial, portrait = false;
    mst_write_scale(l->scale, imperial, asked);
    mst_write_length(site.w, 1, imperial, w);
    mst_write_length(site.h, 1, imperial, h);
    double usual = largest_scale(ways, count, site, imperial, TIGHT_MM);
    const char *paper = larger_paper(l, pen, site, &portrait), *unit = imperial ? "" : " m";
    if (usual > 0) mst_write_scale(usual, imperial, fits);
    if (usual > 0) snprintf(advice, sizeof advice, "take %s on %s", fits, l->paper->name);
    if (*paper)
        snprintf(advice + strlen(advice), sizeof advice - strlen(advice), "%s%s %s at %s",
                 usual > 0 ? ", or " : "take ", paper, portrait ? "portrait" : "landscape", asked);
    if (!*advice) snprintf(advice, sizeof advice, "draw it in parts");
    return mst_fail(error, MST_INVALID, "The site is %s%s by %s%s and does not fit on %s at %s: %s.", w, unit, h, unit,
                    l->paper->name, asked, advice);
}

/* Chooses the way and the scale; l->scale is the one asked for, or 0. */
static mst_status choose(mst_ledger *l, mst_pen *pen, bool portrait, size site, arrangement *way, mst_error *error) {
    arrangement ways[ARRANGEMENTS];
    int count = arrangements(l, pen, portrait, ways);
    if (!count)
        return mst_fail(error, MST_INVALID,
                        "The notes and the title block leave no room for a plan on %s: take a larger sheet.",
                        l->paper->name);
    double margin = l->scale > 0 ? TIGHT_MM : MARGIN_MM;
    if (!(l->scale > 0)) l->scale = largest_scale(ways, count, site, l->plan->imperial, margin);
    if (!(l->scale > 0))
        return mst_fail(
            error, MST_INVALID,
            "The site is %.0f m by %.0f m, too large for any usual scale on %s; is one point far away by mistake?",
            site.w, site.h, l->paper->name);
    const arrangement *fit = way_for(ways, count, site, l->scale, margin);
    if (!fit) return does_not_fit(l, pen, ways, count, site, error);
    *way = *fit;
    return MST_OK;
}

/* ---- the page ---- */

static double ellipse_factor(const mst_plan *plan, const mst_view *view) {
    static const double factors[] = {1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000};
    const double usual_mm = 4; /* what a usual ellipse should measure */
    double best = factors[0];
    for (size_t i = 0; i < sizeof factors / sizeof *factors; i++)
        if (factors[i] * plan->sd_plan_m * view->mm_per_m <= usual_mm) best = factors[i];
    return best;
}

static void place_bars(mst_layout *l) {
    double check = mst_check_bar_mm(l->plan->imperial), x = l->bars.x + INSET_MM + 1, y = l->bars.y + 7.2;
    bool one_row = l->bars.h < 20;
    double room = one_row ? l->bars.w - check - 4 * INSET_MM - 14 : l->bars.w - 4 * INSET_MM;
    l->scale_bar = mst_scale_bar_for(l->scale, l->plan->imperial, fmin(110, room));
    l->scale_bar_at[0] = x;
    l->scale_bar_at[1] = y;
    l->check_bar_at[0] = one_row ? l->bars.x + l->bars.w - INSET_MM - check : x;
    l->check_bar_at[1] = one_row ? y + 1.6 : y + 10;
}

static mst_status annotate(mst_layout *l, const mst_layout_request *r, mst_pen *pen, mst_arena *arena,
                           mst_error *error) {
    mst_point low, high;
    mst_plan_extent(l->plan, r->options->north_up_turn_rad, &low, &high);
    l->view = mst_view_make(l->scale, r->options->north_up_turn_rad);
    mst_view_centre(&l->view, low, high, l->area);
    l->ledger.ellipse_factor = r->options->ellipses && l->plan->sd_plan_m > 0 ? ellipse_factor(l->plan, &l->view) : 0;
    mst_annotation_request request = {
        l->plan, &l->view, &l->sizes, mst_rect_inset(l->area, 1.5), &l->grid, r->options->point_names};
    if (!mst_grid_make(l->plan, &l->view, &l->sizes, l->area, pen, arena, &l->grid) ||
        !mst_annotate(&request, pen, arena, &l->annotation))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    return MST_OK;
}

static void adopt(mst_layout *l, const arrangement *way) {
    l->columns = way->columns;
    l->area = way->area;
    l->bars = way->bars;
    l->note_mm = way->note_mm;
    l->scale = l->ledger.scale;
}

/* The legend depends on the scale (ellipses, hatches) and the scale on the room that the legend leaves: begin with a
 * legend for a usual scale, then with what the plan turned out to use and the list of what found no room. */
static mst_status settle(mst_layout *l, const mst_layout_request *r, size site, mst_pen *pen, mst_arena *arena,
                         mst_error *error) {
    enum { ROUNDS = 3 };
    for (int round = 0; round < ROUNDS; round++) {
        arrangement way = {0};
        double asked = r->options->scale;
        l->ledger.scale = l->scale > 0 ? l->scale : asked > 0 ? asked : 200;
        if (!mst_legend_make(&l->ledger, pen, l->ledger.listed_count > 0))
            return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        l->ledger.scale = asked;
        mst_status status = choose(&l->ledger, pen, l->portrait, site, &way, error);
        if (status) return status;
        bool same = round && way.area.w == l->area.w && way.area.h == l->area.h && l->ledger.scale == l->scale;
        adopt(l, &way);
        if (same) return MST_OK;
        status = annotate(l, r, pen, arena, error);
        if (status) return status;
        l->ledger.listed = l->annotation.listed;
        l->ledger.listed_count = l->annotation.listed_count;
        l->ledger.names_left_out = l->annotation.names_left_out;
    }
    return MST_OK;
}

mst_status mst_layout_make(const mst_layout_request *r, mst_pen *pen, mst_arena *arena, mst_layout *l,
                           mst_error *error) {
    mst_point low, high;
    *l = (mst_layout){
        .plan = r->plan, .paper = r->paper, .portrait = r->options->portrait, .sizes = mst_sizes_for(r->paper)};
    l->frame = mst_paper_frame(r->paper, l->portrait);
    l->ledger = (mst_ledger){.plan = r->plan,
                             .text = r->text,
                             .paper = r->paper,
                             .sizes = &l->sizes,
                             .turn_rad = r->options->north_up_turn_rad,
                             .document = r->document,
                             .arena = arena};
    if (!mst_plan_extent(r->plan, l->ledger.turn_rad, &low, &high))
        return mst_fail(error, MST_TOO_FEW,
                        "There is nothing to draw yet: no point has a place; bring in readings first.");
    size site = {high.easting_m - low.easting_m, high.northing_m - low.northing_m};
    mst_status status = settle(l, r, site, pen, arena, error);
    if (!status) place_bars(l);
    return status;
}
