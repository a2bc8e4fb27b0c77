/* The order of places: along a curve that visits the cells of a square grid by interleaving the bits of column and row
 * (G. M. Morton, A computer oriented geodetic data base, IBM, 1966), so that neighbours on the ground are neighbours in
 * memory and every bit of the key is a cut between two groups. A crowded cell gets a grid of its own; a few points in
 * one cell are sorted by easting, northing and index. The order depends on the places alone, not on the input's order.
 */
#include "ground/triangulation.h"
#include <string.h>

enum { KEY_BITS = 32, AXIS_BITS = 16, GRIDS = 6, FEW = 16, DUPLICATE = 255, RADIX_BITS = 11, RADIX = 1 << RADIX_BITS };
/* Beyond these an in-circle determinant (fourth power) could overflow or lose its last bit. */
static const double SMALLEST_M = 0x1p-180, LARGEST_M = 0x1p240;

typedef struct item {
    uint32_t key, index;
} item;
typedef struct frame {
    double least[2], scale;
} frame;
typedef struct work {
    const double (*points)[2];
    item *items, *spare;
    uint8_t *level;
} work;

static mst_status check_positions(const mst_triangulation_input *input, mst_error *error) {
    for (size_t i = 0; i < input->point_count; i++)
        for (int k = 0; k < 2; k++) {
            double size = fabs(input->points[i][k]);
            if (!(size <= LARGEST_M) || (size < SMALLEST_M && size > 0))
                return mst_fail(error, MST_INVALID, "Point %zu has no usable %s; correct it or leave it out.", i + 1,
                                k ? "northing" : "easting");
        }
    return MST_OK;
}

/* A square of 2^16 x 2^16 cells over the items. */
static frame frame_of(const work *w, size_t from, size_t to) {
    const double *first = w->points[w->items[from].index];
    double least[2] = {first[0], first[1]}, most[2] = {first[0], first[1]};
    for (size_t i = from + 1; i < to; i++) {
        const double *p = w->points[w->items[i].index];
        for (int k = 0; k < 2; k++) {
            if (p[k] < least[k]) least[k] = p[k];
            if (p[k] > most[k]) most[k] = p[k];
        }
    }
    double width = most[0] - least[0], height = most[1] - least[1];
    double side = width > height ? width : height;
    return (frame){{least[0], least[1]}, side > 0 ? ((1 << AXIS_BITS) - 0.5) / side : 0};
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
    const uint32_t last = (1 << AXIS_BITS) - 1;
    return spread(column < last ? column : last) | spread(row < last ? row : last) << 1;
}

static void sort_by_key(item *items, item *spare, size_t count) {
    for (int shift = 0; shift < KEY_BITS; shift += RADIX_BITS) {
        uint32_t start[RADIX] = {0};
        for (size_t i = 0; i < count; i++) start[items[i].key >> shift & (RADIX - 1)]++;
        uint32_t sum = 0;
        for (int b = 0; b < RADIX; b++) {
            uint32_t here = start[b];
            start[b] = sum;
            sum += here;
        }
        for (size_t i = 0; i < count; i++) spare[start[items[i].key >> shift & (RADIX - 1)]++] = items[i];
        item *swap = items;
        items = spare, spare = swap;
    }
    memcpy(spare, items, count * sizeof *items); /* an odd number of passes: the sorted list is in the spare one */
}

static bool earlier(const work *w, item a, item b) {
    const double *p = w->points[a.index], *q = w->points[b.index];
    if (p[0] != q[0]) return p[0] < q[0];
    if (p[1] != q[1]) return p[1] < q[1];
    return a.index < b.index;
}
static bool same_place(const work *w, item a, item b) {
    const double *p = w->points[a.index], *q = w->points[b.index];
    return p[0] == q[0] && p[1] == q[1];
}

