/** @file src/http/serve.h  The page's server: named operations, events, downloads and static files on loopback. */
#ifndef HTTP_SERVE_H
#define HTTP_SERVE_H
#include <stdio.h>
#include "merestone/base.h"

enum { MST_SERVE_PORT = 8317, MST_SERVE_ANY_PORT = -1 };

typedef struct mst_serve_options {
    const char *site;     /**< path of the site file */
    int port;             /**< 0 = MST_SERVE_PORT; MST_SERVE_ANY_PORT = whichever is free */
    bool open;            /**< show the page in the user's browser */
    const char *web_root; /**< folder of the built page */
    FILE *out;            /**< where the address is said */
} mst_serve_options;

/** Serves @p options->site until SIGINT or SIGTERM, then closes every connection and the site.
 * Blocks these two signals in the calling thread while it runs; call before other threads are started.
 * @retval MST_IO  the port is taken or the machine refuses the socket; and what mst_session_open returns */
mst_status mst_serve(const mst_serve_options *options, mst_error *error) MST_CHECKED;

typedef struct mst_server mst_server; /**< opaque: threads and a session behind a lock */
/** As mst_serve, but returns while the server runs; the caller ends it with mst_server_stop. */
mst_status mst_server_start(const mst_serve_options *options, mst_server **server, mst_error *error) MST_CHECKED;
int mst_server_port(const mst_server *server);
void mst_server_stop(mst_server *server); /**< NULL is allowed */
#endif
