/* Stakes onto the site, and proof of what was built. */
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

mst_status mst_derive_setout(mst_session *session, const json_t *arguments, mst_setout_sheet *sheet, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_stake *stakes;
    size_t count;
    mst_setout_options options = {0};
    mst_status status = mst_derive_adjustment(d, error);
    if (!status) status = mst_site_stakes(d->site, session->scratch, &stakes, &count, error);
    if (!status && count == 0)
        status = mst_fail(error, MST_NOT_FOUND, "The site has no stakes; take some in with: import FILE --as stakes");
    if (status) return status;
    bool site_frame = true;
    for (size_t p = 0; p < d->site->page_count; p++)
        if (d->site->pages[p].kind == MST_PAGE_STAKES) site_frame = site_frame && d->site->pages[p].site_frame;
    const char *frame = mst_arg_text(arguments, "frame", site_frame ? "site" : "own");
    options.fit.site_frame = strcmp(frame, "site") == 0;
    options.fit.origin = mst_arg_text(arguments, "origin", NULL);
    options.fit.direction = mst_arg_text(arguments, "direction", NULL);
    options.at = mst_arg_text(arguments, "at", NULL);
    options.backsight = mst_arg_text(arguments, "backsight", NULL);
    options.from = mst_arg_text(arguments, "from", NULL);
    options.to = mst_arg_text(arguments, "to", NULL);
    status = mst_arg_positive(arguments, "reach", &options.reach_m, error);
    if (!status) status = mst_arg_positive(arguments, "misfit", &options.fit.misfit_m, error);
    if (!status) status = mst_arg_positive(arguments, "tape-sd", &options.tape_sd_m, error);
    bool grounded = mst_derive_ground(d, NULL) == MST_OK;
    if (!status)
        status = mst_setout(stakes, count, d->adjustment, grounded ? d->ground : NULL, &options, session->scratch,
                            sheet, error);
    return status;
}

static json_t *fit_json(const mst_stake_fit *f) {
    json_t *residuals = json_array();
    for (size_t i = 0; i < f->common_count; i++)
        json_array_append_new(residuals, json_pack("{s:s,s:f,s:f}", "point", f->common[i], "de_m",
                                                   f->residuals[i].easting_m, "dn_m", f->residuals[i].northing_m));
    return json_pack("{s:f,s:f,s:f,s:f,s:f,s:o,s:s}", "shift_e_m", f->transform.e0_m, "shift_n_m", f->transform.n0_m,
                     "shift_h_m", f->height_shift_m, "turn_deg", f->transform.turn_rad * 180 / MST_PI, "scale",
                     f->transform.scale, "residuals", residuals, "sentence", f->sentence ? f->sentence : "");
}

static bool wants(const char *method, const char *name) {
    return !*method || strcmp(method, "all") == 0 || strcmp(method, name) == 0;
}

static json_t *methods_json(const mst_setout_line *l, const char *method) {
    json_t *methods = json_object(), *ties = json_array();
    for (size_t i = 0; i < l->tie_count; i++)
        json_array_append_new(ties,
                              json_pack("{s:s,s:f}", "from", l->ties[i].from, "distance_m", l->ties[i].distance_m));
    if (wants(method, "ties")) json_object_set(methods, "ties", ties);
    json_decref(ties);
    if (wants(method, "polar") && l->polar.at)
        json_object_set_new(methods, "polar",
                            json_pack("{s:s,s:s,s:f,s:f,s:f,s:o}", "at", l->polar.at, "backsight",
                                      l->polar.backsight ? l->polar.backsight : "", "circle_deg",
                                      l->polar.circle_rad * 180 / MST_PI, "bearing_deg",
                                      l->polar.bearing_rad * 180 / MST_PI, "distance_m", l->polar.distance_m, "sd_m",
                                      mst_json_number(l->polar.sd_m)));
    if (wants(method, "offsets") && l->offset.from)
        json_object_set_new(methods, "offsets",
                            json_pack("{s:s,s:s,s:f,s:f,s:o}", "from", l->offset.from, "to", l->offset.to, "chainage_m",
                                      l->offset.chainage_m, "offset_m", l->offset.offset_m, "sd_m",
                                      mst_json_number(l->offset.sd_m)));
    return methods;
}

