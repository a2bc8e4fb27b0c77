/* One step on the tiling. First the facets' outlines are cut into it, so that each tile lies under a facet wholly or
 * not at all; then the lines along which one of them, or the surface that is there, becomes the highest (lowest). Both
 * times the triangulation does the cutting, so that the tiles stay a triangulation whatever the facets do. */
#include "ground/model.h"
#include "works/compose.h"
#include <math.h>

static const double OFF_M = 0.005;   /* a bank that ends this near the ground has met it */
static const double LEVEL_M = 1e-9;  /* surfaces nearer than this are one: above rounding, below what volumes show */
static const double LEAST_M2 = 1e-9; /* tiles that are all rounding lead no bank on */
enum { KEEPS = UINT32_MAX };         /* the surface that is there wins */

typedef struct job {
    const mst_work_step *step;
    uint32_t owner;
    mst_tiling *t;
    const mst_layout *walls;
    size_t wall_count;
    mst_works *composed;
    mst_arena *arena;
    mst_error *error;
} job;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static double side(const double a[2], const double b[2], const double p[2]) {
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
}

/* ---- which facets lie over a tile ---- */

static mst_box box_of(const mst_work_facet *f) {
    mst_box b = {HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL};
    for (int i = 0; i < f->count; i++) {
        b.w = fmin(b.w, f->at[i][0]), b.e = fmax(b.e, f->at[i][0]);
        b.s = fmin(b.s, f->at[i][1]), b.n = fmax(b.n, f->at[i][1]);
    }
    return b;
}

static bool holds(const mst_work_facet *f, const double p[2]) {
    for (int i = 0; i < f->count; i++)
        if (side(f->at[i], f->at[(i + 1) % f->count], p) < 0) return false;
    return true;
}

typedef struct hit {
    uint32_t facet, next;
} hit;

typedef struct hits {
    uint32_t *first; /* by tile, into items + 1 */
    hit *items;
    size_t count, capacity;
} hits;

static mst_status find_hits(const job *j, const mst_tiling *t, hits *h) {
    *h = (hits){.first = mst_arena_array(j->arena, t->count + 1, sizeof *h->first)};
    if (!h->first) return no_memory(j->error);
    for (size_t i = j->step->facets.count; i-- > 0;) {
        const mst_work_facet *f = &j->step->facets.items[i];
        mst_boxtree_walk walk = mst_boxtree_window(&t->tree, box_of(f));
        uint32_t tile;
        while (mst_boxtree_next(&walk, &tile)) {
            double middle[2];
            mst_tile_middle(t, tile, middle);
            if (!holds(f, middle)) continue;
            hit *to = MST_PUSH(j->arena, h->items, h->count, h->capacity);
            if (!to) return no_memory(j->error);
            *to = (hit){(uint32_t)i, h->first[tile]};
            h->first[tile] = (uint32_t)h->count;
        }
    }
    return MST_OK;
}

/* Leaves no facet over tiles where the step has no say. */
static void keep_to_its_place(const job *j, const mst_tiling *t, hits *h) {
    const mst_facet_list *l = &j->step->facets;
    for (size_t i = 0; i < t->count; i++) {
        bool masked = false, any = false;
        for (uint32_t k = h->first[i]; k; k = h->items[k - 1].next) {
            bool mask = l->items[h->items[k - 1].facet].mask;
            masked |= mask, any |= !mask;
        }
        if (!any || (masked && j->step->where == MST_OUTSIDE) || (!masked && j->step->where == MST_INSIDE))
            h->first[i] = 0;
    }
}

static mst_status cut_outlines(const job *j, mst_tiling *out) {
    mst_sketch s;
    mst_sketch_begin(&s, (const double(*)[2])j->t->at, j->t->place_count, j->arena);
    mst_tiling_draw_edges(j->t, NULL, &s);
    for (size_t i = 0; i < j->step->facets.count; i++) {
        const mst_work_facet *f = &j->step->facets.items[i];
        for (int k = 0; k < f->count; k++)
            mst_sketch_line(&s, mst_sketch_place(&s, f->at[k]), mst_sketch_place(&s, f->at[(k + 1) % f->count]));
    }
    return mst_tiling_cut(j->t, &s, j->arena, out, j->error);
}

/* ---- the highest of several planes over a tile ---- */

enum { POLYGON_MOST = 64 };
/* A convex part of a tile; edge[i] is the tile's edge from corner i on, or -1. height: of the surface there. */
typedef struct part {
    double at[POLYGON_MOST][2], there[POLYGON_MOST];
    int edge[POLYGON_MOST], count;
} part;

static double sign_of(const job *j) { return j->step->kind == MST_STEP_LOWER ? -1 : 1; }
static int compared(const job *j) { return j->step->formation_only ? MST_FORMATION : MST_FINISH; }

