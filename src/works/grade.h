/** @file src/works/grade.h  Cheapest levels: the mesh, the wishes as hinges, and the interior point method on them. */
#ifndef WORKS_GRADE_H
#define WORKS_GRADE_H
#include "merestone/works.h"
#include "numeric/sparse.h"

typedef struct mst_grade_mesh {
    const mst_grade_input *in;
    double *area;         /**< [nodes] a third of the triangles around each */
    uint32_t (*edges)[2]; /**< each once, lower number first */
    size_t edge_count;
} mst_grade_mesh;
bool mst_grade_mesh_of(const mst_grade_input *in, mst_arena *arena, mst_grade_mesh *mesh);
double mst_grade_twice_area(const mst_grade_input *in, const uint32_t triangle[3]);
/** The fall of a triangle's plane towards a bearing, as factors of its corners' levels. */
void mst_grade_fall_factors(const mst_grade_input *in, const uint32_t triangle[3], double bearing_rad,
                            double factor[3]);
/** Marks the nodes of the triangles of a wish. */
bool *mst_grade_nodes_of(const mst_grade_input *in, const mst_wish *wish, mst_arena *arena);

/** A sum over up to three nodes' heights over the ground, in metres. */
typedef struct mst_grade_row {
    uint32_t node[3];
    double factor[3];
    int count;
} mst_grade_row;
/** What a row costs: nothing at @p at, and a price for each metre to either side. row - at = above - below; the
 * multiplier lies from -(price below) to the price above. A side without a price is forbidden. */
enum { MST_HINGE_BELOW = 1, MST_HINGE_ABOVE = 2 }; /**< sides on which the row may lie */
typedef struct mst_hinge {
    uint32_t row;
    int sides;
    double at, price_below, price_above;
    double per_cut, per_fill;                        /**< of a node: how its prices change with the worth of soil */
    double below, above, y, s_below, s_above;        /**< s: how far the multiplier y is from its limits */
    double d_below, d_above, dy, ds_below, ds_above; /**< the step */
    double r_below, r_above, weight, residual;
} mst_hinge;
typedef struct mst_hinges {
    mst_grade_row *rows;
    size_t row_count, row_capacity;
    mst_hinge *items;
    size_t count, capacity;
    mst_arena *arena;
    bool failed;
} mst_hinges;
/** The wishes as rows and hinges. @param elastic  each may be missed at a price of 1 for a metre */
void mst_hinges_of_wishes(const mst_grade_mesh *mesh, const bool wanted[], bool elastic, mst_hinges *hinges);

/** The cheapest heights over the ground by an interior point method.
 * @param height_m [nodes] @param least  no levels within 100 m of the ground that meet the wishes cost less
 * @retval MST_NO it does not come together: the wishes may conflict; MST_NOT_CONVERGED; MST_NO_MEMORY */
mst_status mst_grade_interior(const mst_grade_mesh *mesh, const bool wanted[], double height_m[], double *least,
                              int *steps, mst_error *error) MST_CHECKED;
/** Whether the wishes can be met together. @retval MST_NO they cannot */
mst_status mst_grade_can_be(const mst_grade_mesh *mesh, const bool wanted[], mst_error *error) MST_CHECKED;
/** The smallest set of wishes that conflict, into the grade. @retval MST_NO always, but for want of memory */
mst_status mst_grade_conflict(const mst_grade_mesh *mesh, mst_arena *arena, mst_grade *grade,
                              mst_error *error) MST_CHECKED;
#endif
