/* mst_element_read on any JSON, then earthwork and balance of what it defines on a small garden. */
#include "merestone/estimate.h"
#include "merestone/works.h"
#include "site_helper.h"

static const char GARDEN[] =
    "== control\npoint,easting (m),northing (m),elevation (m),sd height "
    "(m)\nA,0,0,10,0.01\nB,20,0,10.5,0.01\nC,20,20,11,0.01\n"
    "D,0,20,10.2,0.01\nE,11,9,10.8,0.01\n== "
    "features\nfeature,kind,code,point,edge,role\nbed,area,bed,A,,\nbed,area,bed,B,,\n"
    "bed,area,bed,E,,\nround,area,bed,A,circle,\nround,area,bed,B,circle,\nround,area,bed,C,circle,\n"
    "hedge,line,hedge,A,,\nhedge,line,hedge,C,,\n";

static bool holds(mst_figure f) { return isnan(f.value) || (f.low <= f.value && f.value <= f.high); }

static void digs(const mst_element *element, const mst_site *site, const mst_adjustment *a, const mst_ground *ground) {
    mst_earthwork_report report;
    mst_error error = {0};
    mst_status status = mst_earthwork_of(element, 1, site, a, ground, 6, site->arena, &report, &error);
    must_say_why(status, &error);
    if (!status) {
        MUST(report.count == 1 && holds(report.total.cut_m3) && holds(report.total.fill_m3) &&
             holds(report.total.net_m3));
        MUST(report.total.cut_m3.value >= 0 && report.total.fill_m3.value >= 0);
        MUST(fabs(report.total.net_m3.value - report.total.cut_m3.value + report.total.fill_m3.value) <=
             1e-6 * (1 + report.total.cut_m3.value + report.total.fill_m3.value));
        for (size_t i = 0; i < report.total.material_count; i++)
            MUST(report.total.materials[i].bank_m3 >= 0 && report.total.materials[i].loads >= 0);
        mst_quantity *quantities = NULL;
        size_t count = 0;
        must_say_why(mst_quantities(site, a, ground, &report, site->arena, &quantities, &count, &error), &error);
    }
    double level, cut, fill;
    status = mst_balance_level(element, site, a, ground, site->arena, &level, &cut, &fill, &error);
    must_say_why(status, &error);
    if (!status) MUST(isfinite(level) && cut >= 0 && fill >= 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes garden = {(const uint8_t *)GARDEN, (const uint8_t *)GARDEN + sizeof GARDEN - 1}, b = {data, data + size};
    mst_arena *arena = new_arena();
    mst_site site;
    mst_adjustment *a = NULL;
    mst_ground *ground = NULL;
    take_site(&garden, arena, &site);
    MUST(site.feature_count == 3 && mst_adjust(&site, NULL, arena, &a, NULL) == MST_OK);
    MUST(mst_ground_from_site(&site, a, arena, &ground, NULL) == MST_OK);
    char *definition = take_text(&b);
    const mst_work work = {1, "pit", 0, definition};
    mst_element element = {0};
    mst_error error = {0};
    mst_status status = mst_element_read(&work, &site, a, arena, &element, &error);
    must_say_why(status, &error);
    if (!status) {
        MUST(element.in && isfinite(element.build_up_m) && isfinite(element.strip_m));
        digs(&element, &site, a, ground);
    }
    free(definition);
    mst_arena_free(arena);
    return 0;
}
