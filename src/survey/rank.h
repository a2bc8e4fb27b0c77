/** @file survey/rank.h  What the readings leave open, in words. */
#ifndef SURVEY_RANK_H
#define SURVEY_RANK_H
#include "survey/network.h"

/** Of each point that wants a place in plan and has none: with which others it hangs together, what is free (shift,
 * turn, side, size) and which reading would fix it. @param why [nodes], in the network's arena; NULL where the point
 * has a place or more cannot be said than its own readings tell. @return false when memory is short */
bool mst_rank_explain(mst_network *network, const char *why[]);

#endif
