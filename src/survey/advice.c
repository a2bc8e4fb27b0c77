/* Which reading to add: every candidate is added to the plan in turn and the whole adjusted as if it had been taken;
 * the one that gains most a minute wins. Slow and exact rather than quick and linear: a plan is small. */
#include "survey/plan.h"
#include <math.h>
#include <string.h>

enum { STEPS_MAX = 40, NEAREST = 8, CANDIDATES_MAX = 1200, REPEATS_MAX = 3 };
static const double OPEN_M = 10,
                    OPEN_STEP_M = 1; /* what a point without a place counts; less with each reading to it */
static const double WORTH = 1e-4;    /* relative gain below which a reading helps nothing */

/* Time in the field and reach of one reading; a new set-up costs extra. Common practice, no source. */
static const struct {
    double minutes, set_up_minutes, reach_m;
} COST[MST_PLAN_KINDS] = {
    [MST_PLAN_TAPE] = {1.5, 0, 30},       [MST_PLAN_BEARING] = {1, 0, 60}, [MST_PLAN_SIGHT] = {0.7, 8, 150},
    [MST_PLAN_DIRECTION] = {0.5, 8, 150}, [MST_PLAN_LEVEL] = {1.5, 0, 60}, [MST_PLAN_PLACE] = {1, 0, HUGE_VAL},
    [MST_PLAN_LEG] = {0.5, 0, 40}};

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the advice.");
}

/* What is to become small, m (or m2). */
typedef struct goal {
    double (*of)(const struct goal *self, const mst_visit_plan *plan, const mst_adjustment *expected);
    double aim_m;
    const mst_feature *feature;
} goal;

typedef struct advising {
    mst_visit_plan *plan;
    const goal *goal;
    const mst_adjust_options *options;
    mst_arena *arena;
    mst_planned *candidates;
    size_t candidate_count;
    mst_error *error;
} advising;

/* ---- goals ---- */

static bool is_end(const mst_planned *r, const char *name) {
    return strcmp(r->from, name) == 0 || strcmp(r->to, name) == 0;
}

static bool serves(mst_planned_kind kind, bool level) {
    if (kind == MST_PLAN_SIGHT || kind == MST_PLAN_PLACE || kind == MST_PLAN_LEG) return true;
    return level == (kind == MST_PLAN_LEVEL);
}

/* How many different readings of a kind that can fix what is open go to the point; a repeat fixes nothing. */
static size_t readings_to(const mst_visit_plan *plan, const char *name, bool level) {
    size_t count = 0;
    for (size_t i = 0; i < plan->reading_count; i++) {
        const mst_planned *r = &plan->readings[i];
        bool again = !is_end(r, name) || !serves(r->kind, level);
        for (size_t k = 0; k < i && !again; k++) {
            const mst_planned *o = &plan->readings[k];
            again = o->kind == r->kind && is_end(o, r->from) && is_end(o, r->to);
        }
        count += !again;
    }
    return count;
}

/* What a point counts while the plan leaves it open: less with each reading that may help to fix it. */
static double count_of_open(const mst_visit_plan *plan, const mst_adjustment *expected, const mst_sketched *point) {
    const mst_adjusted_point *p = mst_adjustment_point(expected, point->name);
    bool in_plan = p && p->has_plan;
    size_t readings = readings_to(plan, point->name, in_plan);
    return (in_plan ? OPEN_M : 2 * OPEN_M) - OPEN_STEP_M * (double)(readings < 5 ? readings : 5);
}

static double excess_over_aim(const goal *g, const mst_visit_plan *plan, const mst_adjustment *expected) {
    double sum = 0;
    for (size_t i = 0; i < plan->point_count; i++) {
        double known = mst_plan_precision(expected, &plan->points[i]);
        if (!isfinite(known)) known = count_of_open(plan, expected, &plan->points[i]);
        sum += fmax(known - g->aim_m, 0);
    }
    return sum;
}

static double half_interval(const goal *g, const mst_visit_plan *plan, const mst_adjustment *expected) {
    mst_measure m;
    mst_arena *scratch = mst_arena_new();
    (void)plan;
    bool measured = scratch && mst_feature_measure(g->feature, expected, scratch, &m, NULL) == MST_OK;
    mst_arena_free(scratch);
    if (!measured) return OPEN_M;
    const mst_figure *f = isnan(m.area_m2.value) ? &m.length_m : &m.area_m2;
    return (f->high - f->value) / expected->scale;
}

