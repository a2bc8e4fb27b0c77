/* A site's points and features as parts of a ground model. Places that only the drawing of an arc asks for hang on the
 * measured points before and after them, in proportion to the way. */
#include "ground/model.h"
#include <math.h>
#include <string.h>

static const double SAGITTA_M = 0.005; /* arcs, as the header says */
static const double BESIDE_M = 0.1; /* a feature's point this near its drawn line belongs on it (circles are fitted) */

typedef struct maker {
    const mst_site *site;
    const mst_adjustment *adjustment;
    mst_arena *arena;
    uint32_t *part_of; /* adjusted point -> part point, or MST_NOWHERE */
    mst_part_point *points;
    size_t point_count, point_capacity;
    mst_part_line *lines;
    size_t line_count, line_capacity;
    mst_shape *boundaries;
    size_t boundary_count, boundary_capacity;
    mst_shape *holes;
    size_t hole_count, hole_capacity;
    mst_notes notes;
} maker;

/* A vertex of a drawn line; anchor: the adjusted point it is, or MST_NOWHERE. */
typedef struct knot {
    double at[2], chainage;
    uint32_t anchor;
} knot;
typedef struct knots {
    knot *items;
    size_t count;
    bool closed;
    double length;
} knots;

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Memory is short."); }

/* A point stays out when every feature that uses it has the role none. */
static bool *left_out(const maker *m) {
    size_t count = m->adjustment->point_count;
    bool *out = mst_arena_array(m->arena, count + 1, 1), *wanted = mst_arena_array(m->arena, count + 1, 1);
    if (!out || !wanted) return NULL;
    for (size_t i = 0; i < m->site->feature_count; i++) {
        const mst_feature *f = &m->site->features[i];
        for (size_t k = 0; k < f->vertex_count; k++) {
            uint32_t p = mst_index_get(&m->adjustment->index, f->vertices[k].point);
            if (p != UINT32_MAX) *(f->role == MST_ROLE_NONE ? &out[p] : &wanted[p]) = true;
        }
    }
    for (size_t i = 0; i < count; i++) out[i] = out[i] && !wanted[i];
    return out;
}

/* Whether a list between commas has the name. */
static bool has_name(const char *list, const char *name) {
    size_t length = strlen(name);
    for (const char *at = list; *at;) {
        at += strspn(at, " ");
        size_t own = strcspn(at, ","), bare = own;
        while (bare && at[bare - 1] == ' ') bare--;
        if (bare == length && strncmp(at, name, length) == 0) return true;
        at += own + (at[own] == ',');
    }
    return false;
}

static bool names_point(mst_page_kind kind, int column) {
    static const char *const NAMES[] = {"point", "from", "to", "at"};
    const char *name = mst_page_column_name(kind, column);
    for (size_t i = 0; name && i < sizeof NAMES / sizeof *NAMES; i++)
        if (strcmp(name, NAMES[i]) == 0) return true;
    return false;
}

/* Where the setting ground.visit names visits, a point that none of them saw stays out. */
static bool leave_out_other_visits(const maker *m, bool out[]) {
    const char *visits = mst_site_setting(m->site, "ground.visit", "");
    size_t count = m->adjustment->point_count;
    bool *seen = mst_arena_array(m->arena, count + 1, 1);
    if (!seen) return false;
    for (size_t p = 0; *visits && p < m->site->page_count; p++) {
        const mst_page *page = &m->site->pages[p];
        if (!page->visit || !has_name(visits, page->visit)) continue;
        for (int c = 0; mst_page_column_name(page->kind, c); c++) {
            if (!names_point(page->kind, c)) continue;
            for (size_t i = 0; i < page->row_count; i++) {
                const char *name = page->rows[i].set_aside ? NULL : page->rows[i].text[c];
                uint32_t at = name ? mst_index_get(&m->adjustment->index, name) : UINT32_MAX;
                if (at < count) seen[at] = true;
            }
        }
    }
    for (size_t i = 0; *visits && i < count; i++) out[i] |= !seen[i];
    return true;
}

