/* What a view colours the ground's triangles by. */
#include "operations/operation.h"
#include <math.h>

enum { TINTS_MOST = 100 };
static const double EXAGGERATION = 3; /* of the shade: garden falls of 2 % would not show */

static json_t *rounded(double value, double step) {
    return isfinite(value) ? json_real(round(value / step) * step) : json_null();
}

static void set_bands(json_t *ground) {
    json_t *ends = json_array();
    for (int b = 0; b + 1 < MST_SLOPE_BANDS; b++) json_array_append_new(ends, json_real(mst_slope_band_end(b)));
    json_object_set_new(ground, "slope_bands_percent", ends);
}

/* Every contour's level, from the one under the lowest ground to the one above the highest. */
static void set_tints(const mst_ground *ground, json_t *out) {
    mst_ground_figures g;
    mst_ground_describe(ground, &g);
    json_t *tints = json_array();
    double step = mst_contour_interval(ground), first = floor(g.lowest_m / step);
    for (int k = 0; k < TINTS_MOST && (first + k - 1) * step < g.highest_m; k++)
        json_array_append_new(tints, json_real((first + k) * step));
    json_object_set_new(out, "tint_levels_m", tints);
}

void mst_view_add_faces(mst_session *session, json_t *ground) {
    const mst_ground *g = session->derived.ground;
    mst_face *f;
    size_t count;
    (void)mst_ground_triangles(g, &count);
    if (mst_ground_faces(g, EXAGGERATION, session->scratch, &f, NULL) != MST_OK) return;
    json_t *slope = json_array(), *bearing = json_array(), *shade = json_array(), *band = json_array();
    for (size_t t = 0; t < count; t++) {
        json_array_append_new(slope, rounded(100 * f[t].slope, 0.001));
        json_array_append_new(bearing, rounded(f[t].fall_bearing_rad * 180 / MST_PI, 0.01));
        json_array_append_new(shade, rounded(f[t].shade, 0.001));
        json_array_append_new(band, json_integer(mst_slope_band(f[t].slope)));
    }
    json_object_set_new(ground, "slope_percent", slope);
    json_object_set_new(ground, "fall_bearing_deg", bearing);
    json_object_set_new(ground, "shade", shade);
    json_object_set_new(ground, "slope_band", band);
    set_bands(ground);
    set_tints(g, ground);
}
