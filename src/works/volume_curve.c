/* The ground under a pad as triangles of height over the pad's plane, sorted by their lowest corner. At a level, those
 * that begin above it are wholly cut: running sums hold them. Of those that begin below, blocks whose highest corner is
 * below too are skipped; only what the level passes through is worked out. */
#include "geometry/sum.h"
#include "ground/convex.h"
#include "ground/cover.h"
#include "ground/model.h"
#include "works/dig.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 64, MOST_STEPS = 200 };
static const double LEVEL_M = 1e-7; /* as balance.c */

typedef struct piece {
    double low, middle, high, area; /* heights over the plane at level 0 */
} piece;

struct mst_volume_curve {
    piece *pieces;
    size_t count, capacity;
    double *block_high;
    double *area_above, *moment_above; /* [count + 1]: of pieces i and on */
    double area, moment, lowest, highest;
};

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- making it ---- */

static void swap_up(double *a, double *b) {
    if (*a <= *b) return;
    double low = *b;
    *b = *a, *a = low;
}

static bool add_polygon(mst_volume_curve *c, const mst_convex *p, const double h[], mst_arena *arena) {
    for (int i = 1; i + 1 < p->count; i++) {
        const double *o = p->at[0], *a = p->at[i], *b = p->at[i + 1];
        double area = ((a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])) / 2;
        if (!(area > 0)) continue;
        piece *to = MST_PUSH(arena, c->pieces, c->count, c->capacity);
        if (!to) return false;
        *to = (piece){h[0], h[i], h[i + 1], area};
        swap_up(&to->low, &to->middle), swap_up(&to->middle, &to->high), swap_up(&to->low, &to->middle);
    }
    return true;
}

static bool add_under(mst_volume_curve *c, const mst_ground *g, uint32_t t, const mst_convex *cover,
                      const double origin[2], const mst_plane *plane, double off, mst_arena *arena) {
    const double *corner[3];
    mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, corner);
    mst_convex ground = mst_convex_triangle(corner, origin), both;
    if (!mst_convex_cut(&ground, cover, &both)) return true;
    mst_facet_plane f = mst_plane_of_facet(g, g->facet_of[t]);
    double h[MST_CONVEX_MOST];
    for (int i = 0; i < both.count; i++) {
        double e = both.at[i][0] + origin[0], n = both.at[i][1] + origin[1];
        h[i] = f.level_m + f.slope_e * (e - f.at[0]) + f.slope_n * (n - f.at[1]) - off -
               plane->slope_e * (e - plane->e0_m) - plane->slope_n * (n - plane->n0_m);
    }
    return add_polygon(c, &both, h, arena);
}

static bool cut_ground(mst_volume_curve *c, const mst_ground *g, const mst_cover *cover, const mst_element *e,
                       mst_arena *arena) {
    for (size_t i = 0; i < cover->count; i++) {
        const double *const corner[3] = {cover->at[cover->triangles[i][0]], cover->at[cover->triangles[i][1]],
                                         cover->at[cover->triangles[i][2]]};
        mst_box box = {
            fmin(fmin(corner[0][0], corner[1][0]), corner[2][0]), fmin(fmin(corner[0][1], corner[1][1]), corner[2][1]),
            fmax(fmax(corner[0][0], corner[1][0]), corner[2][0]), fmax(fmax(corner[0][1], corner[1][1]), corner[2][1])};
        mst_convex p = mst_convex_triangle(corner, corner[0]);
        mst_boxtree_walk walk = mst_boxtree_window(&g->tree, box);
        uint32_t t;
        while (
            mst_boxtree_next(&walk, &t)) /* formation lies under the finish by the layers, the ground loses its strip */
            if (!add_under(c, g, t, &p, corner[0], &e->finish, e->strip_m - e->build_up_m, arena)) return false;
    }
    return true;
}

static int by_low(const void *a, const void *b) {
    const piece *x = a, *y = b;
    if (x->low != y->low) return x->low < y->low ? -1 : 1;
    if (x->high != y->high) return x->high < y->high ? -1 : 1;
    if (x->middle != y->middle) return x->middle < y->middle ? -1 : 1;
    return x->area < y->area ? -1 : x->area > y->area;
}

static bool sum_up(mst_volume_curve *c, mst_arena *arena) {
    size_t blocks = c->count / BLOCK + 1;
    c->block_high = mst_arena_array(arena, blocks, sizeof *c->block_high);
    c->area_above = mst_arena_array(arena, c->count + 1, sizeof *c->area_above);
    c->moment_above = mst_arena_array(arena, c->count + 1, sizeof *c->moment_above);
    if (!c->block_high || !c->area_above || !c->moment_above) return false;
    mst_sum area = {0}, moment = {0};
    for (size_t i = 0; i < blocks; i++) c->block_high[i] = -HUGE_VAL;
    c->lowest = HUGE_VAL, c->highest = -HUGE_VAL;
    for (size_t i = c->count; i-- > 0;) {
        const piece *p = &c->pieces[i];
        mst_sum_add(&area, p->area);
        mst_sum_add(&moment, p->area * ((p->low + p->middle + p->high) / 3));
        c->area_above[i] = mst_sum_value(&area), c->moment_above[i] = mst_sum_value(&moment);
        c->block_high[i / BLOCK] = fmax(c->block_high[i / BLOCK], p->high);
        c->lowest = fmin(c->lowest, p->low), c->highest = fmax(c->highest, p->high);
    }
    c->area = c->area_above[0], c->moment = c->moment_above[0];
    return true;
}

