/** @file merestone/drawing.h  Sheets true to scale: PDF, SVG and PNG of one page. */
#ifndef MERESTONE_DRAWING_H
#define MERESTONE_DRAWING_H
#include "merestone/setout.h"
#include "merestone/works.h"
#ifdef __cplusplus
extern "C" {
#endif

/** An earlier issue of the sheet, for the revision table. */
typedef struct mst_revision {
    const char *index, *date, *note, *by, *checked;
} mst_revision;

/** What a sheet says, beyond the site itself. All strings borrowed; "" or NULL where not given. */
typedef struct mst_sheet_text {
    const char *title, *supplement, *number, *revision, *revision_note, *date; /**< date YYYY-MM-DD */
    const char *status; /**< PRELIMINARY (where not given), FOR PRICING, FOR CONSTRUCTION, AS-BUILT */
    const char *owner, *creator, *approved, *client;
    int sheet, sheets;    /**< 0 counts as 1 */
    const char *datum;    /**< overrides the adjustment's own sentence */
    const char *north;    /**< which north the plan has; "" = "site north" */
    const char *services; /**< what was asked about services: enquiry number and date; "" = nothing */
    const mst_revision *revisions;
    size_t revision_count; /**< earlier ones, oldest first; the present one is not among them */
} mst_sheet_text;

/** How the ground's triangles are drawn under everything else. */
typedef enum mst_ground_look {
    MST_LOOK_NONE,
    MST_LOOK_SHADE,  /**< light from the north-west, heights three times */
    MST_LOOK_SLOPES, /**< bands of slope, told apart by their hatch alone */
    MST_LOOK_LEVELS, /**< tints between contours, the higher the darker */
    MST_LOOK_DOUBT   /**< how little is known of the ground between its points, the less the darker, with the places
                        where one more level tells most */
} mst_ground_look;

enum { MST_LOOK_FACES_MOST = 200000 }; /**< a sheet file with more opens too slowly */

typedef struct mst_drawing_input {
    const mst_site *site;
    const mst_adjustment *adjustment;
    const mst_ground *ground;              /**< may be NULL */
    const mst_earthwork_report *earthwork; /**< may be NULL */
    const mst_element *elements;
    size_t element_count;
    const mst_setout_sheet *setout; /**< may be NULL; stakes are drawn where given */
    mst_sheet_text text;
    double contour_interval_m; /**< 0: chosen from the range of levels */
    mst_ground_look look;      /**< without a ground nothing is drawn */
    bool imperial;
} mst_drawing_input;

typedef struct mst_drawing_options {
    const char *paper;        /**< A4, A3, A2, A1, A0, letter, tabloid */
    double scale;             /**< 200 for 1:200; 0: the largest usual scale that fits */
    double north_up_turn_rad; /**< turn of the plan on the sheet, clockwise */
    bool portrait;
    double png_dots_per_mm; /**< 0 = 8 */
    bool point_names;       /**< the name of every point, not only of control and stakes */
    bool ellipses;          /**< standard error ellipses, enlarged; the legend says by how much */
} mst_drawing_options;

/** Draws the plan of the site into a file; its ending (.pdf, .svg, .png) says which. Written atomically: beside the
 * target, then renamed over it. The same input gives the same bytes. Levels and lengths that find no room are listed
 * beside the plan under a number.
 * @param scale_used  receives the scale; may be NULL; untouched unless MST_OK
 * @retval MST_INVALID  does not fit at that scale (the sentence says which scale or paper does); unknown paper or
 * ending; a look of more than MST_LOOK_FACES_MOST triangles
 * @retval MST_UNDETERMINED  MST_LOOK_DOUBT on a ground whose roughness is not known
 * @retval MST_TOO_FEW  the site has no point with a place yet
 * @retval MST_IO  the file cannot be written; MST_NO_MEMORY */
mst_status mst_draw_plan(const mst_drawing_input *input, const mst_drawing_options *options, const char *path,
                         double *scale_used, mst_error *error) MST_CHECKED;
/** Sections along a line of the works: the long section, cross sections at its stations, and what is cut, filled and
 * left over along it (mass haul). */
typedef struct mst_sections_input {
    const char *along;
    const mst_section *long_section;
    const mst_station *stations;
    size_t station_count;
    double compacted; /**< of the soil along it, per bank 1: mass is cut x this - fill */
    const char *const *cautions;
    size_t caution_count;
    mst_sheet_text text;
    bool imperial;
} mst_sections_input;
/** Draws them on one sheet; as many cross sections as there is room for, evenly chosen, said when not all. Existing
 * ground is a thin line, stripped ground a short-dashed one, formation a long-dashed one, finished a heavy one; levels
 * stand @p exaggeration times higher than lengths (0: chosen, and said).
 * @retval as mst_draw_plan */
mst_status mst_draw_sections(const mst_sections_input *input, const mst_drawing_options *options, double exaggeration,
                             const char *path, mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
