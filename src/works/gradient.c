#include "works/gradient.h"
#include "numeric/statistics.h"
#include <math.h>

static const double MANY = 1e4; /* degrees of freedom: Student's law is the normal one */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

mst_status mst_gradients_new(const mst_adjustment *adjustment, mst_arena *arena, mst_gradients *g, mst_error *error) {
    size_t count = adjustment->point_count;
    *g = (mst_gradients){.cut = mst_arena_array(arena, count + 1, sizeof *g->cut),
                         .fill = mst_arena_array(arena, count + 1, sizeof *g->fill),
                         .area = mst_arena_array(arena, count + 1, sizeof *g->area),
                         .count = count,
                         .arena = arena};
    if (!g->cut || !g->fill || !g->area) return no_memory(error);
    mst_gradients_clear(g);
    return MST_OK;
}

void mst_gradients_clear(mst_gradients *g) {
    for (size_t i = 0; i < g->count; i++)
        g->cut[i] = g->fill[i] = g->area[i] = (mst_gradient_term){(uint32_t)i, 0, 0, 0};
    g->part_count = 0;
}

static void add_parts(mst_gradients *g, const mst_prism_parts *parts) {
    const mst_prism_parts **added = MST_PUSH(g->arena, g->parts, g->part_count, g->part_capacity);
    if (added) *added = parts;
    else g->failed = true;
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
    if (sum->parts) add_parts(g, sum->parts);
}

void mst_gradients_add(mst_gradients *to, const mst_gradients *from) {
    for (size_t i = 0; i < to->count; i++) {
        add_term(&to->cut[i], &from->cut[i]);
        add_term(&to->fill[i], &from->fill[i]);
        add_term(&to->area[i], &from->area[i]);
    }
    for (size_t i = 0; i < from->part_count; i++) add_parts(to, from->parts[i]);
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

/* The interval of a value from two independent sources, the second known from few points (degrees of freedom after
 * Welch and Satterthwaite; JCGM 100:2008, GUM, annex G.4). */
static mst_figure figure_of(double value, double shift, double readings, double between, double freedom) {
    double variance = readings + between;
    double share = variance > 0 ? between / variance : 0;
    double effective = share > 0 ? freedom / (share * share) : HUGE_VAL;
    double factor = effective < MANY ? mst_student_quantile(0.975, effective) : mst_normal_quantile(0.975);
    double half = factor * sqrt(variance);
    if (isnan(half)) return (mst_figure){value, NAN, NAN};
    return (mst_figure){value, fmin(value, value + shift - half), fmax(value, value + shift + half)};
}

mst_status mst_gradients_figures(const mst_gradients *g, double cut_m3, double fill_m3,
                                 const mst_adjustment *adjustment, mst_arena *arena, mst_figure figures[3],
                                 mst_error *error) {
    static const double mix[3][2] = {{1, 0}, {0, 1}, {1, -1}};
    mst_gradient_term *terms = mst_arena_array(arena, g->count + 1, sizeof *terms);
    mst_spread s = {0};
    if (!terms || g->failed) return no_memory(error);
    mst_status status = mst_parts_spread(g->parts, g->part_count, &s, error);
    if (status) return status;
    for (int k = 0; k < 3; k++) {
        double a = mix[k][0], b = mix[k][1], variance = 0;
        size_t count = combine(g, a, b, terms);
        status = count ? mst_adjustment_variance(adjustment, terms, count, &variance, error) : MST_OK;
        if (status) return status;
        double between = a * a * s.cut_m6 + 2 * a * b * s.cross_m6 + b * b * s.fill_m6;
        figures[k] = figure_of(a * cut_m3 + b * fill_m3, a * s.cut_shift_m3 + b * s.fill_shift_m3, variance,
                               fmax(between, 0), s.degrees_of_freedom);
        if (k < 2 && !isnan(figures[k].low)) figures[k].low = fmax(figures[k].low, 0);
    }
    return MST_OK;
}

mst_status mst_gradients_area(const mst_gradients *g, double area, const mst_adjustment *adjustment, mst_arena *arena,
                              mst_figure *figure, mst_error *error) {
    mst_gradient_term *terms = mst_arena_array(arena, g->count + 1, sizeof *terms);
    size_t count = 0;
    double variance = 0;
    if (!terms) return no_memory(error);
    for (size_t i = 0; i < g->count; i++)
        if (g->area[i].easting != 0 || g->area[i].northing != 0) terms[count++] = g->area[i];
    mst_status status = count ? mst_adjustment_variance(adjustment, terms, count, &variance, error) : MST_OK;
    if (status) return status;
    *figure = figure_of(area, 0, variance, 0, HUGE_VAL);
    figure->low = fmax(figure->low, 0);
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