mst_status mst_volume_curve_of(const mst_element *e, const mst_site *site, const mst_adjustment *adjustment,
                               const mst_ground *ground, mst_arena *arena, mst_volume_curve **curve, mst_error *error) {
    mst_shape shape;
    mst_cover cover;
    mst_error why = {0};
    if (!e->in || e->kind == MST_WORK_DEPTH)
        return mst_fail(error, MST_NO, "Element '%s' is a %s; only pads have a level to drag.", e->name,
                        mst_work_kind_name(e->kind));
    mst_status status = mst_element_shape(e, site, adjustment, arena, &shape, error);
    if (!status && (status = mst_cover_shape(&shape, arena, &cover, &why)))
        status = mst_fail(error, status, "Element '%s': %s", e->name, why.sentence);
    if (status) return status;
    mst_volume_curve *c = mst_arena_alloc(arena, sizeof *c);
    if (!c || !cut_ground(c, ground, &cover, e, arena)) return no_memory(error);
    if (c->count == 0)
        return mst_fail(error, MST_UNDETERMINED,
                        "Element '%s' has no measured ground under it; take spot levels there.", e->name);
    qsort(c->pieces, c->count, sizeof *c->pieces, by_low);
    if (!sum_up(c, arena)) return no_memory(error);
    *curve = c;
    return MST_OK;
}

/* ---- asking it ---- */

static size_t first_at_or_above(const mst_volume_curve *c, double x) {
    size_t low = 0, high = c->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (c->pieces[middle].low < x) low = middle + 1;
        else high = middle;
    }
    return low;
}

/* What of a piece lies above x, low < x < high. The tip beyond the middle corner is a triangle similar in its heights.
 */
static void part_above(const piece *p, double x, double *volume, double *area) {
    if (x >= p->middle) {
        double t = p->high - x, share = t * t / ((p->high - p->low) * (p->high - p->middle));
        *area = p->area * share, *volume = *area * t / 3;
        return;
    }
    double t = x - p->low, share = t * t / ((p->high - p->low) * (p->middle - p->low));
    *area = p->area - p->area * share;
    *volume = p->area * ((p->low - x + (p->middle - x) + (p->high - x)) / 3) + p->area * share * t / 3;
}

mst_curve_volumes mst_volume_curve_at(const mst_volume_curve *c, double x) {
    size_t above = first_at_or_above(c, x);
    mst_sum cut = {0}, area = {0};
    mst_sum_add(&cut, c->moment_above[above]);
    mst_sum_add(&cut, -x * c->area_above[above]);
    mst_sum_add(&area, c->area_above[above]);
    for (size_t block = 0; block * BLOCK < above; block++) {
        if (c->block_high[block] <= x) continue;
        size_t end = (block + 1) * BLOCK < above ? (block + 1) * BLOCK : above;
        for (size_t i = block * BLOCK; i < end; i++) {
            double v, a;
            if (c->pieces[i].high <= x) continue;
            part_above(&c->pieces[i], x, &v, &a);
            mst_sum_add(&cut, v), mst_sum_add(&area, a);
        }
    }
    double cut_m3 = fmax(mst_sum_value(&cut), 0), cut_area = mst_sum_value(&area);
    double net = c->moment - x * c->area;
    return (mst_curve_volumes){cut_m3, fmax(cut_m3 - net, 0), cut_area, c->area - cut_area};
}

/* ---- a group ---- */

static double surplus_of(const mst_volume_curve *const curves[], const double levels[], const double compacted[],
                         size_t count, double raise, double *slope) {
    double surplus = 0;
    *slope = 0;
    for (size_t i = 0; i < count; i++) {
        mst_curve_volumes v = mst_volume_curve_at(curves[i], levels[i] + raise);
        surplus += v.cut_m3 * compacted[i] - v.fill_m3;
        *slope -= v.cut_area_m2 * compacted[i] + v.fill_area_m2;
    }
    return surplus;
}

mst_status mst_balance_group(const mst_volume_curve *const curves[], const double levels[], const double compacted[],
                             size_t count, double *raise_m, mst_error *error) {
    double low = HUGE_VAL, high = -HUGE_VAL, slope;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, curves[i]->lowest - levels[i]);
        high = fmax(high, curves[i]->highest - levels[i]);
    }
    if (count == 0) return mst_fail(error, MST_UNDETERMINED, "There is no pad to balance.");
    double raise = fmin(fmax(0, low), high);
    for (int step = 0; step < MOST_STEPS; step++) {
        double surplus = surplus_of(curves, levels, compacted, count, raise, &slope);
        if (surplus > 0) low = fmax(low, raise);
        else if (surplus < 0) high = fmin(high, raise);
        double next = slope < 0 ? raise - surplus / slope : NAN;
        if (!(next >= low && next <= high)) next = low + (high - low) / 2;
        if (surplus == 0 || high - low <= LEVEL_M || fabs(next - raise) <= LEVEL_M) break;
        raise = next;
    }
    *raise_m = raise;
    return MST_OK;
}
