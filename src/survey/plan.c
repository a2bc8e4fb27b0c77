/* A visit before it is made. Covariances depend on where the points are and on how well the gear reads, hardly on what
 * was read: so the intended readings are computed from the sketch and adjusted as if they had been taken. */
#include "survey/start.h"
#include "survey/plan.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const double DEGREE = MST_PI / 180, INSTRUMENT_M = 1.5;
static const double AXIS_95 = 2.447746830680816; /* root of chi-square with 2 degrees of freedom at 95 % */
static const double NORMAL_95 = 1.959963984540054;
static const char VISIT[] = "plan";

static const struct {
    const char *name, *header;
    mst_page_kind page;
} KINDS[MST_PLAN_KINDS] = {
    [MST_PLAN_TAPE] = {"tape", "from,to,distance (m)\n", MST_PAGE_TAPE},
    [MST_PLAN_BEARING] = {"bearing", "from,to,bearing (deg)\n", MST_PAGE_BEARINGS},
    [MST_PLAN_SIGHT] = {"sight",
                        "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m)\n",
                        MST_PAGE_ANGLES},
    [MST_PLAN_DIRECTION] = {"direction", "at,to,circle (deg)\n", MST_PAGE_ANGLES},
    [MST_PLAN_LEVEL] = {"level", "from,to,difference (m)\n", MST_PAGE_HEIGHTS},
    [MST_PLAN_PLACE] = {"place", "point,easting (m),northing (m),elevation (m)\n", MST_PAGE_POINTS},
    [MST_PLAN_LEG] = {"leg", "from,to,dx (m),dy (m),dz (m),time (s)\n", MST_PAGE_LEGS}};

static const double WALK_M_PER_S = 1.7; /* a brisk walk between stops: 12 m in 7 s */

const char *mst_planned_kind_name(mst_planned_kind kind) { return kind < MST_PLAN_KINDS ? KINDS[kind].name : NULL; }

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for planning the visit.");
}

/* ---- reading the plan ---- */

static bool is_point(const mst_row *row) {
    const char *kind = row->text[MST_PLAN_READING];
    return strcasecmp(kind, "point") == 0 || strcasecmp(kind, "held") == 0;
}

static mst_sketched sketched_of(const mst_row *row) {
    return (mst_sketched){.name = row->text[MST_PLAN_FROM],
                          .easting_m = row->value[MST_PLAN_EASTING],
                          .northing_m = row->value[MST_PLAN_NORTHING],
                          .elevation_m = row->value[MST_PLAN_ELEVATION],
                          .held = (row->text[MST_PLAN_READING][0] | 32) == 'h',
                          .row = row->line};
}

static mst_planned planned_of(const mst_row *row) {
    mst_planned made = {.from = row->text[MST_PLAN_FROM],
                        .to = row->text[MST_PLAN_TO],
                        .gear = row->text[MST_PLAN_GEAR],
                        .minutes = row->value[MST_PLAN_MINUTES],
                        .row = row->line};
    for (int k = 0; k < MST_PLAN_KINDS; k++)
        if (strcasecmp(row->text[MST_PLAN_READING], KINDS[k].name) == 0) made.kind = (mst_planned_kind)k;
    return made;
}

mst_status mst_plan_read(const mst_page *page, const mst_site *site, const mst_adjustment *adjustment, mst_arena *arena,
                         mst_visit_plan *plan, mst_error *error) {
    *plan = (mst_visit_plan){.site = site, .adjustment = adjustment, .page = page->name};
    plan->points = mst_arena_array(arena, page->row_count + 1, sizeof *plan->points);
    if (!plan->points) return no_memory(error);
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *row = &page->rows[i];
        if (*row->text[MST_PLAN_GEAR] && !mst_site_gear(site, row->text[MST_PLAN_GEAR]))
            return mst_fail_at(error, MST_INVALID, page->name, row->line, 0,
                               "There is no gear '%.60s'; see the list of gear.", row->text[MST_PLAN_GEAR]);
        if (is_point(row)) {
            plan->points[plan->point_count++] = sketched_of(row);
            continue;
        }
        mst_planned *made = MST_PUSH(arena, plan->readings, plan->reading_count, plan->reading_capacity);
        if (!made) return no_memory(error);
        *made = planned_of(row);
    }
    return MST_OK;
}

/* ---- places ---- */

bool mst_plan_place(const mst_visit_plan *plan, const char *name, mst_point3 *place) {
    for (size_t i = 0; i < plan->point_count; i++) {
        const mst_sketched *p = &plan->points[i];
        if (strcmp(p->name, name) != 0) continue;
        *place = (mst_point3){p->easting_m, p->northing_m, isnan(p->elevation_m) ? 0 : p->elevation_m};
        return true;
    }
    const mst_adjusted_point *known = plan->adjustment ? mst_adjustment_point(plan->adjustment, name) : NULL;
    if (!known || !known->has_plan) return false;
    *place = (mst_point3){known->easting_m, known->northing_m, known->has_height ? known->elevation_m : 0};
    return true;
}

/* ---- the readings as they would be ---- */

