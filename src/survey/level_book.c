/* A level book reduced as on paper: height of collimation, rise and fall, the arithmetic check, the misclosure and its
 * distribution by set-up. The check proves the arithmetic only, never the readings. */
#include "merestone/survey.h"
#include <math.h>
#include <string.h>

static const double ALLOWED_M = 0.005;   /* by root of set-ups; ordinary levelling, common practice in British texts */
static const double FIRST_LEVEL_M = 100; /* where nothing is known */
static const double ARITHMETIC_M = 1e-6; /* sums that differ by more are wrong; books hold millimetres */

/* A run of set-ups from a backsight on a known point to the last foresight. */
typedef struct run {
    size_t first, last; /* lines */
    const char *start;
    double start_level, backsights, foresights, rises, falls, end_level;
    bool start_known, broken;
    int set_ups;
    struct { /* up to the last foresight: what the check is about */
        size_t line;
        double backsights, rises, falls;
        int set_ups;
    } closed;
} run;

typedef struct reducing {
    const mst_page *page;
    const mst_adjustment *adjustment;
    mst_level_book book;
    int *set_up; /* [lines] which set-up of its run a level hangs on */
    double collimation, last_reading;
    run now;
    double worst_excess;
} reducing;

static const mst_adjusted_point *known_point(const reducing *r, const char *name) {
    return r->adjustment ? mst_adjustment_point(r->adjustment, name) : NULL;
}

/* The held level of a point, NaN if it is not held. */
static double held_level(const reducing *r, const char *name) {
    const mst_adjusted_point *p = known_point(r, name);
    return p && p->held_height ? p->elevation_m : NAN;
}

static double earlier_level(const reducing *r, size_t before, const char *name) {
    for (size_t i = before; i-- > 0;)
        if (strcmp(r->book.lines[i].point, name) == 0 && !isnan(r->book.lines[i].level_m))
            return r->book.lines[i].level_m;
    return NAN;
}

static void start_run(reducing *r, size_t i, const char *name) {
    double held = held_level(r, name), earlier = earlier_level(r, i, name);
    const mst_adjusted_point *p = known_point(r, name);
    double level = !isnan(held)         ? held
                   : !isnan(earlier)    ? earlier
                   : p && p->has_height ? p->elevation_m
                                        : FIRST_LEVEL_M;
    bool known = !isnan(held) || !isnan(earlier) || (p && p->has_height);
    if (!known || (p && p->assumed_height)) r->book.assumed = name;
    r->now = (run){.first = i,
                   .last = i,
                   .closed.line = i,
                   .start = name,
                   .start_level = level,
                   .end_level = level,
                   .start_known = !isnan(held) || !p || !p->has_height};
    r->book.lines[i].level_m = level;
}

static void take_down(reducing *r, mst_level_line *line, double reading) {
    double step = r->last_reading - reading;
    line->level_m = r->collimation - reading;
    line->rise_m = step >= 0 ? step : NAN;
    line->fall_m = step < 0 ? -step : NAN;
    r->now.rises += step >= 0 ? step : 0;
    r->now.falls += step < 0 ? -step : 0;
    r->last_reading = reading;
}

/* The known level on which the run ends: a held one, or that of its own start. */
static double closing_level(const reducing *r) {
    const char *end = r->book.lines[r->now.closed.line].point;
    if (r->now.closed.line == r->now.first) return NAN;
    if (strcmp(end, r->now.start) == 0) return r->now.start_level;
    return r->now.start_known ? held_level(r, end) : NAN;
}

static void distribute(reducing *r, double misclosure) {
    for (size_t i = r->now.first; i <= r->now.last; i++) {
        mst_level_line *line = &r->book.lines[i];
        double share = r->now.closed.set_ups > 0 ? fmin((double)r->set_up[i] / r->now.closed.set_ups, 1) : 0;
        line->adjusted_m = line->level_m - (isnan(misclosure) ? 0 : share * misclosure);
    }
}

