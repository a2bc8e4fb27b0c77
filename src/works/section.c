/* Sections through the works: each triangle that the line passes gives the levels at its two ends on it. */
#include "geometry/sum.h"
#include "ground/model.h"
#include "works/compose.h"
#include <math.h>
#include <stdlib.h>

static const double SAGITTA_M = 0.001; /* arcs, as outlines of the works */
static const double SAME_M = 1e-9;     /* chainages nearer than this are one */
static const double SAME_LEVEL_M = 1e-7;
static const double END_M = 1e-6; /* the sections at a line's ends stand this far inside: there its element ends */
enum { MOST_STATIONS = 5000 };

typedef struct span {
    double from, to; /* along one straight piece, 0 to 1 */
    mst_works_level at_from, at_to;
} span;

typedef struct cutter {
    const mst_works *w;
    bool *tiled; /* by triangle of the ground: the tiling has it */
    double a[2], b[2], chainage, length;
    span *spans;
    size_t span_count, span_capacity;
    mst_section_point *points;
    size_t count, capacity;
    mst_arena *arena;
} cutter;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static double side(const double a[2], const double b[2], const double p[2]) {
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
}

/* The part of the line inside a counter-clockwise triangle. */
static bool inside_part(const cutter *c, const double *const corner[3], double *from, double *to) {
    *from = 0, *to = 1;
    for (int i = 0; i < 3; i++) {
        double at_a = side(corner[i], corner[(i + 1) % 3], c->a), at_b = side(corner[i], corner[(i + 1) % 3], c->b);
        if (at_a < 0 && at_b < 0) return false;
        if (at_a < 0) *from = fmax(*from, at_a / (at_a - at_b));
        else if (at_b < 0) *to = fmin(*to, at_a / (at_a - at_b));
    }
    return (*to - *from) * c->length > SAME_M;
}

static void place(const cutter *c, double t, double at[2]) {
    for (int k = 0; k < 2; k++) at[k] = c->a[k] + t * (c->b[k] - c->a[k]);
}

static bool add_span(cutter *c, span s) {
    span *to = MST_PUSH(c->arena, c->spans, c->span_count, c->span_capacity);
    if (to) *to = s;
    return to != NULL;
}

static mst_works_level level_on(const mst_tile *t, const double *const corner[3], const double at[2]) {
    double share[3], z[4] = {0};
    mst_shares_at(corner, at, share);
    for (int k = 0; k < 3; k++) {
        z[0] += share[k] * t->level[MST_EXISTING][k];
        for (int s = 0; s < 3; s++) z[1 + s] += share[k] * mst_tile_level(t, (mst_surface_kind)s, k);
    }
    return (mst_works_level){z[0], z[1], z[2], z[3], t->part == MST_PART_NONE ? UINT32_MAX : t->owner};
}

static bool add_tile_spans(cutter *c, mst_box box) {
    const mst_tiling *t = &c->w->tiling;
    mst_boxtree_walk walk = mst_boxtree_window(&t->tree, box);
    uint32_t i;
    while (t->count && mst_boxtree_next(&walk, &i)) {
        const double *corner[3];
        span s;
        mst_corners_of(t->corners[i], t->at, sizeof *t->at, corner);
        if (!inside_part(c, corner, &s.from, &s.to)) continue;
        double p[2], q[2];
        place(c, s.from, p), place(c, s.to, q);
        s.at_from = level_on(&t->tiles[i], corner, p), s.at_to = level_on(&t->tiles[i], corner, q);
        if (!add_span(c, s)) return false;
    }
    return true;
}

/* Ground around the works, which is not in the tiling. */
static bool add_ground_spans(cutter *c, mst_box box) {
    const mst_ground *g = c->w->ground;
    const double *o = c->w->tiling.origin;
    mst_boxtree_walk walk =
        mst_boxtree_window(&g->tree, (mst_box){box.w + o[0], box.s + o[1], box.e + o[0], box.n + o[1]});
    uint32_t i;
    while (mst_boxtree_next(&walk, &i)) {
        if (c->tiled[i]) continue;
        double local[3][2];
        for (int k = 0; k < 3; k++) {
            local[k][0] = g->vertices[g->triangles[i][k]].easting_m - o[0];
            local[k][1] = g->vertices[g->triangles[i][k]].northing_m - o[1];
        }
        const double *const corner[3] = {local[0], local[1], local[2]};
        double t[2], z[2] = {0}, share[3];
        if (!inside_part(c, corner, &t[0], &t[1])) continue;
        for (int end = 0; end < 2; end++) {
            double p[2];
            place(c, t[end], p);
            mst_shares_at(corner, p, share);
            for (int k = 0; k < 3; k++) z[end] += share[k] * g->vertices[g->triangles[i][k]].elevation_m;
        }
        span s = {t[0], t[1], {z[0], z[0], z[0], z[0], UINT32_MAX}, {z[1], z[1], z[1], z[1], UINT32_MAX}};
        if (!add_span(c, s)) return false;
    }
    return true;
}

