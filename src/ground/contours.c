/* Contours, exact on the triangles. A contour is the edge of the ground at or above its level: a vertex at the level
 * counts as above, so there are no special cases at saddles and flats, and contours of different levels never meet.
 * Walking with the higher ground on the left, each triangle is entered over one edge and left over another. */
#include "ground/model.h"
#include <math.h>

enum { MOST_LEVELS = 10000, INDEX_EVERY = 5 };

typedef struct tracer {
    const mst_ground *ground;
    mst_arena *arena;
    double level;
    uint32_t mark, *marked; /* by triangle: the last level that passed it */
    double (*points)[2];
    size_t count, capacity;
    mst_contour *contours;
    size_t contour_count, contour_capacity;
} tracer;

typedef struct levels {
    double interval;
    int64_t first, count;
} levels;

static bool above(const tracer *t, uint32_t vertex) { return t->ground->vertices[vertex].elevation_m >= t->level; }

/* The edge (opposite a corner) that the contour takes out of the triangle, or in; -1 when none. */
static int edge_way(const tracer *t, uint32_t triangle, bool out) {
    const uint32_t *v = t->ground->triangles[triangle];
    for (int c = 0; c < 3; c++)
        if (above(t, v[(c + 1) % 3]) != above(t, v[(c + 2) % 3]) && above(t, v[(c + 2) % 3]) == out) return c;
    return -1;
}

/* Always reckoned from the lower end, so that both triangles of an edge get the same place. */
static bool add_crossing(tracer *t, uint32_t triangle, int corner) {
    const uint32_t *v = t->ground->triangles[triangle];
    uint32_t a = v[(corner + 1) % 3], b = v[(corner + 2) % 3];
    const mst_ground_point *low = &t->ground->vertices[above(t, a) ? b : a],
                           *high = &t->ground->vertices[above(t, a) ? a : b];
    double along = (t->level - low->elevation_m) / (high->elevation_m - low->elevation_m);
    double e = low->easting_m + along * (high->easting_m - low->easting_m);
    double n = low->northing_m + along * (high->northing_m - low->northing_m);
    if (high->elevation_m == t->level) e = high->easting_m, n = high->northing_m;
    if (t->count && t->points[t->count - 1][0] == e && t->points[t->count - 1][1] == n) return true;
    double(*p)[2] = MST_PUSH(t->arena, t->points, t->count, t->capacity);
    if (!p) return false;
    (*p)[0] = e, (*p)[1] = n;
    return true;
}

static bool keep_contour(tracer *t, bool closed, bool index) {
    if (closed && t->count > 1 && t->points[0][0] == t->points[t->count - 1][0] &&
        t->points[0][1] == t->points[t->count - 1][1])
        t->count--;
    if (t->count < 2) return true; /* a summit that just reaches the level */
    double(*points)[2] = mst_arena_array(t->arena, t->count, sizeof *points);
    mst_contour *c = points ? MST_PUSH(t->arena, t->contours, t->contour_count, t->contour_capacity) : NULL;
    if (!c) return false;
    for (size_t i = 0; i < t->count; i++) points[i][0] = t->points[i][0], points[i][1] = t->points[i][1];
    *c = (mst_contour){t->level, closed, index, (const double(*)[2])points, t->count};
    return true;
}

/* Follows one contour from a triangle to the rim, or round to where it began. */
static bool trace(tracer *t, uint32_t first, bool index) {
    int in = edge_way(t, first, false);
    uint32_t at = first;
    t->count = 0;
    bool room = add_crossing(t, first, in), closed = false;
    while (room) {
        int out = edge_way(t, at, true);
        t->marked[at] = t->mark;
        room = add_crossing(t, at, out);
        uint32_t next = t->ground->neighbours[at][out];
        closed = next == first;
        if (next == MST_NOWHERE || closed) break;
        at = next;
    }
    return room && keep_contour(t, closed, index);
}

