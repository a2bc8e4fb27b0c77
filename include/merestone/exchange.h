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
    const mst_ground *ground; /**< may be NULL */
    const mst_contour *contours;
    size_t contour_count;
    const mst_setout_sheet *setout; /**< may be NULL */
    const mst_bill *bill;           /**< may be NULL; for xlsx */
    const char *written; /**< "YYYY-MM-DDThh:mm:ss" to be stated in the file where its format asks for a date; NULL =
                            2000-01-01 */
} mst_handover;

typedef enum mst_format {
    MST_FORMAT_DXF,
    MST_FORMAT_GEOJSON,
    MST_FORMAT_CSV,
    MST_FORMAT_LANDXML,
    MST_FORMAT_GPX,
    MST_FORMAT_XLSX
} mst_format;
/** What a file in that format will not carry, or the reader must know: a local frame, points left out, levels left out
 * ... One sentence each, to be shown beside the file. @param notes in @p arena */
mst_status mst_handover_notes(const mst_handover *from, mst_format format, mst_arena *arena, const char ***notes,
                              size_t *count, mst_error *error) MST_CHECKED;
/** True when the site knows where on the earth it is: a gnss page with a visit whose frame is known (or is the site's).
 */
bool mst_handover_is_geographic(const mst_handover *from);

/** Each writes atomically and gives the same bytes for the same input. @retval MST_IO the file cannot be written */
mst_status mst_write_dxf(const mst_handover *from, const char *path,
                         mst_error *error) MST_CHECKED; /**< AC1015; arcs as bulges, 3DFACE, layers */
mst_status mst_write_geojson(const mst_handover *from, const char *path, mst_error *error)
    MST_CHECKED; /**< local plane unless a gnss origin is known; says which */
mst_status mst_write_points_csv(const mst_handover *from, const char *path, mst_error *error) MST_CHECKED;
mst_status mst_write_landxml(const mst_handover *from, const char *path,
                             mst_error *error) MST_CHECKED; /**< 1.2 surface */
mst_status mst_write_gpx(const mst_handover *from, const char *path,
                         mst_error *error) MST_CHECKED; /**< needs a geographic origin; MST_NO without one */
mst_status mst_write_xlsx(const mst_handover *from, const char *path,
                          mst_error *error) MST_CHECKED; /**< takeoff and estimate, formulas live */

typedef struct mst_surface {
    const char *name;
    double (*points)[3]; /**< easting, northing, elevation, m */
    size_t point_count;
    uint32_t (*faces)[3];
    size_t face_count;
    double stated_area_m2, stated_slope_area_m2; /**< NaN when the file states none */
} mst_surface;
/** Reads LandXML 1.2 TIN surfaces; faces marked invisible are left out. @retval MST_INVALID with the line */
mst_status mst_read_landxml(const char *text, size_t length, const char *name, mst_arena *arena, mst_surface **surfaces,
                            size_t *count, mst_error *error) MST_CHECKED;

/* ---- point clouds and grids in ---- */

/** What a cloud's file says of itself. */
typedef struct mst_cloud_facts {
    char kind[64];           /**< "LAS 1.4, point format 6", "text", "ASCII grid of 87 x 61 cells" ... */
    uint64_t points;         /**< as stated and checked against the file's size; 0 for text, which does not say */
    char system[128];        /**< name of the coordinate system, "" where none is stated */
    double plan_m, height_m; /**< metres in a unit of the places and of the levels; 0 where the file does not say */
    bool degrees;            /**< places are longitudes and latitudes, or earth-centred: no plane to compute on */
    bool classed;            /**< points have a class */
    char note[200];          /**< what the reader had to overlook, one sentence; "" if nothing */
} mst_cloud_facts;
typedef struct mst_cloud_file mst_cloud_file; /**< open for reading; a stream, whatever its size */

/** Opens a LAS 1.0 to 1.4 file (point formats 0 to 10; own reader after the ASPRS LAS Specification 1.4 R15), a text of
 * x, y, z and class by line, an ESRI ASCII grid or a GeoTIFF of levels (libtiff), told apart by their first bytes.
 * Sizes and counts are checked against the file before any of them is trusted.
 * @param columns  header of a text without one: "easting,northing,elevation,class"; NULL = its own, or x, y, z [,
 * class]
 * @retval MST_NOT_FOUND the file cannot be opened; MST_INVALID truncated, compressed (LAZ), damaged or none of these
 *         kinds, with a sentence; MST_IO it cannot be read */
mst_status mst_cloud_open(const char *path, const char *columns, mst_cloud_file **file, mst_error *error) MST_CHECKED;
void mst_cloud_close(mst_cloud_file *file); /**< NULL is allowed */
const mst_cloud_facts *mst_cloud_file_facts(const mst_cloud_file *file);
/** The points in metres, rounded to the 0.1 mm that a page keeps. @p file must stay open. Withheld points are left out.
 * @param plan_m, height_m  metres in a unit of the file */
mst_cloud_source mst_cloud_file_points(mst_cloud_file *file, double plan_m, double height_m);

