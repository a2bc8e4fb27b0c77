/* Numbers, lengths and angles as people type them. strtod is not used for scanning: it takes hex, inf, nan and the
 * locale's comma; the shape is checked first, so that only digits, one point and an exponent reach it. */
#include "merestone/base.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char MINUS[] = "\xE2\x88\x92"; /* U+2212, as spreadsheets and word processors write it */

static const char *skip_digits(const char *c) {
    while (*c >= '0' && *c <= '9') c++;
    return c;
}

/* The end of the plain decimal number at the start of text, or NULL if there is none. */
static const char *number_end(const char *text, bool with_sign, bool with_exponent) {
    const char *c = text;
    if (with_sign && (*c == '+' || *c == '-')) c++;
    const char *digits = c;
    c = skip_digits(c);
    size_t count = (size_t)(c - digits);
    if (*c == '.') {
        const char *fraction = c + 1;
        c = skip_digits(fraction);
        count += (size_t)(c - fraction);
    }
    if (count == 0) return NULL;
    if (with_exponent && (*c == 'e' || *c == 'E')) {
        const char *exponent = c + 1;
        if (*exponent == '+' || *exponent == '-') exponent++;
        const char *end = skip_digits(exponent);
        if (end > exponent) c = end;
    }
    return c;
}

/* Reads the number at *at and moves behind it. A fixed decimal of up to 15 digits is exact as an integer over a power
 * of ten, so one division rounds it right; anything longer goes to strtod. */
