#include "drawing/labels.h"
#include "drawing/marks.h"
#include <math.h>
#include <string.h>

static const double PAD_X_MM = 0.5, PAD_Y_MM = 0.4, BOXED_PAD_MM = 1.0;
static const double LINE_PITCH = 1.62; /* of the capitals, from line to line */
static const double ARROW_MM = 13;
static const double LEADER_COST = 7, INSIDE_COST = 4, OVERHANG_COST = 3, UPSIDE_DOWN_COST = 5, ARROW_OUT_COST = 10;

/* ---- making ---- */

mst_label *mst_label_new(mst_labels *l, mst_label_kind kind, int priority, double limit) {
    mst_label *label = MST_PUSH(l->arena, l->items, l->count, l->capacity);
    mst_placing *placing = label ? MST_PUSH(l->arena, l->placings, l->placing_count, l->placing_capacity) : NULL;
    l->failed |= !placing;
    if (!placing) return NULL;
    *placing = (mst_placing){.priority = priority, .limit = limit, .chosen = -1};
    double pad = kind == MST_LABEL_BOXED ? BOXED_PAD_MM : 0;
    *label = (mst_label){.kind = kind, .w = 2 * (PAD_X_MM + pad), .h = 2 * (PAD_Y_MM + pad), .tone = MST_TONE_INK};
    if (kind == MST_LABEL_ARROW) label->h += 1.8;
    return label;
}

static mst_label *last(mst_labels *l) { return &l->items[l->count - 1]; }

void mst_label_line(mst_labels *l, const char *text, mst_type type) {
    if (l->failed) return;
    mst_label *label = last(l);
    double pad = 2 * (PAD_X_MM + (label->kind == MST_LABEL_BOXED ? BOXED_PAD_MM : 0));
    label->lines[label->line_count] = text;
    label->types[label->line_count] = type;
    label->w = fmax(label->w, pad + mst_text_width(l->pen, text, type));
    if (label->kind == MST_LABEL_ARROW) label->w = fmax(label->w, ARROW_MM);
    label->h += label->line_count ? type.cap_mm * LINE_PITCH : type.cap_mm;
    label->line_count++;
}

const char *mst_label_text(mst_labels *l, const char *text) {
    const char *copy = mst_arena_string(l->arena, text);
    l->failed |= !copy;
    return copy ? copy : "";
}

/* ---- choices ---- */

static mst_choice *choose(mst_labels *l, double x, double y, double turn, double cost) {
    if (l->failed) return NULL;
    mst_placing *p = &l->placings[l->count - 1];
    mst_choice *c = MST_PUSH(l->arena, p->choices, p->count, p->capacity);
    l->failed |= !c;
    if (!c) return NULL;
    *c = (mst_choice){.box = {x, y, last(l)->w / 2, last(l)->h / 2, cos(turn), sin(turn)}, .cost = cost};
    return c;
}

/* The direction in which text reads from the bottom or the right of the sheet. */
static double upright(double turn) {
    double t = mst_angle_signed(turn);
    if (t > MST_PI / 2 + 1e-6) return t - MST_PI;
    if (t <= -MST_PI / 2 + 1e-6) return t + MST_PI;
    return t;
}

/* A leader from beside the point to the near side of the box. */
static void lead(mst_choice *c, double x, double y, double clear) {
    double dx = c->box.x - x, dy = c->box.y - y, d = hypot(dx, dy);
    double tx = fabs(dx) > 1e-9 ? (c->box.half_w - 0.2) / fabs(dx) : HUGE_VAL;
    double ty = fabs(dy) > 1e-9 ? (c->box.half_h - 0.1) / fabs(dy) : HUGE_VAL;
    double to = fmax(0, 1 - fmin(tx, ty)), from = clear / d;
    if (to <= from) return;
    c->leader = true;
    c->x0 = x + from * dx, c->y0 = y + from * dy;
    c->x1 = x + to * dx, c->y1 = y + to * dy;
}

void mst_choose_around(mst_labels *l, double x, double y, double clear, double reach) {
    static const struct {
        double x, y, cost;
    } near[] = {{1, -0.62, 0}, {1, 0.62, 0.4}, {1, 0, 0.5},  {-1, -0.62, 0.8},
                {-1, 0.62, 1}, {-1, 0, 1.1},   {0, -1, 1.2}, {0, 1, 1.3}};
    if (l->failed) return;
    double w = last(l)->w / 2, h = last(l)->h / 2;
    last(l)->x = x, last(l)->y = y;
    for (size_t i = 0; i < sizeof near / sizeof *near; i++) {
        double off = fabs(near[i].y) == 1 ? clear : 0; /* above and below: clear of the sign */
        choose(l, x + near[i].x * (w + clear), y + near[i].y * (h + (off > 0 ? off : clear * 0.6)), 0, near[i].cost);
    }
    for (double ring = 3; ring <= reach; ring += 3)
        for (int i = 0; i < 16; i++) {
            double a = 2 * MST_PI * i / 16 - 0.6, dx = cos(a), dy = sin(a);
            mst_choice *c =
                choose(l, x + dx * (w + clear + ring), y + dy * (h + clear + ring), 0, LEADER_COST + ring / 2);
            if (c) lead(c, x, y, clear);
        }
}

