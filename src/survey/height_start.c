/* The datum of levels and a first level for everything: levels are linear, so a walk over the differences does. */
#include "survey/start.h"
#include "survey/pieces.h"
#include <math.h>
#include <string.h>

static const double EARTH_RADIUS_M = 6371000; /* mean radius */
static const double REFRACTION = 0.14;   /* textbook coefficient: 0.0675 m at 1 km (from memory); bends a sight down */
static const double FIRST_LEVEL_M = 100; /* high enough that no level of a site is negative */

double mst_curvature(double distance_m) { return (1 - REFRACTION) * distance_m * distance_m / (2 * EARTH_RADIUS_M); }

/* A walk over nodes, collimations and frames: numbers in that order. */
typedef struct walk {
    mst_network *net;
    mst_lists by_end;
    uint32_t *queue;
    size_t head, tail;
} walk;

static uint32_t number_of_collimation(const mst_network *net, uint32_t c) { return (uint32_t)net->node_count + c; }
static uint32_t number_of_frame(const mst_network *net, uint32_t f) {
    return (uint32_t)(net->node_count + net->collimation_count) + f;
}

/* The two things that a reading of heights joins; the second may be none: a level given in the site's frame. */
static uint32_t end_of_height(const void *of, size_t i, int which) {
    const mst_network *net = of;
    const mst_reading *r = &net->readings[i];
    switch (r->kind) {
    case MST_READ_ZENITH:
    case MST_READ_HEIGHT_DIFFERENCE:
    case MST_READ_DZ:
        return which ? r->to : r->from;
    case MST_READ_BACKSIGHT:
    case MST_READ_INTERMEDIATE:
    case MST_READ_FORESIGHT:
        return which ? r->to : number_of_collimation(net, r->collimation);
    case MST_READ_ELEVATION:
        return which ? r->to : r->frame == MST_NONE ? MST_NONE : number_of_frame(net, r->frame);
    default:
        return MST_NONE;
    }
}

/* The sloping distance on the same row, NaN if none. */
static double slope_beside(const mst_network *net, size_t i) {
    const mst_row *row = net->readings[i].row;
    for (size_t k = i + 1; k < net->reading_count && net->readings[k].row == row; k++)
        if (net->readings[k].kind == MST_READ_SLOPE) return net->readings[k].value;
    return NAN;
}

/* By how much `to` lies above `from` by a zenith angle; NaN without a distance. */
static double rise_by_zenith(const mst_network *net, size_t i) {
    const mst_reading *r = &net->readings[i];
    double slope = slope_beside(net, i), d = slope * sin(r->value), rise = slope * cos(r->value);
    if (isnan(slope)) {
        const mst_node *a = &net->nodes[r->from], *b = &net->nodes[r->to];
        if (!a->has_plan || !b->has_plan) return NAN;
        d = hypot(b->e - a->e, b->n - a->n);
        rise = d / tan(r->value);
    }
    return rise + r->up_m + mst_curvature(d);
}

/* What must be added to the first end's level to get the second's. */
static double rise_of(const mst_network *net, size_t i) {
    const mst_reading *r = &net->readings[i];
    if (r->kind == MST_READ_ZENITH) return rise_by_zenith(net, i);
    return r->collimation != MST_NONE ? -r->value : r->value;
}

static double *level_of(mst_network *net, uint32_t number, bool **has) {
    if (number < net->node_count) {
        *has = &net->nodes[number].has_height;
        return &net->nodes[number].h;
    }
    number -= (uint32_t)net->node_count;
    if (number < net->collimation_count) {
        *has = &net->collimations[number].has_height;
        return &net->collimations[number].h;
    }
    number -= (uint32_t)net->collimation_count;
    *has = &net->frames[number].has_height;
    return &net->frames[number].h;
}

static void give_level(walk *w, uint32_t number, double level) {
    bool *has;
    double *h = level_of(w->net, number, &has);
    if (*has || !isfinite(level)) return;
    *h = level;
    *has = true;
    w->queue[w->tail++] = number;
}

static void walk_on(walk *w) {
    mst_network *net = w->net;
    while (w->head < w->tail) {
        uint32_t here = w->queue[w->head++];
        bool *has;
        double level = *level_of(net, here, &has);
        for (size_t k = w->by_end.start[here]; k < w->by_end.start[here + 1]; k++) {
            size_t i = w->by_end.item[k];
            uint32_t first = end_of_height(net, i, 0), second = end_of_height(net, i, 1);
            if (first == MST_NONE) continue;
            if (first == here) give_level(w, second, level + rise_of(net, i));
            else give_level(w, first, level - rise_of(net, i));
        }
    }
}

/* ---- the datum ---- */

