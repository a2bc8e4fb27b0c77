/* Elements that are no pads on the plan: their outlines from the tiles of the works, strokes down their banks, the
 * risers of steps, and what their labels say. */
#include "drawing/figures.h"
#include "drawing/plan.h"
#include "works/compose.h" /* MST_NO_OWNER: no neighbour either */
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double BANK = 1.0 / 8;  /* flatter than this nobody draws a bank */
static const double RISER_M = 0.02;  /* less is a joint */
static const double STROKE_MM = 1.6; /* apart, on a sheet at 1:200 */
static const double SCALE = 200;
static const double LONGEST_M = 60, STRAIGHT = 1e-7;
enum { MOST_STROKES = 60000, MOST_TILES = 4000 };

typedef struct job {
    const mst_drawing_input *input;
    const mst_works *works;
    mst_plan *plan;
    mst_arena *arena;
} job;

static mst_point place(const job *j, uint32_t p) {
    const mst_tiling *t = &j->works->tiling;
    return (mst_point){t->at[p][0] + t->origin[0] - j->plan->origin.easting_m,
                       t->at[p][1] + t->origin[1] - j->plan->origin.northing_m};
}

static bool add_stroke(const job *j, mst_point a, mst_point b, mst_stroke_kind kind) {
    mst_plan *p = j->plan;
    if (p->stroke_count >= MOST_STROKES) return true;
    mst_plan_stroke *to = MST_PUSH(j->arena, p->strokes, p->stroke_count, p->stroke_capacity);
    if (to)
        *to = (mst_plan_stroke){a, b, kind == MST_STROKE_RISER ? MST_INK_MEDIUM : MST_INK_FINE, kind == MST_STROKE_TOE,
                                kind};
    return to != NULL;
}

/* ---- outlines ---- */

static bool is_bank(mst_work_kind k) { return k == MST_WORK_BANK || k == MST_WORK_MOUND; }

/* The tiles that an element's outline encloses: banks beyond a path are drawn by strokes alone. */
static bool in_outline(const job *j, uint32_t tile, uint32_t element) {
    const mst_tile *t = &j->works->tiling.tiles[tile];
    if (t->part == MST_PART_NONE || t->owner != element) return false;
    return is_bank(j->input->elements[element].kind) || t->part != MST_PART_BANK;
}

typedef struct rim {
    uint32_t from, to, next; /* next: of those that start at one place, + 1 */
    bool used;
} rim;

static bool take_rims(const job *j, uint32_t element, rim **rims, size_t *count, uint32_t *first) {
    const mst_tiling *t = &j->works->tiling;
    size_t capacity = 0;
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; in_outline(j, i, element) && c < 3; c++) {
            uint32_t n = t->neighbours[i][c];
            if (n != MST_NO_OWNER && in_outline(j, n, element)) continue;
            rim *to = MST_PUSH(j->arena, *rims, *count, capacity);
            if (!to) return false;
            *to = (rim){t->corners[i][(c + 1) % 3], t->corners[i][(c + 2) % 3], 0, false};
            to->next = first[to->from];
            first[to->from] = (uint32_t)*count; /* its number + 1 */
        }
    return true;
}

static bool straight_on(const mst_path_vertex *a, const mst_path_vertex *b, mst_point c) {
    double e = c.easting_m - a->easting_m, n = c.northing_m - a->northing_m, length = hypot(e, n);
    double off = (b->easting_m - a->easting_m) * n - (b->northing_m - a->northing_m) * e;
    return length > 0 && fabs(off) <= STRAIGHT * length;
}

/* Follows one rim round. Vertices on a straight line are left out. */
static bool follow(const job *j, rim *rims, const uint32_t *first, size_t start, size_t count, mst_path *path) {
    *path = (mst_path){mst_arena_array(j->arena, count + 1, sizeof *path->vertices), 0, true};
    if (!path->vertices) return false;
    for (rim *r = &rims[start]; r && !r->used;) {
        r->used = true;
        mst_point p = place(j, r->from);
        if (path->count >= 2 && straight_on(&path->vertices[path->count - 2], &path->vertices[path->count - 1], p))
            path->count--;
        path->vertices[path->count++] = (mst_path_vertex){p.easting_m, p.northing_m, NAN, 0};
        uint32_t next = first[r->to];
        while (next && rims[next - 1].used) next = rims[next - 1].next;
        r = next ? &rims[next - 1] : NULL;
    }
    return true;
}

