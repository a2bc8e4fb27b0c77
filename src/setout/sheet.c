/* The set-out sheet: every stake in the site's frame, with ties, polar figures, chainage and offset, and what to dig or
 * fill. */
#include "setout/ties.h"
#include <float.h>
#include <math.h>
#include <string.h>

static const double REACH_M = 30; /* a common tape */
static const double TAPE_SD_M =
    0.005; /* tape in use 10 mm at 25 m (BS 5606, from memory) taken as two sd, and the mark */
static const double DEEP_M =
    1.2; /* from here the caution is printed: 4 ft / 1.2 m of the trade tables; no depth is exempt */
static const double LEVEL_M = 0.0005;      /* less is neither cut nor fill on paper in millimetres */
static const double SAME_PLACE_M = 0.0005; /* nor is it a way to go */
enum { STATIONS = 24 };                    /* best marks among which a station or baseline is looked for */

typedef struct frame {
    const mst_adjusted_point *at, *backsight, *from, *to;
} frame;

static mst_point place(const mst_adjusted_point *p) { return (mst_point){p->easting_m, p->northing_m}; }
static mst_point line_place(const mst_setout_line *l) { return (mst_point){l->easting_m, l->northing_m}; }

/* ---- from where ---- */

static mst_status named_point(const mst_adjustment *adjustment, const char *name, const char *what,
                              const mst_adjusted_point **point, mst_error *error) {
    if (!name) return MST_OK;
    const mst_adjusted_point *p = mst_adjustment_point(adjustment, name);
    if (!p || !p->has_plan)
        return mst_fail(error, MST_NOT_FOUND, "The %s %s is not a site point with a place; name one that is.", what,
                        name);
    *point = p;
    return MST_OK;
}

static const mst_adjusted_point *mark(const mst_marks *marks, size_t i) {
    return &marks->adjustment->points[marks->points[i]];
}

/* The best mark that is nearest to the stakes' middle; each metre away costs as a metre of tape does. */
static const mst_adjusted_point *choose_station(const mst_marks *marks, mst_point middle) {
    const mst_adjusted_point *best = NULL;
    double least = DBL_MAX;
    for (size_t i = 0; i < marks->count && i < STATIONS; i++) {
        double cost = marks->cost_m[i] + 1e-4 * mst_distance(place(mark(marks, i)), middle);
        if (cost >= least) continue;
        least = cost;
        best = mark(marks, i);
    }
    return best;
}

/* A far backsight turns the circle least; among marks it is worth more than a millimetre of their error. */
static const mst_adjusted_point *choose_far(const mst_marks *marks, const mst_adjusted_point *from) {
    const mst_adjusted_point *best = NULL;
    double least = DBL_MAX;
    for (size_t i = 0; i < marks->count && i < STATIONS; i++) {
        double d = mst_distance(place(from), place(mark(marks, i)));
        if (d < 1) continue; /* nearer, a millimetre turns the circle by minutes */
        double turn = (marks->cost_m[i] + 0.002) / d;
        if (turn >= least) continue;
        least = turn;
        best = mark(marks, i);
    }
    return best;
}

static mst_status choose_frame(const mst_setout_options *o, const mst_marks *marks, mst_point middle, frame *f,
                               mst_error *error) {
    const mst_adjustment *a = marks->adjustment;
    *f = (frame){0};
    mst_status status = named_point(a, o->at, "station", &f->at, error);
    if (!status) status = named_point(a, o->backsight, "backsight", &f->backsight, error);
    if (!status) status = named_point(a, o->from, "start of the baseline", &f->from, error);
    if (!status) status = named_point(a, o->to, "end of the baseline", &f->to, error);
    if (status) return status;
    if (!f->at) f->at = choose_station(marks, middle);
    if (!f->backsight && f->at) f->backsight = choose_far(marks, f->at);
    if (!f->from) f->from = f->to ? choose_far(marks, f->to) : f->at;
    if (!f->to && f->from) f->to = choose_far(marks, f->from);
    if (f->at && f->backsight && mst_distance(place(f->at), place(f->backsight)) == 0)
        return mst_fail(error, MST_UNDETERMINED, "Station and backsight lie at one place; name another backsight.");
    if (f->from && f->to && mst_distance(place(f->from), place(f->to)) == 0)
        return mst_fail(error, MST_UNDETERMINED, "The baseline's ends lie at one place; name another.");
    return MST_OK;
}

