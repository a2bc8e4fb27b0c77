/** @file merestone/works.h  What is to be built: design elements, cut and fill, soil, balance. */
#ifndef MERESTONE_WORKS_H
#define MERESTONE_WORKS_H
#include "merestone/ground.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef enum mst_work_kind {
    MST_WORK_PAD,
    MST_WORK_FALLING_PAD,
    MST_WORK_DEPTH,
    MST_WORK_PAD_THROUGH,
    MST_WORK_BANK,
    MST_WORK_PATH,
    MST_WORK_RAMP,
    MST_WORK_STEPS,
    MST_WORK_SWALE,
    MST_WORK_TRENCH,
    MST_WORK_POND,
    MST_WORK_MOUND,
    MST_WORK_WALL,
    MST_WORK_STRIP,
    MST_WORK_LAYERS,
    MST_WORK_SURFACE,
    MST_WORK_KINDS
} mst_work_kind;
const char *mst_work_kind_name(mst_work_kind kind); /**< as in a definition: "pad", "falling pad" ... */

typedef enum mst_swale_shape { MST_SWALE_V, MST_SWALE_TRAPEZOID, MST_SWALE_PARABOLA } mst_swale_shape;

typedef struct mst_work_layer {
    const char *material;
    double thickness_m;
} mst_work_layer;
/** A level on the long profile; between two the gradient is even, and a bend of length curve_m about it is a parabola.
 */
typedef struct mst_work_bend {
    double chainage_m, level_m, curve_m;
} mst_work_bend;
typedef struct mst_work_shelf {
    double depth_m, width_m;
} mst_work_shelf; /**< below the pond's rim, down from it */

/** A design element, as read from its JSON definition; docs/works.md has one example of each kind.
 * Level is of the finished surface; formation lies under it by the sum of the layers. A depth counts from the existing
 * ground, strip included; its layers say what is laid in it and leave the depth alone.
 * A length is text with its unit or a number in metres; a fall is "1:60", "2%" or a number in percent; a batter is
 * "1:2", one up for two along. Without a soil, common earth is taken, and the report says so. */
typedef struct mst_element {
    const char *name;
    const char *in; /**< pads and depths: the area that they cover; NULL for the rest */
    const char *soil;
    mst_work_kind kind;
    mst_plane finish; /**< pads, and the pad of a bank; level at (e0, n0) */
    double depth_m;   /**< MST_WORK_DEPTH; of a pond below its rim; of a parabolic swale */
    double strip_m;   /**< topsoil taken off first */
    bool strip_given; /**< else the strip of the element below stays */
    mst_work_layer *layers;
    size_t layer_count;
    double build_up_m;              /**< sum of the layers */
    const char *where;              /**< the feature it lies in or runs along, whatever the kind; NULL for a mound */
    const char *of;                 /**< bank: the pad's name */
    double cut_batter, fill_batter; /**< rise over run of the banks; 0 = no bank */
    uint32_t *edges;
    size_t edge_count;       /**< bank: the outline's edges, 0 from its first point to its second; none = all */
    double width_m;          /**< path, ramp, steps; bottom of a swale or trench; top of a parabolic swale */
    double crossfall, crown; /**< path: down to the right; down to both sides */
    mst_work_bend *profile;
    size_t profile_count; /**< finished level (invert of a swale or trench) along the line */
    double from_m, to_m;  /**< ramp and steps: levels at the line's ends; wall: unused */
    int risers;
    mst_swale_shape shape;
    double side;              /**< swale, trench, pond: rise over run; INFINITY = upright */
    bool backfilled;          /**< trench */
    double bedding_m, pipe_m; /**< trench: under the invert; outer diameter of the pipe, 0 = none */
    mst_work_shelf *shelves;
    size_t shelf_count;
    double level_m; /**< rim of a pond, top of a mound */
    mst_point at;
    double radius_m;    /**< mound: centre and radius of its flat top */
    mst_point3 *points; /**< surface: with their finished levels */
    size_t point_count;
    uint32_t (*triangles)[3];
    size_t triangle_count; /**< counter-clockwise */
} mst_element;

/** Reads one definition. @retval MST_INVALID with a sentence that names the key; MST_NOT_FOUND no such feature or point
 */
mst_status mst_element_read(const mst_work *work, const mst_site *site, const mst_adjustment *adjustment,
                            mst_arena *arena, mst_element *element, mst_error *error) MST_CHECKED;

/* ---- the surfaces of the works ---- */

