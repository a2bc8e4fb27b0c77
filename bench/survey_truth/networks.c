/* Networks as a contractor would measure them: a garden of some 60 m, a dozen points, every point checked more or less.
 * sd stand on the pages where a page has a column for them, else they are those of the preset. */
#include "networks.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *const NETWORK_NAMES[NETWORK_KINDS] = {"tapes",       "set-ups",  "triangles",  "levels",
                                                  "differences", "visits",   "satellites", "legs",
                                                  "offsets",     "bearings", "conditions", "mixed"};
static const double RADIAN = MST_PI / 180, SD_TAPE = 0.006, SD_SLOPE = 0.003, SD_STAFF = 0.0015, SD_DIFFERENCE = 0.003,
                    SD_PLACE = 0.012, SD_LEVEL = 0.015, SD_BEARING = 60.0 / 3600, SD_CIRCLE = 20.0 / 3600;
static const double EARTH_M = 6371000, REFRACTION = 0.14, RADIUS_PLANE_M = 6.4e6;

double chance_uniform(chance *c) {
    c->state ^= c->state >> 12;
    c->state ^= c->state << 25;
    c->state ^= c->state >> 27;
    return ((double)(c->state * 2685821657736338717u >> 11) + 0.5) / 9007199254740992.0;
}
double chance_normal(chance *c) {
    double radius = sqrt(-2 * log(chance_uniform(c)));
    return radius * cos(2 * MST_PI * chance_uniform(c));
}
uint32_t chance_below(chance *c, uint32_t count) { return (uint32_t)(chance_uniform(c) * count) % count; }

/* ---- pages ---- */

static sheet *add_sheet(network *net, mst_page_kind kind, const char *visit, int columns, const char *header) {
    sheet *s = &net->sheets[net->sheet_count++];
    s->kind = kind;
    s->header = header;
    s->columns = columns;
    s->rows = 0;
    snprintf(s->name, sizeof s->name, "%s-%s.csv", mst_page_kind_name(kind), visit);
    snprintf(s->visit, sizeof s->visit, "%s", visit);
    return s;
}

static bool new_row(sheet *s) {
    if (s->rows >= SHEET_ROWS_MAX) return false;
    memset(s->cell[s->rows++], 0, sizeof *s->cell);
    return true;
}
static void put_point(sheet *s, int column, int point) {
    snprintf(s->cell[s->rows - 1][column], CELL_MAX, "P%d", point);
}
static void put(sheet *s, int column, int decimals, double value) {
    snprintf(s->cell[s->rows - 1][column], CELL_MAX, "%.*f", decimals, value);
}

/* ---- truth ---- */

static double plan(const network *net, int a, int b) {
    return hypot(net->truth[b].e - net->truth[a].e, net->truth[b].n - net->truth[a].n);
}
static double bearing(const network *net, int a, int b) { /* degrees */
    return atan2(net->truth[b].e - net->truth[a].e, net->truth[b].n - net->truth[a].n) / RADIAN;
}
static double turned(double degrees) { return degrees - 360 * floor(degrees / 360); }

static void make_truth(network *net, chance *c) {
    for (int i = 0; i < net->points; i++)
        for (bool apart = false; !apart;) {
            net->truth[i] =
                (place){400 + 60 * chance_uniform(c), 700 + 60 * chance_uniform(c), 20 + 4 * chance_uniform(c)};
            apart = true;
            for (int k = 0; k < i; k++) apart &= plan(net, i, k) > 6;
        }
}

/* The k-th nearest other point. */
static int nearest(const network *net, int from, int k) {
    int order[POINTS_MAX], count = 0;
    for (int i = 0; i < net->points; i++) {
        if (i == from) continue;
        int at = count++;
        for (; at > 0 && plan(net, from, order[at - 1]) > plan(net, from, i); at--) order[at] = order[at - 1];
        order[at] = i;
    }
    return order[k];
}

static void add_control(network *net, int plan_points, int level_points) {
    sheet *s = add_sheet(net, MST_PAGE_CONTROL, "1", 4, "point,easting (m),northing (m),elevation (m)");
    for (int i = 0; i < plan_points || i < level_points; i++) {
        new_row(s);
        put_point(s, 0, i);
        if (i < plan_points) put(s, 1, 9, net->truth[i].e), put(s, 2, 9, net->truth[i].n);
        if (i < level_points) put(s, 3, 9, net->truth[i].h);
    }
}

/* ---- one kind of page each ---- */

