/* What the reader of a file must be told: what it does not carry, and what its numbers count from. */
#include "exchange/write.h"
#include <math.h>
#include <string.h>

typedef struct notes {
    mst_arena *arena;
    const char **items;
    size_t count, capacity;
    bool failed;
} notes;

static void add(notes *n, const char *sentence) {
    const char **at = !sentence || n->failed ? NULL : MST_PUSH(n->arena, n->items, n->count, n->capacity);
    if (at) *at = sentence;
    else n->failed = true;
}

static const char *a_few(const notes *n, const char *const names[], size_t count) {
    const char *list = "";
    size_t shown = count < 5 ? count : 5;
    for (size_t i = 0; list && i < shown; i++)
        list = mst_arena_printf(n->arena, "%s%s%s", list, i ? ", " : "", names[i]);
    return !list || shown == count ? list : mst_arena_printf(n->arena, "%s and %zu more", list, count - shown);
}

typedef bool left_out(const mst_adjusted_point *);
static bool no_plan(const mst_adjusted_point *p) { return !p->has_plan; }
static bool no_level(const mst_adjusted_point *p) { return p->has_plan && !p->has_height; }

static void add_points(notes *n, const mst_adjustment *a, left_out *which, const char *words) {
    const char *names[6];
    size_t count = 0;
    for (size_t i = 0; a && i < a->point_count; i++) {
        if (!which(&a->points[i])) continue;
        if (count < 5) names[count] = a->points[i].name;
        count++;
    }
    if (count) add(n, mst_arena_printf(n->arena, "%s: %s.", words, a_few(n, names, count)));
}

static void add_lost_features(notes *n, const mst_handover *from) {
    for (size_t i = 0; from->site && from->adjustment && i < from->site->feature_count; i++) {
        const mst_feature *f = &from->site->features[i];
        mst_shape shape;
        mst_error why = {0};
        if (f->kind == MST_FEATURE_SPOT || !mst_feature_shape(f, from->adjustment, n->arena, &shape, &why)) continue;
        add(n, mst_arena_printf(n->arena, "Feature %s is left out: %s", f->name, why.sentence));
    }
}

static void add_frame(notes *n, const mst_handover *from, mst_format format) {
    if (format == MST_FORMAT_GEOJSON && !mst_handover_is_geographic(from))
        add(n, "The coordinates are the site's own eastings and northings in metres, because the site does not know "
               "where on the earth it is; a map will put "
               "them in the wrong place.");
    if (format == MST_FORMAT_GPX || (format == MST_FORMAT_GEOJSON && mst_handover_is_geographic(from)))
        add(n, "Levels are not in the positions, as they do not count from the sea or the ellipsoid.");
    if ((format == MST_FORMAT_DXF || format == MST_FORMAT_LANDXML) && mst_is_imperial(from))
        add(n, "Lengths are in international feet, as the file states.");
}

mst_status mst_handover_notes(const mst_handover *from, mst_format format, mst_arena *arena, const char ***items,
                              size_t *count, mst_error *error) {
    notes n = {.arena = arena};
    bool plan = format != MST_FORMAT_LANDXML && format != MST_FORMAT_XLSX;
    add_frame(&n, from, format);
    if (plan) add_points(&n, from->adjustment, no_plan, "Points without a place are left out");
    if (format == MST_FORMAT_DXF)
        add_points(&n, from->adjustment, no_level, "Points without a level lie at level 0 on layer V-NODE-PLAN-E");
    if (plan && format != MST_FORMAT_CSV) add_lost_features(&n, from);
    if (format == MST_FORMAT_LANDXML) add(&n, "Only the ground is in the file: its points and triangles.");
    if (format == MST_FORMAT_XLSX && from->bill && from->bill->partial)
        add(&n, "The total is not whole: see the sheet Notes.");
    if (n.failed) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    *items = n.items;
    *count = n.count;
    return MST_OK;
}
