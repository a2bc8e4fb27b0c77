/* POST /api/upload/cloud?name=scan.las&arguments={...}: a file too large for a JSON body goes to a temporary file as it
 * comes, the operation reads it there, and it is gone when the request ends. */
#include "http/scratch.h"
#include "http/server.h"
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct http_upload {
    http_scratch where;
    int file;
    mst_error fault; /**< of what came so far */
};

static const char UPLOAD[] = "/api/upload/";

bool http_is_upload(const http_request *request) {
    return strcmp(request->method, "POST") == 0 && strncmp(request->path, UPLOAD, sizeof UPLOAD - 1) == 0;
}

/* The operations that read one file and take nothing else from this machine's disk. */
static const char *operation_of(const http_request *request) {
    const char *name = request->path + sizeof UPLOAD - 1;
    return strcmp(name, "cloud") == 0 ? name : NULL;
}

static const char *query(const http_request *request, const char *key) {
    return MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, key);
}

enum MHD_Result http_upload_begin(http_request *request) {
    const char *name = query(request, "name");
    if (!operation_of(request)) return http_refuse(request, MHD_HTTP_NOT_FOUND, "There is no such upload.");
    if (!http_is_plain_name(name))
        return http_refuse(request, MHD_HTTP_BAD_REQUEST,
                           "Give the upload a plain file name: letters, digits, dots and dashes.");
    http_upload *u = calloc(1, sizeof *u);
    if (!u) return MHD_NO;
    if (http_make_scratch(name, &u->where, &u->fault)) {
        mst_error fault = u->fault;
        free(u);
        return http_reply_error(request, &fault);
    }
    u->file = open(u->where.file, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    request->upload = u; /* from here on http_upload_end tidies up */
    return u->file < 0 ? http_refuse(request, MHD_HTTP_INTERNAL_SERVER_ERROR, "The temporary file cannot be made.")
                       : MHD_YES;
}

/* What is left of a file that found no room is still read, so that the answer can be heard. */
void http_upload_add(http_request *request, const char *data, size_t length) {
    http_upload *u = request->upload;
    while (length && !u->fault.status) {
        ssize_t written = write(u->file, data, length);
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) {
            (void)mst_fail(&u->fault, MST_IO, "The disk has no room for the scan: %s.", strerror(errno));
            return;
        }
        data += written;
        length -= (size_t)written;
    }
}

enum MHD_Result http_upload_answer(http_request *request) {
    http_upload *u = request->upload;
    mst_error error = u->fault;
    if (close(u->file) != 0 && !error.status) (void)mst_fail(&error, MST_IO, "The disk has no room for the scan.");
    u->file = -1;
    json_t *arguments = error.status ? NULL : http_file_arguments(request, "path", u->where.file, &error),
           *result = NULL;
    if (!arguments) return http_reply_error(request, &error);
    mst_status status = http_operate(request->server, operation_of(request), arguments, &result, &error);
    json_decref(arguments);
    error.status = status;
    return result ? http_reply_json(request, MHD_HTTP_OK, result) : http_reply_error(request, &error);
}

void http_upload_end(http_upload *upload) {
    if (!upload) return;
    if (upload->file >= 0) close(upload->file);
    http_remove_scratch(&upload->where);
    free(upload);
}
