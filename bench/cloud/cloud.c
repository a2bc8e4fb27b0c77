/* How fast and in how much memory a cloud is read and thinned.
 *
 *   bench_cloud text [LINES]                    reads a generated text x,y,z,class; MB/s, median of ten passes
 *   bench_cloud las POINTS SPACING NOISE TOL    writes a generated LAS, thins it as the program does; seconds, peak
 * memory
 *
 * Files are made in $TMPDIR (else /tmp) and removed. Prints what it measured on, so that it can be repeated. */
#include "generated.h"
#include "merestone/exchange.h"
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/utsname.h>
#include <time.h>
#include <unistd.h>

enum { PASSES = 10 };

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}
static double user(void) {
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return (double)u.ru_utime.tv_sec + (double)u.ru_utime.tv_usec * 1e-6;
}
static long peak_mb(void) {
    struct rusage u;
    getrusage(RUSAGE_SELF, &u);
    return u.ru_maxrss / 1024;
}

static void say_machine(void) {
    struct utsname u;
    char line[256], cpu[200] = "unknown processor";
    FILE *f = fopen("/proc/cpuinfo", "r");
    while (f && fgets(line, sizeof line, f))
        if (strncmp(line, "model name", 10) == 0) {
            snprintf(cpu, sizeof cpu, "%s", strchr(line, ':') + 2);
            break;
        }
    if (f) fclose(f);
    cpu[strcspn(cpu, "\n")] = '\0';
    uname(&u);
    printf("%s, %ld cores, %s %s, compiler %s\n", cpu, sysconf(_SC_NPROCESSORS_ONLN), u.sysname, u.release,
           __VERSION__);
}

static FILE *make_file(char path[300], const char *name) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, 300, "%s/merestone-bench-%d.%s", folder && *folder ? folder : "/tmp", (int)getpid(), name);
    FILE *f = fopen(path, "wb");
    if (!f) {
        perror(path);
        exit(3);
    }
    setvbuf(f, NULL, _IOFBF, 1 << 20);
    return f;
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static void fail(const mst_error *error) {
    fprintf(stderr, "%s:%d:%d: %s\n", error->page, error->row, error->column, error->sentence);
    exit(3);
}

/* ---- text ---- */

static double read_once(mst_cloud_file *file, uint64_t *count) {
    mst_cloud_source source = mst_cloud_file_points(file, 1, 1);
    mst_cloud_point p[512];
    mst_error error = {0};
    size_t came = 1;
    double sum = 0;
    if (source.rewind(source.self, &error)) fail(&error);
    for (*count = 0; came; *count += came) {
        if (source.read(source.self, p, 512, &came, &error)) fail(&error);
        for (size_t i = 0; i < came; i++) sum += p[i].easting_m + p[i].northing_m + p[i].elevation_m;
    }
    return sum;
}

static int bench_text(uint64_t lines) {
    char path[300];
    FILE *f = make_file(path, "xyz");
    generated g = generate(lines, 0.1, 0.01);
    mst_cloud_point p[512];
    size_t came = 1;
    while (generated_read(&g, p, 512, &came, NULL) == MST_OK && came)
        for (size_t i = 0; i < came; i++)
            fprintf(f, "%.3f,%.3f,%.3f,%d\n", p[i].easting_m, p[i].northing_m, p[i].elevation_m, p[i].class_code);
    double bytes = (double)ftell(f), wall[PASSES], busy[PASSES], sum = 0;
    fclose(f);
    mst_cloud_file *file;
    mst_error error = {0};
    uint64_t count = 0;
    if (mst_cloud_open(path, NULL, &file, &error)) fail(&error);
    for (int i = 0; i < PASSES; i++) {
        double start = now(), start_user = user();
        sum = read_once(file, &count);
        wall[i] = now() - start;
        busy[i] = user() - start_user;
    }
    mst_cloud_close(file);
    unlink(path);
    qsort(wall, PASSES, sizeof *wall, by_size);
    qsort(busy, PASSES, sizeof *busy, by_size);
    double w = (wall[4] + wall[5]) / 2, b = (busy[4] + busy[5]) / 2;
    printf("text: %llu lines, %.0f MB, median of %d passes: %.3f s wall (best %.3f), %.3f s user; %.0f MB/s wall (best "
           "%.0f), %.0f MB/s user, %.1f ns a line user (sum %.3f)\n",
           (unsigned long long)count, bytes / 1e6, PASSES, w, wall[0], b, bytes / 1e6 / w, bytes / 1e6 / wall[0],
           bytes / 1e6 / b, b * 1e9 / (double)count, sum);
    return 0;
}

