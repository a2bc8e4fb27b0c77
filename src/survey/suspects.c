/* Mistakes in three steps. Data snooping on the solution names the readings that stand out. Since a gross error bends
 * a network more than a linear step tells, and may spoil the start, the network is then solved anew without them, and
 * each is judged by what the others say; where the error is gross, the few likeliest are tried one by one and the one
 * whose absence gains most is taken. Last, each is held against the usual slips (slips.c). */
#include "survey/suspects.h"
#include "survey/slips.h"
#include "survey/snoop.h"
#include "survey/words.h"
#include "numeric/statistics.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { ROUNDS_MAX = 12, SOLVE_AGAIN_READINGS = 5000, CANDIDATES = 6, BENT_POINTS = 3, TRY_ALL = 400, TRY_ALL_FOR = 2 };
static const double SET_SIGNIFICANCE = 0.006; /* a set without a mistake is accused no more often, as a whole */
static const double GROSS = 15;               /* a statistic beyond this bends the network: trust trials, not lines */
static const double SCATTER_SIGNIFICANCE = 0.001; /* of the rest's global test, for taking the gear for worse */
static const double FITS = 20;                    /* a cost of so many times the freedom is no mere scatter */
static const double SAME_COST = 1e-6;             /* relative; the first of equals is taken */
static const size_t TRIALS_LEAST = 60, TRIALS_WORK = 300000; /* trials by readings: some seconds for one search */
static const double SCATTER_FREEDOM = 5;                     /* fewer degrees of freedom tell nothing about scatter */
static const double GEAR_AT_WORST = 10; /* no gear is so many times worse than its figures: mistakes are left */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for finding suspects.");
}

typedef struct search {
    const mst_network *fresh;
    const mst_adjust_options *options;
    mst_doubts *doubts;
    mst_system *system;  /* as solved, or NULL */
    mst_arena *scratch;  /* of the round */
    size_t *trials_left; /* for trying many */
    mst_error *error;
} search;

void mst_doubts_free(mst_doubts *doubts) { mst_trial_free(&doubts->without); }

static double critical_of(const search *f, const mst_snoop *snoop, double freedom) {
    if (f->options->suspect_significance > 0) return mst_normal_quantile(1 - f->options->suspect_significance / 2);
    return mst_snoop_critical(snoop, SET_SIGNIFICANCE, freedom);
}

/* ---- the list ---- */

static bool is_listed(const mst_doubts *d, uint32_t reading) {
    for (size_t i = 0; i < d->count; i++)
        if (d->list[i].reading == reading) return true;
    return false;
}

static size_t leaders_of(const mst_doubts *d) {
    size_t count = 0;
    for (size_t i = 0; i < d->count; i++) count += d->list[i].leader == i;
    return count;
}

static void add_doubt(mst_doubts *d, uint32_t reading, bool leads, double error, double sd) {
    if (d->count >= MST_DOUBTS_MAX || is_listed(d, reading)) return;
    uint32_t leader = (uint32_t)d->count;
    for (size_t i = d->count; !leads && i-- > 0;)
        if (d->list[i].leader == i) {
            leader = (uint32_t)i;
            break;
        }
    d->list[d->count++] = (mst_doubt){reading, leader, error, sd};
}

static void remove_group(mst_doubts *d, size_t leader) {
    size_t kept = 0;
    uint32_t moved[MST_DOUBTS_MAX];
    for (size_t i = 0; i < d->count; i++) {
        if (d->list[i].leader == leader) continue;
        moved[i] = (uint32_t)kept;
        d->list[kept++] = d->list[i];
    }
    d->count = kept;
    for (size_t i = 0; i < kept; i++) d->list[i].leader = moved[d->list[i].leader];
}

/* What a standout is off by, its own redundancy and sd given. */
static void add_standouts(mst_doubts *d, const mst_snoop *snoop, const uint32_t number[], size_t first, size_t count) {
    const mst_system *s = snoop->s;
    for (size_t k = first; k < first + count; k++) {
        size_t row = snoop->list[k].row;
        uint32_t reading = number ? number[s->reading[row]] : s->reading[row];
        double explained = s->weight[row] * mst_sparse_variance(s->matrix, row, s->coefficients + s->row_start[row]);
        double r = fmax(1 - explained, 1e-9);
        add_doubt(d, reading, snoop->list[k].freed, -s->residual[row] / r, 1 / sqrt(s->weight[row] * r));
    }
}

