/** @file src/drawing/plan.h  The things that a plan shows, as plain values: no cairo, no ground model, no files.
 *
 * plan.c makes one from a drawing's input; tests make one by hand. Places are in metres from `origin`, so that a
 * national grid's large coordinates never reach the paper. Everything is borrowed or lives in the maker's arena. */
#ifndef DRAWING_PLAN_H
#define DRAWING_PLAN_H
#include "drawing/style.h"
#include "merestone/drawing.h"

typedef struct mst_plan_point {
    const char *name;
    mst_point at;
    double level_m, sd_level_m; /**< NaN where not known */
    double semi_major_m, semi_minor_m, ellipse_bearing_rad;
    bool unproven, held, hard; /**< one reading only; control; on a built surface or edge */
    bool key;                  /**< a threshold or a damp course: the level that all others answer to */
    bool marked;               /**< a spot feature's own sign stands on it */
} mst_plan_point;

typedef struct mst_plan_feature {
    const char *name;
    const mst_style *style;
    mst_feature_kind kind;
    mst_shape shape; /**< of a spot: one path of one vertex */
} mst_plan_feature;

typedef struct mst_plan_contour {
    double level_m;
    bool closed, index, uphill_left; /**< uphill lies to the left of the way along the points */
    const mst_point *points;
    size_t count;
} mst_plan_contour;

/** A design element. `cut_at` says by how much the stripped ground lies above the formation (< 0: under it). */
typedef struct mst_plan_pad {
    const char *name;
    mst_shape shape;
    bool has_level;   /**< false: an even depth under the ground */
    mst_plane finish; /**< e0, n0 from the plan's origin */
    double build_up_m, depth_m;
    bool (*cut_at)(const void *self, mst_point at, double *cut_m); /**< NULL: no ground; false outside it */
    const void *self;
    const char *lines[2]; /**< what its label says under the name, where it is no pad */
    bool light;           /**< its outline is no edge of anything: a bank's foot */
} mst_plan_pad;
/** A line of the works: down a bank, a riser, where a bank ends on the ground. */
typedef struct mst_plan_stroke {
    mst_point from, to;
    mst_ink ink;
    bool dashed;
} mst_plan_stroke;

typedef struct mst_plan_stake {
    const char *name;
    mst_point at;
    double level_m, cut_m;
} mst_plan_stake; /**< NaN = none */
/** A triangle of the ground, counter-clockwise. */
typedef struct mst_plan_face {
    mst_point at[3];
    double level_m[3], shade;
    int band; /**< of slope, or of doubt where that is drawn */
} mst_plan_face;
typedef struct mst_plan_note {
    const char *heading, *text;
} mst_plan_note;

typedef struct mst_plan {
    mst_point origin;
    bool imperial;
    mst_plan_point *points;
    size_t point_count, point_capacity;
    mst_plan_feature *features;
    size_t feature_count, feature_capacity;
    mst_plan_contour *contours;
    size_t contour_count;
    double contour_interval_m;
    mst_plan_face *faces; /**< only where they are drawn */
    size_t face_count;
    mst_ground_look look;
    double tint_first_m, tint_step_m; /**< of MST_LOOK_LEVELS: lower end of the lowest tint, height of each */
    int tint_count;
    mst_point *next; /**< of MST_LOOK_DOUBT: where one more level tells most, the best first */
    size_t next_count;
    mst_path *rims;
    size_t rim_count;
    mst_plan_pad *pads;
    size_t pad_count, pad_capacity;
    mst_plan_stroke *strokes;
    size_t stroke_count, stroke_capacity;
    mst_plan_stake *stakes;
    size_t stake_count;
    double sd_plan_m; /**< of a usual point, the median; NaN unknown */
    mst_plan_note *notes;
    size_t note_count, note_capacity;
} mst_plan;

/** Makes the plan of a drawing's input. @retval MST_TOO_FEW nothing has a place; MST_NO_MEMORY, and what the ground
 * says */
mst_status mst_plan_make(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan,
                         mst_error *error) MST_CHECKED;
/** Adds the elements that are no pads, in plan_works.c. */
mst_status mst_plan_add_works(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan,
                              mst_error *error) MST_CHECKED;
/** Adds the notes that a plan of @p input must carry. @return false when memory is short */
bool mst_plan_add_notes(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan);
/** @return the median of the values, NaN for none; reorders them. */
double mst_median(double values[], size_t count);

/** Corners of everything on the plan, m from the origin, in the frame turned clockwise by @p turn_rad.
 * @return false when there is nothing */
bool mst_plan_extent(const mst_plan *plan, double turn_rad, mst_point *low, mst_point *high);
/** The arc from @p a to @p b, a->bulge != 0: its centre, radius, the direction of a from the centre and the sweep,
 * radians counter-clockwise from east. */
void mst_plan_arc(const mst_path_vertex *a, const mst_path_vertex *b, mst_point *centre, double *radius_m,
                  double *from_rad, double *sweep_rad);
#endif