static mst_status value_of(const advising *a, double *value) {
    mst_arena *scratch = mst_arena_new();
    mst_adjustment *expected = NULL;
    if (!scratch) return no_memory(a->error);
    mst_status status = mst_plan_adjust(a->plan, a->options, scratch, &expected, a->error);
    if (!status) *value = a->goal->of(a->goal, a->plan, expected);
    if (status == MST_TOO_FEW) { /* nothing is planned and nothing measured */
        mst_adjustment nothing = {.scale = 1};
        *value = a->goal->of(a->goal, a->plan, &nothing);
        status = MST_OK;
    }
    mst_arena_free(scratch);
    return status;
}

/* ---- candidates ---- */

static bool is_set_up(mst_planned_kind kind) { return kind == MST_PLAN_SIGHT || kind == MST_PLAN_DIRECTION; }

static bool stands_at(const mst_visit_plan *plan, const mst_planned *r) {
    for (size_t i = 0; i < plan->reading_count; i++)
        if (plan->readings[i].kind == r->kind && strcmp(plan->readings[i].from, r->from) == 0) return true;
    return false;
}

static double minutes_of(const mst_visit_plan *plan, const mst_planned *r) {
    double minutes = isnan(r->minutes) ? COST[r->kind].minutes : r->minutes;
    return is_set_up(r->kind) && !stands_at(plan, r) ? minutes + COST[r->kind].set_up_minutes : minutes;
}

static void add_candidate(advising *a, const mst_planned *kind, const char *from, const char *to) {
    mst_point3 p, q;
    if (a->candidate_count >= CANDIDATES_MAX || !mst_plan_place(a->plan, from, &p)) return;
    if (kind->kind != MST_PLAN_PLACE) {
        if (strcmp(from, to) == 0 || !mst_plan_place(a->plan, to, &q)) return;
        double d = hypot(q.easting_m - p.easting_m, q.northing_m - p.northing_m);
        if (d > COST[kind->kind].reach_m || d < 0.1) return;
    }
    for (size_t i = 0; i < a->candidate_count; i++) { /* a tape runs both ways */
        const mst_planned *o = &a->candidates[i];
        bool way = strcmp(o->from, from) == 0 && strcmp(o->to, to) == 0;
        bool back = !is_set_up(kind->kind) && strcmp(o->from, to) == 0 && strcmp(o->to, from) == 0;
        if (o->kind == kind->kind && strcmp(o->gear, kind->gear) == 0 && (way || back)) return;
    }
    a->candidates[a->candidate_count++] = (mst_planned){kind->kind, from, to, kind->gear, kind->minutes, 0};
}

/* The nearest names to a point, the nearest first; names[] may hold the point itself. */
static size_t order_by_distance(const mst_visit_plan *plan, const char *of, const char *const names[], size_t count,
                                const char *nearest[]) {
    mst_point3 p, q;
    double distance[NEAREST];
    size_t kept = 0;
    if (!mst_plan_place(plan, of, &p)) return 0;
    for (size_t i = 0; i < count; i++) {
        if (strcmp(names[i], of) == 0 || !mst_plan_place(plan, names[i], &q)) continue;
        double d = hypot(q.easting_m - p.easting_m, q.northing_m - p.northing_m);
        if (kept == NEAREST && distance[NEAREST - 1] <= d) continue;
        size_t at = kept < NEAREST ? kept++ : NEAREST - 1;
        for (; at > 0 && distance[at - 1] > d; at--) distance[at] = distance[at - 1], nearest[at] = nearest[at - 1];
        distance[at] = d;
        nearest[at] = names[i];
    }
    return kept;
}

static void add_candidates_at(advising *a, const char *point, const char *const names[], size_t count,
                              const mst_planned kinds[], size_t kind_count) {
    const char *nearest[NEAREST];
    size_t near = order_by_distance(a->plan, point, names, count, nearest);
    for (size_t k = 0; k < kind_count; k++) {
        if (kinds[k].kind == MST_PLAN_PLACE) add_candidate(a, &kinds[k], point, "");
        for (size_t i = 0; i < near && kinds[k].kind != MST_PLAN_PLACE; i++) {
            add_candidate(a, &kinds[k], nearest[i], point);
            if (is_set_up(kinds[k].kind)) add_candidate(a, &kinds[k], point, nearest[i]);
        }
        for (size_t i = 0; is_set_up(kinds[k].kind) && i < a->plan->reading_count;
             i++) /* from where it stands anyway */
            if (a->plan->readings[i].kind == kinds[k].kind)
                add_candidate(a, &kinds[k], a->plan->readings[i].from, point);
    }
}

/* The kinds of readings of the plan, each with its gear. */
static size_t kinds_of_plan(const mst_visit_plan *plan, mst_planned kinds[], size_t most) {
    size_t count = 0;
    for (size_t i = 0; i < plan->reading_count && count < most; i++) {
        const mst_planned *r = &plan->readings[i];
        bool again = false;
        for (size_t k = 0; k < count; k++) again |= kinds[k].kind == r->kind && strcmp(kinds[k].gear, r->gear) == 0;
        if (!again) kinds[count++] = *r;
    }
    return count;
}

