/* Open addressing with linear probing, at most two thirds full. */
#include "merestone/base.h"
#include <string.h>

static uint64_t hash_of(const char *name) { /* FNV-1a, 64 bit */
    uint64_t hash = 14695981039346656037u;
    for (const unsigned char *c = (const unsigned char *)name; *c; c++) hash = (hash ^ *c) * 1099511628211u;
    return hash ^ hash >> 29;
}

static size_t slot_of(const mst_index *index, const char *name) {
    size_t slot = hash_of(name) & (index->capacity - 1);
    while (index->names[slot] && strcmp(index->names[slot], name) != 0) slot = (slot + 1) & (index->capacity - 1);
    return slot;
}

static bool enlarge(mst_index *index, mst_arena *arena) {
    mst_index larger = {.capacity = index->capacity ? index->capacity * 2 : 32};
    larger.names = mst_arena_array(arena, larger.capacity, sizeof *larger.names);
    larger.values = mst_arena_array(arena, larger.capacity, sizeof *larger.values);
    if (!larger.names || !larger.values) return false;
    for (size_t i = 0; i < index->capacity; i++)
        if (index->names[i]) {
            size_t slot = slot_of(&larger, index->names[i]);
            larger.names[slot] = index->names[i];
            larger.values[slot] = index->values[i];
        }
    larger.count = index->count;
    *index = larger;
    return true;
}

bool mst_index_put(mst_index *index, mst_arena *arena, const char *name, uint32_t value) {
    if (index->count * 3 >= index->capacity * 2 && !enlarge(index, arena)) return false;
    size_t slot = slot_of(index, name);
    if (!index->names[slot]) {
        index->names[slot] = name;
        index->count++;
    }
    index->values[slot] = value;
    return true;
}

uint32_t mst_index_get(const mst_index *index, const char *name) {
    if (!index->capacity) return UINT32_MAX;
    size_t slot = slot_of(index, name);
    return index->names[slot] ? index->values[slot] : UINT32_MAX;
}
