/** @file src/setout/ties.h  From which site points a stake is taped, sighted and chained, and in which order stakes are
 * walked. */
#ifndef SETOUT_TIES_H
#define SETOUT_TIES_H
#include "merestone/setout.h"

/** Site points that can be measured from, the best first. */
typedef struct mst_marks {
    const mst_adjustment *adjustment;
    uint32_t *points; /**< [count] adjusted point indices, by cost, then by index */
    double *cost_m;   /**< [count] how little a point is liked, in metres of error */
    size_t count;
} mst_marks;

/** Gathers the points with a place. Held points and those that were stood at or measured from come first: they are
 * marks that can be found again, where other points may be shots on grass. */
mst_status mst_marks_of(const mst_adjustment *adjustment, mst_arena *arena, mst_marks *marks,
                        mst_error *error) MST_CHECKED;

typedef struct mst_tie_options {
    double reach_m, sd_m;
} mst_tie_options;
/** The two ties that fix the line's place best and a third that would show a slip in either; writes ties, side, sd_m
 * and a caution ("" where there is none). */
mst_status mst_ties_choose(const mst_marks *marks, const mst_tie_options *options, mst_arena *arena,
                           mst_setout_line *line, mst_error *error) MST_CHECKED;
/** A place that hangs on two points, and what setting it out adds: sd along its own bearing and across it. */
typedef struct mst_hung {
    const mst_adjustment *adjustment;
    const mst_adjusted_point *from, *towards; /**< from stands fast, towards turns */
    double bearing_rad, distance_m;           /**< of the place from `from` */
    double own_bearing_rad, along_m, across_m;
} mst_hung;
/** The larger half axis of the place's standard ellipse. @retval as mst_adjustment_variance */
mst_status mst_hung_sd(const mst_hung *hung, double *sd_m, mst_error *error) MST_CHECKED;
/** The order of a short walk over [count] places, from the first: nearest neighbour, then 2-opt. */
mst_status mst_short_walk(const mst_point places[], size_t count, mst_arena *arena, uint32_t *order,
                          mst_error *error) MST_CHECKED;
#endif
