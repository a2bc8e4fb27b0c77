/* A cloud of any size becomes a page of the few points that its surface needs. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

static const double TOLERANCE_M = 0.05;
enum { ROW_BYTES = 56, POINTS_MOST = 2000000 }; /* a row behind the point's name: places to 0.1 mm, on this earth */

static mst_status unit_of(const json_t *arguments, const char *key, double *metres, mst_error *error) {
    const char *name = mst_arg_text(arguments, key, NULL);
    *metres = 0;
    if (!name) return MST_OK;
    switch (mst_unit_named(name)) {
    case MST_UNIT_M:
        *metres = 1;
        return MST_OK;
    case MST_UNIT_MM:
        *metres = 0.001;
        return MST_OK;
    case MST_UNIT_FT:
        *metres = MST_FOOT_M;
        return MST_OK;
    case MST_UNIT_FTUS:
        *metres = MST_FOOT_US_M;
        return MST_OK;
    default:
        return mst_fail(error, MST_INVALID, "A unit of a cloud is m, mm, ft or ftus, not '%.40s'.", name);
    }
}

/* "2,8" to a set. */
static mst_status classes_of(const json_t *arguments, uint64_t set[4], mst_error *error) {
    const char *at = mst_arg_text(arguments, "classes", "");
    while (*at) {
        unsigned code = 0, digits = 0;
        for (; *at >= '0' && *at <= '9' && digits < 4; at++, digits++) code = 10 * code + (unsigned)(*at - '0');
        if (!digits || code > 255 || (*at && *at != ',') || (*at == ',' && !at[1]))
            return mst_fail(error, MST_INVALID,
                            "Classes are whole numbers from 0 to 255 with commas between them, as in 2,8.");
        set[code >> 6] |= (uint64_t)1 << (code & 63);
        if (*at) at++;
    }
    return MST_OK;
}

static const char *base_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* What the points are called: the file's name, and the visit where one is given, so that two clouds share no name. */
static const char *point_stem(const json_t *arguments, const char *name, mst_arena *arena) {
    const char *dot = strrchr(name, '.'), *visit = mst_arg_text(arguments, "visit", "");
    int length = (int)(dot && dot > name ? (size_t)(dot - name) : strlen(name));
    return *visit ? mst_arena_printf(arena, "%.*s.%s", length, name, visit)
                  : mst_arena_printf(arena, "%.*s", length, name);
}

static mst_status page_text(const mst_cloud_thinned *thinned, const char *stem, mst_text *text, mst_error *error) {
    mst_text quoted = {0};
    mst_text_string(text, "point,easting (m),northing (m),elevation (m),code\n");
    for (size_t i = 0; i < thinned->count; i++) {
        const mst_point3 *p = &thinned->points[i];
        quoted.length = 0;
        mst_text_printf(&quoted, "%s.%zu", stem, i + 1);
        if (quoted.failed) break;
        mst_text_csv(text, quoted.data);
        mst_text_printf(text, ",%.4f,%.4f,%.4f,cloud\n", p->easting_m, p->northing_m, p->elevation_m);
    }
    bool failed = text->failed || quoted.failed;
    mst_text_free(&quoted);
    return failed ? mst_fail(error, MST_NO_MEMORY, "Not enough memory for the points of the cloud.") : MST_OK;
}

/* The page goes in as any other does: checked, in one change that can be undone. */
static mst_status store(mst_session *session, const json_t *arguments, const char *name, const mst_cloud_report *report,
                        json_t **result, mst_error *error) {
    static const char *const HANDED_ON[] = {"visit", "gear", "who", "why", "expected_revision"};
    mst_text text = {0};
    const char *stem = point_stem(arguments, name, session->scratch);
    if (!stem) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the cloud.");
    mst_status status = page_text(&report->thinned, stem, &text, error);
    json_t *import =
        status ? NULL
               : json_pack("{s:s,s:s,s:o,s:s}", "page", "points", "name", name, "text",
                           json_stringn(text.data, text.length), "frame", mst_arg_text(arguments, "frame", "site"));
    for (size_t i = 0; import && i < sizeof HANDED_ON / sizeof *HANDED_ON; i++)
        if (mst_arg_given(arguments, HANDED_ON[i]))
            json_object_set(import, HANDED_ON[i], json_object_get(arguments, HANDED_ON[i]));
    if (import && !mst_arg_given(arguments, "why"))
        json_object_set_new(
            import, "why",
            json_sprintf("Take in the cloud %s, thinned to %.3f m", name, report->thinned.fit.largest_m));
    mst_text_free(&text);
    if (!status && !import) status = mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page of the cloud.");
    if (!status) status = mst_op_import(session, import, result, error);
    json_decref(import);
    return status;
}

