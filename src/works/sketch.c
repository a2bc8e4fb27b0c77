#include "works/sketch.h"
#include "geometry/boxtree.h"
#include <math.h>
#include <stdlib.h>

static const double SNAP_M = 1e-9; /* above the rounding of a crossing, far below what anyone builds */
enum { FREE = UINT32_MAX, MOST_ROUNDS = 12 };

static size_t slot_of(const mst_sketch *s, int64_t e, int64_t n) {
    uint64_t h = (uint64_t)e * 0x9e3779b97f4a7c15u ^ ((uint64_t)n + 0x7f4a7c15u) * 0xbf58476d1ce4e5b9u;
    h ^= h >> 29;
    return (size_t)(h * 0x94d049bb133111ebu >> 20) & (s->table_size - 1);
}

static int64_t cell(double x) { return (int64_t)floor(x / (2 * SNAP_M)); }

static void hang_up(mst_sketch *s, uint32_t place) {
    size_t at = slot_of(s, cell(s->at[place][0]), cell(s->at[place][1]));
    while (s->table[at] != FREE) at = (at + 1) & (s->table_size - 1);
    s->table[at] = place;
}

static bool make_room(mst_sketch *s) {
    if (s->table_size && s->place_count * 2 < s->table_size) return true;
    size_t size = s->table_size ? s->table_size * 2 : 64;
    while (size < s->place_count * 4) size *= 2;
    uint32_t *table = mst_arena_array(s->arena, size, sizeof *table);
    if (!table) return false;
    s->table = table;
    s->table_size = size;
    for (size_t i = 0; i < size; i++) table[i] = FREE;
    for (size_t i = 0; i < s->place_count; i++) hang_up(s, (uint32_t)i);
    return true;
}

void mst_sketch_begin(mst_sketch *s, const double (*at)[2], size_t count, mst_arena *arena) {
    *s = (mst_sketch){.arena = arena, .place_capacity = count * 2 + 16};
    s->at = mst_arena_array(arena, s->place_capacity, sizeof *s->at);
    s->failed = !s->at;
    if (s->failed) return;
    for (size_t i = 0; i < count; i++) s->at[i][0] = at[i][0], s->at[i][1] = at[i][1];
    s->place_count = count;
    s->failed = !make_room(s);
}

static uint32_t near_in(const mst_sketch *s, int64_t e, int64_t n, const double at[2]) {
    for (size_t i = slot_of(s, e, n); s->table[i] != FREE; i = (i + 1) & (s->table_size - 1)) {
        const double *p = s->at[s->table[i]];
        if (fabs(p[0] - at[0]) <= SNAP_M && fabs(p[1] - at[1]) <= SNAP_M) return s->table[i];
    }
    return FREE;
}

uint32_t mst_sketch_place(mst_sketch *s, const double at[2]) {
    if (s->failed) return 0;
    int64_t e = cell(at[0]), n = cell(at[1]);
    for (int64_t de = -1; de <= 1; de++)
        for (int64_t dn = -1; dn <= 1; dn++) {
            uint32_t found = near_in(s, e + de, n + dn, at);
            if (found != FREE) return found;
        }
    double(*to)[2] = MST_PUSH(s->arena, s->at, s->place_count, s->place_capacity);
    if (!to || !make_room(s)) return s->failed = true, 0;
    (*to)[0] = at[0], (*to)[1] = at[1];
    hang_up(s, (uint32_t)(s->place_count - 1));
    return (uint32_t)(s->place_count - 1);
}

static void add_segment(mst_sketch *s, uint32_t a, uint32_t b, bool fresh) {
    if (a == b || s->failed) return;
    mst_sketch_segment *to = MST_PUSH(s->arena, s->segments, s->segment_count, s->segment_capacity);
    if (!to) s->failed = true;
    else *to = (mst_sketch_segment){{a < b ? a : b, a < b ? b : a}, fresh};
}

void mst_sketch_line(mst_sketch *s, uint32_t a, uint32_t b) { add_segment(s, a, b, true); }
void mst_sketch_edge(mst_sketch *s, uint32_t a, uint32_t b) { add_segment(s, a, b, false); }

/* ---- settling ---- */

/* A place on a line, along it from its first end. */
typedef struct stop {
    uint32_t segment, place;
    double along;
} stop;

typedef struct stops {
    stop *items;
    size_t count, capacity;
} stops;

static int by_segment(const void *a, const void *b) {
    const stop *x = a, *y = b;
    if (x->segment != y->segment) return x->segment < y->segment ? -1 : 1;
    if (x->along != y->along) return x->along < y->along ? -1 : 1;
    return x->place < y->place ? -1 : x->place > y->place;
}

static int by_ends(const void *a, const void *b) {
    const mst_sketch_segment *x = a, *y = b;
    if (x->end[0] != y->end[0]) return x->end[0] < y->end[0] ? -1 : 1;
    if (x->end[1] != y->end[1]) return x->end[1] < y->end[1] ? -1 : 1;
    return x->fresh - y->fresh; /* one that is settled stands for its doubles */
}

