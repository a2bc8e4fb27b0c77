/* Small grounds for tests. */
#ifndef TESTS_GROUND_TEST_H
#define TESTS_GROUND_TEST_H
#include "geometry/near.h"
#include "merestone/ground.h"
#include <stdlib.h>

static inline mst_ground *ground_of(const mst_ground_input *input, mst_arena *arena) {
    mst_error error = {0};
    mst_ground *ground = NULL;
    IS_OK(mst_ground_build(input, arena, &ground, &error));
    return ground;
}

/* Points e, n, z with sources 0, 1, 2 ... */
static inline mst_ground *ground_of_points(const double at[][3], size_t count, mst_arena *arena) {
    mst_ground_point *p = mst_arena_array(arena, count, sizeof *p);
    for (size_t i = 0; i < count; i++) p[i] = (mst_ground_point){at[i][0], at[i][1], at[i][2], (uint32_t)i};
    return ground_of(&(mst_ground_input){.points = p, .point_count = count}, arena);
}

static inline mst_shape rectangle(double w, double s, double e, double n, mst_arena *arena) {
    mst_path *path = mst_arena_alloc(arena, sizeof *path);
    mst_path_vertex *v = mst_arena_array(arena, 4, sizeof *v);
    v[0] = (mst_path_vertex){w, s, NAN, 0}, v[1] = (mst_path_vertex){e, s, NAN, 0};
    v[2] = (mst_path_vertex){e, n, NAN, 0}, v[3] = (mst_path_vertex){w, n, NAN, 0};
    *path = (mst_path){v, 4, true};
    return (mst_shape){path, 1};
}

static inline mst_prism_sum to_plane(const mst_ground *g, mst_shape shape, mst_plane plane, double strip,
                                     mst_arena *arena) {
    mst_error error = {0};
    mst_prism_sum sum = {0};
    IS_OK(mst_ground_to_plane(g, &shape, &plane, strip, arena, &sum, &error));
    return sum;
}
static inline mst_plane level_plane(double z) { return (mst_plane){0, 0, z, 0, 0}; }

/* Points of a CSV with a header line; columns in the order asked. */
static inline mst_ground_point *points_from(const char *path, int e, int n, int z, double z_unit, size_t *count,
                                            mst_arena *arena) {
    FILE *file = fopen(path, "r");
    if (!file) return NULL;
    size_t room = 1 << 14;
    mst_ground_point *p = mst_arena_array(arena, room, sizeof *p);
    char line[512];
    *count = 0;
    assert_non_null(fgets(line, sizeof line, file));
    while (fgets(line, sizeof line, file) && *count < room) {
        double value[8] = {0};
        int column = 0;
        for (char *cell = strtok(line, ",\n"); cell && column < 8; cell = strtok(NULL, ",\n"))
            value[column++] = strtod(cell, NULL);
        p[*count] = (mst_ground_point){value[e], value[n], value[z] * z_unit, (uint32_t)*count};
        ++*count;
    }
    fclose(file);
    return p;
}
#endif
