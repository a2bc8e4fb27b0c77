/* Triangles are taken in blocks, in the order of the memory. The ground knows the lowest and the highest level of each
 * block, so those between two contours are never looked at. Of the others a level gets a mask of the triangles that it
 * crosses: made without a branch, because which these are cannot be foretold, and small enough to stay near, so that
 * the number of a neighbour's crossing is at hand. Crossings are numbered block by block, in a block level by level. A
 * link to a crossing that has no number yet is made from the other end. */
#include "ground/contour_crossings.h"
#include <math.h>

enum { BLOCK = MST_BAND_TRIANGLES };

typedef struct finder {
    const mst_ground *ground;
    mst_crossings *found;
    mst_arena *arena;
    size_t head_capacity;
} finder;

/* ---- which triangles ---- */

/* How many of the levels are at or under z. */
static uint32_t reached(const mst_levels *l, double z) {
    double most = (double)l->count, k = z / l->interval - (double)l->first + 1;
    k = k < 0 ? 0 : k > most ? most : k;
    double whole = (double)(int32_t)k;
    if (whole > 0 && (double)(l->first + (int64_t)whole - 1) * l->interval > z) whole--; /* rounding: one at most */
    if (whole < most && (double)(l->first + (int64_t)whole) * l->interval <= z) whole++;
    return (uint32_t)whole;
}

static bool find_blocks(mst_crossings *c, const mst_ground *g, mst_arena *arena) {
    c->block_count = (g->triangle_count + BLOCK - 1) / BLOCK;
    c->blocks = mst_arena_array(arena, c->block_count + 1, sizeof *c->blocks);
    if (!c->blocks) return false;
    size_t slices = 0;
    for (size_t b = 0; b < c->block_count; b++) {
        uint32_t low = reached(&c->levels, g->bands[b].lowest_m), high = reached(&c->levels, g->bands[b].highest_m);
        c->blocks[b] = (mst_level_block){(uint32_t)slices, low};
        slices += high - low;
        if (slices >= MST_NOWHERE / BLOCK) return false;
    }
    c->blocks[c->block_count] = (mst_level_block){(uint32_t)slices, 0};
    c->slice_count = slices;
    return true;
}

/* Lowest and highest corners of the triangles of a block. */
typedef struct heights {
    double low[BLOCK], high[BLOCK];
} heights;

static void take_heights(const mst_ground *g, size_t block, heights *h) {
    size_t from = block * BLOCK, count = g->triangle_count - from < BLOCK ? g->triangle_count - from : BLOCK;
    for (size_t i = count; i < BLOCK; i++) h->low[i] = h->high[i] = 0;
    for (size_t i = 0; i < count; i++) {
        const uint32_t *v = g->triangles[from + i];
        double a = g->vertices[v[0]].elevation_m, b = g->vertices[v[1]].elevation_m, c = g->vertices[v[2]].elevation_m;
        double low = a < b ? a : b, high = a > b ? a : b;
        h->low[i] = low < c ? low : c, h->high[i] = high > c ? high : c;
    }
}

static uint32_t crossed_by(const heights *h, double level) {
    uint32_t mask = 0;
    for (uint32_t i = 0; i < BLOCK; i++) mask |= (uint32_t)((h->low[i] < level) & (h->high[i] >= level)) << i;
    return mask;
}

/* @return the number for the next crossing */
static uint32_t number_block(const finder *f, size_t block, uint32_t number) {
    mst_crossings *c = f->found;
    heights h;
    take_heights(f->ground, block, &h);
    uint32_t k = c->blocks[block].low;
    for (uint32_t s = c->blocks[block].first; s < c->blocks[block + 1].first; s++) {
        uint32_t mask = crossed_by(&h, mst_level(&c->levels, ++k));
        c->slices[s] = (mst_level_slice){mask, number};
        number += mst_bit_count(mask);
    }
    return number;
}

