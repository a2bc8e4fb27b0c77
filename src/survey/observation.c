/* Field pages -> typed readings with their sd. Nothing is computed here that depends on where a point lies. */
#include "survey/network.h"
#include "survey/set_ups.h"
#include "survey/start.h"
#include "survey/tape.h"
#include <math.h>
#include <string.h>

/* A reading that claims to be better than this is taken as this good: weights farther apart would drown the others. */
static const double LEAST_SD_M = 1e-5, LEAST_SD_RAD = 1e-8;
/* Two held places of one point farther apart than this contradict each other. */
static const double HELD_TWICE_M = 5e-4;
static const double KILOMETRE_M = 1000;

static const struct {
    const char *name;
    bool plan, height, angular, two_ends;
} KINDS[] = {[MST_READ_DISTANCE] = {"distance", true, false, false, true},
             [MST_READ_SLOPE] = {"slope distance", true, true, false, true},
             [MST_READ_BEARING] = {"bearing", true, false, true, true},
             [MST_READ_DIRECTION] = {"direction", true, false, true, true},
             [MST_READ_ZENITH] = {"zenith", true, true, true, true},
             [MST_READ_BACKSIGHT] = {"backsight", false, true, false, false},
             [MST_READ_INTERMEDIATE] = {"intermediate", false, true, false, false},
             [MST_READ_FORESIGHT] = {"foresight", false, true, false, false},
             [MST_READ_HEIGHT_DIFFERENCE] = {"height difference", false, true, false, true},
             [MST_READ_EASTING] = {"easting", true, false, false, false},
             [MST_READ_NORTHING] = {"northing", true, false, false, false},
             [MST_READ_ELEVATION] = {"elevation", false, true, false, false},
             [MST_READ_CHAINAGE] = {"chainage", true, false, false, true},
             [MST_READ_OFFSET] = {"offset", true, false, false, true},
             [MST_READ_DX] = {"dx", true, false, false, true},
             [MST_READ_DY] = {"dy", true, false, false, true},
             [MST_READ_DZ] = {"dz", false, true, false, true},
             [MST_READ_RIGHT_ANGLE] = {"right angle", true, false, false, true},
             [MST_READ_STRAIGHT] = {"straight", true, false, false, true},
             [MST_READ_PARALLEL] = {"parallel", true, false, false, true},
             [MST_READ_DRIFT] = {"heading drift", true, false, true, false}};

bool mst_reading_is_plan(mst_reading_kind kind) { return KINDS[kind].plan; }
bool mst_reading_is_height(mst_reading_kind kind) { return KINDS[kind].height; }
bool mst_reading_is_condition(mst_reading_kind kind) {
    return kind >= MST_READ_RIGHT_ANGLE && kind <= MST_READ_PARALLEL;
}
bool mst_reading_is_angular(mst_reading_kind kind) { return KINDS[kind].angular; }
const char *mst_reading_kind_name(mst_reading_kind kind) { return KINDS[kind].name; }

/* One page while its rows are taken. */
typedef struct taking {
    mst_network *net;
    const mst_page *page;
    const mst_row *row;
    mst_gear gear;
    uint32_t turn, frame, collimation; /* of the set-up or visit at hand */
    mst_set_ups set_ups;               /* of a page of angles */
    mst_set_up *set_up;                /* at hand */
    mst_error *error;
} taking;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the site's readings.");
}

static uint32_t node_named(taking *t, const char *name) {
    mst_network *net = t->net;
    uint32_t found = mst_index_get(&net->index, name);
    if (found != UINT32_MAX) return found;
    mst_node *node = MST_PUSH(net->arena, net->nodes, net->node_count, net->node_capacity);
    if (!node) return MST_NONE;
    *node = (mst_node){.name = name,
                       .code = "",
                       .page = t->page->name,
                       .row = t->row->line,
                       .unknown_e = MST_NONE,
                       .unknown_n = MST_NONE,
                       .unknown_h = MST_NONE};
    found = (uint32_t)(net->node_count - 1);
    return mst_index_put(&net->index, net->arena, name, found) ? found : MST_NONE;
}

