/** @file src/works/design.h  An element as plane facets in plan: what it is made of, and the banks that run out from
 * it.
 *
 * Places count from the tiling's origin. */
#ifndef WORKS_DESIGN_H
#define WORKS_DESIGN_H
#include "works/tiling.h"

enum { MST_FACET_CORNERS = 8, MST_PROFILE_PIECES = 40 };

/** z = level + slope . (p - from) */
typedef struct mst_work_plane {
    double from[2], level_m, slope[2];
} mst_work_plane;
static inline double mst_work_level(const mst_work_plane *p, const double at[2]) {
    return p->level_m + p->slope[0] * (at[0] - p->from[0]) + p->slope[1] * (at[1] - p->from[1]);
}

/** A plane over a convex polygon, counter-clockwise. */
typedef struct mst_work_facet {
    double at[MST_FACET_CORNERS][2];
    int count;
    mst_work_plane plane;
    bool rooted; /**< a bank's facet that starts from the edge root */
    double root[2][2];
    bool seed; /**< of the element itself: needs no root */
    bool mask; /**< no surface: it says where the element itself lies */
} mst_work_facet;

typedef struct mst_facet_list {
    mst_work_facet *items;
    size_t count, capacity;
    mst_arena *arena;
    bool failed;
} mst_facet_list;
/** Adds a triangle, turned counter-clockwise; one without area is left out. */
void mst_facet_triangle(mst_facet_list *list, const double at[3][2], const double level[3]);

/** A run of edges with what they bound on their left; banks run out to the right. */
typedef struct mst_chain {
    double (*at)[2], *level_m;
    size_t count;
    bool closed;
    bool *with_bank; /**< by edge, or NULL: all */
} mst_chain;

/** Across a bank, from its edge on: piece k runs from far_m[k], drop_m[k] at slope[k] (> 0 up) to far_m[k + 1]. */
typedef struct mst_bank_profile {
    double far_m[MST_PROFILE_PIECES + 1], drop_m[MST_PROFILE_PIECES], slope[MST_PROFILE_PIECES];
    int pieces;
} mst_bank_profile;
/** Facets of the banks along a chain. At a corner that opens, the bank turns about it as a cone whose every level
 * encloses the circle's true area; where two banks run into each other they meet in a valley or a ridge. */
void mst_bank_facets(mst_facet_list *list, const mst_chain *chain, const mst_bank_profile *profile);

/** One step of putting an element into the tiling. */
typedef enum mst_step_kind {
    MST_STEP_SET,   /**< the facets are the finished surface */
    MST_STEP_SINK,  /**< formation lies a depth under the existing ground */
    MST_STEP_STRIP, /**< only topsoil comes off */
    MST_STEP_BUILD, /**< the finished surface stays, formation sinks by the layers */
    MST_STEP_RAISE, /**< the highest of facets and finished surface */
    MST_STEP_LOWER  /**< the lowest */
} mst_step_kind;
typedef enum mst_step_where { MST_ANYWHERE, MST_INSIDE, MST_OUTSIDE } mst_step_where; /**< of the mask */
typedef struct mst_work_step {
    mst_step_kind kind;
    mst_step_where where;
    mst_tile_part part;
    bool connected;      /**< what does not hang together with a root stays as it was */
    bool formation_only; /**< compares and changes formation: a trench that is filled again */
    double sink_m;       /**< formation under the facets, or under the existing ground */
    mst_facet_list facets;
} mst_work_step;

/** An element laid out in plan; its banks wait until it is known how far they must run. */
typedef struct mst_layout {
    const mst_element *element;
    mst_facet_list base;
    mst_chain *chains;
    size_t chain_count;
    mst_box box; /**< in the site's coordinates */
    double lowest_m, highest_m;
    double length_m, area_m2; /**< of a line; of the base in plan */
    double (*wall)[2];
    size_t wall_count; /**< of a wall: its line */
} mst_layout;
mst_status mst_layout_of(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                         const double origin[2], mst_arena *arena, mst_layout *layout, mst_error *error) MST_CHECKED;
/** The line works of mst_layout_of. @param line flattened */
mst_status mst_layout_line(mst_layout *layout, const mst_path *line, const double origin[2], mst_arena *arena,
                           mst_error *error) MST_CHECKED;
/** The steps of an element, whose banks run until they have passed @p lowest_m and @p highest_m. */
enum { MST_MOST_STEPS = 4 };
mst_status mst_steps_of(const mst_layout *layout, double lowest_m, double highest_m, const double origin[2],
                        mst_arena *arena, mst_work_step steps[MST_MOST_STEPS], size_t *count,
                        mst_error *error) MST_CHECKED;
/** How far an element's banks run at most between those levels. */
double mst_layout_reach(const mst_layout *layout, double lowest_m, double highest_m);
#endif
