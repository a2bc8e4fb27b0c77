/* mst_ground_build and mst_ground_from_triangles, and every question to a ground: levels, contours, profiles, rims,
 * volumes against a plane and against another ground, slope area. */
#include "fuzz_helper.h"
#include "merestone/ground.h"

enum { POINTS_MAX = 40, LINES_MAX = 6, LINE_POINTS_MAX = 8, RING_MAX = 8, FACES_MAX = 60 };

typedef struct places {
    mst_ground_point points[POINTS_MAX];
    size_t count;
} places;

static void take_places(bytes *b, places *p) {
    p->count = take(b) % POINTS_MAX;
    for (size_t i = 0; i < p->count; i++)
        p->points[i] =
            (mst_ground_point){take_number(b), take_number(b), take(b) % 8 ? take_number(b) : NAN, (uint32_t)i};
}

static mst_shape take_ring(bytes *b, mst_path *path, mst_path_vertex vertices[RING_MAX]) {
    *path = (mst_path){vertices, take(b) % RING_MAX, true};
    for (size_t i = 0; i < path->count; i++) {
        vertices[i] = (mst_path_vertex){take_number(b), take_number(b), NAN, 0};
        if (take(b) > 200) vertices[i].bulge = (take(b) - 128) / 64.0;
    }
    /* an arc of hundreds of kilometres is a hundred thousand pieces, which only takes time */
    for (size_t i = 0; i < path->count; i++)
        if (!(fabs(vertices[i].easting_m) + fabs(vertices[i].northing_m) < 2000))
            for (size_t k = 0; k < path->count; k++) vertices[k].bulge = 0;
    return (mst_shape){path, 1};
}

static bool is_plausible(const mst_ground *ground) {
    size_t count;
    const mst_ground_point *v = mst_ground_vertices(ground, &count);
    for (size_t i = 0; i < count; i++)
        if (!(fabs(v[i].easting_m) < 1e6 && fabs(v[i].northing_m) < 1e6 && fabs(v[i].elevation_m) < 2e4)) return false;
    return true;
}

static void figures_hold(const mst_ground *ground) {
    mst_ground_figures f;
    mst_ground_describe(ground, &f);
    MUST(f.triangles > 0 && f.lowest_m <= f.highest_m && f.plan_area_m2 > 0);
    if (is_plausible(ground)) MUST(f.slope_area_m2 >= f.plan_area_m2 * (1 - 1e-9));
    for (size_t i = 0; i < f.warning_count; i++) MUST(f.warnings[i] && is_utf8(f.warnings[i]));
    size_t count, vertices;
    const uint32_t(*t)[3] = mst_ground_triangles(ground, &count);
    const mst_ground_point *v = mst_ground_vertices(ground, &vertices);
    MUST(count == f.triangles);
    double area = 0;
    for (size_t i = 0; i < count; i++) {
        for (int c = 0; c < 3; c++) MUST(t[i][c] < vertices && isfinite(v[t[i][c]].elevation_m));
        const mst_ground_point *p = &v[t[i][0]], *q = &v[t[i][1]], *r = &v[t[i][2]];
        area += ((q->easting_m - p->easting_m) * (r->northing_m - p->northing_m) -
                 (q->northing_m - p->northing_m) * (r->easting_m - p->easting_m)) /
                2;
    }
    if (is_plausible(ground)) MUST(fabs(area - f.plan_area_m2) <= 1e-6 * (1 + area));
}

static void levels_hold(const mst_ground *ground, bytes *b) {
    mst_ground_figures f;
    mst_ground_level level;
    mst_ground_describe(ground, &f);
    size_t count;
    const uint32_t(*t)[3] = mst_ground_triangles(ground, &count);
    const mst_ground_point *v = mst_ground_vertices(ground, &count);
    if (!is_plausible(ground)) return;
    mst_point middle = {(v[t[0][0]].easting_m + v[t[0][1]].easting_m + v[t[0][2]].easting_m) / 3,
                        (v[t[0][0]].northing_m + v[t[0][1]].northing_m + v[t[0][2]].northing_m) / 3};
    mst_point places[] = {{take_number(b), take_number(b)}, {v[t[0][0]].easting_m, v[t[0][0]].northing_m}, middle};
    for (int i = 0; i < 3; i++) {
        if (!mst_ground_level_at(ground, places[i], &level)) {
            MUST(i != 1);
            continue;
        }
        double slack = 1e-6 * (1 + fabs(f.highest_m) + fabs(f.lowest_m));
        MUST(level.elevation_m >= f.lowest_m - slack && level.elevation_m <= f.highest_m + slack && level.slope >= 0);
        MUST(level.term_count <= MST_GROUND_TERMS);
        double weights = 0;
        for (size_t k = 0; k < level.term_count; k++) weights += level.terms[k].elevation;
        (void)weights;
    }
}

