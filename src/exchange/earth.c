/* Where on the earth the site is. Gnss readings were carried to a plane about an origin; the adjustment says how that
 * visit's plane lies in the site's frame. Only both together lead back. */
#include "exchange/write.h"
#include <math.h>
#include <string.h>

static bool setting_number(const mst_site *site, const char *key, double *value) {
    const char *text = mst_site_setting(site, key, NULL);
    return text && mst_number_read(text, value);
}

static bool origin_of_settings(const mst_site *site, mst_projection_options *o) {
    double latitude, longitude, height = 0;
    if (!setting_number(site, "origin.latitude", &latitude) || !setting_number(site, "origin.longitude", &longitude))
        return false;
    setting_number(site, "origin.height", &height);
    *o = (mst_projection_options){
        .latitude_rad = latitude * MST_PI / 180, .longitude_rad = longitude * MST_PI / 180, .height_m = height};
    return true;
}

static bool origin_of(const mst_site *site, mst_projection_options *o) {
    if (!site) return false;
    if (origin_of_settings(site, o)) return true;
    for (size_t p = 0; p < site->page_count; p++)
        for (size_t i = 0; site->pages[p].kind == MST_PAGE_GNSS && i < site->pages[p].row_count; i++) {
            const mst_row *r = &site->pages[p].rows[i];
            if (r->set_aside) continue;
            double east = r->value[MST_GNSS_LONGITUDE]; /* 200 degrees are as good as -160 */
            *o = (mst_projection_options){.latitude_rad = r->value[MST_GNSS_LATITUDE],
                                          .longitude_rad = east > MST_PI ? east - 2 * MST_PI : east,
                                          .height_m = r->value[MST_GNSS_HEIGHT]};
            return true;
        }
    return false;
}

mst_status mst_projection_of_site(const mst_site *site, mst_projection **projection, mst_error *error) {
    static const double REACH_M = 2e5; /* there a plane of one scale is off by 1:2000, and no site is that wide */
    mst_projection_options origin;
    *projection = NULL;
    if (!origin_of(site, &origin)) return MST_OK;
    origin.reach_m = REACH_M;
    return mst_projection_open_with(&origin, projection, error);
}

static const mst_visit_frame *frame_of(const mst_adjustment *adjustment, const char *visit) {
    for (size_t i = 0; adjustment && i < adjustment->frame_count; i++)
        if (strcmp(adjustment->frames[i].visit, visit) == 0) return &adjustment->frames[i];
    return NULL;
}

/* A gnss visit that is in the site's frame, or has no frame of its own because it carries the site's, needs no turning.
 */
static bool gnss_frame(const mst_handover *from, mst_similarity *frame) {
    for (size_t i = 0; i < from->site->page_count; i++) {
        const mst_page *page = &from->site->pages[i];
        if (page->kind != MST_PAGE_GNSS) continue;
        const mst_visit_frame *f = page->site_frame || !page->visit ? NULL : frame_of(from->adjustment, page->visit);
        if (f && !f->determined) continue;
        *frame = f ? (mst_similarity){f->shift_e_m, f->shift_n_m, f->turn_rad, 1, 0} : (mst_similarity){0, 0, 0, 1, 0};
        return true;
    }
    return false;
}

bool mst_handover_is_geographic(const mst_handover *from) {
    mst_projection_options origin;
    mst_similarity frame;
    return origin_of(from->site, &origin) && gnss_frame(from, &frame);
}

mst_status mst_to_earth_open(const mst_handover *from, mst_to_earth *earth, mst_error *error) {
    mst_projection_options origin;
    *earth = (mst_to_earth){0};
    if (!origin_of(from->site, &origin) || !gnss_frame(from, &earth->frame))
        return mst_fail(
            error, MST_NO,
            "The site does not know where on the earth it is; import a gnss page that shares points with it first.");
    return mst_projection_open_with(&origin, &earth->projection, error);
}

void mst_to_earth_close(mst_to_earth *earth) {
    mst_projection_close(earth->projection);
    earth->projection = NULL;
}

bool mst_to_earth_degrees(const mst_to_earth *earth, mst_point site, double *latitude_deg, double *longitude_deg) {
    double e = site.easting_m - earth->frame.e0_m, n = site.northing_m - earth->frame.n0_m;
    double c = cos(earth->frame.turn_rad), s = sin(earth->frame.turn_rad);
    mst_point plane = {e * c - n * s, e * s + n * c}; /* the frame's turn taken back */
    if (!mst_projection_inverse(earth->projection, plane, latitude_deg, longitude_deg)) return false;
    *latitude_deg *= 180 / MST_PI;
    *longitude_deg *= 180 / MST_PI;
    return true;
}
