/* Earthworks on small lots. The patio is the worked job of the project's trade notes (computed there by hand). */
#include "works/works_test.h"
#include <stdlib.h>

static const char LOT[] =
    "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n"
    "L1,0,0,99.980,0.010,0.003\nL2,40,0,99.980,0.010,0.003\nL3,40,25,99.980,0.010,0.003\nL4,0,25,99.980,0.010,0.003\n"
    "A,10,10,99.980,0.010,0.003\nB,18,10,99.980,0.010,0.003\nC,18,16,99.980,0.010,0.003\nD,10,16,99.980,0.010,0.003\n";

static const char PATIO[] =
    "{\"name\":\"patio\",\"kind\":\"falling "
    "pad\",\"in\":\"patio\",\"level\":\"100.000\",\"at\":\"D\",\"fall\":\"1:60\",\"towards\":180,"
    "\"layers\":[{\"material\":\"flags\",\"thickness\":\"40mm\"},{\"material\":\"bed\",\"thickness\":\"40mm\"},"
    "{\"material\":\"stone\",\"thickness\":\"100mm\"}],\"strip\":\"150mm\",\"soil\":\"subsoil\"}";

static mst_setting SUBSOIL[] = {{"soil.subsoil", "1.3/0.9"}, {"soil.same", "1/1"}};

static lot patio_lot(void) {
    lot l = lot_of(LOT, MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "patio", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "A B C D"));
    l.site.settings = SUBSOIL;
    l.site.setting_count = 2;
    make_ground(&l);
    return l;
}

static void the_worked_patio(void **state) {
    (void)state;
    lot l = patio_lot();
    mst_element e = element_of(&l, PATIO);
    NEAR(e.build_up_m, 0.180, 1e-12);
    NEAR(e.finish.level_m - e.build_up_m, 99.820, 1e-12);
    NEAR(e.finish.level_m + e.finish.slope_n * -6, 99.900, 1e-12);
    mst_earthwork_report r = report_of(&l, &e, 1);
    const mst_earthwork *w = &r.elements[0];
    NEAR(w->area_m2, 48, 1e-9);
    NEAR(w->cut_m3.value, 2.88, 1e-9);
    NEAR(w->fill_m3.value, 0, 1e-9);
    NEAR(w->net_m3.value, 2.88, 1e-9);
    NEAR(w->strip_m3, 7.20, 1e-9);
    NEAR(w->cut_m3.value + w->strip_m3, 10.08, 1e-9);
    assert_int_equal(w->material_count, 2);
    assert_string_equal(w->materials[0].material, "subsoil");
    NEAR(w->materials[0].loose_m3, 3.74, 0.005);
    assert_string_equal(w->materials[1].material, "topsoil");
    NEAR(w->materials[1].loose_m3, 10.08, 1e-9);
    assert_int_equal(w->materials[1].loads, 2);
    NEAR(w->area_m2 * e.layers[2].thickness_m, 4.8, 1e-9);
    assert_true(says(&r, "services") && !says(&r, "Excavation") && !says(&r, "Fill:"));
    NEAR(r.total.cut_m3.value, 2.88, 1e-9);
    assert_true(w->cut_m3.low > 0 && w->cut_m3.low < 2.88 && w->cut_m3.high > 2.88);
    mst_arena_free(l.arena);
}

