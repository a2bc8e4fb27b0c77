/* What each kind of element has of its own. */
#include "works/element_values.h"
#include <math.h>
#include <string.h>

static const double DEEPEST_M = 20;  /* beyond this a depth is a slip in the unit */
static const double RISER_M = 0.150; /* the highest riser where none is said; common practice out of doors, no source */
static const double SLIVER_M2 = 1e-9; /* a triangle of less on its back is one of rounding */
enum {
    MOST_RISERS = 500,
    MOST_TRIANGLES = 120000
}; /* a surface of more is put into the ground too slowly to work with */

/* ---- names and keys ---- */

#define COMMON "name", "kind", "layers", "strip", "soil"
typedef struct kind_row {
    const char *name, *keys[18];
} kind_row;
static const kind_row KINDS[MST_WORK_KINDS] = {
    [MST_WORK_PAD] = {"pad", {COMMON, "in", "level", NULL}},
    [MST_WORK_FALLING_PAD] = {"falling pad", {COMMON, "in", "level", "at", "fall", "towards", NULL}},
    [MST_WORK_DEPTH] = {"depth", {COMMON, "in", "depth", NULL}},
    [MST_WORK_PAD_THROUGH] = {"pad through levels", {COMMON, "in", "levels", NULL}},
    [MST_WORK_BANK] = {"bank", {COMMON, "of", "edges", "batter", "cut", "fill", NULL}},
    [MST_WORK_PATH] = {"path",
                       {COMMON, "along", "width", "crossfall", "crown", "profile", "from", "to", "batter", "cut",
                        "fill", NULL}},
    [MST_WORK_RAMP] = {"ramp", {COMMON, "along", "width", "from", "to", "batter", "cut", "fill", NULL}},
    [MST_WORK_STEPS] = {"steps", {COMMON, "along", "width", "from", "to", "risers", "riser", NULL}},
    [MST_WORK_SWALE] = {"swale",
                        {COMMON, "along", "shape", "bottom", "top", "depth", "side", "profile", "from", "to", NULL}},
    [MST_WORK_TRENCH] = {"trench",
                         {COMMON, "along", "bottom", "side", "profile", "from", "to", "fall", "bedding", "pipe", "open",
                          NULL}},
    [MST_WORK_POND] = {"pond", {COMMON, "in", "level", "depth", "side", "shelves", NULL}},
    [MST_WORK_MOUND] = {"mound", {COMMON, "at", "level", "radius", "batter", NULL}},
    [MST_WORK_WALL] = {"wall", {"name", "kind", "along", NULL}},
    [MST_WORK_STRIP] = {"strip", {"name", "kind", "in", "depth", "soil", NULL}},
    [MST_WORK_LAYERS] = {"layers", {COMMON, "in", NULL}},
    [MST_WORK_SURFACE] = {"surface", {COMMON, "in", "points", "triangles", NULL}},
};

const char *mst_work_kind_name(mst_work_kind kind) { return KINDS[kind].name; }
const char *const *mst_keys_of_kind(mst_work_kind kind) { return KINDS[kind].keys; }

static bool given(const mst_reader *r, const char *key) { return json_object_get(r->object, key) != NULL; }

/* ---- where it lies ---- */

static mst_status read_feature(const mst_reader *r, const char *key, mst_feature_kind kind, const char **where) {
    mst_status status = MST_OK;
    const char *name = mst_read_text(r, key, &status);
    if (status) return status;
    const mst_feature *feature = mst_site_feature(r->site, name);
    const char *how = kind == MST_FEATURE_AREA ? "lies in" : "runs along";
    if (!feature)
        return mst_fail(r->error, MST_NOT_FOUND, "Element '%s' %s '%.60s', but there is no such feature ('%s').",
                        r->name, how, name, key);
    if (feature->kind != kind)
        return mst_fail(r->error, MST_INVALID, "Element '%s' %s '%.60s', which is no %s; draw it as one ('%s').",
                        r->name, how, name, mst_feature_kind_name(kind), key);
    *where = mst_arena_string(r->arena, name);
    return *where ? MST_OK : mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
}

static mst_status read_area(const mst_reader *r, mst_element *e) {
    return read_feature(r, "in", MST_FEATURE_AREA, &e->where);
}
static mst_status read_line(const mst_reader *r, mst_element *e) {
    return read_feature(r, "along", MST_FEATURE_LINE, &e->where);
}

