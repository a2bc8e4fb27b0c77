/* The price list: reading, and refusing what cannot be meant. Rates are in minor units of the currency (cents), as
 * decimals, so that 0.125 a block stays 12.5; amounts are rounded once, on the bill. */
#include "estimate/prices.h"
#include <math.h>
#include <string.h>
#include <strings.h>

static const double WASTE_MOST = 100; /* percent; more is a slip of the key */
static const double RATE_MOST = 1e12; /* of the major unit; beyond it cents are no longer exact */

static const struct {
    const char *name;
    int power;
} MEASURES[] = {{"length", 1},  {"area", 2},          {"slope area", 2}, {"count", 0},      {"cut", 3},
                {"fill", 3},    {"strip", 3},         {"loose", 3},      {"loads", 0},      {"layer", 3},
                {"surplus", 3}, {"surplus loads", 0}, {"import", 3},     {"laid length", 1}};

int mst_measure_power(const char *measure) {
    for (size_t i = 0; i < sizeof MEASURES / sizeof *MEASURES; i++)
        if (strcasecmp(measure, MEASURES[i].name) == 0) return MEASURES[i].power;
    return -1;
}

static const double YARD_M = 0.9144; /* exact, international yard */

bool mst_item_unit(const char *unit, int *power, double *per_si) {
    static const struct {
        const char *name;
        int power;
        double metres;
    } UNITS[] = {{"m", 1, 1},
                 {"m2", 2, 1},
                 {"m3", 3, 1},
                 {"ft", 1, MST_FOOT_M},
                 {"ft2", 2, MST_FOOT_M},
                 {"ft3", 3, MST_FOOT_M},
                 {"yd", 1, YARD_M},
                 {"yd2", 2, YARD_M},
                 {"yd3", 3, YARD_M},
                 {"lm", 1, 1},
                 {"sqm", 2, 1},
                 {"cbm", 3, 1},
                 {"m\xC2\xB2", 2, 1},
                 {"m\xC2\xB3", 3, 1},
                 {"ft\xC2\xB2", 2, MST_FOOT_M},
                 {"ft\xC2\xB3", 3, MST_FOOT_M},
                 {"yd\xC2\xB2", 2, YARD_M},
                 {"yd\xC2\xB3", 3, YARD_M}};
    for (size_t i = 0; i < sizeof UNITS / sizeof *UNITS; i++) {
        if (strcmp(unit, UNITS[i].name) != 0) continue;
        *power = UNITS[i].power;
        *per_si = 1 / pow(UNITS[i].metres, UNITS[i].power);
        return true;
    }
    return false;
}

/* ---- money ---- */

/* ISO 4217 currencies whose minor unit is not a hundredth; from memory. */
int mst_currency_decimals(const char *currency) {
    static const char *const NONE[] = {"BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW",
                                       "PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"};
    static const char *const THREE[] = {"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"};
    for (size_t i = 0; i < sizeof NONE / sizeof *NONE; i++)
        if (strcmp(currency, NONE[i]) == 0) return 0;
    for (size_t i = 0; i < sizeof THREE / sizeof *THREE; i++)
        if (strcmp(currency, THREE[i]) == 0) return 3;
    return 2;
}

static double minor_units(double major, int decimals) {
    static const double TENS[] = {1, 10, 100, 1000};
    return round(major * TENS[decimals] * 1e6) / 1e6; /* 12.35 is 1235, not 1234.9999999999998 */
}

/* ---- checks ---- */

