/* SPDX-License-Identifier: Apache-2.0 */
#include "control.h"

#include "clock.h"
#include "control_proto.h"
#include "err.h"
#include "log.h"
#include "peer.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

static const int64_t slow_ns = 5 * CLOCK_NS_PER_S;
static const int64_t idle_ns = 60 * CLOCK_NS_PER_S;

struct client {
    int fd; /* −1: free */
    char in[CONTROL_LINE_MAX + 1];
    size_t in_used;
    char *out; /* NULL: nothing to send */
    size_t out_size, out_sent;
    uint32_t events; /* what its socket is watched for */
    int64_t due_ns;  /* dropped when it is passed */
    bool is_leaving; /* close once the answer is sent */
};

struct control {
    struct control_setup setup;
    char path[108];
    struct peer_rules peers;
    int listen_fd, epoll_fd;
    struct client clients[CONTROL_CLIENTS_MAX];
};

static void drop(struct client *client)
{
    if (client->fd >= 0) {
        (void)close(client->fd); /* leaves the epoll set by itself */
    }
    free(client->out);
    client->out = NULL;
    client->fd = -1;
}

static void listen_for(struct control *control, struct client *client, uint32_t events)
{
    struct epoll_event event = {.events = events, .data.ptr = client};
    if (client->fd < 0 || client->events == events) {
        return;
    }
    if (epoll_ctl(control->epoll_fd, EPOLL_CTL_MOD, client->fd, &event) != 0) {
        drop(client);
        return;
    }
    client->events = events;
}

/* Sends what the socket takes. False: the client is gone. */
static bool send_some(struct control *control, struct client *client, int64_t real_ns)
{
    while (client->out && client->out_sent < client->out_size) {
        ssize_t sent = send(client->fd, client->out + client->out_sent,
                            client->out_size - client->out_sent, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (sent < 0 && errno == EINTR) {
            continue;
        }
        if (sent < 0 && (errno == EAGAIN || errno == EWOULDBLOCK)) {
            listen_for(control, client, EPOLLOUT); /* no reading before the answer is out */
            return client->fd >= 0;
        }
        if (sent < 0) {
            drop(client);
            return false;
        }
        client->out_sent += (size_t)sent;
        client->due_ns = real_ns + slow_ns;
    }
    free(client->out);
    client->out = NULL;
    client->due_ns = real_ns + idle_ns;
    if (client->is_leaving) {
        drop(client);
        return false;
    }
    return true;
}

/* Takes over text. */
static bool answer_with(struct control *control, struct client *client, char *text, int64_t real_ns)
{
    size_t length = text ? strlen(text) : 0;
    if (!text) {
        return true; /* a notification, or no memory: nothing to say */
    }
    if (length > CONTROL_REPLY_MAX) {
        free(text);
        drop(client);
        return false;
    }
    text[length] = '\n'; /* in place of the NUL: the size says where it ends */
    client->out = text;
    client->out_size = length + 1;
    client->out_sent = 0;
    client->due_ns = real_ns + slow_ns;
    return send_some(control, client, real_ns);
}

static bool has_line(const struct client *client)
{
    return memchr(client->in, '\n', client->in_used) != NULL;
}

/* Answers the first whole line, and no more than one: the loop looks after the tick between two
 * answers. */
static void answer_one(struct control *control, struct client *client, int64_t real_ns)
{
    size_t size = (size_t)((char *)memchr(client->in, '\n', client->in_used) - client->in);
    char *text = control->setup.answer(control->setup.context, client->in, size);
    client->in_used -= size + 1;
    memmove(client->in, client->in + size + 1, client->in_used);
    client->due_ns = real_ns + idle_ns;
    (void)answer_with(control, client, text, real_ns);
}

static void work_off(struct control *control, struct client *client, int64_t real_ns)
{
    if (has_line(client)) {
        answer_one(control, client, real_ns);
    } else if (client->in_used > CONTROL_LINE_MAX) {
        client->is_leaving = true;
        client->in_used = 0;
        (void)answer_with(control, client,
                          control_error(NULL, CONTROL_INVALID_REQUEST, "the request is too long"),
                          real_ns);
    }
    if (client->fd >= 0 && !client->out) {
        /* A socket that can be written to brings us back for the next line; one whose peer does not
         * read its answers does not. */
        listen_for(control, client, has_line(client) ? EPOLLOUT : EPOLLIN);
    }
}

static void receive(struct control *control, struct client *client, int64_t real_ns)
{
    ssize_t got = recv(client->fd, client->in + client->in_used,
                       sizeof client->in - client->in_used, MSG_DONTWAIT);
    if (got < 0 && (errno == EAGAIN || errno == EWOULDBLOCK || errno == EINTR)) {
        return;
    }
    if (got <= 0) {
        drop(client);
        return;
    }
    if (client->in_used == 0) {
        client->due_ns = real_ns + slow_ns; /* a begun line must be finished */
    }
    client->in_used += (size_t)got;
    work_off(control, client, real_ns);
}

static void serve(struct control *control, struct client *client, uint32_t events, int64_t real_ns)
{
    if (client->out && (events & EPOLLOUT)) {
        if (!send_some(control, client, real_ns) || client->out) {
            return;
        }
        work_off(control, client, real_ns);
    } else if (!client->out && has_line(client)) {
        work_off(control, client, real_ns);
    } else if (!client->out && (events & (EPOLLIN | EPOLLHUP | EPOLLERR))) {
        receive(control, client, real_ns);
    } else if (events & (EPOLLHUP | EPOLLERR)) {
        drop(client);
    }
}

static void turn_away(int fd, const char *sentence)
{
    char *text = control_error(NULL, CONTROL_REFUSED, sentence);
    if (text) {
        size_t length = strlen(text);
        text[length] = '\n';
        (void)!send(fd, text, length + 1, MSG_NOSIGNAL | MSG_DONTWAIT);
        free(text);
    }
    (void)close(fd);
}

static struct client *free_client(struct control *control)
{
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        if (control->clients[i].fd < 0) {
            return &control->clients[i];
        }
    }
    return NULL;
}

