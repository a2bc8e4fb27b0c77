/* Cheapest levels of a square lot with the balance row: Merestone's program against Clp's own barrier on the plain
 * model (a column for each level, its cut and its fill; two rows for each node, two for each edge).
 * usage: bench_grading [SIDE]   SIDE x SIDE points 5 m apart; 224 makes 50,176 of them */
#include "merestone/works.h"
#include <coin/Clp_C_Interface.h>
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const double SPACING_M = 5, STEEPEST = 0.04, CUT = 1.0, FILL = 1.3, IMPORT = 40, CART_AWAY = 30, COMPACTED = 0.9;

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* Of this process: what a machine shared with others does not stretch. */
static double cpu(void) { return (double)clock() / CLOCKS_PER_SEC; }

static double draw(uint64_t *seed) {
    uint64_t z = (*seed += 0x9e3779b97f4a7c15u);
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return (double)((z ^ z >> 31) >> 11) / 9007199254740992.0;
}

static void make_site(int side, mst_point3 nodes[], uint32_t triangles[][3]) {
    uint64_t seed = 8;
    size_t count = 0;
    for (int i = 0; i < side * side; i++) {
        double e = SPACING_M * (i % side), n = SPACING_M * (i / side);
        nodes[i] = (mst_point3){e, n, 100 + 3 * sin(e / 40) * cos(n / 55) + 0.01 * e + 0.6 * draw(&seed)};
    }
    for (int i = 0; i + 1 < side; i++)
        for (int k = 0; k + 1 < side; k++) {
            uint32_t a = (uint32_t)(i * side + k),
                     quad[2][3] = {{a, a + 1, a + (uint32_t)side + 1}, {a, a + (uint32_t)side + 1, a + (uint32_t)side}};
            memcpy(triangles[count], quad, sizeof quad);
            count += 2;
        }
}

/* ---- the plain model ---- */

typedef struct plain {
    int *row, *column;
    double *value, *row_low, *row_high;
    int terms, rows;
} plain;

static void term(plain *p, int column, double value) {
    p->row[p->terms] = p->rows, p->column[p->terms] = column, p->value[p->terms++] = value;
}

static void end_row(plain *p, double low, double high) { p->row_low[p->rows] = low, p->row_high[p->rows++] = high; }

