/* Slips that every booker knows. Each is a hypothesis: the readings as they would be without it. The network solved
 * with them costs little more than without the doubted readings at all when the hypothesis is true. Hypotheses are
 * weighed by Bayes' rule against each other and against an error of no known kind, whose size is spread over the decade
 * it lies in. How usual each slip is: common practice, no source. */
#include "survey/slips.h"
#include "numeric/statistics.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { HYPOTHESES_MAX = 600, CHANGES_MAX = MST_SLIP_READINGS, TRIALS_MAX = 40, GROUP_MAX = 12 };
static const double FIT = 5;                 /* a correction farther off than this many sd is not tried */
static const double FIT_SIGNIFICANCE = 1e-3; /* of the chi-square by which a correction may cost more */
static const double SURE = 0.6;              /* of all explanations; below, no slip is named */
static const double DEGREE = MST_PI / 180;

/* How usual, as parts of all mistakes. */
static const double UNKNOWN = 0.12, METRE = 0.12, METRES = 0.05, TENTH = 0.04, FOOT = 0.06, FEET = 0.08, SIGN = 0.12,
                    DIGITS = 0.14, POINT = 0.12, FACE = 0.15, DEGREES = 0.05, MINUTES = 0.03, SWAPPED = 0.15,
                    EXCHANGED = 0.05, FROM_LEVEL = 0.03;

typedef struct hypothesis {
    const char *name, *words;
    double usual; /* shared among its alternatives */
    uint32_t reading;
    mst_change change[CHANGES_MAX];
    size_t count;
    double off;        /* squared, in sd: by what the network without the doubts foretells */
    double likelihood; /* log, after its trial */
} hypothesis;

typedef struct trying {
    const mst_network *fresh;
    const mst_doubts *doubts;
    uint32_t leader;
    uint32_t cluster[CHANGES_MAX]; /* the doubted readings that one slip may explain together */
    double error[CHANGES_MAX], sd[CHANGES_MAX];
    size_t cluster_count;
    hypothesis *list;
    size_t count;
    mst_error *failure;
} trying;

static const mst_reading *reading_of(const trying *t, uint32_t i) { return &t->fresh->readings[i]; }

static hypothesis *add(trying *t, const char *name, const char *words, double usual, uint32_t reading) {
    if (t->count >= HYPOTHESES_MAX || !words) return NULL;
    hypothesis *h = &t->list[t->count++];
    *h = (hypothesis){.name = name, .words = words, .usual = usual, .reading = reading};
    return h;
}

static mst_change as_read(const trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    return (mst_change){i, false, r->from, r->to, r->baseline, r->value};
}

static void add_value(trying *t, uint32_t i, double value, double usual, const char *name, const char *words) {
    hypothesis *h = add(t, name, words, usual, i);
    if (!h) return;
    h->change[0] = as_read(t, i);
    h->change[0].value = value;
    h->count = 1;
}

/* ---- what was typed ---- */

/* The column in which a reading was booked, -1 where it was made of several. */
static int column_of(const mst_reading *r) {
    switch (r->page->kind) {
    case MST_PAGE_CONTROL:
    case MST_PAGE_POINTS:
        return r->kind == MST_READ_EASTING    ? MST_POINTS_EASTING
               : r->kind == MST_READ_NORTHING ? MST_POINTS_NORTHING
                                              : MST_POINTS_ELEVATION;
    case MST_PAGE_GNSS:
        return r->kind == MST_READ_ELEVATION ? MST_GNSS_HEIGHT : -1;
    case MST_PAGE_TAPE:
        return MST_TAPE_DISTANCE;
    case MST_PAGE_BEARINGS:
        return r->kind == MST_READ_BEARING ? MST_BEARINGS_BEARING : MST_BEARINGS_DISTANCE;
    case MST_PAGE_ANGLES:
        return r->kind == MST_READ_DIRECTION ? MST_ANGLES_CIRCLE
               : r->kind == MST_READ_ZENITH  ? MST_ANGLES_ZENITH
                                             : MST_ANGLES_DISTANCE;
    case MST_PAGE_LEVELS:
        return r->kind == MST_READ_BACKSIGHT      ? MST_LEVELS_BACKSIGHT
               : r->kind == MST_READ_INTERMEDIATE ? MST_LEVELS_INTERMEDIATE
                                                  : MST_LEVELS_FORESIGHT;
    case MST_PAGE_HEIGHTS:
        return MST_HEIGHTS_DIFFERENCE;
    case MST_PAGE_OFFSETS:
        return r->kind == MST_READ_OFFSET ? MST_OFFSETS_OFFSET : MST_OFFSETS_CHAINAGE;
    case MST_PAGE_LEGS:
        return r->kind == MST_READ_DX ? MST_LEGS_DX : r->kind == MST_READ_DY ? MST_LEGS_DY : MST_LEGS_DZ;
    default:
        return -1;
    }
}

