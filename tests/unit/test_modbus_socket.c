/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_socket.h"

#include "bad_modbus.h"
#include "clock.h"
#include "err.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <sys/socket.h>
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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(connects_and_watches_the_peer),
        cmocka_unit_test(names_are_refused),
        cmocka_unit_test(refusal_is_said),
        cmocka_unit_test(silence_ends_at_the_deadline),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
