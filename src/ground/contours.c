/* Contours, exact on the triangles. A contour is the edge of the ground at or above its level: a vertex at the level
 * counts as above, so there are no special cases at saddles and flats, and contours of different levels never meet.
 * The crossings of triangles and levels come numbered, each with the number of the one that follows
 * (contour_crossings.c); joining lines then only follows numbers through a small array. */
#include "base/parallel.h"
#include "ground/contour_crossings.h"
#include <math.h>
#include <string.h>

enum { MOST_LEVELS = 10000, INDEX_EVERY = 5, TRACERS_MOST = 64, PLACES_A_THREAD = 50000 };
static const uint32_t IN_A_LINE = UINT32_MAX - 1;

typedef struct level_list {
    uint32_t *slices, *heads;
    size_t slice_count, head_count, places; /* at most so many places */
} level_list;

/* The lines of some of the levels: one thread's. */
typedef struct tracer {
    const mst_crossings *crossings;
    const level_list *lists; /* by level, from 1 */
    uint32_t lowest, end;    /* levels, from 1 */
    double (*points)[2];
    mst_contour_edge *edges; /* beside the points; NULL unless asked for */
    size_t point_count;
    mst_arena *arena;
    mst_traced *lines;
    size_t line_count, line_capacity;
    bool room;
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
    const mst_levels *l = &t->crossings->levels;
    bool index = (l->first + (int64_t)k - 1) % INDEX_EVERY == 0;
    *line = (mst_traced){{mst_level(l, k), closed, index, (const double(*)[2])p, count},
                         t->edges ? t->edges + begin : NULL};
    return true;
}