static void sort_few(const work *w, item *items, size_t count) {
    for (size_t i = 1; i < count; i++) {
        item moving = items[i];
        size_t j = i;
        for (; j > 0 && earlier(w, moving, items[j - 1]); j--) items[j] = items[j - 1];
        items[j] = moving;
    }
}
static void sort_many(const work *w, size_t from, size_t to) {
    item *a = w->items, *b = w->spare;
    for (size_t i = from; i < to; i += FEW) sort_few(w, a + i, i + FEW < to ? FEW : to - i);
    for (size_t run = FEW; run < to - from; run *= 2) {
        for (size_t low = from; low < to; low += 2 * run) {
            size_t middle = low + run < to ? low + run : to, high = middle + run < to ? middle + run : to;
            size_t i = low, j = middle, k = low;
            while (i < middle && j < high) b[k++] = earlier(w, a[j], a[i]) ? a[j++] : a[i++];
            while (i < middle) b[k++] = a[i++];
            while (j < high) b[k++] = a[j++];
        }
        item *swap = a;
        a = b, b = swap;
    }
    if (a != w->items) memcpy(w->items + from, a + from, (to - from) * sizeof *a);
}

static int lowest_bit(size_t x) {
    int bit = 0;
    while (!(x & 1)) x >>= 1, bit++;
    return bit;
}
static int highest_bit(uint32_t x) {
    int bit = 0;
    while (x >>= 1) bit++;
    return bit;
}

/* One cell: sorted by easting, cut in halves of halves. */
static void order_sorted(const work *w, size_t from, size_t to) {
    if (to - from <= FEW) sort_few(w, w->items + from, to - from);
    else sort_many(w, from, to);
    size_t places = 1;
    for (size_t i = from + 1; i < to; i++)
        w->level[i] = same_place(w, w->items[i - 1], w->items[i]) ? DUPLICATE : (uint8_t)lowest_bit(places++);
}

/* Runs to a depth of GRIDS. The key of the first item is its cell's in the grid above; level[from] belongs to that. */
static void order_grid(const work *w, size_t from, size_t to, int grid) {
    item *items = w->items;
    frame f = frame_of(w, from, to);
    if (f.scale == 0 || grid == GRIDS) {
        order_sorted(w, from, to);
        return;
    }
    for (size_t i = from; i < to; i++) items[i].key = key_of(&f, w->points[items[i].index]);
    sort_by_key(items + from, w->spare + from, to - from);
    for (size_t start = from; start < to;) {
        size_t end = start + 1;
        uint32_t key = items[start].key;
        while (end < to && items[end].key == key) end++;
        if (end < to) w->level[end] = (uint8_t)(KEY_BITS * (GRIDS - grid) + highest_bit(key ^ items[end].key));
        if (end - start > FEW) order_grid(w, start, end, grid + 1);
        else if (end - start > 1) order_sorted(w, start, end);
        start = end;
    }
}

static mst_status keep_duplicates(const work *w, size_t count, mst_arena *arena, mst_order *order, mst_error *error) {
    order->representative = mst_arena_array(arena, count, sizeof *order->representative);
    if (!order->representative) return mst_fail(error, MST_NO_MEMORY, "Memory ran out on %zu points.", count);
    uint32_t first = 0;
    for (size_t i = 0; i < count; i++) {
        if (w->level[i] != DUPLICATE) first = w->items[i].index;
        order->representative[w->items[i].index] = first;
    }
    return MST_OK;
}

mst_status mst_order_places(const mst_triangulation_input *input, void *scratch, double (*at)[2], mst_arena *arena,
                            mst_order *order, mst_error *error) {
    mst_status status = check_positions(input, error);
    size_t count = input->point_count;
    if (status || count == 0) return status;
    work w = {input->points, scratch, (item *)scratch + count, order->level};
    for (size_t i = 0; i < count; i++) w.items[i].index = (uint32_t)i;
    w.level[0] = 0;
    order_grid(&w, 0, count, 0);
    size_t places = 0;
    for (size_t i = 0; i < count; i++)
        if (w.level[i] != DUPLICATE) places++;
    if (places < count && (status = keep_duplicates(&w, count, arena, order, error))) return status;
    places = 0;
    for (size_t i = 0; i < count; i++) {
        if (w.level[i] == DUPLICATE) continue;
        const double *p = input->points[w.items[i].index];
        at[places][0] = p[0], at[places][1] = p[1];
        order->level[places] = w.level[i];
        order->input_index[places++] = w.items[i].index;
    }
    order->place_count = (uint32_t)places;
    return MST_OK;
}