typedef struct ends {
    const char *from, *to;
    mst_point3 a, b;
    double e, n, h, d;
} ends;

static mst_status find_ends(const mst_visit_plan *plan, const mst_planned *r, ends *x, mst_error *error) {
    const char *const names[] = {r->from, r->kind == MST_PLAN_PLACE ? r->from : r->to};
    mst_point3 place[2] = {{0, 0, 0}, {0, 0, 0}};
    for (int i = 0; i < 2; i++)
        if (!mst_plan_place(plan, names[i], &place[i]))
            return mst_fail_at(error, MST_INVALID, plan->page, r->row, 0,
                               "'%.60s' has no place yet; give it one by eye in a row 'point'.", names[i]);
    *x = (ends){names[0],
                names[1],
                place[0],
                place[1],
                place[1].easting_m - place[0].easting_m,
                place[1].northing_m - place[0].northing_m,
                place[1].elevation_m - place[0].elevation_m,
                0};
    x->d = hypot(x->e, x->n);
    return MST_OK;
}

static void write_reading(mst_planned_kind kind, const ends *x, mst_text *out) {
    double bearing = mst_angle_turn(atan2(x->e, x->n)) / DEGREE;
    mst_text_csv(out, x->from);
    mst_text_string(out, ",");
    if (kind != MST_PLAN_PLACE) {
        mst_text_csv(out, x->to);
        mst_text_string(out, ",");
    }
    switch (kind) {
    case MST_PLAN_TAPE:
        mst_text_printf(out, "%.9f\n", x->d);
        break;
    case MST_PLAN_BEARING:
    case MST_PLAN_DIRECTION:
        mst_text_printf(out, "%.12f\n", bearing);
        break;
    case MST_PLAN_SIGHT:
        mst_text_printf(out, "%.12f,%.12f,%.9f,%g,%g\n", bearing, atan2(x->d, x->h - mst_curvature(x->d)) / DEGREE,
                        hypot(x->d, x->h), INSTRUMENT_M, INSTRUMENT_M);
        break;
    case MST_PLAN_LEVEL:
        mst_text_printf(out, "%.9f\n", x->h);
        break;
    case MST_PLAN_PLACE:
        mst_text_printf(out, "%.9f,%.9f,%.9f\n", x->a.easting_m, x->a.northing_m, x->a.elevation_m);
        break;
    default:
        mst_text_printf(out, "%.9f,%.9f,%.9f,%.1f\n", x->e, x->n, x->h, fmax(x->d / WALK_M_PER_S, 1));
    }
}

typedef struct making {
    const mst_visit_plan *plan;
    mst_arena *arena;
    mst_site *site;
    mst_error *error;
} making;

static mst_status add_page(making *m, mst_page_kind kind, const char *name, const char *gear, mst_text *text) {
    mst_page *page = &m->site->pages[m->site->page_count];
    mst_status status = text->failed
                            ? no_memory(m->error)
                            : mst_page_read(kind, name, text->data, text->length, NULL, m->arena, page, m->error);
    mst_text_free(text);
    if (status) return status;
    page->visit = VISIT;
    page->gear = gear;
    page->site_frame = true;
    m->site->page_count++;
    return MST_OK;
}

static bool is_same_group(const mst_planned *a, const mst_planned *b) {
    bool set_up = a->kind == MST_PLAN_SIGHT || a->kind == MST_PLAN_DIRECTION;
    return a->kind == b->kind && strcmp(a->gear, b->gear) == 0 && (!set_up || strcmp(a->from, b->from) == 0);
}

/* One page for each kind and gear, and for each set-up; one place a page, since a point stands there once. */
static mst_status add_group(making *m, size_t first, bool done[]) {
    const mst_planned *lead = &m->plan->readings[first];
    mst_text text = {0};
    mst_text_string(&text, KINDS[lead->kind].header);
    for (size_t i = first; i < m->plan->reading_count; i++) {
        const mst_planned *r = &m->plan->readings[i];
        ends x = {0};
        if (done[i] || !is_same_group(lead, r) || (i > first && r->kind == MST_PLAN_PLACE)) continue;
        mst_status status = find_ends(m->plan, r, &x, m->error);
        if (status) {
            mst_text_free(&text);
            return status;
        }
        write_reading(r->kind, &x, &text);
        done[i] = true;
    }
    return add_page(m, KINDS[lead->kind].page, "plan", lead->gear, &text);
}

static mst_status add_held(making *m) {
    mst_text text = {0};
    size_t held = 0;
    mst_text_string(&text, "point,easting (m),northing (m),elevation (m)\n");
    for (size_t i = 0; i < m->plan->point_count; i++) {
        const mst_sketched *p = &m->plan->points[i];
        if (!p->held) continue;
        held++;
        mst_text_csv(&text, p->name);
        mst_text_printf(&text, ",%.9f,%.9f,", p->easting_m, p->northing_m);
        if (!isnan(p->elevation_m)) mst_text_printf(&text, "%.9f", p->elevation_m);
        mst_text_string(&text, "\n");
    }
    if (held) return add_page(m, MST_PAGE_CONTROL, "plan", "", &text);
    mst_text_free(&text);
    return MST_OK;
}

