/* Cheapest levels by a primal-dual interior point method (Mehrotra, SIAM J. Optimization 2 (1992) 575-601).
 *
 * All costs are hinges on rows of up to three neighbouring nodes, so a hinge's own two amounts and its multiplier leave
 * the step's equations one by one, and what remains is a symmetric matrix on the heights with the pattern of the mesh:
 * a grid's Laplacian with weights, which a sparse factor takes. The balance of cut and fill, dense as a row, is one
 * multiplier more (the worth of a cubic metre) around that factor. Every row gives a little and every node holds a
 * little (M. P. Friedlander and D. Orban, Math. Programming Computation 4 (2012) 71-107), so that rows that must be met
 * exactly, redundant ones too, and nodes that nothing holds do no harm. */
#include "works/grade.h"
#include <math.h>
#include <string.h>

enum { MOST_STEPS = 120, MOST_IDLE = 12, REFINEMENTS = 2, MOST_CORRECTORS = 4 };
static const double START_M = 0.3;            /* first guess of how far rows are from their limits */
static const double GIVE = 1e-8, REST = 1e-9; /* metres that a row gives, and pull that a node holds, for each unit
                                                  of the step: what they leave undone the next step takes up */
static const double SHORT_OF_WALL = 0.9995;   /* of the way to the nearest limit */
static const double CENTRE = 0.1, LONGER = 0.2, LONG_ENOUGH = 0.9, LEAST_GAIN = 0.1; /* of the centring correctors */
static const double GAP = 2e-10;     /* relative gap of cost to its bound at which the search is over */
static const double GOOD_GAP = 1e-7; /* and that is good enough when no more can be had */
static const double MET_M = 1e-9, MET_WELL_ENOUGH_M = 1e-7; /* rows missed by less are met */
static const double RANGE_M = 100; /* levels are sought within this of the ground, for the bound alone */

typedef struct amount { /* import or cart-away: bounded multiplier and amount */
    double at, s, d, ds, r, price;
} amount;

typedef struct interior {
    const mst_grade_mesh *mesh;
    mst_hinges h;
    mst_sparse *m;
    size_t n;
    double *z, *dz, *rhs, *off, *lean, *lean_solved, *row_weight, *try, *rest;
    bool balance;
    double worth, dworth, unbalanced;
    amount in, out;
    double scale, mu, least;
    size_t pairs;
    struct kept { /* a state that is good enough, in case that rounding spoils the ones after it */
        mst_hinge *items;
        double *z, worth, gap;
    } kept, before;
    mst_arena *arena;
    mst_error *error;
} interior;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static double value_of(const mst_grade_row *r, const double x[]) {
    double sum = 0;
    for (int i = 0; i < r->count; i++) sum += r->factor[i] * x[r->node[i]];
    return sum;
}

static void spread(const mst_grade_row *r, double by, double x[]) {
    for (int i = 0; i < r->count; i++) x[r->node[i]] += by * r->factor[i];
}

static double smaller_of(double a, double b) { return a < b ? a : b; }

/* ---- the start ---- */

static bool add_node_rows(interior *p) {
    for (uint32_t i = 0; i < p->n; i++) {
        mst_grade_row *to = MST_PUSH(p->arena, p->h.rows, p->h.row_count, p->h.row_capacity);
        if (!to) return false;
        *to = (mst_grade_row){{i}, {1}, 1};
    }
    return true;
}

/* Prices of a node's cut and fill by the metre, all costs divided by the mean of them. */
static bool add_node_hinges(interior *p) {
    const mst_grade_mesh *m = p->mesh;
    const mst_grade_prices *price = &m->in->prices;
    double sum = 0;
    for (size_t i = 0; i < p->n; i++)
        sum += m->area[i] * (price->cut + price->fill + 1e-3 * (price->import + price->cart_away));
    p->scale = sum > 0 ? sum / (2 * (double)p->n) : 1;
    for (uint32_t i = 0; i < p->n; i++) {
        mst_hinge *to = MST_PUSH(p->arena, p->h.items, p->h.count, p->h.capacity);
        if (!to) return false;
        double a = m->area[i] / p->scale, least = m->area[i] > 0 ? 0 : 1e-3; /* what has no area stays where it is */
        *to = (mst_hinge){.row = i,
                          .sides = MST_HINGE_BELOW | MST_HINGE_ABOVE,
                          .price_below = a * price->cut + least,
                          .price_above = a * price->fill + least,
                          .per_cut = a * m->in->compacted,
                          .per_fill = a};
    }
    p->in.price = price->import, p->out.price = price->cart_away / m->in->compacted;
    p->balance = p->in.price + p->out.price > 0;
    return true;
}

