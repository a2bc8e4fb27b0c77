/* The points of a cloud by square tiles, in blocks: in memory as long as the options allow, then in the store. Groups
 * of blocks whose tiles follow each other along a Morton curve are what the thinning works on at a time; a crowded tile
 * makes several groups. */
#include "ground/cloud.h"
#include <stdlib.h>
#include <string.h>

static const size_t MEMORY_POINTS = 4000000;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory to sort the cloud into tiles.");
}

static int by_code(const void *a, const void *b) {
    const uint64_t *p = a, *q = b;
    return *p < *q ? -1 : *p > *q;
}

static bool rank_tiles(mst_tiles *t, uint32_t count) {
    uint64_t *codes = mst_arena_array(t->arena, count, sizeof *codes);
    t->tile_of_rank = mst_arena_array(t->arena, count, sizeof *t->tile_of_rank);
    t->rank_of_tile = mst_arena_array(t->arena, count, sizeof *t->rank_of_tile);
    if (!codes || !t->tile_of_rank || !t->rank_of_tile) return false;
    for (uint32_t i = 0; i < count; i++)
        codes[i] = (uint64_t)mst_morton(i % t->cells.columns, i / t->cells.columns) << 32 | i;
    qsort(codes, count, sizeof *codes, by_code);
    for (uint32_t r = 0; r < count; r++) {
        t->tile_of_rank[r] = (uint32_t)codes[r];
        t->rank_of_tile[(uint32_t)codes[r]] = r;
    }
    return true;
}

mst_status mst_tiles_begin(mst_tiles *t, const double least[2], const double greatest[2],
                           const mst_cloud_thin_options *options, mst_arena *arena, mst_error *error) {
    *t = (mst_tiles){.arena = arena, .store = options->store};
    t->cells = mst_cells_over(least, greatest, 0, MST_TILES);
    t->memory_left = !options->store ? SIZE_MAX : options->memory_points ? options->memory_points : MEMORY_POINTS;
    uint32_t count = t->cells.columns * t->cells.rows;
    t->open = mst_arena_array(arena, count, sizeof *t->open);
    t->fill = mst_arena_array(arena, count, sizeof *t->fill);
    return t->open && t->fill && rank_tiles(t, count) ? MST_OK : no_memory(error);
}

/* Takes the open block of a tile as it is; a block in the store leaves its memory to the next one. */
static mst_status close_block(mst_tiles *t, uint32_t tile, bool to_store, mst_error *error) {
    mst_tile_block *b = MST_PUSH(t->arena, t->blocks, t->block_count, t->block_capacity);
    if (!b) return no_memory(error);
    *b = (mst_tile_block){tile, t->fill[tile], (const double(*)[3])t->open[tile], 0};
    size_t size = b->count * sizeof *t->open[tile];
    t->fill[tile] = 0;
    if (!to_store) {
        t->open[tile] = NULL;
        return MST_OK;
    }
    b->memory = NULL;
    b->stored_at = t->stored;
    t->stored += size;
    return t->store->write(t->store->self, b->stored_at, t->open[tile], size, error);
}

mst_status mst_tiles_add(mst_tiles *t, const mst_cloud_point *p, mst_error *error) {
    uint32_t tile = mst_cell_of(&t->cells, p->easting_m, p->northing_m);
    if (t->fill[tile] == MST_TILE_BLOCK) {
        bool to_store = t->memory_left < MST_TILE_BLOCK;
        mst_status status = close_block(t, tile, to_store, error);
        if (status) return status;
        if (!to_store && t->memory_left != SIZE_MAX) t->memory_left -= MST_TILE_BLOCK;
    }
    if (!t->open[tile] && !(t->open[tile] = mst_arena_array(t->arena, MST_TILE_BLOCK, sizeof *t->open[tile])))
        return no_memory(error);
    double *to = t->open[tile][t->fill[tile]++];
    to[0] = p->easting_m, to[1] = p->northing_m, to[2] = p->elevation_m;
    return MST_OK;
}

/* By rank of the tile; blocks of one tile stay in their order. */
static bool sort_blocks(mst_tiles *t) {
    uint32_t tiles = t->cells.columns * t->cells.rows;
    size_t *start = mst_arena_array(t->arena, (size_t)tiles + 1, sizeof *start);
    mst_tile_block *sorted = mst_arena_array(t->arena, t->block_count + 1, sizeof *sorted);
    if (!start || !sorted) return false;
    for (size_t i = 0; i < t->block_count; i++) start[t->rank_of_tile[t->blocks[i].tile] + 1]++;
    for (uint32_t r = 0; r < tiles; r++) start[r + 1] += start[r];
    for (size_t i = 0; i < t->block_count; i++) sorted[start[t->rank_of_tile[t->blocks[i].tile]]++] = t->blocks[i];
    t->blocks = sorted;
    return true;
}

static bool make_groups(mst_tiles *t) {
    mst_tile_group *g = NULL;
    for (size_t i = 0; i < t->block_count; i++) {
        uint32_t rank = t->rank_of_tile[t->blocks[i].tile];
        if (!g || g->count + t->blocks[i].count > MST_GROUP_POINTS) {
            g = MST_PUSH(t->arena, t->groups, t->group_count, t->group_capacity);
            if (!g) return false;
            *g = (mst_tile_group){.first_block = i, .first_rank = rank};
        }
        g->block_count++;
        g->count += t->blocks[i].count;
        g->last_rank = rank;
        if (g->count > t->largest_group) t->largest_group = g->count;
    }
    return true;
}

mst_status mst_tiles_finish(mst_tiles *t, mst_error *error) {
    uint32_t tiles = t->cells.columns * t->cells.rows;
    for (uint32_t i = 0; i < tiles; i++)
        if (t->fill[i]) {
            mst_status status = close_block(t, i, false, error);
            if (status) return status;
        }
    return sort_blocks(t) && make_groups(t) ? MST_OK : no_memory(error);
}

mst_status mst_tiles_load(const mst_tiles *t, const mst_tile_group *group, double (*points)[3], mst_error *error) {
    for (size_t i = group->first_block; i < group->first_block + group->block_count; i++) {
        const mst_tile_block *b = &t->blocks[i];
        size_t size = b->count * sizeof *points;
        mst_status status = MST_OK;
        if (b->memory) memcpy(points, b->memory, size);
        else status = t->store->read(t->store->self, b->stored_at, points, size, error);
        if (status) return status;
        points += b->count;
    }
    return MST_OK;
}
