/* Labels of control, spot levels and points. */
#include "drawing/maker.h"
#include <math.h>

static void point_level(mst_maker *m, const mst_plan_point *p, char out[MST_FIGURE_SIZE]) {
    mst_write_level(p->level_m, mst_level_decimals(p->sd_level_m, p->hard, m->r->plan->imperial), m->r->plan->imperial,
                    out);
}

/* On a sheet so full that leaders would only tangle, a level stands beside its point or goes to the list. */
static double leader_reach(const mst_maker *m, double reach) {
    const size_t many = 3000;
    return m->r->plan->point_count > many ? 0 : reach;
}

static void label_control(mst_maker *m, const mst_plan_point *p, double x, double y) {
    char level[MST_FIGURE_SIZE];
    if (!mst_label_new(m->l, MST_LABEL_PLAIN, P_CONTROL, LIMIT_FIRST)) return;
    mst_label_line(m->l, p->name, mst_bold(mst_figure_type(m)));
    if (isfinite(p->level_m)) {
        mst_write_level(p->level_m, m->r->plan->imperial ? 2 : 3, m->r->plan->imperial, level);
        mst_label_line(m->l, mst_keep(m, level), mst_figure_type(m));
    }
    mst_choose_around(m->l, x, y, CONTROL_CLEAR_MM, 24);
}

static void label_level(mst_maker *m, const mst_plan_point *p, double x, double y) {
    char level[MST_FIGURE_SIZE];
    point_level(m, p, level);
    int priority = p->key ? P_DOOR : p->hard ? P_HARD_LEVEL : P_LEVEL;
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, priority, p->key ? LIMIT_FIRST : LIMIT_PLAIN);
    if (!label) return;
    mst_label_line(m->l, mst_keep(m, level), p->key ? (mst_type){m->r->sizes->key, true} : mst_figure_type(m));
    label->list_name = p->name;
    label->list_value = label->lines[0];
    mst_choose_around(m->l, x, y, mst_point_clear(p), p->key ? 24 : leader_reach(m, p->hard ? 9 : 6));
}

static void label_name(mst_maker *m, const mst_plan_point *p, double x, double y) {
    mst_label *label = mst_label_new(m->l, MST_LABEL_PLAIN, P_POINT_NAME, LIMIT_PLAIN);
    if (!label) return;
    label->tone = MST_TONE_QUIET;
    mst_label_line(m->l, p->name, mst_note_type(m));
    mst_choose_around(m->l, x, y, mst_point_clear(p), leader_reach(m, 6));
}

void mst_label_points(mst_maker *m) {
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
