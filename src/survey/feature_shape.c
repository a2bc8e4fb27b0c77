/* Features: from names to paths of lines and arcs. The points give the shape, so a moved point moves all that hangs on
 * it; arcs keep their middle point, with its level, as a joint. */
#include "survey/feature_shape.h"
#include <math.h>
#include <string.h>

static const double FLAT = 1e-7; /* tangent of a quarter arc: 1 um aside on a chord of 20 m is rounding, no arc */

/* One ring: its places in order and how the path reaches each. Closed: [0] is reached from the last. */
typedef struct ring {
    const mst_feature *feature;
    mst_point3 *place;
    mst_edge_kind *edge;
    const char **name;
    size_t count;
    bool closed;
    mst_arena *arena;
    mst_path_vertex *out;
    size_t out_count, out_capacity;
    mst_error *error;
} ring;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for a feature.");
}

static mst_status emit(ring *r, mst_point3 at, double bulge) {
    mst_path_vertex *v = MST_PUSH(r->arena, r->out, r->out_count, r->out_capacity);
    if (!v) return no_memory(r->error);
    *v = (mst_path_vertex){at.easting_m, at.northing_m, at.elevation_m, bulge};
    return MST_OK;
}

/* Half of the angle at `at` between two others: a quarter of the arc between them, as angles on a circle go. */
static double quarter_arc(mst_point3 at, mst_point3 a, mst_point3 b) {
    double ae = a.easting_m - at.easting_m, an = a.northing_m - at.northing_m;
    double be = b.easting_m - at.easting_m, bn = b.northing_m - at.northing_m;
    return atan2(ae * bn - an * be, ae * be + an * bn) / 2;
}

static mst_status emit_arc(ring *r, size_t from, size_t middle, size_t end) {
    mst_point3 a = r->place[from], m = r->place[middle], b = r->place[end];
    double first = tan(quarter_arc(b, a, m)), second = tan(quarter_arc(a, m, b));
    double chord = hypot(b.easting_m - a.easting_m, b.northing_m - a.northing_m);
    if (!(chord > 0) || !(fabs(first) > FLAT) || !(fabs(second) > FLAT) || !isfinite(first) || !isfinite(second))
        return mst_fail_at(r->error, MST_INVALID, r->feature->page, 0, 0,
                           "The arc of '%s' from %s through %s to %s lies on one line; make its edges straight.",
                           r->feature->name, r->name[from], r->name[middle], r->name[end]);
    mst_status status = emit(r, a, first);
    return status ? status : emit(r, m, second);
}

/* A run of curve edges from place `from` over `spans` spans; its last place is left to what follows. */
static mst_status emit_curve(ring *r, size_t from, size_t spans, bool whole) {
    size_t count = whole ? r->count : spans + 1;
    mst_point3 *points = mst_arena_array(r->arena, count, sizeof *points);
    if (!points) return no_memory(r->error);
    for (size_t i = 0; i < count; i++) points[i] = r->place[(from + i) % r->count];
    mst_path path;
    mst_status status = mst_path_curve(points, count, whole, r->arena, &path, r->error);
    for (size_t i = 0; !status && i + (whole ? 0 : 1) < path.count; i++) {
        const mst_path_vertex *v = &path.vertices[i];
        status = emit(r, (mst_point3){v->easting_m, v->northing_m, v->elevation_m}, v->bulge);
    }
    return status;
}

/* All points on one circle, drawn as two halves from the side of the first point. The level is their mean. */
static mst_status emit_circle(ring *r) {
    mst_point *points = mst_arena_array(r->arena, r->count, sizeof *points);
    if (!points) return no_memory(r->error);
    double level = 0;
    for (size_t i = 0; i < r->count; i++) {
        points[i] = (mst_point){r->place[i].easting_m, r->place[i].northing_m};
        level += r->place[i].elevation_m / (double)r->count;
    }
    mst_circle c;
    mst_status status = mst_circle_fit(points, r->count, &c, r->error);
    if (status) return status;
    double e = points[0].easting_m - c.centre.easting_m, n = points[0].northing_m - c.centre.northing_m,
           d = hypot(e, n);
    if (!(d > 0)) e = 1, n = 0, d = 1;
    e *= c.radius_m / d;
    n *= c.radius_m / d;
    r->closed = true;
    status = emit(r, (mst_point3){c.centre.easting_m + e, c.centre.northing_m + n, level}, 1);
    return status ? status : emit(r, (mst_point3){c.centre.easting_m - e, c.centre.northing_m - n, level}, 1);
}

/* Where to start so that no run of curve edges is cut: at 0, or where a run begins. */
static size_t start_of(const ring *r, bool *all_curve) {
    *all_curve = r->closed;
    for (size_t i = 0; i < r->count; i++) *all_curve &= r->edge[i] == MST_EDGE_CURVE;
    if (*all_curve || !r->closed || r->edge[0] != MST_EDGE_CURVE || r->edge[1 % r->count] != MST_EDGE_CURVE) return 0;
    for (size_t i = 0; i < r->count; i++)
        if (r->edge[i] != MST_EDGE_CURVE && r->edge[(i + 1) % r->count] == MST_EDGE_CURVE) return i;
    return 0;
}

