/* Paper sizes from ISO 216, frame from ISO 5457, scales from ISO 5455, widths from ISO 128, heights from ISO 3098;
 * 1:125 and 1:250 and the feet to an inch are common practice. */
#include "drawing/paper.h"
#include <ctype.h>

enum { FILING_EDGE_MM = 20, EDGE_MM = 10 };

static const mst_paper PAPERS[] = {{"A4", 210, 297},         {"A3", 297, 420},  {"A2", 420, 594},
                                   {"A1", 594, 841},         {"A0", 841, 1189}, {"letter", 215.9, 279.4},
                                   {"tabloid", 279.4, 431.8}};
static const double METRIC[] = {5,    10,   20,   50,   100,  125,   200,   250,  500,
                                1000, 1250, 2000, 2500, 5000, 10000, 20000, 50000};
/* 1 in, 1/2, 1/4, 1/8 in to a foot, then 10 to 100 ft to an inch and on */
static const double FEET[] = {12,  24,   48,   96,   120,  240,   360,   480,  600,
                              720, 1200, 2400, 3600, 6000, 12000, 24000, 60000};

static bool same_word(const char *a, const char *b) {
    for (; *a && *b; a++, b++)
        if (tolower((unsigned char)*a) != tolower((unsigned char)*b)) return false;
    return *a == *b;
}

const mst_paper *mst_papers(size_t *count) {
    *count = sizeof PAPERS / sizeof *PAPERS;
    return PAPERS;
}

const mst_paper *mst_paper_named(const char *name) {
    if (!name || !*name) name = "A3";
    for (size_t i = 0; i < sizeof PAPERS / sizeof *PAPERS; i++)
        if (same_word(PAPERS[i].name, name)) return &PAPERS[i];
    return NULL;
}

double mst_paper_width(const mst_paper *paper, bool portrait) { return portrait ? paper->short_mm : paper->long_mm; }
double mst_paper_height(const mst_paper *paper, bool portrait) { return portrait ? paper->long_mm : paper->short_mm; }

mst_rect mst_paper_frame(const mst_paper *paper, bool portrait) {
    return (mst_rect){FILING_EDGE_MM, EDGE_MM, mst_paper_width(paper, portrait) - FILING_EDGE_MM - EDGE_MM,
                      mst_paper_height(paper, portrait) - 2 * EDGE_MM};
}

const double *mst_scales(bool imperial, size_t *count) {
    *count = imperial ? sizeof FEET / sizeof *FEET : sizeof METRIC / sizeof *METRIC;
    return imperial ? FEET : METRIC;
}

mst_sizes mst_sizes_for(const mst_paper *paper) {
    if (paper->long_mm < 300) return (mst_sizes){0.18, 0.35, 0.5, 1.8, 1.8, 2.5, 3.5, 5};
    if (paper->long_mm < 440) return (mst_sizes){0.18, 0.35, 0.7, 1.8, 2.5, 2.5, 5, 7};
    return (mst_sizes){0.25, 0.5, 1.0, 2.5, 2.5, 3.5, 7, 10};
}

mst_rect mst_rect_inset(mst_rect r, double by) { return (mst_rect){r.x + by, r.y + by, r.w - 2 * by, r.h - 2 * by}; }
