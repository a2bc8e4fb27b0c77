/* Text as it goes out: CSV fields that read back the same, sentences that stay one line of UTF-8 (RFC 4180, RFC 3629).
 */
#include "merestone/base.h"
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static void fields_are_quoted_where_a_reader_would_change_them(void **state) {
    (void)state;
    static const char *const FIELDS[][2] = {
        {"plain", "plain"},   {"", ""},         {"a,b", "\"a,b\""}, {"a\"b", "\"a\"\"b\""},
        {"a\nb", "\"a\nb\""}, {" a", "\" a\""}, {"a\t", "\"a\t\""}, {"a b", "a b"}};
    for (size_t i = 0; i < sizeof FIELDS / sizeof *FIELDS; i++) {
        mst_text text = {0};
        mst_text_csv(&text, FIELDS[i][0]);
        assert_string_equal(text.data ? text.data : "", FIELDS[i][1]);
        mst_text_free(&text);
    }
}

/* The sequences of RFC 3629, section 4: shortest forms only, no surrogates, nothing beyond U+10FFFF. */
static void utf8_is_told_from_other_bytes(void **state) {
    (void)state;
    static const struct {
        const char *bytes;
        size_t length;
    } CASES[] = {{"A", 1},        {"\xC3\xA9", 2},     {"\xE2\x82\xAC", 3}, {"\xF0\x9F\x8C\xB3", 4},
                 {"\xC0\x80", 0}, {"\xE0\x80\x80", 0}, {"\xED\xA0\x80", 0}, {"\xF4\x90\x80\x80", 0},
                 {"\x80", 0},     {"\xE2\x82", 0},     {"\xFF", 0}};
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++)
        assert_int_equal(mst_utf8_length(CASES[i].bytes, strlen(CASES[i].bytes)), CASES[i].length);
    assert_int_equal(mst_utf8_length("\xC3\xA9", 1), 0);
    assert_int_equal(mst_utf8_length("", 0), 0);
}

static void a_sentence_is_one_line_of_whole_characters(void **state) {
    (void)state;
    mst_error error;
    mst_fail_at(&error, MST_INVALID, "page\n.csv", 2, 1, "'%.3s' and\r\n'%s'.", "ab\xC3\xA9", "c\td");
    assert_string_equal(error.sentence, "'ab' and  'c d'.");
    assert_string_equal(error.page, "page .csv");
    char longer[600];
    memset(longer, 'x', sizeof longer);
    for (size_t i = 0; i + 2 < sizeof longer; i += 2) memcpy(longer + i, "\xC3\xA9", 2);
    longer[sizeof longer - 1] = '\0';
    mst_fail(&error, MST_INVALID, "%s", longer);
    assert_int_equal(strlen(error.sentence), 398); /* 399 bytes would end within a character */
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(fields_are_quoted_where_a_reader_would_change_them),
                                       cmocka_unit_test(utf8_is_told_from_other_bytes),
                                       cmocka_unit_test(a_sentence_is_one_line_of_whole_characters)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
