/* Growth of a rigid body. Every reading is looked at when one of its ends becomes known, so the work is linear in the
 * readings; a point is fixed as soon as two lines or circles meet there at a fair angle, and a third decides where two
 * places are left. The places are starts only: the adjustment finds the best. */
#include "survey/body.h"
#include <math.h>
#include <string.h>

enum { HELPERS_MAX = 12, RESECTION_MAX = 8, HINGE_PIECE_MAX = 500 };
static const double APART_M = 1e-3;   /* points closer than this give no direction */
static const double FLAT_SINE = 0.01; /* lines that meet flatter than this fix no start; 0.6 degrees */
static const double MISS_PART = 0.05; /* two circles that miss each other by less are taken to touch */
static const double DANGER_PART =
    1e-3; /* of the radius; nearer to the circle through its targets a station is not fixed */
static const double HINGE_SD = 0.02;    /* m; of a distance within a piece */
static const double MISFIT_MAX = 100;   /* squared sd; what one reading can say at most against a place */
static const double TELLS_APART_SD = 4; /* a third reading decides when two places differ this much for it */

bool mst_body_make(mst_body *b, const mst_pieces *from) {
    size_t nodes = from->net->node_count + 1, turns = from->turn_count + 1, pieces = from->piece_count + 1;
    mst_arena *arena = from->arena;
    *b = (mst_body){.from = from};
    b->e = mst_arena_array(arena, nodes, sizeof *b->e);
    b->n = mst_arena_array(arena, nodes, sizeof *b->n);
    b->known = mst_arena_array(arena, nodes, sizeof *b->known);
    b->waiting = mst_arena_array(arena, nodes, sizeof *b->waiting);
    b->turn = mst_arena_array(arena, turns, sizeof *b->turn);
    b->turn_known = mst_arena_array(arena, turns, sizeof *b->turn_known);
    b->placed = mst_arena_array(arena, pieces, sizeof *b->placed);
    b->members_known = mst_arena_array(arena, pieces, sizeof *b->members_known);
    b->first_known = mst_arena_array(arena, pieces, sizeof *b->first_known);
    b->order = mst_arena_array(arena, nodes, sizeof *b->order);
    b->turn_order = mst_arena_array(arena, turns, sizeof *b->turn_order);
    b->wait = mst_arena_array(arena, nodes, sizeof *b->wait);
    return b->e && b->n && b->known && b->waiting && b->turn && b->turn_known && b->placed && b->members_known &&
           b->first_known && b->order && b->turn_order && b->wait;
}

void mst_body_copy(mst_body *to, const mst_body *from) {
    size_t nodes = from->from->net->node_count, turns = from->from->turn_count, pieces = from->from->piece_count;
    memcpy(to->e, from->e, nodes * sizeof *to->e);
    memcpy(to->n, from->n, nodes * sizeof *to->n);
    memcpy(to->known, from->known, nodes * sizeof *to->known);
    memcpy(to->waiting, from->waiting, nodes * sizeof *to->waiting);
    memcpy(to->turn, from->turn, turns * sizeof *to->turn);
    memcpy(to->turn_known, from->turn_known, turns * sizeof *to->turn_known);
    memcpy(to->placed, from->placed, pieces * sizeof *to->placed);
    memcpy(to->members_known, from->members_known, pieces * sizeof *to->members_known);
    memcpy(to->first_known, from->first_known, pieces * sizeof *to->first_known);
    memcpy(to->order, from->order, nodes * sizeof *to->order);
    memcpy(to->turn_order, from->turn_order, turns * sizeof *to->turn_order);
    memcpy(to->wait, from->wait, nodes * sizeof *to->wait);
    to->seen = from->seen;
    to->count = from->count;
    to->turn_count = from->turn_count;
    to->wait_head = from->wait_head;
    to->wait_count = from->wait_count;
}