static json_t *classes_json(const mst_cloud_report *report) {
    json_t *classes = json_object();
    char code[8];
    for (int c = 0; c < 256; c++)
        if (report->by_class[c]) {
            snprintf(code, sizeof code, "%d", c);
            json_object_set_new(classes, code, json_integer((json_int_t)report->by_class[c]));
        }
    return classes;
}

static void add_report(json_t *result, const mst_cloud_report *r, double tolerance_m) {
    const mst_cloud_fit *fit = &r->thinned.fit;
    json_t *notes = json_array();
    for (size_t i = 0; i < r->note_count; i++) json_array_append_new(notes, json_string(r->notes[i]));
    json_object_set_new(result, "file",
                        json_pack("{s:s,s:s,s:o,s:o}", "kind", r->facts.kind, "system", r->facts.system,
                                  "metres_in_a_unit", mst_json_number(r->plan_m), "metres_in_a_unit_of_levels",
                                  mst_json_number(r->height_m)));
    json_object_set_new(result, "points_read", json_integer((json_int_t)r->read));
    json_object_set_new(result, "points_by_class", r->facts.classed ? classes_json(r) : json_null());
    json_object_set_new(result, "points_wanted", json_integer((json_int_t)r->wanted));
    json_object_set_new(result, "points_thinned", json_integer((json_int_t)fit->count));
    json_object_set_new(result, "points_kept", json_integer((json_int_t)r->thinned.count));
    json_object_set_new(result, "tolerance_m", mst_json_number(tolerance_m));
    json_object_set_new(result, "largest_error_m", mst_json_number(fit->largest_m));
    json_object_set_new(result, "rms_error_m", mst_json_number(fit->rms_m));
    json_object_set_new(result, "points_beyond", json_integer((json_int_t)fit->beyond));
    json_object_set_new(result, "seconds", mst_json_number(r->seconds));
    json_object_set_new(result, "cloud_notes", notes);
}

MST_OPERATION(mst_op_cloud) {
    static const char *const KNOWN[] = {"path",        "classes", "tolerance", "unit", "height-unit", "columns",
                                        "find-ground", "visit",   "frame",     "gear", NULL};
    const char *path;
    mst_cloud_import import = {.tolerance_m = TOLERANCE_M,
                               .find_ground = mst_arg_flag(arguments, "find-ground"),
                               .columns = mst_arg_text(arguments, "columns", NULL),
                               .progress = session->progress};
    mst_cloud_report report;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "path", &path, error);
    if (!status) status = mst_arg_length(arguments, "tolerance", &import.tolerance_m, error);
    if (!status) status = classes_of(arguments, import.classes, error);
    if (!status) status = unit_of(arguments, "unit", &import.plan_m, error);
    if (!status) status = unit_of(arguments, "height-unit", &import.height_m, error);
    if (status) return status;
    const char *name = base_name(path), *stem = point_stem(arguments, name, session->scratch);
    size_t fits = MST_PAGE_BYTES_MAX / (ROW_BYTES + 2 * (stem ? strlen(stem) : 0)); /* twice: quotes may be doubled */
    import.points_most = fits < POINTS_MOST ? fits : POINTS_MOST;
    status = mst_cloud_to_points(path, &import, session->scratch, &report, error);
    if (!status) status = store(session, arguments, name, &report, result, error);
    if (!status) add_report(*result, &report, import.tolerance_m);
    return status;
}
