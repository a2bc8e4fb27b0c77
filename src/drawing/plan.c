/* The only file here, with plan_works.c, that asks the survey, the ground and the works; the page sees what they make.
 */
#include "drawing/look.h"
#include "drawing/plan.h"
#include "numeric/statistics.h"
#include <math.h>
#include <string.h>

static const double SIDE_STEP_M = 0.02; /* how far beside a contour the ground is asked for uphill: wide of rounding */
enum { USUAL_CONTOURS = 24, LEAST_SIGMAS = 3 }; /* interval >= 3 sigma of the levels: common practice */

static mst_point local(const mst_plan *plan, double easting_m, double northing_m) {
    return (mst_point){easting_m - plan->origin.easting_m, northing_m - plan->origin.northing_m};
}

/* ---- origin and points ---- */

/* The first placed point, on a whole 100 m, so that the same site keeps its origin when a point is added. */
static bool choose_origin(const mst_drawing_input *input, mst_plan *plan) {
    const mst_adjustment *a = input->adjustment;
    for (size_t i = 0; i < a->point_count; i++)
        if (a->points[i].has_plan) {
            plan->origin =
                (mst_point){100 * floor(a->points[i].easting_m / 100), 100 * floor(a->points[i].northing_m / 100)};
            return true;
        }
    if (!input->setout || !input->setout->count) return false;
    plan->origin = (mst_point){input->setout->lines[0].easting_m, input->setout->lines[0].northing_m};
    return true;
}

static mst_plan_point point_of(const mst_plan *plan, const mst_adjusted_point *p) {
    bool level = p->has_height;
    const mst_style *style = mst_style_for(p->code, MST_FEATURE_SPOT, MST_ROLE_DEFAULT);
    return (mst_plan_point){.name = p->name,
                            .at = local(plan, p->easting_m, p->northing_m),
                            .level_m = level ? p->elevation_m : NAN,
                            .sd_level_m = level ? p->sd_elevation_m : NAN,
                            .semi_major_m = p->semi_major_m,
                            .semi_minor_m = p->semi_minor_m,
                            .ellipse_bearing_rad = p->ellipse_bearing_rad,
                            .unproven = p->readings <= 1 && !p->held_plan,
                            .held = p->held_plan,
                            .hard = style->hard,
                            .key = style->mark == MST_MARK_DOOR};
}

/* @param place receives, for each adjusted point, its place among the plan's points, UINT32_MAX none */
static bool add_points(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, uint32_t *place) {
    const mst_adjustment *a = input->adjustment;
    for (size_t i = 0; i < a->point_count; i++) {
        place[i] = UINT32_MAX;
        if (!a->points[i].has_plan) continue;
        mst_plan_point *slot = MST_PUSH(arena, plan->points, plan->point_count, plan->point_capacity);
        if (!slot) return false;
        *slot = point_of(plan, &a->points[i]);
        place[i] = (uint32_t)(plan->point_count - 1);
    }
    return true;
}

/* Median over the points that were measured; @p of picks the figure. */
static bool median_sd(const mst_plan *plan, mst_arena *arena, bool level, double *median) {
    double *values = mst_arena_array(arena, plan->point_count, sizeof *values);
    if (!values) return false;
    size_t count = 0;
    for (size_t i = 0; i < plan->point_count; i++) {
        double sd = level ? plan->points[i].sd_level_m : plan->points[i].semi_major_m;
        if (!plan->points[i].held && sd > 0) values[count++] = sd;
    }
    *median = mst_median(values, count);
    return true;
}

/* ---- features ---- */

static void shift_shape(const mst_plan *plan, mst_shape *shape) {
    for (size_t i = 0; i < shape->count; i++)
        for (size_t k = 0; k < shape->paths[i].count; k++) {
            shape->paths[i].vertices[k].easting_m -= plan->origin.easting_m;
            shape->paths[i].vertices[k].northing_m -= plan->origin.northing_m;
        }
}

