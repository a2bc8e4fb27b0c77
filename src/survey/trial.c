/* A hypothesis about a mistake is tried by solving the network as it would be without it. The readings keep the numbers
 * that they got when the site was read, so that what one trial says of a reading can be held against another. */
#include "survey/trial.h"
#include "survey/model.h"
#include "survey/start.h"
#include <math.h>
#include <string.h>

enum { ITERATIONS_MAX = 30 }; /* a trial that needs more has not found the mistake */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for finding mistakes.");
}

static void *copied(mst_arena *arena, const void *items, size_t count, size_t size) {
    void *copy = mst_arena_array(arena, count + 1, size);
    if (copy && count) memcpy(copy, items, count * size);
    return copy;
}

bool mst_network_copy(const mst_network *from, mst_arena *arena, mst_network *copy) {
    *copy = *from;
    copy->arena = arena;
    copy->nodes = copied(arena, from->nodes, from->node_count, sizeof *from->nodes);
    copy->readings = copied(arena, from->readings, from->reading_count, sizeof *from->readings);
    copy->turns = copied(arena, from->turns, from->turn_count, sizeof *from->turns);
    copy->frames = copied(arena, from->frames, from->frame_count, sizeof *from->frames);
    copy->collimations = copied(arena, from->collimations, from->collimation_count, sizeof *from->collimations);
    copy->left_out = NULL;
    copy->left_out_count = copy->left_out_capacity = 0;
    return copy->nodes && copy->readings && copy->turns && copy->frames && copy->collimations;
}

void mst_network_take_places(mst_network *net, const mst_network *from) {
    net->datum_plan = from->datum_plan;
    net->datum_height = from->datum_height;
    for (size_t i = 0; i < net->node_count; i++) {
        mst_node *to = &net->nodes[i];
        const mst_node *f = &from->nodes[i];
        if (f->has_plan)
            to->e = f->e, to->n = f->n, to->held_e = f->held_e, to->held_n = f->held_n, to->has_plan = true;
        if (f->has_height) to->h = f->h, to->held_h = f->held_h, to->has_height = true;
    }
    for (size_t i = 0; i < net->turn_count; i++)
        if (from->turns[i].known)
            net->turns[i].rad = from->turns[i].rad, net->turns[i].rate = from->turns[i].rate,
            net->turns[i].known = true, net->turns[i].fixed = from->turns[i].fixed;
    for (size_t i = 0; i < net->frame_count; i++) {
        mst_frame *to = &net->frames[i];
        const mst_frame *f = &from->frames[i];
        if (f->has_plan) to->e = f->e, to->n = f->n, to->has_plan = true, to->fixed_plan = f->fixed_plan;
        if (f->has_height) to->h = f->h, to->has_height = true, to->fixed_height = f->fixed_height;
    }
    for (size_t i = 0; i < net->collimation_count; i++)
        if (from->collimations[i].has_height) net->collimations[i] = from->collimations[i];
}

void mst_network_take_values(mst_network *net, const mst_network *from) {
    for (size_t i = 0; i < net->node_count; i++) {
        mst_node *to = &net->nodes[i];
        const mst_node *f = &from->nodes[i];
        if (f->has_plan && to->unknown_e != MST_NONE) to->e = f->e;
        if (f->has_plan && to->unknown_n != MST_NONE) to->n = f->n;
        if (f->has_height && to->unknown_h != MST_NONE) to->h = f->h;
    }
    for (size_t i = 0; i < net->turn_count; i++)
        if (from->turns[i].known && net->turns[i].unknown != MST_NONE) net->turns[i].rad = from->turns[i].rad;
    for (size_t i = 0; i < net->turn_count; i++)
        if (from->turns[i].known && net->turns[i].unknown_rate != MST_NONE) net->turns[i].rate = from->turns[i].rate;
    for (size_t i = 0; i < net->frame_count; i++) {
        mst_frame *to = &net->frames[i];
        const mst_frame *f = &from->frames[i];
        if (f->has_plan && to->unknown_e != MST_NONE) to->e = f->e, to->n = f->n;
        if (f->has_height && to->unknown_h != MST_NONE) to->h = f->h;
    }
    for (size_t i = 0; i < net->collimation_count; i++)
        if (from->collimations[i].has_height && net->collimations[i].unknown != MST_NONE)
            net->collimations[i].h = from->collimations[i].h;
}

/* Readings that only stand together: the start takes a place, an offset or a leg as a whole. */
static bool is_half_of_a_pair(mst_reading_kind kind) {
    switch (kind) {
    case MST_READ_EASTING:
    case MST_READ_NORTHING:
    case MST_READ_CHAINAGE:
    case MST_READ_OFFSET:
    case MST_READ_DX:
    case MST_READ_DY:
        return true;
    default:
        return false;
    }
}

