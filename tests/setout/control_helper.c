/* Included by the tests of setting out and handing over: an adjustment made by hand, as if the survey had been adjusted. */
#include "merestone/survey.h"
#include <assert.h>
#include <math.h>
#include <string.h>

typedef struct known { const char *name, *code; double e, n, z, sd; bool held; } known;

static inline mst_adjustment *control_of(const known *points, size_t count, mst_arena *arena) {
    mst_adjustment *a = mst_arena_alloc(arena, sizeof *a);
    assert(a);
    *a = (mst_adjustment){.points = mst_arena_array(arena, count, sizeof *a->points), .point_count = count, .sigma0 = 1, .scale = 1,
                          .datum = "by hand"};
    for (size_t i = 0; i < count; i++) {
        const known *k = &points[i];
        a->points[i] = (mst_adjusted_point){.name = k->name, .code = k->code ? k->code : "", .easting_m = k->e, .northing_m = k->n,
                                            .elevation_m = k->z, .sd_easting_m = k->sd, .sd_northing_m = k->sd, .sd_elevation_m = k->sd,
                                            .semi_major_m = k->sd, .semi_minor_m = k->sd, .has_plan = !isnan(k->e),
                                            .has_height = !isnan(k->z), .held_plan = k->held, .held_height = k->held && !isnan(k->z),
                                            .readings = 3, .page = "points.csv", .row = (int)i + 2};
        bool put = mst_index_put(&a->index, arena, k->name, (uint32_t)i);
        assert(put);
        (void)put;
    }
    return a;
}
