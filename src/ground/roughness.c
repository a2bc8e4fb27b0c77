/* The roughness by the likelihood of what the checks leave (leave_one_out.c), for each of a few laws c h^power. Large
 * sets go in blocks along the curve, whose likelihoods multiply (M. L. Stein, Z. Chi, L. J. Welty, Approximating
 * likelihoods for large spatial data sets, J. R. Statist. Soc. B 66 (2004) 275-296). All laws count with their
 * probability, so that what the points do not tell about the law widens the interval.
 *
 * Measured levels err themselves: their variance stands beside the ground's in every check. */
#include "ground/spread.h"
#include <stdlib.h>

enum {
    BLOCK = 64,
    BLOCKS_MOST = 12,
    FEWEST_CHECKS = 5, /* with fewer the points say too little of the ground between them */
    POWERS = 6,
    SCALES = 16 /* steps of the scale when the readings' own error is in play */
};
/* Powers in halves; h^2 itself is no covariance. Rough ground has low ones, a mown bank high ones. */
static const int HALVES[POWERS] = {1, 2, 3, 5, 6, 7};
static const double FEWEST_FREEDOM = 4; /* below, a 95 % limit says nothing any more */
static const double STEP = 1.6;         /* between two scales */
static const double NEGLIGIBLE = 0.01;  /* readings' variance beside the checks' squares: then it is left out */
static const double IMPROBABLE = 0.01;  /* a law less likely than this is dropped */

/* One block's matrices, lower triangles, row by row. */
typedef struct block {
    size_t first, count;
} block;
typedef struct work {
    const mst_ground *ground;
    const mst_check *checks;
    const double *variance; /* by corner, of its level; NULL: none */
    block blocks[BLOCKS_MOST];
    size_t block_count, used;
    double *v, *d, *l, *x; /* [BLOCK][BLOCK] of one block: the law's, the readings', the factor, a column */
} work;

double mst_checks_covary(const mst_ground *ground, const mst_check *a, const mst_check *b,
                         const double kernel[MST_KERNEL_TERMS]) {
    double sum = 0;
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++) {
            const double *p = ground->corners[a->corner[i]].at, *q = ground->corners[b->corner[j]].at;
            double de = p[0] - q[0], dn = p[1] - q[1];
            sum += a->share[i] * b->share[j] * mst_covariance_at(kernel, de * de + dn * dn);
        }
    return sum;
}

double mst_checks_share(const mst_check *a, const mst_check *b, const double variance[]) {
    double sum = 0;
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++)
            if (a->corner[i] == b->corner[j]) sum += a->share[i] * b->share[j] * variance[a->corner[i]];
    return sum / (a->scale * b->scale);
}

/* ---- one block ---- */

static void fill(const work *w, const block *b, const double kernel[MST_KERNEL_TERMS]) {
    const mst_check *c = w->checks + b->first;
    for (size_t i = 0; i < b->count; i++)
        for (size_t j = 0; j <= i; j++) {
            w->v[i * BLOCK + j] = mst_checks_covary(w->ground, &c[i], &c[j], kernel);
            w->d[i * BLOCK + j] = w->variance ? mst_checks_share(&c[i], &c[j], w->variance) : 0;
        }
}

/* Log determinant and rest' (scale V + part D)^-1 rest. @return false when rounding leaves no positive matrix */
static bool weigh(const work *w, const block *b, double scale, double part, double *log_det, double *square) {
    for (size_t i = 0; i < b->count; i++) {
        w->x[i] = w->checks[b->first + i].rest_m / w->checks[b->first + i].scale;
        for (size_t j = 0; j <= i; j++) w->l[i * BLOCK + j] = scale * w->v[i * BLOCK + j] + part * w->d[i * BLOCK + j];
    }
    if (!mst_dense_factor(w->l, b->count, BLOCK)) return false;
    mst_dense_forward(w->l, b->count, BLOCK, w->x);
    *log_det = *square = 0;
    for (size_t i = 0; i < b->count; i++) {
        *square += w->x[i] * w->x[i];
        *log_det += 2 * log(w->l[i * BLOCK + i]);
    }
    return true;
}

/* ---- one law ---- */

