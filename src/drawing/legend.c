/* The legend lists what the plan uses and nothing else, each sign drawn by the function that draws it on the plan. */
#include "drawing/ledger.h"
#include "drawing/look.h"
#include <math.h>
#include <string.h>

static const char LIMIT[] = "limit of model";
enum { SIGN_W_MM = MST_LEGEND_SIGN_W };

/* ---- what is used ---- */

static bool listed(const mst_ledger *l, const mst_legend_item *item) {
    for (size_t i = 0; i < l->legend_count; i++)
        if (l->legend[i].sign == item->sign && l->legend[i].area == item->area &&
            !strcmp(l->legend[i].words, item->words))
            return true;
    return false;
}

static bool has_words(const mst_ledger *l, const char *words) {
    for (size_t i = 0; i < l->legend_count; i++)
        if (!strcmp(l->legend[i].words, words)) return true;
    return false;
}

static bool add(mst_ledger *l, mst_legend_item item) {
    if (listed(l, &item)) return true;
    mst_legend_item *slot = MST_PUSH(l->arena, l->legend, l->legend_count, l->legend_capacity);
    if (slot) *slot = item;
    return slot != NULL;
}

static bool add_sign(mst_ledger *l, int sign, bool used, const char *words) {
    return !used || add(l, (mst_legend_item){.sign = sign, .words = words});
}

static bool add_point(mst_ledger *l, mst_point_sign sign, const char *words) {
    bool used = false;
    for (size_t i = 0; i < l->plan->point_count; i++) {
        const mst_plan_point *p = &l->plan->points[i];
        mst_point_sign has = p->held ? MST_SIGN_CONTROL : p->unproven ? MST_SIGN_UNPROVEN : MST_SIGN_SPOT;
        used |= has == sign && (p->held || !p->marked);
    }
    return !used || add(l, (mst_legend_item){.sign = MST_KEY_POINT, .point = sign, .words = words});
}

static bool add_features(mst_ledger *l, bool spots) {
    for (size_t i = 0; i < l->plan->feature_count; i++) {
        const mst_plan_feature *f = &l->plan->features[i];
        if ((f->kind == MST_FEATURE_SPOT) != spots) continue;
        mst_legend_item item = {.sign = spots ? MST_KEY_MARK : MST_KEY_STYLE,
                                .style = f->style,
                                .area = f->kind == MST_FEATURE_AREA && f->style->fill != MST_FILL_NONE,
                                .words = f->style->legend};
        if (!add(l, item)) return false;
    }
    return true;
}

static bool add_contours(mst_ledger *l) {
    bool plain = false, index = false;
    for (size_t i = 0; i < l->plan->contour_count; i++)
        if (l->plan->contours[i].index) index = true;
        else plain = true;
    double step = l->plan->contour_interval_m / (l->plan->imperial ? MST_FOOT_M : 1);
    const char *words = mst_arena_printf(l->arena, "contour, %.4g %s", step, l->plan->imperial ? "ft" : "m");
    return words && add_sign(l, MST_KEY_CONTOUR, plain, words) && add_sign(l, MST_KEY_INDEX, index, "fifth contour");
}

static const char *slope_words(const mst_ledger *l, int band) {
    double to = mst_slope_band_end(band), from = band ? mst_slope_band_end(band - 1) : 0;
    if (band == 0) return mst_arena_printf(l->arena, "slope to %g %%: water stands", to);
    if (band + 1 == MST_SLOPE_BANDS) return mst_arena_printf(l->arena, "slope over %g %%", from);
    return mst_arena_printf(l->arena, "slope %g to %g %%", from, to);
}

static const char *tint_words(const mst_ledger *l, int tint) {
    double unit = l->plan->imperial ? MST_FOOT_M : 1;
    double from = (l->plan->tint_first_m + tint * l->plan->tint_step_m) / unit;
    return mst_arena_printf(l->arena, "level %.2f to %.2f %s", from, from + l->plan->tint_step_m / unit,
                            l->plan->imperial ? "ft" : "m");
}

static const char *doubt_words(const mst_ledger *l, int band) {
    bool feet = l->plan->imperial;
    double unit = feet ? MST_FOOT_M / 12 : 0.001;
    double to = mst_doubt_band_end(band) / unit, from = band ? mst_doubt_band_end(band - 1) / unit : 0;
    const char *name = feet ? "in" : "mm";
    if (band + 1 == MST_DOUBT_BANDS) return mst_arena_printf(l->arena, "unsure by over %.3g %s", from, name);
    return mst_arena_printf(l->arena, "unsure by %.3g to %.3g %s", from, to, name);
}

static bool add_steps(mst_ledger *l, int sign, int count, bool (*has)(const mst_plan *, int),
                      const char *(*words)(const mst_ledger *, int)) {
    for (int i = 0; i < count; i++) {
        if (!has(l->plan, i)) continue;
        const char *said = words(l, i);
        if (!said || !add(l, (mst_legend_item){.sign = sign, .step = i, .words = said})) return false;
    }
    return true;
}

