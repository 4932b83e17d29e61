/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Modbus/TCP framing and clients of the bench device.
 *
 * Nothing waits for a client: a frame that stays incomplete for 5 s, a length that cannot be, or an
 * answer that does not fit into the socket ends the connection; when all places are taken the
 * client that was silent longest makes room. One request at a time per client, so that a late
 * answer keeps its order.
 */
#include "bench_device.h"

#include "clock.h"
#include "err.h"
#include "parse.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define HEADER                                                                                     \
    7 /* transaction, protocol, length, unit: Messaging Implementation Guide V1.0b, 3.1.3 */
#define FRAME_MAX     (HEADER + BENCH_PDU_MAX)
#define SEND_BUFFER   8192 /* a client that does not read is found out soon */
#define INCOMPLETE_NS (5 * CLOCK_NS_PER_S)

#define EXCEPTION_BIT          0x80
#define TARGET_DOES_NOT_ANSWER 0x0B

struct client {
    int fd; /* −1: the place is free */
    int64_t used_ns;
    int64_t begun_ns; /* when the first byte of an incomplete frame came */
    size_t in_size, out_size;
    int64_t out_due_ns;
    uint8_t in[FRAME_MAX], out[FRAME_MAX];
};

struct bench_tcp {
    int listener;
    char name[64];
    struct client clients[BENCH_CLIENTS_MAX];
};

union address {
    struct sockaddr any;
    struct sockaddr_in four;
    struct sockaddr_in6 six;
};

static bool is_loopback(const union address *address)
{
    if (address->any.sa_family == AF_INET) {
        return ntohl(address->four.sin_addr.s_addr) >> 24 == 127;
    }
    return IN6_IS_ADDR_LOOPBACK(&address->six.sin6_addr);
}

/* "127.0.0.1:1502" or "[::1]:1502", numbers only: no name service decides where a port opens. */
static int read_address(const char *text, union address *ret, socklen_t *ret_size, struct err *err)
{
    const char *colon = strrchr(text, ':');
    size_t length = colon ? (size_t)(colon - text) : 0;
    char host[64];
    if (length == 0 || length >= sizeof host) {
        return err_fail(err, EINVAL, "\"%.64s\" is not of the form 127.0.0.1:1502 or [::1]:1502",
                        text);
    }
    int64_t port = 0;
    int code = parse_int(colon + 1, 0, 65535, &port, err);
    if (code < 0) {
        err_prefix(err, "port of \"%.64s\"", text);
        return code;
    }
    memset(ret, 0, sizeof *ret);
    bool is_six = text[0] == '[' && text[length - 1] == ']';
    memcpy(host, is_six ? text + 1 : text, length);
    host[is_six ? length - 2 : length] = '\0';
    if (is_six) {
        ret->six.sin6_family = AF_INET6;
        ret->six.sin6_port = htons((uint16_t)port);
        code = inet_pton(AF_INET6, host, &ret->six.sin6_addr);
        *ret_size = sizeof ret->six;
    } else {
        ret->four.sin_family = AF_INET;
        ret->four.sin_port = htons((uint16_t)port);
        code = inet_pton(AF_INET, host, &ret->four.sin_addr);
        *ret_size = sizeof ret->four;
    }
    if (code != 1) {
        return err_fail(err, EINVAL, "\"%s\" is not a numeric address", host);
    }
    if (!is_loopback(ret)) {
        return err_fail(err, EACCES,
                        "%s is not a loopback address (127.0.0.1 or [::1]): a simulation without "
                        "authentication is not offered to a network",
                        host);
    }
    return 0;
}

