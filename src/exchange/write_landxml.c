/* LandXML 1.2: the ground as a TIN surface. Northing comes first; figures that the surface must give back stand on its
 * definition. */
#include "exchange/write.h"
#include <math.h>

static void attribute(mst_text *t, const char *name, double value) {
    mst_text_printf(t, " %s=\"", name);
    mst_text_number(t, value);
    mst_text_string(t, "\"");
}

static void head(mst_text *t, const mst_handover *from, bool feet) {
    char date[16], time[16];
    mst_written_date(from, date, time);
    mst_text_string(t, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<LandXML "
                       "xmlns=\"http://www.landxml.org/schema/LandXML-1.2\" version=\"1.2\"");
    mst_text_string(t, " language=\"English\" readOnly=\"false\" date=\"");
    mst_text_xml(t, date);
    mst_text_string(t, "\" time=\"");
    mst_text_xml(t, time);
    mst_text_string(t, "\">\n<Units>");
    mst_text_string(t, feet ? "<Imperial areaUnit=\"squareFoot\" linearUnit=\"foot\" volumeUnit=\"cubicYard\" "
                              "temperatureUnit=\"fahrenheit\" pressureUnit=\"inchHG\""
                            : "<Metric areaUnit=\"squareMeter\" linearUnit=\"meter\" volumeUnit=\"cubicMeter\" "
                              "temperatureUnit=\"celsius\" pressureUnit=\"milliBars\"");
    mst_text_string(t, " angularUnit=\"decimal degrees\" directionUnit=\"decimal degrees\"/></Units>\n");
}

/* Vertices that no triangle uses are left out; ids count from 1. */
static uint32_t *number_vertices(const uint32_t (*triangles)[3], size_t count, size_t vertex_count, mst_arena *arena) {
    uint32_t *ids = mst_arena_array(arena, vertex_count, sizeof *ids), next = 1;
    for (size_t i = 0; ids && i < count; i++)
        for (int k = 0; k < 3; k++) ids[triangles[i][k]] = 1;
    for (size_t i = 0; ids && i < vertex_count; i++)
        if (ids[i]) ids[i] = next++;
    return ids;
}

static void points(mst_text *t, const mst_ground_point *v, const uint32_t *ids, size_t count, double per_metre) {
    mst_text_string(t, "<Pnts>\n");
    for (size_t i = 0; i < count; i++) {
        if (!ids[i]) continue;
        mst_text_printf(t, "<P id=\"%u\">", ids[i]);
        const double nez[3] = {v[i].northing_m, v[i].easting_m, v[i].elevation_m};
        for (int k = 0; k < 3; k++) {
            if (k) mst_text_string(t, " ");
            mst_text_number(t, nez[k] * per_metre);
        }
        mst_text_string(t, "</P>\n");
    }
    mst_text_string(t, "</Pnts>\n");
}

static void surface(mst_text *t, const mst_handover *from, const uint32_t *ids, double per_metre) {
    size_t count, vertex_count;
    const uint32_t(*triangles)[3] = mst_ground_triangles(from->ground, &count);
    const mst_ground_point *v = mst_ground_vertices(from->ground, &vertex_count);
    mst_ground_figures figures;
    mst_ground_describe(from->ground, &figures);
    mst_text_string(t, "<Surfaces>\n<Surface name=\"");
    mst_text_xml(t, from->site ? mst_site_setting(from->site, "title", "ground") : "ground");
    mst_text_string(t, "\">\n<Definition surfType=\"TIN\"");
    attribute(t, "area2DSurf", figures.plan_area_m2 * per_metre * per_metre);
    attribute(t, "area3DSurf", figures.slope_area_m2 * per_metre * per_metre);
    attribute(t, "elevMax", figures.highest_m * per_metre);
    attribute(t, "elevMin", figures.lowest_m * per_metre);
    mst_text_string(t, ">\n");
    points(t, v, ids, vertex_count, per_metre);
    mst_text_string(t, "<Faces>\n");
    for (size_t i = 0; i < count; i++)
        mst_text_printf(t, "<F>%u %u %u</F>\n", ids[triangles[i][0]], ids[triangles[i][1]], ids[triangles[i][2]]);
    mst_text_string(t, "</Faces>\n</Definition>\n</Surface>\n</Surfaces>\n</LandXML>\n");
}

mst_status mst_write_landxml(const mst_handover *from, const char *path, mst_error *error) {
    size_t count = 0, vertex_count = 0;
    const uint32_t(*triangles)[3] = from->ground ? mst_ground_triangles(from->ground, &count) : NULL;
    if (count == 0)
        return mst_fail(error, MST_TOO_FEW, "There is no ground to write; measure at least three points with levels.");
    mst_ground_vertices(from->ground, &vertex_count);
    mst_arena *arena = mst_arena_new();
    uint32_t *ids = arena ? number_vertices(triangles, count, vertex_count, arena) : NULL;
    mst_text text = {0};
    bool feet = mst_is_imperial(from);
    mst_status status = ids ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    if (!status) {
        head(&text, from, feet);
        surface(&text, from, ids, feet ? 1 / MST_FOOT_M : 1);
        status = mst_save_text(path, &text, error);
    }
    mst_arena_free(arena);
    return status;
}
