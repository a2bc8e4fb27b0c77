/* The ground against a surface that somebody else drew: a TIN out of a LandXML 1.2 file. */
#include "operations/operation.h"
#include "merestone/exchange.h"
#include <math.h>
#include <string.h>

static const double NOTHING = 1e-9; /* of the surface's area: what rounding leaves over */

static mst_status choose(const mst_surface surfaces[], size_t count, const char *name, const char *file,
                         const mst_surface **chosen, mst_error *error) {
    for (size_t i = 0; i < count; i++)
        if (*name ? strcmp(surfaces[i].name, name) == 0 : count == 1) return *chosen = &surfaces[i], MST_OK;
    if (count == 0) return mst_fail_at(error, MST_INVALID, file, 0, 0, "There is no surface in this file.");
    if (*name) return mst_fail_at(error, MST_NOT_FOUND, file, 0, 0, "There is no surface '%.60s' in this file.", name);
    return mst_fail_at(error, MST_INVALID, file, 0, 0,
                       "There are %zu surfaces in this file; say which with --surface, the first is '%.60s'.", count,
                       surfaces[0].name);
}

/* Its points are exact: none was measured here. */
static mst_status ground_of(const mst_surface *s, mst_arena *arena, mst_ground **ground, mst_error *error) {
    mst_ground_point *p = mst_arena_array(arena, s->point_count + 1, sizeof *p);
    if (!p) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < s->point_count; i++)
        p[i] = (mst_ground_point){s->points[i][0], s->points[i][1], s->points[i][2], UINT32_MAX};
    return mst_ground_from_triangles(p, s->point_count, (const uint32_t(*)[3])s->faces, s->face_count, arena, ground,
                                     error);
}

static mst_status read_surface(mst_session *session, const json_t *arguments, const mst_surface **surface,
                               mst_ground **ground, mst_error *error) {
    const char *text = mst_arg_text(arguments, "text", NULL), *file = mst_arg_text(arguments, "name", "surface.xml");
    mst_surface *surfaces;
    size_t count;
    if (!text) return mst_fail(error, MST_INVALID, "'text' is needed: the file's LandXML.");
    if (!*text) return mst_fail_at(error, MST_INVALID, file, 1, 1, "The file is empty; a surface was expected.");
    mst_status status = mst_read_landxml(text, strlen(text), file, session->scratch, &surfaces, &count, error);
    if (!status) status = choose(surfaces, count, mst_arg_text(arguments, "surface", ""), file, surface, error);
    return status ? status : ground_of(*surface, session->scratch, ground, error);
}

static mst_status within(const mst_derived *d, const char *name, mst_arena *arena, mst_shape *shape, mst_error *error) {
    const mst_feature *f = mst_site_feature(d->site, name);
    if (!f || f->kind != MST_FEATURE_AREA) return mst_fail(error, MST_NOT_FOUND, "There is no area '%.60s'.", name);
    return mst_feature_shape(f, d->adjustment, arena, shape, error);
}

static void set_figure(json_t *o, const char *key, const char *interval, mst_figure f) {
    json_object_set_new(o, key, mst_json_number(f.value));
    json_object_set_new(o, interval, json_pack("[o,o]", mst_json_number(f.low), mst_json_number(f.high)));
}

/* What of the drawn surface has no ground under it. Inside an area it is what of the area lacks either. */
static double without_ground(const mst_ground *drawn, const mst_prism_sum *sum, bool in_area) {
    mst_ground_figures whole;
    if (in_area) return sum->uncovered_m2;
    mst_ground_describe(drawn, &whole);
    double rest = whole.plan_area_m2 - sum->area_m2;
    return rest > NOTHING * whole.plan_area_m2 ? rest : 0;
}

MST_OPERATION(mst_op_against) {
    static const char *const KNOWN[] = {"text", "name", "surface", "in", NULL};
    mst_derived *d = &session->derived;
    const mst_surface *surface = NULL;
    mst_ground *drawn = NULL;
    mst_shape area;
    mst_prism_sum sum;
    mst_figure cut, fill, net;
    const char *in = mst_arg_text(arguments, "in", "");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = read_surface(session, arguments, &surface, &drawn, error);
    if (!status) status = mst_derive_ground(d, error);
    if (!status && *in) status = within(d, in, session->scratch, &area, error);
    if (!status)
        status = mst_ground_to_ground(d->ground, drawn, *in ? &area : NULL, session->scratch, &sum, NULL, error);
    if (!status && !(sum.area_m2 > 0))
        status = mst_fail(error, MST_NO,
                          "The surface '%.60s' and the ground have no area in common; is it in the "
                          "site's own coordinates?",
                          surface->name);
    if (!status) status = mst_volume_figures(&sum, NULL, d->adjustment, session->scratch, &cut, &fill, &net, error);
    if (status) return status;
    *result = json_pack("{s:s,s:f,s:f,s:f,s:f,s:[]}", "surface", surface->name, "area_m2", sum.area_m2, "uncovered_m2",
                        without_ground(drawn, &sum, *in != 0), "deepest_cut_m", fmax(sum.highest_m, 0),
                        "deepest_fill_m", fmax(-sum.lowest_m, 0), "materials");
    set_figure(*result, "cut_m3", "cut_interval_m3", cut);
    set_figure(*result, "fill_m3", "fill_interval_m3", fill);
    set_figure(*result, "net_m3", "net_interval_m3", net);
    return MST_OK;
}
