/* Everything rests on three functions: log gamma, the regularised incomplete gamma and the regularised incomplete
 * beta. The C library's lgamma writes a global, so it is not used. */
#include "numeric/statistics.h"
#include "merestone/base.h"
#include <float.h>
#include <math.h>

enum { MAX_TERMS = 20000, MAX_STEPS = 200 };
static const double TERM_LIMIT = 1e-16; /* relative; below the last bit */

/* Stirling's series, after the argument is raised to where its next term is below the last bit. */
static double log_gamma(double x) {
    static const double SERIES[] = {1.0 / 12,   -1.0 / 360,      1.0 / 1260, -1.0 / 1680,
                                    1.0 / 1188, -691.0 / 360360, 1.0 / 156};
    double product = 1;
    for (; x < 15; x++) product *= x;
    double sum = 0, power = 1 / x;
    for (int i = 0; i < 7; i++, power /= x * x) sum += SERIES[i] * power;
    return (x - 0.5) * log(x) - x + 0.5 * log(2 * MST_PI) + sum - log(product);
}

/* x^a e^-x / gamma(a), without the cancellation that separate logarithms of large numbers would bring. */
static double gamma_density(double a, double x) {
    if (a < 15) return exp(a * log(x) - x - log_gamma(a));
    double ratio = (x - a) / a;
    double stirling = log_gamma(a) - ((a - 0.5) * log(a) - a + 0.5 * log(2 * MST_PI));
    return exp(a * (log1p(ratio) - ratio) - stirling) * sqrt(a / (2 * MST_PI));
}

static double lower_gamma_series(double a, double x) {
    double term = 1 / a, sum = term;
    for (int i = 1; i < MAX_TERMS && term > sum * TERM_LIMIT; i++) {
        term *= x / (a + i);
        sum += term;
    }
    return sum * gamma_density(a, x);
}

/* Lentz's evaluation of the continued fraction for the upper part. */
static double upper_gamma_fraction(double a, double x) {
    double b = x + 1 - a, c = 1 / DBL_MIN, d = 1 / b, h = d;
    for (int i = 1; i < MAX_TERMS; i++) {
        double an = -i * (i - a);
        b += 2;
        d = an * d + b;
        c = b + an / c;
        if (fabs(d) < DBL_MIN) d = DBL_MIN;
        if (fabs(c) < DBL_MIN) c = DBL_MIN;
        d = 1 / d;
        h *= d * c;
        if (fabs(d * c - 1) < TERM_LIMIT * 4) break;
    }
    return h * gamma_density(a, x);
}

static double beta_fraction(double a, double b, double x) {
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    if (fabs(d) < DBL_MIN) d = DBL_MIN;
    d = 1 / d;
    double h = d;
    for (int m = 1; m < MAX_TERMS; m++) {
        double change = 1;
        for (int odd = 0; odd < 2; odd++) {
            double n = odd ? -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
                           : m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
            d = 1 + n * d;
            c = 1 + n / c;
            if (fabs(d) < DBL_MIN) d = DBL_MIN;
            if (fabs(c) < DBL_MIN) c = DBL_MIN;
            d = 1 / d;
            change = d * c;
            h *= change;
        }
        if (fabs(change - 1) < TERM_LIMIT * 4) break;
    }
    return h;
}

/* The regularised incomplete beta function at x, with y = 1 - x given for its own digits. */
static double beta_below(double a, double b, double x, double y) {
    if (!(x > 0)) return 0;
    if (!(y > 0)) return 1;
    double front = exp(log_gamma(a + b) - log_gamma(a) - log_gamma(b) + a * log(x) + b * log(y));
    if (x < (a + 1) / (a + b + 2)) return front * beta_fraction(a, b, x) / a;
    return 1 - front * beta_fraction(b, a, y) / b;
}

double mst_normal_below(double x) { return 0.5 * erfc(-x / sqrt(2)); }

