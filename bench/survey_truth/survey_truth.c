/* What the adjustment says against what is true: networks of every kind are made from known places with normal errors,
 * adjusted, and held against the truth. Then mistakes are planted. Everything is seeded: the same numbers every time.
 *
 * survey_truth [--networks N] [--trials N] [--seed N] [--slack SD]; exit 1 when a bound does not hold. */
#include "networks.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static const double NORMAL_95 = 1.959963984540054, LEAST_REDUNDANCY = 0.3, DEGREE = MST_PI / 180;
static const double CLEAR_SD = 12; /* a planted slip that is smaller is a small error, not a slip that one could know */

enum { FIGURES = 4 }; /* triangles measured in each network */

typedef struct tally {
    long yes, of;
} tally;
static void tell(tally *t, bool yes) { t->of++, t->yes += yes; }
static double percent(const tally *t) { return t->of ? 100.0 * (double)t->yes / (double)t->of : NAN; }

static bool all_hold = true;
static double slack = 0; /* by so many binomial sd a bound is widened, for small samples */
static double widened(double bound_percent, const tally *t) {
    return slack * sqrt(bound_percent * (100 - bound_percent) / (double)t->of);
}
static void bound(const char *what, const tally *t, double low, double high) {
    bool holds = t->of && percent(t) >= low - widened(low, t) && percent(t) <= high + widened(high, t);
    all_hold &= holds;
    printf("  %-44s %7.2f %% of %7ld   wanted %g to %g   %s\n", what, percent(t), t->of, low, high,
           holds ? "holds" : "DOES NOT HOLD");
}

static mst_error error; /* of the last adjustment */

static mst_adjustment *adjust(const network *net, mst_arena *arena) {
    mst_adjust_options options = {.projector = network_projector()};
    error = (mst_error){0};
    mst_adjustment *a = NULL;
    mst_site *site = network_site(net, arena);
    if (!site) exit(2);
    if (mst_adjust(site, &options, arena, &a, &error)) return NULL;
    return a;
}

/* ---- clean networks ---- */

typedef struct clean {
    tally coordinates, lengths, areas, rejected, accused, answered;
    tally accused_of[NETWORK_KINDS], rejected_of[NETWORK_KINDS], coordinates_of[NETWORK_KINDS];
} clean;

static void look_at_coordinates(clean *t, const network *net, const mst_adjustment *a) {
    for (int i = 0; i < net->points; i++) {
        char name[16];
        snprintf(name, sizeof name, "P%d", i);
        const mst_adjusted_point *p = mst_adjustment_point(a, name);
        if (!p) continue;
        const double off[] = {p->easting_m - net->truth[i].e, p->northing_m - net->truth[i].n,
                              p->elevation_m - net->truth[i].h};
        const double sd[] = {p->sd_easting_m, p->sd_northing_m, p->sd_elevation_m};
        for (int k = 0; k < 3; k++) {
            if (!(k < 2 ? p->has_plan : p->has_height) || !(sd[k] > 0)) continue;
            tell(&t->coordinates, fabs(off[k]) <= NORMAL_95 * sd[k]);
            tell(&t->coordinates_of[net->kind], fabs(off[k]) <= NORMAL_95 * sd[k]);
        }
    }
}

static bool has_plan(const mst_adjustment *a, int i) {
    char name[16];
    snprintf(name, sizeof name, "P%d", i);
    const mst_adjusted_point *p = mst_adjustment_point(a, name);
    return p && p->has_plan;
}

