/* External reliability (W. Baarda, A Testing Procedure for Use in Geodetic Networks, 1968): what an error that the
 * tests let pass does to the points. An error d of a reading with row a and weight w moves the unknowns by Q a' w d. */
#include "survey/covariances.h"
#include "survey/words.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the reliability.");
}

typedef struct moving {
    const mst_system *system;
    const mst_free_datum *free;
    double *unknowns, (*points)[3];
} moving;

static double moved_by(const moving *m, uint32_t unknown) { return unknown == MST_NONE ? 0 : m->unknowns[unknown]; }

/* How every point moves for an error of 1 in the reading. */
static void move_points(const moving *m, size_t row) {
    const mst_system *s = m->system;
    memset(m->unknowns, 0, s->unknowns * sizeof *m->unknowns);
    mst_system_row(s, row, m->unknowns);
    mst_sparse_solve(s->matrix, m->unknowns);
    for (size_t i = 0; i < s->net->node_count; i++) {
        const mst_node *node = &s->net->nodes[i];
        m->points[i][0] = moved_by(m, node->unknown_e) * s->weight[row];
        m->points[i][1] = moved_by(m, node->unknown_n) * s->weight[row];
        m->points[i][2] = moved_by(m, node->unknown_h) * s->weight[row];
    }
    if (m->free) mst_free_datum_settle(m->free, m->points);
}

static mst_effect farthest(const moving *m, size_t row, double smallest_error) {
    mst_effect far = {.observation = row};
    for (uint32_t i = 0; i < m->system->net->node_count; i++) {
        double plan = hypot(m->points[i][0], m->points[i][1]), level = fabs(m->points[i][2]);
        if (!(fmax(plan, level) > far.by_one)) continue;
        far.by_one = fmax(plan, level);
        far.in_level = level > plan;
        far.point = i;
    }
    far.moved_m = far.by_one > 0 ? far.by_one * smallest_error : 0;
    return far;
}

mst_status mst_adjustment_effects(const mst_adjustment *adjustment, const size_t observations[], size_t count,
                                  mst_arena *arena, mst_effect effects[], mst_error *error) {
    moving m = {.free = NULL};
    m.system = mst_covariances_system(adjustment->covariances, &m.free);
    m.unknowns = mst_arena_array(arena, m.system->unknowns + 1, sizeof *m.unknowns);
    m.points = mst_arena_array(arena, m.system->net->node_count + 1, sizeof *m.points);
    if (!m.unknowns || !m.points) return no_memory(error);
    for (size_t i = 0; i < count; i++) {
        size_t row = observations ? observations[i] : i;
        if (row >= adjustment->observation_count)
            return mst_fail(error, MST_INVALID, "There is no reading %zu in the adjustment.", row + 1);
        move_points(&m, row);
        effects[i] = farthest(&m, row, adjustment->observations[row].smallest_error);
    }
    return MST_OK;
}

static void error_words(const mst_observation_result *o, char *out, size_t size) {
    if (o->angular) mst_angle_dms(o->smallest_error, 0, out, size);
    else snprintf(out, size, "%.3f m", o->smallest_error);
}

const char *mst_effect_sentence(const mst_adjustment *adjustment, const mst_effect *effect, mst_arena *arena) {
    const mst_free_datum *free;
    const mst_system *s = mst_covariances_system(adjustment->covariances, &free);
    const mst_observation_result *o = &adjustment->observations[effect->observation];
    const char *reading = mst_words_for(s->net, &s->net->readings[s->reading[effect->observation]], arena);
    const char *point = adjustment->points[effect->point].name, *what = effect->in_level ? "the level of " : "";
    char size[48];
    if (!isfinite(o->smallest_error))
        return mst_arena_printf(arena, "Nothing checks the %s: an error in it goes into %s%s unseen.", reading, what,
                                point);
    error_words(o, size, sizeof size);
    return mst_arena_printf(arena, "An error of %s in the %s could pass unnoticed; it would move %s%s by %.3f m.", size,
                            reading, what, point, effect->moved_m);
}
