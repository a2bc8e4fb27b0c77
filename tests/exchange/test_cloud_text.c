/* Clouds as text: numbers against strtod of the C library (the reference for decimals), separators, headers, refusals
 * with their row and column. Common practice, no source: the layouts that scanners and programs write. */
#include "exchange/cloud_number.h"
#include "exchange/cloud_test.h"

/* ---- numbers ---- */

static uint64_t state;
static uint64_t next(void) {
    state ^= state << 13, state ^= state >> 7, state ^= state << 17;
    return state;
}

static void decimals_are_read_as_strtod_reads_them(void **unused) {
    (void)unused;
    char text[128];
    state = 88172645463325252u;
    for (int i = 0; i < 400000; i++) {
        int whole = (int)(next() % 10), part = (int)(next() % 9);
        int n = 0;
        memset(text, 0, sizeof text);
        if (next() % 4 == 0) text[n++] = "-+"[next() % 2];
        for (int k = 0; k < whole; k++) text[n++] = (char)('0' + next() % 10);
        if (part || next() % 3 == 0) text[n++] = '.';
        for (int k = 0; k < part; k++) text[n++] = (char)('0' + next() % 10);
        text[n] = ",;\n\t x"[next() % 6];
        const char *at = text;
        double value = 0;
        bool is_number = mst_decimal(&at, &value);
        assert_true(is_number || whole + part == 0 || whole + part > 15); /* 15 digits always fit 53 bits */
        assert_false(is_number && whole + part == 0);
        if (!is_number) {
            assert_ptr_equal(at, text);
            continue;
        }
        assert_ptr_equal(at, text + n);
        if (value != strtod(text, NULL)) fail_msg("%s", text);
    }
}

static void what_is_no_plain_decimal_is_left_to_the_slow_way(void **unused) {
    (void)unused;
    const char *const other[] = {"",
                                 "-",
                                 ".",
                                 "-.",
                                 "abc",
                                 "1e5",
                                 "12.5E-3",
                                 "9007199254740993",
                                 "1234567890123456789",
                                 "0.1234567890123456789",
                                 "--1",
                                 "+-1",
                                 "/1",
                                 ":1"};
    for (size_t i = 0; i < sizeof other / sizeof *other; i++) {
        char text[128] = {0};
        strcpy(text, other[i]);
        const char *at = text;
        double value = 77;
        if (mst_decimal(&at, &value)) fail_msg("'%s'", text);
        assert_ptr_equal(at, text);
    }
}

/* ---- layouts ---- */

static mst_cloud_point *points_of(const char *text, const char *columns, size_t *count, mst_cloud_facts *facts) {
    const char *path = write_file("cloud.txt", text, strlen(text));
    mst_cloud_file *file;
    mst_error error = {0};
    if (mst_cloud_open(path, columns, &file, &error)) fail_msg("%s", error.sentence);
    mst_cloud_point *p = all_points(file, 1, 1, count);
    *facts = *mst_cloud_file_facts(file);
    mst_cloud_close(file);
    unlink(path);
    return p;
}

static void every_layout_gives_the_same_points(void **unused) {
    (void)unused;
    const struct {
        const char *text, *columns;
    } layouts[] = {{"1.5,2.25,-3.5\n10,20,30\n", NULL},
                   {"1.5,2.25,-3.5\r\n10,20,30", NULL},
                   {"\xEF\xBB\xBF"
                    "1.5;2.25;-3.5\n\n10;20;30\n",
                    NULL},
                   {"1.5 2.25 -3.5\n  10   20\t30  \n", NULL},
                   {"1.5\t2.25\t-3.5\n10\t20\t30\n", NULL},
                   {"x\tid\ty\tz\n1.5\t\t2.25\t-3.5\n10\tB 7\t20\t30\n", NULL},
                   {"# made by hand\n1.5, 2.25, -3.5\n 10 , 20 , 30 \n# end\n", NULL},
                   {"x,y,z\n1.5,2.25,-3.5\n10,20,30\n", NULL},
                   {"\"Easting\",\"Northing\",\"Elevation\"\n\"1.5\",\"2.25\",\"-3.5\"\n\"10\",\"20\",\"30\"\n", NULL},
                   {"point,northing,easting,elevation,code\nA,2.25,1.5,-3.5,GND\n\"B, old\",20,10,30,\n", NULL},
                   {"1.5e0,225e-2,-0.35E1\n1e1,2e1,3e1\n", NULL},
                   {"+1.5,2.25,-3.500000000000000000000\n00010,20.,30.0\n", NULL},
                   {"7,1.5,2.25,-3.5\n8,10,20,30\n", "n1,e,n,z"},
                   {"-3.5 99 1.5 2.25\n30 99 10 20\n", "z i x y"}};
    const double known[2][3] = {{1.5, 2.25, -3.5}, {10, 20, 30}};
    for (size_t i = 0; i < sizeof layouts / sizeof *layouts; i++) {
        mst_cloud_facts facts;
        size_t count;
        mst_cloud_point *p = points_of(layouts[i].text, layouts[i].columns, &count, &facts);
        if (count != 2) fail_msg("layout %zu: %zu points", i, count);
        for (int k = 0; k < 2; k++)
            if (p[k].easting_m != known[k][0] || p[k].northing_m != known[k][1] || p[k].elevation_m != known[k][2])
                fail_msg("layout %zu", i);
        assert_false(facts.classed);
        free(p);
    }
}

