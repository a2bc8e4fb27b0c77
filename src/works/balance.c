/* The level at which the dig makes its own fill. Raising a pad by dz takes dz x (cut area) from the cut and adds
 * dz x (fill area) to the fill, so Newton's step is exact in slope; the bracket keeps it on the ground. */
#include "works/dig.h"
#include <math.h>

enum { MOST_STEPS = 200 };
static const double LEVEL_M = 1e-7; /* far below any peg; a patio of 100 m2 balances to 10 ml */

typedef struct balance {
    double surplus, slope;
    mst_prism_sum sum;
} balance;

static mst_status try_level(const mst_element *element, double level, const mst_shape *shape, const mst_ground *ground,
                            double compacted, mst_arena *arena, balance *b, mst_error *error) {
    mst_element moved = *element;
    moved.finish.level_m = level;
    mst_status status = mst_dig(&moved, shape, ground, arena, &b->sum, error);
    b->surplus = b->sum.cut_m3 * compacted - b->sum.fill_m3;
    b->slope = -(compacted * b->sum.cut_area_m2 + b->sum.fill_area_m2);
    return status;
}

/* Its own arena for each try, so that a long search does not grow the caller's. */
static mst_status find_level(const mst_element *element, const mst_shape *shape, const mst_ground *ground,
                             double compacted, double *level, balance *b, mst_error *error) {
    double low = *level + b->sum.lowest_m, high = *level + b->sum.highest_m;
    for (int i = 0; i < MOST_STEPS; i++) {
        if (b->surplus > 0) low = fmax(low, *level);
        else if (b->surplus < 0) high = fmin(high, *level);
        double next = b->slope < 0 ? *level - b->surplus / b->slope : NAN;
        if (!(next >= low && next <= high)) next = low + (high - low) / 2;
        if (b->surplus == 0 || fabs(next - *level) <= LEVEL_M)
            return MST_OK; /* on level ground the bracket is a point */
        *level = next;
        mst_arena *own = mst_arena_new();
        mst_status status = own ? try_level(element, *level, shape, ground, compacted, own, b, error)
                                : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        mst_arena_free(own);
        if (status) return status;
    }
    return MST_OK; /* the bracket has shrunk to rounding long before */
}

mst_status mst_balance_level(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                             const mst_ground *ground, mst_arena *arena, double *level_m, double *cut_m3,
                             double *fill_m3, mst_error *error) {
    mst_shape shape;
    mst_soil soil;
    balance b;
    if (element->kind == MST_WORK_DEPTH)
        return mst_fail(error, MST_NO,
                        "Element '%s' digs by a depth everywhere, so its cut never meets its fill; make it a pad.",
                        element->name);
    if (!element->in)
        return mst_fail(error, MST_NO,
                        "Element '%s' is a %s; only pads are balanced by their level. Move its levels by hand.",
                        element->name, mst_work_kind_name(element->kind));
    mst_status status = mst_soil_of(site, element->soil, &soil, error);
    if (!status) status = mst_element_shape(element, site, adjustment, arena, &shape, error);
    double level = element->finish.level_m;
    if (!status) status = try_level(element, level, &shape, ground, soil.compacted, arena, &b, error);
    if (status) return status;
    if (!(b.sum.area_m2 > 0))
        return mst_fail(error, MST_UNDETERMINED,
                        "Element '%s' has no measured ground under it; take spot levels there.", element->name);
    if ((status = find_level(element, &shape, ground, soil.compacted, &level, &b, error))) return status;
    *level_m = level;
    *cut_m3 = b.sum.cut_m3;
    *fill_m3 = b.sum.fill_m3;
    return MST_OK;
}

/* ---- by the fall ---- */

static const double MOST_FALL = 0.20, FALL = 1e-9;
enum { FALLS_TRIED = 80, HALVINGS = 60 };

typedef struct turning {
    mst_element element;
    double e, n; /* downhill */
    const mst_shape *shape;
    const mst_ground *ground;
    double compacted;
    mst_prism_sum sum;
    mst_error *error;
} turning;

static mst_status try_fall(turning *t, double fall, double *surplus) {
    mst_arena *own = mst_arena_new();
    if (!own) return mst_fail(t->error, MST_NO_MEMORY, "Memory is short.");
    t->element.finish.slope_e = -fall * t->e, t->element.finish.slope_n = -fall * t->n;
    mst_status status = mst_dig(&t->element, t->shape, t->ground, own, &t->sum, t->error);
    *surplus = t->sum.cut_m3 * t->compacted - t->sum.fill_m3;
    mst_arena_free(own);
    return status;
}

/* A pad that turns about a point inside it may balance at several falls: they are tried from level on. */
static mst_status find_fall(turning *t, double *fall) {
    double low = 0, at_low = 0, high = 0, at_high = 0;
    mst_status status = try_fall(t, 0, &at_low);
    if (status || at_low == 0) return *fall = 0, status;
    for (int i = 1; i <= FALLS_TRIED && !status; i++) {
        high = MOST_FALL * i / FALLS_TRIED;
        status = try_fall(t, high, &at_high);
        if (status || (at_high <= 0) != (at_low <= 0)) break;
        low = high, at_low = at_high;
    }
    if (status) return status;
    if ((at_high <= 0) == (at_low <= 0))
        return mst_fail(t->error, MST_NO,
                        "Element '%s': no fall from 0 to %.0f %% makes its cut meet its fill; move its level.",
                        t->element.name, 100 * MOST_FALL);
    for (int i = 0; i < HALVINGS && high - low > FALL && !status; i++) {
        double middle = low + (high - low) / 2, at = 0;
        status = try_fall(t, middle, &at);
        if ((at <= 0) == (at_low <= 0)) low = middle;
        else high = middle;
    }
    double at;
    *fall = low + (high - low) / 2;
    return status ? status : try_fall(t, *fall, &at);
}

mst_status mst_balance_fall(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                            const mst_ground *ground, mst_arena *arena, double *fall, double *cut_m3, double *fill_m3,
                            mst_error *error) {
    mst_shape shape;
    mst_soil soil;
    double slope = hypot(element->finish.slope_e, element->finish.slope_n);
    if (element->kind != MST_WORK_FALLING_PAD || !(slope > 0))
        return mst_fail(error, MST_NO, "Element '%s' is balanced by its fall only as a falling pad with a fall.",
                        element->name);
    mst_status status = mst_soil_of(site, element->soil, &soil, error);
    if (!status) status = mst_element_shape(element, site, adjustment, arena, &shape, error);
    if (status) return status;
    turning t = {.element = *element,
                 .e = -element->finish.slope_e / slope,
                 .n = -element->finish.slope_n / slope,
                 .shape = &shape,
                 .ground = ground,
                 .compacted = soil.compacted,
                 .error = error};
    if ((status = find_fall(&t, fall))) return status;
    if (!(t.sum.area_m2 > 0))
        return mst_fail(error, MST_UNDETERMINED,
                        "Element '%s' has no measured ground under it; take spot levels there.", element->name);
    *cut_m3 = t.sum.cut_m3, *fill_m3 = t.sum.fill_m3;
    return MST_OK;
}