static void look_at_figures(clean *t, const network *net, const mst_adjustment *a, mst_arena *arena, chance *c) {
    int corner[3], count = net->points;
    corner[0] = (int)chance_below(c, (uint32_t)count);
    corner[1] = (corner[0] + 1 + (int)chance_below(c, (uint32_t)count / 2 - 1)) % count;
    corner[2] = (corner[1] + 1 + (int)chance_below(c, (uint32_t)count / 2 - 1)) % count;
    char name[3][16];
    mst_vertex v[3];
    memset(v, 0, sizeof v);
    for (int k = 0; k < 3; k++) {
        if (!has_plan(a, corner[k])) return;
        snprintf(name[k], sizeof name[k], "P%d", corner[k]);
        v[k].point = name[k];
    }
    mst_feature lot = {
        .name = "lot", .code = "", .page = "", .kind = MST_FEATURE_AREA, .vertices = v, .vertex_count = 3};
    mst_measure m;
    if (mst_feature_measure(&lot, a, arena, &m, &error)) exit(2);
    const place *p = &net->truth[corner[0]], *q = &net->truth[corner[1]], *r = &net->truth[corner[2]];
    double area = fabs((q->e - p->e) * (r->n - p->n) - (r->e - p->e) * (q->n - p->n)) / 2;
    double length = hypot(q->e - p->e, q->n - p->n) + hypot(r->e - q->e, r->n - q->n) + hypot(p->e - r->e, p->n - r->n);
    if (area < 20) return; /* nearly on one line: the area's sign is in doubt, and no interval is symmetric */
    if (!(m.length_m.high > m.length_m.value)) return; /* three held points: nothing was measured */
    tell(&t->areas, area >= m.area_m2.low && area <= m.area_m2.high);
    tell(&t->lengths, length >= m.length_m.low && length <= m.length_m.high);
}

static void clean_networks(int count, chance *c) {
    static clean t;
    static network net;
    for (int i = 0; i < count; i++) {
        network_make(&net, (network_kind)(i % NETWORK_KINDS), 6, c);
        mst_arena *arena = mst_arena_new();
        const mst_adjustment *a = adjust(&net, arena);
        tell(&t.answered, a != NULL);
        if (a) {
            look_at_coordinates(&t, &net, a);
            for (int k = 0; k < FIGURES; k++) look_at_figures(&t, &net, a, arena, c);
            tell(&t.rejected, !a->global_test.passed);
            tell(&t.rejected_of[net.kind], !a->global_test.passed);
            tell(&t.accused, a->suspect_count > 0);
            tell(&t.accused_of[net.kind], a->suspect_count > 0);
        }
        mst_arena_free(arena);
    }
    printf("Clean networks\n");
    bound("answered", &t.answered, 100, 100);
    bound("coordinates within their 95 %", &t.coordinates, 94, 96);
    bound("lengths within their 95 %", &t.lengths, 94, 96);
    bound("areas within their 95 %", &t.areas, 94, 96);
    bound("rejected by the global test at 5 %", &t.rejected, 4, 6);
    bound("accused of a mistake", &t.accused, 0, 1);
    for (int k = 0; k < NETWORK_KINDS; k++)
        printf("    %-12s coordinates %6.2f %%, rejected %5.2f %%, accused %5.2f %% of %ld\n", NETWORK_NAMES[k],
               percent(&t.coordinates_of[k]), percent(&t.rejected_of[k]), percent(&t.accused_of[k]),
               t.accused_of[k].of);
}

/* ---- planted mistakes ---- */

/* Where a reading stands among the sheets. */
typedef struct spot {
    sheet *s;
    int row, column;
    double sd, value;
    bool angular;
} spot;

static int column_of(const mst_observation_result *o, mst_page_kind kind) {
    static const struct {
        mst_page_kind page;
        const char *kind;
        int column;
    } WHERE[] = {{MST_PAGE_TAPE, "distance", 2},
                 {MST_PAGE_ANGLES, "direction", 2},
                 {MST_PAGE_ANGLES, "zenith", 3},
                 {MST_PAGE_ANGLES, "slope distance", 4},
                 {MST_PAGE_LEVELS, "backsight", 1},
                 {MST_PAGE_LEVELS, "foresight", 3},
                 {MST_PAGE_LEVELS, "intermediate", 2},
                 {MST_PAGE_HEIGHTS, "height difference", 2},
                 {MST_PAGE_POINTS, "easting", 1},
                 {MST_PAGE_POINTS, "northing", 2},
                 {MST_PAGE_POINTS, "elevation", 3},
                 {MST_PAGE_GNSS, "elevation", 3},
                 {MST_PAGE_LEGS, "dx", 2},
                 {MST_PAGE_LEGS, "dy", 3},
                 {MST_PAGE_LEGS, "dz", 4},
                 {MST_PAGE_OFFSETS, "chainage", 2},
                 {MST_PAGE_OFFSETS, "offset", 3},
                 {MST_PAGE_BEARINGS, "bearing", 2},
                 {MST_PAGE_BEARINGS, "distance", 3}};
    for (size_t i = 0; i < sizeof WHERE / sizeof *WHERE; i++)
        if (WHERE[i].page == kind && strcmp(WHERE[i].kind, o->kind) == 0) return WHERE[i].column;
    return -1;
}

