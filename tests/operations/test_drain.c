/* The water of a small garden through its operation: a lawn that falls 2 % to the south with a hollow, and a house
 * whose lower wall sheds and whose upper wall gathers. Plane geometry, no source; limits as in the trade tables (FAL
 * rows). */
#include "operations/ask.h"
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static const char *text(const json_t *o, const char *key) { return json_string_value(json_object_get(o, key)); }

static void add_points(char *page, size_t size, double sd) {
    size_t n = (size_t)snprintf(page, size, "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n");
    for (int i = 0; i <= 12; i++)
        for (int k = 0; k <= 12; k++) {
            double e = 100 + 2 * i, v = 200 + 2 * k, z = 50 + 0.02 * (2 * k);
            if (i == 2 && k == 2) z -= 0.150;  /* the hollow */
            if (i == 10 && k == 2) z -= 0.045; /* hardly one: the fall takes 40 mm of it */
            if (e > 109 && e < 117 && v > 209 && v < 217) continue;
            n += (size_t)snprintf(page + n, size - n, "P%d-%d,%.3f,%.3f,%.4f,0.001,%.3f\n", i, k, e, v, z, sd);
        }
    const double house[4][2] = {{109, 209}, {117, 209}, {117, 217}, {109, 217}};
    for (int i = 0; i < 4; i++)
        n += (size_t)snprintf(page + n, size - n, "H%d,%.3f,%.3f,%.4f,0.001,%.3f\n", i + 1, house[i][0], house[i][1],
                              50 + 0.02 * (house[i][1] - 200), sd);
    const double patio[4][2] = {{109, 204}, {117, 204}, {117, 208.8}, {109, 208.8}};
    for (int i = 0; i < 4; i++)
        n += (size_t)snprintf(page + n, size - n, "T%d,%.3f,%.3f,%.4f,0.001,%.3f\n", i + 1, patio[i][0], patio[i][1],
                              50 + 0.02 * (patio[i][1] - 200), sd);
}

static mst_session *garden(const char *path, double sd) {
    static char page[40000];
    static const char FEATURES[] = "feature,kind,code,point,edge,role\n"
                                   "house,area,house,H1,straight,hole\nhouse,area,house,H2,straight,hole\n"
                                   "house,area,house,H3,straight,hole\nhouse,area,house,H4,straight,hole\n"
                                   "patio,area,patio,T1,straight,\npatio,area,patio,T2,straight,\n"
                                   "patio,area,patio,T3,straight,\npatio,area,patio,T4,straight,\n";
    mst_session *session = NULL;
    mst_error error = {0};
    remove(path);
    json_decref(ask(NULL, "new", json_pack("{s:s}", "path", path), MST_OK));
    IS_OK(mst_session_open(path, &session, &error));
    add_points(page, sizeof page, sd);
    json_decref(ask(
        session, "import",
        json_pack("{s:s,s:s,s:s,s:s}", "page", "points", "text", page, "name", "points.csv", "frame", "site"), MST_OK));
    json_decref(ask(session, "import",
                    json_pack("{s:s,s:s,s:s}", "page", "features", "text", FEATURES, "name", "features.csv"), MST_OK));
    return session;
}

static void temporary(char path[64]) { snprintf(path, 64, "test_drain_%ld.gpkg", (long)getpid()); }

