/* The layers that other programs read: rewritten whole, each with its true extent and the revision it is derived at. */
#include "site/file_sql.h"
#include "site/geopackage.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LAYERS = 6 };
static const char *const LAYER_NAMES[LAYERS] = {"points", "spots", "lines", "areas", "contours", "triangles"};
#define LAYER_LIST "('points', 'spots', 'lines', 'areas', 'contours', 'triangles')"

/* One layer while it is written: the blob of the row at hand, and what the rows cover. */
typedef struct layer {
    mst_file *file;
    mst_error *error;
    mst_text blob;
    mst_extent extent;
    int64_t fid;
} layer;

static mst_status put(layer *at, const char *sql, const mst_cell cells[], size_t count) {
    mst_cell all[8] = {mst_cell_integer(++at->fid), mst_cell_blob(&at->blob)};
    if (count) memcpy(all + 2, cells, count * sizeof *cells);
    if (at->blob.failed) return mst_file_no_memory(at->file, at->error);
    mst_status status = mst_sql_run(at->file, sql, all, count + 2, at->error);
    at->blob.length = 0;
    return status;
}

static mst_status odd(const layer *at, const char *what, const char *name) {
    return mst_fail_at(at->error, MST_INVALID, at->file->path, 0, 0,
                       "The %s '%s' cannot be published: it has no finite place or too few points.", what, name);
}

/* ---- rows ---- */

static mst_status write_points(layer *at, const mst_published *p) {
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->point_count; i++) {
        const mst_published_point *point = &p->points[i];
        if (!isfinite(point->easting) || !isfinite(point->northing)) return odd(at, "point", point->name);
        mst_blob_point(&at->blob, MST_SRS_PLANE, point->easting, point->northing, point->elevation);
        mst_extent_add(&at->extent, point->easting, point->northing);
        status = put(at,
                     "INSERT INTO points (fid, geom, name, code, elevation_m, sd_plan_m, sd_height_m) VALUES (?1, ?2, "
                     "?3, ?4, ?5, ?6, ?7)",
                     MST_CELLS(mst_cell_text(point->name), mst_cell_text(point->code), mst_cell_real(point->elevation),
                               mst_cell_real(point->sd_plan_m), mst_cell_real(point->sd_height_m)));
    }
    return status;
}

enum { RINGS_MAX = 256 };

/* Splits a path into its rings. @return false when one of them has no place on paper. */
static bool rings_of(const mst_published_path *path, size_t least, mst_ring rings[RINGS_MAX]) {
    const double(*next)[4] = path->points;
    if (path->ring_count == 0 || path->ring_count > RINGS_MAX) return false;
    for (size_t r = 0; r < path->ring_count; r++) {
        rings[r] = (mst_ring){next, path->ring_sizes[r], path->closed};
        if (rings[r].count < least) return false;
        for (size_t i = 0; i < rings[r].count; i++)
            if (!isfinite(next[i][0]) || !isfinite(next[i][1]) || !isfinite(next[i][3])) return false;
        next += rings[r].count;
    }
    return true;
}

static bool is_kind(const mst_published_path *path, const char *kind) { return strcmp(path->kind, kind) == 0; }

static mst_status write_lines(layer *at, const mst_published *p) {
    mst_ring rings[RINGS_MAX];
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->path_count; i++) {
        const mst_published_path *path = &p->paths[i];
        if (!is_kind(path, "line")) continue;
        if (!rings_of(path, 2, rings)) return odd(at, "line", path->name);
        for (size_t r = 0; !status && r < path->ring_count; r++) {
            mst_blob_curve(&at->blob, MST_SRS_PLANE, &rings[r], &at->extent);
            status =
                put(at, "INSERT INTO lines (fid, geom, name, code, kind, length_m) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                    MST_CELLS(mst_cell_text(path->name), mst_cell_text(path->code), mst_cell_text(path->kind),
                              mst_cell_real(path->length_m)));
        }
    }
    return status;
}

static bool has_arc(const mst_ring *ring) {
    for (size_t i = 0; i < ring->count; i++)
        if (ring->points[i][3] != 0) return true;
    return false;
}

