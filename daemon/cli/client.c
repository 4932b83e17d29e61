/* SPDX-License-Identifier: Apache-2.0 */
#include "client.h"

#include "clock.h"
#include "control_proto.h"
#include "err.h"
#include "verb.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

static const int64_t patience_ns = 10 * CLOCK_NS_PER_S;
static const int64_t busy_ns = 3 * CLOCK_NS_PER_S; /* a start or a reload is over in two ticks */
static const int64_t pause_ns = 200 * CLOCK_NS_PER_MS;

static int connect_to(const char *path, struct err *err)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    const size_t length = strlen(path);
    if (length >= sizeof address.sun_path) {
        return err_fail(err, ENAMETOOLONG, "%s: a socket's path has at most %zu bytes", path,
                        sizeof address.sun_path - 1);
    }
    memcpy(address.sun_path, path, length);
    const int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0) {
        return err_fail(err, errno, "no socket: %s", err_name(errno));
    }
    if (connect(fd, (const struct sockaddr *)&address, sizeof address) == 0) {
        return fd;
    }
    const int code = errno;
    (void)close(fd);
    if (code == ENOENT || code == ECONNREFUSED) {
        return err_fail(err, code, "no daemon answers at %s; is lampwardend running?", path);
    }
    if (code == EACCES) {
        return err_fail(err, code,
                        "not allowed to use %s: only root, the daemon's user and its control group "
                        "may",
                        path);
    }
    return err_fail(err, code, "%s: %s", path, err_name(code));
}

static int wait_for(int fd, short events, int64_t deadline_ns, struct err *err)
{
    const int64_t left_ms = (deadline_ns - clock_boot_ns()) / CLOCK_NS_PER_MS;
    struct pollfd poller = {.fd = fd, .events = events};
    const int ready = left_ms > 0 ? poll(&poller, 1, (int)left_ms) : 0;
    if (ready > 0 || (ready < 0 && errno == EINTR)) {
        return 0;
    }
    return err_fail(err, ETIMEDOUT, "the daemon did not answer in time");
}

static int send_all(int fd, const char *text, int64_t deadline_ns, struct err *err)
{
    for (size_t left = strlen(text); left > 0;) {
        const int rc = wait_for(fd, POLLOUT, deadline_ns, err);
        if (rc < 0) {
            return rc;
        }
        const ssize_t sent = send(fd, text, left, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (sent < 0 && errno != EAGAIN && errno != EINTR) {
            return err_fail(err, errno, "the daemon closed the connection: %s", err_name(errno));
        }
        if (sent > 0) {
            text += sent;
            left -= (size_t)sent;
        }
    }
    return 0;
}

/* One line without its newline; *ret_line is the caller's. */
static int read_line(int fd, int64_t deadline_ns, char **ret_line, size_t *ret_size,
                     struct err *err)
{
    size_t size = 0;
    char *line = malloc(CONTROL_REPLY_MAX + 1);
    if (!line) {
        return err_fail(err, ENOMEM, "out of memory");
    }
    int rc = 0;
    while (rc == 0) {
        rc = wait_for(fd, POLLIN, deadline_ns, err);
        const ssize_t got =
            rc == 0 ? recv(fd, line + size, CONTROL_REPLY_MAX - size, MSG_DONTWAIT) : -1;
        if (rc < 0 || (got < 0 && (errno == EAGAIN || errno == EINTR))) {
            continue;
        }
        if (got <= 0) {
            rc = err_fail(err, EPROTO, "the daemon ended the connection without an answer");
            break;
        }
        const char *newline = memchr(line + size, '\n', (size_t)got);
        size += (size_t)got;
        if (newline) {
            *ret_line = line;
            *ret_size = (size_t)(newline - line);
            return 0;
        }
        if (size == CONTROL_REPLY_MAX) {
            rc = err_fail(err, EMSGSIZE, "the answer is longer than %d bytes", CONTROL_REPLY_MAX);
        }
    }
    free(line);
    return rc;
}

static int ask_once(const char *socket_path, const char *request, json_t **ret_result,
                    struct err *err)
{
    const int64_t deadline_ns = clock_boot_ns() + patience_ns;
    const int fd = connect_to(socket_path, err);
    char *line = NULL;
    size_t size = 0;
    int rc = fd < 0 ? fd : send_all(fd, request, deadline_ns, err);
    if (rc == 0) {
        rc = read_line(fd, deadline_ns, &line, &size, err);
    }
    if (rc == 0) {
        rc = control_answer(line, size, ret_result, err);
    }
    if (fd >= 0) {
        (void)close(fd); /* nothing is pending */
    }
    free(line);
    return rc;
}

int client_ask(const char *socket_path, const char *method, json_t *params, json_t **ret_result,
               struct err *err)
{
    char *request = control_request(method, params);
    if (!request) {
        return err_fail(err, ENOMEM, "out of memory");
    }
    const int64_t until_ns = clock_boot_ns() + busy_ns;
    int rc = ask_once(socket_path, request, ret_result, err);
    while (rc == -EAGAIN && clock_boot_ns() < until_ns) {
        (void)clock_sleep_until(clock_boot_ns() + pause_ns, NULL);
        rc = ask_once(socket_path, request, ret_result, err);
    }
    free(request);
    return rc;
}

int client_tell(const char *verb, const char *socket_path, json_t *params, bool wants_json)
{
    struct err err;
    json_t *result = NULL;
    size_t i;
    json_t *warning;
    if (client_ask(socket_path, verb, params, &result, &err) < 0) {
        return verb_fail(verb, VERB_FAILED, "%s", err.text);
    }
    if (wants_json) {
        (void)json_dumpf(result, stdout, JSON_COMPACT);
        (void)putchar('\n');
    } else {
        const json_t *sentence = json_object_get(result, "sentence");
        (void)puts(sentence ? json_string_value(sentence) : "done");
        json_array_foreach(json_object_get(result, "warnings"), i, warning)
        {
            (void)printf("! %s\n", json_string_value(warning));
        }
    }
    json_decref(result);
    return VERB_OK;
}
