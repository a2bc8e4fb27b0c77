/* What the page is promised (web/api.json) against what the operations give for the demo's pages: every key there, each
 * of its kind. More keys than described are allowed: results grow, and the page leaves alone what it does not know. */
#include "merestone/operations.h"
#include "merestone/works.h"
#include <ctype.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>
#include <unistd.h>

static json_t *description;
static mst_session *session;
static char folder[] = "/tmp/merestone-contract-XXXXXX", site[64];
static char fault[300];

/* ---- the description's words, one kind at a time ---- */

static bool complain(const char *where, const char *what, const char *word) {
    if (!fault[0]) snprintf(fault, sizeof fault, "%s: %s (%s)", where, what, word);
    return false;
}
static bool fits(const json_t *value, const char *word, const char *where);

static bool fits_list(const json_t *list, const char *word, const char *where) {
    char item[120], place[200];
    snprintf(item, sizeof item, "%.*s", (int)strlen(word) - 2, word);
    if (!json_is_array(list)) return complain(where, "is not a list", word);
    for (size_t i = 0; i < json_array_size(list); i++) {
        snprintf(place, sizeof place, "%.150s[%zu]", where, i);
        if (!fits(json_array_get(list, i), item, place)) return false;
    }
    return true;
}

static bool fits_type(const json_t *value, json_t *fields, const char *name, const char *where) {
    char place[200], word[120];
    const char *key;
    json_t *field;
    if (!json_is_object(value)) return complain(where, "is not an object", name);
    json_object_foreach(fields, key, field) {
        snprintf(word, sizeof word, "%s", json_string_value(field));
        snprintf(place, sizeof place, "%.100s.%.60s", where, key);
        size_t length = strlen(word);
        bool optional = word[length - 1] == '?';
        if (optional) word[length - 1] = '\0';
        const json_t *part = json_object_get(value, key);
        if (!part && !optional) return complain(place, "is missing", word);
        if (part && !fits(part, word, place)) return false;
    }
    return true;
}

/* One of: 'a' | 'b', number | null ... */
static bool fits_one_of(const json_t *value, const char *word, const char *where) {
    char rest[120];
    snprintf(rest, sizeof rest, "%s", word);
    for (char *part = rest, *next; part; part = next) {
        next = strstr(part, " | ");
        if (next) {
            *next = '\0';
            next += 3;
        }
        size_t length = strlen(part);
        if (part[0] == '\'') {
            part[length - 1] = '\0';
            if (json_is_string(value) && strcmp(json_string_value(value), part + 1) == 0) return true;
        } else if (strcmp(part, "null") == 0) {
            if (json_is_null(value)) return true;
        } else if (!json_is_null(value)) return fits(value, part, where);
    }
    return complain(where, "is none of these", word);
}

static bool fits_interval(const json_t *value, const char *where) {
    const json_t *low = json_array_get(value, 0), *high = json_array_get(value, 1);
    bool none = json_is_null(low) && json_is_null(high), both = json_is_number(low) && json_is_number(high);
    if (json_array_size(value) != 2 || !(none || both)) return complain(where, "is not an interval", "interval");
    return none || json_number_value(low) <= json_number_value(high) || complain(where, "is upside down", "interval");
}

/* easting, northing, level or null, bulge */
static bool fits_vertex(const json_t *value, const char *where) {
    bool right = json_array_size(value) == 4;
    for (size_t i = 0; i < 4; i++) {
        const json_t *part = json_array_get(value, i);
        right = right && (json_is_number(part) || (i == 2 && json_is_null(part)));
    }
    return right || complain(where, "is not a vertex", "Vertex");
}

static bool fits(const json_t *value, const char *word, const char *where) {
    size_t length = strlen(word);
    json_t *type = json_object_get(json_object_get(description, "types"), word);
    if (strcmp(word, "json") == 0) return true;
    if (strstr(word, " | ")) return fits_one_of(value, word, where);
    if (length > 2 && strcmp(word + length - 2, "[]") == 0) return fits_list(value, word, where);
    if (length > 2 && strcmp(word + length - 2, "{}") == 0)
        return json_is_object(value) || complain(where, "is not a record", word);
    if (strcmp(word, "string") == 0) return json_is_string(value) || complain(where, "is not text", word);
    if (strcmp(word, "number") == 0) return json_is_number(value) || complain(where, "is not a number", word);
    if (strcmp(word, "boolean") == 0) return json_is_boolean(value) || complain(where, "is not true or false", word);
    if (strcmp(word, "interval") == 0) return fits_interval(value, where);
    if (strcmp(word, "Vertex") == 0) return fits_vertex(value, where);
    if (strcmp(word, "Flat") == 0) return fits_list(value, "number[]", where);
    return type ? fits_type(value, type, word, where) : complain(where, "is of a type that is not described", word);
}

