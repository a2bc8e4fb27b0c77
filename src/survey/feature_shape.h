/** @file survey/feature_shape.h  A feature's shape from given places, for shapes and for how they change. */
#ifndef SURVEY_FEATURE_SHAPE_H
#define SURVEY_FEATURE_SHAPE_H
#include "merestone/survey.h"

/** Places of a feature's vertices and the points that they are. @param points indices into the adjustment's points */
mst_status mst_feature_places(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                              mst_point3 **places, uint32_t **points, mst_error *error) MST_CHECKED;
/** @param places [feature->vertex_count] */
mst_status mst_feature_shape_at(const mst_feature *feature, const mst_point3 places[], mst_arena *arena,
                                mst_shape *shape, mst_error *error) MST_CHECKED;

#endif
