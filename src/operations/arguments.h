/** @file src/operations/arguments.h  Reading arguments and writing results as JSON.
 *
 * An argument may be a JSON number in SI units or text with its unit, so that the command line hands words on as typed.
 */
#ifndef OPERATIONS_ARGUMENTS_H
#define OPERATIONS_ARGUMENTS_H
#include "merestone/geometry.h"
#include "merestone/survey.h"
#include <jansson.h>

const char *mst_arg_text(const json_t *arguments, const char *key,
                         const char *fallback); /**< borrowed from @p arguments */
bool mst_arg_flag(const json_t *arguments, const char *key);
bool mst_arg_given(const json_t *arguments, const char *key);
/** @retval MST_INVALID missing or empty */
mst_status mst_arg_required(const json_t *arguments, const char *key, const char **text, mst_error *error) MST_CHECKED;
/** Metres; @p value untouched when the argument is not given. */
mst_status mst_arg_length(const json_t *arguments, const char *key, double *value, mst_error *error) MST_CHECKED;
/** The same, above 0 where it is given: 0 is no way of saying "as usual". */
mst_status mst_arg_positive(const json_t *arguments, const char *key, double *value, mst_error *error) MST_CHECKED;
mst_status mst_arg_number(const json_t *arguments, const char *key, double *value, mst_error *error) MST_CHECKED;
/** A place "E,N" or [E, N]. @param given receives whether it was there */
mst_status mst_arg_place(const json_t *arguments, const char *key, mst_point *place, bool *given,
                         mst_error *error) MST_CHECKED;
/** Refuses any key beyond the NULL-ended list (and the keys of every change). */
mst_status mst_arg_only(const json_t *arguments, const char *const known[], mst_error *error) MST_CHECKED;

json_t *mst_json_number(double value);   /**< null for NaN */
json_t *mst_json_text(const char *text); /**< "" for NULL */
void mst_json_figure(json_t *object, const char *key,
                     mst_figure figure); /**< key and key with _interval before its unit */
#endif
