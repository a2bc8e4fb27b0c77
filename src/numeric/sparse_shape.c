/* Unknowns with the same neighbours are one node. A node's rows are
 * its neighbours' and its children's rows (Liu, SIAM Review 34 (1992) 82-109). Nodes with the same rows make a front;
 * a front joins its parent where the zeros so stored cost less than the handling of two (Ashcraft, Grimes, ACM TOMS 15
 * (1989) 291-309). */
#include "numeric/sparse_shape.h"
#include "numeric/panel.h"
#include "numeric/sparse_order.h"
#include <string.h>

#define NO UINT32_MAX

/* The matrix in nodes, and its elimination in groups of nodes; groups are numbered by their first node. */
typedef struct shaping {
    const mst_pattern *pattern;
    mst_arena *arena;
    size_t nodes, groups;
    uint32_t *node_of;               /* [unknowns] */
    uint32_t *member_start, *member; /* unknowns of each node */
    int *start, *other, *order;      /* of the nodes: neighbours; node at each position */
    uint32_t *position;              /* [nodes] */
    uint32_t *group_of;              /* [positions] */
    uint32_t *parent;                /* [groups] */
    uint32_t *width, *below;         /* [groups] unknowns */
    double *zeros;                   /* [groups] entries that are stored though zero */
    size_t *list_start;              /* [groups] rows below, as positions, in no order */
    uint32_t *list_count, *list;
    size_t list_size, list_capacity;
    uint32_t *top; /* [groups] the group that it has joined in the end */
} shaping;

/* ---- nodes ---- */

static uint64_t mix(uint64_t x) { /* the finalizer of Steele, Lea, Flood, OOPSLA 2014 */
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
    return x ^ (x >> 31);
}

static bool same_neighbours(const mst_pattern *p, uint32_t a, uint32_t b, uint32_t mark[], uint32_t stamp) {
    mark[a] = stamp;
    for (uint32_t k = p->start[a]; k < p->start[a + 1]; k++) mark[p->other[k]] = stamp;
    if (mark[b] != stamp) return false;
    for (uint32_t k = p->start[b]; k < p->start[b + 1]; k++)
        if (mark[p->other[k]] != stamp) return false;
    return true;
}

static bool find_nodes(shaping *s) {
    const mst_pattern *p = s->pattern;
    size_t n = p->unknowns;
    uint64_t *hash = mst_arena_array(s->arena, n + 1, sizeof *hash);
    uint32_t *mark = mst_arena_array(s->arena, n + 1, sizeof *mark), stamp = 0;
    s->node_of = mst_arena_array(s->arena, n + 1, sizeof *s->node_of);
    s->member_start = mst_arena_array(s->arena, n + 2, sizeof *s->member_start);
    s->member = mst_arena_array(s->arena, n + 1, sizeof *s->member);
    if (!hash || !mark || !s->node_of || !s->member_start || !s->member) return false;
    for (uint32_t j = 0; j < n; j++) {
        hash[j] = mix(j + 1);
        for (uint32_t k = p->start[j]; k < p->start[j + 1]; k++) hash[j] += mix(p->other[k] + 1u);
    }
    for (uint32_t j = 0; j < n; j++) { /* an earlier neighbour that is the same is already in its node */
        s->node_of[j] = NO;
        uint32_t degree = p->start[j + 1] - p->start[j];
        for (uint32_t k = p->start[j]; k < p->start[j + 1] && s->node_of[j] == NO; k++) {
            uint32_t i = p->other[k];
            if (i < j && hash[i] == hash[j] && p->start[i + 1] - p->start[i] == degree &&
                same_neighbours(p, i, j, mark, ++stamp))
                s->node_of[j] = s->node_of[i];
        }
        if (s->node_of[j] == NO) s->node_of[j] = (uint32_t)s->nodes++;
        s->member_start[s->node_of[j] + 2]++;
    }
    for (size_t i = 0; i < s->nodes; i++) s->member_start[i + 2] += s->member_start[i + 1];
    for (uint32_t j = 0; j < n; j++) s->member[s->member_start[s->node_of[j] + 1]++] = j;
    return true;
}

static uint32_t first_of(const shaping *s, size_t node) { return s->member[s->member_start[node]]; }
static uint32_t weight_of(const shaping *s, size_t node) { return s->member_start[node + 1] - s->member_start[node]; }
static uint32_t weight_at(const shaping *s, size_t position) { return weight_of(s, (size_t)s->order[position]); }

