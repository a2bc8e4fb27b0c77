/* Formats and the earth, against what is printed. Sources beside each check. */
#include "merestone/exchange.h"
#include "exchange/dxf.h"
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <cmocka.h>

static void near(double a, double b, double by) {
    if (!(fabs(a - b) <= by)) fail_msg("%.9f is not %.9f within %g", a, b, by);
}
static double degrees(double d, double m, double s) { return (d + m / 60 + s / 3600) * MST_PI / 180; }
static mst_point3 carried(mst_projection *p, double latitude, double longitude, double height) {
    mst_point3 at;
    const mst_projector *projector = mst_projection_projector(p);
    assert_true(projector->project(projector->self, latitude, longitude, height, &at));
    double back_latitude, back_longitude;
    assert_true(mst_projection_inverse(p, (mst_point){at.easting_m, at.northing_m}, &back_latitude, &back_longitude));
    near(back_latitude, latitude, 1e-11); /* 0.06 mm on the ground */
    near(back_longitude, longitude, 1e-11);
    return at;
}

/* Ordnance Survey, A Guide to Coordinate Systems in Great Britain, annexe C (Caister water tower), and the transverse
 * Mercator example of IOGP 373-7-2, whose printed series allows 0.01 m; both from memory, recomputed in the reference
 * pages. */
static void british_grid_transverse_mercator(void **state) {
    (void)state;
    const mst_projection_options grid = {.latitude_rad = degrees(49, 0, 0),
                                         .longitude_rad = -degrees(2, 0, 0),
                                         .scale = 0.9996012717,
                                         .false_easting_m = 400000,
                                         .false_northing_m = -100000,
                                         .ellipsoid = "airy"};
    mst_projection *p;
    assert_int_equal(mst_projection_open_with(&grid, &p, NULL), MST_OK);
    mst_point3 caister = carried(p, degrees(52, 39, 27.2531), degrees(1, 43, 4.5177), 24.7);
    near(caister.easting_m, 651409.903, 0.0006);
    near(caister.northing_m, 313177.270, 0.0006);
    near(caister.elevation_m, 24.7, 0);
    mst_point3 note = carried(p, degrees(50, 30, 0), degrees(0, 30, 0), 0);
    near(note.easting_m, 577274.99, 0.01);
    near(note.northing_m, 69740.50, 0.01);
    mst_projection_close(p);
}
/* Station 1770 near the edge of zone 56 on GRS 80: open test resources of a national geodetic library (Geoscience
 * Australia). */
static void zone_edge_on_grs80(void **state) {
    (void)state;
    const mst_projection_options zone = {.longitude_rad = degrees(153, 0, 0),
                                         .scale = 0.9996,
                                         .false_easting_m = 500000,
                                         .false_northing_m = 10000000,
                                         .ellipsoid = "GRS80"};
    mst_projection *p;
    assert_int_equal(mst_projection_open_with(&zone, &p, NULL), MST_OK);
    mst_point3 at = carried(p, -degrees(24, 9, 32.48960), degrees(151, 53, 13.18800), 0);
    near(at.easting_m, 386930.017, 0.001);
    near(at.northing_m, 7327717.501, 0.001);
    mst_projection_close(p);
}

/* From plane coordinates back to the ellipsoid by the transverse Mercator projection's own line scale and arc-to-chord
 * correction, series of the Geocentric Datum of Australia Technical Manual (ICSM, grid calculations; from memory). The
 * plane counts from its central meridian at the first end, so its easting, and the convergence there, are nought. */
typedef struct line {
    double distance_m, azimuth_rad;
} line;
static line on_the_ellipsoid(mst_point3 first, mst_point3 second, double mean_latitude) {
    const double a = 6378137, f = 1 / 298.257222101, e2 = f * (2 - f), s = sin(mean_latitude), w = 1 - e2 * s * s;
    const double r2 = a * a * (1 - e2) / (w * w); /* rho nu: Gauss's mean radius squared */
    double e1 = first.easting_m, e = second.easting_m, de = e - e1, dn = second.northing_m - first.northing_m;
    double q = (e1 * e1 + e1 * e + e * e) / (6 * r2), scale = 1 + q * (1 + q / 6);
    double m = e + 2 * e1, bend = -dn * m / (6 * r2) * (1 - m * m / (27 * r2));
    return (line){hypot(de, dn) / scale, mst_angle_turn(atan2(de, dn) - bend)};
}

