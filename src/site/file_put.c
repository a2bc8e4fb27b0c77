/* What goes into a site file: pages, readings, features, works, sheets, gear, settings. Everything is checked before
 * the first row is stored. */
#include "site/file_rows.h"
#include <stdio.h>
#include <string.h>

static mst_status no_change(const mst_file *file, mst_error *error) {
    return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                       "The site can only be altered inside a change; begin one first.");
}

static mst_status need_name(const mst_file *file, const char *name, const char *what, mst_error *error) {
    if (name && *name) return MST_OK;
    return mst_fail_at(error, MST_INVALID, file->path, 0, 0, "A %s needs a name.", what);
}

/* ---- visits and pages ---- */

/* The visit's id, made on demand; a page of no visit has none. */
static mst_status visit_of(mst_file *file, const char *name, mst_cell *id, mst_error *error) {
    int64_t found = 0;
    *id = mst_cell_text(NULL);
    if (!name || !*name) return MST_OK;
    mst_status status = mst_sql_integer(file, "SELECT id FROM site_visit WHERE name = ?1",
                                        MST_CELLS(mst_cell_text(name)), &found, error);
    if (!status && !found) status = mst_row_put(file, MST_TABLE_VISIT, &found, MST_CELLS(mst_cell_text(name)), error);
    *id = mst_cell_integer(found);
    return status;
}

/* The same page twice in a visit would count every reading of it twice. */
static mst_status check_new(mst_file *file, const mst_page *page, mst_error *error) {
    int64_t there = 0;
    mst_status status =
        mst_sql_integer(file,
                        "SELECT p.id FROM site_page p LEFT JOIN site_visit v ON v.id = p.visit"
                        " WHERE p.name = ?1 AND p.kind = ?2 AND ifnull(v.name, '') = ?3 AND NOT p.withdrawn",
                        MST_CELLS(mst_cell_text(page->name), mst_cell_text(mst_page_kind_name(page->kind)),
                                  mst_cell_text(page->visit ? page->visit : "")),
                        &there, error);
    if (status || !there) return status;
    return mst_fail_at(
        error, MST_INVALID, page->name, 0, 0,
        "The visit '%s' has a %s page of this name already; remove that one first, or give this one another name.",
        page->visit ? page->visit : "", mst_page_kind_name(page->kind));
}

/* A page that cannot be read again would close the whole site, so it is read again before it is stored. */
static mst_status check_rereads(const mst_file *file, const mst_page *page, mst_error *error) {
    mst_arena *arena = mst_arena_new();
    mst_row *rows = arena ? mst_arena_array(arena, page->row_count, sizeof *rows) : NULL;
    mst_status status = rows ? MST_OK : mst_file_no_memory(file, error);
    if (!status) {
        mst_page copy = *page;
        if (page->row_count) memcpy(rows, page->rows, page->row_count * sizeof *rows);
        copy.rows = rows;
        status = mst_page_reread(&copy, arena, error);
    }
    mst_arena_free(arena);
    return status;
}

static mst_status store_reading(mst_file *file, int64_t page, int line, const char *record, mst_error *error) {
    file->rows++;
    file->touched |= 1u << MST_TABLE_READING;
    return mst_sql_run(file, "INSERT INTO site_reading (page, line, record, change) VALUES (?1, ?2, ?3, ?4)",
                       MST_CELLS(mst_cell_integer(page), mst_cell_integer(line), mst_cell_text(record),
                                 mst_cell_integer(file->change)),
                       error);
}

static mst_status store_page(mst_file *file, const mst_page *page, int64_t *id, mst_error *error) {
    mst_cell visit;
    mst_status status = visit_of(file, page->visit, &visit, error);
    if (status) return status;
    return mst_row_put(file, MST_TABLE_PAGE, id,
                       MST_CELLS(mst_cell_text(mst_page_kind_name(page->kind)), mst_cell_text(page->name), visit,
                                 mst_cell_text(page->gear ? page->gear : ""), mst_cell_integer(page->site_frame),
                                 mst_cell_text(page->header), mst_cell_text(page->notes ? page->notes : ""),
                                 mst_cell_integer(0)),
                       error);
}

