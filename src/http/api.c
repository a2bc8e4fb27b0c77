/* One address per named operation: the same table and the same JSON as the command line. */
#include "http/server.h"
#include <string.h>

static const char API[] = "/api/";

mst_status http_operate(mst_server *server, const char *name, const json_t *arguments, json_t **result,
                        mst_error *error) {
    pthread_mutex_lock(&server->session_lock);
    mst_status status = mst_operate(server->session, name, arguments, result, error);
    /* Under the lock, so that pages hear revisions in the order in which they were made. */
    const mst_operation *operation = mst_operation_named(name);
    if (status == MST_OK && operation && operation->changes)
        http_announce(server, mst_session_revision(server->session));
    pthread_mutex_unlock(&server->session_lock);
    return status;
}

static enum MHD_Result list_operations(const http_request *request) {
    size_t count;
    const mst_operation *operations = mst_operations(&count);
    json_t *list = json_array();
    for (size_t i = 0; i < count; i++)
        json_array_append_new(list, json_pack("{s:s, s:s, s:b}", "name", operations[i].name, "summary",
                                              operations[i].summary, "changes", operations[i].changes));
    return http_reply_json(request, MHD_HTTP_OK, json_pack("{s:o}", "operations", list));
}

/* A page says what to compute, never where on this machine to write or read. */
static const char *names_a_place(const json_t *arguments) {
    static const char *const keys[] = {"output", "path", "file_path"};
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
        if (json_object_get(arguments, keys[i])) return keys[i];
    return NULL;
}

static json_t *read_arguments(const http_request *request, mst_error *error) {
    if (request->body.length == 0) return json_object();
    json_error_t fault;
    json_t *arguments = json_loadb(request->body.data, request->body.length, JSON_REJECT_DUPLICATES, &fault);
    if (!arguments)
        (void)mst_fail_at(error, MST_INVALID, "request", fault.line, fault.column, "The request is not JSON: %s.",
                          fault.text);
    else if (!json_is_object(arguments)) (void)mst_fail(error, MST_INVALID, "The request is not a JSON object.");
    else if (names_a_place(arguments))
        (void)mst_fail(error, MST_INVALID, "The page may not name a place on this machine (%s); use a download.",
                       names_a_place(arguments));
    else return arguments;
    json_decref(arguments);
    return NULL;
}

/* What others changed since the revision that a refused edit was made on. */
static json_t *changes_since(mst_server *server, json_int_t revision) {
    json_t *arguments = json_object(), *history = NULL, *entry, *newer = json_array();
    size_t i;
    mst_error ignored = {0};
    if (http_operate(server, "history", arguments, &history, &ignored) == MST_OK)
        json_array_foreach(json_object_get(history, "changes"), i, entry) {
            if (json_integer_value(json_object_get(entry, "revision")) > revision) json_array_append(newer, entry);
        }
    json_decref(history);
    json_decref(arguments);
    return newer;
}

static enum MHD_Result reply_failure(const http_request *request, const json_t *arguments, const mst_error *error) {
    json_t *body = http_error_json(error);
    const json_t *expected = json_object_get(arguments, "expected_revision");
    if (error->status == MST_CONFLICT && json_is_integer(expected))
        json_object_set_new(json_object_get(body, "error"), "changes",
                            changes_since(request->server, json_integer_value(expected)));
    return http_reply_json(request, http_code_of(error->status), body);
}

static enum MHD_Result run_operation(const http_request *request, const char *name) {
    mst_error error = {0};
    json_t *arguments = read_arguments(request, &error), *result = NULL;
    if (!arguments) return http_reply_error(request, &error);
    mst_status status = http_operate(request->server, name, arguments, &result, &error);
    enum MHD_Result sent;
    if (result) sent = http_reply_json(request, MHD_HTTP_OK, result); /* "no" with a body is an answer */
    else {
        error.status = status;
        sent = reply_failure(request, arguments, &error);
    }
    json_decref(arguments);
    return sent;
}

static bool is_method(const http_request *request, const char *method) { return strcmp(request->method, method) == 0; }

enum MHD_Result http_api(const http_request *request) {
    const char *name = request->path + sizeof API - 1;
    if (is_method(request, "GET") && strcmp(name, "operations") == 0) return list_operations(request);
    if (is_method(request, "GET") && strcmp(name, "events") == 0) return http_events(request);
    if (is_method(request, "GET") && strncmp(name, "download/", 9) == 0) return http_download(request, name + 9);
    const mst_operation *operation = mst_operation_named(name);
    if (!operation || strcmp(name, "new") == 0)
        return http_refuse(request, MHD_HTTP_NOT_FOUND, "There is no such operation.");
    if (!is_method(request, "POST"))
        return http_refuse(request, MHD_HTTP_METHOD_NOT_ALLOWED, "Send the arguments of an operation with POST.");
    return run_operation(request, name);
}
