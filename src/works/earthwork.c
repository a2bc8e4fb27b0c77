/* Cut and fill of every element: volumes on the ground, intervals from the points behind them, soil in its three
 * states. */
#include "works/cautions.h"
#include "works/compose.h"
#include "works/dig.h"
#include "works/gradient.h"
#include "geometry/sum.h"
#include <math.h>
#include <string.h>

static const double LEAST_M3 = 1e-9; /* what rounding leaves is no material */
static const double STEP_M = 0.001;  /* of the outline's points: the volume is smooth over a millimetre */
enum { MOST_MOVED_TILES = 2000000 }; /* tiles made anew to move the points of all outlines: some ten seconds */

typedef struct job {
    const mst_site *site;
    const mst_adjustment *adjustment;
    const mst_ground *ground;
    double load_m3;
    mst_arena *arena;
    mst_error *error;
    mst_cautions cautions;
    mst_adjustment moved; /* a copy whose points may be moved, one at a time */
    const mst_element *elements;
    size_t count;
    mst_works *works;       /* NULL while each element is measured by itself */
    mst_gradients *outline; /* with works: by element, of the points that its lines run through */
} job;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- intervals ---- */

/* Volumes with one point of the outline moved in plan (only in the outline: the ground has terms of its own). */
static mst_status dig_moved(const job *j, const mst_element *e, uint32_t point, double de, double dn,
                            mst_prism_sum *sum) {
    mst_arena *own = mst_arena_new();
    if (!own) return no_memory(j->error);
    const mst_adjusted_point *at = &j->adjustment->points[point];
    mst_shape shape;
    j->moved.points[point].easting_m = at->easting_m + de;
    j->moved.points[point].northing_m = at->northing_m + dn;
    mst_status status = mst_element_shape(e, j->site, &j->moved, own, &shape, j->error);
    if (!status) status = mst_dig(e, &shape, j->ground, own, sum, j->error);
    j->moved.points[point] = *at;
    mst_arena_free(own);
    return status;
}

static mst_status add_outline_point(const job *j, const mst_element *e, uint32_t point, mst_gradients *g) {
    double slope[2][3];
    for (int axis = 0; axis < 2; axis++) {
        double de = axis == 0 ? STEP_M : 0, dn = axis == 1 ? STEP_M : 0;
        mst_prism_sum on, back;
        mst_status status = dig_moved(j, e, point, de, dn, &on);
        if (!status) status = dig_moved(j, e, point, -de, -dn, &back);
        if (status) return status;
        slope[axis][0] = (on.cut_m3 - back.cut_m3) / (2 * STEP_M);
        slope[axis][1] = (on.fill_m3 - back.fill_m3) / (2 * STEP_M);
        slope[axis][2] = (on.area_m2 - back.area_m2) / (2 * STEP_M);
    }
    g->cut[point].easting += slope[0][0], g->cut[point].northing += slope[1][0];
    g->fill[point].easting += slope[0][1], g->fill[point].northing += slope[1][1];
    g->area[point].easting += slope[0][2], g->area[point].northing += slope[1][2];
    return MST_OK;
}

/* Each of the outline's points once, also when it stands in it twice. */
static mst_status add_outline(const job *j, const mst_element *e, mst_gradients *g) {
    const mst_feature *f = mst_site_feature(j->site, e->in);
    bool *seen = mst_arena_array(j->arena, j->adjustment->point_count + 1, 1);
    if (!seen) return no_memory(j->error);
    for (size_t i = 0; i < f->vertex_count; i++) {
        uint32_t p = mst_index_get(&j->adjustment->index, f->vertices[i].point);
        if (p == UINT32_MAX || seen[p] || j->adjustment->points[p].held_plan) continue;
        seen[p] = true;
        mst_status status = add_outline_point(j, e, p, g);
        if (status) return status;
    }
    return MST_OK;
}

/* ---- the same with all elements in the ground at once ---- */

