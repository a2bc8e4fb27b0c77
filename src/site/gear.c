/* Presets by kind of gear. The figures are planning values of the trade: replace them by the unit's own record. */
#include "merestone/site.h"
#include <string.h>

#define SECOND (MST_PI / 180 / 3600)
#define MINUTE (MST_PI / 180 / 60)
#define PRACTICE "common practice, no source"

static const mst_gear PRESETS[] = {
    /* An instrument of 5" points at detail no better than about 20": 5 mm in 50 m */
    {.name = "total-station",
     .source = "directions: BS 5606:1990, accuracy in use (from memory); the rest: common practice, no source",
     .distance_m = 0.003,
     .distance_ppm = 2,
     .angle_rad = 20 * SECOND,
     .zenith_rad = 20 * SECOND,
     .centring_m = 0.0008,
     .staff_m = 0.002},
    {.name = "fibreglass-tape", .source = PRACTICE, .distance_m = 0.005, .distance_ppm = 500},
    {.name = "rough-ground-tape", .source = PRACTICE, .distance_m = 0.015, .distance_ppm = 1000},
    {.name = "steel-band", .source = PRACTICE, .distance_m = 0.002, .distance_ppm = 60},
    {.name = "pocket-tape", .source = PRACTICE, .distance_m = 0.002, .distance_ppm = 300},
    {.name = "laser-meter", .source = PRACTICE, .distance_m = 0.002, .distance_ppm = 50},
    {.name = "measuring-wheel", .source = PRACTICE, .distance_m = 0.02, .distance_ppm = 3000},
    {.name = "compass", .source = PRACTICE, .angle_rad = 30 * MINUTE, .distance_m = 0.005, .distance_ppm = 500},
    {.name = "theodolite",
     .source = PRACTICE,
     .angle_rad = 20 * SECOND,
     .zenith_rad = 20 * SECOND,
     .distance_m = 0.005,
     .distance_ppm = 100,
     .centring_m = 0.002},
    {.name = "tape-and-square", .source = PRACTICE, .distance_m = 0.01, .distance_ppm = 500, .angle_rad = 60 * MINUTE},
    {.name = "optical-square", .source = PRACTICE, .distance_m = 0.01, .distance_ppm = 500, .angle_rad = 6 * MINUTE},
    {.name = "builders-level", .source = PRACTICE, .staff_m = 0.0015, .levelled_km_m = 0.004},
    {.name = "rotating-laser", .source = PRACTICE, .staff_m = 0.0025, .levelled_km_m = 0.010},
    {.name = "water-level", .source = PRACTICE, .staff_m = 0.002, .levelled_km_m = 0.010},
    {.name = "rover", .source = PRACTICE, .plan_m = 0.010, .height_m = 0.018},
    {.name = "satellite-fix", .source = PRACTICE, .plan_m = 3, .height_m = 6},
    {.name = "coordinates", .source = PRACTICE, .plan_m = 0.010, .height_m = 0.010},
    /* hypot(8 mm, 2 mm/s^1.5 t^1.5): 38 mm over 7 s and 12 m, 105 mm over 14 s and 28 m; makers claim about 0.3 % at
       the short one */
    {.name = "motion-sensor",
     .source = PRACTICE,
     .leg_m = 0.008,
     .leg_rate = 0.002,
     .leg_power = 1.5,
     .leg_height_ratio = 1},
};
enum { PRESET_COUNT = sizeof PRESETS / sizeof *PRESETS };

const mst_gear *mst_gear_presets(size_t *count) {
    *count = PRESET_COUNT;
    return PRESETS;
}

const mst_gear *mst_gear_preset(const char *name) {
    for (size_t i = 0; i < PRESET_COUNT; i++)
        if (strcmp(PRESETS[i].name, name) == 0) return &PRESETS[i];
    return NULL;
}

const char *mst_gear_default(mst_page_kind kind) {
    switch (kind) {
    case MST_PAGE_TAPE:
        return "fibreglass-tape";
    case MST_PAGE_BEARINGS:
        return "theodolite";
    case MST_PAGE_ANGLES:
        return "total-station";
    case MST_PAGE_LEVELS:
    case MST_PAGE_HEIGHTS:
        return "builders-level";
    case MST_PAGE_OFFSETS:
        return "tape-and-square";
    case MST_PAGE_LEGS:
        return "motion-sensor";
    case MST_PAGE_GNSS:
        return "rover";
    default:
        return "coordinates";
    }
}
