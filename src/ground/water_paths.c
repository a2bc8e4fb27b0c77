/* The way of a drop: across a triangle down its plane; where two planes lean towards their common edge, along it; from
 * a vertex into the steepest plane or down the steepest edge. Where nothing leads down (a low spot, a flat) it follows
 * the flood's lowest way out until it is lower again. A wall (the rim of a hole) turns it along itself. */
#include "ground/water.h"
#include <math.h>
#include <stdlib.h>

enum { STEPS_MOST = 100 }; /* times the vertices: a drop that goes on longer is lost to rounding */

/* Where a drop is: at a vertex, or at a place in a triangle (perhaps on an edge of it). */
typedef struct drop {
    const mst_water *water;
    uint32_t vertex; /* MST_NOWHERE: in the triangle */
    uint32_t triangle;
    double at[2];
    bool gone; /* over the outer rim */
} drop;

/* Told of each place on the way and of each wall that the drop runs against. */
typedef struct way {
    mst_arena *arena; /* NULL: places are not kept */
    mst_path_vertex *places;
    size_t count, capacity;
    double *wall_m2, area_m2; /* NULL: walls are not counted */
    bool failed;
} way;

static void note_place(way *w, const double at[2], double level) {
    if (!w->arena) return;
    mst_path_vertex *last = w->count ? &w->places[w->count - 1] : NULL;
    if (last && last->easting_m == at[0] && last->northing_m == at[1]) return;
    mst_path_vertex *p = MST_PUSH(w->arena, w->places, w->count, w->capacity);
    if (p) *p = (mst_path_vertex){at[0], at[1], level, 0};
    else w->failed = true;
}

static void note_wall(way *w, const drop *d, uint32_t t, int edge) {
    if (w->wall_m2 && d->water->rim[3 * (size_t)t + (size_t)edge] == MST_RIM_HOLE)
        w->wall_m2[3 * (size_t)t + (size_t)edge] += w->area_m2;
}

static const double *place(const mst_ground *g, uint32_t v) { return (const double *)(const void *)&g->vertices[v]; }

static void descent(const mst_ground *g, uint32_t t, double d[2]) {
    const mst_ground_point *a = &g->vertices[g->triangles[t][0]], *b = &g->vertices[g->triangles[t][1]],
                           *c = &g->vertices[g->triangles[t][2]];
    double be = b->easting_m - a->easting_m, bn = b->northing_m - a->northing_m, bz = b->elevation_m - a->elevation_m;
    double ce = c->easting_m - a->easting_m, cn = c->northing_m - a->northing_m, cz = c->elevation_m - a->elevation_m;
    double twice =
        mst_orient2d(place(g, g->triangles[t][0]), place(g, g->triangles[t][1]), place(g, g->triangles[t][2]));
    d[0] = -(bz * cn - cz * bn) / twice;
    d[1] = -(cz * be - bz * ce) / twice;
}

static double level_in(const mst_ground *g, uint32_t t, const double at[2]) {
    const mst_ground_point *a = &g->vertices[g->triangles[t][0]];
    double d[2];
    descent(g, t, d);
    return a->elevation_m - d[0] * (at[0] - a->easting_m) - d[1] * (at[1] - a->northing_m);
}

/* Does direction d lead out of triangle t over the edge opposite corner k? > 0: by how much. */
static double outward(const mst_ground *g, uint32_t t, int k, const double d[2]) {
    const double *p = place(g, g->triangles[t][(k + 1) % 3]), *q = place(g, g->triangles[t][(k + 2) % 3]);
    return d[0] * (q[1] - p[1]) - d[1] * (q[0] - p[0]);
}

static void go_to_vertex(drop *d, uint32_t v) {
    d->vertex = v;
    d->at[0] = place(d->water->ground, v)[0], d->at[1] = place(d->water->ground, v)[1];
}

/* At a place on the edge opposite corner k of t, which t's plane leads over: into the neighbour, along, or off. */
static void cross_edge(drop *d, uint32_t t, int k, way *w) {
    const mst_ground *g = d->water->ground;
    uint32_t next = g->neighbours[t][k], a = g->triangles[t][(k + 1) % 3], b = g->triangles[t][(k + 2) % 3];
    if (next == MST_NOWHERE && d->water->rim[3 * (size_t)t + (size_t)k] == MST_RIM_OUTER) {
        d->gone = true;
        return;
    }
    note_wall(w, d, t, k);
    if (next != MST_NOWHERE) {
        double down[2];
        int back = 0;
        while (g->neighbours[next][back] != t) back++;
        descent(g, next, down);
        if (outward(g, next, back, down) < 0) {
            d->triangle = next;
            d->vertex = MST_NOWHERE;
            return;
        }
    }
    go_to_vertex(d, g->vertices[a].elevation_m <= g->vertices[b].elevation_m ? a : b);
}