/* From a crossing on to the rim, or round to where it began. @param from  the place on the rim before it, or NULL */
static bool follow(tracer *t, uint32_t first, uint32_t k, const mst_contour_head *from) {
    const mst_crossings *c = t->crossings;
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

/* Calls for the level's crossings first, then follows the lines from rim to rim, then the closed ones. */
static bool follow_level(tracer *t, uint32_t k) {
    enum { LINE = 64 };
    const mst_crossings *c = t->crossings;
    const level_list *l = &t->lists[k];
    for (size_t i = 0; i < l->slice_count; i++) {
        const mst_level_slice *s = &c->slices[l->slices[i]];
        const char *at = (const char *)c->at[s->first];
        __builtin_prefetch(&c->next[s->first]);
        for (size_t byte = 0; byte < mst_bit_count(s->triangles) * sizeof *c->at; byte += LINE)
            __builtin_prefetch(at + byte);
    }
    for (size_t i = 0; i < l->head_count; i++)
        if (!follow(t, c->heads[l->heads[i]].first, k, &c->heads[l->heads[i]])) return false;
    for (size_t i = 0; i < l->slice_count; i++) {
        uint32_t from = c->slices[l->slices[i]].first, to = from + mst_bit_count(c->slices[l->slices[i]].triangles);
        for (uint32_t n = from; n < to; n++)
            if (c->next[n] != IN_A_LINE && !follow(t, n, k, NULL)) return false;
    }
    return true;
}

static void follow_levels(void *context, int index) {
    tracer *t = (tracer *)context + index;
    t->room = true;
    for (uint32_t k = t->lowest; k < t->end && t->room; k++) t->room = follow_level(t, k);
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

/* ---- all lines ---- */

/* What each level crosses, in the order of the triangles. [levels + 2] */
static level_list *list_levels(const mst_crossings *c, mst_arena *own) {
    level_list *l = mst_arena_array(own, (size_t)c->levels.count + 2, sizeof *l);
    uint32_t *slices = mst_arena_array(own, c->slice_count + 1, sizeof *slices),
             *heads = mst_arena_array(own, c->head_count + 1, sizeof *heads);
    if (!l || !slices || !heads) return NULL;
    for (size_t h = 0; h < c->head_count; h++) l[c->heads[h].level].head_count++;
    for (size_t i = 0; i < c->crossed_count; i++) {
        const mst_level_block *b = &c->blocks[c->crossed[i]];
        for (uint32_t n = 0; n < b[1].first - b->first; n++) {
            l[b->low + 1 + n].slice_count++;
            l[b->low + 1 + n].places += mst_bit_count(c->slices[b->first + n].triangles);
        }
    }
    for (int64_t k = 1; k <= c->levels.count; k++) {
        l[k].slices = slices, l[k].heads = heads;
        slices += l[k].slice_count, heads += l[k].head_count;
        l[k].places += l[k].head_count;
        l[k].slice_count = l[k].head_count = 0;
    }
    for (uint32_t h = 0; h < c->head_count; h++) {
        level_list *of = &l[c->heads[h].level];
        of->heads[of->head_count++] = h;
    }
    for (size_t i = 0; i < c->crossed_count; i++) {
        const mst_level_block *b = &c->blocks[c->crossed[i]];
        level_list *of = &l[b->low];
        for (uint32_t n = b->first; n < b[1].first; n++) {
            of++;
            of->slices[of->slice_count++] = n;
        }
    }
    return l;
}

/* From the lowest level up; at one level those from rim to rim first, each kind in the order of the triangles. */
static mst_traced *join_lines(const tracer tracers[], int count, mst_arena *arena, size_t *all) {
    *all = 0;
    for (int i = 0; i < count; i++) *all += tracers[i].line_count;
    mst_traced *lines = mst_arena_array(arena, *all + 1, sizeof *lines), *at = lines;
    for (int i = 0; lines && i < count; i++) {
        if (tracers[i].line_count) memcpy(at, tracers[i].lines, tracers[i].line_count * sizeof *at);
        at += tracers[i].line_count;
    }
    return lines;
}

/* Levels shared out so that each thread has about as many places. */
static void share_levels(tracer tracers[], int count, size_t all) {
    size_t done = 0;
    uint32_t k = 1, last = (uint32_t)tracers[0].crossings->levels.count;
    for (int i = 0; i < count; i++) {
        tracers[i].lowest = k;
        tracers[i].points = tracers[0].points + done;
        tracers[i].edges = tracers[0].edges ? tracers[0].edges + done : NULL;
        size_t until = all * (size_t)(i + 1) / (size_t)count;
        while (k <= last && (done < until || i + 1 == count)) done += tracers[i].lists[k++].places;
        tracers[i].end = k;
    }
}

static mst_traced *make_lines(const mst_crossings *c, int threads, mst_arena *arena, mst_arena *own, size_t *count) {
    tracer tracers[TRACERS_MOST] = {0};
    const level_list *lists = list_levels(c, own);
    size_t most = 0;
    if (!lists) return NULL;
    for (int64_t k = 1; k <= c->levels.count; k++) most += lists[k].places;
    int shares = threads < 1 || most < PLACES_A_THREAD ? 1 : threads < TRACERS_MOST ? threads : TRACERS_MOST;
    tracers[0].points = mst_arena_array(arena, most + 1, sizeof *tracers->points);
    if (c->leaves) tracers[0].edges = mst_arena_array(arena, most + 1, sizeof *tracers->edges);
    bool room = tracers[0].points && (tracers[0].edges || !c->leaves);
    for (int i = 0; i < shares; i++) {
        tracers[i].crossings = c, tracers[i].lists = lists;
        tracers[i].arena = mst_arena_new();
        room = room && tracers[i].arena;
    }
    if (room) {
        share_levels(tracers, shares, most);
        mst_parallel(threads, shares, follow_levels, tracers);
    }
    for (int i = 0; i < shares; i++) room = room && tracers[i].room;
    mst_traced *lines = room ? join_lines(tracers, shares, arena, count) : NULL;
    for (int i = 0; i < shares; i++) mst_arena_free(tracers[i].arena);
    return lines;
}

mst_status mst_trace_contours(const mst_ground *ground, double interval_m, bool keep_edges, mst_arena *arena,
                              mst_traced **lines, size_t *count, mst_error *error) {
    mst_crossings crossings;
    mst_levels levels;
    mst_status status = find_levels(ground, interval_m, &levels, error);
    if (status) return status;
    mst_arena *own = mst_arena_new();
    bool room = own && mst_find_crossings(ground, &levels, keep_edges, own, &crossings);
    *lines = room ? make_lines(&crossings, ground->threads, arena, own, count) : NULL;
    mst_arena_free(own);
    return *lines ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
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
