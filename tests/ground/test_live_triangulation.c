/* Points and breaklines that come and go: after every change the triangulation must be valid by exact predicates, hold
 * the segments that are there, and be the one that is built anew of them. */
#include "triangulation_checks.h"

enum { PLACES = 400, LINES = 200 };
typedef struct world {
    mst_arena *arena;
    mst_live *live;
    double at[PLACES][2];
    uint32_t line[LINES][2];
    bool there[PLACES], drawn[LINES];
    uint32_t point_count, line_count;
    double off_m;
    bool crossed; /* some lines have crossed: where they went may depend on rounding */
} world;

/* What is there now, with the numbers of the world's points, or closed up. */
static site now_of(const world *w, bool closed_up) {
    site s = new_site(w->point_count, w->line_count);
    uint32_t number[PLACES] = {0}, points = 0, lines = 0;
    for (uint32_t i = 0; i < w->point_count; i++) {
        if (closed_up && !w->there[i]) continue;
        number[i] = points;
        memcpy(s.points[points++], w->at[i], sizeof w->at[i]);
    }
    for (uint32_t i = 0; i < w->line_count; i++)
        if (w->drawn[i]) {
            for (int k = 0; k < 2; k++) s.segments[lines][k] = number[w->line[i][k]];
            lines++;
        }
    s.point_count = points, s.segment_count = lines;
    return s;
}

static void check_representatives(const world *w, const mst_triangulation *t) {
    view v = view_of(t);
    char *used = calloc(v.vertices, 1);
    for (size_t i = 0; i < v.triangles; i++)
        for (int k = 0; k < 3; k++) used[v.corners[i][k]] = 1;
    for (uint32_t i = 0; i < w->point_count; i++) {
        uint32_t r = mst_triangulation_representative(t, i);
        if (!w->there[i]) {
            assert_int_equal(r, UINT32_MAX);
            assert_false(used[i]);
            continue;
        }
        assert_true(r <= i && w->there[r] && used[r] && used[i] == (r == i));
        assert_true(w->at[r][0] == w->at[i][0] && w->at[r][1] == w->at[i][1]);
        for (uint32_t j = 0; j < i; j++)
            if (w->there[j] && w->at[j][0] == w->at[i][0] && w->at[j][1] == w->at[i][1]) assert_true(r <= j);
    }
    free(used);
}

static int compared;
static void check_against_new(const world *w, const mst_triangulation *t, mst_arena *arena) {
    site s = now_of(w, true);
    mst_triangulation *anew;
    size_t crossings, others, count, other_count;
    mst_triangulation_crossings(t, &crossings);
    if (build(&s, arena, &anew, NULL) == MST_OK) {
        mst_triangulation_crossings(anew, &others);
        assert_true(w->crossed || crossings + others == 0);
        if (!w->crossed) {
            key *one = sorted_triangles(t, &count), *two = sorted_triangles(anew, &other_count);
            assert_int_equal(count, other_count);
            assert_memory_equal(one, two, count * sizeof *one);
            free(one);
            free(two);
            compared++;
        }
    }
    free_site(&s);
}

static void check_world(const world *w) {
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    mst_error error = {0};
    mst_status status = mst_live_triangles(w->live, arena, &t, &error);
    if (status) print_message("%s\n", error.sentence);
    assert_int_equal(status, MST_OK);
    check_triangles(t);
    check_representatives(w, t);
    site s = now_of(w, false);
    check_segments(&s, t, w->off_m);
    size_t count;
    const mst_crossing *c = mst_triangulation_crossings(t, &count);
    for (size_t i = 0; i < count; i++) {
        assert_true(w->drawn[c[i].segment_a] && w->drawn[c[i].segment_b]);
        assert_true(c[i].along_a >= 0 && c[i].along_a <= 1 && c[i].along_b >= 0 && c[i].along_b <= 1);
        assert_int_equal(c[i].vertex, w->point_count + i);
    }
    free_site(&s);
    check_against_new(w, t, arena);
    mst_arena_free(arena);
}

/* ---- changes ---- */

static uint32_t any_point(const world *w) {
    for (;;) {
        uint32_t i = (uint32_t)below(w->point_count);
        if (w->there[i]) return i;
    }
}

static void add_point(world *w, const double at[2]) {
    uint32_t number = 0;
    assert_int_equal(mst_live_add_point(w->live, at, &number, NULL), MST_OK);
    assert_int_equal(number, w->point_count);
    memcpy(w->at[number], at, sizeof w->at[number]);
    w->there[number] = true;
    w->point_count++;
}

