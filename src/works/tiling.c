#include "works/tiling.h"
#include "ground/model.h"
#include <math.h>
#include <string.h>

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

void mst_tile_edge(const mst_tiling *t, uint32_t tile, int c, uint32_t ends[2]) {
    uint32_t a = t->corners[tile][(c + 1) % 3], b = t->corners[tile][(c + 2) % 3];
    ends[0] = a < b ? a : b;
    ends[1] = a < b ? b : a;
}

void mst_tile_middle(const mst_tiling *t, uint32_t tile, double middle[2]) {
    const double *a = t->at[t->corners[tile][0]], *b = t->at[t->corners[tile][1]], *c = t->at[t->corners[tile][2]];
    for (int k = 0; k < 2; k++) middle[k] = a[k] + ((b[k] - a[k]) + (c[k] - a[k])) / 3;
}

double mst_tile_area(const mst_tiling *t, uint32_t tile) {
    return mst_orient2d(t->at[t->corners[tile][0]], t->at[t->corners[tile][1]], t->at[t->corners[tile][2]]) / 2;
}

void mst_tiling_origin(const mst_ground *g, double origin[2]) {
    double w = HUGE_VAL, s = HUGE_VAL;
    for (size_t i = 0; i < g->vertex_count; i++)
        w = fmin(w, g->vertices[i].easting_m), s = fmin(s, g->vertices[i].northing_m);
    origin[0] = floor(w) - MST_TILING_OFFSET_M, origin[1] = floor(s) - MST_TILING_OFFSET_M;
}

static const double ON_LINE_M = 1e-7; /* of an edge along a line of the design */

static bool on_line(const double p[2], const double a[2], const double b[2]) {
    double length = hypot(b[0] - a[0], b[1] - a[1]);
    if (!(length > 0) || fabs(mst_orient2d(a, b, p)) > ON_LINE_M * length) return false;
    double along = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / length;
    return along >= -ON_LINE_M && along <= length + ON_LINE_M;
}

bool mst_tile_edge_on(const mst_tiling *t, uint32_t tile, int c, const double a[2], const double b[2]) {
    return on_line(t->at[t->corners[tile][(c + 1) % 3]], a, b) && on_line(t->at[t->corners[tile][(c + 2) % 3]], a, b);
}

/* ---- from the ground ---- */

static size_t mark(const mst_ground *g, const mst_box windows[], size_t count, bool taken[]) {
    size_t marked = 0;
    for (size_t i = 0; i < count; i++) {
        mst_boxtree_walk walk = mst_boxtree_window(&g->tree, windows[i]);
        uint32_t t;
        while (mst_boxtree_next(&walk, &t))
            if (!taken[t]) taken[t] = true, marked++;
    }
    return marked;
}

static void take_triangle(const mst_ground *g, uint32_t triangle, uint32_t place_of[], mst_tiling *t) {
    mst_tile *tile = &t->tiles[t->count];
    *tile = (mst_tile){.ground = triangle, .owner = MST_NO_OWNER};
    for (int c = 0; c < 3; c++) {
        uint32_t v = g->triangles[triangle][c];
        if (!place_of[v]) {
            t->at[t->place_count][0] = g->vertices[v].easting_m - t->origin[0];
            t->at[t->place_count][1] = g->vertices[v].northing_m - t->origin[1];
            place_of[v] = (uint32_t)++t->place_count;
        }
        t->corners[t->count][c] = place_of[v] - 1;
        for (int k = 0; k < MST_LEVELS_OF_TILE; k++) tile->level[k][c] = g->vertices[v].elevation_m;
    }
    t->count++;
}

mst_status mst_tiling_of_ground(const mst_ground *g, const mst_box windows[], size_t count, mst_arena *arena,
                                mst_tiling *tiling, mst_error *error) {
    bool *taken = mst_arena_array(arena, g->triangle_count + 1, 1);
    uint32_t *place_of = mst_arena_array(arena, g->vertex_count + 1, sizeof *place_of); /* + 1; 0 = none yet */
    uint32_t *tile_of = mst_arena_array(arena, g->triangle_count + 1, sizeof *tile_of);
    if (!taken || !place_of || !tile_of) return no_memory(error);
    size_t most = mark(g, windows, count, taken);
    mst_tiling t = {.count = 0};
    mst_tiling_origin(g, t.origin);
    t.at = mst_arena_array(arena, 3 * most + 1, sizeof *t.at);
    t.corners = mst_arena_array(arena, most + 1, sizeof *t.corners);
    t.neighbours = mst_arena_array(arena, most + 1, sizeof *t.neighbours);
    t.tiles = mst_arena_array(arena, most + 1, sizeof *t.tiles);
    if (!t.at || !t.corners || !t.neighbours || !t.tiles) return no_memory(error);
    for (uint32_t i = 0; i < g->triangle_count; i++)
        if (taken[i]) tile_of[i] = (uint32_t)t.count, take_triangle(g, i, place_of, &t);
    for (size_t i = 0; i < t.count; i++)
        for (int c = 0; c < 3; c++) {
            uint32_t n = g->neighbours[t.tiles[i].ground][c];
            t.neighbours[i][c] = n != MST_NOWHERE && taken[n] ? tile_of[n] : MST_NOWHERE;
        }
    if (mst_triangle_tree((const uint32_t(*)[3])t.corners, t.count, t.at, sizeof *t.at, arena, &t.tree))
        return no_memory(error);
    *tiling = t;
    return MST_OK;
}

/* ---- cutting ---- */