static bool find_spot(network *net, const mst_observation_result *o, spot *at) {
    for (int i = 0; i < net->sheet_count; i++) {
        sheet *s = &net->sheets[i];
        int column = column_of(o, s->kind);
        if (strcmp(s->name, o->page) != 0 || column < 0) continue;
        *at = (spot){s, o->row - 2, column, o->sd, 0, o->angular};
        return mst_number_read(s->cell[at->row][column], &at->value);
    }
    return false;
}

static void write_value(const spot *at, double value, int decimals) {
    snprintf(at->s->cell[at->row][at->column], CELL_MAX, "%.*f", at->angular ? 6 : decimals, value);
}

/* The planted kinds. Each returns false where it does not apply or would be too small to know. */
typedef enum plant {
    PLANT_SD8,
    PLANT_DIGITS,
    PLANT_METRE,
    PLANT_FOOT,
    PLANT_FEET,
    PLANT_POINT,
    PLANT_FACE,
    PLANT_SIGN,
    PLANT_SWAP,
    PLANTS
} plant;
static const struct {
    const char *name, *slip, *words;
} PLANT[PLANTS] = {{"8 sd", NULL, NULL},
                   {"two digits transposed", "digits", "two digits swapped"},
                   {"a metre off", "metres", "whole metre"},
                   {"a foot off", "foot", "whole foot"},
                   {"feet read as metres", "feet for metres", "feet were read"},
                   {"wrong point name", "point", "the point was"},
                   {"wrong face", "face", "half a turn is the usual slip"},
                   {"sign of an offset", "sign", "left and right"},
                   {"backsight and foresight swapped", "backsight and foresight", "backsight and foresight"}};

static bool plant_digits(const spot *at, chance *c) {
    char *text = at->s->cell[at->row][at->column];
    size_t length = strlen(text), places[CELL_MAX], count = 0;
    double unit = at->angular ? DEGREE : 1;
    for (size_t k = 0; k + 1 < length; k++) {
        size_t other = text[k + 1] == '.' ? k + 2 : k + 1;
        char swapped[CELL_MAX];
        double value;
        if (other >= length || text[k] == '-' || text[k] == '.' || text[other] == '.') continue;
        memcpy(swapped, text, sizeof swapped);
        swapped[k] = text[other];
        swapped[other] = text[k];
        if (!mst_number_read(swapped, &value) || fabs(value - at->value) * unit < CLEAR_SD * at->sd) continue;
        if (at->angular && value >= 360) continue;
        places[count++] = k;
    }
    if (count == 0) return false;
    size_t k = places[chance_below(c, (uint32_t)count)], other = text[k + 1] == '.' ? k + 2 : k + 1;
    char kept = text[k];
    text[k] = text[other];
    text[other] = kept;
    return true;
}

static bool is_length_cell(const spot *at) {
    return !at->angular && at->s->kind != MST_PAGE_POINTS && at->s->kind != MST_PAGE_GNSS &&
           at->s->kind != MST_PAGE_LEGS;
}

/* The column with the name of the point that the row is about. */
static int name_column(mst_page_kind kind) {
    switch (kind) {
    case MST_PAGE_POINTS:
    case MST_PAGE_GNSS:
        return 0;
    case MST_PAGE_OFFSETS:
        return 4;
    default:
        return 1;
    }
}