double mst_chi_square_below(double x, double n) {
    if (!(n > 0)) return NAN;
    if (!(x > 0)) return 0;
    return x / 2 < n / 2 + 1 ? lower_gamma_series(n / 2, x / 2) : 1 - upper_gamma_fraction(n / 2, x / 2);
}

double mst_f_below(double f, double m, double n) {
    if (!(m > 0) || !(n > 0)) return NAN;
    if (!(f > 0)) return 0;
    return beta_below(m / 2, n / 2, m * f / (m * f + n), n / (m * f + n));
}

double mst_student_below(double t, double n) {
    if (!(n > 0)) return NAN;
    double tail = beta_below(n / 2, 0.5, n / (n + t * t), t * t / (n + t * t)) / 2;
    return t > 0 ? 1 - tail : tail;
}

/* The x in (low, high) at which an increasing function reaches p: secant steps kept inside a closing bracket. */
typedef struct distribution {
    double (*below)(const struct distribution *self, double x);
    double m, n;
} distribution;

static double root_of(const distribution *of, double p, double low, double high) {
    double low_value = of->below(of, low) - p, high_value = of->below(of, high) - p;
    int last_side = 0;
    for (int i = 0; i < MAX_STEPS && high - low > 4 * DBL_EPSILON * fabs(high + low) / 2; i++) {
        double x = i % 3 == 2 ? (low + high) / 2 : low - low_value * (high - low) / (high_value - low_value);
        if (!(x > low && x < high)) x = (low + high) / 2;
        double value = of->below(of, x) - p;
        if (value == 0) return x;
        int side = value < 0 ? -1 : 1;
        if (side < 0) {
            low = x, low_value = value;
            if (last_side == side) high_value /= 2; /* the Illinois rule: an end that stays is weakened */
        } else {
            high = x, high_value = value;
            if (last_side == side) low_value /= 2;
        }
        last_side = side;
    }
    return (low + high) / 2;
}

/* Upper end of a bracket for a variable that starts at zero. */
static double bracket_of(const distribution *of, double p, double first) {
    double high = first;
    while (of->below(of, high) < p && high < DBL_MAX / 4) high *= 2;
    return high;
}

static double chi_square_of(const distribution *self, double x) { return mst_chi_square_below(x, self->m); }
static double f_of(const distribution *self, double x) { return mst_f_below(x, self->m, self->n); }
static double student_of(const distribution *self, double x) { return mst_student_below(x, self->m); }

double mst_chi_square_quantile(double p, double n) {
    if (!(p > 0 && p < 1) || !(n > 0)) return NAN;
    distribution of = {chi_square_of, n, 0};
    return root_of(&of, p, 0, bracket_of(&of, p, n + 1));
}

double mst_f_quantile(double p, double m, double n) {
    if (!(p > 0 && p < 1) || !(m > 0) || !(n > 0)) return NAN;
    distribution of = {f_of, m, n};
    return root_of(&of, p, 0, bracket_of(&of, p, 1));
}

double mst_student_quantile(double p, double n) {
    if (!(p > 0 && p < 1) || !(n > 0)) return NAN;
    if (p == 0.5) return 0;
    if (p < 0.5) return -mst_student_quantile(1 - p, n);
    distribution of = {student_of, n, 0};
    return root_of(&of, p, 0, bracket_of(&of, p, 1));
}

/* A rational start (Abramowitz and Stegun 26.2.23, good to 4.5e-4), then Newton steps on the error function. */
double mst_normal_quantile(double p) {
    if (!(p > 0 && p < 1)) return NAN;
    if (p == 0.5) return 0;
    double tail = p < 0.5 ? p : 1 - p, t = sqrt(-2 * log(tail));
    double x = (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308))) - t;
    for (int i = 0; i < 4; i++) { /* x < 0: the lower tail keeps its digits */
        double excess = (0.5 * erfc(-x / sqrt(2)) - tail) / (exp(-x * x / 2) / sqrt(2 * MST_PI));
        x -= excess / (1 + x * excess / 2);
    }
    return p < 0.5 ? x : -x;
}
