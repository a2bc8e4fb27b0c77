/** @file src/drawing/annotate.h  What of a plan gets a label, which labels come first, and what is left to the list. */
#ifndef DRAWING_ANNOTATE_H
#define DRAWING_ANNOTATE_H
#include "drawing/grid.h"
#include "drawing/labels.h"

/** One line of the list beside the plan. `number` is 0 where even the ring found no room. */
typedef struct mst_listed {
    int number;
    const char *name, *value;
} mst_listed;

typedef struct mst_annotation_request {
    const mst_plan *plan;
    const mst_view *view;
    const mst_sizes *sizes;
    mst_rect area;        /**< labels stay inside */
    const mst_grid *grid; /**< whose figures labels keep clear of; may be NULL */
    bool point_names;
} mst_annotation_request;

typedef struct mst_annotation {
    mst_labels labels;
    mst_track *contour_tracks; /**< one to each of the plan's contours */
    mst_listed *listed;
    size_t listed_count, listed_capacity;
    size_t names_left_out; /**< names of points that found no room */
    double shortest_mm;    /**< edges shorter than this on paper have no figure */
} mst_annotation;

/** Chooses and places all labels. @param pen measures only. @return false when memory is short */
bool mst_annotate(const mst_annotation_request *request, mst_pen *pen, mst_arena *arena, mst_annotation *annotation);
#endif
