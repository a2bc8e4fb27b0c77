/* Look-ups in a site, and features from their page. */
#include "merestone/site.h"
#include <string.h>
#include <strings.h>

const char *mst_site_setting(const mst_site *site, const char *key, const char *fallback) {
    for (size_t i = 0; i < site->setting_count; i++)
        if (strcmp(site->settings[i].key, key) == 0) return site->settings[i].value;
    return fallback;
}

bool mst_site_imperial(const mst_site *site) {
    return strcmp(mst_site_setting(site, "units", "metric"), "imperial") == 0;
}

const mst_gear *mst_site_gear(const mst_site *site, const char *name) {
    for (size_t i = 0; i < site->gear_count; i++)
        if (strcmp(site->gear[i].name, name) == 0) return &site->gear[i];
    return mst_gear_preset(name);
}

const mst_feature *mst_site_feature(const mst_site *site, const char *name) {
    for (size_t i = 0; i < site->feature_count; i++)
        if (strcmp(site->features[i].name, name) == 0) return &site->features[i];
    return NULL;
}

static const char *const KINDS[] = {"line", "area", "spot"};
static const char *const EDGES[] = {"straight", "arc", "circle", "curve"};
static const char *const ROLES[] = {"", "boundary", "breakline", "hole", "none"};
const char *mst_feature_kind_name(mst_feature_kind kind) { return KINDS[kind]; }
const char *mst_edge_kind_name(mst_edge_kind kind) { return EDGES[kind]; }
const char *mst_role_name(mst_role role) { return ROLES[role]; }

/* The position of a word that the page's reader has let through; 0 for an empty cell. */
static int choice(const char *word, const char *const words[], int count) {
    for (int i = 0; i < count; i++)
        if (strcasecmp(word, words[i]) == 0) return i;
    return 0;
}

/* A feature while its rows come in. */
typedef struct draft {
    mst_feature feature;
    size_t capacity;
    const char *ring_start; /**< first point of the ring at hand */
    bool ring_closed;       /**< the ring's first point came again */
    int ring;
} draft;

static mst_status start_draft(const mst_page *page, const mst_row *row, draft *d) {
    d->feature = (mst_feature){.name = row->text[MST_FEATURES_FEATURE],
                               .code = row->text[MST_FEATURES_CODE],
                               .page = page->name,
                               .kind = (mst_feature_kind)choice(row->text[MST_FEATURES_KIND], KINDS, 3),
                               .role = (mst_role)choice(row->text[MST_FEATURES_ROLE], ROLES, 5)};
    return MST_OK;
}

static mst_status check_same(const mst_page *page, const mst_row *row, draft *d, mst_error *error) {
    mst_feature *f = &d->feature;
    if ((int)f->kind != choice(row->text[MST_FEATURES_KIND], KINDS, 3))
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "Feature '%s' has kind %s in an earlier row and %.60s here.", f->name, KINDS[f->kind],
                           row->text[MST_FEATURES_KIND]);
    if (!*f->code) f->code = row->text[MST_FEATURES_CODE];
    else if (*row->text[MST_FEATURES_CODE] && strcmp(f->code, row->text[MST_FEATURES_CODE]) != 0)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "Feature '%s' has code '%s' in an earlier row and '%s' here.", f->name, f->code,
                           row->text[MST_FEATURES_CODE]);
    mst_role role = (mst_role)choice(row->text[MST_FEATURES_ROLE], ROLES, 5);
    if (role == MST_ROLE_DEFAULT || role == f->role || role == MST_ROLE_HOLE) return MST_OK;
    if (f->role != MST_ROLE_DEFAULT)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "Feature '%s' has role '%s' in an earlier row and '%s' here.", f->name, ROLES[f->role],
                           ROLES[role]);
    f->role = role;
    return MST_OK;
}

static mst_status next_ring(const mst_page *page, const mst_row *row, draft *d, mst_error *error) {
    bool hole_row = choice(row->text[MST_FEATURES_ROLE], ROLES, 5) == MST_ROLE_HOLE && d->feature.role != MST_ROLE_HOLE;
    if (hole_row && d->feature.kind != MST_FEATURE_AREA)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0, "Only an area has holes; '%s' has kind %s.",
                           d->feature.name, KINDS[d->feature.kind]);
    if (!hole_row && d->ring > 0)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "The outline of '%s' goes on after its hole; put the hole's rows last.", d->feature.name);
    if (hole_row && (d->ring == 0 || d->ring_closed)) {
        d->ring++;
        d->ring_start = NULL;
        d->ring_closed = false;
    }
    return MST_OK;
}

