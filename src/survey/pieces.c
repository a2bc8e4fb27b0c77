/* Sorts plan readings into pieces, rays and ties, each in one pass over the readings. */
#include "survey/pieces.h"
#include <math.h>
#include <string.h>

enum { TIES_LOOKED_AT = 64 };

bool mst_lists_make(mst_lists *lists, mst_arena *arena, size_t keys, size_t count,
                    uint32_t (*key)(const void *of, size_t item, int which), const void *of) {
    lists->start = mst_arena_array(arena, keys + 2, sizeof *lists->start);
    if (!lists->start) return false;
    for (size_t i = 0; i < count; i++)
        for (int which = 0; which < 2; which++) {
            uint32_t k = key(of, i, which);
            if (k != MST_NONE) lists->start[k + 2]++;
        }
    for (size_t k = 0; k < keys; k++) lists->start[k + 2] += lists->start[k + 1];
    lists->item = mst_arena_array(arena, lists->start[keys + 1] + 1, sizeof *lists->item);
    if (!lists->item) return false;
    for (size_t i = 0; i < count; i++)
        for (int which = 0; which < 2; which++) {
            uint32_t k = key(of, i, which);
            if (k != MST_NONE) lists->item[lists->start[k + 1]++] = (uint32_t)i;
        }
    return true;
}

double mst_tie_length(const mst_network *net, const mst_tie *tie) {
    if (!tie->slope) return tie->length_m;
    const mst_node *a = &net->nodes[tie->a], *b = &net->nodes[tie->b];
    if (!a->has_height || !b->has_height) return NAN;
    double rise = b->h - a->h - tie->up_m, square = tie->length_m * tie->length_m - rise * rise;
    return square > 0 ? sqrt(square) : 0;
}

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the site's first positions.");
}

/* ---- keys for the lists ---- */

static uint32_t turn_of_reading(const void *of, size_t i, int which) {
    return which ? MST_NONE : ((const mst_network *)of)->readings[i].turn;
}
static uint32_t end_of_ray(const void *of, size_t i, int which) {
    const mst_ray *ray = &((const mst_pieces *)of)->rays[i];
    return which ? ray->target : ray->station;
}
static uint32_t end_of_tie(const void *of, size_t i, int which) {
    const mst_tie *tie = &((const mst_pieces *)of)->ties[i];
    return which ? tie->b : tie->a;
}
static uint32_t end_of_bond(const void *of, size_t i, int which) {
    const mst_bond *bond = &((const mst_pieces *)of)->bonds[i];
    return bond->second ? (which ? bond->to : bond->fourth) : (which ? bond->baseline : bond->from);
}
static uint32_t turn_of_piece(const void *of, size_t i, int which) {
    return which ? MST_NONE : ((const mst_pieces *)of)->pieces[i].turn;
}
static uint32_t turn_of_ray(const void *of, size_t i, int which) {
    return which ? MST_NONE : ((const mst_pieces *)of)->rays[i].turn;
}

/* ---- ties and rays ---- */

/* The zenith angle on the same row, NaN if none. */
static double zenith_beside(const mst_network *net, size_t i) {
    const mst_row *row = net->readings[i].row;
    for (size_t k = i; k-- > 0 && net->readings[k].row == row;)
        if (net->readings[k].kind == MST_READ_ZENITH) return net->readings[k].value;
    return NAN;
}

/* The distance in plan on the same row behind reading i, NaN if there is none or only a slope without zenith angle. */
static double distance_beside(const mst_network *net, size_t i) {
    const mst_row *row = net->readings[i].row;
    for (size_t k = i + 1; k < net->reading_count && net->readings[k].row == row; k++) {
        if (net->readings[k].kind == MST_READ_DISTANCE) return net->readings[k].value;
        if (net->readings[k].kind == MST_READ_SLOPE) return net->readings[k].value * sin(zenith_beside(net, k));
    }
    return NAN;
}

static bool add_tie(mst_pieces *p, size_t i) {
    const mst_reading *r = &p->net->readings[i];
    mst_tie *tie = MST_PUSH(p->arena, p->ties, p->tie_count, p->tie_capacity);
    if (!tie) return false;
    double zenith = r->kind == MST_READ_SLOPE ? zenith_beside(p->net, i) : NAN;
    bool slope = r->kind == MST_READ_SLOPE && isnan(zenith);
    *tie = (mst_tie){r->from, r->to, isnan(zenith) ? r->value : r->value * sin(zenith), r->up_m, r->sd, slope};
    return true;
}