static void add_tapes(network *net, int neighbours, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_TAPE, "1", 4, "from,to,distance (m),sd (m)");
    bool done[POINTS_MAX][POINTS_MAX] = {{false}};
    for (int i = 0; i < net->points; i++)
        for (int k = 0; k < neighbours && k < net->points - 1; k++) {
            int j = nearest(net, i, k);
            if (done[i][j] || done[j][i] || !new_row(s)) continue;
            done[i][j] = true;
            put_point(s, 0, i);
            put_point(s, 1, j);
            put(s, 2, net->decimals, plan(net, i, j) + SD_TAPE * chance_normal(c));
            put(s, 3, 4, SD_TAPE);
        }
}

static void add_set_up(network *net, sheet *s, int at, bool distances, int targets, chance *c) {
    double zero = 360 * chance_uniform(c);
    for (int k = 0; k < targets && k < net->points - 1; k++) {
        int to = nearest(net, at, k);
        double d = plan(net, at, to), high = distances ? 1.5 : 0,
               rise = net->truth[to].h + 1.3 - net->truth[at].h - high;
        if (!new_row(s)) return;
        put_point(s, 0, at);
        put_point(s, 1, to);
        put(s, 2, 7, turned(bearing(net, at, to) - zero + SD_CIRCLE * chance_normal(c)));
        put(s, 6, 7, SD_CIRCLE);
        if (!distances) continue;
        put(s, 3, 7, atan2(d, rise - (1 - REFRACTION) * d * d / (2 * EARTH_M)) / RADIAN + SD_CIRCLE * chance_normal(c));
        put(s, 4, net->decimals, hypot(d, rise) + SD_SLOPE * chance_normal(c));
        put(s, 5, 3, 1.3);
        put(s, 7, 4, SD_SLOPE);
    }
}

static const char ANGLES_HEADER[] =
    "at,to,circle (deg),zenith (deg),slope distance (m),target height (m),sd circle (deg),"
    "sd distance (m),sd zenith (deg),instrument height (m)";

/* The last two columns are the same for every row, so they are added with the header's text only when written. */
static void add_set_ups(network *net, int set_ups, bool distances, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_ANGLES, "1", 8, ANGLES_HEADER);
    for (int i = 0; i < set_ups; i++) add_set_up(net, s, i, distances, net->points - 1 < 11 ? net->points - 1 : 11, c);
}

/* Runs of a level through the points, with what stands near as intermediate sights, every run from one known level back
 * to it by another way. */
static void add_levels(network *net, int runs, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_LEVELS, "1", 4, "point,backsight (m),intermediate (m),foresight (m)");
    for (int run = 0; run < runs; run++) {
        int here = 0, stops = net->points;
        int order[POINTS_MAX + 1];
        for (int i = 0; i < stops; i++) order[i] = i;
        for (int i = stops - 1; i > 1; i--) { /* the first stays */
            int k = 1 + (int)chance_below(c, (uint32_t)i);
            int swap = order[i];
            order[i] = order[k];
            order[k] = swap;
        }
        order[stops] = 0;
        new_row(s);
        put_point(s, 0, here);
        for (int i = 1; i <= stops; i++) {
            int next = order[i];
            double level = fmax(net->truth[here].h, net->truth[next].h) + 0.6 + chance_uniform(c);
            put(s, 1, net->decimals, level - net->truth[here].h + SD_STAFF * chance_normal(c));
            for (int k = 0; k < 3; k++) { /* what else stands near */
                int other = nearest(net, here, k);
                if (other == next || !new_row(s)) continue;
                put_point(s, 0, other);
                put(s, 2, net->decimals, level - net->truth[other].h + SD_STAFF * chance_normal(c));
            }
            if (!new_row(s)) return;
            put_point(s, 0, next);
            put(s, 3, net->decimals, level - net->truth[next].h + SD_STAFF * chance_normal(c));
            here = next;
        }
    }
}

static void add_differences(network *net, int neighbours, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_HEIGHTS, "1", 4, "from,to,difference (m),sd (m)");
    bool done[POINTS_MAX][POINTS_MAX] = {{false}};
    for (int i = 0; i < net->points; i++)
        for (int k = 0; k < neighbours && k < net->points - 1; k++) {
            int j = nearest(net, i, k);
            if (done[i][j] || done[j][i] || !new_row(s)) continue;
            done[i][j] = true;
            put_point(s, 0, i);
            put_point(s, 1, j);
            put(s, 2, net->decimals, net->truth[j].h - net->truth[i].h + SD_DIFFERENCE * chance_normal(c));
            put(s, 3, 4, SD_DIFFERENCE);
        }
}

