/** @file numeric/sparse_order.h  In which order the nodes of a graph are best eliminated. */
#ifndef NUMERIC_SPARSE_ORDER_H
#define NUMERIC_SPARSE_ORDER_H
#include "merestone/base.h"

/* Neighbours of each node, both ways, itself not among them. */
typedef struct mst_graph {
    size_t nodes;
    const int *start, *other;
    const uint32_t *weight; /* unknowns that each node stands for */
    double (*place)[2];     /* NULL, or where each node lies; NaN: its neighbours' middle is written there */
} mst_graph;

/** @param order [nodes + 1] node at each position @return false when memory is short */
bool mst_order_find(const mst_graph *graph, mst_arena *scratch, int order[]) MST_CHECKED;

#endif
