/* The works as they would be with one element changed, before anything is stored: for a level under the thumb. */
#include "operations/operation.h"
#include <math.h>
#include <stdlib.h>
#include <string.h>

static mst_status work_of(const json_t *definition, mst_arena *arena, mst_work *work, mst_error *error) {
    char *text = json_dumps(definition, JSON_COMPACT | JSON_REAL_PRECISION(15));
    const char *name = json_string_value(json_object_get(definition, "name"));
    *work = (mst_work){.name = name ? name : "preview", .definition = text ? mst_arena_string(arena, text) : NULL};
    free(text);
    return work->definition ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Not enough memory for the element.");
}

mst_status mst_definition_read(mst_session *session, const json_t *definition, mst_arena *arena, mst_element *element,
                               mst_error *error) {
    mst_derived *d = &session->derived;
    mst_work work;
    mst_status status = work_of(definition, arena, &work, error);
    return status ? status : mst_element_read(&work, d->site, d->adjustment, arena, element, error);
}

mst_status mst_elements_with(mst_session *session, const json_t *definition, mst_element **elements, size_t *count,
                             mst_error *error) {
    mst_derived *d = &session->derived;
    const size_t stored = d->site->work_count;
    mst_work extra = {0}, *works = mst_arena_array(session->scratch, stored + 1, sizeof *works);
    *elements = mst_arena_array(session->scratch, stored + 1, sizeof **elements);
    if (!works || !*elements) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the works.");
    mst_status status = mst_derive_adjustment(d, error);
    if (!status && definition) status = work_of(definition, session->scratch, &extra, error);
    if (status) return status;
    size_t at = stored;
    for (size_t i = 0; i < stored; i++) {
        works[i] = d->site->works[i];
        if (definition && strcmp(works[i].name, extra.name) == 0) works[at = i] = extra;
    }
    *count = stored + (definition && at == stored);
    if (*count > stored) works[stored] = extra;
    mst_site site = *d->site; /* a bank looks its pad up among the site's works: here among these */
    site.works = works;
    site.work_count = *count;
    for (size_t i = 0; i < *count && !status; i++)
        status = mst_element_read(&works[i], &site, d->adjustment, session->scratch, &(*elements)[i], error);
    return status;
}

/* ---- faces ---- */

/* How far the stripped ground stands above formation at the corners of a face; the strip is that of the face's middle.
 */
static void over_formation(const mst_works *works, const mst_point3 *const corners[3], double over[3]) {
    mst_point middle = {(corners[0]->easting_m + corners[1]->easting_m + corners[2]->easting_m) / 3,
                        (corners[0]->northing_m + corners[1]->northing_m + corners[2]->northing_m) / 3};
    mst_works_level level;
    double strip = mst_works_level_at(works, middle, &level) ? level.existing_m - level.stripped_m : 0;
    for (int c = 0; c < 3; c++) {
        mst_point at = {corners[c]->easting_m, corners[c]->northing_m};
        bool known = mst_works_level_at(works, at, &level);
        over[c] = known ? level.existing_m - strip - corners[c]->elevation_m : NAN;
    }
}

static json_t *face_list(const mst_works *works, const mst_work_surface *s) {
    json_t *faces = json_array();
    for (size_t i = 0; i < s->upright_from; i++) {
        if (s->owner[i] == UINT32_MAX) continue;
        const mst_point3 *const corners[3] = {&s->points[s->faces[i][0]], &s->points[s->faces[i][1]],
                                              &s->points[s->faces[i][2]]};
        double over[3];
        over_formation(works, corners, over);
        if (isnan(over[0] + over[1] + over[2])) continue;
        for (int c = 0; c < 3; c++) {
            json_array_append_new(faces, json_real(corners[c]->easting_m));
            json_array_append_new(faces, json_real(corners[c]->northing_m));
            json_array_append_new(faces, json_real(over[c]));
        }
        json_array_append_new(faces, json_integer(s->owner[i]));
    }
    return faces;
}

mst_status mst_works_faces_json(mst_session *session, const mst_element elements[], size_t count, json_t **faces,
                                mst_error *error) {
    mst_derived *d = &session->derived;
    mst_works *works;
    mst_work_surface surface;
    mst_status status =
        mst_works_compose(elements, count, d->site, d->adjustment, d->ground, session->scratch, &works, error);
    if (!status) status = mst_works_surface(works, MST_SURFACE_FORMATION, session->scratch, &surface, error);
    if (status) return status;
    json_t *names = json_array();
    for (size_t i = 0; i < count; i++) json_array_append_new(names, json_string(elements[i].name));
    *faces = json_pack("{s:o,s:o}", "elements", names, "faces", face_list(works, &surface));
    return MST_OK;
}
