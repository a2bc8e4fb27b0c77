/* The datum in plan and a first place for every point: from what is held, or from the first visit's own frame, one body
 * grows over all that it reaches; parts that it does not reach grow on their own and are carried over once two of their
 * points (one, where the heading is common) are known in both. */
#include "survey/start.h"
#include "survey/parts.h"
#include <math.h>
#include <string.h>

enum { SIDES_MAX = 50 };
static const double APART_M = 1e-3; /* points closer than this give no direction */

typedef struct starting {
    mst_network *net;
    mst_pieces pieces;
    mst_body root, part, other;
    mst_pieces directions; /* the same without lengths */
    mst_body shape;        /* on directions */
    int sides_left;        /* how often sides may still be tried: each costs a copy of the root */
    mst_error *error;
    uint32_t second;      /* the point due north of the first, or MST_NONE */
    uint32_t second_turn; /* the set-up whose circle stands in for it when it gets no place */
    size_t control;       /* points whose place in the site's frame was given */
} starting;

static const char *said(starting *s, const char *format, const char *a, const char *b) {
    const char *sentence = mst_arena_printf(s->net->arena, format, a, b);
    return sentence ? sentence : "";
}

/* ---- the datum ---- */

/* Points that are held or were given in the site's frame. */
static void seed_with_control(starting *s) {
    mst_network *net = s->net;
    const char *first = NULL;
    for (uint32_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_e) {
            mst_body_add(&s->root, i, net->nodes[i].e, net->nodes[i].n);
            if (!first) first = net->nodes[i].name;
        }
    bool held = first != NULL;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_EASTING || r->frame != MST_NONE) continue;
        mst_body_add(&s->root, r->to, r[0].value - net->origin_e, r[1].value - net->origin_n);
        if (!first) first = net->nodes[r->to].name;
    }
    s->control = s->root.count;
    if (s->control == 0) return;
    const char *others = s->control > 1 ? mst_arena_printf(net->arena, " and %zu more", s->control - 1) : "";
    net->datum_plan = said(s, held ? "the held place of %s%s" : "the given place of %s%s", first, others ? others : "");
}

/* Bearings count from the site's north where nothing else fixes the heading or where control says which way north is.
 */
static void fix_bearings(starting *s) {
    for (uint32_t g = 0; g < s->net->turn_count; g++) {
        if (s->net->turns[g].kind != MST_TURN_BEARINGS) continue;
        s->net->turns[g].fixed = s->net->turns[g].known = true;
        mst_body_add_turn(&s->root, g, 0);
    }
}

/* Nothing is given, so the point stands at 0, 0 itself, not at what coordinates that are still to be tied count from.
 */
static void hold_at_zero(starting *s, uint32_t node) {
    mst_node *first = &s->net->nodes[node];
    s->net->origin_e = s->net->origin_n = 0;
    first->e = first->n = 0;
    first->held_e = first->held_n = true;
    mst_body_add(&s->root, node, 0, 0);
}

static void seed_with_frame(starting *s, uint32_t which) {
    mst_network *net = s->net;
    mst_frame *frame = &net->frames[which];
    frame->fixed_plan = net->turns[frame->turn].fixed = true;
    const char *own = mst_arena_printf(net->arena, "the frame of the %s of visit '%s' as they came",
                                       mst_page_kind_name(frame->kind), frame->visit);
    net->datum_plan = !own ? "" : *net->datum_plan ? said(s, "%s and %s", net->datum_plan, own) : own;
    mst_body_add_turn(&s->root, frame->turn, 0);
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind == MST_READ_EASTING && r->frame == which)
            mst_body_add(&s->root, r->to, r[0].value - net->origin_e, r[1].value - net->origin_n);
    }
}

static void seed_with_legs(starting *s, const mst_reading *r) {
    hold_at_zero(s, r->from);
    s->net->turns[r->turn].fixed = true;
    s->net->datum_plan = said(s, "%s at 0, 0 and the heading of the legs of visit '%s' as it came",
                              s->net->nodes[r->from].name, r->page->visit);
    mst_body_add_turn(&s->root, r->turn, 0);
}