static mst_status compose_moved(const job *j, mst_prism_sum sums[]) {
    mst_arena *own = mst_arena_new();
    mst_works *works;
    if (!own) return no_memory(j->error);
    mst_status status = mst_works_compose(j->elements, j->count, j->site, &j->moved, j->ground, own, &works, j->error);
    for (uint32_t i = 0; i < j->count && !status; i++) status = mst_works_sum(works, i, own, &sums[i], j->error);
    mst_arena_free(own);
    return status;
}

/* A step forward from the works as they stand: the volumes are smooth over it. */
static mst_status move_point(const job *j, uint32_t point, const mst_prism_sum stand[], mst_prism_sum moved[]) {
    const mst_adjusted_point *at = &j->adjustment->points[point];
    mst_status status = MST_OK;
    for (int axis = 0; axis < 2 && !status; axis++) {
        j->moved.points[point].easting_m = at->easting_m + (axis == 0 ? STEP_M : 0);
        j->moved.points[point].northing_m = at->northing_m + (axis == 1 ? STEP_M : 0);
        status = compose_moved(j, moved);
        for (size_t i = 0; i < j->count && !status; i++) {
            mst_gradient_term *cut = &j->outline[i].cut[point], *fill = &j->outline[i].fill[point];
            double by_cut = (moved[i].cut_m3 - stand[i].cut_m3) / STEP_M;
            double by_fill = (moved[i].fill_m3 - stand[i].fill_m3) / STEP_M;
            *(axis ? &cut->northing : &cut->easting) = by_cut;
            *(axis ? &fill->northing : &fill->easting) = by_fill;
            mst_gradient_term *area = &j->outline[i].area[point];
            *(axis ? &area->northing : &area->easting) = (moved[i].area_m2 - stand[i].area_m2) / STEP_M;
        }
    }
    j->moved.points[point] = *at;
    return status;
}

static size_t mark_points(const job *j, bool used[]) {
    size_t count = 0;
    for (size_t i = 0; i < j->count; i++) {
        const mst_feature *f = j->elements[i].where ? mst_site_feature(j->site, j->elements[i].where) : NULL;
        for (size_t k = 0; f && k < f->vertex_count; k++) {
            uint32_t p = mst_index_get(&j->adjustment->index, f->vertices[k].point);
            if (p == UINT32_MAX || used[p] || j->adjustment->points[p].held_plan) continue;
            used[p] = true;
            count++;
        }
    }
    return count;
}

static mst_status move_outlines(job *j) {
    size_t points = j->adjustment->point_count;
    bool *used = mst_arena_array(j->arena, points + 1, 1);
    mst_prism_sum *stand = mst_arena_array(j->arena, j->count + 1, sizeof *stand);
    mst_prism_sum *moved = mst_arena_array(j->arena, j->count + 1, sizeof *moved);
    j->outline = mst_arena_array(j->arena, j->count + 1, sizeof *j->outline);
    if (!used || !stand || !moved || !j->outline) return no_memory(j->error);
    mst_status status = MST_OK;
    for (uint32_t i = 0; i < j->count && !status; i++) {
        status = mst_gradients_new(j->adjustment, j->arena, &j->outline[i], j->error);
        if (!status) status = mst_works_sum(j->works, i, j->arena, &stand[i], j->error);
    }
    if (status) return status;
    if (mark_points(j, used) * j->works->tiling.count > MOST_MOVED_TILES) {
        const char *said = "The works are too large to move each point of their outlines; the volumes' intervals count "
                           "the ground's points only.";
        return mst_cautions_add(&j->cautions, &said, 1, j->arena, j->error);
    }
    for (uint32_t p = 0; p < points && !status; p++)
        if (used[p]) status = move_point(j, p, stand, moved);
    return status;
}

static mst_status compose(job *j) {
    const char **notes;
    size_t count;
    mst_status status =
        mst_works_compose(j->elements, j->count, j->site, j->adjustment, j->ground, j->arena, &j->works, j->error);
    if (!status) status = mst_works_notes(j->works, j->arena, &notes, &count, j->error);
    if (!status) status = mst_cautions_add(&j->cautions, notes, count, j->arena, j->error);
    return status ? status : move_outlines(j);
}

