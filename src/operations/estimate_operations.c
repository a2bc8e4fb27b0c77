/* Quantities and their price. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

static json_t *line_json(const mst_takeoff_line *l, bool priced) {
    json_t *sources = json_array();
    for (size_t i = 0; i < l->source_count; i++) json_array_append_new(sources, json_string(l->sources[i]));
    json_t *o = json_pack("{s:s,s:s,s:o,s:f,s:o,s:o,s:s,s:o,s:o,s:[o,o]}", "item", l->item, "unit", l->unit, "net",
                          mst_json_number(l->net), "waste_percent", l->waste_percent, "gross",
                          mst_json_number(l->gross), "packs", mst_json_number(l->packs), "pack_unit",
                          l->pack_unit ? l->pack_unit : "", "spare", mst_json_number(l->spare), "source", sources,
                          "interval", mst_json_number(l->low), mst_json_number(l->high));
    if (!priced) return o;
    /* amounts are whole minor units of the currency */
    json_object_set_new(o, "rate", mst_json_number(l->rate_minor));
    json_object_set_new(o, "amount",
                        isnan(l->amount_minor) ? json_null() : json_integer((json_int_t)llround(l->amount_minor)));
    json_object_set_new(
        o, "amount_interval",
        json_pack("[o,o]", mst_json_number(l->amount_low_minor), mst_json_number(l->amount_high_minor)));
    return o;
}

mst_status mst_derive_bill(mst_session *session, mst_bill *bill, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_quantity *quantities;
    mst_price_line *prices;
    size_t quantity_count, price_count;
    mst_status status = mst_derive_adjustment(d, error);
    bool grounded = !status && mst_derive_ground(d, NULL) == MST_OK;
    /* Works that cannot be measured are a refusal, not a silent nought. */
    if (!status && d->site->work_count) status = mst_derive_earthwork(d, error);
    if (!status)
        status = mst_quantities(d->site, d->adjustment, grounded ? d->ground : NULL,
                                d->site->work_count ? d->earthwork : NULL, session->scratch, &quantities,
                                &quantity_count, error);
    if (!status) status = mst_prices_read(d->site, session->scratch, &prices, &price_count, error);
    if (!status)
        status = mst_bill_of(quantities, quantity_count, prices, price_count, mst_site_setting(d->site, "currency", ""),
                             session->scratch, bill, error);
    return status;
}

static mst_status bill_operation(mst_session *session, const json_t *arguments, bool priced, json_t **result,
                                 mst_error *error) {
    static const char *const KNOWN[] = {NULL};
    mst_bill bill;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_derive_bill(session, &bill, error);
    if (status) return status;
    json_t *lines = json_array(), *warnings = json_array();
    for (size_t i = 0; i < bill.count; i++) json_array_append_new(lines, line_json(&bill.lines[i], priced));
    for (size_t i = 0; i < bill.warning_count; i++) json_array_append_new(warnings, json_string(bill.warnings[i]));
    *result = json_pack("{s:o,s:o}", "lines", lines, "warnings", warnings);
    const mst_earthwork_report *dug = session->derived.site->work_count ? session->derived.earthwork : NULL;
    json_t *cautions = json_array();
    for (size_t i = 0; dug && i < dug->caution_count; i++)
        json_array_append_new(cautions, json_string(dug->cautions[i]));
    json_object_set_new(*result, "cautions", cautions);
    if (!priced) return MST_OK;
    json_object_set_new(*result, "partial", json_boolean(bill.partial));
    json_object_set_new(*result, "currency", mst_json_text(bill.currency));
    json_object_set_new(*result, "total",
                        isnan(bill.total_minor) ? json_null() : json_integer((json_int_t)llround(bill.total_minor)));
    json_object_set_new(
        *result, "total_interval",
        json_pack("[o,o]", mst_json_number(bill.total_low_minor), mst_json_number(bill.total_high_minor)));
    return MST_OK;
}

MST_OPERATION(mst_op_takeoff) { return bill_operation(session, arguments, false, result, error); }
MST_OPERATION(mst_op_estimate) { return bill_operation(session, arguments, true, result, error); }
