/* The site and its history: what changes what is stored. */
#include "operations/operation.h"
#include "survey/feature_shape.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

MST_OPERATION(mst_op_new) {
    (void)session;
    static const char *const KNOWN[] = {"path", "title", "units", NULL};
    const char *path;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "path", &path, error);
    if (status) return status;
    const char *units = mst_arg_text(arguments, "units", "metric");
    if (strcmp(units, "metric") != 0 && strcmp(units, "imperial") != 0)
        return mst_fail(error, MST_INVALID, "Units are metric or imperial, not '%.40s'.", units);
    const char *title = mst_arg_text(arguments, "title", "");
    status = mst_file_create(path, title, units, mst_arg_text(arguments, "who", ""), error);
    if (status) return status;
    *result = json_pack("{s:s,s:s,s:s}", "path", path, "title", title, "units", units);
    return MST_OK;
}

/* A date in the file's name says which visit the page belongs to; else the name itself does. */
static const char *visit_of(const char *name, mst_arena *arena) {
    for (const char *c = name; strlen(c) >= 10; c++)
        if (strspn(c, "0123456789") == 4 && c[4] == '-' && strspn(c + 5, "0123456789") == 2 && c[7] == '-' &&
            strspn(c + 8, "0123456789") >= 2)
            return mst_arena_text(arena, c, 10);
    const char *dot = strrchr(name, '.');
    return mst_arena_text(arena, name, dot && dot > name ? (size_t)(dot - name) : strlen(name));
}

static bool is_reading_page(mst_page_kind kind) {
    return kind != MST_PAGE_FEATURES && kind != MST_PAGE_STAKES && kind != MST_PAGE_PRICES && kind != MST_PAGE_PLAN;
}

/* An area that crosses itself has no area; refused as soon as its points have a place. */
static mst_status no_crossing(mst_derived *changed, void *context, mst_error *error) {
    const char *page = context;
    if (mst_derive_adjustment(changed, NULL) != MST_OK) return MST_OK;
    for (size_t i = 0; i < changed->site->feature_count; i++) {
        const mst_feature *f = &changed->site->features[i];
        mst_shape shape;
        mst_point where;
        mst_error why = {0};
        if (f->kind == MST_FEATURE_SPOT || (page && strcmp(f->page, page) != 0)) continue;
        mst_status status = mst_feature_shape(f, changed->adjustment, changed->arena, &shape, &why);
        if (status == MST_UNDETERMINED || status == MST_NOT_FOUND) continue; /* its points come later */
        if (status) return mst_fail_at(error, status, f->page, f->vertices[0].line, 0, "%s", why.sentence);
        for (size_t r = 0; f->kind == MST_FEATURE_AREA && r < shape.count; r++)
            if (mst_path_crosses_itself(&shape.paths[r], &where))
                return mst_fail_at(error, MST_INVALID, f->page, f->vertices[0].line, 0,
                                   "Feature '%s' crosses itself near %.2f E, %.2f N; its points are out of order.",
                                   f->name, where.easting_m, where.northing_m);
    }
    return MST_OK;
}

typedef struct change {
    mst_session *session;
    const char *page; /* whose features came in; NULL: any */
} change;

/* A change after which nothing can be adjusted any more, though it could before, is refused with the reason: else one
 * bad row would close the whole site. */
static mst_status still_adjusts(mst_derived *changed, void *context, mst_error *error) {
    const change *c = context;
    mst_error why = {0};
    mst_status status = mst_derive_adjustment(changed, &why);
    if (status == MST_INVALID && mst_derive_adjustment(&c->session->derived, NULL) != MST_INVALID) {
        if (error) *error = why;
        return status;
    }
    return no_crossing(changed, (void *)c->page, error);
}

/* Features that a point which is not there leaves without a shape, the first few. */
static void features_without_shape(mst_derived *d, json_t *list) {
    enum { SAID = 5 };
    size_t said = 0;
    for (size_t i = 0; i < d->site->feature_count && said < SAID; i++) {
        mst_point3 *places;
        uint32_t *points;
        mst_error why = {0};
        if (mst_feature_places(&d->site->features[i], d->adjustment, d->arena, &places, &points, &why) !=
            MST_UNDETERMINED)
            continue;
        json_array_append_new(list, json_string(why.sentence));
        said++;
    }
}

