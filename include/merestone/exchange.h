/** @file merestone/exchange.h  Files that others open: DXF, GeoJSON, CSV, LandXML, GPX, spreadsheet. */
#ifndef MERESTONE_EXCHANGE_H
#define MERESTONE_EXCHANGE_H
#include "merestone/estimate.h"
#include "merestone/setout.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef struct mst_handover {
    const mst_site *site;
    const mst_adjustment *adjustment;
    const mst_ground *ground;           /**< may be NULL */
    const mst_contour *contours; size_t contour_count;
    const mst_setout_sheet *setout;     /**< may be NULL */
    const mst_bill *bill;               /**< may be NULL; for xlsx */
} mst_handover;

/** Each writes atomically and gives the same bytes for the same input. @retval MST_IO the file cannot be written */
mst_status mst_write_dxf(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;      /**< AC1015; arcs as bulges, 3DFACE, layers */
mst_status mst_write_geojson(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;  /**< local plane unless a gnss origin is known; says which */
mst_status mst_write_points_csv(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;
mst_status mst_write_landxml(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;  /**< 1.2 surface */
mst_status mst_write_gpx(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;      /**< needs a geographic origin; MST_NO without one */
mst_status mst_write_xlsx(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;     /**< takeoff and estimate, formulas live */

typedef struct mst_surface { const char *name; double (*points)[3]; /**< easting, northing, elevation, m */ size_t point_count; uint32_t (*faces)[3]; size_t face_count;
    double stated_area_m2, stated_slope_area_m2; /**< NaN when the file states none */ } mst_surface;
/** Reads LandXML 1.2 TIN surfaces; faces marked invisible are left out. @retval MST_INVALID with the line */
mst_status mst_read_landxml(const char *text, size_t length, const char *name, mst_arena *arena, mst_surface **surfaces, size_t *count,
                            mst_error *error) MST_CHECKED;

/** A local transverse Mercator plane about a place (scale 1 there), through PROJ; closed with mst_projection_close. */
typedef struct mst_projection mst_projection;
mst_status mst_projection_open(double latitude_rad, double longitude_rad, mst_projection **projection, mst_error *error) MST_CHECKED;
void mst_projection_close(mst_projection *projection); /**< NULL is allowed */
const mst_projector *mst_projection_projector(const mst_projection *projection); /**< borrowed; for mst_adjust */

/** Opens a writer on a temporary file beside @p path; mst_atomic_commit renames it, mst_atomic_cancel removes it. */
typedef struct mst_atomic { void *stream; char *path, *temporary; } mst_atomic;
#ifdef __cplusplus
}
#endif
#endif
