/** @file numeric/sparse_shape.h  What a symmetric sparse matrix's factor looks like, before any number is known: an
 * order, and fronts of columns that share their rows. */
#ifndef NUMERIC_SPARSE_SHAPE_H
#define NUMERIC_SPARSE_SHAPE_H
#include "merestone/base.h"

#define MST_NO_FRONT UINT32_MAX

/* Which unknowns meet in some row: of each, all others. */
typedef struct mst_pattern {
    size_t unknowns;
    uint32_t *start, *other;
} mst_pattern;

/* Columns first .. first + columns of the reordered matrix. Their rows are themselves and then `below` others. Fronts
 * are numbered so that a parent follows its children; all that hang on one stand right before it. */
typedef struct mst_front {
    uint32_t first, columns, below, stride;
    uint32_t parent, child, sibling; /* its children in order: child, then sibling by sibling */
    uint32_t lowest;                 /* first of the fronts that hang on it */
    size_t list;                     /* where its rows below start */
    size_t panel;                    /* where its numbers start */
} mst_front;

typedef struct mst_shape {
    size_t unknowns, front_count;
    uint32_t *order, *place_of; /* unknown at a place; place of an unknown */
    mst_front *fronts;
    uint32_t *row;  /* of each front's rows below: their places, ascending */
    uint32_t *into; /* and where they stand among the rows of the parent */
    size_t list_size, panel_size, stack_size, inverse_size, rows_max;
} mst_shape;

/** Orders the matrix and shapes its factor. @param place [unknowns] as for mst_sparse_analyse_placed, or NULL
 * @param arena keeps the result @param scratch may go afterwards
 * @return false when memory is short */
bool mst_shape_find(const mst_pattern *pattern, const double (*place)[2], mst_arena *arena, mst_arena *scratch,
                    mst_shape *shape) MST_CHECKED;
/** Where a place stands among the rows of a front. It must be one of them. */
uint32_t mst_shape_local(const mst_shape *shape, uint32_t front, uint32_t place);
/** Numbers that a front passes on to its parent take. */
size_t mst_shape_passed(const mst_front *front);

#endif