/* ---- what only the sketch tells ---- */

/* Which side tapes lie on, the sketch knows. Its places count as readings so vague that they fix nothing else: a point
 * that is known no better than a tenth of them is still open. */
static const double BY_EYE_SD_M = 1000, STILL_OPEN_M = 100;

static bool is_undetermined(const mst_adjustment *a, const char *name) {
    for (size_t i = 0; i < a->undetermined_count; i++)
        if (strcmp(a->undetermined[i], name) == 0) return true;
    return false;
}

static mst_status add_places_by_eye(making *m, const mst_adjustment *first) {
    mst_text text = {0};
    size_t count = 0;
    mst_text_string(&text, "point,easting (m),northing (m),sd plan (m)\n");
    for (size_t i = 0; i < m->plan->point_count; i++) {
        const mst_sketched *p = &m->plan->points[i];
        if (p->held || !is_undetermined(first, p->name)) continue;
        mst_text_csv(&text, p->name);
        mst_text_printf(&text, ",%.9f,%.9f,%g\n", p->easting_m, p->northing_m, BY_EYE_SD_M);
        count++;
    }
    if (count) return add_page(m, MST_PAGE_POINTS, "sketch", "", &text);
    mst_text_free(&text);
    return MST_OK;
}

static bool told_by_side(const char *why) { return strstr(why, "mirrored") || strstr(why, "both sides"); }

/* Takes back the places that the readings do not fix, with the reasons of the first answer. */
static mst_status keep_open(const mst_adjustment *first, mst_arena *arena, mst_adjustment *second, mst_error *error) {
    const char **open = mst_arena_array(arena, first->undetermined_count + 1, sizeof *open),
               **why = mst_arena_array(arena, first->undetermined_count + 1, sizeof *why),
               **sides = mst_arena_array(arena, first->undetermined_count + 1, sizeof *sides);
    size_t count = 0, told = 0;
    if (!open || !why || !sides) return no_memory(error);
    for (size_t i = 0; i < first->undetermined_count; i++) {
        const char *name = first->undetermined[i];
        uint32_t at = mst_index_get(&second->index, name);
        mst_adjusted_point *p = at == UINT32_MAX ? NULL : &second->points[at];
        const mst_adjusted_point *before = mst_adjustment_point(first, name);
        bool fixed = p && p->has_plan && p->semi_major_m < STILL_OPEN_M && !is_undetermined(second, name);
        if (p && p->readings > 0) p->readings--; /* the sketch is none */
        if (fixed && before && !before->has_plan) sides[told++] = name;
        if (fixed) continue;
        open[count] = name;
        why[count++] = p && p->has_plan && before && !before->has_plan && told_by_side(first->undetermined_why[i])
                           ? "the planned readings leave it open, even with the side that the sketch tells; measure it "
                             "from one more point"
                           : first->undetermined_why[i];
        if (p && before && !before->has_plan) p->has_plan = false;
    }
    second->undetermined = open;
    second->undetermined_why = why;
    second->undetermined_count = count;
    second->by_sketch = sides;
    second->by_sketch_count = told;
    return MST_OK;
}

mst_status mst_plan_adjust(const mst_visit_plan *plan, const mst_adjust_options *options, mst_arena *arena,
                           mst_adjustment **adjustment, mst_error *error) {
    mst_adjust_options expected = options ? *options : (mst_adjust_options){0};
    expected.expected_only = true;
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    bool *done = mst_arena_array(arena, plan->reading_count + 1, sizeof *done);
    if (!site || !done) return no_memory(error);
    *site = *plan->site;
    site->pages = mst_arena_array(arena, plan->site->page_count + plan->reading_count + 3, sizeof *site->pages);
    if (!site->pages) return no_memory(error);
    if (site->page_count) memcpy(site->pages, plan->site->pages, site->page_count * sizeof *site->pages);
    making m = {plan, arena, site, error};
    mst_status status = add_held(&m);
    for (size_t i = 0; !status && i < plan->reading_count; i++)
        if (!done[i]) status = add_group(&m, i, done);
    mst_adjustment *first = NULL, *second = NULL;
    if (!status) status = mst_adjust(site, &expected, arena, &first, error);
    if (status) return status;
    *adjustment = first;
    size_t pages = site->page_count;
    if (first->undetermined_count) status = add_places_by_eye(&m, first);
    if (status || site->page_count == pages) return status;
    status = mst_adjust(site, &expected, arena, &second, error);
    if (!status) status = keep_open(first, arena, second, error);
    if (!status) *adjustment = second;
    return status;
}

double mst_plan_precision(const mst_adjustment *expected, const mst_sketched *point) {
    const mst_adjusted_point *p = mst_adjustment_point(expected, point->name);
    if (!p || !p->has_plan || (!isnan(point->elevation_m) && !p->has_height)) return HUGE_VAL;
    double plan = AXIS_95 * p->semi_major_m / expected->scale;
    return p->has_height ? fmax(plan, NORMAL_95 * p->sd_elevation_m / expected->scale) : plan;
}