typedef struct mst_works mst_works; /**< opaque: elements put into the ground one after the other */
/** Puts the elements into the ground in their order: where two overlap the later one has the place, banks and ditches
 * run to the surface that the earlier ones left, and a wall stops the banks of those after it. Daylight lines are the
 * exact intersections of the batters' planes with the ground's triangles; arcs are followed to 1 mm; a bank turns about
 * a corner as a cone of 7.5 degree facets with the true area at every level. @p elements are borrowed.
 * @retval MST_UNDETERMINED no ground; MST_INVALID an outline that crosses itself ... */
mst_status mst_works_compose(const mst_element elements[], size_t count, const mst_site *site,
                             const mst_adjustment *adjustment, const mst_ground *ground, mst_arena *arena,
                             mst_works **works, mst_error *error) MST_CHECKED;
/** Banks that were still off the ground where the survey ends, and ditches whose bottom stands above it, with where. */
mst_status mst_works_notes(const mst_works *works, mst_arena *arena, const char ***notes, size_t *count,
                           mst_error *error) MST_CHECKED;

typedef enum mst_surface_kind { MST_SURFACE_FINISHED, MST_SURFACE_FORMATION, MST_SURFACE_STRIPPED } mst_surface_kind;
/** A watertight surface: each edge of a face is met by one other, except along the rim of the survey. Vertical breaks
 * are closed by upright faces. Levels nearer than 0.1 um at one place are one point. */
typedef struct mst_work_surface {
    mst_point3 *points;
    size_t point_count;
    uint32_t (*faces)[3];
    size_t face_count;   /**< counter-clockwise seen from above */
    size_t upright_from; /**< faces from here on stand upright */
    uint32_t *owner;     /**< [face_count] element, or UINT32_MAX for the ground as it is */
} mst_work_surface;
/** The whole ground with the works in it. */
mst_status mst_works_surface(const mst_works *works, mst_surface_kind kind, mst_arena *arena, mst_work_surface *surface,
                             mst_error *error) MST_CHECKED;
/** A surface of the works as a ground model, for water to run on: upright faces lean by up to 5 mm, away from the later
 * element (where three levels meet at one place a gap of that size may stay); measured points outside of the works keep
 * their readings, and the ground there its roughness. */
mst_status mst_works_ground(const mst_works *works, mst_surface_kind kind, mst_arena *arena, mst_ground **ground,
                            mst_error *error) MST_CHECKED;
/** Existing, finished, formation and stripped level at a place; NaN outside the survey. */
typedef struct mst_works_level {
    double existing_m, finished_m, formation_m, stripped_m;
    uint32_t owner;
} mst_works_level;
bool mst_works_level_at(const mst_works *works, mst_point at, mst_works_level *level);

/* ---- soil and volumes ---- */

/** A soil or material in its three states, per bank volume 1. */
typedef struct mst_soil {
    const char *name, *source;
    double loose, compacted, bank_t_m3;
} mst_soil;
/** The built-in soils (US Army FM 5-434 table and trade tables; each with its source).
 * A site overrides one or adds its own by the setting `soil.NAME`: loose/compacted per 1 bank, as "1.35/0.88", or with
 * the bank's tonnes per m3 as "1.35/0.88/1.9". */
const mst_soil *mst_soil_named(const char *name);
const mst_soil *mst_soils(size_t *count);
/** The soil of that name on that site. @param soil its name is borrowed from @p name
 * @retval MST_NOT_FOUND no such soil, with the names that there are; MST_INVALID a setting that is no pair of factors
 */
mst_status mst_soil_of(const mst_site *site, const char *name, mst_soil *soil, mst_error *error) MST_CHECKED;
/** What a lorry holds by the site's settings: @p key "load", m3 loose, or "load weight", t. 0 when the site does not
 * say. @retval MST_INVALID a setting that is no number above 0 */
mst_status mst_lorry_of(const mst_site *site, const char *key, double *holds, mst_error *error) MST_CHECKED;

