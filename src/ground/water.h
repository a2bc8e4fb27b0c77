/** @file src/ground/water.h  Where water stands and which way it leaves, shared by flood and paths. */
#ifndef GROUND_WATER_H
#define GROUND_WATER_H
#include "ground/model.h"

struct mst_water {
    const mst_ground *ground;
    mst_rim_kind *rim;      /**< [3 * triangle_count] */
    double *level_m;        /**< by vertex: where the water stands */
    uint32_t *onward;       /**< by vertex: the next vertex on the lowest way out; itself at the outer rim */
    uint32_t *spill;        /**< by wet vertex: where its water runs over; MST_NOWHERE where dry */
    uint32_t *start, *next; /**< vertices beside each vertex */
    uint32_t *at;           /**< a triangle at each vertex */
    mst_low_spot *spots;
    size_t spot_count, spot_capacity;
};
static inline bool mst_is_wet(const mst_water *w, uint32_t v) {
    return w->level_m[v] > w->ground->vertices[v].elevation_m;
}
#endif