/* As the sheet's own method gives it; a sheet of all has the ties' where there are some, else the next best. */
static double sd_by(const mst_setout_line *l, const char *method) {
    if (strcmp(method, "polar") == 0) return l->polar.sd_m;
    if (strcmp(method, "offsets") == 0) return l->offset.sd_m;
    if (strcmp(method, "ties") == 0 || isfinite(l->sd_m)) return l->sd_m;
    return isfinite(l->polar.sd_m) ? l->polar.sd_m : l->offset.sd_m;
}

static json_t *stake_json(const mst_setout_line *l, const char *method) {
    json_t *o = json_pack("{s:s,s:s,s:f,s:f}", "stake", l->stake, "code", l->code ? l->code : "", "easting_m",
                          l->easting_m, "northing_m", l->northing_m);
    json_object_set_new(o, "elevation_m", mst_json_number(l->elevation_m));
    json_object_set_new(o, "ground_m", mst_json_number(l->ground_m));
    json_object_set_new(o, "cut_m", mst_json_number(l->cut_m));
    json_object_set_new(o, "sd_m", mst_json_number(sd_by(l, method)));
    json_object_set_new(o, "methods", methods_json(l, method));
    json_object_set_new(o, "side", mst_json_text(l->side));
    json_object_set_new(o, "words", mst_json_text(l->words));
    json_object_set_new(o, "caution", mst_json_text(wants(method, "ties") ? l->caution : l->untaped_caution));
    return o;
}

MST_OPERATION(mst_op_setout) {
    static const char *const KNOWN[] = {"method", "frame", "origin", "direction", "at",      "backsight",
                                        "from",   "to",    "reach",  "misfit",    "tape-sd", NULL};
    mst_setout_sheet sheet;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    const char *method = mst_arg_text(arguments, "method", "all");
    if (!status && strcmp(method, "all") != 0 && strcmp(method, "ties") != 0 && strcmp(method, "polar") != 0 &&
        strcmp(method, "offsets") != 0 && strcmp(method, "grades") != 0)
        status = mst_fail(error, MST_INVALID, "A set-out is by ties, polar, offsets or grades, not '%.40s'.", method);
    sheet.fit.common_count = 0;
    if (!status) status = mst_derive_setout(session, arguments, &sheet, error);
    if (status == MST_NO && sheet.fit.common_count) /* it does not fit: by how much, and where */
        *result = json_pack("{s:s,s:o,s:[],s:[]}", "method", method, "fit", fit_json(&sheet.fit), "stakes", "order");
    if (status) return status;
    json_t *stakes = json_array(), *order = json_array();
    for (size_t i = 0; i < sheet.count; i++) {
        json_array_append_new(stakes, stake_json(&sheet.lines[i], method));
        json_array_append_new(order, json_string(sheet.order[i]));
    }
    *result =
        json_pack("{s:s,s:o,s:o,s:o}", "method", method, "fit", fit_json(&sheet.fit), "stakes", stakes, "order", order);
    return MST_OK;
}

/* The built points: from the text of a page, or from the site's newest `built` page. */
static mst_status built_page(mst_session *session, const json_t *arguments, const mst_page **page, mst_error *error) {
    const json_t *text = json_object_get(arguments, "text");
    if (json_is_string(text)) {
        mst_page *read = mst_arena_alloc(session->scratch, sizeof *read);
        if (!read) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the built points.");
        *page = read;
        mst_status status = mst_page_read(MST_PAGE_BUILT, mst_arg_text(arguments, "name", "built.csv"),
                                          json_string_value(text), json_string_length(text),
                                          mst_arg_text(arguments, "columns", NULL), session->scratch, read, error);
        read->gear = mst_arg_text(arguments, "gear", mst_gear_default(MST_PAGE_BUILT));
        return status ? status : mst_gear_named(session->derived.site, read->gear, read->name, error);
    }
    *page = mst_site_page(session->derived.site, MST_PAGE_BUILT, "");
    return *page ? MST_OK
                 : mst_fail(error, MST_NOT_FOUND, "There are no built points; give a file, or import one --as built.");
}

