/* The ground: figures, a level at a place, contours, sections. */
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include "numeric/statistics.h"

enum { INTERVALS_MOST = 2000 }; /* points of a section that get an interval: each is a solve of the whole adjustment */

double mst_half_interval(const mst_ground *ground, double readings, double between) {
    const mst_roughness *r = mst_ground_roughness(ground);
    double variance = fmax(readings, 0) + (between > 0 ? between : 0), share = between > 0 ? between / variance : 0;
    double freedom = share > 0 ? r->degrees_of_freedom / (share * share) : INFINITY;
    return (freedom < 1e4 ? mst_student_quantile(0.975, freedom) : mst_normal_quantile(0.975)) * sqrt(variance);
}

static json_t *roughness_json(const mst_ground *ground, mst_arena *arena) {
    const mst_roughness *r = mst_ground_roughness(ground);
    const char *sentence = !r->known ? "Too few points lie off the breaklines to tell how rough the ground is between "
                                       "them: intervals count the readings only."
                                     : mst_arena_printf(arena,
                                                        "Left out one by one, %zu points differ from the ground drawn "
                                                        "without them by %.3f m (root mean square).",
                                                        r->checks, r->rms_m);
    return json_pack("{s:b,s:I,s:o,s:o,s:o,s:s}", "known", r->known, "checks", (json_int_t)r->checks, "rms_m",
                     mst_json_number(r->rms_m), "power", mst_json_number(r->known ? r->power : NAN),
                     "degrees_of_freedom", mst_json_number(r->known ? r->degrees_of_freedom : NAN), "sentence",
                     sentence ? sentence : "");
}

/* The mean level of the whole model, as the volume over its lowest level by its area. */
static mst_status mean_level(mst_session *session, const mst_ground_figures *g, mst_figure *mean, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_shape shape;
    mst_prism_sum sum;
    mst_figure cut, fill, net;
    mst_status status = mst_ground_frame(d->ground, session->scratch, &shape, error);
    mst_plane plane = {0, 0, g->lowest_m - 1, 0, 0};
    if (!status) status = mst_ground_to_plane(d->ground, &shape, &plane, 0, session->scratch, &sum, error);
    if (!status) status = mst_volume_figures(&sum, NULL, d->adjustment, session->scratch, &cut, &fill, &net, error);
    if (!status)
        *mean = (mst_figure){plane.level_m + net.value / sum.area_m2, plane.level_m + net.low / sum.area_m2,
                             plane.level_m + net.high / sum.area_m2};
    return status;
}

static mst_status next_points(mst_session *session, double wanted, json_t *result, mst_error *error) {
    mst_next_point *p;
    size_t count;
    if (!(wanted >= 1 && wanted <= MST_NEXT_MOST && wanted == floor(wanted)))
        return mst_fail(error, MST_INVALID, "'next' is how many points to name: 1 to %d.", MST_NEXT_MOST);
    mst_status status =
        mst_ground_next_points(session->derived.ground, (size_t)wanted, session->scratch, &p, &count, error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        char sentence[160];
        snprintf(sentence, sizeof sentence,
                 "Take a level at %.2f E, %.2f N: the ground there is known to %.0f mm (sd); with it %.0f %% of the "
                 "doubt is left.",
                 p[i].at.easting_m, p[i].at.northing_m, p[i].sd_m * 1000, p[i].left * 100);
        json_array_append_new(list, json_pack("{s:f,s:f,s:f,s:f,s:s}", "easting_m", p[i].at.easting_m, "northing_m",
                                              p[i].at.northing_m, "sd_m", p[i].sd_m, "left_share", p[i].left,
                                              "sentence", sentence));
    }
    json_object_set_new(result, "where_next", list);
    return MST_OK;
}

/* The plan area as a function of the rim's points: inside, the triangles' derivatives cancel. Not known (null) where
 * the rim has a corner that was not measured itself. */
