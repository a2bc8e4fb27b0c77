#include "works/gradient.h"
#include <math.h>

static const double NORMAL_95 = 1.959963984540054; /* two-sided, from memory: any table of the normal distribution */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

mst_status mst_gradients_new(const mst_adjustment *adjustment, mst_arena *arena, mst_gradients *g, mst_error *error) {
    size_t count = adjustment->point_count;
    *g = (mst_gradients){mst_arena_array(arena, count + 1, sizeof *g->cut),
                         mst_arena_array(arena, count + 1, sizeof *g->fill), count};
    if (!g->cut || !g->fill) return no_memory(error);
    mst_gradients_clear(g);
    return MST_OK;
}

void mst_gradients_clear(mst_gradients *g) {
    for (size_t i = 0; i < g->count; i++) g->cut[i] = g->fill[i] = (mst_gradient_term){(uint32_t)i, 0, 0, 0};
}

static void add_term(mst_gradient_term *to, const mst_gradient_term *from) {
    to->easting += from->easting;
    to->northing += from->northing;
    to->elevation += from->elevation;
}

void mst_gradients_add_sum(mst_gradients *g, const mst_prism_sum *sum) {
    for (size_t i = 0; i < sum->term_count; i++) {
        uint32_t cut = sum->cut_terms[i].point, fill = sum->fill_terms[i].point;
        if (cut < g->count) add_term(&g->cut[cut], &sum->cut_terms[i]);
        if (fill < g->count) add_term(&g->fill[fill], &sum->fill_terms[i]);
    }
}

void mst_gradients_add(mst_gradients *to, const mst_gradients *from) {
    for (size_t i = 0; i < to->count; i++) {
        add_term(&to->cut[i], &from->cut[i]);
        add_term(&to->fill[i], &from->fill[i]);
    }
}

/* Gradient of a cut + b fill, without the points that do not matter. */
static size_t combine(const mst_gradients *g, double a, double b, mst_gradient_term out[]) {
    size_t count = 0;
    for (size_t i = 0; i < g->count; i++) {
        const mst_gradient_term *c = &g->cut[i], *f = &g->fill[i];
        mst_gradient_term t = {(uint32_t)i, a * c->easting + b * f->easting, a * c->northing + b * f->northing,
                               a * c->elevation + b * f->elevation};
        if (t.easting != 0 || t.northing != 0 || t.elevation != 0) out[count++] = t;
    }
    return count;
}

mst_status mst_gradients_figures(const mst_gradients *g, double cut_m3, double fill_m3,
                                 const mst_adjustment *adjustment, mst_arena *arena, mst_figure figures[3],
                                 mst_error *error) {
    static const double mix[3][2] = {{1, 0}, {0, 1}, {1, -1}};
    mst_gradient_term *terms = mst_arena_array(arena, g->count + 1, sizeof *terms);
    if (!terms) return no_memory(error);
    for (int k = 0; k < 3; k++) {
        double value = mix[k][0] * cut_m3 + mix[k][1] * fill_m3, variance = 0;
        size_t count = combine(g, mix[k][0], mix[k][1], terms);
        mst_status status = count ? mst_adjustment_variance(adjustment, terms, count, &variance, error) : MST_OK;
        if (status) return status;
        double half = NORMAL_95 * sqrt(variance);
        figures[k] = (mst_figure){value, k < 2 ? fmax(value - half, 0) : value - half, value + half};
        if (isnan(half)) figures[k].low = figures[k].high = NAN;
    }
    return MST_OK;
}

mst_status mst_volume_figures(const mst_prism_sum *sum, const mst_prism_sum *other, const mst_adjustment *adjustment,
                              mst_arena *arena, mst_figure *cut_m3, mst_figure *fill_m3, mst_figure *net_m3,
                              mst_error *error) {
    mst_gradients g;
    mst_figure figures[3];
    mst_status status = mst_gradients_new(adjustment, arena, &g, error);
    if (status) return status;
    mst_gradients_add_sum(&g, sum);
    if (other) mst_gradients_add_sum(&g, other);
    status = mst_gradients_figures(&g, sum->cut_m3, sum->fill_m3, adjustment, arena, figures, error);
    if (status) return status;
    *cut_m3 = figures[0];
    *fill_m3 = figures[1];
    *net_m3 = figures[2];
    return MST_OK;
}
