/* What can be counted on a site: each feature's lengths and areas, each element's earth and layers. A quantity that
 * cannot be known keeps its place with the amount NaN, so that the bill can say what it is short of. */
#include "merestone/estimate.h"
#include <math.h>
#include <string.h>

static const double COVERED = 0.99; /* ground may miss a sliver at an edge; less of it is no slope area */
static const char *const TOPSOIL = "topsoil", *const ALL_WORKS = "all works";

/* What all works dig and fill of one soil. */
typedef struct soil_sum {
    const char *soil;
    mst_figure cut, fill;
} soil_sum;

typedef struct list {
    mst_quantity *items;
    size_t count, capacity;
    soil_sum *soils;
    size_t soil_count, soil_capacity;
    mst_arena *arena;
    bool failed;
} list;

static void add(list *l, const char *source, const char *code, const char *measure, mst_figure amount) {
    mst_quantity *q = l->failed ? NULL : MST_PUSH(l->arena, l->items, l->count, l->capacity);
    if (!q) {
        l->failed = true;
        return;
    }
    *q = (mst_quantity){source, code ? code : "", measure, amount};
}

static mst_figure exactly(double value) { return (mst_figure){value, value, value}; }
static mst_figure unknown(void) { return exactly(NAN); }
static mst_figure times(mst_figure f, double factor) {
    return (mst_figure){f.value * factor, f.low * factor, f.high * factor};
}

/* ---- features ---- */

static bool fatal(mst_status status) { return status == MST_NO_MEMORY; }

static mst_figure slope_area(const mst_feature *f, const mst_figure *area, const mst_adjustment *adjustment,
                             const mst_ground *ground, mst_arena *arena) {
    mst_shape shape;
    double slope, covered;
    if (mst_feature_shape(f, adjustment, arena, &shape, NULL)) return unknown();
    if (mst_ground_slope_area(ground, &shape, arena, &slope, &covered, NULL)) return unknown();
    if (!(covered >= COVERED * area->value) || covered <= 0) return unknown();
    return times(*area, slope / covered);
}

static mst_status add_feature(list *l, const mst_feature *f, const mst_adjustment *adjustment, const mst_ground *ground,
                              mst_error *error) {
    mst_measure m = {unknown(), unknown(), unknown()};
    add(l, f->name, f->code, "count", exactly(f->kind == MST_FEATURE_SPOT ? (double)f->vertex_count : 1));
    if (f->kind == MST_FEATURE_SPOT) return MST_OK;
    mst_status status = mst_feature_measure(f, adjustment, l->arena, &m, error);
    if (fatal(status)) return status;
    if (status) m = (mst_measure){unknown(), unknown(), unknown()};
    add(l, f->name, f->code, "length", m.length_m);
    if (f->kind != MST_FEATURE_AREA) return MST_OK;
    add(l, f->name, f->code, "area", m.area_m2);
    if (ground) add(l, f->name, f->code, "slope area", slope_area(f, &m.area_m2, adjustment, ground, l->arena));
    return MST_OK;
}

/* ---- elements ---- */

/* A layer lies under the whole of its feature, whether or not the ground below it is known. */
static mst_status add_layers(list *l, const mst_element *e, const mst_site *site, const mst_adjustment *adjustment,
                             mst_error *error) {
    const mst_feature *f = e->in ? mst_site_feature(site, e->in) : NULL;
    mst_measure m = {unknown(), unknown(), unknown()};
    if (f && e->layer_count) {
        mst_status status = mst_feature_measure(f, adjustment, l->arena, &m, error);
        if (fatal(status)) return status;
        if (status) m.area_m2 = unknown();
    }
    for (size_t i = 0; i < e->layer_count; i++) {
        add(l, e->name, e->layers[i].material, "layer", times(m.area_m2, e->layers[i].thickness_m));
        add(l, e->name, e->layers[i].material, "area", m.area_m2);
    }
    return MST_OK;
}

/* Loose soil is known as well as the bank it comes from. */
static mst_figure loose(const mst_soil_volume *v) {
    double ratio = v->bank_m3 > 0 ? v->loose_m3 / v->bank_m3 : 0;
    return (mst_figure){v->loose_m3, v->bank_low_m3 * ratio, v->bank_high_m3 * ratio};
}

static mst_figure plus(mst_figure a, mst_figure b) {
    return (mst_figure){a.value + b.value, a.low + b.low, a.high + b.high};
}

static void count_soil(list *l, const char *soil, const mst_earthwork *e) {
    size_t i = 0;
    while (i < l->soil_count && strcmp(l->soils[i].soil, soil) != 0) i++;
    if (i == l->soil_count) {
        soil_sum *fresh = MST_PUSH(l->arena, l->soils, l->soil_count, l->soil_capacity);
        if (!fresh) {
            l->failed = true;
            return;
        }
        *fresh = (soil_sum){.soil = soil};
    }
    l->soils[i].cut = plus(l->soils[i].cut, e->cut_m3);
    l->soils[i].fill = plus(l->soils[i].fill, e->fill_m3);
}

static double above_nothing(double x) { return isnan(x) ? x : fmax(x, 0); }

