/** @file merestone/site.h  The site as data: what was measured and what was decided, nothing derived.
 *
 * A site in memory is a snapshot: plain structs and borrowed strings that all live in one arena. It is never
 * changed in place; a change goes through the site file (site/file.h), which yields the next snapshot. */
#ifndef MERESTONE_SITE_H
#define MERESTONE_SITE_H
#include "merestone/base.h"
#ifdef __cplusplus
extern "C" {
#endif

/* ---- field pages ---- */

typedef enum mst_page_kind {
    MST_PAGE_CONTROL,
    MST_PAGE_POINTS,
    MST_PAGE_TAPE,
    MST_PAGE_BEARINGS,
    MST_PAGE_ANGLES,
    MST_PAGE_LEVELS,
    MST_PAGE_HEIGHTS,
    MST_PAGE_OFFSETS,
    MST_PAGE_LEGS,
    MST_PAGE_GNSS,
    MST_PAGE_FEATURES,
    MST_PAGE_STAKES,
    MST_PAGE_BUILT,
    MST_PAGE_PRICES,
    MST_PAGE_CONDITIONS,
    MST_PAGE_PLAN,
    MST_PAGE_KINDS
} mst_page_kind;

/* The columns of each page in the order in which a row's cells are kept, whatever the file's own order. */
enum {
    MST_CONTROL_POINT,
    MST_CONTROL_EASTING,
    MST_CONTROL_NORTHING,
    MST_CONTROL_ELEVATION,
    MST_CONTROL_SD_PLAN,
    MST_CONTROL_SD_HEIGHT
};
enum {
    MST_POINTS_POINT,
    MST_POINTS_EASTING,
    MST_POINTS_NORTHING,
    MST_POINTS_ELEVATION,
    MST_POINTS_CODE,
    MST_POINTS_SD_PLAN,
    MST_POINTS_SD_HEIGHT
};
enum {
    MST_TAPE_FROM,
    MST_TAPE_TO,
    MST_TAPE_DISTANCE,
    MST_TAPE_SLOPE,
    MST_TAPE_SD,
    MST_TAPE_SCALE,       /* ppm by which the tape is longer than it says */
    MST_TAPE_TEMPERATURE, /* of the tape, Celsius */
    MST_TAPE_EXPANSION,   /* ppm a degree; steel where none is given */
    MST_TAPE_WEIGHT,      /* N/m of a tape that hangs */
    MST_TAPE_PULL,        /* N */
    MST_TAPE_SPAN         /* m between supports; the whole length where none is given */
};
enum {
    MST_BEARINGS_FROM,
    MST_BEARINGS_TO,
    MST_BEARINGS_BEARING,
    MST_BEARINGS_DISTANCE,
    MST_BEARINGS_SD,
    MST_BEARINGS_SD_DISTANCE
};
enum {
    MST_ANGLES_AT,
    MST_ANGLES_TO,
    MST_ANGLES_CIRCLE,
    MST_ANGLES_ZENITH,
    MST_ANGLES_DISTANCE,
    MST_ANGLES_INSTRUMENT,
    MST_ANGLES_TARGET,
    MST_ANGLES_ROUND,
    MST_ANGLES_SD_CIRCLE,
    MST_ANGLES_SD_ZENITH,
    MST_ANGLES_SD_DISTANCE
};
enum { MST_LEVELS_POINT, MST_LEVELS_BACKSIGHT, MST_LEVELS_INTERMEDIATE, MST_LEVELS_FORESIGHT, MST_LEVELS_DISTANCE };
enum { MST_HEIGHTS_FROM, MST_HEIGHTS_TO, MST_HEIGHTS_DIFFERENCE, MST_HEIGHTS_LENGTH, MST_HEIGHTS_SD };
enum {
    MST_OFFSETS_FROM,
    MST_OFFSETS_TO,
    MST_OFFSETS_CHAINAGE,
    MST_OFFSETS_OFFSET,
    MST_OFFSETS_POINT,
    MST_OFFSETS_CODE
};
enum { MST_LEGS_FROM, MST_LEGS_TO, MST_LEGS_DX, MST_LEGS_DY, MST_LEGS_DZ, MST_LEGS_TIME };
enum { MST_GNSS_POINT, MST_GNSS_LATITUDE, MST_GNSS_LONGITUDE, MST_GNSS_HEIGHT, MST_GNSS_SD_PLAN, MST_GNSS_SD_HEIGHT };
enum {
    MST_FEATURES_FEATURE,
    MST_FEATURES_KIND,
    MST_FEATURES_CODE,
    MST_FEATURES_POINT,
    MST_FEATURES_EDGE,
    MST_FEATURES_ROLE
};
enum { MST_STAKES_STAKE, MST_STAKES_EASTING, MST_STAKES_NORTHING, MST_STAKES_ELEVATION, MST_STAKES_CODE };
enum {
    MST_BUILT_POINT,
    MST_BUILT_EASTING,
    MST_BUILT_NORTHING,
    MST_BUILT_ELEVATION,
    MST_BUILT_SD_PLAN,
    MST_BUILT_SD_HEIGHT
};
/* A price list: item, unit (m, m2, m3, t, each, load), applies to (a feature code or a material), measure,
 * rate in the site's currency per unit, and how it is bought. See docs/pages.md. */
enum {
    MST_PRICES_ITEM,
    MST_PRICES_UNIT,
    MST_PRICES_CODE,
    MST_PRICES_MEASURE,
    MST_PRICES_DEPTH,
    MST_PRICES_FACTOR,
    MST_PRICES_WASTE,
    MST_PRICES_PACK,
    MST_PRICES_PACK_UNIT,
    MST_PRICES_RATE
};
enum {
    MST_CONDITIONS_CONDITION,
    MST_CONDITIONS_FIRST,
    MST_CONDITIONS_SECOND,
    MST_CONDITIONS_THIRD,
    MST_CONDITIONS_FOURTH,
    MST_CONDITIONS_VALUE,
    MST_CONDITIONS_SD
};
/* A visit as it is meant to be: places by eye, and the readings that shall be taken. Nothing on it counts as measured.
 */
enum {
    MST_PLAN_READING,
    MST_PLAN_FROM,
    MST_PLAN_TO,
    MST_PLAN_EASTING,
    MST_PLAN_NORTHING,
    MST_PLAN_ELEVATION,
    MST_PLAN_GEAR,
    MST_PLAN_MINUTES
};
enum { MST_COLUMNS_MAX = 11 };

/** One row of a field page: as typed, and as understood. */
typedef struct mst_row {
    int64_t id;                        /**< of the stored reading; 0 before it is stored */
    int line;                          /**< line of the file, from 1 (the header is line 1) */
    const char *raw;                   /**< the CSV record as it came, without its line end */
    const char *set_aside;             /**< why this reading does not count, or NULL */
    const char *text[MST_COLUMNS_MAX]; /**< cell as typed; "" where empty or absent */
    double value[MST_COLUMNS_MAX];     /**< SI value of a number, length or angle; NaN where empty or text */
} mst_row;

typedef struct mst_page {
    int64_t id; /**< 0 before it is stored */
    mst_page_kind kind;
    const char *name;   /**< file name without folders: what `page` says in results and errors */
    const char *visit;  /**< name of the visit */
    const char *gear;   /**< name of the gear: a site's own or a preset */
    bool site_frame;    /**< coordinates are already in the site's frame */
    const char *header; /**< the header record as it came, or as given by --columns */
    mst_row *rows;
    size_t row_count, row_capacity;
    const char *notes; /**< remarks of the reader on the file (BOM skipped, mixed line ends); "" if none */
    uint32_t
        columns; /**< bit c is set where the page has column c: a cell that is empty is not one that is not there */
} mst_page;

/** Largest field page, in bytes; scans come in as clouds, not as pages. */
#define MST_PAGE_BYTES_MAX (64u * 1024u * 1024u)

/** @return "control", "points" ... */
const char *mst_page_kind_name(mst_page_kind kind);
/** @return false when no page has that name. */
bool mst_page_kind_named(const char *name, mst_page_kind *kind);
/** @return the header name of column @p column ("easting", "sd plan"), or NULL past the last. */
const char *mst_page_column_name(mst_page_kind kind, int column);
/** True when the column holds a number, a length or an angle, so that `value` counts. */
bool mst_page_column_is_number(mst_page_kind kind, int column);

/** Reads a field page: RFC 4180 CSV, UTF-8, with or without a byte-order mark, LF or CRLF.
 *
 * All rows or none: the first fault ends the reading, with its row and column.
 * @param name     file name, for errors; copied
 * @param columns  header for a file without one, or NULL when the first record is the header
 * @param page     result in @p arena; visit, gear and site_frame are left unset
 * @retval MST_INVALID  empty, binary, not UTF-8, too large, unknown or missing column, missing unit, not a number,
 *                      a place farther than the earth is round, a point named twice where once is meant ... */
mst_status mst_page_read(mst_page_kind kind, const char *name, const char *text, size_t length, const char *columns,
                         mst_arena *arena, mst_page *page, mst_error *error) MST_CHECKED;
/** Reads a page again from its stored header and records (each row's id, line, raw and set_aside filled in). */
mst_status mst_page_reread(mst_page *page, mst_arena *arena, mst_error *error) MST_CHECKED;

/* ---- gear ---- */

/** How far a kind of gear can be trusted; one standard deviation, 0 where it does not apply. */
typedef struct mst_gear {
    int64_t id; /**< 0 for a preset */
    const char *name;
    const char *source;                /**< where the figures come from, e.g. "common practice, no source" */
    double distance_m, distance_ppm;   /**< sd of a distance: hypot(constant, ppm of length) */
    double angle_rad;                  /**< sd of one direction or bearing */
    double zenith_rad;                 /**< sd of one zenith angle */
    double centring_m;                 /**< sd of standing over a point, instrument and target each */
    double plan_m, height_m;           /**< sd of each coordinate of a point, of its level */
    double staff_m;                    /**< sd of one staff reading */
    double levelled_km_m;              /**< sd of a levelled difference over 1 km; grows with the root of the length */
    double leg_m, leg_rate, leg_power; /**< sd of a leg, each axis in plan: hypot(leg_m, leg_rate * time^leg_power) */
    double leg_height_ratio;           /**< sd of a leg's rise over its sd in plan */
} mst_gear;

/** @return the preset of that name or NULL. */
const mst_gear *mst_gear_preset(const char *name);
/** @return the presets, [*count]. */
const mst_gear *mst_gear_presets(size_t *count);
/** @return the name of the preset for a page's kind where no gear is given. */
const char *mst_gear_default(mst_page_kind kind);

/* ---- the rest of the model ---- */

typedef enum mst_feature_kind { MST_FEATURE_LINE, MST_FEATURE_AREA, MST_FEATURE_SPOT } mst_feature_kind;
typedef enum mst_edge_kind { MST_EDGE_STRAIGHT, MST_EDGE_ARC, MST_EDGE_CIRCLE, MST_EDGE_CURVE } mst_edge_kind;
typedef enum mst_role {
    MST_ROLE_DEFAULT,
    MST_ROLE_BOUNDARY,
    MST_ROLE_BREAKLINE,
    MST_ROLE_HOLE,
    MST_ROLE_NONE
} mst_role;

/** A point of a feature; `edge` says how the path reaches it from the point before.
 * `arc` points come in pairs: a point on the arc, then its end. `circle`: every point of the ring lies on one circle.
 */
typedef struct mst_vertex {
    const char *point;
    mst_edge_kind edge;
    int ring; /**< 0 the outline; 1, 2 ... holes in it (rows of role `hole` behind rows of another role) */
    int line; /**< row of the features page it came from */
} mst_vertex;

typedef struct mst_feature {
    int64_t id;
    const char *name, *code;
    mst_feature_kind kind;
    mst_role role;
    const char *page; /**< features page it came from, "" if drawn */
    mst_vertex *vertices;
    size_t vertex_count;
} mst_feature;

const char *mst_feature_kind_name(mst_feature_kind kind);
const char *mst_edge_kind_name(mst_edge_kind kind);
const char *mst_role_name(mst_role role);

typedef struct mst_visit {
    int64_t id;
    const char *name;
} mst_visit;

/** A design element: its name, place in the order, and its definition as JSON text (works.h reads it). */
typedef struct mst_work {
    int64_t id;
    const char *name;
    int position;
    const char *definition; /**< JSON object */
} mst_work;

/** A sheet: its name and its definition as JSON text (drawing.h reads it). */
typedef struct mst_sheet {
    int64_t id;
    const char *name, *definition;
} mst_sheet;

typedef struct mst_setting {
    const char *key, *value;
} mst_setting;

typedef struct mst_site {
    mst_arena *arena; /**< owns everything below */
    int64_t revision; /**< grows with every change, undo and redo */
    mst_setting *settings;
    size_t setting_count;
    mst_visit *visits;
    size_t visit_count; /**< in the order in which they came */
    mst_gear *gear;
    size_t gear_count; /**< the site's own; a preset's name overrides it */
    mst_page *pages;
    size_t page_count; /**< field pages in import order, features pages not among them */
    mst_feature *features;
    size_t feature_count;
    mst_work *works;
    size_t work_count; /**< by position */
    mst_sheet *sheets;
    size_t sheet_count;
} mst_site;

/** @return the value of a setting ("title", "units", "currency" ...), or @p fallback. */
const char *mst_site_setting(const mst_site *site, const char *key, const char *fallback);
/** @return true when the site's people read feet. */
bool mst_site_imperial(const mst_site *site);
/** @return the gear of that name, the site's own first, then the presets; NULL if none. */
const mst_gear *mst_site_gear(const mst_site *site, const char *name);
const mst_feature *mst_site_feature(const mst_site *site, const char *name); /**< NULL if none */

/** Turns a `features` page into features. @retval MST_INVALID a feature that mixes kinds, an arc without its end ... */
mst_status mst_features_from_page(const mst_page *page, mst_arena *arena, mst_feature **features, size_t *count,
                                  mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
