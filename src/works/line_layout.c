/* Paths, ramps, steps, swales and trenches: a section carried along a line. */
#include "works/design.h"
#include <math.h>
#include <string.h>

static const double CHORD_M = 0.001; /* a vertical curve is followed to 1 mm, as arcs are in plan */
static const double SHARPEST = -0.5; /* cosine of a turn of 120 degrees: sharper, a mitre runs off */
static const double SAME_M = 1e-6;   /* stations nearer than this are one */
enum { SECTION_MOST = 42, PARABOLA_CHORDS = 40 };

typedef struct station {
    double chainage, at[2], across[2]; /* across: to the right, for each metre of offset */
} station;

typedef struct run {
    mst_layout *layout;
    const mst_element *e;
    double (*at)[2], *chainage; /* of the line's points */
    size_t count;
    mst_work_bend *bends;
    size_t bend_count;
    double *breaks;
    size_t break_count, break_capacity;
    station *stations;
    size_t station_count;
    mst_arena *arena;
    mst_error *error;
} run;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* ---- the line ---- */

static mst_status take_line(run *r, const mst_path *line, const double origin[2]) {
    r->at = mst_arena_array(r->arena, line->count + 1, sizeof *r->at);
    r->chainage = mst_arena_array(r->arena, line->count + 1, sizeof *r->chainage);
    if (!r->at || !r->chainage) return no_memory(r->error);
    for (size_t i = 0; i < line->count; i++) {
        double *to = r->at[r->count];
        to[0] = line->vertices[i].easting_m - origin[0], to[1] = line->vertices[i].northing_m - origin[1];
        double step = r->count ? hypot(to[0] - to[-2], to[1] - to[-1]) : 0;
        if (r->count && !(step > SAME_M)) continue;
        r->chainage[r->count] = r->count ? r->chainage[r->count - 1] + step : 0;
        r->count++;
    }
    if (r->count < 2)
        return mst_fail(r->error, MST_UNDETERMINED, "Element '%s' runs along '%s', which has no length.", r->e->name,
                        r->e->where);
    r->layout->length_m = r->chainage[r->count - 1];
    return MST_OK;
}

static void unit(const run *r, size_t i, double d[2]) {
    double length = r->chainage[i + 1] - r->chainage[i];
    for (int k = 0; k < 2; k++) d[k] = (r->at[i + 1][k] - r->at[i][k]) / length;
}

/* ---- the long profile ---- */

static mst_status take_profile(run *r) {
    const mst_element *e = r->e;
    r->bends = e->profile, r->bend_count = e->profile_count;
    if (e->profile_count) return MST_OK;
    r->bend_count = 2;
    r->bends = mst_arena_array(r->arena, 2, sizeof *r->bends);
    if (!r->bends) return no_memory(r->error);
    r->bends[0] = (mst_work_bend){0, e->from_m, 0};
    r->bends[1] = (mst_work_bend){r->layout->length_m, e->to_m, 0};
    return MST_OK;
}

static double gradient(const run *r, size_t i) {
    const mst_work_bend *a = &r->bends[i], *b = a + 1;
    return (b->level_m - a->level_m) / (b->chainage_m - a->chainage_m);
}

/* Straight between bends and on beyond the ends; a parabola within half a curve's length of a bend. */
static double level_at(const run *r, double chainage) {
    size_t i = 0;
    while (i + 2 < r->bend_count && chainage > r->bends[i + 1].chainage_m) i++;
    double z = r->bends[i].level_m + gradient(r, i) * (chainage - r->bends[i].chainage_m);
    for (size_t k = i ? i : 1; k <= i + 1 && k + 1 < r->bend_count; k++) {
        const mst_work_bend *b = &r->bends[k];
        double into = b->curve_m / 2 - fabs(chainage - b->chainage_m);
        if (into > 0) z += (gradient(r, k) - gradient(r, k - 1)) * into * into / (2 * b->curve_m);
    }
    return z;
}

static mst_status add_break(run *r, double chainage) {
    if (!(chainage > SAME_M && chainage < r->layout->length_m - SAME_M)) return MST_OK;
    double *to = MST_PUSH(r->arena, r->breaks, r->break_count, r->break_capacity);
    if (!to) return no_memory(r->error);
    *to = chainage;
    return MST_OK;
}