/* The interval against the spread of volumes over many drawn sets of points. */
static void the_interval_is_the_spread(void **state) {
    (void)state;
    const char text[] =
        "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n"
        "L1,0,0,10.0,0.050,0.010\nL2,40,0,14.0,0.050,0.010\nL3,40,25,15.0,0.050,0.010\nL4,0,25,9.5,0.050,0.010\n"
        "A,10,10,10.9,0.050,0.010\nB,18,10,12.1,0.050,0.010\nC,18,16,12.0,0.050,0.010\nD,10,16,11.0,0.050,0.010\n";
    lot l = lot_of(text, MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "pad", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "A B C D"));
    /* four corners of a rectangle could be cut along either diagonal, and would be, draw by draw */
    add_feature(&l, feature_of(&l, "diagonal", MST_FEATURE_LINE, MST_ROLE_BREAKLINE, "A C"));
    make_ground(&l);
    mst_element e = element_of(&l, "{\"kind\":\"pad\",\"in\":\"pad\",\"level\":11.4,\"strip\":0.1}");
    mst_earthwork_report r = report_of(&l, &e, 1);
    const mst_earthwork *w = &r.elements[0];
    enum { DRAWS = 1500 };
    double sum[3] = {0}, square[3] = {0};
    uint64_t seed = 11;
    mst_adjusted_point *p = l.adjustment->points, keep[8];
    memcpy(keep, p, sizeof keep);
    mst_arena *outer = l.arena;
    for (int k = 0; k < DRAWS; k++) {
        l.arena = mst_arena_new();
        for (size_t i = 0; i < l.adjustment->point_count; i++) {
            double normal[3] = {0};
            for (int a = 0; a < 3; a++)
                for (int n = 0; n < 12; n++) normal[a] += draw(&seed) - 0.5;
            p[i].easting_m = keep[i].easting_m + 0.05 * normal[0];
            p[i].northing_m = keep[i].northing_m + 0.05 * normal[1];
            p[i].elevation_m = keep[i].elevation_m + 0.01 * normal[2];
        }
        mst_error error = {0};
        mst_shape shape;
        mst_prism_sum v;
        mst_plane plane = e.finish;
        IS_OK(mst_ground_from_site(&l.site, l.adjustment, l.arena, &l.ground, &error));
        IS_OK(mst_feature_shape(&l.site.features[0], l.adjustment, l.arena, &shape, &error));
        IS_OK(mst_ground_to_plane(l.ground, &shape, &plane, 0.1, l.arena, &v, &error));
        const double value[] = {v.cut_m3, v.fill_m3, v.cut_m3 - v.fill_m3};
        for (int i = 0; i < 3; i++) sum[i] += value[i], square[i] += value[i] * value[i];
        mst_arena_free(l.arena);
    }
    const mst_figure *figures[] = {&w->cut_m3, &w->fill_m3, &w->net_m3};
    for (int i = 0; i < 3; i++) {
        double mean = sum[i] / DRAWS, sd = sqrt(square[i] / DRAWS - mean * mean);
        double half = (figures[i]->high - figures[i]->value) / 1.96;
        NEAR(half / sd, 1, 0.08);
        NEAR(mean, figures[i]->value, 0.2 * sd);
    }
    mst_arena_free(outer);
}

