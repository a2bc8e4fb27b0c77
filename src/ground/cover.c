/* The rings are the fixed edges of a triangulation; regions between fixed edges are inside or outside as a whole. */
#include "ground/cover.h"
#include "geometry/sum.h"
#include <math.h>

static const double SAGITTA_M = 0.001; /* arcs, as ground.h says; what the chords enclose is the arc's area */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static mst_status check_rings(const mst_shape *shape, mst_error *error) {
    mst_point where;
    if (shape->count == 0) return mst_fail(error, MST_INVALID, "An area is needed here, but the outline is empty.");
    for (size_t i = 0; i < shape->count; i++) {
        const mst_path *ring = &shape->paths[i];
        if (!ring->closed || ring->count < 2)
            return mst_fail(error, MST_INVALID,
                            "An area is needed here, but the outline is not closed; make the feature an area.");
        if (mst_path_crosses_itself(ring, &where))
            return mst_fail(error, MST_INVALID,
                            "The outline crosses or touches itself at %.3f, %.3f; put its points in order.",
                            where.easting_m, where.northing_m);
    }
    return MST_OK;
}

static mst_status flat_rings(const mst_shape *shape, mst_arena *arena, mst_shape *flat, size_t *vertices,
                             mst_error *error) {
    *flat = (mst_shape){mst_arena_array(arena, shape->count, sizeof(mst_path)), shape->count};
    *vertices = 0;
    if (!flat->paths) return no_memory(error);
    for (size_t i = 0; i < shape->count; i++) {
        mst_status status = mst_path_flatten_even(&shape->paths[i], SAGITTA_M, arena, &flat->paths[i], error);
        if (status) return status;
        *vertices += flat->paths[i].count;
    }
    return MST_OK;
}

static mst_status triangulate(const mst_shape *flat, size_t vertices, mst_arena *arena, mst_triangulation **t,
                              mst_error *error) {
    double(*points)[2] = mst_arena_array(arena, vertices, sizeof *points);
    uint32_t(*segments)[2] = mst_arena_array(arena, vertices, sizeof *segments);
    size_t count = 0;
    if (!points || !segments) return no_memory(error);
    for (size_t i = 0; i < flat->count; i++) {
        const mst_path *ring = &flat->paths[i];
        uint32_t base = (uint32_t)count;
        for (size_t k = 0; k < ring->count; k++, count++) {
            points[count][0] = ring->vertices[k].easting_m, points[count][1] = ring->vertices[k].northing_m;
            segments[count][0] = base + (uint32_t)k, segments[count][1] = base + (uint32_t)((k + 1) % ring->count);
        }
    }
    mst_triangulation_input input = {(const double(*)[2])points, count, (const uint32_t(*)[2])segments, count, 1};
    mst_status status = mst_triangulation_build(&input, arena, t, error);
    if (status == MST_UNDETERMINED || status == MST_TOO_FEW)
        return mst_fail(error, MST_UNDETERMINED, "The outline encloses no area; its points lie on one line.");
    return status;
}

typedef struct flood {
    const mst_triangulation *t;
    const uint32_t (*corners)[3], (*neighbours)[3];
    const double (*at)[2];
    uint32_t *stack;
    bool *seen;
} flood;

static double area_of(const flood *f, uint32_t t) {
    return mst_orient2d(f->at[f->corners[t][0]], f->at[f->corners[t][1]], f->at[f->corners[t][2]]) / 2;
}

/* Lists the region that holds @p first in stack[0..]; @return how many. */
static size_t region_of(flood *f, uint32_t first) {
    size_t count = 1;
    f->stack[0] = first;
    f->seen[first] = true;
    for (size_t i = 0; i < count; i++)
        for (int c = 0; c < 3; c++) {
            uint32_t next = f->neighbours[f->stack[i]][c];
            if (next == UINT32_MAX || f->seen[next] || mst_triangulation_edge_fixed(f->t, f->stack[i], c)) continue;
            f->seen[next] = true;
            f->stack[count++] = next;
        }
    return count;
}

/* The largest triangle's middle speaks for its region: it is farthest from rounding. */
static bool region_inside(const flood *f, const mst_shape *flat, size_t count) {
    uint32_t largest = f->stack[0];
    for (size_t i = 1; i < count; i++)
        if (area_of(f, f->stack[i]) > area_of(f, largest)) largest = f->stack[i];
    const double *a = f->at[f->corners[largest][0]], *b = f->at[f->corners[largest][1]],
                 *c = f->at[f->corners[largest][2]];
    mst_point middle = {a[0] + ((b[0] - a[0]) + (c[0] - a[0])) / 3, a[1] + ((b[1] - a[1]) + (c[1] - a[1])) / 3};
    return mst_shape_contains(flat, middle);
}

static mst_status take_inside(const mst_triangulation *t, const mst_shape *flat, mst_arena *arena, mst_cover *cover) {
    size_t all, places;
    flood f = {.t = t};
    f.corners = mst_triangulation_corners(t, &all);
    f.neighbours = mst_triangulation_neighbours(t);
    f.at = mst_triangulation_vertices(t, &places);
    f.stack = mst_arena_array(arena, all + 1, sizeof *f.stack);
    f.seen = mst_arena_array(arena, all + 1, 1);
    uint32_t(*inside)[3] = mst_arena_array(arena, all + 1, sizeof *inside);
    mst_sum area = {0};
    if (!f.stack || !f.seen || !inside) return MST_NO_MEMORY;
    cover->count = 0;
    for (uint32_t i = 0; i < all; i++) {
        size_t count = f.seen[i] ? 0 : region_of(&f, i);
        if (count == 0 || !region_inside(&f, flat, count)) continue;
        for (size_t k = 0; k < count; k++) {
            for (int c = 0; c < 3; c++) inside[cover->count][c] = f.corners[f.stack[k]][c];
            cover->count++;
            mst_sum_add(&area, area_of(&f, f.stack[k]));
        }
    }
    cover->at = f.at;
    cover->triangles = (const uint32_t(*)[3])inside;
    cover->area_m2 = mst_sum_value(&area);
    return MST_OK;
}

mst_status mst_cover_shape(const mst_shape *shape, mst_arena *arena, mst_cover *cover, mst_error *error) {
    mst_shape flat;
    mst_triangulation *t;
    size_t vertices;
    mst_status status = check_rings(shape, error);
    if (!status) status = flat_rings(shape, arena, &flat, &vertices, error);
    if (!status) status = triangulate(&flat, vertices, arena, &t, error);
    if (status) return status;
    return take_inside(t, &flat, arena, cover) ? no_memory(error) : MST_OK;
}
