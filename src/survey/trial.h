/** @file survey/trial.h  The network once more with some readings doubted or corrected: what would it look like? */
#ifndef SURVEY_TRIAL_H
#define SURVEY_TRIAL_H
#include "survey/system.h"

/* What is different about one reading. Doubted: it takes no part. Else it counts as given here. */
typedef struct mst_change {
    uint32_t reading; /* as numbered when the site was read */
    bool doubted;
    uint32_t from, to, baseline;
    double value;
} mst_change;

typedef struct mst_trial {
    mst_arena *arena;
    mst_network net;
    mst_system system;
    bool solved;
    uint32_t *number; /* [net.reading_count] each reading's number when the site was read */
    uint32_t *row_of; /* [readings of the site] its row of the system, or MST_NONE */
    double freedom;   /* degrees of freedom */
    double *work;     /* [unknowns] */
} mst_trial;

/** Solves the network with the changes, apart from everything else: in memory of its own, freed by mst_trial_free.
 * @param fresh   the network as it was read, without datum or places
 * @param changes [count] at most one for a reading
 * @param places  a solved network of the same site whose places are the start; NULL: the start is found anew
 * A network that does not settle is no failure: then solved is false and it stays where it came to. */
mst_status mst_trial_make(const mst_network *fresh, const mst_change changes[], size_t count, const mst_network *places,
                          mst_trial *trial, mst_error *error) MST_CHECKED;
void mst_trial_free(mst_trial *trial);
/** How far a reading is from where the trial wants it (observed - computed) and the sd of that; the reading need not
 * take part. @return false when the trial cannot tell */
bool mst_trial_foretell(const mst_trial *trial, const mst_reading *reading, double *error, double *sd);
/** A copy of a network, in @p arena; names are borrowed. @return false when memory is short */
bool mst_network_copy(const mst_network *from, mst_arena *arena, mst_network *copy);
/** Takes over the places, levels, turns and frames of a solved network of the same site, where it has any. */
void mst_network_take_places(mst_network *net, const mst_network *from);
/** As that, but only values, and only of what has an unknown there. */
void mst_network_take_values(mst_network *net, const mst_network *from);

#endif
