/* Greedy insertion into one growing triangulation, group of points by group (see ground.h). Each triangle has the list
 * of the group's points in it; a heap has the worst point of every triangle that is beyond the tolerance. A point put
 * in spoils a few triangles, whose points are dealt out again to the new ones. */
#include "ground/cloud.h"
#include <inttypes.h>
#include <string.h>

enum {
    SAMPLE_CELLS = 1 << 18,
    SORT_BITS = 6,
    SORT_CELLS = 1 << 2 * SORT_BITS,
    MOST_SWEEPS = 40,
    OUTLINE_MOST = 1 << 16
};
static const size_t POINTS_MOST = 2000000;
static const double CLOSEST_M = 0.005; /* over the 1 mm within which the ground model merges, and its rounding */

/* A triangle's worst point when the triangle was made; forgotten when it is no more. */
typedef struct urgent {
    float error_m;
    uint32_t triangle, born, point;
} urgent;

/* What is known of a ray of the newest point: where its `from` edge leads, its plane, its worst point. */
typedef struct deal {
    double de, dn;
    mst_sloped plane;
    uint32_t pending, worst;
    double worst_m;
    bool real;
} deal;

typedef struct thinner {
    mst_growing g;
    mst_tiles tiles;
    double tolerance_m;
    uint32_t *head;    /* [triangle_room] first of the group's points in it */
    uint32_t *changed; /* [tile] newest attempt that changed a triangle over it */
    double (*points)[3], (*unsorted)[3];
    uint32_t *next;
    size_t count;
    urgent *heap;
    size_t heap_count, heap_capacity;
    uint32_t *touched;
    size_t touched_count, touched_capacity;
    deal *deals;
    size_t deal_capacity;
    uint32_t at; /* a triangle near the points being worked on */
    size_t most;
    mst_arena *arena;
} thinner;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory to thin the cloud.");
}

/* ---- the heap ---- */

static bool before(const urgent *a, const urgent *b) {
    return a->error_m != b->error_m ? a->error_m > b->error_m : a->triangle < b->triangle;
}

static bool push(thinner *t, urgent u) {
    urgent *room = MST_PUSH(t->arena, t->heap, t->heap_count, t->heap_capacity);
    if (!room) return false;
    size_t i = t->heap_count - 1;
    for (; i > 0 && before(&u, &t->heap[(i - 1) / 2]); i = (i - 1) / 2) t->heap[i] = t->heap[(i - 1) / 2];
    t->heap[i] = u;
    return true;
}

static urgent pop(thinner *t) {
    urgent top = t->heap[0], last = t->heap[--t->heap_count];
    size_t i = 0, child;
    while ((child = 2 * i + 1) < t->heap_count) {
        if (child + 1 < t->heap_count && before(&t->heap[child + 1], &t->heap[child])) child++;
        if (!before(&t->heap[child], &last)) break;
        t->heap[i] = t->heap[child];
        i = child;
    }
    t->heap[i] = last;
    return top;
}

/* ---- points in triangles ---- */

static double error_at(const thinner *t, const mst_sloped *plane, uint32_t point) {
    const double *p = t->points[point];
    return fabs(mst_sloped_at(plane, p[0], p[1]) - p[2]);
}

/* Looks for the worst point of a triangle among those listed. */
static bool rate(thinner *t, uint32_t triangle) {
    mst_sloped plane = mst_growing_plane(&t->g, triangle);
    double worst_m = t->tolerance_m;
    uint32_t worst = MST_CLOUD_NONE;
    for (uint32_t q = t->head[triangle]; q != MST_CLOUD_NONE; q = t->next[q]) {
        double error_m = error_at(t, &plane, q);
        if (error_m > worst_m) worst_m = error_m, worst = q;
    }
    return worst == MST_CLOUD_NONE || push(t, (urgent){(float)worst_m, triangle, t->g.born[triangle], worst});
}