/* The first point at 0, 0 and the second due north of it. */
static void seed_with_direction(starting *s, const mst_reading *r) {
    mst_network *net = s->net;
    hold_at_zero(s, r->from);
    s->second = r->kind == MST_READ_CHAINAGE ? r->baseline : r->to;
    net->datum_plan =
        said(s, "%s at 0, 0 with %s due north of it", net->nodes[r->from].name, net->nodes[s->second].name);
    if (r->kind == MST_READ_DIRECTION) {
        s->second_turn = r->turn;
        mst_body_add_turn(&s->root, r->turn, -r->value);
    } else if (r->kind == MST_READ_CHAINAGE) {
        for (uint32_t k = 0; k < s->pieces.piece_count; k++) {
            const mst_member *m = &s->pieces.members[s->pieces.pieces[k].first];
            if (s->pieces.pieces[k].turn < net->turn_count || m[0].node != r->from || m[1].node != r->to) continue;
            mst_body_place(&s->root, k, 0, 0, 0);
            break;
        }
    } else {
        mst_tie tie = {r->from, r->to, r->value, r->up_m, r->sd, r->kind == MST_READ_SLOPE};
        double length = mst_tie_length(net, &tie);
        mst_body_add(&s->root, s->second, 0, isnan(length) ? r->value : length);
    }
}

static bool is_of_visit(const mst_reading *r, const char *visit) { return strcmp(r->page->visit, visit) == 0; }

/* A visit whose readings carry no frame (tapes, a circle set by hand, a sensor's heading) takes that of the first
 * coordinates that have two points in common with it. */
static const mst_reading *frame_for_visit(const mst_network *net, const mst_reading *first) {
    bool *touched = mst_arena_array(net->arena, net->node_count + 1, sizeof *touched);
    uint32_t *met = mst_arena_array(net->arena, net->frame_count + 1, sizeof *met); /* by frame: a common point + 1 */
    for (size_t i = 0; touched && i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        const uint32_t ends[] = {r->to, r->from, r->baseline, r->fourth};
        for (int k = 0; k < 4; k++)
            if (ends[k] != MST_NONE && mst_reading_is_plan(r->kind) && is_of_visit(r, first->page->visit))
                touched[ends[k]] = true;
    }
    for (size_t i = 0; touched && met && i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_EASTING || r->frame == MST_NONE || !touched[r->to]) continue;
        if (met[r->frame] && met[r->frame] != r->to + 1) return r;
        met[r->frame] = r->to + 1;
    }
    return first;
}

/* The best carrier of a frame that the first visit with anything in plan has. */
static const mst_reading *first_plan_reading(const mst_network *net) {
    static const mst_reading_kind BY_RANK[] = {MST_READ_EASTING,   MST_READ_DX,       MST_READ_BEARING,
                                               MST_READ_DIRECTION, MST_READ_CHAINAGE, MST_READ_DISTANCE,
                                               MST_READ_SLOPE};
    const mst_reading *best = NULL;
    size_t rank = sizeof BY_RANK / sizeof *BY_RANK;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (best && !is_of_visit(r, best->page->visit)) continue;
        for (size_t k = 0; k < rank; k++)
            if (BY_RANK[k] == r->kind) best = r, rank = k;
    }
    bool framed = !best || best->kind == MST_READ_EASTING || best->kind == MST_READ_BEARING;
    return framed ? best : frame_for_visit(net, best);
}

static void seed_without_control(starting *s) {
    const mst_reading *r = first_plan_reading(s->net);
    if (!r) return;
    if (r->kind == MST_READ_EASTING) {
        seed_with_frame(s, r->frame);
    } else if (r->kind == MST_READ_DX) {
        seed_with_legs(s, r);
    } else if (r->kind == MST_READ_BEARING) {
        hold_at_zero(s, r->from);
        s->net->datum_plan =
            said(s, "%s at 0, 0 with north as the bearings have it%s", s->net->nodes[r->from].name, "");
        fix_bearings(s);
    } else {
        seed_with_direction(s, r);
    }
}

static bool is_held_anywhere(const mst_network *net) {
    for (size_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_e) return true;
    for (size_t i = 0; i < net->reading_count; i++)
        if (net->readings[i].kind == MST_READ_EASTING && net->readings[i].page->kind == MST_PAGE_CONTROL) return true;
    return false;
}

/* Only pages that came in the site's frame are given, and they do not reach the first visit's own coordinates: then
 * these are in the site's frame too. */