static size_t kinds_of_site(const mst_site *site, mst_planned kinds[], size_t most) {
    size_t count = 0;
    for (size_t i = 0; i < site->page_count && count < most; i++) {
        const mst_page *page = &site->pages[i];
        mst_planned_kind kind = page->kind == MST_PAGE_TAPE                                       ? MST_PLAN_TAPE
                                : page->kind == MST_PAGE_LEVELS || page->kind == MST_PAGE_HEIGHTS ? MST_PLAN_LEVEL
                                : page->kind == MST_PAGE_GNSS || page->kind == MST_PAGE_POINTS    ? MST_PLAN_PLACE
                                : page->kind == MST_PAGE_BEARINGS                                 ? MST_PLAN_BEARING
                                : page->kind == MST_PAGE_ANGLES                                   ? MST_PLAN_SIGHT
                                : page->kind == MST_PAGE_LEGS                                     ? MST_PLAN_LEG
                                                                                                  : MST_PLAN_KINDS;
        bool again = kind == MST_PLAN_KINDS;
        for (size_t k = 0; k < count; k++) again |= kinds[k].kind == kind;
        if (!again) kinds[count++] = (mst_planned){.kind = kind, .gear = page->gear ? page->gear : "", .minutes = NAN};
    }
    if (count == 0) kinds[count++] = (mst_planned){.kind = MST_PLAN_TAPE, .gear = "", .minutes = NAN};
    return count;
}

/* All names with a place: the sketch's, then the site's. */
static const char **all_names(const mst_visit_plan *plan, mst_arena *arena, size_t *count) {
    size_t known = plan->adjustment ? plan->adjustment->point_count : 0;
    const char **names = mst_arena_array(arena, plan->point_count + known + 1, sizeof *names);
    *count = 0;
    for (size_t i = 0; names && i < plan->point_count; i++) names[(*count)++] = plan->points[i].name;
    for (size_t i = 0; names && i < known; i++) {
        const char *name = plan->adjustment->points[i].name;
        bool again = !plan->adjustment->points[i].has_plan;
        for (size_t k = 0; k < plan->point_count; k++) again |= strcmp(plan->points[k].name, name) == 0;
        if (!again) names[(*count)++] = name;
    }
    return names;
}

/* ---- one step ---- */

static mst_status try_candidate(const advising *a, const mst_planned *candidate, double now, mst_advice *advice) {
    double after = now, minutes = minutes_of(a->plan, candidate);
    a->plan->readings[a->plan->reading_count++] = *candidate;
    mst_status status = value_of(a, &after);
    a->plan->reading_count--;
    if (status == MST_NOT_CONVERGED) status = MST_OK;
    *advice = (mst_advice){*candidate, now, after, minutes, (now - after) / minutes};
    advice->reading.minutes = minutes;
    return status;
}

static bool make_room(const advising *a) {
    mst_visit_plan *p = a->plan;
    size_t room = p->reading_count + STEPS_MAX + 2;
    mst_planned *grown = mst_arena_array(a->arena, room, sizeof *grown);
    if (!grown) return false;
    if (p->reading_count) memcpy(grown, p->readings, p->reading_count * sizeof *grown);
    p->readings = grown;
    p->reading_capacity = room;
    return true;
}

/* A reading taken again and again repeats its own errors, so it is advised no more than a few times. */
static bool is_worn(const mst_visit_plan *plan, const mst_planned *r) {
    int count = 0;
    for (size_t i = 0; i < plan->reading_count; i++) {
        const mst_planned *o = &plan->readings[i];
        count += o->kind == r->kind && strcmp(o->gear, r->gear) == 0 && is_end(o, r->from) &&
                 (r->kind == MST_PLAN_PLACE || is_end(o, r->to));
    }
    return count >= REPEATS_MAX;
}

static mst_status best_of(const advising *a, double now, mst_advice *best) {
    *best = (mst_advice){.gain_m_per_minute = 0};
    for (size_t i = 0; i < a->candidate_count; i++) {
        mst_advice one;
        if (is_worn(a->plan, &a->candidates[i])) continue;
        mst_status status = try_candidate(a, &a->candidates[i], now, &one);
        if (status) return status;
        if (one.gain_m_per_minute > best->gain_m_per_minute && now - one.after_m > WORTH * now) *best = one;
    }
    return MST_OK;
}

