#include "drawing/place.h"
#include <math.h>
#include <stdlib.h>

static const double CELL_MM = 8;     /* about the length of a label */
static const double TOUCH_MM = 1e-6; /* boxes that only touch do not overlap */
static const double COST_TIE = 1e-9;
static const double MOVE_COST = 6;           /* what it may cost to move one label aside for another */
static const double LEADER_OVER_SIGN = 3;    /* a leader may run over a sign, but rather not */
static const uint32_t SIGN = UINT32_MAX - 1; /* the owner of what is no label */

typedef struct segment {
    double x0, y0, x1, y1, cost;
    uint32_t seen;
} segment;
typedef struct list {
    uint32_t *items;
    size_t count, capacity;
} list;

struct mst_placer {
    mst_arena *arena;
    mst_rect bounds;
    int columns, rows;
    list *lines, *boxes, *leaders; /* by cell */
    segment *segments;
    size_t segment_count, segment_capacity;
    mst_box *placed;
    size_t placed_count, placed_capacity; /* blocks and labels; a moved label keeps its number */
    uint32_t *owner;
    size_t owner_count, owner_capacity; /* label of each placed box in this run, UINT32_MAX none */
    segment *leader;
    size_t leader_count, leader_capacity; /* cost is the label's number */
    size_t frozen_boxes, frozen_leaders;  /* of earlier runs */
    uint32_t query;
};

/* ---- boxes ---- */

/* Half of the width of b as seen along the direction (x, y). */
static double reach(const mst_box *b, double x, double y) {
    return b->half_w * fabs(b->cos_a * x + b->sin_a * y) + b->half_h * fabs(b->cos_a * y - b->sin_a * x);
}

static bool parted_along(const mst_box *a, const mst_box *b, double x, double y) {
    return fabs((b->x - a->x) * x + (b->y - a->y) * y) >= reach(a, x, y) + reach(b, x, y) - TOUCH_MM;
}

bool mst_boxes_overlap(const mst_box *a, const mst_box *b) {
    return !parted_along(a, b, a->cos_a, a->sin_a) && !parted_along(a, b, -a->sin_a, a->cos_a) &&
           !parted_along(a, b, b->cos_a, b->sin_a) && !parted_along(a, b, -b->sin_a, b->cos_a);
}

/* Clips the parameter range of p + t d to |.| <= half. */
static bool clip(double p, double d, double half, double *t0, double *t1) {
    if (d == 0) return fabs(p) < half;
    double a = (-half - p) / d, b = (half - p) / d;
    *t0 = fmax(*t0, fmin(a, b));
    *t1 = fmin(*t1, fmax(a, b));
    return *t0 < *t1;
}

bool mst_box_meets_segment(const mst_box *box, double x0, double y0, double x1, double y1) {
    double ux = x0 - box->x, uy = y0 - box->y, dx = x1 - x0, dy = y1 - y0, t0 = 0, t1 = 1;
    double u = ux * box->cos_a + uy * box->sin_a, v = uy * box->cos_a - ux * box->sin_a;
    double du = dx * box->cos_a + dy * box->sin_a, dv = dy * box->cos_a - dx * box->sin_a;
    return clip(u, du, box->half_w, &t0, &t1) && clip(v, dv, box->half_h, &t0, &t1);
}

static mst_rect around(const mst_box *b) {
    double w = reach(b, 1, 0), h = reach(b, 0, 1);
    return (mst_rect){b->x - w, b->y - h, 2 * w, 2 * h};
}

/* ---- the grid of cells ---- */

typedef struct cells {
    int c0, r0, c1, r1;
} cells;

static int cell_of(double mm, int count) {
    double i = floor(mm / CELL_MM);
    return i < 0 ? 0 : i >= count ? count - 1 : (int)i;
}

static cells cells_of(const mst_placer *p, mst_rect r) {
    return (cells){cell_of(r.x - p->bounds.x, p->columns), cell_of(r.y - p->bounds.y, p->rows),
                   cell_of(r.x + r.w - p->bounds.x, p->columns), cell_of(r.y + r.h - p->bounds.y, p->rows)};
}

static bool note(mst_placer *p, list *by_cell, mst_rect where, uint32_t item) {
    cells c = cells_of(p, where);
    for (int row = c.r0; row <= c.r1; row++)
        for (int col = c.c0; col <= c.c1; col++) {
            list *l = &by_cell[row * p->columns + col];
            uint32_t *slot = MST_PUSH(p->arena, l->items, l->count, l->capacity);
            if (!slot) return false;
            *slot = item;
        }
    return true;
}

