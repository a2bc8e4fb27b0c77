/* Labels that do not lie on each other: pure geometry, checked by a second, slower way (sampling) and by counting. */
#include "drawing/place.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <cmocka.h>

static uint32_t seed = 7;
static double uniform(double low, double high) {
    seed = seed * 1664525u + 1013904223u;
    return low + (high - low) * (seed >> 8) / 16777216.0;
}

static mst_box random_box(void) {
    double turn = uniform(0, MST_PI);
    return (mst_box){uniform(0, 20), uniform(0, 20), uniform(0.5, 6), uniform(0.5, 3), cos(turn), sin(turn)};
}

static bool inside(const mst_box *b, double x, double y) {
    double u = (x - b->x) * b->cos_a + (y - b->y) * b->sin_a, v = (y - b->y) * b->cos_a - (x - b->x) * b->sin_a;
    return fabs(u) < b->half_w && fabs(v) < b->half_h;
}

/* A lattice of points of a that lie in b: finds every overlap that is not thinner than the lattice. */
static bool overlap_by_sampling(const mst_box *a, const mst_box *b) {
    for (int i = -40; i <= 40; i++)
        for (int k = -40; k <= 40; k++) {
            double u = a->half_w * i / 40.5, v = a->half_h * k / 40.5;
            if (inside(b, a->x + u * a->cos_a - v * a->sin_a, a->y + u * a->sin_a + v * a->cos_a)) return true;
        }
    return false;
}

static void overlap_agrees_with_sampling(void **state) {
    (void)state;
    int overlaps = 0;
    for (int i = 0; i < 3000; i++) {
        mst_box a = random_box(), b = random_box(), larger = b, smaller = b;
        larger.half_w += 0.4, larger.half_h += 0.4;
        smaller.half_w -= 0.4, smaller.half_h -= 0.4;
        if (overlap_by_sampling(&a, &b)) assert_true(mst_boxes_overlap(&a, &b)), overlaps++;
        if (mst_boxes_overlap(&a, &b)) assert_true(overlap_by_sampling(&a, &larger));
        assert_true(mst_boxes_overlap(&a, &b) == mst_boxes_overlap(&b, &a));
    }
    assert_true(overlaps > 500 && overlaps < 2500);
}

static void segment_agrees_with_sampling(void **state) {
    (void)state;
    int hits = 0;
    for (int i = 0; i < 3000; i++) {
        mst_box b = random_box(), larger = b;
        double x0 = uniform(0, 20), y0 = uniform(0, 20), x1 = uniform(0, 20), y1 = uniform(0, 20);
        bool sampled = false, near = false;
        larger.half_w += 0.1, larger.half_h += 0.1;
        for (int k = 0; k <= 400; k++) {
            double x = x0 + (x1 - x0) * k / 400, y = y0 + (y1 - y0) * k / 400;
            sampled |= inside(&b, x, y);
            near |= inside(&larger, x, y);
        }
        bool meets = mst_box_meets_segment(&b, x0, y0, x1, y1);
        if (sampled) assert_true(meets), hits++;
        if (meets) assert_true(near);
    }
    assert_true(hits > 300);
}

static void boxes_that_touch_do_not_overlap(void **state) {
    (void)state;
    mst_box a = {0, 0, 2, 1, 1, 0}, beside = {4, 0, 2, 1, 1, 0}, over = {3.99, 0, 2, 1, 1, 0};
    assert_false(mst_boxes_overlap(&a, &beside));
    assert_true(mst_boxes_overlap(&a, &over));
}

/* ---- placing ---- */

static mst_placing label_at(mst_arena *arena, double x, double y, int priority) {
    mst_placing p = {
        .choices = mst_arena_array(arena, 4, sizeof(mst_choice)), .count = 4, .priority = priority, .limit = 10};
    for (int i = 0; i < 4; i++)
        p.choices[i] = (mst_choice){.box = {x + (i & 1 ? -4 : 4), y + (i & 2 ? -2 : 2), 3.6, 1.5, 1, 0}, .cost = i};
    return p;
}

