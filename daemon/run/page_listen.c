/* SPDX-License-Identifier: Apache-2.0 */
#include "page_listen.h"

#include "err.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { BACKLOG = 16, VANISHED_MS = 20000, STREAM_BUFFER = 16384 };

union address {
    struct sockaddr any;
    struct sockaddr_in four;
    struct sockaddr_in6 six;
};

/* The size of what was filled in; 0: no address. */
static socklen_t fill(const char *text, int port, union address *ret)
{
    memset(ret, 0, sizeof *ret);
    if (inet_pton(AF_INET, text, &ret->four.sin_addr) == 1) {
        ret->four.sin_family = AF_INET;
        ret->four.sin_port = htons((in_port_t)port);
        return sizeof ret->four;
    }
    if (inet_pton(AF_INET6, text, &ret->six.sin6_addr) == 1) {
        ret->six.sin6_family = AF_INET6;
        ret->six.sin6_port = htons((in_port_t)port);
        return sizeof ret->six;
    }
    return 0;
}

int page_listen(const char *address, int port, struct err *err)
{
    union address where;
    const int yes = 1;
    const socklen_t size = fill(address, port, &where);
    if (size == 0) {
        return err_fail(err, EINVAL, "%s is no IP address", address);
    }
    int fd = socket(where.any.sa_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0) {
        int code = errno;
        return err_fail(err, code, "no socket can be had: %s", err_name(code));
    }
    /* without it a restart would wait for the last run's closed connections */
    (void)setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(fd, &where.any, size) != 0 || listen(fd, BACKLOG) != 0) {
        int code = errno;
        (void)close(fd);
        return err_fail(err, code, "%s port %d: %s", address, port,
                        code == EADDRINUSE ? "another program listens there" : err_name(code));
    }
    return fd;
}

/* Each is an improvement only: without it the connection's times still end it. */
static void set(int fd, int level, int name, int value)
{
    (void)setsockopt(fd, level, name, &value, sizeof value);
}

void page_listen_tune(int fd)
{
    set(fd, IPPROTO_TCP, TCP_USER_TIMEOUT, VANISHED_MS);
}

void page_listen_tune_stream(int fd)
{
    set(fd, SOL_SOCKET, SO_SNDBUF, STREAM_BUFFER);
}

void page_listen_shut(int fd)
{
    (void)shutdown(fd, SHUT_RDWR); /* a peer that has gone already is as good */
}