/* How much plane f is above plane g (KEEPS: the surface that is there), in the step's sense. */
static double above(const job *j, uint32_t f, uint32_t g, const double at[2], double there) {
    const mst_work_facet *l = j->step->facets.items;
    double zf = mst_work_level(&l[f].plane, at), zg = g == KEEPS ? there : mst_work_level(&l[g].plane, at);
    return sign_of(j) * (zf - zg);
}

static void put(part *p, const double at[2], double there, int edge) {
    if (p->count == POLYGON_MOST) return;
    p->at[p->count][0] = at[0], p->at[p->count][1] = at[1];
    p->there[p->count] = there;
    p->edge[p->count++] = edge;
}

/* Where f is above g. Cut from the lower numbered place of a tile's edge on, so that both its tiles find one point. */
static void clip(const job *j, part *p, uint32_t f, uint32_t g) {
    part out = {.count = 0};
    double d[POLYGON_MOST];
    for (int i = 0; i < p->count; i++) {
        d[i] = above(j, f, g, p->at[i], p->there[i]);
        if (fabs(d[i]) <= LEVEL_M) d[i] = 0;
    }
    for (int i = 0; i < p->count; i++) {
        int k = (i + 1) % p->count;
        if (d[i] >= 0) put(&out, p->at[i], p->there[i], d[i] == 0 && d[k] < 0 ? -1 : p->edge[i]);
        if (!((d[i] > 0 && d[k] < 0) || (d[i] < 0 && d[k] > 0))) continue;
        double t = d[i] / (d[i] - d[k]);
        double at[2] = {p->at[i][0] + t * (p->at[k][0] - p->at[i][0]), p->at[i][1] + t * (p->at[k][1] - p->at[i][1])};
        put(&out, at, p->there[i] + t * (p->there[k] - p->there[i]), d[i] > 0 ? -1 : p->edge[i]);
    }
    *p = out;
}

typedef struct chords {
    mst_sketch sketch;
    mst_edge_points points;
} chords;

/* A corner of a part: on a tile's edge, at a tile's corner, or free. */
static uint32_t corner_place(const job *j, const mst_tiling *t, uint32_t tile, const part *p, int i, chords *c) {
    const double *at = p->at[i];
    for (int k = 0; k < 3; k++) {
        const double *v = t->at[t->corners[tile][k]];
        if (v[0] == at[0] && v[1] == at[1]) return t->corners[tile][k];
    }
    uint32_t place = mst_sketch_place(&c->sketch, at);
    int before = p->edge[(i + p->count - 1) % p->count], after = p->edge[i], edge = before >= 0 ? before : after;
    if (edge < 0) return place;
    int opposite = (edge + 2) % 3; /* edge k runs from corner k to k + 1 */
    uint32_t ends[2];
    mst_tile_edge(t, tile, opposite, ends);
    if (place == ends[0] || place == ends[1]) return place;
    const double *a = c->sketch.at[ends[0]], *b = c->sketch.at[ends[1]], *q = c->sketch.at[place];
    double along =
        fabs(b[0] - a[0]) > fabs(b[1] - a[1]) ? (q[0] - a[0]) / (b[0] - a[0]) : (q[1] - a[1]) / (b[1] - a[1]);
    mst_edge_point *to = MST_PUSH(j->arena, c->points.items, c->points.count, c->points.capacity);
    if (!to) return c->sketch.failed = true, place;
    *to = (mst_edge_point){along, place, c->points.first[3 * tile + opposite]};
    c->points.first[3 * tile + opposite] = (uint32_t)c->points.count;
    return place;
}

static void draw_chords(const job *j, const mst_tiling *t, uint32_t tile, const hits *h, chords *c) {
    const mst_work_facet *l = j->step->facets.items;
    for (uint32_t a = h->first[tile]; a; a = h->items[a - 1].next) {
        uint32_t f = h->items[a - 1].facet;
        if (l[f].mask) continue;
        part p = {.count = 0};
        for (int k = 0; k < 3; k++) put(&p, t->at[t->corners[tile][k]], t->tiles[tile].level[compared(j)][k], k);
        clip(j, &p, f, KEEPS);
        for (uint32_t b = h->first[tile]; b && p.count >= 3; b = h->items[b - 1].next)
            if (b != a && !l[h->items[b - 1].facet].mask) clip(j, &p, f, h->items[b - 1].facet);
        if (p.count < 3) continue;
        uint32_t place[POLYGON_MOST];
        for (int i = 0; i < p.count; i++) place[i] = corner_place(j, t, tile, &p, i, c);
        for (int i = 0; i < p.count; i++)
            if (p.edge[i] < 0) mst_sketch_line(&c->sketch, place[i], place[(i + 1) % p.count]);
    }
}

