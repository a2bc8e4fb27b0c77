/** @file merestone/setout.h  Design stakes onto the site, ties and polar figures to set them out, and proof of what was built. */
#ifndef MERESTONE_SETOUT_H
#define MERESTONE_SETOUT_H
#include "merestone/ground.h"
#include "merestone/survey.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef struct mst_stake { const char *name, *code; double easting_m, northing_m, elevation_m; /**< design frame; elevation NaN = none */ int row; } mst_stake;

typedef struct mst_stake_fit { mst_similarity transform; double height_shift_m; const char **common; mst_point *residuals; size_t common_count;
    const char *sentence; } mst_stake_fit;

/** How the design's frame lies on the site: by common names (least squares, scale held at 1 and its misfit said),
 * by one common point and a direction, or as it is. */
typedef struct mst_fit_options { bool site_frame; const char *origin, *direction; /**< stake names that are site points too */
    bool with_scale; } mst_fit_options;
mst_status mst_stakes_fit(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment, const mst_fit_options *options,
                          mst_arena *arena, mst_stake_fit *fit, mst_error *error) MST_CHECKED;

typedef struct mst_tie { const char *from; double distance_m; } mst_tie;
typedef struct mst_setout_line { const char *stake, *code; double easting_m, northing_m, elevation_m, ground_m, cut_m, /**< ground - design, < 0 = fill */
    sd_m; mst_tie *ties; size_t tie_count; /**< two that cut well, then a check */
    struct { const char *at, *backsight; double circle_rad, bearing_rad, distance_m; } polar;
    struct { const char *from, *to; double chainage_m, offset_m; } offset; const char *caution; } mst_setout_line;
typedef struct mst_setout_sheet { mst_stake_fit fit; mst_setout_line *lines; size_t count; const char **order; /**< a short walk */ } mst_setout_sheet;
typedef struct mst_setout_options { mst_fit_options fit; const char *at, *backsight; /**< NULL: chosen */ const char *from, *to; /**< baseline; NULL: chosen */
    double reach_m; /**< longest tape; 0 = 30 */ } mst_setout_options;
/** Ties are taken from held or well determined points within reach, cutting between 30 and 150 degrees. @param ground may be NULL */
mst_status mst_setout(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment, const mst_ground *ground,
                      const mst_setout_options *options, mst_arena *arena, mst_setout_sheet *sheet, mst_error *error) MST_CHECKED;

typedef struct mst_built { const char *point; double easting_m, northing_m, elevation_m, sd_plan_m, sd_height_m; int row; } mst_built;
typedef enum mst_verdict { MST_PASS, MST_FAIL, MST_CANNOT_TELL } mst_verdict;
typedef struct mst_check { const char *point, *stake; double de_m, dn_m, dz_m, distance_m, tolerance_m, sd_m; mst_verdict verdict; const char *sentence; } mst_check;
typedef struct mst_verify_options { double plan_m, height_m; /**< tolerances; 0 = 0.025 and 0.010 */ double confidence; /**< 0 = 0.95 */
    double search_m; /**< nearest stake within this when the name is not a stake; 0 = 1.0 */ } mst_verify_options;
/** Guarded decision (JCGM 106:2012 clause 8): pass when conformance is proven at the confidence, fail when its opposite is,
 * else "cannot tell". Stakes are in the site's frame here. */
mst_status mst_verify(const mst_built built[], size_t built_count, const mst_setout_line stakes[], size_t stake_count,
                      const mst_verify_options *options, mst_arena *arena, mst_check **checks, size_t *count, mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
