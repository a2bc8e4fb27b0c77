/* Banks along a run of edges: a strip for each edge, a cone at each corner that opens. The bank's surface is the
 * highest (of fills) or lowest (of cuts) of them all, so strips may overlap; where that is safe they are cut at the
 * valley between neighbours, which spares most of the overlap. */
#include "works/design.h"
#include <math.h>

static const double FAN_RAD = MST_PI / 24; /* cones in steps of 7.5 degrees: their ridges stand off by 0.3 % */
static const double STRAIGHT = 1e-9;       /* sine of a turn that is none */

typedef struct edge {
    double a[2], b[2], za, zb, d[2], n[2], length;
    bool on;
} edge;

static double dot(const double a[2], const double b[2]) { return a[0] * b[0] + a[1] * b[1]; }
static double cross(const double a[2], const double b[2]) { return a[0] * b[1] - a[1] * b[0]; }

static edge edge_of(const mst_chain *c, size_t i) {
    size_t k = (i + 1) % c->count;
    edge e = {
        .a = {c->at[i][0], c->at[i][1]}, .b = {c->at[k][0], c->at[k][1]}, .za = c->level_m[i], .zb = c->level_m[k]};
    double de = e.b[0] - e.a[0], dn = e.b[1] - e.a[1];
    e.length = hypot(de, dn);
    e.on = e.length > 0 && (!c->with_bank || c->with_bank[i]);
    e.d[0] = e.length > 0 ? de / e.length : 0, e.d[1] = e.length > 0 ? dn / e.length : 0;
    e.n[0] = e.d[1], e.n[1] = -e.d[0];
    return e;
}

static size_t edge_count(const mst_chain *c) { return c->count < 2 ? 0 : c->closed ? c->count : c->count - 1; }

/* Keeps what lies left of the line through @p p along @p u. */
static int cut(double at[][2], int count, const double p[2], const double u[2]) {
    double out[2 * MST_FACET_CORNERS][2];
    int kept = 0;
    for (int i = 0; i < count; i++) {
        const double *a = at[i], *b = at[(i + 1) % count];
        double from_a[2] = {a[0] - p[0], a[1] - p[1]}, from_b[2] = {b[0] - p[0], b[1] - p[1]};
        double sa = cross(u, from_a), sb = cross(u, from_b);
        if (sa >= 0) out[kept][0] = a[0], out[kept++][1] = a[1];
        if ((sa > 0 && sb < 0) || (sa < 0 && sb > 0)) {
            double t = sa / (sa - sb);
            out[kept][0] = a[0] + t * (b[0] - a[0]), out[kept++][1] = a[1] + t * (b[1] - a[1]);
        }
    }
    if (kept > MST_FACET_CORNERS) kept = MST_FACET_CORNERS; /* a strip cut twice has six corners */
    for (int i = 0; i < kept; i++) at[i][0] = out[i][0], at[i][1] = out[i][1];
    return kept;
}

/* The valley between the banks of two edges that meet: where their planes are level with each other. */
static void valley(const edge *e, const edge *f, double slope, double u[2]) {
    double g[2];
    for (int k = 0; k < 2; k++)
        g[k] = (e->zb - e->za) / e->length * e->d[k] + slope * e->n[k] - (f->zb - f->za) / f->length * f->d[k] -
               slope * f->n[k];
    u[0] = -g[1], u[1] = g[0];
    if (u[0] * (e->n[0] + f->n[0]) + u[1] * (e->n[1] + f->n[1]) < 0) u[0] = -u[0], u[1] = -u[1];
}

/* True when everything beyond the valley is under the banks of the edges that follow, each turning further in. */
static bool others_cover(const mst_chain *c, size_t i, int step, double part[][2], int count) {
    size_t edges = edge_count(c);
    for (size_t k = 0; k < edges && count >= 3; k++) {
        if (!c->closed && (step > 0 ? i + 1 >= edges : i == 0)) return false;
        size_t from = i;
        i = step > 0 ? (i + 1) % edges : (i + edges - 1) % edges;
        edge e = edge_of(c, from), f = edge_of(c, i);
        double turn = step > 0 ? cross(e.d, f.d) : cross(f.d, e.d);
        if (!f.on || turn > STRAIGHT) return false;
        /* what reaches beyond the far end of this edge's strip */
        double u[2] = {step > 0 ? f.n[0] : -f.n[0], step > 0 ? f.n[1] : -f.n[1]};
        count = cut(part, count, step > 0 ? f.b : f.a, u);
    }
    return count < 3;
}

static int copy(double to[][2], double from[][2], int count) {
    for (int i = 0; i < count; i++) to[i][0] = from[i][0], to[i][1] = from[i][1];
    return count;
}

/* Cuts the strip of edge i at the valley with its neighbour ahead (step 1) or behind (-1). */
static int cut_at_valley(const mst_chain *c, size_t i, int step, double slope, double strip[][2], int count) {
    size_t edges = edge_count(c);
    if (!c->closed && (step > 0 ? i + 1 >= edges : i == 0)) return count;
    edge e = edge_of(c, i), f = edge_of(c, step > 0 ? (i + 1) % edges : (i + edges - 1) % edges);
    double turn = step > 0 ? cross(e.d, f.d) : cross(f.d, e.d);
    if (!f.on || turn >= -STRAIGHT) return count;
    const double *corner = step > 0 ? e.b : e.a;
    double u[2], back[2], beyond[MST_FACET_CORNERS][2];
    valley(&e, &f, slope, u);
    double to_edge[2] = {(e.a[0] + e.b[0]) / 2 - corner[0], (e.a[1] + e.b[1]) / 2 - corner[1]};
    if (cross(u, to_edge) < 0) u[0] = -u[0], u[1] = -u[1];
    back[0] = -u[0], back[1] = -u[1];
    int cut_off = cut(beyond, copy(beyond, strip, count), corner, back);
    if (!others_cover(c, i, step, beyond, cut_off)) return count;
    return cut(strip, count, corner, u);
}