void mst_body_clear(mst_body *b) {
    const mst_lists *by_node = &b->from->node_pieces;
    for (size_t i = 0; i < b->count; i++) {
        uint32_t node = b->order[i];
        b->known[node] = false;
        for (size_t k = by_node->start[node]; k < by_node->start[node + 1]; k++) {
            b->placed[by_node->item[k]] = false;
            b->members_known[by_node->item[k]] = 0;
        }
    }
    for (size_t i = 0; i < b->turn_count; i++) b->turn_known[b->turn_order[i]] = false;
    for (; b->wait_count > 0; b->wait_count--) {
        b->waiting[b->wait[b->wait_head]] = false;
        b->wait_head = (b->wait_head + 1) % b->from->net->node_count;
    }
    b->count = b->seen = b->turn_count = 0;
}

void mst_body_add(mst_body *b, uint32_t node, double e, double n) {
    if (b->known[node] || !isfinite(e) || !isfinite(n)) return;
    b->known[node] = true;
    b->e[node] = e;
    b->n[node] = n;
    b->order[b->count++] = node;
}

static void wait_for(mst_body *b, uint32_t node) {
    if (b->waiting[node] || b->known[node]) return;
    b->waiting[node] = true;
    b->wait[(b->wait_head + b->wait_count++) % b->from->net->node_count] = node;
}

/* ---- pieces ---- */

void mst_body_place(mst_body *b, uint32_t which, double e, double n, double rad) {
    const mst_piece *piece = &b->from->pieces[which];
    double c = cos(rad), s = sin(rad);
    b->placed[which] = true;
    for (size_t i = 0; i < piece->count; i++) {
        const mst_member *m = &b->from->members[piece->first + i];
        mst_body_add(b, m->node, e + m->x * c + m->y * s, n + m->y * c - m->x * s);
    }
    mst_body_add_turn(b, piece->turn, rad);
}

/* The turn that carries the known members onto their places best, about their means; NaN when they lie at one place. */
static double turn_of_piece(const mst_body *b, const mst_piece *piece, double mean[4]) {
    const mst_member *members = b->from->members + piece->first;
    double count = 0, across = 0, along = 0, spread = 0;
    memset(mean, 0, 4 * sizeof *mean);
    for (size_t i = 0; i < piece->count; i++) {
        if (!b->known[members[i].node]) continue;
        double value[] = {members[i].x, members[i].y, b->e[members[i].node], b->n[members[i].node]};
        count++;
        for (int k = 0; k < 4; k++) mean[k] += (value[k] - mean[k]) / count;
    }
    for (size_t i = 0; i < piece->count; i++) {
        if (!b->known[members[i].node]) continue;
        double x = members[i].x - mean[0], y = members[i].y - mean[1];
        double e = b->e[members[i].node] - mean[2], n = b->n[members[i].node] - mean[3];
        along += x * e + y * n;
        across += y * e - x * n;
        spread = fmax(spread, fmin(x * x + y * y, e * e + n * n));
    }
    return spread > APART_M * APART_M ? atan2(across, along) : NAN;
}

static void try_piece(mst_body *b, uint32_t which) {
    const mst_piece *piece = &b->from->pieces[which];
    bool heading = b->turn_known[piece->turn];
    if (b->placed[which] || b->members_known[which] < (heading ? 1u : 2u)) return;
    double mean[4], rad = turn_of_piece(b, piece, mean);
    if (heading) rad = b->turn[piece->turn];
    if (isnan(rad)) return;
    double c = cos(rad), s = sin(rad);
    mst_body_place(b, which, mean[2] - (mean[0] * c + mean[1] * s), mean[3] - (mean[1] * c - mean[0] * s), rad);
}

/* A point that two pieces share: through one it hangs on the first known point of the other, at a known distance. */
static bool is_hinge(const mst_pieces *p, uint32_t node) {
    return p->node_pieces.start[node + 1] - p->node_pieces.start[node] > 1;
}

/* ---- rays ---- */