/* The worth of soil with which neither cutting nor filling is free, if there is one. */
static void start_worth(interior *p) {
    const mst_grade_prices *price = &p->mesh->in->prices;
    double low = fmax(-p->out.price, -price->fill), high = fmin(p->in.price, price->cut / p->mesh->in->compacted);
    if (!(low < high)) low = -p->out.price, high = p->in.price;
    p->worth = low + 0.5 * (high - low);
    p->in.s = p->in.price - p->worth, p->out.s = p->worth + p->out.price;
}

static void start_hinge(interior *p, mst_hinge *h) {
    bool below = h->sides & MST_HINGE_BELOW, above = h->sides & MST_HINGE_ABOVE;
    double off = value_of(&p->h.rows[h->row], p->z) - h->at;
    double low = -(h->price_below - h->per_cut * p->worth), high = h->price_above + h->per_fill * p->worth;
    if (below && above) {
        h->y = low < 0 && high > 0 && smaller_of(-low, high) > 0.05 * (high - low) ? 0 : low + (high - low) / 2;
        h->s_below = h->y - low, h->s_above = high - h->y;
        h->below = fmax(-off, 0) + START_M, h->above = fmax(off, 0) + START_M;
    } else if (below) {
        h->below = fmax(-off, START_M);
        h->s_below = h->y = START_M / h->below * 0.3;
    } else if (above) {
        h->above = fmax(off, START_M);
        h->s_above = START_M / h->above * 0.3;
        h->y = -h->s_above;
    } else h->y = 0;
    p->pairs += (size_t)(below + above);
}

static void start_balance(interior *p) {
    double surplus = 0;
    for (size_t k = 0; k < p->n; k++)
        surplus += p->h.items[k].per_cut * p->h.items[k].below - p->h.items[k].per_fill * p->h.items[k].above;
    double some = START_M * (double)p->n * 0.1;
    p->in.at = fmax(-surplus, 0) + some, p->out.at = fmax(surplus, 0) + some;
    p->pairs += 2;
}

static mst_status make_matrix(interior *p) {
    size_t rows = p->h.row_count;
    uint32_t *start = mst_arena_array(p->arena, rows + 1, sizeof *start);
    uint32_t *columns = mst_arena_array(p->arena, 3 * rows + 1, sizeof *columns);
    double(*place)[2] = mst_arena_array(p->arena, p->n + 1, sizeof *place);
    if (!start || !columns || !place) return no_memory(p->error);
    for (size_t i = 0; i < p->n; i++)
        place[i][0] = p->mesh->in->nodes[i].easting_m, place[i][1] = p->mesh->in->nodes[i].northing_m;
    uint32_t at = 0;
    for (size_t r = 0; r < rows; r++) {
        start[r] = at;
        for (int i = 0; i < p->h.rows[r].count; i++) columns[at++] = p->h.rows[r].node[i];
    }
    start[rows] = at;
    return mst_sparse_analyse_placed(p->n, rows, start, columns, (const double(*)[2])place, p->arena, &p->m, p->error);
}

static bool make_room(const interior *p, struct kept *k) {
    k->items = mst_arena_array(p->arena, p->h.count + 1, sizeof *k->items);
    k->z = mst_arena_array(p->arena, p->n + 1, sizeof *k->z);
    return k->items && k->z;
}

static mst_status begin(interior *p, const bool wanted[], bool priced) {
    p->h.arena = p->arena;
    p->n = p->mesh->in->node_count;
    p->scale = 1;
    double **vectors[] = {&p->z, &p->dz, &p->rhs, &p->off, &p->lean, &p->lean_solved, &p->try, &p->rest};
    for (size_t i = 0; i < sizeof vectors / sizeof *vectors; i++)
        if (!(*vectors[i] = mst_arena_array(p->arena, p->n + 1, sizeof(double)))) return no_memory(p->error);
    if (!add_node_rows(p) || (priced && !add_node_hinges(p))) return no_memory(p->error);
    mst_hinges_of_wishes(p->mesh, wanted, !priced, &p->h);
    p->row_weight = mst_arena_array(p->arena, p->h.row_count + 1, sizeof *p->row_weight);
    if (p->h.failed || !p->row_weight) return no_memory(p->error);
    if (p->balance) start_worth(p);
    for (size_t k = 0; k < p->h.count; k++) start_hinge(p, &p->h.items[k]);
    if (p->balance) start_balance(p);
    return make_room(p, &p->before) ? make_matrix(p) : no_memory(p->error);
}

