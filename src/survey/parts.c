/* What growth from the datum does not reach is grown by itself and then laid where it fits: a net of tapes that meets
 * the given points only far apart, a shape of angles without a length, visits that hang together like a gate on its
 * hinges. Where a place and its mirror image are both possible, each is tried to its end. */
#include "survey/parts.h"
#include <math.h>
#include <string.h>

enum { SIDES_TRIED_MAX = 24, PARTS_TRIED_MAX = 40 }; /* each costs a look at every reading */
static const double APART_M = 1e-3;                  /* points closer than this give no direction */
static const double TELLS = 40;                      /* squared sd by which one side must fit better than the other */
static const double LAID_SD_M = 0.05;                /* first places are good to a few cm */
static const double LAID_MAX = 100;                  /* squared sd; what one common point can say at most */
static const double UNIT_M = 100;                    /* the first line of a shape without a size */
static const double STRETCH_MAX = 1e4;               /* a shape that must be stretched more says nothing */

/* Turn, scale and shift that carry a part onto the root over their common points. */
typedef struct laying {
    size_t count;
    double part[2], root[2]; /* means */
    double along, across, squares, rad, scale, misfit;
} laying;

static laying lay(const mst_body *part, const mst_body *root, bool stretch) {
    laying l = {.scale = 1};
    for (size_t i = 0; i < part->count; i++) {
        uint32_t node = part->order[i];
        if (!root->known[node]) continue;
        double share = 1 / (double)++l.count;
        l.part[0] += (part->e[node] - l.part[0]) * share;
        l.part[1] += (part->n[node] - l.part[1]) * share;
        l.root[0] += (root->e[node] - l.root[0]) * share;
        l.root[1] += (root->n[node] - l.root[1]) * share;
    }
    for (size_t i = 0; i < part->count; i++) {
        uint32_t node = part->order[i];
        if (!root->known[node]) continue;
        double x = part->e[node] - l.part[0], y = part->n[node] - l.part[1];
        double e = root->e[node] - l.root[0], n = root->n[node] - l.root[1];
        l.along += x * e + y * n;
        l.across += y * e - x * n;
        l.squares += x * x + y * y;
    }
    l.rad = atan2(l.across, l.along); /* e = x cos + y sin, n = y cos - x sin */
    if (stretch && l.squares > 0) l.scale = hypot(l.along, l.across) / l.squares;
    return l;
}

static void place_of(const laying *l, const mst_body *part, uint32_t node, double *e, double *n) {
    double x = (part->e[node] - l->part[0]) * l->scale, y = (part->n[node] - l->part[1]) * l->scale;
    double c = cos(l->rad), s = sin(l->rad);
    *e = l->root[0] + x * c + y * s;
    *n = l->root[1] + y * c - x * s;
}

static double misfit_of(const laying *l, const mst_body *part, const mst_body *root) {
    double sum = 0;
    for (size_t i = 0; i < part->count; i++) {
        uint32_t node = part->order[i];
        double e, n;
        if (!root->known[node]) continue;
        place_of(l, part, node, &e, &n);
        double off = hypot(e - root->e[node], n - root->n[node]) / LAID_SD_M;
        sum += fmin(off * off, LAID_MAX);
    }
    return sum;
}

static bool brings_news(const mst_body *part, const mst_body *root) {
    for (size_t i = 0; i < part->count; i++)
        if (!root->known[part->order[i]]) return true;
    return false;
}

static void carry(const laying *l, const mst_body *part, mst_body *root) {
    for (size_t i = 0; i < part->count; i++) {
        double e, n;
        place_of(l, part, part->order[i], &e, &n);
        mst_body_add(root, part->order[i], e, n);
    }
    for (size_t i = 0; i < part->turn_count; i++)
        mst_body_add_turn(root, part->turn_order[i], mst_angle_signed(part->turn[part->turn_order[i]] + l->rad));
}

/* ---- tapes ---- */

