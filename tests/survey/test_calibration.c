/* Do the intervals hold the truth as often as they say? Small mixed networks with known places and known sd, readings
 * with normal errors from a seeded generator; 95 % intervals must hold the truth in 93 to 97 % of cases (the binomial
 * sd of some thousand correlated coordinates is under 1 %). And: planted slips are named, and seldom anything else. */
#include "site_from_text.h"

enum { NETWORKS = 1000, POINTS = 8 };
static const double DEGREE = MST_PI / 180;
static uint64_t seed = 20240229;

static double uniform(void) { /* xorshift64* */
    seed ^= seed >> 12;
    seed ^= seed << 25;
    seed ^= seed >> 27;
    return ((double)(seed * 2685821657736338717u >> 11) + 0.5) / 9007199254740992.0;
}
static double normal(void) { return sqrt(-2 * log(uniform())) * cos(2 * MST_PI * uniform()); }

typedef struct truth {
    double e, n, h;
} truth;

static void make_truth(truth p[POINTS]) {
    for (int i = 0; i < POINTS; i++) /* round a site of 60 m, never two at one place */
        p[i] = (truth){400 + 30 * sin(i * 0.8 + 0.3 * uniform()) * (0.6 + 0.4 * uniform()),
                       700 + 30 * cos(i * 0.8 + 0.3 * uniform()) * (0.6 + 0.4 * uniform()), 20 + 3 * uniform()};
}

static double plan(const truth *a, const truth *b) { return hypot(b->e - a->e, b->n - a->n); }