static mst_status add_bends(run *r) {
    mst_status status = MST_OK;
    for (size_t i = 0; i < r->bend_count && !status; i++) {
        const mst_work_bend *b = &r->bends[i];
        status = add_break(r, b->chainage_m);
        if (status || !(b->curve_m > 0)) continue;
        double change = fabs(gradient(r, i) - gradient(r, i - 1));
        int pieces = 2 * (int)fmin(500, ceil(b->curve_m / 2 / sqrt(8 * CHORD_M * b->curve_m / fmax(change, 1e-12))));
        for (int k = 0; k <= pieces && !status; k++)
            status = add_break(r, b->chainage_m + b->curve_m * ((double)k / pieces - 0.5));
    }
    return status;
}

/* ---- stations ---- */

static mst_status station_at(run *r, double chainage, station *s) {
    size_t i = 0;
    while (i + 2 < r->count && chainage >= r->chainage[i + 1]) i++;
    double d[2], t = (chainage - r->chainage[i]) / (r->chainage[i + 1] - r->chainage[i]);
    unit(r, i, d);
    *s = (station){
        chainage,
        {r->at[i][0] + t * (r->at[i + 1][0] - r->at[i][0]), r->at[i][1] + t * (r->at[i + 1][1] - r->at[i][1])},
        {d[1], -d[0]}};
    if (t > 0 || i == 0) return MST_OK;
    double before[2], cosine;
    unit(r, i - 1, before);
    cosine = before[0] * d[0] + before[1] * d[1];
    if (cosine < SHARPEST)
        return mst_fail(r->error, MST_INVALID,
                        "Element '%s': its line turns by more than 120 degrees at %.2f m along; round the corner.",
                        r->e->name, chainage);
    for (int k = 0; k < 2; k++) s->at[k] = r->at[i][k];
    s->across[0] = (d[1] + before[1]) / (1 + cosine), s->across[1] = -(d[0] + before[0]) / (1 + cosine);
    return MST_OK;
}

static mst_status take_stations(run *r) {
    size_t most = r->count + r->break_count;
    double *all = mst_arena_array(r->arena, most, sizeof *all);
    r->stations = mst_arena_array(r->arena, most, sizeof *r->stations);
    if (!all || !r->stations) return no_memory(r->error);
    memcpy(all, r->chainage, r->count * sizeof *all);
    for (size_t b = 0; b < r->break_count; b++) { /* few: each is put in its place */
        size_t at = r->count + b;
        for (; at > 0 && all[at - 1] > r->breaks[b]; at--) all[at] = all[at - 1];
        all[at] = r->breaks[b];
    }
    for (size_t i = 0; i < most; i++) {
        if (r->station_count && all[i] - r->stations[r->station_count - 1].chainage <= SAME_M) continue;
        mst_status status = station_at(r, all[i], &r->stations[r->station_count]);
        if (status) return status;
        r->station_count++;
    }
    return MST_OK;
}

/* ---- the section ---- */

typedef struct section {
    double offset[SECTION_MOST], rise[SECTION_MOST];
    int count;
} section;

/* Chords lie above the parabola; the points between the ends are lowered until the area is its own. */
static void parabola(const mst_element *e, section *s) {
    double step = e->width_m / PARABOLA_CHORDS, above = step * step * 8 * e->depth_m / (e->width_m * e->width_m) / 12;
    double lower = above * e->width_m / (e->width_m - step);
    for (int i = 0; i <= PARABOLA_CHORDS; i++) {
        double x = -e->width_m / 2 + step * i, u = 2 * x / e->width_m;
        s->offset[i] = x;
        s->rise[i] = e->depth_m * u * u - (i > 0 && i < PARABOLA_CHORDS ? lower : 0);
    }
    s->count = PARABOLA_CHORDS + 1;
}

static section section_of(const mst_element *e) {
    section s = {{-e->width_m / 2, e->width_m / 2}, {0, 0}, 2};
    double half = e->width_m / 2;
    if (e->kind == MST_WORK_SWALE && e->shape == MST_SWALE_V) return (section){{0}, {0}, 1};
    if (e->kind == MST_WORK_SWALE && e->shape == MST_SWALE_PARABOLA) parabola(e, &s);
    if (e->kind == MST_WORK_PATH && e->crossfall != 0)
        s.rise[0] = e->crossfall * half, s.rise[1] = -e->crossfall * half;
    if (e->kind == MST_WORK_PATH && e->crown > 0)
        s = (section){{-half, 0, half}, {-e->crown * half, 0, -e->crown * half}, 3};
    return s;
}

