/* What stands around the works: services that they cross, trees that they come near, walls that hold ground up. */
#include "ground/model.h"
#include "works/cautions.h"
#include "works/compose.h"
#include <math.h>
#include <stdio.h>
#include <string.h>

static const double HIGH_M = 0.61; /* as cautions.c: 24 in (IRC R404.4) */
static const double STEMS = 12;    /* root protection radius over stem diameter (BS 5837:2012, county design guide) */
static const double MOST_ROOTS_M = 15; /* where BS 5837 caps it */
static const double LOOK_M = 6;        /* around a tree whose stem is not known: what a 500 mm stem asks for */
static const double CROSSED_M = 0.001;

typedef struct job {
    const mst_works *works;
    const mst_site *site;
    const mst_adjustment *adjustment;
    mst_arena *arena;
    mst_cautions *cautions;
    mst_error *error;
} job;

static mst_status say(const job *j, const char *sentence) {
    if (!sentence) return mst_fail(j->error, MST_NO_MEMORY, "Memory is short.");
    return mst_cautions_add(j->cautions, &sentence, 1, j->arena, j->error);
}

static bool has_word(const char *code, const char *const words[]) {
    char copy[120];
    snprintf(copy, sizeof copy, "%s", code ? code : "");
    for (char *at = copy; *at;) {
        size_t length = strcspn(at, " ,-/");
        for (int i = 0; words[i]; i++)
            if (strlen(words[i]) == length && strncmp(at, words[i], length) == 0) return true;
        at += length + (at[length] != 0);
    }
    return false;
}

static const char *element_name(const job *j, uint32_t owner) { return j->works->layouts[owner].element->name; }

/* ---- services ---- */

static double dug(const mst_works_level *l) {
    return l->owner == UINT32_MAX ? 0 : fmax(l->existing_m - l->formation_m, 0);
}

/* One sentence for each element that digs over the line. */
static mst_status say_service(const job *j, const mst_feature *f, const mst_section *s) {
    for (uint32_t e = 0; e < j->works->count; e++) {
        double length = 0, deepest = 0;
        for (size_t i = 0; i + 1 < s->count; i++) {
            const mst_section_point *p = &s->points[i], *q = p + 1;
            if (p->level.owner != e || q->level.owner != e || !(fmax(dug(&p->level), dug(&q->level)) > CROSSED_M))
                continue;
            length += q->chainage_m - p->chainage_m;
            deepest = fmax(deepest, fmax(dug(&p->level), dug(&q->level)));
        }
        if (!(length > CROSSED_M)) continue;
        mst_status status =
            say(j, mst_arena_printf(j->arena,
                                    "Service: '%s' digs over '%s' along %.2f m, up to %.2f m deep. It is "
                                    "where it was marked, at a depth that is not known: enquire, locate "
                                    "and dig trial holes by hand before any machine.",
                                    element_name(j, e), f->name, length, deepest));
        if (status) return status;
    }
    return MST_OK;
}

static mst_status look_at_service(const job *j, const mst_feature *f) {
    mst_shape shape;
    mst_section section;
    mst_error why = {0};
    if (mst_feature_shape(f, j->adjustment, j->arena, &shape, &why)) return MST_OK; /* it has no place yet */
    mst_status status = mst_works_section(j->works, &shape.paths[0], j->arena, &section, &why);
    if (status == MST_TOO_FEW) return MST_OK;
    return status ? mst_fail(j->error, status, "%s", why.sentence) : say_service(j, f, &section);
}

/* ---- trees ---- */

static double from_segment(const double a[2], const double b[2], const double p[2]) {
    double e = b[0] - a[0], n = b[1] - a[1], square = e * e + n * n;
    double t = square > 0 ? ((p[0] - a[0]) * e + (p[1] - a[1]) * n) / square : 0;
    t = fmin(fmax(t, 0), 1);
    return hypot(a[0] + t * e - p[0], a[1] + t * n - p[1]);
}

static double from_tile(const mst_tiling *t, uint32_t tile, const double p[2]) {
    double least = HUGE_VAL;
    bool inside = true;
    for (int c = 0; c < 3; c++) {
        const double *a = t->at[t->corners[tile][c]], *b = t->at[t->corners[tile][(c + 1) % 3]];
        inside &= mst_orient2d(a, b, p) >= 0;
        least = fmin(least, from_segment(a, b, p));
    }
    return inside ? 0 : least;
}

static mst_status say_tree(const job *j, const mst_feature *f, double roots, bool known, double near, uint32_t owner) {
    const char *stem = known ? ""
                             : mst_arena_printf(j->arena,
                                                " (its stem is not known: set stem.%.60s to its diameter; "
                                                "a stem of 500 mm is taken)",
                                                f->name);
    return say(j, mst_arena_printf(
                      j->arena,
                      "Tree: '%s' comes to %.2f m from '%s', whose root protection area has a radius of "
                      "%.2f m%s (12 x the stem at 1.5\xC2\xA0m, BS 5837:2012). No digging, filling or driving there "
                      "without an arborist; a protected tree needs consent.",
                      element_name(j, owner), near, f->name, roots, stem ? stem : ""));
}

