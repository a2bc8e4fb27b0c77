/* Labels of the design: finished and formation levels, fall arrows, stakes. */
#include "drawing/maker.h"
#include "drawing/marks.h"
#include <math.h>
#include <stdio.h>

enum { PAD_CORNERS_MAX = 16 };

void mst_finish_level(mst_maker *m, const char *prefix, double level_m, char out[MST_FIGURE_SIZE + 16]) {
    char figure[MST_FIGURE_SIZE];
    mst_write_level(level_m, m->r->plan->imperial ? 2 : 3, m->r->plan->imperial, figure);
    snprintf(out, MST_FIGURE_SIZE + 16, "%s%s", prefix, figure);
}

static void pad_lines(mst_maker *m, const mst_plan_pad *pad, double slope) {
    char text[MST_FIGURE_SIZE + 16], figure[MST_FIGURE_SIZE];
    mst_label_line(m->l, pad->name, mst_note_type(m));
    if (pad->lines[0]) {
        mst_label_line(m->l, pad->lines[0], mst_note_type(m));
        for (int i = 1; i < 3 && pad->lines[i]; i++) mst_label_line(m->l, pad->lines[i], mst_note_type(m));
        return;
    }
    if (!pad->has_level) {
        mst_write_length(fabs(pad->depth_m), 3, m->r->plan->imperial, figure);
        snprintf(text, sizeof text, pad->depth_m >= 0 ? "dig %s" : "raise %s", figure);
        mst_label_line(m->l, mst_keep(m, text), (mst_type){m->r->sizes->key, true});
        return;
    }
    if (slope > 0) {
        mst_write_fall(slope, figure);
        snprintf(text, sizeof text, "falls %s", figure);
        mst_label_line(m->l, mst_keep(m, text), (mst_type){m->r->sizes->key, true});
        mst_write_length(pad->build_up_m, 3, m->r->plan->imperial, figure);
        snprintf(text, sizeof text, "formation %s under", figure);
    } else {
        mst_finish_level(m, "FL ", pad->finish.level_m, text);
        mst_label_line(m->l, mst_keep(m, text), (mst_type){m->r->sizes->key, true});
        mst_finish_level(m, "formation ", pad->finish.level_m - pad->build_up_m, text);
    }
    mst_label_line(m->l, mst_keep(m, text), mst_note_type(m));
}

/* The direction of the fall on the paper. */
static double fall_turn(const mst_maker *m, const mst_plane *f) {
    double bearing = atan2(-f->slope_e, -f->slope_n); /* clockwise from north */
    return bearing + m->r->view->turn_rad - MST_PI / 2;
}

static void pad_arrow(mst_maker *m, const mst_plan_pad *pad, const mst_track *rings, double slope) {
    char figure[MST_FIGURE_SIZE];
    mst_label *label = mst_label_new(m->l, MST_LABEL_ARROW, P_FALL, LIMIT_FIRST);
    if (!label) return;
    double turn = fall_turn(m, &pad->finish);
    mst_write_fall(slope, figure);
    mst_label_line(m->l, mst_keep(m, figure), mst_figure_type(m));
    label->backwards = cos(turn) < -1e-6 || (fabs(cos(turn)) <= 1e-6 && sin(turn) > 0);
    mst_choose_inside(m->l, rings, pad->shape.count, turn, false);
}

/* On a falling pad each corner of the outline has its finished level. */
static void pad_corners(mst_maker *m, const mst_plan_pad *pad) {
    const mst_path *outline = &pad->shape.paths[0];
    char text[MST_FIGURE_SIZE + 16];
    for (size_t i = 0; i < outline->count && outline->count <= PAD_CORNERS_MAX; i++) {
        const mst_path_vertex *v = &outline->vertices[i];
        const mst_plane *f = &pad->finish;
        double x, y,
            level = f->level_m + f->slope_e * (v->easting_m - f->e0_m) + f->slope_n * (v->northing_m - f->n0_m);
        mst_label *label = mst_label_new(m->l, MST_LABEL_BOXED, P_FINISH - 1, LIMIT_FIRST);
        if (!label) return;
        mst_finish_level(m, "FL ", level, text);
        mst_label_line(m->l, mst_keep(m, text), mst_figure_type(m));
        label->list_name = pad->name;
        label->list_value = label->lines[0];
        mst_to_paper(m->r->view, (mst_point){v->easting_m, v->northing_m}, &x, &y);
        mst_choose_around(m->l, x, y, MST_MARK_HALF_MM, 15);
    }
}

void mst_label_pad(mst_maker *m, const mst_plan_pad *pad) {
    double slope = pad->has_level ? hypot(pad->finish.slope_e, pad->finish.slope_n) : 0;
    mst_track *rings = mst_patch_of(m, &pad->shape).rings;
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

void mst_label_stake(mst_maker *m, const mst_plan_stake *s) {
    char text[MST_FIGURE_SIZE + 16];
    double x, y;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_STAKE, LIMIT_FIRST);
    if (!label) return;
    mst_label_line(m->l, s->name, mst_bold(mst_figure_type(m)));
    if (isfinite(s->level_m)) {
        mst_finish_level(m, "", s->level_m, text);
        mst_label_line(m->l, mst_keep(m, text), mst_note_type(m));
    }
    label->list_name = s->name;
    label->list_value = label->line_count > 1 ? label->lines[1] : "stake";
    mst_to_paper(m->r->view, s->at, &x, &y);
    mst_choose_around(m->l, x, y, STAKE_CLEAR_MM, 30);
}
