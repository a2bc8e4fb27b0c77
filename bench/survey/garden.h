/* A property of any size measured with all kinds of gear, as field pages, seeded. */
#ifndef BENCH_SURVEY_GARDEN_H
#define BENCH_SURVEY_GARDEN_H
#include "merestone/survey.h"

enum { GARDEN_PAGES = 11 };

typedef struct garden_page {
    mst_page_kind kind;
    const char *name, *visit;
    mst_text text;
} garden_page;

typedef struct garden {
    garden_page pages[GARDEN_PAGES];
    size_t points;
} garden;

/** Points about 7 m apart; every kind of page over some of them. @param mistakes so many tapes are a metre long */
garden garden_make(size_t points, size_t mistakes);
void garden_free(garden *g);
/** The site of these pages. @return NULL when a page cannot be read, which is told on stderr */
mst_site *garden_site(const garden *g, mst_arena *arena);
const mst_projector *garden_projector(void);

#endif
