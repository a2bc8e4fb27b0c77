/* bench_survey own|peer STATIONS [sd]: one network, one solver, one process; prints one line. */
#include "grid.h"
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>

int main(int count, char **words) {
    if (count < 3) return fprintf(stderr, "bench_survey own|peer STATIONS [sd]\n"), 2;
    grid g = grid_make((size_t)strtod(words[2], NULL));
    grid_result r = {.inverse_user = NAN};
    int with_sd = count > 3 && strcmp(words[3], "sd") == 0;
    int failed = strcmp(words[1], "own") == 0 ? grid_solve_own(&g, with_sd, &r) : grid_solve_peer(&g, 1, &r);
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    printf("%s stations %zu readings %zu cost %.9g steps %d wall %.4f user %.4f sd %.4f rss %.1f\n", words[1], g.stations,
           g.count, r.cost, r.iterations, r.seconds, r.user, r.inverse_user, (double)usage.ru_maxrss / 1024);
    grid_free(&g);
    return failed;
}