/* What the checks say of a law: the log of its probability, and its mean scale. */
typedef struct verdict {
    double log_likelihood, scale;
} verdict;

static void only(int halves, double kernel[MST_KERNEL_TERMS]) {
    for (int k = 0; k < MST_KERNEL_TERMS; k++) kernel[k] = 0;
    kernel[halves] = halves < 4 ? -1 : 1;
}

/* Without readings' errors the scale can be integrated out (flat in its logarithm). */
static bool judge_plainly(work *w, int halves, verdict *v) {
    double kernel[MST_KERNEL_TERMS], log_det = 0, square = 0, n = (double)w->used;
    only(halves, kernel);
    for (size_t i = 0; i < w->block_count; i++) {
        double one, two;
        fill(w, &w->blocks[i], kernel);
        if (!weigh(w, &w->blocks[i], 1, 0, &one, &two)) return false;
        log_det += one, square += two;
    }
    v->scale = square / fmax(n - 2, 1);
    v->log_likelihood = square > 0 ? -log_det / 2 - n / 2 * log(square) : -HUGE_VAL;
    return true;
}

/* With them, the sum over scales from a little above the plain one downward. */
static bool judge_beside_readings(work *w, int halves, double plain, verdict *v) {
    double kernel[MST_KERNEL_TERMS], likelihood[SCALES] = {0}, top = -HUGE_VAL, sum = 0, mean = 0;
    only(halves, kernel);
    for (size_t i = 0; i < w->block_count; i++) {
        fill(w, &w->blocks[i], kernel);
        double scale = plain * STEP * STEP;
        for (int s = 0; s < SCALES; s++, scale /= STEP) {
            double log_det, square;
            if (!weigh(w, &w->blocks[i], scale, 1, &log_det, &square)) return false;
            likelihood[s] -= (log_det + square) / 2;
        }
    }
    for (int s = 0; s < SCALES; s++) top = fmax(top, likelihood[s]);
    double scale = plain * STEP * STEP;
    for (int s = 0; s < SCALES; s++, scale /= STEP) {
        sum += exp(likelihood[s] - top);
        mean += scale * exp(likelihood[s] - top);
    }
    *v = (verdict){top + log(sum), mean / sum};
    return true;
}

/* ---- all laws ---- */

static void choose_blocks(work *w, size_t count) {
    size_t blocks = (count + BLOCK - 1) / BLOCK, most = blocks < BLOCKS_MOST ? blocks : BLOCKS_MOST;
    for (size_t i = 0; i < most; i++) {
        size_t at = most < blocks ? i * blocks / most : i; /* evenly along the curve */
        size_t first = at * count / blocks, end = (at + 1) * count / blocks;
        w->blocks[w->block_count++] = (block){first, end - first};
        w->used += end - first;
    }
}

static bool readings_matter(const work *w, size_t count) {
    double readings = 0, squares = 0;
    for (size_t i = 0; w->variance && i < count; i++) {
        readings += mst_checks_share(&w->checks[i], &w->checks[i], w->variance);
        squares += w->checks[i].rest_m * w->checks[i].rest_m / (w->checks[i].scale * w->checks[i].scale);
    }
    return readings > NEGLIGIBLE * squares;
}

static void mix(const verdict v[POWERS], const bool good[POWERS], mst_roughness *r) {
    double top = -HUGE_VAL, sum = 0, power = 0;
    for (int p = 0; p < POWERS; p++)
        if (good[p]) top = fmax(top, v[p].log_likelihood);
    for (int p = 0; p < POWERS; p++)
        if (good[p] && v[p].log_likelihood > top + log(IMPROBABLE)) sum += exp(v[p].log_likelihood - top);
    for (int p = 0; p < POWERS; p++) {
        if (!good[p] || !(v[p].log_likelihood > top + log(IMPROBABLE))) continue;
        double weight = exp(v[p].log_likelihood - top) / sum;
        r->kernel[HALVES[p]] = (HALVES[p] < 4 ? -weight : weight) * v[p].scale;
        power += weight * HALVES[p] / 2;
    }
    r->power = power;
    r->known = sum > 0;
}

