/* Wishes for cheapest levels, from their definition to nodes, triangles and bounds. */
#include "works/element_values.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_NODES = 60000 };
static const double NEAR_SHARE = 0.4; /* of the spacing: a node this near to an outline or a fixed point is left out */
static const char *const KEYS[] = {"in",       "spacing", "soil",   "fixed",  "falls",
                                   "steepest", "keep",    "no-dig", "prices", NULL};

typedef struct maker {
    mst_reader r;
    const mst_ground *ground;
    mst_shape area;
    double spacing;
    double (*at)[2];
    size_t count, capacity, own; /* own: nodes of outline and fixed points, which come first */
    uint32_t (*segments)[2];
    size_t segment_count, segment_capacity;
    mst_point3 *nodes;
    uint32_t (*triangles)[3];
    size_t triangle_count;
    mst_wish *wishes;
    size_t wish_count, wish_capacity;
} maker;

static mst_status no_memory(const maker *m) { return mst_fail(m->r.error, MST_NO_MEMORY, "Memory is short."); }

/* ---- the mesh ---- */

static mst_status area_named(const maker *m, const char *key, const char *name, mst_shape *shape) {
    const mst_feature *f = name ? mst_site_feature(m->r.site, name) : NULL;
    mst_error why = {0};
    if (!f)
        return mst_fail(m->r.error, MST_NOT_FOUND, "Grading, '%s': there is no feature '%.60s'.", key,
                        name ? name : "");
    if (f->kind != MST_FEATURE_AREA)
        return mst_fail(m->r.error, MST_INVALID, "Grading, '%s': '%.60s' is no area.", key, name);
    mst_status status = mst_feature_shape(f, m->r.adjustment, m->r.arena, shape, &why);
    return status ? mst_fail(m->r.error, status, "Grading, '%s': %s", key, why.sentence) : MST_OK;
}

static bool add_node(maker *m, double e, double n) {
    double(*to)[2] = MST_PUSH(m->r.arena, m->at, m->count, m->capacity);
    if (!to) return false;
    (*to)[0] = e, (*to)[1] = n;
    return true;
}

/* The outline, with further nodes a spacing apart. */
static mst_status add_ring(maker *m, const mst_path *ring) {
    mst_path flat;
    mst_status status = mst_path_flatten(ring, m->spacing / 10, m->r.arena, &flat, m->r.error);
    size_t first = m->count;
    for (size_t i = 0; i < flat.count && !status; i++) {
        const mst_path_vertex *a = &flat.vertices[i], *b = &flat.vertices[(i + 1) % flat.count];
        double length = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        int pieces = (int)fmin(MOST_NODES, fmax(1, ceil(length / m->spacing)));
        for (int k = 0; k < pieces && !status; k++) {
            double t = (double)k / pieces;
            if (!add_node(m, a->easting_m + t * (b->easting_m - a->easting_m),
                          a->northing_m + t * (b->northing_m - a->northing_m)))
                status = no_memory(m);
        }
    }
    for (size_t i = first; i < m->count && !status; i++) {
        uint32_t(*to)[2] = MST_PUSH(m->r.arena, m->segments, m->segment_count, m->segment_capacity);
        if (!to) return no_memory(m);
        (*to)[0] = (uint32_t)i, (*to)[1] = (uint32_t)(i + 1 < m->count ? i + 1 : first);
    }
    return status;
}

static bool stands_clear(const maker *m, double e, double n) {
    for (size_t i = 0; i < m->own; i++)
        if (hypot(m->at[i][0] - e, m->at[i][1] - n) < NEAR_SHARE * m->spacing) return false;
    return true;
}

static mst_status add_grid(maker *m) {
    double w = HUGE_VAL, e = -HUGE_VAL, s = HUGE_VAL, n = -HUGE_VAL;
    for (size_t i = 0; i < m->count; i++) {
        w = fmin(w, m->at[i][0]), e = fmax(e, m->at[i][0]);
        s = fmin(s, m->at[i][1]), n = fmax(n, m->at[i][1]);
    }
    if ((e - w) * (n - s) / (m->spacing * m->spacing) > 4.0 * MOST_NODES)
        return mst_fail(m->r.error, MST_INVALID, "Grading, 'spacing': %g m makes more than %d points; make it coarser.",
                        m->spacing, MOST_NODES);
    m->own = m->count;
    for (double y = s + m->spacing / 2; y < n; y += m->spacing)
        for (double x = w + m->spacing / 2; x < e; x += m->spacing)
            if (mst_shape_contains(&m->area, (mst_point){x, y}) && stands_clear(m, x, y) && !add_node(m, x, y))
                return no_memory(m);
    if (m->count > MOST_NODES)
        return mst_fail(m->r.error, MST_INVALID,
                        "Grading, 'spacing': %g m makes %zu points; %d are the most. Make it coarser.", m->spacing,
                        m->count, MOST_NODES);
    return MST_OK;
}

