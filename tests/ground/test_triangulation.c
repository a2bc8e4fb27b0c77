/* What must hold of any constrained Delaunay triangulation, checked by exact predicates on hard inputs:
 * - tests/data/delaunay-hard-points (ISC licence, see SOURCE.md there): point sets that broke triangulators;
 * - shared constrained-triangulation-cases-a (MPL-2.0, read where it is): lines that cross, touch, hang and overlap;
 * - seeded grids, lines, circles and near duplicates.
 * Euler's formula for a triangulated disc: triangles = 2 vertices - 2 - hull edges (de Berg et al., Computational
 * Geometry, 3rd edition, theorem 9.1). Empty circles: same book, theorem 9.9. */
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
static uint64_t next_random(void) {
    seed ^= seed << 13;
    seed ^= seed >> 7;
    return seed ^= seed << 17;
}
static double uniform(void) { return (double)(next_random() >> 11) * 0x1p-53; }
static size_t below(size_t limit) { return (size_t)(next_random() % limit); }

static site new_site(size_t points, size_t segments) {
    site s = {calloc(points + 1, sizeof *s.points), calloc(segments + 1, sizeof *s.segments), points, segments};
    assert_non_null(s.points);
    assert_non_null(s.segments);
    return s;
}
static void free_site(site *s) {
    free(s->points);
    free(s->segments);
}
static int threads = 1;
static mst_status build(const site *s, mst_arena *arena, mst_triangulation **t, mst_error *error) {
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
static view view_of(const mst_triangulation *t) {
    view v;
    v.at = mst_triangulation_vertices(t, &v.vertices);
    v.corners = mst_triangulation_corners(t, &v.triangles);
    v.beyond = mst_triangulation_neighbours(t);
    return v;
}
static int corner_of(const uint32_t corners[3], uint32_t vertex) {
    for (int k = 0; k < 3; k++)
        if (corners[k] == vertex) return k;
    return -1;
}
static bool west_of(const double p[2], const double q[2]) { return p[0] != q[0] ? p[0] < q[0] : p[1] < q[1]; }

/* The edge of triangle t opposite to k, seen from both sides. */
static void check_edge(const mst_triangulation *t, const view *v, uint32_t i, int k) {
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

static double twice_area(const double a[2], const double b[2], const double c[2]) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

/* The rim is one ring that never turns right and holds the area of all triangles. */
static void check_rim(const view *v, size_t hull, double area) {
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

static void check_triangles(const mst_triangulation *t) {
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
static void check_points(const site *s, const mst_triangulation *t) {
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
static fixed_ends fixed_ends_of(const mst_triangulation *t) {
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

static bool beside(const double p[2], const double a[2], const double b[2], double off_m) {
    double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy);
    double along = ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length;
    double off = fabs((p[0] - a[0]) * dy - (p[1] - a[1]) * dx) / length;
    return off <= off_m && along >= -off_m && along <= length + off_m;
}

/* Fixed edges within off_m of each segment lead from its one end to the other. */
static void check_segments(const site *s, const mst_triangulation *t, double off_m) {
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

static void check_crossings(const site *s, const mst_triangulation *t, double off_m) {
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

static void check_all(const site *s, double off_m) {
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    mst_error error = {0};
    mst_status status = build(s, arena, &t, &error);
    if (status) print_message("%s\n", error.sentence);
    assert_int_equal(status, MST_OK);
    check_triangles(t);
    check_points(s, t);
    check_segments(s, t, off_m);
    check_crossings(s, t, off_m);
    mst_arena_free(arena);
}

/* ---- published hard cases ---- */

static site read_points(const char *name, double factor) {
    char path[300], line[200];
    snprintf(path, sizeof path, TEST_DATA "/delaunay-hard-points/%s.csv", name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    site s = new_site(2000, 0);
    s.point_count = 0;
    while (fgets(line, sizeof line, file)) {
        double x, y;
        if (sscanf(line, "%lf,%lf", &x, &y) != 2) continue;
        s.points[s.point_count][0] = x * factor;
        s.points[s.point_count++][1] = y * factor;
    }
    fclose(file);
    return s;
}

static void published_hard_points(void **state) {
    (void)state;
    static const char *const NAMES[] = {"issue13",     "issue43",     "r_grid",      "r_issue24js",
                                        "r_issue43js", "robustness1", "robustness2", "ukraine"};
    static const double FACTORS[] = {1, 1e-9, 1e-2, 1e2, 1e9}; /* asked for by SOURCE.md */
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++)
        for (size_t k = 0; k < sizeof FACTORS / sizeof *FACTORS; k++) {
            site s = read_points(NAMES[i], FACTORS[k]);
            assert_true(s.point_count >= 3);
            check_all(&s, 0);
            free_site(&s);
        }
}

static void published_breaklines(void **state) {
    (void)state;
    static const char *const NAMES[] = {"Constrained_Sweden",
                                        "HangingIntersection",
                                        "corner_cases",
                                        "ditch",
                                        "dont_flip_constraint_when_resolving_intersection",
                                        "double-hanging",
                                        "island",
                                        "issue-42-hole-overlaps-bondary",
                                        "issue-65-wrong-edges",
                                        "kidney",
                                        "overlapping_constraints",
                                        "points_on_constraint_edge",
                                        "regression_issue_38_wrong_hull_small",
                                        "triple-hanging-flipped",
                                        "unit_square"};
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) {
        char path[300];
        snprintf(path, sizeof path, SHARED_DATA "/constrained-triangulation-cases-a/%s.txt", NAMES[i]);
        FILE *file = fopen(path, "r");
        if (!file) skip();
        size_t points, segments;
        assert_int_equal(fscanf(file, "%zu %zu", &points, &segments), 2);
        site s = new_site(points, segments);
        for (size_t k = 0; k < points; k++)
            assert_int_equal(fscanf(file, "%lf %lf", &s.points[k][0], &s.points[k][1]), 2);
        for (size_t k = 0; k < segments; k++)
            assert_int_equal(fscanf(file, "%u %u", &s.segments[k][0], &s.segments[k][1]), 2);
        fclose(file);
        check_all(&s, 1e-9);
        free_site(&s);
    }
}

/* ---- seeded hard inputs ---- */

static void fill_hard(site *s, int kind) {
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
        default:
            x = floor(x * 1000) / 8, y = floor(y * 1000) / 8;
            break; /* survey-like, in eighths */
        }
        s->points[i][0] = x, s->points[i][1] = y;
    }
}
enum { KINDS = 14 };

static bool on_one_line(const site *s) {
    size_t other = 0;
    for (size_t i = 0; i < s->point_count; i++)
        if (s->points[i][0] != s->points[0][0] || s->points[i][1] != s->points[0][1]) other = i;
    for (size_t i = 0; i < s->point_count; i++)
        if (mst_orient2d(s->points[0], s->points[other], s->points[i]) != 0) return false;
    return true;
}

static void hard_points(void **state) {
    (void)state;
    for (int round = 0; round < 1200; round++) {
        seed = (uint64_t)round * 7919 + 1;
        site s = new_site(3 + below(round % 10 == 0 ? 2000 : 60), 0);
        fill_hard(&s, round % KINDS);
        if (!on_one_line(&s)) check_all(&s, 0);
        free_site(&s);
    }
}

static void hard_segments(void **state) {
    (void)state;
    for (int round = 0; round < 1200; round++) {
        seed = (uint64_t)round * 104729 + 5;
        int kind = round % KINDS;
        if (kind == 6) continue; /* no room for a crossing between points one ulp apart: see below */
        site s = new_site(3 + below(round % 10 == 0 ? 800 : 40), 1 + below(30));
        fill_hard(&s, kind);
        for (size_t i = 0; i < s.segment_count; i++)
            for (int k = 0; k < 2; k++) s.segments[i][k] = (uint32_t)below(s.point_count);
        if (!on_one_line(&s)) check_all(&s, kind == 8 ? 1e-5 : 1e-7);
        free_site(&s);
    }
}

/* Crossings between points one unit in the last place apart: solved or refused with a sentence, never wrong. */
static void crossings_without_room(void **state) {
    (void)state;
    int refused = 0;
    for (int round = 0; round < 300; round++) {
        seed = (uint64_t)round * 15485863 + 3;
        site s = new_site(4 + below(12), 1 + below(6));
        fill_hard(&s, 6);
        for (size_t i = 0; i < s.segment_count; i++)
            for (int k = 0; k < 2; k++) s.segments[i][k] = (uint32_t)below(s.point_count);
        mst_arena *arena = mst_arena_new();
        mst_triangulation *t;
        mst_error error = {0};
        if (!on_one_line(&s)) {
            mst_status status = build(&s, arena, &t, &error);
            if (status == MST_OK) check_triangles(t), check_points(&s, t);
            else {
                assert_int_equal(status, MST_INVALID);
                assert_true(strlen(error.sentence) > 20);
                refused++;
            }
        }
        mst_arena_free(arena);
        free_site(&s);
    }
    assert_true(refused < 300);
}

/* ---- the order of the input does not matter ---- */

typedef struct key {
    double x[6];
} key;
static int compare_keys(const void *a, const void *b) {
    const key *p = a, *q = b;
    for (int i = 0; i < 6; i++)
        if (p->x[i] != q->x[i]) return p->x[i] < q->x[i] ? -1 : 1;
    return 0;
}
/* Triangles by their places, from the westernmost corner on. */
static key *sorted_triangles(const mst_triangulation *t, size_t *count) {
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

static void any_order_gives_the_same_triangles(void **state) {
    (void)state;
    for (int round = 0; round < 240; round++) {
        seed = (uint64_t)round * 1299709 + 11;
        site s = new_site(3 + below(round % 20 == 0 ? 3000 : 100), 0);
        fill_hard(&s, round % KINDS);
        if (!on_one_line(&s)) {
            mst_arena *arena = mst_arena_new();
            mst_triangulation *t, *u;
            assert_int_equal(build(&s, arena, &t, NULL), MST_OK);
            for (size_t i = s.point_count - 1; i > 0; i--) {
                size_t j = below(i + 1);
                double p[2];
                memcpy(p, s.points[i], sizeof p);
                memcpy(s.points[i], s.points[j], sizeof p);
                memcpy(s.points[j], p, sizeof p);
            }
            assert_int_equal(build(&s, arena, &u, NULL), MST_OK);
            size_t t_count, u_count;
            key *first = sorted_triangles(t, &t_count), *second = sorted_triangles(u, &u_count);
            assert_int_equal(t_count, u_count);
            assert_memory_equal(first, second, t_count * sizeof *first);
            free(first);
            free(second);
            mst_arena_free(arena);
        }
        free_site(&s);
    }
}

/* Enough points for several stretches and chunks; the arrays must agree to the last bit. */
static void every_thread_count_gives_the_same_bits(void **state) {
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        seed = (uint64_t)kind * 32452843 + 17;
        site s = new_site(70000, kind == 0 ? 300 : 0);
        fill_hard(&s, kind);
        for (size_t i = 0; i < s.segment_count; i++) s.segments[i][0] = (uint32_t)i, s.segments[i][1] = (uint32_t)i + 1;
        mst_arena *arena = mst_arena_new();
        mst_triangulation *one, *many;
        threads = 1;
        assert_int_equal(build(&s, arena, &one, NULL), MST_OK);
        view v = view_of(one);
        for (threads = 2; threads <= 70; threads = threads * 3 - 1) {
            assert_int_equal(build(&s, arena, &many, NULL), MST_OK);
            view w = view_of(many);
            assert_int_equal(v.triangles, w.triangles);
            assert_int_equal(v.vertices, w.vertices);
            assert_memory_equal(v.corners, w.corners, v.triangles * sizeof *v.corners);
            assert_memory_equal(v.beyond, w.beyond, v.triangles * sizeof *v.beyond);
            assert_memory_equal(v.at, w.at, v.vertices * sizeof *v.at);
            for (uint32_t i = 0; i < s.point_count; i++)
                assert_int_equal(mst_triangulation_representative(one, i), mst_triangulation_representative(many, i));
        }
        threads = 1;
        check_triangles(one);
        check_points(&s, one);
        mst_arena_free(arena);
        free_site(&s);
    }
}

/* ---- small cases by hand ---- */

static void a_cross_in_a_square(void **state) {
    (void)state;
    double points[4][2] = {{0, 0}, {4, 0}, {4, 4}, {0, 4}};
    uint32_t segments[3][2] = {{0, 2}, {3, 1}, {2, 2}};
    site s = {points, segments, 4, 3};
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    assert_int_equal(build(&s, arena, &t, NULL), MST_OK);
    view v = view_of(t);
    size_t count;
    const mst_crossing *c = mst_triangulation_crossings(t, &count);
    assert_int_equal(v.triangles, 4);
    assert_int_equal(count, 1);
    assert_true(c->vertex == 4 && c->segment_a == 0 && c->segment_b == 1 && c->along_a == 0.5 && c->along_b == 0.5);
    assert_true(v.at[4][0] == 2 && v.at[4][1] == 2);
    check_all(&s, 0);
    mst_arena_free(arena);
}

static void duplicates_stand_behind_the_first(void **state) {
    (void)state;
    double points[5][2] = {{1, 1}, {0, 0}, {1, 1}, {1, 0}, {-0.0, 0.0}};
    site s = {points, NULL, 5, 0};
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    assert_int_equal(build(&s, arena, &t, NULL), MST_OK);
    assert_int_equal(mst_triangulation_representative(t, 2), 0);
    assert_int_equal(mst_triangulation_representative(t, 4), 1);
    assert_int_equal(mst_triangulation_representative(t, 3), 3);
    assert_int_equal(view_of(t).triangles, 1);
    mst_arena_free(arena);
}

static void refused(double (*points)[2], size_t count, uint32_t (*segments)[2], size_t segment_count,
                    mst_status expected) {
    site s = {points, segments, count, segment_count};
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t = NULL;
    mst_error error = {0};
    assert_int_equal(build(&s, arena, &t, &error), expected);
    assert_null(t);
    assert_true(strlen(error.sentence) > 20);
    mst_arena_free(arena);
}

static void bad_input_is_refused(void **state) {
    (void)state;
    double line[50][2], places[4][2] = {{1, 2}, {3, 4}, {1, 2}, {3, 4}},
                        square[4][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
    for (int i = 0; i < 50; i++) line[i][0] = line[i][1] = (i * 7) % 50;
    refused(line, 50, NULL, 0, MST_UNDETERMINED);
    refused(line, 0, NULL, 0, MST_TOO_FEW);
    refused(line, 2, NULL, 0, MST_TOO_FEW);
    refused(places, 4, NULL, 0, MST_TOO_FEW);
    uint32_t along[1][2] = {{0, 49}}, unknown[1][2] = {{0, 4}};
    refused(line, 50, along, 1, MST_UNDETERMINED);
    refused(square, 4, unknown, 1, MST_INVALID);
    static const double BAD[] = {NAN, INFINITY, -INFINITY, 1e80, 1e-80};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        for (int k = 0; k < 2; k++) {
            double spoilt[4][2];
            memcpy(spoilt, square, sizeof spoilt);
            spoilt[2][k] = BAD[i];
            refused(spoilt, 4, NULL, 0, MST_INVALID);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_cross_in_a_square),
                                       cmocka_unit_test(duplicates_stand_behind_the_first),
                                       cmocka_unit_test(bad_input_is_refused),
                                       cmocka_unit_test(published_hard_points),
                                       cmocka_unit_test(hard_points),
                                       cmocka_unit_test(any_order_gives_the_same_triangles),
                                       cmocka_unit_test(every_thread_count_gives_the_same_bits),
                                       cmocka_unit_test(published_breaklines),
                                       cmocka_unit_test(hard_segments),
                                       cmocka_unit_test(crossings_without_room)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
