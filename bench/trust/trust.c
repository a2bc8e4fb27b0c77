// Do the 95 % intervals of volumes, levels and net volumes hold the truth? Ground with many points is sampled at 50 to
// 500 of them; what the sample says with its interval stands against the whole.
//
//   bench_trust [--samplings N] [--seed N] [--subarea] [--gear SD] [--boundary FILE E N] [--outline EDGE]
//     NAME [FILE E N Z SCALE]
//
// EDGE takes the bays out of a cloud's hull: triangles reached over longer edges do not count, no one measured there.
//
// NAME is a made-up terrain (fractal0.3 ... hills, garden) or a label for FILE: a CSV with a header line whose columns
// E, N, Z (from 0) are the place and the level, the level times SCALE.
#include "merestone/ground.h"
#include "merestone/works.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include "ground/model.h"
#include "numeric/statistics.h"

static uint64_t state = 20261125;
static double uniform(void) {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (double)(state >> 11) * 0x1p-53;
}
static double normal(void) { return sqrt(-2 * log(1 - uniform())) * cos(2 * MST_PI * uniform()); }

enum { SIDE = 129, MOST = 40000 };
static mst_ground_point points[MOST];
static size_t point_count;

// Midpoint displacement (A. Fournier, D. Fussell, L. Carpenter, CACM 25 (1982) 371-384).
static double grid[SIDE][SIDE];
static void fractal(double h) {
    double sd = 10;
    for (int step = SIDE - 1; step > 1; step /= 2, sd *= pow(0.5, h / 2)) {
        int half = step / 2;
        for (int i = half; i < SIDE; i += step)
            for (int j = half; j < SIDE; j += step)
                grid[i][j] = (grid[i - half][j - half] + grid[i - half][j + half] + grid[i + half][j - half] +
                              grid[i + half][j + half]) /
                                 4 +
                             sd * normal();
        sd *= pow(0.5, h / 2);
        for (int i = 0; i < SIDE; i += half)
            for (int j = (i / half) % 2 ? 0 : half; j < SIDE; j += step) {
                double sum = 0;
                int n = 0;
                const int d[4][2] = {{-half, 0}, {half, 0}, {0, -half}, {0, half}};
                for (int k = 0; k < 4; k++) {
                    int a = i + d[k][0], b = j + d[k][1];
                    if (a < 0 || b < 0 || a >= SIDE || b >= SIDE) continue;
                    sum += grid[a][b], n++;
                }
                grid[i][j] = sum / n + sd * normal();
            }
    }
}
static void hills(void) {
    double c[12][4];
    for (int k = 0; k < 12; k++)
        c[k][0] = 100 * uniform(), c[k][1] = 100 * uniform(), c[k][2] = 6 * normal(), c[k][3] = 10 + 20 * uniform();
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++) {
            grid[i][j] = 0.02 * i;
            for (int k = 0; k < 12; k++) {
                double e = j * 100.0 / 128 - c[k][0], n = i * 100.0 / 128 - c[k][1];
                grid[i][j] += c[k][2] * exp(-(e * e + n * n) / (2 * c[k][3] * c[k][3]));
            }
        }
}
// A lawn with a fall and 30 mm of bumps, a terrace 0.6 m above it, a bank 1:2 and a ditch.
static void garden(void) {
    fractal(0.6);
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++) {
            double e = j * 50.0 / 128, n = i * 50.0 / 128, bank = 30 + 2 * sin(e / 6);
            double z = 0.02 * e + 0.01 * n + 0.004 * grid[i][j];
            z += 0.6 * fmin(fmax((n - bank) / 1.2, 0), 1);
            z -= 0.4 * exp(-(e - 12) * (e - 12) / 2);
            grid[i][j] = z;
        }
}
static void make(const char *name) {
    double spacing = 100.0 / 128;
    if (strncmp(name, "fractal", 7) == 0) fractal(atof(name + 7));
    else if (strcmp(name, "hills") == 0) hills();
    else garden(), spacing = 50.0 / 128;
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++) {
            double e = (j + 0.3 * (uniform() - 0.5)) * spacing, n = (i + 0.3 * (uniform() - 0.5)) * spacing;
            points[point_count] = (mst_ground_point){1000 + e, 2000 + n, grid[i][j], (uint32_t)point_count};
            point_count++;
        }
}
static void load(const char *path, int e, int n, int z, double scale) {
    FILE *file = fopen(path, "r");
    char line[512];
    if (!file || !fgets(line, sizeof line, file)) exit(2);
    while (fgets(line, sizeof line, file) && point_count < MOST) {
        double value[8] = {0};
        int column = 0;
        for (char *cell = strtok(line, ",\n"); cell && column < 8; cell = strtok(NULL, ",\n"))
            value[column++] = strtod(cell, NULL);
        points[point_count] = (mst_ground_point){value[e], value[n], value[z] * scale, (uint32_t)point_count};
        point_count++;
    }
    fclose(file);
}

