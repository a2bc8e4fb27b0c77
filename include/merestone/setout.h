/** @file merestone/setout.h  Design stakes onto the site, ties and polar figures to set them out, and proof of what was
 * built. */
#ifndef MERESTONE_SETOUT_H
#define MERESTONE_SETOUT_H
#include "merestone/ground.h"
#include "merestone/survey.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef struct mst_stake {
    const char *name, *code;
    double easting_m, northing_m, elevation_m; /**< design frame; elevation NaN = none */
    int row;
} mst_stake;

typedef struct mst_stake_fit {
    mst_similarity transform;
    double height_shift_m; /**< site level = design level + this */
    const char **common;
    mst_point *residuals; /**< site minus transformed design, m */
    size_t common_count;
    const char *sentence; /**< how well the design lies on the site, and what to look out for */
} mst_stake_fit;

/** How the design's frame lies on the site: by common names (least squares, scale held at 1 and its misfit said),
 * by one common point and a direction, or as it is. */
typedef struct mst_fit_options {
    bool site_frame;
    const char *origin, *direction; /**< stake names that are site points too */
    bool with_scale;
    double misfit_m; /**< largest residual that is let through; 0 = 0.025, or 3 sd of the point if more */
} mst_fit_options;
/** @param options  may be NULL: by common names. @param fit  in @p arena; untouched unless MST_OK or MST_NO
 * @retval MST_TOO_FEW       fewer than two common points (or none and a direction) and not told that the frame is the
 * site's
 * @retval MST_NOT_FOUND     origin or direction is not both a stake and a site point
 * @retval MST_UNDETERMINED  the common points lie at one place
 * @retval MST_NO            the common points do not fit; the sentence gives both lengths and the misfit
 * @retval MST_INVALID       a stake without a place, or two stakes of one name */
mst_status mst_stakes_fit(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment,
                          const mst_fit_options *options, mst_arena *arena, mst_stake_fit *fit,
                          mst_error *error) MST_CHECKED;

typedef struct mst_tie {
    const char *from;
    double distance_m;
} mst_tie;
/** One stake to set out, in the site's frame. `sd_m` is the larger half axis of the standard ellipse of the place that
 * the two ties give (tape and the covariance of the points taped from), NaN without ties; `side` says on which side of
 * the first two points the stake lies; `words` says cut or fill in words ("" without ground or level); `caution` is ""
 * where there is none. */
typedef struct mst_setout_line {
    const char *stake, *code;
    double easting_m, northing_m, elevation_m, ground_m, cut_m, /**< ground - design, < 0 = fill */
        sd_m;
    mst_tie *ties;
    size_t tie_count; /**< two that cut well, then a check */
    const char *side, *words;
    struct {
        const char *at, *backsight;
        double circle_rad, bearing_rad, distance_m, sd_m;
    } polar; /**< sd_m as above, with a total station as its preset says; NaN where it is not to be had */
    struct {
        const char *from, *to;
        double chainage_m, offset_m, sd_m;
    } offset; /**< sd_m as above, taped, and squared off as the preset tape-and-square says */
    const char *caution, *untaped_caution; /**< untaped: without what is said of the ties */
} mst_setout_line;
typedef struct mst_setout_sheet {
    mst_stake_fit fit;
    mst_setout_line *lines;
    size_t count;
    const char **order; /**< a short walk */
} mst_setout_sheet;
typedef struct mst_setout_options {
    mst_fit_options fit;
    const char *at, *backsight; /**< NULL: chosen */
    const char *from, *to;      /**< baseline; NULL: chosen */
    double reach_m;             /**< longest tape; 0 = 30 */
    double tape_sd_m;           /**< of one taped tie and its mark; 0 = 0.005 */
} mst_setout_options;
/** Ties are taken from held or well determined points within reach, cutting between 30 and 150 degrees. @param ground
 * may be NULL
 * @param options  may be NULL. @param sheet  in @p arena; untouched unless MST_OK, or MST_NO: then the fit alone
 * @retval MST_NOT_FOUND a named station, backsight or baseline end is not a site point with a place; else as
 * mst_stakes_fit */
mst_status mst_setout(const mst_stake stakes[], size_t count, const mst_adjustment *adjustment,
                      const mst_ground *ground, const mst_setout_options *options, mst_arena *arena,
                      mst_setout_sheet *sheet, mst_error *error) MST_CHECKED;

