/* From an element to its facets in plan, and to the steps that put them into the ground. */
#include "works/design.h"
#include "ground/cover.h"
#include <math.h>
#include <string.h>

static const double SAGITTA_M = 0.001; /* arcs, as covers are flattened */
static const double MARGIN_M = 0.5;    /* a bank runs a little past the ground that it must meet */
enum { ROUND = 48 };                   /* rays of a cone */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- areas ---- */

/* The rings as chains with the area on their left. */
static mst_status add_rings(mst_layout *l, const mst_shape *shape, const double origin[2], mst_arena *arena,
                            mst_error *error) {
    const mst_plane *p = &l->element->finish;
    l->chains = mst_arena_array(arena, shape->count, sizeof *l->chains);
    if (!l->chains) return no_memory(error);
    for (size_t k = 0; k < shape->count; k++) {
        mst_path flat;
        mst_status status = mst_path_flatten_even(&shape->paths[k], SAGITTA_M, arena, &flat, error);
        if (status) return status;
        mst_chain *c = &l->chains[l->chain_count++];
        c->closed = true;
        c->at = mst_arena_array(arena, flat.count + 1, sizeof *c->at);
        c->level_m = mst_arena_array(arena, flat.count + 1, sizeof *c->level_m);
        if (!c->at || !c->level_m) return no_memory(error);
        bool forward = (mst_path_area(&flat) > 0) == (k == 0);
        for (size_t i = 0; i < flat.count; i++) {
            const mst_path_vertex *v = &flat.vertices[forward ? i : flat.count - 1 - i];
            double e = v->easting_m - origin[0], n = v->northing_m - origin[1];
            if (c->count && e == c->at[c->count - 1][0] && n == c->at[c->count - 1][1]) continue;
            c->at[c->count][0] = e, c->at[c->count][1] = n;
            c->level_m[c->count++] =
                p->level_m + p->slope_e * (v->easting_m - p->e0_m) + p->slope_n * (v->northing_m - p->n0_m);
        }
    }
    return MST_OK;
}

static mst_status add_cover(mst_layout *l, const mst_shape *shape, const double origin[2], mst_arena *arena,
                            mst_error *error) {
    const mst_plane *p = &l->element->finish;
    mst_cover cover;
    mst_error why = {0};
    mst_status status = mst_cover_shape(shape, arena, &cover, &why);
    if (status) return mst_fail(error, status, "Element '%s': %s", l->element->name, why.sentence);
    for (size_t t = 0; t < cover.count; t++) {
        double at[3][2], level[3];
        for (int c = 0; c < 3; c++) {
            const double *v = cover.at[cover.triangles[t][c]];
            at[c][0] = v[0] - origin[0], at[c][1] = v[1] - origin[1];
            level[c] = p->level_m + p->slope_e * (v[0] - p->e0_m) + p->slope_n * (v[1] - p->n0_m);
        }
        mst_facet_triangle(&l->base, (const double(*)[2])at, level);
    }
    return MST_OK;
}

/* Edges are numbered along the outline as it was drawn; the chain may run the other way. */
static mst_status choose_edges(mst_layout *l, const mst_feature *f, const mst_shape *shape, mst_arena *arena,
                               mst_error *error) {
    const mst_element *e = l->element;
    mst_chain *c = &l->chains[0];
    if (e->edge_count == 0) return MST_OK;
    if (shape->count != 1 || c->count != f->vertex_count)
        return mst_fail(error, MST_INVALID,
                        "Element '%s' banks single edges, which needs an outline of straight edges without holes.",
                        e->name);
    c->with_bank = mst_arena_array(arena, c->count, 1);
    if (!c->with_bank) return no_memory(error);
    bool forward = mst_path_area(&shape->paths[0]) > 0;
    for (size_t i = 0; i < e->edge_count; i++) {
        size_t k = e->edges[i];
        c->with_bank[forward ? k : (2 * c->count - 2 - k) % c->count] = true;
    }
    return MST_OK;
}

static void add_surface(mst_layout *l, const double origin[2]) {
    const mst_element *e = l->element;
    for (size_t t = 0; t < e->triangle_count; t++) {
        double at[3][2], level[3];
        for (int c = 0; c < 3; c++) {
            const mst_point3 *p = &e->points[e->triangles[t][c]];
            at[c][0] = p->easting_m - origin[0], at[c][1] = p->northing_m - origin[1], level[c] = p->elevation_m;
        }
        mst_facet_triangle(&l->base, (const double(*)[2])at, level);
    }
}

