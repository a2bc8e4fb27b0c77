#include "grid.h"

static const double LEG_M = 200, SD_M = 0.005, SD_RAD = 1.5e-5, OFF_M = 0.5, OFF_RAD = 0.005;
static const double ORIGIN_E = 0, ORIGIN_N = 0;

static double uniform(uint64_t *state) { /* xorshift64*, (0, 1) */
    *state ^= *state >> 12;
    *state ^= *state << 25;
    *state ^= *state >> 27;
    return ((double)((*state * 2685821657736338717u) >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(uint64_t *state) { /* Box and Muller 1958 */
    double u = uniform(state), v = uniform(state);
    return sqrt(-2 * log(u)) * cos(6.283185307179586 * v);
}

static void read_line(grid *g, uint32_t from, uint32_t to, const double *e, const double *n, int both,
                      uint64_t *state) {
    double dx = e[to] - e[from], dy = n[to] - n[from];
    if (both) g->readings[g->count++] = (grid_reading){from, to, 0, hypot(dx, dy) + SD_M * normal(state), SD_M};
    double turned = atan2(dx, dy) - 0.001 * (double)(from % 6000);
    g->readings[g->count++] = (grid_reading){from, to, 1, turned + SD_RAD * normal(state), SD_RAD};
}

static void measure(grid *g, const double *e, const double *n, uint64_t *state) {
    static const int WAY[6][2] = {{1, 0}, {0, 1}, {1, 1}, {-1, 0}, {0, -1}, {-1, -1}};
    long side = (long)g->side;
    for (long i = 0; i < side; i++)
        for (long j = 0; j < side; j++)
            for (int w = 0; w < 6; w++) {
                long a = i + WAY[w][0], b = j + WAY[w][1];
                if (a < 0 || b < 0 || a >= side || b >= side) continue;
                read_line(g, (uint32_t)(i * side + j), (uint32_t)(a * side + b), e, n, w < 3, state);
            }
}

grid grid_make(size_t stations) {
    grid g = {(size_t)ceil(sqrt((double)stations)), 0, 0, NULL, NULL, NULL, NULL};
    uint64_t state = 20261125;
    g.stations = g.side * g.side;
    g.e = malloc(g.stations * sizeof *g.e);
    g.n = malloc(g.stations * sizeof *g.n);
    g.turn = malloc(g.stations * sizeof *g.turn);
    g.readings = malloc(9 * g.stations * sizeof *g.readings);
    for (size_t k = 0; k < g.stations; k++) { /* the truth: a grid that is a little uneven */
        g.e[k] = ORIGIN_E + LEG_M * (double)(k / g.side) + 20 * (uniform(&state) - 0.5);
        g.n[k] = ORIGIN_N + LEG_M * (double)(k % g.side) + 20 * (uniform(&state) - 0.5);
        g.turn[k] = 0.001 * (double)(k % 6000);
    }
    measure(&g, g.e, g.n, &state);
    for (size_t k = 0; k < g.stations; k++) {
        int held = k == 0 || k + 1 == g.stations;
        g.e[k] += held ? 0 : 2 * OFF_M * (uniform(&state) - 0.5);
        g.n[k] += held ? 0 : 2 * OFF_M * (uniform(&state) - 0.5);
        g.turn[k] += 2 * OFF_RAD * (uniform(&state) - 0.5);
    }
    return g;
}

void grid_free(grid *g) {
    free(g->e);
    free(g->n);
    free(g->turn);
    free(g->readings);
}