/* How near is near enough for this job: as asked, else as the site's settings say, else as the core takes it. */
static mst_status tolerance(const json_t *arguments, const mst_site *site, const char *key, double *value_m,
                            mst_error *error) {
    char setting[40];
    mst_error why = {0};
    snprintf(setting, sizeof setting, "tolerance %s", key);
    const char *kept = mst_site_setting(site, setting, "");
    if (*kept && !mst_arg_given(arguments, key) &&
        (mst_length_read(kept, MST_UNIT_M, value_m, &why) != MST_OK || !(*value_m > 0)))
        return mst_fail(error, MST_INVALID, "The setting '%s' is a length above 0 such as 25mm, not '%.40s'.", setting,
                        kept);
    return mst_arg_positive(arguments, key, value_m, error);
}

MST_OPERATION(mst_op_verify) {
    static const char *const KNOWN[] = {"text",   "name",  "columns", "gear",      "plan",   "height", "confidence",
                                        "search", "frame", "origin",  "direction", "misfit", NULL};
    static const char *const WORDS[] = {[MST_PASS] = "pass", [MST_FAIL] = "fail", [MST_CANNOT_TELL] = "cannot tell"};
    const mst_page *page = NULL;
    mst_built *built;
    mst_check *checks;
    mst_setout_sheet sheet;
    size_t built_count, count;
    mst_verify_options options = {0};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = tolerance(arguments, session->derived.site, "plan", &options.plan_m, error);
    if (!status) status = tolerance(arguments, session->derived.site, "height", &options.height_m, error);
    if (!status) status = mst_arg_positive(arguments, "search", &options.search_m, error);
    if (!status) status = mst_arg_number(arguments, "confidence", &options.confidence, error);
    if (mst_arg_given(arguments, "confidence") && options.confidence == 0) options.confidence = -1; /* 0: as usual */
    if (!status) status = built_page(session, arguments, &page, error);
    if (!status) status = mst_page_built(session->derived.site, page, session->scratch, &built, &built_count, error);
    if (!status) status = mst_derive_setout(session, arguments, &sheet, error);
    if (!status)
        status = mst_verify(built, built_count, sheet.lines, sheet.count, &options, session->scratch, &checks, &count,
                            error);
    if (status) return status;
    json_t *list = json_array();
    int tally[3] = {0};
    for (size_t i = 0; i < count; i++) {
        const mst_check *c = &checks[i];
        tally[c->verdict]++;
        json_t *o = json_pack("{s:s,s:s,s:s,s:s}", "point", c->point, "stake", c->stake ? c->stake : "", "verdict",
                              WORDS[c->verdict], "sentence", c->sentence);
        const struct {
            const char *key;
            double value;
        } figures[] = {{"de_m", c->de_m},
                       {"dn_m", c->dn_m},
                       {"dz_m", c->dz_m},
                       {"distance_m", c->distance_m},
                       {"tolerance_m", c->tolerance_m},
                       {"sd_m", c->sd_m},
                       {"height_tolerance_m", c->height_tolerance_m},
                       {"height_sd_m", c->height_sd_m},
                       {"plan_conformance", c->plan_conformance},
                       {"height_conformance", c->height_conformance}};
        for (size_t k = 0; k < sizeof figures / sizeof *figures; k++)
            json_object_set_new(o, figures[k].key, mst_json_number(figures[k].value));
        json_array_append_new(list, o);
    }
    *result = json_pack("{s:o,s:i,s:i,s:i}", "checks", list, "pass", tally[MST_PASS], "fail", tally[MST_FAIL],
                        "cannot_tell", tally[MST_CANNOT_TELL]);
    if (tally[MST_FAIL])
        return mst_fail_at(error, MST_NO, page->name, 0, 0, "%d of %zu points miss the tolerance.", tally[MST_FAIL],
                           count);
    return MST_OK;
}