static mst_status layout_area(mst_layout *l, const mst_feature *f, const mst_shape *shape, const double origin[2],
                              mst_arena *arena, mst_error *error) {
    mst_work_kind kind = l->element->kind;
    if (kind == MST_WORK_SURFACE) return add_surface(l, origin), MST_OK;
    mst_element flat = *l->element;
    const mst_element *own = l->element;
    if (kind == MST_WORK_POND) flat.finish = (mst_plane){.level_m = flat.level_m - flat.depth_m};
    l->element = &flat;
    mst_status status = add_cover(l, shape, origin, arena, error);
    if (kind == MST_WORK_POND) flat.finish.level_m = flat.level_m;
    if (!status && (kind == MST_WORK_BANK || kind == MST_WORK_POND)) status = add_rings(l, shape, origin, arena, error);
    l->element = own;
    return status || kind != MST_WORK_BANK ? status : choose_edges(l, f, shape, arena, error);
}

/* ---- the box around it ---- */

static void reach_out(mst_layout *l, const double at[2], const double origin[2]) {
    l->box.w = fmin(l->box.w, at[0] + origin[0]), l->box.e = fmax(l->box.e, at[0] + origin[0]);
    l->box.s = fmin(l->box.s, at[1] + origin[1]), l->box.n = fmax(l->box.n, at[1] + origin[1]);
}

static void span(mst_layout *l, double level) {
    l->lowest_m = fmin(l->lowest_m, level);
    l->highest_m = fmax(l->highest_m, level);
}

static bool has_levels(mst_work_kind k) {
    return k != MST_WORK_DEPTH && k != MST_WORK_STRIP && k != MST_WORK_LAYERS && k != MST_WORK_WALL;
}

static void measure(mst_layout *l, const double origin[2]) {
    l->box = (mst_box){HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL};
    l->lowest_m = HUGE_VAL, l->highest_m = -HUGE_VAL;
    for (size_t i = 0; i < l->base.count; i++) {
        const mst_work_facet *f = &l->base.items[i];
        l->area_m2 += mst_orient2d(f->at[0], f->at[1], f->at[2]) / 2;
        for (int c = 0; c < f->count; c++) {
            reach_out(l, f->at[c], origin);
            if (has_levels(l->element->kind)) span(l, mst_work_level(&f->plane, f->at[c]));
        }
    }
    for (size_t k = 0; k < l->chain_count; k++)
        for (size_t i = 0; i < l->chains[k].count; i++)
            reach_out(l, l->chains[k].at[i], origin), span(l, l->chains[k].level_m[i]);
    for (size_t i = 0; i < l->wall_count; i++) reach_out(l, l->wall[i], origin);
    if (l->element->kind == MST_WORK_MOUND) {
        double at[2] = {l->element->at.easting_m - origin[0], l->element->at.northing_m - origin[1]};
        reach_out(l, at, origin), span(l, l->element->level_m);
    }
}

mst_status mst_layout_of(const mst_element *e, const mst_site *site, const mst_adjustment *adjustment,
                         const double origin[2], mst_arena *arena, mst_layout *layout, mst_error *error) {
    mst_layout l = {.element = e, .base = {.arena = arena}};
    mst_error why = {0};
    mst_status status = MST_OK;
    mst_shape shape;
    const mst_feature *f = e->where ? mst_site_feature(site, e->where) : NULL;
    if (e->where) {
        status = f ? mst_feature_shape(f, adjustment, arena, &shape, &why)
                   : mst_fail(&why, MST_NOT_FOUND, "there is no feature '%.60s'.", e->where);
        if (status) return mst_fail(error, status, "Element '%s': %s", e->name, why.sentence);
        if (f->kind == MST_FEATURE_AREA) status = layout_area(&l, f, &shape, origin, arena, error);
        else {
            mst_path flat;
            status = mst_path_flatten(&shape.paths[0], SAGITTA_M, arena, &flat, error);
            if (!status) status = mst_layout_line(&l, &flat, origin, arena, error);
        }
    }
    if (status) return status;
    if (l.base.failed) return no_memory(error);
    measure(&l, origin);
    *layout = l;
    return MST_OK;
}

/* ---- steps ---- */

static double cut_slope(const mst_element *e) {
    bool dug = e->kind == MST_WORK_SWALE || e->kind == MST_WORK_TRENCH;
    return dug ? (isfinite(e->side) ? e->side : 0) : e->cut_batter;
}

