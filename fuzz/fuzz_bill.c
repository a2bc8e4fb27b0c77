/* mst_prices_read on price lists as text, and mst_bill_of on quantities out of bytes: whole packs, no money lost. */
#include "merestone/estimate.h"
#include "fuzz_helper.h"

enum { QUANTITIES_MAX = 20 };
static const char *const CODES[] = {"bed", "hedge", "clay", "topsoil", "flags"};
static const char *const MEASURES[] = {"length", "area",  "slope area", "count", "cut",
                                       "fill",   "strip", "loose",      "loads", "layer"};

static void bill_holds(const mst_bill *bill) {
    double total = 0;
    for (size_t i = 0; i < bill->count; i++) {
        const mst_takeoff_line *l = &bill->lines[i];
        MUST(isnan(l->net) || (l->low <= l->net && l->net <= l->high));
        MUST(isnan(l->gross) || l->gross >= l->net * (1 - 1e-12));
        if (isfinite(l->packs))
            MUST(l->packs == floor(l->packs) && l->packs * l->pack >= l->gross * (1 - 1e-9) - l->pack * 1e-8);
        if (isfinite(l->amount_minor)) {
            MUST(l->amount_minor == floor(l->amount_minor));
            MUST(l->amount_low_minor <= l->amount_minor && l->amount_minor <= l->amount_high_minor);
            total += l->amount_minor;
        }
    }
    MUST(total == bill->total_minor || !isfinite(bill->total_minor) || fabs(total) > 0x1p53);
    for (size_t i = 0; i < bill->warning_count; i++) MUST(bill->warnings[i] && is_utf8(bill->warnings[i]));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_quantity quantities[QUANTITIES_MAX];
    size_t count = take(&b) % QUANTITIES_MAX, price_count = 0;
    for (size_t i = 0; i < count; i++) {
        double value = fabs(take_number(&b)), width = take(&b) / 10.0;
        quantities[i] = (mst_quantity){
            "source", CODES[take(&b) % 5], MEASURES[take(&b) % 10], {value, value - width, value + width}};
    }
    mst_page page = {0};
    mst_price_line *prices = NULL;
    mst_bill bill;
    mst_error error = {0};
    if (mst_page_read(MST_PAGE_PRICES, "prices.csv", (const char *)b.at, (size_t)(b.end - b.at), NULL, arena, &page,
                      &error) == MST_OK) {
        mst_site site = {.arena = arena, .pages = &page, .page_count = 1};
        mst_status status = mst_prices_read(&site, arena, &prices, &price_count, &error);
        must_say_why(status, &error);
        if (!status) {
            MUST(price_count == page.row_count);
            status = mst_bill_of(quantities, count, prices, price_count, "EUR", arena, &bill, &error);
            must_say_why(status, &error);
            if (!status) bill_holds(&bill);
        }
    }
    mst_arena_free(arena);
    return 0;
}
