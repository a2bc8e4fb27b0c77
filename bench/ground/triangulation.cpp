// The ground triangulation beside CGAL's, in turn in one run: times a point, memory, and whether the triangles agree.
//
//   bench_triangulation [--points N,N,...] [--rounds N] [--threads N] [--data uniform,grid,scan] [--no-peer]
//                       [--node SCRIPT] [--small-pages] [--check | --live]
//
// Prints the machine, versions, input, and for each peer the median and least wall time, the median user time, and the
// highest resident size above that of the empty program, input included, all a point. The time runs from points in
// memory to finished triangles. Every measurement is a process of its own. --node names a script that runs a peer in
// node on a file of doubles. --small-pages forbids large pages to all. --check compares all triangles once instead of
// timing; --live times single changes.
#include <merestone/ground.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <string>
#include <vector>

#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/utsname.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#ifdef MERESTONE_HAVE_CGAL
#include <CGAL/Constrained_Delaunay_triangulation_2.h>
#include <CGAL/Delaunay_triangulation_2.h>
#include <CGAL/Exact_predicates_inexact_constructions_kernel.h>
#include <CGAL/version.h>
#endif

namespace {

struct Input {
    std::vector<double> xy;          // 2 a point
    std::vector<uint32_t> segments;  // 2 a segment
    size_t count() const { return xy.size() / 2; }
};

uint64_t state = 20261125;
double uniform() {
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return static_cast<double>(state >> 11) * 0x1p-53;
}

const double EAST = 452000, NORTH = 4987000, SPACING = 0.5;

// Overlapping zig-zag strips in alternate directions, 15 mm noise, to the millimetre, 2 % drop-outs, in order of capture.
void scan(size_t n, std::vector<double> &xy) {
    double side = std::sqrt(static_cast<double>(n)) * SPACING, strip = side / 8, step = SPACING;
    for (int s = 0; xy.size() / 2 < n; s = (s + 1) % 9) {
        double left = (s - 0.5) * strip, width = 1.25 * strip, shift = uniform() * step;
        for (double y = 0; y < side && xy.size() / 2 < n; y += step * 1.4) {
            double along = s % 2 ? side - y : y;
            for (double x = 0; x < width && xy.size() / 2 < n; x += step * 0.9) {
                if (uniform() < 0.02) continue;
                double e = left + x + shift + 0.03 * (uniform() - 0.5), v = along + 0.3 * x / width + 0.03 * (uniform() - 0.5);
                xy.push_back(std::round((EAST + e) * 1000) / 1000);
                xy.push_back(std::round((NORTH + v) * 1000) / 1000);
            }
        }
    }
}

Input make(const std::string &kind, size_t n) {
    Input in;
    in.xy.reserve(2 * n + n / 40);
    state = 20261125;
    size_t side = static_cast<size_t>(std::sqrt(static_cast<double>(n)));
    double extent = static_cast<double>(side) * SPACING;
    if (kind == "grid")
        for (size_t i = 0; i < side * side; i++) {
            in.xy.push_back(EAST + SPACING * static_cast<double>(i % side));
            in.xy.push_back(NORTH + SPACING * static_cast<double>(i / side));
        }
    else if (kind == "scan") scan(n, in.xy);
    else
        for (size_t i = 0; i < n; i++) {
            in.xy.push_back(EAST + extent * uniform());
            in.xy.push_back(NORTH + extent * uniform());
        }
    return in;
}

// Nested wobbly rings: n / 100 segments of 5 spacings each.
void add_breaklines(Input &in) {
    size_t n = in.count(), wanted = n / 100, made = 0;
    double half = std::sqrt(static_cast<double>(n)) * SPACING / 2, length = 5 * SPACING;
    size_t rings = std::max<size_t>(1, static_cast<size_t>(std::ceil(static_cast<double>(wanted) * length / half / 2.89)));
    for (size_t r = 0; r < rings && made < wanted; r++) {
        double radius = half * 0.92 * (static_cast<double>(r) + 1) / static_cast<double>(rings);
        size_t steps = std::min(wanted - made, static_cast<size_t>(6.283 * radius / length));
        if (steps < 3) continue;
        uint32_t first = static_cast<uint32_t>(in.count());
        for (size_t i = 0; i < steps; i++) {
            double a = 6.283185307179586 * static_cast<double>(i) / static_cast<double>(steps);
            double here = radius * (1 + 0.02 / static_cast<double>(rings) * std::sin(9 * a));
            in.xy.push_back(EAST + half + here * std::cos(a));
            in.xy.push_back(NORTH + half + here * std::sin(a));
            in.segments.push_back(first + static_cast<uint32_t>(i));
            in.segments.push_back(first + static_cast<uint32_t>((i + 1) % steps));
        }
        made += steps;
    }
}

struct Time { double wall, user; };
Time now() {
    timespec t;
    rusage u;
    clock_gettime(CLOCK_MONOTONIC, &t);
    getrusage(RUSAGE_SELF, &u);
    return {static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec),
            static_cast<double>(u.ru_utime.tv_sec) + 1e-6 * static_cast<double>(u.ru_utime.tv_usec)};
}

