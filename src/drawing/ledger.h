/** @file src/drawing/ledger.h  The column of words beside the plan: status, north, legend, notes, list, revisions,
 * title.
 *
 * Every block can be measured before it is drawn (a pen without cairo), so the column is laid out before the plan. */
#ifndef DRAWING_LEDGER_H
#define DRAWING_LEDGER_H
#include "drawing/annotate.h"
#include "drawing/marks.h"

/** What the plan uses of the signs that need words. */
typedef struct mst_legend_item {
    enum {
        MST_KEY_STYLE,
        MST_KEY_MARK,
        MST_KEY_POINT,
        MST_KEY_STAKE,
        MST_KEY_CONTOUR,
        MST_KEY_INDEX,
        MST_KEY_CUT,
        MST_KEY_FILL,
        MST_KEY_MEET,
        MST_KEY_BOXED,
        MST_KEY_FALL,
        MST_KEY_RIM,
        MST_KEY_ELLIPSE,
        MST_KEY_RING,
        MST_KEY_SHADE,
        MST_KEY_SLOPE,
        MST_KEY_TINT,
        MST_KEY_DOUBT,
        MST_KEY_NEXT
    } sign;
    const mst_style *style;
    bool area;
    mst_point_sign point;
    int step; /**< band of slope or doubt, tint of level */
    const char *words;
} mst_legend_item;

typedef struct mst_ledger {
    const mst_plan *plan;
    const mst_sheet_text *text;
    const mst_paper *paper;
    const mst_sizes *sizes;
    double scale, turn_rad;
    const char *document;  /**< kind of document: Survey plan ... */
    double ellipse_factor; /**< by how much error ellipses are enlarged; 0: not drawn */
    mst_legend_item *legend;
    size_t legend_count, legend_capacity;
    const mst_listed *listed;
    size_t listed_count, names_left_out;
    size_t list_rows; /**< how many rows of the list must find room before it is cut short */
    mst_arena *arena;
} mst_ledger;

enum { MST_COLUMNS_MOST = 5 };
/** Columns in the order in which words fill them; `title` holds the title block at its foot. */
typedef struct mst_columns {
    mst_rect at[MST_COLUMNS_MOST];
    int count, title;
} mst_columns;

/** @param note_mm height of the capitals of the notes
 * @return false when the blocks do not fit into the columns; the list may always be cut short, and says so */
bool mst_ledger_fits(const mst_ledger *ledger, mst_pen *pen, const mst_columns *columns, double note_mm);
void mst_ledger_draw(const mst_ledger *ledger, mst_pen *pen, const mst_columns *columns, double note_mm);
/** The title block in a width of at most 180 mm (ISO 7200), its foot at @p bottom. @return its height, mm */
double mst_title_block(const mst_ledger *ledger, mst_pen *pen, double x, double bottom, double width);
/** Lists exactly the signs that the plan uses. @return false when memory is short */
bool mst_legend_make(mst_ledger *ledger, mst_pen *pen, bool list);
enum { MST_LEGEND_SIGN_W = 10 };
/** Draws the sample of a legend's line, MST_LEGEND_SIGN_W mm wide, its left end and middle height at x, y. */
void mst_draw_legend_sign(const mst_ledger *ledger, mst_pen *pen, const mst_legend_item *item, double x, double y);
#endif
