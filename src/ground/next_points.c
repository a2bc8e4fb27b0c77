/* Where one more point tells most. A point at p takes from the variance at x the square of their covariance over the
 * variance at p; the sum of that over the ground around p is the point's worth. Points are taken one by one, each for
 * what the earlier ones leave (G. Matheron's kriging variance, which needs no reading to be taken; the greedy choice as
 * in A. Krause, A. Singh, C. Guestrin, J. Machine Learning Research 9 (2008) 235-284). */
#include "ground/spread.h"
#include <stdlib.h>

enum { PLACES = 4, RING = 4 }; /* centre and middles of a triangle; itself and its neighbours */

/* A place on the ground that nobody measured: level of the triangle less that of the ground there. */
typedef struct spot {
    double at[4][2], weight[4]; /* itself, then the facet's corners */
} spot;
typedef struct finder {
    const mst_ground *ground;
    spot *spots;   /* [PLACES * triangle_count] */
    double *area;  /* [triangle_count] */
    double *worth; /* [triangle_count] of a point at the centre */
    bool *stale;
    double
        *gone; /* [wanted][PLACES * triangle_count]: how much each chosen point covaries with each spot, over its sd */
    size_t count;
} finder;

static spot spot_at(const mst_ground *g, uint32_t facet, const double at[2]) {
    const double *corner[3], *origin = g->corners[0].at;
    double share[3], scale = mst_facet_scale(g, facet);
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    mst_shares_at(corner, at, share);
    spot s = {{{at[0] - origin[0], at[1] - origin[1]}}, {-scale}};
    for (int k = 0; k < 3; k++) {
        s.at[k + 1][0] = corner[k][0] - origin[0], s.at[k + 1][1] = corner[k][1] - origin[1];
        s.weight[k + 1] = scale * share[k];
    }
    return s;
}

static double covariance(const finder *f, const spot *a, const spot *b) {
    double sum = 0;
    for (int i = 0; i < 4; i++)
        for (int j = 0; j < 4; j++) {
            double de = a->at[i][0] - b->at[j][0], dn = a->at[i][1] - b->at[j][1];
            sum += a->weight[i] * b->weight[j] * mst_covariance_at(f->ground->roughness.kernel, de * de + dn * dn);
        }
    return sum;
}

/* Less what the chosen points have taken. */
static double left(const finder *f, size_t a, size_t b) {
    double v = covariance(f, &f->spots[a], &f->spots[b]);
    size_t all = PLACES * f->ground->triangle_count;
    for (size_t k = 0; k < f->count; k++) v -= f->gone[k * all + a] * f->gone[k * all + b];
    return v;
}

static void place_spots(finder *f) {
    const mst_ground *g = f->ground;
    for (size_t t = 0; t < g->triangle_count; t++) {
        const double *c[3];
        mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, c);
        f->area[t] = mst_orient2d(c[0], c[1], c[2]) / 2;
        f->stale[t] = true;
        for (int k = 0; k < PLACES; k++) {
            const double *a = c[(k + 1) % 3], *b = c[(k + 2) % 3];
            double e = (b[0] - a[0]) / 2, n = (b[1] - a[1]) / 2;
            if (k == 3) e = ((b[0] - a[0]) + (c[0][0] - a[0])) / 3, n = ((b[1] - a[1]) + (c[0][1] - a[1])) / 3;
            const double at[2] = {a[0] + e, a[1] + n};
            f->spots[PLACES * t + (size_t)k] = spot_at(g, g->facet_of[t], at);
        }
    }
}

/* Variance over a triangle, by the rule of parts.c: 9/20 at the centre, 2/15 at each middle, the corners have none. */
static double weight_of(int place) { return place == 3 ? 9.0 / 20 : 2.0 / 15; }

