/* The surfaces of the works as triangles. Levels that meet at a place to rounding become one point; where they differ
 * the surface has a vertical break, closed by upright faces that use every point on its way, so that no edge is left
 * open. */
#include "ground/model.h"
#include "works/compose.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double WELD_M = 1e-7; /* above rounding on thin triangles, far below what anyone builds */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

double mst_tile_level(const mst_tile *t, mst_surface_kind surface, int c) {
    if (surface == MST_SURFACE_FINISHED) return t->level[MST_FINISH][c];
    if (surface == MST_SURFACE_STRIPPED) return t->level[MST_EXISTING][c] - t->strip_m;
    return t->part == MST_PART_NONE ? t->level[MST_EXISTING][c] - t->strip_m : t->level[MST_FORMATION][c];
}

/* ---- crossings ---- */

static int corner_of(const mst_tiling *t, uint32_t tile, uint32_t place) {
    int c = 0;
    while (c < 3 && t->corners[tile][c] != place) c++;
    return c;
}

static mst_status add_crossing(const mst_tiling *t, uint32_t i, int c, mst_surface_kind s, mst_edge_points *p,
                               mst_sketch *sketch) {
    uint32_t n = t->neighbours[i][c], ends[2];
    double d[2];
    mst_tile_edge(t, i, c, ends);
    for (int k = 0; k < 2; k++) {
        int other = corner_of(t, n, ends[k]);
        if (other == 3) return MST_OK;
        d[k] = mst_tile_level(&t->tiles[i], s, corner_of(t, i, ends[k])) - mst_tile_level(&t->tiles[n], s, other);
    }
    if (!(fmin(d[0], d[1]) < -WELD_M && fmax(d[0], d[1]) > WELD_M)) return MST_OK;
    double along = d[0] / (d[0] - d[1]), at[2];
    for (int k = 0; k < 2; k++)
        at[k] = sketch->at[ends[0]][k] + along * (sketch->at[ends[1]][k] - sketch->at[ends[0]][k]);
    uint32_t place = mst_sketch_place(sketch, at);
    if (place == ends[0] || place == ends[1]) return MST_OK;
    mst_edge_point *to = MST_PUSH(sketch->arena, p->items, p->count, p->capacity);
    if (!to) return MST_NO_MEMORY;
    *to = (mst_edge_point){along, place, p->first[3 * i + (uint32_t)c]};
    p->first[3 * i + (uint32_t)c] = (uint32_t)p->count;
    return MST_OK;
}

mst_status mst_split_crossings(mst_tiling *t, mst_arena *arena, mst_error *error) {
    mst_sketch sketch;
    mst_edge_points p = {.first = mst_arena_array(arena, 3 * t->count + 1, sizeof *p.first)};
    mst_tiling cut;
    if (!p.first) return no_memory(error);
    mst_sketch_begin(&sketch, (const double(*)[2])t->at, t->place_count, arena);
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; c < 3; c++) {
            uint32_t n = t->neighbours[i][c];
            if (n == MST_NOWHERE || n < i) continue;
            for (int s = 0; s < 3; s++)
                if (add_crossing(t, i, c, (mst_surface_kind)s, &p, &sketch)) return no_memory(error);
        }
    if (p.count == 0) return MST_OK;
    mst_tiling_draw_edges(t, &p, &sketch);
    mst_status status = mst_tiling_cut(t, &sketch, arena, &cut, error);
    if (!status) *t = cut;
    return status;
}

/* ---- points ---- */

typedef struct corner {
    uint32_t place, of; /* of: 3 * triangle + corner */
    double level;
} corner;

static int by_place(const void *a, const void *b) {
    const corner *x = a, *y = b;
    if (x->place != y->place) return x->place < y->place ? -1 : 1;
    if (x->level != y->level) return x->level < y->level ? -1 : 1;
    return x->of < y->of ? -1 : x->of > y->of;
}