static mst_status take(taking *t, mst_reading reading) {
    bool angular = KINDS[reading.kind].angular;
    reading.page = t->page;
    reading.row = t->row;
    reading.sd = fmax(reading.sd, angular ? LEAST_SD_RAD : LEAST_SD_M);
    if (reading.to == MST_NONE || (reading.from == MST_NONE && KINDS[reading.kind].two_ends))
        return no_memory(t->error);
    if (!isfinite(reading.value) || !isfinite(reading.sd))
        return mst_fail_at(t->error, MST_INVALID, t->page->name, t->row->line, 0, "The %s or its sd is not a number.",
                           KINDS[reading.kind].name);
    mst_reading *at = MST_PUSH(t->net->arena, t->net->readings, t->net->reading_count, t->net->reading_capacity);
    if (!at) return no_memory(t->error);
    *at = reading;
    uint32_t touched[] = {reading.from, reading.to, reading.baseline, reading.fourth};
    for (int i = 0; i < 4; i++) {
        if (touched[i] == MST_NONE) continue;
        t->net->nodes[touched[i]].wants_plan |= KINDS[reading.kind].plan;
        t->net->nodes[touched[i]].wants_height |= KINDS[reading.kind].height;
    }
    return MST_OK;
}

/* A reading with nothing set but its kind, ends and value. */
static mst_reading between(mst_reading_kind kind, uint32_t from, uint32_t to, double value, double sd) {
    return (mst_reading){.kind = kind,
                         .from = from,
                         .to = to,
                         .baseline = MST_NONE,
                         .fourth = MST_NONE,
                         .turn = MST_NONE,
                         .frame = MST_NONE,
                         .collimation = MST_NONE,
                         .value = value,
                         .sd = sd,
                         .up_m = NAN,
                         .used = true};
}

static double or_else(double cell, double model) { return isnan(cell) ? model : cell; }
static double distance_sd(const mst_gear *gear, double distance_m) {
    double ranged = hypot(gear->distance_m, gear->distance_ppm * 1e-6 * distance_m);
    return hypot(ranged, sqrt(2) * gear->centring_m); /* instrument and target each */
}

/* ---- gear ---- */

/* The page's gear, its silent figures filled from the preset for the kind of page. */
static void find_gear(taking *t) {
    const mst_gear *own = *t->page->gear ? mst_site_gear(t->net->site, t->page->gear) : NULL;
    const mst_gear *usual = mst_site_gear(t->net->site, mst_gear_default(t->page->kind));
    t->gear = *(own ? own : usual);
    mst_gear *g = &t->gear;
    if (!usual) return;
    if (!(g->distance_m > 0) && !(g->distance_ppm > 0))
        g->distance_m = usual->distance_m, g->distance_ppm = usual->distance_ppm;
    if (!(g->angle_rad > 0)) g->angle_rad = usual->angle_rad;
    if (!(g->zenith_rad > 0)) g->zenith_rad = usual->zenith_rad;
    if (!(g->plan_m > 0)) g->plan_m = usual->plan_m;
    if (!(g->height_m > 0)) g->height_m = usual->height_m;
    if (!(g->staff_m > 0)) g->staff_m = usual->staff_m;
    if (!(g->levelled_km_m > 0)) g->levelled_km_m = usual->levelled_km_m;
    if (!(g->leg_m > 0) && !(g->leg_rate > 0))
        g->leg_m = usual->leg_m, g->leg_rate = usual->leg_rate, g->leg_power = usual->leg_power;
    if (!(g->leg_height_ratio > 0)) g->leg_height_ratio = usual->leg_height_ratio;
}

/* ---- one function for each kind of row ---- */

static mst_status held_elsewhere(taking *t, const mst_node *node, const char *what, double away, int which) {
    return mst_fail_at(t->error, MST_INVALID, t->page->name, t->row->line, 0,
                       "'%s' is already held %s %.3f m away, in %s; set one of the two aside or give it an sd.",
                       node->name, what, away, node->held_in[which]);
}

