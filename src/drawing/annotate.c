#include "drawing/annotate.h"
#include "drawing/figures.h"
#include "drawing/marks.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What goes first. */
enum { P_FINISH = 100, P_STAKE = 95, P_CONTROL = 90, P_FALL = 85, P_NAME = 80, P_RADIUS = 74, P_LENGTH = 72, P_SPOT_NAME = 68,
       P_HARD_LEVEL = 66, P_SHORT_LENGTH = 64, P_CONTOUR = 60, P_LEVEL = 50, P_POINT_NAME = 40, P_KEY = 20 };

/* What it costs to cross a line of each weight; a plain label rather goes to the list than over a heavy line. */
static const double OVER_HEAVY = 30, OVER_MEDIUM = 6, OVER_FINE = 2, OVER_CONTOUR = 0.7;
static const double LIMIT_PLAIN = 24, LIMIT_FIRST = 120;
static const double STAKE_CLEAR_MM = 2.0, CONTROL_CLEAR_MM = 2.2, MARK_CLEAR_MM = 2.4, OFF_LINE_MM = 0.9;
static const double CONTOUR_EVERY_MM = 140, CONTOUR_LEAST_MM = 22;
enum { FEW_LEVELS = 6, KEYS_MAX = 999, PAD_CORNERS_MAX = 16 };

typedef struct maker {
    const mst_annotation_request *r;
    mst_annotation *out;
    mst_labels *l;
    mst_placer *placer;
    mst_arena *arena;
    const mst_path_vertex *(*edges)[2]; size_t edge_count, edge_capacity; /* figured so far */
    const struct patch *buildings; size_t building_count;
    bool failed;
} maker;

static mst_type figure_type(const maker *m) { return (mst_type){m->r->sizes->figure, false}; }
static mst_type note_type(const maker *m) { return (mst_type){m->r->sizes->note, false}; }
static mst_type bold(mst_type type) { return (mst_type){type.cap_mm, true}; }

static const char *keep(maker *m, const char *text) { return mst_label_text(m->l, text); }

static mst_box square(double x, double y, double half) { return (mst_box){x, y, half, half, 1, 0}; }

/* ---- what labels keep clear of ---- */

static void avoid_track(maker *m, const mst_track *t, double cost) {
    for (size_t i = 0; i + 1 < t->count && !m->failed; i++)
        m->failed = !mst_placer_line(m->placer, t->xy[i][0], t->xy[i][1], t->xy[i + 1][0], t->xy[i + 1][1], cost);
}

static void avoid_path(maker *m, const mst_path *path, double cost) {
    mst_track track;
    if (!mst_track_of(m->r->view, path, m->arena, &track)) m->failed = true;
    else avoid_track(m, &track, cost);
}

/* The letters of a service stand where they are drawn. */
static void avoid_line(maker *m, const mst_path *path, double cost, const mst_style *style) {
    mst_track track;
    if (!mst_track_of(m->r->view, path, m->arena, &track)) m->failed = true;
    else avoid_track(m, &track, cost);
    double x, y, turn;
    for (int i = 0; !m->failed && style->beat == MST_BEAT_LETTER && mst_letter_place(&track, i, &x, &y, &turn); i++)
        m->failed = !mst_placer_block(m->placer, square(x, y, 1.5));
}

static void block(maker *m, mst_point at, double half) {
    double x, y;
    mst_to_paper(m->r->view, at, &x, &y);
    m->failed |= !mst_placer_block(m->placer, square(x, y, half));
}

static void avoid_features(maker *m) {
    static const double costs[] = {OVER_FINE, OVER_MEDIUM, OVER_HEAVY};
    const mst_plan *p = m->r->plan;
    for (size_t i = 0; i < p->feature_count; i++)
        for (size_t k = 0; k < p->features[i].shape.count; k++) {
            const mst_path *path = &p->features[i].shape.paths[k];
            if (p->features[i].kind != MST_FEATURE_SPOT) avoid_line(m, path, costs[p->features[i].style->ink], p->features[i].style);
            else
                for (size_t v = 0; v < path->count; v++)
                    block(m, (mst_point){path->vertices[v].easting_m, path->vertices[v].northing_m}, MARK_CLEAR_MM - 0.3);
        }
    for (size_t i = 0; i < p->pad_count; i++)
        for (size_t k = 0; k < p->pads[i].shape.count; k++) avoid_path(m, &p->pads[i].shape.paths[k], OVER_MEDIUM);
    for (size_t i = 0; i < p->rim_count; i++) avoid_path(m, &p->rims[i], OVER_FINE);
}

