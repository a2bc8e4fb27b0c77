/* Checks of a constrained Delaunay triangulation by exact predicates, and seeded hard inputs, for more than one test.
 * Euler's formula for a triangulated disc: triangles = 2 vertices - 2 - hull edges (de Berg et al., Computational
 * Geometry, 3rd edition, theorem 9.1). Empty circles: same book, theorem 9.9. */
#ifndef TESTS_GROUND_TRIANGULATION_CHECKS_H
#define TESTS_GROUND_TRIANGULATION_CHECKS_H
#include "merestone/ground.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

typedef struct site {
    double (*points)[2];
    uint32_t (*segments)[2];
    size_t point_count, segment_count;
} site;

static uint64_t seed = 1;
static inline uint64_t next_random(void) {
    seed ^= seed << 13;
    seed ^= seed >> 7;
    return seed ^= seed << 17;
}
static inline double uniform(void) { return (double)(next_random() >> 11) * 0x1p-53; }
static inline size_t below(size_t limit) { return (size_t)(next_random() % limit); }

static inline site new_site(size_t points, size_t segments) {
    site s = {calloc(points + 1, sizeof *s.points), calloc(segments + 1, sizeof *s.segments), points, segments};
    assert_non_null(s.points);
    assert_non_null(s.segments);
    return s;
}
static inline void free_site(site *s) {
    free(s->points);
    free(s->segments);
}
static int threads = 1;
static inline mst_status build(const site *s, mst_arena *arena, mst_triangulation **t, mst_error *error) {
    const mst_triangulation_input input = {(const double(*)[2])s->points, s->point_count,
                                           (const uint32_t(*)[2])s->segments, s->segment_count, threads};
    return mst_triangulation_build(&input, arena, t, error);
}

/* ---- the checks ---- */

typedef struct view {
    const double (*at)[2];
    const uint32_t (*corners)[3], (*beyond)[3];
    size_t vertices, triangles;
} view;
static inline view view_of(const mst_triangulation *t) {
    view v;
    v.at = mst_triangulation_vertices(t, &v.vertices);
    v.corners = mst_triangulation_corners(t, &v.triangles);
    v.beyond = mst_triangulation_neighbours(t);
    return v;
}
static inline int corner_of(const uint32_t corners[3], uint32_t vertex) {
    for (int k = 0; k < 3; k++)
        if (corners[k] == vertex) return k;
    return -1;
}
static inline bool west_of(const double p[2], const double q[2]) { return p[0] != q[0] ? p[0] < q[0] : p[1] < q[1]; }

/* The edge of triangle t opposite to k, seen from both sides. */
static inline void check_edge(const mst_triangulation *t, const view *v, uint32_t i, int k) {
    uint32_t other = v->beyond[i][k], from = v->corners[i][(k + 1) % 3], to = v->corners[i][(k + 2) % 3];
    assert_true(other < v->triangles && other != i);
    int a = corner_of(v->corners[other], from), b = corner_of(v->corners[other], to);
    assert_true(a >= 0 && b >= 0 && a == (b + 1) % 3);
    int j = 3 - a - b;
    assert_int_equal(v->beyond[other][j], i);
    bool fixed = mst_triangulation_edge_fixed(t, i, k);
    assert_int_equal(fixed, mst_triangulation_edge_fixed(t, other, j));
    if (fixed) return;
    const double *p = v->at[from], *q = v->at[to], *near = v->at[v->corners[i][k]], *far = v->at[v->corners[other][j]];
    double inside = mst_incircle(p, q, near, far);
    assert_true(inside <= 0);
    /* the stated rule on one circle: the diagonal from the westernmost vertex, the southernmost of those */
    if (inside == 0) assert_true((west_of(p, near) && west_of(p, far)) || (west_of(q, near) && west_of(q, far)));
}

static inline double twice_area(const double a[2], const double b[2], const double c[2]) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

