/* What of a site goes onto which layer. Layer names follow the open guideline discipline-major-minor-status: V
 * surveyed, C civil; E existing, N new; the words in between are ours. Plan lines keep their arcs; lines with levels
 * come again in space, straight. */
#include "exchange/dxf.h"
#include "exchange/write.h"
#include <math.h>
#include <stdio.h>

static const double ONE_LEVEL_M = 0.00005; /* levels that print alike to 0.1 mm are one */
static const double SAGITTA_M = 0.002;     /* of arcs flattened in space: within the error of any gear */
static const double TEXT_TO_DIAGONAL = 0.004, TEXT_LEAST_M = 0.05,
                    TEXT_MOST_M = 1; /* readable on a plan that fills a sheet */

static const char *layer(mst_dxf *d, const char *name, int colour) { return mst_dxf_layer_of(d, name, colour, -3); }

static void text_height(mst_dxf *d, const mst_adjustment *adjustment) {
    double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; adjustment && i < adjustment->point_count; i++) {
        const mst_adjusted_point *p = &adjustment->points[i];
        if (!p->has_plan) continue;
        low[0] = fmin(low[0], p->easting_m), high[0] = fmax(high[0], p->easting_m);
        low[1] = fmin(low[1], p->northing_m), high[1] = fmax(high[1], p->northing_m);
    }
    double diagonal = low[0] <= high[0] ? hypot(high[0] - low[0], high[1] - low[1]) : 0;
    d->text_height = d->per_metre * fmin(TEXT_MOST_M, fmax(TEXT_LEAST_M, TEXT_TO_DIAGONAL * diagonal));
}

/* Name above, level beside, code below, each on its layer, so that any can be switched off. */
typedef struct labels {
    const char *names, *levels, *codes;
} labels;

static void label(mst_dxf *d, const labels *on, mst_point3 at, const char *name, const char *code, int colour) {
    double h = d->text_height / d->per_metre;
    char level[32];
    mst_dxf_text(d, layer(d, on->names, colour),
                 (mst_point3){at.easting_m + 0.6 * h, at.northing_m + 0.8 * h, at.elevation_m}, name);
    mst_dxf_text(d, layer(d, on->codes, colour),
                 (mst_point3){at.easting_m + 0.6 * h, at.northing_m - 2.2 * h, at.elevation_m}, code);
    if (isnan(at.elevation_m)) return;
    snprintf(level, sizeof level, "%.3f", at.elevation_m * d->per_metre);
    mst_dxf_text(d, layer(d, on->levels, colour),
                 (mst_point3){at.easting_m + 0.6 * h, at.northing_m - 0.7 * h, at.elevation_m}, level);
}

static void add_points(mst_dxf *d, const mst_adjustment *adjustment) {
    static const labels ON = {"V-NODE-NAME-E", "V-NODE-LEVL-E", "V-NODE-CODE-E"};
    for (size_t i = 0; adjustment && i < adjustment->point_count; i++) {
        const mst_adjusted_point *p = &adjustment->points[i];
        if (!p->has_plan) continue;
        mst_point3 at = {p->easting_m, p->northing_m, p->has_height ? p->elevation_m : NAN};
        const char *on = !p->has_height ? "V-NODE-PLAN-E" : p->held_plan ? "V-CTRL-PNTS-E" : "V-NODE-PNTS-E";
        mst_dxf_point(d, layer(d, on, p->held_plan ? 1 : 7), at);
        label(d, &ON, at, p->name, p->code ? p->code : "", 7);
    }
}

/* ---- features ---- */

typedef enum levels { NO_LEVELS, ONE_LEVEL, MANY_LEVELS, SOME_LEVELS } levels;

static levels levels_of(const mst_path *path) {
    size_t known = 0;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < path->count; i++) {
        double z = path->vertices[i].elevation_m;
        if (isnan(z)) continue;
        known++;
        low = fmin(low, z);
        high = fmax(high, z);
    }
    if (known == 0) return NO_LEVELS;
    if (known < path->count) return SOME_LEVELS;
    return high - low <= ONE_LEVEL_M ? ONE_LEVEL : MANY_LEVELS;
}

static mst_status add_path(mst_dxf *d, const char *on, const mst_feature *f, const mst_path *path, mst_error *error) {
    levels known = levels_of(path);
    mst_dxf_polyline(d, on, path, known == ONE_LEVEL ? path->vertices[0].elevation_m : NAN);
    if (known != MANY_LEVELS || f->role == MST_ROLE_NONE) return MST_OK;
    mst_path straight;
    mst_status status = mst_path_flatten(path, SAGITTA_M, d->arena, &straight, error);
    if (!status) mst_dxf_polyline_3d(d, mst_dxf_layer_of(d, "V-TOPO-BRKL-E", 6, -3), &straight);
    return status;
}