/* "batter" for both, or "cut" and "fill", either of which may be left out. */
static mst_status read_batters(const mst_reader *r, bool needed, mst_element *e) {
    mst_status status = MST_OK;
    if (given(r, "batter")) {
        if (given(r, "cut") || given(r, "fill"))
            return mst_fail(r->error, MST_INVALID, "Element '%s': give 'batter', or 'cut' and 'fill', not both.",
                            r->name);
        status = mst_read_batter(r, "batter", &e->cut_batter);
        e->fill_batter = e->cut_batter;
        return status;
    }
    if (given(r, "cut")) status = mst_read_batter(r, "cut", &e->cut_batter);
    if (!status && given(r, "fill")) status = mst_read_batter(r, "fill", &e->fill_batter);
    if (!status && needed && !given(r, "cut") && !given(r, "fill"))
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs a 'batter' as \"1:2\", or 'cut' and 'fill'.",
                        r->name);
    return status;
}

/* ---- pads ---- */

static mst_status read_level(const mst_reader *r, double *level) {
    return mst_read_length(r, r->object, "level", level);
}

static mst_status read_falling(const mst_reader *r, mst_element *e) {
    mst_point at = {0, 0};
    double slope = 0, bearing = 0;
    mst_status status = read_level(r, &e->finish.level_m);
    if (!status) status = mst_read_place(r, json_object_get(r->object, "at"), &at);
    if (!status) status = mst_read_fall(r, "fall", 0, &slope);
    if (!status) status = mst_read_towards(r, at, &bearing);
    if (status) return status;
    e->finish.e0_m = at.easting_m, e->finish.n0_m = at.northing_m;
    e->finish.slope_e = -slope * sin(bearing);
    e->finish.slope_n = -slope * cos(bearing);
    return MST_OK;
}

static bool plane_through(const mst_point p[3], const double z[3], mst_plane *plane) {
    double e[2], n[2], d[2];
    for (int i = 0; i < 2; i++) {
        e[i] = p[i + 1].easting_m - p[0].easting_m;
        n[i] = p[i + 1].northing_m - p[0].northing_m;
        d[i] = z[i + 1] - z[0];
    }
    double det = e[0] * n[1] - e[1] * n[0], size = hypot(e[0], n[0]) * hypot(e[1], n[1]);
    if (!(fabs(det) > 1e-6 * size)) return false; /* a needle of 0.2 seconds of arc holds no plane */
    *plane = (mst_plane){p[0].easting_m, p[0].northing_m, z[0], (d[0] * n[1] - d[1] * n[0]) / det,
                         (d[1] * e[0] - d[0] * e[1]) / det};
    return true;
}

static mst_status read_through(const mst_reader *r, mst_element *e) {
    static const char *const keys[] = {"at", "level", NULL};
    const json_t *levels = json_object_get(r->object, "levels");
    mst_point p[3];
    double z[3];
    if (json_array_size(levels) != 3)
        return mst_fail(r->error, MST_INVALID, "Element '%s' needs 'levels': three of {\"at\": ..., \"level\": ...}.",
                        r->name);
    for (size_t i = 0; i < 3; i++) {
        const json_t *one = json_array_get(levels, i);
        mst_status status = mst_read_known_keys(r, one, keys, "a level");
        if (!status) status = mst_read_place(r, json_object_get(one, "at"), &p[i]);
        if (!status) status = mst_read_length(r, one, "level", &z[i]);
        if (status) return status;
    }
    if (!plane_through(p, z, &e->finish))
        return mst_fail(r->error, MST_UNDETERMINED, "Element '%s': its three 'levels' lie on one line; move one aside.",
                        r->name);
    double fall = hypot(e->finish.slope_e, e->finish.slope_n);
    if (fall > 1)
        return mst_fail(r->error, MST_INVALID, "Element '%s': its three 'levels' make a fall of %.0f %%; check them.",
                        r->name, fall * 100);
    return MST_OK;
}