/* A set-up with polar sights, tapes, a level book, differences, a second visit's coordinates, legs and offsets. */
static mst_site *site_with_noise(const truth p[POINTS], double slip) {
    mst_text angles = {0}, tape = {0}, levels = {0}, points = {0}, legs = {0}, heights = {0};
    mst_text_string(&angles, "at,to,circle (deg),zenith (deg),slope distance (m),instrument height (m),target height "
                             "(m),sd circle (deg),sd zenith (deg),sd distance (m)\n");
    double circle_zero = 360 * uniform(), sd_angle = 20.0 / 3600;
    for (int i = 1; i < POINTS; i++) {
        double d = plan(&p[0], &p[i]), rise = p[i].h + 1.3 - p[0].h - 1.5 - 0.86 * d * d / (2 * 6371000.0);
        mst_text_printf(&angles, "P0,P%d,%.10f,%.10f,%.9f,1.5,1.3,%.10f,%.10f,0.003\n", i,
                        atan2(p[i].e - p[0].e, p[i].n - p[0].n) / DEGREE - circle_zero + sd_angle * normal(),
                        atan2(d, rise) / DEGREE + sd_angle * normal(),
                        hypot(d, p[i].h + 1.3 - p[0].h - 1.5) + 0.003 * normal(), sd_angle, sd_angle);
    }
    mst_text_string(&tape, "from,to,distance (m),sd (m)\n");
    for (int i = 1; i < POINTS; i++)
        for (int j = i + 1; j < POINTS; j += 2)
            mst_text_printf(&tape, "P%d,P%d,%.9f,0.006\n", i, j,
                            plan(&p[i], &p[j]) + 0.006 * normal() + (i == 2 && j == 5 ? slip : 0));
    mst_text_string(&heights, "from,to,difference (m),sd (m)\n");
    for (int i = 2; i < POINTS; i++)
        mst_text_printf(&heights, "P%d,P%d,%.9f,0.002\n", i - 1, i, p[i].h - p[i - 1].h + 0.002 * normal());
    mst_text_string(&levels, "point,backsight (m),intermediate (m),foresight (m)\n");
    for (int i = 0; i < 5; i++) { /* set-up i stands 1.5 m above point i; the default level: 1.5 mm a reading */
        mst_text_printf(&levels, "P%d,%.9f,,", i, 1.5 + 0.0015 * normal());
        if (i > 0) mst_text_printf(&levels, "%.9f", p[i - 1].h + 1.5 - p[i].h + 0.0015 * normal());
        mst_text_string(&levels, "\n");
    }
    mst_text_printf(&levels, "P5,,,%.9f\n", p[4].h + 1.5 - p[5].h + 0.0015 * normal());
    mst_text_string(&points, "point,easting (m),northing (m),elevation (m),sd plan (m),sd height (m)\n");
    double turn = 2 * MST_PI * uniform(), c = cos(turn), s = sin(turn);
    for (int i = 3; i < POINTS; i++) {
        double e = p[i].e - 350, n = p[i].n - 710;
        mst_text_printf(&points, "P%d,%.9f,%.9f,%.9f,0.01,0.012\n", i, e * c - n * s + 0.01 * normal(),
                        e * s + n * c + 0.01 * normal(), p[i].h - 7 + 0.012 * normal());
    }
    mst_text_string(&legs, "from,to,dx (m),dy (m),dz (m),time (s)\n");
    double walk = 2 * MST_PI * uniform(), wc = cos(walk), ws = sin(walk), sd = hypot(0.008, 0.002 * pow(7, 1.5));
    for (int i = 1; i < POINTS; i++) {
        double e = p[i].e - p[i - 1].e, n = p[i].n - p[i - 1].n;
        mst_text_printf(&legs, "P%d,P%d,%.9f,%.9f,%.9f,7\n", i - 1, i, e * wc - n * ws + sd * normal(),
                        e * ws + n * wc + sd * normal(), p[i].h - p[i - 1].h + sd * normal());
    }
    mst_text control = {0};
    mst_text_printf(&control, "point,easting (m),northing (m),elevation (m)\nP0,%.9f,%.9f,%.9f\nP1,%.9f,%.9f,\n",
                    p[0].e, p[0].n, p[0].h, p[1].e, p[1].n);
    mst_site *site = site_of((text_page[]){{MST_PAGE_CONTROL, "c.csv", "1", control.data},
                                           {MST_PAGE_ANGLES, "a.csv", "1", angles.data},
                                           {MST_PAGE_TAPE, "t.csv", "1", tape.data},
                                           {MST_PAGE_HEIGHTS, "h.csv", "1", heights.data},
                                           {MST_PAGE_LEVELS, "l.csv", "1", levels.data},
                                           {MST_PAGE_POINTS, "p.csv", "2", points.data},
                                           {MST_PAGE_LEGS, "w.csv", "3", legs.data}},
                             7);
    mst_text *all[] = {&angles, &tape, &levels, &points, &legs, &heights, &control};
    for (int i = 0; i < 7; i++) mst_text_free(all[i]);
    return site;
}

typedef struct tally {
    size_t inside, count;
} tally;
static void tell(tally *t, double off, double sd) {
    t->count++;
    t->inside += fabs(off) <= 1.959964 * sd;
}
static double share(const tally *t) { return (double)t->inside / (double)t->count; }

