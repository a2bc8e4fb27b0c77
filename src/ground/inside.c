/* What the checks foresee inside each facet: the level by which the ground is expected to stand over the triangle at
 * the middles of its edges and at its centre, and the share of the variance that is left once that is known. The same
 * prediction as in foresee.c, written by the corners (dual kriging; J.-P. Chiles, P. Delfiner, Geostatistics, chapter
 * 3): one weight a corner serves for every place. Large grounds go in the same blocks. */
#include "ground/foresee.h"

enum { FACETS_MOST = 10000 }; /* beyond, the points are so dense that the triangles themselves will do */

typedef struct insider {
    const mst_seer *seer;
    double *weight, *seen; /* by corner: in the prediction; its covariance with a place's rest */
    bool *listed;          /* by corner: in the block's list */
    uint32_t *list;        /* corners that the block's checks hang on */
    size_t listed_count;
    double *x; /* a column of the block */
} insider;

static bool make(insider *n, const mst_seer *seer, mst_arena *arena) {
    size_t corners = seer->ground->corner_count + 1;
    *n = (insider){.seer = seer};
    n->weight = mst_arena_array(arena, corners, sizeof *n->weight);
    n->seen = mst_arena_array(arena, corners, sizeof *n->seen);
    n->listed = mst_arena_array(arena, corners, sizeof *n->listed);
    n->list = mst_arena_array(arena, corners, sizeof *n->list);
    n->x = mst_arena_array(arena, MST_SEER_BLOCK, sizeof *n->x);
    return n->weight && n->seen && n->listed && n->list && n->x;
}

/* Weights of the corners from those of the checks, V^-1 rest. */
static bool weigh(insider *n, size_t block) {
    const mst_ground *g = n->seer->ground;
    size_t first = mst_seer_first(n->seer, block), count = mst_seer_first(n->seer, block + 1) - first;
    for (size_t i = 0; i < n->listed_count; i++) n->weight[n->list[i]] = 0, n->listed[n->list[i]] = false;
    n->listed_count = 0;
    if (!mst_seer_factor(n->seer, first, count)) return false;
    for (size_t i = 0; i < count; i++) n->x[i] = g->checks[first + i].rest_m / g->checks[first + i].scale;
    mst_dense_forward(n->seer->v, count, MST_SEER_BLOCK, n->x);
    mst_dense_back(n->seer->v, count, MST_SEER_BLOCK, n->x);
    for (size_t i = 0; i < count; i++)
        for (int k = 0; k < 4; k++) {
            uint32_t c = g->checks[first + i].corner[k];
            if (!n->listed[c]) n->list[n->listed_count++] = c;
            n->listed[c] = true;
            n->weight[c] += n->x[i] * g->checks[first + i].share[k];
        }
    return true;
}

/* Covariance of the rest at a place of a facet, given by shares, with the level at a corner. */
static double covary(const mst_ground *g, const double *const corner[3], const double at[2], const double share[3],
                     const double *to) {
    double e = at[0] - to[0], n = at[1] - to[1], sum = mst_covariance_at(g->roughness.kernel, e * e + n * n);
    for (int k = 0; k < 3; k++) {
        e = corner[k][0] - to[0], n = corner[k][1] - to[1];
        sum -= share[k] * mst_covariance_at(g->roughness.kernel, e * e + n * n);
    }
    return sum;
}

/* Share of the variance in the facet's centre that the block's checks leave. */
static double share_left(insider *n, size_t block, double variance) {
    const mst_seer *s = n->seer;
    size_t first = mst_seer_first(s, block), count = mst_seer_first(s, block + 1) - first;
    double known = 0;
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &s->ground->checks[first + i];
        n->x[i] = 0;
        for (int k = 0; k < 4; k++) n->x[i] += c->share[k] * n->seen[c->corner[k]];
    }
    mst_dense_forward(s->v, count, MST_SEER_BLOCK, n->x);
    for (size_t i = 0; i < count; i++) known += n->x[i] * n->x[i];
    return variance > 0 ? fmin(fmax(1 - known / variance, 0), 1) : 1;
}

static void look(insider *n, size_t block, uint32_t facet, mst_inside *inside) {
    const mst_ground *g = n->seer->ground;
    const double *corner[3];
    double scale = mst_facet_scale(g, facet);
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    for (int i = 0; i < 4; i++) {
        double at[2] = {corner[0][0], corner[0][1]}, sum = 0;
        for (int x = 0; x < 2; x++)
            at[x] += MST_INNER_NODES[i][1] * (corner[1][x] - corner[0][x]) +
                     MST_INNER_NODES[i][2] * (corner[2][x] - corner[0][x]);
        for (size_t k = 0; k < n->listed_count; k++) {
            uint32_t c = n->list[k];
            n->seen[c] = covary(g, corner, at, MST_INNER_NODES[i], g->corners[c].at);
            sum += n->weight[c] * n->seen[c];
        }
        inside->rest_m[i] = scale * sum;
    }
    inside->left = share_left(n, block, mst_between_at(g, facet, MST_INNER_NODES[3]) / (scale * scale));
}

mst_status mst_look_inside(mst_ground *g, mst_arena *scratch, mst_arena *arena) {
    mst_seer seer;
    insider n;
    g->inside = NULL;
    if (!g->roughness.known || g->check_count == 0 || g->facet_count > FACETS_MOST) return MST_OK;
    mst_inside *inside = mst_arena_array(arena, g->facet_count + 1, sizeof *inside);
    if (!inside || mst_seer_make(&seer, g, scratch) || !make(&n, &seer, scratch)) return MST_NO_MEMORY;
    for (uint32_t f = 0; f < g->facet_count; f++) inside[f].left = 1;
    for (size_t b = 0; b < seer.blocks; b++) {
        if (!weigh(&n, b)) continue;
        for (uint32_t f = 0; f < g->facet_count; f++)
            if (mst_seer_block(&seer, f) == b) look(&n, b, f, &inside[f]);
    }
    g->inside = inside;
    return MST_OK;
}
