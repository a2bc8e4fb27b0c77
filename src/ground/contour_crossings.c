/* Triangles are taken in blocks, in the order of the memory. The ground knows the lowest and the highest level of each
 * block, so those between two contours are never looked at. Of the others a level gets a mask of the triangles that it
 * crosses: made without a branch, because which these are cannot be foretold, and small enough to stay near, so that
 * the number of a neighbour's crossing is at hand. Crossings are numbered block by block, in a block level by level. A
 * link to a crossing that has no number yet is made from its other end; one into another thread's part, at the end. */
#include "base/parallel.h"
#include "ground/contour_crossings.h"
#include <math.h>
#include <string.h>

enum { BLOCK = MST_BAND_TRIANGLES, PARTS_MOST = 64, PART_LEAST = 2048 };

/* A link into another part. */
typedef struct seam {
    uint32_t from, triangle, level;
} seam;

/* Blocks for one thread. */
typedef struct part {
    const mst_ground *ground;
    mst_crossings *found;
    const uint32_t *crossed;      /* blocks that a level crosses */
    size_t crossed_count, called; /* of these the memory was called for */
    uint32_t begin, end;          /* the blocks of the part */
    mst_arena *arena;
    mst_contour_head *heads;
    size_t head_count, head_capacity;
    seam *seams;
    size_t seam_count, seam_capacity;
    bool room;
} part;

/* ---- which triangles ---- */

/* How many of the levels are at or under z. @param inverse of the interval */
static uint32_t reached(const mst_levels *l, double inverse, double z) {
    double first = (double)l->first, most = (double)l->count, k = z * inverse - first + 1;
    k = k < 0 ? 0 : k > most ? most : k;
    double whole = (double)(int32_t)k;
    if (whole > 0 && (first + whole - 1) * l->interval > z) whole--; /* rounding: one at most */
    if (whole < most && (first + whole) * l->interval <= z) whole++;
    return (uint32_t)whole;
}

static bool find_blocks(mst_crossings *c, const mst_ground *g, mst_arena *arena) {
    c->block_count = (g->triangle_count + BLOCK - 1) / BLOCK;
    c->blocks = mst_arena_array(arena, c->block_count + 1, sizeof *c->blocks);
    c->crossed = mst_arena_array(arena, c->block_count + 1, sizeof *c->crossed);
    if (!c->blocks || !c->crossed) return false;
    double inverse = 1 / c->levels.interval;
    size_t slices = 0;
    c->crossed_count = 0;
    for (size_t b = 0; b < c->block_count; b++) {
        uint32_t low = reached(&c->levels, inverse, g->bands[b].lowest_m),
                 high = reached(&c->levels, inverse, g->bands[b].highest_m);
        c->blocks[b] = (mst_level_block){(uint32_t)slices, low};
        slices += high - low;
        c->crossed[c->crossed_count] = (uint32_t)b;
        c->crossed_count += high > low;
        if (slices >= MST_NOWHERE / BLOCK) return false;
    }
    c->blocks[c->block_count] = (mst_level_block){(uint32_t)slices, 0};
    c->slice_count = slices;
    return true;
}

/* Whether a triangle's corners are not all on one side. */
static inline uint32_t crosses(const mst_ground *g, size_t triangle, double level) {
    const uint32_t *v = g->triangles[triangle];
    bool a = g->vertices[v[0]].elevation_m >= level, b = g->vertices[v[1]].elevation_m >= level,
         c = g->vertices[v[2]].elevation_m >= level;
    return (uint32_t)((a ^ b) | (b ^ c));
}

/* The triangles of a block that a level crosses. */
static uint32_t crossed_by(const mst_ground *g, uint32_t block, double level) {
    size_t first = (size_t)block * BLOCK, left = g->triangle_count - first;
    uint32_t mask = 0;
    if (left < BLOCK)
        for (uint32_t i = 0; i < left; i++) mask |= crosses(g, first + i, level) << i;
    else
        for (uint32_t i = 0; i < BLOCK; i++) mask = mask >> 1 | crosses(g, first + i, level) << (BLOCK - 1);
    return mask;
}

