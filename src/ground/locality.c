/* A field is not rough everywhere alike: bank and lawn, verge and road. The roughness is scaled from place to place by
 * the mean of the checks' squares around, so far as near and far neighbours agree on it beyond chance (shrinkage, as in
 * B. Efron, C. Morris, J. Am. Statist. Ass. 70 (1975) 311-319, on logarithms because scales multiply). The walk to the
 * neighbours does not go through points on breaklines. */
#include "ground/spread.h"

enum { FEWEST = 20, AROUND_MOST = 160 };
static const double LEAST = 0.01; /* of the mean square: no ground is known to be smoother than that */

typedef struct place {
    const mst_ground *ground;
    uint32_t *start, *next, *check_at, *seen; /* corners beside each corner; check + 1 by corner; marks by check */
    double *square, *local;                   /* by check: rest over what was expected, mean 1; the scale's square */
} place;

static mst_status find_neighbours(place *p, mst_arena *arena) {
    const mst_ground *g = p->ground;
    p->start = mst_arena_array(arena, g->corner_count + 3, sizeof *p->start);
    p->next = mst_arena_array(arena, 3 * g->facet_count + 1, sizeof *p->next);
    p->check_at = mst_arena_array(arena, g->corner_count + 1, sizeof *p->check_at);
    p->seen = mst_arena_array(arena, g->check_count + 1, sizeof *p->seen);
    p->square = mst_arena_array(arena, g->check_count + 1, sizeof *p->square);
    p->local = mst_arena_array(arena, g->check_count + 1, sizeof *p->local);
    if (!p->local || !p->start || !p->next || !p->check_at || !p->seen || !p->square) return MST_NO_MEMORY;
    for (size_t f = 0; f < g->facet_count; f++)
        for (int k = 0; k < 3; k++) p->start[g->facets[f][k] + 2]++;
    for (size_t c = 0; c < g->corner_count; c++) p->start[c + 2] += p->start[c + 1];
    for (size_t f = 0; f < g->facet_count; f++)
        for (int k = 0; k < 3; k++) p->next[p->start[g->facets[f][k] + 1]++] = g->facets[f][(k + 1) % 3];
    for (uint32_t i = 0; i < g->check_count; i++) p->check_at[g->checks[i].corner[0]] = i + 1;
    return MST_OK;
}

/* Squares over their expectation, scaled to a mean of 1. */
static void set_squares(const place *p) {
    const mst_ground *g = p->ground;
    double sum = 0;
    for (size_t i = 0; i < g->check_count; i++) {
        const mst_check *c = &g->checks[i];
        double expected = mst_checks_covary(g, c, c, g->roughness.kernel);
        if (g->level_variance) expected += mst_checks_share(c, c, g->level_variance);
        p->square[i] = expected > 0 ? c->rest_m * c->rest_m / expected : 1;
        sum += p->square[i];
    }
    for (size_t i = 0; i < g->check_count; i++) p->square[i] *= sum > 0 ? (double)g->check_count / sum : 0;
}

double mst_facet_scale(const mst_ground *g, uint32_t facet) {
    double sum = 0;
    for (int k = 0; k < 3; k++) sum += g->corner_scale[g->facets[facet][k]] * g->corner_scale[g->facets[facet][k]];
    return sqrt(sum / 3);
}

/* Checks within two steps of check i, itself first; *near is how many lie within one. */
static size_t around(const place *p, uint32_t i, uint32_t list[AROUND_MOST], size_t *near) {
    size_t count = 1, from = 0;
    list[0] = i;
    p->seen[i] = i + 1;
    for (int step = 0; step < 2; step++) {
        size_t to = count;
        for (; from < to; from++) {
            uint32_t c = p->ground->checks[list[from]].corner[0];
            for (uint32_t k = p->start[c]; k < p->start[c + 1] && count < AROUND_MOST; k++) {
                uint32_t j = p->check_at[p->next[k]];
                if (j == 0 || p->seen[j - 1] == i + 1) continue;
                p->seen[j - 1] = i + 1;
                list[count++] = j - 1;
            }
        }
        if (step == 0) *near = count;
    }
    return count;
}

static double mean_of(const place *p, const uint32_t list[], size_t count) {
    double sum = 0;
    for (size_t k = 0; k < count; k++) sum += p->square[list[k]];
    return log(fmax(sum / (double)count, LEAST));
}

/* Of the logarithms of the means around each check: their mean, and the share of their variance that near and far
 * neighbours have in common. */
static double common_share(const place *p, double *mean) {
    uint32_t list[AROUND_MOST];
    double n = 0, s[3] = {0}, products = 0, squares = 0; /* sums of near, far, all */
    for (uint32_t i = 0; i < p->ground->check_count; i++) {
        size_t near, count = around(p, i, list, &near);
        if (count == near) continue;
        double a = mean_of(p, list, near), b = mean_of(p, list + near, count - near), all = mean_of(p, list, count);
        n++, s[0] += a, s[1] += b, s[2] += all;
        products += a * b, squares += all * all;
    }
    *mean = n > 0 ? s[2] / n : 0;
    if (n < FEWEST) return 0;
    double variance = squares / n - *mean * *mean, common = products / n - s[0] / n * (s[1] / n);
    return variance > 0 ? fmin(fmax(common / variance, 0), 1) : 0;
}

static void set_scales(const place *p, const mst_ground *g) {
    uint32_t list[AROUND_MOST];
    double mean, share = common_share(p, &mean), sum = 0;
    for (size_t i = 0; i < g->check_count; i++) p->seen[i] = 0;
    for (uint32_t i = 0; i < g->check_count; i++) {
        size_t near, count = around(p, i, list, &near);
        p->local[i] = exp(share * (mean_of(p, list, count) - mean));
        sum += p->local[i] / (double)g->check_count;
    }
    for (size_t i = 0; i < g->check_count; i++) p->local[i] /= sum;
}

/* A corner's scale is its check's, or the mean of those beside it, or 1. */
static void hand_on(const place *p, mst_ground *g) {
    for (size_t c = 0; c < g->corner_count; c++) {
        double sum = 0;
        int n = 0;
        g->corner_scale[c] = p->check_at[c] ? sqrt(p->local[p->check_at[c] - 1]) : 1;
        for (uint32_t k = p->start[c]; !p->check_at[c] && k < p->start[c + 1]; k++) {
            uint32_t j = p->check_at[p->next[k]];
            if (j) sum += p->local[j - 1], n++;
        }
        if (n) g->corner_scale[c] = sqrt(sum / n);
    }
    for (size_t i = 0; i < g->check_count; i++) g->checks[i].scale = sqrt(p->local[i]);
}

mst_status mst_scale_locally(mst_ground *g, mst_arena *arena) {
    place p = {.ground = g};
    if (!g->roughness.known || g->check_count < FEWEST) return MST_OK;
    if (find_neighbours(&p, arena)) return MST_NO_MEMORY;
    set_squares(&p);
    set_scales(&p, g);
    hand_on(&p, g);
    return MST_OK;
}
