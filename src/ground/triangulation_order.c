/* The order of places: along a curve that visits the cells of a square grid by interleaving the bits of column and row
 * (G. M. Morton, A computer oriented geodetic data base, IBM, 1966), so that neighbours on the ground are neighbours in
 * memory and every bit of the key is a cut between two groups. A crowded cell gets a grid of its own; a few points in
 * one cell are sorted by easting, northing and index. The order depends on the places alone, not on the input's order
 * nor on the number of threads. */
#include "base/parallel.h"
#include "ground/triangulation.h"
#include <string.h>

enum {
    MOST_AXIS_BITS = 16,
    LEVELS_OF_GRID = 2 * MOST_AXIS_BITS,
    GRIDS = 6,
    FEW = 16,
    SAME_CELL = 254,
    DUPLICATE = 255,
    RADIX_BITS = 11,
    RADIX = 1 << RADIX_BITS,
    CHUNKS = 64,
    CHUNK_LEAST = 1 << 14
};
/* Beyond these an in-circle determinant (fourth power) could overflow or lose its last bit. */
static const double SMALLEST_M = 0x1p-180, LARGEST_M = 0x1p240;

typedef struct item {
    uint32_t key, index;
} item;
typedef struct frame {
    double least[2], scale;
    uint32_t last;
} frame;
typedef struct box {
    double least[2], most[2];
} box;

/* What a chunk of the list finds for itself. */
typedef struct chunk {
    box box;
    double unit;
    size_t bad, from, duplicates; /* from: the start of its first cell */
    uint32_t start[RADIX];
} chunk;

typedef struct work {
    const double (*points)[2];
    item *items, *spare;
    size_t count;
    uint8_t *level;
    double (*at)[2];
    uint32_t *input_index;
    frame frame;
    int shift, bits;
    chunk *chunks;
    int chunk_count;
} work;

static size_t chunk_start(const work *w, int index) { return w->count * (size_t)index / (size_t)w->chunk_count; }

/* ---- positions, and the box around them ---- */

static void widen(box *b, const double p[2]) {
    for (int k = 0; k < 2; k++) {
        b->least[k] = p[k] < b->least[k] ? p[k] : b->least[k];
        b->most[k] = p[k] > b->most[k] ? p[k] : b->most[k];
    }
}

static bool usable(double x) { return fabs(x) <= LARGEST_M && (fabs(x) >= SMALLEST_M || x == 0); }

static void survey_chunk(void *context, int index) {
    work *w = context;
    chunk *c = &w->chunks[index];
    size_t from = chunk_start(w, index), to = chunk_start(w, index + 1);
    c->box = (box){{w->points[from][0], w->points[from][1]}, {w->points[from][0], w->points[from][1]}};
    c->bad = SIZE_MAX;
    for (size_t i = from; i < to; i++) {
        const double *p = w->points[i];
        if (!usable(p[0]) || !usable(p[1])) {
            c->bad = i;
            return;
        }
        widen(&c->box, p);
    }
    c->unit = mst_common_unit(w->points + from, to - from);
}

static mst_status survey(work *w, int threads, box *all, double *unit, mst_error *error) {
    mst_parallel(threads, w->chunk_count, survey_chunk, w);
    *all = w->chunks[0].box;
    *unit = w->chunks[0].unit;
    for (int i = 0; i < w->chunk_count; i++) {
        const chunk *c = &w->chunks[i];
        if (c->bad != SIZE_MAX)
            return mst_fail(error, MST_INVALID, "Point %zu has no usable %s; correct it or leave it out.", c->bad + 1,
                            usable(w->points[c->bad][0]) ? "northing" : "easting");
        widen(all, c->box.least);
        widen(all, c->box.most);
        if (c->unit < *unit) *unit = c->unit;
    }
    return MST_OK;
}

/* ---- keys ---- */

/* Bits of a column so that there are some four cells to a point. */
static int axis_bits(size_t count) {
    int bits = 2;
    while (bits < MOST_AXIS_BITS && (size_t)1 << (2 * bits) < 4 * count) bits++;
    return bits;
}

