/** @file src/ground/contours.h  Contours with the edges that they cross, for what moves them along these. */
#ifndef GROUND_CONTOURS_H
#define GROUND_CONTOURS_H
#include "ground/model.h"

typedef struct mst_contour_edge {
    uint32_t lower, upper; /**< vertices */
} mst_contour_edge;
typedef struct mst_traced {
    mst_contour line;
    mst_contour_edge *edges; /**< [count], beside the points; NULL unless asked for */
} mst_traced;
/** As mst_ground_contours. */
mst_status mst_trace_contours(const mst_ground *ground, double interval_m, bool keep_edges, mst_arena *arena,
                              mst_traced **lines, size_t *count, mst_error *error) MST_CHECKED;
#endif