static uint32_t number_of(const mst_crossings *c, uint32_t triangle, uint32_t k) {
    const mst_level_block *b = &c->blocks[triangle / BLOCK];
    mst_level_slice s = c->slices[b->first + (k - b->low - 1)];
    return s.first + mst_bit_count(s.triangles & (((uint32_t)1 << triangle % BLOCK) - 1));
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

static bool add_head(finder *f, uint32_t first, uint32_t k, mst_contour_edge edge) {
    mst_crossings *c = f->found;
    mst_contour_head *h = MST_PUSH(f->arena, c->heads, c->head_count, f->head_capacity);
    if (!h) return false;
    *h = (mst_contour_head){.edge = edge, .first = first, .level = k};
    place_on(f->ground, edge, mst_level(&c->levels, k), h->at);
    return true;
}

static bool cross(finder *f, uint32_t triangle, uint32_t k, uint32_t number) {
    mst_crossings *c = f->found;
    const mst_ground *g = f->ground;
    const uint32_t *v = g->triangles[triangle], *beside = g->neighbours[triangle];
    double level = mst_level(&c->levels, k);
    sides s = SIDES[(g->vertices[v[0]].elevation_m >= level) | (g->vertices[v[1]].elevation_m >= level) << 1 |
                    (g->vertices[v[2]].elevation_m >= level) << 2];
    mst_contour_edge to_next = {s.up ? v[s.next] : v[s.alone], s.up ? v[s.alone] : v[s.next]},
                     to_last = {s.up ? v[s.last] : v[s.alone], s.up ? v[s.alone] : v[s.last]};
    mst_contour_edge leaves = s.up ? to_last : to_next;
    uint32_t behind = beside[s.up ? s.next : s.last], before = beside[s.up ? s.last : s.next];
    place_on(g, leaves, level, c->at[number]);
    if (c->leaves) c->leaves[number] = leaves;
    if (behind == MST_NOWHERE) c->next[number] = MST_NOWHERE;
    else if (behind / BLOCK <= triangle / BLOCK) c->next[number] = number_of(c, behind, k);
    if (before == MST_NOWHERE) return add_head(f, number, k, s.up ? to_next : to_last);
    if (before / BLOCK < triangle / BLOCK) c->next[number_of(c, before, k)] = number;
    return true;
}

static bool cross_block(finder *f, size_t block) {
    const mst_crossings *c = f->found;
    uint32_t k = c->blocks[block].low;
    for (uint32_t s = c->blocks[block].first; s < c->blocks[block + 1].first; s++) {
        uint32_t number = c->slices[s].first;
        k++;
        for (uint32_t left = c->slices[s].triangles; left; left &= left - 1)
            if (!cross(f, (uint32_t)(block * BLOCK) + mst_bit_count((left & (0 - left)) - 1), k, number++)) return false;
    }
    return true;
}

bool mst_find_crossings(const mst_ground *ground, const mst_levels *levels, bool keep_edges, mst_arena *arena,
                        mst_crossings *c) {
    *c = (mst_crossings){.levels = *levels};
    if (!find_blocks(c, ground, arena)) return false;
    size_t most = c->slice_count * BLOCK;
    c->slices = mst_arena_array(arena, c->slice_count + 1, sizeof *c->slices);
    c->at = mst_arena_array(arena, most + 1, sizeof *c->at);
    c->next = mst_arena_array(arena, most + 1, sizeof *c->next);
    if (keep_edges) c->leaves = mst_arena_array(arena, most + 1, sizeof *c->leaves);
    if (!c->slices || !c->at || !c->next || (keep_edges && !c->leaves)) return false;
    finder f = {ground, c, arena, 0};
    uint32_t number = 0;
    for (size_t b = 0; b < c->block_count; b++) {
        if (c->blocks[b].first == c->blocks[b + 1].first) continue;
        number = number_block(&f, b, number);
        if (!cross_block(&f, b)) return false;
    }
    c->count = number;
    return true;
}