static void a_garden_with_good_levels(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    json_t *r = ask(session, "drain", json_object(), MST_OK);
    json_t *spots = json_object_get(r, "low_spots"), *first = json_array_get(spots, 0);
    assert_true(json_array_size(spots) >= 1);
    NEAR(number(first, "easting_m"), 104, 1e-3);
    NEAR(number(first, "northing_m"), 204, 1e-3);
    NEAR(number(first, "depth_m"), 0.150 - 0.040,
         2e-3); /* it spills to the south, 2 m on, 40 mm lower than the lawn there */
    assert_true(json_is_true(json_object_get(first, "proven")));
    assert_non_null(strstr(text(first, "sentence"), "spills"));
    json_t *patio = json_array_get(json_object_get(r, "falls"), 0);
    assert_string_equal(text(patio, "feature"), "patio");
    NEAR(number(patio, "fall_percent"), 2, 0.02);
    NEAR(number(patio, "bearing_deg"), 180, 1);
    NEAR(number(json_object_get(patio, "limit"), "least_percent"), 100 / 60.0, 1e-9);
    json_t *walls = json_object_get(r, "buildings");
    assert_int_equal(json_array_size(walls), 4);
    json_t *south = json_array_get(walls, 0), *north = json_array_get(walls, 2);
    NEAR(number(south, "fall_percent"), 2, 0.05);
    assert_string_equal(text(south, "towards"), "away");
    NEAR(number(json_object_get(south, "limit"), "least_percent"), 2, 0); /* the patio is hard: FAL03 */
    NEAR(number(north, "fall_percent"), -2, 0.05);
    assert_string_equal(text(north, "towards"), "building");
    assert_non_null(strstr(text(north, "sentence"), "TOWARDS"));
    NEAR(number(json_object_get(north, "limit"), "least_percent"), 5, 0);
    assert_true(number(north, "water_against_m2") > 30);
    double area = 0;
    for (size_t i = 0; i < json_array_size(json_object_get(r, "outfalls")); i++)
        area += number(json_array_get(json_object_get(r, "outfalls"), i), "catchment_m2");
    assert_true(area > 0.95 * (24 * 24 - 64) && area <= 24 * 24 - 64 + 1e-6);
    json_decref(r);
    /* a limit of the site's own; one that is none is said */
    json_decref(ask(session, "put-setting", json_pack("{s:s,s:s}", "key", "fall.patio", "value", "1:40"), MST_OK));
    r = ask(session, "drain", json_object(), MST_OK);
    NEAR(number(json_object_get(json_array_get(json_object_get(r, "falls"), 0), "limit"), "least_percent"), 2.5, 0);
    assert_non_null(strstr(text(json_array_get(json_object_get(r, "falls"), 0), "sentence"), "stays below"));
    json_decref(r);
    r = ask(session, "drain", json_pack("{s:s}", "from", "104.5,212"), MST_OK);
    assert_true(json_array_size(json_object_get(r, "path")) > 2);
    json_decref(r);
    json_decref(ask(session, "drain", json_pack("{s:s}", "from", "10,212"), MST_NO));
    mst_session_close(session);
    remove(path);
}

static void rough_levels_prove_little(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.060);
    json_t *r = ask(session, "drain", json_object(), MST_OK);
    size_t i;
    json_t *o;
    json_array_foreach(json_object_get(r, "low_spots"), i, o) if (number(o, "depth_m") < 0.1) {
        assert_true(json_is_false(json_object_get(o, "proven")));
        assert_non_null(strstr(text(o, "sentence"), "not proven"));
    }
    json_t *patio = json_array_get(json_object_get(r, "falls"), 0);
    assert_non_null(strstr(text(patio, "sentence"), "not proven at this gear"));
    json_decref(r);
    mst_session_close(session);
    remove(path);
}

/* A terrace let in level: no fall by design, and what was lawn there is gone. */
static void as_designed(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    json_t *work = json_pack("{s:s,s:s,s:s,s:s}", "name", "patio", "kind", "pad", "in", "patio", "level", "50.100");
    json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", work), MST_OK));
    json_t *r = ask(session, "drain", json_pack("{s:b}", "finished", 1), MST_OK);
    json_t *patio = json_array_get(json_object_get(r, "falls"), 0);
    NEAR(number(patio, "fall_percent"), 0, 1e-6); /* joints lean by 5 mm beside it */
    assert_non_null(strstr(text(patio, "sentence"), "as designed"));
    assert_string_equal(text(r, "surface"), "Finished");
    json_decref(r);
    mst_session_close(session);
    remove(path);
}

static json_t *first(const json_t *r, const char *list) { return json_array_get(json_object_get(r, list), 0); }

/* A swale across the lawn and a pipe in a trench: what they carry by Manning's formula worked out here, and the ground
 * that runs to the swale, all of the lawn above it. */
