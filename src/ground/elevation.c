/* Levels by walking: from a hint, or from a grid of places to begin. Many at once are walked side by side, so that
 * their waits for the memory overlap. */
#include "base/parallel.h"
#include "geometry/predicates.h"
#include "ground/model.h"
#include <math.h>

enum { STEPS = 40, TRIANGLES_A_CELL = 2, CELLS_MOST = 1 << 24 }; /* beyond so many steps the tree is quicker */

/* ---- one triangle ---- */

/* The plane of a triangle at p, from its facet, which may be larger where a rim has cut it. */
static double level_in(const mst_ground *g, uint32_t t, const double p[2]) {
    struct {
        double at[2], level;
    } c[3];
    for (int k = 0; k < 3; k++) {
        if (g->whole) {
            const mst_ground_point *v = &g->vertices[g->triangles[t][k]];
            c[k].at[0] = v->easting_m, c[k].at[1] = v->northing_m, c[k].level = v->elevation_m;
        } else {
            const mst_corner *v = &g->corners[g->facets[g->facet_of[t]][k]];
            c[k].at[0] = v->at[0], c[k].at[1] = v->at[1], c[k].level = v->elevation_m;
        }
    }
    double be = c[1].at[0] - c[0].at[0], bn = c[1].at[1] - c[0].at[1];
    double ce = c[2].at[0] - c[0].at[0], cn = c[2].at[1] - c[0].at[1];
    double e = p[0] - c[0].at[0], n = p[1] - c[0].at[1], twice = be * cn - bn * ce;
    double share_b = (e * cn - n * ce) / twice, share_c = (be * n - bn * e) / twice;
    return c[0].level + share_b * (c[1].level - c[0].level) + share_c * (c[2].level - c[0].level);
}

/* Bit k: p lies beyond the edge opposite corner k. All three are reckoned: which one it is cannot be foretold. */
static unsigned beyond(const mst_ground *g, uint32_t t, const double p[2]) {
    double at[3][2], e[3], n[3];
    for (int k = 0; k < 3; k++) {
        const mst_ground_point *v = &g->vertices[g->triangles[t][k]];
        at[k][0] = v->easting_m, at[k][1] = v->northing_m;
        e[k] = v->easting_m - p[0], n[k] = v->northing_m - p[1];
    }
    unsigned out = 0, close = 0;
    for (int k = 0; k < 3; k++) {
        int a = (k + 1) % 3, b = (k + 2) % 3;
        double left = e[a] * n[b], right = n[a] * e[b], turn = left - right;
        out |= (unsigned)(turn < 0) << k;
        close |= (unsigned)!(fabs(turn) > MST_ORIENT_BOUND * (fabs(left) + fabs(right))) << k;
    }
    for (int k = 0; close >> k; k++) {
        if (!(close >> k & 1)) continue;
        out &= ~(1u << k);
        if (mst_orient2d(at[(k + 1) % 3], at[(k + 2) % 3], p) < 0) out |= 1u << k;
    }
    return out;
}

/* The first of the edges that p lies beyond, begun from @p from so that the walk does not circle. */
static int first_out(unsigned out, int from) {
    static const uint8_t FIRST[3][8] = {{0, 0, 1, 0, 2, 0, 1, 0}, {0, 0, 1, 1, 2, 2, 1, 1}, {0, 0, 1, 0, 2, 2, 2, 2}};
    return FIRST[from][out];
}

/* ---- where to begin ---- */

mst_status mst_ground_make_starts(mst_ground *g, mst_arena *arena) {
    const mst_box *all = &g->tree.nodes[1];
    double wide = all->e - all->w, high = all->n - all->s;
    const size_t wanted = g->triangle_count / TRIANGLES_A_CELL + 1;
    double cells = fmin((double)wanted, CELLS_MOST);
    double cell = fmax(sqrt(wide * high / cells), fmax(wide, high) / 30000);
    g->starts.west = all->w, g->starts.south = all->s, g->starts.cell = cell;
    g->starts.columns = (uint32_t)(wide / cell) + 1, g->starts.rows = (uint32_t)(high / cell) + 1;
    size_t count = (size_t)g->starts.columns * g->starts.rows;
    uint32_t *at = g->starts.triangle = mst_arena_array(arena, count + 1, sizeof *at), last = 0;
    if (!at) return MST_NO_MEMORY;
    for (uint32_t t = 0; t < g->triangle_count; t++) {
        const mst_ground_point *v = &g->vertices[g->triangles[t][0]];
        uint32_t column = (uint32_t)((v->easting_m - all->w) / cell), row = (uint32_t)((v->northing_m - all->s) / cell);
        if (column < g->starts.columns && row < g->starts.rows) at[(size_t)row * g->starts.columns + column] = t + 1;
    }
    for (size_t i = 0; i < count; i++) { /* an empty cell begins where the one before it does */
        last = at[i] ? at[i] - 1 : last;
        at[i] = last;
    }
    return MST_OK;
}

