/* A grid of stations, seeded: what is measured between them, and where an adjustment starts. Shared by both sides. */
#ifndef BENCH_SURVEY_GRID_H
#define BENCH_SURVEY_GRID_H
#include <math.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#ifdef __cplusplus
extern "C" {
#endif

typedef struct grid_reading {
    uint32_t from, to;
    int is_direction; /* else a distance in plan */
    double value, sd;
} grid_reading;

typedef struct grid {
    size_t side, stations, count;
    double *e, *n,
        *turn; /* [stations] the start: off by up to 0.5 m and 5 milliradians; corners 0 and last are right */
    grid_reading *readings;
} grid;

typedef struct grid_result {
    double cost;          /* sum of squares in units of sd^2 */
    double seconds, user; /* wall and processor time of analysing and solving */
    double inverse_user;  /* of all stations' sd, beyond that; NaN where not asked */
    int iterations;
} grid_result;

grid grid_make(size_t stations);
void grid_free(grid *g);
/** Solve from the grid's start. @return 0 when it settled */
int grid_solve_own(const grid *g, int with_sd, grid_result *result);
int grid_solve_peer(const grid *g, int threads, grid_result *result);

#ifdef __cplusplus
}
#endif
#endif
