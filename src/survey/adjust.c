/* The adjustment from pages to results: read, place, solve, and say how well it is known. Coordinates, covariances and
 * tests are all from the one solution; suspects are looked for last and change nothing in it. */
#include "survey/covariances.h"
#include "survey/gear_factors.h"
#include "survey/start.h"
#include "survey/suspects.h"
#include "survey/system.h"
#include "survey/words.h"
#include "numeric/statistics.h"
#include <math.h>
#include <string.h>

static const double SIGNIFICANCE = 0.05; /* of the global test */
static const double POWER =
    0.8416212336; /* normal quantile of 80 %: how surely the smallest error is noticed; Baarda 1968 */
static const double SAME_COST = 1e-9; /* relative; less is no better place */
static const double NO_CHECK = 1e-6;  /* a redundancy below this is rounding: nothing checks the reading */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the adjustment.");
}

/* ---- the network gets its start ---- */

static mst_status give_start(mst_network *net, mst_error *error) {
    mst_arena *scratch = mst_arena_new();
    if (!scratch) return no_memory(error);
    mst_status status = mst_start_heights(net, false, scratch, error); /* slope distances need levels */
    if (!status) status = mst_start_plan(net, scratch, error);
    if (!status) status = mst_start_heights(net, true, scratch, error); /* zenith angles alone need places */
    mst_arena_free(scratch);
    return status;
}

/* A sight whose ends have no place still carries levels, by its zenith angle and distance. */
static void keep_levels_without_plan(mst_network *net) {
    for (size_t i = 0; i + 1 < net->reading_count; i++) {
        mst_reading *zenith = &net->readings[i], *slope = zenith + 1;
        if (zenith->kind != MST_READ_ZENITH || slope->kind != MST_READ_SLOPE || slope->row != zenith->row) continue;
        if (net->nodes[zenith->from].has_plan && net->nodes[zenith->to].has_plan) continue;
        double z = zenith->value, d = slope->value * sin(z);
        zenith->kind = MST_READ_HEIGHT_DIFFERENCE;
        zenith->sd = hypot(d * zenith->sd, cos(z) * slope->sd);
        zenith->value = slope->value * cos(z) + zenith->up_m + mst_curvature(d);
    }
}

mst_status mst_network_place(mst_network *net, mst_error *error) {
    mst_status status = give_start(net, error);
    if (!status) keep_levels_without_plan(net);
    return status;
}

/* ---- points ---- */

static void give_ellipse(mst_adjusted_point *p) {
    mst_ellipse ellipse =
        mst_ellipse_of(p->sd_easting_m * p->sd_easting_m, p->cov_en_m2, p->sd_northing_m * p->sd_northing_m);
    p->semi_major_m = ellipse.semi_major_m;
    p->semi_minor_m = ellipse.semi_minor_m;
    p->ellipse_bearing_rad = ellipse.bearing_rad;
}

static double variance_of(const mst_system *s, uint32_t unknown) {
    return unknown == MST_NONE ? 0 : fmax(mst_sparse_diagonal(s->matrix, unknown), 0);
}

static void give_point(const mst_system *s, const mst_free_datum *free, size_t i, double scale, mst_adjusted_point *p) {
    const mst_node *node = &s->net->nodes[i];
    *p = (mst_adjusted_point){.name = node->name,
                              .code = node->code,
                              .page = node->page,
                              .row = node->row,
                              .easting_m = NAN,
                              .northing_m = NAN,
                              .elevation_m = NAN,
                              .sd_easting_m = NAN,
                              .sd_northing_m = NAN,
                              .cov_en_m2 = NAN,
                              .sd_elevation_m = NAN,
                              .semi_major_m = NAN,
                              .semi_minor_m = NAN,
                              .ellipse_bearing_rad = NAN,
                              .has_plan = node->has_plan,
                              .has_height = node->has_height,
                              .held_plan = node->held_e && node->held_n,
                              .held_height = node->held_h,
                              .assumed_height = node->assumed_h};
    double c[4] = {variance_of(s, node->unknown_e),
                   s->pair_row[i] == MST_NONE ? 0 : mst_sparse_covariance(s->matrix, s->pair_row[i], 0, 1),
                   variance_of(s, node->unknown_n), variance_of(s, node->unknown_h)};
    if (free) mst_free_datum_point(free, (uint32_t)i, c);
    if (node->has_plan) {
        p->easting_m = node->e + s->net->origin_e;
        p->northing_m = node->n + s->net->origin_n;
        p->sd_easting_m = scale * sqrt(c[0]);
        p->sd_northing_m = scale * sqrt(c[2]);
        p->cov_en_m2 = scale * scale * c[1];
        give_ellipse(p);
    }
    if (!node->has_height) return;
    p->elevation_m = node->h;
    p->sd_elevation_m = scale * sqrt(c[3]);
}