static mst_status triangulate(maker *m) {
    mst_triangulation *t;
    mst_triangulation_input input = {(const double(*)[2])m->at, m->count, (const uint32_t(*)[2])m->segments,
                                     m->segment_count, 1};
    mst_status status = mst_triangulation_build(&input, m->r.arena, &t, m->r.error);
    if (status) return status;
    size_t all, places;
    const uint32_t(*corners)[3] = mst_triangulation_corners(t, &all);
    const double(*at)[2] = mst_triangulation_vertices(t, &places);
    m->nodes = mst_arena_array(m->r.arena, places + 1, sizeof *m->nodes);
    m->triangles = mst_arena_array(m->r.arena, all + 1, sizeof *m->triangles);
    if (!m->nodes || !m->triangles) return no_memory(m);
    for (size_t i = 0; i < all; i++) {
        const double *a = at[corners[i][0]], *b = at[corners[i][1]], *c = at[corners[i][2]];
        mst_point middle = {a[0] + ((b[0] - a[0]) + (c[0] - a[0])) / 3, a[1] + ((b[1] - a[1]) + (c[1] - a[1])) / 3};
        if (!mst_shape_contains(&m->area, middle)) continue;
        memcpy(m->triangles[m->triangle_count++], corners[i], sizeof *m->triangles);
    }
    for (size_t i = 0; i < places; i++) {
        mst_ground_level ground;
        if (!mst_ground_level_at(m->ground, (mst_point){at[i][0], at[i][1]}, &ground))
            return mst_fail(m->r.error, MST_UNDETERMINED,
                            "Grading: there is no ground at %.2f, %.2f; take spot levels there, or draw 'in' smaller.",
                            at[i][0], at[i][1]);
        m->nodes[i] = (mst_point3){at[i][0], at[i][1], ground.elevation_m};
    }
    m->count = places;
    return MST_OK;
}

/* ---- wishes ---- */

static mst_status add_wish(maker *m, mst_wish w) {
    mst_wish *to = MST_PUSH(m->r.arena, m->wishes, m->wish_count, m->wish_capacity);
    if (!to || !w.name) return no_memory(m);
    *to = w;
    return MST_OK;
}

/* Nodes, or triangles by their middles, inside a shape; all without one. */
static mst_status inside(const maker *m, const mst_shape *shape, bool triangles, const uint32_t **at, size_t *count) {
    size_t most = triangles ? m->triangle_count : m->count;
    uint32_t *list = mst_arena_array(m->r.arena, most + 1, sizeof *list);
    if (!list) return no_memory(m);
    *count = 0;
    for (uint32_t i = 0; i < most; i++) {
        mst_point p = {m->nodes[i < m->count ? i : 0].easting_m, m->nodes[i < m->count ? i : 0].northing_m};
        if (triangles) {
            const mst_point3 *a = &m->nodes[m->triangles[i][0]], *b = &m->nodes[m->triangles[i][1]],
                             *c = &m->nodes[m->triangles[i][2]];
            p = (mst_point){(a->easting_m + b->easting_m + c->easting_m) / 3,
                            (a->northing_m + b->northing_m + c->northing_m) / 3};
        }
        if (!shape || mst_shape_contains(shape, p)) list[(*count)++] = i;
    }
    *at = list;
    return MST_OK;
}

/* Fixed points are nodes of their own: their places are read before the mesh is made, their levels after. */
static mst_status fixed_point(maker *m, const json_t *one, size_t i, mst_point *p, double *level) {
    static const char *const keys[] = {"at", "level", NULL};
    char what[40];
    snprintf(what, sizeof what, "'fixed' %zu", i + 1);
    if (!json_is_object(one)) return mst_fail(m->r.error, MST_INVALID, "Grading, %s is no object.", what);
    mst_status status = mst_read_known_keys(&m->r, one, keys, what);
    if (!status) status = mst_read_place(&m->r, json_object_get(one, "at"), p);
    if (!status) status = mst_read_length(&m->r, one, "level", level);
    if (!status && !mst_shape_contains(&m->area, *p))
        return mst_fail(m->r.error, MST_INVALID, "Grading, %s lies outside of the area 'in'.", what);
    return status;
}