static mst_status cut_chords(const job *j, const mst_tiling *t, const hits *h, mst_tiling *out) {
    chords c = {.points.first = mst_arena_array(j->arena, 3 * t->count + 1, sizeof(uint32_t))};
    if (!c.points.first) return no_memory(j->error);
    mst_sketch_begin(&c.sketch, (const double(*)[2])t->at, t->place_count, j->arena);
    for (uint32_t i = 0; i < t->count; i++)
        if (h->first[i]) draw_chords(j, t, i, h, &c);
    mst_tiling_draw_edges(t, &c.points, &c.sketch);
    return mst_tiling_cut(t, &c.sketch, j->arena, out, j->error);
}

/* ---- who wins a tile ---- */

static double mean(const double z[3]) { return z[0] + ((z[1] - z[0]) + (z[2] - z[0])) / 3; }

static uint32_t winner(const job *j, const mst_tiling *t, uint32_t tile, const hits *h) {
    const mst_work_facet *l = j->step->facets.items;
    bool plain = j->step->kind != MST_STEP_RAISE && j->step->kind != MST_STEP_LOWER;
    double middle[2], there = mean(t->tiles[tile].level[compared(j)]);
    uint32_t best = KEEPS;
    mst_tile_middle(t, tile, middle);
    for (uint32_t k = h->first[t->parent[tile]]; k; k = h->items[k - 1].next) {
        uint32_t f = h->items[k - 1].facet;
        if (l[f].mask) continue;
        if (plain) return f;
        if (above(j, f, best, middle, there) > (best == KEEPS ? LEVEL_M : 0)) best = f;
    }
    return best;
}

static void set_tile(const job *j, mst_tiling *t, uint32_t i, uint32_t won) {
    const mst_work_step *s = j->step;
    mst_tile *tile = &t->tiles[i];
    const mst_element *e = j->composed->layouts[j->owner].element;
    if (e->strip_given) tile->strip_m = e->strip_m;
    if (s->kind == MST_STEP_STRIP && tile->part != MST_PART_NONE) return;
    tile->owner = j->owner;
    tile->part = s->part;
    for (int c = 0; c < 3; c++) {
        double *finish = &tile->level[MST_FINISH][c], *formation = &tile->level[MST_FORMATION][c];
        const double existing = tile->level[MST_EXISTING][c];
        switch (s->kind) {
        case MST_STEP_SINK:
            *formation = existing - s->sink_m;
            *finish = *formation + e->build_up_m;
            break;
        case MST_STEP_STRIP:
            *finish = *formation = existing - e->strip_m;
            break;
        case MST_STEP_BUILD:
            *formation = *finish - s->sink_m;
            break;
        default: {
            double z = mst_work_level(&s->facets.items[won].plane, t->at[t->corners[i][c]]);
            if (s->formation_only) *formation = z;
            else *finish = z, *formation = z - s->sink_m;
        }
        }
    }
}

/* ---- banks hang together ---- */

static bool walled(const job *j, const mst_tiling *t, uint32_t tile, int c) {
    for (size_t w = 0; w < j->wall_count; w++)
        for (size_t i = 0; i + 1 < j->walls[w].wall_count; i++)
            if (mst_tile_edge_on(t, tile, c, j->walls[w].wall[i], j->walls[w].wall[i + 1])) return true;
    return false;
}

static bool rooted(const job *j, const mst_tiling *t, uint32_t tile, uint32_t won) {
    const mst_work_facet *f = &j->step->facets.items[won];
    if (f->seed) return true;
    for (int c = 0; f->rooted && c < 3; c++)
        if (mst_tile_edge_on(t, tile, c, f->root[0], f->root[1])) return true;
    return false;
}

/* Takes the win from tiles that no chain of tiles joins to a root. */
static mst_status drop_islands(const job *j, const mst_tiling *t, uint32_t won[]) {
    uint32_t *stack = mst_arena_array(j->arena, t->count + 1, sizeof *stack);
    bool *reached = mst_arena_array(j->arena, t->count + 1, 1);
    size_t count = 0;
    if (!stack || !reached) return no_memory(j->error);
    for (uint32_t i = 0; i < t->count; i++)
        if (won[i] != KEEPS && rooted(j, t, i, won[i])) reached[i] = true, stack[count++] = i;
    while (count) {
        uint32_t tile = stack[--count];
        for (int c = 0; c < 3; c++) {
            uint32_t n = t->neighbours[tile][c];
            if (n == MST_NOWHERE || reached[n] || won[n] == KEEPS || mst_tile_area(t, n) < LEAST_M2 * LEAST_M2)
                continue;
            if (walled(j, t, tile, c)) continue;
            reached[n] = true;
            stack[count++] = n;
        }
    }
    for (size_t i = 0; i < t->count; i++)
        if (!reached[i]) won[i] = KEEPS;
    return MST_OK;
}