// An order-free sum over the triangles by their places.
uint64_t mix(const double *p) {
    uint64_t h = 0;
    for (int k = 0; k < 2; k++) {
        uint64_t bits;
        std::memcpy(&bits, p + k, 8);
        h = (h ^ bits) * 0x9E3779B97F4A7C15u;
        h ^= h >> 29;
    }
    return h;
}
uint64_t triangle_sum(const double *a, const double *b, const double *c) {
    uint64_t x = mix(a), y = mix(b), z = mix(c), h = x * y * z + (x ^ y ^ z) * 0xC2B2AE3D27D4EB4Fu;
    return h ^ h >> 31;
}

struct Result { Time time; size_t triangles; uint64_t sum; double peak_bytes; };

mst_triangulation_input as_input(const Input &in, int threads) {
    mst_triangulation_input i = {};
    i.points = reinterpret_cast<const double(*)[2]>(in.xy.data());
    i.point_count = in.count();
    i.segments = reinterpret_cast<const uint32_t(*)[2]>(in.segments.data());
    i.segment_count = in.segments.size() / 2;
    i.threads = threads;
    return i;
}

Result run_own(const Input &in, int threads, bool check) {
    mst_triangulation_input input = as_input(in, threads);
    mst_error error = {};
    Time start = now();
    mst_arena *arena = mst_arena_new();
    mst_triangulation *t = nullptr;
    if (mst_triangulation_build(&input, arena, &t, &error)) {
        std::fprintf(stderr, "%s\n", error.sentence);
        std::exit(1);
    }
    Time end = now();
    Result r = {{end.wall - start.wall, end.user - start.user}, 0, 0, 0};
    auto corners = mst_triangulation_corners(t, &r.triangles);
    size_t vertices;
    auto at = mst_triangulation_vertices(t, &vertices);
    for (size_t i = 0; check && i < r.triangles; i++) r.sum += triangle_sum(at[corners[i][0]], at[corners[i][1]], at[corners[i][2]]);
    mst_arena_free(arena);
    return r;
}

#ifdef MERESTONE_HAVE_CGAL
using Kernel = CGAL::Exact_predicates_inexact_constructions_kernel;
using Plain = CGAL::Delaunay_triangulation_2<Kernel>;
using Constrained = CGAL::Constrained_Delaunay_triangulation_2<Kernel, CGAL::Default, CGAL::Exact_predicates_tag>;

template <class T> uint64_t sum_of(const T &t) {
    uint64_t sum = 0;
    for (auto f = t.finite_faces_begin(); f != t.finite_faces_end(); ++f) {
        double p[3][2];
        for (int k = 0; k < 3; k++) {
            p[k][0] = f->vertex(k)->point().x();
            p[k][1] = f->vertex(k)->point().y();
        }
        sum += triangle_sum(p[0], p[1], p[2]);
    }
    return sum;
}

