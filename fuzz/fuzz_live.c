/* mst_live_*: points and segments come and go; after every change there is a triangulation that holds the segments. */
#include "mesh_helper.h"

enum { CHANGES_MAX = 60 };
typedef struct world {
    mst_live *live;
    uint32_t lines[CHANGES_MAX][2];
    bool drawn[CHANGES_MAX];
    uint32_t points, line_count;
} world;

static void must_hold(const world *w) {
    mst_arena *arena = new_arena();
    mst_triangulation *t = NULL;
    mst_error error = {0};
    mst_status status = mst_live_triangles(w->live, arena, &t, &error);
    must_say_why(status, &error);
    MUST(status == MST_OK);
    is_triangulation(t, arena);
    mesh m = mesh_of(t);
    for (uint32_t i = 0; i < w->line_count; i++)
        if (w->drawn[i]) holds_segment(&m, t, w->lines[i][0], w->lines[i][1]);
    mst_arena_free(arena);
}

static void add_line(world *w, uint32_t from, uint32_t to, mst_error *error) {
    uint32_t line;
    mst_status status = mst_live_add_segment(w->live, from, to, &line, error);
    must_say_why(status, error);
    if (status) return;
    MUST(line == w->line_count);
    w->lines[line][0] = from, w->lines[line][1] = to;
    w->drawn[w->line_count++] = true;
}

static void change(world *w, bytes *b) {
    mst_error error = {0};
    uint8_t what = take(b) % 8;
    if (what < 3) {
        double at[2];
        uint32_t point = 0;
        for (int k = 0; k < 2; k++) at[k] = take_number(b);
        mst_status status = mst_live_add_point(w->live, at, &point, &error);
        must_say_why(status, &error);
        if (status == MST_OK) MUST(point == w->points++);
    } else if (what < 5) {
        must_say_why(mst_live_remove_point(w->live, take(b), &error), &error);
    } else if (what < 7) {
        uint32_t from = take(b);
        add_line(w, from, take(b), &error);
    } else {
        uint32_t line = take(b);
        mst_status status = mst_live_remove_segment(w->live, line, &error);
        must_say_why(status, &error);
        if (status == MST_OK) w->drawn[line] = false;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    double points[8][2];
    world w = {.points = 3 + take(&b) % 6};
    for (uint32_t i = 0; i < w.points; i++)
        for (int k = 0; k < 2; k++) points[i][k] = take_number(&b);
    mst_triangulation_input input = {.points = (const double(*)[2])points, .point_count = w.points};
    mst_arena *arena = new_arena();
    mst_error error = {0};
    mst_status status = mst_live_begin(&input, arena, &w.live, &error);
    must_say_why(status, &error);
    for (int i = 0; status == MST_OK && left(&b) && i < CHANGES_MAX; i++) {
        change(&w, &b);
        must_hold(&w);
    }
    mst_arena_free(arena);
    return 0;
}
