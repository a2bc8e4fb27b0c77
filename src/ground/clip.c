/* Boundary and holes. Rings through measured points are breaklines of the facets, so whole facets stay or go. A ring
 * that runs between them (an unlevelled fence, an arc) cuts facets into smaller triangles: a second triangulation in
 * which every facet's edge is fixed, so that the surface inside stays exactly as it was. */
#include "ground/model.h"
#include <math.h>

static const double SAGITTA_M = 0.005; /* arcs of a ring, as the header says */

/* Triangles on the way to the ground. */
typedef struct cut {
    const double (*places)[2];
    size_t place_count;
    const uint32_t (*triangles)[3];
    size_t count;
    const uint32_t (*neighbours)[3];
    uint32_t *facet_of; /* MST_NOWHERE: dropped */
} cut;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static mst_status flat_shape(const mst_shape *shape, mst_arena *arena, mst_shape *out, mst_error *error) {
    *out = (mst_shape){mst_arena_array(arena, shape->count + 1, sizeof(mst_path)), shape->count};
    if (!out->paths) return no_memory(error);
    for (size_t i = 0; i < shape->count; i++) {
        mst_path closed = shape->paths[i];
        closed.closed = true; /* a limit given as a line closes on itself */
        mst_status status = mst_path_flatten(&closed, SAGITTA_M, arena, &out->paths[i], error);
        if (status) return status;
    }
    return MST_OK;
}

mst_status mst_flat_rings(const mst_parts *parts, mst_arena *arena, mst_rings *rings, mst_error *error) {
    size_t count = parts->boundary_count + parts->hole_count;
    *rings = (mst_rings){mst_arena_array(arena, count + 1, sizeof(mst_shape)), count, parts->boundary_count};
    if (!rings->shapes) return no_memory(error);
    for (size_t i = 0; i < count; i++) {
        bool hole = i >= parts->boundary_count;
        const mst_shape *shape = hole ? &parts->holes[i - parts->boundary_count] : &parts->boundaries[i];
        mst_status status = flat_shape(shape, arena, &rings->shapes[i], error);
        if (status) return status;
    }
    return MST_OK;
}

static mst_status path_edges(mst_path *path, const mst_parts *parts, const mst_merged *merged, mst_arena *arena,
                             mst_edge **edges, size_t *count, size_t *capacity, bool *all) {
    uint32_t first = MST_NOWHERE, before = MST_NOWHERE;
    for (size_t i = 0; i <= path->count && path->count; i++) {
        mst_path_vertex *v = &path->vertices[i % path->count];
        const double at[2] = {v->easting_m, v->northing_m};
        uint32_t here = i == path->count ? first : mst_merged_at(merged, parts->points, at);
        if (here == MST_NOWHERE) *all = false;
        else { /* onto the point itself, so that both triangulations see one place */
            v->easting_m = parts->points[merged->first[here]].at[0];
            v->northing_m = parts->points[merged->first[here]].at[1];
        }
        if (i == 0) first = here;
        else if (here != MST_NOWHERE && before != MST_NOWHERE && here != before) {
            mst_edge *edge = MST_PUSH(arena, *edges, *count, *capacity);
            if (!edge) return MST_NO_MEMORY;
            *edge = (mst_edge){before, here, MST_NOWHERE};
        }
        before = here;
    }
    return MST_OK;
}

mst_status mst_ring_edges(const mst_rings *rings, const mst_parts *parts, const mst_merged *merged, mst_arena *arena,
                          mst_edge **edges, size_t *count, bool *all, mst_error *error) {
    size_t capacity = 0;
    *edges = NULL;
    *count = 0;
    *all = true;
    for (size_t i = 0; i < rings->count; i++)
        for (size_t k = 0; k < rings->shapes[i].count; k++)
            if (path_edges(&rings->shapes[i].paths[k], parts, merged, arena, edges, count, &capacity, all))
                return no_memory(error);
    return MST_OK;
}

/* A shape's edges in a tree, so that a ray from each of many triangles meets few of them. */
typedef struct ray_ring {
    double (*edges)[4]; /* from e, n to e, n */
    mst_boxtree tree;
} ray_ring;
typedef struct limits {
    ray_ring *rings;
    size_t count, boundaries;
} limits;