static void unlist(thinner *t, uint32_t triangle, uint32_t point) {
    uint32_t *link = &t->head[triangle];
    while (*link != point && *link != MST_CLOUD_NONE) link = &t->next[*link];
    if (*link == point) *link = t->next[point];
}

static bool list_points(thinner *t) {
    mst_walk walk = {(const double(*)[2])t->g.m.at, t->g.m.corner, t->g.m.twin, 2};
    t->touched_count = t->heap_count = 0;
    memset(t->head, 0xFF, t->g.m.triangle_count * sizeof *t->head);
    for (uint32_t i = 0; i < t->count; i++) {
        bool outside;
        t->at = mst_walk_to(&walk, t->at, t->points[i], &outside);
        if (outside) continue; /* by less than closest_m; it is measured in the end */
        if (t->head[t->at] == MST_CLOUD_NONE) {
            uint32_t *place = MST_PUSH(t->arena, t->touched, t->touched_count, t->touched_capacity);
            if (!place) return false;
            *place = t->at;
        }
        t->next[i] = t->head[t->at];
        t->head[t->at] = i;
    }
    for (size_t i = 0; i < t->touched_count; i++)
        if (!rate(t, t->touched[i])) return false;
    return true;
}

/* ---- dealing out ---- */

static void mark_tiles(thinner *t, const mst_ray *ray, const double v[2]) {
    const double *a = t->g.m.at[ray->from], *b = t->g.m.at[ray->to];
    const mst_cells *c = &t->tiles.cells;
    uint32_t west = mst_cell_column(c, fmin(fmin(a[0], b[0]), v[0])),
             east = mst_cell_column(c, fmax(fmax(a[0], b[0]), v[0]));
    uint32_t south = mst_cell_row(c, fmin(fmin(a[1], b[1]), v[1])),
             north = mst_cell_row(c, fmax(fmax(a[1], b[1]), v[1]));
    for (uint32_t row = south; row <= north; row++)
        for (uint32_t column = west; column <= east; column++) t->changed[row * c->columns + column] = t->g.attempt;
}

static bool set_up_deals(thinner *t, const double v[2]) {
    const mst_growing *g = &t->g;
    if (g->ray_count > t->deal_capacity) {
        t->deal_capacity = 2 * g->ray_count + 32;
        if (!(t->deals = mst_arena_array(t->arena, t->deal_capacity, sizeof *t->deals))) return false;
    }
    for (size_t i = 0; i < g->ray_count; i++) {
        const mst_ray *ray = &g->rays[i];
        deal *d = &t->deals[i];
        d->real = ray->from != MST_OUTSIDE && ray->to != MST_OUTSIDE;
        d->pending = i < g->hole_count ? t->head[ray->triangle] : MST_CLOUD_NONE;
        d->worst = MST_CLOUD_NONE;
        d->worst_m = t->tolerance_m;
        t->head[ray->triangle] = MST_CLOUD_NONE;
        if (ray->from != MST_OUTSIDE) d->de = g->m.at[ray->from][0] - v[0], d->dn = g->m.at[ray->from][1] - v[1];
        else d->de = d->dn = 0;
        if (!d->real) continue;
        d->plane = mst_growing_plane(g, ray->triangle);
        mark_tiles(t, ray, v);
    }
    return true;
}

/* The wedge that holds the offset (e, n), looked for from wedge `from` on; a rounded answer is as good beside an edge.
 */
static size_t wedge_of(const thinner *t, double e, double n, size_t from) {
    const deal *d = t->deals;
    size_t count = t->g.ray_count, i = from;
    for (size_t step = 0; step < count; step++) {
        size_t onward = i + 1 < count ? i + 1 : 0;
        bool left_of_from = d[i].de * n - d[i].dn * e >= 0;
        bool right_of_to = d[onward].de * n - d[onward].dn * e <= 0;
        if (d[i].real && left_of_from && right_of_to) return i;
        if (left_of_from || !d[i].real) i = onward;
        else i = i ? i - 1 : count - 1;
    }
    return i;
}

