/* Levels, slopes and figures of a ground model, and the way from its corners back to measured points. */
#include "ground/model.h"
#include "geometry/sum.h"
#include <math.h>

mst_facet_plane mst_plane_of_facet(const mst_ground *g, uint32_t facet) {
    const mst_corner *a = &g->corners[g->facets[facet][0]], *b = &g->corners[g->facets[facet][1]],
                     *c = &g->corners[g->facets[facet][2]];
    double be = b->at[0] - a->at[0], bn = b->at[1] - a->at[1], bz = b->elevation_m - a->elevation_m;
    double ce = c->at[0] - a->at[0], cn = c->at[1] - a->at[1], cz = c->elevation_m - a->elevation_m;
    double twice = mst_orient2d(a->at, b->at, c->at); /* above 0 even where rounding would leave none */
    return (mst_facet_plane){
        {a->at[0], a->at[1]}, a->elevation_m, (bz * cn - cz * bn) / twice, (cz * be - bz * ce) / twice};
}

static mst_status make_bands(mst_ground *g, mst_arena *arena) {
    size_t count = (g->triangle_count + MST_BAND_TRIANGLES - 1) / MST_BAND_TRIANGLES;
    g->bands = mst_arena_array(arena, count + 1, sizeof *g->bands);
    if (!g->bands) return MST_NO_MEMORY;
    for (size_t b = 0; b < count; b++) g->bands[b] = (mst_band){HUGE_VAL, -HUGE_VAL};
    for (size_t t = 0; t < g->triangle_count; t++)
        for (int k = 0; k < 3; k++) {
            mst_band *band = &g->bands[t / MST_BAND_TRIANGLES];
            double z = g->vertices[g->triangles[t][k]].elevation_m;
            band->lowest_m = fmin(band->lowest_m, z), band->highest_m = fmax(band->highest_m, z);
        }
    return MST_OK;
}

mst_status mst_ground_finish(mst_ground *g, mst_arena *arena, mst_error *error) {
    mst_sum plan = {0}, slope = {0};
    g->lowest_m = HUGE_VAL;
    g->highest_m = -HUGE_VAL;
    for (size_t i = 0; i < g->vertex_count; i++) {
        g->lowest_m = fmin(g->lowest_m, g->vertices[i].elevation_m);
        g->highest_m = fmax(g->highest_m, g->vertices[i].elevation_m);
    }
    for (size_t t = 0; t < g->triangle_count; t++) {
        const double *c[3];
        mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, c);
        double area = mst_orient2d(c[0], c[1], c[2]) / 2;
        mst_facet_plane p = mst_plane_of_facet(g, g->facet_of[t]);
        mst_sum_add(&plan, area);
        mst_sum_add(&slope, area * sqrt(1 + p.slope_e * p.slope_e + p.slope_n * p.slope_n));
    }
    g->plan_area_m2 = mst_sum_value(&plan);
    g->slope_area_m2 = mst_sum_value(&slope);
    bool room = true;
    if (g->notes.unsaid) { /* the last place is kept for what did not fit */
        const char **last = &g->notes.items[g->notes.count - 1];
        *last = mst_arena_printf(arena, "... and %zu more warnings.", g->notes.unsaid + 1);
        room = *last != NULL;
    }
    if (!room || mst_ground_make_tree(g, arena) || mst_ground_make_starts(g, arena) || make_bands(g, arena))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    return MST_OK;
}

void mst_ground_describe(const mst_ground *g, mst_ground_figures *figures) {
    *figures = (mst_ground_figures){g->vertex_count, g->triangle_count, g->plan_area_m2, g->slope_area_m2,
                                    g->lowest_m,     g->highest_m,      g->notes.items,  g->notes.count};
}

const uint32_t (*mst_ground_triangles(const mst_ground *g, size_t *count))[3] {
    *count = g->triangle_count;
    return (const uint32_t(*)[3])g->triangles;
}

const mst_ground_point *mst_ground_vertices(const mst_ground *g, size_t *count) {
    *count = g->vertex_count;
    return g->vertices;
}

