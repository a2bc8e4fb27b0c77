/* The public call, from an adjustment, features, a ground and works made by hand, on a national grid's large
 * coordinates. Sources: the trade page on drawings, sections 1 and 6 (what a sheet must say, the faults looked for
 * first). */
#include "lsan_helper.c"
#include "drawing/look.h"
#include "merestone/drawing.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

static const double E0 = 451200, N0 = 5412300;

typedef struct job {
    mst_arena *arena;
    mst_site site;
    mst_adjustment adjustment;
    mst_ground *ground;
    mst_earthwork_report earthwork;
    mst_element element;
    mst_drawing_input input;
    mst_drawing_options options;
} job;

static const struct {
    const char *name, *code;
    double e, n, z;
    int readings;
} POINTS[] = {{"A", "", 0, 0, 50.0, 9},
              {"B", "", 36, 0, 50.4, 6},
              {"H1", "house", 8, 18, 51.2, 4},
              {"H2", "house", 20, 18, 51.3, 4},
              {"H3", "house", 20, 25, 51.5, 4},
              {"H4", "house", 8, 25, 51.45, 4},
              {"D", "threshold", 14, 18, 51.405, 3},
              {"T1", "", 8, 13, 50.9, 3},
              {"T2", "", 20, 13, 51.0, 3},
              {"G1", "", 2, 30, 51.6, 1},
              {"G2", "", 35, 29, 51.9, 2},
              {"L1", "", 30, 10, 50.7, 2},
              {"L2", "", 5, 8, 50.4, 1},
              {"W1", "", 3, 4, NAN, 2},
              {"W2", "", 3 + 28.8, 4 + 8.4, NAN, 2}};
enum { POINT_COUNT = sizeof POINTS / sizeof *POINTS };

static mst_feature feature(job *j, const char *name, const char *code, mst_feature_kind kind, const char *points) {
    mst_feature f = {.name = name, .code = code, .kind = kind, .page = ""};
    size_t capacity = 0;
    char *words = mst_arena_string(j->arena, points);
    for (char *word = strtok(words, " "); word; word = strtok(NULL, " ")) {
        mst_vertex *v = MST_PUSH(j->arena, f.vertices, f.vertex_count, capacity);
        *v = (mst_vertex){.point = word, .edge = MST_EDGE_STRAIGHT};
    }
    return f;
}

static void add_points(job *j) {
    mst_adjustment *a = &j->adjustment;
    a->points = mst_arena_array(j->arena, POINT_COUNT, sizeof *a->points);
    a->point_count = POINT_COUNT;
    for (uint32_t i = 0; i < POINT_COUNT; i++) {
        bool level = isfinite(POINTS[i].z);
        a->points[i] = (mst_adjusted_point){.name = POINTS[i].name,
                                            .code = POINTS[i].code,
                                            .easting_m = E0 + POINTS[i].e,
                                            .northing_m = N0 + POINTS[i].n,
                                            .elevation_m = POINTS[i].z,
                                            .sd_elevation_m = level ? 0.004 : NAN,
                                            .semi_major_m = 0.009,
                                            .semi_minor_m = 0.006,
                                            .has_plan = true,
                                            .has_height = level,
                                            .held_plan = i == 0,
                                            .held_height = i == 0,
                                            .readings = POINTS[i].readings};
        assert_true(mst_index_put(&a->index, j->arena, POINTS[i].name, i));
    }
}

static void add_features(job *j) {
    j->site.features = mst_arena_array(j->arena, 5, sizeof(mst_feature));
    j->site.features[0] = feature(j, "House", "building", MST_FEATURE_AREA, "H1 H2 H3 H4");
    j->site.features[1] = feature(j, "Terrace", "paving", MST_FEATURE_AREA, "T1 T2 H2 H1");
    j->site.features[2] = feature(j, "Wall", "garden wall", MST_FEATURE_LINE, "W1 W2");
    j->site.features[3] = feature(j, "Door", "threshold", MST_FEATURE_SPOT, "D");
    j->site.features[4] = feature(j, "Lost", "fence", MST_FEATURE_LINE, "A Z9");
    j->site.feature_count = 5;
}