static bool add_look(mst_ledger *l) {
    switch (l->plan->look) {
    case MST_LOOK_SHADE:
        return add_sign(l, MST_KEY_SHADE, true, "light from NW, heights x 3");
    case MST_LOOK_SLOPES:
        return add_steps(l, MST_KEY_SLOPE, MST_SLOPE_BANDS, mst_plan_has_band, slope_words);
    case MST_LOOK_LEVELS:
        return add_steps(l, MST_KEY_TINT, l->plan->tint_count, mst_plan_has_tint, tint_words);
    case MST_LOOK_DOUBT:
        return add_steps(l, MST_KEY_DOUBT, MST_DOUBT_BANDS, mst_plan_has_band, doubt_words) &&
               add_sign(l, MST_KEY_NEXT, l->plan->next_count > 0, "take one more level, A first");
    default:
        return true;
    }
}

/* Draws the hatches to nowhere, to learn which there are. */
static int earthworks(const mst_ledger *l) {
    cairo_surface_t *nowhere = cairo_recording_surface_create(CAIRO_CONTENT_COLOR, NULL);
    mst_pen pen = {.cairo = cairo_create(nowhere)};
    mst_view view = mst_view_make(l->scale, l->turn_rad);
    int found = 0;
    for (size_t i = 0; i < l->plan->pad_count; i++) {
        int here = mst_draw_hatch(&pen, l->sizes, &view, &l->plan->pads[i]);
        if (here == (MST_EARTH_CUT | MST_EARTH_FILL)) here |= 4;
        found |= here;
    }
    cairo_destroy(pen.cairo);
    cairo_surface_destroy(nowhere);
    return found;
}

static bool add_works(mst_ledger *l) {
    bool falls = false;
    int earth = earthworks(l);
    for (size_t i = 0; i < l->plan->pad_count; i++) {
        const mst_plan_pad *p = &l->plan->pads[i];
        falls |= p->has_level && hypot(p->finish.slope_e, p->finish.slope_n) > 0;
    }
    return add_sign(l, MST_KEY_CUT, earth & MST_EARTH_CUT, "cut to formation") &&
           add_sign(l, MST_KEY_FILL, earth & MST_EARTH_FILL, "fill to formation") &&
           add_sign(l, MST_KEY_MEET, earth & 4, "cut meets fill") &&
           add_sign(l, MST_KEY_BOXED, l->plan->pad_count > 0, "design, FL finished") &&
           add_sign(l, MST_KEY_FALL, falls, "fall, down") &&
           add_sign(l, MST_KEY_STAKE, l->plan->stake_count > 0, "stake");
}

bool mst_legend_make(mst_ledger *l, mst_pen *pen, bool list) {
    (void)pen;
    l->legend_count = 0;
    if (!add_point(l, MST_SIGN_CONTROL, "control, held") || !add_point(l, MST_SIGN_SPOT, "spot level") ||
        !add_point(l, MST_SIGN_UNPROVEN, "one reading only"))
        return false;
    if (!add_sign(l, MST_KEY_RING, list, "number in the list") || !add_features(l, false) || !add_features(l, true))
        return false;
    if (l->ellipse_factor > 0) {
        const char *words = mst_arena_printf(l->arena, "1 sd ellipse x %.0f", l->ellipse_factor);
        if (!words || !add_sign(l, MST_KEY_ELLIPSE, true, words)) return false;
    }
    bool limit = l->plan->rim_count > 0 && !has_words(l, LIMIT); /* or a feature with that role shows it */
    return add_look(l) && add_contours(l) && add_sign(l, MST_KEY_RIM, limit, LIMIT) && add_works(l);
}

/* ---- samples ---- */

typedef struct sample {
    const mst_ledger *l;
    mst_pen *pen;
    double x, y;
} sample; /* x, y: left end, middle height */

static void style_sample(const sample *s, const mst_legend_item *item) {
    mst_view view = {1, 1, 0, 0, s->x, s->y};
    double half = item->area ? 1.5 : 0;
    mst_path_vertex v[] = {{0, -half, 1, 0}, {SIGN_W_MM, -half, 0, 0}, {SIGN_W_MM, half, 0, 0}, {0, half, 0, 0}};
    mst_path path = {v, item->area ? 4 : 2, item->area};
    mst_shape shape = {&path, 1};
    if (item->area) mst_draw_fill(s->pen, s->l->sizes, item->style->fill, &view, &shape);
    (void)mst_draw_styled(s->pen, s->l->sizes, item->style, &view, &path, s->l->arena);
}

static bool sample_cut(const void *self, mst_point at, double *cut_m) {
    (void)at;
    *cut_m = *(const double *)self;
    return true;
}