double mst_layout_reach(const mst_layout *l, double lowest, double highest) {
    const mst_element *e = l->element;
    double down = e->fill_batter > 0 ? (l->highest_m - lowest) / e->fill_batter : 0;
    double up = cut_slope(e) > 0 ? (highest - l->lowest_m) / cut_slope(e) : 0;
    return fmax(fmax(down, up), 0) + e->radius_m + MARGIN_M;
}

static bool copy_facets(mst_facet_list *to, const mst_facet_list *from, bool mask) {
    for (size_t i = 0; i < from->count; i++) {
        mst_work_facet *f = MST_PUSH(to->arena, to->items, to->count, to->capacity);
        if (!f) return false;
        *f = from->items[i];
        f->mask = mask;
    }
    return true;
}

static mst_work_step *new_step(mst_work_step steps[], size_t *count, mst_step_kind kind, const mst_element *e,
                               mst_arena *arena) {
    mst_work_step *s = &steps[(*count)++];
    *s = (mst_work_step){.kind = kind, .part = MST_PART_BASE, .sink_m = e->build_up_m, .facets = {.arena = arena}};
    return s;
}

/* Banks of all chains at one slope; the base is the mask. */
static bool bank_step(const mst_layout *l, double slope, double far, mst_work_step *s) {
    mst_bank_profile p = {.far_m = {0, far}, .slope = {slope}, .pieces = 1};
    s->where = MST_OUTSIDE;
    s->connected = true;
    s->part = MST_PART_BANK;
    for (size_t k = 0; k < l->chain_count; k++) mst_bank_facets(&s->facets, &l->chains[k], &p);
    return !s->facets.failed && copy_facets(&s->facets, &l->base, true);
}

static bool add_banks(const mst_layout *l, double lowest, double highest, mst_arena *arena, mst_work_step steps[],
                      size_t *count) {
    const mst_element *e = l->element;
    double down = (l->highest_m - lowest) / e->fill_batter, up = (highest - l->lowest_m) / e->cut_batter;
    bool room = true;
    if (e->fill_batter > 0 && down > 0)
        room = bank_step(l, -e->fill_batter, down + MARGIN_M, new_step(steps, count, MST_STEP_RAISE, e, arena));
    if (room && e->cut_batter > 0 && up > 0)
        room = bank_step(l, e->cut_batter, up + MARGIN_M, new_step(steps, count, MST_STEP_LOWER, e, arena));
    return room;
}

/* A ditch takes away what stands above its bottom and sides, and fills nothing. */
static bool dig_line(const mst_layout *l, double highest, mst_work_step *s) {
    const mst_element *e = l->element;
    double slope = cut_slope(e), deeper = e->kind == MST_WORK_TRENCH ? e->bedding_m : 0;
    s->connected = true;
    s->sink_m += deeper;
    if (e->kind == MST_WORK_TRENCH && e->backfilled) s->formation_only = true;
    mst_bank_profile p = {.far_m = {0, 0}, .slope = {slope}, .pieces = 1};
    p.far_m[1] = slope > 0 ? fmax(highest - l->lowest_m + s->sink_m, 0) / slope + MARGIN_M : 0;
    for (size_t k = 0; k < l->chain_count && slope > 0; k++) mst_bank_facets(&s->facets, &l->chains[k], &p);
    if (s->facets.failed || !copy_facets(&s->facets, &l->base, false)) return false;
    for (size_t i = 0; s->formation_only && i < s->facets.count; i++) s->facets.items[i].plane.level_m -= s->sink_m;
    return true;
}

static bool pond_sides(const mst_layout *l, mst_arena *arena, mst_work_step *s) {
    const mst_element *e = l->element;
    mst_bank_profile p = {0};
    double far = 0, depth = 0;
    for (size_t i = 0; i <= e->shelf_count && p.pieces + 2 < MST_PROFILE_PIECES; i++) {
        double to = i < e->shelf_count ? e->shelves[i].depth_m : e->depth_m;
        p.drop_m[p.pieces] = -depth, p.slope[p.pieces] = -e->side;
        p.far_m[++p.pieces] = far += (to - depth) / e->side;
        depth = to;
        if (i == e->shelf_count) break;
        p.drop_m[p.pieces] = -depth;
        p.far_m[++p.pieces] = far += e->shelves[i].width_m;
    }
    s->where = MST_INSIDE;
    for (size_t k = 0; k < l->chain_count; k++) {
        mst_chain inward = {.count = l->chains[k].count, .closed = true};
        inward.at = mst_arena_array(arena, inward.count, sizeof *inward.at);
        inward.level_m = mst_arena_array(arena, inward.count, sizeof *inward.level_m);
        if (!inward.at || !inward.level_m) return false;
        for (size_t i = 0; i < inward.count; i++) {
            size_t from = inward.count - 1 - i;
            memcpy(inward.at[i], l->chains[k].at[from], sizeof *inward.at);
            inward.level_m[i] = l->chains[k].level_m[from];
        }
        mst_bank_facets(&s->facets, &inward, &p);
    }
    return !s->facets.failed && copy_facets(&s->facets, &l->base, true);
}

