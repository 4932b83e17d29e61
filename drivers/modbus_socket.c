/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_socket.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

static int parse_address(const char *host, int port, struct addrinfo **ret, struct err *err)
{
    char service[16];
    (void)snprintf(service, sizeof service, "%d", port);
    struct addrinfo hints = {
        .ai_socktype = SOCK_STREAM,
        .ai_flags = AI_NUMERICHOST | AI_NUMERICSERV,
    };
    int rc = getaddrinfo(host, service, &hints, ret);
    if (rc != 0) {
        return err_fail(err, EINVAL, "host \"%s\" is not a numeric IPv4 or IPv6 address", host);
    }
    return 0;
}

int modbus_socket_check(const char *host, int port, struct err *err)
{
    struct addrinfo *address = NULL;
    int rc = parse_address(host, port, &address, err);
    if (rc == 0) {
        freeaddrinfo(address);
    }
    return rc;
}

/* A dead peer is noticed within seconds, whether we are talking or idle; and a request that could
 * not be delivered is dropped with its connection instead of arriving minutes later. */
static void set_options(int descriptor)
{
    static const struct {
        int level, name, value;
    } options[] = {
        {IPPROTO_TCP, TCP_NODELAY, 1},   {IPPROTO_TCP, TCP_USER_TIMEOUT, 5000}, /* ms */
        {SOL_SOCKET, SO_KEEPALIVE, 1},   {IPPROTO_TCP, TCP_KEEPIDLE, 10},       /* s */
        {IPPROTO_TCP, TCP_KEEPINTVL, 5}, {IPPROTO_TCP, TCP_KEEPCNT, 3},
    };
    for (size_t i = 0; i < sizeof options / sizeof *options; i++) {
        /* The connection works without them, and our own timeouts still hold. */
        (void)setsockopt(descriptor, options[i].level, options[i].name, &options[i].value,
                         sizeof options[i].value);
    }
    /* Closing drops what was not delivered. Otherwise the kernel would go on sending it on its own,
     * and a drive of before the fault would arrive when the network is back. */
    struct linger linger = {.l_onoff = 1};
    (void)setsockopt(descriptor, SOL_SOCKET, SO_LINGER, &linger, sizeof linger);
}

static int wait_connected(int descriptor, int64_t deadline_ns)
{
    struct pollfd wait = {.fd = descriptor, .events = POLLOUT};
    for (;;) {
        int64_t left = deadline_ns - clock_real_ns();
        if (left <= 0) {
            return ETIMEDOUT;
        }
        struct timespec time = {left / CLOCK_NS_PER_S, left % CLOCK_NS_PER_S};
        int ready = ppoll(&wait, 1, &time, NULL);
        if (ready < 0 && errno != EINTR) {
            return errno;
        }
        if (ready > 0) {
            int code = 0;
            socklen_t size = sizeof code;
            return getsockopt(descriptor, SOL_SOCKET, SO_ERROR, &code, &size) == 0 ? code : errno;
        }
    }
}

int modbus_socket_connect(const char *host, int port, int64_t deadline_ns, int *ret,
                          struct err *err)
{
    struct addrinfo *address;
    int rc = parse_address(host, port, &address, err);
    if (rc < 0) {
        return rc;
    }
    int code = 0;
    int descriptor = socket(address->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (descriptor < 0) {
        code = errno;
    } else {
        set_options(descriptor);
        if (connect(descriptor, address->ai_addr, address->ai_addrlen) != 0) {
            code = errno == EINPROGRESS ? wait_connected(descriptor, deadline_ns) : errno;
        }
    }
    freeaddrinfo(address);
    if (code != 0) {
        if (descriptor >= 0) {
            (void)close(descriptor); /* it never carried anything */
        }
        return err_fail(err, code, "%s port %d: no connection (%s)", host, port, err_name(code));
    }
    *ret = descriptor;
    return 0;
}