static mst_status take_edges(const mst_shape *shape, mst_arena *arena, ray_ring *out) {
    size_t count = 0, at = 0;
    for (size_t i = 0; i < shape->count; i++) count += shape->paths[i].count;
    mst_box *boxes = mst_arena_array(arena, count + 1, sizeof *boxes);
    out->edges = mst_arena_array(arena, count + 1, sizeof *out->edges);
    if (!boxes || !out->edges) return MST_NO_MEMORY;
    for (size_t i = 0; i < shape->count; i++)
        for (size_t k = 0; k < shape->paths[i].count; k++, at++) {
            const mst_path *ring = &shape->paths[i];
            const mst_path_vertex *a = &ring->vertices[k], *b = &ring->vertices[(k + 1) % ring->count];
            double *e = out->edges[at];
            e[0] = a->easting_m, e[1] = a->northing_m, e[2] = b->easting_m, e[3] = b->northing_m;
            boxes[at] = (mst_box){fmin(e[0], e[2]), fmin(e[1], e[3]), fmax(e[0], e[2]), fmax(e[1], e[3])};
        }
    return mst_boxtree_build(boxes, count, true, arena, &out->tree);
}

static mst_status take_limits(const mst_rings *rings, mst_arena *arena, limits *l) {
    *l = (limits){mst_arena_array(arena, rings->count + 1, sizeof *l->rings), rings->count, rings->boundaries};
    for (size_t i = 0; l->rings && i < rings->count; i++)
        if (take_edges(&rings->shapes[i], arena, &l->rings[i])) return MST_NO_MEMORY;
    return l->rings ? MST_OK : MST_NO_MEMORY;
}

/* Parity of the edges that a ray to the east meets: inside the outline and outside its holes. */
static bool within(const ray_ring *ring, const double p[2]) {
    bool in = false;
    uint32_t i;
    mst_boxtree_walk walk = mst_boxtree_window(&ring->tree, (mst_box){p[0], p[1], HUGE_VAL, p[1]});
    while (mst_boxtree_next(&walk, &i)) {
        const double *a = ring->edges[i], *b = a + 2;
        if ((a[1] <= p[1]) != (b[1] <= p[1]) && (mst_orient2d(a, b, p) > 0) == (a[1] < b[1])) in = !in;
    }
    return in;
}

static bool inside(const limits *l, mst_point p) {
    const double at[2] = {p.easting_m, p.northing_m};
    bool in = l->boundaries == 0;
    for (size_t i = 0; i < l->boundaries && !in; i++) in = within(&l->rings[i], at);
    for (size_t i = l->boundaries; i < l->count && in; i++) in = !within(&l->rings[i], at);
    return in;
}

static mst_point centroid(const double (*places)[2], const uint32_t t[3]) {
    const double *a = places[t[0]], *b = places[t[1]], *c = places[t[2]];
    return (mst_point){a[0] + ((b[0] - a[0]) + (c[0] - a[0])) / 3, a[1] + ((b[1] - a[1]) + (c[1] - a[1])) / 3};
}

static mst_status whole_facets(const mst_facets *f, const bool keep[], const mst_rings *rings, mst_arena *arena,
                               cut *out) {
    double(*places)[2] = mst_arena_array(arena, f->corner_count + 1, sizeof *places);
    uint32_t *facet_of = mst_arena_array(arena, f->count + 1, sizeof *facet_of);
    if (!places || !facet_of) return MST_NO_MEMORY;
    for (size_t i = 0; i < f->corner_count; i++) places[i][0] = f->corners[i].at[0], places[i][1] = f->corners[i].at[1];
    limits l;
    if (take_limits(rings, arena, &l)) return MST_NO_MEMORY;
    *out = (cut){(const double(*)[2])places,          f->corner_count, (const uint32_t(*)[3])f->triangles, f->count,
                 (const uint32_t(*)[3])f->neighbours, facet_of};
    for (uint32_t t = 0; t < f->count; t++)
        facet_of[t] = keep[t] && inside(&l, centroid(out->places, f->triangles[t])) ? t : MST_NOWHERE;
    return MST_OK;
}

typedef struct plan { /* of the second triangulation */
    double (*points)[2];
    size_t point_count;
    uint32_t (*segments)[2];
    size_t segment_count;
} plan;

