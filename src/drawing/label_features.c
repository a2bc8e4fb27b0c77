/* Labels of features: lengths, radii, names and areas. */
#include "drawing/maker.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double OFF_LINE_MM = 0.9; /* from a line to the figure along it */

static double sd_of_edge(const mst_maker *m) { return sqrt(2) * m->r->plan->sd_plan_m; }

static void write_edge(const mst_maker *m, const mst_plan_feature *f, double length_m, char out[MST_FIGURE_SIZE]) {
    mst_write_length(length_m, mst_length_decimals(sd_of_edge(m), f->style->hard), m->r->plan->imperial, out);
}

static void list_under(mst_label *label, const mst_plan_feature *f) {
    label->list_name = f->name;
    label->list_value = label->lines[0];
}

static void label_straight(mst_maker *m, const mst_plan_feature *f, const mst_path_vertex *a, const mst_path_vertex *b,
                           int outside) {
    char text[MST_FIGURE_SIZE];
    double pa[2], pb[2], length_m = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    double paper = length_m * m->r->view->mm_per_m;
    if (paper < m->out->shortest_mm) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, paper > 20 ? P_LENGTH : P_SHORT_LENGTH, LIMIT_PLAIN + 10);
    if (!label) return;
    write_edge(m, f, length_m, text);
    mst_label_line(m->l, mst_keep(m, text), mst_figure_type(m));
    list_under(label, f);
    mst_to_paper(m->r->view, (mst_point){a->easting_m, a->northing_m}, &pa[0], &pa[1]);
    mst_to_paper(m->r->view, (mst_point){b->easting_m, b->northing_m}, &pb[0], &pb[1]);
    mst_choose_along(m->l, pa, pb, outside, OFF_LINE_MM);
}

static bool same_place(const mst_path_vertex *a, const mst_path_vertex *b) {
    return a->easting_m == b->easting_m && a->northing_m == b->northing_m;
}

/* An edge that two features share, either way round, is figured once. @return true if it was figured before */
static bool figured_before(mst_maker *m, const mst_path_vertex *a, const mst_path_vertex *b) {
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
static void label_arc(mst_maker *m, const mst_plan_feature *f, const mst_path_vertex *a, const mst_path_vertex *b,
                      bool whole_circle) {
    char radius[MST_FIGURE_SIZE], chord[MST_FIGURE_SIZE], text[2 * MST_FIGURE_SIZE + 16];
    mst_point c;
    double r, from, sweep, pm[2], centre[2],
        chord_m = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    mst_plan_arc(a, b, &c, &r, &from, &sweep);
    if (r * fabs(sweep) * m->r->view->mm_per_m < m->out->shortest_mm) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_RADIUS, LIMIT_PLAIN + 10);
    if (!label) return;
    write_edge(m, f, r, radius);
    write_edge(m, f, chord_m, chord);
    snprintf(text, sizeof text, "R %s", radius);
    const char *short_text = mst_keep(m, text);
    if (!whole_circle) snprintf(text, sizeof text, "R %s  chord %s", radius, chord);
    mst_label_line(m->l, mst_keep(m, text), mst_figure_type(m));
    list_under(label, f);
    label->list_value = short_text;
    double middle = from + sweep / 2;
    mst_to_paper(m->r->view, (mst_point){c.easting_m + r * cos(middle), c.northing_m + r * sin(middle)}, &pm[0],
                 &pm[1]);
    mst_to_paper(m->r->view, c, &centre[0], &centre[1]);
    double d = hypot(pm[0] - centre[0], pm[1] - centre[1]), ux = -(pm[1] - centre[1]) / d, uy = (pm[0] - centre[0]) / d;
    double half = label->w / 2 + 1; /* the outside of the arc is to the left of (ux, uy), whose y points down */
    mst_choose_along(m->l, (double[]){pm[0] - ux * half, pm[1] - uy * half},
                     (double[]){pm[0] + ux * half, pm[1] + uy * half}, -1, OFF_LINE_MM);
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
        if (hypot(c.easting_m - first.easting_m, c.northing_m - first.northing_m) > 1e-4 * r0 ||
            fabs(r - r0) > 1e-4 * r0)
            return false;
    }
    return true;
}

static void label_edges(mst_maker *m, const mst_plan_feature *f, const mst_path *path, bool hole) {
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

static bool under_pad(const mst_maker *m, const mst_plan_feature *f) {
    for (size_t i = 0; i < m->r->plan->pad_count; i++) {
        const mst_shape *s = &m->r->plan->pads[i].shape;
        if (s->count && f->shape.count && s->paths[0].count == f->shape.paths[0].count &&
            !memcmp(s->paths[0].vertices, f->shape.paths[0].vertices, s->paths[0].count * sizeof(mst_path_vertex)))
            return true;
    }
    return false;
}

/* The name over the area; a pad names its own feature. */
static void label_area(mst_maker *m, const mst_plan_feature *f) {
    char area[MST_FIGURE_SIZE];
    mst_track *rings = mst_patch_of(m, &f->shape).rings;
    if (m->failed) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_NAME, LIMIT_FIRST);
    if (!label) return;
    if (!under_pad(m, f)) mst_label_line(m->l, f->name, mst_bold(mst_figure_type(m)));
    mst_write_area(mst_shape_area(&f->shape), m->r->plan->imperial, area);
    mst_label_line(m->l, mst_keep(m, area), mst_figure_type(m));
    list_under(label, f);
    label->list_value = mst_keep(m, area);
    mst_choose_inside(m->l, rings, f->shape.count, 0, true);
}

static void label_spot(mst_maker *m, const mst_plan_feature *f) {
    double x, y;
    if (!f->shape.count || !f->shape.paths[0].count) return;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_SPOT_NAME, LIMIT_PLAIN);
    if (!label) return;
    mst_label_line(m->l, f->name, mst_note_type(m));
    label->list_name = f->name;
    label->list_value = f->style->legend;
    const mst_path_vertex *v = &f->shape.paths[0].vertices[0];
    mst_to_paper(m->r->view, (mst_point){v->easting_m, v->northing_m}, &x, &y);
    mst_choose_around(m->l, x, y, MARK_CLEAR_MM, 9);
}

void mst_label_feature(mst_maker *m, const mst_plan_feature *f) {
    if (f->kind == MST_FEATURE_SPOT) {
        label_spot(m, f);
        return;
    }
    if (f->kind == MST_FEATURE_AREA && f->style->figured) label_area(m, f);
    for (size_t i = 0; f->style->figured && i < f->shape.count; i++) label_edges(m, f, &f->shape.paths[i], i > 0);
}
