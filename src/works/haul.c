/* Which cut feeds which fill: the transport problem between the middles of the elements' cuts and fills. */
#include "ground/convex.h"
#include "works/compose.h"
#include "works/lp.h"
#include <math.h>
#include <string.h>

static const double LEAST_M3 = 1e-6; /* a haul below this is rounding */
static const char *const BACKFILL = "backfill";

typedef struct heap {
    double volume; /* cut in the bank, fill as it lies compacted */
    double at[2];  /* its middle, by volume */
} heap;

typedef struct job {
    const mst_earthwork_report *report;
    heap *cut, *fill;
    mst_soil *soils;
    const mst_grade_prices *prices;
    double load_m3, load_t;
    mst_lp lp;
    int *from_to; /* column of [from][to]; to == count: carted away; from == count: imported; -1 none */
    mst_arena *arena;
    mst_error *error;
} job;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- middles ---- */

static void gather(heap *h, const mst_convex *p, const double d[], const double origin[2], double sign) {
    mst_part part = mst_convex_part(p, d);
    double volume = sign * part.integral;
    if (p->count < 3 || !(volume > 0)) return;
    h->volume += volume;
    for (int k = 0; k < 2; k++) h->at[k] += volume * (part.centre[k] + origin[k]);
}

static void add_tile(job *j, const mst_works *w, uint32_t tile) {
    const mst_tiling *t = &w->tiling;
    const double *const corner[3] = {t->at[t->corners[tile][0]], t->at[t->corners[tile][1]],
                                     t->at[t->corners[tile][2]]};
    mst_convex p = mst_convex_triangle(corner, corner[0]), above, below;
    double d[3], d_above[MST_CONVEX_MOST], d_below[MST_CONVEX_MOST];
    for (int c = 0; c < 3; c++)
        d[c] = mst_tile_level(&t->tiles[tile], MST_SURFACE_STRIPPED, c) -
               mst_tile_level(&t->tiles[tile], MST_SURFACE_FORMATION, c);
    mst_convex_split(&p, d, &above, d_above, &below, d_below);
    gather(&j->cut[t->tiles[tile].owner], &above, d_above, corner[0], 1);
    gather(&j->fill[t->tiles[tile].owner], &below, d_below, corner[0], -1);
}

/* Volumes are the report's; a trench that is filled again needs fill where it is dug. */
static void take_heaps(job *j, const mst_works *w) {
    for (uint32_t i = 0; i < w->tiling.count; i++)
        if (w->tiling.tiles[i].part != MST_PART_NONE) add_tile(j, w, i);
    for (size_t i = 0; i < j->report->count; i++) {
        const mst_earthwork *e = &j->report->elements[i];
        heap *both[] = {&j->cut[i], &j->fill[i]};
        for (int k = 0; k < 2; k++)
            for (int axis = 0; axis < 2; axis++) both[k]->at[axis] /= both[k]->volume > 0 ? both[k]->volume : 1;
        j->cut[i].volume = e->cut_m3.value;
        double filled = e->fill_m3.value;
        for (size_t l = 0; l < e->layer_count; l++) {
            if (strcmp(e->layers[l].material, BACKFILL) != 0) continue;
            if (!(filled > 0)) memcpy(j->fill[i].at, j->cut[i].at, sizeof j->fill[i].at);
            filled += e->layers[l].volume_m3;
        }
        j->fill[i].volume = filled;
    }
}

/* ---- the program ---- */

static double distance(const job *j, size_t from, size_t to) {
    return hypot(j->cut[from].at[0] - j->fill[to].at[0], j->cut[from].at[1] - j->fill[to].at[1]);
}

static int *column(const job *j, size_t from, size_t to) { return &j->from_to[from * (j->report->count + 1) + to]; }

static void build(job *j) {
    size_t n = j->report->count;
    const mst_grade_prices *p = j->prices;
    for (size_t i = 0; i < (n + 1) * (n + 1); i++) j->from_to[i] = -1;
    for (size_t from = 0; from < n; from++) { /* all that is cut goes somewhere */
        if (!(j->cut[from].volume > LEAST_M3)) continue;
        int row = mst_lp_row_add(&j->lp, j->cut[from].volume, j->cut[from].volume);
        for (size_t to = 0; to <= n; to++) {
            if (to < n && !(j->fill[to].volume > LEAST_M3)) continue;
            double price = to == n ? p->cart_away : p->haul * distance(j, from, to);
            mst_lp_term_add(&j->lp, row, *column(j, from, to) = mst_lp_column_add(&j->lp, 0, INFINITY, price), 1);
        }
    }
    for (size_t to = 0; to < n; to++) { /* all fills are made: of each soil by what it is worth compacted */
        if (!(j->fill[to].volume > LEAST_M3)) continue;
        int row = mst_lp_row_add(&j->lp, j->fill[to].volume, j->fill[to].volume);
        for (size_t from = 0; from < n; from++)
            if (*column(j, from, to) >= 0) mst_lp_term_add(&j->lp, row, *column(j, from, to), j->soils[from].compacted);
        mst_lp_term_add(&j->lp, row, *column(j, n, to) = mst_lp_column_add(&j->lp, 0, INFINITY, p->import), 1);
    }
}

static int lorries(const job *j, double loose_m3, double tonnes) {
    int by_volume = mst_loads(loose_m3, j->load_m3);
    int by_weight = j->load_t > 0 ? mst_loads(tonnes, j->load_t) : 0;
    return by_weight > by_volume ? by_weight : by_volume;
}