static mst_status hold(taking *t, uint32_t p, double e, double n, double h) {
    mst_node *node = &t->net->nodes[p];
    const char *here = mst_arena_printf(t->net->arena, "%s row %d", t->page->name, t->row->line);
    if (!here) return no_memory(t->error);
    for (int which = 0; which < 2; which++)
        if (!isnan(which ? h : e) && !(which ? node->held_h : node->held_e)) node->held_in[which] = here;
    if (!isnan(e)) {
        double away = hypot(node->e - e, node->n - n);
        if (node->held_e && away > HELD_TWICE_M) return held_elsewhere(t, node, "at a place", away, 0);
        if (!node->held_e) node->e = e, node->n = n;
        node->held_e = node->held_n = node->control_plan = node->has_plan = true;
    }
    if (!isnan(h)) {
        if (node->held_h && fabs(node->h - h) > HELD_TWICE_M)
            return held_elsewhere(t, node, "at a level", fabs(node->h - h), 1);
        if (!node->held_h) node->h = h;
        node->held_h = node->control_height = node->has_height = true;
    }
    return MST_OK;
}

/* A place, or a level alone, in the frame at hand or the site's own (frame MST_NONE). */
static mst_status take_place(taking *t, uint32_t p, mst_point3 at, double sd_plan, double sd_height) {
    mst_status status = MST_OK;
    mst_reading east = between(MST_READ_EASTING, MST_NONE, p, at.easting_m, sd_plan);
    mst_reading north = between(MST_READ_NORTHING, MST_NONE, p, at.northing_m, sd_plan);
    mst_reading up = between(MST_READ_ELEVATION, MST_NONE, p, at.elevation_m, sd_height);
    east.frame = north.frame = up.frame = t->frame;
    east.turn = north.turn = t->turn;
    if (!isnan(at.easting_m)) {
        status = take(t, east);
        if (!status) status = take(t, north);
    }
    if (!status && !isnan(at.elevation_m)) status = take(t, up);
    return status;
}

static mst_status take_control(taking *t) {
    const double *v = t->row->value;
    uint32_t p = node_named(t, t->row->text[MST_CONTROL_POINT]);
    if (p == MST_NONE) return no_memory(t->error);
    bool held_plan = isnan(v[MST_CONTROL_SD_PLAN]), held_height = isnan(v[MST_CONTROL_SD_HEIGHT]);
    mst_status status = hold(t, p, held_plan ? v[MST_CONTROL_EASTING] : NAN, v[MST_CONTROL_NORTHING],
                             held_height ? v[MST_CONTROL_ELEVATION] : NAN);
    mst_point3 known = {held_plan ? NAN : v[MST_CONTROL_EASTING], v[MST_CONTROL_NORTHING],
                        held_height ? NAN : v[MST_CONTROL_ELEVATION]};
    return status ? status : take_place(t, p, known, v[MST_CONTROL_SD_PLAN], v[MST_CONTROL_SD_HEIGHT]);
}

static mst_status take_point(taking *t) {
    const double *v = t->row->value;
    uint32_t p = node_named(t, t->row->text[MST_POINTS_POINT]);
    if (p == MST_NONE) return no_memory(t->error);
    if (*t->row->text[MST_POINTS_CODE]) t->net->nodes[p].code = t->row->text[MST_POINTS_CODE];
    mst_point3 at = {v[MST_POINTS_EASTING], v[MST_POINTS_NORTHING], v[MST_POINTS_ELEVATION]};
    return take_place(t, p, at, or_else(v[MST_POINTS_SD_PLAN], t->gear.plan_m),
                      or_else(v[MST_POINTS_SD_HEIGHT], t->gear.height_m));
}

static mst_status take_gnss(taking *t, const mst_projector *projector) {
    const double *v = t->row->value;
    uint32_t p = node_named(t, t->row->text[MST_GNSS_POINT]);
    mst_point3 at;
    if (p == MST_NONE) return no_memory(t->error);
    if (!projector->project(projector->self, v[MST_GNSS_LATITUDE], v[MST_GNSS_LONGITUDE], v[MST_GNSS_HEIGHT], &at) ||
        !isfinite(at.easting_m) || !isfinite(at.northing_m) || !isfinite(at.elevation_m))
        return mst_fail_at(t->error, MST_INVALID, t->page->name, t->row->line, 0,
                           "The place of '%s' lies too far from the rest of the site for one plane; check latitude and "
                           "longitude, which may be exchanged.",
                           t->net->nodes[p].name);
    return take_place(t, p, at, or_else(v[MST_GNSS_SD_PLAN], t->gear.plan_m),
                      or_else(v[MST_GNSS_SD_HEIGHT], t->gear.height_m));
}

