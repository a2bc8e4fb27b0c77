/* JCGM 106:2012 clause 8, guarded acceptance and rejection. Reference page T11-I (rule of JCGM 106 with numbers chosen
 * there: tolerance 10 mm, deviation 8 mm, standard uncertainty 1.2 mm: conformance probability 0.9522, accept) and its
 * guard band table. */
#include "merestone/setout.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <cmocka.h>

static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.9f is not %.9f within %g", a, b, by);
}

static void conformance_probability_of_t11_i(void **state) {
    (void)state;
    near(mst_conformance(0.008, 0.010, 0.0012), 0.9522, 0.00005);
}
/* An item measured exactly at the acceptance limit: guard band in units of u, probability that it conforms. The far
 * limit is put out of the way, as the table has one limit only. */
static void guard_band_table(void **state) {
    (void)state;
    const double table[][2] = {{0, 0.5000},    {1.00, 0.8413}, {1.645, 0.9500},
                               {1.64, 0.9495}, {2.00, 0.9772}, {3, 0.99865}};
    for (int i = 0; i < 6; i++)
        near(mst_conformance(100 - table[i][0], 100, 1), table[i][1], i == 5 ? 0.000005 : 0.00005);
}
static mst_verdict verdict_of(double deviation_m, double sd_m) {
    mst_arena *arena = mst_arena_new();
    const mst_setout_line stake = {.stake = "P", .elevation_m = 5};
    const mst_built built = {"P", 0, 0, 5 + deviation_m, 0.001, sd_m, 2};
    mst_check *checks;
    size_t count;
    assert_int_equal(mst_verify(&built, 1, &stake, 1, NULL, arena, &checks, &count, NULL), MST_OK);
    mst_verdict verdict = checks[0].verdict;
    mst_arena_free(arena);
    return verdict;
}
/* Accept up to T - 1.645 u = 8.026 mm, reject from T + 1.645 u = 11.974 mm, between them neither. */
static void guarded_acceptance_and_rejection(void **state) {
    (void)state;
    assert_int_equal(verdict_of(0.0080, 0.0012), MST_PASS);
    assert_int_equal(verdict_of(0.00802, 0.0012), MST_PASS);
    assert_int_equal(verdict_of(0.00803, 0.0012), MST_CANNOT_TELL);
    assert_int_equal(verdict_of(-0.0100, 0.0012), MST_CANNOT_TELL);
    assert_int_equal(verdict_of(-0.01197, 0.0012), MST_CANNOT_TELL);
    assert_int_equal(verdict_of(-0.01198, 0.0012), MST_FAIL);
}
/* The acceptance zone of a two-sided tolerance vanishes when the measurement is too coarse, even at no deviation at
 * all. */
static void the_acceptance_zone_vanishes(void **state) {
    (void)state;
    assert_int_equal(verdict_of(0, 0.0050), MST_PASS); /* 10 mm is 2 u: 0.9545 */
    assert_int_equal(verdict_of(0, 0.0052), MST_CANNOT_TELL);
}
int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(conformance_probability_of_t11_i), cmocka_unit_test(guard_band_table),
        cmocka_unit_test(guarded_acceptance_and_rejection), cmocka_unit_test(the_acceptance_zone_vanishes)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