static bool order_nodes(shaping *s, const double (*place)[2]) {
    const mst_pattern *p = s->pattern;
    s->start = mst_arena_array(s->arena, s->nodes + 1, sizeof *s->start);
    s->other = mst_arena_array(s->arena, (size_t)p->start[p->unknowns] + 1, sizeof *s->other);
    s->order = mst_arena_array(s->arena, s->nodes + 1, sizeof *s->order);
    s->position = mst_arena_array(s->arena, s->nodes + 1, sizeof *s->position);
    uint32_t *weight = mst_arena_array(s->arena, s->nodes + 1, sizeof *weight);
    mst_graph graph = {s->nodes, s->start, s->other, weight, NULL};
    if (place) graph.place = mst_arena_array(s->arena, s->nodes + 1, sizeof *graph.place);
    if (!s->start || !s->other || !s->order || !s->position || !weight || (place && !graph.place)) return false;
    int total = 0;
    for (size_t i = 0; i < s->nodes; i++) {
        uint32_t j = first_of(s, i);
        weight[i] = weight_of(s, i);
        if (place) graph.place[i][0] = place[j][0], graph.place[i][1] = place[j][1];
        for (uint32_t k = p->start[j]; k < p->start[j + 1]; k++) {
            uint32_t node = s->node_of[p->other[k]];
            if (node != i && first_of(s, node) == p->other[k]) s->other[total++] = (int)node;
        }
        s->start[i + 1] = total;
    }
    if (!mst_order_find(&graph, s->arena, s->order)) return false;
    for (size_t k = 0; k < s->nodes; k++) s->position[s->order[k]] = (uint32_t)k;
    return true;
}

/* ---- groups ---- */

/* The groups whose first row below is a given position wait there to become the children of its group. */
typedef struct waiting {
    uint32_t *first, *next; /* [positions], [groups] */
} waiting;

/* Rows below position k: those of its neighbours and of the groups that wait at it. @return how many, in rows */
static uint32_t rows_of(const shaping *s, const waiting *w, uint32_t k, uint32_t mark[], uint32_t rows[]) {
    uint32_t count = 0;
    int node = s->order[k];
    mark[k] = k;
    for (int i = s->start[node]; i < s->start[node + 1]; i++) {
        uint32_t at = s->position[s->other[i]];
        if (at > k && mark[at] != k) mark[at] = k, rows[count++] = at;
    }
    for (uint32_t g = w->first[k]; g != NO; g = w->next[g])
        for (uint32_t i = 0; i < s->list_count[g]; i++) {
            uint32_t at = s->list[s->list_start[g] + i];
            if (mark[at] != k) mark[at] = k, rows[count++] = at;
        }
    return count;
}

/* A list that only grows; old blocks stay in the arena. */
static bool keep_list(shaping *s, const uint32_t rows[], uint32_t count) {
    while (s->list_size + count > s->list_capacity) {
        size_t room = 2 * s->list_capacity + 4096;
        uint32_t *grown = mst_arena_array(s->arena, room, sizeof *grown);
        if (!grown) return false;
        if (s->list_size) memcpy(grown, s->list, s->list_size * sizeof *grown);
        s->list = grown;
        s->list_capacity = room;
    }
    if (count) memcpy(s->list + s->list_size, rows, count * sizeof *rows);
    s->list_size += count;
    return true;
}

/* Position k joins its only child's group when it brings no row of its own; else it begins one. */
static bool place_in_group(shaping *s, waiting *w, uint32_t k, const uint32_t rows[], uint32_t count) {
    uint32_t only = w->first[k], group = only;
    if (only != NO && w->next[only] == NO && s->list_count[only] == count + 1) {
        if (count) memcpy(s->list + s->list_start[only], rows, count * sizeof *rows);
    } else {
        group = (uint32_t)s->groups++;
        s->list_start[group] = s->list_size;
        if (!keep_list(s, rows, count)) return false;
        for (uint32_t g = w->first[k]; g != NO; g = w->next[g]) s->parent[g] = group;
    }
    s->group_of[k] = group;
    s->list_count[group] = count;
    s->width[group] += weight_at(s, k);
    s->parent[group] = NO;
    uint32_t next = NO;
    for (uint32_t i = 0; i < count; i++)
        if (rows[i] < next) next = rows[i];
    if (next == NO) return true;
    w->next[group] = w->first[next];
    w->first[next] = group;
    return true;
}