static json_t *plan_area_interval(const mst_derived *d, double area_m2, mst_arena *scratch) {
    size_t vertex_count, triangle_count;
    const mst_ground_point *v = mst_ground_vertices(d->ground, &vertex_count);
    const uint32_t(*t)[3] = mst_ground_triangles(d->ground, &triangle_count);
    mst_gradient_term *terms = mst_arena_array(scratch, vertex_count + 1, sizeof *terms);
    if (!terms) return json_null();
    for (size_t i = 0; i < vertex_count; i++) terms[i] = (mst_gradient_term){.point = v[i].source};
    for (size_t i = 0; i < triangle_count; i++)
        for (int c = 0; c < 3; c++) {
            const mst_ground_point *next = &v[t[i][(c + 1) % 3]], *last = &v[t[i][(c + 2) % 3]];
            terms[t[i][c]].easting += (next->northing_m - last->northing_m) / 2;
            terms[t[i][c]].northing += (last->easting_m - next->easting_m) / 2;
        }
    const double NOTHING_M = 1e-9; /* what rounding leaves of derivatives that cancel */
    size_t count = 0;
    for (size_t i = 0; i < vertex_count; i++) {
        if (hypot(terms[i].easting, terms[i].northing) < NOTHING_M) continue;
        if (terms[i].point == UINT32_MAX) return json_null();
        terms[count++] = terms[i];
    }
    double variance;
    if (mst_adjustment_variance(d->adjustment, terms, count, &variance, NULL) != MST_OK) return json_null();
    double half = mst_normal_quantile(0.975) * sqrt(variance);
    return json_pack("[f,f]", area_m2 - half, area_m2 + half);
}

MST_OPERATION(mst_op_ground) {
    static const char *const KNOWN[] = {"next", "without-mean", NULL};
    const bool with_mean = !mst_arg_flag(arguments, "without-mean"); /* its interval looks at the whole ground */
    mst_derived *d = &session->derived;
    mst_figure mean;
    double wanted = NAN;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_number(arguments, "next", &wanted, error);
    if (!status) status = mst_derive_ground(d, error);
    if (status) return status;
    mst_ground_figures g;
    mst_ground_describe(d->ground, &g);
    if (with_mean && (status = mean_level(session, &g, &mean, error))) return status;
    json_t *warnings = json_array();
    for (size_t i = 0; i < g.warning_count; i++) json_array_append_new(warnings, json_string(g.warnings[i]));
    *result = json_pack("{s:I,s:I,s:f,s:f,s:f,s:f,s:o,s:o}", "points", (json_int_t)g.points, "triangles",
                        (json_int_t)g.triangles, "plan_area_m2", g.plan_area_m2, "slope_area_m2", g.slope_area_m2,
                        "lowest_m", g.lowest_m, "highest_m", g.highest_m, "roughness",
                        roughness_json(d->ground, session->scratch), "warnings", warnings);
    if (with_mean) mst_json_figure(*result, "mean_level_m", mean);
    json_object_set_new(*result, "plan_area_m2_interval", plan_area_interval(d, g.plan_area_m2, session->scratch));
    return mst_arg_given(arguments, "next") ? next_points(session, wanted, *result, error) : MST_OK;
}

/* The ground's level at a place, with its 95 % interval. */
static mst_status level_with_interval(const mst_derived *d, mst_point p, mst_ground_level *level, mst_figure *figure,
                                      double *readings_half, mst_error *error) {
    double variance, between = mst_ground_between(d->ground, p);
    mst_status status = mst_adjustment_variance(d->adjustment, level->terms, level->term_count, &variance, error);
    if (status) return status;
    double half = mst_half_interval(d->ground, variance, between);
    *figure = (mst_figure){level->elevation_m, level->elevation_m - half, level->elevation_m + half};
    *readings_half = mst_normal_quantile(0.975) * sqrt(fmax(variance, 0));
    return MST_OK;
}

MST_OPERATION(mst_op_elevation) {
    static const char *const KNOWN[] = {"easting", "northing", "in", NULL};
    mst_derived *d = &session->derived;
    mst_point p = {NAN, NAN};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_length(arguments, "easting", &p.easting_m, error);
    if (!status) status = mst_arg_length(arguments, "northing", &p.northing_m, error);
    const bool in_area = mst_arg_given(arguments, "in");
    if (!status && !in_area && !(isfinite(p.easting_m) && isfinite(p.northing_m)))
        status = mst_fail(error, MST_INVALID, "An easting and a northing are needed, or an area with --in.");
    if (!status) status = mst_derive_ground(d, error);
    if (status) return status;
    if (in_area) return mst_level_over(session, mst_arg_text(arguments, "in", ""), result, error);
    mst_ground_level level;
    mst_figure figure;
    double readings;
    if (!mst_ground_level_at(d->ground, p, &level))
        return mst_fail(error, MST_NO, "%.3f E, %.3f N lies outside the ground model; nothing was measured around it.",
                        p.easting_m, p.northing_m);
    status = level_with_interval(d, p, &level, &figure, &readings, error);
    if (status) return status;
    *result =
        json_pack("{s:f,s:[f,f],s:[f,f],s:b,s:f,s:o}", "elevation_m", figure.value, "interval_m", figure.low,
                  figure.high, "readings_interval_m", figure.value - readings, figure.value + readings,
                  "roughness_known", mst_ground_roughness(d->ground)->known, "slope_percent", level.slope * 100,
                  "fall_bearing_deg", mst_json_number(level.slope > 0 ? level.fall_bearing_rad * 180 / MST_PI : NAN));
    mst_point3 edge;
    double apart;
    json_object_set_new(*result, "nearest_breakline",
                        mst_ground_nearest_breakline(d->ground, p, &edge, &apart)
                            ? json_pack("{s:f,s:f,s:f,s:f}", "distance_m", apart, "easting_m", edge.easting_m,
                                        "northing_m", edge.northing_m, "elevation_m", edge.elevation_m)
                            : json_null());
    return MST_OK;
}