static void look_at_ray(mst_body *b, const mst_ray *ray) {
    bool station = b->known[ray->station], target = b->known[ray->target];
    if (station && target && !b->turn_known[ray->turn]) {
        double de = b->e[ray->target] - b->e[ray->station], dn = b->n[ray->target] - b->n[ray->station];
        if (hypot(de, dn) > APART_M) mst_body_add_turn(b, ray->turn, mst_angle_signed(atan2(de, dn) - ray->circle));
    } else if (station != target && (b->turn_known[ray->turn] || target)) {
        wait_for(b, station ? ray->target : ray->station);
    }
}

void mst_body_add_turn(mst_body *b, uint32_t turn, double rad) {
    if (b->turn_known[turn]) return;
    b->turn_known[turn] = true;
    b->turn[turn] = rad;
    b->turn_order[b->turn_count++] = turn;
    const mst_lists *pieces = &b->from->turn_pieces, *rays = &b->from->turn_rays;
    for (size_t k = pieces->start[turn]; k < pieces->start[turn + 1]; k++) try_piece(b, pieces->item[k]);
    for (size_t k = rays->start[turn]; k < rays->start[turn + 1]; k++) look_at_ray(b, &b->from->rays[rays->item[k]]);
}

/* ---- fixing a point by lines and circles ---- */

/* A known point and what is known from there: a direction, a distance. */
typedef struct helper {
    uint32_t node;
    double e, n, sine, cosine, length, sd;
    bool line, outward; /* outward: the line starts at the helper; else it only passes through it */
} helper;

static void add_helper(helper list[], size_t *count, helper h) {
    for (size_t i = 0; i < *count; i++) /* a repeat tells nothing about where */
        if (list[i].node == h.node && list[i].line == h.line) return;
    if (*count < HELPERS_MAX) list[(*count)++] = h;
}

/* A piece of which one other point is known keeps the node at its distance from that. */
static void add_piece_as_helper(const mst_body *b, uint32_t node, uint32_t which, helper list[], size_t *count) {
    const mst_piece *piece = &b->from->pieces[which];
    const mst_member *members = b->from->members + piece->first, *own = NULL, *other = NULL;
    if (b->placed[which] || b->members_known[which] == 0 || b->turn_known[piece->turn] ||
        piece->count > HINGE_PIECE_MAX)
        return;
    for (size_t i = 0; i < piece->count; i++) {
        if (members[i].node == node) own = &members[i];
        if (members[i].node == b->first_known[which]) other = &members[i];
    }
    if (!own || !other || own == other) return;
    add_helper(list, count,
               (helper){other->node, b->e[other->node], b->n[other->node], 0, 0,
                        hypot(own->x - other->x, own->y - other->y), HINGE_SD, false, false});
}

/* What a condition says of a point once its others are known: a line through the first of them, of no length. */
static bool line_of_bond(const mst_body *b, const mst_bond *bond, uint32_t node, helper *h) {
    uint32_t through, from, to;
    bool across = false;
    if (bond->kind == MST_READ_RIGHT_ANGLE) {
        through = from = bond->from;
        to = node == bond->to ? bond->baseline : bond->to;
        across = true;
        if (node == bond->from) return false;
    } else if (bond->kind == MST_READ_STRAIGHT) {
        const uint32_t ends[] = {bond->from, bond->to, bond->baseline};
        from = ends[node == ends[0] ? 1 : 0];
        to = ends[node == ends[2] ? 1 : 2];
        through = from;
    } else {
        bool second = node == bond->to || node == bond->fourth;
        from = second ? bond->from : bond->fourth;
        to = second ? bond->baseline : bond->to;
        through =
            second ? (node == bond->to ? bond->fourth : bond->to) : (node == bond->from ? bond->baseline : bond->from);
    }
    if (!b->known[from] || !b->known[to] || !b->known[through]) return false;
    double e = b->e[to] - b->e[from], n = b->n[to] - b->n[from], d = hypot(e, n);
    if (d < APART_M) return false;
    double sine = across ? n / d : e / d, cosine = across ? -e / d : n / d;
    *h = (helper){through, b->e[through], b->n[through], sine, cosine, 0, HINGE_SD / d, true, false};
    return true;
}

