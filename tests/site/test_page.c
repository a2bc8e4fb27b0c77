/* Field pages: RFC 4180 with the errors that a contractor meets. The CSV cases csv-spectrum (BSD-2-Clause) are in
 * tests/data/csv-edge-cases, with their expected rows as JSON. */
#include "merestone/site.h"
#include "site/csv.h"
#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

static mst_arena *arena;
static mst_error error;
static int make(void **state) {
    (void)state;
    arena = mst_arena_new();
    return !arena;
}
static int drop(void **state) {
    (void)state;
    mst_arena_free(arena);
    return 0;
}

static mst_page good(mst_page_kind kind, const char *text) {
    mst_page page = {0};
    error = (mst_error){0};
    mst_status status = mst_page_read(kind, "page.csv", text, strlen(text), NULL, arena, &page, &error);
    if (status) print_message("%s:%d:%d: %s\n", error.page, error.row, error.column, error.sentence);
    assert_int_equal(status, MST_OK);
    return page;
}
static void bad(mst_page_kind kind, const char *text, int row, int column, const char *part) {
    mst_page page = {.name = "untouched"};
    error = (mst_error){0};
    assert_int_equal(mst_page_read(kind, "page.csv", text, strlen(text), NULL, arena, &page, &error), MST_INVALID);
    if (!strstr(error.sentence, part)) print_message("said: %s\n", error.sentence);
    assert_non_null(strstr(error.sentence, part));
    assert_string_equal(error.page, "page.csv");
    assert_int_equal(error.row, row);
    assert_int_equal(error.column, column);
    assert_string_equal(page.name, "untouched");
}

