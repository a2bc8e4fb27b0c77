/* Pieces of facets in a volume, and what they say of the ground inside the facets: the ground's own level at the nodes
 * stands against the triangle's, which hangs on the corners. */
#include "ground/spread.h"
#include <stdlib.h>

/* Exact for cubics on a triangle, with the nodes as places; e.g. O. C. Zienkiewicz, R. L. Taylor, The Finite Element
 * Method, table of triangular formulas; checked in the tests against polynomials. */
static const double CORNER = 1.0 / 20, MIDDLE = 2.0 / 15, CENTRE = 9.0 / 20;
static const double SAME = 1e-9; /* of the area: the piece is the whole facet */
/* The points do not tell how far roughness goes on below their spacing. It is taken to end at this share of it; of what
 * grows with a power of the distance, that power of the share is then missing. */
static const double FINEST = 0.25;
/* The law is estimated from the points that foresee the ground by it, which makes its variance look too small (D. L.
 * Zimmerman, N. Cressie, Ann. Inst. Statist. Math. 44 (1992) 27-43), in inverse proportion to the degrees of freedom
 * behind it. The excess hangs on the law alone and is in doubt by as much. How much: from bench/trust. */
static const double ESTIMATED = 30;
static const double FAR = 4; /* standard deviations: beyond, nothing is expected on the other side */

/* The seven functions at shares s of the corners: bubble 27 abc in the centre, quadratics less their value there. */
static void functions_at(const double s[3], double f[MST_NODES]) {
    double bubble = 27 * s[0] * s[1] * s[2];
    for (int k = 0; k < 3; k++) {
        f[k] = s[k] * (2 * s[k] - 1) + bubble / 9;
        f[3 + k] = 4 * s[(k + 1) % 3] * s[(k + 2) % 3] - 4 * bubble / 9;
    }
    f[6] = bubble;
}

static void integrate(const double corner[3][3], double area, double weight[MST_NODES]) {
    for (int node = 0; node < MST_NODES; node++) {
        double s[3], f[MST_NODES], part = area * (node < 3 ? CORNER : node < 6 ? MIDDLE : CENTRE);
        for (int k = 0; k < 3; k++) {
            if (node < 3) s[k] = corner[node][k];
            else if (node < 6) s[k] = (corner[(node + 1) % 3][k] + corner[(node + 2) % 3][k]) / 2;
            else s[k] = (corner[0][k] + corner[1][k] + corner[2][k]) / 3;
        }
        functions_at(s, f);
        for (int i = 0; i < MST_NODES; i++) weight[i] += part * f[i];
    }
}

