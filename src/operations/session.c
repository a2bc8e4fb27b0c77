/* The way of the data, strung together: adjustment -> ground -> elements -> earthwork, each once a revision. */
#include "operations/drag.h"
#include "operations/page_units.h"
#include "operations/session.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void forget(mst_derived *d) {
    mst_arena_free(d->arena);
    *d = (mst_derived){.revision = -1};
}

mst_status mst_session_open(const char *path, mst_session **session, mst_error *error) {
    mst_session *s = calloc(1, sizeof *s);
    if (!s) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the site.");
    s->derived.revision = -1;
    mst_status status = mst_file_open(path, &s->file, error);
    if (status) {
        free(s);
        return status;
    }
    *session = s;
    return MST_OK;
}

void mst_session_close(mst_session *session) {
    if (!session) return;
    mst_file_close(session->file);
    mst_drag_forget(session);
    forget(&session->derived);
    free(session);
}

void mst_session_on_progress(mst_session *session, void *self,
                             void (*tell)(void *self, double fraction, const char *sentence)) {
    session->progress = (mst_progress){self, tell};
}

int64_t mst_session_revision(mst_session *session) {
    int64_t revision = -1;
    return mst_file_revision(session->file, &revision, NULL) == MST_OK ? revision : -1;
}

bool mst_session_imperial(mst_session *session) {
    if (mst_session_refresh(session, NULL) != MST_OK) return false;
    return mst_site_imperial(session->derived.site);
}

static mst_status load(mst_file *file, mst_derived *d, mst_error *error) {
    *d = (mst_derived){.arena = mst_arena_new(), .revision = -1};
    if (!d->arena) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the site.");
    mst_status status = mst_file_load(file, d->arena, &d->site, error);
    if (status) {
        forget(d);
        return status;
    }
    d->revision = d->site->revision;
    return MST_OK;
}

mst_status mst_session_refresh(mst_session *session, mst_error *error) {
    int64_t revision;
    mst_status status = mst_file_revision(session->file, &revision, error);
    if (status || revision == session->derived.revision) return status;
    mst_derived fresh;
    status = load(session->file, &fresh, error);
    if (status) return status;
    forget(&session->derived);
    session->derived = fresh;
    return MST_OK;
}

/* Marks the step as tried and keeps its outcome. */
static mst_status outcome(mst_step *step, mst_status status, const mst_error *why, mst_error *error) {
    step->tried = true;
    step->error = *why;
    step->error.status = status;
    if (status && error) *error = step->error;
    return status;
}

static bool settled(const mst_step *step, mst_status *status, mst_error *error) {
    if (!step->tried) return false;
    *status = step->error.status;
    if (*status && error) *error = step->error;
    return true;
}

/* Readings that do not fit, or settle on nothing, may be a page in feet; then that is what is said. */
static mst_status look_for_units(mst_derived *d, const mst_adjust_options *options, mst_status status, mst_error *why) {
    if (status && status != MST_NOT_CONVERGED) return status;
    const mst_adjustment *settled_on = status ? NULL : d->adjustment;
    if (mst_page_in_other_unit(d->site, settled_on, options, d->arena, &d->unit_doubt))
        return mst_fail(why, MST_NO_MEMORY, "Not enough memory to look at the units of the pages.");
    if (status && d->unit_doubt)
        return mst_fail(why, status, "The readings do not settle on one place for each point. %s", d->unit_doubt);
    return status;
}

mst_status mst_derive_adjustment(mst_derived *d, mst_error *error) {
    mst_status status;
    if (settled(&d->adjusting, &status, error)) return status;
    mst_error why = {0};
    mst_projection *projection = NULL;
    mst_adjust_options options = {0};
    status = mst_projection_of_site(d->site, &projection, &why);
    if (status == MST_OK) {
        options.projector = projection ? mst_projection_projector(projection) : NULL;
        status = mst_adjust(d->site, &options, d->arena, &d->adjustment, &why);
        status = look_for_units(d, &options, status, &why);
    }
    mst_projection_close(projection);
    return outcome(&d->adjusting, status, &why, error);
}

