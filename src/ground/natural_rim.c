/* Where no boundary is given, the hull bridges every bay of the rim with long thin triangles that nobody measured.
 * They are peeled off from outside, longest edge first, as in Duckham, Kulik, Worboys, Galton, Pattern Recognition 41
 * (2008) 3224-3236: only while the corner opposite lies inside, so that the model stays in one piece. */
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

static const double LONG = 12;   /* times the median edge: a leap no one measured, yet no gap between spot levels */
static const double THIN = -0.5; /* cosine of 120 degrees at the corner opposite: an edge that skips over a point */

typedef struct rim {
    uint32_t triangle;
    int corner;
    double length;
} rim;
typedef struct peel {
    const mst_facets *facets;
    bool *keep, *on_rim; /* by triangle; by corner */
    rim *edges;
    size_t count, capacity;
    mst_arena *arena;
} peel;

static double edge_length(const mst_facets *f, uint32_t t, int corner) {
    const double *a = f->corners[f->triangles[t][(corner + 1) % 3]].at,
                 *b = f->corners[f->triangles[t][(corner + 2) % 3]].at;
    return hypot(b[0] - a[0], b[1] - a[1]);
}

static double cosine_at(const mst_facets *f, uint32_t t, int corner) {
    const double *o = f->corners[f->triangles[t][corner]].at;
    const double *a = f->corners[f->triangles[t][(corner + 1) % 3]].at,
                 *b = f->corners[f->triangles[t][(corner + 2) % 3]].at;
    double dot = (a[0] - o[0]) * (b[0] - o[0]) + (a[1] - o[1]) * (b[1] - o[1]);
    return dot / (hypot(a[0] - o[0], a[1] - o[1]) * hypot(b[0] - o[0], b[1] - o[1]));
}

static int by_length(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static double median_edge(const mst_facets *f, mst_arena *arena) {
    double *lengths = mst_arena_array(arena, 3 * f->count + 1, sizeof *lengths);
    size_t count = 0;
    if (!lengths) return NAN;
    for (uint32_t t = 0; t < f->count; t++)
        for (int c = 0; c < 3; c++)
            if (f->neighbours[t][c] == MST_NOWHERE || f->neighbours[t][c] > t) lengths[count++] = edge_length(f, t, c);
    qsort(lengths, count, sizeof *lengths, by_length);
    return lengths[count / 2];
}

static bool add_rim(peel *p, uint32_t t, int corner) {
    rim *r = MST_PUSH(p->arena, p->edges, p->count, p->capacity);
    if (!r) return false;
    *r = (rim){t, corner, edge_length(p->facets, t, corner)};
    p->on_rim[p->facets->triangles[t][(corner + 1) % 3]] = true;
    p->on_rim[p->facets->triangles[t][(corner + 2) % 3]] = true;
    return true;
}

static bool may_go(const peel *p, const rim *r, double longest) {
    const mst_facets *f = p->facets;
    if (!p->keep[r->triangle] || p->on_rim[f->triangles[r->triangle][r->corner]]) return false;
    if (f->fixed[r->triangle] >> r->corner & 1) return false;
    double cosine = cosine_at(f, r->triangle, r->corner);
    return r->length > longest && cosine < THIN;
}

/* Drops a triangle; the two edges behind it become rim. */
static bool drop(peel *p, rim r) {
    const mst_facets *f = p->facets;
    p->keep[r.triangle] = false;
    for (int k = 1; k < 3; k++) {
        uint32_t next = f->neighbours[r.triangle][(r.corner + k) % 3];
        int corner = 0;
        while (f->neighbours[next][corner] != r.triangle) corner++;
        if (!add_rim(p, next, corner)) return false;
    }
    return true;
}

mst_status mst_natural_rim(const mst_facets *facets, mst_arena *arena, bool keep[], mst_error *error) {
    peel p = {facets, keep, mst_arena_array(arena, facets->corner_count + 1, 1), NULL, 0, 0, arena};
    double longest = LONG * median_edge(facets, arena);
    bool room = p.on_rim && !isnan(longest);
    for (uint32_t t = 0; room && t < facets->count; t++)
        for (int c = 0; room && c < 3; c++)
            if (facets->neighbours[t][c] == MST_NOWHERE) room = add_rim(&p, t, c);
    for (bool found = true; room && found;) {
        size_t best = p.count;
        for (size_t i = 0; i < p.count; i++)
            if (may_go(&p, &p.edges[i], longest) && (best == p.count || p.edges[i].length > p.edges[best].length))
                best = i;
        if ((found = best < p.count)) room = drop(&p, p.edges[best]);
    }
    return room ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
}