static double point_clear(const mst_plan_point *p) {
    return p->held ? CONTROL_CLEAR_MM : p->marked ? MARK_CLEAR_MM : MST_MARK_HALF_MM;
}

typedef struct patch { mst_track *rings; size_t count; } patch;

static patch patch_of(maker *m, const mst_shape *shape) {
    patch p = {mst_arena_array(m->arena, shape->count, sizeof(mst_track)), shape->count};
    m->failed |= !p.rings;
    for (size_t i = 0; i < shape->count && !m->failed; i++)
        m->failed = !mst_track_of(m->r->view, &shape->paths[i], m->arena, &p.rings[i]);
    return p;
}

/* Areas by what they do to figures: @p buildings hide the ground, the others have patterns that would run through. */
static patch *patches(maker *m, bool buildings, size_t *count) {
    const mst_plan *p = m->r->plan;
    patch *out = mst_arena_array(m->arena, p->feature_count + p->pad_count, sizeof *out);
    m->failed |= !out;
    *count = 0;
    for (size_t i = 0; i < p->feature_count && !m->failed; i++) {
        mst_fill fill = p->features[i].style->fill;
        if (p->features[i].kind != MST_FEATURE_AREA || fill == MST_FILL_NONE || fill == MST_FILL_PAVING) continue;
        if ((fill == MST_FILL_BUILDING) == buildings) out[(*count)++] = patch_of(m, &p->features[i].shape);
    }
    for (size_t i = 0; i < p->pad_count && !m->failed && !buildings; i++) out[(*count)++] = patch_of(m, &p->pads[i].shape);
    return out;
}

static bool on_patch(const patch *p, const mst_box *b) {
    for (int i = 0; i < 5; i++) { /* its middle and corners */
        double u = i == 4 ? 0 : i & 1 ? b->half_w : -b->half_w, v = i == 4 ? 0 : i & 2 ? b->half_h : -b->half_h;
        if (mst_rings_contain(p->rings, p->count, b->x + u * b->cos_a - v * b->sin_a, b->y + u * b->sin_a + v * b->cos_a)) return true;
    }
    return false;
}

static bool on_patches(const patch *p, size_t count, const mst_box *box) {
    for (size_t i = 0; i < count; i++)
        if (on_patch(&p[i], box)) return true;
    return false;
}

/* What a leader brings does not belong to the house that it would stand on. */
static void shun_buildings(maker *m) {
    const double shunned = 9;
    for (size_t i = 0; i < m->l->placing_count && !m->failed; i++)
        for (size_t k = 0; k < m->l->placings[i].count; k++) {
            mst_choice *c = &m->l->placings[i].choices[k];
            if (c->leader && on_patches(m->buildings, m->building_count, &c->box)) c->cost += shunned;
        }
}

/* A figure clears the ink under it where there is any; on clean paper it need not. */
static void clear_grounds(maker *m) {
    size_t count;
    patch *p = patches(m, false, &count);
    for (size_t i = 0; i < m->l->count && !m->failed; i++) {
        if (m->l->placings[i].chosen < 0 || m->l->items[i].kind == MST_LABEL_CONTOUR) continue;
        const mst_choice *c = &m->l->placings[i].choices[m->l->placings[i].chosen];
        bool on_building = on_patches(m->buildings, m->building_count, &c->box); /* which hides contours anyway */
        m->l->items[i].ground = c->crossing > (on_building ? OVER_FINE : 0) || m->l->items[i].kind == MST_LABEL_BOXED || on_patches(p, count, &c->box);
    }
}