static void intervals_hold_the_truth(void **state) {
    (void)state;
    tally known = {0}, widened = {0}, shapes = {0}, passed = {0};
    size_t suspects = 0, readings = 0, accused = 0;
    double squares = 0, dof = 0;
    for (int k = 0; k < NETWORKS; k++) {
        truth p[POINTS];
        make_truth(p);
        arena = mst_arena_new();
        mst_adjustment *a = adjusted_site(site_with_noise(p, 0));
        assert_int_equal(a->undetermined_count, 0);
        for (int i = 1; i < POINTS; i++) {
            char name[8];
            snprintf(name, sizeof name, "P%d", i);
            const mst_adjusted_point *q = point_of(a, name);
            if (i > 1)
                tell(&known, q->easting_m - p[i].e, q->sd_easting_m / a->scale),
                    tell(&widened, q->easting_m - p[i].e, q->sd_easting_m);
            if (i > 1)
                tell(&known, q->northing_m - p[i].n, q->sd_northing_m / a->scale),
                    tell(&widened, q->northing_m - p[i].n, q->sd_northing_m);
            tell(&known, q->elevation_m - p[i].h, q->sd_elevation_m / a->scale),
                tell(&widened, q->elevation_m - p[i].h, q->sd_elevation_m);
        }
        mst_vertex v[] = {{.point = "P2"}, {.point = "P4"}, {.point = "P6"}};
        mst_feature lot = {
            .name = "lot", .code = "", .page = "", .kind = MST_FEATURE_AREA, .vertices = v, .vertex_count = 3};
        mst_measure m;
        assert_int_equal(mst_feature_measure(&lot, a, arena, &m, &error), MST_OK);
        double area = fabs((p[4].e - p[2].e) * (p[6].n - p[2].n) - (p[6].e - p[2].e) * (p[4].n - p[2].n)) / 2;
        double length = plan(&p[2], &p[4]) + plan(&p[4], &p[6]) + plan(&p[6], &p[2]);
        tell(&shapes, m.area_m2.value - area, (m.area_m2.high - m.area_m2.value) / 1.959964 / a->scale);
        tell(&shapes, m.length_m.value - length, (m.length_m.high - m.length_m.value) / 1.959964 / a->scale);
        passed.count++;
        passed.inside += a->global_test.passed;
        suspects += a->suspect_count;
        accused += a->suspect_count > 0;
        readings += a->observation_count;
        squares += a->global_test.statistic;
        dof += a->degrees_of_freedom;
        mst_arena_free(arena);
    }
    arena = NULL;
    print_message("coordinates %.2f %% (widened %.2f %%), figures %.2f %%, global test %.2f %%, suspects %.2f per "
                  "thousand, v'Pv / dof %.3f\n",
                  100 * share(&known), 100 * share(&widened), 100 * share(&shapes), 100 * share(&passed),
                  1000.0 * (double)suspects / (double)readings, squares / dof);
    assert_true(share(&known) > 0.93 && share(&known) < 0.97);
    assert_true(share(&widened) >= share(&known) && share(&widened) < 0.985);
    assert_true(share(&shapes) > 0.93 && share(&shapes) < 0.97);
    assert_true(share(&passed) > 0.91 && share(&passed) < 0.985); /* sd of the count: 1.1 % */
    NEAR(squares / dof, 1, 0.03);
    assert_true(accused <= 14); /* of 1000 sets; 6 are aimed at, 14 is 3 binomial sd more */
    assert_true((double)suspects / (double)readings < 0.001);
}

static void planted_slips_are_named(void **state) {
    (void)state;
    int named = 0, alone_and_right = 0, count = 60;
    for (int k = 0; k < count; k++) {
        truth p[POINTS];
        make_truth(p);
        arena = mst_arena_new();
        mst_adjustment *a = adjusted_site(site_with_noise(p, k % 2 ? 1.00 : -1.00));
        for (size_t i = 0; i < a->suspect_count; i++) {
            const mst_observation_result *o = &a->observations[a->suspects[i].observation];
            if (strcmp(o->page, "t.csv") || strcmp(o->from, "P2") || strcmp(o->to, "P5")) continue;
            named++;
            NEAR(fabs(a->suspects[i].estimated_error), 1, 0.05);
            assert_non_null(strstr(a->suspects[i].sentence, k % 2 ? "long; a whole metre is the usual slip"
                                                                  : "short; a whole metre is the usual slip"));
            alone_and_right += a->suspect_count == 1;
        }
        mst_arena_free(arena);
    }
    arena = NULL;
    assert_int_equal(named, count);
    assert_true(alone_and_right >= count * 8 / 10); /* the rest also has one chance reading beyond 0.1 % */
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(intervals_hold_the_truth),
                                       cmocka_unit_test(planted_slips_are_named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