static void swales_and_pipes(void **state) {
    (void)state;
    static const char LINES[] = "feature,kind,code,point,edge,role\n"
                                "ditch,line,ditch,P0-1,straight,none\nditch,line,ditch,P12-1,straight,none\n"
                                "drain,line,drain,P1-6,straight,none\ndrain,line,drain,P1-12,straight,none\n";
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    json_decref(ask(session, "import",
                    json_pack("{s:s,s:s,s:s}", "page", "features", "text", LINES, "name", "lines.csv"), MST_OK));
    json_t *swale = json_pack("{s:s,s:s,s:s,s:s,s:s,s:f,s:f}", "name", "ditch", "kind", "swale", "along", "ditch",
                              "shape", "V", "side", "1:3", "from", 49.7, "to", 49.5);
    json_t *pipe = json_pack("{s:s,s:s,s:s,s:s,s:f,s:s,s:s}", "name", "drain", "kind", "trench", "along", "drain",
                             "bottom", "450mm", "from", 49.4, "fall", "1:80", "pipe", "110mm");
    json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", swale), MST_OK));
    json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", pipe), MST_OK));
    json_decref(ask(session, "put-setting", json_pack("{s:s,s:s}", "key", "bore.drain", "value", "103mm"), MST_OK));
    json_t *r = ask(session, "drain", json_pack("{s:b,s:f}", "finished", 1, "rainfall", 50.0), MST_OK);
    json_t *ditch = first(r, "flows"), *drain = json_array_get(json_object_get(r, "flows"), 1);
    double depth = number(ditch, "depth_m"), area = 3 * depth * depth, wetted = 2 * depth * sqrt(10);
    NEAR(depth, 50.04 - 49.7, 0.01); /* it is dug least where it begins */
    NEAR(number(ditch, "capacity_l_s"), 1000 * area * pow(area / wetted, 2.0 / 3) * sqrt(0.2 / 24) / 0.03, 1e-6);
    double caught = number(ditch, "catchment_m2");
    assert_true(caught > 24 * 20 - 64 - 110 && caught < 24 * 24 - 64); /* the house keeps some off its upper side */
    NEAR(number(ditch, "inflow_l_s"), 50 / 3.6e6 * caught * 1000, 1e-9);
    assert_true(json_is_true(json_object_get(ditch, "enough")));
    double full = MST_PI * 0.103 * 0.103 / 4 * pow(0.103 / 4, 2.0 / 3) * sqrt(1 / 80.0) / 0.012;
    NEAR(number(drain, "capacity_l_s"), 1000 * full, 1e-9);
    NEAR(number(drain, "serves_m2"), full / (50 / 3.6e6), 1e-6);
    NEAR(number(first(r, "lines"), "least_percent"), 100 * 0.2 / 24, 1e-6);
    assert_non_null(strstr(text(first(r, "lines"), "sentence"), "stays below the usual least of 1.00 %"));
    json_decref(r);
    r = ask(session, "drain", json_pack("{s:b,s:f}", "finished", 1, "rainfall", 50000.0), MST_OK);
    assert_non_null(strstr(text(first(r, "flows"), "sentence"), "OVERFLOWS"));
    json_decref(r);
    r = ask(session, "drain", json_pack("{s:b,s:f}", "finished", 1, "rainfall", -1.0), MST_INVALID);
    mst_session_close(session);
    remove(path);
}

/* Dragged, a pad answers as when it is stored; balanced by its fall or in a group, its cut makes its fill. */
static void dragged_and_balanced(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    for (int i = 0; i < 3; i++) {
        double level = 50.05 + 0.06 * i;
        json_t *pad =
            json_pack("{s:s,s:s,s:s,s:f,s:s,s:s,s:f,s:s,s:s}", "name", "patio", "kind", "falling pad", "in", "patio",
                      "level", level, "at", "T4", "fall", "1:60", "towards", 180.0, "strip", "50mm", "soil", "clay");
        json_t *quick = ask(session, "preview-volume", json_pack("{s:O,s:b}", "definition", pad, "quick", 1), MST_OK);
        json_t *slow = ask(session, "preview-volume", json_pack("{s:O}", "definition", pad), MST_OK);
        NEAR(number(quick, "cut_m3"), number(slow, "cut_m3"), 1e-9);
        NEAR(number(quick, "fill_m3"), number(slow, "fill_m3"), 1e-9);
        NEAR(number(quick, "strip_m3"), number(slow, "strip_m3"), 1e-9);
        assert_true(json_array_size(json_object_get(quick, "materials")) ==
                    json_array_size(json_object_get(slow, "materials")));
        json_decref(quick), json_decref(slow);
        json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", pad), MST_OK));
    }
    json_t *r = ask(session, "balance", json_pack("{s:s,s:s}", "element", "patio", "by", "fall"), MST_OK);
    NEAR(number(r, "cut_m3") * 0.9, number(r, "fill_m3"), 1e-5);
    assert_true(number(r, "fall_percent") > 0 && number(r, "fall_percent") < 20);
    json_decref(r);
    r = ask(session, "balance", json_pack("{s:[s]}", "elements", "patio"), MST_OK);
    NEAR(number(r, "cut_m3") * 0.9, number(r, "fill_m3"), 1e-5);
    json_decref(r);
    r = ask(session, "balance", json_pack("{s:s}", "elements", "patio,shed"), MST_NOT_FOUND);
    r = ask(session, "volume", json_pack("{s:s}", "element", "patio"), MST_INVALID);
    mst_session_close(session);
    remove(path);
}

/* A pad with two banks is dragged: the live answer holds the banks, as the whole computation has them when it is kept,
 * also past the span that was traced at first. */