static mst_status take_tape(taking *t) {
    const double *v = t->row->value;
    double d = mst_tape_corrected(v);
    if (!(d > 0))
        return mst_fail_at(
            t->error, MST_INVALID, t->page->name, t->row->line, 0,
            "The corrections leave nothing of the tape; look at its scale, temperature, weight and pull.");
    bool slope = v[MST_TAPE_SLOPE] == 1;
    uint32_t from = node_named(t, t->row->text[MST_TAPE_FROM]), to = node_named(t, t->row->text[MST_TAPE_TO]);
    mst_reading tape = between(slope ? MST_READ_SLOPE : MST_READ_DISTANCE, from, to, d,
                               or_else(v[MST_TAPE_SD], distance_sd(&t->gear, d)));
    tape.up_m = 0;
    return take(t, tape);
}

static mst_status take_bearing(taking *t) {
    const double *v = t->row->value;
    uint32_t from = node_named(t, t->row->text[MST_BEARINGS_FROM]), to = node_named(t, t->row->text[MST_BEARINGS_TO]);
    double d = v[MST_BEARINGS_DISTANCE];
    bool own_sd = !isnan(v[MST_BEARINGS_SD]);
    mst_reading bearing = between(MST_READ_BEARING, from, to, mst_angle_turn(v[MST_BEARINGS_BEARING]),
                                  own_sd ? v[MST_BEARINGS_SD] : t->gear.angle_rad);
    bearing.turn = t->turn;
    bearing.centring_m = own_sd ? 0 : t->gear.centring_m;
    mst_status status = take(t, bearing);
    if (status || isnan(d)) return status;
    return take(
        t, between(MST_READ_DISTANCE, from, to, d, or_else(v[MST_BEARINGS_SD_DISTANCE], distance_sd(&t->gear, d))));
}

/* Height of instrument less that of the target; NaN where one of them was not measured. A page without a column for
 * targets sights the marks themselves. */
static double height_above(const taking *t) {
    bool has_targets = t->page->columns >> MST_ANGLES_TARGET & 1;
    return t->set_up->instrument_m - (has_targets ? t->row->value[MST_ANGLES_TARGET] : 0);
}

static mst_status leave_level_out(taking *t, const mst_reading *zenith, const char *sentence) {
    return mst_network_leave_out(t->net, zenith, sentence, t->error);
}

/* One of the two heights is there and the other is not: then nobody can tell the level, and that is said. A set-up
 * whose rows all lack the instrument's height is told of once. */
static mst_status say_no_level(taking *t, const mst_reading *zenith) {
    const char *at = t->row->text[MST_ANGLES_AT], *to = t->row->text[MST_ANGLES_TO], *page = t->page->name;
    int row = t->row->line;
    mst_arena *arena = t->net->arena;
    bool instrument = !isnan(t->set_up->instrument_m), target = !isnan(t->row->value[MST_ANGLES_TARGET]);
    if (instrument == target || (target && t->set_up->said)) return MST_OK;
    if (instrument)
        return leave_level_out(
            t, zenith,
            mst_arena_printf(arena,
                             "The zenith angle %s-%s (%s row %d) gives no level: the target's height was not measured; "
                             "write 0 where the mark itself was sighted.",
                             at, to, page, row));
    t->set_up->said = true;
    return leave_level_out(
        t, zenith,
        mst_arena_printf(arena,
                         "The zenith angles of the set-up on %s (%s, from row %d on) give no levels: no row of it "
                         "tells the instrument's height.",
                         at, page, row));
}

