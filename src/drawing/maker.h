/** @file src/drawing/maker.h  What the files that choose labels share; none but annotate.c and its helpers include it.
 */
#ifndef DRAWING_MAKER_H
#define DRAWING_MAKER_H
#include "drawing/annotate.h"
#include "drawing/figures.h"

enum {
    P_FALL = 102, /* small, and the one thing that a figure cannot say */
    P_DOOR = 101,
    P_FINISH = 100,
    P_STAKE = 95,
    P_CONTROL = 90,
    P_NAME = 80,
    P_RADIUS = 74,
    P_LENGTH = 72,
    P_SPOT_NAME = 68,
    P_HARD_LEVEL = 66,
    P_SHORT_LENGTH = 64,
    P_CONTOUR = 60,
    P_LEVEL = 50,
    P_POINT_NAME = 40,
    P_KEY = 20
};

/* What it costs to cross a line of each weight; a plain label rather goes to the list than over a heavy line. */
static const double OVER_HEAVY = 45, OVER_MEDIUM = 6, OVER_FINE = 2, OVER_CONTOUR = 0.7;
static const double LIMIT_PLAIN = 24, LIMIT_FIRST = 150;
/* Half of the square that a sign needs, mm. */
static const double STAKE_CLEAR_MM = 2.0, CONTROL_CLEAR_MM = 2.2, MARK_CLEAR_MM = 2.4;

typedef struct mst_patch {
    mst_track *rings;
    size_t count;
} mst_patch; /**< an area on the paper */

typedef struct mst_maker {
    const mst_annotation_request *r;
    mst_annotation *out;
    mst_labels *l;
    mst_placer *placer;
    mst_arena *arena;
    const mst_path_vertex *(*edges)[2];
    size_t edge_count, edge_capacity; /**< figured so far */
    const mst_patch *buildings;
    size_t building_count;
    bool failed; /**< memory was short */
} mst_maker;

static inline mst_type mst_figure_type(const mst_maker *m) { return (mst_type){m->r->sizes->figure, false}; }
static inline mst_type mst_note_type(const mst_maker *m) { return (mst_type){m->r->sizes->note, false}; }
static inline mst_type mst_bold(mst_type type) { return (mst_type){type.cap_mm, true}; }
static inline const char *mst_keep(mst_maker *m, const char *text) { return mst_label_text(m->l, text); }

/* keepclear.c: what labels keep clear of */
void mst_keep_clear(mst_maker *m);
mst_patch mst_patch_of(mst_maker *m, const mst_shape *shape);
/** Areas by what they do to figures: @p buildings hide the ground, the others have patterns that would run through. */
mst_patch *mst_patches_of(mst_maker *m, bool buildings, size_t *count);
bool mst_on_patches(const mst_patch *patches, size_t count, const mst_box *box);
double mst_point_clear(const mst_plan_point *point);
void mst_shun_buildings(mst_maker *m);
void mst_clear_grounds(mst_maker *m);

/* label_*.c: each makes the labels of one kind of thing */
void mst_label_pad(mst_maker *m, const mst_plan_pad *pad);
void mst_label_stake(mst_maker *m, const mst_plan_stake *stake);
void mst_label_points(mst_maker *m);
void mst_label_feature(mst_maker *m, const mst_plan_feature *feature);
void mst_finish_level(mst_maker *m, const char *prefix, double level_m, char out[MST_FIGURE_SIZE + 16]);
#endif
