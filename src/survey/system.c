/* Unknowns are whatever has a value and is not held. What the readings leave open shows as vanishing pivots of the
 * normal matrix with all weights alike, so that a poor reading beside a good one is not taken for none. */
#include "survey/system.h"
#include "survey/model.h"
#include <math.h>
#include <string.h>

static const double OPEN_PIVOT = 1e-12; /* relative; rounding leaves 1e-15, an open traverse of 1000 legs still 1e-9 */
static const double WEAK_PIVOT = 1e-7;  /* below this of the weighted matrix it is worth asking what is open */
static const double LOST_PIVOT = 1e-15; /* relative; a weighted pivot below is nothing but rounding */
static const double MOVES = 1e-6;       /* part in an open motion that counts as moving; rounding leaves 1e-9 */
static const double STEP_M = 1e-6, STEP_RAD = 1e-9; /* corrections that end the search */
static const double LEAST_GAIN = 1e-12; /* of the sum of squares in units of sd^2: a step of a millionth sd */
static const double ROUNDING = 1e-12;
static const double FIRST_DAMPING = 1e-2, LEAST_DAMPING = 1e-7, LAST_DAMPING = 1e12;
enum { ITERATIONS_MAX = 100 }; /* a usual site takes 3; a grossly wrong one 30 */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the adjustment.");
}

/* ---- numbering ---- */

static void number_one(mst_system *s, uint32_t *unknown, bool wanted, double *value, bool angle) {
    *unknown = MST_NONE;
    if (!wanted) return;
    *unknown = (uint32_t)s->unknowns;
    s->value[s->unknowns] = value;
    s->is_angle[s->unknowns++] = angle;
}

static bool number_unknowns(mst_system *s) {
    mst_network *net = s->net;
    size_t most = 3 * net->node_count + 2 * net->turn_count + 3 * net->frame_count + net->collimation_count;
    s->value = mst_arena_array(s->arena, most + 1, sizeof *s->value);
    s->is_angle = mst_arena_array(s->arena, most + 1, sizeof *s->is_angle);
    if (!s->value || !s->is_angle) return false;
    s->unknowns = 0;
    for (size_t i = 0; i < net->node_count; i++) {
        mst_node *node = &net->nodes[i];
        number_one(s, &node->unknown_e, node->has_plan && !node->held_e, &node->e, false);
        number_one(s, &node->unknown_n, node->has_plan && !node->held_n, &node->n, false);
        number_one(s, &node->unknown_h, node->has_height && !node->held_h, &node->h, false);
    }
    for (size_t i = 0; i < net->turn_count; i++)
        number_one(s, &net->turns[i].unknown, net->turns[i].known && !net->turns[i].fixed, &net->turns[i].rad, true);
    for (size_t i = 0; i < net->turn_count; i++)
        number_one(s, &net->turns[i].unknown_rate, net->turns[i].known && net->turns[i].drifts, &net->turns[i].rate,
                   true);
    for (size_t i = 0; i < net->frame_count; i++) {
        mst_frame *f = &net->frames[i];
        number_one(s, &f->unknown_e, f->has_plan && !f->fixed_plan, &f->e, false);
        number_one(s, &f->unknown_n, f->has_plan && !f->fixed_plan, &f->n, false);
        number_one(s, &f->unknown_h, f->has_height && !f->fixed_height, &f->h, false);
    }
    for (size_t i = 0; i < net->collimation_count; i++)
        number_one(s, &net->collimations[i].unknown, net->collimations[i].has_height, &net->collimations[i].h, false);
    return true;
}

/* ---- rows ---- */

double mst_reading_sd(const mst_reading *r, double length_m) {
    if (!(r->centring_m > 0)) return r->sd;
    return hypot(r->sd, sqrt(2) * r->centring_m / fmax(length_m, r->centring_m)); /* instrument and target each */
}

