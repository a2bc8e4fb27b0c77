/** @file src/http/server.h  What the server's parts share. Not for other areas. */
#ifndef HTTP_SERVER_H
#define HTTP_SERVER_H
#include <microhttpd.h>
#include <pthread.h>
#include "http/serve.h"
#include "merestone/operations.h"

/** Largest request body, and so the largest page that can be dropped: as MST_PAGE_BYTES_MAX plus its JSON wrapping. */
#define HTTP_BODY_MAX (65u * 1024u * 1024u)

struct mst_server {
    struct MHD_Daemon *daemon;
    int port;
    char *web_root;
    mst_session *session;
    pthread_mutex_t session_lock; /**< held for every call on the session: it allows one caller at a time */
    pthread_mutex_t event_lock;   /**< guards revision and stopping; never taken while waiting for session_lock */
    pthread_cond_t event;         /**< revision or stopping changed */
    int64_t revision;
    bool stopping;
    pthread_t watcher;
};

/** One request on its way in. */
typedef struct http_request {
    mst_server *server;
    struct MHD_Connection *connection;
    const char *method, *path;
    mst_text body;
    struct http_upload *upload; /**< where the body goes instead, or NULL */
} http_request;

/* reply.c */
enum MHD_Result http_reply(const http_request *request, unsigned code, const char *type, struct MHD_Response *response);
enum MHD_Result http_reply_json(const http_request *request, unsigned code, json_t *body); /**< steals @p body */
enum MHD_Result http_reply_error(const http_request *request, const mst_error *error);
enum MHD_Result http_refuse(const http_request *request, unsigned code, const char *sentence);
json_t *http_error_json(const mst_error *error);
unsigned http_code_of(mst_status status);

/* guard.c */
/** @return NULL when the request comes from this machine's own page, else a sentence. */
const char *http_guard(const http_request *request);

/* api.c */
enum MHD_Result http_api(const http_request *request);
/** Runs an operation behind the lock and tells the listening pages when it made a revision. */
mst_status http_operate(mst_server *server, const char *name, const json_t *arguments, json_t **result,
                        mst_error *error);

/* events.c */
enum MHD_Result http_events(const http_request *request);
void http_announce(mst_server *server, int64_t revision);
void *http_watch(void *server); /**< thread: announces changes that other programs make */

/* upload.c */
typedef struct http_upload http_upload;
bool http_is_upload(const http_request *request);
enum MHD_Result http_upload_begin(http_request *request);
void http_upload_add(http_request *request, const char *data, size_t length);
enum MHD_Result http_upload_answer(http_request *request);
void http_upload_end(http_upload *upload); /**< NULL: nothing */

/* files.c, download.c */
enum MHD_Result http_static(const http_request *request);
enum MHD_Result http_download(const http_request *request, const char *operation);
/** The arguments in the query, with the place of the temporary file under @p key. @return NULL when they are no object
 * or have that key already */
json_t *http_file_arguments(const http_request *request, const char *key, const char *path, mst_error *error);
/** @return the media type by the ending of @p name. */
const char *http_media_type(const char *name);
#endif