/* T06-G: Flinders Peak to Buninyong, ellipsoidal distance and azimuths both ways on GRS 80 (GDA Technical Manual, as
 * carried in the tests of an open geodetic library; read). Our local plane about each end in turn, scale 1 there. The
 * plane itself is 0.44 m longer than the ellipsoid over these 55 km and turned by 1.2": that is what is taken out; what
 * is left is 0.15 mm and 0.003". */
static void the_local_plane_against_a_long_line(void **state) {
    (void)state;
    const double at[2][2] = {{-degrees(37, 57, 3.7203), degrees(144, 25, 29.5244)},
                             {-degrees(37, 39, 10.1561), degrees(143, 55, 35.3839)}};
    const double azimuth[] = {degrees(306, 52, 5.37), degrees(127, 10, 25.07)};
    for (int from = 0; from < 2; from++) {
        const mst_projection_options about = {
            .latitude_rad = at[from][0], .longitude_rad = at[from][1], .ellipsoid = "GRS80"};
        mst_projection *p;
        assert_int_equal(mst_projection_open_with(&about, &p, NULL), MST_OK);
        mst_point3 here = carried(p, at[from][0], at[from][1], 0), there = carried(p, at[!from][0], at[!from][1], 0);
        near(here.easting_m, 0, 1e-9);
        near(here.northing_m, 0, 1e-9);
        line l = on_the_ellipsoid(here, there, (at[0][0] + at[1][0]) / 2);
        near(l.distance_m, 54972.271, 0.0006);
        near(l.azimuth_rad, azimuth[from], degrees(0, 0, 0.006)); /* printed to 0.01" */
        mst_projection_close(p);
    }
}

/* Geographic to geocentric to local east-north-up, written out here as an oracle for the local plane. */
static void geocentric(double latitude, double longitude, double height, double xyz[3]) {
    const double a = 6378137, f = 1 / 298.257223563, e2 = f * (2 - f),
                 n = a / sqrt(1 - e2 * sin(latitude) * sin(latitude));
    xyz[0] = (n + height) * cos(latitude) * cos(longitude);
    xyz[1] = (n + height) * cos(latitude) * sin(longitude);
    xyz[2] = (n * (1 - e2) + height) * sin(latitude);
}
static void east_north_up(double latitude, double longitude, const double from[3], const double to[3], double enu[3]) {
    double d[3] = {to[0] - from[0], to[1] - from[1], to[2] - from[2]}, sl = sin(longitude), cl = cos(longitude),
           sp = sin(latitude), cp = cos(latitude);
    enu[0] = -sl * d[0] + cl * d[1];
    enu[1] = -sp * cl * d[0] - sp * sl * d[1] + cp * d[2];
    enu[2] = cp * cl * d[0] + cp * sl * d[1] + sp * d[2];
}
/* IOGP 373-7-2, geographic/geocentric and topocentric examples, as carried in an open projection library's test suite:
 * the oracle first. */