/* Rows, not numbers: a polar sight is one reading. */
static void count_readings(const mst_network *net, mst_adjusted_point points[], const mst_row *last[]) {
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        const uint32_t ends[] = {r->from, r->to, r->baseline, r->fourth};
        for (int k = 0; r->used && k < 4; k++) {
            if (ends[k] == MST_NONE || last[ends[k]] == r->row) continue;
            last[ends[k]] = r->row;
            points[ends[k]].readings++;
        }
    }
}

static mst_status give_points(const mst_system *s, const mst_free_datum *free, mst_adjustment *out, mst_error *error) {
    mst_network *net = s->net;
    const mst_row **last = mst_arena_array(s->arena, net->node_count + 1, sizeof *last);
    out->points = mst_arena_array(net->arena, net->node_count + 1, sizeof *out->points);
    if (!out->points || !last) return no_memory(error);
    out->point_count = net->node_count;
    for (size_t i = 0; i < net->node_count; i++) give_point(s, free, i, out->scale, &out->points[i]);
    count_readings(net, out->points, last);
    out->index = net->index;
    return MST_OK;
}

/* ---- readings ---- */

static void give_observation(const mst_system *s, size_t row, double critical, mst_observation_result *o) {
    const mst_network *net = s->net;
    const mst_reading *r = &net->readings[s->reading[row]];
    double sd = 1 / sqrt(s->weight[row]);
    double explained = s->weight[row] * mst_sparse_variance(s->matrix, row, s->coefficients + s->row_start[row]);
    double redundancy = fmin(fmax(1 - explained, 0), 1);
    if (redundancy < NO_CHECK) redundancy = 0;
    *o = (mst_observation_result){.reading_id = r->row->id,
                                  .visit = r->page->visit,
                                  .page = r->page->name,
                                  .row = r->row->line,
                                  .kind = mst_words_kind(r),
                                  .from = r->from == MST_NONE ? "" : net->nodes[r->from].name,
                                  .to = net->nodes[r->to].name,
                                  .angular = mst_reading_is_angular(r->kind),
                                  .observed = r->value,
                                  .adjusted = r->value + s->residual[row],
                                  .residual = s->residual[row],
                                  .sd = sd,
                                  .redundancy = redundancy};
    double root = sqrt(redundancy);
    o->standardized = redundancy > 0 ? o->residual / (sd * root) : 0;
    o->smallest_error = redundancy > 0 ? (critical + POWER) * sd / root : HUGE_VAL;
}

static mst_status give_observations(const mst_system *s, mst_adjustment *out, mst_error *error) {
    out->observations = mst_arena_array(s->net->arena, s->used + 1, sizeof *out->observations);
    if (!out->observations) return no_memory(error);
    out->observation_count = s->used;
    for (size_t row = 0; row < s->used; row++) give_observation(s, row, out->critical, &out->observations[row]);
    return MST_OK;
}

/* ---- frames ---- */

