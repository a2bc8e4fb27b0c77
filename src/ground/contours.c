/* Contours, exact on the triangles. A contour is the edge of the ground at or above its level: a vertex at the level
 * counts as above, so there are no special cases at saddles and flats, and contours of different levels never meet.
 * Walking with the higher ground on the left, each triangle is entered over one edge and left over another.
 *
 * Each vertex first gets the number of the highest level that it reaches; a triangle is crossed by the levels that its
 * corners differ by. Most have none and cost three small reads; the others are walked through, each level once. */
#include "ground/contours.h"
#include <math.h>
#include <stdlib.h>

enum { MOST_LEVELS = 10000, INDEX_EVERY = 5, CHUNK = 1 << 15, BITS = 8 };

typedef struct levels {
    double interval;
    int64_t first, count;
} levels;

typedef struct tracer {
    const mst_ground *ground;
    mst_arena *arena;
    levels levels;
    bool keep_edges;
    int32_t *reached; /* by vertex: how many of the levels it reaches */
    uint8_t *
        done; /* by triangle: bit k mod 8 for level k; enough where at most 8 levels cross, as they follow each other */
    uint32_t *slot; /* where more cross some triangle: each one's first place in more[], one a level; else NULL */
    uint8_t *more;
    double (*points)[2]; /* of the chunk under way */
    mst_contour_edge *edges;
    size_t begin, count, room; /* of the line under way: where it begins, where it stands */
    mst_traced *lines;
    size_t line_count, line_capacity;
} tracer;

/* The walk inside a triangle: the edge over which it came, from its upper end to its lower one (higher ground on the
 * left when it is walked forward). */
typedef struct step {
    uint32_t triangle, upper, lower;
} step;

static double level_of(const tracer *t, int32_t k) { return (double)(t->levels.first + k - 1) * t->levels.interval; }

/* ---- places ---- */

static bool make_chunk(tracer *t) {
    size_t kept = t->count - t->begin, room = kept + CHUNK > 2 * kept ? kept + CHUNK : 2 * kept;
    double(*points)[2] = mst_arena_array(t->arena, room, sizeof *points);
    mst_contour_edge *edges = t->keep_edges ? mst_arena_array(t->arena, room, sizeof *edges) : NULL;
    if (!points || (t->keep_edges && !edges)) return false;
    for (size_t i = 0; i < kept; i++) {
        points[i][0] = t->points[t->begin + i][0], points[i][1] = t->points[t->begin + i][1];
        if (edges) edges[i] = t->edges[t->begin + i];
    }
    t->points = points, t->edges = edges;
    t->begin = 0, t->count = kept, t->room = room;
    return true;
}

/* Always reckoned from the lower end, so that both triangles of an edge get the same place. */
static bool add_crossing(tracer *t, uint32_t upper, uint32_t lower, double level) {
    const mst_ground_point *low = &t->ground->vertices[lower], *high = &t->ground->vertices[upper];
    double along = (level - low->elevation_m) / (high->elevation_m - low->elevation_m);
    double e = low->easting_m + along * (high->easting_m - low->easting_m);
    double n = low->northing_m + along * (high->northing_m - low->northing_m);
    if (high->elevation_m == level) e = high->easting_m, n = high->northing_m;
    if (t->count > t->begin && t->points[t->count - 1][0] == e && t->points[t->count - 1][1] == n) return true;
    if (t->count == t->room && !make_chunk(t)) return false;
    t->points[t->count][0] = e, t->points[t->count][1] = n;
    if (t->keep_edges) t->edges[t->count] = (mst_contour_edge){lower, upper};
    t->count++;
    return true;
}

static void turn_round(tracer *t, size_t from, size_t to) {
    for (; from + 1 < to; from++) {
        to--;
        double e = t->points[from][0], n = t->points[from][1];
        t->points[from][0] = t->points[to][0], t->points[from][1] = t->points[to][1];
        t->points[to][0] = e, t->points[to][1] = n;
        if (!t->keep_edges) continue;
        mst_contour_edge edge = t->edges[from];
        t->edges[from] = t->edges[to], t->edges[to] = edge;
    }
}

static bool keep_line(tracer *t, int32_t k, bool closed) {
    double(*p)[2] = t->points + t->begin;
    size_t count = t->count - t->begin;
    if (closed && count > 1 && p[0][0] == p[count - 1][0] && p[0][1] == p[count - 1][1]) count--;
    if (count < 2) { /* a summit that just reaches the level */
        t->count = t->begin;
        return true;
    }
    mst_traced *line = MST_PUSH(t->arena, t->lines, t->line_count, t->line_capacity);
    if (!line) return false;
    bool index = (t->levels.first + k - 1) % INDEX_EVERY == 0;
    *line = (mst_traced){{level_of(t, k), closed, index, (const double(*)[2])p, count},
                         t->keep_edges ? t->edges + t->begin : NULL};
    t->begin = t->count;
    return true;
}

