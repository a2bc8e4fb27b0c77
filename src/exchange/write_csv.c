/* The points as a `points` page that this program, and any spreadsheet, reads again: RFC 4180, metres to 0.1 mm. A
 * point's sd in plan is its larger half axis; a held point has 0.0001, the figures' own rounding, as a page's sd is
 * never nothing. */
#include "exchange/write.h"
#include <math.h>

enum { DECIMALS = 4 };
static const double LEAST_SD_M = 0.0001;

static void cell(mst_text *t, double value) {
    mst_text_string(t, ",");
    if (isfinite(value)) mst_text_fixed(t, value, DECIMALS);
}

static double sd(bool known, double value) { return known && isfinite(value) ? fmax(value, LEAST_SD_M) : NAN; }

static void add_row(mst_text *t, const mst_adjusted_point *p) {
    mst_text_csv(t, p->name);
    cell(t, p->easting_m);
    cell(t, p->northing_m);
    cell(t, p->has_height ? p->elevation_m : NAN);
    mst_text_string(t, ",");
    mst_text_csv(t, p->code ? p->code : "");
    cell(t, sd(p->has_plan, p->held_plan ? 0 : p->semi_major_m));
    cell(t, sd(p->has_height, p->held_height ? 0 : p->sd_elevation_m));
    mst_text_string(t, "\r\n");
}

mst_status mst_write_points_csv(const mst_handover *from, const char *path, mst_error *error) {
    mst_text text = {0};
    if (!from->adjustment) return mst_fail(error, MST_TOO_FEW, "There are no points to write.");
    mst_text_string(&text, "point,easting (m),northing (m),elevation (m),code,sd plan (m),sd height (m)\r\n");
    for (size_t i = 0; i < from->adjustment->point_count; i++)
        if (from->adjustment->points[i].has_plan) add_row(&text, &from->adjustment->points[i]);
    return mst_save_text(path, &text, error);
}