/* Readings of the page that could not count, each once. */
static void warn_of_left_out(json_t *list, const mst_adjustment *a, const char *page) {
    size_t said = 0;
    for (size_t i = 0; i < a->left_out_count && said < 5; i++)
        if (strcmp(a->left_out[i].page, page) == 0) {
            json_array_append_new(list, json_string(a->left_out[i].sentence));
            said++;
        }
}

/* What the survey says of the site as it stands, in sentences; never a refusal. */
static json_t *warnings_after(mst_derived *d) {
    json_t *list = json_array();
    mst_error why = {0};
    mst_status status = mst_derive_adjustment(d, &why);
    if (status && status != MST_TOO_FEW) json_array_append_new(list, json_string(why.sentence));
    if (status) return list;
    if (d->adjustment->undetermined_count) {
        mst_text text = {0};
        mst_text_printf(&text, "%zu point%s not determined yet: ", d->adjustment->undetermined_count,
                        d->adjustment->undetermined_count == 1 ? " is" : "s are");
        for (size_t i = 0; i < d->adjustment->undetermined_count && i < 5; i++)
            mst_text_printf(&text, "%s%s", i ? ", " : "", d->adjustment->undetermined[i]);
        mst_text_string(&text, d->adjustment->undetermined_count > 5 ? " ... See: adjust." : ". See: adjust.");
        if (!text.failed) json_array_append_new(list, json_string(text.data));
        mst_text_free(&text);
    }
    features_without_shape(d, list);
    if (d->unit_doubt) json_array_append_new(list, json_string(d->unit_doubt));
    for (size_t i = 0; i < d->adjustment->suspect_count && i < 5; i++) {
        bool said = false; /* one sentence may be about two readings */
        for (size_t k = 0; k < i; k++)
            said |= strcmp(d->adjustment->suspects[k].sentence, d->adjustment->suspects[i].sentence) == 0;
        if (!said) json_array_append_new(list, json_string(d->adjustment->suspects[i].sentence));
    }
    return list;
}

/* A page of that name is replaced only when asked, so that the same file taken in twice is noticed. */
static mst_status not_twice(const mst_site *site, const mst_page *page, mst_error *error) {
    for (size_t i = 0; i < site->page_count; i++)
        if (strcmp(site->pages[i].name, page->name) == 0 && strcmp(site->pages[i].visit, page->visit) == 0 &&
            site->pages[i].kind == page->kind)
            return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                               "A %s page '%s' of visit '%s' is in the site already; undo that import, or give this "
                               "one its own --visit.",
                               mst_page_kind_name(page->kind), page->name, page->visit);
    return MST_OK;
}

static mst_status set_frame(const json_t *arguments, mst_page *page, mst_error *error) {
    const char *frame = mst_arg_text(arguments, "frame", "own");
    if (strcmp(frame, "own") != 0 && strcmp(frame, "site") != 0)
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0, "A frame is 'own' or 'site', not '%.40s'.", frame);
    bool coordinates = page->kind == MST_PAGE_CONTROL || page->kind == MST_PAGE_POINTS || page->kind == MST_PAGE_GNSS ||
                       page->kind == MST_PAGE_STAKES || page->kind == MST_PAGE_BUILT;
    if (strcmp(frame, "site") == 0 && !coordinates)
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                           "A %s page has no coordinates that could be in the site's frame; leave --frame out.",
                           mst_page_kind_name(page->kind));
    page->site_frame = strcmp(frame, "site") == 0;
    return MST_OK;
}

mst_status mst_gear_named(const mst_site *site, const char *name, const char *page, mst_error *error) {
    if (mst_site_gear(site, name)) return MST_OK;
    mst_text names = {0};
    size_t count;
    const mst_gear *presets = mst_gear_presets(&count);
    for (size_t i = 0; i < count; i++) mst_text_printf(&names, "%s%s", i ? ", " : "", presets[i].name);
    mst_fail_at(error, MST_NOT_FOUND, page, 0, 0, "There is no gear '%.40s'; there is %s.", name,
                names.data ? names.data : "none");
    mst_text_free(&names);
    return MST_NOT_FOUND;
}

