/** @file src/works/dig.h  One element against the ground: the plain volumes, before soil and intervals. */
#ifndef WORKS_DIG_H
#define WORKS_DIG_H
#include "merestone/works.h"

/** Volumes between the stripped ground and formation, inside a shape. Terms as from the ground; none for a depth. */
mst_status mst_dig(const mst_element *element, const mst_shape *shape, const mst_ground *ground, mst_arena *arena,
                   mst_prism_sum *sum, mst_error *error) MST_CHECKED;
/** The element's outline on the adjusted points; errors name the element. */
mst_status mst_element_shape(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                             mst_arena *arena, mst_shape *shape, mst_error *error) MST_CHECKED;
#endif