static job job_new(void) {
    static const char *undetermined[] = {"Z9"}, *why[] = {"one distance only"};
    static mst_visit visits[] = {{1, "2031-05-02"}, {2, "2031-05-20"}};
    static mst_page pages[] = {{.kind = MST_PAGE_TAPE, .name = "tape.csv", .gear = "tape"},
                               {.kind = MST_PAGE_LEVELS, .name = "l.csv", .gear = "level"}};
    job j = {.arena = mst_arena_new()};
    add_points(&j);
    add_features(&j);
    j.site.visits = visits, j.site.visit_count = 2, j.site.pages = pages, j.site.page_count = 2;
    j.adjustment.undetermined = undetermined, j.adjustment.undetermined_why = why, j.adjustment.undetermined_count = 1;
    j.adjustment.observation_count = 57, j.adjustment.degrees_of_freedom = 21, j.adjustment.global_test.passed = true;
    j.adjustment.sigma0 = j.adjustment.scale = 1;
    j.adjustment.datum = "Levels count from A, held at 50.000 m.";
    return j;
}

/* The input points into the job, so it is made where the job stays. */
static void prepare(job *j) {
    mst_error error = {0};
    assert_int_equal(mst_ground_from_site(&j->site, &j->adjustment, j->arena, &j->ground, &error), MST_OK);
    j->element = (mst_element){.name = "terrace",
                               .in = "Terrace",
                               .kind = MST_WORK_FALLING_PAD,
                               .finish = {E0 + 8, N0 + 18, 51.25, 0, 1.0 / 60},
                               .build_up_m = 0.15};
    j->earthwork.total =
        (mst_earthwork){.cut_m3 = {3.4, 2.9, 3.9}, .fill_m3 = {7.7, 7.1, 8.3}, .net_m3 = {-4.3, -5, -3.6}};
    j->input = (mst_drawing_input){.site = &j->site,
                                   .adjustment = &j->adjustment,
                                   .ground = j->ground,
                                   .earthwork = &j->earthwork,
                                   .elements = &j->element,
                                   .element_count = 1,
                                   .text = {.title = "Terrace",
                                            .number = "0007-GR-01",
                                            .revision = "A",
                                            .date = "2031-05-21",
                                            .status = "FOR CONSTRUCTION"}};
    j->options = (mst_drawing_options){.paper = "A3", .scale = 200};
}

static void path_of(char out[64], const char *name) {
    snprintf(out, 64, "/tmp/merestone-plan-%d-%s", (int)getpid(), name);
}

static mst_text read_with(const char *command, const char *path) {
    char line[200], part[4096];
    mst_text out = {0};
    size_t n;
    snprintf(line, sizeof line, command, path);
    FILE *pipe = popen(line, "r");
    while ((n = fread(part, 1, sizeof part, pipe)) > 0) mst_text_add(&out, part, n);
    assert_int_equal(pclose(pipe), 0);
    return out;
}

static mst_text words_of(job *j) {
    char path[64];
    double scale = 0;
    mst_error error = {0};
    path_of(path, "words.pdf");
    if (mst_draw_plan(&j->input, &j->options, path, &scale, &error)) fail_msg("%s", error.sentence);
    mst_text words = read_with("pdftotext -raw %s - | tr '\\n' ' '", path);
    unlink(path);
    return words;
}

static void has(const mst_text *page, const char *words) {
    if (!strstr(page->data, words)) fail_msg("the sheet does not say \"%s\"", words);
}

static void the_survey_speaks_for_itself(void **state) {
    (void)state;
    static const char *const words[] = {"FOR CONSTRUCTION",
                                        "1:200 at A3",
                                        "Levels count from A, held at 50.000 m.",
                                        "57 readings",
                                        "2031-05-02, 2031-05-20",
                                        "Gear: tape, level.",
                                        "With 21 checks the readings agree",
                                        "2 points rest on one reading each",
                                        "Without a place, not drawn: Z9.",
                                        "a point has no place: Lost.",
                                        "underground services and drains, trees, line of occupation",
                                        "Cut 3.4 m\xC2\xB3 (2.9 to 3.9 m\xC2\xB3)",
                                        "licensed engineer",
                                        "51.405",
                                        "84.0 m\xC2\xB2",
                                        "30.00",
                                        "falls 1:60",
                                        "FL 51.250",
                                        "contour, 0.1 m",
                                        "limit of model",
                                        "E 451210",
                                        "N 5412310",
                                        "plan 9 mm, level 4 mm"};
    job j = job_new();
    prepare(&j);
    mst_text page = words_of(&j);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) has(&page, words[i]);
    assert_null(strstr(page.data, "Not for construction"));
    mst_text_free(&page);
    mst_arena_free(j.arena);
}