/* Whether all others lie on one line, or at fewer than three places. */
static mst_status left_without(const world *w, uint32_t point) {
    site s = new_site(w->point_count, 0);
    size_t count = 0;
    for (uint32_t i = 0; i < w->point_count; i++)
        if (w->there[i] && i != point) memcpy(s.points[count++], w->at[i], sizeof w->at[i]);
    s.point_count = count;
    mst_status expected = MST_OK;
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t;
    expected = build(&s, arena, &t, NULL);
    mst_arena_free(arena);
    free_site(&s);
    return expected;
}

static void remove_point(world *w) {
    uint32_t point = any_point(w);
    bool ends = false;
    for (uint32_t i = 0; i < w->line_count; i++)
        ends |= w->drawn[i] && (w->line[i][0] == point || w->line[i][1] == point);
    mst_error error = {0};
    mst_status status = mst_live_remove_point(w->live, point, &error), expected = left_without(w, point);
    assert_int_equal(status, ends ? MST_INVALID : expected);
    if (status) assert_true(strlen(error.sentence) > 20);
    w->there[point] = status != MST_OK;
}

static bool cross(const double a[2], const double b[2], const double c[2], const double d[2]) {
    double p = mst_orient2d(a, b, c), q = mst_orient2d(a, b, d), r = mst_orient2d(c, d, a), s = mst_orient2d(c, d, b);
    return ((p > 0 && q < 0) || (p < 0 && q > 0)) && ((r > 0 && s < 0) || (r < 0 && s > 0));
}
static bool crosses_any(const world *w, uint32_t from, uint32_t to) {
    bool any = false;
    for (uint32_t i = 0; i < w->line_count; i++)
        any |= w->drawn[i] && cross(w->at[from], w->at[to], w->at[w->line[i][0]], w->at[w->line[i][1]]);
    return any;
}

static int refused_lines;
static void add_line(world *w) {
    uint32_t from = any_point(w), to = any_point(w), number = 0;
    mst_error error = {0};
    w->crossed |= crosses_any(w, from, to);
    mst_status status = mst_live_add_segment(w->live, from, to, &number, &error);
    if (status) {
        assert_int_equal(status, MST_INVALID);
        assert_true(strlen(error.sentence) > 20);
        refused_lines++;
        return;
    }
    assert_int_equal(number, w->line_count);
    w->line[number][0] = from, w->line[number][1] = to;
    w->drawn[number] = true;
    w->line_count++;
}

static void remove_line(world *w) {
    if (w->line_count == 0) return;
    uint32_t number = (uint32_t)below(w->line_count);
    assert_int_equal(mst_live_remove_segment(w->live, number, NULL), w->drawn[number] ? MST_OK : MST_NOT_FOUND);
    w->drawn[number] = false;
}

static void change(world *w, const site *pool, size_t next, bool lines) {
    size_t dice = below(lines ? 8 : 5);
    if (dice < 3 && w->point_count < PLACES) add_point(w, pool->points[next]);
    else if (dice < 5) remove_point(w);
    else if (dice < 7 && w->line_count < LINES) add_line(w);
    else remove_line(w);
}

static void run(int round, int kind, bool lines, int steps) {
    seed = (uint64_t)round * 86028121 + 13;
    world w = {.arena = mst_arena_new(), .off_m = off_line(kind)};
    site pool = new_site(3 + below(40) + (size_t)steps, 0);
    fill_hard(&pool, kind);
    site start = {pool.points, NULL, pool.point_count - (size_t)steps, 0};
    if (!on_one_line(&start)) {
        const mst_triangulation_input input = {.points = (const double(*)[2])start.points,
                                               .point_count = start.point_count};
        mst_status status = mst_live_begin(&input, w.arena, &w.live, NULL);
        assert_int_equal(status, MST_OK);
        w.point_count = (uint32_t)start.point_count;
        for (uint32_t i = 0; i < w.point_count; i++) {
            memcpy(w.at[i], pool.points[i], sizeof w.at[i]);
            w.there[i] = true;
        }
        check_world(&w);
        for (int i = 0; i < steps; i++) {
            change(&w, &pool, start.point_count + (size_t)i, lines);
            check_world(&w);
        }
    }
    mst_arena_free(w.arena);
    free_site(&pool);
}

