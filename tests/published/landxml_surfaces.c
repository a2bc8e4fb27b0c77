/* LandXML 1.2 TIN surfaces from an open repository (tests/data/landxml-tin/SOURCE.md): one real site at five levels of
 * detail in US survey feet, and two small surfaces that state their own areas. Areas and volumes of the five: computed
 * from the files beside the data, to the printed 0.001 ft2 and ft3. The unit: NIST, 85 FR 62698. */
#include "merestone/exchange.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>
#include "exchange/sample_helper.c"

static mst_surface *surfaces_of(const char *name, size_t *count) {
    size_t length;
    char *text = contents(mst_arena_printf(arena, "%s/landxml-tin/%s", TEST_DATA, name), &length);
    mst_surface *surfaces;
    mst_error error = {0};
    if (mst_read_landxml(text, length, name, arena, &surfaces, count, &error))
        fail_msg("%d: %s", error.row, error.sentence);
    return surfaces;
}
typedef struct sums {
    double plan, slope, volume;
} sums; /* volume above the lowest of all points */

static sums sums_of(const mst_surface *s) {
    sums out = {0, 0, 0};
    double low = INFINITY;
    for (size_t i = 0; i < s->point_count; i++) low = fmin(low, s->points[i][2]);
    for (size_t i = 0; i < s->face_count; i++) {
        const double *a = s->points[s->faces[i][0]], *b = s->points[s->faces[i][1]], *c = s->points[s->faces[i][2]];
        double u[3], v[3];
        for (int k = 0; k < 3; k++) u[k] = b[k] - a[k], v[k] = c[k] - a[k];
        double x = u[1] * v[2] - u[2] * v[1], y = u[2] * v[0] - u[0] * v[2], z = u[0] * v[1] - u[1] * v[0];
        out.plan += fabs(z) / 2;
        out.slope += sqrt(x * x + y * y + z * z) / 2;
        out.volume += fabs(z) / 2 * ((a[2] + b[2] + c[2]) / 3 - low);
    }
    return out;
}
static void the_five_levels_of_detail(void **state) {
    (void)state;
    static const struct {
        const char *file;
        size_t points;
        double plan, slope, volume;
    } KNOWN[] = {{"surface_S1.xml", 17, 3031369.121, 3044068.167, 84091366.123},
                 {"surface_S2.xml", 0, 3031369.121, 3048090.735, 103537875.059},
                 {"surface_S3.xml", 0, 3031776.118, 3047658.897, 103446633.309},
                 {"surface_S4.xml", 0, 3033985.925, 3047007.907, 102643110.210},
                 {"surface_S5.xml", 7747, 3031113.952, 3043698.427, 102566356.914}};
    const double foot = 1200.0 / 3937;
    for (int i = 0; i < 5; i++) {
        size_t count;
        mst_surface *s = surfaces_of(KNOWN[i].file, &count);
        assert_int_equal(count, 1);
        if (KNOWN[i].points) assert_int_equal(s->point_count, KNOWN[i].points);
        assert_true(isnan(s->stated_area_m2));
        sums got = sums_of(s);
        near(got.plan / (foot * foot), KNOWN[i].plan, 0.0006);
        near(got.slope / (foot * foot), KNOWN[i].slope, 0.0006);
        near(got.volume / (foot * foot * foot), KNOWN[i].volume,
             0.01); /* eleven digits; sums of 15,000 prisms from far coordinates */
    }
}
static void stated_areas_agree(void **state) {
    (void)state;
    size_t count;
    mst_surface *s = surfaces_of("two_faces_2.xml", &count);
    assert_int_equal(count, 2);
    assert_string_equal(s[0].name, "surface-1");
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(s[i].face_count, 2);
        near(s[i].stated_area_m2, 18 * 0.3048 * 0.3048, 1e-12);
        sums got = sums_of(&s[i]);
        near(got.plan, s[i].stated_area_m2, 1e-10);
        near(got.slope, s[i].stated_slope_area_m2, 1e-10);
    }
    /* northing comes first in the file: 2. 1. 3. is northing 2, easting 1 */
    near(s[0].points[0][0], 1 * 0.3048, 1e-15);
    near(s[0].points[0][1], 2 * 0.3048, 1e-15);
    near(s[0].points[0][2], 3 * 0.3048, 1e-15);
    assert_int_equal(surfaces_of("two_faces_1.xml", &count)->face_count, 2);
}
/* S5 flags one face as no part of the surface: one fewer than its F elements. */
static void invisible_faces_are_left_out(void **state) {
    (void)state;
    size_t count, length;
    char *text = contents(mst_arena_printf(arena, "%s/landxml-tin/surface_S5.xml", TEST_DATA), &length);
    assert_int_equal(surfaces_of("surface_S5.xml", &count)->face_count,
                     count_of(text, "<F ") + count_of(text, "<F>") - 1);
}
int main(void) {
    const struct CMUnitTest tests[] = {TEST(the_five_levels_of_detail), TEST(stated_areas_agree),
                                       TEST(invisible_faces_are_left_out)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
