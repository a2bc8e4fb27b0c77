/* Ground along a path: each straight piece is cut by the triangles that it runs over. */
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

static const double SAGITTA_M = 0.005; /* arcs, as the header says */
static const double JOIN_M = 1e-6;     /* cuts closer than this are one: rounding at a vertex */

/* A piece of the way over one triangle, as shares of the straight piece. */
typedef struct run {
    double from, to;
    uint32_t triangle;
} run;

typedef struct tracer {
    const mst_ground *ground;
    mst_arena *arena;
    run *runs;
    size_t run_count, run_capacity;
    mst_profile_point *points;
    size_t count, capacity;
} tracer;

/* Share of a -> b at which it crosses the edge p -> q, reckoned the same way from either side of the edge. */
static double share_at(const double a[2], const double b[2], const double *p, const double *q, bool swap) {
    double sp = mst_orient2d(a, b, swap ? q : p), sq = mst_orient2d(a, b, swap ? p : q), t = sp / (sp - sq);
    const double *from = swap ? q : p, *to = swap ? p : q;
    double e = from[0] + t * (to[0] - from[0]) - a[0], n = from[1] + t * (to[1] - from[1]) - a[1];
    double be = b[0] - a[0], bn = b[1] - a[1];
    return (e * be + n * bn) / (be * be + bn * bn);
}

/* What of a -> b lies in the triangle; an edge counts. @return false when it is less than a point */
static bool cut(const mst_ground *g, uint32_t t, const double a[2], const double b[2], run *r) {
    const double *c[3];
    mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, c);
    *r = (run){0, 1, t};
    for (int i = 0; i < 3; i++) {
        const double *p = c[(i + 1) % 3], *q = c[(i + 2) % 3];
        double sa = mst_orient2d(p, q, a), sb = mst_orient2d(p, q, b);
        if (sa < 0 && sb < 0) return false;
        if ((sa >= 0) == (sb >= 0)) continue;
        double share = share_at(a, b, p, q, g->triangles[t][(i + 1) % 3] > g->triangles[t][(i + 2) % 3]);
        if (sa < 0) r->from = fmax(r->from, share);
        else r->to = fmin(r->to, share);
    }
    return r->from < r->to;
}

static int by_from(const void *a, const void *b) {
    const run *x = a, *y = b;
    if (x->from != y->from) return x->from < y->from ? -1 : 1;
    if (x->to != y->to) return x->to < y->to ? -1 : 1;
    return x->triangle < y->triangle ? -1 : x->triangle > y->triangle;
}

static bool add_point(tracer *t, double chainage, mst_point at, double level) {
    const mst_profile_point *last = t->count ? &t->points[t->count - 1] : NULL;
    if (last && chainage - last->chainage_m <= JOIN_M && isnan(last->elevation_m) == isnan(level)) return true;
    mst_profile_point *p = MST_PUSH(t->arena, t->points, t->count, t->capacity);
    if (p) *p = (mst_profile_point){chainage, level, at};
    return p != NULL;
}

/* A straight piece, its start on the path and its length. */
typedef struct piece {
    const double *a, *b;
    double chainage, length;
} piece;

static bool add_on(tracer *t, const piece *p, double share, uint32_t triangle) {
    const double at[2] = {share < 1 ? p->a[0] + share * (p->b[0] - p->a[0]) : p->b[0],
                          share < 1 ? p->a[1] + share * (p->b[1] - p->a[1]) : p->b[1]};
    double level = NAN;
    if (triangle != MST_NOWHERE) {
        const double *corner[3];
        double shares[3];
        const uint32_t *facet = t->ground->facets[t->ground->facet_of[triangle]];
        mst_corners_of(facet, t->ground->corners, sizeof *t->ground->corners, corner);
        mst_shares_at(corner, at, shares);
        level = 0;
        for (int i = 0; i < 3; i++) level += shares[i] * t->ground->corners[facet[i]].elevation_m;
    }
    return add_point(t, p->chainage + share * p->length, (mst_point){at[0], at[1]}, level);
}

static bool find_runs(tracer *t, const piece *p) {
    mst_box window = {fmin(p->a[0], p->b[0]), fmin(p->a[1], p->b[1]), fmax(p->a[0], p->b[0]), fmax(p->a[1], p->b[1])};
    mst_boxtree_walk walk = mst_boxtree_window(&t->ground->tree, window);
    t->run_count = 0;
    for (uint32_t triangle; mst_boxtree_next(&walk, &triangle);) {
        run r;
        if (!cut(t->ground, triangle, p->a, p->b, &r)) continue;
        run *added = MST_PUSH(t->arena, t->runs, t->run_count, t->run_capacity);
        if (!added) return false;
        *added = r;
    }
    if (t->run_count) qsort(t->runs, t->run_count, sizeof *t->runs, by_from);
    return true;
}

static bool add_gap(tracer *t, const piece *p, double from, double to) {
    if ((to - from) * p->length <= JOIN_M) return true;
    return add_on(t, p, from, MST_NOWHERE) && add_on(t, p, to, MST_NOWHERE);
}

static bool add_piece(tracer *t, const piece *p) {
    double covered = 0;
    if (!find_runs(t, p)) return false;
    for (size_t i = 0; i < t->run_count; i++) {
        const run *r = &t->runs[i];
        if ((r->to - covered) * p->length <= JOIN_M) continue; /* along an edge both its triangles answer */
        if (!add_gap(t, p, covered, r->from)) return false;
        if (!add_on(t, p, fmax(r->from, covered), r->triangle) || !add_on(t, p, r->to, r->triangle)) return false;
        covered = r->to;
    }
    return add_gap(t, p, covered, 1);
}

mst_status mst_ground_profile(const mst_ground *ground, const mst_path *path, mst_arena *arena,
                              mst_profile_point **points, size_t *count, mst_error *error) {
    mst_path flat;
    mst_status status = mst_path_flatten(path, SAGITTA_M, arena, &flat, error);
    if (status) return status;
    tracer t = {.ground = ground, .arena = arena};
    double chainage = 0;
    size_t pieces = flat.count < 2 ? 0 : flat.closed ? flat.count : flat.count - 1;
    for (size_t i = 0; i < pieces; i++) {
        const mst_path_vertex *a = &flat.vertices[i], *b = &flat.vertices[(i + 1) % flat.count];
        const double from[2] = {a->easting_m, a->northing_m}, to[2] = {b->easting_m, b->northing_m};
        piece p = {from, to, chainage, hypot(to[0] - from[0], to[1] - from[1])};
        if (!(p.length > 0)) continue;
        if (!add_piece(&t, &p)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        chainage += p.length;
    }
    if (t.count == 0) return mst_fail(error, MST_TOO_FEW, "A profile needs a path of two different places.");
    *points = t.points;
    *count = t.count;
    return MST_OK;
}