static size_t helpers_of(const mst_body *b, uint32_t node, helper list[]) {
    const mst_pieces *p = b->from;
    size_t count = 0;
    for (size_t k = p->node_rays.start[node]; k < p->node_rays.start[node + 1]; k++) {
        const mst_ray *ray = &p->rays[p->node_rays.item[k]];
        uint32_t other = ray->station == node ? ray->target : ray->station;
        if (!b->known[other] || !b->turn_known[ray->turn]) continue;
        double bearing = ray->circle + b->turn[ray->turn];
        if (ray->station == node) bearing += MST_PI; /* seen from the known target */
        add_helper(list, &count,
                   (helper){other, b->e[other], b->n[other], sin(bearing), cos(bearing), 0, ray->sd, true, true});
    }
    for (size_t k = p->node_ties.start[node]; k < p->node_ties.start[node + 1]; k++) {
        const mst_tie *tie = &p->ties[p->node_ties.item[k]];
        uint32_t other = tie->a == node ? tie->b : tie->a;
        double length = mst_tie_length(p->net, tie);
        if (!b->known[other] || isnan(length)) continue;
        add_helper(list, &count, (helper){other, b->e[other], b->n[other], 0, 0, length, tie->sd, false, false});
    }
    for (size_t k = p->node_bonds.start[node]; k < p->node_bonds.start[node + 1]; k++) {
        helper h;
        if (line_of_bond(b, &p->bonds[p->node_bonds.item[k]], node, &h)) add_helper(list, &count, h);
    }
    for (size_t k = p->node_pieces.start[node]; is_hinge(p, node) && k < p->node_pieces.start[node + 1]; k++)
        add_piece_as_helper(b, node, p->node_pieces.item[k], list, &count);
    return count;
}

/* Where two helpers meet: none, one or two places, [0] right of the way from one to the other; and how squarely. */
static int meet_lines(const helper *a, const helper *c, double at[2][2], double *sine) {
    *sine = a->sine * c->cosine - a->cosine * c->sine;
    if (fabs(*sine) < FLAT_SINE) return 0;
    double de = c->e - a->e, dn = c->n - a->n;
    double t = (de * c->cosine - dn * c->sine) / *sine, u = (de * a->cosine - dn * a->sine) / *sine;
    if ((a->outward && t < APART_M) || (c->outward && u < APART_M)) return 0; /* behind one of the two */
    at[0][0] = a->e + t * a->sine;
    at[0][1] = a->n + t * a->cosine;
    return 1;
}

static int meet_line_and_circle(const helper *line, const helper *circle, double at[2][2], double *sine) {
    double de = circle->e - line->e, dn = circle->n - line->n;
    double along = de * line->sine + dn * line->cosine, aside = de * line->cosine - dn * line->sine;
    double half = circle->length * circle->length - aside * aside;
    if (circle->length <= 0 || fabs(aside) > circle->length * (1 + MISS_PART)) return 0;
    half = half > 0 ? sqrt(half) : 0;
    *sine = half / circle->length;
    int count = 0;
    for (int side = -1; side <= 1; side += 2) {
        double t = along + side * half;
        if (line->outward && t < APART_M) continue;
        at[count][0] = line->e + t * line->sine;
        at[count++][1] = line->n + t * line->cosine;
    }
    return count;
}