/* ---- the demo's site ---- */

static char *read_all(const char *name) {
    char path[1024];
    snprintf(path, sizeof path, EXAMPLES "/%s", name);
    FILE *f = fopen(path, "rb");
    if (!f) return NULL;
    fseek(f, 0, SEEK_END);
    long size = ftell(f);
    rewind(f);
    char *text = calloc(1, (size_t)size + 1);
    if (text && fread(text, 1, (size_t)size, f) != (size_t)size) text[0] = '\0';
    fclose(f);
    return text;
}

/* Runs an operation and takes the arguments over. @return what it gives, or NULL */
static json_t *ask(const char *name, json_t *arguments) {
    json_t *result = NULL;
    mst_error error = {0};
    mst_status status = mst_operate(session, name, arguments, &result, &error);
    json_decref(arguments);
    if (status && status != MST_NO) print_message("%s: %s\n", name, error.sentence);
    return result;
}

static bool take(const char *name, const char *kind) {
    char *text = read_all(name);
    if (!text) return false;
    json_t *done = ask("import", json_pack("{s:s,s:s,s:s}", "page", kind, "name", name, "text", text));
    free(text);
    bool taken = done != NULL;
    json_decref(done);
    return taken;
}

static bool take_works(void) {
    char *text = read_all("works.json");
    json_t *done = text ? ask("works", json_pack("{s:s,s:s}", "text", text, "name", "works.json")) : NULL;
    free(text);
    bool taken = done != NULL;
    json_decref(done);
    return taken;
}

static int fill(void **state) {
    (void)state;
    static const char *const pages[][2] = {
        {"control.csv", "control"}, {"angles.csv", "angles"},   {"levels.csv", "levels"},     {"legs.csv", "legs"},
        {"tape.csv", "tape"},       {"offsets.csv", "offsets"}, {"features.csv", "features"}, {"stakes.csv", "stakes"},
        {"prices.csv", "prices"},   {"built.csv", "built"}};
    json_t *made = NULL;
    if (!mkdtemp(folder)) return -1;
    snprintf(site, sizeof site, "%s/site.gpkg", folder);
    json_t *arguments = json_pack("{s:s,s:s}", "path", site, "title", "Trial");
    mst_status status = mst_operate(NULL, "new", arguments, &made, NULL);
    json_decref(arguments);
    json_decref(made);
    if (status || mst_session_open(site, &session, NULL)) return -1;
    for (size_t i = 0; i < sizeof pages / sizeof *pages; i++)
        if (!take(pages[i][0], pages[i][1])) return -1;
    description = json_load_file(EXAMPLES "/../web/api.json", JSON_REJECT_DUPLICATES, NULL);
    return description && take_works() ? 0 : -1;
}

static int empty(void **state) {
    (void)state;
    mst_session_close(session);
    json_decref(description);
    unlink(site);
    rmdir(folder);
    return 0;
}

/* ---- the tests ---- */

static void promised(const char *name, json_t *arguments) {
    const char *type = json_string_value(json_object_get(json_object_get(description, "operations"), name));
    json_t *result = ask(name, arguments);
    assert_non_null(type);
    if (!result) fail_msg("%s gives nothing", name);
    fault[0] = '\0';
    if (!fits(result, type, name)) fail_msg("%s", fault);
    json_decref(result);
}

