/* GeoJSON (RFC 7946): WGS 84 longitude and latitude where the site knows where it is on the earth, at 1e-9 degree (0.1
 * mm). Otherwise plane eastings and northings in metres, which the RFC allows by agreement only: a foreign member says
 * so, in words. Outer rings run counter-clockwise, holes clockwise; arcs are straight pieces within a millimetre. */
#include "exchange/write.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double SAGITTA_M = 0.001;
enum { DEGREE_DECIMALS = 9, METRE_DECIMALS = 4 };

typedef struct geojson {
    mst_text text;
    mst_arena *arena;
    mst_to_earth earth;
    bool geographic, any, lost; /* lost: a place that the projection cannot carry */
} geojson;

static void quoted(mst_text *t, const char *value) {
    mst_text_string(t, "\"");
    for (const char *c = value; *c; c++) {
        if (*c == '"' || *c == '\\') mst_text_printf(t, "\\%c", *c);
        else if ((unsigned char)*c < 0x20) mst_text_printf(t, "\\u%04x", (unsigned)*c);
        else mst_text_add(t, c, 1);
    }
    mst_text_string(t, "\"");
}
static void member(mst_text *t, const char *name, const char *value) {
    mst_text_printf(t, ",\"%s\":", name);
    quoted(t, value);
}
static void number(mst_text *t, const char *name, double value, int decimals) {
    if (!isfinite(value)) return;
    mst_text_printf(t, ",\"%s\":", name);
    mst_text_fixed(t, value, decimals);
}
static void figure(mst_text *t, const char *name, const char *interval, const mst_figure *f) {
    number(t, name, f->value, 3);
    if (!isfinite(f->value) || !isfinite(f->low) || !isfinite(f->high)) return;
    mst_text_printf(t, ",\"%s\":[", interval);
    mst_text_fixed(t, f->low, 3);
    mst_text_string(t, ",");
    mst_text_fixed(t, f->high, 3);
    mst_text_string(t, "]");
}

/* ---- places ---- */

static void position(geojson *g, mst_point3 p) {
    mst_text *t = &g->text;
    double e = p.easting_m, n = p.northing_m;
    if (g->geographic && !mst_to_earth_degrees(&g->earth, (mst_point){e, n}, &n, &e)) g->lost = true;
    mst_text_string(t, "[");
    mst_text_fixed(t, e, g->geographic ? DEGREE_DECIMALS : METRE_DECIMALS);
    mst_text_string(t, ",");
    mst_text_fixed(t, n, g->geographic ? DEGREE_DECIMALS : METRE_DECIMALS);
    /* the RFC's third number is a height over the ellipsoid, which a site's level is not */
    if (!g->geographic && isfinite(p.elevation_m)) {
        mst_text_string(t, ",");
        mst_text_fixed(t, p.elevation_m, METRE_DECIMALS);
    }
    mst_text_string(t, "]");
}

static void positions(geojson *g, const mst_path *path, bool backwards) {
    mst_text_string(&g->text, "[");
    size_t count = path->count + (path->closed ? 1 : 0);
    for (size_t i = 0; i < count; i++) {
        const mst_path_vertex *v = &path->vertices[(backwards ? count - 1 - i : i) % path->count];
        if (i) mst_text_string(&g->text, ",");
        position(g, (mst_point3){v->easting_m, v->northing_m, v->elevation_m});
    }
    mst_text_string(&g->text, "]");
}

static void start_feature(geojson *g, const char *kind) {
    mst_text_string(&g->text,
                    g->any ? ",\n{\"type\":\"Feature\",\"properties\":{" : "\n{\"type\":\"Feature\",\"properties\":{");
    mst_text_printf(&g->text, "\"kind\":\"%s\"", kind);
    g->any = true;
}
static void start_geometry(geojson *g, const char *type) {
    mst_text_printf(&g->text, "},\"geometry\":{\"type\":\"%s\",\"coordinates\":", type);
}
static void end_feature(geojson *g) { mst_text_string(&g->text, "}}"); }

/* ---- parts ---- */

static void add_point(geojson *g, const mst_adjusted_point *p) {
    if (!p->has_plan) return;
    start_feature(g, p->held_plan ? "control" : "point");
    member(&g->text, "name", p->name);
    member(&g->text, "code", p->code ? p->code : "");
    if (p->has_height) number(&g->text, "elevation_m", p->elevation_m, METRE_DECIMALS);
    number(&g->text, "sd_plan_m", p->semi_major_m, METRE_DECIMALS);
    if (p->has_height) number(&g->text, "sd_height_m", p->sd_elevation_m, METRE_DECIMALS);
    start_geometry(g, "Point");
    position(g, (mst_point3){p->easting_m, p->northing_m, p->has_height ? p->elevation_m : NAN});
    end_feature(g);
}

static void add_spots(geojson *g, const mst_feature *f, const mst_adjustment *adjustment) {
    for (size_t i = 0; i < f->vertex_count; i++) {
        const mst_adjusted_point *p = mst_adjustment_point(adjustment, f->vertices[i].point);
        if (!p || !p->has_plan) continue;
        start_feature(g, "spot");
        member(&g->text, "name", f->name);
        member(&g->text, "code", f->code ? f->code : "");
        member(&g->text, "point", p->name);
        if (p->has_height) number(&g->text, "elevation_m", p->elevation_m, METRE_DECIMALS);
        start_geometry(g, "Point");
        position(g, (mst_point3){p->easting_m, p->northing_m, p->has_height ? p->elevation_m : NAN});
        end_feature(g);
    }
}

