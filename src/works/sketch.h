/** @file src/works/sketch.h  Places and lines from which the next tiling is triangulated.
 *
 * Lines that meet are drawn by different hands (two tiles that share an edge, two banks that share a valley) and
 * rounded apart; places nearer than SNAP_M are taken as one, so that no slivers come between them. */
#ifndef WORKS_SKETCH_H
#define WORKS_SKETCH_H
#include "merestone/base.h"

/** A line between two places. One that is fresh has not been held against the others yet. */
typedef struct mst_sketch_segment {
    uint32_t end[2];
    bool fresh;
} mst_sketch_segment;

typedef struct mst_sketch {
    mst_arena *arena;
    double (*at)[2];
    size_t place_count, place_capacity;
    mst_sketch_segment *segments;
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
/** An edge of a triangulation: its like do not meet it but at places. */
void mst_sketch_edge(mst_sketch *s, uint32_t a, uint32_t b);
/** Lets lines meet at places only: each is cut where another crosses it and where a place lies on it to SNAP_M, until
 * nothing is nearer than that. A place on a line only to rounding would else leave a needle in which the triangulation
 * has no room. Lines drawn twice become one. */
void mst_sketch_settle(mst_sketch *s);
#endif
