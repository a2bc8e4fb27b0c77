/** @file merestone/survey.h  Readings of every kind and visit -> adjusted points with known error.
 *
 * One least-squares adjustment in plan and height. Unknowns: each point that is not held; the orientation of each
 * set-up of `angles`; shift and heading of each visit of `points`, `gnss` and `legs` that is not in the site's frame;
 * the height of collimation of each set-up of `levels`. */
#ifndef MERESTONE_SURVEY_H
#define MERESTONE_SURVEY_H
#include "merestone/geometry.h"
#include "merestone/site.h"
#ifdef __cplusplus
extern "C" {
#endif

/** Carries latitude, longitude (rad) and ellipsoid height to a local plane. Given by the edge (PROJ); NULL: gnss pages
 * refused. */
typedef struct mst_projector {
    bool (*project)(void *self, double latitude_rad, double longitude_rad, double height_m, mst_point3 *local);
    void *self;
} mst_projector;

typedef struct mst_adjust_options {
    const mst_projector *projector; /**< may be NULL */
    double global_significance;     /**< of the chi-square test; 0 = 0.05 */
    double suspect_significance;    /**< of one reading's test (Baarda: 0.001); 0 = so that a set without
                                         mistakes is accused, as a whole, in less than 1 % of cases */
    bool apply_gear_factors;        /**< true: every gear's sd are multiplied by its factor, then all is done anew;
                                         so does the site's setting gear-factors = apply */
    bool free_datum;    /**< where nothing is given, count errors from the middle of the network (inner constraints)
                             instead of from the first points; so does the site's setting datum = free */
    int max_iterations; /**< 0 = 100; a usual site takes 3 */
    bool expected_only; /**< the readings are computed, not taken: no mistakes are looked for, no gear is judged */
} mst_adjust_options;

/** An adjusted point. What is not determined is NaN. sd are scaled by max(1, sigma0) (Birge's ratio). */
typedef struct mst_adjusted_point {
    const char *name, *code;
    double easting_m, northing_m, elevation_m;
    double sd_easting_m, sd_northing_m, cov_en_m2, sd_elevation_m;
    double semi_major_m, semi_minor_m, ellipse_bearing_rad; /**< standard ellipse; bearing of the major axis, [0, pi) */
    bool has_plan, has_height, held_plan, held_height;
    bool assumed_height; /**< no level is known anywhere: this one was taken to count from */
    int readings;     /**< how many readings touch it: 1 is unproven */
    const char *page; /**< where it first appears */
    int row;
} mst_adjusted_point;

typedef struct mst_observation_result {
    int64_t reading_id;
    const char *visit, *page;
    int row;
    const char *kind; /**< distance, slope distance, bearing, direction, zenith, backsight, intermediate, foresight,
                           height difference, easting, northing, elevation, chainage, offset, dx, dy, dz */
    const char *from, *to;                   /**< "" where it does not apply */
    bool angular;                            /**< values in rad instead of m */
    double observed, adjusted, residual, sd; /**< residual = adjusted - observed; sd of the reading, a priori */
    double redundancy;                       /**< 0 no check ... 1 fully checked */
    double standardized;                     /**< residual / its sd */
    double smallest_error; /**< smallest error that would be noticed with 80 %: (critical + 0.84) sd / sqrt(redundancy);
                                HUGE_VAL if none */
} mst_observation_result;

typedef struct mst_suspect {
    size_t observation;     /**< index into observations */
    double estimated_error; /**< observed minus what the others say, m or rad */
    bool alone;             /**< false: others cannot be told apart from it */
    const char *sentence;
    const char *slip; /**< the likely slip: metres, tenth, foot, feet for metres, metres for feet, digits, sign, face,
                           from level, degrees, point, exchanged, backsight and foresight; NULL: none stands out */
    double corrected; /**< what the reading would be without that slip, m or rad; NaN without one */
} mst_suspect;

/** How much a group of readings scatters beside what its gear's figures say: 1 as they say. */
typedef struct mst_gear_factor {
    const char *visit, *gear;
    const char
        *kind; /**< distance, direction, zenith, staff, height difference, place, elevation, offset, leg, rise of leg */
    double factor;        /**< 1 where redundancy is below 3; never below 0.2 */
    double redundancy;    /**< how many readings more than needed the group has */
    const char *sentence; /**< NULL unless it scatters clearly more */
} mst_gear_factor;

/** A reading that could not count, and why: no level for a slope distance, an end without a place ... */
typedef struct mst_left_out {
    int64_t reading_id;
    const char *page;
    int row;
    const char *sentence;
} mst_left_out;

typedef struct mst_visit_frame {
    const char *visit;
    double shift_e_m, shift_n_m, shift_h_m, turn_rad;
    double sd_turn_rad;
    bool determined;
    double drift_rad_per_s; /**< of the legs' heading; NaN where none is looked for (setting legs-drift) */
} mst_visit_frame;

typedef struct mst_adjustment {
    mst_adjusted_point *points;
    size_t point_count;
    mst_observation_result *observations;
    size_t observation_count;
    mst_suspect *suspects;
    size_t suspect_count;
    const char **undetermined;
    const char **undetermined_why;
    size_t undetermined_count; /**< names and, beside them, what is missing */
    const char **by_sketch;
    size_t by_sketch_count; /**< of a plan: names whose side only the sketch tells; note it in the field */
    mst_left_out *left_out;
    size_t left_out_count; /**< readings that could not count */
    mst_visit_frame *frames;
    size_t frame_count;
    mst_gear_factor *gear_factors;
    size_t gear_factor_count;  /**< by visit, gear and kind */
    bool gear_factors_applied; /**< the sd above are already multiplied by them */
    int degrees_of_freedom, iterations;
    double sigma0;   /**< 1 where degrees_of_freedom is 0 */
    double scale;    /**< max(1, sigma0): by how much sd were widened */
    double critical; /**< standardized residuals beyond it are named; HUGE_VAL when nothing is checked */
    struct {
        double statistic, lower, upper;
        bool passed;
    } global_test;     /**< two-sided chi-square; passed with no redundancy */
    double grid_scale; /**< of the map grid at the first satellite position: grid length over ellipsoid length; NaN
                            without any. Tapes and sights are not scaled by it */
    const char *datum; /**< one sentence: what the coordinates count from */
    mst_index index;   /**< point name -> index */
    struct mst_covariances *covariances; /**< opaque, for mst_adjustment_variance */
} mst_adjustment;

/** Adjusts every reading of the site that is not set aside. The result lives in @p arena (nothing else to free).
 * Undetermined points are listed, never an error; a reading that only they would carry is left out.
 * @retval MST_TOO_FEW no readings at all; MST_NOT_CONVERGED; MST_INVALID a reading that contradicts itself, with its
 * row */
mst_status mst_adjust(const mst_site *site, const mst_adjust_options *options, mst_arena *arena,
                      mst_adjustment **adjustment, mst_error *error) MST_CHECKED;
/** @return the adjusted point of that name, or NULL. */
const mst_adjusted_point *mst_adjustment_point(const mst_adjustment *adjustment, const char *name);

/** A linear function of coordinates: for each term, which point, and its derivative by easting, northing, elevation. */
typedef struct mst_gradient_term {
    uint32_t point;
    double easting, northing, elevation;
} mst_gradient_term;
/** Variance of the function with that gradient (scaled as the sd are). Held or undetermined coordinates add nothing.
 * Cost: one sparse solve. Thread-safe only with one caller a time. */
mst_status mst_adjustment_variance(const mst_adjustment *adjustment, const mst_gradient_term terms[], size_t count,
                                   double *variance, mst_error *error) MST_CHECKED;

/** External reliability of one reading: which point an error in it moves farthest, and how far. */
typedef struct mst_effect {
    size_t observation; /**< index into observations */
    uint32_t point;     /**< index into points */
    bool in_level;      /**< it moves more in level than in plan */
    double by_one;      /**< m that it moves for an error of 1 m or 1 rad; 0: no point moves */
    double moved_m;     /**< by the smallest error that would be noticed; HUGE_VAL where nothing checks the reading */
} mst_effect;
/** What errors of these readings would do. @param observations [count] indices, NULL for the first @p count
 * @param effects [count] Cost: one sparse solve each. Work in @p arena. Source: Baarda 1968. */
mst_status mst_adjustment_effects(const mst_adjustment *adjustment, const size_t observations[], size_t count,
                                  mst_arena *arena, mst_effect effects[], mst_error *error) MST_CHECKED;
/** "An error of 0.043 m in the tape A-P (tape.csv row 2) could pass unnoticed; it would move P by 0.031 m." */
const char *mst_effect_sentence(const mst_adjustment *adjustment, const mst_effect *effect, mst_arena *arena);

/* ---- features: names -> places ---- */

/** The shape of a feature on the adjusted points. @param missing receives the name of a point without a place, on
 * failure
 * @retval MST_UNDETERMINED a point has no place; MST_INVALID an arc through points on one line ... */
mst_status mst_feature_shape(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                             mst_shape *shape, mst_error *error) MST_CHECKED;

typedef struct mst_figure {
    double value, low, high;
} mst_figure; /**< with its 95 % interval; NaN where it does not apply */
typedef struct mst_measure {
    mst_figure length_m, slope_length_m, area_m2;
} mst_measure; /**< slope area needs the ground: ground.h */
/** Lengths and area of a feature with 95 % intervals propagated from the adjustment's covariances. */
mst_status mst_feature_measure(const mst_feature *feature, const mst_adjustment *adjustment, mst_arena *arena,
                               mst_measure *measure, mst_error *error) MST_CHECKED;

/* ---- before the visit, and the next reading after it ---- */

typedef enum mst_planned_kind {
    MST_PLAN_TAPE,
    MST_PLAN_BEARING,
    MST_PLAN_SIGHT,
    MST_PLAN_DIRECTION,
    MST_PLAN_LEVEL,
    MST_PLAN_PLACE,
    MST_PLAN_LEG,
    MST_PLAN_KINDS
} mst_planned_kind;
const char *mst_planned_kind_name(mst_planned_kind kind);
/** A reading that shall be taken. A sight is a circle reading with zenith angle and distance; a level the difference of
 * two staff readings; a place one position of a rover in the site's frame. */
typedef struct mst_planned {
    mst_planned_kind kind;
    const char *from, *to; /**< to: "" for a place */
    const char *gear;      /**< "" for the usual of its kind */
    double minutes;        /**< in the field; NaN: the usual for its kind (common practice, no source) */
    int row;               /**< on the plan's page; 0 if none */
} mst_planned;
typedef struct mst_sketched {
    const char *name;
    double easting_m, northing_m, elevation_m; /**< by eye; NaN: no level */
    bool held;                                 /**< its place counts as given */
    int row;
} mst_sketched;
typedef struct mst_visit_plan {
    const mst_site *site;             /**< what was already measured counts too; may be without pages */
    const mst_adjustment *adjustment; /**< of the site, or NULL when there is none */
    const char *page;                 /**< for errors */
    mst_sketched *points;
    size_t point_count;
    mst_planned *readings;
    size_t reading_count, reading_capacity;
} mst_visit_plan;
/** One step of advice: the reading, what it brings the figure from and to, and by how much a minute. */
typedef struct mst_advice {
    mst_planned reading;
    double before_m, after_m, minutes, gain_m_per_minute;
} mst_advice;
typedef struct mst_advices {
    mst_advice *list;
    size_t count;
    double before_m, after_m;
    bool reached;
} mst_advices;

/** Reads a `plan` page: sketch and intended readings. Names that are points of the site need no place by eye. */
mst_status mst_plan_read(const mst_page *page, const mst_site *site, const mst_adjustment *adjustment, mst_arena *arena,
                         mst_visit_plan *plan, mst_error *error) MST_CHECKED;
/** The adjustment as it would come out if the readings were taken: values are computed from the sketch, so residuals
 * are nought and the sd are those that the gear promises. Points that the plan leaves open are in `undetermined`.
 * @retval MST_INVALID a reading names a point without a place by eye */
mst_status mst_plan_adjust(const mst_visit_plan *plan, const mst_adjust_options *options, mst_arena *arena,
                           mst_adjustment **adjustment, mst_error *error) MST_CHECKED;
/** How far a point is expected to be known: the long half-axis of its 95 % ellipse and 1.96 sd of its level, whichever
 * is larger, m; HUGE_VAL when the plan leaves it open. */
double mst_plan_precision(const mst_adjustment *expected, const mst_sketched *point);
/** The fewest extra readings found until every sketched point is known to @p aim_m: one after the other the reading
 * that gains most a minute, then those that the later ones made needless are dropped. `reached` is false when no
 * reading of the plan's kinds helps any more. Cost: one adjustment for each candidate and step. */
mst_status mst_plan_extend(mst_visit_plan *plan, double aim_m, const mst_adjust_options *options, mst_arena *arena,
                           mst_advices *advices, mst_error *error) MST_CHECKED;
/** The readings that would sharpen a feature most a minute: of its area, else of its length, 95 % half-interval in m2
 * or m. Kinds and gear are those of the site's own pages. The best first, at most @p most. */
mst_status mst_plan_next(const mst_site *site, const mst_adjustment *adjustment, const mst_feature *feature,
                         size_t most, const mst_adjust_options *options, mst_arena *arena, mst_advices *advices,
                         mst_error *error) MST_CHECKED;

/* ---- the classic hand methods, for the file ---- */

typedef struct mst_traverse_leg {
    const char *from, *to;
    double distance_m, bearing_rad, departure_m, latitude_m, balanced_departure_m, balanced_latitude_m;
    double double_meridian_m; /**< sum of the departures of its ends from the start's meridian, balanced */
    mst_point end;
} mst_traverse_leg;
typedef struct mst_traverse {
    mst_traverse_leg *legs;
    size_t count;
    double departure_misclosure_m, latitude_misclosure_m, linear_misclosure_m, length_m, ratio; /**< 1 : ratio */
    double area_m2; /**< NaN unless it closes on itself */
} mst_traverse;
/** Compass (Bowditch) rule over legs in order. @param start place of the first point; @param end where the last leg
 * should arrive, or NULL when it should arrive at @p start. */
mst_status mst_traverse_compass(const mst_traverse_leg legs[], size_t count, mst_point start, const mst_point *end,
                                mst_arena *arena, mst_traverse *traverse, mst_error *error) MST_CHECKED;

/** Transit rule: departures and latitudes take their share by their own size (Wolf and Ghilani, Elementary Surveying,
 * chapter 10, from memory). Used where angles are better than lengths. Arguments and errors as mst_traverse_compass. */
mst_status mst_traverse_transit(const mst_traverse_leg legs[], size_t count, mst_point start, const mst_point *end,
                                mst_arena *arena, mst_traverse *traverse, mst_error *error) MST_CHECKED;

/** A closed traverse read as angles: at each station the clockwise angle from the station before to the one behind. */
typedef struct mst_traverse_station {
    const char *name;
    double angle_rad, balanced_rad;
    int sights; /**< that make the angle */
} mst_traverse_station;
typedef struct mst_angle_traverse {
    mst_traverse_station *stations;
    size_t count;
    double misclosure_rad;  /**< read less true sum */
    double allowable_rad;   /**< 1' by root of stations; ordinary traverse, common practice, no source */
    mst_traverse_leg *legs; /**< [leg_count] lengths in plan, means of both ways; bearings from the balanced angles */
    size_t leg_count;       /**< count where it comes back to its start, else one less */
} mst_angle_traverse;
/** Two lines of known bearing that a traverse runs between: from the first station back to a known point, and from the
 * last on to another. */
typedef struct mst_traverse_ends {
    const char *back, *fore;
    double back_bearing_rad, /**< from `back` to the first station */
        fore_bearing_rad;    /**< from the last station to `fore` */
} mst_traverse_ends;
/** Reduces an `angles` page whose set-ups go round a loop: both faces and all rounds are meaned, angles balanced in
 * equal shares. @param first_bearing_rad of the first leg
 * @retval MST_TOO_FEW under 3 stations; MST_UNDETERMINED a station lacks a sight to the one before or behind, or a leg
 * its length; the sentence names it */
mst_status mst_traverse_from_angles(const mst_page *page, double first_bearing_rad, mst_arena *arena,
                                    mst_angle_traverse *traverse, mst_error *error) MST_CHECKED;

/** The same for a page whose set-ups run from one known line to another. @retval as mst_traverse_from_angles */
mst_status mst_traverse_between(const mst_page *page, const mst_traverse_ends *ends, mst_arena *arena,
                                mst_angle_traverse *traverse, mst_error *error) MST_CHECKED;

/** One target of one set-up, its faces and rounds meaned. */
typedef struct mst_round_mean {
    const char *at, *to;
    double circle_rad, /**< brought to face left; first target of the set-up counts 0 */
        spread_rad;    /**< largest difference of a round from the mean */
    double zenith_rad, /**< NaN: none */
        two_c_rad, /**< face left less face right of the circle, twice the collimation error; NaN without both faces */
        index_rad, /**< error of the zenith's zero: half of left + right - 4 right angles; NaN without both faces */
        slope_m;   /**< mean, NaN if none */
    int faces_left, faces_right;
} mst_round_mean;
/** Means of an `angles` page, set-up by set-up in the order of the page. */
mst_status mst_rounds_reduce(const mst_page *page, mst_arena *arena, mst_round_mean **means, size_t *count,
                             mst_error *error) MST_CHECKED;

/** Two-peg test of a level: readings on two staffs A and B from midway, then from near one of them, m. */
typedef struct mst_two_peg_readings {
    double mid_a_m, mid_b_m, near_a_m, near_b_m, /**< staff readings */
        to_a_m, to_b_m;                          /**< distances of the second set-up to A and B */
} mst_two_peg_readings;
typedef struct mst_two_peg {
    double difference_m, /**< true rise from A to B */ error_m_per_m, /**< line of sight up is positive */
        true_a_m, true_b_m;                                           /**< what the second set-up should read */
} mst_two_peg;
/** Method: W. Schofield, Engineering Surveying, two-peg test, from memory. @retval MST_INVALID a reading is not a
 * number; MST_UNDETERMINED both staffs equally far in the second set-up */
mst_status mst_two_peg_test(const mst_two_peg_readings *readings, mst_two_peg *result, mst_error *error) MST_CHECKED;

/** A similarity in space: to = shift + scale R from, R a turn. */
typedef struct mst_similarity3 {
    double shift_m[3], turn[3][3], scale, rms_m;
} mst_similarity3;
/** Least squares over common points with levels, in closed form (B. K. P. Horn, J. Opt. Soc. Am. A 4 (1987) 629-642).
 * @param with_scale false holds scale at 1 @param residuals [count] to - transformed, or NULL
 * @retval MST_TOO_FEW under 3 points; MST_UNDETERMINED they lie on one line */
mst_status mst_similarity3_fit(const mst_point3 from[], const mst_point3 to[], size_t count, bool with_scale,
                               mst_similarity3 *fit, mst_point3 residuals[], mst_error *error) MST_CHECKED;
mst_point3 mst_similarity3_apply(const mst_similarity3 *t, mst_point3 p);

typedef struct mst_level_line {
    const char *point;
    int row;
    double backsight_m, intermediate_m, foresight_m, /**< NaN = none */
        rise_m, fall_m, collimation_m, level_m, adjusted_m;
} mst_level_line;
typedef struct mst_level_book {
    mst_level_line *lines;
    size_t count;
    double sum_backsight_m, sum_foresight_m, sum_rise_m, sum_fall_m,
        misclosure_m; /**< NaN when it closes on nothing known */
    double change_m;  /**< last level less first, of all runs together */
    double allowable_m;
    int set_ups;
    bool arithmetic_ok;
    const char *assumed; /**< the point that starts the book at 100.000 m because no level is known; NULL if none */
} mst_level_book;
/** Rise and fall, and height of collimation, of a `levels` page. @param known index -> level of points that are held,
 * NaN else */
mst_status mst_level_book_reduce(const mst_page *page, const mst_adjustment *adjustment, mst_arena *arena,
                                 mst_level_book *book, mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
