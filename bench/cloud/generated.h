/* A generated scan as a source: rows of points over rolling ground with a bank, a ditch and a road, each point a little
 * off its place and its level. Nothing is stored; the same point comes for the same number. */
#ifndef BENCH_CLOUD_GENERATED_H
#define BENCH_CLOUD_GENERATED_H
#include "merestone/ground.h"
#include <math.h>
#include <stdlib.h>

typedef struct generated {
    uint64_t count, at;
    uint32_t columns;
    double spacing_m, noise_m; /* sd of the levels */
    double *along[2];          /* [columns] parts of the level that hang on the column alone */
} generated;

static inline uint64_t scramble(uint64_t x) { /* S. Vigna's splitmix64, public domain */
    x += 0x9E3779B97F4A7C15u;
    x = (x ^ x >> 30) * 0xBF58476D1CE4E5B9u;
    x = (x ^ x >> 27) * 0x94D049BB133111EBu;
    return x ^ x >> 31;
}
/* Nearly normal: the sum of four even ones, sd 1. */
static inline double noise_of(uint64_t bits) {
    double sum = 0;
    for (int k = 0; k < 4; k++) sum += (double)(bits >> 16 * k & 0xFFFF) / 65536;
    return (sum - 2) * 1.7320508075688772;
}
static inline double ramp(double v, double from, double to, double rise) {
    return v < from ? 0 : v > to ? rise : rise * (v - from) / (to - from);
}

static inline generated generate(uint64_t count, double spacing_m, double noise_m) {
    generated g = {count, 0, (uint32_t)ceil(sqrt((double)count)), spacing_m, noise_m, {NULL, NULL}};
    for (int k = 0; k < 2; k++) g.along[k] = malloc(g.columns * sizeof *g.along[k]);
    if (!g.along[0] || !g.along[1]) exit(3);
    for (uint32_t c = 0; c < g.columns; c++) {
        double e = c * spacing_m;
        g.along[0][c] = 3 * sin(e / 41) + 0.8 * sin(e / 13) + ramp(e, 120, 126, 2.5) - ramp(e, 200, 201, 0.6) +
                        ramp(e, 202, 203, 0.6);
        g.along[1][c] = sin(e / 29);
    }
    return g;
}

static inline mst_status generated_rewind(void *self, mst_error *error) {
    (void)error;
    ((generated *)self)->at = 0;
    return MST_OK;
}
static inline mst_status generated_read(void *self, mst_cloud_point *p, size_t room, size_t *count, mst_error *error) {
    (void)error;
    generated *g = self;
    uint64_t row = UINT64_MAX;
    double of_row = 0, with_row = 0;
    for (*count = 0; *count < room && g->at < g->count; ++*count, g->at++) {
        uint32_t c = (uint32_t)(g->at % g->columns);
        if (g->at / g->columns != row) {
            row = g->at / g->columns;
            double n = (double)row * g->spacing_m;
            of_row = 2 * cos(n / 37) + ramp(n, 80, 88, 1.5), with_row = 1.5 * cos(n / 23);
        }
        if (row & 1) c = g->columns - 1 - c; /* there and back */
        uint64_t bits = scramble(g->at);
        double level = 100 + g->along[0][c] + of_row + g->along[1][c] * with_row + g->noise_m * noise_of(bits);
        double e = 452000 + ((double)c + (double)(bits & 0xFF) / 512) * g->spacing_m,
               n = 4987000 + ((double)row + (double)(bits >> 8 & 0xFF) / 512) * g->spacing_m;
        p[*count] = (mst_cloud_point){nearbyint(e * 1000) / 1000, nearbyint(n * 1000) / 1000,
                                      nearbyint(level * 1000) / 1000, 2};
    }
    return MST_OK;
}
static inline mst_cloud_source generated_source(generated *g) {
    return (mst_cloud_source){g, generated_rewind, generated_read, g->count};
}
#endif
