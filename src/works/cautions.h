/** @file src/works/cautions.h  What a report of earthworks must say besides its figures. */
#ifndef WORKS_CAUTIONS_H
#define WORKS_CAUTIONS_H
#include "merestone/works.h"

typedef struct mst_cautions {
    const char **items;
    size_t count, capacity;
} mst_cautions;

/** The usual cautions of one element: depth of dig, height of fill, ground not measured, soil not named. */
mst_status mst_cautions_of_element(const mst_element *element, const mst_site *site, const mst_prism_sum *sum,
                                   mst_arena *arena, mst_cautions *cautions, mst_error *error) MST_CHECKED;
/** Elements whose outlines overlap, each pair with its area. @param shapes  without paths where an element has none */
mst_status mst_cautions_of_overlaps(const mst_element elements[], const mst_shape shapes[], size_t count,
                                    mst_arena *arena, mst_cautions *cautions, bool *any, mst_error *error) MST_CHECKED;
/** Sentences that others have made. */
mst_status mst_cautions_add(mst_cautions *cautions, const char *const sentences[], size_t count, mst_arena *arena,
                            mst_error *error) MST_CHECKED;
/** Services crossed, trees whose roots are near, walls that hold ground: in surroundings.c. The stem of tree NAME is
 * the setting `stem.NAME`. @retval MST_INVALID a stem that is no length */
mst_status mst_cautions_of_surroundings(const mst_works *works, const mst_site *site, const mst_adjustment *adjustment,
                                        mst_arena *arena, mst_cautions *cautions, mst_error *error) MST_CHECKED;
bool mst_site_has_surroundings(const mst_site *site); /**< services or trees */
bool mst_is_service(const mst_feature *feature);
bool mst_is_tree(const mst_feature *feature);
/** Services: whenever anything is dug or stripped. */
mst_status mst_caution_services(mst_arena *arena, mst_cautions *cautions, mst_error *error) MST_CHECKED;
#endif
