/* What labels keep clear of, and what is cleared away under them. */
#include "drawing/maker.h"
#include "drawing/marks.h"
#include <math.h>

static mst_box square(double x, double y, double half) { return (mst_box){x, y, half, half, 1, 0}; }

static void avoid_track(mst_maker *m, const mst_track *t, double cost) {
    for (size_t i = 0; i + 1 < t->count && !m->failed; i++)
        m->failed = !mst_placer_line(m->placer, t->xy[i][0], t->xy[i][1], t->xy[i + 1][0], t->xy[i + 1][1], cost);
}

static void avoid_path(mst_maker *m, const mst_path *path, double cost) {
    mst_track track;
    if (!mst_track_of(m->r->view, path, m->arena, &track)) m->failed = true;
    else avoid_track(m, &track, cost);
}

/* The letters of a service stand where they are drawn. */
static void avoid_line(mst_maker *m, const mst_path *path, double cost, const mst_style *style) {
    mst_track track;
    if (!mst_track_of(m->r->view, path, m->arena, &track)) m->failed = true;
    else avoid_track(m, &track, cost);
    double x, y, turn;
    for (int i = 0; !m->failed && style->beat == MST_BEAT_LETTER && mst_letter_place(&track, i, &x, &y, &turn); i++)
        m->failed = !mst_placer_block(m->placer, square(x, y, 1.5));
}

static void block(mst_maker *m, mst_point at, double half) {
    double x, y;
    mst_to_paper(m->r->view, at, &x, &y);
    m->failed |= !mst_placer_block(m->placer, square(x, y, half));
}

static void avoid_features(mst_maker *m) {
    static const double costs[] = {OVER_FINE, OVER_MEDIUM, OVER_HEAVY};
    const mst_plan *p = m->r->plan;
    for (size_t i = 0; i < p->feature_count; i++)
        for (size_t k = 0; k < p->features[i].shape.count; k++) {
            const mst_path *path = &p->features[i].shape.paths[k];
            if (p->features[i].kind != MST_FEATURE_SPOT)
                avoid_line(m, path, costs[p->features[i].style->ink], p->features[i].style);
            else
                for (size_t v = 0; v < path->count; v++)
                    block(m, (mst_point){path->vertices[v].easting_m, path->vertices[v].northing_m},
                          MARK_CLEAR_MM - 0.3);
        }
    for (size_t i = 0; i < p->pad_count; i++)
        for (size_t k = 0; k < p->pads[i].shape.count; k++) avoid_path(m, &p->pads[i].shape.paths[k], OVER_MEDIUM);
    for (size_t i = 0; i < p->rim_count; i++) avoid_path(m, &p->rims[i], OVER_FINE);
}

double mst_point_clear(const mst_plan_point *p) {
    return p->held ? CONTROL_CLEAR_MM : p->marked ? MARK_CLEAR_MM : MST_MARK_HALF_MM;
}

mst_patch mst_patch_of(mst_maker *m, const mst_shape *shape) {
    mst_patch p = {mst_arena_array(m->arena, shape->count, sizeof(mst_track)), shape->count};
    m->failed |= !p.rings;
    for (size_t i = 0; i < shape->count && !m->failed; i++)
        m->failed = !mst_track_of(m->r->view, &shape->paths[i], m->arena, &p.rings[i]);
    return p;
}

mst_patch *mst_patches_of(mst_maker *m, bool buildings, size_t *count) {
    const mst_plan *p = m->r->plan;
    mst_patch *out = mst_arena_array(m->arena, p->feature_count + p->pad_count, sizeof *out);
    m->failed |= !out;
    *count = 0;
    for (size_t i = 0; i < p->feature_count && !m->failed; i++) {
        mst_fill fill = p->features[i].style->fill;
        if (p->features[i].kind != MST_FEATURE_AREA || fill == MST_FILL_NONE || fill == MST_FILL_PAVING) continue;
        if ((fill == MST_FILL_BUILDING) == buildings) out[(*count)++] = mst_patch_of(m, &p->features[i].shape);
    }
    for (size_t i = 0; i < p->pad_count && !m->failed && !buildings; i++)
        out[(*count)++] = mst_patch_of(m, &p->pads[i].shape);
    return out;
}