static mst_rect span(double x0, double y0, double x1, double y1) {
    return (mst_rect){fmin(x0, x1), fmin(y0, y1), fabs(x1 - x0), fabs(y1 - y0)};
}

mst_placer *mst_placer_new(mst_rect bounds, mst_arena *arena) {
    mst_placer *p = mst_arena_alloc(arena, sizeof *p);
    if (!p) return NULL;
    p->arena = arena;
    p->bounds = bounds;
    p->columns = (int)ceil(bounds.w / CELL_MM);
    p->rows = (int)ceil(bounds.h / CELL_MM);
    size_t count = (size_t)p->columns * (size_t)p->rows;
    p->lines = mst_arena_array(arena, count, sizeof(list));
    p->boxes = mst_arena_array(arena, count, sizeof(list));
    p->leaders = mst_arena_array(arena, count, sizeof(list));
    return p->lines && p->boxes && p->leaders ? p : NULL;
}

static bool add_piece(mst_placer *p, double x0, double y0, double x1, double y1, double cost) {
    segment *s = MST_PUSH(p->arena, p->segments, p->segment_count, p->segment_capacity);
    if (!s) return false;
    *s = (segment){x0, y0, x1, y1, cost, 0};
    return note(p, p->lines, span(x0, y0, x1, y1), (uint32_t)(p->segment_count - 1));
}

static bool within(mst_rect r, double x0, double y0, double x1, double y1) {
    mst_box box = {r.x + r.w / 2, r.y + r.h / 2, r.w / 2, r.h / 2, 1, 0};
    return mst_box_meets_segment(&box, x0, y0, x1, y1);
}

/* In pieces of a cell's length: one long slanting line would else be noted in every cell of its rectangle. */
bool mst_placer_line(mst_placer *p, double x0, double y0, double x1, double y1, double cost) {
    double pieces = ceil(hypot(x1 - x0, y1 - y0) / CELL_MM);
    if (!(pieces > 0 && pieces < 1e5)) return true;
    for (int i = 0; i < (int)pieces; i++) {
        double a = i / pieces, b = (i + 1) / pieces;
        double ax = x0 + a * (x1 - x0), ay = y0 + a * (y1 - y0), bx = x0 + b * (x1 - x0), by = y0 + b * (y1 - y0);
        if (within(p->bounds, ax, ay, bx, by) && !add_piece(p, ax, ay, bx, by, cost)) return false;
    }
    return true;
}

static bool take(mst_placer *p, mst_box box, uint32_t owner) {
    mst_box *slot = MST_PUSH(p->arena, p->placed, p->placed_count, p->placed_capacity);
    uint32_t *own = slot ? MST_PUSH(p->arena, p->owner, p->owner_count, p->owner_capacity) : NULL;
    if (!own) return false;
    *slot = box;
    *own = owner;
    return note(p, p->boxes, around(&box), (uint32_t)(p->placed_count - 1));
}

bool mst_placer_block(mst_placer *p, mst_box box) { return take(p, box, SIGN); }

/* ---- what a choice costs, and what stands in its way ---- */

static bool inside(mst_rect r, mst_rect in) {
    return r.x >= in.x && r.y >= in.y && r.x + r.w <= in.x + in.w && r.y + r.h <= in.y + in.h;
}

static double line_cost(mst_placer *p, const mst_box *box) {
    cells c = cells_of(p, around(box));
    double cost = 0;
    p->query++;
    for (int row = c.r0; row <= c.r1; row++)
        for (int col = c.c0; col <= c.c1; col++) {
            const list *l = &p->lines[row * p->columns + col];
            for (size_t i = 0; i < l->count; i++) {
                segment *s = &p->segments[l->items[i]];
                if (s->seen == p->query) continue;
                s->seen = p->query;
                if (mst_box_meets_segment(box, s->x0, s->y0, s->x1, s->y1)) cost += s->cost;
            }
        }
    return cost;
}

enum { FREE = -1, BLOCKED = -2 }; /* else the one label in the way */

/* Adds one more thing in the way to the verdict so far. */
static int64_t worse(int64_t verdict, uint32_t owner, uint32_t self) {
    if (owner == self || verdict == BLOCKED) return verdict;
    if (owner >= SIGN) return BLOCKED;
    return verdict == FREE || verdict == owner ? (int64_t)owner : BLOCKED;
}

static bool stands_in(const mst_choice *c, const mst_box *box) {
    return mst_boxes_overlap(&c->box, box) || (c->leader && mst_box_meets_segment(box, c->x0, c->y0, c->x1, c->y1));
}

static double turn(double ax, double ay, double bx, double by, double cx, double cy) {
    return (bx - ax) * (cy - ay) - (by - ay) * (cx - ax);
}

