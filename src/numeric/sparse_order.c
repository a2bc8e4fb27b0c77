/* Nested dissection (George, SIAM J. Numer. Anal. 10 (1973) 345-363) by places: what lies about is halved across its
 * longer side, and the nodes that then join the halves are eliminated last. Parts that are small, or that places do not
 * part well, are ordered by approximate minimum degree (Amestoy, Davis, Duff, SIAM J. Matrix Anal. 17 (1996) 886-905),
 * with those that come last held back. */
#include "numeric/sparse_order.h"
#include <amd.h>
#include <camd.h>
#include <math.h>
#include <stdlib.h>

enum { SMALL = 100 };                    /* nodes that are not parted further */
static const double MOST_BETWEEN = 0.25; /* unknowns for each node of a part; more between its halves is no gain */

/* A part is a stretch of `list`. */
typedef struct part {
    size_t first, count;
} part;

/* A node that joins more than this part of all that have neighbours across is itself put between. */
static const double HUB = 0.1;

typedef struct parting {
    const mst_graph *graph;
    uint32_t *list, *work;        /* [nodes] */
    unsigned char *side, *border; /* [nodes] which half; 1: between them */
    uint32_t *part_of;            /* [nodes] which part a node was last in */
    struct crossing *crossings;   /* [nodes] work */
    int *rank;                    /* [nodes] the higher, the later */
    part *waiting;
    size_t waiting_count;
    int parts;
} parting;

/* A node with neighbours in the other half. */
typedef struct crossing {
    uint32_t node, count;
} crossing;

/* Gives nodes without a place the middle of their neighbours that have one. @return false: some still have none */
static bool complete_places(const mst_graph *g, unsigned char given[]) {
    for (size_t v = 0; v < g->nodes; v++) given[v] = isfinite(g->place[v][0]) && isfinite(g->place[v][1]);
    for (size_t v = 0; v < g->nodes; v++) {
        if (given[v]) continue;
        double e = 0, n = 0, count = 0;
        for (int k = g->start[v]; k < g->start[v + 1]; k++) {
            int u = g->other[k];
            if (!given[u]) continue;
            count++;
            e += g->place[u][0];
            n += g->place[u][1];
        }
        if (!(count > 0)) return false;
        g->place[v][0] = e / count;
        g->place[v][1] = n / count;
    }
    return true;
}

static int longer_side(const parting *p, part of) {
    double low[2] = {HUGE_VAL, HUGE_VAL}, high[2] = {-HUGE_VAL, -HUGE_VAL};
    for (size_t i = of.first; i < of.first + of.count; i++)
        for (int a = 0; a < 2; a++) {
            low[a] = fmin(low[a], p->graph->place[p->list[i]][a]);
            high[a] = fmax(high[a], p->graph->place[p->list[i]][a]);
        }
    return high[1] - low[1] > high[0] - low[0];
}

static bool comes_before(const parting *p, int axis, uint32_t a, uint32_t b) {
    double x = p->graph->place[a][axis], y = p->graph->place[b][axis];
    return x < y || (x == y && a < b);
}

/* Brings the lower half along an axis to the front of the part (Hoare's selection, CACM 4 (1961) 321). */
static void halve(const parting *p, part of, int axis) {
    size_t low = of.first, high = of.first + of.count, middle = of.first + of.count / 2;
    uint32_t *list = p->list;
    while (high - low > 1) { /* the middle one lies in [low, high) */
        uint32_t pivot = list[low + (high - low) / 2];
        size_t i = low, j = high;
        for (;;) {
            while (comes_before(p, axis, list[i], pivot)) i++;
            do j--;
            while (comes_before(p, axis, pivot, list[j]));
            if (i >= j) break;
            uint32_t swap = list[i];
            list[i++] = list[j];
            list[j] = swap;
        }
        if (middle < i) high = i;
        else low = i > low ? i : low + 1;
    }
}

static bool is_across(const parting *p, uint32_t v, uint32_t u) {
    return p->part_of[u] == p->part_of[v] && p->side[u] != p->side[v];
}

/* Every node with neighbours across. @return how many */
static size_t find_crossings(const parting *p, part of) {
    size_t count = 0;
    for (size_t i = of.first; i < of.first + of.count; i++) {
        uint32_t v = p->list[i], across = 0;
        for (int k = p->graph->start[v]; k < p->graph->start[v + 1]; k++)
            across += is_across(p, v, (uint32_t)p->graph->other[k]);
        p->border[v] = across > 0;
        if (across > 0) p->crossings[count++] = (crossing){v, across};
    }
    return count;
}

static int by_count(const void *a, const void *b) {
    const crossing *x = a, *y = b;
    if (x->count != y->count) return x->count < y->count ? -1 : 1;
    return x->node < y->node ? -1 : x->node > y->node;
}

static bool all_across_are_border(const parting *p, uint32_t v) {
    for (int k = p->graph->start[v]; k < p->graph->start[v + 1]; k++) {
        uint32_t u = (uint32_t)p->graph->other[k];
        if (is_across(p, v, u) && !p->border[u]) return false;
    }
    return true;
}

static uint32_t weigh_border(const parting *p, size_t count) {
    uint32_t sum = 0;
    for (size_t i = 0; i < count; i++) {
        uint32_t v = p->crossings[i].node;
        if (p->border[v]) sum += p->graph->weight[v];
    }
    return sum;
}

