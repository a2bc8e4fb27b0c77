/* An invented garden as a plan made by hand: no survey, no ground model, so that the page can be tested alone. */
#include "drawing/surface.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct garden {
    mst_arena *arena;
    mst_plan plan;
    mst_sheet_text text;
    mst_drawing_options options;
} garden;

/* The ground: rises to the north with a soft swell. */
static double garden_level(mst_point p) {
    return 12 + 0.045 * p.northing_m + 0.25 * sin(p.easting_m / 9) + 0.004 * p.easting_m;
}

static void *some(garden *g, size_t count, size_t size) {
    void *p = mst_arena_array(g->arena, count, size);
    if (!p) abort();
    return p;
}

static mst_plan_point *garden_point(garden *g, const char *name, double e, double n) {
    mst_plan_point *p = MST_PUSH(g->arena, g->plan.points, g->plan.point_count, g->plan.point_capacity);
    mst_point at = {e, n};
    *p = (mst_plan_point){.name = mst_arena_string(g->arena, name),
                          .at = at,
                          .level_m = garden_level(at),
                          .sd_level_m = 0.006,
                          .semi_major_m = 0.012,
                          .semi_minor_m = 0.007,
                          .ellipse_bearing_rad = 0.6};
    return p;
}

/* @param v [count][3] easting, northing, bulge */
static void garden_feature(garden *g, const char *name, const char *code, mst_feature_kind kind, const double (*v)[3],
                           size_t count) {
    mst_plan_feature *f = MST_PUSH(g->arena, g->plan.features, g->plan.feature_count, g->plan.feature_capacity);
    mst_path *path = some(g, 1, sizeof *path);
    *path = (mst_path){some(g, count, sizeof(mst_path_vertex)), count, kind == MST_FEATURE_AREA};
    for (size_t i = 0; i < count; i++)
        path->vertices[i] = (mst_path_vertex){v[i][0], v[i][1], garden_level((mst_point){v[i][0], v[i][1]}), v[i][2]};
    *f = (mst_plan_feature){name, mst_style_for(code, kind, MST_ROLE_DEFAULT), kind, {path, 1}};
}

static bool garden_cut(const void *self, mst_point at, double *cut_m) {
    const mst_plan_pad *pad = self;
    const mst_plane *f = &pad->finish;
    double finish = f->level_m + f->slope_e * (at.easting_m - f->e0_m) + f->slope_n * (at.northing_m - f->n0_m);
    *cut_m = garden_level(at) - 0.15 - (finish - pad->build_up_m);
    return true;
}

static void garden_pad(garden *g, const char *name, size_t feature, mst_plane finish) {
    mst_plan_pad *p = MST_PUSH(g->arena, g->plan.pads, g->plan.pad_count, g->plan.pad_capacity);
    *p = (mst_plan_pad){.name = name,
                        .shape = g->plan.features[feature].shape,
                        .has_level = true,
                        .finish = finish,
                        .build_up_m = 0.165,
                        .cut_at = garden_cut};
    mst_plan_pad *self = some(g, 1, sizeof *self);
    *self = *p;
    p->self = self;
}

static void garden_contours(garden *g, double step, double from, double to, double e0, double e1, double n0,
                            double n1) {
    size_t levels = (size_t)((to - from) / step) + 1;
    g->plan.contours = some(g, levels, sizeof *g->plan.contours);
    g->plan.contour_interval_m = step;
    for (size_t i = 0; i < levels; i++) {
        double level = from + step * (double)i;
        mst_point *points = some(g, 200, sizeof *points);
        size_t count = 0;
        for (int k = 0; k < 200; k++) {
            double e = e0 + (e1 - e0) * k / 199, n = (level - 12 - 0.25 * sin(e / 9) - 0.004 * e) / 0.045;
            if (n >= n0 && n <= n1) points[count++] = (mst_point){e, n};
        }
        if (count > 1)
            g->plan.contours[g->plan.contour_count++] =
                (mst_plan_contour){level, false, llround(level / step) % 5 == 0, true, points, count};
    }
}

#define FEATURE(g, name, code, kind, ...)                                                                              \
    garden_feature(g, name, code, kind, (const double[][3])__VA_ARGS__,                                                \
                   sizeof((const double[][3])__VA_ARGS__) / sizeof(double[3]))