static mst_status read_pad(const mst_reader *r, mst_element *e) {
    mst_status status = read_area(r, e);
    e->in = e->where;
    if (status) return status;
    if (e->kind == MST_WORK_PAD) return read_level(r, &e->finish.level_m);
    if (e->kind == MST_WORK_FALLING_PAD) return read_falling(r, e);
    if (e->kind == MST_WORK_PAD_THROUGH) return read_through(r, e);
    status = mst_read_length(r, r->object, "depth", &e->depth_m);
    if (!status && fabs(e->depth_m) > DEEPEST_M)
        return mst_fail(r->error, MST_INVALID, "Element '%s': a 'depth' of %g m cannot be; check its unit.", r->name,
                        e->depth_m);
    return status;
}

/* ---- banks ---- */

static mst_status read_edges(const mst_reader *r, mst_element *e) {
    const json_t *edges = json_object_get(r->object, "edges");
    if (!edges) return MST_OK;
    const mst_feature *f = mst_site_feature(r->site, e->where);
    size_t count = json_array_size(edges), most = f ? f->vertex_count : 0;
    e->edges = mst_arena_array(r->arena, count + 1, sizeof *e->edges);
    if (!e->edges) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < count; i++) {
        json_int_t k = json_integer_value(json_array_get(edges, i));
        if (k < 1 || (size_t)k > most)
            return mst_fail(
                r->error, MST_INVALID,
                "Element '%s': 'edges' are numbers from 1 to %zu; edge 1 runs from the outline's first point "
                "to its second.",
                r->name, most);
        e->edges[e->edge_count++] = (uint32_t)k - 1;
    }
    if (count == 0)
        return mst_fail(r->error, MST_INVALID, "Element '%s': 'edges' is a list of numbers; leave it out for all.",
                        r->name);
    return MST_OK;
}

static mst_status read_bank(const mst_reader *r, mst_element *e) {
    mst_status status = MST_OK;
    const char *of = mst_read_text(r, "of", &status);
    if (status) return status;
    const mst_work *pad = NULL;
    for (size_t i = 0; i < r->site->work_count; i++)
        if (strcmp(r->site->works[i].name, of) == 0) pad = &r->site->works[i];
    if (!pad)
        return mst_fail(r->error, MST_NOT_FOUND, "Element '%s' is a bank 'of' '%.60s', but there is no such element.",
                        r->name, of);
    json_t *peek = json_loads(pad->definition ? pad->definition : "", 0, NULL);
    const char *kind = json_string_value(json_object_get(peek, "kind"));
    bool on_bank =
        kind && strcmp(kind, KINDS[MST_WORK_BANK].name) == 0; /* else two banks of each other read for ever */
    json_decref(peek);
    mst_element base = {0};
    if (!on_bank) status = mst_element_read(pad, r->site, r->adjustment, r->arena, &base, r->error);
    if (status) return status;
    if (on_bank || !base.in || base.kind == MST_WORK_DEPTH)
        return mst_fail(
            r->error, MST_INVALID,
            "Element '%s' is a bank 'of' '%.60s', which is no pad; paths, ponds and mounds have a batter of "
            "their own.",
            r->name, of);
    e->of = base.name;
    e->where = base.in;
    e->finish = base.finish;
    status = read_edges(r, e);
    return status ? status : read_batters(r, true, e);
}

/* ---- along a line ---- */

static mst_status read_profile(const mst_reader *r, mst_element *e) {
    static const char *const keys[] = {"at", "level", "curve", NULL};
    const json_t *list = json_object_get(r->object, "profile");
    size_t count = json_array_size(list);
    if (count < 2)
        return mst_fail(
            r->error, MST_INVALID,
            "Element '%s' needs a 'profile' of two or more {\"at\": chainage, \"level\": ...}, or 'from' and "
            "'to'.",
            r->name);
    e->profile = mst_arena_array(r->arena, count, sizeof *e->profile);
    if (!e->profile) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < count; i++) {
        const json_t *one = json_array_get(list, i);
        mst_work_bend *b = &e->profile[i];
        mst_status status = mst_read_known_keys(r, one, keys, "a profile's level");
        if (!status) status = mst_read_length(r, one, "at", &b->chainage_m);
        if (!status) status = mst_read_length(r, one, "level", &b->level_m);
        if (!status && json_object_get(one, "curve")) status = mst_read_width(r, one, "curve", &b->curve_m);
        if (status) return status;
        double before = i ? b[-1].chainage_m + b[-1].curve_m / 2 : -HUGE_VAL;
        if (b->chainage_m - b->curve_m / 2 < before || (i && b->chainage_m <= b[-1].chainage_m))
            return mst_fail(r->error, MST_INVALID,
                            "Element '%s', 'profile' %zu: its 'at' lies before the level, or the end of the 'curve', "
                            "before it; put them in order.",
                            r->name, i + 1);
        if (b->curve_m > 0 && (i == 0 || i + 1 == count))
            return mst_fail(r->error, MST_INVALID,
                            "Element '%s', 'profile' %zu: a 'curve' stands between two gradients, not at an end.",
                            r->name, i + 1);
    }
    e->profile_count = count;
    return MST_OK;
}