/* All with neighbours across, then without those that are not needed, beginning with the ones that join least. */
static void take_needed(const parting *p, size_t count) {
    for (size_t i = 0; i < count; i++) p->border[p->crossings[i].node] = 1;
    for (size_t i = 0; i < count; i++) {
        uint32_t v = p->crossings[i].node;
        if (all_across_are_border(p, v)) p->border[v] = 0;
    }
}

/* All of one half with neighbours across, and of the other half what joins very many, such as the shift of a visit that
 * has points everywhere; then without those that are not needed any more. */
static void take_side(const parting *p, size_t count, unsigned char side) {
    for (size_t i = 0; i < count; i++) {
        uint32_t v = p->crossings[i].node;
        p->border[v] = p->side[v] == side || p->crossings[i].count > HUB * (double)count;
    }
    for (size_t i = 0; i < count; i++) {
        uint32_t v = p->crossings[i].node;
        if (p->border[v] && all_across_are_border(p, v)) p->border[v] = 0;
    }
}

/* Chooses which nodes come between, as few unknowns as three simple ways find. @return how many unknowns */
static uint32_t find_border(parting *p, part of) {
    for (size_t i = of.first; i < of.first + of.count; i++) {
        p->part_of[p->list[i]] = (uint32_t)p->parts;
        p->side[p->list[i]] = i >= of.first + of.count / 2;
    }
    size_t count = find_crossings(p, of);
    qsort(p->crossings, count, sizeof *p->crossings, by_count);
    take_needed(p, count);
    uint32_t needed = weigh_border(p, count), weight[2];
    for (unsigned char side = 0; side < 2; side++) {
        take_side(p, count, side);
        weight[side] = weigh_border(p, count);
    }
    if (needed < weight[0] && needed < weight[1]) return take_needed(p, count), needed;
    unsigned char lighter = weight[1] < weight[0];
    take_side(p, count, lighter);
    return weight[lighter];
}

/* Rearranges the part: one half, the other, those between, which get the part's rank. */
static void set_apart(parting *p, part of) {
    size_t count[3] = {0}, at[3];
    for (size_t i = of.first; i < of.first + of.count; i++) {
        uint32_t v = p->list[i];
        p->work[i] = v;
        count[p->border[v] ? 2 : p->side[v]]++;
        if (p->border[v]) p->rank[v] = -p->parts;
    }
    at[0] = of.first, at[1] = at[0] + count[0], at[2] = at[1] + count[1];
    p->waiting[p->waiting_count++] = (part){at[0], count[0]};
    p->waiting[p->waiting_count++] = (part){at[1], count[1]};
    for (size_t i = of.first; i < of.first + of.count; i++) {
        uint32_t v = p->work[i];
        p->list[at[p->border[v] ? 2 : p->side[v]]++] = v;
    }
}

/* Parts get their numbers as they are come to, so those that are parted later, and lie within, come earlier. */
static void dissect(parting *p) {
    while (p->waiting_count > 0) {
        part of = p->waiting[--p->waiting_count];
        if (of.count == 0) continue;
        p->parts++;
        bool whole = of.count <= SMALL;
        if (!whole) {
            halve(p, of, longer_side(p, of));
            whole = (double)find_border(p, of) > MOST_BETWEEN * (double)of.count;
        }
        if (!whole) set_apart(p, of);
        for (size_t i = of.first; whole && i < of.first + of.count; i++) p->rank[p->list[i]] = -p->parts;
    }
}

static bool make_parting(parting *p, const mst_graph *g, mst_arena *scratch) {
    size_t n = g->nodes + 1;
    *p = (parting){.graph = g,
                   .list = mst_arena_array(scratch, n, sizeof *p->list),
                   .work = mst_arena_array(scratch, n, sizeof *p->work),
                   .side = mst_arena_array(scratch, n, 1),
                   .border = mst_arena_array(scratch, n, 1),
                   .part_of = mst_arena_array(scratch, n, sizeof *p->part_of),
                   .crossings = mst_arena_array(scratch, n, sizeof *p->crossings),
                   .rank = mst_arena_array(scratch, n, sizeof *p->rank),
                   .waiting = mst_arena_array(scratch, n, sizeof *p->waiting),
                   .waiting_count = 1};
    if (!p->list || !p->work || !p->side || !p->border || !p->part_of || !p->crossings || !p->rank || !p->waiting)
        return false;
    for (uint32_t v = 0; v < g->nodes; v++) p->list[v] = v;
    p->waiting[0] = (part){0, g->nodes};
    return true;
}

bool mst_order_find(const mst_graph *g, mst_arena *scratch, int order[]) {
    int n = (int)g->nodes;
    parting p;
    if (n == 0) return true;
    if (!g->place || n <= SMALL) return amd_order(n, g->start, g->other, order, NULL, NULL) >= AMD_OK;
    if (!make_parting(&p, g, scratch)) return false;
    if (complete_places(g, p.border)) dissect(&p);
    if (p.parts < 2) return amd_order(n, g->start, g->other, order, NULL, NULL) >= AMD_OK;
    for (int v = 0; v < n; v++) p.rank[v] += p.parts;
    return camd_order(n, g->start, g->other, order, NULL, NULL, p.rank) >= CAMD_OK;
}
