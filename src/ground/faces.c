/* What a view wants of each triangle: how steep, which way, how light. Shade as by a lamp (J. H. Lambert's cosine law)
 * from the north-west, 45 degrees up, as maps have it: B. K. P. Horn, Hill shading and the reflectance map, Proceedings
 * of the IEEE 69 (1981) 14-47. */
#include "ground/model.h"
#include <math.h>

static const double LIGHT_BEARING = 315 * MST_PI / 180, LIGHT_HEIGHT = 45 * MST_PI / 180;

/* Upper ends, percent: below 1 water stands; 2 paving; 5 lawn and terraces; 10, 20; 33 mown bank; 50 steep bank (rows
 * FAL10, FAL15, FAL18 and FAL20 of the trade tables; those between are common practice, no source). */
static const double BAND_ENDS[MST_SLOPE_BANDS] = {1, 2, 5, 10, 20, 33, 50, INFINITY};

double mst_slope_band_end(int band) { return BAND_ENDS[band]; }

int mst_slope_band(double slope) {
    int band = 0;
    while (band + 1 < MST_SLOPE_BANDS && 100 * slope > BAND_ENDS[band]) band++;
    return band;
}

mst_status mst_ground_faces(const mst_ground *g, double exaggeration, mst_arena *arena, mst_face **faces,
                            mst_error *error) {
    mst_face *f = mst_arena_array(arena, g->triangle_count + 1, sizeof *f);
    if (!f) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    const double light[3] = {sin(LIGHT_BEARING) * cos(LIGHT_HEIGHT), cos(LIGHT_BEARING) * cos(LIGHT_HEIGHT),
                             sin(LIGHT_HEIGHT)};
    for (size_t t = 0; t < g->triangle_count; t++) {
        mst_facet_plane p = mst_plane_of_facet(g, g->facet_of[t]);
        double slope = hypot(p.slope_e, p.slope_n), e = exaggeration * p.slope_e, n = exaggeration * p.slope_n;
        double cosine = (light[2] - e * light[0] - n * light[1]) / sqrt(1 + e * e + n * n);
        f[t].slope = slope;
        f[t].fall_bearing_rad = slope > 0 ? mst_angle_turn(atan2(-p.slope_e, -p.slope_n)) : NAN;
        f[t].shade = fmax(cosine, 0);
    }
    *faces = f;
    return MST_OK;
}