/* A cone or its frustum. Its polygon at every level has the circle's area. */
static bool mound(const mst_layout *l, const double origin[2], double lowest, mst_work_step *s) {
    const mst_element *e = l->element;
    double step = 2 * MST_PI / ROUND, more = sqrt(step / sin(step));
    double c[2] = {e->at.easting_m - origin[0], e->at.northing_m - origin[1]};
    double far = fmax(e->level_m - lowest, 0) / e->fill_batter + e->radius_m + MARGIN_M;
    double foot = e->level_m - (far - e->radius_m) * e->fill_batter;
    for (int i = 0; i < ROUND; i++) {
        double ray[2][2], at[3][2];
        for (int k = 0; k < 2; k++) {
            double turn = step * ((i + k) % ROUND);
            ray[k][0] = more * cos(turn), ray[k][1] = more * sin(turn);
        }
        /* the sloping wedge is a plane through its foot and its edge at the top, drawn as two triangles */
        const double radius[4] = {e->radius_m, far, far, e->radius_m};
        const int of[4] = {0, 0, 1, 1};
        double quad[4][2];
        for (int q = 0; q < 4; q++)
            for (int k = 0; k < 2; k++) quad[q][k] = c[k] + radius[q] * ray[of[q]][k];
        memcpy(at, quad, sizeof at);
        mst_facet_triangle(&s->facets, (const double(*)[2])at, (const double[3]){e->level_m, foot, foot});
        if (!(e->radius_m > 0)) continue;
        memcpy(at[1], quad[2], sizeof at[1]), memcpy(at[2], quad[3], sizeof at[2]);
        mst_facet_triangle(&s->facets, (const double(*)[2])at, (const double[3]){e->level_m, foot, e->level_m});
        memcpy(at[0], c, sizeof at[0]), memcpy(at[1], quad[0], sizeof at[1]), memcpy(at[2], quad[3], sizeof at[2]);
        mst_facet_triangle(&s->facets, (const double(*)[2])at, (const double[3]){e->level_m, e->level_m, e->level_m});
    }
    return !s->facets.failed;
}

mst_status mst_steps_of(const mst_layout *l, double lowest, double highest, const double origin[2], mst_arena *arena,
                        mst_work_step steps[MST_MOST_STEPS], size_t *count, mst_error *error) {
    static const mst_step_kind first[MST_WORK_KINDS] = {MST_STEP_SET,   MST_STEP_SET,   MST_STEP_SINK,  MST_STEP_SET,
                                                        MST_STEP_RAISE, MST_STEP_SET,   MST_STEP_SET,   MST_STEP_SET,
                                                        MST_STEP_LOWER, MST_STEP_LOWER, MST_STEP_SET,   MST_STEP_RAISE,
                                                        MST_STEP_SET,   MST_STEP_STRIP, MST_STEP_BUILD, MST_STEP_SET};
    const mst_element *e = l->element;
    bool room = true;
    *count = 0;
    if (e->kind == MST_WORK_WALL) return MST_OK;
    if (e->kind == MST_WORK_BANK) return add_banks(l, lowest, highest, arena, steps, count) ? MST_OK : no_memory(error);
    mst_work_step *s = new_step(steps, count, first[e->kind], e, arena);
    if (e->kind == MST_WORK_SWALE || e->kind == MST_WORK_TRENCH) room = dig_line(l, highest, s);
    else if (e->kind == MST_WORK_MOUND) room = mound(l, origin, lowest, s);
    else room = copy_facets(&s->facets, &l->base, false);
    if (e->kind == MST_WORK_DEPTH) s->sink_m = e->depth_m;
    if (e->kind == MST_WORK_STRIP) s->part = MST_PART_STRIP;
    if (room && e->kind == MST_WORK_POND) room = pond_sides(l, arena, new_step(steps, count, MST_STEP_RAISE, e, arena));
    if (room && l->chain_count && s->kind == MST_STEP_SET && e->kind != MST_WORK_POND)
        room = add_banks(l, lowest, highest, arena, steps, count);
    return room ? MST_OK : no_memory(error);
}