static int meet_circles(const helper *a, const helper *c, double at[2][2], double *sine) {
    double de = c->e - a->e, dn = c->n - a->n, base = hypot(de, dn);
    double sum = a->length + c->length, difference = fabs(a->length - c->length);
    if (base < APART_M || sum <= 0) return 0;
    if (base > sum * (1 + MISS_PART) || difference > base + MISS_PART * sum) return 0;
    double along = (a->length * a->length - c->length * c->length + base * base) / (2 * base);
    double square = a->length * a->length - along * along, aside = square > 0 ? sqrt(square) : 0;
    *sine = a->length > 0 && c->length > 0 ? fabs(aside * base / (a->length * c->length)) : 0;
    for (int side = 0; side < 2; side++) { /* right first */
        double right = side == 0 ? aside : -aside;
        at[side][0] = a->e + (along * de + right * dn) / base;
        at[side][1] = a->n + (along * dn - right * de) / base;
    }
    return aside > 0 ? 2 : 1;
}

static int meet(const helper *a, const helper *c, double at[2][2], double *sine) {
    *sine = 0;
    if (a->line && c->line) return meet_lines(a, c, at, sine);
    if (a->line) return meet_line_and_circle(a, c, at, sine);
    if (c->line) return meet_line_and_circle(c, a, at, sine);
    return meet_circles(a, c, at, sine);
}

/* How far a place is from where the helper wants it, in m. A place behind a ray is as far off as it is away. */
static double miss(const helper *h, const double at[2]) {
    double de = at[0] - h->e, dn = at[1] - h->n;
    if (!h->line) return hypot(de, dn) - h->length;
    double along = de * h->sine + dn * h->cosine;
    return along < 0 && h->outward ? hypot(de, dn) : de * h->cosine - dn * h->sine;
}

/* Which of two places the helpers other than the pair want: 0 or 1, -1 if they cannot tell. */
static int choose(const helper list[], size_t count, size_t i, size_t j, double at[2][2]) {
    double strongest = 0;
    int choice = -1;
    for (size_t k = 0; k < count; k++) {
        double first = miss(&list[k], at[0]), second = miss(&list[k], at[1]);
        double length = hypot(at[0][0] - list[k].e, at[0][1] - list[k].n);
        double sd = fmax(list[k].line ? list[k].sd * length : list[k].sd, APART_M);
        double apart = fabs(fabs(first) - fabs(second)) / sd;
        if (k == i || k == j || fabs(first - second) < TELLS_APART_SD * sd || apart <= strongest) continue;
        strongest = apart;
        choice = fabs(first) <= fabs(second) ? 0 : 1;
    }
    return choice;
}

/* The best fix among all pairs of helpers: the squarest whose place is not in doubt. */
static bool fix(mst_body *b, uint32_t node) {
    helper list[HELPERS_MAX];
    size_t count = helpers_of(b, node, list);
    double best_sine = -1, best[2] = {0};
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            double at[2][2], sine;
            int places = meet(&list[i], &list[j], at, &sine);
            int which = places == 2 ? choose(list, count, i, j, at) : 0;
            if (places == 0 || which < 0 || fabs(sine) <= best_sine) continue;
            best_sine = fabs(sine);
            memcpy(best, at[which], sizeof best);
        }
    if (best_sine >= 0) mst_body_add(b, node, best[0], best[1]);
    return best_sine >= 0;
}

int mst_body_mirrored(const mst_body *b, uint32_t node, double place[2][2]) {
    helper list[HELPERS_MAX];
    size_t count = helpers_of(b, node, list);
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            double sine;
            int places = meet(&list[i], &list[j], place, &sine);
            if (places == 2 && sine > FLAT_SINE) return 2;
        }
    return 0;
}

/* ---- why a point is not fixed ---- */

