/* The volume over any level, in a logarithm of the vertices. Over one triangle the area above a level is a piecewise
 * quadratic in the level with joints at its three corners' levels, and the volume above it the integral, a piecewise
 * cubic; so their sum is one, with joints at all levels. One sweep from the highest level down gives all coefficients.
 *
 * A nearly level triangle has enormous ones for a moment. In twofold numbers they come and go without a trace: what
 * rounding of its own coefficients leaves is taken back at its lowest corner, where area and volume are known. */
#include "ground/model.h"
#include "ground/twofold.h"
#include <math.h>
#include <stdlib.h>

struct mst_volume_curve {
    size_t count; /* joints, ascending */
    double *level_m;
    double (*above)[4]; /* between joints i - 1 and i: volume above level_m[i] - t = c0 + c1 t + c2 t^2 + c3 t^3 */
    double area_m2, volume_m3; /* of the whole, above the lowest level */
};

typedef mst_twofold two;
static two add(two a, two b) { return mst_twofold_add(a, b); }
static two times(two a, two b) { return mst_twofold_times(a, b); }
static two less(two a) { return mst_twofold_less(a); }

/* Going down by t: volume += area t + slope t^2 / 2 + square t^3 / 3; area += slope t + square t^2; slope += 2 square
 * t. */
typedef struct state {
    two volume, area, slope, square;
} state;

static state move_down(state s, two t) {
    two st = times(s.square, t);
    two third = times(st, (two){1 / 3.0, 1.8503717077085943e-17}); /* the second double of a third */
    s.volume = add(s.volume, times(t, add(s.area, times(t, add(mst_twofold_scale(s.slope, 0.5), third)))));
    s.area = add(s.area, times(t, add(s.slope, st)));
    s.slope = add(s.slope, mst_twofold_scale(st, 2));
    return s;
}

/* What changes at a level. */
typedef struct joint {
    double level;
    double square[2]; /* apart, so that what was added goes away exactly */
    two slope, area, volume;
} joint;

static int by_level_down(const void *a, const void *b) {
    const joint *x = a, *y = b;
    if (x->level != y->level) return x->level > y->level ? -1 : 1;
    return 0;
}

static void sort_down(double z[3]) {
    for (int i = 0; i < 2; i++)
        for (int k = 0; k < 2 - i; k++)
            if (z[k] < z[k + 1]) {
                double swap = z[k];
                z[k] = z[k + 1], z[k + 1] = swap;
            }
}

/* A triangle of area A with levels z0 >= z1 >= z2. Down from z0 the area above grows as q t^2, q = A / ((z0 - z2)(z0 -
 * z1)); from z1 on it is A - p (z - z2)^2, p = A / ((z0 - z2)(z1 - z2)): the square changes from q to -p. With z0 = z1
 * the slope begins with 2 A / (z0 - z2); with all level the area comes at once. */
static size_t joints_of(const mst_ground *g, uint32_t t, joint out[3]) {
    const double *c[3];
    double z[3];
    mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, c);
    for (int k = 0; k < 3; k++) z[k] = g->vertices[g->triangles[t][k]].elevation_m;
    sort_down(z);
    double area = mst_orient2d(c[0], c[1], c[2]) / 2, whole = z[0] - z[2];
    for (int k = 0; k < 3; k++) out[k] = (joint){.level = z[k]};
    if (!(whole > 0)) {
        out[0].area = mst_twofold_of(area);
        return 1;
    }
    two upper = mst_two_sum(z[0], -z[1]), lower = mst_two_sum(z[1], -z[2]);
    double q = upper.high > 0 ? area / (whole * upper.high) : 0, p = lower.high > 0 ? area / (whole * lower.high) : 0;
    if (!isfinite(q) || !isfinite(p)) { /* level but for less than any digit of a volume */
        out[0].area = mst_twofold_of(area);
        return 1;
    }
    out[0].square[0] = q;
    if (!(upper.high > 0)) out[0].slope = mst_twofold_of(2 * area / whole);
    out[1].square[0] = -q, out[1].square[1] = -p;
    out[2].square[0] = p;
    state s = {.slope = out[0].slope, .square = mst_twofold_of(q)};
    s = move_down(s, upper);
    s.square = mst_twofold_of(-p);
    s = move_down(s, lower); /* what the sweep will have by then; what it should have: */
    two mean = mst_twofold_scale(times(add(add(upper, lower), lower), (two){1 / 3.0, 1.8503717077085943e-17}), area);
    out[2].slope = less(s.slope);
    out[2].area = add(mst_twofold_of(area), less(s.area));
    out[2].volume = add(mean, less(s.volume));
    return 3;
}

