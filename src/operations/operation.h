/** @file src/operations/operation.h  The operations by group, for the table. Each has the type of mst_operation.run. */
#ifndef OPERATIONS_OPERATION_H
#define OPERATIONS_OPERATION_H
#include "operations/arguments.h"
#include "operations/session.h"

#define MST_OPERATION(name)                                                                                            \
    mst_status name(mst_session *session, const json_t *arguments, json_t **result, mst_error *error)
/* the site and its history */
MST_OPERATION(mst_op_new);
MST_OPERATION(mst_op_import);
MST_OPERATION(mst_op_cloud);
MST_OPERATION(mst_op_add_reading);
MST_OPERATION(mst_op_set_aside);
MST_OPERATION(mst_op_remove_page);
MST_OPERATION(mst_op_put_feature);
MST_OPERATION(mst_op_remove_feature);
MST_OPERATION(mst_op_put_setting);
MST_OPERATION(mst_op_put_gear);
MST_OPERATION(mst_op_gear);
MST_OPERATION(mst_op_history);
MST_OPERATION(mst_op_undo);
MST_OPERATION(mst_op_redo);
MST_OPERATION(mst_op_site);
/* the survey */
MST_OPERATION(mst_op_adjust);
MST_OPERATION(mst_op_traverse);
MST_OPERATION(mst_op_levels);
MST_OPERATION(mst_op_measure);
MST_OPERATION(mst_op_rounds);
MST_OPERATION(mst_op_two_peg);
MST_OPERATION(mst_op_fit_visits);
MST_OPERATION(mst_op_plan_visit);
MST_OPERATION(mst_op_next);
/* the ground */
MST_OPERATION(mst_op_ground);
MST_OPERATION(mst_op_elevation);
MST_OPERATION(mst_op_contours);
MST_OPERATION(mst_op_profile);
MST_OPERATION(mst_op_drain);
/* the works */
MST_OPERATION(mst_op_works);
MST_OPERATION(mst_op_put_work);
MST_OPERATION(mst_op_remove_work);
MST_OPERATION(mst_op_volume);
MST_OPERATION(mst_op_preview_volume);
MST_OPERATION(mst_op_balance);
MST_OPERATION(mst_op_grade);
MST_OPERATION(mst_op_against);
MST_OPERATION(mst_op_haul);
MST_OPERATION(mst_op_sections);
/* quantities, sheets, files, stakes */
MST_OPERATION(mst_op_takeoff);
MST_OPERATION(mst_op_estimate);
MST_OPERATION(mst_op_draw);
MST_OPERATION(mst_op_export);
MST_OPERATION(mst_op_setout);
MST_OPERATION(mst_op_verify);
MST_OPERATION(mst_op_fall);

/** Where a section runs: along a feature ("along"), or straight "from" E,N "to" E,N. */
mst_status mst_arg_path(const json_t *arguments, mst_derived *d, mst_arena *arena, mst_path *path, mst_error *error);
/** Mean, lowest and highest level over an area feature, with its mean fall. @retval MST_NO outside the ground */
mst_status mst_level_over(mst_session *session, const char *name, json_t **result, mst_error *error) MST_CHECKED;
/** Adds to the ground's vertices and triangles what a view colours them by: "slope_percent", "fall_bearing_deg",
 * "shade" and "slope_band" (one a triangle), "slope_bands_percent" (upper ends), "tint_levels_m" (ends of the level
 * tints). */
void mst_view_add_faces(mst_session *session, json_t *ground);
/** Refuses a setting that nothing reads, and a value that its reader cannot read. An empty value takes it back. */
mst_status mst_setting_check(const mst_site *site, const char *key, const char *value, mst_error *error) MST_CHECKED;
/** A fall above 0 from "1:60", "1.7 %" or "1.7". */
bool mst_fall_read(const char *text, double *percent);
/** The gear of that name, the site's own or a preset. @retval MST_NOT_FOUND with the names that there are, at @p page
 */
mst_status mst_gear_named(const mst_site *site, const char *name, const char *page, mst_error *error) MST_CHECKED;
/** The built points' page: from "text", or the site's newest `built` page. @retval MST_NOT_FOUND neither */
mst_status mst_built_page(mst_session *session, const json_t *arguments, const mst_page **page,
                          mst_error *error) MST_CHECKED;
/** The page of that kind and name in the site, or the newest of its kind when @p name is "". NULL if none. */
const mst_page *mst_site_page(const mst_site *site, mst_page_kind kind, const char *name);
#endif