static void beside(mst_labels *l, const double a[2], const double u[2], double length, int outside, double off) {
    static const double along[] = {0.5, 0.42, 0.58, 0.34, 0.66, 0.25, 0.75, 0.15, 0.85};
    double w = last(l)->w, h = last(l)->h, turn = upright(atan2(u[1], u[0]));
    for (size_t i = 0; i < sizeof along / sizeof *along; i++)
        for (int side = -1; side <= 1; side += 2) {
            double s = length * along[i], over = fmax(w / 2 - s, w / 2 - (length - s));
            if (over > 0 && along[i] != 0.5) continue;
            double cost = fabs(along[i] - 0.5) * 3 + (over > 0 ? OVERHANG_COST * (1 + over) : 0);
            if (outside) cost += side == outside ? 0 : INSIDE_COST;
            /* to the right of the way, with y down, is (-u.y, u.x) */
            double n = side * (h / 2 + off);
            choose(l, a[0] + u[0] * s - u[1] * n, a[1] + u[1] * s + u[0] * n, turn, cost);
        }
}

void mst_choose_along(mst_labels *l, const double a[2], const double b[2], int outside, double off) {
    double length = hypot(b[0] - a[0], b[1] - a[1]);
    if (l->failed || !(length > 0)) return;
    const double u[2] = {(b[0] - a[0]) / length, (b[1] - a[1]) / length};
    last(l)->x = (a[0] + b[0]) / 2, last(l)->y = (a[1] + b[1]) / 2;
    if (last(l)->w < length + 3) beside(l, a, u, length, outside, off);
    for (double ring = 4; ring <= 16; ring += 4) /* square to the edge, on a leader */
        for (int side = -1; side <= 1; side += 2) {
            double n = side * (ring + fabs(u[1]) * last(l)->w / 2 + fabs(u[0]) * last(l)->h / 2);
            double cost = LEADER_COST + ring / 2 + (outside && side != outside ? INSIDE_COST : 0);
            mst_choice *c = choose(l, last(l)->x - u[1] * n, last(l)->y + u[0] * n, 0, cost);
            if (c) lead(c, last(l)->x, last(l)->y, 0.4);
        }
}

void mst_choose_at(mst_labels *l, double x, double y) {
    if (l->failed) return;
    last(l)->x = x, last(l)->y = y;
    choose(l, x, y, 0, 0);
}

/* ---- inside a shape ---- */

bool mst_rings_contain(const mst_track *rings, size_t count, double x, double y) {
    bool in = false;
    for (size_t r = 0; r < count; r++)
        for (size_t i = 0; i + 1 < rings[r].count; i++) {
            const double *a = rings[r].xy[i], *b = rings[r].xy[i + 1];
            if ((a[1] > y) != (b[1] > y) && x < a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])) in = !in;
        }
    return in;
}

static double off_segment(const double a[2], const double b[2], double x, double y) {
    double dx = b[0] - a[0], dy = b[1] - a[1], d2 = dx * dx + dy * dy;
    double t = d2 > 0 ? fmin(1, fmax(0, ((x - a[0]) * dx + (y - a[1]) * dy) / d2)) : 0;
    return hypot(a[0] + t * dx - x, a[1] + t * dy - y);
}

static double off_rings(const mst_track *rings, size_t count, double x, double y) {
    double off = HUGE_VAL;
    for (size_t r = 0; r < count; r++)
        for (size_t i = 0; i + 1 < rings[r].count; i++)
            off = fmin(off, off_segment(rings[r].xy[i], rings[r].xy[i + 1], x, y));
    return off;
}

static bool box_inside(const mst_track *rings, size_t count, const mst_box *box) {
    if (!mst_rings_contain(rings, count, box->x, box->y)) return false;
    for (size_t r = 0; r < count; r++)
        for (size_t i = 0; i + 1 < rings[r].count; i++)
            if (mst_box_meets_segment(box, rings[r].xy[i][0], rings[r].xy[i][1], rings[r].xy[i + 1][0],
                                      rings[r].xy[i + 1][1]))
                return false;
    return true;
}