/* Across the triangle down its plane. @return false on a flat */
static bool cross_triangle(drop *d, way *w) {
    const mst_ground *g = d->water->ground;
    uint32_t t = d->triangle;
    double down[2], nearest = HUGE_VAL;
    int out = -1;
    descent(g, t, down);
    for (int k = 0; k < 3; k++) {
        double rate = outward(g, t, k, down);
        const double *p = place(g, g->triangles[t][(k + 1) % 3]);
        if (!(rate > 0)) continue;
        const double rest[2] = {p[0] - d->at[0], p[1] - d->at[1]};
        double reach = fmax(outward(g, t, k, rest), 0) / rate;
        if (reach < nearest) nearest = reach, out = k;
    }
    if (out < 0) return false;
    d->at[0] += nearest * down[0], d->at[1] += nearest * down[1];
    note_place(w, d->at, level_in(g, t, d->at));
    cross_edge(d, t, out, w);
    return true;
}

/* Does the plane of t lead from its corner k into it? */
static bool leads_inside(const mst_ground *g, uint32_t t, int k, const double down[2]) {
    return outward(g, t, (k + 1) % 3, down) < 0 && outward(g, t, (k + 2) % 3, down) < 0;
}

/* The next triangle counter-clockwise around a corner; the way back to the first rim when one is met. */
static uint32_t turn(const mst_ground *g, uint32_t t, uint32_t v, bool left) {
    int k = 0;
    while (g->triangles[t][k] != v) k++;
    return g->neighbours[t][(k + (left ? 1 : 2)) % 3];
}

/* From a vertex inside the outer rim the steepest way down. @return false where none is */
static bool leave_vertex(drop *d) {
    const mst_ground *g = d->water->ground;
    const mst_water *w = d->water;
    uint32_t v = d->vertex, best = MST_NOWHERE, first = w->at[v], t = first;
    double steepest = 0, z = g->vertices[v].elevation_m;
    bool along = false;
    for (uint32_t i = w->start[v]; i < w->start[v + 1]; i++) {
        const mst_ground_point *q = &g->vertices[w->next[i]];
        double slope = (z - q->elevation_m) / hypot(q->easting_m - d->at[0], q->northing_m - d->at[1]);
        if (slope > steepest) steepest = slope, best = w->next[i], along = true;
    }
    for (bool left = true;;) { /* round the vertex; from a rim on the other way round from the start */
        int k = 0;
        double down[2];
        while (g->triangles[t][k] != v) k++;
        descent(g, t, down);
        if (hypot(down[0], down[1]) > steepest && leads_inside(g, t, k, down))
            steepest = hypot(down[0], down[1]), best = t, along = false;
        t = turn(g, t, v, left);
        if (t == first) break;
        if (t == MST_NOWHERE && !left) break;
        if (t == MST_NOWHERE) left = false, t = turn(g, first, v, false);
        if (t == MST_NOWHERE) break;
    }
    if (best == MST_NOWHERE) return false;
    if (along) go_to_vertex(d, best);
    else d->vertex = MST_NOWHERE, d->triangle = best;
    return true;
}

/* Out of a low spot or over a flat: the flood's way until its level falls, for from there nothing leads back. */
static void spill_over(drop *d, way *w) {
    const mst_water *water = d->water;
    uint32_t v = d->vertex;
    double level = water->level_m[v];
    while (water->onward[v] != v && water->level_m[v] >= level) {
        v = water->onward[v];
        note_place(w, place(water->ground, v), water->level_m[v]);
    }
    go_to_vertex(d, v);
}

static bool on_outer_rim(const mst_water *w, uint32_t v) { return w->onward[v] == v; }

static void run(drop *d, way *w) {
    const mst_ground *g = d->water->ground;
    size_t most = STEPS_MOST * (g->vertex_count + 10);
    note_place(w, d->at, level_in(g, d->triangle, d->at));
    for (size_t step = 0; step < most && !d->gone && !w->failed; step++) {
        if (d->vertex == MST_NOWHERE) {
            if (!cross_triangle(d, w)) { /* flat: to its corner from which the way out is known */
                const uint32_t *c = g->triangles[d->triangle];
                uint32_t v = c[0];
                for (int k = 1; k < 3; k++)
                    if (d->water->level_m[c[k]] < d->water->level_m[v]) v = c[k];
                go_to_vertex(d, v);
            }
        } else if (on_outer_rim(d->water, d->vertex)) d->gone = true;
        else if (!leave_vertex(d)) spill_over(d, w);
        double level = d->vertex == MST_NOWHERE ? level_in(g, d->triangle, d->at) : g->vertices[d->vertex].elevation_m;
        note_place(w, d->at, level);
    }
}