static bool add_ray(mst_pieces *p, uint32_t station, uint32_t target, uint32_t turn, double circle, double sd) {
    mst_ray *ray = MST_PUSH(p->arena, p->rays, p->ray_count, p->ray_capacity);
    if (ray) *ray = (mst_ray){station, target, turn, circle, sd};
    return ray;
}

static bool add_bond(mst_pieces *p, const mst_reading *r) {
    for (int second = 0; second < 2; second++) {
        mst_bond *bond = MST_PUSH(p->arena, p->bonds, p->bond_count, p->bond_capacity);
        if (!bond) return false;
        *bond = (mst_bond){r->kind, r->from, r->baseline, r->to, r->fourth, second == 1};
    }
    return true;
}

static bool find_ties_and_rays(mst_pieces *p) {
    const mst_network *net = p->net;
    for (size_t i = 0; i < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        bool sight = r->kind == MST_READ_BEARING || r->kind == MST_READ_DIRECTION;
        if (sight && !add_ray(p, r->from, r->to, r->turn, r->value, r->sd)) return false;
        if (mst_reading_is_condition(r->kind) && !add_bond(p, r)) return false;
        if ((r->kind == MST_READ_DISTANCE || r->kind == MST_READ_SLOPE) && !add_tie(p, i)) return false;
    }
    return true;
}

/* ---- pieces ---- */

/* Membership while one piece grows: each node once. */
typedef struct making {
    mst_pieces *p;
    uint32_t *seen_in; /* [nodes] the piece that saw it last, plus one */
    size_t first;
} making;

static bool add_member(making *m, uint32_t node, double x, double y) {
    uint32_t stamp = (uint32_t)m->p->piece_count + 1;
    if (m->seen_in[node] == stamp) return true;
    m->seen_in[node] = stamp;
    mst_member *member = MST_PUSH(m->p->arena, m->p->members, m->p->member_count, m->p->member_capacity);
    if (member) *member = (mst_member){node, x, y};
    return member;
}

/* Closes the piece; a single member says nothing about a shape but still hangs on a known heading: it is dropped, as
 * rays and ties carry what it knows. */
static bool close_piece(making *m, uint32_t turn) {
    mst_pieces *p = m->p;
    size_t count = p->member_count - m->first;
    if (count >= 2) {
        mst_piece *piece = MST_PUSH(p->arena, p->pieces, p->piece_count, p->piece_capacity);
        if (!piece) return false;
        *piece = (mst_piece){turn, m->first, count};
    } else {
        for (size_t i = m->first; i < p->member_count; i++) m->seen_in[p->members[i].node] = 0;
        p->member_count = m->first;
    }
    m->first = p->member_count;
    return true;
}

static bool piece_of_coordinates(making *m, const mst_lists *by_turn, uint32_t turn) {
    const mst_network *net = m->p->net;
    for (size_t k = by_turn->start[turn]; k < by_turn->start[turn + 1]; k++) {
        const mst_reading *r = &net->readings[by_turn->item[k]];
        if (r->kind != MST_READ_EASTING) continue;
        const mst_frame *frame = &net->frames[r->frame];
        if (!add_member(m, r->to, r[0].value - frame->x0, r[1].value - frame->y0)) return false;
    }
    return close_piece(m, turn);
}

/* The length of a tie between two points on whatever page, NaN if there is none. Of a point with very many ties only
 * the first are looked at. */
static double length_between(const mst_pieces *p, uint32_t a, uint32_t b) {
    const size_t *start = p->node_ties.start;
    if (start[a + 1] - start[a] > start[b + 1] - start[b]) {
        uint32_t swap = a;
        a = b;
        b = swap;
    }
    size_t end = start[a + 1] < start[a] + TIES_LOOKED_AT ? start[a + 1] : start[a] + TIES_LOOKED_AT;
    for (size_t k = start[a]; k < end; k++) {
        const mst_tie *tie = &p->ties[p->node_ties.item[k]];
        double length =
            (tie->a == a && tie->b == b) || (tie->a == b && tie->b == a) ? mst_tie_length(p->net, tie) : NAN;
        if (!isnan(length)) return length;
    }
    return NAN;
}