static double cross(const double a[2], const double b[2], const double c[2]) {
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

/* The ground expected over the triangle at shares of its corners. */
static double foreseen(const mst_inside *in, const double share[3]) {
    double f[MST_NODES], sum = 0;
    functions_at(share, f);
    for (int k = 0; k < 4; k++) sum += f[3 + k] * in->rest_m[k];
    return sum;
}

/* What a piece holds on the other side: where the ground that the checks foresee lies beyond the other surface, and
 * where it may lie there within a few standard deviations. In sixteen cells of the triangle. @param sign +1 above the
 * other surface */
static void add_beyond(const mst_prism_parts *parts, mst_prism_part *part, const double corner[3][3], const double d[3],
                       double area) {
    enum { STEPS = 4 };
    const mst_ground *g = parts->ground;
    const mst_inside *in = g->inside ? &g->inside[part->facet] : NULL;
    double drawn = 0, unseen = 0, again = 0, sign = part->cut ? 1 : -1;
    for (int i = 0; i < STEPS; i++)
        for (int j = 0; j < 2 * (STEPS - i) - 1; j++) { /* a row of cells, standing and hanging in turn */
            const int column = j / 2;
            double b = (column + (j & 1 ? 2 : 1) / 3.0) / STEPS, c = (i + (j & 1 ? 2 : 1) / 3.0) / STEPS, a = 1 - b - c;
            double share[3], height = a * d[0] + b * d[1] + c * d[2];
            for (int k = 0; k < 3; k++) share[k] = a * corner[0][k] + b * corner[1][k] + c * corner[2][k];
            double sd = sqrt(mst_between_at(g, part->facet, share) * (in ? in->left : 1));
            if (in) height += parts->sign * foreseen(in, share);
            drawn += fmax(-sign * height, 0);
            if (!(fabs(height) < FAR * sd)) continue;
            double u = fabs(height) / sd;
            unseen += sd * mst_expected_above(u), again += sd * exp(-u * u / 2) / sqrt(2 * MST_PI);
        }
    area /= STEPS * STEPS;
    part->beyond += drawn * area;
    part->excess += g->roughness.crossings * unseen * area;
    part->again += again * area;
}

/* The most that the ground is to be reckoned with over a facet, either way. */
static double most_between(const mst_ground *g, uint32_t facet) {
    double most = 0, rest = 0;
    for (int i = 0; i < 4; i++) most = fmax(most, mst_between_at(g, facet, MST_INNER_NODES[i]));
    for (int i = 0; g->inside && i < 4; i++) rest = fmax(rest, fabs(g->inside[facet].rest_m[i]));
    return FAR * sqrt(most) + 1.5 * rest; /* between the nodes the quadratic goes a little higher */
}

static bool is_near(const mst_ground *g, uint32_t facet, const double d[], int count) {
    double nearest = HUGE_VAL;
    if (!g->roughness.known) return false;
    for (int i = 0; i < count; i++) nearest = fmin(nearest, fabs(d[i]));
    return nearest < most_between(g, facet);
}

bool mst_parts_add(mst_prism_parts *parts, uint32_t facet, bool cut, const mst_convex *piece, const double d[],
                   const double origin[2], mst_arena *arena) {
    const mst_ground *g = parts->ground;
    mst_prism_part *part = MST_PUSH(arena, parts->items, parts->count, parts->capacity);
    if (!part) return false;
    *part = (mst_prism_part){.facet = facet, .cut = cut};
    double at[3][2], shares[MST_CONVEX_MOST][3], area = 0;
    for (int k = 0; k < 3; k++)
        for (int i = 0; i < 2; i++) at[k][i] = g->corners[g->facets[facet][k]].at[i] - origin[i];
    double whole = cross(at[0], at[1], at[2]) / 2;
    for (int i = 1; i + 1 < piece->count; i++) area += cross(piece->at[0], piece->at[i], piece->at[i + 1]) / 2;
    bool all = fabs(area - whole) <= SAME * whole, near = is_near(g, facet, d, piece->count);
    if (all)
        for (int i = 0; i < MST_NODES; i++) part->weight[i] = area * (i < 3 ? CORNER : i < 6 ? MIDDLE : CENTRE);
    if (all && !near) return true;
    for (int i = 0; i < piece->count; i++)
        for (int k = 0; k < 3; k++) shares[i][k] = cross(at[(k + 1) % 3], at[(k + 2) % 3], piece->at[i]) / (2 * whole);
    for (int i = 1; i + 1 < piece->count; i++) {
        double fan[3][3], ends[3] = {d[0], d[i], d[i + 1]};
        double size = cross(piece->at[0], piece->at[i], piece->at[i + 1]) / 2;
        for (int k = 0; k < 3; k++) fan[0][k] = shares[0][k], fan[1][k] = shares[i][k], fan[2][k] = shares[i + 1][k];
        if (!(size > 0)) continue;
        if (!all) integrate((const double(*)[3])fan, size, part->weight);
        if (near) add_beyond(parts, part, (const double(*)[3])fan, ends, size);
    }
    return true;
}

/* Triangle less ground: the corners' shares of every function, minus the function itself. */
static void add_part(mst_rest *r, const mst_prism_part *p, double sign) {
    double *w = r->weight[p->cut ? 0 : 1];
    if (!p->cut) sign = -sign;
    for (int k = 0; k < 3; k++) {
        double middles = p->weight[3 + (k + 1) % 3] + p->weight[3 + (k + 2) % 3];
        w[k] += sign * (middles / 2 + p->weight[6] / 3); /* its own function cancels */
        w[3 + k] -= sign * p->weight[3 + k];
    }
    w[6] -= sign * p->weight[6];
}

void mst_rest_place(const mst_ground *g, uint32_t facet, mst_rest *r) {
    const uint32_t *c = g->facets[facet];
    const double *origin = g->corners[0].at;
    r->facet = facet;
    for (int i = 0; i < 2; i++) {
        for (int k = 0; k < 3; k++) r->at[k][i] = g->corners[c[k]].at[i] - origin[i];
        for (int k = 0; k < 3; k++) r->at[3 + k][i] = (r->at[(k + 1) % 3][i] + r->at[(k + 2) % 3][i]) / 2;
        r->at[6][i] = (r->at[0][i] + r->at[1][i] + r->at[2][i]) / 3;
    }
}

void mst_rest_moments(mst_rest *r) {
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < MST_NODES; i++) {
            double e = r->at[i][0] - r->at[6][0], n = r->at[i][1] - r->at[6][1], w = r->weight[s][i];
            r->moment[s][0] += w * e * e, r->moment[s][1] += w * e * n, r->moment[s][2] += w * n * n;
        }
}

void mst_rest_of_check(const mst_ground *g, const mst_check *check, double first, double second, mst_rest *r) {
    const double *origin = g->corners[0].at;
    *r = (mst_rest){.facet = MST_NOWHERE};
    for (int k = 0; k < MST_NODES; k++)
        for (int i = 0; i < 2; i++) r->at[k][i] = g->corners[check->corner[k < 4 ? k : 0]].at[i] - origin[i];
    for (int k = 0; k < 4; k++) r->weight[0][k] = -first * check->share[k], r->weight[1][k] = -second * check->share[k];
    mst_rest_moments(r);
}

