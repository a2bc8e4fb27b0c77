#include "http/scratch.h"
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

bool http_is_plain_name(const char *name) {
    if (!name || !name[0] || name[0] == '.' || strlen(name) > 120) return false;
    for (const char *c = name; *c; c++)
        if (!isalnum((unsigned char)*c) && !strchr("._-", *c)) return false;
    return true;
}

mst_status http_make_scratch(const char *name, http_scratch *where, mst_error *error) {
    const char *temporary = getenv("TMPDIR");
    snprintf(where->folder, sizeof where->folder, "%s/merestone-XXXXXX", temporary ? temporary : "/tmp");
    if (!mkdtemp(where->folder))
        return mst_fail(error, MST_IO, "There is no place for a temporary file; is the disk full?");
    snprintf(where->file, sizeof where->file, "%s/%s", where->folder, name);
    return MST_OK;
}

void http_remove_scratch(const http_scratch *where) {
    unlink(where->file);
    rmdir(where->folder);
}
