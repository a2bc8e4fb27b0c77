/** @file survey/network.h  A site's readings as one network: points, turns, frames, collimations and the readings
 * between them. Filled by readings.c, given a datum and start values, then adjusted. Everything lives in one arena. */
#ifndef SURVEY_NETWORK_H
#define SURVEY_NETWORK_H
#include "merestone/survey.h"

#define MST_NONE UINT32_MAX /* no point, no turn, no unknown ... */

typedef enum mst_reading_kind {
    MST_READ_DISTANCE,
    MST_READ_SLOPE,
    MST_READ_BEARING,
    MST_READ_DIRECTION,
    MST_READ_ZENITH,
    MST_READ_BACKSIGHT,
    MST_READ_INTERMEDIATE,
    MST_READ_FORESIGHT,
    MST_READ_HEIGHT_DIFFERENCE,
    MST_READ_EASTING,
    MST_READ_NORTHING,
    MST_READ_ELEVATION,
    MST_READ_CHAINAGE,
    MST_READ_OFFSET,
    MST_READ_DX,
    MST_READ_DY,
    MST_READ_DZ,
    MST_READ_RIGHT_ANGLE, /* by how far the third point is off the square line at the second, m */
    MST_READ_STRAIGHT,    /* by how far the middle point is off the line */
    MST_READ_PARALLEL,    /* by how far the fourth point is off the parallel through the third */
    MST_READ_DRIFT        /* of a visit's heading, rad/s: held near nought by its sd */
} mst_reading_kind;

/* One number of a row of a field page. An easting is always followed by its northing, a chainage by its offset,
 * a dx by dy and dz. */
typedef struct mst_reading {
    mst_reading_kind kind;
    uint32_t from, to; /* single-point readings: `to` */
    uint32_t baseline; /* chainage and offset run from `from` along to this point; `to` is the point measured */
    uint32_t fourth;   /* parallel: from `fourth` to `to` as from `from` to `baseline` */
    uint32_t turn, frame, collimation;
    double value, sd;
    double elapsed_s;  /* legs: from the visit's first leg to the middle of this one */
    double up_m;       /* height of instrument less height of target; NaN: not known, the reading is of plan only */
    double centring_m; /* adds to the sd of a direction by its length, which is known only later */
    const mst_page *page;
    const mst_row *row;
    bool used;
    bool doubted; /* has no row in the system though it is there */
} mst_reading;

typedef struct mst_node {
    const char *name, *code, *page;
    int row;
    double e, n, h;              /* from the network's origin; h absolute */
    bool held_e, held_n, held_h; /* no unknown */
    bool control_plan, control_height;
    bool has_plan, has_height;     /* a place is known */
    bool wants_plan, wants_height; /* some reading touches it */
    uint32_t unknown_e, unknown_n, unknown_h;
    const char *why_plan, *why_height; /* why not determined, or NULL */
    bool assumed_h;                    /* held_h only to count from */
    const char *held_in[2];            /* where its place and its level are held: "control.csv row 2" */
} mst_node;

typedef enum mst_turn_kind { MST_TURN_SET_UP, MST_TURN_BEARINGS, MST_TURN_FRAME, MST_TURN_LEGS } mst_turn_kind;

/* How far a group of directions or coordinates is turned, clockwise, into the site's frame. */
typedef struct mst_turn {
    mst_turn_kind kind;
    double rad;
    bool known, fixed;
    uint32_t unknown, station;
    bool drifts;
    double rate;      /* rad/s, grows the turn with the time since the visit's first leg */
    double elapsed_s; /* while the legs are taken */
    uint32_t unknown_rate;
    const char *visit;
} mst_turn;

/* The shift of a visit's own coordinates: E = e + (x - x0) cos t + (y - y0) sin t, N = n + (y - y0) cos t - (x - x0)
 * sin t. */
typedef struct mst_frame {
    const char *visit;
    mst_page_kind kind;
    uint32_t turn;
    double e, n, h, x0, y0; /* x0, y0: a place amid its points, so that shift and turn stay apart */
    size_t count;
    bool has_plan, has_height, fixed_plan, fixed_height;
    uint32_t unknown_e, unknown_n, unknown_h;
} mst_frame;

typedef struct mst_collimation {
    double h;
    bool has_height;
    uint32_t unknown;
} mst_collimation;

typedef struct mst_network {
    const mst_site *site;
    mst_arena *arena;
    mst_index index;
    mst_node *nodes;
    size_t node_count, node_capacity;
    mst_reading *readings;
    size_t reading_count, reading_capacity;
    mst_turn *turns;
    size_t turn_count, turn_capacity;
    mst_frame *frames;
    size_t frame_count, frame_capacity;
    mst_collimation *collimations;
    size_t collimation_count, collimation_capacity;
    mst_left_out *left_out;
    size_t left_out_count, left_out_capacity;
    double origin_e, origin_n;
    const char *datum_plan, *datum_height;
} mst_network;

/** Turns the site's pages into readings with their sd. */
mst_status mst_network_read(const mst_site *site, const mst_adjust_options *options, mst_arena *arena,
                            mst_network *network, mst_error *error) MST_CHECKED;
/** Records a reading that cannot count, with the sentence that says why. */
mst_status mst_network_leave_out(mst_network *network, const mst_reading *reading, const char *sentence,
                                 mst_error *error) MST_CHECKED;
bool mst_reading_is_plan(mst_reading_kind kind);   /**< needs places in plan */
bool mst_reading_is_height(mst_reading_kind kind); /**< needs levels */
bool mst_reading_is_condition(mst_reading_kind kind);
bool mst_reading_is_angular(mst_reading_kind kind);
const char *mst_reading_kind_name(mst_reading_kind kind);

/** Chooses what the coordinates count from and finds a first place for every point that the readings reach. */
mst_status mst_network_place(mst_network *network, mst_error *error) MST_CHECKED;

#endif