static mst_status flatten(geojson *g, const mst_shape *shape, mst_path **flat, mst_error *error) {
    *flat = mst_arena_array(g->arena, shape->count, sizeof **flat);
    if (!*flat) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    mst_status status = MST_OK;
    for (size_t i = 0; i < shape->count && !status; i++)
        status = mst_path_flatten(&shape->paths[i], SAGITTA_M, g->arena, &(*flat)[i], error);
    return status;
}

static void feature_properties(geojson *g, const mst_feature *f, const mst_adjustment *adjustment) {
    mst_measure m;
    start_feature(g, mst_feature_kind_name(f->kind));
    member(&g->text, "name", f->name);
    member(&g->text, "code", f->code ? f->code : "");
    if (f->role != MST_ROLE_DEFAULT) member(&g->text, "role", mst_role_name(f->role));
    if (mst_feature_measure(f, adjustment, g->arena, &m, NULL)) return;
    figure(&g->text, "length_m", "length_interval_m", &m.length_m);
    figure(&g->text, "slope_length_m", "slope_length_interval_m", &m.slope_length_m);
    figure(&g->text, "area_m2", "area_interval_m2", &m.area_m2);
}

static mst_status add_feature(geojson *g, const mst_feature *f, const mst_adjustment *adjustment, mst_error *error) {
    if (f->kind == MST_FEATURE_SPOT) {
        add_spots(g, f, adjustment);
        return MST_OK;
    }
    mst_shape shape;
    mst_path *flat;
    mst_status status = mst_feature_shape(f, adjustment, g->arena, &shape, error);
    if (status == MST_NO_MEMORY) return status;
    if (status) return MST_OK; /* without a place; mst_handover_notes says so */
    if ((status = flatten(g, &shape, &flat, error))) return status;
    feature_properties(g, f, adjustment);
    bool area = f->kind == MST_FEATURE_AREA;
    start_geometry(g, area ? "Polygon" : shape.count > 1 ? "MultiLineString" : "LineString");
    bool list = area || shape.count > 1;
    if (list) mst_text_string(&g->text, "[");
    for (size_t i = 0; i < shape.count; i++) {
        if (i) mst_text_string(&g->text, ",");
        bool clockwise = area && mst_path_area(&flat[i]) < 0;
        positions(g, &flat[i], area && clockwise == (i == 0));
    }
    if (list) mst_text_string(&g->text, "]");
    end_feature(g);
    return MST_OK;
}

static mst_status add_contour(geojson *g, const mst_contour *c, mst_error *error) {
    mst_path_vertex *v = mst_arena_array(g->arena, c->count, sizeof *v);
    if (!v) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < c->count; i++) v[i] = (mst_path_vertex){c->points[i][0], c->points[i][1], c->level_m, 0};
    start_feature(g, "contour");
    number(&g->text, "level_m", c->level_m, METRE_DECIMALS);
    mst_text_printf(&g->text, ",\"index\":%s", c->index ? "true" : "false");
    start_geometry(g, "LineString");
    positions(g, &(mst_path){v, c->count, c->closed}, false);
    end_feature(g);
    return MST_OK;
}

static void add_stake(geojson *g, const mst_setout_line *l) {
    start_feature(g, "stake");
    member(&g->text, "name", l->stake);
    member(&g->text, "code", l->code ? l->code : "");
    number(&g->text, "elevation_m", l->elevation_m, METRE_DECIMALS);
    number(&g->text, "cut_m", l->cut_m, METRE_DECIMALS);
    start_geometry(g, "Point");
    position(g, (mst_point3){l->easting_m, l->northing_m, l->elevation_m});
    end_feature(g);
}

static mst_status add_all(geojson *g, const mst_handover *from, mst_error *error) {
    mst_status status = MST_OK;
    const mst_adjustment *a = from->adjustment;
    for (size_t i = 0; a && i < a->point_count; i++) add_point(g, &a->points[i]);
    for (size_t i = 0; a && from->site && i < from->site->feature_count && !status; i++)
        status = add_feature(g, &from->site->features[i], a, error);
    for (size_t i = 0; i < from->contour_count && !status; i++) status = add_contour(g, &from->contours[i], error);
    for (size_t i = 0; from->setout && i < from->setout->count && !status; i++) add_stake(g, &from->setout->lines[i]);
    if (!status && g->lost)
        status =
            mst_fail(error, MST_INVALID,
                     "A point lies too far from the site's origin to be put on the earth; look for a wild coordinate.");
    return status;
}

static void head(geojson *g) {
    mst_text_string(&g->text, "{\"type\":\"FeatureCollection\",\n\"merestone\":{\"frame\":");
    quoted(&g->text, g->geographic ? "WGS 84" : "local plane, metres");
    if (!g->geographic)
        member(&g->text, "warning",
               "These are eastings and northings of the site in metres, not longitudes and latitudes: a map that takes "
               "them for "
               "degrees puts the site in the wrong place.");
    mst_text_string(&g->text, "},\n\"features\":[");
}

mst_status mst_write_geojson(const mst_handover *from, const char *path, mst_error *error) {
    geojson g = {.arena = mst_arena_new()};
    if (!g.arena) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    mst_status status = MST_OK;
    g.geographic = mst_handover_is_geographic(from);
    if (g.geographic) status = mst_to_earth_open(from, &g.earth, error);
    if (!status) {
        head(&g);
        status = add_all(&g, from, error);
        mst_text_string(&g.text, "\n]}\n");
    }
    if (!status) status = mst_save_text(path, &g.text, error);
    mst_text_free(&g.text);
    mst_to_earth_close(&g.earth);
    mst_arena_free(g.arena);
    return status;
}
