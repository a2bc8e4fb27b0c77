/** @file src/exchange/cloud_number.h  Decimals read eight digits at a time, rounded as if digit by digit.
 *
 * A mantissa below 2^53 and a power of ten up to 22 are exact, so that one division rounds correctly (W. Clinger, How to
 * read floating point numbers accurately, PLDI 1990). Anything else takes the slow way. */
#ifndef EXCHANGE_CLOUD_NUMBER_H
#define EXCHANGE_CLOUD_NUMBER_H
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

/* Eight bytes, the first one lowest. */
static inline uint64_t mst_eight(const char *p) {
    const unsigned char *u = (const unsigned char *)p;
    return (uint64_t)u[0] | (uint64_t)u[1] << 8 | (uint64_t)u[2] << 16 | (uint64_t)u[3] << 24 | (uint64_t)u[4] << 32 | (uint64_t)u[5] << 40 |
           (uint64_t)u[6] << 48 | (uint64_t)u[7] << 56;
}

/** Reads digits; adds them behind @p mantissa. @return how many; the mantissa may have overflowed when over 18 in all */
static inline unsigned mst_digits(const char **at, uint64_t *mantissa) {
    static const uint64_t TENS[9] = {1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000};
    const uint64_t ZEROS = 0x3030303030303030u, HIGH = 0x8080808080808080u, ONES = 0x0101010101010101u;
    unsigned all = 0, n;
    do {
        uint64_t x = mst_eight(*at) ^ ZEROS;
        uint64_t other = ((x + 0x7676767676767676u) | x) & HIGH; /* the top bit of every byte that is no digit, up to the first */
        n = other ? (unsigned)(((((other & (~other + 1)) - 1) & ONES) * ONES >> 56) - 1) : 8;
        if (n == 0) break;
        x <<= 8 * (8 - n);
        x = (x & 0x0F0F0F0F0F0F0F0Fu) * 2561 >> 8;
        x = (x & 0x00FF00FF00FF00FFu) * 6553601 >> 16;
        x = (x & 0x0000FFFF0000FFFFu) * 42949672960001u >> 32;
        *mantissa = *mantissa * TENS[n] + x;
        *at += n;
        all += n;
    } while (n == 8 && all < 32);
    return all;
}

/** Reads [sign] digits [. digits] at @p at, behind which 40 bytes can be read. @return false, with @p at where it was, for
 * any other number, or none */
static inline bool mst_decimal(const char **at, double *value) {
    static const double TENS[23] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                    1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
    const char *p = *at;
    bool minus = *p == '-';
    p += minus || *p == '+';
    uint64_t mantissa = 0;
    unsigned whole = mst_digits(&p, &mantissa), part = 0;
    if (*p == '.') {
        p++;
        part = mst_digits(&p, &mantissa);
    }
    if (whole + part == 0 || whole + part > 18 || mantissa > (uint64_t)1 << 53 || *p == 'e' || *p == 'E') return false;
    double v = (double)mantissa / TENS[part];
    *value = minus ? -v : v;
    *at = p;
    return true;
}
#endif