/* Drops what later readings made needless. The plan ends as the advice leaves it. */
static mst_status prune(advising *a, size_t first, mst_advices *out) {
    for (size_t i = out->count; i-- > 0;) {
        mst_planned dropped = a->plan->readings[first + i];
        size_t behind = a->plan->reading_count - (first + i) - 1;
        double value;
        memmove(&a->plan->readings[first + i], &a->plan->readings[first + i + 1], behind * sizeof dropped);
        a->plan->reading_count--;
        mst_status status = value_of(a, &value);
        if (status) return status;
        if (value <= 0) {
            memmove(&out->list[i], &out->list[i + 1], (out->count - i - 1) * sizeof *out->list);
            out->count--;
            continue;
        }
        memmove(&a->plan->readings[first + i + 1], &a->plan->readings[first + i], behind * sizeof dropped);
        a->plan->readings[first + i] = dropped;
        a->plan->reading_count++;
    }
    return MST_OK;
}

static mst_status find_candidates(advising *a) {
    mst_planned kinds[2 * MST_PLAN_KINDS];
    size_t count, kind_count = kinds_of_plan(a->plan, kinds, 2 * MST_PLAN_KINDS);
    if (kind_count == 0) kind_count = kinds_of_site(a->plan->site, kinds, 2 * MST_PLAN_KINDS);
    const char **names = all_names(a->plan, a->arena, &count);
    if (!names) return no_memory(a->error);
    for (size_t i = 0; i < a->plan->point_count; i++)
        if (!a->plan->points[i].held) add_candidates_at(a, a->plan->points[i].name, names, count, kinds, kind_count);
    return MST_OK;
}

static mst_status begin(advising *a) {
    a->candidates = mst_arena_array(a->arena, CANDIDATES_MAX, sizeof *a->candidates);
    return a->candidates && make_room(a) ? MST_OK : no_memory(a->error);
}

mst_status mst_plan_extend(mst_visit_plan *plan, double aim_m, const mst_adjust_options *options, mst_arena *arena,
                           mst_advices *advices, mst_error *error) {
    goal aim = {excess_over_aim, aim_m, NULL};
    advising a = {.plan = plan, .goal = &aim, .options = options, .arena = arena, .error = error};
    size_t first = plan->reading_count;
    mst_advices out = {.list = mst_arena_array(arena, STEPS_MAX, sizeof *out.list)};
    if (!(aim_m > 0)) return mst_fail(error, MST_INVALID, "The aim is a length above 0, like 20mm.");
    if (!out.list) return no_memory(error);
    mst_status status = begin(&a);
    if (!status) status = find_candidates(&a);
    if (!status) status = value_of(&a, &out.before_m);
    double now = out.before_m;
    for (int step = 0; !status && now > 0 && step < STEPS_MAX; step++) {
        mst_advice best;
        status = best_of(&a, now, &best);
        if (status || !(best.gain_m_per_minute > 0)) break;
        out.list[out.count++] = best;
        plan->readings[plan->reading_count++] = best.reading;
        now = best.after_m;
    }
    if (!status && now <= 0) status = prune(&a, first, &out);
    out.after_m = now;
    out.reached = now <= 0;
    if (!status) *advices = out;
    return status;
}

mst_status mst_plan_next(const mst_site *site, const mst_adjustment *adjustment, const mst_feature *feature,
                         size_t most, const mst_adjust_options *options, mst_arena *arena, mst_advices *advices,
                         mst_error *error) {
    goal sharp = {half_interval, 0, feature};
    mst_visit_plan plan = {.site = site, .adjustment = adjustment, .page = ""};
    advising a = {.plan = &plan, .goal = &sharp, .options = options, .arena = arena, .error = error};
    mst_advices out = {.list = mst_arena_array(arena, most + 1, sizeof *out.list)};
    mst_planned kinds[MST_PLAN_KINDS];
    size_t count, kind_count = kinds_of_site(site, kinds, MST_PLAN_KINDS);
    const char **names = all_names(&plan, arena, &count);
    if (!out.list || !names) return no_memory(error);
    mst_status status = begin(&a);
    for (size_t i = 0; !status && i < feature->vertex_count; i++)
        add_candidates_at(&a, feature->vertices[i].point, names, count, kinds, kind_count);
    if (!status) status = value_of(&a, &out.before_m);
    out.after_m = out.before_m;
    for (size_t i = 0; !status && i < a.candidate_count; i++) {
        mst_advice one;
        status = try_candidate(&a, &a.candidates[i], out.before_m, &one);
        if (status || !(out.before_m - one.after_m > WORTH * out.before_m)) continue;
        size_t at = out.count < most ? out.count++ : most;
        for (; at > 0 && out.list[at - 1].gain_m_per_minute < one.gain_m_per_minute; at--)
            out.list[at] = out.list[at - 1];
        out.list[at] = one;
    }
    if (out.count > 0) out.after_m = out.list[0].after_m;
    if (!status) *advices = out;
    return status;
}
