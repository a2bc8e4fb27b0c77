/** @file src/works/gradient.h  Derivatives of cut and fill by every adjusted point, and the intervals they give. */
#ifndef WORKS_GRADIENT_H
#define WORKS_GRADIENT_H
#include "merestone/works.h"

/** One entry for each adjusted point. */
typedef struct mst_gradients {
    mst_gradient_term *cut, *fill;
    size_t count;
} mst_gradients;

mst_status mst_gradients_new(const mst_adjustment *adjustment, mst_arena *arena, mst_gradients *g,
                             mst_error *error) MST_CHECKED;
void mst_gradients_clear(mst_gradients *g);
/** Adds the terms of a prism sum. */
void mst_gradients_add_sum(mst_gradients *g, const mst_prism_sum *sum);
void mst_gradients_add(mst_gradients *to, const mst_gradients *from);
/** 95 % figures of cut, fill and net = cut - fill; cut and fill do not go below 0. NaN limits where no variance is
 * known. */
mst_status mst_gradients_figures(const mst_gradients *g, double cut_m3, double fill_m3,
                                 const mst_adjustment *adjustment, mst_arena *arena, mst_figure figures[3],
                                 mst_error *error) MST_CHECKED;
#endif
