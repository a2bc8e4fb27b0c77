/* Contours, exact on the triangles. A contour is the edge of the ground at or above its level: a vertex at the level
 * counts as above, so there are no special cases at saddles and flats, and contours of different levels never meet.
 * The crossings of triangles and levels come numbered, each with the number of the one that follows (contour_crossings.c);
 * joining lines then only follows numbers through a small array. */
#include "ground/contour_crossings.h"
#include <math.h>
#include <stdlib.h>

enum { MOST_LEVELS = 10000, INDEX_EVERY = 5 };
static const uint32_t IN_A_LINE = UINT32_MAX - 1;

typedef struct tracer {
    mst_arena *arena; /* for the lines */
    mst_crossings crossings;
    double (*points)[2];
    mst_contour_edge *edges; /* beside the points; NULL unless asked for */
    size_t point_count;
    mst_traced *lines;
    size_t line_count, line_capacity;
} tracer;

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
    const mst_levels *l = &t->crossings.levels;
    bool index = (l->first + (int64_t)k - 1) % INDEX_EVERY == 0;
    *line =
        (mst_traced){{mst_level(l, k), closed, index, (const double(*)[2])p, count}, t->edges ? t->edges + begin : NULL};
    return true;
}

/* From a crossing on to the rim, or round to where it began. @param from  the place on the rim before it, or NULL */
static bool follow(tracer *t, uint32_t first, uint32_t k, const mst_contour_head *from) {
    mst_crossings *c = &t->crossings;
    size_t begin = t->point_count;
    uint32_t i = first;
    if (from) add_place(t, begin, from->at, &from->edge);
    do {
        uint32_t next = c->next[i];
        add_place(t, begin, c->at[i], c->leaves ? &c->leaves[i] : NULL);
        c->next[i] = IN_A_LINE;
        i = next;
    } while (i != MST_NOWHERE && i != first);
    return keep_line(t, begin, k, !from);
}

static bool close_block(tracer *t, size_t block) {
    const mst_crossings *c = &t->crossings;
    uint32_t k = c->blocks[block].low;
    for (uint32_t s = c->blocks[block].first; s < c->blocks[block + 1].first; s++) {
        uint32_t from = c->slices[s].first, to = from + mst_bit_count(c->slices[s].triangles);
        k++;
        for (uint32_t i = from; i < to; i++)
            if (c->next[i] != IN_A_LINE && !follow(t, i, k, NULL)) return false;
    }
    return true;
}

static bool follow_all(tracer *t) {
    const mst_crossings *c = &t->crossings;
    for (size_t h = 0; h < c->head_count; h++)
        if (!follow(t, c->heads[h].first, c->heads[h].level, &c->heads[h])) return false;
    for (size_t b = 0; b < c->block_count; b++)
        if (!close_block(t, b)) return false;
    return true;
}

/* ---- levels ---- */

static mst_status find_levels(const mst_ground *g, double interval_m, mst_levels *l, mst_error *error) {
    if (!(interval_m > 0) || isinf(interval_m))
        return mst_fail(error, MST_INVALID, "The contour interval must be above 0 m.");
    double first = ceil(g->lowest_m / interval_m), last = floor(g->highest_m / interval_m);
    if (last - first + 1 > MOST_LEVELS || fabs(first) > 1e15 || fabs(last) > 1e15)
        return mst_fail(error, MST_INVALID,
                        "Contours every %g m would be over %d levels on this ground; choose a larger interval.",
                        interval_m, MOST_LEVELS);
    *l = (mst_levels){interval_m, (int64_t)first, last < first ? 0 : (int64_t)(last - first) + 1};
    return MST_OK;
}

/* From the lowest level up; at one level those from rim to rim first, each kind in the order of the triangles. */
static bool sort_by_level(tracer *t) {
    size_t *start = mst_arena_array(t->arena, (size_t)t->crossings.levels.count + 2, sizeof *start);
    mst_traced *sorted = mst_arena_array(t->arena, t->line_count + 1, sizeof *sorted);
    if (!start || !sorted) return false;
    for (int round = 0; round < 2; round++) {
        for (size_t i = 0; i < t->line_count; i++) {
            int64_t k = llround(t->lines[i].line.level_m / t->crossings.levels.interval) - t->crossings.levels.first;
            if (round == 0) start[k + 1]++;
            else sorted[start[k]++] = t->lines[i];
        }
        for (int64_t k = 0; round == 0 && k < t->crossings.levels.count; k++) start[k + 1] += start[k];
    }
    t->lines = sorted;
    return true;
}

static bool make_lines(tracer *t) {
    const mst_crossings *c = &t->crossings;
    size_t most = c->count + c->head_count + 1;
    t->points = mst_arena_array(t->arena, most, sizeof *t->points);
    if (c->leaves) t->edges = mst_arena_array(t->arena, most, sizeof *t->edges);
    return t->points && (t->edges || !c->leaves) && follow_all(t) && sort_by_level(t);
}

mst_status mst_trace_contours(const mst_ground *ground, double interval_m, bool keep_edges, mst_arena *arena,
                              mst_traced **lines, size_t *count, mst_error *error) {
    tracer t = {.arena = arena};
    mst_levels levels;
    mst_status status = find_levels(ground, interval_m, &levels, error);
    if (status) return status;
    mst_arena *own = mst_arena_new();
    bool room = own && mst_find_crossings(ground, &levels, keep_edges, own, &t.crossings) && make_lines(&t);
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
