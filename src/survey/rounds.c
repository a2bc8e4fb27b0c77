/* Rounds of a total station or theodolite, reduced as on paper: within each round the two faces of a target are meaned
 * and counted from the round's first target, then the rounds are meaned; twice the collimation error and the index
 * error of the vertical circle come from the same pairs (W. Schofield, Engineering Surveying, chapter on angles, from
 * memory). A set-up is a run of rows at one station. */
#include "merestone/survey.h"
#include "survey/set_ups.h"
#include <math.h>
#include <string.h>

/* The rows of one set-up. */
typedef struct set_up {
    const mst_row *rows;
    size_t count;
} set_up;

/* One target in one round: either face of it, NaN where it was not read. */
typedef struct faces {
    double circle[2], zenith[2];
} faces;

static bool is_right(const mst_row *row) { return row->value[MST_ANGLES_ZENITH] > MST_PI; }
static bool same(double a, double b) { return a == b || (isnan(a) && isnan(b)); }
static const char *target(const mst_row *row) { return row->text[MST_ANGLES_TO]; }

static faces faces_of(const set_up *s, const char *to, double round) {
    faces f = {{NAN, NAN}, {NAN, NAN}};
    for (size_t i = 0; i < s->count; i++) {
        const mst_row *row = &s->rows[i];
        bool right = is_right(row);
        if (row->set_aside || strcmp(target(row), to) != 0 || !same(row->value[MST_ANGLES_ROUND], round)) continue;
        if (!isnan(f.circle[right])) continue; /* read twice on one face: the first counts */
        f.circle[right] = row->value[MST_ANGLES_CIRCLE];
        f.zenith[right] = row->value[MST_ANGLES_ZENITH];
    }
    return f;
}

/* Mean circle of the faces, as face left. */
static double mean_circle(const faces *f) {
    double left = f->circle[0], right = f->circle[1] - MST_PI;
    if (isnan(left)) return right;
    return isnan(right) ? left : left + mst_angle_signed(right - left) / 2;
}

/* The first target read in that round. */
static const char *first_of_round(const set_up *s, double round) {
    for (size_t i = 0; i < s->count; i++)
        if (!s->rows[i].set_aside && same(s->rows[i].value[MST_ANGLES_ROUND], round)) return target(&s->rows[i]);
    return "";
}

static bool is_new_round(const set_up *s, size_t row) {
    for (size_t i = 0; i < row; i++)
        if (same(s->rows[i].value[MST_ANGLES_ROUND], s->rows[row].value[MST_ANGLES_ROUND])) return false;
    return true;
}

typedef struct mean {
    double sum;
    int count;
} mean;
static void add(mean *m, double value) {
    if (isnan(value)) return;
    m->sum += value;
    m->count++;
}
static double value_of(const mean *m) { return m->count ? m->sum / m->count : NAN; }

static double zenith_of(const faces *f) {
    double right = 2 * MST_PI - f->zenith[1];
    return isnan(f->zenith[0]) ? right : isnan(right) ? f->zenith[0] : (f->zenith[0] + right) / 2;
}

/* The turn of a target from the first target of the same round; NaN when one of the two was not read in it. */
static double turn_in_round(const set_up *s, const char *to, double round, faces *own) {
    faces zero = faces_of(s, first_of_round(s, round), round);
    *own = faces_of(s, to, round);
    return mst_angle_turn(mean_circle(own) - mean_circle(&zero));
}

static double spread_of(const set_up *s, const char *to, double centre) {
    double most = 0;
    faces own;
    for (size_t i = 0; i < s->count; i++) {
        if (!is_new_round(s, i)) continue;
        double turn = turn_in_round(s, to, s->rows[i].value[MST_ANGLES_ROUND], &own);
        if (!isnan(turn)) most = fmax(most, fabs(mst_angle_signed(turn - centre)));
    }
    return most;
}

