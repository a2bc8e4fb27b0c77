#include "drawing/linework.h"
#include <math.h>

static const double FLAT_MM = 0.02; /* a chord leaves its arc by less than ink can show */

/* ---- view ---- */

mst_view mst_view_make(double scale, double turn_rad) {
    return (mst_view){1000 / scale, cos(turn_rad), sin(turn_rad), turn_rad, 0, 0};
}

void mst_to_paper(const mst_view *v, mst_point at, double *x, double *y) {
    *x = v->x0 + v->mm_per_m * (at.easting_m * v->cos_t + at.northing_m * v->sin_t);
    *y = v->y0 - v->mm_per_m * (at.northing_m * v->cos_t - at.easting_m * v->sin_t);
}

mst_point mst_to_plan(const mst_view *v, double x, double y) {
    double right = (x - v->x0) / v->mm_per_m, up = (v->y0 - y) / v->mm_per_m;
    return (mst_point){right * v->cos_t - up * v->sin_t, up * v->cos_t + right * v->sin_t};
}

void mst_view_centre(mst_view *v, mst_point low, mst_point high, mst_rect area) {
    v->x0 = area.x + area.w / 2 - v->mm_per_m * (low.easting_m + high.easting_m) / 2;
    v->y0 = area.y + area.h / 2 + v->mm_per_m * (low.northing_m + high.northing_m) / 2;
}

/* ---- paths ---- */

static size_t edges_of(const mst_path *path) { return path->closed ? path->count : path->count ? path->count - 1 : 0; }
static mst_point place_of(const mst_path_vertex *v) { return (mst_point){v->easting_m, v->northing_m}; }

/* The plan's north-up, counter-clockwise angles run the other way on paper, whose y points down. */
void mst_trace(cairo_t *cairo, const mst_view *v, const mst_path *path) {
    double x, y;
    if (!path->count) return;
    mst_to_paper(v, place_of(&path->vertices[0]), &x, &y);
    cairo_move_to(cairo, x, y);
    for (size_t i = 0; i < edges_of(path); i++) {
        const mst_path_vertex *a = &path->vertices[i], *b = &path->vertices[(i + 1) % path->count];
        mst_point centre;
        double r, from, sweep;
        if (a->bulge == 0) {
            mst_to_paper(v, place_of(b), &x, &y);
            cairo_line_to(cairo, x, y);
            continue;
        }
        mst_plan_arc(a, b, &centre, &r, &from, &sweep);
        mst_to_paper(v, centre, &x, &y);
        double start = v->turn_rad - from;
        if (sweep > 0) cairo_arc_negative(cairo, x, y, r * v->mm_per_m, start, start - sweep);
        else cairo_arc(cairo, x, y, r * v->mm_per_m, start, start - sweep);
    }
    if (path->closed) cairo_close_path(cairo);
}

static size_t arc_pieces(double radius_mm, double sweep_rad) {
    double step = radius_mm > FLAT_MM ? 2 * acos(1 - FLAT_MM / radius_mm) : MST_PI / 4;
    double pieces = ceil(fabs(sweep_rad) / step);
    return pieces >= 1 && pieces < 4096 ? (size_t)pieces : pieces < 1 ? 1 : 4096;
}

static bool push(mst_arena *arena, mst_track *t, size_t *capacity, const mst_view *v, mst_point at) {
    double(*slot)[2] = MST_PUSH(arena, t->xy, t->count, *capacity);
    if (slot) mst_to_paper(v, at, &(*slot)[0], &(*slot)[1]);
    return slot != NULL;
}

static bool push_edge(mst_arena *arena, mst_track *t, size_t *capacity, const mst_view *v, const mst_path_vertex *a,
                      const mst_path_vertex *b) {
    if (a->bulge != 0) {
        mst_point c;
        double r, from, sweep;
        mst_plan_arc(a, b, &c, &r, &from, &sweep);
        size_t pieces = arc_pieces(r * v->mm_per_m, sweep);
        for (size_t i = 1; i < pieces; i++) {
            double angle = from + sweep * (double)i / (double)pieces;
            if (!push(arena, t, capacity, v, (mst_point){c.easting_m + r * cos(angle), c.northing_m + r * sin(angle)}))
                return false;
        }
    }
    return push(arena, t, capacity, v, place_of(b));
}