static void fill_soil_and_depths(void **state) {
    (void)state;
    lot l = patio_lot();
    mst_element e[3];
    e[0] = element_of(&l, "{\"name\":\"up\",\"kind\":\"pad\",\"in\":\"patio\",\"level\":100.98,\"soil\":\"clay\"}");
    e[1] =
        element_of(&l, "{\"name\":\"down\",\"kind\":\"depth\",\"in\":\"patio\",\"depth\":\"1.3\",\"strip\":\"100mm\"}");
    mst_earthwork_report r = report_of(&l, e, 1);
    const mst_soil_volume *m = &r.elements[0].materials[0];
    NEAR(r.elements[0].fill_m3.value, 48, 1e-9);
    assert_string_equal(m->material, "fill");
    NEAR(m->compacted_m3, 48, 1e-9);
    NEAR(m->bank_m3, 48 / 0.9, 1e-9);
    NEAR(m->loose_m3, 48 / 0.9 * 1.43, 1e-9);
    assert_int_equal(m->loads, 8);
    assert_true(says(&r, "Fill: 'up' is filled up to 1.00 m high"));
    r = report_of(&l, e, 2);
    NEAR(r.elements[1].cut_m3.value, 48 * 1.2, 1e-9);
    NEAR(r.elements[1].strip_m3, 4.8, 1e-9);
    assert_true(r.elements[1].cut_m3.low < r.elements[1].cut_m3.value); /* its outline is not exact */
    assert_true(says(&r, "Excavation: 'down' is dug up to 1.30 m deep"));
    assert_true(says(&r, "'up' and 'down' overlap by 48.00 m2"));
    assert_true(says(&r, "common earth"));
    NEAR(r.elements[0].area_m2, 0, 1e-9);
    NEAR(r.total.net_m3.value, 48 * 1.2, 1e-9); /* the later one has the place */
    e[2] = element_of(&l, "{\"name\":\"bank\",\"kind\":\"depth\",\"in\":\"patio\",\"depth\":-0.5}");
    r = report_of(&l, &e[2], 1);
    NEAR(r.total.fill_m3.value, 24, 1e-9);
    assert_true(r.total.cut_m3.value == 0);
    mst_error error = {0};
    mst_earthwork_report none = {.count = 77};
    IS_OK(mst_earthwork_of(&e[2], 1, &l.site, l.adjustment, NULL, 0, l.arena, &r, &error));
    assert_int_equal(mst_earthwork_of(e, 1, &l.site, l.adjustment, NULL, 0, l.arena, &none, &error), MST_UNDETERMINED);
    assert_true(none.count == 77);
    mst_arena_free(l.arena);
}

/* Put into the ground together with others, a pad and a depth have the figures that they have alone. */
static void together_as_alone(void **state) {
    (void)state;
    lot l = lot_of(
        "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n"
        "L1,0,0,10.0,0.050,0.010\nL2,40,0,14.0,0.050,0.010\nL3,40,25,15.0,0.050,0.010\nL4,0,25,9.5,0.050,0.010\n"
        "A,10,10,10.9,0.050,0.010\nB,18,10,12.1,0.050,0.010\nC,18,16,12.0,0.050,0.010\nD,10,16,11.0,0.050,0.010\n"
        "E,25,3,,0.050,\nF,35,3,,0.050,\n",
        MST_PAGE_POINTS);
    add_feature(&l, feature_of(&l, "pad", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "A B C D"));
    add_feature(&l, feature_of(&l, "line", MST_FEATURE_LINE, MST_ROLE_NONE, "E F"));
    make_ground(&l);
    mst_element e[2] = {
        element_of(
            &l, "{\"name\":\"p\",\"kind\":\"falling pad\",\"in\":\"pad\",\"level\":11.4,\"at\":\"A\",\"fall\":\"1:60\","
                "\"towards\":\"B\",\"strip\":0.1}"),
        element_of(
            &l, "{\"name\":\"t\",\"kind\":\"trench\",\"along\":\"line\",\"bottom\":0.6,\"from\":11,\"fall\":\"1:80\","
                "\"bedding\":0.1,\"pipe\":0.11,\"soil\":\"clay\"}")};
    mst_earthwork_report alone = report_of(&l, e, 1), r = report_of(&l, e, 2);
    const mst_figure *a[] = {&alone.elements[0].cut_m3, &alone.elements[0].fill_m3, &alone.elements[0].net_m3};
    const mst_figure *b[] = {&r.elements[0].cut_m3, &r.elements[0].fill_m3, &r.elements[0].net_m3};
    for (int i = 0; i < 3; i++) {
        NEAR(b[i]->value, a[i]->value, 1e-9);
        NEAR(b[i]->low, a[i]->low, 1e-3);
        NEAR(b[i]->high, a[i]->high, 1e-3);
    }
    NEAR(r.elements[0].strip_m3, alone.elements[0].strip_m3, 1e-9);
    /* the trench by hand: bedding 10 x 0.6 x 0.1, the rest but the pipe is filled again with what came out */
    const mst_earthwork *t = &r.elements[1];
    assert_int_equal(t->layer_count, 2);
    NEAR(t->layers[0].volume_m3, 0.6, 1e-9);
    NEAR(t->layers[1].volume_m3, t->cut_m3.value - 0.6 - 10 * MST_PI * 0.11 * 0.11 / 4, 1e-9);
    assert_string_equal(t->materials[1].material, "backfill");
    NEAR(t->materials[1].compacted_m3, t->layers[1].volume_m3, 1e-9);
    NEAR(t->materials[1].bank_m3, t->layers[1].volume_m3 / 0.9, 1e-9);
    assert_true(t->cut_m3.low < t->cut_m3.value && t->cut_m3.high > t->cut_m3.value);
    NEAR(r.total.cut_m3.value, r.elements[0].cut_m3.value + t->cut_m3.value, 1e-9);
    mst_arena_free(l.arena);
}