/* Why two helpers do not meet; NULL where they do. */
static const char *why_apart(const mst_body *b, const helper *a, const helper *c) {
    mst_arena *arena = b->from->net->arena;
    const char *first = b->from->net->nodes[a->node].name, *second = b->from->net->nodes[c->node].name;
    double place[2][2], sine, base = hypot(c->e - a->e, c->n - a->n);
    if (meet(a, c, place, &sine) > 0) return NULL;
    if (base < APART_M)
        return mst_arena_printf(arena,
                                "%s and %s, from which it is measured, stand at one place; measure it from "
                                "another point as well",
                                first, second);
    if (a->line && c->line && fabs(sine) < FLAT_SINE)
        return mst_arena_printf(arena,
                                "the lines on which it lies from %s and %s run along each other and do not cross; "
                                "add a distance, or a sight from a point aside",
                                first, second);
    if (a->line && c->line)
        return mst_arena_printf(arena,
                                "the sights between it and %s and %s do not cross in front of both; one of them may "
                                "be half a turn off (the other face) or belong to another point; add a third",
                                first, second);
    if (a->line || c->line)
        return mst_arena_printf(arena,
                                "the line on which it lies from %s passes %s farther off than its distance from "
                                "there; one of the two readings is wrong, or belongs to another point",
                                a->line ? first : second, a->line ? second : first);
    double sum = a->length + c->length;
    if (sum < base)
        return mst_arena_printf(arena,
                                "its distances from %s and %s together are too short to meet; one of them is "
                                "wrong, or belongs to another point",
                                first, second);
    return mst_arena_printf(arena,
                            "its distance from %s is so much longer than that from %s that they do not meet; one of "
                            "them is wrong, or belongs to another point",
                            a->length > c->length ? first : second, a->length > c->length ? second : first);
}

/* A station whose circle hangs on nothing else: how many points with a place it sights from one zero, at most. */
static size_t most_sighted(const mst_body *b, uint32_t node) {
    const mst_pieces *p = b->from;
    size_t most = 0;
    for (size_t k = p->node_rays.start[node]; k < p->node_rays.start[node + 1]; k++) {
        const mst_ray *ray = &p->rays[p->node_rays.item[k]];
        if (ray->station != node || b->turn_known[ray->turn]) continue;
        uint32_t seen[3];
        size_t count = 0;
        const mst_lists *of_turn = &p->turn_rays;
        for (size_t i = of_turn->start[ray->turn]; i < of_turn->start[ray->turn + 1] && count < 3; i++) {
            uint32_t target = p->rays[of_turn->item[i]].target;
            bool again = !b->known[target];
            for (size_t j = 0; j < count; j++) again |= seen[j] == target;
            if (!again) seen[count++] = target;
        }
        if (count > most) most = count;
    }
    return most;
}

const char *mst_body_why_open(const mst_body *b, uint32_t node) {
    helper list[HELPERS_MAX];
    size_t count = helpers_of(b, node, list), sighted = most_sighted(b, node);
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++) {
            const char *why = why_apart(b, &list[i], &list[j]);
            if (why) return why;
        }
    if (sighted > 2)
        return "it lies on, or close to, one circle with the points that it sights, and sees them at the same angles "
               "from "
               "everywhere on it; measure a distance to one of them, or sight a point off that circle";
    if (sighted == 2)
        return "it sights two points with a place, which leaves it anywhere on a circle through them; sight a third, "
               "or "
               "measure the distances to both";
    return NULL;
}

/* ---- resection ---- */

/* How far a place is from seeing three points at the angles that were read: the strength of the cut. The station sees
 * them best when it lies far from the circle through them. */
static double clear_of_danger(const mst_point known[3], mst_point at) {
    mst_circle danger;
    if (mst_circle_through(known[0], known[1], known[2], &danger, NULL)) return 1; /* in line: no such circle */
    return fabs(mst_distance(danger.centre, at) / danger.radius_m - 1);
}

