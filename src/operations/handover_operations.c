/* Sheets and files that leave the job. */
#include "operations/flows.h"
#include "operations/operation.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

/* What the sheet says beside the plan: from its definition, then from the site's settings. */
static mst_sheet_text sheet_text(const mst_site *site, const json_t *definition, const json_t *arguments) {
#define SAYS(key, fallback)                                                                                            \
    mst_arg_text(arguments, key, mst_arg_text(definition, key, mst_site_setting(site, key, fallback)))
    return (mst_sheet_text){.title = SAYS("sheet-title", "Site plan"),
                            .supplement = mst_site_setting(site, "title", ""),
                            .number = SAYS("number", ""),
                            .revision = SAYS("revision", "A"),
                            .revision_note = SAYS("revision-note", "First issue"),
                            .date = SAYS("date", ""),
                            .status = SAYS("status", "PRELIMINARY"),
                            .owner = SAYS("owner", ""),
                            .creator = SAYS("creator", ""),
                            .approved = SAYS("approved", ""),
                            .client = SAYS("client", ""),
                            .north = SAYS("north", ""),
                            .services = SAYS("services", ""),
                            .sheet = 1,
                            .sheets = 1};
#undef SAYS
}

static json_t *definition_of(const mst_site *site, const char *name) {
    for (size_t i = 0; i < site->sheet_count; i++)
        if (strcmp(site->sheets[i].name, name) == 0) return json_loads(site->sheets[i].definition, 0, NULL);
    return NULL;
}

static mst_status scale_of(const json_t *arguments, double *scale, mst_error *error) {
    const char *text = mst_arg_text(arguments, "scale", NULL);
    *scale = 0;
    if (text && strncmp(text, "1:", 2) == 0 && mst_number_read(text + 2, scale) && *scale > 0) return MST_OK;
    mst_status status = mst_arg_number(arguments, "scale", scale, NULL);
    if (status || *scale < 0 || (mst_arg_given(arguments, "scale") && *scale == 0))
        return mst_fail(error, MST_INVALID,
                        "A scale is written 200 or 1:200; leave it out for the largest usual one that fits.");
    return MST_OK;
}

/* ---- the sheet of sections ---- */

static mst_status draw_sections(mst_session *session, const json_t *arguments, const mst_drawing_options *options,
                                const mst_sheet_text *text, const char *output, json_t **result, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_section longitudinal;
    double exaggeration = 0;
    mst_sections_input in = {.long_section = &longitudinal, .text = *text};
    in.imperial = mst_site_imperial(d->site);
    mst_status status = mst_arg_number(arguments, "exaggeration", &exaggeration, error);
    if (!status)
        status = mst_derive_sections(session, arguments, &in.along, &longitudinal, &in.stations, &in.station_count,
                                     &in.compacted, error);
    if (status) return status;
    in.cautions = (const char *const *)d->earthwork->cautions, in.caution_count = d->earthwork->caution_count;
    status = mst_draw_sections(&in, options, exaggeration, output, error);
    if (!status)
        *result = json_pack("{s:s,s:s,s:I}", "file", output, "paper", options->paper, "stations",
                            (json_int_t)in.station_count);
    return status;
}

static mst_status look_of(const json_t *arguments, mst_ground_look *look, mst_error *error) {
    static const char *const LOOKS[] = {"none", "shade", "slopes", "levels", "doubt"};
    const char *name = mst_arg_text(arguments, "ground", LOOKS[0]);
    for (int i = 0; i < 5; i++)
        if (strcmp(name, LOOKS[i]) == 0) return *look = (mst_ground_look)i, MST_OK;
    return mst_fail(error, MST_INVALID, "The ground is drawn as none, shade, slopes, levels or doubt, not '%.40s'.",
                    name);
}

