/* Included by the tests of setting out and handing over: an adjustment made by hand, as if the survey had been
 * adjusted. */
#include "merestone/survey.h"
#include <assert.h>
#include <math.h>
#include <string.h>

typedef struct known {
    const char *name, *code;
    double e, n, z, sd;
    bool held;
} known;

static inline mst_adjustment *control_of(const known *points, size_t count, mst_arena *arena) {
    mst_adjustment *a = mst_arena_alloc(arena, sizeof *a);
    assert(a);
    *a = (mst_adjustment){.points = mst_arena_array(arena, count, sizeof *a->points),
                          .point_count = count,
                          .sigma0 = 1,
                          .scale = 1,
                          .datum = "by hand"};
    for (size_t i = 0; i < count; i++) {
        const known *k = &points[i];
        a->points[i] = (mst_adjusted_point){.name = k->name,
                                            .code = k->code ? k->code : "",
                                            .easting_m = k->e,
                                            .northing_m = k->n,
                                            .elevation_m = k->z,
                                            .sd_easting_m = k->sd,
                                            .sd_northing_m = k->sd,
                                            .sd_elevation_m = k->sd,
                                            .semi_major_m = k->sd,
                                            .semi_minor_m = k->sd,
                                            .has_plan = !isnan(k->e),
                                            .has_height = !isnan(k->z),
                                            .held_plan = k->held,
                                            .held_height = k->held && !isnan(k->z),
                                            .readings = 3,
                                            .page = "points.csv",
                                            .row = (int)i + 2};
        bool put = mst_index_put(&a->index, arena, k->name, (uint32_t)i);
        assert(put);
        (void)put;
    }
    return a;
}

/* The same points measured and adjusted for once, so that figures carry real covariances: held ones and levels alone on
 * a control page, the others on a points page in the site's frame. */
static inline void page_row(mst_text *csv, const known *k, bool control) {
    const double sd = k->held ? NAN : k->sd;
    const double cells[] = {k->e, k->n, k->z, isnan(k->e) ? NAN : sd, isnan(k->z) ? NAN : sd};
    mst_text_csv(csv, k->name);
    for (int i = 0; i < 5; i++) {
        if (i == 3 && !control) {
            mst_text_string(csv, ",");
            mst_text_csv(csv, k->code);
        }
        mst_text_string(csv, ",");
        if (!isnan(cells[i])) mst_text_printf(csv, "%.17g", cells[i]);
    }
    mst_text_string(csv, "\n");
}
static inline mst_site *measured_site(const known *points, size_t count, mst_arena *arena) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    mst_page *pages = mst_arena_array(arena, 2, sizeof *pages);
    mst_text csv[2] = {{0}, {0}};
    size_t rows[2] = {0, 0}, page_count = 0;
    mst_text_string(&csv[0], "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n");
    mst_text_string(&csv[1], "point,easting (m),northing (m),elevation (m),code,sd plan (m),sd height (m)\n");
    for (size_t i = 0; i < count; i++) {
        bool control = points[i].held || isnan(points[i].e);
        page_row(&csv[!control], &points[i], control);
        rows[!control]++;
    }
    for (int p = 0; p < 2; p++) {
        mst_error error = {0};
        if (rows[p] && mst_page_read(p ? MST_PAGE_POINTS : MST_PAGE_CONTROL, p ? "points.csv" : "control.csv",
                                     csv[p].data, csv[p].length, NULL, arena, &pages[page_count], &error))
            fail_msg("%s", error.sentence);
        if (rows[p]) {
            pages[page_count].visit = "first";
            pages[page_count].gear = "tape";
            pages[page_count++].site_frame = true;
        }
        mst_text_free(&csv[p]);
    }
    *site = (mst_site){.arena = arena, .pages = pages, .page_count = page_count};
    return site;
}
static inline mst_adjustment *adjusted(const mst_site *site, mst_arena *arena) {
    mst_adjustment *adjustment = NULL;
    mst_error error = {0};
    if (mst_adjust(site, NULL, arena, &adjustment, &error)) fail_msg("%s", error.sentence);
    return adjustment;
}
