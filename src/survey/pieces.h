/** @file survey/pieces.h  The plan readings sorted into what can be put together: rigid pieces, rays and tapes.
 *
 * A piece is a set of points whose places relative to each other are known: the coordinates of a visit, the polar
 * sights of a set-up, a run of legs, the offsets from a baseline. Two common points carry one piece into the frame of
 * another, one point is enough where the heading is known. */
#ifndef SURVEY_PIECES_H
#define SURVEY_PIECES_H
#include "survey/network.h"

typedef struct mst_member {
    uint32_t node;
    double x, y;
} mst_member; /* x right of, y along the piece's own north */
typedef struct mst_piece {
    uint32_t turn;
    size_t first, count;
} mst_piece;
typedef struct mst_ray {
    uint32_t station, target, turn;
    double circle, sd;
} mst_ray;
typedef struct mst_tie {
    uint32_t a, b;
    double length_m, up_m, sd;
    bool slope;
} mst_tie;

/* A condition between up to four points; each stands twice, so that its two lists of keys hold four. */
typedef struct mst_bond {
    mst_reading_kind kind;
    uint32_t from, baseline, to, fourth;
    bool second;
} mst_bond;

/* Lists of items by key: items of key k stand in item[start[k]] .. item[start[k + 1] - 1]. */
typedef struct mst_lists {
    size_t *start;
    uint32_t *item;
} mst_lists;

typedef struct mst_pieces {
    mst_network *net;
    mst_arena *arena;  /* scratch */
    size_t turn_count; /* the network's turns and one for each baseline */
    mst_member *members;
    size_t member_count, member_capacity;
    mst_piece *pieces;
    size_t piece_count, piece_capacity;
    mst_ray *rays;
    size_t ray_count, ray_capacity;
    mst_tie *ties;
    size_t tie_count, tie_capacity;
    mst_bond *bonds;
    size_t bond_count, bond_capacity;
    mst_lists node_pieces, node_rays, node_ties, node_bonds, turn_pieces, turn_rays;
} mst_pieces;

/** Fills @p pieces from the network's plan readings, in @p scratch. */
mst_status mst_pieces_find(mst_network *net, mst_arena *scratch, mst_pieces *pieces, mst_error *error) MST_CHECKED;
/** Length of a tie in plan; NaN while a slope tie lacks a level at either end. */
double mst_tie_length(const mst_network *net, const mst_tie *tie);
/** Makes lists of @p count items by their keys; an item with key MST_NONE is left out. Each item may have two keys. */
bool mst_lists_make(mst_lists *lists, mst_arena *arena, size_t keys, size_t count,
                    uint32_t (*key)(const void *of, size_t item, int which), const void *of);

#endif
