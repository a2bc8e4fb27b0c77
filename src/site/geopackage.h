/** @file src/site/geopackage.h  What a GeoPackage is made of: geometry blobs and the tables of the standard.
 *
 * Source: OGC 12-128 GeoPackage Encoding Standard 1.3 (blob header, core tables, extension for curve types) and
 * ISO WKB for the geometry itself (ISO/IEC 13249-3, OGC 06-103): kind + 1000 where there is a level. */
#ifndef SITE_GEOPACKAGE_H
#define SITE_GEOPACKAGE_H
#include "merestone/base.h"

enum { MST_GEOPACKAGE_ID = 0x47504B47 /* "GPKG" */, MST_GEOPACKAGE_VERSION = 10300 };
enum { MST_SRS_PLANE = -1 }; /**< "undefined Cartesian": a plane in metres, tied to no earth */

/** A box in plan; starts empty. */
typedef struct mst_extent {
    double min_e, max_e, min_n, max_n;
    bool any;
} mst_extent;
void mst_extent_add(mst_extent *extent, double easting, double northing);
void mst_extent_join(mst_extent *extent, const mst_extent *other);

/** One run of a path: [count] easting, northing, elevation (NaN = none), bulge to the next point. */
typedef struct mst_ring {
    const double (*points)[4];
    size_t count;
    bool closed; /**< joins its last point to its first, which is not repeated */
} mst_ring;

/* Each writer appends one whole blob to @p out (a growing byte buffer) and, where there is one, its true extent, the
 * crowns of arcs included, to @p extent. A geometry has levels when all of its points have one, else none. */

void mst_blob_point(mst_text *out, int32_t srs, double easting, double northing, double elevation);
/** COMPOUNDCURVE: straight runs as LINESTRING, arcs as CIRCULARSTRING through the middle of the arc. */
void mst_blob_curve(mst_text *out, int32_t srs, const mst_ring *ring, mst_extent *extent);
/** CURVEPOLYGON of an outline and its holes; each ring ends where it starts, to the bit. */
void mst_blob_area(mst_text *out, int32_t srs, const mst_ring rings[], size_t count, mst_extent *extent);
/** LINESTRING Z at one level. */
void mst_blob_contour(mst_text *out, int32_t srs, const double (*points)[2], size_t count, bool closed, double level,
                      mst_extent *extent);
/** POLYGON Z of one triangle. */
void mst_blob_triangle(mst_text *out, int32_t srs, const double corners[3][3], mst_extent *extent);

/** SQL that makes the core tables of the standard with the reference systems that it demands. */
extern const char mst_geopackage_schema[];
#endif
