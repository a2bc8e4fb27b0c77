#include "ground/convex.h"
#include <math.h>

mst_convex mst_convex_triangle(const double *const corner[3], const double origin[2]) {
    mst_convex p = {.count = 3};
    for (int i = 0; i < 3; i++)
        for (int k = 0; k < 2; k++) p.at[i][k] = corner[i][k] - origin[k];
    return p;
}

static double cross(const double a[2], const double b[2], const double p[2]) {
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
}

static void put(mst_convex *p, double e, double n) {
    p->at[p->count][0] = e;
    p->at[p->count++][1] = n;
}

/* Left of a -> b (Sutherland and Hodgman, Communications of the ACM 17 (1974) 32-42). */
static void half(const mst_convex *p, const double a[2], const double b[2], mst_convex *out) {
    out->count = 0;
    if (p->count == 0) return;
    const double *from = p->at[p->count - 1];
    double side = cross(a, b, from);
    for (int i = 0; i < p->count; i++) {
        const double *to = p->at[i];
        double next = cross(a, b, to);
        if ((side > 0 && next < 0) || (side < 0 && next > 0)) {
            double t = side / (side - next);
            put(out, from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1]));
        }
        if (next >= 0) put(out, to[0], to[1]);
        from = to;
        side = next;
    }
}

bool mst_convex_cut(const mst_convex *p, const mst_convex *t, mst_convex *out) {
    mst_convex a, b;
    half(p, t->at[0], t->at[1], &a);
    half(&a, t->at[1], t->at[2], &b);
    half(&b, t->at[2], t->at[0], out);
    return out->count >= 3;
}

mst_part mst_convex_part(const mst_convex *p, const double d[]) {
    mst_part part = {0};
    double moment[2] = {0, 0};
    for (int i = 1; i + 1 < p->count; i++) {
        const double *a = p->at[0], *b = p->at[i], *c = p->at[i + 1];
        double area = cross(a, b, c) / 2;
        part.area += area;
        part.integral += area * ((d[0] + d[i] + d[i + 1]) / 3);
        for (int k = 0; k < 2; k++) moment[k] += area * ((b[k] - a[k]) + (c[k] - a[k])) / 3;
    }
    for (int k = 0; k < 2; k++) part.centre[k] = part.area > 0 ? p->at[0][k] + moment[k] / part.area : p->at[0][k];
    return part;
}

static void put_valued(mst_convex *p, double d[], const double at[2], double value) {
    d[p->count] = value;
    put(p, at[0], at[1]);
}

void mst_convex_split(const mst_convex *p, const double d[], mst_convex *above, double d_above[], mst_convex *below,
                      double d_below[]) {
    above->count = below->count = 0;
    for (int i = 0; i < p->count; i++) {
        int k = (i + 1) % p->count;
        if (d[i] >= 0) put_valued(above, d_above, p->at[i], d[i]);
        if (d[i] <= 0) put_valued(below, d_below, p->at[i], d[i]);
        if (!((d[i] > 0 && d[k] < 0) || (d[i] < 0 && d[k] > 0))) continue;
        double t = d[i] / (d[i] - d[k]);
        const double at[2] = {p->at[i][0] + t * (p->at[k][0] - p->at[i][0]),
                              p->at[i][1] + t * (p->at[k][1] - p->at[i][1])};
        put_valued(above, d_above, at, 0);
        put_valued(below, d_below, at, 0);
    }
}