/* ---- the walk ---- */

static int32_t lowest_at(const tracer *t, uint32_t triangle) {
    const uint32_t *v = t->ground->triangles[triangle];
    int32_t a = t->reached[v[0]], b = t->reached[v[1]], c = t->reached[v[2]], low = a < b ? a : b;
    return low < c ? low : c;
}

static bool is_done(const tracer *t, uint32_t triangle, int32_t k) {
    if (!t->slot) return t->done[triangle] >> (k % BITS) & 1;
    return t->more[t->slot[triangle] + (uint32_t)(k - lowest_at(t, triangle) - 1)];
}

static void set_done(const tracer *t, uint32_t triangle, int32_t k) {
    if (!t->slot) t->done[triangle] |= (uint8_t)(1 << (k % BITS));
    else t->more[t->slot[triangle] + (uint32_t)(k - lowest_at(t, triangle) - 1)] = 1;
}

/* Across one triangle over the edge that the level also crosses; then into the neighbour. The two triangles that may be
 * next are called for while the third corner's level is on its way. @return false at the rim */
static bool walk_on(const tracer *t, step *s, int32_t k, double level) {
    const mst_ground *g = t->ground;
    const uint32_t *v = g->triangles[s->triangle], *beside = g->neighbours[s->triangle];
    int at = v[0] != s->upper && v[0] != s->lower ? 0 : v[1] != s->upper && v[1] != s->lower ? 1 : 2;
    int next = at == 2 ? 0 : at + 1, last = at == 0 ? 2 : at - 1;
    for (int i = 0; i < 2; i++) {
        uint32_t ahead = beside[i ? next : last];
        if (ahead == MST_NOWHERE) continue;
        __builtin_prefetch(g->triangles[ahead]);
        __builtin_prefetch(g->neighbours[ahead]);
    }
    set_done(t, s->triangle, k);
    bool up = g->vertices[v[at]].elevation_m >= level, upper_next = v[next] == s->upper;
    s->triangle = beside[up == upper_next ? next : last]; /* opposite the end that is left behind */
    if (up) s->upper = v[at];
    else s->lower = v[at];
    return s->triangle != MST_NOWHERE;
}

/* The edge over which the level comes into a triangle (higher ground on the left), or goes out of it. */
static step edge_of(const tracer *t, uint32_t triangle, int32_t k, bool out) {
    const uint32_t *v = t->ground->triangles[triangle];
    for (int c = 0;; c++) {
        uint32_t a = v[(c + 1) % 3], b = v[(c + 2) % 3];
        bool up_a = t->reached[a] >= k, up_b = t->reached[b] >= k;
        if (up_a == up_b || up_b != out) continue;
        uint32_t upper = up_a ? a : b, lower = up_a ? b : a;
        return (step){triangle, upper, lower};
    }
}

/* Follows one line from a triangle to the rim, or round to where it began. An open one goes on from there backward. */
static bool trace(tracer *t, uint32_t first, int32_t k) {
    double level = level_of(t, k);
    step s = edge_of(t, first, k, false);
    bool room = add_crossing(t, s.upper, s.lower, level), on = true;
    while (room && on) {
        on = walk_on(t, &s, k, level);
        room = add_crossing(t, s.upper, s.lower, level);
        if (on && s.triangle == first) return room && keep_line(t, k, true);
    }
    turn_round(t, t->begin, t->count); /* its start is the last place now: on from there, backward */
    s = edge_of(t, first, k, true);
    for (on = true; room && on;) {
        on = walk_on(t, &s, k, level);
        room = add_crossing(t, s.upper, s.lower, level);
    }
    turn_round(t, t->begin, t->count);
    return room && keep_line(t, k, false);
}

/* ---- levels ---- */

/* The number of the highest level at or under each vertex, from 1; 0 under all of them. */
static void reach(tracer *t) {
    double interval = t->levels.interval, inverse = 1 / interval, first = (double)t->levels.first;
    double most = (double)t->levels.count;
    for (size_t v = 0; v < t->ground->vertex_count; v++) {
        double z = t->ground->vertices[v].elevation_m, k = z * inverse - first + 1;
        k = k < 0 ? 0 : k > most ? most : k;
        double whole = (double)(int32_t)k;
        if (whole > 0 && (first + whole - 1) * interval > z) whole--; /* rounding of the division: one at most */
        if (whole < most && (first + whole) * interval <= z) whole++;
        t->reached[v] = (int32_t)whole;
    }
}

/* Lists the triangles that a level crosses. @return how many. @param places  how many levels cross them all together
 * @param most  by how many one of them is crossed */
