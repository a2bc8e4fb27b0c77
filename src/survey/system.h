/** @file survey/system.h  The network's unknowns and normal equations: numbered, tested for what they leave open,
 * solved. */
#ifndef SURVEY_SYSTEM_H
#define SURVEY_SYSTEM_H
#include "survey/network.h"
#include "numeric/sparse.h"

typedef struct mst_system {
    mst_network *net;
    mst_arena *arena;
    size_t unknowns,
        rows;           /* rows: one for each used reading, in order, then one for each point with two plan unknowns */
    double **value;     /* [unknowns] where each unknown's value stands */
    bool *is_angle;     /* [unknowns] */
    uint32_t *reading;  /* [used rows] its reading */
    size_t used;        /* how many rows are readings */
    uint32_t *pair_row; /* [nodes] the row that joins a point's easting and northing, or MST_NONE */
    uint32_t *row_start, *columns;
    double *coefficients;      /* as columns */
    double *residual, *weight; /* [used rows] computed - observed; 1 / sd^2, 0 while a reading counts not */
    mst_sparse *matrix;
    bool factored; /* the matrix is factored, undamped, as last evaluated */
    double cost;   /* sum of weight residual^2 */
} mst_system;

/** Numbers what can be determined and drops the rest from the network, each with its reason; builds the normal matrix.
 */
mst_status mst_system_make(mst_network *net, mst_arena *arena, mst_system *system, mst_error *error) MST_CHECKED;
/** Sd of a reading over a sight of that length in plan, centring included. */
double mst_reading_sd(const mst_reading *reading, double length_m);
/** Evaluates every row where the points now lie. */
void mst_system_evaluate(mst_system *system);
/** Moves to the best place: Gauss-Newton, damped (Marquardt) when a step would make things worse. Leaves the factor of
 * the last step. @retval MST_NOT_CONVERGED */
mst_status mst_system_solve(mst_system *system, int max_iterations, int *iterations, mst_error *error) MST_CHECKED;
/** Factors the normal matrix as last evaluated. */
void mst_system_factor(mst_system *system);
/** A dense copy of one row. */
void mst_system_row(const mst_system *system, size_t row, double dense[]);

#endif
