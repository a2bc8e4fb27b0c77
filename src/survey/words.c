/* Sentences on readings, on points without a place and on readings that could not count. */
#include "survey/words.h"
#include "survey/model.h"
#include "survey/pieces.h"
#include "survey/rank.h"
#include <math.h>

const char *mst_words_kind(const mst_reading *r) {
    if (r->page->kind != MST_PAGE_CONDITIONS) return mst_reading_kind_name(r->kind);
    if (r->kind == MST_READ_DISTANCE) return "length";
    return r->kind == MST_READ_HEIGHT_DIFFERENCE ? "equal level" : mst_reading_kind_name(r->kind);
}

/* The points of a condition as they stand on its page. */
static const char *condition_words(const mst_reading *r, const char *visit, mst_arena *arena) {
    const char *const *p = &r->row->text[MST_CONDITIONS_FIRST];
    return mst_arena_printf(arena, "condition '%s' of %s-%s%s%s%s%s%s (%s row %d)", mst_words_kind(r), p[0], p[1],
                            *p[2] ? "-" : "", p[2], *p[3] ? "-" : "", p[3], visit, r->page->name, r->row->line);
}

/* What a person calls it on that kind of page. */
static const char *noun_of(const mst_reading *r) {
    switch (r->kind) {
    case MST_READ_DISTANCE:
        return r->page->kind == MST_PAGE_TAPE ? "tape" : "distance";
    case MST_READ_SLOPE:
        return r->page->kind == MST_PAGE_TAPE ? "slope tape" : "slope distance";
    case MST_READ_BEARING:
        return "bearing";
    case MST_READ_DIRECTION:
        return "circle reading";
    case MST_READ_ZENITH:
        return "zenith angle";
    case MST_READ_HEIGHT_DIFFERENCE:
        return "levelled difference";
    case MST_READ_DX:
    case MST_READ_DY:
        return "leg";
    case MST_READ_DZ:
        return "rise of the leg";
    default:
        return mst_reading_kind_name(r->kind);
    }
}

const char *mst_words_visit(const char *name) {
    static const char WORD[] = "visit";
    for (size_t i = 0; i + 1 < sizeof WORD; i++)
        if ((name[i] | 0x20) != WORD[i]) return "visit "; /* ends at the name's own end */
    return "";
}

static const char *visit_of(const mst_reading *r, mst_arena *arena) {
    if (!r->page->visit || !*r->page->visit) return "";
    const char *text = mst_arena_printf(arena, " on %s%s", mst_words_visit(r->page->visit), r->page->visit);
    return text ? text : "";
}

const char *mst_words_for(const mst_network *net, const mst_reading *r, mst_arena *arena) {
    const char *to = net->nodes[r->to].name, *visit = visit_of(r, arena), *text;
    if (r->page->kind == MST_PAGE_CONDITIONS) text = condition_words(r, visit, arena);
    else if (r->baseline != MST_NONE)
        text = mst_arena_printf(arena, "%s of %s from the line %s-%s%s (%s row %d)", noun_of(r), to,
                                net->nodes[r->from].name, net->nodes[r->baseline].name, visit, r->page->name,
                                r->row->line);
    else if (r->from != MST_NONE)
        text = mst_arena_printf(arena, "%s %s-%s%s (%s row %d)", noun_of(r), net->nodes[r->from].name, to, visit,
                                r->page->name, r->row->line);
    else
        text = mst_arena_printf(arena, "%s %s %s%s (%s row %d)", noun_of(r), r->collimation != MST_NONE ? "on" : "of",
                                to, visit, r->page->name, r->row->line);
    return text ? text : "";
}

/* ---- points without a place ---- */

static uint32_t node_of_reading(const void *of, size_t i, int which) {
    const mst_reading *r = &((const mst_network *)of)->readings[i];
    return which ? r->from : r->to;
}

/* The rows that carry the point in plan or in height: how many, and one of them. */
static size_t rows_at(const mst_network *net, const mst_lists *by_node, size_t node, bool height,
                      const mst_reading **one) {
    size_t count = 0;
    const mst_row *last = NULL;
    for (size_t k = by_node->start[node]; k < by_node->start[node + 1]; k++) {
        const mst_reading *r = &net->readings[by_node->item[k]];
        if (r->row == last || !(height ? mst_reading_is_height(r->kind) : mst_reading_is_plan(r->kind))) continue;
        last = r->row;
        *one = r;
        count++;
    }
    return count;
}

/* True when the same station has other rows on the page that count from a zero of their own only because rows of
 * another station stand between. */
static bool is_apart_by_order(const mst_network *net, const mst_lists *by_node, const mst_reading *sight) {
    if (sight->kind != MST_READ_DIRECTION || !isnan(sight->row->value[MST_ANGLES_ROUND])) return false;
    for (size_t k = by_node->start[sight->from]; k < by_node->start[sight->from + 1]; k++) {
        const mst_reading *r = &net->readings[by_node->item[k]];
        if (r->kind == MST_READ_DIRECTION && r->from == sight->from && r->page == sight->page &&
            r->turn != sight->turn && isnan(r->row->value[MST_ANGLES_ROUND]))
            return true;
    }
    return false;
}