Result run_cgal(const Input &in, bool check) {
    static_assert(sizeof(Kernel::Point_2) == 2 * sizeof(double), "a point is its two coordinates");
    const Kernel::Point_2 *points = reinterpret_cast<const Kernel::Point_2 *>(in.xy.data()), *end_of = points + in.count();
    std::vector<std::pair<size_t, size_t>> segments;
    for (size_t i = 0; i < in.segments.size(); i += 2) segments.emplace_back(in.segments[i], in.segments[i + 1]);
    Result r = {};
    Time start = now(), end;
    if (segments.empty()) {
        Plain t;
        t.insert(points, end_of);
        end = now();
        r.triangles = t.number_of_faces();
        if (check) r.sum = sum_of(t);
    } else {
        Constrained t;
        t.insert_constraints(points, end_of, segments.begin(), segments.end());
        end = now();
        r.triangles = t.number_of_faces();
        if (check) r.sum = sum_of(t);
    }
    r.time = {end.wall - start.wall, end.user - start.user};
    return r;
}
#endif

double median(std::vector<double> v) {
    std::sort(v.begin(), v.end());
    return v.size() % 2 ? v[v.size() / 2] : (v[v.size() / 2 - 1] + v[v.size() / 2]) / 2;
}

struct Row {
    std::string name;
    std::vector<double> wall, user, bytes;
    size_t triangles = 0;
    void add(const Result &r, size_t n) {
        wall.push_back(r.time.wall * 1e9 / static_cast<double>(n));
        user.push_back(r.time.user * 1e9 / static_cast<double>(n));
        bytes.push_back(r.peak_bytes / static_cast<double>(n));
        triangles = r.triangles;
    }
};

struct Options {
    std::vector<size_t> points = {1000000};
    int rounds = 5, threads = 1;
    std::vector<std::string> data = {"uniform", "grid", "scan"};
    std::string node;
    bool peer = true, check = false, live = false;
    double base_bytes = 0; // resident before there was any input
};

double resident_bytes() {
    std::ifstream statm("/proc/self/statm");
    double size = 0, resident = 0;
    statm >> size >> resident;
    return resident * static_cast<double>(sysconf(_SC_PAGESIZE));
}

// A virtual machine's host takes back memory that is free for a while, and giving it out again costs many times what the
// system's own fault does. So the memory of a run is touched, and freed, right before it: every peer finds the same.
void warm(size_t points) {
    size_t size = points * 256, page = 4096;
    char *memory = static_cast<char *>(mmap(nullptr, size, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0));
    if (memory == MAP_FAILED) return;
    madvise(memory, size, MADV_HUGEPAGE);
    for (size_t i = 0; i < size; i += page) memory[i] = 1;
    munmap(memory, size);
}

// Runs the job in a process of its own, so that nobody finds memory that another one has warmed.
template <class Job> Result apart(const Options &o, Job job) {
    int ends[2];
    if (pipe(ends)) std::exit(1);
    pid_t child = fork();
    if (child == 0) {
        Result r = job();
        rusage u;
        getrusage(RUSAGE_SELF, &u);
        r.peak_bytes = static_cast<double>(u.ru_maxrss) * 1024 - o.base_bytes;
        bool told = write(ends[1], &r, sizeof r) == static_cast<ssize_t>(sizeof r);
        _exit(told ? 0 : 1);
    }
    close(ends[1]);
    Result r = {};
    bool heard = child > 0 && read(ends[0], &r, sizeof r) == static_cast<ssize_t>(sizeof r);
    close(ends[0]);
    int status = 0;
    waitpid(child, &status, 0);
    if (!heard || status) {
        std::fprintf(stderr, "a run failed\n");
        std::exit(1);
    }
    return r;
}

// The script prints seconds of wall and user time, triangles, and its highest resident size above that before the input.
Result run_node(const Options &o, const std::string &file) {
    Result r = {};
    FILE *p = popen(("node \"" + o.node + "\" \"" + file + "\"").c_str(), "r");
    if (!p || std::fscanf(p, "%lf %lf %zu %lf", &r.time.wall, &r.time.user, &r.triangles, &r.peak_bytes) != 4) {
        std::fprintf(stderr, "the script failed\n");
        std::exit(1);
    }
    pclose(p);
    return r;
}

void write_doubles(const Input &in, const std::string &file) {
    std::ofstream out(file, std::ios::binary);
    out.write(reinterpret_cast<const char *>(in.xy.data()), static_cast<std::streamsize>(in.xy.size() * sizeof(double)));
}

double least(const std::vector<double> &v) { return *std::min_element(v.begin(), v.end()); }

