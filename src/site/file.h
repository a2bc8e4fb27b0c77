/** @file src/site/file.h  The site file: an OGC GeoPackage 1.3 on SQLite, with its history.
 *
 * Every change is one transaction: begin, put or remove things, commit. Each stores who, when and why, and what the
 * rows were before and after, so that it can be undone and redone. Published layers (points, features, contours,
 * triangles) are rewritten inside the same transaction and marked as derived. A process killed at any moment leaves
 * the file as it was before the change in flight.
 *
 * The tables (file_schema.c says what each holds) are plain ones named site_...; readings are only ever added to, so
 * that taking a page out or undoing its import leaves every record as typed in the file. One caller at a time. */
#ifndef SITE_FILE_H
#define SITE_FILE_H
#include "merestone/site.h"

typedef struct mst_file mst_file;

/** Makes a new site file at revision 1, which no undo takes back.
 * @retval MST_INVALID the file exists already; MST_IO it cannot be written */
mst_status mst_file_create(const char *path, const char *title, const char *units, const char *who,
                           mst_error *error) MST_CHECKED;
/** Opens a site file. The caller closes it with mst_file_close.
 * @retval MST_NOT_FOUND no such file; MST_INVALID not a site file, damaged, or written by a newer version; MST_IO */
mst_status mst_file_open(const char *path, mst_file **file, mst_error *error) MST_CHECKED;
void mst_file_close(mst_file *file); /**< NULL is allowed; rolls back a change in flight */
const char *mst_file_path(const mst_file *file);

/** Reads the whole site as the file has it now (inside a change: with the change) into @p arena.
 * A stored page that can no longer be read is an error with its row. */
mst_status mst_file_load(mst_file *file, mst_arena *arena, mst_site **site, mst_error *error) MST_CHECKED;
/** The revision the file is at now. */
mst_status mst_file_revision(mst_file *file, int64_t *revision, mst_error *error) MST_CHECKED;

/** Begins a change (BEGIN IMMEDIATE; waits up to 5 s for another writer).
 * @param expected  the revision the caller has seen, or -1 when it does not matter
 * @param who       person or "" ; @param why one line for the history
 * @retval MST_CONFLICT  the file has moved on; the sentence says by whom and what; MST_IO locked */
mst_status mst_file_begin(mst_file *file, int64_t expected, const char *who, const char *why,
                          mst_error *error) MST_CHECKED;
/** Stores the change. One that altered no row makes no revision; one of whose steps failed in the file is taken back.
 * @retval MST_INVALID no change is under way, or a step of it failed; MST_IO. Not MST_OK: nothing was stored */
mst_status mst_file_commit(mst_file *file, mst_error *error) MST_CHECKED;
void mst_file_rollback(mst_file *file);

/* Inside a change. Each stores or replaces by name; texts are UTF-8. What is refused with MST_INVALID or MST_NOT_FOUND
 * because of its own content has altered nothing. */

/** Stores a page with its readings; its visit is made on demand.
 * @retval MST_INVALID  the visit has a page of this kind and name already; a row that cannot be read again */
mst_status mst_file_add_page(mst_file *file, const mst_page *page, mst_error *error) MST_CHECKED;
/** Appends one reading, typed as a CSV record under the page's own header, to page @p page_id. The page is read with
 * it, so it costs as much as reading the page. @retval MST_INVALID not one record, or the page cannot have it */
mst_status mst_file_add_reading(mst_file *file, int64_t page_id, const char *record, mst_error *error) MST_CHECKED;
/** Sets a reading aside with a reason, or takes it back in with @p reason NULL. The reading itself never changes. */
mst_status mst_file_set_aside(mst_file *file, int64_t reading_id, const char *reason, mst_error *error) MST_CHECKED;
mst_status mst_file_remove_page(mst_file *file, int64_t page_id,
                                mst_error *error) MST_CHECKED; /**< kept in the history */
