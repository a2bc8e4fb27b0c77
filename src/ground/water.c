/* The flood: from the outer rim the lowest place reached so far goes on first, so that each vertex gets the lowest
 * level over which its water can leave. Vertices below that level are wet; wet neighbours stand at one level. */
#include "ground/water.h"
#include "geometry/sum.h"
#include "ground/convex.h"
#include "ground/spread.h"
#include <math.h>
#include <stdlib.h>

/* ---- the queue: a heap of vertices by level ---- */

typedef struct queue {
    const double *level;
    uint32_t *items;
    size_t count;
} queue;

static bool before(const queue *q, uint32_t a, uint32_t b) {
    return q->level[a] != q->level[b] ? q->level[a] < q->level[b] : a < b;
}

static void put(queue *q, uint32_t v) {
    size_t i = q->count++;
    for (; i > 0 && before(q, v, q->items[(i - 1) / 2]); i = (i - 1) / 2) q->items[i] = q->items[(i - 1) / 2];
    q->items[i] = v;
}

static uint32_t take(queue *q) {
    uint32_t top = q->items[0], v = q->items[--q->count];
    size_t i = 0;
    for (size_t child; (child = 2 * i + 1) < q->count; i = child) {
        if (child + 1 < q->count && before(q, q->items[child + 1], q->items[child])) child++;
        if (!before(q, q->items[child], v)) break;
        q->items[i] = q->items[child];
    }
    q->items[i] = v;
    return top;
}

/* ---- the flood ---- */

static mst_status find_neighbours(mst_water *w, mst_arena *arena) {
    const mst_ground *g = w->ground;
    w->start = mst_arena_array(arena, g->vertex_count + 3, sizeof *w->start);
    w->next = mst_arena_array(arena, 6 * g->triangle_count + 1, sizeof *w->next);
    w->at = mst_arena_array(arena, g->vertex_count + 1, sizeof *w->at);
    if (!w->start || !w->next || !w->at) return MST_NO_MEMORY;
    for (int fill = 0; fill < 2; fill++) {
        for (uint32_t t = 0; t < g->triangle_count; t++)
            for (int k = 0; k < 3; k++) {
                uint32_t a = g->triangles[t][(k + 1) % 3], b = g->triangles[t][(k + 2) % 3];
                bool rim = g->neighbours[t][k] == MST_NOWHERE; /* else the other triangle adds b -> a */
                w->at[a] = t;
                if (!fill) w->start[a + 2]++, w->start[b + 2] += rim;
                else {
                    w->next[w->start[a + 1]++] = b;
                    if (rim) w->next[w->start[b + 1]++] = a;
                }
            }
        for (size_t v = 0; !fill && v < g->vertex_count; v++) w->start[v + 2] += w->start[v + 1];
    }
    return MST_OK;
}

static void begin_at_rim(mst_water *w, queue *q) {
    const mst_ground *g = w->ground;
    for (uint32_t t = 0; t < g->triangle_count; t++)
        for (int k = 0; k < 3; k++)
            for (int end = 1; end < 3 && w->rim[3 * (size_t)t + (size_t)k] == MST_RIM_OUTER; end++) {
                uint32_t v = g->triangles[t][(k + end) % 3];
                if (w->onward[v] != MST_NOWHERE) continue;
                w->onward[v] = v;
                w->level_m[v] = g->vertices[v].elevation_m;
                put(q, v);
            }
}

static mst_status flood(mst_water *w, mst_arena *arena) {
    const mst_ground *g = w->ground;
    w->level_m = mst_arena_array(arena, g->vertex_count + 1, sizeof *w->level_m);
    w->onward = mst_arena_array(arena, g->vertex_count + 1, sizeof *w->onward);
    w->spill = mst_arena_array(arena, g->vertex_count + 1, sizeof *w->spill);
    queue q = {w->level_m, mst_arena_array(arena, g->vertex_count + 1, sizeof *q.items), 0};
    if (!w->level_m || !w->onward || !w->spill || !q.items) return MST_NO_MEMORY;
    for (size_t v = 0; v < g->vertex_count; v++) w->onward[v] = w->spill[v] = MST_NOWHERE;
    begin_at_rim(w, &q);
    while (q.count) {
        uint32_t u = take(&q);
        for (uint32_t i = w->start[u]; i < w->start[u + 1]; i++) {
            uint32_t v = w->next[i];
            if (w->onward[v] != MST_NOWHERE) continue;
            w->onward[v] = u;
            w->level_m[v] = fmax(w->level_m[u], g->vertices[v].elevation_m);
            if (mst_is_wet(w, v)) w->spill[v] = mst_is_wet(w, u) ? w->spill[u] : u;
            put(&q, v);
        }
    }
    return MST_OK;
}

/* ---- low spots ---- */

/* What of a triangle lies under a level, and how much water over it. */
static void add_water(const mst_ground *g, uint32_t t, double level, const double origin[2], mst_sum *area,
                      mst_sum *volume) {
    const double *corner[3];
    double d[3], dry_d[MST_CONVEX_MOST], wet_d[MST_CONVEX_MOST];
    mst_convex dry, wet;
    mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, corner);
    for (int k = 0; k < 3; k++) d[k] = g->vertices[g->triangles[t][k]].elevation_m - level;
    mst_convex whole = mst_convex_triangle(corner, origin);
    mst_convex_split(&whole, d, &dry, dry_d, &wet, wet_d);
    if (wet.count < 3) return;
    mst_part part = mst_convex_part(&wet, wet_d);
    mst_sum_add(area, part.area);
    mst_sum_add(volume, -part.integral);
}