static void higher_goes_first_and_nothing_overlaps(void **state) {
    (void)state;
    enum { COUNT = 500 };
    mst_arena *arena = mst_arena_new();
    mst_rect sheet = {0, 0, 250, 180};
    mst_placer *placer = mst_placer_new(sheet, arena);
    mst_placing *labels = mst_arena_array(arena, COUNT, sizeof *labels);
    for (int i = 0; i < COUNT; i++) labels[i] = label_at(arena, uniform(0, 250), uniform(0, 180), i % 10);
    assert_true(mst_placer_run(placer, labels, COUNT));
    size_t placed = 0, first = 0;
    for (int i = 0; i < COUNT; i++) {
        if (labels[i].chosen < 0) continue;
        placed++;
        first += labels[i].priority == 9;
        const mst_box *a = &labels[i].choices[labels[i].chosen].box;
        assert_true(a->x - a->half_w >= 0 && a->x + a->half_w <= 250 && a->y - a->half_h >= 0 &&
                    a->y + a->half_h <= 180);
        for (int k = 0; k < i; k++)
            if (labels[k].chosen >= 0) assert_false(mst_boxes_overlap(a, &labels[k].choices[labels[k].chosen].box));
    }
    assert_true(placed > 300);
    assert_true(first >= 44); /* of 50: only the edge of the sheet and each other stand in their way */
    mst_arena_free(arena);
}

static void a_line_is_crossed_only_within_the_limit(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_rect sheet = {0, 0, 100, 100};
    mst_placer *placer = mst_placer_new(sheet, arena);
    assert_true(mst_placer_line(placer, 0, 52, 100, 52, 30) && mst_placer_line(placer, 0, 48, 54, 48, 3));
    mst_placing label = label_at(arena, 50, 50, 1);
    assert_true(mst_placer_run(placer, &label, 1));
    assert_int_equal(label.chosen, 2); /* above, over the light line: right of the point costs 2 + 3, left 3 + 3 */
    assert_true(label.choices[2].crossing == 3);
    assert_true(mst_placer_line(placer, 0, 47.5, 100, 47.5, 30));
    mst_placing other = label_at(arena, 20, 50, 1);
    assert_true(mst_placer_run(placer, &other, 1));
    assert_int_equal(other.chosen, -1);
    mst_arena_free(arena);
}

static void one_moves_aside_for_another(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_rect sheet = {0, 0, 100, 100};
    mst_placer *placer = mst_placer_new(sheet, arena);
    mst_placing labels[2] = {label_at(arena, 50, 50, 2), label_at(arena, 50, 50, 1)};
    labels[0].count = 2;
    labels[1].count = 1; /* only the place that the first one likes best */
    assert_true(mst_placer_run(placer, labels, 2));
    assert_int_equal(labels[0].chosen, 1);
    assert_int_equal(labels[1].chosen, 0);
    mst_arena_free(arena);
}

static void blocks_and_earlier_labels_stay(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_rect sheet = {0, 0, 100, 100};
    mst_placer *placer = mst_placer_new(sheet, arena);
    assert_true(mst_placer_block(placer, (mst_box){54, 52, 1, 1, 1, 0}));
    mst_placing first = label_at(arena, 50, 50, 1), second = label_at(arena, 50, 50, 9);
    assert_true(mst_placer_run(placer, &first, 1));
    assert_int_equal(first.chosen, 1);
    assert_true(mst_placer_run(placer, &second, 1));
    assert_int_equal(second.chosen, 2);
    assert_int_equal(first.chosen, 1);
    mst_arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(overlap_agrees_with_sampling),
                                       cmocka_unit_test(segment_agrees_with_sampling),
                                       cmocka_unit_test(boxes_that_touch_do_not_overlap),
                                       cmocka_unit_test(higher_goes_first_and_nothing_overlaps),
                                       cmocka_unit_test(a_line_is_crossed_only_within_the_limit),
                                       cmocka_unit_test(one_moves_aside_for_another),
                                       cmocka_unit_test(blocks_and_earlier_labels_stay)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