static size_t partner_of(const mst_network *net, size_t i) {
    mst_reading_kind kind = net->readings[i].kind;
    return kind == MST_READ_EASTING || kind == MST_READ_CHAINAGE || kind == MST_READ_DX ? i + 1 : i - 1;
}

static void change(mst_network *net, const mst_change changes[], size_t count) {
    for (size_t i = 0; i < count; i++) {
        mst_reading *r = &net->readings[changes[i].reading];
        r->doubted = changes[i].doubted;
        if (r->doubted) continue;
        r->from = changes[i].from;
        r->to = changes[i].to;
        r->baseline = changes[i].baseline;
        r->value = changes[i].value;
    }
}

/* Takes out what is doubted. Half of a pair stays for the start's sake and has no row in the system. */
static bool close_ranks(mst_trial *t) {
    mst_network *net = &t->net;
    size_t all = net->reading_count, kept = 0;
    t->number = mst_arena_array(t->arena, all + 1, sizeof *t->number);
    t->row_of = mst_arena_array(t->arena, all + 1, sizeof *t->row_of);
    t->work = mst_arena_array(
        t->arena, 3 * net->node_count + 2 * net->turn_count + 3 * net->frame_count + net->collimation_count + 1,
        sizeof *t->work);
    if (!t->number || !t->row_of || !t->work) return false;
    for (size_t i = 0; i < all; i++) {
        const mst_reading *r = &net->readings[i];
        bool pair = is_half_of_a_pair(r->kind);
        if (r->doubted && (!pair || net->readings[partner_of(net, i)].doubted)) continue;
        t->number[kept++] = (uint32_t)i;
    }
    for (size_t k = 0; k < kept; k++) net->readings[k] = net->readings[t->number[k]];
    net->reading_count = kept;
    for (size_t i = 0; i < all; i++) t->row_of[i] = MST_NONE;
    return true;
}

static mst_status settle(mst_trial *t, const mst_network *places, mst_error *error) {
    mst_status status = MST_OK;
    if (places) mst_network_take_places(&t->net, places);
    else status = mst_network_place(&t->net, error);
    if (!status) status = mst_system_make(&t->net, t->arena, &t->system, error);
    int iterations;
    if (!status) status = mst_system_solve(&t->system, ITERATIONS_MAX, &iterations, error);
    if (status == MST_NOT_CONVERGED) return MST_OK;
    if (!status) status = mst_sparse_invert(t->system.matrix, error);
    t->solved = !status;
    return status;
}

mst_status mst_trial_make(const mst_network *fresh, const mst_change changes[], size_t count, const mst_network *places,
                          mst_trial *t, mst_error *error) {
    *t = (mst_trial){.arena = mst_arena_new()};
    mst_error unsaid = {0}; /* a network that does not settle is no failure here */
    if (!t->arena || !mst_network_copy(fresh, t->arena, &t->net)) return mst_trial_free(t), no_memory(error);
    change(&t->net, changes, count);
    if (!close_ranks(t)) return mst_trial_free(t), no_memory(error);
    mst_status status = settle(t, places, &unsaid);
    if (status) {
        mst_trial_free(t);
        return mst_fail(error, status, "%s", unsaid.sentence);
    }
    for (size_t row = 0; row < t->system.used; row++) t->row_of[t->number[t->system.reading[row]]] = (uint32_t)row;
    t->freedom = (double)t->system.used - (double)t->system.unknowns;
    return MST_OK;
}

void mst_trial_free(mst_trial *t) {
    mst_arena_free(t->arena);
    *t = (mst_trial){0};
}

/* Variance of a row that need not be in the system's pattern. */
static double variance_of(const mst_trial *t, const mst_terms *terms) {
    double *z = t->work;
    memset(z, 0, t->system.unknowns * sizeof *z);
    for (size_t k = 0; k < terms->count; k++) z[terms->unknown[k]] += terms->derivative[k];
    mst_sparse_solve(t->system.matrix, z);
    double sum = 0;
    for (size_t k = 0; k < terms->count; k++) sum += terms->derivative[k] * z[terms->unknown[k]];
    return fmax(sum, 0);
}

bool mst_trial_foretell(const mst_trial *t, const mst_reading *reading, double *error, double *sd) {
    mst_terms terms;
    if (!t->solved || !mst_reading_is_usable(&t->net, reading) || !mst_model(&t->net, reading, &terms)) return false;
    double own = mst_reading_sd(reading, terms.length_m);
    *error = -terms.residual;
    *sd = sqrt(own * own + variance_of(t, &terms));
    return true;
}
