/* Cheapest levels kept as an element: what volume, elevation of the finished ground and drain then say is what grading
 * found. The volumes between two sets of triangles are exact (prisms), so that both ways must agree to rounding. */
#include "drawing/lsan_helper.c"
#include "operations/ask.h"
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static mst_session *meadow(const char *path) {
    static char page[20000];
    size_t n = (size_t)snprintf(page, sizeof page, "point,easting (m),northing (m),elevation (m)\n");
    for (int i = 0; i <= 10; i++)
        for (int k = 0; k <= 10; k++)
            n += (size_t)snprintf(page + n, sizeof page - n, "P%d-%d,%d,%d,%.3f\n", i, k, 3 * i, 3 * k,
                                  50 + 0.03 * k + 0.07 * ((7 * i + 5 * k + i * k) % 6) / 3.0);
    static const char FEATURES[] =
        "feature,kind,code,point,edge,role\nlawn,area,lawn,P2-2,straight,none\nlawn,area,lawn,P8-2,straight,none\n"
        "lawn,area,lawn,P8-7,straight,none\nlawn,area,lawn,P5-8,straight,none\nlawn,area,lawn,P2-6,straight,none\n";
    mst_session *session = NULL;
    mst_error error = {0};
    remove(path);
    json_decref(ask(NULL, "new", json_pack("{s:s}", "path", path), MST_OK));
    IS_OK(mst_session_open(path, &session, &error));
    json_decref(ask(session, "import",
                    json_pack("{s:s,s:s,s:s}", "page", "control", "text", page, "name", "points.csv"), MST_OK));
    json_decref(ask(session, "import",
                    json_pack("{s:s,s:s,s:s}", "page", "features", "text", FEATURES, "name", "features.csv"), MST_OK));
    return session;
}

static json_t *wishes(const char *apply) {
    json_t *definition =
        json_loads("{\"in\":\"lawn\",\"spacing\":\"1.5\",\"soil\":\"clay\",\"falls\":[{\"towards\":180,"
                   "\"least\":\"1:80\",\"most\":\"1:30\"}],\"prices\":{\"cut\":9,\"fill\":7,"
                   "\"import\":38,\"cart away\":30}}",
                   0, NULL);
    json_t *arguments = json_pack("{s:o}", "definition", definition);
    if (apply) json_object_set_new(arguments, "apply", json_string(apply));
    return arguments;
}

static void what_was_found_is_built(void **state) {
    (void)state;
    char path[64];
    snprintf(path, sizeof path, "test_grade_%ld.gpkg", (long)getpid());
    mst_session *session = meadow(path);
    json_t *tried = ask(session, "grade", wishes(NULL), MST_OK);
    assert_null(json_object_get(tried, "applied"));
    json_t *r = ask(session, "works", json_object(), MST_OK);
    assert_int_equal(json_array_size(json_object_get(r, "works")), 0); /* nothing is kept unasked */
    json_decref(r);
    json_t *found = ask(session, "grade", wishes("lawn levels"), MST_OK);
    assert_string_equal(json_string_value(json_object_get(found, "applied")), "lawn levels");
    NEAR(number(found, "cost"), number(tried, "cost"), 0);
    json_t *volume = ask(session, "volume", json_object(), MST_OK);
    assert_true(number(found, "exact_cut_m3") > 0.5 && number(found, "exact_fill_m3") > 0.5);
    NEAR(number(volume, "cut_m3"), number(found, "exact_cut_m3"), 1e-6);
    NEAR(number(volume, "fill_m3"), number(found, "exact_fill_m3"), 1e-6);
    assert_string_equal(
        json_string_value(json_object_get(json_array_get(json_object_get(volume, "materials"), 0), "material")),
        "clay");
    json_t *drain = ask(session, "drain", json_pack("{s:b}", "finished", 1), MST_OK);
    json_t *fall = json_array_get(json_object_get(drain, "falls"), 0);
    assert_string_equal(json_string_value(json_object_get(fall, "feature")), "lawn");
    assert_true(number(fall, "fall_percent") > 1.24 && number(fall, "fall_percent") < 3.5);
    NEAR(number(fall, "bearing_deg"), 180, 15);
    assert_int_equal(json_array_size(json_object_get(drain, "low_spots")) > 0 &&
                         number(json_array_get(json_object_get(drain, "low_spots"), 0), "depth_m") > 0.2,
                     0);
    json_decref(drain), json_decref(volume), json_decref(found), json_decref(tried);
    r = ask(session, "draw", json_pack("{s:s}", "output", "test_grade_sheet.pdf"), MST_OK);
    json_decref(r);
    remove("test_grade_sheet.pdf");
    json_decref(ask(session, "undo", json_object(), MST_OK));
    r = ask(session, "works", json_object(), MST_OK);
    assert_int_equal(json_array_size(json_object_get(r, "works")), 0);
    json_decref(r);
    mst_session_close(session);
    remove(path);
}

static void a_surface_that_is_none_is_refused(void **state) {
    (void)state;
    static const char *const BAD[] = {"{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"lawn\"}",
                                      "{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"lawn\",\"points\":[[0,0],[1,0,1],["
                                      "0,1,1]],\"triangles\":[[0,1,2]]}",
                                      "{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"lawn\",\"points\":[[0,0,1],[1,0,1]"
                                      ",[0,1,1]],\"triangles\":[[0,1,3]]}",
                                      "{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"lawn\",\"points\":[[0,0,1],[1,0,1]"
                                      ",[0,1,1]],\"triangles\":[[0,2,1]]}",
                                      "{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"lawn\",\"points\":[[0,0,1],[1,0,1]"
                                      ",[0,1,1]],\"triangles\":[[0,1,1.5]]}",
                                      "{\"name\":\"s\",\"kind\":\"surface\",\"in\":\"wood\",\"points\":[[0,0,1],[1,0,1]"
                                      ",[0,1,1]],\"triangles\":[[0,1,2]]}"};
    char path[64];
    snprintf(path, sizeof path, "test_grade_%ld.gpkg", (long)getpid());
    mst_session *session = meadow(path);
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", json_loads(BAD[i], 0, NULL)),
                        i == 5 ? MST_NOT_FOUND : MST_INVALID));
    mst_session_close(session);
    remove(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(what_was_found_is_built),
                                       cmocka_unit_test(a_surface_that_is_none_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
