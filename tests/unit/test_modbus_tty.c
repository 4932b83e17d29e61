/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_tty.h"

#include "bad_modbus.h"
#include "clock.h"
#include "err.h"
#include "wire.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <cmocka.h>

static void one_owner(void **state)
{
    (void)state;
    struct bad_modbus *bad = bad_modbus_start_rtu(false);
    assert_non_null(bad);
    int first = -1, second = -7;
    struct err err;
    assert_int_equal(modbus_tty_lock(bad_modbus_device(bad), &first, &err), 0);
    assert_true(fcntl(first, F_GETFD) & FD_CLOEXEC);
    assert_int_equal(modbus_tty_lock(bad_modbus_device(bad), &second, &err), -EBUSY);
    assert_non_null(strstr(err.text, "another process uses this line"));
    assert_int_equal(second, -7);
    (void)close(first);
    assert_int_equal(modbus_tty_lock(bad_modbus_device(bad), &second, &err), 0);
    (void)close(second);
    bad_modbus_stop(bad);
}

static void only_serial_lines(void **state)
{
    (void)state;
    int descriptor;
    struct err err;
    assert_int_equal(modbus_tty_lock("/dev/null", &descriptor, &err), -ENOTTY);
    assert_string_equal(err.text, "/dev/null: not a serial line");
    assert_int_equal(modbus_tty_lock("/dev/no-such-line", &descriptor, &err), -ENOENT);
    assert_non_null(strstr(err.text, "/dev/no-such-line"));
}

static void claimed_for_itself(void **state)
{
    (void)state;
    struct bad_modbus *bad = bad_modbus_start_rtu(false);
    assert_non_null(bad);
    int descriptor = open(bad_modbus_device(bad), O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct err err;
    assert_int_equal(modbus_tty_claim(descriptor, descriptor, false, &err), 0);
    int is_exclusive = 0;
    assert_int_equal(ioctl(descriptor, TIOCGEXCL, &is_exclusive), 0);
    assert_true(is_exclusive);
    modbus_tty_release(descriptor);
    assert_int_equal(ioctl(descriptor, TIOCGEXCL, &is_exclusive), 0);
    assert_false(is_exclusive);
    /* a pseudo-terminal has no transmitter to switch */
    assert_true(modbus_tty_claim(descriptor, descriptor, true, &err) < 0);
    assert_non_null(strstr(err.text, "RS-485"));
    (void)close(descriptor);
    bad_modbus_stop(bad);
}

/* The link of udev moved to another adapter between the lock and the opening. */
static void name_that_changes_hands(void **state)
{
    (void)state;
    struct bad_modbus *bad[] = {bad_modbus_start_rtu(false), bad_modbus_start_rtu(false)};
    assert_non_null(bad[0]);
    assert_non_null(bad[1]);
    int lock = -1;
    struct err err;
    assert_int_equal(modbus_tty_lock(bad_modbus_device(bad[0]), &lock, &err), 0);
    int descriptor = open(bad_modbus_device(bad[1]), O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_int_equal(modbus_tty_claim(descriptor, lock, false, &err), -EIO);
    assert_non_null(strstr(err.text, "led to another device"));
    int is_exclusive = 1;
    assert_int_equal(ioctl(descriptor, TIOCGEXCL, &is_exclusive), 0);
    assert_false(is_exclusive);
    (void)close(descriptor);
    (void)close(lock);
    bad_modbus_stop(bad[0]);
    bad_modbus_stop(bad[1]);
}

/* An answer of 17 characters on a line of 1200 Bd takes 156 ms: most of it is slept through, the
 * end is not. */
static void sleeps_while_an_answer_comes(void **state)
{
    (void)state;
    static const uint8_t request[] = {1, 3, 0, 0, 0, 6, 0xC5, 0xC8}; /* CRC calculated */
    const struct wire_setup setup = {.baud = 1200};
    const int64_t char_ns = wire_bytes_ns(1200, 1);
    struct wire *wire = wire_start(&setup);
    assert_non_null(wire);
    int descriptor = open(wire_device(wire), O_RDWR | O_NOCTTY | O_CLOEXEC);
    int there = 0;
    assert_int_equal(write(descriptor, request, sizeof request), sizeof request);
    int64_t begin_ns = clock_boot_ns(), deadline_ns = begin_ns + 5 * CLOCK_NS_PER_S;
    modbus_tty_sleep_through(descriptor, 17, char_ns, deadline_ns);
    int64_t took_ns = clock_boot_ns() - begin_ns;
    assert_int_equal(ioctl(descriptor, FIONREAD, &there), 0);
    assert_in_range(there, 14, 17);
    /* a machine that holds this program up makes it later, and brings the rest */
    assert_true(there == 17 || took_ns < wire_bytes_ns(1200, 8 + 17) + wire_t35_ns(1200));
    /* not for what does not come: 40 are expected, 17 are there */
    begin_ns = clock_boot_ns();
    modbus_tty_sleep_through(descriptor, 40, char_ns, deadline_ns);
    assert_true(clock_boot_ns() - begin_ns < CLOCK_NS_PER_S);
    assert_int_equal(close(descriptor), 0);
    wire_stop(wire, NULL);
}

/* Nor beyond the deadline. */
static void sleeps_no_longer_than_allowed(void **state)
{
    (void)state;
    const struct wire_setup setup = {.baud = 1200};
    struct wire *wire = wire_start(&setup);
    assert_non_null(wire);
    int descriptor = open(wire_device(wire), O_RDWR | O_NOCTTY | O_CLOEXEC);
    int64_t begin_ns = clock_boot_ns();
    modbus_tty_sleep_through(descriptor, 17, wire_bytes_ns(1200, 1), begin_ns - 1);
    modbus_tty_sleep_through(descriptor, 17, wire_bytes_ns(1200, 1),
                             begin_ns + 20 * CLOCK_NS_PER_MS);
    int64_t took_ns = clock_boot_ns() - begin_ns;
    assert_true(took_ns >= 20 * CLOCK_NS_PER_MS && took_ns < CLOCK_NS_PER_S);
    assert_int_equal(close(descriptor), 0);
    wire_stop(wire, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_owner),
        cmocka_unit_test(only_serial_lines),
        cmocka_unit_test(sleeps_while_an_answer_comes),
        cmocka_unit_test(sleeps_no_longer_than_allowed),
        cmocka_unit_test(claimed_for_itself),
        cmocka_unit_test(name_that_changes_hands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