static bool outline_of(const job *j, uint32_t element, mst_shape *shape) {
    rim *rims = NULL;
    size_t count = 0, capacity = 0;
    uint32_t *first = mst_arena_array(j->arena, j->works->tiling.place_count + 1, sizeof *first);
    *shape = (mst_shape){0};
    if (!first || !take_rims(j, element, &rims, &count, first)) return false;
    for (size_t i = 0; i < count; i++) {
        if (rims[i].used) continue;
        mst_path *to = MST_PUSH(j->arena, shape->paths, shape->count, capacity);
        if (!to || !follow(j, rims, first, i, count, to)) return false;
        if (to->count < 3) shape->count--;
    }
    return true;
}

/* ---- strokes ---- */

/* The finished plane of a tile: slope up towards east and north. */
static void slope_of(const mst_tiling *t, uint32_t i, double g[2]) {
    const double *a = t->at[t->corners[i][0]], *b = t->at[t->corners[i][1]], *c = t->at[t->corners[i][2]];
    const double *z = t->tiles[i].level[MST_FINISH];
    double be = b[0] - a[0], bn = b[1] - a[1], ce = c[0] - a[0], cn = c[1] - a[1], det = be * cn - bn * ce;
    g[0] = g[1] = 0;
    if (!(fabs(det) > 1e-9)) return;
    g[0] = ((z[1] - z[0]) * cn - (z[2] - z[0]) * bn) / det;
    g[1] = ((z[2] - z[0]) * be - (z[1] - z[0]) * ce) / det;
}

static bool is_slope(const job *j, uint32_t i) {
    const mst_tile *t = &j->works->tiling.tiles[i];
    if (t->part == MST_PART_NONE || t->part == MST_PART_STRIP) return false;
    mst_work_kind k = j->input->elements[t->owner].kind;
    if (t->part != MST_PART_BANK && k != MST_WORK_MOUND && k != MST_WORK_POND && k != MST_WORK_SWALE) return false;
    double g[2];
    slope_of(&j->works->tiling, i, g);
    return hypot(g[0], g[1]) >= BANK;
}

/* Walks downhill from an edge through sloping tiles of one element. @return how far */
static double run_down(const job *j, uint32_t tile, const double from[2], const double way[2]) {
    const mst_tiling *t = &j->works->tiling;
    double done = 0;
    for (int step = 0; step < MOST_TILES && done < LONGEST_M; step++) {
        double leave = HUGE_VAL;
        int through = -1;
        for (int c = 0; c < 3; c++) {
            const double *a = t->at[t->corners[tile][(c + 1) % 3]], *b = t->at[t->corners[tile][(c + 2) % 3]];
            double e = b[0] - a[0], n = b[1] - a[1], down = way[0] * n - way[1] * e; /* > 0: runs out over it */
            if (!(down > 0)) continue;
            double s = ((a[0] - from[0]) * n - (a[1] - from[1]) * e) / down;
            if (s < leave) leave = s, through = c;
        }
        if (through < 0) return done;
        done = fmax(done, leave);
        uint32_t next = t->neighbours[tile][through];
        if (next == MST_NO_OWNER || t->tiles[next].owner != t->tiles[tile].owner || !is_slope(j, next)) return done;
        tile = next;
    }
    return done;
}

/* Strokes down from a top edge, long and short in turn, @p apart metres along it. */
static bool stroke_edge(const job *j, uint32_t tile, int c, const double down[2], double apart, double *carry,
                        int *number) {
    const mst_tiling *t = &j->works->tiling;
    const double *a = t->at[t->corners[tile][(c + 1) % 3]], *b = t->at[t->corners[tile][(c + 2) % 3]];
    double length = hypot(b[0] - a[0], b[1] - a[1]);
    for (; *carry < length; *carry += apart) {
        double s = *carry / length, from[2] = {a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])};
        double run = run_down(j, tile, from, down) * (*number % 2 ? 0.5 : 0.92);
        ++*number;
        mst_point p = {from[0] + t->origin[0] - j->plan->origin.easting_m,
                       from[1] + t->origin[1] - j->plan->origin.northing_m};
        if (run > apart / 4 &&
            !add_stroke(j, p, (mst_point){p.easting_m + run * down[0], p.northing_m + run * down[1]}, MST_STROKE_BANK))
            return false;
    }
    *carry -= length;
    return true;
}

/* The edge is a slope's top where the slope runs down from it into the tile, and nothing of it lies above. */
static bool add_slope_strokes(const job *j, double apart) {
    const mst_tiling *t = &j->works->tiling;
    double carry = 0;
    int number = 0;
    for (uint32_t i = 0; i < t->count; i++) {
        if (!is_slope(j, i)) continue;
        double g[2], down[2];
        slope_of(t, i, g);
        for (int k = 0; k < 2; k++) down[k] = -g[k] / hypot(g[0], g[1]);
        for (int c = 0; c < 3; c++) {
            const double *a = t->at[t->corners[i][(c + 1) % 3]], *b = t->at[t->corners[i][(c + 2) % 3]];
            double e = b[0] - a[0], n = b[1] - a[1], length = hypot(e, n), out = (n * down[0] - e * down[1]) / length;
            uint32_t other = t->neighbours[i][c];
            bool inner = other != MST_NO_OWNER && t->tiles[other].owner == t->tiles[i].owner && is_slope(j, other);
            if (inner || !(out < -0.35)) continue;
            if (!stroke_edge(j, i, c, down, apart, &carry, &number)) return false;
        }
    }
    return true;
}

