/* SPDX-License-Identifier: Apache-2.0 */
#include "page_server.h"

#include "clock.h"
#include "err.h"
#include "page.h"
#include "page_listen.h"
#include "page_live.h"
#include "page_server_reply.h"

#include <errno.h>
#include <microhttpd.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

enum {
    PER_ADDRESS_MAX = 4,
    IDLE_S = 10,
    MEMORY_MAX = 32 * 1024,
    STACK = 1024 * 1024,
    LIVE_BLOCK = 4096,
};

static const int64_t request_ns = 10 * CLOCK_NS_PER_S;
static const int64_t answer_ns = 60 * CLOCK_NS_PER_S;
static const int64_t live_every_ns = 2 * CLOCK_NS_PER_S;
static const int64_t never_ns = INT64_MAX;

/* One connection. */
struct visitor {
    int fd;           /* −1: free */
    int64_t due_ns;   /* shut when it is passed */
    bool has_headers; /* of the present request */
    struct page_request request;
    int code; /* of its parsing */
    struct err err;
    int stream; /* index of its live stream; −1: none */
    struct page_server *server;
};

struct page_server {
    struct MHD_Daemon *daemon;
    const struct page_sources *sources;
    struct page_door door;
    /* Below: of both threads. Where the library has a lock of its own, that comes second. */
    pthread_mutex_t mutex;
    struct page_live live;
    int64_t shown_ns; /* when the streams last had a new status; 0: never */
    uint64_t shown_tick;
    struct visitor visitors[PAGE_CONNECTIONS_MAX];
};

static struct visitor *free_visitor(struct page_server *server)
{
    for (int i = 0; i < PAGE_CONNECTIONS_MAX; i++) {
        if (server->visitors[i].fd < 0) {
            return &server->visitors[i];
        }
    }
    return NULL;
}

static void on_connection(void *context, struct MHD_Connection *connection, void **its,
                          enum MHD_ConnectionNotificationCode what)
{
    struct page_server *server = context;
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    pthread_mutex_lock(&server->mutex);
    if (what == MHD_CONNECTION_NOTIFY_STARTED && info) {
        struct visitor *visitor = free_visitor(server);
        if (visitor) {
            *visitor = (struct visitor){.fd = info->connect_fd,
                                        .due_ns = clock_real_ns() + request_ns,
                                        .stream = -1,
                                        .server = server};
            page_listen_tune(visitor->fd);
        }
        *its = visitor;
    } else if (*its) {
        ((struct visitor *)*its)->fd = -1;
    }
    pthread_mutex_unlock(&server->mutex);
}

static struct visitor *visitor_of(struct MHD_Connection *connection)
{
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info ? info->socket_context : NULL;
}

/* The target of the request as it came; the library takes its escapes apart after this. */
static void *on_target(void *context, const char *target, struct MHD_Connection *connection)
{
    struct visitor *visitor = visitor_of(connection);
    (void)context;
    if (visitor) {
        visitor->has_headers = false;
        visitor->err.text[0] = '\0';
        visitor->code = page_parse(target, &visitor->request, &visitor->err);
    }
    return visitor;
}

static void set_due(struct visitor *visitor, int64_t due_ns)
{
    pthread_mutex_lock(&visitor->server->mutex);
    visitor->due_ns = due_ns;
    pthread_mutex_unlock(&visitor->server->mutex);
}

static void on_completed(void *context, struct MHD_Connection *connection, void **its,
                         enum MHD_RequestTerminationCode why)
{
    (void)context;
    (void)connection;
    (void)why;
    if (*its) {
        set_due(*its, clock_real_ns() + request_ns);
    }
}

