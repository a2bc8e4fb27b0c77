/* The whole site out of its file, as one snapshot in one arena. */
#include "site/file_sql.h"
#include <string.h>

static mst_status damaged(const mst_file *file, const char *what, const char *name, mst_error *error) {
    if (sqlite3_errcode(file->db) == SQLITE_NOMEM)
        return mst_file_no_memory(file, error); /* a text that could not be fetched */
    return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                       "This site file is damaged: %s '%.80s' is stored in a way that this program does not know.",
                       what, name ? name : "");
}

/* What a loader works with. */
typedef struct loader {
    mst_file *file;
    mst_arena *arena;
    mst_site *site;
    mst_error *error;
} loader;

static mst_status no_memory(const loader *l) { return mst_file_no_memory(l->file, l->error); }

/* Calls `take` on every row of a query; the first that fails ends it. */
static mst_status each(const loader *l, const char *sql, mst_status (*take)(const loader *l, sqlite3_stmt *row)) {
    sqlite3_stmt *query;
    mst_status taken = MST_OK, status = mst_sql_open(l->file, sql, NULL, 0, &query, l->error);
    if (status) return status;
    while (!taken && mst_sql_next(l->file, query, &status, l->error)) {
        taken = take(l, query);
        if (taken) mst_sql_leave(query);
    }
    return taken ? taken : status;
}

/* Makes the array for a list whose length a query tells. */
static mst_status room(const loader *l, const char *sql, size_t size, void **items) {
    int64_t count = 0;
    mst_status status = mst_sql_integer(l->file, sql, NULL, 0, &count, l->error);
    if (status) return status;
    *items = mst_arena_array(l->arena, (size_t)count, size);
    return *items ? MST_OK : no_memory(l);
}

/* ---- settings, visits, gear, works, sheets ---- */

static mst_status take_setting(const loader *l, sqlite3_stmt *row) {
    mst_setting s = {mst_sql_text(row, 0, l->arena), mst_sql_text(row, 1, l->arena)};
    l->site->settings[l->site->setting_count++] = s;
    return s.key && s.value ? MST_OK : no_memory(l);
}

static mst_status take_visit(const loader *l, sqlite3_stmt *row) {
    mst_visit v = {sqlite3_column_int64(row, 0), mst_sql_text(row, 1, l->arena)};
    l->site->visits[l->site->visit_count++] = v;
    return v.name ? MST_OK : no_memory(l);
}

static mst_status take_gear(const loader *l, sqlite3_stmt *row) {
    mst_gear g = {.id = sqlite3_column_int64(row, 0),
                  .name = mst_sql_text(row, 1, l->arena),
                  .source = mst_sql_text(row, 2, l->arena)};
    double *const figures[] = {&g.distance_m, &g.distance_ppm, &g.angle_rad,       &g.zenith_rad,    &g.centring_m,
                               &g.plan_m,     &g.height_m,     &g.staff_m,         &g.levelled_km_m, &g.leg_m,
                               &g.leg_rate,   &g.leg_power,    &g.leg_height_ratio};
    for (size_t i = 0; i < sizeof figures / sizeof *figures; i++) *figures[i] = sqlite3_column_double(row, 3 + (int)i);
    l->site->gear[l->site->gear_count++] = g;
    return g.name && g.source ? MST_OK : no_memory(l);
}

static mst_status take_work(const loader *l, sqlite3_stmt *row) {
    mst_work w = {sqlite3_column_int64(row, 0), mst_sql_text(row, 1, l->arena), sqlite3_column_int(row, 2),
                  mst_sql_text(row, 3, l->arena)};
    l->site->works[l->site->work_count++] = w;
    return w.name && w.definition ? MST_OK : no_memory(l);
}

static mst_status take_sheet(const loader *l, sqlite3_stmt *row) {
    mst_sheet s = {sqlite3_column_int64(row, 0), mst_sql_text(row, 1, l->arena), mst_sql_text(row, 2, l->arena)};
    l->site->sheets[l->site->sheet_count++] = s;
    return s.name && s.definition ? MST_OK : no_memory(l);
}