static void add_visit(network *net, const char *visit, double share, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_POINTS, visit, 6,
                         "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)");
    double turn = 2 * MST_PI * chance_uniform(c), co = cos(turn), si = sin(turn), up = 10 * chance_uniform(c);
    double e0 = 300 * chance_uniform(c), n0 = 300 * chance_uniform(c);
    for (int i = 0; i < net->points; i++) {
        if (i > 3 && chance_uniform(c) > share) continue;
        double e = net->truth[i].e - 430, n = net->truth[i].n - 730;
        if (!new_row(s)) return;
        put_point(s, 0, i);
        put(s, 1, net->decimals, e0 + e * co - n * si + SD_PLACE * chance_normal(c));
        put(s, 2, net->decimals, n0 + e * si + n * co + SD_PLACE * chance_normal(c));
        put(s, 3, net->decimals, up + net->truth[i].h + SD_LEVEL * chance_normal(c));
        put(s, 4, 4, SD_PLACE);
        put(s, 5, 4, SD_LEVEL);
    }
}

static void add_satellites(network *net, const char *visit, double share, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_GNSS, visit, 6,
                         "point,latitude (deg),longitude (deg),height (m),sd plan (m),sd height (m)");
    for (int i = 0; i < net->points; i++) {
        if (i > 3 && chance_uniform(c) > share) continue;
        if (!new_row(s)) return;
        put_point(s, 0, i);
        put(s, 1, 11, (net->truth[i].n + 40 + SD_PLACE * chance_normal(c)) / RADIUS_PLANE_M / RADIAN);
        put(s, 2, 11, (net->truth[i].e - 90 + SD_PLACE * chance_normal(c)) / RADIUS_PLANE_M / RADIAN);
        put(s, 3, net->decimals, net->truth[i].h + 45 + SD_LEVEL * chance_normal(c));
        put(s, 4, 4, SD_PLACE);
        put(s, 5, 4, SD_LEVEL);
    }
}

static void add_legs(network *net, int neighbours, chance *c) {
    const mst_gear *gear = mst_gear_preset("motion-sensor");
    sheet *s = add_sheet(net, MST_PAGE_LEGS, "3", 6, "from,to,dx (m),dy (m),dz (m),time (s)");
    double turn = 2 * MST_PI * chance_uniform(c), co = cos(turn), si = sin(turn);
    for (int i = 0; i < net->points; i++)
        for (int k = 0; k < neighbours; k++) {
            int j = nearest(net, i, k);
            double e = net->truth[j].e - net->truth[i].e, n = net->truth[j].n - net->truth[i].n;
            double time = round(plan(net, i, j) / 1.7) + 1;
            double sd = hypot(gear->leg_m, gear->leg_rate * pow(time, gear->leg_power));
            if (!new_row(s)) return;
            put_point(s, 0, i);
            put_point(s, 1, j);
            put(s, 2, net->decimals, e * co - n * si + sd * chance_normal(c));
            put(s, 3, net->decimals, e * si + n * co + sd * chance_normal(c));
            put(s, 4, net->decimals,
                net->truth[j].h - net->truth[i].h + sd * gear->leg_height_ratio * chance_normal(c));
            put(s, 5, 0, time);
        }
}

static double distance_sd(const mst_gear *gear, double d) {
    return hypot(gear->distance_m, gear->distance_ppm * 1e-6 * d);
}

/* Each point from every side and both diagonals of the control points 0 to 3. */
static void add_offsets(network *net, chance *c) {
    static const int LINES[][2] = {{0, 1}, {1, 2}, {2, 3}, {3, 0}, {0, 2}, {1, 3}};
    const mst_gear *gear = mst_gear_preset("tape-and-square");
    sheet *s = add_sheet(net, MST_PAGE_OFFSETS, "1", 5, "from,to,chainage (m),offset (m),point");
    for (int line = 0; line < 6; line++)
        for (int i = 4; i < net->points; i++) {
            int from = LINES[line][0], to = LINES[line][1];
            double length = plan(net, from, to), e = net->truth[i].e - net->truth[from].e,
                   n = net->truth[i].n - net->truth[from].n;
            double u = (net->truth[to].e - net->truth[from].e) / length,
                   v = (net->truth[to].n - net->truth[from].n) / length;
            double along = e * u + n * v, aside = e * v - n * u;
            double sd = hypot(distance_sd(gear, along), gear->angle_rad * aside);
            if (!new_row(s)) return;
            put_point(s, 0, from);
            put_point(s, 1, to);
            put(s, 2, net->decimals, along + sd * chance_normal(c));
            put(s, 3, net->decimals, aside + distance_sd(gear, aside) * chance_normal(c));
            put_point(s, 4, i);
        }
}