static mst_status take_points(maker *m, mst_error *error) {
    size_t count = m->adjustment->point_count;
    bool *out = left_out(m);
    if (out && !leave_out_other_visits(m, out)) out = NULL;
    m->part_of = mst_arena_array(m->arena, count + 1, sizeof *m->part_of);
    if (!out || !m->part_of) return no_memory(error);
    for (uint32_t i = 0; i < count; i++) {
        const mst_adjusted_point *a = &m->adjustment->points[i];
        m->part_of[i] = MST_NOWHERE;
        if (!a->has_plan || !a->has_height || out[i]) continue;
        mst_part_point *p = MST_PUSH(m->arena, m->points, m->point_count, m->point_capacity);
        if (!p) return no_memory(error);
        m->part_of[i] = (uint32_t)m->point_count - 1;
        *p = (mst_part_point){{a->easting_m, a->northing_m}, a->elevation_m, {{i, 1}}, 1, a->name};
    }
    return MST_OK;
}

static uint32_t anchor_at(const maker *m, const mst_feature *f, double e, double n) {
    for (size_t k = 0; k < f->vertex_count; k++) {
        uint32_t i = mst_index_get(&m->adjustment->index, f->vertices[k].point);
        if (i == UINT32_MAX) continue;
        const mst_adjusted_point *p = &m->adjustment->points[i];
        if (p->easting_m == e && p->northing_m == n) return i;
    }
    return MST_NOWHERE;
}

/* Puts a point of the feature that the drawing passes by (the middle of an arc, a point beside a fitted circle) on it.
 */
static void put_on(const maker *m, knots *line, uint32_t anchor) {
    const mst_adjusted_point *a = &m->adjustment->points[anchor];
    mst_point p = {a->easting_m, a->northing_m};
    double nearest = BESIDE_M;
    size_t after = line->count;
    for (size_t i = 0; i < line->count; i++) {
        if (line->items[i].anchor == anchor) return;
        if (i + 1 == line->count && !line->closed) break;
        const double *u = line->items[i].at, *v = line->items[(i + 1) % line->count].at;
        double chainage, offset, length = hypot(v[0] - u[0], v[1] - u[1]);
        mst_chainage_offset((mst_point){u[0], u[1]}, (mst_point){v[0], v[1]}, p, &chainage, &offset);
        if (!(chainage >= 0 && chainage <= length && fabs(offset) < nearest)) continue;
        nearest = fabs(offset);
        after = i;
    }
    if (after == line->count) return;
    for (size_t i = line->count++; i > after + 1; i--) line->items[i] = line->items[i - 1];
    line->items[after + 1] = (knot){{p.easting_m, p.northing_m}, 0, anchor};
}

static mst_status take_knots(const maker *m, const mst_feature *f, const mst_path *path, knots *line,
                             mst_error *error) {
    mst_path flat;
    mst_status status = mst_path_flatten(path, SAGITTA_M, m->arena, &flat, error);
    if (status) return status;
    *line = (knots){mst_arena_array(m->arena, flat.count + f->vertex_count + 1, sizeof(knot)), 0, path->closed, 0};
    if (!line->items) return no_memory(error);
    for (size_t i = 0; i < flat.count; i++) {
        const mst_path_vertex *v = &flat.vertices[i];
        line->items[line->count++] =
            (knot){{v->easting_m, v->northing_m}, 0, anchor_at(m, f, v->easting_m, v->northing_m)};
    }
    for (size_t k = 0; k < f->vertex_count; k++) {
        uint32_t i = mst_index_get(&m->adjustment->index, f->vertices[k].point);
        if (i != UINT32_MAX && m->part_of[i] != MST_NOWHERE) put_on(m, line, i);
    }
    for (size_t i = 0; i < line->count; i++) {
        const double *u = line->items[i].at, *v = line->items[(i + 1) % line->count].at;
        line->items[i].chainage = line->length;
        if (i + 1 < line->count || line->closed) line->length += hypot(v[0] - u[0], v[1] - u[1]);
    }
    return MST_OK;
}

/* The next anchor from i in a direction (+1, -1), and how far it is. */
static uint32_t anchor_from(const knots *line, size_t i, int step, double *way) {
    for (size_t k = 1; k <= line->count; k++) {
        size_t at = (i + line->count + (step > 0 ? k : line->count - k)) % line->count;
        bool wrapped = step > 0 ? i + k >= line->count : k > i;
        if (wrapped && !line->closed) return MST_NOWHERE;
        if (line->items[at].anchor == MST_NOWHERE) continue;
        *way = step * (line->items[at].chainage - line->items[i].chainage) + (wrapped ? line->length : 0);
        return line->items[at].anchor;
    }
    return MST_NOWHERE;
}

