/* With the middle of the points as origin the four motions are orthogonal, so their normal matrix is diagonal. */
#include "survey/free_datum.h"
#include <math.h>
#include <string.h>

enum { EAST, NORTH, TURN, UP, MOTIONS };

struct mst_free_datum {
    const mst_network *net;
    double e, n;                 /* the middle */
    double weight[MOTIONS];      /* 1 over the motion's squares; 0 where it is not free */
    double (*moved)[3][MOTIONS]; /* [nodes] Q G / squares, by easting, northing, level */
    double common[MOTIONS][MOTIONS];
};

/* How a coordinate of a point moves: in motion m, axis 0 east, 1 north, 2 up. */
static double motion_of(const mst_free_datum *f, uint32_t node, int axis, int motion) {
    const mst_node *p = &f->net->nodes[node];
    bool plan = p->has_plan && axis < 2, height = p->has_height && axis == 2;
    if (motion == UP) return height ? 1 : 0;
    if (!plan) return 0;
    if (motion == TURN) return axis == 0 ? p->n - f->n : f->e - p->e;
    return motion == axis ? 1 : 0;
}

static uint32_t unknown_of(const mst_node *p, int axis) {
    return axis == 0 ? p->unknown_e : axis == 1 ? p->unknown_n : p->unknown_h;
}

static void find_middle(mst_free_datum *f) {
    double count = 0;
    for (size_t i = 0; i < f->net->node_count; i++) {
        const mst_node *p = &f->net->nodes[i];
        if (!p->has_plan) continue;
        count++;
        f->e += (p->e - f->e) / count;
        f->n += (p->n - f->n) / count;
    }
}

static void find_weights(mst_free_datum *f, const bool is_free[MOTIONS]) {
    for (int m = 0; m < MOTIONS; m++) {
        double squares = 0;
        for (uint32_t i = 0; i < f->net->node_count; i++)
            for (int axis = 0; axis < 3; axis++) {
                double by = motion_of(f, i, axis, m);
                squares += by * by;
            }
        f->weight[m] = is_free[m] && squares > 0 ? 1 / squares : 0;
    }
}

static void find_moved(mst_free_datum *f, const mst_system *s, double solved[]) {
    for (int m = 0; m < MOTIONS; m++) {
        if (!(f->weight[m] > 0)) continue;
        memset(solved, 0, s->unknowns * sizeof *solved);
        for (uint32_t i = 0; i < f->net->node_count; i++)
            for (int axis = 0; axis < 3; axis++) {
                uint32_t u = unknown_of(&f->net->nodes[i], axis);
                if (u != MST_NONE) solved[u] += motion_of(f, i, axis, m) * f->weight[m];
            }
        mst_sparse_solve(s->matrix, solved);
        for (uint32_t i = 0; i < f->net->node_count; i++)
            for (int axis = 0; axis < 3; axis++) {
                uint32_t u = unknown_of(&f->net->nodes[i], axis);
                f->moved[i][axis][m] = u == MST_NONE ? 0 : solved[u];
            }
    }
    for (int a = 0; a < MOTIONS; a++)
        for (int b = 0; b < MOTIONS; b++)
            for (uint32_t i = 0; i < f->net->node_count; i++)
                for (int axis = 0; axis < 3; axis++)
                    f->common[a][b] += f->weight[a] * motion_of(f, i, axis, a) * f->moved[i][axis][b];
}

mst_status mst_free_datum_make(const mst_system *s, bool plan, bool turn, bool height, mst_free_datum **made,
                               mst_error *error) {
    mst_arena *arena = s->net->arena;
    mst_free_datum *f = mst_arena_alloc(arena, sizeof *f);
    double *solved = mst_arena_array(arena, s->unknowns + 1, sizeof *solved);
    if (f) f->moved = mst_arena_array(arena, s->net->node_count + 1, sizeof *f->moved);
    if (!f || !f->moved || !solved) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the free datum.");
    f->net = s->net;
    find_middle(f);
    find_weights(f, (bool[]){plan, plan, plan && turn, height});
    find_moved(f, s, solved);
    *made = f;
    return MST_OK;
}

static double corrected(const mst_free_datum *f, uint32_t node, int a, int b, double covariance) {
    for (int m = 0; m < MOTIONS; m++) {
        double by_a = motion_of(f, node, a, m), by_b = motion_of(f, node, b, m);
        covariance -= f->moved[node][a][m] * by_b + by_a * f->moved[node][b][m];
        for (int k = 0; k < MOTIONS; k++) covariance += by_a * f->common[m][k] * motion_of(f, node, b, k);
    }
    return covariance;
}

void mst_free_datum_point(const mst_free_datum *f, uint32_t node, double c[4]) {
    c[0] = fmax(corrected(f, node, 0, 0, c[0]), 0);
    c[1] = corrected(f, node, 0, 1, c[1]);
    c[2] = fmax(corrected(f, node, 1, 1, c[2]), 0);
    c[3] = fmax(corrected(f, node, 2, 2, c[3]), 0);
}

void mst_free_datum_project(const mst_free_datum *f, double (*by)[3], double gradient[]) {
    double sum[MOTIONS] = {0};
    for (uint32_t i = 0; i < f->net->node_count; i++)
        for (int axis = 0; axis < 3; axis++)
            for (int m = 0; by[i][axis] != 0 && m < MOTIONS; m++) sum[m] += by[i][axis] * motion_of(f, i, axis, m);
    for (uint32_t i = 0; i < f->net->node_count; i++)
        for (int axis = 0; axis < 3; axis++) {
            uint32_t u = unknown_of(&f->net->nodes[i], axis);
            for (int m = 0; u != MST_NONE && m < MOTIONS; m++)
                gradient[u] -= motion_of(f, i, axis, m) * f->weight[m] * sum[m];
        }
}

void mst_free_datum_settle(const mst_free_datum *f, double (*moved)[3]) {
    double sum[MOTIONS] = {0};
    for (uint32_t i = 0; i < f->net->node_count; i++)
        for (int axis = 0; axis < 3; axis++)
            for (int m = 0; m < MOTIONS; m++) sum[m] += moved[i][axis] * motion_of(f, i, axis, m) * f->weight[m];
    for (uint32_t i = 0; i < f->net->node_count; i++)
        for (int axis = 0; axis < 3; axis++)
            for (int m = 0; m < MOTIONS; m++) moved[i][axis] -= motion_of(f, i, axis, m) * sum[m];
}
