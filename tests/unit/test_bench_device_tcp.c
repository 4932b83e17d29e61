/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Modbus/TCP framing of the bench device over real loopback sockets. Header: MODBUS Messaging on
 * TCP/IP Implementation Guide V1.0b, 3.1.3 (transaction, protocol 0, length of the rest, unit).
 */
#include "bench_device.h"

#include "clock.h"
#include "err.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include <cmocka.h>

static struct bench_device device;
static struct bench_tcp *tcp;
static int64_t now_ns; /* the test's own clock */

static int begin(void **state)
{
    (void)state;
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    (void)bench_setup_layout(&setup, "1", 500, 300, NULL);
    device = (struct bench_device){.model = bench_model_create(&setup), .pace = 1};
    now_ns = 0;
    return bench_tcp_open("127.0.0.1:0", &tcp, NULL);
}

static int end(void **state)
{
    (void)state;
    bench_tcp_close(tcp);
    bench_model_destroy(device.model);
    return 0;
}

/* One round of the poll loop. */
static void turn_within(int wait_ms)
{
    struct pollfd fds[1 + BENCH_CLIENTS_MAX];
    int count = bench_tcp_poll(tcp, fds);
    assert_true(poll(fds, (nfds_t)count, wait_ms) >= 0);
    bench_tcp_serve(tcp, &device, fds, now_ns);
}

static void turn(void)
{
    turn_within(0);
}

static void turns(int count)
{
    for (int i = 0; i < count; i++) {
        turn();
    }
}

static int dial_with(int receive_buffer)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    address.sin_port = htons((uint16_t)strtol(strrchr(bench_tcp_name(tcp), ':') + 1, NULL, 10));
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    const int on = 1;
    assert_int_equal(setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on), 0);
    if (receive_buffer) {
        assert_int_equal(
            setsockopt(fd, SOL_SOCKET, SO_RCVBUF, &receive_buffer, sizeof receive_buffer), 0);
    }
    assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof address), 0);
    turn();
    return fd;
}

static int dial(void)
{
    return dial_with(0);
}

#define SEND(fd, bytes)                                                                            \
    assert_int_equal(send(fd, bytes, sizeof(bytes) - 1, MSG_NOSIGNAL), sizeof(bytes) - 1)

static int receive(int fd, uint8_t *buffer, size_t size)
{
    turns(3);
    return (int)recv(fd, buffer, size, MSG_DONTWAIT);
}

#define ASSERT_RECEIVED(fd, bytes)                                                                 \
    do {                                                                                           \
        uint8_t got[600];                                                                          \
        assert_int_equal(receive(fd, got, sizeof got), sizeof(bytes) - 1);                         \
        assert_memory_equal(got, bytes, sizeof(bytes) - 1);                                        \
    } while (0)

static void assert_silent(int fd)
{
    uint8_t got[600];
    assert_int_equal(receive(fd, got, sizeof got), -1);
}

static void assert_dropped(int fd)
{
    uint8_t got[600];
    turns(3);
    ssize_t code = recv(fd, got, sizeof got, MSG_DONTWAIT);
    assert_true(code == 0 || (code < 0 && errno == ECONNRESET));
    close(fd);
}

