// The same network through a general least-squares library, as its manual advises: one block for a station, one for its
// turn, derivatives by hand, sparse normal equations. Coordinates are small and the ends of the search tight, because
// its parameter tolerance is relative to the norm of all coordinates.
#include "grid.h"
#include <ceres/ceres.h>
#include <chrono>
#include <ctime>

namespace {
double user() {
    timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return double(t.tv_sec) + 1e-9 * double(t.tv_nsec);
}

struct Distance : ceres::SizedCostFunction<1, 2, 2> {
    double value, weight;
    explicit Distance(const grid_reading &r) : value(r.value), weight(1 / r.sd) {}
    bool Evaluate(double const *const *p, double *residual, double **by) const override {
        double dx = p[1][0] - p[0][0], dy = p[1][1] - p[0][1], d = std::sqrt(dx * dx + dy * dy);
        residual[0] = (d - value) * weight;
        if (!by) return true;
        if (by[0]) by[0][0] = -dx / d * weight, by[0][1] = -dy / d * weight;
        if (by[1]) by[1][0] = dx / d * weight, by[1][1] = dy / d * weight;
        return true;
    }
};

struct Direction : ceres::SizedCostFunction<1, 2, 2, 1> {
    double value, weight;
    explicit Direction(const grid_reading &r) : value(r.value), weight(1 / r.sd) {}
    bool Evaluate(double const *const *p, double *residual, double **by) const override {
        double dx = p[1][0] - p[0][0], dy = p[1][1] - p[0][1], s = dx * dx + dy * dy;
        residual[0] = std::remainder(std::atan2(dx, dy) - p[2][0] - value, 2 * M_PI) * weight;
        if (!by) return true;
        if (by[0]) by[0][0] = -dy / s * weight, by[0][1] = dx / s * weight;
        if (by[1]) by[1][0] = dy / s * weight, by[1][1] = -dx / s * weight;
        if (by[2]) by[2][0] = -weight;
        return true;
    }
};
} // namespace

int grid_solve_peer(const grid *g, int threads, grid_result *result) {
    std::vector<double> xy(2 * g->stations), turn(g->turn, g->turn + g->stations);
    for (size_t k = 0; k < g->stations; k++) xy[2 * k] = g->e[k], xy[2 * k + 1] = g->n[k];
    auto wall0 = std::chrono::steady_clock::now();
    double user0 = user();
    ceres::Problem problem;
    for (size_t k = 0; k < g->count; k++) {
        const grid_reading &r = g->readings[k];
        double *from = &xy[2 * r.from], *to = &xy[2 * r.to];
        if (r.is_direction) problem.AddResidualBlock(new Direction(r), nullptr, from, to, &turn[r.from]);
        else problem.AddResidualBlock(new Distance(r), nullptr, from, to);
    }
    problem.SetParameterBlockConstant(&xy[0]);
    problem.SetParameterBlockConstant(&xy[2 * (g->stations - 1)]);
    ceres::Solver::Options options;
    options.linear_solver_type = ceres::SPARSE_NORMAL_CHOLESKY;
    options.num_threads = threads;
    options.initial_trust_region_radius = 1e16; // Gauss-Newton while it does well: its fewest steps
    options.max_trust_region_radius = 1e16;
    options.function_tolerance = 1e-9;
    options.parameter_tolerance = 1e-14;
    options.gradient_tolerance = 1e-14;
    options.logging_type = ceres::SILENT;
    ceres::Solver::Summary summary;
    ceres::Solve(options, &problem, &summary);
    result->seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - wall0).count();
    result->user = user() - user0;
    result->cost = 2 * summary.final_cost;
    result->iterations = int(summary.iterations.size()) - 1;
    result->inverse_user = NAN;
    return summary.termination_type != ceres::CONVERGENCE;
}