static double step_over(const mst_tiling *t, uint32_t i, int c) {
    uint32_t n = t->neighbours[i][c];
    double most = 0;
    for (int side = 1; side < 3; side++) {
        int own = (c + side) % 3, k = 0;
        while (k < 3 && t->corners[n][k] != t->corners[i][own]) k++;
        if (k < 3) most = fmax(most, fabs(t->tiles[i].level[MST_FINISH][own] - t->tiles[n].level[MST_FINISH][k]));
    }
    return most;
}

/* Risers within one element, and where banks end on the ground. */
static bool add_edge_strokes(const job *j) {
    const mst_tiling *t = &j->works->tiling;
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; t->tiles[i].part != MST_PART_NONE && c < 3; c++) {
            uint32_t n = t->neighbours[i][c];
            if (n == MST_NO_OWNER) continue;
            bool same = t->tiles[n].part != MST_PART_NONE && t->tiles[n].owner == t->tiles[i].owner;
            bool riser = same && n > i && step_over(t, i, c) > RISER_M;
            bool toe = t->tiles[i].part == MST_PART_BANK && !is_bank(j->input->elements[t->tiles[i].owner].kind) &&
                       t->tiles[n].part == MST_PART_NONE;
            mst_point a = place(j, t->corners[i][(c + 1) % 3]), b = place(j, t->corners[i][(c + 2) % 3]);
            if (riser && !add_stroke(j, a, b, MST_STROKE_RISER)) return false;
            if (toe && !add_stroke(j, a, b, MST_STROKE_TOE)) return false;
        }
    return true;
}

/* ---- words ---- */

static const char *level_text(const job *j, double level) {
    char figure[MST_FIGURE_SIZE];
    mst_write_level(level, j->input->imperial ? 2 : 3, j->input->imperial, figure);
    return mst_arena_string(j->arena, figure);
}

static const char *length_text(const job *j, double length) {
    char figure[MST_FIGURE_SIZE];
    mst_write_length(length, 3, j->input->imperial, figure);
    return mst_arena_string(j->arena, figure);
}

static const char *ratio_text(const job *j, double rise_over_run) {
    char figure[MST_FIGURE_SIZE];
    mst_write_fall(rise_over_run, figure);
    return mst_arena_string(j->arena, figure);
}

static void ends_of(const mst_element *e, double *from, double *to) {
    bool profile = e->profile_count > 0;
    *from = profile ? e->profile[0].level_m : e->from_m;
    *to = profile ? e->profile[e->profile_count - 1].level_m : e->to_m;
}

static const char *along_text(const job *j, const mst_element *e, double length, const char *what) {
    double from, to;
    mst_line_falls f;
    ends_of(e, &from, &to);
    const char *ends = mst_arena_printf(j->arena, "%s %s to %s", what, level_text(j, from), level_text(j, to));
    if (!ends || !mst_line_falls_of(e, length, &f) || !(f.steepest > 0)) return ends;
    if (f.least == f.steepest) return mst_arena_printf(j->arena, "%s, %s", ends, ratio_text(j, f.least));
    return mst_arena_printf(j->arena, "%s, %s to %s", ends, ratio_text(j, f.least), ratio_text(j, f.steepest));
}

static const char *flow_text(const job *j, uint32_t i) { return j->input->flows ? j->input->flows[i] : NULL; }

static const char *bore_text(const job *j, double pipe_m) {
    return j->input->imperial ? mst_arena_printf(j->arena, "%.3g in", pipe_m / (MST_FOOT_M / 12))
                              : mst_arena_printf(j->arena, "%.0f mm", pipe_m * 1000);
}