static void reads_units_into_metres_and_radians(void **state) {
    (void)state;
    mst_page p =
        good(MST_PAGE_TAPE,
             "From,to,distance (ftin),slope,remark\nA,B,\"12'-6 1/2\"\"\",yes,\"on, the kerb\"\nB,C,6'-0\",no,\n");
    assert_int_equal(p.row_count, 2);
    assert_true(fabs(p.rows[0].value[MST_TAPE_DISTANCE] - 150.5 * 0.0254) < 1e-12);
    assert_true(p.rows[0].value[MST_TAPE_SLOPE] == 1);
    assert_true(isnan(p.rows[0].value[MST_TAPE_SD]));
    assert_string_equal(p.rows[1].text[MST_TAPE_TO], "C");
    assert_true(fabs(p.rows[1].value[MST_TAPE_DISTANCE] - 6 * 0.3048) < 1e-12);
    assert_string_equal(p.rows[1].raw, "B,C,6'-0\",no,");
    assert_int_equal(p.rows[1].line, 3);
}
static void columns_in_any_order_and_without_a_header(void **state) {
    (void)state;
    const char *text = "\xEF\xBB\xBF"
                       "P1,119.197,118.827,120.014\r\nP2,119.192,123.834,\n";
    mst_page p = {0};
    assert_int_equal(mst_page_read(MST_PAGE_POINTS, "l.csv", text, strlen(text),
                                   "point,easting (m),northing (m),elevation (m)", arena, &p, &error),
                     MST_OK);
    assert_true(p.rows[0].value[MST_POINTS_ELEVATION] == 120.014);
    assert_true(isnan(p.rows[1].value[MST_POINTS_ELEVATION]));
    assert_non_null(strstr(p.notes, "byte-order mark"));
    assert_non_null(strstr(p.notes, "mixed"));
    mst_page q = good(MST_PAGE_POINTS, "northing (mm),easting (mm),point\n2000,1000,P\n");
    assert_true(q.rows[0].value[MST_POINTS_EASTING] == 1 && q.rows[0].value[MST_POINTS_NORTHING] == 2);
    q = good(MST_PAGE_POINTS,
             "point,easting_m,northing [mm],sd_plan_mm\nP,1,2000,5\n"); /* as other programs write it */
    assert_true(q.rows[0].value[MST_POINTS_EASTING] == 1 && q.rows[0].value[MST_POINTS_NORTHING] == 2);
    assert_true(fabs(q.rows[0].value[MST_POINTS_SD_PLAN] - 0.005) < 1e-15);
}
static void each_fault_has_its_sentence_and_place(void **state) {
    (void)state;
    bad(MST_PAGE_TAPE, "", 0, 0, "empty");
    bad(MST_PAGE_TAPE, "\n\n", 0, 0, "empty");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\n", 0, 0, "no rows");
    bad(MST_PAGE_TAPE, "from,to,distance\nA,B,1\n", 1, 3, "no unit");
    bad(MST_PAGE_TAPE, "from,to,distance (yd)\nA,B,1\n", 1, 3, "not a unit");
    bad(MST_PAGE_TAPE, "from,to,length (m)\nA,B,1\n", 1, 3, "not known");
    bad(MST_PAGE_TAPE, "from,distance (m)\nA,1\n", 1, 0, "needs a column 'to'");
    bad(MST_PAGE_TAPE, "from,to,to,distance (m)\nA,B,B,1\n", 1, 3, "twice");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,B,nan\n", 2, 3, "not a number");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,B,1\nA,,2\n", 3, 2, "empty");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,B,-1\n", 2, 3, "more than 0");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,A,1\n", 2, 2, "itself");
    bad(MST_PAGE_TAPE, "from,to,distance (m),sd (m)\nA,B,1,0\n", 2, 4, "leave the cell empty");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,\"B,1\n", 2, 2, "never closed");
    bad(MST_PAGE_TAPE, "from,to,distance (m)\nA,B,12,5\n", 2, 4, "more cells");
    bad(MST_PAGE_TAPE, "from;to;distance (m)\nA;B;1\n", 1, 1, "commas");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\nP,1e9,0\n", 2, 2, "earth");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\nP,1,0\nQ,1,1\nP,2,2\n", 4, 1, "twice");
    bad(MST_PAGE_POINTS, "point,easting (ftin),northing (m)\nP,5'-12\",0\n", 2, 2, "inches");
    bad(MST_PAGE_CONTROL, "point,easting (m),northing (m)\nP,1,\n", 2, 3, "without the other");
    bad(MST_PAGE_LEVELS, "point,backsight (m),foresight (m)\nA,,1.2\n", 2, 0, "backsight");
    bad(MST_PAGE_LEVELS, "point,backsight (m),foresight (m)\nA,1,\nB,1.2,\n", 3, 0, "without a foresight");
    bad(MST_PAGE_ANGLES, "at,to,circle (dms)\nA,B,12-60-00\n", 2, 3, "60 or more");
    bad(MST_PAGE_GNSS, "point,latitude (deg),longitude (deg),height (m)\nA,91,0,0\n", 2, 2, "between -90 and 90");
}
static void binary_and_foreign_bytes(void **state) {
    (void)state;
    mst_page page;
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "p", "PK\x03\x04\0\0", 6, NULL, arena, &page, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "not a text file"));
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "p", "a\xFFq", 3, NULL, arena, &page, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "UTF-8"));
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "p",
                                   "\xFF\xFE"
                                   "a",
                                   3, NULL, arena, &page, &error),
                     MST_INVALID);
    assert_non_null(strstr(error.sentence, "UTF-16"));
    assert_int_equal(mst_page_read(MST_PAGE_TAPE, "p", "x", (size_t)100 << 20, NULL, arena, &page, &error),
                     MST_INVALID);
    assert_non_null(strstr(error.sentence, "100 MB"));
}
static void reread_gives_the_same_values(void **state) {
    (void)state;
    mst_page p = good(MST_PAGE_ANGLES, "at,to,circle (dms),zenith (gon)\nA,B,12-30-00,100\nA,C,\"13\xC2\xB0"
                                       "30'00\"\"\",99.5\n");
    mst_page q = p;
    q.rows = mst_arena_array(arena, 2, sizeof *q.rows);
    for (int i = 0; i < 2; i++) q.rows[i] = (mst_row){.line = p.rows[i].line, .raw = p.rows[i].raw};
    assert_int_equal(mst_page_reread(&q, arena, &error), MST_OK);
    for (int i = 0; i < 2; i++) assert_memory_equal(q.rows[i].value, p.rows[i].value, sizeof q.rows[i].value);
}
static void features_take_shape(void **state) {
    (void)state;
    mst_page p =
        good(MST_PAGE_FEATURES, "feature,kind,code,point,edge,role\n"
                                "bed,area,planting,A,,\nbed,area,,B,arc,\nbed,area,,C,arc,\nbed,area,,A,straight,\n"
                                "yard,area,paving,P,,boundary\nyard,area,,Q,,\nyard,area,,R,,\nyard,area,,S,,\n"
                                "yard,area,,H1,,hole\nyard,area,,H2,,hole\nyard,area,,H3,,hole\nyard,area,,H1,,"
                                "hole\nyard,area,,K1,,hole\nyard,area,,K2,,hole\nyard,area,,K3,,hole\n");
    mst_feature *f;
    size_t n;
    assert_int_equal(mst_features_from_page(&p, arena, &f, &n, &error), MST_OK);
    assert_int_equal(n, 2);
    assert_int_equal(f[0].vertex_count, 3);
    assert_int_equal(f[0].vertices[2].edge, MST_EDGE_ARC);
    assert_int_equal(f[1].role, MST_ROLE_BOUNDARY);
    assert_int_equal(f[1].vertices[9].ring, 2);
    assert_int_equal(f[1].vertex_count, 10);
}
static void features_that_cannot_be(void **state) {
    (void)state;
    const struct {
        const char *rows, *part;
    } cases[] = {{"f,line,x,A,,\nf,line,x,B,arc,\n", "no end"},
                 {"f,line,x,A,,\n", "at least 2"},
                 {"f,area,x,A,,\nf,area,x,B,,\n", "at least 3"},
                 {"f,line,x,A,,\nf,area,x,B,,\n", "earlier row"},
                 {"f,area,x,A,circle,\nf,area,x,B,circle,\nf,area,x,C,arc,\nf,area,x,D,arc,\n", "stands alone"},
                 {"f,line,x,A,,\nf,line,x,A,,\n", "twice in a row"},
                 {"f,line,x,A,,\nf,line,x,B,,hole\n", "Only an area"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[300];
        snprintf(text, sizeof text, "feature,kind,code,point,edge,role\n%s", cases[i].rows);
        mst_page p = good(MST_PAGE_FEATURES, text);
        mst_feature *f;
        size_t n;
        assert_int_equal(mst_features_from_page(&p, arena, &f, &n, &error), MST_INVALID);
        if (!strstr(error.sentence, cases[i].part)) print_message("said: %s\n", error.sentence);
        assert_non_null(strstr(error.sentence, cases[i].part));
    }
}

static char *slurp(const char *path, size_t *length) {
    FILE *f = fopen(path, "rb");
    if (!f) return NULL;
    char *data = malloc(1 << 16);
    *length = fread(data, 1, 1 << 16, f);
    fclose(f);
    return data;
}
static void csv_spectrum(void **state) {
    (void)state;
    const char *names[] = {"comma_in_quotes",
                           "empty",
                           "empty_crlf",
                           "escaped_quotes",
                           "json",
                           "newlines",
                           "newlines_crlf",
                           "quotes_and_newlines",
                           "simple",
                           "simple_crlf",
                           "utf8"};
    for (size_t k = 0; k < sizeof names / sizeof *names; k++) {
        char path[500];
        size_t length = 0;
        snprintf(path, sizeof path, TEST_DATA "/csv-edge-cases/csvs/%s.csv", names[k]);
        char *text = slurp(path, &length);
        assert_non_null(text);
        snprintf(path, sizeof path, TEST_DATA "/csv-edge-cases/json/%s.json", names[k]);
        json_t *expected = json_load_file(path, 0, NULL);
        assert_non_null(expected);
        mst_csv csv;
        bool more;
        assert_int_equal(mst_csv_start(&csv, names[k], text, length, NULL, &error), MST_OK);
        assert_int_equal(mst_csv_next(&csv, arena, &more, &error), MST_OK);
        size_t columns = csv.count;
        const char *header[16];
        for (size_t i = 0; i < columns; i++) header[i] = csv.cells[i];
        for (size_t row = 0; row < json_array_size(expected); row++) {
            assert_int_equal(mst_csv_next(&csv, arena, &more, &error), MST_OK);
            assert_true(more);
            for (size_t i = 0; i < columns; i++) {
                char want[200], *w = want; /* newlines_crlf.csv holds plain line feeds where its JSON says CR LF */
                for (const char *c = json_string_value(json_object_get(json_array_get(expected, row), header[i])); *c;
                     c++)
                    if (*c != '\r') *w++ = *c;
                *w = '\0';
                assert_string_equal(csv.cells[i], want);
            }
        }
        assert_int_equal(mst_csv_next(&csv, arena, &more, &error), MST_OK);
        assert_false(more);
        json_decref(expected);
        free(text);
    }
}

/* Found by fuzz/fuzz_page: what the file keeps must mean the same when it is read again, and a sentence stays one line.
 */
static void odd_text_is_kept_or_refused(void **state) {
    (void)state;
    mst_page page = good(MST_PAGE_POINTS, "point,easting (m),northing (m)\n\xEF\xBB\xBFP,1,2\n");
    assert_string_equal(page.rows[0].text[MST_POINTS_POINT], "\xEF\xBB\xBFP");
    assert_int_equal(mst_page_reread(&page, arena, &error), MST_OK);
    assert_string_equal(page.rows[0].text[MST_POINTS_POINT], "\xEF\xBB\xBFP");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\n\"A\nB\",1,2\n", 2, 1, "on one line");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\n\" \",1,2\n", 2, 1, "is empty");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\nA,\"x\ny\",2\n", 2, 2, "'x y' is not a number");
}

