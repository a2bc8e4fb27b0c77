/* The built page: plain files under one folder, never above it. */
#include "http/server.h"
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

const char *http_media_type(const char *name) {
    static const char *const types[][2] = {
        {".html", "text/html; charset=utf-8"},
        {".js", "text/javascript; charset=utf-8"},
        {".css", "text/css; charset=utf-8"},
        {".svg", "image/svg+xml"},
        {".png", "image/png"},
        {".json", "application/json; charset=utf-8"},
        {".geojson", "application/geo+json"},
        {".pdf", "application/pdf"},
        {".csv", "text/csv; charset=utf-8"},
        {".dxf", "image/vnd.dxf"},
        {".xml", "application/xml; charset=utf-8"},
        {".gpx", "application/gpx+xml"},
        {".webmanifest", "application/manifest+json"},
        {".xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"},
    };
    const char *ending = strrchr(name, '.');
    for (size_t i = 0; ending && i < sizeof types / sizeof *types; i++)
        if (strcasecmp(ending, types[i][0]) == 0) return types[i][1];
    return "application/octet-stream";
}

/* No segment may be empty or start with a dot: that shuts out "..", hidden files and doubled slashes at once. */
static bool is_plain_path(const char *path) {
    if (strchr(path, '\\')) return false;
    for (const char *segment = path; segment && *segment == '/'; segment = strchr(segment + 1, '/'))
        if (segment[1] == '\0' || segment[1] == '.' || segment[1] == '/') return false;
    return path[0] == '/';
}

static int open_plain_file(const char *name, struct stat *about) {
    int file = open(name, O_RDONLY | O_NOFOLLOW | O_CLOEXEC);
    if (file >= 0 && (fstat(file, about) != 0 || !S_ISREG(about->st_mode))) {
        close(file);
        return -1;
    }
    return file;
}

enum MHD_Result http_static(const http_request *request) {
    const char *path = strcmp(request->path, "/") == 0 ? "/index.html" : request->path;
    char name[4096];
    struct stat about;
    int length = snprintf(name, sizeof name, "%s%s", request->server->web_root, path);
    int file = is_plain_path(path) && length > 0 && (size_t)length < sizeof name ? open_plain_file(name, &about) : -1;
    if (file < 0 && strcmp(path, "/index.html") == 0)
        return http_refuse(request, MHD_HTTP_NOT_FOUND, "The page is not built; run ./dev build and start again.");
    if (file < 0) return http_refuse(request, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    struct MHD_Response *response = MHD_create_response_from_fd64((uint64_t)about.st_size, file);
    if (!response) {
        close(file);
        return MHD_NO;
    }
    /* Names under /assets/ carry a hash of their content. */
    bool hashed = strncmp(path, "/assets/", 8) == 0;
    MHD_add_response_header(response, "Cache-Control", hashed ? "public, max-age=31536000, immutable" : "no-cache");
    return http_reply(request, MHD_HTTP_OK, http_media_type(path), response);
}