static bool make_rows(mst_system *s) {
    mst_network *net = s->net;
    size_t most = net->reading_count + net->node_count;
    s->reading = mst_arena_array(s->arena, net->reading_count + 1, sizeof *s->reading);
    s->pair_row = mst_arena_array(s->arena, net->node_count + 1, sizeof *s->pair_row);
    s->row_start = mst_arena_array(s->arena, most + 2, sizeof *s->row_start);
    s->columns = mst_arena_array(s->arena, most * MST_TERMS_MAX + 1, sizeof *s->columns);
    s->coefficients = mst_arena_array(s->arena, most * MST_TERMS_MAX + 1, sizeof *s->coefficients);
    s->residual = mst_arena_array(s->arena, net->reading_count + 1, sizeof *s->residual);
    s->weight = mst_arena_array(s->arena, net->reading_count + 1, sizeof *s->weight);
    if (!s->reading || !s->pair_row || !s->row_start || !s->columns || !s->coefficients || !s->residual || !s->weight)
        return false;
    s->rows = s->used = 0;
    uint32_t entries = 0;
    for (uint32_t i = 0; i < net->reading_count; i++) {
        mst_reading *r = &net->readings[i];
        mst_terms t;
        r->used = !r->doubted && mst_reading_is_usable(net, r) && mst_model(net, r, &t);
        if (!r->used) continue;
        double sd = mst_reading_sd(r, t.length_m);
        s->weight[s->rows] = 1 / (sd * sd);
        s->reading[s->rows] = i;
        memcpy(s->columns + entries, t.unknown, t.count * sizeof *t.unknown);
        entries += (uint32_t)t.count;
        s->row_start[++s->rows] = entries;
    }
    s->used = s->rows;
    for (size_t i = 0; i < net->node_count; i++) {
        const mst_node *node = &net->nodes[i];
        s->pair_row[i] = MST_NONE;
        if (node->unknown_e == MST_NONE || node->unknown_n == MST_NONE) continue;
        s->pair_row[i] = (uint32_t)s->rows;
        s->columns[entries++] = node->unknown_e;
        s->columns[entries++] = node->unknown_n;
        s->row_start[++s->rows] = entries;
    }
    return true;
}

void mst_system_evaluate(mst_system *s) {
    s->cost = 0;
    s->factored = false;
    for (size_t row = 0; row < s->used; row++) {
        mst_terms t;
        mst_model(s->net, &s->net->readings[s->reading[row]], &t);
        memcpy(s->coefficients + s->row_start[row], t.derivative, t.count * sizeof *t.derivative);
        s->residual[row] = t.residual;
        s->cost += s->weight[row] * t.residual * t.residual;
    }
}

static void fill_matrix(mst_system *s, bool alike) {
    mst_sparse_clear(s->matrix);
    for (size_t row = 0; row < s->used; row++) {
        double weight = s->weight[row];
        const mst_reading *r = &s->net->readings[s->reading[row]];
        if (alike && mst_reading_is_angular(r->kind)) {
            mst_terms t;
            mst_model(s->net, r, &t);
            weight = t.length_m * t.length_m; /* what an angle moves, in m */
        } else if (alike) {
            weight = 1;
        }
        mst_sparse_add(s->matrix, row, s->coefficients + s->row_start[row], weight);
    }
}

/* ---- what the readings leave open ---- */

static void drop_what_moves(mst_system *s, const double motion[], const char *why) {
    mst_network *net = s->net;
    for (size_t i = 0; i < net->node_count; i++) {
        mst_node *node = &net->nodes[i];
        bool plan = (node->unknown_e != MST_NONE && fabs(motion[node->unknown_e]) > MOVES) ||
                    (node->unknown_n != MST_NONE && fabs(motion[node->unknown_n]) > MOVES);
        if (plan && node->has_plan) node->has_plan = false, node->why_plan = why;
        if (node->unknown_h == MST_NONE || !(fabs(motion[node->unknown_h]) > MOVES)) continue;
        node->has_height = false;
        node->why_height = why;
    }
    for (size_t i = 0; i < net->turn_count; i++)
        if (net->turns[i].unknown != MST_NONE && fabs(motion[net->turns[i].unknown]) > MOVES)
            net->turns[i].known = false;
    for (size_t i = 0; i < net->frame_count; i++) {
        mst_frame *f = &net->frames[i];
        if (f->unknown_e != MST_NONE && hypot(motion[f->unknown_e], motion[f->unknown_n]) > MOVES) f->has_plan = false;
        if (f->unknown_h != MST_NONE && fabs(motion[f->unknown_h]) > MOVES) f->has_height = false;
    }
    for (size_t i = 0; i < net->collimation_count; i++) {
        mst_collimation *c = &net->collimations[i];
        if (c->unknown != MST_NONE && fabs(motion[c->unknown]) > MOVES) c->has_height = false;
    }
}

