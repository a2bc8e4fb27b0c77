/* A smooth curve through points as pairs of tangent arcs (biarcs; Bolton, Computer-Aided Design 7 (1975) 77-88).
 * The tangent at a point is that of the circle through it and its neighbours, so points of a circle give that circle.
 */
#include "geometry/arc.h"
#include <math.h>

typedef struct vector {
    double e, n;
} vector;

static vector between(const mst_point3 *a, const mst_point3 *b) {
    return (vector){b->easting_m - a->easting_m, b->northing_m - a->northing_m};
}
static double dot(vector a, vector b) { return a.e * b.e + a.n * b.n; }
static double cross(vector a, vector b) { return a.e * b.n - a.n * b.e; }
static vector unit(vector v) {
    double length = hypot(v.e, v.n);
    return (vector){v.e / length, v.n / length};
}

/* Of the circle through a, b, c at b: the chords weighted by one over their squares. Not a number where c = a. */
static vector tangent_between(const mst_point3 *a, const mst_point3 *b, const mst_point3 *c) {
    vector u = between(a, b), w = between(b, c);
    double uu = dot(u, u), ww = dot(w, w);
    return unit((vector){u.e / uu + w.e / ww, u.n / uu + w.n / ww});
}

/* At the other end of a chord of the same circle the tangent is mirrored about the chord. */
static vector mirrored(vector t, vector chord) {
    vector c = unit(chord);
    double along = 2 * dot(t, c);
    return (vector){along * c.e - t.e, along * c.n - t.n};
}

static mst_status tangents_at(const mst_point3 p[], size_t count, bool closed, vector t[], mst_error *error) {
    for (size_t i = 0; i < count; i++) {
        bool inner = closed || (i > 0 && i + 1 < count);
        if (!inner) continue;
        t[i] = tangent_between(&p[(i + count - 1) % count], &p[i], &p[(i + 1) % count]);
        if (!isfinite(t[i].e) || !isfinite(t[i].n))
            return mst_fail(error, MST_UNDETERMINED,
                            "The curve turns straight back at its point %zu; add a point there.", i + 1);
    }
    if (closed) return MST_OK;
    t[0] = count == 2 ? unit(between(&p[0], &p[1])) : mirrored(t[1], between(&p[0], &p[1]));
    t[count - 1] = count == 2 ? t[0] : mirrored(t[count - 2], between(&p[count - 2], &p[count - 1]));
    return MST_OK;
}

/* Length of both tangents of the pair whose joint lies half-way between their ends: the positive root of
 * 2 (1 - t0.t1) d^2 + 2 v.(t0 + t1) d - v.v = 0, in the form that does not cancel. 0 if there is none. */
static double tangent_length(vector v, vector t0, vector t1) {
    double along = dot(v, t0) + dot(v, t1), open = 2 * (1 - dot(t0, t1)), square = dot(v, v);
    double root = sqrt(along * along + fmax(open, 0) * square);
    if (along > 0) return square / (along + root);
    return open > 0 ? (root - along) / open : 0;
}

/* tan of half the angle that turns a into b. */
static double half_turn(vector a, vector b) { return tan(atan2(cross(a, b), dot(a, b)) / 2); }

static mst_status add_span(const mst_point3 *a, const mst_point3 *b, vector t0, vector t1, mst_path *out,
                           mst_error *error) {
    vector v = between(a, b);
    double d = tangent_length(v, t0, t1);
    vector to_joint = {(v.e + d * (t0.e - t1.e)) / 2, (v.n + d * (t0.n - t1.n)) / 2};
    vector from_joint = {v.e - to_joint.e, v.n - to_joint.n};
    mst_path_vertex first = {a->easting_m, a->northing_m, a->elevation_m, half_turn(t0, to_joint)};
    mst_path_vertex joint = {a->easting_m + to_joint.e, a->northing_m + to_joint.n, NAN, half_turn(from_joint, t1)};
    mst_path_vertex end = {b->easting_m, b->northing_m, b->elevation_m, 0};
    const double sharpest = 1e6; /* a bulge of 1e6 is a full turn to 1e-6 rad */
    if (!(d > 0) || !(fabs(first.bulge) < sharpest) || !(fabs(joint.bulge) < sharpest))
        return mst_fail(error, MST_UNDETERMINED, "The curve turns back on itself near %.3f, %.3f; add points there.",
                        a->easting_m, a->northing_m);
    double before = mst_edge_length(&first, &joint), after = mst_edge_length(&joint, &end);
    joint.elevation_m = a->elevation_m + (b->elevation_m - a->elevation_m) * (before / (before + after));
    out->vertices[out->count++] = first;
    out->vertices[out->count++] = joint;
    return MST_OK;
}

static mst_status check_points(const mst_point3 p[], size_t count, bool closed, mst_error *error) {
    size_t least = closed ? 3 : 2;
    if (count < least)
        return mst_fail(error, MST_TOO_FEW, "A %scurve needs %zu points, not %zu.", closed ? "closed " : "", least,
                        count);
    for (size_t i = 0; i < count; i++) {
        const mst_point3 *next = &p[(i + 1) % count];
        if (!isfinite(p[i].easting_m) || !isfinite(p[i].northing_m))
            return mst_fail(error, MST_INVALID, "Point %zu of the curve has no place.", i + 1);
        if ((closed || i + 1 < count) && p[i].easting_m == next->easting_m && p[i].northing_m == next->northing_m)
            return mst_fail(error, MST_INVALID, "Points %zu and %zu of the curve are at one place; leave one out.",
                            i + 1, (i + 1) % count + 1);
    }
    return MST_OK;
}

mst_status mst_path_curve(const mst_point3 points[], size_t count, bool closed, mst_arena *arena, mst_path *out,
                          mst_error *error) {
    mst_status status = check_points(points, count, closed, error);
    if (status) return status;
    vector *tangents = mst_arena_array(arena, count, sizeof *tangents);
    mst_path curve = {mst_arena_array(arena, 2 * count, sizeof(mst_path_vertex)), 0, closed};
    if (!tangents || !curve.vertices) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if ((status = tangents_at(points, count, closed, tangents, error))) return status;
    size_t spans = closed ? count : count - 1;
    for (size_t i = 0; i < spans; i++) {
        size_t next = (i + 1) % count;
        status = add_span(&points[i], &points[next], tangents[i], tangents[next], &curve, error);
        if (status) return status;
    }
    const mst_point3 *last = &points[count - 1];
    if (!closed)
        curve.vertices[curve.count++] = (mst_path_vertex){last->easting_m, last->northing_m, last->elevation_m, 0};
    *out = curve;
    return MST_OK;
}
