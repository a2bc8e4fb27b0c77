/* Distributions against the table of ../shared/references/03 (chi-square, F and t multipliers, computed there to four
 * decimals and agreeing with the printed standard tables; Baarda 1968 for the constants of data snooping), and against
 * closed forms that need no table. */
#include "numeric/statistics.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

static const double PRINTED = 5e-5;
static void near(double value, double expected, double by) { assert_true(fabs(value - expected) <= by); }

static void the_printed_table(void **state) {
    (void)state;
    static const double ROWS[][8] = {{1, 0.0010, 0.0039, 3.8415, 5.0239, 6.6349, 19.9750, 12.7062},
                                     {2, 0.0506, 0.1026, 5.9915, 7.3778, 9.2103, 6.1644, 4.3027},
                                     {3, 0.2158, 0.3518, 7.8147, 9.3484, 11.3449, 4.3708, 3.1824},
                                     {4, 0.4844, 0.7107, 9.4877, 11.1433, 13.2767, 3.7267, 2.7764},
                                     {5, 0.8312, 1.1455, 11.0705, 12.8325, 15.0863, 3.4018, 2.5706},
                                     {6, 1.2373, 1.6354, 12.5916, 14.4494, 16.8119, 3.2073, 2.4469},
                                     {8, 2.1797, 2.7326, 15.5073, 17.5345, 20.0902, 2.9863, 2.3060},
                                     {10, 3.2470, 3.9403, 18.3070, 20.4832, 23.2093, 2.8645, 2.2281},
                                     {12, 4.4038, 5.2260, 21.0261, 23.3367, 26.2170, 2.7876, 2.1788},
                                     {15, 6.2621, 7.2609, 24.9958, 27.4884, 30.5779, 2.7138, 2.1314},
                                     {20, 9.5908, 10.8508, 31.4104, 34.1696, 37.5662, 2.6430, 2.0860},
                                     {25, 13.1197, 14.6114, 37.6525, 40.6465, 44.3141, 2.6020, 2.0595},
                                     {30, 16.7908, 18.4927, 43.7730, 46.9792, 50.8922, 2.5752, 2.0423},
                                     {40, 24.4330, 26.5093, 55.7585, 59.3417, 63.6907, 2.5423, 2.0211},
                                     {60, 40.4817, 43.1880, 79.0819, 83.2977, 88.3794, 2.5101, 2.0003},
                                     {100, 74.2219, 77.9295, 124.3421, 129.5612, 135.8067, 2.4849, 1.9840}};
    static const double P[] = {0.025, 0.05, 0.95, 0.975, 0.99};
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        double n = ROWS[r][0];
        for (int c = 0; c < 5; c++) near(mst_chi_square_quantile(P[c], n), ROWS[r][c + 1], PRINTED);
        near(sqrt(2 * mst_f_quantile(0.95, 2, n)), ROWS[r][6], PRINTED);
        near(mst_student_quantile(0.975, n), ROWS[r][7], PRINTED);
    }
}

/* Two degrees of freedom: 1 - exp(-x / 2). One: the error function. F(2, n): 1 - (1 + 2 f / n)^(-n / 2).
 * t with 1: arctangent; with 2: algebraic. (Abramowitz and Stegun, chapter 26.) */
static void closed_forms(void **state) {
    (void)state;
    for (double p = 0.001; p < 1; p += 0.037) {
        near(mst_chi_square_quantile(p, 2) / (-2 * log1p(-p)), 1, 1e-12);
        near(mst_student_quantile(p, 1), tan(3.14159265358979323846 * (p - 0.5)),
             1e-10 * (1 + fabs(tan(3.141592653589793 * (p - 0.5)))));
        near(mst_student_quantile(p, 2), (2 * p - 1) * sqrt(2 / (4 * p * (1 - p))), 1e-10 * 50);
        double z = mst_normal_quantile(0.5 + p / 2);
        near(mst_chi_square_quantile(p, 1), z * z, 1e-11 * (1 + z * z));
        for (double n = 1; n < 200; n = n * 2 + 1)
            near(mst_f_quantile(p, 2, n) / (n / 2 * (pow(1 - p, -2 / n) - 1)), 1, 1e-9);
    }
}

static void quantiles_undo_probabilities(void **state) {
    (void)state;
    static const double N[] = {0.5, 1, 3, 17, 400, 9000, 900000};
    for (double p = 1e-6; p < 1; p += 0.0531)
        for (int i = 0; i < 7; i++) {
            near(mst_chi_square_below(mst_chi_square_quantile(p, N[i]), N[i]), p, 1e-10);
            near(mst_student_below(mst_student_quantile(p, N[i]), N[i]), p, 1e-10);
            near(mst_f_below(mst_f_quantile(p, N[i], 7), N[i], 7), p, 1e-10);
        }
    for (double p = 1e-12; p < 1; p += 0.0531) near(mst_normal_below(mst_normal_quantile(p)) / p, 1, 1e-12);
}

static void constants_of_data_snooping(void **state) { /* T03-F; Baarda 1968 */
    (void)state;
    near(mst_normal_quantile(1 - 0.0005), 3.290526731, 1e-8);
    double delta = mst_normal_quantile(1 - 0.0005) + mst_normal_quantile(0.8);
    near(delta, 4.132147965, 1e-8);
    near(delta * delta, 17.07464681, 1e-7);
    near(mst_normal_quantile(0.975), 1.959963985, 1e-9);
    near(mst_normal_quantile(0.995), 2.575829304, 1e-9);
}

static void outside_the_range_is_no_number(void **state) {
    (void)state;
    assert_true(isnan(mst_normal_quantile(0)) && isnan(mst_normal_quantile(1)) && isnan(mst_normal_quantile(NAN)));
    assert_true(isnan(mst_chi_square_quantile(0.5, 0)) && isnan(mst_chi_square_quantile(1, 3)));
    assert_true(isnan(mst_student_quantile(0.5, -1)) && isnan(mst_f_quantile(0.5, 2, 0)));
    assert_true(mst_chi_square_below(-1, 3) == 0 && mst_f_below(-1, 3, 3) == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_printed_table), cmocka_unit_test(closed_forms),
                                       cmocka_unit_test(quantiles_undo_probabilities),
                                       cmocka_unit_test(constants_of_data_snooping),
                                       cmocka_unit_test(outside_the_range_is_no_number)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
