/* The mean slope over a shape: the slopes of the facets by area. What the ground between the points does to it is the
 * integral of the slope of the rest, over the same nodes as for volumes (parts.c). */
#include "geometry/sum.h"
#include "ground/cover.h"
#include "ground/spread.h"
#include <math.h>
#include <stdlib.h>

enum { REST_MOST = 3000 }; /* facets: over a larger area the readings decide */

typedef struct faller {
    const mst_ground *ground;
    mst_gather *e, *n; /* by corner */
    mst_sum slope_e, slope_n, area;
    mst_rest *rests;
    size_t rest_count, rest_capacity;
    uint32_t *rest_of; /* by facet, + 1 */
    mst_arena *arena;
} faller;

/* Slopes of the shares of a facet's corners. */
static void share_slopes(const mst_ground *g, uint32_t facet, double slope[3][2]) {
    const double *c[3];
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, c);
    double twice = mst_orient2d(c[0], c[1], c[2]);
    for (int k = 0; k < 3; k++) {
        const double *p = c[(k + 1) % 3], *q = c[(k + 2) % 3];
        slope[k][0] = (p[1] - q[1]) / twice;
        slope[k][1] = (q[0] - p[0]) / twice;
    }
}

static void add_readings(faller *f, uint32_t facet, double area) {
    const mst_ground *g = f->ground;
    mst_facet_plane plane = mst_plane_of_facet(g, facet);
    double slope[3][2];
    share_slopes(g, facet, slope);
    mst_sum_add(&f->area, area);
    mst_sum_add(&f->slope_e, area * plane.slope_e);
    mst_sum_add(&f->slope_n, area * plane.slope_n);
    for (int k = 0; k < 3; k++) {
        mst_gather *to[2] = {&f->e[g->facets[facet][k]], &f->n[g->facets[facet][k]]};
        for (int x = 0; x < 2; x++) {
            double w = area * slope[k][x];
            to[x]->elevation += w;
            to[x]->easting -= plane.slope_e * w;
            to[x]->northing -= plane.slope_n * w;
        }
    }
}

/* Slopes of the seven functions of parts.c at shares s. */
static void function_slopes(const double s[3], const double slope[3][2], double out[MST_NODES][2]) {
    for (int x = 0; x < 2; x++) {
        double bubble = 27 * (slope[0][x] * s[1] * s[2] + s[0] * slope[1][x] * s[2] + s[0] * s[1] * slope[2][x]);
        for (int k = 0; k < 3; k++) {
            int a = (k + 1) % 3, b = (k + 2) % 3;
            out[k][x] = (4 * s[k] - 1) * slope[k][x] + bubble / 9;
            out[3 + k][x] = 4 * (slope[a][x] * s[b] + s[a] * slope[b][x]) - 4 * bubble / 9;
        }
        out[6][x] = bubble;
    }
}

/* The integral over a part of the facet, from the middles of its edges: exact, as slopes are quadratic. */
static void integrate(const double corner[3][3], double area, const double slope[3][2], double sum[MST_NODES][2]) {
    for (int k = 0; k < 3; k++) {
        double s[3], at[MST_NODES][2];
        for (int i = 0; i < 3; i++) s[i] = (corner[(k + 1) % 3][i] + corner[(k + 2) % 3][i]) / 2;
        function_slopes(s, slope, at);
        for (int i = 0; i < MST_NODES; i++)
            for (int x = 0; x < 2; x++) sum[i][x] += area / 3 * at[i][x];
    }
}

static mst_rest *rest_for(faller *f, uint32_t facet) {
    const mst_ground *g = f->ground;
    if (f->rest_of[facet]) return &f->rests[f->rest_of[facet] - 1];
    mst_rest *r = MST_PUSH(f->arena, f->rests, f->rest_count, f->rest_capacity);
    if (!r) return NULL;
    f->rest_of[facet] = (uint32_t)f->rest_count;
    mst_rest_place(g, facet, r);
    return r;
}