static bool try_resection(mst_body *b, uint32_t station, uint32_t turn) {
    const mst_pieces *p = b->from;
    mst_point place[RESECTION_MAX];
    double circle[RESECTION_MAX];
    uint32_t node[RESECTION_MAX];
    size_t count = 0;
    for (size_t k = p->turn_rays.start[turn]; k < p->turn_rays.start[turn + 1] && count < RESECTION_MAX; k++) {
        const mst_ray *ray = &p->rays[p->turn_rays.item[k]];
        bool again = ray->station != station || !b->known[ray->target];
        for (size_t i = 0; i < count; i++) again |= node[i] == ray->target;
        if (again) continue;
        node[count] = ray->target;
        circle[count] = ray->circle;
        place[count++] = (mst_point){b->e[ray->target], b->n[ray->target]};
    }
    double clearest = DANGER_PART;
    mst_point best = {0, 0}, at;
    for (size_t i = 0; i < count; i++)
        for (size_t j = i + 1; j < count; j++)
            for (size_t k = j + 1; k < count; k++) {
                const mst_point known[] = {place[i], place[j], place[k]};
                if (mst_resection(known, (double[]){circle[i], circle[j], circle[k]}, &at, NULL)) continue;
                double clear = clear_of_danger(known, at);
                if (clear > clearest) clearest = clear, best = at;
            }
    if (clearest > DANGER_PART) mst_body_add(b, station, best.easting_m, best.northing_m);
    return clearest > DANGER_PART;
}

static bool resect_from_any_turn(mst_body *b, uint32_t node) {
    const mst_pieces *p = b->from;
    uint32_t tried = MST_NONE;
    for (size_t k = p->node_rays.start[node]; k < p->node_rays.start[node + 1]; k++) {
        const mst_ray *ray = &p->rays[p->node_rays.item[k]];
        if (ray->station != node || ray->turn == tried || b->turn_known[ray->turn]) continue;
        tried = ray->turn;
        if (try_resection(b, node, ray->turn)) return true;
    }
    return false;
}

/* ---- growth ---- */

static void wake_hinges(mst_body *b, uint32_t which, uint32_t node) {
    const mst_piece *piece = &b->from->pieces[which];
    if (b->placed[which] || b->first_known[which] != node || piece->count > HINGE_PIECE_MAX) return;
    for (size_t i = 0; i < piece->count; i++) {
        uint32_t other = b->from->members[piece->first + i].node;
        if (other != node && is_hinge(b->from, other)) wait_for(b, other);
    }
}

static void wake_bonded(mst_body *b, const mst_bond *bond) {
    const uint32_t ends[] = {bond->from, bond->baseline, bond->to, bond->fourth};
    for (int i = 0; i < 4; i++)
        if (ends[i] != MST_NONE) wait_for(b, ends[i]);
}

static void look_at_node(mst_body *b, uint32_t node) {
    const mst_pieces *p = b->from;
    for (size_t k = p->node_bonds.start[node]; k < p->node_bonds.start[node + 1]; k++)
        wake_bonded(b, &p->bonds[p->node_bonds.item[k]]);
    for (size_t k = p->node_pieces.start[node]; k < p->node_pieces.start[node + 1]; k++) {
        uint32_t which = p->node_pieces.item[k];
        if (b->members_known[which]++ == 0) b->first_known[which] = node;
        try_piece(b, which);
        wake_hinges(b, which, node);
    }
    for (size_t k = p->node_rays.start[node]; k < p->node_rays.start[node + 1]; k++)
        look_at_ray(b, &p->rays[p->node_rays.item[k]]);
    for (size_t k = p->node_ties.start[node]; k < p->node_ties.start[node + 1]; k++) {
        const mst_tie *tie = &p->ties[p->node_ties.item[k]];
        wait_for(b, tie->a == node ? tie->b : tie->a);
    }
}

void mst_body_grow(mst_body *b, bool (*enough)(const mst_body *body, void *context), void *context) {
    while (!enough || !enough(b, context)) {
        if (b->seen < b->count) {
            look_at_node(b, b->order[b->seen++]);
        } else if (b->wait_count > 0) {
            uint32_t node = b->wait[b->wait_head];
            b->wait_head = (b->wait_head + 1) % b->from->net->node_count;
            b->wait_count--;
            b->waiting[node] = false;
            if (!b->known[node] && !fix(b, node)) resect_from_any_turn(b, node);
        } else {
            return;
        }
    }
}

/* ---- what ties alone leave mirrored ---- */