void time_input(const Input &in, const std::string &name, const Options &o) {
    const std::string file = "bench_points.tmp";
    std::vector<Row> rows(1);
    rows[0].name = "merestone, 1 thread";
    if (o.threads > 1) rows.push_back({"merestone, " + std::to_string(o.threads) + " threads", {}, {}, {}, 0});
#ifdef MERESTONE_HAVE_CGAL
    if (o.peer) rows.push_back({"CGAL", {}, {}, {}, 0});
#endif
    if (!o.node.empty() && in.segments.empty()) {
        rows.push_back({"delaunator", {}, {}, {}, 0});
        write_doubles(in, file);
    }
    for (int round = 0; round < o.rounds; round++)
        for (Row &row : rows) {
            warm(in.count());
            if (&row == &rows[0]) row.add(apart(o, [&] { return run_own(in, 1, false); }), in.count());
            else if (row.name == "delaunator") row.add(run_node(o, file), in.count());
#ifdef MERESTONE_HAVE_CGAL
            else if (row.name == "CGAL") row.add(apart(o, [&] { return run_cgal(in, false); }), in.count());
#endif
            else row.add(apart(o, [&] { return run_own(in, o.threads, false); }), in.count());
        }
    std::remove(file.c_str());
    const Row *yard = &rows[0]; // CGAL where it is
    for (const Row &row : rows)
        if (row.name == "CGAL") yard = &row;
    for (const Row &row : rows)
        std::printf("| %s | %zu | %s | %.0f (%.0f) | %.0f | %.2f / %.2f | %.0f | %zu |\n", name.c_str(), in.count(), row.name.c_str(),
                    median(row.wall), least(row.wall), median(row.user), median(row.wall) / median(yard->wall),
                    median(row.user) / median(yard->user), median(row.bytes), row.triangles);
    std::fflush(stdout);
}

// Single changes: points that come and go all over, and segments between neighbours in the input.
void time_live(const Input &in, const std::string &name) {
    mst_triangulation_input input = as_input(in, 1);
    mst_arena *arena = mst_arena_new();
    mst_live *live = nullptr;
    mst_error error = {};
    const uint32_t changes = 100000;
    auto must = [&](mst_status status) {
        if (status) std::fprintf(stderr, "%s\n", error.sentence), std::exit(1);
    };
    Time t0 = now();
    must(mst_live_begin(&input, arena, &live, &error));
    std::vector<uint32_t> added(changes), drawn(changes);
    double extent = std::sqrt(static_cast<double>(in.count())) * SPACING;
    Time t1 = now();
    for (uint32_t i = 0; i < changes; i++) {
        const double at[2] = {EAST + extent * uniform(), NORTH + extent * uniform()};
        must(mst_live_add_point(live, at, &added[i], &error));
    }
    Time t2 = now();
    for (uint32_t i = 0; i < changes; i++) {
        const double *p = &in.xy[2 * (i % in.count())], at[2] = {p[0] + 0.1 * SPACING * uniform(), p[1] + 0.1 * SPACING * uniform()};
        uint32_t near;
        must(mst_live_add_point(live, at, &near, &error));
        must(mst_live_add_segment(live, near, static_cast<uint32_t>(i % in.count()), &drawn[i], &error));
    }
    Time t3 = now();
    for (uint32_t i = 0; i < changes; i++) must(mst_live_remove_segment(live, drawn[i], &error));
    Time t4 = now();
    for (uint32_t i = 0; i < changes; i++) must(mst_live_remove_point(live, added[i], &error));
    Time t5 = now();
    auto us = [&](const Time &a, const Time &b) { return (b.user - a.user) * 1e6 / changes; };
    std::printf("| %s | %zu | %.2f | %.2f | %.2f | %.2f | %.2f |\n", name.c_str(), in.count(), t1.user - t0.user, us(t1, t2), us(t4, t5),
                us(t2, t3), us(t3, t4));
    mst_arena_free(arena);
}