static bool say(const job *j, uint32_t i, mst_plan_pad *pad) {
    const mst_element *e = &j->input->elements[i];
    double length = j->works->layouts[i].length_m;
    switch (e->kind) {
    case MST_WORK_BANK:
        pad->lines[0] = e->cut_batter == e->fill_batter || !(e->cut_batter > 0)
                            ? mst_arena_printf(j->arena, "bank %s", ratio_text(j, e->fill_batter))
                            : mst_arena_printf(j->arena, "bank cut %s, fill %s", ratio_text(j, e->cut_batter),
                                               ratio_text(j, e->fill_batter));
        break;
    case MST_WORK_PATH:
    case MST_WORK_RAMP:
        pad->lines[0] = along_text(j, e, length, "FL");
        pad->lines[1] = mst_arena_printf(j->arena, "%s wide, formation %s under", length_text(j, e->width_m),
                                         length_text(j, e->build_up_m));
        break;
    case MST_WORK_STEPS:
        pad->lines[0] = mst_arena_printf(j->arena, "%d risers of %s", e->risers,
                                         length_text(j, fabs(e->to_m - e->from_m) / fmax(e->risers, 1)));
        pad->lines[1] = mst_arena_printf(j->arena, "FL %s to %s", level_text(j, e->from_m), level_text(j, e->to_m));
        break;
    case MST_WORK_SWALE:
        pad->lines[0] = along_text(j, e, length, "bottom");
        pad->lines[1] = flow_text(j, i);
        break;
    case MST_WORK_TRENCH:
        pad->lines[0] = along_text(j, e, length, "invert");
        if (e->pipe_m > 0) pad->lines[1] = mst_arena_printf(j->arena, "pipe %s outside", bore_text(j, e->pipe_m));
        pad->lines[pad->lines[1] ? 2 : 1] = flow_text(j, i);
        break;
    case MST_WORK_POND:
        pad->lines[0] = mst_arena_printf(j->arena, "rim %s", level_text(j, e->level_m));
        pad->lines[1] =
            mst_arena_printf(j->arena, "%s deep, sides %s", length_text(j, e->depth_m), ratio_text(j, e->side));
        break;
    case MST_WORK_MOUND:
        pad->lines[0] =
            mst_arena_printf(j->arena, "top %s, sides %s", level_text(j, e->level_m), ratio_text(j, e->fill_batter));
        break;
    case MST_WORK_SURFACE:
        pad->lines[0] = mst_arena_printf(j->arena, "FL %s to %s", level_text(j, j->works->layouts[i].lowest_m),
                                         level_text(j, j->works->layouts[i].highest_m));
        if (e->build_up_m > 0)
            pad->lines[1] = mst_arena_printf(j->arena, "formation %s under", length_text(j, e->build_up_m));
        break;
    case MST_WORK_STRIP:
        pad->lines[0] = mst_arena_printf(j->arena, "topsoil off %s", length_text(j, e->strip_m));
        break;
    default:
        pad->lines[0] = mst_arena_printf(j->arena, "%s thick", length_text(j, e->build_up_m));
    }
    return pad->lines[0] != NULL;
}

/* ---- all ---- */

typedef struct asked {
    const mst_works *works;
    uint32_t element;
    mst_point origin;
} asked;

static bool cut_at(const void *self, mst_point at, double *cut) {
    const asked *a = self;
    mst_works_level l;
    if (!mst_works_level_at(a->works,
                            (mst_point){at.easting_m + a->origin.easting_m, at.northing_m + a->origin.northing_m}, &l))
        return false;
    *cut = l.owner == a->element ? l.stripped_m - l.formation_m : 0;
    return true;
}

static bool add_work(const job *j, uint32_t i) {
    const mst_element *e = &j->input->elements[i];
    if (e->in || e->kind == MST_WORK_WALL) return true; /* a pad; its feature shows a wall */
    mst_shape shape;
    if (!outline_of(j, i, &shape)) return false;
    if (shape.count == 0) return true;
    bool hatched =
        !is_bank(e->kind) && e->kind != MST_WORK_SWALE && e->kind != MST_WORK_POND && e->kind != MST_WORK_STRIP;
    asked *self = mst_arena_alloc(j->arena, sizeof *self);
    mst_plan_pad *pad = self ? MST_PUSH(j->arena, j->plan->pads, j->plan->pad_count, j->plan->pad_capacity) : NULL;
    if (!pad) return false;
    *self = (asked){j->works, i, j->plan->origin};
    *pad = (mst_plan_pad){.name = e->name,
                          .shape = shape,
                          .build_up_m = e->build_up_m,
                          .cut_at = hatched ? cut_at : NULL,
                          .self = self,
                          .light = is_bank(e->kind) || e->kind == MST_WORK_STRIP};
    return say(j, i, pad);
}

mst_status mst_plan_add_works(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, mst_error *error) {
    mst_works *works;
    bool any = false;
    for (size_t i = 0; i < input->element_count; i++) any |= !input->elements[i].in;
    if (!any || !input->ground) return MST_OK;
    mst_status status = mst_works_compose(input->elements, input->element_count, input->site, input->adjustment,
                                          input->ground, arena, &works, error);
    if (status) return status;
    job j = {input, works, plan, arena};
    bool room = add_slope_strokes(&j, STROKE_MM * SCALE / 1000) && add_edge_strokes(&j);
    for (uint32_t i = 0; i < input->element_count && room; i++) room = add_work(&j, i);
    return room ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
}
