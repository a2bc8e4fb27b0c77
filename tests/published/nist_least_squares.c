/* The sparse normal equations with Marquardt damping on nonlinear fits with certified values (tests/data/
 * least-squares-certified-a/SOURCE.md: NIST Statistical Reference Datasets, public domain). From either start the
 * certified parameters, their standard deviations and the residual sum of squares must come out. Tolerance: relative,
 * wide of what squaring the condition number costs in double precision, far below any use. */
#include "numeric/sparse.h"
#include "../survey/site_from_text.h"

enum { PARAMETERS_MAX = 8, ROWS_MAX = 300 };
static const double WITHIN = 1e-6;

typedef struct fit {
    double (*model)(const double b[], double x, double by[]);
    size_t parameters, rows;
    double start[2][PARAMETERS_MAX], certified[PARAMETERS_MAX], sd[PARAMETERS_MAX], squares, x[ROWS_MAX], y[ROWS_MAX];
} fit;

static double misra1a(const double b[], double x, double by[]) {
    double e = exp(-b[1] * x);
    by[0] = 1 - e;
    by[1] = b[0] * x * e;
    return b[0] * (1 - e);
}
static double chwirut(const double b[], double x, double by[]) {
    double e = exp(-b[0] * x), d = b[1] + b[2] * x;
    by[0] = -x * e / d;
    by[1] = -e / (d * d);
    by[2] = -x * e / (d * d);
    return e / d;
}
static double dan_wood(const double b[], double x, double by[]) {
    double p = pow(x, b[1]);
    by[0] = p;
    by[1] = b[0] * p * log(x);
    return b[0] * p;
}
static double kirby2(const double b[], double x, double by[]) {
    double n = b[0] + x * (b[1] + x * b[2]), d = 1 + x * (b[3] + x * b[4]);
    by[0] = 1 / d;
    by[1] = x / d;
    by[2] = x * x / d;
    by[3] = -n * x / (d * d);
    by[4] = -n * x * x / (d * d);
    return n / d;
}
static double hahn1(const double b[], double x, double by[]) {
    double n = b[0] + x * (b[1] + x * (b[2] + x * b[3])), d = 1 + x * (b[4] + x * (b[5] + x * b[6]));
    for (int i = 0; i < 4; i++) by[i] = pow(x, i) / d;
    for (int i = 4; i < 7; i++) by[i] = -n * pow(x, i - 3) / (d * d);
    return n / d;
}
static double gauss1(const double b[], double x, double by[]) {
    double e = exp(-b[1] * x), sum = b[0] * e;
    by[0] = e;
    by[1] = -b[0] * x * e;
    for (int k = 2; k < 8; k += 3) {
        double u = (x - b[k + 1]) / b[k + 2], g = exp(-u * u);
        sum += b[k] * g;
        by[k] = g;
        by[k + 1] = b[k] * g * 2 * u / b[k + 2];
        by[k + 2] = b[k] * g * 2 * u * u / b[k + 2];
    }
    return sum;
}