/* What a gear must say for the readings of a page; a total station knows coordinates through its own program. */
static bool gear_suits(const mst_gear *g, mst_page_kind kind) {
    const bool distance = g->distance_m > 0 || g->distance_ppm > 0, angle = g->angle_rad > 0,
               level = g->staff_m > 0 || g->levelled_km_m > 0;
    switch (kind) {
    case MST_PAGE_TAPE:
        return distance;
    case MST_PAGE_BEARINGS:
    case MST_PAGE_ANGLES:
        return angle;
    case MST_PAGE_OFFSETS:
        return distance || angle;
    case MST_PAGE_LEVELS:
    case MST_PAGE_HEIGHTS:
        return level;
    case MST_PAGE_LEGS:
        return g->leg_m > 0 || g->leg_rate > 0;
    case MST_PAGE_GNSS:
    case MST_PAGE_POINTS:
    case MST_PAGE_BUILT:
        return g->plan_m > 0 || g->height_m > 0 || (kind != MST_PAGE_GNSS && distance && angle);
    default:
        return true;
    }
}

static mst_status set_visit_and_gear(const mst_site *site, const json_t *arguments, mst_arena *arena, mst_page *page,
                                     mst_error *error) {
    const char *visit = mst_arg_text(arguments, "visit", NULL), *gear = mst_arg_text(arguments, "gear", NULL);
    if (visit && !visit[strspn(visit, " ")])
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                           "A visit needs a name; leave it out to use the file's.");
    page->visit = is_reading_page(page->kind) ? visit ? visit : visit_of(page->name, arena) : "";
    page->gear = gear ? gear : mst_gear_default(page->kind);
    mst_status status = mst_gear_named(site, page->gear, page->name, error);
    if (!status && gear && !gear_suits(mst_site_gear(site, gear), page->kind))
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                           "The gear '%.40s' says nothing of the readings on a %s page; see: gear.", gear,
                           mst_page_kind_name(page->kind));
    return status;
}

static mst_status store_features(mst_session *session, const mst_page *page, mst_arena *arena, size_t *count,
                                 mst_error *error) {
    mst_feature *features;
    mst_status status = mst_features_from_page(page, arena, &features, count, error);
    for (size_t i = 0; i < *count && !status; i++) status = mst_file_put_feature(session->file, &features[i], error);
    return status;
}

static mst_status import_page(mst_session *session, const json_t *arguments, mst_page *page, mst_arena *arena,
                              json_t **result, mst_error *error) {
    char why[200];
    size_t features = 0;
    snprintf(why, sizeof why, "Take in %s as %s", page->name, mst_page_kind_name(page->kind));
    mst_status status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    bool is_features = page->kind == MST_PAGE_FEATURES;
    status = is_features ? store_features(session, page, arena, &features, error)
                         : mst_file_add_page(session->file, page, error);
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    change made = {session, is_features ? page->name : NULL};
    status = mst_change_finish(session, still_adjusts, &made, error);
    if (status) return status;
    *result = json_pack("{s:s,s:s,s:I,s:s,s:s,s:I,s:o}", "page", page->name, "kind", mst_page_kind_name(page->kind),
                        "rows", (json_int_t)page->row_count, "visit", page->visit, "gear",
                        is_reading_page(page->kind) ? page->gear : "", "revision",
                        (json_int_t)session->derived.revision, "warnings", warnings_after(&session->derived));
    if (page->kind == MST_PAGE_ANGLES && session->derived.adjustment)
        warn_of_left_out(json_object_get(*result, "warnings"), session->derived.adjustment, page->name);
    if (is_features) json_object_set_new(*result, "features", json_integer((json_int_t)features));
    json_object_set_new(*result, "notes", mst_json_text(page->notes));
    return MST_OK;
}

static mst_status no_such_page(const char *name, mst_error *error) {
    char known[300] = "";
    size_t n = 0;
    for (int k = 0; k < MST_PAGE_KINDS && n < sizeof known; k++)
        n += (size_t)snprintf(known + n, sizeof known - n, "%s%s", k ? ", " : "", mst_page_kind_name((mst_page_kind)k));
    return mst_fail(error, MST_INVALID, "There is no page '%.40s'; pages are %s.", name, known);
}

