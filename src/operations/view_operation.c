/* Everything that the page shows of a site as it stands: what is stored, and the shapes of the features on the adjusted
 * points. Figures come from their own operations. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

static json_t *page_json(const mst_page *p) {
    json_t *rows = json_array(), *columns = json_array();
    for (int c = 0; mst_page_column_name(p->kind, c); c++)
        json_array_append_new(columns, json_string(mst_page_column_name(p->kind, c)));
    for (size_t i = 0; i < p->row_count; i++) {
        const mst_row *r = &p->rows[i];
        json_t *cells = json_array();
        for (int c = 0; mst_page_column_name(p->kind, c); c++) json_array_append_new(cells, json_string(r->text[c]));
        json_array_append_new(rows,
                              json_pack("{s:I,s:i,s:s,s:o,s:s?}", "id", (json_int_t)r->id, "line", r->line, "record",
                                        r->raw ? r->raw : "", "cells", cells, "set_aside", r->set_aside));
    }
    return json_pack("{s:I,s:s,s:s,s:s,s:s,s:b,s:s,s:o,s:o}", "id", (json_int_t)p->id, "kind",
                     mst_page_kind_name(p->kind), "name", p->name, "visit", p->visit, "gear", p->gear, "site_frame",
                     p->site_frame, "header", p->header, "columns", columns, "rows", rows);
}

static json_t *paths_json(const mst_shape *shape) {
    json_t *paths = json_array();
    for (size_t r = 0; r < shape->count; r++) {
        json_t *vertices = json_array();
        for (size_t i = 0; i < shape->paths[r].count; i++) {
            const mst_path_vertex *v = &shape->paths[r].vertices[i];
            json_array_append_new(vertices, json_pack("[f,f,o,f]", v->easting_m, v->northing_m,
                                                      mst_json_number(v->elevation_m), v->bulge));
        }
        json_array_append_new(paths, json_pack("{s:b,s:o}", "closed", shape->paths[r].closed, "vertices", vertices));
    }
    return paths;
}

static json_t *feature_json(mst_session *session, const mst_feature *f) {
    mst_derived *d = &session->derived;
    json_t *points = json_array();
    for (size_t i = 0; i < f->vertex_count; i++)
        json_array_append_new(points, json_pack("{s:s,s:s,s:i}", "point", f->vertices[i].point, "edge",
                                                mst_edge_kind_name(f->vertices[i].edge), "ring", f->vertices[i].ring));
    json_t *o = json_pack("{s:s,s:s,s:s,s:s,s:o}", "name", f->name, "kind", mst_feature_kind_name(f->kind), "code",
                          f->code ? f->code : "", "role", mst_role_name(f->role), "points", points);
    mst_shape shape;
    mst_error why = {0};
    mst_measure m;
    mst_status status = mst_derive_adjustment(d, &why);
    if (!status && f->kind != MST_FEATURE_SPOT)
        status = mst_feature_shape(f, d->adjustment, session->scratch, &shape, &why);
    json_object_set_new(o, "paths", !status && f->kind != MST_FEATURE_SPOT ? paths_json(&shape) : json_array());
    json_object_set_new(o, "missing", json_string(status ? why.sentence : ""));
    if (!status && mst_feature_measure(f, d->adjustment, session->scratch, &m, NULL) == MST_OK) {
        mst_json_figure(o, "length_m", m.length_m);
        mst_json_figure(o, "area_m2", m.area_m2);
    }
    return o;
}

static json_t *stakes_json(mst_session *session) {
    json_t *list = json_array();
    mst_stake *stakes;
    size_t count;
    if (mst_site_stakes(session->derived.site, session->scratch, &stakes, &count, NULL) != MST_OK) return list;
    for (size_t i = 0; i < count; i++)
        json_array_append_new(list, json_pack("{s:s,s:s,s:f,s:f,s:o}", "stake", stakes[i].name, "code", stakes[i].code,
                                              "easting_m", stakes[i].easting_m, "northing_m", stakes[i].northing_m,
                                              "elevation_m", mst_json_number(stakes[i].elevation_m)));
    return list;
}

/* Triangles and rims of the ground for the plan and the 3-D view, as flat arrays. */
static json_t *ground_json(mst_session *session) {
    mst_derived *d = &session->derived;
    if (mst_derive_ground(d, NULL) != MST_OK) return json_null();
    size_t vertex_count, triangle_count;
    const mst_ground_point *v = mst_ground_vertices(d->ground, &vertex_count);
    const uint32_t(*t)[3] = mst_ground_triangles(d->ground, &triangle_count);
    json_t *vertices = json_array(), *triangles = json_array();
    for (size_t i = 0; i < vertex_count; i++) {
        json_array_append_new(vertices, json_real(v[i].easting_m));
        json_array_append_new(vertices, json_real(v[i].northing_m));
        json_array_append_new(vertices, json_real(v[i].elevation_m));
    }
    for (size_t i = 0; i < triangle_count; i++)
        for (int c = 0; c < 3; c++) json_array_append_new(triangles, json_integer(t[i][c]));
    return json_pack("{s:o,s:o}", "vertices", vertices, "triangles", triangles);
}

