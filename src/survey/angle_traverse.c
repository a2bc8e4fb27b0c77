/* A closed traverse from its angles: the sum of the inner (or outer) angles of a polygon of n sides is (n - 2) or (n +
 * 2) half turns; between two lines of known bearing the angles must turn the first into the second. What they lack is
 * shared out alike (Wolf and Ghilani, Elementary Surveying, chapter 10). */
#include "merestone/survey.h"
#include <math.h>
#include <string.h>

static const double MINUTE = MST_PI / 180 / 60;

typedef struct loop {
    const mst_page *page;
    mst_round_mean *means;
    size_t mean_count;
    const mst_traverse_ends *ends; /* NULL: it comes back to its start */
    mst_angle_traverse out;
    mst_error *error;
} loop;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Memory is short for the traverse.");
}

static bool is_station(const loop *l, const char *name) {
    for (size_t i = 0; i < l->out.count; i++)
        if (strcmp(l->out.stations[i].name, name) == 0) return true;
    return false;
}

/* The stations in the order in which the instrument first stood on them. */
static mst_status find_stations(loop *l, mst_arena *arena) {
    l->out.stations = mst_arena_array(arena, l->mean_count + 1, sizeof *l->out.stations);
    if (!l->out.stations) return no_memory(l->error);
    for (size_t i = 0; i < l->mean_count; i++)
        if (!is_station(l, l->means[i].at)) l->out.stations[l->out.count++].name = l->means[i].at;
    size_t least = l->ends ? 2 : 3;
    if (l->out.count >= least) return MST_OK;
    return mst_fail_at(l->error, MST_TOO_FEW, l->page->name, 0, 0,
                       "A closed traverse of angles needs at least %zu stations, not %zu.", least, l->out.count);
}

static const char *name_at(const loop *l, size_t i) { return l->out.stations[i % l->out.count].name; }
static const char *before(const loop *l, size_t i) {
    return i == 0 && l->ends ? l->ends->back : name_at(l, i + l->out.count - 1);
}
static const char *behind(const loop *l, size_t i) {
    return i + 1 == l->out.count && l->ends ? l->ends->fore : name_at(l, i + 1);
}

/* The sight from one station to another within the set-up that begins at means[first]. */
static const mst_round_mean *sight(const loop *l, size_t first, const char *at, const char *to) {
    for (size_t i = first; i < l->mean_count && strcmp(l->means[i].at, at) == 0; i++)
        if (strcmp(l->means[i].to, to) == 0) return &l->means[i];
    return NULL;
}

/* The clockwise angle from the station before to the one behind, the mean of all set-ups on it that saw both. */
static mst_status find_angle(loop *l, size_t i) {
    mst_traverse_station *station = &l->out.stations[i];
    const char *from = before(l, i), *to = behind(l, i);
    double sum = 0;
    for (size_t k = 0; k < l->mean_count; k++) {
        bool begins =
            strcmp(l->means[k].at, station->name) == 0 && (k == 0 || strcmp(l->means[k - 1].at, station->name) != 0);
        const mst_round_mean *back = begins ? sight(l, k, station->name, from) : NULL;
        const mst_round_mean *fore = begins ? sight(l, k, station->name, to) : NULL;
        if (!back || !fore) continue;
        double angle = mst_angle_turn(fore->circle_rad - back->circle_rad);
        double centre = station->sights ? sum / station->sights : angle;
        sum += centre + mst_angle_signed(angle - centre);
        station->sights++;
    }
    if (!station->sights)
        return mst_fail_at(l->error, MST_UNDETERMINED, l->page->name, 0, 0,
                           "At %s there is no sight to both %s and %s, so the traverse has no angle there.",
                           station->name, from, to);
    station->angle_rad = mst_angle_turn(sum / station->sights);
    return MST_OK;
}

static void balance(loop *l) {
    double sum = 0, n = (double)l->out.count;
    for (size_t i = 0; i < l->out.count; i++) sum += l->out.stations[i].angle_rad;
    double inner = sum - (n - 2) * MST_PI, outer = sum - (n + 2) * MST_PI;
    l->out.misclosure_rad = fabs(inner) < fabs(outer) ? inner : outer;
    if (l->ends)
        l->out.misclosure_rad =
            mst_angle_signed(l->ends->back_bearing_rad + sum + n * MST_PI - l->ends->fore_bearing_rad);
    l->out.allowable_rad = MINUTE * sqrt(n);
    for (size_t i = 0; i < l->out.count; i++)
        l->out.stations[i].balanced_rad = l->out.stations[i].angle_rad - l->out.misclosure_rad / n;
}

/* Length of a leg in plan: the mean of every sight along it, both ways. NaN when none has a distance. */
static double length_of(const loop *l, const char *a, const char *b) {
    double sum = 0;
    int count = 0;
    for (size_t i = 0; i < l->mean_count; i++) {
        const mst_round_mean *m = &l->means[i];
        bool along =
            (strcmp(m->at, a) == 0 && strcmp(m->to, b) == 0) || (strcmp(m->at, b) == 0 && strcmp(m->to, a) == 0);
        if (!along || isnan(m->slope_m)) continue;
        sum += isnan(m->zenith_rad) ? m->slope_m : m->slope_m * sin(m->zenith_rad);
        count++;
    }
    return count ? sum / count : NAN;
}

static mst_status make_legs(loop *l, double bearing, mst_arena *arena) {
    size_t count = l->ends ? l->out.count - 1 : l->out.count;
    l->out.leg_count = count;
    l->out.legs = mst_arena_array(arena, count, sizeof *l->out.legs);
    if (!l->out.legs) return no_memory(l->error);
    for (size_t i = 0; i < count; i++) {
        const char *from = name_at(l, i), *to = name_at(l, i + 1);
        if (i > 0 || l->ends) bearing = mst_angle_turn(bearing + MST_PI + l->out.stations[i].balanced_rad);
        double length = length_of(l, from, to);
        if (isnan(length))
            return mst_fail_at(l->error, MST_UNDETERMINED, l->page->name, 0, 0, "The leg %s-%s has no distance.", from,
                               to);
        l->out.legs[i] = (mst_traverse_leg){.from = from, .to = to, .distance_m = length, .bearing_rad = bearing};
    }
    return MST_OK;
}

static mst_status reduce(loop *l, double bearing, mst_arena *arena, mst_angle_traverse *traverse) {
    mst_status status = mst_rounds_reduce(l->page, arena, &l->means, &l->mean_count, l->error);
    if (!status) status = find_stations(l, arena);
    for (size_t i = 0; !status && i < l->out.count; i++) status = find_angle(l, i);
    if (status) return status;
    balance(l);
    status = make_legs(l, mst_angle_turn(bearing), arena);
    if (!status) *traverse = l->out;
    return status;
}

mst_status mst_traverse_from_angles(const mst_page *page, double first_bearing_rad, mst_arena *arena,
                                    mst_angle_traverse *traverse, mst_error *error) {
    return reduce(&(loop){.page = page, .error = error}, first_bearing_rad, arena, traverse);
}

mst_status mst_traverse_between(const mst_page *page, const mst_traverse_ends *ends, mst_arena *arena,
                                mst_angle_traverse *traverse, mst_error *error) {
    return reduce(&(loop){.page = page, .ends = ends, .error = error}, ends->back_bearing_rad, arena, traverse);
}