/* A name is one name however it was typed: spaces within quotes, an accent as a sign of its own (Unicode Standard,
 * annex 15). */
static void one_name_typed_in_two_ways(void **state) {
    (void)state;
    mst_page p = good(MST_PAGE_TAPE, "from,to,distance (m)\n\" lead \",caf\xC3\xA9,1\nlead,cafe\xCC\x81,1\n");
    assert_string_equal(p.rows[0].text[MST_TAPE_FROM], "lead");
    assert_string_equal(p.rows[0].text[MST_TAPE_TO], p.rows[1].text[MST_TAPE_TO]);
    bad(MST_PAGE_TAPE, "from,to,distance (m)\n\xC3\xB6,\" o\xCC\x88\",1\n", 2, 2, "to itself");
    bad(MST_PAGE_POINTS, "point,easting (m),northing (m)\n\"A\",1,2\n\"A \",3,4\n", 3, 1, "stands twice");
    p = good(MST_PAGE_TAPE, "from,to,distance (m)\nx\xCC\x81,\xCC\x81,1\n"); /* no such letter: kept as it is */
    assert_string_equal(p.rows[0].text[MST_TAPE_FROM], "x\xCC\x81");
}

static void what_would_close_the_site_is_refused(void **state) {
    (void)state;
    const char *gnss = "point,latitude (deg),longitude (deg),height (m)\n";
    bad(MST_PAGE_GNSS, mst_arena_printf(arena, "%sG,10,-181,5\n", gnss), 2, 3, "between -180 and 360");
    bad(MST_PAGE_GNSS, mst_arena_printf(arena, "%sG,10,360.1,5\n", gnss), 2, 3, "between -180 and 360");
    good(MST_PAGE_GNSS, mst_arena_printf(arena, "%sG,10,-180,5\nH,10,200,5\nI,10,360,5\n", gnss));
    const char *offsets = "from,to,chainage (m),offset (m),point\n";
    bad(MST_PAGE_OFFSETS, mst_arena_printf(arena, "%sA,B,1,1,A\n", offsets), 2, 5, "end of its own baseline");
    bad(MST_PAGE_OFFSETS, mst_arena_printf(arena, "%sA,B,1,1,B\n", offsets), 2, 5, "end of its own baseline");
    good(MST_PAGE_OFFSETS, mst_arena_printf(arena, "%sA,B,0,0,A\nA,B,20,0,B\n", offsets));
    bad(MST_PAGE_CONTROL, "point,elevation (m),sd height (m)\nA,1,0\n", 2, 3, "to hold the point fixed");
    bad(MST_PAGE_TAPE, "from,to,distance (m),sd (m)\nA,B,1,0\n", 2, 4, "for the gear's own");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(reads_units_into_metres_and_radians),
                                       cmocka_unit_test(columns_in_any_order_and_without_a_header),
                                       cmocka_unit_test(each_fault_has_its_sentence_and_place),
                                       cmocka_unit_test(binary_and_foreign_bytes),
                                       cmocka_unit_test(reread_gives_the_same_values),
                                       cmocka_unit_test(features_take_shape),
                                       cmocka_unit_test(features_that_cannot_be),
                                       cmocka_unit_test(csv_spectrum),
                                       cmocka_unit_test(one_name_typed_in_two_ways),
                                       cmocka_unit_test(what_would_close_the_site_is_refused),
                                       cmocka_unit_test(odd_text_is_kept_or_refused)};
    return cmocka_run_group_tests(tests, make, drop);
}