static int by_from(const void *a, const void *b) {
    const span *x = a, *y = b;
    if (x->from != y->from) return x->from < y->from ? -1 : 1;
    return x->to < y->to ? -1 : x->to > y->to;
}

static bool same_level(const mst_works_level *a, const mst_works_level *b) {
    return fabs(a->finished_m - b->finished_m) <= SAME_LEVEL_M &&
           fabs(a->formation_m - b->formation_m) <= SAME_LEVEL_M &&
           fabs(a->stripped_m - b->stripped_m) <= SAME_LEVEL_M && fabs(a->existing_m - b->existing_m) <= SAME_LEVEL_M;
}

static bool add_point(cutter *c, double t, const mst_works_level *level) {
    double at[2], chainage = c->chainage + t * c->length;
    const mst_section_point *last = c->count ? &c->points[c->count - 1] : NULL;
    if (last && fabs(last->chainage_m - chainage) <= 1e3 * SAME_M && same_level(&last->level, level) &&
        last->level.owner == level->owner)
        return true;
    mst_section_point *to = MST_PUSH(c->arena, c->points, c->count, c->capacity);
    if (!to) return false;
    place(c, t, at);
    *to = (mst_section_point){chainage, {at[0] + c->w->tiling.origin[0], at[1] + c->w->tiling.origin[1]}, *level};
    return true;
}

/* Spans in their order; a gap of the survey stands as two points without levels. A line along an edge has two triangles
 * at each place: the second span over the same way is passed over. */
static bool join_spans(cutter *c) {
    static const mst_works_level none = {NAN, NAN, NAN, NAN, UINT32_MAX};
    double reached = 0, least = 1e3 * SAME_M / fmax(c->length, SAME_M);
    if (c->span_count) qsort(c->spans, c->span_count, sizeof *c->spans, by_from);
    for (size_t i = 0; i < c->span_count; i++) {
        const span *s = &c->spans[i];
        if (s->to <= reached + least) continue;
        if (s->from > reached + least && (!add_point(c, reached, &none) || !add_point(c, s->from, &none))) return false;
        if (!add_point(c, fmax(s->from, reached), &s->at_from) || !add_point(c, s->to, &s->at_to)) return false;
        reached = s->to;
    }
    return reached >= 1 - least || (add_point(c, reached, &none) && add_point(c, 1, &none));
}

/* Areas between stripped ground and formation, split where they cross. */
static void measure(mst_section *s) {
    mst_sum cut = {0}, fill = {0};
    for (size_t i = 0; i + 1 < s->count; i++) {
        const mst_section_point *p = &s->points[i], *q = p + 1;
        double width = q->chainage_m - p->chainage_m, d = p->level.stripped_m - p->level.formation_m,
               e = q->level.stripped_m - q->level.formation_m;
        if (!(width > 0) || isnan(d) || isnan(e)) continue;
        double t = (d > 0) != (e > 0) && d != e ? d / (d - e) : 1;
        double first = width * t * (t < 1 ? d / 2 : (d + e) / 2), second = t < 1 ? width * (1 - t) * e / 2 : 0;
        mst_sum_add(first > 0 ? &cut : &fill, fabs(first));
        mst_sum_add(second > 0 ? &cut : &fill, fabs(second));
    }
    s->cut_m2 = mst_sum_value(&cut), s->fill_m2 = mst_sum_value(&fill);
}

static bool *tiled_of(const mst_works *w, mst_arena *arena) {
    bool *tiled = mst_arena_array(arena, w->ground->triangle_count + 1, 1);
    for (size_t i = 0; tiled && i < w->tiling.count; i++) tiled[w->tiling.tiles[i].ground] = true;
    return tiled;
}

