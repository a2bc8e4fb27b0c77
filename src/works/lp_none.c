/* In the place of lp_clp.c where the build found no LP library. */
#include "works/lp.h"

bool mst_lp_available(void) { return false; }

mst_status mst_lp_solve(const mst_lp *lp, mst_arena *arena, double x[], double *cost, mst_error *error) {
    (void)lp, (void)arena, (void)x, (void)cost;
    return mst_fail(error, MST_NOT_FOUND,
                    "Cheapest levels and hauls are not in this build; install coinor-libclp-dev and build again.");
}