static bool find_groups(shaping *s) {
    size_t n = s->nodes + 1;
    waiting w = {mst_arena_array(s->arena, n, sizeof *w.first), mst_arena_array(s->arena, n, sizeof *w.next)};
    uint32_t *mark = mst_arena_array(s->arena, n, sizeof *mark), *rows = mst_arena_array(s->arena, n, sizeof *rows);
    s->group_of = mst_arena_array(s->arena, n, sizeof *s->group_of);
    s->parent = mst_arena_array(s->arena, n, sizeof *s->parent);
    s->width = mst_arena_array(s->arena, n, sizeof *s->width);
    s->below = mst_arena_array(s->arena, n, sizeof *s->below);
    s->zeros = mst_arena_array(s->arena, n, sizeof *s->zeros);
    s->list_start = mst_arena_array(s->arena, n, sizeof *s->list_start);
    s->list_count = mst_arena_array(s->arena, n, sizeof *s->list_count);
    if (!w.first || !w.next || !mark || !rows || !s->group_of || !s->parent || !s->width || !s->below || !s->zeros ||
        !s->list_start || !s->list_count)
        return false;
    for (size_t k = 0; k < s->nodes; k++) w.first[k] = mark[k] = NO;
    for (uint32_t k = 0; k < s->nodes; k++)
        if (!place_in_group(s, &w, k, rows, rows_of(s, &w, k, mark, rows))) return false;
    for (size_t g = 0; g < s->groups; g++)
        for (uint32_t i = 0; i < s->list_count[g]; i++) s->below[g] += weight_at(s, s->list[s->list_start[g] + i]);
    return true;
}

/* ---- joining groups ---- */

static double entries(double width, double below) { return width * (width + 1) / 2 + width * below; }

/* Whether a child and its parent are better handled as one: the narrower they are, the more zeros it may cost. */
static bool is_worth_joining(double width, double zeros, double total) {
    static const struct { double width, share; } UP_TO[] = {{8, 0.5}, {16, 0.3}, {32, 0.12}, {64, 0.05}};
    for (int i = 0; i < 4; i++)
        if (width <= UP_TO[i].width) return zeros <= UP_TO[i].share * total;
    return zeros <= 0.01 * total;
}

static bool join_groups(shaping *s) {
    s->top = mst_arena_array(s->arena, s->groups + 1, sizeof *s->top);
    if (!s->top) return false;
    for (uint32_t g = 0; g < s->groups; g++) {
        uint32_t p = s->parent[g];
        s->top[g] = g;
        if (p == NO) continue;
        double width = (double)s->width[g] + s->width[p], total = entries(width, s->below[p]);
        double zeros =
            s->zeros[g] + s->zeros[p] + total - entries(s->width[g], s->below[g]) - entries(s->width[p], s->below[p]);
        if (!is_worth_joining(width, zeros, total)) continue;
        s->top[g] = p;
        s->width[p] += s->width[g];
        s->zeros[p] = zeros;
    }
    for (size_t g = s->groups; g-- > 0;) s->top[g] = s->top[s->top[g]]; /* a parent has a larger number */
    return true;
}

/* ---- fronts ---- */

/* The tree of what is left of the groups, and a walk through it. */
typedef struct tree {
    uint32_t *child, *sibling; /* by group; roots hang on group `groups` */
    uint32_t *front_of;
    double *peak; /* room that the fronts hanging on it need at most */
} tree;

static double passed(double below) { return below * below; }

/* Puts the child that needs most room first: the others' needs come while little is kept (Liu, ACM TOMS 12 (1986)
 * 249-264, of whose order this is the main part). */
static bool hang_up(const shaping *s, tree *t) {
    size_t n = s->groups + 1;
    t->child = mst_arena_array(s->arena, n, sizeof *t->child);
    t->sibling = mst_arena_array(s->arena, n, sizeof *t->sibling);
    t->front_of = mst_arena_array(s->arena, n, sizeof *t->front_of);
    t->peak = mst_arena_array(s->arena, n, sizeof *t->peak);
    if (!t->child || !t->sibling || !t->front_of || !t->peak) return false;
    for (size_t g = 0; g < n; g++) t->child[g] = NO;
    for (uint32_t g = 0; g < s->groups; g++) {
        if (s->top[g] != g) continue;
        double own = passed(s->below[g]) + passed((double)s->width[g] + s->below[g]);
        t->peak[g] = t->peak[g] > own ? t->peak[g] : own; /* so far that of its children */
        uint32_t p = s->parent[g] == NO ? (uint32_t)s->groups : s->top[s->parent[g]], head = t->child[p];
        bool first = head == NO || t->peak[g] - passed(s->below[g]) > t->peak[head] - passed(s->below[head]);
        t->sibling[g] = first ? head : t->sibling[head];
        if (first) t->child[p] = g;
        else t->sibling[head] = g;
        if (t->peak[g] > t->peak[p]) t->peak[p] = t->peak[g];
    }
    return true;
}