typedef struct mst_soil_volume {
    const char *material;
    double bank_m3, loose_m3, compacted_m3;
    double bank_low_m3, bank_high_m3; /**< 95 %; the other states go with it by the soil's factors */
    int loads;
} mst_soil_volume;
/** What is laid: a layer under the finished surface, or bedding, pipe and backfill of a trench; as it lies there. */
typedef struct mst_layer_volume {
    const char *material;
    double volume_m3, area_m2;
    double low_m3, high_m3; /**< 95 %, as its area is known; its thickness counts as laid */
} mst_layer_volume;
typedef struct mst_earthwork {
    const char *element;                /**< NULL for the total */
    mst_figure cut_m3, fill_m3, net_m3; /**< subsoil: to formation from the stripped ground; bank, net = cut - fill */
    double area_m2, uncovered_m2, strip_m3;
    mst_figure area, strip; /**< both again with their 95 %, from the outline's points; the strip counts as even. Of the
                               total: the limits of the elements added up */
    mst_soil_volume *materials;
    size_t material_count;
    mst_layer_volume *layers;
    size_t layer_count;
} mst_earthwork;
typedef struct mst_earthwork_report {
    mst_earthwork total;
    mst_earthwork *elements;
    size_t count;
    const char **cautions;
    size_t caution_count;
} mst_earthwork_report;

/** Cut and fill of elements in order with 95 % intervals: from the levels and places of the ground's points and of the
 * outline's own points, with their covariances; what the design says counts as exact. Materials: the soil that is cut,
 * "fill" (compacted in place, with the bank and loose volume of that soil to make it) and "topsoil" (the strip).
 * Elements that have only a pad or a depth, and do not overlap, are measured each by itself; else all are put into the
 * ground in their order (mst_works_compose), each counts where it has the last word, and a caution says which overlap.
 * @param ground may be NULL when all elements dig by a depth. @param load_m3 what a lorry holds loose; 0 = 10 */
mst_status mst_earthwork_of(const mst_element elements[], size_t count, const mst_site *site,
                            const mst_adjustment *adjustment, const mst_ground *ground, double load_m3,
                            mst_arena *arena, mst_earthwork_report *report, mst_error *error) MST_CHECKED;
/** The materials of volumes that no element made, all of one soil: bank, loose, compacted and loads as in
 * mst_earthwork_of. @param w with its cut, fill and strip; receives the materials, in @p arena
 * @param load_m3 what a lorry holds loose; 0: as usual. @retval MST_NOT_FOUND, MST_INVALID as mst_soil_of */
mst_status mst_earthwork_soils(mst_earthwork *w, const char *soil, const mst_site *site, double load_m3,
                               mst_arena *arena, mst_error *error) MST_CHECKED;
/** 95 % intervals of a volume from its gradient terms. @param other  terms of a second ground, or NULL */
mst_status mst_volume_figures(const mst_prism_sum *sum, const mst_prism_sum *other, const mst_adjustment *adjustment,
                              mst_arena *arena, mst_figure *cut_m3, mst_figure *fill_m3, mst_figure *net_m3,
                              mst_error *error) MST_CHECKED;
/** The finished level of a pad (offset of its plane) at which cut x (compacted per bank) meets fill; strip stays out of
 * it.
 * @retval MST_NO cut and fill cannot meet; MST_UNDETERMINED no ground there */
mst_status mst_balance_level(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                             const mst_ground *ground, mst_arena *arena, double *level_m, double *cut_m3,
                             double *fill_m3, mst_error *error) MST_CHECKED;

/** The fall of a falling pad (rise over run, its direction and the level at its point kept) at which cut x (compacted
 * per bank) meets fill. The gentlest from 0 to 20 %, found to 1e-9. @retval MST_NO not a falling pad, or none in that
 * range; MST_UNDETERMINED no ground there */
mst_status mst_balance_fall(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                            const mst_ground *ground, mst_arena *arena, double *fall, double *cut_m3, double *fill_m3,
                            mst_error *error) MST_CHECKED;

/* ---- a pad's volumes while its level is dragged ---- */

typedef struct mst_volume_curve mst_volume_curve; /**< opaque: pieces of the stripped ground, lowest first */
typedef struct mst_curve_volumes {
    double cut_m3, fill_m3, cut_area_m2, fill_area_m2;
} mst_curve_volumes;
/** Cuts the ground along the pad once, so that any of its levels is answered from sums. Its banks have their own.
 * O(triangles under the pad); 40 bytes for each. @retval MST_NO not a pad; as mst_earthwork_of */
mst_status mst_volume_curve_of(const mst_element *element, const mst_site *site, const mst_adjustment *adjustment,
                               const mst_ground *ground, mst_arena *arena, mst_volume_curve **curve,
                               mst_error *error) MST_CHECKED;
/** Exact volumes with the finished level of the pad's plane at @p level_m; looks only at pieces that it passes through.
 */