static mst_status take_sight(taking *t) {
    const double *v = t->row->value;
    uint32_t at = node_named(t, t->row->text[MST_ANGLES_AT]), to = node_named(t, t->row->text[MST_ANGLES_TO]);
    double circle = v[MST_ANGLES_CIRCLE], zenith = v[MST_ANGLES_ZENITH], slope = v[MST_ANGLES_DISTANCE];
    double up = height_above(t), sd_slope = or_else(v[MST_ANGLES_SD_DISTANCE], distance_sd(&t->gear, slope));
    double sd_zenith = or_else(v[MST_ANGLES_SD_ZENITH], t->gear.zenith_rad);
    if (zenith > MST_PI) zenith = 2 * MST_PI - zenith, circle += MST_PI; /* the other face */
    bool own_sd = !isnan(v[MST_ANGLES_SD_CIRCLE]);
    mst_reading direction = between(MST_READ_DIRECTION, at, to, mst_angle_turn(circle),
                                    own_sd ? v[MST_ANGLES_SD_CIRCLE] : t->gear.angle_rad);
    direction.turn = t->turn;
    direction.centring_m = own_sd ? 0 : t->gear.centring_m;
    mst_status status = take(t, direction);
    mst_reading up_or_down = between(MST_READ_ZENITH, at, to, zenith, sd_zenith);
    up_or_down.up_m = up;
    up_or_down.page = t->page;
    up_or_down.row = t->row;
    if (!status && !isnan(zenith)) status = isnan(up) ? say_no_level(t, &up_or_down) : take(t, up_or_down);
    if (status || isnan(slope)) return status;
    bool flat = isnan(up) && !isnan(zenith); /* without heights of instrument and target it is a distance in plan */
    mst_reading distance = flat ? between(MST_READ_DISTANCE, at, to, slope * sin(zenith),
                                          hypot(sd_slope * sin(zenith), sd_zenith * slope * cos(zenith)))
                                : between(MST_READ_SLOPE, at, to, slope, sd_slope);
    distance.up_m = or_else(up, 0);
    return take(t, distance);
}

static bool new_collimation(taking *t) {
    mst_network *net = t->net;
    mst_collimation *made = MST_PUSH(net->arena, net->collimations, net->collimation_count, net->collimation_capacity);
    if (!made) return false;
    made->unknown = MST_NONE;
    t->collimation = (uint32_t)(net->collimation_count - 1);
    return true;
}

static mst_status take_staff(taking *t) {
    static const struct {
        int column;
        mst_reading_kind kind;
    } STAFF[] = {{MST_LEVELS_INTERMEDIATE, MST_READ_INTERMEDIATE},
                 {MST_LEVELS_FORESIGHT, MST_READ_FORESIGHT},
                 {MST_LEVELS_BACKSIGHT, MST_READ_BACKSIGHT}}; /* on a change point the foresight is the earlier */
    uint32_t p = node_named(t, t->row->text[MST_LEVELS_POINT]);
    mst_status status = MST_OK;
    for (int i = 0; !status && i < 3; i++) {
        double reading = t->row->value[STAFF[i].column];
        if (isnan(reading)) continue;
        if (STAFF[i].kind == MST_READ_BACKSIGHT || t->collimation == MST_NONE) { /* the level stands anew */
            if (!new_collimation(t)) return no_memory(t->error);
        }
        if (t->row->set_aside) continue;
        double sight =
            or_else(t->row->value[MST_LEVELS_DISTANCE], 0); /* the earth falls away below the line of sight */
        mst_reading staff = between(STAFF[i].kind, MST_NONE, p, reading - mst_curvature(sight), t->gear.staff_m);
        staff.collimation = t->collimation;
        status = take(t, staff);
    }
    return status;
}

static mst_status take_height(taking *t) {
    const double *v = t->row->value;
    double length = v[MST_HEIGHTS_LENGTH];
    double model = length > 0 ? t->gear.levelled_km_m * sqrt(length / KILOMETRE_M) : t->gear.staff_m * sqrt(2);
    return take(t, between(MST_READ_HEIGHT_DIFFERENCE, node_named(t, t->row->text[MST_HEIGHTS_FROM]),
                           node_named(t, t->row->text[MST_HEIGHTS_TO]), v[MST_HEIGHTS_DIFFERENCE],
                           or_else(v[MST_HEIGHTS_SD], model)));
}