static int by_facet(const void *a, const void *b) {
    const mst_prism_part *x = *(const mst_prism_part *const *)a, *y = *(const mst_prism_part *const *)b;
    if (x->facet != y->facet) return x->facet < y->facet ? -1 : 1;
    return (x > y) - (x < y);
}

/* All parts on one ground as rests, one a facet. @param again variance of the excess: facets by themselves */
static mst_status rests_on(const mst_ground *g, const mst_prism_parts *const lists[], size_t list_count,
                           mst_arena *arena, mst_rest **rests, size_t *count, double *again) {
    size_t total = 0;
    for (size_t i = 0; i < list_count; i++)
        if (lists[i]->ground == g) total += lists[i]->count;
    const mst_prism_part **sorted = mst_arena_array(arena, total + 1, sizeof *sorted);
    mst_rest *r = mst_arena_array(arena, total + 1, sizeof *r);
    if (!sorted || !r) return MST_NO_MEMORY;
    size_t n = 0;
    double sign = 1;
    for (size_t i = 0; i < list_count; i++)
        for (size_t k = 0; lists[i]->ground == g && k < lists[i]->count; k++)
            sorted[n++] = &lists[i]->items[k], sign = lists[i]->sign;
    qsort(sorted, n, sizeof *sorted, by_facet);
    double of_facet = 0;
    *count = 0, *again = 0;
    for (size_t i = 0; i < n; i++) {
        if (i == 0 || sorted[i]->facet != sorted[i - 1]->facet) mst_rest_place(g, sorted[i]->facet, &r[(*count)++]);
        add_part(&r[*count - 1], sorted[i], sign * mst_facet_scale(g, sorted[i]->facet));
        of_facet += sorted[i]->again;
        if (i + 1 < n && sorted[i + 1]->facet == sorted[i]->facet) continue;
        *again += of_facet * of_facet / 2;
        of_facet = 0;
    }
    for (size_t i = 0; i < *count; i++) mst_rest_moments(&r[i]);
    *rests = r;
    return MST_OK;
}

/* Adds what one ground's parts give. */
static mst_status add_ground(const mst_ground *g, const mst_prism_parts *const lists[], size_t count, mst_spread *s) {
    mst_arena *arena = mst_arena_new();
    mst_rest *rests, *checks;
    size_t rest_count, check_count;
    double v[3], shift[2], unseen = 0, beyond = 0, again = 0;
    bool room = arena && !rests_on(g, lists, count, arena, &rests, &rest_count, &again) &&
                !mst_foresee(g, rests, rest_count, arena, &checks, &check_count, shift);
    mst_rest *all = room ? mst_arena_array(arena, rest_count + check_count + 1, sizeof *all) : NULL;
    for (size_t i = 0; room && i < count; i++)
        for (size_t k = 0; lists[i]->ground == g && k < lists[i]->count; k++) {
            unseen += lists[i]->items[k].excess;
            beyond += lists[i]->items[k].beyond;
        }
    unseen *= 1 - pow(FINEST, g->roughness.power);
    for (int k = 0; k < 2; k++) shift[k] += beyond + unseen;
    for (size_t i = 0; all && i < rest_count; i++) all[i] = rests[i];
    for (size_t i = 0; all && i < check_count; i++) all[rest_count + i] = checks[i];
    room = all && !mst_rests_spread(all, rest_count + check_count, g->roughness.kernel, arena, v);
    double share = ESTIMATED / fmax(g->roughness.degrees_of_freedom, 1), estimated = 1 + share;
    double doubt = again + share * unseen * unseen; /* more cut is more fill: net stays out of it */
    if (room) {
        s->cut_m6 += estimated * v[0] + doubt;
        s->cross_m6 += estimated * v[1] + doubt;
        s->fill_m6 += estimated * v[2] + doubt;
        s->cut_shift_m3 += shift[0], s->fill_shift_m3 += shift[1];
    }
    mst_arena_free(arena);
    return room ? MST_OK : MST_NO_MEMORY;
}

mst_status mst_parts_spread(const mst_prism_parts *const lists[], size_t count, mst_spread *spread, mst_error *error) {
    mst_spread s = {.known = true, .degrees_of_freedom = HUGE_VAL};
    for (size_t i = 0; i < count; i++) {
        const mst_ground *g = lists[i]->ground;
        bool first = true;
        for (size_t k = 0; k < i; k++) first &= lists[k]->ground != g;
        if (!first) continue;
        s.known &= g->roughness.known;
        if (!g->roughness.known) continue; /* its readings count, the others' ground does all the same */
        s.degrees_of_freedom = fmin(s.degrees_of_freedom, g->roughness.degrees_of_freedom);
        if (add_ground(g, lists, count, &s)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    *spread = s;
    return MST_OK;
}
