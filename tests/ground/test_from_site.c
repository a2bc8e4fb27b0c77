/* The ground of a site: which points count, and what the roles of features do. */
#include "works/works_test.h"

static const char PAGE[] = "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n"
                           "A,0,0,10,0.01,0.005\nB,30,0,10,0.01,0.005\nC,30,20,10,0.01,0.005\nD,0,20,10,0.01,0.005\n"
                           "R1,10,0.5,12,0.01,0.005\nR2,10,19.5,12,0.01,0.005\nT,20,10,55,0.01,0.005\nP1,12,8,,0.01,"
                           "\nP2,18,8,,0.01,\nP3,18,12,,0.01,\nP4,12,12,,0.01,\n";

static mst_ground_figures figures_of(lot *l) {
    mst_ground_figures f;
    make_ground(l);
    mst_ground_describe(l->ground, &f);
    return f;
}

static void points_of_role_none_stay_out(void **state) {
    (void)state;
    lot l = lot_of(PAGE, MST_PAGE_POINTS);
    NEAR(figures_of(&l).highest_m, 55, 0);
    add_feature(&l, feature_of(&l, "tree top", MST_FEATURE_SPOT, MST_ROLE_NONE, "T"));
    NEAR(figures_of(&l).highest_m, 12, 0);
    add_feature(&l, feature_of(&l, "spot", MST_FEATURE_SPOT, MST_ROLE_DEFAULT, "T")); /* somebody wants it after all */
    NEAR(figures_of(&l).highest_m, 55, 0);
    mst_arena_free(l.arena);
}

static void breaklines_force_their_edges(void **state) {
    (void)state;
    lot l = lot_of(PAGE, MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "tree top", MST_FEATURE_SPOT, MST_ROLE_NONE, "T"));
    add_feature(&l, feature_of(&l, "ridge", MST_FEATURE_LINE, MST_ROLE_BREAKLINE, "R1 R2"));
    make_ground(&l);
    mst_ground_level level;
    assert_true(mst_ground_level_at(l.ground, (mst_point){10, 10}, &level));
    NEAR(level.elevation_m, 12, 1e-12);
    assert_int_equal(level.term_count, 2);
    uint32_t r1 = mst_index_get(&l.adjustment->index, "R1");
    assert_true(level.terms[0].point == r1 || level.terms[1].point == r1);
    NEAR(level.terms[0].elevation, 0.5, 1e-12);
    mst_arena_free(l.arena);
}

static void boundary_and_hole(void **state) {
    (void)state;
    lot l = lot_of(PAGE, MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "tree top", MST_FEATURE_SPOT, MST_ROLE_NONE, "T"));
    add_feature(&l, feature_of(&l, "pond", MST_FEATURE_AREA, MST_ROLE_HOLE, "P1 P2 P3 P4"));
    NEAR(figures_of(&l).plan_area_m2, 600 - 24, 1e-9);
    add_feature(&l, feature_of(&l, "fence", MST_FEATURE_LINE, MST_ROLE_BOUNDARY, "A P2 P3 D")); /* closes on itself */
    double trapezium = 20.0 * 18 - 0.5 * 18 * 8 * 2;
    NEAR(figures_of(&l).plan_area_m2, trapezium - 24, 1e-9);
    mst_ground_level level;
    assert_false(mst_ground_level_at(l.ground, (mst_point){15, 10}, &level));
    assert_true(mst_ground_level_at(l.ground, (mst_point){11, 10}, &level));
    assert_false(mst_ground_level_at(l.ground, (mst_point){25, 10}, &level));
    mst_arena_free(l.arena);
}

static void features_without_places_are_named(void **state) {
    (void)state;
    lot l = lot_of(PAGE, MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "wall", MST_FEATURE_LINE, MST_ROLE_BREAKLINE, "A Z"));
    add_feature(&l, feature_of(&l, "edge", MST_FEATURE_LINE, MST_ROLE_BREAKLINE, "A P1 C"));
    mst_ground_figures f = figures_of(&l);
    assert_int_equal(f.warning_count, 2);
    assert_non_null(strstr(f.warnings[0], "breakline wall does not count in the ground"));
    assert_non_null(strstr(f.warnings[1], "edge"));
    mst_arena_free(l.arena);
}

static void two_levels_at_one_place_are_named(void **state) {
    (void)state;
    const char page[] =
        "point,easting (m),northing (m),elevation (m)\nA,0,0,1\nB,9,0,1\nC,0,9,1\ntop,4,4,2\nfoot,4,4,1\n";
    lot l = lot_of(page, MST_PAGE_CONTROL);
    mst_error error = {0};
    assert_int_equal(mst_ground_from_site(&l.site, l.adjustment, l.arena, &l.ground, &error), MST_INVALID);
    assert_non_null(strstr(error.sentence, "Points top and foot lie at one place"));
    assert_null(l.ground);
    mst_arena_free(l.arena);
}

/* A kerb as an arc: levels between its ends run along it, and lead back to its measured points. */
static void an_arc_carries_levels(void **state) {
    (void)state;
    const char page[] = "point,easting (m),northing (m),elevation "
                        "(m)\nA,0,0,10\nB,40,0,10\nC,40,30,10\nD,0,30,10\nK1,10,10,11\nK2,20,15,12\nK3,30,10,13\n";
    lot l = lot_of(page, MST_PAGE_CONTROL);
    mst_feature kerb = feature_of(&l, "kerb", MST_FEATURE_LINE, MST_ROLE_BREAKLINE, "K1 K2 K3");
    kerb.vertices[1].edge = kerb.vertices[2].edge = MST_EDGE_ARC;
    add_feature(&l, kerb);
    make_ground(&l);
    /* circle through the three: centre (20, 2.5), radius 12.5; a place on it a quarter of the way from K1 to K2 */
    double from = atan2(7.5, -10), to = atan2(12.5, 0), at = from + (to - from) / 4;
    mst_ground_level level;
    assert_true(mst_ground_level_at(l.ground, (mst_point){20 + 12.5 * cos(at), 2.5 + 12.5 * sin(at)}, &level));
    NEAR(level.elevation_m, 11.25, 0.01);
    double share = 0;
    for (size_t i = 0; i < level.term_count; i++) share += level.terms[i].elevation;
    NEAR(share, 1, 1e-9);
    assert_true(mst_ground_level_at(l.ground, (mst_point){20, 15}, &level));
    NEAR(level.elevation_m, 12, 1e-9);
    mst_arena_free(l.arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(points_of_role_none_stay_out),
                                       cmocka_unit_test(breaklines_force_their_edges),
                                       cmocka_unit_test(boundary_and_hole),
                                       cmocka_unit_test(features_without_places_are_named),
                                       cmocka_unit_test(two_levels_at_one_place_are_named),
                                       cmocka_unit_test(an_arc_carries_levels)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
