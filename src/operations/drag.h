/** @file src/operations/drag.h  A pad's volumes while its level is dragged, from a curve that is made once. */
#ifndef OPERATIONS_DRAG_H
#define OPERATIONS_DRAG_H
#include "operations/session.h"
#include <jansson.h>

/** Cut, fill, strip and materials of a pad at the level in its definition, without intervals: {"cut_m3","fill_m3",
 * "net_m3","area_m2","strip_m3","materials","layers","quick":true}. The first question about a pad cuts the ground
 * along it; others differing in nothing but "level" are answered from sums, until the site changes.
 * @retval MST_NO no pad */
mst_status mst_drag_volume(mst_session *session, const json_t *definition, json_t **result,
                           mst_error *error) MST_CHECKED;
typedef struct mst_drag_balance {
    double level_m, cut_m3, fill_m3;
} mst_drag_balance;
/** The finished level of a pad at which the cut of it and of its stored banks, each as its soil compacts, makes their
 * fill. @retval MST_NO it has no banks, or they cannot meet (then with a sentence) */
mst_status mst_drag_balance_of(mst_session *session, const json_t *definition, mst_drag_balance *balance,
                               mst_error *error) MST_CHECKED;
/** Frees what is kept. */
void mst_drag_forget(mst_session *session);
#endif