static mst_status load_lists(const loader *l) {
    mst_site *site = l->site;
    mst_status status = room(l, "SELECT count(*) FROM site_setting", sizeof *site->settings, (void **)&site->settings);
    if (!status)
        status = each(l, "SELECT name, value FROM site_setting WHERE name <> 'format' ORDER BY id", take_setting);
    if (!status) status = room(l, "SELECT count(*) FROM site_visit", sizeof *site->visits, (void **)&site->visits);
    if (!status) /* a visit stands while a field page of it does */
        status = each(l,
                      "SELECT id, name FROM site_visit v WHERE EXISTS (SELECT 1 FROM site_page p WHERE p.visit = v.id"
                      " AND NOT p.withdrawn AND p.kind <> 'features') ORDER BY id",
                      take_visit);
    if (!status) status = room(l, "SELECT count(*) FROM site_gear", sizeof *site->gear, (void **)&site->gear);
    if (!status)
        status = each(
            l,
            "SELECT id, name, source, distance_m, distance_ppm, angle_rad, zenith_rad, centring_m, plan_m, height_m,"
            " staff_m, levelled_km_m, leg_m, leg_rate, leg_power, leg_height_ratio FROM site_gear ORDER BY id",
            take_gear);
    if (!status) status = room(l, "SELECT count(*) FROM site_work", sizeof *site->works, (void **)&site->works);
    if (!status)
        status = each(l, "SELECT id, name, position, definition FROM site_work ORDER BY position, id", take_work);
    if (!status) status = room(l, "SELECT count(*) FROM site_sheet", sizeof *site->sheets, (void **)&site->sheets);
    if (!status) status = each(l, "SELECT id, name, definition FROM site_sheet ORDER BY name", take_sheet);
    return status;
}

/* ---- pages ---- */

static mst_status take_page(const loader *l, sqlite3_stmt *row) {
    mst_arena *arena = l->arena;
    mst_page p = {.id = sqlite3_column_int64(row, 0),
                  .name = mst_sql_text(row, 2, arena),
                  .visit = mst_sql_text(row, 3, arena),
                  .gear = mst_sql_text(row, 4, arena),
                  .site_frame = sqlite3_column_int(row, 5) != 0,
                  .header = mst_sql_text(row, 6, arena),
                  .notes = mst_sql_text(row, 7, arena)};
    const char *kind = (const char *)sqlite3_column_text(row, 1);
    if (!p.name || !p.visit || !p.gear || !p.header || !p.notes) return no_memory(l);
    if (!kind || !mst_page_kind_named(kind, &p.kind)) return damaged(l->file, "page", p.name, l->error);
    l->site->pages[l->site->page_count++] = p;
    return MST_OK;
}

static mst_status load_rows(const loader *l, mst_page *page) {
    int64_t count = 0;
    const mst_cell id[] = {mst_cell_integer(page->id)};
    mst_status status =
        mst_sql_integer(l->file, "SELECT count(*) FROM site_reading WHERE page = ?1", id, 1, &count, l->error);
    if (status) return status;
    page->rows = mst_arena_array(l->arena, (size_t)count, sizeof *page->rows);
    if (!page->rows) return no_memory(l);
    page->row_capacity = (size_t)count;
    sqlite3_stmt *query;
    status = mst_sql_open(
        l->file,
        "SELECT r.id, r.line, r.record, a.reason FROM site_reading r JOIN site_change c ON c.id = r.change"
        " LEFT JOIN site_set_aside a ON a.reading = r.id WHERE r.page = ?1 AND c.undone_by IS NULL ORDER BY r.id",
        id, 1, &query, l->error);
    if (status) return status;
    while (mst_sql_next(l->file, query, &status, l->error)) {
        mst_row *row = &page->rows[page->row_count++];
        row->id = sqlite3_column_int64(query, 0);
        row->line = sqlite3_column_int(query, 1);
        row->raw = mst_sql_text(query, 2, l->arena);
        row->set_aside = mst_sql_is_null(query, 3) ? NULL : mst_sql_text(query, 3, l->arena);
        if (row->raw && (row->set_aside || mst_sql_is_null(query, 3))) continue;
        mst_sql_leave(query);
        return no_memory(l);
    }
    return status;
}

static mst_status load_pages(const loader *l) {
    mst_site *site = l->site;
    mst_status status = room(l, "SELECT count(*) FROM site_page", sizeof *site->pages, (void **)&site->pages);
    if (!status)
        status = each(
            l,
            "SELECT p.id, p.kind, p.name, v.name, p.gear, p.site_frame, p.header, p.notes FROM site_page p"
            " LEFT JOIN site_visit v ON v.id = p.visit WHERE NOT p.withdrawn AND p.kind <> 'features' ORDER BY p.id",
            take_page);
    for (size_t i = 0; !status && i < site->page_count; i++) {
        status = load_rows(l, &site->pages[i]);
        if (!status) status = mst_page_reread(&site->pages[i], l->arena, l->error);
    }
    return status;
}