mst_status mst_derive_ground(mst_derived *d, mst_error *error) {
    mst_status status;
    if (settled(&d->grounding, &status, error)) return status;
    mst_error why = {0};
    status = mst_derive_adjustment(d, &why);
    if (!status) status = mst_ground_from_site(d->site, d->adjustment, d->arena, &d->ground, &why);
    if (!status) status = mst_ground_trust(d->ground, d->adjustment, d->arena, &why);
    return outcome(&d->grounding, status, &why, error);
}

mst_status mst_derive_elements(mst_derived *d, mst_error *error) {
    mst_status status;
    if (settled(&d->designing, &status, error)) return status;
    mst_error why = {0};
    status = mst_derive_adjustment(d, &why);
    if (!status) {
        d->elements = mst_arena_array(d->arena, d->site->work_count + 1, sizeof *d->elements);
        if (!d->elements) status = mst_fail(&why, MST_NO_MEMORY, "Not enough memory for the works.");
    }
    for (size_t i = 0; !status && i < d->site->work_count; i++) {
        status = mst_element_read(&d->site->works[i], d->site, d->adjustment, d->arena, &d->elements[i], &why);
        if (!status) d->element_count++;
    }
    return outcome(&d->designing, status, &why, error);
}

mst_status mst_derive_earthwork(mst_derived *d, mst_error *error) {
    mst_status status;
    if (settled(&d->digging, &status, error)) return status;
    mst_error why = {0};
    status = mst_derive_elements(d, &why);
    if (!status && d->element_count == 0)
        status = mst_fail(&why, MST_NO,
                          "The site has no works yet; add some with: merestone works SITE.gpkg --file works.json");
    if (!status) status = mst_derive_ground(d, &why);
    if (!status) {
        double load_m3;
        status = mst_lorry_of(d->site, "load", &load_m3, &why);
        d->earthwork = mst_arena_alloc(d->arena, sizeof *d->earthwork);
        if (!status && !d->earthwork) status = mst_fail(&why, MST_NO_MEMORY, "Not enough memory for the earthwork.");
        if (!status)
            status = mst_earthwork_of(d->elements, d->element_count, d->site, d->adjustment, d->ground, load_m3,
                                      d->arena, d->earthwork, &why);
    }
    return outcome(&d->digging, status, &why, error);
}

mst_status mst_ground_frame(const mst_ground *ground, mst_arena *arena, mst_shape *shape, mst_error *error) {
    size_t n;
    const mst_ground_point *v = mst_ground_vertices(ground, &n);
    double w = INFINITY, e = -INFINITY, s = INFINITY, north = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        w = fmin(w, v[i].easting_m), e = fmax(e, v[i].easting_m);
        s = fmin(s, v[i].northing_m), north = fmax(north, v[i].northing_m);
    }
    mst_path *ring = mst_arena_alloc(arena, sizeof *ring);
    mst_path_vertex *c = mst_arena_array(arena, 4, sizeof *c);
    if (!ring || !c) return mst_fail(error, MST_NO_MEMORY, "Not enough memory.");
    c[0] = (mst_path_vertex){w - 1, s - 1, NAN, 0}, c[1] = (mst_path_vertex){e + 1, s - 1, NAN, 0};
    c[2] = (mst_path_vertex){e + 1, north + 1, NAN, 0}, c[3] = (mst_path_vertex){w - 1, north + 1, NAN, 0};
    *ring = (mst_path){c, 4, true};
    *shape = (mst_shape){ring, 1};
    return MST_OK;
}

double mst_contour_interval(const mst_ground *ground) {
    static const double STEPS[] = {0.05, 0.1, 0.2, 0.25, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000};
    mst_ground_figures figures;
    mst_ground_describe(ground, &figures);
    double range = figures.highest_m - figures.lowest_m;
    for (size_t i = 0; i < sizeof STEPS / sizeof *STEPS; i++)
        if (range / STEPS[i] <= 12) return STEPS[i];
    return STEPS[sizeof STEPS / sizeof *STEPS - 1];
}

/* ---- changes ---- */

mst_status mst_change_begin(mst_session *session, const json_t *arguments, const char *why, mst_error *error) {
    const json_t *expected = json_object_get(arguments, "expected_revision");
    if (expected && !json_is_null(expected) && !json_is_integer(expected))
        return mst_fail(error, MST_INVALID, "'expected_revision' is a whole number.");
    const char *who = json_string_value(json_object_get(arguments, "who"));
    const char *own = json_string_value(json_object_get(arguments, "why"));
    char line[400]; /* for the history; a name in it may have been cut to fit */
    snprintf(line, sizeof line, "%s", own && *own ? own : why);
    mst_text_tidy(line);
    return mst_file_begin(session->file, json_is_integer(expected) ? json_integer_value(expected) : -1, who ? who : "",
                          line, error);
}