static void load(const char *name, fit *f) {
    char path[300], line[300];
    snprintf(path, sizeof path, TEST_DATA "/least-squares-certified-a/%s.dat", name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    bool data = false;
    f->parameters = f->rows = 0;
    while (fgets(line, sizeof line, file)) {
        int number;
        double v[4];
        if (sscanf(line, " b%d = %lf %lf %lf %lf", &number, &v[0], &v[1], &v[2], &v[3]) == 5) {
            f->start[0][number - 1] = v[0];
            f->start[1][number - 1] = v[1];
            f->certified[number - 1] = v[2];
            f->sd[number - 1] = v[3];
            f->parameters++;
        }
        sscanf(line, "Residual Sum of Squares: %lf", &f->squares);
        if (data && sscanf(line, "%lf %lf", &f->y[f->rows], &f->x[f->rows]) == 2) f->rows++;
        if (strncmp(line, "Data:", 5) == 0 && strstr(line, "y ")) data = true;
    }
    fclose(file);
    assert_true(f->parameters > 1 && f->rows > 5 && f->squares > 0);
}

static double squares_at(const fit *f, const double b[]) {
    double sum = 0, by[PARAMETERS_MAX];
    for (size_t i = 0; i < f->rows; i++) {
        double r = f->y[i] - f->model(b, f->x[i], by);
        sum += r * r;
    }
    return sum;
}

static mst_sparse *normal_equations(const fit *f) {
    uint32_t *start = mst_arena_array(arena, f->rows + 1, sizeof *start),
             *columns = mst_arena_array(arena, f->rows * f->parameters, sizeof *columns);
    for (size_t i = 0; i <= f->rows; i++) start[i] = (uint32_t)(i * f->parameters);
    for (size_t i = 0; i < f->rows * f->parameters; i++) columns[i] = (uint32_t)(i % f->parameters);
    mst_sparse *m;
    assert_int_equal(mst_sparse_analyse(f->parameters, f->rows, start, columns, arena, &m, NULL), MST_OK);
    return m;
}

static void step_from(const fit *f, mst_sparse *m, const double b[], double damping, double step[]) {
    double by[PARAMETERS_MAX];
    mst_sparse_clear(m);
    memset(step, 0, PARAMETERS_MAX * sizeof *step);
    for (size_t i = 0; i < f->rows; i++) {
        double r = f->y[i] - f->model(b, f->x[i], by);
        mst_sparse_add(m, i, by, 1);
        for (size_t k = 0; k < f->parameters; k++) step[k] += by[k] * r;
    }
    assert_int_equal(mst_sparse_factor(m, damping, 0), 0);
    mst_sparse_solve(m, step);
}

static void solve(const fit *f, int which) {
    double b[PARAMETERS_MAX], step[PARAMETERS_MAX], next[PARAMETERS_MAX], damping = 1e-3;
    memcpy(b, f->start[which], sizeof b);
    mst_sparse *m = normal_equations(f);
    for (int i = 0; i < 2000; i++) {
        step_from(f, m, b, damping, step);
        for (size_t k = 0; k < f->parameters; k++) next[k] = b[k] + step[k];
        if (squares_at(f, next) <= squares_at(f, b)) {
            memcpy(b, next, sizeof b);
            damping = damping > 1e-14 ? damping / 5 : 0;
        } else {
            damping = damping > 0 ? damping * 3 : 1e-14;
            if (damping > 1e10) break;
        }
    }
    step_from(f, m, b, 0, step);
    assert_int_equal(mst_sparse_invert(m, NULL), MST_OK);
    double s2 = squares_at(f, b) / (double)(f->rows - f->parameters);
    NEAR(squares_at(f, b) / f->squares, 1, WITHIN);
    for (size_t k = 0; k < f->parameters; k++) {
        NEAR(b[k] / f->certified[k], 1, WITHIN);
        NEAR(sqrt(s2 * mst_sparse_diagonal(m, k)) / f->sd[k], 1, WITHIN);
    }
}

static void check(const char *name, double (*model)(const double b[], double x, double by[])) {
    fit f = {.model = model};
    load(name, &f);
    solve(&f, 0);
    solve(&f, 1);
}
static void misra(void **state) { (void)state, check("Misra1a", misra1a); }
static void chwirut2(void **state) { (void)state, check("Chwirut2", chwirut); }
static void danwood(void **state) { (void)state, check("DanWood", dan_wood); }
static void kirby(void **state) { (void)state, check("Kirby2", kirby2); }
static void hahn(void **state) { (void)state, check("Hahn1", hahn1); }
static void gauss(void **state) { (void)state, check("Gauss1", gauss1); }

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test_setup_teardown(misra, open_arena, close_arena),
                                       cmocka_unit_test_setup_teardown(chwirut2, open_arena, close_arena),
                                       cmocka_unit_test_setup_teardown(danwood, open_arena, close_arena),
                                       cmocka_unit_test_setup_teardown(kirby, open_arena, close_arena),
                                       cmocka_unit_test_setup_teardown(hahn, open_arena, close_arena),
                                       cmocka_unit_test_setup_teardown(gauss, open_arena, close_arena)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
