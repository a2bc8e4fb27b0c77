/** @file src/geometry/arc.h  One edge of a path: straight, or an arc given by its chord and bulge.
 *
 * Everything is written in chord and bulge, not in centre and radius: a nearly straight arc has its centre at the
 * end of the world, but its chord at hand. */
#ifndef GEOMETRY_ARC_H
#define GEOMETRY_ARC_H
#include "merestone/geometry.h"

double mst_edge_length(const mst_path_vertex *a, const mst_path_vertex *b);
/** Signed area between the chord and the arc, m2; > 0 when it adds to a counter-clockwise ring. */
double mst_edge_segment_area(const mst_path_vertex *a, const mst_path_vertex *b);
/** The place at share @p t (0..1) of the way; elevation linear in t. Exactly @p a at 0 and @p b at 1. */
mst_path_vertex mst_edge_at(const mst_path_vertex *a, const mst_path_vertex *b, double t);
/** Number of edges of a path. */
size_t mst_path_edges(const mst_path *path);
/** The vertex at which edge @p edge ends. */
const mst_path_vertex *mst_path_edge_end(const mst_path *path, size_t edge);
bool mst_path_finite(const mst_path *path); /**< plan coordinates and bulges are numbers */
#endif