/* A newer status for the streams, at most every 2 s. Call without the mutex. */
static void refresh(struct page_server *server, int64_t real_ns)
{
    const struct picture *picture = snapshot_take(server->sources->snapshot);
    const uint64_t tick = picture ? picture->ticks : 0;
    if (picture) {
        snapshot_release(server->sources->snapshot, picture);
    }
    pthread_mutex_lock(&server->mutex);
    const bool is_due = tick != server->shown_tick &&
                        (server->shown_ns == 0 || real_ns - server->shown_ns >= live_every_ns);
    if (is_due) {
        server->shown_ns = real_ns;
        server->shown_tick = tick;
    }
    pthread_mutex_unlock(&server->mutex);
    char *text = is_due ? page_status_text(server->sources) : NULL;
    if (text) {
        pthread_mutex_lock(&server->mutex);
        (void)page_live_show(&server->live, text); /* without memory the old one stays */
        pthread_mutex_unlock(&server->mutex);
        free(text);
    }
}

static ssize_t on_stream_read(void *context, uint64_t position, char *buffer, size_t size)
{
    struct visitor *visitor = context;
    struct page_server *server = visitor->server;
    (void)position;
    pthread_mutex_lock(&server->mutex);
    const ssize_t got =
        page_live_read(&server->live, visitor->stream, buffer, size, clock_real_ns());
    if (got == 0) {
        MHD_suspend_connection(server->live.clients[visitor->stream].peer);
    }
    pthread_mutex_unlock(&server->mutex);
    return got == PAGE_LIVE_END ? MHD_CONTENT_READER_END_OF_STREAM : got;
}

static void on_stream_end(void *context)
{
    struct visitor *visitor = context;
    pthread_mutex_lock(&visitor->server->mutex);
    page_live_leave(&visitor->server->live, visitor->stream);
    visitor->stream = -1;
    pthread_mutex_unlock(&visitor->server->mutex);
}

static enum MHD_Result send_stream(struct MHD_Connection *connection, struct visitor *visitor)
{
    struct page_server *server = visitor->server;
    const int64_t now_ns = clock_real_ns();
    refresh(server, now_ns);
    pthread_mutex_lock(&server->mutex);
    visitor->stream = page_live_join(&server->live, connection, now_ns);
    visitor->due_ns = visitor->stream >= 0 ? never_ns : visitor->due_ns;
    pthread_mutex_unlock(&server->mutex);
    if (visitor->stream < 0) {
        return page_reply_refusal(connection, &visitor->request, MHD_HTTP_SERVICE_UNAVAILABLE,
                                  "four browsers are looking live already; this one can ask for "
                                  "/status.json now and then");
    }
    struct MHD_Response *response = MHD_create_response_from_callback(
        MHD_SIZE_UNKNOWN, LIVE_BLOCK, on_stream_read, visitor, on_stream_end);
    if (!response) {
        on_stream_end(visitor);
        return MHD_NO;
    }
    page_listen_tune_stream(visitor->fd);
    page_reply_headers(response, "text/event-stream", false);
    const enum MHD_Result result = MHD_queue_response(connection, MHD_HTTP_OK, response);
    MHD_destroy_response(response);
    return result;
}

static enum MHD_Result on_request(void *context, struct MHD_Connection *connection, const char *url,
                                  const char *method, const char *version, const char *upload,
                                  size_t *upload_size, void **its)
{
    struct page_server *server = context;
    struct visitor *visitor = *its;
    struct page_answer answer;
    const char *sentence = NULL;
    (void)url;
    (void)version;
    (void)upload;
    *upload_size = 0; /* a body is refused at the first call */
    if (!visitor || atomic_load(&server->sources->is_over)) {
        return MHD_NO;
    }
    set_due(visitor, clock_real_ns() + answer_ns);
    const int status = page_reply_stranger(connection, &server->door, method, &sentence);
    if (status != 0) {
        return page_reply_refusal(connection, &visitor->request, status, sentence) ? MHD_YES
                                                                                   : MHD_NO;
    }
    if (!visitor->has_headers) { /* an answer at this call would end the connection */
        visitor->has_headers = true;
        return MHD_YES;
    }
    if (visitor->code == 0 && visitor->request.path->what == PAGE_LIVE &&
        strcmp(method, MHD_HTTP_METHOD_GET) == 0) {
        return send_stream(connection, visitor);
    }
    page_answer(server->sources, &visitor->request, visitor->code, &visitor->err, &answer);
    return page_reply(connection, &answer) ? MHD_YES : MHD_NO;
}