mst_curve_volumes mst_volume_curve_at(const mst_volume_curve *curve, double level_m);
typedef struct mst_bank_curve mst_bank_curve; /**< opaque: rays over the ground, square to the pad's edges */
typedef struct mst_bank_volumes {
    double cut_m3, fill_m3, area_m2;
} mst_bank_volumes;
/** Traces a bank's rays over the ground as it is, so that its volumes at any level of its pad are sums: exact along a
 * ray, by the midpoint rule across them (rays 50 mm apart, on rims over 150 m some 3,000). Against the composed works:
 * exact on a plane, within a thousandth on rough ground, but for patches behind a bump that a bank reaches only from
 * the side. Elements before it, and walls, are not seen.
 * @param span_m  how far the pad's level may move from the bank's own. @retval MST_NO not a bank; as mst_works_compose
 */
mst_status mst_bank_curve_of(const mst_element *bank, const mst_site *site, const mst_adjustment *adjustment,
                             const mst_ground *ground, double span_m, mst_arena *arena, mst_bank_curve **curve,
                             mst_error *error) MST_CHECKED;
/** Volumes with the pad's plane at @p level_m. @return false when that lies beyond the span and a ray ran out */
bool mst_bank_curve_at(const mst_bank_curve *curve, double level_m, mst_bank_volumes *volumes);
/** How far to raise all of a group of pads for their cut to make their fill (each cut by its soil's compacted volume).
 * @param levels_m  their finished levels as they stand. @retval MST_UNDETERMINED no pad */
mst_status mst_balance_group(const mst_volume_curve *const curves[], const double levels_m[], const double compacted[],
                             size_t count, double *raise_m, mst_error *error) MST_CHECKED;

/* ---- sections ---- */

/** A point of a section: where the surface breaks, two at one chainage. */
typedef struct mst_section_point {
    double chainage_m;
    mst_point at;
    mst_works_level level;
} mst_section_point;
typedef struct mst_section {
    mst_section_point *points;
    size_t count;
    double cut_m2, fill_m2;
} mst_section;
/** Existing, stripped, formation and finished lines along a path, with a point wherever a triangle of the works begins
 * or ends; areas of cut and fill between stripped ground and formation. NaN levels stand in gaps of the survey. */
mst_status mst_works_section(const mst_works *works, const mst_path *path, mst_arena *arena, mst_section *section,
                             mst_error *error) MST_CHECKED;
/** A cross section square to a line. Volumes count from the station before, by the mean of the end areas; mass is the
 * running sum of cut x compacted - fill: where it falls earth is used, where it rises it is won. */
typedef struct mst_station {
    double chainage_m;
    mst_point left, right;
    mst_section section;
    double cut_m3, fill_m3, mass_m3;
} mst_station;
/** @param half_width_m to each side. @retval MST_INVALID spacing or width not above 0, or more than 5,000 stations */
mst_status mst_works_stations(const mst_works *works, const mst_path *line, double spacing_m, double half_width_m,
                              double compacted, mst_arena *arena, mst_station **stations, size_t *count,
                              mst_error *error) MST_CHECKED;

/* ---- cheapest levels ---- */

/** What the levels must meet. Numbers of nodes or triangles tell where. */
typedef enum mst_wish_kind {
    MST_WISH_LEVEL,       /**< the nodes' levels lie from low to high */
    MST_WISH_OVER_GROUND, /**< their height over the existing ground does: a place to keep, or not to dig */
    MST_WISH_FALL,        /**< the triangles fall from low to high (falling over run) towards a bearing */
    MST_WISH_STEEPEST     /**< no edge of the triangles is steeper than high */
} mst_wish_kind;
typedef struct mst_wish {
    mst_wish_kind kind;
    const char *name;
    const uint32_t *at;
    size_t count;
    double low, high, bearing_rad;
} mst_wish;
/** Prices of a cubic metre: cut and cart-away in the bank, fill and import as it lies compacted, haul for each metre.
 */
