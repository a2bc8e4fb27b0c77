/* A surface that came as triangles (from a file) as a ground model, so that it can be measured like our own. */
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

typedef struct side {
    uint32_t low, high, triangle;
    int corner;
} side;

static int by_ends(const void *a, const void *b) {
    const side *x = a, *y = b;
    if (x->low != y->low) return x->low < y->low ? -1 : 1;
    if (x->high != y->high) return x->high < y->high ? -1 : 1;
    return x->triangle < y->triangle ? -1 : x->triangle > y->triangle;
}

static mst_status take_corners(const mst_ground_point points[], size_t count, mst_arena *arena, mst_facets *f,
                               mst_error *error) {
    f->corners = mst_arena_array(arena, count + 1, sizeof *f->corners);
    f->weights = mst_arena_array(arena, count + 1, sizeof *f->weights);
    if (!f->corners || !f->weights) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < count; i++) {
        const mst_ground_point *p = &points[i];
        if (!isfinite(p->easting_m) || !isfinite(p->northing_m) || !isfinite(p->elevation_m))
            return mst_fail(error, MST_INVALID, "Point %zu of the surface has no place or no level.", i + 1);
        bool measured = p->source != MST_NOWHERE;
        f->corners[i] =
            (mst_corner){{p->easting_m, p->northing_m}, p->elevation_m, (uint32_t)f->weight_count, measured, p->source};
        if (measured) f->weights[f->weight_count++] = (mst_weight){p->source, 1};
    }
    f->corner_count = count;
    return MST_OK;
}

/* Counter-clockwise; faces without area in plan are left out and counted. */
static mst_status take_faces(const uint32_t (*faces)[3], size_t count, mst_arena *arena, mst_facets *f, size_t *flat,
                             mst_error *error) {
    f->triangles = mst_arena_array(arena, count + 1, sizeof *f->triangles);
    if (!f->triangles) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < count; i++) {
        for (int c = 0; c < 3; c++)
            if (faces[i][c] >= f->corner_count)
                return mst_fail(error, MST_INVALID, "Face %zu of the surface names point %lu, but there are %zu.",
                                i + 1, (unsigned long)faces[i][c] + 1, f->corner_count);
        double turn = mst_orient2d(f->corners[faces[i][0]].at, f->corners[faces[i][1]].at, f->corners[faces[i][2]].at);
        *flat += turn == 0;
        if (turn == 0) continue;
        uint32_t *t = f->triangles[f->count++];
        t[0] = faces[i][0], t[1] = faces[i][turn > 0 ? 1 : 2], t[2] = faces[i][turn > 0 ? 2 : 1];
    }
    return MST_OK;
}

static mst_status join_faces(mst_arena *arena, mst_facets *f, mst_error *error) {
    side *sides = mst_arena_array(arena, 3 * f->count + 1, sizeof *sides);
    f->neighbours = mst_arena_array(arena, f->count + 1, sizeof *f->neighbours);
    f->fixed = mst_arena_array(arena, f->count + 1, 1);
    if (!sides || !f->neighbours || !f->fixed) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (uint32_t t = 0; t < f->count; t++)
        for (int c = 0; c < 3; c++) {
            uint32_t a = f->triangles[t][(c + 1) % 3], b = f->triangles[t][(c + 2) % 3];
            sides[3 * t + (uint32_t)c] = (side){a < b ? a : b, a < b ? b : a, t, c};
            f->neighbours[t][c] = MST_NOWHERE;
        }
    qsort(sides, 3 * f->count, sizeof *sides, by_ends);
    for (size_t i = 0; i + 1 < 3 * f->count; i++) {
        side *a = &sides[i], *b = a + 1;
        if (a->low != b->low || a->high != b->high) continue;
        bool third = i + 2 < 3 * f->count && b[1].low == a->low && b[1].high == a->high;
        bool same_way =
            f->triangles[a->triangle][(a->corner + 1) % 3] == f->triangles[b->triangle][(b->corner + 1) % 3];
        if (third || same_way)
            return mst_fail(error, MST_INVALID,
                            "Faces of the surface lie over each other at the edge between points %lu and %lu.",
                            (unsigned long)a->low + 1, (unsigned long)a->high + 1);
        f->neighbours[a->triangle][a->corner] = b->triangle;
        f->neighbours[b->triangle][b->corner] = a->triangle;
    }
    return MST_OK;
}

mst_status mst_ground_from_triangles(const mst_ground_point points[], size_t point_count, const uint32_t (*faces)[3],
                                     size_t face_count, mst_arena *arena, mst_ground **ground, mst_error *error) {
    mst_facets f = {0};
    size_t flat = 0;
    mst_ground *g = mst_arena_alloc(arena, sizeof *g);
    if (!g) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    mst_status status = take_corners(points, point_count, arena, &f, error);
    if (!status) status = take_faces(faces, face_count, arena, &f, &flat, error);
    if (status) return status;
    if (f.count == 0) return mst_fail(error, MST_TOO_FEW, "The surface has no face with an area in plan.");
    if ((status = join_faces(arena, &f, error))) return status;
    if (flat && !mst_note(&g->notes, arena, "%zu faces without an area in plan were left out.", flat))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if ((status = mst_take_all_facets(&f, arena, g, error))) return status;
    if ((status = mst_ground_finish(g, arena, error))) return status;
    *ground = g;
    return MST_OK;
}