static bool seed_with_given_levels(walk *w) {
    mst_network *net = w->net;
    const char *first = NULL;
    size_t count = 0;
    for (uint32_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_h) {
            first = first ? first : net->nodes[i].name;
            count++;
        }
    bool held = first != NULL;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_ELEVATION || r->frame != MST_NONE) continue;
        first = first ? first : net->nodes[r->to].name;
        count += !net->nodes[r->to].has_height;
        give_level(w, r->to, r->value);
    }
    if (!first) return false;
    if (net->datum_height[0]) return true;
    const char *text = count > 1 ? mst_arena_printf(net->arena, "levels count from the %s levels of %s and %zu more",
                                                    held ? "held" : "given", first, count - 1)
                                 : mst_arena_printf(net->arena, "levels count from the %s level of %s",
                                                    held ? "held" : "given", first);
    net->datum_height = text ? text : "";
    return true;
}

/* A visit without levels of its own (a book from no known mark, a sensor) takes those of the first coordinates that
 * meet it. */
static const mst_reading *levels_for_visit(const mst_network *net, const mst_reading *first) {
    bool *touched = mst_arena_array(net->arena, net->node_count + 1, sizeof *touched);
    for (size_t i = 0; touched && i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (!mst_reading_is_height(r->kind) || strcmp(r->page->visit, first->page->visit) != 0) continue;
        touched[r->to] = true;
        if (r->from != MST_NONE) touched[r->from] = true;
    }
    for (size_t i = 0; touched && i < net->reading_count; i++)
        if (net->readings[i].kind == MST_READ_ELEVATION && touched[net->readings[i].to]) return &net->readings[i];
    return first;
}

/* The best carrier of levels that the first visit with any has. */
static const mst_reading *first_height_reading(const mst_network *net) {
    static const mst_reading_kind BY_RANK[] = {MST_READ_ELEVATION,    MST_READ_DZ,        MST_READ_BACKSIGHT,
                                               MST_READ_INTERMEDIATE, MST_READ_FORESIGHT, MST_READ_HEIGHT_DIFFERENCE,
                                               MST_READ_ZENITH};
    const mst_reading *best = NULL;
    size_t rank = sizeof BY_RANK / sizeof *BY_RANK;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (best && strcmp(r->page->visit, best->page->visit) != 0) continue;
        for (size_t k = 0; k < rank; k++)
            if (BY_RANK[k] == r->kind) best = r, rank = k;
    }
    return !best || best->kind == MST_READ_ELEVATION ? best : levels_for_visit(net, best);
}

static void seed_with_frame(walk *w, uint32_t which) {
    mst_network *net = w->net;
    mst_frame *frame = &net->frames[which];
    const char *before = net->datum_height, *and = *before ? " and from " : "levels count from ";
    frame->fixed_height = true;
    give_level(w, number_of_frame(net, which), 0);
    const char *text = mst_arena_printf(net->arena, "%s%sthose of the %s of visit '%s'", before, and,
                                        mst_page_kind_name(frame->kind), frame->visit);
    net->datum_height = text ? text : "";
}

static void seed_without_given_levels(walk *w) {
    mst_network *net = w->net;
    const mst_reading *r = first_height_reading(net);
    if (!r) return;
    if (r->kind == MST_READ_ELEVATION) {
        seed_with_frame(w, r->frame);
        return;
    }
    uint32_t first = r->from != MST_NONE ? r->from : r->to;
    double level = r->kind == MST_READ_DZ ? 0 : FIRST_LEVEL_M;
    net->nodes[first].held_h = net->nodes[first].assumed_h = true;
    give_level(w, first, level);
    const char *text =
        mst_arena_printf(net->arena, "levels count from %s = %.3f m, which is assumed: no level is known",
                         net->nodes[first].name, level);
    net->datum_height = text ? text : "";
}

/* Only pages in the site's frame give levels, and they do not reach those of the first visit: then these are the site's
 * too. */
static bool take_first_visits_levels(walk *w) {
    const mst_network *net = w->net;
    const mst_reading *first = NULL;
    for (size_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_h) return false;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind == MST_READ_ELEVATION && r->page->kind == MST_PAGE_CONTROL) return false;
        if (!first && mst_reading_is_height(r->kind)) first = r;
    }
    for (size_t i = 0; first && i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_ELEVATION || r->frame == MST_NONE || net->frames[r->frame].has_height ||
            strcmp(r->page->visit, first->page->visit) != 0)
            continue;
        seed_with_frame(w, r->frame);
        return true;
    }
    return false;
}

mst_status mst_start_heights(mst_network *net, bool last, mst_arena *scratch, mst_error *error) {
    size_t numbers = net->node_count + net->collimation_count + net->frame_count;
    walk w = {.net = net, .queue = mst_arena_array(scratch, numbers + 1, sizeof *w.queue)};
    if (!w.queue || !mst_lists_make(&w.by_end, scratch, numbers, net->reading_count, end_of_height, net))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for the site's first levels.");
    for (uint32_t i = 0; i < numbers; i++) { /* what is known already starts the walk */
        bool *has;
        level_of(net, i, &has);
        if (*has) w.queue[w.tail++] = i;
    }
    if (!seed_with_given_levels(&w) && !net->datum_height[0]) seed_without_given_levels(&w);
    walk_on(&w);
    if (last && take_first_visits_levels(&w)) walk_on(&w);
    return MST_OK;
}