static double barrier(int side, const mst_point3 nodes[], const double area[]) {
    int n = side * side, columns = 3 * n + 2;
    size_t room = (size_t)n * 24;
    plain p = {malloc(room * sizeof(int)),
               malloc(room * sizeof(int)),
               malloc(room * sizeof(double)),
               malloc(room * sizeof(double)),
               malloc(room * sizeof(double)),
               0,
               0};
    for (int i = 0; i < n; i++) { /* cut >= ground - level, fill >= level - ground */
        term(&p, 3 * i, 1), term(&p, 3 * i + 1, 1), end_row(&p, nodes[i].elevation_m, DBL_MAX);
        term(&p, 3 * i, -1), term(&p, 3 * i + 2, 1), end_row(&p, -nodes[i].elevation_m, DBL_MAX);
    }
    for (int i = 0; i < n; i++) /* the same edges as the triangles': east, north, north-east */
        for (int way = 0; way < 3; way++) {
            int e = i % side + (way != 1), r = i / side + (way != 0);
            if (e >= side || r >= side) continue;
            int k = r * side + e;
            double most = STEEPEST * SPACING_M * (way == 2 ? sqrt(2) : 1);
            term(&p, 3 * i, 1), term(&p, 3 * k, -1), end_row(&p, -DBL_MAX, most);
            term(&p, 3 * i, -1), term(&p, 3 * k, 1), end_row(&p, -DBL_MAX, most);
        }
    for (int i = 0; i < n; i++) term(&p, 3 * i + 1, area[i] * COMPACTED), term(&p, 3 * i + 2, -area[i]);
    term(&p, 3 * n, 1), term(&p, 3 * n + 1, -COMPACTED), end_row(&p, 0, 0);
    int *start = calloc((size_t)columns + 2, sizeof *start), *row = malloc((size_t)p.terms * sizeof *row);
    double *value = malloc((size_t)p.terms * sizeof *value), *low = calloc((size_t)columns, sizeof *low),
           *high = malloc((size_t)columns * sizeof *high), *cost = calloc((size_t)columns, sizeof *cost);
    for (int i = 0; i < p.terms; i++) start[p.column[i] + 2]++;
    for (int c = 2; c < columns + 2; c++) start[c] += start[c - 1];
    for (int i = 0; i < p.terms; i++) {
        int to = start[p.column[i] + 1]++;
        row[to] = p.row[i], value[to] = p.value[i];
    }
    for (int c = 0; c < columns; c++) high[c] = DBL_MAX;
    for (int i = 0; i < n; i++)
        low[3 * i] = -DBL_MAX, cost[3 * i + 1] = CUT * area[i], cost[3 * i + 2] = FILL * area[i];
    cost[3 * n] = IMPORT, cost[3 * n + 1] = CART_AWAY;
    Clp_Simplex *model = Clp_newModel();
    Clp_setLogLevel(model, 0);
    Clp_loadProblem(model, columns, p.rows, start, row, value, low, high, cost, p.row_low, p.row_high);
    double began = now(), began_cpu = cpu();
    Clp_initialBarrierSolve(model);
    double taken = cpu() - began_cpu;
    printf(
        "  Clp barrier with crossover, plain model of %d columns and %d rows: %.2f s, %.2f s of processor, cost %.6f\n",
        columns, p.rows, now() - began, taken, Clp_objectiveValue(model));
    Clp_deleteModel(model);
    free(p.row), free(p.column), free(p.value), free(p.row_low), free(p.row_high);
    free(start), free(row), free(value), free(low), free(high), free(cost);
    return taken;
}

int main(int count, char *words[]) {
    int side = count > 1 ? atoi(words[1]) : 224;
    if (side < 3 || side > 400) return fprintf(stderr, "usage: bench_grading [SIDE], 3 to 400\n"), 2;
    int n = side * side;
    size_t triangle_count = 2 * (size_t)(side - 1) * (size_t)(side - 1);
    mst_point3 *nodes = malloc((size_t)n * sizeof *nodes);
    uint32_t(*triangles)[3] = malloc(triangle_count * sizeof *triangles), *all = malloc(triangle_count * sizeof *all);
    double *area = calloc((size_t)n, sizeof *area);
    make_site(side, nodes, triangles);
    for (size_t t = 0; t < triangle_count; t++) {
        all[t] = (uint32_t)t;
        for (int c = 0; c < 3; c++) area[triangles[t][c]] += SPACING_M * SPACING_M / 6;
    }
    mst_wish steepest = {
        .kind = MST_WISH_STEEPEST, .name = "steepest", .at = all, .count = triangle_count, .high = STEEPEST};
    mst_grade_input input = {nodes,     (size_t)n, (const uint32_t(*)[3])triangles,   triangle_count,
                             &steepest, 1,         {CUT, FILL, 0, IMPORT, CART_AWAY}, COMPACTED};
    mst_arena *arena = mst_arena_new();
    mst_grade grade;
    mst_error error = {0};
    printf("%d nodes, steepest %g, balance of cut and fill; Clp %s\n", n, STEEPEST, Clp_Version());
    double began = now(), began_cpu = cpu();
    if (mst_grade_solve(&input, arena, &grade, &error)) return fprintf(stderr, "%s\n", error.sentence), 1;
    double wall = now() - began, own = cpu() - began_cpu;
    printf("  mst_grade_solve: %.2f s, %.2f s of processor, in %d steps, cost %.6f, at least %.6f\n", wall, own,
           grade.steps, grade.cost, grade.least_cost);
    double peer = barrier(side, nodes, area);
    printf("  ratio of processor times %.3f\n", own / peer);
    mst_arena_free(arena);
    free(nodes), free(triangles), free(all), free(area);
    return own <= peer ? 0 : 1;
}