/* ---- one line ---- */

/* Nothing is turned off to the mark over which the instrument stands. */
static bool is_station(const frame *f, const mst_setout_line *line) {
    return mst_distance(place(f->at), line_place(line)) < SAME_PLACE_M;
}

static void write_polar(const frame *f, mst_setout_line *line) {
    if (!f->at || !f->backsight || is_station(f, line)) return;
    double bearing = mst_bearing(place(f->at), line_place(line));
    line->polar.at = f->at->name;
    line->polar.backsight = f->backsight->name;
    line->polar.bearing_rad = bearing;
    line->polar.circle_rad = mst_angle_turn(bearing - mst_bearing(place(f->at), place(f->backsight)));
    line->polar.distance_m = mst_distance(place(f->at), line_place(line));
}

static mst_status polar_sd(const frame *f, const mst_adjustment *a, mst_setout_line *line, mst_error *error) {
    const mst_gear *gear = mst_gear_preset("total-station");
    double d = line->polar.distance_m;
    if (!line->polar.at || !gear) return MST_OK;
    mst_hung hung = {.adjustment = a,
                     .from = f->at,
                     .towards = f->backsight,
                     .bearing_rad = line->polar.bearing_rad,
                     .distance_m = d,
                     .own_bearing_rad = line->polar.bearing_rad,
                     .along_m = hypot(hypot(gear->distance_m, gear->distance_ppm * 1e-6 * d), gear->centring_m),
                     .across_m = hypot(d * gear->angle_rad * sqrt(2), gear->centring_m)}; /* to backsight and stake */
    return mst_hung_sd(&hung, &line->polar.sd_m, error);
}

static mst_status offset_sd(const frame *f, const mst_adjustment *a, double tape_sd_m, mst_setout_line *line,
                            mst_error *error) {
    const mst_gear *square = mst_gear_preset("tape-and-square");
    if (!f->from || !f->to || !square) return MST_OK;
    mst_point from = place(f->from), at = line_place(line);
    mst_hung hung = {.adjustment = a,
                     .from = f->from,
                     .towards = f->to,
                     .bearing_rad = mst_bearing(from, at),
                     .distance_m = mst_distance(from, at),
                     .own_bearing_rad = mst_bearing(from, place(f->to)),
                     .along_m = hypot(tape_sd_m, line->offset.offset_m * square->angle_rad),
                     .across_m = tape_sd_m};
    return mst_hung_sd(&hung, &line->offset.sd_m, error);
}

static void write_offset(const frame *f, mst_setout_line *line) {
    if (!f->from || !f->to) return;
    line->offset.from = f->from->name;
    line->offset.to = f->to->name;
    mst_chainage_offset(place(f->from), place(f->to), line_place(line), &line->offset.chainage_m,
                        &line->offset.offset_m);
    if (fabs(line->offset.chainage_m) < SAME_PLACE_M) line->offset.chainage_m = 0; /* prints no -0.000 */
    if (fabs(line->offset.offset_m) < SAME_PLACE_M) line->offset.offset_m = 0;
}

static const char *cut_words(const mst_setout_line *line, mst_arena *arena) {
    if (isnan(line->elevation_m)) return "no design level";
    if (isnan(line->ground_m)) return "no ground level here; take one before you dig";
    if (fabs(line->cut_m) < LEVEL_M) return "at ground level";
    if (line->cut_m > 0) return mst_arena_printf(arena, "cut %.3f m down from the ground", line->cut_m);
    return mst_arena_printf(arena, "fill %.3f m up from the ground", -line->cut_m);
}

static const char *cautions(const mst_setout_line *line, bool known, const char *ties, mst_arena *arena) {
    const char *deep = "", *same = "";
    if (known) same = "This is a site point already: check it before you trust the rest. ";
    if (line->cut_m >= DEEP_M)
        deep = mst_arena_printf(
            arena,
            "Cut %.2f m: people die in shallow excavations. A competent person on site decides on slope, support and "
            "entry by local code, before each shift; sides at 1 : 1 would reach %.2f m out, at 1 up to 1.5 along %.2f "
            "m. ",
            line->cut_m, line->cut_m, 1.5 * line->cut_m);
    if (!deep) return NULL;
    char *all = mst_arena_printf(arena, "%s%s%s", deep, same, ties);
    for (size_t length = all ? strlen(all) : 0; length && all[length - 1] == ' '; length--) all[length - 1] = '\0';
    return all;
}

