/* Water as it is drawn: where it stands, and the ways that it takes. */
#include "operations/operation.h"
#include <math.h>

/* ---- standing water ---- */

/* Triangles about each vertex: those of vertex v are list[first[v]] .. list[first[v + 1] - 1]. */
typedef struct fans {
    uint32_t *first, *list;
} fans;

static mst_status fans_of(const mst_ground *ground, mst_arena *arena, fans *f, mst_error *error) {
    size_t vertex_count, count;
    (void)mst_ground_vertices(ground, &vertex_count);
    const uint32_t(*t)[3] = mst_ground_triangles(ground, &count);
    f->first = mst_arena_array(arena, vertex_count + 2, sizeof *f->first);
    f->list = mst_arena_array(arena, 3 * count + 1, sizeof *f->list);
    if (!f->first || !f->list) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the water.");
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < 3; c++) f->first[t[i][c] + 2]++;
    for (size_t v = 2; v <= vertex_count + 1; v++) f->first[v] += f->first[v - 1];
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < 3; c++) f->list[f->first[t[i][c] + 1]++] = (uint32_t)i;
    return MST_OK;
}

static void append_place(json_t *list, mst_point p) {
    json_array_append_new(list, json_real(p.easting_m));
    json_array_append_new(list, json_real(p.northing_m));
}

static mst_point between_at(const mst_ground_point *a, const mst_ground_point *b, double level_m) {
    double k = (level_m - a->elevation_m) / (b->elevation_m - a->elevation_m);
    return (mst_point){a->easting_m + k * (b->easting_m - a->easting_m),
                       a->northing_m + k * (b->northing_m - a->northing_m)};
}

/* The part of a triangle below the water, and its shore. */
static void wet_part(const mst_ground_point *const corner[3], double level_m, json_t *rings, json_t *shore) {
    json_t *ring = json_array();
    for (int c = 0; c < 3; c++) {
        const mst_ground_point *a = corner[c], *b = corner[(c + 1) % 3];
        bool wet_a = a->elevation_m < level_m, wet_b = b->elevation_m < level_m;
        if (wet_a) append_place(ring, (mst_point){a->easting_m, a->northing_m});
        if (wet_a == wet_b) continue;
        mst_point p = between_at(a, b, level_m);
        append_place(ring, p);
        append_place(shore, p);
    }
    json_array_append_new(rings, ring);
}

mst_status mst_pond_json(const mst_ground *ground, const mst_low_spot *spot, mst_arena *arena, json_t *pond,
                         mst_error *error) {
    size_t vertex_count, count, waiting = 0;
    const mst_ground_point *v = mst_ground_vertices(ground, &vertex_count);
    const uint32_t(*t)[3] = mst_ground_triangles(ground, &count);
    fans f;
    mst_status status = fans_of(ground, arena, &f, error);
    bool *seen_vertex = mst_arena_array(arena, vertex_count + 1, sizeof *seen_vertex),
         *seen = mst_arena_array(arena, count + 1, sizeof *seen);
    uint32_t *stack = mst_arena_array(arena, vertex_count + 1, sizeof *stack);
    if (status) return status;
    if (!seen_vertex || !seen || !stack) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the water.");
    json_t *rings = json_array(), *shore = json_array();
    stack[waiting++] = spot->bottom_vertex;
    seen_vertex[spot->bottom_vertex] = true;
    while (waiting) {
        uint32_t at = stack[--waiting];
        for (uint32_t k = f.first[at]; k < f.first[at + 1]; k++) {
            const uint32_t i = f.list[k];
            if (seen[i]) continue;
            seen[i] = true;
            const mst_ground_point *const corner[3] = {&v[t[i][0]], &v[t[i][1]], &v[t[i][2]]};
            wet_part(corner, spot->spill_m, rings, shore);
            for (int c = 0; c < 3; c++) {
                uint32_t next = t[i][c];
                if (seen_vertex[next] || !(v[next].elevation_m < spot->spill_m)) continue;
                seen_vertex[next] = true;
                stack[waiting++] = next;
            }
        }
    }
    json_object_set_new(pond, "wet", rings);
    json_object_set_new(pond, "shore", shore);
    return MST_OK;
}

/* ---- ways ---- */

static mst_status way_json(const mst_water *water, mst_point from, mst_arena *arena, json_t *ways, mst_error *error) {
    mst_path path;
    mst_error why = {0};
    mst_status status = mst_water_path(water, from, arena, &path, &why);
    if (status == MST_NO) return MST_OK; /* a hole or beyond the rim: no drop falls there */
    if (status) return mst_fail(error, status, "%s", why.sentence);
    if (path.count < 2) return MST_OK;
    json_t *way = json_array();
    for (size_t i = 0; i < path.count; i++)
        append_place(way, (mst_point){path.vertices[i].easting_m, path.vertices[i].northing_m});
    json_array_append_new(ways, way);
    return MST_OK;
}

mst_status mst_ways_json(const mst_ground *ground, const mst_water *water, size_t most, mst_arena *arena, json_t **ways,
                         mst_error *error) {
    mst_shape frame;
    mst_status status = mst_ground_frame(ground, arena, &frame, error);
    if (status) return status;
    const mst_path_vertex *corner = frame.paths[0].vertices;
    double wide = fabs(corner[2].easting_m - corner[0].easting_m),
           high = fabs(corner[2].northing_m - corner[0].northing_m);
    double west = fmin(corner[0].easting_m, corner[2].easting_m),
           south = fmin(corner[0].northing_m, corner[2].northing_m);
    const double step = fmax(sqrt(wide * high / (double)most), 1e-3);
    const int columns = (int)floor(wide / step), rows = (int)floor(high / step);
    *ways = json_array();
    for (int y = 0; y < rows && !status; y++)
        for (int x = 0; x < columns && !status; x++) {
            mst_point from = {west + (x + 0.5) * wide / columns, south + (y + 0.5) * high / rows};
            status = way_json(water, from, arena, *ways, error);
        }
    if (status) json_decref(*ways);
    return status;
}
