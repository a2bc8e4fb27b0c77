/** @file survey/model.h  What each reading should be where the points now lie, and how it changes with them. */
#ifndef SURVEY_MODEL_H
#define SURVEY_MODEL_H
#include "survey/network.h"

enum { MST_TERMS_MAX = 8 };

typedef struct mst_terms {
    size_t count;
    uint32_t unknown[MST_TERMS_MAX];
    double derivative[MST_TERMS_MAX];
    double computed; /* in the reading's own terms */
    double residual; /* computed - observed; an angle within half a turn */
    double length_m; /* of the sight or line in plan; 1 where there is none */
} mst_terms;

/** @return false when the reading says nothing where the points lie: a direction between points at one place. */
bool mst_model(const mst_network *net, const mst_reading *reading, mst_terms *terms);
/** True when all that the reading touches has a value. */
bool mst_reading_is_usable(const mst_network *net, const mst_reading *reading);

#endif