static void garden_features(garden *g) {
    FEATURE(g, "House", "building", MST_FEATURE_AREA,
            {{14, 22, 0}, {25.2, 22, 0}, {25.2, 25.5, 0}, {29, 25.5, 0}, {29, 31.4, 0}, {14, 31.4, 0}});
    FEATURE(g, "Shed", "shed", MST_FEATURE_AREA, {{33.5, 6, 0}, {36.5, 6, 0}, {36.5, 8.4, 0}, {33.5, 8.4, 0}});
    FEATURE(g, "Terrace", "terrace", MST_FEATURE_AREA,
            {{14, 22, 0}, {14, 18, 0}, {17, 16, 0.4142135624}, {23, 16, 0}, {25.2, 18, 0}, {25.2, 22, 0}});
    FEATURE(g, "Drive", "drive gravel", MST_FEATURE_AREA, {{31, 21, 0}, {37.5, 21, 0}, {37.5, 33.8, 0}, {31, 33.8, 0}});
    FEATURE(g, "Bed", "planting bed", MST_FEATURE_AREA, {{4, 4, 0}, {11, 3.4, 0.3}, {10.5, 8.5, 0}, {4.4, 8.8, 0}});
    FEATURE(g, "Pond", "pond", MST_FEATURE_AREA, {{21, 8, 1}, {27, 8, 1}});
    FEATURE(g, "Fence east", "fence timber", MST_FEATURE_LINE, {{38.4, 2.6, 0}, {38.4, 34, 0}});
    FEATURE(g, "South hedge", "hedge", MST_FEATURE_LINE, {{1.8, 2.2, 0}, {20, 1.8, 0}, {38.4, 2.6, 0}});
    FEATURE(g, "West line", "line of occupation", MST_FEATURE_LINE, {{1.8, 2.2, 0}, {1.2, 18, 0}, {1.6, 34, 0}});
    FEATURE(g, "North wall", "wall brick", MST_FEATURE_LINE, {{1.6, 34, 0}, {30, 34.2, 0}});
    FEATURE(g, "Foul drain", "drain foul", MST_FEATURE_LINE,
            {{12.6, 33, 0}, {12.4, 20.4, 0}, {30, 13.4, 0}, {38, 12.4, 0}});
    FEATURE(g, "Gas", "gas service", MST_FEATURE_LINE, {{30, 33.6, 0}, {29.6, 24, 0}, {26.5, 24, 0}});
    FEATURE(g, "Swale", "swale", MST_FEATURE_LINE, {{3, 15, 0}, {8, 12, -0.25}, {16, 10.5, 0}});
    FEATURE(g, "Path", "path", MST_FEATURE_AREA, {{25.2, 18.6, 0}, {31, 21.4, 0}, {31, 22.8, 0}, {25.2, 20, 0}});
    FEATURE(g, "T1", "tree oak", MST_FEATURE_SPOT, {{6.4, 27, 0}});
    FEATURE(g, "T2", "tree birch", MST_FEATURE_SPOT, {{32.6, 14.5, 0}});
    FEATURE(g, "IC1", "manhole", MST_FEATURE_SPOT, {{12.4, 20.4, 0}});
    FEATURE(g, "Back door", "threshold", MST_FEATURE_SPOT, {{19.6, 22, 0}});
}

static void garden_points(garden *g, size_t spots) {
    char name[32];
    uint32_t seed = 12345;
    garden_point(g, "C1", 3, 32)->held = true;
    garden_point(g, "C2", 30.4, 4.4)->held = true;
    for (size_t i = 0; i < 6; i++) { /* on the house and the terrace */
        const mst_path_vertex *v = &g->plan.features[0].shape.paths[0].vertices[i],
                              *t = &g->plan.features[2].shape.paths[0].vertices[i];
        snprintf(name, sizeof name, "H%zu", i + 1);
        garden_point(g, name, v->easting_m, v->northing_m)->hard = true;
        if (i == 0 || i == 5) continue; /* the terrace meets the house there */
        snprintf(name, sizeof name, "P%zu", i + 1);
        mst_plan_point *p = garden_point(g, name, t->easting_m, t->northing_m);
        p->hard = true;
        p->sd_level_m = 0.003;
    }
    mst_plan_point *door = garden_point(g, "FFL", 19.6, 22);
    door->hard = door->key = door->marked = true;
    door->level_m = 13.455;
    door->sd_level_m = 0.002;
    for (size_t i = 0; i < spots; i++) {
        seed = seed * 1664525u + 1013904223u;
        double e = 2.5 + 35 * (seed >> 16) / 65536.0;
        seed = seed * 1664525u + 1013904223u;
        double n = 3.2 + 30 * (seed >> 16) / 65536.0;
        snprintf(name, sizeof name, "A%zu", i + 1);
        if (e > 14 && e < 29 && n > 22 && n < 31.4) n -= 14; /* not inside the house */
        garden_point(g, name, e, n)->unproven = i % 11 == 3;
    }
}

