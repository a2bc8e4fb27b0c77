/* The order of places: along a curve that visits the cells of a square grid by interleaving the bits of column and row
 * (G. M. Morton, A computer oriented geodetic data base, IBM, 1966), so that neighbours on the ground are neighbours in
 * memory and every bit of the key is a cut between two groups. A crowded cell gets a grid of its own; a few points in
 * one cell are sorted by easting, northing and index. The order depends on the places alone, not on the input's order
 * nor on the number of threads.
 *
 * The leading bits deal the points out to buckets, in the order they come; each bucket is then put in order for itself,
 * small enough to stay near. So no step jumps about in the whole of the input. */
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
    BUCKET_BITS = 8,
    BUCKETS = 1 << BUCKET_BITS,
    RADIX_BITS = 9,
    RADIX = 1 << RADIX_BITS,
    CHUNKS = 64,
    CHUNK_LEAST = 1 << 14
};
/* Beyond these an in-circle determinant (fourth power) could overflow or lose its last bit. */
static const double SMALLEST_M = 0x1p-180, LARGEST_M = 0x1p240;

typedef struct record {
    double at[2];
    uint32_t key, index;
} record;
typedef struct item {
    uint32_t key, position;
} item;
typedef struct frame {
    double least[2], scale;
    uint32_t last;
} frame;
typedef struct box {
    double least[2], most[2];
} box;

/* What a chunk of the input finds for itself. */
typedef struct chunk {
    box box;
    double unit;
    size_t bad;
    uint32_t start[BUCKETS];
} chunk;

typedef struct work {
    const double (*points)[2];
    record *records;
    item *items, *spare;
    size_t count;
    uint8_t *level;
    double (*at)[2];
    uint32_t *input_index;
    frame frame;
    int bits; /* of the keys of the whole grid */
    chunk *chunks;
    int chunk_count;
    uint32_t bucket_start[BUCKETS + 1], duplicates[BUCKETS];
} work;

static size_t chunk_start(const work *w, int index) { return w->count * (size_t)index / (size_t)w->chunk_count; }

/* ---- positions, and the box around them ---- */

static void widen(box *b, const double p[2]) {
    for (int k = 0; k < 2; k++) {
        b->least[k] = p[k] < b->least[k] ? p[k] : b->least[k];
        b->most[k] = p[k] > b->most[k] ? p[k] : b->most[k];
    }
}

bool mst_usable(double x) { return fabs(x) <= LARGEST_M && (fabs(x) >= SMALLEST_M || x == 0); }

static void survey_chunk(void *context, int index) {
    work *w = context;
    chunk *c = &w->chunks[index];
    size_t from = chunk_start(w, index), to = chunk_start(w, index + 1);
    c->box = (box){{w->points[from][0], w->points[from][1]}, {w->points[from][0], w->points[from][1]}};
    c->bad = SIZE_MAX;
    for (size_t i = from; i < to; i++) {
        const double *p = w->points[i];
        if (!mst_usable(p[0]) || !mst_usable(p[1])) {
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
                            mst_usable(w->points[c->bad][0]) ? "northing" : "easting");
        widen(all, c->box.least);
        widen(all, c->box.most);
        if (c->unit < *unit) *unit = c->unit;
    }
    return MST_OK;
}

/* ---- keys ---- */

