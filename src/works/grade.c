/* Cheapest levels as a linear program. A node's level is its ground less its cut plus its fill, both at least 0, so the
 * levels need no columns of their own and the wishes no more than one row each node, edge or triangle: with prices of 0
 * or more, cut and fill are not both used where that would cost. */
#include "merestone/works.h"
#include "works/lp.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double SAME_M3 = 1e-9; /* a haul below this is none */

typedef struct model {
    const mst_grade_input *in;
    const bool *wanted; /* by wish */
    mst_lp lp;
    double *area;
    uint32_t (*edges)[2]; /* each once */
    size_t edge_count;
    int import, cart_away, first_flow; /* columns */
    mst_arena *arena;
} model;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }
static int cut_of(uint32_t node) { return (int)(2 * node); }
static int fill_of(uint32_t node) { return (int)(2 * node + 1); }

/* ---- the mesh ---- */

static double twice_area(const mst_grade_input *in, const uint32_t t[3]) {
    const mst_point3 *a = &in->nodes[t[0]], *b = &in->nodes[t[1]], *c = &in->nodes[t[2]];
    return (b->easting_m - a->easting_m) * (c->northing_m - a->northing_m) -
           (b->northing_m - a->northing_m) * (c->easting_m - a->easting_m);
}

static int by_ends(const void *a, const void *b) {
    const uint32_t *x = a, *y = b;
    if (x[0] != y[0]) return x[0] < y[0] ? -1 : 1;
    return x[1] < y[1] ? -1 : x[1] > y[1];
}

static bool take_mesh(model *m) {
    const mst_grade_input *in = m->in;
    m->area = mst_arena_array(m->arena, in->node_count + 1, sizeof *m->area);
    m->edges = mst_arena_array(m->arena, 3 * in->triangle_count + 1, sizeof *m->edges);
    if (!m->area || !m->edges) return false;
    size_t count = 0;
    for (size_t t = 0; t < in->triangle_count; t++)
        for (int c = 0; c < 3; c++) {
            uint32_t a = in->triangles[t][c], b = in->triangles[t][(c + 1) % 3];
            m->area[a] += twice_area(in, in->triangles[t]) / 6;
            m->edges[count][0] = a < b ? a : b, m->edges[count++][1] = a < b ? b : a;
        }
    qsort(m->edges, count, sizeof *m->edges, by_ends);
    for (size_t i = 0; i < count; i++)
        if (i == 0 || by_ends(m->edges[i], m->edges[i - 1]) != 0) {
            m->edges[m->edge_count][0] = m->edges[i][0], m->edges[m->edge_count][1] = m->edges[i][1];
            m->edge_count++;
        }
    return true;
}

static mst_status check(const mst_grade_input *in, mst_error *error) {
    const double price[] = {in->prices.cut, in->prices.fill, in->prices.haul, in->prices.import, in->prices.cart_away};
    for (int i = 0; i < 5; i++)
        if (!(price[i] >= 0 && isfinite(price[i])))
            return mst_fail(error, MST_INVALID, "A price is 0 or more; %g is not.", price[i]);
    if (!(in->compacted > 0)) return mst_fail(error, MST_INVALID, "The soil's compacted volume is above 0.");
    for (size_t t = 0; t < in->triangle_count; t++)
        for (int c = 0; c < 3; c++)
            if (in->triangles[t][c] >= in->node_count)
                return mst_fail(error, MST_INVALID, "Triangle %zu has a corner that is no node.", t + 1);
    for (size_t w = 0; w < in->wish_count; w++) {
        const mst_wish *wish = &in->wishes[w];
        size_t most =
            wish->kind == MST_WISH_FALL || wish->kind == MST_WISH_STEEPEST ? in->triangle_count : in->node_count;
        for (size_t i = 0; i < wish->count; i++)
            if (wish->at[i] >= most)
                return mst_fail(error, MST_INVALID, "Wish '%s' names a place that is not there.", wish->name);
    }
    return MST_OK;
}

/* ---- columns and rows ---- */

/* What moving soil costs is on its cut and fill; what becomes of it is on hauls, import and cart-away. */
static void add_columns(model *m) {
    const mst_grade_prices *p = &m->in->prices;
    for (uint32_t i = 0; i < m->in->node_count; i++) {
        mst_lp_column_add(&m->lp, 0, INFINITY, m->area[i] * p->cut);
        mst_lp_column_add(&m->lp, 0, INFINITY, m->area[i] * p->fill);
    }
}

/* All cut in one heap: cut x compacted + import = fill + cart-away x compacted. */
static void balance_in_one(model *m) {
    const mst_grade_prices *p = &m->in->prices;
    int row = mst_lp_row_add(&m->lp, 0, 0);
    m->import = mst_lp_column_add(&m->lp, 0, INFINITY, p->import);
    m->cart_away = mst_lp_column_add(&m->lp, 0, INFINITY, p->cart_away);
    for (uint32_t i = 0; i < m->in->node_count; i++) {
        mst_lp_term_add(&m->lp, row, cut_of(i), m->area[i] * m->in->compacted);
        mst_lp_term_add(&m->lp, row, fill_of(i), -m->area[i]);
    }
    mst_lp_term_add(&m->lp, row, m->import, 1);
    mst_lp_term_add(&m->lp, row, m->cart_away, -m->in->compacted);
}

