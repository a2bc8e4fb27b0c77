/* Cheapest levels. With all soil in one heap an interior point method of our own finds them (grade_interior.c). With a
 * price on haul it is a linear program for the LP library: a node's level is its ground less its cut plus its fill,
 * both at least 0, so the levels need no columns of their own and the wishes no more than one row each node, edge or
 * triangle. */
#include "works/grade.h"
#include "works/lp.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double SAME_M3 = 1e-9; /* a haul below this is none */
enum { MOST_HAULED = 20000 };       /* nodes: the LP library takes over a minute for them, and more for each one more */

typedef struct model {
    const mst_grade_mesh *mesh;
    const mst_grade_input *in;
    mst_lp lp;
    int import, first_flow; /* columns */
    mst_arena *arena;
} model;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }
static int cut_of(uint32_t node) { return (int)(2 * node); }
static int fill_of(uint32_t node) { return (int)(2 * node + 1); }

static mst_status check(const mst_grade_input *in, mst_error *error) {
    const double price[] = {in->prices.cut, in->prices.fill, in->prices.haul, in->prices.import, in->prices.cart_away};
    for (int i = 0; i < 5; i++)
        if (!(price[i] >= 0 && isfinite(price[i])))
            return mst_fail(error, MST_INVALID, "A price is 0 or more; %g is not.", price[i]);
    if (in->prices.haul > 0 && in->node_count > MOST_HAULED)
        return mst_fail(error, MST_INVALID,
                        "With a price on haul the levels of %d points are found at most, and these are %zu; take a "
                        "coarser spacing, or leave the haul out and ask for the hauls of the levels that are found.",
                        MOST_HAULED, in->node_count);
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
        mst_lp_column_add(&m->lp, 0, INFINITY, m->mesh->area[i] * p->cut);
        mst_lp_column_add(&m->lp, 0, INFINITY, m->mesh->area[i] * p->fill);
    }
}