static bool plant_point(network *net, const spot *at, chance *c) {
    if (at->s->kind == MST_PAGE_LEVELS) return false; /* one chain: any name fits an untied change point */
    int column = name_column(at->s->kind), old = atoi(at->s->cell[at->row][column] + 1);
    int another = (int)chance_below(c, (uint32_t)net->points);
    char name[CELL_MAX];
    snprintf(name, sizeof name, "P%d", another);
    for (int k = 0; k < at->s->columns; k++)
        if (strcmp(at->s->cell[at->row][k], name) == 0) return false;
    for (int row = 0; row < at->s->rows && column == 0; row++) /* named once on such a page */
        if (strcmp(at->s->cell[row][0], name) == 0) return false;
    if (hypot(net->truth[old].e - net->truth[another].e, net->truth[old].n - net->truth[another].n) < 3) return false;
    if (at->s->kind == MST_PAGE_HEIGHTS && fabs(net->truth[old].h - net->truth[another].h) < CLEAR_SD * at->sd)
        return false;
    if (at->s->kind == MST_PAGE_TAPE) {
        int from = atoi(at->s->cell[at->row][0] + 1);
        double a = hypot(net->truth[old].e - net->truth[from].e, net->truth[old].n - net->truth[from].n),
               b = hypot(net->truth[another].e - net->truth[from].e, net->truth[another].n - net->truth[from].n);
        if (fabs(a - b) < CLEAR_SD * at->sd) return false;
    }
    memcpy(at->s->cell[at->row][column], name, sizeof name);
    return true;
}

static bool plant_swap(const network *net, const spot *at) {
    if (at->s->kind != MST_PAGE_LEVELS) return false;
    char(*row)[CELL_MAX] = at->s->cell[at->row];
    double back, fore;
    if (!mst_number_read(row[1], &back) || !mst_number_read(row[3], &fore)) return false;
    if (fabs(back - fore) < CLEAR_SD * at->sd) return false;
    (void)net;
    write_value(&(spot){.s = at->s, .row = at->row, .column = 1}, fore, net->decimals);
    write_value(&(spot){.s = at->s, .row = at->row, .column = 3}, back, net->decimals);
    return true;
}

static bool plant_one(network *net, plant what, const spot *at, chance *c) {
    double sign = chance_uniform(c) < 0.5 ? -1 : 1, unit = at->angular ? DEGREE : 1;
    switch (what) {
    case PLANT_SD8:
        snprintf(at->s->cell[at->row][at->column], CELL_MAX, "%.7f", at->value + sign * 8 * at->sd / unit);
        return true;
    case PLANT_DIGITS:
        return plant_digits(at, c);
    case PLANT_METRE:
        if (!is_length_cell(at) || 1 < CLEAR_SD * at->sd) return false;
        write_value(at, at->value + sign, net->decimals);
        return at->value + sign > 0.1;
    case PLANT_FOOT:
        if (!is_length_cell(at) || MST_FOOT_M < CLEAR_SD * at->sd) return false;
        write_value(at, at->value + sign * MST_FOOT_M, net->decimals);
        return at->value + sign * MST_FOOT_M > 0.1;
    case PLANT_FEET:
        if (!is_length_cell(at) || fabs(at->value) * (1 / MST_FOOT_M - 1) < CLEAR_SD * at->sd) return false;
        write_value(at, at->value / MST_FOOT_M, net->decimals);
        return true;
    case PLANT_POINT:
        return plant_point(net, at, c);
    case PLANT_FACE:
        if (!at->angular || at->column != 2) return false;
        write_value(at, at->value >= 180 ? at->value - 180 : at->value + 180, 6);
        return true;
    case PLANT_SIGN:
        if (at->s->kind != MST_PAGE_OFFSETS || at->column != 3 || 2 * fabs(at->value) < CLEAR_SD * at->sd) return false;
        write_value(at, -at->value, net->decimals);
        return true;
    default:
        return plant_swap(net, at);
    }
}

/* Only kinds of networks in which the slip can be made. */
static bool applies(plant what, network_kind kind) {
    bool levels = kind == NETWORK_LEVELS || kind == NETWORK_DIFFERENCES;
    switch (what) {
    case PLANT_METRE:
    case PLANT_FOOT:
    case PLANT_FEET:
        return kind != NETWORK_TRIANGLES && kind != NETWORK_VISITS && kind != NETWORK_SATELLITES &&
               kind != NETWORK_LEGS;
    case PLANT_FACE:
        return kind == NETWORK_SET_UPS || kind == NETWORK_TRIANGLES || kind == NETWORK_BEARINGS ||
               kind == NETWORK_MIXED;
    case PLANT_SIGN:
        return kind == NETWORK_OFFSETS;
    case PLANT_SWAP:
        return kind == NETWORK_LEVELS || kind == NETWORK_MIXED;
    case PLANT_POINT:
        return !(levels && kind == NETWORK_LEVELS);
    default:
        return true;
    }
}