static mst_status read_from_to(const mst_reader *r, mst_element *e) {
    mst_status status = mst_read_length(r, r->object, "from", &e->from_m);
    return status ? status : mst_read_length(r, r->object, "to", &e->to_m);
}

/* 'profile', or 'from' and 'to', or (a trench) 'from' and 'fall': then to_m holds until the line's length is known. */
static mst_status read_long_section(const mst_reader *r, mst_element *e) {
    if (given(r, "profile") && (given(r, "from") || given(r, "to") || given(r, "fall")))
        return mst_fail(r->error, MST_INVALID, "Element '%s': give a 'profile', or levels 'from' and 'to', not both.",
                        r->name);
    if (given(r, "profile") || !given(r, "from")) return read_profile(r, e);
    if (!given(r, "fall")) return read_from_to(r, e);
    double fall, length = 0;
    mst_shape line;
    mst_error why = {0};
    if (given(r, "to")) return mst_fail(r->error, MST_INVALID, "Element '%s': give 'to' or 'fall', not both.", r->name);
    mst_status status = mst_read_length(r, r->object, "from", &e->from_m);
    if (!status) status = mst_read_fall(r, "fall", 0, &fall);
    if (status) return status;
    status = mst_feature_shape(mst_site_feature(r->site, e->where), r->adjustment, r->arena, &line, &why);
    if (status) return mst_fail(r->error, status, "Element '%s': %s", r->name, why.sentence);
    length = mst_path_length(&line.paths[0]);
    e->to_m = e->from_m - fall * length;
    return MST_OK;
}

static mst_status read_path(const mst_reader *r, mst_element *e) {
    mst_status status = read_line(r, e);
    if (!status) status = mst_read_width(r, r->object, "width", &e->width_m);
    if (!status && given(r, "crossfall") && given(r, "crown"))
        return mst_fail(r->error, MST_INVALID, "Element '%s': give 'crossfall' or 'crown', not both.", r->name);
    if (!status && given(r, "crossfall")) status = mst_read_fall(r, "crossfall", -1, &e->crossfall);
    if (!status && given(r, "crown")) status = mst_read_fall(r, "crown", 0, &e->crown);
    if (!status) status = e->kind == MST_WORK_RAMP ? read_from_to(r, e) : read_long_section(r, e);
    return status ? status : read_batters(r, false, e);
}

static mst_status read_steps(const mst_reader *r, mst_element *e) {
    double riser = RISER_M;
    mst_status status = read_line(r, e);
    if (!status) status = mst_read_width(r, r->object, "width", &e->width_m);
    if (!status) status = read_from_to(r, e);
    if (!status && given(r, "risers") && given(r, "riser"))
        return mst_fail(r->error, MST_INVALID, "Element '%s': give 'risers' or the highest 'riser', not both.",
                        r->name);
    if (!status && given(r, "riser")) status = mst_read_width(r, r->object, "riser", &riser);
    if (status) return status;
    double rise = fabs(e->to_m - e->from_m), count = ceil(rise / riser - 1e-9);
    if (given(r, "risers")) count = (double)json_integer_value(json_object_get(r->object, "risers"));
    if (!(count >= 2 && count <= MOST_RISERS))
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' would have %.0f 'risers'; steps have 2 to %d equal ones between 'from' and 'to'.",
                        r->name, count, MOST_RISERS);
    if (!(rise > 0))
        return mst_fail(r->error, MST_INVALID, "Element '%s': steps need two different levels 'from' and 'to'.",
                        r->name);
    e->risers = (int)count;
    return MST_OK;
}

