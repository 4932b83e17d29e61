/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_socket.h"

#include "bad_modbus.h"
#include "clock.h"
#include "err.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <net/if.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static int64_t in_ms(int ms)
{
    return clock_boot_ns() + ms * CLOCK_NS_PER_MS;
}

static int option_of(int descriptor, int level, int name)
{
    int value = 0;
    socklen_t size = sizeof value;
    assert_int_equal(getsockopt(descriptor, level, name, &value, &size), 0);
    return value;
}

static void connects_and_watches_the_peer(void **state)
{
    (void)state;
    struct bad_modbus *bad = bad_modbus_start_tcp();
    assert_non_null(bad);
    int descriptor = -1;
    struct err err;
    assert_int_equal(
        modbus_socket_connect("127.0.0.1", bad_modbus_port(bad), in_ms(1000), &descriptor, &err),
        0);
    assert_true(fcntl(descriptor, F_GETFD) & FD_CLOEXEC);
    assert_true(fcntl(descriptor, F_GETFL) & O_NONBLOCK);
    assert_true(option_of(descriptor, IPPROTO_TCP, TCP_NODELAY));
    assert_true(option_of(descriptor, SOL_SOCKET, SO_KEEPALIVE));
    assert_int_equal(option_of(descriptor, IPPROTO_TCP, TCP_USER_TIMEOUT), 5000);
    /* idle: a dead peer is known after 10 + 3 × 5 s */
    assert_int_equal(option_of(descriptor, IPPROTO_TCP, TCP_KEEPIDLE), 10);
    assert_int_equal(option_of(descriptor, IPPROTO_TCP, TCP_KEEPINTVL), 5);
    assert_int_equal(option_of(descriptor, IPPROTO_TCP, TCP_KEEPCNT), 3);
    struct linger linger = {0};
    socklen_t size = sizeof linger;
    assert_int_equal(getsockopt(descriptor, SOL_SOCKET, SO_LINGER, &linger, &size), 0);
    assert_true(linger.l_onoff && linger.l_linger == 0); /* undelivered writes die with it */
    (void)close(descriptor);
    bad_modbus_stop(bad);
}

static void names_are_refused(void **state)
{
    (void)state;
    static const char *const hosts[] = {"localhost", "bench.example", "127.0.0.1:502", "256.1.1.1",
                                        ""};
    for (size_t i = 0; i < sizeof hosts / sizeof *hosts; i++) {
        struct err err = {""};
        int descriptor = -7;
        int64_t begin = clock_boot_ns();
        assert_int_equal(modbus_socket_connect(hosts[i], 502, in_ms(500), &descriptor, &err),
                         -EINVAL);
        assert_true(clock_boot_ns() - begin < 100 * CLOCK_NS_PER_MS); /* no name server was asked */
        assert_non_null(strstr(err.text, "not a numeric"));
        assert_int_equal(descriptor, -7);
    }
}

static void refusal_is_said(void **state)
{
    (void)state;
    struct bad_modbus *bad = bad_modbus_start_tcp();
    assert_non_null(bad);
    int port = bad_modbus_port(bad);
    bad_modbus_stop(bad);
    struct err err;
    int descriptor;
    assert_int_equal(modbus_socket_connect("127.0.0.1", port, in_ms(500), &descriptor, &err),
                     -ECONNREFUSED);
    assert_non_null(strstr(err.text, "Connection refused"));
}

/* A listener whose queue is full drops what comes: as a firewall does, or a device without power.
 */
static void silence_ends_at_the_deadline(void **state)
{
    (void)state;
    int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    assert_int_equal(bind(listener, (struct sockaddr *)&address, size), 0);
    assert_int_equal(listen(listener, 0), 0);
    assert_int_equal(getsockname(listener, (struct sockaddr *)&address, &size), 0);
    int filling[8], filled = 0, rc = 0;
    struct err err;
    while (rc == 0 && filled < 8) {
        rc = modbus_socket_connect("127.0.0.1", ntohs(address.sin_port), in_ms(100),
                                   &filling[filled], &err);
        filled += rc == 0;
    }
    int64_t begin = clock_boot_ns();
    int descriptor;
    assert_int_equal(
        modbus_socket_connect("127.0.0.1", ntohs(address.sin_port), in_ms(150), &descriptor, &err),
        -ETIMEDOUT);
    assert_in_range(clock_boot_ns() - begin, 140 * CLOCK_NS_PER_MS, 600 * CLOCK_NS_PER_MS);
    for (int i = 0; i < filled; i++) {
        (void)close(filling[i]);
    }
    (void)close(listener);
}

static bool set_loopback(bool is_up)
{
    int descriptor = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    struct ifreq request = {.ifr_name = "lo"};
    bool is_done = ioctl(descriptor, SIOCGIFFLAGS, &request) == 0;
    request.ifr_flags = (short)(is_up ? request.ifr_flags | IFF_UP : request.ifr_flags & ~IFF_UP);
    is_done = is_done && ioctl(descriptor, SIOCSIFFLAGS, &request) == 0;
    (void)close(descriptor);
    return is_done;
}

enum { NOTHING_CAME, STALE_BYTES_CAME, NOT_POSSIBLE_HERE };

/* In a network of its own, which fails for a while under a connection with a write on its way. */
static int write_into_a_dead_network(void)
{
    if (unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0 || !set_loopback(true)) {
        return NOT_POSSIBLE_HERE;
    }
    int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    int descriptor = -1;
    if (bind(listener, (struct sockaddr *)&address, size) != 0 || listen(listener, 1) != 0 ||
        getsockname(listener, (struct sockaddr *)&address, &size) != 0 ||
        modbus_socket_connect("127.0.0.1", ntohs(address.sin_port), in_ms(1000), &descriptor,
                              NULL) != 0) {
        return NOT_POSSIBLE_HERE;
    }
    int device = accept4(listener, NULL, NULL, SOCK_CLOEXEC);
    if (device < 0 || !set_loopback(false) || write(descriptor, "drive", 5) != 5) {
        return NOT_POSSIBLE_HERE;
    }
    (void)shutdown(descriptor, SHUT_RDWR); /* as libmodbus closes */
    (void)close(descriptor);
    if (!set_loopback(true)) {
        return NOT_POSSIBLE_HERE;
    }
    struct pollfd wait = {.fd = device, .events = POLLIN};
    char bytes[8];
    return poll(&wait, 1, 1500) == 1 && read(device, bytes, sizeof bytes) > 0 ? STALE_BYTES_CAME
                                                                              : NOTHING_CAME;
}

static void no_stale_write_after_a_dead_network(void **state)
{
    (void)state;
    pid_t child = fork(); /* a network of its own is for life */
    assert_true(child >= 0);
    if (child == 0) {
        _exit(write_into_a_dead_network());
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == NOT_POSSIBLE_HERE) {
        skip();
    }
    assert_int_equal(WEXITSTATUS(status), NOTHING_CAME);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(connects_and_watches_the_peer),
        cmocka_unit_test(names_are_refused),
        cmocka_unit_test(refusal_is_said),
        cmocka_unit_test(silence_ends_at_the_deadline),
        cmocka_unit_test(no_stale_write_after_a_dead_network),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