typedef struct mst_built {
    const char *point;
    double easting_m, northing_m, elevation_m, sd_plan_m, sd_height_m;
    int row;
} mst_built;
typedef enum mst_verdict { MST_PASS, MST_FAIL, MST_CANNOT_TELL } mst_verdict;
/** Built minus design. `distance_m`, `tolerance_m` and `sd_m` (each axis) are in plan; the level has its own. NaN where
 * it does not apply: no stake near (stake is ""), or no level on either side. */
typedef struct mst_check {
    const char *point, *stake;
    double de_m, dn_m, dz_m, distance_m, tolerance_m, sd_m;
    mst_verdict verdict;
    const char *sentence;
    double height_tolerance_m, height_sd_m, plan_conformance, height_conformance; /**< probabilities */
    bool height_judged;
} mst_check;
typedef struct mst_verify_options {
    double plan_m, height_m; /**< tolerances; 0 = 0.025 and 0.010 */
    double confidence;       /**< 0 = 0.95 */
    double search_m;         /**< nearest stake within this when the name is not a stake; 0 = 1.0 */
} mst_verify_options;
/** "pass", "fail", "cannot tell". */
const char *mst_verdict_name(mst_verdict verdict);
/** Probability that a true deviation lies within +-@p tolerance when @p deviation was measured with standard
 * uncertainty @p sd (normal; JCGM 106:2012 7.2). sd 0 gives 0 or 1. */
double mst_conformance(double deviation, double tolerance, double sd);
/** The same in plan: true place within a circle of radius @p tolerance about the design, sd on each axis. */
double mst_conformance_plan(double distance, double tolerance, double sd);
/** Guarded decision (JCGM 106:2012 clause 8): pass when conformance is proven at the confidence, fail when its opposite
 * is, else "cannot tell". Stakes are in the site's frame here. A measurement whose sd is NaN proves nothing.
 * @retval MST_TOO_FEW nothing built or no stake; MST_INVALID a tolerance, confidence or sd that is no such thing */
mst_status mst_verify(const mst_built built[], size_t built_count, const mst_setout_line stakes[], size_t stake_count,
                      const mst_verify_options *options, mst_arena *arena, mst_check **checks, size_t *count,
                      mst_error *error) MST_CHECKED;

/* ---- grades: sight rails, grade stakes, slope stakes. Falls are rise over run, > 0 down along the line ---- */

/** Level at @p distance_m along a line that starts at @p start_m and falls by @p fall. */
double mst_graded_level(double start_m, double fall, double distance_m);
/** How far above its peg a sight rail is nailed: formation (or invert) + traveller - peg. < 0: the peg stands too high.
 */
double mst_sight_rail(double formation_m, double traveller_m, double peg_m);
/** What is marked on a grade stake: level of the hub less the design level; > 0 cut, < 0 fill. */
double mst_grade_stake(double hub_m, double design_m);
/** A side slope that leaves the formation's edge and meets ground of even slope. */
typedef struct mst_slope_stake {
    double half_width_m, slope, /**< horizontal per vertical */ height_m, /**< cut or fill at the centre line, > 0 */
        ground_rise; /**< of the ground away from the centre, rise over run, > 0 where the side slope has farther to go
                      */
} mst_slope_stake;
/** The next trial from the ground's height at the last one: w + s (h + g d). Start with 0. */
double mst_slope_stake_trial(const mst_slope_stake *at, double last_m);
/** Distance of the catch point from the centre line: (w + s h) / (1 - s g).
 * @param height_m  cut or fill at the stake. @retval MST_NO the slope never meets the ground; MST_INVALID */
mst_status mst_slope_stake_catch(const mst_slope_stake *at, double *distance_m, double *height_m,
                                 mst_error *error) MST_CHECKED;
/** Where a side slope meets the ground model: from @p edge (with the formation's level) out along @p bearing_rad,
 * rising (cut) or falling (fill) by 1 in @p slope. @param reach_m how far to look; 0 = 100
 * @retval MST_NO it does not meet the ground within reach, or the model ends first */
mst_status mst_slope_stake_on_ground(const mst_ground *ground, mst_point3 edge, double bearing_rad, double slope,
                                     double reach_m, mst_arena *arena, mst_point3 *catch_point,
                                     mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
