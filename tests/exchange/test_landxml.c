/* LandXML out and in again, and what a reader of strangers' files must refuse, with its line. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static mst_surface *read_back(const char *path) {
    size_t length, count;
    char *text = contents(path, &length);
    mst_surface *s;
    mst_error error = {0};
    if (mst_read_landxml(text, length, "t.xml", arena, &s, &count, &error))
        fail_msg("%d: %s", error.row, error.sentence);
    assert_int_equal(count, 1);
    return s;
}
static void the_ground_comes_back(void **state) {
    (void)state;
    static const char *const UNITS[] = {"metric", "imperial"};
    for (int u = 0; u < 2; u++) {
        mst_handover h = sample(UNITS[u]);
        h.ground = small_ground();
        mst_error error = {0};
        if (mst_write_landxml(&h, file_named("t.xml"), &error)) fail_msg("%s", error.sentence);
        mst_surface *s = read_back(file_named("t.xml"));
        size_t triangles, vertices;
        const uint32_t(*t)[3] = mst_ground_triangles(h.ground, &triangles);
        const mst_ground_point *v = mst_ground_vertices(h.ground, &vertices);
        mst_ground_figures figures;
        mst_ground_describe(h.ground, &figures);
        assert_string_equal(s->name, "Plot 3 & yard");
        assert_int_equal(s->face_count, triangles);
        near(s->stated_area_m2, figures.plan_area_m2, 1e-9);
        near(s->stated_slope_area_m2, figures.slope_area_m2, 1e-9);
        for (size_t i = 0; i < triangles; i++)
            for (int k = 0; k < 3; k++) {
                const double *p = s->points[s->faces[i][k]];
                near(p[0], v[t[i][k]].easting_m, u ? 1e-9 : 0);
                near(p[1], v[t[i][k]].northing_m, u ? 2e-9 : 0);
                near(p[2], v[t[i][k]].elevation_m, u ? 1e-12 : 0);
            }
    }
}
static void the_date_is_the_callers(void **state) {
    (void)state;
    mst_handover h = sample("metric");
    h.ground = small_ground();
    h.written = "2024-05-06T07:08:09";
    assert_int_equal(mst_write_landxml(&h, file_named("t.xml"), NULL), MST_OK);
    assert_non_null(strstr(contents(file_named("t.xml"), NULL), "date=\"2024-05-06\" time=\"07:08:09\""));
    h.ground = NULL;
    assert_int_equal(mst_write_landxml(&h, file_named("t.xml"), NULL), MST_TOO_FEW);
}

#define ROOT "<LandXML xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" version=\"1.2\">\n"
#define METRIC "<Units><Metric linearUnit=\"meter\"/></Units>\n"
#define SURFACE "<Surfaces><Surface name=\"s\"><Definition surfType=\"TIN\">\n"
#define PNTS "<Pnts><P id=\"1\">0 0 1</P><P id=\"2\">0 1 1</P><P id=\"3\">1 0 1</P></Pnts>\n"
#define TAIL "</Definition></Surface></Surfaces></LandXML>\n"
static void refused_at(const char *text, int line, const char *words) {
    mst_surface *s = NULL;
    size_t count = 77;
    mst_error error = {0};
    mst_status status = mst_read_landxml(text, strlen(text), "t.xml", arena, &s, &count, &error);
    if (status != MST_INVALID || count != 77) fail_msg("not refused: %s", words);
    if (!strstr(error.sentence, words)) fail_msg("'%s' does not say '%s'", error.sentence, words);
    if (error.row != line) fail_msg("line %d, not %d: %s", error.row, line, error.sentence);
    assert_string_equal(error.page, "t.xml");
}
static void refused_with_the_line(void **state) {
    (void)state;
    refused_at("", 0, "empty");
    refused_at("<gpx/>", 1, "not a LandXML 1.2 file");
    refused_at("<LandXML/>", 1, "not a LandXML 1.2 file");
    refused_at(ROOT "</LandXML>", 0, "no surface");
    refused_at(ROOT SURFACE "<Faces/>" TAIL, 2, "does not state its length unit");
    refused_at(ROOT "<Units><Metric linearUnit=\"cubit\"/></Units></LandXML>", 2, "'cubit' is not known");
    refused_at(
        ROOT METRIC
        "<Surfaces><Surface name=\"s\"><Definition surfType=\"grid\"></Definition></Surface></Surfaces></LandXML>",
        3, "only triangles");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces>\n<F>1 2 4</F></Faces>" TAIL, 6, "names point 4");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces><F>1 2</F></Faces>" TAIL, 5, "does not name three");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces><F>1 2 3 1</F></Faces>" TAIL, 5, "more than three");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces><F>1 2 2</F></Faces>" TAIL, 5, "one point twice");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces><F i=\"1\">1 2 3</F></Faces>" TAIL, 3, "no face");
    refused_at(ROOT METRIC SURFACE "<Pnts><P id=\"1\">0 0</P></Pnts>" TAIL, 4, "three numbers");
    refused_at(ROOT METRIC SURFACE "<Pnts><P id=\"1\">0 0 nan</P></Pnts>" TAIL, 4, "three numbers");
    refused_at(ROOT METRIC SURFACE "<Pnts><P id=\"1\">0 1e30 0</P></Pnts>" TAIL, 4, "farther away");
    refused_at(ROOT METRIC SURFACE "<Pnts><P>0 0 0</P></Pnts>" TAIL, 4, "no id");
    refused_at(ROOT METRIC SURFACE "<Pnts>\n<P id=\"1\">0 0 0</P><P id=\"1\">0 0 0</P></Pnts>" TAIL, 5,
               "have the id 1");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces><F>1 2 3</F>\n</Faces", 6, "not whole XML");
    refused_at(ROOT METRIC SURFACE PNTS "<Faces>\n<F>1 2 3</G></Faces>" TAIL, 6, "not whole XML");
}
/* Entities that unfold, and files of the machine: never even begun. */
static void entities_are_not_followed(void **state) {
    (void)state;
    refused_at(
        "<!DOCTYPE LandXML [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;&a;&a;&a;&a;\">]>\n" ROOT METRIC SURFACE
        "<Pnts><P id=\"1\">&b;</P></Pnts>" TAIL,
        0, "declares a document type");
    refused_at("<!DOCTYPE LandXML [<!ENTITY x SYSTEM \"file:///etc/hostname\">]>\n" ROOT METRIC SURFACE
               "<Pnts><P id=\"1\">&x;</P></Pnts>" TAIL,
               0, "declares a document type");
    refused_at("<!DOCTYPE LandXML SYSTEM \"http://127.0.0.1:9/x.dtd\">\n" ROOT METRIC "</LandXML>", 0,
               "declares a document type");
}
static void every_beginning_of_a_file_is_refused_or_read(void **state) {
    (void)state;
    const char *whole = ROOT METRIC SURFACE PNTS "<Faces><F>1 2 3</F></Faces>" TAIL;
    for (size_t length = 0; length < strlen(whole); length++) {
        mst_surface *s;
        size_t count;
        mst_error error = {0};
        char *part = mst_arena_text(arena, whole, length);
        mst_status status = mst_read_landxml(part, length, "t.xml", arena, &s, &count, &error);
        if (length + 1 < strlen(whole))
            assert_int_equal(status, MST_INVALID); /* only the last line end may be missing */
    }
}
/* Two thousand spoilt copies of an open file: each is read or refused, and what is read points only at points it has.
 */
