/* How a cloud lies to a surface: one pass, each point looked up from where the one before it was, or from its cell. */
#include "ground/cloud.h"

typedef struct measure {
    mst_walk walk;
    const mst_point3 *points;
    const uint32_t (*corners)[3];
    mst_cells cells;
    uint32_t *start; /* [cell] a triangle in or near it */
    uint32_t at, cell;
    uint32_t plane_of; /* the triangle that the plane below is of */
    mst_sloped plane;
    double tolerance_m, squares;
} measure;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory to measure the cloud against its surface.");
}

/* A triangle for every cell: one with a corner there, else that of the cell before. */
static bool index_triangles(measure *m, size_t triangles, mst_arena *arena) {
    size_t cells = (size_t)m->cells.columns * m->cells.rows;
    m->start = mst_arena_array(arena, cells, sizeof *m->start);
    if (!m->start) return false;
    for (size_t i = 0; i < cells; i++) m->start[i] = MST_CLOUD_NONE;
    for (size_t t = 0; t < triangles; t++) {
        const double *p = m->walk.at[m->corners[t][0]];
        m->start[mst_cell_of(&m->cells, p[0], p[1])] = (uint32_t)t;
    }
    uint32_t last = 0;
    for (size_t i = 0; i < cells; i++) {
        if (m->start[i] == MST_CLOUD_NONE) m->start[i] = last;
        last = m->start[i];
    }
    return true;
}

static mst_status set_up(measure *m, const mst_point3 points[], size_t count, mst_arena *arena, mst_error *error) {
    double(*places)[2] = mst_arena_array(arena, count, sizeof *places);
    mst_triangulation *t;
    size_t triangles;
    if (!places) return no_memory(error);
    double least[2] = {INFINITY, INFINITY}, greatest[2] = {-INFINITY, -INFINITY};
    for (size_t i = 0; i < count; i++) {
        places[i][0] = points[i].easting_m, places[i][1] = points[i].northing_m;
        for (int k = 0; k < 2; k++)
            least[k] = fmin(least[k], places[i][k]), greatest[k] = fmax(greatest[k], places[i][k]);
    }
    mst_triangulation_input input = {.points = (const double(*)[2])places, .point_count = count};
    mst_status status = mst_triangulation_build(&input, arena, &t, error);
    if (status) return status;
    m->points = points;
    m->corners = mst_triangulation_corners(t, &triangles);
    size_t vertices;
    m->walk =
        (mst_walk){mst_triangulation_vertices(t, &vertices), m->corners[0], mst_triangulation_neighbours(t)[0], 0};
    m->cells = mst_cells_over(least, greatest, 0, count < 16 ? 16 : count);
    m->plane_of = MST_CLOUD_NONE;
    return index_triangles(m, triangles, arena) ? MST_OK : no_memory(error);
}

static void take(measure *m, const mst_cloud_point *p, mst_cloud_fit *fit) {
    uint32_t cell = mst_cell_of(&m->cells, p->easting_m, p->northing_m);
    bool outside;
    if (cell != m->cell) m->at = m->start[cell], m->cell = cell;
    m->at = mst_walk_to(&m->walk, m->at, (const double[2]){p->easting_m, p->northing_m}, &outside);
    if (m->at != m->plane_of) {
        const uint32_t *c = m->corners[m->at];
        m->plane = mst_sloped_of(
            (const double *const[3]){m->walk.at[c[0]], m->walk.at[c[1]], m->walk.at[c[2]]},
            (const double[3]){m->points[c[0]].elevation_m, m->points[c[1]].elevation_m, m->points[c[2]].elevation_m});
        m->plane_of = m->at;
    }
    double error_m = mst_sloped_at(&m->plane, p->easting_m, p->northing_m) - p->elevation_m;
    m->squares += error_m * error_m;
    fit->count++;
    fit->outside += outside;
    fit->beyond += fabs(error_m) > m->tolerance_m + MST_CLOUD_ROUNDING_M;
    if (fabs(error_m) > fit->largest_m || fit->count == 1) {
        fit->largest_m = fabs(error_m);
        fit->worst = (mst_point3){p->easting_m, p->northing_m, p->elevation_m};
    }
}

static mst_status run(measure *m, const mst_cloud_source *source, mst_stage *stage, mst_cloud_fit *fit,
                      mst_error *error) {
    mst_cloud_point block[512];
    size_t count = 1;
    mst_status status = source->rewind(source->self, error);
    while (!status && count) {
        status = source->read(source->self, block, sizeof block / sizeof *block, &count, error);
        for (size_t i = 0; !status && i < count; i++) {
            if (!mst_cloud_has_place(&block[i]))
                return mst_fail(error, MST_INVALID, "Point %llu of the cloud is farther away than the earth is round.",
                                (unsigned long long)fit->count + 1);
            take(m, &block[i], fit);
        }
        mst_stage_tell(stage, fit->count);
    }
    return status;
}

mst_status mst_cloud_measure(const mst_cloud_source *source, const mst_point3 points[], size_t count,
                             double tolerance_m, const mst_progress *progress, mst_cloud_fit *fit, mst_error *error) {
    mst_arena *arena = mst_arena_new();
    if (!arena) return no_memory(error);
    measure m = {.tolerance_m = tolerance_m};
    mst_cloud_fit made = {0};
    mst_stage stage = {progress, 0.85, 1, "Measuring the error", source->expected, 0};
    mst_status status = set_up(&m, points, count, arena, error);
    if (!status) status = run(&m, source, &stage, &made, error);
    mst_arena_free(arena);
    if (status) return status;
    made.rms_m = made.count ? sqrt(m.squares / (double)made.count) : 0;
    *fit = made;
    return MST_OK;
}
