/* Volumes between surfaces by exact prisms: both surfaces are planes over each convex piece of plan, so the volume over
 * it is the integral of a linear function, split where it changes sign. Its derivative by a corner's level is the
 * integral of that corner's share (the line of no cut moves too, but nothing lies on it); moved in plan, a corner
 * carries its plane along: minus the slope times the same integral. */
#include "geometry/sum.h"
#include "ground/cover.h"
#include "ground/spread.h"
#include <math.h>

static const double NOTHING = 1e-9; /* of the shape's area: what rounding leaves uncovered */

/* One of the two surfaces: a ground's facets, or a single plane with no ground. */
typedef struct side {
    const mst_ground *ground;
    mst_gather *cut, *fill; /* by corner of the ground */
    mst_prism_parts *parts;
} side;

typedef struct sums {
    mst_arena *arena;
    bool failed; /* memory was short */
    double origin[2];
    mst_sum cut, fill, area, cut_area, fill_area;
    double highest, lowest;
    side before, after;
} sums;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static bool make_side(const mst_ground *ground, double sign, mst_arena *arena, side *s) {
    *s = (side){ground, NULL, NULL, NULL};
    if (!ground) return true;
    s->parts = mst_arena_alloc(arena, sizeof *s->parts);
    if (!s->parts) return false;
    *s->parts = (mst_prism_parts){.ground = ground, .sign = sign};
    s->cut = mst_arena_array(arena, ground->corner_count + 1, sizeof *s->cut);
    s->fill = mst_arena_array(arena, ground->corner_count + 1, sizeof *s->fill);
    return s->cut && s->fill;
}

/* A plane counted from the origin of the sums. */
static mst_facet_plane local(mst_facet_plane p, const double origin[2]) {
    p.at[0] -= origin[0];
    p.at[1] -= origin[1];
    return p;
}

static double level_on(const mst_facet_plane *p, const double at[2]) {
    return p->level_m + p->slope_e * (at[0] - p->at[0]) + p->slope_n * (at[1] - p->at[1]);
}

/* Adds the integrals of the facet's corner shares over a part, times @p sign. */
static void add_shares(mst_gather *to, const mst_ground *g, uint32_t facet, const mst_facet_plane *plane,
                       const mst_part *part, const double origin[2], double sign) {
    const double *corner[3], at[2] = {part->centre[0] + origin[0], part->centre[1] + origin[1]};
    double share[3];
    mst_corners_of(g->facets[facet], g->corners, sizeof *g->corners, corner);
    mst_shares_at(corner, at, share);
    for (int i = 0; i < 3; i++) {
        mst_gather *c = &to[g->facets[facet][i]];
        double weight = sign * share[i] * part->area;
        c->elevation += weight;
        c->easting -= plane->slope_e * weight;
        c->northing -= plane->slope_n * weight;
    }
}

/* The planes of both surfaces over a piece, and the facets they come from. */
typedef struct pair {
    mst_facet_plane before, after;
    uint32_t before_facet, after_facet;
} pair;

static void add_side(sums *s, const pair *p, const mst_convex *piece, const double d[], bool cut) {
    mst_part part = mst_convex_part(piece, d);
    double sign = cut ? 1 : -1;
    mst_sum_add(cut ? &s->cut : &s->fill, sign * part.integral);
    mst_sum_add(cut ? &s->cut_area : &s->fill_area, part.area);
    mst_gather *before = cut ? s->before.cut : s->before.fill, *after = cut ? s->after.cut : s->after.fill;
    add_shares(before, s->before.ground, p->before_facet, &p->before, &part, s->origin, sign);
    s->failed |= !mst_parts_add(s->before.parts, p->before_facet, cut, piece, d, s->origin, s->arena);
    if (!s->after.ground) return;
    add_shares(after, s->after.ground, p->after_facet, &p->after, &part, s->origin, -sign);
    s->failed |= !mst_parts_add(s->after.parts, p->after_facet, cut, piece, d, s->origin, s->arena);
}