static mst_status cut_path(const mst_works *w, bool *tiled, const mst_path *path, mst_arena *arena,
                           mst_section *section, mst_error *error) {
    cutter c = {.w = w, .tiled = tiled, .arena = arena};
    mst_path flat;
    mst_status status = mst_path_flatten(path, SAGITTA_M, arena, &flat, error);
    if (status) return status;
    for (size_t i = 0; i + 1 < flat.count + path->closed; i++) {
        const mst_path_vertex *p = &flat.vertices[i], *q = &flat.vertices[(i + 1) % flat.count];
        c.a[0] = p->easting_m - w->tiling.origin[0], c.a[1] = p->northing_m - w->tiling.origin[1];
        c.b[0] = q->easting_m - w->tiling.origin[0], c.b[1] = q->northing_m - w->tiling.origin[1];
        c.length = hypot(c.b[0] - c.a[0], c.b[1] - c.a[1]);
        c.span_count = 0;
        mst_box box = {fmin(c.a[0], c.b[0]), fmin(c.a[1], c.b[1]), fmax(c.a[0], c.b[0]), fmax(c.a[1], c.b[1])};
        if (!(c.length > SAME_M)) continue;
        if (!add_tile_spans(&c, box) || !add_ground_spans(&c, box) || !join_spans(&c)) return no_memory(error);
        c.chainage += c.length;
    }
    if (c.count == 0) return mst_fail(error, MST_TOO_FEW, "A section needs a line between two different places.");
    *section = (mst_section){c.points, c.count, 0, 0};
    measure(section);
    return MST_OK;
}

mst_status mst_works_section(const mst_works *w, const mst_path *path, mst_arena *arena, mst_section *section,
                             mst_error *error) {
    bool *tiled = tiled_of(w, arena);
    return tiled ? cut_path(w, tiled, path, arena, section, error) : no_memory(error);
}

mst_status mst_works_stations(const mst_works *w, const mst_path *line, double spacing, double half, double compacted,
                              mst_arena *arena, mst_station **stations, size_t *count, mst_error *error) {
    double length = mst_path_length(line);
    if (!(spacing > 0) || !(half > 0) || !(length > 0))
        return mst_fail(error, MST_INVALID, "Cross sections need a line, a spacing and a width above 0.");
    if (length / spacing >= MOST_STATIONS - 1)
        return mst_fail(error, MST_INVALID,
                        "Cross sections every %g m along %.0f m are more than %d; space them wider.", spacing, length,
                        MOST_STATIONS);
    size_t most = (size_t)ceil(length / spacing - 1e-9) + 1;
    mst_station *all = mst_arena_array(arena, most, sizeof *all);
    bool *tiled = tiled_of(w, arena);
    if (!all || !tiled) return no_memory(error);
    for (size_t i = 0; i < most; i++) {
        mst_point3 at;
        double bearing, chainage = fmin((double)i * spacing, length);
        double inside = line->closed ? chainage : fmin(fmax(chainage, END_M), length - END_M);
        if (!mst_path_at(line, inside, &at, &bearing))
            return mst_fail(error, MST_INVALID, "Chainage %.3f lies beyond the line.", chainage);
        double e = half * cos(bearing), n = -half * sin(bearing); /* to the right */
        mst_station *s = &all[i];
        *s = (mst_station){.chainage_m = chainage,
                           .left = {at.easting_m - e, at.northing_m - n},
                           .right = {at.easting_m + e, at.northing_m + n}};
        mst_path_vertex ends[2] = {{s->left.easting_m, s->left.northing_m, NAN, 0},
                                   {s->right.easting_m, s->right.northing_m, NAN, 0}};
        mst_path across = {ends, 2, false};
        mst_status status = cut_path(w, tiled, &across, arena, &s->section, error);
        if (status) return status;
        if (i == 0) continue;
        double step = chainage - s[-1].chainage_m;
        s->cut_m3 = mst_volume_end_areas(s[-1].section.cut_m2, s->section.cut_m2, step);
        s->fill_m3 = mst_volume_end_areas(s[-1].section.fill_m2, s->section.fill_m2, step);
        s->mass_m3 = s[-1].mass_m3 + s->cut_m3 * compacted - s->fill_m3;
    }
    *stations = all, *count = most;
    return MST_OK;
}