/* A feature that a missing point leaves without a shape is listed in the notes, not drawn. */
static bool add_feature(const mst_drawing_input *input, const mst_feature *f, mst_arena *arena, mst_plan *plan) {
    mst_shape shape;
    mst_error why;
    mst_status status = mst_feature_shape(f, input->adjustment, arena, &shape, &why);
    if (status == MST_NO_MEMORY) return false;
    if (status) return true;
    mst_plan_feature *slot = MST_PUSH(arena, plan->features, plan->feature_count, plan->feature_capacity);
    if (!slot) return false;
    shift_shape(plan, &shape);
    *slot = (mst_plan_feature){f->name, mst_style_for(f->code, f->kind, f->role), f->kind, shape};
    return true;
}

/* A point on a built edge has its level to the millimetre, like a point with such a code; under a spot's sign it has
 * no cross of its own. */
static void mark_points(const mst_drawing_input *input, const mst_feature *f, mst_plan *plan, const uint32_t *place) {
    const mst_style *style = mst_style_for(f->code, f->kind, f->role);
    for (size_t i = 0; i < f->vertex_count; i++) {
        uint32_t at = mst_index_get(&input->adjustment->index, f->vertices[i].point);
        if (at >= input->adjustment->point_count || place[at] == UINT32_MAX) continue;
        mst_plan_point *p = &plan->points[place[at]];
        p->hard |= style->hard;
        p->key |= style->mark == MST_MARK_DOOR;
        p->marked |= f->kind == MST_FEATURE_SPOT;
    }
}

static bool add_features(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, const uint32_t *place) {
    for (size_t i = 0; i < input->site->feature_count; i++) {
        mark_points(input, &input->site->features[i], plan, place);
        if (!add_feature(input, &input->site->features[i], arena, plan)) return false;
    }
    return true;
}

/* ---- ground ---- */

static double interval_for(double range_m, double sd_m, bool imperial) {
    static const double metric[] = {0.05, 0.1, 0.25, 0.5, 1, 2, 5, 10, 20, 50};
    static const double feet[] = {0.25, 0.5, 1, 2, 5, 10, 20, 50, 100, 200};
    double unit = imperial ? MST_FOOT_M : 1;
    for (size_t i = 0; i < 10; i++) {
        double step = (imperial ? feet : metric)[i] * unit;
        if (range_m <= step * USUAL_CONTOURS && !(step < LEAST_SIGMAS * sd_m)) return step;
    }
    return 100 * unit;
}

/* Asks the ground on both sides of the middle of the longest piece. */
static bool uphill_is_left(const mst_ground *ground, const mst_contour *c) {
    size_t at = 0;
    double longest = -1;
    for (size_t i = 0; i + 1 < c->count; i++) {
        double d = hypot(c->points[i + 1][0] - c->points[i][0], c->points[i + 1][1] - c->points[i][1]);
        if (d > longest) longest = d, at = i;
    }
    if (!(longest > 0)) return true;
    const double *a = c->points[at], *b = c->points[at + 1];
    double e = (a[0] + b[0]) / 2, n = (a[1] + b[1]) / 2;
    double le = -(b[1] - a[1]) / longest * SIDE_STEP_M, ln = (b[0] - a[0]) / longest * SIDE_STEP_M;
    mst_ground_level left, right;
    if (mst_ground_level_at(ground, (mst_point){e + le, n + ln}, &left)) return left.elevation_m >= c->level_m;
    if (mst_ground_level_at(ground, (mst_point){e - le, n - ln}, &right)) return right.elevation_m < c->level_m;
    return true;
}

static bool take_contour(const mst_ground *ground, const mst_contour *from, mst_arena *arena, mst_plan *plan,
                         mst_plan_contour *to) {
    mst_point *points = mst_arena_array(arena, from->count, sizeof *points);
    if (!points) return false;
    for (size_t i = 0; i < from->count; i++) points[i] = local(plan, from->points[i][0], from->points[i][1]);
    *to =
        (mst_plan_contour){from->level_m, from->closed, from->index, uphill_is_left(ground, from), points, from->count};
    return true;
}