/* ---- trials ---- */

static mst_status try_without(const search *f, uint32_t another, mst_trial *trial) {
    mst_change changes[MST_DOUBTS_MAX + 1];
    size_t count = 0;
    for (size_t i = 0; i < f->doubts->count; i++)
        if (f->doubts->list[i].leader == i)
            changes[count++] = (mst_change){.reading = f->doubts->list[i].reading, .doubted = true};
    if (another != MST_NONE) changes[count++] = (mst_change){.reading = another, .doubted = true};
    return mst_trial_make(f->fresh, changes, count, NULL, trial, f->error);
}

/* The readings worth trying: those that stand out, then those that fit worst as they are. */
static size_t candidates_of(const mst_trial *t, const mst_snoop *snoop, uint32_t out[CANDIDATES]) {
    size_t count = 0;
    for (size_t k = 0; snoop && k < snoop->count && count < CANDIDATES / 2; k++)
        if (snoop->list[k].freed) out[count++] = t->number[t->system.reading[snoop->list[k].row]];
    while (count < CANDIDATES) {
        double most = 0;
        uint32_t worst = MST_NONE;
        for (size_t row = 0; row < t->system.used; row++) {
            uint32_t reading = t->number[t->system.reading[row]];
            double off = t->system.weight[row] * t->system.residual[row] * t->system.residual[row];
            bool again = false;
            for (size_t k = 0; k < count; k++) again |= out[k] == reading;
            if (!again && off > most) most = off, worst = reading;
        }
        if (worst == MST_NONE) break;
        out[count++] = worst;
    }
    return count;
}

typedef struct choice {
    uint32_t reading; /* MST_NONE while no trial settled */
    double cost, freedom;
} choice;

static mst_status try_one(const search *f, uint32_t reading, choice *best) {
    mst_trial trial;
    mst_status status = try_without(f, reading, &trial);
    if (status) return status;
    double off, sd; /* one that the rest says nothing of only hides what is wrong with the rest */
    bool told = mst_trial_foretell(&trial, &f->fresh->readings[reading], &off, &sd);
    if (told && trial.system.cost < best->cost * (1 - SAME_COST))
        *best = (choice){reading, trial.system.cost, trial.freedom};
    mst_trial_free(&trial);
    return MST_OK;
}

static bool touches(const mst_reading *r, uint32_t node) {
    return r->from == node || r->to == node || r->baseline == node || r->fourth == node;
}

/* The points whose readings fit worst: a gross error of one reading drags its point away from all the others. */
static mst_status bent_points(const search *f, const mst_trial *t, uint32_t out[BENT_POINTS]) {
    size_t count = f->fresh->node_count;
    double *off = mst_arena_array(f->scratch, count + 1, sizeof *off);
    if (!off) return no_memory(f->error);
    memset(off, 0, (count + 1) * sizeof *off);
    for (size_t row = 0; t->solved && row < t->system.used; row++) {
        const mst_reading *r = &f->fresh->readings[t->number[t->system.reading[row]]];
        const uint32_t ends[] = {r->from, r->to, r->baseline, r->fourth};
        for (int k = 0; k < 4; k++)
            if (ends[k] != MST_NONE)
                off[ends[k]] += t->system.weight[row] * t->system.residual[row] * t->system.residual[row];
    }
    for (int k = 0; k < BENT_POINTS; k++) {
        out[k] = 0;
        for (uint32_t node = 1; node < count; node++)
            if (off[node] > off[out[k]]) out[k] = node;
        if (!(off[out[k]] > 0)) out[k] = MST_NONE;
        else off[out[k]] = 0;
    }
    return MST_OK;
}

/* One more trial out of those that the search may spend. */
static bool may_try(const search *f) { return *f->trials_left > 0 && (*f->trials_left)-- > 0; }

static bool fits(const choice *c) { return c->reading != MST_NONE && c->cost < FITS * fmax(c->freedom, 1); }