/* Of each soil: what is dug beyond what the fills take leaves on lorries, what they lack comes in. */
static mst_status add_balances(list *l, const mst_site *site, mst_error *error) {
    double load;
    mst_status status = mst_lorry_of(site, "load", &load, error);
    for (size_t i = 0; i < l->soil_count && !status; i++) {
        const soil_sum *s = &l->soils[i];
        mst_soil soil;
        status = mst_soil_of(site, s->soil, &soil, error);
        if (status) return status;
        mst_figure need = times(s->fill, 1 / soil.compacted);
        double left = s->cut.value - need.value, least = s->cut.low - need.high, most = s->cut.high - need.low;
        mst_figure surplus = {above_nothing(left), above_nothing(least), above_nothing(most)};
        mst_figure lacking = {above_nothing(-left), above_nothing(-most), above_nothing(-least)};
        surplus = times(surplus, soil.loose);
        add(l, ALL_WORKS, s->soil, "surplus", surplus);
        add(l, ALL_WORKS, s->soil, "surplus loads",
            exactly(isnan(surplus.value) ? NAN : mst_loads(surplus.value, load)));
        add(l, ALL_WORKS, s->soil, "import", times(lacking, soil.compacted));
    }
    return status;
}

static void add_earthwork(list *l, const mst_earthwork *e, const char *soil) {
    count_soil(l, soil, e);
    add(l, e->element, soil, "cut", e->cut_m3);
    add(l, e->element, soil, "fill", e->fill_m3);
    add(l, e->element, TOPSOIL, "strip", e->strip);
    for (size_t i = 0; i < e->material_count; i++) {
        const mst_soil_volume *v = &e->materials[i];
        add(l, e->element, v->material, "loose", loose(v));
        add(l, e->element, v->material, "loads", exactly(v->loads));
    }
}

static const mst_earthwork *earthwork_named(const mst_earthwork_report *report, const char *name) {
    for (size_t i = 0; report && i < report->count; i++)
        if (report->elements[i].element && strcmp(report->elements[i].element, name) == 0) return &report->elements[i];
    return NULL;
}

/* Along its gradients, of the line that it follows: how much longer by how much the levels between its ends differ. */
static double stretch(const mst_element *e, double length) {
    double run = 0, slope = 0;
    for (size_t i = 0; i + 1 < e->profile_count; i++) {
        const mst_work_bend *a = &e->profile[i], *b = a + 1;
        double piece = fmin(b->chainage_m, length) - fmax(a->chainage_m, 0);
        if (!(piece > 0)) continue;
        run += piece, slope += piece * hypot(1, (b->level_m - a->level_m) / (b->chainage_m - a->chainage_m));
    }
    if (e->profile_count == 0) return hypot(1, (e->to_m - e->from_m) / length);
    return (slope + fmax(length - run, 0)) / length;
}

/* What is bought by the metre as it lies: swales, drives, the pipe in a trench. Its measure is not the features' own
 * `length`, so that a line that has both a feature and an element is not counted twice. */
static mst_status add_laid_length(list *l, const mst_element *e, const mst_site *site, const mst_adjustment *adjustment,
                                  mst_error *error) {
    const mst_feature *f = e->where ? mst_site_feature(site, e->where) : NULL;
    mst_measure m;
    mst_line_falls falls;
    if (!f || f->kind != MST_FEATURE_LINE) return MST_OK;
    mst_status status = mst_feature_measure(f, adjustment, l->arena, &m, error);
    if (fatal(status)) return status;
    bool known = !status && m.length_m.value > 0;
    if (known && !mst_line_falls_of(e, m.length_m.value, &falls)) return MST_OK;
    mst_figure laid = known ? times(m.length_m, stretch(e, m.length_m.value)) : unknown();
    add(l, e->name, mst_work_kind_name(e->kind), "laid length", laid);
    if (e->pipe_m > 0) add(l, e->name, "pipe", "laid length", laid);
    return MST_OK;
}

static mst_status add_element(list *l, const mst_work *work, const mst_site *site, const mst_adjustment *adjustment,
                              const mst_earthwork_report *report, mst_error *error) {
    mst_element e;
    mst_status status = mst_element_read(work, site, adjustment, l->arena, &e, error);
    if (status) return status;
    const mst_earthwork *dug = earthwork_named(report, e.name);
    if (dug) add_earthwork(l, dug, e.soil);
    if ((status = add_laid_length(l, &e, site, adjustment, error))) return status;
    if (e.in || !dug) return add_layers(l, &e, site, adjustment, error);
    for (size_t i = 0; i < dug->layer_count; i++) { /* lines, banks and ponds: as they lie in the works' surfaces */
        const mst_layer_volume *v = &dug->layers[i];
        add(l, e.name, v->material, "layer", (mst_figure){v->volume_m3, v->low_m3, v->high_m3});
        add(l, e.name, dug->layers[i].material, "area", exactly(dug->layers[i].area_m2));
    }
    return MST_OK;
}

mst_status mst_quantities(const mst_site *site, const mst_adjustment *adjustment, const mst_ground *ground,
                          const mst_earthwork_report *earthwork, mst_arena *arena, mst_quantity **quantities,
                          size_t *count, mst_error *error) {
    list l = {.arena = arena};
    mst_status status = MST_OK;
    for (size_t i = 0; i < site->feature_count && !status; i++)
        status = add_feature(&l, &site->features[i], adjustment, ground, error);
    for (size_t i = 0; i < site->work_count && !status; i++)
        status = add_element(&l, &site->works[i], site, adjustment, earthwork, error);
    if (!status) status = add_balances(&l, site, error);
    if (status) return status;
    if (l.failed) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    *quantities = l.items;
    *count = l.count;
    return MST_OK;
}
