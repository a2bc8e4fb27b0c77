/** @file src/operations/session.h  An open site and, lazily, what follows from its newest revision. */
#ifndef OPERATIONS_SESSION_H
#define OPERATIONS_SESSION_H
#include "merestone/drawing.h"
#include "merestone/estimate.h"
#include "merestone/exchange.h"
#include "merestone/ground.h"
#include "merestone/operations.h"
#include "merestone/setout.h"
#include "merestone/survey.h"
#include "merestone/works.h"
#include "site/file.h"

/** A step of the way of the data: not tried yet, there, or refused with its reason. */
typedef struct mst_step {
    bool tried;
    mst_error error; /**< status MST_OK when it is there */
} mst_step;

/** What follows from one snapshot of a site; everything lives in its arena. */
typedef struct mst_derived {
    mst_arena *arena;
    mst_site *site;
    int64_t revision;
    mst_step adjusting, grounding, designing, digging;
    mst_adjustment *adjustment;
    const char *unit_doubt; /**< which page seems to be in another unit than its header says; NULL if none */
    mst_ground *ground;
    mst_element *elements;
    size_t element_count;
    mst_earthwork_report *earthwork;
} mst_derived;

struct mst_session {
    mst_file *file;
    mst_derived derived;
    mst_progress progress; /**< of the operation under way, for whoever waits */
    mst_arena *scratch;    /**< for the operation under way; mst_operate empties it */
    struct mst_drag *drag; /**< of the pad that was dragged last, or NULL; see drag.h */
};

/** Brings the session's snapshot up to the file's revision. */
mst_status mst_session_refresh(mst_session *session, mst_error *error) MST_CHECKED;

/* Each computes once a revision, and repeats its refusal after that. */
mst_status mst_derive_adjustment(mst_derived *d, mst_error *error) MST_CHECKED;
mst_status mst_derive_ground(mst_derived *d, mst_error *error) MST_CHECKED;
mst_status mst_derive_elements(mst_derived *d, mst_error *error) MST_CHECKED;
mst_status mst_derive_earthwork(mst_derived *d, mst_error *error) MST_CHECKED;
/** Half of a 95 % interval from the readings' variance and that of the ground between the points (NaN where not known).
 */
double mst_half_interval(const mst_ground *ground, double readings, double between);
/** Variance of the difference of two levels on one ground from the readings, with what they share. */
mst_status mst_level_difference_variance(const mst_adjustment *adjustment, const mst_ground_level *a,
                                         const mst_ground_level *b, double *variance, mst_error *error) MST_CHECKED;
/** A rectangle a metre around the whole ground, for volumes over all of it. */
mst_status mst_ground_frame(const mst_ground *ground, mst_arena *arena, mst_shape *shape, mst_error *error) MST_CHECKED;
/** The contour interval for the range of levels: 4 to 12 contours, 1-2-5 steps, 0.05 m at least. */
double mst_contour_interval(const mst_ground *ground);

/** Begins a change with the caller's "who", "why" (or @p why) and "expected_revision". */
mst_status mst_change_begin(mst_session *session, const json_t *arguments, const char *why,
                            mst_error *error) MST_CHECKED;
/** Derives and publishes from the change in flight, commits it, and makes it the session's snapshot.
 * @param keep  called with the new state before the commit; a refusal rolls the change back; may be NULL */
typedef mst_status mst_change_check(mst_derived *changed, void *context, mst_error *error);
mst_status mst_change_finish(mst_session *session, mst_change_check *keep, void *context, mst_error *error) MST_CHECKED;

/** The stakes of every `stakes` page, a later page's stake replacing an earlier one's. */
mst_status mst_site_stakes(const mst_site *site, mst_arena *arena, mst_stake **stakes, size_t *count,
                           mst_error *error) MST_CHECKED;
/** The built points of a page; the page's gear says how well they are known where they do not. */
mst_status mst_page_built(const mst_site *site, const mst_page *page, mst_arena *arena, mst_built **built,
                          size_t *count, mst_error *error) MST_CHECKED;

/** The stakes fitted to the site and what sets them out, as the arguments ask. In the session's scratch. */
mst_status mst_derive_setout(mst_session *session, const json_t *arguments, mst_setout_sheet *sheet,
                             mst_error *error) MST_CHECKED;
/** The long section through the works as the arguments ask ("along" a feature, or "from" and "to"), and along a line
 * feature its cross sections ("spacing", "width"; @p count is 0 elsewhere). In the session's scratch.
 * @param compacted of the soil that counts along the line */
mst_status mst_derive_sections(mst_session *session, const json_t *arguments, const char **along,
                               mst_section *long_section, const mst_station **stations, size_t *count,
                               double *compacted, mst_error *error) MST_CHECKED;
/** The works put into the ground in their order. In the session's scratch. */
mst_status mst_derive_works(mst_session *session, mst_works **works, mst_error *error) MST_CHECKED;
/** The site's elements as they would be with one definition more, or in its namesake's place; @p definition NULL: as
 * they are. In the session's scratch. @retval MST_INVALID a definition that cannot be, with the key */
mst_status mst_elements_with(mst_session *session, const json_t *definition, mst_element **elements, size_t *count,
                             mst_error *error) MST_CHECKED;
/** An element that is not stored, from its definition; adjust first. @p element in @p arena */
mst_status mst_definition_read(mst_session *session, const json_t *definition, mst_arena *arena, mst_element *element,
                               mst_error *error) MST_CHECKED;
/** The faces that elements have the last word on, and how far the stripped ground stands above formation at their
 * corners (below 0: fill), for drawing. In the session's scratch. */
mst_status mst_works_faces_json(mst_session *session, const mst_element elements[], size_t count, json_t **faces,
                                mst_error *error) MST_CHECKED;
/** Where a low spot's water stands: its wet triangles as flat rings, and its shore as flat segments. */
mst_status mst_pond_json(const mst_ground *ground, const mst_low_spot *spot, mst_arena *arena, json_t *pond,
                         mst_error *error) MST_CHECKED;
/** Ways of water from places all over the ground, at most @p most. */
mst_status mst_ways_json(const mst_ground *ground, const mst_water *water, size_t most, mst_arena *arena, json_t **ways,
                         mst_error *error) MST_CHECKED;
/** The priced bill of the site as it stands. In the session's scratch. */
mst_status mst_derive_bill(mst_session *session, mst_bill *bill, mst_error *error) MST_CHECKED;
#endif