static size_t any_wedge(const thinner *t) {
    size_t i = 0;
    while (!t->deals[i].real) i++;
    return i;
}

static void deal_out(thinner *t, const double v[2], uint32_t put) {
    size_t wedge = any_wedge(t), fallback = wedge;
    for (size_t i = 0; i < t->g.hole_count; i++)
        for (uint32_t q = t->deals[i].pending, after; q != MST_CLOUD_NONE; q = after) {
            after = t->next[q];
            if (q == put) continue;
            const double *p = t->points[q];
            wedge = wedge_of(t, p[0] - v[0], p[1] - v[1], wedge);
            if (!t->deals[wedge].real) wedge = fallback;
            deal *d = &t->deals[wedge];
            uint32_t triangle = t->g.rays[wedge].triangle;
            double error_m = error_at(t, &d->plane, q);
            if (error_m > d->worst_m) d->worst_m = error_m, d->worst = q;
            t->next[q] = t->head[triangle];
            t->head[triangle] = q;
        }
}

static bool push_deals(thinner *t) {
    for (size_t i = 0; i < t->g.ray_count; i++) {
        const deal *d = &t->deals[i];
        if (d->worst == MST_CLOUD_NONE) continue;
        if (!push(t, (urgent){(float)d->worst_m, t->g.rays[i].triangle, t->g.attempt, d->worst})) return false;
        t->at = t->g.rays[i].triangle;
    }
    if (!mst_growing_real(&t->g, t->at)) t->at = t->g.rays[any_wedge(t)].triangle;
    return true;
}

static mst_status too_many(const thinner *t, mst_error *error) {
    return mst_fail(error, MST_INVALID,
                    "Over %zu points are needed to stay within %.3g m of every point; let only the ground pass, or "
                    "thin to a larger "
                    "tolerance, four times the noise (sd) of the scan or more.",
                    t->most, t->tolerance_m);
}

/* Puts points of the group in until all of them are within the tolerance. */
static mst_status refine(thinner *t, mst_error *error) {
    if (!list_points(t)) return no_memory(error);
    while (t->heap_count) {
        urgent u = pop(t);
        if (u.born != t->g.born[u.triangle]) continue;
        const double *p = t->points[u.point];
        bool put;
        mst_status status = t->g.m.vertex_count >= t->most ? MST_NO : mst_growing_put(&t->g, u.triangle, p, &put);
        if (status) return status == MST_NO ? too_many(t, error) : no_memory(error);
        if (!put) { /* another level at a place that is taken: no surface can follow */
            unlist(t, u.triangle, u.point);
            if (!rate(t, u.triangle)) return no_memory(error);
            continue;
        }
        if (!set_up_deals(t, p)) return no_memory(error);
        deal_out(t, p, u.point);
        if (!push_deals(t)) return no_memory(error);
    }
    return MST_OK;
}

/* ---- groups ---- */

/* Neighbours close to each other in the lists: the walk is short, and memory near. */
static void sort_points(thinner *t) {
    uint32_t start[SORT_CELLS + 1] = {0};
    double least[2] = {t->unsorted[0][0], t->unsorted[0][1]}, greatest[2] = {least[0], least[1]};
    for (size_t i = 0; i < t->count; i++)
        for (int k = 0; k < 2; k++) {
            least[k] = fmin(least[k], t->unsorted[i][k]);
            greatest[k] = fmax(greatest[k], t->unsorted[i][k]);
        }
    const uint32_t side = 1 << SORT_BITS;
    double per_e = side / fmax(greatest[0] - least[0], 1e-3), per_n = side / fmax(greatest[1] - least[1], 1e-3);
#define CODE(p)                                                                                                        \
    mst_morton((uint32_t)fmin(((p)[0] - least[0]) * per_e, side - 1),                                                  \
               (uint32_t)fmin(((p)[1] - least[1]) * per_n, side - 1))
    for (size_t i = 0; i < t->count; i++) start[CODE(t->unsorted[i]) + 1]++;
    for (uint32_t c = 0; c < SORT_CELLS; c++) start[c + 1] += start[c];
    for (size_t i = 0; i < t->count; i++) {
        double *to = t->points[start[CODE(t->unsorted[i])]++];
        to[0] = t->unsorted[i][0], to[1] = t->unsorted[i][1], to[2] = t->unsorted[i][2];
    }
#undef CODE
}