/* Grows from one tie; the first point that lies on either side goes to the given one. */
static void grow_from_tie(mst_body *part, const mst_tie *tie, int side) {
    double place[2][2];
    mst_body_clear(part);
    mst_body_add(part, tie->a, 0, 0);
    mst_body_add(part, tie->b, 0, mst_tie_length(part->from->net, tie));
    mst_body_grow(part, NULL, NULL);
    for (uint32_t i = 0; i < part->from->net->node_count && part->count == 2; i++)
        if (!part->known[i] && mst_body_mirrored(part, i, place) == 2)
            mst_body_add(part, i, place[side][0], place[side][1]);
    do mst_body_grow(part, NULL, NULL);
    while (mst_body_settle_mirrored(part));
}

/* Both sides of one tie; lays the side that fits. */
static bool try_tie(mst_body *root, mst_body *part, const mst_tie *tie, bool tried[]) {
    double misfit[2];
    laying at[2];
    for (int side = 1; side >= 0; side--) {
        grow_from_tie(part, tie, side);
        at[side] = lay(part, root, false);
        misfit[side] = mst_body_misfit(part) + misfit_of(&at[side], part, root);
    }
    for (size_t i = 0; i < part->count; i++) tried[part->order[i]] = true;
    if (at[0].count < 2 || !brings_news(part, root) || fabs(misfit[0] - misfit[1]) < TELLS) return false;
    int best = misfit[0] < misfit[1] ? 0 : 1;
    if (best == 1) grow_from_tie(part, tie, 1);
    carry(&at[best], part, root);
    return true;
}

bool mst_parts_from_tapes(mst_body *root, mst_body *part) {
    const mst_pieces *p = root->from;
    bool *tried = mst_arena_array(p->arena, p->net->node_count + 1, sizeof *tried);
    if (!tried) return false;
    int parts = 0;
    for (size_t i = 0; i < p->tie_count && parts < PARTS_TRIED_MAX; i++) {
        const mst_tie *tie = &p->ties[i];
        if (root->known[tie->a] && root->known[tie->b]) continue;
        if ((tried[tie->a] && tried[tie->b]) || !(mst_tie_length(p->net, tie) > APART_M)) continue;
        parts++;
        if (try_tie(root, part, tie, tried)) return true;
    }
    return false;
}

/* ---- directions ---- */

bool mst_parts_from_directions(mst_body *root, mst_body *shape) {
    const mst_pieces *p = shape->from;
    bool *tried = mst_arena_array(p->arena, p->turn_count + 1, sizeof *tried);
    int parts = 0;
    for (size_t i = 0; tried && i < p->ray_count && parts < PARTS_TRIED_MAX; i++) {
        const mst_ray *ray = &p->rays[i];
        if (tried[ray->turn] || root->turn_known[ray->turn]) continue;
        parts++;
        mst_body_clear(shape);
        mst_body_add(shape, ray->station, 0, 0);
        mst_body_add(shape, ray->target, UNIT_M * sin(ray->circle), UNIT_M * cos(ray->circle));
        mst_body_add_turn(shape, ray->turn, 0);
        mst_body_grow(shape, NULL, NULL);
        for (size_t k = 0; k < shape->turn_count; k++) tried[shape->turn_order[k]] = true;
        laying at = lay(shape, root, true);
        if (at.count < 2 || !(at.squares > APART_M * APART_M) || !brings_news(shape, root)) continue;
        if (!(at.scale > 1 / STRETCH_MAX && at.scale < STRETCH_MAX)) continue;
        carry(&at, shape, root);
        return true;
    }
    return false;
}

/* ---- sides ---- */

static double grow_with(mst_body *body, const mst_body *root, uint32_t node, const double at[2]) {
    mst_body_copy(body, root);
    mst_body_add(body, node, at[0], at[1]);
    do mst_body_grow(body, NULL, NULL);
    while (mst_body_settle_mirrored(body));
    return mst_body_misfit(body);
}

bool mst_parts_settle_sides(mst_body *root, mst_body *right, mst_body *left) {
    int tried = 0;
    for (uint32_t node = 0; node < root->from->net->node_count && tried < SIDES_TRIED_MAX; node++) {
        double place[2][2];
        if (root->known[node] || mst_body_mirrored(root, node, place) < 2) continue;
        tried++;
        double a = grow_with(right, root, node, place[0]), b = grow_with(left, root, node, place[1]);
        if (fabs(a - b) < TELLS) continue;
        mst_body_copy(root, a < b ? right : left);
        return true;
    }
    return false;
}