static mst_status write_areas(layer *at, const mst_published *p) {
    mst_ring rings[RINGS_MAX];
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->path_count; i++) {
        const mst_published_path *path = &p->paths[i];
        if (!is_kind(path, "area")) continue;
        if (!path->closed || !rings_of(path, 2, rings)) return odd(at, "area", path->name);
        for (size_t r = 0; r < path->ring_count; r++)
            if (rings[r].count < 3 && !has_arc(&rings[r]))
                return odd(at, "area", path->name); /* two points make a circle, not a polygon */
        mst_blob_area(&at->blob, MST_SRS_PLANE, rings, path->ring_count, &at->extent);
        status = put(
            at,
            "INSERT INTO areas (fid, geom, name, code, kind, length_m, area_m2) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
            MST_CELLS(mst_cell_text(path->name), mst_cell_text(path->code), mst_cell_text(path->kind),
                      mst_cell_real(path->length_m), mst_cell_real(path->area_m2)));
    }
    return status;
}

/* A spot feature is its points, each a row. */
static mst_status write_spots(layer *at, const mst_published *p) {
    mst_ring rings[RINGS_MAX];
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->path_count; i++) {
        const mst_published_path *path = &p->paths[i];
        if (!is_kind(path, "spot")) continue;
        if (!rings_of(path, 1, rings)) return odd(at, "spot", path->name);
        for (size_t r = 0; r < path->ring_count; r++)
            for (size_t k = 0; !status && k < rings[r].count; k++) {
                const double *v = rings[r].points[k];
                mst_blob_point(&at->blob, MST_SRS_PLANE, v[0], v[1], v[2]);
                mst_extent_add(&at->extent, v[0], v[1]);
                status = put(at, "INSERT INTO spots (fid, geom, name, code, elevation_m) VALUES (?1, ?2, ?3, ?4, ?5)",
                             MST_CELLS(mst_cell_text(path->name), mst_cell_text(path->code), mst_cell_real(v[2])));
            }
    }
    return status;
}

static mst_status write_contours(layer *at, const mst_published *p) {
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->contour_count; i++) {
        const mst_published_contour *c = &p->contours[i];
        bool finite = c->count >= 2 && isfinite(c->level);
        for (size_t k = 0; finite && k < c->count; k++) finite = isfinite(c->points[k][0]) && isfinite(c->points[k][1]);
        if (!finite) return odd(at, "contour", "");
        mst_blob_contour(&at->blob, MST_SRS_PLANE, c->points, c->count, c->closed, c->level, &at->extent);
        status = put(at, "INSERT INTO contours (fid, geom, elevation_m, closed) VALUES (?1, ?2, ?3, ?4)",
                     MST_CELLS(mst_cell_real(c->level), mst_cell_integer(c->closed)));
    }
    return status;
}

static mst_status write_triangles(layer *at, const mst_published *p) {
    mst_status status = MST_OK;
    for (size_t i = 0; !status && i < p->triangle_count; i++) {
        for (int k = 0; k < 9; k++)
            if (!isfinite(p->triangles[i][k / 3][k % 3])) return odd(at, "triangle", "");
        mst_blob_triangle(&at->blob, MST_SRS_PLANE, p->triangles[i], &at->extent);
        status = put(at, "INSERT INTO triangles (fid, geom) VALUES (?1, ?2)", NULL, 0);
    }
    return status;
}

/* ---- layers ---- */

/* The first trigger on a layer, as a statement that drops it; NULL when there is none. */
static mst_status next_trigger(mst_file *file, char **drop, mst_error *error) {
    sqlite3_stmt *query;
    mst_status status = mst_sql_open(
        file, "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN " LAYER_LIST " LIMIT 1", NULL, 0,
        &query, error);
    *drop = NULL;
    if (status) return status;
    bool short_of_memory = false;
    while (mst_sql_next(file, query, &status, error)) {
        const char *name = (const char *)sqlite3_column_text(query, 0);
        *drop = name ? sqlite3_mprintf("DROP TRIGGER \"%w\"", name) : NULL;
        short_of_memory = !*drop;
    }
    return short_of_memory ? mst_file_no_memory(file, error) : status;
}

/* Drops the index and the row count that another program may have hung on a layer: their triggers call functions that
 * only that program has, so nothing could be published any more. It makes them again when it needs them. */
