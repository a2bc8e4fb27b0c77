/* A traverse by the compass rule or the transit rule. Compass: each leg takes its share of the misclosure by its length
 * (Bowditch, 1808; the form in Wolf and Ghilani, Elementary Surveying, chapter 10). */
#include "merestone/survey.h"
#include <math.h>

static mst_status check(const mst_traverse_leg legs[], size_t count, mst_error *error) {
    if (count < 2) return mst_fail(error, MST_TOO_FEW, "A traverse needs at least 2 legs, not %zu.", count);
    for (size_t i = 0; i < count; i++)
        if (!isfinite(legs[i].distance_m) || !isfinite(legs[i].bearing_rad) || !(legs[i].distance_m > 0))
            return mst_fail(error, MST_INVALID, "Leg %zu of the traverse has no length or no bearing.", i + 1);
    return MST_OK;
}

static void reduce(mst_traverse *t) {
    for (size_t i = 0; i < t->count; i++) {
        mst_traverse_leg *leg = &t->legs[i];
        leg->departure_m = leg->distance_m * sin(leg->bearing_rad);
        leg->latitude_m = leg->distance_m * cos(leg->bearing_rad);
        t->length_m += leg->distance_m;
        t->departure_misclosure_m += leg->departure_m;
        t->latitude_misclosure_m += leg->latitude_m;
    }
}

/* Shares by size; all alike where nothing has a size. */
static double part_of(double size, double all, size_t count) { return all > 0 ? fabs(size) / all : 1 / (double)count; }

static void balance(mst_traverse *t, bool transit, mst_point start) {
    mst_point at = start;
    double departures = 0, latitudes = 0, before = 0;
    for (size_t i = 0; i < t->count; i++) {
        departures += fabs(t->legs[i].departure_m);
        latitudes += fabs(t->legs[i].latitude_m);
    }
    for (size_t i = 0; i < t->count; i++) {
        mst_traverse_leg *leg = &t->legs[i];
        double share = leg->distance_m / t->length_m;
        double east = transit ? part_of(leg->departure_m, departures, t->count) : share;
        double north = transit ? part_of(leg->latitude_m, latitudes, t->count) : share;
        leg->balanced_departure_m = leg->departure_m - east * t->departure_misclosure_m;
        leg->balanced_latitude_m = leg->latitude_m - north * t->latitude_misclosure_m;
        leg->double_meridian_m = 2 * before + leg->balanced_departure_m;
        before += leg->balanced_departure_m;
        at.easting_m += leg->balanced_departure_m;
        at.northing_m += leg->balanced_latitude_m;
        leg->end = at;
    }
}

static double area_of(const mst_traverse *t, mst_point start) {
    double twice = 0, e = 0, n = 0; /* from the start, which a closed traverse comes back to */
    for (size_t i = 0; i < t->count; i++) {
        double next_e = t->legs[i].end.easting_m - start.easting_m,
               next_n = t->legs[i].end.northing_m - start.northing_m;
        twice += e * next_n - next_e * n;
        e = next_e;
        n = next_n;
    }
    return fabs(twice) / 2;
}

static mst_status compute(const mst_traverse_leg legs[], size_t count, bool transit, mst_point start,
                          const mst_point *end, mst_arena *arena, mst_traverse *traverse, mst_error *error) {
    mst_status status = check(legs, count, error);
    if (status) return status;
    mst_traverse t = {.legs = mst_arena_array(arena, count, sizeof *t.legs), .count = count};
    if (!t.legs) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the traverse.");
    for (size_t i = 0; i < count; i++) t.legs[i] = legs[i];
    reduce(&t);
    bool closed = !end || (end->easting_m == start.easting_m && end->northing_m == start.northing_m);
    if (!closed) {
        t.departure_misclosure_m -= end->easting_m - start.easting_m;
        t.latitude_misclosure_m -= end->northing_m - start.northing_m;
    }
    balance(&t, transit, start);
    t.linear_misclosure_m = hypot(t.departure_misclosure_m, t.latitude_misclosure_m);
    t.ratio = t.linear_misclosure_m > 0 ? t.length_m / t.linear_misclosure_m : HUGE_VAL;
    t.area_m2 = closed && count > 2 ? area_of(&t, start) : NAN;
    *traverse = t;
    return MST_OK;
}

mst_status mst_traverse_compass(const mst_traverse_leg legs[], size_t count, mst_point start, const mst_point *end,
                                mst_arena *arena, mst_traverse *traverse, mst_error *error) {
    return compute(legs, count, false, start, end, arena, traverse, error);
}

mst_status mst_traverse_transit(const mst_traverse_leg legs[], size_t count, mst_point start, const mst_point *end,
                                mst_arena *arena, mst_traverse *traverse, mst_error *error) {
    return compute(legs, count, true, start, end, arena, traverse, error);
}