static mst_status emit_ring(ring *r) {
    bool all_curve, circle = false;
    for (size_t i = 0; i < r->count; i++) circle |= r->edge[i] == MST_EDGE_CIRCLE;
    if (circle) return emit_circle(r);
    size_t start = start_of(r, &all_curve), spans = r->closed ? r->count : r->count - 1, done = 0;
    if (all_curve) return emit_curve(r, 0, r->count, true);
    mst_status status = MST_OK;
    while (!status && done < spans) {
        size_t here = (start + done) % r->count, next = (here + 1) % r->count, run = 1;
        if (r->edge[next] == MST_EDGE_ARC) {
            run = 2;
            if (done + run > spans || r->edge[(here + 2) % r->count] != MST_EDGE_ARC)
                return mst_fail_at(r->error, MST_INVALID, r->feature->page, 0, 0,
                                   "An arc of '%s' through %s has no end: give one point on the arc and then its end.",
                                   r->feature->name, r->name[next]);
            status = emit_arc(r, here, next, (here + 2) % r->count);
        } else if (r->edge[next] == MST_EDGE_CURVE) {
            while (done + run < spans && r->edge[(here + run + 1) % r->count] == MST_EDGE_CURVE) run++;
            status = emit_curve(r, here, run, false);
        } else {
            status = emit(r, r->place[here], 0);
        }
        done += run;
    }
    if (!status && !r->closed) status = emit(r, r->place[r->count - 1], 0);
    return status;
}

/* ---- rings of a feature ---- */

static mst_status load_ring(ring *r, const mst_vertex v[], const mst_point3 places[], size_t count) {
    r->place = mst_arena_array(r->arena, count, sizeof *r->place);
    r->edge = mst_arena_array(r->arena, count, sizeof *r->edge);
    r->name = mst_arena_array(r->arena, count, sizeof *r->name);
    if (!r->place || !r->edge || !r->name) return no_memory(r->error);
    for (size_t i = 0; i < count; i++) {
        r->place[i] = places[i];
        r->edge[i] = v[i].edge;
        r->name[i] = v[i].point;
    }
    r->count = count;
    r->closed = r->feature->kind == MST_FEATURE_AREA;
    if (r->feature->kind == MST_FEATURE_LINE && count > 2 && strcmp(v[0].point, v[count - 1].point) == 0) {
        r->edge[0] = v[count - 1].edge; /* a line that comes back: its last row says how */
        r->count--;
        r->closed = true;
    }
    return MST_OK;
}

mst_status mst_feature_shape_at(const mst_feature *feature, const mst_point3 places[], mst_arena *arena,
                                mst_shape *shape, mst_error *error) {
    size_t rings = 0;
    for (size_t i = 0; i < feature->vertex_count; i++)
        rings += i == 0 || feature->vertices[i].ring != feature->vertices[i - 1].ring;
    mst_shape made = {mst_arena_array(arena, rings, sizeof *made.paths), 0};
    if (!made.paths) return no_memory(error);
    for (size_t start = 0, end; start < feature->vertex_count; start = end) {
        for (end = start; end < feature->vertex_count && feature->vertices[end].ring == feature->vertices[start].ring;)
            end++;
        ring r = {.feature = feature, .arena = arena, .error = error};
        mst_status status = load_ring(&r, feature->vertices + start, places + start, end - start);
        if (!status && feature->kind != MST_FEATURE_SPOT) status = emit_ring(&r);
        for (size_t i = 0; !status && feature->kind == MST_FEATURE_SPOT && i < r.count; i++)
            status = emit(&r, r.place[i], 0);
        if (status) return status;
        made.paths[made.count++] = (mst_path){r.out, r.out_count, r.closed};
    }
    *shape = made;
    return MST_OK;
}

static const char *why_undetermined(const mst_adjustment *adjustment, const char *name) {
    for (size_t i = 0; i < adjustment->undetermined_count; i++)
        if (strcmp(adjustment->undetermined[i], name) == 0) return adjustment->undetermined_why[i];
    return "it was never measured in plan";
}

mst_status mst_feature_places(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                              mst_point3 **places, uint32_t **points, mst_error *error) {
    mst_point3 *at = mst_arena_array(arena, feature->vertex_count + 1, sizeof *at);
    uint32_t *index = mst_arena_array(arena, feature->vertex_count + 1, sizeof *index);
    if (!at || !index) return no_memory(error);
    if (feature->vertex_count == 0) return mst_fail(error, MST_TOO_FEW, "Feature '%s' has no points.", feature->name);
    for (size_t i = 0; i < feature->vertex_count; i++) {
        const mst_vertex *v = &feature->vertices[i];
        index[i] = mst_index_get(&adjustment->index, v->point);
        if (index[i] == UINT32_MAX)
            return mst_fail_at(error, MST_UNDETERMINED, feature->page, v->line, 0,
                               "Point '%s' of feature '%s' has not been measured.", v->point, feature->name);
        const mst_adjusted_point *p = &adjustment->points[index[i]];
        if (!p->has_plan)
            return mst_fail_at(error, MST_UNDETERMINED, feature->page, v->line, 0,
                               "Point '%s' of feature '%s' has no place: %s.", v->point, feature->name,
                               why_undetermined(adjustment, v->point));
        at[i] = (mst_point3){p->easting_m, p->northing_m, p->elevation_m};
    }
    *places = at;
    *points = index;
    return MST_OK;
}

mst_status mst_feature_shape(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                             mst_shape *shape, mst_error *error) {
    mst_point3 *places;
    uint32_t *points;
    mst_status status = mst_feature_places(feature, adjustment, arena, &places, &points, error);
    return status ? status : mst_feature_shape_at(feature, places, arena, shape, error);
}
