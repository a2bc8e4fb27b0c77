/* Points without a place fall into groups that readings hold together. What a group is free to do follows from how many
 * points with a place it hangs on and from what kinds of readings it is made. */
#include "survey/rank.h"
#include <string.h>

typedef struct group {
    size_t points, rows, anchors;
    uint32_t first, second, best; /* members: as they came, and the one with most readings */
    size_t best_rows;
    uint32_t anchor[2];
    bool lengths, turned, ties_only; /* some reading gives a length, a direction or side; all are lengths */
} group;

typedef struct explaining {
    mst_network *net;
    uint32_t *parent; /* nodes, then frames */
    size_t *rows;     /* [nodes] */
    group *groups;    /* by root */
} explaining;

static bool is_open(const mst_network *net, uint32_t node) { return !net->nodes[node].has_plan; }

static uint32_t root_of(explaining *x, uint32_t item) {
    while (x->parent[item] != item) item = x->parent[item] = x->parent[x->parent[item]];
    return item;
}

static void join(explaining *x, uint32_t a, uint32_t b) {
    a = root_of(x, a);
    b = root_of(x, b);
    if (a < b) x->parent[b] = a;
    else x->parent[a] = b;
}

/* The points and the frame that a reading joins. @return how many */
static int ends_of(const mst_network *net, const mst_reading *r, uint32_t ends[5]) {
    int count = 0;
    const uint32_t all[] = {r->to, r->from, r->baseline, r->fourth};
    for (int i = 0; i < 4; i++)
        if (all[i] != MST_NONE) ends[count++] = all[i];
    if (r->frame != MST_NONE && !net->frames[r->frame].has_plan) ends[count++] = (uint32_t)net->node_count + r->frame;
    return count;
}

static bool is_free(const explaining *x, uint32_t item) { return item >= x->net->node_count || is_open(x->net, item); }

static void join_all(explaining *x) {
    for (size_t i = 0; i < x->net->reading_count; i++) {
        const mst_reading *r = &x->net->readings[i];
        uint32_t ends[5], last = MST_NONE;
        int count = mst_reading_is_plan(r->kind) ? ends_of(x->net, r, ends) : 0;
        for (int k = 0; k < count; k++) {
            if (!is_free(x, ends[k])) continue;
            if (last != MST_NONE) join(x, last, ends[k]);
            last = ends[k];
        }
    }
}

static void add_anchor(group *g, uint32_t node) {
    for (size_t i = 0; i < g->anchors && i < 2; i++)
        if (g->anchor[i] == node) return;
    if (g->anchors < 2) g->anchor[g->anchors] = node;
    g->anchors++;
}

static void add_reading(explaining *x, const mst_reading *r) {
    uint32_t ends[5], root = MST_NONE;
    int count = ends_of(x->net, r, ends);
    for (int k = 0; k < count; k++)
        if (is_free(x, ends[k])) root = root_of(x, ends[k]);
    if (root == MST_NONE) return;
    group *g = &x->groups[root];
    g->rows++;
    bool tie = r->kind == MST_READ_DISTANCE || r->kind == MST_READ_SLOPE;
    bool condition = mst_reading_is_condition(r->kind),
         sight = r->kind == MST_READ_BEARING || r->kind == MST_READ_DIRECTION || r->kind == MST_READ_ZENITH;
    g->lengths |= !sight && !condition;
    g->turned |= !tie;
    for (int k = 0; k < count; k++) {
        if (ends[k] >= x->net->node_count) continue;
        if (!is_open(x->net, ends[k])) add_anchor(g, ends[k]);
        else x->rows[ends[k]]++;
    }
}

static void add_point(explaining *x, uint32_t node) {
    if (!is_open(x->net, node) || !x->net->nodes[node].wants_plan) return;
    group *g = &x->groups[root_of(x, node)];
    if (g->points == 0) g->first = node;
    if (g->points == 1) g->second = node;
    if (x->rows[node] > g->best_rows) g->best_rows = x->rows[node], g->best = node;
    g->points++;
}