static void test_requests(void **state)
{
    (void)state;
    int fd = dial();
    SEND(fd, "\x15\x01\x00\x00\x00\x06\x01\x03\x00\x00\x00\x01");
    ASSERT_RECEIVED(fd, "\x15\x01\x00\x00\x00\x05\x01\x03\x02\x00\x00");
    SEND(fd, "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
    ASSERT_RECEIVED(fd, "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    SEND(fd, "\x00\x03\x00\x00\x00\x06\x02\x04\x00\x09\x00\x01"); /* no such unit behind us */
    ASSERT_RECEIVED(fd, "\x00\x03\x00\x00\x00\x03\x02\x84\x0B");
    SEND(fd, "\x00\x04\x00\x00\x00\x02\x01\x63");
    ASSERT_RECEIVED(fd, "\x00\x04\x00\x00\x00\x03\x01\xE3\x01");
    close(fd);
    turns(2);
}

static void test_pieces_and_pairs(void **state)
{
    (void)state;
    static const char request[] = "\x00\x07\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01";
    int fd = dial();
    for (size_t i = 0; i < sizeof request - 2; i++) {
        assert_int_equal(send(fd, request + i, 1, MSG_NOSIGNAL), 1);
        assert_silent(fd);
    }
    SEND(fd, "\x01");
    ASSERT_RECEIVED(fd, "\x00\x07\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    SEND(fd, "\x00\x08\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01"
             "\x00\x09\x00\x00\x00\x06\x01\x01\x00\x00\x00\x01"
             "\x00\x0A\x00\x00");
    ASSERT_RECEIVED(fd, "\x00\x08\x00\x00\x00\x05\x01\x04\x02\x4C\x57"
                        "\x00\x09\x00\x00\x00\x04\x01\x01\x01\x00");
    SEND(fd, "\x00\x06\x01\x01\x00\x00\x00\x01");
    ASSERT_RECEIVED(fd, "\x00\x0A\x00\x00\x00\x04\x01\x01\x01\x00");
    close(fd);
}

static void test_foreign_protocol_is_discarded(void **state)
{
    (void)state;
    int fd = dial();
    SEND(fd, "\x00\x01\x00\x01\x00\x06\x01\x04\x00\x09\x00\x01");
    assert_silent(fd);
    SEND(fd, "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
    ASSERT_RECEIVED(fd, "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    close(fd);
}

static void test_impossible_lengths_end_the_connection(void **state)
{
    (void)state;
    int fd = dial();
    SEND(fd, "\x00\x01\x00\x00\x00\x00\x01");
    assert_dropped(fd);
    fd = dial();
    SEND(fd, "\x00\x01\x00\x00\x00\x01\x01");
    assert_dropped(fd);
    fd = dial();
    SEND(fd, "\x00\x01\x00\x00\x00\xFF\x01");
    assert_dropped(fd);
    fd = dial();
    SEND(fd, "GET / HTTP/1.1\r\n\r\n");
    assert_dropped(fd);
    fd = dial(); /* others are still served */
    SEND(fd, "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
    ASSERT_RECEIVED(fd, "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    close(fd);
}

static void test_slow_frame_is_dropped(void **state)
{
    (void)state;
    int idle = dial(), slow = dial();
    SEND(slow, "\x00\x01\x00");
    turn();
    assert_int_equal(bench_tcp_due_ns(tcp), 5 * CLOCK_NS_PER_S);
    now_ns = 4 * CLOCK_NS_PER_S;
    SEND(slow, "\x00"); /* one more byte does not buy more time */
    assert_silent(slow);
    now_ns = 5 * CLOCK_NS_PER_S;
    assert_dropped(slow);
    SEND(idle, "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01"); /* idle is not slow */
    ASSERT_RECEIVED(idle, "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    close(idle);
}

static void test_late_answers_keep_their_order(void **state)
{
    (void)state;
    const struct bench_fault late = {.length_s = 1e9, .kind = BENCH_LATE, .value = 2};
    assert_int_equal(bench_model_add_fault(device.model, &late), 0);
    int fd = dial();
    SEND(fd, "\x00\x01\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
    assert_silent(fd);
    SEND(fd, "\x00\x02\x00\x00\x00\x06\x01\x01\x00\x00\x00\x01");
    assert_silent(fd);
    assert_int_equal(bench_tcp_due_ns(tcp), 2 * CLOCK_NS_PER_S);
    struct pollfd fds[1 + BENCH_CLIENTS_MAX]; /* what waits its turn does not wake the loop */
    assert_int_equal(poll(fds, (nfds_t)bench_tcp_poll(tcp, fds), 0), 0);
    now_ns = 2 * CLOCK_NS_PER_S;
    ASSERT_RECEIVED(fd, "\x00\x01\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    now_ns = 4 * CLOCK_NS_PER_S;
    ASSERT_RECEIVED(fd, "\x00\x02\x00\x00\x00\x04\x01\x01\x01\x00");
    SEND(fd, "\x00\x03\x00\x00\x00\x06\x01\x01\x00\x00\x00\x01");
    turn();
    close(fd); /* gone before its answer is due */
    now_ns = 9 * CLOCK_NS_PER_S;
    turns(3);
    assert_true(bench_tcp_due_ns(tcp) == BENCH_NEVER_NS);
}

/* A client that sends requests and never reads: dropped when its socket is full, never waited for.
 */
static void test_client_that_does_not_read(void **state)
{
    (void)state;
    static const char request[] = "\x00\x01\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01";
    int fd = dial_with(2048);
    int64_t deadline_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    bool is_broken = false;
    while (!is_broken && clock_boot_ns() < deadline_ns) {
        ssize_t sent = send(fd, request, sizeof request - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
        bool is_full = sent < 0 && errno == EAGAIN;
        is_broken = sent < 0 && !is_full;
        turn_within(is_full ? 5 : 0);
    }
    assert_true(is_broken);
    close(fd);
}

static void test_more_clients_than_places(void **state)
{
    (void)state;
    int fds[BENCH_CLIENTS_MAX + 3];
    for (int i = 0; i < BENCH_CLIENTS_MAX + 3; i++) {
        now_ns += CLOCK_NS_PER_S;
        fds[i] = dial();
        if (i == BENCH_CLIENTS_MAX - 1) { /* the first one speaks and so keeps its place */
            SEND(fds[0], "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
            ASSERT_RECEIVED(fds[0], "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
        }
    }
    for (int i = 1; i < 4; i++) {
        assert_dropped(fds[i]);
        fds[i] = -1;
    }
    for (int i = 0; i < BENCH_CLIENTS_MAX + 3; i++) {
        if (fds[i] >= 0) {
            SEND(fds[i], "\x00\x03\x00\x00\x00\x06\x01\x01\x00\x00\x00\x01");
            ASSERT_RECEIVED(fds[i], "\x00\x03\x00\x00\x00\x04\x01\x01\x01\x00");
            close(fds[i]);
        }
    }
}

static void test_addresses(void **state)
{
    (void)state;
    static const char *const bad[] = {"0.0.0.0:1502",
                                      "192.168.1.5:1502",
                                      "[::]:1502",
                                      "localhost:1502",
                                      "127.0.0.1",
                                      ":1502",
                                      "127.0.0.1:",
                                      "127.0.0.1:65536",
                                      "127.0.0.1:-1",
                                      "127.0.0.1:1x",
                                      "[::1:1502",
                                      "[]:1502",
                                      "[:1502",
                                      "",
                                      "126.255.255.255:1502"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct bench_tcp *other = NULL;
        struct err err = {.text = ""};
        assert_true(bench_tcp_open(bad[i], &other, &err) < 0);
        assert_null(other);
        assert_true(err.text[0] != '\0');
    }
    struct err err = {.text = ""};
    struct bench_tcp *other = NULL;
    assert_int_equal(bench_tcp_open("10.0.0.1:502", &other, &err), -EACCES);
    assert_non_null(strstr(err.text, "without authentication"));
    assert_int_equal(bench_tcp_open(bench_tcp_name(tcp), &other, &err), -EADDRINUSE);
    if (bench_tcp_open("[::1]:0", &other, &err) == 0) { /* where the machine has IPv6 */
        assert_int_equal(strncmp(bench_tcp_name(other), "[::1]:", 6), 0);
        bench_tcp_close(other);
    }
}

/* Random bytes and mutated frames; afterwards a good request is answered. */
static void test_noise(void **state)
{
    (void)state;
    unsigned seed = 20261102;
    print_message("seed %u\n", seed);
    for (int round = 0; round < 300; round++) {
        uint8_t bytes[300] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0, 0, 1};
        size_t size = 12 + (unsigned)rand_r(&seed) % 288;
        for (size_t i = (size_t)(round % 3) * 4; i < size; i++) {
            bytes[i] = (uint8_t)rand_r(&seed);
        }
        int fd = dial();
        assert_true(send(fd, bytes, size, MSG_NOSIGNAL) == (ssize_t)size);
        turns(3);
        close(fd);
        turn();
    }
    int fd = dial();
    SEND(fd, "\x00\x02\x00\x00\x00\x06\x01\x04\x00\x09\x00\x01");
    ASSERT_RECEIVED(fd, "\x00\x02\x00\x00\x00\x05\x01\x04\x02\x4C\x57");
    close(fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_requests, begin, end),
        cmocka_unit_test_setup_teardown(test_pieces_and_pairs, begin, end),
        cmocka_unit_test_setup_teardown(test_foreign_protocol_is_discarded, begin, end),
        cmocka_unit_test_setup_teardown(test_impossible_lengths_end_the_connection, begin, end),
        cmocka_unit_test_setup_teardown(test_slow_frame_is_dropped, begin, end),
        cmocka_unit_test_setup_teardown(test_late_answers_keep_their_order, begin, end),
        cmocka_unit_test_setup_teardown(test_client_that_does_not_read, begin, end),
        cmocka_unit_test_setup_teardown(test_more_clients_than_places, begin, end),
        cmocka_unit_test_setup_teardown(test_addresses, begin, end),
        cmocka_unit_test_setup_teardown(test_noise, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