/* Numbers the fronts, children before parents, without recursion: parents before children, from the far end. */
static bool number_fronts(const shaping *s, const tree *t, mst_shape *shape) {
    uint32_t *stack = mst_arena_array(s->arena, s->groups + 1, sizeof *stack), depth = 0, next = 0;
    if (!stack) return false;
    for (uint32_t g = 0; g < s->groups; g++) next += s->top[g] == g;
    shape->front_count = next;
    for (uint32_t g = t->child[s->groups]; g != NO; g = t->sibling[g]) stack[depth++] = g;
    while (depth > 0) {
        uint32_t g = stack[--depth];
        t->front_of[g] = --next;
        for (uint32_t c = t->child[g]; c != NO; c = t->sibling[c]) stack[depth++] = c;
    }
    return true;
}

static void link_fronts(const shaping *s, const tree *t, mst_shape *shape) {
    for (uint32_t f = 0; f < shape->front_count; f++)
        shape->fronts[f] =
            (mst_front){.parent = MST_NO_FRONT, .child = MST_NO_FRONT, .sibling = MST_NO_FRONT, .lowest = f};
    for (uint32_t g = 0; g < s->groups; g++) {
        if (s->top[g] != g) continue;
        mst_front *f = &shape->fronts[t->front_of[g]];
        f->columns = s->width[g];
        f->below = s->below[g];
        f->stride = (uint32_t)mst_panel_stride((size_t)f->columns + f->below);
        if (s->parent[g] != NO) f->parent = t->front_of[s->top[s->parent[g]]];
    }
    for (uint32_t f = (uint32_t)shape->front_count; f-- > 0;) { /* backwards, so that children come in order */
        uint32_t p = shape->fronts[f].parent;
        if (p == MST_NO_FRONT) continue;
        shape->fronts[f].sibling = shape->fronts[p].child;
        shape->fronts[p].child = f;
    }
    for (uint32_t f = 0; f < shape->front_count; f++) {
        const mst_front *one = &shape->fronts[f];
        if (one->parent != MST_NO_FRONT && one->lowest < shape->fronts[one->parent].lowest)
            shape->fronts[one->parent].lowest = one->lowest;
    }
}

/* Gives each front its columns; within one, nodes keep their order, so that children still come first. */
static void give_places(const shaping *s, const tree *t, mst_shape *shape) {
    uint32_t first = 0;
    for (size_t f = 0; f < shape->front_count; f++) {
        shape->fronts[f].first = first;
        first += shape->fronts[f].columns;
        shape->fronts[f].columns = 0;
    }
    for (size_t k = 0; k < s->nodes; k++) {
        mst_front *f = &shape->fronts[t->front_of[s->top[s->group_of[k]]]];
        size_t node = (size_t)s->order[k];
        for (uint32_t m = s->member_start[node]; m < s->member_start[node + 1]; m++)
            shape->order[f->first + f->columns++] = s->member[m];
    }
    for (size_t k = 0; k < shape->unknowns; k++) shape->place_of[shape->order[k]] = (uint32_t)k;
}

/* Which fronts have each node among their rows below. */
typedef struct holders {
    size_t *start;
    uint32_t *front;
} holders;

static bool find_holders(const shaping *s, const tree *t, holders *h) {
    h->start = mst_arena_array(s->arena, s->nodes + 2, sizeof *h->start);
    h->front = mst_arena_array(s->arena, s->list_size + 1, sizeof *h->front);
    if (!h->start || !h->front) return false;
    for (uint32_t g = 0; g < s->groups; g++)
        for (uint32_t i = 0; s->top[g] == g && i < s->list_count[g]; i++)
            h->start[s->order[s->list[s->list_start[g] + i]] + 2]++;
    for (size_t i = 0; i < s->nodes; i++) h->start[i + 2] += h->start[i + 1];
    for (uint32_t g = 0; g < s->groups; g++)
        for (uint32_t i = 0; s->top[g] == g && i < s->list_count[g]; i++)
            h->front[h->start[s->order[s->list[s->list_start[g] + i]] + 1]++] = t->front_of[g];
    return true;
}

