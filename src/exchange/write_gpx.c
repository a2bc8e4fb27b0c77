/* GPX 1.1: points as waypoints, features as tracks, for a phone that leads back to them. Only where the site knows
 * where it is on the earth. No elevation is written: a phone takes it for a height over the sea, and the site's levels
 * count from a mark of its own. */
#include "exchange/write.h"
#include <math.h>

static const double SAGITTA_M = 0.05; /* a phone finds a place to metres */
enum { DEGREE_DECIMALS = 9 };

typedef struct gpx {
    mst_text text;
    mst_arena *arena;
    mst_to_earth earth;
    bool lost;
} gpx;

static void place(gpx *g, const char *element, mst_point p) {
    double latitude = 0, longitude = 0;
    if (!mst_to_earth_degrees(&g->earth, p, &latitude, &longitude)) g->lost = true;
    mst_text_printf(&g->text, "<%s lat=\"", element);
    mst_text_fixed(&g->text, latitude, DEGREE_DECIMALS);
    mst_text_string(&g->text, "\" lon=\"");
    mst_text_fixed(&g->text, longitude, DEGREE_DECIMALS);
    mst_text_string(&g->text, "\">");
}

static void element(gpx *g, const char *name, const char *value) {
    if (!value || !*value) return;
    mst_text_printf(&g->text, "<%s>", name);
    mst_text_xml(&g->text, value);
    mst_text_printf(&g->text, "</%s>", name);
}

static void waypoint(gpx *g, mst_point at, const char *name, const char *code) {
    place(g, "wpt", at);
    element(g, "name", name);
    element(g, "type", code);
    mst_text_string(&g->text, "</wpt>\n");
}

static mst_status segment(gpx *g, const mst_path *path, mst_error *error) {
    mst_path flat;
    mst_status status = mst_path_flatten(path, SAGITTA_M, g->arena, &flat, error);
    if (status) return status;
    mst_text_string(&g->text, "<trkseg>");
    for (size_t i = 0; i < flat.count + (flat.closed ? 1 : 0); i++) {
        const mst_path_vertex *v = &flat.vertices[i % flat.count];
        place(g, "trkpt", (mst_point){v->easting_m, v->northing_m});
        mst_text_string(&g->text, "</trkpt>");
    }
    mst_text_string(&g->text, "</trkseg>\n");
    return MST_OK;
}

static mst_status track(gpx *g, const mst_feature *f, const mst_adjustment *adjustment, mst_error *error) {
    mst_shape shape;
    if (f->kind == MST_FEATURE_SPOT) return MST_OK; /* its points are waypoints already */
    mst_status status = mst_feature_shape(f, adjustment, g->arena, &shape, error);
    if (status) return status == MST_NO_MEMORY ? status : MST_OK;
    mst_text_string(&g->text, "<trk>");
    element(g, "name", f->name);
    element(g, "type", f->code);
    mst_text_string(&g->text, "\n");
    for (size_t i = 0; i < shape.count && !status; i++) status = segment(g, &shape.paths[i], error);
    mst_text_string(&g->text, "</trk>\n");
    return status;
}

static mst_status add_all(gpx *g, const mst_handover *from, mst_error *error) {
    mst_status status = MST_OK;
    const mst_adjustment *a = from->adjustment;
    mst_text_string(&g->text, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"Merestone\" "
                              "xmlns=\"http://www.topografix.com/GPX/1/1\">\n");
    for (size_t i = 0; a && i < a->point_count; i++)
        if (a->points[i].has_plan)
            waypoint(g, (mst_point){a->points[i].easting_m, a->points[i].northing_m}, a->points[i].name,
                     a->points[i].code);
    for (size_t i = 0; from->setout && i < from->setout->count; i++)
        waypoint(g, (mst_point){from->setout->lines[i].easting_m, from->setout->lines[i].northing_m},
                 from->setout->lines[i].stake, "stake");
    for (size_t i = 0; a && from->site && i < from->site->feature_count && !status; i++)
        status = track(g, &from->site->features[i], a, error);
    mst_text_string(&g->text, "</gpx>\n");
    if (!status && g->lost)
        status =
            mst_fail(error, MST_INVALID,
                     "A point lies too far from the site's origin to be put on the earth; look for a wild coordinate.");
    return status;
}

mst_status mst_write_gpx(const mst_handover *from, const char *path, mst_error *error) {
    gpx g = {0};
    mst_status status = mst_to_earth_open(from, &g.earth, error);
    if (status) return status;
    g.arena = mst_arena_new();
    status = g.arena ? add_all(&g, from, error) : mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    if (!status) status = mst_save_text(path, &g.text, error);
    mst_text_free(&g.text);
    mst_to_earth_close(&g.earth);
    mst_arena_free(g.arena);
    return status;
}