static void local_plane_agrees_with_east_north_up(void **state) {
    (void)state;
    double point[3], origin[3], enu[3];
    geocentric(degrees(53, 48, 33.820), degrees(2, 7, 46.380), 73, point);
    geocentric(degrees(55, 0, 0), degrees(5, 0, 0), 200, origin);
    const double printed[2][3] = {{3771793.968, 140253.342, 5124304.349}, {3652755.306, 319574.6799, 5201547.354}};
    for (int k = 0; k < 3; k++) {
        near(point[k], printed[0][k], 0.0006);
        near(origin[k], printed[1][k], 0.0006);
    }
    east_north_up(degrees(55, 0, 0), degrees(5, 0, 0), origin, point, enu);
    near(enu[0], -189013.869, 0.0006);
    near(enu[1], -128642.040, 0.0006);
    near(enu[2], -4220.171, 0.0006);
    /* on a site, within 300 m of its origin, the plane at the origin's height must give the same to half a
     * millionth of the distance, also on a mountain: there one radius of curvature stands for two that differ by 0.2 %
     */
    for (double height = 0; height < 2500; height += 1200) {
        const mst_projection_options about = {
            .latitude_rad = degrees(55, 0, 0), .longitude_rad = degrees(5, 0, 0), .height_m = height};
        mst_projection *p;
        assert_int_equal(mst_projection_open_with(&about, &p, NULL), MST_OK);
        geocentric(about.latitude_rad, about.longitude_rad, height, origin);
        for (int i = 0; i < 8; i++) {
            double latitude = about.latitude_rad + 4e-5 * cos(i * MST_PI / 4),
                   longitude = about.longitude_rad + 7e-5 * sin(i * MST_PI / 4);
            mst_point3 at = carried(p, latitude, longitude, height);
            geocentric(latitude, longitude, height, point);
            east_north_up(about.latitude_rad, about.longitude_rad, origin, point, enu);
            near(at.easting_m, enu[0], 2e-4);
            near(at.northing_m, enu[1], 2e-4);
        }
        mst_projection_close(p);
    }
}
static void a_plane_that_cannot_be_is_refused(void **state) {
    (void)state;
    mst_projection *p = NULL;
    const mst_projection_options wrong[] = {{.latitude_rad = 2},
                                            {.longitude_rad = 4},
                                            {.latitude_rad = NAN},
                                            {.height_m = 1e5},
                                            {.scale = -1},
                                            {.ellipsoid = "no_such"},
                                            {.ellipsoid = "WGS84 +nadgrids=x"}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        assert_int_equal(mst_projection_open_with(&wrong[i], &p, NULL), MST_INVALID);
    assert_null(p);
    assert_int_equal(mst_projection_open(degrees(52, 0, 0), 0, &p, NULL), MST_OK);
    near(carried(p, degrees(52, 0, 0), 0, 5).easting_m, 0, 1e-9);
    mst_projection_close(p);
    mst_projection_close(NULL);
}

/* Bulge to arc: bulge = tangent of a quarter of the included angle (DXF reference, documentation of an open library);
 * numbers of the reference page T14-E, checked there as centre equidistant from start, end and mid-arc. */
static void bulge_to_arc(void **state) {
    (void)state;
    static const struct {
        double x, bulge, radius, ce, cn, sweep_deg;
    } ARCS[] = {
        {4, 1.0, 2, 2, 0, 180}, {10, 0.414213562, 7.071068, 5, 5, 90}, {10, -0.25, 10.625, 5, -9.375, -56.144974}};
    for (int i = 0; i < 3; i++) {
        const mst_path_vertex a = {0, 0, NAN, ARCS[i].bulge}, b = {ARCS[i].x, 0, NAN, 0};
        mst_point centre;
        double radius, start, sweep;
        mst_arc_of(&a, &b, &centre, &radius, &start, &sweep);
        near(radius, ARCS[i].radius, 1e-6);
        near(centre.easting_m, ARCS[i].ce, 1e-6);
        near(centre.northing_m, ARCS[i].cn, 1e-6);
        near(fabs(sweep) * 180 / MST_PI, fabs(ARCS[i].sweep_deg), 1e-6);
    }
}
/* $INSUNITS 2 foot, 6 metre; LWPOLYLINE from AC1015; group 42 at the vertex that starts the arc (documentation of an
 * open library, read). */
static void dxf_group_codes(void **state) {
    (void)state;
    mst_arena *arena = mst_arena_new();
    mst_path_vertex v[] = {{0, 0, NAN, 1}, {4, 0, NAN, 0}};
    for (int feet = 0; feet < 2; feet++) {
        mst_dxf dxf;
        mst_text out = {0};
        mst_dxf_start(&dxf, arena, feet);
        mst_dxf_polyline(&dxf, "0", &(mst_path){v, 2, true}, NAN);
        mst_dxf_finish(&dxf, &out);
        assert_non_null(strstr(out.data, "$ACADVER\r\n  1\r\nAC1015\r\n"));
        assert_non_null(strstr(out.data, feet ? "$INSUNITS\r\n 70\r\n2\r\n" : "$INSUNITS\r\n 70\r\n6\r\n"));
        assert_non_null(strstr(out.data, "AcDbPolyline\r\n 90\r\n2\r\n 70\r\n1\r\n"));
        if (!feet)
            assert_non_null(strstr(out.data, " 10\r\n0\r\n 20\r\n0\r\n 42\r\n1\r\n 10\r\n4\r\n 20\r\n0\r\n  0\r\n"));
        mst_text_free(&out);
    }
    mst_arena_free(arena);
}
int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(british_grid_transverse_mercator),
                                       cmocka_unit_test(zone_edge_on_grs80),
                                       cmocka_unit_test(the_local_plane_against_a_long_line),
                                       cmocka_unit_test(local_plane_agrees_with_east_north_up),
                                       cmocka_unit_test(a_plane_that_cannot_be_is_refused),
                                       cmocka_unit_test(bulge_to_arc),
                                       cmocka_unit_test(dxf_group_codes)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
