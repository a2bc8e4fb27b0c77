/* The named operations. The command line, the web server and the phone know no others. */
#include "operations/operation.h"
#include "operations/words_in_feet.h"
#include <string.h>

static const mst_operation TABLE[] = {
    {"new", "make a site file", MST_NEEDS_FILES, false, mst_op_new},
    {"import", "take a field page in: all rows or none", MST_NEEDS_FILES, true, mst_op_import},
    {"cloud", "thin a scan and take its points in as a page", MST_NEEDS_FILES, true, mst_op_cloud},
    {"add-reading", "add one reading to a page", MST_NEEDS_FILES, true, mst_op_add_reading},
    {"set-aside", "let a reading not count, with a reason, or take it back in", MST_NEEDS_FILES, true,
     mst_op_set_aside},
    {"remove-page", "withdraw a field page; its readings stay in the history", MST_NEEDS_FILES, true,
     mst_op_remove_page},
    {"put-feature", "draw or change a feature", MST_NEEDS_FILES, true, mst_op_put_feature},
    {"remove-feature", "remove a feature", MST_NEEDS_FILES, true, mst_op_remove_feature},
    {"put-setting", "set the title, units, currency, soil and so on", MST_NEEDS_FILES, true, mst_op_put_setting},
    {"put-gear", "name a gear of your own and how far it can be trusted", MST_NEEDS_FILES, true, mst_op_put_gear},
    {"gear", "the gear that a page can name", MST_NEEDS_CORE, false, mst_op_gear},
    {"site", "everything that the page shows", MST_NEEDS_CORE, false, mst_op_site},
    {"adjust", "adjust everything: points, residuals, suspects, undetermined points", MST_NEEDS_CORE, false,
     mst_op_adjust},
    {"traverse", "a traverse by the classic hand method, with its misclosure", MST_NEEDS_CORE, false, mst_op_traverse},
    {"levels", "a level book by the classic hand method, with its misclosure", MST_NEEDS_CORE, false, mst_op_levels},
    {"measure", "lengths and areas of one feature", MST_NEEDS_CORE, false, mst_op_measure},
    {"rounds", "rounds of angles reduced: means of faces, collimation and index error", MST_NEEDS_CORE, false,
     mst_op_rounds},
    {"two-peg", "how far a level's line of sight is off", MST_NEEDS_CORE, false, mst_op_two_peg},
    {"fit-visits", "one visit's coordinates laid on another's, with what is left at each point", MST_NEEDS_CORE, false,
     mst_op_fit_visits},
    {"plan-visit", "expected precision of a planned visit, and what to add to it", MST_NEEDS_CORE, false,
     mst_op_plan_visit},
    {"next", "the reading that would sharpen a feature most", MST_NEEDS_CORE, false, mst_op_next},
    {"ground", "the ground model's figures", MST_NEEDS_CORE, false, mst_op_ground},
    {"elevation", "the ground's level at a place", MST_NEEDS_CORE, false, mst_op_elevation},
    {"contours", "contours as GeoJSON or DXF", MST_NEEDS_CORE, false, mst_op_contours},
    {"profile", "a section through the ground", MST_NEEDS_CORE, false, mst_op_profile},
    {"drain", "falls, low spots, water to buildings, where it leaves", MST_NEEDS_CORE, false, mst_op_drain},
    {"works", "list the design elements, or take them from a file", MST_NEEDS_FILES, true, mst_op_works},
    {"put-work", "add or change one design element", MST_NEEDS_FILES, true, mst_op_put_work},
    {"remove-work", "remove a design element", MST_NEEDS_FILES, true, mst_op_remove_work},
    {"volume", "cut and fill", MST_NEEDS_CORE, false, mst_op_volume},
    {"preview-volume", "cut and fill of an element that is not stored", MST_NEEDS_CORE, false, mst_op_preview_volume},
    {"balance", "the level at which cut meets fill", MST_NEEDS_CORE, false, mst_op_balance},
    {"grade", "the cheapest levels that meet all wishes, kept as an element with apply", MST_NEEDS_CORE, true,
     mst_op_grade},
    {"against", "cut and fill against a surface out of a LandXML file", MST_NEEDS_FILES, false, mst_op_against},
    {"haul", "which cut feeds which fill", MST_NEEDS_CORE, false, mst_op_haul},
    {"sections", "long and cross sections through the works", MST_NEEDS_CORE, false, mst_op_sections},
    {"takeoff", "quantities", MST_NEEDS_CORE, false, mst_op_takeoff},
    {"estimate", "priced bill with its range", MST_NEEDS_CORE, false, mst_op_estimate},
    {"draw", "a sheet true to scale", MST_NEEDS_FILES | MST_NEEDS_DRAWING, false, mst_op_draw},
    {"export", "a file that others open", MST_NEEDS_FILES, false, mst_op_export},
    {"setout", "a set-out sheet", MST_NEEDS_CORE, false, mst_op_setout},
    {"verify", "built against design", MST_NEEDS_CORE, false, mst_op_verify},
    {"fall", "the fall from one point to another, and whether it is proven", MST_NEEDS_CORE, false, mst_op_fall},
    {"history", "every change with who, when and why", MST_NEEDS_FILES, false, mst_op_history},
    {"undo", "undo the newest change", MST_NEEDS_FILES, true, mst_op_undo},
    {"redo", "redo the newest undone change", MST_NEEDS_FILES, true, mst_op_redo},
};

const mst_operation *mst_operations(size_t *count) {
    *count = sizeof TABLE / sizeof *TABLE;
    return TABLE;
}

const mst_operation *mst_operation_named(const char *name) {
    for (size_t i = 0; i < sizeof TABLE / sizeof *TABLE; i++)
        if (strcmp(TABLE[i].name, name) == 0) return &TABLE[i];
    return NULL;
}

mst_status mst_operate(mst_session *session, const char *name, const json_t *arguments, json_t **result,
                       mst_error *error) {
    *result = NULL;
    const mst_operation *operation = mst_operation_named(name);
    if (!operation) return mst_fail(error, MST_NOT_FOUND, "There is no operation '%.60s'.", name);
    if (!session && operation->run != mst_op_new) return mst_fail(error, MST_INVALID, "'%s' needs a site.", name);
    if (!json_is_object(arguments))
        return mst_fail(error, MST_INVALID, "The arguments of '%s' are a JSON object.", name);
    if (session) {
        mst_status status = mst_session_refresh(session, error);
        if (status) return status;
    }
    mst_arena *scratch = session ? session->scratch = mst_arena_new() : NULL;
    if (session && !scratch) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for '%s'.", name);
    mst_error why = {0};
    mst_status status = operation->run(session, arguments, result, &why);
    if (session && session->derived.site && mst_site_imperial(session->derived.site)) {
        mst_error_in_feet(&why);
        if (*result && !mst_answer_in_feet(*result)) status = mst_fail(&why, MST_NO_MEMORY, "Memory is short.");
    }
    if (status && error) *error = why;
    mst_arena_free(scratch);
    if (session) session->scratch = NULL;
    if (status && status != MST_NO && *result) {
        json_decref(*result);
        *result = NULL;
    }
    return status;
}
