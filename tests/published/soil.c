/* Sources: named at each check; collected with their tolerances in the project's reference page 09. */
#include "geometry/near.h"
#include "merestone/works.h"

static mst_soil soil_by(const char *factors) {
    mst_error error = {0};
    mst_soil soil = {0};
    mst_setting setting = {"soil.trial", factors};
    mst_site site = {.settings = &setting, .setting_count = 1};
    IS_OK(mst_soil_of(&site, "trial", &soil, &error));
    return soil;
}

/* S. W. Nunnally, Construction Methods and Management, ch. 2 (from memory): 2,800 bank, 2,000 or 1,960 loose, 3,500
 * compacted lb/yd3; a million loose. */
static void factors_from_unit_weights(void **state) {
    (void)state;
    char text[60];
    snprintf(text, sizeof text, "%.15f/%.15f", 2800.0 / 2000, 2800.0 / 3500);
    mst_soil first = soil_by(text);
    NEAR(100 * (first.loose - 1), 40, 0.05);
    NEAR(100 * (1 - first.compacted), 20, 0.05);
    snprintf(text, sizeof text, "%.15f/%.15f", 2800.0 / 1960, 2800.0 / 3500);
    mst_soil third = soil_by(text);
    NEAR(1 / third.loose, 0.7, 0.005);
    double bank = 1e6 / third.loose;
    NEAR(bank, 700000, 0.5);
    NEAR(bank * third.compacted, 560000, 0.5);
}

/* A public construction exercise page (inputs read, answers recomputed only). */
static void clay_in_three_states(void **state) {
    (void)state;
    char text[60];
    snprintf(text, sizeof text, "%.15f/%.15f", 3000.0 / 2310, 3000.0 / 3750);
    mst_soil clay = soil_by(text);
    NEAR(100 * (clay.loose - 1), 29.87, 0.05);
    NEAR(100 * (1 - clay.compacted), 20, 0.05);
    NEAR(1 / clay.loose, 0.77, 0.001);
    double compacted = 165000.0 / 27;
    NEAR(compacted, 6111.1, 0.1);
    assert_int_equal(mst_loads(compacted / clay.compacted * clay.loose, 12), 827);
}

/* A public civil-engineering exercise page (read). */
static void a_ton_in_the_ground_and_in_the_truck(void **state) {
    (void)state;
    mst_soil soil = soil_by("1.259259259259/0.9");
    NEAR(2000.0 / 3400, 0.59, 0.005);
    NEAR(2000.0 / 3400 * soil.loose, 0.74, 0.005);
    NEAR(100 * (soil.loose - 1), 26, 0.5);
    NEAR(100 * soil.loose, 126, 0.5);
}

/* A public mass-haul tutorial after Uren and Price, Surveying for Engineers (read). */
static void a_mass_haul_table(void **state) {
    (void)state;
    const double chainage[] = {0, 100, 200, 300, 400, 480, 500, 600, 700, 800, 900, 1000, 1100, 1200};
    const double volume[] = {0, 290, 760, 1680, 620, 120, -20, -110, -350, -600, -780, -690, -400, -120};
    const double expected[] = {0, 290, 1050, 2730, 3350, 3470, 3450, 3340, 2990, 2390, 1610, 920, 520, 400};
    double sums[14];
    size_t top = mst_mass_haul(volume, 14, sums);
    for (int i = 0; i < 14; i++) NEAR(sums[i], expected[i], 0.5);
    NEAR(chainage[top], 480, 0);
}

/* US Army FM 5-434 and FM 5-430-00-1, soil conversion table (from memory; the sand row read): the rows that start from
 * loose and compacted are ratios of the bank row, to two decimals. */
static void the_field_manual_table(void **state) {
    (void)state;
    const struct {
        const char *name;
        double loose, compacted, loose_bank, loose_compacted, compacted_bank, compacted_loose;
    } rows[] = {{"sand", 1.11, 0.95, 0.90, 0.86, 1.05, 1.17},         {"loam", 1.25, 0.90, 0.80, 0.72, 1.11, 1.39},
                {"common earth", 1.25, 0.90, 0.80, 0.72, 1.11, 1.39}, {"clay", 1.43, 0.90, 0.70, 0.63, 1.11, 1.59},
                {"rock", 1.50, 1.30, 0.67, 0.87, 0.77, 1.15},         {"coral", 1.50, 1.30, 0.67, 0.87, 0.77, 1.15}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const mst_soil *s = mst_soil_named(rows[i].name);
        assert_non_null(s);
        NEAR(s->loose, rows[i].loose, 0);
        NEAR(s->compacted, rows[i].compacted, 0);
        NEAR(1 / s->loose, rows[i].loose_bank, 0.0051);
        NEAR(s->compacted / s->loose, rows[i].loose_compacted, 0.0051);
        NEAR(1 / s->compacted, rows[i].compacted_bank, 0.0051);
        NEAR(s->loose / s->compacted, rows[i].compacted_loose, 0.0051);
        assert_true(strlen(s->source) > 10);
    }
}

static void soils_that_are_not(void **state) {
    (void)state;
    mst_error error = {0};
    mst_soil soil = {.loose = -1};
    mst_site none = {0};
    assert_int_equal(mst_soil_of(&none, "treacle", &soil, &error), MST_NOT_FOUND);
    assert_non_null(strstr(error.sentence, "clay"));
    const char *const wrong[] = {"1.3", "1.3/", "/0.9", "0.9/0.8", "1.3/1.4", "1.3/0.9/1.6/2", "1,3/0.9", "9/0.9"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        mst_setting setting = {"soil.clay", wrong[i]};
        mst_site site = {.settings = &setting, .setting_count = 1};
        assert_int_equal(mst_soil_of(&site, "clay", &soil, &error), MST_INVALID);
    }
    assert_true(soil.loose == -1);
    assert_null(mst_soil_named("treacle"));
    size_t count;
    const mst_soil *all = mst_soils(&count);
    for (size_t i = 0; i < count; i++) assert_ptr_equal(mst_soil_named(all[i].name), &all[i]);
    assert_int_equal(mst_loads(0, 10), 0);
    assert_int_equal(mst_loads(10.0005, 10), 1);
    assert_int_equal(mst_loads(10.1, 10), 2);
    NEAR(soil_by("1.35/0.88/1.9").bank_t_m3, 1.9, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(factors_from_unit_weights),
                                       cmocka_unit_test(clay_in_three_states),
                                       cmocka_unit_test(a_ton_in_the_ground_and_in_the_truck),
                                       cmocka_unit_test(a_mass_haul_table),
                                       cmocka_unit_test(the_field_manual_table),
                                       cmocka_unit_test(soils_that_are_not)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