static void add_term(mst_ground_level *level, uint32_t source, double share, const mst_facet_plane *plane) {
    size_t i = 0;
    while (i < level->term_count && level->terms[i].point != source) i++;
    if (i == MST_GROUND_TERMS) return;
    if (i == level->term_count) level->terms[level->term_count++] = (mst_gradient_term){source, 0, 0, 0};
    level->terms[i].easting -= plane->slope_e * share;
    level->terms[i].northing -= plane->slope_n * share;
    level->terms[i].elevation += share;
}

bool mst_ground_level_at(const mst_ground *g, mst_point p, mst_ground_level *level) {
    const double at[2] = {p.easting_m, p.northing_m};
    if (!isfinite(at[0]) || !isfinite(at[1])) return false;
    uint32_t t = mst_triangle_at(&g->tree, (const uint32_t(*)[3])g->triangles, g->vertices, sizeof *g->vertices, at);
    if (t == MST_NOWHERE) return false;
    const uint32_t *facet = g->facets[g->facet_of[t]];
    const double *corner[3];
    double share[3];
    mst_facet_plane plane = mst_plane_of_facet(g, g->facet_of[t]);
    mst_corners_of(facet, g->corners, sizeof *g->corners, corner);
    mst_shares_at(corner, at, share);
    *level = (mst_ground_level){.slope = hypot(plane.slope_e, plane.slope_n)};
    level->fall_bearing_rad = level->slope > 0 ? mst_angle_turn(atan2(-plane.slope_e, -plane.slope_n)) : NAN;
    for (int i = 0; i < 3; i++) {
        const mst_corner *c = &g->corners[facet[i]];
        level->elevation_m += share[i] * c->elevation_m;
        for (uint32_t k = c->weight_first; share[i] != 0 && k < c->weight_first + c->weight_count; k++)
            add_term(level, g->weights[k].source, share[i] * g->weights[k].share, &plane);
    }
    return true;
}

typedef struct gathered {
    mst_gather first, second;
    bool used;
} gathered;

static void hand_on(mst_gather *to, const mst_gather *from, double share) {
    to->easting += share * from->easting;
    to->northing += share * from->northing;
    to->elevation += share * from->elevation;
}

mst_status mst_gather_terms(const mst_ground *g, const mst_gather first[], const mst_gather second[], mst_arena *arena,
                            mst_gradient_term **first_terms, mst_gradient_term **second_terms, size_t *count) {
    uint32_t most = 0;
    for (size_t i = 0; i < g->weight_count; i++)
        if (g->weights[i].source >= most) most = g->weights[i].source + 1;
    gathered *by_source = mst_arena_array(arena, (size_t)most + 1, sizeof *by_source);
    if (!by_source) return MST_NO_MEMORY;
    for (size_t c = 0; c < g->corner_count; c++)
        for (uint32_t k = 0; k < g->corners[c].weight_count; k++) {
            const mst_weight *w = &g->weights[g->corners[c].weight_first + k];
            gathered *to = &by_source[w->source];
            hand_on(&to->first, &first[c], w->share);
            if (second) hand_on(&to->second, &second[c], w->share);
            to->used |= first[c].elevation != 0 || (second && second[c].elevation != 0);
        }
    *count = 0;
    for (uint32_t s = 0; s < most; s++) *count += by_source[s].used;
    *first_terms = mst_arena_array(arena, *count + 1, sizeof **first_terms);
    if (second) *second_terms = mst_arena_array(arena, *count + 1, sizeof **second_terms);
    if (!*first_terms || (second && !*second_terms)) return MST_NO_MEMORY;
    size_t at = 0;
    for (uint32_t s = 0; s < most; s++) {
        if (!by_source[s].used) continue;
        const mst_gather *a = &by_source[s].first, *b = &by_source[s].second;
        (*first_terms)[at] = (mst_gradient_term){s, a->easting, a->northing, a->elevation};
        if (second) (*second_terms)[at] = (mst_gradient_term){s, b->easting, b->northing, b->elevation};
        at++;
    }
    return MST_OK;
}