/* ---- layers ---- */

static const char *const BACKFILL = "backfill";

/* A limit of what lies evenly on the element's area. */
static double by_area(const mst_earthwork *w, double value, double limit) {
    return w->area_m2 > 0 ? value * (limit / w->area_m2) : value;
}

static void add_layer(mst_earthwork *w, const char *material, double volume, double area) {
    if (volume > 0)
        w->layers[w->layer_count++] = (mst_layer_volume){material, volume, area, by_area(w, volume, w->area.low),
                                                         by_area(w, volume, w->area.high)};
}

/* Bedding, pipe and backfill of a trench. Sloping sides widen the bedding by its thickness over the slope. */
static void add_trench(const mst_element *e, const mst_layout *l, mst_earthwork *w) {
    double t = e->bedding_m, aside = isfinite(e->side) ? t * t / e->side : 0;
    double bedding = l->length_m * (e->width_m * t + aside), pipe = l->length_m * MST_PI * e->pipe_m * e->pipe_m / 4;
    double layers = e->build_up_m * l->length_m * e->width_m;
    add_layer(w, "bedding", bedding, l->length_m * e->width_m);
    if (e->backfilled) add_layer(w, BACKFILL, fmax(w->cut_m3.value - bedding - pipe - layers, 0), w->area_m2);
}

static mst_status add_layers(const job *j, const mst_element *e, size_t element, double area, mst_earthwork *w) {
    w->layers = mst_arena_array(j->arena, e->layer_count + 3, sizeof *w->layers);
    if (!w->layers) return no_memory(j->error);
    if (e->kind == MST_WORK_TRENCH && j->works) {
        const mst_layout *l = &j->works->layouts[element];
        for (size_t i = 0; i < e->layer_count; i++)
            add_layer(w, e->layers[i].material, l->length_m * e->width_m * e->layers[i].thickness_m,
                      l->length_m * e->width_m);
        add_trench(e, l, w);
        return MST_OK;
    }
    for (size_t i = 0; i < e->layer_count; i++)
        add_layer(w, e->layers[i].material, area * e->layers[i].thickness_m, area);
    return MST_OK;
}

/* ---- soil ---- */

/* @param per_bank  what the figure counts, of one in the bank */
static void add_material(const job *j, mst_earthwork *w, const char *name, mst_figure figure, double per_bank,
                         const mst_soil *soil) {
    double bank = figure.value / per_bank;
    if (!(bank > LEAST_M3)) return;
    mst_soil_volume *m = &w->materials[w->material_count++];
    m->material = name;
    m->bank_m3 = bank;
    m->bank_low_m3 = figure.low / per_bank, m->bank_high_m3 = figure.high / per_bank;
    m->loose_m3 = bank * soil->loose;
    m->compacted_m3 = bank * soil->compacted;
    m->loads = mst_loads(m->loose_m3, j->load_m3);
}

/* Fill is known as it lies compacted; the bank and the lorries that make it go back from there. */
static mst_status add_materials(const job *j, const mst_element *e, mst_earthwork *w) {
    mst_soil soil, topsoil;
    mst_status status = mst_soil_of(j->site, e->soil, &soil, j->error);
    if (!status) status = mst_soil_of(j->site, "topsoil", &topsoil, j->error);
    w->materials = mst_arena_array(j->arena, 4, sizeof *w->materials);
    if (!status && !w->materials) status = no_memory(j->error);
    if (status) return status;
    add_material(j, w, e->soil, w->cut_m3, 1, &soil);
    add_material(j, w, "fill", w->fill_m3, soil.compacted, &soil);
    add_material(j, w, "topsoil", w->strip, 1, &topsoil);
    for (size_t i = 0; i < w->layer_count; i++) {
        const mst_layer_volume *l = &w->layers[i];
        if (strcmp(l->material, BACKFILL) == 0)
            add_material(j, w, BACKFILL, (mst_figure){l->volume_m3, l->low_m3, l->high_m3}, soil.compacted, &soil);
    }
    return MST_OK;
}