/* Middles and directions of the figures on the index contours, one on each stretch of forty times the figure. */
static mst_status contour_labels(const mst_contour contours[], size_t count, double width_m, mst_arena *arena,
                                 json_t **out, mst_error *error) {
    enum { WIDTHS_APART = 40 };
    mst_contour_label *label;
    size_t label_count;
    mst_status status =
        mst_contour_labels(contours, count, width_m, WIDTHS_APART * width_m, arena, &label, &label_count, error);
    if (status) return status;
    *out = json_array();
    for (size_t i = 0; i < label_count; i++)
        json_array_append_new(*out, json_pack("{s:f,s:f,s:f,s:f}", "elevation_m", contours[label[i].contour].level_m,
                                              "easting_m", label[i].at.easting_m, "northing_m", label[i].at.northing_m,
                                              "bearing_deg", label[i].bearing_rad * 180 / MST_PI));
    return MST_OK;
}

static bool ends(const char *path, const char *ending) {
    size_t length = strlen(path), own = strlen(ending);
    return length > own && strcmp(path + length - own, ending) == 0;
}

MST_OPERATION(mst_op_contours) {
    static const char *const KNOWN[] = {"interval", "output", "smooth", "label-width", NULL};
    mst_derived *d = &session->derived;
    double interval = NAN, label_width = NAN;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_length(arguments, "interval", &interval, error);
    if (!status) status = mst_arg_length(arguments, "label-width", &label_width, error);
    const char *output = mst_arg_text(arguments, "output", "");
    if (!status && *output && !ends(output, ".dxf") && !ends(output, ".geojson") && !ends(output, ".json"))
        status = mst_fail(error, MST_INVALID, "Contours go to a .geojson or a .dxf, not to '%.200s'.", output);
    if (!status) status = mst_derive_ground(d, error);
    if (status) return status;
    if (isnan(interval)) interval = mst_contour_interval(d->ground);
    mst_contour *contours;
    size_t count;
    status = mst_arg_flag(arguments, "smooth")
                 ? mst_ground_smooth_contours(d->ground, interval, session->scratch, &contours, &count, error)
                 : mst_ground_contours(d->ground, interval, session->scratch, &contours, &count, error);
    json_t *labels = NULL;
    if (!status && !isnan(label_width))
        status = contour_labels(contours, count, label_width, session->scratch, &labels, error);
    if (status) return status;
    if (ends(output, ".dxf")) {
        mst_handover h = {.site = d->site, .adjustment = d->adjustment, .contours = contours, .contour_count = count};
        status = mst_write_dxf(&h, output, error);
        json_decref(labels);
        if (!status)
            *result = json_pack("{s:s,s:I,s:f}", "file", output, "contours", (json_int_t)count, "interval_m", interval);
        return status;
    }
    json_t *features = json_array();
    for (size_t i = 0; i < count; i++) {
        json_t *line = json_array();
        for (size_t k = 0; k < contours[i].count; k++)
            json_array_append_new(
                line, json_pack("[f,f,f]", contours[i].points[k][0], contours[i].points[k][1], contours[i].level_m));
        if (contours[i].closed && contours[i].count) json_array_append(line, json_array_get(line, 0));
        json_array_append_new(features,
                              json_pack("{s:s,s:{s:f,s:b,s:b},s:{s:s,s:o}}", "type", "Feature", "properties",
                                        "elevation_m", contours[i].level_m, "index", contours[i].index, "closed",
                                        contours[i].closed, "geometry", "type", "LineString", "coordinates", line));
    }
    *result = json_pack("{s:s,s:{s:s},s:f,s:o}", "type", "FeatureCollection", "merestone", "frame",
                        "local plane, metres", "interval_m", interval, "features", features);
    if (labels) json_object_set_new(*result, "labels", labels);
    if (!*output) return MST_OK;
    if (json_dump_file(*result, output, JSON_COMPACT | JSON_REAL_PRECISION(12)) != 0)
        return mst_fail_at(error, MST_IO, output, 0, 0, "The file cannot be written.");
    return MST_OK;
}