static void dragged_with_its_banks(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    static const char *const BANKS[] = {
        "{\"name\":\"lower bank\",\"kind\":\"bank\",\"of\":\"patio\",\"edges\":[1,2],\"batter\":\"1:2\"}",
        "{\"name\":\"upper bank\",\"kind\":\"bank\",\"of\":\"patio\",\"edges\":[4],\"cut\":\"1:1\",\"fill\":\"1:3\","
        "\"strip\":0.05}"};
    const double levels[] = {50.0, 49.9, 50.15, 50.4, 53.0, 46.5};
    for (size_t i = 0; i < sizeof levels / sizeof *levels; i++) {
        json_t *pad = json_pack("{s:s,s:s,s:s,s:f}", "name", "patio", "kind", "pad", "in", "patio", "level", levels[i]);
        if (i == 0) {
            json_decref(ask(session, "put-work", json_pack("{s:O}", "definition", pad), MST_OK));
            for (int k = 0; k < 2; k++)
                json_decref(
                    ask(session, "put-work", json_pack("{s:o}", "definition", json_loads(BANKS[k], 0, NULL)), MST_OK));
        }
        json_t *quick = ask(session, "preview-volume", json_pack("{s:O,s:b}", "definition", pad, "quick", 1), MST_OK);
        json_t *whole = ask(session, "preview-volume", json_pack("{s:o,s:b}", "definition", pad, "whole", 1), MST_OK);
        json_t *banks = json_object_get(quick, "banks"), *all = json_object_get(whole, "elements");
        double cut = number(json_array_get(all, 0), "cut_m3"), fill = number(json_array_get(all, 0), "fill_m3");
        assert_int_equal(json_array_size(banks), 2);
        for (size_t k = 0; k < 2; k++) {
            const json_t *b = json_array_get(banks, k), *w = json_array_get(all, k + 1);
            assert_string_equal(text(b, "element"), text(w, "element"));
            double moved = number(w, "cut_m3") + number(w, "fill_m3");
            NEAR(number(b, "cut_m3"), number(w, "cut_m3"), 0.001 * moved + 0.002);
            NEAR(number(b, "fill_m3"), number(w, "fill_m3"), 0.001 * moved + 0.002);
            cut += number(w, "cut_m3"), fill += number(w, "fill_m3");
        }
        const json_t *both = json_object_get(quick, "with_banks");
        NEAR(number(both, "cut_m3"), cut, 0.001 * (cut + fill) + 0.004);
        NEAR(number(both, "fill_m3"), fill, 0.001 * (cut + fill) + 0.004);
        NEAR(number(both, "net_m3"), number(both, "cut_m3") - number(both, "fill_m3"), 1e-9);
        json_decref(quick), json_decref(whole);
    }
    /* kept at the level that is found for pad and banks together, cut of common earth (0.9) makes the fill */
    json_t *r = ask(session, "balance", json_pack("{s:s}", "element", "patio"), MST_OK);
    double level = number(json_object_get(r, "with_banks"), "level_m"), alone = number(r, "level_m");
    json_t *pad = json_pack("{s:s,s:s,s:s,s:f}", "name", "patio", "kind", "pad", "in", "patio", "level", level);
    json_decref(r);
    json_decref(ask(session, "put-work", json_pack("{s:o}", "definition", pad), MST_OK));
    r = ask(session, "volume", json_object(), MST_OK);
    double all = number(r, "cut_m3") + number(r, "fill_m3");
    assert_true(all > 0.1 && fabs(level - alone) > 1e-5);
    NEAR(number(r, "cut_m3") * 0.9, number(r, "fill_m3"), 0.001 * all + 0.004);
    json_decref(r);
    mst_session_close(session);
    remove(path);
}

/* 104 m = 341.21 ft and 204 m = 669.29 ft by the foot of 0.3048 m; keys that end in _m stay metres. */
static void a_site_in_feet_is_told_in_feet(void **state) {
    (void)state;
    char path[64];
    temporary(path);
    mst_session *session = garden(path, 0.001);
    json_decref(ask(session, "put-setting", json_pack("{s:s,s:s}", "key", "units", "value", "imperial"), MST_OK));
    json_t *r = ask(session, "drain", json_object(), MST_OK),
           *first = json_array_get(json_object_get(r, "low_spots"), 0);
    NEAR(number(first, "easting_m"), 104, 1e-3);
    assert_non_null(strstr(text(first, "sentence"), "Water stands at 341.21 E, 669.29 N: "));
    assert_non_null(strstr(text(first, "sentence"), " ft2, "));
    json_decref(r);
    mst_error error = {0};
    json_t *arguments = json_pack("{s:f,s:f}", "easting", 30.48, "northing", 3.048);
    assert_int_equal(mst_operate(session, "elevation", arguments, &r, &error), MST_NO);
    assert_non_null(strstr(error.sentence, "100.000 E, 10.000 N lies outside"));
    json_decref(arguments);
    json_decref(r);
    mst_session_close(session);
    remove(path);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(a_garden_with_good_levels),
                                       cmocka_unit_test(rough_levels_prove_little),
                                       cmocka_unit_test(as_designed),
                                       cmocka_unit_test(swales_and_pipes),
                                       cmocka_unit_test(dragged_and_balanced),
                                       cmocka_unit_test(dragged_with_its_banks),
                                       cmocka_unit_test(a_site_in_feet_is_told_in_feet)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
