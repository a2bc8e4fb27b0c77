/* Paths of lines and arcs: length, area, flattening, curves, crossing, containment, chainage. */
#include "fuzz_helper.h"
#include "merestone/geometry.h"

enum { VERTICES_MAX = 64 };
static const double SAGITTA_M = 0.01;

static mst_path take_path(bytes *b, mst_path_vertex *vertices) {
    mst_path path = {.vertices = vertices, .closed = take(b) % 2};
    size_t count = take(b) % VERTICES_MAX;
    while (path.count < count) {
        mst_path_vertex *v = &vertices[path.count++];
        v->easting_m = take_number(b);
        v->northing_m = take_number(b);
        v->elevation_m = take(b) % 3 ? take_number(b) : NAN;
        uint8_t how = take(b);
        v->bulge = how < 128 ? 0 : how < 250 ? (how - 190) / 50.0 : take_number(b);
    }
    return path;
}

/* Sizes beyond any site may overflow; the promises below are for places that a page lets in and arcs that turn less
 * than once. */
static bool is_plausible(const mst_path *path) {
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *v = &path->vertices[i];
        if (!(fabs(v->easting_m) < 2.1e7 && fabs(v->northing_m) < 2.1e7 && fabs(v->bulge) < 100)) return false;
    }
    return true;
}

static double chords(const mst_path *path) {
    double sum = 0;
    size_t spans = path->count ? path->count - 1 + path->closed : 0;
    for (size_t i = 0; i < spans; i++) {
        const mst_path_vertex *a = &path->vertices[i], *c = &path->vertices[(i + 1) % path->count];
        sum += hypot(c->easting_m - a->easting_m, c->northing_m - a->northing_m);
    }
    return sum;
}

static void flattens(const mst_path *path, mst_arena *arena) {
    mst_path flat = {0};
    mst_error error = {0};
    mst_status status = mst_path_flatten(path, SAGITTA_M, arena, &flat, &error);
    must_say_why(status, &error);
    if (status || !is_plausible(path)) return;
    MUST(flat.count >= path->count && flat.closed == path->closed);
    double length = mst_path_length(path), flat_length = mst_path_length(&flat);
    double rounding = 1e-6 * (1 + length);
    MUST(flat_length <= length + rounding);
    size_t at = 0;
    for (size_t i = 0; i < path->count; i++) { /* the path's own vertices stay, in order */
        while (at < flat.count && !(flat.vertices[at].easting_m == path->vertices[i].easting_m &&
                                    flat.vertices[at].northing_m == path->vertices[i].northing_m))
            at++;
        MUST(at < flat.count);
    }
    for (size_t i = 0; i < flat.count; i++) MUST(flat.vertices[i].bulge == 0);
    if (path->closed && path->count)
        MUST(fabs(mst_path_area(path) - mst_path_area(&flat)) <= SAGITTA_M * length + rounding * 1e4);
}

static void measures(const mst_path *path) {
    double length = mst_path_length(path), slope = mst_path_slope_length(path);
    double area = mst_path_area(path), bearing;
    mst_point where;
    mst_point3 point;
    (void)area;
    mst_path_crosses_itself(path, &where);
    if (!is_plausible(path)) return;
    MUST(isfinite(length) && length >= 0 && length >= chords(path) - 1e-9 * (1 + length));
    MUST(isnan(slope) || slope >= length - 1e-9 * (1 + length));
    MUST(isfinite(area));
    MUST(!mst_path_at(path, -1, &point, &bearing) && !mst_path_at(path, length + 1 + length * 1e-9, &point, &bearing));
    if (path->count >= 2 && length > 0) {
        MUST(mst_path_at(path, length / 2, &point, &bearing));
        MUST(isfinite(point.easting_m) && isfinite(point.northing_m) && bearing >= 0 && bearing < 2 * MST_PI);
    }
}

static void curves(const mst_path *path, mst_arena *arena) {
    mst_point3 points[VERTICES_MAX];
    mst_path curve = {0};
    mst_error error = {0};
    for (size_t i = 0; i < path->count; i++)
        points[i] =
            (mst_point3){path->vertices[i].easting_m, path->vertices[i].northing_m, path->vertices[i].elevation_m};
    mst_status status = mst_path_curve(points, path->count, path->closed, arena, &curve, &error);
    must_say_why(status, &error);
    if (status || !is_plausible(path)) return;
    for (size_t i = 0; i < curve.count; i++)
        MUST(isfinite(curve.vertices[i].easting_m) && isfinite(curve.vertices[i].northing_m) &&
             isfinite(curve.vertices[i].bulge));
    MUST(mst_path_length(&curve) >= chords(path) * (1 - 1e-9) - 1e-9);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_path_vertex vertices[2][VERTICES_MAX];
    mst_path paths[2] = {take_path(&b, vertices[0]), take_path(&b, vertices[1])};
    measures(&paths[0]);
    flattens(&paths[0], arena);
    curves(&paths[0], arena);
    paths[0].closed = paths[1].closed = true;
    mst_shape shape = {paths, paths[1].count ? 2 : 1};
    if (paths[0].count) {
        double area = mst_shape_area(&shape);
        if (is_plausible(&paths[0]) && is_plausible(&paths[1])) MUST(area >= 0);
        mst_shape_length(&shape);
        mst_shape_contains(&shape, (mst_point){take_number(&b), take_number(&b)});
    }
    mst_arena_free(arena);
    return 0;
}