static void units_and_classes_come_from_the_header(void **unused) {
    (void)unused;
    mst_cloud_facts facts;
    size_t count;
    mst_cloud_point *p =
        points_of("Easting (ft),Northing (ft),Classification,Height [m]\n1,2,9,3\n", NULL, &count, &facts);
    assert_true(facts.plan_m == MST_FOOT_M && facts.height_m == 1 && facts.classed);
    assert_int_equal(p[0].class_code, 9);
    free(p);
    p = points_of("1,2,3,2\n1,2,3,255\n", NULL, &count, &facts);
    assert_true(facts.classed && facts.plan_m == 0);
    assert_int_equal(p[0].class_code, 2);
    assert_int_equal(p[1].class_code, 255);
    free(p);
    p = points_of("1,2,3,99,100,101\n", NULL, &count, &facts); /* colours, perhaps */
    assert_false(facts.classed);
    assert_non_null(strstr(facts.note, "6 columns"));
    free(p);
}

/* Lines over the edge of the buffer: more than a megabyte, with a last line of no end. */
static void long_files_are_read_across_the_buffer(void **unused) {
    (void)unused;
    enum { LINES = 120000 };
    char *text = malloc((size_t)LINES * 40);
    size_t n = 0;
    for (int i = 0; i < LINES; i++)
        n += (size_t)sprintf(text + n, "%d.125,%d,%.3f%s", 452000 + i, 4987000 + i % 1000, i / 8.0,
                             i + 1 < LINES ? "\n" : "");
    const char *path = write_file("long.txt", text, n);
    mst_cloud_file *file;
    size_t count;
    assert_int_equal(mst_cloud_open(path, NULL, &file, NULL), MST_OK);
    for (int pass = 0; pass < 2; pass++) { /* the second one after a rewind */
        mst_cloud_point *p = all_points(file, 1, 1, &count);
        assert_int_equal(count, LINES);
        for (int i = 0; i < LINES; i++)
            assert_true(p[i].easting_m == 452000 + i + 0.125 && p[i].elevation_m == i / 8.0);
        free(p);
    }
    mst_cloud_close(file);
    unlink(path);
    free(text);
}

static void faults_are_named_with_row_and_column(void **unused) {
    (void)unused;
    const struct {
        const char *text;
        int row, column;
        const char *says;
    } faults[] = {{"1,2,3\n1,2,x\n", 2, 3, "The elevation 'x' is not a number"},
                  {"1,2,3\n\n1,2\n", 3, 3, "The line ends before its elevation"},
                  {"1,2,3\n1\n", 2, 2, "The line ends before its northing"},
                  {"1 2 3\n1 2\n", 2, 3, "The line ends before its elevation"},
                  {"1;2;3\n1,5;2;3\n", 2, 1, "decimals are written with a point"},
                  {"1,2,3 4\n", 1, 3, "not a number"},
                  {"1,2,3\n1,,3\n", 2, 2, "The northing '' is not a number"},
                  {"1,2,3\nnan,2,3\n", 2, 1, "The easting 'nan'"},
                  {"1,2,3\n1,2,0x10\n", 2, 3, "not a number"},
                  {"x,y,z,class\n1,2,3,256\n", 2, 4, "from 0 to 255"},
                  {"x,y,z,class\n1,2,3,1.5\n", 2, 4, "from 0 to 255"},
                  {"x,y,z,class\n1,2,3,-1\n", 2, 4, "from 0 to 255"},
                  {"x,y\n1,2\n", 1, 0, "names no easting"},
                  {"x,y,z,x\n1,2,3,4\n", 1, 4, "Two columns"},
                  {"easting (ft),northing (m),z\n", 1, 2, "different units"},
                  {"easting (furlong),northing,z\n", 1, 1, "unit of this column"},
                  {"\n\n# nothing\n", 0, 0, "no line with a point"},
                  {"1,2,\"3\n", 1, 3, "not a number"}};
    for (size_t i = 0; i < sizeof faults / sizeof *faults; i++) {
        size_t count;
        mst_error error = {0};
        mst_status status = read_text_through(faults[i].text, NULL, &count, &error);
        if (status != MST_INVALID || error.row != faults[i].row || error.column != faults[i].column ||
            !strstr(error.sentence, faults[i].says))
            fail_msg("%zu: %d at %d:%d '%s'", i, (int)status, error.row, error.column, error.sentence);
    }
}

static void a_line_without_end_is_refused(void **unused) {
    (void)unused;
    size_t size = 3 << 20, count;
    char *text = malloc(size);
    memset(text, '1', size);
    memcpy(text, "1,2,3\n", 6);
    const char *path = write_file("endless.txt", text, size);
    mst_error error = {0};
    assert_int_equal(read_through(path, NULL, &count, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "over a megabyte"));
    assert_int_equal(error.row, 2);
    unlink(path);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(decimals_are_read_as_strtod_reads_them),
                                       cmocka_unit_test(what_is_no_plain_decimal_is_left_to_the_slow_way),
                                       cmocka_unit_test(every_layout_gives_the_same_points),
                                       cmocka_unit_test(units_and_classes_come_from_the_header),
                                       cmocka_unit_test(long_files_are_read_across_the_buffer),
                                       cmocka_unit_test(faults_are_named_with_row_and_column),
                                       cmocka_unit_test(a_line_without_end_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