static void avoid_signs(maker *m) {
    const mst_plan *p = m->r->plan;
    for (size_t i = 0; i < p->point_count; i++)
        if (!p->points[i].marked) block(m, p->points[i].at, point_clear(&p->points[i]) - 0.25);
    for (size_t i = 0; i < p->stake_count; i++) block(m, p->stakes[i].at, STAKE_CLEAR_MM - 0.2);
}

static void avoid_grid(maker *m) {
    const mst_grid *g = m->r->grid;
    for (size_t i = 0; g && i < g->figure_count && !m->failed; i++)
        m->failed = !mst_placer_block(m->placer, (mst_box){g->figures[i].x, g->figures[i].y, g->figures[i].half_w, g->figures[i].half_h, 1, 0});
}

static void track_contours(maker *m) {
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

/* ---- design ---- */

static void finish_level(maker *m, const char *prefix, double level_m, char out[MST_FIGURE_SIZE + 16]) {
    char figure[MST_FIGURE_SIZE];
    mst_write_level(level_m, m->r->plan->imperial ? 2 : 3, m->r->plan->imperial, figure);
    snprintf(out, MST_FIGURE_SIZE + 16, "%s%s", prefix, figure);
}

static void pad_lines(maker *m, const mst_plan_pad *pad, double slope) {
    char text[MST_FIGURE_SIZE + 16], figure[MST_FIGURE_SIZE];
    mst_label_line(m->l, pad->name, note_type(m));
    if (!pad->has_level) {
        mst_write_length(fabs(pad->depth_m), 3, m->r->plan->imperial, figure);
        snprintf(text, sizeof text, pad->depth_m >= 0 ? "dig %s" : "raise %s", figure);
        mst_label_line(m->l, keep(m, text), (mst_type){m->r->sizes->key, true});
        return;
    }
    if (slope > 0) {
        mst_write_fall(slope, figure);
        snprintf(text, sizeof text, "falls %s", figure);
        mst_label_line(m->l, keep(m, text), (mst_type){m->r->sizes->key, true});
        mst_write_length(pad->build_up_m, 3, m->r->plan->imperial, figure);
        snprintf(text, sizeof text, "formation %s under", figure);
    } else {
        finish_level(m, "FL ", pad->finish.level_m, text);
        mst_label_line(m->l, keep(m, text), (mst_type){m->r->sizes->key, true});
        finish_level(m, "formation ", pad->finish.level_m - pad->build_up_m, text);
    }
    mst_label_line(m->l, keep(m, text), note_type(m));
}

/* The direction of the fall on the paper. */
static double fall_turn(const maker *m, const mst_plane *f) {
    double bearing = atan2(-f->slope_e, -f->slope_n); /* clockwise from north */
    return bearing + m->r->view->turn_rad - MST_PI / 2;
}

static void pad_arrow(maker *m, const mst_plan_pad *pad, const mst_track *rings, double slope) {
    char figure[MST_FIGURE_SIZE];
    mst_label *label = mst_label_new(m->l, MST_LABEL_ARROW, P_FALL, LIMIT_FIRST);
    if (!label) return;
    double turn = fall_turn(m, &pad->finish);
    mst_write_fall(slope, figure);
    mst_label_line(m->l, keep(m, figure), figure_type(m));
    label->backwards = cos(turn) < -1e-6 || (fabs(cos(turn)) <= 1e-6 && sin(turn) > 0);
    mst_choose_inside(m->l, rings, pad->shape.count, turn, false);
}

/* On a falling pad each corner of the outline has its finished level. */
static void pad_corners(maker *m, const mst_plan_pad *pad) {
    const mst_path *outline = &pad->shape.paths[0];
    char text[MST_FIGURE_SIZE + 16];
    for (size_t i = 0; i < outline->count && outline->count <= PAD_CORNERS_MAX; i++) {
        const mst_path_vertex *v = &outline->vertices[i];
        const mst_plane *f = &pad->finish;
        double x, y, level = f->level_m + f->slope_e * (v->easting_m - f->e0_m) + f->slope_n * (v->northing_m - f->n0_m);
        mst_label *label = mst_label_new(m->l, MST_LABEL_BOXED, P_FINISH - 1, LIMIT_FIRST);
        if (!label) return;
        finish_level(m, "FL ", level, text);
        mst_label_line(m->l, keep(m, text), figure_type(m));
        label->list_name = pad->name;
        label->list_value = label->lines[0];
        mst_to_paper(m->r->view, (mst_point){v->easting_m, v->northing_m}, &x, &y);
        mst_choose_around(m->l, x, y, MST_MARK_HALF_MM, 15);
    }
}

static void label_pad(maker *m, const mst_plan_pad *pad) {
    double slope = pad->has_level ? hypot(pad->finish.slope_e, pad->finish.slope_n) : 0;
    mst_track *rings = patch_of(m, &pad->shape).rings;
    if (m->failed || !pad->shape.count) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_BOXED, P_FINISH, LIMIT_FIRST);
    if (!label) return;
    pad_lines(m, pad, slope);
    label->list_name = pad->name;
    label->list_value = label->lines[1];
    mst_choose_inside(m->l, rings, pad->shape.count, 0, true);
    if (!(slope > 0)) return;
    pad_arrow(m, pad, rings, slope);
    pad_corners(m, pad);
}