/* Every reading of the points that are bent most; where none of them makes the rest fit, every reading there is. */
static mst_status try_many(const search *f, choice *best) {
    uint32_t bent[BENT_POINTS];
    mst_status status = bent_points(f, &f->doubts->without, bent);
    for (int k = 0; !status && k < BENT_POINTS && !fits(best); k++)
        for (uint32_t i = 0; !status && bent[k] != MST_NONE && i < f->fresh->reading_count; i++)
            if (touches(&f->fresh->readings[i], bent[k]) && !is_listed(f->doubts, i) && may_try(f))
                status = try_one(f, i, best);
    if (fits(best) || f->fresh->reading_count > TRY_ALL || leaders_of(f->doubts) >= TRY_ALL_FOR) return status;
    for (uint32_t i = 0; !status && i < f->fresh->reading_count; i++)
        if (!is_listed(f->doubts, i) && may_try(f)) status = try_one(f, i, best);
    return status;
}

/* Takes the candidate whose absence leaves the rest fitting best. Where none of the likely ones makes the rest fit, the
 * mistake has bent the network out of shape, and any reading may be the one. */
static mst_status choose(const search *f, const mst_snoop *snoop, uint32_t *reading) {
    uint32_t list[CANDIDATES];
    size_t count = candidates_of(&f->doubts->without, snoop, list);
    choice best = {MST_NONE, HUGE_VAL, 0};
    mst_status status = MST_OK;
    for (size_t k = 0; !status && k < count; k++) status = try_one(f, list[k], &best);
    if (!status && !fits(&best)) status = try_many(f, &best);
    *reading = best.reading;
    return status;
}

/* What the others say of each suspect by itself. One that they no longer contradict is dismissed. */
static bool judge(search *f, double critical) {
    mst_doubts *d = f->doubts;
    bool dismissed = false;
    for (size_t i = 0; i < d->count; i++) {
        double error, sd;
        if (d->list[i].leader != i) continue; /* its like take part and are told nothing new */
        if (!mst_trial_foretell(&d->without, &f->fresh->readings[d->list[i].reading], &error, &sd)) continue;
        d->list[i].error = error;
        d->list[i].sd = sd;
    }
    for (size_t i = 0; i < d->count; i++) {
        if (d->list[i].leader != i || fabs(d->list[i].error) > critical * d->list[i].sd) continue;
        remove_group(d, i--);
        dismissed = true;
    }
    return dismissed;
}

/* One round. @param done no reading stands out and none was dismissed */
static mst_status go_round(search *f, bool *done) {
    mst_doubts *d = f->doubts;
    mst_trial_free(&d->without);
    mst_status status = try_without(f, MST_NONE, &d->without);
    if (status) return status;
    uint32_t best;
    if (!d->without.solved) {
        status = choose(f, NULL, &best);
        *done = best == MST_NONE;
        if (!*done) add_doubt(d, best, true, NAN, NAN);
        return status;
    }
    mst_snoop snoop;
    if (!mst_snoop_make(&snoop, &d->without.system, f->scratch, MST_DOUBTS_MAX)) return no_memory(f->error);
    double critical = critical_of(f, &snoop, d->without.freedom);
    if (d->count == 0) d->critical = critical;
    bool dismissed = judge(f, isfinite(d->critical) && d->critical > 0 ? d->critical : critical);
    if (!mst_snoop_run(&snoop, critical)) return no_memory(f->error);
    *done = snoop.count == 0 && !dismissed;
    if (snoop.count == 0) return MST_OK;
    if (fabs(snoop.list[0].statistic) <= GROSS) {
        add_standouts(d, &snoop, d->without.number, 0, snoop.count);
        return MST_OK;
    }
    status = choose(f, &snoop, &best);
    if (status) return status;
    if (best != MST_NONE && d->without.row_of[best] == MST_NONE) return add_doubt(d, best, true, NAN, NAN), MST_OK;
    uint32_t row = best == MST_NONE ? (uint32_t)snoop.list[0].row : d->without.row_of[best];
    if (!mst_snoop_make(&snoop, &d->without.system, f->scratch, MST_DOUBTS_MAX) || !mst_snoop_free(&snoop, row))
        return no_memory(f->error);
    add_standouts(d, &snoop, d->without.number, 0, snoop.count);
    return MST_OK;
}