static mst_status take_offset(taking *t) {
    const double *v = t->row->value;
    uint32_t from = node_named(t, t->row->text[MST_OFFSETS_FROM]), to = node_named(t, t->row->text[MST_OFFSETS_TO]);
    uint32_t p = node_named(t, t->row->text[MST_OFFSETS_POINT]);
    if (p == MST_NONE) return no_memory(t->error);
    double along = v[MST_OFFSETS_CHAINAGE], aside = v[MST_OFFSETS_OFFSET];
    if (p == to && aside == 0 && along > 0) /* the end of the baseline on itself: its length */
        return take(t, between(MST_READ_DISTANCE, from, to, along, distance_sd(&t->gear, along)));
    if (p == from && along == 0 && aside == 0) return MST_OK; /* the zero of the chain, as some book it */
    if (p == from || p == to)
        return mst_fail_at(t->error, MST_INVALID, t->page->name, t->row->line, 0,
                           "'%s' is an end of its own baseline, so it cannot stand beside it; set the row aside.",
                           t->net->nodes[p].name);
    if (*t->row->text[MST_OFFSETS_CODE]) t->net->nodes[p].code = t->row->text[MST_OFFSETS_CODE];
    double sd_along = hypot(distance_sd(&t->gear, along), t->gear.angle_rad * aside); /* the right angle is by eye */
    mst_reading chainage = between(MST_READ_CHAINAGE, from, p, along, sd_along);
    mst_reading offset = between(MST_READ_OFFSET, from, p, aside, distance_sd(&t->gear, aside));
    chainage.baseline = offset.baseline = to;
    mst_status status = take(t, chainage);
    return status ? status : take(t, offset);
}

/* The heading of a motion sensor drifts by about so much where the site's setting legs-drift says so, in degrees a
 * minute, one sd. */
static mst_status take_drift(taking *t, uint32_t first) {
    double degrees_a_minute;
    if (!mst_number_read(mst_site_setting(t->net->site, "legs-drift", ""), &degrees_a_minute) ||
        !(degrees_a_minute > 0))
        return MST_OK;
    mst_reading drift = between(MST_READ_DRIFT, MST_NONE, first, 0, degrees_a_minute * MST_PI / 180 / 60);
    drift.turn = t->turn;
    t->net->turns[t->turn].drifts = true;
    return take(t, drift);
}

static mst_status take_leg(taking *t) {
    const double *v = t->row->value;
    uint32_t from = node_named(t, t->row->text[MST_LEGS_FROM]), to = node_named(t, t->row->text[MST_LEGS_TO]);
    double sd = hypot(t->gear.leg_m, t->gear.leg_rate * pow(or_else(v[MST_LEGS_TIME], 0), t->gear.leg_power));
    mst_reading dx = between(MST_READ_DX, from, to, v[MST_LEGS_DX], sd),
                dy = between(MST_READ_DY, from, to, v[MST_LEGS_DY], sd);
    dx.turn = dy.turn = t->turn;
    mst_turn *turn = &t->net->turns[t->turn];
    dx.elapsed_s = dy.elapsed_s = turn->elapsed_s + or_else(v[MST_LEGS_TIME], 0) / 2;
    mst_status status = turn->elapsed_s > 0 ? MST_OK : take_drift(t, from);
    turn->elapsed_s += or_else(v[MST_LEGS_TIME], 0);
    if (!status) status = take(t, dx);
    if (!status) status = take(t, dy);
    if (status || isnan(v[MST_LEGS_DZ])) return status;
    return take(t, between(MST_READ_DZ, from, to, v[MST_LEGS_DZ], sd * t->gear.leg_height_ratio));
}

/* Angles of a condition are taken as the offset that they leave, in m: that is how a builder knows them. */
static mst_status take_condition(taking *t) {
    const char *const *name = &t->row->text[MST_CONDITIONS_FIRST];
    const double *v = t->row->value;
    double sd = v[MST_CONDITIONS_SD];
    uint32_t p[4] = {MST_NONE, MST_NONE, MST_NONE, MST_NONE};
    for (int i = 0; i < 4; i++)
        if (*name[i] && (p[i] = node_named(t, name[i])) == MST_NONE) return no_memory(t->error);
    mst_reading c;
    switch (t->row->text[MST_CONDITIONS_CONDITION][0] | 32) {
    case 'r':
        c = between(MST_READ_RIGHT_ANGLE, p[1], p[2], 0, sd);
        c.baseline = p[0];
        break;
    case 's':
        c = between(MST_READ_STRAIGHT, p[0], p[1], 0, sd);
        c.baseline = p[2];
        break;
    case 'p':
        c = between(MST_READ_PARALLEL, p[0], p[3], 0, sd);
        c.baseline = p[1];
        c.fourth = p[2];
        break;
    case 'l':
        c = between(MST_READ_DISTANCE, p[0], p[1], v[MST_CONDITIONS_VALUE], sd);
        break;
    default:
        c = between(MST_READ_HEIGHT_DIFFERENCE, p[0], p[1], 0, sd);
    }
    return take(t, c);
}