MST_OPERATION(mst_op_draw) {
    static const char *const KNOWN[] = {
        "along",         "spacing",  "width",  "exaggeration", "sheet",       "scale",    "paper",
        "output",        "portrait", "turn",   "contours",     "sheet-title", "number",   "revision",
        "revision-note", "date",     "status", "owner",        "creator",     "approved", "client",
        "north",         "services", "stakes", "point-names",  "ellipses",    "ground",   NULL};
    mst_derived *d = &session->derived;
    const char *output;
    double scale = 0, used = 0, turn = 0, interval = 0;
    mst_ground_look look = MST_LOOK_NONE;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "output", &output, error);
    if (!status) status = scale_of(arguments, &scale, error);
    if (!status) status = mst_arg_number(arguments, "turn", &turn, error);
    if (!status) status = mst_arg_length(arguments, "contours", &interval, error);
    if (!status) status = look_of(arguments, &look, error);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    const char *name = mst_arg_text(arguments, "sheet", "plan");
    json_t *definition = definition_of(d->site, name);
    if (!definition && strcmp(name, "plan") != 0 && strcmp(name, "sections") != 0)
        return mst_fail(error, MST_NOT_FOUND, "There is no sheet '%.60s'; a sheet is plan or sections.", name);
    mst_setout_sheet sheet;
    bool staked = mst_arg_flag(arguments, "stakes") &&
                  mst_derive_setout(session, json_object_get(arguments, "none"), &sheet, NULL) == MST_OK;
    bool dug = d->site->work_count && mst_derive_earthwork(d, NULL) == MST_OK;
    mst_drawing_input input = {.site = d->site,
                               .adjustment = d->adjustment,
                               .ground = mst_derive_ground(d, NULL) == MST_OK ? d->ground : NULL,
                               .earthwork = dug ? d->earthwork : NULL,
                               .elements = dug ? d->elements : NULL,
                               .element_count = dug ? d->element_count : 0,
                               .setout = staked ? &sheet : NULL,
                               .text = sheet_text(d->site, definition, arguments),
                               .contour_interval_m = interval,
                               .look = look,
                               .imperial = mst_site_imperial(d->site)};
    if (dug && strcmp(name, "sections") != 0) {
        const char **flows;
        if ((status = mst_flow_words(session, &flows, error))) {
            json_decref(definition);
            return status;
        }
        input.flows = (const char *const *)flows;
    }
    mst_drawing_options options = {.paper = mst_arg_text(arguments, "paper", mst_arg_text(definition, "paper", "A3")),
                                   .scale = scale,
                                   .north_up_turn_rad = turn * MST_PI / 180,
                                   .portrait = mst_arg_flag(arguments, "portrait"),
                                   .point_names = mst_arg_flag(arguments, "point-names"),
                                   .ellipses = mst_arg_flag(arguments, "ellipses")};
    if (strcmp(mst_arg_text(arguments, "sheet", "plan"), "sections") == 0) {
        status = draw_sections(session, arguments, &options, &input.text, output, result, error);
        json_decref(definition);
        return status;
    }
    status = mst_draw_plan(&input, &options, output, &used, error);
    if (!status) *result = json_pack("{s:s,s:s,s:f}", "file", output, "paper", options.paper, "scale", used);
    json_decref(definition);
    return status;
}

static const struct {
    const char *name;
    mst_format format;
    mst_status (*write)(const mst_handover *, const char *, mst_error *);
} WRITERS[] = {{"dxf", MST_FORMAT_DXF, mst_write_dxf},        {"geojson", MST_FORMAT_GEOJSON, mst_write_geojson},
               {"csv", MST_FORMAT_CSV, mst_write_points_csv}, {"landxml", MST_FORMAT_LANDXML, mst_write_landxml},
               {"gpx", MST_FORMAT_GPX, mst_write_gpx},        {"xlsx", MST_FORMAT_XLSX, mst_write_xlsx}};

static json_t *notes_of(const mst_handover *h, mst_format format, mst_arena *arena) {
    json_t *list = json_array();
    const char **notes;
    size_t count;
    if (mst_handover_notes(h, format, arena, &notes, &count, NULL) == MST_OK)
        for (size_t i = 0; i < count; i++) json_array_append_new(list, json_string(notes[i]));
    return list;
}

MST_OPERATION(mst_op_export) {
    static const char *const KNOWN[] = {"to", "output", "contours", "date", NULL};
    mst_derived *d = &session->derived;
    const char *to, *output;
    double interval = 0;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_required(arguments, "to", &to, error);
    if (!status) status = mst_arg_required(arguments, "output", &output, error);
    if (!status) status = mst_arg_length(arguments, "contours", &interval, error);
    if (!status) status = mst_derive_adjustment(d, error);
    if (status) return status;
    size_t w = 0, n = sizeof WRITERS / sizeof *WRITERS;
    while (w < n && strcmp(WRITERS[w].name, to) != 0) w++;
    if (w == n)
        return mst_fail(error, MST_INVALID,
                        "A site is exported to dxf, geojson, csv, landxml, gpx or xlsx, not '%.40s'.", to);
    const char *date = mst_arg_text(arguments, "date", "");
    mst_handover h = {.site = d->site,
                      .adjustment = d->adjustment,
                      .written = strlen(date) == 10 ? mst_arena_printf(session->scratch, "%sT00:00:00", date) : NULL};
    mst_contour *contours;
    mst_setout_sheet sheet;
    mst_bill bill;
    if (mst_derive_ground(d, NULL) == MST_OK) {
        h.ground = d->ground;
        if (mst_ground_contours(d->ground, interval > 0 ? interval : mst_contour_interval(d->ground), session->scratch,
                                &contours, &h.contour_count, NULL) == MST_OK)
            h.contours = contours;
        else h.contour_count = 0;
    }
    if (mst_derive_setout(session, arguments, &sheet, NULL) == MST_OK) h.setout = &sheet;
    if (strcmp(to, "xlsx") == 0) {
        status = mst_derive_bill(session, &bill, error);
        if (status) return status;
        h.bill = &bill;
    }
    status = WRITERS[w].write(&h, output, error);
    if (!status)
        *result = json_pack("{s:s,s:s,s:o}", "file", output, "to", to, "notes",
                            notes_of(&h, WRITERS[w].format, session->scratch));
    return status;
}