/* A heap at each node, and ways along the edges: bank volume flows. Off site is reached from everywhere alike. */
static void balance_by_haul(model *m) {
    const mst_grade_input *in = m->in;
    int first = (int)m->lp.row_count;
    for (uint32_t i = 0; i < in->node_count; i++) {
        int row = mst_lp_row_add(&m->lp, 0, 0);
        mst_lp_term_add(&m->lp, row, cut_of(i), m->area[i]);
        mst_lp_term_add(&m->lp, row, fill_of(i), -m->area[i] / in->compacted);
    }
    m->import = (int)m->lp.column_count; /* from here: import and cart-away of each node in turn */
    for (uint32_t i = 0; i < in->node_count; i++) {
        int bring = mst_lp_column_add(&m->lp, 0, INFINITY, in->prices.import);
        int away = mst_lp_column_add(&m->lp, 0, INFINITY, in->prices.cart_away);
        mst_lp_term_add(&m->lp, first + (int)i, bring, 1 / in->compacted);
        mst_lp_term_add(&m->lp, first + (int)i, away, -1);
    }
    m->first_flow = (int)m->lp.column_count;
    for (size_t e = 0; e < m->edge_count; e++) {
        const mst_point3 *a = &in->nodes[m->edges[e][0]], *b = &in->nodes[m->edges[e][1]];
        double length = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        for (int way = 0; way < 2; way++) {
            int flow = mst_lp_column_add(&m->lp, 0, INFINITY, length * in->prices.haul);
            mst_lp_term_add(&m->lp, first + (int)m->edges[e][way], flow, -1);
            mst_lp_term_add(&m->lp, first + (int)m->edges[e][1 - way], flow, 1);
        }
    }
}

/* low <= factor . levels <= high over some nodes: the ground's part goes to the bounds. */
static void add_level_row(model *m, const uint32_t node[], const double factor[], int count, double low, double high) {
    double ground = 0;
    for (int i = 0; i < count; i++) ground += factor[i] * m->in->nodes[node[i]].elevation_m;
    int row = mst_lp_row_add(&m->lp, low - ground, high - ground);
    for (int i = 0; i < count; i++) {
        if (factor[i] == 0) continue;
        mst_lp_term_add(&m->lp, row, cut_of(node[i]), -factor[i]);
        mst_lp_term_add(&m->lp, row, fill_of(node[i]), factor[i]);
    }
}

/* The fall of a triangle's plane towards a bearing, as factors of its corners' levels. */
static void fall_factors(const mst_grade_input *in, const uint32_t t[3], double bearing, double factor[3]) {
    double twice = twice_area(in, t), e = sin(bearing), n = cos(bearing);
    for (int i = 0; i < 3; i++) {
        const mst_point3 *b = &in->nodes[t[(i + 1) % 3]], *c = &in->nodes[t[(i + 2) % 3]];
        double by_e = (b->northing_m - c->northing_m) / twice, by_n = (c->easting_m - b->easting_m) / twice;
        factor[i] = -(by_e * e + by_n * n);
    }
}

static void add_steepest(model *m, const mst_wish *w, const bool inside[]) {
    const mst_grade_input *in = m->in;
    for (size_t k = 0; k < m->edge_count; k++) {
        const mst_point3 *a = &in->nodes[m->edges[k][0]], *b = &in->nodes[m->edges[k][1]];
        if (!inside[m->edges[k][0]] || !inside[m->edges[k][1]]) continue;
        double most = w->high * hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        add_level_row(m, m->edges[k], (const double[2]){1, -1}, 2, -most, most);
    }
}

static bool add_wish(model *m, const mst_wish *w) {
    const mst_grade_input *in = m->in;
    if (w->kind == MST_WISH_STEEPEST) {
        bool *inside = mst_arena_array(m->arena, in->node_count + 1, 1);
        if (!inside) return false;
        for (size_t i = 0; i < w->count; i++)
            for (int c = 0; c < 3; c++) inside[in->triangles[w->at[i]][c]] = true;
        add_steepest(m, w, inside);
        return true;
    }
    for (size_t i = 0; i < w->count; i++) {
        const double one = 1;
        double factor[3], z = w->kind == MST_WISH_OVER_GROUND ? in->nodes[w->at[i]].elevation_m : 0;
        if (w->kind == MST_WISH_FALL) {
            fall_factors(in, in->triangles[w->at[i]], w->bearing_rad, factor);
            add_level_row(m, in->triangles[w->at[i]], factor, 3, w->low, w->high);
        } else add_level_row(m, &w->at[i], &one, 1, w->low + z, w->high + z);
    }
    return true;
}

