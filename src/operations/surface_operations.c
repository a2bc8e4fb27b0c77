/* Sections through the works and the hauls between them. */
#include "operations/operation.h"
#include <math.h>
#include <string.h>

mst_status mst_derive_works(mst_session *session, mst_works **works, mst_error *error) {
    mst_derived *d = &session->derived;
    mst_status status = mst_derive_earthwork(d, error);
    return status ? status
                  : mst_works_compose(d->elements, d->element_count, d->site, d->adjustment, d->ground,
                                      session->scratch, works, error);
}

/* ---- sections ---- */

static json_t *section_json(const mst_section *s, const mst_element elements[]) {
    json_t *list = json_array();
    for (size_t i = 0; i < s->count; i++) {
        const mst_section_point *p = &s->points[i];
        json_t *o = json_pack("{s:f,s:f,s:f}", "chainage_m", p->chainage_m, "easting_m", p->at.easting_m, "northing_m",
                              p->at.northing_m);
        json_object_set_new(o, "existing_m", mst_json_number(p->level.existing_m));
        json_object_set_new(o, "stripped_m", mst_json_number(p->level.stripped_m));
        json_object_set_new(o, "formation_m", mst_json_number(p->level.formation_m));
        json_object_set_new(o, "finished_m", mst_json_number(p->level.finished_m));
        json_object_set_new(o, "element",
                            p->level.owner == UINT32_MAX ? json_null() : json_string(elements[p->level.owner].name));
        json_array_append_new(list, o);
    }
    return json_pack("{s:o,s:f,s:f}", "points", list, "cut_m2", s->cut_m2, "fill_m2", s->fill_m2);
}

static json_t *stations_json(const mst_station stations[], size_t count, const mst_element elements[]) {
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++) {
        const mst_station *s = &stations[i];
        json_t *o = section_json(&s->section, elements);
        json_object_set_new(o, "chainage_m", json_real(s->chainage_m));
        json_object_set_new(o, "cut_m3", json_real(s->cut_m3));
        json_object_set_new(o, "fill_m3", json_real(s->fill_m3));
        json_object_set_new(o, "mass_m3", json_real(s->mass_m3));
        json_array_append_new(list, o);
    }
    return list;
}

/* One soil along the line: that of the first element which names one. */
static mst_status compacted_of(const mst_derived *d, double *compacted, mst_error *error) {
    mst_soil soil;
    const char *name = d->element_count && d->elements[0].soil ? d->elements[0].soil : "common earth";
    mst_status status = mst_soil_of(d->site, name, &soil, error);
    if (!status) *compacted = soil.compacted;
    return status;
}

mst_status mst_derive_sections(mst_session *session, const json_t *arguments, const char **along,
                               mst_section *long_section, const mst_station **stations, size_t *count,
                               double *compacted, mst_error *error) {
    mst_derived *d = &session->derived;
    double spacing = 5, width = 20;
    mst_path path;
    mst_works *works;
    mst_station *made = NULL;
    *along = mst_arg_text(arguments, "along", "");
    *count = 0;
    mst_status status = mst_arg_length(arguments, "spacing", &spacing, error);
    if (!status) status = mst_arg_length(arguments, "width", &width, error);
    if (!status) status = mst_derive_works(session, &works, error);
    if (!status) status = mst_arg_path(arguments, d, session->scratch, &path, error);
    if (!status) status = compacted_of(d, compacted, error);
    if (!status) status = mst_works_section(works, &path, session->scratch, long_section, error);
    const mst_feature *f = mst_site_feature(d->site, *along);
    if (!status && f && f->kind == MST_FEATURE_LINE)
        status =
            mst_works_stations(works, &path, spacing, width / 2, *compacted, session->scratch, &made, count, error);
    if (!status) *stations = made;
    return status;
}

MST_OPERATION(mst_op_sections) {
    static const char *const KNOWN[] = {"along", "from", "to", "spacing", "width", NULL};
    const char *along;
    double compacted = 1;
    mst_section longitudinal;
    const mst_station *stations;
    size_t count;
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status)
        status = mst_derive_sections(session, arguments, &along, &longitudinal, &stations, &count, &compacted, error);
    const mst_element *elements = session->derived.elements;
    if (!status)
        *result = json_pack("{s:s,s:o,s:o}", "along", along, "long_section", section_json(&longitudinal, elements),
                            "stations", stations_json(stations, count, elements));
    return status;
}

/* ---- hauls ---- */

static const char *element_or(const mst_derived *d, uint32_t element, const char *off_site) {
    return element == MST_HAUL_OFF_SITE ? off_site : d->elements[element].name;
}

static json_t *plan_json(const mst_derived *d, const mst_haul_plan *plan, bool priced) {
    json_t *list = json_array();
    for (size_t i = 0; i < plan->count; i++) {
        const mst_haul *h = &plan->hauls[i];
        json_array_append_new(list, json_pack("{s:s,s:s,s:f,s:f,s:f,s:i,s:o}", "from", element_or(d, h->from, "import"),
                                              "to", element_or(d, h->to, "cart away"), "bank_m3", h->bank_m3,
                                              "loose_m3", h->loose_m3, "distance_m", h->distance_m, "loads", h->loads,
                                              "cost", mst_json_number(priced ? h->cost : NAN)));
    }
    return json_pack("{s:o,s:f,s:f,s:f,s:i,s:i,s:o}", "hauls", list, "reuse_bank_m3", plan->reuse_bank_m3,
                     "cart_away_bank_m3", plan->cart_away_bank_m3, "import_m3", plan->import_m3, "loads_away",
                     plan->loads_away, "loads_in", plan->loads_in, "cost", mst_json_number(priced ? plan->cost : NAN));
}

/* Without prices: the least way, and nothing leaves or comes that need not. */
MST_OPERATION(mst_op_haul) {
    static const char *const KNOWN[] = {"haul", "import", "cart-away", NULL};
    mst_derived *d = &session->derived;
    mst_grade_prices prices = {.haul = 1, .import = 1e5, .cart_away = 1e5};
    bool priced =
        mst_arg_given(arguments, "haul") || mst_arg_given(arguments, "import") || mst_arg_given(arguments, "cart-away");
    mst_works *works;
    mst_haul_plan plan;
    double load_m3 = 0, load_t = 0;
    if (priced) prices = (mst_grade_prices){0};
    mst_status status = mst_arg_only(arguments, KNOWN, error);
    if (!status) status = mst_arg_number(arguments, "haul", &prices.haul, error);
    if (!status) status = mst_arg_number(arguments, "import", &prices.import, error);
    if (!status) status = mst_arg_number(arguments, "cart-away", &prices.cart_away, error);
    if (!status && !(prices.haul >= 0 && prices.import >= 0 && prices.cart_away >= 0))
        return mst_fail(error, MST_INVALID, "A price is 0 or more.");
    if (!status) status = mst_derive_works(session, &works, error);
    if (!status) status = mst_lorry_of(d->site, "load", &load_m3, error);
    if (!status) status = mst_lorry_of(d->site, "load weight", &load_t, error);
    if (!status)
        status = mst_haul_plan_of(d->elements, d->earthwork, works, d->site, &prices, load_m3, load_t, session->scratch,
                                  &plan, error);
    mst_haul_plan topsoil;
    if (!status)
        status = mst_topsoil_plan_of(d->elements, d->earthwork, works, d->site, &prices, load_m3, load_t,
                                     session->scratch, &topsoil, error);
    if (status) return status;
    *result = plan_json(d, &plan, priced);
    json_object_set_new(*result, "topsoil", plan_json(d, &topsoil, priced));
    return MST_OK;
}