/* Drops what is open. @param dropped whether anything was */
static mst_status drop_open(mst_system *s, bool *dropped, mst_error *error) {
    *dropped = false;
    mst_system_evaluate(s);
    fill_matrix(s, false);
    size_t open = mst_sparse_factor(s->matrix, 0, LOST_PIVOT);
    s->factored = open == 0 && mst_sparse_weakest(s->matrix) > WEAK_PIVOT;
    if (s->factored) return MST_OK;
    double *total = mst_arena_array(s->arena, s->unknowns + 1, sizeof *total);
    if (!total) return no_memory(error);
    const char *why = "its readings leave it free to move; add one that crosses the others";
    size_t alike = 0;
    fill_matrix(s, true);
    if ((alike = mst_sparse_factor(s->matrix, 0, OPEN_PIVOT)) == 0 && open > 0) {
        why = "its readings are too weak beside the others to place it; check their sd";
        fill_matrix(s, false);
        alike = mst_sparse_factor(s->matrix, 0, LOST_PIVOT);
    }
    if (alike == 0) return MST_OK;
    mst_sparse_motions(s->matrix, total);
    drop_what_moves(s, total, why);
    *dropped = true;
    return MST_OK;
}

/* Where the unknowns lie, so that near ones are eliminated together; turns and frames lie anywhere. */
static mst_status analyse(mst_system *s, mst_error *error) {
    mst_arena *scratch = mst_arena_new();
    double(*place)[2] = scratch ? mst_arena_array(scratch, s->unknowns + 1, sizeof *place) : NULL;
    for (size_t u = 0; place && u < s->unknowns; u++) place[u][0] = place[u][1] = NAN;
    for (size_t i = 0; place && i < s->net->node_count; i++) {
        const mst_node *node = &s->net->nodes[i];
        const uint32_t own[] = {node->unknown_e, node->unknown_n, node->unknown_h};
        for (int k = 0; node->has_plan && k < 3; k++)
            if (own[k] != MST_NONE) place[own[k]][0] = node->e, place[own[k]][1] = node->n;
    }
    mst_status status = !place ? no_memory(error)
                               : mst_sparse_analyse_placed(s->unknowns, s->rows, s->row_start, s->columns, place,
                                                           s->arena, &s->matrix, error);
    mst_arena_free(scratch);
    return status;
}

mst_status mst_system_make(mst_network *net, mst_arena *arena, mst_system *s, mst_error *error) {
    *s = (mst_system){.net = net, .arena = arena};
    for (bool dropped = true; dropped;) { /* every round drops an unknown, so this ends */
        if (!number_unknowns(s) || !make_rows(s)) return no_memory(error);
        mst_status status = analyse(s, error);
        if (!status) status = drop_open(s, &dropped, error);
        if (status) return status;
    }
    return MST_OK;
}

/* ---- the search ---- */

/* The step from here: x = N^-1 A' P (observed - computed). @return what it should gain, in units of the cost */
static double find_step(mst_system *s, double damping, double step[], double pull[]) {
    if (!s->factored || damping > 0) {
        fill_matrix(s, false);
        mst_sparse_factor(s->matrix, damping, LOST_PIVOT);
    }
    memset(pull, 0, s->unknowns * sizeof *pull);
    for (size_t row = 0; row < s->used; row++) {
        double weighted = -s->weight[row] * s->residual[row];
        for (uint32_t k = s->row_start[row]; k < s->row_start[row + 1]; k++)
            pull[s->columns[k]] += s->coefficients[k] * weighted;
    }
    memcpy(step, pull, s->unknowns * sizeof *step);
    mst_sparse_solve(s->matrix, step);
    double gain = 0;
    for (size_t i = 0; i < s->unknowns; i++) gain += step[i] * pull[i];
    return gain;
}