static mst_status plan_split(const mst_facets *f, const mst_rings *rings, mst_arena *arena, plan *p) {
    size_t ring_points = 0;
    for (size_t i = 0; i < rings->count; i++)
        for (size_t k = 0; k < rings->shapes[i].count; k++) ring_points += rings->shapes[i].paths[k].count;
    p->points = mst_arena_array(arena, f->corner_count + ring_points + 1, sizeof *p->points);
    p->segments = mst_arena_array(arena, 3 * f->count + ring_points + 1, sizeof *p->segments);
    if (!p->points || !p->segments) return MST_NO_MEMORY;
    for (size_t i = 0; i < f->corner_count; i++)
        p->points[i][0] = f->corners[i].at[0], p->points[i][1] = f->corners[i].at[1];
    p->point_count = f->corner_count;
    p->segment_count = 0;
    for (uint32_t t = 0; t < f->count; t++)
        for (int c = 0; c < 3; c++) {
            if (f->neighbours[t][c] != MST_NOWHERE && f->neighbours[t][c] < t) continue;
            uint32_t *segment = p->segments[p->segment_count++];
            segment[0] = f->triangles[t][(c + 1) % 3], segment[1] = f->triangles[t][(c + 2) % 3];
        }
    for (size_t i = 0; i < rings->count; i++)
        for (size_t k = 0; k < rings->shapes[i].count; k++) {
            const mst_path *ring = &rings->shapes[i].paths[k];
            uint32_t base = (uint32_t)p->point_count;
            for (size_t j = 0; j < ring->count; j++) {
                double *at = p->points[p->point_count++];
                at[0] = ring->vertices[j].easting_m, at[1] = ring->vertices[j].northing_m;
                uint32_t *segment = p->segments[p->segment_count++];
                segment[0] = base + (uint32_t)j, segment[1] = base + (uint32_t)((j + 1) % ring->count);
            }
        }
    return MST_OK;
}

static mst_status split_facets(const mst_facets *f, const bool keep[], const mst_rings *rings, int threads,
                               mst_arena *arena, cut *out, mst_error *error) {
    plan p;
    mst_triangulation *t;
    mst_boxtree tree;
    limits l;
    if (take_limits(rings, arena, &l)) return no_memory(error);
    if (plan_split(f, rings, arena, &p)) return no_memory(error);
    mst_triangulation_input input = {(const double(*)[2])p.points, p.point_count, (const uint32_t(*)[2])p.segments,
                                     p.segment_count, threads};
    mst_status status = mst_triangulation_build(&input, arena, &t, error);
    if (status) return status;
    *out = (cut){0};
    out->places = mst_triangulation_vertices(t, &out->place_count);
    out->triangles = mst_triangulation_corners(t, &out->count);
    out->neighbours = mst_triangulation_neighbours(t);
    out->facet_of = mst_arena_array(arena, out->count + 1, sizeof *out->facet_of);
    if (!out->facet_of) return no_memory(error);
    const uint32_t(*facets)[3] = (const uint32_t(*)[3])f->triangles;
    if (mst_triangle_tree(facets, f->count, f->corners, sizeof *f->corners, arena, &tree)) return no_memory(error);
    for (size_t i = 0; i < out->count; i++) {
        mst_point c = centroid(out->places, out->triangles[i]);
        uint32_t facet =
            mst_triangle_at(&tree, facets, f->corners, sizeof *f->corners, (double[]){c.easting_m, c.northing_m});
        out->facet_of[i] = facet != MST_NOWHERE && keep[facet] && inside(&l, c) ? facet : MST_NOWHERE;
    }
    return MST_OK;
}

static double level_on(const mst_facets *f, uint32_t facet, const double at[2]) {
    const double *corner[3];
    double share[3], level = 0;
    mst_corners_of(f->triangles[facet], f->corners, sizeof *f->corners, corner);
    mst_shares_at(corner, at, share);
    for (int i = 0; i < 3; i++) level += share[i] * f->corners[f->triangles[facet][i]].elevation_m;
    return level;
}

/* The triangles that stay. On a large ground they follow a curve, so that work on neighbours finds them near in memory;
 * a small one is near anyhow, and people read its lists. */
static mst_status list_triangles(const cut *c, mst_arena *arena, mst_ground *g, uint32_t **list) {
    enum { LARGE = 10000 };
    *list = mst_arena_array(arena, c->count + 1, sizeof **list);
    if (!*list) return MST_NO_MEMORY;
    for (uint32_t t = 0; t < c->count; t++)
        if (c->facet_of[t] != MST_NOWHERE) (*list)[g->triangle_count++] = t;
    g->along_curve = g->triangle_count > LARGE;
    return g->along_curve ? mst_order_along_curve(c->places, c->triangles, *list, g->triangle_count) : MST_OK;
}

/* Vertices in use get their numbers: in their old order, along a curve in that of the triangles. */
static void number_vertices(const cut *c, const uint32_t list[], uint32_t new_vertex[], mst_ground *g) {
    for (size_t v = 0; v < c->place_count; v++) new_vertex[v] = MST_NOWHERE;
    for (size_t i = 0; i < g->triangle_count; i++)
        for (int k = 0; k < 3; k++) {
            uint32_t *number = &new_vertex[c->triangles[list[i]][k]];
            if (*number == MST_NOWHERE) *number = (uint32_t)g->vertex_count++;
        }
    uint32_t count = 0;
    for (size_t v = 0; v < c->place_count && !g->along_curve; v++)
        if (new_vertex[v] != MST_NOWHERE) new_vertex[v] = count++;
}

