/* What ditches and pipes carry, and how lines of works fall. */
#include "merestone/works.h"
#include <math.h>

double mst_manning(double area_m2, double wetted_m, double fall, double roughness) {
    if (!(area_m2 > 0 && wetted_m > 0 && fall > 0 && roughness > 0)) return 0;
    return area_m2 * pow(area_m2 / wetted_m, 2.0 / 3) * sqrt(fall) / roughness;
}

double mst_pipe_full(double bore_m, double fall, double roughness) {
    return mst_manning(MST_PI * bore_m * bore_m / 4, MST_PI * bore_m, fall, roughness);
}

/* Of a parabola as wide as top at that depth: the arc by its own integral. */
static double parabola_arc(double top, double depth) {
    double a = 4 * depth / top, root = sqrt(1 + a * a);
    return a > 1e-6 ? top / 2 * (root + log(a + root) / a) : top;
}

void mst_ditch_section(const mst_element *e, double depth, double *area_m2, double *wetted_m) {
    double along = isfinite(e->side) && e->side > 0 ? 1 / e->side : 0, bottom = e->width_m;
    if (e->kind == MST_WORK_SWALE && e->shape == MST_SWALE_PARABOLA) {
        double top = e->depth_m > 0 ? e->width_m * sqrt(depth / e->depth_m) : 0;
        *area_m2 = top * depth * 2 / 3, *wetted_m = top > 0 ? parabola_arc(top, depth) : 0;
        return;
    }
    if (e->kind == MST_WORK_SWALE && e->shape == MST_SWALE_V) bottom = 0;
    *area_m2 = (bottom + along * depth) * depth;
    *wetted_m = bottom + 2 * depth * sqrt(1 + along * along);
}

static void take(mst_line_falls *f, double fall) {
    f->least = fmin(f->least, fabs(fall)), f->steepest = fmax(f->steepest, fabs(fall));
    f->down |= fall > 0, f->up |= fall < 0;
}

bool mst_line_falls_of(const mst_element *e, double length_m, mst_line_falls *falls) {
    mst_line_falls f = {.least = INFINITY};
    bool line =
        e->kind == MST_WORK_PATH || e->kind == MST_WORK_RAMP || e->kind == MST_WORK_SWALE || e->kind == MST_WORK_TRENCH;
    if (!line || !(length_m > 0)) return false;
    if (e->profile_count < 2) take(&f, e->profile_count ? 0 : (e->from_m - e->to_m) / length_m);
    for (size_t i = 0; i + 1 < e->profile_count; i++) {
        const mst_work_bend *a = &e->profile[i], *b = a + 1;
        if (a->chainage_m < length_m && b->chainage_m > 0)
            take(&f, (a->level_m - b->level_m) / (b->chainage_m - a->chainage_m));
    }
    if (!isfinite(f.least)) f.least = 0;
    *falls = f;
    return true;
}
