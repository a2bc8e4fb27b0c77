/** @file src/drawing/surface.h  One page into a PDF, SVG or PNG file: same page, same bytes, whole or not at all. */
#ifndef DRAWING_SURFACE_H
#define DRAWING_SURFACE_H
#include "drawing/layout.h"

typedef enum mst_file_form { MST_FORM_PDF, MST_FORM_SVG, MST_FORM_PNG } mst_file_form;
/** @return false when the ending of @p path is none of .pdf, .svg, .png */
bool mst_form_of(const char *path, mst_file_form *form);
/** Whether a sheet can be what was asked for, before any work. @param form what @p path ends in
 * @retval MST_INVALID a file, paper, scale or turn that cannot be */
mst_status mst_sheet_check(const mst_drawing_options *options, const char *path, mst_file_form *form,
                           mst_error *error) MST_CHECKED;

typedef struct mst_page_file {
    mst_file_form form;
    double dots_per_mm;                /**< PNG */
    const char *title, *author, *date; /**< PDF: date YYYY-MM-DD, or anything else for a constant */
} mst_page_file;
/** A page of any kind: how large it is and what draws it, the user unit of the pen being 1 mm. */
typedef struct mst_page_form {
    double width_mm, height_mm;
    const char *paper;                                              /**< for sentences */
    bool (*draw)(const void *self, mst_pen *pen, mst_arena *arena); /**< false: memory is short */
    const void *self;
} mst_page_form;
/** As mst_page_bytes, for a page of any kind. */
mst_status mst_page_form_bytes(const mst_page_form *page, const mst_page_file *file, mst_pen *pen, mst_arena *arena,
                               mst_text *bytes, mst_error *error) MST_CHECKED;
/** Draws the page into memory. @param bytes freed by the caller with mst_text_free, also on failure */
mst_status mst_page_bytes(const mst_layout *layout, const mst_page_file *file, mst_pen *pen, mst_arena *arena,
                          mst_text *bytes, mst_error *error) MST_CHECKED;
/** Writes beside the target, then renames over it. @retval MST_IO with the reason; the target is as before */
mst_status mst_write_whole(const char *path, const char *bytes, size_t length, mst_error *error) MST_CHECKED;
#endif