/* ---- words ---- */

static const char *name_of(const explaining *x, uint32_t node) { return x->net->nodes[node].name; }

static const char *members_of(const explaining *x, const group *g) {
    mst_arena *arena = x->net->arena;
    if (g->points == 1) return name_of(x, g->first);
    if (g->points == 2) return mst_arena_printf(arena, "%s and %s", name_of(x, g->first), name_of(x, g->second));
    return mst_arena_printf(arena, "%s, %s and %zu more", name_of(x, g->first), name_of(x, g->second), g->points - 2);
}

static const char *size_missing(const explaining *x, const group *g) {
    const char *from = name_of(x, g->anchors ? g->anchor[0] : g->second);
    return mst_arena_printf(
        x->net->arena, "angles give the shape of %s, but nothing says how large it is; tape one line of it, say %s-%s",
        members_of(x, g), from, name_of(x, g->best));
}

/* The point to measure from: of those with a place, the one that most readings know. */
static const char *best_known(const explaining *x, uint32_t but) {
    uint32_t best = MST_NONE;
    for (uint32_t i = 0; i < x->net->node_count; i++)
        if (i != but && !is_open(x->net, i) && (best == MST_NONE || x->rows[i] > x->rows[best])) best = i;
    return best == MST_NONE ? "another point with a place" : name_of(x, best);
}

static const char *words_for(const explaining *x, const group *g) {
    mst_arena *arena = x->net->arena;
    const char *members = members_of(x, g);
    if (!members) return NULL;
    bool known_size = g->lengths || g->anchors > 1 || g->points + g->anchors < 3;
    if (!known_size) return size_missing(x, g);
    if (g->anchors == 0 && g->points > 1)
        return mst_arena_printf(arena,
                                "%s hang together, but nothing joins them to the points with a place: they are free to "
                                "shift and to turn; measure two of them together with such points",
                                members);
    if (g->anchors == 1 && g->points > 1)
        return mst_arena_printf(arena, "%s hang on %s alone and are free to turn about it; measure %s from %s as well",
                                members, name_of(x, g->anchor[0]), name_of(x, g->best), best_known(x, g->anchor[0]));
    if (g->anchors == 2 && g->points > 1 && (!g->turned || g->lengths))
        return mst_arena_printf(
            arena,
            "%s fit as well mirrored over the line %s-%s; a bearing to %s, an offset or a tape from "
            "a third point says on which side they lie",
            members, name_of(x, g->anchor[0]), name_of(x, g->anchor[1]), name_of(x, g->best));
    return NULL;
}

bool mst_rank_explain(mst_network *net, const char *why[]) {
    size_t items = net->node_count + net->frame_count + 1;
    explaining x = {.net = net,
                    .parent = mst_arena_array(net->arena, items, sizeof *x.parent),
                    .rows = mst_arena_array(net->arena, net->node_count + 1, sizeof *x.rows),
                    .groups = mst_arena_array(net->arena, items, sizeof *x.groups)};
    if (!x.parent || !x.rows || !x.groups) return false;
    for (uint32_t i = 0; i < items; i++) {
        x.parent[i] = i;
        x.groups[i].first = x.groups[i].second = x.groups[i].best = MST_NONE;
    }
    join_all(&x);
    for (size_t i = 0; i < net->reading_count; i++)
        if (mst_reading_is_plan(net->readings[i].kind)) add_reading(&x, &net->readings[i]);
    for (uint32_t i = 0; i < net->node_count; i++) add_point(&x, i);
    for (uint32_t i = 0; i < net->node_count; i++) {
        const group *g = &x.groups[root_of(&x, i)];
        why[i] = is_open(net, i) && net->nodes[i].wants_plan && g->best != MST_NONE ? words_for(&x, g) : NULL;
    }
    return true;
}
