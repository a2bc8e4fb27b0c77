/* The ground's level over an area: its mean with what the readings and the ground between the points leave open. */
#include "operations/operation.h"
#include <math.h>

static mst_status area_of(const mst_derived *d, const char *name, mst_arena *arena, mst_shape *shape,
                          mst_error *error) {
    const mst_feature *f = mst_site_feature(d->site, name);
    if (!f) return mst_fail(error, MST_NOT_FOUND, "There is no feature '%.60s'.", name);
    if (f->kind != MST_FEATURE_AREA)
        return mst_fail(error, MST_INVALID, "'%.60s' is no area; a level along a line is what 'profile' gives.", name);
    return mst_feature_shape(f, d->adjustment, arena, shape, error);
}

/* The mean level is the volume over a plane under all of the ground, by its area. */
mst_status mst_level_over(mst_session *session, const char *name, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_ground_figures g;
    mst_shape shape;
    mst_prism_sum sum;
    mst_figure cut, fill, net;
    mst_fall fall;
    mst_status status = area_of(d, name, session->scratch, &shape, error);
    if (status) return status;
    mst_ground_describe(d->ground, &g);
    const mst_plane plane = {0, 0, g.lowest_m - 1, 0, 0};
    status = mst_ground_to_plane(d->ground, &shape, &plane, 0, session->scratch, &sum, error);
    if (!status && !(sum.area_m2 > 0))
        status =
            mst_fail(error, MST_NO, "'%.60s' lies outside the ground model; nothing was measured around it.", name);
    if (!status) status = mst_volume_figures(&sum, NULL, d->adjustment, session->scratch, &cut, &fill, &net, error);
    if (!status) status = mst_ground_fall(d->ground, &shape, session->scratch, &fall, error);
    if (status) return status;
    double slope = hypot(fall.slope_e, fall.slope_n), bearing = mst_angle_turn(atan2(-fall.slope_e, -fall.slope_n));
    *result = json_pack("{s:s,s:f,s:[f,f],s:f,s:f,s:f,s:f,s:f,s:b,s:o}", "feature", name, "elevation_m",
                        plane.level_m + net.value / sum.area_m2, "interval_m", plane.level_m + net.low / sum.area_m2,
                        plane.level_m + net.high / sum.area_m2, "lowest_m", plane.level_m + sum.lowest_m, "highest_m",
                        plane.level_m + sum.highest_m, "area_m2", sum.area_m2, "uncovered_m2", sum.uncovered_m2,
                        "slope_percent", 100 * slope, "roughness_known", mst_ground_roughness(d->ground)->known,
                        "fall_bearing_deg", mst_json_number(slope > 0 ? bearing * 180 / MST_PI : NAN));
    return MST_OK;
}
