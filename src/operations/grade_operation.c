/* Cheapest levels: wishes from a definition, levels by the core, their exact volumes from the ground. */
#include "operations/operation.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static json_t *levels_json(const mst_grade_input *in, const mst_grade *g) {
    json_t *list = json_array();
    for (size_t i = 0; i < in->node_count; i++)
        json_array_append_new(list, json_pack("{s:f,s:f,s:f,s:f}", "easting_m", in->nodes[i].easting_m, "northing_m",
                                              in->nodes[i].northing_m, "existing_m", in->nodes[i].elevation_m,
                                              "level_m", g->level_m[i]));
    return list;
}

static json_t *triangles_json(const mst_grade_input *in) {
    json_t *list = json_array();
    for (size_t i = 0; i < in->triangle_count; i++)
        json_array_append_new(
            list, json_pack("[i,i,i]", (int)in->triangles[i][0], (int)in->triangles[i][1], (int)in->triangles[i][2]));
    return list;
}

/* The program counts by nodes; these are the volumes between the ground's triangles and the new ones. */
static mst_status exact_volumes(mst_session *session, const mst_grade_input *in, const mst_grade *g, mst_prism_sum *sum,
                                mst_error *error) {
    mst_ground_point *points = mst_arena_array(session->scratch, in->node_count + 1, sizeof *points);
    if (!points) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the levels.");
    for (size_t i = 0; i < in->node_count; i++)
        points[i] = (mst_ground_point){in->nodes[i].easting_m, in->nodes[i].northing_m, g->level_m[i], UINT32_MAX};
    mst_ground *after;
    mst_status status = mst_ground_from_triangles(points, in->node_count, in->triangles, in->triangle_count,
                                                  session->scratch, &after, error);
    return status ? status
                  : mst_ground_to_ground(session->derived.ground, after, NULL, session->scratch, sum, NULL, error);
}

static json_t *conflict_json(const mst_grade_input *in, const mst_grade *g) {
    json_t *list = json_array();
    for (size_t i = 0; i < g->conflict_count; i++)
        json_array_append_new(list, json_string(in->wishes[g->conflict[i]].name));
    return json_pack("{s:b,s:o}", "met", 0, "conflict", list);
}

/* ---- kept as an element ---- */

/* Where the wishes say, of their soil, with the levels as they were found. */
static json_t *surface_definition(const char *name, const char *wishes, const mst_grade_input *in, const mst_grade *g) {
    json_t *asked = json_loads(wishes, 0, NULL), *points = json_array();
    for (size_t i = 0; i < in->node_count; i++)
        json_array_append_new(points,
                              json_pack("[f,f,f]", in->nodes[i].easting_m, in->nodes[i].northing_m, g->level_m[i]));
    json_t *o = json_pack("{s:s,s:s,s:o,s:o}", "name", name, "kind", "surface", "points", points, "triangles",
                          triangles_json(in));
    json_object_set(o, "in", json_object_get(asked, "in"));
    if (json_object_get(asked, "soil")) json_object_set(o, "soil", json_object_get(asked, "soil"));
    json_decref(asked);
    return o;
}

/* Puts the surface among the works, by the operation that puts any element there. */
static mst_status apply(mst_session *session, const json_t *arguments, json_t *definition, json_t *result,
                        mst_error *error) {
    static const char *const PASSED[] = {"who", "why", "expected_revision", NULL};
    json_t *put = json_pack("{s:o}", "definition", definition), *listed = NULL;
    for (int i = 0; PASSED[i]; i++)
        if (json_object_get(arguments, PASSED[i]))
            json_object_set(put, PASSED[i], json_object_get(arguments, PASSED[i]));
    mst_status status = mst_op_put_work(session, put, &listed, error);
    if (!status) {
        json_object_set(result, "applied", json_object_get(definition, "name"));
        json_object_set(result, "revision", json_object_get(listed, "revision"));
    }
    json_decref(listed);
    json_decref(put);
    return status;
}

MST_OPERATION(mst_op_grade) {
    static const char *const KNOWN[] = {"text", "name", "definition", "apply", NULL};
    mst_derived *d = &session->derived;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_ground(d, error);
    if (status) return status;
    const json_t *given = json_object_get(arguments, "definition");
    char *dumped = json_is_object(given) ? json_dumps(given, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;
    const char *text = dumped ? mst_arena_string(session->scratch, dumped) : mst_arg_text(arguments, "text", NULL);
    free(dumped);
    if (!text) return mst_fail(error, MST_INVALID, "Grading needs its wishes: --file wishes.json (docs/works.md).");
    mst_grade_input in;
    mst_grade g = {0};
    mst_prism_sum sum;
    status = mst_grade_read(text, d->site, d->adjustment, d->ground, session->scratch, &in, error);
    if (!status) status = mst_grade_solve(&in, session->scratch, &g, error);
    if (status == MST_NO && g.conflict_count) *result = conflict_json(&in, &g);
    if (!status) status = exact_volumes(session, &in, &g, &sum, error);
    if (status) return status;
    *result = json_pack("{s:b,s:f,s:f,s:i,s:f,s:f,s:f,s:f,s:f,s:f,s:f,s:o,s:o}", "met", 1, "cost", g.cost, "least_cost",
                        g.least_cost, "steps", g.steps, "cut_m3", g.cut_m3, "fill_m3", g.fill_m3, "import_m3",
                        g.import_m3, "cart_away_m3", g.cart_away_m3, "haul_m4", g.haul_m4, "exact_cut_m3", sum.cut_m3,
                        "exact_fill_m3", sum.fill_m3, "levels", levels_json(&in, &g), "triangles", triangles_json(&in));
    const char *name = mst_arg_text(arguments, "apply", "");
    if (!*name) return MST_OK;
    return apply(session, arguments, surface_definition(name, text, &in, &g), *result, error);
}