mst_status mst_file_put_feature(mst_file *file, const mst_feature *feature, mst_error *error) MST_CHECKED;
mst_status mst_file_remove_feature(mst_file *file, const char *name, mst_error *error) MST_CHECKED;
mst_status mst_file_put_work(mst_file *file, const mst_work *work, mst_error *error) MST_CHECKED;
mst_status mst_file_remove_work(mst_file *file, const char *name, mst_error *error) MST_CHECKED;
mst_status mst_file_put_sheet(mst_file *file, const mst_sheet *sheet, mst_error *error) MST_CHECKED;
mst_status mst_file_put_gear(mst_file *file, const mst_gear *gear, mst_error *error) MST_CHECKED;
mst_status mst_file_put_setting(mst_file *file, const char *key, const char *value, mst_error *error) MST_CHECKED;

/** Undoes the newest change that stands, or redoes the newest undone one, as a change of its own revision. On its own
 * it is a whole change; inside a begun one that holds nothing else it is that change (so that it can be published with
 * it). What was undone stays in the history, but cannot be redone once another change has come after.
 * @retval MST_INVALID  another program has edited a row that this would overwrite
 * @param why  receives what was undone or redone, in @p arena. @retval MST_NO nothing to undo or redo */
mst_status mst_file_undo(mst_file *file, const char *who, mst_arena *arena, const char **why,
                         mst_error *error) MST_CHECKED;
mst_status mst_file_redo(mst_file *file, const char *who, mst_arena *arena, const char **why,
                         mst_error *error) MST_CHECKED;

typedef struct mst_change {
    int64_t id;     /**< the revision that it made */
    const char *at; /**< ISO 8601, UTC */
    const char *who, *why;
    bool undone;
    int64_t rows; /**< how many stored rows it touched */
} mst_change;
/** Every change, oldest first. */
mst_status mst_file_history(mst_file *file, mst_arena *arena, mst_change **changes, size_t *count,
                            mst_error *error) MST_CHECKED;

/* ---- derived layers that other programs read ---- */

/** A published vertex path: lines and true arcs. For an arc span `bulge` != 0, as in geometry.h. */
typedef struct mst_published_point {
    const char *name, *code;
    double easting, northing, elevation; /**< elevation NaN = none */
    double sd_plan_m, sd_height_m;
} mst_published_point;
typedef struct mst_published_path {
    const char *name, *code, *kind; /**< kind: line, area, spot */
    const double (
        *points)[4]; /**< easting, northing, elevation (NaN = none), bulge to the next; rings one after the other */
    const size_t
        *ring_sizes; /**< points in each ring; a ring of an area closes on itself without repeating its first point */
    size_t ring_count;
    bool closed;
    double length_m, area_m2; /**< NaN where it does not apply */
} mst_published_path;
typedef struct mst_published_contour {
    double level;
    bool closed;
    const double (*points)[2];
    size_t count;
} mst_published_contour;
typedef struct mst_published {
    const mst_published_point *points;
    size_t point_count;
    const mst_published_path *paths;
    size_t path_count;
    const mst_published_contour *contours;
    size_t contour_count;
    const double (*triangles)[3][3];
    size_t triangle_count; /**< corners as easting, northing, elevation */
} mst_published;
/** Rewrites the published layers; call between begin and commit (or on its own, then it is a transaction of its own
 * that makes no revision). Layers: `points` and `spots` (POINT), `lines` (COMPOUNDCURVE), `areas` (CURVEPOLYGON),
 * `contours` (LINESTRING), `triangles` (POLYGON), each described as derived, at which revision, with true extents. A
 * geometry has levels (Z) when all of its points have one; else it is plane, never at a made-up level.
 * @retval MST_INVALID  a place that is not finite, a line of one point ...; the layers stay as they were */
mst_status mst_file_publish(mst_file *file, const mst_published *published, mst_error *error) MST_CHECKED;
#endif
