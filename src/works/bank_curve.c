/* A bank's volumes at any level of its pad, from rays that are traced over the ground once: square to the edges, and
 * round the corners that open. Along a ray bank and ground are straight between the ground's edges, so that what lies
 * between them is integrated exactly; across the rays it is the midpoint rule. A ray ends where it meets the ground,
 * where another of the pad's banks stands higher (of cuts: lower), at the pad itself, or with the survey. */
#include "ground/model.h"
#include "works/design.h"
#include <math.h>
#include <string.h>

static const double APART_M = 0.05;         /* rays of an edge, at least; a longer rim has them wider apart */
static const double RAYS = 3000;            /* along the edges, about */
static const double TURN_RAD = MST_PI / 90; /* rays of a corner */
static const double STRAIGHT = 1e-9;        /* sine of a turn that is none, as in banks.c */
static const double MARGIN_M = 0.5;         /* past the ground that it must meet, as in layout.c */
static const double OFF_M = 1e-6;           /* from its own edge: nearer than this a ray has not yet left it */
enum { FILL, CUT, WAYS };

typedef struct place_on_ray {
    double at_m, ground_m;
} place_on_ray;

typedef struct ray {
    double off_m;          /* of the edge over the pad's level */
    double weight;         /* m across; of a corner: radians */
    double end_m[WAYS];    /* no farther, as fill and as cut */
    size_t first, count;   /* of its places on the ground */
    bool round, cut_short; /* of a corner; its places end before the ray need end */
} ray;

struct mst_bank_curve {
    ray *rays;
    size_t count, capacity;
    place_on_ray *places;
    size_t place_count, place_capacity;
    double slope[WAYS], sunk_m; /* 0: no such bank; formation under the bank less the strip */
};

typedef struct side {
    double a[2], b[2], za, along, d[2], n[2], length;
    bool on;
} side;
typedef struct corner {
    double at[2], level_m, from[2], to[2]; /* the outward directions of its two edges */
} corner;

typedef struct maker {
    mst_bank_curve *c;
    side *sides;
    size_t side_count;
    corner *corners;
    size_t corner_count;
    const mst_ground *ground;
    double origin[2], level_m, span_m, lowest_m, highest_m;
    mst_arena *arena, *scratch;
    mst_error *error;
} maker;

static double cross(const double a[2], const double b[2]) { return a[0] * b[1] - a[1] * b[0]; }
static double dot(const double a[2], const double b[2]) { return a[0] * b[0] + a[1] * b[1]; }
static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- the pad's edges and corners ---- */

static side side_of(const mst_chain *c, size_t i) {
    size_t k = (i + 1) % c->count;
    side s = {.a = {c->at[i][0], c->at[i][1]}, .b = {c->at[k][0], c->at[k][1]}, .za = c->level_m[i]};
    double e = s.b[0] - s.a[0], n = s.b[1] - s.a[1];
    s.length = hypot(e, n);
    s.on = s.length > 0 && (!c->with_bank || c->with_bank[i]);
    if (!(s.length > 0)) return s;
    s.d[0] = e / s.length, s.d[1] = n / s.length, s.n[0] = s.d[1], s.n[1] = -s.d[0];
    s.along = (c->level_m[k] - c->level_m[i]) / s.length;
    return s;
}

static bool take_sides(maker *m, const mst_layout *l) {
    size_t most = 0;
    for (size_t k = 0; k < l->chain_count; k++) most += l->chains[k].count;
    m->sides = mst_arena_array(m->scratch, most + 1, sizeof *m->sides);
    m->corners = mst_arena_array(m->scratch, most + 1, sizeof *m->corners);
    if (!m->sides || !m->corners) return false;
    for (size_t k = 0; k < l->chain_count; k++) {
        const mst_chain *c = &l->chains[k];
        for (size_t i = 0; i < c->count; i++) {
            side s = m->sides[m->side_count++] = side_of(c, i), next = side_of(c, (i + 1) % c->count);
            if (!s.on || !next.on || !(cross(s.d, next.d) > STRAIGHT)) continue;
            m->corners[m->corner_count++] = (corner){.at = {s.b[0], s.b[1]},
                                                     .level_m = s.za + s.along * s.length,
                                                     .from = {s.n[0], s.n[1]},
                                                     .to = {next.n[0], next.n[1]}};
        }
    }
    return true;
}

