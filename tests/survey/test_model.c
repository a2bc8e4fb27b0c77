/* Every observation equation's derivatives against central differences of its own computed value, at random places. */
#include "survey/model.h"
#include "site_from_text.h"

static const double NUDGE = 1e-5;  /* m, rad */
static const double WITHIN = 1e-7; /* of the derivatives, which are of the order of 1 */

static uint64_t seed = 99;
static double between(double low, double high) {
    seed = seed * 6364136223846793005u + 1442695040888963407u;
    return low + (high - low) * (double)(seed >> 11) / 9007199254740992.0;
}

static mst_node nodes[4];
static mst_turn turn;
static mst_frame frame;
static mst_collimation collimation;
static mst_network net = {.nodes = nodes,
                          .node_count = 4,
                          .turns = &turn,
                          .turn_count = 1,
                          .frames = &frame,
                          .frame_count = 1,
                          .collimations = &collimation,
                          .collimation_count = 1,
                          .origin_e = 5,
                          .origin_n = 2};

/* The values that a reading may hang on, numbered as its unknowns. */
static double *value_of(uint32_t unknown) {
    double *all[] = {&nodes[0].e, &nodes[0].n,    &nodes[0].h, &nodes[1].e, &nodes[1].n, &nodes[1].h,
                     &nodes[2].e, &nodes[2].n,    &nodes[2].h, &turn.rad,   &frame.e,    &frame.n,
                     &frame.h,    &collimation.h, &nodes[3].e, &nodes[3].n, &nodes[3].h};
    return all[unknown];
}
static void scatter(void) {
    for (uint32_t i = 0; i < 4; i++) {
        uint32_t first = i < 3 ? 3 * i : 14;
        nodes[i] = (mst_node){.e = between(-40, 40),
                              .n = between(-40, 40),
                              .h = between(0, 9),
                              .unknown_e = first,
                              .unknown_n = first + 1,
                              .unknown_h = first + 2};
    }
    turn = (mst_turn){.rad = between(-3, 3), .unknown = 9};
    frame = (mst_frame){.e = between(-9, 9),
                        .n = between(-9, 9),
                        .h = between(-9, 9),
                        .x0 = 3,
                        .y0 = 4,
                        .unknown_e = 10,
                        .unknown_n = 11,
                        .unknown_h = 12};
    collimation = (mst_collimation){.h = between(0, 9), .unknown = 13};
}

static void derivatives_of(mst_reading r) {
    for (int k = 0; k < 50; k++) {
        scatter();
        mst_terms t, up, down;
        assert_true(mst_model(&net, &r, &t));
        bool told[17] = {false};
        for (size_t i = 0; i < t.count; i++) {
            assert_false(told[t.unknown[i]]);
            told[t.unknown[i]] = true;
        }
        for (uint32_t u = 0; u < 17; u++) {
            double *value = value_of(u), derivative = 0;
            *value += NUDGE;
            mst_model(&net, &r, &up);
            *value -= 2 * NUDGE;
            mst_model(&net, &r, &down);
            *value += NUDGE;
            for (size_t i = 0; i < t.count; i++)
                if (t.unknown[i] == u) derivative = t.derivative[i];
            double seen = up.computed - down.computed;
            if (mst_reading_is_angular(r.kind)) seen = mst_angle_signed(seen);
            NEAR(derivative, seen / (2 * NUDGE), WITHIN);
        }
    }
}

static void every_kind(void **state) {
    (void)state;
    for (int kind = 0; kind <= MST_READ_PARALLEL; kind++) {
        mst_reading r = {.kind = (mst_reading_kind)kind,
                         .from = 0,
                         .to = 1,
                         .baseline = MST_NONE,
                         .fourth = MST_NONE,
                         .turn = MST_NONE,
                         .frame = MST_NONE,
                         .collimation = MST_NONE,
                         .up_m = 0.2};
        if (kind == MST_READ_BEARING || kind == MST_READ_DIRECTION || kind == MST_READ_DX || kind == MST_READ_DY)
            r.turn = 0;
        if (kind == MST_READ_CHAINAGE || kind == MST_READ_OFFSET || mst_reading_is_condition(r.kind)) r.baseline = 2;
        if (kind == MST_READ_PARALLEL) r.fourth = 3;
        if (kind == MST_READ_BACKSIGHT || kind == MST_READ_INTERMEDIATE || kind == MST_READ_FORESIGHT)
            r.collimation = 0;
        if (kind == MST_READ_EASTING || kind == MST_READ_NORTHING || kind == MST_READ_ELEVATION) {
            r.from = MST_NONE;
            derivatives_of(r);
            r.frame = 0;
            r.turn = kind == MST_READ_ELEVATION ? MST_NONE : 0;
        }
        derivatives_of(r);
        assert_non_null(mst_reading_kind_name(r.kind));
    }
}

static void a_held_end_has_no_unknown(void **state) {
    (void)state;
    scatter();
    nodes[0].unknown_e = nodes[0].unknown_n = MST_NONE;
    mst_reading r = {.kind = MST_READ_CHAINAGE,
                     .from = 0,
                     .to = 1,
                     .baseline = 2,
                     .turn = MST_NONE,
                     .frame = MST_NONE,
                     .collimation = MST_NONE};
    mst_terms t;
    assert_true(mst_model(&net, &r, &t));
    assert_int_equal(t.count, 4);
}

static void points_at_one_place_say_nothing(void **state) {
    (void)state;
    scatter();
    nodes[1] = nodes[0];
    nodes[1].unknown_e = 3, nodes[1].unknown_n = 4, nodes[1].unknown_h = 5;
    mst_terms t;
    static const mst_reading_kind SILENT[] = {MST_READ_DISTANCE, MST_READ_BEARING, MST_READ_DIRECTION, MST_READ_ZENITH};
    for (int i = 0; i < 4; i++) {
        mst_reading r = {.kind = SILENT[i],
                         .from = 0,
                         .to = 1,
                         .baseline = MST_NONE,
                         .turn = 0,
                         .frame = MST_NONE,
                         .collimation = MST_NONE};
        assert_false(mst_model(&net, &r, &t));
        for (size_t k = 0; k < t.count; k++) assert_true(t.derivative[k] == 0);
        assert_true(isfinite(t.residual));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_kind), cmocka_unit_test(a_held_end_has_no_unknown),
                                       cmocka_unit_test(points_at_one_place_say_nothing)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