static size_t find_crossed(const tracer *t, uint32_t crossed[], size_t *places, int32_t *most) {
    size_t count = 0;
    *places = 0, *most = 0;
    for (uint32_t i = 0; i < t->ground->triangle_count; i++) {
        const uint32_t *v = t->ground->triangles[i];
        int32_t a = t->reached[v[0]], b = t->reached[v[1]], c = t->reached[v[2]];
        if (!((a ^ b) | (b ^ c))) continue;
        int32_t high = a > b ? a : b, low = a < b ? a : b;
        high = high > c ? high : c, low = low < c ? low : c;
        crossed[count++] = i;
        *places += (size_t)(high - low);
        *most = high - low > *most ? high - low : *most;
    }
    return count;
}

static void span_of(const tracer *t, uint32_t triangle, int32_t *low, int32_t *high) {
    const uint32_t *v = t->ground->triangles[triangle];
    *low = *high = t->reached[v[0]];
    for (int c = 1; c < 3; c++) {
        int32_t k = t->reached[v[c]];
        *low = k < *low ? k : *low, *high = k > *high ? k : *high;
    }
}

static bool make_slots(tracer *t, const uint32_t crossed[], size_t count, size_t places, mst_arena *own) {
    t->more = mst_arena_array(own, places + 1, 1);
    t->slot = mst_arena_array(own, t->ground->triangle_count + 1, sizeof *t->slot);
    if (!t->more || !t->slot || places > UINT32_MAX) return false;
    uint32_t at = 0;
    for (size_t i = 0; i < count; i++) {
        int32_t low, high;
        span_of(t, crossed[i], &low, &high);
        t->slot[crossed[i]] = at;
        at += (uint32_t)(high - low);
    }
    return true;
}

static bool trace_all(tracer *t, const uint32_t crossed[], size_t count) {
    for (size_t i = 0; i < count; i++) {
        int32_t low, high;
        span_of(t, crossed[i], &low, &high);
        for (int32_t k = low + 1; k <= high; k++)
            if (!is_done(t, crossed[i], k) && !trace(t, crossed[i], k)) return false;
    }
    return true;
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

/* From the lowest level up; at one level in the order of the triangles. */
static bool sort_by_level(tracer *t) {
    size_t *start = mst_arena_array(t->arena, (size_t)t->levels.count + 2, sizeof *start);
    mst_traced *sorted = mst_arena_array(t->arena, t->line_count + 1, sizeof *sorted);
    if (!start || !sorted) return false;
    for (int round = 0; round < 2; round++) {
        for (size_t i = 0; i < t->line_count; i++) {
            int64_t k = llround(t->lines[i].line.level_m / t->levels.interval) - t->levels.first;
            if (round == 0) start[k + 1]++;
            else sorted[start[k]++] = t->lines[i];
        }
        for (int64_t k = 0; round == 0 && k < t->levels.count; k++) start[k + 1] += start[k];
    }
    t->lines = sorted;
    return true;
}

mst_status mst_trace_contours(const mst_ground *ground, double interval_m, bool keep_edges, mst_arena *arena,
                              mst_traced **lines, size_t *count, mst_error *error) {
    tracer t = {.ground = ground, .arena = arena, .keep_edges = keep_edges};
    mst_status status = find_levels(ground, interval_m, &t.levels, error);
    if (status) return status;
    mst_arena *own = mst_arena_new();
    uint32_t *crossed = own ? mst_arena_array(own, ground->triangle_count + 1, sizeof *crossed) : NULL;
    if (own) t.reached = mst_arena_array(own, ground->vertex_count + 1, sizeof *t.reached);
    if (own) t.done = mst_arena_array(own, ground->triangle_count + 1, 1);
    bool room = crossed && t.reached && t.done;
    if (room) {
        size_t places;
        int32_t most;
        reach(&t);
        size_t crossings = find_crossed(&t, crossed, &places, &most);
        if (most > BITS) room = make_slots(&t, crossed, crossings, places, own);
        room = room && trace_all(&t, crossed, crossings) && sort_by_level(&t);
    }
    mst_arena_free(own);
    if (!room) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *lines = t.lines;
    *count = t.line_count;
    return MST_OK;
}

mst_status mst_ground_contours(const mst_ground *ground, double interval_m, mst_arena *arena, mst_contour **contours,
                               size_t *count, mst_error *error) {
    mst_traced *lines;
    mst_status status = mst_trace_contours(ground, interval_m, false, arena, &lines, count, error);
    if (status) return status;
    *contours = mst_arena_array(arena, *count + 1, sizeof **contours);
    if (!*contours) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < *count; i++) (*contours)[i] = lines[i].line;
    return MST_OK;
}
