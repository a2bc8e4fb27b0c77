/* Every answer leaves through here, so that every answer carries the same guards. */
#include "http/server.h"
#include <stdlib.h>
#include <string.h>

static const char *const GUARDS[][2] = {
    /* Scripts, styles and data from this server only; no frame around the page, no form to elsewhere. */
    {"Content-Security-Policy", "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
                                "form-action 'none'; frame-ancestors 'none'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
};

enum MHD_Result http_reply(const http_request *request, unsigned code, const char *type,
                           struct MHD_Response *response) {
    if (!response) return MHD_NO;
    MHD_add_response_header(response, "Content-Type", type);
    for (size_t i = 0; i < sizeof GUARDS / sizeof *GUARDS; i++)
        MHD_add_response_header(response, GUARDS[i][0], GUARDS[i][1]);
    if (!MHD_get_response_header(response, "Cache-Control"))
        MHD_add_response_header(response, "Cache-Control", "no-store");
    enum MHD_Result queued = MHD_queue_response(request->connection, code, response);
    MHD_destroy_response(response);
    return queued;
}

enum MHD_Result http_reply_json(const http_request *request, unsigned code, json_t *body) {
    /* 15 digits: every decimal that was typed comes back as it was typed. */
    char *text = body ? json_dumps(body, JSON_COMPACT | JSON_REAL_PRECISION(15)) : NULL;
    json_decref(body);
    if (!text) return MHD_NO;
    struct MHD_Response *response = MHD_create_response_from_buffer(strlen(text), text, MHD_RESPMEM_MUST_FREE);
    if (!response) free(text);
    return http_reply(request, code, "application/json; charset=utf-8", response);
}

static const char *status_name(mst_status status) {
    switch (status) {
    case MST_OK:
        return "ok";
    case MST_INVALID:
        return "invalid";
    case MST_TOO_FEW:
        return "too few";
    case MST_UNDETERMINED:
        return "undetermined";
    case MST_NOT_CONVERGED:
        return "not converged";
    case MST_NO_MEMORY:
        return "no memory";
    case MST_NOT_FOUND:
        return "not found";
    case MST_NO:
        return "no";
    case MST_CONFLICT:
        return "conflict";
    case MST_IO:
        return "machine";
    }
    return "invalid";
}

unsigned http_code_of(mst_status status) {
    switch (status) {
    case MST_OK:
        return MHD_HTTP_OK;
    case MST_INVALID:
        return MHD_HTTP_BAD_REQUEST;
    case MST_NOT_FOUND:
        return MHD_HTTP_NOT_FOUND;
    case MST_CONFLICT:
        return MHD_HTTP_CONFLICT;
    case MST_NO_MEMORY:
    case MST_IO:
        return MHD_HTTP_INTERNAL_SERVER_ERROR;
    default:
        return MHD_HTTP_UNPROCESSABLE_CONTENT; /* well asked, and the site has no such answer */
    }
}

json_t *http_error_json(const mst_error *error) {
    return json_pack("{s:{s:s, s:s%, s:s, s:i, s:i}}", "error", "status", status_name(error->status), "sentence",
                     error->sentence, strlen(error->sentence), "page", error->page, "row", error->row, "column",
                     error->column);
}

enum MHD_Result http_reply_error(const http_request *request, const mst_error *error) {
    return http_reply_json(request, http_code_of(error->status), http_error_json(error));
}

enum MHD_Result http_refuse(const http_request *request, unsigned code, const char *sentence) {
    mst_error error = {0};
    (void)mst_fail(&error, code == MHD_HTTP_NOT_FOUND ? MST_NOT_FOUND : MST_INVALID, "%s", sentence);
    return http_reply_json(request, code, http_error_json(&error));
}
