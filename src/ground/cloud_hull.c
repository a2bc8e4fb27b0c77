/* The convex hull of a stream, corner by corner: a point beyond it replaces the corners that it sees past (A. M.
 * Andrew, Another efficient algorithm for convex hulls in two dimensions, 1979, with the ring searched by halving).
 * Turns are exact, so that no point of the cloud lies outside of the triangulation that starts from the hull. */
#include "ground/cloud.h"
#include <string.h>

static double turn(const mst_point3 *a, const mst_point3 *b, const mst_point3 *p) {
    double left = (a->easting_m - p->easting_m) * (b->northing_m - p->northing_m);
    double right = (a->northing_m - p->northing_m) * (b->easting_m - p->easting_m);
    double det = left - right;
    if (fabs(det) > MST_ORIENT_BOUND * (fabs(left) + fabs(right))) return det;
    return mst_orient2d_exact((const double[2]){a->easting_m, a->northing_m},
                              (const double[2]){b->easting_m, b->northing_m},
                              (const double[2]){p->easting_m, p->northing_m});
}

/* Finds an edge, by its first corner, that has the point on its outer side: in the wedge of corner 0 that holds it. */
static bool seen_edge(const mst_stream_hull *h, const mst_point3 *p, size_t *edge) {
    const mst_point3 *r = h->ring;
    size_t low = 1, high = h->ring_count - 1;
    if (turn(&r[0], &r[low], p) < 0) return *edge = 0, true;
    if (turn(&r[high], &r[0], p) < 0) return *edge = high, true;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (turn(&r[0], &r[middle], p) >= 0) low = middle;
        else high = middle;
    }
    return *edge = low, turn(&r[low], &r[high], p) < 0;
}

/* The corners between `before` and `after` go, and the point takes their place. */
static void replace(mst_stream_hull *h, size_t before, size_t after, mst_point3 p) {
    mst_point3 *r = h->ring;
    if (before < after) {
        memmove(r + before + 2, r + after, (h->ring_count - after) * sizeof *r);
        r[before + 1] = p;
        h->ring_count -= after - before - 1;
        h->ring_count++;
        return;
    }
    size_t kept = before - after + 1; /* the run of corners goes over the end of the ring */
    memmove(r, r + after, kept * sizeof *r);
    r[kept] = p;
    h->ring_count = kept + 1;
}

static void take_beyond(mst_stream_hull *h, size_t edge, mst_point3 p) {
    size_t n = h->ring_count, before = edge, after = edge + 1 < n ? edge + 1 : 0;
    for (size_t back; back = before ? before - 1 : n - 1, turn(&h->ring[back], &h->ring[before], &p) <= 0;)
        before = back;
    for (size_t on; on = after + 1 < n ? after + 1 : 0, turn(&h->ring[after], &h->ring[on], &p) <= 0;) after = on;
    replace(h, before, after, p);
}

static bool is_west(const mst_point3 *a, const mst_point3 *b) {
    return a->easting_m != b->easting_m ? a->easting_m < b->easting_m : a->northing_m < b->northing_m;
}

/* As long as all lie on one line the ring is its two ends, the western one first. */
static void take_early(mst_stream_hull *h, mst_point3 p) {
    mst_point3 *r = h->ring;
    double side = h->ring_count == 2 ? turn(&r[0], &r[1], &p) : 0;
    if (side != 0) {
        r[2] = p;
        if (side < 0) r[2] = r[1], r[1] = p;
        h->ring_count = 3;
    } else if (h->ring_count == 0) r[h->ring_count++] = p;
    else if (is_west(&p, &r[0])) {
        if (h->ring_count == 1) r[h->ring_count++] = r[0];
        r[0] = p;
    } else if (is_west(&r[h->ring_count - 1], &p)) {
        h->ring_count = 2;
        r[1] = p;
    }
}

static mst_status make_room(mst_stream_hull *h, mst_error *error) {
    if (h->ring_count + 1 < h->capacity) return MST_OK;
    if (h->ring_count >= h->most)
        return mst_fail(error, MST_INVALID, "The cloud's outline has over %zu corners; it is no scan of ground.",
                        h->most);
    size_t capacity = h->capacity ? 2 * h->capacity : 256;
    mst_point3 *ring = mst_arena_array(h->arena, capacity, sizeof *ring);
    if (!ring) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the outline of the cloud.");
    if (h->ring_count) memcpy(ring, h->ring, h->ring_count * sizeof *ring);
    h->ring = ring;
    h->capacity = capacity;
    return MST_OK;
}

static void extend(mst_stream_hull *h, const mst_cloud_point *p) {
    const double place[2] = {p->easting_m, p->northing_m};
    for (int k = 0; k < 2; k++) {
        if (!h->ring_count || place[k] < h->least[k]) h->least[k] = place[k];
        if (!h->ring_count || place[k] > h->greatest[k]) h->greatest[k] = place[k];
    }
}

mst_status mst_stream_hull_add(mst_stream_hull *h, const mst_cloud_point points[], size_t count, mst_error *error) {
    for (size_t i = 0; i < count; i++) {
        mst_point3 p = {points[i].easting_m, points[i].northing_m, points[i].elevation_m};
        size_t edge = 0;
        extend(h, &points[i]);
        if (h->ring_count >= 3 && !seen_edge(h, &p, &edge)) continue;
        mst_status status = make_room(h, error);
        if (status) return status;
        if (h->ring_count < 3) take_early(h, p);
        else take_beyond(h, edge, p);
    }
    return MST_OK;
}

static bool closer(const mst_point3 *a, const mst_point3 *b, double m) {
    return hypot(a->easting_m - b->easting_m, a->northing_m - b->northing_m) < m;
}

mst_status mst_stream_hull_finish(mst_stream_hull *h, double closest_m, mst_error *error) {
    if (h->ring_count < 3)
        return mst_fail(error, MST_UNDETERMINED, "The points of the cloud lie on one line; a surface needs an area.");
    size_t kept = 1;
    for (size_t i = 1; i < h->ring_count; i++)
        if (!closer(&h->ring[i], &h->ring[kept - 1], closest_m) && !closer(&h->ring[i], &h->ring[0], closest_m))
            h->ring[kept++] = h->ring[i];
    if (kept < 3)
        return mst_fail(error, MST_UNDETERMINED, "The cloud is only millimetres wide; a surface needs an area.");
    h->ring_count = kept;
    return MST_OK;
}
