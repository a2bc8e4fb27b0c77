/* Sentences in feet. The foot of 0.3048 m, the inch of 25.4 mm and the yard of 0.9144 m are exact by definition (NIST
 * Special Publication 811, appendix B); the figures here are worked out from them by hand. */
#include "merestone/base.h"
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static void check(const char *said, const char *wanted) {
    mst_text text = {0};
    mst_words_in_feet(said, &text);
    assert_string_equal(text.data ? text.data : "", wanted);
    mst_text_free(&text);
}

static void measured_figures_go_to_feet(void **state) {
    (void)state;
    check("They are 12.014 m apart on site, 12.000 m in the design: 14 mm.",
          "They are 39.416 ft apart on site, 39.370 ft in the design: 0.55 in.");
    check("123 mm deep, 4.2 m2, 0.17 m3", "4.84 in deep, 45.2 ft2, 0.22 yd3");
    check("81.3 m\xC2\xB2 and 100.00 m\xC2\xB3.", "875 ft\xC2\xB2 and 130.80 yd\xC2\xB3.");
    check("of the section's 19.70 m.", "of the section's 64.63 ft.");
    check("-0.500 m or +0.500 m", "-1.640 ft or +1.640 ft");
    check("every 3 m along 60 m", "every 9.8 ft along 197 ft");
    check("at 25.4 mm an hour 3.20 l/s", "at 1.00 in an hour 3.20 l/s");
}

static void levels_and_places_go_with_them(void **state) {
    (void)state;
    check("Water stands at 101.39 E, 205.69 N and spills at level 98.027.",
          "Water stands at 332.64 E, 674.84 N and spills at level 321.611.");
}

static void what_is_no_measured_figure_stays(void **state) {
    (void)state;
    static const char *const SAME[] = {
        "",
        "It falls 3.83 % (1:26) towards 222 deg, 95 %: 2.88 to 4.79 %.",
        "'Path gravel 10 mm' has no price; 'a m' neither.",
        "The leg H4-BD4 on visit 2 (legs.csv row 31), 12 m\xC3\xBCnd, 3 men, 4 mx.",
        "US: from 5 ft (1.52\xC2\xA0m); 1.2\xC2\xA0m is only a custom (CDM 2015 reg 22).",
        "Built in 2021-05-06; 1.43 loose per 1 in the bank; level 3 of 4.",
    };
    for (size_t i = 0; i < sizeof SAME / sizeof *SAME; i++) check(SAME[i], SAME[i]);
    check("the house's edge is 1.00 m from the tree's stem", "the house's edge is 3.28 ft from the tree's stem");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(measured_figures_go_to_feet),
                                       cmocka_unit_test(levels_and_places_go_with_them),
                                       cmocka_unit_test(what_is_no_measured_figure_stays)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