static bool take_first_visits_frame(starting *s) {
    const mst_network *net = s->net;
    if (s->control == 0 || net->reading_count == 0 || is_held_anywhere(net)) return false;
    const char *visit = "";
    for (size_t i = 0; i < net->reading_count && !*visit; i++) /* in the order of the visits */
        if (mst_reading_is_plan(net->readings[i].kind)) visit = net->readings[i].page->visit;
    for (uint32_t k = 0; k < net->frame_count; k++) {
        const mst_frame *frame = &net->frames[k];
        if (strcmp(frame->visit, visit) != 0 || s->root.turn_known[frame->turn]) continue;
        seed_with_frame(s, k);
        return true;
    }
    return false;
}

/* ---- parts that the root does not reach ---- */

/* What a part and the root have in common. */
typedef struct common {
    size_t count;
    uint32_t first, last; /* two common points that lie apart, once count > 1 */
    bool heading;
    double turn;
} common;

static common common_of(const mst_body *part, const mst_body *root) {
    common c = {0, MST_NONE, MST_NONE, false, 0};
    for (size_t i = 0; i < part->turn_count && !c.heading; i++) {
        uint32_t g = part->turn_order[i];
        if (!root->turn_known[g]) continue;
        c.heading = true;
        c.turn = root->turn[g] - part->turn[g];
    }
    double farthest = APART_M;
    for (size_t i = 0; i < part->count; i++) {
        uint32_t node = part->order[i];
        if (!root->known[node]) continue;
        double apart =
            c.first == MST_NONE ? 0 : hypot(part->e[node] - part->e[c.first], part->n[node] - part->n[c.first]);
        double there =
            c.first == MST_NONE ? 0 : hypot(root->e[node] - root->e[c.first], root->n[node] - root->n[c.first]);
        if (c.first == MST_NONE) c.first = node, c.count = 1;
        else if (fmin(apart, there) > farthest) farthest = fmin(apart, there), c.last = node, c.count = 2;
    }
    return c;
}

/* Looked at before every step of a part's growth, so only what is new since then is compared. */
typedef struct meeting {
    const mst_body *root;
    size_t looked, turns_looked;
    uint32_t first;
    bool heading, enough;
} meeting;

static bool meets_root(const mst_body *part, void *context) {
    meeting *m = context;
    for (; m->turns_looked < part->turn_count; m->turns_looked++)
        m->heading |= m->root->turn_known[part->turn_order[m->turns_looked]];
    for (; m->looked < part->count; m->looked++) {
        uint32_t node = part->order[m->looked];
        if (!m->root->known[node]) continue;
        if (m->first == MST_NONE) m->first = node;
        else if (hypot(part->e[node] - part->e[m->first], part->n[node] - part->n[m->first]) > APART_M)
            m->enough = true;
    }
    return m->enough || (m->heading && m->first != MST_NONE);
}

static bool carry_over(mst_body *root, const mst_body *part) {
    common c = common_of(part, root);
    if (c.count < (c.heading ? 1u : 2u)) return false;
    double turn = c.turn;
    if (c.count > 1)
        turn = atan2(root->e[c.last] - root->e[c.first], root->n[c.last] - root->n[c.first]) -
               atan2(part->e[c.last] - part->e[c.first], part->n[c.last] - part->n[c.first]);
    double co = cos(turn), si = sin(turn);
    for (size_t i = 0; i < part->count; i++) {
        uint32_t node = part->order[i];
        double x = part->e[node] - part->e[c.first], y = part->n[node] - part->n[c.first];
        mst_body_add(root, node, root->e[c.first] + x * co + y * si, root->n[c.first] + y * co - x * si);
    }
    for (size_t i = 0; i < part->turn_count; i++)
        mst_body_add_turn(root, part->turn_order[i], mst_angle_signed(part->turn[part->turn_order[i]] + turn));
    return true;
}

/* Grows a part from a piece; carries it over when it meets the root. */
static bool try_part(starting *s, uint32_t piece, bool tried[]) {
    mst_body *part = &s->part;
    meeting m = {&s->root, 0, 0, MST_NONE, false, false};
    uint32_t turn = s->pieces.pieces[piece].turn;
    mst_body_clear(part);
    mst_body_place(part, piece, 0, 0, s->root.turn_known[turn] ? s->root.turn[turn] : 0);
    mst_body_grow(part, meets_root, &m);
    if (meets_root(part, &m) && carry_over(&s->root, part)) return true;
    for (size_t i = 0; i < part->count; i++) {
        const mst_lists *by_node = &s->pieces.node_pieces;
        for (size_t k = by_node->start[part->order[i]]; k < by_node->start[part->order[i] + 1]; k++)
            if (part->placed[by_node->item[k]]) tried[by_node->item[k]] = true;
    }
    return false;
}

