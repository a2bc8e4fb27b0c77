/** @file src/drawing/labels.h  The words and figures of a plan: where each may go, and how each is written. */
#ifndef DRAWING_LABELS_H
#define DRAWING_LABELS_H
#include "drawing/linework.h"
#include "drawing/place.h"

typedef enum mst_label_kind {
    MST_LABEL_PLAIN,   /**< text alone */
    MST_LABEL_BOXED,   /**< design levels */
    MST_LABEL_ARROW,   /**< a fall arrow under its figure */
    MST_LABEL_CONTOUR, /**< in a break of its contour */
    MST_LABEL_KEY      /**< a number in a ring that leads to the list */
} mst_label_kind;

enum { MST_LABEL_LINES = 4 };
typedef struct mst_label {
    mst_label_kind kind;
    const char *lines[MST_LABEL_LINES];
    mst_type types[MST_LABEL_LINES];
    int line_count;
    double w, h; /**< with padding, mm */
    mst_tone tone;
    double x, y;                        /**< what it names */
    const char *list_name, *list_value; /**< its entry in the list when it is dropped; NULL: not listed */
    size_t track;                       /**< MST_LABEL_CONTOUR: which contour */
    double *stations;                   /**< MST_LABEL_CONTOUR: chainage of each choice, mm */
    bool backwards;                     /**< MST_LABEL_ARROW: the fall runs against the figure */
    bool ground;                        /**< the ink under it is cleared away */
} mst_label;

/** Labels, and the placing of each under the same index. */
typedef struct mst_labels {
    mst_arena *arena;
    mst_pen *pen;
    const mst_sizes *sizes;
    mst_label *items;
    size_t count, capacity;
    mst_placing *placings;
    size_t placing_count, placing_capacity;
    bool failed; /**< memory was short */
} mst_labels;

/** Starts a label; lines are added with mst_label_line, then a place with one of the three below. NULL when short. */
mst_label *mst_label_new(mst_labels *labels, mst_label_kind kind, int priority, double limit);
void mst_label_line(mst_labels *labels, const char *text, mst_type type);
/** @return a copy of @p text in the labels' arena; "" when memory is short, and `failed` is set */
const char *mst_label_text(mst_labels *labels, const char *text);

/** Beside a point whose sign takes @p clear mm either way; farther off with a leader, at up to @p reach mm (0: never).
 */
void mst_choose_around(mst_labels *labels, double x, double y, double clear, double reach);
/** Along the straight line from a to b, @p outside: 1 to the right of the way, -1 to the left, 0 no matter. */
void mst_choose_along(mst_labels *labels, const double a[2], const double b[2], int outside, double off);
/** Inside a shape, as far from its lines as can be; outside with a leader when it has no room.
 * @param turn_rad direction of the text */
void mst_choose_inside(mst_labels *labels, const mst_track *rings, size_t count, double turn_rad, bool leader);
/** In the course of a contour, from @p s0 to @p s1 mm along, that rises to the left or not: its figure reads uphill. */
void mst_choose_on(mst_labels *labels, const mst_track *track, double s0, double s1, bool uphill_left);
/** At one place only. */
void mst_choose_at(mst_labels *labels, double x, double y);

/** True when a place lies inside the rings, by the even-odd rule. */
bool mst_rings_contain(const mst_track *rings, size_t count, double x, double y);
/** Writes a placed label; nothing for a dropped one. */
void mst_draw_label(mst_pen *pen, const mst_sizes *sizes, const mst_label *label, const mst_placing *placing);
/** Clears fine lines and hatches from under a placed label that asks for it. */
void mst_draw_label_ground(mst_pen *pen, const mst_label *label, const mst_placing *placing);
#endif