/* Open ones from the rim first, then what is left: closed ones. */
static bool trace_level(tracer *t, const uint32_t touched[], size_t count, bool index) {
    for (int round = 0; round < 2; round++)
        for (size_t i = 0; i < count; i++) {
            uint32_t at = touched[i];
            int in = edge_way(t, at, false);
            if (in < 0 || t->marked[at] == t->mark) continue;
            if (round == 0 && t->ground->neighbours[at][in] != MST_NOWHERE) continue;
            if (!trace(t, at, index)) return false;
        }
    return true;
}

static void span_of(const mst_ground *g, uint32_t t, const levels *l, int64_t *low, int64_t *high) {
    double lowest = HUGE_VAL, highest = -HUGE_VAL;
    for (int c = 0; c < 3; c++) {
        lowest = fmin(lowest, g->vertices[g->triangles[t][c]].elevation_m);
        highest = fmax(highest, g->vertices[g->triangles[t][c]].elevation_m);
    }
    *low = (int64_t)floor(lowest / l->interval) - l->first; /* a step too many below: edge_way decides */
    *high = (int64_t)ceil(highest / l->interval) - l->first;
    if (*low < 0) *low = 0;
    if (*high >= l->count) *high = l->count - 1;
}

/* Triangles by level: start[k]..start[k + 1] of the list. */
static mst_status sort_by_level(const mst_ground *g, const levels *l, mst_arena *arena, size_t **start,
                                uint32_t **list) {
    size_t *at = mst_arena_array(arena, (size_t)l->count + 2, sizeof *at);
    int64_t low, high;
    if (!at) return MST_NO_MEMORY;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        span_of(g, t, l, &low, &high);
        for (int64_t k = low; k <= high; k++) at[k + 2]++;
    }
    for (int64_t k = 0; k < l->count; k++) at[k + 2] += at[k + 1];
    *list = mst_arena_array(arena, at[l->count + 1] + 1, sizeof **list);
    if (!*list) return MST_NO_MEMORY;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        span_of(g, t, l, &low, &high);
        for (int64_t k = low; k <= high; k++) (*list)[at[k + 1]++] = t;
    }
    *start = at;
    return MST_OK;
}

static mst_status find_levels(const mst_ground *g, double interval_m, levels *l, mst_error *error) {
    if (!(interval_m > 0) || isinf(interval_m))
        return mst_fail(error, MST_INVALID, "The contour interval must be above 0 m.");
    double first = ceil(g->lowest_m / interval_m), last = floor(g->highest_m / interval_m);
    if (last - first + 1 > MOST_LEVELS || fabs(first) > 1e15 || fabs(last) > 1e15)
        return mst_fail(error, MST_INVALID,
                        "Contours every %g m would be over %d levels on this ground; choose a larger interval.",
                        interval_m, MOST_LEVELS);
    *l = (levels){interval_m, (int64_t)first, last < first ? 0 : (int64_t)(last - first) + 1};
    return MST_OK;
}

mst_status mst_ground_contours(const mst_ground *ground, double interval_m, mst_arena *arena, mst_contour **contours,
                               size_t *count, mst_error *error) {
    levels l;
    size_t *start;
    uint32_t *list;
    mst_status status = find_levels(ground, interval_m, &l, error);
    if (status) return status;
    tracer t = {.ground = ground, .arena = arena};
    t.marked = mst_arena_array(arena, ground->triangle_count + 1, sizeof *t.marked);
    bool room = t.marked && (l.count == 0 || sort_by_level(ground, &l, arena, &start, &list) == MST_OK);
    for (int64_t k = 0; room && k < l.count; k++) {
        t.level = (double)(l.first + k) * interval_m;
        t.mark = (uint32_t)k + 1;
        room = trace_level(&t, list + start[k], start[k + 1] - start[k], (l.first + k) % INDEX_EVERY == 0);
    }
    if (!room) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *contours = t.contours;
    *count = t.contour_count;
    return MST_OK;
}