typedef struct mst_grade_prices {
    double cut, fill, haul, import, cart_away;
} mst_grade_prices;
typedef struct mst_grade_input {
    const mst_point3 *nodes;
    size_t node_count; /**< with the existing ground's level */
    const uint32_t (*triangles)[3];
    size_t triangle_count; /**< counter-clockwise */
    const mst_wish *wishes;
    size_t wish_count;
    mst_grade_prices prices;
    double compacted; /**< of the soil, per bank volume 1 */
} mst_grade_input;
typedef struct mst_grade {
    double *level_m;                                       /**< [node_count] */
    double cost, cut_m3, fill_m3, import_m3, cart_away_m3; /**< nodes with a third of the triangles around them */
    double haul_m4;                                        /**< bank volume times way, when haul has a price */
    double least_cost; /**< proved: nothing that meets the wishes costs less; cost - least_cost is what may be left */
    int steps;         /**< of the interior point method; 0 with hauls */
    uint32_t *conflict;
    size_t conflict_count; /**< wishes that cannot be met together; each is needed */
} mst_grade;
/** The levels of least cost, by linear programming. Earth that is cut is filled, hauled from node to node where haul
 * has a price, or carted away; what is short is imported. Without a price on haul an interior point method of our own
 * solves it (to a relative gap of 1e-10 and wishes met to 0.1 um, as a rule), with one the LP library.
 * @retval MST_NO the wishes conflict; grade->conflict names the smallest set that does (up to 64 wishes; beyond, a set
 *         of which none can be left out)
 * @retval MST_INVALID a price below 0, a number out of range, a price on haul for more than 20,000 nodes;
 * MST_NOT_FOUND a price on haul, and no LP library here */
mst_status mst_grade_solve(const mst_grade_input *input, mst_arena *arena, mst_grade *grade,
                           mst_error *error) MST_CHECKED;
bool mst_grade_available(void);
/** The input from a definition (docs/works.md, "Cheapest levels"): {"in": AREA, "spacing": "1.0", "fixed": [...], ...}.
 * @retval MST_INVALID with a sentence that names the key; MST_NOT_FOUND no such feature or point */
mst_status mst_grade_read(const char *definition, const mst_site *site, const mst_adjustment *adjustment,
                          const mst_ground *ground, mst_arena *arena, mst_grade_input *input,
                          mst_error *error) MST_CHECKED;

/* ---- hauls ---- */

enum { MST_HAUL_OFF_SITE = UINT32_MAX };
/** Soil from one element's cut to another's fill; off site: carted away, or imported. */
typedef struct mst_haul {
    uint32_t from, to;
    double bank_m3, loose_m3, distance_m, cost;
    int loads;
} mst_haul;
typedef struct mst_haul_plan {
    mst_haul *hauls;
    size_t count;
    double reuse_bank_m3, cart_away_bank_m3, import_m3, cost; /**< import as it lies compacted */
    int loads_away, loads_in;
} mst_haul_plan;
/** Which cut feeds which fill at the least cost: a transport problem between the middles of the elements' cuts and
 * fills. What has no place is carted away, what is short imported. Topsoil stays apart.
 * @param load_t  what a lorry may carry, tonnes; 0 = no limit by weight */
mst_status mst_haul_plan_of(const mst_element elements[], const mst_earthwork_report *report, const mst_works *works,
                            const mst_site *site, const mst_grade_prices *prices, double load_m3, double load_t,
                            mst_arena *arena, mst_haul_plan *plan, mst_error *error) MST_CHECKED;

/** The same for topsoil, which is kept apart: from the strips to the layers whose material says topsoil. */
mst_status mst_topsoil_plan_of(const mst_element elements[], const mst_earthwork_report *report, const mst_works *works,
                               const mst_site *site, const mst_grade_prices *prices, double load_m3, double load_t,
                               mst_arena *arena, mst_haul_plan *plan, mst_error *error) MST_CHECKED;

/* ---- water along the works ---- */

/** Manning's formula (R. Manning, Trans. Inst. Civ. Eng. Ireland 20 (1891) 161-207), SI units: flow in m3/s of an area
 * with a wetted perimeter at a fall (over run) and a roughness n; 0 where any of them is not above 0. */
double mst_manning(double area_m2, double wetted_m, double fall, double roughness);
/** A round pipe running full, without head. @param bore_m inside diameter */
double mst_pipe_full(double bore_m, double fall, double roughness);
/** Area and wetted perimeter of a swale or an open trench filled to a depth over its bottom. */
void mst_ditch_section(const mst_element *element, double depth_m, double *area_m2, double *wetted_m);
/** The gradients of a path, ramp, swale or trench between the levels of its profile: steepness without sign, and
 * whether any of it goes down or up along the line. Vertical curves between them are not looked into. */
typedef struct mst_line_falls {
    double least, steepest;
    bool down, up;
} mst_line_falls;
/** @param length_m of its line. @return false for other kinds */
bool mst_line_falls_of(const mst_element *element, double length_m, mst_line_falls *falls);

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
/** Loads of a volume in the state in which it is carried: whole lorries, a full one to within 1 litre counts as full.
 * @param load_m3 what a lorry holds; 0 = 10, a grab lorry's load of loose soil */
int mst_loads(double loose_m3, double load_m3);
#ifdef __cplusplus
}
#endif
#endif