/* ---- residuals ---- */

typedef struct state {
    double missed_m, pull, gap, cost;
} state;

static state look(interior *p) {
    state s = {0};
    double sum = 0;
    memset(p->off, 0, p->n * sizeof *p->off);
    p->unbalanced = p->balance ? -(p->in.at - p->out.at) : 0;
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        h->residual = -(value_of(&p->h.rows[h->row], p->z) - h->at - h->above + h->below);
        s.missed_m = fmax(s.missed_m, fabs(h->residual));
        spread(&p->h.rows[h->row], -h->y, p->off);
        p->unbalanced -= h->per_cut * h->below - h->per_fill * h->above;
        sum += h->below * h->s_below + h->above * h->s_above;
        s.cost += h->price_below * h->below + h->price_above * h->above;
    }
    if (p->balance) {
        sum += p->in.at * p->in.s + p->out.at * p->out.s;
        s.cost += p->in.price * p->in.at + p->out.price * p->out.at;
    }
    for (size_t i = 0; i < p->n; i++) s.pull = fmax(s.pull, fabs(p->off[i]));
    p->mu = p->pairs ? sum / (double)p->pairs : 0;
    s.gap = sum / (1e-3 + fabs(s.cost));
    return s;
}

/* ---- one step ---- */

static void weigh(interior *p) {
    memset(p->row_weight, 0, p->h.row_count * sizeof *p->row_weight);
    memset(p->lean, 0, p->n * sizeof *p->lean);
    for (size_t i = 0; i < p->n; i++) p->row_weight[i] = REST;
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        double below = h->sides & MST_HINGE_BELOW ? h->below / h->s_below : 0;
        double above = h->sides & MST_HINGE_ABOVE ? h->above / h->s_above : 0;
        h->weight = 1 / (below + above + GIVE);
        p->row_weight[h->row] += h->weight;
        double by = h->per_fill * above + h->per_cut * below;
        if (by != 0) spread(&p->h.rows[h->row], h->weight * by, p->lean);
    }
    mst_sparse_clear(p->m);
    for (size_t r = 0; r < p->h.row_count; r++) mst_sparse_add(p->m, r, p->h.rows[r].factor, p->row_weight[r]);
}

/* x := M^-1 x, refined against what the factor's rounding left. */
static void solve(interior *p, double x[]) {
    memcpy(p->try, x, p->n * sizeof *x);
    mst_sparse_solve(p->m, x);
    for (int round = 0; round < REFINEMENTS; round++) {
        memcpy(p->rest, p->try, p->n * sizeof *x);
        for (size_t r = 0; r < p->h.row_count; r++)
            spread(&p->h.rows[r], -p->row_weight[r] * value_of(&p->h.rows[r], x), p->rest);
        mst_sparse_solve(p->m, p->rest);
        for (size_t i = 0; i < p->n; i++) x[i] += p->rest[i];
    }
}

static double dot(const double a[], const double b[], size_t n) {
    double sum = 0;
    for (size_t i = 0; i < n; i++) sum += a[i] * b[i];
    return sum;
}

/* How far the hinge's own amounts ask its row to move. */
static double asked(const mst_hinge *h) {
    double ask = h->residual;
    if (h->sides & MST_HINGE_ABOVE) ask += h->r_above / h->s_above;
    if (h->sides & MST_HINGE_BELOW) ask -= h->r_below / h->s_below;
    return ask;
}

static void back_substitute(interior *p) {
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        double below = h->sides & MST_HINGE_BELOW ? h->below / h->s_below : 0;
        double above = h->sides & MST_HINGE_ABOVE ? h->above / h->s_above : 0;
        double by = h->per_fill * above + h->per_cut * below;
        h->dy = h->weight * (value_of(&p->h.rows[h->row], p->dz) - asked(h) + by * p->dworth);
        if (h->sides & MST_HINGE_BELOW) {
            h->ds_below = h->dy - h->per_cut * p->dworth;
            h->d_below = h->r_below / h->s_below - below * h->ds_below;
        }
        if (h->sides & MST_HINGE_ABOVE) {
            h->ds_above = -h->dy + h->per_fill * p->dworth;
            h->d_above = h->r_above / h->s_above - above * h->ds_above;
        }
    }
    if (!p->balance) return;
    p->in.ds = -p->dworth, p->out.ds = p->dworth;
    p->in.d = (p->in.r - p->in.at * p->in.ds) / p->in.s;
    p->out.d = (p->out.r - p->out.at * p->out.ds) / p->out.s;
}