static mst_status add_feature(mst_dxf *d, const mst_feature *f, const mst_adjustment *adjustment, mst_error *error) {
    static const char *const WORDS[] = {"LINE", "AREA", "SPOT"};
    char name[100];
    mst_shape shape;
    snprintf(name, sizeof name, "V-%s-%s-E", WORDS[f->kind], mst_dxf_word(d, f->code ? f->code : ""));
    const char *on = layer(d, name, 7);
    if (f->kind == MST_FEATURE_SPOT) {
        for (size_t i = 0; i < f->vertex_count; i++) {
            const mst_adjusted_point *p = mst_adjustment_point(adjustment, f->vertices[i].point);
            if (p && p->has_plan) mst_dxf_point(d, on, (mst_point3){p->easting_m, p->northing_m, p->elevation_m});
        }
        return MST_OK;
    }
    mst_status status = mst_feature_shape(f, adjustment, d->arena, &shape, error);
    if (status == MST_NO_MEMORY) return status;
    if (status) return MST_OK; /* without a place; mst_handover_notes says so */
    status = MST_OK;
    for (size_t i = 0; i < shape.count && !status; i++) status = add_path(d, on, f, &shape.paths[i], error);
    return status;
}

static mst_status add_features(mst_dxf *d, const mst_handover *from, mst_error *error) {
    mst_status status = MST_OK;
    for (size_t i = 0; from->site && from->adjustment && i < from->site->feature_count && !status; i++)
        status = add_feature(d, &from->site->features[i], from->adjustment, error);
    return status;
}

/* ---- ground, contours, stakes ---- */

static void add_ground(mst_dxf *d, const mst_ground *ground) {
    if (!ground) return;
    size_t count, vertex_count;
    const uint32_t(*triangles)[3] = mst_ground_triangles(ground, &count);
    const mst_ground_point *v = mst_ground_vertices(ground, &vertex_count);
    const char *on = layer(d, "V-TOPO-TINN-E", 9);
    for (size_t i = 0; i < count; i++) {
        mst_point3 c[3];
        for (int k = 0; k < 3; k++) {
            const mst_ground_point *p = &v[triangles[i][k]];
            c[k] = (mst_point3){p->easting_m, p->northing_m, p->elevation_m};
        }
        mst_dxf_face(d, on, c);
    }
}

static mst_status add_contour(mst_dxf *d, const mst_contour *c, mst_error *error) {
    mst_path_vertex *v = mst_arena_array(d->arena, c->count, sizeof *v);
    if (!v) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < c->count; i++) v[i] = (mst_path_vertex){c->points[i][0], c->points[i][1], c->level_m, 0};
    const mst_path path = {v, c->count, c->closed};
    const char *on =
        c->index ? mst_dxf_layer_of(d, "V-TOPO-MAJR-E", 34, 35) : mst_dxf_layer_of(d, "V-TOPO-MINR-E", 36, 18);
    mst_dxf_polyline(d, on, &path, c->level_m);
    return MST_OK;
}

static void add_stakes(mst_dxf *d, const mst_setout_sheet *sheet) {
    static const labels ON = {"C-STKE-NAME-N", "C-STKE-LEVL-N", "C-STKE-CODE-N"};
    for (size_t i = 0; sheet && i < sheet->count; i++) {
        const mst_setout_line *l = &sheet->lines[i];
        mst_point3 at = {l->easting_m, l->northing_m, l->elevation_m};
        mst_dxf_point(d, layer(d, "C-STKE-PNTS-N", 1), at);
        label(d, &ON, at, l->stake, l->code ? l->code : "", 1);
    }
}

static mst_status draw(mst_dxf *d, const mst_handover *from, mst_error *error) {
    text_height(d, from->adjustment);
    add_points(d, from->adjustment);
    mst_status status = add_features(d, from, error);
    for (size_t i = 0; i < from->contour_count && !status; i++) status = add_contour(d, &from->contours[i], error);
    if (status) return status;
    add_ground(d, from->ground);
    add_stakes(d, from->setout);
    return MST_OK;
}

mst_status mst_write_dxf(const mst_handover *from, const char *path, mst_error *error) {
    mst_arena *arena = mst_arena_new();
    if (!arena) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    mst_dxf dxf;
    mst_text out = {0};
    mst_dxf_start(&dxf, arena, mst_is_imperial(from));
    mst_status status = draw(&dxf, from, error);
    if (!status) {
        mst_dxf_finish(&dxf, &out);
        status = mst_save_text(path, &out, error);
    }
    mst_text_free(&dxf.entities);
    mst_arena_free(arena);
    return status;
}