static void where_cut_meets_fill(void **state) {
    (void)state;
    const char text[] = "point,easting (m),northing (m),elevation "
                        "(m)\nA,0,0,10\nB,10,0,11\nC,10,10,11\nD,0,10,10\nE,30,0,13\nF,30,10,13\nG,35,0,13\n";
    lot l = lot_of(text, MST_PAGE_CONTROL);
    add_feature(&l, feature_of(&l, "pad", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "A B C D"));
    l.site.settings = SUBSOIL;
    l.site.setting_count = 2;
    make_ground(&l);
    double level, cut, fill;
    mst_error error = {0};
    mst_element e = element_of(&l, "{\"kind\":\"pad\",\"in\":\"pad\",\"level\":3,\"soil\":\"same\",\"strip\":\"200mm\","
                                   "\"layers\":[{\"material\":\"stone\",\"thickness\":0.3}]}");
    IS_OK(mst_balance_level(&e, &l.site, l.adjustment, l.ground, l.arena, &level, &cut, &fill, &error));
    NEAR(level, 10.5 - 0.2 + 0.3, 1e-6);
    NEAR(cut, 12.5, 1e-4);
    NEAR(fill, 12.5, 1e-4);
    e.soil = "clay";
    IS_OK(mst_balance_level(&e, &l.site, l.adjustment, l.ground, l.arena, &level, &cut, &fill, &error));
    NEAR(cut * 0.9, fill, 1e-4);
    /* by hand: cut = 50 x^2 ... with x the share above: 0.9 x^2 = (1 - x)^2 */
    double x = 1 / (1 + sqrt(0.9));
    NEAR(level - 0.3 + 0.2, 11 - x, 1e-6);
    mst_element falling = element_of(
        &l, "{\"kind\":\"falling "
            "pad\",\"in\":\"pad\",\"level\":50,\"at\":[5,5],\"fall\":\"2%\",\"towards\":\"B\",\"soil\":\"same\"}");
    IS_OK(mst_balance_level(&falling, &l.site, l.adjustment, l.ground, l.arena, &level, &cut, &fill, &error));
    NEAR(level, 10.5, 1e-6);
    NEAR(cut, fill, 1e-4);
    mst_element depth = element_of(&l, "{\"kind\":\"depth\",\"in\":\"pad\",\"depth\":0.3}");
    double keep = level;
    assert_int_equal(mst_balance_level(&depth, &l.site, l.adjustment, l.ground, l.arena, &level, &cut, &fill, &error),
                     MST_NO);
    assert_true(level == keep);
    mst_arena_free(l.arena);
}

