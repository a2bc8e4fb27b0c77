/* The mesh of a grading, and its wishes as rows with hinges. Rows are in metres, so that one tolerance suits all. */
#include "works/grade.h"
#include <math.h>
#include <stdlib.h>

double mst_grade_twice_area(const mst_grade_input *in, const uint32_t t[3]) {
    const mst_point3 *a = &in->nodes[t[0]], *b = &in->nodes[t[1]], *c = &in->nodes[t[2]];
    return (b->easting_m - a->easting_m) * (c->northing_m - a->northing_m) -
           (b->northing_m - a->northing_m) * (c->easting_m - a->easting_m);
}

static int by_ends(const void *a, const void *b) {
    const uint32_t *x = a, *y = b;
    if (x[0] != y[0]) return x[0] < y[0] ? -1 : 1;
    return x[1] < y[1] ? -1 : x[1] > y[1];
}

bool mst_grade_mesh_of(const mst_grade_input *in, mst_arena *arena, mst_grade_mesh *m) {
    *m = (mst_grade_mesh){.in = in};
    m->area = mst_arena_array(arena, in->node_count + 1, sizeof *m->area);
    m->edges = mst_arena_array(arena, 3 * in->triangle_count + 1, sizeof *m->edges);
    if (!m->area || !m->edges) return false;
    size_t count = 0;
    for (size_t t = 0; t < in->triangle_count; t++)
        for (int c = 0; c < 3; c++) {
            uint32_t a = in->triangles[t][c], b = in->triangles[t][(c + 1) % 3];
            m->area[a] += mst_grade_twice_area(in, in->triangles[t]) / 6;
            m->edges[count][0] = a < b ? a : b, m->edges[count++][1] = a < b ? b : a;
        }
    qsort(m->edges, count, sizeof *m->edges, by_ends);
    for (size_t i = 0; i < count; i++)
        if (i == 0 || by_ends(m->edges[i], m->edges[i - 1]) != 0) {
            m->edges[m->edge_count][0] = m->edges[i][0], m->edges[m->edge_count][1] = m->edges[i][1];
            m->edge_count++;
        }
    return true;
}

void mst_grade_fall_factors(const mst_grade_input *in, const uint32_t t[3], double bearing, double factor[3]) {
    double twice = mst_grade_twice_area(in, t), e = sin(bearing), n = cos(bearing);
    for (int i = 0; i < 3; i++) {
        const mst_point3 *b = &in->nodes[t[(i + 1) % 3]], *c = &in->nodes[t[(i + 2) % 3]];
        double by_e = (b->northing_m - c->northing_m) / twice, by_n = (c->easting_m - b->easting_m) / twice;
        factor[i] = -(by_e * e + by_n * n);
    }
}

bool *mst_grade_nodes_of(const mst_grade_input *in, const mst_wish *w, mst_arena *arena) {
    bool *inside = mst_arena_array(arena, in->node_count + 1, 1);
    for (size_t i = 0; inside && i < w->count; i++)
        for (int c = 0; c < 3; c++) inside[in->triangles[w->at[i]][c]] = true;
    return inside;
}

/* ---- wishes ---- */

static void add_hinge(mst_hinges *h, uint32_t row, int sides, double at) {
    mst_hinge *to = MST_PUSH(h->arena, h->items, h->count, h->capacity);
    if (!to) h->failed = true;
    else *to = (mst_hinge){.row = row, .sides = sides, .at = at};
}

/* low <= factor . levels <= high, times a scale: the ground's part goes to the bounds. */
static void add_row(mst_hinges *h, const mst_grade_input *in, mst_grade_row row, double low, double high, double scale,
                    bool elastic) {
    double ground = 0;
    for (int i = 0; i < row.count; i++) {
        ground += row.factor[i] * in->nodes[row.node[i]].elevation_m;
        row.factor[i] *= scale;
    }
    mst_grade_row *to = MST_PUSH(h->arena, h->rows, h->row_count, h->row_capacity);
    if (!to) {
        h->failed = true;
        return;
    }
    *to = row;
    uint32_t at = (uint32_t)(h->row_count - 1);
    int both = MST_HINGE_BELOW | MST_HINGE_ABOVE;
    low = (low - ground) * scale, high = (high - ground) * scale;
    if (low == high) add_hinge(h, at, elastic ? both : 0, low);
    else {
        if (isfinite(low)) add_hinge(h, at, elastic ? both : MST_HINGE_ABOVE, low);
        if (isfinite(high)) add_hinge(h, at, elastic ? both : MST_HINGE_BELOW, high);
    }
    for (size_t k = h->count; elastic && !h->failed && k-- > 0 && h->items[k].row == at;) {
        mst_hinge *own = &h->items[k];
        own->price_below = own->at == low ? 1 : 0;
        own->price_above = own->at == high ? 1 : 0;
    }
}

static void add_steepest(mst_hinges *h, const mst_grade_mesh *m, const mst_wish *w, bool elastic) {
    const bool *inside = mst_grade_nodes_of(m->in, w, h->arena);
    if (!inside) h->failed = true;
    for (size_t k = 0; inside && k < m->edge_count; k++) {
        const uint32_t *v = m->edges[k];
        if (!inside[v[0]] || !inside[v[1]]) continue;
        const mst_point3 *a = &m->in->nodes[v[0]], *b = &m->in->nodes[v[1]];
        double most = w->high * hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        add_row(h, m->in, (mst_grade_row){{v[0], v[1]}, {1, -1}, 2}, -most, most, 1, elastic);
    }
}

static void add_wish(mst_hinges *h, const mst_grade_mesh *m, const mst_wish *w, bool elastic) {
    if (w->kind == MST_WISH_STEEPEST) {
        add_steepest(h, m, w, elastic);
        return;
    }
    for (size_t i = 0; i < w->count && !h->failed; i++) {
        mst_grade_row row = {{w->at[i]}, {1}, 1};
        double z = w->kind == MST_WISH_OVER_GROUND ? m->in->nodes[w->at[i]].elevation_m : 0, scale = 1;
        if (w->kind == MST_WISH_FALL) {
            const uint32_t *t = m->in->triangles[w->at[i]];
            row = (mst_grade_row){{t[0], t[1], t[2]}, {0}, 3};
            mst_grade_fall_factors(m->in, t, w->bearing_rad, row.factor);
            /* a sliver of the outline has a fall per metre of its own height */
            scale = 1 / fmax(fabs(row.factor[0]), fmax(fabs(row.factor[1]), fabs(row.factor[2])));
        }
        add_row(h, m->in, row, w->low + z, w->high + z, scale, elastic);
    }
}

void mst_hinges_of_wishes(const mst_grade_mesh *mesh, const bool wanted[], bool elastic, mst_hinges *hinges) {
    for (size_t w = 0; w < mesh->in->wish_count && !hinges->failed; w++)
        if (wanted[w]) add_wish(hinges, mesh, &mesh->in->wishes[w], elastic);
}