typedef struct builder {
    const mst_works *w;
    mst_sketch places; /* the tiling's, then those of the ground around it */
    corner *corners;
    size_t corner_count;
    uint32_t *first; /* [places + 1] points of each place, lowest first */
    mst_work_surface s;
    size_t face_capacity, owner_count, owner_capacity;
    mst_arena *arena;
} builder;

static void take_tiles(builder *b, mst_surface_kind kind) {
    const mst_tiling *t = &b->w->tiling;
    for (size_t i = 0; i < t->count; i++)
        for (int c = 0; c < 3; c++)
            b->corners[b->corner_count++] =
                (corner){t->corners[i][c], (uint32_t)(3 * i + (size_t)c), mst_tile_level(&t->tiles[i], kind, c)};
}

/* The ground that no window reached. */
static bool take_rest(builder *b) {
    const mst_ground *g = b->w->ground;
    const mst_tiling *t = &b->w->tiling;
    bool *taken = mst_arena_array(b->arena, g->triangle_count + 1, 1);
    if (!taken) return false;
    for (size_t i = 0; i < t->count; i++) taken[t->tiles[i].ground] = true;
    size_t at = t->count;
    for (size_t i = 0; i < g->triangle_count; i++) {
        for (int c = 0; c < 3 && !taken[i]; c++) {
            const mst_ground_point *v = &g->vertices[g->triangles[i][c]];
            double place[2] = {v->easting_m - t->origin[0], v->northing_m - t->origin[1]};
            b->corners[b->corner_count++] =
                (corner){mst_sketch_place(&b->places, place), (uint32_t)(3 * at + (size_t)c), v->elevation_m};
        }
        at += !taken[i];
    }
    return !b->places.failed;
}

/* Numbers the points; corner k of triangle t becomes faces[t][k]. */
static bool weld(builder *b) {
    const mst_tiling *t = &b->w->tiling;
    qsort(b->corners, b->corner_count, sizeof *b->corners, by_place);
    b->s.points = mst_arena_array(b->arena, b->corner_count + 1, sizeof *b->s.points);
    b->s.face_count = b->face_capacity = b->corner_count / 3;
    b->s.faces = mst_arena_array(b->arena, b->s.face_count + 1, sizeof *b->s.faces);
    b->s.owner = mst_arena_array(b->arena, b->s.face_count + 1, sizeof *b->s.owner);
    b->first = mst_arena_array(b->arena, b->places.place_count + 2, sizeof *b->first);
    if (!b->s.points || !b->s.faces || !b->s.owner || !b->first) return false;
    b->owner_count = b->owner_capacity = b->s.face_count;
    double last = 0;
    for (size_t i = 0; i < b->corner_count; i++) {
        const corner *c = &b->corners[i];
        bool same = i && c->place == c[-1].place && c->level - last <= WELD_M;
        if (!same) {
            const double *at = b->places.at[c->place];
            b->s.points[b->s.point_count++] = (mst_point3){at[0] + t->origin[0], at[1] + t->origin[1], c->level};
            b->first[c->place + 1] = (uint32_t)b->s.point_count;
        }
        last = c->level;
        b->s.faces[c->of / 3][c->of % 3] = (uint32_t)(b->s.point_count - 1);
    }
    for (size_t i = 1; i <= b->places.place_count; i++) /* a place without corners has no points */
        if (b->first[i] < b->first[i - 1]) b->first[i] = b->first[i - 1];
    for (size_t i = 0; i < b->s.face_count; i++)
        b->s.owner[i] = i < t->count && t->tiles[i].part != MST_PART_NONE ? t->tiles[i].owner : UINT32_MAX;
    return true;
}

/* ---- upright faces ---- */

static bool add_face(builder *b, uint32_t p, uint32_t q, uint32_t r, uint32_t owner) {
    uint32_t(*face)[3] = MST_PUSH(b->arena, b->s.faces, b->s.face_count, b->face_capacity);
    uint32_t *own = MST_PUSH(b->arena, b->s.owner, b->owner_count, b->owner_capacity);
    if (!face || !own) return false;
    (*face)[0] = p, (*face)[1] = q, (*face)[2] = r;
    *own = owner;
    return true;
}