static void what_is_read_is_as_described(void **state) {
    (void)state;
    static const char *const plain[] = {"gear",   "adjust", "ground",  "contours", "volume",  "drain",
                                        "haul",   "rounds", "levels",  "traverse", "takeoff", "estimate",
                                        "setout", "verify", "history", "works"};
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) promised(plain[i], json_object());
    promised("site", json_object());
    promised("site", json_pack("{s:b}", "with-ground", 1));
    promised("site", json_pack("{s:b}", "with-finished", 1));
    promised("sections", json_pack("{s:[f,f],s:[f,f]}", "from", 110.0, 212.0, "to", 130.0, 214.0));
    promised("sections", json_pack("{s:s}", "along", "west fence"));
    promised("elevation", json_pack("{s:f,s:f}", "easting", 118.0, "northing", 212.0));
    promised("profile", json_pack("{s:[f,f],s:[f,f]}", "from", 110.0, 212.0, "to", 130.0, 214.0));
    promised("measure", json_pack("{s:s}", "feature", "terrace"));
    promised("fall", json_pack("{s:s,s:s,s:s}", "from", "118,212", "to", "121,206", "least", "0.1%"));
    promised("fall",
             json_pack("{s:s,s:s,s:f,s:s,s:s}", "from", "A", "to", "B", "least", 1.0, "name", "built.csv", "text",
                       "point,easting (m),northing (m),elevation (m),sd height (m)\nA,0,0,2,0.01\nB,0,9,1,0.01\n"));
    promised("balance", json_pack("{s:s}", "element", "terrace"));
    promised("preview-volume", json_pack("{s:{s:s,s:s,s:s,s:s}}", "definition", "name", "terrace", "kind", "pad", "in",
                                         "terrace", "level", "99.9"));
    promised("preview-volume", json_pack("{s:b,s:{s:s,s:s,s:s,s:s}}", "quick", 1, "definition", "name", "terrace",
                                         "kind", "pad", "in", "terrace", "level", "99.9"));
    promised("preview-volume",
             json_pack("{s:b,s:b,s:{s:s,s:s,s:s,s:s,s:s}}", "whole", 1, "with-faces", 1, "definition", "name",
                       "terrace bank", "kind", "bank", "of", "terrace", "cut", "1:1.5", "fill", "1:2"));
    promised("drain", json_pack("{s:b,s:b}", "finished", 1, "drawn", 1));
    promised("ground", json_pack("{s:i,s:b}", "next", 3, "without-mean", 1));
    promised("adjust", json_pack("{s:b}", "without-observations", 1));
    promised("adjust", json_pack("{s:s}", "touching", "H4"));
    promised("next", json_pack("{s:s}", "for", "terrace"));
    promised("two-peg", json_pack("{s:f,s:f,s:f,s:f,s:f,s:f}", "mid-a", 1.5, "mid-b", 1.6, "near-a", 1.4, "near-b",
                                  1.501, "to-a", 2.0, "to-b", 40.0));
    promised("plan-visit", json_pack("{s:s,s:s,s:s}", "name", "plan.csv", "aim", "0.2", "text",
                                     "reading,from,to,easting (m),northing (m),elevation (m),gear,minutes\n"
                                     "point,N1,,112,213,,,\ntape,A,N1,,,,,\ntape,B,N1,,,,,\n"));
    if (mst_grade_available())
        promised("grade", json_pack("{s:{s:s,s:s,s:[{s:i,s:s,s:s}],s:{s:i,s:i}}}", "definition", "in", "lower lawn",
                                    "spacing", "3", "falls", "towards", 191, "least", "-10%", "most", "10%", "prices",
                                    "cut", 9, "fill", 7));
}

/* What preview tells of one element is what the whole tells, and what the quick way tells. */
static void previews_agree(void **state) {
    (void)state;
    json_t *definition = json_pack("{s:s,s:s,s:s,s:s,s:s}", "name", "terrace", "kind", "pad", "in", "terrace", "level",
                                   "99.6", "strip", "150mm");
    json_t *alone = ask("preview-volume", json_pack("{s:O}", "definition", definition));
    json_t *quick = ask("preview-volume", json_pack("{s:O,s:b}", "definition", definition, "quick", 1));
    json_t *whole = ask("preview-volume", json_pack("{s:O,s:b}", "definition", definition, "whole", 1));
    json_t *terrace = json_array_get(json_object_get(whole, "elements"), 0);
    const double NEAR_M3 = 1e-6; /* sums in another order */
    assert_string_equal(json_string_value(json_object_get(terrace, "element")), "terrace");
    for (const char *const *key = (const char *const[]){"cut_m3", "fill_m3", NULL}; *key; key++) {
        double value = json_number_value(json_object_get(alone, *key));
        assert_true(fabs(json_number_value(json_object_get(quick, *key)) - value) < NEAR_M3);
        assert_true(fabs(json_number_value(json_object_get(terrace, *key)) - value) < NEAR_M3);
    }
    assert_true(json_number_value(json_object_get(alone, "cut_m3")) > 0);
    json_decref(alone);
    json_decref(quick);
    json_decref(whole);
    json_decref(definition);
}

