/** @file src/drawing/paper.h  Sheets of paper, the scales in use, and the sizes of ink and text that suit a sheet. */
#ifndef DRAWING_PAPER_H
#define DRAWING_PAPER_H
#include <stdbool.h>
#include <stddef.h>

/** A rectangle on the paper, mm, y downwards from the top left corner. */
typedef struct mst_rect {
    double x, y, w, h;
} mst_rect;

/** A trimmed sheet: ISO 216 A series; letter and tabloid are 8.5 x 11 and 11 x 17 inches. */
typedef struct mst_paper {
    const char *name;
    double short_mm, long_mm;
} mst_paper;

/** @return the sheet of that name, capitals or not; A3 for NULL and ""; NULL when unknown. */
const mst_paper *mst_paper_named(const char *name);
/** @return the sheets [*count]: the A series from small to large, then letter and tabloid. */
const mst_paper *mst_papers(size_t *count);
double mst_paper_width(const mst_paper *paper, bool portrait);  /**< mm */
double mst_paper_height(const mst_paper *paper, bool portrait); /**< mm */
/** The drawing space: 20 mm off the filing edge on the left, 10 mm off the others (ISO 5457). */
mst_rect mst_paper_frame(const mst_paper *paper, bool portrait);

/** @return the usual scales [*count], large to small: ISO 5455 with 1:125 and 1:250, or whole feet to the inch. */
const double *mst_scales(bool imperial, size_t *count);

/** Line widths (ISO 128 steps, wide to narrow 2:1) and heights of capitals (ISO 3098 steps), mm. */
typedef struct mst_sizes {
    double fine, medium, heavy;
    double note, figure, key, title, status;
} mst_sizes;
mst_sizes mst_sizes_for(const mst_paper *paper);

mst_rect mst_rect_inset(mst_rect r, double by);
#endif
