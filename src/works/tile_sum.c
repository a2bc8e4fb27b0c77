/* Volumes of tiles, and what the works have to say about banks and ditches that do not meet the ground. */
#include "geometry/sum.h"
#include "ground/convex.h"
#include "ground/model.h"
#include "ground/spread.h"
#include "works/compose.h"
#include <math.h>

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

typedef struct sums {
    const mst_works *w;
    mst_sum cut, fill, area, cut_area, fill_area;
    double highest, lowest;
    mst_gather *of_cut, *of_fill; /* by corner of the ground */
    mst_prism_parts *parts;       /* for what the ground does between its points */
    mst_arena *arena;
    bool failed;
} sums;

/* The derivative by the ground's levels, as src/ground/prisms.c has it; moved in plan a point carries its plane along.
 */
static void add_shares(sums *s, uint32_t tile, const mst_part *part, mst_gather *to, double sign) {
    const mst_tiling *t = &s->w->tiling;
    const mst_ground *g = s->w->ground;
    uint32_t facet = g->facet_of[t->tiles[tile].ground];
    const double *origin = t->at[t->corners[tile][0]];
    const double at[2] = {part->centre[0] + origin[0] + t->origin[0], part->centre[1] + origin[1] + t->origin[1]};
    const double *corner[3];
    double share[3];
    mst_facet_plane plane = mst_plane_of_facet(g, facet);
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    mst_shares_at(corner, at, share);
    for (int i = 0; i < 3; i++) {
        mst_gather *c = &to[g->facets[facet][i]];
        double weight = sign * share[i] * part->area;
        c->elevation += weight;
        c->easting -= plane.slope_e * weight;
        c->northing -= plane.slope_n * weight;
    }
}

static void add_rest(sums *s, uint32_t tile, bool cut, const mst_convex *piece, const double d[]) {
    const mst_tiling *t = &s->w->tiling;
    const double *corner = t->at[t->corners[tile][0]];
    const double origin[2] = {corner[0] + t->origin[0], corner[1] + t->origin[1]};
    uint32_t facet = s->w->ground->facet_of[t->tiles[tile].ground];
    s->failed |= !mst_parts_add(s->parts, facet, cut, piece, d, origin, s->arena);
}

static void add_tile(sums *s, uint32_t tile, bool moves) {
    const mst_tiling *t = &s->w->tiling;
    const double *const corner[3] = {t->at[t->corners[tile][0]], t->at[t->corners[tile][1]],
                                     t->at[t->corners[tile][2]]};
    mst_convex p = mst_convex_triangle(corner, corner[0]), above, below;
    double d[3], d_above[MST_CONVEX_MOST], d_below[MST_CONVEX_MOST];
    for (int c = 0; c < 3; c++) {
        d[c] = mst_tile_level(&t->tiles[tile], MST_SURFACE_STRIPPED, c) -
               mst_tile_level(&t->tiles[tile], MST_SURFACE_FORMATION, c);
        s->highest = fmax(s->highest, d[c]), s->lowest = fmin(s->lowest, d[c]);
    }
    mst_sum_add(&s->area, mst_tile_area(t, tile));
    mst_convex_split(&p, d, &above, d_above, &below, d_below);
    if (above.count >= 3 && fmax(fmax(d[0], d[1]), d[2]) > 0) {
        mst_part part = mst_convex_part(&above, d_above);
        mst_sum_add(&s->cut, part.integral), mst_sum_add(&s->cut_area, part.area);
        if (moves && part.area > 0) add_shares(s, tile, &part, s->of_cut, 1), add_rest(s, tile, true, &above, d_above);
    }
    if (below.count >= 3 && fmin(fmin(d[0], d[1]), d[2]) < 0) {
        mst_part part = mst_convex_part(&below, d_below);
        mst_sum_add(&s->fill, -part.integral), mst_sum_add(&s->fill_area, part.area);
        if (moves && part.area > 0)
            add_shares(s, tile, &part, s->of_fill, -1), add_rest(s, tile, false, &below, d_below);
    }
}

/* A depth goes down from wherever the ground is, so the ground's own level does not matter to it. */
static bool hangs_on_ground(const mst_element *e) { return e->kind != MST_WORK_DEPTH && e->kind != MST_WORK_STRIP; }

mst_status mst_works_sum(const mst_works *w, uint32_t element, mst_arena *arena, mst_prism_sum *sum, mst_error *error) {
    sums s = {.w = w, .highest = NAN, .lowest = NAN, .arena = arena};
    s.of_cut = mst_arena_array(arena, w->ground->corner_count + 1, sizeof *s.of_cut);
    s.of_fill = mst_arena_array(arena, w->ground->corner_count + 1, sizeof *s.of_fill);
    s.parts = mst_arena_alloc(arena, sizeof *s.parts);
    if (!s.of_cut || !s.of_fill || !s.parts) return no_memory(error);
    *s.parts = (mst_prism_parts){.ground = w->ground, .sign = 1};
    for (uint32_t i = 0; i < w->tiling.count; i++) {
        const mst_tile *t = &w->tiling.tiles[i];
        if (t->part != MST_PART_NONE && t->owner == element)
            add_tile(&s, i, hangs_on_ground(w->layouts[element].element));
    }
    *sum = (mst_prism_sum){.cut_m3 = mst_sum_value(&s.cut),
                           .fill_m3 = mst_sum_value(&s.fill),
                           .area_m2 = mst_sum_value(&s.area),
                           .cut_area_m2 = mst_sum_value(&s.cut_area),
                           .fill_area_m2 = mst_sum_value(&s.fill_area),
                           .highest_m = s.highest,
                           .lowest_m = s.lowest,
                           .parts = s.parts};
    if (s.failed) return no_memory(error);
    if (mst_gather_terms(w->ground, s.of_cut, s.of_fill, arena, &sum->cut_terms, &sum->fill_terms, &sum->term_count))
        return no_memory(error);
    return MST_OK;
}

/* ---- notes ---- */

mst_status mst_works_notes(const mst_works *w, mst_arena *arena, const char ***notes, size_t *count, mst_error *error) {
    const char **all = mst_arena_array(arena, w->gap_count + 1, sizeof *all);
    if (!all) return no_memory(error);
    for (size_t i = 0; i < w->gap_count; i++) {
        const mst_work_gap *g = &w->gaps[i];
        const char *name = w->layouts[g->element].element->name;
        all[i] =
            g->ditch
                ? mst_arena_printf(arena,
                                   "The bottom of '%s' stands above the ground over %.2f m2, by up to %.2f m at "
                                   "%.2f, %.2f; nothing is dug there. Lower its levels or bring up the ground.",
                                   name, g->length_m, g->off_m, g->at.easting_m, g->at.northing_m)
                : mst_arena_printf(arena,
                                   "The bank of '%s' does not meet the ground inside the survey along %.2f m; it is "
                                   "still %.2f m off at %.2f, %.2f. Survey further out, steepen it or put in a "
                                   "wall; what lies beyond is not counted.",
                                   name, g->length_m, g->off_m, g->at.easting_m, g->at.northing_m);
        if (!all[i]) return no_memory(error);
    }
    *notes = all;
    *count = w->gap_count;
    return MST_OK;
}
