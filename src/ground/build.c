/* From points, breaklines, boundary and holes to a ground model. */
#include "ground/model.h"
#include <math.h>
#include <stdarg.h>
#include <stdio.h>

enum { MOST_NOTES = 100 };

bool mst_note(mst_notes *notes, mst_arena *arena, const char *format, ...) {
    char sentence[600];
    if (notes->count >= MOST_NOTES) {
        notes->unsaid++;
        return true;
    }
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    const char *copy = length < 0 ? NULL : mst_arena_string(arena, sentence);
    const char **note = copy ? MST_PUSH(arena, notes->items, notes->count, notes->capacity) : NULL;
    if (note) *note = copy;
    return note != NULL;
}

static mst_status check_points(const mst_parts *parts, mst_error *error) {
    size_t levelled = 0;
    for (size_t i = 0; i < parts->point_count; i++) {
        const mst_part_point *p = &parts->points[i];
        if (!isfinite(p->at[0]) || !isfinite(p->at[1]) || isinf(p->elevation_m))
            return mst_fail(error, MST_INVALID, "Ground point %s%zu has no place.", p->name ? p->name : "", i + 1);
        levelled += !isnan(p->elevation_m);
    }
    if (levelled < 3)
        return mst_fail(error, MST_TOO_FEW, "The ground needs 3 points with a level, not %zu; take spot levels.",
                        levelled);
    return MST_OK;
}

static mst_status too_few_places(mst_status status, mst_error *error) {
    if (status == MST_UNDETERMINED)
        return mst_fail(error, MST_UNDETERMINED,
                        "All points with a level lie on one line; take a spot level beside it.");
    if (status == MST_TOO_FEW)
        return mst_fail(error, MST_TOO_FEW,
                        "The points with a level lie at fewer than 3 places; take more spot levels.");
    return status;
}

/* What the rim left out is said: nobody measured it, but who draws no boundary may have meant it. */
static bool note_what_is_peeled(const mst_facets *f, const bool keep[], mst_notes *notes, mst_arena *arena) {
    size_t peeled = 0;
    double area = 0, all = 0;
    for (size_t t = 0; t < f->count; t++) {
        const double *a = f->corners[f->triangles[t][0]].at, *b = f->corners[f->triangles[t][1]].at,
                     *c = f->corners[f->triangles[t][2]].at;
        double twice = fabs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
        all += twice;
        if (keep[t]) continue;
        peeled++;
        area += twice;
    }
    return peeled == 0 ||
           mst_note(
               notes, arena,
               "No boundary is given: %zu long outer triangle%s, %.2g %% of what the points span, %s left out, for "
               "nothing was measured there; an area with role boundary says where the ground ends.",
               peeled, peeled == 1 ? "" : "s", 100 * area / all, peeled == 1 ? "is" : "are");
}

mst_status mst_ground_make(const mst_parts *parts, mst_arena *arena, mst_ground **ground, mst_error *error) {
    mst_merged merged;
    mst_rings rings;
    mst_edge *rim_edges;
    mst_facets facets;
    size_t rim_count;
    bool whole;
    mst_status status = check_points(parts, error);
    mst_ground *g = mst_arena_alloc(arena, sizeof *g);
    if (!status && !g) status = mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if (status) return status;
    g->notes = parts->notes;
    g->threads = parts->threads;
    if ((status = mst_merge_points(parts, arena, &merged, error))) return status;
    if ((status = mst_flat_rings(parts, arena, &rings, error))) return status;
    if ((status = mst_ring_edges(&rings, parts, &merged, arena, &rim_edges, &rim_count, &whole, error))) return status;
    status = mst_make_facets(parts, &merged, rim_edges, rim_count, &g->notes, arena, &facets, error);
    if (status) return too_few_places(status, error);
    bool *keep = mst_arena_array(arena, facets.count + 1, 1);
    if (!keep) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < facets.count; i++) keep[i] = true;
    if (rings.boundaries == 0 && (status = mst_natural_rim(&facets, arena, keep, error))) return status;
    if (rings.boundaries == 0 && !note_what_is_peeled(&facets, keep, &g->notes, arena))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if ((status = mst_clip_facets(&facets, keep, &rings, !whole, parts->threads, arena, g, error))) return status;
    if (g->triangle_count == 0)
        return mst_fail(error, MST_UNDETERMINED,
                        "No measured ground lies inside the boundary; take spot levels there.");
    if ((status = mst_ground_finish(g, arena, error))) return status;
    *ground = g;
    return MST_OK;
}

static mst_status take_points(const mst_ground_point points[], size_t count, mst_arena *arena, mst_part_point **out) {
    mst_part_point *p = mst_arena_array(arena, count + 1, sizeof *p);
    if (!p) return MST_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        bool measured = points[i].source != MST_NOWHERE;
        p[i] = (mst_part_point){{points[i].easting_m, points[i].northing_m},
                                points[i].elevation_m,
                                {{points[i].source, 1}},
                                measured,
                                NULL};
    }
    *out = p;
    return MST_OK;
}

mst_status mst_ground_build(const mst_ground_input *input, mst_arena *arena, mst_ground **ground, mst_error *error) {
    mst_part_point *points;
    mst_part_line *lines = mst_arena_array(arena, input->breakline_count + 1, sizeof *lines);
    if (!lines || take_points(input->points, input->point_count, arena, &points))
        return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    for (size_t i = 0; i < input->breakline_count; i++) {
        const mst_ground_line *l = &input->breaklines[i];
        lines[i] = (mst_part_line){l->name, l->points, l->count, l->closed};
    }
    mst_parts parts = {.points = points,
                       .point_count = input->point_count,
                       .lines = lines,
                       .line_count = input->breakline_count,
                       .boundaries = input->boundary,
                       .boundary_count = input->boundary ? 1 : 0,
                       .holes = input->holes,
                       .hole_count = input->hole_count,
                       .merge_m = input->merge_m,
                       .merge_height_m = input->merge_height_m,
                       .threads = input->threads};
    return mst_ground_make(&parts, arena, ground, error);
}
