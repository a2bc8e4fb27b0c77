/* Contours, exact on the triangles. A contour is the edge of the ground at or above its level: a vertex at the level
 * counts as above, so there are no special cases at saddles and flats, and contours of different levels never meet.
 * With the higher ground on the left, a level comes into a triangle over one edge and leaves it over another.
 *
 * Each vertex first gets the number of the highest level that it reaches; a triangle is crossed by the levels that its
 * corners differ by. Every crossing of a triangle and a level is numbered in the order of the triangles, and gets the
 * place where it leaves and the number of the crossing behind that edge: work in the order of the memory, no crossing
 * waiting for another. Joining lines then only follows numbers through a small array. */
#include "ground/contours.h"
#include <math.h>
#include <stdlib.h>

enum { MOST_LEVELS = 10000, INDEX_EVERY = 5 };
static const uint32_t RIM = UINT32_MAX;

typedef struct levels {
    double interval;
    int64_t first, count;
} levels;

typedef struct crossing {
    double at[2];   /* where the level leaves the triangle */
    uint32_t next;  /* the crossing behind that edge, or RIM */
    uint32_t level; /* from 1; 0 once it is in a line */
} crossing;

/* Where a line comes in over the rim. */
typedef struct head {
    double at[2];
    mst_contour_edge edge;
    uint32_t first;
} head;

typedef struct tracer {
    const mst_ground *ground;
    mst_arena *arena, *own; /* for the lines; for what is needed on the way */
    levels levels;
    int16_t *reached;  /* by vertex: how many of the levels it reaches */
    uint32_t *base;    /* by triangle: its crossing with level k is base + k, in 32 bits that go round */
    uint32_t *crossed; /* triangles */
    size_t crossed_count, crossing_count;
    crossing *crossings;
    mst_contour_edge *leaves; /* beside the crossings; NULL unless asked for */
    head *heads;
    size_t head_count, head_capacity;
    double (*points)[2];
    mst_contour_edge *edges; /* beside the points; NULL unless asked for */
    size_t point_count;
    mst_traced *lines;
    size_t line_count, line_capacity;
} tracer;

static double level_of(const tracer *t, uint32_t k) {
    return (double)(t->levels.first + (int64_t)k - 1) * t->levels.interval;
}

/* ---- which triangles ---- */

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
        t->reached[v] = (int16_t)whole;
    }
}

/* Numbers the crossings. Without a branch: which triangles a level crosses cannot be foretold. */
static void number_crossings(tracer *t) {
    const uint32_t(*triangles)[3] = (const uint32_t(*)[3])t->ground->triangles;
    size_t crossed = 0, crossings = 0;
    for (uint32_t i = 0; i < t->ground->triangle_count; i++) {
        int32_t a = t->reached[triangles[i][0]], b = t->reached[triangles[i][1]], c = t->reached[triangles[i][2]];
        int32_t high = a > b ? a : b, low = a < b ? a : b;
        high = high > c ? high : c, low = low < c ? low : c;
        t->base[i] = (uint32_t)crossings - (uint32_t)low - 1;
        t->crossed[crossed] = i;
        crossed += high != low;
        crossings += (size_t)(high - low);
    }
    t->crossed_count = crossed, t->crossing_count = crossings;
}

/* ---- where they are crossed ---- */

/* Always reckoned from the lower end, so that both triangles of an edge get the same place. */
static void place_on(const mst_ground *g, mst_contour_edge edge, double level, double at[2]) {
    const mst_ground_point *low = &g->vertices[edge.lower], *high = &g->vertices[edge.upper];
    double along = (level - low->elevation_m) / (high->elevation_m - low->elevation_m);
    bool top = high->elevation_m == level;
    at[0] = top ? high->easting_m : low->easting_m + along * (high->easting_m - low->easting_m);
    at[1] = top ? high->northing_m : low->northing_m + along * (high->northing_m - low->northing_m);
}