/* The rim is one ring that never turns right and holds the area of all triangles. */
static inline void check_rim(const view *v, size_t hull, double area) {
    uint32_t *next = malloc(v->vertices * sizeof *next);
    memset(next, 0xFF, v->vertices * sizeof *next);
    uint32_t start = UINT32_MAX;
    for (size_t i = 0; i < v->triangles; i++)
        for (int k = 0; k < 3; k++)
            if (v->beyond[i][k] == UINT32_MAX) {
                uint32_t from = v->corners[i][(k + 1) % 3];
                assert_int_equal(next[from], UINT32_MAX);
                next[from] = v->corners[i][(k + 2) % 3];
                start = from;
            }
    size_t steps = 0;
    double ring = 0, least[2] = {INFINITY, INFINITY}, most[2] = {-INFINITY, -INFINITY};
    uint32_t here = start;
    do {
        uint32_t one = next[here], two = next[one];
        assert_true(mst_orient2d(v->at[here], v->at[one], v->at[two]) >= 0);
        ring += twice_area(v->at[start], v->at[here], v->at[one]);
        for (int k = 0; k < 2; k++) {
            least[k] = fmin(least[k], v->at[here][k]);
            most[k] = fmax(most[k], v->at[here][k]);
        }
        here = one;
        steps++;
    } while (here != start && steps <= hull);
    assert_int_equal(steps, hull);
    double largest = (most[0] - least[0]) * (most[1] - least[1]); /* of the rounded products */
    assert_true(fabs(ring - area) <= 1e-12 * area + 1e-14 * largest);
    free(next);
}

static inline void check_triangles(const mst_triangulation *t) {
    view v = view_of(t);
    size_t hull = 0, used = 0;
    double area = 0;
    char *seen = calloc(v.vertices, 1);
    for (uint32_t i = 0; i < v.triangles; i++) {
        const uint32_t *c = v.corners[i];
        assert_true(c[0] < v.vertices && c[1] < v.vertices && c[2] < v.vertices);
        assert_true(mst_orient2d(v.at[c[0]], v.at[c[1]], v.at[c[2]]) > 0);
        area += twice_area(v.at[c[0]], v.at[c[1]], v.at[c[2]]);
        for (int k = 0; k < 3; k++) {
            seen[c[k]] = 1;
            if (v.beyond[i][k] == UINT32_MAX) hull++;
            else check_edge(t, &v, i, k);
        }
    }
    for (size_t i = 0; i < v.vertices; i++) used += (size_t)seen[i];
    assert_int_equal(v.triangles, 2 * used - 2 - hull);
    check_rim(&v, hull, area);
    free(seen);
}

/* Points at one place share a vertex, every other one has its own. */
static inline void check_points(const site *s, const mst_triangulation *t) {
    view v = view_of(t);
    char *used = calloc(v.vertices, 1);
    for (size_t i = 0; i < v.triangles; i++)
        for (int k = 0; k < 3; k++) used[v.corners[i][k]] = 1;
    for (uint32_t i = 0; i < s->point_count; i++) {
        uint32_t r = mst_triangulation_representative(t, i);
        assert_true(r <= i && used[r] && used[i] == (r == i));
        assert_true(memcmp(v.at[i], s->points[i], sizeof v.at[i]) == 0);
        assert_true(v.at[r][0] == s->points[i][0] && v.at[r][1] == s->points[i][1]);
    }
    free(used);
}

/* Where the fixed edges at each vertex lead. */
typedef struct fixed_ends {
    size_t *start;
    uint32_t *end;
} fixed_ends;
static inline fixed_ends fixed_ends_of(const mst_triangulation *t) {
    view v = view_of(t);
    fixed_ends f = {calloc(v.vertices + 2, sizeof *f.start), calloc(6 * v.triangles + 1, sizeof *f.end)};
    for (int pass = 0; pass < 2; pass++) {
        for (uint32_t i = 0; i < v.triangles; i++)
            for (int k = 0; k < 3; k++) {
                if (!mst_triangulation_edge_fixed(t, i, k)) continue;
                uint32_t a = v.corners[i][(k + 1) % 3], b = v.corners[i][(k + 2) % 3];
                if (pass == 0) f.start[a + 2]++, f.start[b + 2]++;
                else f.end[f.start[a + 1]++] = b, f.end[f.start[b + 1]++] = a;
            }
        if (pass == 0)
            for (size_t i = 2; i < v.vertices + 2; i++) f.start[i] += f.start[i - 1];
    }
    return f;
}

