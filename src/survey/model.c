/* The observation equations. Bearings run clockwise from north; a turn adds to what was read to make a bearing. */
#include "survey/model.h"
#include "survey/start.h"
#include <math.h>

static const double SAME_PLACE_M = 1e-4; /* closer than this a direction means nothing */

static void add(mst_terms *t, uint32_t unknown, double derivative) {
    if (unknown == MST_NONE) return;
    t->unknown[t->count] = unknown;
    t->derivative[t->count++] = derivative;
}

/* From one point to another: differences, distance in plan. */
typedef struct line {
    const mst_node *a, *b;
    double e, n, d;
} line;

static line line_of(const mst_network *net, const mst_reading *r) {
    const mst_node *a = &net->nodes[r->from], *b = &net->nodes[r->to];
    double e = b->e - a->e, n = b->n - a->n;
    return (line){a, b, e, n, sqrt(e * e + n * n)};
}

static void add_ends(mst_terms *t, const line *l, double by_e, double by_n) {
    add(t, l->a->unknown_e, -by_e);
    add(t, l->a->unknown_n, -by_n);
    add(t, l->b->unknown_e, by_e);
    add(t, l->b->unknown_n, by_n);
}

static void add_levels(mst_terms *t, const line *l, double by_rise) {
    add(t, l->a->unknown_h, -by_rise);
    add(t, l->b->unknown_h, by_rise);
}

static bool model_distance(const mst_network *net, const mst_reading *r, mst_terms *t) {
    line l = line_of(net, r);
    double rise = r->kind == MST_READ_SLOPE ? l.b->h - l.a->h - r->up_m : 0;
    double s = sqrt(l.d * l.d + rise * rise), inverse = s > SAME_PLACE_M ? 1 / s : 0;
    t->computed = s;
    t->length_m = 1;
    add_ends(t, &l, l.e * inverse, l.n * inverse);
    if (r->kind == MST_READ_SLOPE) add_levels(t, &l, rise * inverse);
    return s > SAME_PLACE_M;
}

static bool model_direction(const mst_network *net, const mst_reading *r, mst_terms *t) {
    line l = line_of(net, r);
    bool apart = l.d > SAME_PLACE_M;
    double inverse = apart ? 1 / (l.d * l.d) : 0;
    t->computed = apart ? mst_angle_turn(atan2(l.e, l.n) - net->turns[r->turn].rad) : r->value;
    t->length_m = l.d;
    add_ends(t, &l, l.n * inverse, -l.e * inverse);
    add(t, net->turns[r->turn].unknown, apart ? -1 : 0);
    return apart;
}

static bool model_zenith(const mst_network *net, const mst_reading *r, mst_terms *t) {
    line l = line_of(net, r);
    double rise = l.b->h - l.a->h - r->up_m - mst_curvature(l.d);
    double bend = l.d > 0 ? 2 * mst_curvature(l.d) / l.d : 0; /* how the curvature grows with distance */
    double square = l.d * l.d + rise * rise;
    bool apart = l.d > SAME_PLACE_M;
    double by_d = apart ? (rise + l.d * bend) / square / l.d : 0;
    t->computed = apart ? atan2(l.d, rise) : r->value;
    t->length_m = sqrt(square);
    add_ends(t, &l, l.e * by_d, l.n * by_d);
    add_levels(t, &l, apart ? -l.d / square : 0);
    return apart;
}

static bool model_level(const mst_network *net, const mst_reading *r, mst_terms *t) {
    const mst_node *to = &net->nodes[r->to];
    t->length_m = 1;
    if (r->collimation != MST_NONE) {
        const mst_collimation *c = &net->collimations[r->collimation];
        t->computed = c->h - to->h;
        add(t, c->unknown, 1);
        add(t, to->unknown_h, -1);
    } else if (r->kind == MST_READ_ELEVATION) {
        t->computed = to->h;
        add(t, to->unknown_h, 1);
        if (r->frame == MST_NONE) return true;
        t->computed -= net->frames[r->frame].h;
        add(t, net->frames[r->frame].unknown_h, -1);
    } else {
        const mst_node *from = &net->nodes[r->from];
        t->computed = to->h - from->h;
        add(t, from->unknown_h, -1);
        add(t, to->unknown_h, 1);
    }
    return true;
}

/* Differences e, n seen in a frame that is turned clockwise by rad: its own x or y, and how that changes. */
typedef struct turned {
    double value, by_e, by_n, by_turn;
} turned;

static turned seen_in_frame(double e, double n, double rad, bool is_x) {
    double c = cos(rad), s = sin(rad), x = e * c - n * s, y = e * s + n * c;
    return is_x ? (turned){x, c, -s, -y} : (turned){y, s, c, x};
}

static bool model_place(const mst_network *net, const mst_reading *r, mst_terms *t) {
    const mst_node *to = &net->nodes[r->to];
    bool east = r->kind == MST_READ_EASTING;
    t->length_m = 1;
    if (r->frame == MST_NONE) {
        t->computed = east ? to->e + net->origin_e : to->n + net->origin_n;
        add(t, east ? to->unknown_e : to->unknown_n, 1);
        return true;
    }
    const mst_frame *f = &net->frames[r->frame];
    turned own = seen_in_frame(to->e - f->e, to->n - f->n, net->turns[r->turn].rad, east);
    t->computed = own.value + (east ? f->x0 : f->y0);
    add(t, to->unknown_e, own.by_e);
    add(t, to->unknown_n, own.by_n);
    add(t, f->unknown_e, -own.by_e);
    add(t, f->unknown_n, -own.by_n);
    add(t, net->turns[r->turn].unknown, own.by_turn);
    return true;
}