static bool is_settled(const thinner *t, const mst_tile_group *g) {
    if (g->settled == 0) return false;
    for (uint32_t r = g->first_rank; r <= g->last_rank; r++)
        if (t->changed[t->tiles.tile_of_rank[r]] > g->settled) return false;
    return true;
}

static mst_status sweep(thinner *t, mst_stage *stage, bool *all_settled, mst_error *error) {
    *all_settled = true;
    for (size_t i = 0; i < t->tiles.group_count; i++) {
        mst_tile_group *g = &t->tiles.groups[i];
        mst_stage_tell(stage, i);
        if (is_settled(t, g)) continue;
        *all_settled = false;
        mst_status status = mst_tiles_load(&t->tiles, g, t->unsorted, error);
        if (status) return status;
        t->count = g->count;
        sort_points(t);
        status = refine(t, error);
        if (status) return status;
        g->settled = t->g.attempt + 1; /* never 0; what the group itself changed, it has seen */
        t->g.attempt++;
    }
    return MST_OK;
}

/* ---- the passes through the source ---- */

static mst_status each_block(const mst_cloud_source *source, mst_stage *stage, void *self,
                             mst_status (*take)(void *self, const mst_cloud_point *points, size_t count,
                                                mst_error *error),
                             uint64_t *read, mst_error *error) {
    mst_cloud_point points[512];
    size_t count = 1;
    mst_status status = source->rewind(source->self, error);
    for (*read = 0; !status && count; *read += count) {
        status = source->read(source->self, points, sizeof points / sizeof *points, &count, error);
        for (size_t i = 0; i < count && !status; i++)
            if (!mst_cloud_has_place(&points[i]))
                status =
                    mst_fail(error, MST_INVALID,
                             "Point %" PRIu64 " of the cloud is farther away than the earth is round.", *read + i + 1);
        if (!status && count) status = take(self, points, count, error);
        mst_stage_tell(stage, *read);
    }
    return status;
}

static mst_status take_hull(void *self, const mst_cloud_point *points, size_t count, mst_error *error) {
    return mst_stream_hull_add(self, points, count, error);
}

/* The first point to come in each cell, and those farthest out in each row and column of cells. */
typedef struct sampler {
    mst_tiles *tiles;
    mst_cells cells;
    double (*first)[3];
    uint8_t *has;
    mst_outline outline;
    const mst_stream_hull *hull;
} sampler;

static mst_status take_tiles(void *self, const mst_cloud_point *points, size_t count, mst_error *error) {
    sampler *s = self;
    for (size_t i = 0; i < count; i++) {
        const mst_cloud_point *p = &points[i];
        if (p->easting_m < s->hull->least[0] || p->easting_m > s->hull->greatest[0] ||
            p->northing_m < s->hull->least[1] || p->northing_m > s->hull->greatest[1])
            return mst_fail(error, MST_IO, "The cloud has changed while it was read; begin again.");
        uint32_t cell = mst_cell_of(&s->cells, p->easting_m, p->northing_m);
        if (!s->has[cell]) {
            s->has[cell] = 1;
            s->first[cell][0] = p->easting_m, s->first[cell][1] = p->northing_m, s->first[cell][2] = p->elevation_m;
        }
        mst_outline_add(&s->outline, p);
        mst_status status = mst_tiles_add(s->tiles, p, error);
        if (status) return status;
    }
    return MST_OK;
}

/* Moves the sample together. */
static size_t gather(const sampler *s, double (*to)[3]) {
    size_t count = 0, cells = (size_t)s->cells.columns * s->cells.rows;
    for (size_t i = 0; i < cells; i++)
        if (s->has[i]) memcpy(to[count++], s->first[i], sizeof *to);
    return count;
}

