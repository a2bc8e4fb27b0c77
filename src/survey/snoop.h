/** @file survey/snoop.h  Data snooping: which readings of a solved system stand out, the worst first. */
#ifndef SURVEY_SNOOP_H
#define SURVEY_SNOOP_H
#include "survey/system.h"

/* A reading that stands out. Those that no test can tell from it follow it, with freed = false. */
typedef struct mst_standout {
    size_t row;
    double statistic; /* standardized residual, the earlier ones freed */
    bool freed;
} mst_standout;

typedef struct mst_snoop {
    mst_system *s;
    mst_arena *scratch;
    double critical;
    double *residual, *redundancy; /* [used], as freeing goes on */
    mst_standout *list;
    size_t count, most;
    /* of each freed row: Q a' when it was freed, and weight / redundancy */
    double **solved, *update;
    size_t *freed_row, freed_count;
} mst_snoop;

/** Residuals and redundancies of the system as solved and inverted. @param most room in the list
 * @return false when memory is short */
bool mst_snoop_make(mst_snoop *snoop, mst_system *system, mst_arena *scratch, size_t most);
/** Frees the worst reading until none is beyond @p critical. @return false when memory is short */
bool mst_snoop_run(mst_snoop *snoop, double critical);
/** Frees that one, and lists it and those that no test can tell from it. @return false when memory is short */
bool mst_snoop_free(mst_snoop *snoop, size_t row);
double mst_snoop_statistic(const mst_snoop *snoop, size_t row);
/** The critical value at which a set without mistakes is accused with probability below @p significance, as a whole.
 * The statistics of all readings live in a space of as many dimensions as there are degrees of freedom, so the largest
 * is bounded both by Sidak's inequality over the readings (JASA 62 (1967) 626-633) and by chi-square of the freedom
 * (Scheffe, The Analysis of Variance, 1959, section 3.5). The sharper bound counts. */
double mst_snoop_critical(const mst_snoop *snoop, double significance, double degrees_of_freedom);

#endif