static mst_status add_row(const mst_page *page, const mst_row *row, draft *d, mst_arena *arena, mst_error *error) {
    mst_status status = next_ring(page, row, d, error);
    if (status) return status;
    mst_feature *f = &d->feature;
    mst_edge_kind edge = (mst_edge_kind)choice(row->text[MST_FEATURES_EDGE], EDGES, 4);
    const char *point = row->text[MST_FEATURES_POINT];
    if (d->ring_closed)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "The outline of '%s' has closed on '%s' already.", f->name, d->ring_start);
    if (f->vertex_count && f->vertices[f->vertex_count - 1].ring == d->ring &&
        strcmp(f->vertices[f->vertex_count - 1].point, point) == 0)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                           "Feature '%s' names point '%s' twice in a row.", f->name, point);
    if (f->kind == MST_FEATURE_AREA && d->ring_start && strcmp(point, d->ring_start) == 0) {
        /* An area that names its first point again: that row says how the path comes back to it. */
        d->ring_closed = true;
        for (size_t i = 0; i < f->vertex_count; i++)
            if (f->vertices[i].ring == d->ring) {
                f->vertices[i].edge = edge;
                break;
            }
        return MST_OK;
    }
    if (!d->ring_start) d->ring_start = point;
    mst_vertex *v = MST_PUSH(arena, f->vertices, f->vertex_count, d->capacity);
    if (!v) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the features.");
    *v = (mst_vertex){.point = point, .edge = edge, .ring = d->ring, .line = row->line};
    return MST_OK;
}

/* What can be told of one ring without knowing where its points are. */
static mst_status check_ring(const mst_feature *f, const mst_vertex *v, size_t n, mst_error *error) {
    const char *page = f->page;
    if (f->kind == MST_FEATURE_SPOT) return MST_OK;
    size_t circles = 0, arcs = 0;
    for (size_t i = 0; i < n; i++) circles += v[i].edge == MST_EDGE_CIRCLE;
    size_t least = circles ? 3 : f->kind == MST_FEATURE_AREA ? 3 : 2;
    if (f->kind == MST_FEATURE_AREA && !circles)
        for (size_t i = 0; i < n; i++) least = v[i].edge != MST_EDGE_STRAIGHT && n == 2 ? 2 : least;
    if (n < least)
        return mst_fail_at(error, MST_INVALID, page, v[0].line, 0,
                           "Feature '%s' has %zu point%s; %s needs at least %zu.", f->name, n, n == 1 ? "" : "s",
                           circles                       ? "a circle"
                           : f->kind == MST_FEATURE_AREA ? "an area"
                                                         : "a line",
                           least);
    if (circles && circles < n && !(circles == n - 1 && v[0].edge == MST_EDGE_STRAIGHT))
        return mst_fail_at(error, MST_INVALID, page, v[0].line, 0,
                           "Feature '%s' mixes circle with other edges; a circle stands alone.", f->name);
    size_t first = f->kind == MST_FEATURE_AREA ? 0 : 1;
    for (size_t i = first; i < n + (first == 0 ? 1 : 0); i++) {
        const mst_vertex *at = &v[i % n];
        if (i == 0 && first == 0) continue; /* the closing edge comes last */
        if (at->edge == MST_EDGE_ARC) arcs++;
        else if (arcs % 2)
            return mst_fail_at(
                error, MST_INVALID, page, at->line, 0,
                "An arc of '%s' has no end: give one point on the arc and then its end, both marked arc.", f->name);
        else arcs = 0;
    }
    if (arcs % 2)
        return mst_fail_at(
            error, MST_INVALID, page, v[n - 1].line, 0,
            "The last arc of '%s' has no end: give one point on the arc and then its end, both marked arc.", f->name);
    return MST_OK;
}

static mst_status check_draft(const mst_feature *f, mst_error *error) {
    for (size_t start = 0; start < f->vertex_count;) {
        size_t end = start;
        while (end < f->vertex_count && f->vertices[end].ring == f->vertices[start].ring) end++;
        mst_status status = check_ring(f, f->vertices + start, end - start, error);
        if (status) return status;
        start = end;
    }
    return MST_OK;
}

mst_status mst_features_from_page(const mst_page *page, mst_arena *arena, mst_feature **features, size_t *count,
                                  mst_error *error) {
    draft *drafts = NULL;
    size_t draft_count = 0, capacity = 0;
    mst_index names = {0};
    mst_status status = MST_OK;
    for (size_t i = 0; i < page->row_count && !status; i++) {
        const mst_row *row = &page->rows[i];
        uint32_t at = mst_index_get(&names, row->text[MST_FEATURES_FEATURE]);
        if (at == UINT32_MAX) {
            draft *d = MST_PUSH(arena, drafts, draft_count, capacity);
            at = (uint32_t)(draft_count - 1);
            if (!d || !mst_index_put(&names, arena, row->text[MST_FEATURES_FEATURE], at))
                return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the features.");
            status = start_draft(page, row, d);
        } else status = check_same(page, row, &drafts[at], error);
        if (!status) status = add_row(page, row, &drafts[at], arena, error);
    }
    mst_feature *out = mst_arena_array(arena, draft_count, sizeof *out);
    if (!status && !out) status = mst_fail(error, MST_NO_MEMORY, "Not enough memory for the features.");
    for (size_t i = 0; i < draft_count && !status; i++) {
        out[i] = drafts[i].feature;
        status = check_draft(&out[i], error);
    }
    if (status) return status;
    *features = out;
    *count = draft_count;
    return MST_OK;
}
