/** @file src/ground/cover.h  A shape as triangles, so that volumes inside it are sums over convex pieces. */
#ifndef GROUND_COVER_H
#define GROUND_COVER_H
#include "merestone/ground.h"

typedef struct mst_cover {
    const double (*at)[2];
    const uint32_t (*triangles)[3]; /**< counter-clockwise, inside the outline and outside its holes */
    size_t count;
    double area_m2;
} mst_cover;

/** Arcs flattened to 1 mm. @retval MST_INVALID not closed, or it crosses itself; MST_UNDETERMINED no area */
mst_status mst_cover_shape(const mst_shape *shape, mst_arena *arena, mst_cover *cover, mst_error *error) MST_CHECKED;
#endif