/* The part point of a knot: the measured one, or one between its neighbours. */
static mst_status part_of_knot(maker *m, const knots *line, size_t i, uint32_t *part) {
    const knot *k = &line->items[i];
    if (k->anchor != MST_NOWHERE && m->part_of[k->anchor] != MST_NOWHERE) {
        *part = m->part_of[k->anchor];
        return MST_OK;
    }
    mst_part_point *p = MST_PUSH(m->arena, m->points, m->point_count, m->point_capacity);
    if (!p) return MST_NO_MEMORY;
    *part = (uint32_t)m->point_count - 1;
    *p = (mst_part_point){{k->at[0], k->at[1]}, NAN, {{0}}, 0, NULL};
    if (k->anchor != MST_NOWHERE) return MST_OK; /* measured, but without a level */
    double back = 0, on = 0;
    uint32_t before = anchor_from(line, i, -1, &back), after = anchor_from(line, i, 1, &on);
    if (before == MST_NOWHERE || after == MST_NOWHERE) return MST_OK;
    if (m->part_of[before] == MST_NOWHERE || m->part_of[after] == MST_NOWHERE) return MST_OK;
    double share = back / (back + on);
    p->elevation_m =
        (1 - share) * m->adjustment->points[before].elevation_m + share * m->adjustment->points[after].elevation_m;
    p->weights[0] = (mst_weight){before, 1 - share};
    p->weights[1] = (mst_weight){after, share};
    p->weight_count = 2;
    return MST_OK;
}

static mst_status take_line(maker *m, const mst_feature *f, const mst_path *path, mst_error *error) {
    knots line;
    mst_status status = take_knots(m, f, path, &line, error);
    if (status) return status;
    uint32_t *points = mst_arena_array(m->arena, line.count + 1, sizeof *points);
    mst_part_line *added = MST_PUSH(m->arena, m->lines, m->line_count, m->line_capacity);
    if (!points || !added) return no_memory(error);
    for (size_t i = 0; i < line.count; i++)
        if (part_of_knot(m, &line, i, &points[i])) return no_memory(error);
    *added = (mst_part_line){f->name, points, line.count, line.closed};
    return MST_OK;
}

static bool keep_shape(maker *m, mst_shape **list, size_t *count, size_t *capacity, mst_shape shape) {
    mst_shape *added = MST_PUSH(m->arena, *list, *count, *capacity);
    if (added) *added = shape;
    return added != NULL;
}

static mst_status take_feature(maker *m, const mst_feature *f, mst_error *error) {
    mst_shape shape;
    mst_error why = {0};
    if (f->kind == MST_FEATURE_SPOT) return MST_OK;
    if (f->role == MST_ROLE_HOLE && f->kind != MST_FEATURE_AREA) return MST_OK;
    mst_status status = mst_feature_shape(f, m->adjustment, m->arena, &shape, &why);
    if (status == MST_NO_MEMORY) return no_memory(error);
    if (status) {
        bool said = mst_note(&m->notes, m->arena, "%s %s does not count in the ground: %s", mst_role_name(f->role),
                             f->name, why.sentence);
        return said ? MST_OK : no_memory(error);
    }
    if (f->role == MST_ROLE_BOUNDARY)
        return keep_shape(m, &m->boundaries, &m->boundary_count, &m->boundary_capacity, shape) ? MST_OK
                                                                                               : no_memory(error);
    if (f->role == MST_ROLE_HOLE)
        return keep_shape(m, &m->holes, &m->hole_count, &m->hole_capacity, shape) ? MST_OK : no_memory(error);
    for (size_t i = 0; i < shape.count && !status; i++) status = take_line(m, f, &shape.paths[i], error);
    return status;
}

mst_status mst_ground_from_site(const mst_site *site, const mst_adjustment *adjustment, mst_arena *arena,
                                mst_ground **ground, mst_error *error) {
    maker m = {.site = site, .adjustment = adjustment, .arena = arena};
    mst_status status = take_points(&m, error);
    for (size_t i = 0; i < site->feature_count && !status; i++) {
        mst_role role = site->features[i].role;
        if (role == MST_ROLE_BREAKLINE || role == MST_ROLE_BOUNDARY || role == MST_ROLE_HOLE)
            status = take_feature(&m, &site->features[i], error);
    }
    if (status) return status;
    mst_parts parts = {.points = m.points,
                       .point_count = m.point_count,
                       .lines = m.lines,
                       .line_count = m.line_count,
                       .boundaries = m.boundaries,
                       .boundary_count = m.boundary_count,
                       .holes = m.holes,
                       .hole_count = m.hole_count,
                       .threads = 1,
                       .notes = m.notes};
    return mst_ground_make(&parts, arena, ground, error);
}