static size_t ties_at(const mst_body *b, uint32_t node) {
    return b->from->node_ties.start[node + 1] - b->from->node_ties.start[node];
}

/* Tries the four ways to place the ends of a tie; takes the one that fits when the other three do not. */
static bool settle(mst_body *b, const mst_tie *tie) {
    double first[2][2], second[2][2], length = mst_tie_length(b->from->net, tie), best = HUGE_VAL, next = HUGE_VAL;
    int choice = 0;
    bool a_first = ties_at(b, tie->a) <= ties_at(b, tie->b); /* a point with very many ties is looked at last */
    if (isnan(length)) return false;
    if (a_first && mst_body_mirrored(b, tie->a, first) < 2) return false;
    if (mst_body_mirrored(b, tie->b, second) < 2) return false;
    if (!a_first && mst_body_mirrored(b, tie->a, first) < 2) return false;
    for (int way = 0; way < 4; way++) {
        double off =
            fabs(hypot(first[way & 1][0] - second[way >> 1][0], first[way & 1][1] - second[way >> 1][1]) - length);
        if (off < best) next = best, best = off, choice = way;
        else if (off < next) next = off;
    }
    if (next - best < TELLS_APART_SD * tie->sd || next < TELLS_APART_SD * tie->sd + 2 * best) return false;
    mst_body_add(b, tie->a, first[choice & 1][0], first[choice & 1][1]);
    mst_body_add(b, tie->b, second[choice >> 1][0], second[choice >> 1][1]);
    return true;
}

bool mst_body_settle_mirrored(mst_body *b) {
    const mst_pieces *p = b->from;
    for (size_t i = 0; i < p->tie_count; i++)
        if (!b->known[p->ties[i].a] && !b->known[p->ties[i].b] && settle(b, &p->ties[i])) return true;
    return false;
}

/* ---- how well it fits ---- */

static double misfit_of_piece(const mst_body *b, const mst_piece *piece) {
    double mean[4], rad = turn_of_piece(b, piece, mean), sum = 0;
    if (isnan(rad)) return 0;
    double c = cos(rad), s = sin(rad);
    for (size_t i = 0; i < piece->count; i++) {
        const mst_member *m = &b->from->members[piece->first + i];
        if (!b->known[m->node]) continue;
        double x = m->x - mean[0], y = m->y - mean[1];
        double off = hypot(b->e[m->node] - mean[2] - (x * c + y * s), b->n[m->node] - mean[3] - (y * c - x * s));
        sum += fmin(off * off / (HINGE_SD * HINGE_SD), MISFIT_MAX);
    }
    return sum;
}

double mst_body_misfit(const mst_body *b) {
    const mst_pieces *p = b->from;
    double sum = 0;
    for (size_t i = 0; i < p->tie_count; i++) {
        const mst_tie *tie = &p->ties[i];
        double length = mst_tie_length(p->net, tie);
        if (!b->known[tie->a] || !b->known[tie->b] || isnan(length)) continue;
        double off =
            (hypot(b->e[tie->a] - b->e[tie->b], b->n[tie->a] - b->n[tie->b]) - length) / fmax(tie->sd, APART_M);
        sum += fmin(off * off, MISFIT_MAX);
    }
    for (size_t i = 0; i < p->ray_count; i++) {
        const mst_ray *ray = &p->rays[i];
        if (!b->known[ray->station] || !b->known[ray->target] || !b->turn_known[ray->turn]) continue;
        double e = b->e[ray->target] - b->e[ray->station], n = b->n[ray->target] - b->n[ray->station], d = hypot(e, n);
        if (d < APART_M) continue;
        double off = mst_angle_signed(atan2(e, n) - b->turn[ray->turn] - ray->circle) / hypot(ray->sd, HINGE_SD / d);
        sum += fmin(off * off, MISFIT_MAX);
    }
    for (size_t k = 0; k < p->piece_count; k++)
        if (b->members_known[k] > 2) sum += misfit_of_piece(b, &p->pieces[k]);
    return sum;
}
