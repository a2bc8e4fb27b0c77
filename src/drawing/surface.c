#include "drawing/surface.h"
#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <ctype.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static const double POINTS_PER_MM = 72 / 25.4;
static const double PIXELS_MAX = 32767; /* cairo's largest image */

static bool ends_with(const char *text, const char *ending) {
    size_t n = strlen(text), e = strlen(ending);
    if (n < e) return false;
    for (size_t i = 0; i < e; i++)
        if (tolower((unsigned char)text[n - e + i]) != ending[i]) return false;
    return true;
}

bool mst_form_of(const char *path, mst_file_form *form) {
    static const char *const endings[] = {".pdf", ".svg", ".png"};
    for (int i = 0; i < 3; i++)
        if (ends_with(path, endings[i])) {
            *form = (mst_file_form)i;
            return true;
        }
    return false;
}

mst_status mst_sheet_check(const mst_drawing_options *o, const char *path, mst_file_form *form, mst_error *error) {
    if (!mst_form_of(path, form))
        return mst_fail(error, MST_INVALID, "\"%s\" does not end in .pdf, .svg or .png; its ending says what to draw.",
                        path);
    if (!mst_paper_named(o->paper))
        return mst_fail(error, MST_INVALID, "\"%s\" is no sheet: take A4, A3, A2, A1, A0, letter or tabloid.",
                        o->paper);
    if (!(o->scale >= 0 && o->scale <= 1e6) || (o->scale > 0 && o->scale < 1))
        return mst_fail(error, MST_INVALID,
                        "The scale 1:%g cannot be drawn: take 200 for 1:200, or 0 for the largest that fits.",
                        o->scale);
    if (!isfinite(o->north_up_turn_rad)) return mst_fail(error, MST_INVALID, "The turn of the plan is not a number.");
    return MST_OK;
}

static cairo_status_t collect(void *closure, const unsigned char *data, unsigned int length) {
    mst_text *bytes = closure;
    mst_text_add(bytes, (const char *)data, length);
    return bytes->failed ? CAIRO_STATUS_NO_MEMORY : CAIRO_STATUS_SUCCESS;
}

static bool is_date(const char *date) {
    if (!date || strlen(date) != 10) return false;
    for (int i = 0; i < 10; i++)
        if (i == 4 || i == 7 ? date[i] != '-' : !isdigit((unsigned char)date[i])) return false;
    return true;
}

static void describe_pdf(cairo_surface_t *s, const mst_page_file *file) {
    char date[32];
    snprintf(date, sizeof date, "%sT00:00:00Z", is_date(file->date) ? file->date : "2000-01-01");
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_TITLE, file->title);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_AUTHOR, file->author);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATOR, "Merestone");
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATE_DATE, date);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_MOD_DATE, date);
}

/* The SVG surface is made in mm and not scaled: its document unit only names the user unit. */
static cairo_surface_t *surface_for(const mst_page_file *file, double w, double h, mst_text *bytes, double *scale) {
    cairo_surface_t *s;
    switch (file->form) {
    case MST_FORM_PDF:
        *scale = POINTS_PER_MM;
        s = cairo_pdf_surface_create_for_stream(collect, bytes, w * POINTS_PER_MM, h * POINTS_PER_MM);
        describe_pdf(s, file);
        return s;
    case MST_FORM_SVG:
        *scale = 1;
        s = cairo_svg_surface_create_for_stream(collect, bytes, w, h);
        cairo_svg_surface_set_document_unit(s, CAIRO_SVG_UNIT_MM);
        return s;
    default:
        *scale = file->dots_per_mm;
        return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)round(w * *scale), (int)round(h * *scale));
    }
}

/* cairo counts its surfaces over the life of the process and writes the count into an SVG's ids. */
static void number_ids_from_one(mst_text *svg) {
    static const char word[] = "surface";
    mst_text out = {0};
    const char *at = svg->data;
    for (const char *hit; at && (hit = strstr(at, word)) != NULL;) {
        const char *digits = hit + strlen(word), *end = digits;
        while (isdigit((unsigned char)*end)) end++;
        mst_text_add(&out, at, (size_t)(digits - at));
        if (end > digits) mst_text_string(&out, "1");
        at = end;
    }
    if (at) mst_text_string(&out, at);
    mst_text_free(svg);
    *svg = out;
}

