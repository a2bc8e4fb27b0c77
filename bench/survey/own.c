/* The same network through the library's own system of unknowns, as an adjustment makes and solves it. */
#include "grid.h"
#include "survey/system.h"
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static double wall(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double user(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static mst_reading reading_of(const grid_reading *g) {
    return (mst_reading){.kind = g->is_direction ? MST_READ_DIRECTION : MST_READ_DISTANCE,
                         .from = g->from,
                         .to = g->to,
                         .baseline = MST_NONE,
                         .fourth = MST_NONE,
                         .turn = g->is_direction ? g->from : MST_NONE,
                         .frame = MST_NONE,
                         .collimation = MST_NONE,
                         .value = g->is_direction ? mst_angle_turn(g->value) : g->value,
                         .sd = g->sd,
                         .up_m = NAN,
                         .used = true};
}

static bool fill(const grid *g, mst_arena *arena, mst_network *net) {
    *net =
        (mst_network){.arena = arena, .node_count = g->stations, .turn_count = g->stations, .reading_count = g->count};
    net->nodes = mst_arena_array(arena, g->stations, sizeof *net->nodes);
    net->turns = mst_arena_array(arena, g->stations, sizeof *net->turns);
    net->readings = mst_arena_array(arena, g->count, sizeof *net->readings);
    if (!net->nodes || !net->turns || !net->readings) return false;
    for (size_t k = 0; k < g->stations; k++) {
        bool held = k == 0 || k + 1 == g->stations;
        net->nodes[k] = (mst_node){.name = "",
                                   .code = "",
                                   .page = "",
                                   .e = g->e[k],
                                   .n = g->n[k],
                                   .has_plan = true,
                                   .held_e = held,
                                   .held_n = held,
                                   .unknown_h = MST_NONE};
        net->turns[k] = (mst_turn){.rad = g->turn[k], .known = true, .unknown_rate = MST_NONE};
    }
    for (size_t k = 0; k < g->count; k++) net->readings[k] = reading_of(&g->readings[k]);
    return true;
}

/* The sd of every station, by the selected inverse. */
static int find_sd(mst_system *s, grid_result *result) {
    double before = user(), sum = 0;
    if (mst_sparse_invert(s->matrix, NULL)) return 1;
    for (size_t i = 0; i < s->net->node_count; i++) {
        const mst_node *p = &s->net->nodes[i];
        if (p->unknown_e == MST_NONE) continue;
        sum += sqrt(mst_sparse_diagonal(s->matrix, p->unknown_e)) + sqrt(mst_sparse_diagonal(s->matrix, p->unknown_n));
    }
    result->inverse_user = user() - before;
    return !isfinite(sum);
}

int grid_solve_own(const grid *g, int with_sd, grid_result *result) {
    mst_arena *arena = mst_arena_new();
    mst_network net;
    mst_system system;
    mst_error error = {0};
    *result = (grid_result){.inverse_user = NAN};
    double wall0 = wall(), user0 = user();
    int failed = !arena || !fill(g, arena, &net) || mst_system_make(&net, arena, &system, &error);
    if (getenv("VERBOSE"))
        fprintf(stderr, "make %.3f, factor entries %zu\n", user() - user0, mst_sparse_size(system.matrix));
    if (!failed) failed = mst_system_solve(&system, 0, &result->iterations, &error);
    result->seconds = wall() - wall0;
    result->user = user() - user0;
    if (failed) fprintf(stderr, "%s\n", error.sentence);
    else result->cost = system.cost;
    if (!failed && with_sd) failed = find_sd(&system, result);
    mst_arena_free(arena);
    return failed;
}
