#include "works/sketch.h"
#include <math.h>

static const double SNAP_M = 1e-9; /* above the rounding of a crossing, far below what anyone builds */
enum { FREE = UINT32_MAX };

static size_t slot_of(const mst_sketch *s, int64_t e, int64_t n) {
    uint64_t h = (uint64_t)e * 0x9e3779b97f4a7c15u ^ ((uint64_t)n + 0x7f4a7c15u) * 0xbf58476d1ce4e5b9u;
    h ^= h >> 29;
    return (size_t)(h * 0x94d049bb133111ebu >> 20) & (s->table_size - 1);
}

static int64_t cell(double x) { return (int64_t)floor(x / (2 * SNAP_M)); }

static void hang_up(mst_sketch *s, uint32_t place) {
    size_t at = slot_of(s, cell(s->at[place][0]), cell(s->at[place][1]));
    while (s->table[at] != FREE) at = (at + 1) & (s->table_size - 1);
    s->table[at] = place;
}

static bool make_room(mst_sketch *s) {
    if (s->table_size && s->place_count * 2 < s->table_size) return true;
    size_t size = s->table_size ? s->table_size * 2 : 64;
    while (size < s->place_count * 4) size *= 2;
    uint32_t *table = mst_arena_array(s->arena, size, sizeof *table);
    if (!table) return false;
    s->table = table;
    s->table_size = size;
    for (size_t i = 0; i < size; i++) table[i] = FREE;
    for (size_t i = 0; i < s->place_count; i++) hang_up(s, (uint32_t)i);
    return true;
}

void mst_sketch_begin(mst_sketch *s, const double (*at)[2], size_t count, mst_arena *arena) {
    *s = (mst_sketch){.arena = arena, .place_capacity = count * 2 + 16};
    s->at = mst_arena_array(arena, s->place_capacity, sizeof *s->at);
    s->failed = !s->at;
    if (s->failed) return;
    for (size_t i = 0; i < count; i++) s->at[i][0] = at[i][0], s->at[i][1] = at[i][1];
    s->place_count = count;
    s->failed = !make_room(s);
}

static uint32_t near_in(const mst_sketch *s, int64_t e, int64_t n, const double at[2]) {
    for (size_t i = slot_of(s, e, n); s->table[i] != FREE; i = (i + 1) & (s->table_size - 1)) {
        const double *p = s->at[s->table[i]];
        if (fabs(p[0] - at[0]) <= SNAP_M && fabs(p[1] - at[1]) <= SNAP_M) return s->table[i];
    }
    return FREE;
}

uint32_t mst_sketch_place(mst_sketch *s, const double at[2]) {
    if (s->failed) return 0;
    int64_t e = cell(at[0]), n = cell(at[1]);
    for (int64_t de = -1; de <= 1; de++)
        for (int64_t dn = -1; dn <= 1; dn++) {
            uint32_t found = near_in(s, e + de, n + dn, at);
            if (found != FREE) return found;
        }
    double(*to)[2] = MST_PUSH(s->arena, s->at, s->place_count, s->place_capacity);
    if (!to || !make_room(s)) return s->failed = true, 0;
    (*to)[0] = at[0], (*to)[1] = at[1];
    hang_up(s, (uint32_t)(s->place_count - 1));
    return (uint32_t)(s->place_count - 1);
}

void mst_sketch_line(mst_sketch *s, uint32_t a, uint32_t b) {
    if (a == b || s->failed) return;
    uint32_t(*to)[2] = MST_PUSH(s->arena, s->segments, s->segment_count, s->segment_capacity);
    if (!to) s->failed = true;
    else (*to)[0] = a, (*to)[1] = b;
}
