/* What must hold of any triangulation. */
#ifndef FUZZ_MESH_HELPER_H
#define FUZZ_MESH_HELPER_H
#include "fuzz_helper.h"
#include "merestone/ground.h"

typedef struct mesh {
    const uint32_t (*corners)[3];
    const uint32_t (*across)[3];
    const double (*vertices)[2];
    size_t triangles, count;
} mesh;

static inline int position(const mesh *m, uint32_t triangle, uint32_t vertex) {
    for (int c = 0; c < 3; c++)
        if (m->corners[triangle][c] == vertex) return c;
    return -1;
}

/* Every triangle turns left, and the two sides of an edge know each other and share its ends. */
static inline size_t outer_edges(const mesh *m, const mst_triangulation *t) {
    size_t outer = 0;
    for (uint32_t i = 0; i < m->triangles; i++) {
        const uint32_t *c = m->corners[i];
        MUST(c[0] < m->count && c[1] < m->count && c[2] < m->count);
        MUST(mst_orient2d(m->vertices[c[0]], m->vertices[c[1]], m->vertices[c[2]]) > 0);
        for (int k = 0; k < 3; k++) {
            uint32_t other = m->across[i][k];
            if (other == UINT32_MAX) {
                outer++;
                continue;
            }
            MUST(other < m->triangles && other != i);
            int a = position(m, other, c[(k + 1) % 3]), b = position(m, other, c[(k + 2) % 3]);
            MUST(a >= 0 && b >= 0 && (b + 1) % 3 == a);
            int opposite = 3 - a - b;
            MUST(m->across[other][opposite] == i);
            MUST(mst_triangulation_edge_fixed(t, i, k) == mst_triangulation_edge_fixed(t, other, opposite));
        }
    }
    return outer;
}

/* Euler: a triangulated disc with v vertices of which h are on its rim has 2v - 2 - h triangles. */
static inline void counts_add_up(const mesh *m, size_t outer, mst_arena *arena) {
    bool *used = mst_arena_array(arena, m->count, sizeof *used);
    MUST(used);
    size_t v = 0;
    for (size_t i = 0; i < m->triangles; i++)
        for (int k = 0; k < 3; k++) {
            if (!used[m->corners[i][k]]) v++;
            used[m->corners[i][k]] = true;
        }
    MUST(m->triangles == 2 * v - 2 - outer);
}

/* An edge that no segment fixes is locally Delaunay, exactly. */
static inline void is_delaunay(const mesh *m, const mst_triangulation *t) {
    for (uint32_t i = 0; i < m->triangles; i++)
        for (int k = 0; k < 3; k++) {
            uint32_t other = m->across[i][k];
            if (other == UINT32_MAX || mst_triangulation_edge_fixed(t, i, k)) continue;
            const uint32_t *c = m->corners[i];
            int a = position(m, other, c[(k + 1) % 3]), b = position(m, other, c[(k + 2) % 3]);
            const double *d = m->vertices[m->corners[other][3 - a - b]];
            MUST(mst_incircle(m->vertices[c[0]], m->vertices[c[1]], m->vertices[c[2]], d) <= 0);
        }
}

static inline mesh mesh_of(const mst_triangulation *t) {
    mesh m;
    m.corners = mst_triangulation_corners(t, &m.triangles);
    m.across = mst_triangulation_neighbours(t);
    m.vertices = mst_triangulation_vertices(t, &m.count);
    return m;
}

static inline void is_triangulation(const mst_triangulation *t, mst_arena *arena) {
    mesh m = mesh_of(t);
    counts_add_up(&m, outer_edges(&m, t), arena);
    is_delaunay(&m, t);
}

/* Both ends of a segment stand in the triangulation, and some fixed edge leaves each of them. */
static inline void holds_segment(const mesh *m, const mst_triangulation *t, uint32_t from, uint32_t to) {
    from = mst_triangulation_representative(t, from);
    to = mst_triangulation_representative(t, to);
    if (from == to) return;
    bool leaves = false, arrives = false;
    for (uint32_t i = 0; i < m->triangles; i++)
        for (int k = 0; k < 3; k++) {
            if (!mst_triangulation_edge_fixed(t, i, k)) continue;
            uint32_t a = m->corners[i][(k + 1) % 3], b = m->corners[i][(k + 2) % 3];
            leaves |= a == from || b == from;
            arrives |= a == to || b == to;
        }
    MUST(leaves && arrives);
}
#endif