/* The middle's variance between the points, by the wet triangle's area. */
static double between_in(const mst_ground *g, uint32_t t) {
    const mst_ground_point *a = &g->vertices[g->triangles[t][0]], *b = &g->vertices[g->triangles[t][1]],
                           *c = &g->vertices[g->triangles[t][2]];
    return mst_ground_between(
        g, (mst_point){a->easting_m + ((b->easting_m - a->easting_m) + (c->easting_m - a->easting_m)) / 3,
                       a->northing_m + ((b->northing_m - a->northing_m) + (c->northing_m - a->northing_m)) / 3});
}

/* Sums the triangles of each spot; spot_of by vertex. A triangle belongs to the spot of any wet corner: they agree. */
static void measure_spots(mst_water *w, const uint32_t spot_of[], mst_sum area[], mst_sum volume[]) {
    const mst_ground *g = w->ground;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        uint32_t spot = MST_NOWHERE;
        for (int k = 0; k < 3 && spot == MST_NOWHERE; k++) spot = spot_of[g->triangles[t][k]];
        if (spot == MST_NOWHERE) continue;
        mst_low_spot *s = &w->spots[spot];
        const double origin[2] = {s->bottom.easting_m, s->bottom.northing_m};
        double before_area = mst_sum_value(&area[spot]);
        add_water(g, t, s->spill_m, origin, &area[spot], &volume[spot]);
        double part = mst_sum_value(&area[spot]) - before_area, between = part > 0 ? between_in(g, t) : 0;
        s->between_m2 += part > 0 ? part * between : 0;
    }
    for (size_t i = 0; i < w->spot_count; i++) {
        w->spots[i].area_m2 = mst_sum_value(&area[i]);
        w->spots[i].volume_m3 = mst_sum_value(&volume[i]);
        w->spots[i].between_m2 /= w->spots[i].area_m2;
    }
}

static mst_point place_of(const mst_ground *g, uint32_t v) {
    return (mst_point){g->vertices[v].easting_m, g->vertices[v].northing_m};
}

/* The wet vertices that hang together with one, all at one level. */
static bool gather_spot(mst_water *w, uint32_t first, uint32_t spot_of[], uint32_t stack[], mst_arena *arena) {
    const mst_ground *g = w->ground;
    mst_low_spot *s = MST_PUSH(arena, w->spots, w->spot_count, w->spot_capacity);
    if (!s) return false;
    uint32_t bottom = first, number = (uint32_t)w->spot_count - 1;
    size_t depth = 1;
    stack[0] = first;
    spot_of[first] = number;
    while (depth) {
        uint32_t u = stack[--depth];
        double z = g->vertices[u].elevation_m, lowest = g->vertices[bottom].elevation_m;
        if (z < lowest || (z == lowest && u < bottom)) bottom = u;
        for (uint32_t i = w->start[u]; i < w->start[u + 1]; i++) {
            uint32_t v = w->next[i];
            if (spot_of[v] != MST_NOWHERE || !mst_is_wet(w, v)) continue;
            spot_of[v] = number;
            stack[depth++] = v;
        }
    }
    uint32_t spill = w->spill[first];
    *s = (mst_low_spot){.bottom = place_of(g, bottom),
                        .spill = place_of(g, spill),
                        .bottom_m = g->vertices[bottom].elevation_m,
                        .spill_m = w->level_m[first],
                        .depth_m = w->level_m[first] - g->vertices[bottom].elevation_m,
                        .bottom_vertex = bottom,
                        .spill_vertex = spill};
    return true;
}

static int by_depth(const void *a, const void *b) {
    const mst_low_spot *x = a, *y = b;
    if (x->depth_m != y->depth_m) return x->depth_m > y->depth_m ? -1 : 1;
    return x->bottom_vertex < y->bottom_vertex ? -1 : 1;
}

static mst_status find_spots(mst_water *w, mst_arena *arena, mst_arena *scratch) {
    const mst_ground *g = w->ground;
    uint32_t *spot_of = mst_arena_array(scratch, g->vertex_count + 1, sizeof *spot_of);
    uint32_t *stack = mst_arena_array(scratch, g->vertex_count + 1, sizeof *stack);
    if (!spot_of || !stack) return MST_NO_MEMORY;
    for (size_t v = 0; v < g->vertex_count; v++) spot_of[v] = MST_NOWHERE;
    for (uint32_t v = 0; v < g->vertex_count; v++)
        if (spot_of[v] == MST_NOWHERE && w->onward[v] != MST_NOWHERE && mst_is_wet(w, v) &&
            !gather_spot(w, v, spot_of, stack, arena))
            return MST_NO_MEMORY;
    mst_sum *area = mst_arena_array(scratch, w->spot_count + 1, sizeof *area);
    mst_sum *volume = mst_arena_array(scratch, w->spot_count + 1, sizeof *volume);
    if (!area || !volume) return MST_NO_MEMORY;
    measure_spots(w, spot_of, area, volume);
    if (w->spot_count) qsort(w->spots, w->spot_count, sizeof *w->spots, by_depth);
    return MST_OK;
}

mst_status mst_water_build(const mst_ground *ground, mst_arena *arena, mst_water **water, mst_error *error) {
    mst_water *w = mst_arena_alloc(arena, sizeof *w);
    mst_arena *scratch = mst_arena_new();
    bool room = w && scratch;
    if (room) *w = (mst_water){.ground = ground, .rim = mst_rim_kinds(ground, arena)};
    room = room && w->rim && !find_neighbours(w, arena) && !flood(w, arena) && !find_spots(w, arena, scratch);
    mst_arena_free(scratch);
    if (!room) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *water = w;
    return MST_OK;
}

const mst_low_spot *mst_water_low_spots(const mst_water *water, size_t *count) {
    *count = water->spot_count;
    return water->spots;
}

double mst_water_level(const mst_water *water, uint32_t vertex) { return water->level_m[vertex]; }
