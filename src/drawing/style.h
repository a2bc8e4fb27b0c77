/** @file src/drawing/style.h  How a feature looks, from the plain words in its code. Black ink alone tells them apart.
 */
#ifndef DRAWING_STYLE_H
#define DRAWING_STYLE_H
#include "merestone/site.h"

typedef enum mst_ink { MST_INK_FINE, MST_INK_MEDIUM, MST_INK_HEAVY } mst_ink;
typedef enum mst_dash { MST_DASH_NONE, MST_DASH_SHORT, MST_DASH_LONG, MST_DASH_CHAIN, MST_DASH_DOT } mst_dash;
/** What is repeated along a line. */
typedef enum mst_beat { MST_BEAT_NONE, MST_BEAT_STICKS, MST_BEAT_LEAVES, MST_BEAT_ARROWS, MST_BEAT_LETTER } mst_beat;
typedef enum mst_fill {
    MST_FILL_NONE,
    MST_FILL_BUILDING,
    MST_FILL_PAVING,
    MST_FILL_GRAVEL,
    MST_FILL_PLANTS,
    MST_FILL_WATER
} mst_fill;
typedef enum mst_mark {
    MST_MARK_RING,
    MST_MARK_TREE,
    MST_MARK_COVER,
    MST_MARK_POST,
    MST_MARK_DOOR,
    MST_MARK_STONE
} mst_mark;
/** What the notes must say when such a thing is, or is not, on the sheet. */
typedef enum mst_matter {
    MST_MATTER_NONE,
    MST_MATTER_SERVICE,
    MST_MATTER_WALL,
    MST_MATTER_TREE,
    MST_MATTER_OCCUPATION
} mst_matter;

typedef struct mst_style {
    const char *words; /**< comma-separated; a code that contains one of them has this style */
    const char *legend;
    mst_ink ink;
    mst_dash dash;
    mst_beat beat;
    const char *letter; /**< repeated in breaks of the line, for MST_BEAT_LETTER */
    mst_fill fill;
    mst_mark mark; /**< where the feature is a spot */
    bool hard;     /**< built surface or edge: levels and lengths are worth one decimal more */
    bool figured;  /**< its edges get lengths and radii */
    mst_matter matter;
} mst_style;

/** @return the style for a code (any case) and role; never NULL. The same pointer for the same style. */
const mst_style *mst_style_for(const char *code, mst_feature_kind kind, mst_role role);
#endif
