/* Chunks of doubling size, bumped through and freed together. */
#include "base/block.h"
#include "merestone/base.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ALIGNMENT = 16, FIRST_CHUNK = 16 * 1024, LARGEST_CHUNK = 16 * 1024 * 1024 };

typedef struct chunk {
    struct chunk *next;
    size_t used, size;
    _Alignas(ALIGNMENT) unsigned char bytes[];
} chunk;

struct mst_arena {
    chunk *current;
    size_t next_size;
};

mst_arena *mst_arena_new(void) {
    mst_arena *arena = malloc(sizeof *arena);
    if (arena) *arena = (mst_arena){NULL, FIRST_CHUNK};
    return arena;
}

void mst_arena_free(mst_arena *arena) {
    if (!arena) return;
    for (chunk *c = arena->current; c;) {
        chunk *next = c->next;
        mst_block_free(c, sizeof(chunk) + c->size);
        c = next;
    }
    free(arena);
}

static chunk *chunk_with(mst_arena *arena, size_t size) {
    bool alone = size > arena->next_size / 2; /* a large piece gets a chunk of its own behind the current one */
    size_t room = alone ? size : arena->next_size;
    chunk *c = mst_block_new(sizeof(chunk) + room);
    if (!c) return NULL;
    c->size = room;
    if (alone && arena->current) {
        c->next = arena->current->next;
        arena->current->next = c;
        return c;
    }
    c->next = arena->current;
    arena->current = c;
    if (arena->next_size < LARGEST_CHUNK) arena->next_size *= 2;
    return c;
}

void *mst_arena_alloc(mst_arena *arena, size_t size) {
    if (size > SIZE_MAX / 2) return NULL;
    size = (size + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
    if (size == 0) size = ALIGNMENT;
    chunk *c = arena->current;
    if (!c || c->size - c->used < size) c = chunk_with(arena, size);
    if (!c) return NULL;
    void *piece = c->bytes + c->used;
    c->used += size;
    return piece;
}

void *mst_arena_array(mst_arena *arena, size_t count, size_t size) {
    if (size != 0 && count > SIZE_MAX / 4 / size) return NULL;
    return mst_arena_alloc(arena, count * size);
}

char *mst_arena_text(mst_arena *arena, const char *text, size_t length) {
    char *copy = mst_arena_alloc(arena, length + 1);
    if (copy && length) memcpy(copy, text, length);
    return copy;
}

char *mst_arena_string(mst_arena *arena, const char *text) {
    return text ? mst_arena_text(arena, text, strlen(text)) : NULL;
}

char *mst_arena_printf(mst_arena *arena, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0) return NULL;
    char *text = mst_arena_alloc(arena, (size_t)length + 1);
    if (!text) return NULL;
    va_start(arguments, format);
    vsnprintf(text, (size_t)length + 1, format, arguments);
    va_end(arguments);
    return text;
}

void *mst_arena_grow(mst_arena *arena, void *items, size_t count, size_t *capacity, size_t size) {
    if (count < *capacity) return items;
    size_t room = *capacity ? *capacity * 2 : 16;
    void *grown = mst_arena_array(arena, room, size);
    if (!grown) return NULL;
    if (count) memcpy(grown, items, count * size);
    *capacity = room;
    return grown;
}
