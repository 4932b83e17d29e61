/* SPDX-License-Identifier: Apache-2.0 */
#include "wire.h"

#include "clock.h"
#include "near.h"

#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

/* Modbus over Serial Line V1.02, 2.5.1: a character has 11 bits; 2.5.1.1: 3.5 characters, above
 * 19200 Bd 1.75 ms. Calculated. */
static void times(void **state)
{
    (void)state;
    assert_near((double)wire_bytes_ns(9600, 8) / 1e3, 8 * 11 / 9600.0 * 1e6, 0.01);
    assert_near((double)wire_bytes_ns(19200, 256) / 1e3, 256 * 11 / 19200.0 * 1e6, 0.01);
    assert_near((double)wire_t35_ns(9600) / 1e3, 4010.42, 0.01);
    assert_near((double)wire_t35_ns(19200) / 1e3, 2005.21, 0.01);
    assert_int_equal(wire_t35_ns(38400), 1750000);
    /* 8 + 17 characters, two silences, 1 ms */
    const struct wire_setup setup = {.baud = 9600, .turnaround_ns = 1000000};
    assert_near((double)wire_read_ns(&setup, 6) / 1e3, 28645.83 + 2 * 4010.42 + 1000, 0.1);
}

/* Sends the request and returns how many bytes of an answer came within the time. */
static int ask(int fd, const uint8_t *request, int expected, int wait_ms, uint8_t *ret)
{
    assert_int_equal(write(fd, request, 8), 8);
    struct pollfd wait = {.fd = fd, .events = POLLIN};
    int size = 0;
    while (size < expected && poll(&wait, 1, wait_ms) == 1) {
        ssize_t got = read(fd, ret + size, (size_t)(expected - size));
        assert_true(got > 0);
        size += (int)got;
    }
    return size;
}

/* Frames with their CRC from the examples in common use: 01 03 00 00 00 02 is followed by C4 0B. */
static void takes_its_time(void **state)
{
    (void)state;
    static const uint8_t request[] = {1, 3, 0, 0, 0, 2, 0xC4, 0x0B};
    static const uint8_t head[] = {1, 3, 4, 1, 0, 1, 1};
    const struct wire_setup setup = {.baud = 1200, .turnaround_ns = 30000000};
    struct wire *wire = wire_start(&setup);
    assert_non_null(wire);
    int fd = open(wire_device(wire), O_RDWR | O_NOCTTY);
    assert_true(fd >= 0);
    uint8_t answer[16];
    int64_t begin_ns = clock_boot_ns();
    assert_int_equal(ask(fd, request, 9, 5000, answer), 9);
    assert_true(clock_boot_ns() - begin_ns >= wire_read_ns(&setup, 2) - wire_t35_ns(1200));
    assert_memory_equal(answer, head, sizeof head);
    /* at once: before the silence is over, unless this program was held up for 12 ms */
    bool is_short = clock_boot_ns() - begin_ns < wire_read_ns(&setup, 2) - 20 * CLOCK_NS_PER_MS;
    assert_int_equal(ask(fd, request, 9, 5000, answer), 9);
    struct wire_count count;
    assert_int_equal(close(fd), 0);
    wire_stop(wire, &count);
    assert_int_equal(count.answers, 2);
    assert_int_equal(count.broken, 0);
    if (is_short) {
        assert_int_equal(count.short_gaps, 1);
    }
}

static void refuses_and_is_silent(void **state)
{
    (void)state;
    static const uint8_t request[] = {1, 3, 0, 0, 0, 2, 0xC4, 0x0B};
    static const uint8_t broken[] = {1, 3, 0, 0, 0, 2, 0xC4, 0x0C};
    /* Modbus exception 02 of unit 1, with its CRC; calculated */
    static const uint8_t refusal[] = {1, 0x83, 2, 0xC0, 0xF1};
    struct wire_setup setup = {.baud = 19200, .one_by_one = true};
    struct wire *wire = wire_start(&setup);
    assert_non_null(wire);
    int fd = open(wire_device(wire), O_RDWR | O_NOCTTY);
    uint8_t answer[16];
    assert_int_equal(ask(fd, broken, 1, 30, answer), 0);
    assert_int_equal(ask(fd, request, 5, 5000, answer), 5);
    assert_memory_equal(answer, refusal, sizeof refusal);
    struct wire_count count;
    assert_int_equal(close(fd), 0);
    wire_stop(wire, &count);
    assert_int_equal(count.broken, 1);

    setup = (struct wire_setup){.baud = 19200, .dead_unit = 1};
    wire = wire_start(&setup);
    assert_non_null(wire);
    fd = open(wire_device(wire), O_RDWR | O_NOCTTY);
    assert_int_equal(ask(fd, request, 1, 30, answer), 0);
    assert_int_equal(close(fd), 0);
    wire_stop(wire, &count);
    assert_int_equal(count.silences, 1);
    assert_int_equal(count.answers, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(times),
        cmocka_unit_test(takes_its_time),
        cmocka_unit_test(refuses_and_is_silent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