mst_status mst_file_add_page(mst_file *file, const mst_page *page, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, page->name, "page", error);
    if (!status) status = check_new(file, page, error);
    if (!status) status = check_rereads(file, page, error);
    int64_t id = 0;
    if (!status) status = store_page(file, page, &id, error);
    for (size_t i = 0; !status && i < page->row_count; i++) {
        status = store_reading(file, id, page->rows[i].line, page->rows[i].raw, error);
        if (!status && page->rows[i].set_aside) {
            int64_t reading = sqlite3_last_insert_rowid(file->db);
            status = mst_row_put(file, MST_TABLE_SET_ASIDE, &reading, MST_CELLS(mst_cell_text(page->rows[i].set_aside)),
                                 error);
        }
    }
    return status;
}

static mst_status no_page(const mst_file *file, int64_t id, mst_error *error) {
    return mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "The site has no page with the number %lld.",
                       (long long)id);
}

mst_status mst_file_remove_page(mst_file *file, int64_t page_id, mst_error *error) {
    if (!file->change) return no_change(file, error);
    int64_t there = 0;
    mst_status status = mst_sql_integer(file, "SELECT id FROM site_page WHERE id = ?1 AND NOT withdrawn",
                                        MST_CELLS(mst_cell_integer(page_id)), &there, error);
    if (status) return status;
    if (!there) return no_page(file, page_id, error);
    return mst_row_alter(file, MST_TABLE_PAGE, page_id, "UPDATE site_page SET withdrawn = 1 WHERE id = ?1", error);
}

/* ---- readings ---- */

/* The page as text: its header, its standing records, the new one behind them. */
typedef struct page_text {
    char kind[24], name[128];
    mst_text text;
    int lines;     /**< of the text before the new record */
    int last_line; /**< of the file */
    size_t records;
} page_text;

/* @param record  NULL when memory was too short to fetch it */
static void add_record(page_text *page, const char *record) {
    page->text.failed |= !record;
    if (!record) return;
    mst_text_string(&page->text, record);
    mst_text_string(&page->text, "\n");
    for (const char *c = record; *c; c++) page->lines += *c == '\n' || (*c == '\r' && c[1] != '\n');
    page->lines++;
}

static mst_status gather_head(mst_file *file, int64_t id, page_text *page, mst_error *error) {
    sqlite3_stmt *query;
    mst_status status = mst_sql_open(file, "SELECT kind, name, header FROM site_page WHERE id = ?1 AND NOT withdrawn",
                                     MST_CELLS(mst_cell_integer(id)), &query, error);
    if (status) return status;
    bool there = false;
    while (mst_sql_next(file, query, &status, error)) {
        const char *kind = (const char *)sqlite3_column_text(query, 0),
                   *name = (const char *)sqlite3_column_text(query, 1);
        const char *header = (const char *)sqlite3_column_text(query, 2);
        there = true;
        snprintf(page->kind, sizeof page->kind, "%s", kind ? kind : "");
        snprintf(page->name, sizeof page->name, "%s", name ? name : "");
        add_record(page, header);
        page->text.failed |= !kind || !name;
    }
    return status || there ? status : no_page(file, id, error);
}

static mst_status gather(mst_file *file, int64_t id, page_text *page, mst_error *error) {
    mst_status status = gather_head(file, id, page, error);
    if (status) return status;
    sqlite3_stmt *query;
    status = mst_sql_open(file,
                          "SELECT r.line, r.record FROM site_reading r JOIN site_change c ON c.id = r.change"
                          " WHERE r.page = ?1 AND c.undone_by IS NULL ORDER BY r.id",
                          MST_CELLS(mst_cell_integer(id)), &query, error);
    if (status) return status;
    page->last_line = 1;
    while (mst_sql_next(file, query, &status, error)) {
        const char *record = (const char *)sqlite3_column_text(query, 1);
        add_record(page, record);
        page->last_line = sqlite3_column_int(query, 0);
        page->records++;
    }
    return status;
}

/* Reads the page with the new record on it, so that the record is held to all that a whole page is held to. */
static mst_status check_record(page_text *page, const char *record, int line, mst_error *error) {
    mst_page_kind kind;
    if (page->text.failed) return mst_fail(error, MST_NO_MEMORY, "There is not enough memory for the page.");
    if (!mst_page_kind_named(page->kind, &kind))
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                           "The stored page is of the unknown kind '%s'; the file is damaged.", page->kind);
    int before = page->lines;
    add_record(page, record);
    mst_arena *arena = mst_arena_new();
    mst_page read;
    mst_status status = MST_OK;
    if (!arena || page->text.failed)
        status = mst_fail(error, MST_NO_MEMORY, "There is not enough memory for the page.");
    if (!status)
        status = mst_page_read(kind, page->name, page->text.data, page->text.length, NULL, arena, &read, error);
    if (status && error && error->row > before) error->row += line - before - 1;
    if (!status && read.row_count != page->records + 1)
        status = mst_fail_at(error, MST_INVALID, page->name, line, 0, "A reading is one record; this is %s.",
                             read.row_count > page->records ? "more than one" : "an empty one");
    mst_arena_free(arena);
    return status;
}