/* ---- where a ray ends ---- */

/* A ray under way: where it starts, its direction and its level there. */
typedef struct start {
    double at[2], way[2], level_m;
} start;

/* Where the ray runs into the pad again. */
static double to_the_pad(const maker *m, const start *s) {
    double end = HUGE_VAL;
    for (size_t i = 0; i < m->side_count; i++) {
        const side *e = &m->sides[i];
        double det = cross(s->way, e->d), q[2] = {e->a[0] - s->at[0], e->a[1] - s->at[1]};
        if (!(det < -STRAIGHT)) continue; /* it does not come in over this edge */
        double r = cross(q, e->d) / det, u = cross(q, s->way) / det;
        if (r > OFF_M && u >= 0 && u <= e->length) end = fmin(end, r);
    }
    return end;
}

/* From where on the bank of an edge stands higher: sign > 0 of fills, < 0 of cuts. */
static double to_edge_bank(const side *e, const start *s, double slope, double sign) {
    double q[2] = {s->at[0] - e->a[0], s->at[1] - e->a[1]}, low = OFF_M, high = HUGE_VAL;
    const double at[3] = {dot(q, e->d), e->length - dot(q, e->d), dot(q, e->n)},
                 by[3] = {dot(s->way, e->d), -dot(s->way, e->d), dot(s->way, e->n)};
    for (int k = 0; k < 3; k++) { /* beside the edge and outside of it */
        if (by[k] > 0) low = fmax(low, -at[k] / by[k]);
        else if (by[k] < 0) high = fmin(high, -at[k] / by[k]);
        else if (at[k] < 0) return HUGE_VAL;
    }
    double more = sign * (e->za + e->along * at[0] - s->level_m) - slope * at[2],
           gain = sign * e->along * by[0] - slope * by[2] + slope;
    if (gain > STRAIGHT) low = fmax(low, -more / gain);
    else if (more + gain * low < -OFF_M * slope) return HUGE_VAL;
    return low <= high ? low : HUGE_VAL;
}

/* The same of the cone at a corner: |p - v| = r + c is met where it is linear in r. */
static double to_corner_bank(const corner *k, const start *s, double slope, double sign) {
    double q[2] = {s->at[0] - k->at[0], s->at[1] - k->at[1]}, c = sign * (k->level_m - s->level_m) / slope;
    double gain = 2 * (c - dot(q, s->way));
    if (!(gain > STRAIGHT)) return HUGE_VAL;
    double r = (dot(q, q) - c * c) / gain, p[2] = {q[0] + r * s->way[0], q[1] + r * s->way[1]};
    return r > OFF_M && cross(k->from, p) >= 0 && cross(p, k->to) >= 0 ? r : HUGE_VAL;
}

static double end_of(const maker *m, const start *s, const side *own, double slope, double sign, double end) {
    for (size_t i = 0; i < m->side_count; i++)
        if (m->sides[i].on && &m->sides[i] != own) end = fmin(end, to_edge_bank(&m->sides[i], s, slope, sign));
    for (size_t i = 0; i < m->corner_count; i++) end = fmin(end, to_corner_bank(&m->corners[i], s, slope, sign));
    return end;
}

/* ---- tracing ---- */

/* How far it may have to run while the level stays within the span. */
static double reach_of(const maker *m, const start *s, double end[WAYS]) {
    double reach = 0;
    if (m->c->slope[FILL] > 0)
        reach = fmax(reach, fmin(end[FILL], (s->level_m + m->span_m - m->lowest_m) / m->c->slope[FILL]));
    if (m->c->slope[CUT] > 0)
        reach = fmax(reach, fmin(end[CUT], (m->highest_m - s->level_m + m->span_m) / m->c->slope[CUT]));
    return reach + MARGIN_M;
}