/* ---- what a run of rows shares ---- */

static bool new_turn(taking *t, mst_turn_kind kind) {
    mst_turn *turn = MST_PUSH(t->net->arena, t->net->turns, t->net->turn_count, t->net->turn_capacity);
    if (!turn) return false;
    *turn = (mst_turn){
        .kind = kind, .unknown = MST_NONE, .unknown_rate = MST_NONE, .station = MST_NONE, .visit = t->page->visit};
    t->turn = (uint32_t)(t->net->turn_count - 1);
    return true;
}

/* The frame of the visit's coordinates of this kind, or a new one. */
static bool find_frame(taking *t) {
    mst_network *net = t->net;
    for (size_t i = 0; i < net->frame_count; i++)
        if (net->frames[i].kind == t->page->kind && strcmp(net->frames[i].visit, t->page->visit) == 0) {
            t->frame = (uint32_t)i;
            t->turn = net->frames[i].turn;
            return true;
        }
    mst_frame *frame = MST_PUSH(net->arena, net->frames, net->frame_count, net->frame_capacity);
    if (!frame || !new_turn(t, MST_TURN_FRAME)) return false;
    t->frame = (uint32_t)(net->frame_count - 1);
    *frame = (mst_frame){.visit = t->page->visit,
                         .kind = t->page->kind,
                         .turn = t->turn,
                         .unknown_e = MST_NONE,
                         .unknown_n = MST_NONE,
                         .unknown_h = MST_NONE};
    return true;
}

static bool find_legs_turn(taking *t) {
    for (size_t i = 0; i < t->net->turn_count; i++)
        if (t->net->turns[i].kind == MST_TURN_LEGS && strcmp(t->net->turns[i].visit, t->page->visit) == 0) {
            t->turn = (uint32_t)i;
            return true;
        }
    return new_turn(t, MST_TURN_LEGS);
}

/* The zero of the circle of the row's set-up. */
static bool find_set_up(taking *t, size_t i) {
    t->set_up = &t->set_ups.list[t->set_ups.of_row[i]];
    t->turn = t->set_up->turn;
    if (t->turn != MST_NONE) return true;
    if (!new_turn(t, MST_TURN_SET_UP)) return false;
    t->set_up->turn = t->turn;
    return true;
}

static mst_status take_row(taking *t, const mst_projector *projector, size_t i) {
    if (t->page->kind == MST_PAGE_ANGLES && !find_set_up(t, i)) return no_memory(t->error);
    if (t->row->set_aside && t->page->kind != MST_PAGE_LEVELS) return MST_OK;
    switch (t->page->kind) {
    case MST_PAGE_CONTROL:
        return take_control(t);
    case MST_PAGE_POINTS:
        return take_point(t);
    case MST_PAGE_GNSS:
        return take_gnss(t, projector);
    case MST_PAGE_TAPE:
        return take_tape(t);
    case MST_PAGE_BEARINGS:
        return take_bearing(t);
    case MST_PAGE_ANGLES:
        return take_sight(t);
    case MST_PAGE_LEVELS:
        return take_staff(t);
    case MST_PAGE_HEIGHTS:
        return take_height(t);
    case MST_PAGE_OFFSETS:
        return take_offset(t);
    case MST_PAGE_LEGS:
        return take_leg(t);
    case MST_PAGE_CONDITIONS:
        return take_condition(t);
    default:
        return MST_OK;
    }
}

