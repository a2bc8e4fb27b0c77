/** @file merestone/operations.h  The named operations: JSON in, JSON out. Command line, web server and the phone call
 * these. */
#ifndef MERESTONE_OPERATIONS_H
#define MERESTONE_OPERATIONS_H
#include <jansson.h>
#include "merestone/base.h"
#ifdef __cplusplus
extern "C" {
#endif

/** An open site with what was derived from its newest revision kept at hand. One caller at a time. */
typedef struct mst_session mst_session;
mst_status mst_session_open(const char *path, mst_session **session, mst_error *error) MST_CHECKED;
void mst_session_close(mst_session *session);
/** Long operations tell how far they are: 0..1 and what is being done. @p tell NULL: nobody */
void mst_session_on_progress(mst_session *session, void *self,
                             void (*tell)(void *self, double fraction, const char *sentence));
int64_t mst_session_revision(mst_session *session); /**< as the file has it now */

/** @return true when the site's people read feet. */
bool mst_session_imperial(mst_session *session);

enum { MST_NEEDS_CORE = 0, MST_NEEDS_FILES = 1, MST_NEEDS_DRAWING = 2, MST_NEEDS_LP = 4 };
typedef struct mst_operation {
    const char *name, *summary;
    unsigned needs;
    bool changes; /**< makes a revision; takes "who", "why" and "expected_revision" */
    mst_status (*run)(mst_session *session, const json_t *arguments, json_t **result, mst_error *error);
} mst_operation;
const mst_operation *mst_operations(size_t *count);
const mst_operation *mst_operation_named(const char *name); /**< NULL if none */
/** Runs by name. @param result a new reference on MST_OK (and on MST_NO where the answer has a body); NULL else */
mst_status mst_operate(mst_session *session, const char *name, const json_t *arguments, json_t **result,
                       mst_error *error) MST_CHECKED;
#ifdef __cplusplus
}
#endif
#endif
