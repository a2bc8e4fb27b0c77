/** @file survey/parts.h  Parts of a network that hang together but meet the rest only in single points. */
#ifndef SURVEY_PARTS_H
#define SURVEY_PARTS_H
#include "survey/body.h"

/** Grows a part from every line taped between points without a place, in a frame of its own, and lays it on the root
 * where they share three points or more: that also tells it from its mirror image. @return true when one was laid */
bool mst_parts_from_tapes(mst_body *root, mst_body *part);
/** Grows the shape that directions alone give, without a size, and lays it on the root where they share two points.
 * @param shape a body on the same network whose pieces and ties are left out @return true when one was laid */
bool mst_parts_from_directions(mst_body *root, mst_body *shape);
/** Tries both places of a point that two circles leave open, grows each as far as it goes, and keeps the one that the
 * readings fit when they do not fit the other. @return true when one was kept */
bool mst_parts_settle_sides(mst_body *root, mst_body *right, mst_body *left);

#endif