static mst_status add_contours(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, mst_error *error) {
    mst_ground_figures figures;
    double sd_m;
    mst_contour *contours;
    mst_ground_describe(input->ground, &figures);
    if (!median_sd(plan, arena, true, &sd_m)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    plan->contour_interval_m = input->contour_interval_m > 0
                                   ? input->contour_interval_m
                                   : interval_for(figures.highest_m - figures.lowest_m, sd_m, input->imperial);
    mst_status status =
        mst_ground_contours(input->ground, plan->contour_interval_m, arena, &contours, &plan->contour_count, error);
    if (status) return status;
    plan->contours = mst_arena_array(arena, plan->contour_count, sizeof *plan->contours);
    for (size_t i = 0; plan->contours && i < plan->contour_count; i++)
        if (!take_contour(input->ground, &contours[i], arena, plan, &plan->contours[i])) plan->contours = NULL;
    return plan->contours ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status add_rims(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, mst_error *error) {
    mst_status status = mst_ground_rims(input->ground, arena, &plan->rims, &plan->rim_count, error);
    if (status) return status;
    mst_shape all = {plan->rims, plan->rim_count};
    shift_shape(plan, &all);
    return MST_OK;
}

/* ---- faces ---- */

enum { TINTS_MOST = 8 };
enum { NEXT_PLACES = 5 };              /* as many as a walk back takes in */
static const double SHADE_HEIGHTS = 3; /* the falls of a garden would not show otherwise */

/* As many contours to a tint as keep the tints few enough to be told apart. */
static void choose_tints(const mst_drawing_input *input, mst_plan *plan) {
    mst_ground_figures g;
    mst_ground_describe(input->ground, &g);
    double step = plan->contour_interval_m;
    for (int k = 1;; k++) {
        plan->tint_step_m = step * k;
        plan->tint_first_m = floor(g.lowest_m / plan->tint_step_m) * plan->tint_step_m;
        double count = ceil((g.highest_m - plan->tint_first_m) / plan->tint_step_m);
        plan->tint_count = count < 1 ? 1 : count > TINTS_MOST ? 0 : (int)count;
        if (plan->tint_count) return;
    }
}

/* Of the ground alone, in the middle of each triangle; the readings' errors are the same everywhere near. */
static mst_status add_doubt(const mst_drawing_input *input, const uint32_t (*t)[3], const mst_ground_point *v,
                            mst_arena *arena, mst_plan *plan, mst_error *error) {
    const mst_roughness *rough = mst_ground_roughness(input->ground);
    if (!rough->known)
        return mst_fail(error, MST_UNDETERMINED,
                        "How little is known between the points cannot be drawn: too few points can be left out and "
                        "compared. Take some more levels away from the edges.");
    const double t95 = mst_student_quantile(0.975, rough->degrees_of_freedom);
    for (size_t i = 0; i < plan->face_count; i++) {
        mst_point middle = {0, 0};
        for (int k = 0; k < 3; k++)
            middle.easting_m += v[t[i][k]].easting_m / 3, middle.northing_m += v[t[i][k]].northing_m / 3;
        plan->faces[i].band = mst_doubt_band(t95 * sqrt(fmax(mst_ground_between(input->ground, middle), 0)));
    }
    mst_next_point *next;
    mst_status status = mst_ground_next_points(input->ground, NEXT_PLACES, arena, &next, &plan->next_count, error);
    if (status) return status;
    plan->next = mst_arena_array(arena, plan->next_count + 1, sizeof *plan->next);
    if (!plan->next) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < plan->next_count; i++)
        plan->next[i] = local(plan, next[i].at.easting_m, next[i].at.northing_m);
    return MST_OK;
}

static mst_status add_faces(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, mst_error *error) {
    size_t count, vertex_count;
    const uint32_t(*t)[3] = mst_ground_triangles(input->ground, &count);
    const mst_ground_point *v = mst_ground_vertices(input->ground, &vertex_count);
    mst_face *face;
    if (count > MST_LOOK_FACES_MOST)
        return mst_fail(error, MST_INVALID,
                        "The ground has %zu triangles; a sheet shades %d at most. Draw it without, or thin the scan.",
                        count, MST_LOOK_FACES_MOST);
    mst_status status = mst_ground_faces(input->ground, SHADE_HEIGHTS, arena, &face, error);
    if (status) return status;
    plan->faces = mst_arena_array(arena, count + 1, sizeof *plan->faces);
    if (!plan->faces) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < count; i++) {
        mst_plan_face *f = &plan->faces[i];
        for (int k = 0; k < 3; k++) {
            f->at[k] = local(plan, v[t[i][k]].easting_m, v[t[i][k]].northing_m);
            f->level_m[k] = v[t[i][k]].elevation_m;
        }
        f->shade = face[i].shade, f->band = mst_slope_band(face[i].slope);
    }
    plan->face_count = count, plan->look = input->look;
    choose_tints(input, plan);
    return input->look == MST_LOOK_DOUBT ? add_doubt(input, t, v, arena, plan, error) : MST_OK;
}

