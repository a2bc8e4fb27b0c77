/** @file src/drawing/pen.h  Ink and text on one page, whatever the file. The user unit is 1 mm; y runs down.
 *
 * Text is measured without hints on a context of its own, so that it is as wide on every surface, and so that labels
 * can be placed before there is a surface. */
#ifndef DRAWING_PEN_H
#define DRAWING_PEN_H
#include <cairo.h>
#include <pango/pangocairo.h>
#include "drawing/paper.h"

typedef struct mst_pen {
    cairo_t *cairo; /**< NULL while only measuring */
    PangoFontMap *map;
    PangoContext *context;
    PangoLayout *layout;
    PangoFontDescription *font;
} mst_pen;

typedef enum mst_align { MST_LEFT, MST_CENTRE, MST_RIGHT } mst_align;
typedef struct mst_type {
    double cap_mm;
    bool bold;
} mst_type; /**< height of the capitals */

/** @return false when memory is short; then there is nothing to close. */
bool mst_pen_open(mst_pen *pen);
void mst_pen_close(mst_pen *pen);

double mst_text_width(mst_pen *pen, const char *text, mst_type type); /**< mm */
/** Writes one line with its baseline at x, y; nothing while measuring. */
void mst_text_at(mst_pen *pen, double x, double y, const char *text, mst_type type, mst_align align);
/** One line from x in at most @p room mm: made smaller, by a quarter at the most, then cut short with an ellipsis. */
void mst_text_in(mst_pen *pen, double x, double y, double room, const char *text, mst_type type);
/** As mst_text_at, the middle of the capitals at x, y, turned clockwise on the paper by @p turn_rad. */
void mst_text_turned(mst_pen *pen, double x, double y, double turn_rad, const char *text, mst_type type);
/** Writes text broken into lines of @p width_mm. @return the height that it takes, mm */
double mst_text_block(mst_pen *pen, double x, double top, double width_mm, const char *text, mst_type type);

/** Tones: the only greys and the one earth tone; each stays legible on a black-only printer. */
typedef enum mst_tone {
    MST_TONE_INK,
    MST_TONE_QUIET,
    MST_TONE_EARTH,
    MST_TONE_PAPER,
    MST_TONE_SHADE,
    MST_TONE_TINT
} mst_tone;
void mst_pen_tone(mst_pen *pen, mst_tone tone);
/** The four below draw nothing while measuring. */
void mst_pen_line(mst_pen *pen, double x0, double y0, double x1, double y1, double width);
void mst_pen_rect(mst_pen *pen, mst_rect r, double width);
void mst_pen_fill_rect(mst_pen *pen, mst_rect r);
void mst_pen_circle(mst_pen *pen, double x, double y, double radius, double width, bool filled);
#endif