/* The likelihood judges the law; how large it is, the checks' own squares say: their sum is what it was expected to be.
 * So a few banks in smooth ground count for what they are. */
static void match_squares(const work *w, size_t count, double kernel[MST_KERNEL_TERMS]) {
    double squares = 0, readings = 0, expected = 0;
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &w->checks[i];
        double part = c->scale * c->scale;
        squares += c->rest_m * c->rest_m;
        expected += part * mst_checks_covary(w->ground, c, c, kernel);
        if (w->variance) readings += part * mst_checks_share(c, c, w->variance);
    }
    double factor = expected > 0 ? (squares - readings) / expected : 1;
    if (factor > 1 || readings == 0)
        for (int k = 0; k < MST_KERNEL_TERMS; k++) kernel[k] *= factor;
}

/* Standard normal: what is expected above 0 of a level u standard deviations below it. */
double mst_expected_above(double u) { return exp(-u * u / 2) / sqrt(2 * MST_PI) - u * erfc(u / sqrt(2)) / 2; }

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Degrees of freedom with the variance that the mean of the checks' squares shows: long tails leave fewer (matching
 * moments, after F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110-114). */
static double weight_of(const work *w, size_t count, const double kernel[MST_KERNEL_TERMS]) {
    double sum = 0, squares = 0, n = (double)count;
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &w->checks[i];
        double expected = mst_checks_covary(w->ground, c, c, kernel);
        if (w->variance) expected += mst_checks_share(c, c, w->variance);
        double q = expected > 0 ? c->rest_m * c->rest_m / (c->scale * c->scale * expected) : 0;
        sum += q, squares += q * q;
    }
    double variance = sum > 0 ? squares * n / (sum * sum) - 1 : 2; /* of squares with mean 1; 2 when normal */
    return fmin(fmax(2 * n / fmax(variance, 2), FEWEST_FREEDOM), n);
}

/* How much of the crossings that a normal law expects the checks show, at levels spread as the ground's own are. Rests
 * are not normal: a plain with a few steep banks has large ones, but not where most of its levels lie. */
static mst_status measure_crossings(const work *w, size_t count, mst_arena *arena, mst_roughness *r) {
    enum { LEVELS = 24 };
    double *level = mst_arena_array(arena, count + 1, sizeof *level), seen = 0, expected = 0;
    if (!level) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++) level[i] = w->ground->corners[w->checks[i].corner[0]].elevation_m;
    qsort(level, count, sizeof *level, by_size);
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &w->checks[i];
        double z = w->ground->corners[c->corner[0]].elevation_m, drawn = z - c->rest_m;
        double sd = c->scale * sqrt(fmax(mst_checks_covary(w->ground, c, c, r->kernel), 0));
        for (int k = 0; k < LEVELS && sd > 0; k++) {
            double at = level[(size_t)((k + 0.5) / LEVELS * (double)count)], d = fabs(drawn - at);
            seen += (drawn > at) != (z > at) ? fabs(z - at) : 0;
            expected += sd * mst_expected_above(d / sd);
        }
    }
    r->crossings = expected > 0 ? seen / expected : 1;
    return MST_OK;
}

/* Variance of each corner's level, from those of the points behind it. */
static double *level_variances(const mst_ground *g, const mst_adjustment *a, mst_arena *arena) {
    double *variance = mst_arena_array(arena, g->corner_count + 1, sizeof *variance);
    for (size_t c = 0; variance && c < g->corner_count; c++)
        for (uint32_t k = 0; k < g->corners[c].weight_count; k++) {
            const mst_weight *w = &g->weights[g->corners[c].weight_first + k];
            if (w->source >= a->point_count || !(a->points[w->source].sd_elevation_m > 0)) continue;
            double sd = w->share * a->points[w->source].sd_elevation_m;
            variance[c] += sd * sd;
        }
    return variance;
}

