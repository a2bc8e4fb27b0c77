#include "works/dig.h"
#include "ground/cover.h"
#include <math.h>

mst_status mst_element_shape(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                             mst_arena *arena, mst_shape *shape, mst_error *error) {
    const mst_feature *feature = mst_site_feature(site, element->in);
    mst_error why = {0};
    if (!feature)
        return mst_fail(error, MST_NOT_FOUND, "Element '%s' lies in '%.60s', but there is no such feature.",
                        element->name, element->in);
    mst_status status = mst_feature_shape(feature, adjustment, arena, shape, &why);
    return status ? mst_fail(error, status, "Element '%s': %s", element->name, why.sentence) : MST_OK;
}

static const double NOTHING = 1e-6; /* of the area: what rounding and flattened arcs leave uncovered */

/* A uniform depth needs no levels: what the strip leaves of it is cut, what it lacks is fill. Beside the ground it is
 * not counted, as with a level; without any ground it counts whole. */
static mst_status dig_depth(const mst_element *e, const mst_shape *shape, const mst_ground *ground, mst_arena *arena,
                            mst_prism_sum *sum, mst_error *error) {
    mst_cover cover; /* only to refuse an outline that is no area: the area itself is exact, arcs and all */
    mst_status status = mst_cover_shape(shape, arena, &cover, error);
    double area = mst_shape_area(shape), covered = area, slope, below = e->depth_m - e->strip_m;
    if (!status && ground) status = mst_ground_slope_area(ground, shape, arena, &slope, &covered, error);
    if (status) return status;
    double uncovered = area - covered > NOTHING * area ? area - covered : 0, volume = fabs(below) * (area - uncovered);
    area -= uncovered;
    *sum = (mst_prism_sum){.cut_m3 = below > 0 ? volume : 0,
                           .fill_m3 = below < 0 ? volume : 0,
                           .area_m2 = area,
                           .uncovered_m2 = uncovered,
                           .cut_area_m2 = below > 0 ? area : 0,
                           .fill_area_m2 = below < 0 ? area : 0,
                           .highest_m = below,
                           .lowest_m = below};
    return MST_OK;
}

mst_status mst_dig(const mst_element *e, const mst_shape *shape, const mst_ground *ground, mst_arena *arena,
                   mst_prism_sum *sum, mst_error *error) {
    mst_error why = {0};
    mst_status status;
    if (e->kind == MST_WORK_DEPTH) status = dig_depth(e, shape, ground, arena, sum, &why);
    else if (!ground)
        status = mst_fail(&why, MST_UNDETERMINED, "there is no ground to measure it against; take spot levels.");
    else {
        mst_plane formation = e->finish;
        formation.level_m -= e->build_up_m;
        status = mst_ground_to_plane(ground, shape, &formation, e->strip_m, arena, sum, &why);
    }
    return status ? mst_fail(error, status, "Element '%s': %s", e->name, why.sentence) : MST_OK;
}
