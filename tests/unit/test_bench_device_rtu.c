/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Modbus RTU framing of the bench device over a pseudo terminal. CRCs after MODBUS over Serial Line
 * V1.02, 6.2.2, from a separate implementation; "01 03 00 00 00 0A C5 CD" is a widely printed
 * example.
 */
#include "bench_device.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>
#include <cmocka.h>

static struct bench_device device;
static struct bench_rtu *rtu;
static int master = -1;
static int64_t now_ns;

static int begin(void **state)
{
    (void)state;
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    (void)bench_setup_layout(&setup, "1,1", 500, 300, NULL);
    device = (struct bench_device){.model = bench_model_create(&setup), .pace = 1};
    now_ns = 0;
    master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (master < 0 || grantpt(master) < 0 || unlockpt(master) < 0) {
        return -1;
    }
    struct bench_rtu_options options = {
        .path = ptsname(master), .baud = 19200, .parity = 'E', .stop_bits = 1};
    return bench_rtu_open(&options, &rtu, NULL);
}

static int end(void **state)
{
    (void)state;
    bench_rtu_close(rtu);
    close(master);
    bench_model_destroy(device.model);
    return 0;
}

static int turn(void)
{
    struct pollfd fd = {.fd = bench_rtu_fd(rtu), .events = POLLIN};
    assert_true(poll(&fd, 1, 20) >= 0);
    return bench_rtu_serve(rtu, &device, &fd, now_ns, NULL);
}

static void put(const char *bytes, size_t size)
{
    assert_int_equal(write(master, bytes, size), (int)size);
}

#define PUT(bytes) put(bytes, sizeof(bytes) - 1)

static int receive(uint8_t *buffer, size_t size)
{
    assert_int_equal(turn(), 0);
    return (int)read(master, buffer, size);
}

#define ASSERT_RECEIVED(bytes)                                                                     \
    do {                                                                                           \
        uint8_t got[300];                                                                          \
        assert_int_equal(receive(got, sizeof got), sizeof(bytes) - 1);                             \
        assert_memory_equal(got, bytes, sizeof(bytes) - 1);                                        \
    } while (0)

static void assert_silent(void)
{
    uint8_t got[300];
    assert_int_equal(receive(got, sizeof got), -1);
}

static void pause_line(void)
{
    now_ns += 100 * CLOCK_NS_PER_MS;
    assert_silent();
}

static void test_requests(void **state)
{
    (void)state;
    PUT("\x01\x03\x00\x00\x00\x0A\xC5\xCD"); /* ten registers: more than there are */
    ASSERT_RECEIVED("\x01\x83\x02\xC0\xF1");
    PUT("\x01\x06\x00\x00\x15\x7C\x86\xBB");
    ASSERT_RECEIVED("\x01\x06\x00\x00\x15\x7C\x86\xBB");
    PUT("\x01\x03\x00\x00\x00\x01\x84\x0A");
    ASSERT_RECEIVED("\x01\x03\x02\x15\x7C\xB7\x35");
    PUT("\x01\x10\x00\x00\x00\x01\x02\x00\x00\xA6\x50");
    ASSERT_RECEIVED("\x01\x10\x00\x00\x00\x01\x01\xC9");
    double drive = 1;
    assert_int_equal(bench_model_drive(device.model, 0, &drive), 0);
    assert_true(drive == 0);
}

static void test_silences(void **state)
{
    (void)state;
    PUT("\x11\x03\x00\x6B\x00\x03\x76\x87"); /* another unit's */
    assert_silent();
    PUT("\x01\x03\x00\x00\x00\x01\x84\x0B"); /* bad CRC */
    assert_silent();
    pause_line();
    PUT("\x01\x03\x00\x00\x00\x01\x84\x0A");
    ASSERT_RECEIVED("\x01\x03\x02\x00\x00\xB8\x44");
    PUT("\x01\x03\x00\x00"); /* in two pieces */
    assert_silent();
    PUT("\x00\x01\x84\x0A");
    ASSERT_RECEIVED("\x01\x03\x02\x00\x00\xB8\x44");
    PUT("\x01\x03\x00\x00"); /* a piece, then a silence: forgotten */
    assert_silent();
    assert_int_equal(bench_rtu_due_ns(rtu), now_ns + 20 * CLOCK_NS_PER_MS);
    pause_line();
    assert_true(bench_rtu_due_ns(rtu) == BENCH_NEVER_NS);
    PUT("\x01\x03\x00\x00\x00\x01\x84\x0A");
    ASSERT_RECEIVED("\x01\x03\x02\x00\x00\xB8\x44");
}

/* A function nobody knows, of a length nobody knows: after the silence it gets its exception. */
static void test_unknown_function(void **state)
{
    (void)state;
    PUT("\x01\x2B\x0E\x01\x00\x70\x77");
    assert_silent();
    now_ns += 100 * CLOCK_NS_PER_MS;
    ASSERT_RECEIVED("\x01\xAB\x01\x9E\xF0");
}

static void test_late_answer(void **state)
{
    (void)state;
    const struct bench_fault late = {.length_s = 1e9, .kind = BENCH_LATE, .value = 2};
    assert_int_equal(bench_model_add_fault(device.model, &late), 0);
    PUT("\x01\x03\x00\x00\x00\x01\x84\x0A");
    assert_silent();
    assert_int_equal(bench_rtu_due_ns(rtu), 2 * CLOCK_NS_PER_S);
    now_ns = 2 * CLOCK_NS_PER_S;
    ASSERT_RECEIVED("\x01\x03\x02\x00\x00\xB8\x44");
}

static void test_noise(void **state)
{
    (void)state;
    unsigned seed = 20261102;
    print_message("seed %u\n", seed);
    for (int round = 0; round < 300; round++) {
        char bytes[400];
        size_t size = 1 + (unsigned)rand_r(&seed) % 399;
        for (size_t i = 0; i < size; i++) {
            bytes[i] = (char)rand_r(&seed);
        }
        bytes[0] = 1;
        put(bytes, size);
        uint8_t got[600];
        (void)receive(got, sizeof got);
        now_ns += 100 * CLOCK_NS_PER_MS;
        (void)receive(got, sizeof got);
    }
    pause_line();
    PUT("\x02\x01\x00\x00\x00\x01\xFD\xF9");
    ASSERT_RECEIVED("\x02\x01\x01\x00\x51\xCC");
}

static void test_line_gone(void **state)
{
    (void)state;
    close(master);
    master = -1;
    assert_int_equal(turn(), -EIO);
}

static void test_bad_lines(void **state)
{
    (void)state;
    static const struct bench_rtu_options bad[] = {{"/nonexistent/tty", 9600, 'N', 2},
                                                   {"/dev/null", 9600, 'N', 2},
                                                   {"/dev/null", 9601, 'N', 2}};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct bench_rtu *other = NULL;
        struct err err = {.text = ""};
        assert_true(bench_rtu_open(&bad[i], &other, &err) < 0);
        assert_null(other);
        assert_true(err.text[0] != '\0');
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_requests, begin, end),
        cmocka_unit_test_setup_teardown(test_silences, begin, end),
        cmocka_unit_test_setup_teardown(test_unknown_function, begin, end),
        cmocka_unit_test_setup_teardown(test_late_answer, begin, end),
        cmocka_unit_test_setup_teardown(test_noise, begin, end),
        cmocka_unit_test_setup_teardown(test_line_gone, begin, end),
        cmocka_unit_test(test_bad_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
