/** @file src/operations/flows.h  What swales and pipes carry beside what comes to them. */
#ifndef OPERATIONS_FLOWS_H
#define OPERATIONS_FLOWS_H
#include "operations/session.h"
#include <jansson.h>

typedef struct mst_rain {
    double mm_h;  /**< as the user gives it; NaN: not given */
    double share; /**< that runs off, 0..1 */
} mst_rain;
/** The finished ground, and the works that made it. */
typedef struct mst_flow_ground {
    const mst_works *works;
    const mst_element *elements; /**< that @p works are composed of */
    size_t element_count;
    const mst_ground *ground;
    const mst_water *water;
} mst_flow_ground;
/** Adds "flows" to a drain result: one for each swale and each trench with a pipe. */
mst_status mst_flows_json(mst_session *session, const mst_flow_ground *on, const mst_rain *rain, json_t *result,
                          mst_error *error) MST_CHECKED;
/** The rain as the arguments ("rainfall", "runoff") or else the site's settings of those names say.
 * @param rain  mm_h is NaN where neither does. @retval MST_INVALID one that cannot be */
mst_status mst_rain_of(const mst_site *site, const json_t *arguments, mst_rain *rain, mst_error *error) MST_CHECKED;
/** What each element carries, in few words for a plan; NULL for what is no swale and has no pipe.
 * @param words receives one for each element of the site, in the session's scratch */
mst_status mst_flow_words(mst_session *session, const char ***words, mst_error *error) MST_CHECKED;
#endif
