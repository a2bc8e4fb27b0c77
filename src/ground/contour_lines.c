/* Contours for drawing: smoothed, and with places for their labels. */
#include "ground/contours.h"
#include <math.h>
#include <stdlib.h>

enum { ROUNDS = 12 };
static const double REACH = 0.45; /* of the interval: two neighbours may come towards each other, never meet */
static const double PULL = 0.5;   /* of the way to the chord in each round */
static const double ENDS = 0.02;  /* of an edge: lines do not run through vertices that they did not run through */

/* ---- smoothing: each place slides along its edge ----
 * On an edge, and so in a triangle, the lines keep their order as long as each stays within its own band of levels; so
 * lines of different levels cannot cross, and no line can cross itself. */

static void slide(const mst_ground *g, const mst_traced *t, double interval, double (*p)[2], size_t i) {
    const mst_contour *c = &t->line;
    const mst_ground_point *low = &g->vertices[t->edges[i].lower], *high = &g->vertices[t->edges[i].upper];
    double rise = high->elevation_m - low->elevation_m, is = (c->level_m - low->elevation_m) / rise;
    double least = fmax(is - REACH * interval / rise, fmin(ENDS, is)),
           most = fmin(is + REACH * interval / rise, fmax(1 - ENDS, is));
    const double *a = p[(i + c->count - 1) % c->count], *b = p[(i + 1) % c->count];
    double de = high->easting_m - low->easting_m, dn = high->northing_m - low->northing_m;
    double ce = b[0] - a[0], cn = b[1] - a[1], cross = de * cn - dn * ce;
    if (is >= 1 || cross == 0) return; /* through a vertex: it stays */
    double now = (fabs(de) > fabs(dn) ? (p[i][0] - low->easting_m) / de : (p[i][1] - low->northing_m) / dn);
    double chord = ((a[0] - low->easting_m) * cn - (a[1] - low->northing_m) * ce) / cross;
    double to = fmin(fmax(now + PULL * (chord - now), least), most);
    p[i][0] = low->easting_m + to * de, p[i][1] = low->northing_m + to * dn;
}

static mst_status smooth(const mst_ground *g, const mst_traced *t, double interval, mst_arena *arena,
                         mst_contour *out) {
    const mst_contour *c = &t->line;
    double(*p)[2] = mst_arena_array(arena, c->count, sizeof *p);
    if (!p) return MST_NO_MEMORY;
    for (size_t i = 0; i < c->count; i++) p[i][0] = c->points[i][0], p[i][1] = c->points[i][1];
    for (int round = 0; round < ROUNDS; round++)
        for (size_t i = c->closed ? 0 : 1; i + (c->closed ? 0 : 1) < c->count; i++) slide(g, t, interval, p, i);
    *out = *c;
    out->points = (const double(*)[2])p;
    return MST_OK;
}

mst_status mst_ground_smooth_contours(const mst_ground *ground, double interval_m, mst_arena *arena,
                                      mst_contour **contours, size_t *count, mst_error *error) {
    mst_traced *lines;
    mst_arena *own = mst_arena_new();
    if (!own) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    mst_status status = mst_trace_contours(ground, interval_m, true, own, &lines, count, error);
    if (!status) {
        *contours = mst_arena_array(arena, *count + 1, sizeof **contours);
        bool room = *contours != NULL;
        for (size_t i = 0; room && i < *count; i++)
            room = smooth(ground, &lines[i], interval_m, arena, &(*contours)[i]) == MST_OK;
        if (!room) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    mst_arena_free(own);
    return status;
}

/* ---- labels ---- */

/* A line with its chainages. */
typedef struct run {
    const mst_contour *line;
    double *chainage; /* [places], from 0 */
    size_t places;    /* count, and the first again when closed */
} run;

static const double *place(const run *r, size_t i) { return r->line->points[i % r->line->count]; }

static bool measure(const mst_contour *c, mst_arena *arena, run *r) {
    *r = (run){c, NULL, c->count + c->closed};
    r->chainage = mst_arena_array(arena, r->places + 1, sizeof *r->chainage);
    for (size_t i = 1; r->chainage && i < r->places; i++) {
        const double *a = place(r, i - 1), *b = place(r, i);
        r->chainage[i] = r->chainage[i - 1] + hypot(b[0] - a[0], b[1] - a[1]);
    }
    return r->chainage != NULL;
}

static void at_chainage(const run *r, double s, double at[2]) {
    size_t low = 0, high = r->places - 1;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (r->chainage[middle] <= s) low = middle;
        else high = middle;
    }
    double length = r->chainage[high] - r->chainage[low], along = length > 0 ? (s - r->chainage[low]) / length : 0;
    for (int x = 0; x < 2; x++) at[x] = place(r, low)[x] + along * (place(r, high)[x] - place(r, low)[x]);
}

/* Chord over arc of the stretch that the text covers: 1 where the line is straight. */
static double straightness(const run *r, double s, double width) {
    double a[2], b[2];
    at_chainage(r, s - width / 2, a);
    at_chainage(r, s + width / 2, b);
    return hypot(b[0] - a[0], b[1] - a[1]) / width;
}

static mst_contour_label label_at(const run *r, size_t contour, double s, double width) {
    double a[2], b[2], at[2];
    at_chainage(r, s, at);
    at_chainage(r, s - width / 2, a);
    at_chainage(r, s + width / 2, b);
    double bearing = mst_bearing((mst_point){a[0], a[1]}, (mst_point){b[0], b[1]});
    return (mst_contour_label){contour, {at[0], at[1]}, bearing};
}

mst_status mst_contour_labels(const mst_contour contours[], size_t count, double width_m, double apart_m,
                              mst_arena *arena, mst_contour_label **labels, size_t *label_count, mst_error *error) {
    enum { TRIES = 16 };
    mst_contour_label *list = NULL;
    size_t found = 0, capacity = 0;
    mst_arena *own = mst_arena_new();
    bool room = own && width_m > 0 && apart_m > 0;
    if (own && !room) {
        mst_arena_free(own);
        return mst_fail(error, MST_INVALID, "A label needs a width and a distance to the next one above 0 m.");
    }
    for (size_t i = 0; room && i < count; i++) {
        run r;
        if (!contours[i].index || contours[i].count < 2) continue;
        if (!(room = measure(&contours[i], own, &r))) break;
        double length = r.chainage[r.places - 1], stretch = length / ceil(length / apart_m);
        if (length < 2 * width_m) continue; /* the text would hide it */
        for (double from = 0; room && from + stretch <= length * (1 + 1e-9); from += stretch) {
            double best = 0, at = 0;
            for (int k = 0; k < TRIES; k++) {
                double s = from + stretch * (k + 0.5) / TRIES;
                if (s < width_m / 2 || s > length - width_m / 2) continue;
                double here = straightness(&r, s, width_m);
                if (here > best) best = here, at = s;
            }
            if (!(best > 0)) continue;
            mst_contour_label *l = MST_PUSH(arena, list, found, capacity);
            if (l) *l = label_at(&r, i, at, width_m);
            room = l != NULL;
        }
    }
    mst_arena_free(own);
    if (!room) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    *labels = list;
    *label_count = found;
    return MST_OK;
}
