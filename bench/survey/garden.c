#include "garden.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double SPACING = 7, UNEVEN = 3, DEGREE = MST_PI / 180, SD_TAPE = 0.006, SD_SLOPE = 0.003,
                    SD_CIRCLE = 20.0 / 3600, SD_STAFF = 0.0015, SD_PLACE = 0.012, SD_LEVEL = 0.015,
                    SD_BEARING = 1.0 / 60;
static const double EARTH_M = 6371000, REFRACTION = 0.13, RADIUS_PLANE_M = 6.4e6;
enum { CONTROL, ANGLES, TAPE, LEVELS, HEIGHTS, POINTS, LEGS, BEARINGS, OFFSETS, GNSS, CONDITIONS };

typedef struct field {
    garden *out;
    size_t side, count;
    double *e, *n, *h;
    uint64_t state;
    size_t tapes, mistakes;
} field;

static double uniform(field *f) { /* xorshift64* */
    f->state ^= f->state >> 12;
    f->state ^= f->state << 25;
    f->state ^= f->state >> 27;
    return ((double)((f->state * 2685821657736338717u) >> 11) + 0.5) / 9007199254740992.0;
}
static double off(field *f, double sd) { return sd * sqrt(-2 * log(uniform(f))) * cos(2 * MST_PI * uniform(f)); }
static double plan(const field *f, size_t a, size_t b) { return hypot(f->e[b] - f->e[a], f->n[b] - f->n[a]); }
static double bearing(const field *f, size_t a, size_t b) {
    double d = atan2(f->e[b] - f->e[a], f->n[b] - f->n[a]) / DEGREE;
    return d < 0 ? d + 360 : d;
}
static double turned(double degrees) { return degrees - 360 * floor(degrees / 360); }
static size_t at(const field *f, size_t i, size_t j) { return i * f->side + j; }

static mst_text *page(field *f, int which, mst_page_kind kind, const char *name, const char *visit,
                      const char *header) {
    garden_page *p = &f->out->pages[which];
    *p = (garden_page){kind, name, visit, {0}};
    mst_text_printf(&p->text, "%s\n", header);
    return &p->text;
}

/* Every fourth point along every third row is a station; it sees what lies up to two points away. */
static void sight(field *f) {
    mst_text *t = page(f, ANGLES, MST_PAGE_ANGLES, "angles.csv", "1",
                       "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height (m),sd "
                       "circle (deg),sd zenith (deg),sd distance (m)");
    for (size_t i = 1; i < f->side; i += 3)
        for (size_t j = 1; j < f->side; j += 4) {
            size_t from = at(f, i, j);
            double zero = 360 * uniform(f);
            for (size_t a = i < 3 ? 0 : i - 3; a <= i + 3 && a < f->side; a++)
                for (size_t b = j < 4 ? 0 : j - 4; b <= j + 4 && b < f->side; b++) {
                    size_t to = at(f, a, b);
                    bool station = a % 3 == 1 && b % 4 == 1,
                         near = labs((long)a - (long)i) < 3 && labs((long)b - (long)j) < 3;
                    if (to == from || !(station || near)) continue;
                    double d = plan(f, from, to), rise = f->h[to] + 1.3 - f->h[from] - 1.5;
                    mst_text_printf(t, "P%zu,P%zu,%.5f,%.5f,%.4f,1.500,1.300,%.5f,%.5f,%.4f\n", from, to,
                                    turned(bearing(f, from, to) - zero + off(f, SD_CIRCLE)),
                                    atan2(d, rise - (1 - REFRACTION) * d * d / (2 * EARTH_M)) / DEGREE +
                                        off(f, SD_CIRCLE),
                                    hypot(d, rise) + off(f, SD_SLOPE), SD_CIRCLE, SD_CIRCLE, SD_SLOPE);
                }
        }
}