static state take(state s, const joint *j) {
    for (int k = 0; k < 2; k++) s.square = add(s.square, mst_twofold_of(j->square[k]));
    s.slope = add(s.slope, j->slope);
    s.area = add(s.area, j->area);
    s.volume = add(s.volume, j->volume);
    return s;
}

static void sweep(const joint joints[], size_t n, mst_volume_curve *c) {
    state s = {{0, 0}, {0, 0}, {0, 0}, {0, 0}};
    for (size_t i = 0, at = c->count; i < n;) {
        double level = joints[i].level;
        if (at < c->count) s = move_down(s, mst_two_sum(c->level_m[at], -level));
        for (; i < n && joints[i].level == level; i++) s = take(s, &joints[i]);
        double *p = c->above[--at];
        c->level_m[at] = level;
        p[0] = s.volume.high, p[1] = s.area.high, p[2] = s.slope.high / 2, p[3] = s.square.high / 3;
    }
    c->area_m2 = s.area.high;
    c->volume_m3 = s.volume.high;
}

mst_status mst_ground_volume_curve(const mst_ground *g, mst_arena *arena, mst_volume_curve **curve, mst_error *error) {
    mst_arena *own = mst_arena_new();
    joint *joints = own ? mst_arena_array(own, 3 * g->triangle_count + 1, sizeof *joints) : NULL;
    mst_volume_curve *c = mst_arena_alloc(arena, sizeof *c);
    size_t n = 0, count = 0;
    bool room = joints && c;
    for (uint32_t t = 0; room && t < g->triangle_count; t++) n += joints_of(g, t, joints + n);
    if (room) {
        qsort(joints, n, sizeof *joints, by_level_down);
        for (size_t i = 0; i < n; i++) count += i == 0 || joints[i].level != joints[i - 1].level;
        c->level_m = mst_arena_array(arena, count + 1, sizeof *c->level_m);
        c->above = mst_arena_array(arena, count + 1, sizeof *c->above);
        room = c->level_m && c->above;
    }
    if (!room) {
        mst_arena_free(own);
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    c->count = count;
    sweep(joints, n, c);
    mst_arena_free(own);
    *curve = c;
    return MST_OK;
}

mst_level_volume mst_volume_at(const mst_volume_curve *c, double level_m) {
    size_t low = 0, high = c->count; /* the first joint at or above the level */
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (c->level_m[middle] < level_m) low = middle + 1;
        else high = middle;
    }
    double over = level_m - c->level_m[0];
    if (low == 0) return (mst_level_volume){c->volume_m3 - over * c->area_m2, 0, c->area_m2, 0};
    double cut = 0, area = 0;
    if (low < c->count) {
        const double *p = c->above[low];
        double t = c->level_m[low] - level_m;
        cut = p[0] + t * (p[1] + t * (p[2] + t * p[3]));
        area = p[1] + t * (2 * p[2] + t * 3 * p[3]);
    }
    double fill = cut - (c->volume_m3 - over * c->area_m2);
    return (mst_level_volume){fmax(cut, 0), fmax(fill, 0), area, c->area_m2 - area};
}