static mst_status give_frames(const mst_system *s, mst_adjustment *out, mst_error *error) {
    const mst_network *net = s->net;
    out->frames = mst_arena_array(net->arena, net->turn_count + 1, sizeof *out->frames);
    if (!out->frames) return no_memory(error);
    for (size_t g = 0; g < net->turn_count; g++) {
        const mst_turn *turn = &net->turns[g];
        if (turn->kind == MST_TURN_SET_UP || (turn->kind == MST_TURN_BEARINGS && turn->fixed)) continue;
        mst_visit_frame *frame = &out->frames[out->frame_count++];
        *frame = (mst_visit_frame){.visit = turn->visit,
                                   .turn_rad = turn->known ? turn->rad : NAN,
                                   .shift_e_m = NAN,
                                   .shift_n_m = NAN,
                                   .shift_h_m = NAN,
                                   .determined = turn->known,
                                   .drift_rad_per_s = turn->known && turn->drifts ? turn->rate : NAN,
                                   .sd_turn_rad = turn->known ? out->scale * sqrt(variance_of(s, turn->unknown)) : NAN};
        for (size_t k = 0; k < net->frame_count; k++) {
            const mst_frame *f = &net->frames[k];
            if (f->turn != g) continue;
            double c = cos(turn->rad), si = sin(turn->rad); /* where the visit's own 0, 0 came to lie */
            if (f->has_plan) frame->shift_e_m = f->e + net->origin_e - (f->x0 * c + f->y0 * si);
            if (f->has_plan) frame->shift_n_m = f->n + net->origin_n - (f->y0 * c - f->x0 * si);
            if (f->has_height) frame->shift_h_m = f->h;
        }
    }
    return MST_OK;
}

/* ---- the whole ---- */

static void test_globally(const mst_system *s, const mst_adjust_options *options, mst_adjustment *out) {
    out->degrees_of_freedom = (int)s->used - (int)s->unknowns;
    double dof = out->degrees_of_freedom;
    double alpha = options->global_significance > 0 ? options->global_significance : SIGNIFICANCE;
    out->sigma0 = dof > 0 ? sqrt(s->cost / dof) : 1;
    out->scale = fmax(1, out->sigma0);
    out->global_test.statistic = s->cost;
    out->global_test.passed = true;
    if (!(dof > 0)) return;
    out->global_test.lower = mst_chi_square_quantile(alpha / 2, dof);
    out->global_test.upper = mst_chi_square_quantile(1 - alpha / 2, dof);
    out->global_test.passed = s->cost >= out->global_test.lower && s->cost <= out->global_test.upper;
}

static mst_status say_datum(const mst_network *net, bool free, mst_adjustment *out, mst_error *error) {
    const char *plan = net->datum_plan, *height = net->datum_height;
    const char *text = *plan && *height ? mst_arena_printf(net->arena, "Places count from %s; %s.", plan, height)
                       : *plan   ? mst_arena_printf(net->arena, "Places count from %s; there are no levels.", plan)
                       : *height ? mst_arena_printf(net->arena, "There are no places in plan; %s.", height)
                                 : "There are neither places nor levels.";
    if (text && free)
        text = mst_arena_printf(net->arena, "%s Nothing is held: errors count from the middle of the network.", text);
    out->datum = text;
    return text ? MST_OK : no_memory(error);
}

/* A mistake may have spoilt the start: from where the rest lies, all readings together may settle better. */
static mst_status start_better(mst_system *s, const mst_doubts *doubts, bool settled, int *iterations,
                               mst_error *error) {
    if (!doubts->without.solved) return MST_OK;
    double before = settled ? s->cost : HUGE_VAL;
    double *kept = mst_arena_array(s->arena, s->unknowns + 1, sizeof *kept);
    if (!kept) return no_memory(error);
    for (size_t i = 0; i < s->unknowns; i++) kept[i] = *s->value[i];
    mst_network_take_values(s->net, &doubts->without.net);
    int more;
    mst_status status = mst_system_solve(s, 0, &more, error);
    if (status == MST_NOT_CONVERGED && !settled) return status;
    if (status && status != MST_NOT_CONVERGED) return status;
    if (!status && s->cost < before * (1 - SAME_COST)) {
        *iterations += more;
    } else {
        for (size_t i = 0; i < s->unknowns; i++) *s->value[i] = kept[i];
        mst_system_evaluate(s);
        mst_system_factor(s);
    }
    return mst_sparse_invert(s->matrix, error);
}