static void place(const station *s, double offset, double at[2]) {
    for (int k = 0; k < 2; k++) at[k] = s->at[k] + offset * s->across[k];
}

static void add_quad(mst_layout *l, const station *a, const station *b, const double offset[2], const double level[4]) {
    double at[4][2];
    place(a, offset[0], at[0]), place(a, offset[1], at[1]), place(b, offset[1], at[2]), place(b, offset[0], at[3]);
    const int first[3] = {0, 1, 2}, second[3] = {0, 2, 3};
    for (int t = 0; t < 2; t++) {
        const int *of = t ? second : first;
        double corner[3][2], z[3];
        for (int i = 0; i < 3; i++) corner[i][0] = at[of[i]][0], corner[i][1] = at[of[i]][1], z[i] = level[of[i]];
        mst_facet_triangle(&l->base, (const double(*)[2])corner, z);
    }
}

static void carry(run *r, const section *s) {
    for (size_t i = 0; i + 1 < r->station_count; i++) {
        const station *a = &r->stations[i], *b = a + 1;
        double za = level_at(r, a->chainage), zb = level_at(r, b->chainage);
        for (int k = 0; k + 1 < s->count; k++)
            add_quad(r->layout, a, b, &s->offset[k],
                     (const double[4]){za + s->rise[k], za + s->rise[k + 1], zb + s->rise[k + 1], zb + s->rise[k]});
    }
}

/* The side of the section as a chain: forward on the right, backward on the left, so that its outside is on the right.
 */
static mst_status add_side(run *r, const section *s, bool right) {
    mst_chain *c = &r->layout->chains[r->layout->chain_count];
    int k = right ? s->count - 1 : 0;
    c->at = mst_arena_array(r->arena, r->station_count, sizeof *c->at);
    c->level_m = mst_arena_array(r->arena, r->station_count, sizeof *c->level_m);
    if (!c->at || !c->level_m) return no_memory(r->error);
    for (size_t i = 0; i < r->station_count; i++) {
        const station *from = &r->stations[right ? i : r->station_count - 1 - i];
        place(from, s->offset[k], c->at[i]);
        c->level_m[i] = level_at(r, from->chainage) + s->rise[k];
    }
    c->count = r->station_count;
    r->layout->chain_count++;
    return MST_OK;
}

/* ---- steps ---- */

static mst_status add_treads(run *r) {
    const mst_element *e = r->e;
    double riser = (e->to_m - e->from_m) / e->risers, half = e->width_m / 2, offset[2] = {-half, half};
    int treads = e->risers - 1;
    mst_status status = MST_OK;
    for (int i = 1; i < treads && !status; i++) status = add_break(r, r->layout->length_m * i / treads);
    if (!status) status = take_stations(r);
    for (size_t i = 0; i + 1 < r->station_count && !status; i++) {
        const station *a = &r->stations[i], *b = a + 1;
        int tread = (int)(treads * (a->chainage + b->chainage) / 2 / r->layout->length_m);
        double z = e->from_m + riser * (tread + 1);
        add_quad(r->layout, a, b, offset, (const double[4]){z, z, z, z});
    }
    return status;
}

mst_status mst_layout_line(mst_layout *layout, const mst_path *line, const double origin[2], mst_arena *arena,
                           mst_error *error) {
    run r = {.layout = layout, .e = layout->element, .arena = arena, .error = error};
    mst_status status = take_line(&r, line, origin);
    if (status) return status;
    if (r.e->kind == MST_WORK_WALL) {
        layout->wall = r.at, layout->wall_count = r.count;
        return MST_OK;
    }
    if (r.e->kind == MST_WORK_STEPS) return add_treads(&r);
    section s = section_of(r.e);
    status = take_profile(&r);
    if (!status) status = add_bends(&r);
    if (!status) status = take_stations(&r);
    if (status) return status;
    carry(&r, &s);
    layout->chains = mst_arena_array(arena, 2, sizeof *layout->chains);
    if (!layout->chains) return no_memory(error);
    status = add_side(&r, &s, false);
    return status ? status : add_side(&r, &s, true);
}