static mst_status prepare(thinner *t, const mst_stream_hull *hull, mst_error *error) {
    size_t tiles = (size_t)t->tiles.cells.columns * t->tiles.cells.rows;
    size_t room = t->tiles.largest_group > SAMPLE_CELLS ? t->tiles.largest_group : SAMPLE_CELLS;
    room += 4096; /* columns and rows are rounded up */
    mst_status status = mst_growing_begin(&t->g, hull->ring, hull->ring_count, t->most, t->arena, error);
    if (status) return status;
    t->head = mst_arena_array(t->arena, t->g.m.triangle_room, sizeof *t->head);
    t->changed = mst_arena_array(t->arena, tiles, sizeof *t->changed);
    t->points = mst_arena_array(t->arena, room, sizeof *t->points);
    t->unsorted = mst_arena_array(t->arena, room, sizeof *t->unsorted);
    t->next = mst_arena_array(t->arena, room, sizeof *t->next);
    if (!t->head || !t->changed || !t->points || !t->unsorted || !t->next) return no_memory(error);
    while (!mst_growing_real(&t->g, t->at)) t->at++;
    return MST_OK;
}

static mst_status fill_tiles(thinner *t, const mst_cloud_source *source, const mst_cloud_thin_options *options,
                             const mst_stream_hull *hull, uint64_t expected, sampler *s, mst_error *error) {
    mst_status status = mst_tiles_begin(&t->tiles, hull->least, hull->greatest, options, t->arena, error);
    if (status) return status;
    *s = (sampler){
        .tiles = &t->tiles, .cells = mst_cells_over(hull->least, hull->greatest, 0, SAMPLE_CELLS / 2), .hull = hull};
    size_t cells = (size_t)s->cells.columns * s->cells.rows;
    s->first = mst_arena_array(t->arena, cells, sizeof *s->first);
    s->has = mst_arena_array(t->arena, cells, 1);
    if (!s->first || !s->has || !mst_outline_begin(&s->outline, &s->cells, t->arena)) return no_memory(error);
    mst_stage stage = {&options->progress, 0.15, 0.3, "Sorting the points into tiles", expected, 0};
    uint64_t read;
    status = each_block(source, &stage, s, take_tiles, &read, error);
    if (!status && read != expected)
        status = mst_fail(error, MST_IO, "The cloud has changed while it was read; begin again.");
    return status ? status : mst_tiles_finish(&t->tiles, error);
}

static mst_status sweep_until_settled(thinner *t, mst_stage *first, mst_stage *later, int *sweeps, mst_error *error) {
    mst_status status = MST_OK;
    for (bool all_settled = false; !status && !all_settled && *sweeps < MOST_SWEEPS; ++*sweeps)
        status = sweep(t, *sweeps ? later : first, &all_settled, error);
    return status;
}

/* A ground model without a boundary gives up its outer triangles whose edge is longer than 12 times the median: where
 * the cloud is flat to its rim, points of the rim must stay that the tolerance alone would not ask for. */
static mst_status keep_rim(thinner *t, const mst_outline *outline, mst_error *error) {
    static const double SHARE = 6; /* half of the 12: thinning goes on, and the median may fall */
    mst_walk walk = {(const double(*)[2])t->g.m.at, t->g.m.corner, t->g.m.twin, 2};
    double apart_m = SHARE * mst_growing_median_edge(&t->g), p[3];
    for (uint32_t k = 0; mst_outline_next(outline, apart_m, &k, p);) {
        bool outside, put = false;
        t->at = mst_walk_to(&walk, t->at, p, &outside);
        if (outside) continue;
        mst_status status = t->g.m.vertex_count >= t->most ? MST_NO : mst_growing_put(&t->g, t->at, p, &put);
        if (status) return status == MST_NO ? too_many(t, error) : no_memory(error);
        for (size_t i = 0; put && i < t->g.ray_count; i++) {
            const mst_ray *ray = &t->g.rays[i];
            if (ray->from == MST_OUTSIDE || ray->to == MST_OUTSIDE) continue;
            mark_tiles(t, ray, p);
            t->at = ray->triangle;
        }
    }
    return MST_OK;
}