static void drop_doubles(mst_sketch *s) {
    size_t kept = 0;
    if (s->segment_count) qsort(s->segments, s->segment_count, sizeof *s->segments, by_ends);
    for (size_t i = 0; i < s->segment_count; i++) {
        const uint32_t *e = s->segments[i].end, *last = kept ? s->segments[kept - 1].end : NULL;
        if (!last || e[0] != last[0] || e[1] != last[1]) s->segments[kept++] = s->segments[i];
    }
    s->segment_count = kept;
}

static void stop_at(mst_sketch *s, stops *list, uint32_t segment, uint32_t place) {
    const uint32_t *e = s->segments[segment].end;
    if (place == e[0] || place == e[1]) return;
    const double *a = s->at[e[0]], *b = s->at[e[1]], *p = s->at[place];
    stop *to = MST_PUSH(s->arena, list->items, list->count, list->capacity);
    if (!to) s->failed = true;
    else *to = (stop){segment, place, (p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])};
}

/* Twice the area to p's left of the line from a to b. */
static double beside(const double a[2], const double b[2], const double p[2]) {
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
}

static bool lies_on(const mst_sketch *s, const uint32_t line[2], uint32_t place) {
    const double *a = s->at[line[0]], *b = s->at[line[1]], *p = s->at[place];
    double e = b[0] - a[0], n = b[1] - a[1], square = e * e + n * n, along = (p[0] - a[0]) * e + (p[1] - a[1]) * n;
    double off = beside(a, b, p);
    return along > 0 && along < square && off * off <= SNAP_M * SNAP_M * square;
}

/* How two lines meet: at an end of one on the other, or crossing between. */
static void meet(mst_sketch *s, stops *list, uint32_t i, uint32_t k) {
    const uint32_t *e = s->segments[i].end, *f = s->segments[k].end;
    bool touches = false;
    for (int end = 0; end < 2; end++) {
        if (f[end] != e[0] && f[end] != e[1] && lies_on(s, e, f[end])) stop_at(s, list, i, f[end]), touches = true;
        if (e[end] != f[0] && e[end] != f[1] && lies_on(s, f, e[end])) stop_at(s, list, k, e[end]), touches = true;
    }
    if (touches || e[0] == f[0] || e[0] == f[1] || e[1] == f[0] || e[1] == f[1]) return;
    const double *a = s->at[e[0]], *b = s->at[e[1]], *c = s->at[f[0]], *d = s->at[f[1]];
    double c_side = beside(a, b, c), d_side = beside(a, b, d), a_side = beside(c, d, a), b_side = beside(c, d, b);
    if (!(c_side * d_side < 0 && a_side * b_side < 0)) return;
    double t = a_side / (a_side - b_side), at[2] = {a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])};
    uint32_t place = mst_sketch_place(s, at);
    stop_at(s, list, i, place);
    stop_at(s, list, k, place);
}

static bool find_stops(mst_sketch *s, mst_arena *own, stops *list) {
    mst_box *boxes = mst_arena_array(own, s->segment_count + 1, sizeof *boxes);
    mst_boxtree tree;
    if (!boxes) return false;
    for (size_t i = 0; i < s->segment_count; i++) {
        const double *a = s->at[s->segments[i].end[0]], *b = s->at[s->segments[i].end[1]];
        boxes[i] = (mst_box){fmin(a[0], b[0]) - SNAP_M, fmin(a[1], b[1]) - SNAP_M, fmax(a[0], b[0]) + SNAP_M,
                             fmax(a[1], b[1]) + SNAP_M};
    }
    if (mst_boxtree_build(boxes, s->segment_count, true, own, &tree)) return false;
    for (uint32_t i = 0; i < s->segment_count; i++) {
        if (!s->segments[i].fresh) continue;
        mst_boxtree_walk walk = mst_boxtree_window(&tree, boxes[i]);
        uint32_t k;
        while (mst_boxtree_next(&walk, &k))
            if (k > i || !s->segments[k].fresh) meet(s, list, i, k);
    }
    return !s->failed;
}

/* What was not cut is settled now; the pieces are not, for they lie where their line did only to rounding. */
static void cut_at_stops(mst_sketch *s, stops *list) {
    for (size_t i = 0; i < s->segment_count; i++) s->segments[i].fresh = false;
    qsort(list->items, list->count, sizeof *list->items, by_segment);
    for (size_t i = 0, k; i < list->count; i = k) {
        uint32_t segment = list->items[i].segment, from = s->segments[segment].end[0], to = s->segments[segment].end[1];
        s->segments[segment] = (mst_sketch_segment){{from, from}, false};
        for (k = i; k < list->count && list->items[k].segment == segment; k++) {
            mst_sketch_line(s, from, list->items[k].place);
            from = list->items[k].place;
        }
        mst_sketch_line(s, from, to);
    }
    size_t kept = 0;
    for (size_t i = 0; i < s->segment_count; i++)
        if (s->segments[i].end[0] != s->segments[i].end[1]) s->segments[kept++] = s->segments[i];
    s->segment_count = kept;
}

void mst_sketch_settle(mst_sketch *s) {
    for (int round = 0; round < MOST_ROUNDS && !s->failed; round++) {
        mst_arena *own = mst_arena_new();
        stops list = {0};
        drop_doubles(s);
        if (!own || !find_stops(s, own, &list)) s->failed = true;
        if (!s->failed && list.count) cut_at_stops(s, &list);
        mst_arena_free(own);
        if (list.count == 0) return;
    }
}