/* ---- works ---- */

typedef struct depth {
    const mst_ground *ground;
    const mst_element *element;
    mst_point origin;
} depth;

static bool cut_at(const void *self, mst_point at, double *cut_m) {
    const depth *d = self;
    const mst_plane *f = &d->element->finish;
    mst_point p = {at.easting_m + d->origin.easting_m, at.northing_m + d->origin.northing_m};
    mst_ground_level ground;
    if (!mst_ground_level_at(d->ground, p, &ground)) return false;
    double finish_m = f->level_m + f->slope_e * (p.easting_m - f->e0_m) + f->slope_n * (p.northing_m - f->n0_m);
    double stripped_m = ground.elevation_m - d->element->strip_m;
    *cut_m = d->element->kind == MST_WORK_DEPTH ? d->element->depth_m - d->element->strip_m
                                                : stripped_m - (finish_m - d->element->build_up_m);
    return true;
}

static bool add_pad(const mst_drawing_input *input, const mst_element *e, mst_arena *arena, mst_plan *plan) {
    const mst_feature *f = e->in ? mst_site_feature(input->site, e->in) : NULL;
    mst_shape shape;
    mst_error why;
    if (!f || mst_feature_shape(f, input->adjustment, arena, &shape, &why)) return true;
    shift_shape(plan, &shape);
    mst_plan_pad *pad = MST_PUSH(arena, plan->pads, plan->pad_count, plan->pad_capacity);
    depth *self = pad ? mst_arena_alloc(arena, sizeof *self) : NULL;
    if (!self) return false;
    *self = (depth){input->ground, e, plan->origin};
    mst_plane finish = e->finish;
    finish.e0_m -= plan->origin.easting_m;
    finish.n0_m -= plan->origin.northing_m;
    *pad = (mst_plan_pad){.name = e->name,
                          .shape = shape,
                          .has_level = e->kind != MST_WORK_DEPTH,
                          .finish = finish,
                          .build_up_m = e->build_up_m,
                          .depth_m = e->depth_m,
                          .cut_at = input->ground ? cut_at : NULL,
                          .self = self};
    return true;
}

static bool add_stakes(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan) {
    if (!input->setout || !input->setout->count) return true;
    plan->stakes = mst_arena_array(arena, input->setout->count, sizeof *plan->stakes);
    if (!plan->stakes) return false;
    for (size_t i = 0; i < input->setout->count; i++) {
        const mst_setout_line *l = &input->setout->lines[i];
        plan->stakes[i] =
            (mst_plan_stake){l->stake, local(plan, l->easting_m, l->northing_m), l->elevation_m, l->cut_m};
    }
    plan->stake_count = input->setout->count;
    return true;
}

static bool add_plain_things(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan) {
    uint32_t *place = mst_arena_array(arena, input->adjustment->point_count, sizeof *place);
    if (!place || !add_points(input, arena, plan, place) || !add_features(input, arena, plan, place)) return false;
    for (size_t i = 0; i < input->element_count; i++)
        if (!add_pad(input, &input->elements[i], arena, plan)) return false;
    return add_stakes(input, arena, plan) && median_sd(plan, arena, false, &plan->sd_plan_m);
}

mst_status mst_plan_make(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan, mst_error *error) {
    *plan = (mst_plan){.imperial = input->imperial};
    if (!choose_origin(input, plan))
        return mst_fail(error, MST_TOO_FEW,
                        "There is nothing to draw yet: no point has a place; bring in readings first.");
    if (!add_plain_things(input, arena, plan)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    mst_status status = MST_OK;
    if (input->ground) status = mst_plan_add_works(input, arena, plan, error);
    if (!status && input->ground) status = add_contours(input, arena, plan, error);
    if (!status && input->ground) status = add_rims(input, arena, plan, error);
    if (!status && input->ground && input->look) status = add_faces(input, arena, plan, error);
    if (!status && !mst_plan_add_notes(input, arena, plan)) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    return status;
}