static void reduce_target(const set_up *s, const char *to, mst_round_mean *out) {
    mean turn = {0, 0}, zenith = {0, 0}, two_c = {0, 0}, index = {0, 0}, slope = {0, 0};
    *out = (mst_round_mean){.at = s->rows[0].text[MST_ANGLES_AT], .to = to};
    for (size_t i = 0; i < s->count; i++) {
        const mst_row *row = &s->rows[i];
        if (!row->set_aside && strcmp(target(row), to) == 0) add(&slope, row->value[MST_ANGLES_DISTANCE]);
        if (!is_new_round(s, i)) continue;
        faces own;
        double here = turn_in_round(s, to, row->value[MST_ANGLES_ROUND], &own);
        double centre = turn.count ? value_of(&turn) : here;
        add(&turn, centre + mst_angle_signed(here - centre));
        add(&zenith, zenith_of(&own));
        add(&two_c, mst_angle_signed(own.circle[0] - own.circle[1] + MST_PI));
        add(&index, (own.zenith[0] + own.zenith[1] - 2 * MST_PI) / 2);
        out->faces_left += !isnan(own.circle[0]);
        out->faces_right += !isnan(own.circle[1]);
    }
    out->circle_rad = mst_angle_turn(value_of(&turn));
    out->spread_rad = spread_of(s, to, out->circle_rad);
    out->zenith_rad = value_of(&zenith);
    out->two_c_rad = value_of(&two_c);
    out->index_rad = value_of(&index);
    out->slope_m = value_of(&slope);
}

static void reduce_set_up(const set_up *s, mst_round_mean means[], size_t *count) {
    for (size_t i = 0; i < s->count; i++) {
        bool again = s->rows[i].set_aside != NULL;
        for (size_t k = 0; k < i; k++)
            again |= !s->rows[k].set_aside && strcmp(target(&s->rows[k]), target(&s->rows[i])) == 0;
        if (!again) reduce_target(s, target(&s->rows[i]), &means[(*count)++]);
    }
}

/* A row that does not tell the instrument's height is of the set-up at hand. */
static bool stands_on(const mst_row *a, const mst_row *b, double *height) {
    double told = b->value[MST_ANGLES_INSTRUMENT];
    if (strcmp(a->text[MST_ANGLES_AT], b->text[MST_ANGLES_AT]) != 0) return false;
    if (!isnan(told) && !isnan(*height) && told != *height) return false;
    if (!isnan(told)) *height = told;
    return true;
}

/* Which run each row belongs to: a run is at one station, and goes on where one of its rounds does. NULL when memory is
 * short. */
static uint32_t *find_runs(const mst_page *page, mst_arena *arena, uint32_t *count) {
    mst_set_ups set_ups;
    uint32_t *run_of = mst_arena_array(arena, page->row_count + 1, sizeof *run_of);
    if (!run_of || !mst_set_ups_find(page, arena, &set_ups)) return NULL;
    double height = NAN;
    for (size_t i = 0; i < page->row_count; i++) {
        mst_set_up *s = &set_ups.list[set_ups.of_row[i]];
        const mst_row *row = &page->rows[i];
        if (i > 0 && stands_on(row - 1, row, &height)) {
            run_of[i] = run_of[i - 1];
        } else {
            run_of[i] = s->turn != UINT32_MAX ? s->turn : (*count)++;
            height = row->value[MST_ANGLES_INSTRUMENT];
        }
        if (s->turn == UINT32_MAX) s->turn = run_of[i];
    }
    return run_of;
}

/* The rows run by run; start[] says where each run begins in rows[]. */
static void sort_by_run(const mst_page *page, const uint32_t run_of[], size_t start[], mst_row rows[]) {
    for (size_t i = 0; i < page->row_count; i++) start[run_of[i] + 2]++;
    for (size_t i = 0; i < page->row_count; i++) start[i + 2] += start[i + 1];
    for (size_t i = 0; i < page->row_count; i++) rows[start[run_of[i] + 1]++] = page->rows[i];
}

mst_status mst_rounds_reduce(const mst_page *page, mst_arena *arena, mst_round_mean **means, size_t *count,
                             mst_error *error) {
    if (page->kind != MST_PAGE_ANGLES)
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0, "Rounds are reduced from a page of angles, not of %s.",
                           mst_page_kind_name(page->kind));
    mst_round_mean *made = mst_arena_array(arena, page->row_count + 1, sizeof *made);
    mst_row *rows = mst_arena_array(arena, page->row_count + 1, sizeof *rows);
    uint32_t run_count = 0, *run_of = find_runs(page, arena, &run_count);
    size_t *start = mst_arena_array(arena, page->row_count + 3, sizeof *start);
    if (!made || !rows || !start || !run_of) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the rounds.");
    *count = 0;
    sort_by_run(page, run_of, start, rows);
    for (uint32_t run = 0; run < run_count; run++) {
        set_up s = {rows + start[run], start[run + 1] - start[run]};
        reduce_set_up(&s, made, count);
    }
    *means = made;
    return MST_OK;
}
