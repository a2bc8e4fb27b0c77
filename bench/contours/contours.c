// Contours of a large triangulated ground, joined into lines, and levels at places: user and wall time. The same ground
// as a grid is written for gdal_contour beside it (run.sh).
//
//   bench_contours [--scene rolling|steep] [--side N] [--interval M] [--rounds N] [--grid FILE.bil]
//
// rolling: points on a jittered lattice 0.5 m apart, in rows. steep: the very lattice of the grid, 50 levels 1 m apart.
#include "ground/model.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

enum { ROUNDS_MOST = 64, ASKED = 1000000 };
static const double CELL = 0.5, WEST = 1000, SOUTH = 2000;

typedef struct options {
    bool steep;
    int side, rounds;
    double interval;
    const char *grid;
} options;

static uint64_t state = 20261125;
static double uniform(void) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (double)(state >> 11) * 0x1p-53;
}
static double level_at(bool steep, double e, double n) {
    if (steep)
        return 50 + 15 * sin(e / 173) * cos(n / 157) + 9.4 * sin(e / 23 + 1) * sin(n / 21) +
               0.6 * sin(e / 9.1) * cos(n / 10.3);
    return 50 + 8 * sin(e / 41) * cos(n / 37) + 3 * sin(e / 11 + 1) * sin(n / 13) + 0.4 * sin(e / 2.3) * cos(n / 2.9);
}

typedef struct took {
    double wall, user;
} took;
static took now(void) {
    struct timespec t;
    struct rusage r;
    clock_gettime(CLOCK_MONOTONIC, &t);
    getrusage(RUSAGE_SELF, &r);
    return (took){(double)t.tv_sec + 1e-9 * (double)t.tv_nsec,
                  (double)r.ru_utime.tv_sec + 1e-6 * (double)r.ru_utime.tv_usec};
}
static took since(took before) {
    took t = now();
    return (took){t.wall - before.wall, t.user - before.user};
}
static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}
static double median(double values[], int count) {
    qsort(values, (size_t)count, sizeof *values, by_size);
    return values[count / 2];
}
static _Noreturn void stop(const char *sentence) {
    fprintf(stderr, "%s\n", sentence);
    exit(1);
}

static mst_ground *make_ground(const options *o, mst_arena *arena) {
    size_t side = (size_t)o->side, count = side * side;
    mst_ground_point *p = malloc(count * sizeof *p);
    mst_ground *ground;
    mst_error error = {0};
    if (!p) stop("Memory is short.");
    for (size_t i = 0; i < count; i++) {
        double shift_e = o->steep ? 0 : 0.6 * (uniform() - 0.5), shift_n = o->steep ? 0 : 0.6 * (uniform() - 0.5);
        double e = WEST + CELL * ((double)(i % side) + 0.5 + shift_e),
               n = SOUTH + CELL * ((double)(i / side) + 0.5 + shift_n);
        p[i] = (mst_ground_point){e, n, level_at(o->steep, e, n), UINT32_MAX};
    }
    took before = now();
    if (mst_ground_build(&(mst_ground_input){.points = p, .point_count = count, .threads = 2}, arena, &ground, &error))
        stop(error.sentence);
    took t = since(before);
    printf("ground of %zu points built in %.2f s wall, %.2f user\n", count, t.wall, t.user);
    free(p);
    return ground;
}

static void bench_contours(mst_ground *ground, const options *o, int threads) {
    double wall[ROUNDS_MOST], user[ROUNDS_MOST];
    size_t lines = 0, places = 0;
    mst_error error = {0};
    ground->threads = threads;
    for (int r = 0; r < o->rounds; r++) {
        mst_arena *own = mst_arena_new();
        mst_contour *c;
        took before = now();
        if (mst_ground_contours(ground, o->interval, own, &c, &lines, &error)) stop(error.sentence);
        took t = since(before);
        wall[r] = t.wall, user[r] = t.user;
        places = 0;
        for (size_t i = 0; i < lines; i++) places += c[i].count;
        mst_arena_free(own);
    }
    double w = median(wall, o->rounds), u = median(user, o->rounds), each = 1e9 / (double)ground->triangle_count;
    printf("contours on %d thread%s: %zu points, %zu triangles, every %g m: %zu lines of %zu places, %.1f ns a "
           "triangle user, "
           "%.1f wall (best %.1f), %.1f ns a place user (median of %d)\n",
           threads, threads > 1 ? "s" : "", ground->vertex_count, ground->triangle_count, o->interval, lines, places,
           u * each, w * each, wall[0] * each, u * 1e9 / (double)places, o->rounds);
}

