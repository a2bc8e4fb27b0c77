/** @file src/site/file_schema.h  The tables of a site file that hold the site itself and its history. */
#ifndef SITE_FILE_SCHEMA_H
#define SITE_FILE_SCHEMA_H

/** The number of this layout; a file with a higher one was written by a newer program. */
enum { MST_FILE_FORMAT = 1 };
/** SQL that makes the tables, empty, and lists them in gpkg_contents. */
extern const char mst_file_schema[];
/** SQL that makes the published layers, empty, and lists them in gpkg_contents, gpkg_geometry_columns, gpkg_extensions.
 */
extern const char mst_file_layers[];
#endif
