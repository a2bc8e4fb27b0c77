/* Server-sent events (WHATWG HTML, section 9.2): each open page hears the site's newest revision. */
#include "http/server.h"
#include <errno.h>
#include <inttypes.h>
#include <stdlib.h>
#include <time.h>

enum {
    HEARTBEAT_S = 10, /* a page that has gone is noticed when a write to it fails */
    WATCH_S = 1       /* how soon a change by another program is seen */
};

typedef struct listener {
    mst_server *server;
    int64_t told;
} listener;

static struct timespec in_seconds(int seconds) {
    struct timespec at;
    clock_gettime(CLOCK_MONOTONIC, &at);
    at.tv_sec += seconds;
    return at;
}

/* Waits in the connection's own thread until there is something to say. */
static ssize_t next_event(void *self, uint64_t position, char *out, size_t room) {
    (void)position;
    listener *l = self;
    mst_server *server = l->server;
    struct timespec until = in_seconds(HEARTBEAT_S);
    ssize_t length;
    pthread_mutex_lock(&server->event_lock);
    while (!server->stopping && l->told == server->revision)
        if (pthread_cond_timedwait(&server->event, &server->event_lock, &until) == ETIMEDOUT) break;
    if (server->stopping) length = MHD_CONTENT_READER_END_OF_STREAM;
    else if (l->told == server->revision) length = snprintf(out, room, ":\n\n");
    else {
        l->told = server->revision;
        length = snprintf(out, room, "id: %" PRId64 "\nevent: revision\ndata: {\"revision\":%" PRId64 "}\n\n", l->told,
                          l->told);
    }
    pthread_mutex_unlock(&server->event_lock);
    return length;
}

enum MHD_Result http_events(const http_request *request) {
    listener *l = malloc(sizeof *l);
    if (!l) return MHD_NO;
    *l = (listener){request->server, -1};
    struct MHD_Response *response = MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 1024, next_event, l, free);
    if (!response) free(l);
    return http_reply(request, MHD_HTTP_OK, "text/event-stream", response);
}

void http_announce(mst_server *server, int64_t revision) {
    pthread_mutex_lock(&server->event_lock);
    if (server->revision != revision) {
        server->revision = revision;
        pthread_cond_broadcast(&server->event);
    }
    pthread_mutex_unlock(&server->event_lock);
}

static bool wait_for_stop(mst_server *server) {
    struct timespec until = in_seconds(WATCH_S);
    pthread_mutex_lock(&server->event_lock);
    while (!server->stopping)
        if (pthread_cond_timedwait(&server->event, &server->event_lock, &until) == ETIMEDOUT) break;
    bool stop = server->stopping;
    pthread_mutex_unlock(&server->event_lock);
    return stop;
}

void *http_watch(void *self) {
    mst_server *server = self;
    while (!wait_for_stop(server)) {
        pthread_mutex_lock(&server->session_lock);
        int64_t revision = mst_session_revision(server->session);
        http_announce(server, revision);
        pthread_mutex_unlock(&server->session_lock);
    }
    return NULL;
}