/* Read as the estimate will read it. */
static mst_status prices_can_be(const mst_site *site, mst_page *page, mst_arena *arena, mst_error *error) {
    mst_site with = *site;
    mst_price_line *lines;
    size_t count;
    with.pages = page, with.page_count = 1;
    return mst_prices_read(&with, arena, &lines, &count, error);
}

MST_OPERATION(mst_op_import) {
    static const char *const KNOWN[] = {"page", "name", "text", "visit", "gear", "columns", "frame", NULL};
    const char *kind_name;
    mst_page_kind kind;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "page", &kind_name, error);
    if (status) return status;
    if (!mst_page_kind_named(kind_name, &kind)) return no_such_page(kind_name, error);
    const json_t *text = json_object_get(arguments, "text");
    if (!json_is_string(text)) return mst_fail(error, MST_INVALID, "'text' is needed: the page's CSV.");
    mst_arena *arena = mst_arena_new();
    if (!arena) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the page.");
    mst_page page;
    const char *name = mst_arg_text(arguments, "name", "typed.csv");
    status = mst_page_read(kind, name, json_string_value(text), json_string_length(text),
                           mst_arg_text(arguments, "columns", NULL), arena, &page, error);
    if (!status) status = set_frame(arguments, &page, error);
    if (!status) status = set_visit_and_gear(session->derived.site, arguments, arena, &page, error);
    if (!status && kind == MST_PAGE_PRICES) status = prices_can_be(session->derived.site, &page, arena, error);
    if (!status && kind != MST_PAGE_FEATURES) status = not_twice(session->derived.site, &page, error);
    if (!status) status = import_page(session, arguments, &page, arena, result, error);
    mst_arena_free(arena);
    return status;
}

/* ---- small changes ---- */

static mst_status finish(mst_session *session, mst_status status, json_t **result, mst_error *error) {
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    change made = {session, NULL};
    status = mst_change_finish(session, still_adjusts, &made, error);
    if (!status)
        *result = json_pack("{s:I,s:o}", "revision", (json_int_t)session->derived.revision, "warnings",
                            warnings_after(&session->derived));
    return status;
}

const mst_page *mst_site_page(const mst_site *site, mst_page_kind kind, const char *name) {
    const mst_page *found = NULL;
    for (size_t i = 0; i < site->page_count; i++)
        if (site->pages[i].kind == kind && (!*name || strcmp(site->pages[i].name, name) == 0)) found = &site->pages[i];
    return found;
}

MST_OPERATION(mst_op_add_reading) {
    static const char *const KNOWN[] = {"page_id", "record", NULL};
    const char *record;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "record", &record, error);
    if (status) return status;
    if (!json_is_integer(json_object_get(arguments, "page_id")))
        return mst_fail(error, MST_INVALID, "'page_id' is needed: which page the reading belongs to.");
    char why[200];
    snprintf(why, sizeof why, "Add reading %.150s", record);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    return finish(
        session,
        mst_file_add_reading(session->file, json_integer_value(json_object_get(arguments, "page_id")), record, error),
        result, error);
}

/* A reading by its id, or by page and row as results and errors name it. */
static mst_status find_reading(const mst_site *site, const json_t *arguments, const mst_page **page,
                               const mst_row **row, mst_error *error) {
    const json_t *id = json_object_get(arguments, "reading_id");
    const char *name = mst_arg_text(arguments, "page", ""), *visit = mst_arg_text(arguments, "visit", "");
    double line = 0;
    mst_status status = mst_arg_number(arguments, "row", &line, error);
    if (status) return status;
    if (!json_is_integer(id) && (!*name || !(line > 0)))
        return mst_fail(error, MST_INVALID, "Name the reading by its page and row.");
    for (size_t p = 0; p < site->page_count; p++)
        for (size_t i = 0; i < site->pages[p].row_count; i++) {
            const mst_row *r = &site->pages[p].rows[i];
            bool found = json_is_integer(id) ? r->id == json_integer_value(id)
                                             : r->line == (int)line && strcmp(site->pages[p].name, name) == 0 &&
                                                   (!*visit || strcmp(site->pages[p].visit, visit) == 0);
            if (found) {
                *page = &site->pages[p];
                *row = r;
                return MST_OK;
            }
        }
    return mst_fail(error, MST_NOT_FOUND, "There is no reading in row %d of '%.60s'.", (int)line, name);
}