static bool join_parts(starting *s) {
    bool joined = false;
    bool *tried = mst_arena_array(s->pieces.arena, s->pieces.piece_count + 1, sizeof *tried);
    for (uint32_t k = 0; tried && k < s->pieces.piece_count; k++) {
        if (s->root.placed[k] || tried[k] || !try_part(s, k, tried)) continue;
        joined = true;
        mst_body_grow(&s->root, NULL, NULL);
    }
    return joined;
}

/* ---- what stays open is decided and said ---- */

/* With ties alone nobody can tell left from right; until something has, the first such point goes to the right. */
static bool choose_a_side(starting *s) {
    if (s->second == MST_NONE || s->second_turn != MST_NONE) return false;
    for (size_t i = 0; i < s->root.count; i++)
        if (fabs(s->root.e[s->root.order[i]]) > APART_M) return false;
    for (uint32_t i = 0; i < s->net->node_count; i++) {
        double place[2][2];
        if (s->root.known[i] || mst_body_mirrored(&s->root, i, place) < 2) continue;
        const double *right = place[0][0] > place[1][0] ? place[0] : place[1]; /* the line runs due north */
        mst_body_add(&s->root, i, right[0], right[1]);
        s->net->datum_plan =
            said(s, "%s and %s to the right of that line, which tapes alone cannot tell from its mirror image",
                 s->net->datum_plan, s->net->nodes[i].name);
        return true;
    }
    return false;
}

/* One point is given and nothing turns the rest: the first thing that hangs on it keeps its own north. */
static bool fix_a_heading(starting *s) {
    mst_network *net = s->net;
    if (s->control != 1 || s->root.count != 1) return false;
    uint32_t point = s->root.order[0];
    const char *name = net->nodes[point].name;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        bool here = r->from == point || r->to == point;
        if (!here || !mst_reading_is_plan(r->kind) || mst_reading_is_condition(r->kind) ||
            (r->frame == MST_NONE && r->kind == MST_READ_EASTING))
            continue;
        if (r->turn != MST_NONE && !net->turns[r->turn].fixed) {
            net->turns[r->turn].fixed = true;
            net->datum_plan =
                said(s,
                     r->kind == MST_READ_DIRECTION ? "the place of %s, with the circle there taken as bearings%s"
                                                   : "the place of %s, with the heading of visit '%s' as it came",
                     name, r->kind == MST_READ_DIRECTION ? "" : r->page->visit);
            mst_body_add_turn(&s->root, r->turn, 0);
            return true;
        }
        uint32_t other = r->kind == MST_READ_CHAINAGE ? r->baseline : r->from == point ? r->to : r->from;
        if (other == MST_NONE || r->to == MST_NONE || (r->kind == MST_READ_CHAINAGE && r->from != point)) continue;
        s->second = other;
        mst_tie tie = {point, other, r->value, r->up_m, r->sd, r->kind == MST_READ_SLOPE};
        double length = mst_tie_length(net, &tie);
        if (r->kind == MST_READ_CHAINAGE || isnan(length)) continue;
        net->datum_plan = said(s, "the place of %s, with %s due north of it", name, net->nodes[other].name);
        mst_body_add(&s->root, other, s->root.e[point], s->root.n[point] + length);
        return true;
    }
    return false;
}

/* The second point keeps due north of the first; where it got no place, the first set-up's circle keeps its turn. */
static void hold_the_heading(starting *s) {
    if (s->second == MST_NONE) return;
    mst_node *second = &s->net->nodes[s->second];
    if (s->root.known[s->second]) {
        second->e = s->root.e[s->second];
        second->held_e = true;
    } else if (s->second_turn != MST_NONE) {
        s->net->turns[s->second_turn].fixed = true;
    }
}

/* ---- into the network ---- */

