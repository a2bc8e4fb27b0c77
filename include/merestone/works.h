/** @file merestone/works.h  What is to be built: design elements, cut and fill, soil, balance. */
#ifndef MERESTONE_WORKS_H
#define MERESTONE_WORKS_H
#include "merestone/ground.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef enum mst_work_kind { MST_WORK_PAD, MST_WORK_FALLING_PAD, MST_WORK_DEPTH } mst_work_kind;

/** A design element, as read from its JSON definition (docs/works.md):
 *  {"name":"terrace","kind":"pad","in":"terrace","level":"12.400","layers":[{"material":"flags","thickness":"40mm"}],"strip":"150mm","soil":"clay"}
 *  {"kind":"falling pad","in":F,"level":L,"at":POINT or [E,N],"fall":"1:60" or percent,"towards":bearing deg or "POINT"}
 *  {"kind":"depth","in":F,"depth":"0.30"}   digs (or with a negative depth fills) by a uniform depth
 * Level is of the finished surface; formation lies under it by the sum of the layers. A depth counts from the existing
 * ground, strip included; its layers say what is laid in it and leave the depth alone.
 * A length is text with its unit or a number in metres; a fall is "1:60", "2%" or a number in percent. Without a soil,
 * common earth is taken, and the report says so. */
typedef struct mst_work_layer { const char *material; double thickness_m; } mst_work_layer;
typedef struct mst_element {
    const char *name, *in, *soil;
    mst_work_kind kind;
    mst_plane finish;           /**< pads; level at (e0, n0) */
    double depth_m;             /**< MST_WORK_DEPTH */
    double strip_m;             /**< topsoil taken off first */
    mst_work_layer *layers; size_t layer_count;
    double build_up_m;          /**< sum of the layers */
} mst_element;

/** Reads one definition. @retval MST_INVALID with a sentence that names the key; MST_NOT_FOUND no such feature or point */
mst_status mst_element_read(const mst_work *work, const mst_site *site, const mst_adjustment *adjustment,
                            mst_arena *arena, mst_element *element, mst_error *error) MST_CHECKED;

/** A soil or material in its three states, per bank volume 1. */
typedef struct mst_soil { const char *name, *source; double loose, compacted, bank_t_m3; } mst_soil;
/** The built-in soils (US Army FM 5-434 table and trade tables; each with its source). 
 * A site overrides one or adds its own by the setting `soil.NAME`: loose/compacted per 1 bank, as "1.35/0.88", or with the
 * bank's tonnes per m3 as "1.35/0.88/1.9". */
const mst_soil *mst_soil_named(const char *name);
const mst_soil *mst_soils(size_t *count);
/** The soil of that name on that site. @param soil its name is borrowed from @p name
 * @retval MST_NOT_FOUND no such soil, with the names that there are; MST_INVALID a setting that is no pair of factors */
mst_status mst_soil_of(const mst_site *site, const char *name, mst_soil *soil, mst_error *error) MST_CHECKED;

typedef struct mst_soil_volume { const char *material; double bank_m3, loose_m3, compacted_m3; int loads; } mst_soil_volume;
typedef struct mst_earthwork {
    const char *element;        /**< NULL for the total */
    mst_figure cut_m3, fill_m3, net_m3;   /**< subsoil: to formation from the stripped ground; bank, net = cut - fill */
    double area_m2, uncovered_m2, strip_m3;
    mst_soil_volume *materials; size_t material_count;
} mst_earthwork;
typedef struct mst_earthwork_report { mst_earthwork total; mst_earthwork *elements; size_t count;
    const char **cautions; size_t caution_count; } mst_earthwork_report;

/** Cut and fill of elements in order with 95 % intervals: from the levels and places of the ground's points and of the
 * outline's own points, with their covariances; what the design says counts as exact. Materials: the soil that is cut,
 * "fill" (compacted in place, with the bank and loose volume of that soil to make it) and "topsoil" (the strip).
 * Elements are measured each by itself; where two overlap by over 0.01 m2 a caution says so.
 * @param ground may be NULL when all elements dig by a depth. @param load_m3 what a lorry holds loose; 0 = 10 */
mst_status mst_earthwork_of(const mst_element elements[], size_t count, const mst_site *site, const mst_adjustment *adjustment,
                            const mst_ground *ground, double load_m3, mst_arena *arena, mst_earthwork_report *report,
                            mst_error *error) MST_CHECKED;
/** 95 % intervals of a volume from its gradient terms. @param other  terms of a second ground, or NULL */
mst_status mst_volume_figures(const mst_prism_sum *sum, const mst_prism_sum *other, const mst_adjustment *adjustment,
                              mst_arena *arena, mst_figure *cut_m3, mst_figure *fill_m3, mst_figure *net_m3,
                              mst_error *error) MST_CHECKED;
/** The finished level of a pad (offset of its plane) at which cut x (compacted per bank) meets fill; strip stays out of it.
 * @retval MST_NO cut and fill cannot meet; MST_UNDETERMINED no ground there */
mst_status mst_balance_level(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                             const mst_ground *ground, mst_arena *arena, double *level_m, double *cut_m3, double *fill_m3,
                             mst_error *error) MST_CHECKED;

/* ---- the hand methods, for checks against handbooks ---- */

/** (A1 + A2) / 2 x L; overstates a taper that ends in a point by half. */
double mst_volume_end_areas(double area_1_m2, double area_2_m2, double length_m);
/** (A1 + 4 Am + A2) / 6 x L; exact for prismoids, with the true section half-way. */
double mst_volume_prismoidal(double area_1_m2, double area_middle_m2, double area_2_m2, double length_m);
/** h / 3 (A1 + A2 + sqrt(A1 A2)): between two similar level sections. */
double mst_volume_frustum(double area_1_m2, double area_2_m2, double height_m);
/** Borrow pit: every grid point's depth counts as often as it is a corner of a cell (1, 2, 4), times a quarter cell.
 * @param depths_m [rows][columns] signed; the result is the net. NaN leaves out the cells around it */
double mst_volume_grid(const double depths_m[], size_t rows, size_t columns, double cell_area_m2);
/** Mass haul: running sums of volumes along a line, cut +, fill - (in the state in which cut is counted).
 * @param cumulative_m3 [count]. @return where it is greatest: there cutting ends */
size_t mst_mass_haul(const double volumes_m3[], size_t count, double cumulative_m3[]);
/** Loads of a volume in the state in which it is carried: whole lorries, a full one to within 1 litre counts as full. */
int mst_loads(double loose_m3, double load_m3);
#ifdef __cplusplus
}
#endif
#endif