/* ---- points ---- */

static void point_level(maker *m, const mst_plan_point *p, char out[MST_FIGURE_SIZE]) {
    mst_write_level(p->level_m, mst_level_decimals(p->sd_level_m, p->hard, m->r->plan->imperial), m->r->plan->imperial, out);
}

static void label_control(maker *m, const mst_plan_point *p, double x, double y) {
    char level[MST_FIGURE_SIZE];
    if (!mst_label_new(m->l, MST_LABEL_PLAIN, P_CONTROL, LIMIT_FIRST)) return;
    mst_label_line(m->l, p->name, bold(figure_type(m)));
    if (isfinite(p->level_m)) {
        mst_write_level(p->level_m, m->r->plan->imperial ? 2 : 3, m->r->plan->imperial, level);
        mst_label_line(m->l, keep(m, level), figure_type(m));
    }
    mst_choose_around(m->l, x, y, CONTROL_CLEAR_MM, 15);
}

static void label_level(maker *m, const mst_plan_point *p, double x, double y) {
    char level[MST_FIGURE_SIZE];
    point_level(m, p, level);
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, p->hard ? P_HARD_LEVEL : P_LEVEL, LIMIT_PLAIN);
    if (!label) return;
    mst_label_line(m->l, keep(m, level), figure_type(m));
    label->list_name = p->name;
    label->list_value = label->lines[0];
    mst_choose_around(m->l, x, y, point_clear(p), p->hard ? 9 : 6);
}

static void label_name(maker *m, const mst_plan_point *p, double x, double y) {
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_POINT_NAME, LIMIT_PLAIN);
    if (!label) return;
    label->tone = MST_TONE_QUIET;
    mst_label_line(m->l, p->name, note_type(m));
    mst_choose_around(m->l, x, y, point_clear(p), 6);
}

static void label_points(maker *m) {
    for (size_t i = 0; i < m->r->plan->point_count && !m->failed; i++) {
        const mst_plan_point *p = &m->r->plan->points[i];
        double x, y;
        mst_to_paper(m->r->view, p->at, &x, &y);
        if (p->held) {
            label_control(m, p, x, y);
            continue;
        }
        if (isfinite(p->level_m)) label_level(m, p, x, y);
        if (m->r->point_names) label_name(m, p, x, y);
    }
}

static void label_stake(maker *m, const mst_plan_stake *s) {
    char text[MST_FIGURE_SIZE + 16];
    double x, y;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_STAKE, LIMIT_FIRST);
    if (!label) return;
    mst_label_line(m->l, s->name, bold(figure_type(m)));
    if (isfinite(s->level_m)) {
        finish_level(m, "", s->level_m, text);
        mst_label_line(m->l, keep(m, text), note_type(m));
    }
    label->list_name = s->name;
    label->list_value = label->line_count > 1 ? label->lines[1] : "stake";
    mst_to_paper(m->r->view, s->at, &x, &y);
    mst_choose_around(m->l, x, y, STAKE_CLEAR_MM, 18);
}