static mst_status place_fixed(maker *m, const json_t *list) {
    for (size_t i = 0; i < json_array_size(list); i++) {
        mst_point p;
        double level;
        mst_status status = fixed_point(m, json_array_get(list, i), i, &p, &level);
        if (status) return status;
        if (!add_node(m, p.easting_m, p.northing_m)) return no_memory(m);
    }
    return MST_OK;
}

static uint32_t node_at(const maker *m, mst_point p) {
    uint32_t best = 0;
    for (uint32_t i = 0; i < m->count; i++) {
        double d = hypot(m->nodes[i].easting_m - p.easting_m, m->nodes[i].northing_m - p.northing_m);
        double b = hypot(m->nodes[best].easting_m - p.easting_m, m->nodes[best].northing_m - p.northing_m);
        if (d < b) best = i;
    }
    return best;
}

static mst_status add_fixed(maker *m, const json_t *list) {
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *one = json_array_get(list, i), *at = json_object_get(one, "at");
        mst_point p;
        double level;
        uint32_t *node = mst_arena_alloc(m->r.arena, sizeof *node);
        mst_status status = node ? fixed_point(m, one, i, &p, &level) : no_memory(m);
        if (status) return status;
        *node = node_at(m, p);
        const char *name =
            json_is_string(at)
                ? mst_arena_printf(m->r.arena, "level %.3f at %.40s", level, json_string_value(at))
                : mst_arena_printf(m->r.arena, "level %.3f at %.2f, %.2f", level, p.easting_m, p.northing_m);
        status = add_wish(m, (mst_wish){MST_WISH_LEVEL, name, node, 1, level, level, 0});
        if (status) return status;
    }
    return MST_OK;
}

static mst_status add_fall(maker *m, const json_t *one, size_t i) {
    static const char *const keys[] = {"in", "towards", "least", "most", NULL};
    char what[40];
    snprintf(what, sizeof what, "'falls' %zu", i + 1);
    if (!json_is_object(one)) return mst_fail(m->r.error, MST_INVALID, "Grading, %s is no object.", what);
    maker own = *m;
    own.r.object = one;
    mst_shape shape, *within = NULL;
    mst_wish w = {.kind = MST_WISH_FALL, .low = -INFINITY, .high = INFINITY};
    const char *in = json_string_value(json_object_get(one, "in"));
    const json_t *towards = json_object_get(one, "towards");
    mst_status status = mst_read_known_keys(&own.r, one, keys, what);
    if (!status && in) status = area_named(m, "falls", in, within = &shape);
    if (!status && !json_is_number(towards))
        return mst_fail(m->r.error, MST_INVALID, "Grading, %s needs 'towards': a bearing in degrees.", what);
    if (!status && json_object_get(one, "least")) status = mst_read_fall(&own.r, "least", -1, &w.low);
    if (!status && json_object_get(one, "most")) status = mst_read_fall(&own.r, "most", -1, &w.high);
    if (!status && isinf(w.low) && isinf(w.high))
        return mst_fail(m->r.error, MST_INVALID, "Grading, %s needs 'least' or 'most'.", what);
    if (!status) status = inside(m, within, true, &w.at, &w.count);
    if (status) return status;
    w.bearing_rad = json_number_value(towards) * MST_PI / 180;
    w.name = mst_arena_printf(m->r.arena, "fall towards %g%s%.40s", json_number_value(towards), in ? " in " : "",
                              in ? in : "");
    return add_wish(m, w);
}

static mst_status add_places(maker *m, const char *key, double high) {
    const json_t *list = json_object_get(m->r.object, key);
    if (list && !json_is_array(list))
        return mst_fail(m->r.error, MST_INVALID, "Grading: '%s' is a list of areas.", key);
    for (size_t i = 0; i < json_array_size(list); i++) {
        const char *name = json_string_value(json_array_get(list, i));
        mst_shape shape;
        mst_wish w = {.kind = MST_WISH_OVER_GROUND, .low = 0, .high = high};
        mst_status status = area_named(m, key, name, &shape);
        if (!status) status = inside(m, &shape, false, &w.at, &w.count);
        if (status) return status;
        w.name = mst_arena_printf(m->r.arena, "%s %.40s", key, name);
        if ((status = add_wish(m, w))) return status;
    }
    return MST_OK;
}