static mst_rect extent_of(const mst_track *ring) {
    double x0 = HUGE_VAL, y0 = HUGE_VAL, x1 = -HUGE_VAL, y1 = -HUGE_VAL;
    for (size_t i = 0; i < ring->count; i++) {
        x0 = fmin(x0, ring->xy[i][0]), x1 = fmax(x1, ring->xy[i][0]);
        y0 = fmin(y0, ring->xy[i][1]), y1 = fmax(y1, ring->xy[i][1]);
    }
    return (mst_rect){x0, y0, x1 - x0, y1 - y0};
}

/* Places inside a shape where a leader may end: the deepest first, then ones far from those before. */
enum { LATTICE = 15, ANCHORS = 3 };
typedef struct depths {
    double x[LATTICE * LATTICE], y[LATTICE * LATTICE], off[LATTICE * LATTICE];
    int count;
} depths;

static depths depths_of(const mst_track *rings, size_t count, mst_rect e) {
    depths d = {.count = 0};
    for (int i = 0; i < LATTICE * LATTICE; i++) {
        const int column = i % LATTICE, row = i / LATTICE;
        double x = e.x + e.w * (column + 0.5) / LATTICE, y = e.y + e.h * (row + 0.5) / LATTICE;
        if (!mst_rings_contain(rings, count, x, y)) continue;
        d.x[d.count] = x, d.y[d.count] = y;
        d.off[d.count++] = off_rings(rings, count, x, y);
    }
    if (!d.count) d = (depths){{rings[0].xy[0][0]}, {rings[0].xy[0][1]}, {0}, 1}; /* a sliver: its first corner */
    return d;
}

static int anchors_of(const depths *d, double anchors[ANCHORS][2]) {
    int found = 0;
    for (; found < ANCHORS && found < d->count; found++) {
        int best = 0;
        double most = -1;
        for (int i = 0; i < d->count; i++) {
            double worth = d->off[i];
            for (int k = 0; k < found; k++)
                worth = fmin(worth, 0.5 * hypot(d->x[i] - anchors[k][0], d->y[i] - anchors[k][1]));
            if (worth > most) most = worth, best = i;
        }
        anchors[found][0] = d->x[best], anchors[found][1] = d->y[best];
    }
    return found;
}

static void choose_within(mst_labels *l, const mst_track *rings, size_t count, const depths *d, mst_rect e,
                          double turn) {
    double deep = fmax(fmin(e.w, e.h) / 2, 1e-6);
    for (int i = 0; i < d->count; i++) {
        mst_box box = {d->x[i], d->y[i], last(l)->w / 2, last(l)->h / 2, cos(turn), sin(turn)};
        double middle = hypot(box.x - e.x - e.w / 2, box.y - e.y - e.h / 2) / (1 + hypot(e.w, e.h));
        double cost = 4 * (1 - d->off[i] / deep) + 4 * middle;
        if (box_inside(rings, count, &box)) choose(l, box.x, box.y, turn, cost);
        else if (last(l)->kind == MST_LABEL_ARROW)
            choose(l, box.x, box.y, turn, cost + ARROW_OUT_COST); /* never on a leader */
    }
}

static void choose_outside(mst_labels *l, const mst_track *rings, size_t count, const double at[2], double extra) {
    double reach = last(l)->kind == MST_LABEL_BOXED ? 62 : 30; /* a design level is worth a long leader */
    double w = last(l)->w / 2, h = last(l)->h / 2;
    for (double ring = 6; ring <= reach; ring += 4)
        for (int i = 0; i < 16; i++) {
            double turn = 2 * MST_PI * i / 16 + 0.3, x = at[0] + cos(turn) * (w + ring),
                   y = at[1] + sin(turn) * (h + ring);
            if (mst_rings_contain(rings, count, x, y)) continue;
            mst_choice *c = choose(l, x, y, 0, 2 * LEADER_COST + ring / 2 + extra);
            if (c) lead(c, at[0], at[1], 0.6);
        }
}

void mst_choose_inside(mst_labels *l, const mst_track *rings, size_t count, double turn, bool leader) {
    if (l->failed || !count || rings[0].count < 3) return;
    mst_rect e = extent_of(&rings[0]);
    depths d = depths_of(rings, count, e);
    double anchors[ANCHORS][2];
    int found = anchors_of(&d, anchors);
    last(l)->x = anchors[0][0], last(l)->y = anchors[0][1];
    choose_within(l, rings, count, &d, e, upright(turn));
    for (int i = 0; leader && i < found; i++) choose_outside(l, rings, count, anchors[i], i);
}