static void ground_that_is_not_there(void **state) {
    (void)state;
    const char text[] = "point,easting (m),northing (m),elevation "
                        "(m)\nA,0,0,10\nB,10,0,10\nC,10,10,10\nD,0,10,10\nE,20,0,\nF,20,10,\nG,30,0,\nH,30,10,\n";
    lot l = lot_of(text, MST_PAGE_CONTROL);
    add_feature(&l, feature_of(&l, "half", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "A E F D"));
    add_feature(&l, feature_of(&l, "off", MST_FEATURE_AREA, MST_ROLE_DEFAULT, "E G H F"));
    make_ground(&l);
    mst_element half = element_of(&l, "{\"name\":\"half\",\"kind\":\"pad\",\"in\":\"half\",\"level\":9}");
    mst_element off = element_of(&l, "{\"name\":\"off\",\"kind\":\"pad\",\"in\":\"off\",\"level\":9}");
    mst_earthwork_report r = report_of(&l, &half, 1);
    NEAR(r.total.area_m2, 100, 1e-9);
    NEAR(r.total.uncovered_m2, 100, 1e-9);
    NEAR(r.total.cut_m3.value, 100, 1e-9);
    assert_true(says(&r, "100.00 m2 of 'half' have no measured ground"));
    double level = -1, cut, fill;
    mst_error error = {0};
    assert_int_equal(mst_balance_level(&off, &l.site, l.adjustment, l.ground, l.arena, &level, &cut, &fill, &error),
                     MST_UNDETERMINED);
    assert_true(level == -1);
    mst_arena_free(l.arena);
}

static void definitions_read_and_refused(void **state) {
    (void)state;
    lot l = patio_lot();
    add_feature(&l, feature_of(&l, "kerb", MST_FEATURE_LINE, MST_ROLE_DEFAULT, "A B"));
    mst_element e =
        element_of(&l, "{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":\"12\",\"at\":[1,2],\"fall\":\"1 in "
                       "40\",\"towards\":\"90\"}");
    NEAR(e.finish.slope_e, -0.025, 1e-12);
    NEAR(e.finish.slope_n, 0, 1e-12);
    assert_string_equal(e.name, "work");
    e = element_of(
        &l, "{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":\"12\",\"at\":\"A\",\"fall\":2,\"towards\":\"D\"}");
    NEAR(e.finish.slope_n, -0.02, 1e-12);
    const struct {
        const char *definition, *words;
        mst_status status;
    } wrong[] = {
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"stripe\":\"150mm\"}", "'stripe'", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"fall\":\"1:60\"}", "'fall'", MST_INVALID},
        {"{\"kind\":\"pool\",\"in\":\"patio\"}", "pool", MST_INVALID},
        {"{\"in\":\"patio\"}", "'kind'", MST_INVALID},
        {"{\"kind\":\"pad\",\"level\":1}", "'in'", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"moon\",\"level\":1}", "moon", MST_NOT_FOUND},
        {"{\"kind\":\"pad\",\"in\":\"kerb\",\"level\":1}", "no area", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\"}", "'level'", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":\"high\"}", "'level'", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"strip\":150}", "check its unit", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"strip\":-0.1}", "'strip'", MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"soil\":\"treacle\"}", "treacle", MST_NOT_FOUND},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"layers\":[{\"material\":\"x\"}]}", "'thickness'",
         MST_INVALID},
        {"{\"kind\":\"pad\",\"in\":\"patio\",\"level\":1,\"layers\":[{\"material\":\"x\",\"thickness\":\"40mm\","
         "\"colour\":1}]}",
         "'colour'", MST_INVALID},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"Z\",\"fall\":2,\"towards\":1}", "'Z'",
         MST_NOT_FOUND},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":[1],\"fall\":2,\"towards\":1}", "'at'",
         MST_INVALID},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"A\",\"fall\":\"60\",\"towards\":1}", "'fall'",
         MST_INVALID},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"A\",\"fall\":\"1:0\",\"towards\":1}",
         "'fall'", MST_INVALID},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"A\",\"fall\":300,\"towards\":1}", "300",
         MST_INVALID},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"A\",\"fall\":2,\"towards\":\"A\"}",
         "same point", MST_UNDETERMINED},
        {"{\"kind\":\"falling pad\",\"in\":\"patio\",\"level\":1,\"at\":\"A\",\"fall\":2}", "'towards'", MST_INVALID},
        {"{\"kind\":\"depth\",\"in\":\"patio\",\"depth\":300}", "check its unit", MST_INVALID},
        {"{\"kind\":\"depth\",\"in\":\"patio\"}", "'depth'", MST_INVALID},
        {"{\"kind\":\"pad\",\"kind\":\"pad\"}", "JSON", MST_INVALID},
        {"[1]", "object", MST_INVALID},
        {"nonsense", "JSON", MST_INVALID},
    };
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        mst_error error = {0};
        mst_element keep = {.strip_m = 77};
        mst_work work = {.name = "w", .definition = wrong[i].definition};
        mst_status status = mst_element_read(&work, &l.site, l.adjustment, l.arena, &keep, &error);
        if (status != wrong[i].status || !strstr(error.sentence, wrong[i].words))
            fail_msg("%s: %d %s", wrong[i].definition, status, error.sentence);
        assert_true(keep.strip_m == 77);
    }
    mst_arena_free(l.arena);
}