/* The unit in which the cell's text gives the cell's value. */
static mst_unit unit_of(const char *text, double value) {
    for (int unit = MST_UNIT_M; unit <= MST_UNIT_GON; unit++) {
        double read;
        if (mst_quantity_read(text, (mst_unit)unit, &read, NULL) == MST_OK && read == value) return (mst_unit)unit;
    }
    return MST_UNIT_NONE;
}

static bool is_digit(char c) { return c >= '0' && c <= '9'; }

/* The place of the next digit that stands beside the one at i, a point between them allowed; 0 if none. */
static size_t neighbour_of(const char *text, size_t i) {
    size_t next = i + 1;
    if (text[next] == '.') next++;
    return is_digit(text[i]) && is_digit(text[next]) && text[i] != text[next] ? next : 0;
}

static void try_digits(trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    int column = column_of(r);
    if (column < 0) return;
    const char *text = r->row->text[column];
    double cell = r->row->value[column];
    size_t length = strlen(text), places = 0, first = t->count;
    mst_unit unit = length < 40 ? unit_of(text, cell) : MST_UNIT_NONE;
    if (unit == MST_UNIT_NONE || cell == 0) return;
    for (size_t k = 0; k + 1 < length; k++) {
        size_t other = neighbour_of(text, k);
        if (!other) continue;
        char swapped[40];
        memcpy(swapped, text, length + 1);
        swapped[k] = text[other];
        swapped[other] = text[k];
        double value;
        if (mst_quantity_read(swapped, unit, &value, NULL)) continue;
        bool derived = !mst_reading_is_angular(r->kind) && fabs(r->value - cell) > 1e-12; /* a slope taken into plan */
        places++;
        add_value(t, i, derived ? r->value * value / cell : r->value + (value - cell), DIGITS, "digits",
                  mst_arena_printf(t->fresh->arena, "two digits swapped would give that: %s for %s", text, swapped));
    }
    for (size_t k = first; k < t->count; k++) t->list[k].usual /= (double)places;
}

/* ---- one value ---- */

static void try_length(trying *t, uint32_t i, double error) {
    const mst_reading *r = reading_of(t, i);
    double metres = round(error), count = fabs(metres);
    if (count >= 1 && count <= 100)
        add_value(t, i, r->value - metres,
                  count == 1                    ? METRE
                  : count == 10 || count == 100 ? METRES
                                                : METRES / (count * count),
                  "metres", count < 1.5 ? "a whole metre is the usual slip" : "whole metres are the usual slip");
    add_value(t, i, r->value - copysign(0.1, error), TENTH, "tenth", "a tenth of a metre is a usual slip");
    add_value(t, i, r->value - copysign(MST_FOOT_M, error), FOOT, "foot", "a whole foot is a usual slip");
    add_value(t, i, r->value * MST_FOOT_M, FEET, "feet for metres", "it fits if feet were read and metres booked");
    add_value(t, i, r->value / MST_FOOT_M, FEET / 4, "metres for feet", "it fits if metres were read and feet booked");
}

static void try_sign(trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    const char *words = r->kind == MST_READ_OFFSET              ? "it fits if left and right were swapped"
                        : r->kind == MST_READ_HEIGHT_DIFFERENCE ? "it fits if rise and fall were swapped"
                        : r->kind == MST_READ_DX || r->kind == MST_READ_DY || r->kind == MST_READ_DZ
                            ? "it fits with the other sign"
                            : NULL;
    if (words) add_value(t, i, -r->value, SIGN, "sign", words);
}

static void try_angle(trying *t, uint32_t i, double error) {
    const mst_reading *r = reading_of(t, i);
    if (r->kind == MST_READ_ZENITH) {
        add_value(t, i, MST_PI / 2 - r->value, FROM_LEVEL, "from level",
                  "it fits if the angle was read from the level, not from the zenith");
        add_value(t, i, MST_PI - r->value, FACE / 3, "face", "it fits if up and down, or the faces, were mixed up");
    } else {
        add_value(t, i, r->value + MST_PI, FACE, "face",
                  "half a turn is the usual slip: the other face, or the line seen from its far end");
    }
    const struct {
        double unit;
        int most;
        double usual;
        const char *one;
    } WHOLE[] = {{10 * DEGREE, 17, DEGREES, "whole tens of degrees are a usual slip"},
                 {DEGREE, 9, DEGREES, "a whole degree is a usual slip"},
                 {DEGREE / 6, 5, MINUTES, "whole tens of minutes are a usual slip"}};
    for (int k = 0; k < 3; k++) {
        double count = round(error / WHOLE[k].unit);
        if (count == 0 || fabs(count) > WHOLE[k].most) continue;
        add_value(t, i, r->value - count * WHOLE[k].unit, WHOLE[k].usual / fabs(count), "degrees", WHOLE[k].one);
    }
}

