/** @file src/works/element_values.h  The values in a definition: text, lengths, falls, batters, places.
 *
 * Every refusal names the element and the key. */
#ifndef WORKS_ELEMENT_VALUES_H
#define WORKS_ELEMENT_VALUES_H
#include "merestone/works.h"
#include <jansson.h>

typedef struct mst_reader {
    const json_t *object;
    const char *name;
    const mst_site *site;
    const mst_adjustment *adjustment;
    mst_arena *arena;
    mst_error *error;
} mst_reader;

/** Refuses the first key that is not in the NULL-ended list. @param what "a pad" */
mst_status mst_read_known_keys(const mst_reader *r, const json_t *object, const char *const keys[],
                               const char *what) MST_CHECKED;
/** A text value that is not empty, or NULL with *status set. */
const char *mst_read_text(const mst_reader *r, const char *key, mst_status *status);
mst_status mst_read_length(const mst_reader *r, const json_t *object, const char *key, double *metres) MST_CHECKED;
/** A length from 0 to 20 m: more is a slip in the unit. */
mst_status mst_read_thickness(const mst_reader *r, const json_t *object, const char *key, double *metres) MST_CHECKED;
/** A length above 0, up to 1 km. */
mst_status mst_read_width(const mst_reader *r, const json_t *object, const char *key, double *metres) MST_CHECKED;
/** A point's name or [easting, northing]. */
mst_status mst_read_place(const mst_reader *r, const json_t *at, mst_point *p) MST_CHECKED;
/** "1:60", "1 in 60", "2%" or a number in percent, from @p least to 1:1. */
mst_status mst_read_fall(const mst_reader *r, const char *key, double least, double *slope) MST_CHECKED;
/** "1:2", one up for two along: 0.5. From 1:20 to 20:1. */
mst_status mst_read_batter(const mst_reader *r, const char *key, double *slope) MST_CHECKED;
mst_status mst_read_towards(const mst_reader *r, mst_point at, double *bearing) MST_CHECKED;

/** Reads what only that kind has. In element_kinds.c. */
mst_status mst_read_of_kind(const mst_reader *r, mst_element *e) MST_CHECKED;
/** The keys of a kind, NULL-ended, and what it is called in a sentence. */
const char *const *mst_keys_of_kind(mst_work_kind kind);
#endif
