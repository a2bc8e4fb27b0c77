/* Length, slope length and area of a feature with 95 % intervals: each figure's derivative by every point's
 * coordinates, carried through the covariances of the adjustment, so that what the points have in common cancels where
 * it should. */
#include "survey/feature_shape.h"
#include <math.h>
#include <string.h>

static const double TWO_SIDED_95 = 1.959963984540054; /* normal quantile */
static const double NUDGE_M = 1e-3; /* central differences: rounding and curvature both stay below 1e-6 of the result */

enum { LENGTH, SLOPE_LENGTH, AREA, FIGURES };

typedef struct measuring {
    const mst_feature *feature;
    const mst_adjustment *adjustment;
    mst_arena *arena;
    mst_point3 *places;
    uint32_t *points;
    mst_gradient_term *terms[FIGURES];
    mst_error *error;
} measuring;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for measuring a feature.");
}

/* ---- straight edges: derivatives in closed form ---- */

static bool is_straight(const mst_feature *feature) {
    for (size_t i = 0; i < feature->vertex_count; i++)
        if (feature->vertices[i].edge != MST_EDGE_STRAIGHT) return false;
    return true;
}

static void add_edge(measuring *m, size_t a, size_t b) {
    mst_point3 p = m->places[a], q = m->places[b];
    double e = q.easting_m - p.easting_m, n = q.northing_m - p.northing_m, h = q.elevation_m - p.elevation_m;
    double d = hypot(e, n), s = hypot(d, h), by_e = d > 0 ? e / d : 0, by_n = d > 0 ? n / d : 0;
    m->terms[LENGTH][a].easting -= by_e;
    m->terms[LENGTH][a].northing -= by_n;
    m->terms[LENGTH][b].easting += by_e;
    m->terms[LENGTH][b].northing += by_n;
    if (!(s > 0)) return;
    mst_gradient_term *from = &m->terms[SLOPE_LENGTH][a], *to = &m->terms[SLOPE_LENGTH][b];
    from->easting -= e / s, from->northing -= n / s, from->elevation -= h / s;
    to->easting += e / s, to->northing += n / s, to->elevation += h / s;
}

/* Of the surveyor's formula; a hole counts against the outline whichever way round it runs. */
static void add_area(measuring *m, size_t start, size_t end, double sign) {
    double area = 0;
    size_t count = end - start;
    for (size_t i = 0; i < count; i++) {
        mst_point3 a = m->places[start + i], b = m->places[start + (i + 1) % count], o = m->places[start];
        area += (a.easting_m - o.easting_m) * (b.northing_m - o.northing_m) -
                (b.easting_m - o.easting_m) * (a.northing_m - o.northing_m);
    }
    double half = area < 0 ? -sign / 2 : sign / 2;
    for (size_t i = 0; i < count; i++) {
        mst_point3 before = m->places[start + (i + count - 1) % count], after = m->places[start + (i + 1) % count];
        m->terms[AREA][start + i].easting += half * (after.northing_m - before.northing_m);
        m->terms[AREA][start + i].northing -= half * (after.easting_m - before.easting_m);
    }
}

static void straight_derivatives(measuring *m) {
    const mst_feature *f = m->feature;
    for (size_t start = 0, end; start < f->vertex_count; start = end) {
        for (end = start; end < f->vertex_count && f->vertices[end].ring == f->vertices[start].ring;) end++;
        for (size_t i = start; start == 0 && i + 1 < end; i++) add_edge(m, i, i + 1);
        if (f->kind != MST_FEATURE_AREA) continue;
        if (start == 0) add_edge(m, end - 1, start);
        add_area(m, start, end, start == 0 ? 1 : -1);
    }
}

/* ---- arcs and curves: derivatives by small moves of the whole ---- */

static mst_status figures_at(const measuring *m, double figure[FIGURES]) {
    mst_arena *scratch = mst_arena_new();
    if (!scratch) return no_memory(m->error);
    mst_shape shape;
    mst_status status = mst_feature_shape_at(m->feature, m->places, scratch, &shape, m->error);
    if (!status) {
        bool spot = m->feature->kind == MST_FEATURE_SPOT, area = m->feature->kind == MST_FEATURE_AREA;
        figure[LENGTH] = spot ? NAN : mst_shape_length(&shape);
        figure[SLOPE_LENGTH] = spot ? NAN : mst_path_slope_length(&shape.paths[0]);
        figure[AREA] = area ? mst_shape_area(&shape) : NAN;
    }
    mst_arena_free(scratch);
    return status;
}