static void hatch_sample(const sample *s, double cut_m) {
    mst_view view = {1, 1, 0, 0, s->x, s->y};
    mst_path_vertex v[] = {{0, -1.6, 0, 0}, {SIGN_W_MM, -1.6, 0, 0}, {SIGN_W_MM, 1.6, 0, 0}, {0, 1.6, 0, 0}};
    mst_path path = {v, 4, true};
    mst_plan_pad pad = {.shape = {&path, 1}, .cut_at = sample_cut, .self = &cut_m};
    mst_draw_hatch(s->pen, s->l->sizes, &view, &pad);
}

static void contour_sample(const sample *s, bool index) {
    double xy[2][2] = {{s->x, s->y}, {s->x + SIGN_W_MM, s->y}};
    mst_track track = {xy, 2, false};
    mst_draw_contour(s->pen, s->l->sizes, &track, index, NULL, 0);
}

static void boxed_sample(const sample *s) {
    mst_type type = {s->l->sizes->note, true};
    double w = mst_text_width(s->pen, "FL", type) + 2;
    mst_pen_rect(s->pen, (mst_rect){s->x + SIGN_W_MM / 2.0 - w / 2, s->y - type.cap_mm / 2 - 0.9, w, type.cap_mm + 1.8},
                 s->l->sizes->fine);
    mst_text_turned(s->pen, s->x + SIGN_W_MM / 2.0, s->y, 0, "FL", type);
}

static void ellipse_sample(const sample *s) {
    cairo_save(s->pen->cairo);
    cairo_translate(s->pen->cairo, s->x + SIGN_W_MM / 2.0, s->y);
    cairo_scale(s->pen->cairo, 1, 0.5);
    cairo_new_sub_path(s->pen->cairo);
    cairo_arc(s->pen->cairo, 0, 0, 3, 0, 2 * MST_PI);
    cairo_restore(s->pen->cairo);
    cairo_set_line_width(s->pen->cairo, s->l->sizes->fine);
    cairo_stroke(s->pen->cairo);
}

static void rim_sample(const sample *s) {
    mst_set_dash(s->pen->cairo, MST_DASH_SHORT);
    mst_pen_line(s->pen, s->x, s->y, s->x + SIGN_W_MM, s->y, s->l->sizes->fine);
    mst_set_dash(s->pen->cairo, MST_DASH_NONE);
}

void mst_draw_legend_sign(const mst_ledger *l, mst_pen *pen, const mst_legend_item *item, double x, double y) {
    if (!pen->cairo) return;
    sample s = {l, pen, x, y};
    double middle = x + SIGN_W_MM / 2.0;
    mst_rect box = {x, y - 1.6, SIGN_W_MM, 3.2};
    mst_pen_tone(pen, MST_TONE_INK);
    switch (item->sign) {
    case MST_KEY_STYLE:
        style_sample(&s, item);
        break;
    case MST_KEY_MARK:
        mst_draw_mark(pen, l->sizes, middle, s.y, item->style->mark);
        break;
    case MST_KEY_POINT:
        mst_draw_point(pen, l->sizes, middle, s.y, item->point);
        break;
    case MST_KEY_STAKE:
        mst_draw_stake(pen, l->sizes, middle, s.y);
        break;
    case MST_KEY_CONTOUR:
        contour_sample(&s, false);
        break;
    case MST_KEY_INDEX:
        contour_sample(&s, true);
        break;
    case MST_KEY_CUT:
        hatch_sample(&s, 1);
        break;
    case MST_KEY_FILL:
        hatch_sample(&s, -1);
        break;
    case MST_KEY_MEET:
        mst_pen_line(pen, x, s.y, x + SIGN_W_MM, s.y, l->sizes->medium);
        break;
    case MST_KEY_BOXED:
        boxed_sample(&s);
        break;
    case MST_KEY_FALL:
        mst_draw_arrow(pen, l->sizes, middle, s.y, 0, SIGN_W_MM - 1);
        break;
    case MST_KEY_RIM:
        rim_sample(&s);
        break;
    case MST_KEY_ELLIPSE:
        ellipse_sample(&s);
        break;
    case MST_KEY_RING:
        mst_draw_key(pen, l->sizes, middle, s.y, "7", l->sizes->note);
        break;
    case MST_KEY_SHADE:
        mst_draw_shade_sample(pen, l->sizes, box);
        break;
    case MST_KEY_SLOPE:
        mst_draw_slope_sample(pen, l->sizes, box, item->step);
        break;
    case MST_KEY_TINT:
        mst_draw_tint_sample(pen, l->sizes, box, item->step, l->plan->tint_count);
        break;
    case MST_KEY_DOUBT:
        mst_draw_doubt_sample(pen, l->sizes, box, l->plan, item->step);
        break;
    case MST_KEY_NEXT:
        mst_draw_next(pen, middle, s.y, 0);
        break;
    }
}
