/* GeoPackage geometry blobs: a header of 8 bytes, a box in plan, then ISO WKB, all little-endian. */
#include "site/geopackage.h"
#include <math.h>
#include <string.h>

enum {
    POINT = 1,
    LINESTRING = 2,
    POLYGON = 3,
    CIRCULARSTRING = 8,
    COMPOUNDCURVE = 9,
    CURVEPOLYGON = 10,
    WITH_LEVEL = 1000
};
enum { LITTLE_ENDIAN_FLAG = 1, BOX_IN_PLAN = 1 << 1 };

void mst_extent_add(mst_extent *extent, double easting, double northing) {
    if (!extent->any) *extent = (mst_extent){easting, easting, northing, northing, true};
    extent->min_e = fmin(extent->min_e, easting);
    extent->max_e = fmax(extent->max_e, easting);
    extent->min_n = fmin(extent->min_n, northing);
    extent->max_n = fmax(extent->max_n, northing);
}

void mst_extent_join(mst_extent *extent, const mst_extent *other) {
    if (!other->any) return;
    mst_extent_add(extent, other->min_e, other->min_n);
    mst_extent_add(extent, other->max_e, other->max_n);
}

/* ---- bytes ---- */

static void add_u32(mst_text *out, uint32_t v) {
    const char bytes[4] = {(char)(v & 255), (char)(v >> 8 & 255), (char)(v >> 16 & 255), (char)(v >> 24 & 255)};
    mst_text_add(out, bytes, sizeof bytes);
}

static void add_doubles(mst_text *out, const double *values, size_t count) {
    char bytes[32]; /* up to four at a time */
    for (size_t i = 0; i < count; i++) {
        uint64_t v;
        memcpy(&v, &values[i], sizeof v);
        for (int b = 0; b < 8; b++) bytes[8 * i + (size_t)b] = (char)(v >> 8 * b & 255);
    }
    mst_text_add(out, bytes, 8 * count);
}

static void add_header(mst_text *out, int32_t srs, const mst_extent *box) {
    const char start[4] = {'G', 'P', 0, (char)(box ? LITTLE_ENDIAN_FLAG | BOX_IN_PLAN : LITTLE_ENDIAN_FLAG)};
    mst_text_add(out, start, sizeof start);
    add_u32(out, (uint32_t)srs);
    if (box) add_doubles(out, (const double[]){box->min_e, box->max_e, box->min_n, box->max_n}, 4);
}

static void add_kind(mst_text *out, uint32_t kind, bool levels) {
    mst_text_add(out, "\1", 1); /* little-endian */
    add_u32(out, kind + (levels ? WITH_LEVEL : 0));
}

/* ---- paths ---- */

static const double *point_of(const mst_ring *ring, size_t i) { return ring->points[i % ring->count]; }

/* How many points the written path has: a closed one repeats its first. */
static size_t written_count(const mst_ring *ring) { return ring->count + (ring->closed ? 1 : 0); }

static bool has_levels(const mst_ring rings[], size_t count) {
    for (size_t r = 0; r < count; r++)
        for (size_t i = 0; i < rings[r].count; i++)
            if (!isfinite(rings[r].points[i][2])) return false;
    return true;
}

static bool has_arcs(const mst_ring *ring) {
    for (size_t i = 0; i + 1 < written_count(ring); i++)
        if (ring->points[i][3] != 0) return true;
    return false;
}

/* The middle of the arc from a to b: off the middle of the chord by bulge times half the chord, to the right of the way
 * when the arc turns left. */
static void middle_of_arc(const double a[4], const double b[4], double middle[3]) {
    middle[0] = (a[0] + b[0]) / 2 + a[3] * (b[1] - a[1]) / 2;
    middle[1] = (a[1] + b[1]) / 2 - a[3] * (b[0] - a[0]) / 2;
    middle[2] = (a[2] + b[2]) / 2;
}

/* Adds the easternmost, northernmost ... places of the circle that lie on the arc from a to b. They do when they are on
 * the arc's side of the chord. */
static void add_crowns(mst_extent *extent, const double a[4], const double b[4]) {
    double de = b[0] - a[0], dn = b[1] - a[1], bulge = a[3];
    double to_centre = (1 - bulge * bulge) / (4 * bulge); /* of the chord, to the left of the way */
    double e = (a[0] + b[0]) / 2 - dn * to_centre, n = (a[1] + b[1]) / 2 + de * to_centre;
    double radius = hypot(de, dn) * (1 + bulge * bulge) / (4 * fabs(bulge));
    const double crowns[4][2] = {{e + radius, n}, {e - radius, n}, {e, n + radius}, {e, n - radius}};
    for (int i = 0; i < 4; i++) {
        double right = (crowns[i][0] - a[0]) * dn - (crowns[i][1] - a[1]) * de;
        if (right * bulge > 0) mst_extent_add(extent, crowns[i][0], crowns[i][1]);
    }
}

