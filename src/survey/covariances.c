/* The variance of a linear function of coordinates by one solve with the kept factor: g Q g'. */
#include "survey/covariances.h"
#include <math.h>
#include <string.h>

struct mst_covariances {
    const mst_system *system;
    const mst_network *net;
    const mst_sparse *matrix;
    size_t unknowns;
    const mst_free_datum *free; /* or NULL */
    double (*by)[3];            /* [nodes] work, with free only */
    double *gradient, *solved;  /* work: hence one caller at a time */
};

mst_status mst_covariances_keep(const mst_system *s, const mst_free_datum *free, mst_adjustment *adjustment,
                                mst_error *error) {
    mst_arena *arena = s->net->arena;
    struct mst_covariances *kept = mst_arena_alloc(arena, sizeof *kept);
    double *gradient = mst_arena_array(arena, s->unknowns + 1, sizeof *gradient);
    double *solved = mst_arena_array(arena, s->unknowns + 1, sizeof *solved);
    if (!kept || !gradient || !solved) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the covariances.");
    double(*by)[3] = mst_arena_array(arena, (free ? s->net->node_count : 0) + 1, sizeof *by);
    if (!by) return mst_fail(error, MST_NO_MEMORY, "Memory is short for the covariances.");
    *kept = (struct mst_covariances){s, s->net, s->matrix, s->unknowns, free, by, gradient, solved};
    adjustment->covariances = kept;
    return MST_OK;
}

static void add(double gradient[], uint32_t unknown, double derivative) {
    if (unknown != MST_NONE) gradient[unknown] += derivative;
}

mst_status mst_adjustment_variance(const mst_adjustment *adjustment, const mst_gradient_term terms[], size_t count,
                                   double *variance, mst_error *error) {
    const struct mst_covariances *kept = adjustment->covariances;
    if (kept->free) memset(kept->by, 0, kept->net->node_count * sizeof *kept->by);
    memset(kept->gradient, 0, kept->unknowns * sizeof *kept->gradient);
    for (size_t i = 0; i < count; i++) {
        if (terms[i].point >= adjustment->point_count || !isfinite(terms[i].easting) || !isfinite(terms[i].northing) ||
            !isfinite(terms[i].elevation))
            return mst_fail(error, MST_INVALID, "Term %zu of the figure names no point or has no derivative.", i + 1);
        const mst_node *node = &kept->net->nodes[terms[i].point];
        add(kept->gradient, node->unknown_e, terms[i].easting);
        add(kept->gradient, node->unknown_n, terms[i].northing);
        add(kept->gradient, node->unknown_h, terms[i].elevation);
        if (!kept->free) continue;
        kept->by[terms[i].point][0] += terms[i].easting;
        kept->by[terms[i].point][1] += terms[i].northing;
        kept->by[terms[i].point][2] += terms[i].elevation;
    }
    if (kept->free) mst_free_datum_project(kept->free, kept->by, kept->gradient);
    memcpy(kept->solved, kept->gradient, kept->unknowns * sizeof *kept->solved);
    mst_sparse_solve(kept->matrix, kept->solved);
    double sum = 0;
    for (size_t i = 0; i < kept->unknowns; i++) sum += kept->gradient[i] * kept->solved[i];
    *variance = fmax(sum, 0) * adjustment->scale * adjustment->scale;
    return MST_OK;
}

const mst_system *mst_covariances_system(const struct mst_covariances *kept, const mst_free_datum **free) {
    *free = kept->free;
    return kept->system;
}

mst_ellipse mst_ellipse_of(double ee, double en, double nn) {
    double middle = (ee + nn) / 2, half = hypot((nn - ee) / 2, en), major = middle + half;
    double minor = major > 0 ? (ee * nn - en * en) / major : 0; /* not middle - half, which loses a thin ellipse */
    minor = fmin(minor, major);                                 /* on a circle rounding may swap them */
    double bearing = half > 0 ? atan2(2 * en, nn - ee) / 2 : 0;
    if (bearing < 0) bearing += MST_PI;
    return (mst_ellipse){sqrt(fmax(major, 0)), sqrt(fmax(minor, 0)), bearing < MST_PI ? bearing : 0};
}
