/* A plane for positions on the earth: transverse Mercator about an origin, at the origin's height. On the ellipsoid a
 * plane of scale 1 is short by height / radius (235 ppm at 1500 m: 23 mm in 100 m), so the scale is raised by that and
 * the plane's distances are those that a tape finds. */
#include "merestone/exchange.h"
#include <math.h>
#include <proj.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct mst_projection {
    PJ_CONTEXT *context;
    PJ *plane;
    mst_projector projector;
    double reach_m, false_easting_m, false_northing_m;
};

static const double DEEPEST_M = -500, HIGHEST_M = 9000;   /* of building land */
static const double A_M = 6378137, E2 = 0.00669437999014; /* WGS 84; for the radius a millionth is plenty */

/* Gauss's mean radius of curvature, sqrt(M N). */
static double mean_radius(double latitude) {
    double s = sin(latitude);
    return A_M * sqrt(1 - E2) / (1 - E2 * s * s);
}

static bool plain_name(const char *name) {
    return *name && strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_") == strlen(name);
}

static mst_status check_origin(const mst_projection_options *o, mst_error *error) {
    if (!(fabs(o->latitude_rad) < MST_PI / 2) || !(fabs(o->longitude_rad) <= MST_PI))
        return mst_fail(error, MST_INVALID,
                        "The origin must have a latitude inside -90 to 90 degrees and a longitude inside -180 to 180.");
    if (!(o->height_m >= DEEPEST_M && o->height_m <= HIGHEST_M))
        return mst_fail(error, MST_INVALID,
                        "An origin at %.0f m over the ellipsoid is no place to build; check the height.", o->height_m);
    if (!(o->scale >= 0 && o->scale < 2) || !isfinite(o->false_easting_m + o->false_northing_m))
        return mst_fail(error, MST_INVALID, "The plane's scale or false origin is no number that can be meant.");
    if (o->ellipsoid && !plain_name(o->ellipsoid))
        return mst_fail(error, MST_INVALID, "There is no ellipsoid of that name.");
    return MST_OK;
}

static bool forward(void *self, double latitude_rad, double longitude_rad, double height_m, mst_point3 *local) {
    mst_projection *p = self;
    PJ_COORD out = proj_trans(p->plane, PJ_FWD, proj_coord(longitude_rad, latitude_rad, 0, 0));
    proj_errno_reset(p->plane);
    if (!isfinite(out.xy.x) || !isfinite(out.xy.y)) return false;
    if (p->reach_m > 0 && hypot(out.xy.x - p->false_easting_m, out.xy.y - p->false_northing_m) > p->reach_m)
        return false;
    *local = (mst_point3){out.xy.x, out.xy.y, height_m};
    return true;
}

mst_status mst_projection_open_with(const mst_projection_options *o, mst_projection **projection, mst_error *error) {
    mst_status status = check_origin(o, error);
    if (status) return status;
    char definition[400];
    double scale = (o->scale > 0 ? o->scale : 1) * (1 + o->height_m / mean_radius(o->latitude_rad));
    snprintf(definition, sizeof definition,
             "+proj=tmerc +lat_0=%.17gr +lon_0=%.17gr +k_0=%.17g +x_0=%.17g +y_0=%.17g +ellps=%s", o->latitude_rad,
             o->longitude_rad, scale, o->false_easting_m, o->false_northing_m, o->ellipsoid ? o->ellipsoid : "WGS84");
    mst_projection *p = calloc(1, sizeof *p);
    if (!p) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    p->context = proj_context_create();
    if (p->context) {
        proj_context_set_enable_network(p->context, 0);
        proj_log_level(p->context, PJ_LOG_NONE);
        p->plane = proj_create(p->context, definition);
    }
    if (!p->plane) {
        mst_projection_close(p);
        return mst_fail(error, o->ellipsoid ? MST_INVALID : MST_IO, "The projection cannot be set up%s.",
                        o->ellipsoid ? ": is there such an ellipsoid?" : "");
    }
    p->projector = (mst_projector){forward, p};
    p->reach_m = o->reach_m;
    p->false_easting_m = o->false_easting_m;
    p->false_northing_m = o->false_northing_m;
    *projection = p;
    return MST_OK;
}

mst_status mst_projection_open(double latitude_rad, double longitude_rad, mst_projection **projection,
                               mst_error *error) {
    const mst_projection_options about = {.latitude_rad = latitude_rad, .longitude_rad = longitude_rad};
    return mst_projection_open_with(&about, projection, error);
}

void mst_projection_close(mst_projection *p) {
    if (!p) return;
    proj_destroy(p->plane);
    if (p->context) proj_context_destroy(p->context);
    free(p);
}

const mst_projector *mst_projection_projector(const mst_projection *projection) { return &projection->projector; }

bool mst_projection_inverse(mst_projection *p, mst_point place, double *latitude_rad, double *longitude_rad) {
    PJ_COORD out = proj_trans(p->plane, PJ_INV, proj_coord(place.easting_m, place.northing_m, 0, 0));
    proj_errno_reset(p->plane);
    if (!isfinite(out.lp.lam) || !isfinite(out.lp.phi)) return false;
    *latitude_rad = out.lp.phi;
    *longitude_rad = out.lp.lam;
    return true;
}