/* The cell of a place, NULL off the grid. */
static const uint32_t *start_at(const mst_ground *g, const double p[2]) {
    double column = (p[0] - g->starts.west) / g->starts.cell, row = (p[1] - g->starts.south) / g->starts.cell;
    if (!(column >= 0 && row >= 0 && column < g->starts.columns && row < g->starts.rows)) return NULL;
    return &g->starts.triangle[(size_t)(uint32_t)row * g->starts.columns + (uint32_t)column];
}

static bool is_near(const mst_ground *g, uint32_t t, const double p[2]) {
    const mst_ground_point *v = &g->vertices[g->triangles[t][0]];
    return fabs(v->easting_m - p[0]) + fabs(v->northing_m - p[1]) < 4 * g->starts.cell;
}

/* ---- one place ---- */

static double search(const mst_ground *g, const double at[2], uint32_t *hint) {
    uint32_t t = mst_triangle_at(&g->tree, (const uint32_t(*)[3])g->triangles, g->vertices, sizeof *g->vertices, at);
    if (t == MST_NOWHERE) return NAN;
    *hint = t;
    return level_in(g, t, at);
}

double mst_ground_elevation(const mst_ground *g, mst_point p, uint32_t *hint) {
    const double at[2] = {p.easting_m, p.northing_m};
    if (!isfinite(at[0]) || !isfinite(at[1])) return NAN;
    uint32_t t = *hint;
    if (t >= g->triangle_count || !is_near(g, t, at)) {
        const uint32_t *start = start_at(g, at);
        if (!start) return NAN;
        t = *start;
    }
    for (int step = 0; step < STEPS; step++) {
        unsigned out = beyond(g, t, at);
        if (!out) return *hint = t, level_in(g, t, at);
        uint32_t next = g->neighbours[t][first_out(out, step % 3)];
        if (next == MST_NOWHERE) break; /* a hole may lie in between */
        t = next;
    }
    return search(g, at, hint);
}

/* ---- many places ---- */

enum { LANES = 32, PLACES_A_JOB = 1 << 14 };

typedef struct walker {
    double at[2];
    const uint32_t *start;
    uint32_t triangle, place;
} walker;

typedef struct batch {
    const mst_ground *ground;
    const mst_point *places;
    size_t count;
    double *levels;
} batch;

/* Takes up to LANES places, and calls for the cells that they begin in. @return how many begin on the grid */
static int take_places(const batch *b, size_t from, size_t to, walker w[LANES]) {
    int count = 0;
    for (size_t i = from; i < to; i++) {
        const double at[2] = {b->places[i].easting_m, b->places[i].northing_m};
        const uint32_t *start = isfinite(at[0]) && isfinite(at[1]) ? start_at(b->ground, at) : NULL;
        b->levels[i] = NAN;
        if (!start) continue;
        __builtin_prefetch(start);
        w[count++] = (walker){{at[0], at[1]}, start, 0, (uint32_t)(i - from)};
    }
    return count;
}

static void begin(const mst_ground *g, walker w[], int count) {
    for (int i = 0; i < count; i++) {
        w[i].triangle = *w[i].start;
        __builtin_prefetch(g->triangles[w[i].triangle]);
        __builtin_prefetch(g->neighbours[w[i].triangle]);
    }
}

/* One step of each walker, once all have called for their corners. @return how many walk on, at the front of the list
 */
static int step_all(const batch *b, size_t from, walker w[], int count, int step) {
    const mst_ground *g = b->ground;
    int left = 0;
    for (int i = 0; i < count; i++)
        for (int k = 0; k < 3; k++) __builtin_prefetch(&g->vertices[g->triangles[w[i].triangle][k]]);
    for (int i = 0; i < count; i++) {
        walker now = w[i];
        unsigned out = beyond(g, now.triangle, now.at);
        uint32_t next = out ? g->neighbours[now.triangle][first_out(out, step % 3)] : MST_NOWHERE;
        if (!out) b->levels[from + now.place] = level_in(g, now.triangle, now.at);
        else if (next == MST_NOWHERE || step + 1 == STEPS)
            b->levels[from + now.place] = search(g, now.at, &now.triangle);
        else {
            now.triangle = next;
            __builtin_prefetch(g->triangles[next]);
            __builtin_prefetch(g->neighbours[next]);
            w[left++] = now;
        }
    }
    return left;
}

static void find_job(void *context, int index) {
    const batch *b = context;
    size_t from = (size_t)index * PLACES_A_JOB, end = b->count - from < PLACES_A_JOB ? b->count : from + PLACES_A_JOB;
    for (; from < end; from += LANES) {
        walker w[LANES];
        int count = take_places(b, from, from + LANES < end ? from + LANES : end, w);
        begin(b->ground, w, count);
        for (int step = 0; count; step++) count = step_all(b, from, w, count, step);
    }
}

void mst_ground_elevations(const mst_ground *ground, const mst_point places[], size_t count, double levels_m[]) {
    batch b = {ground, places, count, levels_m};
    int jobs = (int)((count + PLACES_A_JOB - 1) / PLACES_A_JOB);
    mst_parallel(ground->threads, jobs, find_job, &b);
}
