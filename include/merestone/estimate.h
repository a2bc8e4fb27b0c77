/** @file merestone/estimate.h  Takeoff: lengths, areas, volumes and counts -> items that can be bought; their price. */
#ifndef MERESTONE_ESTIMATE_H
#define MERESTONE_ESTIMATE_H
#include "merestone/works.h"
#ifdef __cplusplus
extern "C" {
#endif

/** A quantity found on the site, before it is an item. */
typedef struct mst_quantity {
    const char *source;  /**< feature or element name */
    const char *code;    /**< feature code or material */
    const char *measure; /**< length, area, slope area, count, cut, fill, strip, loose, loads, layer; of all
                              works together: surplus, surplus loads, import; of lines of works: laid length */
    mst_figure amount;   /**< m, m2, m3 or a count; NaN = it is there but cannot be known */
} mst_quantity;

/** One line of a price list (the `prices` page, docs/prices.md). */
typedef struct mst_price_line {
    const char *item, *unit, *code, *measure, *pack_unit;
    double depth_m, /**< area x depth = volume; NaN none */
        factor, /**< e.g. t per m3; NaN = 1 */ waste_percent, pack,
        /**< how many units a pack holds; NaN none */ rate_minor; /**< minor units of currency per unit; NaN missing */
    int row;
} mst_price_line;

typedef struct mst_takeoff_line {
    const char *item, *unit;
    double net, waste_percent, gross, packs, spare, /**< NaN when not sold in packs */
        pack;                                       /**< units in one pack, NaN none */
    const char *pack_unit;
    const char **sources;
    size_t source_count;
    double low, high;                                                     /**< 95 % of net */
    double rate_minor, amount_minor, amount_low_minor, amount_high_minor; /**< NaN when not priced */
} mst_takeoff_line;
typedef struct mst_bill {
    mst_takeoff_line *lines;
    size_t count;
    double total_minor, total_low_minor, total_high_minor;
    const char *currency;
    const char **warnings;
    size_t warning_count; /**< missing prices, quantities no item takes */
    bool partial;         /**< the total lacks something */
} mst_bill;

/** Quantities of every feature and element: length (outline of an area), area, slope area (with @p ground), count
 * (points of a spot, 1 for others); cut, fill, strip (code topsoil), loose and loads of each material (with @p
 * earthwork), and of each layer its compacted volume (layer) and its area. What cannot be known is listed with the
 * amount NaN.
 * @retval MST_INVALID, MST_NOT_FOUND a work's definition, as mst_element_read */
mst_status mst_quantities(const mst_site *site, const mst_adjustment *adjustment,
                          const mst_ground *ground, /**< may be NULL */
                          const mst_earthwork_report *earthwork, /**< may be NULL */ mst_arena *arena,
                          mst_quantity **quantities, size_t *count, mst_error *error) MST_CHECKED;
/** Digits of a currency's minor unit by its ISO 4217 code: 2 unless it is known to differ. */
int mst_currency_decimals(const char *currency);
/** Reads the newest `prices` page of the site. Code `*` stands for any code. Units m, m2, m3 (and ft, yd, ft2 ...) must
 * fit the measure; any other unit is a count or needs a factor per metre, m2 or m3 (2.15 for t per compacted m3: the
 * one route to mass).
 * @retval MST_NOT_FOUND no prices page; MST_INVALID with the row */
mst_status mst_prices_read(const mst_site *site, mst_arena *arena, mst_price_line **lines, size_t *count,
                           mst_error *error) MST_CHECKED;
/** Items with waste and pack rounding, priced. Packs are rounded up; net, gross and spare stay apart. What is bought
 * (whole packs, else gross) times the rate is rounded half away from zero to the minor unit, once a line. Ranges:
 * sources of an item are taken as independent, the lines' ranges are added up. Lines in the order of the price list.
 * @retval MST_TOO_FEW no price line; MST_INVALID one item on two rows with different terms, or a line as
 * mst_prices_read refuses it */
mst_status mst_bill_of(const mst_quantity quantities[], size_t quantity_count, const mst_price_line prices[],
                       size_t price_count, const char *currency, mst_arena *arena, mst_bill *bill,
                       mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
