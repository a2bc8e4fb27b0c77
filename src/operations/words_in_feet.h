/** @file src/operations/words_in_feet.h  What an operation says, in the feet of a site whose people read feet. */
#ifndef OPERATIONS_WORDS_IN_FEET_H
#define OPERATIONS_WORDS_IN_FEET_H
#include <jansson.h>
#include "merestone/base.h"

/** Rewrites the sentences, warnings and notes of an answer in place; names, keys and numbers stay.
 * @return false when memory is short: some may be left in metres. */
bool mst_answer_in_feet(json_t *answer);
/** The same for the sentence of an error. */
void mst_error_in_feet(mst_error *error);
#endif