mst_status mst_file_add_reading(mst_file *file, int64_t page_id, const char *record, mst_error *error) {
    if (!file->change) return no_change(file, error);
    page_text page = {0};
    mst_status status = gather(file, page_id, &page, error);
    if (!status) status = check_record(&page, record, page.last_line + 1, error);
    if (!status) status = store_reading(file, page_id, page.last_line + 1, record, error);
    mst_text_free(&page.text);
    return status;
}

mst_status mst_file_set_aside(mst_file *file, int64_t reading_id, const char *reason, mst_error *error) {
    if (!file->change) return no_change(file, error);
    if (reason && !*reason)
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0, "Say why this reading is set aside.");
    int64_t stands = 0, aside = 0;
    mst_status status = mst_sql_integer(file, "SELECT id FROM site_standing_reading WHERE id = ?1",
                                        MST_CELLS(mst_cell_integer(reading_id)), &stands, error);
    if (!status && !stands)
        status = mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "The site has no reading with the number %lld.",
                             (long long)reading_id);
    if (!status && reason)
        return mst_row_put(file, MST_TABLE_SET_ASIDE, &reading_id, MST_CELLS(mst_cell_text(reason)), error);
    if (!status)
        status = mst_sql_integer(file, "SELECT reading FROM site_set_aside WHERE reading = ?1",
                                 MST_CELLS(mst_cell_integer(reading_id)), &aside, error);
    return status || !aside ? status : mst_row_remove(file, MST_TABLE_SET_ASIDE, reading_id, error);
}

/* ---- features ---- */

static mst_status put_vertex(mst_file *file, int64_t feature, int64_t position, const mst_vertex *v, mst_error *error) {
    int64_t id = 0;
    mst_status status = mst_sql_integer(file, "SELECT id FROM site_feature_vertex WHERE feature = ?1 AND position = ?2",
                                        MST_CELLS(mst_cell_integer(feature), mst_cell_integer(position)), &id, error);
    if (status) return status;
    return mst_row_put(file, MST_TABLE_VERTEX, &id,
                       MST_CELLS(mst_cell_integer(feature), mst_cell_integer(position), mst_cell_text(v->point),
                                 mst_cell_text(mst_edge_kind_name(v->edge)), mst_cell_integer(v->ring),
                                 mst_cell_integer(v->line)),
                       error);
}

static mst_status remove_vertices(mst_file *file, int64_t feature, int64_t behind, mst_error *error) {
    mst_status status = MST_OK;
    for (int64_t id = -1; !status && id;) {
        id = 0;
        status = mst_sql_integer(file,
                                 "SELECT id FROM site_feature_vertex WHERE feature = ?1 AND position > ?2"
                                 " ORDER BY position DESC LIMIT 1",
                                 MST_CELLS(mst_cell_integer(feature), mst_cell_integer(behind)), &id, error);
        if (!status && id) status = mst_row_remove(file, MST_TABLE_VERTEX, id, error);
    }
    return status;
}

mst_status mst_file_put_feature(mst_file *file, const mst_feature *feature, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, feature->name, "feature", error);
    int64_t id = 0;
    if (!status)
        status = mst_sql_integer(file, "SELECT id FROM site_feature WHERE name = ?1",
                                 MST_CELLS(mst_cell_text(feature->name)), &id, error);
    if (!status)
        status = mst_row_put(file, MST_TABLE_FEATURE, &id,
                             MST_CELLS(mst_cell_text(feature->name), mst_cell_text(feature->code ? feature->code : ""),
                                       mst_cell_text(mst_feature_kind_name(feature->kind)),
                                       mst_cell_text(mst_role_name(feature->role)),
                                       mst_cell_text(feature->page ? feature->page : "")),
                             error);
    for (size_t i = 0; !status && i < feature->vertex_count; i++)
        status = put_vertex(file, id, (int64_t)i + 1, &feature->vertices[i], error);
    return status ? status : remove_vertices(file, id, (int64_t)feature->vertex_count, error);
}