/* One of the readings that the others check well, planted with the mistake. */
static bool plant_somewhere(network *net, plant what, const mst_adjustment *honest, spot *at,
                            const mst_observation_result **which, chance *c) {
    for (int attempt = 0; attempt < 200 && honest->observation_count > 0; attempt++) {
        const mst_observation_result *o = &honest->observations[chance_below(c, (uint32_t)honest->observation_count)];
        if (!(o->redundancy > LEAST_REDUNDANCY) || !find_spot(net, o, at)) continue;
        static sheet kept;
        kept = *at->s;
        if (plant_one(net, what, at, c)) {
            *which = o;
            return true;
        }
        *at->s = kept;
    }
    return false;
}

static bool is_it(const mst_adjustment *a, const mst_suspect *s, const mst_observation_result *o) {
    const mst_observation_result *r = &a->observations[s->observation];
    return strcmp(r->page, o->page) == 0 && r->row == o->row;
}

typedef struct outcome {
    tally named, alone, diagnosed, others;
} outcome;

static void judge(outcome *t, plant what, const mst_adjustment *a, const mst_observation_result *o) {
    bool named = false, diagnosed = false, others = false;
    for (size_t i = 0; a && i < a->suspect_count; i++) {
        bool it = is_it(a, &a->suspects[i], o);
        bool kind = what != PLANT_SD8 || strcmp(a->observations[a->suspects[i].observation].kind, o->kind) == 0;
        named |= it && kind;
        others |= !it && a->suspects[i].alone;
        diagnosed |=
            PLANT[what].slip && a->suspects[i].slip && it && strcmp(a->suspects[i].slip, PLANT[what].slip) == 0;
    }
    if (!a) { /* refused, since no place fits all; the refusal names the row and the slip */
        named = strcmp(error.page, o->page) == 0 && error.row == o->row;
        diagnosed = named && PLANT[what].words && strstr(error.sentence, PLANT[what].words);
    }
    tell(&t->named, named);
    tell(&t->diagnosed, diagnosed);
    tell(&t->others, others);
    tell(&t->alone, named && !others);
}

static void planted(plant what, int trials, chance *c, bool show) {
    static network net;
    outcome t = {0}, of[NETWORK_KINDS] = {0};
    for (int i = 0, kind = 0; i < trials; i++, kind++) {
        while (!applies(what, (network_kind)(kind % NETWORK_KINDS))) kind++;
        network_make(&net, (network_kind)(kind % NETWORK_KINDS), what == PLANT_SD8 ? 6 : 3, c);
        mst_arena *first = mst_arena_new(), *second = mst_arena_new();
        const mst_adjustment *honest = adjust(&net, first);
        const mst_observation_result *o;
        spot at;
        if (honest && plant_somewhere(&net, what, honest, &at, &o, c)) {
            const mst_adjustment *a = adjust(&net, second);
            long before = what == PLANT_SD8 ? t.named.yes : t.diagnosed.yes;
            judge(&t, what, a, o);
            judge(&of[net.kind], what, a, o);
            if (show && (what == PLANT_SD8 ? t.named.yes : t.diagnosed.yes) == before) {
                printf("    MISSED %s: %s row %d %s %s-%s r %.2f was %.6f now '%s'\n", NETWORK_NAMES[net.kind], o->page,
                       o->row, o->kind, o->from, o->to, o->redundancy, at.value, at.s->cell[at.row][at.column]);
                for (size_t k = 0; a && k < a->suspect_count && k < 4; k++)
                    printf("      %s\n", a->suspects[k].sentence);
                if (!a) printf("      no answer: %s:%d %s\n", error.page, error.row, error.sentence);
                else if (a->suspect_count == 0)
                    printf("      test %s, sigma0 %.2f, %zu undetermined, %zu left out: %s\n",
                           a->global_test.passed ? "passed" : "failed", a->sigma0, a->undetermined_count,
                           a->left_out_count, a->left_out_count ? a->left_out[0].sentence : "");
            }
        }
        mst_arena_free(first);
        mst_arena_free(second);
    }
    if (what == PLANT_SD8) {
        bound("8 sd, redundancy over 0.3: named", &t.named, 97, 100);
    } else {
        char words[80];
        snprintf(words, sizeof words, "%s: named so", PLANT[what].name);
        bound(words, &t.diagnosed, 90, 100);
    }
    printf("      the reading named %.1f %%, nothing else named %.1f %%;", percent(&t.named), percent(&t.alone));
    for (int k = 0; k < NETWORK_KINDS; k++)
        if (of[k].named.of)
            printf(" %s %.0f", NETWORK_NAMES[k], percent(what == PLANT_SD8 ? &of[k].named : &of[k].diagnosed));
    printf("\n");
}