/* Writes every front's rows below in ascending order, by going through all places once. */
static bool list_rows(const shaping *s, const tree *t, mst_shape *shape, mst_arena *arena) {
    holders h;
    size_t total = 0;
    if (!find_holders(s, t, &h)) return false;
    for (size_t f = 0; f < shape->front_count; f++) {
        shape->fronts[f].list = total;
        total += shape->fronts[f].below;
        shape->fronts[f].below = 0;
    }
    shape->list_size = total;
    shape->row = mst_arena_array(arena, total + 1, sizeof *shape->row);
    shape->into = mst_arena_array(arena, total + 1, sizeof *shape->into);
    if (!shape->row || !shape->into) return false;
    for (uint32_t k = 0; k < shape->unknowns; k++) {
        uint32_t node = s->node_of[shape->order[k]];
        for (size_t i = h.start[node]; i < h.start[node + 1]; i++) {
            mst_front *f = &shape->fronts[h.front[i]];
            shape->row[f->list + f->below++] = k;
        }
    }
    for (size_t f = 0; f < shape->front_count; f++) {
        const mst_front *one = &shape->fronts[f];
        for (uint32_t i = 0; i < one->below; i++)
            shape->into[one->list + i] = mst_shape_local(shape, one->parent, shape->row[one->list + i]);
    }
    return true;
}

uint32_t mst_shape_local(const mst_shape *shape, uint32_t front, uint32_t place) {
    const mst_front *f = &shape->fronts[front];
    if (place < f->first + f->columns) return place - f->first;
    const uint32_t *row = shape->row + f->list;
    uint32_t low = 0, high = f->below;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (row[middle] < place) low = middle + 1;
        else high = middle;
    }
    return f->columns + low;
}

/* ---- room ---- */

size_t mst_shape_passed(const mst_front *f) {
    size_t columns = ((size_t)f->below + MST_TILE_COLUMNS - 1) / MST_TILE_COLUMNS * MST_TILE_COLUMNS;
    return f->below ? columns * mst_panel_stride(f->below) : 0;
}

/* How high the stack of what is passed on grows: a front's own comes on top of its children's before those go. */
static void measure_stack(mst_shape *shape) {
    size_t top = 0;
    for (size_t f = 0; f < shape->front_count; f++) {
        const mst_front *one = &shape->fronts[f];
        size_t own = mst_shape_passed(one);
        if (top + own > shape->stack_size) shape->stack_size = top + own;
        for (uint32_t c = one->child; c != MST_NO_FRONT; c = shape->fronts[c].sibling)
            top -= mst_shape_passed(&shape->fronts[c]);
        top += own;
    }
}

/* The same for the inverse, which needs a front's ancestors. */
static bool measure_inverse(mst_shape *shape, mst_arena *scratch) {
    size_t *end = mst_arena_array(scratch, shape->front_count + 1, sizeof *end);
    if (!end) return false;
    for (size_t f = shape->front_count; f-- > 0;) {
        const mst_front *one = &shape->fronts[f];
        size_t rows = (size_t)one->columns + one->below;
        end[f] = (one->parent == MST_NO_FRONT ? 0 : end[one->parent]) + rows * one->stride;
        if (end[f] > shape->inverse_size) shape->inverse_size = end[f];
        if (rows > shape->rows_max) shape->rows_max = rows;
    }
    return true;
}

static void lay_out_panels(mst_shape *shape) {
    for (size_t f = 0; f < shape->front_count; f++) {
        shape->fronts[f].panel = shape->panel_size;
        shape->panel_size += (size_t)shape->fronts[f].columns * shape->fronts[f].stride;
    }
}

bool mst_shape_find(const mst_pattern *pattern, const double (*place)[2], mst_arena *arena, mst_arena *scratch,
                    mst_shape *shape) {
    shaping s = {.pattern = pattern, .arena = scratch};
    tree t;
    size_t n = pattern->unknowns;
    *shape = (mst_shape){.unknowns = n};
    if (!find_nodes(&s) || !order_nodes(&s, place) || !find_groups(&s) || !join_groups(&s) || !hang_up(&s, &t) ||
        !number_fronts(&s, &t, shape))
        return false;
    shape->order = mst_arena_array(arena, n + 1, sizeof *shape->order);
    shape->place_of = mst_arena_array(arena, n + 1, sizeof *shape->place_of);
    shape->fronts = mst_arena_array(arena, shape->front_count + 1, sizeof *shape->fronts);
    if (!shape->order || !shape->place_of || !shape->fronts) return false;
    link_fronts(&s, &t, shape);
    give_places(&s, &t, shape);
    if (!list_rows(&s, &t, shape, arena) || !measure_inverse(shape, scratch)) return false;
    measure_stack(shape);
    lay_out_panels(shape);
    return true;
}