static inline bool beside(const double p[2], const double a[2], const double b[2], double off_m) {
    double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy);
    double along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length;
    double off = fabs((p[0] - a[0]) * dy - (p[1] - a[1]) * dx) / length;
    return off <= off_m && along >= -off_m && along <= length + off_m;
}

/* Fixed edges within off_m of each segment lead from its one end to the other. */
static inline void check_segments(const site *s, const mst_triangulation *t, double off_m) {
    view v = view_of(t);
    fixed_ends f = fixed_ends_of(t);
    uint32_t *seen = malloc(v.vertices * sizeof *seen), *queue = malloc(v.vertices * sizeof *queue);
    memset(seen, 0xFF, v.vertices * sizeof *seen);
    for (uint32_t i = 0; i < s->segment_count; i++) {
        uint32_t from = mst_triangulation_representative(t, s->segments[i][0]);
        uint32_t goal = mst_triangulation_representative(t, s->segments[i][1]);
        size_t count = 0;
        queue[count++] = from;
        seen[from] = i;
        for (size_t q = 0; q < count && seen[goal] != i; q++)
            for (size_t e = f.start[queue[q]]; e < f.start[queue[q] + 1]; e++) {
                uint32_t w = f.end[e];
                if (seen[w] == i || !beside(v.at[w], v.at[from], v.at[goal], off_m)) continue;
                seen[w] = i;
                queue[count++] = w;
            }
        assert_true(seen[goal] == i);
    }
    free(seen);
    free(queue);
    free(f.start);
    free(f.end);
}

static inline void check_crossings(const site *s, const mst_triangulation *t, double off_m) {
    view v = view_of(t);
    size_t count;
    const mst_crossing *c = mst_triangulation_crossings(t, &count);
    assert_int_equal(v.vertices, s->point_count + count);
    for (size_t i = 0; i < count; i++) {
        assert_true(c[i].vertex == s->point_count + i && c[i].segment_a < s->segment_count);
        const uint32_t segment[2] = {c[i].segment_a, c[i].segment_b};
        const double along[2] = {c[i].along_a, c[i].along_b};
        for (int k = 0; k < 2; k++) {
            const double *p = s->points[s->segments[segment[k]][0]], *q = s->points[s->segments[segment[k]][1]];
            for (int axis = 0; axis < 2; axis++)
                assert_true(fabs(p[axis] + along[k] * (q[axis] - p[axis]) - v.at[c[i].vertex][axis]) <= off_m);
        }
    }
}

static inline void check_built(const site *s, const mst_triangulation *t, double off_m) {
    check_triangles(t);
    check_points(s, t);
    check_segments(s, t, off_m);
    check_crossings(s, t, off_m);
}

static inline void check_all(const site *s, double off_m) {
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    mst_error error = {0};
    mst_status status = build(s, arena, &t, &error);
    if (status) print_message("%s\n", error.sentence);
    assert_int_equal(status, MST_OK);
    check_built(s, t, off_m);
    mst_arena_free(arena);
}

/* ---- seeded hard inputs ---- */