/* The ground as it will be: each triangle with the element that has the last word there, -1 for the ground as it is. */
static json_t *finished_json(mst_session *session) {
    mst_works *works;
    mst_work_surface surface;
    if (mst_derive_works(session, &works, NULL) != MST_OK) return json_null();
    if (mst_works_surface(works, MST_SURFACE_FINISHED, session->scratch, &surface, NULL) != MST_OK) return json_null();
    json_t *vertices = json_array(), *triangles = json_array(), *owners = json_array();
    for (size_t i = 0; i < surface.point_count; i++) {
        const mst_point3 *p = &surface.points[i];
        json_array_append_new(vertices, json_real(p->easting_m));
        json_array_append_new(vertices, json_real(p->northing_m));
        json_array_append_new(vertices, json_real(p->elevation_m));
    }
    for (size_t i = 0; i < surface.face_count; i++) {
        for (int c = 0; c < 3; c++) json_array_append_new(triangles, json_integer(surface.faces[i][c]));
        json_array_append_new(owners, json_integer(surface.owner[i] == UINT32_MAX ? -1 : (json_int_t)surface.owner[i]));
    }
    return json_pack("{s:o,s:o,s:o}", "vertices", vertices, "triangles", triangles, "owners", owners);
}

MST_OPERATION(mst_op_site) {
    static const char *const KNOWN[] = {"with-ground", "with-faces", "with-finished", NULL};
    mst_derived *d = &session->derived;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    json_t *settings = json_object(), *visits = json_array(), *pages = json_array(), *features = json_array(),
           *works = json_array(), *sheets = json_array();
    for (size_t i = 0; i < d->site->setting_count; i++)
        json_object_set_new(settings, d->site->settings[i].key, json_string(d->site->settings[i].value));
    for (size_t i = 0; i < d->site->visit_count; i++)
        json_array_append_new(visits, json_string(d->site->visits[i].name));
    for (size_t i = 0; i < d->site->page_count; i++) json_array_append_new(pages, page_json(&d->site->pages[i]));
    for (size_t i = 0; i < d->site->feature_count; i++)
        json_array_append_new(features, feature_json(session, &d->site->features[i]));
    for (size_t i = 0; i < d->site->work_count; i++) {
        json_t *definition = json_loads(d->site->works[i].definition, 0, NULL);
        json_array_append_new(works, json_pack("{s:s,s:i,s:o}", "name", d->site->works[i].name, "position",
                                               d->site->works[i].position, "definition",
                                               definition ? definition : json_null()));
    }
    for (size_t i = 0; i < d->site->sheet_count; i++)
        json_array_append_new(sheets, json_string(d->site->sheets[i].name));
    *result = json_pack("{s:s,s:s,s:I,s:o,s:o,s:o,s:o,s:o,s:o,s:o}", "title", mst_site_setting(d->site, "title", ""),
                        "units", mst_site_setting(d->site, "units", "metric"), "revision", (json_int_t)d->revision,
                        "settings", settings, "visits", visits, "pages", pages, "features", features, "works", works,
                        "sheets", sheets, "stakes", stakes_json(session));
    if (mst_arg_flag(arguments, "with-ground") || mst_arg_flag(arguments, "with-faces"))
        json_object_set_new(*result, "ground", ground_json(session));
    if (mst_arg_flag(arguments, "with-faces") && json_is_object(json_object_get(*result, "ground")))
        mst_view_add_faces(session, json_object_get(*result, "ground"));
    if (mst_arg_flag(arguments, "with-finished")) json_object_set_new(*result, "finished", finished_json(session));
    return MST_OK;
}