/* ---- what did not meet the ground ---- */

static mst_status note_gap(const job *j, mst_work_gap gap) {
    mst_works *c = j->composed;
    if (!(gap.length_m > 0)) return MST_OK;
    mst_work_gap *to = MST_PUSH(j->arena, c->gaps, c->gap_count, c->gap_capacity);
    if (!to) return no_memory(j->error);
    *to = gap;
    return MST_OK;
}

/* Edges of the survey's rim at which a bank is still off the surface that was there. */
static mst_status note_rim(const job *j, const mst_tiling *t, const uint32_t won[]) {
    mst_work_gap gap = {.element = j->owner};
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; won[i] != KEEPS && c < 3; c++) {
            if (t->neighbours[i][c] != MST_NOWHERE) continue;
            const double *a = t->at[t->corners[i][(c + 1) % 3]], *b = t->at[t->corners[i][(c + 2) % 3]];
            const double *there = t->tiles[i].level[compared(j)];
            double off[2] = {fabs(above(j, won[i], KEEPS, a, there[(c + 1) % 3])),
                             fabs(above(j, won[i], KEEPS, b, there[(c + 2) % 3]))};
            if (fmax(off[0], off[1]) <= OFF_M) continue;
            gap.length_m += hypot(b[0] - a[0], b[1] - a[1]);
            for (int k = 0; k < 2; k++)
                if (off[k] > gap.off_m) {
                    const double *p = k ? b : a;
                    gap.off_m = off[k];
                    gap.at = (mst_point){p[0] + t->origin[0], p[1] + t->origin[1]};
                }
        }
    return note_gap(j, gap);
}

/* Where the bottom of a ditch is above the surface. The length is in square metres' stead: bottom area. */
static mst_status note_proud(const job *j, const mst_tiling *t, const uint32_t won[], const hits *h) {
    mst_work_gap gap = {.element = j->owner, .ditch = true};
    for (uint32_t i = 0; i < t->count; i++) {
        double middle[2], there = mean(t->tiles[i].level[compared(j)]);
        mst_tile_middle(t, i, middle);
        for (uint32_t k = h->first[t->parent[i]]; won[i] == KEEPS && k; k = h->items[k - 1].next) {
            const mst_work_facet *f = &j->step->facets.items[h->items[k - 1].facet];
            double off = mst_work_level(&f->plane, middle) - there;
            if (!f->seed || off <= OFF_M) continue;
            gap.length_m += mst_tile_area(t, i);
            if (off > gap.off_m) {
                gap.off_m = off;
                gap.at = (mst_point){middle[0] + t->origin[0], middle[1] + t->origin[1]};
            }
            break;
        }
    }
    return note_gap(j, gap);
}

/* ---- the step ---- */

mst_status mst_apply_step(mst_tiling *tiling, const mst_work_step *step, uint32_t owner, const mst_layout walls[],
                          size_t wall_count, mst_works *composed, mst_arena *arena, mst_error *error) {
    job j = {.step = step,
             .owner = owner,
             .t = tiling,
             .walls = walls,
             .wall_count = wall_count,
             .composed = composed,
             .arena = arena,
             .error = error};
    bool envelope = step->kind == MST_STEP_RAISE || step->kind == MST_STEP_LOWER;
    mst_tiling outlined, cut;
    hits h;
    mst_status status = cut_outlines(&j, &outlined);
    if (!status) status = find_hits(&j, &outlined, &h);
    if (status) return status;
    keep_to_its_place(&j, &outlined, &h);
    if (envelope) status = cut_chords(&j, &outlined, &h, &cut);
    else {
        cut = outlined;
        for (uint32_t i = 0; i < cut.count; i++) cut.parent[i] = i;
    }
    uint32_t *won = status ? NULL : mst_arena_array(arena, cut.count + 1, sizeof *won);
    if (status || !won) return status ? status : no_memory(error);
    for (uint32_t i = 0; i < cut.count; i++) won[i] = winner(&j, &cut, i, &h);
    if (step->connected) status = drop_islands(&j, &cut, won);
    if (!status && envelope && step->part == MST_PART_BANK) status = note_rim(&j, &cut, won);
    if (!status && step->kind == MST_STEP_LOWER && step->part == MST_PART_BASE) status = note_proud(&j, &cut, won, &h);
    for (uint32_t i = 0; i < cut.count && !status; i++) {
        if (won[i] == KEEPS) continue;
        if (!envelope) composed->base_m2[owner] += mst_tile_area(&cut, i);
        set_tile(&j, &cut, i, won[i]);
    }
    if (!status) *tiling = cut;
    return status;
}