static void try_values(trying *t, uint32_t i, double error) {
    const mst_reading *r = reading_of(t, i);
    if (r->page->kind == MST_PAGE_CONDITIONS || r->kind == MST_READ_DRIFT) return; /* nobody read it */
    if (mst_reading_is_angular(r->kind)) {
        try_angle(t, i, error);
    } else {
        try_length(t, i, error);
        try_sign(t, i);
    }
    try_digits(t, i);
}

/* ---- another point ---- */

/* The first and one past the last reading of the row that reading i is of. */
static void row_of(const trying *t, uint32_t i, uint32_t *first, uint32_t *end) {
    const mst_row *row = reading_of(t, i)->row;
    for (*first = i; *first > 0 && reading_of(t, *first - 1)->row == row;) --*first;
    for (*end = i + 1; *end < t->fresh->reading_count && reading_of(t, *end)->row == row;) ++*end;
}

static bool takes_other_start(const mst_reading *r) {
    return r->from != MST_NONE && r->baseline == MST_NONE && r->kind != MST_READ_DIRECTION &&
           r->kind != MST_READ_ZENITH && r->page->kind != MST_PAGE_ANGLES;
}

static bool is_in_cluster(const trying *t, uint32_t i) {
    for (size_t k = 0; k < t->cluster_count; k++)
        if (t->cluster[k] == i) return true;
    return false;
}

/* How far the doubted readings would be off with another end, squared and in sd; infinite where they cannot be told. */
static double off_with(const trying *t, const mst_change change[], size_t count) {
    double sum = 0;
    size_t told = 0;
    for (size_t k = 0; k < count; k++) {
        mst_reading r = *reading_of(t, change[k].reading);
        double error, sd;
        if (!is_in_cluster(t, change[k].reading)) continue;
        r.from = change[k].from;
        r.to = change[k].to;
        r.value = change[k].value;
        if (!mst_trial_foretell(&t->doubts->without, &r, &error, &sd)) return HUGE_VAL;
        sum = fmax(sum, error * error / (sd * sd));
        told++;
    }
    return told ? sum : HUGE_VAL;
}

static void try_point(trying *t, uint32_t i, uint32_t node, bool start, double usual) {
    mst_change change[CHANGES_MAX];
    uint32_t first, end;
    size_t count = 0;
    row_of(t, i, &first, &end);
    for (uint32_t k = first; k < end && count < CHANGES_MAX; k++) {
        change[count] = as_read(t, k);
        if (change[count].from == node || change[count].to == node || change[count].baseline == node) return;
        if (start) change[count++].from = node;
        else change[count++].to = node;
    }
    if (off_with(t, change, count) > FIT * FIT) return;
    const mst_reading *r = reading_of(t, i);
    const char *meant = t->fresh->nodes[node].name, *booked = t->fresh->nodes[start ? r->from : r->to].name;
    hypothesis *h = add(
        t, "point", mst_arena_printf(t->fresh->arena, "it fits if the point was %s, not %s", meant, booked), usual, i);
    if (!h) return;
    memcpy(h->change, change, sizeof change);
    h->count = count;
}

static void try_points(trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    if (mst_reading_is_condition(r->kind)) return;
    bool start = takes_other_start(r);
    double usual = POINT / (double)t->fresh->node_count / (start ? 2 : 1);
    for (uint32_t node = 0; node < t->fresh->node_count; node++) {
        try_point(t, i, node, false, usual);
        if (start) try_point(t, i, node, true, usual);
    }
}

/* ---- two readings exchanged ---- */

static void try_exchange(trying *t, uint32_t a, uint32_t b, double usual, const char *name, const char *words) {
    for (size_t k = 0; k < t->count; k++)
        if (t->list[k].count == 2 && t->list[k].change[0].reading == b && t->list[k].change[1].reading == a) return;
    hypothesis *h = add(t, name, words, usual, a);
    if (!h) return;
    h->change[0] = as_read(t, a);
    h->change[1] = as_read(t, b);
    h->change[0].value = reading_of(t, b)->value;
    h->change[1].value = reading_of(t, a)->value;
    h->count = 2;
}