/* Bits of a column so that there are some four cells to a point. */
static int axis_bits(size_t count) {
    int bits = BUCKET_BITS / 2;
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

/* ---- one stretch: sorted by key, or where no grid parts the points by place ---- */

/* Sorts the items of a stretch by the last bits of their keys, least digits first. @return the list they end up in */
static const item *sort_items(const work *w, size_t from, size_t to, int bits) {
    item *items = w->items, *spare = w->spare;
    int passes = (bits + RADIX_BITS - 1) / RADIX_BITS, digit_bits = passes ? (bits + passes - 1) / passes : 0;
    for (int shift = 0; shift < bits; shift += digit_bits) {
        uint32_t start[RADIX] = {0}, mask = ((uint32_t)1 << digit_bits) - 1, sum = (uint32_t)from;
        for (size_t i = from; i < to; i++) start[items[i].key >> shift & mask]++;
        for (uint32_t digit = 0; digit <= mask; digit++) {
            uint32_t here = start[digit];
            start[digit] = sum;
            sum += here;
        }
        for (size_t i = from; i < to; i++) spare[start[items[i].key >> shift & mask]++] = items[i];
        item *swap = items;
        items = spare, spare = swap;
    }
    return items;
}

static bool earlier(const double p[2], uint32_t i, const double q[2], uint32_t j) {
    if (p[0] != q[0]) return p[0] < q[0];
    if (p[1] != q[1]) return p[1] < q[1];
    return i < j;
}

static void merge(const record *r, const item *a, size_t a_count, const item *b, size_t b_count, item *out) {
    while (a_count && b_count) {
        const record *p = &r[a->position], *q = &r[b->position];
        bool take_b = earlier(q->at, q->index, p->at, p->index);
        *out++ = take_b ? *b++ : *a++;
        if (take_b) b_count--;
        else a_count--;
    }
    memcpy(out, a, a_count * sizeof *a);
    memcpy(out + a_count, b, b_count * sizeof *b);
}
/* Sorts the items of a stretch by place and index. @return the list they end up in */
static const item *merge_items(const work *w, size_t from, size_t to) {
    item *a = w->items, *b = w->spare;
    for (size_t run = 1; run < to - from; run *= 2) {
        for (size_t low = from; low < to; low += 2 * run) {
            size_t middle = low + run < to ? low + run : to, high = middle + run < to ? middle + run : to;
            merge(w->records, a + low, middle - low, a + middle, high - middle, b + low);
        }
        item *swap = a;
        a = b, b = swap;
    }
    return a;
}

static void list_items(const work *w, size_t from, size_t to) {
    for (size_t i = from; i < to; i++) w->items[i] = (item){w->records[i].key, (uint32_t)i};
}
static void take_records(const work *w, const item *items, size_t from, size_t to) {
    for (size_t i = from; i < to; i++) {
        const record *r = &w->records[items[i].position];
        w->at[i][0] = r->at[0], w->at[i][1] = r->at[1];
        w->input_index[i] = r->index;
    }
}

/* ---- one cell ---- */

static void sort_few(const work *w, size_t from, size_t to) {
    for (size_t i = from + 1; i < to; i++) {
        double at[2] = {w->at[i][0], w->at[i][1]};
        uint32_t index = w->input_index[i];
        size_t j = i;
        for (; j > from && earlier(at, index, w->at[j - 1], w->input_index[j - 1]); j--) {
            w->at[j][0] = w->at[j - 1][0], w->at[j][1] = w->at[j - 1][1];
            w->input_index[j] = w->input_index[j - 1];
        }
        w->at[j][0] = at[0], w->at[j][1] = at[1];
        w->input_index[j] = index;
    }
}

static uint8_t lowest_bit(size_t x) {
    uint8_t bit = 0;
    while (!(x & 1)) x >>= 1, bit++;
    return bit;
}

/* Sorted by easting, cut in halves of halves. */
static void cut_sorted(const work *w, size_t from, size_t to) {
    size_t places = 1;
    for (size_t i = from + 1; i < to; i++) {
        bool same = w->at[i][0] == w->at[i - 1][0] && w->at[i][1] == w->at[i - 1][1];
        w->level[i] = same ? DUPLICATE : lowest_bit(places++);
    }
}

/* ---- grids ---- */

/* The exponent of x as a double: its highest bit. */
static inline int highest_bit(uint32_t x) {
    double value = x;
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    return (int)(bits >> 52) - 1023;
}
static inline uint8_t cut_level(int grid, uint32_t differ) {
    return (uint8_t)(LEVELS_OF_GRID * (GRIDS - grid) + highest_bit(differ));
}

static void order_crowd(const work *w, size_t from, size_t to, int grid);

/* Puts the records of a stretch in the order of the last bits of their keys, in which alone they differ. */
static void order_records(const work *w, size_t from, size_t to, int bits, int grid) {
    list_items(w, from, to);
    const item *items = sort_items(w, from, to, bits);
    take_records(w, items, from, to);
    for (size_t i = from + 1; i < to; i++) {
        uint32_t differ = items[i - 1].key ^ items[i].key;
        w->level[i] = differ ? cut_level(grid, differ) : SAME_CELL;
    }
    for (size_t start = from; start < to;) {
        size_t end = start + 1;
        while (end < to && w->level[end] == SAME_CELL) end++;
        if (end - start > FEW) order_crowd(w, start, end, grid + 1);
        else if (end - start > 1) {
            sort_few(w, start, end);
            cut_sorted(w, start, end);
        }
        start = end;
    }
}

/* One cell with more than a few points: a grid of its own. Runs to a depth of GRIDS. */
static void order_crowd(const work *w, size_t from, size_t to, int grid) {
    box b = {{w->at[from][0], w->at[from][1]}, {w->at[from][0], w->at[from][1]}};
    for (size_t i = from + 1; i < to; i++) widen(&b, w->at[i]);
    int bits = axis_bits(to - from);
    frame f = frame_of(&b, bits);
    for (size_t i = from; i < to; i++)
        w->records[i] = (record){{w->at[i][0], w->at[i][1]}, key_of(&f, w->at[i]), w->input_index[i]};
    if (f.scale > 0 && grid < GRIDS) {
        order_records(w, from, to, 2 * bits, grid);
        return;
    }
    list_items(w, from, to);
    take_records(w, merge_items(w, from, to), from, to);
    cut_sorted(w, from, to);
}

/* ---- buckets ---- */

static uint32_t bucket_of(const work *w, uint32_t key) { return key >> (w->bits - BUCKET_BITS); }

static void count_chunk(void *context, int index) {
    const work *w = context;
    uint32_t *counts = w->chunks[index].start;
    memset(counts, 0, sizeof w->chunks[index].start);
    for (size_t i = chunk_start(w, index); i < chunk_start(w, index + 1); i++)
        counts[bucket_of(w, key_of(&w->frame, w->points[i]))]++;
}
static void deal_chunk(void *context, int index) {
    const work *w = context;
    uint32_t *start = w->chunks[index].start;
    for (size_t i = chunk_start(w, index); i < chunk_start(w, index + 1); i++) {
        const double *p = w->points[i];
        uint32_t key = key_of(&w->frame, p);
        w->records[start[bucket_of(w, key)]++] = (record){{p[0], p[1]}, key, (uint32_t)i};
    }
}
static void order_bucket(void *context, int index) {
    work *w = context;
    size_t from = w->bucket_start[index], to = w->bucket_start[index + 1];
    if (from == to) return;
    order_records(w, from, to, w->bits - BUCKET_BITS, 0);
    for (size_t i = from + 1; i < to; i++) w->duplicates[index] += w->level[i] == DUPLICATE;
    int before = index;
    while (before > 0 && w->bucket_start[before] == from) before--;
    uint32_t differ = (uint32_t)(before ^ index) << (w->bits - BUCKET_BITS);
    w->level[from] = from ? cut_level(0, differ) : 0;
}

static void order_all(work *w, int threads, const box *all) {
    int bits = axis_bits(w->count);
    w->bits = 2 * bits;
    w->frame = frame_of(all, bits);
    mst_parallel(threads, w->chunk_count, count_chunk, w);
    uint32_t sum = 0;
    for (int bucket = 0; bucket < BUCKETS; bucket++) {
        w->bucket_start[bucket] = sum;
        for (int i = 0; i < w->chunk_count; i++) {
            uint32_t here = w->chunks[i].start[bucket];
            w->chunks[i].start[bucket] = sum;
            sum += here;
        }
    }
    w->bucket_start[BUCKETS] = sum;
    mst_parallel(threads, w->chunk_count, deal_chunk, w);
    mst_parallel(threads, BUCKETS, order_bucket, w);
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

mst_status mst_order_places(const mst_triangulation_input *input, const mst_order_room *room, mst_arena *arena,
                            mst_arena *scratch, mst_order *order, mst_error *error) {
    if (input->point_count == 0) return MST_OK;
    work w = {.points = input->points,
              .count = input->point_count,
              .records = room->records,
              .items = room->items,
              .level = order->level,
              .at = room->at,
              .input_index = order->input_index,
              .chunk_count = 1};
    w.spare = w.items + w.count;
    if (input->threads > 1) {
        size_t chunks = w.count / CHUNK_LEAST + 1;
        w.chunk_count = chunks < CHUNKS ? (int)chunks : CHUNKS;
    }
    w.chunks = mst_arena_array(scratch, (size_t)w.chunk_count, sizeof *w.chunks);
    if (!w.chunks) return mst_fail(error, MST_NO_MEMORY, "Memory ran out on %zu points.", w.count);
    box all;
    mst_status status = survey(&w, input->threads, &all, &order->unit, error);
    if (status) return status;
    order_all(&w, input->threads, &all);
    uint32_t duplicates = 0;
    for (int i = 0; i < BUCKETS; i++) duplicates += w.duplicates[i];
    order->place_count = (uint32_t)w.count;
    return duplicates ? merge_duplicates(&w, arena, order, error) : MST_OK;
}