/* Places on one edge, from its lower end on; few, so sorted as they stand. */
static void draw_edge(const mst_tiling *t, uint32_t tile, int c, mst_edge_points *p, mst_sketch *s) {
    uint32_t ends[2], other = t->neighbours[tile][c], from;
    mst_tile_edge(t, tile, c, ends);
    from = ends[0];
    double along = -1;
    for (;;) {
        const mst_edge_point *next = NULL;
        for (int side = 0; p && side < 2; side++) {
            uint32_t owner = side ? other : tile, edge = (uint32_t)c;
            if (owner == MST_NOWHERE) continue;
            if (side)
                for (edge = 0; edge < 3 && t->neighbours[owner][edge] != tile; edge++) {}
            if (edge == 3) continue;
            for (uint32_t i = p->first[3 * owner + edge]; i; i = p->items[i - 1].next) {
                const mst_edge_point *item = &p->items[i - 1];
                if (item->along > along && (!next || item->along < next->along)) next = item;
            }
        }
        if (!next) break;
        mst_sketch_line(s, from, next->place);
        from = next->place;
        along = next->along;
    }
    if (from == ends[0]) mst_sketch_edge(s, from, ends[1]);
    else mst_sketch_line(s, from, ends[1]);
}

void mst_tiling_draw_edges(const mst_tiling *t, mst_edge_points *p, mst_sketch *s) {
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; c < 3; c++)
            if (t->neighbours[i][c] == MST_NOWHERE || t->neighbours[i][c] > i) draw_edge(t, i, c, p, s);
}

/* A corner that is the parent's keeps its level to the bit; others lie on the parent's planes. */
static void inherit(const mst_tiling *from, uint32_t parent, mst_tiling *t, uint32_t tile) {
    const mst_tile *p = &from->tiles[parent];
    const double *corner[3];
    t->tiles[tile] = *p;
    t->parent[tile] = parent;
    mst_corners_of(from->corners[parent], from->at, sizeof *from->at, corner);
    for (int c = 0; c < 3; c++) {
        uint32_t place = t->corners[tile][c];
        double share[3] = {0};
        int same = 0;
        while (same < 3 && from->corners[parent][same] != place) same++;
        if (same < 3) share[same] = 1;
        else mst_shares_at(corner, t->at[place], share);
        for (int k = 0; k < MST_LEVELS_OF_TILE; k++) {
            const double *z = p->level[k];
            t->tiles[tile].level[k][c] =
                same < 3 ? z[same] : z[0] + share[1] * (z[1] - z[0]) + share[2] * (z[2] - z[0]);
        }
    }
}

mst_status mst_tiling_cut(const mst_tiling *from, mst_sketch *s, mst_arena *arena, mst_tiling *cut, mst_error *error) {
    mst_triangulation *made;
    mst_sketch_settle(s);
    if (s->failed) return no_memory(error);
    uint32_t(*segments)[2] = mst_arena_array(arena, s->segment_count + 1, sizeof *segments);
    if (!segments) return no_memory(error);
    for (size_t i = 0; i < s->segment_count; i++) memcpy(segments[i], s->segments[i].end, sizeof *segments);
    mst_triangulation_input input = {(const double(*)[2])s->at, s->place_count, (const uint32_t(*)[2])segments,
                                     s->segment_count, 1};
    mst_status status = mst_triangulation_build(&input, arena, &made, error);
    if (status) return status;
    mst_tiling t = {.origin = {from->origin[0], from->origin[1]}};
    size_t all;
    const double(*at)[2] = mst_triangulation_vertices(made, &t.place_count);
    const uint32_t(*corners)[3] = mst_triangulation_corners(made, &all);
    const uint32_t(*neighbours)[3] = mst_triangulation_neighbours(made);
    uint32_t *tile_of = mst_arena_array(arena, all + 1, sizeof *tile_of);
    t.at = mst_arena_array(arena, t.place_count + 1, sizeof *t.at);
    t.corners = mst_arena_array(arena, all + 1, sizeof *t.corners);
    t.neighbours = mst_arena_array(arena, all + 1, sizeof *t.neighbours);
    t.tiles = mst_arena_array(arena, all + 1, sizeof *t.tiles);
    t.parent = mst_arena_array(arena, all + 1, sizeof *t.parent);
    if (!tile_of || !t.at || !t.corners || !t.neighbours || !t.tiles || !t.parent) return no_memory(error);
    for (size_t i = 0; i < t.place_count; i++) t.at[i][0] = at[i][0], t.at[i][1] = at[i][1];
    for (size_t i = 0; i < all; i++) {
        const double *a = at[corners[i][0]], *b = at[corners[i][1]], *c = at[corners[i][2]];
        double middle[2];
        for (int k = 0; k < 2; k++) middle[k] = a[k] + ((b[k] - a[k]) + (c[k] - a[k])) / 3;
        uint32_t parent =
            mst_triangle_at(&from->tree, (const uint32_t(*)[3])from->corners, from->at, sizeof *from->at, middle);
        tile_of[i] = MST_NOWHERE;
        if (parent == MST_NOWHERE) continue; /* outside of the ground: the hull goes round it */
        tile_of[i] = (uint32_t)t.count;
        for (int k = 0; k < 3; k++) t.corners[t.count][k] = corners[i][k], t.neighbours[t.count][k] = neighbours[i][k];
        inherit(from, parent, &t, (uint32_t)t.count++);
    }
    for (size_t i = 0; i < t.count; i++)
        for (int k = 0; k < 3; k++) {
            uint32_t n = t.neighbours[i][k];
            t.neighbours[i][k] = n == MST_NOWHERE ? MST_NOWHERE : tile_of[n];
        }
    if (mst_triangle_tree((const uint32_t(*)[3])t.corners, t.count, t.at, sizeof *t.at, arena, &t.tree))
        return no_memory(error);
    *cut = t;
    return MST_OK;
}