static mst_status estimate(const mst_ground *g, mst_arena *arena, mst_roughness *r) {
    const mst_check *checks = g->checks;
    size_t count = g->check_count;
    double squares = 0;
    *r = (mst_roughness){0};
    for (size_t i = 0; i < count; i++) squares += checks[i].rest_m * checks[i].rest_m;
    r->checks = count;
    r->rms_m = count ? sqrt(squares / (double)count) : NAN;
    if (count < FEWEST_CHECKS) return MST_OK;
    if (squares == 0) { /* a plane, exactly: as smooth as it can be */
        r->known = true;
        return MST_OK;
    }
    work w = {.ground = g, .checks = checks, .variance = g->level_variance};
    double *room = mst_arena_array(arena, 3 * BLOCK * BLOCK + BLOCK, sizeof *room);
    if (!room) return MST_NO_MEMORY;
    w.v = room, w.d = room + BLOCK * BLOCK, w.l = room + 2 * BLOCK * BLOCK, w.x = room + 3 * BLOCK * BLOCK;
    choose_blocks(&w, count);
    bool beside = readings_matter(&w, count), good[POWERS];
    verdict v[POWERS];
    for (int p = 0; p < POWERS; p++) {
        good[p] = judge_plainly(&w, HALVES[p], &v[p]);
        if (good[p] && beside) good[p] = judge_beside_readings(&w, HALVES[p], v[p].scale, &v[p]);
    }
    mix(v, good, r);
    match_squares(&w, count, r->kernel);
    r->degrees_of_freedom = weight_of(&w, count, r->kernel);
    return measure_crossings(&w, count, arena, r);
}

mst_status mst_ground_trust(mst_ground *ground, const mst_adjustment *adjustment, mst_arena *arena, mst_error *error) {
    mst_arena *own = mst_arena_new();
    bool room = own && !mst_leave_one_out(ground, own, arena, &ground->checks, &ground->check_count);
    if (room && adjustment) room = (ground->level_variance = level_variances(ground, adjustment, arena)) != NULL;
    if (room) room = (ground->corner_scale = mst_arena_array(arena, ground->corner_count + 1, sizeof(double))) != NULL;
    for (size_t c = 0; room && c < ground->corner_count; c++) ground->corner_scale[c] = 1;
    if (room) room = estimate(ground, own, &ground->roughness) == MST_OK;
    if (room) room = mst_scale_locally(ground, own) == MST_OK;
    if (room) room = estimate(ground, own, &ground->roughness) == MST_OK; /* the law once more, with the scales out */
    if (room) room = mst_look_inside(ground, own, arena) == MST_OK;
    mst_arena_free(own);
    return room ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
}

const mst_roughness *mst_ground_roughness(const mst_ground *ground) { return &ground->roughness; }

double mst_between_at(const mst_ground *g, uint32_t facet, const double share[3]) {
    const double *corner[3];
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    double at[2] = {0, 0}, variance = 0;
    for (int x = 0; x < 2; x++) /* from the first corner: no digits go to the grid's size */
        at[x] = share[1] * (corner[1][x] - corner[0][x]) + share[2] * (corner[2][x] - corner[0][x]);
    for (int i = 0; i < 3; i++) {
        double e = corner[i][0] - corner[0][0], n = corner[i][1] - corner[0][1];
        double de = e - at[0], dn = n - at[1];
        variance -= 2 * share[i] * mst_covariance_at(g->roughness.kernel, de * de + dn * dn);
        for (int j = 0; j < i; j++) {
            de = corner[i][0] - corner[j][0], dn = corner[i][1] - corner[j][1];
            variance += 2 * share[i] * share[j] * mst_covariance_at(g->roughness.kernel, de * de + dn * dn);
        }
    }
    double scale = mst_facet_scale(g, facet);
    return scale * scale * fmax(variance, 0);
}

double mst_ground_between(const mst_ground *g, mst_point p) {
    const double at[2] = {p.easting_m, p.northing_m};
    if (!g->roughness.known || !isfinite(at[0]) || !isfinite(at[1])) return NAN;
    uint32_t t = mst_triangle_at(&g->tree, (const uint32_t(*)[3])g->triangles, g->vertices, sizeof *g->vertices, at);
    if (t == MST_NOWHERE) return NAN;
    const double *corner[3];
    double share[3];
    mst_corners_of(g->facets[g->facet_of[t]], g->corners, sizeof *g->corners, corner);
    mst_shares_at(corner, at, share);
    return mst_between_at(g, g->facet_of[t], share);
}
