/* A small site from text: one points page in the site's frame, features, adjusted. */
#ifndef TESTS_WORKS_TEST_H
#define TESTS_WORKS_TEST_H
#include "geometry/near.h"
#include "merestone/works.h"

typedef struct lot {
    mst_site site;
    mst_adjustment *adjustment;
    mst_ground *ground;
    mst_arena *arena;
} lot;

static inline mst_feature feature_of(lot *l, const char *name, mst_feature_kind kind, mst_role role,
                                     const char *points) {
    mst_feature f = {.name = name, .code = "", .kind = kind, .role = role, .page = ""};
    char *copy = mst_arena_string(l->arena, points);
    f.vertices = mst_arena_array(l->arena, strlen(points) + 1, sizeof *f.vertices);
    for (char *word = strtok(copy, " "); word; word = strtok(NULL, " "))
        f.vertices[f.vertex_count++] = (mst_vertex){word, MST_EDGE_STRAIGHT, 0, 1};
    return f;
}

static inline void add_feature(lot *l, mst_feature f) {
    if (!l->site.features) l->site.features = mst_arena_array(l->arena, 20, sizeof f);
    l->site.features[l->site.feature_count++] = f;
}

/* Reads a page of points and adjusts; the ground comes later, once the features stand. */
static inline lot lot_of(const char *kind_page, mst_page_kind kind) {
    mst_error error = {0};
    lot l = {.arena = mst_arena_new()};
    mst_page *page = mst_arena_alloc(l.arena, sizeof *page);
    mst_visit *visit = mst_arena_alloc(l.arena, sizeof *visit);
    visit->name = "one";
    IS_OK(mst_page_read(kind, "lot.csv", kind_page, strlen(kind_page), NULL, l.arena, page, &error));
    page->visit = "one";
    page->gear = mst_gear_default(kind);
    page->site_frame = true;
    l.site = (mst_site){.arena = l.arena, .pages = page, .page_count = 1, .visits = visit, .visit_count = 1};
    IS_OK(mst_adjust(&l.site, NULL, l.arena, &l.adjustment, &error));
    return l;
}

static inline void make_ground(lot *l) {
    mst_error error = {0};
    IS_OK(mst_ground_from_site(&l->site, l->adjustment, l->arena, &l->ground, &error));
}

static inline mst_element element_of(const lot *l, const char *definition) {
    mst_error error = {0};
    mst_element e = {0};
    mst_work work = {.name = "work", .definition = definition};
    IS_OK(mst_element_read(&work, &l->site, l->adjustment, l->arena, &e, &error));
    return e;
}

static inline mst_earthwork_report report_of(const lot *l, const mst_element elements[], size_t count) {
    mst_error error = {0};
    mst_earthwork_report r = {0};
    IS_OK(mst_earthwork_of(elements, count, &l->site, l->adjustment, l->ground, 0, l->arena, &r, &error));
    return r;
}

static inline bool says(const mst_earthwork_report *r, const char *words) {
    for (size_t i = 0; i < r->caution_count; i++)
        if (strstr(r->cautions[i], words)) return true;
    return false;
}
#endif
