/** @file src/http/scratch.h  A folder with one file on its way in or out; nothing of it outlives its request. */
#ifndef HTTP_SCRATCH_H
#define HTTP_SCRATCH_H
#include "merestone/base.h"

typedef struct http_scratch {
    char folder[512], file[768];
} http_scratch;

/** The name goes into a path and into a header: letters, digits, dot, dash, underscore, and no leading dot. */
bool http_is_plain_name(const char *name);
/** Makes the folder, not the file. @param name a plain one. @retval MST_IO */
mst_status http_make_scratch(const char *name, http_scratch *where, mst_error *error) MST_CHECKED;
void http_remove_scratch(const http_scratch *where);
#endif