/* The direction for the complementarity residuals r that stand in the hinges. */
static void direct(interior *p) {
    double right = p->unbalanced, own = 0;
    memcpy(p->dz, p->off, p->n * sizeof *p->dz);
    for (size_t k = 0; k < p->h.count; k++) {
        const mst_hinge *h = &p->h.items[k];
        double ask = asked(h);
        spread(&p->h.rows[h->row], h->weight * ask, p->dz);
        if (!(h->per_fill > 0)) continue;
        double below = h->below / h->s_below, above = h->above / h->s_above;
        double by = h->per_fill * above + h->per_cut * below, apart = h->per_cut - h->per_fill;
        right -= h->per_cut * h->r_below / h->s_below - h->per_fill * h->r_above / h->s_above + by * h->weight * ask;
        own += h->weight * below * above * apart * apart;
    }
    solve(p, p->dz);
    p->dworth = 0;
    if (p->balance) {
        right += -p->in.r / p->in.s + p->out.r / p->out.s;
        own += p->in.at / p->in.s + p->out.at / p->out.s;
        p->dworth = (right + dot(p->lean, p->dz, p->n)) / (own + dot(p->lean, p->lean_solved, p->n));
        for (size_t i = 0; i < p->n; i++) p->dz[i] -= p->lean_solved[i] * p->dworth;
    }
    back_substitute(p);
}

static void keep_positive(double x, double dx, double *most) {
    if (dx < 0) *most = fmin(*most, -x / dx);
}

static void how_far(const interior *p, double *primal, double *dual) {
    *primal = *dual = 1e30;
    for (size_t k = 0; k < p->h.count; k++) {
        const mst_hinge *h = &p->h.items[k];
        if (h->sides & MST_HINGE_BELOW)
            keep_positive(h->below, h->d_below, primal), keep_positive(h->s_below, h->ds_below, dual);
        if (h->sides & MST_HINGE_ABOVE)
            keep_positive(h->above, h->d_above, primal), keep_positive(h->s_above, h->ds_above, dual);
    }
    const amount *both[] = {&p->in, &p->out};
    for (int i = 0; i < 2 && p->balance; i++)
        keep_positive(both[i]->at, both[i]->d, primal), keep_positive(both[i]->s, both[i]->ds, dual);
}

static double mu_after(const interior *p, double primal, double dual) {
    double sum = 0;
    for (size_t k = 0; k < p->h.count; k++) {
        const mst_hinge *h = &p->h.items[k];
        if (h->sides & MST_HINGE_BELOW) sum += (h->below + primal * h->d_below) * (h->s_below + dual * h->ds_below);
        if (h->sides & MST_HINGE_ABOVE) sum += (h->above + primal * h->d_above) * (h->s_above + dual * h->ds_above);
    }
    const amount *both[] = {&p->in, &p->out};
    for (int i = 0; i < 2 && p->balance; i++)
        sum += (both[i]->at + primal * both[i]->d) * (both[i]->s + dual * both[i]->ds);
    return p->pairs ? sum / (double)p->pairs : 0;
}

/* @param centre  mu to aim at. @param second  counts the last direction's product in: Mehrotra's corrector */
static void set_residuals(interior *p, double centre, bool second) {
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        h->r_below = centre - h->below * h->s_below - (second ? h->d_below * h->ds_below : 0);
        h->r_above = centre - h->above * h->s_above - (second ? h->d_above * h->ds_above : 0);
    }
    amount *both[] = {&p->in, &p->out};
    for (int i = 0; i < 2; i++)
        both[i]->r = centre - both[i]->at * both[i]->s - (second ? both[i]->d * both[i]->ds : 0);
}

