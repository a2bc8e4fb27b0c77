/* A short walk: nearest neighbour, then 2-opt on the open path until no turn of a stretch shortens it. The first stake
 * stays first. Cost: O(count^2) a pass, so long lists get fewer passes. */
#include "setout/ties.h"
#include <math.h>

static const double GAIN_M = 1e-6;         /* a shorter walk by less than a micrometre is rounding */
static const size_t WORK_LIMIT = 40000000; /* comparisons in all: about half a second */

static void nearest_neighbour(const mst_point places[], size_t count, bool done[], uint32_t *order) {
    size_t at = 0;
    for (size_t step = 0; step < count; step++) {
        order[step] = (uint32_t)at;
        done[at] = true;
        double least = INFINITY;
        size_t next = at;
        for (size_t i = 0; i < count; i++) {
            double d = done[i] ? INFINITY : mst_distance(places[at], places[i]);
            if (d < least) {
                least = d;
                next = i;
            }
        }
        at = next;
    }
}

static double leg(const mst_point places[], const uint32_t *order, size_t i, size_t j) {
    return mst_distance(places[order[i]], places[order[j]]);
}

static void turn_round(uint32_t *order, size_t from, size_t to) {
    for (; from < to; from++, to--) {
        uint32_t t = order[from];
        order[from] = order[to];
        order[to] = t;
    }
}

/* Turns each stretch whose turning shortens the walk; the end is open, so that a turn up to it changes one leg only. */
static bool shorten(const mst_point places[], size_t count, uint32_t *order) {
    bool shorter = false;
    for (size_t i = 1; i + 1 < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            double old = leg(places, order, i - 1, i), new = leg(places, order, i - 1, j);
            if (j + 1 < count) {
                old += leg(places, order, j, j + 1);
                new += leg(places, order, i, j + 1);
            }
            if (new > old - GAIN_M) continue;
            turn_round(order, i, j);
            shorter = true;
        }
    return shorter;
}

mst_status mst_short_walk(const mst_point places[], size_t count, mst_arena *arena, uint32_t *order, mst_error *error) {
    if (count == 0) return MST_OK;
    bool *done = mst_arena_array(arena, count, sizeof *done);
    if (!done) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    nearest_neighbour(places, count, done, order);
    size_t passes = WORK_LIMIT / (count * count) + 1;
    while (passes-- && shorten(places, count, order)) {}
    return MST_OK;
}
