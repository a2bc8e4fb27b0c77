/* The server's life: open the site, listen on loopback, answer, stop cleanly.
 *
 * A thread per connection: a long operation or a waiting event stream holds up nobody but itself, and stopping needs
 * no bookkeeping of suspended connections. The page opens a handful of connections, not thousands. */
#include "http/server.h"
#include <arpa/inet.h>
#include <errno.h>
#include <signal.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { CONNECTIONS_MAX = 64, IDLE_S = 60, BACKLOG = 64 };

/* ---- one request ---- */

static enum MHD_Result answer(const http_request *request) {
    if (strncmp(request->path, "/api/", 5) == 0) return http_api(request);
    if (strcmp(request->method, "GET") != 0 && strcmp(request->method, "HEAD") != 0)
        return http_refuse(request, MHD_HTTP_METHOD_NOT_ALLOWED, "The page can only be read here.");
    return http_static(request);
}

static bool announces_too_much(struct MHD_Connection *connection) {
    const char *length = MHD_lookup_connection_value(connection, MHD_HEADER_KIND, "Content-Length");
    return length && strtoull(length, NULL, 10) > HTTP_BODY_MAX;
}

static enum MHD_Result begin(http_request *request) {
    const char *refusal = http_guard(request);
    if (refusal) return http_refuse(request, MHD_HTTP_FORBIDDEN, refusal);
    if (http_is_upload(request)) return http_upload_begin(request);
    if (announces_too_much(request->connection))
        return http_refuse(request, MHD_HTTP_CONTENT_TOO_LARGE,
                           "The file is larger than 64 MiB; split it, or take a scan in as what it is.");
    return MHD_YES;
}

static enum MHD_Result on_request(void *self, struct MHD_Connection *connection, const char *path, const char *method,
                                  const char *version, const char *upload, size_t *upload_size, void **context) {
    (void)version;
    http_request *request = *context;
    if (!request) {
        *context = request = calloc(1, sizeof *request);
        if (!request) return MHD_NO;
        *request = (http_request){.server = self, .connection = connection, .method = method, .path = path};
        return begin(request);
    }
    if (*upload_size == 0) return request->upload ? http_upload_answer(request) : answer(request);
    if (request->upload) {
        http_upload_add(request, upload, *upload_size);
        *upload_size = 0;
        return MHD_YES;
    }
    if (request->body.length + *upload_size > HTTP_BODY_MAX) return MHD_NO; /* sent in pieces, without a length */
    mst_text_add(&request->body, upload, *upload_size);
    *upload_size = 0;
    return request->body.failed ? MHD_NO : MHD_YES;
}

static void on_completed(void *self, struct MHD_Connection *connection, void **context,
                         enum MHD_RequestTerminationCode code) {
    (void)self, (void)connection, (void)code;
    http_request *request = *context;
    if (request) {
        mst_text_free(&request->body);
        http_upload_end(request->upload);
    }
    free(request);
    *context = NULL;
}

/* ---- start and stop ---- */

static mst_status fail_to_listen(int port, mst_error *error) {
    if (errno == EADDRINUSE)
        return mst_fail(error, MST_IO,
                        "Port %d is taken by another program; stop that one or choose another with --port.", port);
    return mst_fail(error, MST_IO, "Port %d cannot be opened: %s.", port, strerror(errno));
}

static mst_status listen_on(int port, int *listener, int *bound, mst_error *error) {
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof at;
    int on = 1;
    at.sin_port = htons((uint16_t)(port == MST_SERVE_ANY_PORT ? 0 : port));
    *listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (*listener < 0) return fail_to_listen(port, error);
    setsockopt(*listener, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    if (bind(*listener, (struct sockaddr *)&at, size) != 0 || listen(*listener, BACKLOG) != 0 ||
        getsockname(*listener, (struct sockaddr *)&at, &size) != 0) {
        mst_status status = fail_to_listen(port, error);
        close(*listener);
        return status;
    }
    *bound = ntohs(at.sin_port);
    return MST_OK;
}

static void init_locks(mst_server *server) {
    pthread_condattr_t attributes;
    pthread_mutex_init(&server->session_lock, NULL);
    pthread_mutex_init(&server->event_lock, NULL);
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC); /* a corrected clock must not stretch a wait */
    pthread_cond_init(&server->event, &attributes);
    pthread_condattr_destroy(&attributes);
}