static bool keep_places(maker *m, const mst_profile_point *p, size_t count, ray *to) {
    mst_bank_curve *c = m->c;
    to->first = c->place_count;
    to->cut_short = true;
    for (size_t i = 0; i < count; i++) {
        if (isnan(p[i].elevation_m)) {
            to->cut_short = false; /* the survey ends, and with it what can be counted */
            break;
        }
        place_on_ray *at = MST_PUSH(m->arena, c->places, c->place_count, c->place_capacity);
        if (!at) return false;
        *at = (place_on_ray){p[i].chainage_m, p[i].elevation_m};
    }
    to->count = c->place_count - to->first;
    return true;
}

static mst_status add_ray(maker *m, const start *s, const side *own, double weight, bool round) {
    ray r = {.off_m = s->level_m - m->level_m, .weight = weight, .round = round};
    double pad = to_the_pad(m, s);
    for (int w = 0; w < WAYS; w++)
        r.end_m[w] = m->c->slope[w] > 0 ? end_of(m, s, own, m->c->slope[w], w == FILL ? 1 : -1, pad) : 0;
    double far = reach_of(m, s, r.end_m), e = s->at[0] + m->origin[0], n = s->at[1] + m->origin[1];
    mst_path_vertex ends[2] = {{e, n, NAN, 0}, {e + far * s->way[0], n + far * s->way[1], NAN, 0}};
    const mst_path path = {ends, 2, false};
    mst_profile_point *points;
    size_t count;
    mst_arena *own_scratch = mst_arena_new();
    if (!own_scratch) return no_memory(m->error);
    mst_status status = mst_ground_profile(m->ground, &path, own_scratch, &points, &count, m->error);
    bool room = status || keep_places(m, points, count, &r);
    mst_arena_free(own_scratch);
    if (status || (room && r.count < 2)) return status;
    ray *to = room ? MST_PUSH(m->arena, m->c->rays, m->c->count, m->c->capacity) : NULL;
    if (!to) return no_memory(m->error);
    *to = r;
    return MST_OK;
}

static mst_status add_rays_of_edge(maker *m, const side *e, double apart) {
    int count = (int)fmax(1, ceil(e->length / apart));
    mst_status status = MST_OK;
    for (int i = 0; i < count && !status; i++) {
        double u = (i + 0.5) * e->length / count;
        start s = {{e->a[0] + u * e->d[0], e->a[1] + u * e->d[1]}, {e->n[0], e->n[1]}, e->za + e->along * u};
        status = add_ray(m, &s, e, e->length / count, false);
    }
    return status;
}

static mst_status add_rays_of_corner(maker *m, const corner *k) {
    double angle = atan2(cross(k->from, k->to), dot(k->from, k->to)), first = atan2(k->from[1], k->from[0]);
    int count = (int)fmax(1, ceil(angle / TURN_RAD));
    mst_status status = MST_OK;
    for (int i = 0; i < count && !status; i++) {
        double turn = first + (i + 0.5) * angle / count;
        start s = {{k->at[0], k->at[1]}, {cos(turn), sin(turn)}, k->level_m};
        status = add_ray(m, &s, NULL, angle / count, true);
    }
    return status;
}

static mst_status make(maker *m, const mst_layout *l) {
    double rim = 0;
    mst_status status = MST_OK;
    if (!take_sides(m, l)) return no_memory(m->error);
    for (size_t i = 0; i < m->side_count; i++) rim += m->sides[i].on ? m->sides[i].length : 0;
    for (size_t i = 0; i < m->side_count && !status; i++)
        if (m->sides[i].on) status = add_rays_of_edge(m, &m->sides[i], fmax(APART_M, rim / RAYS));
    for (size_t i = 0; i < m->corner_count && !status; i++) status = add_rays_of_corner(m, &m->corners[i]);
    return status;
}

