/* GET /api/download/OPERATION?name=plan.pdf&arguments={...}: the operation writes a temporary file, which is streamed
 * and is gone when the stream ends. */
#include "http/scratch.h"
#include "http/server.h"
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

/* Today, for a file that leaves the job with a date and was not given one; the operations know no clock. */
static void set_date(json_t *arguments, const char *operation) {
    char today[16];
    time_t now = time(NULL);
    struct tm local;
    bool dated = strcmp(operation, "draw") == 0 || strcmp(operation, "export") == 0;
    if (!dated || json_object_get(arguments, "date") || !localtime_r(&now, &local)) return;
    if (strftime(today, sizeof today, "%Y-%m-%d", &local)) json_object_set_new(arguments, "date", json_string(today));
}

json_t *http_file_arguments(const http_request *request, const char *key, const char *path, mst_error *error) {
    const char *text = MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, "arguments");
    json_t *arguments = json_loads(text ? text : "{}", JSON_REJECT_DUPLICATES, NULL);
    if (json_is_object(arguments) && !json_object_get(arguments, key) &&
        json_object_set_new(arguments, key, json_string(path)) == 0)
        return arguments;
    json_decref(arguments);
    (void)mst_fail(error, MST_INVALID, "The arguments are not a JSON object, or name a place on this machine.");
    return NULL;
}

/* @return the open file, already without a name on the disk, or -1. */
static int write_file(const http_request *request, const char *operation, const char *name, mst_error *error) {
    http_scratch where;
    if (http_make_scratch(name, &where, error)) return -1;
    json_t *arguments = http_file_arguments(request, "output", where.file, error), *result = NULL;
    int file = -1;
    if (arguments) {
        set_date(arguments, operation);
        mst_status status = http_operate(request->server, operation, arguments, &result, error);
        file = status == MST_OK ? open(where.file, O_RDONLY | O_CLOEXEC) : -1;
        if (status == MST_OK && file < 0) (void)mst_fail(error, MST_IO, "The operation wrote no file.");
        else error->status = status;
    }
    json_decref(result);
    json_decref(arguments);
    http_remove_scratch(&where);
    return file;
}

static enum MHD_Result stream_file(const http_request *request, const char *name, int file) {
    char disposition[160];
    struct stat about;
    if (fstat(file, &about) != 0) {
        close(file);
        return MHD_NO;
    }
    struct MHD_Response *response = MHD_create_response_from_fd64((uint64_t)about.st_size, file);
    if (!response) {
        close(file);
        return MHD_NO;
    }
    snprintf(disposition, sizeof disposition, "attachment; filename=\"%s\"", name);
    MHD_add_response_header(response, "Content-Disposition", disposition);
    return http_reply(request, MHD_HTTP_OK, http_media_type(name), response);
}

enum MHD_Result http_download(const http_request *request, const char *operation) {
    mst_error error = {0};
    const mst_operation *known = mst_operation_named(operation);
    const char *name = MHD_lookup_connection_value(request->connection, MHD_GET_ARGUMENT_KIND, "name");
    /* A GET must not change the site: a browser may fetch it again or ahead of time. */
    if (!known || known->changes) return http_refuse(request, MHD_HTTP_NOT_FOUND, "There is no such download.");
    if (!http_is_plain_name(name))
        return http_refuse(request, MHD_HTTP_BAD_REQUEST,
                           "Give the download a plain file name: letters, digits, dots and dashes.");
    int file = write_file(request, operation, name, &error);
    return file < 0 ? http_reply_error(request, &error) : stream_file(request, name, file);
}
