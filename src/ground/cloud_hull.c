/* The convex hull of a stream in bounded memory: corners so far, and a few thousand points beyond them that wait for the
 * next join (A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions, 1979). Turns are exact, so
 * that no point of the cloud lies outside of the triangulation that starts from the hull. */
#include "ground/cloud.h"
#include <stdlib.h>
#include <string.h>

enum { WAIT = 4096 };

static double turn(const mst_point3 *a, const mst_point3 *b, double e, double n) {
    return mst_orient2d((const double[2]){a->easting_m, a->northing_m}, (const double[2]){b->easting_m, b->northing_m},
                        (const double[2]){e, n});
}

/* In the wedge of the first corner that holds the point, by halving; the last wedge's edge is the hull's. */
static bool is_inside(const mst_stream_hull *h, double e, double n) {
    const mst_point3 *r = h->ring;
    size_t low = 1, high = h->ring_count - 1;
    if (h->ring_count < 3 || turn(&r[0], &r[low], e, n) < 0 || turn(&r[0], &r[high], e, n) > 0) return false;
    while (high - low > 1) {
        size_t middle = (low + high) / 2;
        if (turn(&r[0], &r[middle], e, n) >= 0) low = middle;
        else high = middle;
    }
    return turn(&r[low], &r[high], e, n) >= 0;
}

static int by_place(const void *a, const void *b) {
    const mst_point3 *p = a, *q = b;
    if (p->easting_m != q->easting_m) return p->easting_m < q->easting_m ? -1 : 1;
    if (p->northing_m != q->northing_m) return p->northing_m < q->northing_m ? -1 : 1;
    return p->elevation_m < q->elevation_m ? -1 : p->elevation_m > q->elevation_m;
}

static size_t push_turning(mst_point3 *ring, size_t count, size_t floor, mst_point3 p) {
    while (count > floor && turn(&ring[count - 2], &ring[count - 1], p.easting_m, p.northing_m) <= 0) count--;
    ring[count] = p;
    return count + 1;
}

static void join(mst_stream_hull *h) {
    size_t n = h->ring_count + h->waiting, places = 0, count = 0;
    mst_point3 *p = h->ring, *out = h->spare;
    qsort(p, n, sizeof *p, by_place);
    for (size_t i = 0; i < n; i++)
        if (i == 0 || p[i].easting_m != p[places - 1].easting_m || p[i].northing_m != p[places - 1].northing_m)
            p[places++] = p[i];
    for (size_t i = 0; i < places; i++) count = push_turning(out, count, 1, p[i]);
    for (size_t i = places - 1, floor = count; i-- > 0;) count = push_turning(out, count, floor, p[i]);
    if (places > 1) count--; /* the first one again */
    memcpy(p, out, count * sizeof *p);
    h->ring_count = count;
    h->waiting = 0;
}

/* Room for the ring, as many waiting points, and the list that is being made (the first corner twice). */
static bool make_room(mst_stream_hull *h) {
    size_t need = h->ring_count + (h->ring_count > WAIT ? h->ring_count : WAIT);
    if (need <= h->capacity) return true;
    mst_point3 *ring = mst_arena_array(h->arena, 2 * need, sizeof *ring);
    mst_point3 *spare = mst_arena_array(h->arena, 4 * need + 2, sizeof *spare);
    if (!ring || !spare) return false;
    if (h->ring_count) memcpy(ring, h->ring, h->ring_count * sizeof *ring);
    h->ring = ring;
    h->spare = spare;
    h->capacity = 2 * need;
    return true;
}

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the outline of the cloud.");
}

static mst_status wait(mst_stream_hull *h, const mst_cloud_point *p, mst_error *error) {
    size_t used = h->ring_count + h->waiting;
    if (used == h->capacity) {
        if (h->waiting) join(h);
        if (h->ring_count > h->most)
            return mst_fail(error, MST_INVALID, "The cloud's outline has over %zu corners; thin the cloud where it was made.",
                            h->most);
        if (!make_room(h)) return no_memory(error);
        if (is_inside(h, p->easting_m, p->northing_m)) return MST_OK;
        used = h->ring_count;
    }
    h->ring[used] = (mst_point3){p->easting_m, p->northing_m, p->elevation_m};
    h->waiting++;
    return MST_OK;
}

static void extend(mst_stream_hull *h, const mst_cloud_point *p) {
    h->least[0] = fmin(h->least[0], p->easting_m), h->greatest[0] = fmax(h->greatest[0], p->easting_m);
    h->least[1] = fmin(h->least[1], p->northing_m), h->greatest[1] = fmax(h->greatest[1], p->northing_m);
}

mst_status mst_stream_hull_add(mst_stream_hull *h, const mst_cloud_point points[], size_t count, mst_error *error) {
    if (!h->ring && count) {
        if (!make_room(h)) return no_memory(error);
        h->least[0] = h->greatest[0] = points[0].easting_m;
        h->least[1] = h->greatest[1] = points[0].northing_m;
    }
    for (size_t i = 0; i < count; i++) {
        extend(h, &points[i]);
        if (is_inside(h, points[i].easting_m, points[i].northing_m)) continue;
        mst_status status = wait(h, &points[i], error);
        if (status) return status;
    }
    return MST_OK;
}

static bool closer(const mst_point3 *a, const mst_point3 *b, double m) {
    return hypot(a->easting_m - b->easting_m, a->northing_m - b->northing_m) < m;
}

mst_status mst_stream_hull_finish(mst_stream_hull *h, double closest_m, mst_error *error) {
    if (h->waiting) join(h);
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
