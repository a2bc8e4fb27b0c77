/* The units of a coordinate system: from its GeoTIFF keys, or from its text or EPSG code by way of PROJ. */
#include "exchange/cloud_file.h"
#include <math.h>
#include <proj.h>
#include <stdio.h>
#include <string.h>

enum {
    MODEL_TYPE = 1024,
    CITATION = 1026,
    PROJECTED_SYSTEM = 3072,
    PROJECTED_CITATION = 3073,
    LINEAR_UNIT = 3076,
    LINEAR_UNIT_SIZE = 3077,
    VERTICAL_SYSTEM = 4096,
    VERTICAL_UNIT = 4099,
    USER_DEFINED = 32767,
    UNDEFINED = 0
};
enum { MODEL_PROJECTED = 1 };
static const double UNIT_LEAST_M = 1e-6, UNIT_MOST_M = 1e6; /* no system counts in less than micrometres */

/* A file's decimal of the two feet is taken as the foot that it means. */
static double exact_unit(double metres) {
    static const double SAME = 1e-7; /* relative: the two feet differ by 2e-6 */
    const double known[] = {1, MST_FOOT_M, MST_FOOT_US_M};
    for (int i = 0; i < 3; i++)
        if (fabs(metres - known[i]) <= SAME * known[i]) return known[i];
    return metres >= UNIT_LEAST_M && metres <= UNIT_MOST_M ? metres : 0;
}

static double unit_of_code(unsigned code) {
    return code == 9001 ? 1 : code == 9002 ? MST_FOOT_M : code == 9003 ? MST_FOOT_US_M : 0;
}

/* ---- by way of PROJ ---- */

static double axis_unit(PJ_CONTEXT *context, const PJ *crs, int axis) {
    double factor = 0;
    PJ *system = proj_crs_get_coordinate_system(context, crs);
    if (system && axis < proj_cs_get_axis_count(context, system) &&
        proj_cs_get_axis_info(context, system, axis, NULL, NULL, NULL, &factor, NULL, NULL, NULL) == 0)
        factor = 0;
    proj_destroy(system);
    return exact_unit(factor);
}

static void take_plain(PJ_CONTEXT *context, const PJ *crs, mst_cloud_facts *facts) {
    switch (proj_get_type(crs)) {
    case PJ_TYPE_PROJECTED_CRS:
    case PJ_TYPE_ENGINEERING_CRS:
        facts->plan_m = axis_unit(context, crs, 0);
        if (facts->height_m == 0) facts->height_m = axis_unit(context, crs, 2);
        break;
    case PJ_TYPE_VERTICAL_CRS:
        facts->height_m = axis_unit(context, crs, 0);
        break;
    case PJ_TYPE_GEOGRAPHIC_2D_CRS:
    case PJ_TYPE_GEOGRAPHIC_3D_CRS:
    case PJ_TYPE_GEOCENTRIC_CRS:
        facts->degrees = true;
        break;
    default:
        break;
    }
}

static void take_crs(PJ_CONTEXT *context, const PJ *crs, mst_cloud_facts *facts) {
    PJ *inner = proj_get_type(crs) == PJ_TYPE_BOUND_CRS ? proj_get_source_crs(context, crs) : NULL;
    if (inner) crs = inner;
    if (proj_get_type(crs) != PJ_TYPE_COMPOUND_CRS) take_plain(context, crs, facts);
    else
        for (int i = 0; i < 2; i++) {
            PJ *part = proj_crs_get_sub_crs(context, crs, i);
            PJ *core = part && proj_get_type(part) == PJ_TYPE_BOUND_CRS ? proj_get_source_crs(context, part) : NULL;
            if (part) take_plain(context, core ? core : part, facts);
            proj_destroy(core);
            proj_destroy(part);
        }
    proj_destroy(inner);
}

/* @return false when PROJ does not know the system */
static bool ask_proj(const char *definition, mst_cloud_facts *facts, bool name_it) {
    PJ_CONTEXT *context = proj_context_create();
    if (!context) return false;
    proj_context_set_enable_network(context, 0);
    proj_log_level(context, PJ_LOG_NONE);
    PJ *crs = proj_create(context, definition);
    if (crs) {
        const char *name = proj_get_name(crs);
        if (name_it && name) snprintf(facts->system, sizeof facts->system, "%s", name);
        take_crs(context, crs, facts);
    }
    proj_destroy(crs);
    proj_context_destroy(context);
    return crs != NULL;
}

static void ask_code(unsigned code, mst_cloud_facts *facts, bool name_it) {
    char definition[32];
    snprintf(definition, sizeof definition, "EPSG:%u", code);
    (void)ask_proj(definition, facts, name_it);
}

/* ---- the keys ---- */

/* The value of a key that is kept in the directory itself; UNDEFINED without one. */
static unsigned short_key(const mst_geo_record *r, unsigned id) {
    for (size_t i = 4; i + 3 < r->key_count; i += 4)
        if (r->keys[i] == id && r->keys[i + 1] == 0) return r->keys[i + 3];
    return UNDEFINED;
}

static double double_key(const mst_geo_record *r, unsigned id) {
    for (size_t i = 4; i + 3 < r->key_count; i += 4)
        if (r->keys[i] == id && r->keys[i + 1] == 34736 && r->keys[i + 3] < r->double_count)
            return r->doubles[r->keys[i + 3]];
    return 0;
}

static void name_by_key(const mst_geo_record *r, unsigned id, mst_cloud_facts *facts) {
    for (size_t i = 4; i + 3 < r->key_count; i += 4) {
        size_t from = r->keys[i + 3], length = r->keys[i + 2];
        if (r->keys[i] != id || r->keys[i + 1] != 34737 || from >= r->ascii_length || facts->system[0]) continue;
        if (length > r->ascii_length - from) length = r->ascii_length - from;
        snprintf(facts->system, sizeof facts->system, "%.*s", (int)length, r->ascii + from);
        facts->system[strcspn(facts->system, "|")] = '\0';
    }
}

static void take_keys(const mst_geo_record *r, mst_cloud_facts *facts) {
    unsigned model = short_key(r, MODEL_TYPE), projected = short_key(r, PROJECTED_SYSTEM),
             vertical = short_key(r, VERTICAL_SYSTEM);
    if (model != UNDEFINED && model != USER_DEFINED && model != MODEL_PROJECTED) {
        facts->degrees = true;
        name_by_key(r, CITATION, facts);
        return;
    }
    name_by_key(r, PROJECTED_CITATION, facts);
    name_by_key(r, CITATION, facts);
    if (projected != UNDEFINED && projected != USER_DEFINED) ask_code(projected, facts, !facts->system[0]);
    double unit = unit_of_code(short_key(r, LINEAR_UNIT));
    if (unit == 0) unit = exact_unit(double_key(r, LINEAR_UNIT_SIZE));
    if (unit > 0) facts->plan_m = unit;
    if (vertical != UNDEFINED && vertical != USER_DEFINED) ask_code(vertical, facts, false);
    unit = unit_of_code(short_key(r, VERTICAL_UNIT));
    if (unit > 0) facts->height_m = unit;
}

void mst_geo_units(const mst_geo_record *record, mst_cloud_facts *facts) {
    bool understood = record->text && record->text[0] && ask_proj(record->text, facts, true);
    if (!understood && record->key_count >= 4) take_keys(record, facts);
    else if (!understood && record->text && record->text[0])
        snprintf(facts->note, sizeof facts->note,
                 "The file's coordinate system could not be read; its units are not known.");
    mst_text_tidy(facts->system);
}