static bool is_staff_of_change(const mst_reading *r) {
    return r->kind == MST_READ_BACKSIGHT || r->kind == MST_READ_FORESIGHT;
}

/* Backsight and foresight of one row of the book, or of one set-up. */
static void try_staff(trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    if (!is_staff_of_change(r)) return;
    for (uint32_t k = 0; k < t->fresh->reading_count; k++) {
        const mst_reading *o = reading_of(t, k);
        if (!is_staff_of_change(o) || o->kind == r->kind || o->page != r->page) continue;
        if (o->row == r->row || o->collimation == r->collimation)
            try_exchange(t, i, k, SWAPPED / 2, "backsight and foresight",
                         o->row == r->row ? "it fits if backsight and foresight of the row were swapped"
                                          : "it fits if backsight and foresight of the set-up were swapped");
    }
}

static void try_pair(trying *t, uint32_t i) {
    const mst_reading *r = reading_of(t, i);
    if (r->kind == MST_READ_EASTING || r->kind == MST_READ_CHAINAGE || r->kind == MST_READ_DX)
        try_exchange(t, i, i + 1, EXCHANGED, "exchanged", "it fits if the two numbers were exchanged");
    if (r->kind == MST_READ_NORTHING || r->kind == MST_READ_OFFSET || r->kind == MST_READ_DY)
        try_exchange(t, i, i - 1, EXCHANGED, "exchanged", "it fits if the two numbers were exchanged");
}

/* ---- trials ---- */

static bool is_changed(const hypothesis *h, uint32_t reading) {
    for (size_t k = 0; k < h->count; k++)
        if (h->change[k].reading == reading) return true;
    return false;
}

/* The network with the hypothesis in place of the cluster; the other leaders stay out. */
static mst_status solve_with(trying *t, const hypothesis *h, mst_trial *trial) {
    mst_change changes[MST_DOUBTS_MAX + CHANGES_MAX];
    size_t count = 0;
    for (size_t k = 0; k < h->count; k++) changes[count++] = h->change[k];
    for (size_t i = 0; i < t->doubts->count; i++) {
        const mst_doubt *d = &t->doubts->list[i];
        if (d->leader != i || is_changed(h, d->reading) || is_in_cluster(t, d->reading)) continue;
        changes[count++] = (mst_change){.reading = d->reading, .doubted = true};
    }
    if (t->doubts->without.solved) {
        mst_status status = mst_trial_make(t->fresh, changes, count, &t->doubts->without.net, trial, t->failure);
        if (status || (trial->solved && trial->freedom > t->doubts->without.freedom)) return status;
        mst_trial_free(trial); /* what the others leave open has no place there: start anew */
    }
    return mst_trial_make(t->fresh, changes, count, NULL, trial, t->failure);
}

static mst_status weigh(trying *t, hypothesis *h) {
    const mst_trial *without = &t->doubts->without;
    mst_trial trial;
    h->likelihood = -HUGE_VAL;
    mst_status status = solve_with(t, h, &trial);
    if (status) return status;
    double loss = trial.system.cost - without->system.cost, freedom = fmax(trial.freedom - without->freedom, 1);
    if (trial.solved && loss <= mst_chi_square_quantile(1 - FIT_SIGNIFICANCE, freedom))
        h->likelihood = log(h->usual) - loss / 2;
    mst_trial_free(&trial);
    return MST_OK;
}

/* An error of no known kind in each reading of the cluster, spread over about the decade in which it lies. */
static double likelihood_of_unknown(const trying *t) {
    double sum = log(UNKNOWN);
    for (size_t k = 0; k < t->cluster_count; k++)
        sum += log(sqrt(2 * MST_PI) * t->sd[k] / (4 * fmax(fabs(t->error[k]), t->sd[k])));
    return sum;
}

/* Staff readings of two groups that meet in one row of the book. */
static bool meet_in_a_row(const trying *t, size_t one, size_t other) {
    const mst_doubts *d = t->doubts;
    for (size_t i = 0; i < d->count; i++)
        for (size_t k = 0; k < d->count; k++) {
            if (d->list[i].leader != one || d->list[k].leader != other) continue;
            const mst_reading *a = reading_of(t, d->list[i].reading), *b = reading_of(t, d->list[k].reading);
            if (is_staff_of_change(a) && is_staff_of_change(b) && a->row == b->row) return true;
        }
    return false;
}

