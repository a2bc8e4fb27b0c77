/* What goes out of any site that field pages can make: DXF in pairs of code and value, GeoJSON that is JSON, LandXML
 * that is read back with the same faces, a points file that is a page again, a spreadsheet, a GPX track. */
#include "merestone/exchange.h"
#include "site_helper.h"
#include <jansson.h>
#include <unistd.h>

static char *slurp(const char *path, size_t *size) {
    FILE *f = fopen(path, "rb");
    if (!f) abort();
    fseek(f, 0, SEEK_END);
    *size = (size_t)ftell(f);
    rewind(f);
    char *data = malloc(*size + 1);
    if (!data || fread(data, 1, *size, f) != *size) abort();
    data[*size] = '\0';
    fclose(f);
    return data;
}

static void dxf_holds(const char *text, size_t size) {
    (void)size;
    size_t lines = 0;
    const char *last = text;
    for (const char *c = text; *c; lines++) {
        const char *end = strchr(c, '\n');
        MUST(end); /* the last line is ended too */
        if (lines % 2 == 0) {
            char *rest;
            long code = strtol(c, &rest, 10);
            MUST(rest > c && (*rest == '\n' || *rest == '\r') && code >= 0 && code <= 1071);
        }
        last = c;
        c = end + 1;
    }
    MUST(lines % 2 == 0 && strncmp(last, "EOF", 3) == 0);
}

static void geojson_holds(const char *text, size_t size) {
    json_t *all = json_loadb(text, size, JSON_REJECT_DUPLICATES, NULL);
    MUST(json_is_object(all) && json_is_array(json_object_get(all, "features")));
    json_decref(all);
}

static void csv_holds(const char *text, size_t size, mst_arena *arena) {
    mst_page page = {0};
    mst_error error = {0};
    mst_status status = mst_page_read(MST_PAGE_POINTS, "out.csv", text, size, NULL, arena, &page, &error);
    if (status) fprintf(stderr, "%d:%d: %s\n", error.row, error.column, error.sentence);
    MUST(status == MST_OK || strstr(error.sentence, "no rows"));
}

static void landxml_holds(const char *text, size_t size, const mst_ground *ground, mst_arena *arena) {
    mst_surface *surfaces = NULL;
    mst_error error = {0};
    size_t count = 0, faces;
    mst_status status = mst_read_landxml(text, size, "out.xml", arena, &surfaces, &count, &error);
    if (status) fprintf(stderr, "%d: %s\n", error.row, error.sentence);
    MUST(status == MST_OK && count == 1);
    mst_ground_triangles(ground, &faces);
    MUST(surfaces[0].face_count == faces);
}

static mst_status write_as(mst_format format, const mst_handover *from, const char *path, mst_error *error) {
    switch (format) {
    case MST_FORMAT_DXF:
        return mst_write_dxf(from, path, error);
    case MST_FORMAT_GEOJSON:
        return mst_write_geojson(from, path, error);
    case MST_FORMAT_CSV:
        return mst_write_points_csv(from, path, error);
    case MST_FORMAT_LANDXML:
        return mst_write_landxml(from, path, error);
    case MST_FORMAT_GPX:
        return mst_write_gpx(from, path, error);
    default:
        return mst_write_xlsx(from, path, error);
    }
}

static void hands_over(mst_format format, const mst_handover *from, mst_arena *arena) {
    char path[80];
    snprintf(path, sizeof path, "%s/merestone-fuzz-handover-%ld", access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp",
             (long)getpid());
    mst_error error = {0};
    mst_status status = write_as(format, from, path, &error);
    must_say_why(status, &error);
    const char **notes = NULL;
    size_t size, count = 0;
    must_say_why(mst_handover_notes(from, format, arena, &notes, &count, &error), &error);
    for (size_t i = 0; i < count; i++) MUST(notes[i] && is_utf8(notes[i]));
    if (status) return;
    char *text = slurp(path, &size);
    if (format == MST_FORMAT_DXF) dxf_holds(text, size);
    if (format == MST_FORMAT_GEOJSON) geojson_holds(text, size);
    if (format == MST_FORMAT_CSV) csv_holds(text, size, arena);
    if (format == MST_FORMAT_LANDXML) landxml_holds(text, size, from->ground, arena);
    free(text);
    unlink(path);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    uint8_t which = take(&b);
    mst_arena *arena = new_arena();
    mst_site site;
    take_site(&b, arena, &site);
    mst_projection *projection = NULL;
    mst_error error = {0};
    must_say_why(mst_projection_of_site(&site, &projection, &error), &error);
    const mst_adjust_options options = {.projector = projection ? mst_projection_projector(projection) : NULL};
    mst_adjustment *adjustment = NULL;
    if (mst_adjust(&site, &options, arena, &adjustment, &error) == MST_OK) {
        mst_ground *ground = NULL;
        mst_contour *contours = NULL;
        mst_handover from = {.site = &site, .adjustment = adjustment};
        if (mst_ground_from_site(&site, adjustment, arena, &ground, &error) == MST_OK) {
            from.ground = ground;
            if (mst_ground_contours(ground, 0.5, arena, &contours, &from.contour_count, &error) == MST_OK)
                from.contours = contours;
            else from.contour_count = 0;
        }
        hands_over((mst_format)(which % 6), &from, arena);
    }
    mst_projection_close(projection);
    mst_arena_free(arena);
    return 0;
}