/* Two mistakes of a kind each, in two rows. */
static void two_planted(int trials, chance *c, bool show) {
    static network net;
    tally both = {0};
    for (int i = 0; i < trials; i++) {
        network_make(&net, (network_kind)(i % NETWORK_KINDS), 3, c);
        mst_arena *first = mst_arena_new(), *second = mst_arena_new();
        const mst_adjustment *honest = adjust(&net, first);
        const mst_observation_result *o[2] = {NULL, NULL};
        spot at;
        plant what[2] = {PLANT_SD8, PLANT_SD8};
        for (int k = 0; honest && k < 2; k++) {
            what[k] = chance_uniform(c) < 0.5 ? PLANT_SD8 : PLANT_DIGITS;
            for (int attempt = 0; attempt < 20 && !o[k]; attempt++)
                if (!plant_somewhere(&net, what[k], honest, &at, &o[k], c)) o[k] = NULL;
        }
        if (o[0] && o[1] && (o[0]->row != o[1]->row || strcmp(o[0]->page, o[1]->page) != 0)) {
            const mst_adjustment *a = adjust(&net, second);
            bool named[2] = {false, false};
            for (size_t s = 0; a && s < a->suspect_count; s++)
                for (int k = 0; k < 2; k++) named[k] |= is_it(a, &a->suspects[s], o[k]);
            tell(&both, named[0] && named[1]);
            if (show && !(named[0] && named[1])) {
                printf("    MISSED two in %s: %s:%d %s %d (r %.2f), %s:%d %s %d (r %.2f)\n", NETWORK_NAMES[net.kind],
                       o[0]->page, o[0]->row, o[0]->kind, what[0], o[0]->redundancy, o[1]->page, o[1]->row, o[1]->kind,
                       what[1], o[1]->redundancy);
                for (size_t k = 0; a && k < a->suspect_count && k < 4; k++)
                    printf("      %s\n", a->suspects[k].sentence);
            }
        }
        mst_arena_free(first);
        mst_arena_free(second);
    }
    bound("two mistakes: both named", &both, 85, 100);
}

int main(int count, char *words[]) {
    int networks = 4000, trials = 1000, only = -1;
    chance c = {.state = 20240229};
    bool show = false;
    for (int i = 1; i < count; i++) {
        if (strcmp(words[i], "--show") == 0) show = true;
        else if (i + 1 < count && strcmp(words[i], "--networks") == 0) networks = atoi(words[++i]);
        else if (i + 1 < count && strcmp(words[i], "--trials") == 0) trials = atoi(words[++i]);
        else if (i + 1 < count && strcmp(words[i], "--seed") == 0) c.state = strtoull(words[++i], NULL, 10) * 2 + 1;
        else if (i + 1 < count && strcmp(words[i], "--slack") == 0) slack = atof(words[++i]);
        else if (i + 1 < count && strcmp(words[i], "--only") == 0) only = atoi(words[++i]);
        else
            return fprintf(stderr, "usage: survey_truth [--networks N] [--trials N] [--seed N] [--slack SD] [--only "
                                   "KIND] [--show]\n"),
                   2;
    }
    clock_t start = clock();
    printf("survey_truth: %d clean networks, %d of each mistake, seed state %llu\n", networks, trials,
           (unsigned long long)c.state);
    if (networks > 0) clean_networks(networks, &c);
    if (trials > 0) printf("Planted mistakes\n");
    for (int what = 0; trials > 0 && what < PLANTS; what++)
        if (only < 0 || only == what) planted((plant)what, trials, &c, show);
    if (trials > 0 && (only < 0 || only == PLANTS)) two_planted(trials, &c, show);
    printf("%s; %.1f s\n", all_hold ? "Every bound holds" : "Some bounds do not hold",
           (double)(clock() - start) / CLOCKS_PER_SEC);
    return all_hold ? 0 : 1;
}