mst_status mst_earthwork_soils(mst_earthwork *w, const char *soil, const mst_site *site, double load_m3,
                               mst_arena *arena, mst_error *error) {
    const mst_element e = {.soil = soil};
    const job j = {.site = site, .load_m3 = load_m3, .arena = arena, .error = error};
    w->material_count = 0;
    return add_materials(&j, &e, w);
}

static void add_to_total(const job *j, mst_earthwork *total, const mst_earthwork *w) {
    for (size_t i = 0; i < w->material_count; i++) {
        const mst_soil_volume *from = &w->materials[i];
        size_t k = 0;
        while (k < total->material_count && strcmp(total->materials[k].material, from->material) != 0) k++;
        mst_soil_volume *to = &total->materials[k];
        if (k == total->material_count) total->material_count++, to->material = from->material;
        to->bank_m3 += from->bank_m3;
        to->bank_low_m3 += from->bank_low_m3, to->bank_high_m3 += from->bank_high_m3;
        to->loose_m3 += from->loose_m3;
        to->compacted_m3 += from->compacted_m3;
        to->loads = mst_loads(to->loose_m3, j->load_m3);
    }
    total->cut_m3.value += w->cut_m3.value;
    total->fill_m3.value += w->fill_m3.value;
    total->area_m2 += w->area_m2;
    total->uncovered_m2 += w->uncovered_m2;
    total->strip_m3 += w->strip_m3;
    mst_figure *sums[] = {&total->area, &total->strip};
    const mst_figure *parts[] = {&w->area, &w->strip};
    for (int i = 0; i < 2; i++)
        sums[i]->value += parts[i]->value, sums[i]->low += parts[i]->low, sums[i]->high += parts[i]->high;
}

/* ---- elements ---- */

static void take_figures(mst_earthwork *w, const mst_figure figures[3]) {
    w->cut_m3 = figures[0];
    w->fill_m3 = figures[1];
    w->net_m3 = figures[2];
}

static mst_status dig_one(job *j, size_t element, const mst_shape *shape, mst_gradients *g, mst_prism_sum *sum) {
    const mst_element *e = &j->elements[element];
    mst_gradients_clear(g);
    if (!j->works) {
        mst_status status = mst_dig(e, shape, j->ground, j->arena, sum, j->error);
        if (status) return status;
        mst_gradients_add_sum(g, sum);
        return add_outline(j, e, g);
    }
    mst_status status = mst_works_sum(j->works, (uint32_t)element, j->arena, sum, j->error);
    if (status) return status;
    const double missing = j->works->layouts[element].area_m2 - j->works->base_m2[element];
    bool whole = e->kind == MST_WORK_SWALE || e->kind == MST_WORK_TRENCH || !(missing > 1e-9 * sum->area_m2);
    sum->uncovered_m2 = whole || e->kind == MST_WORK_BANK ? 0 : missing;
    mst_gradients_add_sum(g, sum);
    mst_gradients_add(g, &j->outline[element]);
    return MST_OK;
}

static double strip_of(const job *j, size_t element, const mst_prism_sum *sum) {
    if (!j->works) return j->elements[element].strip_m * sum->area_m2;
    mst_sum strip = {0};
    const mst_tiling *t = &j->works->tiling;
    for (uint32_t i = 0; i < t->count; i++)
        if (t->tiles[i].part != MST_PART_NONE && t->tiles[i].owner == element)
            mst_sum_add(&strip, t->tiles[i].strip_m * mst_tile_area(t, i));
    return mst_sum_value(&strip);
}