static mst_status look_at_tree(const job *j, const mst_feature *f) {
    const mst_tiling *t = &j->works->tiling;
    const mst_adjusted_point *at = f->vertex_count ? mst_adjustment_point(j->adjustment, f->vertices[0].point) : NULL;
    char key[120];
    double stem = 0, near = HUGE_VAL;
    uint32_t owner = 0;
    if (!at || !at->has_plan) return MST_OK;
    snprintf(key, sizeof key, "stem.%.100s", f->name);
    const char *text = mst_site_setting(j->site, key, "");
    bool known = *text != 0;
    if (known && (mst_length_read(text, MST_UNIT_M, &stem, NULL) || !(stem > 0)))
        return mst_fail(j->error, MST_INVALID, "Setting %.60s is the stem's diameter, as 350mm, not '%.40s'.", key,
                        text);
    double roots = known ? fmin(STEMS * stem, MOST_ROOTS_M) : LOOK_M;
    double p[2] = {at->easting_m - t->origin[0], at->northing_m - t->origin[1]};
    mst_boxtree_walk walk =
        mst_boxtree_window(&t->tree, (mst_box){p[0] - roots, p[1] - roots, p[0] + roots, p[1] + roots});
    uint32_t i;
    while (t->count && mst_boxtree_next(&walk, &i)) {
        if (t->tiles[i].part == MST_PART_NONE) continue;
        double d = from_tile(t, i, p);
        if (d < near) near = d, owner = t->tiles[i].owner;
    }
    return near < roots ? say_tree(j, f, roots, known, near, owner) : MST_OK;
}

/* ---- walls ---- */

static double step_at(const mst_tiling *t, uint32_t tile, int c) {
    uint32_t other = t->neighbours[tile][c];
    double most = 0;
    for (int side = 1; other != MST_NOWHERE && side < 3; side++) {
        int own = (c + side) % 3, k = 0;
        while (k < 3 && t->corners[other][k] != t->corners[tile][own]) k++;
        if (k < 3)
            most = fmax(most, fabs(t->tiles[tile].level[MST_FINISH][own] - t->tiles[other].level[MST_FINISH][k]));
    }
    return most;
}

static mst_status look_at_wall(const job *j, const mst_layout *l) {
    const mst_tiling *t = &j->works->tiling;
    double highest = 0;
    for (uint32_t i = 0; i < t->count; i++)
        for (int c = 0; c < 3; c++)
            for (size_t k = 0; k + 1 < l->wall_count; k++)
                if (mst_tile_edge_on(t, i, c, l->wall[k], l->wall[k + 1])) highest = fmax(highest, step_at(t, i, c));
    if (highest < HIGH_M) return MST_OK;
    return say(
        j, mst_arena_printf(j->arena,
                            "Wall: '%s' holds back up to %.2f m, not counting what is buried. It must be designed: "
                            "US from 24 in of unbalanced soil (IRC R404.4), permit from 4 ft above the underside of "
                            "the footing (IRC R105.2); England: engineer or building notice commonly sought from "
                            "1.0 to 1.2\xC2\xA0m. Loads above it within its height count too. Ask the engineer and the "
                            "local authority.",
                            l->element->name, highest));
}

bool mst_site_has_surroundings(const mst_site *site) {
    for (size_t i = 0; i < site->feature_count; i++)
        if (mst_is_service(&site->features[i]) || mst_is_tree(&site->features[i])) return true;
    return false;
}

bool mst_is_service(const mst_feature *f) {
    static const char *const words[] = {"service", "water", "gas",   "electric", "electricity", "cable",
                                        "duct",    "sewer", "drain", "telecom",  "utility",     NULL};
    return f->kind == MST_FEATURE_LINE && has_word(f->code, words);
}

bool mst_is_tree(const mst_feature *f) {
    static const char *const words[] = {"tree", "trunk", NULL};
    return f->kind == MST_FEATURE_SPOT && has_word(f->code, words);
}

mst_status mst_cautions_of_surroundings(const mst_works *works, const mst_site *site, const mst_adjustment *adjustment,
                                        mst_arena *arena, mst_cautions *cautions, mst_error *error) {
    job j = {works, site, adjustment, arena, cautions, error};
    mst_status status = MST_OK;
    for (size_t i = 0; i < site->feature_count && !status; i++) {
        const mst_feature *f = &site->features[i];
        if (mst_is_service(f)) status = look_at_service(&j, f);
        else if (mst_is_tree(f)) status = look_at_tree(&j, f);
    }
    for (size_t i = 0; i < works->count && !status; i++)
        if (works->layouts[i].wall_count) status = look_at_wall(&j, &works->layouts[i]);
    return status;
}