/* The distance that belongs to a sight: its own row's, else a tie along the same line. */
static double distance_of_sight(const mst_pieces *p, size_t i) {
    double own = distance_beside(p->net, i);
    return isnan(own) ? length_between(p, p->net->readings[i].from, p->net->readings[i].to) : own;
}

static bool piece_of_set_up(making *m, const mst_lists *by_turn, uint32_t turn) {
    const mst_network *net = m->p->net;
    for (size_t k = by_turn->start[turn]; k < by_turn->start[turn + 1]; k++) {
        size_t i = by_turn->item[k];
        const mst_reading *r = &net->readings[i];
        double d = distance_of_sight(m->p, i);
        if (isnan(d)) continue;
        if (!add_member(m, r->from, 0, 0) || !add_member(m, r->to, d * sin(r->value), d * cos(r->value))) return false;
    }
    return close_piece(m, turn);
}

/* A displacement within one turn: a leg, or a bearing with its distance. */
typedef struct step {
    uint32_t from, to;
    double x, y;
} step;
typedef struct steps {
    const step *step;
    size_t count;
} steps;

static uint32_t end_of_step(const void *of, size_t i, int which) {
    const step *s = &((const steps *)of)->step[i];
    return which ? s->to : s->from;
}

/* The steps of a turn, renumbered so that their ends are few: ends[] says which node each number is. */
static size_t steps_of_turn(const mst_pieces *p, const mst_lists *by_turn, uint32_t turn, step out[]) {
    const mst_network *net = p->net;
    size_t count = 0;
    for (size_t k = by_turn->start[turn]; k < by_turn->start[turn + 1]; k++) {
        size_t i = by_turn->item[k];
        const mst_reading *r = &net->readings[i];
        if (r->kind == MST_READ_DX) out[count++] = (step){r->from, r->to, r[0].value, r[1].value};
        if (r->kind != MST_READ_BEARING) continue;
        double d = distance_of_sight(p, i);
        if (!isnan(d)) out[count++] = (step){r->from, r->to, d * sin(r->value), d * cos(r->value)};
    }
    return count;
}

static size_t number_ends(step step_of[], size_t count, uint32_t number_of[], uint32_t node_of[]) {
    size_t ends = 0;
    for (size_t i = 0; i < count; i++) {
        uint32_t *end[] = {&step_of[i].from, &step_of[i].to};
        for (int which = 0; which < 2; which++) {
            uint32_t node = *end[which];
            if (number_of[node] == 0) {
                node_of[ends] = node;
                number_of[node] = (uint32_t)++ends;
            }
            *end[which] = number_of[node] - 1;
        }
    }
    for (size_t i = 0; i < ends; i++) number_of[node_of[i]] = 0;
    return ends;
}

/* Walks along the steps from each end not yet reached; each walk is a piece. */
static bool pieces_of_steps(making *m, const mst_lists *by_turn, uint32_t turn, uint32_t number_of[]) {
    mst_pieces *p = m->p;
    size_t most = by_turn->start[turn + 1] - by_turn->start[turn];
    step *list = mst_arena_array(p->arena, most + 1, sizeof *list);
    uint32_t *node_of = mst_arena_array(p->arena, 2 * most + 1, sizeof *node_of);
    uint32_t *queue = mst_arena_array(p->arena, 2 * most + 1, sizeof *queue);
    double(*at)[2] = mst_arena_array(p->arena, 2 * most + 1, sizeof *at);
    bool *reached = mst_arena_array(p->arena, 2 * most + 1, sizeof *reached);
    if (!list || !node_of || !queue || !at || !reached) return false;
    steps all = {list, steps_of_turn(p, by_turn, turn, list)};
    size_t ends = number_ends(list, all.count, number_of, node_of);
    mst_lists by_end;
    if (!mst_lists_make(&by_end, p->arena, ends, all.count, end_of_step, &all)) return false;
    for (uint32_t seed = 0; seed < ends; seed++) {
        if (reached[seed]) continue;
        size_t head = 0, tail = 0;
        queue[tail++] = seed;
        reached[seed] = true;
        while (head < tail) {
            uint32_t here = queue[head++];
            if (!add_member(m, node_of[here], at[here][0], at[here][1])) return false;
            for (size_t k = by_end.start[here]; k < by_end.start[here + 1]; k++) {
                const step *s = &list[by_end.item[k]];
                uint32_t there = s->from == here ? s->to : s->from;
                double sign = s->from == here ? 1 : -1;
                if (reached[there]) continue;
                reached[there] = true;
                at[there][0] = at[here][0] + sign * s->x;
                at[there][1] = at[here][1] + sign * s->y;
                queue[tail++] = there;
            }
        }
        if (!close_piece(m, turn)) return false;
    }
    return true;
}

