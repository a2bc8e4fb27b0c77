/* What must hold of any constrained Delaunay triangulation, checked by exact predicates on hard inputs:
 * - tests/data/delaunay-hard-points (ISC licence, see SOURCE.md there): point sets that broke triangulators;
 * - shared constrained-triangulation-cases-a (MPL-2.0, read where it is): lines that cross, touch, hang and overlap;
 * - seeded grids, lines, circles and near duplicates.
 * Euler's formula, orientation, empty circles: triangulation_checks.h. */
#include "triangulation_checks.h"

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

/* MERESTONE_SETS asks for more than the 1,200 of an ordinary run: ./dev bench ground takes 100,000 of either kind. */
static int rounds(void) {
    const char *asked = getenv("MERESTONE_SETS");
    return asked && atoi(asked) > 0 ? atoi(asked) : 1200;
}

static void hard_points(void **state) {
    (void)state;
    for (int round = 0, all = rounds(); round < all; round++) {
        seed = (uint64_t)round * 7919 + 1;
        site s = new_site(3 + below(round % 10 == 0 ? 2000 : 60), 0);
        fill_hard(&s, round % KINDS);
        if (!on_one_line(&s)) check_all(&s, 0);
        free_site(&s);
    }
}

static void hard_segments(void **state) {
    (void)state;
    int refused = 0, all = rounds();
    for (int round = 0; round < all; round++) {
        seed = (uint64_t)round * 104729 + 5;
        int kind = round % KINDS;
        if (kind == 6) continue; /* no room for a crossing at all: see below */
        site s = new_site(3 + below(round % 10 == 0 ? 800 : 40), 1 + below(30));
        fill_hard(&s, kind);
        for (size_t i = 0; i < s.segment_count; i++)
            for (int k = 0; k < 2; k++) s.segments[i][k] = (uint32_t)below(s.point_count);
        mst_arena *arena = mst_arena_new();
        mst_triangulation *t;
        mst_error error = {0};
        mst_status status = build(&s, arena, &t, &error);
        if (status == MST_INVALID && is_cramped(kind)) refused++;
        else if (!on_one_line(&s)) {
            assert_int_equal(status, MST_OK);
            check_built(&s, t, off_line(kind));
        }
        mst_arena_free(arena);
        free_site(&s);
    }
    if (refused) print_message("%d of %d sets refused: crossings without room\n", refused, all);
    assert_true(refused <= all / 500);
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