/* ---- features ---- */

static double sd_of_edge(const maker *m) { return sqrt(2) * m->r->plan->sd_plan_m; }

static void write_edge(const maker *m, const mst_plan_feature *f, double length_m, char out[MST_FIGURE_SIZE]) {
    mst_write_length(length_m, mst_length_decimals(sd_of_edge(m), f->style->hard), m->r->plan->imperial, out);
}

static void list_under(mst_label *label, const mst_plan_feature *f) {
    label->list_name = f->name;
    label->list_value = label->lines[0];
}

static void label_straight(maker *m, const mst_plan_feature *f, const mst_path_vertex *a, const mst_path_vertex *b, int outside) {
    char text[MST_FIGURE_SIZE];
    double pa[2], pb[2], length_m = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    double paper = length_m * m->r->view->mm_per_m;
    if (paper < m->out->shortest_mm) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, paper > 20 ? P_LENGTH : P_SHORT_LENGTH, LIMIT_PLAIN + 10);
    if (!label) return;
    write_edge(m, f, length_m, text);
    mst_label_line(m->l, keep(m, text), figure_type(m));
    list_under(label, f);
    mst_to_paper(m->r->view, (mst_point){a->easting_m, a->northing_m}, &pa[0], &pa[1]);
    mst_to_paper(m->r->view, (mst_point){b->easting_m, b->northing_m}, &pb[0], &pb[1]);
    mst_choose_along(m->l, pa, pb, outside, OFF_LINE_MM);
}

static bool same_place(const mst_path_vertex *a, const mst_path_vertex *b) {
    return a->easting_m == b->easting_m && a->northing_m == b->northing_m;
}

/* An edge that two features share, either way round, is figured once. @return true if it was figured before */
static bool figured_before(maker *m, const mst_path_vertex *a, const mst_path_vertex *b) {
    for (size_t i = 0; i < m->edge_count; i++) {
        const mst_path_vertex *c = m->edges[i][0], *d = m->edges[i][1];
        if (same_place(a, c) && same_place(b, d) && a->bulge == c->bulge) return true;
        if (same_place(a, d) && same_place(b, c) && a->bulge == -c->bulge) return true;
    }
    const mst_path_vertex *(*slot)[2] = MST_PUSH(m->arena, m->edges, m->edge_count, m->edge_capacity);
    m->failed |= !slot;
    if (slot) (*slot)[0] = a, (*slot)[1] = b;
    return false;
}

/* Along the tangent at the middle of the arc, on its outer side. */
static void label_arc(maker *m, const mst_plan_feature *f, const mst_path_vertex *a, const mst_path_vertex *b, bool whole_circle) {
    char radius[MST_FIGURE_SIZE], chord[MST_FIGURE_SIZE], text[2 * MST_FIGURE_SIZE + 16];
    mst_point c;
    double r, from, sweep, pm[2], centre[2], chord_m = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    mst_plan_arc(a, b, &c, &r, &from, &sweep);
    if (r * fabs(sweep) * m->r->view->mm_per_m < m->out->shortest_mm) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_RADIUS, LIMIT_PLAIN + 10);
    if (!label) return;
    write_edge(m, f, r, radius);
    write_edge(m, f, chord_m, chord);
    if (whole_circle) snprintf(text, sizeof text, "R %s", radius);
    else snprintf(text, sizeof text, "R %s  chord %s", radius, chord);
    mst_label_line(m->l, keep(m, text), figure_type(m));
    list_under(label, f);
    double middle = from + sweep / 2;
    mst_to_paper(m->r->view, (mst_point){c.easting_m + r * cos(middle), c.northing_m + r * sin(middle)}, &pm[0], &pm[1]);
    mst_to_paper(m->r->view, c, &centre[0], &centre[1]);
    double d = hypot(pm[0] - centre[0], pm[1] - centre[1]), ux = -(pm[1] - centre[1]) / d, uy = (pm[0] - centre[0]) / d;
    double half = label->w / 2 + 1; /* the outside of the arc is to the left of (ux, uy), whose y points down */
    mst_choose_along(m->l, (double[]){pm[0] - ux * half, pm[1] - uy * half}, (double[]){pm[0] + ux * half, pm[1] + uy * half}, -1,
                     OFF_LINE_MM);
}