/* A square of 2^bits x 2^bits cells; scale 0 when there is but one place. */
static frame frame_of(const box *b, int bits) {
    double width = b->most[0] - b->least[0], height = b->most[1] - b->least[1], side = width > height ? width : height;
    uint32_t cells = (uint32_t)1 << bits;
    return (frame){{b->least[0], b->least[1]}, side > 0 ? (cells - 0.5) / side : 0, cells - 1};
}

static uint32_t spread(uint32_t x) {
    x = (x | x << 8) & 0x00FF00FF;
    x = (x | x << 4) & 0x0F0F0F0F;
    x = (x | x << 2) & 0x33333333;
    return (x | x << 1) & 0x55555555;
}
/* Rises with each coordinate, so a cut between keys is a cut between coordinates: even bits easting, odd northing. */
static uint32_t key_of(const frame *f, const double p[2]) {
    uint32_t column = (uint32_t)((p[0] - f->least[0]) * f->scale), row = (uint32_t)((p[1] - f->least[1]) * f->scale);
    return spread(column < f->last ? column : f->last) | spread(row < f->last ? row : f->last) << 1;
}

/* ---- sort by key, least digits first ---- */

static int digit_bits(int bits) {
    return bits <= RADIX_BITS ? bits : bits <= 2 * RADIX_BITS ? (bits + 1) / 2 : (bits + 2) / 3;
}

static void count_digits(const work *w, size_t from, size_t to, uint32_t counts[RADIX]) {
    uint32_t mask = ((uint32_t)1 << w->bits) - 1;
    memset(counts, 0, sizeof(uint32_t) << w->bits);
    for (size_t i = from; i < to; i++) counts[w->items[i].key >> w->shift & mask]++;
}
static void deal_digits(const work *w, size_t from, size_t to, uint32_t start[RADIX]) {
    uint32_t mask = ((uint32_t)1 << w->bits) - 1;
    for (size_t i = from; i < to; i++) w->spare[start[w->items[i].key >> w->shift & mask]++] = w->items[i];
}
static void count_chunk(void *context, int index) {
    const work *w = context;
    count_digits(w, chunk_start(w, index), chunk_start(w, index + 1), w->chunks[index].start);
}
static void deal_chunk(void *context, int index) {
    const work *w = context;
    deal_digits(w, chunk_start(w, index), chunk_start(w, index + 1), w->chunks[index].start);
}
static void swap_lists(work *w) {
    item *items = w->items;
    w->items = w->spare;
    w->spare = items;
}

static void sort_all(work *w, int threads, int bits) {
    w->bits = digit_bits(bits);
    for (w->shift = 0; w->shift < bits; w->shift += w->bits) {
        mst_parallel(threads, w->chunk_count, count_chunk, w);
        uint32_t sum = 0;
        for (int digit = 0; digit < 1 << w->bits; digit++)
            for (int i = 0; i < w->chunk_count; i++) {
                uint32_t here = w->chunks[i].start[digit];
                w->chunks[i].start[digit] = sum;
                sum += here;
            }
        mst_parallel(threads, w->chunk_count, deal_chunk, w);
        swap_lists(w);
    }
}

/* As sort_all, for one stretch; the result stays in items. */
static void sort_stretch(const work *whole, size_t from, size_t to, int bits) {
    work w = *whole;
    uint32_t start[RADIX];
    w.bits = digit_bits(bits);
    for (w.shift = 0; w.shift < bits; w.shift += w.bits) {
        count_digits(&w, from, to, start);
        uint32_t sum = (uint32_t)from;
        for (int digit = 0; digit < 1 << w.bits; digit++) {
            uint32_t here = start[digit];
            start[digit] = sum;
            sum += here;
        }
        deal_digits(&w, from, to, start);
        swap_lists(&w);
    }
    if (w.items != whole->items) memcpy(whole->items + from, w.items + from, (to - from) * sizeof *w.items);
}

/* ---- a few points, and many that no grid parts ---- */

static bool earlier(const double p[2], uint32_t i, const double q[2], uint32_t j) {
    if (p[0] != q[0]) return p[0] < q[0];
    if (p[1] != q[1]) return p[1] < q[1];
    return i < j;
}