static bool segments_cross(const mst_choice *c, const segment *s) {
    return turn(c->x0, c->y0, c->x1, c->y1, s->x0, s->y0) * turn(c->x0, c->y0, c->x1, c->y1, s->x1, s->y1) < 0 &&
           turn(s->x0, s->y0, s->x1, s->y1, c->x0, c->y0) * turn(s->x0, s->y0, s->x1, s->y1, c->x1, c->y1) < 0;
}

static mst_rect choice_span(const mst_choice *c) {
    mst_rect r = around(&c->box);
    if (!c->leader) return r;
    double x0 = fmin(r.x, fmin(c->x0, c->x1)), y0 = fmin(r.y, fmin(c->y0, c->y1));
    return (mst_rect){x0, y0, fmax(r.x + r.w, fmax(c->x0, c->x1)) - x0, fmax(r.y + r.h, fmax(c->y0, c->y1)) - y0};
}

static int64_t in_the_way(const mst_placer *p, const mst_choice *choice, uint32_t self) {
    cells c = cells_of(p, choice_span(choice));
    int64_t verdict = FREE;
    for (int row = c.r0; row <= c.r1 && verdict != BLOCKED; row++)
        for (int col = c.c0; col <= c.c1 && verdict != BLOCKED; col++) {
            const list *boxes = &p->boxes[row * p->columns + col], *leaders = &p->leaders[row * p->columns + col];
            for (size_t i = 0; i < boxes->count; i++)
                if (p->owner[boxes->items[i]] == SIGN ? mst_boxes_overlap(&choice->box, &p->placed[boxes->items[i]])
                                                      : stands_in(choice, &p->placed[boxes->items[i]]))
                    verdict = worse(verdict, p->owner[boxes->items[i]], self);
            for (size_t i = 0; i < leaders->count; i++) {
                const segment *s = &p->leader[leaders->items[i]];
                if (mst_box_meets_segment(&choice->box, s->x0, s->y0, s->x1, s->y1) ||
                    (choice->leader && segments_cross(choice, s)))
                    verdict = worse(verdict, s->seen, self);
            }
        }
    return verdict;
}

/* ---- one run ---- */

typedef struct run {
    mst_placer *placer;
    mst_placing *labels;
    size_t count;
    uint32_t *box, *leader; /* of each label: its number in placed and leader, UINT32_MAX none */
    uint32_t *order;
} run;

/* What the signs under its leader add. One sign may count in two cells: that only makes it dearer. */
static double sign_cost(const mst_placer *p, const mst_choice *c) {
    if (!c->leader) return 0;
    cells in = cells_of(p, span(c->x0, c->y0, c->x1, c->y1));
    double cost = 0;
    for (int row = in.r0; row <= in.r1; row++)
        for (int col = in.c0; col <= in.c1; col++) {
            const list *l = &p->boxes[row * p->columns + col];
            for (size_t i = 0; i < l->count; i++)
                if (p->owner[l->items[i]] == SIGN &&
                    mst_box_meets_segment(&p->placed[l->items[i]], c->x0, c->y0, c->x1, c->y1))
                    cost += LEADER_OVER_SIGN;
        }
    return cost;
}

/* Costs of lines count once; afterwards a choice outside the sheet or above the limit is out of reach. */
static void price(mst_placer *p, mst_placing *label) {
    for (size_t i = 0; i < label->count; i++) {
        mst_choice *c = &label->choices[i];
        c->crossing = line_cost(p, &c->box);
        c->cost = inside(around(&c->box), p->bounds) ? c->cost + c->crossing + sign_cost(p, c) : HUGE_VAL;
        if (c->cost > label->limit) c->cost = HUGE_VAL;
    }
}

static bool settle(run *r, uint32_t self, int chosen) {
    mst_placer *p = r->placer;
    const mst_choice *c = &r->labels[self].choices[chosen];
    r->labels[self].chosen = chosen;
    if (r->box[self] == UINT32_MAX) {
        if (!take(p, c->box, self)) return false;
        r->box[self] = (uint32_t)(p->placed_count - 1);
    } else {
        p->placed[r->box[self]] = c->box;
        if (!note(p, p->boxes, around(&c->box), r->box[self])) return false;
    }
    if (r->leader[self] != UINT32_MAX) p->leader[r->leader[self]] = (segment){0};
    r->leader[self] = UINT32_MAX;
    if (!c->leader) return true;
    segment *s = MST_PUSH(p->arena, p->leader, p->leader_count, p->leader_capacity);
    if (!s) return false;
    *s = (segment){c->x0, c->y0, c->x1, c->y1, 0, self};
    r->leader[self] = (uint32_t)(p->leader_count - 1);
    return note(p, p->leaders, span(c->x0, c->y0, c->x1, c->y1), r->leader[self]);
}