MST_OPERATION(mst_op_set_aside) {
    static const char *const KNOWN[] = {"reading_id", "page", "visit", "row", "reason", "take-back", NULL};
    const mst_page *page = NULL;
    const mst_row *row = NULL;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = find_reading(session->derived.site, arguments, &page, &row, error);
    if (status) return status;
    bool back = mst_arg_flag(arguments, "take-back");
    const char *reason = mst_arg_text(arguments, "reason", "");
    if (!back && !*reason) return mst_fail(error, MST_INVALID, "Setting a reading aside needs a reason.");
    char why[300];
    snprintf(why, sizeof why, back ? "Take %.100s row %d back in" : "Set %.100s row %d aside: %.120s", page->name,
             row->line, reason);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    return finish(session, mst_file_set_aside(session->file, row->id, back ? NULL : reason, error), result, error);
}

MST_OPERATION(mst_op_remove_page) {
    static const char *const KNOWN[] = {"page_id", NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    if (!json_is_integer(json_object_get(arguments, "page_id")))
        return mst_fail(error, MST_INVALID, "'page_id' is needed: which page to withdraw.");
    status = mst_change_begin(session, arguments, "Withdraw a field page", error);
    if (status) return status;
    return finish(session,
                  mst_file_remove_page(session->file, json_integer_value(json_object_get(arguments, "page_id")), error),
                  result, error);
}

/* A feature as the page sends it: the same rows as a features page, read by the same reader. */
static mst_status feature_rows(const json_t *arguments, mst_text *csv, mst_error *error) {
    const json_t *points = json_object_get(arguments, "points");
    const char *name;
    mst_status status = mst_arg_required(arguments, "name", &name, error);
    if (status) return status;
    if (!json_is_array(points) || json_array_size(points) == 0)
        return mst_fail(error, MST_INVALID, "'points' is needed: the names of the feature's points, in order.");
    mst_text_string(csv, "feature,kind,code,point,edge,role\n");
    size_t i;
    json_t *p;
    json_array_foreach(points, i, p) {
        const char *point = json_is_string(p) ? json_string_value(p) : json_string_value(json_object_get(p, "point"));
        const char *edge = json_is_object(p) ? mst_arg_text(p, "edge", "") : "";
        const char *role = json_is_object(p) ? mst_arg_text(p, "role", mst_arg_text(arguments, "role", ""))
                                             : mst_arg_text(arguments, "role", "");
        const char *cells[] = {name,
                               mst_arg_text(arguments, "kind", "line"),
                               mst_arg_text(arguments, "code", ""),
                               point ? point : "",
                               edge,
                               role};
        for (int c = 0; c < 6; c++) {
            mst_text_csv(csv, cells[c]);
            mst_text_string(csv, c < 5 ? "," : "\n");
        }
    }
    return csv->failed ? mst_fail(error, MST_NO_MEMORY, "Not enough memory for the feature.") : MST_OK;
}

MST_OPERATION(mst_op_put_feature) {
    static const char *const KNOWN[] = {"name", "kind", "code", "role", "points", NULL};
    mst_text csv = {0};
    mst_arena *arena = mst_arena_new();
    if (!arena) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the feature.");
    mst_page page;
    mst_feature *features;
    size_t count;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = feature_rows(arguments, &csv, error);
    if (!status) status = mst_page_read(MST_PAGE_FEATURES, "", csv.data, csv.length, NULL, arena, &page, error);
    if (!status) status = mst_features_from_page(&page, arena, &features, &count, error);
    char why[200];
    if (!status) {
        snprintf(why, sizeof why, "Draw %s", features[0].name);
        status = mst_change_begin(session, arguments, why, error);
        if (!status) status = finish(session, mst_file_put_feature(session->file, &features[0], error), result, error);
    }
    mst_text_free(&csv);
    mst_arena_free(arena);
    return status;
}

MST_OPERATION(mst_op_remove_feature) {
    static const char *const KNOWN[] = {"name", NULL};
    const char *name;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "name", &name, error);
    if (status) return status;
    char why[200];
    snprintf(why, sizeof why, "Remove feature %.150s", name);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    return finish(session, mst_file_remove_feature(session->file, name, error), result, error);
}

