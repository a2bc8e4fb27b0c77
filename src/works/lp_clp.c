/* Clp behind the seam; nothing else in the program knows it. */
#include "works/lp.h"
#include <coin/Clp_C_Interface.h>
#include <float.h>
#include <math.h>
#include <string.h>

bool mst_lp_available(void) { return true; }

static double bound(double x) { return isinf(x) ? (x > 0 ? DBL_MAX : -DBL_MAX) : x; }

typedef struct bounds {
    double *column_low, *column_high, *cost, *row_low, *row_high;
} bounds;

static bool bounds_of(const mst_lp *lp, mst_arena *arena, bounds *b) {
    double **column[] = {&b->column_low, &b->column_high, &b->cost}, **row[] = {&b->row_low, &b->row_high};
    for (int i = 0; i < 3; i++)
        if (!(*column[i] = mst_arena_array(arena, lp->column_count + 1, sizeof(double)))) return false;
    for (int i = 0; i < 2; i++)
        if (!(*row[i] = mst_arena_array(arena, lp->row_count + 1, sizeof(double)))) return false;
    for (size_t i = 0; i < lp->column_count; i++) {
        b->column_low[i] = bound(lp->columns[i].lower), b->column_high[i] = bound(lp->columns[i].upper);
        b->cost[i] = lp->columns[i].cost;
    }
    for (size_t i = 0; i < lp->row_count; i++)
        b->row_low[i] = bound(lp->rows[i].lower), b->row_high[i] = bound(lp->rows[i].upper);
    return true;
}

static mst_status outcome(int status, mst_error *error) {
    if (status == 0) return MST_OK;
    if (status == 1) return mst_fail(error, MST_NO, "Nothing meets all of the wishes.");
    if (status == 2) return mst_fail(error, MST_UNDETERMINED, "The cost has no least; give every price as 0 or more.");
    return mst_fail(error, MST_NOT_CONVERGED, "The cheapest levels were not found; make the spacing coarser.");
}

mst_status mst_lp_solve(const mst_lp *lp, mst_arena *arena, double x[], double *cost, mst_error *error) {
    mst_lp_matrix m;
    bounds b;
    if (!mst_lp_matrix_of(lp, arena, &m) || !bounds_of(lp, arena, &b))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    Clp_Simplex *model = Clp_newModel();
    if (!model) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    Clp_setLogLevel(model, 0);
    Clp_loadProblem(model, (int)lp->column_count, (int)lp->row_count, m.start, m.row, m.value, b.column_low,
                    b.column_high, b.cost, b.row_low, b.row_high);
    Clp_initialDualSolve(model);
    mst_status status = outcome(Clp_status(model), error);
    if (!status) {
        memcpy(x, Clp_primalColumnSolution(model), lp->column_count * sizeof *x);
        *cost = Clp_objectiveValue(model);
    }
    Clp_deleteModel(model);
    return status;
}