// A CSV with a header line as a ring.
static mst_shape ring_of(const char *path, int e, int n, mst_arena *arena) {
    size_t before = point_count;
    load(path, e, n, n, 1);
    mst_path *ring = mst_arena_alloc(arena, sizeof *ring);
    *ring =
        (mst_path){mst_arena_array(arena, point_count - before, sizeof(mst_path_vertex)), point_count - before, true};
    for (size_t i = before; i < point_count; i++)
        ring->vertices[i - before] = (mst_path_vertex){points[i].easting_m, points[i].northing_m, NAN, 0};
    const mst_path_vertex *a = &ring->vertices[0], *b = &ring->vertices[ring->count - 1];
    if (a->easting_m == b->easting_m && a->northing_m == b->northing_m) ring->count--;
    point_count = before;
    return (mst_shape){ring, 1};
}

static void need(mst_status status, const mst_error *error) {
    if (status) fprintf(stderr, "%s\n", error->sentence), exit(1);
}
static int by_place(const void *a, const void *b) {
    const mst_ground_point *x = a, *y = b;
    if (x->easting_m != y->easting_m) return x->easting_m < y->easting_m ? -1 : 1;
    return x->northing_m < y->northing_m ? -1 : x->northing_m > y->northing_m;
}
// The hull, so that the whole covers every sample (A. M. Andrew, Information Processing Letters 9 (1979) 216-219).
static mst_shape hull(mst_arena *arena) {
    mst_ground_point *p = malloc((point_count + 1) * sizeof *p);
    mst_path *path = mst_arena_alloc(arena, sizeof *path);
    mst_path_vertex *v = mst_arena_array(arena, 2 * point_count + 2, sizeof *v);
    memcpy(p, points, point_count * sizeof *p);
    qsort(p, point_count, sizeof *p, by_place);
    size_t n = 0, floor = 1;
    for (int side = 0; side < 2; side++, floor = n)
        for (size_t k = 0; k < point_count; k++) {
            const mst_ground_point *q = &p[side ? point_count - 1 - k : k];
            const double c[2] = {q->easting_m, q->northing_m};
            while (n > floor && mst_orient2d((double[]){v[n - 2].easting_m, v[n - 2].northing_m},
                                             (double[]){v[n - 1].easting_m, v[n - 1].northing_m}, c) <= 0)
                n--;
            if (n == 0 || v[n - 1].easting_m != c[0] || v[n - 1].northing_m != c[1])
                v[n++] = (mst_path_vertex){c[0], c[1], NAN, 0};
        }
    free(p);
    *path = (mst_path){v, n - 1, true};
    return (mst_shape){path, 1};
}
static mst_ground *build(const mst_ground_point *p, size_t n, const mst_shape *boundary, mst_arena *arena) {
    mst_ground_input input = {.points = p, .point_count = n, .merge_height_m = 10, .boundary = boundary};
    mst_ground *g;
    mst_error error = {0};
    need(mst_ground_build(&input, arena, &g, &error), &error);
    return g;
}