/* What one row alone leaves open, and what would close it. */
static const char *why_one_is_not_enough(const mst_network *net, const mst_lists *by_node, const mst_reading *one,
                                         mst_arena *arena) {
    const char *words = mst_words_for(net, one, arena);
    if (one->kind == MST_READ_EASTING && one->frame != MST_NONE)
        return mst_arena_printf(arena,
                                "only the %s reaches it, and that visit's frame shares too few points with the others: "
                                "two names in common carry it over; measure a second one there",
                                words);
    if (is_apart_by_order(net, by_node, one))
        return mst_arena_printf(arena,
                                "only the %s reaches it in plan; its zero counts as a new one because another station "
                                "stands between: give rows of one zero the same round, or measure from one more known "
                                "point",
                                words);
    return mst_arena_printf(arena, "only the %s reaches it in plan; measure it from one more known point", words);
}

static const char *why_no_plan(const mst_network *net, const mst_lists *by_node, size_t i, const char *group,
                               mst_arena *arena) {
    const mst_reading *one = NULL;
    if (group) return group;
    if (net->nodes[i].why_plan) return net->nodes[i].why_plan;
    if (rows_at(net, by_node, i, false, &one) == 1) return why_one_is_not_enough(net, by_node, one, arena);
    return "nothing ties it in plan to the points that have a place; measure two points of theirs together with it";
}

static const char *why_no_height(const mst_network *net, const mst_lists *by_node, size_t i, mst_arena *arena) {
    const mst_reading *one = NULL;
    if (net->nodes[i].why_height) return net->nodes[i].why_height;
    if (rows_at(net, by_node, i, true, &one) == 1)
        return mst_arena_printf(
            arena, "its level hangs on the %s alone, whose other end has none; level to it from a known point",
            mst_words_for(net, one, arena));
    return "nothing ties its level to the points that have one; level to it from one of them";
}

static mst_status list_points(mst_network *net, mst_adjustment *out, const mst_lists *by_node) {
    size_t count = 0;
    out->undetermined = mst_arena_array(net->arena, net->node_count + 1, sizeof *out->undetermined);
    out->undetermined_why = mst_arena_array(net->arena, net->node_count + 1, sizeof *out->undetermined_why);
    const char **group = mst_arena_array(net->arena, net->node_count + 1, sizeof *group);
    if (!out->undetermined || !out->undetermined_why || !group || !mst_rank_explain(net, group)) return MST_NO_MEMORY;
    for (size_t i = 0; i < net->node_count; i++) {
        const mst_node *node = &net->nodes[i];
        bool plan = node->wants_plan && !node->has_plan, height = node->wants_height && !node->has_height;
        if (!plan && !height) continue;
        const char *why =
            plan ? why_no_plan(net, by_node, i, group[i], net->arena) : why_no_height(net, by_node, i, net->arena);
        if (!why) return MST_NO_MEMORY;
        out->undetermined[count] = node->name;
        out->undetermined_why[count++] = why;
    }
    out->undetermined_count = count;
    return MST_OK;
}

/* ---- readings that could not count ---- */

static const char *what_lacks(const mst_network *net, const mst_reading *r) {
    const uint32_t ends[] = {r->to, r->from, r->baseline};
    for (int i = 0; i < 3; i++)
        if (ends[i] != MST_NONE && mst_reading_is_plan(r->kind) && !net->nodes[ends[i]].has_plan)
            return mst_arena_printf(net->arena, "%s has no place", net->nodes[ends[i]].name);
    for (int i = 0; i < 3; i++)
        if (ends[i] != MST_NONE && mst_reading_is_height(r->kind) && !net->nodes[ends[i]].has_height)
            return mst_arena_printf(net->arena, "%s has no level", net->nodes[ends[i]].name);
    if (r->from != MST_NONE && !mst_reading_is_height(r->kind))
        return "its ends lie at one place or its heading is not fixed";
    return "what it counts from is not fixed";
}

static mst_status list_readings(mst_network *net, mst_adjustment *out, mst_error *error) {
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->used || (i > 0 && !r[-1].used && r[-1].row == r->row)) continue; /* one sentence a row */
        const char *lacks = what_lacks(net, r);
        const char *sentence = mst_arena_printf(net->arena, "The %s did not count: %s.",
                                                mst_words_for(net, r, net->arena), lacks ? lacks : "");
        mst_status status = mst_network_leave_out(net, r, sentence, error);
        if (status) return status;
    }
    out->left_out = net->left_out;
    out->left_out_count = net->left_out_count;
    return MST_OK;
}

mst_status mst_words_for_undetermined(mst_network *net, mst_adjustment *out, mst_error *error) {
    mst_lists by_node;
    if (!mst_lists_make(&by_node, net->arena, net->node_count, net->reading_count, node_of_reading, net) ||
        list_points(net, out, &by_node))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for the report on the adjustment.");
    return list_readings(net, out, error);
}