MST_OPERATION(mst_op_put_setting) {
    static const char *const KNOWN[] = {"key", "value", NULL};
    const char *key;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "key", &key, error);
    if (status) return status;
    if (strlen(key) > 60) return mst_fail(error, MST_INVALID, "A setting's name has at most 60 characters.");
    const char *value = mst_arg_text(arguments, "value", NULL);
    if (!value) return mst_fail(error, MST_INVALID, "'value' is needed.");
    status = mst_setting_check(session->derived.site, key, value, error);
    if (status) return status;
    char why[200];
    snprintf(why, sizeof why, "Set %.60s to %.100s", key, value);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    return finish(session, mst_file_put_setting(session->file, key, value, error), result, error);
}

/* ---- gear ---- */

static const struct {
    const char *key;
    size_t at;
} GEAR_KEYS[] = {{"distance_m", offsetof(mst_gear, distance_m)},
                 {"distance_ppm", offsetof(mst_gear, distance_ppm)},
                 {"angle_rad", offsetof(mst_gear, angle_rad)},
                 {"zenith_rad", offsetof(mst_gear, zenith_rad)},
                 {"centring_m", offsetof(mst_gear, centring_m)},
                 {"plan_m", offsetof(mst_gear, plan_m)},
                 {"height_m", offsetof(mst_gear, height_m)},
                 {"staff_m", offsetof(mst_gear, staff_m)},
                 {"levelled_km_m", offsetof(mst_gear, levelled_km_m)},
                 {"leg_m", offsetof(mst_gear, leg_m)},
                 {"leg_rate", offsetof(mst_gear, leg_rate)},
                 {"leg_power", offsetof(mst_gear, leg_power)},
                 {"leg_height_ratio", offsetof(mst_gear, leg_height_ratio)}};
enum { GEAR_KEY_COUNT = sizeof GEAR_KEYS / sizeof *GEAR_KEYS };

static json_t *gear_json(const mst_gear *gear, bool preset) {
    json_t *object =
        json_pack("{s:s,s:s,s:b}", "name", gear->name, "source", gear->source ? gear->source : "", "preset", preset);
    for (size_t i = 0; i < GEAR_KEY_COUNT; i++)
        json_object_set_new(object, GEAR_KEYS[i].key,
                            json_real(*(const double *)(const void *)((const char *)gear + GEAR_KEYS[i].at)));
    return object;
}

MST_OPERATION(mst_op_gear) {
    static const char *const KNOWN[] = {NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (status) return status;
    json_t *list = json_array();
    for (size_t i = 0; i < session->derived.site->gear_count; i++)
        json_array_append_new(list, gear_json(&session->derived.site->gear[i], false));
    size_t count;
    const mst_gear *presets = mst_gear_presets(&count);
    for (size_t i = 0; i < count; i++) json_array_append_new(list, gear_json(&presets[i], true));
    *result = json_pack("{s:o}", "gear", list);
    return MST_OK;
}

/* A key as the command line or JSON may write it: distance-m is distance_m. */
static bool same_key(const char *given, const char *key) {
    for (; *given && *key; given++, key++)
        if (*given != *key && !(*given == '-' && *key == '_')) return false;
    return *given == *key;
}

static mst_status set_figure(mst_gear *gear, const json_t *arguments, const char *given, size_t at, mst_error *error) {
    double number = -1;
    mst_status status = mst_arg_number(arguments, given, &number, error);
    if (status) return status;
    if (!(number >= 0) || number > 1e6)
        return mst_fail(error, MST_INVALID, "%s: a standard deviation is 0 or more.", given);
    *(double *)(void *)((char *)gear + at) = number;
    return MST_OK;
}

/* angle_dms and zenith_dms: as people write small angles. */
static mst_status set_angle(mst_gear *gear, const json_t *arguments, const char *given, mst_error *error) {
    double *at = given[0] == 'a' ? &gear->angle_rad : &gear->zenith_rad, value;
    mst_error why = {0};
    if (mst_quantity_read(mst_arg_text(arguments, given, ""), MST_UNIT_DMS, &value, &why))
        return mst_fail(error, MST_INVALID, "%s: %s", given, why.sentence);
    if (!(value >= 0) || value > MST_PI / 2)
        return mst_fail(error, MST_INVALID, "%s: a standard deviation is 0 or more.", given);
    *at = value;
    return MST_OK;
}

static mst_status set_gear_key(mst_gear *gear, const json_t *arguments, const char *given, mst_error *error) {
    static const char *const WORDS[] = {"name", "like", "source", "who", "why", "expected_revision"};
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++)
        if (strcmp(given, WORDS[i]) == 0) return MST_OK;
    for (size_t i = 0; i < GEAR_KEY_COUNT; i++)
        if (same_key(given, GEAR_KEYS[i].key)) return set_figure(gear, arguments, given, GEAR_KEYS[i].at, error);
    if (same_key(given, "angle_dms") || same_key(given, "zenith_dms")) return set_angle(gear, arguments, given, error);
    return mst_fail(error, MST_INVALID, "'%.60s' is not a figure of a gear; see: gear.", given);
}

