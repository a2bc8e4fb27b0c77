/* The rim of a cloud as its rows and columns of cells see it from outside. */
#include "ground/cloud.h"

enum { WEST, EAST, SOUTH, NORTH, SIDES };

static uint32_t run_count(const mst_outline *o, int side) { return side < SOUTH ? o->cells.rows : o->cells.columns; }

bool mst_outline_begin(mst_outline *o, const mst_cells *cells, mst_arena *arena) {
    o->cells = *cells;
    for (int side = 0; side < SIDES; side++) {
        o->farthest[side] = mst_arena_array(arena, run_count(o, side), sizeof *o->farthest[side]);
        if (!o->farthest[side]) return false;
        for (uint32_t i = 0; i < run_count(o, side); i++) o->farthest[side][i][0] = NAN;
    }
    return true;
}

/* Whether p is farther out than q, where there is a q. */
static inline bool is_farther(int side, const double p[3], const double q[3]) {
    int axis = side < SOUTH ? 0 : 1;
    return isnan(q[0]) || (side & 1 ? p[axis] > q[axis] : p[axis] < q[axis]);
}

static inline void take_farther(int side, const double p[3], double q[3]) {
    if (is_farther(side, p, q)) q[0] = p[0], q[1] = p[1], q[2] = p[2];
}

void mst_outline_add(mst_outline *o, const mst_cloud_point *point) {
    const double p[3] = {point->easting_m, point->northing_m, point->elevation_m};
    uint32_t row = mst_cell_row(&o->cells, p[1]), column = mst_cell_column(&o->cells, p[0]);
    for (int side = 0; side < SIDES; side++) take_farther(side, p, o->farthest[side][side < SOUTH ? row : column]);
}

bool mst_outline_next(const mst_outline *o, double apart_m, uint32_t *k, double p[3]) {
    uint32_t most = o->cells.rows > o->cells.columns ? o->cells.rows : o->cells.columns;
    double cells = fmin(fmax(apart_m * o->cells.per_m, 1), most);
    uint32_t run = (uint32_t)cells, start[SIDES + 1] = {0};
    for (int side = 0; side < SIDES; side++) start[side + 1] = start[side] + (run_count(o, side) + run - 1) / run;
    for (p[0] = NAN; isnan(p[0]) && *k < start[SIDES]; ++*k) {
        int side = 0;
        while (*k >= start[side + 1]) side++;
        uint32_t from = (*k - start[side]) * run,
                 end = from + run < run_count(o, side) ? from + run : run_count(o, side);
        for (uint32_t i = from; i < end; i++)
            if (!isnan(o->farthest[side][i][0])) take_farther(side, o->farthest[side][i], p);
    }
    return !isnan(p[0]);
}