static void free_server(mst_server *server) {
    mst_session_close(server->session);
    pthread_cond_destroy(&server->event);
    pthread_mutex_destroy(&server->event_lock);
    pthread_mutex_destroy(&server->session_lock);
    free(server->web_root);
    free(server);
}

static mst_status new_server(const mst_serve_options *options, mst_server **result, mst_error *error) {
    mst_server *server = calloc(1, sizeof *server);
    if (!server) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    init_locks(server);
    size_t length = strlen(options->web_root) + 1;
    server->web_root = malloc(length);
    mst_status status = server->web_root ? mst_session_open(options->site, &server->session, error)
                                         : mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    if (status) {
        free_server(server);
        return status;
    }
    memcpy(server->web_root, options->web_root, length);
    server->revision = mst_session_revision(server->session);
    *result = server;
    return MST_OK;
}

static mst_status start_threads(mst_server *server, int listener, mst_error *error) {
    server->daemon =
        MHD_start_daemon(MHD_USE_INTERNAL_POLLING_THREAD | MHD_USE_THREAD_PER_CONNECTION | MHD_USE_POLL, 0, NULL, NULL,
                         on_request, server, MHD_OPTION_LISTEN_SOCKET, listener, MHD_OPTION_NOTIFY_COMPLETED,
                         on_completed, NULL, MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MAX,
                         MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)IDLE_S, MHD_OPTION_END);
    if (!server->daemon) {
        close(listener);
        return mst_fail(error, MST_IO, "The server cannot start; is memory short?");
    }
    if (pthread_create(&server->watcher, NULL, http_watch, server) == 0) return MST_OK;
    MHD_stop_daemon(server->daemon);
    return mst_fail(error, MST_IO, "The server cannot start another thread.");
}

mst_status mst_server_start(const mst_serve_options *options, mst_server **server, mst_error *error) {
    int listener, port = options->port ? options->port : MST_SERVE_PORT;
    if (port != MST_SERVE_ANY_PORT && (port < 1 || port > 65535))
        return mst_fail(error, MST_INVALID, "A port is a number from 1 to 65535, not %d.", port);
    mst_status status = new_server(options, server, error);
    if (status) return status;
    status = listen_on(port, &listener, &(*server)->port, error);
    if (!status) status = start_threads(*server, listener, error);
    if (status) {
        free_server(*server);
        *server = NULL;
    }
    return status;
}

int mst_server_port(const mst_server *server) { return server->port; }

void mst_server_stop(mst_server *server) {
    if (!server) return;
    pthread_mutex_lock(&server->event_lock);
    server->stopping = true; /* event streams end themselves */
    pthread_cond_broadcast(&server->event);
    pthread_mutex_unlock(&server->event_lock);
    pthread_join(server->watcher, NULL);
    MHD_stop_daemon(server->daemon); /* joins every connection's thread */
    free_server(server);
}

/* ---- the command ---- */

/* Not waited for: some openers live as long as the browser. */
static void show_in_browser(const char *address) {
    extern char **environ;
    char program[] = "xdg-open", target[64];
    char *words[] = {program, target, NULL};
    sigset_t none;
    posix_spawnattr_t attributes;
    pid_t child;
    snprintf(target, sizeof target, "%s", address);
    sigemptyset(&none);
    posix_spawnattr_init(&attributes);
    posix_spawnattr_setsigmask(&attributes, &none); /* this thread's blocked signals are not the browser's */
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK);
    (void)posix_spawnp(&child, program, NULL, &attributes, words, environ);
    posix_spawnattr_destroy(&attributes);
}

static mst_status serve_until(const sigset_t *signals, const mst_serve_options *options, mst_error *error) {
    mst_server *server;
    int received;
    char address[64];
    mst_status status = mst_server_start(options, &server, error);
    if (status) return status;
    snprintf(address, sizeof address, "http://127.0.0.1:%d/", server->port);
    fprintf(options->out, "%s is open at %s (Ctrl-C stops)\n", options->site, address);
    fflush(options->out);
    if (options->open) show_in_browser(address);
    sigwait(signals, &received);
    mst_server_stop(server);
    fprintf(options->out, "Stopped.\n");
    return MST_OK;
}

mst_status mst_serve(const mst_serve_options *options, mst_error *error) {
    sigset_t signals, before;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    pthread_sigmask(SIG_BLOCK, &signals, &before); /* before any thread, so that only sigwait takes them */
    mst_status status = serve_until(&signals, options, error);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return status;
}
