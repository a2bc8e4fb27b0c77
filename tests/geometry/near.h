/* What the geometry, ground and works tests share: nearness, and numbers from a fixed seed. */
#ifndef TESTS_NEAR_H
#define TESTS_NEAR_H
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "merestone/base.h"

#define NEAR(value, expected, by) near_at((value), (expected), (by), #value, __FILE__, __LINE__)

static inline void near_at(double value, double expected, double by, const char *what, const char *file, int line) {
    if (fabs(value - expected) <= by) return;
    print_error("%s is %.15g, not %.15g (within %g)\n", what, value, expected, by);
    _fail(file, line);
}

/* splitmix64: the same numbers everywhere. */
static inline double draw(uint64_t *seed) {
    uint64_t z = (*seed += 0x9e3779b97f4a7c15u);
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return (double)((z ^ z >> 31) >> 11) / 9007199254740992.0;
}
static inline double draw_between(uint64_t *seed, double low, double high) { return low + (high - low) * draw(seed); }

static inline double dms(double degrees, double minutes, double seconds) {
    return (degrees + minutes / 60 + seconds / 3600) * MST_PI / 180;
}
static inline double degrees(double radians) { return radians * 180 / MST_PI; }

#define IS_OK(call) is_ok_at((call), &error, __FILE__, __LINE__)
static inline void is_ok_at(mst_status status, const mst_error *error, const char *file, int line) {
    if (status == MST_OK) return;
    print_error("status %d: %s\n", status, error->sentence);
    _fail(file, line);
}
#endif