/* @param number of the first crossing. @return that of the next block's first */
static uint32_t number_block(const part *p, uint32_t block, uint32_t number) {
    mst_crossings *c = p->found;
    uint32_t k = c->blocks[block].low;
    for (uint32_t s = c->blocks[block].first; s < c->blocks[block + 1].first; s++) {
        uint32_t mask = crossed_by(p->ground, block, mst_level(&c->levels, ++k));
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

/* The edges over which a level comes in and leaves: their lower and upper corners, and the corner opposite. */
typedef struct way {
    uint8_t out_lower, out_upper, out, in_lower, in_upper, in;
} way;
/* By which corners are above: bit c for corner c. */
static const way WAYS[8] = {[1] = {2, 0, 1, 1, 0, 2}, [2] = {0, 1, 2, 2, 1, 0}, [4] = {1, 2, 0, 0, 2, 1},
                            [6] = {0, 1, 2, 0, 2, 1}, [5] = {1, 2, 0, 1, 0, 2}, [3] = {2, 0, 1, 2, 1, 0}};

static bool add_head(part *p, uint32_t first, uint32_t k, mst_contour_edge edge) {
    mst_contour_head *h = MST_PUSH(p->arena, p->heads, p->head_count, p->head_capacity);
    if (!h) return false;
    *h = (mst_contour_head){.edge = edge, .first = first, .level = k};
    place_on(p->ground, edge, mst_level(&p->found->levels, k), h->at);
    return true;
}

static bool add_seam(part *p, seam link) {
    seam *s = MST_PUSH(p->arena, p->seams, p->seam_count, p->seam_capacity);
    if (s) *s = link;
    return s != NULL;
}

static bool link_on(part *p, seam link, uint32_t here) {
    uint32_t block = link.triangle / BLOCK;
    if (link.triangle == MST_NOWHERE) p->found->next[link.from] = MST_NOWHERE;
    else if (block < p->begin || block >= p->end) return add_seam(p, link);
    else if (block <= here) p->found->next[link.from] = number_of(p->found, link.triangle, link.level);
    return true;
}

/* One level over one block. */
typedef struct stretch {
    uint32_t block, k;
    double level;
} stretch;

static bool cross(part *p, const stretch *on, uint32_t triangle, uint32_t number) {
    mst_crossings *c = p->found;
    const mst_ground *g = p->ground;
    const uint32_t *v = g->triangles[triangle], *beside = g->neighbours[triangle];
    const way *w =
        &WAYS[(g->vertices[v[0]].elevation_m >= on->level) | (g->vertices[v[1]].elevation_m >= on->level) << 1 |
              (g->vertices[v[2]].elevation_m >= on->level) << 2];
    mst_contour_edge leaves = {v[w->out_lower], v[w->out_upper]};
    uint32_t before = beside[w->in];
    place_on(g, leaves, on->level, c->at[number]);
    if (c->leaves) c->leaves[number] = leaves;
    if (!link_on(p, (seam){number, beside[w->out], on->k}, on->block)) return false;
    if (before == MST_NOWHERE) return add_head(p, number, on->k, (mst_contour_edge){v[w->in_lower], v[w->in_upper]});
    if (before / BLOCK < on->block && before / BLOCK >= p->begin) c->next[number_of(c, before, on->k)] = number;
    return true;
}

static bool cross_block(part *p, uint32_t block) {
    const mst_crossings *c = p->found;
    stretch on = {block, c->blocks[block].low, 0};
    for (uint32_t s = c->blocks[block].first; s < c->blocks[block + 1].first; s++) {
        uint32_t number = c->slices[s].first;
        on.level = mst_level(&c->levels, ++on.k);
        for (uint32_t left = c->slices[s].triangles; left; left &= left - 1)
            if (!cross(p, &on, block * BLOCK + (uint32_t)__builtin_ctz(left), number++)) return false;
    }
    return true;
}

/* ---- parts ---- */

/* Calls for the memory that the blocks a little further on will want. It keeps count because compilers leave out
 * functions that do nothing but call ahead. */
static void call_ahead(part *p, size_t i) {
    enum { ROWS = 12, VERTICES = 6, LINE = 64 };
    const mst_ground *g = p->ground;
    for (; p->called < p->crossed_count && p->called < i + ROWS; p->called++) {
        size_t from = (size_t)p->crossed[p->called] * BLOCK;
        const char *corners = (const char *)g->triangles[from], *beside = (const char *)g->neighbours[from];
        for (size_t byte = 0; byte < BLOCK * sizeof *g->triangles; byte += LINE) {
            __builtin_prefetch(corners + byte);
            __builtin_prefetch(beside + byte);
        }
    }
    if (i + VERTICES >= p->crossed_count) return;
    size_t from = (size_t)p->crossed[i + VERTICES] * BLOCK;
    for (size_t t = from; t < from + BLOCK && t < g->triangle_count; t += 2) /* neighbours have the same vertices */
        for (int c = 0; c < 3; c++) __builtin_prefetch(&g->vertices[g->triangles[t][c]]);
}

static void find_part(void *context, int index) {
    part *p = (part *)context + index;
    uint32_t number = p->found->blocks[p->begin].first * BLOCK; /* no slice has more crossings than triangles */
    p->room = true;
    for (size_t i = 0; i < p->crossed_count && p->room; i++) {
        call_ahead(p, i);
        number = number_block(p, p->crossed[i], number);
        p->room = cross_block(p, p->crossed[i]);
    }
}

static bool join_parts(const part parts[], int count, mst_arena *arena, mst_crossings *c) {
    size_t heads = 0;
    for (int i = 0; i < count; i++) {
        if (!parts[i].room) return false;
        heads += parts[i].head_count;
        for (size_t k = 0; k < parts[i].seam_count; k++) {
            const seam *s = &parts[i].seams[k];
            c->next[s->from] = number_of(c, s->triangle, s->level);
        }
    }
    c->heads = mst_arena_array(arena, heads + 1, sizeof *c->heads);
    for (int i = 0; c->heads && i < count; i++) {
        if (parts[i].head_count)
            memcpy(c->heads + c->head_count, parts[i].heads, parts[i].head_count * sizeof *c->heads);
        c->head_count += parts[i].head_count;
    }
    return c->heads != NULL;
}

/* A part for each thread, with as many crossed blocks: every part touches memory of its own. */
static bool find_in_parts(const mst_ground *g, mst_arena *arena, mst_crossings *c) {
    part parts[PARTS_MOST];
    size_t wanted = g->threads > 1 ? (size_t)g->threads : 1;
    if (wanted > c->crossed_count / PART_LEAST + 1) wanted = c->crossed_count / PART_LEAST + 1;
    int count = wanted < PARTS_MOST ? (int)wanted : PARTS_MOST;
    bool room = true;
    for (int i = 0; i < count; i++) {
        size_t from = c->crossed_count * (size_t)i / (size_t)count,
               to = c->crossed_count * (size_t)(i + 1) / (size_t)count;
        parts[i] = (part){.ground = g, .found = c, .crossed = c->crossed + from, .crossed_count = to - from};
        parts[i].begin = i == 0 ? 0 : c->crossed[from];
        parts[i].end = i + 1 == count ? (uint32_t)c->block_count : c->crossed[to];
        parts[i].arena = mst_arena_new();
        room = room && parts[i].arena;
    }
    if (room) mst_parallel(g->threads, count, find_part, parts);
    room = room && join_parts(parts, count, arena, c);
    for (int i = 0; i < count; i++) mst_arena_free(parts[i].arena);
    return room;
}

bool mst_find_crossings(const mst_ground *ground, const mst_levels *levels, bool keep_edges, mst_arena *arena,
                        mst_crossings *c) {
    *c = (mst_crossings){.levels = *levels};
    if (!find_blocks(c, ground, arena)) return false;
    size_t most = c->slice_count * BLOCK + 1;
    c->slices = mst_arena_array(arena, c->slice_count + 1, sizeof *c->slices);
    c->at = mst_arena_array(arena, most, sizeof *c->at);
    c->next = mst_arena_array(arena, most, sizeof *c->next);
    if (keep_edges) c->leaves = mst_arena_array(arena, most, sizeof *c->leaves);
    if (!c->slices || !c->at || !c->next || (keep_edges && !c->leaves)) return false;
    return find_in_parts(ground, arena, c);
}