static bool is_common(const mst_stake_fit *fit, const char *name) {
    for (size_t i = 0; i < fit->common_count; i++)
        if (strcmp(fit->common[i], name) == 0) return true;
    return false;
}

static void carry_over(const mst_stake *stake, const mst_stake_fit *fit, const mst_ground *ground,
                       mst_setout_line *line) {
    mst_point p = mst_similarity_apply(&fit->transform, (mst_point){stake->easting_m, stake->northing_m});
    mst_ground_level level;
    *line = (mst_setout_line){.stake = stake->name,
                              .code = stake->code ? stake->code : "",
                              .easting_m = p.easting_m,
                              .northing_m = p.northing_m,
                              .elevation_m = stake->elevation_m + fit->height_shift_m,
                              .ground_m = NAN,
                              .sd_m = NAN,
                              .side = "",
                              .polar.sd_m = NAN,
                              .offset.sd_m = NAN};
    if (ground && mst_ground_level_at(ground, p, &level)) line->ground_m = level.elevation_m;
    line->cut_m = line->ground_m - line->elevation_m;
}

/* ---- all lines ---- */

static mst_point middle_of(const mst_setout_line lines[], size_t count) {
    mst_point sum = {0, 0};
    for (size_t i = 0; i < count; i++) {
        sum.easting_m += lines[i].easting_m / (double)count;
        sum.northing_m += lines[i].northing_m / (double)count;
    }
    return sum;
}

static mst_status walk(const mst_setout_line lines[], size_t count, mst_arena *arena, const char ***order,
                       mst_error *error) {
    mst_point *places = mst_arena_array(arena, count, sizeof *places);
    uint32_t *at = mst_arena_array(arena, count, sizeof *at);
    const char **names = mst_arena_array(arena, count, sizeof *names);
    if (!places || !at || !names) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < count; i++) places[i] = line_place(&lines[i]);
    mst_status status = mst_short_walk(places, count, arena, at, error);
    for (size_t i = 0; i < count && !status; i++) names[i] = lines[at[i]].stake;
    *order = names;
    return status;
}

static mst_status write_line(const frame *f, const mst_marks *marks, const mst_tie_options *tape, bool known,
                             mst_arena *arena, mst_setout_line *line, mst_error *error) {
    write_polar(f, line);
    write_offset(f, line);
    mst_status status = mst_ties_choose(marks, tape, arena, line, error);
    if (!status) status = polar_sd(f, marks->adjustment, line, error);
    if (!status) status = offset_sd(f, marks->adjustment, tape->sd_m, line, error);
    if (status) return status;
    line->words = cut_words(line, arena);
    line->caution = cautions(line, known, line->caution, arena);
    line->untaped_caution = cautions(line, known, "", arena);
    return line->words && line->caution && line->untaped_caution ? MST_OK
                                                                 : mst_fail(error, MST_NO_MEMORY, "Out of memory.");
}

mst_status mst_setout(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment,
                      const mst_ground *ground, const mst_setout_options *options, mst_arena *arena,
                      mst_setout_sheet *sheet, mst_error *error) {
    static const mst_setout_options DEFAULTS = {0};
    const mst_setout_options *o = options ? options : &DEFAULTS;
    mst_setout_sheet s = {0};
    mst_marks marks;
    frame f;
    mst_status status = mst_stakes_fit(stakes, count, adjustment, &o->fit, arena, &s.fit, error);
    if (status == MST_NO) *sheet = s; /* the fit alone, for its residuals */
    if (!status) status = mst_marks_of(adjustment, arena, &marks, error);
    if (status) return status;
    s.lines = mst_arena_array(arena, count, sizeof *s.lines);
    s.count = count;
    if (!s.lines) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    for (size_t i = 0; i < count; i++) carry_over(&stakes[i], &s.fit, ground, &s.lines[i]);
    status = choose_frame(o, &marks, middle_of(s.lines, count), &f, error);
    const mst_tie_options tape = {o->reach_m > 0 ? o->reach_m : REACH_M, o->tape_sd_m > 0 ? o->tape_sd_m : TAPE_SD_M};
    for (size_t i = 0; i < count && !status; i++)
        status = write_line(&f, &marks, &tape, is_common(&s.fit, stakes[i].name), arena, &s.lines[i], error);
    if (!status) status = walk(s.lines, count, arena, &s.order, error);
    if (!status) *sheet = s;
    return status;
}