static mst_status publish_paths(mst_derived *d, mst_published *out, mst_error *error) {
    mst_published_path *paths = mst_arena_array(d->arena, d->site->feature_count + 1, sizeof *paths);
    if (!paths) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to publish the features.");
    size_t n = 0;
    for (size_t i = 0; i < d->site->feature_count; i++) {
        const mst_feature *f = &d->site->features[i];
        mst_shape shape;
        /* A feature whose points have no place yet is not published; `adjust` names its points. */
        if (mst_feature_shape(f, d->adjustment, d->arena, &shape, NULL) != MST_OK) continue;
        size_t total = 0;
        for (size_t r = 0; r < shape.count; r++) total += shape.paths[r].count;
        double(*points)[4] = mst_arena_array(d->arena, total, sizeof *points);
        size_t *sizes = mst_arena_array(d->arena, shape.count, sizeof *sizes);
        if (!points || !sizes) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to publish the features.");
        size_t at = 0;
        for (size_t r = 0; r < shape.count; r++) {
            sizes[r] = shape.paths[r].count;
            for (size_t k = 0; k < shape.paths[r].count; k++) {
                const mst_path_vertex *v = &shape.paths[r].vertices[k];
                points[at][0] = v->easting_m, points[at][1] = v->northing_m, points[at][2] = v->elevation_m,
                points[at][3] = v->bulge;
                at++;
            }
        }
        bool area = f->kind == MST_FEATURE_AREA;
        paths[n++] = (mst_published_path){.name = f->name,
                                          .code = f->code,
                                          .kind = mst_feature_kind_name(f->kind),
                                          .points = (const double(*)[4])points,
                                          .ring_sizes = sizes,
                                          .ring_count = shape.count,
                                          .closed = shape.paths[0].closed,
                                          .length_m = f->kind == MST_FEATURE_SPOT ? NAN : mst_shape_length(&shape),
                                          .area_m2 = area ? mst_shape_area(&shape) : NAN};
    }
    out->paths = paths;
    out->path_count = n;
    return MST_OK;
}

static mst_status publish_points(mst_derived *d, mst_published *out, mst_error *error) {
    const mst_adjustment *a = d->adjustment;
    mst_published_point *points = mst_arena_array(d->arena, a->point_count + 1, sizeof *points);
    if (!points) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to publish the points.");
    size_t n = 0;
    for (size_t i = 0; i < a->point_count; i++) {
        const mst_adjusted_point *p = &a->points[i];
        if (!p->has_plan) continue;
        points[n++] = (mst_published_point){.name = p->name,
                                            .code = p->code,
                                            .easting = p->easting_m,
                                            .northing = p->northing_m,
                                            .elevation = p->has_height ? p->elevation_m : NAN,
                                            .sd_plan_m = hypot(p->sd_easting_m, p->sd_northing_m) / sqrt(2),
                                            .sd_height_m = p->sd_elevation_m};
    }
    out->points = points;
    out->point_count = n;
    return MST_OK;
}

static mst_status publish_ground(mst_derived *d, mst_published *out, mst_error *error) {
    size_t n, vertex_count, contour_count;
    const uint32_t(*corners)[3] = mst_ground_triangles(d->ground, &n);
    const mst_ground_point *v = mst_ground_vertices(d->ground, &vertex_count);
    double(*triangles)[3][3] = mst_arena_array(d->arena, n + 1, sizeof *triangles);
    if (!triangles) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to publish the ground.");
    for (size_t i = 0; i < n; i++)
        for (int c = 0; c < 3; c++) {
            const mst_ground_point *p = &v[corners[i][c]];
            triangles[i][c][0] = p->easting_m, triangles[i][c][1] = p->northing_m, triangles[i][c][2] = p->elevation_m;
        }
    out->triangles = (const double(*)[3][3])triangles;
    out->triangle_count = n;
    mst_contour *contours;
    mst_status status =
        mst_ground_contours(d->ground, mst_contour_interval(d->ground), d->arena, &contours, &contour_count, error);
    if (status) return status;
    mst_published_contour *lines = mst_arena_array(d->arena, contour_count + 1, sizeof *lines);
    if (!lines) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to publish the contours.");
    for (size_t i = 0; i < contour_count; i++)
        lines[i] =
            (mst_published_contour){contours[i].level_m, contours[i].closed, contours[i].points, contours[i].count};
    out->contours = lines;
    out->contour_count = contour_count;
    return MST_OK;
}