static mst_status take_vertices(const mst_facets *f, const cut *c, const uint32_t new_vertex[], mst_arena *arena,
                                mst_ground *g) {
    uint32_t *facet = mst_arena_array(arena, c->place_count + 1, sizeof *facet);
    g->vertices = mst_arena_array(arena, c->place_count + 1, sizeof *g->vertices);
    if (!facet || !g->vertices) return MST_NO_MEMORY;
    for (size_t t = c->count; t-- > 0;)
        for (int k = 0; k < 3 && c->facet_of[t] != MST_NOWHERE; k++) facet[c->triangles[t][k]] = c->facet_of[t];
    for (size_t v = 0; v < c->place_count; v++) {
        if (new_vertex[v] == MST_NOWHERE) continue;
        bool corner = v < f->corner_count;
        double level = corner ? f->corners[v].elevation_m : level_on(f, facet[v], c->places[v]);
        g->vertices[new_vertex[v]] =
            (mst_ground_point){c->places[v][0], c->places[v][1], level, corner ? f->corners[v].source : MST_NOWHERE};
    }
    return MST_OK;
}

static mst_status take_triangles(const cut *c, const uint32_t list[], const uint32_t new_vertex[], mst_arena *arena,
                                 mst_ground *g) {
    uint32_t *new_triangle = mst_arena_array(arena, c->count + 1, sizeof *new_triangle);
    g->triangles = mst_arena_array(arena, c->count + 1, sizeof *g->triangles);
    g->neighbours = mst_arena_array(arena, c->count + 1, sizeof *g->neighbours);
    g->facet_of = mst_arena_array(arena, c->count + 1, sizeof *g->facet_of);
    if (!new_triangle || !g->triangles || !g->neighbours || !g->facet_of) return MST_NO_MEMORY;
    for (size_t t = 0; t < c->count; t++) new_triangle[t] = MST_NOWHERE;
    for (uint32_t i = 0; i < g->triangle_count; i++) new_triangle[list[i]] = i;
    for (size_t i = 0; i < g->triangle_count; i++) {
        uint32_t t = list[i];
        g->facet_of[i] = c->facet_of[t];
        for (int k = 0; k < 3; k++) {
            uint32_t next = c->neighbours[t][k];
            g->triangles[i][k] = new_vertex[c->triangles[t][k]];
            g->neighbours[i][k] = next == MST_NOWHERE ? MST_NOWHERE : new_triangle[next];
        }
    }
    return MST_OK;
}

static mst_status take(const mst_facets *f, const cut *c, mst_arena *arena, mst_ground *g, mst_error *error) {
    uint32_t *list, *new_vertex = mst_arena_array(arena, c->place_count + 1, sizeof *new_vertex);
    g->corners = f->corners, g->corner_count = f->corner_count;
    g->weights = f->weights, g->weight_count = f->weight_count;
    g->facets = f->triangles, g->facet_count = f->count;
    g->facet_neighbours = f->neighbours, g->fixed = f->fixed;
    if (!new_vertex || list_triangles(c, arena, g, &list)) return no_memory(error);
    number_vertices(c, list, new_vertex, g);
    if (take_vertices(f, c, new_vertex, arena, g) || take_triangles(c, list, new_vertex, arena, g))
        return no_memory(error);
    return MST_OK;
}

mst_status mst_clip_facets(const mst_facets *facets, const bool keep[], const mst_rings *rings, bool split, int threads,
                           mst_arena *arena, mst_ground *ground, mst_error *error) {
    cut c;
    mst_status status = MST_OK;
    if (split) status = split_facets(facets, keep, rings, threads, arena, &c, error);
    else if (whole_facets(facets, keep, rings, arena, &c)) status = no_memory(error);
    ground->whole = !split;
    return status ? status : take(facets, &c, arena, ground, error);
}

mst_status mst_take_all_facets(const mst_facets *facets, mst_arena *arena, mst_ground *ground, mst_error *error) {
    cut c;
    bool *keep = mst_arena_array(arena, facets->count + 1, 1);
    if (!keep) return no_memory(error);
    for (size_t i = 0; i < facets->count; i++) keep[i] = true;
    if (whole_facets(facets, keep, &(mst_rings){0}, arena, &c)) return no_memory(error);
    ground->whole = true;
    return take(facets, &c, arena, ground, error);
}