static void garden_stakes(garden *g) {
    static const mst_plan_stake stakes[] = {{"S1", {14, 18}, 12.86, 0.1},
                                            {"S2", {17, 16}, 12.86, NAN},
                                            {"S3", {23, 16}, 12.86, NAN},
                                            {"S4", {25.2, 18}, 12.86, NAN},
                                            {"S5", {31, 21}, NAN, NAN}};
    g->plan.stakes = some(g, 5, sizeof stakes[0]);
    memcpy(g->plan.stakes, stakes, sizeof stakes);
    g->plan.stake_count = 5;
}

static void garden_notes(garden *g) {
    static const mst_plan_note notes[] = {
        {"Cautions", "Services: approximate, unproven until dug by hand; ask their owners before any digging. "
                     "Excavations: a competent person "
                     "decides on support, batters and access under local rules. Verify levels and dimensions on site "
                     "before ordering or "
                     "building. Lines of occupation are as seen, not legal boundaries."},
        {"Datum", "Levels count from C1, the head of the nail in the west gatepost, held at 13.500 m. Local datum, not "
                  "sea level."},
        {"Coordinates",
         "Eastings and northings of the site's own grid in metres, at ground scale; the arrow shows site north."},
        {"Units", "Metres. Levels to 2 decimals, 3 on built surfaces known to 5 mm, 1 where known worse than 50 mm. R "
                  "= radius. Do not "
                  "scale: use figured dimensions. Very short edges are not figured."},
        {"Survey", "64 points from 212 readings; visits: 2031-03-04, 2031-03-19. Gear: tape 30 m, builder's level, "
                   "phone legs. Standard "
                   "deviation of a usual point: plan 12 mm, level 6 mm. With 88 checks the readings agree as well as "
                   "the gear should allow. "
                   "6 points rest on one reading each (hollow marks)."},
        {"Not surveyed", "What is not drawn was not measured."},
        {"Earthworks", "Cut 21.4 m\xC2\xB3 (19.0 to 23.8). Fill 6.2 m\xC2\xB3 (5.1 to 7.3). In the ground (bank), to "
                       "formation, intervals at 95 %."}};
    g->plan.notes = some(g, 7, sizeof notes[0]);
    memcpy(g->plan.notes, notes, sizeof notes);
    g->plan.note_count = 7;
}

static garden garden_new(size_t spots) {
    garden g = {.arena = mst_arena_new()};
    g.plan.origin = (mst_point){500, 900};
    g.plan.sd_plan_m = 0.012;
    garden_features(&g);
    garden_points(&g, spots);
    garden_pad(&g, "Terrace", 2, (mst_plane){0, 0, 12.86, 0, 0});
    garden_pad(&g, "Drive", 3, (mst_plane){31, 33.8, 13.35, -1.0 / 120, 1.0 / 60});
    garden_contours(&g, 0.1, 11.9, 14.5, 1, 38.6, 2, 34.2);
    garden_stakes(&g);
    garden_notes(&g);
    g.text = (mst_sheet_text){.title = "Garden levels",
                              .supplement = "14 Larch Row",
                              .number = "0412-GR-02",
                              .revision = "B",
                              .revision_note = "terrace lowered 60 mm",
                              .date = "2031-03-21",
                              .status = "FOR PRICING",
                              .owner = "Example Groundworks",
                              .creator = "A. Maker",
                              .approved = "B. Checker",
                              .client = "C. Client",
                              .sheet = 2,
                              .sheets = 5};
    g.options = (mst_drawing_options){.paper = "A3"};
    return g;
}

static mst_status garden_layout(garden *g, mst_pen *pen, mst_layout *layout, mst_error *error) {
    mst_layout_request r = {&g->plan, &g->text, &g->options, mst_paper_named(g->options.paper), "Grading plan"};
    return mst_layout_make(&r, pen, g->arena, layout, error);
}