static mst_status forget_helpers(mst_file *file, mst_error *error) {
    for (;;) {
        char *drop;
        mst_status status = next_trigger(file, &drop, error);
        if (!status && !drop) break;
        if (!status) status = mst_sql_script(file, drop, error);
        sqlite3_free(drop);
        if (status) return status;
    }
    int64_t counted = 0;
    mst_status status =
        mst_sql_integer(file, "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'gpkg_ogr_contents'", NULL,
                        0, &counted, error);
    if (!status && counted)
        status = mst_sql_script(file, "DELETE FROM gpkg_ogr_contents WHERE table_name IN " LAYER_LIST, error);
    for (int i = 0; !status && i < LAYERS; i++) {
        char name[32], drop[64];
        int64_t indexed = 0;
        snprintf(name, sizeof name, "rtree_%s_geom", LAYER_NAMES[i]);
        snprintf(drop, sizeof drop, "DROP TABLE %s", name);
        status = mst_sql_integer(file, "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?1",
                                 MST_CELLS(mst_cell_text(name)), &indexed, error);
        if (!status && indexed) status = mst_sql_script(file, drop, error);
    }
    if (status) return status;
    return mst_sql_run(
        file, "DELETE FROM gpkg_extensions WHERE extension_name = 'gpkg_rtree_index' AND table_name IN " LAYER_LIST,
        NULL, 0, error);
}

static mst_status describe(layer *at, const char *name, int64_t revision) {
    char text[80];
    snprintf(text, sizeof text, "derived at revision %lld; do not edit", (long long)revision);
    const mst_extent *e = &at->extent;
    mst_cell none = mst_cell_text(NULL);
    return mst_sql_run(at->file,
                       "UPDATE gpkg_contents SET description = ?2, min_x = ?3, min_y = ?4, max_x = ?5, max_y = ?6,"
                       " last_change = strftime('%Y-%m-%dT%H:%M:%fZ','now') WHERE table_name = ?1",
                       MST_CELLS(mst_cell_text(name), mst_cell_text(text), e->any ? mst_cell_real(e->min_e) : none,
                                 e->any ? mst_cell_real(e->min_n) : none, e->any ? mst_cell_real(e->max_e) : none,
                                 e->any ? mst_cell_real(e->max_n) : none),
                       at->error);
}

static mst_status write_layers(mst_file *file, const mst_published *published, int64_t revision, mst_error *error) {
    static mst_status (*const WRITE[LAYERS])(layer *, const mst_published *) = {
        write_points, write_spots, write_lines, write_areas, write_contours, write_triangles};
    layer at = {.file = file, .error = error};
    mst_status status = mst_sql_script(file,
                                       "DELETE FROM points; DELETE FROM spots; DELETE FROM lines; DELETE FROM areas;"
                                       "DELETE FROM contours; DELETE FROM triangles;",
                                       error);
    for (int i = 0; !status && i < LAYERS; i++) {
        at.fid = 0;
        at.extent = (mst_extent){0};
        status = WRITE[i](&at, published);
        if (!status) status = describe(&at, LAYER_NAMES[i], revision);
    }
    mst_text_free(&at.blob);
    return status;
}

/* A change that has touched nothing yet makes no revision, so the layers are those of the one before. */
static mst_status derived_at(mst_file *file, int64_t *revision, mst_error *error) {
    bool makes_one = file->change && file->rows > 0;
    return mst_sql_integer(file, "SELECT max(id) FROM site_change WHERE id <> ?1",
                           MST_CELLS(mst_cell_integer(makes_one ? 0 : file->change)), revision, error);
}

static mst_status publish(mst_file *file, const mst_published *published, mst_error *error) {
    int64_t revision = 0;
    mst_status status = derived_at(file, &revision, error);
    if (!status) status = forget_helpers(file, error);
    if (!status) status = write_layers(file, published, revision, error);
    if (status && file->change) file->spoiled = true;
    return status;
}

mst_status mst_file_publish(mst_file *file, const mst_published *published, mst_error *error) {
    if (file->change) return publish(file, published, error);
    mst_status status = mst_sql_script(file, "BEGIN IMMEDIATE", error);
    if (status) return status;
    status = publish(file, published, error);
    if (!status) status = mst_sql_script(file, "COMMIT", error);
    if (status) mst_file_rollback(file);
    return status;
}