static mst_status read_swale(const mst_reader *r, mst_element *e) {
    static const char *const names[] = {"V", "trapezoid", "parabola"};
    mst_status status = read_line(r, e);
    const char *shape = status ? NULL : mst_read_text(r, "shape", &status);
    int k = 0;
    if (status) return status;
    while (k < 3 && strcmp(shape, names[k]) != 0) k++;
    if (k == 3)
        return mst_fail(r->error, MST_INVALID, "Element '%s': the 'shape' of a swale is V, trapezoid or parabola.",
                        r->name);
    e->shape = (mst_swale_shape)k;
    bool parabola = e->shape == MST_SWALE_PARABOLA;
    if (given(r, "bottom") != (e->shape == MST_SWALE_TRAPEZOID) || given(r, "top") != parabola ||
        given(r, "depth") != parabola)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s': a trapezoid has a 'bottom', a parabola a 'top' and a 'depth', a V none of them.",
                        r->name);
    if (e->shape == MST_SWALE_TRAPEZOID) status = mst_read_width(r, r->object, "bottom", &e->width_m);
    if (parabola) status = mst_read_width(r, r->object, "top", &e->width_m);
    if (!status && parabola) status = mst_read_width(r, r->object, "depth", &e->depth_m);
    if (parabola && !status) e->side = 4 * e->depth_m / e->width_m; /* its slope at the top goes on */
    if (!status && (given(r, "side") || !parabola)) status = mst_read_batter(r, "side", &e->side);
    return status ? status : read_long_section(r, e);
}

static mst_status read_trench(const mst_reader *r, mst_element *e) {
    mst_status status = read_line(r, e);
    const char *side = json_string_value(json_object_get(r->object, "side"));
    const json_t *open = json_object_get(r->object, "open");
    if (!status) status = mst_read_width(r, r->object, "bottom", &e->width_m);
    e->side = INFINITY;
    if (!status && given(r, "side") && !(side && strcmp(side, "upright") == 0))
        status = mst_read_batter(r, "side", &e->side);
    if (!status && given(r, "bedding")) status = mst_read_thickness(r, r->object, "bedding", &e->bedding_m);
    if (!status && given(r, "pipe")) status = mst_read_width(r, r->object, "pipe", &e->pipe_m);
    if (!status && open && !json_is_boolean(open))
        return mst_fail(r->error, MST_INVALID, "Element '%s': 'open' is true or false.", r->name);
    e->backfilled = !json_is_true(open);
    if (!status && e->pipe_m >= e->width_m)
        return mst_fail(r->error, MST_INVALID, "Element '%s': the 'pipe' is wider than the trench's 'bottom'.",
                        r->name);
    return status ? status : read_long_section(r, e);
}

/* ---- ponds, mounds and the rest ---- */

static mst_status read_shelves(const mst_reader *r, mst_element *e) {
    static const char *const keys[] = {"depth", "width", NULL};
    const json_t *list = json_object_get(r->object, "shelves");
    if (!list) return MST_OK;
    e->shelves = mst_arena_array(r->arena, json_array_size(list) + 1, sizeof *e->shelves);
    if (!e->shelves) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *one = json_array_get(list, i);
        mst_work_shelf *s = &e->shelves[i];
        mst_status status = mst_read_known_keys(r, one, keys, "a shelf");
        if (!status) status = mst_read_thickness(r, one, "depth", &s->depth_m);
        if (!status) status = mst_read_width(r, one, "width", &s->width_m);
        if (status) return status;
        if (!(s->depth_m > (i ? s[-1].depth_m : 0)) || !(s->depth_m < e->depth_m))
            return mst_fail(
                r->error, MST_INVALID,
                "Element '%s', 'shelves' %zu: its 'depth' lies below the shelf before and above the bottom.", r->name,
                i + 1);
        e->shelf_count++;
    }
    return MST_OK;
}

static mst_status read_pond(const mst_reader *r, mst_element *e) {
    mst_status status = read_area(r, e);
    if (!status) status = read_level(r, &e->level_m);
    if (!status) status = mst_read_width(r, r->object, "depth", &e->depth_m);
    if (!status && e->depth_m > DEEPEST_M)
        return mst_fail(r->error, MST_INVALID, "Element '%s': a 'depth' of %g m cannot be; check its unit.", r->name,
                        e->depth_m);
    if (!status) status = mst_read_batter(r, "side", &e->side);
    return status ? status : read_shelves(r, e);
}