static void add_bearings(network *net, int neighbours, chance *c) {
    sheet *s = add_sheet(net, MST_PAGE_BEARINGS, "2", 6, "from,to,bearing (deg),distance (m),sd (deg),sd distance (m)");
    double swing = 6 * chance_uniform(c) - 3;
    for (int i = 0; i < net->points; i++)
        for (int k = 0; k < neighbours; k++) {
            int j = nearest(net, i, k);
            if (!new_row(s)) return;
            put_point(s, 0, i);
            put_point(s, 1, j);
            put(s, 2, 6, turned(bearing(net, i, j) + swing * 0 + SD_BEARING * chance_normal(c)));
            put(s, 3, net->decimals, plan(net, i, j) + SD_TAPE * chance_normal(c));
            put(s, 4, 6, SD_BEARING);
            put(s, 5, 4, SD_TAPE);
        }
}

/* ---- what is known of the shape ---- */

static const double SD_SHAPE = 0.005;

/* A place so far along and so far to the right of the way from a to b. */
static place beside(const network *net, int a, int b, double from_b, double aside, double h) {
    double length = plan(net, a, b), u = (net->truth[b].e - net->truth[a].e) / length,
           v = (net->truth[b].n - net->truth[a].n) / length;
    return (place){net->truth[b].e + u * from_b + v * aside, net->truth[b].n + v * from_b - u * aside, h};
}

static bool all_apart(const network *net) {
    for (int i = 0; i < net->points; i++)
        for (int k = 0; k < i; k++)
            if (plan(net, i, k) < 2.5) return false;
    return true;
}

/* The true shape is as far off the conditions as their sd say: P2 is square at P1, P3 on the line P0-P1, P4-P5 parallel
 * to it, P6 3 m from P7, and P4 and P5 at one level. */
static void shape_truth(network *net, chance *c) {
    do {
        make_truth(net, c);
        net->truth[1].e = net->truth[0].e + 30;
        net->truth[2] = beside(net, 0, 1, SD_SHAPE * chance_normal(c), 20, 21);
        net->truth[3] = beside(net, 0, 1, -12, SD_SHAPE * chance_normal(c), 22);
        place p = beside(net, 0, 1, 0, 0, 0);
        double e = p.e - net->truth[0].e, n = p.n - net->truth[0].n, length = hypot(e, n),
               off = SD_SHAPE * chance_normal(c);
        net->truth[5] = (place){net->truth[4].e + e / length * 18 + n / length * off,
                                net->truth[4].n + n / length * 18 - e / length * off,
                                net->truth[4].h + SD_DIFFERENCE * chance_normal(c)};
        double turn = 2 * MST_PI * chance_uniform(c), side = 3 + SD_SHAPE * chance_normal(c);
        net->truth[7] = (place){net->truth[6].e + side * sin(turn), net->truth[6].n + side * cos(turn), 23};
    } while (!all_apart(net));
}

static void add_conditions(network *net) {
    static const char *const ROWS[][7] = {{"right angle", "P0", "P1", "P2", "", "", "0.005"},
                                          {"straight", "P0", "P3", "P1", "", "", "0.005"},
                                          {"parallel", "P0", "P1", "P4", "P5", "", "0.005"},
                                          {"length", "P6", "P7", "", "", "3.000", "0.005"},
                                          {"equal level", "P4", "P5", "", "", "", "0.003"}};
    sheet *s = add_sheet(net, MST_PAGE_CONDITIONS, "1", 7, "condition,first,second,third,fourth,value (m),sd (m)");
    for (int i = 0; i < 5 && new_row(s); i++)
        for (int k = 0; k < 7; k++) snprintf(s->cell[i][k], CELL_MAX, "%s", ROWS[i][k]);
}

/* ---- networks ---- */

static void square_control(network *net, chance *c) {
    static const double CORNER[][2] = {{0, 0}, {0, 60}, {60, 60}, {60, 0}};
    for (int i = 0; i < 4; i++) {
        net->truth[i].e = 400 + CORNER[i][0] + 3 * chance_uniform(c);
        net->truth[i].n = 700 + CORNER[i][1] + 3 * chance_uniform(c);
    }
}

