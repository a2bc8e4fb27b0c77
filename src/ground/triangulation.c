/* From points and segments to the finished arrays: order, Delaunay triangles, segments, then the outside triangles go
 * and the input's numbers come back. Corners and neighbours are built in place, in the arrays that the caller gets. */
#include "ground/triangulation.h"
#include <string.h>

struct mst_triangulation {
    uint32_t *corners, *neighbours; /* [3 * triangle_count] */
    uint8_t *fixed;                 /* [triangle_count] bit k: edge k is a breakline; NULL without segments */
    double (*vertices)[2];
    size_t triangle_count, vertex_count, crossing_count;
    mst_crossing *crossings;
    uint32_t *representative; /* NULL: every point stands for itself */
};

static const size_t MOST_POINTS = (size_t)1 << 27; /* a half-edge and its breakline bit share 32 bits */

static mst_status check_input(const mst_triangulation_input *input, mst_error *error) {
    if (input->point_count > MOST_POINTS)
        return mst_fail(error, MST_INVALID, "%zu points are more than the %zu of one ground model; thin them out.",
                        input->point_count, MOST_POINTS);
    for (size_t i = 0; i < input->segment_count; i++)
        for (int k = 0; k < 2; k++)
            if (input->segments[i][k] >= input->point_count)
                return mst_fail(error, MST_INVALID, "Breakline segment %zu asks for point %zu of %zu.", i + 1,
                                (size_t)input->segments[i][k] + 1, input->point_count);
    return MST_OK;
}

/* Room for the crossings of an ordinary site; pages that are not touched cost nothing. */
static bool make_room(const mst_triangulation_input *input, mst_arena *arena, mst_mesh *m) {
    m->vertex_room = input->point_count + 2 * input->segment_count + 16;
    m->triangle_room = 2 * m->vertex_room;
    m->at = mst_arena_array(arena, m->vertex_room, sizeof *m->at);
    m->corner = mst_arena_array(arena, m->triangle_room, 3 * sizeof *m->corner);
    m->twin = mst_arena_array(arena, m->triangle_room, 3 * sizeof *m->twin);
    return m->at && m->corner && m->twin;
}

static bool is_outside(const mst_mesh *m, size_t t) {
    const uint32_t *c = m->corner + 3 * t;
    return c[0] == MST_OUTSIDE || c[1] == MST_OUTSIDE || c[2] == MST_OUTSIDE;
}

/* Cuts the ties of triangle t to its neighbours. */
static void cut_off(mst_mesh *m, size_t t) {
    for (size_t s = 3 * t; s < 3 * t + 3; s++)
        if (m->twin[s] != MST_OUTSIDE) m->twin[mst_slot(m->twin[s] & ~MST_FIXED)] = MST_OUTSIDE;
}

static void move_triangle(mst_mesh *m, size_t from, size_t to) {
    for (size_t k = 0; k < 3; k++) {
        uint32_t twin = m->twin[3 * from + k];
        m->corner[3 * to + k] = m->corner[3 * from + k];
        m->twin[3 * to + k] = twin;
        if (twin == MST_OUTSIDE) continue;
        uint32_t *seen = &m->twin[mst_slot(twin & ~MST_FIXED)];
        *seen = (uint32_t)(4 * to + k) | (*seen & MST_FIXED);
    }
}

/* Takes the outside triangles away; the last ones fill their places. A breakline on the hull stays known by the bit of
 * its own edge, so that is kept apart from the neighbour: in fixed[]. */
static void drop_outside(mst_mesh *m, uint8_t *fixed) {
    size_t count = m->triangle_count;
    for (size_t t = 0; t < count; t++)
        if (is_outside(m, t)) cut_off(m, t);
    for (size_t t = 0; t < count; t++) {
        if (!is_outside(m, t)) continue;
        do count--;
        while (count > t && is_outside(m, count));
        if (count <= t) break;
        move_triangle(m, count, t);
        if (fixed) fixed[t] = fixed[count];
    }
    m->triangle_count = (uint32_t)count;
}

static void note_fixed(const mst_mesh *m, uint8_t *fixed) {
    for (size_t t = 0; t < m->triangle_count; t++)
        for (int k = 0; k < 3; k++)
            if (m->twin[3 * t + (size_t)k] & MST_FIXED) fixed[t] |= (uint8_t)(1 << k);
}

/* From half-edges to triangles and from places to the input's points; crossings count on behind those. */
static void renumber(mst_mesh *m, const mst_order *order, size_t point_count) {
    for (size_t s = 0; s < 3 * (size_t)m->triangle_count; s++) {
        uint32_t v = m->corner[s], twin = m->twin[s];
        m->corner[s] =
            v < order->place_count ? order->input_index[v] : (uint32_t)(v - order->place_count + point_count);
        m->twin[s] = twin == MST_OUTSIDE ? UINT32_MAX : (twin & ~MST_FIXED) >> 2;
    }
}