/* Where nothing was given and the site asks for it. Bearings give a heading, so they keep it. */
static mst_status find_free_datum(const mst_system *s, const mst_network *fresh, const mst_adjust_options *options,
                                  mst_free_datum **free, mst_error *error) {
    bool plan = true, turn = true, height = true;
    if (!options->free_datum && strcmp(mst_site_setting(fresh->site, "datum", ""), "free") != 0) return MST_OK;
    for (size_t i = 0; i < fresh->node_count; i++) {
        plan &= !fresh->nodes[i].held_e;
        height &= !fresh->nodes[i].held_h;
    }
    for (size_t i = 0; i < fresh->reading_count; i++) {
        const mst_reading *r = &fresh->readings[i];
        plan &= r->kind != MST_READ_EASTING || r->frame != MST_NONE;
        height &= r->kind != MST_READ_ELEVATION || r->frame != MST_NONE;
        turn &= r->kind != MST_READ_BEARING || !s->net->turns[r->turn].fixed;
    }
    return plan || height ? mst_free_datum_make(s, plan, turn, height, free, error) : MST_OK;
}

/* Semi-axis and flattening of the ellipsoid that satellite positions count from (WGS 84, NIMA TR 8350.2). */
static const double AXIS_M = 6378137, FLATTENING = 1 / 298.257223563, STEP_OF_LATITUDE = 1e-5;

/* How much longer the projection draws a small figure than it is on the ellipsoid: root of the areas' ratio. */
static double grid_scale_at(const mst_projector *p, const double v[]) {
    double latitude = v[MST_GNSS_LATITUDE], longitude = v[MST_GNSS_LONGITUDE], height = v[MST_GNSS_HEIGHT];
    mst_point3 o, n, e;
    double square = FLATTENING * (2 - FLATTENING), w = 1 - square * sin(latitude) * sin(latitude);
    double north = AXIS_M * (1 - square) / (w * sqrt(w)), east = AXIS_M / sqrt(w) * cos(latitude);
    if (!p->project(p->self, latitude, longitude, height, &o) ||
        !p->project(p->self, latitude + STEP_OF_LATITUDE, longitude, height, &n) ||
        !p->project(p->self, latitude, longitude + STEP_OF_LATITUDE, height, &e))
        return NAN;
    double area = (n.northing_m - o.northing_m) * (e.easting_m - o.easting_m) -
                  (n.easting_m - o.easting_m) * (e.northing_m - o.northing_m);
    return sqrt(fabs(area) / (north * east)) / STEP_OF_LATITUDE;
}

static void find_grid_scale(const mst_site *site, const mst_adjust_options *options, mst_adjustment *out) {
    out->grid_scale = NAN;
    for (size_t i = 0; i < site->page_count && isnan(out->grid_scale) && options->projector; i++)
        if (site->pages[i].kind == MST_PAGE_GNSS && site->pages[i].row_count > 0)
            out->grid_scale = grid_scale_at(options->projector, site->pages[i].rows[0].value);
}

static mst_status give_results(mst_system *s, const mst_adjust_options *options, const mst_network *fresh,
                               const mst_doubts *doubts, mst_adjustment *out, mst_error *error) {
    test_globally(s, options, out);
    find_grid_scale(fresh->site, options, out);
    out->critical = doubts->critical;
    mst_free_datum *free = NULL;
    mst_status status = find_free_datum(s, fresh, options, &free, error);
    if (!status) status = give_points(s, free, out, error);
    if (!status) status = give_observations(s, out, error);
    if (!status) status = give_frames(s, out, error);
    if (!status) status = say_datum(s->net, free != NULL, out, error);
    if (!status) status = mst_words_for_undetermined(s->net, out, error);
    if (!status) status = mst_covariances_keep(s, free, out, error);
    if (!status) status = mst_doubts_report(fresh, s, doubts, out, error);
    return status;
}