static void welcome(struct control *control, int64_t real_ns)
{
    int fd = accept4(control->listen_fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (fd < 0) {
        return;
    }
    if (!peer_may(&control->peers, fd)) {
        turn_away(fd, "you may not: members of the control group, root and the daemon's user may");
        return;
    }
    struct client *client = free_client(control);
    if (!client) {
        turn_away(fd, "too many connections at a time; try again");
        return;
    }
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = client};
    if (epoll_ctl(control->epoll_fd, EPOLL_CTL_ADD, fd, &event) != 0) {
        (void)close(fd);
        return;
    }
    client->fd = fd;
    client->events = EPOLLIN;
    client->in_used = 0;
    client->is_leaving = false;
    client->due_ns = real_ns + idle_ns;
}

void control_dispatch(struct control *control, int64_t real_ns)
{
    struct epoll_event events[CONTROL_CLIENTS_MAX + 1];
    int count = epoll_wait(control->epoll_fd, events, CONTROL_CLIENTS_MAX + 1, 0);
    for (int i = 0; i < count; i++) {
        struct client *client = events[i].data.ptr;
        if (!client) {
            welcome(control, real_ns);
        } else if (client->fd >= 0) {
            serve(control, client, events[i].events, real_ns);
        }
    }
}

void control_sweep(struct control *control, int64_t real_ns)
{
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        if (control->clients[i].fd >= 0 && real_ns > control->clients[i].due_ns) {
            drop(&control->clients[i]);
        }
    }
}

int control_fd(const struct control *control)
{
    return control->epoll_fd;
}

static bool is_answered(const struct sockaddr_un *address)
{
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool is_there = fd >= 0 && connect(fd, (const struct sockaddr *)address, sizeof *address) == 0;
    if (fd >= 0) {
        (void)close(fd);
    }
    return is_there;
}

static int start_listening(struct control *control, struct err *err)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, control->path, sizeof address.sun_path);
    if (is_answered(&address)) {
        return err_fail(err, EADDRINUSE, "%s: another process answers there", control->path);
    }
    (void)unlink(control->path); /* left behind by a run that was killed */
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    control->listen_fd = fd;
    if (fd < 0 || bind(fd, (struct sockaddr *)&address, sizeof address) != 0 ||
        chmod(control->path, 0660) != 0 || listen(fd, CONTROL_CLIENTS_MAX) != 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", control->path, err_name(code));
    }
    if (control->peers.has_group && chown(control->path, (uid_t)-1, control->peers.group) != 0) {
        log_warning("%s: cannot be given to group %s: %s; only root and the daemon's user reach it",
                    control->path, control->setup.group, err_name(errno));
    }
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = NULL};
    control->epoll_fd = epoll_create1(EPOLL_CLOEXEC);
    if (control->epoll_fd < 0 ||
        epoll_ctl(control->epoll_fd, EPOLL_CTL_ADD, control->listen_fd, &event) != 0) {
        int code = errno;
        return err_fail(err, code, "%s: %s", control->path, err_name(code));
    }
    return 0;
}

int control_open(const struct control_setup *setup, struct control **ret, struct err *err)
{
    if (strlen(setup->path) >= sizeof((struct control *)0)->path) {
        return err_fail(err, ENAMETOOLONG, "%s: a socket's path has at most 107 bytes",
                        setup->path);
    }
    struct control *control = calloc(1, sizeof *control);
    if (!control) {
        return err_fail(err, ENOMEM, "no memory for the control socket");
    }
    control->setup = *setup;
    control->listen_fd = -1;
    control->epoll_fd = -1;
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        control->clients[i].fd = -1;
    }
    (void)snprintf(control->path, sizeof control->path, "%s", setup->path);
    struct err trouble = {""};
    if (peer_rules_init(&control->peers, setup->group, &trouble) < 0) {
        log_warning("control socket: %s; only root and the daemon's user may use it", trouble.text);
        control->peers = (struct peer_rules){0};
    }
    int code = start_listening(control, err);
    if (code < 0) {
        control->path[0] = '\0'; /* not ours to remove */
        control_close(control);
        return code;
    }
    *ret = control;
    return 0;
}

void control_close(struct control *control)
{
    if (!control) {
        return;
    }
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        drop(&control->clients[i]);
    }
    if (control->listen_fd >= 0) {
        (void)close(control->listen_fd);
    }
    if (control->epoll_fd >= 0) {
        (void)close(control->epoll_fd);
    }
    if (control->path[0]) {
        (void)unlink(control->path);
    }
    free(control);
}
