/* mst_cloud_open and its readers: whatever the bytes, a refusal with its sentence, or a stream that gives the same
 * points twice, never more than the file has room for; then the thinning of what came, within its tolerance. */
#include "fuzz_helper.h"
#include "merestone/exchange.h"
#include <unistd.h>

enum { POINTS_MOST = 4000 };
static const double TOLERANCE_M = 0.1;

static const char *write_input(const uint8_t *data, size_t size) {
    static char path[64];
    snprintf(path, sizeof path, "/tmp/merestone-fuzz-las-%d", (int)getpid());
    FILE *f = fopen(path, "wb");
    if (!f || fwrite(data, 1, size, f) != size || fclose(f) != 0) abort();
    return path;
}

static size_t read_all(mst_cloud_source *source, mst_cloud_point *points, mst_status *status) {
    mst_error error = {0};
    size_t count = 0, came = 1;
    *status = source->rewind(source->self, &error);
    must_say_why(*status, &error);
    while (!*status && came && count < POINTS_MOST) {
        *status = source->read(source->self, points + count, POINTS_MOST - count, &came, &error);
        must_say_why(*status, &error);
        if (!*status) count += came;
        MUST(count <= POINTS_MOST);
    }
    return count;
}

static void thinned_is_within(const mst_cloud_point *points, size_t count, mst_arena *arena) {
    mst_cloud_list list = {points, count, 0};
    mst_cloud_source source = mst_cloud_from_list(&list);
    mst_cloud_thin_options options = {.tolerance_m = TOLERANCE_M};
    mst_cloud_thinned thinned;
    mst_error error = {0};
    mst_status status = mst_cloud_thin(&source, &options, arena, &thinned, &error);
    must_say_why(status, &error);
    if (status) return;
    MUST(thinned.count >= 3 && thinned.count <= count && thinned.fit.count == count);
    MUST(thinned.fit.beyond > 0 || thinned.fit.largest_m <= TOLERANCE_M + 1e-6);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static mst_cloud_point first[POINTS_MOST], second[POINTS_MOST];
    const char *path = write_input(data, size);
    mst_cloud_file *file = NULL;
    mst_error error = {0};
    mst_status status = mst_cloud_open(path, NULL, &file, &error), again;
    must_say_why(status, &error);
    if (!status) {
        mst_arena *arena = new_arena();
        const mst_cloud_facts *facts = mst_cloud_file_facts(file);
        MUST(facts->plan_m >= 0 && facts->height_m >= 0 && is_utf8(facts->system) && is_utf8(facts->note));
        mst_cloud_source source = mst_cloud_file_points(file, 1, 1);
        size_t count = read_all(&source, first, &status);
        MUST(read_all(&source, second, &again) == count && again == status);
        for (size_t i = 0; i < count; i++)
            MUST(same(first[i].easting_m, second[i].easting_m) && same(first[i].northing_m, second[i].northing_m) &&
                 same(first[i].elevation_m, second[i].elevation_m) && first[i].class_code == second[i].class_code);
        MUST(strncmp(facts->kind, "LAS", 3) != 0 || count <= size / 20);
        if (!status) thinned_is_within(first, count, arena);
        mst_cloud_close(file);
        mst_arena_free(arena);
    }
    unlink(path);
    return 0;
}
