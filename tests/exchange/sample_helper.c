/* Included by the tests of handing over: a small site made by hand, files beside the test, and scripts that read them.
 */
#include "merestone/exchange.h"
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>
#include "setout/control_helper.c"

static mst_arena *arena;
static char folder[64];
static int open_all(void **state) {
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/merestone-exchange-XXXXXX");
    arena = mst_arena_new();
    return !arena || !mkdtemp(folder);
}
static inline int close_all(void **state) {
    (void)state;
    char command[100];
    snprintf(command, sizeof command, "rm -r '%s'", folder);
    mst_arena_free(arena);
    return system(command);
}
#define TEST(f) cmocka_unit_test_setup_teardown(f, open_all, close_all)

static inline const char *file_named(const char *name) { return mst_arena_printf(arena, "%s/%s", folder, name); }
static inline void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.12f is not %.12f within %g", a, b, by);
}

static inline char *read_stream(FILE *stream, size_t *length) {
    mst_text all = {0};
    char piece[4096];
    size_t n;
    while ((n = fread(piece, 1, sizeof piece, stream)) > 0) mst_text_add(&all, piece, n);
    char *text = mst_arena_text(arena, all.data ? all.data : "", all.length);
    if (length) *length = all.length;
    mst_text_free(&all);
    return text;
}
static inline char *contents(const char *path, size_t *length) {
    FILE *stream = fopen(path, "rb");
    if (!stream) fail_msg("%s is not there", path);
    char *text = read_stream(stream, length);
    fclose(stream);
    return text;
}
/* What a script of tests/exchange prints about a file; it must end well. */
static inline char *script(const char *name, const char *path) {
    FILE *out =
        popen(mst_arena_printf(arena, "/usr/bin/python3 '%s/../exchange/%s' '%s' 2>&1", TEST_DATA, name, path), "r");
    assert_non_null(out);
    char *text = read_stream(out, NULL);
    int rc = pclose(out);
    if (rc != 0) fail_msg("%s: %s", name, text);
    return text;
}
static inline size_t count_of(const char *text, const char *words) {
    size_t n = 0;
    for (const char *at = strstr(text, words); at; at = strstr(at + 1, words)) n++;
    return n;
}

/* A terrace with a rounded corner and a pond cut out of it, a kerb with levels, a path at one level, trees; on a far
 * grid. */
#define E0 412345.678
#define N0 5623456.789
static const known POINTS[] = {
    {"C1", "", E0 - 5, N0 - 5, 100.0, 0, true},
    {"a", "PAVE", E0, N0, NAN, 0.004, false},
    {"b", "PAVE", E0 + 10, N0, NAN, 0.004, false},
    {"m", "PAVE", E0 + 10 + 2.8284271247461903, N0 + 1.1715728752538097, NAN, 0.004, false},
    {"c", "PAVE", E0 + 14, N0 + 4, NAN, 0.004, false},
    {"d", "PAVE", E0, N0 + 12, NAN, 0.004, false},
    {"p", "", E0 + 3, N0 + 3, NAN, 0.004, false},
    {"q", "", E0 + 5, N0 + 3, NAN, 0.004, false},
    {"r", "", E0 + 5, N0 + 5, NAN, 0.004, false},
    {"k1", "KERB", E0, N0 - 2, 99.5, 0.004, false},
    {"k2", "KERB", E0 + 5, N0 - 2, 99.6, 0.004, false},
    {"k3", "KERB", E0 + 10, N0 - 2, 99.7, 0.004, false},
    {"w1", "PATH", E0, N0 + 14, 99.8, 0.004, false},
    {"w2", "PATH", E0 + 6, N0 + 14, 99.8, 0.004, false},
    {"Bl\xC3\xBCte \xE2\x82\xAC 50%% ^ \xCE\xB1", "TREE \xC3\xB8", E0 + 2, N0 + 8, 99.9, 0.02, false},
    {"high", "", NAN, NAN, 101.0, 0.002, false}};
static mst_vertex TERRACE[] = {{"a", 0, 0, 2},
                               {"b", 0, 0, 3},
                               {"m", MST_EDGE_ARC, 0, 4},
                               {"c", MST_EDGE_ARC, 0, 5},
                               {"d", 0, 0, 6},
                               {"p", 0, 1, 7},
                               {"q", 0, 1, 8},
                               {"r", 0, 1, 9}};
static mst_vertex KERB[] = {{"k1", 0, 0, 2}, {"k2", 0, 0, 3}, {"k3", 0, 0, 4}},
                  PATH[] = {{"w1", 0, 0, 2}, {"w2", 0, 0, 3}}, LOST[] = {{"a", 0, 0, 2}, {"high", 0, 0, 3}},
                  TREE[] = {{"Bl\xC3\xBCte \xE2\x82\xAC 50%% ^ \xCE\xB1", 0, 0, 2}};
static mst_feature FEATURES[] = {
    {.name = "terrace", .code = "PAVE", .kind = MST_FEATURE_AREA, .page = "", .vertices = TERRACE, .vertex_count = 8},
    {.name = "kerb \"A\" & <B>",
     .code = "KERB",
     .kind = MST_FEATURE_LINE,
     .role = MST_ROLE_BREAKLINE,
     .page = "",
     .vertices = KERB,
     .vertex_count = 3},
    {.name = "path", .code = "PATH", .kind = MST_FEATURE_LINE, .page = "", .vertices = PATH, .vertex_count = 2},
    {.name = "tree",
     .code = "TREE \xC3\xB8",
     .kind = MST_FEATURE_SPOT,
     .page = "",
     .vertices = TREE,
     .vertex_count = 1},
    {.name = "lost", .code = "PATH", .kind = MST_FEATURE_LINE, .page = "", .vertices = LOST, .vertex_count = 2}};
enum { POINT_COUNT = sizeof POINTS / sizeof *POINTS, FEATURE_COUNT = sizeof FEATURES / sizeof *FEATURES };

static inline mst_handover sample(const char *units) {
    mst_setting *settings = mst_arena_array(arena, 2, sizeof *settings);
    mst_site *site = measured_site(POINTS, POINT_COUNT, arena);
    settings[0] = (mst_setting){"units", units};
    settings[1] = (mst_setting){"title", "Plot 3 & yard"};
    site->settings = settings, site->setting_count = 2, site->features = FEATURES, site->feature_count = FEATURE_COUNT;
    return (mst_handover){.site = site, .adjustment = adjusted(site, arena)};
}
static inline const mst_ground *small_ground(void) {
    static const mst_ground_point p[] = {{E0, N0, 10, 0},
                                         {E0 + 10, N0, 11, 1},
                                         {E0 + 10, N0 + 10, 12, 2},
                                         {E0, N0 + 10, 10.5, 3},
                                         {E0 + 5, N0 + 5, 10.7, 4}};
    const mst_ground_input input = {.points = p, .point_count = 5};
    mst_ground *ground;
    mst_error error = {0};
    if (mst_ground_build(&input, arena, &ground, &error)) fail_msg("%s", error.sentence);
    return ground;
}
