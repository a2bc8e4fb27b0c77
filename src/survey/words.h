/** @file survey/words.h  How a reading is named in a sentence. */
#ifndef SURVEY_WORDS_H
#define SURVEY_WORDS_H
#include "survey/network.h"

/** "visit " before a visit's name, "" where the name begins with the word itself ("visit 2"). */
const char *mst_words_visit(const char *name);
/** "tape A4-A7 on visit '2' (tape.csv row 9)"; in @p arena. */
const char *mst_words_for(const mst_network *net, const mst_reading *reading, mst_arena *arena);
/** What the reading is called in results: its kind, or the condition that it stands for. */
const char *mst_words_kind(const mst_reading *reading);
/** Says of every point without a place why, and of every reading without use. */
mst_status mst_words_for_undetermined(mst_network *net, mst_adjustment *adjustment, mst_error *error) MST_CHECKED;

#endif
