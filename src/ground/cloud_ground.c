/* Ground from what stands on it: progressive morphological filter (see ground.h) on a grid of lowest points. An opening
 * takes out what is narrower than its window; what drops by more than a slope could explain is no ground. Windows
 * double, and the thresholds follow equation 7 of Zhang et al. 2003. */
#include "ground/cloud.h"
#include <inttypes.h>
#include <string.h>

enum { CELLS_MOST = 8000000 };
static const double CELL_M = 1, WINDOW_M = 20, SLOPE = 0.3, NEAR_M = 0.15, STEP_M = 2.5;
static const double CELL_LEAST_M = 0.01, WINDOW_MOST_M = 1000;

struct mst_cloud_ground {
    mst_cloud_source from;
    mst_cells cells;
    float *height; /* [row][column] of the lowest point over `base_m`; in the end the ground's */
    double base_m, near_m;
};

typedef struct filter {
    mst_cloud_ground *ground;
    mst_cloud_ground_options o;
    float *opened, *line, *lowest; /* [cell], [longest side], [cell] */
    uint32_t *nearest, *queue;
    uint8_t *standing; /* [cell] no ground */
    double least[3], greatest[3];
    uint64_t count;
} filter;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory to tell the ground from what stands on it.");
}

/* ---- the passes ---- */

typedef void take_points(filter *f, const mst_cloud_point *points, size_t count);

static mst_status each_block(filter *f, mst_stage *stage, take_points *take, mst_error *error) {
    const mst_cloud_source *source = &f->ground->from;
    mst_cloud_point points[512];
    size_t count = 1;
    mst_status status = source->rewind(source->self, error);
    for (f->count = 0; !status && count; f->count += count) {
        status = source->read(source->self, points, sizeof points / sizeof *points, &count, error);
        for (size_t i = 0; i < count && !status; i++)
            if (!mst_cloud_has_place(&points[i]))
                status = mst_fail(error, MST_INVALID,
                                  "Point %" PRIu64 " of the cloud is farther away than the earth is round.",
                                  f->count + i + 1);
        if (!status) take(f, points, count);
        mst_stage_tell(stage, f->count);
    }
    return status;
}

static void take_extent(filter *f, const mst_cloud_point *points, size_t count) {
    for (size_t i = 0; i < count; i++) {
        const double p[3] = {points[i].easting_m, points[i].northing_m, points[i].elevation_m};
        for (int k = 0; k < 3; k++) f->least[k] = fmin(f->least[k], p[k]), f->greatest[k] = fmax(f->greatest[k], p[k]);
    }
}

static void take_lowest(filter *f, const mst_cloud_point *points, size_t count) {
    for (size_t i = 0; i < count; i++) {
        float *h = &f->ground->height[mst_cell_of(&f->ground->cells, points[i].easting_m, points[i].northing_m)];
        *h = fminf(*h, (float)(points[i].elevation_m - f->ground->base_m));
    }
}

/* ---- the grid ---- */

static size_t cell_count(const filter *f) { return (size_t)f->ground->cells.columns * f->ground->cells.rows; }

/* A cell far below all its neighbours holds a stray reading: an echo, or a hole no wider than the cell. */
static void drop_strays(filter *f) {
    int64_t columns = f->ground->cells.columns, rows = f->ground->cells.rows;
    float *h = f->ground->height;
    for (int64_t r = 0; r < rows; r++)
        for (int64_t c = 0; c < columns; c++) {
            float around = INFINITY;
            for (int64_t y = r - 1; y <= r + 1; y++)
                for (int64_t x = c - 1; x <= c + 1; x++)
                    if ((x != c || y != r) && x >= 0 && y >= 0 && x < columns && y < rows)
                        around = fminf(around, h[y * columns + x]);
            if (isfinite(around) && h[r * columns + c] < around - (float)f->o.step_m) h[r * columns + c] = INFINITY;
        }
}

/* Gives each cell that is not finite the height of the nearest one that is, counting steps to the four sides. */
static void fill_gaps(filter *f, float *h) {
    size_t columns = f->ground->cells.columns, count = cell_count(f), first = 0, last = 0;
    for (size_t i = 0; i < count; i++)
        if (isfinite(h[i])) f->queue[last++] = (uint32_t)i;
    while (first < last) {
        size_t i = f->queue[first++], c = i % columns;
        const size_t beside[4] = {c > 0 ? i - 1 : i, c + 1 < columns ? i + 1 : i, i >= columns ? i - columns : i,
                                  i + columns < count ? i + columns : i};
        for (int k = 0; k < 4; k++)
            if (!isfinite(h[beside[k]])) h[beside[k]] = h[i], f->queue[last++] = (uint32_t)beside[k];
    }
}

