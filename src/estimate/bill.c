/* The bill: quantities gathered by item, waste added, packs rounded up, and priced. Net, gross, packs and spare stay
 * apart, and a line is rounded to the minor unit once. What a quantity's sources know of each other is left out: within
 * an item their errors are taken as independent, and the lines' ranges are added up, since one edge feeds several
 * lines. */
#include "estimate/prices.h"
#include <math.h>
#include <string.h>
#include <strings.h>

static const double PACK_ROUNDING = 1e-9; /* 25.92 / 8.64 is 3 packs, not 4 for a last bit */
static const double MINOR_ROUNDING =
    1e-6; /* of a minor unit: 100.5 is a half although it was computed as 100.49999999999999 */

typedef struct group {
    const mst_price_line *price; /* the first line of the item */
    double net, below, above;    /* below, above: squares of the half widths */
    const char **sources;
    size_t source_count, source_capacity;
} group;

typedef struct work {
    mst_arena *arena;
    group *groups;
    size_t group_count, group_capacity;
    mst_index items;
    const char **warnings;
    size_t warning_count, warning_capacity;
    bool *taken; /* by quantity */
    bool failed, partial;
} work;

#define WARN(w, ...) warn(w, mst_arena_printf((w)->arena, __VA_ARGS__))
static void warn(work *w, const char *sentence) {
    const char **at =
        !sentence || w->failed ? NULL : MST_PUSH(w->arena, w->warnings, w->warning_count, w->warning_capacity);
    if (at) *at = sentence;
    else w->failed = true;
}

/* ---- what an item takes ---- */

static bool takes(const mst_price_line *p, const mst_quantity *q) {
    if (strcasecmp(p->measure, q->measure) != 0) return false;
    return strcmp(p->code, "*") == 0 || strcasecmp(p->code, q->code) == 0;
}

/* From metres to the item's unit: by a depth, a factor, or the unit's own size. */
static double scale_of(const mst_price_line *p) {
    double scale = isnan(p->depth_m) ? 1 : p->depth_m, per_si;
    int power;
    if (!isnan(p->factor)) return scale * p->factor;
    return mst_item_unit(p->unit, &power, &per_si) ? scale * per_si : scale;
}

static bool same(double a, double b) { return a == b || (isnan(a) && isnan(b)); }

static mst_status group_of(work *w, const mst_price_line *p, group **out, mst_error *error) {
    uint32_t at = mst_index_get(&w->items, p->item);
    if (at == UINT32_MAX) {
        group *g = MST_PUSH(w->arena, w->groups, w->group_count, w->group_capacity);
        if (!g || !mst_index_put(&w->items, w->arena, p->item, (uint32_t)(w->group_count - 1)))
            return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
        g->price = p;
        *out = g;
        return MST_OK;
    }
    const mst_price_line *first = w->groups[at].price;
    if (strcmp(first->unit, p->unit) != 0 || !same(first->waste_percent, p->waste_percent) ||
        !same(first->pack, p->pack) || !same(first->rate_minor, p->rate_minor))
        return mst_fail_at(error, MST_INVALID, NULL, p->row, 0,
                           "Item %s is listed on rows %d and %d with another unit, waste, pack or rate; make them "
                           "alike or name them apart.",
                           p->item, first->row, p->row);
    *out = &w->groups[at];
    return MST_OK;
}

static void add_source(work *w, group *g, const char *source) {
    for (size_t i = 0; i < g->source_count; i++)
        if (strcmp(g->sources[i], source) == 0) return;
    const char **at = MST_PUSH(w->arena, g->sources, g->source_count, g->source_capacity);
    if (at) *at = source;
    else w->failed = true;
}

