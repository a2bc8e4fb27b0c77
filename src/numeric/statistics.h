/** @file numeric/statistics.h  The distributions that an adjustment is tested with. */
#ifndef NUMERIC_STATISTICS_H
#define NUMERIC_STATISTICS_H

/* Each `..._below` is P(X <= x); each `..._quantile` is the x with P(X <= x) = p, 0 < p < 1; NaN for a p outside or
 * degrees of freedom not above 0. Relative accuracy better than 1e-10 up to 1e6 degrees of freedom.
 * Methods: incomplete gamma and beta functions by series and continued fraction (Abramowitz and Stegun, Handbook of
 * Mathematical Functions, 6.5.29, 6.5.31, 26.5.8), quantiles by safeguarded Newton steps on them. */

double mst_normal_below(double x);
double mst_normal_quantile(double p);
double mst_chi_square_below(double x, double degrees_of_freedom);
double mst_chi_square_quantile(double p, double degrees_of_freedom);
double mst_student_below(double t, double degrees_of_freedom);
double mst_student_quantile(double p, double degrees_of_freedom);
double mst_f_below(double f, double numerator_degrees, double denominator_degrees);
double mst_f_quantile(double p, double numerator_degrees, double denominator_degrees);

#endif
