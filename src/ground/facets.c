/* Merged points, breaklines and measured rims to facets: one constrained triangulation, then levels for the places
 * where lines cross. */
#include "ground/model.h"
#include <math.h>

static const double CROSSING_M = 0.020; /* two lines that cross farther apart in level than this are worth a look */

typedef struct maker {
    const mst_parts *parts;
    const mst_merged *merged;
    mst_notes *notes;
    mst_arena *arena;
    mst_edge *edges;
    size_t edge_count, edge_capacity;
    mst_weight *weights;
    size_t weight_count, weight_capacity;
} maker;

static bool add_edge(maker *m, uint32_t a, uint32_t b, uint32_t line) {
    if (a == b) return true;
    mst_edge *edge = MST_PUSH(m->arena, m->edges, m->edge_count, m->edge_capacity);
    if (!edge) return false;
    *edge = (mst_edge){a, b, line};
    return true;
}

static bool add_weight(maker *m, mst_corner *c, mst_weight w) {
    for (uint32_t i = c->weight_first; i < c->weight_first + c->weight_count; i++)
        if (m->weights[i].source == w.source) {
            m->weights[i].share += w.share;
            return true;
        }
    mst_weight *added = MST_PUSH(m->arena, m->weights, m->weight_count, m->weight_capacity);
    if (!added) return false;
    *added = w;
    c->weight_count++;
    return true;
}