/* Least value within `reach` of each along a line; sign -1 makes it the greatest. A queue of candidates whose values
 * rise, so that each is put in and taken out once. */
static void slide(filter *f, float *line, size_t step, size_t count, size_t reach, float sign) {
    size_t first = 0, last = 0;
    for (size_t i = 0; i < count; i++) f->line[i] = sign * line[i * step];
    for (size_t i = 0; i < count + reach; i++) {
        if (i < count) {
            while (last > first && f->line[f->nearest[last - 1]] >= f->line[i]) last--;
            f->nearest[last++] = (uint32_t)i;
        }
        if (i < reach) continue;
        while (f->nearest[first] + reach < i - reach) first++;
        line[(i - reach) * step] = sign * f->line[f->nearest[first]];
    }
}

static void spread_over(filter *f, float *h, size_t reach, float sign) {
    size_t columns = f->ground->cells.columns, rows = f->ground->cells.rows;
    for (size_t r = 0; r < rows; r++) slide(f, h + r * columns, 1, columns, reach, sign);
    for (size_t c = 0; c < columns; c++) slide(f, h + c, columns, rows, reach, sign);
}

static void open_progressively(filter *f) {
    size_t count = cell_count(f), before = 0;
    double cell_m = 1 / f->ground->cells.per_m;
    memcpy(f->lowest, f->ground->height, count * sizeof *f->lowest);
    for (size_t reach = 1; (double)(2 * before + 1) * cell_m < f->o.window_m; reach *= 2) {
        double drop_m = f->o.near_m;
        if (before) drop_m += f->o.slope * 2 * (double)(reach - before) * cell_m;
        drop_m = fmin(drop_m, f->o.step_m);
        memcpy(f->opened, f->lowest, count * sizeof *f->opened);
        spread_over(f, f->opened, reach, 1);
        spread_over(f, f->opened, reach, -1);
        for (size_t i = 0; i < count; i++) f->standing[i] |= f->lowest[i] - f->opened[i] > drop_m;
        memcpy(f->lowest, f->opened, count * sizeof *f->lowest);
        before = reach;
    }
}

/* ---- making it ---- */

static bool make_grid(filter *f, mst_arena *arena, mst_arena *scratch) {
    mst_cloud_ground *g = f->ground;
    g->cells = mst_cells_over(f->least, f->greatest, f->o.cell_m, CELLS_MOST / 2);
    g->base_m = f->least[2];
    size_t count = cell_count(f), longest = g->cells.columns > g->cells.rows ? g->cells.columns : g->cells.rows;
    g->height = mst_arena_array(arena, count, sizeof *g->height);
    f->opened = mst_arena_array(scratch, count, sizeof *f->opened);
    f->lowest = mst_arena_array(scratch, count, sizeof *f->lowest);
    f->queue = mst_arena_array(scratch, count, sizeof *f->queue);
    f->standing = mst_arena_array(scratch, count, 1);
    f->line = mst_arena_array(scratch, longest, sizeof *f->line);
    f->nearest = mst_arena_array(scratch, longest, sizeof *f->nearest);
    if (!g->height || !f->opened || !f->lowest || !f->queue || !f->standing || !f->line || !f->nearest) return false;
    for (size_t i = 0; i < count; i++) g->height[i] = INFINITY;
    return true;
}

static mst_status find(filter *f, mst_arena *arena, mst_arena *scratch, mst_error *error) {
    mst_stage stage = {&f->o.progress, 0, 0.5, "Looking for the extent of the cloud", f->ground->from.expected, 0};
    mst_status status = each_block(f, &stage, take_extent, error);
    if (status) return status;
    if (f->count == 0) return mst_fail(error, MST_TOO_FEW, "The cloud has no point to take.");
    if (!make_grid(f, arena, scratch)) return no_memory(error);
    stage = (mst_stage){&f->o.progress, 0.5, 0.9, "Looking for the lowest points", f->count, 0};
    status = each_block(f, &stage, take_lowest, error);
    if (status) return status;
    float *h = f->ground->height;
    drop_strays(f);
    fill_gaps(f, h);
    open_progressively(f);
    size_t left = 0;
    for (size_t i = 0; i < cell_count(f); i++) left += !f->standing[i];
    if (!left)
        return mst_fail(error, MST_UNDETERMINED,
                        "No ground was found in the cloud; give a wider window or a steeper slope.");
    for (size_t i = 0; i < cell_count(f); i++)
        if (f->standing[i]) h[i] = INFINITY;
    fill_gaps(f, h);
    return MST_OK;
}