void page_server_pulse(struct page_server *server, int64_t real_ns)
{
    pthread_mutex_lock(&server->mutex);
    const bool is_watched =
        !page_live_is_empty(&server->live) && !atomic_load(&server->sources->is_over);
    for (int i = 0; i < PAGE_CONNECTIONS_MAX; i++) {
        struct visitor *visitor = &server->visitors[i];
        if (visitor->fd >= 0 && real_ns > visitor->due_ns) {
            page_listen_shut(visitor->fd);
            visitor->due_ns = never_ns;
        }
    }
    pthread_mutex_unlock(&server->mutex);
    if (is_watched) {
        refresh(server, real_ns);
    }
    pthread_mutex_lock(&server->mutex);
    for (int i = page_live_wake(&server->live, real_ns); i >= 0;
         i = page_live_wake(&server->live, real_ns)) {
        MHD_resume_connection(server->live.clients[i].peer);
    }
    pthread_mutex_unlock(&server->mutex);
}

static void server_free(struct page_server *server)
{
    page_live_finish(&server->live);
    pthread_mutex_destroy(&server->mutex);
    explicit_bzero(&server->door.secret, sizeof server->door.secret);
    free(server);
}

static int start(struct page_server *server, int fd, struct err *err)
{
    /* One address may take all places where they all come from one: this computer, or a proxy. */
    const bool is_one = server->door.config.is_behind_proxy ||
                        page_reach(server->door.config.address) == PAGE_REACH_LOOPBACK;
    server->daemon = MHD_start_daemon(
        MHD_USE_POLL_INTERNAL_THREAD | MHD_USE_ITC | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL,
        on_request, server, MHD_OPTION_LISTEN_SOCKET, fd, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)PAGE_CONNECTIONS_MAX, MHD_OPTION_PER_IP_CONNECTION_LIMIT,
        is_one ? 0U : (unsigned)PER_ADDRESS_MAX, MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)IDLE_S,
        MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)MEMORY_MAX, MHD_OPTION_THREAD_STACK_SIZE,
        (size_t)STACK, MHD_OPTION_NOTIFY_CONNECTION, on_connection, server,
        MHD_OPTION_NOTIFY_COMPLETED, on_completed, server, MHD_OPTION_URI_LOG_CALLBACK, on_target,
        server, MHD_OPTION_END);
    return server->daemon ? 0 : err_fail(err, EIO, "libmicrohttpd cannot start");
}

int page_server_start(const struct config_page *config, const struct page_sources *sources,
                      struct page_server **ret, struct err *err)
{
    struct page_server *server = calloc(1, sizeof *server);
    if (!server) {
        return err_fail(err, ENOMEM, "no memory for the page");
    }
    server->door.config = *config;
    server->sources = sources;
    pthread_mutex_init(&server->mutex, NULL);
    for (int i = 0; i < PAGE_CONNECTIONS_MAX; i++) {
        server->visitors[i].fd = -1;
    }
    int code = page_secret_read(config->password_file, &server->door.secret, err);
    if (code == 0) {
        const int fd = page_listen(config->address, config->port, err);
        code = fd < 0 ? fd : start(server, fd, err);
    }
    if (code < 0) {
        server_free(server);
        return code;
    }
    *ret = server;
    return 0;
}

void page_server_stop(struct page_server *server)
{
    if (!server) {
        return;
    }
    pthread_mutex_lock(&server->mutex);
    server->live.is_closing = true;
    pthread_mutex_unlock(&server->mutex);
    page_server_pulse(server, clock_real_ns()); /* none may be asleep when the library stops */
    MHD_stop_daemon(server->daemon);
    server_free(server);
}