static mst_status check_dimension(const mst_price_line *l, const char *page, mst_error *error) {
    int power = mst_measure_power(l->measure), unit_power;
    double per_si;
    if (!isnan(l->depth_m) && power != 1 && power != 2)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0,
                           "Item %s: a depth makes a volume of an area; %s has none to give, so leave the depth empty.",
                           l->item, l->measure);
    if (!isnan(l->depth_m)) power++;
    bool known = mst_item_unit(l->unit, &unit_power, &per_si);
    if (!isnan(l->factor) || (known && unit_power == power)) return MST_OK;
    if (!known && power == 0) return MST_OK;
    static const char *const IN[] = {"a count", "m", "m2", "m3"};
    return mst_fail_at(
        error, MST_INVALID, page, l->row, 0,
        "Item %s is sold by the %s but its %s comes in %s; give a factor (%s per %s) or another measure.", l->item,
        l->unit, l->measure, IN[power], l->unit, power ? IN[power] : "one");
}

mst_status mst_price_check(const mst_price_line *l, const char *page, mst_error *error) {
    if (!*l->item) return mst_fail_at(error, MST_INVALID, page, l->row, 0, "The item has no name.");
    if (!*l->unit) return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s has no unit.", l->item);
    if (mst_measure_power(l->measure) < 0)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0,
                           "Item %s: '%s' is no measure; use length, area, slope area, count, cut, fill, strip, loose, "
                           "loads, layer, surplus, surplus loads, import or laid length.",
                           l->item, l->measure);
    if (l->depth_m <= 0)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s: the depth must be more than 0.", l->item);
    if (l->factor <= 0)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s: the factor must be more than 0.", l->item);
    if (!(l->waste_percent >= 0 && l->waste_percent <= WASTE_MOST))
        return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s: waste is 0 to %g percent.", l->item,
                           WASTE_MOST);
    if (l->pack <= 0)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s: a pack must hold more than 0.", l->item);
    if (l->rate_minor < 0)
        return mst_fail_at(error, MST_INVALID, page, l->row, 0, "Item %s: the rate is negative.", l->item);
    return check_dimension(l, page, error);
}

/* ---- reading ---- */

static mst_status read_line(const mst_page *page, const mst_row *row, int decimals, mst_price_line *l,
                            mst_error *error) {
    *l = (mst_price_line){.item = row->text[MST_PRICES_ITEM],
                          .unit = row->text[MST_PRICES_UNIT],
                          .code = row->text[MST_PRICES_CODE],
                          .measure = row->text[MST_PRICES_MEASURE],
                          .pack_unit = row->text[MST_PRICES_PACK_UNIT],
                          .depth_m = row->value[MST_PRICES_DEPTH],
                          .factor = row->value[MST_PRICES_FACTOR],
                          .waste_percent = row->value[MST_PRICES_WASTE],
                          .pack = row->value[MST_PRICES_PACK],
                          .rate_minor = minor_units(row->value[MST_PRICES_RATE], decimals),
                          .row = row->line};
    if (isnan(l->waste_percent)) l->waste_percent = 0;
    if (row->value[MST_PRICES_RATE] > RATE_MOST)
        return mst_fail_at(error, MST_INVALID, page->name, row->line, 0, "Item %s: a rate of %g cannot be meant.",
                           l->item, row->value[MST_PRICES_RATE]);
    return mst_price_check(l, page->name, error);
}

mst_status mst_prices_read(const mst_site *site, mst_arena *arena, mst_price_line **lines, size_t *count,
                           mst_error *error) {
    const mst_page *page = NULL;
    for (size_t i = 0; i < site->page_count; i++)
        if (site->pages[i].kind == MST_PAGE_PRICES) page = &site->pages[i];
    if (!page) return mst_fail(error, MST_NOT_FOUND, "The site has no price list; import one with --as prices.");
    int decimals = mst_currency_decimals(mst_site_setting(site, "currency", ""));
    mst_price_line *out = mst_arena_array(arena, page->row_count, sizeof *out);
    if (!out) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    size_t n = 0;
    for (size_t i = 0; i < page->row_count; i++) {
        if (page->rows[i].set_aside) continue;
        mst_status status = read_line(page, &page->rows[i], decimals, &out[n++], error);
        if (status) return status;
    }
    *lines = out;
    *count = n;
    return MST_OK;
}