static void move(interior *p, double primal, double dual) {
    for (size_t i = 0; i < p->n; i++) p->z[i] += primal * p->dz[i];
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        h->y += dual * h->dy;
        if (h->sides & MST_HINGE_BELOW) h->below += primal * h->d_below, h->s_below += dual * h->ds_below;
        if (h->sides & MST_HINGE_ABOVE) h->above += primal * h->d_above, h->s_above += dual * h->ds_above;
    }
    if (!p->balance) return;
    p->worth += dual * p->dworth;
    p->in.at += primal * p->in.d, p->in.s += dual * p->in.ds;
    p->out.at += primal * p->out.d, p->out.s += dual * p->out.ds;
}

typedef struct lengths {
    double primal, dual;
} lengths;

static lengths lengths_of(const interior *p) {
    lengths l;
    how_far(p, &l.primal, &l.dual);
    l.primal = fmin(1, SHORT_OF_WALL * l.primal), l.dual = fmin(1, SHORT_OF_WALL * l.dual);
    return l;
}

/* What a product that would be far from the aim lacks of it, or has too much, within bounds. */
static double lacking(double product, double aim) {
    if (product < CENTRE * aim) return CENTRE * aim - product;
    if (product > aim / CENTRE) return fmax(aim / CENTRE - product, -aim / CENTRE);
    return 0;
}

static void aim_longer(interior *p, lengths l, double aim) {
    double primal = fmin(1, l.primal + LONGER), dual = fmin(1, l.dual + LONGER);
    for (size_t k = 0; k < p->h.count; k++) {
        mst_hinge *h = &p->h.items[k];
        h->r_below += lacking((h->below + primal * h->d_below) * (h->s_below + dual * h->ds_below), aim);
        h->r_above += lacking((h->above + primal * h->d_above) * (h->s_above + dual * h->ds_above), aim);
    }
    amount *both[] = {&p->in, &p->out};
    for (int i = 0; i < 2 && p->balance; i++)
        both[i]->r += lacking((both[i]->at + primal * both[i]->d) * (both[i]->s + dual * both[i]->ds), aim);
}

/* Bends the direction towards the centre as long as that lets it go farther (Gondzio, Computational Optimization and
 * Applications 6 (1996) 137-156): a solve each, which costs a small part of a factor. */
static lengths centre(interior *p, lengths l, double aim) {
    for (int i = 0; i < MOST_CORRECTORS && fmin(l.primal, l.dual) < LONG_ENOUGH; i++) {
        struct kept *k = &p->before;
        memcpy(k->items, p->h.items, p->h.count * sizeof *k->items);
        memcpy(k->z, p->dz, p->n * sizeof *k->z);
        amount in = p->in, out = p->out;
        double dworth = p->dworth;
        aim_longer(p, l, aim);
        direct(p);
        lengths next = lengths_of(p);
        if (next.primal + next.dual >= l.primal + l.dual + 2 * LEAST_GAIN * LONGER) {
            l = next;
            continue;
        }
        memcpy(p->h.items, k->items, p->h.count * sizeof *k->items);
        memcpy(p->dz, k->z, p->n * sizeof *k->z);
        p->in = in, p->out = out, p->dworth = dworth;
        break;
    }
    return l;
}

static void step(interior *p) {
    weigh(p);
    mst_sparse_factor(p->m, 0, 1e-18);
    if (p->balance) {
        memcpy(p->lean_solved, p->lean, p->n * sizeof *p->lean);
        solve(p, p->lean_solved);
    }
    set_residuals(p, 0, false);
    direct(p);
    lengths l = lengths_of(p);
    double ahead = mu_after(p, l.primal, l.dual), share = p->mu > 0 ? ahead / p->mu : 0;
    double aim = p->mu * share * share * share;
    set_residuals(p, aim, true);
    direct(p);
    l = centre(p, lengths_of(p), aim);
    move(p, l.primal, l.dual);
}

/* ---- the bound ---- */

/* What the wishes' multipliers and the worth of soil prove: no heights within RANGE_M cost less. A node's multiplier is
 * what the rows around it leave it, and counts at most the prices' worth; the little that is beyond them counts over
 * the whole range. */