// The hull's long edges opened one after the other (M. Duckham, L. Kulik, M. Worboys, A. Galton, Pattern Recognition 41
// (2008) 3224-3236) until none longer than EDGE has a corner inside.
static mst_shape outline_of(const mst_ground *g, double edge, mst_arena *arena) {
    bool *gone = mst_arena_array(arena, g->triangle_count, 1), *rim = mst_arena_array(arena, g->vertex_count, 1);
    uint32_t *next = mst_arena_array(arena, g->vertex_count, sizeof *next);
    for (uint32_t worst = 0; worst != MST_NOWHERE;) {
        double longest = edge;
        memset(rim, 0, g->vertex_count);
        worst = MST_NOWHERE;
        for (int pass = 0; pass < 2; pass++)
            for (uint32_t t = 0; t < g->triangle_count; t++)
                for (int k = 0; k < 3 && !gone[t]; k++) {
                    uint32_t n = g->neighbours[t][k], a = g->triangles[t][(k + 1) % 3],
                             b = g->triangles[t][(k + 2) % 3];
                    if (n != MST_NOWHERE && !gone[n]) continue;
                    const mst_ground_point *p = &g->vertices[a], *q = &g->vertices[b];
                    double length = hypot(p->easting_m - q->easting_m, p->northing_m - q->northing_m);
                    if (pass == 0) rim[a] = rim[b] = true, next[a] = b;
                    else if (length > longest && !rim[g->triangles[t][k]]) longest = length, worst = t;
                }
        if (worst != MST_NOWHERE) gone[worst] = true;
    }
    uint32_t first = 0;
    while (!rim[first]) first++;
    mst_path *path = mst_arena_alloc(arena, sizeof *path);
    *path = (mst_path){mst_arena_array(arena, g->vertex_count, sizeof(mst_path_vertex)), 0, true};
    uint32_t v = first;
    do path->vertices[path->count++] = (mst_path_vertex){g->vertices[v].easting_m, g->vertices[v].northing_m, NAN, 0};
    while ((v = next[v]) != first);
    return (mst_shape){path, 1};
}