/* Where all readings scatter more than their gear should, a suspect must stand out from that. */
static void dismiss_what_is_scatter(search *f) {
    mst_doubts *d = f->doubts;
    double freedom = d->without.freedom, cost = d->without.system.cost;
    if (!d->without.solved || freedom < SCATTER_FREEDOM ||
        cost < mst_chi_square_quantile(1 - SCATTER_SIGNIFICANCE, freedom))
        return;
    double scatter = sqrt(cost / freedom);
    if (scatter > GEAR_AT_WORST) return;
    for (size_t i = 0; i < d->count; i++)
        if (d->list[i].leader == i && fabs(d->list[i].error) <= d->critical * scatter * d->list[i].sd)
            remove_group(d, i--);
}

static mst_status search_by_trials(search *f) {
    bool done = false;
    mst_status status = MST_OK;
    size_t most =
        f->system ? (size_t)((double)(f->system->used - f->system->unknowns) / 2) : f->fresh->reading_count / 4;
    for (int round = 0; !status && !done && round < ROUNDS_MAX && leaders_of(f->doubts) <= most; round++) {
        f->scratch = mst_arena_new();
        status = f->scratch ? go_round(f, &done) : no_memory(f->error);
        mst_arena_free(f->scratch);
    }
    if (!status && !done) { /* what was found last has not been tried together */
        mst_trial_free(&f->doubts->without);
        status = try_without(f, MST_NONE, &f->doubts->without);
        if (!status && f->doubts->without.solved) judge(f, f->doubts->critical);
    }
    size_t before = f->doubts->count;
    if (!status) dismiss_what_is_scatter(f);
    if (!status && f->doubts->count != before) {
        mst_trial_free(&f->doubts->without);
        status = try_without(f, MST_NONE, &f->doubts->without);
    }
    for (size_t i = 0; i < f->doubts->count; i++) /* never foretold: nobody can say by how much it is off */
        if (!isfinite(f->doubts->list[i].error)) remove_group(f->doubts, f->doubts->list[i].leader), i = (size_t)-1;
    return status;
}

/* ---- the whole ---- */

static mst_status look_at(search *f, mst_system *system, mst_arena *scratch, bool *stands_out) {
    mst_snoop snoop;
    double freedom = (double)system->used - (double)system->unknowns;
    if (!mst_snoop_make(&snoop, system, scratch, MST_DOUBTS_MAX)) return no_memory(f->error);
    f->doubts->critical = critical_of(f, &snoop, freedom);
    if (freedom < 1 || f->options->expected_only) return MST_OK;
    if (!mst_snoop_run(&snoop, f->doubts->critical)) return no_memory(f->error);
    *stands_out = snoop.count > 0;
    if (f->fresh->reading_count > SOLVE_AGAIN_READINGS) add_standouts(f->doubts, &snoop, NULL, 0, snoop.count);
    return MST_OK;
}

mst_status mst_doubts_find(const mst_network *fresh, mst_system *system, const mst_adjust_options *options,
                           mst_doubts *doubts, mst_error *error) {
    *doubts = (mst_doubts){.critical = 0};
    size_t trials = TRIALS_WORK / (fresh->reading_count + 1);
    if (trials < TRIALS_LEAST) trials = TRIALS_LEAST;
    search f = {
        .fresh = fresh, .system = system, .options = options, .doubts = doubts, .trials_left = &trials, .error = error};
    bool stands_out = !system;
    if (system) {
        mst_arena *scratch = mst_arena_new();
        mst_status status = scratch ? look_at(&f, system, scratch, &stands_out) : no_memory(error);
        mst_arena_free(scratch);
        if (status) return status;
    }
    if (!stands_out || fresh->reading_count > SOLVE_AGAIN_READINGS) return MST_OK;
    return search_by_trials(&f);
}

/* ---- sentences ---- */

