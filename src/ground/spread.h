/** @file src/ground/spread.h  What the ground between the points does to a sum of levels over an area. */
#ifndef GROUND_SPREAD_H
#define GROUND_SPREAD_H
#include "ground/convex.h"
#include "ground/roughness.h"

/** Inside a facet the ground is looked at in seven places: corners, middles of the edges (k opposite corner k) and the
 * centre. The functions that are 1 at one of them and 0 at the others span all quadratics, and more. */
enum { MST_NODES = 7 };
/** Shares of the corners in those that are no corner. */
static const double MST_INNER_NODES[4][3] = {{0, 0.5, 0.5}, {0.5, 0, 0.5}, {0.5, 0.5, 0}, {1 / 3.0, 1 / 3.0, 1 / 3.0}};

/** A convex piece of a facet in a sum: the integrals of the seven functions over it. */
typedef struct mst_prism_part {
    uint32_t facet;
    bool cut; /**< else fill */
    double weight[MST_NODES];
    double beyond; /**< m3 on the other side by what the checks foresee, in cut and in fill alike */
    double excess; /**< and because the ground is expected to cross the other surface unseen */
    double again;  /**< m3, half its square is the variance of the excess */
} mst_prism_part;

struct mst_prism_parts {
    const mst_ground *ground;
    mst_prism_part *items;
    size_t count, capacity;
    double sign; /**< +1: cut grows with the ground's level */
};

/** Adds a piece, places counted from @p origin. @param d height of the ground over the other surface at its corners,
 * of one sign. @return false when memory is short */
bool mst_parts_add(mst_prism_parts *parts, uint32_t facet, bool cut, const mst_convex *piece, const double d[],
                   const double origin[2], mst_arena *arena);
/** Variance of the ground's level about the facet's at shares of its corners. */
double mst_between_at(const mst_ground *ground, uint32_t facet, const double share[3]);
/** A facet's part in two sums: the weights of its nodes, and their second moments, which is all that one sees of it
 * from far away because level and slope drop out. */
typedef struct mst_rest {
    uint32_t facet;                                              /**< MST_NOWHERE: of a check */
    double at[MST_NODES][2], weight[2][MST_NODES], moment[2][3]; /**< moment: ee, en, nn */
} mst_rest;
/** Puts a facet's nodes at their places, counted from the ground's first corner; weights stay as they are. */
void mst_rest_place(const mst_ground *ground, uint32_t facet, mst_rest *rest);
/** Sets the moments from the weights. */
void mst_rest_moments(mst_rest *rest);
/** A place in both sums. */
typedef struct mst_node {
    double at[2], weight[2];
} mst_node;
/** The nodes of rests[chosen[0 .. count)], those that facets share once. @param nodes room for MST_NODES each
 * @return how many */
size_t mst_rest_nodes(const mst_rest rests[], const uint32_t chosen[], size_t count, mst_node nodes[]);
/** A check with a weight in each sum, to be taken off. */
void mst_rest_of_check(const mst_ground *ground, const mst_check *check, double first, double second, mst_rest *rest);
/** The best linear prediction of both sums from the checks: their rests to be added to the others, so that what is left
 * is the error of the prediction, and by how much the true volumes are expected to be larger. */
mst_status mst_foresee(const mst_ground *ground, const mst_rest rests[], size_t count, mst_arena *arena,
                       mst_rest **checks, size_t *check_count, double shift[2]) MST_CHECKED;
/** Variances of the two sums and their covariance, over the rests of several facets.
 * @retval MST_NO_MEMORY */
mst_status mst_rests_spread(const mst_rest rests[], size_t count, const double kernel[MST_KERNEL_TERMS],
                            mst_arena *arena, double variance[3]) MST_CHECKED;
#endif