static void a_failed_test_and_a_suspect_are_named(void **state) {
    (void)state;
    static mst_suspect suspects[] = {{.observation = 0,
                                      .estimated_error = 1.0,
                                      .alone = true,
                                      .sentence = "Tape A to B reads 1.00 m long (tape.csv row 4)."}};
    job j = job_new();
    prepare(&j);
    j.adjustment.global_test.passed = false;
    j.adjustment.global_test.statistic = 60, j.adjustment.global_test.upper = 35;
    j.adjustment.scale = 1.7;
    j.adjustment.suspects = suspects, j.adjustment.suspect_count = 1;
    mst_text page = words_of(&j);
    has(&page, "disagree more than the gear should allow (21 checks): deviations widened by 1.7.");
    has(&page, "Suspect: Tape A to B reads 1.00 m long (tape.csv row 4).");
    mst_text_free(&page);
    j.adjustment.degrees_of_freedom = 0;
    page = words_of(&j);
    has(&page, "No reading checks another: nothing here is proven.");
    mst_text_free(&page);
    mst_arena_free(j.arena);
}

/* A wall of 30 m on a national grid: 150 mm at 1:200, to what a rule can tell. */
static void large_coordinates_stay_true_to_scale(void **state) {
    (void)state;
    char path[64];
    int found = 0;
    job j = job_new();
    prepare(&j);
    path_of(path, "grid.pdf");
    assert_int_equal(mst_draw_plan(&j.input, &j.options, path, NULL, NULL), MST_OK);
    mst_text svg = read_with("pdftocairo -svg %s -", path);
    for (const char *at = svg.data; (at = strstr(at, "d=\"M")) != NULL; at++) {
        double x0, y0, x1, y1;
        if (sscanf(at + 3, "M %lf %lf L %lf %lf", &x0, &y0, &x1, &y1) != 4) continue;
        found += fabs(hypot(x1 - x0, y1 - y0) * 25.4 / 72 - 150) <= 0.05 &&
                 fabs((x1 - x0) / hypot(x1 - x0, y1 - y0) - 0.96) < 1e-3;
    }
    assert_int_equal(found, 1);
    mst_text_free(&svg);
    unlink(path);
    mst_arena_free(j.arena);
}

static void twice_the_same_bytes(void **state) {
    (void)state;
    static const char *const endings[] = {"a.pdf", "a.svg", "a.png"};
    for (int i = 0; i < 3; i++) {
        char path[64];
        mst_text bytes[2];
        path_of(path, endings[i]);
        for (int k = 0; k < 2; k++) {
            job j = job_new();
            double scale = 0;
            prepare(&j);
            j.options.scale = 0;
            j.options.ellipses = j.options.point_names = true;
            assert_int_equal(mst_draw_plan(&j.input, &j.options, path, &scale, NULL), MST_OK);
            assert_true(scale == 125 || scale == 200);
            bytes[k] = read_with("cat %s", path);
            mst_arena_free(j.arena);
        }
        assert_int_equal(bytes[0].length, bytes[1].length);
        assert_memory_equal(bytes[0].data, bytes[1].data, bytes[0].length);
        mst_text_free(&bytes[0]);
        mst_text_free(&bytes[1]);
        unlink(path);
    }
}

/* Each look of the ground names its steps in the legend; without one there is none. */
static void the_ground_is_shaded_with_a_legend(void **state) {
    (void)state;
    static const char *const words[] = {"", "light from NW, heights x 3", "slope 2 to 5 %", "level 50.50 to 50.75 m",
                                        "take one more level, A first"};
    for (int look = MST_LOOK_NONE; look <= MST_LOOK_DOUBT; look++) {
        job j = job_new();
        prepare(&j);
        j.input.look = (mst_ground_look)look;
        if (look == MST_LOOK_DOUBT) assert_int_equal(mst_ground_trust(j.ground, &j.adjustment, j.arena, NULL), MST_OK);
        j.input.contour_interval_m = 0.25;
        j.options.paper = "A2";
        mst_text page = words_of(&j);
        for (int k = MST_LOOK_SHADE; k <= MST_LOOK_DOUBT; k++)
            if (!strstr(page.data, words[k]) != (k != look)) fail_msg("look %d and \"%s\"", look, words[k]);
        mst_text_free(&page);
        mst_arena_free(j.arena);
    }
}