static void size_words(const mst_reading *r, double error, char *out, size_t size) {
    char angle[40];
    mst_angle_dms(fabs(error), 0, angle, sizeof angle);
    const char *way = error > 0 ? "large" : "small";
    if (r->page->kind == MST_PAGE_CONDITIONS)
        snprintf(out, size, "%.*f m off what the readings say", fabs(error) < 0.1 ? 3 : 2, fabs(error));
    else if (mst_reading_is_angular(r->kind)) snprintf(out, size, "%s too %s", angle, way);
    else if (r->kind == MST_READ_DISTANCE || r->kind == MST_READ_SLOPE)
        snprintf(out, size, "%.*f m %s", fabs(error) < 0.1 ? 3 : 2, fabs(error), error > 0 ? "long" : "short");
    else snprintf(out, size, "%.*f m too %s", fabs(error) < 0.1 ? 3 : 2, fabs(error), way);
}

static size_t group_size(const mst_doubts *d, uint32_t leader) {
    size_t count = 0;
    for (size_t i = 0; i < d->count; i++) count += d->list[i].leader == leader;
    return count;
}

static const mst_reading *other_of_two(const mst_network *fresh, const mst_doubts *d, size_t i) {
    for (size_t k = 0; k < d->count; k++)
        if (k != i && d->list[k].leader == d->list[i].leader) return &fresh->readings[d->list[k].reading];
    return NULL;
}

static bool is_coordinate(const mst_reading *r) {
    return r->kind == MST_READ_EASTING || r->kind == MST_READ_NORTHING || r->kind == MST_READ_ELEVATION;
}

/* How far apart two rows put the point, as far as both count from the site's frame; else what the others say. */
static double apart(const mst_reading *one, const mst_reading *other, double error) {
    if (one->kind == MST_READ_ELEVATION || one->frame != MST_NONE || other->frame != MST_NONE) return fabs(error);
    const mst_reading *a = one->kind == MST_READ_EASTING ? one : one - 1,
                      *b = other->kind == MST_READ_EASTING ? other : other - 1;
    return hypot(a[0].value - b[0].value, a[1].value - b[1].value);
}

/* One name on two pages that lie apart: very often two points, or one that was moved between. */
static const char *two_places_of_one_name(const mst_network *fresh, const mst_reading *one, const mst_reading *other,
                                          double error, const mst_slip *slip) {
    double distance = apart(one, other, error);
    if (one > other) { /* whichever is reported, the sentence is the same */
        const mst_reading *later = one;
        one = other;
        other = later;
    }
    return mst_arena_printf(
        fresh->arena,
        "%s of %s%s (%s row %d) and %s of %s%s (%s row %d) lie %.*f m apart%s%s%s: is it "
        "one point? Correct one of the two, set it aside or give it another name.",
        fresh->nodes[one->to].name, mst_words_visit(one->page->visit), one->page->visit, one->page->name,
        one->row->line, fresh->nodes[other->to].name, mst_words_visit(other->page->visit), other->page->visit,
        other->page->name, other->row->line, distance < 0.1 ? 3 : 2, distance,
        one->kind == MST_READ_ELEVATION ? " in level" : "", slip->words ? "; " : "", slip->words ? slip->words : "");
}

/* A place in the site's frame against one that is held. */
static const char *beside_what_is_held(const mst_network *fresh, const mst_reading *r, const char *words,
                                       const char *size, const mst_slip *slip) {
    const mst_node *node = &fresh->nodes[r->to];
    bool held = r->kind == MST_READ_ELEVATION ? node->control_height : node->control_plan;
    bool elsewhere = strcmp(node->page, r->page->name) != 0 || node->row != r->row->line;
    if (!is_coordinate(r) || r->frame != MST_NONE || !held || !elsewhere) return NULL;
    return mst_arena_printf(fresh->arena, "The %s is about %s beside where %s row %d holds %s%s%s: is it one point?",
                            words, size, node->page, node->row, node->name, slip->words ? "; " : "",
                            slip->words ? slip->words : "");
}