static void extend_over(mst_extent *extent, const mst_ring *ring) {
    for (size_t i = 0; i < ring->count; i++) {
        mst_extent_add(extent, ring->points[i][0], ring->points[i][1]);
        if (i + 1 < written_count(ring) && ring->points[i][3] != 0)
            add_crowns(extent, ring->points[i], point_of(ring, i + 1));
    }
}

static void add_straight(mst_text *out, const mst_ring *ring, size_t first, size_t last, bool levels) {
    add_kind(out, LINESTRING, levels);
    add_u32(out, (uint32_t)(last - first + 1));
    for (size_t i = first; i <= last; i++) add_doubles(out, point_of(ring, i), levels ? 3 : 2);
}

static void add_arc(mst_text *out, const mst_ring *ring, size_t first, bool levels) {
    double middle[3];
    middle_of_arc(point_of(ring, first), point_of(ring, first + 1), middle);
    add_kind(out, CIRCULARSTRING, levels);
    add_u32(out, 3);
    add_doubles(out, point_of(ring, first), levels ? 3 : 2);
    add_doubles(out, middle, levels ? 3 : 2);
    add_doubles(out, point_of(ring, first + 1), levels ? 3 : 2);
}

/* The last point of the run that starts at point `first`: one arc, or all straight spans up to the next arc. */
static size_t run_end(const mst_ring *ring, size_t first) {
    size_t last = first + 1, spans = written_count(ring) - 1;
    if (ring->points[first][3] != 0) return last;
    while (last < spans && ring->points[last][3] == 0) last++;
    return last;
}

static void add_compound(mst_text *out, const mst_ring *ring, bool levels) {
    size_t spans = written_count(ring) - 1;
    uint32_t runs = 0;
    for (size_t i = 0; i < spans; i = run_end(ring, i)) runs++;
    add_kind(out, COMPOUNDCURVE, levels);
    add_u32(out, runs);
    for (size_t i = 0; i < spans; i = run_end(ring, i)) {
        if (ring->points[i][3] != 0) add_arc(out, ring, i, levels);
        else add_straight(out, ring, i, run_end(ring, i), levels);
    }
}

/* ---- blobs ---- */

void mst_blob_point(mst_text *out, int32_t srs, double easting, double northing, double elevation) {
    bool level = isfinite(elevation);
    add_header(out, srs, NULL);
    add_kind(out, POINT, level);
    add_doubles(out, (const double[]){easting, northing, elevation}, level ? 3 : 2);
}

void mst_blob_curve(mst_text *out, int32_t srs, const mst_ring *ring, mst_extent *extent) {
    mst_extent box = {0};
    extend_over(&box, ring);
    add_header(out, srs, &box);
    add_compound(out, ring, has_levels(ring, 1));
    mst_extent_join(extent, &box);
}

void mst_blob_area(mst_text *out, int32_t srs, const mst_ring rings[], size_t count, mst_extent *extent) {
    mst_extent box = {0};
    for (size_t r = 0; r < count; r++) extend_over(&box, &rings[r]);
    bool levels = has_levels(rings, count);
    add_header(out, srs, &box);
    add_kind(out, CURVEPOLYGON, levels);
    add_u32(out, (uint32_t)count);
    for (size_t r = 0; r < count; r++) {
        if (has_arcs(&rings[r])) add_compound(out, &rings[r], levels);
        else add_straight(out, &rings[r], 0, written_count(&rings[r]) - 1, levels);
    }
    mst_extent_join(extent, &box);
}

void mst_blob_contour(mst_text *out, int32_t srs, const double (*points)[2], size_t count, bool closed, double level,
                      mst_extent *extent) {
    mst_extent box = {0};
    for (size_t i = 0; i < count; i++) mst_extent_add(&box, points[i][0], points[i][1]);
    size_t written = count + (closed ? 1 : 0);
    add_header(out, srs, &box);
    add_kind(out, LINESTRING, true);
    add_u32(out, (uint32_t)written);
    for (size_t i = 0; i < written; i++)
        add_doubles(out, (const double[]){points[i % count][0], points[i % count][1], level}, 3);
    mst_extent_join(extent, &box);
}

void mst_blob_triangle(mst_text *out, int32_t srs, const double corners[3][3], mst_extent *extent) {
    mst_extent box = {0};
    for (int i = 0; i < 3; i++) mst_extent_add(&box, corners[i][0], corners[i][1]);
    add_header(out, srs, &box);
    add_kind(out, POLYGON, true);
    add_u32(out, 1);
    add_u32(out, 4);
    for (int i = 0; i < 4; i++) add_doubles(out, corners[i % 3], 3);
    mst_extent_join(extent, &box);
}