/* @return the cheapest free choice, -1 if none */
static int cheapest_free(const run *r, uint32_t self) {
    const mst_placing *label = &r->labels[self];
    int best = -1;
    for (size_t i = 0; i < label->count; i++) {
        double cost = label->choices[i].cost;
        if (cost == HUGE_VAL || (best >= 0 && cost >= label->choices[best].cost - COST_TIE)) continue;
        if (in_the_way(r->placer, &label->choices[i], self) == FREE) best = (int)i;
    }
    return best;
}

/* True when the two choices would lie on each other, or their leaders cross. */
static bool in_conflict(const mst_choice *a, const mst_choice *b) {
    segment leader = {a->x0, a->y0, a->x1, a->y1, 0, 0};
    return stands_in(a, &b->box) || stands_in(b, &a->box) || (a->leader && b->leader && segments_cross(b, &leader));
}

typedef struct swap {
    int mine, theirs;
    uint32_t other;
    double cost;
} swap;

/* Looks for the cheapest place to which @p other could go to leave @p mine free, at no more than MOVE_COST. */
static void consider(const run *r, uint32_t self, int mine, uint32_t other, swap *best) {
    const mst_choice *wanted = &r->labels[self].choices[mine];
    const mst_placing *label = &r->labels[other];
    double now = label->choices[label->chosen].cost;
    for (size_t i = 0; i < label->count; i++) {
        const mst_choice *c = &label->choices[i];
        double cost = wanted->cost + c->cost - now;
        if ((int)i == label->chosen || c->cost > now + MOVE_COST || cost >= best->cost - COST_TIE) continue;
        if (in_conflict(wanted, c) || in_the_way(r->placer, c, other) != FREE) continue;
        *best = (swap){mine, (int)i, other, cost};
    }
}

static bool place_one(run *r, uint32_t self) {
    int best = cheapest_free(r, self);
    return best < 0 || settle(r, self, best);
}

/* Moves one label aside where that lets a dropped one in. */
static bool squeeze_in(run *r, uint32_t self) {
    swap best = {.mine = -1, .cost = HUGE_VAL};
    for (size_t i = 0; i < r->labels[self].count; i++) {
        const mst_choice *c = &r->labels[self].choices[i];
        int64_t other = c->cost == HUGE_VAL ? BLOCKED : in_the_way(r->placer, c, self);
        if (other >= 0) consider(r, self, (int)i, (uint32_t)other, &best);
    }
    return best.mine < 0 || (settle(r, best.other, best.theirs) && settle(r, self, best.mine));
}

/* Labels in order of priority, then as they came: a stable order, so that the same input gives the same sheet. */
static void sort_by_priority(run *r) {
    size_t done = 0;
    for (int priority = INT32_MAX; done < r->count;) {
        int next = INT32_MIN;
        for (size_t i = 0; i < r->count; i++) {
            if (r->labels[i].priority == priority) r->order[done++] = (uint32_t)i;
            if (r->labels[i].priority < priority && r->labels[i].priority > next) next = r->labels[i].priority;
        }
        priority = next;
    }
}

/* What this run has placed stays for the runs to come, and belongs to nobody. */
static void freeze(mst_placer *p) {
    for (; p->frozen_boxes < p->owner_count; p->frozen_boxes++)
        if (p->owner[p->frozen_boxes] != SIGN) p->owner[p->frozen_boxes] = UINT32_MAX;
    for (; p->frozen_leaders < p->leader_count; p->frozen_leaders++) p->leader[p->frozen_leaders].seen = UINT32_MAX;
}

bool mst_placer_run(mst_placer *p, mst_placing labels[], size_t count) {
    run r = {p,
             labels,
             count,
             mst_arena_array(p->arena, count, sizeof(uint32_t)),
             mst_arena_array(p->arena, count, sizeof(uint32_t)),
             mst_arena_array(p->arena, count, sizeof(uint32_t))};
    if (!r.box || !r.leader || !r.order) return false;
    for (size_t i = 0; i < count; i++) {
        labels[i].chosen = -1;
        r.box[i] = r.leader[i] = UINT32_MAX;
        price(p, &labels[i]);
    }
    sort_by_priority(&r);
    for (size_t i = 0; i < count; i++)
        if (!place_one(&r, r.order[i])) return false;
    for (size_t i = 0; i < count; i++)
        if (labels[r.order[i]].chosen < 0 && !squeeze_in(&r, r.order[i])) return false;
    freeze(p);
    return true;
}
