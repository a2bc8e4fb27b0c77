/* Who may ask. Any web page that the contractor has open can send requests to loopback, and a hostile name server can
 * point its own name here (DNS rebinding), so the Host must be this machine's own name and the Origin this page. */
#include "http/server.h"
#include <stdio.h>
#include <string.h>
#include <strings.h>

static const char *header(const http_request *request, const char *name) {
    return MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, name);
}

static bool is_own_authority(const char *authority, int port) {
    static const char *const names[] = {"127.0.0.1", "localhost", "[::1]"};
    char own[64];
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        snprintf(own, sizeof own, "%s:%d", names[i], port);
        if (strcasecmp(authority, own) == 0) return true;
    }
    return false;
}

static bool is_own_origin(const char *origin, int port) {
    static const char scheme[] = "http://";
    return strncasecmp(origin, scheme, sizeof scheme - 1) == 0 && is_own_authority(origin + sizeof scheme - 1, port);
}

static const char *refuse_post(const http_request *request) {
    static const char json[] = "application/json", bytes[] = "application/octet-stream";
    const char *type = header(request, "Content-Type");
    /* A form on another site cannot send this type without asking first, and nothing here answers that question. */
    if (type && http_is_upload(request) && strcasecmp(type, bytes) == 0) return NULL;
    if (!type || strncasecmp(type, json, sizeof json - 1) != 0) return "Send the arguments as application/json.";
    return http_is_upload(request) ? "Send the file as application/octet-stream." : NULL;
}

const char *http_guard(const http_request *request) {
    const char *host = header(request, "Host"), *origin = header(request, "Origin"),
               *site = header(request, "Sec-Fetch-Site");
    int port = request->server->port;
    if (!host || !is_own_authority(host, port)) return "This server answers to this machine's own name only.";
    if (origin && !is_own_origin(origin, port)) return "This server answers to its own page only.";
    if (site && strcmp(site, "cross-site") == 0 && strncmp(request->path, "/api/", 5) == 0)
        return "This server answers to its own page only.";
    return strcmp(request->method, "POST") == 0 ? refuse_post(request) : NULL;
}