static inline void fill_hard(site *s, int kind) {
    double width = 1 + (double)below(40);
    for (size_t i = 0; i < s->point_count; i++) {
        double x = uniform(), y = uniform(), angle = 6.283185307179586 * (double)below(64) / 64;
        switch (kind) {
        case 0:
            break; /* loose */
        case 1:
            x = (double)below(8), y = (double)below(8);
            break; /* coarse grid, duplicates */
        case 2:
            x = floor((double)i / width), y = fmod((double)i, width);
            break; /* full grid */
        case 3:
            x = cos(angle), y = sin(angle);
            break; /* one circle, to rounding */
        case 4:
            x = (double)i, y = i % 7 ? 0 : 1;
            break; /* nearly a line */
        case 5:
            x = 0.1 * (double)below(30), y = 0.1 * (double)below(30);
            break; /* a decimal grid is not quite one */
        case 6:
            x = 0.5 + 0x1p-52 * (double)below(4), y = 0.5 + 0x1p-52 * (double)below(4);
            break; /* one ulp apart */
        case 7:
            x = 4521234 + x, y = 4987654 + 1e-9 * y;
            break; /* national grid, flat */
        case 8:
            x = below(20) ? x * 1e-6 : x * 1e9, y = below(20) ? y * 1e-6 : y * 1e9;
            break; /* a far base point */
        case 9:
            x = below(2) ? 3 * x : 1, y = below(9) ? x : y;
            break; /* on a slanting line and beside */
        case 10: { /* points of one integer circle, radius 65 */
            static const double LEGS[][2] = {{0, 65},  {16, 63}, {25, 60}, {33, 56}, {39, 52},
                                             {52, 39}, {56, 33}, {60, 25}, {63, 16}, {65, 0}};
            size_t leg = below(10);
            x = 452000 + (below(2) ? LEGS[leg][0] : -LEGS[leg][0]),
            y = 4987000 + (below(2) ? LEGS[leg][1] : -LEGS[leg][1]);
            break;
        }
        case 12: /* nests inside nests: each grid has all but a few points in one cell */
            x = ldexp(1 + x, -(int)(i % 160)), y = ldexp(1 + y, -(int)(i % 160));
            break;
        case 13: /* hundreds of points to a place */
            x = 0.1 * (double)below(3), y = 0.1 * (double)below(3);
            break;
        case 14: /* each point again, one unit in the last place off */
            if (i % 2) {
                memcpy(s->points[i], s->points[i - 1], sizeof s->points[i]);
                s->points[i][below(2)] *= below(2) ? 1 + 0x1p-52 : 1 - 0x1p-53;
                continue;
            }
            x = 452000 + x, y = 4987000 + y;
            break;
        case 15: /* a slanting line to rounding, some a unit in the last place beside */
            x = 1 + (double)i / 7, y = (x / 3 + 0.1) * (below(4) ? 1 : 1 + 0x1p-52);
            break;
        case 16: /* circles about one centre, far from the origin */
            x = 452000.3 + (1 + (double)below(3)) * cos(angle), y = 4987000.7 + (1 + (double)below(3)) * sin(angle);
            break;
        default:
            x = floor(x * 1000) / 8, y = floor(y * 1000) / 8;
            break; /* survey-like, in eighths */
        }
        s->points[i][0] = x, s->points[i][1] = y;
    }
}
enum { KINDS = 17 };
/* Kinds with points one unit in the last place apart: where breaklines cross between them doubles may have no room. */
static inline bool is_cramped(int kind) {
    return kind == 6 || kind == 7 || kind == 8 || kind == 12 || kind == 14 || kind == 15;
}
/* How far breaklines may be led off their line: 1e-7 m where there is room; up to 8,192 units in the last place else.
 */
static inline double off_line(int kind) { return kind == 8 ? 2e-3 : is_cramped(kind) ? 1e-5 : 1e-7; }

static inline bool on_one_line(const site *s) {
    size_t other = 0;
    for (size_t i = 0; i < s->point_count; i++)
        if (s->points[i][0] != s->points[0][0] || s->points[i][1] != s->points[0][1]) other = i;
    for (size_t i = 0; i < s->point_count; i++)
        if (mst_orient2d(s->points[0], s->points[other], s->points[i]) != 0) return false;
    return true;
}

/* ---- triangles by their places ---- */

typedef struct key {
    double x[6];
} key;
static inline int compare_keys(const void *a, const void *b) {
    const key *p = a, *q = b;
    for (int i = 0; i < 6; i++)
        if (p->x[i] != q->x[i]) return p->x[i] < q->x[i] ? -1 : 1;
    return 0;
}
/* Triangles by their places, from the westernmost corner on. */
static inline key *sorted_triangles(const mst_triangulation *t, size_t *count) {
    view v = view_of(t);
    key *keys = calloc(v.triangles, sizeof *keys);
    for (size_t i = 0; i < v.triangles; i++) {
        int first = 0;
        for (int k = 1; k < 3; k++)
            if (west_of(v.at[v.corners[i][k]], v.at[v.corners[i][first]])) first = k;
        for (int k = 0; k < 3; k++) memcpy(&keys[i].x[2 * k], v.at[v.corners[i][(first + k) % 3]], sizeof(double[2]));
    }
    qsort(keys, v.triangles, sizeof *keys, compare_keys);
    *count = v.triangles;
    return keys;
}

#endif
