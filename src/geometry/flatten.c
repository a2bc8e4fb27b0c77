/* Arcs as chords. Every original vertex stays as it is, bit for bit, so that neighbours that share it still meet. */
#include "geometry/arc.h"
#include <math.h>

static const double MAX_PIECES = 1e6; /* of one arc; beyond it the sagitta asked for is a slip */

/* A chord over angle f leaves its arc by 2 r sin^2(f / 4). */
static double pieces_for(const mst_path_vertex *a, const mst_path_vertex *b, double sagitta_m) {
    if (a->bulge == 0) return 1;
    double e = b->easting_m - a->easting_m, n = b->northing_m - a->northing_m, bulge = fabs(a->bulge);
    double radius = hypot(e, n) * (1 + bulge * bulge) / (4 * bulge), angle = 4 * atan(bulge);
    double share = sqrt(sagitta_m / (2 * radius));
    return !(share < 1) ? 1 : fmax(ceil(angle / (4 * asin(share))), 1);
}

/* Corners can only make up for what chords cut off where there are some, not too far apart. */
static double even_pieces(const mst_path_vertex *a, double pieces) {
    return a->bulge == 0 ? 1 : fmax(pieces, fmax(2, ceil(4 * atan(fabs(a->bulge)))));
}

static mst_status count_pieces(const mst_path *path, double sagitta_m, size_t *count, mst_error *error) {
    double total = path->count ? 1 : 0;
    for (size_t i = 0; i < mst_path_edges(path); i++) {
        double pieces = pieces_for(&path->vertices[i], mst_path_edge_end(path, i), sagitta_m);
        pieces = even_pieces(&path->vertices[i], pieces);
        if (pieces > MAX_PIECES)
            return mst_fail(error, MST_INVALID, "An arc cannot be drawn to within %g m; allow more.", sagitta_m);
        total += pieces;
    }
    *count = (size_t)total;
    return MST_OK;
}

/* By how much of the radius the corners between n chords over angle f each must move out so that the chords enclose the
 * sector: x of (n - 2) sin f (1 + x)^2 + 2 sin f (1 + x) = n f. */
static double outward(double f, double n) {
    double lacks = n * (f < 0.1 ? f * f * f * (1.0 / 6 - f * f / 120) : f - sin(f));
    double a = (n - 2) * sin(f), b = (2 * n - 2) * sin(f);
    return 2 * lacks / (b + sqrt(b * b + 4 * a * lacks));
}

/* The corners of one arc, those between its ends moved out. */
static void push_out(const mst_path_vertex *a, const mst_path_vertex *b, mst_path_vertex corners[], size_t pieces) {
    mst_point centre;
    double radius, start, sweep;
    mst_arc_of(a, b, &centre, &radius, &start, &sweep);
    double out = a->bulge == 0 || radius == 0 ? 0 : outward(fabs(sweep) / (double)pieces, (double)pieces);
    for (size_t k = 1; k < pieces; k++) {
        corners[k].easting_m += out * (corners[k].easting_m - centre.easting_m);
        corners[k].northing_m += out * (corners[k].northing_m - centre.northing_m);
    }
}

static mst_status flatten(const mst_path *path, double sagitta_m, bool even, mst_arena *arena, mst_path *out,
                          mst_error *error) {
    if (!(sagitta_m > 0))
        return mst_fail(error, MST_INVALID, "Arcs need a distance above 0 that straight pieces may leave them by.");
    if (!mst_path_finite(path)) return mst_fail(error, MST_INVALID, "A vertex of the path has no place.");
    size_t room = 0;
    mst_status status = count_pieces(path, sagitta_m, &room, error);
    if (status) return status;
    mst_path flat = {mst_arena_array(arena, room + 1, sizeof(mst_path_vertex)), 0, path->closed};
    if (!flat.vertices) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < mst_path_edges(path); i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = mst_path_edge_end(path, i);
        double least = pieces_for(a, b, sagitta_m);
        size_t pieces = (size_t)(even ? even_pieces(a, least) : least), first = flat.count;
        for (size_t k = 0; k < pieces; k++) {
            flat.vertices[flat.count] = mst_edge_at(a, b, (double)k / (double)pieces);
            flat.vertices[flat.count++].bulge = 0;
        }
        if (even) push_out(a, b, &flat.vertices[first], pieces);
    }
    if (path->count && (!path->closed || path->count < 2)) {
        flat.vertices[flat.count] = path->vertices[path->count - 1];
        flat.vertices[flat.count++].bulge = 0;
    }
    *out = flat;
    return MST_OK;
}

mst_status mst_path_flatten(const mst_path *path, double sagitta_m, mst_arena *arena, mst_path *out, mst_error *error) {
    return flatten(path, sagitta_m, false, arena, out, error);
}

mst_status mst_path_flatten_even(const mst_path *path, double sagitta_m, mst_arena *arena, mst_path *out,
                                 mst_error *error) {
    return flatten(path, sagitta_m, true, arena, out, error);
}