/* ---- LAS ---- */

static void put32(unsigned char *p, uint32_t v) {
    p[0] = (unsigned char)v, p[1] = (unsigned char)(v >> 8), p[2] = (unsigned char)(v >> 16),
    p[3] = (unsigned char)(v >> 24);
}
static void put_double(unsigned char *p, double v) {
    uint64_t bits;
    memcpy(&bits, &v, sizeof bits);
    put32(p, (uint32_t)bits), put32(p + 4, (uint32_t)(bits >> 32));
}

static void write_las(FILE *f, generated *g) {
    enum { HEAD = 227, RECORD = 20 };
    unsigned char h[HEAD] = {0}, r[RECORD] = {0};
    const double offset[3] = {452000, 4987000, 0};
    memcpy(h, "LASF", 4);
    h[24] = 1, h[25] = 2, h[94] = HEAD, h[96] = HEAD, h[105] = RECORD;
    put32(h + 107, (uint32_t)g->count);
    for (int k = 0; k < 3; k++) put_double(h + 131 + 8 * k, 0.001), put_double(h + 155 + 8 * k, offset[k]);
    fwrite(h, 1, HEAD, f);
    mst_cloud_point p[512];
    size_t came = 1;
    while (generated_read(g, p, 512, &came, NULL) == MST_OK && came)
        for (size_t i = 0; i < came; i++) {
            put32(r, (uint32_t)(int32_t)lround((p[i].easting_m - offset[0]) * 1000));
            put32(r + 4, (uint32_t)(int32_t)lround((p[i].northing_m - offset[1]) * 1000));
            put32(r + 8, (uint32_t)(int32_t)lround(p[i].elevation_m * 1000));
            r[15] = p[i].class_code;
            fwrite(r, 1, RECORD, f);
        }
}

static void tell(void *self, double fraction, const char *sentence) {
    const char **last = self;
    if (*last != sentence) fprintf(stderr, "  %3.0f %%  %s\n", 100 * fraction, sentence);
    *last = sentence;
}

static int bench_las(uint64_t points, double spacing_m, double noise_m, double tolerance_m) {
    char path[300];
    FILE *f = make_file(path, "las");
    generated g = generate(points, spacing_m, noise_m);
    write_las(f, &g);
    double bytes = (double)ftell(f);
    if (fclose(f) != 0) {
        perror(path);
        return 3;
    }
    const char *last = "";
    mst_cloud_import import = {.tolerance_m = tolerance_m, .plan_m = 1, .classes = {1 << 2}, .progress = {&last, tell}};
    mst_cloud_report report;
    mst_error error = {0};
    mst_arena *arena = mst_arena_new();
    double start_user = user();
    mst_status status = mst_cloud_to_points(path, &import, arena, &report, &error);
    double busy = user() - start_user;
    unlink(path);
    if (status) fail(&error);
    const mst_cloud_fit *fit = &report.thinned.fit;
    printf("LAS: %llu points %.3f m apart, noise sd %.3f m, %.2f GB, thinned to %.3f m: %zu points kept, largest error "
           "%.4f m, rms %.4f m, %llu beyond; "
           "%.1f s wall, %.1f s user, %.0f ns a point, peak memory %ld MB\n",
           (unsigned long long)fit->count, spacing_m, noise_m, bytes / 1e9, tolerance_m, report.thinned.count,
           fit->largest_m, fit->rms_m, (unsigned long long)fit->beyond, report.seconds, busy,
           report.seconds * 1e9 / (double)fit->count, peak_mb());
    mst_arena_free(arena);
    return fit->beyond != 0 || fit->largest_m > tolerance_m + 1e-6;
}

int main(int count, char *words[]) {
    say_machine();
    if (count >= 2 && strcmp(words[1], "text") == 0) return bench_text(count > 2 ? (uint64_t)atof(words[2]) : 10000000);
    if (count == 6 && strcmp(words[1], "las") == 0)
        return bench_las((uint64_t)atof(words[2]), atof(words[3]), atof(words[4]), atof(words[5]));
    fprintf(stderr, "usage: bench_cloud text [LINES] | las POINTS SPACING NOISE TOLERANCE\n");
    return 2;
}
