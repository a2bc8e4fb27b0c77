/* The windows of ground that the works can reach, and the elements put in one after the other. Each element has a
 * store of its own for its cutting, so that a long list does not keep every stage of it. */
#include "ground/model.h"
#include "works/compose.h"
#include <math.h>
#include <string.h>

typedef struct range {
    double lowest, highest;
} range;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static range ground_in(const mst_ground *g, const mst_box *box, range r) {
    mst_boxtree_walk walk = mst_boxtree_window(&g->tree, *box);
    uint32_t t;
    while (mst_boxtree_next(&walk, &t))
        for (int c = 0; c < 3; c++) {
            double z = g->vertices[g->triangles[t][c]].elevation_m;
            r.lowest = fmin(r.lowest, z), r.highest = fmax(r.highest, z);
        }
    return r;
}

static mst_box grown(mst_box b, double by) { return (mst_box){b.w - by, b.s - by, b.e + by, b.n + by}; }

/* Grows the window until a bank to the lowest and highest ground in it stays in it. */
static range reach_of(const mst_layout *l, const mst_ground *g, range others, mst_box *window) {
    double far = 0;
    for (;;) {
        *window = grown(l->box, far);
        const range r = ground_in(g, window, others);
        double needed = mst_layout_reach(l, r.lowest, r.highest);
        if (!(needed > far) || !(l->lowest_m <= l->highest_m)) return r;
        far = needed;
        if (g->lowest_m >= r.lowest && g->highest_m <= r.highest) {
            *window = grown(l->box, far);
            return r;
        }
    }
}

static mst_status lay_out(const mst_element elements[], size_t count, const mst_site *site,
                          const mst_adjustment *adjustment, const double origin[2], mst_arena *arena,
                          mst_layout layouts[], range *levels, mst_error *error) {
    *levels = (range){HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < count; i++) {
        mst_status status = mst_layout_of(&elements[i], site, adjustment, origin, arena, &layouts[i], error);
        if (status) return status;
        levels->lowest = fmin(levels->lowest, layouts[i].lowest_m - elements[i].build_up_m);
        levels->highest = fmax(levels->highest, layouts[i].highest_m);
    }
    return MST_OK;
}

static bool keep_tiling(const mst_tiling *from, mst_arena *arena, mst_tiling *to) {
    mst_tiling t = *from;
    t.at = mst_arena_array(arena, from->place_count + 1, sizeof *t.at);
    t.corners = mst_arena_array(arena, from->count + 1, sizeof *t.corners);
    t.neighbours = mst_arena_array(arena, from->count + 1, sizeof *t.neighbours);
    t.tiles = mst_arena_array(arena, from->count + 1, sizeof *t.tiles);
    t.parent = NULL;
    if (!t.at || !t.corners || !t.neighbours || !t.tiles) return false;
    memcpy(t.at, from->at, from->place_count * sizeof *t.at);
    memcpy(t.corners, from->corners, from->count * sizeof *t.corners);
    memcpy(t.neighbours, from->neighbours, from->count * sizeof *t.neighbours);
    memcpy(t.tiles, from->tiles, from->count * sizeof *t.tiles);
    if (mst_triangle_tree((const uint32_t(*)[3])t.corners, t.count, t.at, sizeof *t.at, arena, &t.tree)) return false;
    *to = t;
    return true;
}

/* The walls among the elements before one. */
static mst_status put_in(mst_works *c, size_t element, range r, mst_arena *own, mst_tiling *t, mst_error *error) {
    mst_work_step steps[MST_MOST_STEPS];
    size_t count;
    mst_status status = mst_steps_of(&c->layouts[element], r.lowest, r.highest, t->origin, own, steps, &count, error);
    for (size_t s = 0; s < count && !status; s++) {
        steps[s].facets.arena = own;
        status = mst_apply_step(t, &steps[s], (uint32_t)element, c->layouts, element, c, own, error);
    }
    return status;
}

/* A wall is an edge of the tiling from its place in the order on. */
static mst_status put_wall(const mst_layout *l, mst_arena *own, mst_tiling *t, mst_error *error) {
    mst_sketch s;
    mst_tiling cut;
    mst_sketch_begin(&s, (const double(*)[2])t->at, t->place_count, own);
    mst_tiling_draw_edges(t, NULL, &s);
    for (size_t i = 0; i + 1 < l->wall_count; i++)
        mst_sketch_line(&s, mst_sketch_place(&s, l->wall[i]), mst_sketch_place(&s, l->wall[i + 1]));
    mst_status status = mst_tiling_cut(t, &s, own, &cut, error);
    if (!status) *t = cut;
    return status;
}

/* One element in a store of its own; what it leaves and says is kept in the works' arena. */
static mst_status put_element(mst_works *w, size_t i, range r, mst_arena *arena, mst_error *error) {
    mst_arena *own = mst_arena_new();
    if (!own) return no_memory(error);
    mst_tiling t = w->tiling;
    mst_works on_top = *w;
    on_top.gaps = NULL, on_top.gap_count = on_top.gap_capacity = 0;
    mst_status status = w->layouts[i].element->kind == MST_WORK_WALL ? put_wall(&w->layouts[i], own, &t, error)
                                                                     : put_in(&on_top, i, r, own, &t, error);
    if (!status && i + 1 == w->count) status = mst_split_crossings(&t, own, error);
    if (!status && !keep_tiling(&t, arena, &w->tiling)) status = no_memory(error);
    for (size_t k = 0; k < on_top.gap_count && !status; k++) {
        mst_work_gap *to = MST_PUSH(arena, w->gaps, w->gap_count, w->gap_capacity);
        if (to) *to = on_top.gaps[k];
        else status = no_memory(error);
    }
    mst_arena_free(own);
    return status;
}

mst_status mst_works_compose(const mst_element elements[], size_t count, const mst_site *site,
                             const mst_adjustment *adjustment, const mst_ground *ground, mst_arena *arena,
                             mst_works **works, mst_error *error) {
    if (!ground || ground->triangle_count == 0)
        return mst_fail(error, MST_UNDETERMINED, "There is no ground under the works; take spot levels.");
    mst_layout *layouts = mst_arena_array(arena, count + 1, sizeof *layouts);
    mst_box *windows = mst_arena_array(arena, count + 1, sizeof *windows);
    range *ranges = mst_arena_array(arena, count + 1, sizeof *ranges), levels;
    mst_works *w = mst_arena_alloc(arena, sizeof *w);
    if (!layouts || !windows || !ranges || !w) return no_memory(error);
    *w = (mst_works){.ground = ground, .layouts = layouts, .count = count};
    w->base_m2 = mst_arena_array(arena, count + 1, sizeof *w->base_m2);
    if (!w->base_m2) return no_memory(error);
    double origin[2];
    mst_tiling_origin(ground, origin);
    mst_status status = lay_out(elements, count, site, adjustment, origin, arena, layouts, &levels, error);
    for (size_t i = 0; i < count && !status; i++) ranges[i] = reach_of(&layouts[i], ground, levels, &windows[i]);
    if (!status) status = mst_tiling_of_ground(ground, windows, count, arena, &w->tiling, error);
    for (size_t i = 0; i < count && !status && w->tiling.count; i++)
        status = put_element(w, i, ranges[i], arena, error);
    if (!status) *works = w;
    return status;
}
