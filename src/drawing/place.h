/** @file src/drawing/place.h  Placing labels so that none lies on another: pure geometry in mm of paper, no ink.
 *
 * Greedy by priority over each label's candidate places, then one label at a time is moved aside where that lets a
 * dropped one in; after the review of point-feature label placement by Christensen, Marks and Shieber, ACM Transactions
 * on Graphics 14 (1995) 203-232. */
#ifndef DRAWING_PLACE_H
#define DRAWING_PLACE_H
#include "drawing/paper.h"
#include "merestone/base.h"

/** A rectangle at any angle: its middle, half its sides, and the direction of its first side. */
typedef struct mst_box {
    double x, y, half_w, half_h, cos_a, sin_a;
} mst_box;
/** True when the boxes share more than a common edge. */
bool mst_boxes_overlap(const mst_box *a, const mst_box *b);
bool mst_box_meets_segment(const mst_box *box, double x0, double y0, double x1, double y1);

/** A place where a label might go; with a leader, also the line that joins it to what it names. */
typedef struct mst_choice {
    mst_box box;
    double cost;     /**< of its own; after a run with that of the lines that it crosses */
    double crossing; /**< result: the cost of those lines alone */
    bool leader;
    double x0, y0, x1, y1;
} mst_choice;
typedef struct mst_placing {
    mst_choice *choices;
    size_t count, capacity;
    int priority; /**< higher goes first */
    double limit; /**< a place that costs more is as good as none */
    int chosen;   /**< result: index of the choice, -1 dropped */
} mst_placing;

typedef struct mst_placer mst_placer;
/** @return NULL when memory is short. Labels stay inside @p bounds. */
mst_placer *mst_placer_new(mst_rect bounds, mst_arena *arena);
/** A line that a label crosses only at @p cost. @return false when memory is short */
bool mst_placer_line(mst_placer *placer, double x0, double y0, double x1, double y1, double cost);
/** A place where no label may lie; a leader may run over it if it must. */
bool mst_placer_block(mst_placer *placer, mst_box box);
/** Places the labels beside those of earlier calls, which stay where they are. @return false when memory is short */
bool mst_placer_run(mst_placer *placer, mst_placing labels[], size_t count);
#endif
