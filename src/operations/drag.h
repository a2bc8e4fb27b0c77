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
/** Frees what is kept. */
void mst_drag_forget(mst_session *session);
#endif