/* Corners of a triangle counter-clockwise, from the one that lies alone on its side of the level. */
typedef struct sides {
    uint8_t alone, next, last;
    bool up; /* the one alone is above */
} sides;
/* By which corners are above: bit c for corner c. */
static const sides SIDES[8] = {[1] = {0, 1, 2, true},  [2] = {1, 2, 0, true},  [4] = {2, 0, 1, true},
                               [6] = {0, 1, 2, false}, [5] = {1, 2, 0, false}, [3] = {2, 0, 1, false}};

static bool add_head(tracer *t, uint32_t first, mst_contour_edge edge, double level) {
    head *h = MST_PUSH(t->own, t->heads, t->head_count, t->head_capacity);
    if (!h) return false;
    *h = (head){.edge = edge, .first = first};
    place_on(t->ground, edge, level, h->at);
    return true;
}

static bool cross(tracer *t, uint32_t triangle, uint32_t k) {
    const uint32_t *v = t->ground->triangles[triangle], *beside = t->ground->neighbours[triangle];
    int32_t level = (int32_t)k;
    sides s = SIDES[(t->reached[v[0]] >= level) | (t->reached[v[1]] >= level) << 1 | (t->reached[v[2]] >= level) << 2];
    mst_contour_edge to_next = {s.up ? v[s.next] : v[s.alone], s.up ? v[s.alone] : v[s.next]},
                     to_last = {s.up ? v[s.last] : v[s.alone], s.up ? v[s.alone] : v[s.last]};
    mst_contour_edge leaves = s.up ? to_last : to_next, enters = s.up ? to_next : to_last;
    uint32_t behind = beside[s.up ? s.next : s.last], before = beside[s.up ? s.last : s.next];
    uint32_t i = t->base[triangle] + k;
    crossing *c = &t->crossings[i];
    place_on(t->ground, leaves, level_of(t, k), c->at);
    c->next = behind == MST_NOWHERE ? RIM : t->base[behind] + k;
    c->level = k;
    if (t->leaves) t->leaves[i] = leaves;
    return before != MST_NOWHERE || add_head(t, i, enters, level_of(t, k));
}

/* Calls for what the crossings a few triangles on will want. */
static void call_ahead(const tracer *t, size_t i) {
    enum { TRIANGLES = 24, VERTICES = 12 };
    const mst_ground *g = t->ground;
    if (i + TRIANGLES >= t->crossed_count) return;
    uint32_t far = t->crossed[i + TRIANGLES];
    __builtin_prefetch(g->triangles[far]);
    __builtin_prefetch(g->neighbours[far]);
    const uint32_t *v = g->triangles[t->crossed[i + VERTICES]], *beside = g->neighbours[t->crossed[i + VERTICES]];
    for (int c = 0; c < 3; c++) {
        __builtin_prefetch(&g->vertices[v[c]]);
        if (beside[c] != MST_NOWHERE) __builtin_prefetch(&t->base[beside[c]]);
    }
}

static bool cross_all(tracer *t) {
    for (size_t i = 0; i < t->crossed_count; i++) {
        const uint32_t *v = t->ground->triangles[t->crossed[i]];
        int32_t a = t->reached[v[0]], b = t->reached[v[1]], c = t->reached[v[2]];
        int32_t high = a > b ? a : b, low = a < b ? a : b;
        high = high > c ? high : c, low = low < c ? low : c;
        call_ahead(t, i);
        for (int32_t k = low + 1; k <= high; k++)
            if (!cross(t, t->crossed[i], (uint32_t)k)) return false;
    }
    return true;
}

/* ---- lines ---- */

/* Lines run through a vertex from triangle to triangle without moving. */
static void add_place(tracer *t, size_t begin, const double at[2], const mst_contour_edge *edge) {
    double(*p)[2] = t->points + t->point_count;
    if (t->point_count > begin && p[-1][0] == at[0] && p[-1][1] == at[1]) return;
    (*p)[0] = at[0], (*p)[1] = at[1];
    if (t->edges) t->edges[t->point_count] = *edge;
    t->point_count++;
}