/* The readings do not settle: says which one is to blame, where that shows. */
static mst_status blame(const mst_network *fresh, const mst_doubts *doubts, mst_error *error) {
    const char *sentence = doubts->count ? mst_doubts_first_sentence(fresh, doubts) : NULL;
    if (!sentence) return MST_NOT_CONVERGED;
    const mst_reading *r = &fresh->readings[doubts->list[0].reading];
    return mst_fail_at(error, MST_NOT_CONVERGED, r->page->name, r->row->line, 0,
                       "The readings do not settle on one place for each point. %s Correct it or set it aside.",
                       sentence);
}

/* Settles all readings, looks for the doubtful ones, and from where the rest lies settles better if it can. */
static mst_status settle(mst_system *s, const mst_network *fresh, const mst_adjust_options *options, mst_doubts *doubts,
                         mst_adjustment *out, mst_error *error) {
    mst_status status = mst_system_solve(s, options->max_iterations, &out->iterations, error);
    bool settled = !status;
    if (status && (status != MST_NOT_CONVERGED || options->max_iterations > 0)) return status;
    if (settled) status = mst_sparse_invert(s->matrix, error);
    mst_error search = {0};
    if (!status || !settled) status = mst_doubts_find(fresh, settled ? s : NULL, options, doubts, &search);
    if (status && error) *error = search;
    if (!status && (doubts->count || !settled)) status = start_better(s, doubts, settled, &out->iterations, error);
    if (!status && !settled && !doubts->without.solved) status = MST_NOT_CONVERGED;
    return status == MST_NOT_CONVERGED ? blame(fresh, doubts, error) : status;
}

static bool wants_gear_factors(const mst_site *site, const mst_adjust_options *options) {
    return options->apply_gear_factors || strcmp(mst_site_setting(site, "gear-factors", ""), "apply") == 0;
}

static mst_status solve(mst_system *s, mst_network *fresh, const mst_adjust_options *options, mst_adjustment *out,
                        mst_error *error) {
    mst_doubts *doubts = mst_arena_alloc(s->arena, sizeof *doubts);
    if (!doubts) return no_memory(error);
    mst_status status = settle(s, fresh, options, doubts, out, error);
    if (!status && !options->expected_only) status = mst_gear_factors_estimate(s, doubts, out, error);
    if (!status && !options->expected_only && wants_gear_factors(s->net->site, options)) {
        mst_gear_factors_apply(s->net, out);
        mst_gear_factors_apply(fresh, out);
        mst_doubts_free(doubts);
        status = mst_system_make(s->net, s->arena, s, error);
        if (!status) status = settle(s, fresh, options, doubts, out, error);
        out->gear_factors_applied = true;
    }
    if (!status) status = give_results(s, options, fresh, doubts, out, error);
    mst_doubts_free(doubts);
    return status;
}

mst_status mst_adjust(const mst_site *site, const mst_adjust_options *options, mst_arena *arena,
                      mst_adjustment **adjustment, mst_error *error) {
    static const mst_adjust_options USUAL = {0};
    if (!options) options = &USUAL;
    mst_network *net = mst_arena_alloc(arena, sizeof *net), *fresh = mst_arena_alloc(arena, sizeof *fresh);
    mst_system *system = mst_arena_alloc(arena, sizeof *system);
    mst_adjustment *out = mst_arena_alloc(arena, sizeof *out);
    if (!net || !fresh || !system || !out) return no_memory(error);
    mst_status status = mst_network_read(site, options, arena, net, error);
    if (!status && net->reading_count == 0 && net->node_count == 0)
        status = mst_fail(error, MST_TOO_FEW, "There is nothing to adjust yet: import a page of readings first.");
    if (!status && !mst_network_copy(net, arena, fresh)) status = no_memory(error);
    if (!status) status = mst_network_place(net, error);
    if (!status) status = mst_system_make(net, arena, system, error);
    if (!status) status = solve(system, fresh, options, out, error);
    if (!status) *adjustment = out;
    return status;
}

const mst_adjusted_point *mst_adjustment_point(const mst_adjustment *adjustment, const char *name) {
    uint32_t found = mst_index_get(&adjustment->index, name);
    return found == UINT32_MAX ? NULL : &adjustment->points[found];
}