static bool take_number(const char **at, bool with_sign, bool with_exponent, double *value) {
    static const double TENS[] = {1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const char *end = number_end(*at, with_sign, with_exponent);
    if (!end) return false;
    uint64_t mantissa = 0;
    int digits = 0, decimals = 0;
    bool negative = false, after_point = false, plain = true;
    for (const char *c = *at; c < end; c++) {
        if (*c == '-') negative = true;
        else if (*c == '+') continue;
        else if (*c == '.') after_point = true;
        else if (*c == 'e' || *c == 'E') {
            plain = false;
            break;
        } else {
            if (++digits > 15) {
                plain = false;
                break;
            }
            mantissa = mantissa * 10 + (uint64_t)(*c - '0');
            if (after_point) decimals++;
        }
    }
    if (plain) {
        double v = (double)mantissa / TENS[decimals];
        *value = negative ? -v : v;
    } else {
        char copy[64];
        size_t length = (size_t)(end - *at);
        if (length >= sizeof copy) return false;
        memcpy(copy, *at, length);
        copy[length] = '\0';
        *value = strtod(copy, NULL);
    }
    *at = end;
    return isfinite(*value);
}

bool mst_number_read(const char *text, double *value) {
    bool minus = strncmp(text, MINUS, sizeof MINUS - 1) == 0;
    const char *c = minus ? text + sizeof MINUS - 1 : text;
    double v;
    if (!take_number(&c, !minus, true, &v) || *c) return false;
    *value = minus ? -v : v;
    return true;
}

static const struct {
    const char *name;
    mst_unit unit;
} UNITS[] = {{"m", MST_UNIT_M},       {"mm", MST_UNIT_MM},     {"ft", MST_UNIT_FT},
             {"ftUS", MST_UNIT_FTUS}, {"ftin", MST_UNIT_FTIN}, {"deg", MST_UNIT_DEG},
             {"dms", MST_UNIT_DMS},   {"gon", MST_UNIT_GON},   {"s", MST_UNIT_S}};

mst_unit mst_unit_named(const char *name) {
    for (size_t i = 0; i < sizeof UNITS / sizeof *UNITS; i++)
        if (strcmp(name, UNITS[i].name) == 0) return UNITS[i].unit;
    return MST_UNIT_NONE;
}

bool mst_unit_is_length(mst_unit unit) { return unit >= MST_UNIT_M && unit <= MST_UNIT_FTIN; }
bool mst_unit_is_angle(mst_unit unit) { return unit >= MST_UNIT_DEG && unit <= MST_UNIT_GON; }

static bool take(const char **at, const char *mark) {
    size_t length = strlen(mark);
    if (strncmp(*at, mark, length) != 0) return false;
    *at += length;
    return true;
}
static bool take_any(const char **at, const char *const marks[]) {
    for (; *marks; marks++)
        if (take(at, *marks)) return true;
    return false;
}
/* @return true behind a minus, hyphen or sign; a plus says nothing. */
static bool take_sign(const char **at) {
    if (take(at, "-") || take(at, MINUS)) return true;
    (void)take(at, "+");
    return false;
}
static void skip_spaces(const char **at) {
    while (**at == ' ') (*at)++;
}

static const char *const FOOT_MARKS[] = {"'", "\xE2\x80\xB2", "\xE2\x80\x99", "ft", NULL};
static const char *const INCH_MARKS[] = {"\"", "\xE2\x80\xB3", "\xE2\x80\x9D", "''", "in", NULL};

/* A fraction in one sign: U+00BC to U+00BE and U+215B to U+215E. */
static bool take_fraction_sign(const char **at, double *fraction) {
    static const struct {
        const char *sign;
        double value;
    } SIGNS[] = {{"\xC2\xBC", 0.25},      {"\xC2\xBD", 0.5},       {"\xC2\xBE", 0.75},     {"\xE2\x85\x9B", 0.125},
                 {"\xE2\x85\x9C", 0.375}, {"\xE2\x85\x9D", 0.625}, {"\xE2\x85\x9E", 0.875}};
    for (size_t i = 0; i < sizeof SIGNS / sizeof *SIGNS; i++)
        if (take(at, SIGNS[i].sign)) {
            *fraction = SIGNS[i].value;
            return true;
        }
    return false;
}

/* Whole or decimal inches and a fraction: 6, 6.5, 6 1/2, 6-1/2, 1/2, 6½. */
static bool take_inches(const char **at, double *inches) {
    double whole, over, fraction;
    if (take_fraction_sign(at, inches)) return true;
    if (!take_number(at, false, false, &whole)) return false;
    *inches = whole;
    const char *c = *at;
    if (*c == ' ' || *c == '-') c++;
    if (whole == floor(whole) && take_fraction_sign(&c, &fraction)) {
        *inches = whole + fraction;
        *at = c;
        return true;
    }
    c = *at;
    if (*c == '/') {
        c++;
        if (!take_number(&c, false, false, &over) || over == 0) return false;
        *inches = whole / over;
        *at = c;
        return true;
    }
    if (*c != ' ' && *c != '-') return true;
    c++;
    double above;
    if (!take_number(&c, false, false, &above) || *c != '/') return true;
    c++;
    if (!take_number(&c, false, false, &over) || over == 0 || above >= over) return false;
    *inches = whole + above / over;
    *at = c;
    return true;
}

/* 12'-6 1/2", 12' 6", 12', 6 1/2". The marks are what tells feet from inches: a bare number is refused. */
static mst_status read_feet_inches(const char *text, double *metres, mst_error *error) {
    const char *c = text;
    bool negative = take_sign(&c);
    skip_spaces(&c);
    double feet = 0, inches = 0;
    bool any = false;
    const char *start = c;
    double number;
    if (mst_number_read(text, &number) && number == 0) { /* the one length that is the same in every unit */
        *metres = 0;
        return MST_OK;
    }
    if (take_number(&c, false, false, &number)) {
        skip_spaces(&c);
        /* '' after the number is inches, a single mark is feet */
        if (strncmp(c, "''", 2) != 0 && take_any(&c, FOOT_MARKS)) {
            feet = number;
            any = true;
            skip_spaces(&c);
            if (*c == '-') c++;
            skip_spaces(&c);
        } else c = start;
    }
    if (*c) {
        if (!take_inches(&c, &inches))
            return mst_fail(error, MST_INVALID,
                            "'%.60s' is not a length in feet and inches; write it like 12'-6 1/2\".", text);
        skip_spaces(&c);
        if (!take_any(&c, INCH_MARKS) || *c)
            return mst_fail(error, MST_INVALID,
                            "'%.60s' needs its marks for feet and inches; write it like 12'-6 1/2\".", text);
        if (any && inches >= 12)
            return mst_fail(error, MST_INVALID, "'%.60s' has %g inches beside feet; inches stay below 12.", text,
                            inches);
        any = true;
    }
    if (!any)
        return mst_fail(error, MST_INVALID, "'%.60s' is not a length in feet and inches; write it like 12'-6 1/2\".",
                        text);
    if (feet != floor(feet) && inches != 0)
        return mst_fail(error, MST_INVALID, "'%.60s' has a fraction of a foot and inches; write one or the other.",
                        text);
    *metres = (feet + inches / 12) * MST_FOOT_M * (negative ? -1 : 1);
    return MST_OK;
}

static const char *const DEGREE_MARKS[] = {"-", "\xC2\xB0", "\xC2\xBA", "d", " ", ":", NULL};
static const char *const MINUTE_MARKS[] = {"-", "'", "\xE2\x80\xB2", "\xE2\x80\x99", "m", " ", ":", NULL};
static const char *const SECOND_MARKS[] = {"\"", "\xE2\x80\xB3", "\xE2\x80\x9D", "''", "s", NULL};

/* 123-45-56.7, 123°45'56.7", 123-45, 123; never 123.4556. */
static mst_status read_dms(const char *text, double *radians, mst_error *error) {
    const char *c = text;
    bool negative = take_sign(&c);
    double degrees, minutes = 0, seconds = 0;
    if (!take_number(&c, false, false, &degrees)) goto bad;
    if (!*c && degrees != floor(degrees)) /* instruments write 123-45-56 so, and 123.4556 degrees is another angle */
        return mst_fail(error, MST_INVALID,
                        "'%.60s' may be degrees with decimals or degrees, minutes and seconds run together; write it "
                        "like 123-45-56.7, or give the column in deg.",
                        text);
    if (*c) {
        if (degrees != floor(degrees) || !take_any(&c, DEGREE_MARKS)) goto bad;
        skip_spaces(&c);
    }
    if (*c) {
        if (!take_number(&c, false, false, &minutes)) goto bad;
        if (*c && !take_any(&c, MINUTE_MARKS)) goto bad;
        skip_spaces(&c);
    }
    if (*c) {
        if (minutes != floor(minutes) || !take_number(&c, false, false, &seconds)) goto bad;
        take_any(&c, SECOND_MARKS);
        if (*c) goto bad;
    }
    if (minutes >= 60 || seconds >= 60)
        return mst_fail(error, MST_INVALID, "'%.60s' has minutes or seconds of 60 or more.", text);
    *radians = (degrees + minutes / 60 + seconds / 3600) * (MST_PI / 180) * (negative ? -1 : 1);
    return MST_OK;
bad:
    return mst_fail(error, MST_INVALID,
                    "'%.60s' is not an angle in degrees, minutes and seconds; write it like 123-45-56.7.", text);
}

mst_status mst_quantity_read(const char *text, mst_unit unit, double *si, mst_error *error) {
    if (unit == MST_UNIT_FTIN) return read_feet_inches(text, si, error);
    if (unit == MST_UNIT_DMS) return read_dms(text, si, error);
    double value;
    if (!mst_number_read(text, &value)) {
        if (strchr(text, ','))
            return mst_fail(error, MST_INVALID, "'%.60s' has a comma; write decimals with a point.", text);
        return mst_fail(error, MST_INVALID, "'%.60s' is not a number.", text);
    }
    switch (unit) {
    case MST_UNIT_MM:
        *si = value / 1000;
        break;
    case MST_UNIT_FT:
        *si = value * MST_FOOT_M;
        break;
    case MST_UNIT_FTUS:
        *si = value * MST_FOOT_US_M;
        break;
    case MST_UNIT_DEG:
        *si = value * (MST_PI / 180);
        break;
    case MST_UNIT_GON:
        *si = value * (MST_PI / 200);
        break;
    default:
        *si = value;
        break;
    }
    return MST_OK;
}

mst_status mst_length_read(const char *text, mst_unit bare, double *metres, mst_error *error) {
    const char *c = text;
    double value;
    if (strpbrk(text, "'\"") || strstr(text, "\xE2\x80\xB2") || strstr(text, "\xE2\x80\xB3") || strstr(text, "in"))
        return read_feet_inches(text, metres, error);
    if (!take_number(&c, true, true, &value)) return mst_fail(error, MST_INVALID, "'%.60s' is not a length.", text);
    skip_spaces(&c);
    mst_unit unit = *c ? mst_unit_named(c) : bare;
    if (!mst_unit_is_length(unit))
        return mst_fail(error, MST_INVALID, "'%.60s' is not a length; units are m, mm, ft, ftUS, or 12'-6 1/2\".",
                        text);
    if (unit == MST_UNIT_FTIN) return read_feet_inches(text, metres, error);
    *metres = unit == MST_UNIT_MM     ? value / 1000
              : unit == MST_UNIT_FT   ? value * MST_FOOT_M
              : unit == MST_UNIT_FTUS ? value * MST_FOOT_US_M
                                      : value;
    return MST_OK;
}

void mst_feet_inches(double metres, char *out, size_t size) {
    double eighths = floor(fabs(metres) / MST_FOOT_M * 96 + 0.5);
    const char *sign = metres < 0 && eighths > 0 ? "-" : "";
    long long total = (long long)eighths, feet = total / 96, inches = total % 96 / 8;
    int over = (int)(total % 8), below = 8;
    while (over && over % 2 == 0) {
        over /= 2;
        below /= 2;
    }
    if (over) snprintf(out, size, "%s%lld'-%lld %d/%d\"", sign, feet, inches, over, below);
    else snprintf(out, size, "%s%lld'-%lld\"", sign, feet, inches);
}

void mst_angle_dms(double radians, int decimals, char *out, size_t size) {
    double tens = pow(10, decimals);
    double units = floor(fabs(radians) * (180 / MST_PI) * 3600 * tens + 0.5);
    double seconds = fmod(units, 60 * tens) / tens, minutes = floor(units / (60 * tens));
    double degrees = floor(minutes / 60);
    snprintf(out, size, "%s%.0f-%02.0f-%0*.*f", radians < 0 && units > 0 ? "-" : "", degrees, fmod(minutes, 60),
             decimals > 0 ? 3 + decimals : 2, decimals, seconds);
}

double mst_angle_turn(double radians) {
    double a = fmod(radians, 2 * MST_PI);
    if (a < 0) a += 2 * MST_PI;
    return a >= 2 * MST_PI ? 0 : a;
}

double mst_angle_signed(double radians) {
    double a = mst_angle_turn(radians);
    return a > MST_PI ? a - 2 * MST_PI : a;
}