static bool restore_points(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order,
                           mst_arena *arena) {
    size_t crossings = m->vertex_count - order->place_count, all = input->point_count + crossings;
    if (all > m->vertex_room) {
        double(*more)[2] = mst_arena_array(arena, all, sizeof *more);
        if (!more) return false;
        memcpy(more + input->point_count, m->at + order->place_count, crossings * sizeof *more);
        m->at = more;
    } else memmove(m->at + input->point_count, m->at + order->place_count, crossings * sizeof *m->at);
    memcpy(m->at, input->points, input->point_count * sizeof *m->at);
    m->vertex_count = (uint32_t)all;
    return true;
}

static mst_status no_memory(const mst_triangulation_input *input, mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory ran out on a ground model of %zu points.", input->point_count);
}

static mst_status finish(mst_mesh *m, const mst_triangulation_input *input, const mst_order *order, mst_arena *arena,
                         mst_triangulation *t, mst_error *error) {
    if (input->segment_count) {
        t->fixed = mst_arena_array(arena, m->triangle_count, 1);
        if (!t->fixed) return no_memory(input, error);
        note_fixed(m, t->fixed);
    }
    drop_outside(m, t->fixed);
    if (m->triangle_count == 0)
        return mst_fail(error, MST_UNDETERMINED, "All points lie on one line; add a point beside it.");
    renumber(m, order, input->point_count);
    if (!restore_points(m, input, order, arena)) return no_memory(input, error);
    for (size_t i = 0; i < t->crossing_count; i++)
        t->crossings[i].vertex += (uint32_t)input->point_count - order->place_count;
    t->corners = m->corner, t->neighbours = m->twin, t->vertices = m->at;
    t->triangle_count = m->triangle_count, t->vertex_count = m->vertex_count;
    t->representative = order->representative;
    return MST_OK;
}

/* The lists of the order live in the scratch arena, those of the result in the caller's. */
static mst_status build(const mst_triangulation_input *input, mst_arena *arena, mst_arena *scratch,
                        mst_triangulation *t, mst_error *error) {
    mst_mesh m = {0};
    mst_order order = {0};
    order.input_index = mst_arena_array(scratch, input->point_count, sizeof *order.input_index);
    order.level = mst_arena_array(scratch, input->point_count, 1);
    if (!order.input_index || !order.level || !make_room(input, arena, &m)) return no_memory(input, error);
    /* the corners are not needed yet: 24 bytes a point for the sort's 16 */
    mst_status status = mst_order_places(input, m.corner, m.at, arena, &order, error);
    if (status) return status;
    if (order.place_count < 3)
        return mst_fail(error, MST_TOO_FEW, "A ground model needs points at 3 places or more, not %u.",
                        (unsigned)order.place_count);
    m.vertex_count = order.place_count;
    m.exact_size = mst_exact_size((const double(*)[2])m.at, m.vertex_count);
    mst_delaunay(&m, &order);
    if (input->segment_count) {
        status = mst_constrain(&m, input, &order, arena, &t->crossings, &t->crossing_count, error);
        if (status) return status;
    }
    return finish(&m, input, &order, arena, t, error);
}

mst_status mst_triangulation_build(const mst_triangulation_input *input, mst_arena *arena, mst_triangulation **result,
                                   mst_error *error) {
    mst_status status = check_input(input, error);
    if (status) return status;
    mst_triangulation *t = mst_arena_alloc(arena, sizeof *t);
    mst_arena *scratch = mst_arena_new();
    status = t && scratch ? build(input, arena, scratch, t, error) : no_memory(input, error);
    mst_arena_free(scratch);
    if (status == MST_OK) *result = t;
    return status;
}

const uint32_t (*mst_triangulation_corners(const mst_triangulation *t, size_t *count))[3] {
    *count = t->triangle_count;
    return (const uint32_t(*)[3])t->corners;
}
const uint32_t (*mst_triangulation_neighbours(const mst_triangulation *t))[3] {
    return (const uint32_t(*)[3])t->neighbours;
}
bool mst_triangulation_edge_fixed(const mst_triangulation *t, uint32_t triangle, int corner) {
    return t->fixed && t->fixed[triangle] >> corner & 1;
}
const double (*mst_triangulation_vertices(const mst_triangulation *t, size_t *count))[2] {
    *count = t->vertex_count;
    return (const double(*)[2])t->vertices;
}
const mst_crossing *mst_triangulation_crossings(const mst_triangulation *t, size_t *count) {
    *count = t->crossing_count;
    return t->crossings;
}
uint32_t mst_triangulation_representative(const mst_triangulation *t, uint32_t i) {
    return t->representative ? t->representative[i] : i;
}