/* Black ink alone tells the bands of slope apart: rendered, the share of ink in each differs clearly from every other,
 * or the one has upright lines and the other has not. */
static void bands_differ_without_colour(void **state) {
    (void)state;
    enum { DOTS = 8, W = 400, H = 400 };
    double ink[MST_SLOPE_BANDS];
    mst_sizes sizes = {.fine = 0.18, .medium = 0.35};
    for (int b = 0; b < MST_SLOPE_BANDS; b++) {
        cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_A8, W, H);
        mst_pen pen = {.cairo = cairo_create(image)};
        cairo_scale(pen.cairo, DOTS, DOTS);
        mst_draw_slope_sample(&pen, &sizes, (mst_rect){0, 0, (double)W / DOTS, (double)H / DOTS}, b);
        cairo_surface_flush(image);
        const unsigned char *bytes = cairo_image_surface_get_data(image);
        int stride = cairo_image_surface_get_stride(image);
        ink[b] = 0;
        for (int y = DOTS; y < H - DOTS; y++)
            for (int x = DOTS; x < W - DOTS; x++) ink[b] += bytes[y * stride + x] / 255.0;
        cairo_destroy(pen.cairo);
        cairo_surface_destroy(image);
    }
    for (int a = 0; a < MST_SLOPE_BANDS; a++) {
        assert_true(ink[a] > 0);
        bool mesh_a = a >= 4;
        for (int b = a + 1; b < MST_SLOPE_BANDS; b++)
            if (mesh_a == (b >= 4) && a > 0) assert_true(ink[b] > 1.3 * ink[a]);
    }
}

static void refused(job *j, const char *path, mst_status status, const char *words) {
    mst_error error = {0};
    double scale = -7;
    assert_int_equal(mst_draw_plan(&j->input, &j->options, path, &scale, &error), status);
    if (!strstr(error.sentence, words)) fail_msg("\"%s\" does not say \"%s\"", error.sentence, words);
    assert_true(scale == -7);
    assert_int_equal(access(path, F_OK), -1);
}

static void what_cannot_be_drawn_is_refused(void **state) {
    (void)state;
    char path[64];
    job j = job_new();
    prepare(&j);
    path_of(path, "no.pdf");
    refused(&j, "/tmp/merestone-plan.doc", MST_INVALID, ".pdf, .svg or .png");
    refused(&j, "/tmp/no/such/folder/plan.pdf", MST_IO, "cannot be written");
    j.options.paper = "B5";
    refused(&j, path, MST_INVALID, "A4, A3, A2, A1, A0, letter or tabloid");
    j.options.paper = "A4";
    j.options.scale = 50;
    refused(&j, path, MST_INVALID, "does not fit on A4 at 1:50: take 1:");
    j.options.scale = -2;
    refused(&j, path, MST_INVALID, "cannot be drawn");
    j.options.scale = NAN;
    refused(&j, path, MST_INVALID, "cannot be drawn");
    j.options.scale = 200;
    j.options.north_up_turn_rad = INFINITY;
    refused(&j, path, MST_INVALID, "turn");
    j.options.north_up_turn_rad = 0;
    for (size_t i = 0; i < j.adjustment.point_count; i++) j.adjustment.points[i].has_plan = false;
    refused(&j, path, MST_TOO_FEW, "nothing to draw yet");
    mst_arena_free(j.arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_survey_speaks_for_itself),         cmocka_unit_test(a_failed_test_and_a_suspect_are_named),
        cmocka_unit_test(large_coordinates_stay_true_to_scale), cmocka_unit_test(twice_the_same_bytes),
        cmocka_unit_test(the_ground_is_shaded_with_a_legend),   cmocka_unit_test(bands_differ_without_colour),
        cmocka_unit_test(what_cannot_be_drawn_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