static mst_status solve(const mst_grade_input *in, const bool wanted[], bool cost_counts, mst_arena *arena, model *m,
                        double **x, double *cost, mst_error *error) {
    *m = (model){.in = in, .wanted = wanted, .arena = arena, .lp = {.arena = arena}};
    if (!take_mesh(m)) return no_memory(error);
    add_columns(m);
    if (cost_counts && in->prices.haul > 0) balance_by_haul(m);
    else if (cost_counts) balance_in_one(m);
    for (size_t w = 0; w < in->wish_count; w++)
        if (wanted[w] && !add_wish(m, &in->wishes[w])) return no_memory(error);
    for (size_t i = 0; i < m->lp.column_count && !cost_counts; i++) m->lp.columns[i].cost = 0;
    *x = mst_arena_array(arena, m->lp.column_count + 1, sizeof **x);
    if (!*x || m->lp.failed) return no_memory(error);
    return mst_lp_solve(&m->lp, arena, *x, cost, error);
}

/* ---- conflicts ---- */

/* The deletion filter (Chinneck and Dravnieks, ORSA Journal on Computing 3 (1991) 157-168): a wish without which the
 * rest still cannot be met is not to blame. */
static mst_status find_conflict(const mst_grade_input *in, mst_arena *arena, bool wanted[], mst_grade *grade,
                                mst_error *error) {
    for (size_t w = 0; w < in->wish_count; w++) {
        mst_arena *own = mst_arena_new();
        model m;
        double *x, cost;
        mst_error why = {0};
        wanted[w] = false;
        mst_status status = own ? solve(in, wanted, false, own, &m, &x, &cost, &why) : MST_NO_MEMORY;
        mst_arena_free(own);
        if (status == MST_OK) wanted[w] = true;
        else if (status != MST_NO)
            return mst_fail(error, status, "%s", *why.sentence ? why.sentence : "Memory is short.");
    }
    grade->conflict = mst_arena_array(arena, in->wish_count + 1, sizeof *grade->conflict);
    if (!grade->conflict) return no_memory(error);
    for (uint32_t w = 0; w < in->wish_count; w++)
        if (wanted[w]) grade->conflict[grade->conflict_count++] = w;
    char names[280] = "";
    for (size_t i = 0; i < grade->conflict_count; i++) {
        size_t at = strlen(names);
        strncat(names + at, i ? ", " : "", sizeof names - at - 1);
        strncat(names, in->wishes[grade->conflict[i]].name, sizeof names - strlen(names) - 1);
    }
    mst_text_tidy(names);
    return mst_fail(error, MST_NO, "These wishes cannot all be met, but without any one of them they can: %s.", names);
}

/* ---- the answer ---- */

/* What the levels cost. A program that digs and fills one place, because soil shrinks in filling, is not followed. */
static void price_in_one(const mst_grade_input *in, mst_grade *g) {
    const mst_grade_prices *p = &in->prices;
    double left = g->cut_m3 * in->compacted - g->fill_m3;
    g->import_m3 = fmax(-left, 0), g->cart_away_m3 = fmax(left, 0) / in->compacted;
    g->cost = g->cut_m3 * p->cut + g->fill_m3 * p->fill + g->import_m3 * p->import + g->cart_away_m3 * p->cart_away;
}

static mst_status read_answer(const model *m, const double x[], double cost, mst_grade *g, mst_error *error) {
    const mst_grade_input *in = m->in;
    g->level_m = mst_arena_array(m->arena, in->node_count + 1, sizeof *g->level_m);
    if (!g->level_m) return no_memory(error);
    g->cost = cost;
    for (uint32_t i = 0; i < in->node_count; i++) {
        double over = x[fill_of(i)] - x[cut_of(i)];
        g->level_m[i] = in->nodes[i].elevation_m + over;
        *(over > 0 ? &g->fill_m3 : &g->cut_m3) += fabs(over) * m->area[i];
    }
    if (m->first_flow == 0) {
        price_in_one(in, g);
        return MST_OK;
    }
    for (size_t i = 0; i < in->node_count; i++)
        g->import_m3 += x[m->import + 2 * (int)i], g->cart_away_m3 += x[m->import + 2 * (int)i + 1];
    for (size_t e = 0; e < 2 * m->edge_count; e++) {
        double flow = x[m->first_flow + (int)e];
        if (flow > SAME_M3 && in->prices.haul > 0)
            g->haul_m4 += flow * m->lp.columns[m->first_flow + (int)e].cost / in->prices.haul;
    }
    return MST_OK;
}

bool mst_grade_available(void) { return mst_lp_available(); }

mst_status mst_grade_solve(const mst_grade_input *in, mst_arena *arena, mst_grade *grade, mst_error *error) {
    mst_status status = check(in, error);
    bool *wanted = mst_arena_array(arena, in->wish_count + 1, 1);
    if (!status && !wanted) status = no_memory(error);
    if (status) return status;
    for (size_t w = 0; w < in->wish_count; w++) wanted[w] = true;
    model m;
    double *x, cost;
    mst_grade made = {0};
    status = solve(in, wanted, true, arena, &m, &x, &cost, error);
    if (status == MST_NO) status = find_conflict(in, arena, wanted, &made, error);
    else if (!status) status = read_answer(&m, x, cost, &made, error);
    if (!status || status == MST_NO) *grade = made;
    return status;
}