static bool on_patch(const mst_patch *p, const mst_box *b) {
    for (int i = 0; i < 5; i++) { /* its middle and corners */
        double u = i == 4 ? 0 : i & 1 ? b->half_w : -b->half_w, v = i == 4 ? 0 : i & 2 ? b->half_h : -b->half_h;
        if (mst_rings_contain(p->rings, p->count, b->x + u * b->cos_a - v * b->sin_a,
                              b->y + u * b->sin_a + v * b->cos_a))
            return true;
    }
    return false;
}

bool mst_on_patches(const mst_patch *p, size_t count, const mst_box *box) {
    for (size_t i = 0; i < count; i++)
        if (on_patch(&p[i], box)) return true;
    return false;
}

/* What a leader brings does not belong to the house that it would stand on. */
void mst_shun_buildings(mst_maker *m) {
    const double shunned = 22;
    for (size_t i = 0; i < m->l->placing_count && !m->failed; i++)
        for (size_t k = 0; k < m->l->placings[i].count; k++) {
            mst_choice *c = &m->l->placings[i].choices[k];
            if (c->leader && mst_on_patches(m->buildings, m->building_count, &c->box)) c->cost += shunned;
        }
}

/* A figure clears the ink under it where there is any; on clean paper it need not. */
void mst_clear_grounds(mst_maker *m) {
    size_t count;
    mst_patch *p = mst_patches_of(m, false, &count);
    for (size_t i = 0; i < m->l->count && !m->failed; i++) {
        if (m->l->placings[i].chosen < 0 || m->l->items[i].kind == MST_LABEL_CONTOUR) continue;
        const mst_choice *c = &m->l->placings[i].choices[m->l->placings[i].chosen];
        mst_box middle = {c->box.x, c->box.y, 0, 0, 1, 0}; /* a building hides the contours anyway */
        bool on_building = mst_on_patches(m->buildings, m->building_count, &middle);
        m->l->items[i].ground = (c->crossing > 0 && !on_building) || m->l->items[i].kind == MST_LABEL_BOXED ||
                                mst_on_patches(p, count, &c->box);
    }
}

static void avoid_signs(mst_maker *m) {
    const mst_plan *p = m->r->plan;
    for (size_t i = 0; i < p->point_count; i++)
        if (!p->points[i].marked) block(m, p->points[i].at, mst_point_clear(&p->points[i]) - 0.25);
    for (size_t i = 0; i < p->stake_count; i++) block(m, p->stakes[i].at, STAKE_CLEAR_MM - 0.2);
    for (size_t i = 0; i < p->next_count; i++) block(m, p->next[i], MST_NEXT_HALF_MM);
}

static void avoid_grid(mst_maker *m) {
    const mst_grid *g = m->r->grid;
    for (size_t i = 0; g && i < g->figure_count && !m->failed; i++)
        m->failed = !mst_placer_block(
            m->placer, (mst_box){g->figures[i].x, g->figures[i].y, g->figures[i].half_w, g->figures[i].half_h, 1, 0});
}

static void track_contours(mst_maker *m) {
    const mst_plan *p = m->r->plan;
    m->out->contour_tracks = mst_arena_array(m->arena, p->contour_count, sizeof(mst_track));
    m->failed |= !m->out->contour_tracks;
    for (size_t i = 0; i < p->contour_count && !m->failed; i++) {
        const mst_plan_contour *c = &p->contours[i];
        mst_track *t = &m->out->contour_tracks[i];
        *t = (mst_track){mst_arena_array(m->arena, c->count + 1, sizeof *t->xy), c->count + c->closed, c->closed};
        m->failed |= !t->xy;
        for (size_t k = 0; k < t->count && t->xy; k++)
            mst_to_paper(m->r->view, c->points[k % c->count], &t->xy[k][0], &t->xy[k][1]);
        if (t->xy) avoid_track(m, t, OVER_CONTOUR);
    }
}

void mst_keep_clear(mst_maker *m) {
    m->buildings = mst_patches_of(m, true, &m->building_count);
    avoid_features(m);
    avoid_signs(m);
    avoid_grid(m);
    track_contours(m);
}