static mst_status add_haul(job *j, size_t from, size_t to, double x, mst_haul_plan *plan) {
    size_t n = j->report->count;
    const mst_soil *soil = &j->soils[from < n ? from : to];
    double bank = from < n ? x : x / soil->compacted;
    mst_haul *h = &plan->hauls[plan->count++];
    *h = (mst_haul){from < n ? (uint32_t)from : MST_HAUL_OFF_SITE,
                    to < n ? (uint32_t)to : MST_HAUL_OFF_SITE,
                    bank,
                    bank * soil->loose,
                    from < n && to < n ? distance(j, from, to) : 0,
                    x * j->lp.columns[*column(j, from, to)].cost,
                    0};
    h->loads = lorries(j, h->loose_m3, bank * soil->bank_t_m3);
    if (from < n && to < n) plan->reuse_bank_m3 += bank;
    else if (from < n) plan->cart_away_bank_m3 += bank, plan->loads_away += h->loads;
    else plan->import_m3 += x, plan->loads_in += h->loads;
    plan->cost += h->cost;
    return MST_OK;
}

static mst_status read_plan(job *j, const double x[], mst_haul_plan *plan) {
    size_t n = j->report->count;
    plan->hauls = mst_arena_array(j->arena, j->lp.column_count + 1, sizeof *plan->hauls);
    if (!plan->hauls) return no_memory(j->error);
    for (size_t from = 0; from <= n; from++)
        for (size_t to = 0; to <= n; to++) {
            int c = *column(j, from, to);
            if (c < 0 || !(x[c] > LEAST_M3)) continue;
            mst_status status = add_haul(j, from, to, x[c], plan);
            if (status) return status;
        }
    return MST_OK;
}

/* Where the strips come off, and where a layer of topsoil is laid. */
static void take_topsoil(job *j, const mst_works *w) {
    for (uint32_t i = 0; i < w->tiling.count; i++) {
        const mst_tile *t = &w->tiling.tiles[i];
        if (t->part == MST_PART_NONE) continue;
        double middle[2], area = mst_tile_area(&w->tiling, i);
        mst_tile_middle(&w->tiling, i, middle);
        heap *both[] = {&j->cut[t->owner], &j->fill[t->owner]};
        double share[] = {t->strip_m * area, area};
        for (int k = 0; k < 2; k++) {
            both[k]->volume += share[k];
            for (int axis = 0; axis < 2; axis++) both[k]->at[axis] += share[k] * middle[axis];
        }
    }
    for (size_t i = 0; i < j->report->count; i++) {
        const mst_earthwork *e = &j->report->elements[i];
        heap *both[] = {&j->cut[i], &j->fill[i]};
        for (int k = 0; k < 2; k++)
            for (int axis = 0; axis < 2; axis++) both[k]->at[axis] /= both[k]->volume > 0 ? both[k]->volume : 1;
        j->cut[i].volume = e->strip_m3;
        j->fill[i].volume = 0;
        for (size_t l = 0; l < e->layer_count; l++)
            if (strstr(e->layers[l].material, "topsoil")) j->fill[i].volume += e->layers[l].volume_m3;
    }
}

static mst_status plan_of(const mst_element elements[], const mst_earthwork_report *report, const mst_works *works,
                          const mst_site *site, const mst_grade_prices *prices, bool topsoil, double load_m3,
                          double load_t, mst_arena *arena, mst_haul_plan *plan, mst_error *error) {
    size_t n = report->count;
    job j = {.report = report,
             .prices = prices,
             .load_m3 = load_m3,
             .load_t = load_t,
             .lp = {.arena = arena},
             .arena = arena,
             .error = error};
    j.cut = mst_arena_array(arena, n + 1, sizeof *j.cut), j.fill = mst_arena_array(arena, n + 1, sizeof *j.fill);
    j.soils = mst_arena_array(arena, n + 1, sizeof *j.soils);
    j.from_to = mst_arena_array(arena, (n + 1) * (n + 1), sizeof *j.from_to);
    if (!j.cut || !j.fill || !j.soils || !j.from_to) return no_memory(error);
    for (size_t i = 0; i < n; i++) {
        const char *soil = elements[i].soil ? elements[i].soil : "common earth";
        mst_status status = mst_soil_of(site, topsoil ? "topsoil" : soil, &j.soils[i], error);
        if (status) return status;
    }
    if (topsoil) take_topsoil(&j, works);
    else take_heaps(&j, works);
    build(&j);
    double *x = mst_arena_array(arena, j.lp.column_count + 1, sizeof *x), cost;
    mst_haul_plan made = {0};
    if (!x || j.lp.failed) return no_memory(error);
    mst_status status = j.lp.column_count ? mst_lp_solve(&j.lp, arena, x, &cost, error) : MST_OK;
    if (!status) status = read_plan(&j, x, &made);
    if (!status) *plan = made;
    return status;
}

mst_status mst_haul_plan_of(const mst_element elements[], const mst_earthwork_report *report, const mst_works *works,
                            const mst_site *site, const mst_grade_prices *prices, double load_m3, double load_t,
                            mst_arena *arena, mst_haul_plan *plan, mst_error *error) {
    return plan_of(elements, report, works, site, prices, false, load_m3, load_t, arena, plan, error);
}

mst_status mst_topsoil_plan_of(const mst_element elements[], const mst_earthwork_report *report, const mst_works *works,
                               const mst_site *site, const mst_grade_prices *prices, double load_m3, double load_t,
                               mst_arena *arena, mst_haul_plan *plan, mst_error *error) {
    return plan_of(elements, report, works, site, prices, true, load_m3, load_t, arena, plan, error);
}
