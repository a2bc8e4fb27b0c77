/* A surface of the works as a ground model, on which water runs. Where it breaks upright a ground has no room for two
 * levels at one place, so the break leans: its less weighty side (the ground beside a pad, the foot of a riser) draws
 * back by a few millimetres, never by more than a part of its own triangles. */
#include "ground/model.h"
#include "works/compose.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double STEP_M = 0.005; /* half of a joint */
static const double SHARE = 0.25;   /* of a triangle's height: three corners may draw back at once */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

typedef struct break_point {
    double at[2], level;
    int64_t owner; /* the last element that has a face here; -1 the ground as it is */
    double towards[2], room;
    uint32_t point;
    bool upright, stays;
} break_point;

typedef struct job {
    const mst_works *works;
    mst_work_surface s;
    break_point *breaks; /* [points] */
    mst_ground_point *points;
    mst_arena *arena;
    mst_error *error;
} job;

static const double *plan(const job *j, uint32_t p) { return j->breaks[p].at; }

/* What a top face says of one of its corners: where the face lies from it, and how far it may draw back. */
static void look_at_corner(job *j, uint32_t face, int c) {
    const uint32_t *f = j->s.faces[face];
    break_point *b = &j->breaks[f[c]];
    const double *o = plan(j, f[c]), *p = plan(j, f[(c + 1) % 3]), *q = plan(j, f[(c + 2) % 3]);
    double a[2] = {p[0] - o[0], p[1] - o[1]}, d[2] = {q[0] - o[0], q[1] - o[1]};
    double u = hypot(a[0], a[1]), v = hypot(d[0], d[1]), cross = a[0] * d[1] - a[1] * d[0];
    if (!(u > 0 && v > 0 && cross > 0)) return;
    double angle = atan2(cross, a[0] * d[0] + a[1] * d[1]), toward[2] = {a[0] / u + d[0] / v, a[1] / u + d[1] / v};
    double length = hypot(toward[0], toward[1]), w = hypot(q[0] - p[0], q[1] - p[1]);
    for (int k = 0; k < 2 && length > 0; k++) b->towards[k] += sin(angle / 2) * toward[k] / length;
    b->room = fmin(b->room, cross / fmax(fmax(u, v), w)); /* the least height of the triangle */
    uint32_t owner = j->s.owner[face];
    if (owner != UINT32_MAX && (int64_t)owner > b->owner) b->owner = owner;
}

static bool look_at_points(job *j) {
    j->breaks = mst_arena_array(j->arena, j->s.point_count + 1, sizeof *j->breaks);
    j->points = mst_arena_array(j->arena, j->s.point_count + 1, sizeof *j->points);
    if (!j->breaks || !j->points) return false;
    for (uint32_t i = 0; i < j->s.point_count; i++) {
        const mst_point3 *p = &j->s.points[i];
        j->breaks[i] = (break_point){
            .at = {p->easting_m, p->northing_m}, .level = p->elevation_m, .owner = -1, .room = HUGE_VAL, .point = i};
    }
    for (uint32_t f = 0; f < j->s.face_count; f++)
        for (int c = 0; c < 3; c++) {
            if (f < j->s.upright_from) look_at_corner(j, f, c);
            else j->breaks[j->s.faces[f][c]].upright = true;
        }
    return true;
}

static int by_place(const void *a, const void *b) {
    const break_point *x = *(break_point *const *)a, *y = *(break_point *const *)b;
    for (int k = 0; k < 2; k++)
        if (x->at[k] != y->at[k]) return x->at[k] < y->at[k] ? -1 : 1;
    if (x->owner != y->owner) return x->owner > y->owner ? -1 : 1;
    if (x->level != y->level) return x->level > y->level ? -1 : 1;
    return x->point < y->point ? -1 : x->point > y->point;
}

static bool same_place(const break_point *a, const break_point *b) {
    return a->at[0] == b->at[0] && a->at[1] == b->at[1];
}

/* At every place the weightiest of its points stays. */
static bool choose_who_stays(job *j) {
    break_point **order = mst_arena_array(j->arena, j->s.point_count + 1, sizeof(break_point *));
    if (!order) return false;
    for (size_t i = 0; i < j->s.point_count; i++) order[i] = &j->breaks[i];
    qsort(order, j->s.point_count, sizeof(break_point *), by_place);
    for (size_t i = 0; i < j->s.point_count; i++)
        order[i]->stays = !order[i]->upright || i == 0 || !same_place(order[i], order[i - 1]);
    return true;
}

