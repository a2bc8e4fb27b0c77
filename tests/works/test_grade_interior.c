/* The interior point method against the LP library on the plain model, its bound, and the smallest conflict. */
#include "works/lp.h"
#include "works/works_test.h"
#include <stdlib.h>

/* The library meets its rows to 1e-7, and a cost may be lower by that times what they are worth; ours meets them to
 * 1e-9. */
static const double LIBRARY = 2e-6;
enum { SIDE = 9, NODES = SIDE * SIDE, TRIANGLES = 2 * (SIDE - 1) * (SIDE - 1), WISHES = 12 };
typedef struct grid {
    mst_point3 nodes[NODES];
    uint32_t triangles[TRIANGLES][3], all_triangles[TRIANGLES], picked[WISHES][NODES + TRIANGLES];
    mst_wish wishes[WISHES];
    mst_grade_input input;
    mst_arena *arena;
} grid;

static grid *new_grid(uint64_t *seed, double rough) {
    grid *g = calloc(1, sizeof *g);
    g->arena = mst_arena_new();
    for (uint32_t i = 0; i < NODES; i++) {
        double e = 2.0 * (i % SIDE) + draw_between(seed, -0.4, 0.4),
               n = 2.0 * (i / SIDE) + draw_between(seed, -0.4, 0.4);
        g->nodes[i] = (mst_point3){e, n, 100 + 0.02 * e - 0.03 * n + draw_between(seed, -rough, rough)};
    }
    uint32_t count = 0;
    for (uint32_t i = 0; i + 1 < SIDE; i++)
        for (uint32_t k = 0; k + 1 < SIDE; k++) {
            uint32_t a = i * SIDE + k, quad[2][3] = {{a, a + 1, a + SIDE + 1}, {a, a + SIDE + 1, a + SIDE}};
            memcpy(g->triangles[count], quad, sizeof quad);
            count += 2;
        }
    for (uint32_t i = 0; i < TRIANGLES; i++) g->all_triangles[i] = i;
    g->input = (mst_grade_input){
        g->nodes,
        NODES,
        (const uint32_t(*)[3])g->triangles,
        TRIANGLES,
        g->wishes,
        0,
        {draw_between(seed, 3, 12), draw_between(seed, 3, 12), 0, draw_between(seed, 1, 40), draw_between(seed, 1, 30)},
        draw_between(seed, 0.8, 1.2)};
    return g;
}

static void free_grid(grid *g) {
    mst_arena_free(g->arena);
    free(g);
}

static void wish(grid *g, mst_wish w) { g->wishes[g->input.wish_count++] = w; }

/* ---- the plain model: level, cut and fill of each node as columns ---- */

typedef struct plain {
    const grid *g;
    mst_lp lp;
    double area[NODES];
} plain;

static int level_of(uint32_t node) { return 3 * (int)node; }

static void row(plain *p, const uint32_t node[], const double factor[], int count, double low, double high) {
    int r = mst_lp_row_add(&p->lp, low, high);
    for (int i = 0; i < count; i++) mst_lp_term_add(&p->lp, r, level_of(node[i]), factor[i]);
}

static void fall_rows(plain *p, const mst_wish *w) {
    for (size_t i = 0; i < w->count; i++) { /* the plane's slope by its edges' differences, written out once more */
        const uint32_t *t = p->g->triangles[w->at[i]];
        const mst_point3 *a = &p->g->nodes[t[0]], *b = &p->g->nodes[t[1]], *c = &p->g->nodes[t[2]];
        double be = b->easting_m - a->easting_m, bn = b->northing_m - a->northing_m;
        double ce = c->easting_m - a->easting_m, cn = c->northing_m - a->northing_m, det = be * cn - bn * ce;
        double e = sin(w->bearing_rad), n = cos(w->bearing_rad);
        double fb = -(cn * e - ce * n) / det, fc = -(-bn * e + be * n) / det;
        row(p, t, (const double[]){-fb - fc, fb, fc}, 3, w->low, w->high);
    }
}