static void give_frames_their_places(starting *s) {
    mst_network *net = s->net;
    size_t *count = mst_arena_array(s->pieces.arena, net->frame_count + 1, sizeof *count);
    for (size_t i = 0; count && i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_EASTING || r->frame == MST_NONE) continue;
        mst_frame *frame = &net->frames[r->frame];
        if (!s->root.known[r->to] || !s->root.turn_known[frame->turn]) continue;
        double x = r[0].value - frame->x0, y = r[1].value - frame->y0;
        double c = cos(s->root.turn[frame->turn]), si = sin(s->root.turn[frame->turn]);
        double e = s->root.e[r->to] - (x * c + y * si), n = s->root.n[r->to] - (y * c - x * si);
        double share = 1 / (double)++count[r->frame];
        frame->e += (e - frame->e) * share;
        frame->n += (n - frame->n) * share;
        frame->has_plan = true;
    }
    for (size_t k = 0; k < net->frame_count; k++) {
        mst_frame *frame = &net->frames[k];
        if (!frame->fixed_plan) continue;
        frame->e = frame->x0 - net->origin_e;
        frame->n = frame->y0 - net->origin_n;
    }
}

static void give_places(starting *s) {
    mst_network *net = s->net;
    for (size_t i = 0; i < s->root.count; i++) {
        mst_node *node = &net->nodes[s->root.order[i]];
        if (!node->held_e) node->e = s->root.e[s->root.order[i]];
        if (!node->held_n) node->n = s->root.n[s->root.order[i]];
        node->has_plan = true;
    }
    for (uint32_t g = 0; g < net->turn_count; g++) {
        net->turns[g].known = s->root.turn_known[g];
        net->turns[g].rad = s->root.turn[g];
    }
    give_frames_their_places(s);
}

/* ---- all together ---- */

static bool settle_a_side(starting *s) {
    return s->sides_left-- > 0 && mst_parts_settle_sides(&s->root, &s->part, &s->other);
}

static void grow_all(starting *s) {
    mst_body_grow(&s->root, NULL, NULL);
    while (join_parts(s) || mst_body_settle_mirrored(&s->root) || choose_a_side(s) || fix_a_heading(s) ||
           take_first_visits_frame(s) || settle_a_side(s) || mst_parts_from_tapes(&s->root, &s->part) ||
           mst_parts_from_directions(&s->root, &s->shape))
        mst_body_grow(&s->root, NULL, NULL);
}

static uint32_t no_key(const void *of, size_t item, int which) {
    (void)of, (void)item, (void)which;
    return MST_NONE;
}

/* The same readings without their lengths: the shape that directions alone give. */
static bool leave_out_lengths(starting *s) {
    mst_pieces *d = &s->directions;
    *d = s->pieces;
    d->tie_count = d->piece_count = d->member_count = d->bond_count = 0;
    return mst_lists_make(&d->node_ties, d->arena, d->net->node_count, 0, no_key, d) &&
           mst_lists_make(&d->node_bonds, d->arena, d->net->node_count, 0, no_key, d) &&
           mst_lists_make(&d->node_pieces, d->arena, d->net->node_count, 0, no_key, d) &&
           mst_lists_make(&d->turn_pieces, d->arena, d->turn_count, 0, no_key, d) && mst_body_make(&s->shape, d);
}

/* Why a point got no place, where that shows here. */
static void say_why_open(starting *s) {
    for (uint32_t i = 0; i < s->net->node_count; i++) {
        double place[2][2];
        mst_node *node = &s->net->nodes[i];
        if (s->root.known[i] || !node->wants_plan) continue;
        if (mst_body_mirrored(&s->root, i, place) == 2)
            node->why_plan =
                "its readings fit on both sides of a line; say which with an offset or a tape from a third point";
        else node->why_plan = mst_body_why_open(&s->root, i);
    }
}

mst_status mst_start_plan(mst_network *net, mst_arena *scratch, mst_error *error) {
    starting s = {.net = net, .error = error, .second = MST_NONE, .second_turn = MST_NONE, .sides_left = SIDES_MAX};
    mst_status status = mst_pieces_find(net, scratch, &s.pieces, error);
    if (status) return status;
    if (!mst_body_make(&s.root, &s.pieces) || !mst_body_make(&s.part, &s.pieces) ||
        !mst_body_make(&s.other, &s.pieces) || !leave_out_lengths(&s))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for the site's first positions.");
    seed_with_control(&s);
    if (s.control > 0) fix_bearings(&s);
    else seed_without_control(&s);
    grow_all(&s);
    hold_the_heading(&s);
    give_places(&s);
    say_why_open(&s);
    return MST_OK;
}
