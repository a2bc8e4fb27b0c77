/* An operation asked as the command line does, and what its answer holds. */
#ifndef OPERATIONS_ASK_H
#define OPERATIONS_ASK_H
#include "geometry/near.h"
#include "merestone/operations.h"
#include <jansson.h>

/* Steals the arguments. */
static inline json_t *ask(mst_session *session, const char *name, json_t *arguments, mst_status expected) {
    mst_error error = {0};
    json_t *result = NULL;
    mst_status status = mst_operate(session, name, arguments, &result, &error);
    if (status != expected) print_message("%s: %s\n", name, error.sentence);
    assert_int_equal(status, expected);
    json_decref(arguments);
    return result;
}

static inline double number(const json_t *o, const char *key) { return json_number_value(json_object_get(o, key)); }
#endif
