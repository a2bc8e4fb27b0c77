/* A site in memory from pages written as CSV text, for tests. */
#ifndef TESTS_SITE_FROM_TEXT_H
#define TESTS_SITE_FROM_TEXT_H
#include "merestone/survey.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

typedef struct text_page {
    mst_page_kind kind;
    const char *name, *visit, *text;
} text_page;

static mst_arena *arena;
static mst_error error;

static inline int open_arena(void **state) {
    (void)state;
    arena = mst_arena_new();
    return arena ? 0 : -1;
}
static inline int close_arena(void **state) {
    (void)state;
    mst_arena_free(arena);
    return 0;
}

static inline mst_site *site_of(const text_page pages[], size_t count) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    site->arena = arena;
    site->pages = mst_arena_array(arena, count, sizeof *site->pages);
    for (size_t i = 0; i < count; i++) {
        const text_page *p = &pages[i];
        error = (mst_error){0};
        mst_status status =
            mst_page_read(p->kind, p->name, p->text, strlen(p->text), NULL, arena, &site->pages[i], &error);
        if (status) print_message("%s:%d: %s\n", error.page, error.row, error.sentence);
        assert_int_equal(status, MST_OK);
        site->pages[i].visit = p->visit ? p->visit : "1";
        site->pages[i].gear = "";
    }
    site->page_count = count;
    return site;
}

static inline mst_adjustment *adjusted_site(const mst_site *site) {
    mst_adjustment *out = NULL;
    error = (mst_error){0};
    mst_status status = mst_adjust(site, NULL, arena, &out, &error);
    if (status) print_message("%s:%d: %s\n", error.page, error.row, error.sentence);
    assert_int_equal(status, MST_OK);
    assert_non_null(out);
    return out;
}
#define ADJUSTED(...)                                                                                                  \
    adjusted_site(site_of((text_page[]){__VA_ARGS__}, sizeof((text_page[]){__VA_ARGS__}) / sizeof(text_page)))

static inline const mst_adjusted_point *point_of(const mst_adjustment *a, const char *name) {
    const mst_adjusted_point *p = mst_adjustment_point(a, name);
    assert_non_null(p);
    return p;
}
static inline const mst_observation_result *result_of(const mst_adjustment *a, const char *page, int row,
                                                      const char *kind) {
    for (size_t i = 0; i < a->observation_count; i++)
        if (strcmp(a->observations[i].page, page) == 0 && a->observations[i].row == row &&
            strcmp(a->observations[i].kind, kind) == 0)
            return &a->observations[i];
    fail_msg("no %s at %s:%d", kind, page, row);
    return NULL;
}
static inline void near_to(double value, double expected, double by, const char *where, int line) {
    if (fabs(value - expected) <= by) return;
    print_message("%s:%d: %.12g, expected %.12g +- %g\n", where, line, value, expected, by);
    fail();
}
#define NEAR(value, expected, by) near_to((value), (expected), (by), __FILE__, __LINE__)

static inline void show(const mst_adjustment *a) {
    print_message("%s sigma0 %.3f dof %d iterations %d\n", a->datum, a->sigma0, a->degrees_of_freedom, a->iterations);
    for (size_t i = 0; i < a->point_count; i++)
        print_message("  %s %.4f %.4f %.4f sd %.4f %.4f %.4f n %d\n", a->points[i].name, a->points[i].easting_m,
                      a->points[i].northing_m, a->points[i].elevation_m, a->points[i].sd_easting_m,
                      a->points[i].sd_northing_m, a->points[i].sd_elevation_m, a->points[i].readings);
    for (size_t i = 0; i < a->observation_count && i < 60; i++)
        print_message("  %s:%d %s %s-%s res %.5f sd %.5f r %.3f w %.2f\n", a->observations[i].page,
                      a->observations[i].row, a->observations[i].kind, a->observations[i].from, a->observations[i].to,
                      a->observations[i].residual, a->observations[i].sd, a->observations[i].redundancy,
                      a->observations[i].standardized);
    for (size_t i = 0; i < a->suspect_count; i++) print_message("  suspect: %s\n", a->suspects[i].sentence);
    for (size_t i = 0; i < a->undetermined_count; i++)
        print_message("  undetermined %s: %s\n", a->undetermined[i], a->undetermined_why[i]);
    for (size_t i = 0; i < a->left_out_count; i++) print_message("  left out: %s\n", a->left_out[i].sentence);
}
#endif
