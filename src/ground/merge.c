/* Points at one place count once. A hash of square cells as wide as the merging distance finds near points. From west
 * to east, of equal eastings from south to north, each point joins the nearest place within that distance or opens one,
 * so that the places do not depend on the points' order. The first of a place gives its position, all give its level.
 */
#include "ground/model.h"
#include <math.h>
#include <stdlib.h>

static const double MERGE_M = 0.001;       /* no gear on site tells points closer than this apart */
static const double MERGE_HEIGHT_M = 0.05; /* what a staff on rough ground may differ by; more is another point */

typedef struct cell {
    int64_t e, n;
} cell;

/* All that lies beyond counting shares a cell; it is compared by its distance like the rest. */
static int64_t whole(double cells) { return fabs(cells) < 0x1p60 ? (int64_t)floor(cells) : 0; }

static cell cell_of(const mst_merged *m, const double at[2]) {
    return (cell){whole((at[0] - m->origin[0]) / m->cell_m), whole((at[1] - m->origin[1]) / m->cell_m)};
}

static size_t slot_of(const mst_merged *m, cell c) {
    uint64_t h = (uint64_t)c.e * 0x9e3779b97f4a7c15u ^ (uint64_t)c.n * 0xc2b2ae3d27d4eb4fu;
    return (size_t)((h ^ h >> 31) * 0x94d049bb133111ebu >> 17) & (m->table_size - 1);
}

uint32_t mst_merged_at(const mst_merged *m, const mst_part_point points[], const double at[2]) {
    cell c = cell_of(m, at);
    uint32_t found = MST_NOWHERE;
    double nearest = m->cell_m;
    for (int de = -1; de <= 1; de++)
        for (int dn = -1; dn <= 1; dn++)
            for (uint32_t v = m->table[slot_of(m, (cell){c.e + de, c.n + dn})]; v != MST_NOWHERE; v = m->next[v]) {
                const double *p = points[m->first[v]].at;
                double apart = hypot(p[0] - at[0], p[1] - at[1]);
                if (apart < nearest || (apart == nearest && v < found)) nearest = apart, found = v;
            }
    return found;
}

static mst_status make_room(const mst_parts *parts, mst_arena *arena, mst_merged *m) {
    size_t count = parts->point_count;
    for (m->table_size = 16; m->table_size < 2 * count;) m->table_size *= 2;
    m->of_point = mst_arena_array(arena, count, sizeof *m->of_point);
    m->first = mst_arena_array(arena, count, sizeof *m->first);
    m->elevation_m = mst_arena_array(arena, count, sizeof *m->elevation_m);
    m->members = mst_arena_array(arena, count, sizeof *m->members);
    m->next = mst_arena_array(arena, count, sizeof *m->next);
    m->table = mst_arena_array(arena, m->table_size, sizeof *m->table);
    return m->of_point && m->first && m->elevation_m && m->members && m->next && m->table ? MST_OK : MST_NO_MEMORY;
}

static void empty(mst_merged *m) {
    m->count = 0;
    for (size_t i = 0; i < m->table_size; i++) m->table[i] = MST_NOWHERE;
}

static void list(mst_merged *m, const mst_part_point points[], uint32_t v) {
    size_t slot = slot_of(m, cell_of(m, points[m->first[v]].at));
    m->next[v] = m->table[slot];
    m->table[slot] = v;
}

static void add_vertex(mst_merged *m, const mst_part_point points[], uint32_t point) {
    uint32_t v = (uint32_t)m->count++;
    m->first[v] = point;
    m->elevation_m[v] = points[point].elevation_m;
    m->members[v] = 1;
    m->of_point[point] = v;
    list(m, points, v);
}

static mst_status refuse(const mst_parts *parts, uint32_t i, uint32_t j, mst_error *error) {
    if (i > j) return refuse(parts, j, i, error);
    const mst_part_point *a = &parts->points[i], *b = &parts->points[j];
    double apart = fabs(a->elevation_m - b->elevation_m);
    if (a->name && b->name)
        return mst_fail(
            error, MST_INVALID,
            "Points %s and %s lie at one place (%.3f E, %.3f N) but their levels differ by %.3f m; set one aside, mark "
            "its "
            "feature role none or, where the ground has changed between visits, name the visit that counts in the "
            "setting ground.visit.",
            a->name, b->name, a->at[0], a->at[1], apart);
    return mst_fail(
        error, MST_INVALID,
        "Points %lu and %lu lie at one place (%.3f E, %.3f N) but their levels differ by %.3f m; leave one out.",
        (unsigned long)i + 1, (unsigned long)j + 1, a->at[0], a->at[1], apart);
}