static void add_piece(sums *s, const mst_convex *piece, const pair *p) {
    mst_convex above, below;
    double d[MST_CONVEX_MOST], d_above[MST_CONVEX_MOST], d_below[MST_CONVEX_MOST];
    bool any_above = false, any_below = false;
    for (int i = 0; i < piece->count; i++) {
        d[i] = level_on(&p->before, piece->at[i]) - level_on(&p->after, piece->at[i]);
        s->highest = fmax(s->highest, d[i]); /* NaN at first: fmax takes the number */
        s->lowest = fmin(s->lowest, d[i]);
        any_above |= d[i] > 0;
        any_below |= d[i] < 0;
    }
    mst_sum_add(&s->area, mst_convex_part(piece, d).area);
    mst_convex_split(piece, d, &above, d_above, &below, d_below);
    if (any_above && above.count >= 3) add_side(s, p, &above, d_above, true);
    if (any_below && below.count >= 3) add_side(s, p, &below, d_below, false);
}

static mst_box window_of(const mst_convex *p, const double origin[2]) {
    mst_box box = {HUGE_VAL, HUGE_VAL, -HUGE_VAL, -HUGE_VAL};
    for (int i = 0; i < p->count; i++) {
        box.w = fmin(box.w, p->at[i][0] + origin[0]), box.e = fmax(box.e, p->at[i][0] + origin[0]);
        box.s = fmin(box.s, p->at[i][1] + origin[1]), box.n = fmax(box.n, p->at[i][1] + origin[1]);
    }
    return box;
}

static mst_convex ground_triangle(const mst_ground *g, uint32_t t, const double origin[2]) {
    const double *corner[3];
    mst_corners_of(g->triangles[t], g->vertices, sizeof *g->vertices, corner);
    return mst_convex_triangle(corner, origin);
}

static mst_convex cover_triangle(const mst_cover *c, size_t t, const double origin[2]) {
    const double *const corner[3] = {c->at[c->triangles[t][0]], c->at[c->triangles[t][1]], c->at[c->triangles[t][2]]};
    return mst_convex_triangle(corner, origin);
}

/* Walks the pieces of a ground's triangles inside a polygon. */
typedef struct pieces {
    const mst_ground *ground;
    const double *origin;
    const mst_convex *within;
    mst_boxtree_walk walk;
} pieces;

static pieces pieces_of(const mst_ground *g, const mst_convex *within, const double origin[2]) {
    return (pieces){g, origin, within, mst_boxtree_window(&g->tree, window_of(within, origin))};
}

static bool next_piece(pieces *p, uint32_t *triangle, mst_convex *piece) {
    while (mst_boxtree_next(&p->walk, triangle)) {
        mst_convex t = ground_triangle(p->ground, *triangle, p->origin);
        if (mst_convex_cut(p->within, &t, piece)) return true;
    }
    return false;
}

static double uncovered(double whole, double covered) {
    double rest = whole - covered;
    return rest > NOTHING * whole ? rest : 0;
}

static mst_status take_sums(const sums *s, double whole, mst_arena *arena, mst_prism_sum *sum) {
    mst_prism_sum r = {.cut_m3 = fmax(mst_sum_value(&s->cut), 0), /* where there is nothing, rounding may leave less */
                       .fill_m3 = fmax(mst_sum_value(&s->fill), 0),
                       .area_m2 = mst_sum_value(&s->area),
                       .cut_area_m2 = mst_sum_value(&s->cut_area),
                       .fill_area_m2 = mst_sum_value(&s->fill_area),
                       .highest_m = s->highest,
                       .lowest_m = s->lowest};
    r.uncovered_m2 = uncovered(whole, r.area_m2);
    r.parts = s->before.parts;
    if (s->failed) return MST_NO_MEMORY;
    *sum = r;
    return mst_gather_terms(s->before.ground, s->before.cut, s->before.fill, arena, &sum->cut_terms, &sum->fill_terms,
                            &sum->term_count);
}

mst_status mst_ground_to_plane(const mst_ground *ground, const mst_shape *shape, const mst_plane *plane, double strip_m,
                               mst_arena *arena, mst_prism_sum *sum, mst_error *error) {
    mst_cover cover;
    if (!isfinite(plane->level_m + plane->slope_e + plane->slope_n + plane->e0_m + plane->n0_m) || !isfinite(strip_m))
        return mst_fail(error, MST_INVALID, "The surface has no level, or the strip no depth.");
    mst_status status = mst_cover_shape(shape, arena, &cover, error);
    if (status) return status;
    sums s = {.arena = arena,
              .highest = NAN,
              .lowest = NAN,
              .origin = {shape->paths[0].vertices[0].easting_m, shape->paths[0].vertices[0].northing_m}};
    if (!make_side(ground, 1, arena, &s.before) || !make_side(NULL, -1, arena, &s.after)) return no_memory(error);
    mst_facet_plane after = {{plane->e0_m, plane->n0_m}, plane->level_m, plane->slope_e, plane->slope_n};
    pair p = {.after = local(after, s.origin)};
    for (size_t i = 0; i < cover.count; i++) {
        mst_convex within = cover_triangle(&cover, i, s.origin), piece;
        pieces walk = pieces_of(ground, &within, s.origin);
        for (uint32_t t; next_piece(&walk, &t, &piece);) {
            p.before_facet = ground->facet_of[t];
            p.before = local(mst_plane_of_facet(ground, p.before_facet), s.origin);
            p.before.level_m -= strip_m;
            add_piece(&s, &piece, &p);
        }
    }
    return take_sums(&s, cover.area_m2, arena, sum) ? no_memory(error) : MST_OK;
}

