/** @file src/works/gradient.h  Derivatives of cut and fill by every adjusted point, and the intervals they give. */
#ifndef WORKS_GRADIENT_H
#define WORKS_GRADIENT_H
#include "merestone/works.h"

/** One entry for each adjusted point; and where the volumes lie on the ground, for what is between its points. */
typedef struct mst_gradients {
    mst_gradient_term *cut, *fill, *area;
    size_t count;
    const mst_prism_parts **parts;
    size_t part_count, part_capacity;
    mst_arena *arena;
    bool failed; /**< memory was short */
} mst_gradients;

mst_status mst_gradients_new(const mst_adjustment *adjustment, mst_arena *arena, mst_gradients *g,
                             mst_error *error) MST_CHECKED;
void mst_gradients_clear(mst_gradients *g);
/** Adds the terms of a prism sum. */
void mst_gradients_add_sum(mst_gradients *g, const mst_prism_sum *sum);
void mst_gradients_add(mst_gradients *to, const mst_gradients *from);
/** 95 % figures of cut, fill and net = cut - fill: from the readings, and from the ground between the points where its
 * roughness is known. Cut and fill do not go below 0; the interval always holds the value. NaN limits where no variance
 * is known. */
mst_status mst_gradients_figures(const mst_gradients *g, double cut_m3, double fill_m3,
                                 const mst_adjustment *adjustment, mst_arena *arena, mst_figure figures[3],
                                 mst_error *error) MST_CHECKED;
/** The 95 % figure of an area whose outline's points are behind the gradients. */
mst_status mst_gradients_area(const mst_gradients *g, double area_m2, const mst_adjustment *adjustment,
                              mst_arena *arena, mst_figure *figure, mst_error *error) MST_CHECKED;
#endif
