/* Cautions state the rule, its place and its source, and leave the judgement to people on site. The figures are
 * secondary copies or from memory, and the sentences say whom to ask. */
#include "works/cautions.h"
#include "ground/convex.h"
#include "ground/cover.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double DEEP_M = 1.2;      /* the custom in Britain, near the 4 ft at which US rules ask for a ladder */
static const double BATTER = 1.5;      /* along for one up: soil type C (29 CFR 1926 subpart P app B, secondary copy) */
static const double HIGH_M = 0.61;     /* 24 in of soil: walls that hold more are designed (IRC R404.4) */
static const double OVERLAP_M2 = 0.01; /* outlines that share an edge meet to within this */

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

static bool keep(mst_cautions *c, mst_arena *arena, const char *sentence) {
    const char **item = sentence ? MST_PUSH(arena, c->items, c->count, c->capacity) : NULL;
    if (item) *item = sentence;
    return item != NULL;
}

static bool say_depth(const mst_element *e, double depth, mst_arena *arena, mst_cautions *c) {
    return keep(
        c, arena,
        mst_arena_printf(arena,
                         "Excavation: '%s' is dug up to %.2f m deep. People die in shallow digs. Britain: no "
                         "depth is exempt by law, 1.2\xC2\xA0m is only a "
                         "custom (CDM 2015 reg 22); US: protection from 5 ft (1.52\xC2\xA0m), or less where the "
                         "ground warns, and a ladder from 4 ft (29 CFR "
                         "1926 subpart P). A competent person judges the ground and inspects before each "
                         "shift; local code and licensed practice come first. Cut back as for soil type C, 1.5 along "
                         "for 1 up (29 CFR 1926 subpart P app B), each side opens by %.1f m more: see "
                         "what stands there, and price it.",
                         e->name, depth, BATTER * depth));
}

static bool say_height(const mst_element *e, double height, mst_arena *arena, mst_cautions *c) {
    return keep(c, arena,
                mst_arena_printf(arena,
                                 "Fill: '%s' is filled up to %.2f m high. What holds or retains it must be designed: "
                                 "US from 24 in of unbalanced soil (IRC R404.4), "
                                 "permit from 4 ft above the underside of the footing (IRC R105.2); England: engineer "
                                 "or building notice commonly sought from 1.0 to "
                                 "1.2\xC2\xA0m. Ask the engineer and the local authority.",
                                 e->name, height));
}

/* Once for each soil is enough. */
static bool said_already(const mst_cautions *c, const char *soil) {
    char start[120];
    snprintf(start, sizeof start, "': %.90s, ", soil);
    for (size_t i = 0; i < c->count; i++)
        if (strncmp(c->items[i], "Soil of '", 9) == 0 && strstr(c->items[i], start)) return true;
    return false;
}

/* A wall has no area, and a bank may have none to make. */
static bool should_move_earth(const mst_element *e) { return e->kind != MST_WORK_WALL && e->kind != MST_WORK_BANK; }

mst_status mst_cautions_of_element(const mst_element *e, const mst_site *site, const mst_prism_sum *sum,
                                   mst_arena *arena, mst_cautions *c, mst_error *error) {
    mst_soil soil;
    double depth = fmax(sum->highest_m, 0) + e->strip_m, height = fmax(-sum->lowest_m, 0);
    mst_status status = mst_soil_of(site, e->soil, &soil, error);
    if (status) return status;
    bool room = true;
    if (sum->highest_m > 0 && depth >= DEEP_M) room = say_depth(e, depth, arena, c);
    if (room && height >= HIGH_M) room = say_height(e, height, arena, c);
    if (room && sum->uncovered_m2 > OVERLAP_M2)
        room = keep(c, arena,
                    mst_arena_printf(arena, "%.2f m2 of '%s' have no measured ground; their volume is not counted.",
                                     sum->uncovered_m2, e->name));
    if (room && !(sum->area_m2 > 0) && !(sum->uncovered_m2 > OVERLAP_M2) && should_move_earth(e))
        room =
            keep(c, arena,
                 mst_arena_printf(arena,
                                  "'%s' moves no earth: it lies off the survey, within the ground, above it or under "
                                  "what comes later; check its level and its place.",
                                  e->name));
    if (room && (sum->cut_m3 > 0 || sum->fill_m3 > 0) && !said_already(c, soil.name))
        room = keep(c, arena,
                    mst_arena_printf(
                        arena,
                        "Soil of '%s': %s, %.2f loose and %.2f compacted per 1 in the bank (%s). Sources differ by a "
                        "factor of two; a trial load from this site is better.",
                        e->name, soil.name, soil.loose, soil.compacted, soil.source));
    return room ? MST_OK : no_memory(error);
}

static mst_convex triangle_of(const mst_cover *c, size_t i, const double origin[2]) {
    const double *const corner[3] = {c->at[c->triangles[i][0]], c->at[c->triangles[i][1]], c->at[c->triangles[i][2]]};
    return mst_convex_triangle(corner, origin);
}

static double overlap(const mst_cover *a, const mst_cover *b) {
    const double none[MST_CONVEX_MOST] = {0};
    double area = 0;
    for (size_t i = 0; i < a->count; i++) {
        const double *origin = a->at[a->triangles[i][0]];
        mst_convex p = triangle_of(a, i, origin), common;
        for (size_t k = 0; k < b->count; k++) {
            mst_convex q = triangle_of(b, k, origin);
            if (mst_convex_cut(&p, &q, &common)) area += mst_convex_part(&common, none).area;
        }
    }
    return area;
}

mst_status mst_cautions_of_overlaps(const mst_element elements[], const mst_shape shapes[], size_t count,
                                    mst_arena *arena, mst_cautions *c, bool *any, mst_error *error) {
    mst_cover *covers = mst_arena_array(arena, count + 1, sizeof *covers);
    if (!covers) return no_memory(error);
    *any = false;
    for (size_t i = 0; i < count; i++) {
        if (shapes[i].count == 0) continue;
        mst_status status = mst_cover_shape(&shapes[i], arena, &covers[i], error);
        if (status) return status;
        for (size_t k = 0; k < i; k++) {
            double area = overlap(&covers[k], &covers[i]);
            *any |= area > OVERLAP_M2;
            if (area > OVERLAP_M2 &&
                !keep(c, arena,
                      mst_arena_printf(arena, "'%s' and '%s' overlap by %.2f m2; there the later one, '%s', counts.",
                                       elements[k].name, elements[i].name, area, elements[i].name)))
                return no_memory(error);
        }
    }
    return MST_OK;
}

mst_status mst_cautions_add(mst_cautions *c, const char *const sentences[], size_t count, mst_arena *arena,
                            mst_error *error) {
    for (size_t i = 0; i < count; i++)
        if (!keep(c, arena, sentences[i])) return no_memory(error);
    return MST_OK;
}

mst_status mst_caution_services(mst_arena *arena, mst_cautions *c, mst_error *error) {
    bool said = keep(
        c, arena,
        "Before any digging: find the buried services (enquiry, plans, locator, trial holes by hand). Marks and plans "
        "are approximate in plan and say nothing reliable about depth; a marked line is never proved.");
    return said ? MST_OK : no_memory(error);
}
