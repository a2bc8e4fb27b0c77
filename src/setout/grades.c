/* Grades: rails, grade stakes and slope stakes. A slope stake stands where the side slope and the ground meet. */
#include "merestone/setout.h"
#include <math.h>

static const double REACH_M = 100; /* no garden bank runs farther */

double mst_graded_level(double start_m, double fall, double distance_m) { return start_m - fall * distance_m; }

double mst_sight_rail(double formation_m, double traveller_m, double peg_m) {
    return formation_m + traveller_m - peg_m;
}

double mst_grade_stake(double hub_m, double design_m) { return hub_m - design_m; }

double mst_slope_stake_trial(const mst_slope_stake *at, double last_m) {
    return at->half_width_m + at->slope * (at->height_m + at->ground_rise * last_m);
}

mst_status mst_slope_stake_catch(const mst_slope_stake *at, double *distance_m, double *height_m, mst_error *error) {
    if (!(at->half_width_m >= 0) || !(at->slope >= 0) || !isfinite(at->height_m) || !isfinite(at->ground_rise))
        return mst_fail(error, MST_INVALID,
                        "A slope stake needs a half width and a slope of 0 or more, a height and the ground's rise.");
    double closing = 1 - at->slope * at->ground_rise;
    if (closing <= 0)
        return mst_fail(
            error, MST_NO,
            "The side slope of 1 in %g never meets ground that rises as steeply; make it steeper or build a wall.",
            at->slope);
    double distance = (at->half_width_m + at->slope * at->height_m) / closing;
    double height = at->height_m + at->ground_rise * distance;
    if (height < 0 || distance < 0)
        return mst_fail(
            error, MST_NO,
            "The ground crosses the formation before its edge: cut turns to fill there, so stake both sides.");
    *distance_m = distance;
    *height_m = height;
    return MST_OK;
}

/* The slope's line less the ground, at one place of the profile; the sign turns where they meet. */
static double above(const mst_profile_point *p, double edge_m, double rise) {
    return edge_m + rise * p->chainage_m - p->elevation_m;
}

static mst_status meet(const mst_profile_point *points, size_t count, const mst_point3 *edge, double rise,
                       mst_point3 *out, mst_error *error) {
    for (size_t i = 0; i + 1 < count; i++) {
        if (isnan(points[i].elevation_m) || isnan(points[i + 1].elevation_m)) break;
        double a = above(&points[i], edge->elevation_m, rise), b = above(&points[i + 1], edge->elevation_m, rise);
        if ((a < 0) == (b < 0) && b != 0) continue;
        double t = a == b ? 0 : a / (a - b);
        mst_point from = points[i].at, to = points[i + 1].at;
        *out = (mst_point3){from.easting_m + t * (to.easting_m - from.easting_m),
                            from.northing_m + t * (to.northing_m - from.northing_m),
                            points[i].elevation_m + t * (points[i + 1].elevation_m - points[i].elevation_m)};
        return MST_OK;
    }
    return mst_fail(
        error, MST_NO,
        "The side slope does not meet the ground before the model ends; measure farther out, or make it steeper.");
}

mst_status mst_slope_stake_on_ground(const mst_ground *ground, mst_point3 edge, double bearing_rad, double slope,
                                     double reach_m, mst_arena *arena, mst_point3 *catch_point, mst_error *error) {
    mst_ground_level here;
    if (!(slope > 0) || !isfinite(edge.elevation_m))
        return mst_fail(error, MST_INVALID, "A side slope needs a level at its foot and a slope of more than 0.");
    if (!mst_ground_level_at(ground, (mst_point){edge.easting_m, edge.northing_m}, &here))
        return mst_fail(error, MST_NO, "The ground is not known at the formation's edge; measure it there.");
    double reach = reach_m > 0 ? reach_m : REACH_M,
           rise = here.elevation_m >= edge.elevation_m ? 1 / slope : -1 / slope;
    mst_path_vertex ends[2] = {
        {edge.easting_m, edge.northing_m, NAN, 0},
        {edge.easting_m + reach * sin(bearing_rad), edge.northing_m + reach * cos(bearing_rad), NAN, 0}};
    const mst_path line = {ends, 2, false};
    mst_profile_point *points;
    size_t count;
    mst_status status = mst_ground_profile(ground, &line, arena, &points, &count, error);
    return status ? status : meet(points, count, &edge, rise, catch_point, error);
}