/* Moves every vertex that is this point along one axis. */
static void nudge(measuring *m, size_t vertex, int axis, double by) {
    for (size_t i = vertex; i < m->feature->vertex_count; i++) {
        if (m->points[i] != m->points[vertex]) continue;
        if (axis == 0) m->places[i].easting_m += by;
        if (axis == 1) m->places[i].northing_m += by;
        if (axis == 2) m->places[i].elevation_m += by;
    }
}

static bool stands_earlier(const measuring *m, size_t vertex) {
    for (size_t i = 0; i < vertex; i++)
        if (m->points[i] == m->points[vertex]) return true;
    return false;
}

static mst_status nudged_derivatives(measuring *m) {
    mst_point3 *kept = mst_arena_array(m->arena, m->feature->vertex_count, sizeof *kept);
    if (!kept) return no_memory(m->error);
    memcpy(kept, m->places, m->feature->vertex_count * sizeof *kept);
    for (size_t v = 0; v < m->feature->vertex_count; v++) {
        if (stands_earlier(m, v)) continue;
        for (int axis = 0; axis < 3; axis++) {
            double up[FIGURES], down[FIGURES];
            nudge(m, v, axis, NUDGE_M);
            mst_status status = figures_at(m, up);
            nudge(m, v, axis, -2 * NUDGE_M);
            if (!status) status = figures_at(m, down);
            memcpy(m->places, kept, m->feature->vertex_count * sizeof *kept);
            if (status) return status;
            for (int k = 0; k < FIGURES; k++) {
                double slope = (up[k] - down[k]) / (2 * NUDGE_M);
                if (isnan(slope)) slope = 0;
                if (axis == 0) m->terms[k][v].easting = slope;
                if (axis == 1) m->terms[k][v].northing = slope;
                if (axis == 2) m->terms[k][v].elevation = slope;
            }
        }
    }
    return MST_OK;
}

/* ---- figures ---- */

static mst_status give_figure(const measuring *m, int which, double value, mst_figure *figure) {
    *figure = (mst_figure){value, NAN, NAN};
    if (isnan(value)) return MST_OK;
    double variance;
    mst_status status =
        mst_adjustment_variance(m->adjustment, m->terms[which], m->feature->vertex_count, &variance, m->error);
    if (status) return status;
    double half = TWO_SIDED_95 * sqrt(variance);
    *figure = (mst_figure){value, fmax(value - half, 0), value + half};
    return MST_OK;
}

mst_status mst_feature_measure(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                               mst_measure *measure, mst_error *error) {
    measuring m = {.feature = feature, .adjustment = adjustment, .arena = arena, .error = error};
    mst_status status = mst_feature_places(feature, adjustment, arena, &m.places, &m.points, error);
    if (status) return status;
    for (int k = 0; k < FIGURES; k++) {
        m.terms[k] = mst_arena_array(arena, feature->vertex_count, sizeof *m.terms[k]);
        if (!m.terms[k]) return no_memory(error);
        for (size_t i = 0; i < feature->vertex_count; i++) m.terms[k][i].point = m.points[i];
    }
    double figure[FIGURES];
    status = figures_at(&m, figure);
    if (!status && is_straight(feature)) straight_derivatives(&m);
    else if (!status) status = nudged_derivatives(&m);
    mst_measure made;
    if (!status) status = give_figure(&m, LENGTH, figure[LENGTH], &made.length_m);
    if (!status && isnan(figure[SLOPE_LENGTH])) made.slope_length_m = (mst_figure){NAN, NAN, NAN};
    else if (!status) status = give_figure(&m, SLOPE_LENGTH, figure[SLOPE_LENGTH], &made.slope_length_m);
    if (!status) status = give_figure(&m, AREA, figure[AREA], &made.area_m2);
    if (!status) *measure = made;
    return status;
}