static void steepest_rows(plain *p, const mst_wish *w) {
    for (uint32_t a = 0; a < NODES; a++) /* each edge of the lattice by its own rule, not from the triangles */
        for (int way = 0; way < 3; way++) {
            uint32_t e = a % SIDE + (way != 1), n = a / SIDE + (way != 0);
            if (e >= SIDE || n >= SIDE) continue;
            uint32_t both[] = {a, n * SIDE + e};
            const mst_point3 *u = &p->g->nodes[both[0]], *v = &p->g->nodes[both[1]];
            double most = w->high * hypot(u->easting_m - v->easting_m, u->northing_m - v->northing_m);
            row(p, both, (const double[]){1, -1}, 2, -most, most);
        }
}

static mst_status solve_plain(const grid *g, double *cost) {
    plain *p = calloc(1, sizeof *p);
    const mst_grade_prices *price = &g->input.prices;
    *p = (plain){.g = g, .lp = {.arena = g->arena}};
    for (uint32_t t = 0; t < TRIANGLES; t++) {
        const mst_point3 *a = &g->nodes[g->triangles[t][0]], *b = &g->nodes[g->triangles[t][1]],
                         *c = &g->nodes[g->triangles[t][2]];
        double area = ((b->easting_m - a->easting_m) * (c->northing_m - a->northing_m) -
                       (b->northing_m - a->northing_m) * (c->easting_m - a->easting_m)) /
                      2;
        for (int k = 0; k < 3; k++) p->area[g->triangles[t][k]] += area / 3;
    }
    for (uint32_t i = 0; i < NODES; i++) {
        mst_lp_column_add(&p->lp, -INFINITY, INFINITY, 0);
        mst_lp_column_add(&p->lp, 0, INFINITY, p->area[i] * price->cut);
        mst_lp_column_add(&p->lp, 0, INFINITY, p->area[i] * price->fill);
    }
    int in = mst_lp_column_add(&p->lp, 0, INFINITY, price->import);
    int out = mst_lp_column_add(&p->lp, 0, INFINITY, price->cart_away);
    int balance = mst_lp_row_add(&p->lp, 0, 0);
    for (uint32_t i = 0; i < NODES; i++) {
        int r = mst_lp_row_add(&p->lp, g->nodes[i].elevation_m, g->nodes[i].elevation_m);
        mst_lp_term_add(&p->lp, r, level_of(i), 1);
        mst_lp_term_add(&p->lp, r, level_of(i) + 1, 1), mst_lp_term_add(&p->lp, r, level_of(i) + 2, -1);
        mst_lp_term_add(&p->lp, balance, level_of(i) + 1, p->area[i] * g->input.compacted);
        mst_lp_term_add(&p->lp, balance, level_of(i) + 2, -p->area[i]);
    }
    mst_lp_term_add(&p->lp, balance, in, 1), mst_lp_term_add(&p->lp, balance, out, -g->input.compacted);
    for (size_t w = 0; w < g->input.wish_count; w++) {
        const mst_wish *one = &g->wishes[w];
        if (one->kind == MST_WISH_FALL) fall_rows(p, one);
        else if (one->kind == MST_WISH_STEEPEST) steepest_rows(p, one);
        else
            for (size_t i = 0; i < one->count; i++) {
                double z = one->kind == MST_WISH_OVER_GROUND ? g->nodes[one->at[i]].elevation_m : 0;
                row(p, &one->at[i], (const double[]){1}, 1, one->low + z, one->high + z);
            }
    }
    double *x = mst_arena_array(g->arena, p->lp.column_count + 1, sizeof *x);
    mst_error error = {0};
    mst_status status = mst_lp_solve(&p->lp, g->arena, x, cost, &error);
    free(p);
    return status;
}

/* ---- random wishes ---- */

static size_t pick(grid *g, size_t w, size_t most, double share, uint64_t *seed) {
    size_t count = 0;
    for (uint32_t i = 0; i < most; i++)
        if (draw_between(seed, 0, 1) < share) g->picked[w][count++] = i;
    return count;
}