/* MERESTONE_SETS asks for more rounds. */
static int rounds(void) {
    const char *asked = getenv("MERESTONE_SETS");
    return asked && atoi(asked) > 0 ? atoi(asked) / 100 : 10;
}

static void points_come_and_go(void **state) {
    (void)state;
    for (int round = 0, all = KINDS * rounds(); round < all; round++) run(round, round % KINDS, false, 40);
    assert_true(compared > 1000);
}
static void breaklines_come_and_go(void **state) {
    (void)state;
    for (int round = 0, all = KINDS * rounds(); round < all; round++) run(round, round % KINDS, true, 60);
}

/* ---- by hand ---- */

static mst_live *begin(const double (*points)[2], size_t count, mst_arena *arena) {
    const mst_triangulation_input input = {.points = points, .point_count = count};
    mst_live *live = NULL;
    assert_int_equal(mst_live_begin(&input, arena, &live, NULL), MST_OK);
    return live;
}
static size_t triangles_of(const mst_live *live, mst_arena *arena, size_t *crossings) {
    mst_triangulation *t;
    size_t count;
    assert_int_equal(mst_live_triangles(live, arena, &t, NULL), MST_OK);
    mst_triangulation_crossings(t, crossings);
    mst_triangulation_corners(t, &count);
    return count;
}

static void a_cross_comes_and_goes(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double points[4][2] = {{0, 0}, {4, 0}, {4, 4}, {0, 4}}, middle[2] = {2, 2};
    mst_live *live = begin(points, 4, arena);
    uint32_t a, b, m;
    size_t crossings;
    assert_int_equal(mst_live_add_segment(live, 0, 2, &a, NULL), MST_OK);
    assert_int_equal(triangles_of(live, arena, &crossings), 2);
    assert_int_equal(mst_live_add_segment(live, 1, 3, &b, NULL), MST_OK);
    assert_int_equal(triangles_of(live, arena, &crossings), 4);
    assert_int_equal(crossings, 1);
    /* a point on the crossing takes it, and gives it back */
    assert_int_equal(mst_live_add_point(live, middle, &m, NULL), MST_OK);
    assert_int_equal(triangles_of(live, arena, &crossings), 4);
    assert_int_equal(crossings, 0);
    assert_int_equal(mst_live_remove_point(live, m, NULL), MST_OK);
    assert_int_equal(triangles_of(live, arena, &crossings), 4);
    assert_int_equal(crossings, 1);
    assert_int_equal(mst_live_remove_segment(live, a, NULL), MST_OK);
    assert_int_equal(triangles_of(live, arena, &crossings), 2);
    assert_int_equal(crossings, 0);
    mst_arena_free(arena);
}

static void what_cannot_be_is_refused(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    const double points[4][2] = {{0, 0}, {1, 0}, {2, 0}, {1, 1}}, bad[2] = {0, NAN};
    mst_live *live = begin(points, 4, arena);
    mst_error error;
    size_t crossings;
    assert_int_equal(mst_live_remove_point(live, 3, &error), MST_UNDETERMINED);
    assert_int_equal(mst_live_remove_point(live, 4, &error), MST_NOT_FOUND);
    assert_int_equal(mst_live_add_point(live, bad, NULL, &error), MST_INVALID);
    assert_int_equal(mst_live_add_segment(live, 0, 9, NULL, &error), MST_NOT_FOUND);
    assert_int_equal(mst_live_remove_segment(live, 0, &error), MST_NOT_FOUND);
    assert_int_equal(mst_live_add_segment(live, 0, 2, NULL, &error), MST_OK);
    assert_int_equal(mst_live_remove_point(live, 2, &error), MST_INVALID);
    assert_string_equal(error.sentence, "Breakline segment 1 ends at point 3; take the segment out first.");
    assert_int_equal(mst_live_remove_point(live, 1, &error), MST_OK); /* the segment only passes there */
    assert_int_equal(mst_live_remove_point(live, 3, &error), MST_TOO_FEW);
    assert_int_equal(triangles_of(live, arena, &crossings), 1);
    mst_triangulation_input line = {.points = points, .point_count = 3};
    live = NULL;
    assert_int_equal(mst_live_begin(&line, arena, &live, &error), MST_UNDETERMINED);
    assert_null(live);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_cross_comes_and_goes),
                                       cmocka_unit_test(what_cannot_be_is_refused),
                                       cmocka_unit_test(points_come_and_go), cmocka_unit_test(breaklines_come_and_go)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