static bool add_rest(faller *f, uint32_t facet, const mst_convex *piece, const double origin[2]) {
    const mst_ground *g = f->ground;
    mst_rest *r = f->rest_count < REST_MOST ? rest_for(f, facet) : NULL;
    if (!r) return f->rest_count >= REST_MOST;
    double slope[3][2], shares[MST_CONVEX_MOST][3], sum[MST_NODES][2] = {{0}}, scale = mst_facet_scale(g, facet);
    const double *corner[3];
    share_slopes(g, facet, slope);
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    for (int i = 0; i < piece->count; i++) {
        const double at[2] = {piece->at[i][0] + origin[0], piece->at[i][1] + origin[1]};
        mst_shares_at(corner, at, shares[i]);
    }
    for (int i = 1; i + 1 < piece->count; i++) {
        const double *a = piece->at[0], *b = piece->at[i], *c = piece->at[i + 1];
        double fan[3][3], area = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2;
        for (int k = 0; k < 3; k++) fan[0][k] = shares[0][k], fan[1][k] = shares[i][k], fan[2][k] = shares[i + 1][k];
        integrate((const double(*)[3])fan, area, (const double(*)[2])slope, sum);
    }
    for (int x = 0; x < 2; x++) {
        for (int k = 0; k < 3; k++)
            r->weight[x][k] += scale * ((sum[3 + (k + 1) % 3][x] + sum[3 + (k + 2) % 3][x]) / 2 + sum[6][x] / 3);
        for (int k = 3; k < MST_NODES; k++) r->weight[x][k] -= scale * sum[k][x];
    }
    return true;
}

static bool add_shape(faller *f, const mst_cover *cover, const double origin[2]) {
    const mst_ground *g = f->ground;
    const double none[MST_CONVEX_MOST] = {0};
    for (size_t i = 0; i < cover->count; i++) {
        const double *const c[3] = {cover->at[cover->triangles[i][0]], cover->at[cover->triangles[i][1]],
                                    cover->at[cover->triangles[i][2]]};
        mst_convex within = mst_convex_triangle(c, origin), piece;
        mst_box window = {fmin(fmin(c[0][0], c[1][0]), c[2][0]), fmin(fmin(c[0][1], c[1][1]), c[2][1]),
                          fmax(fmax(c[0][0], c[1][0]), c[2][0]), fmax(fmax(c[0][1], c[1][1]), c[2][1])};
        mst_boxtree_walk walk = mst_boxtree_window(&g->tree, window);
        for (uint32_t t; mst_boxtree_next(&walk, &t);) {
            const double *corner[3];
            mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, corner);
            mst_convex triangle = mst_convex_triangle(corner, origin);
            if (!mst_convex_cut(&within, &triangle, &piece)) continue;
            add_readings(f, g->facet_of[t], mst_convex_part(&piece, none).area);
            if (g->roughness.known && !add_rest(f, g->facet_of[t], &piece, origin)) return false;
        }
    }
    return true;
}

static mst_status finish(faller *f, mst_arena *arena, mst_fall *fall) {
    const mst_ground *g = f->ground;
    double area = mst_sum_value(&f->area), v[3];
    *fall = (mst_fall){.slope_e = mst_sum_value(&f->slope_e) / area,
                       .slope_n = mst_sum_value(&f->slope_n) / area,
                       .covered_m2 = area,
                       .between = {NAN, NAN, NAN}};
    for (size_t c = 0; c < g->corner_count; c++)
        for (int x = 0; x < 2; x++) {
            mst_gather *w = x ? &f->n[c] : &f->e[c];
            w->elevation /= area, w->easting /= area, w->northing /= area;
        }
    if (mst_gather_terms(g, f->e, f->n, arena, &fall->e_terms, &fall->n_terms, &fall->term_count)) return MST_NO_MEMORY;
    if (!g->roughness.known || f->rest_count == REST_MOST) return MST_OK;
    for (size_t i = 0; i < f->rest_count; i++) mst_rest_moments(&f->rests[i]);
    if (mst_rests_spread(f->rests, f->rest_count, g->roughness.kernel, f->arena, v)) return MST_NO_MEMORY;
    for (int k = 0; k < 3; k++) fall->between[k] = v[k] / (area * area);
    return MST_OK;
}

mst_status mst_ground_fall(const mst_ground *ground, const mst_shape *shape, mst_arena *arena, mst_fall *fall,
                           mst_error *error) {
    mst_cover cover;
    mst_arena *own = mst_arena_new();
    if (!own) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    mst_status status = mst_cover_shape(shape, own, &cover, error);
    faller f = {.ground = ground,
                .e = mst_arena_array(own, ground->corner_count + 1, sizeof *f.e),
                .n = mst_arena_array(own, ground->corner_count + 1, sizeof *f.n),
                .rest_of = mst_arena_array(own, ground->facet_count + 1, sizeof *f.rest_of),
                .arena = own};
    if (!status && (!f.e || !f.n || !f.rest_of)) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if (!status) {
        const mst_path_vertex *o = &shape->paths[0].vertices[0];
        const double origin[2] = {o->easting_m, o->northing_m};
        if (!add_shape(&f, &cover, origin)) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        else if (!(mst_sum_value(&f.area) > 0)) status = mst_fail(error, MST_NO, "There is no measured ground inside.");
        else if (finish(&f, arena, fall)) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    mst_arena_free(own);
    return status;
}