typedef struct tally {
    int held, all;
    double width, error, z, z2;
} tally;
static void count(tally *t, double said, double truth, double half) {
    t->held += fabs(said - truth) <= half;
    t->all++;
    t->width += half;
    t->error += fabs(said - truth);
    t->z += (said - truth) / half * 1.96;
    t->z2 += (said - truth) * (said - truth) / (half * half) * 3.8416;
}
static void say(const char *what, const tally *t) {
    printf("  %-6s %5.1f %% of %d; mean half width %.4g, mean error %.4g, rms z %.2f, mean z %+.2f\n", what,
           100.0 * t->held / t->all, t->all, t->width / t->all, t->error / t->all, sqrt(t->z2 / t->all), t->z / t->all);
}
static int by_level(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

int main(int argc, char **argv) {
    int samplings = 1000, at = 1;
    double gear = 0, edge = 0;
    mst_arena *whole = mst_arena_new();
    mst_shape limit = {0};
    bool subarea = false;
    for (; at < argc && strncmp(argv[at], "--", 2) == 0; at++) {
        if (strcmp(argv[at], "--samplings") == 0) samplings = atoi(argv[++at]);
        else if (strcmp(argv[at], "--seed") == 0) state += (uint64_t)atoll(argv[++at]) * 7919;
        else if (strcmp(argv[at], "--gear") == 0) gear = atof(argv[++at]);
        else if (strcmp(argv[at], "--outline") == 0) edge = atof(argv[++at]);
        else if (strcmp(argv[at], "--subarea") == 0) subarea = true;
        else if (strcmp(argv[at], "--boundary") == 0)
            limit = ring_of(argv[at + 1], atoi(argv[at + 2]), atoi(argv[at + 3]), whole), at += 3;
    }
    if (at >= argc) return 2;
    const char *name = argv[at++];
    if (argc - at >= 5) load(argv[at], atoi(argv[at + 1]), atoi(argv[at + 2]), atoi(argv[at + 3]), atof(argv[at + 4]));
    else make(name);
    mst_shape outline = hull(whole);
    mst_ground *truth = build(points, point_count, &outline, whole);
    if (edge > 0) limit = outline_of(truth, edge, whole);
    double *levels = malloc(point_count * sizeof *levels);
    for (size_t i = 0; i < point_count; i++) levels[i] = points[i].elevation_m;
    qsort(levels, point_count, sizeof *levels, by_level);
    tally cut = {0}, net = {0}, spot = {0}, small = {0}, large = {0};
    double power = 0, crossings = 0;
    int missed = 0;
    size_t most = point_count * 2 / 3 < 500 ? point_count * 2 / 3 : 500;
    mst_ground_point *chosen = malloc(500 * sizeof *chosen);
    for (int s = 0; s < samplings; s++) {
        size_t n = 50 + (size_t)(uniform() * (double)(most - 49));
        for (size_t i = 0; i < n; i++) { // the first n of a shuffle
            size_t k = i + (size_t)(uniform() * (double)(point_count - i));
            mst_ground_point swap = points[i];
            points[i] = points[k], points[k] = swap;
            chosen[i] = points[i];
            chosen[i].source = (uint32_t)i;
            chosen[i].elevation_m += gear * normal();
        }
        mst_arena *arena = mst_arena_new();
        mst_error error = {0};
        mst_ground *g = build(chosen, n, limit.count ? &limit : NULL, arena);
        mst_adjustment a = {.points = mst_arena_array(arena, n, sizeof *a.points), .point_count = n};
        for (size_t i = 0; i < n; i++) a.points[i].sd_elevation_m = gear;
        need(mst_ground_trust(g, gear > 0 ? &a : NULL, arena, &error), &error);
        power += mst_ground_roughness(g)->power;
        crossings += mst_ground_roughness(g)->crossings;
        mst_path *rims;
        size_t rim_count;
        need(mst_ground_rims(g, arena, &rims, &rim_count, &error), &error);
        mst_shape shape = {rims, 1};
        mst_path_vertex box[4];
        mst_path path = {box, 4, true};
        if (subarea) { // a third of the range each way, somewhere inside the sample
            double w = HUGE_VAL, e = -HUGE_VAL, so = HUGE_VAL, no = -HUGE_VAL;
            for (size_t i = 0; i < n; i++)
                w = fmin(w, chosen[i].easting_m), e = fmax(e, chosen[i].easting_m), so = fmin(so, chosen[i].northing_m),
                no = fmax(no, chosen[i].northing_m);
            double we = w + (e - w) * (0.05 + 0.57 * uniform()), sn = so + (no - so) * (0.05 + 0.57 * uniform()),
                   de = (e - w) / 3, dn = (no - so) / 3;
            box[0] = (mst_path_vertex){we, sn, NAN, 0}, box[1] = (mst_path_vertex){we + de, sn, NAN, 0};
            box[2] = (mst_path_vertex){we + de, sn + dn, NAN, 0}, box[3] = (mst_path_vertex){we, sn + dn, NAN, 0};
            shape = (mst_shape){&path, 1};
        }
        mst_plane plane = {0, 0, levels[(size_t)((0.1 + 0.8 * uniform()) * (double)point_count)], 0, 0};
        mst_prism_sum said, true_sum;
        need(mst_ground_to_plane(g, &shape, &plane, 0, arena, &said, &error), &error);
        need(mst_ground_to_plane(truth, &shape, &plane, 0, arena, &true_sum, &error), &error);
        if (fabs(said.area_m2 - true_sum.area_m2) > 1e-6 * said.area_m2) {
            mst_arena_free(arena);
            missed++;
            continue;
        }
        mst_spread spread;
        need(mst_parts_spread(&said.parts, 1, &spread, &error), &error);
        double noise_cut = 0, noise_net = 0;
        for (size_t i = 0; i < said.term_count; i++) {
            double c = said.cut_terms[i].elevation * gear, f = said.fill_terms[i].elevation * gear;
            noise_cut += c * c, noise_net += (c - f) * (c - f);
        }
        double t = mst_student_quantile(0.975, spread.degrees_of_freedom);
        double half_cut = t * sqrt(spread.cut_m6 + noise_cut),
               half_net = t * sqrt(spread.cut_m6 + spread.fill_m6 - 2 * spread.cross_m6 + noise_net);
        if (said.cut_m3 > 0)
            count(&cut, said.cut_m3 + spread.cut_shift_m3, true_sum.cut_m3, half_cut),
                count(n < 150 ? &small : &large, said.cut_m3 + spread.cut_shift_m3, true_sum.cut_m3, half_cut);
        count(&net, said.cut_m3 - said.fill_m3 + spread.cut_shift_m3 - spread.fill_shift_m3,
              true_sum.cut_m3 - true_sum.fill_m3, half_net);
        for (int k = 0; k < 5; k++) {
            const mst_ground_point *p = &points[n + (size_t)(uniform() * (double)(point_count - n))];
            mst_ground_level l;
            mst_point place = {p->easting_m, p->northing_m};
            if (!mst_ground_level_at(g, place, &l)) continue;
            double variance = mst_ground_between(g, place);
            for (size_t i = 0; i < l.term_count; i++)
                variance += l.terms[i].elevation * l.terms[i].elevation * gear * gear;
            count(&spot, l.elevation_m, p->elevation_m, t * sqrt(variance));
        }
        mst_arena_free(arena);
    }
    printf("%s: %zu points, %d samplings of 50 to %zu; mean power %.2f, crossings %.2f\n", name, point_count, samplings,
           most, power / samplings, crossings / samplings);
    if (missed) printf("  %d samplings reach outside and do not count\n", missed);
    say("volume", &cut), say("<150", &small), say("150+", &large), say("net", &net), say("level", &spot);
    free(levels), free(chosen);
    mst_arena_free(whole);
    return 0;
}
