/* What the checks say of the ground inside the facets: where points stand above the ground drawn without them, the
 * triangles cut off a top. The best linear prediction of the rest in the facets from the rests at the points (universal
 * kriging with a linear drift, as the checks carry no level and no slope; Chiles and Delfiner, chapter 3). Large
 * grounds go in blocks along the curve: each facet is foreseen by the checks of its own block. */
#include "ground/foresee.h"
#include <stdlib.h>

enum { FACETS_MOST = 40000 }; /* beyond, the ground is so dense that nothing is gained */

typedef struct seer {
    mst_seer base;
    const mst_rest *rests;
    size_t count;
    uint32_t *chosen; /* rests of one block */
    double *x[2];     /* [MST_SEER_BLOCK] */
} seer;

size_t mst_seer_first(const mst_seer *s, size_t block) { return block * s->ground->check_count / s->blocks; }

mst_status mst_seer_make(mst_seer *s, const mst_ground *g, mst_arena *arena) {
    *s = (mst_seer){.ground = g, .blocks = (g->check_count + MST_SEER_BLOCK - 1) / MST_SEER_BLOCK};
    s->block_of = mst_arena_array(arena, g->corner_count + 1, sizeof *s->block_of);
    s->v = mst_arena_array(arena, MST_SEER_BLOCK * MST_SEER_BLOCK, sizeof *s->v);
    if (!s->block_of || !s->v) return MST_NO_MEMORY;
    for (size_t b = 0; b < s->blocks; b++)
        for (size_t i = mst_seer_first(s, b); i < mst_seer_first(s, b + 1); i++)
            s->block_of[g->checks[i].corner[0]] = (uint32_t)b + 1;
    return MST_OK;
}

size_t mst_seer_block(const mst_seer *s, uint32_t facet) {
    for (int k = 0; k < 3; k++)
        if (s->block_of[s->ground->facets[facet][k]]) return s->block_of[s->ground->facets[facet][k]] - 1;
    return s->blocks == 1 ? 0 : s->blocks;
}

bool mst_seer_factor(const mst_seer *s, size_t first, size_t count) {
    const mst_ground *g = s->ground;
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j <= i; j++) {
            const mst_check *a = &g->checks[first + i], *b = &g->checks[first + j];
            double v = mst_checks_covary(g, a, b, g->roughness.kernel);
            if (g->level_variance) v += mst_checks_share(a, b, g->level_variance);
            s->v[i * MST_SEER_BLOCK + j] = v;
        }
    return mst_dense_factor(s->v, count, MST_SEER_BLOCK);
}

static mst_status make(seer *s, mst_arena *arena) {
    s->chosen = mst_arena_array(arena, s->count + 1, sizeof *s->chosen);
    for (int k = 0; k < 2; k++) s->x[k] = mst_arena_array(arena, MST_SEER_BLOCK, sizeof *s->x[k]);
    return s->chosen && s->x[0] && s->x[1] ? MST_OK : MST_NO_MEMORY;
}

/* Covariance of the nodes' two sums with a check. */
static void covary(const seer *s, const mst_node nodes[], size_t count, const mst_check *c, double sum[2]) {
    const mst_ground *g = s->base.ground;
    const double *origin = g->corners[0].at;
    sum[0] = sum[1] = 0;
    for (int k = 0; k < 4; k++) {
        const double at[2] = {g->corners[c->corner[k]].at[0] - origin[0], g->corners[c->corner[k]].at[1] - origin[1]};
        double seen[2] = {0, 0};
        for (size_t i = 0; i < count; i++) {
            double de = nodes[i].at[0] - at[0], dn = nodes[i].at[1] - at[1];
            double v = mst_covariance_at(g->roughness.kernel, de * de + dn * dn);
            seen[0] += nodes[i].weight[0] * v, seen[1] += nodes[i].weight[1] * v;
        }
        for (int x = 0; x < 2; x++) sum[x] += c->share[k] * seen[x];
    }
}

/* Weights of one block's checks in both sums, as rests to be taken off. */
static mst_status foresee_block(seer *s, size_t block, size_t chosen, mst_node nodes[], mst_rest out[],
                                double shift[2]) {
    const mst_ground *g = s->base.ground;
    size_t first = mst_seer_first(&s->base, block), count = mst_seer_first(&s->base, block + 1) - first;
    if (chosen == 0 || !mst_seer_factor(&s->base, first, count)) return MST_NO;
    size_t n = mst_rest_nodes(s->rests, s->chosen, chosen, nodes);
    for (size_t i = 0; i < count; i++) {
        double sum[2];
        covary(s, nodes, n, &g->checks[first + i], sum);
        s->x[0][i] = sum[0], s->x[1][i] = sum[1];
    }
    for (int k = 0; k < 2; k++) {
        mst_dense_forward(s->base.v, count, MST_SEER_BLOCK, s->x[k]);
        mst_dense_back(s->base.v, count, MST_SEER_BLOCK, s->x[k]);
    }
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &g->checks[first + i];
        mst_rest_of_check(g, c, s->x[0][i], s->x[1][i], &out[i]);
        shift[0] -= s->x[0][i] * c->rest_m / c->scale, shift[1] -= s->x[1][i] * c->rest_m / c->scale;
    }
    return MST_OK;
}

mst_status mst_foresee(const mst_ground *ground, const mst_rest rests[], size_t count, mst_arena *arena,
                       mst_rest **checks, size_t *check_count, double shift[2]) {
    seer s = {.rests = rests, .count = count};
    shift[0] = shift[1] = 0;
    *check_count = 0;
    *checks = NULL;
    if (count > FACETS_MOST || ground->check_count == 0) return MST_OK;
    mst_node *nodes = mst_arena_array(arena, MST_NODES * count + 1, sizeof *nodes);
    *checks = mst_arena_array(arena, ground->check_count + 1, sizeof **checks);
    uint32_t *by_block, *start;
    if (!nodes || !*checks || mst_seer_make(&s.base, ground, arena) || make(&s, arena)) return MST_NO_MEMORY;
    by_block = mst_arena_array(arena, count + 1, sizeof *by_block);
    start = mst_arena_array(arena, s.base.blocks + 3, sizeof *start);
    if (!by_block || !start) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++) start[(by_block[i] = (uint32_t)mst_seer_block(&s.base, rests[i].facet)) + 2]++;
    for (size_t b = 0; b < s.base.blocks; b++) start[b + 2] += start[b + 1];
    uint32_t *sorted = s.chosen;
    for (uint32_t i = 0; i < count; i++) sorted[start[by_block[i] + 1]++] = i;
    for (size_t b = 0; b < s.base.blocks; b++) {
        s.chosen = sorted + start[b];
        if (foresee_block(&s, b, start[b + 1] - start[b], nodes, *checks + *check_count, shift) == MST_OK)
            *check_count += mst_seer_first(&s.base, b + 1) - mst_seer_first(&s.base, b);
    }
    return MST_OK;
}