static double worth_of(const finder *f, uint32_t t) {
    const mst_ground *g = f->ground;
    size_t centre = PLACES * (size_t)t + 3;
    double own = left(f, centre, centre), sum = 0;
    if (!(own > 0)) return 0;
    for (int r = 0; r < RING; r++) {
        uint32_t at = r == 3 ? t : g->neighbours[t][r];
        for (int k = 0; at != MST_NOWHERE && k < PLACES; k++) {
            double v = left(f, centre, PLACES * (size_t)at + (size_t)k);
            sum += weight_of(k) * f->area[at] * v * v;
        }
    }
    return sum / own;
}

/* The worth changes where a chosen point is felt: a few triangles around. */
static void mark_stale(finder *f, uint32_t t) {
    for (int i = 0; i < 4; i++) {
        uint32_t a = i == 3 ? t : f->ground->neighbours[t][i];
        for (int j = 0; a != MST_NOWHERE && j < 4; j++) {
            uint32_t b = j == 3 ? a : f->ground->neighbours[a][j];
            for (int k = 0; b != MST_NOWHERE && k < 4; k++) {
                uint32_t c = k == 3 ? b : f->ground->neighbours[b][k];
                if (c != MST_NOWHERE) f->stale[c] = true;
            }
        }
    }
}

static double total_left(const finder *f) {
    double sum = 0;
    for (size_t t = 0; t < f->ground->triangle_count; t++)
        for (int k = 0; k < PLACES; k++) {
            size_t s = PLACES * t + (size_t)k;
            sum += weight_of(k) * f->area[t] * fmax(left(f, s, s), 0);
        }
    return sum;
}

static void choose(finder *f, double before, mst_next_point *p) {
    const mst_ground *g = f->ground;
    uint32_t best = 0;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        if (f->stale[t]) f->worth[t] = worth_of(f, t), f->stale[t] = false;
        if (f->worth[t] > f->worth[best]) best = t;
    }
    size_t centre = PLACES * (size_t)best + 3, all = PLACES * g->triangle_count;
    double own = sqrt(fmax(left(f, centre, centre), 0));
    const spot *s = &f->spots[centre];
    *p = (mst_next_point){{s->at[0][0] + g->corners[0].at[0], s->at[0][1] + g->corners[0].at[1]}, own, 1};
    double *gone = f->gone + f->count * all;
    for (size_t i = 0; i < all && own > 0; i++) gone[i] = left(f, centre, i) / own;
    f->count++;
    mark_stale(f, best);
    p->left = before > 0 ? total_left(f) / before : 0;
}

mst_status mst_ground_next_points(const mst_ground *ground, size_t wanted, mst_arena *arena, mst_next_point **points,
                                  size_t *count, mst_error *error) {
    size_t all = PLACES * ground->triangle_count;
    if (!ground->roughness.known)
        return mst_fail(
            error, MST_UNDETERMINED,
            "Too few points lie off the breaklines to tell how rough the ground is; take some between them.");
    if (wanted > MST_NEXT_MOST)
        return mst_fail(error, MST_INVALID, "At most %d next points can be asked for.", MST_NEXT_MOST);
    finder f = {.ground = ground,
                .spots = mst_arena_array(arena, all + 1, sizeof *f.spots),
                .area = mst_arena_array(arena, ground->triangle_count + 1, sizeof *f.area),
                .worth = mst_arena_array(arena, ground->triangle_count + 1, sizeof *f.worth),
                .stale = mst_arena_array(arena, ground->triangle_count + 1, 1),
                .gone = mst_arena_array(arena, wanted * all + 1, sizeof *f.gone)};
    mst_next_point *p = mst_arena_array(arena, wanted + 1, sizeof *p);
    if (!f.spots || !f.area || !f.worth || !f.stale || !f.gone || !p)
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    place_spots(&f);
    double before = total_left(&f);
    *points = p;
    *count = 0;
    while (*count < wanted && before > 0) {
        choose(&f, before, &p[*count]);
        if (!(p[*count].sd_m > 0)) break;
        ++*count;
    }
    return MST_OK;
}
