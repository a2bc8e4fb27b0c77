#include "drawing/layout.h"
#include "drawing/arrange.h"
#include <math.h>

static const double BAR_INSET_MM = 4; /* of the bars from the edges of the plan */

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
    double check = mst_check_bar_mm(l->plan->imperial), x = l->bars.x + BAR_INSET_MM + 1, y = l->bars.y + 7.2;
    bool one_row = l->bars.h < 20;
    double room = one_row ? l->bars.w - check - 4 * BAR_INSET_MM - 14 : l->bars.w - 4 * BAR_INSET_MM;
    l->scale_bar = mst_scale_bar_for(l->scale, l->plan->imperial, fmin(110, room));
    l->scale_bar_at[0] = x;
    l->scale_bar_at[1] = y;
    l->check_bar_at[0] = one_row ? l->bars.x + l->bars.w - BAR_INSET_MM - check : x;
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

static void adopt(mst_layout *l, const mst_arrangement *way, double scale) {
    l->columns = way->columns;
    l->area = way->area;
    l->bars = way->bars;
    l->note_mm = way->note_mm;
    l->ledger.list_rows = way->list_rows;
    l->scale = l->ledger.scale = scale;
}

static mst_status make_legend(mst_layout *l, mst_pen *pen, mst_error *error) {
    if (mst_legend_make(&l->ledger, pen, l->ledger.listed_count > 0)) return MST_OK;
    return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status arrange(mst_layout *l, double asked, double *scale, mst_extent site, mst_pen *pen, mst_error *error) {
    mst_arrangement way = {0};
    mst_status status = asked > 0 ? mst_arrange_at(&l->ledger, pen, l->portrait, site, asked, &way, error)
                                  : mst_arrange_automatically(&l->ledger, pen, l->portrait, site, scale, &way, error);
    if (!status) adopt(l, &way, *scale);
    return status;
}

static void take_list(mst_layout *l) {
    l->ledger.listed = l->annotation.listed;
    l->ledger.listed_count = l->annotation.listed_count;
    l->ledger.names_left_out = l->annotation.names_left_out;
}

/* The largest scale worth learning the legend at: the bare sheet holds no more of the site. Hatches are drawn to learn
 * which there are, and their work grows with the paper that the plan would need. */
static double scale_for_legend(const mst_layout *l, double wanted, mst_extent site) {
    return fmax(wanted, fmax(1000 * site.w_m / mst_paper_width(l->paper, l->portrait),
                             1000 * site.h_m / mst_paper_height(l->paper, l->portrait)));
}

/* The legend and the list depend on the scale and the labels, and these on the room that legend and list leave: round
 * by round, until a share of the sheet holds the words that it brings about. A scale never grows from round to round;
 * after the last one the list may be cut shorter than it asked for. */
static mst_status settle(mst_layout *l, const mst_layout_request *r, mst_extent site, mst_pen *pen, mst_arena *arena,
                         mst_error *error) {
    enum { ROUNDS = 5 };
    double asked = r->options->scale, scale = asked;
    l->ledger.scale = scale_for_legend(l, asked > 0 ? asked : 200, site);
    mst_status status = make_legend(l, pen, error);
    for (int round = 0; round < ROUNDS && !status; round++) {
        status = arrange(l, asked, &scale, site, pen, error);
        if (!status) status = annotate(l, r, pen, arena, error);
        if (status) return status;
        take_list(l);
        status = make_legend(l, pen, error);
        if (!status && mst_ledger_fits(&l->ledger, pen, &l->columns, l->note_mm)) return MST_OK;
    }
    l->ledger.list_rows = 0;
    if (status || mst_ledger_fits(&l->ledger, pen, &l->columns, l->note_mm)) return status;
    return mst_fail(error, MST_INVALID,
                    "The list of what finds no room on the plan finds none on %s either: take a larger sheet.",
                    l->paper->name);
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
    mst_extent site = {high.easting_m - low.easting_m, high.northing_m - low.northing_m};
    mst_status status = settle(l, r, site, pen, arena, error);
    if (!status) place_bars(l);
    return status;
}