static mst_status add_wishes(maker *m) {
    const json_t *falls = json_object_get(m->r.object, "falls");
    mst_status status = add_fixed(m, json_object_get(m->r.object, "fixed"));
    for (size_t i = 0; i < json_array_size(falls) && !status; i++) status = add_fall(m, json_array_get(falls, i), i);
    if (!status) status = add_places(m, "keep", 0);
    if (!status) status = add_places(m, "no-dig", INFINITY);
    if (status || !json_object_get(m->r.object, "steepest")) return status;
    mst_wish w = {.kind = MST_WISH_STEEPEST, .name = "steepest"};
    status = mst_read_fall(&m->r, "steepest", 0, &w.high);
    if (!status) status = inside(m, NULL, true, &w.at, &w.count);
    return status ? status : add_wish(m, w);
}

/* ---- prices ---- */

static mst_status read_prices(const maker *m, mst_grade_prices *p) {
    static const char *const keys[] = {"cut", "fill", "haul", "import", "cart away", NULL};
    double *to[] = {&p->cut, &p->fill, &p->haul, &p->import, &p->cart_away};
    const json_t *prices = json_object_get(m->r.object, "prices");
    if (!json_is_object(prices))
        return mst_fail(
            m->r.error, MST_INVALID,
            "Grading needs 'prices': cut, fill, import and cart away for a cubic metre, haul for each metre.");
    mst_status status = mst_read_known_keys(&m->r, prices, keys, "'prices'");
    for (int i = 0; i < 5 && !status; i++) {
        const json_t *value = json_object_get(prices, keys[i]);
        if (!value) continue;
        if (!json_is_number(value) || !(json_number_value(value) >= 0))
            return mst_fail(m->r.error, MST_INVALID, "Grading, 'prices': '%s' is a number of 0 or more.", keys[i]);
        *to[i] = json_number_value(value);
    }
    return status;
}

static mst_status read_all(maker *m, mst_grade_input *in) {
    const json_t *o = m->r.object;
    mst_soil soil = {0};
    const json_t *name = json_object_get(o, "soil");
    m->spacing = 1;
    mst_status status = mst_read_known_keys(&m->r, o, KEYS, "a grading");
    if (!status) status = area_named(m, "in", json_string_value(json_object_get(o, "in")), &m->area);
    if (!status && json_object_get(o, "spacing")) status = mst_read_width(&m->r, o, "spacing", &m->spacing);
    if (!status)
        status = mst_soil_of(m->r.site, name && json_is_string(name) ? json_string_value(name) : "common earth", &soil,
                             m->r.error);
    if (!status) status = read_prices(m, &in->prices);
    for (size_t i = 0; i < m->area.count && !status; i++) status = add_ring(m, &m->area.paths[i]);
    if (!status) status = place_fixed(m, json_object_get(o, "fixed"));
    if (!status) status = add_grid(m);
    if (!status) status = triangulate(m);
    if (!status) status = add_wishes(m);
    if (status) return status;
    in->nodes = m->nodes, in->node_count = m->count;
    in->triangles = (const uint32_t(*)[3])m->triangles, in->triangle_count = m->triangle_count;
    in->wishes = m->wishes, in->wish_count = m->wish_count;
    in->compacted = soil.compacted;
    return MST_OK;
}

mst_status mst_grade_read(const char *definition, const mst_site *site, const mst_adjustment *adjustment,
                          const mst_ground *ground, mst_arena *arena, mst_grade_input *input, mst_error *error) {
    json_error_t why;
    json_t *root = json_loads(definition, JSON_REJECT_DUPLICATES, &why);
    if (!root) return mst_fail(error, MST_INVALID, "The grading is not JSON (line %d): %s.", why.line, why.text);
    maker m = {.r = {root, "grading", site, adjustment, arena, error}, .ground = ground};
    mst_grade_input in = {0};
    mst_status status =
        json_is_object(root) ? read_all(&m, &in) : mst_fail(error, MST_INVALID, "A grading is a JSON object.");
    json_decref(root);
    if (!status) *input = in;
    return status;
}
