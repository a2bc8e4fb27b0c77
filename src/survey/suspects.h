/** @file survey/suspects.h  Readings that the others contradict. */
#ifndef SURVEY_SUSPECTS_H
#define SURVEY_SUSPECTS_H
#include "survey/trial.h"

enum { MST_DOUBTS_MAX = 100 };

/* A reading that the others contradict, and how far it is off by what they say. */
typedef struct mst_doubt {
    uint32_t reading; /* as numbered when the site was read */
    uint32_t leader; /* index of the doubt that no test can tell from it and that was taken out; its own for that one */
    double error, sd;
} mst_doubt;

typedef struct mst_doubts {
    mst_doubt list[MST_DOUBTS_MAX];
    size_t count;
    double critical;
    mst_trial without; /* the network without the leaders; solved only when it was tried */
} mst_doubts;

/** Looks for them, the worst first. Changes nothing in the system.
 * @param fresh  the network as it was read
 * @param system solved and inverted, or NULL when it did not settle
 * @param doubts result; free with mst_doubts_free, also after a failure */
mst_status mst_doubts_find(const mst_network *fresh, mst_system *system, const mst_adjust_options *options,
                           mst_doubts *doubts, mst_error *error) MST_CHECKED;
void mst_doubts_free(mst_doubts *doubts);
/** Puts them into words, with the slip that each most likely is. */
mst_status mst_doubts_report(const mst_network *fresh, const mst_system *system, const mst_doubts *doubts,
                             mst_adjustment *adjustment, mst_error *error) MST_CHECKED;
/** The sentence on the first of them alone, in the network's arena. */
const char *mst_doubts_first_sentence(const mst_network *fresh, const mst_doubts *doubts);

#endif