static void end_run(reducing *r) {
    run *n = &r->now;
    mst_level_book *book = &r->book;
    if (n->set_ups == 0) return;
    double closing = n->broken ? NAN : closing_level(r), misclosure = n->end_level - closing;
    double allowed = ALLOWED_M * sqrt(n->closed.set_ups), rise = n->closed.backsights - n->foresights;
    distribute(r, misclosure);
    book->sum_backsight_m += n->closed.backsights;
    book->sum_foresight_m += n->foresights;
    book->sum_rise_m += n->closed.rises;
    book->sum_fall_m += n->closed.falls;
    book->change_m += n->end_level - n->start_level;
    book->set_ups += n->set_ups;
    book->arithmetic_ok &= n->broken || (fabs(rise - (n->closed.rises - n->closed.falls)) < ARITHMETIC_M &&
                                         fabs(rise - (n->end_level - n->start_level)) < ARITHMETIC_M);
    if (!isnan(misclosure) && (isnan(book->misclosure_m) || fabs(misclosure) / allowed > r->worst_excess)) {
        r->worst_excess = fabs(misclosure) / allowed;
        book->misclosure_m = misclosure;
        book->allowable_m = allowed;
    }
    n->set_ups = 0;
}

/* A change point may stand in two rows: its foresight, and under it the backsight of the next set-up. Where the run has
 * closed already, the backsight opens another. */
static bool is_change_point(const reducing *r, size_t i) {
    if (i == 0 || r->now.set_ups == 0 || r->now.broken || r->now.closed.line != i - 1 ||
        r->now.closed.line == r->now.first)
        return false;
    return strcmp(r->book.lines[i].point, r->book.lines[i - 1].point) == 0 && isnan(closing_level(r));
}

/* Sights after the last foresight take no part in the sums of rise and fall. */
static void take_line(reducing *r, size_t i, const mst_row *row) {
    mst_level_line *line = &r->book.lines[i];
    double back = row->value[MST_LEVELS_BACKSIGHT], middle = row->value[MST_LEVELS_INTERMEDIATE],
           fore = row->value[MST_LEVELS_FORESIGHT];
    *line = (mst_level_line){row->text[MST_LEVELS_POINT], row->line, back, middle, fore, NAN, NAN, NAN, NAN, NAN};
    if (row->set_aside) { /* a missing change point breaks the run; a missing intermediate sight does not */
        r->now.broken |= isnan(middle);
        r->collimation = isnan(middle) ? NAN : r->collimation;
        return;
    }
    if (!isnan(back) && isnan(fore)) {
        if (is_change_point(r, i)) line->level_m = line[-1].level_m;
        else {
            end_run(r);
            start_run(r, i, line->point);
        }
    }
    if (!isnan(middle)) take_down(r, line, middle);
    if (!isnan(fore)) {
        take_down(r, line, fore);
        r->now.foresights += fore;
        r->now.end_level = line->level_m;
        r->now.closed.line = i;
        r->now.closed.backsights = r->now.backsights;
        r->now.closed.rises = r->now.rises;
        r->now.closed.falls = r->now.falls;
        r->now.closed.set_ups = r->now.set_ups;
    }
    r->set_up[i] = r->now.set_ups;
    r->now.last = i;
    if (isnan(back)) return;
    r->now.backsights += back;
    r->now.set_ups++;
    r->collimation = line->collimation_m = line->level_m + back;
    r->last_reading = back;
}

mst_status mst_level_book_reduce(const mst_page *page, const mst_adjustment *adjustment, mst_arena *arena,
                                 mst_level_book *book, mst_error *error) {
    if (page->kind != MST_PAGE_LEVELS)
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0, "A level book is a page of levels, not of %s.",
                           mst_page_kind_name(page->kind));
    reducing r = {.page = page, .adjustment = adjustment, .collimation = NAN, .last_reading = NAN};
    r.book = (mst_level_book){.lines = mst_arena_array(arena, page->row_count + 1, sizeof *r.book.lines),
                              .count = page->row_count,
                              .misclosure_m = NAN,
                              .arithmetic_ok = true};
    r.set_up = mst_arena_array(arena, page->row_count + 1, sizeof *r.set_up);
    if (!r.book.lines || !r.set_up) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the level book.");
    for (size_t i = 0; i < page->row_count; i++) take_line(&r, i, &page->rows[i]);
    end_run(&r);
    if (isnan(r.book.misclosure_m)) r.book.allowable_m = ALLOWED_M * sqrt(r.book.set_ups);
    *book = r.book;
    return MST_OK;
}
