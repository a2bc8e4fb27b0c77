/** @file survey/plan.h  A visit before it is made, for the advice on what to add to it. */
#ifndef SURVEY_PLAN_H
#define SURVEY_PLAN_H
#include "merestone/survey.h"

/** Where a point is by the sketch or by what was measured. @return false when it has no place */
bool mst_plan_place(const mst_visit_plan *plan, const char *name, mst_point3 *place);

#endif