mst_status mst_water_path(const mst_water *water, mst_point from, mst_arena *arena, mst_path *path, mst_error *error) {
    const mst_ground *g = water->ground;
    const double at[2] = {from.easting_m, from.northing_m};
    uint32_t t = MST_NOWHERE;
    if (isfinite(at[0]) && isfinite(at[1]))
        t = mst_triangle_at(&g->tree, (const uint32_t(*)[3])g->triangles, g->vertices, sizeof *g->vertices, at);
    if (t == MST_NOWHERE)
        return mst_fail(error, MST_NO, "%.3f E, %.3f N lies outside the ground model.", from.easting_m,
                        from.northing_m);
    drop d = {water, MST_NOWHERE, t, {at[0], at[1]}, false};
    way w = {.arena = arena};
    run(&d, &w);
    if (w.failed) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *path = (mst_path){w.places, w.count, false};
    return MST_OK;
}

/* ---- catchments ---- */

typedef struct leaving {
    double at[2], level, area;
    uint32_t group;
} leaving;

static int by_easting(const void *a, const void *b) {
    const leaving *x = a, *y = b;
    for (int k = 0; k < 2; k++)
        if (x->at[k] != y->at[k]) return x->at[k] < y->at[k] ? -1 : 1;
    return 0;
}
static int by_catchment(const void *a, const void *b) {
    const mst_outfall *x = a, *y = b;
    if (x->catchment_m2 != y->catchment_m2) return x->catchment_m2 > y->catchment_m2 ? -1 : 1;
    if (x->at.easting_m != y->at.easting_m) return x->at.easting_m < y->at.easting_m ? -1 : 1;
    return x->at.northing_m < y->at.northing_m ? -1 : x->at.northing_m > y->at.northing_m;
}

static uint32_t root_of(leaving list[], uint32_t i) {
    while (list[i].group != i) i = list[i].group = list[list[i].group].group;
    return i;
}

/* Places near each other become one group (union of sets), swept by easting. */
static void group(leaving list[], size_t count, double apart) {
    for (uint32_t i = 0; i < count; i++) list[i].group = i;
    for (uint32_t i = 0; i < count; i++)
        for (uint32_t j = i; j-- > 0 && list[i].at[0] - list[j].at[0] <= apart;)
            if (hypot(list[i].at[0] - list[j].at[0], list[i].at[1] - list[j].at[1]) <= apart) {
                uint32_t a = root_of(list, i), b = root_of(list, j);
                if (a != b) list[a < b ? b : a].group = a < b ? a : b;
            }
}

/* A group lies where the most of its water leaves. */
static size_t merge(leaving list[], size_t count, mst_outfall out[], double most[]) {
    size_t groups = 0;
    for (uint32_t i = 0; i < count; i++) most[i] = 0;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t root = root_of(list, i);
        if (root == i) groups++;
        out[root].catchment_m2 += list[i].area;
        if (list[i].area <= most[root]) continue;
        most[root] = list[i].area;
        out[root].at = (mst_point){list[i].at[0], list[i].at[1]};
        out[root].elevation_m = list[i].level;
    }
    qsort(out, count, sizeof *out, by_catchment);
    return groups;
}

static size_t leave_all(const mst_water *water, leaving list[], double wall_m2[]) {
    const mst_ground *g = water->ground;
    size_t count = 0;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        const double *c[3];
        mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, c);
        drop d = {water, MST_NOWHERE, t, {0, 0}, false};
        for (int x = 0; x < 2; x++) d.at[x] = c[0][x] + ((c[1][x] - c[0][x]) + (c[2][x] - c[0][x])) / 3;
        way w = {.wall_m2 = wall_m2, .area_m2 = mst_orient2d(c[0], c[1], c[2]) / 2};
        run(&d, &w);
        if (!d.gone) continue;
        double level = d.vertex == MST_NOWHERE ? level_in(g, d.triangle, d.at) : g->vertices[d.vertex].elevation_m;
        list[count++] = (leaving){{d.at[0], d.at[1]}, level, w.area_m2, 0};
    }
    qsort(list, count, sizeof *list, by_easting);
    size_t kept = 0; /* the same place once */
    for (size_t i = 0; i < count; i++)
        if (kept && by_easting(&list[kept - 1], &list[i]) == 0) list[kept - 1].area += list[i].area;
        else list[kept++] = list[i];
    return kept;
}

mst_status mst_water_outfalls(const mst_water *water, double apart_m, mst_arena *arena, mst_outfall **outfalls,
                              size_t *count, double wall_m2[], mst_error *error) {
    size_t all = water->ground->triangle_count;
    leaving *list = mst_arena_array(arena, all + 1, sizeof *list);
    mst_outfall *out = mst_arena_array(arena, all + 1, sizeof *out);
    double *most = mst_arena_array(arena, all + 1, sizeof *most);
    if (!list || !out || !most) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    size_t places = leave_all(water, list, wall_m2);
    group(list, places, apart_m);
    *count = merge(list, places, out, most);
    *outfalls = out;
    return MST_OK;
}