static void sort_few(const work *w, size_t from, size_t to) {
    for (size_t i = from + 1; i < to; i++) {
        item moving = w->items[i];
        double at[2] = {w->at[i][0], w->at[i][1]};
        size_t j = i;
        for (; j > from && earlier(at, moving.index, w->at[j - 1], w->items[j - 1].index); j--) {
            w->items[j] = w->items[j - 1];
            w->at[j][0] = w->at[j - 1][0], w->at[j][1] = w->at[j - 1][1];
        }
        w->items[j] = moving;
        w->at[j][0] = at[0], w->at[j][1] = at[1];
    }
}

static void gather(const work *w, size_t from, size_t to) {
    for (size_t i = from; i < to; i++) {
        const double *p = w->points[w->items[i].index];
        w->at[i][0] = p[0], w->at[i][1] = p[1];
    }
}

static void merge(const work *w, const item *a, size_t a_count, const item *b, size_t b_count, item *out) {
    while (a_count && b_count) {
        bool take_b = earlier(w->points[b->index], b->index, w->points[a->index], a->index);
        *out++ = take_b ? *b++ : *a++;
        if (take_b) b_count--;
        else a_count--;
    }
    memcpy(out, a, a_count * sizeof *a);
    memcpy(out + a_count, b, b_count * sizeof *b);
}
static void sort_many(const work *w, size_t from, size_t to) {
    item *a = w->items, *b = w->spare;
    for (size_t i = from; i < to; i += FEW) sort_few(w, i, i + FEW < to ? i + FEW : to);
    for (size_t run = FEW; run < to - from; run *= 2) {
        for (size_t low = from; low < to; low += 2 * run) {
            size_t middle = low + run < to ? low + run : to, high = middle + run < to ? middle + run : to;
            merge(w, a + low, middle - low, a + middle, high - middle, b + low);
        }
        item *swap = a;
        a = b, b = swap;
    }
    if (a != w->items) memcpy(w->items + from, a + from, (to - from) * sizeof *a);
    gather(w, from, to);
}

static uint8_t lowest_bit(size_t x) {
    uint8_t bit = 0;
    while (!(x & 1)) x >>= 1, bit++;
    return bit;
}

/* One cell: sorted by easting, cut in halves of halves. */
static void order_sorted(const work *w, size_t from, size_t to) {
    if (to - from <= FEW) sort_few(w, from, to);
    else sort_many(w, from, to);
    size_t places = 1;
    for (size_t i = from + 1; i < to; i++) {
        bool same = w->at[i][0] == w->at[i - 1][0] && w->at[i][1] == w->at[i - 1][1];
        w->level[i] = same ? DUPLICATE : lowest_bit(places++);
    }
}

/* ---- cuts between cells ---- */

/* The exponent of x as a double: its highest bit. */
static inline int highest_bit(uint32_t x) {
    double value = x;
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return (int)(bits >> 52) - 1023;
}

static void mark_cuts(const work *w, size_t from, size_t to, int grid) {
    int base = LEVELS_OF_GRID * (GRIDS - grid);
    for (size_t i = from; i < to; i++) {
        uint32_t differ = w->items[i - 1].key ^ w->items[i].key;
        w->level[i] = (uint8_t)(differ ? base + highest_bit(differ) : SAME_CELL);
    }
}

static void order_grid(const work *w, size_t from, size_t to, int grid);

/* Orders what shares a cell; the stretch starts and ends between cells. */
static void refine(const work *w, size_t from, size_t to, int grid) {
    for (size_t start = from; start < to;) {
        size_t end = start + 1;
        while (end < to && w->level[end] == SAME_CELL) end++;
        if (end - start > FEW) order_grid(w, start, end, grid + 1);
        else if (end - start > 1) order_sorted(w, start, end);
        start = end;
    }
}

/* Runs to a depth of GRIDS. */
static void order_grid(const work *w, size_t from, size_t to, int grid) {
    box b = {{w->at[from][0], w->at[from][1]}, {w->at[from][0], w->at[from][1]}};
    for (size_t i = from + 1; i < to; i++) widen(&b, w->at[i]);
    int bits = axis_bits(to - from);
    frame f = frame_of(&b, bits);
    if (f.scale == 0 || grid == GRIDS) {
        order_sorted(w, from, to);
        return;
    }
    for (size_t i = from; i < to; i++) w->items[i].key = key_of(&f, w->at[i]);
    sort_stretch(w, from, to, 2 * bits);
    gather(w, from, to);
    mark_cuts(w, from + 1, to, grid);
    refine(w, from, to, grid);
}

