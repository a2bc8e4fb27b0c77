/* Chooses the labels of a plan, has them placed, and lists what found no room. */
#include "drawing/maker.h"
#include "drawing/marks.h"
#include <math.h>
#include <stdio.h>

static const double CONTOUR_EVERY_MM = 140, CONTOUR_LEAST_MM = 22;
enum { FEW_LEVELS = 6, KEYS_MAX = 999, KEYS_TRIED = 4000 };

/* ---- contours ---- */

static void write_contour(const mst_maker *m, double level_m, char out[MST_FIGURE_SIZE]) {
    double unit = m->r->plan->imperial ? MST_FOOT_M : 1, step = m->r->plan->contour_interval_m / unit;
    int decimals = fabs(step - round(step)) < 1e-6 ? 0 : fabs(step * 10 - round(step * 10)) < 1e-6 ? 1 : 2;
    mst_write_level(level_m, decimals, m->r->plan->imperial, out);
}

/* One figure somewhere from s0 to s1 mm. */
static void label_contour(mst_maker *m, size_t i, double s0, double s1) {
    const mst_plan_contour *c = &m->r->plan->contours[i];
    char text[MST_FIGURE_SIZE];
    mst_label *label = mst_label_new(m->l, MST_LABEL_CONTOUR, P_CONTOUR, LIMIT_PLAIN);
    if (!label) return;
    write_contour(m, c->level_m, text);
    mst_label_line(m->l, mst_keep(m, text), mst_note_type(m));
    label->track = i;
    label->tone = MST_TONE_EARTH;
    mst_choose_on(m->l, &m->out->contour_tracks[i], s0, s1, c->uphill_left);
    mst_placing *placing = &m->l->placings[m->l->count - 1];
    for (size_t k = 0; k < placing->count; k++)
        if (mst_on_patches(m->buildings, m->building_count, &placing->choices[k].box))
            placing->choices[k].cost = HUGE_VAL;
}

static void label_contours(mst_maker *m) {
    const mst_plan *p = m->r->plan;
    size_t indexes = 0;
    for (size_t i = 0; i < p->contour_count; i++) indexes += p->contours[i].index;
    for (size_t i = 0; i < p->contour_count && !m->failed; i++) {
        if (!p->contours[i].index && indexes >= FEW_LEVELS / 3) continue;
        double length = mst_track_length(&m->out->contour_tracks[i]);
        if (length < CONTOUR_LEAST_MM) continue;
        double pieces = fmin(4, ceil(length / CONTOUR_EVERY_MM));
        for (int k = 0; k < (int)pieces; k++) /* not near the ends of a piece, where the next figure might be */
            label_contour(m, i, length * (k + 0.2) / pieces, length * (k + 0.8) / pieces);
    }
}

/* ---- the list ---- */

static mst_label *key_label(mst_maker *m, int number) {
    char text[16];
    snprintf(text, sizeof text, "%d", number);
    mst_label *label = mst_label_new(m->l, MST_LABEL_KEY, P_KEY, LIMIT_FIRST);
    if (!label) return NULL;
    mst_label_line(m->l, mst_keep(m, text), mst_note_type(m));
    label->w = label->h = 2.3 * m->r->sizes->note + 0.5;
    return label;
}

/* Gives each dropped label a ring with a number, if there is room for that, and a line in the list. */
static void list_dropped(mst_maker *m) {
    size_t first = m->l->count;
    int number = 0, tried = 0;
    for (size_t i = 0; i < first && !m->failed; i++) {
        if (m->l->placings[i].chosen >= 0) continue;
        if (m->l->placings[i].priority == P_POINT_NAME) m->out->names_left_out++;
        if (!m->l->items[i].list_name) continue;
        mst_listed *slot = MST_PUSH(m->arena, m->out->listed, m->out->listed_count, m->out->listed_capacity);
        m->failed |= !slot;
        if (!slot) return;
        *slot = (mst_listed){0, m->l->items[i].list_name, m->l->items[i].list_value};
        double x = m->l->items[i].x, y = m->l->items[i].y;
        if (number >= KEYS_MAX || tried++ >= KEYS_TRIED || !key_label(m, number + 1)) continue;
        mst_choose_around(m->l, x, y, MST_MARK_HALF_MM, 12);
        if (!mst_placer_run(m->placer, &m->l->placings[m->l->count - 1], 1)) m->failed = true;
        else if (m->l->placings[m->l->count - 1].chosen >= 0) slot->number = ++number;
    }
}

bool mst_annotate(const mst_annotation_request *request, mst_pen *pen, mst_arena *arena, mst_annotation *out) {
    *out = (mst_annotation){.labels = {.arena = arena, .pen = pen, .sizes = request->sizes}, .shortest_mm = 5};
    mst_maker m = {request, out, &out->labels, mst_placer_new(request->area, arena), arena, .failed = false};
    if (!m.placer) return false;
    mst_keep_clear(&m);
    if (m.failed) return false;
    for (size_t i = 0; i < request->plan->pad_count; i++) mst_label_pad(&m, &request->plan->pads[i]);
    for (size_t i = 0; i < request->plan->stake_count; i++) mst_label_stake(&m, &request->plan->stakes[i]);
    mst_label_points(&m);
    for (size_t i = 0; i < request->plan->feature_count; i++) mst_label_feature(&m, &request->plan->features[i]);
    label_contours(&m);
    mst_shun_buildings(&m);
    if (m.failed || m.l->failed || !mst_placer_run(m.placer, m.l->placings, m.l->count)) return false;
    list_dropped(&m);
    mst_clear_grounds(&m);
    return !m.failed && !m.l->failed;
}