static mst_status refine_all(thinner *t, const sampler *s, const mst_progress *progress, int *sweeps,
                             mst_error *error) {
    mst_stage first = {progress, 0.3, 0.7, "Thinning", t->tiles.group_count, 0};
    mst_stage later = {progress, 0.7, 0.85, "Joining the tiles", t->tiles.group_count, 0};
    t->count = gather(s, t->unsorted);
    sort_points(t);
    mst_status status = refine(t, error);
    *sweeps = 0;
    if (!status) status = sweep_until_settled(t, &first, &later, sweeps, error);
    if (!status) status = keep_rim(t, &s->outline, error);
    if (!status) status = sweep_until_settled(t, &later, &later, sweeps, error);
    return status;
}

static mst_status hand_over(const thinner *t, mst_arena *arena, mst_cloud_thinned *thinned, mst_error *error) {
    thinned->count = t->g.m.vertex_count;
    thinned->points = mst_arena_array(arena, thinned->count, sizeof *thinned->points);
    if (!thinned->points) return no_memory(error);
    for (size_t i = 0; i < thinned->count; i++)
        thinned->points[i] = (mst_point3){t->g.m.at[i][0], t->g.m.at[i][1], t->g.z[i]};
    return MST_OK;
}

static mst_status thin(thinner *t, const mst_cloud_source *source, const mst_cloud_thin_options *options,
                       mst_arena *arena, mst_cloud_thinned *thinned, mst_error *error) {
    mst_stream_hull hull = {.arena = t->arena, .most = OUTLINE_MOST};
    mst_stage stage = {&options->progress, 0, 0.15, "Reading the cloud", source->expected, 0};
    uint64_t count;
    sampler s;
    mst_status status = each_block(source, &stage, &hull, take_hull, &count, error);
    if (!status && count < 3)
        status = mst_fail(error, MST_TOO_FEW,
                          count ? "The cloud has only %llu points to take; a surface needs three."
                                : "The cloud has no point to take.",
                          (unsigned long long)count);
    if (!status) status = mst_stream_hull_finish(&hull, t->g.closest_m, error);
    if (!status && hull.ring_count > t->most) status = too_many(t, error);
    if (!status) status = fill_tiles(t, source, options, &hull, count, &s, error);
    if (!status) status = prepare(t, &hull, error);
    if (!status) status = refine_all(t, &s, &options->progress, &thinned->sweeps, error);
    return status ? status : hand_over(t, arena, thinned, error);
}

mst_status mst_cloud_thin(const mst_cloud_source *source, const mst_cloud_thin_options *options, mst_arena *arena,
                          mst_cloud_thinned *thinned, mst_error *error) {
    if (!(options->tolerance_m > 0) || !isfinite(options->tolerance_m))
        return mst_fail(error, MST_INVALID, "The tolerance of the thinning is a length over zero.");
    if (!(options->closest_m >= 0)) return mst_fail(error, MST_INVALID, "The closest distance is a length.");
    mst_arena *scratch = mst_arena_new();
    if (!scratch) return no_memory(error);
    mst_cloud_thinned made = {0};
    thinner t = {.arena = scratch,
                 .tolerance_m = options->tolerance_m,
                 .most = options->points_most ? options->points_most : POINTS_MOST};
    t.g.closest_m = options->closest_m > 0 ? options->closest_m : fmax(CLOSEST_M, options->tolerance_m / 10);
    mst_status status = thin(&t, source, options, arena, &made, error);
    mst_arena_free(scratch);
    mst_progress last = options->progress;
    if (!status)
        status = mst_cloud_measure(source, made.points, made.count, options->tolerance_m, &last, &made.fit, error);
    if (!status) *thinned = made;
    return status;
}