/* True when a closed path runs on one circle all round. */
static bool is_circle(const mst_path *path) {
    mst_point first = {0, 0}, c;
    double r0 = 0, r, from, sweep;
    if (!path->closed || path->count < 2) return false;
    for (size_t i = 0; i < path->count; i++) {
        if (path->vertices[i].bulge == 0) return false;
        mst_plan_arc(&path->vertices[i], &path->vertices[(i + 1) % path->count], &c, &r, &from, &sweep);
        if (i == 0) first = c, r0 = r;
        if (hypot(c.easting_m - first.easting_m, c.northing_m - first.northing_m) > 1e-4 * r0 || fabs(r - r0) > 1e-4 * r0)
            return false;
    }
    return true;
}

static void label_edges(maker *m, const mst_plan_feature *f, const mst_path *path, bool hole) {
    size_t edges = path->closed ? path->count : path->count ? path->count - 1 : 0;
    bool circle = is_circle(path);
    int outside = !path->closed ? 0 : (mst_path_area(path) > 0) != hole ? 1 : -1;
    for (size_t i = 0; i < edges && !m->failed; i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = &path->vertices[(i + 1) % path->count];
        if (figured_before(m, a, b)) continue;
        if (a->bulge == 0) label_straight(m, f, a, b, outside);
        else label_arc(m, f, a, b, circle);
        if (circle) break;
    }
}

static bool under_pad(const maker *m, const mst_plan_feature *f) {
    for (size_t i = 0; i < m->r->plan->pad_count; i++) {
        const mst_shape *s = &m->r->plan->pads[i].shape;
        if (s->count && f->shape.count && s->paths[0].count == f->shape.paths[0].count &&
            !memcmp(s->paths[0].vertices, f->shape.paths[0].vertices, s->paths[0].count * sizeof(mst_path_vertex)))
            return true;
    }
    return false;
}

/* The name over the area; a pad names its own feature. */
static void label_area(maker *m, const mst_plan_feature *f) {
    char area[MST_FIGURE_SIZE];
    mst_track *rings = patch_of(m, &f->shape).rings;
    if (m->failed) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_NAME, LIMIT_FIRST);
    if (!label) return;
    if (!under_pad(m, f)) mst_label_line(m->l, f->name, bold(figure_type(m)));
    mst_write_area(mst_shape_area(&f->shape), m->r->plan->imperial, area);
    mst_label_line(m->l, keep(m, area), figure_type(m));
    list_under(label, f);
    label->list_value = keep(m, area);
    mst_choose_inside(m->l, rings, f->shape.count, 0, true);
}

static void label_spot(maker *m, const mst_plan_feature *f) {
    double x, y;
    if (!f->shape.count || !f->shape.paths[0].count) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_SPOT_NAME, LIMIT_PLAIN);
    if (!label) return;
    mst_label_line(m->l, f->name, note_type(m));
    label->list_name = f->name;
    label->list_value = f->style->legend;
    const mst_path_vertex *v = &f->shape.paths[0].vertices[0];
    mst_to_paper(m->r->view, (mst_point){v->easting_m, v->northing_m}, &x, &y);
    mst_choose_around(m->l, x, y, MARK_CLEAR_MM, 9);
}

static void label_feature(maker *m, const mst_plan_feature *f) {
    if (f->kind == MST_FEATURE_SPOT) {
        label_spot(m, f);
        return;
    }
    if (f->kind == MST_FEATURE_AREA && f->style->figured) label_area(m, f);
    for (size_t i = 0; f->style->figured && i < f->shape.count; i++) label_edges(m, f, &f->shape.paths[i], i > 0);
}

/* ---- contours ---- */

static void write_contour(const maker *m, double level_m, char out[MST_FIGURE_SIZE]) {
    double unit = m->r->plan->imperial ? MST_FOOT_M : 1, step = m->r->plan->contour_interval_m / unit;
    int decimals = fabs(step - round(step)) < 1e-6 ? 0 : fabs(step * 10 - round(step * 10)) < 1e-6 ? 1 : 2;
    mst_write_level(level_m, decimals, m->r->plan->imperial, out);
}

