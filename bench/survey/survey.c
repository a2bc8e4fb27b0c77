/* bench_survey own|peer STATIONS [sd]: one network, one solver, one process; prints one line.
 * bench_survey site POINTS [MISTAKES]: a property with all kinds of readings, adjusted with everything that comes of
 * it. bench_survey pages POINTS FOLDER: writes that property's field pages. */
#include "garden.h"
#include "grid.h"
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

static int solve_grid(const char *who, size_t stations, int with_sd) {
    grid g = grid_make(stations);
    grid_result r = {.inverse_user = NAN};
    int failed = strcmp(who, "own") == 0 ? grid_solve_own(&g, with_sd, &r) : grid_solve_peer(&g, 1, &r);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf("%s stations %zu readings %zu cost %.9g steps %d wall %.4f user %.4f sd %.4f rss %.1f\n", who, g.stations,
           g.count, r.cost, r.iterations, r.seconds, r.user, r.inverse_user, (double)usage.ru_maxrss / 1024);
    grid_free(&g);
    return failed;
}

static double now(clockid_t clock) {
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* The fastest of several runs: what the work takes when nobody else wants the machine. */
static int adjust_site(size_t points, size_t mistakes) {
    garden g = garden_make(points, mistakes);
    double user = HUGE_VAL, wall = HUGE_VAL;
    for (int run = 0; run < (points > 2000 ? 1 : getenv("RUNS") ? atoi(getenv("RUNS")) : 20); run++) {
        mst_arena *arena = mst_arena_new();
        mst_site *site = garden_site(&g, arena);
        mst_adjust_options options = {.projector = garden_projector()};
        mst_adjustment *a = NULL;
        mst_error error = {0};
        double user0 = now(CLOCK_PROCESS_CPUTIME_ID), wall0 = now(CLOCK_MONOTONIC);
        if (!site || mst_adjust(site, &options, arena, &a, &error))
            return fprintf(stderr, "%s:%d: %s\n", error.page, error.row, error.sentence), 1;
        user = fmin(user, now(CLOCK_PROCESS_CPUTIME_ID) - user0);
        wall = fmin(wall, now(CLOCK_MONOTONIC) - wall0);
        if (run == 0)
            printf("site points %zu readings %zu freedom %d sigma0 %.3f suspects %zu undetermined %zu left-out %zu ",
                   a->point_count, a->observation_count, a->degrees_of_freedom, a->sigma0, a->suspect_count,
                   a->undetermined_count, a->left_out_count);
        mst_arena_free(arena);
    }
    printf("wall %.4f user %.4f\n", wall, user);
    garden_free(&g);
    return 0;
}

static int write_pages(size_t points, const char *folder) {
    garden g = garden_make(points, 0);
    for (int i = 0; i < GARDEN_PAGES; i++) {
        char path[1000];
        snprintf(path, sizeof path, "%s/%s", folder, g.pages[i].name);
        FILE *file = fopen(path, "wb");
        if (!file || fwrite(g.pages[i].text.data, 1, g.pages[i].text.length, file) != g.pages[i].text.length ||
            fclose(file))
            return perror(path), 1;
    }
    garden_free(&g);
    return 0;
}

int main(int count, char **words) {
    if (count < 3)
        return fprintf(stderr, "bench_survey own|peer STATIONS [sd] | site POINTS [MISTAKES] | pages POINTS FOLDER\n"),
               2;
    size_t size = (size_t)strtod(words[2], NULL);
    if (strcmp(words[1], "site") == 0) return adjust_site(size, count > 3 ? (size_t)strtod(words[3], NULL) : 0);
    if (strcmp(words[1], "pages") == 0) return count > 3 ? write_pages(size, words[3]) : 2;
    return solve_grid(words[1], size, count > 3);
}