static void tie(field *f) {
    mst_text *t = page(f, TAPE, MST_PAGE_TAPE, "tape.csv", "1", "from,to,distance (m),sd (m)");
    mst_text *h = page(f, HEIGHTS, MST_PAGE_HEIGHTS, "heights.csv", "1", "from,to,difference (m),sd (m)");
    mst_text *b = page(f, BEARINGS, MST_PAGE_BEARINGS, "bearings.csv", "2",
                       "from,to,bearing (deg),distance (m),sd (deg),sd distance (m)");
    for (size_t i = 0; i + 1 < f->side; i++)
        for (size_t j = 0; j + 1 < f->side; j++) {
            size_t from = at(f, i, j), to = at(f, i + 1, j + (i + j) % 2);
            if ((i + j) % 2) {
                double metre_off = f->tapes++ % 29 == 11 && f->mistakes > 0 ? 1 : 0;
                f->mistakes -= metre_off > 0;
                mst_text_printf(t, "P%zu,P%zu,%.3f,%.4f\n", from, to, plan(f, from, to) + metre_off + off(f, SD_TAPE),
                                SD_TAPE);
            }
            if (j % 5 == 2)
                mst_text_printf(h, "P%zu,P%zu,%.4f,%.4f\n", from, to, f->h[to] - f->h[from] + off(f, 0.003), 0.003);
            if (i % 5 == 1 && j % 2)
                mst_text_printf(b, "P%zu,P%zu,%.4f,%.3f,%.4f,%.4f\n", from, to,
                                turned(bearing(f, from, to) + off(f, SD_BEARING)), plan(f, from, to) + off(f, SD_TAPE),
                                SD_BEARING, SD_TAPE);
        }
}

/* A level is carried along every fifth row and back along the next, a sight aside from each set-up out. */
static void carry_level(field *f) {
    mst_text *t =
        page(f, LEVELS, MST_PAGE_LEVELS, "levels.csv", "1", "point,backsight (m),intermediate (m),foresight (m)");
    for (size_t i = 0; i + 1 < f->side; i += 5) {
        double sight = 0; /* level of the line of sight */
        for (size_t k = 0; k <= 2 * f->side; k++) {
            bool last = k == 2 * f->side;
            size_t here = last ? at(f, i, 0) : k < f->side ? at(f, i, k) : at(f, i + 1, 2 * f->side - 1 - k);
            double foresight = sight - f->h[here] + off(f, SD_STAFF);
            sight = f->h[here] + 2.5 + uniform(f);
            double backsight = sight - f->h[here] + off(f, SD_STAFF);
            if (k == 0) mst_text_printf(t, "P%zu,%.4f,,\n", here, backsight);
            else if (last) mst_text_printf(t, "P%zu,,,%.4f\n", here, foresight);
            else mst_text_printf(t, "P%zu,%.4f,,%.4f\n", here, backsight, foresight);
            size_t aside = at(f, i + 1, k % f->side);
            if (k < f->side) mst_text_printf(t, "P%zu,,%.4f,\n", aside, sight - f->h[aside] + off(f, SD_STAFF));
        }
    }
}

static void visit_again(field *f) {
    mst_text *t = page(f, POINTS, MST_PAGE_POINTS, "rover.csv", "3",
                       "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)");
    mst_text *s = page(f, GNSS, MST_PAGE_GNSS, "gnss.csv", "4",
                       "point,latitude (deg),longitude (deg),height (m),sd plan (m),sd height (m)");
    double turn = 0.7, c = cos(turn), q = sin(turn);
    for (size_t p = 0; p < f->count; p++) {
        double e = f->e[p] - f->e[0], n = f->n[p] - f->n[0];
        if (p % 3 == 0)
            mst_text_printf(t, "P%zu,%.3f,%.3f,%.3f,%.4f,%.4f\n", p, 100 + e * c - n * q + off(f, SD_PLACE),
                            200 + e * q + n * c + off(f, SD_PLACE), 7 + f->h[p] + off(f, SD_LEVEL), SD_PLACE, SD_LEVEL);
        if (p % 7 == 0)
            mst_text_printf(s, "P%zu,%.10f,%.10f,%.3f,%.4f,%.4f\n", p,
                            (f->n[p] + 40 + off(f, SD_PLACE)) / RADIUS_PLANE_M / DEGREE,
                            (f->e[p] - 90 + off(f, SD_PLACE)) / RADIUS_PLANE_M / DEGREE,
                            f->h[p] + 45 + off(f, SD_LEVEL), SD_PLACE, SD_LEVEL);
    }
}

static void walk(field *f) {
    const mst_gear *gear = mst_gear_preset("motion-sensor");
    mst_text *t = page(f, LEGS, MST_PAGE_LEGS, "legs.csv", "5", "from,to,dx (m),dy (m),dz (m),time (s)");
    double turn = 2.1, c = cos(turn), q = sin(turn);
    for (size_t i = 0; i < f->side; i += 4)
        for (size_t k = 0; k + 1 < f->side; k++) {
            size_t from = at(f, i, k), to = at(f, i, k + 1);
            double e = f->e[to] - f->e[from], n = f->n[to] - f->n[from], time = round(plan(f, from, to) / 1.7) + 1;
            double sd = hypot(gear->leg_m, gear->leg_rate * pow(time, gear->leg_power));
            mst_text_printf(t, "P%zu,P%zu,%.3f,%.3f,%.3f,%.0f\n", from, to, e * c - n * q + off(f, sd),
                            e * q + n * c + off(f, sd), f->h[to] - f->h[from] + off(f, sd * gear->leg_height_ratio),
                            time);
        }
}