static void add_readings(network *net, chance *c) {
    switch (net->kind) {
    case NETWORK_TAPES:
        add_control(net, 3, 0);
        add_tapes(net, 8, c);
        break;
    case NETWORK_SET_UPS:
        add_control(net, 2, 1);
        add_set_ups(net, 4, true, c);
        break;
    case NETWORK_TRIANGLES:
        add_control(net, 2, 0);
        add_set_ups(net, 7, false, c);
        break;
    case NETWORK_LEVELS:
        add_control(net, 0, 1);
        add_levels(net, 3, c);
        break;
    case NETWORK_DIFFERENCES:
        add_control(net, 0, 1);
        add_differences(net, 5, c);
        break;
    case NETWORK_VISITS:
        add_control(net, 2, 1);
        for (int i = 0; i < 4; i++) add_visit(net, (const char *[]){"1", "2", "3", "4"}[i], 0.8, c);
        break;
    case NETWORK_SATELLITES:
        add_control(net, 2, 1);
        for (int i = 0; i < 4; i++) add_satellites(net, (const char *[]){"1", "2", "3", "4"}[i], 0.8, c);
        break;
    case NETWORK_LEGS:
        add_control(net, 3, 1);
        add_legs(net, 4, c);
        break;
    case NETWORK_OFFSETS:
        square_control(net, c);
        add_control(net, 4, 0);
        add_offsets(net, c);
        break;
    case NETWORK_BEARINGS:
        add_control(net, 2, 0);
        add_bearings(net, 4, c);
        break;
    case NETWORK_CONDITIONS:
        add_control(net, 2, 1);
        add_conditions(net);
        add_tapes(net, 7, c);
        add_differences(net, 4, c);
        break;
    default:
        add_control(net, 2, 1);
        add_tapes(net, 4, c);
        add_set_ups(net, 2, true, c);
        add_visit(net, "2", 0.7, c);
        add_levels(net, 2, c);
        add_legs(net, 2, c);
        break;
    }
}

void network_make(network *net, network_kind kind, int decimals, chance *c) {
    net->kind = kind;
    net->decimals = decimals;
    net->sheet_count = 0;
    net->points = 8 + (int)chance_below(c, 7);
    if (kind == NETWORK_CONDITIONS) shape_truth(net, c);
    else make_truth(net, c);
    add_readings(net, c);
}

/* ---- a site ---- */

static void write_sheet(const sheet *s, mst_text *out) {
    mst_text_printf(out, "%s\n", s->header);
    for (int row = 0; row < s->rows; row++) {
        bool sight = s->kind == MST_PAGE_ANGLES, zenith = sight && s->cell[row][3][0];
        for (int k = 0; k < s->columns; k++) mst_text_printf(out, "%s%s", k ? "," : "", s->cell[row][k]);
        if (sight) mst_text_printf(out, zenith ? ",%.7f,1.5" : ",,", SD_CIRCLE);
        mst_text_string(out, "\n");
    }
}

static bool read_sheet(const sheet *s, mst_arena *arena, mst_page *page) {
    mst_text text = {0};
    mst_error error = {0};
    write_sheet(s, &text);
    mst_status status = text.failed
                            ? MST_NO_MEMORY
                            : mst_page_read(s->kind, s->name, text.data, text.length, NULL, arena, page, &error);
    if (status) fprintf(stderr, "%s:%d: %s\n", error.page, error.row, error.sentence);
    mst_text_free(&text);
    page->visit = s->visit;
    page->gear = "";
    return !status;
}

mst_site *network_site(const network *net, mst_arena *arena) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    if (!site) return NULL;
    site->arena = arena;
    site->pages = mst_arena_array(arena, (size_t)net->sheet_count, sizeof *site->pages);
    for (int i = 0; site->pages && i < net->sheet_count; i++)
        if (!read_sheet(&net->sheets[i], arena, &site->pages[i])) return NULL;
    site->page_count = (size_t)net->sheet_count;
    return site->pages ? site : NULL;
}

static bool to_plane(void *self, double latitude, double longitude, double height, mst_point3 *local) {
    (void)self;
    *local = (mst_point3){RADIUS_PLANE_M * longitude, RADIUS_PLANE_M * latitude, height};
    return true;
}

const mst_projector *network_projector(void) {
    static const mst_projector PLANE = {to_plane, NULL};
    return &PLANE;
}