/* From point p of one tile to point q of the other over every point between: points of a place are numbered upwards. */
static uint32_t onward(uint32_t p, uint32_t q) { return p < q ? p + 1 : p - 1; }

/* Closes the edge that tile i runs from a to b: its own points pa, pb, the other tile's qa, qb. */
static bool close_edge(builder *b, uint32_t pa, uint32_t pb, uint32_t qa, uint32_t qb, uint32_t owner) {
    while (pa != qa || pb != qb) {
        if (pa != qa) {
            uint32_t next = onward(pa, qa);
            if (!add_face(b, pb, pa, next, owner)) return false;
            pa = next;
        }
        if (pb != qb) {
            uint32_t next = onward(pb, qb);
            if (!add_face(b, pb, pa, next, owner)) return false;
            pb = next;
        }
    }
    return true;
}

static bool add_uprights(builder *b) {
    const mst_tiling *t = &b->w->tiling;
    b->s.upright_from = b->s.face_count;
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; c < 3; c++) {
            uint32_t n = t->neighbours[i][c];
            if (n == MST_NOWHERE || n < i) continue;
            int a = (c + 1) % 3, e = (c + 2) % 3;
            int na = corner_of(t, n, t->corners[i][a]), ne = corner_of(t, n, t->corners[i][e]);
            if (na == 3 || ne == 3) continue;
            uint32_t owner =
                b->s.owner[i] == UINT32_MAX || (b->s.owner[n] != UINT32_MAX && b->s.owner[n] > b->s.owner[i])
                    ? b->s.owner[n]
                    : b->s.owner[i];
            if (!close_edge(b, b->s.faces[i][a], b->s.faces[i][e], b->s.faces[n][na], b->s.faces[n][ne], owner))
                return false;
        }
    return true;
}

mst_status mst_works_surface(const mst_works *w, mst_surface_kind kind, mst_arena *arena, mst_work_surface *surface,
                             mst_error *error) {
    builder b = {.w = w, .arena = arena};
    size_t most = 3 * (w->tiling.count + w->ground->triangle_count);
    b.corners = mst_arena_array(arena, most + 1, sizeof *b.corners);
    if (!b.corners) return no_memory(error);
    mst_sketch_begin(&b.places, (const double(*)[2])w->tiling.at, w->tiling.place_count, arena);
    take_tiles(&b, kind);
    if (!take_rest(&b) || !weld(&b) || !add_uprights(&b)) return no_memory(error);
    *surface = b.s;
    return MST_OK;
}

bool mst_works_level_at(const mst_works *w, mst_point at, mst_works_level *level) {
    const mst_tiling *t = &w->tiling;
    double p[2] = {at.easting_m - t->origin[0], at.northing_m - t->origin[1]}, share[3];
    uint32_t tile =
        t->count ? mst_triangle_at(&t->tree, (const uint32_t(*)[3])t->corners, t->at, sizeof *t->at, p) : MST_NOWHERE;
    mst_ground_level ground;
    if (tile == MST_NOWHERE) {
        bool in = mst_ground_level_at(w->ground, at, &ground);
        double z = in ? ground.elevation_m : NAN;
        *level = (mst_works_level){z, z, z, z, UINT32_MAX};
        return in;
    }
    const double *places[3];
    const mst_tile *own = &t->tiles[tile];
    mst_corners_of(t->corners[tile], t->at, sizeof *t->at, places);
    mst_shares_at(places, p, share);
    double z[4] = {0};
    for (int c = 0; c < 3; c++) {
        z[0] += share[c] * own->level[MST_EXISTING][c];
        for (int s = 0; s < 3; s++) z[1 + s] += share[c] * mst_tile_level(own, (mst_surface_kind)s, c);
    }
    *level = (mst_works_level){z[0], z[1], z[2], z[3], own->part == MST_PART_NONE ? UINT32_MAX : own->owner};
    return true;
}