/* ---- features ---- */

static bool feature_kind_named(const char *name, mst_feature_kind *kind) {
    for (int i = MST_FEATURE_LINE; name && i <= MST_FEATURE_SPOT; i++)
        if (strcmp(name, mst_feature_kind_name((mst_feature_kind)i)) == 0) return *kind = (mst_feature_kind)i, true;
    return false;
}

static bool edge_kind_named(const char *name, mst_edge_kind *kind) {
    for (int i = MST_EDGE_STRAIGHT; name && i <= MST_EDGE_CURVE; i++)
        if (strcmp(name, mst_edge_kind_name((mst_edge_kind)i)) == 0) return *kind = (mst_edge_kind)i, true;
    return false;
}

static bool role_named(const char *name, mst_role *role) {
    for (int i = MST_ROLE_DEFAULT; name && i <= MST_ROLE_NONE; i++)
        if (strcmp(name, mst_role_name((mst_role)i)) == 0) return *role = (mst_role)i, true;
    return false;
}

static mst_status take_feature(const loader *l, sqlite3_stmt *row) {
    mst_feature f = {.id = sqlite3_column_int64(row, 0),
                     .name = mst_sql_text(row, 1, l->arena),
                     .code = mst_sql_text(row, 2, l->arena),
                     .page = mst_sql_text(row, 5, l->arena)};
    if (!f.name || !f.code || !f.page) return no_memory(l);
    if (!feature_kind_named((const char *)sqlite3_column_text(row, 3), &f.kind) ||
        !role_named((const char *)sqlite3_column_text(row, 4), &f.role))
        return damaged(l->file, "feature", f.name, l->error);
    l->site->features[l->site->feature_count++] = f;
    return MST_OK;
}

static mst_status load_vertices(const loader *l, mst_feature *feature) {
    int64_t count = 0;
    const mst_cell id[] = {mst_cell_integer(feature->id)};
    mst_status status = mst_sql_integer(l->file, "SELECT count(*) FROM site_feature_vertex WHERE feature = ?1", id, 1,
                                        &count, l->error);
    if (status) return status;
    feature->vertices = mst_arena_array(l->arena, (size_t)count, sizeof *feature->vertices);
    if (!feature->vertices) return no_memory(l);
    sqlite3_stmt *query;
    status = mst_sql_open(
        l->file, "SELECT point, edge, ring, line FROM site_feature_vertex WHERE feature = ?1 ORDER BY position", id, 1,
        &query, l->error);
    if (status) return status;
    while (mst_sql_next(l->file, query, &status, l->error)) {
        mst_vertex *v = &feature->vertices[feature->vertex_count++];
        v->point = mst_sql_text(query, 0, l->arena);
        v->ring = sqlite3_column_int(query, 2);
        v->line = sqlite3_column_int(query, 3);
        bool known = edge_kind_named((const char *)sqlite3_column_text(query, 1), &v->edge);
        if (v->point && known) continue;
        mst_sql_leave(query);
        return known ? no_memory(l) : damaged(l->file, "feature", feature->name, l->error);
    }
    return status;
}

static mst_status load_features(const loader *l) {
    mst_site *site = l->site;
    mst_status status = room(l, "SELECT count(*) FROM site_feature", sizeof *site->features, (void **)&site->features);
    if (!status)
        status = each(l, "SELECT id, name, code, kind, role, page FROM site_feature ORDER BY id", take_feature);
    for (size_t i = 0; !status && i < site->feature_count; i++) status = load_vertices(l, &site->features[i]);
    return status;
}

/* ---- the site ---- */

static mst_status load_all(const loader *l) {
    mst_status status = mst_file_revision(l->file, &l->site->revision, l->error);
    if (!status) status = load_lists(l);
    if (!status) status = load_pages(l);
    if (!status) status = load_features(l);
    return status;
}

/* Under one lock, so that no other program's change comes in halfway. */
mst_status mst_file_load(mst_file *file, mst_arena *arena, mst_site **result, mst_error *error) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    if (!site) return mst_file_no_memory(file, error);
    site->arena = arena;
    bool own = sqlite3_get_autocommit(file->db) != 0;
    mst_status status = own ? mst_sql_script(file, "BEGIN", error) : MST_OK;
    if (!status) status = load_all(&(loader){file, arena, site, error});
    if (own && !sqlite3_get_autocommit(file->db)) sqlite3_exec(file->db, "COMMIT", NULL, NULL, NULL);
    if (!status) *result = site;
    return status;
}