static mst_status add_line(maker *m, uint32_t line, mst_error *error) {
    const mst_part_line *l = &m->parts->lines[line];
    for (size_t i = 0; i < l->count; i++)
        if (l->points[i] >= m->parts->point_count)
            return mst_fail(error, MST_INVALID, "Breakline %s names point %lu, but there are %zu points.",
                            l->name ? l->name : "", (unsigned long)l->points[i] + 1, m->parts->point_count);
    bool open = false;
    for (size_t i = 0; i + 1 < l->count + (l->closed && l->count > 2); i++) {
        uint32_t a = m->merged->of_point[l->points[i]], b = m->merged->of_point[l->points[(i + 1) % l->count]];
        if (a == MST_NOWHERE || b == MST_NOWHERE) open = true;
        else if (!add_edge(m, a, b, line)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    if (open && !mst_note(m->notes, m->arena, "Breakline %s has points without a level; it does not count beside them.",
                          l->name ? l->name : ""))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    return MST_OK;
}

/* Corners of measured points, each with equal shares of the points merged into it. */
static mst_status measured_corners(maker *m, mst_corner corners[]) {
    size_t count = m->merged->count;
    uint32_t *start = mst_arena_array(m->arena, count + 2, sizeof *start);
    uint32_t *order = mst_arena_array(m->arena, m->parts->point_count + 1, sizeof *order);
    if (!start || !order) return MST_NO_MEMORY;
    for (size_t v = 0; v < count; v++) start[v + 2] = start[v + 1] + m->merged->members[v];
    for (uint32_t i = 0; i < m->parts->point_count; i++)
        if (m->merged->of_point[i] != MST_NOWHERE) order[start[m->merged->of_point[i] + 1]++] = i;
    for (size_t v = 0; v < count; v++) {
        const mst_part_point *first = &m->parts->points[m->merged->first[v]];
        bool measured = first->weight_count == 1 && first->weights[0].share == 1;
        corners[v] = (mst_corner){{first->at[0], first->at[1]},
                                  m->merged->elevation_m[v],
                                  (uint32_t)m->weight_count,
                                  0,
                                  measured ? first->weights[0].source : MST_NOWHERE};
        for (uint32_t k = start[v]; k < start[v + 1]; k++) {
            const mst_part_point *p = &m->parts->points[order[k]];
            for (int w = 0; w < p->weight_count; w++) {
                mst_weight part = {p->weights[w].source, p->weights[w].share / m->merged->members[v]};
                if (!add_weight(m, &corners[v], part)) return MST_NO_MEMORY;
            }
        }
    }
    return MST_OK;
}

/* Adds the level at a share of an edge, times @p part, to a corner. */
static bool add_along(maker *m, mst_corner corners[], mst_corner *c, const mst_edge *edge, double along, double part) {
    const uint32_t ends[2] = {edge->a, edge->b};
    const double shares[2] = {(1 - along) * part, along * part};
    for (int e = 0; e < 2; e++) {
        const mst_corner *end = &corners[ends[e]];
        c->elevation_m += shares[e] * end->elevation_m;
        for (uint32_t k = 0; k < end->weight_count; k++) {
            mst_weight w = m->weights[end->weight_first + k];
            if (!add_weight(m, c, (mst_weight){w.source, w.share * shares[e]})) return false;
        }
    }
    return true;
}

static double level_along(const mst_corner corners[], const mst_edge *edge, double along) {
    return (1 - along) * corners[edge->a].elevation_m + along * corners[edge->b].elevation_m;
}

static const char *line_name(const maker *m, const mst_edge *edge) {
    if (edge->line == MST_NOWHERE) return "the boundary";
    return m->parts->lines[edge->line].name ? m->parts->lines[edge->line].name : "a breakline";
}

/* Mean of the two lines; where a boundary crosses a breakline, the breakline knows better. */
static mst_status crossing_level(maker *m, mst_corner corners[], const mst_crossing *x) {
    const mst_edge *a = &m->edges[x->segment_a], *b = &m->edges[x->segment_b];
    mst_corner *c = &corners[x->vertex];
    double part_a = 0.5, za = level_along(corners, a, x->along_a), zb = level_along(corners, b, x->along_b);
    if (a->line != MST_NOWHERE && b->line == MST_NOWHERE) part_a = 1;
    if (a->line == MST_NOWHERE && b->line != MST_NOWHERE) part_a = 0;
    if (!isnan(c->elevation_m)) return MST_OK; /* more than two lines meet here: the first two have spoken */
    c->elevation_m = 0;
    c->weight_first = (uint32_t)m->weight_count;
    if (part_a > 0 && !add_along(m, corners, c, a, x->along_a, part_a)) return MST_NO_MEMORY;
    if (part_a < 1 && !add_along(m, corners, c, b, x->along_b, 1 - part_a)) return MST_NO_MEMORY;
    if (part_a != 0.5 || fabs(za - zb) <= CROSSING_M) return MST_OK;
    bool said =
        mst_note(m->notes, m->arena, "%s and %s cross at %.3f E, %.3f N with levels %.3f m apart; their mean counts.",
                 line_name(m, a), line_name(m, b), c->at[0], c->at[1], fabs(za - zb));
    return said ? MST_OK : MST_NO_MEMORY;
}

static mst_status triangulate(maker *m, int threads, mst_triangulation **t, mst_error *error) {
    size_t count = m->merged->count;
    double(*places)[2] = mst_arena_array(m->arena, count + 1, sizeof *places);
    uint32_t(*segments)[2] = mst_arena_array(m->arena, m->edge_count + 1, sizeof *segments);
    if (!places || !segments) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t v = 0; v < count; v++) {
        const double *at = m->parts->points[m->merged->first[v]].at;
        places[v][0] = at[0], places[v][1] = at[1];
    }
    for (size_t i = 0; i < m->edge_count; i++) segments[i][0] = m->edges[i].a, segments[i][1] = m->edges[i].b;
    mst_triangulation_input input = {(const double(*)[2])places, count, (const uint32_t(*)[2])segments, m->edge_count,
                                     threads};
    return mst_triangulation_build(&input, m->arena, t, error);
}

static mst_status take_levels(maker *m, const mst_triangulation *t, mst_facets *f) {
    size_t crossings;
    const double(*places)[2] = mst_triangulation_vertices(t, &f->corner_count);
    const mst_crossing *x = mst_triangulation_crossings(t, &crossings);
    f->corners = mst_arena_array(m->arena, f->corner_count, sizeof *f->corners);
    if (!f->corners || measured_corners(m, f->corners)) return MST_NO_MEMORY;
    for (size_t v = m->merged->count; v < f->corner_count; v++)
        f->corners[v] = (mst_corner){{places[v][0], places[v][1]}, NAN, 0, 0, MST_NOWHERE};
    for (size_t i = 0; i < crossings; i++)
        if (crossing_level(m, f->corners, &x[i])) return MST_NO_MEMORY;
    f->weights = m->weights;
    f->weight_count = m->weight_count;
    return MST_OK;
}

static mst_status take_triangles(const mst_triangulation *t, mst_arena *arena, mst_facets *f) {
    const uint32_t(*corners)[3] = mst_triangulation_corners(t, &f->count);
    const uint32_t(*neighbours)[3] = mst_triangulation_neighbours(t);
    f->triangles = mst_arena_array(arena, f->count + 1, sizeof *f->triangles);
    f->neighbours = mst_arena_array(arena, f->count + 1, sizeof *f->neighbours);
    f->fixed = mst_arena_array(arena, f->count + 1, 1);
    if (!f->triangles || !f->neighbours || !f->fixed) return MST_NO_MEMORY;
    for (uint32_t i = 0; i < f->count; i++)
        for (int c = 0; c < 3; c++) {
            f->triangles[i][c] = corners[i][c];
            f->neighbours[i][c] = neighbours[i][c];
            if (mst_triangulation_edge_fixed(t, i, c)) f->fixed[i] |= (uint8_t)(1 << c);
        }
    return MST_OK;
}

mst_status mst_make_facets(const mst_parts *parts, const mst_merged *merged, const mst_edge rim[], size_t rim_count,
                           mst_notes *notes, mst_arena *arena, mst_facets *facets, mst_error *error) {
    maker m = {.parts = parts, .merged = merged, .notes = notes, .arena = arena};
    mst_triangulation *t;
    mst_status status;
    for (uint32_t i = 0; i < parts->line_count; i++)
        if ((status = add_line(&m, i, error))) return status;
    for (size_t i = 0; i < rim_count; i++)
        if (!add_edge(&m, rim[i].a, rim[i].b, MST_NOWHERE)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if ((status = triangulate(&m, parts->threads, &t, error))) return status;
    mst_facets made = {0};
    if (take_levels(&m, t, &made) || take_triangles(t, arena, &made))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *facets = made;
    return MST_OK;
}
