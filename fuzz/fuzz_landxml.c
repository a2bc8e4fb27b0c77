/* mst_read_landxml, and the ground that is made of its faces. */
#include "fuzz_helper.h"
#include "merestone/exchange.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    mst_arena *arena = new_arena();
    mst_surface *surfaces = NULL;
    mst_error error = {0};
    size_t count = 0;
    mst_status status = mst_read_landxml((const char *)data, size, "fuzz.xml", arena, &surfaces, &count, &error);
    must_say_why(status, &error);
    for (size_t i = 0; !status && i < count; i++) {
        const mst_surface *s = &surfaces[i];
        MUST(s->name && is_utf8(s->name));
        mst_ground_point *points = mst_arena_array(arena, s->point_count, sizeof *points);
        MUST(points);
        for (size_t k = 0; k < s->point_count; k++) {
            MUST(isfinite(s->points[k][0]) && isfinite(s->points[k][1]) && isfinite(s->points[k][2]));
            points[k] = (mst_ground_point){s->points[k][0], s->points[k][1], s->points[k][2], UINT32_MAX};
        }
        for (size_t k = 0; k < s->face_count; k++)
            for (int c = 0; c < 3; c++) MUST(s->faces[k][c] < s->point_count);
        mst_ground *ground = NULL;
        mst_error why = {0};
        must_say_why(mst_ground_from_triangles(points, s->point_count, (const uint32_t(*)[3])s->faces, s->face_count,
                                               arena, &ground, &why),
                     &why);
    }
    mst_arena_free(arena);
    return 0;
}