static void add_quantity(work *w, group *g, const mst_price_line *p, const mst_quantity *q) {
    if (isnan(q->amount.value)) {
        w->partial = true;
        WARN(w, "The %s of %s is not known (a point has no place, or there is no ground): item %s is short of it.",
             q->measure, q->source, p->item);
        return;
    }
    double scale = scale_of(p), below = scale * (q->amount.value - q->amount.low),
           above = scale * (q->amount.high - q->amount.value);
    g->net += scale * q->amount.value;
    if (isfinite(below)) g->below += below * below;
    if (isfinite(above)) g->above += above * above;
    if (q->amount.value != 0) add_source(w, g, q->source);
}

/* A feature is priced when any of its measures is, dug soil when its cut, loose volume or loads are; fill and strip
 * stand alone. What all works leave over or lack of a soil is told of by its cut and fill. */
static const char *class_of(const mst_quantity *q) {
    if (strcmp(q->measure, "fill") == 0 || strcmp(q->measure, "strip") == 0) return q->measure;
    if (strcmp(q->measure, "cut") == 0 || strcmp(q->measure, "loose") == 0 || strcmp(q->measure, "loads") == 0)
        return "cut";
    return "";
}

/* A soil or material that does have the measure: whoever wrote an element's name for it sees what was meant. */
static const char *code_with(const mst_quantity quantities[], size_t count, const char *measure) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(quantities[i].measure, measure) == 0 && *class_of(&quantities[i])) return quantities[i].code;
    return NULL;
}

static mst_status gather(work *w, const mst_quantity quantities[], size_t count, const mst_price_line *p,
                         mst_error *error) {
    bool any = false;
    mst_status status = mst_price_check(p, NULL, error);
    for (size_t i = 0; i < count && !status; i++) {
        if (!takes(p, &quantities[i])) continue;
        group *g = NULL;
        status = group_of(w, p, &g, error);
        if (!status) add_quantity(w, g, p, &quantities[i]);
        w->taken[i] = any = true;
    }
    const char *other = any ? NULL : code_with(quantities, count, p->measure);
    if (!any && !status && other)
        WARN(w, "Item %s takes the %s of '%s', and the site has none, but that of '%s': check the code.", p->item,
             p->measure, p->code, other);
    else if (!any && !status)
        WARN(w, "Item %s takes the %s of '%s', and the site has none: check the code.", p->item, p->measure, p->code);
    return status;
}

/* ---- what no item takes ---- */

static const char *class_key(const mst_quantity *q, const char *source, mst_arena *arena) {
    const char *class = class_of(q);
    return mst_arena_printf(arena, "%s\n%s\n%s", source, class, *class ? "" : q->code);
}

/* One of a class stands for it: the count of a feature, the volume of a layer, the cut of a dig. */
static bool stands_for_class(const mst_quantity *q) {
    static const char *const ONE[] = {"count", "cut", "fill", "strip", "layer"};
    for (size_t i = 0; i < sizeof ONE / sizeof *ONE; i++)
        if (strcmp(q->measure, ONE[i]) == 0) return q->amount.value != 0;
    return false;
}

static void index_taken(work *w, const mst_quantity quantities[], size_t count, mst_index *taken) {
    for (size_t i = 0; i < count && !w->failed; i++) {
        const char *key = w->taken[i] ? class_key(&quantities[i], quantities[i].source, w->arena) : "";
        if (!key || (*key && !mst_index_put(taken, w->arena, key, 1))) w->failed = true;
    }
}

/* Said once for a code, however many features carry it. */
static void warn_untaken(work *w, const mst_quantity quantities[], size_t count) {
    mst_index taken = {0}, said = {0};
    const char *codes = NULL; /* all in one sentence: a plan has many features that nobody buys */
    index_taken(w, quantities, count, &taken);
    for (size_t i = 0; i < count && !w->failed; i++) {
        const mst_quantity *q = &quantities[i];
        if (!stands_for_class(q)) continue;
        const char *key = class_key(q, q->source, w->arena),
                   *about = mst_arena_printf(w->arena, "%s\n%s", q->code, class_of(q));
        if (!key || !about) {
            w->failed = true;
            return;
        }
        if (mst_index_get(&taken, key) != UINT32_MAX || mst_index_get(&said, about) != UINT32_MAX) continue;
        if (!mst_index_put(&said, w->arena, about, 1)) {
            w->failed = true;
            return;
        }
        if (*class_of(q))
            WARN(w, "No item takes the %s of %s (code '%s'): it is not in the total.", q->measure, q->source, q->code);
        else codes = mst_arena_printf(w->arena, "%s%s'%s'", codes ? codes : "", codes ? ", " : "", q->code);
    }
    if (codes) WARN(w, "No item takes these codes, so they are not in the total: %s.", codes);
}

