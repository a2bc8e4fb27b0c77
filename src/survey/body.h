/** @file survey/body.h  A rigid body of points that grows by taking up pieces, rays and ties that meet it. */
#ifndef SURVEY_BODY_H
#define SURVEY_BODY_H
#include "survey/pieces.h"

/* What a body knows. Points become known once, in order; `order` is also the queue of those still to be looked at. */
typedef struct mst_body {
    const mst_pieces *from;
    double *e, *n;         /* [nodes] */
    bool *known, *waiting; /* [nodes] */
    double *turn;
    bool *turn_known; /* [turns] */
    bool *placed;
    uint32_t *members_known; /* [pieces] */
    uint32_t *first_known;   /* [pieces] the member that became known first */
    uint32_t *order;
    size_t seen, count; /* [nodes] */
    uint32_t *turn_order;
    size_t turn_count;
    uint32_t *wait;
    size_t wait_head, wait_count; /* a ring of [nodes]: points whose fix is to be tried */
} mst_body;

bool mst_body_make(mst_body *body, const mst_pieces *from);
/** Makes @p to know what @p from knows; both are on the same pieces. */
void mst_body_copy(mst_body *to, const mst_body *from);
/** How badly the ties, directions and pieces between known points fit: squares in units of their sd, each at most 100,
 * so that one wrong reading does not outvote all others. */
double mst_body_misfit(const mst_body *body);
void mst_body_clear(mst_body *body); /* cost: what it knew */
void mst_body_add(mst_body *body, uint32_t node, double e, double n);
void mst_body_add_turn(mst_body *body, uint32_t turn, double rad);
void mst_body_place(mst_body *body, uint32_t piece, double e, double n, double rad); /* its x = y = 0 at e, n */
/** Takes up all that can be reached. Stops early once @p enough(context) says so; NULL: never. */
void mst_body_grow(mst_body *body, bool (*enough)(const mst_body *body, void *context), void *context);
/** The two places that two ties leave open. @return how many (0, 1 or 2) lie apart; [0] is right of the line a-b */
int mst_body_mirrored(const mst_body *body, uint32_t node, double place[2][2]);
/** Why the readings between a point and what the body knows do not place it, in words; NULL where that does not show.
 */
const char *mst_body_why_open(const mst_body *body, uint32_t node);
/** Settles pairs of mirrored points by the ties between them. @return true when one was settled */
bool mst_body_settle_mirrored(mst_body *body);

#endif