/** A store in an unnamed temporary file (in $TMPDIR, else /var/tmp): nothing is left of it, whatever happens.
 * Made at the first write. */
typedef struct mst_cloud_scratch {
    int file;
    bool made;
} mst_cloud_scratch; /**< start from {0} */
mst_cloud_store mst_cloud_scratch_store(mst_cloud_scratch *scratch);
void mst_cloud_scratch_close(mst_cloud_scratch *scratch);

typedef struct mst_cloud_import {
    double tolerance_m; /**< of the thinning, > 0 */
    uint64_t
        classes[4]; /**< bit c of classes[c / 64]; none set: ground where the file has it, else all but noise (7, 18) */
    double plan_m, height_m; /**< metres in a unit, over what the file says; 0 = as the file says. plan_m alone stands
                                for the levels too where the file does not say their unit */
    const char *columns;     /**< as in mst_cloud_open */
    bool find_ground;        /**< keep only ground, found by its shape; classes: all but noise unless given */
    mst_cloud_ground_options ground;
    size_t points_most; /**< 0 = as mst_cloud_thin */
    mst_progress progress;
} mst_cloud_import;
typedef struct mst_cloud_report {
    mst_cloud_facts facts;
    double plan_m, height_m; /**< as used */
    uint64_t read, withheld; /**< points in the file that count, and those marked as deleted */
    uint64_t by_class[256];  /**< of `read` */
    uint64_t wanted; /**< of the classes asked for; of them, `thinned.fit.count` are ground where that was looked for */
    mst_cloud_thinned thinned; /**< points in the arena */
    double seconds;
    const char **notes;
    size_t note_count; /**< what the reader must know, a sentence each */
} mst_cloud_report;
/** From a file of any size to the few points that its surface needs. @param report in @p arena
 * @retval MST_INVALID a unit that nobody states, places in degrees, a damaged row ...; as mst_cloud_open,
 * mst_cloud_thin and mst_cloud_find_ground */
mst_status mst_cloud_to_points(const char *path, const mst_cloud_import *import, mst_arena *arena,
                               mst_cloud_report *report, mst_error *error) MST_CHECKED;

/* ---- whole files or none ---- */

/** A writer on a temporary file beside @p path; start from {0}. A device or pipe is written directly. */
typedef struct mst_atomic {
    void *stream; /**< FILE * */
    char *path, *temporary;
} mst_atomic;
/** @retval MST_IO the folder does not exist or cannot be written; MST_INVALID @p path is a folder */
mst_status mst_atomic_open(mst_atomic *file, const char *path, mst_error *error) MST_CHECKED;
/** Flushes to the disk and puts the file in its place. On failure the old file stays as it was and the temporary is
 * removed.
 * @retval MST_IO the disk is full, or the file cannot be replaced */
mst_status mst_atomic_commit(mst_atomic *file, mst_error *error) MST_CHECKED;
void mst_atomic_cancel(mst_atomic *file); /**< removes the temporary; nothing after a commit */

/* ---- the earth ---- */

/** A plane transverse Mercator projection (PROJ behind it), closed with mst_projection_close. Not thread-safe. */
typedef struct mst_projection mst_projection;
typedef struct mst_projection_options {
    double latitude_rad, longitude_rad; /**< of the origin */
    double
        height_m; /**< of the origin over the ellipsoid: the plane lies there, so that its distances are the tape's */
    double scale; /**< on the ellipsoid; 0 = 1. It is raised by height / radius of curvature */
    double false_easting_m, false_northing_m;
    const char *ellipsoid; /**< PROJ's name; NULL = WGS84 */
    double reach_m;        /**< places farther than this from the false origin are refused; 0 = none are */
} mst_projection_options;
/** A local plane about a place, scale 1 there on the ellipsoid. @retval MST_INVALID no such place; MST_IO PROJ fails */
mst_status mst_projection_open(double latitude_rad, double longitude_rad, mst_projection **projection,
                               mst_error *error) MST_CHECKED;
/** A plane as the options say. @retval MST_INVALID no such origin, scale or ellipsoid; MST_IO PROJ fails */
mst_status mst_projection_open_with(const mst_projection_options *options, mst_projection **projection,
                                    mst_error *error) MST_CHECKED;
/** The site's own plane: about the settings origin.latitude and origin.longitude (degrees), origin.height (m), else
 * about the first gnss reading that counts, at its height. The adjustment and the files handed over must use the same
 * one.
 * @param projection  NULL where the site has neither */
mst_status mst_projection_of_site(const mst_site *site, mst_projection **projection, mst_error *error) MST_CHECKED;
void mst_projection_close(mst_projection *projection); /**< NULL is allowed */
/** Borrowed; for mst_adjust. Elevation = ellipsoid height. */
const mst_projector *mst_projection_projector(const mst_projection *projection);
/** Back to latitude and longitude. @return false where there is none */
bool mst_projection_inverse(mst_projection *projection, mst_point place, double *latitude_rad, double *longitude_rad);
#ifdef __cplusplus
}
#endif
#endif