/* A heap at each node, and ways along the edges: bank volume flows. Off site is reached from everywhere alike. */
static void balance_by_haul(model *m) {
    const mst_grade_input *in = m->in;
    int first = (int)m->lp.row_count;
    for (uint32_t i = 0; i < in->node_count; i++) {
        int row = mst_lp_row_add(&m->lp, 0, 0);
        mst_lp_term_add(&m->lp, row, cut_of(i), m->mesh->area[i]);
        mst_lp_term_add(&m->lp, row, fill_of(i), -m->mesh->area[i] / in->compacted);
    }
    m->import = (int)m->lp.column_count; /* from here: import and cart-away of each node in turn */
    for (uint32_t i = 0; i < in->node_count; i++) {
        int bring = mst_lp_column_add(&m->lp, 0, INFINITY, in->prices.import);
        int away = mst_lp_column_add(&m->lp, 0, INFINITY, in->prices.cart_away);
        mst_lp_term_add(&m->lp, first + (int)i, bring, 1 / in->compacted);
        mst_lp_term_add(&m->lp, first + (int)i, away, -1);
    }
    m->first_flow = (int)m->lp.column_count;
    for (size_t e = 0; e < m->mesh->edge_count; e++) {
        const mst_point3 *a = &in->nodes[m->mesh->edges[e][0]], *b = &in->nodes[m->mesh->edges[e][1]];
        double length = hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        for (int way = 0; way < 2; way++) {
            int flow = mst_lp_column_add(&m->lp, 0, INFINITY, length * in->prices.haul);
            mst_lp_term_add(&m->lp, first + (int)m->mesh->edges[e][way], flow, -1);
            mst_lp_term_add(&m->lp, first + (int)m->mesh->edges[e][1 - way], flow, 1);
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

static void add_steepest(model *m, const mst_wish *w, const bool inside[]) {
    const mst_grade_input *in = m->in;
    for (size_t k = 0; k < m->mesh->edge_count; k++) {
        const mst_point3 *a = &in->nodes[m->mesh->edges[k][0]], *b = &in->nodes[m->mesh->edges[k][1]];
        if (!inside[m->mesh->edges[k][0]] || !inside[m->mesh->edges[k][1]]) continue;
        double most = w->high * hypot(b->easting_m - a->easting_m, b->northing_m - a->northing_m);
        add_level_row(m, m->mesh->edges[k], (const double[2]){1, -1}, 2, -most, most);
    }
}

static bool add_wish(model *m, const mst_wish *w) {
    const mst_grade_input *in = m->in;
    if (w->kind == MST_WISH_STEEPEST) {
        const bool *inside = mst_grade_nodes_of(in, w, m->arena);
        if (!inside) return false;
        add_steepest(m, w, inside);
        return true;
    }
    for (size_t i = 0; i < w->count; i++) {
        const double one = 1;
        double factor[3], z = w->kind == MST_WISH_OVER_GROUND ? in->nodes[w->at[i]].elevation_m : 0;
        if (w->kind == MST_WISH_FALL) {
            mst_grade_fall_factors(in, in->triangles[w->at[i]], w->bearing_rad, factor);
            add_level_row(m, in->triangles[w->at[i]], factor, 3, w->low, w->high);
        } else add_level_row(m, &w->at[i], &one, 1, w->low + z, w->high + z);
    }
    return true;
}

/* ---- the program with hauls ---- */

static mst_status solve_with_haul(const mst_grade_mesh *mesh, mst_arena *arena, model *m, double **x, double *cost,
                                  mst_error *error) {
    const mst_grade_input *in = mesh->in;
    *m = (model){.mesh = mesh, .in = in, .arena = arena, .lp = {.arena = arena}};
    add_columns(m);
    balance_by_haul(m);
    for (size_t w = 0; w < in->wish_count; w++)
        if (!add_wish(m, &in->wishes[w])) return no_memory(error);
    *x = mst_arena_array(arena, m->lp.column_count + 1, sizeof **x);
    if (!*x || m->lp.failed) return no_memory(error);
    return mst_lp_solve(&m->lp, arena, *x, cost, error);
}

/* ---- the answer ---- */

/* What the levels cost. A program that digs and fills one place, because soil shrinks in filling, is not followed. */
static void price_in_one(const mst_grade_input *in, mst_grade *g) {
    const mst_grade_prices *p = &in->prices;
    double left = g->cut_m3 * in->compacted - g->fill_m3;
    g->import_m3 = fmax(-left, 0), g->cart_away_m3 = fmax(left, 0) / in->compacted;
    g->cost = g->cut_m3 * p->cut + g->fill_m3 * p->fill + g->import_m3 * p->import + g->cart_away_m3 * p->cart_away;
}

/* Levels and volumes from the heights over the ground. */
static mst_status take_heights(const mst_grade_mesh *mesh, const double height[], mst_arena *arena, mst_grade *g,
                               mst_error *error) {
    const mst_grade_input *in = mesh->in;
    g->level_m = mst_arena_array(arena, in->node_count + 1, sizeof *g->level_m);
    if (!g->level_m) return no_memory(error);
    for (uint32_t i = 0; i < in->node_count; i++) {
        g->level_m[i] = in->nodes[i].elevation_m + height[i];
        *(height[i] > 0 ? &g->fill_m3 : &g->cut_m3) += fabs(height[i]) * mesh->area[i];
    }
    return MST_OK;
}

static mst_status read_hauls(const model *m, const double x[], double cost, mst_grade *g, mst_error *error) {
    const mst_grade_input *in = m->in;
    double *height = mst_arena_array(m->arena, in->node_count + 1, sizeof *height);
    if (!height) return no_memory(error);
    for (uint32_t i = 0; i < in->node_count; i++) height[i] = x[fill_of(i)] - x[cut_of(i)];
    mst_status status = take_heights(m->mesh, height, m->arena, g, error);
    g->cost = g->least_cost = cost;
    for (size_t i = 0; i < in->node_count && !status; i++)
        g->import_m3 += x[m->import + 2 * (int)i], g->cart_away_m3 += x[m->import + 2 * (int)i + 1];
    for (size_t e = 0; e < 2 * m->mesh->edge_count && !status; e++) {
        double flow = x[m->first_flow + (int)e];
        if (flow > SAME_M3) g->haul_m4 += flow * m->lp.columns[m->first_flow + (int)e].cost / in->prices.haul;
    }
    return status;
}

bool mst_grade_available(void) { return mst_lp_available(); }

static mst_status grade_with_haul(const mst_grade_mesh *mesh, mst_arena *arena, mst_grade *made, mst_error *error) {
    model m;
    double *x = NULL, cost = 0;
    mst_status status = solve_with_haul(mesh, arena, &m, &x, &cost, error);
    return status ? status : read_hauls(&m, x, cost, made, error);
}

static mst_status grade_in_one(const mst_grade_mesh *mesh, const bool wanted[], mst_arena *arena, mst_grade *made,
                               mst_error *error) {
    double *height = mst_arena_array(arena, mesh->in->node_count + 1, sizeof *height);
    if (!height) return no_memory(error);
    mst_status status = mst_grade_interior(mesh, wanted, height, &made->least_cost, &made->steps, error);
    if (!status) status = take_heights(mesh, height, arena, made, error);
    if (!status) price_in_one(mesh->in, made);
    return status;
}

mst_status mst_grade_solve(const mst_grade_input *in, mst_arena *arena, mst_grade *grade, mst_error *error) {
    mst_status status = check(in, error);
    bool *wanted = mst_arena_array(arena, in->wish_count + 1, 1);
    mst_grade_mesh mesh;
    if (!status && (!wanted || !mst_grade_mesh_of(in, arena, &mesh))) status = no_memory(error);
    if (status) return status;
    for (size_t w = 0; w < in->wish_count; w++) wanted[w] = true;
    mst_grade made = {0};
    status = in->prices.haul > 0 ? grade_with_haul(&mesh, arena, &made, error)
                                 : grade_in_one(&mesh, wanted, arena, &made, error);
    if (status == MST_NO) {
        status = mst_grade_can_be(&mesh, wanted, error);
        if (status == MST_NO) status = mst_grade_conflict(&mesh, arena, &made, error);
        else if (!status)
            status =
                mst_fail(error, MST_NOT_CONVERGED, "The cheapest levels were not found; make the spacing coarser.");
    }
    if (!status || status == MST_NO) *grade = made;
    return status;
}