static double least_cost(interior *p, bool priced) {
    double sum = 0;
    memset(p->rest, 0, p->n * sizeof *p->rest);
    for (size_t k = priced ? p->n : 0; k < p->h.count; k++) {
        const mst_hinge *h = &p->h.items[k];
        double y = h->y; /* onto the side that its limits allow */
        if (h->sides == MST_HINGE_BELOW) y = fmax(y, 0);
        if (h->sides == MST_HINGE_ABOVE) y = fmin(y, 0);
        if (h->sides == (MST_HINGE_ABOVE | MST_HINGE_BELOW)) y = fmin(fmax(y, -h->price_below), h->price_above);
        sum -= y * h->at;
        spread(&p->h.rows[h->row], y, p->rest);
    }
    double worth = fmin(fmax(p->worth, -p->out.price), p->in.price);
    for (size_t i = 0; i < p->n; i++) {
        double cut = 0, fill = 0;
        if (priced) {
            const mst_hinge *h = &p->h.items[i];
            cut = h->price_below - h->per_cut * worth, fill = h->price_above + h->per_fill * worth;
        }
        double beyond = fmax(p->rest[i] - cut, -fill - p->rest[i]);
        if (beyond > 0) sum -= beyond * RANGE_M;
    }
    return sum * p->scale;
}

static bool better(const state *s, double gap, double missed) {
    return s->gap <= gap && s->missed_m <= missed && s->pull <= 1e-6;
}

static mst_status keep(interior *p, double gap) {
    struct kept *k = &p->kept;
    if (!k->items && !make_room(p, k)) return no_memory(p->error);
    memcpy(k->items, p->h.items, p->h.count * sizeof *k->items);
    memcpy(k->z, p->z, p->n * sizeof *k->z);
    k->worth = p->worth, k->gap = gap;
    return MST_OK;
}

/* Goes on until the gap is closed, or no more can be had. */
static mst_status search(interior *p, int *steps) {
    double best = INFINITY;
    int idle = 0;
    p->least = 0; /* prices are */
    for (*steps = 0; *steps < MOST_STEPS && idle < MOST_IDLE; ++*steps) {
        state s = look(p);
        if (s.gap < GOOD_GAP) p->least = fmax(p->least, least_cost(p, true));
        if (better(&s, GAP, MET_M)) return MST_OK;
        double now = fmax(s.gap, fmax(s.missed_m, s.pull));
        if (!isfinite(now)) break;
        if (better(&s, GOOD_GAP, MET_WELL_ENOUGH_M) && (!p->kept.items || s.gap < p->kept.gap)) {
            mst_status status = keep(p, s.gap);
            if (status) return status;
        } else if (p->kept.items && idle >= 2) break;
        idle = now < 0.9 * best ? 0 : idle + 1;
        best = fmin(best, now);
        step(p);
    }
    if (!p->kept.items) return MST_NO;
    memcpy(p->h.items, p->kept.items, p->h.count * sizeof *p->h.items);
    memcpy(p->z, p->kept.z, p->n * sizeof *p->z);
    p->worth = p->kept.worth;
    return MST_OK;
}

mst_status mst_grade_interior(const mst_grade_mesh *mesh, const bool wanted[], double height_m[], double *least,
                              int *steps, mst_error *error) {
    mst_arena *own = mst_arena_new();
    interior p = {.mesh = mesh, .arena = own, .error = error};
    if (!own) return no_memory(error);
    mst_status status = begin(&p, wanted, true);
    if (!status) status = search(&p, steps);
    if (!status) {
        memcpy(height_m, p.z, p.n * sizeof *height_m);
        *least = p.least;
    } else if (status == MST_NO) status = mst_fail(error, MST_NO, "The wishes may not all be met.");
    mst_arena_free(own);
    return status;
}

/* ---- can it be at all ---- */

static const double MISSED_M = 1e-6; /* all rows together, below which the wishes are met */

mst_status mst_grade_can_be(const mst_grade_mesh *mesh, const bool wanted[], mst_error *error) {
    mst_arena *own = mst_arena_new();
    interior p = {.mesh = mesh, .arena = own, .error = error};
    if (!own) return no_memory(error);
    mst_status status = begin(&p, wanted, false);
    bool sure = status != MST_OK, can = false;
    for (int i = 0; i < MOST_STEPS && !sure; i++) {
        state s = look(&p);
        if (s.cost < MISSED_M && s.missed_m < MET_M) sure = can = true;
        else if (s.missed_m < MET_WELL_ENOUGH_M && s.pull < 1e-6 && least_cost(&p, false) > MISSED_M) sure = true;
        else step(&p);
    }
    mst_arena_free(own);
    if (status) return status;
    if (!sure) return mst_fail(error, MST_NOT_CONVERGED, "Whether the wishes can be met was not found.");
    return can ? MST_OK : mst_fail(error, MST_NO, "The wishes cannot all be met.");
}