/* ---- one line ---- */

static double to_minor(double amount) { return round(round(amount / MINOR_ROUNDING) * MINOR_ROUNDING); }

static double bought(const mst_price_line *p, double net, double *packs) {
    double gross = net * (1 + p->waste_percent / 100);
    *packs = isnan(p->pack) ? NAN : fmax(0, ceil(gross / p->pack - PACK_ROUNDING));
    return isnan(p->pack) ? gross : *packs * p->pack;
}

static double amount_of(const mst_price_line *p, double net) {
    double packs;
    return to_minor(bought(p, net, &packs) * p->rate_minor);
}

static void write_line(const group *g, mst_takeoff_line *l) {
    const mst_price_line *p = g->price;
    double packs, all = bought(p, g->net, &packs), gross = g->net * (1 + p->waste_percent / 100);
    *l = (mst_takeoff_line){.item = p->item,
                            .unit = p->unit,
                            .net = g->net,
                            .waste_percent = p->waste_percent,
                            .gross = gross,
                            .packs = packs,
                            .pack = p->pack,
                            .spare = isnan(p->pack) ? NAN : fmax(0, all - gross),
                            .pack_unit = p->pack_unit ? p->pack_unit : "",
                            .sources = g->sources,
                            .source_count = g->source_count,
                            .low = fmax(0, g->net - sqrt(g->below)),
                            .high = g->net + sqrt(g->above),
                            .rate_minor = p->rate_minor,
                            .amount_minor = amount_of(p, g->net)};
    l->amount_low_minor = amount_of(p, l->low);
    l->amount_high_minor = amount_of(p, l->high);
}

static void write_bill(work *w, const char *currency, mst_bill *bill) {
    *bill = (mst_bill){.lines = mst_arena_array(w->arena, w->group_count, sizeof *bill->lines),
                       .count = w->group_count,
                       .currency = currency};
    if (!bill->lines) {
        w->failed = true;
        return;
    }
    for (size_t i = 0; i < w->group_count; i++) {
        mst_takeoff_line *l = &bill->lines[i];
        write_line(&w->groups[i], l);
        if (isnan(l->rate_minor)) {
            WARN(w, "Item %s has no rate: the total is without it.", l->item);
            w->partial = true;
            continue;
        }
        bill->total_minor += l->amount_minor;
        bill->total_low_minor += l->amount_low_minor;
        bill->total_high_minor += l->amount_high_minor;
    }
    bill->warnings = w->warnings;
    bill->warning_count = w->warning_count;
    bill->partial = w->partial;
}

mst_status mst_bill_of(const mst_quantity quantities[], size_t quantity_count, const mst_price_line prices[],
                       size_t price_count, const char *currency, mst_arena *arena, mst_bill *bill, mst_error *error) {
    if (price_count == 0) return mst_fail(error, MST_TOO_FEW, "The price list has no item.");
    work w = {.arena = arena, .taken = mst_arena_array(arena, quantity_count, sizeof *w.taken)};
    if (!w.taken) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    mst_bill b = {0};
    for (size_t i = 0; i < price_count; i++) {
        mst_status status = gather(&w, quantities, quantity_count, &prices[i], error);
        if (status) return status;
    }
    warn_untaken(&w, quantities, quantity_count);
    write_bill(&w, currency ? currency : "", &b);
    if (w.failed) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    *bill = b;
    return MST_OK;
}