/* The leader first. */
static void find_cluster(trying *t) {
    const mst_doubts *d = t->doubts;
    const mst_row *row = reading_of(t, d->list[t->leader].reading)->row;
    t->cluster_count = 0;
    for (size_t k = 0; k < d->count && t->cluster_count < CHANGES_MAX; k++) {
        size_t i = (k + t->leader) % d->count;
        const mst_doubt *o = &d->list[i];
        if (o->leader != i) continue;
        if (reading_of(t, o->reading)->row != row && !meet_in_a_row(t, t->leader, i)) continue;
        t->error[t->cluster_count] = o->error;
        t->sd[t->cluster_count] = o->sd;
        t->cluster[t->cluster_count++] = o->reading;
    }
}

static int by_usual(const hypothesis *a, const hypothesis *b) {
    double x = log(a->usual) - a->off / 2, y = log(b->usual) - b->off / 2;
    return (x < y) - (x > y);
}

/* Keeps the likeliest as foretold, so that few need a trial. Insertion, for the order must not depend on the library.
 */
static void keep_likeliest(trying *t, bool foretell) {
    size_t kept = 0;
    for (size_t i = 0; i < t->count; i++) {
        hypothesis h = t->list[i];
        h.off = foretell && h.count == 1 ? off_with(t, h.change, h.count) : 0;
        if (h.off > FIT * FIT && isfinite(h.off)) continue;
        if (!isfinite(h.off)) h.off = FIT;
        if (kept == TRIALS_MAX && by_usual(&t->list[TRIALS_MAX - 1], &h) <= 0) continue;
        size_t at = kept < TRIALS_MAX ? kept++ : TRIALS_MAX - 1;
        for (; at > 0 && by_usual(&t->list[at - 1], &h) > 0; at--) t->list[at] = t->list[at - 1];
        t->list[at] = h;
    }
    t->count = kept;
}

static void give(const hypothesis *h, bool pinned, mst_slip *slip) {
    slip->name = h->name;
    slip->words = h->words;
    slip->pinned = pinned;
    slip->count = h->count;
    for (size_t k = 0; k < h->count; k++) {
        slip->reading[k] = h->change[k].reading;
        slip->corrected[k] = h->change[k].value;
    }
}

static mst_status judge(trying *t, mst_slip *slip) {
    double unknown = likelihood_of_unknown(t), most = unknown;
    const hypothesis *best = NULL;
    for (size_t i = 0; i < t->count; i++) {
        mst_status status = weigh(t, &t->list[i]);
        if (status) return status;
        if (t->list[i].likelihood > most) most = t->list[i].likelihood, best = &t->list[i];
    }
    if (!best) return MST_OK;
    double all = exp(unknown - most), kind = 0;
    for (size_t i = 0; i < t->count; i++) {
        double part = exp(t->list[i].likelihood - most);
        all += part;
        if (t->list[i].name == best->name) kind += part;
    }
    bool pinned = 1 / all >= SURE, alike = strcmp(best->name, "point") != 0 && kind / all >= SURE;
    if (pinned || alike) give(best, pinned, slip);
    return MST_OK;
}

double mst_slip_corrected(const mst_slip *slip, uint32_t reading) {
    for (size_t k = 0; slip->pinned && k < slip->count; k++)
        if (slip->reading[k] == reading) return slip->corrected[k];
    return NAN;
}

mst_status mst_slip_find(const mst_network *fresh, const mst_doubts *doubts, size_t leader, mst_slip *slip,
                         mst_error *error) {
    *slip = (mst_slip){.name = NULL};
    trying t = {.fresh = fresh, .doubts = doubts, .leader = (uint32_t)leader, .failure = error};
    if (!doubts->without.solved) return MST_OK;
    mst_arena *scratch = mst_arena_new();
    t.list = scratch ? mst_arena_array(scratch, HYPOTHESES_MAX, sizeof *t.list) : NULL;
    if (!t.list) {
        mst_arena_free(scratch);
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for finding slips.");
    }
    find_cluster(&t);
    size_t group = 0;
    for (size_t i = 0; i < doubts->count; i++) {
        const mst_doubt *d = &doubts->list[i];
        bool in = d->leader == leader || is_in_cluster(&t, doubts->list[d->leader].reading);
        if (!in || group++ >= GROUP_MAX) continue;
        try_values(&t, d->reading, d->error);
        try_staff(&t, d->reading);
        try_pair(&t, d->reading);
        if (i == leader) try_points(&t, d->reading);
    }
    keep_likeliest(&t, group == 1);
    mst_status status = judge(&t, slip);
    mst_arena_free(scratch);
    return status;
}