/* All pieces of both grounds inside one piece of the first. */
static void add_overlaps(sums *s, uint32_t before_triangle, const mst_convex *within) {
    const mst_ground *before = s->before.ground, *after = s->after.ground;
    pair p = {.before_facet = before->facet_of[before_triangle]};
    p.before = local(mst_plane_of_facet(before, p.before_facet), s->origin);
    pieces walk = pieces_of(after, within, s->origin);
    mst_convex piece;
    for (uint32_t t; next_piece(&walk, &t, &piece);) {
        p.after_facet = after->facet_of[t];
        p.after = local(mst_plane_of_facet(after, p.after_facet), s->origin);
        add_piece(s, &piece, &p);
    }
}

mst_status mst_ground_to_ground(const mst_ground *before, const mst_ground *after, const mst_shape *within,
                                mst_arena *arena, mst_prism_sum *sum, mst_prism_sum *after_terms, mst_error *error) {
    mst_cover cover = {0};
    mst_status status = within ? mst_cover_shape(within, arena, &cover, error) : MST_OK;
    if (status) return status;
    sums s = {.arena = arena,
              .highest = NAN,
              .lowest = NAN,
              .origin = {before->vertices[0].easting_m, before->vertices[0].northing_m}};
    if (!make_side(before, 1, arena, &s.before) || !make_side(after, -1, arena, &s.after)) return no_memory(error);
    for (uint32_t t = 0; !within && t < before->triangle_count; t++) {
        mst_convex all = ground_triangle(before, t, s.origin);
        add_overlaps(&s, t, &all);
    }
    for (size_t i = 0; i < cover.count; i++) {
        mst_convex part = cover_triangle(&cover, i, s.origin), piece;
        pieces walk = pieces_of(before, &part, s.origin);
        for (uint32_t t; next_piece(&walk, &t, &piece);) add_overlaps(&s, t, &piece);
    }
    double whole = within ? cover.area_m2 : before->plan_area_m2;
    if (take_sums(&s, whole, arena, sum)) return no_memory(error);
    if (!after_terms) return MST_OK;
    *after_terms = *sum;
    after_terms->parts = s.after.parts;
    if (mst_gather_terms(after, s.after.cut, s.after.fill, arena, &after_terms->cut_terms, &after_terms->fill_terms,
                         &after_terms->term_count))
        return no_memory(error);
    return MST_OK;
}

mst_status mst_ground_slope_area(const mst_ground *ground, const mst_shape *shape, mst_arena *arena,
                                 double *slope_area_m2, double *covered_m2, mst_error *error) {
    mst_cover cover;
    mst_status status = mst_cover_shape(shape, arena, &cover, error);
    if (status) return status;
    const double origin[2] = {shape->paths[0].vertices[0].easting_m, shape->paths[0].vertices[0].northing_m};
    const double none[MST_CONVEX_MOST] = {0};
    mst_sum slope = {0}, plan = {0};
    for (size_t i = 0; i < cover.count; i++) {
        mst_convex within = cover_triangle(&cover, i, origin), piece;
        pieces walk = pieces_of(ground, &within, origin);
        for (uint32_t t; next_piece(&walk, &t, &piece);) {
            mst_facet_plane p = mst_plane_of_facet(ground, ground->facet_of[t]);
            double area = mst_convex_part(&piece, none).area;
            mst_sum_add(&plan, area);
            double steep = hypot(1, hypot(p.slope_e, p.slope_n));
            if (area > 0 && isfinite(steep)) mst_sum_add(&slope, area * steep); /* a face of no width adds nothing */
            else mst_sum_add(&slope, area);
        }
    }
    *slope_area_m2 = mst_sum_value(&slope);
    *covered_m2 = mst_sum_value(&plan);
    return MST_OK;
}