static mst_status read_mound(const mst_reader *r, mst_element *e) {
    mst_status status = mst_read_place(r, json_object_get(r->object, "at"), &e->at);
    if (!status) status = read_level(r, &e->level_m);
    if (!status && given(r, "radius")) status = mst_read_width(r, r->object, "radius", &e->radius_m);
    return status ? status : mst_read_batter(r, "batter", &e->fill_batter);
}

static mst_status read_strip(const mst_reader *r, mst_element *e) {
    mst_status status = read_area(r, e);
    e->strip_given = true;
    return status ? status : mst_read_thickness(r, r->object, "depth", &e->strip_m);
}

/* ---- a surface of triangles ---- */

static bool read_numbers(const json_t *list, size_t count, double to[]) {
    if (json_array_size(list) != count) return false;
    for (size_t k = 0; k < count; k++) {
        const json_t *value = json_array_get(list, k);
        if (!json_is_number(value) || !isfinite(json_number_value(value))) return false;
        to[k] = json_number_value(value);
    }
    return true;
}

static mst_status read_points(const mst_reader *r, const json_t *list, mst_element *e) {
    e->points = mst_arena_array(r->arena, json_array_size(list) + 1, sizeof *e->points);
    if (!e->points) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < json_array_size(list); i++) {
        double at[3];
        if (!read_numbers(json_array_get(list, i), 3, at))
            return mst_fail(r->error, MST_INVALID,
                            "Element '%s', 'points' %zu: a point is [easting, northing, level] in metres.", r->name,
                            i + 1);
        e->points[e->point_count++] = (mst_point3){at[0], at[1], at[2]};
    }
    return MST_OK;
}

static double twice_area(const mst_element *e, const uint32_t t[3]) {
    const mst_point3 *a = &e->points[t[0]], *b = &e->points[t[1]], *c = &e->points[t[2]];
    return (b->easting_m - a->easting_m) * (c->northing_m - a->northing_m) -
           (b->northing_m - a->northing_m) * (c->easting_m - a->easting_m);
}

static mst_status read_triangles(const mst_reader *r, const json_t *list, mst_element *e) {
    e->triangles = mst_arena_array(r->arena, json_array_size(list) + 1, sizeof *e->triangles);
    if (!e->triangles) return mst_fail(r->error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < json_array_size(list); i++) {
        uint32_t *t = e->triangles[e->triangle_count++];
        const json_t *one = json_array_get(list, i);
        bool good = json_array_size(one) == 3;
        for (size_t k = 0; k < 3 && good; k++) {
            const json_t *corner = json_array_get(one, k);
            json_int_t n = json_integer_value(corner);
            good = json_is_integer(corner) && n >= 0 && (size_t)n < e->point_count;
            t[k] = good ? (uint32_t)n : 0;
        }
        if (!good || !(twice_area(e, t) >= -SLIVER_M2))
            return mst_fail(r->error, MST_INVALID,
                            "Element '%s', 'triangles' %zu: a triangle is three numbers of points from 0 on, "
                            "counter-clockwise.",
                            r->name, i + 1);
    }
    return MST_OK;
}

static mst_status read_surface(const mst_reader *r, mst_element *e) {
    const json_t *points = json_object_get(r->object, "points"), *triangles = json_object_get(r->object, "triangles");
    mst_status status = read_area(r, e);
    if (status) return status;
    if (json_array_size(points) < 3 || json_array_size(triangles) < 1)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' is a surface: it needs 'points' and 'triangles' (grade --apply makes them).",
                        r->name);
    if (json_array_size(triangles) > MOST_TRIANGLES)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s' has %zu triangles, and a surface has %d at most; take a coarser spacing.",
                        r->name, json_array_size(triangles), MOST_TRIANGLES);
    status = read_points(r, points, e);
    return status ? status : read_triangles(r, triangles, e);
}

mst_status mst_read_of_kind(const mst_reader *r, mst_element *e) {
    static mst_status (*const readers[MST_WORK_KINDS])(const mst_reader *, mst_element *) = {
        read_pad,   read_pad,    read_pad,  read_pad,   read_bank, read_path,  read_path, read_steps,
        read_swale, read_trench, read_pond, read_mound, read_line, read_strip, read_area, read_surface};
    return readers[e->kind](r, e);
}
