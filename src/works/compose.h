/** @file src/works/compose.h  Elements put into the ground one after the other. */
#ifndef WORKS_COMPOSE_H
#define WORKS_COMPOSE_H
#include "works/design.h"

/** Where a bank was still off the ground when the survey ended, or where a ditch stood above the ground. */
typedef struct mst_work_gap {
    uint32_t element;
    bool ditch;
    mst_point at; /**< where it is worst */
    double off_m, length_m;
} mst_work_gap;

struct mst_works {
    const mst_ground *ground;
    mst_tiling tiling;
    const mst_layout *layouts; /**< by element */
    double *base_m2;           /**< by element: what of its base found ground */
    size_t count;
    mst_work_gap *gaps;
    size_t gap_count, gap_capacity;
};

/** One step. @param walls  [wall_count] lines that a bank does not pass. In apply.c */
mst_status mst_apply_step(mst_tiling *tiling, const mst_work_step *step, uint32_t owner, const mst_layout walls[],
                          size_t wall_count, mst_works *composed, mst_arena *arena, mst_error *error) MST_CHECKED;
/** Cuts the tiles where two of them pass through each other along their common edge, in any surface, so that upright
 * faces between them end in a place of their own. In surface.c */
mst_status mst_split_crossings(mst_tiling *tiling, mst_arena *arena, mst_error *error) MST_CHECKED;
/** A tile's level on a surface at one of its corners. */
double mst_tile_level(const mst_tile *tile, mst_surface_kind surface, int corner);
/** Volumes between stripped ground and formation of one element's tiles, with the terms of the ground's points. */
mst_status mst_works_sum(const mst_works *works, uint32_t element, mst_arena *arena, mst_prism_sum *sum,
                         mst_error *error) MST_CHECKED;
#endif