static void remember_name(struct bench_tcp *tcp)
{
    union address address;
    socklen_t size = sizeof address;
    char host[INET6_ADDRSTRLEN] = "?";
    memset(&address, 0, sizeof address);
    (void)getsockname(tcp->listener, &address.any, &size); /* cannot fail on a bound socket */
    if (address.any.sa_family == AF_INET6) {
        (void)inet_ntop(AF_INET6, &address.six.sin6_addr, host, sizeof host);
        (void)snprintf(tcp->name, sizeof tcp->name, "[%s]:%d", host, ntohs(address.six.sin6_port));
    } else {
        (void)inet_ntop(AF_INET, &address.four.sin_addr, host, sizeof host);
        (void)snprintf(tcp->name, sizeof tcp->name, "%s:%d", host, ntohs(address.four.sin_port));
    }
}

int bench_tcp_open(const char *address, struct bench_tcp **ret, struct err *err)
{
    union address where;
    socklen_t size = 0;
    int code = read_address(address, &where, &size, err);
    if (code < 0) {
        return code;
    }
    struct bench_tcp *tcp = calloc(1, sizeof *tcp);
    if (!tcp) {
        return err_fail(err, ENOMEM, "no memory for the clients");
    }
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        tcp->clients[i].fd = -1;
    }
    const int on = 1;
    tcp->listener = socket(where.any.sa_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (tcp->listener < 0 ||
        setsockopt(tcp->listener, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) < 0 ||
        bind(tcp->listener, &where.any, size) < 0 || listen(tcp->listener, BENCH_CLIENTS_MAX) < 0) {
        code = err_fail(err, errno, "%s: %s", address, err_name(errno));
        bench_tcp_close(tcp);
        return code;
    }
    remember_name(tcp);
    *ret = tcp;
    return 0;
}

static void drop(struct client *client)
{
    if (client->fd >= 0) {
        (void)close(client->fd); /* nothing is lost: answers are already sent or given up */
    }
    *client = (struct client){.fd = -1};
}

void bench_tcp_close(struct bench_tcp *tcp)
{
    if (!tcp) {
        return;
    }
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        drop(&tcp->clients[i]);
    }
    if (tcp->listener >= 0) {
        (void)close(tcp->listener);
    }
    free(tcp);
}

const char *bench_tcp_name(const struct bench_tcp *tcp)
{
    return tcp->name;
}

int bench_tcp_poll(const struct bench_tcp *tcp, struct pollfd *ret_fds)
{
    ret_fds[0] = (struct pollfd){.fd = tcp->listener, .events = POLLIN};
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        const struct client *client = &tcp->clients[i];
        ret_fds[1 + i] = (struct pollfd){.fd = client->fd, .events = client->out_size ? 0 : POLLIN};
    }
    return 1 + BENCH_CLIENTS_MAX;
}

int64_t bench_tcp_due_ns(const struct bench_tcp *tcp)
{
    int64_t due_ns = BENCH_NEVER_NS;
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        const struct client *client = &tcp->clients[i];
        int64_t its_ns = BENCH_NEVER_NS;
        if (client->out_size) {
            its_ns = client->out_due_ns;
        } else if (client->in_size) {
            its_ns = client->begun_ns + INCOMPLETE_NS;
        }
        due_ns = its_ns < due_ns ? its_ns : due_ns;
    }
    return due_ns;
}

/* A free place, else the client that was silent longest. */
static struct client *find_place(struct bench_tcp *tcp)
{
    struct client *place = &tcp->clients[0];
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        struct client *client = &tcp->clients[i];
        if (client->fd < 0) {
            return client;
        }
        if (client->used_ns < place->used_ns) {
            place = client;
        }
    }
    return place;
}

static void accept_client(struct bench_tcp *tcp, int64_t now_ns)
{
    struct client *place = find_place(tcp);
    int fd = accept4(tcp->listener, NULL, NULL, SOCK_NONBLOCK | SOCK_CLOEXEC);
    if (fd < 0 && errno != EMFILE && errno != ENFILE) {
        return; /* it went away again */
    }
    drop(place); /* also when no descriptor is left: the next round finds one */
    if (fd < 0) {
        return;
    }
    const int on = 1, small = SEND_BUFFER;
    (void)setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on); /* speed only */
    (void)setsockopt(fd, SOL_SOCKET, SO_SNDBUF, &small, sizeof small);
    *place = (struct client){.fd = fd, .used_ns = now_ns};
}

