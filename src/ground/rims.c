/* The model's edges as rings. At a vertex where two rings touch, the next edge is found by turning through the
 * triangles around it, so that no ring crosses itself. */
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

typedef struct edge {
    uint32_t triangle;
    int corner;
} edge; /* opposite the corner */

static bool is_rim(const mst_ground *g, edge e) { return g->neighbours[e.triangle][e.corner] == MST_NOWHERE; }

/* From an edge's end onward: out of its triangle, and through the neighbours around that vertex, to the next rim. */
static edge next_rim(const mst_ground *g, edge e) {
    edge next = {e.triangle, (e.corner + 1) % 3};
    while (!is_rim(g, next)) {
        uint32_t t = g->neighbours[next.triangle][next.corner];
        int back = 0;
        while (g->neighbours[t][back] != next.triangle) back++;
        next = (edge){t, (back + 1) % 3};
    }
    return next;
}

static uint32_t start_of(const mst_ground *g, edge e) { return g->triangles[e.triangle][(e.corner + 1) % 3]; }

static mst_status take_ring(const mst_ground *g, edge first, bool done[], mst_arena *arena, mst_path *ring) {
    size_t count = 0;
    edge e = first;
    do count++, e = next_rim(g, e);
    while (e.triangle != first.triangle || e.corner != first.corner);
    *ring = (mst_path){mst_arena_array(arena, count, sizeof(mst_path_vertex)), count, true};
    if (!ring->vertices) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++, e = next_rim(g, e)) {
        const mst_ground_point *v = &g->vertices[start_of(g, e)];
        ring->vertices[i] = (mst_path_vertex){v->easting_m, v->northing_m, v->elevation_m, 0};
        done[3 * (size_t)e.triangle + (size_t)e.corner] = true;
    }
    return MST_OK;
}

/* Twice the area of the ring through a rim edge, counted from its first corner. */
static double twice_area(const mst_ground *g, edge first) {
    const mst_ground_point *o = &g->vertices[start_of(g, first)];
    double sum = 0;
    edge e = first;
    do {
        const mst_ground_point *a = &g->vertices[start_of(g, e)];
        e = next_rim(g, e);
        const mst_ground_point *b = &g->vertices[start_of(g, e)];
        sum += (a->easting_m - o->easting_m) * (b->northing_m - o->northing_m) -
               (b->easting_m - o->easting_m) * (a->northing_m - o->northing_m);
    } while (e.triangle != first.triangle || e.corner != first.corner);
    return sum;
}

mst_rim_kind *mst_rim_kinds(const mst_ground *g, mst_arena *arena) {
    mst_rim_kind *kind = mst_arena_array(arena, 3 * g->triangle_count + 1, sizeof *kind);
    for (uint32_t t = 0; kind && t < g->triangle_count; t++)
        for (int c = 0; c < 3; c++) {
            edge first = {t, c}, e = first;
            if (!is_rim(g, first) || kind[3 * (size_t)t + (size_t)c] != MST_RIM_NONE) continue;
            mst_rim_kind k = twice_area(g, first) > 0 ? MST_RIM_OUTER : MST_RIM_HOLE;
            do kind[3 * (size_t)e.triangle + (size_t)e.corner] = k, e = next_rim(g, e);
            while (e.triangle != first.triangle || e.corner != first.corner);
        }
    return kind;
}

/* Outer rings (counter-clockwise, area > 0) first, large ones before small. */
static int by_area(const void *a, const void *b) {
    double x = mst_path_area(a), y = mst_path_area(b);
    return x > y ? -1 : x < y;
}

mst_status mst_ground_rims(const mst_ground *g, mst_arena *arena, mst_path **rims, size_t *count, mst_error *error) {
    bool *done = mst_arena_array(arena, 3 * g->triangle_count + 1, 1);
    mst_path *rings = NULL;
    size_t found = 0, capacity = 0;
    if (!done) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (uint32_t t = 0; t < g->triangle_count; t++)
        for (int c = 0; c < 3; c++) {
            if (!is_rim(g, (edge){t, c}) || done[3 * (size_t)t + (size_t)c]) continue;
            mst_path *ring = MST_PUSH(arena, rings, found, capacity);
            if (!ring || take_ring(g, (edge){t, c}, done, arena, ring))
                return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        }
    qsort(rings, found, sizeof *rings, by_area);
    *rims = rings;
    *count = found;
    return MST_OK;
}