/* @return whether every point has a place of its own; the places are complete only then */
static bool take_apart(const mst_parts *parts, mst_merged *m) {
    empty(m);
    for (uint32_t i = 0; i < parts->point_count; i++) {
        m->of_point[i] = MST_NOWHERE;
        if (isnan(parts->points[i].elevation_m)) continue;
        if (mst_merged_at(m, parts->points, parts->points[i].at) != MST_NOWHERE) return false;
        add_vertex(m, parts->points, i);
    }
    return true;
}

typedef struct turn {
    double at[2], elevation_m;
    uint32_t point;
} turn;
static int by_place(const void *a, const void *b) {
    const turn *p = a, *q = b;
    if (p->at[0] != q->at[0]) return p->at[0] < q->at[0] ? -1 : 1;
    if (p->at[1] != q->at[1]) return p->at[1] < q->at[1] ? -1 : 1;
    if (p->elevation_m != q->elevation_m) return p->elevation_m < q->elevation_m ? -1 : 1;
    return p->point < q->point ? -1 : 1;
}

static turn *turns_of(const mst_parts *parts, mst_arena *arena, size_t *count) {
    turn *turns = mst_arena_array(arena, parts->point_count, sizeof *turns);
    *count = 0;
    for (uint32_t i = 0; turns && i < parts->point_count; i++) {
        const mst_part_point *p = &parts->points[i];
        if (!isnan(p->elevation_m)) turns[(*count)++] = (turn){{p->at[0], p->at[1]}, p->elevation_m, i};
    }
    if (turns) qsort(turns, *count, sizeof *turns, by_place);
    return turns;
}

static mst_status take_together(const mst_parts *parts, const turn turns[], size_t count, mst_merged *m,
                                mst_error *error) {
    double allowed = parts->merge_height_m > 0 ? parts->merge_height_m : MERGE_HEIGHT_M;
    empty(m);
    for (size_t k = 0; k < count; k++) {
        uint32_t i = turns[k].point, v = mst_merged_at(m, parts->points, turns[k].at);
        if (v == MST_NOWHERE) {
            add_vertex(m, parts->points, i);
            continue;
        }
        if (fabs(parts->points[m->first[v]].elevation_m - turns[k].elevation_m) > allowed)
            return refuse(parts, m->first[v], i, error);
        m->of_point[i] = v;
        m->members[v]++;
        m->elevation_m[v] += (turns[k].elevation_m - m->elevation_m[v]) / m->members[v];
    }
    return MST_OK;
}

/* Places stand in the order of their earliest points. */
static bool renumber(const mst_parts *parts, mst_merged *m, mst_arena *scratch) {
    uint32_t *number = mst_arena_array(scratch, m->count, sizeof *number), *first = m->first, *members = m->members;
    double *elevation_m = m->elevation_m;
    size_t count = m->count;
    m->first = mst_arena_array(scratch, count, sizeof *m->first);
    m->members = mst_arena_array(scratch, count, sizeof *m->members);
    m->elevation_m = mst_arena_array(scratch, count, sizeof *m->elevation_m);
    if (!number || !m->first || !m->members || !m->elevation_m) return false;
    for (size_t v = 0; v < count; v++) number[v] = MST_NOWHERE;
    uint32_t places = 0;
    for (size_t i = 0; i < parts->point_count; i++) {
        uint32_t v = m->of_point[i];
        if (v == MST_NOWHERE) continue;
        if (number[v] == MST_NOWHERE) {
            number[v] = places++;
            m->first[number[v]] = first[v];
            m->members[number[v]] = members[v];
            m->elevation_m[number[v]] = elevation_m[v];
        }
        m->of_point[i] = number[v];
    }
    empty(m);
    for (m->count = 0; m->count < count; m->count++) list(m, parts->points, (uint32_t)m->count);
    return true;
}

mst_status mst_merge_points(const mst_parts *parts, mst_arena *arena, mst_merged *merged, mst_error *error) {
    mst_merged m = {.cell_m = parts->merge_m > 0 ? parts->merge_m : MERGE_M};
    if (make_room(parts, arena, &m)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if (parts->point_count) m.origin[0] = parts->points[0].at[0], m.origin[1] = parts->points[0].at[1];
    if (!take_apart(parts, &m)) {
        size_t count;
        turn *turns = turns_of(parts, arena, &count);
        if (!turns) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
        for (size_t i = 0; i < parts->point_count; i++) m.of_point[i] = MST_NOWHERE;
        mst_status status = take_together(parts, turns, count, &m, error);
        if (status) return status;
        if (!renumber(parts, &m, arena)) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    }
    *merged = m;
    return MST_OK;
}