static void spoilt_files_do_no_harm(void **state) {
    (void)state;
    size_t length;
    char *whole = contents(mst_arena_printf(arena, "%s/landxml-tin/surface_S1.xml", TEST_DATA), &length);
    uint64_t seed = 7;
    size_t readable = 0;
    for (int i = 0; i < 2000; i++) {
        mst_arena *own = mst_arena_new();
        char *text = mst_arena_text(own, whole, length);
        for (int k = 0; k < 1 + i % 4; k++) {
            seed = seed * 6364136223846793005u + 1442695040888963407u;
            text[(seed >> 33) % length] = "<>/\"& 019.-eiPF\0\xFF"[(seed >> 20) % 18];
        }
        mst_surface *s;
        size_t count;
        mst_error error = {0};
        mst_status status = mst_read_landxml(text, length, "t.xml", own, &s, &count, &error);
        assert_true(status == MST_OK || (status == MST_INVALID && *error.sentence));
        for (size_t j = 0; status == MST_OK && j < count; j++)
            for (size_t f = 0; f < s[j].face_count; f++)
                for (int k = 0; k < 3; k++) assert_true(s[j].faces[f][k] < s[j].point_count);
        readable += status == MST_OK;
        mst_arena_free(own);
    }
    assert_true(readable > 100 && readable < 1900);
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(the_ground_comes_back),
                                       TEST(the_date_is_the_callers),
                                       TEST(refused_with_the_line),
                                       TEST(entities_are_not_followed),
                                       TEST(every_beginning_of_a_file_is_refused_or_read),
                                       TEST(spoilt_files_do_no_harm)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