mst_status mst_bank_curve_of(const mst_element *bank, const mst_site *site, const mst_adjustment *adjustment,
                             const mst_ground *ground, double span_m, mst_arena *arena, mst_bank_curve **curve,
                             mst_error *error) {
    if (bank->kind != MST_WORK_BANK)
        return mst_fail(error, MST_NO, "Element '%s' is a %s, no bank of a pad.", bank->name,
                        mst_work_kind_name(bank->kind));
    mst_ground_figures figures;
    mst_layout layout;
    mst_ground_describe(ground, &figures);
    maker m = {.ground = ground,
               .level_m = bank->finish.level_m,
               .span_m = span_m,
               .lowest_m = figures.lowest_m,
               .highest_m = figures.highest_m,
               .arena = arena,
               .scratch = mst_arena_new(),
               .error = error};
    m.c = m.scratch ? mst_arena_alloc(arena, sizeof *m.c) : NULL;
    mst_status status = m.c ? MST_OK : no_memory(error);
    size_t vertex_count;
    const mst_ground_point *v = mst_ground_vertices(ground, &vertex_count);
    m.origin[0] = vertex_count ? v[0].easting_m : 0, m.origin[1] = vertex_count ? v[0].northing_m : 0;
    if (!status) {
        *m.c = (mst_bank_curve){.slope = {bank->fill_batter, bank->cut_batter},
                                .sunk_m = bank->build_up_m - (bank->strip_given ? bank->strip_m : 0)};
        status = mst_layout_of(bank, site, adjustment, m.origin, m.scratch, &layout, error);
    }
    if (!status) status = make(&m, &layout);
    if (!status) *curve = m.c;
    mst_arena_free(m.scratch);
    return status;
}

/* ---- asking it ---- */

/* Of what runs from height p at a to height q at b, no sign change between: its area, and about a corner its volume for
 * a radian. */
static double between(double a, double b, double p, double q, bool round) {
    if (!round) return (b - a) * (p + q) / 2;
    return (b - a) * (a * (2 * p + q) + b * (p + 2 * q)) / 6; /* of a product of two straight lines */
}

static void add_part(mst_bank_volumes *v, const ray *r, double a, double b, double p, double q) {
    if ((p > 0 && q < 0) || (p < 0 && q > 0)) {
        double middle = a + (b - a) * p / (p - q);
        add_part(v, r, a, middle, p, 0), add_part(v, r, middle, b, 0, q);
        return;
    }
    double volume = r->weight * between(a, b, p, q, r->round);
    if (p + q > 0) v->fill_m3 += volume;
    else v->cut_m3 -= volume;
    v->area_m2 += r->weight * (r->round ? (b * b - a * a) / 2 : b - a);
}

/* @return false when the ray ran out of places */
static bool add_along(const mst_bank_curve *c, const ray *r, double level_m, mst_bank_volumes *v) {
    const place_on_ray *p = &c->places[r->first];
    double z = level_m + r->off_m, sign = z > p[0].ground_m ? 1 : -1;
    int way = sign > 0 ? FILL : CUT;
    double slope = -sign * c->slope[way], end = r->end_m[way];
    if (!(c->slope[way] > 0) || z == p[0].ground_m) return true;
    for (size_t i = 0; i + 1 < r->count; i++) {
        double a = p[i].at_m, b = fmin(p[i + 1].at_m, end);
        if (!(b > a)) return true;
        double rise = (p[i + 1].ground_m - p[i].ground_m) / (p[i + 1].at_m - a);
        double over = z + slope * a - p[i].ground_m, then = over + (slope - rise) * (b - a);
        bool meets = sign * then <= 0;
        if (meets) b = a + (b - a) * over / (over - then), then = 0;
        add_part(v, r, a, b, over - c->sunk_m, then - c->sunk_m);
        if (meets || b >= end) return true;
    }
    return !r->cut_short;
}

bool mst_bank_curve_at(const mst_bank_curve *c, double level_m, mst_bank_volumes *volumes) {
    bool whole = true;
    *volumes = (mst_bank_volumes){0};
    for (size_t i = 0; i < c->count; i++) whole &= add_along(c, &c->rays[i], level_m, volumes);
    return whole;
}
