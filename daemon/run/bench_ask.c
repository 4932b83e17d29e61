/* SPDX-License-Identifier: Apache-2.0 */
#include "bench_ask.h"

#include "clock.h"
#include "err.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#define BENCH_MARK 0x4C57 /* what input register 9 of the bench device always holds */

static const int64_t patience_ns = 2 * CLOCK_NS_PER_S;

/* MODBUS Application Protocol V1.1b3, 6.4, behind the header of MODBUS Messaging on TCP/IP V1.0b,
 * 3.1: read input registers 8 and 9. */
enum { REQUEST = 12, ANSWER = 13 };

static int open_to(const char *host, int port, struct err *err)
{
    struct sockaddr_in6 six = {.sin6_family = AF_INET6, .sin6_port = htons((uint16_t)port)};
    struct sockaddr_in four = {.sin_family = AF_INET, .sin_port = htons((uint16_t)port)};
    const bool is_six = strchr(host, ':') != NULL;
    const char *numeric = strcmp(host, "localhost") == 0 ? "127.0.0.1" : host;
    const int known = is_six ? inet_pton(AF_INET6, numeric, &six.sin6_addr)
                             : inet_pton(AF_INET, numeric, &four.sin_addr);
    if (known != 1) {
        return err_fail(err, EINVAL, "%s is no loopback address", host);
    }
    const int fd = socket(is_six ? AF_INET6 : AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int code =
        fd < 0
            ? -1
            : connect(fd, is_six ? (const struct sockaddr *)&six : (const struct sockaddr *)&four,
                      is_six ? sizeof six : sizeof four);
    if (code != 0) {
        const int number = errno;
        if (fd >= 0) {
            (void)close(fd);
        }
        return err_fail(err, number, "nobody answers at %s:%d (%s); start lampwarden-bench first",
                        host, port, err_name(number));
    }
    return fd;
}

static int hear(int fd, uint8_t answer[ANSWER])
{
    const int64_t until_ns = clock_real_ns() + patience_ns;
    for (size_t heard = 0; heard < ANSWER;) {
        const int64_t left_ms = (until_ns - clock_real_ns()) / CLOCK_NS_PER_MS;
        struct pollfd wait = {.fd = fd, .events = POLLIN};
        if (left_ms <= 0 || poll(&wait, 1, (int)left_ms) == 0) {
            return -ETIMEDOUT;
        }
        const ssize_t got = recv(fd, answer + heard, ANSWER - heard, 0);
        if (got <= 0) {
            return -ECONNRESET;
        }
        heard += (size_t)got;
        if (heard > 7 && answer[7] != 4) {
            return -ENODEV; /* refused: a shorter answer */
        }
    }
    return 0;
}

int bench_ask(const char *host, int port, int unit, double *ret_pace, struct err *err)
{
    const uint8_t request[REQUEST] = {0x4C, 0x57, 0, 0, 0, 6, (uint8_t)unit, 4, 0, 8, 0, 2};
    uint8_t answer[ANSWER] = {0};
    const int fd = open_to(host, port, err);
    if (fd < 0) {
        return fd;
    }
    int code = send(fd, request, REQUEST, MSG_NOSIGNAL) == REQUEST ? hear(fd, answer) : -EPIPE;
    (void)close(fd);
    if (code == 0 && (answer[8] != 4 || (answer[11] << 8 | answer[12]) != BENCH_MARK)) {
        code = -ENODEV;
    }
    if (code < 0) {
        return err_fail(err, -code,
                        "unit %d at %s:%d is no bench (%s): a demonstration moves simulated lamps "
                        "only",
                        unit, host, port,
                        code == -ENODEV ? "it does not say so of itself" : err_name(code));
    }
    *ret_pace = (answer[9] << 8 | answer[10]) / 10.0;
    return 0;
}