mst_status mst_file_remove_feature(mst_file *file, const char *name, mst_error *error) {
    if (!file->change) return no_change(file, error);
    int64_t id = 0;
    mst_status status = mst_sql_integer(file, "SELECT id FROM site_feature WHERE name = ?1",
                                        MST_CELLS(mst_cell_text(name)), &id, error);
    if (!status && !id)
        status = mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "The site has no feature '%s'.", name);
    if (!status) status = remove_vertices(file, id, 0, error);
    return status ? status : mst_row_remove(file, MST_TABLE_FEATURE, id, error);
}

/* ---- works, sheets, gear, settings ---- */

mst_status mst_file_put_work(mst_file *file, const mst_work *work, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, work->name, "work", error);
    int64_t id = 0;
    if (!status)
        status = mst_sql_integer(file, "SELECT id FROM site_work WHERE name = ?1", MST_CELLS(mst_cell_text(work->name)),
                                 &id, error);
    if (status) return status;
    return mst_row_put(
        file, MST_TABLE_WORK, &id,
        MST_CELLS(mst_cell_text(work->name), mst_cell_integer(work->position), mst_cell_text(work->definition)), error);
}

mst_status mst_file_remove_work(mst_file *file, const char *name, mst_error *error) {
    if (!file->change) return no_change(file, error);
    int64_t id = 0;
    mst_status status =
        mst_sql_integer(file, "SELECT id FROM site_work WHERE name = ?1", MST_CELLS(mst_cell_text(name)), &id, error);
    if (!status && !id)
        status = mst_fail_at(error, MST_NOT_FOUND, file->path, 0, 0, "The site has no work '%s'.", name);
    return status ? status : mst_row_remove(file, MST_TABLE_WORK, id, error);
}

mst_status mst_file_put_sheet(mst_file *file, const mst_sheet *sheet, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, sheet->name, "sheet", error);
    int64_t id = 0;
    if (!status)
        status = mst_sql_integer(file, "SELECT id FROM site_sheet WHERE name = ?1",
                                 MST_CELLS(mst_cell_text(sheet->name)), &id, error);
    if (status) return status;
    return mst_row_put(file, MST_TABLE_SHEET, &id,
                       MST_CELLS(mst_cell_text(sheet->name), mst_cell_text(sheet->definition)), error);
}

static mst_status store_gear(mst_file *file, int64_t id, const mst_gear *g, mst_error *error) {
    return mst_row_put(
        file, MST_TABLE_GEAR, &id,
        MST_CELLS(mst_cell_text(g->name), mst_cell_text(g->source ? g->source : ""), mst_cell_real(g->distance_m),
                  mst_cell_real(g->distance_ppm), mst_cell_real(g->angle_rad), mst_cell_real(g->zenith_rad),
                  mst_cell_real(g->centring_m), mst_cell_real(g->plan_m), mst_cell_real(g->height_m),
                  mst_cell_real(g->staff_m), mst_cell_real(g->levelled_km_m), mst_cell_real(g->leg_m),
                  mst_cell_real(g->leg_rate), mst_cell_real(g->leg_power), mst_cell_real(g->leg_height_ratio)),
        error);
}

mst_status mst_file_put_gear(mst_file *file, const mst_gear *gear, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, gear->name, "gear", error);
    int64_t id = 0;
    if (!status)
        status = mst_sql_integer(file, "SELECT id FROM site_gear WHERE name = ?1", MST_CELLS(mst_cell_text(gear->name)),
                                 &id, error);
    return status ? status : store_gear(file, id, gear, error);
}

mst_status mst_file_put_setting(mst_file *file, const char *key, const char *value, mst_error *error) {
    if (!file->change) return no_change(file, error);
    mst_status status = need_name(file, key, "setting", error);
    if (!status && strcmp(key, "format") == 0)
        status = mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                             "The setting 'format' belongs to the file itself; choose another name.");
    int64_t id = 0;
    if (!status)
        status = mst_sql_integer(file, "SELECT id FROM site_setting WHERE name = ?1", MST_CELLS(mst_cell_text(key)),
                                 &id, error);
    return status
               ? status
               : mst_row_put(file, MST_TABLE_SETTING, &id, MST_CELLS(mst_cell_text(key), mst_cell_text(value)), error);
}