static bool model_leg(const mst_network *net, const mst_reading *r, mst_terms *t) {
    line l = line_of(net, r);
    const mst_turn *turn = &net->turns[r->turn];
    turned own = seen_in_frame(l.e, l.n, turn->rad + turn->rate * r->elapsed_s, r->kind == MST_READ_DX);
    t->computed = own.value;
    t->length_m = 1;
    add_ends(t, &l, own.by_e, own.by_n);
    add(t, turn->unknown, own.by_turn);
    if (turn->drifts) add(t, turn->unknown_rate, own.by_turn * r->elapsed_s);
    return true;
}

static bool model_drift(const mst_network *net, const mst_reading *r, mst_terms *t) {
    t->computed = net->turns[r->turn].rate;
    t->length_m = 1;
    add(t, net->turns[r->turn].unknown_rate, 1);
    return true;
}

/* When the baseline swings towards its right by an angle, a chainage grows by offset times it and an offset shrinks by
 * chainage times it. */
static bool model_offset(const mst_network *net, const mst_reading *r, mst_terms *t) {
    const mst_node *end = &net->nodes[r->baseline];
    line l = line_of(net, r); /* from the zero of the chain to the point */
    bool chainage = r->kind == MST_READ_CHAINAGE || r->kind == MST_READ_RIGHT_ANGLE;
    double e = end->e - l.a->e, n = end->n - l.a->n, length = sqrt(e * e + n * n);
    bool apart = length > SAME_PLACE_M;
    double u_e = apart ? e / length : 0, u_n = apart ? n / length : 0, r_e = u_n, r_n = -u_e;
    double along = l.e * u_e + l.n * u_n, aside = l.e * r_e + l.n * r_n;
    double swing = !apart ? 0 : chainage ? aside / length : -along / length;
    double by_e = chainage ? u_e : r_e, by_n = chainage ? u_n : r_n;
    t->computed = chainage ? along : aside;
    t->length_m = 1;
    add_ends(t, &l, by_e, by_n);
    for (size_t i = 0; i < t->count; i++) { /* the zero also swings the line, the other way */
        if (t->unknown[i] == l.a->unknown_e) t->derivative[i] -= swing * r_e;
        if (t->unknown[i] == l.a->unknown_n) t->derivative[i] -= swing * r_n;
    }
    add(t, end->unknown_e, swing * r_e);
    add(t, end->unknown_n, swing * r_n);
    return apart;
}

/* How far the second line's end is off the parallel to the first through its start. Turning the first line by an angle
 * moves that by the second line's run along it. */
static bool model_parallel(const mst_network *net, const mst_reading *r, mst_terms *t) {
    const mst_node *a = &net->nodes[r->from], *b = &net->nodes[r->baseline], *c = &net->nodes[r->fourth],
                   *d = &net->nodes[r->to];
    double e = b->e - a->e, n = b->n - a->n, length = sqrt(e * e + n * n), f = d->e - c->e, g = d->n - c->n;
    bool apart = length > SAME_PLACE_M;
    double u_e = apart ? e / length : 0, u_n = apart ? n / length : 0;
    double along = f * u_e + g * u_n, swing = apart ? -along / length : 0;
    t->computed = f * u_n - g * u_e;
    t->length_m = 1;
    add(t, c->unknown_e, -u_n);
    add(t, c->unknown_n, u_e);
    add(t, d->unknown_e, u_n);
    add(t, d->unknown_n, -u_e);
    add(t, a->unknown_e, -swing * u_n);
    add(t, a->unknown_n, swing * u_e);
    add(t, b->unknown_e, swing * u_n);
    add(t, b->unknown_n, -swing * u_e);
    return apart;
}

bool mst_model(const mst_network *net, const mst_reading *r, mst_terms *t) {
    bool speaks = true;
    t->count = 0;
    switch (r->kind) {
    case MST_READ_DISTANCE:
    case MST_READ_SLOPE:
        speaks = model_distance(net, r, t);
        break;
    case MST_READ_BEARING:
    case MST_READ_DIRECTION:
        speaks = model_direction(net, r, t);
        break;
    case MST_READ_ZENITH:
        speaks = model_zenith(net, r, t);
        break;
    case MST_READ_EASTING:
    case MST_READ_NORTHING:
        speaks = model_place(net, r, t);
        break;
    case MST_READ_CHAINAGE:
    case MST_READ_OFFSET:
    case MST_READ_RIGHT_ANGLE:
    case MST_READ_STRAIGHT:
        speaks = model_offset(net, r, t);
        break;
    case MST_READ_DRIFT:
        speaks = model_drift(net, r, t);
        break;
    case MST_READ_PARALLEL:
        speaks = model_parallel(net, r, t);
        break;
    case MST_READ_DX:
    case MST_READ_DY:
        speaks = model_leg(net, r, t);
        break;
    default:
        speaks = model_level(net, r, t);
        break;
    }
    t->residual = t->computed - r->value;
    if (mst_reading_is_angular(r->kind)) t->residual = mst_angle_signed(t->residual);
    return speaks;
}

bool mst_reading_is_usable(const mst_network *net, const mst_reading *r) {
    const uint32_t touched[] = {r->from, r->to, r->baseline, r->fourth};
    bool plan = mst_reading_is_plan(r->kind), height = mst_reading_is_height(r->kind);
    for (int i = 0; i < 4; i++) {
        if (touched[i] == MST_NONE) continue;
        const mst_node *node = &net->nodes[touched[i]];
        if ((plan && !node->has_plan) || (height && !node->has_height)) return false;
    }
    if (r->turn != MST_NONE && !net->turns[r->turn].known) return false;
    if (r->collimation != MST_NONE && !net->collimations[r->collimation].has_height) return false;
    if (r->frame == MST_NONE) return true;
    return plan ? net->frames[r->frame].has_plan : net->frames[r->frame].has_height;
}