/* Offsets from one baseline, booked in a run, stand in a frame of their own. */
static bool pieces_of_offsets(making *m) {
    mst_pieces *p = m->p;
    const mst_network *net = p->net;
    uint32_t from = MST_NONE, to = MST_NONE;
    for (size_t i = 0; i <= net->reading_count; i++) {
        const mst_reading *r = i < net->reading_count ? &net->readings[i] : NULL;
        if (r && r->kind != MST_READ_CHAINAGE) continue;
        if (from != MST_NONE && (!r || r->from != from || r->baseline != to)) {
            double length = length_between(p, from, to);
            uint32_t turn = (uint32_t)p->turn_count++;
            if (!isnan(length) && !add_member(m, to, 0, length)) return false;
            if (isnan(length) && !add_ray(p, from, to, turn, 0, 1e-4)) return false;
            if (!close_piece(m, turn)) return false;
        }
        if (!r) break;
        if (!add_member(m, r->from, 0, 0) || !add_member(m, r->to, r[1].value, r[0].value)) return false;
        from = r->from;
        to = r->baseline;
    }
    return true;
}

/* ---- all together ---- */

static uint32_t node_of_member(const void *of, size_t i, int which) {
    return which ? MST_NONE : ((const mst_pieces *)of)->members[i].node;
}

/* Turns a list of members by node into a list of pieces by node. */
static bool list_pieces_by_node(mst_pieces *p) {
    uint32_t *piece_of = mst_arena_array(p->arena, p->member_count + 1, sizeof *piece_of);
    if (!piece_of || !mst_lists_make(&p->node_pieces, p->arena, p->net->node_count, p->member_count, node_of_member, p))
        return false;
    for (size_t k = 0; k < p->piece_count; k++)
        for (size_t i = 0; i < p->pieces[k].count; i++) piece_of[p->pieces[k].first + i] = (uint32_t)k;
    for (size_t i = 0; i < p->member_count; i++) p->node_pieces.item[i] = piece_of[p->node_pieces.item[i]];
    return true;
}

static bool find_pieces(mst_pieces *p) {
    mst_network *net = p->net;
    mst_lists by_turn;
    uint32_t *seen_in = mst_arena_array(p->arena, net->node_count + 1, sizeof *seen_in);
    uint32_t *number_of = mst_arena_array(p->arena, net->node_count + 1, sizeof *number_of);
    making m = {p, seen_in, 0};
    if (!seen_in || !number_of ||
        !mst_lists_make(&by_turn, p->arena, net->turn_count, net->reading_count, turn_of_reading, net))
        return false;
    for (uint32_t g = 0; g < net->turn_count; g++) {
        bool done = net->turns[g].kind == MST_TURN_FRAME    ? piece_of_coordinates(&m, &by_turn, g)
                    : net->turns[g].kind == MST_TURN_SET_UP ? piece_of_set_up(&m, &by_turn, g)
                                                            : pieces_of_steps(&m, &by_turn, g, number_of);
        if (!done) return false;
    }
    return pieces_of_offsets(&m);
}

mst_status mst_pieces_find(mst_network *net, mst_arena *scratch, mst_pieces *p, mst_error *error) {
    *p = (mst_pieces){.net = net, .arena = scratch, .turn_count = net->turn_count};
    if (!find_ties_and_rays(p) ||
        !mst_lists_make(&p->node_ties, scratch, net->node_count, p->tie_count, end_of_tie, p) || !find_pieces(p) ||
        !list_pieces_by_node(p) ||
        !mst_lists_make(&p->node_bonds, scratch, net->node_count, p->bond_count, end_of_bond, p) ||
        !mst_lists_make(&p->node_rays, scratch, net->node_count, p->ray_count, end_of_ray, p) ||
        !mst_lists_make(&p->turn_pieces, scratch, p->turn_count, p->piece_count, turn_of_piece, p) ||
        !mst_lists_make(&p->turn_rays, scratch, p->turn_count, p->ray_count, turn_of_ray, p))
        return no_memory(error);
    return MST_OK;
}
