/** @file src/works/sketch.h  Places and lines from which the next tiling is triangulated.
 *
 * Lines that meet are drawn by different hands (two tiles that share an edge, two banks that share a valley) and
 * rounded apart; places nearer than SNAP_M are taken as one, so that no slivers come between them. */
#ifndef WORKS_SKETCH_H
#define WORKS_SKETCH_H
#include "merestone/base.h"

typedef struct mst_sketch {
    mst_arena *arena;
    double (*at)[2];
    size_t place_count, place_capacity;
    uint32_t (*segments)[2];
    size_t segment_count, segment_capacity;
    uint32_t *table; /**< open hash of cells to places */
    size_t table_size;
    bool failed; /**< memory was short */
} mst_sketch;

/** Begins with places taken over as they are, numbered as given. */
void mst_sketch_begin(mst_sketch *s, const double (*at)[2], size_t count, mst_arena *arena);
/** @return the place there, or near enough to be it. */
uint32_t mst_sketch_place(mst_sketch *s, const double at[2]);
void mst_sketch_line(mst_sketch *s, uint32_t a, uint32_t b);
#endif