bool mst_track_of(const mst_view *v, const mst_path *path, mst_arena *arena, mst_track *track) {
    size_t capacity = 0;
    *track = (mst_track){.closed = path->closed};
    if (!path->count) return true;
    if (!push(arena, track, &capacity, v, place_of(&path->vertices[0]))) return false;
    for (size_t i = 0; i < edges_of(path); i++)
        if (!push_edge(arena, track, &capacity, v, &path->vertices[i], &path->vertices[(i + 1) % path->count]))
            return false;
    return true;
}

double mst_track_length(const mst_track *t) {
    double length = 0;
    for (size_t i = 0; i + 1 < t->count; i++)
        length += hypot(t->xy[i + 1][0] - t->xy[i][0], t->xy[i + 1][1] - t->xy[i][1]);
    return length;
}

bool mst_track_at(const mst_track *t, double s, double *x, double *y, double *turn_rad) {
    for (size_t i = 0; s >= 0 && i + 1 < t->count; i++) {
        double dx = t->xy[i + 1][0] - t->xy[i][0], dy = t->xy[i + 1][1] - t->xy[i][1], d = hypot(dx, dy);
        if (s <= d && d > 0) {
            *x = t->xy[i][0] + dx * s / d;
            *y = t->xy[i][1] + dy * s / d;
            *turn_rad = atan2(dy, dx);
            return true;
        }
        s -= d;
    }
    return false;
}

/* ---- styles ---- */

double mst_ink_width(const mst_sizes *sizes, mst_ink ink) {
    return ink == MST_INK_FINE ? sizes->fine : ink == MST_INK_MEDIUM ? sizes->medium : sizes->heavy;
}

void mst_set_dash(cairo_t *cairo, mst_dash dash) {
    static const double shorts[] = {1.6, 1.0}, longs[] = {5, 1.4}, chain[] = {8, 1.4, 1.2, 1.4},
                        dots[] = {3.2, 1.2, 0.4, 1.2};
    switch (dash) {
    case MST_DASH_SHORT:
        cairo_set_dash(cairo, shorts, 2, 0);
        break;
    case MST_DASH_LONG:
        cairo_set_dash(cairo, longs, 2, 0);
        break;
    case MST_DASH_CHAIN:
        cairo_set_dash(cairo, chain, 4, 0);
        break;
    case MST_DASH_DOT:
        cairo_set_dash(cairo, dots, 4, 0);
        break;
    default:
        cairo_set_dash(cairo, NULL, 0, 0);
    }
}

static void stick(mst_pen *pen, const mst_sizes *sizes, double x, double y, double turn, bool left) {
    double side = left ? -1.5 : 1.5;
    mst_pen_line(pen, x, y, x - side * sin(turn), y + side * cos(turn), sizes->fine);
}

/* A leaf on one side of the line and then on the other: two bent strokes that meet at the tip. */
static void leaf(mst_pen *pen, const mst_sizes *sizes, double x, double y, double turn, bool left) {
    const double length = 1.9, half = 0.75;
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, x, y);
    cairo_rotate(pen->cairo, turn + (left ? -1 : 1) * MST_PI / 2);
    cairo_move_to(pen->cairo, 0, 0);
    cairo_curve_to(pen->cairo, length * 0.3, half, length * 0.7, half, length, 0);
    cairo_curve_to(pen->cairo, length * 0.7, -half, length * 0.3, -half, 0, 0);
    cairo_restore(pen->cairo);
    cairo_set_line_width(pen->cairo, sizes->fine);
    cairo_stroke(pen->cairo);
}

static void chevron(mst_pen *pen, const mst_sizes *sizes, double x, double y, double turn) {
    const double lean = 0.5, length = 2.0;
    mst_pen_line(pen, x, y, x - length * cos(turn + lean), y - length * sin(turn + lean), sizes->medium);
    mst_pen_line(pen, x, y, x - length * cos(turn - lean), y - length * sin(turn - lean), sizes->medium);
}

static const double LETTER_PERIOD_MM = 26, LETTER_GAP_MM = 4.2;

/* The first letter lies so that they are spread evenly about the middle of the line. */
static double first_letter(double length) { return fmod(length / 2, LETTER_PERIOD_MM); }

bool mst_letter_place(const mst_track *track, int i, double *x, double *y, double *turn_rad) {
    return mst_track_at(track, first_letter(mst_track_length(track)) + i * LETTER_PERIOD_MM, x, y, turn_rad);
}

static void letter_dash(cairo_t *cairo, double length) {
    const double dash = (LETTER_PERIOD_MM - LETTER_GAP_MM - 1.4) / 2, pattern[] = {dash, 1.4, dash, LETTER_GAP_MM};
    cairo_set_dash(cairo, pattern, 4, 2 * LETTER_PERIOD_MM - first_letter(length) - LETTER_GAP_MM / 2);
}