bool check_input(const Input &in, const std::string &name, const Options &o) {
    Result one = run_own(in, 1, true);
    bool same = true;
    for (int threads : {2, 3, 8}) {
        Result r = run_own(in, threads, true);
        same = same && r.sum == one.sum && r.triangles == one.triangles;
    }
    std::printf("%s, %zu points: %zu triangles; on 2, 3, 8 threads %s", name.c_str(), in.count(), one.triangles, same ? "the same" : "DIFFER");
#ifdef MERESTONE_HAVE_CGAL
    if (o.peer) {
        Result peer = run_cgal(in, true);
        bool equal = peer.sum == one.sum && peer.triangles == one.triangles;
        std::printf("; CGAL %s", equal ? "the same" : peer.triangles == one.triangles ? "the same number" : "DIFFERS");
        same = same && peer.triangles == one.triangles && (equal || name != "uniform");
    }
#endif
    std::printf("\n");
    return same;
}

void print_machine(int argc, char **argv) {
    utsname u;
    uname(&u);
    std::ifstream cpu("/proc/cpuinfo");
    std::string line, model = u.machine;
    while (std::getline(cpu, line))
        if (line.compare(0, 10, "model name") == 0) {
            model = line.substr(line.find(':') + 2);
            break;
        }
    std::printf("machine: %s, %s %s; compiler: %s (C), %s (C++)\n", model.c_str(), u.sysname, u.release, MERESTONE_C_COMPILER, __VERSION__);
#ifdef MERESTONE_HAVE_CGAL
    std::printf("peer: CGAL %s, exact predicates, inexact constructions\n", CGAL_VERSION_STR);
#else
    std::printf("peer: none installed\n");
#endif
    std::printf("command:");
    for (int i = 0; i < argc; i++) std::printf(" %s", i ? argv[i] : "bench_triangulation");
    std::printf("\n\n");
}

} // namespace

// In a process of its own: what one input leaves behind in the heap does not count for the next.
bool run_input(size_t points, const std::string &name, const Options &o) {
    pid_t child = fork();
    if (child == 0) {
        bool good = true;
        Input in = make(name.substr(0, name.find('.')), points);
        if (name.find(".c") != std::string::npos) add_breaklines(in);
        in.xy.shrink_to_fit();
        if (o.check) good = check_input(in, name, o);
        else if (o.live) time_live(in, name);
        else time_input(in, name, o);
        std::fflush(stdout);
        _exit(good ? 0 : 1);
    }
    int status = 1;
    if (child > 0) waitpid(child, &status, 0);
    return status == 0;
}

template <class Add> void split(char *words, Add add) {
    for (char *word = std::strtok(words, ","); word; word = std::strtok(nullptr, ",")) add(word);
}

int main(int argc, char **argv) {
    Options o;
    print_machine(argc, argv); // before the words are cut up
    for (int i = 1; i < argc; i++) {
        std::string a = argv[i];
        if (a == "--no-peer") o.peer = false;
        else if (a == "--check") o.check = true;
        else if (a == "--live") o.live = true;
        else if (a == "--small-pages") prctl(PR_SET_THP_DISABLE, 1, 0, 0, 0);
        else if (i + 1 == argc) return std::fprintf(stderr, "%s needs a value\n", argv[i]), 2;
        else if (a == "--rounds") o.rounds = std::atoi(argv[++i]);
        else if (a == "--threads") o.threads = std::atoi(argv[++i]);
        else if (a == "--node") o.node = argv[++i];
        else if (a == "--points") {
            o.points.clear();
            split(argv[++i], [&](const char *word) { o.points.push_back(std::strtoull(word, nullptr, 10)); });
        } else if (a == "--data") {
            o.data.clear();
            split(argv[++i], [&](const char *word) { o.data.push_back(word); });
        } else return std::fprintf(stderr, "unknown option %s\n", argv[i]), 2;
    }
    if (o.live)
        std::printf("| data | points | begin, s | add a point, us | remove a point | add a point and a segment to it | remove the segment |\n"
                    "|---|---|---|---|---|---|---|\n");
    else if (!o.check)
        std::printf("| data | points | peer | wall, ns a point: median (least) | user | wall / user to CGAL | bytes a point | triangles |\n"
                    "|---|---|---|---|---|---|---|---|\n");
    bool good = true;
    std::fflush(stdout); // before there are two of it
    o.base_bytes = resident_bytes();
    for (size_t points : o.points)
        for (const std::string &name : o.data) good = run_input(points, name, o) && good;
    return good ? 0 : 1;
}
