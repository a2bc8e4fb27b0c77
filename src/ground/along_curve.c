/* Places along the curve of D. Hilbert, Ueber die stetige Abbildung einer Linie auf ein Flaechenstueck, Mathematische
 * Annalen 38 (1891) 459-460, so that neighbours on the ground are near each other in memory. */
#include "ground/model.h"
#include <math.h>
#include <string.h>

enum { AXIS_BITS = 16, RADIX_BITS = 11, RADIX = 1 << RADIX_BITS, PASSES = 3 };

typedef struct keyed {
    uint32_t key, item;
} keyed;

static uint32_t along(uint32_t e, uint32_t n) {
    uint32_t key = 0;
    for (uint32_t side = (uint32_t)1 << (AXIS_BITS - 1); side; side >>= 1) {
        uint32_t east = (e & side) != 0, north = (n & side) != 0, flip = 0 - (east & ~north & 1);
        key = key << 2 | ((3 * east) ^ north);
        uint32_t a = e ^ flip, b = n ^ flip; /* a quarter to the south is turned over */
        e = north ? a : b, n = north ? b : a;
    }
    return key;
}

static uint32_t step_of(double at, double low, double wide) {
    return wide > 0 ? (uint32_t)((at - low) / wide * ((1 << AXIS_BITS) - 1)) : 0;
}

/* From `from` to `to` by one digit of the keys; equal ones stay in their order. */
static void deal(const keyed from[], keyed to[], size_t count, int shift) {
    size_t start[RADIX + 1] = {0};
    for (size_t i = 0; i < count; i++) start[(from[i].key >> shift & (RADIX - 1)) + 1]++;
    for (size_t d = 0; d < RADIX; d++) start[d + 1] += start[d];
    for (size_t i = 0; i < count; i++) to[start[from[i].key >> shift & (RADIX - 1)]++] = from[i];
}

static void take_keys(const double (*places)[2], const uint32_t (*triangles)[3], const uint32_t list[], size_t count,
                      keyed keys[]) {
    double low[2] = {HUGE_VAL, HUGE_VAL}, high[2] = {-HUGE_VAL, -HUGE_VAL};
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < 2; k++) {
            const double *at = places[triangles[list[i]][0]];
            low[k] = fmin(low[k], at[k]), high[k] = fmax(high[k], at[k]);
        }
    double wide = fmax(high[0] - low[0], high[1] - low[1]);
    for (size_t i = 0; i < count; i++) {
        const uint32_t *t = triangles[list[i]];
        double at[2];
        for (int k = 0; k < 2; k++) {
            double middle = places[t[0]][k] / 3 + places[t[1]][k] / 3 + places[t[2]][k] / 3;
            at[k] = fmin(fmax(middle, low[k]), high[k]);
        }
        keys[i] = (keyed){along(step_of(at[0], low[0], wide), step_of(at[1], low[1], wide)), list[i]};
    }
}

mst_status mst_order_along_curve(const double (*places)[2], const uint32_t (*triangles)[3], uint32_t list[],
                                 size_t count) {
    mst_arena *scratch = mst_arena_new();
    keyed *keys = scratch ? mst_arena_array(scratch, count + 1, sizeof *keys) : NULL;
    keyed *spare = keys ? mst_arena_array(scratch, count + 1, sizeof *spare) : NULL;
    if (spare) {
        take_keys(places, triangles, list, count, keys);
        for (int pass = 0; pass < PASSES; pass++) {
            keyed *dealt = spare;
            deal(keys, dealt, count, pass * RADIX_BITS);
            spare = keys, keys = dealt;
        }
        for (size_t i = 0; i < count; i++) list[i] = keys[i].item;
    }
    mst_arena_free(scratch);
    return spare ? MST_OK : MST_NO_MEMORY;
}
