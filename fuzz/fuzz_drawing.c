/* mst_draw_plan of any site that field pages can make, on any paper, scale and turn. */
#include "merestone/drawing.h"
#include "site_helper.h"
#include <unistd.h>

static const char *const PAPERS[] = {"A4", "A3", "A2", "A1", "A0", "letter", "tabloid", "B5"};
static const double SCALES[] = {0, 1, 50, 100, 200, 1250, 1e9, -3, 0.5};

/* The font library keeps what it once read until the end of the program. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void) { return "leak:libfontconfig"; }

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_drawing_options options = {
        .paper = PAPERS[take(&b) % 8], .scale = SCALES[take(&b) % 9], .north_up_turn_rad = take_number(&b)};
    uint8_t how = take(&b);
    options.portrait = how % 2, options.point_names = how % 4 > 1, options.ellipses = how % 8 > 3;
    mst_arena *arena = new_arena();
    mst_site site;
    take_site(&b, arena, &site);
    mst_adjustment *adjustment = NULL;
    mst_error error = {0};
    if (mst_adjust(&site, NULL, arena, &adjustment, &error) == MST_OK) {
        mst_ground *ground = NULL;
        mst_drawing_input input = {.site = &site, .adjustment = adjustment, .imperial = how % 16 > 7};
        if (mst_ground_from_site(&site, adjustment, arena, &ground, &error) == MST_OK) input.ground = ground;
        char path[80];
        double scale = -1;
        snprintf(path, sizeof path, "%s/merestone-fuzz-drawing-%ld.%s",
                 access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp", (long)getpid(), how % 32 > 15 ? "svg" : "pdf");
        mst_status status = mst_draw_plan(&input, &options, path, &scale, &error);
        must_say_why(status, &error);
        if (status) MUST(scale == -1 && access(path, F_OK) != 0);
        else MUST(scale > 0 && (options.scale <= 0 || scale == options.scale) && unlink(path) == 0);
    }
    mst_arena_free(arena);
    return 0;
}