static mst_work_facet *push(mst_facet_list *l) {
    mst_work_facet *f = MST_PUSH(l->arena, l->items, l->count, l->capacity);
    if (!f) l->failed = true;
    return f;
}

static void add_strip(mst_facet_list *l, const mst_chain *c, size_t i, const mst_bank_profile *p, int piece) {
    edge e = edge_of(c, i);
    double r0 = p->far_m[piece], r1 = p->far_m[piece + 1], strip[MST_FACET_CORNERS][2];
    for (int k = 0; k < 2; k++) {
        strip[0][k] = e.a[k] + r0 * e.n[k], strip[1][k] = e.a[k] + r1 * e.n[k];
        strip[2][k] = e.b[k] + r1 * e.n[k], strip[3][k] = e.b[k] + r0 * e.n[k];
    }
    int count = cut_at_valley(c, i, 1, p->slope[0], strip, 4);
    if (count >= 3) count = cut_at_valley(c, i, -1, p->slope[0], strip, count);
    mst_work_facet *f = count >= 3 ? push(l) : NULL;
    if (!f) return;
    f->count = copy(f->at, strip, count);
    double along = (e.zb - e.za) / e.length, slope = p->slope[piece];
    f->plane = (mst_work_plane){{e.a[0], e.a[1]},
                                e.za + p->drop_m[piece] - slope * r0,
                                {along * e.d[0] + slope * e.n[0], along * e.d[1] + slope * e.n[1]}};
    f->rooted = piece == 0;
    for (int k = 0; k < 2; k++) f->root[0][k] = e.a[k], f->root[1][k] = e.b[k];
}

/* How much longer the inner rays of a fan of @p k steps are, so that its area is the sector's. */
static double stretch(double angle, int k) {
    double s = sin(angle / k);
    if (k == 2) return angle / (2 * s);
    return (sqrt(s * s + (k - 2) * s * angle) - s) / ((k - 2) * s);
}

static void add_wedge(mst_facet_list *l, const double v[2], double level, double ray[2][2], const mst_bank_profile *p,
                      int piece) {
    double r0 = p->far_m[piece], r1 = p->far_m[piece + 1], det = cross(ray[0], ray[1]);
    mst_work_facet *f = push(l);
    if (!f) return;
    /* the linear function that is 1 at the end of either ray */
    double g[2] = {(ray[1][1] - ray[0][1]) / det, (ray[0][0] - ray[1][0]) / det};
    const double radius[4] = {r0, r1, r1, r0};
    const int of[4] = {0, 0, 1, 1};
    for (int i = r0 > 0 ? 0 : 1; i < 4; i++, f->count++) /* at radius 0 both inner corners are the vertex */
        for (int k = 0; k < 2; k++) f->at[f->count][k] = v[k] + radius[i] * ray[of[i]][k];
    double slope = p->slope[piece];
    f->plane = (mst_work_plane){{v[0], v[1]}, level + p->drop_m[piece] - slope * r0, {slope * g[0], slope * g[1]}};
}

static void add_fan(mst_facet_list *l, const edge *e, const edge *f, const mst_bank_profile *p, int piece) {
    double angle = atan2(cross(e->d, f->d), dot(e->d, f->d)), start = atan2(e->n[1], e->n[0]);
    int steps = (int)fmax(2, ceil(angle / FAN_RAD));
    double more = stretch(angle, steps);
    for (int i = 0; i < steps; i++) {
        double ray[2][2];
        for (int side = 0; side < 2; side++) {
            int k = i + side;
            double turn = start + angle * k / steps, far = k == 0 || k == steps ? 1 : more;
            ray[side][0] = k == 0 ? e->n[0] : k == steps ? f->n[0] : far * cos(turn);
            ray[side][1] = k == 0 ? e->n[1] : k == steps ? f->n[1] : far * sin(turn);
        }
        add_wedge(l, e->b, e->zb, ray, p, piece);
    }
}

void mst_bank_facets(mst_facet_list *l, const mst_chain *c, const mst_bank_profile *p) {
    size_t edges = edge_count(c);
    for (int piece = 0; piece < p->pieces; piece++)
        for (size_t i = 0; i < edges; i++) {
            edge e = edge_of(c, i), f = edge_of(c, (i + 1) % edges);
            if (!e.on) continue;
            add_strip(l, c, i, p, piece);
            if ((c->closed || i + 1 < edges) && f.on && cross(e.d, f.d) > STRAIGHT) add_fan(l, &e, &f, p, piece);
        }
}

void mst_facet_triangle(mst_facet_list *l, const double at[3][2], const double level[3]) {
    double u[2] = {at[1][0] - at[0][0], at[1][1] - at[0][1]}, v[2] = {at[2][0] - at[0][0], at[2][1] - at[0][1]};
    double twice = cross(u, v), du = level[1] - level[0], dv = level[2] - level[0];
    if (twice == 0) return;
    mst_work_facet *f = push(l);
    if (!f) return;
    for (int i = 0; i < 3; i++) {
        int from = i && twice < 0 ? 3 - i : i;
        f->at[i][0] = at[from][0], f->at[i][1] = at[from][1];
    }
    f->count = 3;
    f->seed = true;
    f->plane = (mst_work_plane){
        {at[0][0], at[0][1]}, level[0], {(du * v[1] - dv * u[1]) / twice, (dv * u[0] - du * v[0]) / twice}};
}
