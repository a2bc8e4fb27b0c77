/** @file bench/survey_truth/networks.h  Random networks of every kind with known truth, as field pages of text. */
#ifndef BENCH_NETWORKS_H
#define BENCH_NETWORKS_H
#include "merestone/survey.h"

enum { POINTS_MAX = 24, SHEETS_MAX = 12, SHEET_ROWS_MAX = 260, SHEET_COLUMNS_MAX = 8, CELL_MAX = 24 };

typedef enum network_kind {
    NETWORK_TAPES,
    NETWORK_SET_UPS,
    NETWORK_TRIANGLES,
    NETWORK_LEVELS,
    NETWORK_DIFFERENCES,
    NETWORK_VISITS,
    NETWORK_SATELLITES,
    NETWORK_LEGS,
    NETWORK_OFFSETS,
    NETWORK_BEARINGS,
    NETWORK_CONDITIONS,
    NETWORK_MIXED,
    NETWORK_KINDS
} network_kind;
extern const char *const NETWORK_NAMES[NETWORK_KINDS];

/* xorshift64* (Vigna, ACM Trans. Math. Software 42 (2016) article 30) and the polar-free Box-Muller normal. */
typedef struct chance {
    uint64_t state;
} chance;
double chance_uniform(chance *c); /* (0, 1) */
double chance_normal(chance *c);
uint32_t chance_below(chance *c, uint32_t count);

typedef struct sheet {
    mst_page_kind kind;
    char name[24], visit[4];
    const char *header;
    int columns, rows;
    char cell[SHEET_ROWS_MAX][SHEET_COLUMNS_MAX][CELL_MAX];
} sheet;

typedef struct place {
    double e, n, h;
} place;

typedef struct network {
    network_kind kind;
    int points;
    place truth[POINTS_MAX]; /* of the point named "P%d" */
    sheet sheets[SHEETS_MAX];
    int sheet_count;
    int decimals; /* of a length in m */
} network;

/** Makes a network with normal errors of the sd that its gear or its pages state.
 * @param decimals 6 where distributions are looked at, 3 where digits are */
void network_make(network *net, network_kind kind, int decimals, chance *c);
/** The network's pages as a site in @p arena. NULL when a page is refused, which is a fault of this program. */
mst_site *network_site(const network *net, mst_arena *arena);
/** A projector for the satellites' pages: a plane, so that the truth is exact. */
const mst_projector *network_projector(void);
#endif