static const char *sentence_for(const mst_network *fresh, const mst_doubts *d, size_t i, const mst_slip *slip) {
    mst_arena *arena = fresh->arena;
    const mst_doubt *one = &d->list[i];
    const mst_reading *r = &fresh->readings[one->reading], *other = other_of_two(fresh, d, i);
    const char *words = mst_words_for(fresh, r, arena);
    size_t alike = group_size(d, one->leader);
    char size[80];
    size_words(r, one->error, size, sizeof size);
    const char *stop = slip->words ? "; " : "", *usual = slip->words ? slip->words : "";
    if (alike == 1) {
        const char *held = beside_what_is_held(fresh, r, words, size, slip);
        return held ? held : mst_arena_printf(arena, "The %s is about %s%s%s.", words, size, stop, usual);
    }
    if (alike == 2 && is_coordinate(r) && other->kind == r->kind && other->to == r->to)
        return two_places_of_one_name(fresh, r, other, one->error, slip);
    if (isfinite(mst_slip_corrected(slip, one->reading)))
        return mst_arena_printf(
            arena, "The %s is about %s%s%s; by size alone %zu other reading%s cannot be told apart from it.", words,
            size, stop, usual, alike - 1, alike == 2 ? "" : "s");
    if (alike == 2)
        return mst_arena_printf(arena,
                                "Either the %s is about %s, or the %s is wrong, which cannot be told apart from "
                                "it%s%s; measure one of them again.",
                                words, size, mst_words_for(fresh, other, arena), stop, usual);
    return mst_arena_printf(
        arena,
        "Either the %s is about %s, or one of %zu other readings is wrong that cannot be told apart from it%s%s; "
        "measure one of them again.",
        words, size, alike - 1, stop, usual);
}

/* Puts the member of each group to which a slip was pinned in front of the others. */
static mst_status pin(const mst_network *fresh, const mst_doubts *d, mst_slip slips[], mst_error *error) {
    for (size_t i = 0; i < d->count; i++) {
        if (d->list[i].leader != i) continue;
        mst_status status = mst_slip_find(fresh, d, i, &slips[i], error);
        if (status) return status;
        for (size_t k = i; k < d->count; k++)
            if (d->list[k].leader == i) slips[k] = slips[i];
    }
    return MST_OK;
}

static uint32_t row_of(const mst_system *s, uint32_t reading) {
    for (uint32_t row = 0; row < s->used; row++)
        if (s->reading[row] == reading) return row;
    return MST_NONE;
}

const char *mst_doubts_first_sentence(const mst_network *fresh, const mst_doubts *d) {
    mst_slip slip;
    if (d->count == 0 || mst_slip_find(fresh, d, 0, &slip, NULL)) return NULL;
    return sentence_for(fresh, d, 0, &slip);
}

static mst_status report_one(const mst_network *fresh, const mst_system *s, const mst_doubts *d, size_t i,
                             const mst_slip *slip, mst_adjustment *out, mst_error *error) {
    const char *sentence = sentence_for(fresh, d, i, slip);
    uint32_t row = row_of(s, d->list[i].reading);
    if (!sentence) return no_memory(error);
    if (row == MST_NONE) return MST_OK; /* it did not count in the solution, and is said to have been left out */
    const mst_reading *read = &fresh->readings[d->list[i].reading];
    double corrected = mst_slip_corrected(slip, d->list[i].reading);
    if (read->kind == MST_READ_DIRECTION || read->kind == MST_READ_BEARING) corrected = mst_angle_turn(corrected);
    bool told = slip->name && (!slip->pinned || isfinite(corrected));
    out->suspects[out->suspect_count++] = (mst_suspect){
        row, d->list[i].error, group_size(d, d->list[i].leader) == 1, sentence, told ? slip->name : NULL, corrected};
    return MST_OK;
}

mst_status mst_doubts_report(const mst_network *fresh, const mst_system *s, const mst_doubts *d, mst_adjustment *out,
                             mst_error *error) {
    mst_arena *arena = s->net->arena;
    mst_slip *slips = mst_arena_array(arena, d->count + 1, sizeof *slips);
    out->suspects = mst_arena_array(arena, d->count + 1, sizeof *out->suspects);
    if (!out->suspects || !slips) return no_memory(error);
    mst_status status = pin(fresh, d, slips, error);
    for (size_t i = 0; !status && i < d->count; i++) { /* the one with a slip before its like */
        if (d->list[i].leader != i) continue;
        for (int pass = 0; pass < 2; pass++)
            for (size_t k = i; !status && k < d->count; k++) {
                bool pinned = slips[k].pinned ? isfinite(mst_slip_corrected(&slips[k], d->list[k].reading)) : k == i;
                if (d->list[k].leader == i && pinned == (pass == 0))
                    status = report_one(fresh, s, d, k, &slips[k], out, error);
            }
    }
    return status;
}
