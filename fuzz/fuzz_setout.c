/* mst_stakes_fit, mst_setout and mst_verify on stakes and built points out of bytes, beside a small control net. */
#include "merestone/setout.h"
#include "site_helper.h"

enum { STAKES_MAX = 30 };
static const char NET[] =
    "== control\npoint,easting (m),northing (m),elevation (m)\nA,0,0,10\nB,20,0,10.5\nC,20,20,11\nD,0,20,10.2\n";
static const char *const NAMES[] = {"A", "B", "C", "D", "S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8"};
enum { NAME_COUNT = sizeof NAMES / sizeof *NAMES };

static void sheet_holds(const mst_setout_sheet *sheet, size_t count) {
    MUST(sheet->count == count);
    for (size_t i = 0; i < count; i++) {
        const mst_setout_line *l = &sheet->lines[i];
        MUST(l->stake && l->words && l->caution && sheet->order[i] && isfinite(l->easting_m) &&
             isfinite(l->northing_m));
        for (size_t k = 0; k < l->tie_count; k++) MUST(l->ties[k].from && l->ties[k].distance_m >= 0);
        if (isfinite(l->ground_m) && isfinite(l->elevation_m)) MUST(l->cut_m == l->ground_m - l->elevation_m);
    }
}

static void proves(bytes *b, const mst_setout_sheet *sheet, mst_arena *arena) {
    mst_built built[STAKES_MAX];
    size_t count = take(b) % STAKES_MAX, checked = 0;
    mst_verify_options options = {take(b) / 1000.0, take(b) / 1000.0, take(b) % 2 ? 0 : take(b) / 255.0, take(b) % 4};
    for (size_t i = 0; i < count; i++)
        built[i] = (mst_built){NAMES[take(b) % NAME_COUNT],
                               take_number(b),
                               take_number(b),
                               take(b) % 2 ? take_number(b) : NAN,
                               take(b) % 4 ? take(b) / 1000.0 : NAN,
                               take(b) % 4 ? take(b) / 1000.0 : NAN,
                               (int)i + 2};
    mst_check *checks = NULL;
    mst_error error = {0};
    mst_status status =
        mst_verify(built, count, sheet->lines, sheet->count, &options, arena, &checks, &checked, &error);
    must_say_why(status, &error);
    if (status) return;
    MUST(checked == count);
    for (size_t i = 0; i < checked; i++) {
        MUST(checks[i].sentence && is_utf8(checks[i].sentence) && mst_verdict_name(checks[i].verdict));
        if (isnan(checks[i].sd_m)) MUST(checks[i].verdict != MST_PASS);
        MUST(!(checks[i].plan_conformance < 0) && !(checks[i].plan_conformance > 1));
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes net = {(const uint8_t *)NET, (const uint8_t *)NET + sizeof NET - 1}, b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_site site;
    mst_adjustment *a = NULL;
    mst_ground *ground = NULL;
    take_site(&net, arena, &site);
    MUST(mst_adjust(&site, NULL, arena, &a, NULL) == MST_OK &&
         mst_ground_from_site(&site, a, arena, &ground, NULL) == MST_OK);
    mst_stake stakes[STAKES_MAX];
    uint8_t how = take(&b);
    size_t count = take(&b) % STAKES_MAX;
    mst_setout_options options = {
        .fit = {.site_frame = how % 2, .with_scale = how % 4 > 1, .misfit_m = take(&b) / 10.0},
        .reach_m = take(&b),
        .tape_sd_m = take(&b) / 1000.0};
    if (how % 8 > 3)
        options.fit.origin = NAMES[take(&b) % NAME_COUNT], options.fit.direction = NAMES[take(&b) % NAME_COUNT];
    if (how % 16 > 7) options.at = NAMES[take(&b) % NAME_COUNT], options.backsight = NAMES[take(&b) % NAME_COUNT];
    if (how % 32 > 15) options.from = NAMES[take(&b) % NAME_COUNT], options.to = NAMES[take(&b) % NAME_COUNT];
    for (size_t i = 0; i < count; i++)
        stakes[i] = (mst_stake){NAMES[take(&b) % NAME_COUNT],         "",        take_number(&b), take_number(&b),
                                take(&b) % 2 ? take_number(&b) : NAN, (int)i + 2};
    mst_setout_sheet sheet;
    mst_error error = {0};
    mst_status status = mst_setout(stakes, count, a, ground, &options, arena, &sheet, &error);
    must_say_why(status, &error);
    if (status == MST_OK) {
        sheet_holds(&sheet, count);
        proves(&b, &sheet, arena);
    }
    mst_arena_free(arena);
    return 0;
}