static bool keep_line(tracer *t, size_t begin, uint32_t k, bool closed) {
    double(*p)[2] = t->points + begin;
    size_t count = t->point_count - begin;
    if (closed && count > 1 && p[0][0] == p[count - 1][0] && p[0][1] == p[count - 1][1]) count--;
    t->point_count = begin + count;
    if (count < 2) { /* a summit that just reaches the level */
        t->point_count = begin;
        return true;
    }
    mst_traced *line = MST_PUSH(t->arena, t->lines, t->line_count, t->line_capacity);
    if (!line) return false;
    bool index = (t->levels.first + (int64_t)k - 1) % INDEX_EVERY == 0;
    *line =
        (mst_traced){{level_of(t, k), closed, index, (const double(*)[2])p, count}, t->edges ? t->edges + begin : NULL};
    return true;
}

/* From a crossing on to the rim, or round to where it began. @param from  the place on the rim before it, or NULL */
static bool follow(tracer *t, uint32_t first, const head *from) {
    size_t begin = t->point_count;
    uint32_t k = t->crossings[first].level, i = first;
    if (from) add_place(t, begin, from->at, &from->edge);
    do {
        crossing *c = &t->crossings[i];
        add_place(t, begin, c->at, t->leaves ? &t->leaves[i] : NULL);
        c->level = 0;
        i = c->next;
    } while (i != RIM && i != first);
    return keep_line(t, begin, k, !from);
}

static bool follow_all(tracer *t) {
    for (size_t h = 0; h < t->head_count; h++)
        if (!follow(t, t->heads[h].first, &t->heads[h])) return false;
    for (uint32_t i = 0; i < t->crossing_count; i++)
        if (t->crossings[i].level && !follow(t, i, NULL)) return false;
    return true;
}

/* ---- levels ---- */

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

/* From the lowest level up; at one level those from rim to rim first, each kind in the order of the triangles. */
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

static bool make_crossings(tracer *t, bool keep_edges) {
    if (t->crossing_count >= RIM) return false;
    t->crossings = mst_arena_array(t->own, t->crossing_count + 1, sizeof *t->crossings);
    if (keep_edges) t->leaves = mst_arena_array(t->own, t->crossing_count + 1, sizeof *t->leaves);
    return t->crossings && (t->leaves || !keep_edges) && cross_all(t);
}

static bool make_lines(tracer *t) {
    size_t most = t->crossing_count + t->head_count + 1;
    t->points = mst_arena_array(t->arena, most, sizeof *t->points);
    if (t->leaves) t->edges = mst_arena_array(t->arena, most, sizeof *t->edges);
    return t->points && (t->edges || !t->leaves) && follow_all(t) && sort_by_level(t);
}

mst_status mst_trace_contours(const mst_ground *ground, double interval_m, bool keep_edges, mst_arena *arena,
                              mst_traced **lines, size_t *count, mst_error *error) {
    tracer t = {.ground = ground, .arena = arena};
    mst_status status = find_levels(ground, interval_m, &t.levels, error);
    if (status) return status;
    t.own = mst_arena_new();
    if (t.own) t.reached = mst_arena_array(t.own, ground->vertex_count + 1, sizeof *t.reached);
    if (t.own) t.base = mst_arena_array(t.own, ground->triangle_count + 1, sizeof *t.base);
    if (t.own) t.crossed = mst_arena_array(t.own, ground->triangle_count + 1, sizeof *t.crossed);
    bool room = t.reached && t.base && t.crossed;
    if (room) {
        reach(&t);
        number_crossings(&t);
        room = make_crossings(&t, keep_edges) && make_lines(&t);
    }
    mst_arena_free(t.own);
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