static void draw_back(job *j) {
    for (size_t i = 0; i < j->s.point_count; i++) {
        const break_point *b = &j->breaks[i];
        double length = hypot(b->towards[0], b->towards[1]), by = fmin(STEP_M, SHARE * b->room);
        if (b->stays || !(length > 0) || !isfinite(b->room)) by = 0, length = 1;
        j->points[i] = (mst_ground_point){b->at[0] + by * b->towards[0] / length,
                                          b->at[1] + by * b->towards[1] / length, b->level, MST_NOWHERE};
    }
}

/* Where three levels meet at one place a leaning face may turn over; it is left out, and a gap of millimetres stays,
 * which holds water off like a kerb. @return how many faces are left */
static size_t drop_turned(job *j) {
    size_t kept = 0;
    for (size_t f = 0; f < j->s.face_count; f++) {
        const mst_ground_point *p[3];
        for (int c = 0; c < 3; c++) p[c] = &j->points[j->s.faces[f][c]];
        double turn = (p[1]->easting_m - p[0]->easting_m) * (p[2]->northing_m - p[0]->northing_m) -
                      (p[1]->northing_m - p[0]->northing_m) * (p[2]->easting_m - p[0]->easting_m);
        if (!(turn > 0)) continue;
        memmove(j->s.faces[kept++], j->s.faces[f], sizeof *j->s.faces);
    }
    return kept;
}

/* ---- what was measured stays measured ---- */

typedef struct known {
    double at[2], level;
    uint32_t source;
} known;

static int by_at(const void *a, const void *b) {
    const known *x = a, *y = b;
    for (int k = 0; k < 2; k++)
        if (x->at[k] != y->at[k]) return x->at[k] < y->at[k] ? -1 : 1;
    return 0;
}

/* The tiling's places are the ground's own to some nanometres: they are compared on a lattice of tenths of a mm. */
static void on_lattice(double at[2]) {
    for (int k = 0; k < 2; k++) at[k] = round(at[k] * 1e4) / 1e4;
}

static bool keep_sources(job *j) {
    const mst_ground *g = j->works->ground;
    known *all = mst_arena_array(j->arena, g->vertex_count + 1, sizeof *all);
    if (!all) return false;
    for (size_t v = 0; v < g->vertex_count; v++) {
        const mst_ground_point *p = &g->vertices[v];
        all[v] = (known){{p->easting_m, p->northing_m}, p->elevation_m, p->source};
        on_lattice(all[v].at);
    }
    qsort(all, g->vertex_count, sizeof *all, by_at);
    for (size_t i = 0; i < j->s.point_count; i++) {
        known own = {{j->breaks[i].at[0], j->breaks[i].at[1]}, 0, 0};
        on_lattice(own.at);
        const known *found = bsearch(&own, all, g->vertex_count, sizeof *all, by_at);
        if (found && fabs(found->level - j->breaks[i].level) < 1e-6) j->points[i].source = found->source;
    }
    return true;
}

static bool keep_roughness(const job *j, mst_ground *made, mst_arena *arena) {
    const mst_ground *g = j->works->ground;
    if (!g->roughness.known || made->corner_count != j->s.point_count) return true;
    made->corner_scale = mst_arena_array(arena, made->corner_count + 1, sizeof *made->corner_scale);
    if (!made->corner_scale) return false;
    for (size_t c = 0; c < made->corner_count; c++) made->corner_scale[c] = j->breaks[c].owner < 0;
    made->roughness = g->roughness;
    return true;
}

mst_status mst_works_ground(const mst_works *works, mst_surface_kind kind, mst_arena *arena, mst_ground **ground,
                            mst_error *error) {
    mst_arena *own = mst_arena_new();
    job j = {.works = works, .arena = own, .error = error};
    if (!own) return no_memory(error);
    mst_status status = mst_works_surface(works, kind, own, &j.s, error);
    if (!status && (!look_at_points(&j) || !choose_who_stays(&j))) status = no_memory(error);
    if (!status) draw_back(&j);
    if (!status && !keep_sources(&j)) status = no_memory(error);
    if (!status) {
        size_t count = drop_turned(&j);
        status = mst_ground_from_triangles(j.points, j.s.point_count, (const uint32_t(*)[3])j.s.faces, count, arena,
                                           ground, error);
    }
    if (!status && !keep_roughness(&j, *ground, arena)) status = no_memory(error);
    mst_arena_free(own);
    return status;
}