static void letter_at(mst_pen *pen, const mst_style *style, double x, double y, double turn) {
    if (cos(turn) < -1e-9) turn += MST_PI;
    mst_text_turned(pen, x, y, turn, style->letter, (mst_type){1.8, true});
}

/* Which way water runs: 1 along the path, -1 against it, 0 where the levels do not say. */
static int fall_along(const mst_path *path) {
    double first = path->vertices[0].elevation_m, last = path->vertices[path->count - 1].elevation_m;
    return first > last ? 1 : first < last ? -1 : 0;
}

static void draw_beat(mst_pen *pen, const mst_sizes *sizes, const mst_style *style, const mst_path *path,
                      const mst_track *track) {
    static const double period[] = {0, 5, 2.4, 14, 26};
    double length = mst_track_length(track), step = period[style->beat], x, y, turn;
    double first = style->beat == MST_BEAT_LETTER ? first_letter(length) : fmod(length, step) / 2 + step / 2;
    int fall = fall_along(path);
    int64_t count = length / step < 1e5 ? (int64_t)ceil(length / step) : 0;
    for (int64_t i = 0; i < count; i++) {
        if (!mst_track_at(track, first + (double)i * step, &x, &y, &turn)) break;
        if (style->beat == MST_BEAT_STICKS) stick(pen, sizes, x, y, turn, i % 2 == 0);
        if (style->beat == MST_BEAT_LEAVES) leaf(pen, sizes, x, y, turn, i % 2 == 0);
        if (style->beat == MST_BEAT_ARROWS && fall) chevron(pen, sizes, x, y, fall > 0 ? turn : turn + MST_PI);
        if (style->beat == MST_BEAT_LETTER) letter_at(pen, style, x, y, turn);
    }
}

bool mst_draw_styled(mst_pen *pen, const mst_sizes *sizes, const mst_style *style, const mst_view *view,
                     const mst_path *path, mst_arena *arena) {
    mst_track track;
    if (!pen->cairo || path->count < 2) return true;
    if (!mst_track_of(view, path, arena, &track)) return false;
    mst_pen_tone(pen, MST_TONE_INK);
    cairo_set_line_width(pen->cairo, mst_ink_width(sizes, style->ink));
    mst_set_dash(pen->cairo, style->dash);
    if (style->beat == MST_BEAT_LETTER) letter_dash(pen->cairo, mst_track_length(&track));
    mst_trace(pen->cairo, view, path);
    cairo_stroke(pen->cairo);
    mst_set_dash(pen->cairo, MST_DASH_NONE);
    if (style->beat != MST_BEAT_NONE) draw_beat(pen, sizes, style, path, &track);
    return true;
}

/* ---- contours ---- */

/* Adds the piece of the track from s0 to s1 mm. */
static void trace_piece(cairo_t *cairo, const mst_track *t, double s0, double s1) {
    double s = 0;
    bool down = false;
    for (size_t i = 0; i + 1 < t->count && s < s1; i++) {
        const double *a = t->xy[i], *b = t->xy[i + 1];
        double d = hypot(b[0] - a[0], b[1] - a[1]), from = fmax(s0 - s, 0), to = fmin(s1 - s, d);
        if (d > 0 && to > from) {
            if (!down) cairo_move_to(cairo, a[0] + (b[0] - a[0]) * from / d, a[1] + (b[1] - a[1]) * from / d);
            cairo_line_to(cairo, a[0] + (b[0] - a[0]) * to / d, a[1] + (b[1] - a[1]) * to / d);
            down = true;
        }
        s += d;
    }
}

void mst_draw_contour(mst_pen *pen, const mst_sizes *sizes, const mst_track *track, bool index, const double (*gaps)[2],
                      size_t gap_count) {
    static const double thin[] = {2.6, 0.9}, thick[] = {6, 1.1};
    if (!pen->cairo) return;
    mst_pen_tone(pen, MST_TONE_EARTH);
    cairo_set_line_width(pen->cairo, index ? sizes->medium : sizes->fine);
    cairo_set_dash(pen->cairo, index ? thick : thin, 2, 0);
    double s = 0, length = mst_track_length(track);
    for (size_t i = 0; i <= gap_count; i++) {
        trace_piece(pen->cairo, track, s, i < gap_count ? gaps[i][0] : length + 1);
        if (i < gap_count) s = gaps[i][1];
    }
    cairo_stroke(pen->cairo);
    cairo_set_dash(pen->cairo, NULL, 0, 0);
}