MST_OPERATION(mst_op_put_gear) {
    const char *name;
    mst_status status = mst_arg_required(arguments, "name", &name, error);
    if (status) return status;
    const char *like = mst_arg_text(arguments, "like", "");
    const mst_gear *before = mst_site_gear(session->derived.site, *like ? like : name);
    if (*like && !before)
        return mst_fail(error, MST_NOT_FOUND, "There is no gear '%.60s' to be like; see: gear.", like);
    mst_gear gear = before ? *before : (mst_gear){.leg_power = 1};
    gear.name = name;
    gear.source = mst_arg_text(arguments, "source", "own record");
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)arguments, key, value) {
        status = set_gear_key(&gear, arguments, key, error);
        if (status) return status;
    }
    char why[200];
    snprintf(why, sizeof why, "Set gear %.150s", name);
    status = mst_change_begin(session, arguments, why, error);
    if (status) return status;
    return finish(session, mst_file_put_gear(session->file, &gear, error), result, error);
}

/* ---- history ---- */

MST_OPERATION(mst_op_history) {
    static const char *const KNOWN[] = {NULL};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    mst_arena *arena = mst_arena_new();
    if (!status && !arena) status = mst_fail(error, MST_NO_MEMORY, "Not enough memory for the history.");
    mst_change *changes;
    size_t count;
    if (!status) status = mst_file_history(session->file, arena, &changes, &count, error);
    if (!status) {
        json_t *list = json_array();
        for (size_t i = 0; i < count; i++)
            json_array_append_new(list, json_pack("{s:I,s:s,s:s,s:s,s:b,s:I}", "revision", (json_int_t)changes[i].id,
                                                  "at", changes[i].at, "who", changes[i].who, "why", changes[i].why,
                                                  "undone", changes[i].undone, "rows", (json_int_t)changes[i].rows));
        *result = json_pack("{s:I,s:o}", "revision", (json_int_t)session->derived.revision, "changes", list);
    }
    mst_arena_free(arena);
    return status;
}

static mst_status step_history(mst_session *session, const json_t *arguments, bool back, json_t **result,
                               mst_error *error) {
    static const char *const KNOWN[] = {NULL};
    const char *why = "", *who = mst_arg_text(arguments, "who", "");
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_change_begin(session, arguments, back ? "Undo" : "Redo", error);
    if (status) return status;
    status = back ? mst_file_undo(session->file, who, session->scratch, &why, error)
                  : mst_file_redo(session->file, who, session->scratch, &why, error);
    if (status) {
        mst_file_rollback(session->file);
        return status;
    }
    status = mst_change_finish(session, NULL, NULL, error);
    if (!status)
        *result = json_pack("{s:s,s:I,s:o}", back ? "undone" : "redone", why, "revision",
                            (json_int_t)session->derived.revision, "warnings", warnings_after(&session->derived));
    return status;
}
MST_OPERATION(mst_op_undo) { return step_history(session, arguments, true, result, error); }
MST_OPERATION(mst_op_redo) { return step_history(session, arguments, false, result, error); }