static mst_status measure(job *j, size_t element, const mst_shape *shape, mst_gradients *g, mst_earthwork *w) {
    const mst_element *e = &j->elements[element];
    mst_prism_sum sum;
    mst_figure figures[3];
    mst_status status = dig_one(j, element, shape, g, &sum);
    if (status) return status;
    status = mst_gradients_figures(g, sum.cut_m3, sum.fill_m3, j->adjustment, j->arena, figures, j->error);
    if (status) return status;
    *w = (mst_earthwork){.element = e->name,
                         .area_m2 = sum.area_m2,
                         .uncovered_m2 = sum.uncovered_m2,
                         .strip_m3 = strip_of(j, element, &sum)};
    take_figures(w, figures);
    status = mst_gradients_area(g, sum.area_m2, j->adjustment, j->arena, &w->area, j->error);
    if (status) return status;
    w->strip = (mst_figure){w->strip_m3, by_area(w, w->strip_m3, w->area.low), by_area(w, w->strip_m3, w->area.high)};
    status = add_layers(j, e, element, sum.area_m2, w);
    if (!status) status = add_materials(j, e, w);
    return status ? status : mst_cautions_of_element(e, j->site, &sum, j->arena, &j->cautions, j->error);
}

static mst_status measure_all(job *j, const mst_shape shapes[], mst_earthwork_report *r) {
    mst_gradients one, all;
    mst_figure figures[3];
    mst_status status = mst_gradients_new(j->adjustment, j->arena, &one, j->error);
    if (!status) status = mst_gradients_new(j->adjustment, j->arena, &all, j->error);
    for (size_t i = 0; i < j->count && !status; i++) {
        status = measure(j, i, &shapes[i], &one, &r->elements[i]);
        if (status) break;
        mst_gradients_add(&all, &one);
        add_to_total(j, &r->total, &r->elements[i]);
    }
    if (status) return status;
    status = mst_gradients_figures(&all, r->total.cut_m3.value, r->total.fill_m3.value, j->adjustment, j->arena,
                                   figures, j->error);
    if (!status) take_figures(&r->total, figures);
    return status;
}

static mst_status look_around(job *j) {
    mst_status status = MST_OK;
    if (!j->works)
        status =
            mst_works_compose(j->elements, j->count, j->site, j->adjustment, j->ground, j->arena, &j->works, j->error);
    return status ? status
                  : mst_cautions_of_surroundings(j->works, j->site, j->adjustment, j->arena, &j->cautions, j->error);
}

mst_status mst_earthwork_of(const mst_element elements[], size_t count, const mst_site *site,
                            const mst_adjustment *adjustment, const mst_ground *ground, double load_m3,
                            mst_arena *arena, mst_earthwork_report *report, mst_error *error) {
    job j = {site, adjustment, ground, load_m3, arena, error, {0}, *adjustment, elements, count, NULL, NULL};
    mst_earthwork_report r = {.elements = mst_arena_array(arena, count + 1, sizeof *r.elements), .count = count};
    mst_shape *shapes = mst_arena_array(arena, count + 1, sizeof *shapes);
    r.total.materials = mst_arena_array(arena, 4 * count + 1, sizeof *r.total.materials);
    j.moved.points = mst_arena_array(arena, adjustment->point_count + 1, sizeof *j.moved.points);
    if (!r.elements || !shapes || !r.total.materials || !j.moved.points) return no_memory(error);
    memcpy(j.moved.points, adjustment->points, adjustment->point_count * sizeof *j.moved.points);
    mst_status status = MST_OK;
    bool together = false, overlap = false;
    for (size_t i = 0; i < count && !status; i++) {
        together |= !elements[i].in;
        if (elements[i].in) status = mst_element_shape(&elements[i], site, adjustment, arena, &shapes[i], error);
    }
    if (!status) status = mst_cautions_of_overlaps(elements, shapes, count, arena, &j.cautions, &overlap, error);
    if (!status && (together || overlap)) status = compose(&j);
    if (!status) status = measure_all(&j, shapes, &r);
    if (!status && ground && (j.works || mst_site_has_surroundings(site))) status = look_around(&j);
    if (!status && (r.total.cut_m3.value > 0 || r.total.strip_m3 > 0))
        status = mst_caution_services(arena, &j.cautions, error);
    if (status) return status;
    r.cautions = j.cautions.items;
    r.caution_count = j.cautions.count;
    *report = r;
    return MST_OK;
}