static bool is_small(const mst_system *s, const double step[]) {
    for (size_t i = 0; i < s->unknowns; i++)
        if (!(fabs(step[i]) <= (s->is_angle[i] ? STEP_RAD : STEP_M))) return false;
    return true;
}

/* The reading that fits worst, for the sentence when no place fits all. */
static mst_status not_converged(const mst_system *s, mst_error *error) {
    const mst_reading *worst = NULL;
    double most = 0;
    for (size_t row = 0; row < s->used; row++) {
        double off = s->weight[row] * s->residual[row] * s->residual[row];
        if (off > most) most = off, worst = &s->net->readings[s->reading[row]];
    }
    if (!worst) return mst_fail(error, MST_NOT_CONVERGED, "The readings do not settle on one place for each point.");
    return mst_fail_at(
        error, MST_NOT_CONVERGED, worst->page->name, worst->row->line, 0,
        "The readings do not settle on one place for each point; this %s fits worst: check it or set it aside.",
        mst_reading_kind_name(worst->kind));
}

/* Nielsen's rule (Damping parameter in Marquardt's method, IMM-REP-1999-05): damping follows how well the linear model
 * foretold the gain. None at all while Gauss-Newton does well by itself. */
typedef struct damping {
    double now, growth;
} damping;

static void loosen(damping *d, double foretold, double gained) {
    double quality = 2 * (foretold > 0 ? gained / foretold : 1) - 1;
    d->now *= fmax(1.0 / 3, 1 - quality * quality * quality);
    if (d->now < LEAST_DAMPING) d->now = 0;
    d->growth = 2;
}

static void tighten(damping *d) {
    d->now = d->now > 0 ? d->now * d->growth : FIRST_DAMPING;
    d->growth *= 2;
}

mst_status mst_system_solve(mst_system *s, int max_iterations, int *iterations, mst_error *error) {
    double *step = mst_arena_array(s->arena, s->unknowns + 1, sizeof *step);
    double *kept = mst_arena_array(s->arena, s->unknowns + 1, sizeof *kept);
    double *pull = mst_arena_array(s->arena, s->unknowns + 1, sizeof *pull);
    if (!step || !kept || !pull) return no_memory(error);
    damping d = {0, 2};
    int most = max_iterations > 0 ? max_iterations : ITERATIONS_MAX;
    if (!s->factored) mst_system_evaluate(s); /* else it has just been made, and nothing has moved */
    for (*iterations = 1; *iterations <= most && d.now <= LAST_DAMPING; ++*iterations) {
        double before = s->cost, gain = find_step(s, d.now, step, pull);
        bool last = is_small(s, step) || fabs(gain) < LEAST_GAIN;
        for (size_t i = 0; i < s->unknowns; i++) {
            kept[i] = *s->value[i];
            *s->value[i] += step[i];
        }
        mst_system_evaluate(s);
        if (last && isfinite(s->cost)) {
            if (d.now > 0) mst_system_factor(s); /* the covariances are those without damping */
            return MST_OK;
        }
        if (s->cost <= before * (1 + ROUNDING)) {
            loosen(&d, gain, before - s->cost);
            continue;
        }
        for (size_t i = 0; i < s->unknowns; i++) *s->value[i] = kept[i];
        mst_system_evaluate(s);
        tighten(&d);
    }
    return not_converged(s, error);
}

void mst_system_factor(mst_system *s) {
    fill_matrix(s, false);
    mst_sparse_factor(s->matrix, 0, LOST_PIVOT);
}

void mst_system_row(const mst_system *s, size_t row, double dense[]) {
    memset(dense, 0, s->unknowns * sizeof *dense);
    for (uint32_t k = s->row_start[row]; k < s->row_start[row + 1]; k++) dense[s->columns[k]] = s->coefficients[k];
}