static void key_chunk(void *context, int index) {
    work *w = context;
    for (size_t i = chunk_start(w, index); i < chunk_start(w, index + 1); i++)
        w->items[i] = (item){key_of(&w->frame, w->points[i]), (uint32_t)i};
}
static void cut_chunk(void *context, int index) {
    work *w = context;
    size_t from = chunk_start(w, index), to = chunk_start(w, index + 1);
    mark_cuts(w, from ? from : 1, to, 0);
    gather(w, from, to);
}

/* The first cell that starts in the chunk, or in a later one. Only cuts between cells of the whole grid are told apart
 * from SAME_CELL while chunks are being refined, and a chunk refines none but its own cells. */
static size_t first_cell(const work *w, int index) {
    size_t i = chunk_start(w, index);
    if (i > 0)
        while (i < w->count && w->level[i] == SAME_CELL) i++;
    return i;
}
static void bound_chunk(void *context, int index) {
    work *w = context;
    w->chunks[index].from = first_cell(w, index);
}
static void refine_chunk(void *context, int index) {
    work *w = context;
    chunk *c = &w->chunks[index];
    size_t to = index + 1 < w->chunk_count ? c[1].from : w->count;
    refine(w, c->from, to, 0);
    c->duplicates = 0;
    for (size_t i = c->from; i < to; i++) {
        c->duplicates += w->level[i] == DUPLICATE;
        w->input_index[i] = w->items[i].index;
    }
}

/* Closes the lists up over points at places that are there already. */
static mst_status merge_duplicates(const work *w, mst_arena *arena, mst_order *order, mst_error *error) {
    order->representative = mst_arena_array(arena, w->count, sizeof *order->representative);
    if (!order->representative) return mst_fail(error, MST_NO_MEMORY, "Memory ran out on %zu points.", w->count);
    uint32_t place = 0;
    for (size_t i = 0; i < w->count; i++) {
        uint32_t index = w->input_index[i];
        if (w->level[i] != DUPLICATE) {
            w->level[place] = w->level[i];
            w->at[place][0] = w->at[i][0], w->at[place][1] = w->at[i][1];
            w->input_index[place++] = index;
        }
        order->representative[index] = w->input_index[place - 1];
    }
    order->place_count = place;
    return MST_OK;
}

static void order_all(work *w, int threads, const box *all) {
    int bits = axis_bits(w->count);
    w->frame = frame_of(all, bits);
    mst_parallel(threads, w->chunk_count, key_chunk, w);
    sort_all(w, threads, 2 * bits);
    w->level[0] = 0;
    mst_parallel(threads, w->chunk_count, cut_chunk, w);
    mst_parallel(threads, w->chunk_count, bound_chunk, w);
    mst_parallel(threads, w->chunk_count, refine_chunk, w);
}

mst_status mst_order_places(const mst_triangulation_input *input, void *lists, double (*at)[2], mst_arena *arena,
                            mst_arena *scratch, mst_order *order, mst_error *error) {
    if (input->point_count == 0) return MST_OK;
    work w = {.points = input->points,
              .items = lists,
              .count = input->point_count,
              .level = order->level,
              .at = at,
              .input_index = order->input_index,
              .chunk_count = 1};
    w.spare = w.items + w.count;
    int threads = input->threads;
    if (threads > 1) {
        size_t chunks = w.count / CHUNK_LEAST + 1;
        w.chunk_count = chunks < CHUNKS ? (int)chunks : CHUNKS;
    }
    w.chunks = mst_arena_array(scratch, (size_t)w.chunk_count, sizeof *w.chunks);
    if (!w.chunks) return mst_fail(error, MST_NO_MEMORY, "Memory ran out on %zu points.", w.count);
    box all;
    mst_status status = survey(&w, threads, &all, &order->unit, error);
    if (status) return status;
    order_all(&w, threads, &all);
    size_t duplicates = 0;
    for (int i = 0; i < w.chunk_count; i++) duplicates += w.chunks[i].duplicates;
    order->place_count = (uint32_t)w.count;
    return duplicates ? merge_duplicates(&w, arena, order, error) : MST_OK;
}