/* Every operation is described, but the one that a page cannot ask for: making another site. */
static void every_operation_is_described(void **state) {
    (void)state;
    size_t count;
    const mst_operation *table = mst_operations(&count);
    for (size_t i = 0; i < count; i++) {
        if (strcmp(table[i].name, "new") == 0) continue;
        const char *type =
            json_string_value(json_object_get(json_object_get(description, "operations"), table[i].name));
        if (!type) fail_msg("%s is not in web/api.json", table[i].name);
        if (!json_object_get(json_object_get(description, "types"), type))
            fail_msg("%s: no type %s", table[i].name, type);
        if (!json_object_get(json_object_get(description, "arguments"), table[i].name))
            fail_msg("%s: its arguments are not in web/api.json", table[i].name);
    }
}

static void what_is_changed_is_as_described(void **state) {
    (void)state;
    promised("put-setting", json_pack("{s:s,s:s}", "key", "title", "value", "Trial 2"));
    promised("put-feature",
             json_pack("{s:s,s:s,s:s,s:[{s:s,s:s},{s:s,s:s}]}", "name", "kerb", "kind", "line", "code", "kerb",
                       "points", "point", "TP1", "edge", "straight", "point", "TP2", "edge", "straight"));
    promised("put-work", json_pack("{s:{s:s,s:s,s:s,s:s}}", "definition", "name", "terrace", "kind", "pad", "in",
                                   "terrace", "level", "99.9"));
    promised("set-aside", json_pack("{s:s,s:i,s:s}", "page", "tape.csv", "row", 2, "reason", "trial"));
    promised("put-gear", json_pack("{s:s,s:f}", "name", "old tape", "distance_m", 0.02));
    promised("undo", json_object());
    promised("redo", json_object());
    promised("import", json_pack("{s:s,s:s,s:s}", "page", "tape", "name", "more.csv", "text",
                                 "from,to,distance (m)\nH1,H3,15.0\n"));
    /* Last, since two more visits are more to adjust: each a frame of its own. */
    static const char *const both[] = {"morning", "evening"};
    for (size_t i = 0; i < 2; i++)
        promised("import", json_pack("{s:s,s:s,s:s,s:s}", "page", "points", "name", both[i], "visit", both[i], "text",
                                     "point,easting (m),northing (m)\nV1,0,0\nV2,12,0\nV3,12,9\n"));
    promised("fit-visits", json_pack("{s:s,s:s}", "from", "morning", "to", "evening"));
}

/* Every argument that the page may send is one that the operation knows: sent empty, so that nothing is done. */
static void what_is_asked_is_known(void **state) {
    (void)state;
    const char *name;
    json_t *keys, *key;
    size_t i;
    json_object_foreach(json_object_get(description, "arguments"), name, keys) {
        json_t *arguments = json_object(), *result = NULL;
        mst_error error = {0};
        json_array_foreach(keys, i, key) json_object_set_new(arguments, json_string_value(key), json_null());
        if (i == 0) json_object_set_new(arguments, "surely unknown", json_null()); /* it takes none, and says so */
        mst_status status = mst_operate(session, name, arguments, &result, &error);
        bool unknown = status && strstr(error.sentence, "is not an argument here");
        if (unknown != (i == 0)) fail_msg("%s: %s", name, error.sentence);
        json_decref(arguments);
        json_decref(result);
    }
}

/* The validator itself must be able to say no. */
static void what_is_not_as_described_is_found(void **state) {
    (void)state;
    json_t *level = json_pack("{s:f,s:[f,f],s:f,s:n}", "elevation_m", 1.0, "interval_m", 2.0, 0.5, "slope_percent", 1.0,
                              "fall_bearing_deg");
    fault[0] = '\0';
    assert_false(fits(level, "Level", "level"));
    assert_non_null(strstr(fault, "upside down"));
    json_object_set_new(level, "interval_m", json_pack("[f,f]", 0.5, 2.0));
    assert_true(fits(level, "Level", "level"));
    json_object_set_new(level, "elevation_m", json_string("1.0"));
    assert_false(fits(level, "Level", "level"));
    json_object_set_new(level, "elevation_m", json_real(1));
    json_object_del(level, "slope_percent");
    assert_false(fits(level, "Level", "level"));
    json_decref(level);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(what_is_read_is_as_described),
                                       cmocka_unit_test(what_is_changed_is_as_described),
                                       cmocka_unit_test(what_is_asked_is_known),
                                       cmocka_unit_test(what_is_not_as_described_is_found),
                                       cmocka_unit_test(previews_agree),
                                       cmocka_unit_test(every_operation_is_described)};
    return cmocka_run_group_tests(tests, fill, empty);
}