/* Every example of docs/works.md is read; each kind refuses what it lacks by the key's name. */
static void the_examples_are_read(void **state) {
    (void)state;
    char path[400], line[4000], text[4000] = "";
    snprintf(path, sizeof path, "%s/../docs/works.md", EXAMPLES);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    lot l = lot_of("point,easting (m),northing (m),elevation (m)\nD1,0,0,100\nD2,10,0,100\nG4,10,10,100\nG5,0,10,100\n",
                   MST_PAGE_CONTROL);
    static const char *const areas[] = {"shed base", "terrace", "lawn", "pond", "whole garden", "bed", "sump", "drive"};
    static const char *const lines[] = {"drive line",  "ramp line",  "steps line", "swale line",
                                        "runnel line", "drain line", "wall line"};
    for (int i = 0; i < 8; i++)
        add_feature(&l, feature_of(&l, areas[i], MST_FEATURE_AREA, MST_ROLE_NONE, "D1 D2 G4 G5"));
    for (int i = 0; i < 7; i++) add_feature(&l, feature_of(&l, lines[i], MST_FEATURE_LINE, MST_ROLE_NONE, "D1 D2"));
    static mst_work works[1] = {
        {.name = "terrace", .definition = "{\"name\":\"terrace\",\"kind\":\"pad\",\"in\":\"terrace\",\"level\":100}"}};
    l.site.works = works, l.site.work_count = 1;
    bool seen[MST_WORK_KINDS] = {0}, in_kinds = false, in_block = false;
    int open = 0, read = 0;
    while (fgets(line, sizeof line, file)) {
        if (strncmp(line, "## ", 3) == 0) in_kinds = strcmp(line, "## The kinds\n") == 0;
        if (strncmp(line, "```", 3) == 0) in_block = !in_block;
        if (!in_kinds || !in_block || strncmp(line, "```", 3) == 0) continue;
        strcat(text, line);
        for (const char *c = line; *c; c++) open += (*c == '{') - (*c == '}');
        if (open) continue;
        mst_element e = element_of(&l, text);
        seen[e.kind] = true;
        read++;
        text[0] = 0;
    }
    fclose(file);
    for (int k = 0; k < MST_WORK_KINDS; k++)
        if (!seen[k]) print_error("no example of %s\n", mst_work_kind_name((mst_work_kind)k)), fail();
    assert_true(read >= MST_WORK_KINDS);
    static const struct {
        const char *definition, *words;
    } bad[] = {
        {"{\"kind\":\"pad through "
         "levels\",\"in\":\"lawn\",\"levels\":[{\"at\":\"D1\",\"level\":1},{\"at\":\"D2\",\"level\":1},{\"at\":[5,0],"
         "\"level\":1}]}",
         "'levels'"},
        {"{\"kind\":\"bank\",\"of\":\"nothing\",\"batter\":\"1:2\"}", "'of'"},
        {"{\"kind\":\"bank\",\"of\":\"terrace\"}", "'batter'"},
        {"{\"kind\":\"bank\",\"of\":\"terrace\",\"batter\":\"1:2\",\"edges\":[5]}", "'edges'"},
        {"{\"kind\":\"bank\",\"of\":\"terrace\",\"batter\":\"1:200\"}", "'batter'"},
        {"{\"kind\":\"path\",\"along\":\"lawn\",\"width\":1,\"from\":1,\"to\":1}", "'along'"},
        {"{\"kind\":\"path\",\"along\":\"drive line\",\"from\":1,\"to\":1}", "'width'"},
        {"{\"kind\":\"path\",\"along\":\"drive line\",\"width\":1}", "'profile'"},
        {"{\"kind\":\"path\",\"along\":\"drive line\",\"width\":1,\"crown\":2,\"crossfall\":2,\"from\":1,\"to\":1}",
         "'crown'"},
        {"{\"kind\":\"path\",\"along\":\"drive "
         "line\",\"width\":1,\"profile\":[{\"at\":0,\"level\":1},{\"at\":5,\"level\":1,\"curve\":12},{\"at\":9,"
         "\"level\":1}]}",
         "'curve'"},
        {"{\"kind\":\"steps\",\"along\":\"steps line\",\"width\":1,\"from\":1,\"to\":1.1}", "'risers'"},
        {"{\"kind\":\"swale\",\"along\":\"swale line\",\"shape\":\"U\",\"from\":1,\"to\":1}", "'shape'"},
        {"{\"kind\":\"swale\",\"along\":\"swale line\",\"shape\":\"V\",\"from\":1,\"to\":1}", "'side'"},
        {"{\"kind\":\"swale\",\"along\":\"swale "
         "line\",\"shape\":\"V\",\"bottom\":1,\"side\":\"1:2\",\"from\":1,\"to\":1}",
         "'bottom'"},
        {"{\"kind\":\"trench\",\"along\":\"drain line\",\"bottom\":0.1,\"pipe\":0.2,\"from\":1,\"to\":1}", "'pipe'"},
        {"{\"kind\":\"trench\",\"along\":\"drain line\",\"bottom\":0.1,\"from\":1}", "'to'"},
        {"{\"kind\":\"pond\",\"in\":\"pond\",\"level\":1,\"depth\":1,\"side\":\"1:2\",\"shelves\":[{\"depth\":2,"
         "\"width\":1}]}",
         "'shelves'"},
        {"{\"kind\":\"mound\",\"at\":\"Q\",\"level\":1,\"batter\":\"1:2\"}", "'Q'"},
        {"{\"kind\":\"wall\",\"along\":\"wall line\",\"height\":1}", "'height'"},
        {"{\"kind\":\"strip\",\"in\":\"bed\"}", "'depth'"},
        {"{\"kind\":\"hole\"}", "'kind'"}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        mst_error error = {0};
        mst_element e;
        mst_work work = {.name = "w", .definition = bad[i].definition};
        assert_int_not_equal(mst_element_read(&work, &l.site, l.adjustment, l.arena, &e, &error), MST_OK);
        if (!strstr(error.sentence, bad[i].words)) print_error("%s: %s\n", bad[i].words, error.sentence), fail();
    }
    mst_arena_free(l.arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_worked_patio),
                                       cmocka_unit_test(the_interval_is_the_spread),
                                       cmocka_unit_test(fill_soil_and_depths),
                                       cmocka_unit_test(together_as_alone),
                                       cmocka_unit_test(where_cut_meets_fill),
                                       cmocka_unit_test(ground_that_is_not_there),
                                       cmocka_unit_test(definitions_read_and_refused),
                                       cmocka_unit_test(the_examples_are_read)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