static void random_wishes(grid *g, uint64_t *seed) {
    double steep = draw_between(seed, 0.03, 0.12), bearing = draw_between(seed, 0, 6.28), r = draw_between(seed, 0, 1);
    if (r < 0.8) wish(g, (mst_wish){MST_WISH_STEEPEST, "steepest", g->all_triangles, TRIANGLES, 0, steep, 0});
    if (r > 0.3) {
        double low = draw_between(seed, 0, 0.02), high = r > 0.9 ? low : low + draw_between(seed, 0.001, 0.03);
        size_t n = r > 0.6 ? TRIANGLES : pick(g, 0, TRIANGLES, 0.4, seed);
        wish(g, (mst_wish){MST_WISH_FALL, "fall", r > 0.6 ? g->all_triangles : g->picked[0], n, low, high, bearing});
    }
    if (r < 0.5)
        wish(g, (mst_wish){MST_WISH_OVER_GROUND, "no dig", g->picked[1], pick(g, 1, NODES, 0.1, seed), 0, INFINITY, 0});
    if (r < 0.15)
        wish(g, (mst_wish){MST_WISH_OVER_GROUND, "keep", g->picked[2], pick(g, 2, NODES, 0.03, seed), 0, 0, 0});
    g->picked[3][0] = (uint32_t)draw_between(seed, 0, NODES - 0.01);
    double level = g->nodes[g->picked[3][0]].elevation_m + draw_between(seed, -0.2, 0.3);
    if (r < 0.9) wish(g, (mst_wish){MST_WISH_LEVEL, "door", g->picked[3], 1, level, level, 0});
}

/* Soil whose digging and filling in one place would pay is priced by its levels, above what the program counts. */
static bool churns(const grid *g) {
    const mst_grade_prices *p = &g->input.prices;
    double c = g->input.compacted;
    return p->cut + p->fill < (c < 1 ? p->cart_away / c * (1 - c) : p->import * (c - 1));
}

static void as_the_library_finds(void **state) {
    (void)state;
    if (!mst_lp_available()) skip();
    uint64_t seed = 2024;
    int met = 0, not = 0;
    double worst = 0;
    for (int site = 0; site < 300; site++) {
        grid *g = new_grid(&seed, 0.15);
        random_wishes(g, &seed);
        mst_grade r = {0};
        mst_error error = {0};
        double cost;
        mst_status library = solve_plain(g, &cost), own = mst_grade_solve(&g->input, g->arena, &r, &error);
        if (own != library)
            fail_msg("site %d: %d from the library, %d: %s", site, (int)library, (int)own, error.sentence);
        if (own == MST_OK) {
            met++;
            if (!churns(g)) NEAR(r.cost, cost, LIBRARY * (1 + cost));
            assert_true(r.least_cost <= cost + LIBRARY * (1 + cost));
            worst = fmax(worst, (cost - r.least_cost) / (1 + cost));
        } else not ++;
        free_grid(g);
    }
    print_message("%d met, %d in conflict; the bound is %.1e low at most\n", met, not, worst);
    assert_true(met > 100 && not > 20 && worst < 1e-6);
}

/* Two conflicts: three wishes that together cannot be met, and two that cannot. Leaving wishes out one after the other
 * ends at the three, because the two are left out first; the smallest is the two. */
static void the_smallest_conflict(void **state) {
    (void)state;
    uint64_t seed = 3;
    grid *g = new_grid(&seed, 0);
    static const uint32_t west[] = {0}, east[] = {SIDE - 1}, middle[] = {NODES / 2};
    mst_grade r = {0};
    mst_error error = {0};
    wish(g, (mst_wish){MST_WISH_LEVEL, "pit", middle, 1, 90, 90, 0});
    wish(g, (mst_wish){MST_WISH_LEVEL, "not so deep", middle, 1, 91, 200, 0});
    wish(g, (mst_wish){MST_WISH_LEVEL, "threshold", west, 1, 100, 100, 0});
    wish(g, (mst_wish){MST_WISH_LEVEL, "kerb", east, 1, 100, 100, 0});
    wish(g, (mst_wish){MST_WISH_FALL, "fall to the kerb", g->all_triangles, TRIANGLES, 0.0125, 0.05, MST_PI / 2});
    assert_int_equal(mst_grade_solve(&g->input, g->arena, &r, &error), MST_NO);
    assert_int_equal(r.conflict_count, 2);
    assert_int_equal(r.conflict[0], 0);
    assert_int_equal(r.conflict[1], 1);
    assert_non_null(strstr(error.sentence, "pit, not so deep"));
    free_grid(g);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_the_library_finds), cmocka_unit_test(the_smallest_conflict)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
