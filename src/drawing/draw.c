#include "drawing/surface.h"
#include <math.h>
#include <string.h>

static const double DOTS_PER_MM = 8;

static const char *given(const char *text, const char *otherwise) { return text && *text ? text : otherwise; }

static const char *document_of(const mst_drawing_input *input) {
    if (input->setout && input->setout->count) return "Setting-out plan";
    return input->element_count ? "Grading plan" : "Survey plan";
}

static mst_status draw(const mst_drawing_input *input, const mst_layout_request *r, mst_file_form form,
                       const char *path, mst_pen *pen, mst_arena *arena, double *scale_used, mst_error *error) {
    mst_layout layout;
    mst_text bytes = {0};
    mst_page_file file = {form, r->options->png_dots_per_mm > 0 ? r->options->png_dots_per_mm : DOTS_PER_MM,
                          given(input->text.title, "Plan"), given(input->text.creator, given(input->text.owner, "")),
                          input->text.date};
    mst_status status = mst_layout_make(r, pen, arena, &layout, error);
    if (!status) status = mst_page_bytes(&layout, &file, pen, arena, &bytes, error);
    if (!status) status = mst_write_whole(path, bytes.data, bytes.length, error);
    mst_text_free(&bytes);
    if (!status && scale_used) *scale_used = layout.scale;
    return status;
}

mst_status mst_draw_plan(const mst_drawing_input *input, const mst_drawing_options *options, const char *path,
                         double *scale_used, mst_error *error) {
    mst_file_form form;
    mst_plan plan;
    mst_pen pen;
    mst_status status = mst_sheet_check(options, path, &form, error);
    if (status) return status;
    mst_arena *arena = mst_arena_new();
    if (!arena || !mst_pen_open(&pen)) {
        mst_arena_free(arena);
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    status = mst_plan_make(input, arena, &plan, error);
    mst_layout_request request = {&plan, &input->text, options, mst_paper_named(options->paper), document_of(input)};
    if (!status) status = draw(input, &request, form, path, &pen, arena, scale_used, error);
    mst_pen_close(&pen);
    mst_arena_free(arena);
    return status;
}