/* What can be derived is published; what cannot yet (a first page without its tie) is left out and said by `adjust`. */
static mst_status publish(mst_session *session, mst_derived *d, mst_error *error) {
    mst_published out = {0};
    mst_status status = MST_OK;
    if (mst_derive_adjustment(d, NULL) == MST_OK) {
        status = publish_points(d, &out, error);
        if (!status) status = publish_paths(d, &out, error);
        if (!status && mst_derive_ground(d, NULL) == MST_OK) status = publish_ground(d, &out, error);
    }
    return status ? status : mst_file_publish(session->file, &out, error);
}

mst_status mst_change_finish(mst_session *session, mst_change_check *keep, void *context, mst_error *error) {
    mst_derived changed;
    mst_status status = load(session->file, &changed, error);
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    if (keep) status = keep(&changed, context, error);
    if (!status) status = publish(session, &changed, error);
    if (!status) status = mst_file_commit(session->file, error);
    if (status) {
        mst_file_rollback(session->file);
        forget(&changed);
        return status;
    }
    forget(&session->derived);
    session->derived = changed;
    return MST_OK;
}

/* ---- design points and built points from their pages ---- */

mst_status mst_site_stakes(const mst_site *site, mst_arena *arena, mst_stake **stakes, size_t *count,
                           mst_error *error) {
    size_t capacity = 0;
    mst_index seen = {0};
    *stakes = NULL;
    *count = 0;
    for (size_t p = 0; p < site->page_count; p++) {
        const mst_page *page = &site->pages[p];
        if (page->kind != MST_PAGE_STAKES) continue;
        for (size_t i = 0; i < page->row_count; i++) {
            const mst_row *row = &page->rows[i];
            if (row->set_aside) continue;
            uint32_t at = mst_index_get(&seen, row->text[MST_STAKES_STAKE]);
            mst_stake *s = at != UINT32_MAX ? &(*stakes)[at] : MST_PUSH(arena, *stakes, *count, capacity);
            if (!s ||
                (at == UINT32_MAX && !mst_index_put(&seen, arena, row->text[MST_STAKES_STAKE], (uint32_t)(*count - 1))))
                return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the stakes.");
            *s = (mst_stake){.name = row->text[MST_STAKES_STAKE],
                             .code = row->text[MST_STAKES_CODE],
                             .easting_m = row->value[MST_STAKES_EASTING],
                             .northing_m = row->value[MST_STAKES_NORTHING],
                             .elevation_m = row->value[MST_STAKES_ELEVATION],
                             .row = row->line};
        }
    }
    return MST_OK;
}

static double or_gear(double cell, double gear, double usual) { return !isnan(cell) ? cell : gear > 0 ? gear : usual; }

mst_status mst_page_built(const mst_site *site, const mst_page *page, mst_arena *arena, mst_built **built,
                          size_t *count, mst_error *error) {
    const mst_gear *usual = mst_gear_preset(mst_gear_default(MST_PAGE_BUILT));
    const mst_gear *gear = page->gear && *page->gear ? mst_site_gear(site, page->gear) : NULL;
    if (!gear) gear = usual;
    *built = mst_arena_array(arena, page->row_count + 1, sizeof **built);
    if (!*built) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the built points.");
    *count = 0;
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *row = &page->rows[i];
        if (row->set_aside) continue;
        (*built)[(*count)++] =
            (mst_built){.point = row->text[MST_BUILT_POINT],
                        .easting_m = row->value[MST_BUILT_EASTING],
                        .northing_m = row->value[MST_BUILT_NORTHING],
                        .elevation_m = row->value[MST_BUILT_ELEVATION],
                        .sd_plan_m = or_gear(row->value[MST_BUILT_SD_PLAN], gear->plan_m, usual->plan_m),
                        .sd_height_m = or_gear(row->value[MST_BUILT_SD_HEIGHT], gear->height_m, usual->height_m),
                        .row = row->line};
    }
    return MST_OK;
}