/* Length of the whole frame at the start of the buffer: 0 incomplete, −1 cannot be one. */
static int frame_size(const struct client *client)
{
    if (client->in_size < HEADER) {
        return 0;
    }
    int rest = client->in[4] << 8 | client->in[5]; /* counts the unit id */
    if (rest < 2 || rest > 1 + BENCH_PDU_MAX) {
        return -1;
    }
    int size = HEADER - 1 + rest;
    return client->in_size >= (size_t)size ? size : 0;
}

static void answer_frame(struct client *client, struct bench_device *device, int size,
                         int64_t now_ns)
{
    const uint8_t *in = client->in;
    if (in[2] != 0 || in[3] != 0) {
        return; /* another protocol: discarded, as the guide asks */
    }
    bench_device_catch_up(device, now_ns);
    int length = bench_device_answer(device, in[6], in + HEADER, (size_t)(size - HEADER),
                                     client->out + HEADER);
    if (length == -ENXIO) {
        client->out[HEADER] = in[HEADER] | EXCEPTION_BIT;
        client->out[HEADER + 1] = TARGET_DOES_NOT_ANSWER;
        length = 2;
    }
    if (length <= 0) {
        return;
    }
    memcpy(client->out, in, HEADER);
    client->out[4] = (uint8_t)((length + 1) >> 8);
    client->out[5] = (uint8_t)((length + 1) & 0xFF);
    client->out_size = (size_t)(HEADER + length);
    client->out_due_ns = now_ns + bench_device_lateness_ns(device);
}

/* Sends what is due, then answers what lies in the buffer. False: the client is to be dropped. */
static bool work_off(struct client *client, struct bench_device *device, int64_t now_ns)
{
    for (;;) {
        if (client->out_size) {
            if (client->out_due_ns > now_ns) {
                return true;
            }
            ssize_t sent = send(client->fd, client->out, client->out_size, MSG_NOSIGNAL);
            if (sent != (ssize_t)client->out_size) {
                return false;
            }
            client->out_size = 0;
        }
        int size = frame_size(client);
        if (size < 0) {
            return false;
        }
        if (size == 0) {
            return client->in_size == 0 || now_ns - client->begun_ns < INCOMPLETE_NS;
        }
        answer_frame(client, device, size, now_ns);
        client->in_size -= (size_t)size;
        memmove(client->in, client->in + size, client->in_size);
        client->begun_ns = now_ns;
    }
}

/* False: the client is gone. */
static bool take_in(struct client *client, int64_t now_ns)
{
    ssize_t got =
        recv(client->fd, client->in + client->in_size, sizeof client->in - client->in_size, 0);
    if (got <= 0) {
        return got < 0 && (errno == EAGAIN || errno == EINTR);
    }
    if (client->in_size == 0) {
        client->begun_ns = now_ns;
    }
    client->in_size += (size_t)got;
    client->used_ns = now_ns;
    return true;
}

void bench_tcp_serve(struct bench_tcp *tcp, struct bench_device *device, const struct pollfd *fds,
                     int64_t now_ns)
{
    for (int i = 0; i < BENCH_CLIENTS_MAX; i++) {
        struct client *client = &tcp->clients[i];
        if (client->fd < 0) {
            continue;
        }
        short events = fds[1 + i].revents;
        bool stays = !(events & (POLLERR | POLLNVAL));
        if (stays && (events & POLLHUP) && client->out_size) {
            stays = false;
        }
        if (stays && (events & (POLLIN | POLLHUP)) && !client->out_size) {
            stays = take_in(client, now_ns);
        }
        if (!stays || !work_off(client, device, now_ns)) {
            drop(client);
        }
    }
    if (fds[0].revents & POLLIN) {
        accept_client(tcp, now_ns);
    }
}