static mst_status take_options(mst_cloud_ground_options *o, mst_error *error) {
    if (o->cell_m == 0) o->cell_m = CELL_M;
    if (o->window_m == 0) o->window_m = WINDOW_M;
    if (o->slope == 0) o->slope = SLOPE;
    if (o->near_m == 0) o->near_m = NEAR_M;
    if (o->step_m == 0) o->step_m = STEP_M;
    if (!(o->cell_m >= CELL_LEAST_M) || !(o->window_m >= o->cell_m) || !(o->window_m <= WINDOW_MOST_M))
        return mst_fail(error, MST_INVALID,
                        "The ground filter's cell is %g m or more, and its window between a cell and %g m.",
                        CELL_LEAST_M, WINDOW_MOST_M);
    if (!(o->slope > 0 && o->slope <= 10) || !(o->near_m > 0) || !(o->step_m >= o->near_m) || !isfinite(o->step_m))
        return mst_fail(
            error, MST_INVALID,
            "The ground filter's slope is over 0 and up to 10, and its step not below its nearness, which is over 0.");
    return MST_OK;
}

mst_status mst_cloud_find_ground(const mst_cloud_source *source, const mst_cloud_ground_options *options,
                                 mst_arena *arena, mst_cloud_ground **ground, mst_error *error) {
    filter f = {.o = *options, .least = {INFINITY, INFINITY, INFINITY}, .greatest = {-INFINITY, -INFINITY, -INFINITY}};
    mst_status status = take_options(&f.o, error);
    if (status) return status;
    f.ground = mst_arena_alloc(arena, sizeof *f.ground);
    mst_arena *scratch = mst_arena_new();
    if (!f.ground || !scratch) {
        mst_arena_free(scratch);
        return no_memory(error);
    }
    *f.ground = (mst_cloud_ground){.from = *source, .near_m = f.o.near_m};
    status = find(&f, arena, scratch, error);
    mst_arena_free(scratch);
    if (!status) *ground = f.ground;
    return status;
}

/* ---- using it ---- */

/* Between the middles of four cells; beside the rim the outermost count on. */
static bool is_ground(const mst_cloud_ground *g, const mst_cloud_point *p) {
    const mst_cells *c = &g->cells;
    double x = (p->easting_m - c->least[0]) * c->per_m - 0.5, y = (p->northing_m - c->least[1]) * c->per_m - 0.5;
    double column = fmin(fmax(floor(x), 0), c->columns - 1), row = fmin(fmax(floor(y), 0), c->rows - 1);
    double u = fmin(fmax(x - column, 0), 1), v = fmin(fmax(y - row, 0), 1);
    size_t west = (size_t)column, south = (size_t)row;
    size_t east = west + 1 < c->columns ? west + 1 : west, north = south + 1 < c->rows ? south + 1 : south;
    double a = (double)g->height[south * c->columns + west], b = (double)g->height[south * c->columns + east];
    double d = (double)g->height[north * c->columns + west], e = (double)g->height[north * c->columns + east];
    double surface = (a * (1 - u) + b * u) * (1 - v) + (d * (1 - u) + e * u) * v;
    double rise = fmax(fmax(a, b), fmax(d, e)) - fmin(fmin(a, b), fmin(d, e));
    return fabs(p->elevation_m - g->base_m - surface) <= g->near_m + rise / 2;
}

static mst_status rewind_ground(void *self, mst_error *error) {
    mst_cloud_ground *g = self;
    return g->from.rewind(g->from.self, error);
}

static mst_status read_ground(void *self, mst_cloud_point points[], size_t room, size_t *count, mst_error *error) {
    mst_cloud_ground *g = self;
    size_t kept = 0, came;
    do {
        mst_status status = g->from.read(g->from.self, points, room, &came, error);
        if (status) return status;
        for (size_t i = 0; i < came; i++) {
            if (!is_ground(g, &points[i])) continue;
            points[kept] = points[i];
            points[kept++].class_code = 2;
        }
    } while (came && !kept);
    *count = kept;
    return MST_OK;
}

mst_cloud_source mst_cloud_ground_points(mst_cloud_ground *ground) {
    return (mst_cloud_source){ground, rewind_ground, read_ground, ground->from.expected};
}