static void lines_hold(const mst_ground *ground, const mst_path *path, double interval, mst_arena *arena) {
    mst_contour *contours = NULL;
    mst_profile_point *profile = NULL;
    mst_path *rims = NULL;
    size_t count = 0;
    mst_error error = {0};
    mst_status status = mst_ground_contours(ground, interval, arena, &contours, &count, &error);
    must_say_why(status, &error);
    for (size_t i = 0; !status && i < count; i++) {
        MUST(contours[i].count >= 2 && isfinite(contours[i].level_m));
        for (size_t k = 0; k < contours[i].count; k++)
            MUST(isfinite(contours[i].points[k][0]) && isfinite(contours[i].points[k][1]));
    }
    status = mst_ground_profile(ground, path, arena, &profile, &count, &error);
    must_say_why(status, &error);
    for (size_t i = 1; !status && i < count; i++) MUST(profile[i].chainage_m >= profile[i - 1].chainage_m);
    status = mst_ground_rims(ground, arena, &rims, &count, &error);
    must_say_why(status, &error);
    if (!status) MUST(count > 0);
}

static void volumes_hold(const mst_ground *ground, const mst_ground *other, const mst_shape *shape, double level,
                         mst_arena *arena) {
    mst_prism_sum sum = {0}, there = {0}, back = {0};
    mst_error error = {0};
    const mst_plane plane = {0, 0, level, 0.01, -0.02};
    mst_status status = mst_ground_to_plane(ground, shape, &plane, 0.1, arena, &sum, &error);
    must_say_why(status, &error);
    bool plausible = is_plausible(ground) && (!other || is_plausible(other));
    for (size_t i = 0; i < shape->paths[0].count; i++)
        plausible &=
            fabs(shape->paths[0].vertices[i].easting_m) < 1e6 && fabs(shape->paths[0].vertices[i].northing_m) < 1e6;
    if (!status && plausible)
        MUST(sum.cut_m3 >= 0 && sum.fill_m3 >= 0 && sum.area_m2 >= 0 && sum.uncovered_m2 >= -1e-6);
    double slope_area, covered;
    status = mst_ground_slope_area(ground, shape, arena, &slope_area, &covered, &error);
    must_say_why(status, &error);
    if (!status && plausible) MUST(slope_area >= covered * (1 - 1e-9) - 1e-9 && covered >= 0);
    if (!other) return;
    status = mst_ground_to_ground(ground, other, NULL, arena, &there, NULL, &error);
    must_say_why(status, &error);
    mst_status again = mst_ground_to_ground(other, ground, NULL, arena, &back, NULL, &error);
    MUST(status == again);
    if (status || !plausible) return;
    double size = 1e-6 * (1 + there.area_m2 * 2e4); /* cut one way is fill the other way */
    MUST(fabs(there.cut_m3 - back.fill_m3) <= size && fabs(there.fill_m3 - back.cut_m3) <= size);
}

static mst_ground *build(bytes *b, mst_arena *arena) {
    places p;
    uint32_t indices[LINES_MAX][LINE_POINTS_MAX];
    mst_ground_line lines[LINES_MAX];
    mst_path paths[2];
    mst_path_vertex vertices[2][RING_MAX];
    take_places(b, &p);
    mst_ground_input input = {
        .points = p.points, .point_count = p.count, .breaklines = lines, .breakline_count = take(b) % LINES_MAX};
    for (size_t i = 0; i < input.breakline_count; i++) {
        lines[i] = (mst_ground_line){"line", indices[i], take(b) % LINE_POINTS_MAX, take(b) % 2};
        for (size_t k = 0; k < lines[i].count; k++) indices[i][k] = take(b) % (uint32_t)(p.count + 1);
    }
    uint8_t how = take(b);
    mst_shape boundary = take_ring(b, &paths[0], vertices[0]), hole = take_ring(b, &paths[1], vertices[1]);
    if (how % 2) input.boundary = &boundary;
    if (how % 4 > 1) input.holes = &hole, input.hole_count = 1;
    if (how % 16 > 11) input.merge_m = 0.5;
    if (how % 32 > 15) input.merge_height_m = 200;
    mst_ground *ground = NULL;
    mst_error error = {0};
    mst_status status = mst_ground_build(&input, arena, &ground, &error);
    must_say_why(status, &error);
    return status ? NULL : ground;
}

static mst_ground *from_faces(bytes *b, mst_arena *arena) {
    places p;
    uint32_t faces[FACES_MAX][3];
    take_places(b, &p);
    size_t count = take(b) % FACES_MAX;
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < 3; c++) faces[i][c] = take(b) % (uint32_t)(p.count + 1);
    mst_ground *ground = NULL;
    mst_error error = {0};
    mst_status status =
        mst_ground_from_triangles(p.points, p.count, (const uint32_t(*)[3])faces, count, arena, &ground, &error);
    must_say_why(status, &error);
    return status ? NULL : ground;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_path path;
    mst_path_vertex vertices[RING_MAX];
    mst_shape shape = take_ring(&b, &path, vertices);
    double interval = take(&b) / 16.0, level = take_number(&b);
    bool faces = take(&b) % 4 == 0;
    mst_ground *ground = faces ? from_faces(&b, arena) : build(&b, arena);
    mst_ground *other = ground ? build(&b, arena) : NULL;
    if (ground) {
        if (!faces) figures_hold(ground);
        levels_hold(ground, &b);
        lines_hold(ground, &path, interval, arena);
        volumes_hold(ground, faces ? NULL : other, &shape, level, arena);
    }
    mst_arena_free(arena);
    return 0;
}