/* ---- on a contour ---- */

/* How far the track strays from the chord under the text, mm. */
static double stray(const mst_track *track, double s0, double s1, const double a[2], const double b[2]) {
    double far = 0, x, y, turn;
    for (int i = 1; i < 6; i++)
        if (mst_track_at(track, s0 + (s1 - s0) * i / 6, &x, &y, &turn)) far = fmax(far, off_segment(a, b, x, y));
    return far;
}

static void choose_station(mst_labels *l, const mst_track *track, double s, bool uphill_left, size_t *capacity) {
    double half = last(l)->w / 2, a[2], b[2], turn;
    if (!mst_track_at(track, s - half, &a[0], &a[1], &turn) || !mst_track_at(track, s + half, &b[0], &b[1], &turn))
        return;
    double far = stray(track, s - half, s + half, a, b), along = atan2(b[1] - a[1], b[0] - a[0]);
    if (far > 1.5) return;
    double reads = uphill_left ? along : along + MST_PI; /* the head of the figure lies to the left of its way */
    double cost = far * 3 + (cos(reads) < -0.02 ? UPSIDE_DOWN_COST : 0);
    size_t count = l->placings[l->count - 1].count;
    double *slot = MST_PUSH(l->arena, last(l)->stations, count, *capacity);
    l->failed |= !slot;
    if (!slot) return;
    *slot = s;
    choose(l, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, reads, cost);
}

void mst_choose_on(mst_labels *l, const mst_track *track, double s0, double s1, bool uphill_left) {
    enum { PLACES = 24 };
    size_t capacity = 0;
    for (int i = 0; i < PLACES && !l->failed; i++)
        choose_station(l, track, s0 + (s1 - s0) * (i + 0.5) / PLACES, uphill_left, &capacity);
}

/* ---- writing ---- */

static const mst_choice *chosen(const mst_placing *p) { return p->chosen >= 0 ? &p->choices[p->chosen] : NULL; }

static void write_lines(mst_pen *pen, const mst_label *label) {
    double pad = PAD_Y_MM + (label->kind == MST_LABEL_BOXED ? BOXED_PAD_MM : 0), y = pad - label->h / 2;
    for (int i = 0; i < label->line_count; i++) {
        y += i ? label->types[i].cap_mm * LINE_PITCH : label->types[i].cap_mm;
        mst_text_at(pen, 0, y, label->lines[i], label->types[i], MST_CENTRE);
    }
}

void mst_draw_label(mst_pen *pen, const mst_sizes *sizes, const mst_label *label, const mst_placing *placing) {
    const mst_choice *c = chosen(placing);
    if (!c || !pen->cairo) return;
    mst_pen_tone(pen, label->tone);
    if (c->leader) mst_pen_line(pen, c->x0, c->y0, c->x1, c->y1, sizes->fine);
    if (label->kind == MST_LABEL_KEY) {
        mst_draw_key(pen, sizes, c->box.x, c->box.y, label->lines[0], label->types[0].cap_mm);
        return;
    }
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, c->box.x, c->box.y);
    cairo_rotate(pen->cairo, atan2(c->box.sin_a, c->box.cos_a));
    double w = label->w - 2 * PAD_X_MM, h = label->h - 2 * PAD_Y_MM;
    if (label->kind == MST_LABEL_BOXED) mst_pen_rect(pen, (mst_rect){-w / 2, -h / 2, w, h}, sizes->fine);
    write_lines(pen, label);
    if (label->kind == MST_LABEL_ARROW)
        mst_draw_arrow(pen, sizes, 0, label->h / 2 - 1.2, label->backwards ? MST_PI : 0, ARROW_MM - 1);
    cairo_restore(pen->cairo);
}

void mst_draw_label_ground(mst_pen *pen, const mst_label *label, const mst_placing *placing) {
    const mst_choice *c = chosen(placing);
    if (!c || !pen->cairo || !label->ground) return;
    cairo_save(pen->cairo);
    cairo_translate(pen->cairo, c->box.x, c->box.y);
    cairo_rotate(pen->cairo, atan2(c->box.sin_a, c->box.cos_a));
    mst_pen_tone(pen, MST_TONE_PAPER);
    double w = label->w - PAD_X_MM, h = label->h - PAD_Y_MM;
    if (label->kind == MST_LABEL_KEY) mst_pen_circle(pen, 0, 0, h / 2, 0, true);
    else mst_pen_fill_rect(pen, (mst_rect){-w / 2, -h / 2, w, h});
    cairo_restore(pen->cairo);
}