static mst_status explain(cairo_status_t status, mst_error *error) {
    if (status == CAIRO_STATUS_SUCCESS) return MST_OK;
    if (status == CAIRO_STATUS_NO_MEMORY)
        return mst_fail(error, MST_NO_MEMORY, "Memory is short for this sheet: take fewer dots to the millimetre.");
    return mst_fail(error, MST_IO, "The sheet could not be drawn: %s.", cairo_status_to_string(status));
}

static cairo_status_t paint(cairo_surface_t *surface, const mst_page_form *page, double scale, bool paper, mst_pen *pen,
                            mst_arena *arena) {
    pen->cairo = cairo_create(surface);
    if (paper) {
        cairo_set_source_rgb(pen->cairo, 1, 1, 1);
        cairo_paint(pen->cairo);
    }
    cairo_scale(pen->cairo, scale, scale);
    bool ok = page->draw(page->self, pen, arena);
    cairo_status_t status = cairo_status(pen->cairo);
    cairo_show_page(pen->cairo);
    cairo_destroy(pen->cairo);
    pen->cairo = NULL;
    return ok ? status : CAIRO_STATUS_NO_MEMORY;
}

mst_status mst_page_form_bytes(const mst_page_form *page, const mst_page_file *file, mst_pen *pen, mst_arena *arena,
                               mst_text *bytes, mst_error *error) {
    double w = page->width_mm, h = page->height_mm, scale;
    if (file->form == MST_FORM_PNG && !(file->dots_per_mm > 0 && fmax(w, h) * file->dots_per_mm <= PIXELS_MAX))
        return mst_fail(error, MST_INVALID, "%g dots to the millimetre make too large a picture of %s: take 8.",
                        file->dots_per_mm, page->paper);
    cairo_surface_t *surface = surface_for(file, w, h, bytes, &scale);
    cairo_status_t status = cairo_surface_status(surface);
    if (!status) status = paint(surface, page, scale, file->form == MST_FORM_PNG, pen, arena);
    if (!status && file->form == MST_FORM_PNG) status = cairo_surface_write_to_png_stream(surface, collect, bytes);
    cairo_surface_finish(surface);
    if (!status) status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    if (!status && file->form == MST_FORM_SVG) number_ids_from_one(bytes);
    return bytes->failed ? mst_fail(error, MST_NO_MEMORY, "Memory is short.") : explain(status, error);
}

static bool draw_layout(const void *self, mst_pen *pen, mst_arena *arena) { return mst_layout_draw(self, pen, arena); }

mst_status mst_page_bytes(const mst_layout *layout, const mst_page_file *file, mst_pen *pen, mst_arena *arena,
                          mst_text *bytes, mst_error *error) {
    mst_page_form page = {mst_paper_width(layout->paper, layout->portrait),
                          mst_paper_height(layout->paper, layout->portrait), layout->paper->name, draw_layout, layout};
    return mst_page_form_bytes(&page, file, pen, arena, bytes, error);
}

/* ---- whole or not at all ---- */

static bool write_all(int file, const char *bytes, size_t length) {
    while (length) {
        ssize_t n = write(file, bytes, length);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return false;
        bytes += n;
        length -= (size_t)n;
    }
    return fsync(file) == 0;
}

/* A renamed file is only safe from a power cut once its folder is on the disk too; not every file system lets us. */
static void sync_folder(const char *path) {
    char *folder = strdup(path);
    char *slash = folder ? strrchr(folder, '/') : NULL;
    if (slash) slash[slash == folder ? 1 : 0] = 0;
    int file = folder ? open(slash ? folder : ".", O_RDONLY) : -1;
    if (file >= 0) {
        (void)fsync(file);
        close(file);
    }
    free(folder);
}

mst_status mst_write_whole(const char *path, const char *bytes, size_t length, mst_error *error) {
    mst_text beside = {0};
    mst_text_printf(&beside, "%s.XXXXXX", path);
    if (beside.failed) return mst_text_free(&beside), mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    mst_status status = MST_OK;
    int file = mkstemp(beside.data);
    bool made = file >= 0, ok = made && write_all(file, bytes, length) && fchmod(file, 0644) == 0;
    int why = errno;
    if (made && close(file) != 0 && ok) ok = false, why = errno;
    if (ok && rename(beside.data, path) != 0) ok = false, why = errno;
    if (!ok) {
        if (made) unlink(beside.data);
        status = mst_fail(error, MST_IO, "\"%s\" cannot be written: %s.", path, strerror(why));
    } else sync_folder(path);
    mst_text_free(&beside);
    return status;
}
