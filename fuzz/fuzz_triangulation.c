/* mst_triangulation_build: whatever goes in, what comes out is a triangulation of the hull that holds the segments. */
#include "mesh_helper.h"

enum { POINTS_MAX = 60, SEGMENTS_MAX = 40 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    double points[POINTS_MAX][2];
    uint32_t segments[SEGMENTS_MAX][2];
    mst_triangulation_input input = {.points = (const double(*)[2])points, .segments = (const uint32_t(*)[2])segments};
    input.point_count = take(&b) % POINTS_MAX;
    input.segment_count = take(&b) % SEGMENTS_MAX;
    input.threads = take(&b) % 3;
    for (size_t i = 0; i < input.segment_count; i++)
        for (int k = 0; k < 2; k++) segments[i][k] = take(&b) % (uint32_t)(input.point_count + 1);
    for (size_t i = 0; i < input.point_count; i++)
        for (int k = 0; k < 2; k++) points[i][k] = take_number(&b);
    mst_arena *arena = new_arena();
    mst_triangulation *t = NULL;
    mst_error error = {0};
    mst_status status = mst_triangulation_build(&input, arena, &t, &error);
    must_say_why(status, &error);
    if (status == MST_OK) {
        mesh m = mesh_of(t);
        MUST(m.triangles > 0 && m.count >= input.point_count);
        is_triangulation(t, arena);
        for (size_t i = 0; i < input.segment_count; i++) holds_segment(&m, t, segments[i][0], segments[i][1]);
    }
    mst_arena_free(arena);
    return 0;
}
