/* Each point in turn taken out of the triangulation: what would the ground have said there? Only its own ring of
 * neighbours matters. Points on breaklines are left alone: a crest that was measured says nothing of the lawn. */
#include "ground/roughness.h"
#include <stdlib.h>

enum { RING_MOST = 20 }; /* neighbours; a point with more (the hub of a fan) is rare and left alone */

typedef struct ring {
    uint32_t corner[RING_MOST];
    int count;
} ring;

/* A facet that holds each corner. */
static uint32_t *facets_at(const mst_ground *g, mst_arena *arena) {
    uint32_t *at = mst_arena_array(arena, g->corner_count + 1, sizeof *at);
    for (uint32_t f = 0; at && f < g->facet_count; f++)
        for (int k = 0; k < 3; k++) at[g->facets[f][k]] = f + 1;
    return at;
}

static bool *facets_in_use(const mst_ground *g, mst_arena *arena) {
    bool *used = mst_arena_array(arena, g->facet_count + 1, 1);
    for (size_t t = 0; used && t < g->triangle_count; t++) used[g->facet_of[t]] = true;
    return used;
}

/* The neighbours round a corner, counter-clockwise. @return false at a rim, a hole or a breakline */
static bool ring_of(const mst_ground *g, const bool used[], uint32_t first, uint32_t corner, ring *r) {
    uint32_t f = first;
    r->count = 0;
    do {
        int k = 0;
        while (g->facets[f][k] != corner) k++;
        if (!used[f] || r->count == RING_MOST || g->fixed[f] >> (k + 1) % 3 & 1) return false;
        r->corner[r->count++] = g->facets[f][(k + 1) % 3];
        f = g->facet_neighbours[f][(k + 1) % 3];
    } while (f != MST_NOWHERE && f != first);
    return f == first && r->count >= 3;
}

/* The triangle of ring corners that holds p and has none of the others in its circle; if a breakline nearby leaves none
 * of that kind, the one with the fewest. */
static bool covering(const mst_ground *g, const ring *r, const double p[2], uint32_t best[3]) {
    int fewest = RING_MOST + 1;
    for (int i = 0; i < r->count && fewest; i++)
        for (int j = i + 1; j < r->count && fewest; j++)
            for (int k = j + 1; k < r->count && fewest; k++) {
                const double *a = g->corners[r->corner[i]].at, *b = g->corners[r->corner[j]].at,
                             *c = g->corners[r->corner[k]].at;
                if (mst_orient2d(a, b, p) < 0 || mst_orient2d(b, c, p) < 0 || mst_orient2d(c, a, p) < 0) continue;
                if (!(mst_orient2d(a, b, c) > 0)) continue;
                int inside = 0;
                for (int m = 0; m < r->count && inside < fewest; m++)
                    inside += m != i && m != j && m != k && mst_incircle(a, b, c, g->corners[r->corner[m]].at) > 0;
                if (inside >= fewest) continue;
                fewest = inside;
                best[0] = r->corner[i], best[1] = r->corner[j], best[2] = r->corner[k];
            }
    return fewest <= RING_MOST;
}

static void fill_check(const mst_ground *g, uint32_t corner, const uint32_t triangle[3], mst_check *c) {
    const double *at[3] = {g->corners[triangle[0]].at, g->corners[triangle[1]].at, g->corners[triangle[2]].at};
    double share[3];
    mst_shares_at(at, g->corners[corner].at, share);
    *c = (mst_check){{corner, triangle[0], triangle[1], triangle[2]}, {1, -share[0], -share[1], -share[2]}, 0, 1};
    for (int i = 0; i < 3; i++) /* differences first: levels may count from the sea */
        c->rest_m += share[i] * (g->corners[corner].elevation_m - g->corners[triangle[i]].elevation_m);
}

typedef struct keyed {
    uint64_t key;
    mst_check check;
} keyed;

static int by_key(const void *a, const void *b) {
    const keyed *x = a, *y = b;
    if (x->key != y->key) return x->key < y->key ? -1 : 1;
    return x->check.corner[0] < y->check.corner[0] ? -1 : x->check.corner[0] > y->check.corner[0];
}

static uint64_t bits_apart(double share) {
    uint64_t v = (uint64_t)(fmin(fmax(share, 0), 1) * 65535), out = 0;
    for (int i = 0; i < 16; i++) out |= (v >> i & 1) << 2 * i;
    return out;
}

static void set_keys(const mst_ground *g, keyed list[], size_t count) {
    double low[2] = {HUGE_VAL, HUGE_VAL}, high[2] = {-HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < 2; k++) {
            low[k] = fmin(low[k], g->corners[list[i].check.corner[0]].at[k]);
            high[k] = fmax(high[k], g->corners[list[i].check.corner[0]].at[k]);
        }
    for (size_t i = 0; i < count; i++) {
        const double *p = g->corners[list[i].check.corner[0]].at;
        list[i].key = bits_apart((p[0] - low[0]) / fmax(high[0] - low[0], 1e-9)) |
                      bits_apart((p[1] - low[1]) / fmax(high[1] - low[1], 1e-9)) << 1;
    }
}

mst_status mst_leave_one_out(const mst_ground *g, mst_arena *scratch, mst_arena *arena, mst_check **checks,
                             size_t *count) {
    uint32_t *at = facets_at(g, scratch);
    bool *used = facets_in_use(g, scratch);
    keyed *list = mst_arena_array(scratch, g->corner_count + 1, sizeof *list);
    if (!at || !used || !list) return MST_NO_MEMORY;
    size_t found = 0;
    for (uint32_t c = 0; c < g->corner_count; c++) {
        ring r;
        uint32_t triangle[3];
        if (!at[c] || !ring_of(g, used, at[c] - 1, c, &r)) continue;
        if (covering(g, &r, g->corners[c].at, triangle)) fill_check(g, c, triangle, &list[found++].check);
    }
    set_keys(g, list, found);
    qsort(list, found, sizeof *list, by_key);
    *checks = mst_arena_array(arena, found + 1, sizeof **checks);
    if (!*checks) return MST_NO_MEMORY;
    for (size_t i = 0; i < found; i++) (*checks)[i] = list[i].check;
    *count = found;
    return MST_OK;
}