static mst_status take_page(mst_network *net, const mst_page *page, const mst_adjust_options *options,
                            mst_error *error) {
    taking t = {.net = net, .page = page, .turn = MST_NONE, .frame = MST_NONE, .collimation = MST_NONE, .error = error};
    if (page->kind == MST_PAGE_GNSS && !options->projector)
        return mst_fail_at(error, MST_INVALID, page->name, 0, 0,
                           "Satellite positions need a map projection, and this call was given none.");
    find_gear(&t);
    bool framed = (page->kind == MST_PAGE_POINTS || page->kind == MST_PAGE_GNSS) && !page->site_frame;
    if (framed && !find_frame(&t)) return no_memory(error);
    if (page->kind == MST_PAGE_LEGS && !find_legs_turn(&t)) return no_memory(error);
    if (page->kind == MST_PAGE_ANGLES && !mst_set_ups_find(page, net->arena, &t.set_ups)) return no_memory(error);
    if (page->kind == MST_PAGE_BEARINGS && !new_turn(&t, MST_TURN_BEARINGS)) return no_memory(error);
    for (size_t i = 0; i < page->row_count; i++) {
        t.row = &page->rows[i];
        mst_status status = take_row(&t, options->projector, i);
        if (status) return status;
    }
    return MST_OK;
}

/* A place near everything, so that squares of coordinates keep their digits. */
static void find_origin(mst_network *net) {
    const mst_reading *first = NULL;
    for (size_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_e) {
            net->origin_e = net->nodes[i].e;
            net->origin_n = net->nodes[i].n;
            return;
        }
    for (size_t i = 0; i < net->reading_count && !first; i++) /* coordinates in the site's frame before any others */
        if (net->readings[i].kind == MST_READ_EASTING && net->readings[i].frame == MST_NONE) first = &net->readings[i];
    for (size_t i = 0; i < net->reading_count && !first; i++)
        if (net->readings[i].kind == MST_READ_EASTING) first = &net->readings[i];
    if (!first) return;
    net->origin_e = first[0].value;
    net->origin_n = first[1].value;
}

static void move_to_origin(mst_network *net) {
    for (size_t i = 0; i < net->node_count; i++)
        if (net->nodes[i].held_e) {
            net->nodes[i].e -= net->origin_e;
            net->nodes[i].n -= net->origin_n;
        }
    for (size_t i = 0; i + 1 < net->reading_count; i++) {
        const mst_reading *r = &net->readings[i];
        if (r->kind != MST_READ_EASTING || r->frame == MST_NONE) continue;
        mst_frame *frame = &net->frames[r->frame];
        frame->count++; /* running means */
        frame->x0 += (r[0].value - frame->x0) / (double)frame->count;
        frame->y0 += (r[1].value - frame->y0) / (double)frame->count;
    }
}

static int page_order(const mst_site *site, const mst_page *page) {
    for (size_t i = 0; i < site->visit_count; i++)
        if (strcmp(site->visits[i].name, page->visit) == 0) return (int)i;
    return (int)site->visit_count;
}

/* The site's pages, those of an earlier visit first, else as they came. */
static const mst_page **pages_by_visit(const mst_site *site, mst_arena *arena) {
    const mst_page **pages = mst_arena_array(arena, site->page_count + 1, sizeof *pages);
    size_t count = 0;
    for (int visit = 0; pages && visit <= (int)site->visit_count; visit++)
        for (size_t i = 0; i < site->page_count; i++)
            if (page_order(site, &site->pages[i]) == visit) pages[count++] = &site->pages[i];
    return pages;
}

mst_status mst_network_leave_out(mst_network *net, const mst_reading *reading, const char *sentence, mst_error *error) {
    mst_left_out *at = MST_PUSH(net->arena, net->left_out, net->left_out_count, net->left_out_capacity);
    if (!at || !sentence) return no_memory(error);
    *at = (mst_left_out){reading->row->id, reading->page->name, reading->row->line, sentence};
    return MST_OK;
}

mst_status mst_network_read(const mst_site *site, const mst_adjust_options *options, mst_arena *arena,
                            mst_network *network, mst_error *error) {
    *network = (mst_network){.site = site, .arena = arena, .datum_plan = "", .datum_height = ""};
    const mst_page **pages = pages_by_visit(site, arena);
    if (!pages) return no_memory(error);
    for (size_t i = 0; i < site->page_count; i++) {
        mst_status status = take_page(network, pages[i], options, error);
        if (status) return status;
    }
    if (network->node_count == 0)
        return mst_fail(error, MST_TOO_FEW, "There is nothing to adjust yet: import a page of readings first.");
    find_origin(network);
    move_to_origin(network);
    return MST_OK;
}
