/* Sources: named at each check; collected with their tolerances in the project's reference page 07. */
#include "geometry/near.h"
#include "merestone/geometry.h"

/* A strip between a line and offsets from it is a ring: the trapezoidal rule is its area. */
static double strip_area(const double offsets[], size_t count, double spacing) {
    mst_path_vertex v[16] = {{0, 0, NAN, 0}};
    size_t n = 1;
    for (size_t i = count; i-- > 0;) v[n++] = (mst_path_vertex){(double)i * spacing, offsets[i], NAN, 0};
    v[0] = (mst_path_vertex){(double)(count - 1) * spacing, 0, NAN, 0};
    v[n++] = (mst_path_vertex){0, 0, NAN, 0};
    return mst_path_area(&(mst_path){v, n, true});
}

static void offsets_by_the_trapezoidal_rule(void **state) {
    (void)state;
    /* Wolf and Ghilani, Elementary Surveying, ch. 12, first example (from memory); feet */
    NEAR(strip_area((double[]){0.0, 5.2, 8.7, 9.2, 4.9, 10.4, 5.2, 12.2, 2.8}, 9, 20), 1144, 0.5);
    /* a textbook surveying exercise with its solution on a public page (read) */
    NEAR(strip_area((double[]){2.5, 3.5, 5.0, 4.6, 3.2, 2.4, 5.6, 6.2, 3.8, 1.8, 0.9}, 11, 10), 378, 0.005);
    /* B. C. Punmia, Surveying vol. 1, area chapter (from memory, recomputed only) */
    NEAR(strip_area((double[]){3.82, 4.37, 6.82, 5.26, 7.59, 8.90, 9.52, 8.42, 6.43}, 9, 10), 560.05, 0.01);
}

/* J. Mahun, open-access surveying chapters, COGO, chapter H (read); feet. */
static void a_five_corner_lot(void **state) {
    (void)state;
    mst_path_vertex v[] = {{1259.97, 406.31, NAN, 0},
                           {1489.47, 235.12, NAN, 0},
                           {1126.4, 65.81, NAN, 0},
                           {942.04, 317.89, NAN, 0},
                           {1282.54, 675.32, NAN, 0}};
    NEAR(fabs(mst_path_area(&(mst_path){v, 5, true})), 140494, 1);
    NEAR(mst_path_area(&(mst_path){v, 5, true}), -140493.1069, 0.0001); /* clockwise */
}

/* Math Central (University of Regina), reader question on an odd-shaped lot (read); feet. */
static void a_lot_with_a_circular_bite(void **state) {
    (void)state;
    double chord = 38.94, bulge = tan(asin(chord / 2 / 50) / 2);
    mst_path_vertex v[] = {
        {0, 0, NAN, -bulge}, {chord, 0, NAN, 0}, {chord, 10561.63 / chord, NAN, 0}, {0, 10561.63 / chord, NAN, 0}};
    mst_path lot = {v, 4, true};
    NEAR(mst_path_area(&lot), 10458.34, 0.04);
    v[0].bulge = 0;
    NEAR(mst_path_area(&lot) - 103.29, 10458.34, 0.04);
}

/* Documentation of a public numerical library, segment-area function, sample output (read): radius 2.5. */
static void circular_segments(void **state) {
    (void)state;
    const double area[] = {0, 1.022, 2.796, 4.954, 7.334, 9.817, 12.301, 14.681, 16.839, 18.613};
    for (int i = 1; i < 10; i++) {
        double height = 0.5 * i, half_chord = sqrt(height * (5 - height));
        mst_path_vertex v[] = {{0, 0, NAN, height / half_chord}, {2 * half_chord, 0, NAN, 0}};
        NEAR(mst_path_area(&(mst_path){v, 2, true}), area[i], 0.0006);
    }
    mst_path_vertex round[] = {{0, 0, NAN, 1}, {5, 0, NAN, 1}};
    NEAR(mst_path_area(&(mst_path){round, 2, true}), 19.635, 0.0006);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(offsets_by_the_trapezoidal_rule), cmocka_unit_test(a_five_corner_lot),
        cmocka_unit_test(a_lot_with_a_circular_bite), cmocka_unit_test(circular_segments)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