/* Places that follow each other (a grid read row by row), and random ones. */
static void bench_levels(mst_ground *ground, double wide) {
    mst_point *p = malloc(2 * ASKED * sizeof *p);
    double *levels = calloc(ASKED, sizeof *levels);
    uint32_t hint = 0;
    double sum = 0;
    if (!p || !levels) stop("Memory is short.");
    for (int i = 0; i < ASKED; i++) {
        p[i] = (mst_point){WEST + wide * (i % 1000 + 0.5) / 1000, SOUTH + wide * (i / 1000 + 0.5) / 1000};
        p[ASKED + i] = (mst_point){WEST + wide * uniform(), SOUTH + wide * uniform()};
    }
    for (int random = 0; random < 2; random++) {
        const mst_point *asked = p + random * ASKED;
        const char *order = random ? "at random places" : "row by row";
        took before = now();
        for (int i = 0; i < ASKED; i++) sum += mst_ground_elevation(ground, asked[i], &hint);
        took one = since(before);
        printf("levels %s, one by one: %.2f million a second user, %.2f wall\n", order, ASKED / one.user * 1e-6,
               ASKED / one.wall * 1e-6);
        for (int threads = 1; threads <= 2; threads++) {
            ground->threads = threads;
            before = now();
            mst_ground_elevations(ground, asked, ASKED, levels);
            took many = since(before);
            printf("levels %s, all at once on %d thread%s: %.2f million a second user, %.2f wall\n", order, threads,
                   threads > 1 ? "s" : "", ASKED / many.user * 1e-6, ASKED / many.wall * 1e-6);
        }
    }
    if (isinf(sum)) stop("A level is not finite.");
    free(levels);
    free(p);
}

static void bench_volumes(const mst_ground *ground, mst_arena *arena) {
    mst_volume_curve *curve;
    mst_error error = {0};
    double sum = 0;
    took before = now();
    if (mst_ground_volume_curve(ground, arena, &curve, &error)) stop(error.sentence);
    took making = since(before);
    before = now();
    for (int i = 0; i < ASKED; i++)
        sum += mst_volume_at(curve, ground->lowest_m + (ground->highest_m - ground->lowest_m) * uniform()).cut_m3;
    took asking = since(before);
    printf("volume curve: %.0f ns a triangle user, then %.1f million levels a second%s\n",
           making.user * 1e9 / (double)ground->triangle_count, ASKED / asking.user * 1e-6, isnan(sum) ? "?" : "");
}

/* 32-bit floats, row by row from the north, with the header that raster libraries read. */
static void write_grid(const options *o) {
    char header[512];
    const char *dot = strrchr(o->grid, '.');
    snprintf(header, sizeof header, "%.*s.hdr", dot ? (int)(dot - o->grid) : (int)strlen(o->grid), o->grid);
    FILE *h = fopen(header, "w"), *f = fopen(o->grid, "wb");
    float *row = malloc((size_t)o->side * sizeof *row);
    if (!h || !f || !row) stop("The grid cannot be written.");
    fprintf(
        h,
        "NROWS %d\nNCOLS %d\nNBANDS 1\nNBITS 32\nPIXELTYPE FLOAT\nBYTEORDER I\nLAYOUT BIL\nULXMAP %.2f\nULYMAP %.2f\n",
        o->side, o->side, WEST + CELL / 2, SOUTH + CELL * (o->side - 0.5));
    fprintf(h, "XDIM %g\nYDIM %g\n", CELL, CELL);
    fclose(h);
    for (int i = o->side - 1; i >= 0; i--) {
        for (int j = 0; j < o->side; j++)
            row[j] = (float)level_at(o->steep, WEST + CELL * (j + 0.5), SOUTH + CELL * (i + 0.5));
        fwrite(row, sizeof *row, (size_t)o->side, f);
    }
    fclose(f);
    free(row);
}

int main(int argc, char **argv) {
    options o = {false, 1000, 15, 1, NULL};
    for (int i = 1; i + 1 < argc; i += 2) {
        if (strcmp(argv[i], "--scene") == 0) o.steep = strcmp(argv[i + 1], "steep") == 0;
        if (strcmp(argv[i], "--side") == 0) o.side = atoi(argv[i + 1]);
        if (strcmp(argv[i], "--interval") == 0) o.interval = atof(argv[i + 1]);
        if (strcmp(argv[i], "--rounds") == 0) o.rounds = atoi(argv[i + 1]);
        if (strcmp(argv[i], "--grid") == 0) o.grid = argv[i + 1];
    }
    if (o.side < 2 || o.rounds < 1 || o.rounds > ROUNDS_MOST) stop("--side from 2, --rounds from 1 to 64.");
    if (o.grid) write_grid(&o);
    mst_arena *arena = mst_arena_new();
    mst_ground *ground = arena ? make_ground(&o, arena) : NULL;
    if (!ground) stop("Memory is short.");
    bench_contours(ground, &o, 1);
    bench_contours(ground, &o, 2);
    if (!o.steep) {
        bench_levels(ground, (o.side - 1) * CELL);
        bench_volumes(ground, arena);
    }
    mst_arena_free(arena);
    return 0;
}