static void offset_and_know(field *f) {
    const mst_gear *gear = mst_gear_preset("tape-and-square");
    mst_text *t = page(f, OFFSETS, MST_PAGE_OFFSETS, "offsets.csv", "1", "from,to,chainage (m),offset (m),point");
    mst_text *k = page(f, CONDITIONS, MST_PAGE_CONDITIONS, "conditions.csv", "1",
                       "condition,first,second,third,fourth,value (m),sd (m)");
    for (size_t i = 0; i + 2 < f->side; i += 4)
        for (size_t j = 0; j + 2 < f->side; j += 2) {
            size_t from = at(f, i, j), to = at(f, i + 2, j), p = at(f, i + 1, j + 1);
            double length = plan(f, from, to), u = (f->e[to] - f->e[from]) / length,
                   v = (f->n[to] - f->n[from]) / length;
            double e = f->e[p] - f->e[from], n = f->n[p] - f->n[from], along = e * u + n * v, aside = e * v - n * u;
            double sd = hypot(gear->distance_m, gear->distance_ppm * 1e-6 * fabs(along));
            mst_text_printf(t, "P%zu,P%zu,%.3f,%.3f,P%zu\n", from, to,
                            along + off(f, hypot(sd, gear->angle_rad * aside)), aside + off(f, sd), p);
            if (j % 4 == 0)
                mst_text_printf(k, "length,P%zu,P%zu,,,%.4f,0.004\n", from, p, plan(f, from, p) + off(f, 0.004));
        }
}

static void hold(field *f) {
    mst_text *t =
        page(f, CONTROL, MST_PAGE_CONTROL, "control.csv", "1", "point,easting (m),northing (m),elevation (m)");
    size_t held[] = {0, f->side - 1, f->count - 1};
    for (int k = 0; k < 3; k++)
        mst_text_printf(t, "P%zu,%.5f,%.5f,%.5f\n", held[k], f->e[held[k]], f->n[held[k]], f->h[held[k]]);
}

garden garden_make(size_t points, size_t mistakes) {
    garden g = {0};
    field f = {.out = &g, .side = (size_t)ceil(sqrt((double)points)), .state = 4, .mistakes = mistakes};
    f.count = g.points = f.side * f.side;
    f.e = malloc(f.count * sizeof *f.e);
    f.n = malloc(f.count * sizeof *f.n);
    f.h = malloc(f.count * sizeof *f.h);
    for (size_t p = 0; p < f.count; p++) {
        f.e[p] = 400 + SPACING * (double)(p / f.side) + UNEVEN * uniform(&f);
        f.n[p] = 700 + SPACING * (double)(p % f.side) + UNEVEN * uniform(&f);
        f.h[p] = 20 + 0.002 * (f.e[p] - 400) + 2 * uniform(&f);
    }
    hold(&f);
    sight(&f);
    tie(&f);
    carry_level(&f);
    visit_again(&f);
    walk(&f);
    offset_and_know(&f);
    free(f.e);
    free(f.n);
    free(f.h);
    return g;
}

void garden_free(garden *g) {
    for (int i = 0; i < GARDEN_PAGES; i++) mst_text_free(&g->pages[i].text);
}

mst_site *garden_site(const garden *g, mst_arena *arena) {
    mst_site *site = mst_arena_alloc(arena, sizeof *site);
    site->arena = arena;
    site->pages = mst_arena_array(arena, GARDEN_PAGES, sizeof *site->pages);
    site->page_count = GARDEN_PAGES;
    for (int i = 0; i < GARDEN_PAGES; i++) {
        const garden_page *p = &g->pages[i];
        mst_error error = {0};
        if (mst_page_read(p->kind, p->name, p->text.data, p->text.length, NULL, arena, &site->pages[i], &error)) {
            fprintf(stderr, "%s:%d: %s\n", error.page, error.row, error.sentence);
            return NULL;
        }
        site->pages[i].visit = p->visit;
        site->pages[i].gear = "";
    }
    return site;
}

static bool project(void *self, double latitude, double longitude, double height, mst_point3 *local) {
    (void)self;
    *local = (mst_point3){longitude * RADIUS_PLANE_M, latitude * RADIUS_PLANE_M, height};
    return true;
}

const mst_projector *garden_projector(void) {
    static const mst_projector PROJECTOR = {project, NULL};
    return &PROJECTOR;
}
