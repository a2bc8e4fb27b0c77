/* The page's server from outside, over a real socket. Expectations: RFC 9110 (status codes, Host), RFC 6454 (Origin),
 * WHATWG HTML 9.2 (event stream), and the contract of issue and design pages (409, limits, sentences). */
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>
#include <arpa/inet.h>
#include <dirent.h>
#include <pthread.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>
#include "http/double_helper.h"
#include "http/serve.h"

static mst_server *server;
static char root[] = "/tmp/merestone-root-XXXXXX";
static FILE *quiet;

/* ---- a client that sends exactly what it is told ---- */

static int dial(int port) {
    struct sockaddr_in at = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    at.sin_port = htons((uint16_t)port);
    int s = socket(AF_INET, SOCK_STREAM, 0);
    struct timeval patience = {5, 0};
    setsockopt(s, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    return connect(s, (struct sockaddr *)&at, sizeof at) == 0 ? s : -1;
}
static void send_all(int s, const char *text, size_t length) {
    while (length) {
        ssize_t sent = send(s, text, length, MSG_NOSIGNAL);
        if (sent <= 0) return;
        text += sent;
        length -= (size_t)sent;
    }
}
/* Reads until @p until is there, or the other side closes. */
static void read_until(int s, const char *until, char *out, size_t room) {
    size_t length = 0;
    out[0] = '\0';
    while (length + 1 < room && !(until && strstr(out, until))) {
        ssize_t got = recv(s, out + length, room - 1 - length, 0);
        if (got <= 0) return;
        length += (size_t)got;
        out[length] = '\0';
    }
}
typedef struct answer {
    int code;
    char text[16384];
} answer;
static answer ask(const char *method, const char *path, const char *headers, const char *body) {
    static char request[4096];
    answer a = {0};
    int s = dial(mst_server_port(server));
    assert_true(s >= 0);
    int length =
        snprintf(request, sizeof request, "%s %s HTTP/1.1\r\n%sConnection: close\r\nContent-Length: %zu\r\n\r\n%s",
                 method, path, headers, strlen(body), body);
    send_all(s, request, (size_t)length);
    read_until(s, NULL, a.text, sizeof a.text);
    close(s);
    assert_int_equal(sscanf(a.text, "HTTP/1.1 %d", &a.code), 1);
    return a;
}
static const char *own_headers(const char *more) {
    static char headers[512];
    snprintf(headers, sizeof headers, "Host: 127.0.0.1:%d\r\n%s", mst_server_port(server), more);
    return headers;
}
static answer post(const char *path, const char *body) {
    return ask("POST", path, own_headers("Content-Type: application/json\r\n"), body);
}
static answer get(const char *path) { return ask("GET", path, own_headers(""), ""); }
static void says(const answer *a, int code, const char *part) {
    if (a->code != code || !strstr(a->text, part)) fail_msg("wanted %d %s, got: %s", code, part, a->text);
}

/* ---- set-up ---- */

static void write_page(const char *name, const char *text) {
    char path[256];
    snprintf(path, sizeof path, "%s/%s", root, name);
    FILE *f = fopen(path, "w");
    assert_non_null(f);
    fputs(text, f);
    fclose(f);
}
static int start(void **state) {
    (void)state;
    char folder[256];
    quiet = fopen("/dev/null", "w");
    if (!mkdtemp(root)) return 1;
    snprintf(folder, sizeof folder, "%s/assets", root);
    mkdir(folder, 0700);
    write_page("index.html", "<title>the page</title>");
    write_page("assets/a-1f.js", "let a;");
    write_page(".hidden", "not for eyes");
    mst_serve_options options = {"site.gpkg", MST_SERVE_ANY_PORT, false, root, quiet};
    return mst_server_start(&options, &server, NULL) != MST_OK;
}
static int stop(void **state) {
    (void)state;
    static const char *const made[] = {"index.html", "assets/a-1f.js", ".hidden", "assets", ""};
    char path[256];
    mst_server_stop(server);
    for (size_t i = 0; i < sizeof made / sizeof *made; i++) {
        snprintf(path, sizeof path, "%s/%s", root, made[i]);
        remove(path);
    }
    fclose(quiet);
    return 0;
}

/* ---- the tests ---- */

static void an_operation_answers_as_json(void **state) {
    (void)state;
    answer a = post("/api/echo", "{\"easting_m\":500096.1149,\"name\":\"A4\"}");
    says(&a, 200, "\r\n\r\n{\"easting_m\":500096.1149,\"name\":\"A4\"}");
    says(&a, 200, "application/json");
    a = get("/api/operations");
    says(&a, 200, "{\"name\":\"edit\",\"summary\":\"makes a revision\",\"changes\":true}");
    a = post("/api/no", "{}");
    says(&a, 200, "{\"checks\":[]}");
}
static void a_failure_is_a_sentence_with_its_place(void **state) {
    (void)state;
    answer a = post("/api/refuse", "{}");
    says(&a, 400,
         "\"sentence\":\"The distance \\\"1,5\\\" is not a number.\",\"page\":\"tape.csv\",\"row\":4,\"column\":3");
    a = post("/api/nothing", "{}");
    says(&a, 404, "There is no such operation.");
    a = post("/api/echo", "{\"a\":1,\"a\":2}");
    says(&a, 400, "The request is not JSON");
    a = post("/api/echo", "[1]");
    says(&a, 400, "not a JSON object");
    a = get("/api/echo");
    says(&a, 405, "with POST");
}
static void a_stale_edit_is_refused_with_what_changed(void **state) {
    (void)state;
    int64_t seen = mst_session_revision(&the_site);
    char body[64];
    answer a = post("/api/edit", "{}");
    says(&a, 200, "\"revision\":");
    snprintf(body, sizeof body, "{\"expected_revision\":%d}", (int)seen);
    a = post("/api/edit", body);
    says(&a, 409, "\"status\":\"conflict\"");
    snprintf(body, sizeof body, "\"changes\":[{\"revision\":%d,\"why\":\"typed a tape\"}]", (int)seen + 1);
    says(&a, 409, body);
}
static void strangers_are_turned_away(void **state) {
    (void)state;
    char headers[256];
    answer a = ask("GET", "/", "Host: evil.example\r\n", "");
    says(&a, 403, "this machine's own name");
    a = ask("GET", "/", "", "");
    assert_true(a.code == 400 || a.code == 403);
    a = ask("POST", "/api/edit", own_headers("Origin: http://evil.example\r\nContent-Type: application/json\r\n"),
            "{}");
    says(&a, 403, "its own page only");
    a = ask("POST", "/api/edit", own_headers("Content-Type: text/plain\r\n"), "{}");
    says(&a, 403, "application/json");
    a = ask("GET", "/api/operations", own_headers("Sec-Fetch-Site: cross-site\r\n"), "");
    says(&a, 403, "its own page only");
    snprintf(headers, sizeof headers, "Origin: http://localhost:%d\r\nContent-Type: application/json\r\n",
             mst_server_port(server));
    a = ask("POST", "/api/echo", own_headers(headers), "{}");
    says(&a, 200, "{}");
    a = post("/api/export", "{\"output\":\"/tmp/anything\"}");
    says(&a, 400, "may not name a place on this machine");
}
static void the_page_is_served_and_nothing_above_it(void **state) {
    (void)state;
    answer a = get("/");
    says(&a, 200, "<title>the page</title>");
    says(&a, 200, "Content-Security-Policy: default-src 'self'");
    says(&a, 200, "no-cache");
    a = get("/assets/a-1f.js");
    says(&a, 200, "immutable");
    static const char *const outside[] = {"/.hidden",           "/../etc/passwd", "/assets/../.hidden", "//etc/passwd",
                                          "/%2e%2e/etc/passwd", "/assets",        "/assets/",           "/nothing"};
    for (size_t i = 0; i < sizeof outside / sizeof *outside; i++) {
        a = get(outside[i]);
        says(&a, 404, "There is nothing at this address.");
    }
    a = ask("POST", "/", own_headers("Content-Type: application/json\r\n"), "{}");
    says(&a, 405, "only be read");
}
static int scratch_folders(void) {
    int count = 0;
    DIR *folder = opendir("/tmp");
    for (struct dirent *e; folder && (e = readdir(folder));)
        if (strncmp(e->d_name, "merestone-", 10) == 0 && strlen(e->d_name) == 16) count++;
    if (folder) closedir(folder);
    return count;
}
static void a_download_is_streamed_and_leaves_nothing(void **state) {
    (void)state;
    setenv("TMPDIR", "/tmp", 1);
    int before = scratch_folders();
    answer a = get("/api/download/export?name=site.dxf&arguments=%7B%22to%22%3A%22dxf%22%7D");
    says(&a, 200, "\r\n\r\nto:dxf");
    says(&a, 200, "attachment; filename=\"site.dxf\"");
    assert_int_equal(scratch_folders(), before);
    static const char *const refused[] = {"/api/download/export?name=..%2Fx", "/api/download/export?name=.x",
                                          "/api/download/export", "/api/download/export?name=a%22b",
                                          "/api/download/export?name=a.dxf&arguments=7"};
    for (size_t i = 0; i < sizeof refused / sizeof *refused; i++) {
        a = get(refused[i]);
        assert_int_equal(a.code, 400);
    }
    a = get("/api/download/edit?name=a.dxf");
    says(&a, 404, "no such download");
    a = get("/api/download/refuse?name=a.dxf");
    says(&a, 400, "not a number");
    assert_int_equal(scratch_folders(), before);
}
/* 70 MiB, over what a JSON body may hold. */
static void a_scan_is_taken_in_as_it_comes_and_leaves_nothing(void **state) {
    (void)state;
    static const char ADDRESS[] = "/api/upload/cloud?name=scan.las&arguments=%7B%22tolerance%22%3A1%7D";
    static char block[1 << 20], request[1024], text[4096];
    const int blocks = 70;
    setenv("TMPDIR", "/tmp", 1);
    int before = scratch_folders(), s = dial(mst_server_port(server));
    int64_t revision = mst_session_revision(&the_site);
    int length =
        snprintf(request, sizeof request, "POST %s HTTP/1.1\r\n%sConnection: close\r\nContent-Length: %d\r\n\r\n",
                 ADDRESS, own_headers("Content-Type: application/octet-stream\r\n"), blocks << 20);
    memset(block, 'L', sizeof block);
    send_all(s, request, (size_t)length);
    for (int i = 0; i < blocks; i++) send_all(s, block, sizeof block);
    read_until(s, NULL, text, sizeof text);
    close(s);
    assert_non_null(strstr(text, " 200 "));
    assert_non_null(strstr(text, "{\"first\":\"LLLLLLLLLLLLLLL\",\"bytes\":73400320}"));
    assert_int_equal(mst_session_revision(&the_site), revision + 1);
    assert_int_equal(scratch_folders(), before);
    const char *bytes = "Content-Type: application/octet-stream\r\n";
    answer a = ask("POST", "/api/upload/cloud?name=scan.las", own_headers(bytes), "LASF");
    says(&a, 400, "No tolerance.");
    a = ask("POST", "/api/upload/cloud?name=..%2Fx", own_headers(bytes), "LASF");
    says(&a, 400, "plain file name");
    a = ask("POST", "/api/upload/cloud?name=a.las&arguments=%7B%22path%22%3A%22/etc/passwd%22%7D", own_headers(bytes),
            "L");
    says(&a, 400, "name a place");
    a = ask("POST", "/api/upload/import?name=a.las", own_headers(bytes), "L");
    says(&a, 404, "no such upload");
    a = ask("POST", ADDRESS, own_headers("Content-Type: text/plain\r\n"), "LASF");
    says(&a, 403, "application/");
    a = ask("POST", "/api/edit", own_headers(bytes), "{}");
    says(&a, 403, "application/json");
    assert_int_equal(scratch_folders(), before);
    /* a page that is closed on the way */
    s = dial(mst_server_port(server));
    length = snprintf(request, sizeof request, "POST %s HTTP/1.1\r\n%sContent-Length: 9999999\r\n\r\nLASF", ADDRESS,
                      own_headers(bytes));
    send_all(s, request, (size_t)length);
    nanosleep(&(struct timespec){0, 100000000}, NULL);
    close(s);
    for (int i = 0; i < 50 && scratch_folders() != before; i++) nanosleep(&(struct timespec){0, 100000000}, NULL);
    assert_int_equal(scratch_folders(), before);
    assert_int_equal(mst_session_revision(&the_site), revision + 1);
}
static void what_is_too_large_is_refused_before_it_comes(void **state) {
    (void)state;
    char request[512], text[4096];
    int s = dial(mst_server_port(server));
    int length = snprintf(request, sizeof request, "POST /api/echo HTTP/1.1\r\n%sContent-Length: 99999999\r\n\r\n",
                          own_headers("Content-Type: application/json\r\n"));
    send_all(s, request, (size_t)length);
    read_until(s, "64 MiB", text, sizeof text);
    assert_non_null(strstr(text, "413"));
    close(s);
}
static void pages_hear_each_change(void **state) {
    (void)state;
    char request[512], text[8192], wanted[64];
    int s = dial(mst_server_port(server));
    int length = snprintf(request, sizeof request, "GET /api/events HTTP/1.1\r\n%s\r\n", own_headers(""));
    int64_t now = mst_session_revision(&the_site);
    send_all(s, request, (size_t)length);
    snprintf(wanted, sizeof wanted, "data: {\"revision\":%d}\n\n", (int)now);
    read_until(s, wanted, text, sizeof text);
    assert_non_null(strstr(text, wanted));
    assert_non_null(strstr(text, "text/event-stream"));
    answer a = post("/api/edit", "{}");
    assert_int_equal(a.code, 200);
    snprintf(wanted, sizeof wanted, "data: {\"revision\":%d}\n\n", (int)now + 1);
    read_until(s, wanted, text, sizeof text);
    assert_non_null(strstr(text, wanted));
    __atomic_add_fetch(&the_site.revision, 1, __ATOMIC_SEQ_CST); /* as another program would */
    snprintf(wanted, sizeof wanted, "data: {\"revision\":%d}\n\n", (int)now + 2);
    read_until(s, wanted, text, sizeof text);
    assert_non_null(strstr(text, wanted));
    close(s);
}
static void *edit_often(void *failures) {
    for (int i = 0; i < 500; i++) {
        int s = dial(mst_server_port(server));
        char request[512], text[2048];
        int length = snprintf(request, sizeof request,
                              "POST /api/edit HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nContent-Type: application/json\r\n"
                              "Connection: close\r\nContent-Length: 2\r\n\r\n{}",
                              mst_server_port(server));
        send_all(s, request, (size_t)length);
        read_until(s, NULL, text, sizeof text);
        if (!strstr(text, " 200 ")) ++*(int *)failures;
        close(s);
    }
    return NULL;
}
static void a_thousand_interleaved_edits_are_all_there(void **state) {
    (void)state;
    int64_t before = mst_session_revision(&the_site);
    pthread_t pages[2];
    int failures[2] = {0, 0};
    for (int i = 0; i < 2; i++) assert_int_equal(pthread_create(&pages[i], NULL, edit_often, &failures[i]), 0);
    for (int i = 0; i < 2; i++) pthread_join(pages[i], NULL);
    assert_int_equal(failures[0] + failures[1], 0);
    assert_int_equal(mst_session_revision(&the_site) - before, 1000);
}
static void a_start_that_cannot_be_is_said(void **state) {
    (void)state;
    mst_server *second = NULL;
    mst_error error = {0};
    mst_serve_options options = {"site.gpkg", mst_server_port(server), false, root, quiet};
    assert_int_equal(mst_server_start(&options, &second, &error), MST_IO);
    assert_non_null(strstr(error.sentence, "is taken by another program"));
    options.port = 70000;
    assert_int_equal(mst_server_start(&options, &second, &error), MST_INVALID);
    options = (mst_serve_options){"missing.gpkg", MST_SERVE_ANY_PORT, false, root, quiet};
    assert_int_equal(mst_server_start(&options, &second, &error), MST_NOT_FOUND);
    assert_null(second);
}
/* The signal reaches a process of its own, while a page listens. */
static void it_stops_cleanly_on_a_signal(void **state) {
    (void)state;
    int pipes[2], port = 0, status = 0;
    assert_int_equal(pipe(pipes), 0);
    pid_t child = fork();
    if (child == 0) {
        mst_serve_options options = {"site.gpkg", MST_SERVE_ANY_PORT, false, root, fdopen(pipes[1], "w")};
        _exit(mst_serve(&options, NULL) == MST_OK ? 0 : 1);
    }
    close(pipes[1]);
    FILE *said = fdopen(pipes[0], "r");
    assert_int_equal(fscanf(said, "site.gpkg is open at http://127.0.0.1:%d/", &port), 1);
    char request[256], text[2048];
    int s = dial(port);
    int length = snprintf(request, sizeof request, "GET /api/events HTTP/1.1\r\nHost: localhost:%d\r\n\r\n", port);
    send_all(s, request, (size_t)length);
    read_until(s, "data:", text, sizeof text);
    assert_non_null(strstr(text, "data:"));
    kill(child, SIGTERM);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    close(s);
    fclose(said);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_operation_answers_as_json),
        cmocka_unit_test(a_failure_is_a_sentence_with_its_place),
        cmocka_unit_test(a_stale_edit_is_refused_with_what_changed),
        cmocka_unit_test(strangers_are_turned_away),
        cmocka_unit_test(the_page_is_served_and_nothing_above_it),
        cmocka_unit_test(a_download_is_streamed_and_leaves_nothing),
        cmocka_unit_test(a_scan_is_taken_in_as_it_comes_and_leaves_nothing),
        cmocka_unit_test(what_is_too_large_is_refused_before_it_comes),
        cmocka_unit_test(pages_hear_each_change),
        cmocka_unit_test(a_thousand_interleaved_edits_are_all_there),
        cmocka_unit_test(a_start_that_cannot_be_is_said),
        cmocka_unit_test(it_stops_cleanly_on_a_signal),
    };
    return cmocka_run_group_tests(tests, start, stop);
}
