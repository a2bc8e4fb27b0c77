/** @file site/compose.h  One way to write an accented letter. */
#ifndef SITE_COMPOSE_H
#define SITE_COMPOSE_H
#include "merestone/base.h"

/** The text with each Latin letter and the accent behind it as one sign, so that a name is one name however it was
 * typed (The Unicode Standard, annex 15, normalization form C, for letters up to U+017F). @return the text itself where
 * nothing is to be done; NULL when memory is short */
const char *mst_compose(const char *text, mst_arena *arena);

#endif