/* One figure somewhere from s0 to s1 mm. */
static void label_contour(maker *m, size_t i, double s0, double s1) {
    const mst_plan_contour *c = &m->r->plan->contours[i];
    char text[MST_FIGURE_SIZE];
    mst_label *label = mst_label_new(m->l, MST_LABEL_CONTOUR, P_CONTOUR, LIMIT_PLAIN);
    if (!label) return;
    write_contour(m, c->level_m, text);
    mst_label_line(m->l, keep(m, text), note_type(m));
    label->track = i;
    label->tone = MST_TONE_EARTH;
    mst_choose_on(m->l, &m->out->contour_tracks[i], s0, s1, c->uphill_left);
    mst_placing *placing = &m->l->placings[m->l->count - 1];
    for (size_t k = 0; k < placing->count; k++)
        if (on_patches(m->buildings, m->building_count, &placing->choices[k].box)) placing->choices[k].cost = HUGE_VAL;
}

static void label_contours(maker *m) {
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

static mst_label *key_label(maker *m, int number) {
    char text[16];
    snprintf(text, sizeof text, "%d", number);
    mst_label *label = mst_label_new(m->l, MST_LABEL_KEY, P_KEY, LIMIT_FIRST);
    if (!label) return NULL;
    mst_label_line(m->l, keep(m, text), note_type(m));
    label->w = label->h = 2.3 * m->r->sizes->note + 0.5;
    return label;
}

/* Gives each dropped label a ring with a number, if there is room for that, and a line in the list. */
static void list_dropped(maker *m) {
    size_t first = m->l->count;
    int number = 0;
    for (size_t i = 0; i < first && !m->failed; i++) {
        if (m->l->placings[i].chosen >= 0) continue;
        if (m->l->placings[i].priority == P_POINT_NAME) m->out->names_left_out++;
        if (!m->l->items[i].list_name) continue;
        mst_listed *slot = MST_PUSH(m->arena, m->out->listed, m->out->listed_count, m->out->listed_capacity);
        m->failed |= !slot;
        if (!slot) return;
        *slot = (mst_listed){0, m->l->items[i].list_name, m->l->items[i].list_value};
        double x = m->l->items[i].x, y = m->l->items[i].y;
        if (number >= KEYS_MAX || !key_label(m, number + 1)) continue;
        mst_choose_around(m->l, x, y, MST_MARK_HALF_MM, 12);
        if (!mst_placer_run(m->placer, &m->l->placings[m->l->count - 1], 1)) m->failed = true;
        else if (m->l->placings[m->l->count - 1].chosen >= 0) slot->number = ++number;
    }
}

bool mst_annotate(const mst_annotation_request *request, mst_pen *pen, mst_arena *arena, mst_annotation *out) {
    *out = (mst_annotation){.labels = {.arena = arena, .pen = pen, .sizes = request->sizes}, .shortest_mm = 5};
    maker m = {request, out, &out->labels, mst_placer_new(request->area, arena), arena, .failed = false};
    m.buildings = patches(&m, true, &m.building_count);
    if (!m.placer) return false;
    avoid_features(&m);
    avoid_signs(&m);
    avoid_grid(&m);
    track_contours(&m);
    if (m.failed) return false;
    for (size_t i = 0; i < request->plan->pad_count; i++) label_pad(&m, &request->plan->pads[i]);
    for (size_t i = 0; i < request->plan->stake_count; i++) label_stake(&m, &request->plan->stakes[i]);
    label_points(&m);
    for (size_t i = 0; i < request->plan->feature_count; i++) label_feature(&m, &request->plan->features[i]);
    label_contours(&m);
    shun_buildings(&m);
    if (m.failed || m.l->failed || !mst_placer_run(m.placer, m.l->placings, m.l->count)) return false;
    list_dropped(&m);
    clear_grounds(&m);
    return !m.failed && !m.l->failed;
}