mst_status mst_arg_path(const json_t *arguments, mst_derived *d, mst_arena *arena, mst_path *path, mst_error *error) {
    const char *along = mst_arg_text(arguments, "along", "");
    if (*along) {
        const mst_feature *f = mst_site_feature(d->site, along);
        mst_shape shape;
        if (!f) return mst_fail(error, MST_NOT_FOUND, "There is no feature '%.60s'.", along);
        if (f->kind == MST_FEATURE_SPOT)
            return mst_fail(error, MST_INVALID, "'%s' is a spot; a section runs along a line or an area's edge.",
                            along);
        mst_status status = mst_feature_shape(f, d->adjustment, arena, &shape, error);
        if (!status) *path = shape.paths[0];
        return status;
    }
    mst_point from, to;
    bool has_from, has_to;
    mst_status status = mst_arg_place(arguments, "from", &from, &has_from, error);
    if (!status) status = mst_arg_place(arguments, "to", &to, &has_to, error);
    if (status) return status;
    if (!has_from || !has_to)
        return mst_fail(error, MST_INVALID, "A section runs along a feature, or from E,N to E,N.");
    path->vertices = mst_arena_array(arena, 2, sizeof *path->vertices);
    if (!path->vertices) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the section.");
    path->vertices[0] = (mst_path_vertex){from.easting_m, from.northing_m, NAN, 0};
    path->vertices[1] = (mst_path_vertex){to.easting_m, to.northing_m, NAN, 0};
    path->count = 2;
    path->closed = false;
    return MST_OK;
}

/* What of a section has no ground under it. */
static json_t *outside_warning(double length, double run) {
    const double LEAST_M = 0.005; /* what is nothing on paper */
    json_t *list = json_array();
    if (length - run > LEAST_M)
        json_array_append_new(list, json_sprintf("%.2f m of the section's %.2f m have no ground under them; run, rise "
                                                 "and fall count the rest.",
                                                 length - run, length));
    return list;
}

MST_OPERATION(mst_op_profile) {
    static const char *const KNOWN[] = {"along", "from", "to", NULL};
    mst_derived *d = &session->derived;
    mst_path path;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_ground(d, error);
    if (!status) status = mst_arg_path(arguments, d, session->scratch, &path, error);
    mst_profile_point *points;
    size_t count;
    if (!status) status = mst_ground_profile(d->ground, &path, session->scratch, &points, &count, error);
    if (status) return status;
    json_t *list = json_array();
    double rise = 0, fall = 0, first = NAN, last = NAN, run = 0, length = count ? points[count - 1].chainage_m : 0;
    for (size_t i = 0; i < count; i++) {
        double z = points[i].elevation_m;
        json_t *point =
            json_pack("{s:f,s:o,s:f,s:f}", "chainage_m", points[i].chainage_m, "elevation_m", mst_json_number(z),
                      "easting_m", points[i].at.easting_m, "northing_m", points[i].at.northing_m);
        mst_ground_level level;
        mst_figure figure = {z, NAN, NAN};
        double readings;
        if (i < INTERVALS_MOST && !isnan(z) && mst_ground_level_at(d->ground, points[i].at, &level))
            status = level_with_interval(d, points[i].at, &level, &figure, &readings, error);
        json_object_set_new(point, "interval_m",
                            json_pack("[o,o]", mst_json_number(figure.low), mst_json_number(figure.high)));
        json_array_append_new(list, point);
        if (status) {
            json_decref(list);
            return status;
        }
        if (isnan(z)) continue;
        if (isnan(first)) first = z;
        if (i && !isnan(points[i - 1].elevation_m)) run += points[i].chainage_m - points[i - 1].chainage_m;
        if (i && !isnan(points[i - 1].elevation_m))
            *(z > points[i - 1].elevation_m ? &rise : &fall) += fabs(z - points[i - 1].elevation_m);
        last = z;
    }
    *result = json_pack("{s:o,s:f,s:f,s:f,s:o,s:o}", "points", list, "run_m", run, "rise_m", rise, "fall_m", fall,
                        "from_m", mst_json_number(first), "to_m", mst_json_number(last));
    json_object_set_new(*result, "length_m", json_real(length));
    json_object_set_new(*result, "warnings", outside_warning(length, run));
    if (!isnan(first)) return MST_OK;
    return mst_fail(error, MST_NO, "The section runs outside the ground model all the way.");
}
