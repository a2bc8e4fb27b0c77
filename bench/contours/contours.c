// Contours of a large triangulated ground, joined into lines: user time a triangle. The same ground as a grid is
// written to FILE.asc for gdal_contour beside it (run.sh).
//
//   bench_contours [--side N] [--interval M] [--rounds N] [--grid FILE.asc]
#include "merestone/ground.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

static uint64_t state = 20261125;
static double uniform(void) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (double)(state >> 11) * 0x1p-53;
}
static double level_at(double e, double n) {
    return 50 + 8 * sin(e / 41) * cos(n / 37) + 3 * sin(e / 11 + 1) * sin(n / 13) + 0.4 * sin(e / 2.3) * cos(n / 2.9);
}
static double user_seconds(void) {
    struct rusage r;
    getrusage(RUSAGE_SELF, &r);
    return (double)r.ru_utime.tv_sec + 1e-6 * (double)r.ru_utime.tv_usec;
}
static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

int main(int argc, char **argv) {
    int side = 1000, rounds = 7;
    double interval = 1;
    const char *grid = NULL;
    for (int i = 1; i + 1 < argc; i += 2) {
        if (strcmp(argv[i], "--side") == 0) side = atoi(argv[i + 1]);
        if (strcmp(argv[i], "--interval") == 0) interval = atof(argv[i + 1]);
        if (strcmp(argv[i], "--rounds") == 0) rounds = atoi(argv[i + 1]);
        if (strcmp(argv[i], "--grid") == 0) grid = argv[i + 1];
    }
    size_t count = (size_t)side * (size_t)side;
    mst_ground_point *p = malloc(count * sizeof *p);
    const double cell = 0.5;
    for (int i = 0; i < side; i++)
        for (int j = 0; j < side; j++) {
            double e = 1000 + cell * (j + 0.6 * (uniform() - 0.5)), n = 2000 + cell * (i + 0.6 * (uniform() - 0.5));
            p[(size_t)i * (size_t)side + (size_t)j] = (mst_ground_point){e, n, level_at(e, n), UINT32_MAX};
        }
    mst_arena *arena = mst_arena_new();
    mst_ground *ground;
    mst_error error = {0};
    mst_ground_input input = {.points = p, .point_count = count, .threads = 2};
    if (mst_ground_build(&input, arena, &ground, &error)) return fprintf(stderr, "%s\n", error.sentence), 1;
    mst_ground_figures figures;
    mst_ground_describe(ground, &figures);
    double times[32] = {0};
    size_t lines = 0, places = 0;
    for (int r = 0; r < rounds && r < 32; r++) {
        mst_arena *own = mst_arena_new();
        mst_contour *c;
        double before = user_seconds();
        if (mst_ground_contours(ground, interval, own, &c, &lines, &error))
            return fprintf(stderr, "%s\n", error.sentence), 1;
        times[r] = user_seconds() - before;
        places = 0;
        for (size_t i = 0; i < lines; i++) places += c[i].count;
        mst_arena_free(own);
    }
    qsort(times, (size_t)rounds, sizeof *times, by_size);
    printf("%zu points, %zu triangles, every %g m: %zu lines of %zu places, %.1f ns a triangle, %.1f ns a place "
           "(median of %d, user)\n",
           figures.points, figures.triangles, interval, lines, places,
           times[rounds / 2] * 1e9 / (double)figures.triangles, times[rounds / 2] * 1e9 / (double)places, rounds);
    // levels at places that follow each other (a grid read row by row) and at random ones, and volumes over many levels
    enum { ASKED = 1000000 };
    uint32_t hint = 0;
    double sum = 0, wide = (side - 1) * cell, before = user_seconds();
    for (int i = 0; i < ASKED; i++)
        sum += mst_ground_elevation(
            ground, (mst_point){1000 + wide * (i % 1000 + 0.5) / 1000, 2000 + wide * (i / 1000 + 0.5) / 1000}, &hint);
    double rows = user_seconds() - before;
    before = user_seconds();
    for (int i = 0; i < ASKED; i++)
        sum += mst_ground_elevation(ground, (mst_point){1000 + wide * uniform(), 2000 + wide * uniform()}, &hint);
    double random = user_seconds() - before;
    mst_volume_curve *curve;
    before = user_seconds();
    if (mst_ground_volume_curve(ground, arena, &curve, &error)) return 1;
    double making = user_seconds() - before;
    before = user_seconds();
    for (int i = 0; i < ASKED; i++)
        sum += mst_volume_at(curve, figures.lowest_m + (figures.highest_m - figures.lowest_m) * uniform()).cut_m3;
    double asking = user_seconds() - before;
    printf("levels: %.1f million a second row by row, %.1f at random; volume curve %.0f ns a triangle, then %.1f "
           "million levels a second (%g)\n",
           ASKED / rows * 1e-6, ASKED / random * 1e-6, making * 1e9 / (double)figures.triangles, ASKED / asking * 1e-6,
           sum * 0);
    if (grid) {
        FILE *f = fopen(grid, "w");
        if (!f) return 1;
        fprintf(f, "ncols %d\nnrows %d\nxllcorner 1000\nyllcorner 2000\ncellsize %g\n", side, side, cell);
        for (int i = side - 1; i >= 0; i--)
            for (int j = 0; j < side; j++)
                fprintf(f, "%.4f%c", level_at(1000 + cell * (j + 0.5), 2000 + cell * (i + 0.5)),
                        j + 1 < side ? ' ' : '\n');
        fclose(f);
    }
    mst_arena_free(arena);
    free(p);
    return 0;
}
