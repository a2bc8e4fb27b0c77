/* Lengths, areas and places along a path. */
#include "geometry/arc.h"
#include "geometry/sum.h"
#include <math.h>

double mst_path_length(const mst_path *path) {
    mst_sum length = {0};
    for (size_t i = 0; i < mst_path_edges(path); i++)
        mst_sum_add(&length, mst_edge_length(&path->vertices[i], mst_path_edge_end(path, i)));
    return mst_sum_value(&length);
}

double mst_path_slope_length(const mst_path *path) {
    mst_sum length = {0};
    for (size_t i = 0; i < mst_path_edges(path); i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = mst_path_edge_end(path, i);
        mst_sum_add(&length, hypot(mst_edge_length(a, b), b->elevation_m - a->elevation_m));
    }
    return mst_sum_value(&length);
}

double mst_path_area(const mst_path *path) {
    mst_sum area = {0};
    if (path->count < 2) return 0;
    const mst_path_vertex *o = &path->vertices[0];
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = mst_path_edge_end(path, i);
        double ae = a->easting_m - o->easting_m, an = a->northing_m - o->northing_m;
        double be = b->easting_m - o->easting_m, bn = b->northing_m - o->northing_m;
        mst_sum_add(&area, ae * bn / 2);
        mst_sum_add(&area, -an * be / 2);
        mst_sum_add(&area, mst_edge_segment_area(a, b));
    }
    return mst_sum_value(&area);
}

double mst_shape_area(const mst_shape *shape) {
    double area = shape->count ? fabs(mst_path_area(&shape->paths[0])) : 0;
    for (size_t i = 1; i < shape->count; i++) area -= fabs(mst_path_area(&shape->paths[i]));
    return fmax(area, 0);
}

double mst_shape_length(const mst_shape *shape) { return shape->count ? mst_path_length(&shape->paths[0]) : 0; }

/* Direction of travel at share t of the edge: the chord's, less half of the angle still to turn, plus what is turned.
 */
static double bearing_on(const mst_path_vertex *a, const mst_path_vertex *b, double t) {
    double chord = atan2(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
    return mst_angle_turn(chord +
                          2 * atan(a->bulge) * (1 - 2 * t)); /* bearings run clockwise, bulges counter-clockwise */
}

bool mst_path_at(const mst_path *path, double chainage_m, mst_point3 *point, double *bearing_rad) {
    if (!(chainage_m >= 0)) return false;
    mst_sum behind = {0};
    bool found = false;
    for (size_t i = 0; i < mst_path_edges(path); i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = mst_path_edge_end(path, i);
        double before = mst_sum_value(&behind), length = mst_edge_length(a, b);
        mst_sum_add(&behind, length);
        if (!(length > 0) || chainage_m > mst_sum_value(&behind)) continue;
        double t = fmin((chainage_m - before) / length, 1);
        mst_path_vertex v = mst_edge_at(a, b, t);
        *point = (mst_point3){v.easting_m, v.northing_m, v.elevation_m};
        *bearing_rad = bearing_on(a, b, t);
        found = true;
        if (chainage_m < mst_sum_value(&behind)) break; /* at a joint the edge that leaves it counts, if there is one */
    }
    return found;
}
